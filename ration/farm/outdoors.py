"""Fleece, shelter, weather, walking and grazing: the section `outdoors:` of a farm file.

The weather is a file of days, or what is typical of each month. A file of past winters stands in
for the winter to come by day and month. Grazing is a dated curve, straight between its days; where
nothing is said from 1 January on it runs out by then, for there is no useful growth of grass from
January (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from ration import units, weather
from ration.errors import InputError
from ration.farm.keys import Entry, check, reads
from ration.farm.words import between, id_of, one_of, text
from ration.plain_text import plain, refusal, split
from ration.strict_yaml import Keys, Sheet, nearest
from ration.weather import Day, Month

# share of the wind that gets through: judgement, editable ("shelter: 40 %")
SHELTERS = {"none": 1.0, "wall": 0.3, "wood": 0.15}
SHELTER_WORDS = {
    **{word: word for word in SHELTERS},
    "no": "none", "open": "none", "hedge": "wall", "dyke": "wall", "stell": "wall",
    "lie back": "wall", "trees": "wood", "plantation": "wood",
}  # fmt: skip
WINDS = {"open mast": "mast", "at the sheep": "sheep"}
GRAZED_LIKE = "grass-mature"
LONGEST_GAP_DAYS = 6
NO_GROWTH_FROM = (1, 1)
FAR_DAYS = 366
_KM = {
    **dict.fromkeys(("km", "kilometre", "kilometres"), 1.0),
    **dict.fromkeys(("m", "metre", "metres"), 0.001),
    **dict.fromkeys(("mile", "miles", "mi"), 1.609344),
    **dict.fromkeys(("ft", "foot", "feet"), 0.0003048),
}


@dataclass(frozen=True)
class Outdoors:
    """What the sheep meet out of doors.

    Attributes
    ----------
    winter : tuple of date
        First day, and the day after the last.
    fleece_mm : float or None
        Depth of the fleece. [mm]
    shelter : str
        none, wall, wood, or the share as it was written.
    shelter_factor : float
        Share of the wind that gets through to them. [-]
    at : str
        Where the wind was measured: "mast" or "sheep".
    weather : tuple of Day or None
        From a file, in order of days.
    weather_file : str
        Its name; "" when there is none.
    typical : tuple of Month
        By month, when there is no file.
    walk_km_per_day, climb_km_per_day : float or None
        [km/day]; None takes the standard's allowance for the place.
    grazing : tuple of (date, float)
        Energy grazed, straight between the days. [MJ ME/head/day]
    grazing_feed : str
        Id of the table's feed that the grazing is like.
    hard_days : int
        Days of snow or frost in the winter when they cannot graze.
    grazing_ends : bool
        True when the end at 1 January is the program's and not the user's.
    """

    winter: tuple[date, date]
    fleece_mm: float | None = None
    shelter: str = "none"
    shelter_factor: float = 1.0
    at: str = "mast"
    weather: tuple[Day, ...] | None = None
    weather_file: str = ""
    typical: tuple[Month, ...] = ()
    walk_km_per_day: float | None = None
    climb_km_per_day: float | None = None
    grazing: tuple[tuple[date, float], ...] = ()
    grazing_feed: str = GRAZED_LIKE
    hard_days: int = 0
    grazing_ends: bool = False

    @property
    def has_weather(self) -> bool:
        """Whether an allowance for cold can be worked out."""
        return self.fleece_mm is not None and bool(self.weather or self.typical)


# ---------------------------------------------------------------- readers of single values


def shelter(value: object) -> tuple[str, float]:
    """Shelter and the share of the wind it lets through: none, wall, wood, or "40 %".

    Examples
    --------
    >>> shelter("wall")
    ('wall', 0.3)
    >>> shelter("40 %")
    ('40 %', 0.4)
    """
    if value is False:  # a bare "no" is read as such
        return "none", 1.0
    words = plain(value, "shelter")
    if "%" in words:
        return words, units.share(words, "shelter", of=("wind", "the wind"))
    if re.fullmatch(r"[0-9.]+", words):
        share = units.number(words, "shelter")
        if share > 1:
            raise refusal(words, "shelter is the share of the wind that gets through", "0 to 1")
        return words, share
    name = SHELTER_WORDS.get(" ".join(words.lower().replace("-", " ").split()))
    if name is None:
        hint = nearest(words.lower(), tuple(SHELTER_WORDS))
        allowed = f"it is one of {', '.join(SHELTERS)}, or a share of the wind"
        raise refusal(words, "shelter is not known", allowed, hint or 'Write "wall" or "40 %"')
    return name, SHELTERS[name]


def distance_km(value: object, what: str = "distance") -> float:
    """A distance [km]: "3 km", "100 m", "2 miles", "300 ft"."""
    words = plain(value, what)
    size, rest = split(words, what)
    rest = re.sub(r",? ?(/|a |per )day$", "", rest)
    if rest not in _KM:
        fault = f'{what} has an unknown unit "{rest[:30]}"' if rest else f"{what} needs its unit"
        raise refusal(words, fault, "km, m, miles or ft", f'Write it like "{size:g} km"')
    return size * _KM[rest]


def grazed_mj(value: object) -> float:
    """Energy grazed [MJ ME/head/day]: "3.0 MJ", "2 MJ a head a day", "nothing" or 0."""
    words = plain(value, "grazing")
    if words.lower() in ("0", "none", "nothing"):
        return 0.0
    size, rest = split(words, "grazing")
    if not re.fullmatch(r"mj( me)?(,? ?(/|a |per )head)?(,? ?(/|a |per )day)?", rest):
        raise refusal(words, "grazing is energy a head a day", "MJ", f'Write it like "{size:g} MJ"')
    if size > 15:
        raise refusal(words, "grazing is outside what is believable", "0 to 15 MJ a head a day")
    return size


# ---------------------------------------------------------------- the section


class OutdoorsEntry(Entry):
    """The names of the section."""

    fleece: Annotated[
        float | None, reads(between(weather.depth_mm, "fleece", 2.0, 200.0, "mm"))
    ] = None
    lee: Annotated[tuple[str, float], reads(shelter)] = Field(("none", 1.0), alias="shelter")
    wind_measured: Annotated[str, reads(one_of(tuple(WINDS), "wind measured"))] = Field(
        "open mast", alias="wind measured"
    )
    weather_file: Annotated[str | None, reads(text)] = Field(None, alias="weather")
    typical_weather: Any = Field(None, alias="typical weather")
    walk: Annotated[float | None, reads(between(distance_km, "walk", 0.0, 20.0, "km"))] = None
    climb: Annotated[float | None, reads(between(distance_km, "climb", 0.0, 2.0, "km"))] = None
    grazing: Any = None
    grazing_like: Annotated[str, reads(lambda v: id_of(text(v)))] = Field(
        GRAZED_LIKE, alias="grazing like"
    )
    hard_weather_days: Annotated[
        int, reads(between(units.whole, "hard weather days", 0, 200, "days"))
    ] = Field(0, alias="hard weather days")
    note: Annotated[str, reads(text)] = ""


KEYS: Keys = ("outdoors",)


def outdoors_of(
    sheet: Sheet, folder: Path | None, winter: tuple[date, date] | None
) -> Outdoors | None:
    """The section read; None when there is none.

    Parameters
    ----------
    sheet : Sheet
        Takes every fault.
    folder : Path or None
        Where the weather file lies.
    winter : tuple of date or None
        First day and the day after the last; None when it is at fault, and then nothing that
        needs it is looked at.
    """
    said = sheet.group(())
    if KEYS[0] not in said:
        return None
    entry = check(OutdoorsEntry, said[KEYS[0]], KEYS, sheet)
    if entry is None:
        return None
    body = sheet.group(KEYS)
    days = _file(sheet, folder, entry.weather_file, winter)
    typical = _typical(sheet, body, winter)
    _agree(sheet, entry, body)
    points = curve_of(sheet, (*KEYS, "grazing"), winter)
    if winter is None:
        return None
    hard = int(entry.hard_weather_days)
    if hard > (winter[1] - winter[0]).days:
        sheet.fault((*KEYS, "hard weather days"), f"{hard} days", "more than the winter has days")
    ends = end_of_growth(points, winter)
    return Outdoors(
        winter=winter,
        fleece_mm=entry.fleece,
        shelter=entry.lee[0],
        shelter_factor=entry.lee[1],
        at=WINDS[entry.wind_measured],
        weather=days,
        weather_file="" if days is None else str(entry.weather_file),
        typical=typical,
        walk_km_per_day=entry.walk,
        climb_km_per_day=entry.climb,
        grazing=(*points, *ends),
        grazing_feed=entry.grazing_like,
        hard_days=hard,
        grazing_ends=bool(ends),
    )


def _agree(sheet: Sheet, entry: Any, body: Mapping[str, Any]) -> None:
    """Names that belong together, or that cannot stand together."""
    has_file, has_typical = "weather" in body, "typical weather" in body
    if has_file and has_typical:
        sheet.fault(
            (*KEYS, "typical weather"),
            "weather and typical weather are both said",
            "one of the two is wanted",
            "Take one of them out",
        )
    if (has_file or has_typical) and "fleece" not in body:
        sheet.fault(
            KEYS, "fleece is missing", "", 'Part the wool, measure, and add "fleece: 60 mm"'
        )
    for one, other in (("walk", "climb"), ("climb", "walk")):
        if one in body and other not in body:
            do = f'Add "{other}: 0 m" if there is none'
            sheet.fault((*KEYS, one), f"{one} is said and {other} is not", "both or neither", do)
    if entry.hard_weather_days and "grazing" not in body:
        sheet.fault(
            (*KEYS, "hard weather days"),
            "hard weather days are said and grazing is not",
            "they are days without grazing",
            "Add the grazing, or take the line out",
        )


# ---------------------------------------------------------------- weather


def _file(
    sheet: Sheet, folder: Path | None, name: str | None, winter: tuple[date, date] | None
) -> tuple[Day, ...] | None:
    """The days of the weather file; a week of the winter without a day is a fault."""
    if name is None:
        return None
    keys: Keys = (*KEYS, "weather")
    paths = sheet.own_files(folder, (name,), keys)
    if not paths:
        return None
    try:
        days = weather.read(paths[0])
    except InputError as error:
        sheet.add(*error.problems)
        return None
    for first, last in _holes(days, winter) if winter else ():
        sheet.fault(
            keys,
            f"{name} has no day for {units.in_words_day(first)} to {units.in_words_day(last)}, "
            "of that winter or another",
            "gaps are not filled",
            "Add those days, or use typical weather",
        )
    return days


def _holes(days: tuple[Day, ...], winter: tuple[date, date]) -> Iterator[tuple[date, date]]:
    known = weather.known_days(days)
    first: date | None = None
    for i in range((winter[1] - winter[0]).days + 1):
        when = winter[0] + timedelta(i)
        is_known = when >= winter[1] or (when.month, when.day) in known
        if not is_known and first is None:
            first = when
        elif is_known and first is not None:
            if (when - first).days > LONGEST_GAP_DAYS:
                yield first, when - timedelta(1)
            first = None


def _typical(
    sheet: Sheet, body: Mapping[str, Any], winter: tuple[date, date] | None
) -> tuple[Month, ...]:
    """The months; one the winter runs through and that is not said is a fault."""
    name = "typical weather"
    if name not in body:
        return ()
    keys: Keys = (*KEYS, name)
    group = body[name]
    if not isinstance(group, dict) or not group:
        sheet.fault(
            keys,
            f"{name} is a group with one month under each name",
            do='Write "November: 5 C, 18 km/h, 4 mm" indented below it',
        )
        return ()
    found: dict[int, Month] = {}
    before = len(sheet.problems)
    for key, value in group.items():
        at: Keys = (*keys, key)
        try:
            month = weather.month_of(sheet.written[at], value)
        except InputError as error:
            sheet.add(*error.at(sheet.where(at)).problems)
            continue
        if month.month in found:
            sheet.fault(at, f"{weather.MONTH_NAMES[month.month]} is here a second time")
        found[month.month] = month
    if winter and len(sheet.problems) == before:
        for number in _months(winter):
            if number not in found:
                sheet.fault(
                    keys,
                    f"{weather.MONTH_NAMES[number]} is missing",
                    "the winter runs through it and gaps are not filled",
                    f'Add "{weather.MONTH_NAMES[number]}: 5 C, 18 km/h, 4 mm" with its own figures',
                )
    return tuple(found[m] for m in sorted(found))


def _months(winter: tuple[date, date]) -> list[int]:
    """Months of the winter, in its order."""
    days = (winter[0] + timedelta(i) for i in range((winter[1] - winter[0]).days))
    return list(dict.fromkeys(d.month for d in days))


# ---------------------------------------------------------------- grazing


def curve_of(
    sheet: Sheet, keys: Keys, winter: tuple[date, date] | None
) -> tuple[tuple[date, float], ...]:
    """The points of a grazing curve in the order of their days; none when nothing is said."""
    body = sheet.group(keys[:-1])
    if keys[-1] not in body:
        return ()
    group = body[keys[-1]]
    if not isinstance(group, dict) or not group:
        sheet.fault(
            keys,
            "grazing is a group of days with the energy grazed",
            do='Write "28 October: 3.0 MJ" indented below it',
        )
        return ()
    points: dict[date, float] = {}
    for key, value in group.items():
        at: Keys = (*keys, key)
        try:
            when = day_in_winter(sheet.written[at], winter)
            mj = grazed_mj(value)
        except InputError as error:
            sheet.add(*error.at(sheet.where(at)).problems)
            continue
        if when is not None and when in points:
            sheet.fault(at, f"{units.in_words_day(when)} is here a second time")
        elif when is not None:
            points[when] = mj
    return tuple(sorted(points.items()))


def day_in_winter(words: str, winter: tuple[date, date] | None) -> date | None:
    """A day with or without its year; without, the one that lies in the winter or nearest to it.

    None when the winter is not known.
    """
    bare = words.strip()
    if re.search(r"[0-9]{4}", bare):
        when = units.day(bare, "the day")
        if winter and not -FAR_DAYS <= (when - winter[0]).days <= 2 * FAR_DAYS:
            raise refusal(bare, "the day is far from the winter", "", "Check the year")
        return when
    joint = "/" if "/" in bare else " "
    of_year = units.day(f"{bare}{joint}2000", "the day")
    if winter is None:
        return None
    tries = []
    for year in range(winter[0].year - 1, winter[1].year + 2):
        try:
            tries.append(of_year.replace(year=year))
        except ValueError:  # 29 February
            continue
    if not tries:
        raise refusal(bare, "the day is not in the calendar of this winter")
    return min(tries, key=lambda d: (max((winter[0] - d).days, (d - winter[1]).days, 0), d))


def end_of_growth(
    points: tuple[tuple[date, float], ...], winter: tuple[date, date]
) -> tuple[tuple[date, float], ...]:
    """The end at 1 January where the user says nothing from then on."""
    if not points or not points[-1][1]:
        return ()
    stop = next(
        (
            when
            for year in (winter[0].year, winter[0].year + 1)
            if winter[0] <= (when := date(year, *NO_GROWTH_FROM)) < winter[1]
        ),
        None,
    )
    return ((stop, 0.0),) if stop is not None and points[-1][0] < stop else ()
