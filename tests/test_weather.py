"""Weather files and weather in words: what is read, and how every fault is told.

The files are invented; what a unit is worth is exact by definition (1 mile = 1.609344 km, 1 knot =
1.852 km/h, 0 degC = 32 degF).
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ration import weather
from ration.errors import FileError, InputError
from ration.weather import Day

DATA = Path(__file__).parent / "data" / "weather"
HEAD = "date,mean temperature C,wind km/h,rain mm\n"


def read(text: str, tmp_path: Path) -> tuple[Day, ...]:
    file = tmp_path / "days.csv"
    file.write_text(text, encoding="utf-8")
    return weather.read(file)


def refusals(text: str, tmp_path: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        read(text, tmp_path)
    return [str(p) for p in caught.value.problems]


# ---------------------------------------------------------------- files that are read


def test_day_first_dates_min_and_max_miles_and_a_trace_of_rain() -> None:
    days = weather.read(DATA / "skarrendale-daily.csv")
    assert [d.date for d in days[:2]] == [date(2025, 10, 28), date(2025, 10, 29)]
    assert days[0] == Day(date(2025, 10, 28), 7.0, 16.09344, 0.0)
    assert days[2].rain_mm == 0.0
    assert days[3].temperature_c == -3.0
    assert weather.gaps(days) == ((date(2025, 10, 31), date(2025, 10, 31)),)


def test_semicolons_decimal_commas_metres_a_second_and_any_order() -> None:
    days = weather.read(DATA / "semicolons.csv")
    assert days == (
        Day(date(2025, 12, 30), 1.5, 36.0, 12.4),
        Day(date(2025, 12, 31), -2.5, 18.0, 0.0),
    )
    assert weather.gaps(days) == ()


@pytest.mark.parametrize(
    ("heading", "cell", "expected"),
    [
        ("Mean temperature C", "5.5", 5.5),
        ("temp_C", "-0.5", -0.5),
        ("Temp. (°C)", "+3", 3.0),
        ("tmean [C]", ".5", 0.5),
        ("temperature (F)", "32", 0.0),
        ("temperature", "5 C", 5.0),
        ("mean temperature (deg C)", "−4", -4.0),
    ],
)
def test_headings_of_temperature(heading: str, cell: str, expected: float, tmp_path: Path) -> None:
    text = f"date,{heading},wind km/h,rain mm\n2025-12-01,{cell},10,0\n"
    assert read(text, tmp_path)[0].temperature_c == pytest.approx(expected)


@pytest.mark.parametrize(
    ("heading", "cell", "expected"),
    [
        ("wind km/h", "10", 10.0),
        ("Wind speed (m/s)", "10", 36.0),
        ("wind_mph", "10", 16.09344),
        ("Mean wind, knots", "10", 18.52),
        ("wind (kt)", "10", 18.52),
        ("wind", "10 mph", 16.09344),
    ],
)
def test_headings_of_wind(heading: str, cell: str, expected: float, tmp_path: Path) -> None:
    text = f'date,mean temperature C,"{heading}",rain mm\n2025-12-01,5,{cell},0\n'
    assert read(text, tmp_path)[0].wind_km_per_h == pytest.approx(expected)


@pytest.mark.parametrize(
    ("heading", "cell", "expected"),
    [("Rainfall (mm)", "4.2", 4.2), ("precipitation in", "1", 25.4), ("rain mm/day", "trace", 0.0)],
)
def test_headings_of_rain(heading: str, cell: str, expected: float, tmp_path: Path) -> None:
    text = f"Date,mean temperature C,wind km/h,{heading}\n1 December 2025,5,10,{cell}\n"
    assert read(text, tmp_path)[0].rain_mm == pytest.approx(expected)


def test_columns_that_say_other_things_are_left_alone(tmp_path: Path) -> None:
    text = (
        "station,date,max gust km/h,mean temperature C,wind direction,wind km/h,rain mm,snow cm,"
        "max wind km/h,grass min C\nhill,2025-12-01T00:00:00Z,90,5,SW,10,0,4,60,-9\n"
    )
    assert read(text, tmp_path) == (Day(date(2025, 12, 1), 5.0, 10.0, 0.0),)


def test_a_mean_beside_least_and_most_is_the_mean(tmp_path: Path) -> None:
    text = "date,min C,max C,mean temp C,wind km/h,rain mm\n2025-12-01,1,9,4,10,0\n2025-12-02,,,3,9,0\n"
    assert [d.temperature_c for d in read(text, tmp_path)] == [4.0, 3.0]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40)
@given(
    rows=st.lists(
        st.tuples(
            st.integers(0, 3000),
            st.integers(-250, 250),
            st.integers(0, 1000),
            st.integers(0, 1000),
        ),
        min_size=1,
        max_size=30,
        unique_by=lambda row: row[0],
    ),
    delimiter=st.sampled_from([",", ";"]),
)
def test_what_is_written_is_read_back(
    rows: list[tuple[int, int, int, int]], delimiter: str, tmp_path: Path
) -> None:
    def shown(tenths: int) -> str:
        return f"{tenths / 10:.1f}".replace(".", "," if delimiter == ";" else ".")

    days = {date(2020, 1, 1) + timedelta(n): row for n, *row in rows}
    lines = [HEAD.replace(",", delimiter).strip()]
    lines += [delimiter.join((d.isoformat(), *map(shown, row))) for d, row in days.items()]
    found = read("\n".join(lines), tmp_path)
    assert [d.date for d in found] == sorted(days)
    for day in found:
        t, wind, rain = days[day.date]
        assert (day.temperature_c, day.wind_km_per_h, day.rain_mm) == (t / 10, wind / 10, rain / 10)


# ---------------------------------------------------------------- faults


def test_every_fault_of_a_file_is_told_with_its_line_and_column() -> None:
    with pytest.raises(FileError) as caught:
        weather.read(DATA / "faulty.csv")
    told = [str(p) for p in caught.value.problems]
    assert len(told) == 6
    for line, words in (
        (3, "here a second time; it is already at line 2"),
        (4, "puts the month first"),
        (5, "-35 to 35 C"),
        (6, "the wind of this day is not known"),
        (7, "unknown unit"),
        (8, "cannot be below zero"),
    ):
        assert any(f"faulty.csv line {line}" in t and words in t for t in told), (line, told)
    assert all("column" in t for t in told[1:])


@pytest.mark.parametrize(
    ("head", "row", "words"),
    [
        ("date,wind km/h,rain mm", "2025-12-01,5,0", "no column says the temperature"),
        ("date,mean temp C,rain mm", "2025-12-01,5,0", "no column says the wind"),
        ("date,mean temp C,gust km/h,rain mm", "2025-12-01,5,9,0", "no column says the wind"),
        ("date,mean temp C,wind km/h", "2025-12-01,5,0", "no column says the rain"),
        ("when,mean temp C,wind km/h,rain mm", "2025-12-01,5,9,0", "no column says the date"),
        ("date,min C,wind km/h,rain mm", "2025-12-01,5,9,0", "no column says the temperature"),
        ("date,mean temp,wind km/h,rain mm", "2025-12-01,5,9,0", "temperature needs its unit"),
        ("date,mean temp C,wind,rain mm", "2025-12-01,5,9,0", "wind needs its unit"),
        ("date,mean temp C,wind km/h,rain", "2025-12-01,5,9,0", "rain needs its unit"),
        ("date,mean temp C,wind km/h,wind mph,rain mm", "2025-12-01,5,9,9,0", "both say the wind"),
        ("date,min C,max C,wind km/h,rain mm", "2025-12-01,9,1,9,0", "do not follow: 9 C, 1 C"),
        ("date,min C,max C,wind km/h,rain mm", "2025-12-01,,1,9,0", "least temperature of this"),
        (HEAD.strip(), "2025-12-01,n/a,9,0", "temperature of this day is not known"),
        (HEAD.strip(), "2025-12-01,1e3,9,0", "power of ten"),
        (HEAD.strip(), "2025-12-01,5,nan,0", "wind of this day is not known"),
        (HEAD.strip(), "2025-12-01,5,=1+1,0", "must start with a number"),
        (HEAD.strip(), "2025-12-01,5,200,0", "0 to 150 km/h"),
        (HEAD.strip(), "2025-12-01,5,9,900", "0 to 350 mm"),
        (HEAD.strip(), "1/12/25,5,9,0", "all four figures of the year"),
        (HEAD.strip(), "31/11/2025,5,9,0", "not in the calendar"),
        (HEAD.strip(), ",5,9,0", "date is empty"),
        (HEAD.strip(), "2025-12-01,5,9", "3 cells"),
        (HEAD.strip(), "", "there is no day below the headings"),
    ],
)
def test_what_cannot_be_read_with_certainty_is_refused(
    head: str, row: str, words: str, tmp_path: Path
) -> None:
    told = refusals(f"{head}\n{row}\n", tmp_path)
    assert any(words in t for t in told), told
    assert all("days.csv" in t for t in told)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(text=st.text(max_size=200))
def test_any_text_is_read_or_refused_in_words(text: str, tmp_path: Path) -> None:
    file = tmp_path / "days.csv"
    for whole in (text, HEAD + text):
        file.write_bytes(whole.encode("utf-8", "replace"))
        try:
            assert weather.read(file)
        except FileError as error:
            assert error.problems
            assert all(p.where.startswith("days.csv") for p in error.problems)


def test_a_missing_file_a_folder_and_a_workbook_are_refused(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(FileError):
            weather.read(path)
    book = tmp_path / "book.csv"
    book.write_bytes(b"PK\x03\x04rest")
    with pytest.raises(FileError, match="workbook"):
        weather.read(book)


# ---------------------------------------------------------------- said in words


@pytest.mark.parametrize(
    ("reader", "text", "expected"),
    [
        (weather.temperature_c, "-3 °C", -3.0),
        (weather.temperature_c, "23 F", -5.0),
        (weather.wind_km_per_h, "18 mph", 28.968192),
        (weather.wind_km_per_h, "calm", 0.0),
        (weather.rain_mm, "0.5 in", 12.7),
        (weather.rain_mm, "4 mm a day", 4.0),
        (weather.rain_mm, "dry", 0.0),
        (weather.depth_mm, "6 cm", 60.0),
        (weather.depth_mm, "2.5 in", 63.5),
    ],
)
def test_quantities(reader: object, text: str, expected: float) -> None:
    assert reader(text) == pytest.approx(expected)  # type: ignore[operator]


@pytest.mark.parametrize("value", ["5", "5 K", "", "cold", None, True, ["5 C"], "-60 C", "1,5 C"])
def test_temperatures_that_are_refused(value: object) -> None:
    with pytest.raises(InputError):
        weather.temperature_c(value)


@pytest.mark.parametrize("value", ["5", "-5 km/h", "300 mph", "5 km", "1e1 km/h", 5])
def test_winds_that_are_refused(value: object) -> None:
    with pytest.raises(InputError):
        weather.wind_km_per_h(value)


def test_a_month_in_words_in_any_order_and_rain_by_the_month() -> None:
    assert weather.month_of("Nov", "18 km/h, 5 C, 4 mm") == (11, 5.0, 18.0, 4.0)
    assert weather.month_of("Nov", "5 C,18 km/h;4 mm") == (11, 5.0, 18.0, 4.0)
    # 31 days in December, by the calendar
    assert weather.month_of("december", "3 C, 20 km/h, 155 mm a month").rain_mm == pytest.approx(5)
    assert weather.month_of("Feb", ["-1 C", "10 mph", "dry"])[2] == pytest.approx(16.09344)


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("Novembre", "5 C, 18 km/h, 4 mm", "Did you mean November?"),
        ("November", "5 C, 18 km/h", "rain not said"),
        ("November", "4,5 C, 18 km/h, 4 mm", "comma where a point belongs"),
        ("November", "5 C, 4 C, 4 mm", "temperature is said twice"),
        ("November", "5, 18 km/h, 4 mm", "has no unit that is known"),
        ("November", "5 C, 18 km/h, 120 mm", '"120 mm a month"'),
        ("November", None, "empty"),
    ],
)
def test_months_that_are_refused(name: str, value: object, words: str) -> None:
    with pytest.raises(InputError) as caught:
        weather.month_of(name, value)
    assert words in str(caught.value)
