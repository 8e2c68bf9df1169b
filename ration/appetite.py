"""Hay always in front of the sheep: what they clear of it is a need of its own.

What is eaten of a hay to appetite is its appetite less what trough feed pushes out, a straight row
while one hay is taken as the one in the rack. Each hay on offer is taken in turn and the cheapest
answer kept, so the choice between hays is exact too; of another hay no more is given than the user
says must be. The expected band of dry matter and the
ceiling on gain, where they are the program's and not the user's, give way: the sheep decide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ration.errors import InputError, OutOfRange, Problem
from ration.limits import YOURS, Bounds
from ration.model import MixModel, Row
from ration.standards import afrc1993
from ration.standards.intake import appetite_row, substitution_share

if TYPE_CHECKING:
    from ration.animals import Batch
    from ration.farm import Offer

ROW = "hay to appetite"
_LEAST_KG_DM = 0.05
_MOST_SHARE_OF_WEIGHT = 0.06  # of any dry matter in a day; common practice, no source


@dataclass(frozen=True)
class InTheRack:
    """One hay taken as the one fed to appetite.

    Attributes
    ----------
    offer_id, name : str
    appetite_kg_dm_per_day : float
        Cleared of it alone. [kg DM]
    substitution : float
        Hay left for each kg of trough feed, dry matter for dry matter. [-]
    is_own : bool
        True when the appetite was written by the user.
    """

    offer_id: str
    name: str
    appetite_kg_dm_per_day: float
    substitution: float
    is_own: bool


def ways(
    model: MixModel,
    offers: Sequence[Offer],
    bounds: Bounds,
    to_appetite: bool | float,
) -> tuple[tuple[InTheRack, MixModel], ...]:
    """The model once for each hay that may stand in the rack.

    The row of each is x_hay + s x trough feed + sum of x_f A_hay / A_f = A_hay, A the appetite for
    each forage alone, s the substitution of this hay.

    Parameters
    ----------
    model : MixModel
    offers : sequence of Offer
        Its columns.
    bounds : Bounds
        Its limits, to see which are the user's own.
    to_appetite : bool or float
        True for the appetite by AFRC (1993)'s line for long forage (from memory); a number is what
        they clear of hay alone. [kg fresh/day]

    Raises
    ------
    InputError
        There is no hay on offer, or they would clear more of it than a sheep can hold.
    """
    batch = model.needs.batch
    hays = [j for j, o in enumerate(offers) if o.feed.group == "hay" and model.col_hi[j] > 0]
    if not hays:
        raise InputError(
            Problem(
                batch.name,
                "hay to appetite is asked for and there is no hay to feed",
                "a hay on offer, with some of it left for this batch",
                'Take "hay to appetite" out, or enter a hay',
            )
        )
    is_forage = np.array([o.feed.is_forage for o in offers])
    is_trough = np.array([o.feed.is_concentrate for o in offers])
    own = not isinstance(to_appetite, bool)
    by_line = np.array([_alone(model, j, batch.weight_kg) for j in range(len(offers))])
    found = []
    for j in hays:
        appetite = by_line
        if own:  # sheep that clear more of one forage than the line says clear more of all
            eaten = to_appetite * offers[j].feed["dm_g_per_kg_fresh"] / 1000
            _refuse_absurd(eaten, offers[j].name, batch)
            appetite = by_line * (eaten / by_line[j])
        swaps = substitution_share(float(np.clip(model.me[j], 3.0, 15.0)))
        try:
            coefficients, total = appetite_row(appetite, swaps, is_forage, is_trough, j)
        except OutOfRange as error:
            raise error.at(batch.name) from None
        rack = InTheRack(offers[j].id, offers[j].name, total, swaps, own)
        way = _with_row(model, Row(ROW, coefficients, total, total), hays, j, bounds)
        if offers[j].stock_t_fresh is None and offers[j].most_kg_fresh_per_head_day is None:
            way = _let_out(way, j, total)
        found.append((rack, way))
    return tuple(found)


def _refuse_absurd(kg_dm: float, hay: str, batch: Batch) -> None:
    most = _MOST_SHARE_OF_WEIGHT * batch.weight_kg
    if not 0 < kg_dm <= most:
        raise OutOfRange(
            Problem(
                batch.name,
                f"hay to appetite: {kg_dm:.2f} kg of dry matter of {hay} a head a day",
                f"up to {most:.2f} kg, {_MOST_SHARE_OF_WEIGHT:.0%} of live weight, is believable",
                'Write what one of them clears in a day, or "yes"',
            )
        )


def _let_out(model: MixModel, feed: int, kg_dm: float) -> MixModel:
    """The band of dry matter that capped a hay gives way to its appetite; a stock does not."""
    col_hi = model.col_hi.copy()
    col_hi[feed] = max(col_hi[feed], kg_dm)
    return replace(model, col_hi=col_hi)


def _alone(model: MixModel, feed: int, weight_kg: float) -> float:
    """Appetite for a feed alone, by the line for long forage. [kg DM/day]"""
    q = float(np.clip(model.me[feed] / model.ge[feed], 0.15, 0.85))
    return max(afrc1993.coarse_intake_kg_dm_per_day(weight_kg, q), _LEAST_KG_DM)


def _with_row(
    model: MixModel, row: Row, hays: Sequence[int], kept: int, bounds: Bounds
) -> MixModel:
    col_lo, col_hi = model.col_lo.copy(), model.col_hi.copy()
    for j in hays:
        if j != kept:  # what the user wants given of another hay is still given
            col_hi[j] = min(col_lo[j], col_hi[j])
    rows = [
        replace(
            r,
            lo=r.lo if bounds.origin.get("intake_kg_dm_least") == YOURS else 0.0,
            hi=r.hi if bounds.origin.get("intake_kg_dm_most") == YOURS else np.inf,
        )
        if r.id == "intake"
        else r
        for r in model.rows
    ]
    own_ceiling = bounds.origin.get("ceiling_gain_g_per_day") == YOURS
    return replace(
        model,
        col_lo=col_lo,
        col_hi=col_hi,
        rows=(*rows, row),
        ceiling_gain_g_per_day=model.ceiling_gain_g_per_day if own_ceiling else None,
    )
