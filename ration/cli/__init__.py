"""The command: what is typed becomes a job, and a fault becomes one line and an exit code.

Exit codes: 0 done, 1 something in a file or value cannot be used, 2 the command was typed wrongly,
3 no mix is possible, 4 our fault. Results go to standard output, everything else to standard
error. Heavy packages are imported inside the commands so that --help is quick. The commands of the
winter stand in `cli_winter`.
"""

from __future__ import annotations

import sys
from pathlib import Path

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
    tables_of,
    tables_option,
)
from ration.cli.gains import gains
from ration.cli.minerals import minerals
from ration.cli.needs import needs
from ration.cli.page import page
from ration.cli.paper import paper
from ration.cli.trials import trials
from ration.cli.winter import COMMANDS
from ration.cli.wintering import wintering
from ration.cli.xlsx import check_xlsx, put_xlsx, xlsx_option


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
      ration page FARM.yaml              all of it in a browser on this machine
    """


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
        context.invoke(feeds_list, group=None, overlays=(), xlsx=None, over=False, as_json=False)


@feeds.command("list", context_settings=CONTEXT)
@click.option("--group", default=None, help="hay, silage, straw, cereal, byproduct, ...")
@tables_option
@xlsx_option
@json_option
@faults_in_words
def feeds_list(
    group: str | None,
    overlays: tuple[Path, ...],
    xlsx: Path | None,
    over: bool,
    as_json: bool,
) -> None:
    """List the feeds with their main figures; as a workbook, every figure with its origin.

    \b
    Example:
      ration feeds list --group hay --xlsx my-feeds.xlsx
    """
    from ration.faces import feeds_report

    check_xlsx(xlsx, over)
    tables = tables_of(overlays)
    feeds_report.print_list(console, tables, group, put_json if as_json else None)

    def book() -> bytes:
        from ration.workbooks.feeds import feeds_book

        return feeds_book(tables, group)

    put_xlsx(xlsx, over, book)


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


for _command in (
    needs,
    *COMMANDS,
    wintering,
    gains,
    minerals,
    cold,
    trials,
    paper,
    page,
):
    main.add_command(_command)

if __name__ == "__main__":
    main()
