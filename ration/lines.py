"""One line a feed and one line a need: what a ration brings, and what each thing is worth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ration import assess as assessing
from ration import choices, limits, solve, worth
from ration.animals import Batch
from ration.model import CEILING, ENERGY, FERMENT, MOVING, RUMEN, MixModel
from ration.needs import Array

if TYPE_CHECKING:
    from ration.farm import Offer


@dataclass(frozen=True)
class FeedLine:
    """One feed on offer and its place in a ration.

    Amounts are for one head a day. `worth_gbp_per_t_fresh` is the delivered price at which the
    feed would just enter or leave: inf when no mix does without it, None when it cannot be said.
    """

    id: str
    name: str
    is_home: bool
    kg_dm_per_head_day: float
    kg_fresh_per_head_day: float
    kg_fresh_offered_per_head_day: float
    cost_gbp_per_head_day: float
    price_gbp_per_t_fresh: float
    worth_gbp_per_t_fresh: float | None
    low_gbp_per_t_fresh: float | None
    high_gbp_per_t_fresh: float | None
    t_fresh_for_winter: float
    stock_share_t_fresh: float | None
    is_at_stock_limit: bool

    @property
    def is_used(self) -> bool:
        """Whether any of it is fed."""
        return self.kg_dm_per_head_day > 0


@dataclass(frozen=True)
class NutrientLine:
    """One need or limit: what the ration brings, what is asked, and what it costs.

    `need` is a least, `limit` a most; `cost_of_one_more_gbp` is per head per day for one more
    unit asked (of a need) or one more unit allowed (of a limit: negative, it saves).
    """

    id: str
    name: str
    unit: str
    supply: float
    need: float | None
    limit: float | None
    binding: bool
    cost_of_one_more_gbp: float
    origin: str = ""


def portions(offers: Sequence[Offer], x: Array) -> list[assessing.Portion]:
    """A mix in kg DM eaten as portions offered fresh."""
    return [
        portion(o, float(kg) / (o.feed["dm_g_per_kg_fresh"] / 1000) / (1 - o.waste_share))
        for o, kg in zip(offers, x, strict=True)
        if kg > 0
    ]


def portion(offer: Offer, kg_fresh_offered: float) -> assessing.Portion:
    """One offer as a portion."""
    return assessing.Portion(
        offer.id,
        offer.name,
        offer.feed,
        kg_fresh_offered,
        offer.waste_share,
        offer.storage_loss_share,
        offer.price_gbp_per_t_fresh,
        offer.is_home,
    )


def feed_lines(
    offers: Sequence[Offer],
    model: MixModel,
    x: Array,
    priced: worth.Prices | None,
    batch: Batch,
    days: int,
    stock: Mapping[str, float],
) -> tuple[FeedLine, ...]:
    """One line a feed on offer: amounts, cost, worth and the price range of this mix."""
    lines = []
    for j, o in enumerate(offers):
        per_t = 1000 / choices.kg_bought_per_kg_dm(o)

        def price(values: Array | None, j: int = j, per_t: float = per_t) -> float | None:
            return None if values is None or np.isnan(values[j]) else float(values[j]) * per_t

        kg = float(x[j])
        fed = portions([o], np.array([kg]))
        line = fed[0] if fed else portion(o, 0.0)
        available = o.available_t_fresh
        lines.append(
            FeedLine(
                id=o.id,
                name=o.name,
                is_home=o.is_home,
                kg_dm_per_head_day=kg,
                kg_fresh_per_head_day=line.kg_fresh_per_head_day,
                kg_fresh_offered_per_head_day=line.kg_fresh_offered_per_head_day,
                cost_gbp_per_head_day=line.cost_gbp_per_head_day,
                price_gbp_per_t_fresh=o.price_gbp_per_t_fresh,
                worth_gbp_per_t_fresh=price(None if priced is None else priced.worth),
                low_gbp_per_t_fresh=price(None if priced is None else priced.low),
                high_gbp_per_t_fresh=price(None if priced is None else priced.high),
                t_fresh_for_winter=line.kg_fresh_bought_per_head_day * batch.head * days / 1000,
                stock_share_t_fresh=None
                if available is None
                else stock[o.id] * choices.kg_bought_per_kg_dm(o) * batch.head * days / 1000,
                is_at_stock_limit=o.id in stock and kg > 0 and kg >= stock[o.id] * (1 - 1e-6),
            )
        )
    return tuple(lines)


# row id: (words, unit, factor to that unit)
ROW_WORDS = {
    "calcium": ("calcium", "g", 1.0),
    "phosphorus": ("phosphorus", "g", 1.0),
    "intake": ("dry matter", "kg DM", 1.0),
    "hay to appetite": ("hay to appetite", "kg DM", 1.0),
    "ca_to_p_least": ("calcium to phosphorus", "to 1", 1.0),
    "ca_to_p_most": ("calcium to phosphorus", "to 1", 1.0),
    "forage_share_of_dm_least": ("forage", "% of DM", 100.0),
    "concentrate_share_of_dm_most": ("trough feed", "% of DM", 100.0),
    "concentrate_kg_fresh_most": ("trough feed", "kg fresh", 1.0),
    "starch_and_sugar_share_of_dm_most": ("starch and sugar, where known", "% of DM", 100.0),
    "oil_share_of_dm_most": ("oil", "% of DM", 100.0),
    "copper_mg_per_kg_dm_most": ("copper", "mg/kg DM", 1.0),
}


def row_words(row_id: str) -> tuple[str, str, float]:
    """Words, unit and factor of a row, family and feed caps included."""
    if row_id in ROW_WORDS:
        return ROW_WORDS[row_id]
    plain = row_id.removeprefix("most ").removeprefix("least ")
    if plain.endswith(" kg"):
        return plain.removesuffix(" kg").replace("-", " "), "kg fresh", 1.0
    return plain.replace("-", " "), "% of DM", 100.0


# limits that a feed without a figure is counted in for as much as is allowed
_AT_THE_LIMIT = {"copper_mg_per_kg_dm_most": "cu_mg_per_kg_dm"}


def unknown_in(offers: Sequence[Offer], x: Array) -> frozenset[str]:
    """Rows that a feed in the mix has no figure for, and is counted at the limit in."""
    return frozenset(
        row
        for row, nutrient in _AT_THE_LIMIT.items()
        if any(kg > 0 and o.feed.get(nutrient) is None for o, kg in zip(offers, x, strict=True))
    )


def nutrient_lines(
    model: MixModel,
    x: Array,
    tangent: solve.Solution,
    bounds: limits.Bounds,
    unknown: frozenset[str] = frozenset(),
) -> tuple[NutrientLine, ...]:
    """One line a need or limit: supply, least, most, and what one more unit would cost.

    Parameters
    ----------
    model, x, tangent, bounds
        The mix and how it was found.
    unknown : frozenset of str
        Rows whose supply is only a most, for want of a figure (`unknown_in`).
    """
    found = tangent.row_price
    row_price = np.zeros(len(MOVING) + len(model.rows)) if found is None else found
    price = dict(zip(MOVING, row_price[:4], strict=True))
    q, level = model.quality_and_level(x[None])
    need, ceiling = (float(v[0]) for v in model.energy_limits(q))
    me = float(x @ model.me)
    by_n, by_e = (float(v[0] @ x) for v in model.needs.protein_value(model.chemistry, level))
    needs, eaten = model.needs, float(x.sum())
    with_intake = needs.protein_slope_g_per_kg_dm * eaten
    protein, protein_need = min(by_n, by_e), needs.protein_need()

    def close(a: float, b: float) -> bool:
        return abs(a - b) <= 2e-6 * max(abs(a), abs(b), 1e-3)

    standard = model.needs.name
    lines = [
        NutrientLine(
            "energy",
            "energy",
            "MJ ME",
            me,
            need,
            None if np.isinf(ceiling) else ceiling,
            close(me, need) or close(me, ceiling),
            float(price[ENERGY] if close(me, need) else price[CEILING]),
            standard,
        ),
        NutrientLine(
            "protein",
            "protein",
            needs.protein.unit,
            protein + with_intake,
            protein_need + with_intake,
            None,
            close(protein, protein_need),
            float(price[RUMEN] + price[FERMENT]),
            standard,
        ),
    ]
    for i, row in enumerate(model.rows):
        words, unit, factor = row_words(row.id)
        if row.id in unknown:
            words += ", unknown taken at its limit"
        cost = float(row_price[4 + i])
        activity = float(row.coefficients @ x)
        scale = float(np.abs(row.coefficients) @ x) + 1e-3
        tight_lo = np.isfinite(row.lo) and abs(activity - row.lo) <= 2e-6 * scale
        tight_hi = np.isfinite(row.hi) and abs(activity - row.hi) <= 2e-6 * scale
        supply, least, most, per_unit = activity, row.lo, row.hi, 1.0
        if row.ratio is not None:
            top, bottom, limit = row.ratio
            per_unit = float(bottom @ x)
            supply = float(top @ x) / per_unit if per_unit > 0 else 0.0
            least = limit if np.isfinite(row.lo) else row.lo
            most = limit if np.isfinite(row.hi) else row.hi
        elif row.id in ("calcium", "phosphorus"):  # the part that goes with intake, put back
            slope = (model.needs.ca_line() if row.id == "calcium" else model.needs.p_line())[1]
            supply, least = activity + slope * float(x.sum()), row.lo + slope * float(x.sum())
        lines.append(
            NutrientLine(
                row.id,
                words,
                unit,
                supply * factor,
                least * factor if np.isfinite(least) else None,
                most * factor if np.isfinite(most) else None,
                bool(tight_lo or tight_hi),
                cost * per_unit / factor,
                bounds.origin.get(row.id, bounds.origin.get(row.id + "_kg_dm_most", "")),
            )
        )
    return tuple(lines)
