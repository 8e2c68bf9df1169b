"""Which figures are we trusting? Every figure of every feed, where it is from, what it moves.

A figure is changed on the farm's own feed, in the farm file: every figure that a ration uses comes
through one of these feeds, so nothing is out of reach, the change stands on one line that is shown,
and it can be taken back. The table behind them is only looked at.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from urllib.parse import quote, urlencode

from starlette.exceptions import HTTPException
from starlette.routing import Route

from ration import explain
from ration.errors import RationError
from ration.faces import changes
from ration.faces import figures_words as told
from ration.farm.words import DEGRADABILITY, FIGURES, id_of
from ration.page import pages, rows, work
from ration.page.desk import written
from ration.page.forms import Field
from ration.page.views import feed, figures_sheet
from ration.plain_text import sentence
from ration.strict_yaml import tidy

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.requests import Request
    from starlette.responses import Response

    from ration.farm import Offer
    from ration.feeds import Feed, Figure
    from ration.jobs.figures import IfOut
    from ration.mix import Ration
    from ration.page.desk import Read
    from ration.page.work import Asked
    from ration.strict_yaml import Keys
    from ration.tables import Tables

MAIN = ("dry matter", "energy", "protein", "calcium", "phosphorus")
PARTS = tuple(DEGRADABILITY)
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Main figures", MAIN),
    ("How the protein breaks down",
     (*PARTS, "bound nitrogen", "non-protein nitrogen", "ammonia nitrogen")),
    ("Fibre, starch, sugar and oil",
     ("oil", "fibre (NDF)", "fibre (ADF)", "starch", "sugar", "ash", "D-value", "gross energy",
      "pH")),
    ("Other minerals", ("magnesium", "sodium", "potassium", "sulphur")),
    ("Trace elements",
     ("copper", "molybdenum", "selenium", "iron", "zinc", "manganese", "cobalt", "iodine",
      "fluorine")),
    ("Vitamins", ("vitamin A", "vitamin D", "vitamin E")),
)  # fmt: skip
NO_UNIT = ("share of N", "share of CP", "per hour", "pH")


@dataclass(frozen=True)
class Row:
    """One figure of the feed shown: its box, its word for a guess, where it comes from."""

    box: Field
    unit: str
    short: str
    is_guess: bool
    source: str


@dataclass(frozen=True)
class Group:
    """Figures that belong together; open where something is to be seen in them."""

    name: str
    rows: tuple[Row, ...]
    is_open: bool
    known: int


# ---------------------------------------------------------------- the boxes of one feed


def slug(word: str) -> str:
    """A word of the farm file as the name of its box."""
    return "fig-" + "".join(c if c.isalnum() else "-" for c in word.lower()).strip("-")


def key_of(read: Read, offer_id: str) -> str | None:
    """The name of a feed in the farm file, tidied; None where it stands elsewhere."""
    return next((str(k) for k in read.sheet.group(("feeds",)) if id_of(k) == offer_id), None)


def own(read: Read) -> tuple[Offer, ...]:
    """The feeds of the farm file that are on offer, those at home first."""
    found = (o for o in read.farm.offers if key_of(read, o.id) is not None)
    return tuple(sorted(found, key=lambda o: not o.is_home))


def chosen(read: Read, said: str) -> Offer | None:
    """The feed asked for; the first where none such is there."""
    found = own(read)
    return next((o for o in found if o.id == id_of(said)), found[0] if found else None)


def nutrient_of(word: str) -> str:
    """The nutrient of a word, of the three parts of degradability too."""
    return DEGRADABILITY.get(word) or FIGURES[word][0]


def fields_of(read: Read, offer_id: str, said: Mapping[str, object]) -> tuple[Field, ...]:
    """A box for every figure that can be written for one feed."""
    key = key_of(read, offer_id)
    offer = next((o for o in read.farm.offers if o.id == offer_id), None)
    if key is None or offer is None:
        return ()
    base: Keys = ("feeds", key)
    found = [_box(read, base, offer.feed, word) for word in (*FIGURES, *PARTS)]
    boxes = _parts_together(read, base, found, said)
    # those typed in come first: a fault of the whole feed is told beside one of them
    return tuple(sorted(boxes, key=lambda f: _typed(f, said) == f.start))


def _typed(box: Field, said: Mapping[str, object]) -> str:
    return " ".join(str(said.get(box.name, box.value)).split())


def _box(read: Read, base: Keys, feed: Feed, word: str) -> Field:
    """The box of one figure: as it is written in the file, else its value with its unit."""
    keys: Keys = (*base, "degradability", word) if word in PARTS else (*base, word)
    nutrient = read.tables.nutrient(nutrient_of(word))
    as_written = ""
    if (tidied := (*keys[:-1], tidy(word))) in read.sheet.lines:
        keys, as_written = tidied, written(read.sheet, tidied)
    figure = feed.figures.get(nutrient.id)
    now = as_written or ("" if figure is None else _value(figure, nutrient.unit))
    return Field(slug(word), keys, nutrient.name, now, now, may_be_empty=bool(as_written))


def _value(figure: Figure, unit: str) -> str:
    value = told.value_words(figure.value)
    return value if unit in NO_UNIT else f"{value} {unit}"


def _parts_together(
    read: Read, base: Keys, found: list[Field], said: Mapping[str, object]
) -> tuple[Field, ...]:
    """The three parts of degradability, written together or taken out together."""
    names = {slug(p) for p in PARTS}
    three = [f for f in found if f.name in names]
    rest = [f for f in found if f.name not in names]
    typed = {f.name: _typed(f, said) for f in three}
    is_changed = any(typed[f.name] != f.start for f in three)
    is_there = (*base, "degradability") in read.sheet.lines
    if is_changed and is_there and not any(typed.values()):
        three[-1] = replace(three[-1], keys=(*base, "degradability"))  # the group goes as well
    if is_changed and not is_there:
        three = [replace(f, start="") for f in three]
    return (*rest, *three)


def groups(asked: Asked, offer: Offer, tables: Tables, ration: Ration | None) -> list[Group]:
    """The boxes in their groups, each with where its figure comes from."""
    boxes = {f.name: f for f in asked.fields}
    assumed = {g.nutrient: g.figure for g in ration.gaps if g.offer == offer.id} if ration else {}
    out = []
    for name, words in GROUPS:
        made = tuple(
            _row(boxes[slug(w)], w, offer.feed, tables, assumed) for w in words if slug(w) in boxes
        )
        is_open = name == GROUPS[0][0] or any(
            r.box.errors or r.box.value != r.box.start for r in made
        )
        known = sum(nutrient_of(w) in offer.feed.figures for w in words)
        out.append(Group(name, made, is_open, known))
    return out


def _row(box: Field, word: str, feed: Feed, tables: Tables, assumed: Mapping[str, Figure]) -> Row:
    nutrient = nutrient_of(word)
    figure = feed.figures.get(nutrient)
    unit = tables.nutrient(nutrient).unit
    if figure is not None:
        return Row(box, unit, told.SHORT.get(figure.mark, figure.mark),
                   figure.mark in told.GUESSES, told.where_from(figure))  # fmt: skip
    if nutrient in assumed:
        what = assumed[nutrient]
        source = f"not on file; taken as {_value(what, unit)}: {told.where_from(what)}"
        return Row(box, unit, "assumed", True, source)
    return Row(box, unit, "not known", False, "not known; never taken as nought")


# ---------------------------------------------------------------- the page


def _batch_ration(
    request: Request, read: Read, batch: str
) -> tuple[Ration | None, tuple[str, ...]]:
    """The ration, or why it cannot be worked: the figures are shown either way."""
    try:
        return work.ration_of(pages.desk_of(request), read, batch), ()
    except RationError as fault:
        return None, tuple(str(p) for p in fault.problems) or (str(fault),)


def look(request: Request) -> Response:
    """The figures of one feed in boxes, and what the rations rest on."""
    desk = pages.desk_of(request)
    said = request.query_params
    base = desk.read()
    offer = chosen(base, said.get("feed", ""))
    feed_id = "" if offer is None else offer.id
    batch = work.batch_key(base, said.get("batch", ""))
    asked = work.asked(desk, lambda read: fields_of(read, feed_id, said), said)
    now, now_faults = _batch_ration(request, asked.read, batch)
    first, _ = _batch_ration(request, asked.base, batch) if asked.is_changed else (now, ())
    return pages.page(
        request,
        "figures.html",
        part="figures_part.html",
        status=asked.status,
        asked=asked,
        feed=feed_id,
        offer=next((o for o in asked.base.farm.offers if o.id == feed_id), None),
        batch=batch,
        batches=[(b.name, quote(b.name)) for b in base.farm.batches],
        query=urlencode({"feed": feed_id, "batch": batch}),
        ration=now,
        faults=now_faults,
        now=_in_one_line(now, first, is_changed=asked.is_changed),
        changes=_changes(asked, first, now) if asked.is_changed else [],
        rows=rows,
        first=first,
        **_trusted(first, asked.base, offer),
        groups=groups(asked, offer, base.tables, first) if offer else [],
        digest=base.tables.digest,
        farm=base.farm,
    )


def _trusted(ration: Ration | None, read: Read, offer: Offer | None) -> dict[str, object]:
    """What the ration rests on, the feeds on offer, and the guesses of the one shown."""
    from ration.jobs import figures as job

    behind = job.behind(ration, read.tables) if ration else ()
    names = [(nutrient_of(w), w) for _, words in GROUPS for w in words if w not in PARTS]
    others = [] if offer is None else _not_written(offer.feed, read.tables)
    return {
        "rests": told.rests_on(ration.batch.name, behind) if ration else [],
        "sources": explain.where_the_figures_come_from([ration]) if ration else [],
        "heads": ("Feed", *_heads(read.tables)),
        "offers": [_offer_row(o, ration, read.tables) for o in read.farm.offers],
        "own_feeds": [(o.id, o.name, quote(o.id)) for o in own(read)],
        "percent": told.out_words(job.OUT_SHARE),
        "guesses": told.guesses(offer.feed, names) if offer else "",
        "others": others,
        "shorts": [(told.SHORT[m], words) for m, words in explain.FROM_WORDS.items()],
    }


def _heads(tables: Tables) -> list[str]:
    return [f"{tables.nutrient(n).name}, {tables.nutrient(n).unit}" for n in _main()]


def _main() -> list[str]:
    return [nutrient_of(word) for word in MAIN]


def _cells(feed: Feed, tables: Tables) -> list[tuple[str, str]]:
    """Value and short word of each main figure; two blanks where it is not known."""
    out = []
    for nutrient in _main():
        figure = feed.figures.get(nutrient)
        if figure is None:
            out.append(("", "not known"))
            continue
        value = told.value_words(figure.value, tables.nutrient(nutrient).decimals)
        out.append((value, told.SHORT.get(figure.mark, figure.mark)))
    return out


def _offer_row(offer: Offer, ration: Ration | None, tables: Tables) -> dict[str, object]:
    is_used = ration is not None and any(f.id == offer.id and f.is_used for f in ration.feeds)
    return {
        "id": offer.id,
        "name": sentence(offer.name),
        "address": quote(offer.id),
        "is_used": is_used,
        "is_own": not offer.is_grazed,
        "cells": _cells(offer.feed, tables),
    }


def _not_written(feed: Feed, tables: Tables) -> list[str]:
    """Figures that a source prints and that are worked out anew here: looked at only."""
    known = {nutrient for nutrient, _ in FIGURES.values()} | set(DEGRADABILITY.values())
    return [
        f"{tables.nutrient(n).name}: {_value(f, tables.nutrient(n).unit)}, {told.where_from(f)}"
        for n, f in feed.figures.items()
        if n not in known
    ]


def _in_one_line(now: Ration | None, first: Ration | None, *, is_changed: bool) -> str:
    if now is None:
        return "No ration can be worked out with these figures."
    return feed.in_one_line(now, first if is_changed else None)


def _changes(asked: Asked, first: Ration | None, now: Ration | None) -> list[str]:
    """What moved, and why, in the words of the faces."""
    if now is None or first is None:
        return ["Nothing to put beside it: there is no ration by the farm file as it stands."]
    return [
        *changes.what_changed_in_feeds(
            work.rations_of(asked.base, first), work.rations_of(asked.read, now)
        ),
        *changes.what_changed(first, now),
    ]


def keep(request: Request) -> Response:
    """Write the figures into the farm file on the desk."""
    desk = pages.desk_of(request)
    form = pages.form_of(request)
    base = desk.read()
    offer = chosen(base, str(form.get("feed", "")))
    feed_id = "" if offer is None else offer.id
    work.kept(desk, lambda read: fields_of(read, feed_id, form), form)
    batch = work.batch_key(base, str(form.get("batch", "")))
    return pages.go(f"/figures?{urlencode({'feed': feed_id, 'batch': batch})}")


# ---------------------------------------------------------------- which one moves the cost


def if_out(request: Request) -> Response:
    """Every figure the ration rests on, the one that moves its cost most first."""
    from ration.jobs import figures as job

    desk = pages.desk_of(request)
    read = desk.read()
    batch = work.batch_key(read, request.query_params.get("batch", ""))

    def worked() -> IfOut:
        return job.costs_if_out(read.farm, read.tables, batch)

    found = desk.once(read, ("figures out", batch), worked, is_long=True)
    now = found.now_gbp_per_head_day
    felt = [] if now is None else [o for o in found.ones if told.is_felt(o, now)]
    quiet = [] if now is None else [o for o in found.ones if not told.is_felt(o, now)]
    return pages.page(
        request,
        "figures_out.html",
        part="figures_out_part.html",
        batch=batch,
        words=told.moves_most(found),
        heads=told.IF_OUT_HEADS,
        table=[] if now is None else [told.if_out_row(o, now) for o in felt],
        percent=told.out_words(found.out_share),
        cost="" if now is None else explain.pence(now, 2),
        quiet=[f"{o.behind.words} of {o.behind.feed}" for o in quiet],
    )


# ---------------------------------------------------------------- the table behind


def table(request: Request) -> Response:
    """The whole table, a group of it, or one feed of it with every source."""
    read = pages.desk_of(request).read()
    book = read.tables
    said = request.query_params
    if feed_id := said.get("feed", ""):
        if feed_id not in book.feeds:
            raise HTTPException(404)
        return _one_of_the_table(request, read, feed_id)
    kinds = sorted({f.group for f in book.feeds.values()})
    group = said.get("group", "")
    found = [f for f in book.feeds.values() if group in ("", f.group)]
    return pages.page(
        request,
        "figures_table.html",
        kinds=[(k, told.KINDS.get(k, k)) for k in kinds],
        group=group if group in kinds else "",
        heads=("Feed", *_heads(book)),
        feeds=[(f.name, quote(f.id), _cells(f, book)) for f in found or book.feeds.values()],
        shorts=[(told.SHORT[m], words) for m, words in explain.FROM_WORDS.items()],
    )


def _one_of_the_table(request: Request, read: Read, feed_id: str) -> Response:
    book = read.tables
    one = book.feeds[feed_id]
    known = [(n, one.figures[key]) for key, n in book.nutrients.items() if key in one.figures]
    here = [o for o in own(read) if o.feed.id == feed_id]
    return pages.page(
        request,
        "figures_table_feed.html",
        one=one,
        known=[(n.name, told.value_words(f.value), n.unit, told.where_from(f)) for n, f in known],
        missing=[n.name for key, n in book.nutrients.items() if key not in one.figures],
        others=book.disagreements.get(feed_id, ""),
        sources=[
            book.sources[k] for k in sorted({f.source for _, f in known}) if k in book.sources
        ],
        used_by=[(o.name, quote(o.id)) for o in here],
    )


ROUTES = [
    Route("/figures", look),
    Route("/figures/keep", keep, methods=["POST"]),
    Route("/figures/out", if_out),
    Route("/figures/table", table),
    *figures_sheet.ROUTES,
]
