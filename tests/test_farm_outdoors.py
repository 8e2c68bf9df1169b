"""The section `outdoors:` of a farm file: what is read, and how every fault is told.

The farms are invented. That no useful grass grows from January is common practice, no source.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from ration import farm, tables
from ration.errors import InputError
from ration.farm.outdoors import Outdoors, day_in_winter, distance_km, grazed_mj, shelter
from ration.tables import Tables

WINTER = (date(2026, 10, 28), date(2027, 3, 31))
REST = """\
winter: {from: 28 October 2026, to: 31 March 2027}
batches:
  hoggs:
    head: 50
    weight: 30 kg
    gain: 20 g/day
feeds:
  hay-average:
    would fetch: 100 /t
"""
TYPICAL = """\
  typical weather:
    October: 8 C, 18 km/h, 4 mm
    November: 5 C, 18 km/h, 4 mm
    December: 3 C, 20 km/h, 5 mm
    January: 2 C, 22 km/h, 5 mm
    February: 2 C, 20 km/h, 4 mm
    March: 4 C, 18 km/h, 3 mm
"""


@pytest.fixture(scope="module")
def shipped() -> Tables:
    return tables.load()


def read(section: str, shipped: Tables, folder: Path | None = None) -> Outdoors | None:
    return farm.read_text(REST + section, "farm.yaml", folder, tables=shipped).outdoors


def refusals(section: str, shipped: Tables, folder: Path | None = None) -> list[str]:
    with pytest.raises(InputError) as caught:
        read(section, shipped, folder)
    return [str(p) for p in caught.value.problems]


def weather_file(folder: Path, first: date, days: int, *, without: range = range(0)) -> None:
    lines = ["date,mean temperature C,wind km/h,rain mm"]
    lines += [
        f"{(first + timedelta(i)).isoformat()},3,20,1" for i in range(days) if i not in without
    ]
    (folder / "days.csv").write_text("\n".join(lines), encoding="utf-8")


# ---------------------------------------------------------------- what is read


def test_without_the_section_there_is_nothing(shipped: Tables) -> None:
    assert read("", shipped) is None


def test_the_whole_section(shipped: Tables) -> None:
    section = (
        "outdoors:\n  fleece: 60 mm\n  shelter: wall\n  wind measured: at the sheep\n"
        + TYPICAL
        + "  walk: 3 km\n  climb: 100 m\n  grazing:\n    28 October: 3.0 MJ\n    1 January: 0\n"
        "    1 April: 0\n  grazing like: Grass deferred\n  hard weather days: 10\n  note: Low Stell\n"
    )
    found = read(section, shipped)
    assert found is not None
    assert found.winter == WINTER
    assert found.fleece_mm == 60
    assert (found.shelter, found.shelter_factor, found.at) == ("wall", 0.3, "sheep")
    assert found.typical[0] == (1, 2.0, 22.0, 5.0)
    assert len(found.typical) == 6
    assert (found.walk_km_per_day, found.climb_km_per_day) == (3.0, 0.1)
    assert found.grazing == (
        (date(2026, 10, 28), 3.0),
        (date(2027, 1, 1), 0.0),
        (date(2027, 4, 1), 0.0),
    )
    assert not found.grazing_ends
    assert found.grazing_feed == "grass-deferred"
    assert found.hard_days == 10
    assert found.has_weather


def test_what_is_not_said_is_not_known(shipped: Tables) -> None:
    found = read("outdoors:\n  shelter: no\n", shipped)
    assert found is not None
    assert (found.shelter, found.shelter_factor, found.at) == ("none", 1.0, "mast")
    assert found.fleece_mm is None
    assert found.weather is None
    assert found.walk_km_per_day is None
    assert found.grazing == ()
    assert found.grazing_feed == "grass-mature"
    assert not found.has_weather


def test_grazing_runs_out_by_january_unless_the_user_says_otherwise(shipped: Tables) -> None:
    found = read("outdoors:\n  grazing:\n    28 October: 3.0 MJ\n", shipped)
    assert found is not None
    assert found.grazing == ((date(2026, 10, 28), 3.0), (date(2027, 1, 1), 0.0))
    assert found.grazing_ends
    own = read("outdoors:\n  grazing:\n    28 October: 3 MJ\n    1 February: 1 MJ\n", shipped)
    assert own is not None
    assert own.grazing[-1] == (date(2027, 2, 1), 1.0)
    assert not own.grazing_ends


def test_a_weather_file_of_this_winter_or_another(shipped: Tables, tmp_path: Path) -> None:
    section = "outdoors:\n  fleece: 5 cm\n  weather: days.csv\n"
    for first in (date(2026, 10, 28), date(2023, 10, 28)):
        weather_file(tmp_path, first, 160)
        found = read(section, shipped, tmp_path)
        assert found is not None
        assert found.weather is not None
        assert found.weather[0].date == first
        assert found.weather_file == "days.csv"
        assert found.has_weather


def test_a_short_gap_is_left_and_a_week_is_told(shipped: Tables, tmp_path: Path) -> None:
    section = "outdoors:\n  fleece: 50 mm\n  weather: days.csv\n"
    weather_file(tmp_path, date(2026, 10, 28), 160, without=range(10, 16))
    assert read(section, shipped, tmp_path) is not None
    weather_file(tmp_path, date(2026, 10, 28), 160, without=range(10, 17))
    (told,) = refusals(section, shipped, tmp_path)
    assert "no day for 7 November 2026 to 13 November 2026" in told
    assert told.startswith("farm.yaml line 12, outdoors > weather")


# ---------------------------------------------------------------- faults


@pytest.mark.parametrize(
    ("section", "line", "words"),
    [
        ("outdoors: wild\n", 10, "is a group of names and values"),
        ("outdoors:\n", 10, "is a group of names and values"),
        ("outdoors:\n  fleece: 60\n", 11, "fleece needs its unit"),
        ("outdoors:\n  fleece: 60 cm\n", 11, "2 to 200 mm"),
        ("outdoors:\n  shelter: hegde\n", 11, 'Did you mean "hedge"?'),
        ("outdoors:\n  shelter: 140 %\n", 11, "at most 100 %"),
        ("outdoors:\n  shelter: 3\n", 11, "0 to 1"),
        ("outdoors:\n  wind measured: roof\n", 11, "open mast, at the sheep"),
        ("outdoors:\n  walk: 3 km\n", 11, "walk is said and climb is not"),
        ("outdoors:\n  climb: 100 m\n", 11, "climb is said and walk is not"),
        ("outdoors:\n  walk: 3\n  climb: 0 m\n", 11, "walk needs its unit"),
        ("outdoors:\n  walk: 50 km\n  climb: 0 m\n", 11, "0 to 20 km"),
        ("outdoors:\n  fleese: 60 mm\n", 11, 'Did you mean "fleece"?'),
        ("outdoors:\n  grazing like: [a]\n", 11, "not a list"),
        ("outdoors:\n  hard weather days: 10\n", 11, "grazing is not"),
        (
            "outdoors:\n  hard weather days: 180\n  grazing: {28 October: 1 MJ}\n",
            11,
            "more than the winter",
        ),
        ("outdoors:\n  grazing: 3 MJ\n", 11, "grazing is a group of days"),
        ("outdoors:\n  grazing:\n    28 October: 3\n", 12, "grazing is energy a head a day"),
        ("outdoors:\n  grazing:\n    28 October: 30 MJ\n", 12, "0 to 15 MJ"),
        ("outdoors:\n  grazing:\n    28 Octember: 3 MJ\n", 12, "no such month"),
        ("outdoors:\n  grazing:\n    30 February: 3 MJ\n", 12, "not in the calendar"),
        ("outdoors:\n  grazing:\n    1 May 2031: 3 MJ\n", 12, "far from the winter"),
        (
            "outdoors:\n  grazing:\n    28 October: 3 MJ\n    28/10/2026: 2 MJ\n",
            13,
            "28 October 2026 is here a second time",
        ),
        ("outdoors:\n  typical weather: mild\n", 11, "one month under each name"),
        ("outdoors:\n" + TYPICAL, 10, "fleece is missing"),
        (
            "outdoors:\n  fleece: 60 mm\n"
            + TYPICAL.replace("    January: 2 C, 22 km/h, 5 mm\n", ""),
            12,
            "January is missing",
        ),
        (
            "outdoors:\n  fleece: 60 mm\n" + TYPICAL + "    mar: 4 C, 18 km/h, 3 mm\n",
            19,
            "March is here a second time",
        ),
        (
            "outdoors:\n  fleece: 60 mm\n" + TYPICAL.replace("22 km/h", "22"),
            16,
            "has no unit that is known",
        ),
        ("outdoors:\n  fleece: 60 mm\n  weather: ../days.csv\n", 12, "must lie beside"),
        ("outdoors:\n  fleece: 60 mm\n  weather: none.csv\n", 12, "no such file"),
    ],
)
def test_faults(section: str, line: int, words: str, shipped: Tables, tmp_path: Path) -> None:
    told = refusals(section, shipped, tmp_path)
    assert any(f"farm.yaml line {line}" in t and words in t for t in told), told


def test_all_faults_are_told_at_once(shipped: Tables, tmp_path: Path) -> None:
    weather_file(tmp_path, date(2026, 10, 28), 160)
    with (tmp_path / "days.csv").open("a", encoding="utf-8") as file:
        file.write("\n2026-11-01,3,20,1\n")
    section = (
        "outdoors:\n  shelter: moon\n  weather: days.csv\n" + TYPICAL + "  walk: far\n"
        "  grazing: {soon: 3 MJ}\n"
    )
    told = "\n".join(refusals(section, shipped, tmp_path))
    for words in (
        "shelter is not known",
        "both said",
        "fleece is missing",
        "walk must start with a number",
        "here a second time",
        "soon",
        "climb",
    ):
        assert words in told


def test_a_winter_at_fault_hides_no_fault_of_the_section(shipped: Tables) -> None:
    text = REST.replace("31 March 2027", "31 March 2025")
    text += "outdoors:\n  grazing:\n    28 Octember: 3 MJ\n"
    with pytest.raises(InputError) as caught:
        farm.read_text(text, "farm.yaml", tables=shipped)
    told = str(caught.value)
    assert "no such month" in told
    assert "the winter runs from" in told


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=12),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=6,
)
NAMES = (
    "fleece", "shelter", "wind measured", "weather", "typical weather", "walk", "climb", "grazing",
    "grazing like", "hard weather days", "note",
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(section=st.dictionaries(st.sampled_from(NAMES), values, max_size=4) | values)
def test_any_section_is_read_or_refused_in_words(section: object, shipped: Tables) -> None:
    text = REST + yaml.safe_dump({"outdoors": section}, allow_unicode=True)
    try:
        farm.read_text(text, "farm.yaml", tables=shipped)
    except InputError as error:
        assert error.problems
        assert all(p.where for p in error.problems)


# ---------------------------------------------------------------- single values


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("28 October", date(2026, 10, 28)),
        ("1 January", date(2027, 1, 1)),
        ("1/1", date(2027, 1, 1)),
        ("1 April", date(2027, 4, 1)),
        ("20 Oct", date(2026, 10, 20)),
        ("1 January 2027", date(2027, 1, 1)),
        ("2026-12-24", date(2026, 12, 24)),
        ("29 February", date(2028, 2, 29)),
    ],
)
def test_days_without_a_year_lie_in_the_winter_or_nearest_to_it(words: str, expected: date) -> None:
    assert day_in_winter(words, WINTER) == expected


@given(st.integers(0, 153))
def test_every_day_of_the_winter_is_found_without_its_year(n: int) -> None:
    when = WINTER[0] + timedelta(n)
    assert day_in_winter(f"{when.day} {when:%B}", WINTER) == when
    assert day_in_winter(f"{when.day}/{when.month}", WINTER) == when


@pytest.mark.parametrize(
    ("value", "factor"),
    [("none", 1.0), (False, 1.0), ("Hedge", 0.3), ("lie-back", 0.3), ("wood", 0.15), ("40 %", 0.4),
     ("40 % of the wind", 0.4), (0.25, 0.25), ("0.25", 0.25)],
)  # fmt: skip
def test_shelters(value: object, factor: float) -> None:
    assert shelter(value)[1] == factor


@pytest.mark.parametrize(
    ("value", "km"),
    [("3 km", 3.0), ("100 m", 0.1), ("2 miles a day", 3.218688), ("500 ft", 0.1524)],
)
def test_distances(value: str, km: float) -> None:
    assert distance_km(value) == pytest.approx(km)


@pytest.mark.parametrize(
    ("value", "mj"), [(0, 0.0), ("nothing", 0.0), ("2.5 MJ a head a day", 2.5)]
)
def test_grazed(value: object, mj: float) -> None:
    assert grazed_mj(value) == mj
