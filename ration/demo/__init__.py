"""The shipped demo: an invented farm, its hay analysis, and a run of both."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from ration.errors import FileError, Problem

FILES = ("quernhope.yaml", "bottom-ings-2026-11-16.csv")
ANALYSED = "bottom-ings"


def write(folder: Path) -> list[Path]:
    """Write the demo farm into a folder, all files or none; never over a file that differs.

    Raises
    ------
    FileError
        A file of that name is there with other contents, or the folder cannot be written.
    """
    here = Path(__file__).parent
    faults = []
    for name in FILES:
        target = folder / name
        if target.exists() and target.read_bytes() != (here / name).read_bytes():
            faults.append(
                Problem(
                    str(target),
                    "there is already a file of that name, and it was changed",
                    "the demo never writes over your work",
                    "Give another folder: ration demo NAME",
                )
            )
    if faults:
        raise FileError(*faults)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder) as waiting:
            for name in FILES:
                shutil.copyfile(here / name, Path(waiting) / name)
            for name in FILES:
                (Path(waiting) / name).replace(folder / name)
    except OSError as error:
        raise FileError(
            Problem(
                str(folder),
                f"cannot be written ({error.strerror})",
                "",
                "Give a folder of your own: ration demo NAME",
            )
        ) from None
    return [folder / name for name in FILES]


def run(folder: Path, console: Callable[[], Any], put_json: Callable[[Any], None] | None) -> None:
    """Write the demo, work it out on book hay, then with the sheet of 16 November."""
    from ration import cli, report

    farm, sheet = write(folder)
    result, tables, before = cli.mixed(farm, (), {ANALYSED: sheet}, ())
    if before is None:
        raise FileError(Problem(str(sheet), "the analysis was not laid on"))
    if put_json is not None:
        put_json(
            {
                "before": cli.mix_json(before, tables, None),
                "after": cli.mix_json(result, tables, before),
            }
        )
        return
    screen = console()
    click.echo(f"Written: {farm} and {sheet}. Open the farm file and change it.\n")
    report.say(
        screen, "October: Bottom Ings hay has no analysis yet, so the book stands in.", style="bold"
    )
    report.print_mix(screen, before, cli.for_farm(before, tables))
    screen.print()
    report.say(screen, "16 November: the Bottom Ings sheet comes back.", style="bold")
    cli.print_changes(screen, before, result)
    for ration in result.rations:
        report.print_short(screen, ration)
    report.print_cautions(screen, cli.for_farm(result, tables))
    report.print_footer(screen, result)
    click.echo(
        f"\nNow try:\n  ration mix {farm} --batch small\n"
        f"  ration mix {farm} --analysis {ANALYSED}={sheet}\n  ration assess {farm}"
    )
