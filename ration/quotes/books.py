"""Sheets of workbooks: .xlsx here, .xls and .ods in a child process, both behind guards."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
import warnings
import zipfile
from datetime import date, datetime
from pathlib import Path
from typing import Any

from ration.errors import FileError, Problem
from ration.quotes import child
from ration.quotes.grid import (
    BLANK,
    LONGEST_CELL,
    MOST_COLUMNS,
    MOST_ROWS,
    Cell,
    Page,
    Row,
    clean,
    far_words,
    refuse_far,
    text_cell,
)

CHILD_SECONDS = 20
CHILD_BYTES = 1 << 30
MOST_UNPACKED_BYTES = 40_000_000
SMALL_UNPACKED_BYTES = 2_000_000
MOST_RATIO = 200
MOST_PARTS = 2_000
MOST_SHEETS = 40
MOST_MERGED = 500
_MERGED = re.compile(
    rb"<(?:\w+:)?mergeCell\s[^>]{0,200}?ref=\"([A-Z]{1,3})([0-9]{1,7}):([A-Z]{1,3})([0-9]{1,7})\""
)


def kind_of_zip(data: bytes, name: str) -> str:
    """What an archive holds, xlsx or ods; a bomb, a lock or damage is refused in one line."""
    damaged = FileError(
        Problem(name, "the workbook is damaged or cut short", "", "Ask for it again, or as .csv")
    )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            names = {p.filename for p in parts}
            packed = max(1, sum(p.compress_size for p in parts))
            unpacked = sum(p.file_size for p in parts)
            is_locked = any(p.flag_bits & 1 for p in parts)
    except Exception:  # whatever a made-up archive brings about
        raise damaged from None
    is_large = unpacked > MOST_UNPACKED_BYTES or len(parts) > MOST_PARTS
    is_dense = unpacked > SMALL_UNPACKED_BYTES and unpacked / packed > MOST_RATIO
    if is_large or is_dense:
        raise FileError(
            Problem(name, f"the workbook would unpack to {unpacked / 1e6:,.0f} MB from "
                    f"{packed / 1e6:.1f} MB", f"at most {MOST_UNPACKED_BYTES // 1_000_000} MB, "
                    f"and {MOST_RATIO} to one, is read", "Copy the prices into a new file")
        )  # fmt: skip
    if is_locked:
        raise FileError(
            Problem(name, "the file is locked with a password", "", "Save it without one")
        )
    if any(n.startswith("xl/") for n in names):
        if "xl/workbook.bin" in names:
            raise FileError(
                Problem(name, "a binary workbook is not read", "", "Save it as .xlsx or .csv")
            )
        return "xlsx"
    if "content.xml" in names:
        return "ods"
    raise FileError(
        Problem(name, "this is an archive, not a workbook", "", "Unpack it and name the file in it")
    )


# ---------------------------------------------------------------- workbooks


def pages(data: bytes, name: str) -> list[Page]:
    """Sheets of a workbook, values as they were last calculated."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # formats and extensions that do not touch values
            values = _opened(data, data_only=True)
            try:
                return _pages(values, data, name)
            finally:
                values.close()
    except FileError:
        raise
    except Exception:  # the library raises anything at all on a broken file
        raise FileError(
            Problem(name, "the workbook is damaged", "",
                    "Open it in a spreadsheet and save it again, or as .csv")
        ) from None  # fmt: skip


def _opened(data: bytes, *, data_only: bool = False) -> Any:
    import openpyxl  # type: ignore[import-untyped]

    return openpyxl.load_workbook(
        io.BytesIO(data), read_only=True, data_only=data_only, keep_links=False
    )


def _pages(values: Any, data: bytes, name: str) -> list[Page]:
    sheets = values.worksheets
    if len(sheets) > MOST_SHEETS:
        raise FileError(Problem(name, f"{len(sheets)} sheets", f"at most {MOST_SHEETS} are read"))
    raws = {}
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for sheet in sheets:
            part = str(getattr(sheet, "_worksheet_path", ""))
            raws[sheet.title] = archive.read(part) if part in archive.namelist() else b""
    formulas = None
    if any(re.search(rb"<(?:\w+:)?f[ />]", raw) for raw in raws.values()):
        formulas = _opened(data)
    found = []
    try:
        for sheet in sheets:
            twin = formulas[sheet.title] if formulas else None
            found.append(_page(sheet, twin, raws[sheet.title], name))
    finally:
        if formulas:
            formulas.close()
    return found


def _page(sheet: Any, twin: Any, raw: bytes, name: str) -> Page:
    bare = Page(name, sheet.title, ())
    never = _never_calculated(sheet, twin) if twin is not None else set()
    rows: list[Row] = []
    far: list[str] = []
    sheet.reset_dimensions()  # the size written in the file may be false
    for number, raw_cells in enumerate(sheet.iter_rows(), 1):
        if not raw_cells:
            continue
        cells = tuple(
            Cell("formula", "formula") if (number, i) in never else _cell(c)
            for i, c in enumerate(raw_cells, 1)
        )
        beyond = cells if number > MOST_ROWS else cells[MOST_COLUMNS:]
        if filled := [c.text for c in beyond if c.kind != "blank"]:
            far.append(far_words(bare.where(number), number, len(filled), filled[0]))
            refuse_far(far, bare.where())
        kept = cells[:MOST_COLUMNS] if number <= MOST_ROWS else ()
        if any(c.kind != "blank" for c in kept):
            rows.append(Row(number, kept))
    merged = tuple(
        (int(r1), _column(c1), int(r2), _column(c2)) for c1, r1, c2, r2 in _MERGED.findall(raw)
    )[:MOST_MERGED]
    hidden = sheet.sheet_state != "visible"
    return Page(name, sheet.title, tuple(rows), tuple(far), merged, is_hidden=hidden)


def _never_calculated(sheet: Any, twin: Any) -> set[tuple[int, int]]:
    """Places of formulas that have no value stored beside them, within the limits."""
    twin.reset_dimensions()
    sheet.reset_dimensions()
    limits = {"max_row": MOST_ROWS, "max_col": MOST_COLUMNS}
    found = set()
    both = zip(sheet.iter_rows(**limits), twin.iter_rows(**limits), strict=False)
    for number, (seen, written) in enumerate(both, 1):
        for column, (value, formula) in enumerate(zip(seen, written, strict=False), 1):
            is_formula = getattr(formula, "data_type", "") == "f"
            if is_formula and value.value in (None, ""):
                found.add((number, column))
    return found


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _cell(raw: Any) -> Cell:
    value = raw.value
    if value is None:
        return BLANK
    if isinstance(value, bool):
        return Cell("TRUE" if value else "FALSE", "text")
    if isinstance(value, datetime | date):
        day = value.date() if isinstance(value, datetime) else value
        return Cell(day.isoformat(), "date", day=day)
    if not isinstance(value, int | float):
        return text_cell(str(value)[: 2 * LONGEST_CELL])
    return number_cell(float(value), str(raw.number_format or ""))


def number_cell(value: float, number_format: str = "") -> Cell:
    """A number with the words its format shows round it: a percentage, a currency, "per bag".

    Examples
    --------
    >>> number_cell(0.18, "0%").text, number_cell(248.0, '"€"#,##0').text
    ('18 %', '€ 248')
    """
    shape = number_format.split(";")[0]
    if re.search(r"(?<!\\)%", re.sub(r'"[^"]*"', "", shape)):
        per_cent = float(f"{value * 100:.12g}")
        return Cell(f"{per_cent:.12g} %", "percent", per_cent)
    shape = re.sub(r"\[\$([^\]-]*)(?:-[^\]]*)?\]", r'"\1"', shape)  # [$£-809]
    shape = re.sub(r"\[[^\]]*\]|[_*].|\\(.)", r"\1", shape)  # colours, padding, escapes
    body = re.search(r"[0#?]", shape)
    before, after = (shape[: body.start()], shape[body.start() :]) if body else ("", shape)

    def words(part: str) -> str:
        inside = re.findall(r'"([^"]*)"', part)
        signs = re.findall(r"[£€$¥]", re.sub(r'"[^"]*"', "", part))
        return clean(" ".join([*inside, *signs]))

    front, back = (words(before), words(after)) if shape.lower() != "general" else ("", "")
    text = " ".join(p for p in (front, f"{value:.12g}", back) if p)
    if front or back:
        return Cell(text, "text")
    return Cell(text, "number", value)


# ---------------------------------------------------------------- old workbooks, OpenDocument


def pages_by_child(path: Path, name: str) -> list[Page]:
    """Sheets of an .xls or .ods file, read in a child process that may die."""
    limits = (MOST_ROWS, MOST_COLUMNS, CHILD_SECONDS, CHILD_BYTES)
    do = "Save it as .xlsx or .csv"
    command = [sys.executable, "-P", child.__file__, str(path.resolve()), *map(str, limits)]
    try:
        done = subprocess.run(
            command, stdin=subprocess.DEVNULL, capture_output=True, timeout=CHILD_SECONDS
        )
    except subprocess.TimeoutExpired:
        why = f"the file took more than {CHILD_SECONDS} s to open"
        raise FileError(Problem(name, why, "", do)) from None
    except (OSError, ValueError):
        raise FileError(Problem(name, "this kind of file cannot be read here", "", do)) from None
    try:
        answer = json.loads(done.stdout) if done.returncode == 0 else {}
    except ValueError:
        answer = {}
    if "sheets" not in answer:
        died = "the file is damaged, or far too large to open"
        raise FileError(Problem(name, str(answer.get("fault", died)), "", do))
    if (count := len(answer["sheets"])) > MOST_SHEETS:
        raise FileError(Problem(name, f"{count} sheets", f"at most {MOST_SHEETS} are read"))
    return [_page_of(sheet, name) for sheet in answer["sheets"]]


def _page_of(sheet: dict[str, Any], name: str) -> Page:
    title = clean(str(sheet["name"]))
    bare = Page(name, title, ())
    far: list[str] = []
    for number, filled, first in sheet["far"]:
        far.append(far_words(bare.where(number), number, filled, first))
        refuse_far(far, bare.where())
    rows = tuple(Row(n, tuple(_told(*c) for c in cells)) for n, cells in sheet["rows"])
    merged = tuple((a + 1, b + 1, c + 1, d + 1) for a, b, c, d in sheet["merged"][:MOST_MERGED])
    return Page(
        name,
        title,
        tuple(r for r in rows if any(c.kind != "blank" for c in r.cells)),
        tuple(far),
        merged,
        is_percent_lost=True,
        is_hidden=bool(sheet["hidden"]),
    )


def _told(kind: str, value: Any) -> Cell:
    if kind == "number":
        return Cell(f"{float(value):.12g}", "number", float(value))
    if kind == "date":
        return Cell(str(value), "date", day=date.fromisoformat(value))
    return text_cell(str(value))
