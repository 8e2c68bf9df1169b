"""The words round a price, in a heading or in a cell, and numbers as merchants write them.

"Price £/t delivered ex VAT", "GBP per bag (20kg)", "8.35 per 20 kg bag", "287 from 15 t": what is
understood is taken out of the text, and what is left over is for the caller to recognise or to
refuse. Nothing is read from part of a word.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from ration.errors import InputError
from ration.plain_text import refusal, split
from ration.quotes.records import BAG, BALE, BULK, TONNE_BAG
from ration.units import mass_kg

TONNE_BAG_KG = 1000.0  # by its name; a bag of another weight must say so
LEAST_BIG_BAG_KG = 250.0  # from here up a bag is moved by a loader: common practice, no source

NUM = r"[0-9]+(?:[.,][0-9]+)*"
_PACK_WORD = (
    r"(?:(?:tonne|bulk|big|dumpy|small|mini|round|square|large|paper|plastic|conventional) )*"
    r"(?:bags?|bagged|sacks?|bales?|rounds?|buckets?|tubs?|blocks?)"
)
_TONNES = r"(?:t|te|mt|tonnes?|metric tonnes?)"
_MASS = rf"(?:{NUM}) ?(?:kgs?|kilos?|t|tonnes?|g|lbs?|cwt)"
_KG = rf"(?:{NUM}) ?(?:kgs?|kilos?)"
_PER = re.compile(
    rf"(?:/|\bper\b|\ban?\b) ?(?:(?P<w1>{_MASS})\b(?: ?(?P<p1>{_PACK_WORD})\b)?"
    rf"|(?P<p2>{_PACK_WORD})\b(?: ?(?:of|@|x)? ?(?P<w2>{_KG})\b)?"
    rf"|(?P<unit>{_TONNES}|kgs?|kilos?|cwt|tons?|long tons?)(?![a-z]))"
    r"|\b(?P<each>each)\b"
)
_PACK = re.compile(
    rf"(?:\bin )?(?:(?:(?P<w1>{_KG}) ?)?\b(?P<p>{_PACK_WORD})\b"
    rf"(?: ?(?:of|@|x)? ?(?P<w2>{_KG})\b)?"
    r"|\b(?P<bulk>bulk|blown|tipped|loose)\b)"
)
_FROM = re.compile(
    rf"(?P<a>{NUM}) ?{_TONNES}?(?: ?- ?| to )(?P<b>{NUM}) ?{_TONNES}\b"
    rf"|\bfrom (?P<c>{NUM}) ?{_TONNES}\b(?: (?:up|upwards?|and over|or more)\b)?"
    rf"|(?P<d>{NUM}) ?{_TONNES} ?(?:\+|\bplus\b|and (?:over|above|up)\b|or more\b|upwards?\b)"
)
_VAT = re.compile(
    r"\(?(?:"
    r"(?P<ex>\b(?:ex|exc|excl|exclude|excludes|excluding|exclusive of|plus|net of|before|no)\b"
    r"\.? ?|\+ ?)(?:of )?vat\b"
    r"|(?P<inc>\b(?:inc|incl|include|includes|including|inclusive of|with)\b\.? ?)(?:of )?vat\b"
    r"(?: ?(?:at|@|of)? ?(?P<rate>[0-9]+(?:\.[0-9]+)?) ?%)?"
    r"|(?P<zero>\bvat[ -]free\b|\bzero[ -]rated(?: for vat)?\b|\bvat (?:excluded|not included)\b)"
    r"|(?P<inc2>\bvat included\b))\)?"
)
_DELIVERED = re.compile(
    r"\b(?:delivered|deliv|deld|del'd|del|on farm|to farm)\b\.?(?: (?:in|to farm)\b)?"
)
_COLLECTED = re.compile(
    r"\b(?:collected|collect|to collect|collection only"
    r"|(?:ex|off)[ -](?:farm|store|works|mill|yard|quay|field))\b"
)
_FOREIGN = re.compile(r"[€$¥]|\b(?:eur|euros?|usd|dollars?|zl|kr)\b")
_STERLING = re.compile(r"£|\bgbp\b|\bpounds? sterling\b|\bstg\b")


@dataclass
class Phrase:
    """What was understood of a text, and what was not.

    Attributes
    ----------
    rest : str
        What is left, small letters.
    per_kg : float or None
        Weight the price is for. [kg]
    is_per_pack : bool
        The price is for one bag or bale; its weight is in `pack_kg` when said.
    pack, pack_kg : str, float or None
        One of `PACKS` or "". [kg]
    is_collected : bool or None
    vat : str
        ex, inc or "" when not said.
    vat_share : float or None
        Rate, when said. [-]
    from_t, to_t : float or None
        Tonnes from and up to which the price holds. [t]
    is_sterling, is_pence, is_foreign, is_ton : bool
        Signs of money seen; `is_ton` for "ton", which may be 1,000 or 1,016 kg.
    """

    rest: str
    per_kg: float | None = None
    is_per_pack: bool = False
    pack: str = ""
    pack_kg: float | None = None
    is_collected: bool | None = None
    vat: str = ""
    vat_share: float | None = None
    from_t: float | None = None
    to_t: float | None = None
    is_sterling: bool = False
    is_pence: bool = False
    is_foreign: bool = False
    is_ton: bool = False

    @property
    def has_unit(self) -> bool:
        """True when it says what weight or pack the price is for."""
        return self.per_kg is not None or self.is_per_pack or self.is_ton


def _kg(words: str) -> float:
    return mass_kg(re.sub(r"(?<=[0-9])(?=[a-z])", " ", words.replace(",", "")), "weight")


def pack_kind(word: str, kg: float | None) -> tuple[str, float | None]:
    """Kind of pack and its weight [kg] from its word: "tonne bag", "bag" of 25 kg, "bale".

    Examples
    --------
    >>> pack_kind("tonne bag", None), pack_kind("bag", 500.0), pack_kind("sacks", 25.0)
    (('tonne bag', 1000.0), ('tonne bag', 500.0), ('bag', 25.0))
    """
    if re.search(r"bales?$|rounds?$", word):
        return BALE, kg
    if "tonne" in word:
        return TONNE_BAG, TONNE_BAG_KG if kg is None else kg
    is_big = re.search(r"\b(?:bulk|big|dumpy)\b", word) is not None
    if is_big or (kg is not None and kg >= LEAST_BIG_BAG_KG):
        return TONNE_BAG, kg
    return BAG, kg


def phrase(text: str) -> Phrase:
    """Take a text apart.

    Examples
    --------
    >>> found = phrase("GBP per bag (20kg) ex VAT")
    >>> found.is_per_pack, found.pack, found.pack_kg, found.vat, found.rest
    (True, 'bag', 20.0, 'ex', '')

    Raises
    ------
    UnitError
        A weight or a tonnage in it cannot be read.
    """
    low = text.lower().replace("\u2212", "-").replace("\u2013", "-").replace("_", " ")
    found = Phrase(low)
    _take_vat(found)
    found.is_foreign = _FOREIGN.search(found.rest) is not None
    if _STERLING.search(found.rest):
        found.is_sterling = True
        found.rest = _STERLING.sub(" ", found.rest)
    found.rest = re.sub(r"\(([^()]*)\)|\[([^\[\]]*)\]", r" (\1\2) ", found.rest)
    if hit := _COLLECTED.search(found.rest):
        found.is_collected = True
        _cut(found, hit)
    elif hit := _DELIVERED.search(found.rest):
        found.is_collected = False
        _cut(found, hit)
    inside = re.sub(r"[()]", " ", found.rest)
    bare = " ".join(inside.split())
    taken = Phrase(bare)
    _take_from(taken)
    _take_per(taken)
    _take_pack(taken)
    if taken.rest != bare:  # brackets matter only where nothing was understood
        for name in ("per_kg", "is_per_pack", "pack", "pack_kg", "from_t", "to_t", "is_ton"):
            setattr(found, name, getattr(taken, name))
        found.rest = taken.rest
    found.rest = re.sub(r"\((?:[ |])*\)", " ", found.rest)
    found.rest = " ".join(re.sub(r"\||^[ |,:;]+|[ |,:;]+$", " ", found.rest).split())
    hit = re.fullmatch(r"(|.*[0-9]) ?(?:p|pence)|(?:p|pence) (.*)", found.rest)
    if hit and found.has_unit:
        found.is_pence = True
        found.rest = (hit.group(1) or hit.group(2) or "").strip()
    return found


def _cut(found: Phrase, hit: re.Match[str]) -> None:
    """Take a match out; a bar keeps its two sides from being read as one."""
    found.rest = " ".join(f"{found.rest[: hit.start()]} | {found.rest[hit.end() :]}".split())


def _take_vat(found: Phrase) -> None:
    hit = _VAT.search(found.rest)
    if hit is None:
        return
    is_inc = hit.group("inc") is not None or hit.group("inc2") is not None
    found.vat = "inc" if is_inc else "ex"
    if hit.group("rate"):
        found.vat_share = float(hit.group("rate")) / 100
    _cut(found, hit)
    if _VAT.search(found.rest):  # said twice: leave the second to be refused
        found.rest += " vat twice"


def _take_from(found: Phrase) -> None:
    hit = _FROM.search(found.rest)
    if hit is None:
        return
    low = hit.group("a") or hit.group("c") or hit.group("d")
    found.from_t = split(low, "tonnage")[0]
    found.to_t = split(hit.group("b"), "tonnage")[0] if hit.group("b") else None
    _cut(found, hit)


def _take_per(found: Phrase) -> None:
    hit = _PER.search(found.rest)
    if hit is None:
        return
    unit = hit.group("unit")
    word = hit.group("p1") or hit.group("p2")
    weight = hit.group("w1") or hit.group("w2")
    if hit.group("each"):
        found.is_per_pack = True
    elif word:
        found.is_per_pack = True
        found.pack, found.pack_kg = pack_kind(word, _kg(weight) if weight else None)
    elif weight:
        found.per_kg = _kg(weight)
    elif re.search(r"tons?$", unit) and unit not in ("long ton", "long tons"):
        found.is_ton = True
    else:
        is_tonne = re.fullmatch(_TONNES, unit) is not None
        found.per_kg = 1000.0 if is_tonne else _kg(f"1 {unit}")
    _cut(found, hit)


def _take_pack(found: Phrase) -> None:
    hit = _PACK.search(found.rest)
    if hit is None or (found.pack and not hit.group("bulk")):
        return
    if hit.group("bulk"):
        if found.pack:
            return
        found.pack = BULK
    else:
        weight = hit.group("w1") or hit.group("w2")
        found.pack, found.pack_kg = pack_kind(hit.group("p"), _kg(weight) if weight else None)
    _cut(found, hit)


# ---------------------------------------------------------------- numbers


def has_decimal_comma(texts: list[str]) -> bool:
    """True when some cell holds a number that can only be a decimal comma: 248,00 or 11,5 %."""
    form = re.compile(r"[£ ]*-?[0-9]+,[0-9]{1,2}(?:[ %£].*)?|[£ ]*[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+")
    return any(form.fullmatch(t) for t in texts)


def pointed(text: str, *, comma: bool) -> str:
    """A text with its numbers written with a point, or refused where one could be two numbers.

    Parameters
    ----------
    text : str
    comma : bool
        Whether the sheet has decimal commas elsewhere; then 1,010 may be two numbers.

    Examples
    --------
    >>> pointed("248,00", comma=True), pointed("1,010", comma=False), pointed("1.010,5", comma=True)
    ('248.00', '1010', '1010.5')
    """
    both_ways = (
        "it may be thousands or a decimal comma, as the sheet has both"
        if comma
        else "its commas and points do not fit"
    )

    def one(found: re.Match[str]) -> str:
        token = found.group()
        if "," not in token:
            if comma and re.fullmatch(r"[1-9][0-9]{0,2}(\.[0-9]{3})+", token):
                raise refusal(text, both_ways, do="Write the number without marks for thousands")
            return token
        if re.fullmatch(r"[1-9][0-9]{0,2}(,[0-9]{3})+", token):
            if comma:
                raise refusal(text, both_ways, do="Write the number without marks for thousands")
            return token.replace(",", "")
        if re.fullmatch(r"[1-9][0-9]{0,2}(,[0-9]{3})+\.[0-9]+", token):
            return token.replace(",", "")
        if re.fullmatch(r"[0-9]+,[0-9]+", token):
            return token.replace(",", ".")
        if re.fullmatch(r"[1-9][0-9]{0,2}(\.[0-9]{3})+,[0-9]+", token):
            return token.replace(".", "").replace(",", ".")
        raise refusal(text, both_ways, do="Write the number without marks for thousands")

    return re.sub(r"[0-9]+(?:[.,][0-9]+)*", one, text)


def number_in(text: str) -> float | None:
    """The number a text is, "£" and spaces aside; None when it is not one.

    Raises
    ------
    UnitError
        A number below zero, in brackets as books write it, or with too many digits.
    """
    bare = text.strip()
    if hit := re.fullmatch(rf"\( ?{NUM} ?\)|-? ?\(? ?-? ?{NUM} ?\)?-?", bare):
        if hit.group().strip("0123456789.,"):
            raise refusal(text, "a number below zero, or in brackets as books write it")
        return split(bare, "number")[0]
    return None


def is_number_like(text: str) -> bool:
    """True when a text starts as a number does, "£" aside."""
    return re.match(r"[£€$ (]*[+-]?[0-9]", text) is not None


def readable(error: InputError) -> tuple[str, str, str]:
    """Read, allowed and do of the first problem of an error."""
    first = error.problems[0]
    return first.read, first.allowed, first.do
