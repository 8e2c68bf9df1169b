"""Efficiency of energy, and what standing still and walking cost; SCA (1990), CSIRO (2007)."""

from __future__ import annotations

import math

from ration.errors import OutOfRange, Problem
from ration.standards.afrc1993.ground import within
from ration.standards.csiro2007.ground import (
    AGE_YEARS,
    MAINTENANCE,
    SEX_FACTOR,
    Real,
    md_is_believable,
    one_of,
    weight_is_believable,
)

# edition: constant of the eating part of grazing
EGRAZE_COEFFICIENT = {"SCA 1990": 0.05, "CSIRO 2007": 0.02}
# place: (terrain 1 flat to 2 steep, green forage t DM/ha), our choice; None does not walk
PLACES: dict[str, tuple[float, float] | None] = {
    "shed": None,
    "in-bye": (1.0, 1.0),
    "away": (1.0, 1.0),
    "hill": (2.0, 1.0),
}
LEAST_AGE_FACTOR = 0.84
AGE_CAP_YEARS = 6.0


def efficiency_maintenance(md_mj_per_kg_dm: Real) -> Real:
    """Efficiency of ME for maintenance, km [MJ/MJ].

    Parameters
    ----------
    md_mj_per_kg_dm : float or array
        ME of the whole diet, M/D. [MJ/kg DM], 2.5 to 16.5; trusted 7 to 13.

    Returns
    -------
    float or array
        0.02 M/D + 0.5. [-]

    Raises
    ------
    OutOfRange
        M/D outside 2.5 to 16.5.

    Source
    ------
    N-S8, restating CSIRO-2007. Mark: restated.
    """
    md_is_believable(md_mj_per_kg_dm)
    return 0.02 * md_mj_per_kg_dm + 0.5


def efficiency_maintenance_by_q(q: Real) -> Real:
    """Efficiency of ME for maintenance from metabolisability, the other published form [MJ/MJ].

    Within 1.5 % of `efficiency_maintenance` from M/D 8 to 12.

    Parameters
    ----------
    q : float or array
        M/D over gross energy, 18.45 (N-S7) or 18.4 (N-S8) MJ/kg DM. [-], 0.15 to 0.9.

    Returns
    -------
    float or array
        0.35 q + 0.503. [-]

    Raises
    ------
    OutOfRange
        q outside 0.15 to 0.9.

    Source
    ------
    N-S7, N-S8, restating CSIRO-2007. Mark: restated.
    """
    within("diet quality q", q, 0.15, 0.9)
    return 0.35 * q + 0.503


def efficiency_gain(md_mj_per_kg_dm: Real) -> Real:
    """Efficiency of ME for gain, kg [MJ/MJ].

    Two other forms are in use: 0.043 M/D for supplements (memory), and 0.035 M/D times terms of
    legume and season for temperate pasture (N-S8, restated).

    Parameters
    ----------
    md_mj_per_kg_dm : float or array
        ME of the whole diet. [MJ/kg DM], 2.5 to 16.5; trusted 7 to 13.

    Returns
    -------
    float or array
        0.042 M/D + 0.006. [-]

    Raises
    ------
    OutOfRange
        M/D outside 2.5 to 16.5.

    Source
    ------
    N-S7, restating CSIRO-2007. Mark: restated.
    """
    md_is_believable(md_mj_per_kg_dm)
    return 0.042 * md_mj_per_kg_dm + 0.006


def efficiency_milk(md_mj_per_kg_dm: Real) -> Real:
    """Efficiency of ME for milk, kl [MJ/MJ].

    The other published form is 0.35 q + 0.42 with q M/D over 18.45 (N-S7, restated).

    Parameters
    ----------
    md_mj_per_kg_dm : float or array
        ME of the whole diet. [MJ/kg DM], 2.5 to 16.5; trusted 7 to 13.

    Returns
    -------
    float or array
        0.02 M/D + 0.4. [-]

    Raises
    ------
    OutOfRange
        M/D outside 2.5 to 16.5.

    Source
    ------
    CSIRO-2007, from memory. Mark: memory.
    """
    md_is_believable(md_mj_per_kg_dm)
    return 0.02 * md_mj_per_kg_dm + 0.4


def basal_me_mj_per_day(
    weight_kg: float, md_mj_per_kg_dm: Real, sex: str = "female", age_years: float = 0.7
) -> Real:
    """ME of a weaned sheep standing still in a pen, before the 10 % of production [MJ/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.
    md_mj_per_kg_dm : float or array
        ME of the whole diet. [MJ/kg DM]
    sex : str
        female or castrate 1, entire 1.15, mixed (a mob of both) 1.075.
    age_years : float
        Age, counted to 6 at most. [year], 0 to 20.

    Returns
    -------
    float or array
        S 0.28 W^0.75 exp(-0.03 A)/km, the age factor not below 0.84. [MJ/day]

    Raises
    ------
    OutOfRange
        Weight, M/D, sex or age outside what is covered.

    Source
    ------
    N-S6, N-S7, N-S8, restating CSIRO-2007. Mark: restated.
    """
    weight_is_believable(weight_kg)
    one_of("sex", sex, tuple(SEX_FACTOR))
    within("age [years]", float(age_years), *AGE_YEARS)
    age = max(math.exp(-0.03 * min(age_years, AGE_CAP_YEARS)), LEAST_AGE_FACTOR)
    net = SEX_FACTOR[sex] * 0.28 * math.pow(weight_kg, 0.75) * age
    return net / efficiency_maintenance(md_mj_per_kg_dm)


def maintenance_me_mj_per_day(
    weight_kg: float,
    md_mj_per_kg_dm: Real,
    *,
    sex: str = "female",
    age_years: float = 0.7,
    walking_net_mj_per_day: float = 0.0,
    maintenance: float = 1.0,
) -> Real:
    """ME to stand still and walk about [MJ/day], before the 10 % of production.

    Parameters
    ----------
    weight_kg, md_mj_per_kg_dm, sex, age_years
        As in `basal_me_mj_per_day`.
    walking_net_mj_per_day : float
        Net energy of walking or grazing. [MJ NE/day], 0 to 20.
    maintenance : float
        Multiplier on all of it. [-], 0.5 to 3; 1.0 is the standard.

    Returns
    -------
    float or array
        maintenance (basal + walking/km). [MJ/day]

    Raises
    ------
    OutOfRange
        Anything outside what is covered.

    Source
    ------
    N-S6, N-S7, N-S8, restating CSIRO-2007; the multiplier is ours. Mark: restated.
    """
    within("walking [MJ NE/day]", float(walking_net_mj_per_day), 0.0, 20.0)
    within("multiplier on maintenance", float(maintenance), *MAINTENANCE)
    basal = basal_me_mj_per_day(weight_kg, md_mj_per_kg_dm, sex, age_years)
    walking = walking_net_mj_per_day / efficiency_maintenance(md_mj_per_kg_dm)
    return maintenance * (basal + walking)


def _check_ground(terrain: float, green_t_dm_per_ha: float) -> None:
    within("terrain, flat to steep", float(terrain), 1.0, 2.0)
    within("green forage [t DM/ha]", float(green_t_dm_per_ha), 0.0, 10.0)


def _check_grazing(weight_kg: float, digestibility_share: float, coefficient: float) -> None:
    weight_is_believable(weight_kg)
    within("digestibility of dry matter (share)", float(digestibility_share), 0.2, 0.9)
    within("coefficient of grazing", float(coefficient), 0.0, 0.1)


def walking_net_mj_per_day(weight_kg: float, terrain: float, green_t_dm_per_ha: float) -> float:
    """Net energy of walking about, the part left for sheep outdoors at a hay rack [MJ/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.
    terrain : float
        1 flat to 2 steep. [-]
    green_t_dm_per_ha : float
        Green forage standing. [t DM/ha], 0 to 10; little of it means longer walks.

    Returns
    -------
    float
        0.05 T/(GF + 3) W. [MJ NE/day]

    Raises
    ------
    OutOfRange
        Anything outside what is covered.

    Source
    ------
    N-S7, restating CSIRO-2007; the range of terrain from memory. Mark: restated.
    """
    weight_is_believable(weight_kg)
    _check_ground(terrain, green_t_dm_per_ha)
    return 0.05 * terrain / (green_t_dm_per_ha + 3.0) * weight_kg


def place_net_mj_per_day(weight_kg: float, place: str) -> float:
    """Net energy of walking about at a place, hay-fed [MJ/day]; nothing in a shed.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.
    place : str
        shed, in-bye, away or hill: terrain and green forage of `PLACES`, our choice.

    Returns
    -------
    float
        [MJ NE/day]

    Raises
    ------
    OutOfRange
        Weight or place outside what is covered.

    Source
    ------
    N-S7 (the equation); terrain and green forage by common practice, no source. Mark: practice.
    """
    weight_is_believable(weight_kg)
    one_of("place", place, tuple(PLACES))
    ground = PLACES[place]
    return 0.0 if ground is None else walking_net_mj_per_day(weight_kg, *ground)


def distance_net_mj_per_day(
    weight_kg: float, walked_km_per_day: float, climbed_km_per_day: float = 0.0
) -> float:
    """Net energy of walking when the distance is known [MJ/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.
    walked_km_per_day, climbed_km_per_day : float
        Along the level and upward. [km/day], 0 to 30 and 0 to 3.

    Returns
    -------
    float
        W (0.0026 walked + 0.028 climbed). [MJ NE/day]

    Raises
    ------
    OutOfRange
        Anything outside what is covered.

    Source
    ------
    N-S8, restating an energy manual. Mark: restated.
    """
    weight_is_believable(weight_kg)
    within("walked [km/day]", float(walked_km_per_day), 0.0, 30.0)
    within("climbed [km/day]", float(climbed_km_per_day), 0.0, 3.0)
    return weight_kg * (0.0026 * walked_km_per_day + 0.028 * climbed_km_per_day)


def egraze_net_mj_per_day(
    weight_kg: float,
    dmi_kg_per_day: float,
    digestibility_share: float,
    terrain: float,
    green_t_dm_per_ha: float,
    coefficient: float = EGRAZE_COEFFICIENT["CSIRO 2007"],
) -> float:
    """Net energy of grazing: eating from the sward and walking to it [MJ/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.
    dmi_kg_per_day : float
        Dry matter grazed. [kg DM/day], 0 to 10.
    digestibility_share : float
        Digestibility of that dry matter. [-], 0.2 to 0.9.
    terrain, green_t_dm_per_ha : float
        As in `walking_net_mj_per_day`.
    coefficient : float
        One of `EGRAZE_COEFFICIENT`: 0.05 by SCA 1990 (restated), 0.02 by CSIRO 2007 (memory).

    Returns
    -------
    float
        [C DMI (0.9 - D) + 0.05 T/(GF + 3)] W. [MJ NE/day]

    Raises
    ------
    OutOfRange
        Anything outside what is covered.

    Source
    ------
    N-S7, restating SCA 1990; 0.02 CSIRO-2007 from memory. Mark: restated.
    """
    _check_grazing(weight_kg, digestibility_share, coefficient)
    within("dry matter grazed [kg/day]", float(dmi_kg_per_day), 0.0, 10.0)
    eating = coefficient * dmi_kg_per_day * (0.9 - digestibility_share) * weight_kg
    return eating + walking_net_mj_per_day(weight_kg, terrain, green_t_dm_per_ha)


def grazing_me_mj_per_day(
    weight_kg: float,
    other_me_mj_per_day: float,
    md_mj_per_kg_dm: float,
    digestibility_share: float,
    terrain: float,
    green_t_dm_per_ha: float,
    coefficient: float = EGRAZE_COEFFICIENT["CSIRO 2007"],
    km: float | None = None,
) -> float:
    """ME of grazing where the sheep eats what it needs, so intake hangs on the answer [MJ/day].

    Parameters
    ----------
    weight_kg, digestibility_share, terrain, green_t_dm_per_ha, coefficient
        As in `egraze_net_mj_per_day`.
    other_me_mj_per_day : float
        Every other need. [MJ/day], 0 to 200.
    md_mj_per_kg_dm : float
        ME of the herbage. [MJ/kg DM]
    km : float or None
        Efficiency for maintenance; None takes `efficiency_maintenance`. [-], 0.4 to 0.9.

    Returns
    -------
    float
        W [C (0.9 - D) ME0 + 0.05 T/(GF + 3) M/D]/[km M/D - C W (0.9 - D)]. [MJ ME/day]

    Raises
    ------
    OutOfRange
        Anything outside what is covered, or herbage so poor that eating it costs what it gives.

    Source
    ------
    N-S7, restating SCA 1990 (the closed form is algebra, checked). Mark: restated.
    """
    _check_grazing(weight_kg, digestibility_share, coefficient)
    md_is_believable(md_mj_per_kg_dm)
    within("other ME [MJ/day]", float(other_me_mj_per_day), 0.0, 200.0)
    used = efficiency_maintenance(md_mj_per_kg_dm) if km is None else km
    within("efficiency for maintenance", float(used), 0.4, 0.9)
    walking = walking_net_mj_per_day(weight_kg, terrain, green_t_dm_per_ha)
    eating = coefficient * (0.9 - digestibility_share) * weight_kg
    left = used * md_mj_per_kg_dm - eating
    if left <= 0:
        raise OutOfRange(
            Problem("", f"M/D {md_mj_per_kg_dm:g} MJ/kg DM", "grazing it costs more than it gives")
        )
    return (eating * other_me_mj_per_day + walking * md_mj_per_kg_dm) / left
