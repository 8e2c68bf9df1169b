"""Needs in words and a table: by one standard, by all beside each other; the rations by each."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ration import explain
from ration.explain import kilos, pence
from ration.faces.report import say, table
from ration.plain_text import joined, sentence
from ration.units import in_words_standard, money

if TYPE_CHECKING:
    from rich.console import Console

    from ration.animals import Batch
    from ration.jobs import MixedByEach
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
SHORT_KNOWN = {
    "print": "print",
    "restated": "restated",
    "derived": "derived",
    "memory": "memory",
    "practice": "practice",
}

LEAST_SHOWN_KG = 0.001


def sheep_words(batch: Batch) -> str:
    """Ewe lamb (female, under a year), 30 kg, to gain 20 g a day, shed."""
    age = "under a year" if batch.under_one_year else "over a year"
    state = ""
    if batch.days_pregnant is not None:
        inside = (
            "weight of her lambs not said"
            if batch.litter_kg is None
            else f"with {batch.litter_kg:g} kg of lambs"
        )
        state = f", day {batch.days_pregnant:g} of pregnancy {inside}"
    elif batch.milk_kg_per_day:
        state = f", giving {batch.milk_kg_per_day:g} kg of milk a day"
    gain = batch.gain_g_per_day
    change = f"{'to gain' if gain > 0 else 'losing'} {abs(gain):g} g a day"
    cold = (
        f", {batch.cold_me_mj_per_day:g} MJ a day for cold" if batch.cold_me_mj_per_day else ""
    )
    return sentence(
        f"{batch.sheep_class.replace('-', ' ')} ({batch.sex}, {age}), {batch.weight_kg:g} kg, "
        f"{change if gain else 'to hold her weight' if batch.sex == 'female' else 'to hold his weight'}"
        f"{state}, {batch.housing}{cold}"
    )


def print_needs(console: Console, needs: Needs, what: str) -> None:
    """`ration needs` in words and a table."""
    say(console, what, style="bold")
    say(
        console,
        f"Each day it needs {needs.me_mj_per_day:.2f} MJ of energy (ME) and "
        f"{needs.protein_g_per_day:.1f} g of {PROTEIN_WORDS[needs.protein_kind]} "
        f"({needs.protein_kind}).",
        f"On feed of {needs.md_mj_per_kg_dm:.1f} MJ per kg dry matter (DM) that is "
        f"{needs.me_mj_per_day / needs.md_mj_per_kg_dm:.2f} kg DM.",
    )
    table(
        console,
        "",
        ("Need", "a head a day", "how it is known", "source"),
        [
            (*_need_row(f, needs), HOW_KNOWN[f.mark], f.source)
            for f in needs.figures
            if not f.is_part or abs(f.per_day) > 5e-4
        ],
        words=(0, 2, 3),
    )
    gain = (
        f"; no amount of this feed gives {needs.most_gain_g_per_day:.0f} g a day or more"
        if needs.most_gain_g_per_day is not None
        else ""
    )
    say(
        console,
        f"Of the energy, {needs.maintenance_me_mj_per_day:.2f} MJ is to stand still{gain}.",
        f"Safety margin {needs.margin:g} is in energy and protein; maintenance multiplier "
        f"{needs.maintenance:g}.",
        "Trials with modern sheep found maintenance 40 to 50 % over this standard (Feed into Lamb, "
        "2018): try --maintenance 1.4.",
        f"Appetite for long hay by an old equation, from memory: "
        f"{needs.coarse_intake_kg_dm_per_day:.2f} kg DM. A hint, not a limit.",
        *needs.notes,
        f"Method: {needs.method}",
    )


def _need_row(figure: Figure, needs: Needs) -> tuple[str, str]:
    name, _, part = figure.id.partition(": ")
    words = f"  {part}" if part else f"{name}, {figure.unit}"
    if name == "dry matter":
        return "dry matter, kg", f"{needs.dmi_kg_per_day_min:.2f} to {needs.dmi_kg_per_day_max:.2f}"
    return words, _amount(figure)


def _amount(figure: Figure) -> str:
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
    say(
        console,
        f"Each day it needs, on feed of {first.md_mj_per_kg_dm:.1f} MJ per kg dry matter: "
        f"{joined(energies)}. They are not averaged: choose one, and watch the sheep.",
    )
    figures = {name: {f.id: f for f in n.figures} for name, n in told.needs.items()}
    ids = _in_order([list(f) for f in figures.values()])
    rows = []
    for key in ids:
        have = [figures[n].get(key) for n in names]
        first_one = next(f for f in have if f is not None)
        if first_one.is_part and all(f is None or abs(f.per_day) < 5e-3 for f in have):
            continue
        name, _, part = key.partition(": ")
        if name == "dry matter":
            continue
        unit = (
            "" if part else (", g of its own kind" if name == "protein" else f", {first_one.unit}")
        )
        cells = [
            ""
            if f is None
            else _amount(f) + (f" {f.unit[2:]}" if name == "protein" and not part else "")
            for f in have
        ]
        marks = ["" if f is None else SHORT_KNOWN[f.mark] for f in have]
        rows.append(
            (
                f"  {part}" if part else f"{name}{unit}",
                *(cell for pair in zip(cells, marks, strict=True) for cell in pair),
            )
        )
    heads = [cell for n in names for cell in (in_words_standard(n), "known by")]
    table(
        console,
        "",
        ("Need, a head a day", *heads),
        rows,
        words=(0, *range(2, 2 * len(names) + 1, 2)),
    )
    for difference in told.differences:
        say(console, difference_words(difference))
    if not told.differences:
        say(console, "No two of them differ by more than a tenth on energy, calcium or phosphorus.")
    say(
        console,
        "Protein is not compared: metabolisable (MP), crude (CP) and digestible protein leaving "
        "the stomach (DPLS) are three different things.",
    )
    for name, why in told.refused.items():
        say(console, f"{in_words_standard(name)} does not cover these sheep: {why}.")
    for name, n in told.needs.items():
        for note in n.notes:
            say(console, f"{in_words_standard(name)}: {note}")
    for n in told.needs.values():
        keys = _in_order([[k for f in n.figures for k in f.source.split(", ") if k]])
        say(console, f"Method: {n.method} Sources: {', '.join(keys)}.", style="dim")


def difference_words(d: Difference) -> str:
    """One difference over a tenth, its parts and why."""
    parts = [f"{abs(v):.2f} {'more' if v > 0 else 'less'} {name}" for name, v in d.parts]
    made_of = f" ({joined(parts)})" if parts else ""
    return (
        f"{d.need.capitalize()}: {in_words_standard(d.high)} asks {d.high_per_day:.2f} {d.unit}, "
        f"{d.over_share:.0%} more than {in_words_standard(d.low)}{made_of}. {_sentence(d.why)}"
    )


def _sentence(words: str) -> str:
    return f"Why: {words}." if words else ""


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
    farm, names = done.farm, list(done.by)
    say(console, f"{farm.name}: the cheapest safe mix by each standard", style="bold")
    for name, error in done.refused.items():
        reasons = "; ".join(f"{p.where}: {p.read}; {p.allowed}" for p in error.problems)
        say(console, f"{in_words_standard(name)} does not cover these sheep: {reasons}.")
    first = done.by[names[0]].result.rations
    for k, ration in enumerate(first):
        console.rule(style="dim")
        each = {name: done.by[name].result.rations[k] for name in names}
        b = ration.batch
        say(
            console,
            f"{b.name}: {explain.sheep(b)} fed for {b.weight_kg:.1f} kg, to gain "
            f"{b.gain_g_per_day:.0f} g a day",
            style="bold",
        )
        costs = [
            f"{pence(r.cost_gbp_per_head_day)} by {in_words_standard(n)}"
            if r.is_found
            else f"no mix will do by {in_words_standard(n)}"
            for n, r in each.items()
        ]
        say(console, f"A head a day: {joined(costs)}.")
        for n, r in each.items():
            if not r.is_found:
                say(console, f"{in_words_standard(n)}: {' '.join(explain.why_no_mix(r))}")
        if not any(r.is_found for r in each.values()):
            continue
        feeds = _in_order([[f.id for f in r.feeds if f.is_used] for r in each.values()])
        words = {f.id: f.name for f in ration.feeds} | {
            f.id: f.name for r in each.values() for f in r.feeds
        }
        lines = {n: {f.id: f for f in r.feeds} for n, r in each.items()}

        def put_out(name: str, feed: str, lines: dict[str, dict[str, object]] = lines) -> str:  # type: ignore[assignment]
            line = lines[name].get(feed)
            if line is None or not line.is_used:  # type: ignore[attr-defined]
                return ""
            kg: float = line.kg_fresh_offered_per_head_day  # type: ignore[attr-defined]
            return kilos(kg) if kg >= LEAST_SHOWN_KG else "under 1 g"

        rows = [(words[f], *(put_out(n, f) for n in names)) for f in feeds]
        found = {n: r.assessment for n, r in each.items() if r.assessment is not None}
        rows += [
            (
                "dry matter eaten",
                *(kilos(found[n].dm_kg_per_day) if n in found else "" for n in names),
            ),
            (
                "cost for the winter",
                *(money(each[n].cost_gbp_for_winter) if n in found else "" for n in names),
            ),
            ("limited by", *(found[n].limited_by if n in found else "" for n in names)),
            (
                "cost proved within",
                *(f"{each[n].proved_gap_share:.4%}" if n in found else "" for n in names),
            ),
        ]
        for judge in names:
            rows.append(
                (
                    f"gain, says {in_words_standard(judge)}",
                    *(_gain(done.judged.get((b.name, n, judge))) for n in names),
                )
            )
        table(
            console,
            "Put out for each, each day, if the ration is made by",
            ("", *(in_words_standard(n) for n in names)),
            rows,
        )
    say(
        console,
        "The standards are not averaged. Where one expects a loss of the ration another makes, the "
        "truth lies on your scales: weigh in January.",
        "Method: each ration is the proved least cost by its own standard, its own safety margin "
        "included; each is then summed again from the feeds by every standard.",
        style="dim",
    )


def _gain(g_per_day: float | None) -> str:
    if g_per_day is None or not math.isfinite(g_per_day):
        return ""
    return f"{g_per_day:+.0f} g/day"
