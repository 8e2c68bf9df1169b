"""The ways of wintering to compare: the section `wintering:` of a farm file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from ration.strict_yaml import Sheet


@dataclass(frozen=True)
class Wintering:
    """The ways of wintering and their prices."""


def wintering_of(
    sheet: Sheet, winter: tuple[date, date] | None, offer_ids: tuple[str, ...]
) -> Wintering | None:
    """The section read; None when there is none."""
    return None
