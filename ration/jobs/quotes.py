"""From files of quotes to merchants compared: for a farm's batches, or landed costs alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ration import animals, choices, jobs, tables
from ration import needs as standards
from ration.buying import compare, tie
from ration.buying.compare import Ranked
from ration.buying.landed import Landed, UnitCosts, landed, unit_costs
from ration.buying.tie import Tied
from ration.errors import InputError, MissingValue, OutOfRange, Problem
from ration.farm import Farm, Offer
from ration.jobs.winter import quotes_of
from ration.quotes.records import QuoteSheet, Supply
from ration.tables import Tables

NO_DAY = date(1, 1, 1)
LEAST_T = 1.0
_NOT_HERE = "nothing is taken off for waste"


@dataclass(frozen=True)
class Compared:
    """Merchants ranked for the batches of a farm.

    Attributes
    ----------
    farm : Farm
    ranked : tuple of Ranked
    tied : Tied
    sheets : tuple of QuoteSheet
    on : date
    """

    farm: Farm
    ranked: tuple[Ranked, ...]
    tied: Tied
    sheets: tuple[QuoteSheet, ...]
    on: date


@dataclass(frozen=True)
class LandedLine:
    """One quote at so many tonnes in so many drops.

    Attributes
    ----------
    supply : Supply
    feed : str
    wanted_t, tonnes : float
        Asked for; in whole packs. [t fresh]
    drops : int
    landed : Landed or None
        None when it cannot be had like this.
    unit_costs : UnitCosts or None
    conditions : str
        Terms that are not in the price.
    refused : str
        Why not, and what would make it usable.
    """

    supply: Supply
    feed: str
    wanted_t: float
    tonnes: float
    drops: int
    landed: Landed | None
    unit_costs: UnitCosts | None
    conditions: str
    refused: str


@dataclass(frozen=True)
class LandedOnly:
    """Quotes at one tonnage, no farm.

    Attributes
    ----------
    lines : tuple of LandedLine
        Usable ones first, cheapest first.
    tied : Tied
    sheets : tuple of QuoteSheet
    on : date or None
        Day they were looked at; None when no sheet says a day.
    tonnes, drops : float or None, int
        As asked.
    """

    lines: tuple[LandedLine, ...]
    tied: Tied
    sheets: tuple[QuoteSheet, ...]
    on: date | None
    tonnes: float | None
    drops: int


def compare_file(
    path: Path,
    *,
    quotes: Sequence[Path] = (),
    on: date | None = None,
    overlays: Sequence[Path] = (),
) -> Compared:
    """Every quoted feed ranked by what the farm's batches cost with it as the only change.

    Parameters
    ----------
    path : Path
    quotes, on, overlays
        As in `ration.jobs.winter.read_winter`.

    Raises
    ------
    InputError
        Every fault of the files; there is no quote.
    """
    farm, book = jobs.read_farm(path, overlays=overlays)
    files = quotes or farm.winter.quotes
    if not files:
        raise InputError(
            Problem(
                path.name, "it names no quotes", "", "Name a file of quotes after the farm file"
            )
        )
    return compared(farm, book, quotes_of(files), on=on)


def tied_to(farm: Farm, book: Tables, sheets: Sequence[QuoteSheet], on: date) -> Tied:
    """What each quote delivers to a farm and which are refused; nothing is priced."""
    return tie.tie(farm, [q for s in sheets for q in s.quotes], book, on=on)


def compared(
    farm: Farm, book: Tables, sheets: Sequence[QuoteSheet], *, on: date | None = None
) -> Compared:
    """Quotes that are read ranked for a farm that is read; otherwise as `compare_file`."""
    day = farm.start if on is None else on
    tied = tied_to(farm, book, sheets, day)
    return Compared(farm, compare.ranking(farm, book, tied, on=day), tied, tuple(sheets), day)


def landed_files(
    paths: Sequence[Path],
    *,
    tonnes: float | None = None,
    drops: int = 1,
    on: date | None = None,
    overlays: Sequence[Path] = (),
) -> LandedOnly:
    """What each quote comes to in the bin, without a farm.

    Parameters
    ----------
    paths : sequence of Path
    tonnes : float, optional
        Of each quote; None takes the least that is sold, at least a tonne. [t fresh]
    drops : int
        Deliveries it comes in.
    on : date, optional
        Day the quotes are looked at and delivered; None takes the latest day from which one of
        them holds, and looks at no dates where there is none.
    overlays : sequence of Path

    Raises
    ------
    InputError
        Every fault of the files, or an amount that cannot be.
    """
    _check_amount(tonnes, drops)
    book = tables.load(overlays=list(overlays))
    return landed_of(quotes_of(paths), book, tonnes=tonnes, drops=drops, on=on)


def _check_amount(tonnes: float | None, drops: int) -> None:
    """Refuse an amount that cannot be."""
    faults = []
    if tonnes is not None and not 0 < tonnes <= 10_000:
        faults.append(Problem("--tonnes", f"{tonnes:g} t", "over 0, at most 10,000"))
    if not 1 <= drops <= 1000:
        faults.append(Problem("--drops", f"{drops}", "1 to 1,000"))
    if faults:
        raise OutOfRange(*faults)


def landed_of(
    sheets: Sequence[QuoteSheet],
    book: Tables,
    *,
    tonnes: float | None = None,
    drops: int = 1,
    on: date | None = None,
) -> LandedOnly:
    """Quotes that are read, at one tonnage; otherwise as `landed_files`."""
    _check_amount(tonnes, drops)
    quotes = [q for s in sheets for q in s.quotes]
    day = on or max((q.valid_from for q in quotes if q.valid_from), default=None)
    empty = Farm(Path("quotes"), "", day or NO_DAY, day or NO_DAY, 0, (), (), assume=("all",))
    found = tie.tie(empty, quotes, book, on=day or NO_DAY)
    tied = Tied(
        found.offers,
        found.supplies,
        tuple(n for n in found.notes if _NOT_HERE not in n),
        found.stores,
        found.stands_for,
    )
    lines = [_line(s, tied, book, tonnes, drops, day) for s in tied.supplies]
    lines.sort(key=lambda x: (x.landed is None, x.landed.gbp_per_t_fresh if x.landed else 0.0))
    return LandedOnly(tuple(lines), tied, tuple(sheets), day, tonnes, drops)


def _line(
    supply: Supply, tied: Tied, book: Tables, tonnes: float | None, drops: int, day: date | None
) -> LandedLine:
    q, offer = supply.quote, tied.offer(supply.offer_id)
    least = tie.least_load_t(q)
    wanted = max(least * drops, LEAST_T) if tonnes is None else tonnes
    whole = tie.whole_packs_t(q, wanted)
    load = tie.most_load_t(q, None)
    why = supply.refused
    if not why and whole < least * drops - 1e-9:
        why = (
            f"too small: least drop {least:g} t, {_drops(drops)} {least * drops:g} t: ask for "
            f"{'fewer drops or ' if drops > 1 else ''}a part load"
        )
    elif not why and whole > load * drops + 1e-9:
        why = f"too large: {_drops(drops)} at most {load * drops:g} t: ask for more drops"
    elif not why and q.most_t is not None and whole > q.most_t + 1e-9:
        why = f"too large: there are {q.most_t:g} t of it: ask for that much"
    at = None if why else landed(q, whole, 0 if q.is_collected else drops, day)
    sheep = standards.of(animals.batch("sheep", weight_kg=35.0, gain_g_per_day=40.0), "AFRC 1993")
    cost = None if at is None else unit_costs(_whole(offer, book).feed, at.gbp_per_t_fresh, sheep)
    return LandedLine(supply, q.feed, wanted, whole, drops, at, cost, _conditions(supply), why)


def _drops(drops: int) -> str:
    return "1 drop is" if drops == 1 else f"{drops} drops are"


def _whole(offer: Offer, book: Tables) -> Offer:
    """The feed with its gaps filled, as far as there are assumptions for them."""
    try:
        return choices.complete([offer], book, ("all",))[0][0]
    except MissingValue:
        return offer


def _conditions(supply: Supply) -> str:
    """Terms that are not in the landed price."""
    q, said = supply.quote, []
    if q.is_collected:
        said.append("fetched")
    if q.cash_off_gbp_per_t:
        said.append(f"£{q.cash_off_gbp_per_t:.2f}/t off for cash with the order")
    if q.payment_days:
        said.append(f"{q.payment_days} days to pay")
    if q.rise_gbp_per_t_month:
        since = f" from {q.rise_from:%B %Y}" if q.rise_from else ""
        said.append(f"rises £{q.rise_gbp_per_t_month:.2f}/t a month{since}")
    if q.lorry_t:
        said.append(f"lorry of {q.lorry_t:g} t or more")
    return "; ".join(said)
