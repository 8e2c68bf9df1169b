"""Calcium, phosphorus and vitamins A and E of NRC (1985)."""

from __future__ import annotations

from ration.standards.nrc1985.rows import (
    SMALL_LAMB_KG,
    TWINS_FROM,
    VITAMIN_A_IU_PER_KG,
    VITAMIN_E_IU_PER_KG_DM,
    class_covered,
    lambs_believable,
    number,
    stage_of,
    table_row_value,
    womb_gain_g_per_day,
)


def ca_fit_g_per_day(weight_kg: float, gain_g_per_day: float) -> float:
    """Calcium of dry ewes, a line through the printed rows [g/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150; fitted at 50 to 90.
    gain_g_per_day : float
        Live-weight gain. [g/day], 0 to 600; fitted at 10 and 100.

    Returns
    -------
    float
        0.52 + 0.0225 W + 35.5 gain in kg. [g/day]

    Raises
    ------
    OutOfRange
        Weight or gain outside the ranges above.

    Source
    ------
    NRC-1985, fitted to the ten maintenance and flushing rows read (N-S1), within 0.11 g; a fit,
    no biology claimed. Mark: derived.
    """
    weight = number("live weight", weight_kg, 5.0, 150.0, " kg")
    gain_kg = number("gain", gain_g_per_day, 0.0, 600.0, " g/day") / 1000
    return 0.52 + 0.0225 * weight + 35.5 * gain_kg


def p_fit_g_per_day(weight_kg: float, gain_g_per_day: float) -> float:
    """Phosphorus of dry ewes, a line through the printed rows [g/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150; fitted at 50 to 90.
    gain_g_per_day : float
        Live-weight gain. [g/day], 0 to 600; fitted at 10 and 100.

    Returns
    -------
    float
        (0.020 W + 5.4 gain in kg) / 0.60. [g/day]

    Raises
    ------
    OutOfRange
        Weight or gain outside the ranges above.

    Source
    ------
    NRC-1985, fitted to the ten maintenance and flushing rows read (N-S1), within 0.04 g.
    Mark: derived.
    """
    weight = number("live weight", weight_kg, 5.0, 150.0, " kg")
    gain_kg = number("gain", gain_g_per_day, 0.0, 600.0, " g/day") / 1000
    return (0.020 * weight + 5.4 * gain_kg) / 0.60


def mineral_line(
    weight_kg: float, sheep_class: str, state: str | None = None, lambs: float = 1.0
) -> tuple[float, float, float, float]:
    """Calcium and phosphorus needs as constants and slopes with gain.

    Standing still by the two fits, at the row's gain the row of the class, straight between. In
    lamb or in milk the row of the state, with the slopes of the same sheep growing. Gain is that
    of the ewe's own body, without the womb's, as in `energy_line`.

    Parameters
    ----------
    weight_kg, sheep_class, state, lambs
        As in `energy_line`.

    Returns
    -------
    tuple of float
        Calcium at no gain [g/day], calcium per g of daily gain [g/g], and phosphorus likewise.

    Raises
    ------
    OutOfRange
        As in `energy_line`.

    Source
    ------
    NRC-1985 Table 1, rows print or memory (`row_marks`); the line between rows is ours.
    Mark: derived.
    """
    growing = stage_of(sheep_class)
    stage = stage_of(sheep_class, state, lambs)
    row_gain = table_row_value(growing, weight_kg, "gain_g_per_day")
    own_gain = table_row_value(stage, weight_kg, "gain_g_per_day")
    own_gain -= womb_gain_g_per_day(sheep_class, state, lambs)
    out: list[float] = []
    for column, fit in (("ca_g_per_day", ca_fit_g_per_day), ("p_g_per_day", p_fit_g_per_day)):
        per_g = table_row_value(growing, weight_kg, column) - fit(weight_kg, 0.0)
        per_g /= row_gain
        out += [table_row_value(stage, weight_kg, column) - per_g * own_gain, per_g]
    return out[0], out[1], out[2], out[3]


def vitamin_a_iu_per_day(
    weight_kg: float, sheep_class: str = "ewe", state: str | None = None, lambs: float = 1.0
) -> float:
    """Vitamin A needed [IU/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.
    sheep_class, state, lambs
        As in `energy_line`; twins from 1.5 lambs.

    Returns
    -------
    float
        47 IU per kg live weight; 85 late in gestation and suckling singles; 100 suckling twins.
        [IU/day]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 150 kg, class, state or lambs not covered.

    Source
    ------
    NRC-1985: 47 holds exactly on the 13 rows read (N-S1); 85 and 100 remembered.
    Mark: derived; 85 and 100 memory.
    """
    weight = number("live weight", weight_kg, 5.0, 150.0, " kg")
    class_covered(sheep_class, state)
    kind = "usual" if state in (None, "early gestation") else "late gestation"
    if lambs_believable(lambs) >= TWINS_FROM and state == "lactation":
        kind = "twins"
    return VITAMIN_A_IU_PER_KG[kind] * weight


def vitamin_e_iu_per_day(dmi_kg_per_day: float, weight_kg: float = 50.0) -> float:
    """Vitamin E needed [IU/day].

    Parameters
    ----------
    dmi_kg_per_day : float
        Dry matter eaten. [kg DM/day], 0 to 6.
    weight_kg : float
        Live weight. [kg], 5 to 150; lambs up to 20 kg need more.

    Returns
    -------
    float
        15 IU per kg DM; 20 for lambs up to 20 kg. [IU/day]

    Raises
    ------
    OutOfRange
        Intake or weight outside the ranges above.

    Source
    ------
    NRC-1985: 15 fits the 13 rows read (N-S1) to the unit; 20 remembered.
    Mark: derived; 20 memory.
    """
    eaten = number("dry matter eaten", dmi_kg_per_day, 0.0, 6.0, " kg/day")
    weight = number("live weight", weight_kg, 5.0, 150.0, " kg")
    return VITAMIN_E_IU_PER_KG_DM[weight <= SMALL_LAMB_KG] * eaten
