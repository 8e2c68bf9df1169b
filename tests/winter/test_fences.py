"""Rows that every ration satisfies, held against rations that a search found.

Origin: `ration.search`, which is proved elsewhere (`tests/lp/test_search.py`) and shares no row
with the fences: every ration it finds, at any prices, must lie inside, and so must the mean of any
such rations of neighbouring periods. One outside would make the winter's bound untrue.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from winter.small import book, farm, free, home, season_of, supplies, to_buy

from ration import limits, search
from ration.farm import Limits
from ration.model import MixModel
from ration.search import Variant
from ration.winter import fences
from ration.winter.fences import Fence, Reach

FARMS = range(20)
PRICES = 12  # a period: as many rations, fewer where a price has none


@dataclass(frozen=True)
class Found:
    """One batch: its periods' models, what was found in each, and the prices asked at."""

    models: tuple[MixModel, ...]
    reaches: tuple[Reach, ...]
    days: np.ndarray
    prices: np.ndarray  # (PRICES, n)
    rations: tuple[np.ndarray, ...]  # a period: (PRICES, n)
    bounds: np.ndarray  # (periods, PRICES)


@cache
def found(seed: int) -> Found:
    """Random sheep, feeds and prices; three periods."""
    rng = np.random.default_rng([8, seed])
    more = ["barley", "oats", "beet-pulp-plain", "soya-hipro", "rapeseed-meal", "beans", "cubes-18"]
    feeds = ["hay-good", *map(str, rng.choice(more, int(rng.integers(2, 6)), replace=False))]
    feeds += [] if "soya-hipro" in feeds else ["soya-hipro"]
    sheep = (30, round(float(rng.uniform(28, 44)), 1), float(rng.uniform(0, 80)))
    place = farm(
        [home("hay-average", 50.0), home("straw-barley", 50.0), *map(to_buy, feeds)],
        days=int(rng.choice([42, 50])),
        sheep=[sheep],
    )
    season = season_of(place, supplies(*(free(f, 200.0) for f in feeds)))
    models = tuple(season.models[0, t] for t in range(3))
    first = models[0]
    n = len(first.cost)
    asked = [rng.uniform(0.02, 0.5, n) for _ in range(5)]
    # the edges: most and least energy, quality, dry matter and protein, then any direction at all
    asked += [first.me, -first.me, first.me - 0.5 * first.ge, 0.5 * first.ge - first.me]
    asked += [np.ones(n), -first.chemistry.cp, rng.normal(size=n)]
    prices = np.array(asked[:PRICES])
    rations, bounds = [], []
    for model in models:
        answers = search.search(
            model, [Variant(cost=p) for p in prices], gap_share=3e-3, least_scale=1e-3
        )
        assert all(a.x is not None for a in answers), seed
        rations.append(np.array([a.x for a in answers]))
        bounds.append([a.lower_bound for a in answers])
    days = np.array([float(p.days) for p in season.periods])
    reaches = tuple(fences.reach(m) for m in models)
    return Found(models, reaches, days, prices, tuple(rations), np.array(bounds))


def outside(fence: Fence, x: np.ndarray) -> np.ndarray:
    """How far mixes (K, n) lie outside, as a share of what each row adds up. (K,)"""
    size = np.abs(x) @ np.abs(fence.matrix).T + 1e-3
    activity = x @ fence.matrix.T
    row = np.maximum(fence.lo - activity, activity - fence.hi) / size
    column = np.maximum(fence.col_lo - x, x - fence.col_hi)
    return np.maximum(row.max(axis=1), column.max(axis=1))


ROUNDING = 1e-8


def test_every_ration_lies_inside_the_fence_of_its_period() -> None:
    many = 0
    for seed in FARMS:
        f = found(seed)
        for t, model in enumerate(f.models):
            for at_q in (0.3, 0.5, float(model.quality_and_level(f.rations[t][:1])[0][0]), 0.8):
                fence = fences.fence([model], [f.reaches[t]], f.days[t : t + 1], at_q)
                assert outside(fence, f.rations[t]).max() <= ROUNDING, (seed, t, at_q)
            many += len(f.rations[t])
    assert many >= 700


def test_the_fence_is_no_empty_promise() -> None:
    """A ration short of a tenth of everything is outside: the rows do hold something back."""
    shut = total = 0
    for seed in FARMS:
        f = found(seed)
        q = float(f.models[0].quality_and_level(f.rations[0][:1])[0][0])
        fence = fences.fence(f.models[:1], f.reaches[:1], f.days[:1], q)
        shut += int((outside(fence, 0.9 * f.rations[0][:5]) > 1e-6).sum())
        total += 5
    assert shut >= 0.9 * total


def test_mean_rations_lie_inside_the_fence_of_their_block() -> None:
    """Any ration of each period, the mean by days."""
    for seed in FARMS:
        f, rng = found(seed), np.random.default_rng([9, seed])
        for inside in ((0, 1), (1, 2), (0, 1, 2)):
            models = [f.models[t] for t in inside]
            reaches = [f.reaches[t] for t in inside]
            days = f.days[list(inside)]
            q = float(models[0].quality_and_level(f.rations[0][:1])[0][0])
            bounds = [f.bounds[list(inside), k] for k in range(len(f.prices))]
            fence = fences.fence(models, reaches, days, q, list(f.prices), bounds)
            picks = rng.integers(len(f.prices), size=(60, len(inside)))
            means = sum(
                w * f.rations[t][picks[:, i]]
                for i, (t, w) in enumerate(zip(inside, days / days.sum(), strict=True))
            )
            assert outside(fence, means).max() <= ROUNDING, (seed, inside)


def test_price_rows_hold_for_rations_found_at_other_prices() -> None:
    for seed in FARMS:
        f = found(seed)
        for t in range(3):
            paid = f.rations[t] @ f.prices.T
            assert (paid >= f.bounds[t] - 1e-9 * (1 + np.abs(f.bounds[t]))).all(), (seed, t)


def test_reach_holds_quality_level_and_energy_of_every_ration() -> None:
    tight = 0
    for seed in FARMS:
        f = found(seed)
        for model, reach, x in zip(f.models, f.reaches, f.rations, strict=True):
            q, level = model.quality_and_level(x)
            assert (q >= reach.q1 - 1e-9).all(), seed
            assert (q <= reach.q2 + 1e-9).all(), seed
            assert (level >= reach.l1 - 1e-9).all(), seed
            assert (level <= reach.l2 + 1e-9).all(), seed
            assert (x @ model.me <= reach.most_me * (1 + 1e-9)).all(), seed
            tight += bool(reach.l2 - reach.l1 < 2.0 and reach.q2 - reach.q1 < 0.3)
    assert tight > 10


def test_most_of_each_feed_holds_for_every_ration() -> None:
    for seed in FARMS:
        f = found(seed)
        for model, x in zip(f.models, f.rations, strict=True):
            most = fences.most_of_each(model)
            assert (x <= most + 1e-9).all(), seed
            assert (most <= model.col_hi + 1e-12).all(), seed


def test_real_rations_between_the_found_ones_lie_inside_too() -> None:
    """Mixtures of found rations that meet every need, not only those at an edge."""
    many = 0
    for seed in FARMS:
        f, rng = found(seed), np.random.default_rng([10, seed])
        shares = rng.dirichlet(np.full(len(f.prices), 0.4), 80)
        for t, model in enumerate(f.models):
            x = shares @ f.rations[t]
            x = x[model.shortfalls(x).max(axis=1) <= 0]
            if not len(x):
                continue
            many += len(x)
            q = float(model.quality_and_level(x[:1])[0][0])
            fence = fences.fence([model], [f.reaches[t]], f.days[t : t + 1], q)
            assert outside(fence, x).max() <= ROUNDING, (seed, t)
    assert many > 500


def test_a_row_that_only_some_periods_have_says_nothing_of_the_mean() -> None:
    """A weight-bound default holds in the light period only: the mean may break it."""
    place = farm([home("hay-average", 50.0), to_buy("barley"), to_buy("soya-hipro")],
                 sheep=[(30, 34.0, 60.0)])  # fmt: skip
    season = season_of(place, supplies(free("barley", 200.0), free("soya-hipro", 400.0)))
    a, b = season.models[0, 0], season.models[0, 1]
    bounds = limits.resolve(
        a.needs.batch, Limits(concentrate_kg_fresh_most=0.2), season.offers, book().limits
    )
    from ration import choices

    tied = choices.build(a.needs, season.offers, bounds, {})
    loose = choices.build(b.needs, season.offers, limits.resolve(
        b.needs.batch, Limits(), season.offers, book().limits), {})  # fmt: skip
    days = np.array([14.0, 14.0])
    reaches = [fences.reach(tied), fences.reach(loose)]
    alone = fences.fence([tied], reaches[:1], days[:1], 0.5)
    both = fences.fence([tied, loose], reaches, days, 0.5)
    prices = np.where([not o.is_home for o in season.offers], 0.01, 1.0)
    rich = search.search(loose, [Variant(cost=prices)])[0].x
    poor = search.search(tied, [Variant(cost=prices)])[0].x
    assert outside(alone, rich[None])[0] > 1e-3
    assert outside(both, ((rich + poor) / 2)[None])[0] <= ROUNDING


@pytest.mark.parametrize("gain", [0.0, 40.0, 75.0])
def test_no_ration_on_a_fine_grid_of_mixes_is_shut_out(gain: float) -> None:
    """Three feeds, every mix of them in steps: those that are real lie inside."""
    place = farm([home("hay-average", 50.0), to_buy("barley"), to_buy("soya-hipro")],
                 sheep=[(30, 34.0, gain)])  # fmt: skip
    season = season_of(place, supplies(free("barley", 200.0), free("soya-hipro", 400.0)))
    model = season.models[0, 1]
    steps = np.meshgrid(
        np.linspace(0, 1.4, 57), np.linspace(0, 0.7, 36), np.linspace(0, 0.4, 21), indexing="ij"
    )
    x = np.stack([s.ravel() for s in steps], axis=1)[1:]
    activity = x @ model.fixed.T
    real = (activity >= model.fixed_lo - 1e-12).all(axis=1)
    real &= (activity <= model.fixed_hi + 1e-12).all(axis=1) & (x <= model.col_hi).all(axis=1)
    x = x[real]
    x = x[model.shortfalls(x).max(axis=1) <= 0]
    assert len(x) > 50
    reach = fences.reach(model)
    q, level = model.quality_and_level(x)
    assert reach.q1 <= q.min() and q.max() <= reach.q2
    assert reach.l1 <= level.min() and level.max() <= reach.l2
    for at_q in (float(q.min()), float(np.median(q)), float(q.max())):
        fence = fences.fence([model], [reach], np.array([14.0]), at_q)
        assert outside(fence, x).max() <= ROUNDING, at_q
