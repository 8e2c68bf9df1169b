"""What pregnancy, milk and a grown ewe's change of weight take, one part each; AFRC (1993).

The whole ewe is put together from these in `ewes`. No part carries a safety margin.
"""

from __future__ import annotations

import math

import numpy as np

from ration.errors import OutOfRange, Problem
from ration.standards.afrc1993.energy import efficiency_growth, efficiency_maintenance
from ration.standards.afrc1993.ground import QUALITY, Real, within

TERM_DAYS = 147
DAYS_PREGNANT = (0.0, float(TERM_DAYS))
LITTER_KG = (1.0, 25.0)
MILK_KG_PER_DAY = (0.0, 5.0)
EWE_GAIN_G_PER_DAY = (-500.0, 500.0)
STANDARD_LAMB_KG = 4.0
# log10 content = a - b exp(-c t); gain of it = content d exp(-c t), d = ln(10) b c
GRAVID_ENERGY = (3.322, 4.979, 0.00643, 0.07372)
GRAVID_PROTEIN = (4.928, 4.873, 0.00601, 0.06744)
EFFICIENCY_CONCEPTUS = 0.133
EFFICIENCY_PREGNANCY_PROTEIN = 0.85
MILK_MJ_PER_KG = 4.6
MILK_MP_G_PER_KG = 71.9
EWE_WOOL_MP_G_PER_DAY = 20.4
EWE_WEIGHT_MJ_PER_KG = 23.85
BODY_TO_MILK = 0.84
GAIN_IN_MILK = 0.95
GAIN_MP_G_PER_KG = 140.0
LOSS_MP_G_PER_KG = 119.0
LEVEL_SLOPE = 0.018


def pregnancy_is_believable(days_pregnant: float, litter_kg: float) -> None:
    """Refuse a day or a litter weight outside what the curves cover."""
    within("day of pregnancy", days_pregnant, *DAYS_PREGNANT)
    within("litter weight [kg]", litter_kg, *LITTER_KG)


def _content(days_pregnant: float, curve: tuple[float, float, float, float]) -> float:
    a, b, c, _ = curve
    return math.pow(10.0, a - b * math.exp(-c * days_pregnant))


def _daily(
    days_pregnant: float, litter_kg: float, curve: tuple[float, float, float, float]
) -> float:
    pregnancy_is_believable(days_pregnant, litter_kg)
    _, _, c, d = curve
    share = litter_kg / STANDARD_LAMB_KG
    return share * _content(days_pregnant, curve) * d * math.exp(-c * days_pregnant)


def energy_in_gravid_uterus_mj(days_pregnant: float) -> float:
    """Energy in the womb and all it holds, for one lamb of 4 kg at birth, Et [MJ].

    Parameters
    ----------
    days_pregnant : float
        Days since conception. [day], 0 to 147.

    Returns
    -------
    float
        log10 Et = 3.322 - 4.979 exp(-0.00643 t). [MJ]

    Raises
    ------
    OutOfRange
        Day outside 0 to 147.

    Source
    ------
    N-S7, restating the same pair for New Zealand; remembered of ARC-1980 and AFRC-1993.
    Mark: restated.
    """
    within("day of pregnancy", days_pregnant, *DAYS_PREGNANT)
    return _content(days_pregnant, GRAVID_ENERGY)


def pregnancy_energy_mj_per_day(days_pregnant: float, litter_kg: float) -> float:
    """Energy laid down in the womb, Ec [MJ/day].

    Parameters
    ----------
    days_pregnant : float
        Days since conception. [day], 0 to 147.
    litter_kg : float
        Birth weight of all her lambs together. [kg], 1 to 25.

    Returns
    -------
    float
        (litter / 4) Et 0.07372 exp(-0.00643 t). [MJ/day]

    Raises
    ------
    OutOfRange
        Day outside 0 to 147, litter outside 1 to 25 kg.

    Source
    ------
    N-S7, restating the same pair for New Zealand; remembered of AFRC-1993. Mark: restated.
    """
    return _daily(days_pregnant, litter_kg, GRAVID_ENERGY)


def pregnancy_me_mj_per_day(days_pregnant: float, litter_kg: float) -> float:
    """ME for pregnancy, on top of all else [MJ/day], without margin.

    Parameters
    ----------
    days_pregnant, litter_kg
        As in `pregnancy_energy_mj_per_day`.

    Returns
    -------
    float
        Ec / 0.133. [MJ/day]

    Raises
    ------
    OutOfRange
        Day outside 0 to 147, litter outside 1 to 25 kg.

    Source
    ------
    0.133 from A-S7 (cattle) and A-S24 (goats), restating AFRC-1993; Ec as in N-S7. Mark: restated.
    """
    return pregnancy_energy_mj_per_day(days_pregnant, litter_kg) / EFFICIENCY_CONCEPTUS


def pregnancy_net_protein_g_per_day(days_pregnant: float, litter_kg: float) -> float:
    """Net protein laid down in the womb, NPc [g/day].

    Parameters
    ----------
    days_pregnant, litter_kg
        As in `pregnancy_energy_mj_per_day`.

    Returns
    -------
    float
        (litter / 4) TPt 0.06744 exp(-0.00601 t), log10 TPt = 4.928 - 4.873 exp(-0.00601 t).
        [g/day]

    Raises
    ------
    OutOfRange
        Day outside 0 to 147, litter outside 1 to 25 kg.

    Source
    ------
    AFRC-1993, from memory; the second constant is the derivative of the first. Mark: memory.
    """
    return _daily(days_pregnant, litter_kg, GRAVID_PROTEIN)


def pregnancy_mp_g_per_day(days_pregnant: float, litter_kg: float) -> float:
    """Metabolisable protein for pregnancy, on top of all else [g/day], without margin.

    Parameters
    ----------
    days_pregnant, litter_kg
        As in `pregnancy_energy_mj_per_day`.

    Returns
    -------
    float
        NPc / 0.85. [g/day]

    Raises
    ------
    OutOfRange
        Day outside 0 to 147, litter outside 1 to 25 kg.

    Source
    ------
    AFRC-1993, from memory. Mark: memory.
    """
    net = pregnancy_net_protein_g_per_day(days_pregnant, litter_kg)
    return net / EFFICIENCY_PREGNANCY_PROTEIN


def efficiency_milk(q: Real) -> Real:
    """Efficiency of ME for milk, kl [MJ/MJ].

    Parameters
    ----------
    q : float or array
        Metabolisability of the diet. [-], 0.15 to 0.85; trusted 0.4 to 0.7.

    Returns
    -------
    float or array
        kl = 0.35 q + 0.420. [-]

    Raises
    ------
    OutOfRange
        q outside 0.15 to 0.85.

    Source
    ------
    A-S7 (cattle), A-S30, restating AFRC-1993. Mark: restated.
    """
    within("diet quality q", q, *QUALITY)
    return 0.35 * q + 0.420


def milk_energy_mj_per_kg(
    fat_g_per_kg: float | None = None, day_of_milk: float | None = None
) -> float:
    """Energy of ewe's milk, EVl [MJ/kg].

    Parameters
    ----------
    fat_g_per_kg : float or None
        Fat. [g/kg], 20 to 150; None with None for the day gives the usual 4.6 MJ/kg.
    day_of_milk : float or None
        Days since lambing. [day], 0 to 200.

    Returns
    -------
    float
        4.6, or 0.0328 fat + 0.0025 day + 2.203. [MJ/kg]

    Raises
    ------
    OutOfRange
        Fat or day outside the ranges above, or only one of the two given.

    Source
    ------
    4.6 from A-S4, restating AFRC-1993; the equation is AFRC-1993 from memory (4.60 at 70 g/kg on
    day 40). Mark: restated; the equation memory.
    """
    if fat_g_per_kg is None and day_of_milk is None:
        return MILK_MJ_PER_KG
    if fat_g_per_kg is None or day_of_milk is None:
        raise OutOfRange(
            Problem("", "milk fat or day of milk alone", "the equation takes both, or neither")
        )
    within("milk fat [g/kg]", fat_g_per_kg, 20.0, 150.0)
    within("day of milk", day_of_milk, 0.0, 200.0)
    return 0.0328 * fat_g_per_kg + 0.0025 * day_of_milk + 2.203


def milk_me_mj_per_day(
    milk_kg_per_day: float, q: Real, energy_mj_per_kg: float = MILK_MJ_PER_KG
) -> Real:
    """ME for milk [MJ/day], without margin and without the correction for feeding level.

    Parameters
    ----------
    milk_kg_per_day : float
        Milk suckled. [kg/day], 0 to 5.
    q : float or array
        Metabolisability of the diet. [-], 0.15 to 0.85.
    energy_mj_per_kg : float
        Energy of the milk. [MJ/kg], 2 to 9.

    Returns
    -------
    float or array
        milk x energy / kl. [MJ/day]

    Raises
    ------
    OutOfRange
        Milk, its energy or q outside the ranges above.

    Source
    ------
    A-S4, A-S7, restating AFRC-1993. Mark: restated.
    """
    within("milk [kg/day]", milk_kg_per_day, *MILK_KG_PER_DAY)
    within("energy of milk [MJ/kg]", energy_mj_per_kg, 2.0, 9.0)
    return milk_kg_per_day * energy_mj_per_kg / efficiency_milk(q)


def milk_mp_g_per_day(milk_kg_per_day: float) -> float:
    """Metabolisable protein for milk [g/day], without margin.

    Parameters
    ----------
    milk_kg_per_day : float
        Milk suckled. [kg/day], 0 to 5.

    Returns
    -------
    float
        71.9 milk: 48.9 g of true protein in a kilogram, at efficiency 0.68. [g/day]

    Raises
    ------
    OutOfRange
        Milk outside 0 to 5 kg/day.

    Source
    ------
    AFRC-1993, from memory. Mark: memory.
    """
    within("milk [kg/day]", milk_kg_per_day, *MILK_KG_PER_DAY)
    return MILK_MP_G_PER_KG * milk_kg_per_day


def level_correction(feeding_level: Real) -> Real:
    """Factor on the whole energy need of a ewe in milk, CL [-].

    Made for levels up to about four; above eight it grows so fast that a heavier ewe with the same
    milk would seem to need less.

    Parameters
    ----------
    feeding_level : float or array
        Her ME need, before this factor, over her maintenance ME. [-], 0 to 50.

    Returns
    -------
    float or array
        1 + 0.018 (L - 1). [-]

    Raises
    ------
    OutOfRange
        Feeding level outside 0 to 50.

    Source
    ------
    A-S7, restating AFRC-1993 for cattle (one of its files has a minus sign; the need rises with
    the level, so plus is right); that it is for animals in milk only is memory. Mark: restated.
    """
    within("feeding level", feeding_level, 0.0, 50.0)
    return 1 + LEVEL_SLOPE * (feeding_level - 1)


def weight_change_me_mj_per_day(
    gain_g_per_day: float | Real, q: Real, milk_kg_per_day: float = 0.0
) -> Real:
    """ME that a grown ewe's gain of condition takes; below 0, what a loss spares [MJ/day].

    A kilogram holds 23.85 MJ. Gain: at kf when dry, at 0.95 kl in milk. Loss in milk: 0.84 of it
    becomes milk, sparing 20.0 MJ of milk energy per kg, until it has made all the milk. The rest
    of a loss, and any loss when dry, spares maintenance at km. Without margin, and without the
    correction for feeding level. UK farm bulletins budget about twice this for a gain (A-S10).

    Parameters
    ----------
    gain_g_per_day : float or array
        Gain, below 0 loss; an array must broadcast with q. [g/day], -500 to 500.
    q : float or array
        Metabolisability of the diet. [-], 0.15 to 0.85.
    milk_kg_per_day : float
        Milk suckled; 0 when dry. [kg/day], 0 to 5.

    Returns
    -------
    float or array
        [MJ/day]

    Raises
    ------
    OutOfRange
        Gain, q or milk outside the ranges above.

    Source
    ------
    0.84 and 0.95 kl from A-S7, restating AFRC-1993 for cattle; 23.85 MJ/kg is AFRC-1993 from
    memory. Gain of a dry ewe at kf, and loss at km, are ours by the rule remembered of ARC-1980.
    Mark: memory.
    """
    within("gain [g/day]", np.asarray(gain_g_per_day, float), *EWE_GAIN_G_PER_DAY)
    within("milk [kg/day]", milk_kg_per_day, *MILK_KG_PER_DAY)
    kl = efficiency_milk(q)
    energy = gain_g_per_day / 1000 * EWE_WEIGHT_MJ_PER_KG
    gained, lost = np.maximum(energy, 0.0), np.maximum(-energy, 0.0)
    to_milk = np.minimum(lost, milk_kg_per_day * MILK_MJ_PER_KG / BODY_TO_MILK)
    up = gained / (GAIN_IN_MILK * kl if milk_kg_per_day else efficiency_growth(q))
    down = BODY_TO_MILK * to_milk / kl + (lost - to_milk) / efficiency_maintenance(q)
    change = up - down
    return change if isinstance(change, np.ndarray) else float(change)  # type: ignore[return-value]


def weight_change_mp_g_per_day(gain_g_per_day: float) -> float:
    """Metabolisable protein that a grown ewe's gain takes; below 0, what a loss gives [g/day].

    Parameters
    ----------
    gain_g_per_day : float
        Gain, below 0 loss. [g/day], -500 to 500.

    Returns
    -------
    float
        140 g per kg gained, 119 g per kg lost. [g/day]

    Raises
    ------
    OutOfRange
        Gain outside -500 to 500 g/day.

    Source
    ------
    AFRC-1993, from memory, low confidence (138 g/kg of cows is restated by A-S7). Mark: memory.
    """
    within("gain [g/day]", gain_g_per_day, *EWE_GAIN_G_PER_DAY)
    per_kg = GAIN_MP_G_PER_KG if gain_g_per_day > 0 else LOSS_MP_G_PER_KG
    return per_kg * gain_g_per_day / 1000


def ewe_wool_mp_g_per_day() -> float:
    """Metabolisable protein for a grown ewe's fleece [g/day].

    Returns
    -------
    float
        20.4: 5.3 g of net protein at efficiency 0.26. [g/day]

    Source
    ------
    AFRC-1993, from memory. Mark: memory.
    """
    return EWE_WOOL_MP_G_PER_DAY
