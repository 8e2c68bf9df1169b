"""What sheep eat of long hay, alone and beside trough feed: published figures and practice.

Nobody can promise what a sheep will clear. The figures here are trials and rules that disagree;
they are shown beside the band in the farm file, never instead of it. Functions are pure: numbers
in, numbers out.

Letters: W live weight [kg], OMD digestibility of the organic matter [-], s substitution: hay left
in the rack for each kg of trough feed eaten, both as dry matter [kg/kg].
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ration.errors import OutOfRange, Problem
from ration.standards import afrc1993, csiro2007
from ration.standards.afrc1993.ground import weight_is_believable, within

Array = NDArray[np.float64]

TRIAL_HAY_G_PER_KG073 = 49.2
TRIAL_STRAW_G_PER_KG073 = 28.4
TRIAL_HAY_KG = 0.451
TRIAL_POOR_HAY_KG = 0.287
TRIAL_DROP_KG_PER_SHARE = 0.300  # 3 g a day for each 1 % of trough feed in the dry matter
STRAW_G_PER_KG075 = 38.3
FATTENING_SHARE_OF_WEIGHT = 0.04
# stage: (least, most) dry matter as share of live weight, source, mark
EWE_STAGES: dict[str, tuple[float, float, str, str]] = {
    "three weeks before triplets, good silage": (0.014, 0.014, "A-S11", "restated"),
    "in lamb": (0.020, 0.025, "A-S32", "print"),
    "in milk": (0.035, 0.035, "A-S32", "print"),
}
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


def observed_hay_intake_kg_dm_per_day(weight_kg: float) -> float:
    """Average hay to appetite and nothing else, as hill ewe lambs ate it [kg DM/day].

    Fourteen weeks, Welsh Mountain ewe lambs of about 21 kg (451 g a day); anything far from that
    weight is stretched. The same breed ate 287 g of poorer hay (`observed_poor_hay_...`).

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100; seen near 21.

    Returns
    -------
    float
        49.2 W^0.73 / 1000. [kg DM/day]

    Source
    ------
    P-S83 (Crabtree and Williams 1971). Mark: print.
    """
    weight_is_believable(weight_kg)
    return TRIAL_HAY_G_PER_KG073 / 1000 * math.pow(weight_kg, 0.73)


def observed_poor_hay_intake_kg_dm_per_day(weight_kg: float) -> float:
    """Poorer hay to appetite and nothing else, same breed and authors [kg DM/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100; seen near 21.

    Returns
    -------
    float
        The average-hay figure times 287/451, their lambs taken to be of one weight. [kg DM/day]

    Source
    ------
    P-S130 for 287 g a day, P-S83 for 451 g. Mark: derived.
    """
    return TRIAL_POOR_HAY_KG / TRIAL_HAY_KG * observed_hay_intake_kg_dm_per_day(weight_kg)


def observed_straw_intake_kg_dm_per_day(weight_kg: float) -> float:
    """Straw to appetite and nothing else, hill ewe lambs [kg DM/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100; seen near 20.

    Returns
    -------
    float
        28.4 W^0.73 / 1000. [kg DM/day]

    Source
    ------
    P-S83 (Crabtree and Williams 1971). Mark: print.
    """
    weight_is_believable(weight_kg)
    return TRIAL_STRAW_G_PER_KG073 / 1000 * math.pow(weight_kg, 0.73)


def observed_barley_straw_intake_kg_dm_per_day(weight_kg: float) -> float:
    """Barley straw to appetite and nothing else, lambs that lost 20 g a day on it [kg DM/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.

    Returns
    -------
    float
        38.3 W^0.75 / 1000. [kg DM/day]

    Source
    ------
    P-S131 (Dixon and Egan 2000). Mark: print.
    """
    weight_is_believable(weight_kg)
    return STRAW_G_PER_KG075 / 1000 * math.pow(weight_kg, 0.75)


def observed_hay_beside_concentrate_kg_dm_per_day(
    weight_kg: float, concentrate_kg_dm_per_day: float
) -> float:
    """Average hay eaten beside trough feed, as hill ewe lambs ate it [kg DM/day].

    Hay fell by 3 g a day for each 1 % of trough feed in the dry matter: that share depends on the
    hay itself, so the two are solved together (a quadratic). For other weights the fall is taken
    in proportion to hay alone.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100; seen near 21.
    concentrate_kg_dm_per_day : float
        Trough feed eaten. [kg DM/day], 0 to 2; seen to 0.35.

    Returns
    -------
    float
        h of h = alone - fall x c / (h + c). [kg DM/day]

    Source
    ------
    P-S83 (Crabtree and Williams 1971) for both figures, the solving is ours. Mark: derived.
    """
    within("trough feed [kg DM/day]", concentrate_kg_dm_per_day, 0.0, 2.0)
    alone = observed_hay_intake_kg_dm_per_day(weight_kg)
    fall = alone * TRIAL_DROP_KG_PER_SHARE / TRIAL_HAY_KG
    c, spare = concentrate_kg_dm_per_day, alone - concentrate_kg_dm_per_day
    return (spare + math.sqrt(spare * spare + 4 * c * (alone - fall))) / 2


def digestible_protein_at_most_hay_g_per_day(weight_kg: float) -> float:
    """Digestible crude protein at which sheep eat most of a low-protein hay [g/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.

    Returns
    -------
    float
        3 W^0.73. [g/day]

    Source
    ------
    P-S143 (abstract). Mark: print.
    """
    weight_is_believable(weight_kg)
    return 3.0 * math.pow(weight_kg, 0.73)


def concentrate_at_most_energy_kg_per_day(weight_kg: float) -> float:
    """Trough feed beside low-protein hay past which sheep took in no more energy [kg/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.

    Returns
    -------
    float
        30 W^0.73 / 1000. [kg/day]; whether fresh or dry the abstract does not say.

    Source
    ------
    P-S143 (abstract). Mark: print.
    """
    weight_is_believable(weight_kg)
    return 0.030 * math.pow(weight_kg, 0.73)


def fattening_lamb_rule_kg_dm_per_day(weight_kg: float) -> float:
    """Dry matter a fattening lamb can clear, a rule of thumb: 4 % of its weight [kg DM/day].

    For lambs on good feed to appetite; far over what young breeding sheep clear of hay.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100; printed for 20 to 40.

    Returns
    -------
    float
        0.04 W. [kg DM/day]

    Source
    ------
    A-S9, which credits the AFRC system. Mark: restated.
    """
    weight_is_believable(weight_kg)
    return FATTENING_SHARE_OF_WEIGHT * weight_kg


def ewe_intake_share_of_weight(stage: str) -> tuple[float, float]:
    """Dry matter a grown ewe clears a day, least and most, as share of live weight [-].

    Parameters
    ----------
    stage : str
        One of `EWE_STAGES`.

    Returns
    -------
    tuple of float
        Least and most. [-]

    Raises
    ------
    OutOfRange
        The stage is not one of them.

    Source
    ------
    A-S11 before triplets (after Vipond 2009), A-S32 (a trade guide) in lamb and in milk.
    Mark: restated.
    """
    if stage not in EWE_STAGES:
        raise OutOfRange(
            Problem("", f'stage "{stage}" is not known', f"it is one of {', '.join(EWE_STAGES)}")
        )
    least, most, _, _ = EWE_STAGES[stage]
    return least, most


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


class Prediction(NamedTuple):
    """What one published way says they would clear.

    Attributes
    ----------
    name : str
        Plain words.
    kg_dm_per_day : float
        [kg DM/day]
    source, mark : str
        Key of the table of sources, and how it is known.
    """

    name: str
    kg_dm_per_day: float
    source: str
    mark: str


@dataclass(frozen=True)
class Appetite:
    """One sheep and its forage, as the intake equations ask for them.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg]
    q : float or None
        ME over gross energy of the forage. [-]
    digestibility_share : float or None
        Digestibility of its dry matter. [-]
    srw_kg : float or None
        Grown weight of the breed, ewes in middling condition. [kg]
    """

    weight_kg: float
    q: float | None = None
    digestibility_share: float | None = None
    srw_kg: float | None = None

    def predictions(self) -> tuple[Prediction, ...]:
        """Every published prediction that its figures allow, to be shown beside the user's band."""
        w = self.weight_kg
        found = [
            Prediction(
                "average hay alone, as hill ewe lambs ate it",
                observed_hay_intake_kg_dm_per_day(w),
                "P-S83",
                "print",
            ),
            Prediction(
                "poorer hay alone, same breed",
                observed_poor_hay_intake_kg_dm_per_day(w),
                "P-S130",
                "derived",
            ),
            Prediction(
                "straw alone, same breed", observed_straw_intake_kg_dm_per_day(w), "P-S83", "print"
            ),
            Prediction(
                "barley straw alone, other lambs",
                observed_barley_straw_intake_kg_dm_per_day(w),
                "P-S131",
                "print",
            ),
        ]
        if self.q is not None:
            found.append(
                Prediction(
                    "long forage, an old British equation",
                    max(0.0, afrc1993.coarse_intake_kg_dm_per_day(w, self.q)),
                    "AFRC-1993",
                    "memory",
                )
            )
        found += self._csiro()
        found.append(
            Prediction(
                "fattening lambs on good feed, 4 % of weight",
                fattening_lamb_rule_kg_dm_per_day(w),
                "A-S9",
                "restated",
            )
        )
        return tuple(found)

    def _csiro(self) -> list[Prediction]:
        if self.digestibility_share is None or self.srw_kg is None:
            return []
        eaten = csiro2007.intake_kg_dm_per_day(
            self.weight_kg, self.srw_kg, self.digestibility_share
        )
        return [Prediction("grass forage, the Australian equations", eaten, "CSIRO-2007", "memory")]


def _not_negative(what: str, value: float) -> None:
    if not (math.isfinite(value) and value >= 0):
        raise OutOfRange(Problem("", f"{what} {value:g}", "it is 0 or more"))
