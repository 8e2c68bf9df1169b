"""Needs in words and a table: by one standard, by all beside each other; the rations by each."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from ration import explain
from ration.explain import kilos, pence
from ration.faces.report import print_cautions, say, table
from ration.plain_text import joined, sentence
from ration.units import in_words_standard, money

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rich.console import Console

    from ration.animals import Batch
    from ration.cautions import Caution
    from ration.jobs import MixedByEach
    from ration.mix import Ration
    from ration.needs import Beside, Difference, Figure, Needs

PROTEIN_WORDS = {
    "MP": "metabolisable protein",
    "CP": "crude protein",
    "DPLS": "digestible protein leaving the stomach",
}
HOW_KNOWN = {
    "print": "read in print",
    "restated": "book, restated in later works",
    "derived": "derived",
    "memory": "from memory, unverified",
    "practice": "common practice, editable",
}
MARKS = {
    "print": "read in print",
    "restated": "in later works that name the book",
    "derived": "worked from the book's figures",
    "memory": "remembered and unverified",
    "practice": "common practice",
}
LEAST_SHOWN = 5e-3  # a part, in its unit, that rounds to nothing
LEAST_FED_KG = 5e-5


def sheep_words(batch: Batch) -> str:
    """Ewe lamb (female, under a year), 30 kg, to gain 20 g a day, shed."""
    age = "under a year" if batch.under_one_year else "over a year"
    parts = [
        f"{batch.sheep_class.replace('-', ' ')} ({batch.sex}, {age})",
        f"{batch.weight_kg:g} kg",
        _change(batch.gain_g_per_day),
    ]
    if batch.days_pregnant is not None:
        inside = (
            "the weight of her lambs not said"
            if batch.litter_kg is None
            else f"{batch.litter_kg:g} kg of lambs"
        )
        parts.append(f"day {batch.days_pregnant:g} of pregnancy, {inside}")
    elif batch.milk_kg_per_day:
        parts.append(f"giving {batch.milk_kg_per_day:g} kg of milk a day")
    parts.append(batch.housing)
    if batch.walk_km_per_day is not None and batch.climb_km_per_day is not None:
        climb_m = 1000 * batch.climb_km_per_day
        parts.append(f"walking {batch.walk_km_per_day:g} km and climbing {climb_m:.0f} m a day")
    return sentence(", ".join(parts))


def _change(gain_g_per_day: float) -> str:
    if not gain_g_per_day:
        return "to hold its weight"
    which = "to gain" if gain_g_per_day > 0 else "losing"
    return f"{which} {abs(gain_g_per_day):g} g a day"


def print_needs(console: Console, needs: Needs, what: str) -> None:
    """`ration needs` in words and a table."""
    say(console, f"{what}, by {in_words_standard(needs.standard)}", style="bold")
    say(
        console,
        f"Each day it needs {needs.me_mj_per_day:.2f} MJ of energy (ME) and "
        f"{needs.protein_g_per_day:.1f} g of {PROTEIN_WORDS[needs.protein_kind]} "
        f"({needs.protein_kind}).",
        f"On feed of {needs.md_mj_per_kg_dm:.1f} MJ per kg dry matter (DM) that energy is in "
        f"{needs.me_mj_per_day / needs.md_mj_per_kg_dm:.2f} kg DM.",
    )
    table(
        console,
        "",
        ("Need", "a head a day", "how it is known", "source"),
        [
            (*_need_row(f, needs), HOW_KNOWN[f.mark], f.source)
            for f in needs.figures
            if not f.is_part or abs(f.per_day) > LEAST_SHOWN
        ],
        words=(0, 2, 3),
    )
    say(console, *_about(needs), *needs.notes)
    say(console, f"Method: {needs.method} {WHERE_SOURCES_ARE}", style="dim")


WHERE_SOURCES_ARE = "What each source is, by its key: feedtables/sources.csv."


def _about(needs: Needs) -> Iterator[str]:
    """What is in the figures: standing still, margin, multiplier, appetite."""
    gain = (
        f"; no amount of this feed gives {needs.most_gain_g_per_day:.0f} g a day or more"
        if needs.most_gain_g_per_day is not None
        else ""
    )
    yield f"Of the energy, {needs.maintenance_me_mj_per_day:.2f} MJ is to stand still{gain}."
    yield (
        "No safety margin is added."
        if needs.margin == 1
        else f"A safety margin of {needs.margin - 1:.0%} is in energy and protein."
        if needs.margin > 1
        else f"Energy and protein are cut to {needs.margin:.0%} of the standard."
    )
    if needs.maintenance != 1:
        yield f"Standing still is taken at {needs.maintenance:g} times the standard."
    elif needs.standard == "AFRC 1993":
        yield (
            "Trials with modern sheep found maintenance 40 to 50 % over this standard (Feed into "
            "Lamb, 2018): try --maintenance 1.4."
        )
    if needs.appetites:
        yield appetite_words(needs)


def appetite_words(needs: Needs) -> str:
    """What published equations and trials say they clear, beside the band."""
    told = [
        f"{p.kg_dm_per_day:.2f} kg {p.name} [{p.source}, {p.mark}]"
        for p in sorted(needs.appetites, key=lambda p: p.kg_dm_per_day)
    ]
    return f"What they clear, as published, in dry matter: {joined(told)}. Hints, not limits."


def _need_row(figure: Figure, needs: Needs) -> tuple[str, str]:
    name, _, part = figure.id.partition(": ")
    words = f"  {part}" if part else f"{name}, {figure.unit}"
    if name == "dry matter":
        band = f"{needs.dmi_kg_per_day_min:.2f} to {needs.dmi_kg_per_day_max:.2f}"
        return "dry matter they clear, kg", band
    return words, _amount(figure)


def _amount(figure: Figure) -> str:
    if figure.unit == "IU":
        return f"{figure.per_day:,.0f}"
    return f"{figure.per_day:.1f}" if figure.unit.startswith("g ") else f"{figure.per_day:.2f}"


# ---------------------------------------------------------------- all standards


def print_beside(console: Console, told: Beside) -> None:
    """`ration needs --standard all`: each standard a column, differences named."""
    names = list(told.needs)
    say(console, sheep_words(told.batch), style="bold")
    first = told.needs[names[0]]
    energies = [
        f"{n.me_mj_per_day:.2f} MJ by {in_words_standard(name)}" for name, n in told.needs.items()
    ]
    choose = " They are not averaged: choose one, and watch the sheep." if len(names) > 1 else ""
    say(
        console,
        f"Each day it needs, on feed of {first.md_mj_per_kg_dm:.1f} MJ per kg dry matter: "
        f"{joined(energies)}.{choose}",
    )
    table(
        console,
        "",
        (
            "Need, a head a day",
            *(cell for n in names for cell in (in_words_standard(n), "known by")),
        ),
        list(_rows_beside(told)),
        words=(0, *range(2, 2 * len(names) + 1, 2)),
    )
    for difference in told.differences:
        say(console, difference_words(difference))
    _say_what_is_not_there(console, told)
    noted: dict[str, list[str]] = {}
    for name, n in told.needs.items():
        for note in n.notes:
            noted.setdefault(note, []).append(in_words_standard(name))
    say(console, *(f"{joined(by)}: {note}" for note, by in noted.items()))
    for n in told.needs.values():
        keys = _in_order([[k for f in n.figures for k in f.source.split(", ") if k]])
        say(console, f"Method: {n.method} Sources: {', '.join(keys)}.", style="dim")
    say(console, _marks_words(told), WHERE_SOURCES_ARE, style="dim")


def _marks_words(told: Beside) -> str:
    """What the marks in the table mean, those that are there."""
    there = {f.mark for n in told.needs.values() for f in n.figures}
    return f"Known by: {'; '.join(f'{m}, {MARKS[m]}' for m in MARKS if m in there)}."


def _say_what_is_not_there(console: Console, told: Beside) -> None:
    """No difference, no comparison of proteins, no such sheep."""
    if len(told.needs) > 1:
        if not told.differences:
            say(
                console,
                "No two of them differ by more than a tenth on energy, calcium or phosphorus.",
            )
        kinds = [f"{PROTEIN_WORDS[n.protein_kind]} ({n.protein_kind})" for n in told.needs.values()]
        say(console, f"Protein is not compared: {joined(kinds)} are different things.")
    for name, why in told.refused.items():
        say(console, f"{in_words_standard(name)} gives no needs here: {why}.")


def _rows_beside(told: Beside) -> Iterator[tuple[str, ...]]:
    """One row a need or part: its words, then amount and mark by each standard."""
    figures = {name: {f.id: f for f in n.figures} for name, n in told.needs.items()}
    for key in _in_order([list(f) for f in figures.values()]):
        have = [figures[n].get(key) for n in told.needs]
        one = next(f for f in have if f is not None)
        if one.is_part and all(f is None or abs(f.per_day) < LEAST_SHOWN for f in have):
            continue
        name, _, part = key.partition(": ")
        if name == "dry matter":
            band = told.needs[next(iter(told.needs))]
            one_band = f"{band.dmi_kg_per_day_min:.2f} to {band.dmi_kg_per_day_max:.2f}"
            yield (
                "dry matter they clear, kg",
                *(cell for f in have for cell in (one_band, "" if f is None else f.mark)),
            )
            continue
        unit = ", g of its own kind" if name == "protein" else f", {one.unit}"
        yield (
            f"  {part}" if part else f"{name}{unit}",
            *(cell for f in have for cell in _cells_beside(f)),
        )


def _cells_beside(figure: Figure | None) -> tuple[str, str]:
    if figure is None:
        return "", ""
    kind = f" {figure.unit[2:]}" if figure.id == "protein" else ""
    return f"{_amount(figure)}{kind}", figure.mark


def difference_words(d: Difference) -> str:
    """One difference over a tenth, its parts and why."""
    parts = [
        f"{abs(v):.2f} {'more' if v > 0 else 'less'} {_of_part(name)}"
        for name, v in d.parts
        if abs(v) >= LEAST_SHOWN
    ]
    made_of = f" ({joined(parts)})" if parts else ""
    much = (
        f"{d.over_share:.0%} more than"
        if d.over_share < 1
        else f"{d.high_per_day / d.low_per_day:.1f} times as much as"
    )
    why = f" Why: {d.why}." if d.why else ""
    return (
        f"{sentence(d.need)}: {in_words_standard(d.high)} asks {d.high_per_day:.2f} {d.unit}, "
        f"{much} {in_words_standard(d.low)}{made_of}.{why}"
    )


def _of_part(name: str) -> str:
    """A part as it stands after "more" or "less"."""
    return f"as {name}" if name == "safety margin" else name


def _in_order(lists: list[list[str]]) -> list[str]:
    """All names once, each list's own order kept as far as it goes."""
    out: list[str] = []
    for names in lists:
        at = -1
        for name in names:
            if name in out:
                at = out.index(name)
            else:
                at += 1
                out.insert(at, name)
    return out


# ---------------------------------------------------------------- rations by each


def print_mix_by_each(console: Console, done: MixedByEach) -> None:
    """`ration mix --standard all`: one batch at a time, a column a standard."""
    names = list(done.by)
    say(console, f"{done.farm.name}: the cheapest safe mix by each standard", style="bold")
    for name, error in done.refused.items():
        reasons = "; ".join(
            ": ".join(part for part in (p.where, p.read, p.allowed) if part) for p in error.problems
        )
        say(console, f"{in_words_standard(name)} makes no ration here: {reasons}.")
    for k in range(len(done.by[names[0]].result.rations)):
        console.rule(style="dim")
        _print_batch_by_each(
            console, done, {name: done.by[name].result.rations[k] for name in names}
        )
    console.rule(style="dim")
    say(
        console,
        "The standards are not averaged. Where one expects less of a ration than another, the "
        "truth lies on your scales: weigh in January.",
        "Worth of feeds and prices: ration mix by one standard.",
    )
    print_cautions(console, _cautions_by_each(done))
    margin = (
        "each standard's own safety margin"
        if done.farm.own_margin is None
        else "the farm's safety margin"
    )
    say(
        console,
        f"Method: each ration is the proved least cost by its own standard, {margin} included; "
        "each is then summed again from the feeds by every standard.",
        style="dim",
    )


def _print_batch_by_each(console: Console, done: MixedByEach, each: Mapping[str, Ration]) -> None:
    """One batch: what it costs by each, the rations in one table, why there is none."""
    b = next(iter(each.values())).batch
    gain = f"to gain {b.gain_g_per_day:.0f} g a day" if b.gain_g_per_day else "to hold their weight"
    words = f"{b.name}: {explain.sheep(b)} fed for {b.weight_kg:.1f} kg, {gain}"
    if b.is_in_lamb:
        words += f", day {b.days_pregnant:.0f} of pregnancy"
    say(console, words, style="bold")
    costs = [
        f"{pence(r.cost_gbp_per_head_day)} by {in_words_standard(n)}"
        for n, r in each.items()
        if r.is_found
    ]
    if costs:
        say(console, f"A head a day: {joined(costs)}.")
        table(
            console,
            "Put out for each, each day, by the standard it is made by",
            ("", *(in_words_standard(n) for n in each)),
            list(_rows_by_each(done, each)),
        )
    for name, ration in each.items():
        if not ration.is_found:
            why = " ".join(explain.in_a_few_sentences(ration))
            say(console, f"By {in_words_standard(name)} no mix will do: {why}")


def _rows_by_each(done: MixedByEach, each: Mapping[str, Ration]) -> Iterator[tuple[str, ...]]:
    """Feeds, then dry matter, cost, limit and proof, then the gain by each judge."""
    put_out = {
        n: {
            f.id: f
            for f in r.feeds
            if f.is_used and f.kg_fresh_offered_per_head_day >= LEAST_FED_KG
        }
        for n, r in each.items()
    }
    grazed = {o.id for r in each.values() for o in r.offers if o.is_grazed}
    words = {f.id: f.name for r in each.values() for f in r.feeds}
    for feed in _in_order([list(lines) for lines in put_out.values()]):
        cells = [
            kilos(lines[feed].kg_fresh_offered_per_head_day) if feed in lines else ""
            for lines in put_out.values()
        ]
        yield ("grass they find" if feed in grazed else words[feed], *cells)
    found = {n: r.assessment for n, r in each.items() if r.assessment is not None}

    def row(name: str, cells: Mapping[str, str]) -> tuple[str, ...]:
        return (name, *(cells.get(n, "") for n in each))

    yield row("dry matter eaten", {n: kilos(a.dm_kg_per_day) for n, a in found.items()})
    yield row("cost for the winter", {n: money(each[n].cost_gbp_for_winter) for n in found})
    yield row("limited by", {n: a.limited_by for n, a in found.items()})
    yield row(
        "proved cheapest, within",
        {n: f"{max(each[n].proved_gap_share, 1e-6):.4%}" for n in found},
    )
    batch = next(iter(each.values())).batch.name
    for judge in each:
        yield row(
            f"gain, says {in_words_standard(judge)}",
            {n: _gain(done.judged.get((batch, n, judge))) for n in each},
        )


def _cautions_by_each(done: MixedByEach) -> list[Caution]:
    """The cautions of all the rations, each once; one that is not raised by all says by which."""
    said: dict[tuple[str, str], tuple[Caution, list[str]]] = {}
    for name, mixed in done.by.items():
        for c in mixed.cautions:
            # notes that differ in a figure only are told once
            key = (c.id, c.batch if c.level == "note" else c.words)
            said.setdefault(key, (c, []))[1].append(name)
    out = [
        c
        if len(by) == len(done.by) or c.level == "note"
        else replace(
            c, words=f"In the ration by {joined([in_words_standard(n) for n in by])}: {c.words}"
        )
        for c, by in said.values()
    ]
    return sorted(out, key=lambda c: ("stop", "warn", "note").index(c.level))


def _gain(g_per_day: float | None) -> str:
    if g_per_day is None or not math.isfinite(g_per_day):
        return ""
    return f"{g_per_day:+.0f} g/day"
