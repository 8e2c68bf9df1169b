"""Cold, wind and wet: what holds of the heat balance over its whole range, and the command.

The single worked numbers stand in `published/cold.csv`. The farms and weathers are invented.
"""

from __future__ import annotations

import itertools
import json
import math
from datetime import date, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from ration import animals, outdoors, weather
from ration.cli.cold import cold as command
from ration.errors import MissingValue, OutOfRange
from ration.farm.outdoors import Outdoors
from ration.jobs import cold as jobs
from ration.standards import cold
from ration.weather import Day, Month

DATA = Path(__file__).parent / "data" / "weather"
WINTER = (date(2026, 10, 28), date(2027, 3, 31))

weights = st.floats(10, 100)
fleeces = st.floats(2, 150)
winds = st.floats(0, 120)
rains = st.floats(0, 100)
temperatures = st.floats(-30, 25)


def heat(weight_kg: float) -> float:
    """Near maintenance: 0.4 MJ for each kg of metabolic weight, as the published tables are."""
    return 0.4 * weight_kg**0.75


def place(**more: object) -> Outdoors:
    base: dict[str, object] = {"winter": WINTER, "fleece_mm": 60.0, "at": "sheep"}
    return Outdoors(**{**base, **more})  # type: ignore[arg-type]


# ---------------------------------------------------------------- the heat balance


@given(weights, temperatures, fleeces, winds, rains)
def test_an_allowance_is_never_negative_nor_over_the_sheeps_own_heat(
    weight_kg: float, t: float, fleece: float, wind: float, rain: float
) -> None:
    own = heat(weight_kg)
    found = cold.cold_me_mj_per_day(weight_kg, own, t, fleece, wind, rain)
    assert 0 <= found.me_mj_per_day <= own
    assert all(math.isfinite(x) for x in found)
    assert found.is_danger is (found.uncapped_me_mj_per_day >= own)
    assert (found.uncapped_me_mj_per_day > 0) is (t < found.critical_c)


@given(weights, temperatures, fleeces, winds, rains, st.floats(0.1, 30))
def test_k8_colder_windier_wetter_or_barer_never_costs_less(
    weight_kg: float, t: float, fleece: float, wind: float, rain: float, more: float
) -> None:
    def extra(t: float, f: float, v: float, r: float) -> float:
        return cold.cold_me_mj_per_day(weight_kg, heat(weight_kg), t, f, v, r)[1]

    base = extra(t, fleece, wind, rain)
    slack = 1e-9
    assert extra(t - more, fleece, wind, rain) >= base - slack
    assert extra(t, fleece, wind + more, rain) >= base - slack
    assert extra(t, fleece, wind, rain + more) >= base - slack
    assert extra(t, fleece + more, wind, rain) <= base + slack


@given(weights)
def test_a_still_day_of_10_degrees_costs_a_fleeced_sheep_nothing(weight_kg: float) -> None:
    # the published rule of thumb puts the critical temperature at -2 C at 63 mm (N-S26)
    found = cold.cold_me_mj_per_day(weight_kg, heat(weight_kg), 10.0, 60.0)
    assert found.me_mj_per_day == 0
    assert not found.is_danger


def test_wind_lowers_insulation_by_less_than_the_live_sheep_that_were_measured() -> None:
    # N-S22 (print): moderate wind raised heat flow 3 to 5 times; the balance is milder
    def fall(fleece: float, wind: float) -> float:
        still, windy = (
            cold.external_insulation_c_m2_day_per_mj(fleece, v, 0, 130) for v in (0, wind)
        )
        return still / windy

    assert fall(60, 16) == pytest.approx(2.1, abs=0.06)
    assert fall(5, 20) == pytest.approx(3.3, abs=0.05)


def test_the_extension_slope_lies_between_a_fleeced_and_a_shorn_ewe() -> None:
    # N-S25 (print): 1/4 lb TDN for 10 degF, 0.31 MJ a degree; 60 kg at 5 km/h
    def slope(fleece: float) -> float:
        outer = cold.external_insulation_c_m2_day_per_mj(fleece, 5, 0, 149)
        return cold.surface_area_m2(60) / (1.3 + outer)

    assert slope(60) < cold.rule_of_slope_me_mj_per_day(1) < slope(5)
    assert slope(25) == pytest.approx(0.31, abs=0.02)


def test_a_clear_night_and_sun_are_options_and_off_unless_said() -> None:
    def extra(**more: object) -> float:
        return cold.cold_me_mj_per_day(40, 7, 2, 60, 20, **more)[1]  # type: ignore[arg-type]

    assert extra(is_clear_night=True) > extra() > extra(sun_c=4)
    with pytest.raises(OutOfRange, match="sun"):
        extra(sun_c=6)


@pytest.mark.parametrize(
    "values",
    [
        {"weight_kg": 0.0},
        {"weight_kg": math.nan},
        {"fleece_mm": 0.0},
        {"fleece_mm": math.nan},
        {"wind_km_per_h": -1.0},
        {"wind_km_per_h": math.inf},
        {"rain_mm_per_day": -1.0},
        {"rain_mm_per_day": math.nan},
        {"temperature_c": math.nan},
        {"heat_mj_per_day": 0.0},
        {"heat_mj_per_day": math.nan},
        {"radius_mm": 0.0},
    ],
)
def test_what_lies_outside_is_refused_and_never_worked_out(values: dict[str, float]) -> None:
    sound = {"weight_kg": 40.0, "heat_mj_per_day": 7.0, "temperature_c": 2.0, "fleece_mm": 60.0}
    with pytest.raises(OutOfRange, match="is covered"):
        cold.cold_me_mj_per_day(**{**sound, **values})


@pytest.mark.parametrize("wind", [-1.0, math.nan])
def test_wind_and_shelter_outside_are_refused(wind: float) -> None:
    with pytest.raises(OutOfRange):
        cold.wind_at_sheep_km_per_h(wind)
    with pytest.raises(OutOfRange):
        cold.wind_at_sheep_km_per_h(10, True, wind)


# ---------------------------------------------------------------- over some days


def test_a_storm_among_mild_days_costs_more_than_its_mean_weather() -> None:
    start = date(2026, 12, 1)
    days = [Day(start + timedelta(i), 9.0, 2.0, 0.0) for i in range(6)]
    days.append(Day(start + timedelta(6), -5.0, 40.0, 15.0))
    spell = outdoors.cold_allowance(
        40, 7.0, place(weather=tuple(days)), start, start + timedelta(7)
    )
    one = cold.cold_me_mj_per_day(40, 7.0, -5.0, 60, 40.0, 15.0)
    assert spell.mean_me_mj_per_day == pytest.approx(one.me_mj_per_day / 7)
    mean = cold.cold_me_mj_per_day(
        40,
        7.0,
        sum(d.temperature_c for d in days) / 7,
        60,
        sum(d.wind_km_per_h for d in days) / 7,
        sum(d.rain_mm for d in days) / 7,
    )
    assert spell.mean_me_mj_per_day > mean.me_mj_per_day
    assert spell.hardest[0].weather.when == days[-1].date
    assert spell.cold_days == 1
    assert len(spell.hardest) == 1


@given(st.floats(-10, 15), st.floats(0, 60), st.floats(0, 20), st.floats(0.5, 31))
def test_day_types_keep_the_months_means(t: float, wind: float, rain: float, days: float) -> None:
    types = outdoors.day_types(Month(1, t, wind, rain), days)
    assert sum(d.share for d in types) == pytest.approx(days)
    for mean, name in ((t, "temperature_c"), (wind, "wind_km_per_h"), (rain, "rain_mm")):
        total = sum(d.share * getattr(d, name) for d in types)
        assert total / days == pytest.approx(mean, abs=1e-9)
    assert len(types) == 30


def test_typical_weather_is_not_one_mean_day() -> None:
    # a mean day of 1 C and 5 km/h costs nothing (critical temperature -1.0, worked table)
    spell = outdoors.cold_allowance(
        40, 7.0, place(typical=(Month(1, 1.0, 5.0, 0.0),)), date(2027, 1, 1), date(2027, 2, 1)
    )
    assert cold.cold_me_mj_per_day(40, 7.0, 1.0, 60, 5.0).me_mj_per_day == 0
    assert spell.mean_me_mj_per_day > 0
    assert spell.hardest[0].weather.temperature_c == -5.0
    assert 0 < spell.cold_days < 31


def test_the_rules_stand_beside_the_balance() -> None:
    # one day of 2 C at 20 km/h: 8.5 degrees below by the worked table
    day = Day(date(2026, 12, 1), 2.0, 20.0, 0.0)
    spell = outdoors.cold_allowance(40, 7.0, place(weather=(day,)), day.date, date(2026, 12, 2))
    assert spell.slight_rule_me_mj_per_day == pytest.approx(0.01 * 7 * 8.5, abs=0.01)
    assert spell.steep_rule_me_mj_per_day == pytest.approx(0.018 * 7 * 8.5, abs=0.01)
    assert spell.slope_rule_me_mj_per_day == pytest.approx(0.31 * 8.5, abs=0.03)
    assert spell.range_mj_per_day == (
        spell.slight_rule_me_mj_per_day,
        spell.slope_rule_me_mj_per_day,
    )
    assert spell.frost_days == 1


def test_shelter_and_mast_wind_come_before_the_balance() -> None:
    day = Day(date(2026, 12, 1), 2.0, 40.0, 0.0)
    more = {"weather": (day,), "at": "mast"}
    spell = outdoors.cold_allowance(40, 7.0, place(**more), day.date, date(2026, 12, 2))
    assert spell.hardest[0].wind_at_sheep_km_per_h == 20
    assert spell.mean_me_mj_per_day == pytest.approx(1.80, abs=0.01)  # worked table, 2 C, 20 km/h
    walled = place(**more, shelter_factor=0.3)
    behind = outdoors.cold_allowance(40, 7.0, walled, day.date, date(2026, 12, 2))
    assert behind.mean_me_mj_per_day < spell.mean_me_mj_per_day


def test_other_winters_stand_in_by_day_and_month_each_for_its_part() -> None:
    cold_one, mild_one = Day(date(2024, 12, 1), -5, 20, 0), Day(date(2025, 12, 1), 9, 2, 0)
    both = outdoors.cold_allowance(
        40, 7.0, place(weather=(cold_one, mild_one)), date(2026, 12, 1), date(2026, 12, 2)
    )
    assert both.mean_me_mj_per_day == pytest.approx(3.28 / 2, abs=0.01)  # worked table
    assert both.is_other_years
    itself = Day(date(2026, 12, 1), 9, 2, 0)
    own = outdoors.cold_allowance(
        40, 7.0, place(weather=(cold_one, mild_one, itself)), date(2026, 12, 1), date(2026, 12, 2)
    )
    assert own.mean_me_mj_per_day == 0
    assert not own.is_other_years


def test_days_without_weather_are_unknown_and_in_no_mean() -> None:
    day = Day(date(2026, 12, 1), -5, 20, 0)
    spell = outdoors.cold_allowance(
        40, 7.0, place(weather=(day,)), date(2026, 12, 1), date(2026, 12, 4)
    )
    assert spell.unknown == (date(2026, 12, 2), date(2026, 12, 3))
    assert spell.mean_me_mj_per_day == pytest.approx(3.28, abs=0.01)
    with pytest.raises(MissingValue, match="weather from 2026-12-02"):
        outdoors.cold_allowance(
            40, 7.0, place(weather=(day,)), date(2026, 12, 2), date(2026, 12, 4)
        )
    with pytest.raises(MissingValue, match="fleece is not known"):
        outdoors.cold_allowance(
            40, 7.0, place(weather=(day,), fleece_mm=None), day.date, date(2026, 12, 2)
        )
    with pytest.raises(OutOfRange, match="at least 1 day"):
        outdoors.cold_allowance(40, 7.0, place(weather=(day,)), day.date, day.date)


def test_a_day_that_kills_is_capped_and_told() -> None:
    day = Day(date(2026, 12, 1), -5, 20, 0)
    spell = outdoors.cold_allowance(
        40, 7.0, place(weather=(day,), fleece_mm=5.0), day.date, date(2026, 12, 2)
    )
    assert spell.mean_me_mj_per_day == 7.0
    assert spell.danger_days == 1
    assert spell.danger[0].uncapped_me_mj_per_day == pytest.approx(14.9, abs=0.05)  # worked table


@settings(max_examples=25)
@given(st.integers(1, 200), st.integers(1, 200))
def test_months_tile_the_days(before: int, length: int) -> None:
    start = WINTER[0] + timedelta(before)
    end = start + timedelta(length)
    found = outdoors.months(start, end)
    assert (found[0][0], found[-1][1]) == (start, end)
    assert all(a[1] == b[0] for a, b in itertools.pairwise(found))
    assert all(a < b for a, b in found)


# ---------------------------------------------------------------- grazing and the batch


def test_grazing_is_straight_between_its_days() -> None:
    # by hand: 3 MJ on 1 November falling to 0 on 1 December, 0.1 MJ a day
    curve = ((date(2026, 11, 1), 3.0), (date(2026, 12, 1), 0.0))
    out = place(grazing=curve)
    assert outdoors.grazed_on_mj(out, date(2026, 10, 20)) == 3.0
    assert outdoors.grazed_on_mj(out, date(2026, 11, 11)) == pytest.approx(2.0)
    assert outdoors.grazed_on_mj(out, date(2027, 2, 1)) == 0.0
    mean = outdoors.grazing_me_mj_per_day(out, date(2026, 11, 1), date(2026, 11, 11))
    assert mean == pytest.approx(3.0 - 0.1 * 4.5)
    assert outdoors.grazing_me_mj_per_day(place(), *WINTER) == 0.0


def test_hard_weather_takes_its_share_of_the_grazing() -> None:
    days = (WINTER[1] - WINTER[0]).days
    out = place(grazing=((WINTER[0], 2.0),), hard_days=days // 2)
    assert outdoors.grazing_me_mj_per_day(out, *WINTER) == pytest.approx(1.0)


def test_a_batch_is_dressed_only_out_of_doors() -> None:
    day = Day(date(2026, 12, 1), -5, 20, 0)
    out = place(weather=(day,), walk_km_per_day=3.0, climb_km_per_day=0.1)
    span = (day.date, date(2026, 12, 2), 7.0)
    shed = animals.batch("a", weight_kg=40, gain_g_per_day=20, housing="shed")
    assert outdoors.dressed(shed, out, *span) is shed
    hill = animals.batch("b", weight_kg=40, gain_g_per_day=20, housing="hill")
    dressed = outdoors.dressed(hill, out, *span)
    assert dressed.cold_me_mj_per_day == pytest.approx(3.28, abs=0.01)  # worked table
    assert (dressed.walk_km_per_day, dressed.climb_km_per_day) == (3.0, 0.1)
    bare = outdoors.dressed(hill, place(), *span)
    assert (bare.cold_me_mj_per_day, bare.walk_km_per_day) == (0.0, None)


def test_heat_is_maintenance_in_the_range_of_published_tables() -> None:
    # pen-fed dry sheep of 40, 50 and 60 kg: 6.4, 7.0 and 8.0 MJ (N-S12, print), within 15 %
    for kg, printed in ((40, 6.4), (50, 7.0), (60, 8.0)):
        ewe = animals.batch(
            "ewe", sheep_class="ewe", weight_kg=kg, gain_g_per_day=0, housing="in-bye"
        )
        assert outdoors.heat_mj_per_day(ewe) == pytest.approx(printed, rel=0.15)


# ---------------------------------------------------------------- the command

FARM = """\
name: Upper Skarrendale
winter: {from: 28 October 2026, to: 31 March 2027}
housing: in-bye
outdoors:
  fleece: 60 mm
  shelter: none
  typical weather:
    October: 8 C, 18 km/h, 4 mm
    November: 5 C, 18 km/h, 4 mm
    December: 3 C, 20 km/h, 5 mm
    January: 2 C, 22 km/h, 5 mm
    February: 2 C, 20 km/h, 4 mm
    March: 4 C, 18 km/h, 3 mm
  grazing:
    28 October: 3.0 MJ
batches:
  hoggs:
    head: 50
    weight: 30 kg
    gain: 20 g/day
  pets:
    housing: shed
    head: 5
    weight: 30 kg
    gain: 20 g/day
feeds:
  hay-average:
    would fetch: 100 /t
  barley:
    price: 200 /t
"""
ONE = ["--weight", "30kg", "--fleece", "60 mm", "--temperature", "2 C", "--wind", "30 km/h"]
ONE += ["--rain", "20 mm"]


def run(*args: str, code: int = 0) -> str:
    result = CliRunner().invoke(command, args)
    assert result.exit_code == code, result.output
    return result.output


def test_one_day_as_data_is_the_worked_number() -> None:
    # 30 kg, 60 mm, heat 6.0 MJ/m2 x 0.849 m2: 4.5 MJ by hand, to 5 %
    told = json.loads(run(*ONE, "--at-sheep", "--heat", "5.1 MJ", "--json"))
    assert told["extra_me_mj_per_day"] == pytest.approx(4.5, rel=0.05)
    assert told["is_danger"] is False
    assert told["as_hay_kg_fresh"] == pytest.approx(told["extra_me_mj_per_day"] / 8.5 / 0.85)
    halved = json.loads(run(*ONE, "--heat", "5.1 MJ", "--json"))
    assert halved["wind_at_sheep_km_per_h"] == 15


def test_one_day_in_words() -> None:
    told = run(*ONE)
    assert "of hay" in told
    assert "kg of barley" in told
    assert "Simple rules say" in told
    assert "30 to 50 %" in told
    assert "Behind a wall" in told
    assert "Frost" in told
    assert "DANGER" not in told


def test_a_mild_day_costs_nothing() -> None:
    told = run(*ONE[:4], "--temperature", "10 C", "--wind", "calm", "--rain", "none")
    assert "costs it nothing" in told
    assert "Frost" not in told


def test_a_day_that_kills_is_told_and_no_feed_is_offered_for_it() -> None:
    args = ["--weight", "40 kg", "--fleece", "5 mm", "--temperature", "-5 C", "--wind", "20 km/h"]
    told = run(*args, "--rain", "none", "--at-sheep", "--heat", "7 MJ")
    assert "DANGER: find shelter: this is weather that kills, not a feeding problem." in told
    assert "call your vet" in told
    assert "kg of barley" not in told
    assert "Chill index" in told


def test_every_fault_of_the_typed_values_is_told_at_once() -> None:
    args = ["--weight", "30", "--fleece", "60", "--temperature", "2", "--wind", "30", "--rain", "9"]
    told = run(*args, "--shelter", "hegde", "--class", "goat", code=1)
    for option in ("weight", "fleece", "temperature", "wind", "rain", "shelter", "class"):
        assert f"--{option}: read" in told
    assert 'Did you mean "hedge"?' in told


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--weight", "30kg"], "--fleece, --temperature, --wind, --rain wanted too"),
        ([*ONE, "--weather", "x.csv"], "leave out --temperature, --wind, --rain"),
        (["farm.yaml", "--weight", "30kg"], "leave out --weight"),
    ],
)
def test_what_does_not_go_together_is_refused(args: list[str], words: str) -> None:
    assert words in " ".join(run(*args, code=2).split())


@pytest.mark.parametrize("weight", ["4 kg", "150 kg"])
def test_a_weight_that_no_sheep_has_is_refused(weight: str) -> None:
    assert "--weight: live weight" in run("--weight", weight, *ONE[2:], code=1)


def test_a_weather_file_without_a_farm() -> None:
    file = str(DATA / "skarrendale-daily.csv")
    told = run("--weight", "30kg", "--fleece", "60 mm", "--weather", file)
    assert "October 2025" in told
    assert "31 October 2025" in told  # the gap
    assert "not filled" in told
    data = json.loads(run("--weight", "30kg", "--fleece", "60 mm", "--weather", file, "--json"))
    spell = data["batches"][0]["winter"]
    assert data["missing_days"] == [["2025-10-31", "2025-10-31"]]
    assert spell["unknown_days"] == ["2025-10-31"]
    assert spell["days"] == 6
    assert spell["hardest"][0]["date"] == "2025-11-02"
    thin = run("--weight", "30kg", "--fleece", "20 mm", "--weather", file)
    assert "1 November 2025 and 2 November 2025" in " ".join(thin.split())


def test_a_farm_month_by_month(tmp_path: Path) -> None:
    file = tmp_path / "farm.yaml"
    file.write_text(FARM, encoding="utf-8")
    data = json.loads(run(str(file), "--json"))
    hoggs, pets = data["batches"]
    assert pets["winter"] is None
    assert [m["from"][:7] for m in hoggs["months"]] == [
        "2026-10", "2026-11", "2026-12", "2027-01", "2027-02", "2027-03",
    ]  # fmt: skip
    means = [m["mean_me_mj_per_day"] for m in hoggs["months"]]
    assert max(means) == means[3]
    assert sum(m["days"] for m in hoggs["months"]) == hoggs["winter"]["days"]
    total = sum(m["days"] * m["mean_me_mj_per_day"] for m in hoggs["months"])
    assert total / hoggs["winter"]["days"] == pytest.approx(hoggs["winter"]["mean_me_mj_per_day"])
    assert [m["grazing_me_mj_per_day"] for m in hoggs["months"]][3:] == [0, 0, 0]
    told = " ".join(run(str(file)).split())
    assert "pets: in a shed" in told
    assert "Grazing runs out by 1 January" in told
    assert "thirty types of day" in told


def test_a_farm_that_says_nothing_of_out_of_doors_is_told_what_to_add(tmp_path: Path) -> None:
    file = tmp_path / "farm.yaml"
    start, end = FARM.index("outdoors:"), FARM.index("batches:")
    file.write_text(FARM[:start] + FARM[end:], encoding="utf-8")
    assert 'Add a section "outdoors:"' in run(str(file), code=1)
    file.write_text(FARM[:start] + "outdoors: {fleece: 60 mm}\n" + FARM[end:], encoding="utf-8")
    assert "weather is not said" in run(str(file), code=1)
    other = tmp_path / "days.csv"
    other.write_text("date,mean temperature C,wind km/h,rain mm\n2025-12-01,2,20,0\n", "utf-8")
    told = " ".join(run(str(file), "--weather", str(other)).split())
    assert "December" in told
    assert "holds other winters" in told
    assert "153 days is unknown" in told


def test_a_farm_all_in_the_shed_has_no_cold(tmp_path: Path) -> None:
    file = tmp_path / "farm.yaml"
    file.write_text(FARM.replace("housing: in-bye", "housing: shed"), encoding="utf-8")
    assert "All batches are in a shed" in run(str(file))


def test_the_job_and_the_equation_agree() -> None:
    one = jobs.one_day(40, 60, 2, 20, 10, at="sheep", heat_mj_per_day=7.0)
    assert one.day.me_mj_per_day == pytest.approx(2.18, abs=0.05)  # worked number K5
    assert one.day.critical_c == pytest.approx(11.8, abs=0.1)
    assert weather.wind_km_per_h("20 km/h") == 20
