"""A price cell: what it says, and what it comes to for a tonne."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from ration import units
from ration.analysis.names import MISSING_WORDS
from ration.plain_text import refusal
from ration.quotes.cells import DEAREST_GBP_PER_T, NoUnit, Way
from ration.quotes.grid import Cell
from ration.quotes.phrases import Phrase, is_number_like, number_in, phrase, pointed
from ration.quotes.records import BAG, BULK

_NO_PRICE = {
    *MISSING_WORDS, "poa", "p.o.a", "p.o.a.", "price on application", "on application",
    "on request", "call", "ring", "ring for price", "call for price", "tba", "tbc",
    "sold out", "no stock", "out of stock",
    "not quoted", "no quote", "no offer", "nil", "nq",
}  # fmt: skip
LONGEST_PRICE = 200
_NAMED_MASSES_KG = (1.0, 100.0, 1000.0)
_LEAST_BAG_KG, _MOST_BAG_KG = 5.0, 50.0


class NotAPrice(Exception):
    """The cell holds no price that can be read with certainty; the words say why."""


@dataclass(frozen=True)
class Piece:
    """One price of a cell: the number as written and the words round it."""

    size: float
    said: Phrase


@dataclass(frozen=True)
class Price:
    """A price settled.

    Attributes
    ----------
    gbp_per_t_fresh : float
    pack, pack_kg : str, float or None
        "" when no pack was said. [kg]
    is_ex_vat : bool or None
    is_collected : bool or None
    note : str
        How it was come by, when it is not the number in the cell.
    question : str
        What to ask about it.
    """

    gbp_per_t_fresh: float
    pack: str
    pack_kg: float | None
    is_ex_vat: bool | None
    is_collected: bool | None
    note: str = ""
    question: str = ""


def pieces(cell: Cell, way: Way) -> list[Piece]:
    """The prices of a cell: one, or several with the tonnes from which each holds.

    Raises
    ------
    NotAPrice
        "POA", "1,010 (tote)": nothing that is wholly understood.
    InputError
        A number that cannot stand: below zero, not in pounds, per "ton".
    """
    if cell.kind == "number" and cell.number is not None:
        return [Piece(_above_zero(cell.text, cell.number), Phrase(""))]
    if cell.kind != "text":
        raise NotAPrice(f'"{cell.text}" is a {cell.kind}, not a price')
    low = cell.text.lower().replace("\u2212", "-")
    if low in _NO_PRICE:
        raise NotAPrice(f'no price ("{cell.text}")')
    if len(low) > LONGEST_PRICE:
        raise NotAPrice("a text too long to be a price")
    if not is_number_like(low) and not re.match(r"gbp ?[0-9]|eur ?[0-9]|usd ?[0-9]|from ", low):
        raise NotAPrice(f'"{cell.text[:60]}" is not a price')
    if re.search("[\u202a-\u202e\u2066-\u2069]", cell.text):
        raise refusal("", "a sign in the cell turns the direction of writing", do="Type it anew")
    low = pointed(low, comma=way.has_decimal_comma)
    return [_piece(part.strip(), cell.text) for part in low.split(";") if part.strip()]


def _piece(part: str, whole: str) -> Piece:
    said = phrase(part)
    size = number_in(said.rest)
    if size is None:
        if said.is_foreign:
            raise refusal(whole, "not in pounds", "prices are in GBP", "Ask for it in pounds")
        raise NotAPrice(f'"{whole[:60]}" is not wholly understood')
    return Piece(_above_zero(whole, size), said)


def _above_zero(text: str, size: float) -> float:
    if size < 0:
        raise refusal(text, "a price below zero")
    if size == 0:
        raise refusal(text, "a price of nothing", do="Empty the cell when there is no price")
    return size


def settle(
    piece: Piece,
    heading: Phrase,
    per: Phrase | None,
    pack_said: list[tuple[str, float | None]],
    delivery_said: list[bool],
    vat_said: list[tuple[str, float | None]],
) -> Price:
    """What a piece comes to for a tonne.

    Parameters
    ----------
    piece : Piece
    heading : Phrase
        Of the price column.
    per : Phrase or None
        What the row or the sheet says the price is for.
    pack_said, delivery_said, vat_said : list
        What the row's other cells say, none or one each (packs: none or several).

    Raises
    ------
    InputError
        Two that disagree; a bag of unsaid weight; VAT included without its rate; beyond belief.
    NoUnit
        Nothing says what weight the price is for.
    """
    said = piece.said
    if said.is_foreign or heading.is_foreign:
        raise refusal(
            f"{piece.size:g}", "not in pounds", "prices are in GBP", "Ask for it in pounds"
        )
    unit = next((p for p in (said, heading, per) if p is not None and p.has_unit), None)
    if unit is None:
        raise NoUnit("a price per tonne, per kg, or per bag of so many kg")
    if unit.is_ton:
        raise refusal(f"{piece.size:g} a ton", 'a "ton" is 1,000 kg or 1,016 kg', do='Write "t"')
    packs = [(p.pack, p.pack_kg) for p in (said, heading, per) if p is not None and p.pack]
    pack, kg = _one_pack(packs + pack_said)
    question = ""
    if unit.is_per_pack:
        if pack == BULK:
            raise refusal(f"{piece.size:g}", "a price for each pack of a feed sold in bulk")
        if kg is None:
            word = pack or "pack"
            do = f'Write "{piece.size:g} per 20 kg {pack or "bag"}"'
            raise refusal(f"{piece.size:g} a {word}", f"what a {word} weighs is not said", do=do)
        per_kg = kg
        pack = pack or BAG
    else:
        per_kg = float(unit.per_kg or 0)
        is_bag = _LEAST_BAG_KG <= per_kg <= _MOST_BAG_KG and per_kg not in _NAMED_MASSES_KG
        if not pack and is_bag:
            pack, kg = BAG, per_kg
            question = f"the price is for {per_kg:g} kg; read as bags of {per_kg:g} kg"
    is_pence = said.is_pence or (unit is not said and unit.is_pence)
    if is_pence and said.is_sterling:
        raise refusal(f"£{piece.size:g}", "pounds in the cell, pence in the heading")
    gbp = units.price_gbp_per_t(f"{piece.size:.12g}{' p' if is_pence else ''} per {per_kg:.12g} kg")
    if gbp > DEAREST_GBP_PER_T:
        raise refusal(f"{piece.size:g}", f"{gbp:,.0f} GBP a tonne is not a believable price")
    if gbp < 10 and not question:
        question = f"{gbp:.2f} GBP a tonne is very little; is it the price of a bag or a bale?"
    collected = [p.is_collected for p in (said, heading) if p.is_collected is not None]
    collected += delivery_said
    if len(set(collected)) > 1:
        raise refusal(f"{piece.size:g}", "delivered in one place and collected in another")
    is_collected = collected[0] if collected else None
    price = Price(gbp, pack, kg, None, is_collected, question=question)
    return with_vat(price, *[(p.vat, p.vat_share) for p in (said, heading) if p.vat], *vat_said)


def with_vat(price: Price, *said: tuple[str, float | None]) -> Price:
    """The price ex VAT, by what is said of VAT: ("ex", None) or ("inc", rate [-])."""
    is_ex, share = _one_vat(list(said))
    if share is None:
        return replace(price, is_ex_vat=is_ex)
    note = f"read with VAT at {100 * share:g} %, which is taken off"
    gbp = price.gbp_per_t_fresh / (1 + share)
    return replace(price, gbp_per_t_fresh=gbp, is_ex_vat=is_ex, note=note)


def with_delivery(price: Price, is_collected: bool) -> Price:
    """The price, delivered or collected as said."""
    return replace(price, is_collected=is_collected)


def _one_pack(packs: list[tuple[str, float | None]]) -> tuple[str, float | None]:
    kinds = {p for p, _ in packs}
    weights = {w for _, w in packs if w is not None}
    if len(kinds) > 1 or len(weights) > 1:
        words = " and ".join(f"{p}{f' of {w:g} kg' if w else ''}" for p, w in packs)
        raise refusal(words, "two packs are said for one price", do="Keep one of them")
    return (next(iter(kinds), ""), next(iter(weights), None))


def _one_vat(said: list[tuple[str, float | None]]) -> tuple[bool | None, float | None]:
    ways = {v for v, _ in said}
    if len(ways) > 1:
        raise refusal("ex and inc VAT", "VAT is said in two ways", do="Keep one of them")
    if not ways:
        return None, None
    if ways == {"ex"}:
        return True, None
    rates = {s for _, s in said if s is not None}
    if len(rates) != 1:
        raise refusal("inc VAT", "the price has VAT in it and the rate is not said",
                      "feed is normally free of VAT", "Ask for the price ex VAT")  # fmt: skip
    return True, next(iter(rates))
