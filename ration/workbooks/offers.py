"""Quotes as they were read, one row a price, under headings that `ration.quotes` reads back.

So a buyer may mend a price in the workbook and use the workbook as the file of quotes. Where a
quote was read (file, sheet, row) stands behind it; read back, that becomes part of its note.
Numbers keep as many digits as the reader takes, eleven or so.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from ration.plain_text import MOST_DIGITS
from ration.quotes.cells import made_for_by_name
from ration.quotes.headings import figure_words
from ration.quotes.phrases import TONNE_BAG_KG
from ration.quotes.records import BAG, BALE, TONNE_BAG
from ration.workbooks.sheet import Column, Value

if TYPE_CHECKING:
    from ration.quotes.records import Quote, QuoteSheet, Tier

OFFERS = "Offers as read"
DRY_MATTER, COPPER = "dm_g_per_kg_fresh", "cu_mg_per_kg_dm"
_ALWAYS = ("merchant", "feed", "price (GBP/t)", "pack", "delivered or collected", "VAT")
_WHERE = (Column("file"), Column("sheet"), Column("row", "whole"))
_TERMS = (
    Column("merchant"), Column("feed"), Column("like"), Column("from (t)", "tonnes"),
    Column("price (GBP/t)", "money"), Column("pack"), Column("bag size (kg)", "number"),
    Column("bale weight (kg)", "number"), Column("bags a pallet", "whole"),
    Column("least drop (t)", "tonnes"), Column("most drop (t)", "tonnes"),
    Column("drop charge (GBP)", "money"), Column("lorry (t)", "tonnes"),
    Column("all there is (t)", "tonnes"), Column("delivered or collected"),
    Column("haulage (GBP/t)", "money"), Column("cash off (GBP/t)", "money"),
    Column("payment (days)", "whole"), Column("valid from", "day"), Column("valid until", "day"),
    Column("delivered until", "day"), Column("rise (GBP/t/month)", "money"),
    Column("rise from", "day"), Column("VAT"), Column("made for"),
)  # fmt: skip
_NUTRIENT = re.compile(r"(.+)_(g|mg|mj)_per_kg_(dm|fresh)")
_UNITS = {"g": "g/kg", "mg": "mg/kg", "mj": "MJ/kg"}
_BASES = {"dm": "DM", "fresh": "as fed"}
_NAMES = {"ndf_g_per_kg_dm": "NDF", "adf_g_per_kg_dm": "ADF"}  # "fibre" alone says too little
_PLACE = re.compile(r'(?: sheet "(?P<sheet>.*)")? rows? (?P<rows>[0-9]+(?:, [0-9]+)*)')


def table_of(
    sheets: Sequence[QuoteSheet],
) -> tuple[tuple[Column, ...], list[tuple[Value, ...]]]:
    """Headings and rows of every quote; columns that nobody fills are left out."""
    pairs = [(s, q) for s in sheets for q in s.quotes]
    figures = _figures([q for _, q in pairs])
    columns = [*_TERMS, *(c for _, _, c in figures), Column("note"), *_WHERE]
    rows = [
        (
            *(_short(v) for v in (*_terms(q, tier), *_declared(q, figures))),
            q.note,
            *_where(sheet, q),
        )
        for sheet, q in pairs
        for tier in q.tiers
    ]
    kept = [
        j
        for j, c in enumerate(columns)
        if c.heading in _ALWAYS or c in _WHERE or any(r[j] not in (None, "") for r in rows)
    ]
    return tuple(columns[j] for j in kept), [tuple(r[j] for j in kept) for r in rows]


def _short(value: Value) -> Value:
    """A number in no more digits than the reader of quotes takes; all else as it is."""
    if not isinstance(value, float):
        return value
    for digits in range(12, 0, -1):
        text = f"{value:.{digits}g}"
        if len(text) <= MOST_DIGITS:
            return value if digits == 12 else float(text)
    return value


def _or_blank(value: float) -> float | None:
    """Nought of a condition is none said."""
    return value or None


def _terms(q: Quote, tier: Tier) -> tuple[Value, ...]:
    """One price with its conditions, in the order of the headings."""
    pack = q.pack
    if pack == TONNE_BAG and q.pack_kg != TONNE_BAG_KG:
        pack = "big bag"  # by its own name a tonne bag holds a tonne
    made_for = q.made_for or ("sheep" if made_for_by_name(q.feed) else "")
    return (
        q.merchant, q.feed, q.like, _or_blank(tier.from_t), tier.price_gbp_per_t_fresh, pack,
        q.pack_kg if q.pack in (BAG, TONNE_BAG) else None, q.pack_kg if q.pack == BALE else None,
        q.packs_per_pallet, _or_blank(q.least_drop_t), q.most_drop_t,
        _or_blank(q.drop_charge_gbp), q.lorry_t, q.most_t,
        "collected" if q.is_collected else "delivered", _or_blank(q.haulage_gbp_per_t),
        _or_blank(q.cash_off_gbp_per_t), _or_blank(q.payment_days), q.valid_from, q.valid_until,
        q.delivered_until, _or_blank(q.rise_gbp_per_t_month), q.rise_from,
        "ex" if q.is_ex_vat else None, made_for,
    )  # fmt: skip


def _where(sheet: QuoteSheet, q: Quote) -> tuple[Value, ...]:
    """File, sheet and row; several rows of one quote as text."""
    hit = _PLACE.fullmatch(q.place.removeprefix(sheet.file))
    if hit is None:
        return sheet.file, "", q.place
    rows = hit.group("rows")
    return sheet.file, hit.group("sheet") or "", int(rows) if rows.isdigit() else rows


# ---------------------------------------------------------------- declared figures


def _figures(quotes: Sequence[Quote]) -> list[tuple[str, str, Column]]:
    """Each declared figure once: its id per kg DM, the basis of its column, the column."""
    bases: dict[str, list[str]] = {}
    for q in quotes:
        for nutrient, basis in _told(q):
            bases.setdefault(nutrient, []).append(basis)
    found = []
    for nutrient, said in bases.items():
        basis = max(("dm", "fresh"), key=said.count)
        unit = _UNITS[nutrient.rsplit("_", 4)[1]]
        name = _NAMES.get(nutrient, figure_words(nutrient))
        found.append((nutrient, basis, Column(f"{name} ({unit} {_BASES[basis]})", "figure")))
    return found


def _told(q: Quote) -> Iterator[tuple[str, str]]:
    """Every figure of a quote by its id per kg DM, with the basis it is written on."""
    seen = set()
    for key in q.declared:
        hit = _NUTRIENT.fullmatch(key)
        if hit is None:
            continue
        nutrient = key if key == DRY_MATTER else f"{hit.group(1)}_{hit.group(2)}_per_kg_dm"
        if nutrient not in seen:
            seen.add(nutrient)
            yield nutrient, _basis(q, nutrient, hit.group(3))


def _basis(q: Quote, nutrient: str, own: str) -> str:
    """Copper as the label gives it, so that the legal limit is held against its own digits."""
    return "fresh" if nutrient == COPPER and q.copper_mg_per_kg_fresh is not None else own


def _declared(q: Quote, figures: Sequence[tuple[str, str, Column]]) -> Iterator[Value]:
    """The quote's figures in the order of the columns; on another basis as text that says so."""
    bases = dict(_told(q))
    for nutrient, basis, _ in figures:
        own = bases.get(nutrient)
        if own is None:
            yield None
            continue
        value = _value(q, nutrient, own)
        unit = _UNITS[nutrient.rsplit("_", 4)[1]]
        yield value if own == basis else f"{_short(value)} {unit} {_BASES[own]}"


def _value(q: Quote, nutrient: str, basis: str) -> float:
    if nutrient == COPPER and basis == "fresh" and q.copper_mg_per_kg_fresh is not None:
        return q.copper_mg_per_kg_fresh
    key = nutrient
    if basis == "fresh" and nutrient != DRY_MATTER:
        key = re.sub("_per_kg_dm$", "_per_kg_fresh", nutrient)
    return q.declared[key].value
