"""The feed of a way of wintering by the cheapest safe mix, period by period.

Each batch goes to the place of the way with its waste, its days and its own curve of grazing; in
each period of the winter it is fed at its weight on the line, for the cold of those days, with the
grass that those days give. Where the grass alone is enough nothing is fed. The line of weights is
the same on every way, so that the ways are compared at one growth.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from ration import grazing, mix, needs
from ration.animals import Batch
from ration.errors import ModelError, Problem, RationError
from ration.farm import Farm, Offer
from ration.mix import Ration
from ration.plain_text import joined
from ration.tables import Tables
from ration.winter import calendar
from ration.winter.records import Period
from ration.wintering.records import Way


@dataclass(frozen=True)
class ByMix:
    """The feed of one way by the cheapest safe mix.

    Attributes
    ----------
    way : str
    gbp_per_head : float or None
        For the days of the way; None when it was not worked. [GBP/head]
    by_hand_gbp_per_head : float or None
        What the feeds put out by hand cost; None when there are none. [GBP/head]
    words : tuple of str
        What was counted and what was not.
    why_not : str
        Why it was not worked; "" when it was.
    rations : tuple of Ration
    """

    way: str
    gbp_per_head: float | None = None
    by_hand_gbp_per_head: float | None = None
    words: tuple[str, ...] = ()
    why_not: str = ""
    rations: tuple[Ration, ...] = ()


def by_mix(way: Way, farm: Farm, tables: Tables) -> ByMix | None:
    """The mix of one way, or why there is none; None where it has no place.

    Raises
    ------
    RationError
        The way is fed by the mix, and it cannot be worked.
    """
    if way.place == "away":
        return None
    by_hand = sum(
        f.kg_fresh_per_head_day * f.days * (f.price_gbp_per_t_fresh or 0.0) / 1000
        for f in way.feeds
    )
    told = ByMix(way.name, by_hand_gbp_per_head=by_hand if way.feeds else None)
    moved = _moved(way, farm)
    if way.place == "hill" and not _grass(moved) and not way.is_by_mix:
        return replace(
            told,
            why_not='what they graze there is not said: add "grazing:" to this way',
        )
    try:
        return _worked(told, way, moved, tables)
    except RationError as error:
        if way.is_by_mix:
            raise
        return replace(told, why_not=str(error.problems[0]).rstrip("."))


def _worked(told: ByMix, way: Way, moved: Farm, tables: Tables) -> ByMix:
    """The cheapest mix for every batch and period on this way, and what it costs a head."""
    ask = mix.asker(moved, tables)
    periods = calendar.periods(moved.start, moved.end, moved.winter.period_days)
    cost, found_share, heads = 0.0, 0.0, sum(b.head for b in moved.batches)
    rations: list[Ration] = []
    missing: list[str] = []
    for batch in moved.batches:
        for period in periods:
            then = calendar.batch_in(moved, batch, period)
            share, ration = _fed(moved, then, period, ask)
            found_share += share * period.days / way.days * batch.head / heads
            if ration is None:
                continue
            if not ration.is_found:
                missing.append(f"{batch.name} from {period.start:%-d %B}")
                continue
            rations.append(ration)
            cost += ration.cost_gbp_per_head_day * period.days * batch.head / heads
    if missing:
        why = f"no mix of the feeds on offer will do for {joined(missing[:3])}"
        more = f" and {len(missing) - 3} more" if len(missing) > 3 else ""
        raise ModelError(
            Problem(
                f"way {way.name}", why + more, "", "Put in another feed, or write the feed by hand"
            )
        )
    return replace(
        told,
        gbp_per_head=cost,
        rations=tuple(rations),
        words=_counted(way, moved, found_share, len(periods)),
    )


def _fed(moved: Farm, batch: Batch, period: Period, ask: mix.Ask) -> tuple[float, Ration | None]:
    """The share of its energy that a batch grazes in a period, and the ration that fills the rest.

    None when the grass alone is enough.
    """
    grass = _grass(moved)
    if grass is None:
        return 0.0, ask(batch, period.start, period.end)
    need = needs.of_farm(moved, batch, period.start, period.end)
    kg = grazing.kg_fresh_per_head_day(moved, grass, batch, period.start, period.end)
    me = kg * grass.feed["dm_g_per_kg_fresh"] / 1000 * grass.feed["me_mj_per_kg_dm"]
    q = grass.feed["me_mj_per_kg_dm"] / need.gross_energy(grass.feed.get("ge_mj_per_kg_dm"))
    asked = float(need.me_need(np.array([q]))[0])
    if me >= asked:
        return 1.0, None
    ration = ask(batch, period.start, period.end)
    if ration.assessment is None:
        return 0.0, ration
    return me / ration.assessment.me_mj_per_day, ration


def _grass(farm: Farm) -> Offer | None:
    return next((o for o in farm.offers if o.is_grazed), None)


def _moved(way: Way, farm: Farm) -> Farm:
    """The farm with every batch on this way, for its days, with its waste and its grass."""
    outside = farm.outdoors
    if outside is not None and way.grazing is not None:
        outside = replace(outside, grazing=way.grazing)
    is_grazed = outside is not None and bool(outside.grazing) and way.place != "shed"
    return replace(
        farm,
        batches=tuple(replace(b, housing=way.place) for b in farm.batches),
        days=way.days,
        end=farm.start + timedelta(days=way.days),
        outdoors=outside,
        offers=tuple(_wasted(o, way) for o in farm.offers if is_grazed or not o.is_grazed),
    )


def _wasted(offer: Offer, way: Way) -> Offer:
    """A feed with this way's own waste, when it has one for its kind."""
    if offer.is_grazed:
        return offer
    group = offer.feed.group
    kind = {"root": "roots", "green": "roots", "mineral": "minerals"}.get(group, group)
    if kind not in ("hay", "silage", "straw", "roots", "minerals"):
        kind = "trough_feed"
    return replace(offer, waste_share=way.waste[kind]) if kind in way.waste else offer


def _counted(way: Way, moved: Farm, grazed_share: float, periods: int) -> tuple[str, ...]:
    """What the mix of this way counts."""
    place = {"shed": "housed", "in-bye": "on the in-bye land", "hill": "on the hill"}[way.place]
    said = [f"needs of sheep {place}, for {way.days} days in {periods} periods"]
    if way.place != "shed":
        is_cold = moved.outdoors is not None and moved.outdoors.has_weather
        said.append("cold counted" if is_cold else "no cold counted")
        said.append(
            f"they graze {100 * grazed_share:.0f} % of their energy, by "
            + ("this way's curve" if way.grazing is not None else "the curve of outdoors")
            if _grass(moved) is not None
            else "no grazing counted"
        )
    if way.waste:
        said.append("waste of its own")
    return tuple(said)
