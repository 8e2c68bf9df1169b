"""What a given ration supplies and the gain it allows: plain sums, no optimiser.

It answers "what will the ration I feed do?", and it is the independent check that every solved
mix must pass before anyone sees it: nothing here reads the optimiser's arrays.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ration.animals import Batch
from ration.errors import InputError, Problem
from ration.feeds import Feed
from ration.needs import FERMENT_LIMIT, RUMEN_LIMIT, Eaten, Standard
from ration.standards import afrc1993

if TYPE_CHECKING:
    import pandas as pd

BREWERY = (
    "brewers-grains",
    "distillers-wheat",
    "distillers-malt",
    "distillers-maize",
    "pot-ale-syrup",
)
__all__ = [
    "ENERGY_LIMIT",
    "FERMENT_LIMIT",
    "RUMEN_LIMIT",
    "Assessment",
    "Balance",
    "Portion",
    "assess",
]
ENERGY_LIMIT = "energy"
# nutrient: (words, unit of the whole diet)
WATCHED = {
    "cp_g_per_kg_dm": ("crude protein", "g/kg DM"),
    "mg_g_per_kg_dm": ("magnesium", "g/kg DM"),
    "cu_mg_per_kg_dm": ("copper", "mg/kg DM"),
    "oil_g_per_kg_dm": ("oil", "g/kg DM"),
    "starch_g_per_kg_dm": ("starch", "g/kg DM"),
    "sugar_g_per_kg_dm": ("sugar", "g/kg DM"),
    "ash_g_per_kg_dm": ("ash", "g/kg DM"),
}


def acids_share_of_me(feed: Feed) -> float:
    """Share of ME in fermentation acids: silage 0.10, brewery and distillery feeds 0.05."""
    if feed.group == "silage":
        return 0.10
    return 0.05 if feed.id in BREWERY else 0.0


def gross_energy_mj_per_kg_dm(feed: Feed, needs: Standard) -> float:
    """Gross energy of a feed as the standard reckons it. [MJ/kg DM]"""
    return needs.gross_energy(feed.get("ge_mj_per_kg_dm"))


def fermentable_mj_per_kg_dm(feed: Feed) -> float:
    """Fermentable ME of a feed; an oil figure is wanted where there is energy. [MJ/kg DM]"""
    me = feed["me_mj_per_kg_dm"]
    if me <= 0:
        return 0.0
    return afrc1993.fermentable_me_mj_per_kg_dm(
        me, feed["oil_g_per_kg_dm"], acids_share_of_me(feed)
    )


@dataclass(frozen=True)
class Portion:
    """One feed as given to one sheep in a day.

    Attributes
    ----------
    id, name : str
        The offer.
    feed : Feed
        Its figures, gaps filled where allowed.
    kg_fresh_offered_per_head_day : float
        Put in front of the sheep, waste included. [kg fresh]
    waste_share, storage_loss_share : float
        Wasted at the rack or trough; lost in store before that. [-]
    price_gbp_per_t_fresh : float
        Delivered, or what home feed would fetch. [GBP/t fresh]
    is_home : bool
    """

    id: str
    name: str
    feed: Feed
    kg_fresh_offered_per_head_day: float
    waste_share: float = 0.0
    storage_loss_share: float = 0.0
    price_gbp_per_t_fresh: float = 0.0
    is_home: bool = False

    @property
    def dm_share(self) -> float:
        """Dry matter of the fresh feed. [-]"""
        return self.feed["dm_g_per_kg_fresh"] / 1000

    @property
    def kg_fresh_per_head_day(self) -> float:
        """Eaten, fresh. [kg]"""
        return self.kg_fresh_offered_per_head_day * (1 - self.waste_share)

    @property
    def kg_dm_per_head_day(self) -> float:
        """Eaten, dry matter. [kg DM]"""
        return self.kg_fresh_per_head_day * self.dm_share

    @property
    def kg_fresh_bought_per_head_day(self) -> float:
        """Taken from stock or bought, store loss included. [kg fresh]"""
        return self.kg_fresh_offered_per_head_day / (1 - self.storage_loss_share)

    @property
    def cost_gbp_per_head_day(self) -> float:
        """Money, waste and losses included. [GBP]"""
        return self.kg_fresh_bought_per_head_day * self.price_gbp_per_t_fresh / 1000


@dataclass(frozen=True)
class Balance:
    """Supply against need of one nutrient, for one sheep in a day.

    `need` is None for what is only watched; `unknown` names feeds whose figure is not on file, so
    that `supply` is then only the known part, and nan when no feed has a figure at all.
    """

    name: str
    unit: str
    supply: float
    need: float | None
    unknown: tuple[str, ...] = ()

    @property
    def balance(self) -> float | None:
        """Supply less need; None when there is no need to compare."""
        return None if self.need is None else self.supply - self.need


@dataclass(frozen=True)
class Assessment:
    """What one ration does for one batch.

    Gains are with the safety margin of the needs (a ration that just meets them gives the gain
    asked for); `gain_without_margin_g_per_day` is what the bare standard expects.
    `protein_g_per_day` is of the standard's own kind (`protein_kind`), whatever goes with dry
    matter included; `protein_limit` is what would have to rise for more of it, `protein_parts`
    what it is made of.
    """

    batch: Batch
    portions: tuple[Portion, ...]
    q: float
    md_mj_per_kg_dm: float
    feeding_level: float
    dm_kg_per_day: float
    me_mj_per_day: float
    protein_g_per_day: float
    protein_kind: str
    protein_limit: str
    protein_parts: Mapping[str, float]
    maintenance_me_mj_per_day: float
    gain_energy_g_per_day: float
    gain_protein_g_per_day: float
    gain_g_per_day: float
    gain_without_margin_g_per_day: float
    limited_by: str
    balances: tuple[Balance, ...]
    ca_to_p: float
    forage_share_of_dm: float
    cereal_share_of_dm: float
    concentrate_kg_fresh: float
    watched: Mapping[str, Balance]
    cost_gbp_per_head_day: float
    is_part_ration: bool
    standard: str
    margin: float
    notes: tuple[str, ...]

    @property
    def maintenance_share(self) -> float:
        """ME eaten over ME to stand still. [-]"""
        return self.me_mj_per_day / self.maintenance_me_mj_per_day

    def frame(self) -> pd.DataFrame:
        """Balances as a table, one row a nutrient."""
        import pandas as pd

        rows = [
            {
                "nutrient": b.name,
                "unit": b.unit,
                "supply": b.supply,
                "need": b.need,
                "balance": b.balance,
                "unknown_for": ", ".join(b.unknown),
            }
            for b in self.balances
        ]
        return pd.DataFrame(rows)

    def portions_frame(self) -> pd.DataFrame:
        """Amounts as a table, one row a feed."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "feed": p.id,
                    "kg_dm_per_head_day": p.kg_dm_per_head_day,
                    "kg_fresh_per_head_day": p.kg_fresh_per_head_day,
                    "kg_fresh_offered_per_head_day": p.kg_fresh_offered_per_head_day,
                    "cost_gbp_per_head_day": p.cost_gbp_per_head_day,
                }
                for p in self.portions
            ]
        )


def _sum(portions: Sequence[Portion], nutrient: str) -> tuple[float, tuple[str, ...]]:
    """Total of a nutrient over the feeds that have it, and the feeds that do not."""
    total, unknown = 0.0, []
    for p in portions:
        value = p.feed.get(nutrient)
        if value is None:
            unknown.append(p.name)
        else:
            total += p.kg_dm_per_head_day * value
    return total, tuple(unknown)


def assess(
    needs: Standard, portions: Sequence[Portion], *, is_part_ration: bool = False
) -> Assessment:
    """What a ration supplies, against the needs of a batch.

    Parameters
    ----------
    needs : Standard
        The batch and its standard, margin and multiplier.
    portions : sequence of Portion
        What one sheep is given in a day; feeds must have every figure the standard reads.
    is_part_ration : bool
        True when grazing supplies the rest; the words then never say "adequate".

    Returns
    -------
    Assessment

    Raises
    ------
    InputError
        Nothing is fed, or the diet is outside what the standard covers.
    MissingValue
        A feed lacks a figure that the standard reads.
    """
    b = needs.batch
    fed = [p for p in portions if p.kg_fresh_offered_per_head_day > 0]
    dm = sum(p.kg_dm_per_head_day for p in fed)
    if dm <= 0:
        raise InputError(Problem(b.name, "nothing is fed", "at least one feed is wanted"))
    me = sum(p.kg_dm_per_head_day * p.feed["me_mj_per_kg_dm"] for p in fed)
    ge = sum(p.kg_dm_per_head_day * gross_energy_mj_per_kg_dm(p.feed, needs) for p in fed)
    q = me / ge
    if not needs.quality[0] <= q <= needs.quality[1]:
        raise InputError(
            Problem(b.name, f"diet quality q {q:.2f}", f"{needs.quality[0]} to {needs.quality[1]}")
        )
    maintenance = float(needs.maintenance_me(np.array([q]))[0])
    level = me / maintenance
    supply = needs.protein_supply(_eaten(fed), level)
    protein = supply.g_per_day

    def gains(margin: float) -> tuple[float, float]:
        return needs.gain_from_me(me, q, margin), needs.gain_from_protein(protein, dm, margin)

    by_energy, by_protein = gains(needs.margin)
    limited_by = ENERGY_LIMIT if by_energy <= by_protein else supply.limit
    balances, ca, p = _balances(needs, fed, dm, me, protein, q)
    notes = []
    if by_energy < 0:
        notes.append("Below maintenance the standard is poor: read the loss as a direction.")
    if not needs.quality_trusted[0] <= q <= needs.quality_trusted[1]:
        notes.append(f"q {q:.2f} is outside 0.4 to 0.7, where the equations are trusted.")
    watched = {
        key: Balance(
            words, unit, float("nan") if len(unknown) == len(fed) else total / dm, None, unknown
        )
        for key, (words, unit) in WATCHED.items()
        for total, unknown in (_sum(fed, key),)
    }
    return Assessment(
        batch=b,
        portions=tuple(fed),
        q=q,
        md_mj_per_kg_dm=me / dm,
        feeding_level=level,
        dm_kg_per_day=dm,
        me_mj_per_day=me,
        protein_g_per_day=protein,
        protein_kind=needs.protein.kind,
        protein_limit=supply.limit,
        protein_parts=dict(supply.parts),
        maintenance_me_mj_per_day=maintenance,
        gain_energy_g_per_day=by_energy,
        gain_protein_g_per_day=by_protein,
        gain_g_per_day=min(by_energy, by_protein),
        gain_without_margin_g_per_day=min(gains(1.0)),
        limited_by=limited_by,
        balances=balances,
        ca_to_p=ca / p if p > 0 else float("inf"),
        forage_share_of_dm=sum(x.kg_dm_per_head_day for x in fed if x.feed.is_forage) / dm,
        cereal_share_of_dm=sum(x.kg_dm_per_head_day for x in fed if x.feed.group == "cereal") / dm,
        concentrate_kg_fresh=sum(
            x.kg_fresh_offered_per_head_day for x in fed if x.feed.is_concentrate
        ),
        watched=watched,
        cost_gbp_per_head_day=sum(x.cost_gbp_per_head_day for x in fed),
        is_part_ration=is_part_ration,
        standard=needs.name,
        margin=needs.margin,
        notes=tuple(notes),
    )


def _eaten(fed: Sequence[Portion]) -> list[Eaten]:
    """What the protein rules read, figure by figure; a missing one raises."""
    out = []
    for portion in fed:
        feed, cp = portion.feed, portion.feed["cp_g_per_kg_dm"]
        wanted = ("n_a_share", "n_b_share", "n_c_per_h", "adin_g_n_per_kg_dm")
        a, b, c, adin = (feed[n] for n in wanted) if cp > 0 else (0.0, 0.0, 0.0, 0.0)
        kg, me = portion.kg_dm_per_head_day, feed["me_mj_per_kg_dm"]
        out.append(Eaten(kg, cp, a, b, c, adin, fermentable_mj_per_kg_dm(feed), me))
    return out


def _balances(
    needs: Standard, fed: Sequence[Portion], dm: float, me: float, protein: float, q: float
) -> tuple[tuple[Balance, ...], float, float]:
    me_need = float(needs.me_need(np.array([q]))[0])
    protein_need = needs.protein_need() + needs.protein_slope_g_per_kg_dm * dm
    ca, ca_unknown = _sum(fed, "ca_g_per_kg_dm")
    p, p_unknown = _sum(fed, "p_g_per_kg_dm")
    (ca0, ca1), (p0, p1) = needs.ca_line(), needs.p_line()
    return (
        (
            Balance("energy", "MJ ME", me, me_need),
            Balance("protein", needs.protein.unit, protein, protein_need),
            Balance("calcium", "g", ca, max(ca0 + ca1 * dm, 0.0), ca_unknown),
            Balance("phosphorus", "g", p, max(p0 + p1 * dm, 0.0), p_unknown),
        ),
        ca,
        p,
    )
