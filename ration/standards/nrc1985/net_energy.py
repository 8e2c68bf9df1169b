"""Net energy equations about NRC (1985): for information, and for the protein of gain.

They do not rebuild Table 1 of the book, so no need for energy is worked out from them.
"""

from __future__ import annotations

import math

from ration.standards.nrc1985.rows import number

SIZES = {"small": 0.317, "medium": 0.276, "large": 0.234}
# Grown ram about 95, 115, 135 kg; a grown ewe about 0.70 of him. Half way between, as ewes:
SIZE_STEPS_KG = (0.70 * 105.0, 0.70 * 125.0)


def gain_energy_coefficient(mature_weight_kg: float | None = None) -> float:
    """Coefficient c of the energy of gain by the breed's grown size [Mcal/kg gain per kg^0.75].

    Parameters
    ----------
    mature_weight_kg : float or None
        Weight of a grown ewe of the breed. [kg], 25 to 130; None takes a medium breed.

    Returns
    -------
    float
        0.317 small (grown rams about 95 kg), 0.276 medium (115), 0.234 large (135). The steps lie
        half way: grown ewes of 73.5 and 87.5 kg. [Mcal/kg per kg^0.75]

    Raises
    ------
    OutOfRange
        Mature weight outside 25 to 130 kg.

    Source
    ------
    NRC-1985, from memory; a ewe at 0.70 of her ram is judgement. Mark: memory.
    """
    if mature_weight_kg is None:
        return SIZES["medium"]
    grown = number("mature weight", mature_weight_kg, 25.0, 130.0, " kg")
    return SIZES[("small", "medium", "large")[sum(grown >= step for step in SIZE_STEPS_KG)]]


def ne_maintenance_mcal_per_day(weight_kg: float) -> float:
    """Net energy for maintenance [Mcal/day]. Information: it does not rebuild Table 1.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.

    Returns
    -------
    float
        0.056 W^0.75. [Mcal/day]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 150 kg.

    Source
    ------
    NRC-1985, from memory. Mark: memory.
    """
    return 0.056 * math.pow(number("live weight", weight_kg, 5.0, 150.0, " kg"), 0.75)


def ne_gain_mcal_per_day(
    weight_kg: float, gain_g_per_day: float, mature_weight_kg: float | None = None
) -> float:
    """Net energy in the gain of a lamb [Mcal/day]. Information: it does not rebuild Table 1.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.
    gain_g_per_day : float
        Live-weight gain. [g/day], 0 to 600.
    mature_weight_kg : float or None
        As in `gain_energy_coefficient`.

    Returns
    -------
    float
        c gain W^0.75, gain in kg. [Mcal/day]

    Raises
    ------
    OutOfRange
        Weight, gain or mature weight outside the ranges above.

    Source
    ------
    NRC-1985, from memory. Mark: memory.
    """
    gain_kg = number("gain", gain_g_per_day, 0.0, 600.0, " g/day") / 1000
    weight = number("live weight", weight_kg, 5.0, 150.0, " kg")
    return gain_energy_coefficient(mature_weight_kg) * gain_kg * math.pow(weight, 0.75)


def net_energy_of_feed_mcal_per_kg_dm(me_mcal_per_kg_dm: float) -> tuple[float, float]:
    """Net energy of a feed for maintenance and for gain [Mcal/kg DM].

    Warning: for information only. Needs and feeds so reckoned do not meet at the intake that
    Table 1 prints (0.98 to 1.25 times it for grown sheep); never feed by this chain.

    Parameters
    ----------
    me_mcal_per_kg_dm : float
        Metabolisable energy of the feed. [Mcal/kg DM], 1.2 to 3.8.

    Returns
    -------
    tuple of float
        NEm = 1.37 ME - 0.138 ME^2 + 0.0105 ME^3 - 1.12 and
        NEg = 1.42 ME - 0.174 ME^2 + 0.0122 ME^3 - 1.65 (below 0 for poor feeds). [Mcal/kg DM]

    Raises
    ------
    OutOfRange
        ME outside 1.2 to 3.8 Mcal/kg DM.

    Source
    ------
    NRC-1985, from memory. Mark: memory.
    """
    me = number("ME of the feed", me_mcal_per_kg_dm, 1.2, 3.8, " Mcal/kg DM")
    for_maintenance = 1.37 * me - 0.138 * me**2 + 0.0105 * me**3 - 1.12
    return for_maintenance, 1.42 * me - 0.174 * me**2 + 0.0122 * me**3 - 1.65


def energy_of_empty_body_gain_mcal_per_kg(
    empty_body_weight_kg: float, mature_weight_kg: float
) -> float:
    """Energy in a kilogram of empty-body gain of lambs [Mcal/kg].

    Parameters
    ----------
    empty_body_weight_kg : float
        Weight without the gut's content, EBW. [kg], 20 to 50.
    mature_weight_kg : float
        Grown weight of rams of the breed, MW. [kg], 80 to 150.

    Returns
    -------
    float
        5.718 + 0.093 EBW - 0.036 MW. [Mcal/kg]

    Raises
    ------
    OutOfRange
        Outside the ranges above; 20 to 50 kg is the paper's.

    Source
    ------
    N-S2, the equation as its abstract prints it; a journal paper, not NRC-1985 itself.
    Mark: print.
    """
    empty = number("empty body weight", empty_body_weight_kg, 20.0, 50.0, " kg")
    grown = number("mature weight of rams", mature_weight_kg, 80.0, 150.0, " kg")
    return 5.718 + 0.093 * empty - 0.036 * grown
