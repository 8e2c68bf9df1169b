"""A laboratory sheet: dropped, read in words, laid over a feed; the ration before and after."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import urlencode

from starlette.routing import Route

from ration import analysis, tables
from ration import farm as farms
from ration.errors import FileError, InputError, Problem, RationError
from ration.faces import changes
from ration.faces import figures_words as told
from ration.farm import write
from ration.farm.words import files, id_of
from ration.page import dropped, pages, rows, work
from ration.page.desk import Edit, Read
from ration.page.dropped import Dropped, Tray
from ration.strict_yaml import tidy

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from starlette.requests import Request
    from starlette.responses import Response

    from ration.analysis import AnalysedFeed, Sheet
    from ration.farm import Offer
    from ration.mix import Ration
    from ration.page.desk import Desk

TOGETHER, INSTEAD = "together", "instead"
GONE = "That sheet is not held any more. Choose the file again."


def tray_of(request: Request) -> Tray:
    """The sheets dropped in this run of the page."""
    state = request.app.state
    if not hasattr(state, "lab_sheets"):
        state.lab_sheets = Tray()
    found: Tray = state.lab_sheets
    return found


def _own(read: Read) -> tuple[Offer, ...]:
    """Feeds of the farm file that are on offer, those at home first."""
    keys = {id_of(k) for k in read.sheet.group(("feeds",))}
    return tuple(sorted((o for o in read.farm.offers if o.id in keys), key=lambda o: not o.is_home))


def _key(read: Read, offer_id: str) -> str:
    return next(str(k) for k in read.sheet.group(("feeds",)) if id_of(k) == offer_id)


def _there(read: Read, offer_id: str) -> tuple[str, ...]:
    """The sheets that lie over a feed already, as the farm file names them."""
    said = read.sheet.group(("feeds", _key(read, offer_id))).get("analysis")
    return () if said is None else files(said)


# ---------------------------------------------------------------- dropped


def drop(request: Request) -> Response:
    """Take a file in and read it; what is wrong with it is told and nothing is kept."""
    form = pages.form_of(request)
    desk = pages.desk_of(request)
    read = desk.read()
    try:
        held, sheets = _taken(request, form, read)
    except InputError as fault:
        return _page(request, form, status=422, faults=_lines(fault))
    over = _named(read, str(form.get("over", ""))) or _meant(read, sheets)
    query = {"sheet": held.digest, "over": over, "batch": str(form.get("batch", ""))}
    return pages.go(f"/figures/sheet?{urlencode({k: v for k, v in query.items() if v})}")


def _taken(
    request: Request, form: Mapping[str, object], read: Read
) -> tuple[Dropped, tuple[Sheet, ...]]:
    file = form.get("file")
    if file is None or isinstance(file, str) or not getattr(file, "filename", ""):
        do = "Choose a laboratory sheet: CSV or YAML"
        raise FileError(Problem("", "no file was chosen", "", do))
    source = file.file  # type: ignore[attr-defined]
    data = source.read(dropped.MOST_BYTES + 1)
    name = dropped.file_name(str(file.filename))  # type: ignore[attr-defined]
    held = Dropped(name, data, "")
    sheets = _sheets(held, read)
    return tray_of(request).put(name, data), sheets


def _sheets(held: Dropped, read: Read) -> tuple[Sheet, ...]:
    with dropped.lent(held) as path:
        return analysis.read_sheet(path, read.tables)


def _named(read: Read, said: str) -> str:
    return said if said in {o.id for o in _own(read)} else ""


def _meant(read: Read, sheets: tuple[Sheet, ...]) -> str:
    """The feed whose name the sheet bears; "" where none or several do."""
    names = {tidy(n) for s in sheets for n in (s.lot, s.sample) if n}
    found = {
        o.id
        for o in _own(read)
        for n in names
        if n == tidy(o.name) or n.startswith(f"{tidy(o.name)} ")
    }
    return found.pop() if len(found) == 1 else ""


def _lines(fault: RationError) -> tuple[str, ...]:
    return tuple(str(p) for p in fault.problems) or (str(fault),)


# ---------------------------------------------------------------- looked at


def look(request: Request) -> Response:
    """What the sheet says, and what it does to the ration once its feed is chosen."""
    return _page(request, request.query_params)


def _page(
    request: Request,
    said: Mapping[str, object],
    *,
    status: int = 200,
    faults: tuple[str, ...] = (),
) -> Response:
    desk = pages.desk_of(request)
    read = desk.read()
    asked_for = str(said.get("sheet", ""))
    held = tray_of(request).get(asked_for) if asked_for else None
    if asked_for and held is None:
        status, faults = 404, (GONE,)
    over = _named(read, str(said.get("over", "")))
    batch = work.batch_key(read, str(said.get("batch", "")))
    there = _there(read, over) if over else ()
    way = INSTEAD if said.get("way") == INSTEAD and there else TOGETHER
    shown: dict[str, object] = {"readings": [], "made": None}
    if held is not None:
        try:
            shown |= _readings(held, read)
            if over:
                shown |= _laid_over(desk, read, held, over, way, batch)
        except InputError as fault:
            status, faults = 422, _lines(fault)
    return pages.page(
        request,
        "figures_sheet.html",
        part="figures_sheet_part.html",
        status=status,
        faults=faults,
        held=held,
        over=over,
        over_name=next((o.name for o in read.farm.offers if o.id == over), ""),
        feeds=[(o.id, o.name) for o in _own(read)],
        there=there,
        way=way,
        batch=batch,
        batches=[b.name for b in read.farm.batches],
        rows=rows,
        query=urlencode({"feed": over, "batch": batch}),
        **shown,
    )


def _readings(held: Dropped, read: Read) -> dict[str, object]:
    """Every figure as the sheet has it, before it is known whose it is."""
    found = []
    for sheet in _sheets(held, read):
        about = [("Sample", sheet.sample), ("Lot", sheet.lot), ("Laboratory", sheet.laboratory),
                 ("Sampled", sheet.sampled), ("Reported", sheet.reported)]  # fmt: skip
        figures = [r.words + ("" if r.is_used else f" ({r.note})") for r in sheet.readings]
        unread = [*sheet.not_understood, *(f"no figure: {m}" for m in sheet.missing)]
        found.append(([f"{w}: {v}" for w, v in about if v], figures, unread))
    return {"readings": found}


def _laid_over(
    desk: Desk, read: Read, held: Dropped, over: str, way: str, batch: str
) -> dict[str, object]:
    """The feed with the sheet laid over it, and the ration before and after."""
    name = (held.digest, over, way)
    laid = desk.once(read, ("lab sheet", *name), lambda: _with_sheet(desk, read, held, over, way))
    made = next((o.analysed for o in laid.farm.offers if o.id == over), None)
    if made is None:  # pragma: no cover - the reader lays every sheet or raises
        return {}
    found: dict[str, object] = {"made": made, "words": analysis.words(made),
                                "table": _table(made, read)}  # fmt: skip
    try:
        before = work.ration_of(desk, read, batch)
        after = work.ration_of(desk, laid, batch)
    except RationError as fault:
        return found | {"before": None, "changes": _lines(fault)}
    return found | {
        "before": before,
        "after": after,
        "changes": _changes(read, laid, before, after),
    }


def _with_sheet(desk: Desk, read: Read, held: Dropped, over: str, way: str) -> Read:
    """The farm as it would be read with the sheet laid over the feed."""
    folder = desk.path.parent
    with dropped.lent(held) as path:
        paths: list[Path] = [folder / n for n in _there(read, over)] if way == TOGETHER else []
        book = tables.load(overlays=list(desk.overlays))
        farm = farms.read_text(
            read.text, desk.name, folder, tables=book, analyses={over: [*paths, path]}
        )
    digest = f"{read.digest} {held.digest} {over} {way}"
    return Read(read.text, digest, read.sheet, farm, read.tables, read.files)


def _changes(read: Read, laid: Read, before: Ration, after: Ration) -> list[str]:
    return [
        *changes.what_changed_in_feeds(work.rations_of(read, before), work.rations_of(laid, after)),
        *changes.what_changed(before, after),
    ]


def _table(made: AnalysedFeed, read: Read) -> list[tuple[str, ...]]:
    """Each figure of the feed as it would be, the book's beside it."""
    out: list[tuple[str, ...]] = []
    for key, nutrient in read.tables.nutrients.items():
        figure, old = made.feed.figures.get(key), made.like.get(key)
        if figure is not None:
            value = f"{figure.value:.4g}"
            was = "" if old is None else told.value_words(old)
            out.append((nutrient.name, value, was, nutrient.unit, told.where_from(figure)))
    return out


# ---------------------------------------------------------------- laid over


def lay(request: Request) -> Response:
    """Copy the sheet beside the farm file and name it under the feed."""
    form = pages.form_of(request)
    desk = pages.desk_of(request)
    read = desk.read()
    held = tray_of(request).get(str(form.get("sheet", "")))
    over = _named(read, str(form.get("over", "")))
    if held is None or not over:
        words = GONE if held is None else "Say first which feed the sheet is of."
        return _page(request, form, status=422, faults=(words,))
    made_from = pages.made_from(request)
    edit = Edit(("feeds", _key(read, over), "analysis"), held.name)
    if made_from != desk.draft.digest:
        desk.change([edit], made_from)  # tells both sides; nothing is copied
    path, is_new = dropped.copied(desk, held)
    try:
        _name_it(desk, edit, path.name, made_from, is_instead=form.get("way") == INSTEAD)
    except InputError as fault:
        if is_new:
            path.unlink(missing_ok=True)
        if type(fault) is not InputError:
            raise
        return _page(request, form, status=422, faults=_lines(fault))
    batch = work.batch_key(read, str(form.get("batch", "")))
    return pages.go(f"/figures?{urlencode({'feed': over, 'batch': batch})}")


def _name_it(desk: Desk, edit: Edit, name: str, made_from: str, *, is_instead: bool) -> None:
    """The sheet named under its feed: beside those there, or in their place."""
    text = desk.draft.text
    if is_instead:
        made = write.put_value(text, edit.keys, name)
    else:
        made = write.lay_analysis(text, str(edit.keys[1]), name)
    if made.text != text:
        desk.put_text(made.text, made_from, made.words, (made,))


ROUTES = [
    Route("/figures/sheet", drop, methods=["POST"]),
    Route("/figures/sheet", look),
    Route("/figures/sheet/lay", lay, methods=["POST"]),
]
