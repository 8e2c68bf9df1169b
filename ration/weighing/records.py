"""What one weighing is, and what of it cannot be believed.

Weights of single sheep and the widest spread believed are judgement.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from ration.animals import WEIGHT_KG
from ration.errors import OutOfRange, Problem
from ration.units import LB_KG, in_words_day

LONGEST_HOURS_OFF_FEED = 48.0
ONE_SHEEP_KG = (8.0, 90.0)
WIDEST_SPREAD_SHARE = 0.35


@dataclass(frozen=True)
class Weighing:
    """Sheep weighed on one day.

    Attributes
    ----------
    when : date
    number : int
        How many were weighed.
    mean_kg, sd_kg : float
        Mean and standard deviation of their live weights. [kg]
    hours_off_feed : float or None
        Since they last had feed before them; None when not known. [h]
    batch : str
        The batch they are of; "" when they are a sample of all.
    """

    when: date
    number: int
    mean_kg: float
    sd_kg: float
    hours_off_feed: float | None = None
    batch: str = ""

    @property
    def standard_error_kg(self) -> float:
        """Standard error of the mean. [kg]"""
        return self.sd_kg / math.sqrt(self.number)


def weighing(
    when: date,
    number: int,
    mean_kg: float,
    sd_kg: float,
    *,
    hours_off_feed: float | None = None,
    batch: str = "",
) -> Weighing:
    """A checked weighing from its mean, spread and number.

    Raises
    ------
    OutOfRange
        Everything that cannot be believed, one line each.
    """
    where = f"weighing of {in_words_day(when)}"
    faults = []
    if number < 2:
        faults.append(
            Problem(where, f"{number} weighed", "2 or more show a spread", "Weigh 30 to 50")
        )
    if not WEIGHT_KG[0] <= mean_kg <= WEIGHT_KG[1]:
        allowed = f"{WEIGHT_KG[0]:g} to {WEIGHT_KG[1]:g} kg is covered"
        faults.append(Problem(where, f"mean {mean_kg:g} kg", allowed, _pounds(mean_kg, WEIGHT_KG)))
    elif not 0 <= sd_kg <= WIDEST_SPREAD_SHARE * mean_kg:
        most = WIDEST_SPREAD_SHARE * mean_kg
        hint = "It is the standard deviation that is wanted, not lightest to heaviest"
        read = f"spread (standard deviation) {sd_kg:g} kg"
        faults.append(Problem(where, read, f"0 to {most:.1f} kg is believable", hint))
    hours = hours_off_feed
    if hours is not None and not 0 <= hours <= LONGEST_HOURS_OFF_FEED:
        allowed = f"0 to {LONGEST_HOURS_OFF_FEED:g} is believable"
        faults.append(Problem(where, f"{hours:g} hours off feed", allowed))
    if faults:
        raise OutOfRange(*faults)
    return Weighing(when, int(number), float(mean_kg), float(sd_kg), hours, batch)


def from_weights(
    weights_kg: Sequence[float],
    when: date,
    *,
    hours_off_feed: float | None = None,
    batch: str = "",
) -> Weighing:
    """A checked weighing from the weights of the sheep, one by one. [kg]

    Raises
    ------
    OutOfRange
        Every weight that cannot be believed, and too few of them.
    """
    where = f"weighing of {in_words_day(when)}"
    least, most = ONE_SHEEP_KG
    faults = [
        Problem(
            where,
            f"weight {place} is {kg:g} kg",
            f"{least:g} to {most:g} kg is believable",
            _slip(kg),
        )
        for place, kg in enumerate(weights_kg, 1)
        if not least <= kg <= most
    ]
    if len(weights_kg) < 2:
        read = f"{len(weights_kg)} weighed"
        faults.append(Problem(where, read, "2 or more show a spread", "Weigh 30 to 50"))
    if faults:
        raise OutOfRange(*faults)
    mean_kg, sd_kg = statistics.fmean(weights_kg), statistics.stdev(weights_kg)
    said = {"hours_off_feed": hours_off_feed}
    return weighing(when, len(weights_kg), mean_kg, sd_kg, **said, batch=batch)


def _pounds(kg: float, allowed: tuple[float, float]) -> str:
    as_lb = kg * LB_KG
    if kg > allowed[1] and allowed[0] <= as_lb <= allowed[1]:
        return f"If these are pounds, {kg:g} lb is {as_lb:.1f} kg"
    return ""


def _slip(kg: float) -> str:
    """What was probably meant by one weight that cannot be right."""
    if hint := _pounds(kg, ONE_SHEEP_KG):
        return hint
    if ONE_SHEEP_KG[0] <= kg / 10 <= ONE_SHEEP_KG[1]:
        return f"Did you mean {kg / 10:g} kg?"
    return "Take it out or correct it"
