"""From a farm file to what each gram of gain costs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from ration import gains
from ration.gains.after import SUMMER_GAIN_G_PER_DAY
from ration.gains.records import FarmGains
from ration.jobs import read_farm


def gains_file(
    path: Path,
    *,
    batches: Sequence[str] = (),
    step_g_per_day: float = gains.STEP_G_PER_DAY,
    most_g_per_day: float | None = None,
    tupping: date | None = None,
    summer_gain_g_per_day: float = SUMMER_GAIN_G_PER_DAY,
    overlays: Sequence[Path] = (),
) -> FarmGains:
    """What each gain costs every batch of a farm file.

    Parameters
    ----------
    path : Path
        The farm file.
    batches, step_g_per_day, most_g_per_day, tupping, summer_gain_g_per_day
        As in `ration.gains.curves`.
    overlays : sequence of Path
        Tables of your own, laid over the shipped ones.

    Raises
    ------
    InputError
        Every fault of the files, or of what was asked.
    BalanceError
        The books of a ration do not balance.
    """
    read, book = read_farm(path, overlays=overlays)
    return gains.curves(
        read,
        book,
        batches=batches,
        step_g_per_day=step_g_per_day,
        most_g_per_day=most_g_per_day,
        tupping=tupping,
        summer_gain_g_per_day=summer_gain_g_per_day,
    )
