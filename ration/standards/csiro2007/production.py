"""What wool, unborn lambs and milk take; SCA (1990), CSIRO (2007)."""

from __future__ import annotations

import math

from ration.errors import OutOfRange, Problem
from ration.standards.afrc1993.ground import within
from ration.standards.csiro2007.energy_use import efficiency_milk
from ration.standards.csiro2007.ground import Real

WOOL_IN_MAINTENANCE_G_PER_DAY = 6.0
CLEAN_SHARE_OF_GREASY = 0.7  # common practice, no source
WOOL_GREASY_G_PER_DAY = (0.0, 60.0)
LITTER_KG = (0.0, 25.0)
MILK_KG_PER_DAY = (0.0, 8.0)
TERM_DAYS = 147.0
PREGNANCY_EFFICIENCY = 0.133
MILK_MJ_PER_KG = 4.6


def wool_me_mj_per_day(wool_greasy_g_per_day: float) -> float:
    """ME for wool above the 6 g a day that maintenance holds [MJ/day].

    Parameters
    ----------
    wool_greasy_g_per_day : float
        Greasy wool grown. [g/day], 0 to 60.

    Returns
    -------
    float
        0.13 (wool - 6), not below 0. [MJ/day]

    Raises
    ------
    OutOfRange
        Wool outside 0 to 60 g/day.

    Source
    ------
    N-S7, restating CSIRO-2007. Mark: restated.
    """
    within("greasy wool [g/day]", float(wool_greasy_g_per_day), *WOOL_GREASY_G_PER_DAY)
    return 0.13 * max(wool_greasy_g_per_day - WOOL_IN_MAINTENANCE_G_PER_DAY, 0.0)


def clean_wool_g_per_day(
    wool_greasy_g_per_day: float, clean_share: float = CLEAN_SHARE_OF_GREASY
) -> float:
    """Clean wool in greasy wool [g/day]; clean wool is taken to be all protein.

    Parameters
    ----------
    wool_greasy_g_per_day : float
        Greasy wool grown. [g/day], 0 to 60.
    clean_share : float
        Clean over greasy. [-], 0.3 to 1; 0.7 is our judgement.

    Returns
    -------
    float
        [g/day]

    Raises
    ------
    OutOfRange
        Wool or share outside what is covered.

    Source
    ------
    No figure of CSIRO-2007 on file: common practice, no source. Mark: practice.
    """
    within("greasy wool [g/day]", float(wool_greasy_g_per_day), *WOOL_GREASY_G_PER_DAY)
    within("clean share of greasy wool", float(clean_share), 0.3, 1.0)
    return wool_greasy_g_per_day * clean_share


def conceptus_energy_mj(days_pregnant: float) -> float:
    """Energy in the womb of a ewe with one lamb of 4 kg at birth, Et [MJ].

    Parameters
    ----------
    days_pregnant : float
        Days since mating. [day], 0 to 147.

    Returns
    -------
    float
        10^(3.322 - 4.979 exp(-0.00643 t)). [MJ]

    Raises
    ------
    OutOfRange
        Day outside 0 to 147.

    Source
    ------
    N-S7, restating ARC-1980. Mark: restated.
    """
    within("day of pregnancy", float(days_pregnant), 0.0, TERM_DAYS)
    return math.pow(10.0, 3.322 - 4.979 * math.exp(-0.00643 * days_pregnant))


def pregnancy_me_mj_per_day(days_pregnant: float | None, litter_kg: float | None) -> float:
    """ME for unborn lambs [MJ/day].

    Goes by the factor 0.25 a kilogram of birth weight, which gives 1 for one lamb of 4 kg. One
    published version of the same equation says 0.025: tenfold too little.

    Parameters
    ----------
    days_pregnant : float or None
        Days since mating. [day], 0 to 147; None when not in lamb.
    litter_kg : float or None
        Birth weight of all the ewe's lambs together. [kg], 0 to 25; None when not in lamb.

    Returns
    -------
    float
        0.25 litter 0.07372 Et exp(-0.00643 t)/0.133. [MJ/day]

    Raises
    ------
    OutOfRange
        Day or litter outside what is covered, or one given without the other.

    Source
    ------
    N-S7 (the version in code), restating ARC-1980. Mark: restated.
    """
    if days_pregnant is None and litter_kg is None:
        return 0.0
    if days_pregnant is None or litter_kg is None:
        given, missing = ("litter", "day of pregnancy")
        if litter_kg is None:
            given, missing = missing, given
        raise OutOfRange(
            Problem("", f"a {given} without a {missing}", "a ewe in lamb needs both", "Give both")
        )
    within("litter [kg]", float(litter_kg), *LITTER_KG)
    rate = 0.07372 * conceptus_energy_mj(days_pregnant) * math.exp(-0.00643 * days_pregnant)
    return 0.25 * litter_kg * rate / PREGNANCY_EFFICIENCY


def milk_energy_mj_per_kg(fat_percent: float = 7.0) -> float:
    """Gross energy of ewe's milk [MJ/kg].

    Parameters
    ----------
    fat_percent : float
        Fat. [%], 2 to 15.

    Returns
    -------
    float
        0.328 fat + 0.0028 x 61 + 2.2033. [MJ/kg]

    Raises
    ------
    OutOfRange
        Fat outside 2 to 15 %.

    Source
    ------
    N-S7, restating CSIRO-2007; 7 % fat is common practice, no source. Mark: restated.
    """
    within("fat in milk [%]", float(fat_percent), 2.0, 15.0)
    return 0.328 * fat_percent + 0.0028 * 61.0 + 2.2033


def milk_me_mj_per_day(
    milk_kg_per_day: float, md_mj_per_kg_dm: Real, milk_mj_per_kg: float = MILK_MJ_PER_KG
) -> Real:
    """ME for milk [MJ/day], without the 10 % it adds to maintenance.

    Parameters
    ----------
    milk_kg_per_day : float
        Milk given. [kg/day], 0 to 8.
    md_mj_per_kg_dm : float or array
        ME of the whole diet. [MJ/kg DM]
    milk_mj_per_kg : float
        Gross energy of the milk. [MJ/kg], 2 to 10; 4.6 is what A-S4 credits to AFRC-1993.

    Returns
    -------
    float or array
        milk energy/kl. [MJ/day]

    Raises
    ------
    OutOfRange
        Anything outside what is covered.

    Source
    ------
    A-S4 (4.6 MJ/kg, restated); kl of CSIRO-2007 from memory. Mark: memory.
    """
    within("milk [kg/day]", float(milk_kg_per_day), *MILK_KG_PER_DAY)
    within("energy of milk [MJ/kg]", float(milk_mj_per_kg), 2.0, 10.0)
    return milk_kg_per_day * milk_mj_per_kg / efficiency_milk(md_mj_per_kg_dm)
