"""Periods of the winter, and what a batch weighs and is asked to gain in each."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

from ration.animals import Batch, day_of_pregnancy
from ration.farm import Farm
from ration.winter.records import Period


def periods(start: date, end: date, days: int) -> tuple[Period, ...]:
    """The winter in periods of so many days.

    What is left at the end is a period of its own when it is half a period or more, else it
    lengthens the last.

    >>> [p.days for p in periods(date(2026, 10, 28), date(2027, 4, 2), 14)]
    [14, 14, 14, 14, 14, 14, 14, 14, 14, 14, 16]
    """
    whole, rest = divmod((end - start).days, days)
    count = max(1, whole + (1 if 2 * rest >= days else 0))
    starts = [start + timedelta(days=days * i) for i in range(count)] + [end]
    return tuple(Period(i, a, b) for i, (a, b) in enumerate(pairwise(starts)))


def batch_in(farm: Farm, batch: Batch, period: Period) -> Batch:
    """The batch as it is fed in one period: its middle weight and the gain of the line."""
    a, b = farm.line_kg(batch, period.start), farm.line_kg(batch, period.end)
    to_lambing = batch.days_to_lambing
    if to_lambing is not None:
        to_lambing -= (period.start - farm.start).days
    return replace(
        batch,
        weight_kg=(a + b) / 2,
        gain_g_per_day=max(0.0, (b - a) * 1000 / period.days),
        days_to_lambing=to_lambing,
        days_pregnant=None
        if batch.litter_kg is None
        else day_of_pregnancy(to_lambing, period.days),
    )


def blocks(count: int, most: int) -> tuple[tuple[int, ...], ...]:
    """Periods gathered into at most so many blocks of neighbours; the two ends stand alone.

    >>> blocks(11, 6)
    ((0,), (1, 2, 3), (4, 5), (6, 7), (8, 9), (10,))
    """
    if count <= max(most, 3):
        return tuple((i,) for i in range(count))
    inner, room = count - 2, most - 2
    size, more = divmod(inner, room)
    out: list[tuple[int, ...]] = [(0,)]
    at = 1
    for k in range(room):
        width = size + (1 if k < more else 0)
        out.append(tuple(range(at, at + width)))
        at += width
    return (*out, (count - 1,))
