"""The command that sets the ways of wintering side by side."""

from __future__ import annotations

from pathlib import Path

import click

from ration.cli.common import (
    CONTEXT,
    console,
    faults_in_words,
    json_option,
    put_json,
    tables_of,
    tables_option,
)
from ration.cli.xlsx import check_xlsx, put_xlsx, xlsx_option


@click.command(context_settings=CONTEXT)
@click.argument("farm", type=click.Path(path_type=Path))
@click.option(
    "--base",
    default=None,
    metavar="WAY",
    help="Way that changes are counted from; else the one with the farm's own housing.",
)
@click.option(
    "--no-mix",
    is_flag=True,
    help="Leave out the cheapest mix beside feed put out by hand: quicker.",
)
@tables_option
@xlsx_option
@json_option
@faults_in_words
def wintering(
    farm: Path,
    base: str | None,
    no_mix: bool,
    overlays: tuple[Path, ...],
    xlsx: Path | None,
    over: bool,
    as_json: bool,
) -> None:
    """Which way of wintering pays: away on keep, hill, in-bye or shed.

    The ways and their prices stand in the farm file under "wintering:".

    \b
    Examples:
      ration wintering quernhope.yaml
      ration wintering quernhope.yaml --base in-bye
      ration wintering quernhope.yaml --no-mix --json
      ration wintering quernhope.yaml --xlsx budget.xlsx
    """
    from ration.faces import wintering_json, wintering_report
    from ration.jobs import wintering as wintering_job

    check_xlsx(xlsx, over)
    done = wintering_job.wintering_file(farm, base=base, with_mix=not no_mix, overlays=overlays)
    if as_json:
        put_json(wintering_json.wintering_json(done))
    else:
        wintering_report.print_wintering(console(), done)

    def book() -> bytes:
        from ration.workbooks.wintering import wintering_book

        return wintering_book(done, tables_of((*overlays, *done.farm.tables)))

    put_xlsx(xlsx, over, book)
