"""The command: what is typed becomes a job, and a fault becomes one line and an exit code.

Exit codes: 0 done, 1 something in a file or value cannot be used, 2 the command was typed wrongly,
3 no mix is possible, 4 our fault. Results go to standard output, everything else to standard
error. Heavy packages are imported inside the commands so that --help is quick. The commands of the
winter stand in `cli_winter`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ration.cli.cold import cold
from ration.cli.common import (
    ALL,
    CONTEXT,
    console,
    faults_in_words,
    json_option,
    one_standard_of_farm,
    put_json,
    standard_of_farm,
    standard_option,
    tables_of,
    tables_option,
)
from ration.cli.gains import gains
from ration.cli.minerals import minerals
from ration.cli.trials import trials
from ration.cli.winter import COMMANDS
from ration.cli.wintering import wintering

if TYPE_CHECKING:
    from ration.animals import Batch


@click.group(context_settings=CONTEXT)
@click.version_option(package_name="ration", message="%(package)s %(version)s")
def main() -> None:
    """Work out the cheapest safe ration for young breeding sheep through the winter.

    \b
    Start with:
      ration demo                        an invented farm, written to a folder and worked out
      ration mix FARM.yaml               the cheapest ration for each batch
      ration assess FARM.yaml            what the ration you feed now will do
      ration stack FARM.yaml             how long the hay will last
      ration winter FARM.yaml            the whole winter: what to order and what to feed when
      ration wintering FARM.yaml         which way of wintering pays: away, hill, in-bye, shed
    """


@main.command(context_settings=CONTEXT)
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


@main.group(context_settings=CONTEXT, invoke_without_command=True)
@click.pass_context
def feeds(context: click.Context) -> None:
    """The feed table: list it, look at one feed, check your own, copy it for editing.

    \b
    Examples:
      ration feeds                       the whole list
      ration feeds list --group hay
      ration feeds show hay-average
      ration feeds check my-feeds.csv
      ration feeds copy my-tables
    """
    if context.invoked_subcommand is None:
        context.invoke(feeds_list, group=None, overlays=(), as_json=False)


@feeds.command("list", context_settings=CONTEXT)
@click.option("--group", default=None, help="hay, silage, straw, cereal, byproduct, ...")
@tables_option
@json_option
@faults_in_words
def feeds_list(group: str | None, overlays: tuple[Path, ...], as_json: bool) -> None:
    """List the feeds with their main figures."""
    from ration.faces import feeds_report

    feeds_report.print_list(console, tables_of(overlays), group, put_json if as_json else None)


@feeds.command("show", context_settings=CONTEXT)
@click.argument("feed")
@tables_option
@json_option
@faults_in_words
def feeds_show(feed: str, overlays: tuple[Path, ...], as_json: bool) -> None:
    """Show one feed, each figure with its origin."""
    from ration.faces import feeds_report

    feeds_report.print_feed(console, tables_of(overlays), feed, put_json if as_json else None)


@feeds.command("check", context_settings=CONTEXT)
@click.argument("table", type=click.Path(path_type=Path))
@json_option
@faults_in_words
def feeds_check(table: Path, as_json: bool) -> None:
    """Check a table of your own: every fault in one line."""
    from ration import tables
    from ration.tables.records import Doubt

    found = tables.check(table)
    wrong = [p for p in found if not isinstance(p, Doubt)]
    doubts = [p for p in found if isinstance(p, Doubt)]
    if as_json:
        put_json(
            {
                "file": str(table),
                "problems": [str(p) for p in wrong],
                "doubts": [str(p) for p in doubts],
            }
        )
    else:
        for p in wrong:
            click.echo(str(p), err=True)
        for p in doubts:
            click.echo(f"Look again: {p}")
        if not wrong:
            click.echo(f"{table}: can be used.")
    if wrong:
        sys.exit(1)


@feeds.command("copy", context_settings=CONTEXT)
@click.argument("folder", type=click.Path(path_type=Path))
@json_option
@faults_in_words
def feeds_copy(folder: Path, as_json: bool) -> None:
    """Copy the shipped tables into a folder, for editing in a spreadsheet."""
    from ration import tables

    written = tables.copy(folder)
    if as_json:
        put_json({"written": [str(p) for p in written]})
        return
    for path in written:
        click.echo(path)
    click.echo(f"Edit them, then use them with: ration mix FARM.yaml --tables {folder}")


@main.command(context_settings=CONTEXT)
@click.argument("sheets", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--like",
    default="hay-average",
    show_default=True,
    help="Feed of the table that fills what the laboratory did not measure.",
)
@click.option("--name", default=None, help="Your name for the feed.")
@json_option
@faults_in_words
def analysis(sheets: tuple[Path, ...], like: str, name: str | None, as_json: bool) -> None:
    """Read a laboratory sheet: check it in words and make a feed of it.

    Several sheets of one lot are combined: mean and standard error.

    \b
    Examples:
      ration analysis bottom-ings.csv --like hay-meadow
      ration analysis lab1.csv lab2.csv --like hay-average --json
    """
    from ration.faces import feeds_report

    feeds_report.print_analysis(
        console, tables_of(), list(sheets), like, name, put_json if as_json else None
    )


def _refuse_unknown_batches(farm: Path, only: tuple[str, ...], known: list[str]) -> None:
    from ration.errors import Problem, UnknownName

    if wrong := [name for name in only if name not in known]:
        has = ", ".join(known)
        raise UnknownName(
            *(Problem("--batch", f'"{n}" is not a batch of {farm}', f"it has {has}") for n in wrong)
        )


def _overlaid(text: tuple[str, ...]) -> dict[str, list[Path]]:
    """FEED=SHEET options as a mapping; several sheets of one feed stand together."""
    from ration.errors import InputError, Problem

    out: dict[str, list[Path]] = {}
    faults = []
    for item in text:
        feed, equals, sheet = item.partition("=")
        if not (feed and equals and sheet):
            faults.append(
                Problem(
                    "--analysis",
                    f'read "{item}"',
                    "it is FEED=SHEET",
                    "Write for example: --analysis bottom-ings=sheet.csv",
                )
            )
        out.setdefault(feed, []).append(Path(sheet))
    if faults:
        raise InputError(*faults)
    return out


@main.command(context_settings=CONTEXT)
@click.argument("farm", type=click.Path(path_type=Path))
@click.option("--batch", "only", multiple=True, help="Only this batch; may be given again.")
@click.option(
    "--analysis",
    "sheets",
    multiple=True,
    metavar="FEED=SHEET",
    help="Lay a laboratory sheet over a feed and show the ration before and after.",
)
@standard_of_farm
@tables_option
@json_option
@faults_in_words
def mix(
    farm: Path,
    only: tuple[str, ...],
    sheets: tuple[str, ...],
    standard: str | None,
    overlays: tuple[Path, ...],
    as_json: bool,
) -> None:
    """Work out the cheapest safe ration for each batch of a farm.

    \b
    Examples:
      ration mix quernhope.yaml
      ration mix quernhope.yaml --batch small --json
      ration mix quernhope.yaml --analysis bottom-ings=bottom-ings-2026-11-16.csv
      ration mix quernhope.yaml --standard "CSIRO 2007"
      ration mix quernhope.yaml --batch small --standard all
    """
    from ration import jobs
    from ration.faces import as_json as js
    from ration.faces import needs_report, report

    if standard == ALL:
        beside = jobs.mix_by_each(farm, batches=only, sheets=_overlaid(sheets), overlays=overlays)
        _refuse_unknown_batches(farm, only, [b.name for b in beside.farm.batches])
        if as_json:
            put_json(js.mix_by_each_json(beside))
        else:
            needs_report.print_mix_by_each(console(), beside)
        by_batch = zip(*(done.result.rations for done in beside.by.values()), strict=True)
        if not all(any(r.is_found for r in rations) for rations in by_batch):
            sys.exit(3)
        return
    done = jobs.mix_file(
        farm, batches=only, sheets=_overlaid(sheets), overlays=overlays, standard=standard
    )
    if as_json:
        put_json(js.mix_json(done))
    else:
        report.print_mix(console(), done)
    if any(not r.is_found for r in done.result.rations):
        sys.exit(3)


@main.command(context_settings=CONTEXT)
@click.argument("farm", type=click.Path(path_type=Path))
@one_standard_of_farm
@tables_option
@json_option
@faults_in_words
def assess(farm: Path, standard: str | None, overlays: tuple[Path, ...], as_json: bool) -> None:
    """What the ration you feed now will do ("fed:" in the farm file).

    \b
    Examples:
      ration assess quernhope.yaml
      ration assess quernhope.yaml --standard "NRC 1985"
    """
    from ration import jobs
    from ration.faces import as_json as js
    from ration.faces import report

    done = jobs.assess_file(farm, overlays=overlays, standard=standard)
    if as_json:
        put_json(js.assess_json(done))
    else:
        report.print_assessments(console(), done)


@main.command(context_settings=CONTEXT)
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.option(
    "--farm",
    type=click.Choice(["quernhope", "hafod-wrynach"]),
    default="quernhope",
    show_default=True,
    help="The hill farmer's farm, or the nutritionist's.",
)
@json_option
@faults_in_words
def demo(folder: Path | None, farm: str, as_json: bool) -> None:
    """Write an invented farm into a folder and work it out, before and after its hay analysis.

    Without a FOLDER it goes into one named after the farm.

    \b
    Examples:
      ration demo my-demo
      ration demo --farm hafod-wrynach
    """
    from ration import demo as shipped

    folder = Path(f"{farm}-demo") if folder is None else folder
    shipped.run(folder, console, put_json if as_json else None, farm)


for _command in (*COMMANDS, wintering, gains, minerals, cold, trials):
    main.add_command(_command)

if __name__ == "__main__":
    main()
