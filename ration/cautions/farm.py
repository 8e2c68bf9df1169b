"""When the cautions on pen, trough, floor, water, feed law and book figures are raised.

Every number compared with is in `feedtables/cautions.csv`.
"""

from __future__ import annotations

import math
import re

from ration.cautions.parts import (
    HAIR,
    Look,
    Parts,
    Rule,
    Tally,
    entering,
    names,
    number,
    over,
    under,
)
from ration.feeds import CONCENTRATE_GROUPS, FORAGE_GROUPS

RULES: dict[str, Rule] = {}
rule = entering(RULES)

# 0.305 m (a foot) of trough a head: common practice, no source.
USUAL_TROUGH_M = 0.305
# Litres a kg of metabolic weight (W^0.75), dry and in lamb: NRC (2007), restated in P-S90.
WATER_L_PER_KG_075 = (0.107, 0.146)
WATER_IN_LAMB_L_PER_KG_075 = (0.215, 0.290)
# W-S71: kitchen and catering waste, and animal protein, are banned.
BANNED = re.compile(
    r"\b(waste|meat|fish|blood|kitchen|catering|swill)(?![a-z])|\b(meat|fish|blood) ?meal", re.I
)


# ---------------------------------------------------------------- pen, trough, floor, water


@rule("pen-size", "head", numbers=1)
def _(look: Look) -> Parts | None:
    head = look.batch.head
    return {"head": number(head)} if over(head, look.value("pen-size")) else None


def _trough_m(look: Look) -> float | None:
    """Trough for each sheep fed at it; None when it is not known or not used."""
    if look.farm is None or look.farm.trough_m is None or not look.head_at_trough:
        return None
    return look.farm.trough_m / look.head_at_trough


@rule("trough-space", "m", "fit", "head", "usual", numbers=1, of_farm=True)
def _(look: Look) -> Parts | None:
    m = _trough_m(look)
    if m is None or not under(m, look.value("trough-space")):
        return None
    if under(m, look.value("trough-tight")):
        return None  # said in stronger words
    return {
        "m": number(m),
        "fit": number(math.floor(m * look.head_at_trough / USUAL_TROUGH_M + HAIR)),
        "head": number(look.head_at_trough),
        "usual": number(USUAL_TROUGH_M),
    }


@rule("trough-tight", "m", numbers=1, of_farm=True)
def _(look: Look) -> Parts | None:
    m = _trough_m(look)
    return {"m": number(m)} if m is not None and under(m, look.value("trough-tight")) else None


@rule("floor-space", "m2", "fit", "head", "out", numbers=2, of_farm=True)
def _(look: Look) -> Parts | None:
    if look.farm is None or look.farm.floor_m2 is None or not look.head_in_shed:
        return None
    m2, least = look.farm.floor_m2 / look.head_in_shed, look.value("floor-space")
    if not under(m2, least):
        return None
    fit = math.floor(look.farm.floor_m2 / least + HAIR)
    return {
        "m2": number(m2),
        "fit": number(fit),
        "head": number(look.head_in_shed),
        "out": number(look.head_in_shed - fit),
    }


@rule("water", "litres", numbers=1)
def _(look: Look) -> Parts | None:
    hay = sum(p.kg_dm_per_head_day for p in look.fed if p.feed.group == "hay")
    is_dry = look.told is not None and over(hay / look.told.dm_kg_per_day, look.value("water"))
    if look.batch.housing != "shed" and not is_dry:
        return None
    per_kg = (
        WATER_L_PER_KG_075 if look.batch.days_to_lambing is None else WATER_IN_LAMB_L_PER_KG_075
    )
    size = look.batch.weight_kg**0.75
    return {"litres": number(per_kg[0] * size).with_other(number(per_kg[1] * size))}


# ---------------------------------------------------------------- law, figures


@rule("feed-law", "feeds", numbers=1, of_farm=True)
def _(look: Look) -> Parts | None:
    groups = (*CONCENTRATE_GROUPS, "mineral", "npn")
    mixed = [p.name for p in look.fed if p.feed.group in groups]
    least = 1 if look.farm and look.farm.is_mixing_at_home else look.value("feed-law")
    return {"feeds": names(mixed)} if mixed and len(mixed) >= least else None


@rule("banned-words", "feeds", of_farm=True)
def _(look: Look) -> Parts | None:
    """Hay and grass are let be: a field may be called Blood Moss."""
    feeds = [(o.name, o.id, o.feed.group) for o in look.offers]
    feeds += [(p.name, p.id, p.feed.group) for p in look.fed]
    banned = [
        name
        for name, feed_id, group in feeds
        if group not in FORAGE_GROUPS and BANNED.search(f"{name} {feed_id}")
    ]
    return {"feeds": names(banned)} if banned else None


@rule("book-values", "count", "feeds", of_farm=True)
def _(look: Look) -> Parts | None:
    from ration.choices import wanted

    weak = [
        (p.id, nutrient)
        for p in look.fed
        for nutrient in wanted(p.feed)
        if (f := p.feed.figures.get(nutrient)) is not None and f.mark in ("memory", "guess")
    ]
    if not weak:
        return None
    return {"count": Tally(frozenset(weak)), "feeds": look.named({feed for feed, _ in weak})}


# ---------------------------------------------------------------- away on keep


@rule("movement", of_farm=True)
def _(look: Look) -> Parts | None:
    return {} if look.batch.housing == "away" else None


@rule("rickets-away", of_farm=True)
def _(look: Look) -> Parts | None:
    batch = look.batch
    return {} if batch.housing == "away" and batch.under_one_year else None
