"""The command for cold, wind and wet: one day as it is typed, a weather file, or a farm."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from ration.cli.common import (
    CONTEXT,
    console,
    faults_in_words,
    json_option,
    put_json,
    tables_option,
)

_file = click.Path(path_type=Path)


@click.command(context_settings=CONTEXT)
@click.argument("farm", type=_file, required=False)
@click.option("--weather", "weather_path", default=None, type=_file, help="Daily weather, a CSV.")
@click.option("--weight", default=None, help='Weight of a sheep: "30 kg".')
@click.option("--fleece", default=None, help='Depth of its fleece: "60 mm".')
@click.option("--temperature", default=None, help='Mean of the day: "2 C".')
@click.option("--wind", default=None, help='Mean wind of the day: "30 km/h", "18 mph".')
@click.option("--rain", default=None, help='Rain of the day: "20 mm"; "none".')
@click.option("--shelter", default=None, help='none, wall, wood, or the share let through: "40 %".')
@click.option("--at-sheep", is_flag=True, help="The wind is that at the sheep, not of a mast.")
@click.option("--heat", default=None, help='What it makes without cold: "6 MJ"; else maintenance.')
@click.option("--class", "sheep_class", default=None, help="ewe lamb, gimmer, ewe, ...")
@tables_option
@json_option
@faults_in_words
def cold(
    farm: Path | None,
    weather_path: Path | None,
    overlays: tuple[Path, ...],
    as_json: bool,
    **typed: Any,
) -> None:
    """What cold, wind and wet cost out of doors, in energy and feed; and when to find shelter.

    Type one day's weather, or give a file of days, or a farm file with a section "outdoors".

    \b
    Examples:
      ration cold --weight 30kg --fleece "60 mm" --temperature "2 C" --wind "30 km/h" --rain "20 mm"
      ration cold --weight 30kg --fleece "60 mm" --weather days.csv --shelter wall
      ration cold skarrendale.yaml
    """
    from ration.faces import cold_report
    from ration.jobs import cold as cold_jobs

    if farm is not None:
        if said := [f"--{k.replace('_', '-')}" for k, v in typed.items() if v]:
            raise click.UsageError(f"the farm file says it: leave out {', '.join(said)}")
        winter = cold_jobs.farm_file(farm, weather_path=weather_path, overlays=overlays)
    else:
        sheep = _sheep(typed, weather_path is None)
        if weather_path is None:
            one = cold_jobs.one_day(**sheep)
            if as_json:
                put_json(cold_report.day_json(one))
            else:
                cold_report.print_day(console(), one)
            return
        winter = cold_jobs.weather_file(weather_path, **sheep)
    if as_json:
        put_json(cold_report.winter_json(winter))
    else:
        cold_report.print_winter(console(), winter)


def _sheep(typed: dict[str, Any], is_one_day: bool) -> dict[str, Any]:
    """What was typed, read; every fault in one go."""
    from ration import animals, units, weather
    from ration.errors import InputError, Problem
    from ration.farm import outdoors, words

    days = ("temperature", "wind", "rain")
    if not is_one_day and (said := [f"--{k}" for k in days if typed[k] is not None]):
        raise click.UsageError(f"the weather file says it: leave out {', '.join(said)}")
    wanted = ("weight", "fleece", *days) if is_one_day else ("weight", "fleece")
    if missing := [f"--{k}" for k in wanted if typed[k] is None]:
        raise click.UsageError(
            f"{', '.join(missing)} wanted too; or name a farm file: ration cold FARM.yaml"
        )
    readers: dict[str, tuple[str, Callable[[Any], Any]]] = {
        "weight": ("weight_kg", units.mass_kg),
        "fleece": ("fleece_mm", lambda v: weather.depth_mm(v, "fleece")),
        "temperature": ("temperature_c", weather.temperature_c),
        "wind": ("wind_km_per_h", weather.wind_km_per_h),
        "rain": ("rain_mm", weather.rain_mm),
        "shelter": ("shelter", outdoors.shelter),
        "heat": ("heat_mj_per_day", _heat_mj),
        "sheep_class": ("sheep_class", words.one_of(tuple(animals.CLASSES), "class")),
    }
    found: dict[str, Any] = {"at": "sheep" if typed["at_sheep"] else "mast"}
    faults: list[Problem] = []
    for name, (argument, reader) in readers.items():
        if typed[name] is None:
            continue
        try:
            found[argument] = reader(typed[name])
        except InputError as error:
            faults += error.at("--class" if name == "sheep_class" else f"--{name}").problems
    if faults:
        raise InputError(*faults)
    return found


def _heat_mj(text: str) -> float:
    """Heat of a sheep: "6 MJ", "6"."""
    from ration.farm.words import between
    from ration.units import number

    bare = text.strip().removesuffix("MJ").removesuffix("mj").strip()
    return between(number, "heat", 0.5, 60.0, "MJ a day")(bare)
