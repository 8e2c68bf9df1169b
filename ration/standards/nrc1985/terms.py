"""Crude protein of NRC (1985), the terms: net protein by purpose.

Every coefficient is remembered; together they give the eight printed maintenance and
early-gestation rows to the gram.
"""

from __future__ import annotations

import math

from ration.errors import OutOfRange, Problem
from ration.standards.nrc1985.net_energy import gain_energy_coefficient
from ration.standards.nrc1985.rows import (
    TABLE,
    TWINS_FROM,
    class_covered,
    lambs_believable,
    number,
    table_row_value,
)

NET_PROTEIN_VALUE = 0.561
FAECAL_G_PER_KG_DM = 33.44
GROWN_WOOL_G_PER_DAY = 6.8
LAMB_WOOL_SHARE = 0.1  # of the protein of growth
FLUSHING_GAIN_G_PER_DAY = TABLE["flushing"][0].gain_g_per_day
MOST_DMI_KG_PER_DAY = 6.0


def faecal_protein_g_per_day(dmi_kg_per_day: float) -> float:
    """Metabolic faecal protein MFP, net [g/day].

    Parameters
    ----------
    dmi_kg_per_day : float
        Dry matter eaten. [kg DM/day], 0 to 6.

    Returns
    -------
    float
        33.44 DMI. [g/day]

    Raises
    ------
    OutOfRange
        Intake outside 0 to 6 kg.

    Source
    ------
    NRC-1985, from memory (consistent with the eight protein rows read in N-S1). Mark: memory.
    """
    eaten = number("dry matter eaten", dmi_kg_per_day, 0.0, MOST_DMI_KG_PER_DAY, " kg/day")
    return FAECAL_G_PER_KG_DM * eaten


def urinary_protein_g_per_day(weight_kg: float) -> float:
    """Endogenous urinary protein EUP, net [g/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.

    Returns
    -------
    float
        0.14675 W + 3.375. [g/day]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 150 kg.

    Source
    ------
    NRC-1985, from memory (consistent with the eight protein rows read in N-S1). Mark: memory.
    """
    return 0.14675 * number("live weight", weight_kg, 5.0, 150.0, " kg") + 3.375


def dermal_protein_g_per_day(weight_kg: float) -> float:
    """Protein lost from the skin, net [g/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.

    Returns
    -------
    float
        0.1125 W^0.75. [g/day]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 150 kg.

    Source
    ------
    NRC-1985, from memory (consistent with the eight protein rows read in N-S1). Mark: memory.
    """
    return 0.1125 * math.pow(number("live weight", weight_kg, 5.0, 150.0, " kg"), 0.75)


def wool_protein_g_per_day(growth_protein_g_per_day: float | None = None) -> float:
    """Protein of the fleece, net [g/day].

    Parameters
    ----------
    growth_protein_g_per_day : float or None
        None for grown sheep; for growing lambs the net protein of their growth. [g/day], 0 to 200.

    Returns
    -------
    float
        6.8 for grown sheep, a tenth of the growth for lambs. [g/day]

    Raises
    ------
    OutOfRange
        Growth outside 0 to 200 g/day.

    Source
    ------
    NRC-1985: 6.8 from memory (consistent with the eight protein rows read in N-S1); the tenth
    derived on remembered lamb rows ("3 + 0.1" is the remembered form, but 3 makes each 5 g high).
    Mark: memory; for lambs derived.
    """
    if growth_protein_g_per_day is None:
        return GROWN_WOOL_G_PER_DAY
    grown = number("protein of growth", growth_protein_g_per_day, 0.0, 200.0, " g/day")
    return LAMB_WOOL_SHARE * grown


def gestation_protein_g_per_day(state: str | None, lambs: float = 1.0) -> float:
    """Protein put into lambs and womb, net [g/day].

    Parameters
    ----------
    state : str or None
        None, early gestation, late gestation or lactation.
    lambs : float
        Lambs a ewe. [-], 0.5 to 5.

    Returns
    -------
    float
        2.95 early, 16.75 for each lamb late, else 0. [g/day]

    Raises
    ------
    OutOfRange
        State not one of those, or lambs outside 0.5 to 5.

    Source
    ------
    NRC-1985, from memory (2.95 consistent with the three gestation rows read in N-S1; 16.75 with
    remembered rows only). Mark: memory.
    """
    class_covered("ewe", state)
    litter = lambs_believable(lambs)
    return {"early gestation": 2.95, "late gestation": 16.75 * litter}.get(state or "", 0.0)


def usual_milk_kg_per_day(lambs: float = 1.0, is_ewe_lamb: bool = False) -> float:
    """Milk that the lactation rows assume [kg/day].

    Parameters
    ----------
    lambs : float
        Lambs suckled; twins from 1.5. [-], 0.5 to 5.
    is_ewe_lamb : bool
        Ewe lambs give about 75 %.

    Returns
    -------
    float
        1.74 with a single, 2.60 with twins. [kg/day]

    Raises
    ------
    OutOfRange
        Lambs outside 0.5 to 5.

    Source
    ------
    NRC-1985, from memory (consistent with remembered rows). Mark: memory.
    """
    milk = 2.60 if lambs_believable(lambs) >= TWINS_FROM else 1.74
    return 0.75 * milk if is_ewe_lamb else milk


def milk_protein_g_per_day(milk_kg_per_day: float) -> float:
    """Protein in milk, net [g/day].

    Parameters
    ----------
    milk_kg_per_day : float
        Milk. [kg/day], 0 to 6.

    Returns
    -------
    float
        47.875 for each kg. [g/day]

    Raises
    ------
    OutOfRange
        Milk outside 0 to 6 kg.

    Source
    ------
    NRC-1985, from memory (consistent with remembered rows). Mark: memory.
    """
    return 47.875 * number("milk", milk_kg_per_day, 0.0, 6.0, " kg/day")


def growth_protein_g_per_kg_gain(weight_kg: float, mature_weight_kg: float | None = None) -> float:
    """Net protein kept in a kilogram of a lamb's gain [g/kg].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 150.
    mature_weight_kg : float or None
        Weight of a grown ewe of the breed; None takes a medium breed. [kg]

    Returns
    -------
    float
        268 - 29.2 ECOG, with ECOG = c W^0.75 Mcal/kg (`gain_energy_coefficient`). [g/kg]

    Raises
    ------
    OutOfRange
        Weight or mature weight outside what is covered, or an animal so near its grown size that
        the equation leaves no protein in gain.

    Source
    ------
    NRC-1985, from memory (consistent with remembered early-weaned rows). Mark: memory.
    """
    weight = number("live weight", weight_kg, 5.0, 150.0, " kg")
    kept = 268.0 - 29.2 * gain_energy_coefficient(mature_weight_kg) * math.pow(weight, 0.75)
    if kept <= 0:
        raise OutOfRange(
            Problem(
                "",
                f"protein of gain at {weight:g} kg",
                "the equation of NRC (1985) leaves none so near the grown size",
                "Give a larger mature weight, or ask for no gain",
            )
        )
    return kept


def grown_gain_protein_g_per_kg(weight_kg: float) -> float:
    """Net protein in a kilogram of a grown sheep's gain, by the flushing rows [g/kg].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 50 to 90.

    Returns
    -------
    float
        Flushing row's crude protein x 0.561, less faecal, urinary, skin and wool protein, over its
        0.1 kg of gain; straight between rows. [g/kg]

    Raises
    ------
    OutOfRange
        Weight outside the flushing rows.

    Source
    ------
    NRC-1985 Table 1 (N-S1), worked back with the remembered terms; no remembered coefficient
    gives it. Mark: derived.
    """
    net = NET_PROTEIN_VALUE * table_row_value("flushing", weight_kg, "cp_g_per_day")
    net -= faecal_protein_g_per_day(table_row_value("flushing", weight_kg, "dm_kg_per_day"))
    net -= urinary_protein_g_per_day(weight_kg) + dermal_protein_g_per_day(weight_kg)
    return (net - GROWN_WOOL_G_PER_DAY) / (FLUSHING_GAIN_G_PER_DAY / 1000)
