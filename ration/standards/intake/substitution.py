"""How much hay trough feed pushes out: published rates, practice, and the straight row of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ration.errors import OutOfRange, Problem
from ration.standards.afrc1993.ground import within

Array = NDArray[np.float64]

# (energy of the hay [MJ ME/kg DM], hay left for each kg of trough feed): common practice
SUBSTITUTION_BY_PRACTICE = ((7.5, 0.10), (8.5, 0.55), (10.0, 1.00))


class SubstitutionPoint(NamedTuple):
    """One published, or practised, rate of substitution.

    Attributes
    ----------
    what : str
        Sheep and feed, in words.
    share : float
        Hay left for each kg of trough feed eaten, as dry matter. [kg/kg]
    source, mark : str
        Key of the table of sources ("" for common practice), and how it is known.
    omd_share, cp_g_per_kg_dm, ndf_g_per_kg_dm, me_mj_per_kg_dm : float or None
        Of the forage, where told.
    """

    what: str
    share: float
    source: str
    mark: str
    omd_share: float | None = None
    cp_g_per_kg_dm: float | None = None
    ndf_g_per_kg_dm: float | None = None
    me_mj_per_kg_dm: float | None = None


SUBSTITUTION_POINTS: tuple[SubstitutionPoint, ...] = (
    SubstitutionPoint("ewes in lamb, hay", 0.63, "P-S140", "print", omd_share=0.56),
    SubstitutionPoint("ewes in milk, hay", 0.62, "P-S141", "print", omd_share=0.59),
    SubstitutionPoint("ewes in milk, mean of three hays", 0.30, "P-S141", "print"),
    SubstitutionPoint("ryegrass hay, early", 1.05, "P-S142", "print", None, 160.0, 510.0),
    SubstitutionPoint("ryegrass hay, late", 0.12, "P-S142", "print", None, 81.0, 600.0),
    SubstitutionPoint("lucerne", 1.76, "P-S142", "print"),
    SubstitutionPoint("Welsh ewe lambs, average hay, 100 g concentrate", 0.62, "P-S83", "derived"),
    SubstitutionPoint("Welsh ewe lambs, average hay, 200 g concentrate", 0.57, "P-S83", "derived"),
    SubstitutionPoint("Welsh ewe lambs, average hay, 400 g concentrate", 0.47, "P-S83", "derived"),
    SubstitutionPoint("yarded lambs, ripe hay, over 400 g, at most", 1.1, "P-S97", "print"),
    SubstitutionPoint("lambs on barley straw, barley and nitrogen", 0.50, "P-S131", "print"),
    SubstitutionPoint("lambs on barley straw, fish meal and lucerne", 0.36, "P-S131", "print"),
    SubstitutionPoint("lambs on barley straw, cottonseed meal", 0.25, "P-S131", "print"),
    *(
        SubstitutionPoint(what, share, "", "practice", me_mj_per_kg_dm=me)
        for what, (me, share) in zip(
            ("very poor hay", "average hay", "very good hay"),
            SUBSTITUTION_BY_PRACTICE,
            strict=True,
        )
    ),
)
SOURCES_DISAGREE = (
    "Trials disagree on how much hay trough feed pushes out: at a digestibility of 0.56 one "
    "found 0.63 kg a kg, on late ryegrass hay another 0.12, on straw with barley a third 0.50, "
    "where practice says next to nothing is pushed out of very poor hay. Weigh what your own clear."
)


def substitution_share(me_mj_per_kg_dm: float) -> float:
    """Hay left in the rack for each kg of trough feed eaten, by how good the hay is [kg/kg DM].

    Straight lines through 0.10 at 7.5 MJ or less, 0.55 at 8.5 and 1.00 at 10 MJ or more: better
    hay is left for trough feed, poor hay is not. Published rates stand in `SUBSTITUTION_POINTS`;
    they scatter widely about this line and with each other (`SOURCES_DISAGREE`).

    Parameters
    ----------
    me_mj_per_kg_dm : float
        Energy of the hay. [MJ ME/kg DM], 3 to 15.

    Returns
    -------
    float
        0.10 to 1.00. [kg/kg]

    Source
    ------
    What is said in practice (nearly 0 on very poor hay, 0.5 to 0.6 on average, about 1 on very
    good); the energies it is tied to are ours. P-S83, P-S140, P-S141, P-S142 are to be shown beside
    it. Mark: practice.
    """
    within("energy of the hay [MJ/kg DM]", me_mj_per_kg_dm, 3.0, 15.0)
    energies, shares = zip(*SUBSTITUTION_BY_PRACTICE, strict=True)
    return float(np.interp(me_mj_per_kg_dm, energies, shares))


def hay_beside_concentrate_kg_dm_per_day(
    appetite_kg_dm_per_day: float, substitution: float, concentrate_kg_dm_per_day: float
) -> float:
    """Hay eaten beside trough feed when hay is always in front of them [kg DM/day].

    Parameters
    ----------
    appetite_kg_dm_per_day : float
        Eaten of this hay when there is nothing else. [kg DM/day]
    substitution : float
        Hay left for each kg of trough feed. [kg/kg DM], 0 to 2.
    concentrate_kg_dm_per_day : float
        Trough feed eaten. [kg DM/day]

    Returns
    -------
    float
        Appetite - substitution x trough feed, never under 0. [kg DM/day]

    Source
    ------
    What substitution means; P-S140 and P-S83 give such rates. Mark: practice.
    """
    _not_negative("appetite [kg DM/day]", appetite_kg_dm_per_day)
    _not_negative("trough feed [kg DM/day]", concentrate_kg_dm_per_day)
    within("substitution", substitution, 0.0, 2.0)
    return max(0.0, appetite_kg_dm_per_day - substitution * concentrate_kg_dm_per_day)


def appetite_row(
    appetite_kg_dm_by_forage: Sequence[float] | Array,
    substitution: float,
    is_forage: Sequence[bool] | Array,
    is_concentrate: Sequence[bool] | Array,
    hay: int,
) -> tuple[Array, float]:
    """The straight row that a hay always in front of them obeys: coefficients and right-hand side.

    What is eaten of it is its appetite A less substitution s x trough feed; another forage given
    beside it takes its own share of the appetite. So

        x_hay + s x (trough feeds) + sum over other forages of x_f A_hay / A_f = A_hay

    Parameters
    ----------
    appetite_kg_dm_by_forage : sequence of float (n,)
        Eaten of each forage alone; read only where `is_forage`. [kg DM/day]
    substitution : float
        Hay left for each kg of trough feed. [kg/kg DM], 0 to 2.
    is_forage, is_concentrate : sequence of bool (n,)
        What each feed is; what is neither (minerals) pushes nothing out.
    hay : int
        Number of the forage that is always in front of them.

    Returns
    -------
    tuple of array (n,), float
        Coefficients per kg DM of each feed [-], and what they add up to [kg DM/day].

    Raises
    ------
    OutOfRange
        The hay is not a forage, or an appetite is not over 0; all of them.

    Source
    ------
    What substitution means; P-S140 and P-S83 give such rates. Mark: practice.
    """
    appetite = np.asarray(appetite_kg_dm_by_forage, dtype=float)
    forage = np.asarray(is_forage, dtype=bool)
    trough = np.asarray(is_concentrate, dtype=bool)
    if not appetite.shape == forage.shape == trough.shape or appetite.ndim != 1:
        raise OutOfRange("Appetites and kinds of feed are not of one length.")
    within("substitution", substitution, 0.0, 2.0)
    faults = []
    if not 0 <= hay < len(forage) or not forage[hay]:
        faults.append(Problem("", f"feed {hay} is no forage", "only a forage is fed to appetite"))
    for j in np.flatnonzero(forage):
        if not (math.isfinite(appetite[j]) and appetite[j] > 0):
            read = f"appetite for forage {j} is {appetite[j]:g} kg DM"
            faults.append(Problem("", read, "it must be over 0"))
    if faults:
        raise OutOfRange(*faults)
    out = np.zeros(len(forage))
    out[forage] = appetite[hay] / appetite[forage]
    out[trough & ~forage] = substitution
    return out, float(appetite[hay])


def _not_negative(what: str, value: float) -> None:
    if not (math.isfinite(value) and value >= 0):
        raise OutOfRange(Problem("", f"{what} {value:g}", "it is 0 or more"))
