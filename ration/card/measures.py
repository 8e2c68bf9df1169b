"""Weights turned into scoops, buckets and bales, with the error that rounding makes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ration.errors import OutOfRange, Problem
from ration.farm import Lot, Measure

# Judgement: beyond this a measure is not used and the feed is weighed. [-]
MOST_ERROR_SHARE = 0.03
# What scales in a shed can be read to, and the error allowed in choosing among them. [kg], [-]
SCALE_STEPS_KG = (1.0, 0.5, 0.1, 0.05, 0.01, 0.001)
SCALE_ERROR_SHARE = 0.01
# Judgement: a bale up to this weight is carried and shared out by hand. [kg]
CARRIED_KG = 60.0
HALVED_WORDS = ("bale", "round", "square", "bucket", "bag", "sack", "wad")
BALE_WORDS = ("bale", "round", "square")
FRACTIONS = {0.0: "", 0.25: "¼", 0.5: "½", 0.75: "¾"}
# Days of a turn over which half bales are spread, the simplest first; of equals the nearest.
TURNS = ((1,), (2, 3), (7,), (14,))
MEALS = {
    1: ("morning",),
    2: ("morning", "evening"),
    3: ("morning", "midday", "evening"),
}
_TINY = 1e-9


@dataclass(frozen=True)
class Meal:
    """What goes in at one meal.

    Attributes
    ----------
    shown : str
        "2½ scoops", "23 kg".
    count : float or None
        Measures, over a turn of several days their mean; None when weighed.
    kg : float
        [kg fresh]
    more : str
        What is said after the name of the feed: ", and ½ bale more every second day".
    """

    shown: str
    count: float | None
    kg: float
    more: str = ""

    @property
    def words(self) -> str:
        """The whole of it without the feed's name."""
        return self.shown + self.more


@dataclass(frozen=True)
class Measured:
    """A pen's weight of one feed a day, as it is carried in.

    Attributes
    ----------
    measure : Measure or None
        None when it is to be weighed.
    count : float or None
        Measures a day, over a turn of several days their mean; None when weighed.
    shown : str
        "5 scoops"; "2½ bales, and ½ bale more every second day"; "10.5 kg, weighed".
    kg_wanted, kg_given : float
        For the pen a day. [kg fresh]
    meals : tuple of Meal
        One for each meal of the day, in order.
    """

    measure: Measure | None
    count: float | None
    shown: str
    kg_wanted: float
    kg_given: float
    meals: tuple[Meal, ...]

    @property
    def rounding_error_share(self) -> float:
        """Given over wanted, less one: above zero is too much. [-]"""
        return self.kg_given / self.kg_wanted - 1

    @property
    def is_weighed(self) -> bool:
        """No measure comes near enough: put it on the scales."""
        return self.count is None


# ---------------------------------------------------------------- words


def number_words(count: float) -> str:
    """A count in quarters: "5", "2½", "¾".

    >>> number_words(2.5), number_words(0.25), number_words(5.0)
    ('2½', '¼', '5')
    """
    whole = math.floor(count + _TINY)
    part = FRACTIONS[round((count - whole) * 4) / 4]
    return f"{whole or ''}{part}" or "0"


def amount_words(count: float, word: str) -> str:
    """A count of measures: "½ bale", "1 bucket", "2½ scoops"."""
    if count <= 1 + _TINY:
        return f"{number_words(count)} {word}"
    end = "es" if word.endswith(("s", "x", "ch", "sh")) else "s"
    return f"{number_words(count)} {word}{end}"


def weight_words(kg: float) -> str:
    """A pen's weight of feed: "49 kg", "10.5 kg", "5.25 kg", "85 g"."""
    if kg < 0.0995:
        return f"{kg * 1000:.0f} g"
    places = 2 if kg < 10 else 1
    return f"{kg:.{places}f}".rstrip("0").rstrip(".") + " kg"


def singular(word: str) -> str:
    """Bales to bale, rounds to round, big squares to big square."""
    return word[:-1] if word.endswith("s") and not word.endswith("ss") else word


def _is_one_of(word: str, words: Sequence[str]) -> bool:
    return any(singular(part) in words for part in word.lower().split())


def smallest_share(measure: Measure) -> float:
    """Smallest part of a measure that is given: half a bale or bucket, a quarter scoop. [-]"""
    return 0.5 if _is_one_of(measure.word, HALVED_WORDS) else 0.25


def bale_of(lot: Lot | None) -> Measure | None:
    """The mean bale of a lot as a measure; the middle of the guess where none was weighed."""
    if lot is None:
        return None
    kg = lot.mean_kg
    if kg is None and lot.guess_kg is not None:
        kg = sum(lot.guess_kg) / 2
    return None if kg is None else Measure(singular(lot.word), kg)


# ---------------------------------------------------------------- rounding


def _check(kg: float, measures: Sequence[Measure], meals: int) -> None:
    faults = [
        Problem("", f"a {m.word} of {m.kg:g} kg", "it holds more than nothing", "Weigh it again")
        for m in measures
        if not (math.isfinite(m.kg) and m.kg > 0)
    ]
    if not (math.isfinite(kg) and kg > 0):
        faults.append(Problem("", f"{kg:g} kg for the pen", "a weight above 0 kg"))
    if meals < 1:
        faults.append(Problem("", f"{meals} meals a day", "1 or more"))
    if faults:
        raise OutOfRange(*faults)


def _is_near(given: float, wanted: float) -> bool:
    return abs(given - wanted) < MOST_ERROR_SHARE * wanted


def shared_out(parts: int, meals: int, odd_from: int = 0) -> tuple[int, ...]:
    """Whole parts over the meals as evenly as may be, odd ones from a given meal on.

    >>> shared_out(19, 2), shared_out(19, 2, 1)
    ((10, 9), (9, 10))
    """
    each, odd = divmod(parts, meals)
    return tuple(each + (1 if (i - odd_from) % meals < odd else 0) for i in range(meals))


def weighed(kg_per_day: float, meals: int = 1, odd_from: int = 0) -> Measured:
    """A pen's day weighed out on scales, to the coarsest step with an error under 1 %.

    Parameters
    ----------
    kg_per_day : float
        For the pen. [kg fresh], above 0.
    meals, odd_from : int
        Meals it is shared over; the meal from which odd parts are given.
    """
    _check(kg_per_day, (), meals)
    for step in SCALE_STEPS_KG:
        total = round(kg_per_day / step) * step
        if abs(total - kg_per_day) <= SCALE_ERROR_SHARE * kg_per_day:
            part = min(step, 0.05 if total >= 5 else 0.01)
            break
    else:  # a few grams for a small pen: as they are, at one meal
        part = total = kg_per_day
    parts = shared_out(round(total / part), meals, odd_from)
    return Measured(
        measure=None,
        count=None,
        shown=f"{weight_words(total)}, weighed",
        kg_wanted=kg_per_day,
        kg_given=total,
        meals=tuple(Meal(weight_words(n * part), None, n * part) for n in parts),
    )


def measured(
    kg_per_day: float, measures: Sequence[Measure], meals: int = 1, odd_from: int = 0
) -> Measured:
    """A pen's day of one feed in the first measure that comes near enough, else weighed.

    The coarsest of whole, half and (for a scoop) quarter measures that is within 3 % of the
    weight wanted. A day's measures are shared over the meals in the smallest part of one.

    Parameters
    ----------
    kg_per_day : float
        For the pen. [kg fresh], above 0.
    measures : sequence of Measure
        Weighed with this feed, the first preferred.
    meals, odd_from : int
        Meals a day; the meal from which odd parts are given.

    Raises
    ------
    OutOfRange
        A weight that is not above zero, no meal.
    """
    _check(kg_per_day, measures, meals)
    for measure in measures:
        least = smallest_share(measure)
        for step in (s for s in (1.0, 0.5, 0.25) if s >= least):
            count = round(kg_per_day / measure.kg / step) * step
            if not _is_near(count * measure.kg, kg_per_day):
                continue
            parts = shared_out(round(count / least), meals, odd_from)
            if min(parts) == 0:
                break  # a meal would go without
            return Measured(
                measure=measure,
                count=count,
                shown=amount_words(count, measure.word),
                kg_wanted=kg_per_day,
                kg_given=count * measure.kg,
                meals=tuple(
                    Meal(amount_words(n * least, measure.word), n * least, n * least * measure.kg)
                    for n in parts
                ),
            )
    return weighed(kg_per_day, meals, odd_from)


def scoops(head: int, kg_per_head_day: float, measure: Measure) -> Measured:
    """What a pen is given of one feed a day, in one measure.

    Parameters
    ----------
    head : int
        Sheep in the pen.
    kg_per_head_day : float
        [kg fresh/head/day]
    measure : Measure

    Returns
    -------
    Measured
        `shown` says to weigh it where no rounding comes within 3 %.

    Examples
    --------
    >>> told = scoops(58, 0.18, Measure("scoop", 2.10))
    >>> told.shown, f"{told.kg_given:.2f}", f"{told.rounding_error_share:+.1%}"
    ('5 scoops', '10.50', '+0.6%')
    """
    return measured(head * kg_per_head_day, (measure,))


def wrong_scoop_share(measure_kg: float, meant_kg: float) -> float:
    """Share of the weight meant that another feed in the same scoop comes to. [-]

    Parameters
    ----------
    measure_kg : float
        What the scoop holds of the feed that is tipped. [kg fresh]
    meant_kg : float
        What it holds of the feed the card was written for. [kg fresh]

    Examples
    --------
    >>> wrong_scoop_share(1.55, 2.10)
    0.74
    """
    faults = [
        Problem("", f"a scoop of {kg:g} kg", "it holds more than nothing", "Weigh it again")
        for kg in (measure_kg, meant_kg)
        if not (math.isfinite(kg) and kg > 0)
    ]
    if faults:
        raise OutOfRange(*faults)
    return measure_kg / meant_kg


# ---------------------------------------------------------------- bales


def is_bale(measure: Measure) -> bool:
    """A bale, a round or a big square."""
    return _is_one_of(measure.word, BALE_WORDS)


def is_pack(measure: Measure) -> bool:
    """A bale or a bag: what the feed comes in, not what it is tipped with."""
    return _is_one_of(measure.word, (*BALE_WORDS, "bag", "sack"))


def is_carried(measure: Measure) -> bool:
    """Light enough to be shared out by hand."""
    return measure.kg <= CARRIED_KG


def in_bales(kg_per_day: float, measures: Sequence[Measure], meals: int = 2) -> Measured:
    """A pen's day of forage in whole and half bales, over a turn of several days where it must be.

    Carried bales: so many a day, and half a bale more every second or third day, or on some days
    of a week or fortnight. Bales too heavy to carry: whole ones, so many in so many days. What
    no turn brings within 3 % is weighed.

    Parameters
    ----------
    kg_per_day : float
        For the pen, mean of the days. [kg fresh], above 0.
    measures : sequence of Measure
        The first preferred; any that is not a bale is used as in `measured`.
    meals : int
        Times a day it is put out.
    """
    _check(kg_per_day, measures, meals)
    for measure in measures:
        if not is_bale(measure):
            found = measured(kg_per_day, (measure,), meals)
            if not found.is_weighed:
                return found
            continue
        if is_carried(measure):
            turn = _hand_fed(kg_per_day, measure, meals)
        else:
            turn = _put_in_whole(kg_per_day, measure)
        if turn is not None:
            return turn
    return weighed(kg_per_day, meals)


def _hand_fed(kg_per_day: float, measure: Measure, meals: int) -> Measured | None:
    """Half bales by hand: some every day, the odd half on some days of a turn."""
    for turn in TURNS:
        found = [_turn(kg_per_day, measure.kg, days) for days in turn]
        days, parts = min(found, key=lambda t: abs(t[1] / t[0] * measure.kg / 2 - kg_per_day))
        count = parts / 2 / days
        if not _is_near(count * measure.kg, kg_per_day):
            continue
        base, extra = divmod(parts, days)
        if base < meals:
            return None  # a meal would go without
        each = shared_out(base, meals)
        more = f", and ½ {measure.word} more {_when(extra, days)}" if extra else ""
        counts = [n / 2 for n in each]
        counts[-1] += extra / 2 / days
        told = [
            Meal(amount_words(n / 2, measure.word), count_at, count_at * measure.kg)
            for n, count_at in zip(each, counts, strict=True)
        ]
        told[-1] = replace(told[-1], more=more)
        return Measured(
            measure=measure,
            count=count,
            shown=amount_words(base / 2, measure.word) + more,
            kg_wanted=kg_per_day,
            kg_given=count * measure.kg,
            meals=tuple(told),
        )
    return None


def _turn(kg_per_day: float, bale_kg: float, days: int) -> tuple[int, int]:
    """Days of a turn and the half bales that go in over it; whole ones a day where they do."""
    whole = round(kg_per_day / bale_kg)
    if days == 1 and _is_near(whole * bale_kg, kg_per_day):
        return 1, 2 * whole
    return days, round(2 * kg_per_day * days / bale_kg)


def _put_in_whole(kg_per_day: float, measure: Measure) -> Measured | None:
    """Whole big bales in a rack: so many in so many days, all told at the first meal."""
    bales = kg_per_day / measure.kg
    for days in range(1, 15):
        whole = round(bales * days)
        count = whole / days
        if whole and _is_near(count * measure.kg, kg_per_day):
            every = " a day" if days == 1 else f" every {days} days"
            shown = amount_words(whole, measure.word)
            return Measured(
                measure=measure,
                count=count,
                shown=shown + every,
                kg_wanted=kg_per_day,
                kg_given=count * measure.kg,
                meals=(Meal(shown, count, count * measure.kg, every),),
            )
    return None


def _when(extra: int, days: int) -> str:
    if days == 2:
        return "every second day"
    if days == 3:
        return "every third day" if extra == 1 else "two days in three"
    span = {7: "a week", 14: "a fortnight"}[days]
    return f"{extra} day{'s' if extra > 1 else ''} {span}"
