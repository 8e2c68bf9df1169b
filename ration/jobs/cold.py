"""Cold, wind and wet worked out: one day as it is typed, a weather file, or a farm's winter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

from ration import animals, outdoors, weather
from ration.animals import Batch
from ration.errors import InputError, MissingValue, OutOfRange, Problem
from ration.farm import Farm
from ration.farm.outdoors import SHELTERS, Outdoors
from ration.jobs import read_farm
from ration.outdoors import ColdSpell, HardDay, WeatherDay
from ration.standards import cold

NO_DAY = date(2000, 1, 1)
SHORN_MM = 25.0
FLEECE_MM = (2.0, 200.0)


@dataclass(frozen=True)
class OneDay:
    """One day's weather and what it costs.

    Attributes
    ----------
    batch : Batch
        One sheep.
    heat_mj_per_day : float
        Without cold. [MJ/day]
    is_heat_said : bool
        False when it was taken as maintenance.
    place : Outdoors
    day : HardDay
    slight_rule_me_mj_per_day, steep_rule_me_mj_per_day, slope_rule_me_mj_per_day : float
        By 1 %, 1.8 % and 0.31 MJ for each degree below. [MJ ME/day]
    chill_index_kj_per_m2_h : float or None
        Only for shorn sheep, a flag.
    behind_wall : HardDay or None
        The same day behind a wall; None when they are as sheltered already.
    """

    batch: Batch
    heat_mj_per_day: float
    is_heat_said: bool
    place: Outdoors
    day: HardDay
    slight_rule_me_mj_per_day: float
    steep_rule_me_mj_per_day: float
    slope_rule_me_mj_per_day: float
    chill_index_kj_per_m2_h: float | None
    behind_wall: HardDay | None


@dataclass(frozen=True)
class BatchCold:
    """The winter of one batch.

    Attributes
    ----------
    batch : Batch
    heat_mj_per_day : float
        Of one sheep without cold. [MJ/day]
    is_housed : bool
        In a shed: nothing is counted and `whole` is None.
    whole : ColdSpell or None
        All the days.
    months : tuple of ColdSpell or None
        Month by month; a month without weather is left out and stands in `whole.unknown`.
    grazing_me_mj_per_day : tuple of float
        Grazed by month, as `months`. [MJ ME/day]
    """

    batch: Batch
    heat_mj_per_day: float
    is_housed: bool
    whole: ColdSpell | None
    months: tuple[ColdSpell, ...]
    grazing_me_mj_per_day: tuple[float, ...]


@dataclass(frozen=True)
class ColdWinter:
    """A winter's cold.

    Attributes
    ----------
    farm : Farm or None
        None for a weather file alone.
    place : Outdoors
    batches : tuple of BatchCold
    gaps : tuple of (date, date)
        Days missing inside the weather file, both ends included.
    is_heat_said : bool
        False when the sheep's heat was taken as maintenance.
    """

    farm: Farm | None
    place: Outdoors
    batches: tuple[BatchCold, ...]
    gaps: tuple[tuple[date, date], ...]
    is_heat_said: bool = False


def one_day(
    weight_kg: float,
    fleece_mm: float,
    temperature_c: float,
    wind_km_per_h: float,
    rain_mm: float,
    *,
    shelter: tuple[str, float] = ("none", 1.0),
    at: str = "mast",
    heat_mj_per_day: float | None = None,
    sheep_class: str | None = None,
) -> OneDay:
    """What one day's weather costs one sheep.

    Parameters
    ----------
    weight_kg, fleece_mm, temperature_c, wind_km_per_h, rain_mm : float
        Wind as measured. [kg, mm, degC, km/h, mm]
    shelter : tuple of (str, float)
        As `ration.farm.outdoors.shelter` reads it.
    at : str
        Wind measured at the "mast" or the "sheep".
    heat_mj_per_day : float or None
        None takes its maintenance. [MJ/day]
    sheep_class : str or None
        None takes an ewe lamb up to 55 kg and a grown ewe above.

    Raises
    ------
    InputError
        Every value at fault.
    """
    batch, place = _sheep(weight_kg, sheep_class), _place(fleece_mm, shelter, at)
    heat = outdoors.heat_mj_per_day(batch) if heat_mj_per_day is None else heat_mj_per_day
    day = WeatherDay(None, 1, 1.0, temperature_c, wind_km_per_h, rain_mm)
    found = outdoors.hard_day(weight_kg, heat, place, day)
    by_share = cold.rule_of_share_me_mj_per_day
    chill = None
    if fleece_mm < SHORN_MM:
        chill = cold.sheep_chill_index_kj_per_m2_h(
            temperature_c, found.wind_at_sheep_km_per_h, rain_mm
        )
    walled = replace(place, shelter="wall", shelter_factor=SHELTERS["wall"])
    is_better = walled.shelter_factor < place.shelter_factor and wind_km_per_h > 0
    return OneDay(
        batch,
        heat,
        heat_mj_per_day is not None,
        place,
        found,
        by_share(heat, found.below_c),
        by_share(heat, found.below_c, cold.STEEP_SHARE_PER_C),
        cold.rule_of_slope_me_mj_per_day(found.below_c),
        chill,
        outdoors.hard_day(weight_kg, heat, walled, day) if is_better else None,
    )


def weather_file(
    path: Path,
    weight_kg: float,
    fleece_mm: float,
    *,
    shelter: tuple[str, float] = ("none", 1.0),
    at: str = "mast",
    heat_mj_per_day: float | None = None,
    sheep_class: str | None = None,
) -> ColdWinter:
    """The allowance month by month over the days of a weather file, without a farm.

    Parameters
    ----------
    path : Path
    weight_kg, fleece_mm, shelter, at, heat_mj_per_day, sheep_class
        As in `one_day`.

    Raises
    ------
    InputError
        Every fault of the file, or of the values.
    """
    batch = _sheep(weight_kg, sheep_class)
    days = weather.read(path)
    start, end = days[0].date, days[-1].date + timedelta(1)
    place = replace(
        _place(fleece_mm, shelter, at), winter=(start, end), weather=days, weather_file=path.name
    )
    heat = outdoors.heat_mj_per_day(batch) if heat_mj_per_day is None else heat_mj_per_day
    return ColdWinter(
        None, place, (_winter_of(batch, heat, place, start, end),), weather.gaps(days)
    )


def farm_file(
    path: Path, *, weather_path: Path | None = None, overlays: Sequence[Path] = ()
) -> ColdWinter:
    """The allowance of every batch of a farm, month by month.

    Parameters
    ----------
    path : Path
        The farm file.
    weather_path : Path or None
        A weather file in place of the farm's own weather.
    overlays : sequence of Path
        Tables laid over the shipped ones.

    Raises
    ------
    InputError
        Every fault of the files; or the farm says no fleece or no weather.
    """
    farm, _ = read_farm(path, overlays=overlays)
    place = farm.outdoors
    if place is None:
        raise MissingValue(
            Problem(
                path.name,
                "nothing is said of out of doors",
                "fleece, shelter and weather are wanted",
                'Add a section "outdoors:" with "fleece: 60 mm" and "typical weather:"',
            )
        )
    if weather_path is not None:
        place = replace(
            place, weather=weather.read(weather_path), weather_file=weather_path.name, typical=()
        )
    if not place.has_weather:
        what = "fleece" if place.fleece_mm is None else "weather"
        raise MissingValue(
            Problem(
                f"{path.name}, outdoors",
                f"{what} is not said",
                "",
                "Add it, or give a file with --weather"
                if what == "weather"
                else 'Add "fleece: 60 mm"',
            )
        )
    found = tuple(
        _winter_of(b, outdoors.heat_mj_per_day(b, farm.maintenance), place, farm.start, farm.end)
        for b in farm.batches
    )
    return ColdWinter(farm, place, found, weather.gaps(place.weather or ()))


def _winter_of(batch: Batch, heat: float, place: Outdoors, start: date, end: date) -> BatchCold:
    if batch.housing == "shed":
        return BatchCold(batch, heat, True, None, (), ())
    spells, grazed = [], []
    for first, after in outdoors.months(start, end):
        try:
            spells.append(outdoors.cold_allowance(batch.weight_kg, heat, place, first, after))
        except MissingValue:  # no day of this month is known: it stands in `unknown`
            continue
        grazed.append(outdoors.grazing_me_mj_per_day(place, first, after))
    whole = outdoors.cold_allowance(batch.weight_kg, heat, place, start, end)
    return BatchCold(batch, heat, False, whole, tuple(spells), tuple(grazed))


def _sheep(weight_kg: float, sheep_class: str | None) -> Batch:
    name = sheep_class or ("ewe-lamb" if weight_kg <= animals.WEIGHT_KG[1] else "ewe")
    try:
        return animals.batch(
            "sheep", sheep_class=name, weight_kg=weight_kg, gain_g_per_day=0.0, housing="in-bye"
        )
    except InputError as error:
        raise OutOfRange(*(replace(p, where="--weight") for p in error.problems)) from None


def _place(fleece_mm: float, shelter: tuple[str, float], at: str) -> Outdoors:
    least, most = FLEECE_MM
    if not least <= fleece_mm <= most:
        raise OutOfRange(
            Problem("--fleece", f"fleece of {fleece_mm:g} mm", f"{least:g} to {most:g} mm")
        )
    return Outdoors(
        winter=(NO_DAY, NO_DAY + timedelta(1)),
        fleece_mm=fleece_mm,
        shelter=shelter[0],
        shelter_factor=shelter[1],
        at=at,
    )
