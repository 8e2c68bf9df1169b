"""Answers as text; no arithmetic beyond rounding for print."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Literal

from ration import cautions, explain
from ration.assess import Assessment
from ration.explain import kilos, pence
from ration.faces import changes
from ration.lines import FeedLine, NutrientLine
from ration.mix import FarmRations, Ration
from ration.plain_text import joined
from ration.units import money

if TYPE_CHECKING:
    from rich.console import Console

    from ration.cautions import Caution
    from ration.farm import Farm
    from ration.jobs import Assessed, Mixed

LEVEL_WORDS = {"stop": "STOP", "warn": "Take care", "note": "Note"}


def table(
    console: Console,
    title: str,
    heads: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    words: Sequence[int] = (0,),
    whole: Sequence[int] = (),
) -> None:
    """Print a table; columns in `words` keep left, figures right; those in `whole` never break."""
    from rich import box
    from rich.table import Table

    grid = Table(
        title=title or None,
        box=box.SIMPLE_HEAD,
        title_justify="left",
        pad_edge=False,
        title_style="bold",
    )
    for i, head in enumerate(heads):
        side: Literal["left", "right"] = "left" if i in words else "right"
        grid.add_column(head, justify=side, overflow="fold", no_wrap=i in whole)
    for row in rows:
        grid.add_row(*row)
    console.print(grid)


def say(console: Console, *lines: str, style: str | None = None) -> None:
    """Print sentences, one a line, words only."""
    from rich.text import Text

    for line in lines:
        console.print(Text(line, style=style or ""))


def batch_heading(ration: Ration) -> str:
    """strong: 92 ewe lambs, fed for 39.6 kg, to gain 31 g a day."""
    b = ration.batch
    weights = ""
    if b.start_weight_kg is not None and b.end_weight_kg is not None:
        weights = f" ({b.start_weight_kg:g} to {b.end_weight_kg:g} kg)"
    return (
        f"{b.name}: {explain.sheep(b)} fed for {b.weight_kg:.1f} kg{weights}, "
        f"to gain {b.gain_g_per_day:.0f} g a day"
    )


def print_ration(console: Console, ration: Ration, *, also_lb: bool = False) -> None:
    """One batch: words first, the tables second, the method last."""
    console.rule(style="dim")
    say(console, batch_heading(ration), style="bold")
    say(console, *explain.in_a_few_sentences(ration, also_lb=also_lb))
    a = ration.assessment
    if a is None:
        return
    head = ration.batch.head
    is_forage = {o.id: o.feed.is_forage for o in ration.offers}
    grazed = {o.id for o in ration.offers if o.is_grazed}
    used = sorted((f for f in ration.feeds if f.is_used), key=lambda f: is_forage[f.id])
    put_out = [f for f in used if f.id not in grazed]
    table(
        console,
        "What to give",
        ("Feed", "put out", "eaten", "as dry\nmatter", f"for all {head}\na day", "cost", "winter"),
        [
            (
                f.name + (" (all there is)" if f.is_at_stock_limit else ""),
                kilos(f.kg_fresh_offered_per_head_day),
                kilos(f.kg_fresh_per_head_day),
                kilos(f.kg_dm_per_head_day),
                f"{f.kg_fresh_offered_per_head_day * head:.1f} kg",
                pence(f.cost_gbp_per_head_day),
                f"{f.t_fresh_for_winter:.2f} t",
            )
            for f in used
            if f.id not in grazed
        ]
        + [
            (
                "grass they find",
                "",
                kilos(f.kg_fresh_per_head_day),
                kilos(f.kg_dm_per_head_day),
                *("", "", ""),
            )
            for f in used
            if f.id in grazed
        ]
        + [
            (
                "together",
                "",
                "",
                kilos(a.dm_kg_per_day),
                f"{sum(f.kg_fresh_offered_per_head_day for f in put_out) * head:.1f} kg",
                pence(ration.cost_gbp_per_head_day),
                f"{sum(f.t_fresh_for_winter for f in put_out):.2f} t",
            )
        ],
    )
    table(
        console,
        "What it brings",
        ("Need or limit", "brings", "at least", "at most", ""),
        [
            (
                f"{n.name}, {n.unit}",
                number(n.supply, n.unit),
                number(n.need, n.unit),
                number(n.limit, n.unit),
                "just met" if n.binding else "",
            )
            for n in shown_nutrients(ration)
        ],
    )
    say(console, explain.how_far_prices_can_move(ration))
    say(
        console,
        f"Method: least cost by linear programming over every diet quality and feeding level; no "
        f"mix of these feeds costs less by more than {max(ration.proved_gap_share, 1e-6):.4%} "
        f"(proved). q {a.q:.3f}, level {a.feeding_level:.2f}. Books worked again from the feeds "
        f"without the solver.",
        style="dim",
    )


def print_worth(console: Console, rations: Sequence[Ration]) -> None:
    """What each feed on offer is worth to each batch, one table for the farm."""
    found = [r for r in rations if r.is_found]
    if not found:
        return
    grazed = {o.id for o in found[0].offers if o.is_grazed}
    lines = {r.batch.name: {f.id: f for f in r.feeds} for r in found}
    order = sorted(
        (f for f in found[0].feeds if f.id not in grazed),
        key=lambda f: (not any(lines[b][f.id].is_used for b in lines), f.name.lower()),
    )
    table(
        console,
        "What each feed is worth, per tonne delivered",
        ("Feed", "price", *lines),
        [
            (
                f.name,
                f"{money(f.price_gbp_per_t_fresh)}" + (" at home" if f.is_home else ""),
                *(_worth(r, lines[r.batch.name][f.id]) for r in found),
            )
            for f in order
        ],
    )


def _worth(ration: Ration, line: FeedLine) -> str:
    """What a feed is worth to one batch; hays other than the one in the rack have no worth."""
    groups = {o.id: o.feed.group for o in ration.offers}
    if ration.rack is not None and ration.rack.offer_id != line.id and groups[line.id] == "hay":
        return "not in the rack"
    return explain.worth_words(line, short=True)


def print_short(console: Console, ration: Ration) -> None:
    """One batch in a few sentences, for a second answer beside the first."""
    console.rule(style="dim")
    say(console, batch_heading(ration), style="bold")
    say(console, *explain.in_a_few_sentences(ration))


def shown_nutrients(ration: Ration) -> list[NutrientLine]:
    """The lines worth a row; the two ends of calcium to phosphorus in one."""
    from dataclasses import replace

    most = next((n for n in ration.nutrients if n.id == "ca_to_p_most"), None)
    out = []
    for n in ration.nutrients:
        if n.id == "ca_to_p_least" and most is not None:
            n = replace(n, limit=most.limit, binding=n.binding or most.binding)
        elif n.id == "ca_to_p_most" and any(x.id == "ca_to_p_least" for x in ration.nutrients):
            continue
        if _worth_a_line(n):
            out.append(n)
    return out


def _worth_a_line(n: NutrientLine) -> bool:
    is_silent = n.id.startswith(("most ", "starch"))
    return not (is_silent and n.supply <= 0 and not n.binding)


def number(value: float | None, unit: str) -> str:
    """A figure of a need or limit, to the places its unit is printed with."""
    if value is None:
        return ""
    if unit == "% of DM" or unit.startswith("g "):
        return f"{value:.1f}"
    return f"{value:.2f}"


def print_mix(console: Console, done: Mixed) -> None:
    """All batches, then what is common to them, then the cautions, each once."""
    result = done.result
    print_heading(console, result.farm)
    if done.before is not None:
        print_changes(console, done.before, result)
    for ration in result.rations:
        print_ration(console, ration, also_lb=result.farm.also_show_lb)
    console.rule(style="dim")
    found = [r for r in result.rations if r.is_found]
    if len(found) > 1:
        total = sum(r.cost_gbp_for_winter for r in found)
        head = sum(r.batch.head for r in found)
        day = sum(r.cost_gbp_per_head_day * r.batch.head for r in found)
        say(
            console,
            f"All {head} together: {money(day)} a day, {money(total)} for the "
            f"{result.farm.days} days.",
            style="bold",
        )
    say(
        console,
        "One ration a batch, all winter, home stock shared by live weight. Periods, loads, bags, "
        "bins and hay moved from month to month: ration winter.",
    )
    print_worth(console, result.rations)
    if found:
        say(console, "Where the figures used come from", style="bold")
        say(console, *explain.where_the_figures_come_from(found))
    for feed_id, reason in result.rations[0].left_out if result.rations else ():
        say(console, f"Left out: {feed_id} ({reason}).")
    print_cautions(console, done.cautions)
    print_footer(console, result)


def print_changes(console: Console, before: FarmRations, after: FarmRations) -> None:
    """What laboratory sheets laid on in this run changed, and why."""
    say(console, "What the analysis changed", style="bold")
    say(console, *changes.what_changed_in_feeds(before, after))
    for old, new in zip(before.rations, after.rations, strict=True):
        say(console, *changes.what_changed(old, new))


def print_heading(console: Console, farm: Farm) -> None:
    """Farm, dates and days."""
    head = sum(b.head for b in farm.batches)
    say(
        console,
        f"{farm.name}: {head} sheep, {farm.start.day} {farm.start:%B %Y} to {farm.end.day} "
        f"{farm.end:%B %Y}, {farm.days} days",
        style="bold",
    )


def print_cautions(console: Console, found: Sequence[Caution]) -> None:
    """Stops first, then the rest, then the standing line."""
    if found:
        say(console, "Cautions", style="bold")
    for c in found:
        source = f" [{c.source}]" if c.source else ""
        say(
            console,
            f"{LEVEL_WORDS[c.level]}, {c.title[:1].lower()}{c.title[1:]}: {c.words}{source}",
            style="bold" if c.level == "stop" else None,
        )
    say(console, cautions.STANDING, style="bold")


def print_footer(console: Console, result: FarmRations) -> None:
    """Versions and hashes, so that the same input gives the same bytes."""
    from importlib import metadata

    solver = next((r.solver for r in result.rations if r.solver), "")
    say(
        console,
        f"ration {metadata.version('ration')}; feed tables {result.tables_digest}; {solver}; "
        f"standard {result.farm.standard}, margin {result.farm.margin:g}, maintenance "
        f"{result.farm.maintenance:g}.",
        style="dim",
    )


def print_assessments(console: Console, done: Assessed) -> None:
    """`ration assess`: every batch that is fed, then the cautions, each once."""
    print_heading(console, done.farm)
    for a in done.told:
        print_assessment(console, a)
    console.rule(style="dim")
    print_cautions(console, done.cautions)


def print_assessment(console: Console, a: Assessment) -> None:
    """`ration assess`: what this ration will do."""
    b = a.batch
    console.rule(style="dim")
    say(
        console,
        f"{b.name}: {explain.sheep(b)} of {b.weight_kg:.1f} kg, target "
        f"{b.gain_g_per_day:.0f} g a day",
        style="bold",
    )
    if a.is_part_ration:
        say(
            console,
            f"Part ration: {a.maintenance_share:.0%} of maintenance energy, remainder from "
            "grazing.",
        )
    else:
        say(console, explain.what_to_expect(a))
    say(console, f"It costs {pence(a.cost_gbp_per_head_day)} a head a day.")
    table(
        console,
        "",
        ("Feed", "put out", "eaten", "as dry matter", "cost"),
        [
            (
                p.name,
                kilos(p.kg_fresh_offered_per_head_day),
                kilos(p.kg_fresh_per_head_day),
                kilos(p.kg_dm_per_head_day),
                pence(p.cost_gbp_per_head_day),
            )
            for p in a.portions
        ],
    )
    table(
        console,
        "",
        ("Need", "brings", "needs", "over or short"),
        [
            (
                f"{x.name}, {x.unit}",
                f"{x.supply:.2f}",
                "" if x.need is None or math.isinf(x.need) else f"{x.need:.2f}",
                "out of reach"
                if x.need is not None and math.isinf(x.need)
                else ("" if x.balance is None else f"{x.balance:+.2f}"),
            )
            for x in a.balances
        ]
        + [
            (
                f"{x.name}, {x.unit}",
                "" if math.isnan(x.supply) else f"{x.supply:.1f}",
                "",
                f"unknown for {joined(x.unknown)}" if x.unknown else "",
            )
            for x in a.watched.values()
        ],
    )
    say(
        console,
        f"Calcium is {a.ca_to_p:.1f} times phosphorus. Energy alone would give "
        f"{a.gain_energy_g_per_day:.0f} g a day, protein alone {a.gain_protein_g_per_day:.0f}.",
        *a.notes,
        f"Method: {a.standard}, margin {a.margin:g}; q {a.q:.3f}, level {a.feeding_level:.2f}.",
    )
