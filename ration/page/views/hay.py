"""What if the hay is not what I thought? Its figures moved, the first answer beside."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING
from urllib.parse import quote

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.routing import Route

from ration import cautions, explain
from ration.faces import changes, report
from ration.farm.words import id_of
from ration.page import pages, rows, work
from ration.page.forms import Field
from ration.page.views import feed

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.requests import Request
    from starlette.responses import Response

    from ration.farm import Offer
    from ration.jobs.hay import HayCurve
    from ration.page.desk import Read
    from ration.page.work import Asked

POINTS = 13
HALVINGS = 3


@dataclass(frozen=True)
class Moved:
    """A figure that can be moved: its box, nutrient, factor to the unit shown, how written."""

    name: str
    word: str
    nutrient: str
    factor: float
    unit: str
    step: float
    written: str


FIGURES = (
    Moved("protein", "protein", "cp_g_per_kg_dm", 0.1, "% of dry matter", 0.1, "{} %"),
    Moved("energy", "energy", "me_mj_per_kg_dm", 1.0, "MJ/kg dry matter", 0.1, "{} MJ/kg DM"),
    Moved("dry-matter", "dry matter", "dm_g_per_kg_fresh", 0.1, "% of fresh", 0.5, "{} %"),
)


def _in_unit(text: str, written: str) -> str:
    """A bare number with the unit of its box; anything else as typed, for the reader to judge."""
    try:
        float(text)
    except ValueError:
        return text
    return written.format(text)


def forages(read: Read) -> tuple[Offer, ...]:
    """Forage at home, that of which there is some for these sheep first."""
    home = [o for o in read.farm.offers if o.is_home and o.feed.is_forage and not o.is_grazed]
    return tuple(sorted(home, key=lambda o: not (o.available_t_fresh or 0.0) > 0))


def forage(read: Read, said: str) -> Offer | None:
    """The forage asked for; the first where none such is there; None where there is none."""
    found = forages(read)
    return next((o for o in found if o.id == said), found[0] if found else None)


def fields_of(read: Read, hay: str) -> tuple[Field, ...]:
    """Protein, energy, dry matter and price of one forage."""
    offer = next((o for o in read.farm.offers if o.id == hay), None)
    key = next((k for k in read.sheet.group(("feeds",)) if id_of(k) == hay), None)
    if offer is None or key is None:
        return ()
    found = []
    for moved in FIGURES:
        figure = offer.feed.figures.get(moved.nutrient)
        least, most = read.tables.range_of(moved.nutrient, offer.feed.group)
        now = "" if figure is None else f"{figure.value * moved.factor:.4g}"
        hint = "not known" if figure is None else f"in the file {now}: {figure.origin}"
        found.append(
            Field(
                moved.name,
                ("feeds", key, moved.word),
                moved.word.capitalize(),
                now,
                now,
                hint,
                moved.unit,
                least=round(least * moved.factor, 3),
                most=round(most * moved.factor, 3),
                step=moved.step,
                may_be_empty=figure is None,
                to_file=partial(_in_unit, written=moved.written),
            )
        )
    price = f"{offer.price_gbp_per_t_fresh:.6g}"
    found.append(
        Field(
            "price",
            ("feeds", key, "would fetch"),
            "What it would fetch",
            price,
            price,
            f"in the file {offer.price_words}",
            "£ a tonne as it lies",
            least=0,
            most=max(200.0, round(2 * offer.price_gbp_per_t_fresh)),
            step=5,
            to_file=partial(_in_unit, written="{} /t"),
        )
    )
    return tuple(found)


def _asked(request: Request, said: Mapping[str, object]) -> tuple[Asked, str, str]:
    """The form laid over the file; the forage and the batch it is about."""
    desk = pages.desk_of(request)
    base = desk.read()
    offer = forage(base, str(said.get("hay", "")))
    hay = "" if offer is None else offer.id
    batch = work.batch_key(base, str(said.get("batch", "")))
    return work.asked(desk, lambda read: fields_of(read, hay), said), hay, batch


def look(request: Request) -> Response:
    """The answer now beside the first one."""
    desk = pages.desk_of(request)
    asked, hay, batch = _asked(request, request.query_params)
    read = asked.read
    now = work.ration_of(desk, read, batch)
    first = work.ration_of(desk, asked.base, batch)
    moved = [
        *changes.what_changed_in_feeds(
            work.rations_of(asked.base, first), work.rations_of(read, now)
        ),
        *changes.what_changed(first, now),
    ]
    return pages.page(
        request,
        "hay.html",
        part="hay_part.html",
        status=asked.status,
        asked=asked,
        hay=hay,
        batch=batch,
        batches=[(b.name, quote(b.name)) for b in read.farm.batches],
        hays=[(o.id, o.name, quote(o.id)) for o in forages(asked.base)],
        name=next((o.name for o in asked.base.farm.offers if o.id == hay), ""),
        figures=FIGURES,
        ration=now,
        first=first,
        is_changed=asked.is_changed,
        now=feed.in_one_line(now, first if asked.is_changed else None),
        words=feed.sentences(now, also_lb=read.farm.also_show_lb),
        first_words=feed.sentences(first, also_lb=read.farm.also_show_lb),
        changes=moved if asked.is_changed else [],
        sets=explain.what_sets_the_cost(now),
        rows=rows,
        cautions=work.cautions_of(desk, read, now),
        standing=cautions.STANDING,
        level_words=report.LEVEL_WORDS,
        digest=read.tables.digest,
        farm=read.farm,
    )


# ---------------------------------------------------------------- where the mix changes


def _curve(request: Request) -> tuple[HayCurve, Moved, str, str]:
    """What the batch costs over the values of one figure of the forage."""
    from ration.jobs import hay as hay_job

    said = request.query_params
    asked, hay, batch = _asked(request, said)
    moved = next((m for m in FIGURES if m.name == said.get("figure", FIGURES[0].name)), None)
    if moved is None or not hay:
        raise HTTPException(404)
    desk, read = pages.desk_of(request), asked.read
    offer = next(o for o in read.farm.offers if o.id == hay)
    least, most = read.tables.range_of(moved.nutrient, offer.feed.group)
    now = offer.feed.get(moved.nutrient)
    low, high = (least, most) if now is None else (max(least, now * 0.7), min(most, now * 1.3))
    steps = [low + (high - low) * i / (POINTS - 1) for i in range(POINTS)]
    curve = desk.once(
        read,
        ("hay curve", batch, hay, moved.nutrient),
        lambda: hay_job.hay_curve(
            read.farm, read.tables, batch, hay, moved.nutrient, steps, halvings=HALVINGS
        ),
        is_long=True,
    )
    return curve, moved, hay, batch


def curve(request: Request) -> Response:
    """At what figure other feeds make the mix."""
    from ration.plots import curves as plots

    found, moved, hay, batch = _curve(request)
    _, unit, factor = plots.SAID[moved.nutrient]
    plot = plots.cost_against_hay(found)
    return pages.page(
        request,
        "hay_curve.html",
        part="hay_curve_part.html",
        hay=hay,
        batch=batch,
        name=found.name,
        plot=plot,
        heads=plot.heads[:3],
        points=[(a + (f" ({now})" if now else ""), b, c) for a, b, c, now in plot.rows],
        svg=Markup(plot.svg),
        turns=[plots.turn_words(t, found, unit, factor) for t in found.turns],
    )


def keep(request: Request) -> Response:
    """Write the figures into the farm file on the desk."""
    desk = pages.desk_of(request)
    form = pages.form_of(request)
    base = desk.read()
    offer = forage(base, str(form.get("hay", "")))
    hay = "" if offer is None else offer.id
    work.kept(desk, lambda read: fields_of(read, hay), form)
    batch = work.batch_key(base, str(form.get("batch", "")))
    return pages.go(f"/hay?hay={quote(hay)}&batch={quote(batch)}")


ROUTES = [
    Route("/hay", look),
    Route("/hay/curve", curve),
    Route("/hay/keep", keep, methods=["POST"]),
]
