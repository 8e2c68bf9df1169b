"""The plot of a stack: what is left of the home hay, with its band, to the day it runs out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING

from ration import stack
from ration.plots import lettering, style
from ration.plots.lettering import LINE
from ration.plots.records import PAGE, Plot, Rows, Size, usual_height
from ration.plots.winter import short_day
from ration.units import day_words

if TYPE_CHECKING:
    from ration.stack import RunOut, Use
    from ration.stack.lots import Stacked
    from ration.winter.records import Plan

_Point = tuple[float, float]


def stack_to_run_out(stacked: Stacked, plan: Plan | None = None, *, size: Size = PAGE) -> Plot:
    """What is left of the home hay day by day, with its band, to the day it runs out.

    Parameters
    ----------
    stacked : Stacked
    plan : Plan or None
        The plan it was worked from; wanted where `stacked.is_planned`.
    size : Size

    Raises
    ------
    ValueError
        The stack is a plan's and the plan is not given.
    """
    farm, kind = stacked.farm, stacked.kind or "hay"
    title = f"The {kind} until it runs out"
    heads = ("day", "middle, t", "least, t", "most, t", "")
    if stacked.left.high_t <= 0 or not stacked.wanted_t:
        return style.nothing("stack", title, stacked.line, heads, size=size)
    uses = _uses(stacked, plan)
    last = max(farm.end, *(u.end for u in uses))
    left, run = stacked.left, stacked.run_out
    paths = [_path(t, uses, farm.start, last) for t in (left.t, left.low_t, left.high_t)]
    side = size.text
    step = side * LINE
    notes = lettering.wrap(
        "Band: the true weight lies in it 19 times in 20.", side, size.width - 4, most=2
    )
    height = usual_height(size) + step * len(notes)
    y = (0.0, left.high_t * 1.12)
    x = (float(farm.start.toordinal()), float(last.toordinal()))
    with style.sheet(size, height) as drawn:
        ticks = [(v, f"{v:g}") for v in style.ticks_of(y, 5)]
        edge = 12 + max(lettering.width(w, side) for _, w in ticks)
        foot = height - step * (1.7 + len(notes))
        panel = style.Panel(drawn, edge, 2 * step, size.width - 10, foot, x, y)
        panel.y_axis(ticks, f"{kind} left for the {stacked.flock}, t")
        months = style.months_of(farm.start, last, 6 if size is PAGE else 12)
        panel.x_axis([(float(d.toordinal()), w) for d, w in months])
        days = sorted({day for path in paths for day, _ in path})
        panel.band(days, [_at(paths[1], d) for d in days], [_at(paths[2], d) for d in days], 0)
        middle = _till_gone(paths[0])
        panel.series([d for d, _ in middle], [t for _, t in middle], 0)
        _stack_words(panel, stacked, paths[0])
        drawn.lines(2, height - step * len(notes) / 2, notes)
        rows = _stack_rows(paths, run)
        return style.plot(drawn, "stack", title, stacked.line, (heads, rows))


def _uses(stacked: Stacked, plan: Plan | None) -> tuple[Use, ...]:
    """What the batches take out, as the stack was worked with it."""
    farm, who = stacked.farm, stacked.flock
    if not stacked.is_planned:
        return stack.uses_over(who, [(farm.start, farm.end, stacked.wanted_t)])
    if plan is None:
        raise ValueError("the plan of a planned stack is wanted")
    ids = {o.id for o in plan.offers if o.feed.group == stacked.kind}
    spans: dict[tuple[date, date], float] = {}
    for s in plan.stocks:
        if s.offer_id in ids:
            span = (s.period.start, s.period.end)
            spans[span] = spans.get(span, 0.0) + s.fed_t + s.lost_t
    return stack.uses_over(who, [(a, b, t) for (a, b), t in sorted(spans.items())])


def _path(tonnes: float, uses: Sequence[Use], start: date, last: date) -> list[_Point]:
    """What is left, from corner to corner, never under none."""
    days = sorted({start, last, *(d for u in uses for d in (u.start, u.end) if start <= d <= last)})
    left = [tonnes - math.fsum(u.eaten_t(day) for u in uses) for day in days]
    path = [(float(start.toordinal()), max(left[0], 0.0))]
    for (day, next_day), (a, b) in zip(pairwise(days), pairwise(left), strict=True):
        if a > 0 > b:
            gone = (next_day - day).days * a / (a - b)
            path.append((day.toordinal() + gone, 0.0))
        path.append((float(next_day.toordinal()), max(b, 0.0)))
    return path


def _till_gone(path: Sequence[_Point]) -> Sequence[_Point]:
    """The path up to its first corner with nothing left."""
    empty = next((i for i, (_, t) in enumerate(path) if t <= 0), len(path))
    return path[: empty + 1]


def _at(path: Sequence[_Point], day: float) -> float:
    """A path between its corners."""
    for (a, low), (b, high) in pairwise(path):
        if a <= day <= b:
            return low + (high - low) * (day - a) / (b - a)
    return path[-1][1]


def _gone(run: RunOut) -> str:
    """From when to when it may run out; "" where it lasts for certain."""
    if run.early is None:
        return ""
    if run.date is None:
        return f"at worst to {day_words(run.early)}"
    late = "or lasts" if run.late is None else f"to {short_day(run.late)}"
    return f"({short_day(run.early)} {late})"


def _stack_words(panel: style.Panel, stacked: Stacked, path: Sequence[_Point]) -> None:
    """When it runs out, beside a line at that day; what is left where it does not."""
    left, run, drawn = stacked.left, stacked.run_out, panel.sheet
    first = f"{left.t:.1f} t at first ({left.low_t:.1f} to {left.high_t:.1f})"
    size = drawn.size.text
    if run.date is None:
        told = [first, f"{run.left_t_at_end:.1f} t left at the end", _gone(run)]
        at, is_right = panel.right, False
    else:
        told = [f"runs out {day_words(run.date)}", _gone(run), first]
        day = next((d for d, t in path if t <= 0), path[-1][0])
        panel.upright(day)
        panel.points([day], [0.0], 0, is_open=True)
        wide = max(lettering.width(w, size) for w in told)
        is_right = panel.at_x(day) + 8 + wide <= drawn.size.width
        at = panel.at_x(day) + (8 if is_right else -8)
    told = [w for w in told if w]
    middle = panel.top + size * LINE * len(told) / 2
    drawn.lines(at, middle, told, anchor="start" if is_right else "end")


def _stack_rows(paths: Sequence[Sequence[_Point]], run: RunOut) -> Rows:
    days = sorted({d for path in paths for d, _ in path if d == int(d)})
    found = [
        (date.fromordinal(int(d)), (*(f"{_at(path, d):.2f}" for path in paths), "")) for d in days
    ]
    for day, words in (
        (run.early, "the least runs out"),
        (run.date, "the middle runs out"),
        (run.late, "the most runs out"),
    ):
        if day is not None:
            after = day.toordinal() + 1.0
            found.append((day, (*(f"{_at(path, after):.2f}" for path in paths), words)))
    found.sort(key=lambda one: one[0])
    return tuple((day_words(day), *cells) for day, cells in found)
