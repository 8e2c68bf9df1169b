"""Metabolisable protein of growing sheep: need and supply; AFRC (1993)."""

from __future__ import annotations

import math

import numpy as np

from ration.errors import OutOfRange, Problem
from ration.standards.afrc1993.ground import LEVEL, Real, weight_is_believable, within

GAIN_PROTEIN = {
    "female": (156.1, -1.94, 0.0173),
    "castrate": (160.4, -1.22, 0.0105),
    "entire": (160.4, -1.22, 0.0105),
}


def net_protein_of_gain_g_per_kg(weight_kg: float, sex: str = "female") -> float:
    """Net protein in live-weight gain, without the fleece [g/kg].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100; the curve turns upward above 56 kg.
    sex : str
        female, castrate or entire (the last two share one line).

    Returns
    -------
    float
        156.1 - 1.94 W + 0.0173 W^2 (females); 160.4 - 1.22 W + 0.0105 W^2 (males). [g/kg]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 100 kg.

    Source
    ------
    AFRC-1993, from memory; reproduces A-S9 with the margin and the fleece. Mark: memory.
    """
    weight_is_believable(weight_kg)
    constant, slope, curve = GAIN_PROTEIN[sex]
    return constant + slope * weight_kg + curve * weight_kg**2


def mp_need_g_per_day(weight_kg: float, gain_g_per_day: float, sex: str = "female") -> float:
    """Metabolisable protein for maintenance, gain and fleece [g/day], without margin.

    2.1875 W^0.75 + NPf/0.59 + (3 + 0.1 NPf)/0.26, NPf net protein of the gain.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.
    gain_g_per_day : float
        Live-weight gain. [g/day], 0 and up.
    sex : str
        female, castrate or entire.

    Returns
    -------
    float
        [g/day]

    Raises
    ------
    OutOfRange
        Loss of weight, or weight outside 5 to 100 kg.

    Source
    ------
    AFRC-1993, from memory (0.59 restated for cattle by A-S7); reproduces the one published row of
    A-S9 with the 5 % margin. Mark: memory.
    """
    if gain_g_per_day < 0:
        raise OutOfRange(Problem("", f"gain {gain_g_per_day:g} g/day", "0 and up is covered"))
    retained = gain_g_per_day / 1000 * net_protein_of_gain_g_per_kg(weight_kg, sex)
    return 2.1875 * math.pow(weight_kg, 0.75) + retained / 0.59 + (3 + 0.1 * retained) / 0.26


def gain_from_mp_g_per_day(weight_kg: float, mp_g_per_day: float, sex: str = "female") -> float:
    """Gain that a supply of metabolisable protein allows [g/day]: the need turned round.

    Negative when the supply does not cover maintenance and the fleece.

    Parameters
    ----------
    weight_kg, sex
        As in `mp_need_g_per_day`.
    mp_g_per_day : float
        MP supplied. [g/day], 0 and up.

    Returns
    -------
    float
        [g/day]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 100 kg.

    Source
    ------
    AFRC-1993, from memory (the inverse is algebra). Mark: memory.
    """
    spare = mp_g_per_day - 2.1875 * math.pow(weight_kg, 0.75) - 3 / 0.26
    return 1000 * spare / ((1 / 0.59 + 0.1 / 0.26) * net_protein_of_gain_g_per_kg(weight_kg, sex))


def outflow_per_h(feeding_level: Real) -> Real:
    """Rumen outflow rate r [/h].

    Parameters
    ----------
    feeding_level : float or array
        ME eaten over maintenance ME. [-], 0 to 5.

    Returns
    -------
    float or array
        -0.024 + 0.179 (1 - exp(-0.278 L)), not below 0. [/h]

    Raises
    ------
    OutOfRange
        Feeding level outside 0 to 5.

    Source
    ------
    A-S7, restating AFRC-1993 for cattle. Mark: restated.
    """
    within("feeding level", feeding_level, *LEVEL)
    rate = np.maximum(-0.024 + 0.179 * (1 - np.exp(-0.278 * feeding_level)), 0.0)
    return rate if isinstance(feeding_level, np.ndarray) else float(rate)


def microbial_yield_g_per_mj(feeding_level: Real) -> Real:
    """Microbial crude protein per MJ of fermentable ME, y [g/MJ].

    Parameters
    ----------
    feeding_level : float or array
        ME eaten over maintenance ME. [-], 0 to 5.

    Returns
    -------
    float or array
        7 + 6 (1 - exp(-0.35 L)). [g/MJ]

    Raises
    ------
    OutOfRange
        Feeding level outside 0 to 5.

    Source
    ------
    A-S7, restating AFRC-1993 for cattle. Mark: restated.
    """
    within("feeding level", feeding_level, *LEVEL)
    y = 7.0 + 6.0 * (1 - np.exp(-0.35 * feeding_level))
    return y if isinstance(feeding_level, np.ndarray) else float(y)


def quickly_degraded_g_per_kg_dm(cp_g_per_kg_dm: Real, a_share: Real) -> Real:
    """Quickly degradable protein QDP = a CP [g/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm : float or array
        Crude protein. [g/kg DM]
    a_share : float or array
        Fraction of nitrogen lost at once. [-], 0 to 1.

    Returns
    -------
    float or array
        [g/kg DM]

    Source
    ------
    A-S7, restating AFRC-1993 for cattle. Mark: restated.
    """
    return a_share * cp_g_per_kg_dm


def slowly_degraded_g_per_kg_dm(
    cp_g_per_kg_dm: Real, b_share: Real, c_per_h: Real, outflow_per_h: float
) -> Real:
    """Slowly degradable protein SDP = b c/(c + r) CP [g/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm : float or array
        Crude protein. [g/kg DM]
    b_share : float or array
        Potentially degradable fraction. [-], 0 to 1.
    c_per_h : float or array
        Its rate of degradation. [/h]
    outflow_per_h : float
        Rumen outflow rate. [/h]

    Returns
    -------
    float or array
        [g/kg DM]

    Source
    ------
    A-S7, restating AFRC-1993 for cattle. Mark: restated.
    """
    return b_share * c_per_h / (c_per_h + outflow_per_h) * cp_g_per_kg_dm


def erdp_g_per_kg_dm(
    cp_g_per_kg_dm: Real, a_share: Real, b_share: Real, c_per_h: Real, outflow_per_h: float
) -> Real:
    """Effective rumen degradable protein ERDP = 0.8 QDP + SDP [g/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm, a_share, b_share, c_per_h, outflow_per_h
        As in `slowly_degraded_g_per_kg_dm`.

    Returns
    -------
    float or array
        [g/kg DM]

    Source
    ------
    A-S7, restating AFRC-1993 for cattle. Mark: restated.
    """
    slow = slowly_degraded_g_per_kg_dm(cp_g_per_kg_dm, b_share, c_per_h, outflow_per_h)
    return 0.8 * quickly_degraded_g_per_kg_dm(cp_g_per_kg_dm, a_share) + slow


def dup_g_per_kg_dm(
    cp_g_per_kg_dm: Real,
    a_share: Real,
    b_share: Real,
    c_per_h: Real,
    adin_g_n_per_kg_dm: Real,
    outflow_per_h: float,
) -> Real:
    """Digestible undegraded protein DUP = 0.9 (UDP - 6.25 ADIN), not below 0 [g/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm, a_share, b_share, c_per_h, outflow_per_h
        As in `slowly_degraded_g_per_kg_dm`.
    adin_g_n_per_kg_dm : float or array
        Nitrogen insoluble in acid detergent. [g N/kg DM]

    Returns
    -------
    float or array
        [g/kg DM]

    Source
    ------
    A-S7, restating AFRC-1993 for cattle; the floor at 0 is ours. Mark: restated.
    """
    quick = quickly_degraded_g_per_kg_dm(cp_g_per_kg_dm, a_share)
    slow = slowly_degraded_g_per_kg_dm(cp_g_per_kg_dm, b_share, c_per_h, outflow_per_h)
    undegraded = cp_g_per_kg_dm - quick - slow
    dup = np.maximum(0.9 * (undegraded - 6.25 * adin_g_n_per_kg_dm), 0.0)
    return dup if isinstance(cp_g_per_kg_dm, np.ndarray) else float(dup)


def fermentable_me_mj_per_kg_dm(
    me_mj_per_kg_dm: float, oil_g_per_kg_dm: float, acids_share_of_me: float = 0.0
) -> float:
    """Fermentable ME [MJ/kg DM]: ME less oil at 35 MJ/kg less fermentation acids, not below 0.

    Parameters
    ----------
    me_mj_per_kg_dm : float
        ME. [MJ/kg DM]
    oil_g_per_kg_dm : float
        Oil (ether extract). [g/kg DM]
    acids_share_of_me : float
        Share of ME in fermentation acids: silage 0.10, brewery and distillery feeds 0.05. [-]

    Returns
    -------
    float
        [MJ/kg DM]

    Source
    ------
    AFRC-1993, from memory. Mark: memory.
    """
    return max(me_mj_per_kg_dm * (1 - acids_share_of_me) - 0.035 * oil_g_per_kg_dm, 0.0)


def mp_supply_g_per_day(
    erdp_g_per_day: float, fme_mj_per_day: float, dup_g_per_day: float, feeding_level: float
) -> float:
    """Metabolisable protein supplied by a whole diet [g/day].

    Microbial protein is the smaller of ERDP and y FME of the whole diet; 0.6375 of it is
    digestible true protein.

    Parameters
    ----------
    erdp_g_per_day, dup_g_per_day : float
        Effective degradable and digestible undegraded protein eaten. [g/day]
    fme_mj_per_day : float
        Fermentable ME eaten. [MJ/day]
    feeding_level : float
        ME eaten over maintenance ME. [-], 0 to 5.

    Returns
    -------
    float
        0.6375 min(ERDP, y FME) + DUP. [g/day]

    Raises
    ------
    OutOfRange
        Feeding level outside 0 to 5.

    Source
    ------
    A-S7, restating AFRC-1993 for cattle; the whole-diet minimum from memory. Mark: restated.
    """
    microbial = min(erdp_g_per_day, microbial_yield_g_per_mj(feeding_level) * fme_mj_per_day)
    return 0.75 * 0.85 * microbial + dup_g_per_day
