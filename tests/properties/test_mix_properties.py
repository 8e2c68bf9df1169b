"""What must hold of the cheapest mix whatever the farm: prices, limits, order, scale, supply.

Each property is a fact of the trade (common practice, no source): a dearer feed cannot make the
ration cheaper, a looser limit cannot make it dearer. Two answers are each proved to a gap, so they
are compared through their proofs: the lower bound of one against the cost of the other.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from properties.strategies import Made, broken, cost_gbp_per_head_day, farms

from ration import search
from ration.limits import Bounds
from ration.search import Found

# 30 in the usual run, 1,500 in the deep one
FEW = settings(
    max_examples=settings().max_examples * 3 // 10, suppress_health_check=[HealthCheck.too_slow]
)
GAP = 1e-5
USED_KG_DM = 1e-6


def cheapest(farm: Made) -> Found:
    return search.search(farm.model, gap_share=GAP)[0]


def is_no_cheaper(dear: Found, cheap: Found) -> bool:
    """The first is proved not to cost less than the second, or cannot be told from it."""
    return dear.cost >= cheap.lower_bound - 1e-9 * abs(cheap.cost)


@st.composite
def farms_and_feeds(draw: st.DrawFn) -> tuple[Made, int]:
    farm = draw(farms())
    return farm, draw(st.integers(0, len(farm.offers) - 1))


@given(farms_and_feeds(), st.floats(1.0, 3.0))
@FEW
def test_cost_never_falls_when_a_price_rises(farm_feed: tuple[Made, int], factor: float) -> None:
    farm, j = farm_feed
    before = cheapest(farm)
    after = cheapest(farm.at_prices({j: farm.prices_gbp_per_t[j] * factor}))
    assert (before.x is None) == (after.x is None)
    if before.x is not None and after.x is not None:
        assert is_no_cheaper(after, before)
        # and rises by no more than the dearer feed in the old mix
        more = farm.model.cost[j] * (factor - 1) * before.x[j]
        assert after.lower_bound <= before.cost + more + 1e-9


LOOSER = {
    "intake_kg_dm_least": 0.9,
    "intake_kg_dm_most": 1.1,
    "forage_share_of_dm_least": 0.8,
    "concentrate_share_of_dm_most": 1.1,
    "concentrate_kg_fresh_most": 1.3,
    "starch_and_sugar_share_of_dm_most": 1.3,
    "oil_share_of_dm_most": 1.3,
    "copper_mg_per_kg_dm_most": 1.2,
    "ca_to_p_least": 0.9,
    "ca_to_p_most": 1.2,
    "ceiling_gain_g_per_day": 1.2,
}


@given(farms(), st.sampled_from(sorted(LOOSER)))
@FEW
def test_cost_never_rises_when_a_limit_is_loosened(farm: Made, name: str) -> None:
    value = farm.bounds.values[name]
    assert value is not None
    # more room in the stomach also lifts the most of any one feed: as it should
    before, after = cheapest(farm), cheapest(farm.with_bounds(**{name: value * LOOSER[name]}))
    if before.x is not None:
        assert after.x is not None
        assert is_no_cheaper(before, after)


@given(farms(), st.sampled_from(sorted(n for n in LOOSER if not n.startswith("intake"))))
@FEW
def test_cost_never_rises_when_a_limit_is_dropped(farm: Made, name: str) -> None:
    before, after = cheapest(farm), cheapest(farm.with_bounds(**{name: None}))
    if before.x is not None:
        assert after.x is not None
        assert is_no_cheaper(before, after)


@given(farms(), st.floats(0.0, 40.0))
@FEW
def test_cost_never_falls_when_the_margin_rises(farm: Made, percent: float) -> None:
    """More of every need from the same feeds, under a ceiling that rises as much."""
    free = farm.with_bounds(ceiling_gain_g_per_day=None)
    more = replace(free, needs=replace(free.needs, margin=free.needs.margin * (1 + percent / 100)))
    before, after = cheapest(free), cheapest(more)
    if after.x is not None:
        assert before.x is not None
        assert is_no_cheaper(after, before)


@given(farms(), st.randoms(use_true_random=False))
@FEW
def test_order_of_the_feeds_changes_nothing(farm: Made, random: object) -> None:
    order = list(range(len(farm.offers)))
    random.shuffle(order)  # type: ignore[attr-defined]
    before = cheapest(farm)
    after = cheapest(replace(farm, offers=tuple(farm.offers[j] for j in order)))
    assert (before.x is None) == (after.x is None)
    if before.x is not None:
        assert is_no_cheaper(before, after)
        assert is_no_cheaper(after, before)
        assert before.cost == pytest.approx(after.cost, rel=1.1e-3)


def with_twin(farm: Made, j: int, dearer_gbp_per_t: float) -> Made:
    """The farm with one feed offered a second time, in the same families, with no stock of its own.

    Only feeds without limits of their own, else a twin is more room, not the same feed again.
    """
    one = farm.offers[j]
    twin = replace(
        one, id="twin", price_gbp_per_t_fresh=one.price_gbp_per_t_fresh + dearer_gbp_per_t
    )
    families = tuple(
        (words, (*ids, "twin") if one.id in ids else ids, share, kg)
        for words, ids, share, kg in farm.bounds.family_caps
    )
    bounds = Bounds(farm.bounds.values, families, farm.bounds.origin)
    return replace(farm, offers=(*farm.offers, twin), bounds=bounds)


def is_free(farm: Made, j: int) -> bool:
    """No limit of the feed's own."""
    one = farm.offers[j]
    return (
        one.most_kg_fresh_per_head_day is None
        and one.most_share_of_dm is None
        and one.least_kg_fresh_per_head_day == 0
        and one.least_share_of_dm == 0
        and one.id not in farm.stock_kg_dm_per_head_day
    )


@given(farms_and_feeds())
@FEW
def test_same_feed_offered_twice_changes_nothing(farm_feed: tuple[Made, int]) -> None:
    farm, j = farm_feed
    assume(is_free(farm, j))
    before, after = cheapest(farm), cheapest(with_twin(farm, j, 0.0))
    assert (before.x is None) == (after.x is None)
    if before.x is not None:
        assert is_no_cheaper(before, after)
        assert is_no_cheaper(after, before)
        assert before.cost == pytest.approx(after.cost, rel=1.1e-3)


@given(farms_and_feeds(), st.floats(0.5, 200))
@FEW
def test_dearer_twin_of_a_feed_is_never_used(
    farm_feed: tuple[Made, int], dearer_gbp_per_t: float
) -> None:
    farm, j = farm_feed
    assume(is_free(farm, j))
    twin = with_twin(farm, j, dearer_gbp_per_t)
    answer = cheapest(twin)
    if answer.x is not None:
        # what the twin costs more is all within the proved gap, which is next to nothing
        dear = twin.model.cost[-1] - twin.model.cost[j]
        assert answer.x[-1] * dear <= answer.cost - answer.lower_bound + 1e-12
        assert answer.x[-1] <= USED_KG_DM


@given(farms(), st.floats(0.01, 100))
@FEW
def test_scaling_all_prices_scales_the_cost(farm: Made, factor: float) -> None:
    prices = {j: p * factor for j, p in enumerate(farm.prices_gbp_per_t)}
    before, after = cheapest(farm), cheapest(farm.at_prices(prices))
    assert (before.x is None) == (after.x is None)
    if before.x is not None:
        assert after.cost >= before.lower_bound * factor * (1 - 1e-9)
        assert before.cost * factor >= after.lower_bound * (1 - 1e-9)
        assert after.cost == pytest.approx(before.cost * factor, rel=1.1e-3)


@given(farms())
@FEW
def test_supply_worked_from_the_feeds_meets_every_need_and_limit(farm: Made) -> None:
    answer = cheapest(farm)
    if answer.x is not None:
        assert broken(farm, answer.x) == []
        assert cost_gbp_per_head_day(farm, answer.x) == pytest.approx(answer.cost, rel=1e-9)


@given(farms())
@FEW
def test_price_of_everything_for_nothing_is_nothing(farm: Made) -> None:
    """Zero is allowed as a price; whether there is a mix does not depend on prices."""
    free = cheapest(farm.at_prices(dict.fromkeys(range(len(farm.offers)), 0.0)))
    assert (free.x is None) == (cheapest(farm).x is None)
    if free.x is not None:
        assert free.cost == 0.0
        assert broken(farm, np.asarray(free.x)) == []
