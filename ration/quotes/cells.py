"""How each kind of cell beside the price is read: tonnes, money, dates, words, declared figures.

Every reader gives a value or raises `InputError`; a bare number where its heading names no unit
raises `NoUnit`, which is told once a column.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from ration import units
from ration.analysis.names import BY_ID, MISSING_WORDS
from ration.plain_text import refusal
from ration.quotes.grid import Cell
from ration.quotes.headings import Heading, figure_words
from ration.quotes.phrases import NUM, Phrase, pack_kind, phrase, pointed

ARTIC_T = 44.0  # laden; Road Vehicles (Authorised Weight) Regulations 1998, from memory
LONGEST_VALUE = 200
LIGHTEST_LORRY_T = 3.0
DEAREST_GBP_PER_T = 100_000.0  # the most a farm file may say too
_NOUGHT = {"none", "nil", "no", "free", "no minimum", "no min", "no charge", "nothing", "0"}
_DELIVERY: Mapping[str, bool] = {
    **dict.fromkeys(("delivered", "deliver", "del", "delivery", "on farm", "to farm"), False),
    **dict.fromkeys(
        ("collected", "collect", "collection", "to collect", "collection only", "ex farm",
         "ex store", "ex works", "ex mill", "ex yard", "ex quay", "off farm", "ex field"),
        True,
    ),
}  # fmt: skip
_MADE_FOR: Mapping[str, str] = {
    word: animal
    for animal, words in {
        "": "sheep, ewe, ewes, lamb, lambs, hogg, hoggs, tup, tups, ruminants, all ruminants",
        "cattle": "cattle, dairy, beef, cow, cows, calf, calves, dairy cows, suckler cows",
        "horse": "horse, horses, equine, pony, ponies",
        "pig": "pig, pigs, sow, sows",
        "poultry": "poultry, hens, layers, chickens, hen, broilers",
    }.items()
    for word in words.split(", ")
}
_EX_INC = r"ex|exc|excl|excluding|inc|incl|including|plus|\+"
_TURNED = re.compile("[\u202a-\u202e\u2066-\u2069]")
_WHOLE_FEED = ("dm_g_per_kg_fresh", "cp_g_per_kg_dm", "ndf_g_per_kg_dm")


class NoUnit(Exception):
    """A bare number under a heading that names no unit."""

    def __init__(self, allowed: str) -> None:
        super().__init__(allowed)
        self.allowed = allowed


@dataclass(frozen=True)
class Way:
    """How the numbers of a sheet are written."""

    has_decimal_comma: bool = False
    is_percent_lost: bool = False


@dataclass(frozen=True)
class Days:
    """So many days from the date of the quote. [day]"""

    days: int


@dataclass(frozen=True)
class Month:
    """A month without its year."""

    number: int
    written: str


@dataclass(frozen=True)
class Packs:
    """A least or most load counted in pallets or packs."""

    count: float
    is_pallets: bool


@dataclass(frozen=True)
class Figured:
    """A declared figure as read, before its basis is settled."""

    nutrient: str
    quantity: units.Quantity
    written: str
    heading: str


def is_blank(cell: Cell) -> bool:
    """True when a cell is empty or says that it holds nothing."""
    return cell.kind == "blank" or cell.text.lower() in MISSING_WORDS


def read_cell(heading: Heading, cell: Cell, way: Way) -> Any:
    """The value of a cell under a heading that is not a price; see `READERS` for its kind.

    Raises
    ------
    InputError
        It cannot be read with certainty.
    NoUnit
        Its unit is said neither in the cell nor in the heading.
    """
    if _TURNED.search(cell.text):
        raise refusal("", "a sign in the cell turns the direction of writing", do="Type it anew")
    if len(cell.text) > LONGEST_VALUE and heading.meaning not in (
        "note",
        "feed",
        "merchant",
        "like",
    ):
        raise refusal(cell.text, "the text is too long for one value")
    if heading.is_figure:
        return _figure(heading, cell, way)
    return READERS[heading.meaning](heading, cell, way)


def _amount(heading: Heading, cell: Cell, way: Way, wanted: str, implied: str = "") -> str:
    """The number of a cell with its unit, from the cell or from the heading."""
    if cell.kind == "date":
        raise refusal(cell.text, "a date where a number is wanted")
    text = cell.text if cell.kind == "number" else pointed(cell.text, comma=way.has_decimal_comma)
    low = text.lower()
    if re.search(r"[€$¥]|\b(?:eur|euros?|usd|dollars?)\b", low) or heading.unit in (
        "eur",
        "€",
        "$",
    ):
        raise refusal(cell.text, "not in pounds", "prices are in GBP", "Ask for it in pounds")
    low = re.sub(r"£|\bgbp\b", "", low).strip()
    if re.search(r"[0-9] ?tons?\b", low) or (
        heading.unit == "ton" and re.fullmatch(rf"[+-]? ?{NUM}", low)
    ):
        raise refusal(cell.text, 'a "ton" is 1,000 kg or 1,016 kg', do='Write "t" or "long ton"')
    if re.fullmatch(rf"[+-]? ?{NUM}(?:e[+-]?[0-9]+)?", low):
        unit = heading.unit or implied
        if not unit:
            raise NoUnit(wanted)
        return f"{low} {unit}"
    return low


# ---------------------------------------------------------------- words


def _words(heading: Heading, cell: Cell, way: Way) -> str:
    return cell.text


def _name(heading: Heading, cell: Cell, way: Way) -> str:
    if cell.kind != "text" or not re.search(r"[^\W\d_]", cell.text):
        raise refusal(cell.text, "a name is wanted here", "words", "Write the name")
    return cell.text


def _delivery(heading: Heading, cell: Cell, way: Way) -> bool:
    low = cell.text.lower().replace("-", " ").rstrip(".")
    says_collected = "collected" in heading.written.lower() and (
        "deliv" not in heading.written.lower()
    )
    if low in ("yes", "y", "true", "x"):
        return says_collected
    if low in ("no", "n", "false"):
        return not says_collected
    if low in _DELIVERY:
        return _DELIVERY[low]
    raise refusal(cell.text, "delivered or collected is wanted", do='Write "delivered"')


def _vat(heading: Heading, cell: Cell, way: Way) -> tuple[str, float | None]:
    low = cell.text.lower()
    if "vat" not in low:
        low_vat = re.sub(rf"(?<![a-z])({_EX_INC})(?![a-z])\.?", r"\1 vat", low)
    found = phrase(low if "vat" in low else low_vat)
    if low in ("zero", "zero rated", "zero-rated", "nil", "0", "0 %", "0%", "exempt", "none"):
        return "ex", None
    if not found.vat or found.rest:
        raise refusal(cell.text, "ex or inc VAT is wanted", do='Write "ex" or "inc 20 %"')
    return found.vat, found.vat_share


def _made_for(heading: Heading, cell: Cell, way: Way) -> str:
    low = cell.text.lower()
    parts = [p for p in re.split(r"\s*(?:,|/|&|\+|\band\b)\s*", low) if p]
    if not parts or any(p not in _MADE_FOR for p in parts):
        allowed = "sheep, cattle, horse, pig or poultry"
        raise refusal(cell.text, "the animals are not known", f"allowed: {allowed}")
    animals = {_MADE_FOR[p] for p in parts}
    return "" if "" in animals else sorted(animals)[0]


def made_for_by_name(feed: str) -> str:
    """The animal a feed's name speaks of when it names no sheep: "Dairy nuts" gives cattle."""
    words = re.findall(r"[a-z]+", feed.lower())
    known = [_MADE_FOR[w] for w in words if w in _MADE_FOR]
    return known[0] if known and "" not in known else ""


def _per(heading: Heading, cell: Cell, way: Way) -> Phrase:
    low = re.sub(r"^(?:£|gbp)? ?(?:/|per|an?)? ?", "", cell.text.lower())
    found = phrase(low if low == "each" else f"per {low}")
    if found.is_ton:
        raise refusal(cell.text, 'a "ton" is 1,000 kg or 1,016 kg', do='Write "t"')
    if not found.has_unit or found.rest:
        raise refusal(cell.text, "a tonne, a kg, or a bag with its weight is wanted",
                      do='Write "t" or "25 kg bag"')  # fmt: skip
    return found


def _pack(heading: Heading, cell: Cell, way: Way) -> tuple[str, float | None]:
    low = cell.text.lower()
    if cell.kind == "number" or re.fullmatch(rf"{NUM} ?(?:kgs?|kilos?)?", low):
        kg = units.mass_kg(_amount(heading, cell, way, "the weight in kg"), "weight of a pack")
        return pack_kind("bale" if heading.meaning == "bale" else "bag", _weight_ok(cell, kg))
    found = phrase(pointed(low, comma=way.has_decimal_comma))
    if not found.pack or found.rest or found.has_unit:
        raise refusal(cell.text, "the pack is not known",
                      'allowed: "bulk", "tonne bag", "25 kg bag", "18 kg bale"')  # fmt: skip
    if found.pack_kg is not None:
        _weight_ok(cell, found.pack_kg)
    return found.pack, found.pack_kg


def _weight_ok(cell: Cell, kg: float) -> float:
    if not 0.5 <= kg <= 2000:
        raise refusal(cell.text, "a pack weighs 0.5 to 2,000 kg")
    return kg


# ---------------------------------------------------------------- tonnes and counts


def _tonnes(heading: Heading, cell: Cell, way: Way) -> float | Packs:
    low = cell.text.lower().rstrip(".")
    if heading.meaning == "least":
        if low in _NOUGHT:
            return 0.0
        low = re.sub(r"^(?:min(?:imum)?|least)\.? ", "", low)
    low = re.sub(r" ?only$", "", low)
    if hit := re.fullmatch(r"(an?|[0-9]+) ?(?:full )?(pallets?|bags?|bales?)", low):
        count = 1.0 if hit.group(1).startswith("a") else float(hit.group(1))
        return Packs(count, hit.group(2).startswith("pallet"))
    bare = cell if cell.kind != "text" else Cell(low, "text")
    wanted = "tonnes, or pallets"
    result = units.mass_kg(_amount(heading, bare, way, wanted), "tonnes") / 1000
    if heading.meaning != "least" and result <= 0:
        raise refusal(cell.text, "more than nothing is wanted")
    if result > 10_000:
        raise refusal(cell.text, "at most 10,000 t is read here")
    return result


def _from(heading: Heading, cell: Cell, way: Way) -> tuple[float, float | None]:
    low = cell.text.lower().replace("\u2013", "-")
    if cell.kind == "number" or re.fullmatch(rf"{NUM} ?[a-z ]*", low):
        return units.mass_kg(_amount(heading, cell, way, "tonnes"), "tonnes") / 1000, None
    if hit := re.fullmatch(rf"(?:under|below|less than|up to|<) ?({NUM}) ?(t|tonnes?)?", low):
        size = units.number(pointed(hit.group(1), comma=way.has_decimal_comma), "tonnes")
        return 0.0, size
    has_unit = re.search(r"[0-9] ?(?:t\b|te\b|tonnes?\b)", low) is not None
    if not has_unit and heading.unit == "t":
        low = re.sub(rf"({NUM})(?!.*[0-9])", r"\1 t", low)
    elif not has_unit:
        raise NoUnit("tonnes")
    found = phrase(pointed(low, comma=way.has_decimal_comma))
    if found.from_t is None or found.rest:
        raise refusal(cell.text, "tonnes from which the price holds are wanted",
                      do='Write "15" or "15-29 t"')  # fmt: skip
    return found.from_t, found.to_t


def _per_pallet(heading: Heading, cell: Cell, way: Way) -> int:
    form = (
        r"(?:pallets? ?(?:of )?)?([0-9]{1,3})(?: ?(?:bags?|bales?|packs?))?"
        r"(?: ?(?:/|a|per) ?pallet)?"
    )
    hit = re.fullmatch(form, cell.text.lower())
    if not hit or int(hit.group(1)) < 1:
        raise refusal(cell.text, "a whole number of bags on a pallet is wanted")
    return int(hit.group(1))


def _lorry(heading: Heading, cell: Cell, way: Way) -> float:
    low = re.sub(r" only$", "", cell.text.lower())
    if low in ("artic", "artics", "articulated", "articulated lorry", "artic lorry"):
        return ARTIC_T
    if low in ("rigid", "lorry", "wagon", "any"):
        raise refusal(cell.text, "its laden weight is not said", "a rigid is 18, 26 or 32 t",
                      'Write "18 t rigid"')  # fmt: skip
    low = re.sub(r" ?(?:rigids?|artics?|lorry|wagon|laden|gross|gvw)\b", "", low).strip()
    bare = cell if cell.kind != "text" else Cell(low, "text")
    result = units.mass_kg(_amount(heading, bare, way, "tonnes laden"), "lorry") / 1000
    if not LIGHTEST_LORRY_T <= result <= ARTIC_T:
        raise refusal(cell.text, "not a lorry's laden weight", "3 to 44 t")
    return result


# ---------------------------------------------------------------- money and days


def _money(heading: Heading, cell: Cell, way: Way) -> float:
    low = cell.text.lower()
    if low in _NOUGHT:
        return 0.0
    low = re.sub(r" ?(?:/|per|an?|each) ?(?:drop|load|delivery)$", "", low)
    bare = cell if cell.kind != "text" else Cell(low, "text")
    text = _amount(heading, bare, way, "GBP", implied="gbp")
    size = re.sub(r" ?gbp(?:/(?:drop|load|delivery))?$", "", text)
    return _money_ok(cell, units.number(size, "charge"), 10_000)


def _money_per_t(heading: Heading, cell: Cell, way: Way) -> float:
    if cell.text.lower() in _NOUGHT:
        return 0.0
    text = _amount(heading, cell, way, "GBP a tonne").replace("gbp/", "/").lstrip("+ ")
    if not re.search(r"[a-z]", text) and "%" in text:
        raise refusal(cell.text, "a share of the price", "GBP a tonne is wanted")
    return _money_ok(
        cell, units.price_gbp_per_t(text, WORDS_OF.get(heading.meaning, "price")), 5000
    )


def _rise(heading: Heading, cell: Cell, way: Way) -> tuple[float, date | Month | None]:
    if cell.text.lower() in _NOUGHT:
        return 0.0, None
    text = _amount(heading, cell, way, "GBP a tonne a month").replace("gbp/", "/").lstrip("+ ")
    form = r"(.*?) ?(?:/|per|an?) ?month(?:ly)?(?:,? from (.+))?"
    hit = re.fullmatch(form, text)
    if not hit:
        raise refusal(cell.text, "the rise does not say a month", do='Write "6 /t a month"')
    per_t = re.sub(r" ?a t$", " /t", hit.group(1))
    size = _money_ok(cell, units.price_gbp_per_t(per_t, "rise"), 5000)
    return size, _month(hit.group(2)) if hit.group(2) else None


def _money_ok(cell: Cell, size: float, most: float) -> float:
    if size > most:
        raise refusal(cell.text, "not a believable sum", f"at most {most:,.0f} GBP")
    return size


def _payment(heading: Heading, cell: Cell, way: Way) -> int:
    low = cell.text.lower()
    if re.fullmatch(r"(?:cash|payment|paid)? ?(?:with order|on delivery|with the order|cash)", low):
        return 0
    is_days = "day" in heading.written.lower() or heading.unit == "day"
    hit = re.fullmatch(r"([0-9]{1,3})(?:\.0)?( ?days?(?: net| nett)?)?", low)
    if hit and (hit.group(2) or is_days):
        return int(hit.group(1))
    if hit:
        raise NoUnit("days")
    raise refusal(cell.text, "days to pay are wanted", do='Write "28 days"')


def _day(heading: Heading, cell: Cell, way: Way) -> date:
    if cell.day is not None:
        if not 1990 <= cell.day.year <= 2100:
            raise refusal(cell.text, f"the date is in the year {cell.day.year}", "1990 to 2100")
        return cell.day
    return units.day(cell.text, "date")


def _valid_until(heading: Heading, cell: Cell, way: Way) -> date | Days:
    low = re.sub(r"^(?:valid )?(?:for )?", "", cell.text.lower())
    hit = re.fullmatch(r"([0-9]{1,3})( ?(?:days?|d|weeks?))?", low)
    if hit is None or cell.day is not None:
        return _day(heading, cell, way)
    unit = (hit.group(2) or heading.unit).strip()
    if not unit:
        raise NoUnit("a date, or days")
    return Days(int(hit.group(1)) * (7 if unit.startswith("w") else 1))


def _month(text: str) -> date | Month:
    bare = text.strip().rstrip(".")
    if re.fullmatch(r"[A-Za-z]+", bare):
        return Month(units.day(f"1 {bare} 2000", "month").month, bare)
    if re.fullmatch(r"[A-Za-z]+ [0-9]{4}", bare):
        return units.day(f"1 {bare}", "month")
    return units.day(bare, "month")


def _rise_from(heading: Heading, cell: Cell, way: Way) -> date | Month:
    return _day(heading, cell, way) if cell.day is not None else _month(cell.text)


# ---------------------------------------------------------------- declared figures


def _figure(heading: Heading, cell: Cell, way: Way) -> Figured:
    nutrient = heading.meaning
    what = figure_words(nutrient)
    kind = BY_ID[nutrient].kind
    wanted = {"trace": "mg/kg", "energy": "MJ/kg DM"}.get(kind, "% or g/kg")
    text = _amount(heading, cell, way, wanted)
    is_bare = cell.kind != "percent" and re.fullmatch(rf"{NUM}", cell.text) is not None
    plain = re.match(r"[0-9]+(?:\.[0-9]+)?(?![0-9.])", text)
    size = float(plain.group()) if plain else 0.0
    is_doubtful = way.is_percent_lost or nutrient in _WHOLE_FEED
    if is_bare and heading.unit == "%" and is_doubtful and 0 < size <= 1:
        raise refusal(
            cell.text,
            f"{what} may be {size:g} % or {100 * size:g} %",
            "such a file does not say which" if way.is_percent_lost else "",
            f'Write "{100 * size:g} %" as text, or the figure meant with its sign',
        )
    if kind == "trace":
        found = units.trace_mg_per_kg(text, what)
        most = 20_000.0
    elif kind == "energy":
        found, most = units.energy_mj_per_kg(text, what), 40.0
    else:
        found, most = units.content_g_per_kg(text, what), 1000.0
    if found.value > most:
        raise refusal(cell.text, f"{what} is too high")
    if nutrient == "dm_g_per_kg_fresh" and found.value < 30:
        raise refusal(cell.text, f"{what} is too low", "3 to 100 %")
    basis = found.basis or (heading.basis or None)
    quantity = units.Quantity(found.value, found.unit, basis)  # type: ignore[arg-type]
    return Figured(nutrient, quantity, cell.text, heading.written)


READERS: Mapping[str, Callable[[Heading, Cell, Way], Any]] = {
    "merchant": _name, "feed": _name, "like": _words, "per": _per, "from": _from, "pack": _pack,
    "bag": _pack, "bale": _pack, "per_pallet": _per_pallet, "least": _tonnes, "most": _tonnes,
    "charge": _money, "lorry": _lorry, "all": _tonnes, "delivery": _delivery,
    "haulage": _money_per_t, "cash_off": _money_per_t, "payment": _payment, "valid_from": _day,
    "valid_until": _valid_until, "dated": _day, "delivered_until": _day, "rise": _rise,
    "rise_from": _rise_from, "vat": _vat, "made_for": _made_for, "note": _words,
}  # fmt: skip
WORDS_OF = {"haulage": "haulage", "cash_off": "the sum off for cash"}

__all__ = [
    "DEAREST_GBP_PER_T", "Days", "Figured", "Month",
    "NoUnit", "Packs", "Way", "is_blank", "made_for_by_name", "read_cell",
]  # fmt: skip
