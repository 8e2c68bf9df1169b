"""Minerals and vitamins in plain sentences: the verdict, what is not known, where the books differ.

Nothing is worked out here but rounding, always to the side on which the sentence stays true.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from ration.feeds import MARK_WORDS
from ration.minerals import (
    COPPER,
    DIFFER,
    MOLYBDENUM,
    OVER_BOOK,
    OVER_LAW,
    SHORT,
    SULPHUR,
    UNKNOWN,
    Beside,
    Ceiling,
    Cover,
    MineralAccount,
    MineralLine,
    Supplement,
)
from ration.plain_text import joined, sentence
from ration.tables.minerals import LEGAL

if TYPE_CHECKING:
    from ration.tables import Tables

VET = "Ask your vet or nutritionist before you change a mineral."
WHEN_WORDS = {"mo-under-1": " if Mo is under 1", "mo-over-3": " if Mo is over 3"}
COPPER_VET = "Never add copper on this: ask your vet."


# ---------------------------------------------------------------- figures and names in print


def figure(value: float) -> str:
    """A content with three figures: 17.0, 0.57, 136, 8,000.

    Examples
    --------
    >>> [figure(v) for v in (17.0454, 0.568, 136.36, 8000)]
    ['17.0', '0.568', '136', '8,000']
    """
    return f"{value:,.0f}" if abs(value) >= 99.95 else f"{value:#.3g}"


def _end(value: float, beside: Beside) -> str:
    """An end of a published figure: as printed where it is per kg DM, else with three figures."""
    return f"{value:,g}" if beside.level.basis == "kg DM" else figure(value)


def span(beside: Beside) -> str:
    """The need of one book: "0.9 to 1.8 NRC 1985"."""
    least = beside.least or 0.0
    ends = _end(least, beside)
    if beside.most is not None and beside.most > least * 1.0001:
        ends += f" to {_end(beside.most, beside)}"
    when = WHEN_WORDS.get(beside.level.when, "")
    return f"{ends} {beside.level.edition}{when}"


def limit(beside: Beside) -> str:
    """One limit: "17.0 by law", "300 NRC 2005"."""
    by = "by law" if beside.level.what == LEGAL else beside.level.edition
    most = beside.ceiling
    return f"{figure(most) if beside.level.what == LEGAL else _end(most, beside)} {by}"


def small(line: MineralLine | Cover | Ceiling) -> str:
    """The name in a sentence: "vitamin A", "copper"."""
    return _small(line.name)


def _small(name: str) -> str:
    return name[:1].lower() + name[1:]


def unit_words(line: MineralLine) -> str:
    """The plain unit: "mg"."""
    return line.unit.split("/")[0]


def _editions(found: Iterable[Beside]) -> str:
    return joined(tuple(dict.fromkeys(b.level.edition for b in found)))


# ---------------------------------------------------------------- sentences


def verdict_words(line: MineralLine) -> str:
    """The verdict of one line, with the books that say so."""
    match line.verdict:
        case "cannot tell":
            if line.per_kg_dm is None:
                return "cannot tell: no feed has a figure"
            return f"cannot tell: unknown for {', '.join(line.unknown)}"
        case "over the legal most":
            return f"over the legal most{_also(line)}"
        case "over what is tolerated":
            return f"over what {_editions(line.passed)} tolerates"
        case "short":
            return f"short by {_editions(line.short_by)}"
        case "books differ":
            return f"enough by {_editions(line.met)}, short by {_editions(line.short_by)}"
        case "enough":
            return "enough"
    return line.verdict


def _also(line: MineralLine) -> str:
    books = tuple(m for m in line.passed if m.level.what != LEGAL)
    return f" and what {_editions(books)} tolerates" if books else ""


def three_sentences(told: MineralAccount) -> list[str]:
    """What is short, what is too much, what cannot be told; and where the books differ."""
    short, differ = told.of(SHORT), told.of(DIFFER)
    over, unknown = told.of(OVER_LAW, OVER_BOOK), told.of(UNKNOWN)
    out = [
        f"Short by every book: {joined([_short_words(x) for x in short])}."
        if short
        else "Nothing is surely short by every book.",
        f"Too much: {joined([f'{small(x)} ({verdict_words(x)})' for x in over])}."
        if over
        else "Nothing that is known passes a limit.",
    ]
    if unknown:
        names = joined([small(x) for x in unknown])
        out.append(f"Cannot be told, for want of figures: {names}.")
    else:
        out.append("Every feed has every figure.")
    if differ:
        out.append(f"The books differ: {joined([small(x) for x in differ])}.")
    if any(_is_book(origin) for x in (*short, *differ) for _, _, origin in x.by_feed):
        out.append(
            "What is called short rests on book figures too: have your own forage analysed first."
        )
    if told.is_part_ration:
        out.append("Part ration: what the grazing brings is not known, so nothing is called short.")
    return out


def _is_book(origin: str) -> bool:
    return not origin.startswith(tuple(MARK_WORDS[m] for m in ("lab", "label", "user")))


def _short_words(line: MineralLine) -> str:
    return f"{small(line)} (add none: ask your vet)" if line.nutrient == COPPER else small(line)


def verdict_lines(told: MineralAccount) -> list[str]:
    """The books behind each verdict that is short, too much, or not agreed on."""
    return [
        f"{line.name}: {verdict_words(line)}{_never(line)}."
        for line in told.of(SHORT, DIFFER, OVER_BOOK, OVER_LAW)
    ]


def _never(line: MineralLine) -> str:
    short = line.nutrient == COPPER and line.short_by
    return "; add none, ask your vet" if short and line.verdict in (SHORT, DIFFER) else ""


def unknown_lines(told: MineralAccount) -> list[str]:
    """Feeds without a figure, nutrients with the same feeds in one line."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for line in told.lines:
        if line.unknown:
            groups.setdefault(line.unknown, []).append(small(line))
    return [
        f"Not known for {joined(feeds)}: {joined(names)}."
        for feeds, names in sorted(groups.items(), key=lambda g: -len(g[0]))
    ]


def alarm_lines(told: MineralAccount) -> list[str]:
    """Levels at which harm was seen, or a label must warn, that the known part is over."""
    return [
        f"{line.name} {figure(line.per_kg_dm or 0.0)} is over {figure(a.ceiling)} "
        f"{unit_words(line)} per kg dry matter ({a.level.edition}): {a.level.note}."
        for line in told.lines
        for a in line.alarms
    ]


def copper_lines(told: MineralAccount) -> list[str]:
    """The breed, and how much of the copper would be taken up."""
    out = []
    if told.stores_copper:
        out.append(f"{sentence(told.breed)} sheep store copper: they are poisoned by less of it.")
    if told.copper_absorbed_share is not None:
        out.append(
            f"About {told.copper_absorbed_share:.1%} of the copper would be taken up, by "
            "molybdenum and sulphur (Suttle and McLauchlan, restated). For information only."
        )
    else:
        gone = [
            line for line in told.lines if line.nutrient in (MOLYBDENUM, SULPHUR) and line.unknown
        ]
        why = (
            f"{joined([small(x) for x in gone])} {'are' if len(gone) > 1 else 'is'} not known"
            if gone
            else "molybdenum or sulphur is outside what was measured"
        )
        out.append(f"How much of the copper is taken up cannot be said: {why}.")
    return out


def differences(told: MineralAccount) -> list[str]:
    """Where editions disagree, each named; none is averaged.

    Tolerances are always told with their numbers, needs where they are more than twofold apart.
    """
    out, slightly = [], []
    for line in told.lines:
        books = [m for m in line.limits if m.level.what != LEGAL and m.is_sure]
        least = max((n.least or 0.0 for n in line.needs), default=0.0)
        most = min((n.most or n.least or 0.0 for n in line.needs), default=0.0)
        parts = []
        if least > 2 * most:
            parts.append("needs " + ", ".join(span(n) for n in line.needs))
        elif least > 1.02 * most:
            slightly.append(small(line))
        if len({m.ceiling for m in books}) > 1:
            parts.append("most tolerated " + ", ".join(limit(m) for m in books))
        if parts:
            out.append(f"{line.name}: {'; '.join(parts)}. All stand.")
    if slightly:
        out.append(f"Less than twofold apart in what they ask (see the table): {joined(slightly)}.")
    return out


def supplement_lines(found: Supplement) -> list[str]:
    """What one mineral would do: grams, and the limit it reaches first."""
    if found.holds_copper:
        return [f"{found.name} holds much copper. {COPPER_VET} No amount is told."]
    out = []
    by_name: dict[str, list[Cover]] = {}
    for cover in found.covers:
        by_name.setdefault(cover.name, []).append(cover)
    for name, covers in by_name.items():
        amounts = ", ".join(
            f"{_up(c.g_fresh_per_day)} by {c.beside.level.edition}"
            for c in sorted(covers, key=lambda c: c.g_fresh_per_day)
        )
        out.append(f"{found.name} a day that would cover {_small(name)}: {amounts}.")
    if found.lacks:
        out.append(f"{found.name} would not cover {joined([_small(x) for x in found.lacks])}.")
    if found.first:
        at = found.first
        grams = at.g_fresh_per_day
        what = f"{small(at)} of {limit(at.beside)}"
        if grams <= 0:
            out.append(f"There is no room for {found.name}: the ration is already over {what}.")
        else:
            out.append(
                f"On top of this ration, over {_down(grams)} a day of {found.name} would pass "
                f"{what}."
            )
    if out and found.copper_unknown:
        out.append(
            f"Copper is not known for {joined(tuple(dict.fromkeys(found.copper_unknown)))}, so no "
            f"amount of {found.name} is proved safe: ask the seller."
        )
    return out


def _up(grams: float) -> str:
    """Grams rounded up, so that they still cover."""
    step = 0.1 if grams < 10 else 1.0
    return f"{-(-grams // step) * step:.{1 if step < 1 else 0}f} g"


def _down(grams: float) -> str:
    """Grams rounded down, so that they still do not pass."""
    step = 0.1 if grams < 10 else 1.0
    return f"{grams // step * step:.{1 if step < 1 else 0}f} g"


def source_lines(told: Sequence[MineralAccount], tables: Tables) -> list[str]:
    """Every published figure shown, by edition: its source and marks, then the feeds' own."""
    found: dict[tuple[str, str], list[str]] = {}
    for account in told:
        for line in account.lines:
            for beside in (*line.needs, *line.limits, *line.alarms):
                key = (beside.level.edition, beside.level.source)
                marks = found.setdefault(key, [])
                if beside.level.mark not in marks:
                    marks.append(beside.level.mark)
    out = []
    for (edition, source), marks in sorted(found.items()):
        entry = tables.sources.get(source)
        what = entry.what if entry else source
        words = joined([MARK_WORDS.get(m, m) for m in marks])
        out.append(f"{edition}: {what} [{source}]; {words}.")
    origins = {
        origin: None for account in told for line in account.lines for _, _, origin in line.by_feed
    }
    out.append(f"Figures of the feeds: {joined(sorted(origins))}.")
    return out
