"""What a caution is made of: the figures that go into its words, and the rules that raise it.

A rule looks at one batch and gives the figures for the words of its row in
`feedtables/cautions.csv`, or nothing. Figures of several batches can be laid together, so that a
caution is printed once however many batches share it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ration.animals import Batch
    from ration.assess import Assessment, Portion
    from ration.farm import Farm, Offer
    from ration.feeds import Feed
    from ration.tables.records import DefaultCaution

# A mix may stand exactly on a limit; a thousandth past it is rounding, not a danger.
HAIR = 1e-3
OWN_MARKS = ("lab", "label", "user")


@dataclass(frozen=True)
class Span:
    """Lowest and highest of a number over the batches: one number when they print alike."""

    low: float
    high: float

    def __format__(self, spec: str) -> str:
        low, high = format(self.low, spec or "g"), format(self.high, spec or "g")
        return low if low == high else f"{low} to {high}"

    def with_other(self, other: Span) -> Span:
        """Wide enough for both."""
        return Span(min(self.low, other.low), max(self.high, other.high))


@dataclass(frozen=True)
class Names:
    """Names in the order they came, each once: "hay, oats and barley"."""

    names: tuple[str, ...]

    def __format__(self, spec: str) -> str:
        *first, last = self.names
        return f"{', '.join(first)} and {last}" if first else last

    def with_other(self, other: Names) -> Names:
        """Both lists as one."""
        return names((*self.names, *other.names))


@dataclass(frozen=True)
class Tally:
    """How many different things there are."""

    things: frozenset[tuple[str, ...]]

    def __format__(self, spec: str) -> str:
        return format(len(self.things), "d")

    def with_other(self, other: Tally) -> Tally:
        """Both heaps as one; what is in both counts once."""
        return Tally(self.things | other.things)


Part = Span | Names | Tally
Parts = Mapping[str, Part]


def number(value: float) -> Span:
    """One number as a part of the words."""
    return Span(float(value), float(value))


def names(found: Iterable[str]) -> Names:
    """Names as a part of the words, each once."""
    return Names(tuple(dict.fromkeys(found)))


def together(one: Parts, other: Parts) -> Parts:
    """The figures of one caution over two batches."""
    return {key: part.with_other(other[key]) for key, part in one.items()}  # type: ignore[arg-type]


def own(feed: Feed, nutrient: str) -> float | None:
    """A figure of the farm's own, by laboratory, label or word; a book figure is no evidence."""
    figure = feed.figures.get(nutrient)
    return figure.value if figure is not None and figure.mark in OWN_MARKS else None


def over(value: float, limit: float) -> bool:
    """Past the limit by more than a hair."""
    return value > limit + HAIR * abs(limit)


def under(value: float, limit: float) -> bool:
    """Short of the limit by more than a hair."""
    return value < limit - HAIR * abs(limit)


@dataclass(frozen=True)
class Look:
    """One batch, what it is fed, and the farm it stands on, as the rules see them.

    Attributes
    ----------
    batch : Batch
    told : Assessment or None
        None when there is no ration to look at.
    farm : Farm or None
        None when only the ration is known: what needs dates, trough or floor is then not raised.
    offers : tuple of Offer
        Everything on offer, for the signs seen and what a feed was made for.
    rows : mapping
        The table's rows by id.
    head_at_trough, head_in_shed : int
        Sheep of the whole farm that are given trough feed; that stand in the shed.
    """

    batch: Batch
    told: Assessment | None
    farm: Farm | None
    offers: tuple[Offer, ...]
    rows: Mapping[str, DefaultCaution]
    head_at_trough: int
    head_in_shed: int

    def value(self, caution: str) -> float:
        """The number of a row."""
        return float(self.rows[caution].value or 0.0)

    def second(self, caution: str) -> float:
        """The second number of a row."""
        return float(self.rows[caution].second or 0.0)

    @property
    def is_male(self) -> bool:
        """Entire or castrate."""
        return self.batch.sex != "female"

    @property
    def fed(self) -> tuple[Portion, ...]:
        """The feeds given."""
        return self.told.portions if self.told else ()

    @property
    def whole(self) -> Assessment | None:
        """The assessment when the ration is all they eat; None when grazing supplies the rest."""
        return None if self.told is None or self.told.is_part_ration else self.told

    def signs(self, portion: Portion) -> tuple[str, ...]:
        """What was seen on a feed."""
        return next((o.signs for o in self.offers if o.id == portion.id), ())

    def named(self, ids: Iterable[str]) -> Names:
        """Names of feeds given, by id."""
        wanted = set(ids)
        return names(p.name for p in self.fed if p.id in wanted)

    def unknown(self, nutrient: str) -> tuple[str, ...]:
        """Feeds given whose figure is not on file."""
        return tuple(p.id for p in self.fed if p.feed.get(nutrient) is None)

    def known_per_kg_dm(self, nutrient: str) -> float:
        """The known part of a nutrient in a kg of the ration's dry matter."""
        if self.told is None:
            return 0.0
        known = sum(p.kg_dm_per_head_day * (p.feed.get(nutrient) or 0.0) for p in self.fed)
        return known / self.told.dm_kg_per_day


@dataclass(frozen=True)
class Rule:
    """How one row of the table is raised.

    Attributes
    ----------
    of_farm : bool
        It is about the farm or its feeds, not about one batch.
    gives : tuple of str
        Figures it gives to the words, besides the row's own `value` and `second`.
    numbers : int
        How many of `value` and `second` its row must have.
    run : callable
        Figures for the words, or None when it is not raised.
    """

    of_farm: bool
    gives: tuple[str, ...]
    numbers: int
    run: Callable[[Look], Parts | None]


Run = Callable[[Look], Parts | None]
Enter = Callable[..., Callable[[Run], Run]]


def entering(rules: dict[str, Rule]) -> Enter:
    """A decorator that enters a function in a book of rules under the id of its row.

    It takes the id and the figures that the function gives; `numbers` and `of_farm` as in `Rule`.
    """

    def rule(
        caution: str, *gives: str, numbers: int = 0, of_farm: bool = False
    ) -> Callable[[Run], Run]:
        def enter(run: Run) -> Run:
            rules[caution] = Rule(of_farm, gives, numbers, run)
            return run

        return enter

    return rule
