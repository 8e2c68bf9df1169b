"""What a batch needs, as a function of the quality of the diet it is given, by each standard.

`of` gives one published standard for a batch (`Standard`: its methods and the promises they keep),
`side_by_side` all of them, never averaged.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from ration import outdoors
from ration.animals import Batch
from ration.errors import InputError, OutOfRange, Problem, UnknownName
from ration.needs import beside
from ration.needs.afrc import Afrc
from ration.needs.beside import Beside, Difference
from ration.needs.csiro import Csiro
from ration.needs.nrc import Nrc
from ration.needs.records import (
    CRUDE_LIMIT,
    FERMENT_LIMIT,
    INTAKE_SHARE_OF_WEIGHT,
    RUMEN_LIMIT,
    Array,
    Chemistry,
    Eaten,
    Figure,
    Needs,
    Protein,
    Supply,
)
from ration.needs.standard import Standard, margin_of

if TYPE_CHECKING:
    from ration.farm import Farm

__all__ = [
    "CRUDE_LIMIT",
    "FERMENT_LIMIT",
    "INTAKE_SHARE_OF_WEIGHT",
    "REGISTRY",
    "RUMEN_LIMIT",
    "STANDARD",
    "Afrc",
    "Array",
    "Beside",
    "Chemistry",
    "Csiro",
    "Difference",
    "Eaten",
    "Figure",
    "Needs",
    "Nrc",
    "Protein",
    "Standard",
    "Supply",
    "of",
    "of_farm",
    "side_by_side",
]

STANDARD = "AFRC 1993"
REGISTRY: dict[str, type[Standard]] = {s.name: s for s in (Afrc, Nrc, Csiro)}


def known(standard: str) -> str:
    """The name of a standard as we write it.

    Raises
    ------
    UnknownName
        It is not on the list.
    """
    name = " ".join(standard.replace("-", " ").upper().split())
    if name not in REGISTRY:
        there_is = ", ".join(REGISTRY)
        raise UnknownName(
            Problem("", f'standard "{standard}" is not known', f"there is {there_is}")
        )
    return name


def of(
    batch: Batch,
    standard: str = STANDARD,
    *,
    margin: float | None = None,
    maintenance: float = 1.0,
    recycled_n_share: float = 0.0,
) -> Standard:
    """The needs of a batch by a published standard.

    Parameters
    ----------
    batch : Batch
        The sheep.
    standard : str
        Name of the standard, one of `REGISTRY`.
    margin : float or None
        Multiplier on energy and protein. [-], 0.8 to 1.5. None takes the standard's own.
    maintenance : float
        Multiplier on maintenance. [-], 0.7 to 2.0.
    recycled_n_share : float
        Degradable protein credited for recycled nitrogen. [-], 0 to 0.3.

    Raises
    ------
    UnknownName
        Standard not on the list.
    OutOfRange
        Margin, multiplier or credit not believable, or sheep the standard does not cover.
    """
    name = known(standard)
    margin = margin_of(name, margin)
    faults = [
        Problem("", f"{what} {value:g}", f"{lo:g} to {hi:g} is believable")
        for what, value, lo, hi in (
            ("safety margin", margin, 0.8, 1.5),
            ("maintenance multiplier", maintenance, 0.7, 2.0),
            ("credit for recycled nitrogen", recycled_n_share, 0.0, 0.3),
        )
        if not lo <= value <= hi
    ]
    if faults:
        raise OutOfRange(*faults)
    found = REGISTRY[name](batch, margin, maintenance, recycled_n_share)
    try:
        found.covered()
    except OutOfRange as error:
        raise error.at(batch.name) from None
    return found


def side_by_side(
    batch: Batch,
    md_mj_per_kg_dm: float,
    *,
    dmi_kg_per_day: float | None = None,
    margin: float | None = None,
    maintenance: float = 1.0,
    recycled_n_share: float = 0.0,
) -> Beside:
    """One batch by every standard, on a diet of one quality; never averaged.

    Parameters
    ----------
    batch, margin, maintenance, recycled_n_share
        As in `of`; margin None gives each standard its own.
    md_mj_per_kg_dm : float
        ME of the diet's dry matter. [MJ/kg DM]
    dmi_kg_per_day : float or None
        Dry matter for what goes with intake; None takes what meets each one's ME need.

    Raises
    ------
    OutOfRange
        No standard covers these sheep on this diet.
    """
    found: dict[str, Needs] = {}
    refused: dict[str, str] = {}
    faults: dict[Problem, str] = {}
    for name in REGISTRY:
        try:
            found[name] = of(
                batch,
                name,
                margin=margin,
                maintenance=maintenance,
                recycled_n_share=recycled_n_share,
            ).at(md_mj_per_kg_dm, dmi_kg_per_day=dmi_kg_per_day)
        except InputError as error:
            refused[name] = beside.in_one_line(error)
            for problem in error.problems:  # what all refuse alike is told once
                faults.setdefault(problem, name)
    if not found:
        alone = len(faults) == 1
        raise OutOfRange(*(p if alone or p.where else p.at(n) for p, n in faults.items()))
    return beside.compared(batch, found, refused)


def of_farm(
    farm: Farm, batch: Batch, start: date | None = None, end: date | None = None
) -> Standard:
    """The needs of a batch as its farm file wants them, cold and walking of the days included.

    Parameters
    ----------
    farm : Farm
        Standard, margin and switches; what the sheep meet out of doors.
    batch : Batch
    start, end : date or None
        Days fed for; None for the farm's own.
    """
    then = batch
    if farm.outdoors is not None and batch.housing != "shed":
        heat = outdoors.heat_mj_per_day(batch, farm.maintenance)
        days = (start or farm.start, end or farm.end)
        then = outdoors.dressed(batch, farm.outdoors, *days, heat)
    return of(
        then,
        farm.standard,
        margin=farm.margin,
        maintenance=farm.maintenance,
        recycled_n_share=farm.recycled_n_share,
    )
