"""What moved between two workings of one farm, and why: plain sentences."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ration.assess import assess
from ration.choices import WHY
from ration.errors import InputError
from ration.explain import pence
from ration.lines import portion
from ration.mix import FarmRations, Ration
from ration.plain_text import joined, sentence
from ration.units import money

if TYPE_CHECKING:
    from ration.farm import Offer


def what_changed_in_feeds(before: FarmRations, after: FarmRations) -> list[str]:
    """Which figures of which feeds differ between two runs."""
    shown = (
        ("dm_g_per_kg_fresh", "dry matter", 0.1, "%"),
        ("cp_g_per_kg_dm", "protein", 0.1, "% of DM"),
        ("me_mj_per_kg_dm", "energy", 1.0, "MJ/kg DM"),
        ("ca_g_per_kg_dm", "calcium", 1.0, "g/kg DM"),
        ("p_g_per_kg_dm", "phosphorus", 1.0, "g/kg DM"),
    )
    old = {o.id: o for o in before.farm.offers}
    out = []
    for new in after.farm.offers:
        if new.id not in old:
            continue
        parts = []
        for nutrient, words, factor, unit in shown:
            a, b = old[new.id].feed.get(nutrient), new.feed.get(nutrient)
            if a is not None and b is not None and abs(a - b) > 1e-9:
                parts.append(f"{words} {b * factor:.1f} {unit} (was {a * factor:.1f})")
        if parts:
            figure = new.feed.figures.get("cp_g_per_kg_dm")
            is_lab = figure is not None and figure.mark == "lab"
            origin = ", by your laboratory's sheet" if is_lab else ""
            out.append(sentence(f"{new.name} is now {joined(parts)}{origin}."))
        out += _yours_over_the_sheet(new)
    return out


def _yours_over_the_sheet(offer: Offer) -> list[str]:
    """Where the farm file's own figure lies over the laboratory's."""
    if offer.analysed is None:
        return []
    out = []
    for nutrient, words in WHY.items():
        lab, used = (f.figures.get(nutrient) for f in (offer.analysed.feed, offer.feed))
        if lab and used and lab.mark == "lab" and used.mark == "user" and lab.value != used.value:
            out.append(
                sentence(
                    f"{offer.name}: {words} stays {used.value:g} as you wrote it in the farm file, "
                    f"though the sheet says {lab.value:g}. Take your line out to use the sheet's."
                )
            )
    return out


def what_changed(before: Ration, after: Ration) -> list[str]:
    """How one batch's ration moved, and why."""
    if not (before.is_found and after.is_found):
        if after.is_found:
            return [f"{after.batch.name}: now there is a mix, where there was none."]
        return [f"{after.batch.name}: now no mix will do."]
    change = after.cost_gbp_per_head_day - before.cost_gbp_per_head_day
    winter = change * after.batch.head * after.days
    way = "dearer" if change > 0 else "cheaper"
    old = {f.id: f for f in before.feeds}
    moves = []
    for line in after.feeds:
        was = old[line.id].kg_fresh_offered_per_head_day if line.id in old else 0.0
        now = line.kg_fresh_offered_per_head_day
        if abs(now - was) >= 0.001:
            word = "more" if now > was else "less"
            if was < 1e-9:
                word = "in comes"
            elif now < 1e-9:
                word = "out goes"
            moves.append(
                (abs(now - was), f"{word} {line.name} ({was * 1000:.0f} g to {now * 1000:.0f} g)")
            )
    moves.sort(reverse=True)
    out = [
        f"{after.batch.name}: {pence(before.cost_gbp_per_head_day, 2)} becomes "
        f"{pence(after.cost_gbp_per_head_day, 2)} a head a day, {money(abs(winter))} {way} over "
        "the winter."
    ]
    if abs(winter) < 0.005:
        cost = pence(after.cost_gbp_per_head_day, 2)
        out = [f"{after.batch.name}: still {cost} a head a day."]
    if still := as_before(before, after):
        out.append(still)
    if moves:
        out.append(f"The mix: {joined([m for _, m in moves])}.")
    else:
        out.append("The mix stays as it was.")
    for line in after.feeds:
        was_line = old.get(line.id)
        a = None if was_line is None else was_line.worth_gbp_per_t_fresh
        b = line.worth_gbp_per_t_fresh
        changed = _composition_changed(before, after, line.id)
        if changed and a is not None and b is not None and math.isfinite(a) and math.isfinite(b):
            worth = f"{line.name} is worth {money(b)}/t to this batch (was {money(a)})."
            out.append(sentence(worth))
    tight_a = {n.name for n in before.nutrients if n.binding}
    tight_b = {n.name for n in after.nutrients if n.binding}
    if tight_b - tight_a:
        out.append(f"Now just met as well: {joined(sorted(tight_b - tight_a))}.")
    if tight_a - tight_b:
        out.append(f"No longer just met: {joined(sorted(tight_a - tight_b))}.")
    return out


def as_before(before: Ration, after: Ration) -> str:
    """What the old amounts would do with the new figures: why the mix had to move."""
    old = [f for f in before.feeds if f.is_used]
    now = {o.id: o for o in after.offers}
    if not all(f.id in now for f in old):
        return ""
    try:
        told = assess(
            after.model.needs,
            [portion(now[f.id], f.kg_fresh_offered_per_head_day) for f in old],
        )
    except InputError:
        return ""
    short = [b for b in told.balances if b.need is not None and b.supply < b.need * (1 - 1e-4)]
    if not short:
        if told.gain_g_per_day > after.batch.gain_g_per_day + 0.5:
            return (
                f"Fed on as before, each would gain {told.gain_g_per_day:.0f} g a day, more than "
                f"the {after.batch.gain_g_per_day:.0f} asked for."
            )
        return "Fed on as before they would still have all they need."
    gaps = joined([f"{b.need - b.supply:.1f} {b.unit} of {b.name}" for b in short if b.need])
    return (
        f"Fed on as before, each would be short by {gaps} a day and gain "
        f"{told.gain_g_per_day:.0f} g instead of {after.batch.gain_g_per_day:.0f}, limited by "
        f"{told.limited_by}."
    )


def _composition_changed(before: Ration, after: Ration, offer_id: str) -> bool:
    a = next((o.feed for o in before.offers if o.id == offer_id), None)
    b = next((o.feed for o in after.offers if o.id == offer_id), None)
    if a is None or b is None:
        return False
    keys = set(a.figures) | set(b.figures)
    return any(a.get(k) != b.get(k) for k in keys)
