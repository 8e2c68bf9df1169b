"""The section `wintering:` of a farm file: what it may say, and every way it can be wrong.

Faults are one plain line each, with the file and the line. Numbers are the demo's, invented.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from ration import farm, tables
from ration.errors import InputError
from ration.farm import wintering as section
from ration.wintering import Amount, Building, FeedGiven, Keep, Labour, Land, Visits, budgets

DEMO = Path(farm.__file__).parent.parent / "demo"
SECTION = re.search(
    r"^wintering:\n(?:[ #].*\n|\n)*", (DEMO / "quernhope.yaml").read_text(encoding="utf-8"), re.M
)[0]
BASE = """\
winter: {from: 28 October 2026, to: 2 April 2027}
class: ewe lamb
batches:
  all: {head: 184, weight: 35.5 kg, target: 42 kg}
feeds:
  meadow hay:
    like: hay-average
    would fetch: 130 /t
"""
TABLES = tables.load()


def read(text: str):
    return farm.read_text(text, "farm.yaml", None, tables=TABLES)


def said(**changes: Any):
    """The ways of a small section with names of the first way changed; None takes a name out."""
    way: dict[str, Any] = {"keep": "95 p a week", "deaths": "2 %"} | changes
    way = {k.replace("_", " "): v for k, v in way.items() if v is not None}
    top = {"wage": "13.48 /h", "value of a hogg": 110, "margin of a lamb crop": 65,
           "wool": "10 p a kg", "ways": {"away": way, "hill": {"deaths": "8 %"}}}  # fmt: skip
    return BASE + yaml.safe_dump({"wintering": top}, sort_keys=False)


def way(**changes: Any):
    return read(said(**changes)).wintering.ways[0]


def faults(text: str) -> list[str]:
    with pytest.raises(InputError) as error:
        read(text)
    lines = [str(p) for p in error.value.problems]
    assert all(re.match(r"farm\.yaml( line [0-9]+)?[:,]", line) for line in lines), lines
    assert not any("\n" in line for line in lines)
    return lines


def fault(text: str) -> str:
    lines = faults(text)
    assert len(lines) == 1, lines
    return lines[0]


# ---------------------------------------------------------------- what is read


def test_the_demo_section_gives_the_reference_totals_to_the_penny():
    # hand working on the invented inputs of the demo
    ways = read(BASE + SECTION).wintering
    costs = {b.way: f"{b.gbp_per_head:.2f}" for b in budgets(ways, ways.head)}
    assert costs == {"away": "33.90", "hill": "22.63", "in-bye": "31.59", "housed": "45.86"}


def test_the_demo_section_is_read_part_by_part():
    ways = read(BASE + SECTION).wintering
    away, hill, in_bye, housed = ways.ways
    assert (away.place, hill.place, in_bye.place, housed.place) == (
        "away", "hill", "in-bye", "shed",
    )  # fmt: skip
    assert away.keep == Keep(0.95, "sent")
    assert away.haulage == Amount(4.80)
    assert away.visits == Visits(4, 148, "mile", 0.45, 5)
    assert away.places == 110
    assert away.is_doses_with_vitamin_d is True
    assert away.feeds == (FeedGiven("storm hay", 0.9, 5, 160.0),)
    assert hill.labour == Labour(1, 60)
    assert in_bye.labour == Labour(pytest.approx(40 / 60), 156)
    assert in_bye.land == Land(9, 0.6, 110, 150)
    assert housed.building == Building(9800, 12, 0.02, 0.65, None)
    assert housed.feeds[0] == FeedGiven("hay", 0.85, 156, 140.0)
    assert ways.terms.interest_share_per_year == 0.06


def test_a_farm_without_the_section_has_none():
    assert read(BASE).wintering is None


@pytest.mark.parametrize(
    ("written", "gbp"),
    [("95 p a week", 0.95), ("0.95 /week", 0.95), ("£1.10 per week", 1.10),
     ("95p a head a week", 0.95), ("95 pence a week", 0.95)],
)  # fmt: skip
def test_keep_is_read_as_it_is_said(written, gbp):
    assert way(keep=written).keep.gbp_per_head_week == pytest.approx(gbp)


def test_keep_on_heads_returned():
    assert way(paid_on="heads returned").keep.paid_on == "returned"


@pytest.mark.parametrize(
    ("written", "amount"),
    [("2.40 each way", Amount(4.80)), ("2.40 each", Amount(2.40)), ("£480 in all", Amount(0, 480)),
     ("240 for the flock each way", Amount(0, 480)), ("65 p a head", Amount(0.65))],
)  # fmt: skip
def test_haulage_is_read_as_it_is_said(written, amount):
    found = way(haulage=written).haulage
    assert found.per_head_gbp == pytest.approx(amount.per_head_gbp)
    assert found.flock_gbp == pytest.approx(amount.flock_gbp)


@pytest.mark.parametrize(
    ("written", "hours", "days"),
    [("45 min a day", 0.75, 156), ("0.75 h a day", 0.75, 156), ("1 h a day for 60 days", 1, 60),
     ("1 hour per day for 8 weeks", 1, 56)],
)  # fmt: skip
def test_labour_is_read_as_it_is_said(written, hours, days):
    assert way(labour=written).labour == Labour(pytest.approx(hours), days)


def test_labour_can_be_for_each_head():
    assert way(labour="12 s a head a day").labour == Labour(0.0, 156, pytest.approx(1 / 300))


@pytest.mark.parametrize(
    ("written", "kg", "days", "price"),
    [("0.85 kg for 100 days at 140 /t", 0.85, 100, 140), ("0.85 kg a day at 140 /t", 0.85, 156, 140),
     ("2 lb at 8.35 per 20 kg bag", 0.90718474, 156, 417.5)],
)  # fmt: skip
def test_feed_by_hand_is_read_as_it_is_said(written, kg, days, price):
    (found,) = way(feed={"hay": written}).feeds
    assert found == FeedGiven("hay", pytest.approx(kg), days, pytest.approx(price))


def test_a_feed_without_a_price_takes_the_farms_own_feed():
    (found,) = way(feed={"Meadow hay": "0.5 kg"}).feeds
    assert found.price_gbp_per_t_fresh is None


def test_dates_of_its_own_make_the_days_of_a_way():
    found = way(**{"from": "20 October 2026", "to": "20 February 2027"})
    assert found.days == 123
    assert found.weeks == pytest.approx(123 / 7)


def test_land_in_acres():
    # 22 acres of 4,046.8564224 square metres, by law
    land = {"area": "22 acres", "lost grass": "0.6 t DM a ha", "worth": "110 /t DM"}
    assert way(land=land).land.area_ha == pytest.approx(8.9031, abs=1e-4)


def test_the_rate_of_interest_is_the_farms_when_the_section_has_none():
    text = "interest: 8 % a year\n" + said()
    assert read(text).wintering.terms.interest_share_per_year == pytest.approx(0.08)


def test_feed_can_be_the_mix_with_waste_of_its_own():
    text = said(keep=None, place="in-bye", feed="the mix", waste={"hay": "25 %"})
    found = read(text).wintering.ways[0]
    assert found.is_by_mix
    assert dict(found.waste) == {"hay": 0.25}


# ---------------------------------------------------------------- what is refused


@pytest.mark.parametrize(
    ("changes", "part"),
    [
        ({"keep": "95 p"}, "keep is money for one week"),
        ({"keep": "95 a week"}, "outside what is believable"),
        ({"keep": "-95 p a week"}, "below zero"),
        ({"keep": "95 p a month"}, "keep is money for one week"),
        ({"deaths": "0.02"}, "deaths"),
        ({"deaths": "60 %"}, "believable"),
        ({"deaths": "-2 %"}, "below zero"),
        ({"haulage": "2.40"}, "for each sheep or for all of them"),
        ({"doses": "2.10 each way"}, "for each sheep or for all of them"),
        ({"doses": "999 each"}, "believable"),
        ({"labour": "45 min"}, "labour is a time a day"),
        ({"labour": "45 a day"}, "labour is a time"),
        ({"labour": "25 h a day"}, "believable"),
        ({"paid_on": "those alive"}, "it is one of heads sent, heads returned"),
        ({"keep": None, "paid_on": "heads sent"}, "there is no keep"),
        ({"place": "byre"}, "place is not known"),
        ({"places": "-3"}, "below zero"),
        ({"feed": {"hay": "0.85 /t"}}, "feed a day"),
        ({"feed": {"hay": "0.85 kg"}}, "has no price"),
        ({"feed": {"hay": "0.85 kg for 300 days at 140 /t"}}, "this way lasts 156 days"),
        ({"feed": {"hay": "85 kg at 140 /t"}}, "believable"),
        ({"feed": "plenty"}, "feed is a group"),
        ({"feed": "the mix"}, "the host's grass feeds them"),
        ({"feed": {}}, "nothing is there"),
        ({"visits": {"number": 4, "miles": 148, "rate": "45 p a km"}}, "rate is money for one mile"),
        ({"visits": {"number": 4, "rate": "45 p a mile"}}, "neither miles nor journey"),
        ({"visits": {"number": 4, "miles": 148}}, "rate is missing"),
        ({"visits": {"miles": 148, "rate": "45 p a mile"}}, "number is missing"),
        ({"visits": "four"}, "is a group of names and values"),
        ({"building": {"capital": 9800}}, "years is missing"),
        ({"building": {"capital": 9800, "years": 0}}, "believable"),
        ({"land": {"area": "9", "lost grass": "0.6 t DM a ha", "worth": "110 /t DM"}}, "ha or acres"),
        ({"land": {"area": "9 ha", "lost grass": "0.6 t", "worth": "110 /t DM"}}, "dry matter a ha"),
        ({"land": {"area": "9 ha", "lost grass": "0.6 t DM a ha", "worth": "110 /t"}}, "of dry matter"),
        ({"from": "20 October 2026"}, "to is missing"),
        ({"from": "20 October 2026", "to": "20 February 2026"}, "Check the years"),
        ({"from": "20 October 2026", "to": "1 March 2027", "days": "90 days"}, "both days and dates"),
        ({"grows_with_head": "keep"}, "line is not known"),
        ({"more_barren": "4"}, "more barren"),
        ({"less_wool": "0.3"}, "needs its unit"),
        ({"vitamin_d": "a jab"}, "a yes or a no"),
        ({"mortality": "2 %"}, "is not a name used here"),
    ],
)  # fmt: skip
def test_a_wrong_value_is_one_line_with_its_place(changes, part):
    line = fault(said(**changes))
    assert part in line
    assert "wintering" in line


def test_a_name_nearly_right_gets_a_hint():
    assert 'Did you mean "haulage"?' in fault(said(haulige="2.40 each"))


@pytest.mark.parametrize(
    ("name", "changes"),
    [("wage", {"labour": "45 min a day"}), ("value of a hogg", {}),
     ("margin of a lamb crop", {"more_barren": "4 %"}), ("wool", {"less_wool": "0.3 kg"})],
)  # fmt: skip
def test_a_price_that_something_hangs_on_must_be_there(name, changes):
    text = re.sub(rf"(?m)^  '?{name}'?: .*\n", "", said(**changes))
    line = fault(text)
    assert f"{name} is missing" in line
    assert f'Write "{name}: ' in line


def test_a_place_that_nobody_can_guess_is_asked_for():
    text = said().replace("    hill:\n", "    Nab End:\n")
    assert "does not say where they are kept" in fault(text)


def test_one_way_alone_is_nothing_to_compare():
    text = said().replace("    hill:\n      deaths: 8 %\n", "")
    assert "two or more" in fault(text)


def test_ways_missing_empty_or_a_list_are_told():
    assert "ways is missing" in fault(BASE + "wintering: {wage: 13 /h}\n")
    assert "nothing is there" in fault(BASE + "wintering: {wage: 13 /h, ways: }\n")
    assert "a group" in fault(BASE + "wintering: {ways: [away, hill]}\n")
    assert "a group" in fault(BASE + "wintering: away\n")
    assert "nothing is there" in fault(BASE + "wintering:\n")


def test_too_many_ways_and_feeds_are_refused():
    many = {f"way {i}": {"place": "hill"} for i in range(9)}
    assert "at most 8" in fault(BASE + yaml.safe_dump({"wintering": {"ways": many}}))
    feeds = {f"hay {i}": "0.1 kg at 140 /t" for i in range(13)}
    assert "at most 12" in fault(said(feed=feeds))


def test_all_faults_of_the_section_are_told_at_once():
    text = said(keep="95 p", deaths="200 %", haulage="2.40", feed={"hay": "much"})
    lines = faults(text)
    assert len(lines) == 4
    places = [int(re.search(r"line (\d+)", line).group(1)) for line in lines]
    assert places == sorted(places)


def test_prices_of_hand_fed_feed_are_checked():
    text = BASE + SECTION.replace("hay: 140 /t\n", "hay: 140\n", 1)
    assert any("prices > hay" in line for line in faults(text))


WORDS = st.sampled_from(
    ["95 p a week", "-1", "1e9", "9" * 30, "", "nan", "inf", "yes", "0", "2 %", "0.85 kg", "12",
     "a week", "£", "p", "each", "£2 each way", "5 h", "x" * 300, "0.6 t DM a ha", "1,2", "½"]
)  # fmt: skip
VALUES = st.one_of(
    WORDS,
    st.integers(-(10**12), 10**12),
    st.floats(allow_nan=False, allow_infinity=False, width=32),
    st.booleans(),
    st.none(),
    st.lists(WORDS, max_size=3),
    st.dictionaries(WORDS, WORDS, max_size=2),
)
NAMES = sorted(
    {(f.alias or name) for name, f in section.WayEntry.model_fields.items()}
    | {"Keep", "kéep", "feed ", "ways"}
)


@given(st.dictionaries(st.sampled_from(NAMES), VALUES, min_size=1, max_size=5))
def test_no_hostile_way_raises_anything_but_plain_faults(body):
    try:
        found = read(said(**{k.replace(" ", "_"): v for k, v in body.items()}))
    except InputError as error:
        assert all("\n" not in str(p) for p in error.problems)
        assert all(len(str(p)) < 600 for p in error.problems)
    else:
        assert found.wintering is not None
        ways = found.wintering
        if all(f.price_gbp_per_t_fresh is not None for w in ways.ways for f in w.feeds) and not any(
            w.is_by_mix for w in ways.ways
        ):
            assert all(b.gbp_per_head == b.gbp_per_head for b in budgets(ways, 184))


@given(st.dictionaries(st.sampled_from(["number", "miles", "journey", "rate", "hours", "capital",
       "years", "interest", "upkeep", "share", "area", "lost grass", "worth", "repair"]), VALUES,
       max_size=5), st.sampled_from(["visits", "building", "land", "waste"]))  # fmt: skip
def test_no_hostile_part_of_a_way_raises_anything_but_plain_faults(body, part):
    try:
        read(said(**{part: body}))
    except InputError as error:
        assert all("\n" not in str(p) for p in error.problems)
