"""Constants and ranges of AFRC (1993) as used here, and their guards."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ration.errors import OutOfRange, Problem

Real = TypeVar("Real", float, NDArray[np.float64])

GROSS_ENERGY_MJ_PER_KG_DM = 18.8
SAFETY_MARGIN = 1.05
QUALITY = (0.15, 0.85)
QUALITY_TRUSTED = (0.4, 0.7)
LEVEL = (0.0, 5.0)


def within(what: str, value: Real, lo: float, hi: float) -> None:
    """Refuse what lies outside a range."""
    if isinstance(value, np.ndarray):
        inside = value.size == 0 or bool(value.min() >= lo and value.max() <= hi)
    else:
        inside = lo <= value <= hi
    if not inside:
        raise OutOfRange(Problem("", f"{what} {value}", f"{lo:g} to {hi:g} is covered"))


def weight_is_believable(weight_kg: float) -> None:
    """Refuse a live weight outside 5 to 100 kg."""
    within("live weight [kg]", float(weight_kg), 5.0, 100.0)
