"""Plots of a winter: weights against the line, and what the ration is made of."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import date
from typing import TYPE_CHECKING

from ration.errors import Problem, UnknownName
from ration.faces import winter_words
from ration.farm import Farm
from ration.plain_text import joined, sentence
from ration.plots import lettering, style
from ration.plots.lettering import LINE
from ration.plots.records import PAGE, Plot, Rows, Size, usual_height
from ration.units import day_words
from ration.weighing import Told, Weighing, against_farm, line_kg

if TYPE_CHECKING:
    from ration.animals import Batch
    from ration.winter.records import Fed, Plan

VERDICTS = {
    "behind": "behind the line",
    "ahead": "ahead of the line",
    "cannot tell": "too near the line to tell",
}
MOST_NAMED = 4
BANDS = "Thick bar: sampling, 19 times in 20. Thin bar: gut fill besides."
_Point = tuple[float, float]


def short_day(day: date) -> str:
    """A day where there is little room: "28 Oct"."""
    return f"{day.day} {day:%b}"


# ---------------------------------------------------------------- weights


def weights_line(
    source: Farm | Plan,
    batch: str | None = None,
    weighings: Sequence[Weighing | Told] = (),
    *,
    size: Size = PAGE,
) -> Plot:
    """Live weight against the line, with what was weighed and its band.

    Parameters
    ----------
    source : Farm or Plan
    batch : str or None
        Name of a batch; None for all of them by their heads.
    weighings : sequence of Weighing or Told
        Of this batch, or samples of all: those are set as far from this batch's line as the
        sample is from the line of all. Weighings of other batches are left out. `Told` carries
        hours off feed at the first weighing; a bare `Weighing` is told here, they not known.
    size : Size

    Raises
    ------
    UnknownName
        No such batch.
    OutOfRange
        A weighing that is not between the first and last day of the line.
    """
    farm = source if isinstance(source, Farm) else source.farm
    told = [
        w if isinstance(w, Told) else against_farm(w, farm)
        for w in weighings
        if batch is None or (w.weighing if isinstance(w, Told) else w).batch in ("", batch)
    ]
    told.sort(key=lambda t: t.weighing.when)
    start_kg, target_kg = _line_of(farm, batch)
    last = max(farm.end, farm.line_end)

    def line(day: date) -> float:
        return line_kg(start_kg, farm.start, target_kg, farm.line_end, day)

    who = batch or "all batches"
    title = f"Weight against the line, {who}"
    said = (
        f"{sentence(who)}: the line runs from {start_kg:.1f} kg on {day_words(farm.start)} to "
        f"{target_kg:.1f} kg on {day_words(farm.line_end)}."
    )
    for t in told:
        off = f"{abs(t.behind_kg):.1f} kg {'behind' if t.behind_kg >= 0 else 'ahead'}"
        said += (
            f" Weighed on {day_words(t.weighing.when)}, {line(t.weighing.when) - t.behind_kg:.1f} "
            f"kg: {off}, {VERDICTS[t.verdict]}."
        )
    notes = lettering.wrap(BANDS, size.text, size.width - 4, most=3) if told else ()
    step = size.text * LINE
    height = usual_height(size) + step * len(notes)
    spans = [(line(t.weighing.when) - b for b in t.behind_range_kg) for t in told]
    y = style.span_of([start_kg, target_kg, *(v for s in spans for v in s)], spare=0.12, least=2.0)
    x = (float(farm.start.toordinal()), float(max(last.toordinal(), farm.start.toordinal() + 1)))
    with style.sheet(size, height) as drawn:
        ticks = [(v, f"{v:g}") for v in style.ticks_of(y, 6)]
        left = 12 + max((lettering.width(w, size.text) for _, w in ticks), default=0.0)
        foot = height - step * (1.6 + len(notes))
        panel = style.Panel(drawn, left, 2 * step, size.width - 12, foot, x, y)
        panel.y_axis(ticks, "live weight, kg")
        months = style.months_of(farm.start, last, 7 if size is PAGE else 12)
        panel.x_axis([(float(d.toordinal()), w) for d, w in months])
        days = [farm.start, farm.line_end, *([last] if last > farm.line_end else [])]
        panel.series([d.toordinal() for d in days], [line(d) for d in days], 0)
        end = float(farm.line_end.toordinal())
        panel.points([end], [target_kg], 0, is_open=True)
        name = f"line to {target_kg:.1f} kg"
        room = panel.at_x(end) - panel.left
        drawn.words(
            panel.at_x(end) - 6 if room > 120 else panel.left + 8,
            panel.at_y(target_kg) - step * 0.95,
            name,
            anchor="end" if room > 120 else "start",
        )
        for t in told:
            _weighing(panel, t, line(t.weighing.when), is_named=t in told[-MOST_NAMED:])
        drawn.lines(2, height - step * len(notes) / 2, notes)
        rows = _weight_rows(farm, last, line, told)
        heads = ("day", "line, kg", "weighed, kg", "may be, kg", "")
        return style.plot(drawn, "weights", title, said, (heads, rows))


def _line_of(farm: Farm, batch: str | None) -> _Point:
    """First and last weight of the line of one batch, or of all by their heads. [kg]"""
    if batch is None:
        head = sum(b.head for b in farm.batches)
        ends = [
            math.fsum(b.head * farm.line_kg(b, day) for b in farm.batches) / head
            for day in (farm.start, farm.line_end)
        ]
        return ends[0], ends[1]
    one = _batch_of(farm, batch)
    return farm.line_kg(one, farm.start), farm.line_kg(one, farm.line_end)


def _batch_of(farm: Farm, name: str) -> Batch:
    found = next((b for b in farm.batches if b.name == name), None)
    if found is None:
        batches = ", ".join(b.name for b in farm.batches)
        raise UnknownName(
            Problem("", f'"{name}" is not a batch of this farm', f"there are {batches}")
        )
    return found


def _weighing(panel: style.Panel, told: Told, line: float, *, is_named: bool) -> None:
    """The mean, its band, and its words away from the line."""
    day = float(told.weighing.when.toordinal())
    least, most = told.behind_range_kg
    mean, half = line - told.behind_kg, told.half_width_kg
    ink = style.colour(1)
    panel.line([day] * 2, [line - most, line - least], color=ink, linewidth=1.6)
    panel.line([day] * 2, [mean - half, mean + half], color=ink, linewidth=5, alpha=0.55)
    panel.points([day], [mean], 1)
    if not is_named:
        return
    size = panel.sheet.size.text
    words = f"{mean:.1f} kg, {short_day(told.weighing.when)}"
    wide = lettering.width(words, size)
    at = panel.at_x(day)
    is_right = at + 10 + wide <= panel.sheet.size.width
    up = -size * 0.7 if told.behind_kg < 0 else size * 0.7
    panel.sheet.words(
        at + 10 if is_right else at - 10,
        panel.at_y(mean) + up,
        words,
        anchor="start" if is_right else "end",
    )


def _weight_rows(
    farm: Farm, last: date, line: Callable[[date], float], told: Sequence[Told]
) -> Rows:
    days = {farm.start: "first day", farm.line_end: "target"}
    if last > farm.line_end:
        days[last] = "last day"
    found = [
        (day, (day_words(day), f"{line(day):.1f}", "", "", words)) for day, words in days.items()
    ]
    for t in told:
        at = line(t.weighing.when)
        least, most = t.behind_range_kg
        found.append(
            (
                t.weighing.when,
                (
                    day_words(t.weighing.when),
                    f"{at:.1f}",
                    f"{at - t.behind_kg:.1f}",
                    f"{at - most:.1f} to {at - least:.1f}",
                    VERDICTS[t.verdict] + ("" if t.weighing.batch else " (a sample of all)"),
                ),
            )
        )
    return tuple(row for _, row in sorted(found, key=lambda one: one[0]))


# ---------------------------------------------------------------- the ration, period by period


def ration_through_winter(plan: Plan, batch: str, *, size: Size = PAGE) -> Plot:
    """What is put out for one head a day, feed on feed, period by period.

    Parameters
    ----------
    plan : Plan
    batch : str
        Name of the batch.
    size : Size

    Raises
    ------
    UnknownName
        No such batch.
    """
    _batch_of(plan.farm, batch)
    title = f"What the ration is made of, {batch}"
    fed = [f for f in plan.fed if f.batch.name == batch]
    places = {name: i for i, name in enumerate(winter_words.feeds_of(plan, plan.fed))}
    names = {o.id: o.name for o in plan.offers}
    mine = [i for i in winter_words.feeds_of(plan, fed) if _most(fed, i) >= 0.0005]
    heads = ("days", "weight, kg", *(names.get(i, i) for i in mine), "together, kg")
    if not mine:
        why = f"{sentence(batch)}: {plan.why_not or 'nothing is put out'}."
        return style.nothing("ration", title, why, ("days",), size=size)
    totals = [math.fsum(f.kg_offered.get(i, 0.0) for i in mine) for f in fed]
    rows = tuple(
        (
            winter_words.span(f.period),
            f"{f.batch.weight_kg:.1f}",
            *(winter_words.put_out(f, i) for i in mine),
            f"{total:.2f}",
        )
        for f, total in zip(fed, totals, strict=True)
    )
    first, last = fed[0], fed[-1]
    said = (
        f"{sentence(batch)}: put out for each, each day, from {_of(first, mine, names)} in the "
        f"first period to {_of(last, mine, names)} in the last."
    )
    upward = list(reversed(mine))  # the rack at the foot, the trough on top
    side = size.text
    step = side * LINE
    room = 0.36 * size.width
    lines = {i: lettering.wrap(names.get(i, i), side, room - side - 14, most=2) for i in upward}
    tall = {i: step * len(lines[i]) + 3 for i in upward}
    height = max(usual_height(size), 3.8 * step + sum(tall.values()))
    wide = max(lettering.width(w, side) for words in lines.values() for w in words)
    right = size.width - wide - side - 28
    start, end = first.period.start, last.period.end
    y = (0.0, max(totals) * 1.04)
    with style.sheet(size, height) as drawn:
        ticks = [(v, f"{v:g}") for v in style.ticks_of(y, 6)]
        left = 12 + max(lettering.width(w, side) for _, w in ticks)
        x = (float(start.toordinal()), float(end.toordinal()))
        panel = style.Panel(drawn, left, 2 * step, right, height - 1.8 * step, x, y)
        panel.y_axis(ticks, "put out, kg a head a day")
        months = style.months_of(start, end, 5 if size is PAGE else 10)
        panel.x_axis(
            [(float(d.toordinal()), w) for d, w in months if panel.at_x(d.toordinal()) < right - 8]
        )
        wanted = _bars(panel, fed, upward, places)
        middles = lettering.spread(
            [-panel.at_y(wanted[i]) for i in upward],
            [tall[i] for i in upward],
            -(height - 1.2 * step),
            -step * 0.6,
        )
        for i, up in zip(upward, middles, strict=True):
            if last.kg_offered.get(i, 0.0) >= 0.0005:
                ends = [panel.right + 2, panel.right + 12]
                drawn.line(ends, [panel.at_y(wanted[i]), -up], color=style.colour(places[i]))
            drawn.swatch(panel.right + 14 + side / 2, -up, places[i], side)
            drawn.lines(panel.right + 20 + side, -up, lines[i])
        return style.plot(drawn, "ration", title, said, (heads, rows))


def _most(fed: Sequence[Fed], offer_id: str) -> float:
    return max((f.kg_offered.get(offer_id, 0.0) for f in fed), default=0.0)


def _of(fed: Fed, ids: Sequence[str], names: dict[str, str]) -> str:
    told = [f"{w} {names.get(i, i)}" for i in ids if (w := winter_words.put_out(fed, i))]
    return joined(told) or "nothing"


def _bars(
    panel: style.Panel, fed: Sequence[Fed], upward: Sequence[str], places: dict[str, int]
) -> dict[str, float]:
    """Bars period by period; the middle of each feed's part of the last one."""
    gap = 0.06
    middle = {}
    for f in fed:
        base = 0.0
        days = f.period.days
        at = f.period.start.toordinal()
        for i in upward:
            kg = f.kg_offered.get(i, 0.0)
            middle[i] = base + kg / 2
            if kg > 0:
                panel.bar((at + gap * days, at + days - gap * days), (base, base + kg), places[i])
            base += kg
    return middle
