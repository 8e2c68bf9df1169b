"""Plain sentences about a ration: what to do, what sets its cost, what would change it.

Numbers come in ready-made records; nothing is worked out here but rounding, always to the side
on which the sentence stays true.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from ration import units
from ration.animals import Batch
from ration.appetite import ROW
from ration.assess import FERMENT_LIMIT, Assessment
from ration.choices import WHY, kg_bought_per_kg_dm, wanted
from ration.conflict import Conflict, Cure
from ration.lines import FeedLine, NutrientLine, row_words
from ration.mix import Ration
from ration.model import CEILING
from ration.plain_text import joined, sentence
from ration.units import money

FROM_WORDS = {
    "lab": "from your laboratory",
    "label": "from a label",
    "user": "written by you",
    "print": "read in a book",
    "restated": "restated in a later work",
    "derived": "derived",
    "memory": "from memory, unverified",
    "practice": "common practice",
    "guess": "guessed",
}
CLASS_WORDS = {
    "ewe-lamb": "ewe lamb",
    "wether-lamb": "wether lamb",
    "tup-lamb": "tup lamb",
    "gimmer": "gimmer",
    "wether": "wether",
    "tup": "tup",
    "ewe": "ewe",
}


def pence(gbp: float, places: int = 1) -> str:
    """Pence."""
    return f"{gbp * 100:.{places}f}p"


def kilos(kg: float, also_lb: bool = False) -> str:
    """Kilograms, or grams under 100 g; pounds or ounces beside them when asked."""
    words = f"{kg * 1000:.0f} g" if kg < 0.0995 else f"{kg:.2f} kg"
    if 0 < kg < 0.00095:
        words = "under 1 g"
    if not also_lb:
        return words
    return f"{words} ({units.in_words_kg(kg, also='lb').partition('(')[2]}"


def sheep(batch: Batch) -> str:
    """92 ewe lambs."""
    word = CLASS_WORDS[batch.sheep_class]
    return f"{batch.head:,} {word}" + ("" if batch.head == 1 else "s")


def what_to_feed(ration: Ration, *, also_lb: bool = False) -> str:
    """The first sentence: what to tip and put out, per head a day, as weighed out."""
    used = [line for line in ration.feeds if line.is_used]
    groups = {o.id: o.feed for o in ration.offers}
    grazed = {o.id for o in ration.offers if o.is_grazed}
    trough = [x for x in used if not groups[x.id].is_forage]
    rack = [x for x in used if groups[x.id].is_forage and x.id not in grazed]

    def told(lines: list[FeedLine]) -> str:
        ordered = sorted(lines, key=lambda x: -x.kg_fresh_offered_per_head_day)
        return joined(
            [f"{kilos(x.kg_fresh_offered_per_head_day, also_lb)} {x.name}" for x in ordered]
        )

    parts = []
    if trough:
        parts.append(f"{told(trough)} in the trough")
    if rack:
        parts.append(f"{told(rack)} in the rack")
    out = f"Give each one, each day: {'; '.join(parts)}." if parts else "Give them nothing."
    if ration.rack is not None:
        out += (
            f" Keep {ration.rack.name} always in front of them: the weight is what they are "
            f"expected to clear (alone they would clear {ration.rack.appetite_kg_dm_per_day:.2f} "
            f"kg of its dry matter, and leave {ration.rack.substitution:.2f} kg for each kg of "
            "trough feed)."
        )
    if found := sum(x.kg_dm_per_head_day for x in used if x.id in grazed):
        out += f" They are taken to graze {kilos(found, also_lb)} of dry matter besides."
    return out


def what_it_costs(ration: Ration) -> str:
    """Cost a head a day, for the batch a day and for the winter."""
    day = ration.cost_gbp_per_head_day
    words = (
        f"That costs {pence(day)} a head a day: {money(day * ration.batch.head)} a day for the "
        f"batch, {money(ration.cost_gbp_for_winter)} for the {ration.days} days."
    )
    grazed = {o.id for o in ration.offers if o.is_grazed}
    free = [
        f.name
        for f in ration.feeds
        if f.is_used and f.is_home and f.price_gbp_per_t_fresh == 0 and f.id not in grazed
    ]
    home = [f for f in ration.feeds if f.is_used and f.is_home and f.price_gbp_per_t_fresh > 0]
    if home:
        told = [
            f"{f.name} is charged at the {money(f.price_gbp_per_t_fresh)}/t it would fetch"
            for f in home
        ]
        words += f" {sentence(joined(told))}."
    if free:
        words += (
            f" {sentence(joined(free))} {'is' if len(free) == 1 else 'are'} charged at nothing."
        )
    return words


def _need_name(line: NutrientLine, assessment: Assessment) -> str:
    if line.id == "protein":
        if assessment.protein_limit == FERMENT_LIMIT:
            return f"protein, short of {FERMENT_LIMIT},"
        return assessment.protein_limit
    if line.id.startswith("most "):
        return f"the limit on {line.name}"
    if line.id == "intake":
        is_least = line.need is not None and math.isclose(line.supply, line.need, rel_tol=1e-5)
        return (
            "the least dry matter they should eat (a limit, not a need)"
            if is_least
            else "the most dry matter they will eat"
        )
    if line.id == ROW:
        return "the hay they clear"
    if line.id == "forage_share_of_dm_least":
        return "the least forage"
    if line.id.endswith("_most"):
        return f"the limit on {line.name}"
    return line.name


def what_sets_the_cost(ration: Ration) -> list[str]:
    """Sentences on the binding needs and limits, dearest first."""
    a = ration.assessment
    if a is None:
        return []
    tight = [n for n in ration.nutrients if n.binding]
    if not tight:
        return ["Nothing but price sets this mix: every need is met with some to spare."]

    def weight(n: NutrientLine) -> float:
        scale = n.need if n.need is not None else n.limit
        return abs(n.cost_of_one_more_gbp) * abs(scale or 1.0)

    tight.sort(key=weight, reverse=True)
    first, rest = tight[0], tight[1:]
    name = _need_name(first, a)
    out = [f"{sentence(name)} sets the cost: {_one_more(first)}."]
    others = [f"{_need_name(n, a)} ({_one_more(n)})" for n in rest if weight(n) > 0]
    slack = [_need_name(n, a) for n in rest if weight(n) == 0]
    if others:
        out.append(f"So {'does' if len(others) == 1 else 'do'} {joined(others)}.")
    if slack:
        out.append(f"Just met, at no cost: {joined(slack)}.")
    return out


def _one_more(n: NutrientLine) -> str:
    cost = n.cost_of_one_more_gbp
    step, unit = (0.01, "0.01 kg") if n.unit in ("kg DM", "kg fresh") else (1.0, "")
    what = unit or {
        "MJ ME": "one MJ",
        "g MP": "one gram",
        "g CP": "one gram",
        "g DPLS": "one gram",
        "g": "one gram",
        "% of DM": "one per cent",
        "to 1": "one",
        "mg/kg DM": "one mg",
    }.get(n.unit, "one")
    if cost >= 0:
        return f"{what} more asked would cost {pence(cost * step, 2)} a head a day"
    return f"{what} more allowed would save {pence(-cost * step, 2)} a head a day"


def out_of_doors(batch: Batch) -> str:
    """What cold takes of the energy; "" where none is reckoned."""
    if batch.cold_me_mj_per_day <= 0:
        return ""
    return (
        f"Of the energy {batch.cold_me_mj_per_day:.2f} MJ a day is for cold, wind and wet: the "
        "mean of the days, right to a third or a half. Hard days take more and mild ones none: see "
        "ration cold."
    )


def in_a_few_sentences(ration: Ration, *, also_lb: bool = False) -> list[str]:
    """One batch as a farmer would hear it: what to feed, the cost, what sets it, what to expect."""
    if ration.assessment is None:
        return why_no_mix(ration)
    weather = out_of_doors(ration.assessment.batch)
    return [
        what_to_feed(ration, also_lb=also_lb),
        what_it_costs(ration),
        *what_sets_the_cost(ration),
        what_to_expect(ration.assessment),
        *([weather] if weather else []),
    ]


def gain_words(g_per_day: float) -> str:
    """31 g a day, a loss of 10 g a day, no gain."""
    if abs(g_per_day) < 0.5:
        return "no gain"
    size = f"{abs(g_per_day):.0f} g a day"
    return size if g_per_day > 0 else f"a loss of {size}"


def what_to_expect(a: Assessment) -> str:
    """Expected gain and what limits it."""
    margin = (
        f" ({gain_words(a.gain_without_margin_g_per_day)} if the {a.margin - 1:.0%} safety margin "
        "proves not to be needed)"
        if a.margin > 1
        else ""
    )
    words = f"Expect {gain_words(a.gain_g_per_day)}{margin}"
    if abs(a.gain_energy_g_per_day - a.gain_protein_g_per_day) < 0.5:
        which = "protein" if a.protein_limit == FERMENT_LIMIT else a.protein_limit
        return f"{words}; energy and {which} run out together."
    if a.limited_by == "energy":
        other = f"protein would allow {gain_words(a.gain_protein_g_per_day)}"
    else:
        other = f"energy would allow {gain_words(a.gain_energy_g_per_day)}"
    return f"{words}, limited by {a.limited_by}; {other}."


def where_the_figures_come_from(rations: Sequence[Ration]) -> list[str]:
    """Which figures behind the feeds used are yours, books', remembered or guessed; once each."""
    used = {line.id for r in rations for line in r.feeds if line.is_used}
    gaps: dict[str, list[str]] = {}
    for gap in rations[0].gaps if rations else ():
        gaps.setdefault(gap.offer, []).append(WHY[gap.nutrient])
    out = []
    for offer in rations[0].offers if rations else ():
        if offer.id not in used:
            continue
        marks = [offer.feed.figure(n).mark for n in wanted(offer.feed)]
        told = [f"{marks.count(m)} {words}" for m, words in FROM_WORDS.items() if m in marks]
        line = f"{offer.name}: {joined(told)}."
        if offer.id in gaps:
            line += f" Assumed because you allowed it: {joined(gaps[offer.id])}."
        out.append(line)
    return out


def worth_words(line: FeedLine, *, short: bool = False) -> str:
    """What a feed is worth to this ration, in words; in few of them for a narrow column."""
    worth = line.worth_gbp_per_t_fresh
    if worth is None:
        if line.stock_share_t_fresh is not None and line.stock_share_t_fresh <= 0:
            return "none left" if short else "none left for this batch"
        return "fixed by you"
    if math.isinf(worth):
        return "cannot do without" if short else "no mix does without it"
    if worth <= 0:
        return "out, even free" if short else "not used even if free"
    price = money(worth)
    if line.is_used:
        return f"in up to {price}" if short else f"stays in up to {price}/t"
    return f"out over {price}" if short else f"comes in under {price}/t"


def how_far_prices_can_move(ration: Ration) -> str:
    """The prices between which these amounts stay the cheapest, each price moved alone."""
    parts = []
    grazed = {o.id for o in ration.offers if o.is_grazed}
    for line in ration.feeds:
        if not line.is_used or line.low_gbp_per_t_fresh is None or line.id in grazed:
            continue
        low, high = line.low_gbp_per_t_fresh, line.high_gbp_per_t_fresh or math.inf
        if low <= 0 and math.isinf(high):
            span = "whatever its price"
        elif low <= 0:
            span = f"under {money(high)}/t"
        elif math.isinf(high):
            span = f"over {money(low)}/t"
        else:
            span = f"between {money(low)} and {money(high)}/t"
        parts.append(f"{line.name} {span}")
    if not parts:
        return ""
    return f"These amounts stay the cheapest while, one at a time: {'; '.join(parts)}."


# ---- no mix


def why_no_mix(ration: Ration) -> list[str]:
    """Which needs and limits conflict and the least changes that would do."""
    found = ration.conflict
    if found is None:
        return []
    if (most := found.beyond_reach_g_per_day) is not None:
        return [
            "No mix can meet these needs: these feeds, in any amounts and with every limit "
            f"dropped, support at most {_down(most, 0)} g a day, not "
            f"{ration.batch.gain_g_per_day:.0f}.",
            "Ask for less, or offer a feed richer in energy or protein.",
        ]
    names = [_member(name, ration) for name in found.members]
    out = []
    if ration.is_borderline:
        out.append(
            "It is a near thing: mixes were found that miss a need by less than one part in a "
            "thousand, and none that meets it."
        )
    if len(names) > 1:
        out.append(f"No mix can meet these needs: {joined(names)} conflict.")
    else:
        out.append("No mix of these feeds can meet these needs within the limits.")
    cures = [w for c in found.cures if (w := cure_words(c, ration))]
    if cures:
        out.append("Any one of these would do, the rest kept: " + "; ".join(cures) + ".")
    else:
        out.append(_more_than_one_change(found, ration))
    if any(c.row == "copper_mg_per_kg_dm_most" for c in found.cures):
        out.append(
            "The copper ceiling stands in the way and must not be raised: find feeds with "
            "less copper."
        )
    return out


def _more_than_one_change(found: Conflict, ration: Ration) -> str:
    helpful = [
        f"{_down(gain, 0)} g a day without {_limit_name(row)}"
        for row, gain in found.gain_without[:3]
        if row != "copper_mg_per_kg_dm_most"
    ]
    if helpful:
        return (
            "No single change would do, and within the limits these feeds cannot even hold their "
            f"weight. The most they could gain: {joined(helpful, 'or')}."
        )
    return (
        "No single change would do: these feeds cannot even hold their weight within the limits, "
        "nor with any one limit dropped. A feed richer in energy or protein is needed."
    )


def _limit_name(row: str) -> str:
    if row.startswith("amount of "):
        return f"an end to {row.removeprefix('amount of ').replace('-', ' ')}"
    return "the ceiling on energy" if row == CEILING else f"the limit on {row_words(row)[0]}"


def _member(name: str, ration: Ration) -> str:
    b, needs = ration.batch, ration.model.needs
    if name == "energy":
        return f"energy for {b.gain_g_per_day:.0f} g a day"
    if name.startswith("protein"):
        return f"protein (at least {needs.protein_need():.0f} {needs.protein.unit})"
    if name == "gain":
        return f"the gain of {b.gain_g_per_day:.0f} g a day"
    if name == CEILING:
        return "the ceiling on energy"
    if name.startswith("amount of "):
        return f"the amount of {_offer_name(ration, name.removeprefix('amount of '))} there is"
    row = next(r for r in ration.model.rows if r.id == name)
    words, unit, factor = row_words(name)
    if name in ("calcium", "phosphorus"):
        return words
    limit = row.ratio[2] if row.ratio else (row.hi if math.isfinite(row.hi) else row.lo)
    if name == "intake":
        return f"dry matter ({row.lo:.2f} to {row.hi:.2f} kg)"
    side = "at least" if math.isfinite(row.lo) else "at most"
    return f"{words} ({side} {limit * factor:g} {unit})"


def _offer_name(ration: Ration, offer_id: str) -> str:
    return next(o.name for o in ration.offers if o.id == offer_id)


def _up(value: float, places: int) -> str:
    scale = 10**places
    return f"{math.ceil(value * scale - 1e-9) / scale:.{places}f}"


def _down(value: float, places: int) -> str:
    scale = 10**places
    return f"{math.floor(value * scale + 1e-9) / scale:.{places}f}"


def cure_words(cure: Cure, ration: Ration) -> str:
    """One change in farm units, rounded to the side that works; "" where it must not be made."""
    now, then = cure.now, cure.least_change
    match cure.row:
        case "gain":
            return f"ask for {_down(then, 0)} g a day instead of {now:.0f}"
        case "copper_mg_per_kg_dm_most":
            return ""
        case "intake":
            if then > now:
                return f"let them eat {_up(then, 2)} kg dry matter a day (now at most {now:.2f})"
            return f"let dry matter fall to {_down(then, 2)} kg a day (now at least {now:.2f})"
        case "energy ceiling":
            return f"let energy allow {_up(then, 0)} g a day (now {now:.0f})"
        case "calcium" | "phosphorus":
            return f"find {_up(then, 1)} g more {cure.row} a day, from a mineral"
        case "ca_to_p_least":
            return f"let calcium be {_down(then, 2)} times phosphorus (now at least {now:g})"
        case "ca_to_p_most":
            return f"let calcium be {_up(then, 1)} times phosphorus (now at most {now:g})"
    if cure.row.startswith("amount of "):
        offer_id = cure.row.removeprefix("amount of ")
        offer = next(o for o in ration.offers if o.id == offer_id)
        fresh = then * kg_bought_per_kg_dm(offer)
        tonnes = fresh * ration.batch.head * ration.days / 1000
        return f"have {_up(tonnes, 2)} t of {offer.name} for this batch"
    words, unit, factor = row_words(cure.row)
    places, was = (2 if "kg" in unit else 0), f"(now {now * factor:g})"
    if then > now:
        return f"allow {words} {_up(then * factor, places)} {unit} {was}"
    return f"let {words} fall to {_down(then * factor, places)} {unit} {was}"
