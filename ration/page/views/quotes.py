"""Whose quote is best for us? Sheets dropped, how they were read, what the sheep cost with each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.routing import Route

from ration import tables, units
from ration.errors import InputError
from ration.faces import landed_report, quotes_report, winter_json
from ration.farm import write
from ration.jobs import quotes as quote_jobs
from ration.page import pages, told, tray
from ration.page import reading as how
from ration.page.downloads import XLSX, download
from ration.page.dropped import copied
from ration.page.forms import Field
from ration.page.views.twins import json_bytes
from ration.plain_text import joined, sentence
from ration.sheets.ears import heard

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request

    from ration.page.desk import Desk
    from ration.page.reading import Reading
    from ration.sheets.ears import Block
    from ration.tables import Tables

RANKED = "with each as the only change"
FIRST_WAIT_S = 1.0


def _reading(request: Request, said: Mapping[str, Any]) -> tuple[Reading, Field]:
    """How the sheets are read, and the box of the day of the order."""
    on, fault = how.day_of(said)
    found = how.reading(pages.desk_of(request), how.tray_of(request.app), on)
    first = units.in_words_day(found.read.farm.start)
    box = Field(
        "on",
        (),
        "Day of the order",
        str(said.get("on") or "").strip(),
        hint=f"Empty takes the first day of the winter, {first}",
        errors=(fault,) if fault else (),
    )
    return found, box


def look(request: Request) -> Response:
    """Where the comparison stands: nothing yet, to be agreed, being worked, or done."""
    found, day = _reading(request, request.query_params)
    return pages.page(
        request,
        "quotes.html",
        part="quotes_told.html",
        status=422 if day.errors else 200,
        **_told(request, found),
        day=day,
        query=_query(found),
    )


def _query(found: Reading, **more: str) -> str:
    """The day of the order and more, to be put after an address."""
    said = {**({"on": found.on.isoformat()} if found.on else {}), **more}
    return f"?{urlencode(said)}" if said else ""


def _told(request: Request, found: Reading, faults: Sequence[str] = ()) -> dict[str, Any]:
    """Everything the templates name."""
    given: dict[str, Any] = {
        "found": found,
        "how": how,
        "faults": [*faults, *found.faults],
        "used": [(s, how.rows(found, s), s in found.own) for s in found.used],
        "most_mb": tray.MOST_BYTES // 1_000_000,
        "most_sheets": tray.MOST_SHEETS,
        "names": joined([s.name for s in found.used]),
        "own_names": joined([s.name for s in found.own]),
        "titled": told.is_titled,
        "words_at": told.words_at,
        "compared": None,
        "seconds": 0,
    }
    if not found.used:
        return {**given, "state": "none"}
    if not found.mark:
        return {**given, "state": "faulty"}
    if not how.tray_of(request.app).is_agreed(found.mark):
        return {**given, "state": "ask"}
    run = how.comparing(request, found)
    if not run.wait(FIRST_WAIT_S) or not how.is_of(run, found):
        return {**given, "state": "working", "seconds": int(run.seconds)}
    if run.fault is not None:
        return {**given, "state": "failed", "faults": list(run.fault_lines)}
    return {**given, "state": "done", **_compared(run.result)}


def _compared(done: Any) -> dict[str, Any]:
    """What the face says, the ranking before the landed prices."""
    heading, *blocks = heard(
        lambda c: quotes_report.print_quotes(
            c, done.ranked, done.tied, on=done.on, sheets=done.sheets
        )
    )
    _, rest = told.first_words(blocks)
    first = next((i for i, b in enumerate(rest) if told.is_titled(b, RANKED)), len(rest))
    last = max((i for i, b in enumerate(rest) if told.is_titled(b, RANKED)), default=first - 1)
    after, lists = _until_bold(rest[last + 1 :])
    return {
        "compared": done,
        "heading": heading,
        "kinds": _kinds(done, rest[first : last + 1]),
        "after": after,
        "lists": told.sections(lists),
        "landed": rest[:first],
    }


def _kinds(
    done: quote_jobs.Compared, grids: Sequence[Block]
) -> list[tuple[str, list[str], list[Block]]]:
    """The words and the ranking of each kind of feed."""
    out = []
    for kind in dict.fromkeys(r.kind for r in done.ranked):
        name = quotes_report._kind_words(kind)
        words = quotes_report.in_a_few_sentences([r for r in done.ranked if r.kind == kind])
        out.append((name, words, [g for g in grids if told.is_titled(g, f"{name}: what")]))
    return out


def _until_bold(blocks: Sequence[Block]) -> tuple[list[Block], list[Block]]:
    """What stands before the first line in bold, and the rest."""
    n = next(
        (i for i, b in enumerate(blocks) if getattr(b, "style", "") == "bold"), len(blocks)
    )  # fmt: skip
    return list(blocks[:n]), list(blocks[n:])


# ---------------------------------------------------------------- the sheets


def _again(request: Request) -> Response:
    """Back to the page, the day of the order kept."""
    on = str(pages.form_of(request).get("on") or "").strip()
    return pages.go(f"/quotes?{urlencode({'on': on})}" if on else "/quotes")


def put(request: Request) -> Response:
    """Take sheets in; what cannot be taken is told and the rest is kept."""
    form: Any = pages.form_of(request)
    kept = how.tray_of(request.app)
    faults: list[str] = []
    files = [f for f in form.getlist("sheets") if not isinstance(f, str) and f.filename]
    if not files:
        faults.append("No file was chosen.")
    for file in files:
        try:
            kept.put(file.filename, file.file.read(tray.MOST_BYTES + 1))
        except InputError as fault:
            faults += [str(p) for p in fault.problems]
    if not faults:
        return _again(request)
    found, day = _reading(request, form)
    given = {**_told(request, found, faults), "day": day, "query": _query(found)}
    return pages.page(request, "quotes.html", status=422, **given)


def take_out(request: Request) -> Response:
    """Take one sheet out again."""
    how.tray_of(request.app).take_out(str(pages.form_of(request).get("sheet", "")))
    return _again(request)


def own(request: Request) -> Response:
    """Put the farm file's own quotes beside those sent, or leave them out."""
    how.tray_of(request.app).with_own = pages.form_of(request).get("own") == "yes"
    return _again(request)


def agree(request: Request) -> Response:
    """Yes, that is how I read it; only to what was shown."""
    form = pages.form_of(request)
    found, _ = _reading(request, form)
    if found.mark and form.get("mark") == found.mark:
        how.tray_of(request.app).agree(found.mark)
    return _again(request)


def use(request: Request) -> Response:
    """Copy the sheets beside the farm file and name them in it."""
    desk, form = pages.desk_of(request), pages.form_of(request)
    found, _ = _reading(request, form)
    how.agreed(request, found)
    if not found.sent:
        raise HTTPException(403, "The farm file names these quotes already.")
    made_from = pages.made_from(request)
    if made_from != desk.draft.digest:  # told before anything is copied
        desk.put_text(desk.draft.text, made_from, "")
    new: list[Path] = []
    names: list[str] = []
    try:
        for one in found.sent:
            path, is_new = copied(desk, one.held())
            new += [path] if is_new else []
            names.append(path.name)
        _name_them(desk, found, names, made_from)
    except BaseException:
        for path in new:
            path.unlink(missing_ok=True)
        raise
    how.tray_of(request.app).clear()
    return _again(request)


def _name_them(desk: Desk, found: Reading, names: list[str], made_from: str) -> None:
    """Write the names into the draft."""
    folder = desk.path.parent
    before = [s.path.relative_to(folder).as_posix() for s in found.own] if found.is_with_own else []
    files = list(dict.fromkeys([*before, *names]))
    value = files[0] if len(files) == 1 else files
    changed = write.put_value(found.read.text, ("quotes",), value)
    desk.put_text(changed.text, made_from, changed.words, (changed,))


# ---------------------------------------------------------------- without sheep


def _tonnes(text: str) -> float | None:
    """So much of each as typed: "34 t"; None for the least that is sold. [t fresh]"""
    if not text:
        return None
    return units.mass_kg(text if text[-1:].isalpha() else f"{text} t", "tonnes") / 1000


def _landed(
    request: Request, found: Reading
) -> tuple[quote_jobs.LandedOnly | None, tuple[Field, ...]]:
    """The quotes at one tonnage; None where the boxes are at fault."""
    how.agreed(request, found)
    said = request.query_params
    boxes = [
        Field("tonnes", (), "Tonnes of each", said.get("tonnes", "").strip(),
              hint="34 t; empty takes the least that is sold"),
        Field("drops", (), "In how many drops", said.get("drops", "").strip(),
              hint="Deliveries it comes in; empty is one"),
    ]  # fmt: skip
    faults: dict[str, str] = {}
    tonnes, drops = None, 1
    try:
        tonnes = _tonnes(boxes[0].value)
    except InputError as fault:
        faults["tonnes"] = sentence(str(fault.problems[0]))
    try:
        drops = int(boxes[1].value or 1)
    except ValueError:
        faults["drops"] = "This is a whole number: 5."
    done = None
    if not faults:
        book = _tables_alone(request, found)
        try:
            done = quote_jobs.landed_of(found.sheets, book, tonnes=tonnes, drops=drops, on=found.on)
        except InputError as fault:
            for p in fault.problems:
                faults[p.where.removeprefix("--")] = sentence(str(p.at("")))
    fields = tuple(
        Field(f.name, (), f.label, f.value, hint=f.hint,
              errors=(faults[f.name],) if f.name in faults else ())
        for f in boxes
    )  # fmt: skip
    return done, fields


def _tables_alone(request: Request, found: Reading) -> Tables:
    """The tables without those that the farm file lays over them."""
    desk = pages.desk_of(request)
    load = partial(tables.load, overlays=list(desk.overlays))
    return desk.once(found.read, ("tables alone",), load)


def landed(request: Request) -> Response:
    """What each quote comes to in the bin, without a farm's sheep."""
    found, _ = _reading(request, request.query_params)
    done, fields = _landed(request, found)
    blocks = () if done is None else heard(lambda c: landed_report.print_landed(c, done))
    return pages.page(
        request,
        "quotes_landed.html",
        part="quotes_landed_part.html",
        status=200 if done is not None else 422,
        fields=fields,
        sections=told.sections(blocks),
        titled=told.is_titled,
        words_at=told.words_at,
        names=joined([s.name for s in found.used]),
        found=found,
        query=_query(found),
        more=_query(found, **{f.name: f.value for f in fields if f.value}),
    )


# ---------------------------------------------------------------- files


def quotes_json(request: Request) -> Response:
    """`ration quotes FARM QUOTES --json`."""
    found, _ = _reading(request, request.query_params)
    done = how.compared(request, found)
    return Response(json_bytes(winter_json.compared_json(done)), media_type="application/json")


def landed_json(request: Request) -> Response:
    """`ration quotes QUOTES --json`, with `--tonnes` and `--drops` as `?tonnes=` and `?drops=`."""
    done = _alone(request)
    return Response(json_bytes(winter_json.landed_json(done)), media_type="application/json")


def _alone(request: Request) -> quote_jobs.LandedOnly:
    found, _ = _reading(request, request.query_params)
    done, fields = _landed(request, found)
    if done is None:
        raise HTTPException(422, "\n".join(e for f in fields for e in f.errors))
    return done


def quotes_xlsx(request: Request) -> Response:
    """The comparison as a workbook."""
    from ration.workbooks.quotes import quotes_book

    desk = pages.desk_of(request)
    found, _ = _reading(request, request.query_params)
    done = how.compared(request, found)
    return download(quotes_book(done, found.read.tables), f"{desk.path.stem}-quotes.xlsx", XLSX)


def landed_xlsx(request: Request) -> Response:
    """The landed prices as a workbook."""
    from ration.workbooks.quotes import landed_book

    found, _ = _reading(request, request.query_params)
    done = _alone(request)
    return download(landed_book(done, _tables_alone(request, found)), "quotes-landed.xlsx", XLSX)


ROUTES = [
    Route("/quotes", look),
    Route("/quotes/sheets", put, methods=["POST"]),
    Route("/quotes/take-out", take_out, methods=["POST"]),
    Route("/quotes/own", own, methods=["POST"]),
    Route("/quotes/agree", agree, methods=["POST"]),
    Route("/quotes/use", use, methods=["POST"]),
    Route("/quotes/landed", landed),
    Route("/quotes/quotes.xlsx", quotes_xlsx),
    Route("/quotes/landed.xlsx", landed_xlsx),
    Route("/json/quotes", quotes_json),
    Route("/json/landed", landed_json),
]
