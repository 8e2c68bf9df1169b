"""Constants and ranges of SCA (1990) and CSIRO (2007) as used here, and their guards."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ration.errors import OutOfRange, Problem
from ration.standards.afrc1993.ground import within

Real = TypeVar("Real", float, NDArray[np.float64])

GROSS_ENERGY_MJ_PER_KG_DM = 18.45
MD = (2.5, 16.5)  # far wider than sheep are fed, so that a search may look about
MD_TRUSTED = (7.0, 13.0)
WEIGHT_KG = (5.0, 150.0)
SRW_KG = (20.0, 150.0)
AGE_YEARS = (0.0, 20.0)
GAIN_G_PER_DAY = (0.0, 1000.0)
ME_MJ_PER_DAY = (0.0, 200.0)
MAINTENANCE = (0.5, 3.0)
EMPTY_BODY_SHARE = 0.92

SEX_FACTOR = {"female": 1.0, "castrate": 1.0, "mixed": 1.075, "entire": 1.15}


def weight_is_believable(weight_kg: float) -> None:
    """Refuse a live weight outside 5 to 150 kg."""
    within("live weight [kg]", float(weight_kg), *WEIGHT_KG)


def srw_is_believable(srw_kg: float) -> None:
    """Refuse a standard reference weight outside 20 to 150 kg."""
    within("standard reference weight [kg]", float(srw_kg), *SRW_KG)


def md_is_believable(md_mj_per_kg_dm: Real) -> None:
    """Refuse an energy content of the diet outside 2.5 to 16.5 MJ/kg DM."""
    within("M/D of the diet [MJ/kg DM]", md_mj_per_kg_dm, *MD)


def gain_is_believable(gain_g_per_day: Real) -> None:
    """Refuse a loss of weight, or a gain above 1000 g/day."""
    low, high = GAIN_G_PER_DAY
    lowest = float(np.min(gain_g_per_day)) if np.size(gain_g_per_day) else low
    if lowest < low:
        raise OutOfRange(
            Problem(
                "",
                f"gain {lowest:g} g/day is a loss of weight",
                "the growth equations start at 0 g/day",
                "Ask for 0 g/day or more",
            )
        )
    within("gain [g/day]", gain_g_per_day, low, high)


def one_of(what: str, value: str, known: tuple[str, ...]) -> None:
    """Refuse a word that is not on a list."""
    if value not in known:
        raise OutOfRange(Problem("", f'{what} "{value}"', f"it is one of {', '.join(known)}"))
