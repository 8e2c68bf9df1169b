"""The shipped demo: an invented farm, its hay analysis, and a run of both."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from ration.errors import FileError, Problem

FILES = ("quernhope.yaml", "bottom-ings-2026-11-16.csv", "quernhope-quotes.csv")
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
    from ration import jobs
    from ration.faces import as_json, report

    farm, sheet, _ = write(folder)
    november = jobs.mix_file(farm, sheets={ANALYSED: sheet})
    october = jobs.told(november.before or november.result, None, november.tables)
    if put_json is not None:
        put_json({"before": as_json.mix_json(october), "after": as_json.mix_json(november)})
        return
    screen = console()
    report.say(screen, f"Written: {farm} and {sheet}. Open the farm file and change it.", "")
    report.say(
        screen, "October: Bottom Ings hay has no analysis yet, so the book stands in.", style="bold"
    )
    report.print_mix(screen, october)
    report.say(screen, "", "16 November: the Bottom Ings sheet comes back.", style="bold")
    report.print_changes(screen, october.result, november.result)
    for ration in november.result.rations:
        report.print_short(screen, ration)
    report.print_cautions(screen, november.cautions)
    report.print_footer(screen, november.result)
    report.say(
        screen,
        "",
        "Now try:",
        f"  ration mix {farm} --batch small",
        f"  ration mix {farm} --analysis {ANALYSED}={sheet}",
        f"  ration assess {farm}",
    )
