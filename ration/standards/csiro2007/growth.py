"""What a kilogram of gain is made of: energy, protein and fat; SCA (1990), CSIRO (2007).

A sheep near its grown weight lays down fat, a small one lean. Z says how near (weight over
standard reference weight, at most 1), R how fast it grows. All contents are per kilogram of
*empty-body* gain, 0.92 of live-weight gain.
"""

from __future__ import annotations

import math

from ration.standards.afrc1993.ground import within
from ration.standards.csiro2007.energy_use import efficiency_gain
from ration.standards.csiro2007.ground import (
    EMPTY_BODY_SHARE,
    Real,
    gain_is_believable,
    srw_is_believable,
    weight_is_believable,
)

RATE = (-1.0, 25.0)


def _ripeness(relative_size: float) -> float:
    """The S-curve that all three contents follow: towards 0 small, towards 1 large."""
    return 1.0 / (1.0 + math.exp(-6.0 * (relative_size - 0.4)))


def _check(relative_size: float, rate: Real) -> None:
    within("relative size Z", float(relative_size), 0.0, 1.0)
    within("rate term R", rate, *RATE)


def relative_size(weight_kg: float, srw_kg: float) -> float:
    """Size relative to a grown sheep, Z.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.
    srw_kg : float
        Standard reference weight: fully grown, condition score 3, bare shorn, empty.
        [kg], 20 to 150.

    Returns
    -------
    float
        W/SRW, not above 1. [-]

    Raises
    ------
    OutOfRange
        Weight or reference weight outside what is covered.

    Source
    ------
    N-S8, N-S10 (what the reference weight is), restating CSIRO-2007. Mark: restated.
    """
    weight_is_believable(weight_kg)
    srw_is_believable(srw_kg)
    return min(weight_kg / srw_kg, 1.0)


def rate_term(gain_g_per_day: Real, srw_kg: float) -> Real:
    """Rate of gain relative to a usual one, R: -1 standing still, 0 at the usual rate.

    Empty-body gain goes in as g/day. One published set of functions puts in kg/day, which holds R
    at -1 and makes gain 8 to 12 % too cheap at 20 kg and 200 to 300 g/day.

    Parameters
    ----------
    gain_g_per_day : float or array
        Live-weight gain. [g/day], 0 to 1000.
    srw_kg : float
        Standard reference weight. [kg], 20 to 150.

    Returns
    -------
    float or array
        0.92 gain/(4 SRW^0.75) - 1. [-]

    Raises
    ------
    OutOfRange
        Loss of weight, or weight outside what is covered.

    Source
    ------
    N-S8, restating CSIRO-2007. Mark: restated.
    """
    gain_is_believable(gain_g_per_day)
    srw_is_believable(srw_kg)
    return EMPTY_BODY_SHARE * gain_g_per_day / (4.0 * math.pow(srw_kg, 0.75)) - 1.0


def energy_of_gain_mj_per_kg(relative_size: float, rate: Real) -> Real:
    """Energy in empty-body gain, EVG [MJ/kg].

    Parameters
    ----------
    relative_size : float
        Z of `relative_size`. [-], 0 to 1.
    rate : float or array
        R of `rate_term`. [-], -1 and up.

    Returns
    -------
    float or array
        6.7 + R + (20.3 - R)/(1 + exp(-6(Z - 0.4))). [MJ/kg empty-body gain]

    Raises
    ------
    OutOfRange
        Z outside 0 to 1, or R below -1.

    Source
    ------
    N-S7, N-S8, restating CSIRO-2007. Mark: restated.
    """
    _check(relative_size, rate)
    return 6.7 + rate + (20.3 - rate) * _ripeness(relative_size)


def protein_of_gain_g_per_kg(relative_size: float, rate: Real) -> Real:
    """Protein in empty-body gain [g/kg].

    Parameters
    ----------
    relative_size, rate
        As in `energy_of_gain_mj_per_kg`.

    Returns
    -------
    float or array
        212 - 4 R - (140 - 4 R)/(1 + exp(-6(Z - 0.4))). [g/kg empty-body gain]

    Raises
    ------
    OutOfRange
        Z outside 0 to 1, or R below -1.

    Source
    ------
    CSIRO-2007, from memory (consistent with the restated energy curve: 23.6 MJ/kg protein and
    39.3 MJ/kg fat give it back to 0.01 MJ). Mark: memory.
    """
    _check(relative_size, rate)
    return 212.0 - 4.0 * rate - (140.0 - 4.0 * rate) * _ripeness(relative_size)


def fat_of_gain_g_per_kg(relative_size: float, rate: Real) -> Real:
    """Fat in empty-body gain [g/kg].

    Parameters
    ----------
    relative_size, rate
        As in `energy_of_gain_mj_per_kg`.

    Returns
    -------
    float or array
        43 + 28 R + (601 - 28 R)/(1 + exp(-6(Z - 0.4))). [g/kg empty-body gain]

    Raises
    ------
    OutOfRange
        Z outside 0 to 1, or R below -1.

    Source
    ------
    CSIRO-2007, from memory (consistent with the restated energy curve: 23.6 MJ/kg protein and
    39.3 MJ/kg fat give it back to 0.01 MJ). Mark: memory.
    """
    _check(relative_size, rate)
    return 43.0 + 28.0 * rate + (601.0 - 28.0 * rate) * _ripeness(relative_size)


def protein_of_liveweight_gain_g_per_kg(
    weight_kg: float, gain_g_per_day: Real, srw_kg: float
) -> Real:
    """Net protein in live-weight gain by the curve [g/kg].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.
    gain_g_per_day : float or array
        Live-weight gain. [g/day], 0 to 1000.
    srw_kg : float
        Standard reference weight. [kg], 20 to 150.

    Returns
    -------
    float or array
        0.92 times `protein_of_gain_g_per_kg`. [g/kg live-weight gain]

    Raises
    ------
    OutOfRange
        Loss of weight, or weight outside what is covered.

    Source
    ------
    CSIRO-2007, from memory; 0.92 by N-S7, N-S8. Mark: memory.
    """
    rate = rate_term(gain_g_per_day, srw_kg)
    z = relative_size(weight_kg, srw_kg)
    return EMPTY_BODY_SHARE * protein_of_gain_g_per_kg(z, rate)


def flat_protein_of_gain_g_per_kg(nitrogen_g_per_kg: float = 26.0) -> float:
    """Net protein in live-weight gain at any size, a published alternative to the curve [g/kg].

    Parameters
    ----------
    nitrogen_g_per_kg : float
        Nitrogen in gain. [g N/kg], 10 to 40.

    Returns
    -------
    float
        6.25 N. [g/kg live-weight gain]; 162 at the published 26 g.

    Raises
    ------
    OutOfRange
        Nitrogen outside 10 to 40 g/kg.

    Source
    ------
    N-S7. Mark: restated.
    """
    within("nitrogen in gain [g/kg]", float(nitrogen_g_per_kg), 10.0, 40.0)
    return 6.25 * nitrogen_g_per_kg


def gain_me_mj_per_day(
    weight_kg: float, gain_g_per_day: Real, srw_kg: float, md_mj_per_kg_dm: Real
) -> Real:
    """ME that goes into gain itself [MJ/day], without the 10 % it adds to maintenance.

    Parameters
    ----------
    weight_kg : float
        Live weight, mean of the period. [kg], 5 to 150.
    gain_g_per_day : float or array
        Live-weight gain; an array must broadcast with M/D. [g/day], 0 to 1000.
    srw_kg : float
        Standard reference weight. [kg], 20 to 150.
    md_mj_per_kg_dm : float or array
        ME of the whole diet. [MJ/kg DM]

    Returns
    -------
    float or array
        0.92 gain EVG/kg. [MJ/day]

    Raises
    ------
    OutOfRange
        Loss of weight, or weight or M/D outside what is covered.

    Source
    ------
    N-S7, N-S8, restating CSIRO-2007. Mark: restated.
    """
    rate = rate_term(gain_g_per_day, srw_kg)
    energy = energy_of_gain_mj_per_kg(relative_size(weight_kg, srw_kg), rate)
    kept = EMPTY_BODY_SHARE * gain_g_per_day / 1000 * energy
    return kept / efficiency_gain(md_mj_per_kg_dm)
