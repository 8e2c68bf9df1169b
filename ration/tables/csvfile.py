"""Reads one CSV file against a table schema; every fault named by file, line and column.

The schema is the open Table Schema form (types string, number and integer; constraints required,
unique, enum, minimum, maximum, pattern; primary key). The files are what spreadsheets save: comma
or semicolon, with or without a byte-order mark. Anything that could be read two ways is refused.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from ration.errors import FileError, Problem, TableError

LARGEST_BYTES = 2_000_000
LONGEST_CELL = 2_000

Cell = str | float | int | None

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?")
_COMMA_NUMBER = re.compile(r"[+-]?[0-9]*,[0-9]+")
_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}([.,' \u202f][0-9]{3})+")
_WITH_UNIT = re.compile(r"([+-]?[0-9]*[.,]?[0-9]+)\s*(?![eE][0-9])([%a-zA-Z/µ°].*)")
_NOTHING = {"na", "n/a", "nan", "none", "null", "nil", "-", "--", "?", "unknown", "nd", "n.d.", "x"}
_NOT_SET = "the cell must be left empty when the figure is not known"


@dataclass(frozen=True)
class Field:
    """One column of a schema.

    Parameters
    ----------
    name, type, title : str
        Heading, "string", "number" or "integer", and plain words.
    required, unique : bool
        Whether every row must fill it, and fill it differently.
    enum : tuple of str
        The only words allowed, when not empty.
    minimum, maximum : float or None
        Bounds of a number, in the unit of the column.
    pattern : re.Pattern or None
        Form of a text.
    """

    name: str
    type: str = "string"
    title: str = ""
    required: bool = False
    unique: bool = False
    enum: tuple[str, ...] = ()
    minimum: float | None = None
    maximum: float | None = None
    pattern: re.Pattern[str] | None = None


@dataclass(frozen=True)
class Schema:
    """The columns of one table, its key, and the tables its columns point to.

    Parameters
    ----------
    name : str
        Name of the table.
    fields : tuple of Field
        Columns; their order in the file is free.
    primary_key : tuple of str
        Columns that together name a row.
    foreign_keys : tuple of (str, str, str)
        Column, the table it points to, and the column there.
    """

    name: str
    fields: tuple[Field, ...]
    primary_key: tuple[str, ...] = ()
    foreign_keys: tuple[tuple[str, str, str], ...] = ()

    @classmethod
    def from_json(cls, resource: Mapping[str, Any]) -> Schema:
        """The schema of one resource of a data package."""
        raw = resource["schema"]
        key = raw.get("primaryKey", [])
        links = (
            (k["fields"], k["reference"]["resource"], k["reference"]["fields"])
            for k in raw.get("foreignKeys", [])
        )
        fields = []
        for f in raw["fields"]:
            c = f.get("constraints", {})
            pattern = c.get("pattern")
            fields.append(
                Field(
                    f["name"],
                    f.get("type", "string"),
                    f.get("title", ""),
                    bool(c.get("required")),
                    bool(c.get("unique")),
                    tuple(c.get("enum", ())),
                    c.get("minimum"),
                    c.get("maximum"),
                    re.compile(pattern) if pattern else None,
                )
            )
        return cls(
            resource["name"],
            tuple(fields),
            (key,) if isinstance(key, str) else tuple(key),
            tuple(links),
        )


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the file and line it stands on and its cells by column; an empty cell is None.

    `word` is what the file calls a line: "row" on the sheet of a workbook.
    """

    file: str
    line: int
    cells: Mapping[str, Cell]
    word: str = "line"

    @property
    def place(self) -> str:
        """File and line, for messages and for the origin of a figure."""
        return f"{self.file} {self.word} {self.line}"

    def text(self, column: str) -> str:
        """The cell as text; "" when empty or when there is no such column."""
        value = self.cells.get(column)
        return "" if value is None else str(value)

    def number(self, column: str) -> float | None:
        """The cell as a number; None when empty or when there is no such column."""
        value = self.cells.get(column)
        return float(value) if isinstance(value, int | float) else None


@dataclass(frozen=True)
class Grid:
    """A file cut into cells, nothing interpreted yet."""

    file: str
    header: tuple[str, ...]
    lines: tuple[tuple[int, tuple[str, ...]], ...]
    decimal_comma: bool
    word: str = "line"


def shown(text: str, most: int = 40) -> str:
    """A cell as it can be printed on one line, in quotation marks."""
    return f'"{plain(text, most)}"'


def plain(text: str, most: int = 80) -> str:
    """A text as it can be printed on one line: unseen characters as "?", cut when long."""
    seen = "".join(c if c.isprintable() else "?" for c in text)
    return seen if len(seen) <= most else seen[: most - 3] + "..."


def read_text(path: Path) -> str:
    """The text of a file: UTF-8, no byte-order mark, lines ending in a single line feed.

    Raises
    ------
    FileError
        Missing, not a plain file, over 2 MB, not UTF-8, or not text.
    """

    def refuse(read: str, allowed: str = "", do: str = "") -> FileError:
        return FileError(Problem(plain(path.name), read, allowed, do))

    try:
        if not path.is_file():
            raise refuse(
                "there is no such file" if not path.exists() else "this is not a file",
                "",
                "Check the name and the folder",
            )
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise refuse(
                f"the file is {size / 1e6:.1f} MB",
                f"a table is at most {LARGEST_BYTES / 1e6:g} MB",
                "Check that it is the right file",
            )
        raw = path.read_bytes()
    except (OSError, ValueError) as e:
        reason = e.strerror if isinstance(e, OSError) and e.strerror else "its name is not usable"
        raise refuse(f"cannot be read ({reason.lower()})") from None
    if raw[:4] in (b"PK\x03\x04", b"\xd0\xcf\x11\xe0"):
        raise refuse("this is a spreadsheet workbook", "a CSV file is wanted", "Save it as CSV")
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise refuse("the text is UTF-16", "UTF-8 is wanted", "Save it as CSV UTF-8")
    if (nul := raw.find(b"\0")) >= 0:
        raise refuse(
            f"line {raw.count(10, 0, nul) + 1} holds a zero byte",
            "a CSV file is plain text",
            "Save it again as CSV UTF-8",
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as e:
        raise refuse(
            f"line {raw.count(10, 0, e.start) + 1} holds a letter that is not UTF-8"
            f" (byte {raw[e.start]:#04x})",
            "UTF-8 is wanted",
            "Save it as CSV UTF-8",
        ) from None
    return text.replace("\r\n", "\n").replace("\r", "\n").replace("\u00a0", " ")


def _delimiter(file: str, first: str) -> str:
    """What parts the columns, by the heading line."""
    if ";" in first and "," not in first:
        return ";"
    if "\t" in first and "," not in first:
        raise FileError(
            Problem(
                file,
                "columns are parted by tabs",
                "commas (or semicolons) are wanted",
                "Save it as CSV",
            )
        )
    return ","


def cut(file: str, text: str, word: str = "line") -> Grid:
    """A text cut into heading and rows; rows without any filled cell are left out.

    Parameters
    ----------
    file : str
        Name for messages.
    text : str
        As `read_text` gives it.
    word : str
        What a line is called in messages: "row" for the sheet of a workbook.

    Raises
    ------
    FileError
        Empty, or cut in a way that cannot be right; every row at fault is named.
    """
    start = re.match(r"sep=(.)[^\S\n]*\n", text)
    body = "\n" * start.group(0).count("\n") + text[start.end() :] if start else text
    first = body.lstrip("\n").split("\n", 1)[0]
    if not first.strip(" ,;\t"):
        raise FileError(Problem(file, "the file is empty", "a row of headings is wanted"))
    delimiter = _delimiter(file, first)
    reader = csv.reader(io.StringIO(body, newline=""), delimiter=delimiter, strict=True)
    header: tuple[str, ...] = ()
    lines: list[tuple[int, tuple[str, ...]]] = []
    faults: list[Problem] = []
    ended = 0
    try:
        for raw in reader:
            line, ended = ended + 1, reader.line_num
            cells = tuple(map(str.strip, raw))
            if not any(cells):
                continue
            if not header:
                header = _header(f"{file} {word} {line}", cells, faults)
            elif len(cells) < len(header) or any(cells[len(header) :]):
                faults.append(_wrong_length(f"{file} {word} {line}", cells, header))
            elif cells[: len(header)] == header:
                faults.append(
                    Problem(
                        f"{file} {word} {line}",
                        "the headings stand here again",
                        "one row of headings, at the top",
                        f"Delete this {word}",
                    )
                )
            else:
                lines.append((line, cells[: len(header)]))
    except csv.Error as e:
        why = (
            "a cell is far too long" if "limit" in str(e) else "a quotation mark is open or astray"
        )
        where = f"{file} {word} {ended + 1}"
        faults.append(Problem(where, why, "", 'Look for a stray " from there'))
    if faults:
        raise FileError(*faults)
    comma = delimiter == ";" and any(_COMMA_NUMBER.fullmatch(c) for _, r in lines for c in r)
    return Grid(file, header, tuple(lines), comma, word)


def _header(place: str, cells: tuple[str, ...], faults: list[Problem]) -> tuple[str, ...]:
    """Headings without empty ends; unnamed and repeated ones are faults."""
    while cells and not cells[-1]:
        cells = cells[:-1]
    for i, name in enumerate(cells):
        where = f"{place}, column {i + 1}"
        if not name:
            faults.append(Problem(where, "the column has no heading", "", "Name it or delete it"))
        elif name in cells[:i]:
            faults.append(
                Problem(
                    where,
                    f"heading {shown(name)} stands twice",
                    "each column once",
                    "Delete one of them",
                )
            )
    return cells


def _wrong_length(place: str, cells: tuple[str, ...], header: tuple[str, ...]) -> Problem:
    """A row with too few or too many cells."""
    more = len(cells) > len(header)
    do = "See if a cell is missing or the line was cut"
    if more:
        do = "Put a text that holds a comma in quotation marks; write 3.1, not 3,1"
    return Problem(place, f"{len(cells)} cells", f"{len(header)} are wanted, one a heading", do)


def read_rows(path: Path, schema: Schema) -> list[Row]:
    """The rows of a CSV file, checked cell by cell.

    Parameters
    ----------
    path : Path
        File to read, at most 2 MB.
    schema : Schema
        What its columns must hold.

    Raises
    ------
    FileError, TableError
        With every fault of the file, one line each.
    """
    return rows(cut(plain(path.name), read_text(path)), schema)


def rows(grid: Grid, schema: Schema) -> list[Row]:
    """The rows of a cut file, each cell of the type its column has, keys checked."""
    faults = list(_heading_faults(grid, schema))
    by_name = {f.name: f for f in schema.fields}
    columns = [(i, by_name[n]) for i, n in enumerate(grid.header) if n in by_name]
    found: list[Row] = []
    for line, cells in grid.lines:
        row: dict[str, Cell] = {}
        for i, field in columns:
            try:
                row[field.name] = cell(cells[i], field, grid.decimal_comma)
            except _Fault as e:
                where = f"{grid.file} {grid.word} {line}, column {field.name}"
                faults.append(Problem(where, e.read, e.allowed, e.do))
                row[field.name] = None
        found.append(Row(grid.file, line, row, grid.word))
    if not any(p.where == grid.file for p in faults):
        faults.extend(_key_faults(found, schema))
    if faults:
        raise TableError(*faults)
    return found


def _heading_faults(grid: Grid, schema: Schema) -> Iterator[Problem]:
    """Columns missing and columns unknown."""
    names = [f.name for f in schema.fields]
    for field in schema.fields:
        if field.required and field.name not in grid.header:
            yield Problem(
                grid.file, f"column {field.name} is missing", "", f"Add the heading {field.name}"
            )
    for name in grid.header:
        if name not in names:
            near = get_close_matches(name, names, n=3, cutoff=0.6)
            yield Problem(
                f"{grid.file} {grid.word} 1",
                f"column {shown(name)} is not known",
                f"nearest: {', '.join(near)}" if near else "allowed: " + ", ".join(names[:12]),
                "Rename or delete it",
            )


def _key_faults(found: Sequence[Row], schema: Schema) -> Iterator[Problem]:
    """Rows with a key that an earlier row has."""
    keys: list[tuple[str, ...]] = [(f.name,) for f in schema.fields if f.unique]
    if schema.primary_key and schema.primary_key not in keys:
        keys.append(schema.primary_key)
    for key in keys:
        seen: dict[tuple[Cell, ...], int] = {}
        for row in found:
            value = tuple(row.cells.get(k) for k in key)
            if all(v is None for v in value):
                continue
            if value in seen:
                words = ", ".join(f"{k} {row.text(k)}" for k in key if row.text(k))
                yield Problem(
                    row.place,
                    f"{words} stands on {row.word} {seen[value]} too",
                    "each only once",
                    f"Delete one of the two {row.word}s",
                )
            else:
                seen[value] = row.line


class _Fault(Exception):
    """Why a cell cannot be read."""

    def __init__(self, read: str, allowed: str = "", do: str = "") -> None:
        super().__init__(read)
        self.read, self.allowed, self.do = read, allowed, do


def cell(text: str, field: Field, decimal_comma: bool = False) -> Cell:
    """The value of one stripped cell by its field; None when empty."""
    if not text:
        if field.required:
            raise _Fault(
                "the cell is empty", f"{field.title or field.name} is wanted", "Fill it in"
            )
        return None
    if field.type == "string":
        return _words(text, field)
    value = _number(text, decimal_comma)
    if field.minimum is not None and value < field.minimum:
        raise _Fault(f"read {text}", f"at least {field.minimum:g} is wanted", "Check the figure")
    if field.maximum is not None and value > field.maximum:
        raise _Fault(f"read {text}", f"at most {field.maximum:g} is allowed", "Check the figure")
    if field.type == "integer":
        if not value.is_integer():
            raise _Fault(f"read {shown(text)}", "a whole number is wanted", "Check the figure")
        return int(value)
    return value


def _words(text: str, field: Field) -> str:
    """A text cell, checked."""
    if field.enum:
        if text in field.enum:
            return text
        near = get_close_matches(text.lower(), field.enum, n=1, cutoff=0.5)
        raise _Fault(
            f"read {shown(text)}",
            "allowed: " + ", ".join(field.enum),
            f"Did you mean {near[0]}?"[:-1] if near else "Choose one of them",
        )
    if text[0] in "=+@" or (text[0] == "-" and len(text) > 1 and text[1] not in " 0123456789"):
        raise _Fault(
            f"read {shown(text)}",
            "this looks like a formula; plain text is wanted",
            "Paste it as a value",
        )
    if text[0] == "#" and text.rstrip("!?") in ("#REF", "#N/A", "#DIV/0", "#NAME", "#VALUE"):
        raise _Fault(f"read {text}", "this is a spreadsheet's error", "Put it right there first")
    if not text.isprintable():
        raise _Fault(
            f"read {shown(text)}",
            "a line break or unseen character stands in it",
            "Type it again on one line",
        )
    if len(text) > LONGEST_CELL:
        raise _Fault(f"read {shown(text)}", f"at most {LONGEST_CELL} letters", "Shorten it")
    if field.pattern and not field.pattern.fullmatch(text):
        raise _Fault(f"read {shown(text)}", _form(field), "Write it in that form")
    return text


def _form(field: Field) -> str:
    """A pattern in words."""
    if field.pattern and "(-" in field.pattern.pattern:
        return "lower-case words joined by hyphens are wanted (as in hay-good)"
    return f"letters, digits and {'_' if field.pattern and '_' in field.pattern.pattern else '.-'}"


def _number(text: str, decimal_comma: bool) -> float:
    """A number cell, refused when it could be read two ways."""
    read = f"read {shown(text)}"
    if _NUMBER.fullmatch(text):
        if decimal_comma and _THOUSANDS.fullmatch(text):
            raise _Fault(
                read,
                "this file writes 3,1 for three and a tenth, so a point may part thousands",
                "Write the figure without the point",
            )
        return float(text)
    if decimal_comma and _COMMA_NUMBER.fullmatch(text):
        if _THOUSANDS.fullmatch(text):
            raise _Fault(
                read,
                "the comma may part thousands or decimals",
                f"Write {text.replace(',', '.')}0 or {text.replace(',', '')}",
            )
        return float(text.replace(",", "."))
    if text[0] in "=@" or (text[0] in "+-" and len(text) > 1 and text[1] not in ".,0123456789"):
        raise _Fault(read, "this looks like a formula; a number is wanted", "Paste it as a value")
    if text[0] == "#":
        raise _Fault(read, "this is a spreadsheet's error", "Put it right there first")
    if text.lower() in _NOTHING:
        raise _Fault(read, _NOT_SET, "Empty the cell")
    if _THOUSANDS.fullmatch(text):
        raise _Fault(
            read,
            "a number without marks for thousands is wanted",
            f"Write {re.sub('[^0-9+-]', '', text)}, or a point if it is a decimal comma",
        )
    if _COMMA_NUMBER.fullmatch(text):
        raise _Fault(read, "a number with a point is wanted", f"Write {text.replace(',', '.')}")
    if unit := _WITH_UNIT.fullmatch(text):
        raise _Fault(
            read,
            "a bare number in the unit of the column is wanted",
            f"Take {shown(unit.group(2), 12)} out, and change the unit if it is another",
        )
    raise _Fault(read, "a number is wanted", "Write a number, or empty the cell")
