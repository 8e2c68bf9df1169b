"""When the cautions on the trough, spoiled feed, protein, energy and lambing are raised.

Every number compared with is in `feedtables/cautions.csv`. Of a part ration nothing is said that
grazing, which is not known, could put right.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import timedelta
from typing import TYPE_CHECKING

from ration.cautions.parts import Look, Parts, Rule, entering, names, number, over, own, under
from ration.units import day_words

if TYPE_CHECKING:
    from ration.assess import Portion

RULES: dict[str, Rule] = {}
rule = entering(RULES)

DRY_MATTER, ENERGY, PROTEIN = "dm_g_per_kg_fresh", "me_mj_per_kg_dm", "cp_g_per_kg_dm"
ASH, PH = "ash_g_per_kg_dm", "ph"
HEATED = ("dusty", "mouldy", "brown")


# ---------------------------------------------------------------- acidosis and the trough


def _meals(look: Look) -> int:
    return look.farm.meals_per_day if look.farm else 1


@rule("acidosis-cereal", "share", numbers=1)
def _(look: Look) -> Parts | None:
    told = look.whole
    if told is None or not over(told.cereal_share_of_dm, look.value("acidosis-cereal")):
        return None
    return {"share": number(told.cereal_share_of_dm)}


@rule("acidosis-meal", "kg", numbers=2)
def _(look: Look) -> Parts | None:
    cereal = sum(p.kg_fresh_offered_per_head_day for p in look.fed if p.feed.group == "cereal")
    kg = cereal / _meals(look)
    is_light = look.batch.weight_kg < look.second("acidosis-meal")
    return {"kg": number(kg)} if is_light and over(kg, look.value("acidosis-meal")) else None


@rule("acidosis-forage", "share", numbers=1)
def _(look: Look) -> Parts | None:
    told = look.whole
    if told is None or not under(told.forage_share_of_dm, look.value("acidosis-forage")):
        return None
    return {"share": number(told.forage_share_of_dm)}


@rule("trough-split", "kg", numbers=1)
def _(look: Look) -> Parts | None:
    if look.told is None:
        return None
    kg = look.told.concentrate_kg_fresh / _meals(look)
    return {"kg": number(kg)} if over(kg, look.value("trough-split")) else None


# ---------------------------------------------------------------- spoiled feed, hay


def _silage_signs(look: Look, portion: Portion) -> tuple[list[str], bool]:
    """What speaks for soil or air in a silage, and whether its ash is very high."""
    seen = []
    ash, ph = own(portion.feed, ASH), own(portion.feed, PH)
    if ash is not None and over(ash, look.value("listeria")):
        seen.append(f"ash {ash:.0f} g")
    if ph is not None and ph >= look.second("listeria"):
        seen.append(f"pH {ph:.1f}")
    if "punctured" in look.signs(portion):
        seen.append("punctured")
    return seen, ash is not None and over(ash, look.value("listeria-strong"))


def _suspect_silages(look: Look, *, strong: bool) -> Parts | None:
    found = []
    for portion in look.fed:
        if portion.feed.group == "silage":
            seen, is_strong = _silage_signs(look, portion)
            if seen and is_strong == strong:
                found.append(f"{portion.name} ({', '.join(seen)})")
    return {"feeds": names(found)} if found else None


@rule("listeria", "feeds", numbers=2, of_farm=True)
def _(look: Look) -> Parts | None:
    return _suspect_silages(look, strong=False)


@rule("listeria-strong", "feeds", numbers=1, of_farm=True)
def _(look: Look) -> Parts | None:
    return _suspect_silages(look, strong=True)


@rule("listeria-unknown", "feeds", of_farm=True)
def _(look: Look) -> Parts | None:
    unknown = [
        p.name
        for p in look.fed
        if p.feed.group == "silage" and own(p.feed, ASH) is None and not _silage_signs(look, p)[0]
    ]
    return {"feeds": names(unknown)} if unknown else None


@rule("mouldy-hay", "feeds", numbers=1, of_farm=True)
def _(look: Look) -> Parts | None:
    found = []
    for p in look.fed:
        seen = [sign for sign in look.signs(p) if sign in HEATED]
        dm = p.feed.get(DRY_MATTER)
        if p.feed.group == "hay" and dm is not None and under(dm, look.value("mouldy-hay")):
            seen.append(f"{dm / 1000:.0%} dry matter")
        if seen:
            found.append(f"{p.name} ({', '.join(seen)})")
    return {"feeds": names(found)} if found else None


def _spread(hays: Sequence[Portion], nutrient: str) -> float:
    known = [v for p in hays if (v := p.feed.get(nutrient)) is not None]
    return max(known) - min(known) if known else 0.0


@rule("hay-change", "feeds", numbers=2)
def _(look: Look) -> Parts | None:
    hays = [p for p in look.fed if p.feed.group == "hay"]
    if not (
        over(_spread(hays, PROTEIN), look.value("hay-change"))
        or over(_spread(hays, ENERGY), look.second("hay-change"))
    ):
        return None
    return {"feeds": names(p.name for p in hays)}


@rule("bought-hay", "feeds", of_farm=True)
def _(look: Look) -> Parts | None:
    bought = [
        p.name
        for p in look.fed
        if not p.is_home and (p.feed.group == "hay" or p.feed.id.startswith("haylage"))
    ]
    return {"feeds": names(bought)} if bought else None


# ---------------------------------------------------------------- protein, energy, lambing


@rule("low-protein", "cp", numbers=1)
def _(look: Look) -> Parts | None:
    if look.whole is None or look.unknown(PROTEIN):
        return None
    cp = look.known_per_kg_dm(PROTEIN)
    return {"cp": number(cp)} if under(cp, look.value("low-protein")) else None


@rule("protein-limits", "gain", "target", numbers=1)
def _(look: Look) -> Parts | None:
    told = look.whole
    if told is None:
        return None
    gain, target = told.gain_protein_g_per_day, look.batch.gain_g_per_day
    if target - gain <= look.value("protein-limits"):
        return None
    return {"gain": number(gain), "target": number(target)}


@rule("twin-lamb", "share", numbers=2)
def _(look: Look) -> Parts | None:
    told, lambing = look.told, look.batch.days_to_lambing
    if told is None or lambing is None:
        return None
    left = lambing - (look.farm.days if look.farm else 0)
    need = next(b.need for b in told.balances if b.name == "energy")
    if need is None or not math.isfinite(need):
        need = told.margin * told.maintenance_me_mj_per_day
    share = told.me_mj_per_day / need
    if left > look.value("twin-lamb") or not under(share, look.second("twin-lamb")):
        return None
    return {"share": number(share)}


@rule("in-lamb")
def _(look: Look) -> Parts | None:
    """Where the litter's weight is known the lambs inside are fed for."""
    is_fed_for = look.batch.litter_kg is not None
    return None if look.batch.days_to_lambing is None or is_fed_for else {}


@rule("lambing-countdown", "lambing", "last", "turn")
def _(look: Look) -> Parts | None:
    batch, farm = look.batch, look.farm
    if farm is None or batch.litter_kg is None:
        return None
    own = next((b for b in farm.batches if b.name == batch.name), batch)
    if own.days_to_lambing is None:  # counted from the first day of the winter
        return None
    lambing = farm.start + timedelta(days=own.days_to_lambing)
    last = look.value("twin-lamb")
    return {
        "lambing": names([day_words(lambing)]),
        "last": number(last),
        "turn": names([day_words(lambing - timedelta(days=last))]),
    }


@rule("underfed", "share", numbers=1)
def _(look: Look) -> Parts | None:
    if not _is_underfed(look) or look.told is None:
        return None
    return {"share": number(look.told.maintenance_share)}


def _is_underfed(look: Look) -> bool:
    told = look.whole
    return told is not None and under(told.maintenance_share, look.value("underfed"))


@rule("losing-weight", "kg", "share", numbers=1)
def _(look: Look) -> Parts | None:
    told = look.whole
    if told is None or look.farm is None or _is_underfed(look):
        return None
    kg = -told.gain_without_margin_g_per_day * look.farm.days / 1000
    share = kg / look.batch.weight_kg
    if not over(share, look.value("losing-weight")):
        return None
    return {"kg": number(kg), "share": number(share)}


@rule("part-ration", "share")
def _(look: Look) -> Parts | None:
    told = look.told
    if told is None or not told.is_part_ration:
        return None
    return {"share": number(told.maintenance_share)}


@rule("rich", "gain", numbers=1)
def _(look: Look) -> Parts | None:
    if look.told is None or look.is_male:
        return None
    gain = look.told.gain_energy_g_per_day
    return {"gain": number(gain)} if over(gain, look.value("rich")) else None
