"""Energy and metabolisable protein of growing sheep: AFRC (1993).

AFRC (1993) *Energy and Protein Requirements of Ruminants*, CAB International, Wallingford
(reprinted with corrections 1995). No equation here was read in the book itself: each is either
restated by a later work that names it, or remembered; the mark says which. Results carry no
safety margin. Functions take floats, or numpy arrays for the diet's quality and feeding level.

Letters: q metabolisability of the whole diet (ME/GE), W live weight [kg], L feeding level
(ME eaten over maintenance ME), r rumen outflow [/h].
"""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ration.errors import OutOfRange, Problem

Real = TypeVar("Real", float, NDArray[np.float64])

GROSS_ENERGY_MJ_PER_KG_DM = 18.8
SAFETY_MARGIN = 1.05
ACTIVITY_MJ_PER_KG = {"shed": 0.0067, "in-bye": 0.0107, "hill": 0.024}
GAIN_ENERGY = {"female": (2.1, 0.45), "castrate": (4.4, 0.32), "entire": (2.5, 0.35)}
GAIN_PROTEIN = {
    "female": (156.1, -1.94, 0.0173),
    "castrate": (160.4, -1.22, 0.0105),
    "entire": (160.4, -1.22, 0.0105),
}
QUALITY = (0.15, 0.85)
QUALITY_TRUSTED = (0.4, 0.7)
LEVEL = (0.0, 5.0)


def _within(what: str, value: Real, lo: float, hi: float) -> None:
    if isinstance(value, np.ndarray):
        inside = value.size == 0 or bool(value.min() >= lo and value.max() <= hi)
    else:
        inside = lo <= value <= hi
    if not inside:
        raise OutOfRange(Problem("", f"{what} {value}", f"{lo:g} to {hi:g} is covered"))


def _weight(weight_kg: float) -> None:
    _within("live weight [kg]", float(weight_kg), 5.0, 100.0)


def efficiency_maintenance(q: Real) -> Real:
    """Efficiency of ME for maintenance, km [MJ/MJ].

    Parameters
    ----------
    q : float or array
        Metabolisability of the diet, ME/GE. [-], 0.15 to 0.85; trusted 0.4 to 0.7.

    Returns
    -------
    float or array
        km = 0.35 q + 0.503. [-]

    Raises
    ------
    OutOfRange
        q outside 0.15 to 0.85.

    Source
    ------
    A-S7, A-S30, restating AFRC-1993. Mark: restated.
    """
    _within("diet quality q", q, *QUALITY)
    return 0.35 * q + 0.503


def efficiency_growth(q: Real) -> Real:
    """Efficiency of ME for growth and fattening, kf [MJ/MJ].

    Parameters
    ----------
    q : float or array
        Metabolisability of the diet. [-], 0.15 to 0.85; trusted 0.4 to 0.7.

    Returns
    -------
    float or array
        kf = 0.78 q + 0.006. [-]

    Raises
    ------
    OutOfRange
        q outside 0.15 to 0.85.

    Source
    ------
    A-S7, restating AFRC-1993 for cattle. Mark: restated.
    """
    _within("diet quality q", q, *QUALITY)
    return 0.78 * q + 0.006


def fasting_metabolism_mj_per_day(
    weight_kg: float, under_one_year: bool = True, is_entire: bool = False
) -> float:
    """Fasting metabolism F [MJ/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.
    under_one_year : bool
        True up to the first birthday (0.25 MJ), False after it (0.23 MJ).
    is_entire : bool
        Entire males need 15 % more.

    Returns
    -------
    float
        C1 a (W/1.08)^0.75. [MJ/day]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 100 kg.

    Source
    ------
    A-S1, A-S6, restating AFRC-1993. Mark: restated.
    """
    _weight(weight_kg)
    a = 0.25 if under_one_year else 0.23
    return (1.15 if is_entire else 1.0) * a * math.pow(weight_kg / 1.08, 0.75)


def activity_mj_per_day(weight_kg: float, housing: str = "shed") -> float:
    """Activity allowance A [MJ/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.
    housing : str
        shed 0.0067, in-bye (lowland outdoors) 0.0107, hill 0.024 MJ per kg.

    Returns
    -------
    float
        [MJ/day]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 100 kg, or a housing not named above.

    Source
    ------
    A-S2, A-S6, restating AFRC-1993. Mark: restated.
    """
    _weight(weight_kg)
    if housing not in ACTIVITY_MJ_PER_KG:
        known = ", ".join(ACTIVITY_MJ_PER_KG)
        raise OutOfRange(Problem("", f'housing "{housing}"', f"it is one of {known}"))
    return ACTIVITY_MJ_PER_KG[housing] * weight_kg


def energy_of_gain_mj_per_kg(weight_kg: float, sex: str = "female") -> float:
    """Energy value of live-weight gain, EVg [MJ/kg], breeds other than Merino.

    Parameters
    ----------
    weight_kg : float
        Live weight, mean of the period. [kg], 5 to 100; suspect above 50 for ewe lambs.
    sex : str
        female 2.1 + 0.45 W; castrate 4.4 + 0.32 W; entire 2.5 + 0.35 W.

    Returns
    -------
    float
        [MJ/kg]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 100 kg.

    Source
    ------
    A-S3, A-S6, A-S8, restating AFRC-1993. Mark: restated.
    """
    _weight(weight_kg)
    constant, slope = GAIN_ENERGY[sex]
    return constant + slope * weight_kg


def _net_maintenance(
    weight_kg: float, sex: str, under_one_year: bool, housing: str, maintenance: float
) -> float:
    fasting = fasting_metabolism_mj_per_day(weight_kg, under_one_year, sex == "entire")
    return maintenance * (fasting + activity_mj_per_day(weight_kg, housing))


def maintenance_me_mj_per_day(
    weight_kg: float,
    q: Real,
    sex: str = "female",
    under_one_year: bool = True,
    housing: str = "shed",
    maintenance: float = 1.0,
) -> Real:
    """ME for maintenance, Mm [MJ/day], without margin.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.
    q : float or array
        Metabolisability of the diet. [-], 0.15 to 0.85.
    sex, under_one_year, housing
        As in `fasting_metabolism_mj_per_day` and `activity_mj_per_day`.
    maintenance : float
        Multiplier on fasting metabolism and activity. [-] 1.0 is the standard; trials with modern
        sheep found 1.4 to 1.5 (A-S13, print).

    Returns
    -------
    float or array
        (F + A) / km. [MJ/day]

    Raises
    ------
    OutOfRange
        Weight, q or housing outside what is covered.

    Source
    ------
    A-S7, A-S30, restating AFRC-1993. Mark: restated.
    """
    net = _net_maintenance(weight_kg, sex, under_one_year, housing, maintenance)
    return net / efficiency_maintenance(q)


def growth_me_mj_per_day(
    weight_kg: float,
    gain_g_per_day: Real,
    q: Real,
    sex: str = "female",
    under_one_year: bool = True,
    housing: str = "shed",
    maintenance: float = 1.0,
    unsupported: float | None = None,
) -> Real:
    """ME for maintenance and growth [MJ/day] by the feeding-level (log) form, without margin.

    B = km/(km - kf); k = km ln(km/kf); R = Ef/Em; ME = (Em/k) ln(B/(B - R - 1)).

    Parameters
    ----------
    weight_kg : float
        Live weight, mean of the period. [kg], 5 to 100.
    gain_g_per_day : float or array
        Live-weight gain; an array must broadcast with q. [g/day], 0 and up.
    q : float or array
        Metabolisability of the diet. [-], 0.15 to 0.85.
    sex, under_one_year, housing, maintenance
        As in `maintenance_me_mj_per_day`.
    unsupported : float or None
        What to give where no intake of this diet supports the gain; None raises.

    Returns
    -------
    float or array
        [MJ/day]

    Raises
    ------
    OutOfRange
        Loss of weight, or a gain that no amount of this diet can support (R at or above B - 1).

    Source
    ------
    A-S7, restating AFRC-1993 for cattle; reproduces A-S9 at M/D 12 with the 5 % margin.
    Mark: restated.
    """
    least_gain = float(np.min(gain_g_per_day))
    if least_gain < 0:
        raise OutOfRange(
            Problem(
                "",
                f"gain {least_gain:g} g/day is a loss of weight",
                "the growth equation has no standing below maintenance",
                "Ask for 0 g/day or more",
            )
        )
    km, kf = efficiency_maintenance(q), efficiency_growth(q)
    net = _net_maintenance(weight_kg, sex, under_one_year, housing, maintenance)
    retained = gain_g_per_day / 1000 * energy_of_gain_mj_per_kg(weight_kg, sex)
    b = km / (km - kf)
    k = km * np.log(km / kf)
    left = b - retained / net - 1
    is_short = np.asarray(left) <= 0
    if not is_short.any():
        need = (net / k) * np.log(b / left)
        return need if isinstance(need, np.ndarray) else float(need)  # type: ignore[return-value]
    if unsupported is None:
        poorest = float(np.min(q))
        most = most_gain_g_per_day(weight_kg, poorest, sex, under_one_year, housing, maintenance)
        raise OutOfRange(
            Problem(
                "",
                f"gain {float(np.max(gain_g_per_day)):g} g/day at {weight_kg:g} kg on a diet of "
                f"quality q {poorest:.3f}",
                "no amount of this diet can support that gain",
                f"Ask for less than {most:.0f} g/day, or feed a richer diet",
            )
        )
    need = np.where(is_short, unsupported, (net / k) * np.log(b / np.where(is_short, 1.0, left)))
    return need if isinstance(left, np.ndarray) else float(need)


def gain_from_me_g_per_day(
    weight_kg: float,
    me_mj_per_day: float,
    q: float,
    sex: str = "female",
    under_one_year: bool = True,
    housing: str = "shed",
    maintenance: float = 1.0,
) -> float:
    """Gain that an ME intake allows [g/day]: `growth_me_mj_per_day` turned round.

    Below maintenance the answer is a loss, reckoned at efficiency km; the standard is known to be
    poor for losing sheep, so read it as a direction, not a figure.

    Parameters
    ----------
    weight_kg, q, sex, under_one_year, housing, maintenance
        As in `growth_me_mj_per_day`.
    me_mj_per_day : float
        ME eaten. [MJ/day], 0 and up.

    Returns
    -------
    float
        [g/day]

    Raises
    ------
    OutOfRange
        As in `growth_me_mj_per_day`.

    Source
    ------
    A-S7, restating AFRC-1993 for cattle (the inverse is algebra); below maintenance the use of km
    is remembered from ARC-1980. Mark: restated; below maintenance memory.
    """
    km, kf = efficiency_maintenance(q), efficiency_growth(q)
    net = _net_maintenance(weight_kg, sex, under_one_year, housing, maintenance)
    maintenance_me = net / km
    if me_mj_per_day < maintenance_me:
        ratio = me_mj_per_day / maintenance_me - 1
    else:
        b = km / (km - kf)
        k = km * math.log(km / kf)
        ratio = b * (1 - math.exp(-k * me_mj_per_day / net)) - 1
    return 1000 * ratio * net / energy_of_gain_mj_per_kg(weight_kg, sex)


def most_gain_g_per_day(
    weight_kg: float,
    q: float,
    sex: str = "female",
    under_one_year: bool = True,
    housing: str = "shed",
    maintenance: float = 1.0,
) -> float:
    """Gain that no amount of a diet of quality q can reach [g/day]: R = kf/(km - kf).

    Parameters
    ----------
    weight_kg, q, sex, under_one_year, housing, maintenance
        As in `growth_me_mj_per_day`.

    Returns
    -------
    float
        [g/day]

    Raises
    ------
    OutOfRange
        As in `growth_me_mj_per_day`.

    Source
    ------
    A-S7 (limit of the log form, algebra), restating AFRC-1993. Mark: derived.
    """
    km, kf = efficiency_maintenance(q), efficiency_growth(q)
    net = _net_maintenance(weight_kg, sex, under_one_year, housing, maintenance)
    return 1000 * kf / (km - kf) * net / energy_of_gain_mj_per_kg(weight_kg, sex)


def net_protein_of_gain_g_per_kg(weight_kg: float, sex: str = "female") -> float:
    """Net protein in live-weight gain, without the fleece [g/kg].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100; the curve turns upward above 56 kg.
    sex : str
        female, castrate or entire (the last two share one line).

    Returns
    -------
    float
        156.1 - 1.94 W + 0.0173 W^2 (females); 160.4 - 1.22 W + 0.0105 W^2 (males). [g/kg]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 100 kg.

    Source
    ------
    AFRC-1993, from memory; reproduces A-S9 with the margin and the fleece. Mark: memory.
    """
    _weight(weight_kg)
    constant, slope, curve = GAIN_PROTEIN[sex]
    return constant + slope * weight_kg + curve * weight_kg**2


def mp_need_g_per_day(weight_kg: float, gain_g_per_day: float, sex: str = "female") -> float:
    """Metabolisable protein for maintenance, gain and fleece [g/day], without margin.

    2.1875 W^0.75 + NPf/0.59 + (3 + 0.1 NPf)/0.26, NPf net protein of the gain.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.
    gain_g_per_day : float
        Live-weight gain. [g/day], 0 and up.
    sex : str
        female, castrate or entire.

    Returns
    -------
    float
        [g/day]

    Raises
    ------
    OutOfRange
        Loss of weight, or weight outside 5 to 100 kg.

    Source
    ------
    AFRC-1993, from memory (0.59 restated for cattle by A-S7); reproduces the one published row of
    A-S9 with the 5 % margin. Mark: memory.
    """
    if gain_g_per_day < 0:
        raise OutOfRange(Problem("", f"gain {gain_g_per_day:g} g/day", "0 and up is covered"))
    retained = gain_g_per_day / 1000 * net_protein_of_gain_g_per_kg(weight_kg, sex)
    return 2.1875 * math.pow(weight_kg, 0.75) + retained / 0.59 + (3 + 0.1 * retained) / 0.26


def gain_from_mp_g_per_day(weight_kg: float, mp_g_per_day: float, sex: str = "female") -> float:
    """Gain that a supply of metabolisable protein allows [g/day]: the need turned round.

    Negative when the supply does not cover maintenance and the fleece.

    Parameters
    ----------
    weight_kg, sex
        As in `mp_need_g_per_day`.
    mp_g_per_day : float
        MP supplied. [g/day], 0 and up.

    Returns
    -------
    float
        [g/day]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 100 kg.

    Source
    ------
    AFRC-1993, from memory (the inverse is algebra). Mark: memory.
    """
    spare = mp_g_per_day - 2.1875 * math.pow(weight_kg, 0.75) - 3 / 0.26
    return 1000 * spare / ((1 / 0.59 + 0.1 / 0.26) * net_protein_of_gain_g_per_kg(weight_kg, sex))


def outflow_per_h(feeding_level: Real) -> Real:
    """Rumen outflow rate r [/h].

    Parameters
    ----------
    feeding_level : float or array
        ME eaten over maintenance ME. [-], 0 to 5.

    Returns
    -------
    float or array
        -0.024 + 0.179 (1 - exp(-0.278 L)), not below 0. [/h]

    Raises
    ------
    OutOfRange
        Feeding level outside 0 to 5.

    Source
    ------
    A-S7, restating AFRC-1993 for cattle. Mark: restated.
    """
    _within("feeding level", feeding_level, *LEVEL)
    rate = np.maximum(-0.024 + 0.179 * (1 - np.exp(-0.278 * feeding_level)), 0.0)
    return rate if isinstance(feeding_level, np.ndarray) else float(rate)


def microbial_yield_g_per_mj(feeding_level: Real) -> Real:
    """Microbial crude protein per MJ of fermentable ME, y [g/MJ].

    Parameters
    ----------
    feeding_level : float or array
        ME eaten over maintenance ME. [-], 0 to 5.

    Returns
    -------
    float or array
        7 + 6 (1 - exp(-0.35 L)). [g/MJ]

    Raises
    ------
    OutOfRange
        Feeding level outside 0 to 5.

    Source
    ------
    A-S7, restating AFRC-1993 for cattle. Mark: restated.
    """
    _within("feeding level", feeding_level, *LEVEL)
    y = 7.0 + 6.0 * (1 - np.exp(-0.35 * feeding_level))
    return y if isinstance(feeding_level, np.ndarray) else float(y)


def quickly_degraded_g_per_kg_dm(cp_g_per_kg_dm: Real, a_share: Real) -> Real:
    """Quickly degradable protein QDP = a CP [g/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm : float or array
        Crude protein. [g/kg DM]
    a_share : float or array
        Fraction of nitrogen lost at once. [-], 0 to 1.

    Returns
    -------
    float or array
        [g/kg DM]

    Source
    ------
    A-S7, restating AFRC-1993 for cattle. Mark: restated.
    """
    return a_share * cp_g_per_kg_dm


def slowly_degraded_g_per_kg_dm(
    cp_g_per_kg_dm: Real, b_share: Real, c_per_h: Real, outflow_per_h: float
) -> Real:
    """Slowly degradable protein SDP = b c/(c + r) CP [g/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm : float or array
        Crude protein. [g/kg DM]
    b_share : float or array
        Potentially degradable fraction. [-], 0 to 1.
    c_per_h : float or array
        Its rate of degradation. [/h]
    outflow_per_h : float
        Rumen outflow rate. [/h]

    Returns
    -------
    float or array
        [g/kg DM]

    Source
    ------
    A-S7, restating AFRC-1993 for cattle. Mark: restated.
    """
    return b_share * c_per_h / (c_per_h + outflow_per_h) * cp_g_per_kg_dm


def erdp_g_per_kg_dm(
    cp_g_per_kg_dm: Real, a_share: Real, b_share: Real, c_per_h: Real, outflow_per_h: float
) -> Real:
    """Effective rumen degradable protein ERDP = 0.8 QDP + SDP [g/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm, a_share, b_share, c_per_h, outflow_per_h
        As in `slowly_degraded_g_per_kg_dm`.

    Returns
    -------
    float or array
        [g/kg DM]

    Source
    ------
    A-S7, restating AFRC-1993 for cattle. Mark: restated.
    """
    slow = slowly_degraded_g_per_kg_dm(cp_g_per_kg_dm, b_share, c_per_h, outflow_per_h)
    return 0.8 * quickly_degraded_g_per_kg_dm(cp_g_per_kg_dm, a_share) + slow


def dup_g_per_kg_dm(
    cp_g_per_kg_dm: Real,
    a_share: Real,
    b_share: Real,
    c_per_h: Real,
    adin_g_n_per_kg_dm: Real,
    outflow_per_h: float,
) -> Real:
    """Digestible undegraded protein DUP = 0.9 (UDP - 6.25 ADIN), not below 0 [g/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm, a_share, b_share, c_per_h, outflow_per_h
        As in `slowly_degraded_g_per_kg_dm`.
    adin_g_n_per_kg_dm : float or array
        Nitrogen insoluble in acid detergent. [g N/kg DM]

    Returns
    -------
    float or array
        [g/kg DM]

    Source
    ------
    A-S7, restating AFRC-1993 for cattle; the floor at 0 is ours. Mark: restated.
    """
    quick = quickly_degraded_g_per_kg_dm(cp_g_per_kg_dm, a_share)
    slow = slowly_degraded_g_per_kg_dm(cp_g_per_kg_dm, b_share, c_per_h, outflow_per_h)
    undegraded = cp_g_per_kg_dm - quick - slow
    dup = np.maximum(0.9 * (undegraded - 6.25 * adin_g_n_per_kg_dm), 0.0)
    return dup if isinstance(cp_g_per_kg_dm, np.ndarray) else float(dup)


def fermentable_me_mj_per_kg_dm(
    me_mj_per_kg_dm: float, oil_g_per_kg_dm: float, acids_share_of_me: float = 0.0
) -> float:
    """Fermentable ME [MJ/kg DM]: ME less oil at 35 MJ/kg less fermentation acids, not below 0.

    Parameters
    ----------
    me_mj_per_kg_dm : float
        ME. [MJ/kg DM]
    oil_g_per_kg_dm : float
        Oil (ether extract). [g/kg DM]
    acids_share_of_me : float
        Share of ME in fermentation acids: silage 0.10, brewery and distillery feeds 0.05. [-]

    Returns
    -------
    float
        [MJ/kg DM]

    Source
    ------
    AFRC-1993, from memory. Mark: memory.
    """
    return max(me_mj_per_kg_dm * (1 - acids_share_of_me) - 0.035 * oil_g_per_kg_dm, 0.0)


def mp_supply_g_per_day(
    erdp_g_per_day: float, fme_mj_per_day: float, dup_g_per_day: float, feeding_level: float
) -> float:
    """Metabolisable protein supplied by a whole diet [g/day].

    Microbial protein is the smaller of ERDP and y FME of the whole diet; 0.6375 of it is
    digestible true protein.

    Parameters
    ----------
    erdp_g_per_day, dup_g_per_day : float
        Effective degradable and digestible undegraded protein eaten. [g/day]
    fme_mj_per_day : float
        Fermentable ME eaten. [MJ/day]
    feeding_level : float
        ME eaten over maintenance ME. [-], 0 to 5.

    Returns
    -------
    float
        0.6375 min(ERDP, y FME) + DUP. [g/day]

    Raises
    ------
    OutOfRange
        Feeding level outside 0 to 5.

    Source
    ------
    A-S7, restating AFRC-1993 for cattle; the whole-diet minimum from memory. Mark: restated.
    """
    microbial = min(erdp_g_per_day, microbial_yield_g_per_mj(feeding_level) * fme_mj_per_day)
    return 0.75 * 0.85 * microbial + dup_g_per_day


def coarse_intake_kg_dm_per_day(weight_kg: float, q: float) -> float:
    """Appetite of growing sheep for a long-forage diet [kg DM/day]; a hint, never a limit.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.
    q : float
        Metabolisability of the diet. [-]

    Returns
    -------
    float
        (104.7 q + 0.307 W - 15) W^0.75 / 1000. [kg DM/day]

    Source
    ------
    ARC-1980, AFRC-1993, from memory, untested. Mark: memory.
    """
    _weight(weight_kg)
    return (104.7 * q + 0.307 * weight_kg - 15.0) * math.pow(weight_kg, 0.75) / 1000


def fine_intake_kg_dm_per_day(weight_kg: float, q: float) -> float:
    """Appetite of growing sheep for a ground or pelleted diet [kg DM/day]; a hint.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.
    q : float
        Metabolisability of the diet. [-]

    Returns
    -------
    float
        (150.3 - 78 q - 0.408 W) W^0.75 / 1000. [kg DM/day]

    Source
    ------
    ARC-1980, AFRC-1993, from memory, untested. Mark: memory.
    """
    _weight(weight_kg)
    return (150.3 - 78.0 * q - 0.408 * weight_kg) * math.pow(weight_kg, 0.75) / 1000
