"""Bales counted and weighed: how a stock is read, and the lot that it comes to.

A stock is a weight ("11.8 t") or a count: "640 bales of 18.4 kg", "90 bales, guess 17 kg",
"46 rounds of 215 to 265 kg", or "640 bales" alone where `weighed` gives the weight.
"""

from __future__ import annotations

import math
import re
import statistics
from dataclasses import dataclass
from typing import Any

from ration import units
from ration.errors import InputError, Problem
from ration.farm import Lot, Measure
from ration.plain_text import plain, refusal, shown, split

MOST_T = 100_000.0
MOST_WEIGHED = 200
DISAGREE_SHARE = 0.02  # a written weight and the weighed mean may differ by this much
LARGEST_SPREAD_SHARE = 0.5  # a standard deviation over half the mean is no one lot
EXAMPLE = '"12 bales, mean 18.4 kg, SD 1.9 kg"'
_WEIGHED = re.compile(
    r"(\S+)(?: [a-z ]*?[a-z])??(?: weighed)?,? mean (?:of )?(.+?)"
    r"(?:,? (?:sd|standard deviation) (?:of )?(.+))?"
)


@dataclass(frozen=True)
class Stock:
    """A stock as written.

    Attributes
    ----------
    words : str
        As written.
    t : float or None
        None for a count of unsaid weight. [t fresh]
    count : int or None
        Whole bales; None for a stock written as a weight.
    word : str
        bales, rounds, bags ...
    kg : float or None
        Weight of one, the middle of a range. [kg fresh]
    guess_kg : tuple of float or None
        The ends of a range. [kg fresh]
    is_guess : bool
    """

    words: str
    t: float | None
    count: int | None = None
    word: str = ""
    kg: float | None = None
    guess_kg: tuple[float, float] | None = None
    is_guess: bool = False


@dataclass(frozen=True)
class Weights:
    """Bales weighed: how many, mean and standard deviation. [-], [kg fresh]"""

    number: int
    mean_kg: float
    sd_kg: float


def stock(value: Any) -> Stock:
    """A stock: a weight, or a count with or without the weight of one."""
    text = plain(value, "stock")
    size, rest = split(text, "stock")
    found = units.COUNT.fullmatch(rest)
    if not found:
        return Stock(text, _believable(text, units.stock_t(text)), is_guess=units.is_guess(text))
    word, weight = found.groups()
    if size != int(size):
        raise refusal(text, f"stock counts whole {word}")
    if size > 1_000_000:
        raise refusal(text, "stock is outside what is believable", "0 to 1,000,000 of them")
    if weight is None:
        return Stock(text, None, int(size), word)
    ends = _range(text, weight)
    kg = (ends[0] + ends[1]) / 2 if ends else units.mass_kg(weight, "the weight in the stock")
    if kg <= 0:
        raise refusal(text, f"a {one(word)} weighs something")
    t = _believable(text, size * kg / 1000)
    return Stock(text, t, int(size), word, kg, ends, bool(ends) or units.is_guess(text))


def _believable(text: str, t: float) -> float:
    if t > MOST_T:
        raise refusal(text, "stock is outside what is believable", f"0 to {MOST_T:g} t")
    return t


def _range(text: str, weight: str) -> tuple[float, float] | None:
    """The ends of "215 to 265 kg"; None when it is one weight."""
    found = re.fullmatch(r"([0-9].*?) ?(?:to|-|–) ?([0-9].*)", weight)
    if not found:
        return None
    first, last = found.groups()
    if not re.search("[a-z]", first):
        first += " " + split(last, "the weight in the stock")[1]
    least, most = (units.mass_kg(end, "the weight in the stock") for end in (first, last))
    if not 0 < least < most:
        raise refusal(
            text,
            f"the weight runs from {least:g} to {most:g} kg",
            "the least must be under the most",
            'Write "215 to 265 kg"',
        )
    return least, most


def one(word: str) -> str:
    """One of them: "bale" for small bales, rounds and squares, else the last word."""
    last = word.split()[-1].removesuffix("s")
    return "bale" if last in ("round", "square") else last


def weights(value: Any) -> Weights:
    """Bales weighed: "12 bales, mean 18.4 kg, SD 1.9 kg", or the list of their weights."""
    if isinstance(value, list):
        if not 2 <= len(value) <= MOST_WEIGHED:
            allowed = f"2 to {MOST_WEIGHED} weights are wanted"
            raise refusal(f"a list of {len(value)}", "the spread comes from several bales", allowed)
        kgs = [units.mass_kg(item, "the weight of a bale") for item in value]
        return checked(len(kgs), statistics.fmean(kgs), statistics.stdev(kgs), value)
    text = plain(value, "weighed")
    found = _WEIGHED.fullmatch(text.lower())
    if not found:
        raise refusal(text, "what was weighed is not understood", "", f"Write {EXAMPLE}")
    number, mean, sd = found.groups()
    if sd is None:
        do = f"Write {EXAMPLE}, or the weights as a list: [18.2 kg, 17.9 kg]"
        raise refusal(text, "the spread (SD) of the weights is missing", "", do)
    return checked(
        units.whole(number, "the number weighed"),
        units.mass_kg(mean, "mean"),
        units.mass_kg(sd, "SD"),
        value,
    )


def checked(number: int, mean_kg: float, sd_kg: float, value: Any) -> Weights:
    """Weights that can be; `value` is what was written."""
    text = ", ".join(str(v) for v in value) if isinstance(value, list | tuple) else value
    if number < 2:
        raise refusal(text, "the spread comes from several bales", "at least 2 weighed")
    if mean_kg <= 0:
        raise refusal(text, "a bale weighs something")
    if sd_kg > LARGEST_SPREAD_SHARE * mean_kg:
        raise refusal(
            text,
            f"SD {sd_kg:.3g} kg on a mean of {mean_kg:.3g} kg",
            "over half the mean is not one lot",
            "Check the weights, or make two lots of it",
        )
    return Weights(number, mean_kg, sd_kg)


def settled(said: Stock | None, weighed: Weights | None) -> tuple[float | None, Lot | None, bool]:
    """Tonnes, the lot and whether it is a guess, from the stock and what was weighed.

    Raises
    ------
    InputError
        The two do not go together; the problem's place is not filled in.
    """
    if weighed is not None:
        return _weighed(said, weighed)
    if said is None:
        return None, None, False
    if said.count is None:
        return said.t, None, said.is_guess
    if said.t is None:
        units.stock_t(said.words)  # says that the weight is missing
    mean = None if said.guess_kg else said.kg
    return said.t, Lot(said.count, said.word, mean, guess_kg=said.guess_kg), said.is_guess


def _weighed(said: Stock | None, weighed: Weights) -> tuple[float, Lot, bool]:
    if said is None:
        problem = Problem(
            "", "bales were weighed but there is no stock", "", 'Add "stock: 640 bales"'
        )
        raise InputError(problem)
    if said.count is None:
        raise InputError(
            Problem(
                "",
                f"bales were weighed but the stock {shown(said.words)} is not counted in bales",
                do='Write "stock: 640 bales"',
            )
        )
    mean = weighed.mean_kg
    if weighed.number > said.count:
        read = f"{weighed.number} were weighed of {said.count} {said.word}"
        raise InputError(Problem("", read, do="Check both numbers"))
    if (
        said.kg is not None
        and not said.is_guess
        and abs(said.kg - mean) > DISAGREE_SHARE * max(said.kg, mean)
    ):
        raise InputError(
            Problem(
                "",
                f"the stock says {said.kg:g} kg each and the weighed mean is {mean:.4g} kg",
                f"they may differ by {DISAGREE_SHARE:.0%}",
                f'Write "stock: {said.count} {said.word}" and leave the weight to "weighed"',
            )
        )
    t = _believable(said.words, said.count * mean / 1000)
    return t, Lot(said.count, said.word, mean, weighed.sd_kg, weighed.number), False


def measures(
    scoop_kg: float | None, bucket_kg: float | None, bale_kg: float | None, lot: Lot | None
) -> tuple[Measure, ...]:
    """The user's own measures of one feed; a bale's is that of the lot when it is not said."""
    found = [("scoop", scoop_kg), ("bucket", bucket_kg), ("bale", bale_kg)]
    if bale_kg is None and lot is not None:
        ends = lot.guess_kg
        found[2] = (one(lot.word), math.fsum(ends) / 2 if ends else lot.mean_kg)
    return tuple(Measure(word, kg) for word, kg in found if kg is not None)
