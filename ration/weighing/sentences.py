"""What a weighing tells, in plain sentences."""

from __future__ import annotations

import math

from ration.animals import GAIN_G_PER_DAY
from ration.units import in_words_day
from ration.weighing.line import Told

SOURCE = "Semakula et al. (2021), Agriculture 11, 150"


def words(told: Told) -> str:
    """What a weighing tells, in plain sentences."""
    w = told.weighing
    who = f"{w.batch}: they" if w.batch else "They"
    off = "behind" if told.behind_kg >= 0 else "ahead"
    said = [
        f"{who} weigh {w.mean_kg:.1f} kg against a line of {told.line_kg:.2f}: "
        f"{abs(told.behind_kg):.2f} kg {off}, give or take {told.half_width_kg:.2f} "
        f"(1.96 standard errors, {w.number} weighed), before gut fill.",
        _gut_words(told),
        _verdict_words(told),
        f"Since {in_words_day(told.start)} they gained {told.gain_g_per_day:.0f} g/day, give or "
        f"take {told.gain_half_width_g_per_day:.0f}, the first weighing taken as exact.",
        _needed_words(told),
        *told.notes,
    ]
    return " ".join(s for s in said if s)


def _gut_words(told: Told) -> str:
    low, high = told.gut_fill_kg
    if low == high == 0:
        return "They were weighed after the same time off feed as at first."
    if low < 0 < high:
        range_words = f"up to {max(high, -low):.1f} kg either way"
        if not math.isclose(high, -low):
            range_words = f"from {-low:.1f} kg too heavy to {high:.1f} kg too light"
        return f"Gut fill may have moved this weight by {range_words} ({SOURCE})."
    near, far = sorted((abs(low), abs(high)))
    size = f"up to {far:.1f} kg" if near < 0.05 else f"{near:.1f} to {far:.1f} kg"
    if high > 0:
        return f"They were emptier than at first and may weigh {size} too light ({SOURCE})."
    return f"They were fuller than at first and may weigh {size} too heavy ({SOURCE})."


def _verdict_words(told: Told) -> str:
    least, most = told.behind_range_kg
    if told.verdict != "cannot tell":
        near, far = sorted((abs(least), abs(most)))
        return f"They are {told.verdict} the line, by {near:.1f} to {far:.1f} kg.".replace(
            "ahead the line", "ahead of the line"
        )
    if abs(told.behind_kg) <= told.half_width_kg:
        return (
            "From this weighing you cannot tell whether they are behind or ahead: too few were "
            "weighed, or they are on the line."
        )
    return (
        "With gut fill allowed for, you cannot tell whether they are behind or ahead of the line. "
        "Weigh again before you spend much on it."
    )


def _needed_words(told: Told) -> str:
    need, target, until = told.needed_g_per_day, told.target_kg, in_words_day(told.end)
    if need <= 0:
        return f"They are at or past the target of {target:.1f} kg for {until} already."
    said = f"To reach {target:.1f} kg they need {need:.1f} g/day to {until}"
    if told.later_end is not None and told.needed_later_g_per_day is not None:
        later = in_words_day(told.later_end)
        said += f", or {told.needed_later_g_per_day:.1f} to {later}"
    if need > GAIN_G_PER_DAY[1]:
        said += f"; over {GAIN_G_PER_DAY[1]:g} is more than is covered here"
    return said + "."
