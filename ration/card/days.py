"""Day by day: trough feed stepped up, changed and eased off; forage filling in, lots blended.

Amounts here are for a whole pen [kg fresh/day], by feed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ration.card.measures import smallest_share
from ration.farm import Measure

# Judgement, common practice: days over which one hay is blended into another. [day]
BLEND_DAYS = 7
# Scales are read to this on step-up days. [kg]
SCALE_STEP_KG = 0.05
# Measures may bring the full ration so many days later than scales would; else it is weighed.
LATE_DAYS = 2
_TINY = 1e-9

Amounts = Mapping[str, float]


@dataclass(frozen=True)
class Unit:
    """Smallest part of a feed that is given: part of a measure, or a step of the scales. [kg]"""

    kg: float
    measure: Measure | None = None


def share_of_full(day: int, days: int, step_up_days: int, taper_days: int) -> float:
    """Share of the full trough feed on one day of the winter. [-]

    Day d of n days of stepping up gets d/n; the last n days fall the same way, to 1/n on the
    last.

    Parameters
    ----------
    day : int
        0 on the first day.
    days, step_up_days, taper_days : int
        Of the winter, of its rise, of its fall. [day]

    Examples
    --------
    >>> [share_of_full(d, 20, 4, 2) for d in (0, 1, 3, 4, 18, 19)]
    [0.25, 0.5, 1.0, 1.0, 1.0, 0.5]
    """
    up = (day + 1) / step_up_days if step_up_days > 1 else 1.0
    down = (days - day) / taper_days if taper_days > 0 else 1.0
    return max(0.0, min(1.0, up, down))


# ---------------------------------------------------------------- the trough


def falls_kg(
    full: Sequence[Amounts], shares: Sequence[float], most_step_kg: float
) -> tuple[float, ...]:
    """Most that trough feed may fall into each day: the step, or what the taper asks. [kg]"""
    before = [shares[0] if shares else 0.0, *shares[:-1]]
    return tuple(
        max(most_step_kg, sum(now.values()) * (was - share))
        for now, was, share in zip(full, before, shares, strict=True)
    )


def eased(
    full: Sequence[Amounts],
    shares: Sequence[float],
    most_step_kg: float,
    falls: Sequence[float],
    *,
    is_stepped_up: bool,
) -> list[dict[str, float]]:
    """Trough feed of each day before rounding, no feed moving faster than allowed. [kg/day]

    Parameters
    ----------
    full : sequence of mapping
        Full amounts of the period each day lies in. [kg/day]
    shares : sequence of float
        Share of the full amount wanted each day. [-]
    most_step_kg : float
        Most that the feeds rising may rise by together, from one day to the next. [kg]
    falls : sequence of float
        Most that those falling may fall by into each day. [kg]
    is_stepped_up : bool
        They begin with none; else with the first day's share.
    """
    feeds = list(dict.fromkeys(f for day in full for f in day))
    if not full:
        return []
    now = {f: 0.0 if is_stepped_up else full[0].get(f, 0.0) * shares[0] for f in feeds}
    path = []
    for day, share, most_fall in zip(full, shares, falls, strict=True):
        move = {f: day.get(f, 0.0) * share - now[f] for f in feeds}
        rise = sum(m for m in move.values() if m > 0)
        fall = -sum(m for m in move.values() if m < 0)
        up = min(1.0, most_step_kg / rise) if rise > _TINY else 1.0
        down = min(1.0, most_fall / fall) if fall > _TINY else 1.0
        now = {f: now[f] + m * (up if m > 0 else down) for f, m in move.items()}
        path.append(now)
    return path


def in_units(
    path: Sequence[Amounts],
    full: Sequence[Amounts],
    units: Mapping[str, Unit],
    most_step_kg: float,
    falls: Sequence[float],
    *,
    is_stepped_up: bool,
) -> list[dict[str, float]]:
    """The path in whole units, still moving no faster than allowed. [kg/day]

    A day that stands at the full amount gets exactly that; other days the nearest unit, less
    where the step would be too big.
    """
    given: list[dict[str, float]] = []
    for i, wanted in enumerate(path):
        now = {f: _nearest(kg, full[i].get(f, 0.0), units[f].kg) for f, kg in wanted.items()}
        if i == 0 and not is_stepped_up:
            given.append(now)
            continue
        was = given[-1] if given else dict.fromkeys(now, 0.0)
        _hold_back(now, was, wanted, units, most_step_kg, sign=1)
        _hold_back(now, was, wanted, units, falls[i], sign=-1)
        given.append(now)
    return given


def _nearest(kg: float, full: float, unit_kg: float) -> float:
    if abs(kg - full) < 1e-7:
        return full
    nearest = round(kg / unit_kg) * unit_kg
    return min(nearest, full) if kg < full else nearest


def _hold_back(
    now: dict[str, float],
    was: Amounts,
    wanted: Amounts,
    units: Mapping[str, Unit],
    most_kg: float,
    sign: int,
) -> None:
    """Take units off the rises (sign 1) or falls (-1) until they come to no more than allowed."""
    while True:
        moved = {f: sign * (kg - was[f]) for f, kg in now.items() if sign * (kg - was[f]) > _TINY}
        if sum(moved.values()) <= most_kg + 1e-7:
            return
        worst = max(moved, key=lambda f: sign * (now[f] - wanted[f]))
        size = units[worst].kg
        # back onto the grid of whole units first, then a unit at a time
        parts = now[worst] / size
        on_grid = (math.ceil(parts - 1e-6) - 1 if sign > 0 else math.floor(parts + 1e-6) + 1) * size
        now[worst] = max(was[worst], on_grid) if sign > 0 else min(was[worst], on_grid)


def trough_path(
    full: Sequence[Amounts],
    shares: Sequence[float],
    measures: Mapping[str, Sequence[Measure]],
    most_step_kg: float,
    *,
    is_stepped_up: bool,
) -> tuple[list[dict[str, float]], list[dict[str, float]], dict[str, Unit]]:
    """Trough feed of a pen by day: as wanted, as given, and the unit of each feed. [kg/day]

    Given in parts of the user's own measures where those are fine enough to keep up, else
    weighed.

    Parameters
    ----------
    full, shares, most_step_kg, is_stepped_up
        As in `eased`.
    measures : mapping
        By feed, the first preferred.
    """
    falls = falls_kg(full, shares, most_step_kg)
    wanted = eased(full, shares, most_step_kg, falls, is_stepped_up=is_stepped_up)
    feeds = list(wanted[0]) if wanted else []
    scales = {f: Unit(SCALE_STEP_KG if most_step_kg > 2 * SCALE_STEP_KG else 0.01) for f in feeds}
    units = {f: _unit(measures.get(f, ()), most_step_kg) or scales[f] for f in feeds}
    rules = (most_step_kg, falls)
    given = in_units(wanted, full, units, *rules, is_stepped_up=is_stepped_up)
    slack = LATE_DAYS * most_step_kg + sum(u.kg for u in units.values())
    behind = (sum(abs(w[f] - g[f]) for f in feeds) for w, g in zip(wanted, given, strict=True))
    if any(kg > slack for kg in behind):
        units = scales
        given = in_units(wanted, full, units, *rules, is_stepped_up=is_stepped_up)
    return wanted, given, units


def _unit(measures: Sequence[Measure], most_step_kg: float) -> Unit | None:
    """The smallest part of the first measure that is no more than a step."""
    for measure in measures:
        size = measure.kg * smallest_share(measure)
        if size <= most_step_kg:
            return Unit(size, measure)
    return None


def steps_kg(given: Sequence[Amounts], *, is_stepped_up: bool) -> tuple[float, ...]:
    """Kilograms by which the rising feeds together rise into each day. [kg]"""
    if not given:
        return ()
    first = dict.fromkeys(given[0], 0.0) if is_stepped_up else given[0]
    return tuple(
        sum(max(0.0, now[f] - was[f]) for f in now) for was, now in pairwise((first, *given))
    )


# ---------------------------------------------------------------- the rack


def fill_shares(wanted: Sequence[Amounts], full: Sequence[Amounts]) -> list[float]:
    """Shares of the extra forage by day, in proportion to the trough feed still missing. [-]

    Only the days before the full amount is first reached have any; all zero when it is reached
    on the first day.
    """
    missing = []
    for now, day in zip(wanted, full, strict=True):
        short = sum(day.values()) - sum(now.values())
        if short < 1e-7:
            break
        missing.append(short)
    total = sum(missing)
    return [m / total for m in missing] + [0.0] * (len(wanted) - len(missing))


def new_lot_share(day: int) -> float:
    """Share of the new lot on one day of the blend, 0 the first; 1 from the day after it. [-]

    >>> [round(new_lot_share(d), 3) for d in (0, 3, 6, 7)]
    [0.125, 0.5, 0.875, 1.0]
    """
    return min(1.0, (day + 1) / (BLEND_DAYS + 1))


def carried_over(kg_by_day: Sequence[float], unit_kg: float) -> list[float]:
    """Each day in whole units, what rounding leaves carried to the next day. [kg/day]

    The sum over any number of days from the first is within half a unit of the sum wanted.

    >>> carried_over([1.4, 1.4, 1.4], 1.0)
    [1.0, 2.0, 1.0]
    """
    out, wanted, given = [], 0.0, 0
    for kg in kg_by_day:
        wanted += kg
        parts = max(0, math.floor((wanted / unit_kg) - given + 0.5 + _TINY))
        given += parts
        out.append(parts * unit_kg)
    return out
