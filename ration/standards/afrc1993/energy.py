"""Energy of sheep: efficiencies, maintenance and activity, lambs' gain, appetite; AFRC (1993)."""

from __future__ import annotations

import math

import numpy as np

from ration.errors import OutOfRange, Problem
from ration.standards.afrc1993.ground import QUALITY, Real, weight_is_believable, within

# the shed's figure is a lamb's; out of doors every kind of sheep has the same
ACTIVITY_MJ_PER_KG = {"shed": 0.0067, "in-bye": 0.0107, "hill": 0.024, "away": 0.0107}
SHED_ACTIVITY_MJ_PER_KG = {
    "lamb": ACTIVITY_MJ_PER_KG["shed"],
    "ewe": 0.0096,
    "pregnant ewe": 0.0054,
}
ACTIVITY_MJ = (0.0, 30.0)
GAIN_ENERGY = {"female": (2.1, 0.45), "castrate": (4.4, 0.32), "entire": (2.5, 0.35)}


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
    within("diet quality q", q, *QUALITY)
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
    within("diet quality q", q, *QUALITY)
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
    weight_is_believable(weight_kg)
    a = 0.25 if under_one_year else 0.23
    return (1.15 if is_entire else 1.0) * a * math.pow(weight_kg / 1.08, 0.75)


def activity_mj_per_day(weight_kg: float, housing: str = "shed", *, kind: str = "lamb") -> float:
    """Activity allowance A [MJ/day].

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.
    housing : str
        shed; in-bye and away (lowland out of doors) 0.0107; hill 0.024 MJ per kg.
    kind : str
        Whose shed: lamb 0.0067, ewe (dry or in milk) 0.0096, pregnant ewe 0.0054 MJ per kg. One
        later work gives 0.0096 to ewes in late pregnancy; what is remembered of AFRC keeps the
        two apart. Out of doors the kind makes no difference.

    Returns
    -------
    float
        [MJ/day]

    Raises
    ------
    OutOfRange
        Weight outside 5 to 100 kg, or a housing or kind not named above.

    Source
    ------
    A-S2, A-S6, restating AFRC-1993; 0.0054 of the housed pregnant ewe is memory. Mark: restated.
    """
    weight_is_believable(weight_kg)
    for what, value, known in (
        ("housing", housing, ACTIVITY_MJ_PER_KG),
        ("kind", kind, SHED_ACTIVITY_MJ_PER_KG),
    ):
        if value not in known:
            raise OutOfRange(Problem("", f'{what} "{value}"', f"it is one of {', '.join(known)}"))
    per_kg = SHED_ACTIVITY_MJ_PER_KG[kind] if housing == "shed" else ACTIVITY_MJ_PER_KG[housing]
    return per_kg * weight_kg


def activity_from_distance_mj_per_day(
    weight_kg: float, walk_km_per_day: float, climb_km_per_day: float
) -> float:
    """Net energy of walking and climbing [MJ/day], standing and lying not counted.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], 5 to 100.
    walk_km_per_day : float
        Walked on the flat. [km/day], 0 to 20.
    climb_km_per_day : float
        Climbed: the sum of all rises. [km/day], 0 to 2.

    Returns
    -------
    float
        W (0.0026 walk + 0.028 climb). [MJ/day]

    Raises
    ------
    OutOfRange
        Weight or a distance outside the ranges above.

    Source
    ------
    N-S8, the walking form of the Australian system; the same unit costs are remembered of AFRC's
    energy report (with 10 kJ/kg a day standing and 260 J/kg a change of position). Mark: restated.
    """
    weight_is_believable(weight_kg)
    within("walk [km/day]", walk_km_per_day, 0.0, 20.0)
    within("climb [km/day]", climb_km_per_day, 0.0, 2.0)
    return weight_kg * (0.0026 * walk_km_per_day + 0.028 * climb_km_per_day)


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
    weight_is_believable(weight_kg)
    constant, slope = GAIN_ENERGY[sex]
    return constant + slope * weight_kg


def net_maintenance_mj_per_day(
    weight_kg: float,
    sex: str,
    under_one_year: bool,
    housing: str,
    maintenance: float,
    activity: float | None,
    kind: str = "lamb",
) -> float:
    """Net energy of maintenance, (F + A) x multiplier [MJ/day]; A as given, or the place's."""
    fasting = fasting_metabolism_mj_per_day(weight_kg, under_one_year, sex == "entire")
    place = activity_mj_per_day(weight_kg, housing, kind=kind)
    if activity is None:
        activity = place
    within("activity [MJ/day]", activity, *ACTIVITY_MJ)
    return maintenance * (fasting + activity)


def maintenance_me_mj_per_day(
    weight_kg: float,
    q: Real,
    sex: str = "female",
    under_one_year: bool = True,
    housing: str = "shed",
    maintenance: float = 1.0,
    *,
    activity_mj_per_day: float | None = None,
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
    activity_mj_per_day : float or None
        Activity allowance in place of the housing's, such as that of a known walk.
        [MJ/day], 0 to 30.

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
    net = net_maintenance_mj_per_day(
        weight_kg, sex, under_one_year, housing, maintenance, activity_mj_per_day
    )
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
    *,
    activity_mj_per_day: float | None = None,
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
    sex, under_one_year, housing, maintenance, activity_mj_per_day
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
    net = net_maintenance_mj_per_day(
        weight_kg, sex, under_one_year, housing, maintenance, activity_mj_per_day
    )
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
        most = most_gain_g_per_day(
            weight_kg,
            poorest,
            sex,
            under_one_year,
            housing,
            maintenance,
            activity_mj_per_day=activity_mj_per_day,
        )
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
    *,
    activity_mj_per_day: float | None = None,
) -> float:
    """Gain that an ME intake allows [g/day]: `growth_me_mj_per_day` turned round.

    Below maintenance the answer is a loss, reckoned at efficiency km; the standard is known to be
    poor for losing sheep, so read it as a direction, not a figure.

    Parameters
    ----------
    weight_kg, q, sex, under_one_year, housing, maintenance, activity_mj_per_day
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
    net = net_maintenance_mj_per_day(
        weight_kg, sex, under_one_year, housing, maintenance, activity_mj_per_day
    )
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
    *,
    activity_mj_per_day: float | None = None,
) -> float:
    """Gain that no amount of a diet of quality q can reach [g/day]: R = kf/(km - kf).

    Parameters
    ----------
    weight_kg, q, sex, under_one_year, housing, maintenance, activity_mj_per_day
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
    net = net_maintenance_mj_per_day(
        weight_kg, sex, under_one_year, housing, maintenance, activity_mj_per_day
    )
    return 1000 * kf / (km - kf) * net / energy_of_gain_mj_per_kg(weight_kg, sex)


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
    weight_is_believable(weight_kg)
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
    weight_is_believable(weight_kg)
    return (150.3 - 78.0 * q - 0.408 * weight_kg) * math.pow(weight_kg, 0.75) / 1000
