"""Energy of NRC (1985): by the table, never by its net energy equations.

Table 1 cannot be rebuilt from the book's own net energy equations (intake so reckoned is 0.98 to
1.25 times the printed one for grown sheep, further off for lambs). So the need here is a straight
line in gain between rows of the table; the equations stand in `net_energy`, for information.
"""

from __future__ import annotations

import math

from ration.standards.nrc1985.rows import (
    MCAL_DE_PER_KG_TDN,
    ME_PER_DE,
    TABLE,
    number,
    stage_of,
    table_row_value,
    womb_gain_g_per_day,
)

STILL_GAIN_G_PER_DAY = TABLE["maintenance"][0].gain_g_per_day
BEYOND_THE_ROW = 1.25
MOST_LOSS_G_PER_DAY = 200.0  # in milk only


def de_mcal_from_tdn(tdn_kg: float) -> float:
    """Digestible energy of total digestible nutrients [Mcal].

    Parameters
    ----------
    tdn_kg : float
        Total digestible nutrients. [kg], 0 to 10.

    Returns
    -------
    float
        4.409 TDN. [Mcal]

    Raises
    ------
    OutOfRange
        Not a number, or outside 0 to 10 kg.

    Source
    ------
    NRC-1985, holds on 12 of the 13 rows read (N-S1). Mark: derived.
    """
    return MCAL_DE_PER_KG_TDN * number("TDN", tdn_kg, 0.0, 10.0, " kg")


def me_mcal_from_de(de_mcal: float) -> float:
    """Metabolisable energy of digestible energy [Mcal].

    Parameters
    ----------
    de_mcal : float
        Digestible energy. [Mcal], 0 to 50.

    Returns
    -------
    float
        0.82 DE. [Mcal]

    Raises
    ------
    OutOfRange
        Not a number, or outside 0 to 50 Mcal.

    Source
    ------
    NRC-1985, holds on the 13 rows read (N-S1): on 12 from the TDN, on the 90 kg flushing row
    from its printed DE. Mark: derived.
    """
    return ME_PER_DE * number("digestible energy", de_mcal, 0.0, 50.0, " Mcal")


def _standing_me(weight_kg: float) -> float:
    """ME at the maintenance rows' 10 g/day; beyond 50 to 90 kg by weight to the power 0.75."""
    rows = TABLE["maintenance"]
    nearest = min(max(weight_kg, rows[0].weight_kg), rows[-1].weight_kg)
    me = table_row_value("maintenance", nearest, "me_mj_per_day")
    return me * math.pow(weight_kg / nearest, 0.75)


def _growing_line(weight_kg: float, sheep_class: str) -> tuple[float, float, float]:
    """ME at no gain, ME per g, and the gain of the row: neither in lamb nor in milk."""
    stage = stage_of(sheep_class)
    row_gain = table_row_value(stage, weight_kg, "gain_g_per_day")
    row_me = table_row_value(stage, weight_kg, "me_mj_per_day")
    still = _standing_me(weight_kg)
    per_g = (row_me - still) / (row_gain - STILL_GAIN_G_PER_DAY)
    return still - per_g * STILL_GAIN_G_PER_DAY, per_g, row_gain


def _own_gain(weight_kg: float, sheep_class: str, state: str, lambs: float) -> float:
    """Gain of the ewe's own body in the row of her state."""
    stage = stage_of(sheep_class, state, lambs)
    row_gain = table_row_value(stage, weight_kg, "gain_g_per_day")
    return row_gain - womb_gain_g_per_day(sheep_class, state, lambs)


def energy_line(
    weight_kg: float, sheep_class: str, state: str | None = None, lambs: float = 1.0
) -> tuple[float, float]:
    """ME need as a constant [MJ/day] and a slope with gain [MJ per g/day].

    The line runs through the class's row and through standing still: the maintenance rows, which
    carry 10 g/day, straight between 50 and 90 kg and by W^0.75 beyond. In lamb or in milk it runs
    through the row of the state with the slope of the same sheep growing. Gain is that of the
    ewe's own body: what the womb puts on is in the constant (`womb_gain_g_per_day`).

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg]; ewe lambs 30 to 70 (in lamb 40 to 70), tup lambs 40 to 100, wether lambs
        30 to 50, gimmers, wethers and ewes 50 to 90.
    sheep_class : str
        ewe-lamb, tup-lamb, wether-lamb, gimmer, wether or ewe.
    state : str or None
        None, early gestation, late gestation or lactation.
    lambs : float
        Lambs a ewe: from 1.65 the rows for 180 to 225 % near lambing, from 1.5 those for twins
        in milk. [-]

    Returns
    -------
    tuple of float
        ME at no gain [MJ/day]; ME per g of daily gain [MJ/g].

    Raises
    ------
    OutOfRange
        Class, state, lambs or weight for which the table has no rows.

    Source
    ------
    NRC-1985 Table 1, rows print or memory (`row_marks`); the line between rows is ours.
    Mark: derived.
    """
    at_zero, per_g, _ = _growing_line(weight_kg, sheep_class)
    if state is None:
        stage_of(sheep_class, state, lambs)
        return at_zero, per_g
    stage = stage_of(sheep_class, state, lambs)
    me = table_row_value(stage, weight_kg, "me_mj_per_day")
    return me - per_g * _own_gain(weight_kg, sheep_class, state, lambs), per_g


def gain_covered(
    weight_kg: float,
    gain_g_per_day: float,
    sheep_class: str,
    state: str | None = None,
    lambs: float = 1.0,
) -> float:
    """The gain as a float; refused below 0 (in milk -200) or over 1.25 times the row's."""
    _, _, most = _growing_line(weight_kg, sheep_class)
    if state is not None:
        most = max(most, _own_gain(weight_kg, sheep_class, state, lambs))
    least = -MOST_LOSS_G_PER_DAY if state == "lactation" else 0.0
    what = f"gain at {float(weight_kg):g} kg"
    return number(what, gain_g_per_day, least, BEYOND_THE_ROW * most, " g/day")


def growing_me_mj_per_day(
    weight_kg: float,
    gain_g_per_day: float,
    sheep_class: str,
    state: str | None = None,
    lambs: float = 1.0,
) -> float:
    """ME need for a gain of the animal's own body [MJ/day].

    Parameters
    ----------
    weight_kg, sheep_class, state, lambs
        As in `energy_line`.
    gain_g_per_day : float
        Gain without the womb's. [g/day], 0 (in milk -200) to 1.25 times the row's.

    Returns
    -------
    float
        [MJ/day]

    Raises
    ------
    OutOfRange
        As in `energy_line`, or a gain outside the range above.

    Source
    ------
    NRC-1985 Table 1, rows print or memory (`row_marks`); the line between rows is ours.
    Mark: derived.
    """
    at_zero, per_g = energy_line(weight_kg, sheep_class, state, lambs)
    return at_zero + per_g * gain_covered(weight_kg, gain_g_per_day, sheep_class, state, lambs)


def gain_from_me_g_per_day(
    weight_kg: float,
    me_mj_per_day: float,
    sheep_class: str,
    state: str | None = None,
    lambs: float = 1.0,
) -> float:
    """Gain of the animal's own body on an ME intake [g/day]: the line turned round.

    It may be a loss, or lie beyond the rows: read it there as a direction, not a figure.

    Parameters
    ----------
    weight_kg, sheep_class, state, lambs
        As in `energy_line`.
    me_mj_per_day : float
        ME eaten. [MJ/day], 0 to 100.

    Returns
    -------
    float
        [g/day]

    Raises
    ------
    OutOfRange
        As in `energy_line`, or an ME outside 0 to 100 MJ/day.

    Source
    ------
    NRC-1985, algebra on `energy_line`. Mark: derived.
    """
    me = number("ME eaten", me_mj_per_day, 0.0, 100.0, " MJ/day")
    at_zero, per_g = energy_line(weight_kg, sheep_class, state, lambs)
    return (me - at_zero) / per_g
