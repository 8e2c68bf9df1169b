"""Minerals and vitamins on the screen: words, the table, where the books differ, sources."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ration import cautions, explain
from ration.faces import minerals_words as words
from ration.faces import report
from ration.minerals import OVER_LAW, MineralLine
from ration.plain_text import joined

if TYPE_CHECKING:
    from rich.console import Console

    from ration.jobs.minerals import BatchMinerals, FarmMinerals


def print_minerals(console: Console, done: FarmMinerals) -> None:
    """`ration minerals`: words, the table, where the books differ, sources and marks."""
    report.print_heading(console, done.farm)
    for found in done.batches:
        console.rule(style="dim")
        _print_batch(console, found, done)
    console.rule(style="dim")
    report.say(console, words.VET, words.COPPER_VET)
    report.say(console, cautions.STANDING, style="bold")
    told = [b.account for b in done.batches if b.account]
    if told:
        report.say(console, "Sources and how each figure is known", style="bold")
        report.say(console, *words.source_lines(told, done.tables), style="dim")


def _print_batch(console: Console, found: BatchMinerals, done: FarmMinerals) -> None:
    b, told = found.batch, found.account
    what = "fed now" if done.is_fed else "the cheapest mix"
    report.say(
        console,
        f"{b.name}: {explain.sheep(b)} of {b.weight_kg:.1f} kg, {what}",
        style="bold",
    )
    if told is None:
        report.say(console, "No mix was found for them, so there is nothing to look at.")
        return
    report.say(console, *words.three_sentences(told))
    for line in told.of(OVER_LAW):
        report.say(console, f"{line.name}: do not feed this before asking your vet.", style="bold")
    report.table(
        console,
        f"Per kg of dry matter and a head a day; each eats {told.dm_kg_per_day:.2f} kg DM a day",
        ("", "brings", "a day", "books ask", "at most", "so"),
        [_row(line) for line in told.lines],
        words=(0, 3, 4, 5),
    )
    if told.ca_to_p is not None:
        report.say(console, f"Calcium is {told.ca_to_p:.1f} times phosphorus.")
    given = [f"{name} {explain.kilos(g / 1000)}" for name, g in told.given]
    if given:
        report.say(console, f"Minerals given, a head a day: {joined(given)}.")
    notes = (
        *words.verdict_lines(told),
        *words.alarm_lines(told),
        *words.copper_lines(told),
        *words.unknown_lines(told),
    )
    report.say(console, *notes)
    for supplement in found.supplements:
        report.say(console, *words.supplement_lines(supplement))
    if differing := words.differences(told):
        report.say(console, "Where the books differ", style="bold")
        report.say(console, *differing)
    for c in found.cautions:
        report.say(
            console,
            f"{report.LEVEL_WORDS[c.level]}, {c.title.lower()}: {c.words} [{c.source}]",
            style="bold" if c.level == "stop" else None,
        )


def _row(line: MineralLine) -> tuple[str, ...]:
    unit = words.unit_words(line)
    at_least = "at least " if line.unknown else ""
    known = line.per_kg_dm is not None and line.per_head_day is not None
    return (
        f"{line.name}, {unit}",
        f"{at_least}{words.figure(line.per_kg_dm or 0.0)}" if known else "unknown",
        words.figure(line.per_head_day or 0.0) if known else "unknown",
        "; ".join(words.span(n) for n in line.needs) or "none published",
        "; ".join(words.limit(m) for m in line.limits if m.is_sure) or "none published",
        line.verdict,
    )
