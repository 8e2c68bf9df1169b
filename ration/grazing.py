"""Grass that the sheep find, as a feed of the mix that costs nothing and is eaten come what may.

The dated curve of `outdoors:` says how much energy a head grazes a day; turned into dry matter of
a grass of the table it brings its protein and minerals too, and fills the sheep. Each batch in
each span of days must take just that much of it, no more and no less.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from ration import outdoors

if TYPE_CHECKING:
    from ration.animals import Batch
    from ration.farm import Farm, Offer


def kg_fresh_per_head_day(farm: Farm, grass: Offer, batch: Batch, start: date, end: date) -> float:
    """Grass a head eats a day, the mean from `start` to before `end`; none in the shed. [kg]"""
    if farm.outdoors is None or batch.housing == "shed":
        return 0.0
    mj = outdoors.grazing_me_mj_per_day(farm.outdoors, start, end)
    return mj / grass.feed["me_mj_per_kg_dm"] / (grass.feed["dm_g_per_kg_fresh"] / 1000)


def at_hand(
    farm: Farm, offers: Sequence[Offer], batch: Batch, start: date, end: date
) -> tuple[Offer, ...]:
    """The offers as `laid` has them, without grass where the days give a batch none."""
    return tuple(
        o
        for o in laid(farm, offers, batch, start, end)
        if not o.is_grazed or o.most_kg_fresh_per_head_day
    )


def laid(
    farm: Farm, offers: Sequence[Offer], batch: Batch, start: date, end: date
) -> tuple[Offer, ...]:
    """The offers with what is grazed held to what the days give a batch."""
    return tuple(
        replace(o, least_kg_fresh_per_head_day=kg, most_kg_fresh_per_head_day=kg)
        if o.is_grazed
        else o
        for o in offers
        for kg in (kg_fresh_per_head_day(farm, o, batch, start, end) if o.is_grazed else 0.0,)
    )


def grown(
    farm: Farm, offers: Sequence[Offer], spans: Sequence[tuple[Batch, date, date]]
) -> tuple[Offer, ...]:
    """The offers with as much grass in stock as batches eat over spans of days."""
    return tuple(
        replace(
            o,
            stock_t_fresh=1.000001
            * sum(
                kg_fresh_per_head_day(farm, o, b, start, end) * b.head * (end - start).days / 1000
                for b, start, end in spans
            )
            + 1e-9,
        )
        if o.is_grazed
        else o
        for o in offers
    )
