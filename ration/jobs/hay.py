"""What a ration costs as one figure of one feed moves: the hay came back poorer, or better.

Each value is a search of its own, proved as `ration.mix` proves it; nothing is read off a slope.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from types import MappingProxyType

from ration import mix
from ration.animals import Batch
from ration.errors import InputError, NotProved, OutOfRange, Problem, UnknownName
from ration.farm import Farm, Offer
from ration.farm.offers import FALL_WITH
from ration.feeds import Feed, Figure
from ration.gains import NO_MIX, NOT_PROVED
from ration.tables import Tables

MOST_VALUES = 60
LEAST_SHOWN_KG = 0.0005
_NEAR_SHARE = 1e-9


@dataclass(frozen=True)
class HayPoint:
    """The cheapest ration at one value of the figure.

    Attributes
    ----------
    value : float
        In the unit of the figure.
    cost_gbp_per_head_day : float or None
        None where there is no ration. [GBP/head/day]
    kg_offered : mapping of str to float
        Put out, by offer id, half a gram or more. [kg fresh/head/day]
    why_not : str
        Why there is no ration, "" where there is one.
    is_now : bool
        The value the farm has.
    """

    value: float
    cost_gbp_per_head_day: float | None
    kg_offered: Mapping[str, float]
    why_not: str
    is_now: bool

    @property
    def is_found(self) -> bool:
        """Whether there is a ration."""
        return self.cost_gbp_per_head_day is not None


@dataclass(frozen=True)
class Turn:
    """Where other feeds make the mix, the figure rising from `low` to `high`.

    Attributes
    ----------
    low, high : float
        The mix changes between these two. [unit of the figure]
    comes_in, goes_out : tuple of str
        Offer ids.
    is_lost, is_regained : bool
        There is no ration any more; there is one again.
    """

    low: float
    high: float
    comes_in: tuple[str, ...] = ()
    goes_out: tuple[str, ...] = ()
    is_lost: bool = False
    is_regained: bool = False

    @property
    def middle(self) -> float:
        """Half-way between."""
        return (self.low + self.high) / 2


@dataclass(frozen=True)
class HayCurve:
    """What one batch costs over the values of one figure of one feed.

    Attributes
    ----------
    batch : Batch
    offer_id, name : str
        The feed.
    figure, words, unit : str
        Id of the figure in the nutrient dictionary, its name and unit there.
    now : float
        The value the farm has.
    points : tuple of HayPoint
        By value, `now` among them.
    turns : tuple of Turn
    names : mapping of str to str
        Name of each feed on offer by its id.
    """

    batch: Batch
    offer_id: str
    name: str
    figure: str
    words: str
    unit: str
    now: float
    points: tuple[HayPoint, ...]
    turns: tuple[Turn, ...]
    names: Mapping[str, str]

    @property
    def at_now(self) -> HayPoint:
        """The ration as the farm has it."""
        return next(p for p in self.points if p.is_now)


def hay_curve(
    farm: Farm,
    tables: Tables,
    batch: str,
    offer_id: str,
    figure: str,
    values: Sequence[float],
    *,
    halvings: int = 0,
) -> HayCurve:
    """What a batch's cheapest ration costs at other values of one figure of one feed.

    The batch's share of the stacks and everything else stay. A figure that hung on the one
    changed (published fermentable energy, D-value) is dropped with it, as in the farm file.

    Parameters
    ----------
    farm : Farm
    tables : Tables
    batch : str
        Name of the batch.
    offer_id : str
        The feed whose figure moves.
    figure : str
        Its id in the nutrient dictionary: "cp_g_per_kg_dm", "me_mj_per_kg_dm" ...
    values : sequence of float
        In the figure's unit; the farm's own value is added.
    halvings : int
        How often to halve the gap in which the mix changes: each costs a search a turn. 0 to 20.

    Raises
    ------
    UnknownName
        No such batch, feed or figure.
    MissingValue
        The feed has no such figure, and none may be assumed.
    OutOfRange
        Every value that no feed of its kind has; too many values.
    BalanceError
        The books of a ration do not balance.
    """
    known = [b for b in farm.batches if b.name == batch]
    offers = {o.id: o for o in farm.offers if not o.made_for}
    if not known or offer_id not in offers:
        raise UnknownName(*_unknown(farm, batch, offer_id, offers))
    nutrient = tables.nutrient(figure)
    here = mix.asker(farm, tables)(known[0])
    own = next(o for o in here.offers if o.id == offer_id).feed.figure(figure)
    _check(tables, offers[offer_id], figure, nutrient.unit, values, halvings)
    found: dict[float, HayPoint] = {own.value: _point(here, own.value, True)}

    def at(value: float) -> HayPoint:
        if value not in found:
            found[value] = _asked(
                _moved(farm, offer_id, figure, own, value), tables, known[0], value
            )
        return found[value]

    ladder = [at(v) for v in sorted({own.value, *_apart(values, own.value)})]
    return HayCurve(
        batch=known[0],
        offer_id=offer_id,
        name=offers[offer_id].name,
        figure=figure,
        words=nutrient.name,
        unit=nutrient.unit,
        now=own.value,
        points=tuple(ladder),
        turns=tuple(
            turn for low, high in pairwise(ladder) for turn in _turns(low, high, at, halvings)
        ),
        names=MappingProxyType({o.id: o.name for o in here.offers}),
    )


def _unknown(
    farm: Farm, batch: str, offer_id: str, offers: Mapping[str, Offer]
) -> Iterator[Problem]:
    names = [b.name for b in farm.batches]
    if batch not in names:
        yield Problem("", f'"{batch}" is not a batch of this farm', f"batches: {', '.join(names)}")
    if offer_id not in offers:
        allowed = f"on offer to sheep: {', '.join(offers)}"
        yield Problem("", f'feed "{offer_id}" is not on offer', allowed)


def _check(
    tables: Tables,
    offer: Offer,
    figure: str,
    unit: str,
    values: Sequence[float],
    halvings: int,
) -> None:
    low, high = tables.range_of(figure, offer.feed.group)
    faults = [
        Problem(
            offer.name,
            f"{figure} of {v:g} {unit}",
            f"{low:g} to {high:g} is plausible for {offer.feed.kind_words}",
        )
        for v in values
        if not (math.isfinite(v) and low <= v <= high)
    ]
    if len(values) > MOST_VALUES:
        faults.append(Problem(offer.name, f"{len(values)} values", f"at most {MOST_VALUES}"))
    if not 0 <= halvings <= 20:
        faults.append(Problem(offer.name, f"{halvings} halvings", "0 to 20 can be"))
    if faults:
        raise OutOfRange(*faults)


def _apart(values: Sequence[float], now: float) -> list[float]:
    """The values that are not the farm's own within rounding."""
    return [float(v) for v in values if abs(v - now) > _NEAR_SHARE * max(abs(now), 1.0)]


def _moved(farm: Farm, offer_id: str, figure: str, own: Figure, value: float) -> Farm:
    """The farm with one figure of one feed changed."""

    def feed(old: Feed) -> Feed:
        gone = FALL_WITH.get(figure, ())
        kept = {n: f for n, f in old.figures.items() if n not in gone}
        new = replace(own, value=value, mark="guess", source="", note=f"instead of {own.value:g}")
        return replace(old, figures=MappingProxyType(kept)).with_figures({figure: new})

    offers = tuple(replace(o, feed=feed(o.feed)) if o.id == offer_id else o for o in farm.offers)
    return replace(farm, offers=offers)


def _asked(farm: Farm, tables: Tables, batch: Batch, value: float) -> HayPoint:
    try:
        return _point(mix.asker(farm, tables)(batch), value, False)
    except NotProved:
        return HayPoint(value, None, MappingProxyType({}), NOT_PROVED, False)
    except InputError as error:
        return HayPoint(value, None, MappingProxyType({}), str(error.problems[0]), False)


def _point(ration: mix.Ration, value: float, is_now: bool) -> HayPoint:
    if not ration.is_found:
        return HayPoint(value, None, MappingProxyType({}), NO_MIX, is_now)
    put_out = {
        f.id: f.kg_fresh_offered_per_head_day
        for f in ration.feeds
        if f.kg_fresh_offered_per_head_day >= LEAST_SHOWN_KG
    }
    return HayPoint(value, ration.cost_gbp_per_head_day, MappingProxyType(put_out), "", is_now)


def _turns(
    low: HayPoint, high: HayPoint, at: Callable[[float], HayPoint], halvings: int
) -> Iterator[Turn]:
    """The changes of the mix between two values, the gap halved as often as asked."""
    if _made_of(low) == _made_of(high):
        return
    if halvings > 0:
        middle = at((low.value + high.value) / 2)
        yield from _turns(low, middle, at, halvings - 1)
        yield from _turns(middle, high, at, halvings - 1)
        return
    if not (low.is_found and high.is_found):
        yield Turn(low.value, high.value, is_lost=low.is_found, is_regained=high.is_found)
        return
    yield Turn(
        low.value,
        high.value,
        comes_in=tuple(i for i in high.kg_offered if i not in low.kg_offered),
        goes_out=tuple(i for i in low.kg_offered if i not in high.kg_offered),
    )


def _made_of(point: HayPoint) -> tuple[bool, frozenset[str]]:
    return point.is_found, frozenset(point.kg_offered)
