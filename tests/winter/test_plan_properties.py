"""What no change of one thing can do to the cost of a winter, on random small farms.

Origin: these follow from the question itself. A change that only lets more be done, or charges
less for the same, leaves every old plan open: the least cost cannot rise. Both costs are known to
within the gap each plan proves, so what is held is that the bound of the freer winter is not over
the cost of the other; that the gaps are small is held beside it. And what has a plan with less
must have one with more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from winter.small import planned, random_farm

from ration import what_if
from ration.farm import Farm, Store
from ration.quotes.records import Quote, Supply
from ration.winter import Plan

SEEDS = range(400, 410)
DUST = 1e-6
NO_SECOND_WAY = 402


@cache
def case(seed: int) -> tuple[Farm, tuple[Supply, ...]]:
    """Bought feed left over is worth nothing, so that no price moves what is left."""
    place, quotes = random_farm(
        seed, periods=2 + seed % 3, batches=2 if seed % 6 == 0 else 1, bags=seed % 5 == 0
    )
    rule = replace(place.winter, leftover_share=0.0)
    if seed % 4 == 0:
        trough = tuple(o.id for o in place.offers if o.feed.is_concentrate)
        rule = replace(rule, stores=(Store("bin", 1.2, trough),))
    return replace(place, winter=rule), quotes


@cache
def base(seed: int) -> Plan:
    return planned(*case(seed))


def changed(quotes: Sequence[Supply], which, **said) -> tuple[Supply, ...]:
    """The supplies with some quotes changed; a value may be a function of the quote."""
    out = []
    for s in quotes:
        now = {k: v(s.quote) if callable(v) else v for k, v in said.items()}
        out.append(replace(s, quote=replace(s.quote, **now)) if which(s) else s)
    return tuple(out)


def assert_no_dearer(freer: Plan, tighter: Plan, seed: int) -> float:
    """The freer winter's least cost is at most the other's; what it surely saves. [GBP]"""
    if not tighter.is_found:
        return 0.0
    assert freer.is_found, (seed, freer.why_not)
    assert freer.bound_gbp <= tighter.bill.total_gbp * (1 + DUST), seed
    return max(tighter.bound_gbp - freer.bill.total_gbp, 0.0)


def test_more_hay_never_costs_more() -> None:
    """Home hay left over is worth what it would fetch: 5 t more costs nothing."""
    saves = 0
    for seed in SEEDS:
        place, quotes = case(seed)
        offers = tuple(
            replace(o, stock_t_fresh=o.stock_t_fresh + 5.0) if o.is_home else o
            for o in place.offers
        )
        saves += (
            assert_no_dearer(planned(replace(place, offers=offers), quotes), base(seed), seed) > 1
        )
    assert saves >= 5


def test_a_longer_winter_never_costs_less() -> None:
    """Two periods more, so that the first ones stay as they are; the target is held from its day."""
    for seed in SEEDS:
        place, quotes = case(seed)
        after = what_if.apply(what_if.LongWinter(28), place)
        assert (after.end - place.end).days == 28
        long = planned(after, quotes)
        if long.is_found:
            assert base(seed).is_found, (seed, base(seed).why_not)
            assert base(seed).bound_gbp <= long.bill.total_gbp * (1 + DUST), seed
            assert long.bill.total_gbp > base(seed).bill.total_gbp, seed


def test_loosening_a_least_drop_never_costs_more() -> None:
    saves = 0
    for seed in SEEDS:
        place, quotes = case(seed)
        loose = changed(quotes, lambda s: True, least_drop_t=lambda q: q.least_drop_t / 3)
        saves += assert_no_dearer(planned(place, loose), base(seed), seed) > 1
    assert saves >= 2


def test_a_quote_dropped_never_lowers_the_cost() -> None:
    """The quote of which most is bought, and one at random."""
    misses = 0
    for seed in SEEDS:
        place, quotes = case(seed)
        if not base(seed).deliveries:
            continue
        most = max(base(seed).deliveries, key=lambda d: d.tonnes).supply.id
        other = quotes[seed % len(quotes)].id
        for gone in dict.fromkeys((most, other)):
            less = planned(place, tuple(s for s in quotes if s.id != gone))
            assert_no_dearer(base(seed), less, seed)
            misses += gone == most and (
                not less.is_found or less.bound_gbp > base(seed).bill.total_gbp + 1
            )
    assert misses >= 3


def test_raising_a_price_never_lowers_the_cost() -> None:
    rises = 0
    for seed in SEEDS:
        place, quotes = case(seed)
        rng = np.random.default_rng([12, seed])
        which = quotes[int(rng.integers(len(quotes)))].id

        def dearer(q: Quote):
            return tuple(
                replace(t, price_gbp_per_t_fresh=t.price_gbp_per_t_fresh * 1.15) for t in q.tiers
            )

        dear = changed(quotes, lambda s, which=which: s.id == which, tiers=dearer)
        rises += assert_no_dearer(base(seed), planned(place, dear), seed) > 0.5
    assert rises >= 2


def test_a_drop_charge_or_a_smaller_lorry_never_lowers_the_cost() -> None:
    for seed in SEEDS:
        place, quotes = case(seed)
        tight = changed(
            quotes,
            lambda s: s.quote.pack == "bulk",
            drop_charge_gbp=lambda q: q.drop_charge_gbp + 15,
            most_drop_t=lambda q: max(q.least_drop_t, 0.7),
        )
        assert_no_dearer(base(seed), planned(place, tight), seed)


def test_a_smaller_bin_or_a_gentler_step_never_lowers_the_cost() -> None:
    for seed in SEEDS:
        place, quotes = case(seed)
        trough = tuple(o.id for o in place.offers if o.feed.is_concentrate)
        rule = replace(place.winter, stores=(Store("bin", 0.8, trough),), most_change_kg=0.05)
        assert_no_dearer(base(seed), planned(replace(place, winter=rule), quotes), seed)


def fewer_head(seed: int, less: int) -> Plan:
    place, quotes = case(seed)
    flock = tuple(replace(b, head=b.head - less) for b in place.batches)
    return planned(replace(place, batches=flock), quotes)


def test_two_head_fewer_never_cost_more() -> None:
    """Without a bin: the same loads may not fit into one that is emptied more slowly."""
    for seed in SEEDS:
        if not case(seed)[0].winter.stores and seed != NO_SECOND_WAY:
            assert_no_dearer(fewer_head(seed, 2), base(seed), seed)


def test_five_head_fewer_still_have_a_plan() -> None:
    """The coarse plan's loads are refused by true needs here: others are tried."""
    assert_no_dearer(fewer_head(NO_SECOND_WAY, 5), base(NO_SECOND_WAY), NO_SECOND_WAY)


def test_bases_are_found_and_their_gaps_are_small() -> None:
    plans = [base(seed) for seed in SEEDS]
    assert sum(p.is_found for p in plans) >= len(plans) - 2
    gaps = np.array([p.gap_share for p in plans if p.is_found])
    assert np.median(gaps) <= 0.003
    assert gaps.max() <= 0.05


@pytest.mark.parametrize("seed", SEEDS[:4])
def test_the_order_of_quotes_does_not_matter(seed: int) -> None:
    place, quotes = case(seed)
    turned = planned(place, quotes[::-1])
    assert turned.is_found == base(seed).is_found
    if turned.is_found:
        assert turned.bound_gbp <= base(seed).bill.total_gbp * (1 + DUST)
        assert base(seed).bound_gbp <= turned.bill.total_gbp * (1 + DUST)


@pytest.mark.parametrize("seed", SEEDS[:3])
def test_the_same_winter_twice_is_the_same_plan(seed: int) -> None:
    again = planned(*case(seed))
    assert again.bill == base(seed).bill
    assert again.deliveries == base(seed).deliveries
    assert again.bound_gbp == base(seed).bound_gbp
