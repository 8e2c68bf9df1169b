"""Out of doors: the allowance for cold, what is grazed, and a batch dressed for both.

The allowance is worked out day by day and then averaged, never from averaged weather: it is zero
above the lower critical temperature, so a week of mild days and one storm costs more than seven
days of its mean. For that reason a month's typical weather is spread over day types first: five
temperatures about the mean (-6, -3, 0, 3, 6 degC; one, four, six, four and one in sixteen), three
winds (half of it, itself, half as much again; 30, 40 and 30 in a hundred) and every other day wet
with twice the mean rain. The spreads are judgement, about those of British winters; each keeps the
month's mean, and they are taken as independent of one another.

An allowance is energy only; cold asks for no more protein or minerals.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from ration.animals import Batch
from ration.errors import MissingValue, OutOfRange, Problem
from ration.farm.outdoors import Outdoors
from ration.standards import afrc1993, cold
from ration.weather import Day, Month, known_days

# (change of the day's temperature [degC], share of days)
TEMPERATURES = ((-6.0, 1 / 16), (-3.0, 4 / 16), (0.0, 6 / 16), (3.0, 4 / 16), (6.0, 1 / 16))
# (multiple of the month's mean, share of days)
WINDS = ((0.5, 0.3), (1.0, 0.4), (1.5, 0.3))
RAINS = ((0.0, 0.5), (2.0, 0.5))

HARDEST_TOLD = 3
FROST_C = 2.0  # a day's mean at which troughs and pipes freeze at night: common practice
HAY_MJ_PER_KG_FRESH = 8.5 * 0.85
BARLEY_MJ_PER_KG_FRESH = 13.2 * 0.86
QUALITY = 0.5  # of a hay diet, for the heat of a sheep that nobody has worked out


@dataclass(frozen=True)
class WeatherDay:
    """The weather of a day, or of a type of day, and the days it stands for.

    Attributes
    ----------
    when : date or None
        None for a day type of typical weather.
    month : int
    share : float
        Days it stands for. [day]
    temperature_c, wind_km_per_h, rain_mm : float
        Wind as measured. [degC, km/h, mm]
    is_other_year : bool
        Measured on the same date of another winter.
    """

    when: date | None
    month: int
    share: float
    temperature_c: float
    wind_km_per_h: float
    rain_mm: float
    is_other_year: bool = False


@dataclass(frozen=True)
class HardDay:
    """A day's weather and what it costs.

    Attributes
    ----------
    weather : WeatherDay
    wind_at_sheep_km_per_h : float
        [km/h]
    me_mj_per_day, uncapped_me_mj_per_day : float
        [MJ ME/day]
    critical_c : float
        Lower critical temperature of that day. [degC]
    is_danger : bool
        Find shelter: no feed makes up for it.
    """

    weather: WeatherDay
    wind_at_sheep_km_per_h: float
    me_mj_per_day: float
    uncapped_me_mj_per_day: float
    critical_c: float
    is_danger: bool

    @property
    def below_c(self) -> float:
        """Degrees below the lower critical temperature. [degC], 0 and up"""
        return max(self.critical_c - self.weather.temperature_c, 0.0)


@dataclass(frozen=True)
class ColdSpell:
    """The allowance for cold over some days.

    Attributes
    ----------
    start, end : date
        First day, and the day after the last.
    heat_mj_per_day : float
        Of one sheep without cold. [MJ/day]
    mean_me_mj_per_day : float
        Mean of the daily allowances. [MJ ME/day]
    slight_rule_me_mj_per_day, steep_rule_me_mj_per_day, slope_rule_me_mj_per_day : float
        Means by the simple rules: 1 % and 1.8 % of maintenance, and 0.31 MJ, for each degree below
        the lower critical temperature. [MJ ME/day]
    hardest : tuple of HardDay
        The worst, at most three, the worst first.
    danger : tuple of HardDay
        Days, or types of day, that are a danger to life.
    cold_days, danger_days, frost_days : float
        Days with an allowance; a danger; a mean of 2 degC or less. [day]
    critical_c : tuple of float
        Least and most lower critical temperature. [degC]
    unknown : tuple of date
        Days without weather; they are in no mean.
    is_other_years : bool
        Weather of other winters stands in for some or all of the days.
    """

    start: date
    end: date
    heat_mj_per_day: float
    mean_me_mj_per_day: float
    slight_rule_me_mj_per_day: float
    steep_rule_me_mj_per_day: float
    slope_rule_me_mj_per_day: float
    hardest: tuple[HardDay, ...]
    danger: tuple[HardDay, ...]
    cold_days: float
    danger_days: float
    frost_days: float
    critical_c: tuple[float, float]
    unknown: tuple[date, ...]
    is_other_years: bool

    @property
    def days(self) -> int:
        """Length of the spell. [day]"""
        return (self.end - self.start).days

    @property
    def range_mj_per_day(self) -> tuple[float, float]:
        """Least and most of the balance and the simple rules. [MJ ME/day]"""
        means = (
            self.mean_me_mj_per_day,
            self.slight_rule_me_mj_per_day,
            self.steep_rule_me_mj_per_day,
            self.slope_rule_me_mj_per_day,
        )
        return min(means), max(means)


# ---------------------------------------------------------------- the weather of some days


def day_types(month: Month, days: float = 1.0) -> tuple[WeatherDay, ...]:
    """A month's typical weather as types of day that keep its means.

    Parameters
    ----------
    month : Month
    days : float
        Days of the month that are wanted; the types' shares add up to it. [day]
    """
    return tuple(
        WeatherDay(
            None,
            month.month,
            days * a * b * c,
            month.temperature_c + warmer,
            month.wind_km_per_h * wind,
            month.rain_mm * rain,
        )
        for (warmer, a), (wind, b), (rain, c) in itertools.product(TEMPERATURES, WINDS, RAINS)
    )


def weather_of(
    outdoors: Outdoors, start: date, end: date
) -> tuple[tuple[WeatherDay, ...], tuple[date, ...]]:
    """The weather of the days from `start` to before `end`, and the days without any.

    A day that the file has stands for itself; else the same date of its other years, each for an
    equal part of the day.
    """
    days = [start + timedelta(i) for i in range(_length(start, end))]
    found: list[WeatherDay] = []
    unknown: list[date] = []
    if outdoors.weather:
        known = known_days(outdoors.weather)
        for when in days:
            same = known.get((when.month, when.day), ())
            exact = tuple(d for d in same if d.date == when)
            found += _standing(when, exact or same)
            if not same:
                unknown.append(when)
        return tuple(found), tuple(unknown)
    typical = {m.month: m for m in outdoors.typical}
    for number in dict.fromkeys(d.month for d in days):
        of_month = [d for d in days if d.month == number]
        if number in typical:
            found += day_types(typical[number], len(of_month))
        else:
            unknown += of_month
    return tuple(found), tuple(sorted(unknown))


def _standing(when: date, days: tuple[Day, ...]) -> Iterator[WeatherDay]:
    for d in days:
        yield WeatherDay(
            d.date,
            when.month,
            1 / len(days),
            d.temperature_c,
            d.wind_km_per_h,
            d.rain_mm,
            d.date != when,
        )


def _length(start: date, end: date) -> int:
    days = (end - start).days
    if days < 1:
        raise OutOfRange(Problem("", f"{days} days from {start} to {end}", "at least 1 day"))
    return days


def months(start: date, end: date) -> tuple[tuple[date, date], ...]:
    """The calendar months from `start` to before `end`, each from its first day to after its last.

    Examples
    --------
    >>> [(a.isoformat(), b.isoformat()) for a, b in months(date(2026, 11, 20), date(2027, 1, 3))]
    [('2026-11-20', '2026-12-01'), ('2026-12-01', '2027-01-01'), ('2027-01-01', '2027-01-03')]
    """
    found, first = [], start
    while first < end:
        after = date(first.year + first.month // 12, first.month % 12 + 1, 1)
        found.append((first, min(after, end)))
        first = after
    return tuple(found)


# ---------------------------------------------------------------- the allowance


def heat_mj_per_day(batch: Batch, maintenance: float = 1.0) -> float:
    """Heat of one sheep of a batch without cold: its maintenance on a hay diet [MJ/day].

    Parameters
    ----------
    batch : Batch
    maintenance : float
        Multiplier on maintenance. [-]

    Notes
    -----
    AFRC (1993) at q 0.5, out of doors. What is eaten above maintenance adds heat too; leaving it
    out errs on the side of more feed.
    """
    return float(
        afrc1993.maintenance_me_mj_per_day(
            batch.weight_kg,
            QUALITY,
            batch.sex,
            batch.under_one_year,
            "hill" if batch.housing == "hill" else "in-bye",
            maintenance,
        )
    )


def hard_day(
    batch_weight_kg: float, heat_mj_per_day: float, outdoors: Outdoors, day: WeatherDay
) -> HardDay:
    """What one day's weather costs a sheep.

    Raises
    ------
    MissingValue
        The fleece is not known.
    OutOfRange
        A value outside what the balance covers.
    """
    if outdoors.fleece_mm is None:
        raise MissingValue(
            Problem("outdoors", "fleece is not known", "", 'Measure it and write "fleece: 60 mm"')
        )
    wind = cold.wind_at_sheep_km_per_h(
        day.wind_km_per_h, outdoors.at == "mast", outdoors.shelter_factor
    )
    found = cold.cold_me_mj_per_day(
        batch_weight_kg, heat_mj_per_day, day.temperature_c, outdoors.fleece_mm, wind, day.rain_mm
    )
    return HardDay(
        day,
        wind,
        found.me_mj_per_day,
        found.uncapped_me_mj_per_day,
        found.critical_c,
        found.is_danger,
    )


def cold_allowance(
    batch_weight_kg: float, heat_mj_per_day: float, outdoors: Outdoors, start: date, end: date
) -> ColdSpell:
    """The allowance for cold over the days from `start` to before `end`.

    Parameters
    ----------
    batch_weight_kg : float
        [kg]
    heat_mj_per_day : float
        Of one sheep without cold, about its maintenance ME. [MJ/day]
    outdoors : Outdoors
        Fleece, shelter and weather.
    start, end : date
        First day, and the day after the last.

    Raises
    ------
    MissingValue
        Fleece or weather of all these days is not known.
    OutOfRange
        No day, or a value outside what the balance covers.
    """
    known, unknown = weather_of(outdoors, start, end)
    if not known:
        raise MissingValue(
            Problem(
                "outdoors",
                f"the weather from {start.isoformat()} to {end.isoformat()} is not known",
                "",
                "Give a weather file that has those days, or the typical weather of each month",
            )
        )
    found = [hard_day(batch_weight_kg, heat_mj_per_day, outdoors, day) for day in known]
    all_days = sum(d.share for d in known)

    def mean(values: Iterator[float]) -> float:
        return sum(v * d.share for v, d in zip(values, known, strict=True)) / all_days

    def count(is_counted: Iterator[bool]) -> float:
        return float(sum(d.share for yes, d in zip(is_counted, known, strict=True) if yes))

    steep = cold.STEEP_SHARE_PER_C
    by_share = cold.rule_of_share_me_mj_per_day
    worst = sorted(found, key=lambda h: (-h.uncapped_me_mj_per_day, str(h.weather.when)))
    worst = [h for h in worst if h.me_mj_per_day > 0]
    return ColdSpell(
        start=start,
        end=end,
        heat_mj_per_day=heat_mj_per_day,
        mean_me_mj_per_day=mean(h.me_mj_per_day for h in found),
        slight_rule_me_mj_per_day=mean(by_share(heat_mj_per_day, h.below_c) for h in found),
        steep_rule_me_mj_per_day=mean(by_share(heat_mj_per_day, h.below_c, steep) for h in found),
        slope_rule_me_mj_per_day=mean(cold.rule_of_slope_me_mj_per_day(h.below_c) for h in found),
        hardest=tuple(worst[:HARDEST_TOLD]),
        danger=tuple(h for h in worst if h.is_danger),
        cold_days=count(h.me_mj_per_day > 0 for h in found),
        danger_days=count(h.is_danger for h in found),
        frost_days=count(h.weather.temperature_c <= FROST_C for h in found),
        critical_c=(min(h.critical_c for h in found), max(h.critical_c for h in found)),
        unknown=unknown,
        is_other_years=any(d.is_other_year for d in known),
    )


def in_hay_kg(me_mj: float) -> float:
    """Hay that holds an energy: 8.5 MJ/kg DM, 85 % dry matter [kg fresh]."""
    return me_mj / HAY_MJ_PER_KG_FRESH


def in_barley_kg(me_mj: float) -> float:
    """Barley that holds an energy: 13.2 MJ/kg DM, 86 % dry matter [kg fresh]."""
    return me_mj / BARLEY_MJ_PER_KG_FRESH


# ---------------------------------------------------------------- grazing, and a batch dressed


def grazed_on_mj(outdoors: Outdoors, when: date) -> float:
    """Energy grazed on one day by the dated curve, hard weather left aside [MJ ME/head].

    Straight between the days that are said; before the first and after the last their own value.
    """
    points = outdoors.grazing
    if not points:
        return 0.0
    if when <= points[0][0]:
        return points[0][1]
    for (first, a), (last, b) in itertools.pairwise(points):
        if when <= last:
            return a + (b - a) * (when - first).days / (last - first).days
    return points[-1][1]


def grazing_me_mj_per_day(outdoors: Outdoors, start: date, end: date) -> float:
    """Energy grazed a head a day, the mean from `start` to before `end` [MJ ME/day].

    Days of hard weather are without grazing; when they fall is not known, so they take their share
    of every day of the winter.

    Raises
    ------
    OutOfRange
        No day.
    """
    days = _length(start, end)
    total = sum(grazed_on_mj(outdoors, start + timedelta(i)) for i in range(days))
    winter_days = (outdoors.winter[1] - outdoors.winter[0]).days
    return total / days * (1 - min(outdoors.hard_days / winter_days, 1.0))


def dressed(
    batch: Batch, outdoors: Outdoors, start: date, end: date, heat_mj_per_day: float
) -> Batch:
    """The batch with its allowance for cold and its walk, from `start` to before `end`.

    A batch in a shed stays as it is; without fleece or weather no cold is counted.

    Parameters
    ----------
    batch : Batch
    outdoors : Outdoors
    start, end : date
    heat_mj_per_day : float
        As in `cold_allowance`. [MJ/day]
    """
    if batch.housing == "shed":
        return batch
    extra = batch.cold_me_mj_per_day
    if outdoors.has_weather:
        extra = cold_allowance(
            batch.weight_kg, heat_mj_per_day, outdoors, start, end
        ).mean_me_mj_per_day
    walk, climb = outdoors.walk_km_per_day, outdoors.climb_km_per_day
    return replace(
        batch,
        cold_me_mj_per_day=extra,
        walk_km_per_day=batch.walk_km_per_day if walk is None else walk,
        climb_km_per_day=batch.climb_km_per_day if climb is None else climb,
    )
