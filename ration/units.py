"""Quantities as farmers write them, read with certainty or refused; and the way back to words.

Inside the program every number is a plain float in SI with its unit in its name. Here, at the
edge, text such as "5 st 12 lb", "8.35 per 20 kg bag" or "8.6 %" becomes such a float. Anything
that is not wholly understood raises `UnitError`: a bare number where a unit is needed, "13,2",
"1e5", a bag of unsaid weight. Nothing is guessed.

British measures are exact by law from 1 lb = 0.45359237 kg: 16 oz to the lb, 14 lb to the stone,
112 lb to the hundredweight, 2,240 lb to the (long) ton (Weights and Measures Act 1985, schedule
1); 1 ft = 0.3048 m (the same); 1 cal = 4.184 J (thermochemical calorie, by definition).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from typing import Literal

from ration.errors import UnitError
from ration.plain_text import number, plain, refusal, shown, split, whole

__all__ = [
    "COUNT", "CWT_KG", "FOOT_M", "LB_KG", "MJ_PER_MCAL", "OZ_KG", "STONE_KG", "TON_KG", "Basis",
    "Quantity", "Readable", "area_m2", "content_g_per_kg", "content_per_kg_dm",
    "content_per_kg_fresh", "day", "days", "dm_to_fresh_kg", "eaten_kg", "energy_mj_per_kg",
    "fresh_to_dm_kg", "gain_g_per_day", "in_words_day", "in_words_kg", "is_guess", "length_m",
    "mass_kg", "money", "number", "offered_kg", "pence", "plain", "price_gbp_per_t",
    "price_gbp_per_t_dm", "price_p_per_mj", "share", "shown", "stock_t", "trace_mg_per_kg",
    "whole",
]  # fmt: skip

LB_KG = 0.45359237
OZ_KG = LB_KG / 16
STONE_KG = 14 * LB_KG
CWT_KG = 112 * LB_KG
TON_KG = 2240 * LB_KG
FOOT_M = 0.3048
MJ_PER_MCAL = 4.184

Basis = Literal["dm", "fresh"]
Readable = str | int | float

_MASSES: dict[str, float] = {
    **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramme"), 1.0),
    **dict.fromkeys(("g", "gram", "grams", "gramme", "grammes"), 0.001),
    **dict.fromkeys(("t", "tonne", "tonnes"), 1000.0),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), LB_KG),
    **dict.fromkeys(("oz", "ounce", "ounces"), OZ_KG),
    **dict.fromkeys(("st", "stone", "stones"), STONE_KG),
    **dict.fromkeys(("cwt", "hundredweight", "hundredweights"), CWT_KG),
    **dict.fromkeys(("ton", "tons", "long ton", "long tons"), TON_KG),
}
_IMPERIAL = (LB_KG, OZ_KG, STONE_KG, CWT_KG, TON_KG)
_LENGTHS = {
    **dict.fromkeys(("m", "metre", "metres"), 1.0),
    **dict.fromkeys(("ft", "foot", "feet"), FOOT_M),
}
_AREAS = {
    **dict.fromkeys(("m2", "sq m", "square metre", "square metres"), 1.0),
    **dict.fromkeys(("ft2", "sq ft", "square foot", "square feet"), FOOT_M**2),
}
_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september",
    "october", "november", "december",
)  # fmt: skip
_PACKS = (
    r"(?:small |round |big |square |tonne |bulk )*"
    r"(?:bale|round|square|bag|sack|block|bucket|tub|load|pallet|tote)s?"
)
# what follows the number in "640 bales of 18.4 kg": the word and, when it is said, the weight
COUNT = re.compile(
    rf"({_PACKS})(?:,? (?:of|at|x|guess|about|say)(?: about| say)? (.+?)(?: each)?)?"
)
_MASS_WORDS = "kg, g, t, lb, oz, st, cwt or ton"


@dataclass(frozen=True)
class Quantity:
    """A content of a feed as read.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        g/kg, mg/kg or MJ/kg.
    basis : "dm", "fresh" or None
        What the kg is a kg of; None when it was not said.
    """

    value: float
    unit: str
    basis: Basis | None


def _unit_unknown(text: str, what: str, rest: str, units: str, example: str) -> UnitError:
    if not rest:
        return refusal(text, f"{what} needs its unit", do=f'Write "{example}"')
    return refusal(
        text,
        f'{what} has an unknown unit "{rest[:30]}"',
        f"allowed: {units}",
        f'Write it like "{example}"',
    )


def _simple(value: object, what: str, units: dict[str, float], words: str, example: str) -> float:
    text = plain(value, what)
    size, rest = split(text, what)
    if rest not in units:
        shown_example = f"{size:g} {example}" if not rest else f"12 {example}"
        raise _unit_unknown(text, what, rest, words, shown_example)
    return size * units[rest]


# ---------------------------------------------------------------- masses, lengths, dates


def mass_kg(value: Readable, what: str = "weight") -> float:
    """A mass [kg]: "37.2 kg", "82 lb", "5 st 12 lb", "680 g", "2 cwt", "1.8 t".

    Examples
    --------
    >>> mass_kg("1.5 lb")
    0.680388555
    """
    text = plain(value, what)
    total, last, rest = 0.0, math.inf, text
    while rest:
        size, tail = split(rest, what)
        found = re.match(r"[a-z ]*[a-z]", tail)
        unit = found.group().strip() if found else ""
        if unit not in _MASSES:
            example = f"{size:g} kg" if text == rest and not tail else "37.2 kg"
            raise _unit_unknown(text, what, tail, _MASS_WORDS, example)
        factor = _MASSES[unit]
        rest = tail[len(unit) :].strip()
        if last < math.inf or rest:  # several parts: stones and pounds, big ones first
            if factor not in _IMPERIAL or factor >= last or size * factor >= last:
                raise refusal(text, f"{what} has parts that do not follow", do='Write "5 st 12 lb"')
            if rest and size != int(size):
                raise refusal(text, f"{what} has a broken part before another")
        total, last = total + size * factor, factor
    return total


def length_m(value: Readable, what: str = "length") -> float:
    """A length [m]: "54 m", "180 ft"."""
    return _simple(value, what, _LENGTHS, "m or ft", "m")


def area_m2(value: Readable, what: str = "area") -> float:
    """An area [m2]: "128 m2", "1400 sq ft"."""
    return _simple(value, what, _AREAS, "m2 or sq ft", "m2")


def day(value: object, what: str = "date") -> date:
    """A date: "28 October 2026", "2026-10-28" or "28/10/2026", day before month.

    Examples
    --------
    >>> day("28 Oct 2026").isoformat()
    '2026-10-28'
    """
    how = ("", 'Write "28 October 2026"')
    if isinstance(value, date):
        return value
    text = plain(value, what)
    if found := re.fullmatch(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})", text):
        year, month, of_month = (int(g) for g in found.groups())
    elif found := re.fullmatch(r"([0-9]{1,2})/([0-9]{1,2})/([0-9]{4})", text):
        of_month, month, year = (int(g) for g in found.groups())
        if month > 12 >= of_month:
            raise refusal(
                text,
                f"{what} puts the month first",
                "the day comes first",
                f'Write "{month}/{of_month}/{year}"',
            )
    elif found := re.fullmatch(r"([0-9]{1,2})(?:st|nd|rd|th)? ([A-Za-z]+),? ([0-9]{4})", text):
        word = found.group(2).lower()
        months = [
            i
            for i, m in enumerate(_MONTHS, 1)
            if m == word or (m[:3] == word) or (word == "sept" and m == "september")
        ]
        if not months:
            near = get_close_matches(word, _MONTHS, n=1)
            hint = f"Did you mean {near[0].capitalize()}?" if near else how[1]
            raise refusal(text, f'{what} has no such month as "{found.group(2)}"', do=hint)
        of_month, month, year = int(found.group(1)), months[0], int(found.group(3))
    elif re.fullmatch(r"[0-9]{1,2}[/. -][0-9A-Za-z]+[/. -][0-9]{2}", text):
        raise refusal(text, f"{what} needs all four figures of the year", *how)
    else:
        raise refusal(text, f"{what} is not a date that is read here", *how)
    if not 1990 <= year <= 2100:
        raise refusal(text, f"{what} is in the year {year}", "1990 to 2100")
    try:
        return date(year, month, of_month)
    except ValueError:
        raise refusal(text, f"{what} is not in the calendar", *how) from None


def days(value: Readable, what: str = "length") -> int:
    """A length of time [day]: "14 days", "2 weeks"."""
    units = dict.fromkeys(("day", "days"), 1.0) | dict.fromkeys(("week", "weeks"), 7.0)
    result = _simple(value, what, units, "days or weeks", "days")
    if result != int(result):
        raise refusal(value, f"{what} is in whole days")
    return int(result)


# ---------------------------------------------------------------- rates, shares and contents


def gain_g_per_day(value: Readable, what: str = "gain") -> float:
    """A gain [g/day]: "20 g", "41.7 g/day", "0.35 kg/week", "0.1 lb/day"; a loss reads below zero.

    Grams alone are a day; any other unit must say day or week.
    """
    text = plain(value, what)
    size, rest = split(text, what, below_zero=True)
    found = re.fullmatch(
        r"([a-z]+)(?: ?(?:/|per |a )(?: ?head ?(?:/|per |a ))? ?(day|d|week|wk))?", rest
    )
    mass = _MASSES.get(found.group(1)) if found else None
    if not found or mass is None or (found.group(2) is None and mass != 0.001):
        units = "g/day, kg/week or lb/day"
        raise _unit_unknown(text, what, rest, units, f"{size:g} g/day" if not rest else "20 g/day")
    days = 7.0 if (found.group(2) or "d").startswith("w") else 1.0
    return size * mass * 1000 / days


def share(value: Readable, what: str = "share", of: tuple[str, ...] = ()) -> float:
    """A share [0-1], written with a percent sign: "8.6 %", "12%".

    A number without the sign is refused: 0.5 might be a half or half of one per cent.

    Parameters
    ----------
    value : str
        What was written.
    what : str
        Name of the share, for messages.
    of : tuple of str
        Words allowed after "% of", such as "dry matter".
    """
    text = plain(value, what)
    size, rest = split(text, what)
    found = re.fullmatch(r"(?:%|per cent|percent)(?: of (?:the )?(.+))?", rest)
    if not found or (found.group(1) and found.group(1) not in of):
        example = f"{size:g} %" if size > 1 else f"{100 * size:g} %"
        raise _unit_unknown(text, what, rest, "a percentage", example)
    if size > 100:
        raise refusal(text, f"{what} is at most 100 %")
    return size / 100


_BASES: tuple[tuple[str, Basis], ...] = (
    (r"(?:dm|dry matter|dry)", "dm"),
    (r"(?:fresh weight|fresh|as fed)", "fresh"),
)


def _basis(rest: str) -> tuple[str, Basis | None]:
    """The unit and the basis that "g/kg dm", "% of dry matter" or "% fresh" carries."""
    rest = rest.replace(" per ", "/").replace("per kg", "/kg").replace("per cent", "%")
    for words, basis in _BASES:
        if found := re.fullmatch(rf"(.*?),?(?: of| in| in the)? \(?{words}(?: basis)?\)?", rest):
            return found.group(1).replace(" ", ""), basis
    return rest.replace(" ", ""), None


def content_g_per_kg(value: Readable, what: str = "content", most: float = 1000.0) -> Quantity:
    """A content [g/kg]: "8.6 %", "86 g/kg DM", "34 % fresh".

    Parameters
    ----------
    value : str
        What was written.
    what : str
        Name of the content, for messages.
    most : float
        Largest believable content. [g/kg]

    Examples
    --------
    >>> content_g_per_kg("86 g/kg DM")
    Quantity(value=86.0, unit='g/kg', basis='dm')
    """
    text = plain(value, what)
    size, rest = split(text, what)
    unit, basis = _basis(rest)
    factor = {"%": 10.0, "g/kg": 1.0, "mg/kg": 0.001, "kg/t": 1.0}.get(unit)
    if factor is None:
        raise _unit_unknown(text, what, rest, "% or g/kg", f"{size:g} % DM or {size:g} g/kg DM")
    result = size * factor
    if result > most * (1 + 1e-12):
        hint = f"Did you mean {size:g} g/kg?" if unit == "%" and size <= most else ""
        limit = f"at most {most / 10:g} % ({most:g} g/kg) is believable"
        raise refusal(text, f"{what} is too high", limit, hint)
    return Quantity(result, "g/kg", basis)


def trace_mg_per_kg(value: Readable, what: str = "content") -> Quantity:
    """A trace content [mg/kg]: "12 mg/kg DM", "12 ppm"."""
    text = plain(value, what)
    size, rest = split(text, what)
    unit, basis = _basis(rest)
    factor = {"mg/kg": 1.0, "ppm": 1.0, "g/t": 1.0, "g/kg": 1000.0}.get(unit)
    if factor is None:
        raise _unit_unknown(text, what, rest, "mg/kg or ppm", f"{size:g} mg/kg DM")
    return Quantity(size * factor, "mg/kg", basis)


def energy_mj_per_kg(value: Readable, what: str = "energy") -> Quantity:
    """An energy content [MJ/kg]: "8.7 MJ/kg DM", "2.1 Mcal/kg"; a bare 8.7 is MJ, basis unsaid."""
    text = plain(value, what)
    size, rest = split(text, what)
    unit, basis = _basis(rest)
    factor = {"": 1.0, "mj": 1.0, "mj/kg": 1.0, "mcal/kg": MJ_PER_MCAL}.get(unit)
    if factor is None:
        raise _unit_unknown(text, what, rest, "MJ/kg DM or Mcal/kg", "8.7 MJ/kg DM")
    result = size * factor
    if result > 40:
        raise refusal(text, f"{what} is too high", "no feed holds over 40 MJ/kg")
    return Quantity(result, "MJ/kg", basis)


# ---------------------------------------------------------------- prices and stocks


def price_gbp_per_t(value: Readable, what: str = "price") -> float:
    """A price [GBP/t]: "211 /t", "0.74 /kg", "74 p/kg", "8.35 per 20 kg bag".

    Examples
    --------
    >>> price_gbp_per_t("8.35 per 20 kg bag")
    417.5
    """
    text = plain(value, what)
    bare = re.sub(r"^([+-]?) ?£ ?", r"\1", text)
    size, rest = split(bare, what)
    found = re.fullmatch(r"(p)? ?(?:/|per\b|an?\b) ?(.+)", rest)
    if not found:
        units = 'a price per t, kg or bag: "211 /t", "8.35 per 20 kg bag"'
        raise _unit_unknown(text, what, rest, units, f"{size:g} /t")
    pence, per = found.groups()
    per = re.sub(rf" {_PACKS}$", "", per)
    if re.fullmatch(_PACKS, per):
        raise refusal(
            text,
            f"{what} is for a {per} of unsaid weight",
            do=f'Write the weight: "{size:g} per 20 kg {per}"',
        )
    # "per t" means one of them
    mass = mass_kg(per if per[0].isdigit() else f"1 {per}", f"the weight in the {what}")
    if mass <= 0:
        raise refusal(text, f"{what} is for no weight at all")
    return size * (0.01 if pence else 1.0) * 1000 / mass


def stock_t(value: Readable, what: str = "stock") -> float:
    """A stock [t]: "11.8 t", "640 bales of 18.4 kg", "90 bales, guess 17 kg"."""
    text = plain(value, what)
    size, rest = split(text, what)
    found = COUNT.fullmatch(rest)
    if not found:
        return mass_kg(text, what) / 1000
    if found.group(2) is None:
        raise refusal(
            text,
            f"{what} does not say what a {found.group(1).rstrip('s')} weighs",
            do=f'Weigh a few and write "{size:g} {found.group(1)} of 18.4 kg"',
        )
    if size != int(size):
        raise refusal(text, f"{what} counts whole {found.group(1)}")
    return size * mass_kg(found.group(2), f"the weight in the {what}") / 1000


def is_guess(value: object) -> bool:
    """True when a stock was written as a guess."""
    return bool(re.search(r"\b(guess|guessed|about|say)\b", str(value).lower()))


# ---------------------------------------------------------------- basis and waste


def _share_ok(value: float, what: str, least: float = 0.0) -> float:
    if not (least <= value <= 1.0 and value > 0.0):
        raise refusal(value, f"{what} is a share over 0 and at most 1")
    return value


def fresh_to_dm_kg(fresh_kg: float, dm_share: float) -> float:
    """Dry matter in a fresh weight [kg DM]."""
    return fresh_kg * _share_ok(dm_share, "dry matter")


def dm_to_fresh_kg(dm_kg: float, dm_share: float) -> float:
    """Fresh weight that holds a dry matter [kg fresh]."""
    return dm_kg / _share_ok(dm_share, "dry matter")


def content_per_kg_dm(content_per_kg_fresh: float, dm_share: float) -> float:
    """A content of the dry matter from one of the fresh feed [same unit per kg DM]."""
    return content_per_kg_fresh / _share_ok(dm_share, "dry matter")


def content_per_kg_fresh(content_per_kg_of_dm: float, dm_share: float) -> float:
    """A content of the fresh feed from one of the dry matter [same unit per kg fresh]."""
    return content_per_kg_of_dm * _share_ok(dm_share, "dry matter")


def price_gbp_per_t_dm(gbp_per_t_fresh: float, dm_share: float) -> float:
    """Price of a tonne of dry matter [GBP/t DM]."""
    return gbp_per_t_fresh / _share_ok(dm_share, "dry matter")


def price_p_per_mj(gbp_per_t_fresh: float, dm_share: float, me_mj_per_kg_dm: float) -> float:
    """Price of a megajoule of metabolisable energy [p/MJ]."""
    if not me_mj_per_kg_dm > 0:
        raise refusal(me_mj_per_kg_dm, "a feed without energy has no price per MJ")
    return price_gbp_per_t_dm(gbp_per_t_fresh, dm_share) / 10 / me_mj_per_kg_dm


def offered_kg(eaten_kg: float, waste_share: float) -> float:
    """Weight to offer so that this much is eaten [kg]."""
    return eaten_kg / _share_ok(1 - waste_share, "what is left after waste")


def eaten_kg(kg_offered: float, waste_share: float) -> float:
    """Weight eaten of what is offered [kg]."""
    return kg_offered * _share_ok(1 - waste_share, "what is left after waste")


# ---------------------------------------------------------------- back to words


def in_words_kg(kg: float, also: Literal["", "lb", "st"] = "") -> str:
    """A weight for print: grams when small, pounds or stones beside it when asked.

    Examples
    --------
    >>> in_words_kg(0.680388555, also="lb")
    '0.680 kg (1.5 lb)'
    """
    size = abs(kg)
    if size < 0.02:
        words = f"{kg * 1000:.1f} g"
    else:
        words = f"{kg:.3f} kg" if size < 10 else f"{kg:,.1f} kg"
    if also == "lb":
        pounds = kg / LB_KG
        beside = f"{kg / OZ_KG:.1f} oz" if abs(pounds) < 0.5 else f"{pounds:,.1f} lb"
        return f"{words} ({beside})"
    if also == "st":
        stones, pounds_left = divmod(round(size / LB_KG), 14)
        return f"{words} ({'-' if kg < 0 else ''}{stones} st {pounds_left} lb)"
    return words


def in_words_day(when: date) -> str:
    """A date for print: "28 October 2026"."""
    return f"{day_words(when)} {when.year}"


def day_words(when: date) -> str:
    """A date of the winter in hand: "28 October"."""
    return f"{when.day} {_MONTHS[when.month - 1].capitalize()}"


def money(gbp: float) -> str:
    """Pounds and pence for print: "£1,234.50"."""
    amount = round(gbp, 2) + 0.0
    return f"-£{-amount:,.2f}" if amount < 0 else f"£{amount:,.2f}"


def pence(gbp: float) -> str:
    """Small money for print: "9.8 p"."""
    return f"{round(gbp * 100, 1) + 0.0:.1f} p"


def in_words_standard(name: str) -> str:
    """A standard as it is cited.

    >>> in_words_standard("AFRC 1993")
    'AFRC (1993)'
    """
    body, _, year = name.rpartition(" ")
    return f"{body} ({year})" if body and year.isdigit() else name
