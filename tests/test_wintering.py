"""The ways of wintering: the budget to the penny, where it turns, how many to send.

The reference table is hand working: farm arithmetic on the invented inputs of the demo farm, each
total from unrounded lines. What can be held against print is: the yearly cost of a slatted house
(W-S49) and a Scottish bill for away-wintered hoggs (P-S124). The rest is held against itself worked
another way: a payment plan year by year, every sharing out tried, a budget worked again at the
value where it is said to turn.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ration.errors import InputError, OutOfRange
from ration.wintering import (
    Amount,
    Building,
    FeedGiven,
    Keep,
    Labour,
    Land,
    Terms,
    Visits,
    Way,
    Wintering,
    annuity,
    break_even_keep_p_per_head_week,
    budget,
    budgets,
    cheapest,
    cheapest_split,
    partial,
    switching,
)
from ration.wintering.budget import FEED, Budget, Line, building_gbp_per_year

HEAD, DAYS = 184, 156
TERMS = Terms(
    wage_gbp_per_h=13.48,
    hogg_gbp=110,
    crop_gbp=65,
    wool_gbp_per_kg=0.10,
    interest_share_per_year=0.06,
)
AWAY = Way(
    "away",
    "away",
    DAYS,
    keep=Keep(0.95),
    haulage=Amount(2 * 2.40),
    visits=Visits(4, 148, "mile", 0.45, 5),
    doses=Amount(2.10),
    feeds=(FeedGiven("storm hay", 0.9, 5, 160),),
    deaths_share=0.02,
)
HILL = Way(
    "hill",
    "hill",
    DAYS,
    doses=Amount(0.90),
    feeds=(FeedGiven("beet nuts", 0.25, 45, 265), FeedGiven("hay", 0.5, 45, 140)),
    labour=Labour(1, 60),
    deaths_share=0.08,
    wool_less_kg=0.3,
    barren_share=0.04,
)
IN_BYE = Way(
    "in-bye",
    "in-bye",
    DAYS,
    doses=Amount(0.90),
    feeds=(FeedGiven("hay", 0.80, 110, 140), FeedGiven("cubes", 0.15, 60, 290)),
    minerals=Amount(0.80),
    labour=Labour(40 / 60, DAYS),
    land=Land(9, 0.6, 110, 150),
    deaths_share=0.03,
)
HOUSED = Way(
    "housed",
    "shed",
    DAYS,
    doses=Amount(0.90),
    feeds=(FeedGiven("hay", 0.85, DAYS, 140), FeedGiven("cubes", 0.20, DAYS, 290)),
    minerals=Amount(0.80),
    labour=Labour(0.75, DAYS),
    bedding=Amount(1.50),
    building=Building(9800, 12, 0.02, 0.65),
    deaths_share=0.015,
)
WAYS = (AWAY, HILL, IN_BYE, HOUSED)
ALL = Wintering(TERMS, WAYS)

# hand working: line, then away, hill, in-bye, housed as printed; None for no such line
TABLE = (
    (("keep",), "21.17", None, None, None),
    (("haulage",), "4.80", None, None, None),
    (("visits",), "2.91", None, None, None),
    (("doses",), "2.10", "0.90", "0.90", "0.90"),
    ((FEED + "storm hay",), "0.72", None, None, None),
    ((FEED + "hay",), None, "3.15", "12.32", "18.56"),
    ((FEED + "cubes",), None, None, "2.61", "9.05"),
    ((FEED + "beet nuts", FEED + "hay"), None, "6.13", "12.32", "18.56"),
    (("minerals",), None, None, "0.80", "0.80"),
    (("labour",), None, "4.40", "7.62", "8.57"),
    (("bedding", "dung"), None, None, None, "1.50"),
    (("building",), None, None, None, "4.82"),
    (("land",), None, None, "4.04", None),
    (("deaths",), "2.20", "8.80", "3.30", "1.65"),
    (("wool", "barren"), None, "2.40", None, None),
)


# ---------------------------------------------------------------- the reference, to the penny


@pytest.mark.parametrize("row", TABLE, ids=lambda row: " and ".join(row[0]))
def test_every_line_comes_to_the_penny_of_the_hand_working(row):
    lines, *printed = row
    for found, expected in zip(budgets(ALL, HEAD), printed, strict=True):
        gbp = found.gbp(*lines)
        assert f"{gbp:.2f}" == (expected or "0.00"), found.way
        assert (gbp == 0) == (expected is None), found.way


@pytest.mark.parametrize(
    ("way", "total"), [(AWAY, "33.90"), (HILL, "22.63"), (IN_BYE, "31.59"), (HOUSED, "45.86")]
)
def test_totals_come_to_the_penny_of_the_hand_working(way, total):
    found = budget(way, TERMS, HEAD)
    assert f"{found.gbp_per_head:.2f}" == total
    assert found.gbp_for_flock == pytest.approx(HEAD * found.gbp_per_head, rel=1e-12)
    alive = HEAD * (1 - way.deaths_share)
    assert found.gbp_per_head_returned == pytest.approx(found.gbp_for_flock / alive, rel=1e-12)


@pytest.mark.parametrize(("home", "pence"), [(HILL, "44.4"), (IN_BYE, "84.6"), (HOUSED, "148.6")])
def test_break_even_keep_is_that_of_the_hand_working(home, pence):
    assert f"{break_even_keep_p_per_head_week(home, AWAY, TERMS, HEAD):.1f}" == pence


def test_hill_stops_being_cheapest_at_16_per_cent_deaths():
    # hand working: 8 % + 8.97 of 110, the lead over in-bye over the value of a hogg
    turn = _turns(ALL)["hill > deaths", True]
    assert f"{100 * turn.at:.0f} %" == "16 %"
    assert turn.at == pytest.approx(0.08 + 8.97 / 110, abs=0.0001)
    assert turn.to == "in-bye"


def test_the_order_of_the_reference_is_hill_in_bye_away_housed():
    order = sorted(budgets(ALL, HEAD), key=lambda b: b.gbp_per_head)
    assert [b.way for b in order] == ["hill", "in-bye", "away", "housed"]


# ---------------------------------------------------------------- against print


def test_a_scottish_bill_for_away_wintering_comes_out_as_printed():
    # P-S124, print: 17 a head for six months and 4 transport, 250 hoggs = 5,250
    way = Way("away", "away", 182, keep=Keep(17 / 26), haulage=Amount(4))
    assert budget(way, Terms(), 250).gbp_for_flock == pytest.approx(5250, abs=0.005)


def test_a_slatted_house_costs_a_year_what_is_printed():
    # W-S49, print: 400 a square metre is 20 a year over 20 years, 24 with upkeep, no interest
    bare = Building(400, 20, interest_share_per_year=0.0)
    assert building_gbp_per_year(bare, 0.06) == 20
    assert building_gbp_per_year(replace(bare, upkeep_share=0.01), 0.06) == 24


# ---------------------------------------------------------------- annuity


def test_annuity_of_the_hand_working():
    assert f"{annuity(9800, 0.06, 12):.2f}" == "1168.91"
    assert f"{building_gbp_per_year(HOUSED.building, 0.06):.2f}" == "887.19"


@given(
    capital=st.floats(0, 1e7),
    rate=st.floats(0, 0.4),
    years=st.integers(1, 60),
)
def test_an_annuity_pays_the_capital_off_year_by_year(capital, rate, years):
    owed, payment = capital, annuity(capital, rate, years)
    for _ in range(years):
        owed = owed * (1 + rate) - payment
    assert abs(owed) <= 1e-9 * capital * (1 + rate) ** years + 1e-9


def test_an_annuity_without_interest_is_even_and_near_it_is_close():
    assert annuity(1200, 0.0, 12) == 100
    assert annuity(1200, 1e-12, 12) == pytest.approx(100, rel=1e-9)


@pytest.mark.parametrize(
    "args",
    [(-1, 0.06, 12), (100, -0.01, 12), (100, 0.06, 0), (math.nan, 0.06, 12), (1, 1, math.inf)],
)
def test_an_annuity_of_nonsense_is_refused(args):
    with pytest.raises(OutOfRange):
        annuity(*args)


# ---------------------------------------------------------------- lines


def test_keep_on_heads_returned_is_not_paid_on_the_dead():
    sent = budget(AWAY, TERMS, HEAD).gbp("keep")
    on_returned = replace(AWAY, keep=Keep(0.95, "returned"))
    # hand working: 0.95 x 22.2857 weeks x 0.98
    assert budget(on_returned, TERMS, HEAD).gbp("keep") == pytest.approx(20.748, abs=5e-4)
    assert budget(on_returned, TERMS, HEAD).gbp("keep") == pytest.approx(0.98 * sent)


def test_interest_is_for_half_the_winter_on_what_is_laid_out():
    terms = replace(TERMS, is_interest_counted=True)
    found = budget(HOUSED, terms, HEAD)
    # hand working: 0.90 + 27.612 + 0.80 + 8.5715 + 1.50 = 39.3835 at 6 % for 78 of 365 days
    assert found.gbp("interest") == pytest.approx(39.3835 * 0.06 * 78 / 365, abs=1e-4)


def test_sunk_cost_of_a_dead_one_is_a_share_of_her_own_outlay():
    terms = replace(TERMS, sunk_share=0.5)
    # hand working: hill, 0.90 + 6.13125 a head; labour is the flock's
    assert budget(HILL, terms, HEAD).gbp("deaths") == pytest.approx(0.08 * (110 + 7.03125 / 2))
    on_returned = replace(AWAY, keep=Keep(0.95, "returned"))
    both = [budget(w, terms, HEAD).gbp("deaths") for w in (AWAY, on_returned)]
    assert both[0] - both[1] == pytest.approx(0.02 * 0.5 * 0.95 * DAYS / 7)


def test_a_line_that_grows_with_the_head_is_the_same_for_each_at_any_number():
    way = replace(IN_BYE, scaled=("land", "labour"))
    for line in ("land", "labour"):
        found = next(x for x in budget(way, TERMS, HEAD).lines if x.id == line)
        assert found.flock_gbp == 0
        assert found.each_gbp(1) == pytest.approx(budget(IN_BYE, TERMS, HEAD).gbp(line))


def test_dung_and_growth_are_taken_off():
    way = replace(HOUSED, dung=Amount(0.60), heavier_kg=6)
    found = budget(way, replace(TERMS, growth_gbp_per_kg=0.5), HEAD)
    assert found.gbp("dung") == -0.60
    assert found.gbp("growth") == -3.00


def test_barrenness_is_discounted_over_1_6_years():
    assert budget(HILL, TERMS, HEAD).gbp("barren") == pytest.approx(0.04 * 65 / 1.06**1.6)


def test_the_mix_stands_in_place_of_feeds_by_hand():
    way = replace(HOUSED, is_by_mix=True, mix_gbp_per_head=20.0)
    assert budget(way, TERMS, HEAD).gbp(FEED) == 20.0


@pytest.mark.parametrize(
    ("way", "head"),
    [
        (replace(HOUSED, is_by_mix=True), HEAD),
        (replace(HOUSED, feeds=(FeedGiven("hay", 1, 1),)), HEAD),
        (replace(HILL, deaths_share=1.0), HEAD),
        (HILL, 0),
    ],
)
def test_a_budget_that_cannot_be_is_refused(way, head):
    with pytest.raises(InputError) as error:
        budget(way, TERMS, head)
    assert way.name in str(error.value)


def test_keep_of_a_way_that_is_on_no_keep_is_refused():
    with pytest.raises(InputError, match="not on keep"):
        break_even_keep_p_per_head_week(HILL, HOUSED, TERMS, HEAD)


# ---------------------------------------------------------------- properties

amounts = st.builds(
    Amount, st.sampled_from([0.0, 0.9, 2.5, 7.0]), st.sampled_from([0.0, 0.0, 150.0, 900.0])
)
feeds = st.lists(
    st.builds(
        FeedGiven,
        st.sampled_from(["hay", "cubes", "beet nuts"]),
        st.floats(0.05, 1.2),
        st.integers(1, 150),
        st.sampled_from([140.0, 160.0, 290.0]),
    ),
    max_size=2,
    unique_by=lambda f: f.name,
).map(tuple)
ways = st.builds(
    Way,
    name=st.just("way"),
    place=st.just("in-bye"),
    days=st.integers(60, 200),
    keep=st.none() | st.builds(Keep, st.floats(0.2, 2.0), st.sampled_from(["sent", "returned"])),
    haulage=amounts,
    visits=st.none()
    | st.builds(
        Visits, st.integers(1, 12), st.floats(5, 300), st.just("mile"), st.just(0.45),
        st.floats(0, 8),
    ),
    doses=amounts,
    feeds=feeds,
    minerals=amounts,
    labour=st.none() | st.builds(Labour, st.floats(0, 2), st.integers(0, 150)),
    bedding=amounts,
    building=st.none() | st.builds(Building, st.floats(0, 20_000), st.integers(5, 30)),
    land=st.none() | st.builds(Land, st.floats(0, 20), st.floats(0, 1.5), st.just(110.0)),
    deaths_share=st.sampled_from([0.0, 0.01, 0.03, 0.08, 0.2]),
    wool_less_kg=st.sampled_from([0.0, 0.3]),
    barren_share=st.sampled_from([0.0, 0.04]),
    heavier_kg=st.sampled_from([0.0, 4.0]),
)  # fmt: skip
terms = st.builds(
    Terms,
    wage_gbp_per_h=st.floats(5, 30),
    hogg_gbp=st.floats(20, 300),
    crop_gbp=st.floats(20, 150),
    wool_gbp_per_kg=st.sampled_from([0.0, 0.1]),
    growth_gbp_per_kg=st.sampled_from([0.0, 0.4]),
    interest_share_per_year=st.floats(0.0, 0.15),
    is_interest_counted=st.booleans(),
    sunk_share=st.sampled_from([0.0, 0.5]),
    basis=st.sampled_from(["wintered", "returned"]),
)
heads = st.integers(1, 400)


@st.composite
def comparisons(draw, most=4):
    number = draw(st.integers(2, most))
    drawn = [draw(ways) for _ in range(number)]
    return Wintering(draw(terms), tuple(replace(w, name=f"way {i}") for i, w in enumerate(drawn)))


def _cost(wintering: Wintering, i: int, head: int) -> float:
    return budget(wintering.ways[i], wintering.terms, head).by(wintering.terms.basis)


def _turns(wintering, head=HEAD):
    return {(s.lever.id, s.is_up): s for s in switching(wintering, head).found}


@given(comparisons(), heads)
def test_at_a_switching_value_the_two_ways_cost_the_same_and_no_other_is_cheaper(wintering, head):
    best = cheapest(budgets(wintering, head), wintering.terms.basis)
    for turn in switching(wintering, head).found:
        moved = turn.lever.put(wintering, turn.at)
        at = next(i for i, w in enumerate(wintering.ways) if w.name == turn.to)
        costs = [_cost(moved, i, head) for i in range(len(wintering.ways))]
        near = 1e-6 * max(1.0, *(abs(c) for c in costs))
        assert abs(costs[best] - costs[at]) <= near, turn
        assert min(costs) >= costs[best] - near, turn


@given(comparisons(), heads, st.floats(0.02, 0.98))
def test_short_of_its_switching_value_the_cheapest_way_stays(wintering, head, part):
    best = cheapest(budgets(wintering, head), wintering.terms.basis)
    for turn in switching(wintering, head).found:
        short = turn.lever.value + part * (turn.at - turn.lever.value)
        moved = turn.lever.put(wintering, short)
        costs = [_cost(moved, i, head) for i in range(len(wintering.ways))]
        assert costs[best] <= min(costs) + 1e-6 * max(1.0, *(abs(c) for c in costs)), turn


@given(comparisons(), heads, st.floats(0.0, 3.0))
def test_a_figure_said_never_to_matter_never_does(wintering, head, times):
    best = cheapest(budgets(wintering, head), wintering.terms.basis)
    for lever in switching(wintering, head).steady:
        value = min(times * (lever.value or 0.3), lever.most)
        moved = lever.put(wintering, value)
        costs = [_cost(moved, i, head) for i in range(len(wintering.ways))]
        assert costs[best] <= min(costs) + 1e-6 * max(1.0, *(abs(c) for c in costs)), lever.id


@settings(max_examples=25)
@given(comparisons(), heads)
def test_every_lever_puts_its_own_value_back_without_changing_anything(wintering, head):
    for lever in (*switching(wintering, head).steady, *_levers_found(wintering, head)):
        again = lever.put(wintering, lever.value)
        for i in range(len(wintering.ways)):
            assert _cost(again, i, head) == pytest.approx(_cost(wintering, i, head), rel=1e-12)


def _levers_found(wintering, head):
    return tuple(s.lever for s in switching(wintering, head).found)


@given(terms, ways, ways.filter(lambda w: w.keep is not None), heads)
def test_at_the_break_even_keep_home_and_away_cost_the_same(some_terms, home, away, head):
    pence = break_even_keep_p_per_head_week(home, away, some_terms, head)
    at = replace(away, keep=replace(away.keep, gbp_per_head_week=pence / 100))
    costs = [budget(w, some_terms, head).by(some_terms.basis) for w in (home, at)]
    assert costs[0] == pytest.approx(costs[1], rel=1e-9, abs=1e-7)


@given(terms, ways, ways, heads)
def test_a_partial_budget_leaves_the_difference_of_the_two(some_terms, one, two, head):
    base, other = budget(one, some_terms, head), budget(two, some_terms, head)
    told = partial(base, other)
    expected = base.gbp_per_head - other.gbp_per_head
    assert told.gain_gbp_per_head == pytest.approx(expected, rel=1e-9, abs=1e-7)
    boxes = (told.added_returns, told.saved_costs, told.added_costs, told.lost_returns)
    assert all(change.gbp_per_head > 0 for box in boxes for change in box)
    back = partial(other, base)
    assert {c.name for c in back.saved_costs} == {c.name for c in told.added_costs}
    assert {c.name for c in back.added_returns} == {c.name for c in told.lost_returns}


@given(terms, ways, heads)
def test_lines_add_up_and_fixed_and_per_head_make_the_flock(some_terms, way, head):
    found = budget(way, some_terms, head)
    flock = found.flock_gbp + head * found.per_head_gbp
    assert flock == pytest.approx(found.gbp_for_flock, rel=1e-9, abs=1e-7)
    assert len({line.id for line in found.lines}) == len(found.lines)


@given(terms, ways, heads)
def test_more_head_never_cost_more_each(some_terms, way, head):
    one, more = budget(way, some_terms, head), budget(way, some_terms, head + 50)
    assert more.gbp_per_head <= one.gbp_per_head + 1e-9


def test_partial_budget_of_the_reference_puts_each_line_in_its_box():
    told = partial(budget(HOUSED, TERMS, HEAD), budget(HILL, TERMS, HEAD))
    assert {c.name for c in told.lost_returns} == {"deaths", "wool lost", "more barren"}
    assert {c.name for c in told.added_costs} == {"beet nuts"}
    assert told.added_returns == ()
    assert "building" in {c.name for c in told.saved_costs}


# ---------------------------------------------------------------- how many to send


def _brute(found, places, head):
    """Every whole-number sharing out, one by one."""
    caps = [head if p is None else p for p in places]
    best = None
    for numbers in itertools.product(*(range(min(c, head) + 1) for c in caps[:-1])):
        last = head - sum(numbers)
        if not 0 <= last <= caps[-1]:
            continue
        cost = sum(
            b.flock_gbp + n * b.per_head_gbp
            for b, n in zip(found, (*numbers, last), strict=True)
            if n
        )
        best = cost if best is None or cost < best else best
    return best


@given(
    costs=st.lists(
        st.tuples(st.sampled_from([0.0, 20.0, 150.0, 400.0, 2000.0]), st.floats(-5, 60)),
        min_size=1,
        max_size=4,
    ),
    head=st.integers(1, 14),
    data=st.data(),
)
def test_the_cheapest_sharing_out_is_that_of_trying_every_one(costs, head, data):
    found = [
        Budget(f"way {i}", head, 0.0, (Line("labour", fixed, each),))
        for i, (fixed, each) in enumerate(costs)
    ]
    places = [data.draw(st.none() | st.integers(0, head)) for _ in costs]
    split, expected = cheapest_split(found, places, head), _brute(found, places, head)
    assert split.is_found == (expected is not None)
    if expected is not None:
        assert split.gbp == pytest.approx(expected, rel=1e-9, abs=1e-7)
        assert sum(s.head for s in split.sent) == head
        room = dict(zip((b.way for b in found), places, strict=True))
        assert all(room[s.way] is None or s.head <= room[s.way] for s in split.sent)


def test_keep_for_110_and_a_shed_of_170_are_filled_from_the_cheaper_end():
    # hand working of the demo without hill and in-bye: the shed's 170 at 32.46 a head and 2,464.35
    # once, away's 110 at 30.99 and 536.00 once: away full, the rest housed
    found = [budget(w, TERMS, HEAD) for w in (AWAY, HOUSED)]
    split = cheapest_split(found, [110, 170], HEAD)
    assert [(s.way, s.head) for s in split.sent] == [("away", 110), ("housed", 74)]


def test_a_way_paid_once_is_left_out_when_another_has_room():
    found = [budget(w, TERMS, HEAD) for w in (AWAY, IN_BYE)]
    assert [s.way for s in cheapest_split(found, [110, None], HEAD).sent] == ["in-bye"]


def test_too_few_places_are_told_not_filled():
    split = cheapest_split([budget(AWAY, TERMS, HEAD)], [110], HEAD)
    assert not split.is_found
    assert split.room == 110


def test_nobody_to_place_is_refused():
    with pytest.raises(InputError):
        cheapest_split([budget(AWAY, TERMS, HEAD)], [110], 0)


def test_the_interest_turns_are_found_by_halving():
    dear = replace(HOUSED, name="shed", building=Building(40_000, 25), bedding=Amount())
    lodged = replace(HOUSED, name="rented", building=None, haulage=Amount(0, 2800))
    both = Wintering(TERMS, (dear, lodged))
    turn = next(s for s in switching(both, HEAD).found if s.lever.id == "interest_share_per_year")
    assert not turn.lever.is_straight
    moved = turn.lever.put(both, turn.at)
    assert _cost(moved, 0, HEAD) == pytest.approx(_cost(moved, 1, HEAD), rel=1e-9)
