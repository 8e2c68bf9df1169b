"""Conversions a laboratory sheet needs: protein from nitrogen, bases, compounds to elements.

Plain floats in and out. Outside its range a function raises `OutOfRange`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from ration.errors import OutOfRange, Problem

T = TypeVar("T")

N_TO_PROTEIN = 6.25
ELEMENT_SHARE = {
    "P2O5": ("P", 0.436),
    "CaO": ("Ca", 0.715),
    "MgO": ("Mg", 0.603),
    "NaCl": ("Na", 0.393),
}


def _within(what: str, value: float, lo: float, hi: float) -> None:
    if not lo <= value <= hi:  # also catches NaN
        raise OutOfRange(Problem("", f"{what} {value:g}", f"the equation covers {lo:g} to {hi:g}"))


def _choice(what: str, key: str, known: Mapping[str, T]) -> T:
    if key not in known:
        raise OutOfRange(Problem("", f'{what} "{key}"', f"it is one of {', '.join(known)}"))
    return known[key]


# --- protein -----------------------------------------------------------------------------------
def cp_from_n_g_per_kg_dm(n_g_per_kg_dm: float) -> float:
    """Crude protein from total nitrogen: 6.25 x N [g/kg DM].

    Parameters
    ----------
    n_g_per_kg_dm : float
        Total nitrogen, on fresh or volatile-corrected dry matter for silage. [g/kg DM], 0 to 470.

    Returns
    -------
    float
        [g/kg DM] Raises `OutOfRange` outside the range.

    Source
    ------
    F-D, the definition of crude protein, as laboratories print it. Mark: print.
    """
    _within("nitrogen [g/kg DM]", n_g_per_kg_dm, 0.0, 470.0)
    return N_TO_PROTEIN * n_g_per_kg_dm


def dcp_of_forage_g_per_kg_dm(cp_g_per_kg_dm: float) -> float:
    """Digestible crude protein of grass, hay and silage, not below 0 [g/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm : float
        Crude protein. [g/kg DM], 0 to 350; below about 40 the answer is held at 0.

    Returns
    -------
    float
        0.9115 CP - 36.7. [g/kg DM] Raises `OutOfRange` outside the range.

    Source
    ------
    MAFF-1975, advisory. Mark: memory.
    """
    _within("protein [g/kg DM]", cp_g_per_kg_dm, 0.0, 350.0)
    return max(0.0, 0.9115 * cp_g_per_kg_dm - 36.7)


# --- conversions -------------------------------------------------------------------------------
def dm_from_moisture_g_per_kg_fresh(moisture_g_per_kg_fresh: float) -> float:
    """Dry matter from moisture [g/kg fresh].

    Parameters
    ----------
    moisture_g_per_kg_fresh : float
        Moisture. [g/kg fresh], 0 to 999.

    Returns
    -------
    float
        1000 - moisture. [g/kg fresh] Raises `OutOfRange` outside the range.

    Source
    ------
    F-D, the definition of dry matter. Mark: derived.
    """
    _within("moisture [g/kg fresh]", moisture_g_per_kg_fresh, 0.0, 999.0)
    return 1000.0 - moisture_g_per_kg_fresh


def element_from_compound_g_per_kg(compound: str, amount_g_per_kg: float) -> float:
    """The element in a mineral declared as its compound [g/kg, basis unchanged].

    Parameters
    ----------
    compound : str
        "P2O5" (P 0.436), "CaO" (Ca 0.715), "MgO" (Mg 0.603) or "NaCl" (salt, Na 0.393).
    amount_g_per_kg : float
        The compound. [g/kg], 0 to 1000.

    Returns
    -------
    float
        [g/kg] Raises `OutOfRange` outside the range or for another compound.

    Source
    ------
    F-C, atomic weights. Mark: derived.
    """
    _within(f"{compound} [g/kg]", amount_g_per_kg, 0.0, 1000.0)
    return amount_g_per_kg * _choice("compound", compound, ELEMENT_SHARE)[1]


def g_per_kg_from_mg(amount_mg_per_kg: float) -> float:
    """Milligrams (parts per million) as grams per kg [g/kg].

    Parameters
    ----------
    amount_mg_per_kg : float
        [mg/kg], 0 to 1 000 000.

    Returns
    -------
    float
        [g/kg] Raises `OutOfRange` outside the range.

    Source
    ------
    F-D, the metric system. Mark: derived.
    """
    _within("amount [mg/kg]", amount_mg_per_kg, 0.0, 1e6)
    return amount_mg_per_kg / 1000.0
