"""What sheep can eat: SCA (1990), CSIRO (2007), from memory; a hint, never a limit."""

from __future__ import annotations

from ration.errors import OutOfRange, Problem
from ration.standards.afrc1993.ground import within
from ration.standards.csiro2007.growth import relative_size

# kind: (digestibility that is eaten in full, loss of appetite per unit below it)
QUALITY_OF_KIND = {"grass": (0.8, 1.7)}


def potential_intake_kg_dm_per_day(
    weight_kg: float, srw_kg: float, relative_condition: float = 1.0
) -> float:
    """Dry matter a sheep eats of the best grass, as much as it likes [kg DM/day].

    Parameters
    ----------
    weight_kg, srw_kg : float
        Live weight and standard reference weight. [kg]
    relative_condition : float
        Weight over the usual weight at that frame, BC. [-], 0.5 to 1.5; fat sheep eat less.

    Returns
    -------
    float
        0.04 SRW Z (1.7 - Z), times BC (1.5 - BC)/0.5 where BC is above 1. [kg DM/day]

    Raises
    ------
    OutOfRange
        Anything outside what is covered.

    Source
    ------
    CSIRO-2007, from memory. Mark: memory.
    """
    within("relative condition", float(relative_condition), 0.5, 1.5)
    z = relative_size(weight_kg, srw_kg)
    fat = relative_condition * (1.5 - relative_condition) / 0.5 if relative_condition > 1 else 1.0
    return 0.04 * srw_kg * z * (1.7 - z) * fat


def relative_intake_quality(digestibility_share: float, kind: str = "grass") -> float:
    """Share of potential intake that a feed's digestibility lets a sheep eat.

    Parameters
    ----------
    digestibility_share : float
        Digestibility of dry matter. [-], 0 to 1.
    kind : str
        grass: fresh, hay or silage. Legumes and concentrates are eaten more freely; no figure for
        them is on file, so they are refused.

    Returns
    -------
    float
        1 - 1.7 (0.8 - D), within 0 to 1. [-]

    Raises
    ------
    OutOfRange
        Digestibility outside 0 to 1, or a kind with no figure.

    Source
    ------
    CSIRO-2007, from memory ("about"). Mark: memory.
    """
    within("digestibility of dry matter (share)", float(digestibility_share), 0.0, 1.0)
    if kind not in QUALITY_OF_KIND:
        known = ", ".join(QUALITY_OF_KIND)
        raise OutOfRange(
            Problem("", f'kind of feed "{kind}"', f"only {known} has a figure on file")
        )
    full, slope = QUALITY_OF_KIND[kind]
    return min(max(1.0 - slope * (full - digestibility_share), 0.0), 1.0)


def intake_kg_dm_per_day(
    weight_kg: float,
    srw_kg: float,
    digestibility_share: float,
    relative_condition: float = 1.0,
    kind: str = "grass",
) -> float:
    """Dry matter a sheep eats of one forage to appetite [kg DM/day]; a hint.

    Parameters
    ----------
    weight_kg, srw_kg, relative_condition
        As in `potential_intake_kg_dm_per_day`.
    digestibility_share, kind
        As in `relative_intake_quality`.

    Returns
    -------
    float
        Potential intake times relative quality. [kg DM/day]

    Raises
    ------
    OutOfRange
        Anything outside what is covered.

    Source
    ------
    CSIRO-2007, from memory. Mark: memory.
    """
    most = potential_intake_kg_dm_per_day(weight_kg, srw_kg, relative_condition)
    return most * relative_intake_quality(digestibility_share, kind)
