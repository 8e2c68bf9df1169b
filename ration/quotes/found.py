"""A sheet once it is walked: lines, things not read, faults; and how to find its headings."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from ration.errors import Problem
from ration.quotes import prices
from ration.quotes.cells import Figured, Way
from ration.quotes.grid import Cell, Page, Row
from ration.quotes.headings import NAMES, Heading, read_heading
from ration.quotes.phrases import has_decimal_comma

LOOK_FOR_HEADING = 30
_FEED_NAMES = frozenset(n for n, m in NAMES.items() if m == "feed")


@dataclass
class Line:
    """One price of one row, with all that its row and the lines above say.

    Attributes
    ----------
    row : int
    heading : str
        Of the price.
    price : Price
    from_t, to_t : float or None
        Tonnes from and up to which the price holds. [t]
    values : dict of str to object
        By meaning, from the row's cells.
    above : dict of str to object
        By meaning, from the lines above the row.
    figures : list of Figured
    notes : list of str
    """

    row: int
    heading: str
    price: prices.Price
    from_t: float | None
    to_t: float | None
    values: dict[str, Any]
    above: dict[str, Any]
    figures: list[Figured]
    notes: list[str]


@dataclass
class Table:
    """Headings of one price list on the sheet, by column."""

    row: int
    headings: dict[int, Heading]

    def columns(self, meaning: str) -> list[int]:
        """Columns of one meaning."""
        return [i for i, h in self.headings.items() if h.meaning == meaning]


@dataclass
class Found:
    """What a sheet holds.

    Attributes
    ----------
    page : Page
    lines : list of Line
    not_read : list of (int, str)
        Row, and what was not read with the reason.
    columns : list of (str, str)
    faults : list of (int, Problem)
    """

    page: Page
    lines: list[Line] = field(default_factory=list)
    not_read: list[tuple[int, str]] = field(default_factory=list)
    columns: list[tuple[str, str]] = field(default_factory=list)
    faults: list[tuple[int, Problem]] = field(default_factory=list)
    has_table: bool = False


@dataclass(frozen=True)
class Waiting:
    """A line of the sheet that holds for the rows below it, its price settled when it is used."""

    row: int
    value: Any


def way_of(page: Page) -> Way:
    """How the numbers of a sheet are written."""
    texts = [c.text for r in page.rows for c in r.cells if c.kind == "text" and "," in c.text]
    return Way(has_decimal_comma(texts), page.is_percent_lost)


def looks_like_a_price_list(page: Page) -> bool:
    """True when there is a row of headings with a feed and a price near the top."""
    return any(is_heading(r) for r in page.rows if r.number <= LOOK_FOR_HEADING)


def _tidy(cell: Cell) -> str:
    return " ".join(re.sub(r"[()\[\].:*_]", " ", cell.text.lower()).split())


def is_heading(row: Row) -> bool:
    """True for a row of headings with a feed and a price."""
    if not any(_tidy(c) in _FEED_NAMES for c in row.cells if c.kind == "text"):
        return False
    found = [read_heading(c.text) for c in row.cells if c.kind == "text"]
    meanings = {h.meaning for h in found}
    return "feed" in meanings and "price" in meanings
