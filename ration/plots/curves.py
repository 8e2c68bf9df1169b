"""Plots of what a head costs a day: against a figure of the hay, and against the gain asked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from ration.explain import kilos, pence
from ration.plain_text import joined, sentence
from ration.plots import lettering, style
from ration.plots.lettering import LINE
from ration.plots.records import PAGE, Plot, Rows, Size, usual_height

if TYPE_CHECKING:
    from ration.gains.records import GainCurve, Point
    from ration.jobs.hay import HayCurve, HayPoint, Turn

# figure: (words, unit, factor to that unit), as a farmer says them
SAID = {
    "dm_g_per_kg_fresh": ("dry matter", "%", 0.1),
    "cp_g_per_kg_dm": ("protein", "% of DM", 0.1),
    "me_mj_per_kg_dm": ("energy", "MJ/kg DM", 1.0),
}
MOST_NOTES = 5
LETTERS = "abcdefghijklmnopqrstuvwxyz"
_NARROW = 0.02


# ---------------------------------------------------------------- cost against the hay


def cost_against_hay(curve: HayCurve, *, size: Size = PAGE) -> Plot:
    """What a head costs a day as one figure of one feed moves, with a line at "now".

    Parameters
    ----------
    curve : HayCurve
        As `ration.jobs.hay.hay_curve` gives it.
    size : Size
    """
    words, unit, factor = SAID.get(curve.figure, (curve.words, curve.unit, 1.0))
    title = f"Cost against the {words} of {curve.name}, {curve.batch.name}"
    heads = (f"{words}, {unit}", "a head a day", "put out, a head a day", "")
    rows = _hay_rows(curve, factor)
    found = [p for p in curve.points if p.cost_gbp_per_head_day is not None]
    if not found:
        why = f"{sentence(curve.batch.name)}: no mix at any of these values of {curve.name}."
        return style.nothing("hay", title, why, heads, rows=rows, size=size)
    said = _hay_sentence(curve, words, unit, factor)
    side, step = size.text, size.text * LINE
    shown = curve.turns[:MOST_NOTES]
    told = [f"{LETTERS[i]}  {turn_words(t, curve, unit, factor)}" for i, t in enumerate(shown)]
    if more := len(curve.turns) - len(shown):
        told.append(f"{more} more in the table")
    notes = [line for t in told for line in lettering.wrap(t, side, size.width - 6, most=3)]
    x_words = lettering.wrap(f"{words} of {curve.name}, {unit}", side, size.width - 8)
    height = usual_height(size) + step * (len(notes) + len(x_words))
    costs = [100 * (p.cost_gbp_per_head_day or 0.0) for p in found]
    y = style.span_of(costs, spare=0.15, least=max(1.0, 0.1 * max(costs)))
    values = [p.value * factor for p in curve.points]
    x = style.span_of(values, spare=0.0, least=abs(values[0]) * 0.02 + 1e-6)
    with style.sheet(size, height) as drawn:
        ticks = [(v, f"{v:g}") for v in style.ticks_of(y, 5)]
        left = 12 + max((lettering.width(w, side) for _, w in ticks), default=0.0)
        foot = height - step * (1.7 + len(notes) + len(x_words))
        panel = style.Panel(drawn, left, 2.6 * step, size.width - 14, foot, x, y)
        panel.y_axis(ticks, "pence a head a day")
        panel.x_axis([(v, f"{v:g}") for v in style.ticks_of(x, 7)])
        drawn.lines(
            size.width / 2, foot + step * (1.7 + len(x_words) / 2), x_words, anchor="middle"
        )
        _hay_line(panel, curve.points, factor)
        _now(panel, curve, factor)
        _letters(panel, shown, curve.points, factor)
        drawn.lines(4, height - step * len(notes) / 2, notes)
        return style.plot(drawn, "hay", title, said, (heads, rows))


def turn_words(turn: Turn, curve: HayCurve, unit: str, factor: float) -> str:
    """Where the mix changes as the figure rises, and how."""
    low, high = turn.low * factor, turn.high * factor
    is_narrow = high - low <= _NARROW * high
    where = f"about {(low + high) / 2:.3g}" if is_narrow else f"from {low:.4g} to {high:.4g}"
    where = f"{where} {unit}".rstrip()
    if turn.is_lost:
        return f"{where}: no mix any more"
    if turn.is_regained:
        return f"{where}: a mix again"
    parts = [
        f"{joined([curve.names.get(i, i) for i in ids])} {verb if len(ids) == 1 else verbs} {way}"
        for ids, verb, verbs, way in (
            (turn.comes_in, "comes", "come", "in"),
            (turn.goes_out, "goes", "go", "out"),
        )
        if ids
    ]
    return f"{where}: {', '.join(parts)}"


def _hay_sentence(curve: HayCurve, words: str, unit: str, factor: float) -> str:
    now = curve.at_now
    cost = "there is no mix" if now.cost_gbp_per_head_day is None else _a_day(now)
    said = (
        f"{sentence(curve.batch.name)}: with {words} of {curve.name} at {curve.now * factor:.4g} "
        f"{unit}, as now, {cost}."
    )
    ends = [p for p in (curve.points[0], curve.points[-1]) if not p.is_now]
    for p in ends:
        at = f"At {p.value * factor:.4g} {unit}"
        is_none = p.cost_gbp_per_head_day is None
        said += f" {at} {p.why_not if is_none else _a_day(p)}."
    if curve.turns:
        many = len(curve.turns)
        said += f" The mix changes {'once' if many == 1 else f'{many} times'} on the way."
    return said


def _a_day(point: HayPoint) -> str:
    return f"a head costs {pence(point.cost_gbp_per_head_day or 0.0)} a day"


def _hay_rows(curve: HayCurve, factor: float) -> Rows:
    rows = []
    for p in curve.points:
        fed = sorted(p.kg_offered.items(), key=lambda one: -one[1])
        rows.append(
            (
                f"{p.value * factor:.4g}",
                "" if p.cost_gbp_per_head_day is None else pence(p.cost_gbp_per_head_day, 2),
                ", ".join(f"{kilos(kg)} {curve.names.get(i, i)}" for i, kg in fed),
                p.why_not or ("now" if p.is_now else ""),
            )
        )
        after = [t for t in curve.turns if p.value <= t.low < _next(curve.points, p)]
        rows += [("", "", "", turn_words(t, curve, "", factor)) for t in after]
    return tuple(rows)


def _next(points: Sequence[HayPoint], point: HayPoint) -> float:
    return next((p.value for p in points if p.value > point.value), math.inf)


def _hay_line(panel: style.Panel, points: Sequence[HayPoint], factor: float) -> None:
    """The cost, broken where there is no mix; those values on the foot, crossed."""
    for is_found, run in groupby(points, key=lambda p: p.is_found):
        some = list(run)
        at = [p.value * factor for p in some]
        if is_found:
            costs = [100 * (p.cost_gbp_per_head_day or 0.0) for p in some]
            panel.series(at, costs, 0)
            panel.points(at, costs, 0, markersize=5)
            continue
        panel.points(at, [panel.y[0]] * len(at), 1, marker="X")
        size = panel.sheet.size.text
        half = lettering.width("no mix", size) / 2
        middle = (panel.at_x(at[0]) + panel.at_x(at[-1])) / 2
        across = min(max(middle, panel.left + half), panel.right - half)
        panel.sheet.words(across, panel.bottom - size * 1.1, "no mix", anchor="middle")


def _now(panel: style.Panel, curve: HayCurve, factor: float) -> None:
    at = curve.now * factor
    panel.upright(at)
    size = panel.sheet.size.text
    cost = curve.at_now.cost_gbp_per_head_day
    words = f"now {at:.4g}" + ("" if cost is None else f", {pence(cost)}")
    is_right = panel.at_x(at) + 6 + lettering.width(words, size) <= panel.sheet.size.width
    across = panel.at_x(at) + (6 if is_right else -6)
    panel.sheet.words(across, panel.top - size * 0.2, words, anchor="start" if is_right else "end")
    if cost is not None:
        panel.points([at], [100 * cost], 0, is_open=True)


def _letters(
    panel: style.Panel, turns: Sequence[Turn], points: Sequence[HayPoint], factor: float
) -> None:
    """A stroke across the line where the mix changes, and a letter over it."""
    size = panel.sheet.size.text
    placed = [(t.middle * factor, pence) for t in turns if (pence := _pence_at(t, points))]
    across = lettering.spread(
        [panel.at_x(at) for at, _ in placed], [size] * len(placed), 0, panel.sheet.size.width
    )
    looks = {"marker": "|", "markersize": 14, "linestyle": "none", "color": style.colour(0)}
    for letter, (at, pence), x in zip(LETTERS, placed, across, strict=False):
        panel.line([at], [pence], **looks)
        up = panel.at_y(pence) - size * 1.1
        panel.sheet.words(x, up, letter, anchor="middle", is_bold=True)


def _pence_at(turn: Turn, points: Sequence[HayPoint]) -> float:
    """The line at a turn; where it ends there, its end. [p/head/day]"""
    below = [p for p in points if p.value <= turn.low]
    above = [p for p in points if p.value >= turn.high]
    a, b = (p if p.is_found else None for p in (below[-1], above[0]))
    if a is None or b is None:
        near = a or b
        return 0.0 if near is None else 100 * (near.cost_gbp_per_head_day or 0.0)
    share = (turn.middle - a.value) / (b.value - a.value)
    low, high = a.cost_gbp_per_head_day or 0.0, b.cost_gbp_per_head_day or 0.0
    return 100 * (low + (high - low) * share)


# ---------------------------------------------------------------- cost of gain


def cost_of_gain(curve: GainCurve, *, size: Size = PAGE) -> Plot:
    """What each gain costs a head a day, with the gain asked and where it turns dear.

    Parameters
    ----------
    curve : GainCurve
    size : Size
    """
    from ration.faces.gains_report import sentences

    title = f"What each gain costs, {curve.batch.name}"
    heads = ("gain, g a day", "at the end, kg", "a head a day", "each step more", "")
    rows = tuple(_gain_row(p) for p in curve.points)
    said = f"{sentence(curve.batch.name)}: {sentences(curve)[0]}"
    found = [p for p in curve.points if p.cost_gbp_per_head_day is not None]
    if not found:
        return style.nothing("gain", title, said, heads, rows=rows, size=size)
    side, step = size.text, size.text * LINE
    notes = lettering.wrap(_gain_note(curve), side, size.width - 6, most=3)
    height = usual_height(size) + step * (1 + len(notes))
    x = style.span_of([p.gain_g_per_day for p in curve.points], spare=0.0, least=10.0)
    y = style.span_of([100 * (p.cost_gbp_per_head_day or 0.0) for p in found], spare=0.15)
    with style.sheet(size, height) as drawn:
        ticks = [(v, f"{v:g}") for v in style.ticks_of(y, 5)]
        left = 12 + max((lettering.width(w, side) for _, w in ticks), default=0.0)
        foot = height - step * (2.8 + len(notes))
        panel = style.Panel(drawn, left, 2 * step, size.width - 14, foot, x, y)
        panel.y_axis(ticks, "pence a head a day")
        panel.x_axis([(v, f"{v:g}") for v in style.ticks_of(x, 8)])
        drawn.words(size.width - 4, foot + 2.2 * step, "gain, g a day", anchor="end")
        for is_found, run in groupby(curve.points, key=lambda p: p.is_reached):
            some = list(run)
            gains = [p.gain_g_per_day for p in some]
            if is_found:
                costs = [100 * (p.cost_gbp_per_head_day or 0.0) for p in some]
                panel.series(gains, costs, 0)
                panel.points(gains, costs, 0, markersize=5)
            else:
                panel.points(gains, [y[0]] * len(gains), 1, marker="X")
        if curve.knee is not None:
            panel.upright(curve.knee[0].gain_g_per_day, alpha=0.5)
        _asked(panel, curve.target)
        drawn.lines(4, height - step * len(notes) / 2, notes)
        return style.plot(drawn, "gain", title, said, (heads, rows))


def _gain_note(curve: GainCurve) -> str:
    told = []
    if curve.knee is not None:
        told.append(f"Dashed: over {curve.knee[0].gain_g_per_day:.0f} g each gram is dearer.")
    if any(not p.is_reached for p in curve.points):
        told.append("Crosses: no mix for that gain.")
    return " ".join(told)


def _asked(panel: style.Panel, target: Point) -> None:
    cost = target.cost_gbp_per_head_day
    size = panel.sheet.size.text
    words = f"as asked, {target.gain_g_per_day:.0f} g"
    level = panel.y[0] if cost is None else 100 * cost
    if cost is not None:
        words += f": {pence(cost)}"
        panel.points([target.gain_g_per_day], [level], 0, is_open=True)
    wide = lettering.width(words, size)
    at = panel.at_x(target.gain_g_per_day)
    is_right = at + 12 + wide <= panel.sheet.size.width
    up = size * 1.2 if is_right and cost is not None else -size * 1.2
    panel.sheet.words(
        at + 10 if is_right else at - 8,
        panel.at_y(level) + up,
        words,
        anchor="start" if is_right else "end",
        is_bold=True,
    )


def _gain_row(p: Point) -> tuple[str, ...]:
    return (
        f"{p.gain_g_per_day:.4g}",
        f"{p.end_weight_kg:.1f}",
        "" if p.cost_gbp_per_head_day is None else pence(p.cost_gbp_per_head_day),
        "" if p.more_gbp_per_head_day is None else pence(p.more_gbp_per_head_day),
        p.why_not or ("as asked" if p.is_target else ""),
    )
