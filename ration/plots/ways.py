"""Plots of things side by side: ways of wintering, standards on one batch, trials and standards."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from ration import needs
from ration.plain_text import joined, sentence
from ration.plots import lettering, style
from ration.plots.lettering import LINE
from ration.plots.records import PAGE, Plot, Rows, Size
from ration.units import in_words_standard, money
from ration.wintering.budget import FEED, NAMES, ORDER

if TYPE_CHECKING:
    from ration.jobs.trials import Trialled
    from ration.jobs.wintering import Compared
    from ration.needs import Beside, Figure
    from ration.trials import Prediction, Span, Trial
    from ration.wintering.budget import Budget

OTHER = "other"
LEAST_SHOWN_SHARE = 0.03  # of the dearest way; what is less everywhere is put together
WORDS = {"feed: ": "feed"}
COMPARED = ("energy", "calcium", "phosphorus")


def _order_of(standard: str) -> int:
    """Its series, the same in every plot."""
    known = list(needs.REGISTRY)
    return known.index(standard) if standard in known else len(known)


# ---------------------------------------------------------------- ways of wintering


def ways_of_wintering(done: Compared, *, size: Size = PAGE) -> Plot:
    """What a head costs on each way, line on line; what is taken off stands left of nothing.

    Parameters
    ----------
    done : Compared
    size : Size
    """
    from ration.faces.wintering_report import in_words

    title = "What each way of wintering costs a head"
    found = done.budgets
    groups = _groups(found)
    told = joined([f"{money(b.gbp_per_head)} ({b.way})" for b in found])
    best = next((w for w in in_words(done) if "is cheapest" in w), "")
    said = f"A head costs {told}. {best}".strip()
    ids = dict.fromkeys(line.id for b in found for line in b.lines)
    names = {line.id: line.name for b in found for line in b.lines}
    in_order = sorted(ids, key=lambda i: ORDER.index(FEED if i.startswith(FEED) else i))
    rows = [(names[i], *(f"{b.gbp(i):.2f}" for b in found)) for i in in_order]
    rows.append(("together", *(f"{b.gbp_per_head:.2f}" for b in found)))
    table = (("£ a head", *(b.way for b in found)), tuple(rows))
    return _drawn_ways(title, said, found, groups, table, size)


def _group_of(line_id: str) -> str:
    return FEED if line_id.startswith(FEED) else line_id


def _groups(found: Sequence[Budget]) -> dict[str, list[float]]:
    """What is drawn, in the order of a budget, and what each way pays for it. [GBP/head]"""
    sums: dict[str, list[float]] = {}
    for at, b in enumerate(found):
        for line in b.lines:
            mine = sums.setdefault(_group_of(line.id), [0.0] * len(found))
            mine[at] += line.each_gbp(b.head)
    least = LEAST_SHOWN_SHARE * max((abs(b.gbp_per_head) for b in found), default=0.0)
    out: dict[str, list[float]] = {}
    small = [0.0] * len(found)
    for key in sorted(sums, key=ORDER.index):
        # what is taken off is never hidden among what is paid
        if all(0 <= v < least for v in sums[key]):
            small = [a + b for a, b in zip(small, sums[key], strict=True)]
        elif any(sums[key]):
            out[key] = sums[key]
    if any(small):
        out[OTHER] = small
    return out


def _drawn_ways(
    title: str,
    said: str,
    found: Sequence[Budget],
    groups: Mapping[str, list[float]],
    table: tuple[tuple[str, ...], Rows],
    size: Size,
) -> Plot:
    if not found or not groups:
        return style.nothing("ways", title, "No way costs anything.", table[0], size=size)
    side, step = size.text, size.text * LINE
    key = [WORDS.get(k, NAMES.get(k, k)) for k in groups]
    key_rows = style.flow(key, size, side * 1.5)
    room = size.width - 24
    names = [lettering.wrap(f"{b.way}: {money(b.gbp_per_head)} a head", side, room) for b in found]
    low = min(0.0, *(math.fsum(min(v[i], 0.0) for v in groups.values()) for i in range(len(found))))
    high = max(math.fsum(max(v[i], 0.0) for v in groups.values()) for i in range(len(found)))
    tall = [step * len(n) + 1.9 * step for n in names]
    top = step * (len(key_rows) + 0.6)
    with style.sheet(size, top + sum(tall) + 2.6 * step) as drawn:
        for place, row in enumerate(key_rows):
            for across, at in row:
                middle = step * (0.8 + place)
                drawn.swatch(across + side * 0.55, middle, at, side)
                drawn.words(across + side * 1.4, middle, key[at])
        span = (low, max(high, 1e-9) * 1.02)
        panel = style.Panel(drawn, 8, top, size.width - 16, top + sum(tall), span, (sum(tall), 0.0))
        panel.x_axis_below([(v, f"{v:g}") for v in style.ticks_of(span, 6)])
        drawn.words(size.width - 4, panel.bottom + 2.1 * step, "£ a head", anchor="end")
        if low < 0:
            panel.upright(0.0, linestyle="solid")
        down = 0.0
        for i, (name, mine) in enumerate(zip(names, tall, strict=True)):
            drawn.lines(8, top + down + step * (0.3 + len(name) / 2), name)
            first = down + step * (len(name) + 0.4)
            _stacked(panel, [v[i] for v in groups.values()], (first, first + step * 1.1))
            down += mine
        return style.plot(drawn, "ways", title, said, table)


def _stacked(panel: style.Panel, values: Sequence[float], y: tuple[float, float]) -> None:
    """One bar of many parts, what is below nothing to the left."""
    right = left = 0.0
    for index, value in enumerate(values):
        if value > 0:
            panel.bar((right, right + value), y, index)
            right += value
        elif value < 0:
            panel.bar((left + value, left), y, index)
            left += value


# ---------------------------------------------------------------- standards


def standards_beside(beside: Beside, *, size: Size = PAGE) -> Plot:
    """What each standard asks for one batch; their proteins stand as figures, never compared.

    Parameters
    ----------
    beside : Beside
    size : Size
    """
    title = f"What each standard asks, {beside.batch.name}"
    names = list(beside.needs)
    heads = ("need, a head a day", *(in_words_standard(n) for n in names))
    if not names:
        why = "No standard covers these sheep."
        return style.nothing("standards", title, why, heads, size=size)
    figures = {n: {f.id: f for f in beside.needs[n].figures} for n in names}
    shared = [i for i in COMPARED if any(i in figures[n] for n in names)]
    rows = []
    for need in (*shared, "protein"):
        have = [figures[n].get(need) for n in names]
        unit = next((f.unit for f in have if f is not None), "")
        lead = "protein, each its own kind" if need == "protein" else f"{need}, {unit}"
        rows.append((lead, *("unknown" if f is None else f"{_amount(f)} ({f.mark})" for f in have)))
    energy = joined(
        [f"{beside.needs[n].me_mj_per_day:.2f} MJ by {in_words_standard(n)}" for n in names]
    )
    said = f"{sentence(beside.batch.name)}: each day it needs energy of {energy}."
    said += " They are not averaged." if len(names) > 1 else ""
    for name, why in beside.refused.items():
        said += f" {in_words_standard(name)} gives no needs here: {why}."
    return _drawn_standards(title, said, beside, figures, (heads, tuple(rows)), size)


def _amount(figure: Figure) -> str:
    kind = f" {figure.unit}" if figure.id == "protein" else ""
    return f"{figure.per_day:.{1 if figure.unit.startswith('g ') else 2}f}{kind}"


def _drawn_standards(
    title: str,
    said: str,
    beside: Beside,
    figures: Mapping[str, Mapping[str, Figure]],
    table: tuple[tuple[str, ...], Rows],
    size: Size,
) -> Plot:
    side, step = size.text, size.text * LINE
    told = [
        f"{in_words_standard(n)} gives no needs here: {why}." for n, why in beside.refused.items()
    ]
    notes = [line for t in told for line in lettering.wrap(t, side, size.width - 8, most=4)]
    labels = {n: in_words_standard(n) for n in figures}
    room = 12 + max(lettering.width(w, side) for w in labels.values())
    groups = [i for i in (*COMPARED, "protein") if any(i in f for f in figures.values())]
    each = step * (1.8 + 1.25 * len(figures))
    with style.sheet(size, each * len(groups) + step * (0.4 + len(notes))) as drawn:
        for place, need in enumerate(groups):
            have = {n: f[need] for n, f in figures.items() if need in f}
            unit = next(iter(have.values())).unit
            is_protein = need == "protein"
            head = "protein, each its own kind: not to be compared" if is_protein else ""
            top = place * each
            drawn.words(4, top + 0.9 * step, head or f"{need}, {unit} a day", is_bold=True)
            most = max(abs(f.per_day) for f in have.values())
            high = 1.25 * step * len(figures)
            right = size.width - lettering.width("00.00", side) - 16
            panel = style.Panel(
                drawn,
                room,
                top + 1.6 * step,
                right,
                top + 1.6 * step + high,
                (0, most or 1),
                (high, 0),
            )
            for i, n in enumerate(figures):
                middle = 1.25 * step * (i + 0.5)
                drawn.words(4, panel.top + middle, labels[n])
                found = have.get(n)
                if found is None or is_protein:
                    words = "unknown" if found is None else _amount(found)
                    drawn.words(room, panel.top + middle, words)
                    continue
                value = max(found.per_day, 0.0)
                panel.bar((0, value), (middle - step * 0.45, middle + step * 0.45), _order_of(n))
                drawn.words(panel.at_x(value) + 6, panel.top + middle, _amount(found))
        drawn.lines(4, drawn.height - step * (0.2 + len(notes) / 2), notes)
        return style.plot(drawn, "standards", title, said, table)


# ---------------------------------------------------------------- trials


def trials(done: Trialled, *, size: Size = PAGE) -> Plot:
    """Gain seen in each published trial, and expected by each standard with its band.

    Parameters
    ----------
    done : Trialled
    size : Size
    """
    from ration.faces.trials_report import verdicts

    title = "Gain seen in published trials, and expected"
    heads = ("treatment", "seen, g a day", *done.standards)
    by_trial: dict[str, dict[str, Prediction]] = {}
    found: dict[str, Trial] = {}
    for trial, predicted in done.told:
        found[trial.key] = trial
        by_trial.setdefault(trial.key, {})[predicted.standard] = predicted
    rows = tuple(
        (
            t.words,
            _grams(t.gain_g_per_day),
            *(_expected(by_trial[key].get(s)) for s in done.standards),
        )
        for key, t in found.items()
    )
    if not found:
        return style.nothing("trials", title, "There is no trial with a gain.", heads, size=size)
    said = " ".join(verdicts(done.sums))
    return _drawn_trials(title, said, found, by_trial, done.standards, (heads, rows), size)


def _grams(span: Span | None) -> str:
    if span is None:
        return ""
    low, high = (f"{round(x)}" for x in span)
    return low if low == high else f"{low} to {high}"


def _expected(p: Prediction | None) -> str:
    if p is None or p.gain_g_per_day is None:
        return "not covered"
    if p.low_g_per_day is None or p.high_g_per_day is None:
        return f"{round(p.gain_g_per_day)}"
    middle, low, high = (round(g) for g in (p.gain_g_per_day, p.low_g_per_day, p.high_g_per_day))
    return f"{middle} ({low} to {high})"


def _drawn_trials(
    title: str,
    said: str,
    found: Mapping[str, Trial],
    by_trial: Mapping[str, Mapping[str, Prediction]],
    standards: Sequence[str],
    table: tuple[tuple[str, ...], Rows],
    size: Size,
) -> Plot:
    side, step = size.text, size.text * LINE
    room = 0.44 * size.width
    names = {k: lettering.wrap(t.words, side, room - 10, most=4) for k, t in found.items()}
    tall = {
        k: max(step * len(n), step * 0.8 * len(standards)) + 0.6 * step for k, n in names.items()
    }
    key = ["seen", *(in_words_standard(s) for s in standards)]
    key_rows = style.flow(key, size, side * 1.5)
    ends = [v for t in found.values() for v in t.gain_g_per_day or ()]
    for mine in by_trial.values():
        for p in mine.values():
            ends += [
                v for v in (p.low_g_per_day, p.high_g_per_day, p.gain_g_per_day) if v is not None
            ]
    x = style.span_of(ends, spare=0.04, least=20.0)
    top = step * (len(key_rows) + 0.6)
    with style.sheet(size, top + sum(tall.values()) + 2.6 * step) as drawn:
        for place, row in enumerate(key_rows):
            for across, at in row:
                middle = step * (0.8 + place)
                if at:
                    drawn.mark(across + side * 0.55, middle, _order_of(standards[at - 1]) + 1)
                else:
                    drawn.line(
                        [across + side * 0.55] * 2,
                        [middle - side / 2, middle + side / 2],
                        linewidth=4,
                        color=style.colour(0),
                    )
                drawn.words(across + side * 1.4, middle, key[at])
        high = sum(tall.values())
        panel = style.Panel(drawn, room, top, size.width - 12, top + high, x, (high, 0.0))
        panel.x_axis_below([(v, f"{v:g}") for v in style.ticks_of(x, 5)])
        drawn.words(size.width - 4, panel.bottom + 2.1 * step, "gain, g a day", anchor="end")
        if x[0] < 0 < x[1]:
            panel.upright(0.0, linestyle="solid", alpha=0.6, linewidth=1)
        down = 0.0
        for k, trial in found.items():
            drawn.lines(4, top + down + tall[k] / 2, names[k])
            _one_trial(panel, trial, by_trial[k], standards, down, tall[k])
            down += tall[k]
        return style.plot(drawn, "trials", title, said, table)


def _one_trial(
    panel: style.Panel,
    trial: Trial,
    mine: Mapping[str, Prediction],
    standards: Sequence[str],
    top: float,
    tall: float,
) -> None:
    """What was seen as a stroke down the row, one standard with its band under another."""
    spare = tall * 0.14
    for value in dict.fromkeys(trial.gain_g_per_day or ()):
        ends = [top + spare, top + tall - spare]
        panel.line([value] * 2, ends, color=style.colour(0), linewidth=4)
    apart = (tall - 2 * spare) / max(len(standards), 1)
    for i, name in enumerate(standards):
        p = mine.get(name)
        if p is None or p.gain_g_per_day is None:
            continue
        y = top + spare + apart * (i + 0.5)
        index = _order_of(name) + 1
        if p.low_g_per_day is not None and p.high_g_per_day is not None:
            band = [p.low_g_per_day, p.high_g_per_day]
            panel.line(band, [y, y], color=style.colour(index), linewidth=1.8)
        panel.points([p.gain_g_per_day], [y], index, markersize=7)
