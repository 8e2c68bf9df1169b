"""Plain sentences about a winter: its proof, its bill, what more would be worth, what is refused.

Nothing is worked out here but rounding.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import timedelta
from typing import TYPE_CHECKING

from ration.explain import kilos, pence
from ration.plain_text import joined, sentence
from ration.stack import in_one_line
from ration.units import day_words, in_words_day, money
from ration.winter.order import MOST_ROWS, OrderRow

if TYPE_CHECKING:
    from datetime import date

    from ration.buying.tie import Tied
    from ration.quotes.records import QuoteSheet, Supply
    from ration.stack.lots import Stacked
    from ration.winter.records import Fed, More, Period, Plan

LEAST_GBP = 0.005


def proof(plan: Plan) -> str:
    """How far the plan may be from the cheapest there is."""
    if plan.bill is None:
        return ""
    total, bound = plan.bill.total_gbp, plan.bound_gbp
    if not math.isfinite(bound):
        start = "Stopped early: this" if plan.is_cut_short else "This"
        return f"{start} is the best plan found, {money(total)}; nothing is proved of it yet."
    gap = max(total - bound, 0.0)
    share = _gap(plan.gap_share)
    if plan.is_cut_short:
        return (
            f"Stopped early: this is the best plan found, {money(total)}. No plan of this winter "
            f"can cost less than {money(bound)}: gap {share}, {money(gap)} at most."
        )
    return (
        f"No plan of this winter can cost less than {money(bound)}: proved gap {share}, "
        f"{money(gap)} at most."
    )


def _gap(share: float) -> str:
    """0.4 %, rounded up."""
    return f"{math.ceil(share * 1000 - 1e-9) / 10:.1f} %"


def bill(plan: Plan) -> list[str]:
    """The money, part by part."""
    b = plan.bill
    if b is None:
        return []
    head = sum(x.head for x in plan.farm.batches)
    a_day = b.total_gbp / head / max(plan.farm.days, 1)
    parts = [f"{money(b.feed_gbp)} for feed and {money(b.drops_gbp)} for drops to merchants"]
    if abs(b.home_gbp) >= LEAST_GBP:
        parts.append(f"{money(b.home_gbp)} of home feed at what it would fetch")
    if b.interest_gbp >= LEAST_GBP:
        parts.append(
            f"{money(b.interest_gbp)} interest at "
            f"{plan.farm.winter.interest_share_per_year * 100:g} % a year to turnout"
        )
    said = [
        f"The winter costs {money(b.total_gbp)}: {money(b.total_gbp / head)} a head, "
        f"{pence(a_day)} a head a day.",
        f"It is {joined(parts)}.",
    ]
    if b.leftover_gbp >= LEAST_GBP:
        said.append(
            f"{money(b.leftover_gbp)} is taken off for bought feed left at turnout, at "
            f"{plan.farm.winter.leftover_share * 100:g} % of its price."
        )
    return said


def order_total(plan: Plan) -> str:
    """What merchants are paid."""
    b = plan.bill
    if b is None:
        return ""
    head = sum(x.head for x in plan.farm.batches)
    drops = f" and {money(b.drops_gbp)} for drops" if b.drops_gbp >= LEAST_GBP else ""
    return (
        f"To order: {money(b.feed_gbp)} of feed{drops}, {money(b.cash_gbp)} in all, "
        f"{money(b.cash_gbp / head)} a head, ex VAT."
    )


def when_to_ring(rows: Sequence[OrderRow], on: date) -> list[str]:
    """The last day on which each quote can be taken up; what was booked before `on`."""
    feeds: dict[tuple[str, date], list[str]] = {}
    for row in rows:
        until = row.supply.quote.valid_until
        if until is not None:
            told = feeds.setdefault((row.merchant, until), [])
            if row.feed not in told:
                told.append(row.feed)
    said = []
    for (merchant, until), names in feeds.items():
        what, is_one = f"{joined(names)} from {merchant}", len(names) == 1
        if until >= on:
            holds = "the quote holds" if is_one else "the quotes hold"
            said.append(f"Order {what} by {in_words_day(until)}: {holds} until then.")
        else:
            ran = "was booked before its quote" if is_one else "were booked before their quotes"
            said.append(
                f"{sentence(what)} {ran} ran out on {in_words_day(until)}: agree any other amount "
                "with them."
            )
    return said


def dates(rows: Sequence[OrderRow]) -> list[str]:
    """Month by month what comes of a row that stands for many deliveries; day by day for few."""
    said = []
    for row in rows:
        if len(row.deliveries) <= 1:
            continue
        parts: dict[str, float] = {}
        is_few = len(row.deliveries) <= MOST_ROWS
        for day, tonnes in row.deliveries:
            key = day_words(day) if is_few else f"{day:%B}"
            parts[key] = parts.get(key, 0.0) + tonnes
        lead = row.feed if is_few else f"{row.feed}, monthly"
        said.append(f"{sentence(lead)}: {', '.join(f'{k} {t:.2f} t' for k, t in parts.items())}.")
    return said


def walk_away(row: OrderRow) -> str:
    """The price to walk away at."""
    price = row.walk_away_gbp_per_t
    if price is None:
        return ""
    return "any price" if math.isinf(price) else f"{price:,.2f}"


def more(found: Sequence[More]) -> list[str]:
    """What one more unit of each scarce thing would save."""
    scarce = [m for m in found if m.scarcity_gbp >= LEAST_GBP]
    idle = [m for m in found if m.scarcity_gbp < LEAST_GBP]
    said = []
    for m in sorted(scarce, key=lambda m: -m.worth_gbp):
        about = "about " if m.note == "about" else ""
        line = f"One more {m.unit} of {m.what} would save {about}{money(m.worth_gbp)}"
        if m.would_fetch_gbp >= LEAST_GBP:
            line += f", {money(m.scarcity_gbp)} more than it would fetch"
        said.append(f"{line}.{f' {m.note}' if m.note and not about else ''}")
    said += [
        f"One more {m.unit} of {m.what} is worth what it would fetch, {money(m.would_fetch_gbp)}."
        for m in idle
        if m.would_fetch_gbp >= LEAST_GBP
    ]
    if names := [f"{m.unit} of {m.what}" for m in idle if m.would_fetch_gbp < LEAST_GBP]:
        said.append(f"One more {joined(names, 'or')} would save nothing.")
    return said


def refused(supplies: Sequence[Supply]) -> list[str]:
    """What may not be bought, each with why and what would make it usable."""
    return [
        f"{sentence(s.quote.feed)}, {s.quote.merchant or 'your file'}, {s.quote.pack}: {s.refused}."
        for s in supplies
        if not s.is_usable
    ]


def to_ask(tied: Tied, sheets: Sequence[QuoteSheet]) -> list[str]:
    """What the quotes leave open; feeds of which the same is said together."""
    by_tail: dict[str, list[str]] = {}
    for note in tied.notes:
        name, _, tail = note.partition(": ")
        by_tail.setdefault(tail, []).append(name)
    lines = [sentence(f"{'; '.join(n)}: {tail}" if tail else n[0]) for tail, n in by_tail.items()]
    for sheet in sheets:
        lines += [_of_file(sheet, "", question) for question in sheet.questions]
        lines += [_of_file(sheet, "not read: ", row) for row in sheet.not_read]
    return list(dict.fromkeys(lines))


def _of_file(sheet: QuoteSheet, what: str, words: str) -> str:
    """A line about a file of quotes that names it once."""
    return f"{what}{words}" if words.startswith(sheet.file) else f"{sheet.file}: {what}{words}"


# ---------------------------------------------------------------- the stack


def behind_the_stack(found: Stacked) -> list[str]:
    """What the line on top rests on."""
    said = []
    if found.kg_per_head_day is not None and found.kind:
        head = sum(b.head for b in found.farm.batches)
        said.append(
            f"There is no plan yet: {head} {found.flock} are taken to eat "
            f"{found.kg_per_head_day:.2f} kg of {found.kind} a day for {found.farm.days} days. "
            f"With waste {found.put_out_t:.2f} t is put out, and with what spoils in the stack "
            f"{found.wanted_t:.2f} t goes."
        )
    days = found.farm.winter.long_winter_days
    takes = [f"{t:.2f} t more for the {who}" for who, t in found.more_t.items() if t > LEAST_GBP]
    if takes and days:
        said.append(f"A long winter, {days} days more at the last rates, takes {joined(takes)}.")
    return said


def classes(found: Stacked) -> list[str]:
    """Until when the hay of those with first call lasts; that of the batches is on top."""
    kind = found.kind.capitalize()
    return [
        f"{in_one_line(f'{kind} for the {who}', run)}."
        for who, run in found.classes.items()
        if who != found.flock
    ]


# ---------------------------------------------------------------- periods


def span(period: Period) -> str:
    """28 Oct to 10 Nov."""
    last = period.end - timedelta(days=1)
    return f"{period.start.day} {period.start:%b} to {last.day} {last:%b}"


def feeds_of(plan: Plan, fed: Sequence[Fed]) -> list[str]:
    """Ids of the feeds one batch gets in any period: trough feed first, most first."""
    rich = {o.id for o in plan.offers if o.feed.is_concentrate}
    total: dict[str, float] = {}
    for f in fed:
        for feed, kg in f.kg_offered.items():
            total[feed] = total.get(feed, 0.0) + kg * f.period.days
    return sorted(total, key=lambda i: (i not in rich, -total[i]))


def put_out(fed: Fed, feed: str) -> str:
    """What is put out of one feed; nothing where it is none."""
    kg = fed.kg_offered.get(feed, 0.0)
    return kilos(kg) if kg >= 0.0005 else ""


def steps(plan: Plan) -> list[str]:
    """How trough feed comes in, changes and goes out, and what fills in for it."""
    rule = plan.farm.winter
    rich = {o.id for o in plan.offers if o.feed.is_concentrate}
    if not any(kg > 0 for f in plan.fed for i, kg in f.kg_offered.items() if i in rich):
        return ["No trough feed is given."]
    said = []
    if rule.step_up_days > 1:
        said.append(
            f"Trough feed is brought in over the first {rule.step_up_days} days, and eased off "
            f"over the last {rule.taper_days}."
        )
    names = {o.id: o.name for o in plan.offers}
    by_feed: dict[str, list[str]] = {}
    for (batch, feed), kg in plan.extra_forage_kg_dm.items():
        if kg < 0.005 or feed not in names:
            continue
        offer = next(o for o in plan.offers if o.id == feed)
        fresh = kg / (offer.feed["dm_g_per_kg_fresh"] / 1000) / (1 - offer.waste_share)
        by_feed.setdefault(names[feed], []).append(f"{fresh:.1f} kg ({batch})")
    said += [
        f"While it comes in, more {feed} fills the gap, a head over those days: {joined(kgs)}."
        for feed, kgs in by_feed.items()
    ]
    return said


def out_of_doors(plan: Plan, fed: Sequence[Fed]) -> list[str]:
    """What cold takes and what is grazed of one batch, over its periods."""
    out = []
    cold = [f.batch.cold_me_mj_per_day for f in fed]
    if max(cold, default=0.0) > 0:
        out.append(
            f"{fed[0].batch.name.capitalize()}: cold, wind and wet are taken to ask "
            f"{min(cold):.1f} to {max(cold):.1f} MJ of the energy a day, a period's mean."
        )
    grazed = {o.id for o in plan.offers if o.is_grazed}
    grass = [sum(kg for name, kg in f.kg_dm.items() if name in grazed) for f in fed]
    if max(grass, default=0.0) > 0:
        out.append(
            f"{fed[0].batch.name.capitalize()}: they are taken to graze {max(grass):.2f} kg of dry "
            f"matter a day at most and {min(grass):.2f} at least."
        )
    return out
