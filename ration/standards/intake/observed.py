"""What sheep were seen to eat of long forage, and rules of thumb for what they can clear."""

from __future__ import annotations

import math

from ration.errors import OutOfRange, Problem
from ration.standards.afrc1993.ground import weight_is_believable, within

TRIAL_HAY_G_PER_KG073 = 49.2
TRIAL_STRAW_G_PER_KG073 = 28.4
TRIAL_HAY_KG = 0.451
TRIAL_POOR_HAY_KG = 0.287
TRIAL_DROP_KG_PER_SHARE = 0.300  # 3 g a day for each 1 % of trough feed in the dry matter
STRAW_G_PER_KG075 = 38.3
FATTENING_SHARE_OF_WEIGHT = 0.04
# stage: (least, most) dry matter as share of live weight, source, mark
EWE_STAGES: dict[str, tuple[float, float, str, str]] = {
    "three weeks before triplets, good silage": (0.014, 0.014, "A-S11", "restated"),
    "in lamb": (0.020, 0.025, "A-S32", "print"),
    "in milk": (0.035, 0.035, "A-S32", "print"),
}


def observed_hay_intake_kg_dm_per_day(weight_kg: float) -> float:
    """Average hay to appetite and nothing else, as hill ewe lambs ate it [kg DM/day].

    Fourteen weeks, Welsh Mountain ewe lambs of about 21 kg (451 g a day); anything far from that
    weight is stretched. The same breed ate 287 g of poorer hay (`observed_poor_hay_...`).

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100; seen near 21.

    Returns
    -------
    float
        49.2 W^0.73 / 1000. [kg DM/day]

    Source
    ------
    P-S83 (Crabtree and Williams 1971). Mark: print.
    """
    weight_is_believable(weight_kg)
    return TRIAL_HAY_G_PER_KG073 / 1000 * math.pow(weight_kg, 0.73)


def observed_poor_hay_intake_kg_dm_per_day(weight_kg: float) -> float:
    """Poorer hay to appetite and nothing else, same breed and authors [kg DM/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100; seen near 21.

    Returns
    -------
    float
        The average-hay figure times 287/451, their lambs taken to be of one weight. [kg DM/day]

    Source
    ------
    P-S130 for 287 g a day, P-S83 for 451 g. Mark: derived.
    """
    return TRIAL_POOR_HAY_KG / TRIAL_HAY_KG * observed_hay_intake_kg_dm_per_day(weight_kg)


def observed_straw_intake_kg_dm_per_day(weight_kg: float) -> float:
    """Straw to appetite and nothing else, hill ewe lambs [kg DM/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100; seen near 20.

    Returns
    -------
    float
        28.4 W^0.73 / 1000. [kg DM/day]

    Source
    ------
    P-S83 (Crabtree and Williams 1971). Mark: print.
    """
    weight_is_believable(weight_kg)
    return TRIAL_STRAW_G_PER_KG073 / 1000 * math.pow(weight_kg, 0.73)


def observed_barley_straw_intake_kg_dm_per_day(weight_kg: float) -> float:
    """Barley straw to appetite and nothing else, lambs that lost 20 g a day on it [kg DM/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.

    Returns
    -------
    float
        38.3 W^0.75 / 1000. [kg DM/day]

    Source
    ------
    P-S131 (Dixon and Egan 2000). Mark: print.
    """
    weight_is_believable(weight_kg)
    return STRAW_G_PER_KG075 / 1000 * math.pow(weight_kg, 0.75)


def observed_hay_beside_concentrate_kg_dm_per_day(
    weight_kg: float, concentrate_kg_dm_per_day: float
) -> float:
    """Average hay eaten beside trough feed, as hill ewe lambs ate it [kg DM/day].

    Hay fell by 3 g a day for each 1 % of trough feed in the dry matter: that share depends on the
    hay itself, so the two are solved together (a quadratic). For other weights the fall is taken
    in proportion to hay alone.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100; seen near 21.
    concentrate_kg_dm_per_day : float
        Trough feed eaten. [kg DM/day], 0 to 2; seen to 0.35.

    Returns
    -------
    float
        h of h = alone - fall x c / (h + c). [kg DM/day]

    Source
    ------
    P-S83 (Crabtree and Williams 1971) for both figures, the solving is ours. Mark: derived.
    """
    within("trough feed [kg DM/day]", concentrate_kg_dm_per_day, 0.0, 2.0)
    alone = observed_hay_intake_kg_dm_per_day(weight_kg)
    fall = alone * TRIAL_DROP_KG_PER_SHARE / TRIAL_HAY_KG
    c, spare = concentrate_kg_dm_per_day, alone - concentrate_kg_dm_per_day
    return (spare + math.sqrt(spare * spare + 4 * c * (alone - fall))) / 2


def digestible_protein_at_most_hay_g_per_day(weight_kg: float) -> float:
    """Digestible crude protein at which sheep eat most of a low-protein hay [g/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.

    Returns
    -------
    float
        3 W^0.73. [g/day]

    Source
    ------
    P-S143 (abstract). Mark: print.
    """
    weight_is_believable(weight_kg)
    return 3.0 * math.pow(weight_kg, 0.73)


def concentrate_at_most_energy_kg_per_day(weight_kg: float) -> float:
    """Trough feed beside low-protein hay past which sheep took in no more energy [kg/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.

    Returns
    -------
    float
        30 W^0.73 / 1000. [kg/day]; whether fresh or dry the abstract does not say.

    Source
    ------
    P-S143 (abstract). Mark: print.
    """
    weight_is_believable(weight_kg)
    return 0.030 * math.pow(weight_kg, 0.73)


def fattening_lamb_rule_kg_dm_per_day(weight_kg: float) -> float:
    """Dry matter a fattening lamb can clear, a rule of thumb: 4 % of its weight [kg DM/day].

    For lambs on good feed to appetite; far over what young breeding sheep clear of hay.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100; printed for 20 to 40.

    Returns
    -------
    float
        0.04 W. [kg DM/day]

    Source
    ------
    A-S9, which credits the AFRC system. Mark: restated.
    """
    weight_is_believable(weight_kg)
    return FATTENING_SHARE_OF_WEIGHT * weight_kg


def ewe_intake_share_of_weight(stage: str) -> tuple[float, float]:
    """Dry matter a grown ewe clears a day, least and most, as share of live weight [-].

    Parameters
    ----------
    stage : str
        One of `EWE_STAGES`.

    Returns
    -------
    tuple of float
        Least and most. [-]

    Raises
    ------
    OutOfRange
        The stage is not one of them.

    Source
    ------
    A-S11 before triplets (after Vipond 2009), A-S32 (a trade guide) in lamb and in milk.
    Mark: restated.
    """
    if stage not in EWE_STAGES:
        raise OutOfRange(
            Problem("", f'stage "{stage}" is not known', f"it is one of {', '.join(EWE_STAGES)}")
        )
    least, most, _, _ = EWE_STAGES[stage]
    return least, most
