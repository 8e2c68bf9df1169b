"""Small farms, their supplies and their programmes, for the tests of the winter.

Sheep, feeds, prices and merchants are invented; they serve correctness and timing, never
nutrition. Conditions are scaled to the farm, so that least drops and tiers bite on a tonne or two.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from ration import animals, choices, search, tables, winter
from ration.farm import Farm, Offer, Winter
from ration.model import Problem
from ration.programme import Sparse
from ration.quotes.records import Quote, Supply, Tier
from ration.winter import Plan, planner
from ration.winter.joint import Grain, Rows
from ration.winter.season import Season

START = date(2026, 11, 2)
GUIDE_GBP_PER_T = {
    "hay-average": 130.0, "hay-good": 150.0, "hay-meadow": 120.0, "straw-barley": 90.0,
    "barley": 200.0, "oats": 190.0, "beet-pulp-plain": 250.0, "soya-hipro": 400.0,
    "rapeseed-meal": 310.0, "beans": 260.0, "cubes-16": 290.0, "cubes-18": 305.0,
}  # fmt: skip
LEAST_T = (0.0, 0.3, 0.6, 1.0)
CHARGES_GBP = (0.0, 8.0, 20.0)


@cache
def book() -> tables.Tables:
    """The shipped tables."""
    return tables.load()


def home(feed: str, tonnes: float, gbp_per_t: float | None = None) -> Offer:
    """Feed on the farm; the price is what it would fetch."""
    price = GUIDE_GBP_PER_T[feed] - 30 if gbp_per_t is None else gbp_per_t
    return Offer(
        feed, book().feeds[feed].name, book().feeds[feed], True, price,
        waste_share=0.10, storage_loss_share=0.03, stock_t_fresh=tonnes,
    )  # fmt: skip


def to_buy(feed: str) -> Offer:
    """Feed that only merchants have."""
    waste = 0.10 if feed.startswith(("hay", "straw")) else 0.01
    return Offer(feed, book().feeds[feed].name, book().feeds[feed], False, 0.0, waste_share=waste)


def farm(
    offers: Sequence[Offer],
    *,
    days: int = 42,
    sheep: Sequence[tuple[int, float, float]] = ((40, 35.0, 40.0),),
    **rules: Any,
) -> Farm:
    """A farm of batches (head, kg, g/day); rules are those of `Winter`."""
    flock = tuple(
        animals.batch(f"batch {i + 1}", weight_kg=kg, gain_g_per_day=gain, head=head)
        for i, (head, kg, gain) in enumerate(sheep)
    )
    winter = Winter(**{"start_kg": MappingProxyType({b.name: b.weight_kg for b in flock}), **rules})
    ready, _ = choices.complete(offers, book(), ("all",))
    end = START + timedelta(days=days)
    return Farm(
        Path("small.yaml"), "small", START, end, days, flock, ready, winter=winter, assume=("all",)
    )


def supplies(*quotes: Quote) -> tuple[Supply, ...]:
    """Quotes that are all usable, tied to the feed of the same name."""
    return tuple(Supply(f"{q.feed}@{q.merchant}#{i}", q.feed, q) for i, q in enumerate(quotes))


def free(feed: str, gbp_per_t: float, merchant: str = "", **more: Any) -> Quote:
    """A quote without conditions, or with those named."""
    return Quote(merchant or f"dealer in {feed}", feed, (Tier(0.0, gbp_per_t),), **more)


def random_quote(
    rng: np.random.Generator, merchant: str, feed: str, *, tiers: bool = True, **more: Any
) -> Quote:
    """Least drop, drop charge, tiers, rise, terms and lorry, scaled to a small farm."""
    base = round(GUIDE_GBP_PER_T[feed] * rng.normal(1.0, 0.05), 2)
    steps = [Tier(0.0, base)]
    if tiers and rng.random() < 0.5:
        steps.append(Tier(round(rng.uniform(0.5, 1.5), 2), round(base * rng.uniform(0.9, 0.98), 2)))
    said: dict[str, Any] = {
        "least_drop_t": float(rng.choice(LEAST_T)),
        "drop_charge_gbp": float(rng.choice(CHARGES_GBP)),
        "rise_gbp_per_t_month": float(rng.choice([0.0, 0.0, 6.0, 15.0])),
        "rise_from": date(2026, 12, 1) if rng.random() < 0.5 else None,
        "payment_days": int(rng.choice([0, 28])),
        "haulage_gbp_per_t": float(rng.choice([0.0, 0.0, 7.0])),
        "cash_off_gbp_per_t": float(rng.choice([0.0, 0.0, 4.0])),
    }
    if rng.random() < 0.15:
        said["delivered_until"] = START + timedelta(days=int(rng.integers(10, 40)))
    if rng.random() < 0.3:
        said["most_drop_t"] = round(said["least_drop_t"] + rng.uniform(0.4, 1.5), 2)
    if rng.random() < 0.15:
        said["most_t"] = round(rng.uniform(1.0, 3.0), 2)
    return Quote(merchant, feed, tuple(steps), **{**said, **more})


@cache
def random_farm(
    seed: int, *, periods: int = 3, batches: int = 1, merchants: int = 2, bags: bool = False
) -> tuple[Farm, tuple[Supply, ...]]:
    """A farm of 14-day periods that has some hay and buys the rest, and its supplies."""
    rng = np.random.default_rng([77, seed])
    sheep = tuple(
        (
            int(rng.integers(25, 60)),
            round(float(rng.uniform(30, 38)), 1),
            float(rng.integers(25, 60)),
        )
        for _ in range(batches)
    )
    head = sum(n for n, _, _ in sheep)
    bought = [str(f) for f in rng.choice(["barley", "oats", "cubes-16", "cubes-18"], 1)]
    bought += [str(f) for f in rng.choice(["soya-hipro", "rapeseed-meal", "beans"], 1)]
    hay = "hay-average", float(rng.uniform(0.25, 0.6)) * head * 14 * periods / 1000
    place = farm(
        [home(*hay), to_buy("hay-good"), *(to_buy(f) for f in bought)],
        days=14 * periods,
        sheep=sheep,
        lane_t=26.0,
    )
    quotes = [random_quote(rng, "dealer", "hay-good", tiers=False, most_t=None)]
    for m in range(merchants):
        said = {"least_drop_t": float(rng.choice(LEAST_T)), "drop_charge_gbp": float(rng.choice(CHARGES_GBP)),
                "delivered_until": None, "most_t": None}  # fmt: skip
        quotes += [
            random_quote(rng, f"merchant {m + 1}", f, **said)
            for f in bought
            if m == 0 or rng.random() < 0.8
        ]
    if bags:
        for f in bought:
            price = GUIDE_GBP_PER_T[f] + 60
            quotes.append(Quote("store", f, (Tier(0, price),), pack="bag", pack_kg=25.0))
    return place, supplies(*quotes)


def season_of(place: Farm, supply: Sequence[Supply]) -> Season:
    """The farm's winter made ready."""
    return planner.season_of(place, book(), place.offers, supply)


def fine_grain(season: Season) -> Grain:
    """A step a period."""
    return Grain.of_periods(season)


def rations_at(season: Season, prices: np.ndarray) -> dict[tuple[int, int], np.ndarray]:
    """The cheapest ration of every batch and period at some prices. [kg DM/head/day]"""
    out = {}
    for key, model in season.models.items():
        x = search.search(model.with_cost(prices), gap_share=1e-2, least_scale=1e-3)[0].x
        assert x is not None, key
        out[key] = np.where(x > 1e-6, x, 0.0)
    return out


def held(rations: Mapping[tuple[int, int], np.ndarray]) -> dict[tuple[int, int], Rows]:
    """Rations as rows: nothing is asked, nothing may differ."""
    none = np.zeros(0)
    return {
        key: Rows(np.zeros((0, len(x))), none, none, x, x) for key, x in rations.items()
    }  # fmt: skip


def dense(programme: Problem) -> np.ndarray:
    """The matrix of a programme, place by place."""
    kept = programme.matrix
    assert isinstance(kept, Sparse)
    out = np.zeros(kept.shape)
    out[kept.row, kept.column] = kept.value
    return out


def as_scipy(programme: Problem) -> dict[str, Any]:
    """A programme as `scipy.optimize.linprog` asks for it, its whole columns not asked whole."""
    matrix = dense(programme)
    lo, hi = np.isfinite(programme.row_lo), np.isfinite(programme.row_hi)
    return {
        "c": programme.cost,
        "A_ub": np.vstack([matrix[hi], -matrix[lo]]),
        "b_ub": np.concatenate([programme.row_hi[hi], -programme.row_lo[lo]]),
        "bounds": np.column_stack([programme.col_lo, programme.col_hi]),
    }


def planned(place: Farm, supply: Sequence[Supply], **said: Any) -> Plan:
    """The plan of a small farm, to a gap of a part in five hundred."""
    asked: dict[str, Any] = {"gap_share": 2e-3, "seconds": 20.0, "with_values": False, **said}
    return winter.plan(place, book(), place.offers, supply, **asked)
