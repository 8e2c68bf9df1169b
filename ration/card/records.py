"""What a feeding card says: one pen, one span of days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from ration.card.measures import MEALS, Meal, Measured
from ration.card.places import FloorCheck, TroughCheck
from ration.cautions import STANDING, Caution

if TYPE_CHECKING:
    import pandas as pd

    from ration.animals import Batch

TROUGH, RACK = "trough", "rack"
STEP_UP, CHANGE, TAPER, BLEND = "step up", "change", "taper", "blend"


@dataclass(frozen=True)
class Line:
    """One feed of the full ration of a pen.

    Attributes
    ----------
    offer_id, name : str
    place : str
        trough or rack.
    is_stepped : bool
        Trough feed that is brought in and taken off over days.
    kg_per_head_day : float
        As planned, waste in. [kg fresh/head/day]
    measured : Measured
        For the pen.
    """

    offer_id: str
    name: str
    place: str
    is_stepped: bool
    kg_per_head_day: float
    measured: Measured


@dataclass(frozen=True)
class DayAmount:
    """One feed on one day: words, measures (None when weighed), weight for the pen. [kg fresh]"""

    offer_id: str
    shown: str
    count: float | None
    kg: float


@dataclass(frozen=True)
class Day:
    """A day on which the pen is not given the full ration of the card.

    Attributes
    ----------
    day : date
    reasons : tuple of str
        step up, change, taper or blend.
    trough_kg_per_head : float
        Trough feed given. [kg fresh/head]
    amounts : tuple of DayAmount
        Every feed that differs from the full ration on any such day of the card.
    new_lot_share : float or None
        Share of the new hay while one is blended into another. [-]
    """

    day: date
    reasons: tuple[str, ...]
    trough_kg_per_head: float
    amounts: tuple[DayAmount, ...]
    new_lot_share: float | None = None


@dataclass(frozen=True)
class Card:
    """What goes to one pen each day over a span of days.

    Attributes
    ----------
    batch : Batch
    pen, pens : int
        Its number from 1, and how many the batch has.
    head : int
    start, end : date
        First day, and the day after the last.
    lines : tuple of Line
        In the order they are put out.
    trough_meals, rack_meals : int
        Times a day.
    is_hay_first : bool
    days : tuple of Day
        Those that differ from the full ration.
    trough, floor
        Whether all can eat at once and how many the shed holds; None and () when it is not known
        or not asked.
    sittings : tuple of tuple of str
        Batches and pens that eat together, when not all can.
    notes : tuple of str
    cautions : tuple of Caution
    standing : str
    """

    batch: Batch
    pen: int
    pens: int
    head: int
    start: date
    end: date
    lines: tuple[Line, ...]
    trough_meals: int
    rack_meals: int
    is_hay_first: bool
    days: tuple[Day, ...] = ()
    trough: TroughCheck | None = None
    floor: tuple[FloorCheck, ...] = ()
    sittings: tuple[tuple[str, ...], ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    standing: str = STANDING

    @property
    def last_day(self) -> date:
        """The last day it holds for."""
        return self.end - timedelta(days=1)

    @property
    def trough_kg_wanted(self) -> float:
        """Trough feed of the full ration as planned, minerals in. [kg fresh/pen/day]"""
        return sum(x.measured.kg_wanted for x in self.lines if x.place == TROUGH)

    @property
    def trough_kg_given(self) -> float:
        """The same in the measures of the card. [kg fresh/pen/day]"""
        return sum(x.measured.kg_given for x in self.lines if x.place == TROUGH)

    @property
    def trough_error_share(self) -> float | None:
        """Rounding error of all trough feed together; None when there is none. [-]"""
        if not self.trough_kg_wanted:
            return None
        return self.trough_kg_given / self.trough_kg_wanted - 1

    @property
    def full_days(self) -> tuple[date, ...]:
        """Days on which the full ration is given."""
        other = {d.day for d in self.days}
        span = ((self.start + timedelta(days=i)) for i in range((self.end - self.start).days))
        return tuple(d for d in span if d not in other)

    def meal_names(self) -> tuple[str, ...]:
        """Morning, evening, as many as there are."""
        return meal_names(max(self.trough_meals, self.rack_meals))

    def meals_of(self, line: Line) -> dict[str, Meal]:
        """What of one feed goes in at which meal, by the meal's name."""
        names = self.meal_names()
        count = len(line.measured.meals)
        # twice a day is morning and evening, whatever else there is
        at = (0, len(names) - 1) if count == 2 else range(count)
        return {names[i]: meal for i, meal in zip(at, line.measured.meals, strict=True)}


def meal_names(count: int) -> tuple[str, ...]:
    """Names of the meals of a day.

    >>> meal_names(2), meal_names(4)[3]
    (('morning', 'evening'), 'meal 4')
    """
    return MEALS.get(count) or tuple(f"meal {i + 1}" for i in range(count))


# ---------------------------------------------------------------- rows and JSON


def frame(cards: Sequence[Card]) -> pd.DataFrame:
    """One row a pen, feed and meal of the full ration."""
    import pandas as pd

    return pd.DataFrame(
        [
            {
                "batch": c.batch.name,
                "pen": c.pen,
                "head": c.head,
                "from": c.start,
                "to": c.last_day,
                "feed": x.offer_id,
                "place": x.place,
                "meal": name,
                "give": meal.words,
                "measure": x.measured.measure.word if x.measured.measure else None,
                "measure_kg": x.measured.measure.kg if x.measured.measure else None,
                "count": meal.count,
                "kg_fresh_per_meal": meal.kg,
                "kg_fresh_per_day": x.measured.kg_given,
                "kg_fresh_wanted_per_day": x.measured.kg_wanted,
                "kg_fresh_per_head_day": x.kg_per_head_day,
                "rounding_error_share": x.measured.rounding_error_share,
            }
            for c in cards
            for x in c.lines
            for name, meal in c.meals_of(x).items()
        ]
    )


def days_frame(cards: Sequence[Card]) -> pd.DataFrame:
    """One row a pen, day and feed on the days that differ from the full ration."""
    import pandas as pd

    return pd.DataFrame(
        [
            {
                "batch": c.batch.name,
                "pen": c.pen,
                "head": c.head,
                "day": d.day,
                "why": ", ".join(d.reasons),
                "feed": a.offer_id,
                "give": a.shown,
                "count": a.count,
                "kg_fresh_per_day": a.kg,
                "trough_kg_fresh_per_head_day": d.trough_kg_per_head,
                "new_lot_share": d.new_lot_share,
            }
            for c in cards
            for d in c.days
            for a in d.amounts
        ]
    )


def card_json(card: Card) -> dict[str, Any]:
    """One card as a dictionary that JSON can carry."""
    trough = card.trough
    return {
        "batch": card.batch.name,
        "pen": card.pen,
        "pens": card.pens,
        "head": card.head,
        "from": card.start.isoformat(),
        "to": card.last_day.isoformat(),
        "is_hay_first": card.is_hay_first,
        "meals": [
            {
                "name": name,
                "feeds": [
                    {
                        "feed": x.offer_id,
                        "name": x.name,
                        "place": x.place,
                        "give": card.meals_of(x)[name].words,
                        "count": card.meals_of(x)[name].count,
                        "kg_fresh": card.meals_of(x)[name].kg,
                    }
                    for x in card.lines
                    if name in card.meals_of(x)
                ],
            }
            for name in card.meal_names()
        ],
        "feeds": [
            {
                "feed": x.offer_id,
                "name": x.name,
                "place": x.place,
                "give_a_day": x.measured.shown,
                "count": x.measured.count,
                "measure": x.measured.measure.word if x.measured.measure else None,
                "measure_kg": x.measured.measure.kg if x.measured.measure else None,
                "is_weighed": x.measured.is_weighed,
                "kg_fresh_per_head_day": x.kg_per_head_day,
                "kg_fresh_wanted_per_day": x.measured.kg_wanted,
                "kg_fresh_per_day": x.measured.kg_given,
                "rounding_error_share": x.measured.rounding_error_share,
            }
            for x in card.lines
        ],
        "trough_error_share": card.trough_error_share,
        "days": [
            {
                "day": d.day.isoformat(),
                "why": list(d.reasons),
                "trough_kg_fresh_per_head": d.trough_kg_per_head,
                "new_lot_share": d.new_lot_share,
                "feeds": [
                    {
                        "feed": a.offer_id,
                        "give": a.shown,
                        "count": a.count,
                        "kg_fresh": a.kg,
                    }
                    for a in d.amounts
                ],
            }
            for d in card.days
        ],
        "trough": None
        if trough is None
        else {
            "head": trough.head,
            "trough_m": trough.trough_m,
            "m_per_head": trough.m_per_head,
            "wanted_m": trough.wanted_m,
            "at_once_head": trough.at_once,
            "sittings": trough.sittings,
            "head_per_sitting": trough.head_per_sitting,
            "sittings_of": [list(names) for names in card.sittings],
        },
        "floor": [
            {"m2_per_head": f.m2_per_head, "fit_head": f.fit, "out_head": f.out} for f in card.floor
        ],
        "notes": list(card.notes),
        "cautions": [
            {
                "id": c.id,
                "level": c.level,
                "title": c.title,
                "words": c.words,
                "source": c.source,
                "mark": c.mark,
            }
            for c in card.cautions
        ],
        "standing": card.standing,
    }
