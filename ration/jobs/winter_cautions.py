"""The cautions of a whole winter: each said once, with the days it holds for.

The rules and their words are those of `ration.cautions`, looked at for every batch in every
period; what only a winter can show is added here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from ration import card, cautions
from ration.cautions import LEVELS, NO_SOURCE, Caution
from ration.cautions.parts import HAIR, Look
from ration.units import day_words

if TYPE_CHECKING:
    from ration.farm import Offer
    from ration.tables import Tables
    from ration.winter.records import Fed, Period, Plan

SAFE_STEP_KG = 0.05  # a day and head; common practice, no source
LEAST_KG_DM = 0.02
BLEND_DAYS = card.BLEND_DAYS


def for_plan(
    plan: Plan, tables: Tables, *, offers: Sequence[Offer] | None = None
) -> tuple[Caution, ...]:
    """Every caution that any batch raises in any period, worst first, each once.

    Parameters
    ----------
    plan : Plan
    tables : Tables
    offers : sequence of Offer, optional
        What counts as on offer; None takes the farm's.
    """
    cautions.check_table(tables)
    rows = {row.caution: row for row in tables.cautions}
    on_offer = tuple(plan.farm.offers if offers is None else offers)
    found: list[cautions.Hit] = []
    when: dict[str, set[int]] = {}
    for period in plan.periods:
        fed = [f for f in plan.fed if f.period.index == period.index]
        at_trough = sum(f.batch.head for f in fed if f.assessment.concentrate_kg_fresh > 0)
        in_shed = sum(f.batch.head for f in fed if f.batch.housing == "shed")
        for f in fed:
            pens = plan.farm.winter.pens.get(f.batch.name)
            look = Look(
                batch=replace(f.batch, head=max(pens)) if pens else f.batch,
                told=f.assessment,
                farm=plan.farm,
                offers=on_offer,
                rows=rows,
                head_at_trough=at_trough,
                head_in_shed=in_shed,
            )
            hits = cautions.hits(look)
            found += hits
            for hit in hits:
                when.setdefault(hit.row.caution, set()).add(period.index)
    told = [
        _dated(c, plan.periods, when[c.id])
        for c in cautions.merged(found, [b.name for b in plan.farm.batches], tables)
    ]
    told += [*_step(plan), *_hay_changes(plan, tables)]
    return tuple(sorted(told, key=lambda c: LEVELS.index(c.level)))


def _dated(caution: Caution, periods: Sequence[Period], when: set[int]) -> Caution:
    """The caution with its days, where it does not hold all winter."""
    if len(when) == len(periods):
        return caution
    spans: list[list[int]] = []
    for i in sorted(when):
        if spans and spans[-1][1] == i - 1:
            spans[-1][1] = i
        else:
            spans.append([i, i])
    said = [
        f"{day_words(periods[a].start)} to {day_words(periods[b].end - timedelta(days=1))}"
        for a, b in spans
    ]
    return replace(caution, words=f"{caution.words} (Fed {', '.join(said)}.)")


def _step(plan: Plan) -> Iterable[Caution]:
    """Trough feed that may rise faster than the rumen follows."""
    kg = plan.farm.winter.most_step_kg
    is_fed = any(f.assessment.concentrate_kg_fresh > 0 for f in plan.fed)
    if is_fed and kg > SAFE_STEP_KG * (1 + HAIR):
        yield Caution(
            "winter-step",
            "warn",
            "Acidosis",
            f"Your file lets trough feed rise by {kg * 1000:.0f} g a head from one day to the "
            f"next. Over {SAFE_STEP_KG * 1000:.0f} g a day can bring acidosis.",
            NO_SOURCE,
            "practice",
        )


def _hay_changes(plan: Plan, tables: Tables) -> Iterable[Caution]:
    """Days on which one hay gives way to another that is much different."""
    names = {o.id: o for o in plan.offers}
    said: dict[str, None] = {}
    for batch in plan.farm.batches:
        fed = [f for f in plan.fed if f.batch.name == batch.name]
        for before, after in pairwise(fed):
            old, new = _forages(before, names), _forages(after, names)
            gone, come = [i for i in old if i not in new], [i for i in new if i not in old]
            for a in gone:
                for b in come:
                    if card.is_hay_changed_much(names[a], names[b], tables):
                        said[
                            f"{day_words(after.period.start)}, {names[a].name} to {names[b].name}"
                        ] = None
    if said:
        yield Caution(
            "winter-hay-change",
            "note",
            "Change of hay",
            f"One forage gives way to a different one on {'; '.join(said)}. Blend them over "
            f"{BLEND_DAYS} days: the feeding card of those days says how.",
            NO_SOURCE,
            "practice",
        )


def _forages(fed: Fed, offers: dict[str, Offer]) -> list[str]:
    return [
        i
        for i, kg in fed.kg_dm.items()
        if kg > LEAST_KG_DM and i in offers and offers[i].feed.group in ("hay", "silage")
    ]
