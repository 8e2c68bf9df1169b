"""Worths, prices of needs and price ranges, each checked by solving again at other prices.

Farms are invented. The judge is the search itself at a gap a hundred times closer than the one
the worths are worked at: whether a mix with a feed is cheaper than any without is its verdict.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from properties.strategies import Made, seeded_farm

from ration import choices, search, solve, worth
from ration.model import ENERGY, FERMENT, RUMEN, MixModel
from ration.needs import Afrc, Array
from ration.search import Found, Variant

FARMS = tuple(s for s in range(18) if s != 3)  # on 3 the judge cannot close its gap
PENNY_A_TONNE = 0.01
CLOSE = 1e-8
USED_KG_DM = 1e-4
TRACE_KG_DM = 0.005  # a penny a tonne of so little is 5e-8 GBP a day: under any gap


@dataclass(frozen=True)
class Priced:
    """A farm, its cheapest mix, and what `worth.prices` says."""

    made: Made
    model: MixModel
    found: Found
    tangent: solve.Solution
    prices: worth.Prices

    @property
    def x(self) -> Array:
        assert self.found.x is not None
        return self.found.x

    @property
    def gbp_per_kg_dm(self) -> Array:
        """What a penny a tonne fresh is, by feed."""
        bought = np.array([choices.kg_bought_per_kg_dm(o) for o in self.made.offers])
        return PENNY_A_TONNE / 1000 * bought


def judged(model: MixModel, asked: list[Variant], x: Array, scale: float) -> list[Found]:
    """The search at a close gap, started from a mix that is known."""
    return search.search(
        model,
        asked,
        gap_share=CLOSE,
        least_scale=scale,
        crowd=1000,
        start=[(k, x) for k in range(len(asked))],
    )


@cache
def priced(seed: int) -> Priced | None:
    made = seeded_farm(seed, 12)
    model = made.model
    found = search.search(model, gap_share=1e-6)[0]
    if found.x is None:
        return None
    tangent = solve.run(model.tangent_problem(found.x), ranging=True)
    assert tangent.col_price is not None, seed
    return Priced(
        made,
        model,
        found,
        tangent,
        worth.prices(model, found, tangent.price_range, tangent.col_price),
    )


def at_price(model: MixModel, feed: int, price: float) -> Variant:
    cost = model.cost.copy()
    cost[feed] = price
    return Variant(cost=cost)


# ---- the worth of a feed


def test_feed_enters_a_penny_a_tonne_under_its_worth_and_stays_out_a_penny_over() -> None:
    checked = ridges = 0
    wrong = []
    for seed in FARMS:
        if (known := priced(seed)) is None:
            continue
        feeds = [int(j) for j in np.flatnonzero(np.isfinite(known.prices.worth))]
        penny = known.gbp_per_kg_dm
        asked = [
            at_price(known.model, j, known.prices.worth[j] + side * penny[j])
            for j in feeds
            for side in (-1, 1)
        ]
        answers = judged(known.model, asked, known.x, known.found.cost)
        for j, under, over in zip(feeds, answers[::2], answers[1::2], strict=True):
            assert under.x is not None
            assert over.x is not None
            if max(under.gap_share, over.gap_share) > 1.1 * CLOSE:
                ridges += 1  # many mixes within the gap: the judge cannot say
                continue
            if max(under.x[j], known.x[j]) < TRACE_KG_DM:
                continue
            checked += 1
            if under.x[j] < USED_KG_DM or over.x[j] > USED_KG_DM:
                wrong.append((seed, known.model.names[j], known.prices.worth[j]))
    assert wrong == []
    assert checked > 80
    assert ridges < checked


def test_worth_of_a_feed_in_use_is_at_least_its_price_and_of_one_out_at_most() -> None:
    seen = 0
    for seed in FARMS:
        if (known := priced(seed)) is None:
            continue
        w, cost, used = known.prices.worth, known.model.cost, known.x > USED_KG_DM
        # at the gap the mix was proved to, a feed may be worth a little more and still be out
        slack = known.found.cost * 2e-6 / TRACE_KG_DM
        told = ~np.isnan(w)
        assert (w[told & used] >= cost[told & used] - slack).all(), seed
        assert (w[told & ~used] <= cost[told & ~used] + slack).all(), seed
        seen += int(told.sum())
    assert seen > 90


def test_only_feeds_that_are_forced_in_or_shut_out_have_no_worth() -> None:
    for seed in FARMS:
        if (known := priced(seed)) is not None:
            forced = (known.model.col_lo > 0) | (known.model.col_hi <= 0)
            assert (np.isnan(known.prices.worth) == forced).all(), seed


def test_feed_without_which_there_is_no_mix_has_no_ceiling_to_its_worth() -> None:
    seen = 0
    for seed in FARMS:
        if (known := priced(seed)) is None:
            continue
        for j in np.flatnonzero(np.isposinf(known.prices.worth)):
            shut = known.model.col_hi.copy()
            shut[j] = 0.0
            assert search.search(known.model, [Variant(col_hi=shut)])[0].x is None, seed
            seen += 1
    assert seen > 0


def test_one_feed_in_two_packs_has_one_worth() -> None:
    """The dearer pack is worth just what the other costs."""
    tried = 0
    for seed in FARMS[:10]:
        if (known := priced(seed)) is None:
            continue
        j = int(np.argmax(known.x * (known.model.col_lo <= 0)))
        pack = replace(
            known.made.offers[j],
            id="second-pack",
            price_gbp_per_t_fresh=known.made.offers[j].price_gbp_per_t_fresh + 25,
        )
        if known.x[j] < 0.02 or known.made.offers[j].most_share_of_dm is not None:
            continue
        if known.x[j] > 0.98 * known.model.col_hi[j]:
            continue  # the cap, not the price, would bring the second pack in
        families = tuple(
            (words, (*ids, "second-pack") if known.made.offers[j].id in ids else ids, share, kg)
            for words, ids, share, kg in known.made.bounds.family_caps
        )
        made = replace(
            known.made,
            offers=(*known.made.offers, pack),
            bounds=replace(known.made.bounds, family_caps=families),
        )
        model = made.model
        found = search.search(model, gap_share=1e-6)[0]
        assert found.x is not None
        assert found.x[-1] < USED_KG_DM
        tangent = solve.run(model.tangent_problem(found.x), ranging=True)
        assert tangent.col_price is not None
        told = worth.prices(model, found, tangent.price_range, tangent.col_price)
        penny = PENNY_A_TONNE / 1000 * choices.kg_bought_per_kg_dm(pack)
        assert told.worth[-1] == pytest.approx(model.cost[j], abs=penny)
        tried += 1
    assert tried > 2


# ---- how far a price can move


def test_inside_its_price_range_the_mix_stays_the_cheapest() -> None:
    checked = 0
    for seed in FARMS:
        if (known := priced(seed)) is None:
            continue
        p, cost, penny = known.prices, known.model.cost, known.gbp_per_kg_dm
        moves = [
            (int(j), end[j] + inward * penny[j])
            for end, inward in ((p.low, 1), (p.high, -1))
            for j in np.flatnonzero(np.isfinite(end))
            if inward * (cost[j] - end[j]) > penny[j]
        ]
        answers = judged(
            known.model,
            [at_price(known.model, j, price) for j, price in moves],
            known.x,
            known.found.cost,
        )
        for (j, price), answer in zip(moves, answers, strict=True):
            same = float(cost @ known.x + (price - cost[j]) * known.x[j])
            # nothing is cheaper by more than the gap that the mix itself was proved to
            assert answer.cost >= same - 2e-6 * known.found.cost - known.found.cost * (
                known.found.gap_share
            ), (seed, known.model.names[j])
            checked += 1
    assert checked > 25


def test_outside_its_price_range_another_mix_is_cheaper() -> None:
    checked = 0
    for seed in FARMS:
        if (known := priced(seed)) is None:
            continue
        p, cost, penny = known.prices, known.model.cost, known.gbp_per_kg_dm
        moves = [
            (int(j), end[j] + outward * 20 * penny[j])
            for end, outward in ((p.low, -1), (p.high, 1))
            for j in np.flatnonzero(np.isfinite(end))
        ]
        answers = judged(
            known.model,
            [at_price(known.model, j, price) for j, price in moves],
            known.x,
            known.found.cost,
        )
        for (j, price), answer in zip(moves, answers, strict=True):
            assert answer.x is not None
            same = float(cost @ known.x + (price - cost[j]) * known.x[j])
            if abs(answer.x[j] - known.x[j]) < TRACE_KG_DM or answer.gap_share > 1.1 * CLOSE:
                continue
            assert answer.cost < same, (seed, known.model.names[j])
            checked += 1
    assert checked > 25


def test_price_now_is_inside_the_range() -> None:
    for seed in FARMS:
        if (known := priced(seed)) is not None:
            assert (known.prices.low <= known.model.cost + 1e-12).all(), seed
            assert (known.prices.high >= known.model.cost - 1e-12).all(), seed


# ---- what one more of a need costs


class Asked(Afrc):
    """The standard, with a little more ME or MP asked than it says."""

    more_me_mj_per_day = 0.0
    more_mp_g_per_day = 0.0

    def me_need(self, q: Array, gain_g_per_day: float | Array | None = None) -> Array:
        need = super().me_need(q, gain_g_per_day)
        if gain_g_per_day is None:
            return need + self.more_me_mj_per_day
        lifted = np.zeros(len(np.atleast_1d(gain_g_per_day)))
        lifted[0] = self.more_me_mj_per_day  # the ceiling, second, stays
        return need + lifted.reshape(-1, *(1 for _ in np.shape(q)))

    def protein_need(self, gain_g_per_day: float | None = None) -> float:
        return super().protein_need(gain_g_per_day) + self.more_mp_g_per_day


def asking(model: MixModel, **more: float) -> MixModel:
    needs = Asked(model.needs.batch, model.needs.margin, model.needs.maintenance)
    for name, amount in more.items():
        object.__setattr__(needs, name, amount)
    return replace(model, needs=needs)


def lifted(model: MixModel, row: int, by: float) -> MixModel:
    """The model with both ends of one fixed row moved."""
    rows = list(model.rows)
    rows[row] = replace(rows[row], lo=rows[row].lo + by, hi=rows[row].hi + by)
    return replace(model, rows=tuple(rows))


def slopes(known: Priced, moved: Any, step: float) -> tuple[float, float, float] | None:
    """Cost of one more unit, from a step down and a step up; and how sure it is.

    None when a moved model has no mix or its gap does not close.
    """
    costs = []
    for by in (-step, 0.0, step):
        answer = judged(moved(by), [Variant()], known.x, known.found.cost)[0]
        if answer.x is None or answer.gap_share > 1.1 * CLOSE:
            return None
        costs.append(answer.cost)
    sure = 2 * CLOSE * known.found.cost / step
    return (costs[1] - costs[0]) / step, (costs[2] - costs[1]) / step, sure


def compare(known: Priced, told: float, moved: Any, step: float, what: str) -> int:
    """1 when the price lies between the slopes of the cost on its two sides, 0 if not known."""
    from ration.errors import NotProved

    try:
        found = slopes(known, moved, step)
    except NotProved:
        return 0
    if found is None:
        return 0
    down, up, sure = found
    slack = sure + 0.02 * max(abs(down), abs(up))
    assert min(down, up) - slack <= told <= max(down, up) + slack, (what, down, told, up)
    return 1


def test_price_of_one_more_mj_and_gram_is_the_slope_of_the_least_cost() -> None:
    checked = priced_needs = 0
    for seed in FARMS:
        if (known := priced(seed)) is None or known.found.gap_share > 1.1e-6:
            continue
        row_price = known.tangent.row_price
        assert row_price is not None
        price = dict(zip(known.model.tangent_problem(known.x).row_names, row_price, strict=True))
        need = float(known.model.needs.me_need(known.model.quality_and_level(known.x[None])[0])[0])
        checked += compare(
            known,
            float(price[ENERGY]),
            lambda by, m=known.model: asking(m, more_me_mj_per_day=by),
            2e-4 * need,
            f"energy {seed}",
        )
        checked += compare(
            known,
            float(price[RUMEN] + price[FERMENT]),
            lambda by, m=known.model: asking(m, more_mp_g_per_day=by),
            2e-4 * known.model.needs.protein_need(),
            f"protein {seed}",
        )
        priced_needs += int(price[ENERGY] > 0) + int(price[RUMEN] + price[FERMENT] > 0)
    assert checked > 20
    assert priced_needs > 10


def test_price_of_a_limit_is_the_slope_of_the_least_cost() -> None:
    checked = 0
    for seed in FARMS[:20]:
        if (known := priced(seed)) is None or known.found.gap_share > 1.1e-6:
            continue
        row_price = known.tangent.row_price
        assert row_price is not None
        for i, row in enumerate(known.model.rows):
            told = float(row_price[4 + i])
            if abs(told) < 1e-6:
                continue
            step = 2e-4 * float(np.abs(row.coefficients) @ known.x)
            checked += compare(
                known,
                told,
                lambda by, m=known.model, i=i: lifted(m, i, by),
                step,
                f"{row.id} {seed}",
            )
    assert checked > 12


def test_nothing_to_price_is_said() -> None:
    from ration.errors import NotProved

    model = seeded_farm(0).model
    none = Found(None, np.inf, np.inf, 0)
    with pytest.raises(NotProved, match="no mix to price"):
        worth.prices(model, none, None, np.zeros(len(model.cost)))
