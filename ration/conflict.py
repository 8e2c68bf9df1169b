"""Why no mix will do, and the least change that would.

Each limit in turn is dropped and the mixes over all diets are searched for the one that breaks it
least: that is the least change of this limit alone that would do. The gain is treated alike: the
most that these feeds can support within the limits.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ration import solve
from ration.model import CEILING, ENERGY, FERMENT, RUMEN, MixModel, Problem
from ration.needs import Array
from ration.search import Variant, search

_SHARES = 3
_CLOSE = 1e-4


@dataclass(frozen=True)
class Cure:
    """One change that would make a mix possible, the rest kept.

    Attributes
    ----------
    row : str
        Id of the limit, "gain", "energy ceiling", or "amount of <offer>".
    now, least_change : float
        The limit as it is and as it would have to be, in the limit's own unit (share limits as
        shares, amounts in kg DM).
    """

    row: str
    now: float
    least_change: float


@dataclass(frozen=True)
class Conflict:
    """What cannot all hold.

    Attributes
    ----------
    members : tuple of str
        Row ids and "amount of <offer>" that conflict, as few as show it.
    cures : tuple of Cure
        Single changes that would do, smallest relative change first.
    most_gain_g_per_day : float or None
        The most gain within all limits; None when these feeds cannot even hold the weight.
    gain_without : tuple of (str, float)
        Where no single change would do: limits and the most gain if only this one were dropped,
        best first. [g/day]
    beyond_reach_g_per_day : float or None
        Set when these feeds in any amounts, no limit kept, give at most this gain. [g/day]
    """

    members: tuple[str, ...]
    cures: tuple[Cure, ...]
    most_gain_g_per_day: float | None
    gain_without: tuple[tuple[str, float], ...]
    beyond_reach_g_per_day: float | None = None


@dataclass(frozen=True)
class _Loosened:
    """One limit dropped: which, and the variant that looks for the mix breaking it least."""

    row: str
    index: int  # of the row, or of the feed
    is_amount: bool
    is_lo: bool
    variant: Variant


def explain(model: MixModel) -> Conflict:
    """The conflict and its cures for a model that has no mix."""
    loosened = _loosened(model)
    answers = (
        search(
            model,
            [x.variant for x in loosened],
            gap_share=_CLOSE,
            least_scale=np.array([_scale(model, x.variant) for x in loosened]),
        )
        if loosened
        else []
    )
    cures: list[Cure] = []
    where: Array | None = None
    for loose, answer in zip(loosened, answers, strict=True):
        if answer.x is None:
            continue
        where = answer.x if where is None else where
        if loose.is_amount:
            now, then = float(model.col_hi[loose.index]), float(answer.x[loose.index])
        else:
            now, then = _limit_values(model, loose.index, loose.is_lo, loose.variant, answer.x)
        cures.append(Cure(loose.row, now, then))
    if model.ceiling_gain_g_per_day is not None:
        free = replace(model, ceiling_gain_g_per_day=None)
        answer = search(free, [Variant(cost=free.me)], gap_share=_CLOSE)[0]
        if answer.x is not None:
            where = answer.x
            gain = _ceiling_of(free, answer.x)
            if gain > model.ceiling_gain_g_per_day + 1e-6:
                cures.append(Cure(CEILING, model.ceiling_gain_g_per_day, gain))
    asked = model.needs.batch.gain_g_per_day
    most, at_most = _most_gain(model, Variant(any_will_do=True))
    if most is not None:
        where = at_most
        cures.insert(0, Cure("gain", asked, most))
    cures.sort(key=lambda c: abs(c.least_change - c.now) / max(abs(c.now), 1e-6))
    without = () if cures else _gain_without(model, loosened)
    beyond = None
    if where is None:
        free_gain, where = _without_limits(model)
        if free_gain is None or free_gain < asked - 0.2:
            beyond, where = free_gain or 0.0, None
    members = _members(model, where) or tuple(dict.fromkeys(c.row for c in cures))
    return Conflict(members, tuple(cures), most, without, beyond)


def _loosened(model: MixModel) -> list[_Loosened]:
    """Every limit dropped in turn: rows at each finite end, then caps on single feeds."""
    out = []
    lo, hi = model.fixed_lo, model.fixed_hi
    for k, row in enumerate(model.rows):
        for end, is_lo in ((lo[k], True), (hi[k], False)):
            if not np.isfinite(end):
                continue
            loose_lo, loose_hi = lo.copy(), hi.copy()
            if is_lo:
                loose_lo[k] = -np.inf
            else:
                loose_hi[k] = np.inf
            variant = Variant(
                cost=(-1.0 if is_lo else 1.0) * row.coefficients,
                fixed_lo=loose_lo,
                fixed_hi=loose_hi,
            )
            out.append(_Loosened(row.id, k, False, is_lo, variant))
    fill = _room(model)
    for j in np.flatnonzero(model.col_hi < fill * 0.999):
        cap, cost = model.col_hi.copy(), np.zeros(len(model.cost))
        cap[j], cost[j] = fill, 1.0
        out.append(
            _Loosened(
                f"amount of {model.names[j]}", int(j), True, False, Variant(cost=cost, col_hi=cap)
            )
        )
    return out


def _gain_without(model: MixModel, loosened: list[_Loosened]) -> tuple[tuple[str, float], ...]:
    """The most gain with one limit dropped altogether, where it would help at all."""
    out = []
    free = replace(model, ceiling_gain_g_per_day=None)
    tries = [(x.row, model, replace(x.variant, cost=None, any_will_do=True)) for x in loosened]
    for row, tried, variant in [*tries, (CEILING, free, Variant(any_will_do=True))]:
        most, _ = _most_gain(tried, variant)
        if most is not None:
            out.append((row, most))
    return tuple(sorted(out, key=lambda pair: -pair[1]))


def _without_limits(model: MixModel) -> tuple[float | None, Array | None]:
    """The most gain with no limit kept at all, and its mix: a place to look for the conflict."""
    free = replace(model, ceiling_gain_g_per_day=None)
    none = Variant(
        fixed_lo=np.full(len(model.rows), -np.inf),
        fixed_hi=np.full(len(model.rows), np.inf),
        col_lo=np.zeros(len(model.cost)),
        col_hi=np.full(len(model.cost), 4 * _room(model)),
        any_will_do=True,
    )
    return _most_gain(free, none)


def _scale(model: MixModel, variant: Variant) -> float:
    """How large the sum that a variant looks at can well be: its least may be nought."""
    cost = model.cost if variant.cost is None else variant.cost
    return 0.1 * float(np.abs(cost).max()) * _room(model)


def _room(model: MixModel) -> float:
    intake = [r.hi for r in model.rows if r.id == "intake" and np.isfinite(r.hi)]
    return intake[0] if intake else 0.04 * model.needs.batch.weight_kg


def _limit_values(
    model: MixModel, k: int, is_lo: bool, variant: Variant, x: Array
) -> tuple[float, float]:
    """A limit as it is and as the least-breaking mix would need it, in its own unit.

    A row of a share or ratio is refined by Newton's step on the ratio itself.
    """
    row = model.rows[k]
    end = row.lo if is_lo else row.hi
    if row.ratio is None:
        if row.id in ("calcium", "phosphorus"):  # as a shortage a day, against nothing short
            return 0.0, float(end - row.coefficients @ x)
        return float(end), float(row.coefficients @ x)
    top, bottom, now = row.ratio
    share = float(top @ x) / float(bottom @ x)
    for _ in range(_SHARES):
        sign = -1.0 if is_lo else 1.0
        aimed = replace(variant, cost=sign * (top - share * bottom))
        again = search(
            model, [aimed], gap_share=_CLOSE, least_scale=_scale(model, aimed), start=[(0, x)]
        )[0]
        if again.x is None:
            break
        better = float(top @ again.x) / float(bottom @ again.x)
        if abs(better - share) < 1e-6:
            break
        share = better
    return now, share


def _ceiling_of(model: MixModel, x: Array) -> float:
    """The gain whose energy need the mix just meets."""
    q, _ = model.quality_and_level(x[None])
    me = float(x @ model.me)
    lo, hi = model.needs.batch.gain_g_per_day, 600.0
    for _ in range(50):
        middle = (lo + hi) / 2
        lo, hi = (middle, hi) if model.needs.me_need(q, middle)[0] < me else (lo, middle)
    return hi


def _most_gain(model: MixModel, variant: Variant) -> tuple[float | None, Array | None]:
    """The most gain within all limits but those a variant drops, to 0.1 g/day, and its mix."""
    asked = model.needs.batch.gain_g_per_day
    keep = model.ceiling_gain_g_per_day
    rows = [r.id for r in model.rows]

    def tried(gain: float) -> Array | None:
        eased = replace(model.with_gain(gain), ceiling_gain_g_per_day=keep)
        fixed_lo = None if variant.fixed_lo is None else variant.fixed_lo.copy()
        if fixed_lo is not None:  # calcium and phosphorus move with the gain, unless dropped
            for k, row in enumerate(rows):
                if row in ("calcium", "phosphorus") and np.isfinite(fixed_lo[k]):
                    fixed_lo[k] = eased.fixed_lo[k]
        return search(eased, [replace(variant, fixed_lo=fixed_lo)])[0].x

    if (at_once := tried(asked)) is not None:
        return asked, at_once
    best, lo, hi = tried(0.0), 0.0, asked
    if best is None:
        return None, None
    while hi - lo > 0.1:
        gain = (lo + hi) / 2
        x = tried(gain)
        if x is None:
            hi = gain
        else:
            best, lo = x, gain
    return lo, best


def _members(model: MixModel, x: Array | None) -> tuple[str, ...]:
    """An irreducible conflict in the widest box around a mix in which there is one."""
    if x is None:
        return ()
    q, level = model.quality_and_level(x[None])
    if not np.isfinite(q[0]):
        return ()
    (q_lo, q_hi), (l_lo, l_hi) = model.needs.quality, model.needs.level
    fill = _room(model)
    most = np.where(model.col_hi < fill * 0.999, model.col_hi, 4 * fill)  # intake is a row
    for share in 0.5 ** np.arange(9):
        rows, lo, hi, empty = model.box_rows(
            np.clip(q - 0.15 * share, q_lo, q_hi),
            np.clip(q + 0.15 * share, q_lo, q_hi),
            np.clip(level - share, l_lo, l_hi),
            np.clip(level + share, l_lo, l_hi),
        )
        if empty[0]:
            return (ENERGY, CEILING)
        problem = Problem(
            model.cost,
            np.vstack([rows[0], model.fixed]),
            np.concatenate([lo[0], model.fixed_lo]),
            np.concatenate([hi[0], model.fixed_hi]),
            model.col_lo,
            most,
            model.names,
            (ENERGY, "", "", RUMEN, FERMENT, ENERGY, *(r.id for r in model.rows)),
            np.zeros(len(model.cost), dtype=bool),
        )
        found_rows, found_cols = solve.conflict(problem)
        names = [problem.row_names[i] for i in found_rows if problem.row_names[i]]
        names += [
            f"amount of {model.names[j]}" for j in found_cols if 0 < model.col_hi[j] < fill * 0.999
        ]
        if names:
            return tuple(dict.fromkeys(names))
    return ()
