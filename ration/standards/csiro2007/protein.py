"""Digestible protein leaving the stomach (DPLS): need and supply; CSIRO (2007), from memory.

Nothing here was read in print, and least of all what the rumen does; use it beside AFRC (1993),
not in its place.
"""

from __future__ import annotations

import math

import numpy as np

from ration.standards.afrc1993.ground import within
from ration.standards.csiro2007.ground import (
    EMPTY_BODY_SHARE,
    GAIN_G_PER_DAY,
    Real,
    weight_is_believable,
)
from ration.standards.csiro2007.growth import (
    protein_of_gain_g_per_kg,
    protein_of_liveweight_gain_g_per_kg,
    relative_size,
)

EFFICIENCY = 0.70
EFFICIENCY_OF_WOOL = 0.60
FAECAL_G_PER_KG_DMI = 15.2
MICROBIAL_DIGESTIBLE_SHARE = 0.8 * 0.7
UNDEGRADED_DIGESTIBLE_SHARE = 0.9
CLEAN_WOOL_G_PER_DAY = 4.2  # 0.7 of the 6 g greasy that maintenance holds
LEVEL_ABOVE_MAINTENANCE = (-1.0, 4.0)


def endogenous_urinary_protein_g_per_day(weight_kg: float) -> float:
    """Protein lost in urine whatever is eaten [g/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.

    Returns
    -------
    float
        0.147 W + 3.375. [g/day]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 150 kg.

    Source
    ------
    CSIRO-2007, from memory; the same line serves NRC-1985. Mark: memory.
    """
    weight_is_believable(weight_kg)
    return 0.147 * weight_kg + 3.375


def protein_need_line(
    weight_kg: float,
    gain_g_per_day: float,
    *,
    srw_kg: float,
    clean_wool_g_per_day: float = CLEAN_WOOL_G_PER_DAY,
    conceptus_protein_g_per_day: float = 0.0,
    milk_protein_g_per_day: float = 0.0,
) -> tuple[float, float]:
    """DPLS needed, as a straight line in dry matter eaten.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.
    gain_g_per_day : float
        Live-weight gain. [g/day], 0 to 1000.
    srw_kg : float
        Standard reference weight. [kg], 20 to 150.
    clean_wool_g_per_day : float
        Clean wool grown, all of it protein. [g/day], 0 to 60; 4.2 is 6 g greasy at 0.7.
    conceptus_protein_g_per_day, milk_protein_g_per_day : float
        Net protein of unborn lambs and of milk. [g/day], 0 to 600. CSIRO's own figures are not on
        file; another standard's may stand in.

    Returns
    -------
    tuple of float
        Constant [g/day] and slope [g/kg DM eaten]:
        (0.147 W + 3.375 + gain + conceptus + milk)/0.70 + wool/0.6, and 15.2/0.70.

    Raises
    ------
    OutOfRange
        Anything outside what is covered.

    Source
    ------
    CSIRO-2007, from memory. Mark: memory.
    """
    within("clean wool [g/day]", float(clean_wool_g_per_day), 0.0, 60.0)
    within("protein of unborn lambs [g/day]", float(conceptus_protein_g_per_day), 0.0, 600.0)
    within("protein of milk [g/day]", float(milk_protein_g_per_day), 0.0, 600.0)
    per_kg = protein_of_liveweight_gain_g_per_kg(weight_kg, gain_g_per_day, srw_kg)
    net = endogenous_urinary_protein_g_per_day(weight_kg) + gain_g_per_day / 1000 * per_kg
    net += conceptus_protein_g_per_day + milk_protein_g_per_day
    constant = net / EFFICIENCY + clean_wool_g_per_day / EFFICIENCY_OF_WOOL
    return constant, FAECAL_G_PER_KG_DMI / EFFICIENCY


def gain_from_dpls_g_per_day(
    weight_kg: float,
    dpls_g_per_day: float,
    dmi_kg_per_day: float,
    *,
    srw_kg: float,
    clean_wool_g_per_day: float = CLEAN_WOOL_G_PER_DAY,
    conceptus_protein_g_per_day: float = 0.0,
    milk_protein_g_per_day: float = 0.0,
) -> float:
    """Gain that a supply of DPLS allows [g/day]: `protein_need_line` turned round.

    Faster gain holds less protein a kilogram, so the gain is the root of a square. A supply that
    does not cover standing still gives a loss, at the protein of gain at no rate: a direction,
    not a figure.

    Parameters
    ----------
    weight_kg, srw_kg, clean_wool_g_per_day, conceptus_protein_g_per_day, milk_protein_g_per_day
        As in `protein_need_line`.
    dpls_g_per_day : float
        DPLS supplied. [g/day], 0 to 2000.
    dmi_kg_per_day : float
        Dry matter eaten. [kg DM/day], 0 to 10.

    Returns
    -------
    float
        [g/day], at most 1000.

    Raises
    ------
    OutOfRange
        Anything outside what is covered.

    Source
    ------
    CSIRO-2007, from memory (the inverse is algebra). Mark: memory.
    """
    within("DPLS [g/day]", float(dpls_g_per_day), 0.0, 2000.0)
    within("dry matter eaten [kg/day]", float(dmi_kg_per_day), 0.0, 10.0)
    constant, slope = protein_need_line(
        weight_kg,
        0.0,
        srw_kg=srw_kg,
        clean_wool_g_per_day=clean_wool_g_per_day,
        conceptus_protein_g_per_day=conceptus_protein_g_per_day,
        milk_protein_g_per_day=milk_protein_g_per_day,
    )
    y = EFFICIENCY * (dpls_g_per_day - constant - slope * dmi_kg_per_day) / EMPTY_BODY_SHARE
    z = relative_size(weight_kg, srw_kg)
    at_no_rate = protein_of_gain_g_per_kg(z, -1.0)
    if y <= 0:
        return 1000 * y / at_no_rate
    # gain (at_no_rate - bend gain) = y, gain in kg; the lesser root
    per_kg = EMPTY_BODY_SHARE * 1000 / (4.0 * math.pow(srw_kg, 0.75))
    bend = per_kg * (at_no_rate - protein_of_gain_g_per_kg(z, 0.0))
    square = at_no_rate**2 - 4 * bend * y
    most = GAIN_G_PER_DAY[1]
    if square < 0:
        return most
    return min(1000 * 2 * y / (at_no_rate + math.sqrt(square)), most)


def microbial_protein_g_per_mj(feeding_level_above_maintenance: Real) -> Real:
    """Microbial crude protein per MJ of ME eaten [g/MJ].

    Parameters
    ----------
    feeding_level_above_maintenance : float or array
        ME eaten over maintenance ME, less 1. [-], -1 to 4. AFRC-1993 puts the whole level into
        the same curve, which gives 8.8 at maintenance, not 7.

    Returns
    -------
    float or array
        7 + 6 (1 - exp(-0.35 L)). [g/MJ]

    Raises
    ------
    OutOfRange
        Level outside -1 to 4.

    Source
    ------
    CSIRO-2007, from memory, low confidence. Mark: memory.
    """
    level = feeding_level_above_maintenance
    within("feeding level above maintenance", level, *LEVEL_ABOVE_MAINTENANCE)
    y = 7.0 + 6.0 * (1.0 - np.exp(-0.35 * level))
    return y if isinstance(level, np.ndarray) else float(y)


def rumen_degraded_g_per_kg_dm(
    cp_g_per_kg_dm: Real, a_share: Real, b_share: Real, c_per_h: Real, outflow_per_h: Real
) -> Real:
    """Protein degraded in the rumen [g/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm : float or array
        Crude protein. [g/kg DM]
    a_share, b_share : float or array
        Lost at once, and degradable in time. [-], 0 to 1.
    c_per_h : float or array
        Rate of the latter. [/h], above 0.
    outflow_per_h : float or array
        Rumen outflow. [/h], 0 and up.

    Returns
    -------
    float or array
        CP (a + b c/(c + r)). [g/kg DM]

    Raises
    ------
    OutOfRange
        A value outside what is believable.

    Source
    ------
    CSIRO-2007, from memory; the curve itself is restated by A-S7. Mark: memory.
    """
    within("crude protein [g/kg DM]", cp_g_per_kg_dm, 0.0, 3500.0)
    within("share a", a_share, 0.0, 1.0)
    within("share b", b_share, 0.0, 1.0)
    within("rate c [/h]", c_per_h, 1e-6, 5.0)
    within("rumen outflow [/h]", outflow_per_h, 0.0, 1.0)
    return cp_g_per_kg_dm * (a_share + b_share * c_per_h / (c_per_h + outflow_per_h))


def undegraded_digestible_g_per_kg_dm(
    cp_g_per_kg_dm: Real, degraded_g_per_kg_dm: Real, adin_g_n_per_kg_dm: Real
) -> Real:
    """Undegraded protein that is digested [g/kg DM].

    A stand-in: it is the rule of AFRC (1993); CSIRO's own is not on file.

    Parameters
    ----------
    cp_g_per_kg_dm, degraded_g_per_kg_dm : float or array
        Crude protein, and the part degraded in the rumen. [g/kg DM]
    adin_g_n_per_kg_dm : float or array
        Nitrogen insoluble in acid detergent. [g N/kg DM]

    Returns
    -------
    float or array
        0.9 (CP - degraded - 6.25 ADIN), not below 0. [g/kg DM]

    Raises
    ------
    OutOfRange
        A negative value.

    Source
    ------
    A-S7, restating AFRC-1993 for cattle. Mark: restated.
    """
    within("crude protein [g/kg DM]", cp_g_per_kg_dm, 0.0, 3500.0)
    within("degraded protein [g/kg DM]", degraded_g_per_kg_dm, 0.0, 3500.0)
    within("ADIN [g N/kg DM]", adin_g_n_per_kg_dm, 0.0, 100.0)
    left = cp_g_per_kg_dm - degraded_g_per_kg_dm - 6.25 * adin_g_n_per_kg_dm
    digested = np.maximum(UNDEGRADED_DIGESTIBLE_SHARE * left, 0.0)
    return digested if isinstance(digested, np.ndarray) else float(digested)  # type: ignore[return-value]


def dpls_supply_g_per_day(
    degraded_g_per_day: float,
    me_mj_per_day: float,
    undegraded_digestible_g_per_day: float,
    feeding_level_above_maintenance: float,
) -> float:
    """DPLS that a whole diet supplies [g/day].

    Parameters
    ----------
    degraded_g_per_day, undegraded_digestible_g_per_day : float
        Protein degraded in the rumen, and undegraded protein digested. [g/day], 0 and up.
    me_mj_per_day : float
        ME eaten. [MJ/day], 0 to 200.
    feeding_level_above_maintenance : float
        ME eaten over maintenance ME, less 1. [-], -1 to 4.

    Returns
    -------
    float
        0.56 min(degraded, microbial protein x ME) + undegraded. [g/day]

    Raises
    ------
    OutOfRange
        Anything outside what is covered.

    Source
    ------
    CSIRO-2007, from memory (0.8 true protein, 0.7 digested; up to 0.60 is remembered too).
    Mark: memory.
    """
    within("degraded protein [g/day]", float(degraded_g_per_day), 0.0, 10000.0)
    within("undegraded protein [g/day]", float(undegraded_digestible_g_per_day), 0.0, 10000.0)
    within("ME eaten [MJ/day]", float(me_mj_per_day), 0.0, 200.0)
    by_energy = me_mj_per_day * microbial_protein_g_per_mj(feeding_level_above_maintenance)
    microbial = MICROBIAL_DIGESTIBLE_SHARE * min(degraded_g_per_day, by_energy)
    return microbial + undegraded_digestible_g_per_day
