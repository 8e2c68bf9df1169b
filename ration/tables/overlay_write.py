"""One figure put into, or taken out of, a user's own table of figures; all other rows stay.

The table is the long form of an overlay (one row a feed and nutrient, as `analyses.csv`). The
new text is read again by the tables' own reader: unless it holds the same rows except that one,
and that one as it was asked for, the change is refused.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from ration.errors import FileError, InputError, Problem, TableError, UnknownName
from ration.feeds import Figure
from ration.tables import CHECKED, Tables, _overlay_schema, schemas
from ration.tables.csvfile import (
    _COMMA_NUMBER,
    _THOUSANDS,
    LARGEST_BYTES,
    Grid,
    Row,
    _delimiter,
    cut,
    rows,
)
from ration.tables.records import range_fault

HEADER = ("feed_id", "nutrient", "value", "unit", "basis", "source", "mark", "spread", "note")
NAME = "own figures"
_LINES = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+\Z")


@dataclass(frozen=True)
class FigureChanged:
    """A table's text after a change, and what the change was.

    Attributes
    ----------
    text : str
        The whole new text.
    line : int
        Line of the row: in the new text, or where a row taken out stood. [from 1]
    before, after : str
        The value with its unit; "" where there is none.
    words : str
        "hay-poor Crude protein (CP) 65 g/kg DM to 72 g/kg DM".
    """

    text: str
    line: int
    before: str
    after: str
    words: str


@dataclass(frozen=True)
class _Record:
    """One row of the file: its lines, from the first to before the last, and its cells."""

    first: int
    last: int
    cells: tuple[str, ...]


class _Page:
    """A table's text cut into lines and rows, as its reader cuts it."""

    def __init__(self, text: str, tables: Tables, name: str) -> None:
        self.mark = "\ufeff" if text.startswith("\ufeff") else ""
        self.name, self.tables = name, tables
        self.lines = _LINES.findall(text.removeprefix("\ufeff"))
        if len(text.encode()) > LARGEST_BYTES:
            raise FileError(Problem(name, "the table is too large", "at most 2 MB"))
        self.grid: Grid = cut(name, self.plain())
        if not {"nutrient", "value"} <= set(self.grid.header):
            raise TableError(
                Problem(
                    name,
                    "this table has one row a feed",
                    "a figure is put in a table with one row a feed and nutrient",
                    "Give another file for your own figures",
                )
            )
        known = schemas(tables.folder)
        self.rows = rows(self.grid, _overlay_schema(known, self.grid, list(tables.nutrients)))
        self.delimiter, self.records = self._records()

    def plain(self) -> str:
        """The text as the reader has it."""
        text = "".join(line.rstrip("\r\n") + "\n" for line in self.lines)
        return text.replace("\u00a0", " ")

    def _records(self) -> tuple[str, list[_Record]]:
        skip = 1 if re.match(r"sep=.\s*$", self.lines[0]) else 0
        body = self.plain().split("\n")[skip:-1]
        first = next(line for line in body if line)
        delimiter = _delimiter(self.name, first)
        reader = csv.reader((line + "\n" for line in body), delimiter=delimiter, strict=True)
        found, start = [], skip
        for cells in reader:
            stop = skip + reader.line_num
            found.append(_Record(start, stop, tuple(c.strip() for c in cells)))
            start = stop
        return delimiter, [r for r in found if any(r.cells)]

    def row(self, feed: str, nutrient: str) -> Row | None:
        """The row of a feed and nutrient."""
        wanted = (feed, nutrient)
        found = (r for r in self.rows if (r.text("feed_id"), r.text("nutrient")) == wanted)
        return next(found, None)

    def record(self, row: Row) -> _Record:
        """The lines on which a row stands."""
        return next(r for r in self.records if r.first == row.line - 1)

    def line(self, cells: list[str]) -> str:
        """Cells as one row of the file, without its line end."""
        out = io.StringIO()
        csv.writer(out, delimiter=self.delimiter, lineterminator="").writerow(cells)
        return out.getvalue()

    def line_end(self) -> str:
        """How the file ends its lines."""
        return self.lines[0][len(self.lines[0].rstrip("\r\n")) :] or "\n"

    def number(self, text: str) -> str:
        """A number in the way of the file: with a decimal comma where it uses one."""
        if not self.grid.decimal_comma or "." not in text:
            return text
        comma = text.replace(".", ",")
        return f"{comma}0" if _COMMA_NUMBER.fullmatch(comma) and _THOUSANDS.match(comma) else comma

    def with_lines(self, first: int, last: int, new: list[str]) -> str:
        """The text with lines first to before last replaced by others."""
        end, lines = self.line_end(), list(self.lines)
        if new and first and first == len(lines) and not lines[-1].endswith(("\n", "\r")):
            lines[-1] += end
        lines[first:last] = [line + end for line in new]
        return self.mark + "".join(lines)


def set_figure(
    text: str,
    tables: Tables,
    feed_id: str,
    nutrient: str,
    value: float | str,
    *,
    unit: str = "",
    basis: str = "",
    source: str = "",
    mark: str = "user",
    spread: str = "",
    note: str = "",
    name: str = NAME,
) -> FigureChanged:
    """Put a figure of the user's own into a table's text, over the one there or as a new row.

    Parameters
    ----------
    text : str
        The table; "" makes a new one.
    tables : Tables
        The feed tables it is laid over.
    feed_id, nutrient : str
        Which figure; both must be known to the tables.
    value : float or str
        In the unit of the nutrient.
    unit, basis : str
        As they were said; "" for the nutrient's own.
    source, mark, spread, note : str
        As the columns of `analyses.csv`; a note that begins with "checked" lets a figure stand
        outside the plausible range.
    name : str
        File name, for messages.

    Raises
    ------
    InputError
        The figure cannot be right, the text is not a sound table, or something else would
        change; nothing is changed.
    """
    entry = tables.nutrient(nutrient)
    if feed_id not in tables.feeds:
        near = get_close_matches(feed_id, list(tables.feeds), n=3, cutoff=0.5)
        fault = f'feed "{feed_id}" is not in the tables'
        nearest = f"nearest: {', '.join(near)}" if near else ""
        raise UnknownName(Problem("", fault, nearest, "A new feed goes in a table by hand"))
    page = _Page(text or ",".join(HEADER) + "\n", tables, name)
    cells = {
        "feed_id": feed_id,
        "nutrient": nutrient,
        "value": page.number(value.strip() if isinstance(value, str) else f"{value:.12g}"),
        "unit": unit.strip() or entry.unit,
        "basis": basis.strip() or entry.basis,
        "source": source.replace("\u00a0", " ").strip(),
        "mark": mark.strip(),
        "spread": page.number(spread.strip()),
        "note": note.replace("\u00a0", " ").strip(),
    }
    for column, words in cells.items():
        if not words.isprintable():
            fault = "a line break or unseen character stands in it"
            raise TableError(Problem(f"{name}, column {column}", fault, "", "Write one line"))
    missing = [c for c in cells if cells[c] and c not in (*page.grid.header, "unit", "basis")]
    missing = [c for c in missing if not (c == "mark" and mark == "user")]
    if missing:
        raise TableError(
            Problem(name, f"column {missing[0]} is missing", "", f"Add the heading {missing[0]}")
        )
    old = page.row(feed_id, nutrient)
    if old is not None:
        record = page.record(old)
        first, last = record.first, record.last
        there = dict(zip(page.grid.header, record.cells, strict=False))
    else:
        same = [page.record(r).last for r in page.rows if r.text("feed_id") == feed_id]
        first = last = max(same or [page.records[-1].last])
        there = {}
    line = page.line([cells.get(c, there.get(c, "")) for c in page.grid.header])
    made = _settled(page, page.with_lines(first, last, [line]), cells, (feed_id, nutrient))
    now = made.row(feed_id, nutrient)
    if now is None:  # pragma: no cover - `_settled` has seen it
        raise TableError(Problem(name, "the figure was not written"))
    _believable(made, now, mark)
    before = "" if old is None else f"{old.number('value'):g} {entry.unit}"
    after = f"{now.number('value'):g} {entry.unit}"
    words = f"{feed_id} {entry.name} " + (f"{before} to {after}" if before else f"{after} added")
    return FigureChanged(made.mark + "".join(made.lines), now.line, before, after, words)


def remove_figure(
    text: str, tables: Tables, feed_id: str, nutrient: str, *, name: str = NAME
) -> FigureChanged:
    """Take a figure of the user's own out of a table's text, so that the book's holds again."""
    page = _Page(text, tables, name)
    old = page.row(feed_id, nutrient)
    if old is None:
        raise UnknownName(Problem(name, f"there is no figure {nutrient} of {feed_id}"))
    record = page.record(old)
    made = _settled(page, page.with_lines(record.first, record.last, []), None, (feed_id, nutrient))
    entry = tables.nutrient(nutrient)
    before = f"{old.number('value'):g} {entry.unit}"
    words = f"{feed_id} {entry.name} {before} taken out"
    return FigureChanged(made.mark + "".join(made.lines), old.line, before, "", words)


def _settled(
    page: _Page, text: str, wanted: Mapping[str, str] | None, key: tuple[str, str]
) -> _Page:
    """The new text read again; only the wanted row may differ."""
    made = _Page(text, page.tables, page.name)

    def others(of: _Page) -> list[Mapping[str, object]]:
        return [r.cells for r in of.rows if (r.text("feed_id"), r.text("nutrient")) != key]

    row = made.row(*key)
    is_right = row is None if wanted is None else row is not None and _is(row, wanted)
    if made.grid.header != page.grid.header or others(made) != others(page) or not is_right:
        fault = "this change cannot be made there without touching something else"
        raise TableError(Problem(page.name, fault, "nothing is changed", "Do it by hand"))
    return made


def _is(row: Row, wanted: Mapping[str, str]) -> bool:
    """Whether a row holds the words that were to be written."""
    words = ("feed_id", "nutrient", "unit", "basis", "source", "mark", "note")
    value = float(wanted["value"].replace(",", "."))
    are_words = all(row.text(c) == wanted[c] for c in words if c in row.cells)
    return are_words and row.number("value") == value


def _believable(page: _Page, row: Row, mark: str) -> None:
    """Refuse a unit or a basis that is not the nutrient's, and a figure that cannot be right."""
    entry = page.tables.nutrient(row.text("nutrient"))
    unit, basis = row.text("unit"), row.text("basis")
    faults: list[Problem] = []
    short = (entry.unit, entry.unit.split(" DM")[0], entry.unit.split(" fresh")[0])
    if unit and unit not in short:
        fault = f"{entry.id} is in {entry.unit}"
        faults.append(Problem(row.place, f'read "{unit}"', fault, "Turn the value to that unit"))
    if basis and basis != entry.basis:
        fault = f"{entry.id} is on the basis {entry.basis}"
        faults.append(Problem(row.place, f'read "{basis}"', fault, "Turn the value to that basis"))
    feed = page.tables.feeds[row.text("feed_id")]
    figure = Figure(
        row.number("value") or 0.0, mark, row.text("source"), row.text("note"), place=row.place
    )
    least, most = page.tables.range_of(entry.id, feed.group)
    if not least <= figure.value <= most and not figure.note.startswith(CHECKED):
        faults.append(range_fault(feed, entry, figure, least, most))
    if faults:
        raise InputError(*faults)
