"""What a heading means: the words before the unit, the unit, and what the price is for.

A heading matches whole or not at all. To teach the reader another word, add it to `NAMES` in small
letters; figures of the analysis are known by `ration.analysis.names`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from ration.analysis import terms
from ration.analysis.names import BY_ID
from ration.errors import InputError
from ration.quotes.phrases import Phrase, phrase
from ration.quotes.records import BAG, BALE

NAMES: Mapping[str, str] = {
    name.strip(): meaning
    for meaning, names in {
        "merchant": "merchant, merchants, supplier, seller, company, firm, mill, trader, quoted by",
        "feed": "feed, feeds, product, products, description, item, material, commodity, "
        "feedstuff, feed name, product name, product description, feed description, compound",
        "like": "like, like feed, feed of the table",
        "per": "unit, per, sold by, price per, price unit, unit of sale, priced per, price basis",
        "from": "from, tier, tier from, band, tonnage band, tonnage from, order from, "
        "quantity from",
        "pack": "pack, packing, packaging, pack size, pack type, packed, packed in, form, "
        "presentation, pack weight",
        "bag": "bag size, bag weight, weight of bag, weight of a bag, sack weight",
        "bale": "bale weight, weight of bale, weight of a bale",
        "per_pallet": "bags a pallet, bags per pallet, bags/pallet, per pallet, packs a pallet, "
        "packs per pallet, bags on a pallet, pallet quantity, pallet",
        "least": "least drop, min drop, minimum drop, min load, minimum load, least load, min, "
        "minimum, min order, minimum order, min delivery, minimum delivery, moq, "
        "minimum quantity, min qty, min tonnage, minimum tonnage, smallest drop",
        "most": "most drop, max drop, maximum drop, max load, maximum load, most load, "
        "largest drop, largest load",
        "charge": "drop charge, charge a drop, charge per drop, drop fee, charge each drop, "
        "delivery charge per drop, charge/drop, drop charges",
        "lorry": "lorry, vehicle, wagon, truck, lorry type, vehicle type, smallest lorry",
        "all": "all there is, available, tonnes available, quantity available, limited to, "
        "tonnes left, most there is",
        "delivery": "delivered or collected, delivered/collected, delivery, delivery terms, "
        "delivery or collection, terms of delivery, delivered, collected, del or collect",
        "haulage": "haulage, haulage cost, carriage, transport, delivery charge, delivery cost",
        "cash_off": "cash off, cash discount, discount for cash, cash with order, discount, "
        "prompt payment discount, early payment discount, off for cash",
        "payment": "payment, payment terms, terms of payment, credit, "
        "days credit, days to pay, paid in",
        "valid_from": "valid from, offer from, price from date, offer opens",
        "valid_until": "valid until, valid to, valid till, valid, expires, expiry, expiry date, "
        "offer ends, open until, offer until, closing date, price held until, valid for, "
        "validity, price valid until, quote valid until, price valid for, prices valid until",
        "dated": "dated, date, quote date, quotation date, date of quote, quoted on, price date, "
        "date quoted, date of quotation",
        "delivered_until": "delivered until, delivery until, last delivery, deliver by, "
        "delivery by, delivered by, last day of delivery",
        "rise": "rise, monthly rise, rise a month, monthly increase, monthly increment, "
        "rise per month, increase per month, carry per month",
        "rise_from": "rise from, rises from, increase from, monthly rise from",
        "vat": "vat, vat status, ex or inc vat, vat basis",
        "made_for": "made for, for, species, animals, suitable for, class of stock",
        "note": "note, notes, remark, remarks, comment, comments, conditions, other, details, "
        "other terms",
    }.items()
    for name in names.split(",")
}
WORDS: Mapping[str, str] = {
    "merchant": "merchant",
    "feed": "feed",
    "like": "the feed of the table it is like",
    "per": "what the price is for",
    "from": "tonnes from which the price holds",
    "pack": "pack",
    "bag": "weight of a bag",
    "bale": "weight of a bale",
    "per_pallet": "bags a pallet",
    "least": "least drop",
    "most": "most drop",
    "charge": "charge a drop",
    "lorry": "smallest lorry, laden",
    "all": "all there is",
    "delivery": "delivered or collected",
    "haulage": "haulage",
    "cash_off": "off for cash with the order",
    "payment": "days to pay",
    "valid_from": "first day to order (day before month)",
    "valid_until": "last day to order (day before month)",
    "dated": "date of the quote (day before month)",
    "delivered_until": "last day of delivery (day before month)",
    "rise": "rise a month",
    "rise_from": "first month of the rise",
    "vat": "VAT",
    "made_for": "animals it is made for",
    "note": "note",
}
FIGURES = frozenset((
    "dm_g_per_kg_fresh", "moisture_g_per_kg_fresh", "me_mj_per_kg_dm", "cp_g_per_kg_dm",
    "oil_g_per_kg_dm", "ndf_g_per_kg_dm", "adf_g_per_kg_dm", "starch_g_per_kg_dm",
    "sugar_g_per_kg_dm", "ash_g_per_kg_dm", "ca_g_per_kg_dm", "p_g_per_kg_dm",
    "mg_g_per_kg_dm", "na_g_per_kg_dm", "k_g_per_kg_dm", "s_g_per_kg_dm", "cu_mg_per_kg_dm",
    "mo_mg_per_kg_dm", "se_mg_per_kg_dm", "fe_mg_per_kg_dm", "zn_mg_per_kg_dm",
    "mn_mg_per_kg_dm", "co_mg_per_kg_dm", "i_mg_per_kg_dm", "domd_g_per_kg_dm",
))  # fmt: skip
# On a price list, where "energy" can only be metabolisable and "NDF" stands beside "fibre".
_FIGURE_ALIASES = (
    (r"^energy\b", "me"),
    (r"^me energy\b", "me"),
    (r"\bfibre \(?ndf\)?", "ndf"),
    (r"\bcopper \(cu\)", "copper"),
    (r"^(?:added|total) copper\b", "copper"),
    (r"^declared ", ""),
)
_PRICE_WORDS = frozenset((
    "price", "prices", "cost", "quote", "quoted", "rate", "offer", "quotation",
))  # fmt: skip
_FILLING = frozenset((
    "our", "your", "net", "unit", "list", "guide", "the", "in", "for", "of", "current",
    "feed", "and",
))  # fmt: skip
_TAIL = re.compile(
    r"(?P<base>.+?)[ ,]*\(?(?<![a-z])(?P<unit>"
    r"(?:£|gbp|p)? ?(?:/|\bper|\ba) ?(?:t|te|tonne)(?: ?(?:/|per|a) ?month)?"
    r"|t|te|mt|tonnes?|tons?|kgs?|days?|weeks?|£|gbp|pounds|eur|€|\$"
    r"|(?:£|gbp) ?(?:/|per|a) ?(?:drop|load|delivery|month))\)?"
)


@dataclass(frozen=True)
class Heading:
    """A heading taken apart.

    Attributes
    ----------
    written : str
    meaning : str
        A key of `WORDS`, "price", a nutrient id, or "" when not known.
    unit : str
        t, kg, day, week, gbp, gbp/t, gbp/t/month; %, g/kg, mg/kg, MJ/kg; "" when not said.
    basis : str
        dm, fresh or "" (analysis only).
    price : Phrase or None
        What a price heading says of its price.
    why_not : str
        Why a heading is not read, when there is more to say than that it is not known.
    """

    written: str
    meaning: str = ""
    unit: str = ""
    basis: str = ""
    price: Phrase | None = field(default=None, compare=False)
    why_not: str = ""

    @property
    def is_figure(self) -> bool:
        """True for a figure of the declared analysis."""
        return self.meaning in FIGURES

    @property
    def key(self) -> tuple[object, ...]:
        """Two headings of one table may not share this."""
        if self.price is None:
            return (self.meaning,)
        p = self.price
        return ("price", p.pack, p.pack_kg, p.from_t, p.is_collected)

    @property
    def words(self) -> str:
        """What it was read as."""
        if self.price is not None:
            return _price_words(self.price)
        if self.is_figure:
            unit = f"{self.unit} {'in DM' if self.basis == 'dm' else 'as fed'}".strip()
            return f"{figure_words(self.meaning)}, {unit}"
        unit = f" [{self.unit}]" if self.unit else ""
        return WORDS.get(self.meaning, "not read") + unit


def figure_words(nutrient_id: str) -> str:
    """Plain name of a figure."""
    return BY_ID[nutrient_id].words if nutrient_id in BY_ID else nutrient_id


def _price_words(price: Phrase) -> str:
    if price.is_per_pack:
        weight = f" of {price.pack_kg:g} kg" if price.pack_kg else ""
        unit = f"per {price.pack or 'pack'}{weight}"
    elif price.per_kg is not None:
        unit = "per tonne" if price.per_kg == 1000 else f"per {price.per_kg:g} kg"
    else:
        unit = "unit in the cell"
    parts = [f"price {unit}"]
    if price.pack and not price.is_per_pack:
        parts.append(price.pack + (f" of {price.pack_kg:g} kg" if price.pack_kg else ""))
    if price.from_t is not None:
        parts.append(f"from {price.from_t:g} t")
    if price.is_collected is not None:
        parts.append("collected" if price.is_collected else "delivered")
    if price.vat:
        parts.append(f"{price.vat} VAT")
    return ", ".join(parts)


def _tidy(text: str) -> str:
    return " ".join(text.lower().replace("_", " ").rstrip(" :*").split())


def _unit(text: str) -> str:
    bare = re.sub(r"\bper\b|\ba\b", "/", text.replace("£", "gbp")).replace(" ", "").strip("()")
    bare = re.sub(r"tonnes?\b|\bte\b|\bmt\b", "t", bare)
    bare = "gbp" + bare if bare.startswith("/") else bare
    fixed = {"pounds": "gbp", "days": "day", "weeks": "week", "kgs": "kg", "tons": "ton"}
    return fixed.get(bare, bare)


def read_heading(written: str) -> Heading:
    """Take one heading apart.

    Examples
    --------
    >>> read_heading("Min drop (t)").meaning, read_heading("CP % DM").basis
    ('least', 'dm')
    >>> read_heading("£/t delivered").words
    'price per tonne, delivered'
    """
    low = _tidy(written)
    if not low or len(low) > 120:
        return Heading(written)
    plain = re.sub(r"[()\[\]]", "", low).replace(".", "")
    if low in NAMES:
        return Heading(written, NAMES[low])
    if found := _with_tail(written, low) or _with_tail(written, low.replace(".", "")):
        return found
    if plain in NAMES:
        return Heading(written, NAMES[plain])
    if figure := _figure(written, low) or _figure(written, low.replace(".", "")):
        return figure
    return _price(written, low)


def _with_tail(written: str, low: str) -> Heading | None:
    """A known name with a unit of mass, money or time behind it."""
    tail = _TAIL.fullmatch(low)
    base = tail.group("base").strip(" ,.(") if tail else ""
    if tail is None or base not in NAMES:
        return None
    meaning, unit = NAMES[base], _unit(tail.group("unit"))
    if not unit.startswith("gbp") or meaning != "delivery":
        return Heading(written, meaning, unit)
    if base == "delivery":
        why = "it may be a charge for each tonne or a price delivered"
        return Heading(written, why_not=why)
    return _price(written, low)


def _figure(written: str, low: str) -> Heading | None:
    for pattern, to in _FIGURE_ALIASES:
        low = re.sub(pattern, to, low)
    if re.search(r"[£€$]|\bgbp\b|\bprice\b|\bvat\b", low):
        return None
    if re.match(r"fib(?:re|er)\b", low):
        return Heading(written, why_not="NDF or crude fibre is not said")
    found = terms.heading(low)
    if found.nutrient is None:
        return None
    if found.nutrient.id not in FIGURES or found.nutrient.compound:
        return Heading(written, why_not="a figure that is not used here")
    basis = found.basis if found.basis in ("dm", "fresh") else ""
    if found.basis and not basis:
        return Heading(written, why_not="a basis that is not used here")
    unit = {"mj/kg": "MJ/kg", "mj": "MJ/kg", "mcal/kg": "Mcal/kg", "ppm": "ppm", "mg/kg": "mg/kg"}
    return Heading(written, found.nutrient.id, unit.get(found.unit, found.unit), basis)


def _price(written: str, low: str) -> Heading:
    try:
        found = phrase(low.replace("price/", "price /"))
    except InputError:
        return Heading(written)
    words = set(re.sub(r"[^a-z]+", " ", found.rest).split())
    is_clean = not re.search(r"[0-9]", found.rest)
    has_word = bool(words & _PRICE_WORDS)
    is_money = found.is_sterling or found.is_pence or found.is_foreign
    if not is_clean or not (has_word or is_money or (found.has_unit and not words)):
        return Heading(written)
    foreign = {"eur", "euro", "euros", "usd", "dollar", "dollars", "zl", "kr"}
    if words - _PRICE_WORDS - _FILLING - foreign:
        return Heading(written)
    if found.pack in (BAG, BALE) and not found.has_unit and not has_word and not is_money:
        return Heading(written)
    return Heading(written, "price", price=found)
