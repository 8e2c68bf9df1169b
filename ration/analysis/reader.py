"""Reads laboratory sheets: CSV long or wide, or YAML, in our own layout or a laboratory's.

A sheet is read with certainty or refused: every problem of the file is told, one line each. A
heading that is not known is kept as not understood, never guessed. Numbers may have a decimal
comma; cells may be parted by commas, semicolons, tabs or bars; text may be UTF-8, UTF-16 or the
older Windows form.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ration.analysis.names import COLUMN_WORDS
from ration.analysis.records import (
    FIGURE,
    LONGEST_CELL,
    Entry,
    RawSheet,
    Sheet,
    header_field,
    put_header,
    sheet_of,
)
from ration.analysis.terms import (
    Heading,
    basis_of,
    comma_evidence,
    heading,
    is_missing,
    tidy,
    unit_and_basis,
)
from ration.errors import FileError, InputError, Problem
from ration.units import shown

LARGEST_BYTES = 500_000
MOST_ROWS = 2000
MOST_COLUMNS = 200
LOOK_FOR_HEADING = 60
_SIGNATURES = (
    (b"PK\x03\x04", "this is a spreadsheet or archive, not text", "Save the sheet as CSV"),
    (b"\xd0\xcf\x11\xe0", "this is an old spreadsheet, not text", "Save the sheet as CSV"),
    (b"%PDF", "this is a PDF", "Type the figures into a CSV or YAML file"),
)  # fmt: skip


@dataclass(frozen=True)
class Row:
    """One row of a CSV file: its line and its cells, spaces tidied."""

    line: int
    cells: tuple[str, ...]

    @property
    def filled(self) -> list[str]:
        """Cells with something in them."""
        return [c for c in self.cells if c]


def sheets_in(path: str | Path) -> tuple[Sheet, ...]:
    """Every sample of a file.

    Raises
    ------
    InputError
        With every problem of the file.
    """
    path = Path(path)
    name = path.name or str(path)
    kind = path.suffix.lower()
    if kind not in (".csv", ".tsv", ".tab", ".txt", ".yaml", ".yml"):
        raise FileError(
            Problem(name, f"a file ending in {shown(kind)} is not read here",
                    "a laboratory sheet is CSV or YAML", "Save it as .csv or .yaml")
        )  # fmt: skip
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        why = "there is no such file" if isinstance(error, FileNotFoundError) else "cannot be read"
        raise FileError(Problem(name, why, "", "Check the name")) from None
    text = text_of(data, name)
    return sheets_of_text(text, name, is_yaml=kind in (".yaml", ".yml"))


def text_of(data: bytes, name: str) -> str:
    """The text of a file, whichever of the usual ways it was saved."""
    if len(data) > LARGEST_BYTES:
        raise FileError(
            Problem(name, "the file is too large", f"at most {LARGEST_BYTES // 1000} kB",
                    "Keep the sheet alone in the file")
        )  # fmt: skip
    for start, read, do in _SIGNATURES:
        if data.startswith(start):
            raise FileError(Problem(name, read, "a laboratory sheet is CSV or YAML text", do))
    text = ""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        ways = ["utf-16"]
    elif data[1:4:2] == b"\0\0" and len(data) % 2 == 0:
        ways = ["utf-16-le"]
    elif data[0:3:2] == b"\0\0" and len(data) % 2 == 0:
        ways = ["utf-16-be"]
    else:
        ways = ["utf-8-sig", "cp1252"]
    for way in ways:
        try:
            text = data.decode(way)
            break
        except UnicodeDecodeError:
            continue
    else:
        raise FileError(Problem(name, "this is not text", "", "Save the sheet as UTF-8 CSV"))
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if odd := re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", text):
        line = text.count("\n", 0, odd.start()) + 1
        raise FileError(Problem(f"{name} line {line}", "this is not text", "",
                                "Save the sheet as UTF-8 CSV"))  # fmt: skip
    if not text.strip():
        raise FileError(Problem(name, "the file is empty"))
    return text


def sheets_of_text(text: str, name: str, *, is_yaml: bool = False) -> tuple[Sheet, ...]:
    """Every sample of a sheet's text; raises `InputError` with every problem."""
    if is_yaml:
        from ration.analysis import yaml_sheet as lab_yaml

        raws = lab_yaml.raw_sheets(text, name)
    else:
        raws = _csv_raws(_rows(text, name), name)
    raws = [r for r in raws if r.entries or r.header or r.kept]
    comma = comma_evidence([e.value for raw in raws for e in raw.entries])
    sheets, problems = [], list[Problem]()
    for raw in raws:
        sheet, more = sheet_of(raw, comma)
        sheets.append(sheet)
        problems += more
    if not problems and not any(s.readings for s in sheets):
        problems.append(
            Problem(name, "no figure of a feed was found",
                    "one row a figure (field, value, unit, basis) or one row a sample",
                    'Head the columns "field,value,unit,basis"')
        )  # fmt: skip
    if problems:
        raise InputError(*problems)
    return tuple(s for s in sheets if s.readings or s.missing or s.sample)


# ---------------------------------------------------------------- CSV


def _rows(text: str, name: str) -> list[Row]:
    """Rows of whichever separator splits most lines; `FileError` when none does."""
    best: list[Row] = []
    most, fault = 0, None
    for mark in ("\t", ";", "|", ","):
        try:
            rows = _split(text, mark, name)
        except csv.Error as error:
            how = f"the cells cannot be told apart ({error})"
            fault = FileError(Problem(name, how, "", "Close every quote"))
            continue
        except FileError as error:
            fault = error
            continue
        split = sum(len(r.filled) > 1 for r in rows)
        if split > most:
            best, most = rows, split
    if not best:
        if fault:
            raise fault
        raise FileError(
            Problem(name, "there is only one column", "a name and a figure in each row",
                    'Part them with commas: "protein,6.9,%,DM"')
        )  # fmt: skip
    return best


def _split(text: str, mark: str, name: str) -> list[Row]:
    reader = csv.reader(io.StringIO(text), delimiter=mark, strict=True, skipinitialspace=True)
    rows = list[Row]()
    for cells in reader:
        line = reader.line_num
        if len(rows) >= MOST_ROWS:
            raise FileError(Problem(f"{name} line {line}", f"more than {MOST_ROWS} rows"))
        if len(cells) > MOST_COLUMNS:
            raise FileError(Problem(f"{name} line {line}", f"more than {MOST_COLUMNS} columns"))
        tidied = tuple(" ".join(c.split()) for c in cells)
        if any(len(c) > LONGEST_CELL for c in tidied):
            raise FileError(Problem(f"{name} line {line}", "a cell is too long",
                                    f"at most {LONGEST_CELL} letters"))  # fmt: skip
        if any(tidied):
            rows.append(Row(line, tidied))
    return rows


def _csv_raws(rows: list[Row], name: str) -> list[RawSheet]:
    for i, row in enumerate(rows[:LOOK_FOR_HEADING]):
        if _is_long_heading(row):
            return _long(rows, i, name)
        if _is_wide_heading(row, rows[i + 1 : i + 4]):
            return _wide(rows, i, name)
    _refuse_samples_side_by_side(rows, name)
    raw = RawSheet(name)
    for row in rows:
        _loose_row(row, raw)
    return [raw]


def _kind(cell: str) -> str:
    """What a column of a long sheet holds: field, value, unit, basis, a header field, or ""."""
    name = re.sub(r"[^a-z0-9]+", " ", tidy(cell)).strip()
    if kind := COLUMN_WORDS.get(name):
        return kind
    unit, basis, left = unit_and_basis(cell)
    left = re.sub(r"[^a-z0-9]+", " ", left).strip()
    if COLUMN_WORDS.get(left) == "value" or (not left and basis in ("dm", "fresh", "air-dry")):
        return "value"
    stripped = re.sub(rf"\b(?:{'|'.join(w for w, k in COLUMN_WORDS.items() if k == 'value')})\b",
                      "", name).strip()  # fmt: skip
    if stripped != name and basis_of(stripped):
        return "value"
    return header_field(cell) or ("value" if unit and not left else "")


def _is_long_heading(row: Row) -> bool:
    kinds = [_kind(c) for c in row.cells if c]
    has_figures = any(FIGURE.match(c) for c in row.filled if not unit_and_basis(c)[0])
    return "field" in kinds and "value" in kinds and not has_figures


def _is_wide_heading(row: Row, below: Sequence[Row]) -> bool:
    if any(FIGURE.match(c) for c in row.filled):
        return False
    heads = [heading(c) if c else None for c in row.cells]
    known = [i for i, h in enumerate(heads) if h and h.nutrient and not _is_unit_only(row.cells[i])]
    fields = [i for i, c in enumerate(row.cells) if c and header_field(c)]
    if not known or len(set(known) | set(fields)) < 2:
        return False
    return any(i < len(r.cells) and FIGURE.match(r.cells[i]) for r in below for i in known)


def _is_unit_only(cell: str) -> bool:
    """Whether a cell is a unit ("% DM") and not a name with its unit ("DM %")."""
    unit, basis, left = unit_and_basis(cell)
    if not unit or left or basis not in ("", "dm", "fresh", "air-dry"):
        return False
    return re.sub(r"[ (\[]", "", tidy(cell)).startswith(unit)


def _before(rows: list[Row], raw: RawSheet) -> None:
    """Rows above the table: header fields, or kept as they stand."""
    for row in rows:
        name = header_field(row.filled[0].rstrip(":"))
        if name and len(row.filled) > 1:
            put_header(raw, name, " ".join(row.filled[1:]), _kept(row))
        else:
            raw.kept.append(_kept(row))


def _kept(row: Row) -> str:
    return f"line {row.line}: " + " | ".join(row.filled)


def _long(rows: list[Row], at: int, name: str) -> list[RawSheet]:
    top = RawSheet(name)
    _before(rows[:at], top)
    head = rows[at]
    kinds = [_kind(c) if c else "" for c in head.cells]
    top.kept += [f"line {head.line}, column: {c}" for c, k in zip(head.cells, kinds, strict=True)
                 if c and not k]  # fmt: skip
    by_sample: dict[tuple[str, ...], RawSheet] = {}
    own = [i for i, k in enumerate(kinds) if k and k not in ("field", "value", "unit", "basis")]
    for row in rows[at + 1 :]:
        cells = row.cells + ("",) * (len(kinds) - len(row.cells))
        if any(cells[len(kinds) :]):
            raise _too_many(row, name)
        key = tuple(cells[i] for i in own)
        if key not in by_sample:
            by_sample[key] = RawSheet(name, {kinds[i]: cells[i] for i in own if cells[i]})
        _long_row(row, cells, head.cells, kinds, by_sample[key])
    raws = list(by_sample.values()) or [RawSheet(name)]
    for raw in raws:
        for field, value in top.header.items():
            raw.header.setdefault(field, value)
    raws[0].kept = top.kept + raws[0].kept
    return raws


def _too_many(row: Row, name: str) -> InputError:
    return InputError(
        Problem(f"{name} line {row.line}", "the row has more cells than there are headings",
                "a decimal comma looks like a new cell",
                "Put such figures in quotes, or part the cells with semicolons")
    )  # fmt: skip


def _long_row(
    row: Row, cells: tuple[str, ...], heads: tuple[str, ...], kinds: list[str], raw: RawSheet
) -> None:
    at = {k: [i for i, kind in enumerate(kinds) if kind == k] for k in ("field", "value", "unit",
                                                                      "basis")}  # fmt: skip
    label = next((cells[i] for i in at["field"] if cells[i]), "")
    unit = " ".join(cells[i] for i in at["unit"] if cells[i])
    basis = " ".join(cells[i] for i in at["basis"] if cells[i])
    used = {i for rows in at.values() for i in rows}
    for i, cell in enumerate(cells):
        if cell and i not in used and not (kinds[i] if i < len(kinds) else ""):
            raw.kept.append(f"line {row.line}, {heads[i] or 'column without a name'}: {cell}")
    values = [(i, cells[i]) for i in at["value"]]
    name = header_field(label.rstrip(":"))
    if name:
        said = " ".join(v for _, v in values if v)
        put_header(raw, name, said, _kept(row))
        raw.kept += [f"line {row.line}: {label}: {c}" for c in (unit, basis) if c]
        return
    found = heading(label)
    if found.nutrient is None or not label:
        raw.kept.append(_kept(row))
        return
    for i, value in values:
        if not value and any(v for _, v in values):
            continue
        col_unit, col_basis, _ = unit_and_basis(re.sub(r"(?i)\b(?:results?|values?|amount)\b", "",
                                                       heads[i]))  # fmt: skip
        shown_value = value if len(values) == 1 else f"{heads[i]}: {value}"
        as_written = " | ".join(x for x in (label, shown_value, unit, basis) if x)
        head = replace(found, unit=found.unit or col_unit)
        raw.entries.append(Entry(head, value, as_written, row.line, unit, col_basis or basis))


def _wide(rows: list[Row], at: int, name: str) -> list[RawSheet]:
    top = RawSheet(name)
    _before(rows[:at], top)
    head = rows[at]
    units = {i: "" for i in range(len(head.cells))}
    body = rows[at + 1 :]
    if body and all(_is_unit_cell(c) for c in body[0].filled):
        units.update(enumerate(body[0].cells))
        body = body[1:]
    heads = [heading(c) if c else Heading("", None) for c in head.cells]
    is_known = [bool(h.nutrient) or bool(header_field(c)) or not c
                for h, c in zip(heads, head.cells, strict=True)]  # fmt: skip
    named = zip(head.cells, is_known, strict=True)
    top.kept += [f"line {head.line}, column: {c}" for c, ok in named if not ok]
    raws = []
    for row in body:
        if len(row.cells) > len(heads) and any(row.cells[len(heads) :]):
            raise _too_many(row, name)
        nutrient_cells = [c for c, h in zip(row.cells, heads, strict=False) if h.nutrient and c]
        if not any(FIGURE.match(c) for c in nutrient_cells) and len(row.filled) < 3:
            top.kept.append(_kept(row))
            continue
        raws.append(_wide_row(row, head, heads, units, name))
    for raw in raws:
        for field, value in top.header.items():
            raw.header.setdefault(field, value)
    if not raws:
        raws = [top]
    elif top.kept:
        raws[0].kept = top.kept + raws[0].kept
    return raws


def _is_unit_cell(cell: str) -> bool:
    unit, basis, left = unit_and_basis(cell)
    return (bool(unit or basis) and not left) or tidy(cell) in ("ph", "-", "units", "unit")


def _wide_row(
    row: Row, head: Row, heads: list[Heading], units: dict[int, str], name: str
) -> RawSheet:
    raw = RawSheet(name)
    for i, cell in enumerate(row.cells):
        title = head.cells[i] if i < len(head.cells) else ""
        if not cell:
            continue
        field, found = header_field(title) if title else "", heads[i]
        if found.nutrient and not (field and not FIGURE.match(cell) and not is_missing(cell)):
            unit = "" if is_missing(units[i]) or tidy(units[i]) == "ph" else units[i]
            as_written = " | ".join(x for x in (title, unit, cell) if x)
            raw.entries.append(Entry(found, cell, as_written, row.line, unit))
        elif field:
            put_header(raw, field, cell, f"line {row.line}, {title}: {cell}")
        else:
            raw.kept.append(f"line {row.line}, {title or 'column without a name'}: {cell}")
    return raw


def _refuse_samples_side_by_side(rows: list[Row], name: str) -> None:
    for row in rows[:LOOK_FOR_HEADING]:
        kinds = [_kind(c) for c in row.filled]
        if kinds[:1] == ["field"] and len(kinds) > 1 and heading(row.filled[0]).nutrient is None:
            raise InputError(
                Problem(f"{name} line {row.line}", "no column of figures is named",
                        "one column of figures a sheet, or one row a sample",
                        'Head the column of figures "value"')
            )  # fmt: skip


def _loose_row(row: Row, raw: RawSheet) -> None:
    """A row of a sheet without a heading row: name, figure, and what follows."""
    first, *rest = row.filled
    label = first.rstrip(":").strip()
    name, found = header_field(label), heading(label)
    if name and rest and not (found.nutrient and FIGURE.match(rest[0])):
        put_header(raw, name, " ".join(rest), _kept(row))
        return
    if found.nutrient is None or not rest:
        raw.kept.append(_kept(row))
        return
    figures = [c for c in rest if FIGURE.match(c) or is_missing(c)]
    as_written = " | ".join(row.filled)
    if len(figures) > 1:
        raise InputError(
            Problem(f"{raw.place} line {row.line}, {found.nutrient.words}",
                    f"read {shown(as_written)}", "one figure is wanted in a row",
                    'Head the columns, as in "field,as received,DM"')
        )  # fmt: skip
    tail = [c for c in rest if c not in figures]
    unit, basis = "", ""
    for cell in tail:
        if not basis and basis_of(cell):
            basis = cell
        elif unit and not _is_unit_only(cell):
            raw.kept.append(f"line {row.line}, beside {label}: {cell}")
        else:
            unit = f"{unit} {cell}".strip()
    value = figures[0] if figures else rest[0]
    if not figures:
        unit = ""
    raw.entries.append(Entry(found, value, as_written, row.line, unit, basis))
