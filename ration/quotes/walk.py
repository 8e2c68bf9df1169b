"""One sheet walked from top to bottom: headings found, every filled row accounted for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from ration.errors import InputError, Problem
from ration.plain_text import shown
from ration.quotes import prices
from ration.quotes.cells import LONGEST_VALUE, Figured, NoUnit, is_blank, read_cell
from ration.quotes.found import (
    LOOK_FOR_HEADING,
    Found,
    Line,
    Table,
    Waiting,
    is_heading,
    looks_like_a_price_list,
    way_of,
)
from ration.quotes.grid import Cell, Page, Row
from ration.quotes.headings import WORDS, Heading, read_heading
from ration.quotes.phrases import Phrase, phrase, readable
from ration.quotes.records import BAG, TONNE_BAG

_TOTAL = re.compile(r"(?:sub ?-?|grand )?totals?\b|sum\b|average\b|mean\b", re.IGNORECASE)
_UNIT_CELL = re.compile(
    r"\(?(?:(?:£|gbp|p)? ?(?:/|per) ?(?:t|tonne|kg|\d* ?(?:kg )?(?:bag|bale))(?: ?/ ?month)?"
    r"|£|gbp|%|(?:g|mg)/kg|mj/kg|t|tonnes|kg|days?)(?: ?(?:dm|in dm|as fed|fresh))?\)?",
    re.IGNORECASE,
)
_NOT_ABOVE = ("feed", "like", "from", "note", "bag", "bale")
_SENTENCE = re.compile(
    r"(?:please note:? )?(?:all |our |these |the )*(?:prices?|quotes?|quotations?|offers?)\b"
    r"(?: (?:quoted|shown|given|below|above|are|is|all|in)\b)*",
    re.IGNORECASE,
)
_VALID = re.compile(r" ?(valid (?:until|till|to|for)) (.+)", re.IGNORECASE)
_FILLER = frozenset((
    "and", "all", "per", "the", "are", "is", "quoted", "in", "price", "prices", "on", "to",
    "your",
))  # fmt: skip


def walk(page: Page) -> Found:
    """Every row of a sheet, read or accounted for."""
    return _Walk(page).run()


class _Walk:
    def __init__(self, page: Page) -> None:
        self.page = page
        self.way = way_of(page)
        self.found = Found(page)
        self.table: Table | None = None
        self.above: dict[str, Waiting] = {}
        self.grouped: dict[tuple[int, str, str, str, str], list[int]] = {}
        self.gone: list[tuple[int, str]] = []  # lines said, for the end

    def run(self) -> Found:
        rows = list(self.page.rows)
        self.unit_of_all(rows)
        self.found.has_table = looks_like_a_price_list(self.page)
        if not self.found.has_table:
            return self.found
        i = 0
        while i < len(rows):
            row = rows[i]
            i += 1
            if is_heading(row) and (self.table or row.number <= LOOK_FOR_HEADING):
                below = rows[i] if i < len(rows) and rows[i].number == row.number + 1 else None
                i += self.start(row, below)
            elif self.table is None:
                self.loose(row, is_before=True)
            else:
                self.data(row, self.table)
        self.afterwards()
        for (at, heading, read, allowed, do), numbers in self.grouped.items():
            which = f"row {numbers[0]}" if len(numbers) == 1 else "rows " + ", ".join(
                map(str, numbers[:12])
            ) + (f" and {len(numbers) - 12} more" if len(numbers) > 12 else "")  # fmt: skip
            problem = Problem(self.page.where(at, heading), f"{read} ({which})", allowed, do)
            self.found.faults.append((at, problem))
        return self.found

    def unit_of_all(self, rows: Sequence[Row]) -> None:
        """A line such as "All prices per tonne", wherever it stands, is the unit of them all."""
        for row in rows:
            filled = [c.text for c in row.cells if c.kind != "blank"]
            is_short = len(filled) == 1 and len(filled[0]) <= LONGEST_VALUE
            if is_short and (start := _SENTENCE.match(filled[0])):
                try:
                    found = phrase(filled[0][start.end() :].rstrip("."))
                except InputError:
                    continue
                words = set(re.findall(r"[a-z0-9]+", found.rest)) - _FILLER
                if found.has_unit and not words and not found.pack:
                    self.above.setdefault("per", Waiting(row.number, found))

    # ------------------------------------------------------------ faults and things not read

    def fault(self, row: int, heading: str, error: InputError) -> None:
        read, allowed, do = readable(error)
        problem = Problem(self.page.where(row, heading), read, allowed, do)
        self.found.faults.append((row, problem))

    def group(self, row: int, heading: str, read: str, allowed: str, do: str) -> None:
        """A fault of a whole column, told once with the rows it touches."""
        at = self.table.row if self.table else row
        numbers = self.grouped.setdefault((at, heading, read, allowed, do), [])
        if row not in numbers:
            numbers.append(row)

    def leave(self, row: int, why: str, heading: str = "") -> None:
        self.found.not_read.append((row, f"{self.page.where(row, heading)}: {why}"))

    # ------------------------------------------------------------ headings

    def start(self, row: Row, below: Row | None) -> int:
        """A new table; returns how many rows below the headings belong to them."""
        written = {i: c.text for i, c in enumerate(row.cells) if c.kind != "blank"}
        has_units = below is not None and all(
            _UNIT_CELL.fullmatch(c.text) for c in below.cells if c.kind != "blank"
        )
        if has_units and below is not None:
            for i, c in enumerate(below.cells):
                if c.kind != "blank":
                    written[i] = f"{written.get(i, '')} {c.text}".strip()
        headings = {i: read_heading(w) for i, w in written.items()}
        self.table = Table(row.number, headings)
        seen: dict[tuple[object, ...], str] = {}
        for h in headings.values():
            if not h.meaning:
                why = f"; {h.why_not}" if h.why_not else ""
                kept = (
                    "its cells are kept as notes" if not h.why_not else "its cells are only noted"
                )
                self.leave(row.number, f"the heading is not known{why}; {kept}", h.written)
            elif h.key in seen:
                do = "Keep one of the two; put two tables under one another, not side by side"
                self.found.faults.append(
                    (row.number, Problem(self.page.where(row.number, h.written),
                                         f'means the same as "{seen[h.key]}" ({h.words})',
                                         "each heading once", do))
                )  # fmt: skip
            else:
                seen[h.key] = h.written
            pair = (h.written, h.words)
            if pair not in self.found.columns:
                self.found.columns.append(pair)
        return 1 if has_units else 0

    # ------------------------------------------------------------ lines outside the rows

    def loose(self, row: Row, *, is_before: bool = False) -> None:
        """A line above, between or below the rows: a condition of many rows, or not read."""
        cells = [c for c in row.cells if c.kind != "blank"]
        left: list[str] = []
        i = 0
        while i < len(cells):
            cell = cells[i]
            after = cells[i + 1] if i + 1 < len(cells) else None
            hit = re.fullmatch(r"([^:]{1,60}):\s*(.+)", cell.text)
            i += 1
            if hit and self.say(row, hit.group(1), Cell(hit.group(2), "text"), cell.text):
                continue
            has_colon = cell.text.endswith(":")
            if after is not None and (has_colon or (is_before and len(cells) == 2)):
                key = cell.text.rstrip(": ")
                if self.say(row, key, after, f"{cell.text} {after.text}"):
                    i += 1
                    continue
            if not self.sentence(row, cell.text):
                left.append(cell.text)
        if left:
            self.leave(row.number, f"not understood: {shown(' | '.join(left))}")

    def say(self, row: Row, key: str, cell: Cell, written: str) -> bool:
        """Take "Merchant: Heron" for the rows below; False when the key is not known."""
        heading = read_heading(key)
        is_known = heading.meaning in WORDS and heading.meaning not in _NOT_ABOVE
        if not is_known or is_blank(cell):
            return False
        try:
            value = read_cell(heading, cell, self.way)
        except InputError as e:
            self.fault(row.number, key, e)
            return True
        except NoUnit as e:
            read = f"read {shown(cell.text)}: no unit is said"
            problem = Problem(self.page.where(row.number, key), read, f"allowed: {e.allowed}",
                              "Write the unit")  # fmt: skip
            self.found.faults.append((row.number, problem))
            return True
        self.keep(row, heading.meaning, value, written)
        return True

    def keep(self, row: Row, meaning: str, value: Any, written: str) -> None:
        self.above[meaning] = Waiting(row.number, value)
        self.gone.append((row.number, meaning))
        place = f"row {row.number}: {written}"
        self.found.columns.append((place[:80], f"{WORDS[meaning]}, of the rows it stands with"))

    def sentence(self, row: Row, text: str) -> bool:
        """Take "All prices ex VAT, delivered" for many rows; False when it says nothing known."""
        if len(text) > LONGEST_VALUE:
            return False
        start = _SENTENCE.match(text)
        rest = text[start.end() :] if start else text
        if start and (hit := _VALID.fullmatch(rest.rstrip("."))):
            return self.say(row, hit.group(1), Cell(hit.group(2), "text"), text)
        try:
            found = phrase(rest.rstrip("."))
        except InputError:
            return False
        words = set(re.findall(r"[a-z0-9]+", found.rest)) - _FILLER
        said = found.vat or found.is_collected is not None or found.has_unit
        if words or not said or found.pack or found.from_t is not None or found.is_foreign:
            return False
        if not start and not (found.vat and found.is_collected is None and not found.has_unit):
            return False
        if found.vat:
            self.keep(row, "vat", (found.vat, found.vat_share), text)
        if found.is_collected is not None:
            self.keep(row, "delivery", found.is_collected, text)
        if found.has_unit:
            self.keep(row, "per", found, text)
        return True

    def afterwards(self) -> None:
        """What is said below the last price holds for the rows that say nothing else."""
        last = max((line.row for line in self.found.lines), default=0)
        for number, meaning in self.gone:
            if number <= last or meaning == "per" or not self.found.lines:
                continue
            if self.above[meaning].row != number or meaning == "pack":
                self.leave(number, f"{WORDS[meaning]} is said in another place too; not used")
                continue
            value = self.above[meaning].value
            took = [ln for ln in self.found.lines if meaning not in ln.above]
            for line in took:
                line.above[meaning] = value
                if meaning in ("vat", "delivery"):
                    self.settle_late(line, meaning, value)
            if not took:
                self.leave(number, f"{WORDS[meaning]} is said above already; not used")

    def settle_late(self, line: Line, meaning: str, value: Any) -> None:
        """Lay VAT or delivery said below the rows over a price that says neither."""
        old = line.price
        if meaning == "delivery" and old.is_collected is None:
            line.price = prices.with_delivery(old, value)
        elif meaning == "vat" and old.is_ex_vat is None:
            try:
                line.price = prices.with_vat(old, value)
            except InputError as e:
                read, allowed, do = readable(e)
                read = re.sub(r'^read "[^"]*": ', "", read)
                self.group(line.row, line.heading, read, allowed, do)

    # ------------------------------------------------------------ rows of prices

    def data(self, row: Row, table: Table) -> None:
        first = next((c.text for c in row.cells if c.kind == "text"), "")
        if _TOTAL.match(first) and len(first) < 30:
            self.leave(row.number, f"a total, not an offer: {shown(row.words)}")
            return
        feed_at = table.columns("feed")[0]
        priced = [i for i in table.columns("price") if not is_blank(row.at(i))]
        has_feed = not is_blank(row.at(feed_at))
        if not has_feed and not priced:
            self.loose(row)
            return
        filled = [c for c in row.cells if c.kind != "blank"]
        if not priced:
            text = filled[0].text
            if len(filled) == 1 and (":" in text or self.is_sentence(text)):
                self.loose(row)
            else:
                raw = [row.at(i).text for i in table.columns("price") if row.at(i).text]
                why = f' ("{raw[0]}")' if raw else ""
                self.leave(row.number, f"no price{why}: {shown(row.words)}")
            return
        if not has_feed:
            covered = self.page.covered_by(row.number, feed_at + 1)
            merged = (
                f"the cell is merged with row {covered[0]}, and only the first holds a name"
                if covered
                else "a price without a feed"
            )
            problem = Problem(self.page.where(row.number, table.headings[feed_at].written),
                              f"read {shown(row.words)}: {merged}", "",
                              "Write the feed in each row, or delete the row")  # fmt: skip
            self.found.faults.append((row.number, problem))
            return
        self.offer(row, table, priced)

    def is_sentence(self, text: str) -> bool:
        start = _SENTENCE.match(text)
        return start is not None or re.search(r"\bvat\b", text, re.IGNORECASE) is not None

    def offer(self, row: Row, table: Table, priced: Sequence[int]) -> None:
        """A row with a feed and a price."""
        values, figures, notes = self.beside(row, table)
        if "feed" not in values:  # a fault is noted
            return
        before = len(self.found.lines)
        reasons: list[tuple[int, str]] = []
        for column in priced:
            heading = table.headings[column]
            if row.at(column).kind == "formula":
                self.never(row, heading)
                continue
            try:
                found = prices.pieces(row.at(column), self.way)
            except prices.NotAPrice as e:
                reasons.append((column, str(e)))
                continue
            except InputError as e:
                self.fault(row.number, heading.written, e)
                continue
            for piece in found:
                self.one(row, heading, piece, values, figures, notes)
        is_read = len(self.found.lines) > before
        for column, why in reasons:
            tail = "" if is_read else f"; the row is not read: {shown(row.words)}"
            self.leave(row.number, why + tail, table.headings[column].written)

    def never(self, row: Row, heading: Heading) -> None:
        problem = Problem(self.page.where(row.number, heading.written),
                          "the cell holds a formula that was never calculated",
                          "it reads as blank",
                          "Open the file in a spreadsheet, save it, and read it again")  # fmt: skip
        self.found.faults.append((row.number, problem))

    def beside(self, row: Row, table: Table) -> tuple[dict[str, Any], list[Figured], list[str]]:
        """Every cell of a row but its prices, read by its heading."""
        values: dict[str, Any] = {}
        figures: list[Figured] = []
        notes: list[str] = []
        width = max(table.headings) + 1
        for i, cell in enumerate(row.cells):
            heading = table.headings.get(i)
            if cell.kind == "blank" or (heading and heading.meaning == "price"):
                continue
            if heading is None:
                self.under_nothing(row, i, cell, width)
            elif not heading.meaning:
                notes.append(f"{heading.written}: {cell.text}")
            elif cell.kind == "formula":
                self.never(row, heading)
            elif not is_blank(cell) or heading.meaning in ("least", "charge"):
                self.one_cell(row, heading, cell, values, figures)
        return values, figures, notes

    def under_nothing(self, row: Row, column: int, cell: Cell, width: int) -> None:
        if column >= width and self.page.is_parted_by_comma:
            problem = Problem(self.page.where(row.number),
                              f"{shown(cell.text)} stands beyond the last heading",
                              "one cell a heading",
                              "Put a text with a comma in quotation marks; "
                              "write 3.1, not 3,1")  # fmt: skip
            self.found.faults.append((row.number, problem))
        else:
            self.leave(row.number, f"{shown(cell.text)} stands under no heading")

    def one_cell(
        self,
        row: Row,
        heading: Heading,
        cell: Cell,
        values: dict[str, Any],
        figures: list[Figured],
    ) -> None:
        if is_blank(cell) and cell.text.lower() != "none":
            return
        try:
            value = read_cell(heading, cell, self.way)
        except NoUnit as e:
            self.group(row.number, heading.written, "no unit is said in the heading or the cell",
                       f"allowed: {e.allowed}", "Put the unit in the heading")  # fmt: skip
            return
        except InputError as e:
            if heading.meaning == "payment":
                values["payment_words"] = cell.text
            else:
                self.fault(row.number, heading.written, e)
            return
        if isinstance(value, Figured):
            figures.append(value)
        else:
            values[heading.meaning] = value

    def one(
        self,
        row: Row,
        heading: Heading,
        piece: prices.Piece,
        values: dict[str, Any],
        figures: list[Figured],
        notes: list[str],
    ) -> None:
        """Settle one price of a row."""
        above = {k: w.value for k, w in self.above.items()}
        said = heading.price or Phrase("")
        both = {**above, **values}
        kind = next((p.pack for p in (piece.said, said, both.get("per")) if p and p.pack), "")
        packs = _packs(values, above, kind)
        delivery = [values["delivery"]] if "delivery" in values else []
        vat = [values["vat"]] if "vat" in values else []
        if not delivery and piece.said.is_collected is None and said.is_collected is None:
            delivery = [both["delivery"]] if "delivery" in both else []
        if not vat and not piece.said.vat and not said.vat:
            vat = [both["vat"]] if "vat" in both else []
        try:
            price = prices.settle(piece, said, both.get("per"), packs, delivery, vat)
            starts = [
                (f, t)
                for f, t in (
                    (piece.said.from_t, piece.said.to_t),
                    (said.from_t, said.to_t),
                    values.get("from", (None, None)),
                )
                if f is not None
            ]
            if len(starts) > 1:
                raise InputError(Problem("", f"read {shown(row.at(0).text)}: the tonnes from which "
                                         "the price holds are said twice"))  # fmt: skip
        except NoUnit as e:
            self.group(row.number, heading.written, "the price does not say what weight it is for",
                       f"allowed: {e.allowed}",
                       'Write the unit in the heading, like "price (GBP/t)"')  # fmt: skip
            return
        except InputError as e:
            read, allowed, do = readable(e)
            if read.startswith('read "inc VAT"') or said.is_foreign or said.is_ton:
                read = re.sub(r'^read "[^"]*": ', "", read)
                self.group(row.number, heading.written, read, allowed, do)
            else:
                self.fault(row.number, heading.written, e)
            return
        from_t, to_t = starts[0] if starts else (None, None)
        self.found.lines.append(
            Line(row.number, heading.written, price, from_t, to_t, values, above, figures, notes)
        )


def _packs(
    values: dict[str, Any], above: dict[str, Any], kind: str
) -> list[tuple[str, float | None]]:
    """Packs said beside the price; the weight of a bag speaks only of a bagged price."""
    own: list[tuple[str, float | None]] = []
    if "pack" in values:
        own.append(values["pack"])
    elif "pack" in above and not kind:
        own.append(above["pack"])
    kind = kind or (own[0][0] if own else "")
    weights = [values[m] for m in ("bag", "bale") if m in values]
    return own + [(kind or p, kg) for p, kg in weights if not kind or _is_alike(p, kind)]


def _is_alike(pack: str, kind: str) -> bool:
    return pack == kind or {pack, kind} == {BAG, TONNE_BAG}
