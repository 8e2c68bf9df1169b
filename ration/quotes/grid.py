"""A file of quotes as sheets, rows and cells, nothing interpreted yet.

Text (.csv, .tsv, .txt): parted by commas, semicolons, tabs or bars; UTF-8, UTF-16 or the older
Windows form. Workbooks (.xlsx, .xlsm): at most 5,000 rows by 60 columns a sheet, values as last
calculated; what stands beyond is told, never dropped unsaid. Old workbooks (.xls) and OpenDocument
sheets (.ods) are read in a child process with 1 GiB and 20 s, since the library that reads them
can take the whole program down with it; percent formats are lost on that way.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ration.analysis.reader import text_of
from ration.errors import FileError, Problem
from ration.tables.csvfile import plain as plain

MOST_ROWS = 5_000
MOST_COLUMNS = 60
LARGEST_BYTES = 5_000_000
LARGEST_TEXT_BYTES = 500_000
LONGEST_CELL = 2_000
MOST_FAR = 20
TEXT_ENDINGS = (".csv", ".tsv", ".tab", ".txt")
BOOK_ENDINGS = (".xlsx", ".xlsm")
CHILD_ENDINGS = (".xls", ".ods")
ENDINGS = (*TEXT_ENDINGS, *BOOK_ENDINGS, *CHILD_ENDINGS)
_TURNS_TEXT = re.compile("[\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell.

    Attributes
    ----------
    text : str
        As a reader of the sheet sees it, spaces tidied and unseen signs taken out.
    kind : str
        blank, text, number, percent, date, or formula for one that was never calculated.
    number : float or None
        Of a number; of a percent in per cent.
    day : date or None
        Of a date.
    """

    text: str = ""
    kind: str = "blank"
    number: float | None = None
    day: date | None = None


BLANK = Cell()


@dataclass(frozen=True, slots=True)
class Row:
    """A row with something in it, and its number on the sheet."""

    number: int
    cells: tuple[Cell, ...]

    def at(self, column: int) -> Cell:
        """The cell of a column, blank where the row is shorter."""
        return self.cells[column] if column < len(self.cells) else BLANK

    @property
    def words(self) -> str:
        """The whole row on one line."""
        return plain(" | ".join(c.text for c in self.cells if c.kind != "blank"), 100)


@dataclass(frozen=True)
class Page:
    """One sheet.

    Attributes
    ----------
    file, name : str
        File, and the sheet's name; "" for text.
    rows : tuple of Row
        Rows with something in them.
    far : tuple of str
        What stands beyond the limits, one line each.
    merged : tuple of (int, int, int, int)
        First row, first column, last row, last column of merged cells, counted from 1.
    is_percent_lost : bool
        True when the format of a percentage cannot be told from a plain number.
    is_hidden : bool
    is_parted_by_comma : bool
        A text file whose cells are parted by commas, where a decimal comma makes two cells.
    """

    file: str
    name: str
    rows: tuple[Row, ...]
    far: tuple[str, ...] = ()
    merged: tuple[tuple[int, int, int, int], ...] = ()
    is_percent_lost: bool = False
    is_hidden: bool = False
    is_parted_by_comma: bool = False

    def where(self, row: int | None = None, heading: str = "") -> str:
        """File, sheet, row and column heading."""
        parts = self.file + (f' sheet "{plain(self.name, 40)}"' if self.name else "")
        parts += f" row {row}" if row is not None else ""
        return f'{parts}, "{plain(heading, 40)}"' if heading else parts

    def covered_by(self, row: int, column: int) -> tuple[int, int] | None:
        """Row and column of the merged cell that covers this one, when it is not its first."""
        for top, left, bottom, right in self.merged:
            inside = top <= row <= bottom and left <= column <= right
            if inside and (row, column) != (top, left):
                return top, left
        return None


def clean(text: str) -> str:
    """Text with one kind of space, and without signs that take no room.

    Signs that turn the direction of writing stay: a number that holds one is not read, since it
    shows as another.
    """
    kept = "".join(
        c for c in text if unicodedata.category(c) != "Cf" or _TURNS_TEXT.match(c) is not None
    )
    return " ".join(kept.replace("\u00ad", "").split())


def text_cell(text: str) -> Cell:
    """A cell of text; blank when nothing is to be seen in it."""
    tidy = clean(text)
    return Cell(tidy[:LONGEST_CELL], "text") if tidy else BLANK


def pages_of(path: Path, parts_well: Callable[[Page], bool]) -> list[Page]:
    """Every sheet of a file.

    Parameters
    ----------
    path : Path
    parts_well : callable
        Says of a text file, parted in one way, whether it looks like a price list.

    Raises
    ------
    FileError
        One line: missing, too large, damaged, locked, not what its name says.
    """
    name = plain(path.name or str(path))
    ending = path.suffix.lower()
    data = _bytes_of(path, name)
    kind = _kind(data, name)
    if ending not in ENDINGS:
        raise FileError(
            Problem(name, f'a file ending in "{plain(ending, 12)}" is not read here',
                    "quotes are " + ", ".join(ENDINGS), "Save it as .csv or .xlsx")
        )  # fmt: skip
    own = {**dict.fromkeys(TEXT_ENDINGS, "text"), **dict.fromkeys(BOOK_ENDINGS, "xlsx")}
    if kind != own.get(ending, ending[1:]):
        words = {"text": "plain text (.csv)", "xlsx": "a workbook (.xlsx)"}
        is_what = words.get(kind, f"a .{kind} file" if kind != "ole" else "an old workbook (.xls)")
        if kind == "ole" and ending in BOOK_ENDINGS:
            is_what += ", or one locked with a password"
        if not (kind == "ole" and ending == ".xls"):
            raise FileError(
                Problem(name, f"the file is {is_what}, not what its name says", "",
                        "Rename it, or save it again")
            )  # fmt: skip
    if kind == "text":
        return [text_page(text_of(data, name), name, parts_well)]
    from ration.quotes import books

    return books.pages(data, name) if kind == "xlsx" else books.pages_by_child(path, name)


def _bytes_of(path: Path, name: str) -> bytes:
    try:
        if path.is_dir():
            raise FileError(Problem(name, "this is a folder", "a file of quotes is wanted"))
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        why = "there is no such file" if isinstance(error, FileNotFoundError) else "cannot be read"
        raise FileError(Problem(name, why, "", "Check the name and the folder")) from None
    if len(data) > LARGEST_BYTES:
        allowed = f"at most {LARGEST_BYTES // 1_000_000} MB"
        raise FileError(Problem(name, "the file is too large", allowed, "Keep the prices alone"))
    if not data:
        raise FileError(Problem(name, "the file is empty", "", "Save it again"))
    return data


def _kind(data: bytes, name: str) -> str:
    """What the file is by its contents: text, xlsx, ods or ole."""
    if data.startswith(b"PK"):
        from ration.quotes import books

        return books.kind_of_zip(data, name)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        return "ole"
    if data.startswith(b"%PDF"):
        raise FileError(Problem(name, "this is a PDF", "", "Type the prices into a CSV file"))
    start = data[:400].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith((b"<html", b"<!doctype", b"<table", b"<?xml")):
        raise FileError(
            Problem(name, "this is a web page or XML, whatever its name says", "",
                    "Open it in a spreadsheet and save it as .xlsx or .csv")
        )  # fmt: skip
    return "text"


def text_page(text: str, name: str, parts_well: Callable[[Page], bool]) -> Page:
    """The rows of a text file, parted as the headings show."""
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    said = re.match(r"sep=(.)[^\S\n]*(?:\n|$)", text)
    ways = [said.group(1)] if said else [",", ";", "\t", "|"]
    if said:
        text = "\n" + text[said.end() :]
    faults: list[FileError] = []
    found: list[Page] = []
    for way in ways:
        try:
            found.append(_parted(text, name, way))
        except FileError as e:
            faults.append(e)
    good = [p for p in found if parts_well(p)]
    best = good or found
    if not best:
        raise faults[0]
    if not good and faults:  # the way that would fit may be the one that failed
        raise faults[0]
    return max(best, key=lambda p: max((len(r.cells) for r in p.rows), default=0))


def _parted(text: str, name: str, by: str) -> Page:
    rows: list[Row] = []
    far: list[str] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=by, strict=True)
    number = 0
    try:
        for number, raw in enumerate(reader, 1):
            cells = tuple(text_cell(c) for c in raw)
            cells, beyond = cells[:MOST_COLUMNS], cells[MOST_COLUMNS:]
            filled = [c.text for c in beyond if c.text]
            if number > MOST_ROWS:
                filled, cells = [c.text for c in (*cells, *beyond) if c.text], ()
            if filled:
                place = f"{name} row {number}"
                far.append(far_words(place, number, len(filled), filled[0]))
                refuse_far(far, name)
            if any(c.text for c in cells):
                rows.append(Row(number, cells))
    except csv.Error as e:
        why = (
            "a cell is far too long" if "limit" in str(e) else "a quotation mark is open or astray"
        )
        where = f"{name} row {number + 1}"
        raise FileError(Problem(where, why, "", 'Look for a stray " from there')) from None
    return Page(name, "", tuple(rows), tuple(far), is_parted_by_comma=by == ",")


def far_words(place: str, row: int, filled: int, first: object) -> str:
    """What to say of cells beyond the limits."""
    limit = f"row {MOST_ROWS:,}" if row > MOST_ROWS else f"column {MOST_COLUMNS}"
    cells = "1 cell stands" if filled == 1 else f"{filled} cells stand"
    return f'{place}: {cells} beyond {limit} and not read, the first "{plain(str(first), 40)}"'


def refuse_far(far: list[str], where: str) -> None:
    """Refuse a sheet of which more than a few rows run beyond the limits."""
    if len(far) > MOST_FAR:
        raise FileError(
            Problem(where, f"the sheet is larger than {MOST_ROWS:,} rows by {MOST_COLUMNS} columns",
                    "that is the most that is read", "Keep the prices alone in the file")
        )  # fmt: skip
