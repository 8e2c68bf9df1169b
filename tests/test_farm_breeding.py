"""Words of a farm file for standards, ewes in lamb and in milk, and what is given apart.

Each fault is one line with its place; what is not said is unknown and never nought. Expected
figures are arithmetic on the invented texts here; the length of pregnancy, 147 days, is common
practice, no source.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ration import animals, farm, mix, needs, tables
from ration.errors import InputError
from ration.farm import Farm
from ration.standards import MARGINS
from ration.winter.calendar import batch_in, periods

EWES = """\
winter: {from: 16 November 2026, to: 31 March 2027}
class: ewe
batches:
  ewes:
    head: 50
    weight: 68 kg
    gain: 0 g/day
feeds:
  hay average:
    would fetch: 100 /t
  barley:
    price: 200 /t
assume: all
"""
HEAD = "    gain: 0 g/day\n"


@cache
def shipped() -> tables.Tables:
    return tables.load()


def read(text: str) -> Farm:
    return farm.read_text(text, "farm.yaml", tables=shipped())


def ewes(*lines: str, top: str = "") -> Farm:
    return read(EWES.replace(HEAD, HEAD + "".join(f"    {x}\n" for x in lines)) + top)


def fault(text: str) -> str:
    """The one fault of a text; it must say where it stands."""
    with pytest.raises(InputError) as caught:
        read(text)
    (problem,) = caught.value.problems
    line = str(problem)
    assert line.startswith("farm.yaml line "), line
    assert "\n" not in line
    return line


def ewe_fault(*lines: str, top: str = "") -> str:
    return fault(EWES.replace(HEAD, HEAD + "".join(f"    {x}\n" for x in lines)) + top)


# ---------------------------------------------------------------- standard and margin


@pytest.mark.parametrize("name", MARGINS)
def test_standard_by_its_name_and_its_own_margin(name: str) -> None:
    for written in (name, name.lower(), name.replace(" ", "-"), name.replace(" ", "_")):
        one = ewes(top=f"standard: {written}\n")
        assert one.standard == name
        assert one.own_margin is None
        assert one.margin == MARGINS[name]
    assert ewes(top=f"standard: {name}\nmargin: 10 %\n").margin == pytest.approx(1.10)
    assert ewes(top=f"standard: {name}\nmargin: 1\n").margin == 1.0


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("standard: NRC", "standard is not known"),
        ("standard: all", "AFRC 1993, NRC 1985, CSIRO 2007"),
        ("standard: AFRC 1992", "Did you mean"),
        ("standard: yes", "yes/no"),
        ("standard: [AFRC 1993, NRC 1985]", "not a list"),
        ("margin: 0.9", "1.00 to 1.50"),
        ("margin: 80 %", "50 %"),
        ("margin: none", "must start with a number"),
        ("recycled nitrogen: 0.15", 'Write "15 %"'),
        ("recycled nitrogen: 31 %", "0 to 0.3 (30 %)"),
        ("recycled nitrogen: -5 %", "cannot be below zero"),
        ("hay to appetite: perhaps", "yes, no or what they clear"),
        ("hay to appetite: 0.8", "needs its unit"),
        ("hay to appetite: 0 kg", "0.1 to 6 kg a head a day"),
        ("hay to appetite: 60 kg", "0.1 to 6 kg a head a day"),
        ("hay to appetite: -1 kg", "yes, no or what they clear"),
        ("hay to appetite: [0.8 kg]", "not a list"),
        ("hay to appetite:", "hay to appetite is empty"),
        ("housing: afar", "housing is not known"),
    ],
)
def test_faults_of_the_farms_own_words(said: str, words: str) -> None:
    line = fault(EWES + said + "\n")
    assert said.split(":")[0] in line
    assert f"line {EWES.count(chr(10)) + 1}," in line
    assert words in line


@pytest.mark.parametrize(
    ("said", "expected"),
    [("yes", True), ("no", False), ("0.8 kg", 0.8), ("800 g a day", 0.8), ("2 lb", 0.90718474)],
)
def test_hay_to_appetite_as_it_is_said(said: str, expected: bool | float) -> None:
    assert ewes(top=f"hay to appetite: {said}\n").hay_to_appetite == pytest.approx(expected)
    assert type(ewes(top=f"hay to appetite: {said}\n").hay_to_appetite) is type(expected)
    assert ewes().hay_to_appetite is False


def test_recycled_nitrogen_and_housing_away() -> None:
    assert ewes(top="recycled nitrogen: 15 %\n").recycled_n_share == pytest.approx(0.15)
    assert ewes().recycled_n_share == 0
    assert ewes("housing: away").batches[0].housing == "away"
    assert ewes(top="housing: away\n").batches[0].housing == "away"
    need = needs.of_farm(ewes(top="recycled nitrogen: 15 %\n"), ewes().batches[0])
    assert need.recycled_n_share == pytest.approx(0.15)


# ---------------------------------------------------------------- in lamb and in milk


def test_tupped_is_a_lambing_a_pregnancy_later() -> None:
    by_tupping = ewes("tupped: 12 November 2026", "litter: 8 kg", "lambs: 1.6").batches[0]
    lambing = date(2026, 11, 12) + timedelta(147)
    by_lambing = ewes(f"lambing: {lambing}", "litter: 8 kg", "lambs: 1.6").batches[0]
    assert by_tupping == by_lambing
    assert by_tupping.days_to_lambing == 143  # 16 November is day 4
    assert by_tupping.days_pregnant == pytest.approx((4 + 4 + 135) / 2)  # 135 days fed for
    assert (by_tupping.litter_kg, by_tupping.lambs) == (8.0, 1.6)
    assert by_tupping.is_in_lamb


def test_in_lamb_without_a_litter_is_not_fed_for_lambs() -> None:
    batch = ewes("tupped: 12 November 2026").batches[0]
    assert batch.days_to_lambing == 143
    assert batch.litter_kg is None
    assert not batch.is_in_lamb
    dry = needs.of(ewes().batches[0]).at(9.5)
    assert needs.of(batch).at(9.5).me_mj_per_day == dry.me_mj_per_day


def test_tupped_in_the_winter_is_fed_for_from_that_day() -> None:
    one = ewes("tupped: 1 February 2027", "litter: 8 kg")
    batch = one.batches[0]
    assert batch.days_pregnant == pytest.approx(58 / 2)  # 1 February to 31 March: 58 days
    days = [batch_in(one, batch, p).days_pregnant for p in periods(one.start, one.end, 14)]
    assert days[:5] == [None] * 5
    assert all(d is not None for d in days[6:])


def test_milk_is_fed_for() -> None:
    batch = ewes("milk: 1.6 kg a day", "lambs: 1").batches[0]
    assert batch.milk_kg_per_day == 1.6
    assert batch.days_pregnant is None
    dry = ewes().batches[0]
    for name in MARGINS:
        more = needs.of(batch, name).at(11).me_mj_per_day
        assert more > 1.7 * needs.of(dry, name).at(11).me_mj_per_day  # common practice, no source


@pytest.mark.parametrize(
    ("lines", "name", "words"),
    [
        (("tupped: 12 November 2026", "lambing: 8 April 2027"), "tupped", "one of the two"),
        (("tupped: 12 November 2025",), "tupped", "Check the year"),
        (("tupped: 12 November 2028",), "tupped", "Check the year"),
        (("lambing: 1 January 2026",), "lambing", "Check the year"),
        (("tupped: soon",), "tupped", "not a date"),
        (("tupped: yes",), "tupped", "yes/no"),
        (("litter: 8 kg",), "litter", "neither tupped nor lambing"),
        (("lambs: 2",), "lambs", "neither tupped nor lambing nor milk"),
        (("tupped: 12 November 2026", "litter: 8"), "litter", "needs its unit"),
        (("tupped: 12 November 2026", "litter: 80 kg"), "litter", "1 to 25 kg"),
        (("tupped: 12 November 2026", "litter: 0 kg"), "litter", "1 to 25 kg"),
        (("tupped: 12 November 2026", "litter:"), "litter", "empty"),
        (("tupped: 12 November 2026", "lambs: 9"), "lambs", "0.5 to 5"),
        (("tupped: 12 November 2026", "lambs: twins"), "lambs", "must start with a number"),
        (("milk: 1.6",), "milk", "needs its unit"),
        (("milk: 16 kg",), "milk", "0 to 5 kg"),
        (("milk: yes",), "milk", "yes/no"),
        (("milk: 1 kg", "tupped: 12 November 2026"), "milk", "in milk or in lamb"),
        (("class: wether", "weight: 40 kg", "tupped: 12 November 2026"), "tupped", "only ewes"),
        (("class: tup", "lambing: 8 April 2027", "litter: 8 kg"), "lambing", "only ewes"),
        (("sex: castrate", "milk: 1 kg", "lambs: 1"), "milk", "only ewes"),
        (("gain: 20 g/day",), "ewes", "a second time"),
    ],
)
def test_faults_of_a_batch(lines: tuple[str, ...], name: str, words: str) -> None:
    if any(x.startswith("weight") for x in lines):
        text = EWES.replace("    weight: 68 kg\n", "").replace(
            HEAD, HEAD + "".join(f"    {x}\n" for x in lines)
        )
    elif any(x.startswith("class: tup") for x in lines):
        text = EWES.replace("68 kg", "45 kg").replace(
            HEAD, HEAD + "".join(f"    {x}\n" for x in lines)
        )
    else:
        text = EWES.replace(HEAD, HEAD + "".join(f"    {x}\n" for x in lines))
    line = fault(text)
    assert f"batches > ewes > {name}" in line or name == "ewes"
    assert words in line


def test_gain_of_nought_beside_a_target_is_both() -> None:
    line = ewe_fault("target: 70 kg")
    assert "both gain and target are said" in line
    line = fault(EWES.replace(HEAD, ""))
    assert "neither gain nor target is said" in line


def test_every_fault_is_told_at_once() -> None:
    text = EWES.replace(HEAD, HEAD + "    litter: 90 kg\n    milk: 40 kg\n    lambs: 0\n")
    text += "standard: NRC\nrecycled nitrogen: 90 %\nhay to appetite: 0 kg\n"
    with pytest.raises(InputError) as caught:
        read(text)
    lines = [str(p) for p in caught.value.problems]
    for name in ("litter", "milk", "lambs", "standard", "recycled nitrogen", "hay to appetite"):
        assert sum(f" {name}:" in line or f"> {name}:" in line for line in lines) == 1, lines


# ---------------------------------------------------------------- given apart


@pytest.mark.parametrize("said", ["20 g", "0.02 kg", "20 g a day", "20 g/day"])
def test_given_apart_is_neither_more_nor_less(said: str) -> None:
    one = ewes(top="").offers
    text = EWES.replace("price: 200 /t\n", f"price: 200 /t\n    given apart: {said}\n")
    offer = next(o for o in read(text).offers if o.id == "barley")
    assert offer.least_kg_fresh_per_head_day == pytest.approx(0.02)
    assert offer.most_kg_fresh_per_head_day == pytest.approx(0.02)
    free = next(o for o in one if o.id == "barley")
    assert (free.least_kg_fresh_per_head_day, free.most_kg_fresh_per_head_day) == (0, None)


def test_given_apart_is_put_out_just_so() -> None:
    text = EWES.replace("class: ewe\n", "").replace("68 kg", "35 kg").replace(
        "price: 200 /t\n",
        "price: 200 /t\n  soya hipro:\n    price: 400 /t\n    given apart: 31 g\n",
    )  # fmt: skip
    ration = mix.mix(read(text), shipped(), with_worth=False).rations[0]
    assert ration.is_found
    soya = next(f for f in ration.feeds if f.id == "soya-hipro")
    assert soya.kg_fresh_offered_per_head_day == pytest.approx(0.031, rel=1e-6)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("given apart: 20 g\n    least a day: 10 g", "one of the two"),
        ("given apart: 20 g\n    most a day: 30 g", "one of the two"),
        ("given apart: 20", "needs its unit"),
        ("given apart: 20 kg", "0 to 5 kg"),
        ("given apart: -20 g", "below zero"),
        ("given apart: yes", "yes/no"),
    ],
)
def test_faults_of_given_apart(said: str, words: str) -> None:
    line = fault(EWES.replace("price: 200 /t\n", f"price: 200 /t\n    {said}\n"))
    assert "feeds > barley > given apart" in line
    assert words in line


# ---------------------------------------------------------------- the day of pregnancy


DAYS = st.integers(1, 400)
LENGTH = st.integers(1, 366)


@given(DAYS, LENGTH)
def test_day_of_pregnancy_is_the_middle_of_its_days(to_lambing: int, days: int) -> None:
    day = animals.day_of_pregnancy(to_lambing, days)
    begun = [d for d in range(days) if 0 <= 147 - to_lambing + d < 147]
    if not begun:
        assert day is None
        return
    # each day stands for its own 24 hours, so the middle is half a day past the mean of the starts
    assert day == pytest.approx(147 - to_lambing + sum(begun) / len(begun) + 0.5)
    assert 0 <= day <= 147


@given(DAYS, LENGTH)
def test_day_of_pregnancy_falls_with_the_days_left(to_lambing: int, days: int) -> None:
    sooner = animals.day_of_pregnancy(to_lambing, days)
    later = animals.day_of_pregnancy(to_lambing + 1, days)
    if sooner is not None and later is not None:
        assert later <= sooner
    assert animals.day_of_pregnancy(None, days) is None
    assert animals.day_of_pregnancy(-days, days) is None  # lambed before


@settings(max_examples=25)
@given(
    st.sampled_from(list(MARGINS)),
    st.integers(0, 40),
    st.sampled_from([7, 14, 21]),
    st.floats(4, 11),
)
def test_needs_of_an_in_lamb_batch_rise_period_by_period(
    name: str, late: int, length: int, litter_kg: float
) -> None:
    """A litter of 9 kg asks 5 MJ and more near lambing: common practice, no source."""
    tupped = date(2026, 11, 12) + timedelta(late)
    one = ewes(f"tupped: {tupped}", f"litter: {litter_kg:.3f} kg", "lambs: 1.8")
    batch = one.batches[0]
    then = [batch_in(one, batch, p) for p in periods(one.start, one.end, length)]
    then = [b for b in then if b.days_pregnant is not None]
    days = [b.days_pregnant for b in then]
    assert days == sorted(set(days))
    me = [needs.of(b, name).at(10.5).me_mj_per_day for b in then]
    protein = [needs.of(b, name).protein_need() for b in then]
    assert me == sorted(me)
    assert protein == sorted(protein)
    if name == "NRC 1985":  # by rows: a step where the last four weeks begin, flat before
        steps = {needs.of(b, name).state for b in then}
        assert len(set(me)) == len(steps)
        return
    assert len(set(me)) == len(me)
    if late == 0:
        assert me[-1] - me[0] > 0.5 * litter_kg
