"""What do I feed? One batch: what goes in the trough and the rack, and what it costs."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from starlette.routing import Route

from ration import cautions, explain, units
from ration.faces import card_report, changes, report
from ration.farm.words import id_of
from ration.needs import REGISTRY
from ration.page import pages, rows, work
from ration.page.forms import Field, field
from ration.stack import lots as stacked
from ration.strict_yaml import tidy

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from ration.mix import Ration
    from ration.page.desk import Read
    from ration.page.work import Asked

NOT_YET = "to be entered"


def fields_of(read: Read, batch: str) -> tuple[Field, ...]:
    """The boxes: what is wanted of the batch, by which standard, and every price."""
    return (*wanted(read, batch), *by_standard(read), *prices(read))


def wanted(read: Read, batch: str) -> tuple[Field, ...]:
    """The weight wanted in spring, or a gain a day."""
    keys = ("batches", tidy(batch))
    end = units.in_words_day(read.farm.end)
    return (
        field(read.sheet, "target", (*keys, "target"), f"Weight wanted on {end}",
              hint="As you say it: 42 kg, 92 lb", may_be_empty=True),
        field(read.sheet, "gain", (*keys, "gain"), "or a gain a day",
              hint="Fill one of the two: 31 g", may_be_empty=True),
    )  # fmt: skip


def by_standard(read: Read) -> tuple[Field, ...]:
    """The standard and its margin."""
    own = f"{read.farm.margin:g}" if read.farm.own_margin is None else ""
    hint = f"Empty takes the standard's own, {own}" if own else "Empty takes the standard's own"
    return (
        field(read.sheet, "standard", ("standard",), "Needs by", value=read.farm.standard,
              start=read.farm.standard, options=tuple((n, n) for n in REGISTRY)),
        field(read.sheet, "margin", ("margin",), "Safety margin on energy and protein",
              hint=f"1.05 or 5 %. {hint}", may_be_empty=True),
    )  # fmt: skip


def prices(read: Read) -> tuple[Field, ...]:
    """What every feed costs, and what home feed would fetch."""
    found = []
    names = {o.id: o.name for o in read.farm.offers}
    for key, said in read.sheet.group(("feeds",)).items():
        if not isinstance(said, dict):
            continue
        feed_id = id_of(key)
        name = names.get(feed_id, read.sheet.written[("feeds", key)])
        for word, words in (("price", name), ("would fetch", f"{name}, would fetch")):
            if word in said:
                found.append(field(read.sheet, f"price-{feed_id}", ("feeds", key, word), words))
    return tuple(found)


def look(request: Request) -> Response:
    """The answer for one batch, with what the form says laid over the farm file."""
    desk = pages.desk_of(request)
    said = request.query_params
    batch = work.batch_key(desk.read(), said.get("batch", ""))
    asked = work.asked(desk, lambda read: fields_of(read, batch), said)
    return pages.page(
        request,
        "feed.html",
        part="feed_part.html",
        status=asked.status,
        **told(request, asked, batch, with_worth="worth" in said),
    )


def told(request: Request, asked: Asked, batch: str, *, with_worth: bool) -> dict[str, object]:
    """Everything the templates name."""
    desk = pages.desk_of(request)
    read = asked.read
    ration = work.ration_of(desk, read, batch, with_worth=with_worth)
    before = work.ration_of(desk, asked.base, batch) if asked.is_changed else None
    made = work.cards_of(desk, read, ration)
    return {
        "asked": asked,
        "batch": batch,
        "batches": [(b.name, quote(b.name)) for b in read.farm.batches],
        "ration": ration,
        "heading": report.batch_heading(ration),
        "words": sentences(ration, also_lb=read.farm.also_show_lb),
        "costs": costs(ration),
        "now": in_one_line(ration, before),
        "changes": changes.what_changed(before, ration) if before else [],
        "cards": [(card_report.heading(c), rows.meals(c), c) for c in made],
        "stack": stacked.estimated(read.farm),
        "rows": rows,
        "cautions": work.cautions_of(desk, read, ration),
        "standing": cautions.STANDING,
        "level_words": report.LEVEL_WORDS,
        "prices_can_move": explain.how_far_prices_can_move(ration) if ration.is_found else "",
        "with_worth": with_worth,
        "digest": read.tables.digest,
        "farm": read.farm,
        "wanted": [f for f in asked.fields if f.name in ("target", "gain")],
        "by_standard": [f for f in asked.fields if f.name in ("standard", "margin")],
        "prices": [f for f in asked.fields if f.name.startswith("price-")],
        "why": why(ration),
    }


def sentences(ration: Ration, *, also_lb: bool) -> list[str]:
    """The answer, or why there is none."""
    if not ration.is_found:
        return explain.why_no_mix(ration)
    return [explain.what_to_feed(ration, also_lb=also_lb)]


def why(ration: Ration) -> list[str]:
    """What sets the cost and what to expect."""
    if ration.assessment is None:
        return []
    weather = explain.out_of_doors(ration.assessment.batch)
    return [
        explain.what_it_costs(ration),
        *explain.what_sets_the_cost(ration),
        explain.what_to_expect(ration.assessment),
        *([weather] if weather else []),
    ]


def costs(ration: Ration) -> list[tuple[str, str]]:
    """A head a day, the batch a day, the winter."""
    if not ration.is_found:
        return []
    day = ration.cost_gbp_per_head_day
    return [
        ("a head a day", explain.pence(day)),
        (f"a day for all {ration.batch.head}", units.money(day * ration.batch.head)),
        (f"for the {ration.days} days", units.money(ration.cost_gbp_for_winter)),
    ]


def in_one_line(ration: Ration, before: Ration | None) -> str:
    """The cost beside the form, and what it was."""

    def cost(of: Ration) -> str:
        return explain.pence(of.cost_gbp_per_head_day, 2) if of.is_found else "no mix"

    line = f"{cost(ration)} a head a day" if ration.is_found else "No mix of these feeds will do"
    return f"{line}; by the farm file {cost(before)}." if before else f"{line}."


def keep(request: Request) -> Response:
    """Write what the form says into the farm file on the desk."""
    desk = pages.desk_of(request)
    form = pages.form_of(request)
    batch = work.batch_key(desk.read(), str(form.get("batch", "")))
    work.kept(desk, lambda read: fields_of(read, batch), form)
    return pages.go(f"/?batch={quote(batch)}")


ROUTES = [
    Route("/", look),
    Route("/feed/keep", keep, methods=["POST"]),
]
