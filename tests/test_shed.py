"""Floor, trough, dung, water, straw and store against figures read elsewhere.

Each row of `PUBLISHED` names its source and how the expected number is known: print, restated,
derived (arithmetic on print), memory, practice (common practice, no source) or hand (hand working).
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ration.errors import OutOfRange
from ration.wintering import shed

# what, found, expected as printed, source, origin
PUBLISHED = (
    ("128 m2 at 0.75", shed.heads_that_fit(128, 0.75), "170", "P-S85", "derived"),
    ("128 m2 at 0.9", shed.heads_that_fit(128, 0.9), "142", "P-S85", "derived"),
    ("50 hoggs at 0.46 m2", 50 * shed.OLDER_FLOOR_M2[0], "23", "", "practice"),
    ("trough of 184", 184 * shed.TROUGH_M, "56.1", "", "practice"),
    ("trough of 50", 50 * shed.TROUGH_M, "15.2", "", "practice"),
    ("trough of 60", 60 * shed.TROUGH_M, "18.3", "", "practice"),
    ("eat at once at 54 m", shed.heads_at_once(54), "177", "", "practice"),
    ("dung a day of 0.77 kg DM", shed.dung_kg_per_day(0.77), "0.88", "", "memory"),
    ("dung in 150 days", 150 * shed.dung_kg_per_day(0.77), "132", "", "memory"),
    ("depth on 0.51 m2, least", shed.dung_depth_m(132, 0.51)[0], "0.29", "", "memory"),
    ("depth on 0.51 m2, most", shed.dung_depth_m(132, 0.51)[1], "0.37", "", "memory"),
    ("most depth", shed.MOST_DUNG_M, "0.45", "W-S15", "print"),
    ("water, 30 kg, least", shed.water_l_per_day(30)[0], "1.37", "P-S90", "restated"),
    ("water, 30 kg, most", shed.water_l_per_day(30)[1], "1.87", "P-S90", "restated"),
    ("water, 40 kg, least", shed.water_l_per_day(40)[0], "1.7", "P-S90", "restated"),
    ("water, 40 kg, most", shed.water_l_per_day(40)[1], "2.3", "P-S90", "restated"),
    ("straw, a week, least", shed.straw_kg(1)[0], "4", "P-S87", "print"),
    ("straw, a week, most", shed.straw_kg(1)[1], "5", "P-S87", "print"),
)


@pytest.mark.parametrize(
    ("found", "expected"), [row[1:3] for row in PUBLISHED], ids=[row[0] for row in PUBLISHED]
)
def test_a_figure_of_the_shed_is_the_published_one_to_its_last_digit(found, expected):
    digits = len(expected.partition(".")[2])
    assert abs(found - float(expected)) <= 0.5 * 10**-digits + 1e-9


def test_a_season_of_straw_is_near_the_printed_bale_allowance():
    # P-S87, print: 45 to 55 kg in 100 days on hay or haylage, beside its 4 to 5 kg a week
    low, high = shed.straw_kg(100 / 7)
    assert low <= 60
    assert high >= 45


@pytest.mark.parametrize(
    ("kind", "bale_kg", "size_m"),
    [
        # P-S100, print: a bale's weights and sides
        ("hay, small bales", (18, 20), (1.0, 0.4, 0.3)),
        ("hay, big squares", (250, 350), (1.2, 0.7, 2.4)),
        ("hay, big squares", (400, 500), (1.2, 0.9, 2.4)),
    ],
)
def test_densities_hold_the_printed_bales(kind, bale_kg, size_m):
    _, least, most, source, _ = next(row for row in shed.DENSITIES if row[0] == kind)
    volume = math.prod(size_m)
    assert least <= bale_kg[0] / volume + 0.5
    assert bale_kg[1] / volume <= most + 0.5
    assert source == "P-S100"


@pytest.mark.parametrize(
    ("kind", "t_per_m3", "source"),
    [("barley", 0.65, "P-S103"), ("oats", 0.50, "P-S103"), ("beet pulp nuts", 0.673, "P-S104")],
)
def test_densities_hold_the_printed_straights(kind, t_per_m3, source):
    row = next(row for row in shed.DENSITIES if row[0] == kind)
    assert row[2] == pytest.approx(1000 * t_per_m3)
    assert row[3] == source


# ---------------------------------------------------------------- where each check starts to warn


@pytest.mark.parametrize(
    ("each", "level"),
    [(0.305, ""), (0.30, ""), (0.2999, "warn"), (0.16, "warn"), (0.1599, "strong"), (0, "strong")],
)
def test_a_trough_warns_under_0_30_and_strongly_under_0_16(each, level):
    assert shed.trough_level(each) == level


def test_the_demo_trough_and_floor_say_who_is_out():
    trough, floor = shed.trough_check(54, 184), shed.floor_check(128, 184)
    assert "56.1 m" in trough.words
    assert "177 can eat at once" in trough.words
    assert "two sittings" in trough.words
    assert trough.level == "warn"
    assert "170 at 0.75" in floor.words
    assert "142 at 0.9" in floor.words
    assert "14 at least must go elsewhere" in floor.words
    assert "0.46 to 0.56" in floor.words
    assert floor.level == "warn"
    assert "P-S85" in floor.source


def test_a_floor_is_quiet_when_all_fit_and_loud_past_older_practice():
    assert shed.floor_check(128, 142).level == ""
    assert "not at 0.9" in shed.floor_check(128, 150).words
    assert shed.floor_check(128, 300).level == "strong"


def test_a_trough_long_enough_offers_no_sittings():
    check = shed.trough_check(60, 184)
    assert check.level == ""
    assert "sitting" not in check.words
    assert "184 can eat at once" in check.words


def test_a_very_short_trough_is_told_strongly():
    check = shed.trough_check(20, 184)
    assert check.level == "strong"
    assert "in sittings" in check.words


def test_groups_over_60_warn_and_60_does_not():
    assert shed.group_check((60, 50)) is None
    check = shed.group_check((92, 58, 61))
    assert check is not None
    assert "2 of 3" in check.words
    assert "92" in check.words


def test_dung_over_the_depth_says_clean_out():
    # hand working: 1.2 kg DM eaten is 1.37 kg a day, 247 kg in 180 days, 0.69 m on 0.51 m2 at 700
    assert shed.dung_check(1.2, 180, 0.51).level == "warn"
    assert shed.dung_check(0.77, 150, 0.51).level == ""


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("hay", "hay, small bales"),
        ("Bottom Ings hay rounds", "hay, rounds"),
        ("big square hay", "hay, big squares"),
        ("rolled barley", "barley"),
        ("plain beet nuts", "beet pulp nuts"),
        ("balancer nut", "cubes"),
        ("barley straw", None),
        ("haylage", None),
        ("goodness", None),
    ],
)
def test_a_feed_is_stored_as_its_name_says_or_not_told(name, kind):
    assert shed.kind_of(name) == kind


def test_a_kind_without_a_density_is_refused():
    with pytest.raises(OutOfRange, match="no density"):
        shed.store_check("goodness", 3, "magic")


# ---------------------------------------------------------------- properties


@given(st.floats(0, 5000), st.floats(0.2, 3))
def test_heads_that_fit_have_their_floor_and_one_more_has_not(floor, each):
    fit = shed.heads_that_fit(floor, each)
    assert fit * each <= floor + 1e-6
    assert (fit + 1) * each > floor - 1e-6


@given(st.floats(0.1, 3), st.floats(0.3, 0.9), st.floats(0.15, 0.6))
def test_dung_holds_the_dry_matter_that_was_not_digested(eaten, digested, dry):
    dung = shed.dung_kg_per_day(eaten, digested, dry)
    assert dung * dry == pytest.approx(eaten * (1 - digested), abs=1e-12)


@given(st.floats(0.01, 500), st.floats(50, 1000), st.floats(50, 1000))
def test_a_store_holds_its_tonnes_at_either_density(tonnes, one, two):
    low, high = sorted((one, two))
    least, most = shed.store_m3(tonnes, low, high)
    assert least <= most
    assert least * high == pytest.approx(1000 * tonnes)
    assert most * low == pytest.approx(1000 * tonnes)


@given(st.floats(10, 120), st.floats(0.1, 20))
def test_a_heavier_sheep_drinks_more_but_less_for_her_weight(weight, more):
    light, heavy = shed.water_l_per_day(weight), shed.water_l_per_day(weight + more)
    for one, other in zip(light, heavy, strict=True):
        assert other > one
        assert other / (weight + more) < one / weight


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_nothing_is_divided_by_nonsense(value):
    for call in (
        lambda: shed.heads_that_fit(128, value),
        lambda: shed.heads_at_once(54, value),
        lambda: shed.dung_depth_m(100, value),
        lambda: shed.dung_kg_per_day(1, 0.6, value),
        lambda: shed.store_m3(1, value, 150),
    ):
        with pytest.raises(OutOfRange):
            call()
