"""Feeding cards as text: what goes in, in the words of the yard."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from ration.card.measures import weight_words
from ration.card.records import BLEND, CHANGE, RACK, STEP_UP, TAPER, TROUGH, Card, Line
from ration.explain import CLASS_WORDS
from ration.faces.report import LEVEL_WORDS, say, table
from ration.plain_text import joined, sentence

if TYPE_CHECKING:
    from rich.console import Console

SHEEP = {**CLASS_WORDS, "ewe-lamb": "hogg", "wether-lamb": "wether hogg", "tup-lamb": "tup hogg"}
DAY_TITLES = {
    STEP_UP: "bringing in the trough feed",
    CHANGE: "changing over from the last card",
    TAPER: "easing off the trough feed",
    BLEND: "changing the hay",
}
COUNTS = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}


def print_cards(console: Console, cards: Sequence[Card]) -> None:
    """Every card, a rule before each; the standing line once at the end."""
    for card in cards:
        console.rule(style="dim")
        print_card(console, card, standing=False)
    if cards:
        console.rule(style="dim")
        say(console, cards[0].standing, style="bold")


def print_card(console: Console, card: Card, *, standing: bool = True) -> None:
    """One card: when, what, how much; then the days that differ; then what to watch."""
    say(console, heading(card), style="bold")
    if not card.lines:
        say(console, "Nothing is carried to them.")
    else:
        say(console, *_first_lines(card))
        for name in card.meal_names():
            say(console, name.upper(), style="bold")
            say(console, *(f"  {words}" for words in _meal(card, name)))
        table(
            console,
            "",
            ("IN THE DAY", "for the pen", "weight", "each", "rounding", "one holds"),
            [_in_the_day(x) for x in card.lines],
            words=(0, 1),
        )
        say(console, *_together(card))
    print_days(console, card)
    say(console, *card.notes, *_places(card))
    for c in card.cautions:
        say(
            console,
            f"{LEVEL_WORDS[c.level]}, {c.title.lower()}: {c.words}",
            style="bold" if c.level == "stop" else None,
        )
    if standing:
        say(console, card.standing, style="bold")


def heading(card: Card) -> str:
    """Middle, pen 1: 58 hoggs, 16 to 29 November."""
    word = SHEEP[card.batch.sheep_class] + ("" if card.head == 1 else "s")
    pen = f", pen {card.pen}" if card.pens > 1 else ""
    return (
        f"{sentence(card.batch.name)}{pen}: {card.head} {word}, "
        f"{span_words(card.start, card.last_day)}"
    )


def span_words(first: date, last: date) -> str:
    """16 to 29 November; 28 October to 10 November.

    >>> span_words(date(2026, 11, 16), date(2026, 11, 29))
    '16 to 29 November'
    """
    if first == last:
        return f"{first.day} {first:%B}"
    month = "" if (first.year, first.month) == (last.year, last.month) else f" {first:%B}"
    return f"{first.day}{month} to {last.day} {last:%B}"


def _first_lines(card: Card) -> list[str]:
    """When the full ration is given, and what goes in first."""
    lines = []
    if not card.days:
        lines.append("Every day the same.")
    elif not card.full_days:
        lines.append("No day of this card is on the full ration: go by the table of days below it.")
    else:
        spans = joined([span_words(a, b) for a, b in _runs(card.full_days)])
        lines.append(f"On the full ration {spans}. On the other days go by the table below it.")
    places = [x.place for x in card.lines]
    if TROUGH in places and RACK in places:
        lines.append(
            "Hay first, then the trough." if card.is_hay_first else "Trough first, then the hay."
        )
    return lines


def _runs(days: Iterable[date]) -> list[tuple[date, date]]:
    """Days that follow each other, as first and last."""
    runs: list[tuple[date, date]] = []
    for day in days:
        if runs and runs[-1][1] + timedelta(days=1) == day:
            runs[-1] = (runs[-1][0], day)
        else:
            runs.append((day, day))
    return runs


def error_words(share: float) -> str:
    """0.6 % over, 1.2 % under, or exact."""
    if abs(share) < 0.0005:
        return "exact"
    return f"{abs(share) * 100:.1f} % {'over' if share > 0 else 'under'}"


def _meal(card: Card, name: str) -> list[str]:
    """What goes in at one meal, a line a feed, in order."""
    told = []
    for x in card.lines:
        meal = card.meals_of(x).get(name)
        if meal is not None:
            weight = "" if meal.count is None else f" ({weight_words(meal.kg)})"
            told.append(f"{x.place}: {meal.shown} of {x.name}{meal.more}{weight}")
    return told


def _in_the_day(line: Line) -> tuple[str, ...]:
    told = line.measured
    return (
        line.name,
        "weigh it" if told.is_weighed else told.shown,
        weight_words(told.kg_given),
        _each(line.kg_per_head_day),
        error_words(told.rounding_error_share),
        "" if told.measure is None else f"{told.measure.kg:g} kg",
    )


def _each(kg: float) -> str:
    return f"{kg * 1000:.0f} g" if kg < 0.0995 else f"{kg:.2f} kg"


def _together(card: Card) -> list[str]:
    share = card.trough_error_share
    if share is None or sum(x.place == TROUGH for x in card.lines) < 2:
        return []
    return [f"All trough feed together: {error_words(share)}."]


def print_days(console: Console, card: Card) -> None:
    """The days that differ from the full ration, those alike in one row."""
    if not card.days:
        return
    reasons = dict.fromkeys(r for d in card.days for r in d.reasons)
    names = {x.offer_id: x.name for x in card.lines}
    feeds = [a.offer_id for a in card.days[0].amounts]
    is_trough = any(r != BLEND for r in reasons)
    is_blend = BLEND in reasons
    rows: list[tuple[date, date, tuple[str, ...]]] = []
    for d in card.days:
        told = (
            *((_each(d.trough_kg_per_head),) if is_trough else ()),
            *(a.shown for a in d.amounts),
            *(("" if d.new_lot_share is None else f"{d.new_lot_share:.0%}",) if is_blend else ()),
        )
        if rows and rows[-1][2] == told and rows[-1][1] + timedelta(days=1) == d.day:
            rows[-1] = (rows[-1][0], d.day, told)
        else:
            rows.append((d.day, d.day, told))
    say(
        console,
        f"DAY BY DAY, for the whole pen: {joined([DAY_TITLES[r] for r in reasons])}",
        style="bold",
    )
    table(
        console,
        "",
        (
            "Day",
            *(("trough feed\neach",) if is_trough else ()),
            *(names.get(f, f) for f in feeds),
            *(("new hay",) if is_blend else ()),
        ),
        [(span_words(a, b), *told) for a, b, told in rows],
        whole=(0,),
    )
    if is_trough and card.trough_meals > 1:
        say(console, "Share the trough feed of those days between the meals as evenly as you can.")


def _places(card: Card) -> list[str]:
    """Whether all can eat at once, and how many the shed holds."""
    lines = []
    t = card.trough
    if t is not None and t.is_enough:
        lines.append(f"Trough: {t.trough_m:g} m, so all {t.head} can eat at once.")
    elif t is not None:
        count = COUNTS.get(t.sittings, str(t.sittings))
        line = (
            f"Trough: {t.trough_m:g} m lets {t.at_once} of the {t.head} eat at once; all want "
            f"{t.wanted_m:.1f} m ({t.m_per_head:g} m each). Feed in {count} sittings"
        )
        if card.sittings:
            line += f": {', then '.join(joined(s) for s in card.sittings)}."
        else:
            line += f" of {t.head_per_sitting} or fewer."
        lines.append(line)
    if any(f.out for f in card.floor):
        told = joined(
            [
                f"{f.fit} at {f.m2_per_head:g} m2 each"
                + (f" ({f.out} must come out)" if f.out else "")
                for f in card.floor
            ]
        )
        lines.append(f"Floor: the shed holds {told}.")
    return lines
