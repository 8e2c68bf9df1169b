"""Which way to winter? The ways side by side, with the figures most asked about in boxes."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from markupsafe import Markup
from starlette.responses import Response
from starlette.routing import Route

from ration.cautions import STANDING
from ration.faces import wintering_json, wintering_report
from ration.farm import words
from ration.farm.words import id_of
from ration.jobs import wintering as job
from ration.page import pages, told, work
from ration.page.downloads import XLSX, download
from ration.page.forms import Field
from ration.page.views.hay import _in_unit
from ration.page.views.twins import json_bytes
from ration.page.wintering_example import EXAMPLE, with_example
from ration.plain_text import sentence
from ration.sheets.ears import Grid, Said, heard
from ration.strict_yaml import tidy
from ration.units import money

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.requests import Request

    from ration.page.desk import Desk, Read
    from ration.page.work import Asked
    from ration.strict_yaml import Keys
    from ration.wintering.records import Way

COSTS, PARTIAL, MIXES = "What a head costs", "Leaving ", "Feed by the cheapest safe mix"
AT: Keys = ("wintering",)


def _box(
    name: str, keys: Keys, label: str, value: float | None, written: str, **more: Any
) -> Field:
    """A box with a plain number in it, written into the file with its unit."""
    now = "" if value is None else f"{value:.6g}"
    return Field(name, keys, label, now, now, to_file=partial(_in_unit, written=written), **more)


def fields_of(read: Read) -> tuple[Field, ...]:
    """Keep, deaths, the wage and the prices of feed put out; none where there is no section."""
    found = read.farm.wintering
    if found is None:
        return ()
    keys = [(*AT, "ways", key) for key in read.sheet.group((*AT, "ways"))]
    out: list[Field] = []
    for n, (at, way) in enumerate(zip(keys, found.ways, strict=True), 1):
        out += _of_way(n, at, way, read)
    wage = found.terms.wage_gbp_per_h
    if read.written((*AT, "wage")):
        out.append(
            _box("wage", (*AT, "wage"), "Wage", wage, "{} /h", unit="£ an hour",
                 least=0, most=max(30.0, round(2 * wage)), step=0.5)
        )  # fmt: skip
    prices = read.sheet.group(AT).get("prices")
    for n, key in enumerate(prices if isinstance(prices, dict) else (), 1):
        at = (*AT, "prices", key)
        price = words.price(read.written(at))
        label = f"Price of {read.sheet.written[at]}"
        most = max(400.0, round(2 * (price or 0.0)))
        out.append(
            _box(f"price-{n}", at, label, price, "{} /t", unit="£ a tonne",
                 least=0, most=most, step=5)
        )  # fmt: skip
    return tuple(out)


def _of_way(n: int, at: Keys, way: Way, read: Read) -> list[Field]:
    out = []
    if way.keep is not None:
        pence = 100 * way.keep.gbp_per_head_week
        out.append(
            _box(f"keep-{n}", (*at, "keep"), f"Keep, {way.name}", pence, "{} p a week",
                 unit="p a head a week", least=0, most=max(200.0, round(2 * pence)), step=1)
        )  # fmt: skip
    is_said = bool(read.written((*at, "deaths")))
    share = 100 * way.deaths_share if is_said else None
    out.append(
        _box(f"deaths-{n}", (*at, "deaths"), f"Deaths, {way.name}", share, "{} %",
             unit="% of those that start", least=0, most=20, step=0.5, may_be_empty=not is_said)
    )  # fmt: skip
    return out


def _is_first(field: Field, read: Read) -> bool:
    """Whether a box is among the figures most asked about."""
    if field.name == "wage" or field.name.startswith("keep-"):
        return True
    if field.name.startswith("price-"):
        return id_of(str(field.keys[-1])) == "hay"
    found = read.farm.wintering
    hill = {tidy(w.name) for w in found.ways if w.place == "hill"} if found else set()
    return len(field.keys) > 2 and tidy(str(field.keys[2])) in hill


def _base(read: Read, said: Mapping[str, Any]) -> str | None:
    """The way that changes are counted from; None for the usual one."""
    found = read.farm.wintering
    wanted = tidy(str(said.get("from") or ""))
    return next((w.name for w in found.ways if tidy(w.name) == wanted), None) if found else None


def done_for(desk: Desk, read: Read, base: str | None, *, with_mix: bool) -> job.Compared:
    """The ways worked, once for each text and base."""
    ways = read.farm.wintering
    if ways is None:
        raise LookupError("no section")
    is_long = with_mix or any(w.is_by_mix for w in ways.ways)
    return desk.once(
        read,
        ("wintering", base, with_mix),
        lambda: job.compared(read.farm, ways, read.tables, base=base, with_mix=with_mix),
        is_long=is_long,
    )


def look(request: Request) -> Response:
    """The ways side by side, with what the form says laid over the farm file."""
    desk, said = pages.desk_of(request), request.query_params
    asked = work.asked(desk, fields_of, said)
    if asked.base.farm.wintering is None:
        return pages.page(request, "wintering_none.html", example=EXAMPLE, words=job.EXAMPLE)
    base = _base(asked.read, said)
    done = done_for(desk, asked.read, base, with_mix=False)
    first = done_for(desk, asked.base, base, with_mix=False) if asked.is_changed else None
    return pages.page(
        request,
        "wintering.html",
        part="wintering_part.html",
        status=asked.status,
        **_told(asked, done, first),
    )


def _told(asked: Asked, done: job.Compared, first: job.Compared | None) -> dict[str, Any]:
    """Everything the templates name."""
    from ration.plots import ways_of_wintering

    blocks = heard(lambda c: wintering_report.print_wintering(c, done))
    costs = next(i for i, b in enumerate(blocks) if told.is_titled(b, COSTS))
    method = wintering_report.method(done)
    rest = [b for b in blocks[costs:] if getattr(b, "text", "") not in (method, STANDING)]
    partials = [b for b in rest if isinstance(b, Grid) and b.title.startswith(PARTIAL)]
    sections = told.sections([b for b in rest if b not in partials])
    words = wintering_report.in_words(done)
    best = next((w for w in words if "is cheapest" in w), "")
    names = [b.way for b in done.budgets]
    base = done.budgets[done.base].way
    return {
        "asked": asked,
        "best": best,
        "welfare": "" if done.welfare is None else wintering_report.note_words(done.welfare),
        "words": sorted(words, key=lambda w: w != best),  # the answer first
        "changed": _beside(done, first),
        "first": sections[0],
        "sections": sections[1:],
        "partials": partials,
        "plot": Markup(ways_of_wintering(done).svg),
        "method": method,
        "standing": STANDING,
        "now": _now(done),
        "base": base,
        "from_way": Field("from", (), "Changes counted from", base, base,
                          options=tuple((n, n) for n in names)),
        "asked_first": [f for f in asked.fields if _is_first(f, asked.base)],
        "asked_more": [f for f in asked.fields if not _is_first(f, asked.base)],
        "words_at": told.words_at,
        "batch": "",
    }  # fmt: skip


def _now(done: job.Compared) -> str:
    """What a head costs on each way, in one line."""
    each = ", ".join(f"{b.way} {money(wintering_report._shown(done, b))}" for b in done.budgets)
    return f"A head costs: {each}."


def _beside(done: job.Compared, first: job.Compared | None) -> Grid | None:
    """A head on each way, with these figures and by the farm file."""
    if first is None:
        return None
    rows = [
        (b.way, *(f"{wintering_report._shown(d, x):.2f}" for d, x in ((done, b), (first, a))))
        for b, a in zip(done.budgets, first.budgets, strict=True)
    ]
    return Grid("What a head costs, £", ("", "with these figures", "by the farm file"),
                (True, False, False), tuple(rows))  # fmt: skip


def mixes(request: Request) -> Response:
    """Feed by the cheapest safe mix beside feed put out by hand."""
    desk, said = pages.desk_of(request), request.query_params
    asked = work.asked(desk, fields_of, said)
    if asked.base.farm.wintering is None:
        return pages.go("/wintering")
    done = done_for(desk, asked.read, _base(asked.read, said), with_mix=True)
    blocks = heard(lambda c: wintering_report.print_wintering(c, done))
    grid = next((b for b in blocks if told.is_titled(b, MIXES)), None)
    said_of_it = [Said(w) for w in wintering_report.mix_words(done)]
    return pages.page(
        request,
        "wintering_mix.html",
        part="wintering_mix_part.html",
        blocks=[b for b in (grid, *said_of_it) if b is not None],
        words_at=told.words_at,
    )


def keep(request: Request) -> Response:
    """Write the figures into the farm file on the desk."""
    form = pages.form_of(request)
    work.kept(pages.desk_of(request), fields_of, form)
    way = str(form.get("from") or "")
    return pages.go(f"/wintering?from={quote(way)}" if way else "/wintering")


def example(request: Request) -> Response:
    """Put an example section at the end of the farm file on the desk."""
    desk, made_from = pages.desk_of(request), pages.made_from(request)
    read = desk.read()
    if "wintering" not in read.sheet.group(()):
        desk.put_text(with_example(read.text), made_from, "an example of ways to winter")
    return pages.go("/wintering")


def _whole(request: Request) -> job.Compared | None:
    """The ways as the command works them; None where there is no section."""
    read = pages.desk_of(request).read()
    if read.farm.wintering is None:
        return None
    base = _base(read, request.query_params)
    return done_for(pages.desk_of(request), read, base, with_mix=True)


def as_json(request: Request) -> Response:
    """`ration wintering FARM --json`, with `--base` as `?from=`."""
    done = _whole(request)
    if done is None:
        return pages.problem_page(request, 404, sentence(job.EXAMPLE))
    return Response(json_bytes(wintering_json.wintering_json(done)), media_type="application/json")


def workbook(request: Request) -> Response:
    """The ways as a workbook."""
    from ration.workbooks.wintering import wintering_book

    desk = pages.desk_of(request)
    done = _whole(request)
    if done is None:
        return pages.go("/wintering")
    data = wintering_book(done, desk.read().tables)
    return download(data, f"{desk.path.stem}-wintering.xlsx", XLSX)


ROUTES = [
    Route("/wintering", look),
    Route("/wintering/mix", mixes),
    Route("/wintering/keep", keep, methods=["POST"]),
    Route("/wintering/example", example, methods=["POST"]),
    Route("/wintering/wintering.xlsx", workbook),
    Route("/json/wintering", as_json),
]
