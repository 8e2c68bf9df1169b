"""A feed table in a workbook (.xlsx, .xlsm), as the text that its CSV file would hold.

One sheet is read: the one whose first filled row holds the heading feed_id. Every cell of it is
turned to text as a CSV file would carry it, with all its digits, so that the same checks follow and
the same table gives the same hash. Whatever a CSV cannot say is a fault: a percentage, a formula
that was never calculated, a cell beyond the headings. Nothing is run, nothing is fetched.
"""

from __future__ import annotations

import csv
import io
import math
import re
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from datetime import date, time
from pathlib import Path
from typing import Any

from ration.errors import FileError, Problem, TableError
from ration.tables.csvfile import LARGEST_BYTES, LONGEST_CELL, plain

ENDINGS = (".xlsx", ".xlsm")
HEADING = "feed_id"
# As for merchants' workbooks (ration.quotes), held together by a test.
MOST_ROWS = 5_000
MOST_COLUMNS = 60
MOST_SHEETS = 40
MOST_PARTS = 2_000
MOST_UNPACKED_BYTES = 40_000_000
SMALL_UNPACKED_BYTES = 2_000_000
MOST_RATIO = 200
_SAVE_ANEW = "Open it in a spreadsheet and save it again, or as .csv"


def is_book(path: Path) -> bool:
    """True when the name is that of a workbook that can be read here."""
    return path.suffix.lower() in ENDINGS


def read_book(path: Path) -> tuple[str, str]:
    """A workbook's feed table: what to call it in messages, and its text as CSV.

    The name holds file and sheet; line n of the text is row n of the sheet.

    Raises
    ------
    FileError, TableError
        Missing, too large, damaged, locked; no sheet or two with feed_id; every cell that has no
        plain text, one line each.
    """
    name = plain(path.name)
    data = _bytes(path, name)
    _look_inside(data, name)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # formats and extensions that do not touch values
            values = _opened(data, data_only=True)
            try:
                sheet = _chosen(values, name)
                file = f'{name} sheet "{plain(sheet.title, 40)}"'
                return file, _text(sheet, _formulas(data, sheet), file)
            finally:
                values.close()
    except (FileError, TableError):
        raise
    except Exception:  # the library raises anything at all on a broken file
        raise FileError(Problem(name, "the workbook is damaged", "", _SAVE_ANEW)) from None


def _bytes(path: Path, name: str) -> bytes:
    """The file's bytes, or why not."""
    try:
        if path.is_dir():
            raise FileError(Problem(name, "this is a folder", "a workbook is wanted"))
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        why = "there is no such file" if isinstance(error, FileNotFoundError) else "cannot be read"
        raise FileError(Problem(name, why, "", "Check the name and the folder")) from None
    if len(data) > LARGEST_BYTES:
        most = f"a table is at most {LARGEST_BYTES / 1e6:g} MB"
        raise FileError(Problem(name, "the file is too large", most, "Keep the table alone in it"))
    if not data:
        raise FileError(Problem(name, "the file is empty", "", "Save it again"))
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        read = "this is an old workbook, or one locked with a password"
        raise FileError(Problem(name, read, "", "Save it as .xlsx without one, or as .csv"))
    if not data.startswith(b"PK"):
        read = "the file is not a workbook, whatever its name says"
        raise FileError(Problem(name, read, "", "Name it .csv if it is text, or save it again"))
    return data


def _look_inside(data: bytes, name: str) -> None:
    """Refuse an archive that is damaged, locked, no workbook, or would unpack to far more."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
    except Exception:  # whatever a made-up archive brings about
        raise FileError(Problem(name, "the workbook is damaged", "", _SAVE_ANEW)) from None
    unpacked = sum(p.file_size for p in parts)
    packed = max(1, sum(p.compress_size for p in parts))
    is_large = unpacked > MOST_UNPACKED_BYTES or len(parts) > MOST_PARTS
    is_dense = unpacked > SMALL_UNPACKED_BYTES and unpacked / packed > MOST_RATIO
    if is_large or is_dense:
        read = f"the workbook would unpack to {unpacked / 1e6:,.0f} MB"
        most = f"at most {MOST_UNPACKED_BYTES // 1_000_000} MB, and {MOST_RATIO} to one, is read"
        raise FileError(Problem(name, read, most, "Copy the table into a new file"))
    if any(p.flag_bits & 1 for p in parts):
        raise FileError(Problem(name, "the file is locked with a password", "", "Take it off"))
    if "xl/workbook.xml" not in {p.filename for p in parts}:
        raise FileError(Problem(name, "this is not an .xlsx workbook", "", _SAVE_ANEW))


def _opened(data: bytes, *, data_only: bool) -> Any:
    import openpyxl  # type: ignore[import-untyped]

    return openpyxl.load_workbook(
        io.BytesIO(data), read_only=True, data_only=data_only, keep_links=False
    )


def _chosen(book: Any, name: str) -> Any:
    """The one sheet with the heading; where none has it, the first with anything on it."""
    sheets = book.worksheets
    if len(sheets) > MOST_SHEETS:
        raise FileError(Problem(name, f"{len(sheets)} sheets", f"at most {MOST_SHEETS} are read"))
    first_rows = [(s, row) for s in sheets if (row := _first(s))]
    found = [s for s, row in first_rows if HEADING in row]
    if len(found) > 1:
        names = ", ".join(f'"{plain(s.title, 40)}"' for s in found)
        raise TableError(
            Problem(name, f"{len(found)} sheets have a column {HEADING}: {names}",
                    "one feed table a file", "Keep each in a file of its own")
        )  # fmt: skip
    if not first_rows:
        raise FileError(Problem(name, "the file is empty", "a row of headings is wanted"))
    return found[0] if found else first_rows[0][0]


def _first(sheet: Any) -> tuple[str, ...]:
    """The first filled row of a sheet, as text."""
    sheet.reset_dimensions()  # the size written in the file may be false
    for cells in sheet.iter_rows(max_row=MOST_ROWS, max_col=MOST_COLUMNS, values_only=True):
        if any(c is not None and str(c).strip() for c in cells):
            return tuple("" if c is None else str(c).strip() for c in cells)
    return ()


def _formulas(data: bytes, sheet: Any) -> set[tuple[int, int]]:
    """Row and column of each formula of the sheet."""
    part = str(getattr(sheet, "_worksheet_path", ""))
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        raw = archive.read(part) if part in archive.namelist() else b"<f>"
    if not re.search(rb"<(?:\w+:)?f[ />]", raw):
        return set()
    book = _opened(data, data_only=False)
    try:
        twin = book[sheet.title]
        twin.reset_dimensions()
        rows = twin.iter_rows(max_row=MOST_ROWS, max_col=MOST_COLUMNS)
        return {
            (number, column)
            for number, cells in enumerate(rows, 1)
            for column, cell in enumerate(cells, 1)
            if getattr(cell, "data_type", "") == "f"
        }
    finally:
        book.close()


def _text(sheet: Any, formulas: set[tuple[int, int]], file: str) -> str:
    """The sheet as CSV; line n is row n."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    faults: list[Problem] = []
    header: tuple[str, ...] = ()
    blanks = 0
    sheet.reset_dimensions()
    for number, cells in enumerate(sheet.iter_rows(), 1):
        texts: list[str] = []
        for column, cell in enumerate(cells, 1):
            where = f"{file} row {number}, column {_heading(header, column)}"
            text, fault = _cell(cell, (number, column) in formulas)
            if fault:
                faults.append(Problem(where, *fault))
            texts.append(text)
        while texts and not texts[-1]:
            texts.pop()
        if not texts:
            blanks += 1
            continue
        if number > MOST_ROWS or len(texts) > MOST_COLUMNS:
            read = f"the sheet is larger than {MOST_ROWS:,} rows by {MOST_COLUMNS} columns"
            do = "Look for a stray cell, or keep the table alone on the sheet"
            raise FileError(*faults, Problem(f"{file} row {number}", read, "no more is read", do))
        if header:
            faults.extend(_beyond(texts, header, f"{file} row {number}"))
        out.write("\n" * blanks)
        blanks = 0
        header = header or tuple(texts)
        writer.writerow(texts + [""] * (len(header) - len(texts)))
    if faults:
        raise TableError(*faults)
    return out.getvalue()


def _heading(header: Sequence[str], column: int) -> str:
    """What a column is called: its heading, or its letters."""
    if column <= len(header) and header[column - 1]:
        return plain(header[column - 1], 40)
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def _beyond(texts: list[str], header: Sequence[str], where: str) -> Iterator[Problem]:
    """Cells that stand under no heading; they are taken off the row."""
    for i, text in enumerate(texts[len(header) :], len(header) + 1):
        if text:
            yield Problem(
                f"{where}, column {_heading((), i)}",
                f'"{plain(text, 40)}" stands beyond the last heading',
                "one cell a heading",
                "Give the column a heading, or clear the cell",
            )
    del texts[len(header) :]


_Fault = tuple[str, str, str]


def _cell(cell: Any, is_formula: bool) -> tuple[str, _Fault | None]:
    """A cell as a CSV file would carry it, and why it cannot be carried."""
    value = cell.value
    if value is None or value == "":
        if not is_formula:
            return "", None
        read = "the cell holds a formula that was never calculated"
        return "?", (read, "it reads as blank", "Open the file in a spreadsheet and save it again")
    if isinstance(value, bool):
        return ("TRUE" if value else "FALSE"), None
    if isinstance(value, date | time):  # a moment of time is a date too
        read = f'read "{value.isoformat()}"'
        return "?", (read, "a date is not wanted here", "Format the cell as text or number")
    if isinstance(value, int | float):
        return _number(float(value), str(cell.number_format or ""))
    text = str(value)[: 2 * LONGEST_CELL].replace("\u00a0", " ").strip()
    return re.sub(r"\r\n?|\n", "\v", text), None


def _number(value: float, number_format: str) -> tuple[str, _Fault | None]:
    """All digits of a number; a percentage shows another number than it is."""
    if not math.isfinite(value):
        return "?", ("this is not a number", "a number is wanted", "Put it right there first")
    if "%" in number_format.replace("\\%", "%"):
        read = f"the cell shows a percentage ({value:g} inside)"
        do = "Format it as a number and write the figure in the unit of the nutrient"
        return "?", (read, "a bare number is wanted", do)
    return (str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)), None
