"""The command `gains`: what each gram of gain costs."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ration.cli.common import (
    CONTEXT,
    console,
    day_of,
    faults_in_words,
    json_option,
    put_json,
    tables_option,
)

if TYPE_CHECKING:
    from collections.abc import Callable


@click.command(context_settings=CONTEXT)
@click.argument("farm", type=click.Path(path_type=Path))
@click.option("--batch", "only", multiple=True, help="Only this batch; may be given again.")
@click.option("--step", default="10 g", show_default=True, help="From one gain to the next, a day.")
@click.option(
    "--most", default=None, help="Largest gain, a day; else 150 g, or 60 over the target."
)
@click.option(
    "--tupping", default=None, metavar="DATE", help="Next tupping; else the next 10 November."
)
@click.option(
    "--summer",
    default="0.6 kg/week",
    show_default=True,
    help="Gain from the end of the winter to tupping.",
)
@tables_option
@json_option
@faults_in_words
def gains(
    farm: Path,
    only: tuple[str, ...],
    step: str,
    most: str | None,
    tupping: str | None,
    summer: str,
    overlays: tuple[Path, ...],
    as_json: bool,
) -> None:
    """What each gram of gain costs: the target as a decision.

    \b
    Examples:
      ration gains quernhope.yaml
      ration gains quernhope.yaml --batch small --most 100g
      ration gains quernhope.yaml --summer "60 g" --tupping "20 November 2027"
    """
    from ration import units
    from ration.faces import gains_report
    from ration.jobs import gains as gains_jobs

    found = gains_jobs.gains_file(
        farm,
        batches=only,
        step_g_per_day=_read(units.gain_g_per_day, step, "--step"),
        most_g_per_day=None if most is None else _read(units.gain_g_per_day, most, "--most"),
        tupping=day_of(tupping, "--tupping"),
        summer_gain_g_per_day=_read(units.gain_g_per_day, summer, "--summer"),
        overlays=overlays,
    )
    if as_json:
        put_json(gains_report.gains_json(found))
    else:
        gains_report.print_gains(console(), found)
    if any(not c.target.is_reached for c in found.curves):
        sys.exit(3)


def _read(reader: Callable[[str], float], text: str, option: str) -> float:
    from ration.errors import InputError

    try:
        return reader(text)
    except InputError as error:
        raise error.at(option) from None
