"""The command on minerals and vitamins."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from ration.cli.common import (
    CONTEXT,
    console,
    faults_in_words,
    json_option,
    put_json,
    tables_option,
)
from ration.cli.xlsx import check_xlsx, put_xlsx, xlsx_option


@click.command(context_settings=CONTEXT)
@click.argument("farm", type=click.Path(path_type=Path))
@click.option("--batch", "batches", multiple=True, help="Only this batch; may be given again.")
@click.option("--fed", is_flag=True, help='Look at what is fed now ("fed:" in the farm file).')
@click.option(
    "--with",
    "supplement",
    default="",
    metavar="MINERAL",
    help="Try this mineral, of the farm or the table of feeds; else each one on offer.",
)
@tables_option
@xlsx_option
@json_option
@faults_in_words
def minerals(
    farm: Path,
    batches: tuple[str, ...],
    fed: bool,
    supplement: str,
    overlays: tuple[Path, ...],
    xlsx: Path | None,
    over: bool,
    as_json: bool,
) -> None:
    """Minerals and vitamins of the ration: what is short, too much, or not known.

    Every book's figure stands beside the others with its source. A figure that nobody has is
    unknown, never zero. Ask your vet before you change a mineral.

    \b
    Examples:
      ration minerals quernhope.yaml --batch small
      ration minerals quernhope.yaml --fed --with salt
      ration minerals quernhope.yaml --xlsx minerals.xlsx
    """
    from ration.faces import minerals_json, minerals_report
    from ration.jobs import minerals as mineral_jobs

    check_xlsx(xlsx, over)
    done = mineral_jobs.minerals_file(
        farm, batches=batches, fed=fed, supplement=supplement, overlays=overlays
    )
    if as_json:
        put_json(minerals_json.minerals_json(done))
    else:
        minerals_report.print_minerals(console(), done)

    def book() -> bytes:
        from ration.workbooks.minerals import minerals_book

        return minerals_book(done)

    put_xlsx(xlsx, over, book)
    if not done.is_found:
        sys.exit(3)


COMMANDS = (minerals,)
