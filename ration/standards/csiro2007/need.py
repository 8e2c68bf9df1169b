"""Whole energy need of a sheep, and the gain an intake allows; SCA (1990), CSIRO (2007)."""

from __future__ import annotations

import math

import numpy as np

from ration.standards.afrc1993.ground import within
from ration.standards.csiro2007.energy_use import (
    efficiency_gain,
    efficiency_maintenance,
    maintenance_me_mj_per_day,
)
from ration.standards.csiro2007.ground import EMPTY_BODY_SHARE, ME_MJ_PER_DAY, Real
from ration.standards.csiro2007.growth import (
    energy_of_gain_mj_per_kg,
    gain_me_mj_per_day,
    rate_term,
    relative_size,
)
from ration.standards.csiro2007.production import (
    MILK_MJ_PER_KG,
    milk_me_mj_per_day,
    pregnancy_me_mj_per_day,
    wool_me_mj_per_day,
)

COST_OF_PRODUCTION_SHARE = 0.1
TISSUE_SHARE = 0.8


def me_need_mj_per_day(
    weight_kg: float,
    gain_g_per_day: Real,
    md_mj_per_kg_dm: Real,
    *,
    srw_kg: float,
    sex: str = "female",
    age_years: float = 0.7,
    walking_net_mj_per_day: float = 0.0,
    wool_greasy_g_per_day: float = 6.0,
    days_pregnant: float | None = None,
    litter_kg: float | None = None,
    milk_kg_per_day: float = 0.0,
    milk_mj_per_kg: float = MILK_MJ_PER_KG,
    maintenance: float = 1.0,
    unsupported: float | None = None,
) -> Real:
    """ME needed for all a sheep does [MJ/day]: it falls with M/D and rises with gain.

    Standing and walking, gain, milk, wool above 6 g a day and 10 % of these three on top, and
    unborn lambs. Cold is not in it.

    Parameters
    ----------
    weight_kg : float
        Live weight, mean of the period. [kg], 5 to 150.
    gain_g_per_day : float or array
        Live-weight gain; an array must broadcast with M/D. [g/day], 0 to 1000.
    md_mj_per_kg_dm : float or array
        ME of the whole diet. [MJ/kg DM], 2.5 to 16.5; trusted 7 to 13.
    srw_kg : float
        Standard reference weight: grown, condition score 3, bare shorn. [kg], 20 to 150.
    sex, age_years, walking_net_mj_per_day, maintenance
        As in `maintenance_me_mj_per_day`.
    wool_greasy_g_per_day : float
        Greasy wool grown. [g/day], 0 to 60; the first 6 g are in maintenance.
    days_pregnant, litter_kg : float or None
        As in `pregnancy_me_mj_per_day`.
    milk_kg_per_day, milk_mj_per_kg : float
        As in `milk_me_mj_per_day`.
    unsupported : float or None
        Never used: no gain is beyond a diet in this system. It lets the standards be called alike.

    Returns
    -------
    float or array
        [MJ/day]

    Raises
    ------
    OutOfRange
        Loss of weight, or anything else outside what is covered.

    Source
    ------
    N-S6, N-S7, N-S8, restating CSIRO-2007; kl from memory. Mark: restated.
    """
    del unsupported
    standing = maintenance_me_mj_per_day(
        weight_kg,
        md_mj_per_kg_dm,
        sex=sex,
        age_years=age_years,
        walking_net_mj_per_day=walking_net_mj_per_day,
        maintenance=maintenance,
    )
    produced = (
        gain_me_mj_per_day(weight_kg, gain_g_per_day, srw_kg, md_mj_per_kg_dm)
        + milk_me_mj_per_day(milk_kg_per_day, md_mj_per_kg_dm, milk_mj_per_kg)
        + wool_me_mj_per_day(wool_greasy_g_per_day)
    )
    unborn = pregnancy_me_mj_per_day(days_pregnant, litter_kg)
    return standing + (1 + COST_OF_PRODUCTION_SHARE) * produced + unborn


def gain_from_me_g_per_day(
    weight_kg: float,
    me_mj_per_day: float,
    md_mj_per_kg_dm: float,
    *,
    srw_kg: float,
    sex: str = "female",
    age_years: float = 0.7,
    walking_net_mj_per_day: float = 0.0,
    wool_greasy_g_per_day: float = 6.0,
    days_pregnant: float | None = None,
    litter_kg: float | None = None,
    milk_kg_per_day: float = 0.0,
    milk_mj_per_kg: float = MILK_MJ_PER_KG,
    maintenance: float = 1.0,
) -> float:
    """Gain that an ME intake allows [g/day]: `me_need_mj_per_day` turned round.

    Energy in gain depends on its rate, so the gain is the root of a square. Below what holds
    weight the answer is a loss: body tissue, taken at the content of gain at no rate, stands in
    for the missing ME at km/0.8. That holds for dry sheep and is poor even there; read it as a
    direction, not a figure.

    Parameters
    ----------
    weight_kg, md_mj_per_kg_dm, srw_kg, sex, age_years, walking_net_mj_per_day
        As in `me_need_mj_per_day`.
    wool_greasy_g_per_day, days_pregnant, litter_kg, milk_kg_per_day, milk_mj_per_kg, maintenance
        As in `me_need_mj_per_day`.
    me_mj_per_day : float
        ME eaten. [MJ/day], 0 to 200.

    Returns
    -------
    float
        [g/day]; not held to 1000 g above.

    Raises
    ------
    OutOfRange
        Anything outside what is covered.

    Source
    ------
    N-S7, N-S8, restating CSIRO-2007 (the inverse is algebra). Mark: restated.
    """
    within("ME eaten [MJ/day]", float(me_mj_per_day), *ME_MJ_PER_DAY)
    without_gain = me_need_mj_per_day(
        weight_kg,
        0.0,
        md_mj_per_kg_dm,
        srw_kg=srw_kg,
        sex=sex,
        age_years=age_years,
        walking_net_mj_per_day=walking_net_mj_per_day,
        wool_greasy_g_per_day=wool_greasy_g_per_day,
        days_pregnant=days_pregnant,
        litter_kg=litter_kg,
        milk_kg_per_day=milk_kg_per_day,
        milk_mj_per_kg=milk_mj_per_kg,
        maintenance=maintenance,
    )
    spare = me_mj_per_day - without_gain
    z, standing_still = relative_size(weight_kg, srw_kg), rate_term(0.0, srw_kg)
    at_no_rate = energy_of_gain_mj_per_kg(z, standing_still)
    if spare < 0:
        tissue = spare * efficiency_maintenance(md_mj_per_kg_dm) / TISSUE_SHARE
        return 1000 * tissue / (EMPTY_BODY_SHARE * at_no_rate)
    # 0.92 gain (at_no_rate + slope gain) = kept, with gain in kg
    kept = spare / (1 + COST_OF_PRODUCTION_SHARE) * efficiency_gain(md_mj_per_kg_dm)
    per_kg = EMPTY_BODY_SHARE * 1000 / (4.0 * math.pow(srw_kg, 0.75))
    slope = per_kg * (energy_of_gain_mj_per_kg(z, 0.0) - at_no_rate)
    y = kept / EMPTY_BODY_SHARE
    return float(1000 * 2 * y / (at_no_rate + np.sqrt(at_no_rate**2 + 4 * slope * y)))
