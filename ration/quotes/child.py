"""Reads one .xls or .ods file on its own, in a process that may die without harm.

Run by `grid` as a plain script, so nothing of this package is imported: `child.py FILE ROWS
COLUMNS SECONDS BYTES`. The library that reads these files can end the whole process, or ask for
all the memory there is, on a file made to harm; here that is only a child's death. Its answer is
JSON on standard output: {"sheets": [...]} or {"fault": "..."}.
"""

from __future__ import annotations

import contextlib
import json
import math
import sys
from datetime import date, datetime
from typing import Any

MOST_FAR = 20
LONGEST_CELL = 2_000
MOST_LETTERS = 4_000_000


class _TooMuch(Exception):
    """The file holds more than is read; the words are for the reader."""


def hold_back(seconds: int, most_bytes: int) -> None:
    """Limit this process's time [s] and memory [byte] where the system can do it."""
    try:
        import resource
    except ImportError:  # Windows has no such limits; the parent's clock still holds
        return
    for what, limit in (
        (resource.RLIMIT_AS, most_bytes),
        (resource.RLIMIT_CPU, seconds),
        (resource.RLIMIT_CORE, 0),
    ):
        with contextlib.suppress(ValueError, OSError):  # a lower limit is already set
            resource.setrlimit(what, (limit, limit))


def cell(value: object) -> list[Any]:
    """A value as [kind, what it is]; kinds are blank, text, number and date."""
    if value is None or value == "":
        return ["blank", ""]
    if isinstance(value, bool):
        return ["text", "TRUE" if value else "FALSE"]
    if isinstance(value, int | float) and math.isfinite(value):
        return ["number", float(value)]
    if isinstance(value, datetime):
        return ["date", value.date().isoformat()]
    if isinstance(value, date):
        return ["date", value.isoformat()]
    return ["text", str(value)[:LONGEST_CELL]]


def page(sheet: Any, most_rows: int, most_columns: int, room: list[int]) -> dict[str, Any]:
    """The filled rows of one sheet, and how far beyond the limits anything stands."""
    rows: list[list[Any]] = []
    far: list[list[Any]] = []
    start = sheet.start
    top, left = start if start else (0, 0)
    for number, values in enumerate(sheet.to_python(skip_empty_area=True), top + 1):
        cells = [["blank", ""]] * left + [cell(v) for v in values]
        while cells and cells[-1][0] == "blank":
            cells.pop()
        if not cells:
            continue
        if number > most_rows or len(cells) > most_columns:
            beyond = cells if number > most_rows else cells[most_columns:]
            filled = [c for c in beyond if c[0] != "blank"]
            far.append([number, len(filled), str(filled[0][1])[:60]])
            if len(far) > MOST_FAR:
                break
            if number > most_rows:
                continue
        room[0] -= sum(len(str(c[1])) for c in cells[:most_columns])
        if room[0] < 0:
            raise _TooMuch("the file holds far more text than a price list")
        rows.append([number, cells[:most_columns]])
    return {
        "name": sheet.name,
        "rows": rows,
        "far": far,
        "merged": [list(a) + list(b) for a, b in (_merged(sheet) or [])],
    }


def _merged(sheet: Any) -> Any:
    try:
        return sheet.merged_cell_ranges
    except Exception:
        return []


def answer(path: str, most_rows: int, most_columns: int) -> dict[str, Any]:
    """The sheets of a file as plain data, or why there are none."""
    import python_calamine

    room = [MOST_LETTERS]
    try:
        book = python_calamine.CalamineWorkbook.from_path(path)
        seen = python_calamine.SheetVisibleEnum.Visible
        hidden = {m.name for m in book.sheets_metadata if m.visible != seen}
        sheets = []
        for name in book.sheet_names:
            found = page(book.get_sheet_by_name(name), most_rows, most_columns, room)
            sheets.append(found | {"hidden": name in hidden})
        return {"sheets": sheets}
    except _TooMuch as e:
        return {"fault": str(e)}
    except python_calamine.PasswordError:
        return {"fault": "the file is locked with a password"}
    except Exception:
        return {"fault": "the file is damaged, far too large, or not what its name says"}


def main(words: list[str]) -> None:
    """Read the file named and write the answer."""
    path, rows, columns, seconds, most_bytes = words
    hold_back(int(seconds), int(most_bytes))
    json.dump(answer(path, int(rows), int(columns)), sys.stdout)


if __name__ == "__main__":
    main(sys.argv[1:])
