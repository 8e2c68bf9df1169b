"""A what-if from a line of text."""

from __future__ import annotations

import re
from collections.abc import Callable

from ration import units
from ration.errors import InputError, Problem
from ration.plain_text import plain, shown
from ration.what_if.records import (
    Change,
    FeedMove,
    LongWinter,
    Loss,
    MoreSheep,
    PriceMove,
)

# One standard deviation of a hay's figures: judgement, no source.
LESS_ME_MJ_PER_KG_DM = 0.5
LESS_CP_G_PER_KG_DM = 14.0
MOST_DAYS_LONGER = 120
MOST_HEAD = 10_000
MOST_PRICE_MOVE_GBP_PER_T = 1000.0
MOST_PRICE_MOVE_SHARE = 3.0
MOST_ME_MOVE_MJ_PER_KG_DM = 5.0
MOST_CP_MOVE_G_PER_KG_DM = 100.0
FORMS = (
    "long winter",
    "long winter 40 days",
    "cubes 16 blown +17 /t",
    "cubes 16 blown +10 %",
    "all bought feed +30 %",
    "poorer hay",
    "hay -0.5 MJ",
    "hay -14 g protein",
    "20 more sheep",
    "20 fewer sheep",
    "20 more in small",
    "lost 60 bales of Long Meadow",
    "lost 20 % of Bottom Ings",
    "lost 1.5 t of Bottom Ings",
)
_BALES = r"(?:small |round |big |square )*(?:bale|round|square)s?"
_PER_KG = r"(?:(?:/| per | a )?kg)?(?: (?:of )?(?:dm|dry matter))?"
_ENERGY = re.compile(rf"([0-9][0-9.,]*) ?mj(?: me)?{_PER_KG}", re.IGNORECASE)
_PROTEIN = re.compile(
    rf"([0-9][0-9.,]*) ?g{_PER_KG} (?:crude )?(?:protein|cp)(?: {_PER_KG})?", re.IGNORECASE
)


def parse(text: object) -> Change:
    """The change that a line of text asks for; names of feeds are looked up when it is applied.

    Raises
    ------
    InputError
        One line that lists what can be written.

    Examples
    --------
    >>> parse("cubes 16 blown +17 /t").words
    'cubes 16 blown +17 pounds a tonne'
    """
    try:
        line = plain(text, "a what-if")
        for pattern, read in _READERS:
            if found := re.fullmatch(pattern, line, re.IGNORECASE):
                return read(*found.groups())
    except InputError as error:
        first = error.problems[0]
        why = re.sub(r'^read ".*?": ', "", first.read, flags=re.DOTALL)
        raise _fault(text, "; ".join(part for part in (why, first.allowed) if part)) from None
    raise _fault(text, "this is not a what-if that is read here")


def _fault(text: object, why: str) -> InputError:
    forms = ", ".join(f'"{form}"' for form in FORMS)
    return InputError(Problem("", f"read {shown(text)}: {why}", "", f"Write one like {forms}"))


def _no(why: str) -> InputError:
    return InputError(Problem("", why))


def _number(digits: str, what: str, most: float, unit: str, least: float = 0.0) -> float:
    size = units.number(digits, what)
    if not least <= size <= most or size == 0:
        raise _no(f"{what} {size:g} is outside what is believable, up to {most:g} {unit}")
    return size


def _long_winter(days: str | None) -> Change:
    if days is None:
        return LongWinter()
    return LongWinter(int(_number(days, "a longer winter", MOST_DAYS_LONGER, "days")))


def _poorer(feed: str) -> Change:
    return FeedMove(feed, -LESS_ME_MJ_PER_KG_DM, -LESS_CP_G_PER_KG_DM)


def _sheep(digits: str, more: str, batch: str | None) -> Change:
    head = int(_number(digits, "the number of sheep", MOST_HEAD, "head"))
    return MoreSheep(-head if more.lower() in ("fewer", "less") else head, batch or "")


def _lost(amount: str, feed: str) -> Change:
    if bales := re.fullmatch(rf"([0-9][0-9,]*) {_BALES}", amount, re.IGNORECASE):
        return Loss(feed, bales=int(_number(bales.group(1), "the bales lost", 1e6, "bales")))
    if amount.endswith(("%", "per cent")):
        share = units.share(amount, "the share lost")
        if share > 0:
            return Loss(feed, share=share)
        raise _no("nothing is lost")
    tonnes = units.mass_kg(amount, "what was lost") / 1000
    if not 0 < tonnes <= 1e5:
        raise _no(f"{tonnes:g} t lost is outside what is believable")
    return Loss(feed, tonnes=tonnes)


def _moved(feed: str, sign: str, amount: str) -> Change:
    way = -1.0 if sign == "-" else 1.0
    if energy := _ENERGY.fullmatch(amount):
        most = MOST_ME_MOVE_MJ_PER_KG_DM
        return FeedMove(feed, way * _number(energy.group(1), "the energy", most, "MJ/kg DM"))
    if protein := _PROTEIN.fullmatch(amount):
        size = _number(protein.group(1), "the protein", MOST_CP_MOVE_G_PER_KG_DM, "g/kg DM")
        return FeedMove(feed, cp_g_per_kg_dm=way * size)
    if amount.endswith(("%", "per cent")):
        digits = amount.removesuffix("%").removesuffix("per cent").strip()
        most = 100 * MOST_PRICE_MOVE_SHARE if way > 0 else 99.0
        return PriceMove(feed, share=way * _number(digits, "the price move", most, "%") / 100)
    size = units.price_gbp_per_t(amount, "the price move")
    if not 0 < size <= MOST_PRICE_MOVE_GBP_PER_T:
        most = MOST_PRICE_MOVE_GBP_PER_T
        raise _no(f"the price move {size:g} a tonne is outside what is believable, up to {most:g}")
    return PriceMove(feed, gbp_per_t=way * size)


_READERS: tuple[tuple[str, Callable[..., Change]], ...] = (
    (r"(?:a )?long(?:er)? winter(?:,? (?:of )?([0-9]+) days?(?: more| longer)?)?", _long_winter),
    (r"poorer (.+)", _poorer),
    (r"([0-9][0-9,]*) (more|extra|fewer|less) (?:sheep|head|in (.+))", _sheep),
    (r"lost (.+?) of (.+)", _lost),
    (r"(.+) ([+-]) ?(\S.*)", _moved),
)
