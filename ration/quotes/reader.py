"""A file read: its sheets walked, rows put together as quotes, questions and faults gathered."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from ration.errors import FileError, InputError, Problem
from ration.quotes import grid
from ration.quotes.found import Found, Line, looks_like_a_price_list
from ration.quotes.grid import Page
from ration.quotes.headings import WORDS
from ration.quotes.one_quote import Asked, Group, One
from ration.quotes.records import Quote, QuoteSheet
from ration.quotes.walk import walk

_NOT_A_MERCHANT = re.compile(
    r"(?:sheet|table|page|tab|book|list)? ?\d*|prices?|price ?list|quotes?|quotations?|feeds?|data"
    r"|(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.? ?\d*|export|terms.*",
    re.IGNORECASE,
)
_ASKED = {
    "vat": ("VAT is not said", "the prices are taken as ex VAT"),
    "delivery": ("delivered or collected is not said", "they are taken as delivered"),
    "least": ("the least load is not said", "none is taken"),
    "pack": ("the pack is not said", "the feed is taken as bulk"),
}


def read(path: str | Path, *, sheet: str | None = None) -> QuoteSheet:
    """Every quote of a merchant's file: .csv, .tsv, .txt, .xlsx, .xlsm, .xls or .ods.

    Parameters
    ----------
    path : str or Path
    sheet : str, optional
        The only sheet of a workbook to read; all that are not hidden without it.

    Raises
    ------
    InputError
        With every fault of the file, one line each: file, sheet, row, heading, what was read,
        what is allowed, what to do.
    """
    path = Path(path)
    pages = grid.pages_of(path, looks_like_a_price_list)
    return _sheet(pages, grid.plain(path.name), sheet)


def read_text(text: str, name: str = "quotes") -> QuoteSheet:
    """Every quote of a CSV text; `name` stands in its messages.

    Raises
    ------
    InputError
        As `read`.
    """
    name = grid.plain(name)
    if len(text.encode("utf-8", "replace")) > grid.LARGEST_TEXT_BYTES:
        raise FileError(Problem(name, "the text is too large"))
    if not text.strip("\ufeff \n\r\t"):
        raise FileError(Problem(name, "the text is empty"))
    return _sheet([grid.text_page(text, name, looks_like_a_price_list)], name, None)


def _sheet(pages: list[Page], name: str, only: str | None) -> QuoteSheet:
    not_read: list[str] = []
    if only is not None:
        chosen = [p for p in pages if p.name.casefold() == only.strip().casefold()]
        if not chosen:
            names = ", ".join(f'"{p.name}"' for p in pages if p.name) or "it has no named sheets"
            raise FileError(Problem(name, f'there is no sheet "{grid.plain(only, 40)}"', names))
        not_read += [f"{p.where()}: not asked for" for p in pages if p not in chosen and p.rows]
        pages = chosen
    if not any(p.rows for p in pages):
        raise FileError(
            Problem(name, "there are no rows in it", "a row of headings and rows of prices",
                    "Open it and see; save it again, or as .csv", )
        )  # fmt: skip
    asked = Asked({}, [])
    quotes: list[Quote] = []
    columns: list[tuple[str, str]] = []
    faults: list[Problem] = []
    for page in pages:
        if page.is_hidden and only is None:
            not_read.append(f"{page.where()}: the sheet is hidden; name it to read it")
            continue
        not_read += page.far
        if not page.rows:
            continue
        found = walk(page)
        if not found.has_table:
            not_read.append(_no_list(page))
            continue
        page_faults = list(found.faults)
        quotes += _quotes(found, asked, page_faults)
        faults += [p for _, p in sorted(page_faults, key=lambda f: f[0])]
        not_read += [w for _, w in sorted(found.not_read, key=lambda f: f[0])]
        columns += [c for c in found.columns if c not in columns]
    if not faults:
        faults += _twice(quotes)
    if not quotes and not faults:
        faults.append(
            Problem(name, "no price list was found",
                    "in its first 30 rows a heading for the feed and one for the price",
                    'Write headings such as "merchant", "feed", "price (GBP/t)"')
            if not columns
            else Problem(name, "no row has a feed and a price", "", "Write the prices in")
        )  # fmt: skip
        faults += [Problem("", line) for line in not_read]
    if faults:
        raise InputError(*faults)
    questions = tuple([_question(name, k, r) for k, r in asked.rows.items()] + asked.lines)
    return QuoteSheet(name, tuple(quotes), questions, tuple(columns), tuple(not_read))


def _no_list(page: Page) -> str:
    first, last = page.rows[0].number, page.rows[-1].number
    rows = f"row {first}" if first == last else f"rows {first} to {last}"
    return f"{page.where()} {rows}: no price list, no row of headings with a feed and a price"


def _question(file: str, key: tuple[str, str], rows: list[int]) -> str:
    sheet, what = key
    place = file + (f' sheet "{sheet}"' if sheet else "")
    which = f"row {rows[0]}" if len(rows) == 1 else "rows " + ", ".join(map(str, rows))
    said, taken = _ASKED[what]
    return f"{place} {which}: {said}; until it is, {taken}."


# ---------------------------------------------------------------- rows to quotes


def _quotes(found: Found, asked: Asked, faults: list[tuple[int, Problem]]) -> list[Quote]:
    groups: list[Group] = []
    by_name: dict[tuple[str, str], list[Group]] = {}
    no_merchant: dict[int, None] = {}
    for line in found.lines:
        merchant, is_sheet = _merchant(line, found)
        if not merchant:
            no_merchant[line.row] = None
            merchant = "?"
        alike = by_name.setdefault((_fold(merchant), _fold(line.values["feed"])), [])
        group = _continued(alike, line)
        if group:
            group.lines.append(line)
        else:
            alike.append(Group([line], merchant, is_sheet))
            groups.append(alike[-1])
    faults += _no_merchant(found, list(no_merchant))
    if any(g.is_sheet_named for g in groups):
        found.columns.append((f'sheet "{found.page.name}"', "merchant, by the name of the sheet"))
    made = []
    for group in groups:
        one = One(group, found.page, asked, faults)
        made.append(one.quote())
    return [q for q in made if q is not None]


def _no_merchant(found: Found, rows: list[int]) -> list[tuple[int, Problem]]:
    page = found.page
    told = []
    firsts = {
        row: top
        for top, _, bottom, _ in page.merged
        for row in range(top + 1, min(bottom, grid.MOST_ROWS) + 1)
    }
    for row in rows:
        why = "no merchant is said"
        if row in firsts:
            why += f": a cell of row {firsts[row]} is merged over it, and only the first row counts"
        told.append(
            (row, Problem(page.where(row), why, "",
                          'Write it in each row, or "Merchant: name" in a line above'))
        )  # fmt: skip
    return told


def _merchant(line: Line, found: Found) -> tuple[str, bool]:
    said = line.values.get("merchant") or line.above.get("merchant")
    if said:
        return str(said), False
    has_column = any(words == WORDS["merchant"] for _, words in found.columns)
    name = found.page.name.strip()
    if has_column or not name or _NOT_A_MERCHANT.fullmatch(name):
        return "", False
    return name, True


def _pack_said(line: Line) -> tuple[str, float | None] | None:
    return (line.price.pack, line.price.pack_kg) if line.price.pack else None


def _continued(groups: list[Group], line: Line) -> Group | None:
    """The quote that a line is a further tier of, among those of its merchant and feed."""
    if not line.from_t:
        return None
    pack, collected = _pack_said(line), line.price.is_collected
    for group in reversed(groups):
        first = group.first
        is_pack = pack in (None, _pack_said(first))
        if is_pack and collected in (None, first.price.is_collected):
            return group
    return None


def _fold(text: Any) -> str:
    return " ".join(str(text).casefold().split())


def _twice(quotes: list[Quote]) -> list[Problem]:
    """Two quotes of one feed in one pack from one merchant, for the same days."""
    seen: dict[tuple[object, ...], Quote] = {}
    told = []
    for q in quotes:
        key = (
            _fold(q.merchant), _fold(q.feed), q.pack, q.pack_kg, q.is_collected, q.lorry_t,
            q.valid_from, q.valid_until, q.delivered_until, q.made_for,
        )  # fmt: skip
        if key in seen:
            told.append(
                Problem(q.place, f'"{grid.plain(q.feed, 40)}" from {grid.plain(q.merchant, 40)} is '
                        f"priced a second time, first at {seen[key].place}", "",
                        'Keep one, or say from how many tonnes each holds ("from (t)")')
            )  # fmt: skip
        seen[key] = q
    return told
