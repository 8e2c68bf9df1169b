"""What goes out in words or another unit comes back the same; nothing else gets in.

The factors themselves are held against a reference library in `tests/test_units.py`.
"""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from ration import units
from ration.errors import UnitError

sizes = st.integers(0, 10**9).map(lambda n: n / 1000)
some = st.integers(1, 10**8).map(lambda n: n / 1000)
shares = st.integers(50, 1000).map(lambda n: n / 1000)
READERS = (
    units.mass_kg, units.gain_g_per_day, units.share, units.content_g_per_kg,
    units.trace_mg_per_kg, units.energy_mj_per_kg, units.price_gbp_per_t, units.stock_t,
    units.day, units.length_m, units.area_m2, units.number, units.whole,
)  # fmt: skip
IN_KG = {
    "kg": 1.0, "g": 0.001, "t": 1000.0, "lb": units.LB_KG, "oz": units.OZ_KG,
    "st": units.STONE_KG, "cwt": units.CWT_KG, "ton": units.TON_KG,
}  # fmt: skip


def outcome(reader: Any, value: Any) -> tuple[Any, UnitError | None]:
    """What a reader makes of a value: the result, or its refusal."""
    try:
        return reader(value), None
    except UnitError as error:
        return None, error


@given(sizes, st.sampled_from(sorted(IN_KG)))
def test_a_mass_in_any_unit_comes_back(size: float, unit: str) -> None:
    kg = size * IN_KG[unit]
    assert units.mass_kg(f"{size:.3f} {unit}") == pytest.approx(kg, rel=1e-12)
    assert units.mass_kg(f"{size:,.3f}{unit}") == pytest.approx(kg, rel=1e-12)


@given(st.integers(0, 60), st.integers(0, 13))
def test_stones_and_pounds_come_back(stones: int, pounds: int) -> None:
    kg = units.mass_kg(f"{stones} st {pounds} lb") if stones else units.mass_kg(f"{pounds} lb")
    assert kg == pytest.approx((14 * stones + pounds) * units.LB_KG, rel=1e-12)
    words = units.in_words_kg(kg, also="st")
    assert words.endswith(f"({stones} st {pounds} lb)")


@given(sizes)
def test_a_weight_in_words_is_read_back_to_what_it_shows(kg: float) -> None:
    words = units.in_words_kg(kg)
    step = 0.0001 if words.endswith(" g") else 0.001 if kg < 10 else 0.1
    assert units.mass_kg(words) == pytest.approx(kg, abs=step * 0.5000001)


@given(sizes, shares)
def test_fresh_to_dry_and_back(kg: float, dm_share: float) -> None:
    assert units.dm_to_fresh_kg(units.fresh_to_dm_kg(kg, dm_share), dm_share) == pytest.approx(kg)
    there = units.content_per_kg_dm(kg, dm_share)
    assert units.content_per_kg_fresh(there, dm_share) == pytest.approx(kg)
    assert there >= kg


@given(sizes, st.integers(0, 900).map(lambda n: n / 1000))
def test_waste_there_and_back(kg: float, waste_share: float) -> None:
    assert units.eaten_kg(units.offered_kg(kg, waste_share), waste_share) == pytest.approx(kg)
    assert units.offered_kg(kg, waste_share) >= kg


@given(st.integers(0, 1000))
def test_percent_and_grams_are_one_content(tenths: int) -> None:
    in_percent = units.content_g_per_kg(f"{tenths / 10:.1f} % DM")
    in_grams = units.content_g_per_kg(f"{tenths} g/kg DM")
    assert in_percent.value == pytest.approx(in_grams.value)
    assert in_percent.basis == in_grams.basis == "dm"
    assert units.share(f"{tenths / 10:.1f} %") == pytest.approx(in_grams.value / 1000)


@given(some, st.integers(1, 1500))
def test_a_price_per_bag_is_a_price_per_tonne(price: float, bag_kg: int) -> None:
    per_t = units.price_gbp_per_t(f"{price:.3f} per {bag_kg} kg bag")
    assert per_t == pytest.approx(price * 1000 / bag_kg)
    again = units.price_gbp_per_t(f"£{per_t:,.2f} /t")
    assert again == pytest.approx(per_t, abs=0.0050001)


@given(st.integers(1, 2000), some)
def test_bales_are_a_mass(count: int, kg: float) -> None:
    stock = units.stock_t(f"{count} bales of {kg:.3f} kg")
    assert stock == pytest.approx(count * units.mass_kg(f"{kg:.3f} kg") / 1000)


@given(st.integers(0, 3000).map(lambda n: n / 1000))
def test_a_week_is_seven_days(kg: float) -> None:
    weekly = units.gain_g_per_day(f"{kg:.3f} kg/week")
    assert 7 * weekly == pytest.approx(units.gain_g_per_day(f"{kg * 1000:.0f} g/day"), abs=1e-9)


@given(st.dates(date(1990, 1, 1), date(2100, 12, 31)))
def test_every_day_of_the_calendar_comes_back(when: date) -> None:
    assert units.day(units.in_words_day(when)) == when
    assert units.day(when.isoformat()) == when
    assert units.day(f"{when.day}/{when.month}/{when.year}") == when


@given(st.integers(0, 10**8))
def test_money_comes_back(pennies: int) -> None:
    assert float(units.money(pennies / 100).replace("£", "").replace(",", "")) == pennies / 100


@given(st.integers(0, 999), st.integers(0, 99))
def test_a_decimal_comma_is_never_a_number(whole: int, rest: int) -> None:
    for text in (f"{whole},{rest} kg", f"{whole},{rest:02} kg", f"0,{whole:03} kg"):
        with pytest.raises(UnitError, match="comma where a point belongs"):
            units.mass_kg(text)


@given(
    st.one_of(
        st.text(max_size=40),
        st.text("0123456789.,+-eE %/£gkmltonsbadyperMJDf²\u2212", max_size=30),
        st.floats(),
        st.integers(),
        st.booleans(),
        st.none(),
        st.lists(st.integers(), max_size=2),
    )
)
@example("1e5 kg")
@example("nan %")
@example("0x1F kg")
@example("1_000 kg")
@example("١٢ kg")
def test_anything_at_all_is_a_sound_number_or_one_plain_refusal(value: Any) -> None:
    for reader in READERS:
        result, refusal = outcome(reader, value)
        if refusal is not None:
            assert len(refusal.problems) == 1
            assert "\n" not in str(refusal)
            assert len(str(refusal)) < 400
        elif not isinstance(result, date):
            number = result.value if isinstance(result, units.Quantity) else result
            assert math.isfinite(number)
            assert number >= 0 or reader is units.gain_g_per_day


@given(some, st.sampled_from([" kg", " % DM", " g/kg", " /t", " g/day", " m", " mg/kg"]))
def test_spaces_never_change_what_is_read(size: float, unit: str) -> None:
    text = f"{size:.2f}{unit}"
    wide = "  " + text.replace(" ", "\u00a0 ") + " "
    for reader in READERS:
        expected, refusal = outcome(reader, text)
        if refusal is None:
            assert reader(wide) == expected


@given(st.sampled_from(READERS), st.text(max_size=20))
def test_words_after_a_quantity_are_never_passed_over(reader: Any, words: str) -> None:
    """Adding "qx" (in no unit) to any readable text makes it unreadable."""
    assume("qx" not in words.lower())
    with pytest.raises(UnitError):
        reader(f"12{words}qx")
