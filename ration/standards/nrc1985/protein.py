"""Crude protein of NRC (1985), the sum of its terms.

Need = (growth + wool + faecal + urinary + skin + womb + milk, net) / 0.561. Every coefficient is
remembered (`terms`); together they give the eight printed maintenance and early-gestation rows to
the gram. The protein of gain of grown sheep is worked back from the printed flushing rows.

For a given sheep the need is a straight line in dry-matter intake: a constant and a slope.
"""

from __future__ import annotations

from ration.standards.nrc1985.energy import (
    BEYOND_THE_ROW,
    MOST_LOSS_G_PER_DAY,
    STILL_GAIN_G_PER_DAY,
)
from ration.standards.nrc1985.rows import (
    LAMB_ROWS,
    TABLE,
    class_covered,
    number,
    table_row_value,
    womb_gain_g_per_day,
)
from ration.standards.nrc1985.terms import (
    FAECAL_G_PER_KG_DM,
    FLUSHING_GAIN_G_PER_DAY,
    LAMB_WOOL_SHARE,
    MOST_DMI_KG_PER_DAY,
    NET_PROTEIN_VALUE,
    dermal_protein_g_per_day,
    faecal_protein_g_per_day,
    gestation_protein_g_per_day,
    grown_gain_protein_g_per_kg,
    growth_protein_g_per_kg_gain,
    milk_protein_g_per_day,
    urinary_protein_g_per_day,
    usual_milk_kg_per_day,
    wool_protein_g_per_day,
)

LOSS_CREDIT_G_PER_G = 0.1
EARLY_GAIN_G_PER_DAY = TABLE["early gestation"][0].gain_g_per_day
LAMB_WEIGHT_KG = (10.0, 100.0)
MOST_LAMB_GAIN_G_PER_DAY = 500.0


def _is_grown(sheep_class: str) -> bool:
    return sheep_class not in LAMB_ROWS


def _free_gain(sheep_class: str, state: str | None) -> float:
    """Gain that the table's grown rows do not charge protein for [g/day]."""
    if not _is_grown(sheep_class):
        return 0.0
    return {None: STILL_GAIN_G_PER_DAY, "early gestation": EARLY_GAIN_G_PER_DAY}.get(state, 0.0)


def _net_per_g(
    weight_kg: float, sheep_class: str, state: str | None, mature_weight_kg: float | None
) -> float:
    """Net protein for each g of charged gain, wool that goes with it included [g/g]."""
    if _is_grown(sheep_class):
        charged_kg = (FLUSHING_GAIN_G_PER_DAY - STILL_GAIN_G_PER_DAY) / 1000
        kept = grown_gain_protein_g_per_kg(weight_kg) * FLUSHING_GAIN_G_PER_DAY / 1000
        return kept / charged_kg / 1000
    kept = growth_protein_g_per_kg_gain(weight_kg, mature_weight_kg) / 1000
    return kept * (1.0 + (LAMB_WOOL_SHARE if state is None else 0.0))


def _net_without_gain(
    weight_kg: float,
    sheep_class: str,
    state: str | None,
    lambs: float,
    milk_kg_per_day: float | None,
    mature_weight_kg: float | None,
) -> float:
    """Net protein that depends on neither intake nor the gain of the animal's own body [g/day]."""
    class_covered(sheep_class, state)
    if _is_grown(sheep_class):
        table_row_value("flushing", weight_kg, "dm_kg_per_day")  # refuses what has no rows
    else:
        number("live weight", weight_kg, *LAMB_WEIGHT_KG, " kg")
    net = urinary_protein_g_per_day(weight_kg) + dermal_protein_g_per_day(weight_kg)
    net += gestation_protein_g_per_day(state, lambs)
    if _is_grown(sheep_class) or state is not None:
        net += wool_protein_g_per_day()
    if state == "lactation":
        if milk_kg_per_day is None:
            milk_kg_per_day = usual_milk_kg_per_day(lambs, sheep_class == "ewe-lamb")
        net += milk_protein_g_per_day(milk_kg_per_day)
    if sheep_class == "ewe-lamb" and state == "late gestation":
        womb_kg = womb_gain_g_per_day(sheep_class, state, lambs) / 1000
        net += womb_kg * growth_protein_g_per_kg_gain(weight_kg, mature_weight_kg)
    return net


def _gain_covered(gain_g_per_day: float, sheep_class: str, state: str | None) -> float:
    most = MOST_LAMB_GAIN_G_PER_DAY
    if _is_grown(sheep_class):
        most = BEYOND_THE_ROW * FLUSHING_GAIN_G_PER_DAY
    least = -MOST_LOSS_G_PER_DAY if state == "lactation" else 0.0
    return number("gain", gain_g_per_day, least, most, " g/day")


def cp_need_line(
    weight_kg: float,
    gain_g_per_day: float,
    sheep_class: str,
    state: str | None = None,
    lambs: float = 1.0,
    milk_kg_per_day: float | None = None,
    mature_weight_kg: float | None = None,
) -> tuple[float, float]:
    """Crude protein need as a constant [g/day] and a slope with dry matter eaten [g/kg DM].

    Grown sheep: the first 10 g of daily gain (30 g early in lamb) cost no protein, as in the rows;
    the rest is charged so that the flushing rows come out at their 100 g. Loss in milk is credited
    with 0.1 g of net protein a gram. Ewe lambs in lamb: wool as ewes, and near lambing the womb's
    gain charged as growth too; so the remembered rows come out at 99 to 103 % early, 104 to 106 %
    late.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg]; lambs 10 to 100, grown sheep 50 to 90.
    gain_g_per_day : float
        Gain of the animal's own body, without the womb's. [g/day], 0 (in milk -200) to 500 for
        lambs, 125 for grown sheep.
    sheep_class, state, lambs
        As in `energy_line`; twins in milk from 1.5 lambs.
    milk_kg_per_day : float or None
        Milk; None takes that of the rows (`usual_milk_kg_per_day`). Read in lactation only. [kg]
    mature_weight_kg : float or None
        Weight of a grown ewe of the breed; None takes a medium breed. Read for lambs only. [kg]

    Returns
    -------
    tuple of float
        need = constant + slope x DMI; slope 33.44/0.561 = 59.6.

    Raises
    ------
    OutOfRange
        Class, state or a number outside what is covered.

    Source
    ------
    NRC-1985, from memory (8 of 8 protein rows read in N-S1 come out to the gram); the protein of
    grown sheep's gain derived from print. Mark: memory.
    """
    sheep = (weight_kg, sheep_class, state)
    net = _net_without_gain(*sheep, lambs, milk_kg_per_day, mature_weight_kg)
    gain = _gain_covered(gain_g_per_day, sheep_class, state)
    charged = gain - _free_gain(sheep_class, state)
    if gain < 0:
        net += LOSS_CREDIT_G_PER_G * gain
    elif charged > 0:
        net += charged * _net_per_g(*sheep, mature_weight_kg)
    return net / NET_PROTEIN_VALUE, FAECAL_G_PER_KG_DM / NET_PROTEIN_VALUE


def cp_need_g_per_day(
    weight_kg: float,
    gain_g_per_day: float,
    dmi_kg_per_day: float,
    sheep_class: str,
    state: str | None = None,
    lambs: float = 1.0,
    milk_kg_per_day: float | None = None,
    mature_weight_kg: float | None = None,
) -> float:
    """Crude protein need at a given intake [g/day].

    Parameters
    ----------
    weight_kg, gain_g_per_day, sheep_class, state, lambs, milk_kg_per_day, mature_weight_kg
        As in `cp_need_line`.
    dmi_kg_per_day : float
        Dry matter eaten. [kg DM/day], 0 to 6.

    Returns
    -------
    float
        [g/day]

    Raises
    ------
    OutOfRange
        As in `cp_need_line`, or an intake outside 0 to 6 kg.

    Source
    ------
    NRC-1985, from memory (8 of 8 protein rows read in N-S1 come out to the gram). Mark: memory.
    """
    eaten = number("dry matter eaten", dmi_kg_per_day, 0.0, MOST_DMI_KG_PER_DAY, " kg/day")
    constant, slope = cp_need_line(
        weight_kg, gain_g_per_day, sheep_class, state, lambs, milk_kg_per_day, mature_weight_kg
    )
    return constant + slope * eaten


def gain_from_cp_g_per_day(
    weight_kg: float,
    cp_g_per_day: float,
    dmi_kg_per_day: float,
    sheep_class: str,
    state: str | None = None,
    lambs: float = 1.0,
    milk_kg_per_day: float | None = None,
    mature_weight_kg: float | None = None,
) -> float:
    """Gain of the animal's own body that a crude protein intake allows [g/day].

    Short of protein for no gain the answer is a loss: of lambs on their growth line, of ewes at
    0.1 g of net protein a gram. Read it there as a direction, not a figure.

    Parameters
    ----------
    weight_kg, dmi_kg_per_day, sheep_class, state, lambs, milk_kg_per_day, mature_weight_kg
        As in `cp_need_g_per_day`.
    cp_g_per_day : float
        Crude protein eaten. [g/day], 0 to 2000.

    Returns
    -------
    float
        [g/day]; where the need does not rise with gain (ewes up to 10 or 30 g), the upper end.

    Raises
    ------
    OutOfRange
        As in `cp_need_g_per_day`, or protein outside 0 to 2000 g/day.

    Source
    ------
    NRC-1985, algebra on `cp_need_line`. Mark: derived.
    """
    sheep = (weight_kg, sheep_class, state)
    left = NET_PROTEIN_VALUE * number("crude protein", cp_g_per_day, 0.0, 2000.0, " g/day")
    left -= faecal_protein_g_per_day(dmi_kg_per_day)
    left -= _net_without_gain(*sheep, lambs, milk_kg_per_day, mature_weight_kg)
    free = _free_gain(sheep_class, state)
    if left < 0 and (_is_grown(sheep_class) or state == "lactation"):
        return free + left / LOSS_CREDIT_G_PER_G
    return free + left / _net_per_g(*sheep, mature_weight_kg)
