"""Calcium and phosphorus of sheep: AFRC (1991), TCORN Report 6.

AFRC Technical Committee on Responses to Nutrients, Report 6, Nutrition Abstracts and Reviews
(Series B) 61:573-612, 1991. The reference is print; every equation is from memory, consistent with
printed trials where the check rows say so.

For a given sheep both needs are straight lines in dry-matter intake, so `ca_line` and `p_line`
give a constant and a slope: the optimiser moves the slope to the side of the feeds.

The report's terms for lambs unborn and for milk are not on file. `breeding_content_g_per_kg_dm`
stands in for them with contents of the diet that come from elsewhere.
"""

from __future__ import annotations

import math

from ration.errors import OutOfRange, Problem

CA_ABSORPTION = 0.68
# diet: (diet-type factor k, absorption of P)
P_DIETS = {"hay": (1.6, 0.58), "concentrate": (1.0, 0.70)}
# state: (Ca, P), g/kg DM of the diet
BREEDING_CONTENTS = {"late pregnancy": (4.9, 2.9), "lactation": (4.1, 3.5)}


def _diet(diet: str) -> tuple[float, float]:
    if diet not in P_DIETS:
        raise OutOfRange(Problem("", f'diet "{diet}"', f"it is one of {', '.join(P_DIETS)}"))
    return P_DIETS[diet]


def endogenous_ca_g_per_day(dmi_kg_per_day: float) -> float:
    """Unavoidable faecal loss of calcium [g/day].

    Parameters
    ----------
    dmi_kg_per_day : float
        Dry matter eaten. [kg DM/day], 0 and up.

    Returns
    -------
    float
        0.228 + 0.623 DMI. [g/day]

    Source
    ------
    AFRC-1991, from memory (consistent with print: slope 0.64 in P-S2). Mark: memory.
    """
    return 0.228 + 0.623 * dmi_kg_per_day


def endogenous_p_g_per_day(dmi_kg_per_day: float, diet: str = "hay") -> float:
    """Unavoidable loss of phosphorus [g/day].

    Parameters
    ----------
    dmi_kg_per_day : float
        Dry matter eaten. [kg DM/day], 0 and up.
    diet : str
        hay (k 1.6) or concentrate (k 1.0).

    Returns
    -------
    float
        k (-0.06 + 0.693 DMI). [g/day]

    Raises
    ------
    OutOfRange
        Diet not one of the two.

    Source
    ------
    AFRC-1991, from memory. Mark: memory.
    """
    return _diet(diet)[0] * (-0.06 + 0.693 * dmi_kg_per_day)


def growth_ca_g_per_kg(weight_kg: float, mature_weight_kg: float) -> float:
    """Calcium kept in a kilogram of gain [g/kg].

    Parameters
    ----------
    weight_kg, mature_weight_kg : float
        Live weight and grown weight. [kg]

    Returns
    -------
    float
        6.75 (A/W)^0.28. [g/kg]

    Source
    ------
    AFRC-1991, from memory (5 to 18 % above the trial P-S4). Mark: memory.
    """
    return 6.75 * math.pow(mature_weight_kg / weight_kg, 0.28)


def growth_p_g_per_kg(weight_kg: float, mature_weight_kg: float) -> float:
    """Phosphorus kept in a kilogram of gain [g/kg].

    Parameters
    ----------
    weight_kg, mature_weight_kg : float
        Live weight and grown weight. [kg]

    Returns
    -------
    float
        1.2 + 3.188 (A/W)^0.28. [g/kg]

    Source
    ------
    AFRC-1991, from memory (8 to 22 % above the trial P-S4). Mark: memory.
    """
    return 1.2 + 3.188 * math.pow(mature_weight_kg / weight_kg, 0.28)


def ca_need_g_per_day(
    weight_kg: float, mature_weight_kg: float, gain_g_per_day: float, dmi_kg_per_day: float
) -> float:
    """Dietary calcium needed [g/day].

    Parameters
    ----------
    weight_kg, mature_weight_kg : float
        Live weight and grown weight. [kg]
    gain_g_per_day : float
        Live-weight gain. [g/day]
    dmi_kg_per_day : float
        Dry matter eaten. [kg DM/day]

    Returns
    -------
    float
        (0.228 + 0.623 DMI + gCa gain) / 0.68. [g/day]

    Source
    ------
    AFRC-1991, from memory. Mark: memory.
    """
    kept = growth_ca_g_per_kg(weight_kg, mature_weight_kg) * gain_g_per_day / 1000
    return (endogenous_ca_g_per_day(dmi_kg_per_day) + kept) / CA_ABSORPTION


def p_need_g_per_day(
    weight_kg: float,
    mature_weight_kg: float,
    gain_g_per_day: float,
    dmi_kg_per_day: float,
    diet: str = "hay",
) -> float:
    """Dietary phosphorus needed [g/day].

    Parameters
    ----------
    weight_kg, mature_weight_kg : float
        Live weight and grown weight. [kg]
    gain_g_per_day : float
        Live-weight gain. [g/day]
    dmi_kg_per_day : float
        Dry matter eaten. [kg DM/day]
    diet : str
        hay (q under 0.7: k 1.6, absorption 0.58) or concentrate (1.0, 0.70).

    Returns
    -------
    float
        (k (-0.06 + 0.693 DMI) + gP gain) / aP. [g/day]

    Raises
    ------
    OutOfRange
        Diet not one of the two.

    Source
    ------
    AFRC-1991, from memory. Mark: memory.
    """
    kept = growth_p_g_per_kg(weight_kg, mature_weight_kg) * gain_g_per_day / 1000
    return (endogenous_p_g_per_day(dmi_kg_per_day, diet) + kept) / _diet(diet)[1]


def ca_line(
    weight_kg: float, mature_weight_kg: float, gain_g_per_day: float
) -> tuple[float, float]:
    """Calcium need as constant [g/day] and slope [g/kg DM eaten].

    Parameters
    ----------
    weight_kg, mature_weight_kg, gain_g_per_day
        As in `ca_need_g_per_day`.

    Returns
    -------
    tuple of float
        need = constant + slope x DMI; slope 0.9162.

    Source
    ------
    AFRC-1991, algebra on `ca_need_g_per_day`. Mark: derived.
    """
    constant = ca_need_g_per_day(weight_kg, mature_weight_kg, gain_g_per_day, 0.0)
    return constant, 0.623 / CA_ABSORPTION


def p_line(
    weight_kg: float, mature_weight_kg: float, gain_g_per_day: float, diet: str = "hay"
) -> tuple[float, float]:
    """Phosphorus need as constant [g/day] and slope [g/kg DM eaten].

    Parameters
    ----------
    weight_kg, mature_weight_kg, gain_g_per_day, diet
        As in `p_need_g_per_day`.

    Returns
    -------
    tuple of float
        need = constant + slope x DMI; slope 1.9117 on hay diets, 0.9900 on concentrate diets.

    Raises
    ------
    OutOfRange
        Diet not one of the two.

    Source
    ------
    AFRC-1991, algebra on `p_need_g_per_day`. Mark: derived.
    """
    k, absorption = _diet(diet)
    constant = p_need_g_per_day(weight_kg, mature_weight_kg, gain_g_per_day, 0.0, diet)
    return constant, k * 0.693 / absorption


def breeding_content_g_per_kg_dm(state: str) -> tuple[float, float]:
    """Calcium and phosphorus the diet of a breeding ewe should hold [g/kg DM].

    Not AFRC (1991): what that report asks for unborn lambs and for milk is not on file. These are
    NRC (2007) as a paper of 2024 tabulates it, its footnotes not seen. The milk figures are for
    early lactation. Ewes draw on their bones in late pregnancy and early lactation whatever the
    diet, so a content of the diet is a safer guide than a sum for the day.

    Parameters
    ----------
    state : str
        "late pregnancy" or "lactation".

    Returns
    -------
    tuple of float
        Calcium, phosphorus. [g/kg DM]

    Raises
    ------
    OutOfRange
        State not one of the two.

    Source
    ------
    P-S16, N-S5 (table 1), restating NRC-2007. Mark: restated.
    """
    if state not in BREEDING_CONTENTS:
        known = ", ".join(BREEDING_CONTENTS)
        raise OutOfRange(Problem("", f'state "{state}"', f"it is one of {known}"))
    return BREEDING_CONTENTS[state]
