"""After the winter: weights wanted at tupping, and what trials say of feeding young sheep more.

Published targets and trials, each with its source; nothing here promises a benefit.
"""

from __future__ import annotations

import math
from datetime import date

from ration.animals import Batch
from ration.gains.records import AtTupping, MatingShare

RICH_G_PER_DAY = 100.0  # all winter: more than asked for; common practice
FAST_G_PER_DAY = 250.0  # ewe lambs kept for breeding; common practice after P-S122
TUPPING_MONTH_DAY = (11, 10)  # common practice for hill ewes
SUMMER_GAIN_G_PER_DAY = 600 / 7  # 0.6 kg a week, P-S108, restated
WINTER_GAIN_G_PER_DAY = (300 / 7, 350 / 7)  # 0.30 to 0.35 kg a week, P-S108, restated
HILL_BREEDS = (
    "blackface",
    "cheviot",
    "dalesbred",
    "derbyshire gritstone",
    "herdwick",
    "lonk",
    "rough fell",
    "shetland",
    "swaledale",
    "welsh",
)
LOWLAND_BREEDS = ("belclare", "charollais", "dorset", "lleyn", "romney", "suffolk", "texel")

EWE_LAMB, SHEARLING, THIRD = "ewe lamb of 7 months", "shearling", "ewe of 30 months"
MATING_SHARES = (
    MatingShare(EWE_LAMB, 0.60, "P-S106", "print"),
    MatingShare(EWE_LAMB, 0.61, "P-S107", "restated"),
    MatingShare(SHEARLING, 0.84, "P-S107", "restated"),
    MatingShare(SHEARLING, 0.80, "", "practice"),
    MatingShare(THIRD, 0.91, "P-S107", "restated"),
)
NEXT_TUPPING = {"ewe-lamb": MATING_SHARES[2], "gimmer": MATING_SHARES[4]}
TRIALS = {
    "hill": (
        "Hill: Cheviot hoggs fed well in their first winter were no heavier than the others by 30 "
        "months, though the lightest stayed smaller, and bred no better over their lives; the feed "
        "was judged not to pay without better keep for the grown ewe [P-S118, P-S119, P-S120]. "
        "Blackfaces wintered away came home about 7 kg heavier, fewer died, and it still did not "
        "repay its cost then [P-S121]."
    ),
    "lowland": (
        "Lowland: replacements that went on growing through their first winter weaned heavier "
        "lambs and were barren less often over five years (Teagasc) [P-S108, restated]."
    ),
}
TOO_FAST = (
    "Ewe lambs fed to appetite after weaning (305 g a day) had less udder tissue than those held "
    "to 223 to 229 g, which were as heavy by breeding [P-S122]."
)


def at_tupping(
    end_kg: float,
    days_to_tupping: int,
    summer_gain_g_per_day: float = SUMMER_GAIN_G_PER_DAY,
    mature_weight_kg: float = math.inf,
) -> float:
    """Live weight at tupping, straight on from the weight at turnout [kg].

    Parameters
    ----------
    end_kg : float
        At turnout. [kg]
    days_to_tupping : int
        [day]
    summer_gain_g_per_day : float
        Unless said 0.6 kg a week: what lowland replacements are to gain in their second summer
        (P-S108, restated). [g/day]
    mature_weight_kg : float
        Never passed by growing. [kg]

    Examples
    --------
    >>> at_tupping(42.0, 222, 50.0)
    53.1
    """
    grown = end_kg + summer_gain_g_per_day * days_to_tupping / 1000
    return max(end_kg, min(grown, mature_weight_kg))


def next_tupping(after: date) -> date:
    """The next 10 November after a day: common practice for hill ewes, to be changed by the user.

    Examples
    --------
    >>> next_tupping(date(2027, 4, 2))
    datetime.date(2027, 11, 10)
    """
    month, day = TUPPING_MONTH_DAY
    this_year = date(after.year, month, day)
    return this_year if this_year > after else date(after.year + 1, month, day)


def nearest_case(batch: Batch) -> str:
    """Which trials stand nearer to a batch, by its breed and then by its place; "" if unknown.

    Common practice: a hill breed is the hill case, a lowland breed the other; sheep on the hill, or
    wintered away from it, are hill sheep.
    """
    breed = batch.breed.casefold()
    is_hill = any(word in breed for word in HILL_BREEDS)
    is_lowland = any(word in breed for word in LOWLAND_BREEDS)
    if is_hill != is_lowland:
        return "hill" if is_hill else "lowland"
    return "hill" if batch.housing in ("hill", "away") else ""


def tupping_of(
    batch: Batch, end_kg: float, turnout: date, day: date, gain_g_per_day: float
) -> AtTupping | None:
    """Whether the young females of a batch make the weight wanted at their next tupping.

    Parameters
    ----------
    batch : Batch
    end_kg : float
        Live weight on the day of the target. [kg]
    turnout, day : date
        That day, and the day of tupping after it.
    gain_g_per_day : float
        Between the two. [g/day]
    """
    wanted = NEXT_TUPPING.get(batch.sheep_class)
    if wanted is None or batch.sex != "female" or batch.days_pregnant is not None:
        return None
    days = (day - turnout).days
    weight = at_tupping(end_kg, days, gain_g_per_day, batch.mature_weight_kg)
    wanted_kg = wanted.share * batch.mature_weight_kg
    return AtTupping(
        wanted=wanted,
        day=day,
        days=days,
        summer_gain_g_per_day=gain_g_per_day,
        weight_kg=weight,
        share=weight / batch.mature_weight_kg,
        wanted_kg=wanted_kg,
        gain_wanted_g_per_day=max(0.0, (wanted_kg - end_kg) * 1000 / days),
    )
