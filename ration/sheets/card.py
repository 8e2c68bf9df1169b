"""The feeding card on paper: one side a pen, to hang in the shed and tick off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from ration.card import Card
from ration.card.measures import weight_words
from ration.cautions import Caution
from ration.faces import card_report
from ration.faces.report import LEVEL_WORDS
from ration.plain_text import sentence
from ration.sheets.ears import Block, Grid, Said, grid, heard
from ration.sheets.html import Foot, sheet

MOST_WEEKS = 5  # of boxes with their dates on; a longer card has weeks to be dated by hand
FEW_WEEKS = 2  # more have lower boxes
WEEK = 7


@dataclass(frozen=True)
class Letters:
    """Size of the letters of amounts, table of days and small print; what is kept. [pt]"""

    large_pt: float
    days_pt: float
    small_pt: float
    has_weights: bool = True


# Largest first: the first that keeps to one side is taken. The weights of the day go before the
# letters fall below what is read at arm's length.
SIZES = (
    Letters(22, 13, 11), Letters(20, 12, 10.5), Letters(20, 11.5, 9.5), Letters(18, 11, 9.5),
    Letters(18, 11, 8.5), Letters(18, 11, 8.5, False), Letters(18, 10, 8, False),
    Letters(16, 10, 8, False), Letters(15, 9, 7.5, False), Letters(14, 8, 7, False),
)  # fmt: skip
ROOM_PT = 738.0  # height of a page between its margins
WIDE_PT = 520.0


@dataclass(frozen=True)
class Give:
    """One feed at one meal, in the words of the card."""

    shown: str
    name: str
    more: str
    weight: str
    place: str


@dataclass(frozen=True)
class Side:
    """One side of paper: what its template asks for."""

    heading: str
    first: tuple[str, ...]
    meals: tuple[tuple[str, tuple[Give, ...]], ...]
    meal_names: tuple[str, ...]
    weeks: tuple[tuple[str, ...], ...]
    tick_words: str
    days_title: str
    days: Grid | None
    days_more: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[tuple[str, str, str, str], ...]
    in_the_day: Grid | None
    letters: Letters = SIZES[-1]


def card_sheet(farm_name: str, cards: Sequence[Card], at_foot: Foot) -> str:
    """The feeding cards of one period, one A4 side a pen.

    Parameters
    ----------
    farm_name : str
    cards : sequence of Card
        From `ration.card.cards`.
    at_foot : Foot
    """
    return sheet(
        "card.html",
        f"Feeding card, {farm_name}",
        at_foot,
        body="cards",
        farm=farm_name,
        cards=[_side(c) for c in cards],
    )


def _side(card: Card) -> Side:
    told = heard(lambda c: card_report.print_card(c, card, standing=False))
    lines = [b for b in told if isinstance(b, Said)]
    days_at = next((i for i, b in enumerate(told) if _is_days_title(b)), None)
    tables = [i for i, b in enumerate(told) if isinstance(b, Grid)]
    after = told[tables[-1] + 1 :] if tables else told[1:]
    small = [b.text for b in after if isinstance(b, Said)]
    small = small[: len(small) - len(card.cautions)] if card.cautions else small
    shares = [x for x in small if x.startswith("Share the trough feed")]
    bare = Side(
        heading=lines[0].text,
        first=tuple(_first(told)),
        meals=_meals(card),
        meal_names=card.meal_names() if card.lines else ("seen to",),
        weeks=weeks(card),
        tick_words=_tick_words(card),
        days_title="" if days_at is None else told[days_at].text,  # type: ignore[union-attr]
        days=None if days_at is None else grid(told, head="Day"),
        days_more=tuple(shares),
        notes=tuple(x for x in small if x not in shares),
        cautions=tuple(caution_line(c) for c in card.cautions),
        in_the_day=grid(told, head="IN THE DAY") if card.lines else None,
    )
    return _sized(bare)


def caution_line(c: Caution) -> tuple[str, str, str, str]:
    """Level, heading, words and source of a caution."""
    return c.level, f"{LEVEL_WORDS[c.level]}, {c.title.lower()}:", c.words, c.source


def _is_days_title(block: Block) -> bool:
    return isinstance(block, Said) and block.text.startswith("DAY BY DAY")


def _first(told: Sequence[Block]) -> list[str]:
    """The plain lines that stand right under the heading."""
    out = []
    for block in told[1:]:
        if not isinstance(block, Said) or block.style:
            break
        out.append(block.text)
    return out


def _meals(card: Card) -> tuple[tuple[str, tuple[Give, ...]], ...]:
    out = []
    for name in card.meal_names() if card.lines else ():
        feeds = []
        for x in card.lines:
            meal = card.meals_of(x).get(name)
            if meal is not None:
                weight = "" if meal.count is None else weight_words(meal.kg)
                feeds.append(Give(meal.shown, x.name, meal.more, weight, x.place))
        out.append((sentence(name), tuple(feeds)))
    return tuple(out)


# ---------------------------------------------------------------- boxes to tick


def weeks(card: Card) -> tuple[tuple[str, ...], ...]:
    """The days of a card, seven a row; days that are not on the full ration are starred.

    A card of more than five weeks has rows of weekdays to be dated by hand.
    """
    count = (card.end - card.start).days
    if count > MOST_WEEKS * WEEK:
        days = [card.start + timedelta(days=i) for i in range(WEEK)]
        return (tuple(f"{d:%a}" for d in days),) * MOST_WEEKS
    other = {d.day for d in card.days}
    cells = [_cell(card.start + timedelta(days=i), other, i) for i in range(count)]
    rows = [cells[i : i + WEEK] for i in range(0, count, WEEK)]
    return tuple(tuple(row + [""] * (WEEK - len(row))) for row in rows)


def _cell(day: date, other: set[date], place: int) -> str:
    month = f" {day:%b}" if day.day == 1 or not place else ""
    return f"{day:%a} {day.day}{month}{' *' if day in other else ''}"


def _tick_words(card: Card) -> str:
    if (card.end - card.start).days > MOST_WEEKS * WEEK:
        return "Tick each feed given, a row a week"
    star = "; * not the full ration, see the table of days" if card.days else ""
    return f"Tick each feed given{star}"


# ---------------------------------------------------------------- size of the letters


def _sized(side: Side) -> Side:
    """The card in the largest letters in which it keeps to one side."""
    return replace(
        side, letters=next((x for x in SIZES if height_pt(side, x) <= ROOM_PT), SIZES[-1])
    )


def height_pt(side: Side, size: Letters) -> float:
    """About how high a card is in such letters; nothing measures it before it is printed."""
    large, small = size.large_pt, size.small_pt
    line, letters = 1.22 * small, WIDE_PT / (0.53 * small)
    a_meal = (WIDE_PT / max(len(side.meals), 1) - 14.0) / (0.57 * large)
    heights = [
        sum(_lines(_letters(g), a_meal) * 1.16 * large + 0.16 * large for g in feeds)
        for _, feeds in side.meals
    ]
    meals = max(heights) + 1.2 * large + 12.0 if heights else 0.0
    first = sum(_lines(len(x), WIDE_PT / (0.5 * 0.7 * large)) * 0.85 * large for x in side.first)
    head = _lines(len(side.heading), WIDE_PT / (0.56 * 1.1 * large)) * 1.33 * large + 26.0
    box = 18.5 if len(side.weeks) <= FEW_WEEKS else 15.3
    ticks = len(side.weeks) * (15.0 + box * len(side.meal_names)) + 17.0
    row = 1.2 * size.days_pt + 1.4
    days = 0.0 if side.days is None else (len(side.days.rows) + 2.3) * row
    told = [*side.notes, *(f"{t} {w}" for _, t, w, _ in side.cautions), *side.days_more]
    words = sum(_lines(len(x) + 4, letters) * line + 1.2 for x in told)
    weights = 0.0
    if side.in_the_day is not None and size.has_weights:
        weights = (len(side.in_the_day.rows) + 1) * (line + 1.3)
    return head + first + meals + ticks + days + words + weights + 17.0


def _letters(g: Give) -> int:
    """Letters of one feed at a meal, the small ones counted for what room they take."""
    small = f" ({g.weight})" if g.weight else ""
    return len(f"{g.shown} of {g.name}{g.more}") + round(0.62 * len(f"{small} in the {g.place}"))


def _lines(letters: int, a_line: float) -> int:
    return max(1, -(-letters // max(int(a_line), 1)))


def letters_of(card: Card) -> Letters:
    """The sizes of letters that a card is printed in."""
    return _side(card).letters
