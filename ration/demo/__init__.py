"""The shipped demos: two invented farms, what came in the post, and a run of each one's winter."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from ration.demo import hafod
from ration.errors import FileError, Problem

FILES = ("quernhope.yaml", "bottom-ings-2026-11-16.csv", "quernhope-quotes.csv")
FARMS = {"quernhope": FILES, "hafod-wrynach": hafod.FILES}
ANALYSED = "bottom-ings"
WHAT_IFS = ("cubes 16 blown +17 /t", "long winter")
WHEN = (
    "21 January: cubes go up by £17 a tonne.",
    "3 March: snow; turnout slips by 25 days, to 27 April. Had it been known in October:",
)


def write(folder: Path, files: Sequence[str] = FILES) -> list[Path]:
    """Write a demo farm into a folder, all files or none; never over a file that differs.

    Raises
    ------
    FileError
        A file of that name is there with other contents, or the folder cannot be written.
    """
    here = Path(__file__).parent
    faults = []
    for name in files:
        target = folder / name
        if target.exists() and target.read_bytes() != (here / name).read_bytes():
            faults.append(
                Problem(
                    str(target),
                    "there is already a file of that name, and it was changed",
                    "the demo never writes over your work",
                    "Give another folder: ration demo FOLDER",
                )
            )
    if faults:
        raise FileError(*faults)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder) as waiting:
            for name in files:
                shutil.copyfile(here / name, Path(waiting) / name)
            for name in files:
                (Path(waiting) / name).replace(folder / name)
    except OSError as error:
        raise FileError(
            Problem(
                str(folder),
                f"cannot be written ({error.strerror})",
                "",
                "Give a folder of your own: ration demo FOLDER",
            )
        ) from None
    return [folder / name for name in files]


def run(
    folder: Path,
    console: Callable[[], Any],
    put_json: Callable[[Any], None] | None,
    farm: str = "quernhope",
) -> None:
    """Write one of the demos, by its name in `FARMS`, and work it out."""
    if farm == "quernhope":
        _quernhope(folder, console, put_json)
        return
    write(folder, FARMS[farm])
    done = hafod.work(folder)
    if put_json is not None:
        put_json(hafod.worked_json(done))
    else:
        hafod.show(console(), done, folder)


def _quernhope(
    folder: Path, console: Callable[[], Any], put_json: Callable[[Any], None] | None
) -> None:
    """From the stack in August to a late spring."""
    from ration import weighing
    from ration.faces import (
        as_json,
        card_report,
        report,
        weigh_report,
        winter_json,
        winter_report,
        wintering_json,
        wintering_report,
    )
    from ration.jobs import mix_file
    from ration.jobs import weigh as weigh_jobs
    from ration.jobs import winter as winter_jobs
    from ration.jobs import wintering as wintering_jobs

    farm, sheet, prices = write(folder)
    stack = winter_jobs.stack_file(farm)
    ways = wintering_jobs.wintering_file(farm)
    planned = winter_jobs.winter_file(farm, what_ifs=WHAT_IFS)
    november = mix_file(farm, sheets={ANALYSED: sheet})
    january = weighing.weighing(date(2027, 1, 14), 40, 37.1, 3.0)
    weighed = weigh_jobs.weigh_file(farm, january, later=25, base=planned)
    if put_json is not None:
        put_json(
            {
                "stack": winter_json.stack_json(stack),
                "wintering": wintering_json.wintering_json(ways),
                "winter": winter_json.winter_json(planned),
                "analysis": as_json.mix_json(november),
                "weighing": winter_json.weigh_json(weighed),
            }
        )
        return
    screen = console()

    def heading(words: str) -> None:
        report.say(screen, "", words, style="bold")

    report.say(screen, f"Written: {farm}, {sheet} and {prices}. Open the farm file and change it.")
    heading("August: the hay is counted.")
    winter_report.print_stack(screen, stack)
    heading("September: away, hill, in-bye or the shed?")
    report.say(screen, *wintering_report.in_words(ways, has_table=False))
    report.say(screen, "They stay in the shed this year: the keep ends in February.")
    heading("October: the quotes are in.")
    winter_report.print_order(screen, replace(planned, what_ifs=()))
    heading("28 October: the first feeding card.")
    card_report.print_cards(screen, winter_jobs.cards_of(planned, batches=("middle",)))
    heading("16 November: the Bottom Ings sheet comes back.")
    if november.before is not None:
        report.print_changes(screen, november.before, november.result)
    heading("14 January: forty are weighed.")
    weigh_report.print_told(screen, weighed)
    for when, asked in zip(WHEN, planned.what_ifs, strict=True):
        heading(when)
        report.say(screen, asked.line, *asked.notes)
    report.say(
        screen,
        "",
        "Now try:",
        f"  ration mix {farm}",
        f"  ration wintering {farm}",
        f"  ration winter {farm}",
        f'  ration card {farm} --on "1 February 2027"',
        f'  ration weigh {farm} --on "14 January 2027" --mean 37.1kg --sd 3.0kg --number 40',
    )
