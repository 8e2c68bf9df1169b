"""Weather: from a plain CSV to days, a month in words, and temperature, wind and rain as said.

The headings say what a column is and its unit: `date`, `mean temperature C` (or `min` and `max`),
`wind km/h` (or m/s, mph, knots), `rain mm`. Nothing is guessed and no gap is filled: a unit that
is not said, an empty cell or a day that stands twice is refused at its line; `gaps` tells the days
that are not there.
"""

from __future__ import annotations

import calendar
import itertools
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from difflib import get_close_matches
from pathlib import Path
from typing import NamedTuple

from ration.errors import FileError, InputError, Problem
from ration.plain_text import plain, refusal, shown, split
from ration.tables.csvfile import Grid, cut, read_text
from ration.units import day

TEMPERATURE_C = (-35.0, 35.0)
WIND_KM_PER_H = (0.0, 150.0)
RAIN_MM = (0.0, 350.0)

MONTH_NAMES = (
    "", "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
MONTHS = {name.lower(): i for i, name in enumerate(MONTH_NAMES) if name}
MONTHS |= {name[:3]: i for name, i in MONTHS.items()} | {"sept": 9}

Range = tuple[float, float]

_DEGREES = {
    **dict.fromkeys(("c", "°c", "ºc", "deg c", "degc", "degrees c", "celsius"), (1.0, 0.0)),
    **dict.fromkeys(("f", "°f", "ºf", "deg f", "degf", "degrees f", "fahrenheit"), (1 / 1.8, 32.0)),
}
_SPEEDS = {
    **dict.fromkeys(("km/h", "kmh", "kph", "km per hour", "km an hour"), 1.0),
    **dict.fromkeys(("m/s", "ms-1", "metres per second", "metres a second"), 3.6),
    **dict.fromkeys(("mph", "miles per hour", "miles an hour"), 1.609344),
    **dict.fromkeys(("knots", "knot", "kt", "kts", "kn"), 1.852),
}
_DEPTHS = {
    **dict.fromkeys(("mm", "millimetre", "millimetres"), 1.0),
    **dict.fromkeys(("cm", "centimetre", "centimetres"), 10.0),
    **dict.fromkeys(("in", "inch", "inches"), 25.4),
}
_UNITS: dict[str, tuple[str, ...]] = {
    "temperature": tuple(_DEGREES),
    "wind": tuple(_SPEEDS),
    "rain": tuple(_DEPTHS),
}
_SAID = {"temperature": "C or F", "wind": "km/h, m/s, mph or knots", "rain": "mm or in"}
_TRACE = ("tr", "trace")
# what a heading's words mean, the first that fits; None for a column that is not read
_MEANINGS: tuple[tuple[str, str | None], ...] = (
    (r"gust|direction|\bdir\b|pressure|humid|sun|cloud|dew|soil|ground|grass|snow", None),
    (r"\b(min|max|minimum|maximum|highest|lowest)\b.*wind|wind.*\b(min|max)", None),
    (r"^day$|^date\b|\bdate$", "date"),
    (r"wind", "wind"),
    (r"rain|precip", "rain"),
    (r"\b(min|minimum|lowest|tmin)\b", "least temperature"),
    (r"\b(max|maximum|highest|tmax)\b", "most temperature"),
    (r"temp|\btmean\b|\btavg\b", "temperature"),
)


@dataclass(frozen=True)
class Day:
    """The weather of one day.

    Attributes
    ----------
    date : date
    temperature_c : float
        Mean of the day. [degC]
    wind_km_per_h : float
        Mean of the day, where it was measured. [km/h]
    rain_mm : float
        [mm]
    """

    date: date
    temperature_c: float
    wind_km_per_h: float
    rain_mm: float


class Month(NamedTuple):
    """What is typical of a month.

    Attributes
    ----------
    month : int
        1 to 12.
    temperature_c, wind_km_per_h, rain_mm : float
        Means of its days. [degC, km/h, mm/day]
    """

    month: int
    temperature_c: float
    wind_km_per_h: float
    rain_mm: float


# ---------------------------------------------------------------- quantities as they are said


def temperature_c(value: object, what: str = "temperature") -> float:
    """A temperature [degC]: "2 C", "-3 °C", "36 F".

    Examples
    --------
    >>> temperature_c("-3 C")
    -3.0
    """
    text = plain(value, what)
    size, rest = split(text, what, below_zero=True)
    if rest not in _DEGREES:
        raise _no_unit(text, what, rest, "temperature", "2 C")
    factor, zero = _DEGREES[rest]
    return _believed(text, what, (size - zero) * factor, TEMPERATURE_C, "C")


def wind_km_per_h(value: object, what: str = "wind") -> float:
    """A wind [km/h]: "30 km/h", "18 mph", "8 m/s", "16 knots"; "none" and "calm" are 0.

    Examples
    --------
    >>> round(wind_km_per_h("20 mph"), 1)
    32.2
    """
    text = plain(value, what)
    if text.lower() in ("none", "calm", "still"):
        return 0.0
    size, rest = split(text, what)
    if rest not in _SPEEDS:
        raise _no_unit(text, what, rest, "wind", "30 km/h")
    return _believed(text, what, size * _SPEEDS[rest], WIND_KM_PER_H, "km/h as a day's mean")


def rain_mm(value: object, what: str = "rain") -> float:
    """Rain of a day [mm]: "20 mm", "0.5 in"; "none" and "dry" are 0."""
    text = plain(value, what)
    if text.lower() in ("none", "dry"):
        return 0.0
    size, rest = split(text, what)
    unit = re.sub(r" ?(/|a |per )day$", "", rest)
    if unit not in _DEPTHS:
        raise _no_unit(text, what, rest, "rain", "4 mm")
    return _believed(text, what, size * _DEPTHS[unit], RAIN_MM, "mm a day")


def kind_of(text: str) -> str:
    """What a quantity is by its unit: temperature, wind or rain; "" when none of them."""
    words = " ".join(text.lower().replace("\u2212", "-").split())
    if words in ("calm", "still"):
        return "wind"
    if words == "dry":
        return "rain"
    rest = re.sub(r"^[+-]? ?[0-9.,]+", "", words).strip()
    rest = re.sub(r" ?(/|per |a )(day|month)$", "", rest)
    return next((kind for kind, units in _UNITS.items() if rest in units), "")


def depth_mm(value: object, what: str = "depth") -> float:
    """A small length [mm]: "60 mm", "6 cm", "2.5 in"."""
    text = plain(value, what)
    size, rest = split(text, what)
    if rest not in _DEPTHS:
        raise _no_unit(text, what, rest, "rain", "60 mm", "mm, cm or in")
    return size * _DEPTHS[rest]


def _no_unit(
    text: str, what: str, rest: str, kind: str, example: str, allowed: str = ""
) -> InputError:
    fault = f'{what} has an unknown unit "{rest[:30]}"' if rest else f"{what} needs its unit"
    return refusal(text, fault, allowed or _SAID[kind], f'Write it like "{example}"')


def _believed(text: str, what: str, value: float, limits: Range, unit: str) -> float:
    least, most = limits
    if not least <= value <= most:
        allowed = f"{least:g} to {most:g} {unit}"
        raise refusal(text, f"{what} is outside what is believable", allowed, "Check the unit")
    return value


# ---------------------------------------------------------------- a month in words


def month_of(name: str, value: object) -> Month:
    """A month's typical weather: "5 C, 18 km/h, 4 mm"; rain may be "120 mm a month".

    Raises
    ------
    InputError
        With every fault of the line, places not filled in.
    """
    number = MONTHS.get(name.strip().lower())
    if number is None:
        near = get_close_matches(name.lower(), list(MONTHS), n=1)
        hint = f"Did you mean {near[0].capitalize()}?" if near else 'Write "November"'
        raise refusal(name, "this is not a month", "", hint)
    parts = (
        value
        if isinstance(value, list)
        else re.split(r"(?<![0-9]),|,(?![0-9])|;", plain(value, name))
    )
    found: dict[str, float] = {}
    faults: list[Problem] = []
    for part in parts:
        words = plain(part, "weather")
        kind = kind_of(words)
        try:
            if not kind or kind in found:
                fault = "is said twice" if kind else "has no unit that is known"
                raise refusal(
                    words,
                    f"{kind or 'this part of the weather'} {fault}",
                    "a temperature, a wind and the rain of a day",
                    'Write it like "5 C, 18 km/h, 4 mm"',
                )
            found[kind] = _part(words, kind, number)
        except InputError as error:
            faults += error.problems
    if not faults and (missing := [k for k in ("temperature", "wind", "rain") if k not in found]):
        read = f"read {shown(', '.join(map(str, parts)))}: {' and '.join(missing)} not said"
        faults.append(Problem("", read, "", 'Write it like "5 C, 18 km/h, 4 mm"'))
    if faults:
        raise InputError(*faults)
    return Month(number, found["temperature"], found["wind"], found["rain"])


def _part(words: str, kind: str, month: int) -> float:
    if kind == "temperature":
        return temperature_c(words)
    if kind == "wind":
        return wind_km_per_h(words)
    bare = re.sub(r",? ?(/|a |per )month$", "", words)
    if bare != words:
        size, unit = split(bare, "rain")
        days = 28.25 if month == 2 else calendar.monthrange(2001, month)[1]
        return rain_mm(f"{size / days:.6f} {unit}")
    if (mm := rain_mm(words)) > 40:
        do = f"Rain is a day's mean: for a month's sum write \"{words} a month\""
        raise refusal(words, "rain is outside what is believable", "0 to 40 mm a day", do)
    return mm


# ---------------------------------------------------------------- the file


def read(path: Path) -> tuple[Day, ...]:
    """The days of a weather file, in their order.

    Parameters
    ----------
    path : Path
        A CSV of at most 2 MB, parted by commas or semicolons; one line a day, in any order.

    Returns
    -------
    tuple of Day
        Days that are not there stay away: see `gaps`.

    Raises
    ------
    FileError
        Every fault, one line each: the file, its line and column, what was read, what is allowed.
    """
    grid = cut(path.name, read_text(path))
    faults: list[Problem] = []
    columns = _columns(grid, faults)
    if faults:
        raise FileError(*faults)
    if not grid.lines:
        raise FileError(Problem(grid.file, "there is no day below the headings"))
    days: dict[date, tuple[int, Day]] = {}
    for line, cells in grid.lines:
        found = _day(grid, line, cells, columns, faults)
        if found is None:
            continue
        if found.date in days:
            faults.append(
                Problem(
                    f"{grid.file} line {line}",
                    f"{found.date.isoformat()} is here a second time",
                    f"it is already at line {days[found.date][0]}",
                    "Keep one of the two",
                )
            )
        else:
            days[found.date] = (line, found)
    if faults:
        raise FileError(*faults)
    return tuple(days[when][1] for when in sorted(days))


def gaps(days: Sequence[Day]) -> tuple[tuple[date, date], ...]:
    """Runs of days that are missing between the first and the last, both ends included."""
    found = []
    for before, after in itertools.pairwise(days):
        if (after.date - before.date).days > 1:
            found.append((before.date + timedelta(1), after.date - timedelta(1)))
    return tuple(found)


@dataclass(frozen=True)
class _Column:
    at: int
    heading: str
    unit: str


def _columns(grid: Grid, faults: list[Problem]) -> dict[str, _Column]:
    """What each column means and its unit; what is missing is a fault."""
    found: dict[str, _Column] = {}
    seen = [_meaning(heading) for heading in grid.header]
    for at, (heading, meaning) in enumerate(zip(grid.header, seen, strict=True)):
        if meaning is None:
            continue
        if meaning in found:
            faults.append(
                Problem(
                    f"{grid.file}, columns {shown(found[meaning].heading)} and {shown(heading)}",
                    f"both say the {meaning} of the day",
                    "each thing once",
                    "Take one of the two out",
                )
            )
            continue
        unit = "" if meaning == "date" else _unit_in(heading, _kind(meaning))
        found[meaning] = _Column(at, heading, unit)
    has_both = "least temperature" in found and "most temperature" in found
    for meaning, do in (
        ("date", 'Head it "date"'),
        ("temperature", 'Head it "mean temperature C", or give "min C" and "max C"'),
        ("wind", 'Head it "wind km/h"; gusts are not the day\'s mean wind'),
        ("rain", 'Head it "rain mm"'),
    ):
        if meaning not in found and not (meaning == "temperature" and has_both):
            heads = ", ".join(shown(h) for h in grid.header[:8])
            faults.append(
                Problem(grid.file, f"no column says the {meaning} of the day", f"read {heads}", do)
            )
    return found


def _meaning(heading: str) -> str | None:
    words = re.sub(r"[_.]", " ", heading.lower())
    return next((meaning for form, meaning in _MEANINGS if re.search(form, words)), None)


def _kind(meaning: str) -> str:
    return meaning.rsplit(" ", 1)[-1]


def _unit_in(heading: str, kind: str) -> str:
    """The unit that a heading says, "" when it says none."""
    words = re.sub(r"[_()\[\],]+", " ", heading.lower().replace("º", "°"))
    words = re.sub(r" ?(/|per |a )day$", "", " ".join(words.split()))
    for unit in sorted(_UNITS[kind], key=len, reverse=True):
        if re.search(rf"(?:^|[ :]){re.escape(unit)}$", words):
            return unit
    return ""


def _day(
    grid: Grid, line: int, cells: Sequence[str], columns: dict[str, _Column], faults: list[Problem]
) -> Day | None:
    """One line of the file; None when it has a fault."""
    before = len(faults)
    when: date | None = None
    numbers: dict[str, float] = {}
    for meaning, column in columns.items():
        text = cells[column.at]
        try:
            if meaning == "date":
                when = day(re.sub(r"[T ]00?:00(:00)?Z?$", "", text), "date")
            elif not (text == "" and _is_spare(meaning, cells, columns)):
                numbers[meaning] = _number(text, meaning, column, grid.decimal_comma)
        except InputError as error:
            where = f"{grid.file} line {line}, column {shown(column.heading)}"
            faults += [p.at(where) for p in error.problems]
    if len(faults) > before or when is None:
        return None
    least, most = numbers.get("least temperature"), numbers.get("most temperature")
    mean = numbers.get("temperature")
    ends = [t for t in (least, mean, most) if t is not None]
    if ends != sorted(ends):
        faults.append(
            Problem(
                f"{grid.file} line {line}",
                f"temperatures of the day do not follow: {', '.join(f'{t:g} C' for t in ends)}",
                "the least comes under the most, and the mean between",
                "Check the columns",
            )
        )
        return None
    if mean is None:  # then both ends have a column, and an empty one is a fault above
        mean = (numbers["least temperature"] + numbers["most temperature"]) / 2
    return Day(when, mean, numbers["wind"], numbers["rain"])


def _is_spare(meaning: str, cells: Sequence[str], columns: dict[str, _Column]) -> bool:
    """An empty least or most temperature beside a mean that is there."""
    mean = columns.get("temperature")
    return meaning in ("least temperature", "most temperature") and mean is not None


def _number(text: str, meaning: str, column: _Column, decimal_comma: bool) -> float:
    """A cell as degC, km/h or mm."""
    kind = _kind(meaning)
    if text == "" or text.lower() in ("-", "--", "na", "n/a", "nan", "null", "x", "?"):
        raise refusal(
            text, f"the {meaning} of this day is not known", "", "Fill it in, or take the line out"
        )
    if kind == "rain" and text.lower() in _TRACE:
        return 0.0
    bare = re.sub(r"[−–](?=[0-9])", "-", text)
    if re.fullmatch(r"[+-]?[0-9]+,[0-9]{1,2}(?: .*)?", bare) or decimal_comma:
        bare = bare.replace(",", ".", 1)
    bare = re.sub(r"^([+-]?)\.(?=[0-9])", r"\g<1>0.", bare)
    if column.unit and re.fullmatch(r"[+-]?[0-9.]+", bare):
        bare = f"{bare} {column.unit}"
    reader = {"temperature": temperature_c, "wind": wind_km_per_h, "rain": rain_mm}[kind]
    return reader(bare, meaning)


def known_days(days: Iterable[Day]) -> dict[tuple[int, int], tuple[Day, ...]]:
    """Days by month and day of the month: the same date of several years stands together."""
    found: dict[tuple[int, int], tuple[Day, ...]] = {}
    for one in days:
        key = (one.date.month, one.date.day)
        found[key] = (*found.get(key, ()), one)
    return found
