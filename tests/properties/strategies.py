"""Random farms for the tests of the optimiser, drawn by a seed or by hypothesis.

The feeds are invented around round class means, so that every rule of the model is met now and
then; they serve correctness and timing, never nutrition. Nothing here is read from the feed tables.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from hypothesis import strategies as st

from ration import animals, assess, choices, mix, needs
from ration.animals import Batch
from ration.farm import Offer
from ration.feeds import Feed, Figure
from ration.limits import Bounds
from ration.model import MixModel
from ration.needs import Array, Standard

FIGURES = (
    "dm_g_per_kg_fresh",
    "me_mj_per_kg_dm",
    "cp_g_per_kg_dm",
    "n_a_share",
    "n_b_share",
    "n_c_per_h",
    "adin_g_n_per_kg_dm",
    "oil_g_per_kg_dm",
    "ca_g_per_kg_dm",
    "p_g_per_kg_dm",
    "cu_mg_per_kg_dm",
    "starch_g_per_kg_dm",
    "sugar_g_per_kg_dm",
)


@dataclass(frozen=True)
class Kind:
    """A class of feeds: table id, group, mean of each of `FIGURES`, prices [GBP/t], waste [-]."""

    id: str
    group: str
    means: tuple[float, ...]
    price: tuple[float, float]
    waste: tuple[float, float] = (0.0, 0.02)


KINDS = {
    "hay": Kind(
        "hay-average",
        "hay",
        (850, 8.8, 95, 0.22, 0.60, 0.08, 1.1, 16, 5, 2.4, 5, 0, 80),
        (70, 190),
        (0.05, 0.2),
    ),
    "straw": Kind(
        "straw-barley",
        "straw",
        (860, 6.4, 42, 0.30, 0.30, 0.05, 1.0, 14, 4.2, 1.1, 3, 0, 10),
        (50, 120),
        (0.05, 0.2),
    ),
    "silage": Kind(
        "silage-clamp-medium",
        "silage",
        (320, 10.4, 135, 0.60, 0.28, 0.10, 0.8, 35, 6, 3.0, 7, 0, 20),
        (28, 60),
        (0.02, 0.1),
    ),
    "barley": Kind(
        "barley",
        "cereal",
        (860, 13.1, 118, 0.25, 0.70, 0.35, 0.2, 20, 0.8, 3.9, 4, 570, 25),
        (150, 280),
    ),
    "oats": Kind(
        "oats",
        "cereal",
        (860, 12.2, 108, 0.69, 0.25, 0.35, 0.2, 48, 0.9, 3.5, 4, 410, 20),
        (140, 260),
    ),
    "pulp": Kind(
        "beet-pulp-plain",
        "byproduct",
        (890, 12.5, 98, 0.30, 0.50, 0.06, 0.7, 6, 7.5, 1.4, 6, 5, 120),
        (190, 320),
    ),
    "protein": Kind(
        "soya-hipro",
        "protein",
        (890, 13.3, 430, 0.15, 0.78, 0.09, 0.8, 35, 4, 7.5, 15, 40, 90),
        (260, 520),
    ),
    "grains": Kind(
        "distillers-wheat",
        "byproduct",
        (890, 13.6, 320, 0.40, 0.50, 0.08, 1.2, 60, 2, 8.5, 12, 60, 40),
        (220, 360),
    ),
    "cubes": Kind(
        "cubes-16",
        "compound",
        (870, 12.2, 180, 0.28, 0.60, 0.12, 0.5, 42, 11, 5.5, 12, 220, 80),
        (230, 380),
    ),
    "mineral": Kind(
        "sheep-mineral",
        "mineral",
        (980, 0, 0, 0, 0, 0.01, 0, 0, 180, 45, 0, 0, 0),
        (400, 1000),
    ),
    "limestone": Kind(
        "limestone",
        "mineral",
        (990, 0, 0, 0, 0, 0.01, 0, 0, 370, 0.1, 5, 0, 0),
        (80, 220),
    ),
    "urea": Kind(
        "urea",
        "protein",
        (990, 0, 2870, 1, 0, 0.01, 0, 0, 0, 0, 0, 0, 0),
        (300, 900),
    ),
}  # fmt: skip
ALWAYS = ("hay", "straw", "barley", "protein", "mineral")
OFTEN = ("hay", "hay", "silage", "barley", "oats", "pulp", "protein", "grains", "cubes", "cubes")
SELDOM = ("straw", "limestone", "urea")


class Numbers(Protocol):
    """Where random numbers come from."""

    def between(self, lo: float, hi: float) -> float:
        """A number."""

    def upto(self, many: int) -> int:
        """A whole number from 0 to many - 1."""


@dataclass(frozen=True)
class Seeded:
    """Numbers of a seeded generator."""

    rng: np.random.Generator

    def between(self, lo: float, hi: float) -> float:
        return float(self.rng.uniform(lo, hi))

    def upto(self, many: int) -> int:
        return int(self.rng.integers(many))


@dataclass(frozen=True)
class Drawn:
    """Numbers drawn by hypothesis, on a grid so that failures read well."""

    draw: Callable[[st.SearchStrategy[int]], int]

    def between(self, lo: float, hi: float) -> float:
        return lo + (hi - lo) * self.draw(st.integers(0, 1000)) / 1000

    def upto(self, many: int) -> int:
        return self.draw(st.integers(0, many - 1))


@dataclass(frozen=True)
class Made:
    """An invented farm of one batch: what `choices.build` asks for."""

    needs: Standard
    offers: tuple[Offer, ...]
    bounds: Bounds
    stock_kg_dm_per_head_day: Mapping[str, float]

    @property
    def batch(self) -> Batch:
        return self.needs.batch

    @property
    def model(self) -> MixModel:
        return choices.build(self.needs, self.offers, self.bounds, self.stock_kg_dm_per_head_day)

    @property
    def prices_gbp_per_t(self) -> tuple[float, ...]:
        return tuple(o.price_gbp_per_t_fresh for o in self.offers)

    def at_prices(self, gbp_per_t: Mapping[int, float]) -> Made:
        """The same farm with some prices changed, by place in the list."""
        return replace(
            self,
            offers=tuple(
                replace(o, price_gbp_per_t_fresh=gbp_per_t.get(j, o.price_gbp_per_t_fresh))
                for j, o in enumerate(self.offers)
            ),
        )

    def with_bounds(self, **values: float | None) -> Made:
        """The same farm with some limits changed."""
        bounds = replace(self.bounds, values={**self.bounds.values, **values})
        return replace(self, bounds=bounds)


def offer(numbers: Numbers, place: int, kind_name: str) -> Offer:
    """One feed within 12 % or so of its class mean."""
    kind = KINDS[kind_name]
    values = [
        mean if name == "n_a_share" and mean == 1 else mean * numbers.between(0.88, 1.12)
        for name, mean in zip(FIGURES, kind.means, strict=True)
    ]
    values[0] = min(values[0], 995.0)
    return Offer(
        id=f"{kind_name}-{place}",
        name=f"{kind_name} {place}",
        feed=Feed(
            kind.id,
            kind_name,
            kind.group,
            {n: Figure(v, "guess") for n, v in zip(FIGURES, values, strict=True)},
        ),
        is_home=kind.group in ("hay", "silage"),
        price_gbp_per_t_fresh=round(numbers.between(*kind.price), 2),
        waste_share=numbers.between(*kind.waste),
        storage_loss_share=numbers.between(0, 0.05) if kind.group in ("hay", "silage") else 0.0,
    )


def limited(numbers: Numbers, one: Offer) -> Offer:
    """Now and then a limit of the feed's own."""
    match numbers.upto(12):
        case 0:
            return replace(one, most_kg_fresh_per_head_day=numbers.between(0.02, 0.6))
        case 1:
            return replace(one, most_share_of_dm=numbers.between(0.05, 0.5))
        case 2 if one.feed.group in ("hay", "cereal", "compound"):
            return replace(one, least_kg_fresh_per_head_day=numbers.between(0.0, 0.08))
        case 3 if one.feed.group == "hay":
            return replace(one, least_share_of_dm=numbers.between(0.0, 0.15))
    return one


def batch(numbers: Numbers) -> Batch:
    """18 to 50 kg; gains mostly those of a store winter, some up to 200 g/day."""
    growing = sorted(set(animals.CLASSES) - set(animals.GROWN))
    sheep_class = growing[numbers.upto(len(growing))]
    most_gain = (80.0, 120.0, 200.0)[numbers.upto(3)]
    return animals.batch(
        weight_kg=round(numbers.between(18, 50), 1),
        gain_g_per_day=round(numbers.between(0, most_gain), 1),
        mature_weight_kg=round(numbers.between(50, 90)),
        sheep_class="ewe-lamb" if numbers.upto(2) else sheep_class,
        housing=animals.HOUSINGS[numbers.upto(3)],
    )


def made(numbers: Numbers, many: int | None = None) -> Made:
    """A farm of 10 to 25 feeds, or of as many as asked for, with every limit the model knows."""
    sheep = batch(numbers)
    count = 10 + numbers.upto(16) if many is None else many
    kinds = list(ALWAYS)
    while len(kinds) < count:
        from_few = SELDOM if numbers.upto(8) == 0 else OFTEN
        kinds.append(from_few[numbers.upto(len(from_few))])
    offers = tuple(limited(numbers, offer(numbers, j, kind)) for j, kind in enumerate(kinds))

    def of(*names: str) -> tuple[str, ...]:
        return tuple(o.id for o in offers if o.id.split("-")[0] in names)

    families = (
        ("straw", of("straw"), numbers.between(0.15, 0.35), None),
        ("barley", of("barley"), numbers.between(0.2, 0.5), None),
        ("beet-pulp", of("pulp"), 0.30, None),
        ("beet-pulp", of("pulp"), None, 0.50),
        ("mineral", of("mineral", "limestone"), None, 0.03),
        ("urea", of("urea"), None, 0.010),
    )
    bounds = Bounds(
        {
            "intake_kg_dm_least": numbers.between(0.015, 0.022) * sheep.weight_kg,
            "intake_kg_dm_most": numbers.between(0.026, 0.034) * sheep.weight_kg,
            "forage_share_of_dm_least": numbers.between(0.3, 0.7),
            "concentrate_share_of_dm_most": numbers.between(0.4, 0.8),
            "concentrate_kg_fresh_most": numbers.between(0.4, 0.9),
            "starch_and_sugar_share_of_dm_most": numbers.between(0.18, 0.30),
            "oil_share_of_dm_most": numbers.between(0.04, 0.06),
            "copper_mg_per_kg_dm_most": numbers.between(8, 17),
            "ca_to_p_least": 1.0 if sheep.sex == "female" else 2.0,
            "ca_to_p_most": 7.0,
            "ceiling_gain_g_per_day": max(100.0, sheep.gain_g_per_day + 50),
        },
        tuple(f for f in families if f[1]),
        {},
    )
    stock = {o.id: numbers.between(0.1, 0.7) for o in offers if o.is_home and numbers.upto(3) == 0}
    need = needs.of(
        sheep,
        margin=1.05 if numbers.upto(3) else 1.0,
        maintenance=1.0 if numbers.upto(4) else round(numbers.between(0.9, 1.4), 2),
    )
    return Made(need, offers, bounds, stock)


def seeded_farm(seed: int, many: int | None = None) -> Made:
    """The farm of a seed; the same on every machine."""
    return made(Seeded(np.random.default_rng(seed)), many)


@st.composite
def farms(draw: Callable[[st.SearchStrategy[int]], int]) -> Made:
    """A farm of 10 to 25 feeds, hypothesis choosing every number."""
    return made(Drawn(draw))


def real_mixes(model: MixModel, rng: np.random.Generator, tries: int = 400) -> Array:
    """Random mixes (K, n) that meet the needs that move with the diet, within the feeds' caps.

    The limits that do not move are left aside: a bound over boxes must hold without them too.
    """
    n = len(model.cost)
    share = rng.dirichlet(np.full(n, 0.25), tries)
    dm = rng.uniform(0.015, 0.045, tries) * model.needs.batch.weight_kg
    x = np.minimum(share * dm[:, None], model.col_hi)
    x = x[x.sum(axis=1) > 0]
    return np.asarray(x[model.shortfalls(x).max(axis=1) <= 0])


def told(farm: Made, x: Array) -> assess.Assessment:
    """What the ration does by plain sums over the feeds, without the optimiser's arrays."""
    return assess.assess(farm.needs, mix.portions(farm.offers, x))


def broken(farm: Made, x: Array, allow: float = 1e-6) -> list[str]:
    """Needs and limits that a mix breaks by more than a share of themselves, from the feeds alone.

    Parameters
    ----------
    farm : Made
    x : array (n,)
        kg DM of each feed eaten a day.
    allow : float
        Share of each need or limit that rounding may take.
    """
    out: list[str] = []

    def least(words: str, supply: float, need: float) -> None:
        if supply < need - allow * max(abs(need), 1e-3):
            out.append(f"{words}: {supply!r} is under {need!r}")

    def most(words: str, supply: float, limit: float | None) -> None:
        if limit is not None and supply > limit + allow * max(abs(limit), 1e-3):
            out.append(f"{words}: {supply!r} is over {limit!r}")

    result = told(farm, x)
    for balance in result.balances:
        assert balance.need is not None
        least(balance.name, balance.supply, balance.need)
    feeds, dm = [o.feed for o in farm.offers], result.dm_kg_per_day
    fresh = [
        float(kg) / (f["dm_g_per_kg_fresh"] / 1000) / (1 - o.waste_share)
        for kg, f, o in zip(x, feeds, farm.offers, strict=True)
    ]  # as offered

    def content(nutrient: str) -> float:
        return sum(float(kg) * f[nutrient] for kg, f in zip(x, feeds, strict=True)) / dm

    limit = farm.bounds.values
    least("intake", dm, limit["intake_kg_dm_least"] or 0.0)
    most("intake", dm, limit["intake_kg_dm_most"])
    least("forage", result.forage_share_of_dm, limit["forage_share_of_dm_least"] or 0.0)
    trough = sum(float(kg) for kg, f in zip(x, feeds, strict=True) if f.is_concentrate)
    most("trough share", trough / dm, limit["concentrate_share_of_dm_most"])
    most("trough kg", result.concentrate_kg_fresh, limit["concentrate_kg_fresh_most"])
    sweet = (content("starch_g_per_kg_dm") + content("sugar_g_per_kg_dm")) / 1000
    most("starch and sugar", sweet, limit["starch_and_sugar_share_of_dm_most"])
    most("oil", content("oil_g_per_kg_dm") / 1000, limit["oil_share_of_dm_most"])
    most("copper", content("cu_mg_per_kg_dm"), limit["copper_mg_per_kg_dm_most"])
    least("Ca:P", result.ca_to_p, limit["ca_to_p_least"] or 0.0)
    most("Ca:P", result.ca_to_p, limit["ca_to_p_most"])
    ceiling = replace(
        farm.needs, batch=replace(farm.batch, gain_g_per_day=limit["ceiling_gain_g_per_day"])
    )
    most("energy", result.me_mj_per_day, float(ceiling.me_need(np.array([result.q]))[0]))
    for words, ids, share, kg in farm.bounds.family_caps:
        here = [j for j, o in enumerate(farm.offers) if o.id in ids]
        most(f"share of {words}", float(x[here].sum()) / dm, share)
        most(f"kg of {words}", sum(fresh[j] for j in here), kg)
    for kg, given, o in zip(x, fresh, farm.offers, strict=True):
        least(f"share of {o.id}", float(kg) / dm, o.least_share_of_dm)
        most(f"share of {o.id}", float(kg) / dm, o.most_share_of_dm)
        least(f"kg of {o.id}", given, o.least_kg_fresh_per_head_day)
        most(f"kg of {o.id}", given, o.most_kg_fresh_per_head_day)
        stock = farm.stock_kg_dm_per_head_day.get(o.id)
        most(f"stock of {o.id}", float(kg), stock)
    return out


def cost_gbp_per_head_day(farm: Made, x: Array) -> float:
    """Money of a mix by the feeds' own sums."""
    return told(farm, x).cost_gbp_per_head_day
