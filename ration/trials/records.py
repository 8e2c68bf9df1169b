"""One treatment of a published trial, as a frozen record, and its reading from the table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from ration.errors import OutOfRange, Problem

if TYPE_CHECKING:
    from ration.tables.csvfile import Row

PRACTICE = "practice"
SEEN = ("print", "restated", "derived")

Span = tuple[float, float]


@dataclass(frozen=True)
class Trial:
    """One treatment of a published trial, or one piece of practice read across trials.

    Spans are (low, high), the same figure twice where it is known.

    Attributes
    ----------
    trial, treatment : str
        Names in the file; together they are the key.
    words : str
        Stock and diet in plain words.
    sheep_class, breed : str
    weight_kg : tuple of float or None
        Mean live weight. [kg]
    mature_weight_kg : float or None
        Grown weight of the breed, common practice. [kg]
    forage_id : str
        Feed whose other figures the forage takes.
    forage_me_mj_per_kg_dm, forage_cp_g_per_kg_dm : tuple of float or None
        Energy and protein of the forage. [MJ/kg DM], [g/kg DM]
    forage_kg_dm_per_day : tuple of float or None
        Forage eaten. [kg DM/day]
    concentrate : tuple of (str, float)
        Trough feeds and what was eaten of each. [kg DM/day]
    concentrate_kg_dm_per_day : tuple of float
        All trough feed. [kg DM/day]
    forage_alone_kg_dm_per_day : float or None
        Forage eaten in the same trial without trough feed. [kg DM/day]
    gain_g_per_day, extra_gain_g_per_day : tuple of float or None
        Gain seen; gain that the trough feed added. [g/day]
    substitution_kg_per_kg : tuple of float or None
        Forage left for each kg of trough feed, both DM. [kg/kg]
    how : mapping of str to str
        How "weight", "analysis", "forage" and "concentrate" are known; "" where they are not.
    source, mark, what_is_assumed, place : str
    """

    trial: str
    treatment: str
    words: str
    sheep_class: str
    breed: str
    weight_kg: Span | None
    mature_weight_kg: float | None
    forage_id: str
    forage_me_mj_per_kg_dm: Span | None
    forage_cp_g_per_kg_dm: Span | None
    forage_kg_dm_per_day: Span | None
    concentrate: tuple[tuple[str, float], ...]
    concentrate_kg_dm_per_day: Span
    forage_alone_kg_dm_per_day: float | None
    gain_g_per_day: Span | None
    extra_gain_g_per_day: Span | None
    substitution_kg_per_kg: Span | None
    how: Mapping[str, str]
    source: str
    mark: str
    what_is_assumed: str
    place: str = ""

    @property
    def key(self) -> str:
        """Trial and treatment in one word."""
        return f"{self.trial}/{self.treatment}"

    @property
    def is_practice(self) -> bool:
        """Common practice read across trials, not a trial."""
        return self.mark == PRACTICE

    @property
    def is_forage_alone(self) -> bool:
        """No trough feed."""
        return not self.concentrate

    @property
    def is_intake_seen(self) -> bool:
        """How much they ate is printed, or follows from print."""
        return (
            self.forage_kg_dm_per_day is not None
            and self.how["forage"] in SEEN
            and (self.is_forage_alone or self.how["concentrate"] in SEEN)
        )

    @property
    def total_kg_dm_per_day(self) -> float | None:
        """Forage and trough feed eaten, the middle. [kg DM/day]"""
        if self.forage_kg_dm_per_day is None:
            return None
        return middle(self.forage_kg_dm_per_day) + middle(self.concentrate_kg_dm_per_day)


def middle(span: Span) -> float:
    """Half-way between low and high."""
    return (span[0] + span[1]) / 2


def read(rows: Sequence[Row]) -> tuple[Trial, ...]:
    """Trials from the rows of the table.

    Raises
    ------
    OutOfRange
        A low figure without its high one or over it, trough feeds that do not add up; all of
        them, one line each.
    """
    faults: list[Problem] = []
    found = tuple(_trial(row, faults) for row in rows)
    if faults:
        raise OutOfRange(*faults)
    return found


def _trial(row: Row, faults: list[Problem]) -> Trial:
    def span(name: str) -> Span | None:
        return _span(row, f"{name}_low", f"{name}_high", faults)

    def ends(name: str) -> Span | None:
        """A figure, whose column names an upper end only where there is a range."""
        low, high = row.number(name), row.number(f"{name}_high")
        return None if low is None else (low, low if high is None else high)

    one = row.number("observed_gain_g_per_day")
    ranged = span("observed_gain_g_per_day")
    return Trial(
        trial=row.text("trial"),
        treatment=row.text("treatment"),
        words=row.text("words"),
        sheep_class=row.text("sheep_class"),
        breed=row.text("breed"),
        weight_kg=_span(row, "weight_kg_low", "weight_kg_high", faults),
        mature_weight_kg=row.number("mature_weight_kg"),
        forage_id=row.text("forage_feed_id"),
        forage_me_mj_per_kg_dm=span("forage_me_mj_per_kg_dm"),
        forage_cp_g_per_kg_dm=span("forage_cp_g_per_kg_dm"),
        forage_kg_dm_per_day=span("forage_kg_dm_per_day"),
        concentrate=(parts := _parts(row)),
        concentrate_kg_dm_per_day=_trough(row, parts, faults),
        forage_alone_kg_dm_per_day=row.number("forage_alone_kg_dm_per_day"),
        gain_g_per_day=ranged if one is None else (one, one),
        extra_gain_g_per_day=span("observed_extra_gain_g_per_day"),
        substitution_kg_per_kg=ends("observed_substitution_kg_per_kg"),
        how=MappingProxyType(
            {
                "weight": row.text("weight_how"),
                "analysis": row.text("forage_analysis_how"),
                "forage": row.text("forage_how"),
                "concentrate": row.text("concentrate_how"),
            }
        ),
        source=row.text("source"),
        mark=row.text("mark"),
        what_is_assumed=row.text("what_is_assumed"),
        place=row.place,
    )


def _parts(row: Row) -> tuple[tuple[str, float], ...]:
    """Trough feeds and kg DM of each: "barley 0.3 + soya-hipro 0.1"."""
    found = (part.split(" ") for part in row.text("concentrate").split(" + ") if part)
    return tuple((name, float(kg)) for name, kg in found)


def _trough(row: Row, parts: Sequence[tuple[str, float]], faults: list[Problem]) -> Span:
    """All trough feed, low and high, with its parts in between. [kg DM/day]"""
    name = "concentrate_kg_dm_per_day"
    span = _span(row, f"{name}_low", f"{name}_high", faults)
    total = sum(kg for _, kg in parts)
    is_right = span is None and not parts
    if span is not None and parts:
        is_right = span[0] - 1e-9 <= total <= span[1] + 1e-9
    if not is_right:
        faults.append(
            Problem(
                row.place,
                f"trough feeds add up to {total:g} kg DM",
                f"that lies between {name}_low and _high",
                "Correct one of them",
            )
        )
    return span or (0.0, 0.0)


def _span(row: Row, low_name: str, high_name: str, faults: list[Problem]) -> Span | None:
    low, high = row.number(low_name), row.number(high_name)
    if low is None and high is None:
        return None
    if low is None or high is None or low > high:
        faults.append(
            Problem(
                row.place,
                f"{low_name} and {high_name} are not a low and a high figure",
                "both, or neither; the same figure twice when it is known",
                "Correct them",
            )
        )
        return None
    return low, high
