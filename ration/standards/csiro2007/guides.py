"""Figures to set beside the standard: Australian extension, and the British lamb trials."""

from __future__ import annotations

import math

from ration.errors import OutOfRange, Problem
from ration.standards.afrc1993.ground import within
from ration.standards.csiro2007.ground import one_of, weight_is_believable

# state: lowest and highest crude protein of the diet [g/kg DM]
CP_FLOORS = {
    "dry": (60.0, 80.0),
    "mid-pregnancy": (80.0, 100.0),
    "early-lactation": (120.0, 140.0),
}
# weaners up to this weight [kg]: the same
CP_FLOORS_OF_WEANERS = ((20.0, (140.0, 160.0)), (25.0, (120.0, 140.0)), (150.0, (100.0, 120.0)))
FEED_INTO_LAMB = {"female": 0.507}
FEED_INTO_LAMB_ALL = 0.486
SEXES = ("female", "castrate", "entire", "mixed")


def crude_protein_floor_g_per_kg_dm(
    state: str, weight_kg: float | None = None
) -> tuple[float, float]:
    """Crude protein below which Australian extension would not go [g/kg DM], low and high.

    Parameters
    ----------
    state : str
        dry, mid-pregnancy, early-lactation or weaner.
    weight_kg : float or None
        Live weight, for weaners: under 20 kg, 20 to 25, above 25. [kg], 5 to 150.

    Returns
    -------
    tuple of float
        [g/kg DM]

    Raises
    ------
    OutOfRange
        A state not named above, or a weaner with no weight.

    Source
    ------
    N-S12. Mark: print.
    """
    one_of("state", state, (*CP_FLOORS, "weaner"))
    if state != "weaner":
        return CP_FLOORS[state]
    if weight_kg is None:
        raise OutOfRange(Problem("", "a weaner without a weight", "its floor goes by weight"))
    weight_is_believable(weight_kg)
    if weight_kg < CP_FLOORS_OF_WEANERS[0][0]:
        return CP_FLOORS_OF_WEANERS[0][1]
    return next(floor for up_to, floor in CP_FLOORS_OF_WEANERS if 20.0 < up_to >= weight_kg)


def feed_into_lamb_maintenance_me_mj_per_day(weight_kg: float, sex: str = "female") -> float:
    """Maintenance ME measured with housed British lambs of 5 to 18 months [MJ/day].

    This standard is 23 % below it at 40 kg and one year.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 15 to 80.
    sex : str
        female 0.507; any other takes 0.486, the figure of all lambs.

    Returns
    -------
    float
        0.486 or 0.507 W^0.75. [MJ/day]

    Raises
    ------
    OutOfRange
        Weight or sex outside what is covered.

    Source
    ------
    N-S16, FIL-2018. Mark: print.
    """
    within("live weight [kg]", float(weight_kg), 15.0, 80.0)
    one_of("sex", sex, SEXES)
    return FEED_INTO_LAMB.get(sex, FEED_INTO_LAMB_ALL) * math.pow(weight_kg, 0.75)
