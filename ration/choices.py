"""The feeds on offer to one batch, made ready for the optimiser.

Gaps in a feed's figures stop the work with a line that says what is missing and what could be
assumed; they are filled only where the farm file allows it. Costs are per kg of dry matter eaten,
waste and losses paid.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ration import assess
from ration.errors import MissingValue, Problem
from ration.feeds import Feed, Figure
from ration.limits import Bounds
from ration.model import MixModel, Row, ratio_row, share_row
from ration.needs import Array, Chemistry, Standard
from ration.standards import afrc1993

if TYPE_CHECKING:
    from ration.farm import Offer
    from ration.tables import Tables

ALWAYS = (
    "dm_g_per_kg_fresh",
    "me_mj_per_kg_dm",
    "cp_g_per_kg_dm",
    "ca_g_per_kg_dm",
    "p_g_per_kg_dm",
)
FOR_PROTEIN = ("n_a_share", "n_b_share", "n_c_per_h", "adin_g_n_per_kg_dm")
WHY = {
    "dm_g_per_kg_fresh": "dry matter",
    "me_mj_per_kg_dm": "energy",
    "cp_g_per_kg_dm": "protein",
    "ca_g_per_kg_dm": "calcium",
    "p_g_per_kg_dm": "phosphorus",
    "n_a_share": "degradability a",
    "n_b_share": "degradability b",
    "n_c_per_h": "degradability c",
    "adin_g_n_per_kg_dm": "heat-bound nitrogen (ADIN)",
    "oil_g_per_kg_dm": "oil",
}


def wanted(feed: Feed) -> tuple[str, ...]:
    """Nutrients a mix must know of a feed: protein chemistry only where there is protein."""
    more = FOR_PROTEIN if feed.get("cp_g_per_kg_dm") != 0 else ()
    oil = ("oil_g_per_kg_dm",) if feed.get("me_mj_per_kg_dm") != 0 else ()
    return (*ALWAYS, *more, *oil)


@dataclass(frozen=True)
class Gap:
    """A figure that was missing and what it was taken as."""

    offer: str
    nutrient: str
    figure: Figure


def complete(
    offers: Sequence[Offer], tables: Tables, assume: Sequence[str]
) -> tuple[tuple[Offer, ...], tuple[Gap, ...]]:
    """The offers with their gaps filled where the farm allows it.

    Parameters
    ----------
    offers : sequence of Offer
    tables : Tables
        For the assumptions.
    assume : sequence of str
        "all", or ids of offers or feeds whose gaps may be filled.

    Returns
    -------
    tuple
        Offers, and every gap that was filled.

    Raises
    ------
    MissingValue
        A gap that may not be filled, or that has no assumption; all of them, one line each.
    """
    from dataclasses import replace

    from ration.tables import assumed

    done, gaps, faults = [], [], []
    for offer in offers:
        allowed = "all" in assume or offer.id in assume or offer.feed.id in assume
        figures: dict[str, Figure] = {}
        missing: list[str] = []
        for nutrient in wanted(offer.feed):
            if offer.feed.get(nutrient) is not None:
                continue
            guess = assumed(offer.feed, nutrient, tables)
            if guess is None or not allowed:
                could = (
                    "" if guess is None else f" (could be taken as {guess.value:g}, {guess.mark})"
                )
                missing.append(f"{WHY[nutrient]}{could}")
                continue
            figures[nutrient] = guess
            gaps.append(Gap(offer.id, nutrient, guess))
        if missing:
            faults.append(
                Problem(
                    f"{offer.place}, feeds > {offer.id}",
                    f"{offer.name} has no figure for {', '.join(missing)}",
                    "missing is never taken as zero",
                    f'Enter them, or allow the assumptions with "assume: [{offer.id}]"',
                )
            )
        done.append(replace(offer, feed=offer.feed.with_figures(figures)))
    if faults:
        raise MissingValue(*faults)
    return tuple(done), tuple(gaps)


def kg_bought_per_kg_dm(offer: Offer) -> float:
    """Fresh feed bought or taken from the stack for each kg of DM eaten. [kg/kg DM]"""
    dm = offer.feed["dm_g_per_kg_fresh"] / 1000
    return 1 / (dm * (1 - offer.waste_share) * (1 - offer.storage_loss_share))


def cost_gbp_per_kg_dm(offer: Offer) -> float:
    """Money for each kg of DM eaten. [GBP/kg DM]"""
    return offer.price_gbp_per_t_fresh / 1000 * kg_bought_per_kg_dm(offer)


def build(
    needs: Standard,
    offers: Sequence[Offer],
    bounds: Bounds,
    stock_kg_dm_per_head_day: Mapping[str, float],
) -> MixModel:
    """The model of one batch.

    Parameters
    ----------
    needs : Standard
        The batch and its standard.
    offers : sequence of Offer
        Feeds with every figure in `wanted`.
    bounds : Bounds
        Limits of the batch.
    stock_kg_dm_per_head_day : mapping
        Most DM a head a day that the stock of a feed allows; feeds not named have no such limit.
    """
    dm = np.array([o.feed["dm_g_per_kg_fresh"] / 1000 for o in offers])
    eaten_share = dm * np.array([1 - o.waste_share for o in offers])
    fill = bounds["intake_kg_dm_most"] or 0.04 * needs.batch.weight_kg
    col_lo = np.array([o.least_kg_fresh_per_head_day for o in offers]) * eaten_share
    col_hi = np.array(
        [
            min(
                fill,
                stock_kg_dm_per_head_day.get(o.id, np.inf),
                np.inf
                if o.most_kg_fresh_per_head_day is None
                else o.most_kg_fresh_per_head_day * eaten_share[j],
            )
            for j, o in enumerate(offers)
        ]
    )

    def column(nutrient: str, default: float = 0.0) -> Array:
        return np.array([default if (v := o.feed.get(nutrient)) is None else v for o in offers])

    cp = column("cp_g_per_kg_dm")
    fme = np.array(
        [
            afrc1993.fermentable_me_mj_per_kg_dm(
                o.feed["me_mj_per_kg_dm"],
                o.feed.get("oil_g_per_kg_dm") or 0.0,
                assess.acids_share_of_me(o.feed),
            )
            for o in offers
        ]
    )
    chemistry = Chemistry(
        cp,
        column("n_a_share"),
        column("n_b_share"),
        column("n_c_per_h", 0.01),
        column("adin_g_n_per_kg_dm"),
        fme,
        column("me_mj_per_kg_dm"),
    )
    return MixModel(
        names=tuple(o.id for o in offers),
        cost=np.array([cost_gbp_per_kg_dm(o) for o in offers]),
        col_lo=col_lo,
        col_hi=np.maximum(col_hi, 0.0),
        me=column("me_mj_per_kg_dm"),
        ge=np.array([assess.gross_energy_mj_per_kg_dm(o.feed, needs) for o in offers]),
        chemistry=chemistry,
        rows=_rows(needs, offers, bounds, eaten_share),
        needs=needs,
        ceiling_gain_g_per_day=bounds["ceiling_gain_g_per_day"],
    )


def _rows(
    needs: Standard, offers: Sequence[Offer], bounds: Bounds, eaten_share: Array
) -> tuple[Row, ...]:
    inf = np.inf
    n = len(offers)
    one = np.ones(n)

    def known(nutrient: str) -> Array:
        return np.array([o.feed.get(nutrient) or 0.0 for o in offers])

    ca, p = known("ca_g_per_kg_dm"), known("p_g_per_kg_dm")
    forage = np.array([float(o.feed.is_forage) for o in offers])
    trough = np.array([float(o.feed.is_concentrate) for o in offers])
    ca0, ca1 = needs.ca_line()
    p0, p1 = needs.p_line()
    rows = [
        Row("calcium", ca - ca1, ca0, inf),
        Row("phosphorus", p - p1, p0, inf),
        Row(
            "intake",
            one,
            bounds["intake_kg_dm_least"] or 0.0,
            bounds["intake_kg_dm_most"] or inf,
        ),
    ]
    if (ratio := bounds["ca_to_p_least"]) is not None:
        rows.append(ratio_row("ca_to_p_least", ca, p, ratio, least=True))
    if (ratio := bounds["ca_to_p_most"]) is not None:
        rows.append(ratio_row("ca_to_p_most", ca, p, ratio, least=False))
    if (share := bounds["forage_share_of_dm_least"]) is not None:
        rows.append(share_row("forage_share_of_dm_least", forage, share, least=True))
    if (share := bounds["concentrate_share_of_dm_most"]) is not None:
        rows.append(share_row("concentrate_share_of_dm_most", trough, share, least=False))
    if (kg := bounds["concentrate_kg_fresh_most"]) is not None:
        rows.append(Row("concentrate_kg_fresh_most", trough / eaten_share, -inf, kg))
    if (share := bounds["starch_and_sugar_share_of_dm_most"]) is not None:
        sweet = (known("starch_g_per_kg_dm") + known("sugar_g_per_kg_dm")) / 1000
        rows.append(share_row("starch_and_sugar_share_of_dm_most", sweet, share, least=False))
    if (share := bounds["oil_share_of_dm_most"]) is not None:
        rows.append(
            share_row("oil_share_of_dm_most", known("oil_g_per_kg_dm") / 1000, share, least=False)
        )
    if (most := bounds["copper_mg_per_kg_dm_most"]) is not None:
        # a feed of unknown copper is taken to be at the ceiling: it lends no room to others
        copper = np.array(
            [most if (v := o.feed.get("cu_mg_per_kg_dm")) is None else v for o in offers]
        )
        rows.append(share_row("copper_mg_per_kg_dm_most", copper, most, least=False))
    for words, ids, share, kg in bounds.family_caps:
        members = np.array([float(o.id in ids) for o in offers])
        if share is not None:
            rows.append(share_row(f"most {words}", members, share, least=False))
        if kg is not None:
            rows.append(Row(f"most {words} kg", members / eaten_share, -inf, kg))
    for j, offer in enumerate(offers):
        own = np.zeros(n)
        own[j] = 1.0
        if offer.most_share_of_dm is not None:
            rows.append(share_row(f"most {offer.id}", own, offer.most_share_of_dm, least=False))
        if offer.least_share_of_dm > 0:
            rows.append(share_row(f"least {offer.id}", own, offer.least_share_of_dm, least=True))
    return tuple(rows)
