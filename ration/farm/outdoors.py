"""Fleece, shelter, weather, walking and grazing: the section `outdoors:` of a farm file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ration.strict_yaml import Sheet


@dataclass(frozen=True)
class Outdoors:
    """What the sheep meet out of doors."""


def outdoors_of(
    sheet: Sheet, folder: Path | None, winter: tuple[date, date] | None
) -> Outdoors | None:
    """The section read; None when there is none."""
    return None
