"""Copper of sheep: which breeds store it, and how much molybdenum and sulphur let through.

Absorption by Suttle and McLauchlan (1976), restated in a later paper. It informs; no need and no
limit rests on it.
"""

from __future__ import annotations

from ration.standards.afrc1993.ground import within

# Named by P-S37 to P-S40; Beltex and the spelling Charolais from memory.
STORES_COPPER = (
    "texel", "beltex", "suffolk", "charollais", "charolais", "bluefaced leicester",
    "blue faced leicester", "soay", "rouge", "ronaldsay",
)  # fmt: skip
MOLYBDENUM_MG_PER_KG_DM = (0.0, 6.0)
SULPHUR_G_PER_KG_DM = (0.0, 6.0)


def stores_copper(breed: str) -> bool:
    """Whether the name of a breed or cross holds a breed that stores copper.

    Parameters
    ----------
    breed : str
        As the farmer says it; "" when not said.

    Returns
    -------
    bool
        False also for a breed that nobody has named: it is no proof of safety.

    Source
    ------
    P-S37, P-S38, P-S39 and P-S40. Mark: print.
    """
    words = " ".join(breed.lower().replace("-", " ").split())
    return any(name in words for name in STORES_COPPER)


def copper_absorption_share(molybdenum_mg_per_kg_dm: float, sulphur_g_per_kg_dm: float) -> float:
    """Share of the copper eaten that sheep take up [-].

    Parameters
    ----------
    molybdenum_mg_per_kg_dm : float
        Molybdenum of the whole ration. [mg/kg DM], 0 to 6: above, the hindrance eases (P-S44).
    sulphur_g_per_kg_dm : float
        Sulphur of the whole ration. [g/kg DM], 0 to 6

    Returns
    -------
    float
        10^(-1.153 - 0.0019 Mo - 0.0755 S - 0.0131 Mo S). [-]

    Raises
    ------
    OutOfRange
        Molybdenum or sulphur outside 0 to 6.

    Source
    ------
    Suttle and McLauchlan 1976, restated in P-S43; upper end by P-S44. Mark: restated.
    """
    within("molybdenum [mg/kg DM]", molybdenum_mg_per_kg_dm, *MOLYBDENUM_MG_PER_KG_DM)
    within("sulphur [g/kg DM]", sulphur_g_per_kg_dm, *SULPHUR_G_PER_KG_DM)
    mo, s = molybdenum_mg_per_kg_dm, sulphur_g_per_kg_dm
    return float(10 ** (-1.153 - 0.0019 * mo - 0.0755 * s - 0.0131 * mo * s))
