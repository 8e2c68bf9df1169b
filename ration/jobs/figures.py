"""Which figures a ration rests on, and what it would cost if one of them were a little out.

Each cost is a search of its own, proved as `ration.mix` proves it; nothing is read off a slope.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from types import MappingProxyType

from ration import mix
from ration.animals import Batch
from ration.choices import WHY, wanted
from ration.errors import InputError, NotProved, OutOfRange, Problem, UnknownName
from ration.farm import Farm
from ration.farm.offers import FALL_WITH
from ration.feeds import Feed, Figure
from ration.gains import NO_MIX, NOT_PROVED
from ration.mix import Ration
from ration.tables import Tables

OUT_SHARE = 0.05
MEASURED = ("lab", "label", "user")
_WHOLE = {"dm_g_per_kg_fresh": 1000.0}
_PARTS = {"n_a_share": "n_b_share", "n_b_share": "n_a_share"}


@dataclass(frozen=True)
class Behind:
    """One figure that a ration rests on.

    Attributes
    ----------
    offer_id, feed : str
        The feed used, and its name.
    nutrient, words, unit : str
        Id of the figure, its name in a sentence and its unit.
    figure : Figure
    is_assumed : bool
        Not on file; taken from the table of assumptions because the farm file allows it.
    """

    offer_id: str
    feed: str
    nutrient: str
    words: str
    unit: str
    figure: Figure
    is_assumed: bool

    @property
    def is_measured(self) -> bool:
        """Measured on this feed, or written by the one who feeds it."""
        return self.figure.mark in MEASURED and not self.is_assumed


@dataclass(frozen=True)
class OneOut:
    """What the ration costs with one figure a little lower and a little higher.

    Attributes
    ----------
    behind : Behind
    low, high : float
        The two values, in the figure's unit; the figure itself where it cannot be otherwise.
    low_gbp_per_head_day, high_gbp_per_head_day : float or None
        None where there is no ration. [GBP/head/day]
    low_why_not, high_why_not : str
        Why there is none.
    """

    behind: Behind
    low: float
    high: float
    low_gbp_per_head_day: float | None
    high_gbp_per_head_day: float | None
    low_why_not: str = ""
    high_why_not: str = ""

    def most_moved(self, now_gbp_per_head_day: float) -> float:
        """The larger of the two moves; infinite where there is no ration. [GBP/head/day]"""
        costs = (self.low_gbp_per_head_day, self.high_gbp_per_head_day)
        return max(float("inf") if c is None else abs(c - now_gbp_per_head_day) for c in costs)


@dataclass(frozen=True)
class IfOut:
    """Every figure that a batch's ration rests on, the one that moves its cost most first.

    Attributes
    ----------
    batch : Batch
    out_share : float
        How far each figure was moved, down and up. [share of it]
    now_gbp_per_head_day : float or None
        None where there is no ration to begin with. [GBP/head/day]
    ones : tuple of OneOut
    """

    batch: Batch
    out_share: float
    now_gbp_per_head_day: float | None
    ones: tuple[OneOut, ...]


def behind(ration: Ration, tables: Tables) -> tuple[Behind, ...]:
    """The figures of the feeds used that a mix must know, feed by feed; none where none is used."""
    used = {line.id for line in ration.feeds if line.is_used}
    gaps = {(gap.offer, gap.nutrient) for gap in ration.gaps}
    return tuple(
        Behind(
            o.id, o.name, n, WHY[n], tables.nutrient(n).unit, o.feed.figure(n), (o.id, n) in gaps
        )
        for o in ration.offers
        if o.id in used
        for n in wanted(o.feed)
    )


def costs_if_out(farm: Farm, tables: Tables, batch: str, out_share: float = OUT_SHARE) -> IfOut:
    """What a batch's cheapest ration costs with each figure it rests on a little out, one by one.

    Two searches a figure. The feeds used are those of the ration as it is; a book figure that hung
    on the one moved (published fermentable energy, D-value) is dropped with it, as in the farm
    file. A figure of nought is left out: a share of it is nothing.

    Parameters
    ----------
    farm : Farm
    tables : Tables
    batch : str
        Name of the batch.
    out_share : float
        How far each is moved: over 0, at most 0.5. [share of the figure]

    Raises
    ------
    UnknownName
        No such batch.
    OutOfRange
        `out_share` is not within its range.
    InputError
        The farm as it is cannot be worked out.
    """
    known = next((b for b in farm.batches if b.name == batch), None)
    if known is None:
        names = ", ".join(b.name for b in farm.batches)
        raise UnknownName(Problem("", f'"{batch}" is not a batch of this farm', names))
    if not 0 < out_share <= 0.5:
        raise OutOfRange(Problem("", f"{out_share:g} out", "over 0, at most 0.5"))
    here = mix.asker(farm, tables)(known)
    if not here.is_found:
        return IfOut(known, out_share, None, ())
    now = here.cost_gbp_per_head_day
    feeds = {o.id: o.feed for o in here.offers}
    ones = [
        _one(farm, tables, known, each, feeds[each.offer_id], out_share, now)
        for each in _movable(here, tables, farm)
    ]
    ones.sort(key=lambda one: -one.most_moved(now))
    return IfOut(known, out_share, now, tuple(ones))


def _movable(here: Ration, tables: Tables, farm: Farm) -> Iterator[Behind]:
    own = {o.id for o in farm.offers}
    for each in behind(here, tables):
        if each.figure.value != 0 and each.offer_id in own:
            yield each


def _one(
    farm: Farm, tables: Tables, batch: Batch, each: Behind, feed: Feed, out: float, now: float
) -> OneOut:
    value = each.figure.value
    low, high = value * (1 - out), min(value * (1 + out), _most(each.nutrient, feed))
    low_cost, low_why = _cost(_moved(farm, each, low), tables, batch)
    if high <= value:
        return OneOut(each, low, value, low_cost, now, low_why)
    high_cost, high_why = _cost(_moved(farm, each, high), tables, batch)
    return OneOut(each, low, high, low_cost, high_cost, low_why, high_why)


def _most(nutrient: str, feed: Feed) -> float:
    """The most a figure can be whatever the feed: all of it."""
    if nutrient in _PARTS:
        return 1.0 - (feed.get(_PARTS[nutrient]) or 0.0)
    return _WHOLE.get(nutrient, float("inf"))


def _moved(farm: Farm, each: Behind, value: float) -> Farm:
    """The farm with one figure of one feed at another value."""
    gone = FALL_WITH.get(each.nutrient, ())

    def feed(old: Feed) -> Feed:
        kept = {n: f for n, f in old.figures.items() if n not in gone}
        new = Figure(value, "guess", note=f"instead of {each.figure.value:g}")
        return replace(old, figures=MappingProxyType({**kept, each.nutrient: new}))

    offers = tuple(
        replace(o, feed=feed(o.feed)) if o.id == each.offer_id else o for o in farm.offers
    )
    return replace(farm, offers=offers)


def _cost(farm: Farm, tables: Tables, batch: Batch) -> tuple[float | None, str]:
    """Cost of the cheapest ration, or why there is none."""
    try:
        ration = mix.asker(farm, tables)(batch)
    except NotProved:
        return None, NOT_PROVED
    except InputError as error:
        return None, str(error.problems[0])
    return (ration.cost_gbp_per_head_day, "") if ration.is_found else (None, NO_MIX)
