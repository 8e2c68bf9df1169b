"""Paper: every answer as an A4 sheet, opened for printing, kept as a file, or as PDF.

The sheets are those of the command `ration paper`. A browser here may not use style that stands in
a page, so a sheet that is opened gets its style as a file of its own; what is kept as a file, and
the PDF, are just what the command writes.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from ration import jobs, mix, units
from ration.errors import FileError, InputError
from ration.faces import winter_words
from ration.page import pages
from ration.page import reading as how
from ration.page.downloads import download
from ration.page.forms import Field
from ration.plain_text import sentence
from ration.winter import calendar

if TYPE_CHECKING:
    from starlette.requests import Request

    from ration.jobs import Mixed
    from ration.page.desk import Desk, Read
    from ration.sheets import Foot

_STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)
_SIZE = re.compile(r' style="(font-size: [\d.]+pt)"')
KINDS_OF_FILE = {"html": "text/html", "pdf": "application/pdf", "css": "text/css"}


@dataclass(frozen=True)
class Sheet:
    """One kind of sheet: its name here and on the command line, what it is, what it is made from.

    Attributes
    ----------
    kind, title, words : str
    made : callable
        Gives it as HTML, or why there is none.
    """

    kind: str
    title: str
    words: str
    made: Callable[[Asked], str | NotYet]


@dataclass(frozen=True)
class NotYet:
    """Why there is no sheet, and the page on which that is put right."""

    words: str
    path: str = ""
    link: str = ""


@dataclass(frozen=True)
class Asked:
    """What is asked for.

    Attributes
    ----------
    request : Request
    read : Read
    batch : str
        Only this batch; "" for all.
    on : date
        A day the card is for.
    order_on : date or None
        Day of the order of the quotes; None takes the first day of the winter.
    foot : Foot
    """

    request: Request
    read: Read
    batch: str
    on: date
    order_on: date | None
    foot: Foot

    @property
    def desk(self) -> Desk:
        """The desk of the page."""
        return pages.desk_of(self.request)

    @property
    def batches(self) -> tuple[str, ...]:
        """Names of the batches wanted; none for all."""
        return (self.batch,) if self.batch else ()


def today() -> date:
    """The day, by this machine's clock."""
    return datetime.now().astimezone().date()


# ---------------------------------------------------------------- one maker a kind


def _planned(asked: Asked) -> Any:
    """The winter as it was worked out, or why there is none."""
    from ration.page.views import order

    done = order.found(asked.request)
    if done is None:
        return NotYet(
            "It is made from the plan of the winter, which is not worked out yet for the farm file "
            "as it stands.",
            order.PATH,
            "Work the winter out",
        )
    if not done.plan.is_found:
        return NotYet(" ".join(done.why_not), order.PATH, "Look at the winter")
    return done


def _card(asked: Asked) -> str | NotYet:
    from ration import sheets
    from ration.jobs import winter as winter_jobs

    done = _planned(asked)
    if isinstance(done, NotYet):
        return done
    farm = asked.read.farm
    if not farm.start <= asked.on < farm.end:
        first, last = units.in_words_day(farm.start), units.in_words_day(farm.end)
        day = units.in_words_day(asked.on)
        return NotYet(f"{day} is not in the winter: {first} to {last}.")
    cards = winter_jobs.cards_of(done, asked.on, asked.batches)
    return sheets.card_sheet(done.ready.farm.name, cards, asked.foot)


def _order(asked: Asked) -> str | NotYet:
    from ration import sheets
    from ration.sheets import drawings

    done = _planned(asked)
    if isinstance(done, NotYet):
        return done
    return sheets.order_sheet(done, asked.foot, drawings.of_order(done))


def _mixed(asked: Asked) -> Mixed:
    """The rations of the batches wanted, as `ration.jobs.mix_file` gives them."""
    farm, book = asked.read.farm, asked.read.tables

    def work() -> Mixed:
        return jobs.told(mix.mix(farm, book, batches=asked.batches), None, book)

    return asked.desk.once(asked.read, ("mixed", asked.batch), work, is_long=True)


def _ration(asked: Asked) -> str | NotYet:
    from ration import sheets

    return sheets.ration_sheet(_mixed(asked), asked.foot)


def _nutritionist(asked: Asked) -> str | NotYet:
    from ration import sheets

    return sheets.nutritionist_sheet(_mixed(asked), asked.foot)


def _needs(asked: Asked) -> str | NotYet:
    from ration import sheets
    from ration.sheets.needs import beside_of

    mixed = _mixed(asked)
    each = asked.desk.once(
        asked.read,
        ("by each", asked.batch),
        lambda: jobs.by_each(asked.read.farm, asked.read.tables, batches=asked.batches),
        is_long=True,
    )
    return sheets.needs_sheet(beside_of(mixed, each), asked.foot)


def _quotes(asked: Asked) -> str | NotYet:
    from ration import sheets

    found = how.reading(asked.desk, how.tray_of(asked.request.app), asked.order_on)
    if not found.used:
        return NotYet(
            "There are no merchants' quotes yet.", "/quotes", "Drop the sheets that they sent"
        )
    done = how.compared_already(asked.request, found)
    if done is None:
        return NotYet(
            "The quotes are not compared yet for the farm file as it stands.",
            "/quotes",
            "Look how they were read, and compare them",
        )
    return sheets.quotes_sheet(done, asked.foot)


def _wintering(asked: Asked) -> str | NotYet:
    from ration import sheets
    from ration.page.views import wintering

    if asked.read.farm.wintering is None:
        return NotYet(
            "The farm file does not say which ways of wintering there are.",
            "/wintering",
            "See what to add",
        )
    done = wintering.done_for(asked.desk, asked.read, None, with_mix=True)
    return sheets.wintering_sheet(done, asked.foot)


def _minerals(asked: Asked) -> str | NotYet:
    from ration import sheets
    from ration.jobs import minerals

    return sheets.minerals_sheet(minerals.of_mixed(_mixed(asked)), asked.foot)


SHEETS = (
    Sheet("card", "Feeding cards",
          "A side for each pen, to hang in the shed and tick off, for the period of a day.", _card),
    Sheet("order", "Order sheet",
          "What to ring in, from whom, when, and the price to walk away at.", _order),
    Sheet("ration", "Ration", "What to feed, what it costs, what to expect.", _ration),
    Sheet("nutritionist", "For the nutritionist",
          "The same worked: needs, limits, worth, every figure with its origin.", _nutritionist),
    Sheet("needs", "Needs beside each other", "Needs by every standard.", _needs),
    Sheet("quotes", "Quotes compared", "Who is cheapest for these sheep, why, and where it turns.",
          _quotes),
    Sheet("wintering", "Ways of wintering",
          "What each way costs a head, where it turns, what dies.", _wintering),
    Sheet("minerals", "Minerals and vitamins", "With what is not known.", _minerals),
)  # fmt: skip
BY_BATCH = ("card", "ration", "nutritionist", "needs", "minerals")


# ---------------------------------------------------------------- the page


def _asked(request: Request) -> tuple[Asked, tuple[Field, ...]]:
    """What is asked for, and the boxes with their faults."""
    from ration.sheets import foot

    desk, said = pages.desk_of(request), request.query_params
    read = desk.read()
    farm, now = read.farm, today()
    usual = now if farm.start <= now < farm.end else farm.start
    typed, fault = str(said.get("on") or "").strip(), ""
    on = None
    try:
        on = units.day(typed, "the day") if typed else None
    except InputError as error:
        fault = sentence(str(error.problems[0]))
    names = [b.name for b in farm.batches]
    batch = next((n for n in names if n == said.get("batch")), "")
    fields = (
        Field("on", (), "Card for the period that holds", typed or units.in_words_day(usual),
              hint="A day of the winter: 14 January 2027", errors=(fault,) if fault else ()),
        Field("batch", (), "Batch", batch, options=(("", "all of them"), *((n, n) for n in names))),
    )  # fmt: skip
    return Asked(request, read, batch, on or usual, on, foot(now, read.tables.digest)), fields


def look(request: Request) -> Response:
    """The sheets that can be had."""
    return _page(request)


def _page(request: Request, faults: tuple[str, ...] = (), status: int = 200) -> Response:
    asked, fields = _asked(request)
    faulty = any(f.errors for f in fields)
    return pages.page(
        request,
        "paper.html",
        status=422 if faulty else status,
        here="/paper",
        fields=fields,
        faults=faults,
        sheets=[(s, _state(s, asked), _query(s, asked)) for s in SHEETS],
        has_pdf=find_spec("weasyprint") is not None,
        spans=_spans(asked),
    )


def _spans(asked: Asked) -> list[tuple[str, str, bool]]:
    """The periods of the winter: first day, words, and whether it holds the day asked for."""
    farm = asked.read.farm
    found = calendar.periods(farm.start, farm.end, farm.winter.period_days)
    batch = {"batch": asked.batch} if asked.batch else {}
    return [
        (urlencode({"on": p.start.isoformat(), **batch}), winter_words.span(p),
         p.start <= asked.on < p.end)
        for p in found
    ]  # fmt: skip


def _state(sheet: Sheet, asked: Asked) -> NotYet | None:
    """Why a sheet cannot be had, as far as that is known without working it out."""
    if sheet.kind in ("card", "order", "quotes"):
        made = _planned(asked) if sheet.kind != "quotes" else sheet.made(asked)
        return made if isinstance(made, NotYet) else None
    if sheet.kind == "wintering" and asked.read.farm.wintering is None:
        made = sheet.made(asked)
        return made if isinstance(made, NotYet) else None
    return None


def _query(sheet: Sheet, asked: Asked) -> str:
    """What is asked for, as it stands behind the address of a sheet."""
    said = {}
    if sheet.kind in BY_BATCH and asked.batch:
        said["batch"] = asked.batch
    if sheet.kind == "card":
        said["on"] = asked.on.isoformat()
    return f"?{urlencode(said)}" if said else ""


# ---------------------------------------------------------------- one sheet


def one(request: Request) -> Response:
    """A sheet: to be looked at, its style, to be kept, or as PDF."""
    kind, ending = request.path_params["kind"], request.path_params["ending"]
    sheet = next((s for s in SHEETS if s.kind == kind), None)
    if sheet is None or ending not in KINDS_OF_FILE:
        raise HTTPException(404)
    asked, fields = _asked(request)
    if any(f.errors for f in fields):
        return _page(request)
    made = sheet.made(asked)
    if isinstance(made, NotYet):
        return _page(request, (f"{sheet.title}: {made.words}",), 409)
    name = _file_name(asked, kind)
    if ending == "pdf":
        return _pdf(request, asked, made, name)
    if "keep" in request.query_params:
        return download(made.encode(), f"{name}.html", "text/html; charset=utf-8")
    html, css = apart(made, f"/paper/{kind}.css?{request.url.query}")
    if ending == "css":
        return Response(css, media_type="text/css")
    return HTMLResponse(html)


def _file_name(asked: Asked, kind: str) -> str:
    """quernhope-card-2026-10-28-small."""
    from ration.farm.words import id_of

    parts = [asked.desk.path.stem, kind]
    if kind == "card":
        parts.append(asked.on.isoformat())
    if kind in BY_BATCH and asked.batch:
        parts.append(id_of(asked.batch))
    return "-".join(parts)


def _pdf(request: Request, asked: Asked, html: str, name: str) -> Response:
    from ration import sheets

    try:
        data = sheets.pdf(html)
    except FileError as fault:
        return _page(request, tuple(str(p) for p in fault.problems), 503)
    return Response(
        data,
        media_type=KINDS_OF_FILE["pdf"],
        headers={"Content-Disposition": f"inline; filename*=UTF-8''{quote(name, safe='')}.pdf"},
    )


def apart(html: str, address: str) -> tuple[str, str]:
    """A sheet without style in it, and its style.

    Parameters
    ----------
    html : str
        From one of the `..._sheet` functions.
    address : str
        Where the style will be had.

    Examples
    --------
    >>> apart('<style>p {}</style><p style="font-size: 9pt">', "/a.css?b")[0]
    '<link rel="icon" href="data:,"><link rel="stylesheet" href="/a.css?b"><p data-size="1">'
    """
    from markupsafe import escape

    found = _STYLE.search(html)
    css = "" if found is None else found.group(1)
    link = f'<link rel="icon" href="data:,"><link rel="stylesheet" href="{escape(address)}">'
    bare = html if found is None else html[: found.start()] + link + html[found.end() :]
    sizes = list(dict.fromkeys(_SIZE.findall(bare)))
    bare = _SIZE.sub(lambda m: f' data-size="{sizes.index(m.group(1)) + 1}"', bare)
    rules = [f'[data-size="{n}"] {{ {size} !important; }}' for n, size in enumerate(sizes, 1)]
    return bare, "\n".join([css, *rules])


ROUTES = [
    Route("/paper", look),
    Route("/paper/{kind}.{ending}", one),
]
