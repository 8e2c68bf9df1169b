"""Readers of quantities: exact factors, the ways a farmer writes, and what is refused.

Factors are held against `scipy.constants` (a general reference library, not ours) where it has
them. The hundredweight of 112 lb and the stone of 14 lb are British legal measures, here from
memory; each worked number beside them is arithmetic by hand.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from scipy import constants

from ration import units
from ration.errors import InputError, UnitError


@pytest.mark.parametrize(
    ("ours", "reference"),
    [
        (units.LB_KG, constants.pound),
        (units.OZ_KG, constants.ounce),
        (units.STONE_KG, constants.stone),
        (units.TON_KG, constants.long_ton),
        (units.FOOT_M, constants.foot),
        (units.MJ_PER_MCAL, constants.calorie),
        (units.CWT_KG, constants.long_ton / 20),  # 20 hundredweight to the ton: memory
    ],
)
def test_factors_agree_with_a_reference_library(ours: float, reference: float) -> None:
    assert ours == pytest.approx(reference, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kg"),
    [
        ("37.2 kg", 37.2),
        ("37.2kg", 37.2),
        ("37.2 KG", 37.2),
        (" 37.2  kg ", 37.2),
        ("37.2\u00a0kg", 37.2),  # a space that does not break, as word processors put
        ("680 g", 0.68),
        ("1.8 t", 1800.0),
        ("1.8 tonnes", 1800.0),
        ("1,234.5 kg", 1234.5),
        ("82 lb", 37.19457434),  # 82 x 0.45359237, by hand
        ("82 lbs", 37.19457434),
        ("84 lb", 38.10175908),
        ("5 st 12 lb", 37.19457434),  # 82 lb
        ("5st12lb", 37.19457434),
        ("6 st 4 lb", 39.91612856),  # 88 lb
        ("6 stone 4 pounds", 39.91612856),
        ("10 cwt", 508.0234544),  # not the 453.6 of the American hundredweight
        ("1.5 ton", 1524.0703632),  # not the 1,360.8 of the American ton
        ("2 tons", 2032.0938176),
        ("3 oz", 0.08504856938),
        ("1 lb 8 oz", 0.680388555),  # the 1.5 lb of an old allowance
        ("1 cwt 2 st 3 lb", (112 + 28 + 3) * 0.45359237),
        ("0 kg", 0.0),
        ("+3 kg", 3.0),
    ],
)
def test_mass_is_read(text: str, kg: float) -> None:
    assert units.mass_kg(text) == pytest.approx(kg, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("37.2", 'weight needs its unit. Write "37.2 kg"'),
        (37.2, 'weight needs its unit. Write "37.2 kg"'),
        (37, 'weight needs its unit. Write "37 kg"'),
        ("13,2 kg", "a comma where a point belongs. Write 13.2"),
        ("0,680 kg", "a comma where a point belongs. Write 0.680"),
        ("1,23,4 kg", "not a plain number"),
        ("12,34.5 kg", "not a plain number"),
        ("1.2.3 kg", "not a plain number"),
        (".5 kg", "starts with a point. Write 0.5"),
        ("5. kg", "not a plain number"),
        ("1e5 kg", "power of ten"),
        ("1e-5 kg", "power of ten"),
        ("inf kg", "must start with a number"),
        ("nan", "must start with a number"),
        (math.nan, "an ordinary number"),
        (math.inf, "an ordinary number"),
        ("-3 kg", "cannot be below zero"),
        ("\u22123 kg", "cannot be below zero"),
        ("", "weight is empty"),
        ("   ", "weight is empty"),
        (None, "weight is empty"),
        (True, "not a yes/no answer"),
        (False, "not a yes/no answer"),
        ([1], "not a list"),
        ({"kg": 1}, "not a list or a group"),
        ("kg", "must start with a number"),
        ("thirty kg", "must start with a number"),
        ("37.2 kg each", "unknown unit"),
        ("37.2 kilometres", "unknown unit"),
        ("2 bags", 'unknown unit "bags"'),
        ("5 st 15 lb", "parts that do not follow"),
        ("12 lb 5 st", "parts that do not follow"),
        ("5 st 5 st", "parts that do not follow"),
        ("5.5 st 3 lb", "a broken part before another"),
        ("5 kg 300 g", "parts that do not follow"),
        ("5 st 300 g", "parts that do not follow"),
        ("37.2 kg 5", "parts that do not follow|needs its unit"),
        ("\u0663\u0667 kg", "must start with a number"),  # figures of another script
        ("9" * 30 + " kg", "too many digits"),
        (10**4000, "too many digits"),
        ("3" * 5000, "too many digits"),
    ],
)
def test_mass_is_refused(text: Any, message: str) -> None:
    with pytest.raises(UnitError, match=message) as caught:
        units.mass_kg(text)
    assert len(caught.value.problems) == 1
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize(
    ("text", "g_per_day"),
    [
        ("41.7 g/day", 41.7),
        ("20g", 20.0),
        ("20 g", 20.0),
        ("20 g a day", 20.0),
        ("20 g per day", 20.0),
        ("20 g/d", 20.0),
        ("20 g/head/day", 20.0),
        ("20 g a head a day", 20.0),
        ("0.35 kg/week", 50.0),
        ("0.35 kg a week", 50.0),
        ("0.1 lb/day", 45.359237),
        ("0 g/day", 0.0),
        ("-20 g/day", -20.0),  # a loss is read; the batch refuses it with its own words
    ],
)
def test_gain_is_read(text: str, g_per_day: float) -> None:
    assert units.gain_g_per_day(text) == pytest.approx(g_per_day, rel=1e-12)


@pytest.mark.parametrize("text", ["20", "0.1 lb", "0.35 kg", "20 g/month", "20 g/day/day", "20 %"])
def test_gain_without_a_clear_unit_is_refused(text: str) -> None:
    with pytest.raises(UnitError, match="unit"):
        units.gain_g_per_day(text)


def test_share_is_read_with_its_sign_only() -> None:
    assert units.share("8.6 %") == pytest.approx(0.086)
    assert units.share("12%") == pytest.approx(0.12)
    assert units.share("12 per cent") == pytest.approx(0.12)
    assert units.share("30 % of dry matter", of=("dry matter",)) == pytest.approx(0.3)
    assert units.share("30 % of the dry matter", of=("dry matter",)) == pytest.approx(0.3)
    with pytest.raises(UnitError, match=r'needs its unit\. Write "12 %"'):
        units.share("0.12")
    with pytest.raises(UnitError, match=r'needs its unit\. Write "12 %"'):
        units.share(12)
    with pytest.raises(UnitError, match="at most 100 %"):
        units.share("120 %")
    with pytest.raises(UnitError, match="unknown unit"):
        units.share("30 % of weight", of=("dry matter",))


@pytest.mark.parametrize(
    ("text", "value", "basis"),
    [
        ("8.6 %", 86.0, None),
        ("8.6%", 86.0, None),
        ("8.6 % DM", 86.0, "dm"),
        ("8.6 % of dry matter", 86.0, "dm"),
        ("86 g/kg", 86.0, None),
        ("86 g / kg", 86.0, None),
        ("86 g/kg DM", 86.0, "dm"),
        ("86 g per kg DM", 86.0, "dm"),
        ("86 g/kg dry matter", 86.0, "dm"),
        ("86 g/kg (DM)", 86.0, "dm"),
        ("1.7 g/kg DM", 1.7, "dm"),
        ("34 % fresh", 340.0, "fresh"),
        ("340 g/kg as fed", 340.0, "fresh"),
        ("340 g/kg fresh weight", 340.0, "fresh"),
    ],
)
def test_content_is_read_with_its_basis(text: str, value: float, basis: str | None) -> None:
    found = units.content_g_per_kg(text)
    assert found.value == pytest.approx(value)
    assert (found.unit, found.basis) == ("g/kg", basis)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("8.6", "needs its unit"),
        (86, "needs its unit"),
        ("106 %", "too high.*Did you mean 106 g/kg?"),
        ("1200 g/kg", "too high"),
        ("86 g/lb", "unknown unit"),
        ("86 DM", "unknown unit"),
        ("8,6 %", "comma where a point belongs. Write 8.6"),
    ],
)
def test_content_is_refused(text: Any, message: str) -> None:
    with pytest.raises(UnitError, match=message):
        units.content_g_per_kg(text)


def test_trace_and_energy_are_read() -> None:
    assert units.trace_mg_per_kg("12 mg/kg DM") == units.Quantity(12.0, "mg/kg", "dm")
    assert units.trace_mg_per_kg("12 ppm") == units.Quantity(12.0, "mg/kg", None)
    assert units.trace_mg_per_kg("12 mg/kg fresh").basis == "fresh"
    assert units.energy_mj_per_kg("8.7 MJ/kg DM") == units.Quantity(8.7, "MJ/kg", "dm")
    assert units.energy_mj_per_kg("8.7") == units.Quantity(8.7, "MJ/kg", None)
    assert units.energy_mj_per_kg(8.7) == units.Quantity(8.7, "MJ/kg", None)
    mcal = units.energy_mj_per_kg("2.1 Mcal/kg DM")
    assert mcal.value == pytest.approx(2.1 * constants.calorie)  # MJ in a Mcal as J in a cal
    with pytest.raises(UnitError, match="needs its unit"):
        units.trace_mg_per_kg("12")
    with pytest.raises(UnitError, match="no feed holds over 40"):
        units.energy_mj_per_kg("870 MJ/kg")
    with pytest.raises(UnitError, match="unknown unit"):
        units.energy_mj_per_kg("8.7 kWh/kg")


@pytest.mark.parametrize(
    ("text", "gbp_per_t"),
    [
        ("211 /t", 211.0),
        ("211/t", 211.0),
        ("£211/t", 211.0),
        ("£ 211 per tonne", 211.0),
        ("211 a tonne", 211.0),
        ("£1,010.50 /t", 1010.5),
        ("0.74 /kg", 740.0),
        ("74 p/kg", 740.0),
        ("8.35 per 20 kg bag", 417.5),
        ("8.35 a 20 kg bag", 417.5),
        ("8.35 / 20 kg", 417.5),
        ("7.35 per 25 kg", 294.0),
        ("5.60 per 18 kg bale", 311.1111111),
        ("12 per cwt", 12 * 1000 / 50.80234544),
        ("211 per ton", 211 * 1000 / 1016.0469088),
        ("0 /t", 0.0),
    ],
)
def test_price_is_read(text: str, gbp_per_t: float) -> None:
    assert units.price_gbp_per_t(text) == pytest.approx(gbp_per_t, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("211", 'needs its unit. Write "211 /t"'),
        (211, 'needs its unit. Write "211 /t"'),
        ("£211", 'needs its unit. Write "211 /t"'),
        ("8.35 a bag", 'of unsaid weight. Write the weight: "8.35 per 20 kg bag"'),
        ("5.60 per bale", "of unsaid weight"),
        ("211 euro/t", "unknown unit"),
        ("$211/t", "must start with a number"),
        ("-5 /t", "cannot be below zero"),
        ("5 per 0 kg bag", "for no weight at all"),
        ("5 per sheep", "unknown unit"),
        ("5 /", "unknown unit"),
        (False, "not a yes/no answer"),
        ("no", "must start with a number"),
        ("211,50 /t", "comma where a point belongs. Write 211.50"),
    ],
)
def test_price_is_refused(text: Any, message: str) -> None:
    with pytest.raises(UnitError, match=message):
        units.price_gbp_per_t(text)


@pytest.mark.parametrize(
    ("text", "t", "guess"),
    [
        ("11.8 t", 11.8, False),
        ("3900 kg", 3.9, False),
        ("640 bales of 18.4 kg", 11.776, False),
        ("46 rounds of 240 kg", 11.04, False),
        ("46 round bales of 240 kg each", 11.04, False),
        ("90 bales at 40 lb", 90 * 40 * 0.45359237e-3, False),
        ("90 bales, guess 17 kg", 1.53, True),
        ("90 bales of about 17 kg", 1.53, True),
        ("110 bags of 20 kg", 2.2, False),
        ("0 t", 0.0, False),
    ],
)
def test_stock_is_read(text: str, t: float, guess: bool) -> None:
    assert units.stock_t(text) == pytest.approx(t, rel=1e-12)
    assert units.is_guess(text) is guess


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("640 bales", 'does not say what a bale weighs.*"640 bales of 18.4 kg"'),
        ("640", "needs its unit"),
        ("3.5 bales of 18 kg", "counts whole bales"),
        ("640 bales of 18.4", "needs its unit"),
        ("640 bales of hay", "must start with a number"),
        ("a stack", "must start with a number"),
    ],
)
def test_stock_is_refused(text: str, message: str) -> None:
    with pytest.raises(UnitError, match=message):
        units.stock_t(text)


@pytest.mark.parametrize(
    "text",
    [
        "28 October 2026",
        "28 Oct 2026",
        "28th October 2026",
        "28 OCTOBER 2026",
        "2026-10-28",
        "28/10/2026",
        date(2026, 10, 28),
    ],
)
def test_day_is_read(text: Any) -> None:
    assert units.day(text) == date(2026, 10, 28)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("28/10/26", "all four figures of the year"),
        ("28 October 26", "all four figures of the year"),
        ("10/28/2026", 'the month first.*Write "28/10/2026"'),
        ("October 28, 2026", "not a date that is read here"),
        ("31/11/2026", "not in the calendar"),
        ("29 February 2027", "not in the calendar"),  # 2027 is no leap year
        ("28 Ocotber 2026", "Did you mean October?"),
        ("0/10/2026", "not in the calendar"),
        ("28 October 1926", "1990 to 2100"),
        ("today", "not a date that is read here"),
        ("20261028", "not a date that is read here"),
        (20261028, "not a date that is read here"),
        ("12:30", "not a date that is read here"),
        (True, "not a yes/no"),
        (None, "date is empty"),
    ],
)
def test_day_is_refused(text: Any, message: str) -> None:
    with pytest.raises(UnitError, match=message):
        units.day(text)


def test_lengths_and_areas_are_read() -> None:
    assert units.length_m("54 m") == 54.0
    assert units.length_m("180 ft") == pytest.approx(54.864)
    assert units.area_m2("128 m2") == 128.0
    assert units.area_m2("128 m²") == 128.0
    assert units.area_m2("1400 sq ft") == pytest.approx(1400 * constants.foot**2)
    with pytest.raises(UnitError, match=r'needs its unit\. Write "54 m"'):
        units.length_m(54)
    with pytest.raises(UnitError, match="unknown unit"):
        units.length_m("5²4 m")
    with pytest.raises(UnitError, match="unknown unit"):
        units.area_m2("128 m")


def test_plain_numbers_are_read() -> None:
    assert units.number("1,234.5") == 1234.5
    assert units.number(1.05) == 1.05
    assert units.whole("92") == 92
    with pytest.raises(UnitError, match="a whole number"):
        units.whole("92.5")
    with pytest.raises(UnitError, match="without a unit"):
        units.number("5 kg")


def test_basis_and_waste_by_hand() -> None:
    # 0.68 kg of hay at 85 % dry matter is 0.578 kg; 211 a tonne at 86 % is 245.35 a tonne DM
    assert units.fresh_to_dm_kg(0.68, 0.85) == pytest.approx(0.578)
    assert units.dm_to_fresh_kg(0.578, 0.85) == pytest.approx(0.68)
    # a label's 16 % protein at 87 % dry matter is 183.9 g/kg DM
    assert units.content_per_kg_dm(160, 0.87) == pytest.approx(183.908, abs=5e-4)
    assert units.content_per_kg_fresh(183.908046, 0.87) == pytest.approx(160)
    assert units.price_gbp_per_t_dm(211, 0.86) == pytest.approx(245.349, abs=5e-4)
    assert units.price_p_per_mj(211, 0.86, 13.2) == pytest.approx(1.8587, abs=5e-5)
    assert units.offered_kg(0.80, 0.12) == pytest.approx(0.90909, abs=5e-6)
    assert units.eaten_kg(0.90909, 0.12) == pytest.approx(0.8, abs=1e-5)


@pytest.mark.parametrize(
    ("act", "numbers"),
    [
        (units.fresh_to_dm_kg, (1, 0)),
        (units.dm_to_fresh_kg, (1, 0)),
        (units.dm_to_fresh_kg, (1, 1.1)),
        (units.content_per_kg_dm, (1, math.nan)),
        (units.price_gbp_per_t_dm, (1, -0.1)),
        (units.price_p_per_mj, (1, 0.9, 0)),
        (units.offered_kg, (1, 1.0)),
        (units.eaten_kg, (1, -0.5)),
    ],
)
def test_senseless_shares_are_refused(act: Callable[..., float], numbers: tuple[float]) -> None:
    with pytest.raises(UnitError, match=r"share over 0 and at most 1|no price per MJ"):
        act(*numbers)


@pytest.mark.parametrize(
    ("kg", "also", "words"),
    [
        (0.680388555, "lb", "0.680 kg (1.5 lb)"),
        (0.68, "", "0.680 kg"),
        (0.18, "lb", "0.180 kg (6.3 oz)"),
        (0.012, "", "12.0 g"),
        (0.012, "lb", "12.0 g (0.4 oz)"),
        (37.2, "st", "37.2 kg (5 st 12 lb)"),
        (11776.0, "", "11,776.0 kg"),
        (0.0, "", "0.0 g"),
    ],
)
def test_weights_in_words(kg: float, also: Any, words: str) -> None:
    assert units.in_words_kg(kg, also=also) == words


def test_money_and_dates_in_words() -> None:
    assert units.money(1234.5) == "£1,234.50"
    assert units.money(-3) == "-£3.00"
    assert units.money(-0.001) == "£0.00"
    assert units.pence(0.098) == "9.8 p"
    assert units.pence(-0.0001) == "0.0 p"
    assert units.in_words_day(date(2026, 10, 28)) == "28 October 2026"


def test_refusal_names_the_quantity_and_fits_a_line() -> None:
    with pytest.raises(InputError) as caught:
        units.mass_kg("x" * 10_000, "target")
    assert str(caught.value).startswith('read "xxxx')
    assert "target must start with a number" in str(caught.value)
    assert len(str(caught.value)) < 160
