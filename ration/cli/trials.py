"""The command that puts published feeding trials to the standards."""

from __future__ import annotations

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


@click.command(context_settings=CONTEXT)
@click.option(
    "--standard", default="all", show_default=True, metavar="NAME", help="A standard, or all."
)
@click.option(
    "--maintenance",
    default=1.0,
    show_default=True,
    type=float,
    help="Multiplier on what they need to stand still.",
)
@click.option(
    "--recycled",
    default="0 %",
    show_default=True,
    metavar="SHARE",
    help='Credit for nitrogen recycled to the rumen: "15 %".',
)
@tables_option
@json_option
@faults_in_words
def trials(
    standard: str,
    maintenance: float,
    recycled: str,
    overlays: tuple[Path, ...],
    as_json: bool,
) -> None:
    """Reality check: the gains of published feeding trials against what the standards expect.

    \b
    Examples:
      ration trials
      ration trials --standard "AFRC 1993"
      ration trials --maintenance 1.4 --recycled "15 %"
    """
    from ration import units
    from ration.errors import InputError
    from ration.faces import trials_report
    from ration.jobs import trials as trial_jobs

    try:
        credit = units.share(recycled, "recycled nitrogen")
    except InputError as error:
        raise error.at("--recycled") from None
    done = trial_jobs.run_trials(
        standard, maintenance=maintenance, recycled_n_share=credit, overlays=overlays
    )
    if as_json:
        put_json(trials_report.trials_json(done))
    else:
        trials_report.print_trials(console(), done)


COMMANDS = (trials,)
