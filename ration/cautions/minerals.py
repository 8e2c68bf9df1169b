"""When the cautions on copper, calcium, phosphorus, magnesium, vitamin D and urea are raised.

Every number compared with is in `feedtables/cautions.csv`. A figure that is not on file is never
taken as zero: what cannot be checked for want of it is said to be unknown, and a limit is only
said to be passed when the known part passes it alone.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ration.cautions.parts import Look, Parts, Rule, entering, names, number, over, own, under
from ration.standards.copper import stores_copper
from ration.standards.feed_conversions import N_TO_PROTEIN

if TYPE_CHECKING:
    from ration.assess import Portion

RULES: dict[str, Rule] = {}
rule = entering(RULES)

COPPER, MOLYBDENUM = "cu_mg_per_kg_dm", "mo_mg_per_kg_dm"
CALCIUM, PHOSPHORUS, MAGNESIUM = "ca_g_per_kg_dm", "p_g_per_kg_dm", "mg_g_per_kg_dm"
PROTEIN, NOT_PROTEIN = "cp_g_per_kg_dm", "npn_share_of_cp"
N_SHARE_OF_UREA = 28.014 / 60.056  # CH4N2O, from atomic weights (F-C)
DARK_MONTHS = (11, 12, 1, 2, 3)


# ---------------------------------------------------------------- copper


def _copper(look: Look) -> str:
    """The one caution on the amount of copper that is raised, or ""."""
    if look.told is None:
        return ""
    copper = look.known_per_kg_dm(COPPER)
    if over(copper, look.value("copper-stop")):
        return "copper-stop"
    if over(copper, look.value("copper-breed")) and stores_copper(look.batch.breed):
        return "copper-breed"
    if over(copper, look.value("copper-warn")):
        return "copper-warn"
    if (
        over(copper, look.value("copper-breed"))
        and not look.unknown(MOLYBDENUM)
        and under(look.known_per_kg_dm(MOLYBDENUM), look.value("copper-molybdenum"))
    ):
        return "copper-molybdenum"
    return ""


@rule("copper-stop", "copper", numbers=1)
def _(look: Look) -> Parts | None:
    if _copper(look) != "copper-stop":
        return None
    return {"copper": number(look.known_per_kg_dm(COPPER))}


@rule("copper-breed", "copper", "breed", numbers=1)
def _(look: Look) -> Parts | None:
    if _copper(look) != "copper-breed":
        return None
    return {"copper": number(look.known_per_kg_dm(COPPER)), "breed": names([look.batch.breed])}


@rule("copper-warn", "copper", "most", numbers=1)
def _(look: Look) -> Parts | None:
    if _copper(look) != "copper-warn":
        return None
    return {
        "copper": number(look.known_per_kg_dm(COPPER)),
        "most": number(look.value("copper-stop")),
    }


@rule("copper-molybdenum", "copper", "molybdenum", numbers=1)
def _(look: Look) -> Parts | None:
    if _copper(look) != "copper-molybdenum":
        return None
    return {
        "copper": number(look.known_per_kg_dm(COPPER)),
        "molybdenum": number(look.known_per_kg_dm(MOLYBDENUM)),
    }


@rule("copper-unknown", "feeds", of_farm=True)
def _(look: Look) -> Parts | None:
    missing = look.unknown(COPPER)
    return {"feeds": look.named(missing)} if missing else None


@rule("wrong-stock", "feeds", of_farm=True)
def _(look: Look) -> Parts | None:
    wrong = [f"{o.name} ({o.made_for})" for o in look.offers if o.made_for]
    return {"feeds": names(wrong)} if wrong else None


# ---------------------------------------------------------------- calcium, phosphorus, magnesium


def _unbalanced(look: Look) -> tuple[str, ...]:
    """Feeds of which calcium or phosphorus is not on file."""
    missing = {*look.unknown(CALCIUM), *look.unknown(PHOSPHORUS)}
    return tuple(p.id for p in look.fed if p.id in missing)


def _ratio(look: Look) -> float | None:
    """Calcium over phosphorus; None when it is not known or means nothing."""
    if look.told is None or _unbalanced(look) or not math.isfinite(look.told.ca_to_p):
        return None
    return look.told.ca_to_p


@rule("urinary-ratio", "ratio", numbers=1)
def _(look: Look) -> Parts | None:
    ratio = _ratio(look)
    if not look.is_male or ratio is None or not under(ratio, look.value("urinary-ratio")):
        return None
    return {"ratio": number(ratio)}


@rule("urinary-p", "p", numbers=1)
def _(look: Look) -> Parts | None:
    p = look.known_per_kg_dm(PHOSPHORUS)
    return {"p": number(p)} if look.is_male and over(p, look.value("urinary-p")) else None


@rule("urinary-mg", "mg", numbers=1)
def _(look: Look) -> Parts | None:
    mg = look.known_per_kg_dm(MAGNESIUM)
    return {"mg": number(mg)} if look.is_male and over(mg, look.value("urinary-mg")) else None


@rule("urinary-unknown", "feeds")
def _(look: Look) -> Parts | None:
    missing = look.unknown(MAGNESIUM)
    if not missing or not look.is_male:
        return None
    if over(look.known_per_kg_dm(MAGNESIUM), look.value("urinary-mg")):
        return None  # too much is known already
    return {"feeds": look.named(missing)}


@rule("ca-to-p-low", "ratio", numbers=1)
def _(look: Look) -> Parts | None:
    ratio = _ratio(look) if look.whole else None
    if look.is_male or ratio is None or not under(ratio, look.value("ca-to-p-low")):
        return None
    return {"ratio": number(ratio)}


@rule("ca-to-p-high", "ratio", numbers=1)
def _(look: Look) -> Parts | None:
    ratio = _ratio(look) if look.whole else None
    if ratio is None or not over(ratio, look.value("ca-to-p-high")):
        return None
    return {"ratio": number(ratio)}


@rule("ca-p-unknown", "feeds", of_farm=True)
def _(look: Look) -> Parts | None:
    missing = _unbalanced(look)
    return {"feeds": look.named(missing)} if missing else None


def _short(look: Look, name: str) -> Parts | None:
    """Supply and need of a balance that is short, all of it being known."""
    if look.whole is None:
        return None
    found = next(b for b in look.whole.balances if b.name == name)
    if found.need is None or found.unknown or not under(found.supply, found.need):
        return None
    return {"supply": number(found.supply), "need": number(found.need)}


@rule("p-short", "supply", "need")
def _(look: Look) -> Parts | None:
    return _short(look, "phosphorus")


@rule("ca-short", "supply", "need")
def _(look: Look) -> Parts | None:
    return _short(look, "calcium")


@rule("p-low-forage", "feeds", numbers=1, of_farm=True)
def _(look: Look) -> Parts | None:
    low = [
        f"{p.name} ({value:.1f})"
        for p in look.fed
        if p.feed.is_forage
        and (value := own(p.feed, PHOSPHORUS)) is not None
        and under(value, look.value("p-low-forage"))
    ]
    return {"feeds": names(low)} if low else None


@rule("vitamin-d", "gain", numbers=1)
def _(look: Look) -> Parts | None:
    gain = look.told.gain_g_per_day if look.told else look.batch.gain_g_per_day
    if look.farm is None or not over(gain, look.value("vitamin-d")):
        return None
    first, last = (d.year * 12 + d.month - 1 for d in (look.farm.start, look.farm.end))
    if not any(month % 12 + 1 in DARK_MONTHS for month in range(first, last + 1)):
        return None
    return {"gain": number(gain)}


# ---------------------------------------------------------------- urea


def _urea_sources(look: Look) -> list[Portion]:
    return [p for p in look.fed if (p.feed.get(NOT_PROTEIN) or 0.0) > 0]


def _is_light_for_urea(look: Look) -> bool:
    return look.batch.weight_kg < look.value("urea-light")


@rule("urea-light", "feeds", numbers=1)
def _(look: Look) -> Parts | None:
    sources = _urea_sources(look)
    if not sources or not _is_light_for_urea(look):
        return None
    return {"feeds": names(p.name for p in sources)}


@rule("urea-much", "feeds", "share", numbers=1)
def _(look: Look) -> Parts | None:
    sources = _urea_sources(look)
    if look.told is None or not sources or _is_light_for_urea(look):
        return None  # a light batch is stopped already
    urea_kg = sum(
        p.kg_dm_per_head_day * (p.feed.get(PROTEIN) or 0.0) * (p.feed.get(NOT_PROTEIN) or 0.0)
        for p in sources
    ) / (1000 * N_TO_PROTEIN * N_SHARE_OF_UREA)
    share = urea_kg / look.told.dm_kg_per_day
    if len(sources) < 2 and not over(share, look.value("urea-much")):
        return None
    return {"feeds": names(p.name for p in sources), "share": number(share)}


@rule("urea-unknown", "feeds")
def _(look: Look) -> Parts | None:
    """Bought compounds and blocks may hold urea; only light sheep are barred from any of it."""
    unknown = [
        p.name
        for p in look.fed
        if p.feed.group == "compound" and not p.is_home and p.feed.get(NOT_PROTEIN) is None
    ]
    return {"feeds": names(unknown)} if unknown and _is_light_for_urea(look) else None
