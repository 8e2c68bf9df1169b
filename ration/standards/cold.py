"""Energy that cold, wind and wet cost sheep out of doors: the heat balance of CSIRO (2007).

Freer, Dove and Nolan (2007) *Nutrient Requirements of Domesticated Ruminants*, CSIRO Publishing.
The book was not read: the constants are remembered, the form was worked out again and the results
held against observations in print (`tests/published/cold.csv`). Good enough to rank days and to
size an allowance, 30 to 50 % either way; it is not a measured figure.

The balance in words: heat leaves the body through the tissues and then through fleece and still
air; below the lower critical temperature the sheep must burn feed to keep up with the loss. Only
energy is needed for it, no more protein or minerals.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from ration.standards.afrc1993.ground import weight_is_believable, within

BODY_C = 39.0
TISSUE_INSULATION = 1.3  # [degC m2 day/MJ], grown sheep; less when thin
EVAPORATED_MJ_PER_M2_DAY = 1.3
WOOL_Z = 0.141  # [degC m2 day/MJ per mm of fleece], still air
WIND_Z = 0.017
WIND_MOST_KM_PER_H = 60.0  # the fleece term is held from falling below zero beyond it
MAST_TO_SHEEP = 0.5
CLEAR_NIGHT_C = 5.0
CLEAR_NIGHT_RANGE_C = (-10.0, 10.0)
SUN_MOST_C = 5.0
SLOPE_MJ_PER_C = 0.25 * 0.45359237 * 4.409 * 0.82 * 4.184 / (10 / 1.8)  # 1/4 lb TDN for 10 degF
SLIGHT_SHARE_PER_C = 0.01
STEEP_SHARE_PER_C = 0.018  # 1 % for each degF

FLEECE_MM = (1.0, 200.0)
RADIUS_MM = (50.0, 400.0)
RAIN_MM = (0.0, 400.0)
WIND_KM_PER_H = (0.0, 250.0)
TEMPERATURE_C = (-60.0, 50.0)
HEAT_MJ = (0.5, 60.0)


class ColdDay(NamedTuple):
    """What one day costs.

    Attributes
    ----------
    me_mj_per_day : float
        Extra energy, capped at the heat the sheep makes anyway. [MJ ME/day]
    uncapped_me_mj_per_day : float
        As the balance gives it. [MJ ME/day]
    critical_c : float
        Lower critical temperature. [degC]
    is_danger : bool
        The loss is as much again as the sheep's own heat or more: a day that kills.
    """

    me_mj_per_day: float
    uncapped_me_mj_per_day: float
    critical_c: float
    is_danger: bool


def surface_area_m2(weight_kg: float) -> float:
    """Surface of the body [m2].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.

    Returns
    -------
    float
        0.09 W^0.66. [m2]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 100 kg.

    Source
    ------
    CSIRO-2007, from memory. Mark: memory.
    """
    weight_is_believable(weight_kg)
    return 0.09 * math.pow(weight_kg, 0.66)


def body_radius_mm(weight_kg: float) -> float:
    """Radius of the trunk taken as a cylinder [mm].

    The result of the balance hardly depends on it.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.

    Returns
    -------
    float
        38 W^(1/3): 118 at 30 kg, 130 at 40 kg, 149 at 60 kg. [mm]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 100 kg.

    Source
    ------
    From the girth of sheep, for the radius that CSIRO-2007 asks for. Mark: derived.
    """
    weight_is_believable(weight_kg)
    return 38.0 * math.cbrt(weight_kg)


def external_insulation_c_m2_day_per_mj(
    fleece_mm: float, wind_km_per_h: float, rain_mm_per_day: float, radius_mm: float
) -> float:
    """Insulation of fleece and air [degC m2 day/MJ].

    Parameters
    ----------
    fleece_mm : float
        Depth of the fleece. [mm], 1 to 200.
    wind_km_per_h : float
        At the sheep, not at the mast. [km/h]; over 60 is taken as 60, where the fleece term of
        wool is still above zero.
    rain_mm_per_day : float
        [mm/day], 0 to 400.
    radius_mm : float
        Of the body without fleece. [mm], 50 to 400.

    Returns
    -------
    float
        ([r/(r+f)]/(0.481 + 0.326 v^0.5) + r ln((r+f)/r)(0.141 - 0.017 v^0.5))
        x (1 - 0.3(1 - e^(-1.5 R/f))). [degC m2 day/MJ]

    Raises
    ------
    OutOfRange
        A value outside the ranges above.

    Source
    ------
    CSIRO-2007, from memory (the right size beside N-S20 and N-S23, print). Mark: memory.
    """
    within("fleece [mm]", float(fleece_mm), *FLEECE_MM)
    within("wind [km/h]", float(wind_km_per_h), *WIND_KM_PER_H)
    within("rain [mm/day]", float(rain_mm_per_day), *RAIN_MM)
    within("radius of the body [mm]", float(radius_mm), *RADIUS_MM)
    r, f = radius_mm, fleece_mm
    root = math.sqrt(min(wind_km_per_h, WIND_MOST_KM_PER_H))
    air = r / (r + f) / (0.481 + 0.326 * root)
    fleece = r * math.log((r + f) / r) * max(WOOL_Z - WIND_Z * root, 0.0)
    return (air + fleece) * (1 - 0.3 * (1 - math.exp(-1.5 * rain_mm_per_day / f)))


def lower_critical_temperature_c(
    weight_kg: float,
    heat_mj_per_day: float,
    fleece_mm: float,
    wind_km_per_h: float = 0.0,
    rain_mm_per_day: float = 0.0,
    radius_mm: float | None = None,
) -> float:
    """Air temperature below which the sheep burns feed to keep warm [degC].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.
    heat_mj_per_day : float
        Heat it makes before any cold: ME eaten less energy kept in gain, wool, lamb and milk;
        about its maintenance. [MJ/day], 0.5 to 60.
    fleece_mm, wind_km_per_h, rain_mm_per_day
        As in `external_insulation_c_m2_day_per_mj`.
    radius_mm : float or None
        None takes `body_radius_mm`. [mm]

    Returns
    -------
    float
        39 + 1.3 Ie - H (1.3 + Ie), H the heat of a square metre. The heat that leaves by the
        skin's moisture goes before the fleece, so it multiplies Ie. [degC]

    Raises
    ------
    OutOfRange
        A value outside its range.

    Source
    ------
    CSIRO-2007, from memory (brackets N-S18, print). Mark: memory.
    """
    within("heat of the sheep [MJ/day]", float(heat_mj_per_day), *HEAT_MJ)
    radius = body_radius_mm(weight_kg) if radius_mm is None else radius_mm
    outer = external_insulation_c_m2_day_per_mj(fleece_mm, wind_km_per_h, rain_mm_per_day, radius)
    heat = heat_mj_per_day / surface_area_m2(weight_kg)
    return BODY_C + EVAPORATED_MJ_PER_M2_DAY * outer - heat * (TISSUE_INSULATION + outer)


def clear_night_rise_c(temperature_c: float, is_clear: bool = True) -> float:
    """What a clear cold night adds to the lower critical temperature [degC].

    Parameters
    ----------
    temperature_c : float
        Mean of the day. [degC]
    is_clear : bool
        Clear sky at night.

    Returns
    -------
    float
        5 from -10 to 10 degC under a clear sky, else 0. [degC]

    Raises
    ------
    OutOfRange
        Temperature outside -60 to 50 degC.

    Source
    ------
    N-S17, quoting the edition of 1990 of CSIRO-2007. Mark: restated.
    """
    within("temperature [degC]", float(temperature_c), *TEMPERATURE_C)
    least, most = CLEAR_NIGHT_RANGE_C
    return CLEAR_NIGHT_C if is_clear and least <= temperature_c <= most else 0.0


def cold_me_mj_per_day(
    weight_kg: float,
    heat_mj_per_day: float,
    temperature_c: float,
    fleece_mm: float,
    wind_km_per_h: float = 0.0,
    rain_mm_per_day: float = 0.0,
    radius_mm: float | None = None,
    is_clear_night: bool = False,
    sun_c: float = 0.0,
) -> ColdDay:
    """Extra energy of one day, and whether it is a day that kills.

    Parameters
    ----------
    weight_kg, heat_mj_per_day, fleece_mm, wind_km_per_h, rain_mm_per_day, radius_mm
        As in `lower_critical_temperature_c`.
    temperature_c : float
        Mean of the day. [degC], -60 to 50.
    is_clear_night : bool
        Off unless said: see `clear_night_rise_c`.
    sun_c : float
        What bright sun adds to the air's temperature; NRC 1981 is quoted with 3 to 5. [degC],
        0 to 5, nothing unless said.

    Returns
    -------
    ColdDay
        A (LCT - T)/(1.3 + Ie) below the lower critical temperature, else 0; capped at the heat of
        the sheep, where it is a danger to life and no longer a question of feed.

    Raises
    ------
    OutOfRange
        A value outside its range.

    Source
    ------
    CSIRO-2007, from memory; form as the beef version in N-S17, print. The cap is judgement.
    Mark: memory.
    """
    within("temperature [degC]", float(temperature_c), *TEMPERATURE_C)
    within("what the sun adds [degC]", float(sun_c), 0.0, SUN_MOST_C)
    radius = body_radius_mm(weight_kg) if radius_mm is None else radius_mm
    critical = lower_critical_temperature_c(
        weight_kg, heat_mj_per_day, fleece_mm, wind_km_per_h, rain_mm_per_day, radius
    ) + clear_night_rise_c(temperature_c, is_clear_night)
    below = critical - (temperature_c + sun_c)
    if below <= 0:
        return ColdDay(0.0, 0.0, critical, False)
    outer = external_insulation_c_m2_day_per_mj(fleece_mm, wind_km_per_h, rain_mm_per_day, radius)
    extra = surface_area_m2(weight_kg) * below / (TISSUE_INSULATION + outer)
    return ColdDay(min(extra, heat_mj_per_day), extra, critical, extra >= heat_mj_per_day)


def wind_at_sheep_km_per_h(
    wind_km_per_h: float, is_open_mast: bool = True, shelter_factor: float = 1.0
) -> float:
    """Wind where the sheep stand [km/h].

    Parameters
    ----------
    wind_km_per_h : float
        As measured. [km/h], 0 to 250.
    is_open_mast : bool
        Measured on an open mast, 10 m up, as in weather reports.
    shelter_factor : float
        Share of the wind that a wall, hedge or wood lets through. [-], 0 to 1.

    Returns
    -------
    float
        Half of the mast's wind, times the factor. [km/h]

    Raises
    ------
    OutOfRange
        A value outside its range.

    Source
    ------
    About half of the wind at 10 m is left at 0.5 m over short grass by the log profile; for the
    wind at the sheep that CSIRO-2007 asks for. Mark: derived.
    """
    within("wind [km/h]", float(wind_km_per_h), *WIND_KM_PER_H)
    within("shelter factor", float(shelter_factor), 0.0, 1.0)
    return wind_km_per_h * (MAST_TO_SHEEP if is_open_mast else 1.0) * shelter_factor


def rule_of_share_me_mj_per_day(
    maintenance_me_mj_per_day: float, below_c: float, share_per_c: float = SLIGHT_SHARE_PER_C
) -> float:
    """Extra energy by a simple rule: a share of maintenance for each degree [MJ ME/day].

    Parameters
    ----------
    maintenance_me_mj_per_day : float
        [MJ ME/day]
    below_c : float
        Degrees below the lower critical temperature; nothing above it. [degC]
    share_per_c : float
        0.01, a feed merchant's; or 0.018, 1 % for each degree Fahrenheit. [-/degC]

    Returns
    -------
    float
        [MJ ME/day]

    Raises
    ------
    OutOfRange
        A value outside its range.

    Source
    ------
    N-S28 (1 % for each degC), N-S27 (1 % of TDN for each degF, said of cattle). Mark: print.
    """
    within("maintenance [MJ/day]", float(maintenance_me_mj_per_day), *HEAT_MJ)
    within("degrees below [degC]", float(below_c), -150.0, 150.0)
    return share_per_c * maintenance_me_mj_per_day * max(below_c, 0.0)


def rule_of_slope_me_mj_per_day(below_c: float) -> float:
    """Extra energy by a simple rule: 1/4 lb TDN for each 10 degrees Fahrenheit [MJ ME/day].

    Parameters
    ----------
    below_c : float
        Degrees below the lower critical temperature; nothing above it. [degC]

    Returns
    -------
    float
        0.31 for each degC, 1 kg TDN being 15.1 MJ ME. [MJ ME/day]

    Raises
    ------
    OutOfRange
        Over 150 degrees.

    Source
    ------
    N-S25; TDN turned into ME as NRC-1985 does. Mark: print.
    """
    within("degrees below [degC]", float(below_c), -150.0, 150.0)
    return SLOPE_MJ_PER_C * max(below_c, 0.0)


def sheep_chill_index_kj_per_m2_h(
    temperature_c: float, wind_km_per_h: float, rain_mm_per_day: float
) -> float:
    """Chill index of weather for sheep [kJ/m2/h]: a flag for lambs and shorn sheep, not a need.

    Parameters
    ----------
    temperature_c : float
        Mean of the day. [degC]
    wind_km_per_h : float
        [km/h], 0 to 250.
    rain_mm_per_day : float
        [mm/day], 0 to 400.

    Returns
    -------
    float
        (11.7 + 3.1 v^0.5)(40 - T) + 481 + 418(1 - e^(-0.04 R)), v in m/s. [kJ/m2/h]

    Raises
    ------
    OutOfRange
        A value outside its range.

    Source
    ------
    In public use for sheep weather alerts; the equation is remembered, of the school of
    CSIRO-2007. Mark: memory.
    """
    within("temperature [degC]", float(temperature_c), *TEMPERATURE_C)
    within("wind [km/h]", float(wind_km_per_h), *WIND_KM_PER_H)
    within("rain [mm/day]", float(rain_mm_per_day), *RAIN_MM)
    root = math.sqrt(wind_km_per_h / 3.6)
    wet = 418 * (1 - math.exp(-0.04 * rain_mm_per_day))
    return (11.7 + 3.1 * root) * (40 - temperature_c) + 481 + wet
