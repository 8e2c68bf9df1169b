"""How each kind of value in a farm file is read: words, numbers with units, figures of feeds.

Every reader takes one plain value and gives ours, or raises `InputError` with one problem.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any

from ration import units
from ration.errors import InputError, Problem
from ration.plain_text import split
from ration.strict_yaml import nearest, tidy
from ration.units import Quantity, shown

MADE_FOR = ("sheep", "cattle", "horse", "pig", "poultry")
SIGNS = ("dusty", "mouldy", "brown", "punctured")
COPPER_BY_LAW_MG_PER_KG_DM = 17.1  # 15 mg/kg at 12 % moisture is 17.05 of dry matter
MOST_ITEMS = 200
MOST_PENS = 50
_IU = re.compile(
    r"(iu ?(?:/|per ) ?k?g)(?:,? ?\(?(?:(fresh weight|fresh|as fed)|(dm|dry matter|dry))\)?)?"
)
NOT_YET = ("to be entered", "to be asked", "not known", "not known yet")


def _no(value: object, fault: str, allowed: str = "", do: str = "") -> InputError:
    return InputError(Problem("", f"read {shown(value)}: {fault}", allowed, do))


def text(value: object) -> str:
    """A name or a note of at most 200 characters."""
    words = units.plain(value, "this text")
    if len(words) > 200:
        raise _no(words, "the text is too long", "at most 200 characters")
    return words


def id_of(name: object) -> str:
    """A feed's id from its name: "Long Meadow" is long-meadow, "Tom's oats" toms-oats."""
    return re.sub(r"[^\w]+", "-", tidy(name).replace("'", "")).strip("-")


def one_of(choices: tuple[str, ...], what: str) -> Callable[[Any], str]:
    """A reader of one word out of some."""
    by_tidy = {tidy(choice): choice for choice in choices}

    def read(value: Any) -> str:
        words = units.plain(value, what)
        if tidy(words) not in by_tidy:
            hint = nearest(tidy(words), tuple(by_tidy))
            raise _no(words, f"{what} is not known", f"it is one of {', '.join(choices)}", hint)
        return by_tidy[tidy(words)]

    return read


def yes_no(value: object) -> bool:
    """A yes or a no."""
    if isinstance(value, bool):
        return value
    raise _no("" if value is None else value, "a yes or a no is wanted", do="Write yes or no")


def names(value: object, what: str) -> tuple[str, ...]:
    """A list of names, or names with commas between."""
    if isinstance(value, list):
        if len(value) > MOST_ITEMS:
            raise _no(
                f"{len(value)} items", f"the list of {what} is too long", f"at most {MOST_ITEMS}"
            )
        return tuple(units.plain(item, what) for item in value)
    return tuple(part.strip() for part in units.plain(value, what).split(",") if part.strip())


def signs(value: object) -> tuple[str, ...]:
    """What was seen on the feed: dusty, mouldy, brown, punctured."""
    return tuple(one_of(SIGNS, "sign")(name) for name in names(value, "sign"))


def made_for(value: object) -> str:
    """The animal a bought feed is made for; "" for sheep."""
    animal = one_of(MADE_FOR, "made for")(value)
    return "" if animal == "sheep" else animal


def assume(value: object) -> tuple[str, ...]:
    """Feeds whose gaps may be filled: all, none, or their names."""
    if value is False:
        return ()
    ids = tuple(id_of(name) for name in names(value, "assume"))
    return () if ids == ("none",) else ids


def appetite(value: object) -> bool | float:
    """Hay to appetite: yes, no, or what one clears of it alone in a day. [kg fresh]"""
    if isinstance(value, bool):
        return value
    what = "hay to appetite"
    words = units.plain(value, what)
    if not words[0].isdigit():
        raise _no(words, f"{what} is yes, no or what they clear", do='Write yes, no or "0.8 kg"')
    return between(per("day", units.mass_kg, what), what, 0.1, 6.0, "kg a head a day")(words)


def files(value: object) -> tuple[str, ...]:
    """One file name or a list of them."""
    return names(value if isinstance(value, list) else [value], "file")


def under_one_year(value: object) -> bool:
    """Age: "under one year", "over one year" or "7 months"."""
    words = tidy(units.plain(value, "age")).replace("1 year", "one year")
    if words in ("under one year", "over one year"):
        return words.startswith("under")
    if words.endswith(" months"):
        return units.number(words.removesuffix(" months"), "age in months") < 12
    do = 'Write "under one year", "over one year" or "7 months"'
    raise _no(value, "age is not understood", do=do)


def mid_winter(value: object) -> bool:
    """Which weight is fed for: now or mid-winter."""
    return one_of(("now", "mid-winter"), "feed for")(value) == "mid-winter"


def pens(value: object) -> int | tuple[int, ...]:
    """How many pens, or the heads in each: 2, [46, 46] or "46, 46"."""
    if isinstance(value, list) or (isinstance(value, str) and "," in value):
        parts = value if isinstance(value, list) else value.split(",")
        if not 1 <= len(parts) <= MOST_PENS:
            raise _no(f"{len(parts)} pens", "that many pens cannot be", f"1 to {MOST_PENS}")
        return tuple(int(between(units.whole, "heads in a pen", 1, 10_000)(v)) for v in parts)
    return int(between(units.whole, "pens", 1, MOST_PENS)(value))


# ---------------------------------------------------------------- readers of numbers


def between(
    reader: Callable[[Any, str], float], what: str, least: float, most: float, unit: str = ""
) -> Callable[[Any], float]:
    """A reader that also keeps a number within a believable range."""

    def read(value: Any) -> float:
        result = reader(value, what)
        if not least <= result <= most:
            limits = f"{least:g} to {most:g} {unit}".strip()
            raise _no(value, f"{what} is outside what is believable", limits)
        return result

    return read


def tonnes(value: Any, what: str) -> float:
    """A weight [t] that is usually said in tonnes: "18 t"."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        raise _no(value, f"{what} needs its unit", do=f'Write "{value:g} t"')
    return units.mass_kg(value, what) / 1000


def per(period: str, reader: Callable[[Any, str], float], what: str) -> Callable[[Any, str], float]:
    """A reader that lets "a year" or "/day" stand after the quantity: "6 % a year"."""
    tail = re.compile(rf",? ?(?:\ba|\bper|/) ?{period}$", re.IGNORECASE)

    def read(value: Any, _: str = "") -> float:
        return reader(tail.sub("", value.strip()) if isinstance(value, str) else value, what)

    return read


def of_dm(what: str) -> Callable[[Any], float]:
    """A reader of a share of the dry matter: "30 %"."""
    return lambda value: units.share(value, what, of=("dry matter", "dm"))


def loss(what: str) -> Callable[[Any], float]:
    """A reader of a share that is lost: "12 %", at most 60 %."""
    return between(units.share, what, 0.0, 0.6, "(60 %)")


def margin(value: object) -> float:
    """Safety margin: 1.05 or "5 %"."""
    if isinstance(value, str) and "%" in value:
        return 1 + between(units.share, "margin", 0.0, 0.5, "(50 %)")(value)
    hint = 'Write 1.05 or "5 %"'
    result = units.number(value, "margin")
    if not 1.0 <= result <= 1.5:
        raise _no(value, "margin multiplies the need", "1.00 to 1.50", hint)
    return result


def price(value: object) -> float | None:
    """Delivered price [GBP/t]; None when it is to be entered."""
    if isinstance(value, str) and tidy(value) in NOT_YET:
        return None
    result = between(units.price_gbp_per_t, "price", 0.0, 100_000.0, "per tonne")(value)
    if result == 0:
        raise _no(value, "a bought feed has a price", "", 'For your own feed: "would fetch: 0 /t"')
    return result


def would_fetch(value: object) -> float:
    """What home feed would fetch [GBP/t], nothing included."""
    if isinstance(value, str) and tidy(value) == "nothing":
        return 0.0
    return between(units.price_gbp_per_t, "would fetch", 0.0, 100_000.0, "per tonne")(value)


def claim(value: object) -> float:
    """What others have first call on [t]: "7.7 t", none, or all (infinite)."""
    if value is False or (isinstance(value, str) and tidy(value) == "none"):
        return 0.0
    if isinstance(value, str) and tidy(value) == "all":
        return math.inf
    return units.stock_t(value, "first claim")  # type: ignore[arg-type]


def intake(value: object) -> tuple[str, float]:
    """Dry matter a day: ("share of weight", 0.02) or ("kg", 0.7)."""
    if isinstance(value, str) and "%" in value:
        of = ("weight", "live weight", "liveweight")
        share = between(
            lambda v, w: units.share(v, w, of=of),
            "dry matter a day",
            0.005,
            0.08,
            "(0.5 to 8 % of weight)",
        )
        return "share of weight", share(value)
    return "kg", between(units.mass_kg, "dry matter a day", 0.05, 5.0, "kg")(value)


def copper(value: object) -> float:
    """Most copper of the whole diet [mg/kg DM], never over the law's."""
    read = dry(units.trace_mg_per_kg, "most copper")(value)
    if read.value > COPPER_BY_LAW_MG_PER_KG_DM:
        allowed = "the law allows sheep 15 mg/kg at 12 % moisture, 17 mg/kg of dry matter"
        raise _no(value, "copper kills sheep", allowed, "Ask your vet")
    return read.value


def dry(reader: Callable[..., Quantity], what: str, **options: Any) -> Callable[[Any], Quantity]:
    """A reader of a content that must be of the dry matter."""

    def read(value: Any) -> Quantity:
        result = reader(value, what, **options)
        if result.basis == "fresh":
            raise _no(value, f"{what} is wanted per kg of dry matter")
        return result

    return read


def dry_matter(value: object) -> Quantity:
    """Dry matter of the fresh feed [g/kg fresh]."""
    result = units.content_g_per_kg(value, "dry matter")  # type: ignore[arg-type]
    if result.basis == "dm":
        raise _no(value, "dry matter is a share of the fresh feed", do='Write "84.6 %"')
    if result.value < 50:
        raise _no(value, "dry matter is outside what is believable", "5 to 100 %")
    return result


def fraction(what: str, most: float = 1.0) -> Callable[[Any], Quantity]:
    """A reader of a number between 0 and 1, or of a percentage."""

    def read(value: Any) -> Quantity:
        if isinstance(value, str) and "%" in value:
            return Quantity(units.share(value, what), "share", "dm")
        result = units.number(value, what)
        if result > most:
            raise _no(value, f"{what} is outside what is believable", f"0 to {most:g}")
        return Quantity(result, "share", "dm")

    return read


def _content(what: str, most: float = 1000.0) -> Callable[[Any], Quantity]:
    return lambda value: units.content_g_per_kg(value, what, most)


def _trace(what: str) -> Callable[[Any], Quantity]:
    return lambda value: units.trace_mg_per_kg(value, what)


def _energy(what: str) -> Callable[[Any], Quantity]:
    return lambda value: units.energy_mj_per_kg(value, what)


def _ph(value: Any) -> Quantity:
    return Quantity(between(units.number, "pH", 2.0, 10.0)(value), "pH", "dm")


def _vitamin(what: str) -> Callable[[Any], Quantity]:
    """A reader of "8000 IU/kg DM", "400,000 IU/kg fresh"; without a word it is per kg DM."""

    def read(value: Any) -> Quantity:
        words = units.plain(value, what)
        size, rest = split(words, what)
        found = _IU.fullmatch(rest)
        if found is None:
            do = f'Write it like "{size:g} IU/kg fresh" or "{size:g} IU/kg DM"'
            if what == "vitamin E" and rest.startswith("mg"):
                do += "; a label's mg of all-rac-alpha-tocopheryl acetate is as many IU"
            raise _no(words, f"{what} needs its unit", "allowed: IU/kg or IU/g", do)
        unit, fresh, dry = found.groups()
        factor = 1.0 if unit.endswith("kg") else 1000.0
        return Quantity(size * factor, "IU/kg", "fresh" if fresh else "dm" if dry else None)

    return read


# name in the farm file: (nutrient, reader)
FIGURES: dict[str, tuple[str, Callable[[Any], Quantity]]] = {
    "dry matter": ("dm_g_per_kg_fresh", dry_matter),
    "energy": ("me_mj_per_kg_dm", _energy("energy")),
    "D-value": ("domd_g_per_kg_dm", _content("D-value")),
    "protein": ("cp_g_per_kg_dm", _content("protein", 3000.0)),
    "bound nitrogen": ("adin_g_n_per_kg_dm", _content("bound nitrogen", 60.0)),
    "oil": ("oil_g_per_kg_dm", _content("oil")),
    "fibre (NDF)": ("ndf_g_per_kg_dm", _content("fibre (NDF)")),
    "fibre (ADF)": ("adf_g_per_kg_dm", _content("fibre (ADF)")),
    "starch": ("starch_g_per_kg_dm", _content("starch")),
    "sugar": ("sugar_g_per_kg_dm", _content("sugar")),
    "ash": ("ash_g_per_kg_dm", _content("ash")),
    "calcium": ("ca_g_per_kg_dm", _content("calcium", 410.0)),
    "phosphorus": ("p_g_per_kg_dm", _content("phosphorus", 300.0)),
    "magnesium": ("mg_g_per_kg_dm", _content("magnesium", 610.0)),
    "sodium": ("na_g_per_kg_dm", _content("sodium", 400.0)),
    "potassium": ("k_g_per_kg_dm", _content("potassium", 550.0)),
    "sulphur": ("s_g_per_kg_dm", _content("sulphur")),
    "copper": ("cu_mg_per_kg_dm", _trace("copper")),
    "molybdenum": ("mo_mg_per_kg_dm", _trace("molybdenum")),
    "selenium": ("se_mg_per_kg_dm", _trace("selenium")),
    "iron": ("fe_mg_per_kg_dm", _trace("iron")),
    "zinc": ("zn_mg_per_kg_dm", _trace("zinc")),
    "manganese": ("mn_mg_per_kg_dm", _trace("manganese")),
    "cobalt": ("co_mg_per_kg_dm", _trace("cobalt")),
    "iodine": ("i_mg_per_kg_dm", _trace("iodine")),
    "fluorine": ("f_mg_per_kg_dm", _trace("fluorine")),
    "vitamin A": ("vitamin_a_iu_per_kg_dm", _vitamin("vitamin A")),
    "vitamin D": ("vitamin_d_iu_per_kg_dm", _vitamin("vitamin D")),
    "vitamin E": ("vitamin_e_iu_per_kg_dm", _vitamin("vitamin E")),
    "gross energy": ("ge_mj_per_kg_dm", _energy("gross energy")),
    "pH": ("ph", _ph),
    "ammonia nitrogen": ("ammonia_n_share_of_n", fraction("ammonia nitrogen")),
    "non-protein nitrogen": ("npn_share_of_cp", fraction("non-protein nitrogen")),
}
DEGRADABILITY = {"a": "n_a_share", "b": "n_b_share", "c": "n_c_per_h"}
