"""At what value of each uncertain figure the cheapest way changes, and to which.

Every figure that the farmer entered is a lever: its place, its value now and how to set another.
With one lever moved and the rest held, the cost of a head on each way is a straight line of it
(per head returned, a straight line over the share alive, so that equality of two ways is still
linear); the crossing is worked from two points of the line. The rate of interest alone is not
straight: its crossings are found by halving.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf

from ration.wintering.budget import budget
from ration.wintering.compare import budgets, cheapest
from ration.wintering.records import Amount, Terms, Way, Wintering

MOST_INTEREST = 0.4
MOST_DEATHS = 0.95
MOST_COSTS = 1e9
_STEPS = 160
_HALVINGS = 80


@dataclass(frozen=True)
class Lever:
    """One figure that may turn out otherwise.

    Attributes
    ----------
    id : str
        Unique: "away > deaths", "wage".
    words : str
        As it is printed: "deaths on hill".
    unit : str
        share, GBP/h, GBP/head/week, GBP/t, GBP/head, GBP, kg, h/day, ...
    value : float
        Now, in `unit`.
    most : float
        Beyond which it is not looked for; the least is 0.
    put : callable
        The wintering with another value in this place.
    is_straight : bool
        The cost of a head is a straight line of it.
    """

    id: str
    words: str
    unit: str
    value: float
    most: float
    put: Callable[[Wintering, float], Wintering]
    is_straight: bool = True


@dataclass(frozen=True)
class Switch:
    """Where the cheapest way changes as one figure moves.

    Attributes
    ----------
    lever : Lever
    at : float
        In the lever's unit.
    to : str
        The way that is cheapest beyond.
    """

    lever: Lever
    at: float
    to: str

    @property
    def is_up(self) -> bool:
        """The figure has to rise."""
        return self.at >= self.lever.value


@dataclass(frozen=True)
class Switches:
    """Every crossing, the nearest in proportion first, and the figures that never matter."""

    cheapest: str
    found: tuple[Switch, ...]
    steady: tuple[Lever, ...]


def switching(wintering: Wintering, head: int) -> Switches:
    """The value of each uncertain figure at which the cheapest way changes.

    Parameters
    ----------
    wintering : Wintering
        Compared by the basis of its terms.
    head : int
        All of them on one way or another.
    """
    best = cheapest(budgets(wintering, head), wintering.terms.basis)
    found, steady = [], []
    for lever in levers(wintering):
        crossings = _crossings(wintering, head, best, lever)
        below = [c for c in crossings if c[0] < lever.value]
        above = [c for c in crossings if c[0] >= lever.value]
        ends = ([max(below)] if below else []) + ([min(above)] if above else [])
        if not ends:
            steady.append(lever)
        found += [Switch(lever, at, wintering.ways[i].name) for at, i in ends]
    found.sort(key=lambda s: (_distance(s), s.lever.id))
    return Switches(wintering.ways[best].name, tuple(found), tuple(steady))


def _distance(switch: Switch) -> float:
    now = switch.lever.value
    return abs(switch.at - now) / now if now else inf


def _lead(wintering: Wintering, head: int, best: int, other: int) -> float:
    """Cost of the cheapest less that of another, free of the division by those alive."""
    one, two = wintering.ways[best], wintering.ways[other]
    cost_one = budget(one, wintering.terms, head).gbp_per_head
    cost_two = budget(two, wintering.terms, head).gbp_per_head
    if wintering.terms.basis == "returned":
        return cost_one * (1 - two.deaths_share) - cost_two * (1 - one.deaths_share)
    return cost_one - cost_two


def _crossings(wintering: Wintering, head: int, best: int, lever: Lever) -> list[tuple[float, int]]:
    """Values of a lever at which the cheapest is caught by another, and by which."""
    caught = []
    for other in range(len(wintering.ways)):
        if other == best:
            continue

        def lead(value: float, other: int = other) -> float:
            return _lead(lever.put(wintering, value), head, best, other)

        roots = _on_a_line(lead, lever) if lever.is_straight else _by_halving(lead, lever)
        caught += [(root, other) for root in roots if 0 <= root <= lever.most]
    return caught


def _on_a_line(lead: Callable[[float], float], lever: Lever) -> list[float]:
    """The one crossing of a straight line, worked from two of its points."""
    room = (lever.most - lever.value) / 2
    # a straight line may be read far off: a step as small as a small value would be rounding
    step = min(max(lever.value, 1.0), room) if room > 0 else -lever.value / 2
    here, there = lead(lever.value), lead(lever.value + step)
    if abs(there - here) <= 1e-12 * max(abs(here), abs(there), 1.0):
        return []
    return [lever.value - here * step / (there - here)]


def _by_halving(lead: Callable[[float], float], lever: Lever) -> list[float]:
    """Crossings of a bent line on a grid over its range, each closed in on by halving."""
    grid = sorted({lever.value, *(lever.most * i / _STEPS for i in range(_STEPS + 1))})
    found = []
    for low, high in pairwise(grid):
        at_low, at_high = lead(low), lead(high)
        if at_low == 0:
            found.append(low)
        if at_low * at_high >= 0:
            continue
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            if (lead(middle) > 0) == (at_high > 0):
                high = middle
            else:
                low = middle
        found.append((low + high) / 2)
    return found


# ---------------------------------------------------------------- the levers


def levers(wintering: Wintering) -> tuple[Lever, ...]:
    """Every uncertain figure of the ways and of their prices that anything hangs on."""
    return (*_of_terms(wintering), *_of_feeds(wintering), *_of_ways(wintering))


def _of_terms(wintering: Wintering) -> list[Lever]:
    terms, ways = wintering.terms, wintering.ways

    def lever(
        name: str, words: str, unit: str, most: float = MOST_COSTS, is_straight: bool = True
    ) -> Lever:
        def put(w: Wintering, value: float) -> Wintering:
            return replace(w, terms=_with(w.terms, name, value))

        return Lever(name, words, unit, getattr(terms, name), most, put, is_straight)

    found = []
    if any(w.labour or w.visits for w in ways):
        found.append(lever("wage_gbp_per_h", "wage", "GBP/h"))
    if any(w.deaths_share for w in ways):
        found.append(lever("hogg_gbp", "value of a hogg", "GBP/head"))
    if any(w.barren_share for w in ways):
        found.append(lever("crop_gbp", "margin of a lamb crop", "GBP/head"))
    if any(w.wool_less_kg for w in ways):
        found.append(lever("wool_gbp_per_kg", "price of wool", "GBP/kg"))
    if any(w.heavier_kg for w in ways):
        found.append(lever("growth_gbp_per_kg", "value of a kilo of growth", "GBP/kg"))
    bent = any(w.building or w.barren_share for w in ways) or terms.is_interest_counted
    if bent and terms.interest_share_per_year <= MOST_INTEREST:
        found.append(
            lever("interest_share_per_year", "interest", "share a year", MOST_INTEREST, False)
        )
    return found


def _with(terms: Terms, name: str, value: float) -> Terms:
    changes: dict[str, float] = {name: value}
    return replace(terms, **changes)  # type: ignore[arg-type]


def _of_feeds(wintering: Wintering) -> list[Lever]:
    """The price of each feed put out by hand; one lever where its price is the same everywhere."""
    prices: dict[str, dict[float, list[str]]] = {}
    for way in wintering.ways:
        for feed in () if way.is_by_mix else way.feeds:
            price = feed.price_gbp_per_t_fresh
            if price is not None:
                prices.setdefault(feed.name, {}).setdefault(price, []).append(way.name)
    found = []
    for name, by_price in prices.items():
        for price, ways in by_price.items():
            words = f"price of {name}"
            if len(by_price) > 1:
                words += f" for {' and '.join(dict.fromkeys(ways))} at {price:g}"

            def put(w: Wintering, value: float, name: str = name, old: float = price) -> Wintering:
                return _priced(w, name, old, value)

            found.append(Lever(words, words, "GBP/t", price, MOST_COSTS, put))
    return found


def _priced(wintering: Wintering, name: str, old: float, new: float) -> Wintering:
    def feeds(way: Way) -> Way:
        return replace(
            way,
            feeds=tuple(
                replace(f, price_gbp_per_t_fresh=new)
                if f.name == name and f.price_gbp_per_t_fresh == old
                else f
                for f in way.feeds
            ),
        )

    return replace(wintering, ways=tuple(feeds(way) for way in wintering.ways))


def _of_ways(wintering: Wintering) -> list[Lever]:
    found = []
    for i, way in enumerate(wintering.ways):
        for name, (words, unit, value, most, change) in _figures(way).items():

            def put(
                w: Wintering, new: float, i: int = i, change: Callable[[Way, float], Way] = change
            ) -> Wintering:
                return replace(
                    w, ways=tuple(change(x, new) if j == i else x for j, x in enumerate(w.ways))
                )

            found.append(
                Lever(f"{way.name} > {name}", f"{words}, {way.name}", unit, value, most, put)
            )
    return found


_Figure = tuple[str, str, float, float, Callable[[Way, float], Way]]


def _figures(way: Way) -> dict[str, _Figure]:
    """A way's own figures; deaths and barrenness even where they are nothing."""

    def share(words: str, name: str, most: float) -> _Figure:
        return (words, "share", getattr(way, name), most, lambda w, v: replace(w, **{name: v}))

    found: dict[str, _Figure] = {
        "deaths": share("deaths", "deaths_share", MOST_DEATHS),
        "barren": share("more barren", "barren_share", 1.0),
    }
    if way.keep is not None:
        found["keep"] = (
            "keep", "GBP/head/week", way.keep.gbp_per_head_week, MOST_COSTS,
            lambda w, v: replace(w, keep=replace(w.keep, gbp_per_head_week=v)) if w.keep else w,
        )  # fmt: skip
    for name in ("haulage", "doses", "minerals", "bedding", "dung"):
        found |= _amount(name, getattr(way, name))
    if way.visits is not None:
        found["visits"] = (
            "journeys", "journeys", way.visits.journeys, 1e6,
            lambda w, v: replace(w, visits=replace(w.visits, journeys=v)) if w.visits else w,
        )  # fmt: skip
    if way.labour is not None and way.labour.hours_per_day:
        found["labour"] = (
            "work a day", "h/day", way.labour.hours_per_day, 1e6,
            lambda w, v: replace(w, labour=replace(w.labour, hours_per_day=v)) if w.labour else w,
        )  # fmt: skip
    if way.building is not None:
        found["building"] = (
            "capital of the building", "GBP", way.building.capital_gbp, MOST_COSTS,
            lambda w, v: replace(w, building=replace(w.building, capital_gbp=v))
            if w.building else w,
        )  # fmt: skip
    if way.land is not None:
        found["land"] = (
            "spring grass lost", "t DM/ha", way.land.lost_t_dm_per_ha, 1e6,
            lambda w, v: replace(w, land=replace(w.land, lost_t_dm_per_ha=v)) if w.land else w,
        )  # fmt: skip
    if way.wool_less_kg:
        found["wool"] = (
            "less wool", "kg", way.wool_less_kg, 1e3, lambda w, v: replace(w, wool_less_kg=v)
        )  # fmt: skip
    return found | _fed(way)


def _amount(name: str, money: Amount) -> dict[str, _Figure]:
    """Money a head, money for the flock: each a figure when it is said."""
    found: dict[str, _Figure] = {}

    def put(part: str) -> Callable[[Way, float], Way]:
        def change(way: Way, value: float) -> Way:
            changes: dict[str, float] = {part: value}
            return replace(way, **{name: replace(getattr(way, name), **changes)})

        return change

    if money.per_head_gbp:
        found[name] = (name, "GBP/head", money.per_head_gbp, MOST_COSTS, put("per_head_gbp"))
    if money.flock_gbp:
        found[f"{name} in all"] = (
            f"{name} in all", "GBP", money.flock_gbp, MOST_COSTS, put("flock_gbp")
        )  # fmt: skip
    return found


def _fed(way: Way) -> dict[str, _Figure]:
    """What is put out of each feed, or what the mix costs."""
    if way.is_by_mix:
        if way.mix_gbp_per_head is None:
            return {}
        cost = way.mix_gbp_per_head
        return {
            "mix": (
                "cost of the mix", "GBP/head", cost, MOST_COSTS,
                lambda w, v: replace(w, mix_gbp_per_head=v),
            )
        }  # fmt: skip

    def put(index: int) -> Callable[[Way, float], Way]:
        return lambda w, v: replace(
            w,
            feeds=tuple(
                replace(f, kg_fresh_per_head_day=v) if i == index else f
                for i, f in enumerate(w.feeds)
            ),
        )

    return {
        f"{feed.name} a day ({i + 1})": (
            f"{feed.name} a day", "kg/day", feed.kg_fresh_per_head_day, 1e3, put(i)
        )
        for i, feed in enumerate(way.feeds)
    }  # fmt: skip
