"""Calcium and phosphorus of growing sheep by ARC (1980), to stand beside AFRC (1991).

Losses here follow live weight and not what is eaten: later work holds that against it (P-S2,
P-S11), so it asks far less phosphorus on hay. Shown beside the need worked with, never mixed in.
"""

from __future__ import annotations

from ration.errors import OutOfRange, Problem
from ration.standards.afrc1993.ground import weight_is_believable, within

ENDOGENOUS_CA_G_PER_KG, ENDOGENOUS_P_G_PER_KG = 0.016, 0.012
GROWTH_CA_G_PER_KG, GROWTH_P_G_PER_KG = 11.0, 6.0
CA_ABSORPTION = 0.68
P_ABSORPTION = {"young": 0.73, "adult": 0.60}
GAIN_G_PER_DAY = (0.0, 400.0)


def endogenous_p_g_per_day(weight_kg: float) -> float:
    """Unavoidable loss of phosphorus, 12 mg per kg of live weight [g/day].

    Source
    ------
    ARC-1980, restated in P-S3. Mark: restated.
    """
    weight_is_believable(weight_kg)
    return ENDOGENOUS_P_G_PER_KG * weight_kg


def ca_need_g_per_day(weight_kg: float, gain_g_per_day: float) -> float:
    """Calcium to be eaten: (0.016 W + 11 gain) / 0.68 [g/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg]
    gain_g_per_day : float
        Live-weight gain. [g/day], 0 to 400

    Source
    ------
    ARC-1980, from memory. Mark: memory.
    """
    weight_is_believable(weight_kg)
    within("gain [g/day]", gain_g_per_day, *GAIN_G_PER_DAY)
    kept = GROWTH_CA_G_PER_KG * gain_g_per_day / 1000
    return (ENDOGENOUS_CA_G_PER_KG * weight_kg + kept) / CA_ABSORPTION


def p_need_g_per_day(weight_kg: float, gain_g_per_day: float, age: str = "young") -> float:
    """Phosphorus to be eaten: (0.012 W + 6 gain) / 0.73 when young, 0.60 when adult [g/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg]
    gain_g_per_day : float
        Live-weight gain. [g/day], 0 to 400
    age : str
        young or adult.

    Source
    ------
    ARC-1980; the loss restated in P-S3, growth and absorption from memory. Mark: memory.
    """
    if age not in P_ABSORPTION:
        raise OutOfRange(Problem("", f'age "{age}"', f"it is one of {', '.join(P_ABSORPTION)}"))
    within("gain [g/day]", gain_g_per_day, *GAIN_G_PER_DAY)
    kept = GROWTH_P_G_PER_KG * gain_g_per_day / 1000
    return (endogenous_p_g_per_day(weight_kg) + kept) / P_ABSORPTION[age]
