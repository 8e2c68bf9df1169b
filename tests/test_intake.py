"""What is eaten of hay: the published points and the straight row of a hay fed to appetite.

Rows with one printed number stand in tests/published/intake.csv. Here: the points as printed
(P-S83, P-S97, P-S131, P-S140, P-S141, P-S142), properties over whole ranges, and refusals. Where
nothing is named the expected number is arithmetic by hand.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ration.errors import OutOfRange
from ration.standards import intake

WEIGHTS = st.floats(15, 60)


def published(source: str) -> list[float]:
    return [p.share for p in intake.SUBSTITUTION_POINTS if p.source == source]


@pytest.mark.parametrize(
    ("source", "shares"),
    [
        ("P-S140", [0.63]),
        ("P-S141", [0.62, 0.30]),
        ("P-S142", [1.05, 0.12, 1.76]),
        ("P-S97", [1.1]),
        ("P-S131", [0.50, 0.36, 0.25]),
    ],
)
def test_published_substitution(source, shares):
    # read in the abstracts named
    assert published(source) == shares
    marks = {p.mark for p in intake.SUBSTITUTION_POINTS if p.source == source}
    assert marks == {"print"}


@pytest.mark.parametrize(
    ("grams", "share", "total_kg"), [(100, 0.62, 0.484), (200, 0.57, 0.526), (400, 0.47, 0.634)]
)
def test_hay_falls_as_the_welsh_lambs_left_it(grams, share, total_kg):
    # derived from P-S83: 451 g alone, 3 g less for each 1 % of concentrate, concentrate 87 % DM
    dry = grams * 0.87 / 1000
    hay = intake.observed_hay_beside_concentrate_kg_dm_per_day(20.8, dry)
    assert hay + dry == pytest.approx(total_kg, abs=0.001)
    assert (0.451 - hay) / dry == pytest.approx(share, abs=0.006)
    drop_per_percent = (0.451 - hay) * 1000 / (100 * dry / (hay + dry))
    assert drop_per_percent == pytest.approx(3.0, abs=0.01)
    assert share in published("P-S83")


def test_every_published_point_says_where_it_comes_from():
    for p in intake.SUBSTITUTION_POINTS:
        assert bool(p.source) is (p.mark != "practice")
        assert 0 < p.share < 2
    practised = [
        (p.me_mj_per_kg_dm, p.share) for p in intake.SUBSTITUTION_POINTS if p.mark == "practice"
    ]
    assert practised == list(intake.SUBSTITUTION_BY_PRACTICE)
    assert "disagree" in intake.SOURCES_DISAGREE


def test_the_sources_straddle_the_line_of_practice():
    # the published rates lie on both sides of what practice says of average hay (0.5 to 0.6)
    shares = [p.share for p in intake.SUBSTITUTION_POINTS if p.mark == "print"]
    assert min(shares) < intake.substitution_share(8.5) < max(shares)


@given(st.floats(3, 15), st.floats(3, 15))
def test_better_hay_is_left_for_more_trough_feed(a, b):
    low, high = sorted((a, b))
    assert 0.1 <= intake.substitution_share(low) <= intake.substitution_share(high) <= 1.0


@given(
    appetite=st.floats(0, 2),
    share=st.floats(0, 1.99),
    first=st.floats(0, 1),
    more=st.floats(0, 1),
)
def test_total_dry_matter_rises_with_trough_feed_where_substitution_is_under_one(
    appetite, share, first, more
):
    def eaten(kg):
        hay = intake.hay_beside_concentrate_kg_dm_per_day(appetite, share, kg)
        assert 0 <= hay <= appetite
        return hay + kg

    change = eaten(first + more) - eaten(first)
    if share <= 1:
        assert change >= -1e-12
        assert change >= (1 - share) * more - 1e-12


@given(weight_kg=WEIGHTS, first=st.floats(0, 0.9), more=st.floats(0, 0.9))
def test_the_welsh_lambs_total_rises_and_their_hay_falls(weight_kg, first, more):
    def hay(kg):
        return intake.observed_hay_beside_concentrate_kg_dm_per_day(weight_kg, kg)

    assert 0 < hay(first + more) <= hay(first) + 1e-12
    assert hay(first + more) + first + more >= hay(first) + first - 1e-12
    assert hay(0) == pytest.approx(intake.observed_hay_intake_kg_dm_per_day(weight_kg))


@given(weight_kg=WEIGHTS)
def test_average_hay_over_poorer_hay_over_straw(weight_kg):
    average = intake.observed_hay_intake_kg_dm_per_day(weight_kg)
    poorer = intake.observed_poor_hay_intake_kg_dm_per_day(weight_kg)
    straw = intake.observed_straw_intake_kg_dm_per_day(weight_kg)
    assert average > poorer > straw > 0
    # far under the rule for fattening lambs on good feed, and under 3 % of weight
    assert average < 0.03 * weight_kg < intake.fattening_lamb_rule_kg_dm_per_day(weight_kg)


@pytest.mark.parametrize("weight_kg", [20, 20.8, 21])
def test_a_small_hill_lamb_eats_under_half_a_kilogram_of_hay(weight_kg):
    # P-S83: 451 g a day; between 0.40 and 0.50 kg at 20 to 21 kg
    assert 0.40 < intake.observed_hay_intake_kg_dm_per_day(weight_kg) < 0.50


# ---- the straight row


def test_row_of_two_hays_a_trough_feed_and_a_mineral_by_hand():
    row, total = intake.appetite_row(
        [0.8, 0.5, 0.0, math.nan], 0.55, [1, 1, 0, 0], [0, 0, 1, 0], hay=0
    )
    assert row.tolist() == pytest.approx([1.0, 1.6, 0.55, 0.0])
    assert total == 0.8


@given(
    appetite=st.lists(st.floats(0.2, 1.5), min_size=2, max_size=5),
    share=st.floats(0, 1.5),
    trough_kg=st.floats(0, 0.6),
    data=st.data(),
)
def test_the_row_says_what_substitution_says(appetite, share, trough_kg, data):
    n = len(appetite)
    hay = data.draw(st.integers(0, n - 1))
    is_forage = [True] * n + [False]
    row, total = intake.appetite_row([*appetite, 0.0], share, is_forage, [False] * n + [True], hay)
    alone = np.zeros(n + 1)
    alone[hay] = appetite[hay]
    assert row @ alone == pytest.approx(total)
    # any forage eaten alone to its own appetite fills them just as well
    for j in range(n):
        other = np.zeros(n + 1)
        other[j] = appetite[j]
        assert row @ other == pytest.approx(total)
    beside = alone.copy()
    beside[-1] = trough_kg
    beside[hay] = intake.hay_beside_concentrate_kg_dm_per_day(appetite[hay], share, trough_kg)
    if beside[hay] > 0:
        assert row @ beside == pytest.approx(total)
    else:
        assert row @ beside >= total - 1e-12


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"hay": 2}, "no forage"),
        ({"hay": 9}, "no forage"),
        ({"hay": -1}, "no forage"),
        ({"appetite_kg_dm_by_forage": [0.0, 0.5, 0.0]}, "appetite for forage 0 is 0 kg"),
        ({"appetite_kg_dm_by_forage": [0.8, math.nan, 0.0]}, "forage 1 is nan"),
        ({"appetite_kg_dm_by_forage": [0.8, math.inf, 0.0]}, "forage 1 is inf"),
        ({"appetite_kg_dm_by_forage": [0.8, -0.5, 0.0]}, "forage 1 is -0.5"),
        ({"substitution": -0.1}, "substitution -0.1"),
        ({"substitution": 2.1}, "substitution 2.1"),
        ({"substitution": math.nan}, "substitution nan"),
        ({"is_forage": [1, 1]}, "one length"),
        ({"appetite_kg_dm_by_forage": [0.8]}, "one length"),
    ],
)
def test_a_row_that_cannot_be_is_refused(change, says):
    asked = {
        "appetite_kg_dm_by_forage": [0.8, 0.5, 0.0],
        "substitution": 0.5,
        "is_forage": [1, 1, 0],
        "is_concentrate": [0, 0, 1],
        "hay": 0,
    }
    with pytest.raises(OutOfRange, match=says):
        intake.appetite_row(**{**asked, **change})


def test_all_faults_of_a_row_are_told_at_once():
    with pytest.raises(OutOfRange) as caught:
        intake.appetite_row([0.0, -1.0, 0.0], 0.5, [1, 1, 0], [0, 0, 1], hay=2)
    assert len(caught.value.problems) == 3


@pytest.mark.parametrize("value", [2.9, 15.1, math.nan, -8.5])
def test_hay_of_no_believable_energy_is_refused(value):
    with pytest.raises(OutOfRange, match="energy of the hay"):
        intake.substitution_share(value)


@pytest.mark.parametrize("value", [0.0, -20.0, 101.0, math.nan])
def test_no_believable_weight_is_refused(value):
    for equation in (
        intake.observed_hay_intake_kg_dm_per_day,
        intake.observed_poor_hay_intake_kg_dm_per_day,
        intake.observed_straw_intake_kg_dm_per_day,
        intake.observed_barley_straw_intake_kg_dm_per_day,
        intake.fattening_lamb_rule_kg_dm_per_day,
        intake.digestible_protein_at_most_hay_g_per_day,
        intake.concentrate_at_most_energy_kg_per_day,
    ):
        with pytest.raises(OutOfRange, match="live weight"):
            equation(value)


def test_a_stage_that_is_not_known_names_those_that_are():
    with pytest.raises(OutOfRange, match="in lamb, in milk"):
        intake.ewe_intake_share_of_weight("dry")


@pytest.mark.parametrize(
    ("appetite", "kg"), [(-0.1, 0.2), (0.5, -0.2), (math.nan, 0), (0.5, math.inf)]
)
def test_amounts_below_nothing_are_refused(appetite, kg):
    with pytest.raises(OutOfRange, match="0 or more"):
        intake.hay_beside_concentrate_kg_dm_per_day(appetite, 0.5, kg)


# ---- side by side


def test_predictions_stand_side_by_side_with_their_sources():
    told = intake.Appetite(30, q=0.47).predictions()
    by_source = {p.source: p for p in told}
    assert {"P-S83", "P-S130", "P-S131", "AFRC-1993", "A-S9"} <= set(by_source)
    # (104.7 x 0.5 + 0.307 x 30 - 15) x 30^0.75 / 1000 = 0.597, 4 % of 30 kg
    half = {p.source: p for p in intake.Appetite(30, q=0.5).predictions()}
    assert half["AFRC-1993"].kg_dm_per_day == pytest.approx(0.597, abs=0.0005)
    assert by_source["A-S9"].kg_dm_per_day == pytest.approx(1.2)
    assert all(p.mark in ("print", "restated", "derived", "memory") for p in told)
    assert all(p.kg_dm_per_day >= 0 for p in told)


def test_predictions_leave_out_what_nobody_has_told():
    assert "AFRC-1993" not in {p.source for p in intake.Appetite(30).predictions()}
    assert "CSIRO-2007" not in {p.source for p in intake.Appetite(30, srw_kg=60).predictions()}


def test_the_australian_equation_stands_beside_the_others():
    # hand: 0.04 x 60 x Z (1.7 - Z) = 1.65 kg at 40 of 60 kg, times 1 - 1.7 (0.8 - 0.58) = 0.626
    told = intake.Appetite(40, srw_kg=60, digestibility_share=0.58).predictions()
    eaten = {p.source: p for p in told}["CSIRO-2007"]
    assert eaten.kg_dm_per_day == pytest.approx(1.03, abs=0.005)
    assert eaten.mark == "memory"


@given(weight_kg=WEIGHTS, q=st.floats(0.15, 0.85))
def test_no_prediction_is_ever_below_nothing(weight_kg, q):
    assert all(p.kg_dm_per_day >= 0 for p in intake.Appetite(weight_kg, q=q).predictions())
