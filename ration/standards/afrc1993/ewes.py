"""Energy and protein of a grown ewe, dry, in lamb or in milk: the parts added up; AFRC (1993).

An ewe lamb in lamb is not a grown ewe: she takes `growth_me_mj_per_day` and `mp_need_g_per_day`
with `pregnancy_me_mj_per_day` and `pregnancy_mp_g_per_day` on top.
"""

from __future__ import annotations

import math

import numpy as np

from ration.errors import OutOfRange, Problem
from ration.standards.afrc1993.breeding import (
    BODY_TO_MILK,
    EWE_WEIGHT_MJ_PER_KG,
    GAIN_IN_MILK,
    GAIN_MP_G_PER_KG,
    LEVEL_SLOPE,
    LOSS_MP_G_PER_KG,
    MILK_MJ_PER_KG,
    efficiency_milk,
    ewe_wool_mp_g_per_day,
    level_correction,
    milk_me_mj_per_day,
    milk_mp_g_per_day,
    pregnancy_me_mj_per_day,
    pregnancy_mp_g_per_day,
    weight_change_me_mj_per_day,
    weight_change_mp_g_per_day,
)
from ration.standards.afrc1993.energy import (
    efficiency_growth,
    efficiency_maintenance,
    net_maintenance_mj_per_day,
)
from ration.standards.afrc1993.ground import Real, weight_is_believable, within

EATEN = (0.0, 1000.0)


def _in_lamb(
    milk_kg_per_day: float, days_pregnant: float | None, litter_kg: float | None
) -> tuple[float, float] | None:
    """Day and litter, or None when she is not in lamb; refuses half an answer."""
    if days_pregnant is None and litter_kg is None:
        return None
    if days_pregnant is None or litter_kg is None:
        missing = "litter weight" if litter_kg is None else "day of pregnancy"
        raise OutOfRange(
            Problem("", f"no {missing}", "a ewe in lamb needs the day and the litter weight")
        )
    if milk_kg_per_day:
        raise OutOfRange(Problem("", "both in lamb and in milk", "it is one of the two"))
    return days_pregnant, litter_kg


def _net(
    weight_kg: float,
    housing: str,
    maintenance: float,
    under_one_year: bool,
    activity: float | None,
    is_in_lamb: bool,
) -> float:
    kind = "pregnant ewe" if is_in_lamb else "ewe"
    return net_maintenance_mj_per_day(
        weight_kg, "female", under_one_year, housing, maintenance, activity, kind
    )


def _loss_is_bearable(gain_g_per_day: float | Real, milk_kg_per_day: float, net: float) -> None:
    """Refuse a loss that holds more energy than her milk and her maintenance can use."""
    most = 1000 * (milk_kg_per_day * MILK_MJ_PER_KG / BODY_TO_MILK + net) / EWE_WEIGHT_MJ_PER_KG
    gain = float(np.min(gain_g_per_day))
    if -gain > most * (1 + 1e-9):
        raise OutOfRange(
            Problem(
                "",
                f"gain {gain:g} g/day",
                "such a loss holds more energy than her milk and her maintenance use",
                f"Ask for a loss of at most {math.floor(most)} g/day",
            )
        )


def ewe_me_mj_per_day(
    weight_kg: float,
    q: Real,
    *,
    housing: str,
    gain_g_per_day: float | Real = 0.0,
    milk_kg_per_day: float = 0.0,
    days_pregnant: float | None = None,
    litter_kg: float | None = None,
    maintenance: float = 1.0,
    under_one_year: bool = False,
    activity_mj_per_day: float | None = None,
) -> Real:
    """ME of a grown ewe, dry, in lamb or in milk [MJ/day], without margin.

    Maintenance + pregnancy + milk + change of weight; in milk the sum times 1 + 0.018 (L - 1),
    L the sum over maintenance. Falls as q rises.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.
    q : float or array
        Metabolisability of the diet. [-], 0.15 to 0.85; trusted 0.4 to 0.7.
    housing : str
        As in `activity_mj_per_day`; in a shed a ewe in lamb is given less than another.
    gain_g_per_day : float or array
        Gain of condition, below 0 loss; an array must broadcast with q. [g/day], -500 to 500.
    milk_kg_per_day : float
        Milk suckled. [kg/day], 0 to 5.
    days_pregnant, litter_kg : float or None
        Day of pregnancy, 0 to 147, and birth weight of all her lambs together, 1 to 25 kg; both or
        neither, and not with milk.
    maintenance : float
        Multiplier on fasting metabolism and activity. [-]
    under_one_year : bool
        As in `fasting_metabolism_mj_per_day`.
    activity_mj_per_day : float or None
        Activity allowance in place of the housing's. [MJ/day], 0 to 30.

    Returns
    -------
    float or array
        [MJ/day]

    Raises
    ------
    OutOfRange
        Anything outside the ranges above, or a loss beyond what milk and maintenance can use.

    Source
    ------
    A-S1, A-S4, A-S6, A-S7, N-S7, restating AFRC-1993 or its parents; change of weight and the
    housed pregnant ewe's activity from memory. Mark: memory.
    """
    lamb = _in_lamb(milk_kg_per_day, days_pregnant, litter_kg)
    net = _net(
        weight_kg, housing, maintenance, under_one_year, activity_mj_per_day, lamb is not None
    )
    _loss_is_bearable(gain_g_per_day, milk_kg_per_day, net)
    standing = net / efficiency_maintenance(q)
    need = standing + milk_me_mj_per_day(milk_kg_per_day, q)
    need = need + weight_change_me_mj_per_day(gain_g_per_day, q, milk_kg_per_day)
    if lamb is not None:
        need = need + pregnancy_me_mj_per_day(*lamb)
    if milk_kg_per_day:
        need = need * level_correction(np.maximum(need, 0.0) / standing)
    return need if isinstance(need, np.ndarray) else float(need)


def ewe_mp_g_per_day(
    weight_kg: float,
    *,
    gain_g_per_day: float = 0.0,
    milk_kg_per_day: float = 0.0,
    days_pregnant: float | None = None,
    litter_kg: float | None = None,
) -> float:
    """Metabolisable protein of a grown ewe, dry, in lamb or in milk [g/day], without margin.

    2.1875 W^0.75 + fleece + pregnancy + milk + change of weight.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.
    gain_g_per_day, milk_kg_per_day, days_pregnant, litter_kg
        As in `ewe_me_mj_per_day`.

    Returns
    -------
    float
        [g/day]

    Raises
    ------
    OutOfRange
        Anything outside the ranges of `ewe_me_mj_per_day`.

    Source
    ------
    AFRC-1993, from memory. Mark: memory.
    """
    without = _mp_at_no_gain(weight_kg, milk_kg_per_day, days_pregnant, litter_kg)
    return without + weight_change_mp_g_per_day(gain_g_per_day)


def _mp_at_no_gain(
    weight_kg: float, milk_kg_per_day: float, days_pregnant: float | None, litter_kg: float | None
) -> float:
    weight_is_believable(weight_kg)
    lamb = _in_lamb(milk_kg_per_day, days_pregnant, litter_kg)
    need = 2.1875 * math.pow(weight_kg, 0.75) + ewe_wool_mp_g_per_day()
    need += milk_mp_g_per_day(milk_kg_per_day)
    return need if lamb is None else need + pregnancy_mp_g_per_day(*lamb)


def ewe_gain_from_me_g_per_day(
    weight_kg: float,
    me_mj_per_day: float,
    q: float,
    *,
    housing: str,
    milk_kg_per_day: float = 0.0,
    days_pregnant: float | None = None,
    litter_kg: float | None = None,
    maintenance: float = 1.0,
    under_one_year: bool = False,
    activity_mj_per_day: float | None = None,
) -> float:
    """Gain of condition that an ME intake allows [g/day]: `ewe_me_mj_per_day` turned round.

    Below 0 is a loss, which makes milk first and then spares maintenance at km. Where the food
    does not even cover the lambs in her the line is carried on; read it as a direction.

    Parameters
    ----------
    weight_kg, q, housing, milk_kg_per_day, days_pregnant, litter_kg
        As in `ewe_me_mj_per_day`.
    me_mj_per_day : float
        ME eaten. [MJ/day], 0 to 1000.
    maintenance, under_one_year, activity_mj_per_day
        As in `ewe_me_mj_per_day`.

    Returns
    -------
    float
        [g/day]

    Raises
    ------
    OutOfRange
        Anything outside the ranges of `ewe_me_mj_per_day`.

    Source
    ------
    As `ewe_me_mj_per_day` (AFRC-1993; the inverse is algebra). Mark: memory.
    """
    within("ME eaten [MJ/day]", me_mj_per_day, *EATEN)
    lamb = _in_lamb(milk_kg_per_day, days_pregnant, litter_kg)
    net = _net(
        weight_kg, housing, maintenance, under_one_year, activity_mj_per_day, lamb is not None
    )
    km, kl = efficiency_maintenance(q), efficiency_milk(q)
    milk_me = milk_me_mj_per_day(milk_kg_per_day, q)
    needed = me_mj_per_day
    if milk_kg_per_day:
        # me = x + 0.018 x (x km / net - 1), solved for the sum of the parts x
        level = LEVEL_SLOPE * km / net
        plain = 1 - LEVEL_SLOPE
        root = math.sqrt(plain**2 + 4 * level * me_mj_per_day)
        needed = 2 * me_mj_per_day / (plain + root)
    spare = needed - net / km - milk_me
    if lamb is not None:
        spare -= pregnancy_me_mj_per_day(*lamb)
    if spare >= 0:
        energy = spare * (GAIN_IN_MILK * kl if milk_kg_per_day else efficiency_growth(q))
    else:
        from_milk = min(-spare, milk_me)
        energy = -from_milk * kl / BODY_TO_MILK - (-spare - from_milk) * km
    return 1000 * energy / EWE_WEIGHT_MJ_PER_KG


def ewe_gain_from_mp_g_per_day(
    weight_kg: float,
    mp_g_per_day: float,
    *,
    milk_kg_per_day: float = 0.0,
    days_pregnant: float | None = None,
    litter_kg: float | None = None,
) -> float:
    """Gain that a supply of metabolisable protein allows [g/day]: `ewe_mp_g_per_day` turned round.

    Parameters
    ----------
    weight_kg, milk_kg_per_day, days_pregnant, litter_kg
        As in `ewe_mp_g_per_day`.
    mp_g_per_day : float
        MP supplied. [g/day], 0 and up.

    Returns
    -------
    float
        Negative when the supply does not cover maintenance, fleece, lambs and milk. [g/day]

    Raises
    ------
    OutOfRange
        Anything outside the ranges of `ewe_me_mj_per_day`.

    Source
    ------
    AFRC-1993, from memory (the inverse is algebra). Mark: memory.
    """
    within("MP supplied [g/day]", mp_g_per_day, 0.0, math.inf)
    spare = mp_g_per_day - _mp_at_no_gain(weight_kg, milk_kg_per_day, days_pregnant, litter_kg)
    return 1000 * spare / (GAIN_MP_G_PER_KG if spare > 0 else LOSS_MP_G_PER_KG)
