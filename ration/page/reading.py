"""How merchants' sheets were read, before anything is priced: which, and tied to what."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from threading import Lock
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException

from ration import units
from ration.errors import InputError
from ration.faces import winter_words
from ration.jobs import quotes as quote_jobs
from ration.page import runs
from ration.page import tray as trays
from ration.page.tray import Sent, Tray
from ration.page.waiting import apart
from ration.plain_text import sentence

if TYPE_CHECKING:
    from starlette.applications import Starlette
    from starlette.requests import Request

    from ration.buying.tie import Tied
    from ration.page.desk import Desk, Read
    from ration.page.runs import Run
    from ration.quotes.records import Quote, QuoteSheet, Supply

_LOCK = Lock()
QUESTION = "quotes"
GONE = "The farm file was changed while the quotes were compared, so that was dropped."
HEADS = ("Feed", "from", "price, ex VAT", "comes", "fed as", "may be bought")


@dataclass(frozen=True)
class Reading:
    """The sheets in use, and how they were read for the farm file as it stands.

    Attributes
    ----------
    read : Read
    used : tuple of Sent
    own : tuple of Sent
        Those that the farm file names; among the used ones when `is_with_own`.
    is_with_own : bool
    on : date or None
        Day of the order; None takes the first day of the winter.
    tied : Tied or None
        None when a sheet cannot be read, or a quote cannot be tied.
    faults : tuple of str
        Of the ties.
    mark : str
        Digest of all that is shown of the reading; "" where it cannot be used.
    """

    read: Read
    used: tuple[Sent, ...]
    own: tuple[Sent, ...]
    is_with_own: bool
    on: date | None
    tied: Tied | None
    faults: tuple[str, ...]
    mark: str

    @property
    def sheets(self) -> tuple[QuoteSheet, ...]:
        """What was read of the used ones."""
        return tuple(s.sheet for s in self.used if s.sheet is not None)

    @property
    def day(self) -> date:
        """Day on which the order would be placed."""
        return self.on or self.read.farm.start

    @property
    def sent(self) -> tuple[Sent, ...]:
        """The used ones that are not the farm file's own."""
        return tuple(s for s in self.used if s not in self.own)


def tray_of(app: Starlette) -> Tray:
    """The sheets sent in this run of the page."""
    with _LOCK:
        if not hasattr(app.state, "tray"):
            app.state.tray = Tray()
    found: Tray = app.state.tray
    return found


def day_of(said: Mapping[str, Any]) -> tuple[date | None, str]:
    """The day of the order as typed, and what is wrong with it."""
    text = str(said.get("on") or "").strip()
    try:
        return (units.day(text, "the day") if text else None), ""
    except InputError as fault:
        return None, " ".join(sentence(str(p)) for p in fault.problems)


def reading(desk: Desk, tray: Tray, on: date | None) -> Reading:
    """How the sheets are read.

    Parameters
    ----------
    desk : Desk
    tray : Tray
    on : date or None
        Day of the order.

    Raises
    ------
    InputError
        The farm file has faults.
    """
    read = desk.read()
    own = desk.once(
        read,
        ("own quotes",),
        lambda: tuple(trays.sent(p) for p in read.farm.winter.quotes),
        is_long=True,
    )
    sent = tray.sent
    is_with_own = bool(own) and (tray.with_own or not sent)
    used = (*own, *sent) if is_with_own else sent
    tied, faults = None, tuple[str, ...]()
    if used and all(s.sheet is not None for s in used):
        sheets = [s.sheet for s in used if s.sheet is not None]
        try:
            tied = quote_jobs.tied_to(read.farm, read.tables, sheets, on or read.farm.start)
        except InputError as fault:
            faults = tuple(str(p) for p in fault.problems)
    mark = "" if tied is None else _mark(used, tied, on)
    return Reading(read, used, own, is_with_own, on, tied, faults, mark)


def _mark(used: Sequence[Sent], tied: Tied, on: date | None) -> str:
    """Digest of what is read: contents, what each quote is fed as, what is refused."""
    told = [s.digest for s in used]
    told += [f"{s.offer_id}: {s.refused}" for s in tied.supplies]
    told += [str(on), *tied.notes]
    return hashlib.sha256("\n".join(told).encode()).hexdigest()


def supplies_of(found: Reading, sent: Sent) -> list[Supply]:
    """The quotes of one sheet, tied."""
    if found.tied is None or sent.sheet is None:
        return []
    before = 0
    for other in found.used:
        if other is sent:
            break
        before += len(other.sheet.quotes) if other.sheet else 0
    return list(found.tied.supplies[before : before + len(sent.sheet.quotes)])


def rows(found: Reading, sent: Sent) -> list[tuple[str, ...]]:
    """A row a quote: as it was read, what it is tied to, whether it may be bought."""
    if sent.sheet is None:
        return []
    supplies = supplies_of(found, sent)
    if not supplies:
        return [(*_as_read(q), "", "") for q in sent.sheet.quotes]
    return [
        (*_as_read(s.quote), fed_as(found, s), f"no: {s.refused}" if s.refused else "yes")
        for s in supplies
    ]


def fed_as(found: Reading, supply: Supply) -> str:
    """The feed of the farm that a quote delivers."""
    if found.tied is None:
        return ""
    name = found.tied.offer(supply.offer_id).name
    like = found.tied.stands_for.get(supply.offer_id)
    if like is None:
        return name
    old = next((o.name for o in found.read.farm.offers if o.id == like), "")
    return f"{name}, new here{f', in place of {old}' if old else ''}"


def _as_read(q: Quote) -> tuple[str, ...]:
    return q.feed, q.merchant, price_words(q), comes_words(q)


def price_words(q: Quote) -> str:
    """£296.00/t; £287.00 from 15 t."""
    first, *more = q.tiers
    said = [f"{units.money(first.price_gbp_per_t_fresh)}/t"]
    said += [f"{units.money(t.price_gbp_per_t_fresh)} from {t.from_t:g} t" for t in more]
    if q.haulage_gbp_per_t:
        said.append(f"haulage {units.money(q.haulage_gbp_per_t)}/t")
    if q.drop_charge_gbp:
        said.append(f"{units.money(q.drop_charge_gbp)} a {'trip' if q.is_collected else 'drop'}")
    return "; ".join(said)


def comes_words(q: Quote) -> str:
    """In what, how much at once, until when."""
    said = [q.pack if q.pack_kg is None else f"{q.pack} of {q.pack_kg:g} kg"]
    said.append("fetched" if q.is_collected else "delivered")
    if q.least_drop_t:
        said.append(f"at least {q.least_drop_t:g} t")
    if q.most_t is not None:
        said.append(f"{q.most_t:g} t is all there is")
    if q.valid_until is not None:
        said.append(f"order by {units.in_words_day(q.valid_until)}")
    if q.made_for:
        said.append(f"made for {q.made_for}")
    return ", ".join(said)


def to_ask(found: Reading, sent: Sent | None = None) -> list[str]:
    """What a sheet leaves open; without one, what the ties do."""
    if sent is None:
        return [] if found.tied is None else winter_words.to_ask(found.tied, ())
    return [] if sent.sheet is None else list(sent.sheet.questions)


# ---------------------------------------------------------------- priced, once it is agreed


def agreed(request: Request, found: Reading) -> None:
    """Refuse to price what nobody said yes to.

    Raises
    ------
    HTTPException
    """
    if not found.mark or not tray_of(request.app).is_agreed(found.mark):
        raise HTTPException(
            403,
            "Nothing is priced before somebody has looked at how the sheets were read. Look under "
            "“Whose quote is best for us?” and say yes there.",
        )


def comparing(request: Request, found: Reading) -> Run:
    """The comparison for the sheep: worked out, going, or begun now.

    Raises
    ------
    HTTPException
        Nobody said yes to how the sheets were read.
    """
    agreed(request, found)
    run = runs.looked_at(request, QUESTION, _said(found)) or runs.looked_at(request, QUESTION)
    is_other = run is None or (run.said != _said(found) and not run.is_going)
    return _begun(request, found) if run is None or is_other else run


def compared_already(request: Request, found: Reading) -> quote_jobs.Compared | None:
    """The comparison if it is worked out and somebody said yes to the reading."""
    if not found.mark or not tray_of(request.app).is_agreed(found.mark):
        return None
    run = runs.looked_at(request, QUESTION, _said(found))
    done = None if run is None or run.is_going else run.result
    return done if isinstance(done, quote_jobs.Compared) else None


def is_of(run: Run, found: Reading) -> bool:
    """Whether a run compares just these sheets, and has ended."""
    return not run.is_going and run.said == _said(found)


def _said(found: Reading) -> runs.Said:
    return runs.in_order({"mark": found.mark})


def _begun(request: Request, found: Reading) -> Run:
    read, sheets, on = found.read, found.sheets, found.on

    def work(tell: runs.Tell, stop: runs.Stop) -> object:
        return apart(lambda: quote_jobs.compared(read.farm, read.tables, sheets, on=on), stop)

    return runs.begun(request, QUESTION, read, _said(found), work)


def compared(request: Request, found: Reading) -> quote_jobs.Compared:
    """The comparison, waited for.

    Raises
    ------
    HTTPException
        Nobody said yes to the reading; the farm file was changed meanwhile.
    RationError
        There is no answer.
    """
    agreed(request, found)
    done: quote_jobs.Compared = runs.waited(
        request, QUESTION, _said(found), lambda: _begun(request, found), GONE
    )
    return done
