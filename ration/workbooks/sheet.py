"""A workbook on the way: tables with headings, widths and print setup, and a page to read first.

Numbers are written with all the digits they have, as numbers, their unit in the heading. A text
stays a text, whatever sign it starts with. The same content gives the same bytes.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

LONGEST_TEXT = 32_000  # a cell holds 32,767 letters
LONGEST_NAME = 31
LONGEST_FOOT = 150
WIDEST, NARROWEST = 60.0, 9.0
NOTHING = "none"
FORMATS: Mapping[str, str] = {
    "text": "General",
    "money": "#,##0.00",
    "small money": "0.0000",
    "tonnes": "#,##0.00",
    "kilos": "0.000",
    "share": "0.000",
    "number": "0.00",
    "figure": "General",
    "whole": "#,##0",
    "day": "d mmm yyyy",
}
_FORMULA_SIGNS = ("=", "+", "-", "@")

Value = Any  # None, str, bool, int, float, date or Live


class Digits(float):
    """A float that is written with every digit it has, where the writer would keep sixteen."""

    def __format__(self, spec: str) -> str:
        return repr(float(self))


@dataclass(frozen=True)
class Column:
    """A heading, with its unit, and what stands below it.

    Attributes
    ----------
    heading : str
    kind : str
        A name of `FORMATS`.
    """

    heading: str
    kind: str = "text"


@dataclass(frozen=True)
class Live:
    """A formula with the value that stands in the cell until it is worked again."""

    formula: str
    value: float


def live(formula: str, worked: float, stored: float) -> Live | float:
    """A formula where it gives the stored value, else the stored value alone.

    Parameters
    ----------
    formula : str
    worked : float
        What the formula comes to on the cells it reads.
    stored : float
        The answer, as it is told everywhere else.
    """
    is_same = math.isclose(worked, stored, rel_tol=1e-9, abs_tol=1e-9)
    return Live(formula, stored) if is_same else stored


def cell_of(row: int, column: int) -> str:
    """The name of a cell, both counted from 0: "B3" for 2, 1."""
    letters, column = "", column + 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return f"{letters}{row + 1}"


def sum_of(column: int, first: int, last: int) -> str:
    """The formula of the sum of rows `first` to `last` of a column, counted from 0."""
    return f"SUM({cell_of(first, column)}:{cell_of(last, column)})"


def shown(text: str) -> str:
    """A text as a cell can hold it: one kind of space, unseen signs as "?", cut when very long."""
    out = "".join(
        c
        if c.isprintable() or c in "\n\u200d"  # the joiner holds a drawn sign together
        else " "
        if c.isspace()
        else "?"
        for c in text.replace("\r\n", "\n").replace("\u00ad", "")
    )
    return out if len(out) <= LONGEST_TEXT else out[: LONGEST_TEXT - 3] + "..."


def sheet_name(wanted: str, taken: Sequence[str] = ()) -> str:
    """A name that a sheet may have and none of those taken: at most 31 letters, no []:*?/\\.

    Examples
    --------
    >>> sheet_name("Rations: small/middle"), sheet_name("Rations", ["rations"])
    ('Rations- small-middle', 'Rations (2)')
    """
    name = re.sub(r"[\[\]:*?/\\\n]", "-", shown(wanted)).strip().strip("'").strip()
    if not name or name.casefold() == "history":  # the second is kept by the spreadsheet
        name = f"Sheet {name}".strip()
    used = {t.casefold() for t in taken}
    found, number = _fitting(name, ""), 1
    while found.casefold() in used:
        number += 1
        found = _fitting(name, f" ({number})")
    return found


def _fitting(name: str, tail: str) -> str:
    """A name and its tail in so many units of UTF-16, as a spreadsheet counts them."""
    while len((name + tail).encode("utf-16-le", "replace")) > 2 * LONGEST_NAME:
        name = name[:-1]
    return name.rstrip(" '") + tail


class Book:
    """Sheets are added in order; `data` closes it.

    Parameters
    ----------
    title : str
        Neutral: it stands in the file's properties.
    on : date or None
        Stands for the day of making, so that the same content gives the same bytes.
    foot : str
        For the foot of every page.
    """

    def __init__(self, title: str, on: date | None, foot: str) -> None:
        import xlsxwriter  # type: ignore[import-untyped]

        self._file = io.BytesIO()
        self._book = xlsxwriter.Workbook(
            self._file,
            {
                "in_memory": True,
                "strings_to_formulas": False,
                "strings_to_urls": False,
                "strings_to_numbers": False,
            },
        )
        day = on if on is not None and on.year >= 1980 else date(2000, 1, 1)
        created = datetime(day.year, day.month, day.day)  # noqa: DTZ001  a day, not a moment
        self._book.set_properties({"title": shown(title)[:200], "created": created})
        self._foot = shown(foot)[:LONGEST_FOOT].replace("&", "&&").replace("\n", " ")
        self._formats: dict[tuple[str, bool, bool], Any] = {}
        self._head = self._book.add_format(
            {"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bg_color": "#E8E8E8"}
        )
        self.names: list[str] = []

    def _format(self, kind: str, is_bold: bool = False, is_quoted: bool = False) -> Any:
        """The look of a cell; a quoted one stays a text when it is edited."""
        key = (kind, is_bold, is_quoted)
        if key not in self._formats:
            look: dict[str, Any] = {"num_format": FORMATS[kind], "valign": "top"}
            if kind == "text":
                look |= {"text_wrap": True}
            if is_bold:
                look |= {"bold": True, "top": 1}
            if is_quoted:
                look |= {"quote_prefix": True}
            self._formats[key] = self._book.add_format(look)
        return self._formats[key]

    def table(
        self,
        name: str,
        columns: Sequence[Column],
        rows: Sequence[Sequence[Value]],
        totals: Mapping[int, float] | None = None,
        *,
        nothing: str = NOTHING,
    ) -> str:
        """A sheet with one row of headings and the rows below it; the name it got.

        Parameters
        ----------
        name : str
        columns : sequence of Column
        rows : sequence of sequence
            One value a column; None leaves the cell blank, which means not known or not said.
        totals : mapping of int to float or None
            Column to its sum as told elsewhere: a last row "together", its formulas live.
        nothing : str
            Stands in the first cell when there are no rows.
        """
        got = sheet_name(name, self.names)
        self.names.append(got)
        sheet = self._book.add_worksheet(got)
        for j, column in enumerate(columns):
            sheet.write_string(0, j, shown(column.heading), self._head)
        for i, row in enumerate(rows, 1):
            for j, (column, value) in enumerate(zip(columns, row, strict=True)):
                self._write(sheet, i, j, value, column.kind)
        if not rows and nothing:
            sheet.write_string(1, 0, nothing, self._format("text"))
        if totals and rows:
            self._totals(sheet, columns, rows, totals)
        self._lay_out(sheet, got, columns, rows)
        return got

    def _totals(
        self,
        sheet: Any,
        columns: Sequence[Column],
        rows: Sequence[Sequence[Value]],
        totals: Mapping[int, float],
    ) -> None:
        at = len(rows) + 1
        if 0 not in totals:
            sheet.write_string(at, 0, "together", self._format("text", True))
        for j, stored in totals.items():
            worked = math.fsum(number_of(row[j]) for row in rows)
            total = live(f"={sum_of(j, 1, len(rows))}", worked, stored)
            self._write(sheet, at, j, total, columns[j].kind, is_bold=True)

    def _write(
        self, sheet: Any, row: int, column: int, value: Value, kind: str, is_bold: bool = False
    ) -> None:
        """One cell; what is not known stays blank."""
        if value is None or value == "":
            return
        if isinstance(value, Live):
            look = self._format(kind, is_bold)
            sheet.write_formula(row, column, value.formula, look, float(value.value))
        elif isinstance(value, bool):
            sheet.write_string(row, column, "yes" if value else "no", self._format("text", is_bold))
        elif isinstance(value, date):
            moment = datetime(value.year, value.month, value.day)  # noqa: DTZ001  a day
            sheet.write_datetime(row, column, moment, self._format("day", is_bold))
        elif isinstance(value, str):
            text = shown(value)
            look = self._format("text", is_bold, text.startswith(_FORMULA_SIGNS))
            sheet.write_string(row, column, text, look)
        elif math.isfinite(value):
            number = value if isinstance(value, int) else Digits(value)
            sheet.write_number(row, column, number, self._format(kind, is_bold))

    def _lay_out(
        self,
        sheet: Any,
        name: str,
        columns: Sequence[Column],
        rows: Sequence[Sequence[Value]],
    ) -> None:
        """Widths, headings that stay in sight, and A4 on its side, one page wide."""
        for j, column in enumerate(columns):
            sheet.set_column(j, j, _width(column, [row[j] for row in rows]))
        sheet.freeze_panes(1, 0)
        if rows and len(columns) > 1:
            sheet.autofilter(0, 0, len(rows), len(columns) - 1)
        sheet.set_landscape()
        sheet.set_paper(9)  # A4
        sheet.fit_to_pages(1, 0)
        sheet.repeat_rows(0)
        page = name.replace("&", "&&")
        sheet.set_footer(f"&L{self._foot}&C{page}&RPage &P of &N")

    def data(self) -> bytes:
        """The finished workbook."""
        self._book.close()
        return self._file.getvalue()


def number_of(value: Value) -> float:
    """The number a cell holds; 0 for one that is blank or text."""
    if isinstance(value, Live):
        return value.value
    if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
        return float(value)
    return 0.0


def _width(column: Column, values: Sequence[Value]) -> float:
    """Wide enough for most of what stands in it; longer text wraps."""
    longest_word = max((len(w) for w in column.heading.split()), default=0)
    need = max(NARROWEST, longest_word + 2.0, len(column.heading) / 2 + 1)
    for value in values:
        if isinstance(value, str):
            need = max(need, len(value) + 2.0)
        elif isinstance(value, date):
            need = max(need, 13.0)
        elif value is not None and not isinstance(value, bool):
            need = max(need, len(f"{number_of(value):,.2f}") + 2.0)
    return min(need, WIDEST)
