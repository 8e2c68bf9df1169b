"""The command `needs`: what one sheep needs each day, by one published standard or by all."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from ration.cli.common import (
    ALL,
    CONTEXT,
    console,
    faults_in_words,
    json_option,
    put_json,
    standard_option,
)

if TYPE_CHECKING:
    from ration.animals import Batch


@click.command(context_settings=CONTEXT)
@click.option(
    "--class",
    "sheep_class",
    default="ewe-lamb",
    show_default=True,
    help="ewe-lamb, wether-lamb, tup-lamb, gimmer, wether, tup or ewe.",
)
@click.option("--weight", required=True, help='Live weight: "30 kg", "66 lb", "4 st 10 lb".')
@click.option("--gain", default="0 g", show_default=True, help='Gain: "20 g" a day.')
@click.option("--housing", default="shed", show_default=True, help="shed, in-bye, hill or away.")
@click.option(
    "--md",
    default="9.2",
    show_default=True,
    help="Energy of the whole diet, MJ ME per kg dry matter.",
)
@click.option("--sex", default=None, help="female, castrate or entire; else from the class.")
@click.option("--age", default=None, help="under or over one year: under, over; else the class.")
@click.option("--mature-weight", default="62 kg", show_default=True, help="Grown weight.")
@click.option(
    "--dmi",
    default=None,
    help="Dry matter eaten, kg a day, for calcium and phosphorus; else what meets energy.",
)
@click.option(
    "--margin",
    type=float,
    default=None,
    help="Safety margin on energy and protein; else the standard's own (AFRC 1993: 1.05).",
)
@click.option(
    "--maintenance",
    default=1.0,
    show_default=True,
    help="Multiplier on maintenance; trials with modern sheep found 1.4 to 1.5.",
)
@standard_option
@click.option(
    "--recycled",
    default="0 %",
    show_default=True,
    help="Credit for recycled nitrogen; it counts in what feeds bring and moves no need.",
)
@click.option("--in-lamb", "days_pregnant", type=float, default=None, help="Day of pregnancy.")
@click.option("--litter", default=None, help='Birth weight of all her lambs: "8 kg".')
@click.option("--lambs", type=float, default=None, help="Lambs a ewe, as scanned.")
@click.option("--milk", default="0 kg", show_default=True, help="Milk a day of a suckling ewe.")
@click.option("--cold", default="0 MJ", show_default=True, help="ME for cold a day (ration cold).")
@click.option("--walk", default=None, help='Walked a day: "3 km"; with --climb.')
@click.option("--climb", default=None, help='Climbed a day: "100 m"; with --walk.')
@json_option
@faults_in_words
def needs(
    weight: str,
    md: str,
    dmi: str | None,
    margin: float | None,
    maintenance: float,
    standard: str,
    recycled: str,
    as_json: bool,
    **said: Any,
) -> None:
    """What one sheep needs each day, by one published standard or by all of them.

    \b
    Examples:
      ration needs --weight 30kg --gain 20g
      ration needs --weight 35kg --gain 50g --standard all
      ration needs --class wether-lamb --weight "84 lb" --gain 100g --md 10.5 --housing in-bye
      ration needs --class ewe --weight 70kg --in-lamb 126 --litter 9kg --md 11
    """
    from ration import needs as standards
    from ration import units
    from ration.faces import as_json as js
    from ration.faces import needs_report

    sheep = _sheep(units.mass_kg(weight), **said)
    energy = _energy_of_dm(md)
    eaten = None if dmi is None else _dry_matter_eaten(dmi)
    switches: dict[str, Any] = {
        "margin": margin,
        "maintenance": maintenance,
        "recycled_n_share": units.share(recycled, "recycled nitrogen"),
    }
    if standard == ALL:
        told = standards.side_by_side(sheep, energy, dmi_kg_per_day=eaten, **switches)
        if as_json:
            put_json(js.beside_json(told))
        else:
            needs_report.print_beside(console(), told)
        return
    need = standards.of(sheep, standard, **switches).at(energy, dmi_kg_per_day=eaten)
    if as_json:
        put_json(js.needs_json(need))
    else:
        needs_report.print_needs(console(), need, needs_report.sheep_words(sheep))


def _sheep(
    weight_kg: float,
    *,
    sheep_class: str,
    gain: str,
    housing: str,
    sex: str | None,
    age: str | None,
    mature_weight: str,
    days_pregnant: float | None,
    litter: str | None,
    lambs: float | None,
    milk: str,
    cold: str,
    walk: str | None,
    climb: str | None,
) -> Batch:
    """One sheep as typed."""
    from ration import animals, units
    from ration.errors import OutOfRange, Problem
    from ration.farm.outdoors import distance_km

    young = {None: None, "under": True, "over": False}
    if age not in young:
        raise OutOfRange(Problem("--age", f'read "{age}"', "it is under or over (one year)"))
    milk_kg = _a_day(units.mass_kg)(milk, "milk")
    if litter is not None and days_pregnant is None:
        raise OutOfRange(
            Problem(
                "--litter",
                "a weight of unborn lambs and no day of pregnancy",
                "they are fed for by the day",
                "Add for example: --in-lamb 120",
            )
        )
    if lambs is not None and days_pregnant is None and not milk_kg:
        raise OutOfRange(
            Problem(
                "--lambs",
                "lambs, and the ewe neither in lamb nor in milk",
                "nothing is fed for them",
                "Add for example: --in-lamb 120, or --milk 1.6kg",
            )
        )
    return animals.batch(
        "sheep",
        sheep_class=sheep_class,
        weight_kg=weight_kg,
        gain_g_per_day=units.gain_g_per_day(gain),
        sex=sex,
        under_one_year=young[age],
        housing=housing,
        mature_weight_kg=units.mass_kg(mature_weight),
        days_pregnant=days_pregnant,
        litter_kg=None if litter is None else units.mass_kg(litter, "litter"),
        lambs=lambs,
        milk_kg_per_day=milk_kg,
        cold_me_mj_per_day=_a_day(_megajoules)(cold, "energy for cold"),
        walk_km_per_day=None if walk is None else distance_km(walk, "walk"),
        climb_km_per_day=None if climb is None else distance_km(climb, "climb"),
    )


def _a_day(read: Callable[[str, str], float]) -> Callable[[Any, str], float]:
    """The same reader, letting "a day" stand after the quantity."""
    from ration.farm.words import per

    return per("day", read, "")


def _energy_of_dm(text: str) -> float:
    """ME of the diet's dry matter as typed. [MJ/kg DM]"""
    from ration import units
    from ration.errors import InputError
    from ration.farm.words import dry

    try:
        return dry(units.energy_mj_per_kg, "energy of the diet")(text).value
    except InputError as error:
        raise error.at("--md") from None


def _dry_matter_eaten(text: str) -> float:
    """Dry matter as typed, kg taken for granted. [kg DM/day]"""
    from ration import units
    from ration.errors import InputError
    from ration.farm.words import between

    def read(said: Any, what: str) -> float:
        bare = said.strip()
        return units.mass_kg(bare if bare[-1:].isalpha() else f"{bare} kg", what)

    try:
        return between(_a_day(read), "dry matter eaten", 0.05, 6.0, "kg a day")(text)
    except InputError as error:
        raise error.at("--dmi") from None


def _megajoules(text: str, what: str) -> float:
    """Energy as typed, MJ taken for granted. [MJ]"""
    from ration.plain_text import refusal, split

    size, unit = split(text.strip(), what)
    if unit not in ("", "mj", "mj me"):
        raise refusal(text, f"{what} is in MJ", do=f'Write "{size:g} MJ"')
    return size
