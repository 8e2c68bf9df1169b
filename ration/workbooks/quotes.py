"""Merchants' quotes compared, as a workbook: for a farm's sheep, or by landed cost alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ration.buying.landed import FEEDING_LEVEL
from ration.faces import quotes_report, winter_json, winter_words
from ration.units import in_words_day
from ration.workbooks import offers
from ration.workbooks.read_me import first_sheet, started
from ration.workbooks.sheet import Book, Column, Value

if TYPE_CHECKING:
    from ration.buying.tie import Tied
    from ration.jobs.quotes import Compared, LandedOnly
    from ration.quotes.records import QuoteSheet
    from ration.tables import Tables

FOOTING, RANKED = "On one footing", "Ranked for these sheep"
REFUSED, NOT_READ, HEADINGS = "Refused and questions", "Rows not understood", "Headings"
ANY_PRICE = "any price"
_COSTS = (
    Column("Landed (£/t fresh)", "money"), Column("Landed (£/t DM)", "money"),
    Column("Landed (p/MJ)", "number"), Column("Landed (£/kg CP)", "small money"),
    Column("Landed (£/kg MP)", "small money"),
)  # fmt: skip
_COST_KEYS = (
    "landed_gbp_per_t_fresh", "landed_gbp_per_t_dm", "landed_p_per_mj", "landed_gbp_per_kg_cp",
    "landed_gbp_per_kg_mp",
)  # fmt: skip
_NOTES = (
    f"CP is crude protein; MP is metabolisable protein of the feed by itself at feeding level "
    f"{FEEDING_LEVEL:g}. Prices are ex VAT.",
    f'"{offers.OFFERS}" can be read again as a file of quotes; a nought of a condition is blank.',
)
_ABOUT = {
    offers.OFFERS: "every quote of every file, one row a price, with file, sheet and row",
    FOOTING: "what each comes to in the bin: per tonne, per tonne DM, per MJ, per kg of protein",
    RANKED: "what these sheep cost with each feed as the only change, and where that turns",
    REFUSED: "what may not be bought and why; what to ask before ordering",
    NOT_READ: "rows and columns of the files that were not understood; nothing else was left out",
    HEADINGS: "how each heading of the files was read",
}


def quotes_book(found: Compared, tables: Tables) -> bytes:
    """Quotes compared for the sheep of a farm.

    Parameters
    ----------
    found : Compared
        From `ration.jobs.quotes.compare_file`.
    tables : Tables
        That it was worked with.
    """
    told = winter_json.compared_json(found)
    title = f"Merchants' quotes for {found.farm.name} as they stand on {in_words_day(found.on)}"
    book = started("Quotes compared", found.farm.start, tables)
    sheets = (offers.OFFERS, FOOTING, RANKED, REFUSED, NOT_READ, HEADINGS)
    _read_me(book, title, quotes_report.in_a_few_sentences(found.ranked), tables, sheets, found)
    book.table(offers.OFFERS, *offers.table_of(found.sheets), nothing="")
    book.table(
        FOOTING,
        (
            Column("Kind"), Column("From"), Column("What"), Column("Pack"),
            Column("Bought (t fresh)", "tonnes"), Column("Drops", "whole"),
            Column("Invoice (£/t fresh)", "money"), *_COSTS,
        ),
        [
            (
                r["kind"], r["merchant"], r["feed"], r["pack"], r["bought_t_fresh"], r["drops"],
                r["invoice_gbp_per_t_fresh"], *(r[k] for k in _COST_KEYS),
            )
            for r in told["ranking"]
            if r["landed_gbp_per_t_fresh"] is not None
        ],
    )  # fmt: skip
    _ranking(book, found, told["ranking"])
    refused = [
        (r.merchant, r.feed, r.supplies[0].quote.pack, r.refused, r.supplies[0].quote.place)
        for r in found.ranked
        if r.refused
    ]
    _open_ends(book, refused, found.tied, found.sheets)
    return book.data()


def landed_book(found: LandedOnly, tables: Tables) -> bytes:
    """Quotes at one tonnage, no farm.

    Parameters
    ----------
    found : LandedOnly
        From `ration.jobs.quotes.landed_files`.
    tables : Tables
        That it was worked with.
    """
    told = winter_json.landed_json(found)
    amount = "the least that is sold" if found.tonnes is None else f"{found.tonnes:g} t of each"
    drops = "1 drop" if found.drops == 1 else f"{found.drops} drops"
    day = "" if found.on is None else f", as they stand on {in_words_day(found.on)}"
    book = started("Quotes compared", found.on, tables)
    sheets = (offers.OFFERS, FOOTING, REFUSED, NOT_READ, HEADINGS)
    title = f"Merchants' quotes, {amount} in {drops}{day}"
    _read_me(book, title, [], tables, sheets, found)
    book.table(offers.OFFERS, *offers.table_of(found.sheets), nothing="")
    book.table(
        FOOTING,
        (
            Column("From"), Column("What"), Column("Pack"), Column("Pack (kg)", "number"),
            Column("Bought (t fresh)", "tonnes"), Column("Drops", "whole"),
            Column("Price step (£/t fresh)", "money"), *_COSTS, Column("All of it (£)", "money"),
            Column("Not in the price"),
        ),
        [
            (
                x["merchant"], x["feed"], x["pack"], x["pack_kg"], x["tonnes_fresh"], x["drops"],
                x["price_gbp_per_t_fresh"], *(x[k] for k in _COST_KEYS), x["cost_gbp"],
                x["conditions"],
            )
            for x in told["quotes"]
            if x["landed_gbp_per_t_fresh"] is not None
        ],
    )  # fmt: skip
    refused = [
        (q.merchant, x.feed, q.pack, x.refused, q.place)
        for x in found.lines
        if x.landed is None
        for q in (x.supply.quote,)
    ]
    _open_ends(book, refused, found.tied, found.sheets)
    return book.data()


def _read_me(
    book: Book,
    title: str,
    words: Sequence[str],
    tables: Tables,
    sheets: Sequence[str],
    found: Compared | LandedOnly,
) -> None:
    figures = [f for s in found.sheets for q in s.quotes for f in q.declared.values()]
    first_sheet(
        book,
        title,
        words,
        tables,
        sheets=[(name, _ABOUT[name]) for name in sheets],
        notes=_NOTES,
        marks=[f.mark for f in figures],
    )


def _ranking(book: Book, found: Compared, ranking: Sequence[dict[str, Any]]) -> None:
    """What the sheep cost with each, and the price at which it flips."""
    rows: list[tuple[Value, ...]] = []
    for r, told in zip(found.ranked, ranking, strict=True):
        if r.refused:
            continue
        worth: Value = told["worth_gbp_per_t_fresh"]
        if r.worth_gbp_per_t_fresh is not None and math.isinf(r.worth_gbp_per_t_fresh):
            worth = ANY_PRICE
        rows.append((
            told["kind"], told["rank"], told["merchant"], told["feed"],
            told["cost_gbp_per_head_day"], told["cost_gbp_for_winter"], told["needed_t_fresh"],
            told["bought_t_fresh"], told["landed_gbp_per_t_fresh"], worth, told["reason"],
            told["may_rise_gbp_per_t_fresh"], told["must_fall_gbp_per_t_fresh"],
            told["without_gbp_per_head_day"],
        ))  # fmt: skip
    book.table(
        RANKED,
        (
            Column("Kind"), Column("Rank", "whole"), Column("From"), Column("What"),
            Column("Cost (£/head/day)", "small money"), Column("Cost of the winter (£)", "money"),
            Column("Needed (t fresh)", "tonnes"), Column("Bought (t fresh)", "tonnes"),
            Column("Landed (£/t fresh)", "money"), Column("Worth (£/t fresh)", "money"),
            Column("Why"), Column("May rise before it moves down (£/t fresh)", "money"),
            Column("Must fall to move up or be bought (£/t fresh)", "money"),
            Column("Without any of its kind (£/head/day)", "small money"),
        ),
        rows,
    )  # fmt: skip


def _open_ends(
    book: Book,
    refused: Sequence[tuple[str, str, str, str, str]],
    tied: Tied,
    sheets: Sequence[QuoteSheet],
) -> None:
    """What is refused, what is to be asked, what was not read, and how headings were read."""
    asked = winter_words.to_ask(tied, [replace(s, not_read=()) for s in sheets])
    rows = [("refused", *line) for line in refused]
    rows += [("to ask", "", "", "", line, "") for line in asked]
    book.table(
        REFUSED,
        (
            Column("Refused or to ask"), Column("From"), Column("What"), Column("Pack"),
            Column("Why, or the question"), Column("Where it was read"),
        ),
        rows,
    )  # fmt: skip
    book.table(
        NOT_READ,
        (Column("File"), Column("Where, and why not")),
        [(s.file, line) for s in sheets for line in s.not_read],
    )
    book.table(
        HEADINGS,
        (Column("File"), Column("Heading as written"), Column("Read as")),
        [(s.file, written, read) for s in sheets for written, read in s.columns],
    )
