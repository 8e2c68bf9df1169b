"""What each gram of gain costs: the target as a decision.

`curves(farm, tables)` works the cheapest ration of each batch again and again, once for each gain
from standing still upward, every one searched and proved as `ration.mix` does it. With the gain
move the weight that is fed for (a lamb that gains more is heavier in mid-winter), calcium and
phosphorus, the ceiling on energy and the dry matter that fits in. What does not move is the batch's
share of the home stacks: it is the one it has at its target, so that a batch that gains more does
not eat the others' hay in silence.

A curve on one diet bends upward: energy kept in the body is dearer the more is kept. A whole curve
need not:

- a limit that binds (home stock used up, least forage, most trough feed) bends it up at a corner,
  and one that lets go may bend it down, as do limits that change at a weight (40 kg);
- where dry matter stands at its most or its least, more gain asks a richer diet, and of a richer
  diet more of the energy is kept; where protein is short, a sheep that eats more makes a little
  more of it from each MJ: both bend it a little downward;
- the weight fed for, and with it maintenance and the room for dry matter, moves with the gain;
- below a certain gain a floor (the least dry matter, the energy ceiling) may cost more than it
  saves, so that the curve is flat, or even falls there.

Whether the target is enough is another question: shares of grown weight at tupping, as published,
stand beside it, and what trials say of feeding young sheep more, which is not of one voice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from ration import animals, mix
from ration.errors import NotProved, OutOfRange, Problem, UnknownName
from ration.gains import after
from ration.gains.after import FAST_G_PER_DAY, SUMMER_GAIN_G_PER_DAY
from ration.gains.records import (
    AtTupping,
    Change,
    FarmGains,
    GainCurve,
    MatingShare,
    Point,
)
from ration.units import in_words_day

if TYPE_CHECKING:
    from ration.animals import Batch
    from ration.farm import Farm
    from ration.mix import Ration
    from ration.tables import Tables

__all__ = [
    "AtTupping",
    "Change",
    "FarmGains",
    "GainCurve",
    "MatingShare",
    "Point",
    "at_gain",
    "curve",
    "curves",
]

STEP_G_PER_DAY = 10.0
MOST_G_PER_DAY = 150.0
OVER_TARGET_G_PER_DAY = 60.0
LEAST_STEP_G_PER_DAY = 1.0
MOST_POINTS = 80
MOST_SUMMER_GAIN_G_PER_DAY = 400.0
NO_MIX = "no mix of these feeds"
NOT_PROVED = "not proved, so not shown"
_HAIR_G = 1e-6


def curves(
    farm: Farm,
    tables: Tables,
    *,
    batches: Sequence[str] = (),
    step_g_per_day: float = STEP_G_PER_DAY,
    most_g_per_day: float | None = None,
    tupping: date | None = None,
    summer_gain_g_per_day: float = SUMMER_GAIN_G_PER_DAY,
) -> FarmGains:
    """What each gain costs, batch by batch.

    Parameters
    ----------
    farm : Farm
        As read by `ration.farm.read`.
    tables : Tables
        As read by `ration.tables.load`.
    batches : sequence of str
        Names of the batches wanted; none for all.
    step_g_per_day : float
        Between one gain and the next. [g/day], 1 or more.
    most_g_per_day : float or None
        Largest gain asked; None for 150, or 60 over the target if that is more. [g/day], to 250.
    tupping : date or None
        Next tupping; None for the next 10 November after the day of the target.
    summer_gain_g_per_day : float
        Gain from then to tupping; a published target for lowland replacements unless said. [g/day]

    Raises
    ------
    InputError
        A batch that is not the farm's; a step or a largest gain that cannot be; all that
        `ration.mix.mix` refuses.
    BalanceError
        The books of a ration do not balance; nothing is shown.
    """
    _check(farm, batches, step_g_per_day, most_g_per_day, tupping, summer_gain_g_per_day)
    ask = mix.asker(farm, tables)
    found, left_out = [], []
    for batch in farm.batches:
        if batches and batch.name not in batches:
            continue
        if batch.is_grown:
            left_out.append((batch.name, "grown ewes do not grow: they gain or lose condition"))
            continue
        day = tupping or after.next_tupping(farm.line_end)
        drawn = _curve(farm, batch, ask, step_g_per_day, most_g_per_day)
        end = drawn.target.end_weight_kg
        told = after.tupping_of(batch, end, farm.line_end, day, summer_gain_g_per_day)
        found.append(replace(drawn, tupping=told))
    return FarmGains(farm, tuple(found), tuple(left_out), tables.digest)


def curve(farm: Farm, tables: Tables, batch: str, gains_g_per_day: Sequence[float]) -> GainCurve:
    """What some gains of one's own cost one batch, its target always among them.

    Parameters
    ----------
    farm, tables
        As in `curves`.
    batch : str
        Name of the batch.
    gains_g_per_day : sequence of float
        [g/day], 0 to 250 each.

    Raises
    ------
    InputError
        As `curves`.
    """
    _check(farm, (batch,), STEP_G_PER_DAY, None, None, SUMMER_GAIN_G_PER_DAY)
    most = animals.GAIN_G_PER_DAY[1]
    if wrong := [g for g in gains_g_per_day if not 0 <= g <= most]:
        raise OutOfRange(*(Problem(batch, *_off_the_scale(g)) for g in wrong))
    chosen = next(b for b in farm.batches if b.name == batch)
    if chosen.is_grown:
        raise OutOfRange(Problem(batch, "they are grown ewes", "only growing sheep have a curve"))
    ladder = sorted(set(map(float, gains_g_per_day)))
    return _curve(farm, chosen, mix.asker(farm, tables), STEP_G_PER_DAY, None, ladder)


def _curve(
    farm: Farm,
    batch: Batch,
    ask: Callable[[Batch], Ration],
    step: float,
    most: float | None,
    ladder: Sequence[float] | None = None,
) -> GainCurve:
    """The curve of one batch, on even steps or on a ladder of one's own."""
    target, top = batch.gain_g_per_day, animals.GAIN_G_PER_DAY[1]
    if ladder is None:
        end = _last(target) if most is None else most
        ladder = [step * i for i in range(int(end / step + 1e-9) + 1)]
    gains = list(ladder)
    for own in (target, target - step, target + step):
        if 0 <= own <= top and not any(abs(own - g) < _HAIR_G for g in gains):
            gains.append(own)
    points: list[Point] = []
    for gain in sorted(gains):
        is_target = abs(gain - target) < _HAIR_G
        is_step = any(abs(gain - g) < _HAIR_G for g in ladder)
        below = next((p for p in reversed(points) if p.is_step), None) if is_step else None
        points.append(_point(farm, batch, ask, gain, is_target, is_step, below))
    here = next(p for p in points if p.is_target)

    def change(gain: float) -> Change | None:
        to = next((p for p in points if abs(p.gain_g_per_day - gain) < _HAIR_G), None)
        return None if to is None else _change(farm, batch, here, to)

    return GainCurve(
        batch=batch,
        start_kg=farm.start_kg(batch),
        days=farm.days,
        days_to_target=(farm.line_end - farm.start).days,
        step_g_per_day=step,
        points=tuple(points),
        target=here,
        more=change(target + step),
        less=change(target - step),
        tupping=None,
        case=after.nearest_case(batch),
    )


def at_gain(farm: Farm, batch: Batch, gain_g_per_day: float) -> Batch:
    """A batch with another gain: the weight fed for and the end weight move with it.

    A batch fed for its mid-winter weight is fed for that of the new line; one fed for the weight
    it was given stays there.
    """
    if abs(gain_g_per_day - batch.gain_g_per_day) < _HAIR_G:
        return batch
    start = farm.start_kg(batch)
    days = (farm.line_end - farm.start).days
    rise = batch.gain_g_per_day * days / 1000
    if abs(rise) > 1e-6:
        part = min(max((batch.weight_kg - start) / rise, 0.0), 1.0)
    else:
        part = 0.0 if batch.start_weight_kg is None else 0.5
    grown = gain_g_per_day * days / 1000
    return replace(
        batch,
        gain_g_per_day=gain_g_per_day,
        weight_kg=start + part * grown,
        end_weight_kg=None if batch.end_weight_kg is None else start + grown,
    )


def _point(
    farm: Farm,
    batch: Batch,
    ask: Callable[[Batch], Ration],
    gain: float,
    is_target: bool,
    is_step: bool,
    below: Point | None,
) -> Point:
    asked = at_gain(farm, batch, gain)
    days = (farm.line_end - farm.start).days
    end = farm.start_kg(batch) + gain * days / 1000
    cost = winter = trough = gap = None
    found, why_not = _ration(farm, asked, ask, is_target)
    if found is not None:
        kinds = {o.id: o.feed.is_concentrate for o in found.offers}
        cost, winter = found.cost_gbp_per_head_day, found.cost_gbp_for_winter
        trough = sum(f.kg_fresh_offered_per_head_day for f in found.feeds if kinds[f.id])
        gap = found.proved_gap_share
    more = None
    if cost is not None and below is not None and below.cost_gbp_per_head_day is not None:
        more = cost - below.cost_gbp_per_head_day
    return Point(
        gain_g_per_day=gain,
        weight_kg=asked.weight_kg,
        end_weight_kg=end,
        mature_share=end / batch.mature_weight_kg,
        cost_gbp_per_head_day=cost,
        cost_gbp_for_winter=winter,
        trough_kg_fresh_per_head_day=trough,
        more_gbp_per_head_day=more,
        proved_gap_share=gap,
        why_not=why_not,
        is_target=is_target,
        is_step=is_step,
    )


def _ration(
    farm: Farm, asked: Batch, ask: Callable[[Batch], Ration], is_target: bool
) -> tuple[Ration | None, str]:
    """The ration for one gain, or why there is none; the target's own faults are raised."""
    heaviest = animals.weights_kg(asked.sheep_class)[1]
    ceiling = farm.batch_limits.get(asked.name, farm.limits).ceiling_gain_g_per_day
    if not is_target and asked.weight_kg > heaviest:
        return None, f"fed for over {heaviest:g} kg: the equations stop there"
    if not is_target and ceiling is not None and asked.gain_g_per_day > ceiling:
        return None, f"over your ceiling of {ceiling:g} g"
    try:
        found = ask(asked)
    except NotProved:
        return None, NOT_PROVED
    return (found, "") if found.is_found else (None, NO_MIX)


def _change(farm: Farm, batch: Batch, here: Point, to: Point) -> Change | None:
    if here.cost_gbp_per_head_day is None or to.cost_gbp_per_head_day is None:
        return None
    more = to.cost_gbp_per_head_day - here.cost_gbp_per_head_day
    more_kg = to.end_weight_kg - here.end_weight_kg
    return Change(
        to=to,
        more_gbp_per_head_day=more,
        more_gbp_for_winter=more * batch.head * farm.days,
        more_kg=more_kg,
        gbp_per_kg=more * farm.days / more_kg,
    )


def _off_the_scale(gain: float) -> tuple[str, str, str]:
    least, most = animals.GAIN_G_PER_DAY
    return (
        f"gain {gain:g} g a day",
        f"{least:g} to {most:g} g is covered here",
        f"Over {FAST_G_PER_DAY:g} g a day ewe lambs kept for breeding grow too fast [P-S122]",
    )


def _check(
    farm: Farm,
    batches: Sequence[str],
    step: float,
    most: float | None,
    tupping: date | None,
    summer: float,
) -> None:
    known = [b.name for b in farm.batches]
    there_is = f"it has {', '.join(known)}"
    if wrong := [n for n in batches if n not in known]:
        raise UnknownName(
            *(Problem("--batch", f'"{n}" is not a batch of {farm.path}', there_is) for n in wrong)
        )
    top = animals.GAIN_G_PER_DAY[1]
    faults = []
    if not LEAST_STEP_G_PER_DAY <= step <= top:
        allowed = f"{LEAST_STEP_G_PER_DAY:g} to {top:g} g a day can be"
        faults.append(Problem("--step", f"a step of {step:g} g a day", allowed))
    if most is not None and not 0 < most <= top:
        faults.append(Problem("--most", *_off_the_scale(most)))
    end = most or max(_last(b.gain_g_per_day) for b in farm.batches)
    if not faults and end / step > MOST_POINTS:
        read = f"steps of {step:g} g up to {end:g} g are too many"
        do = "Take wider steps or a lower --most"
        faults.append(Problem("--step", read, f"at most {MOST_POINTS}", do))
    if not 0 <= summer <= MOST_SUMMER_GAIN_G_PER_DAY:
        allowed = f"0 to {MOST_SUMMER_GAIN_G_PER_DAY:g} g a day is believable"
        faults.append(Problem("--summer", f"a summer gain of {summer:g} g a day", allowed))
    if tupping is not None and not 0 < (tupping - farm.line_end).days <= 366:
        allowed = f"it is in the year after {in_words_day(farm.line_end)}"
        faults.append(Problem("--tupping", f"tupping on {in_words_day(tupping)}", allowed))
    if faults:
        raise OutOfRange(*faults)


def _last(target_g_per_day: float) -> float:
    """The largest gain asked when none is said. [g/day]"""
    far = max(MOST_G_PER_DAY, target_g_per_day + OVER_TARGET_G_PER_DAY)
    return min(far, animals.GAIN_G_PER_DAY[1])
