"""Why no mix will do, and the least change that would.

Each limit in turn is dropped and the mixes over all diets are searched for the one that breaks it
least: that is the least change of this limit alone that would do. The gain is treated alike: the
most that these feeds can support within the limits.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ration import solve
from ration.model import CEILING, MOVING, MixModel, Problem
from ration.needs import Array
from ration.search import Variant, search

_SHARES = 3


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
    """

    members: tuple[str, ...]
    cures: tuple[Cure, ...]


def explain(model: MixModel) -> Conflict:
    """The conflict and its cures for a model that has no mix."""
    cures: list[Cure] = []
    where: Array | None = None
    rows = model.rows
    lo, hi = model.fixed_lo, model.fixed_hi
    tried: list[tuple[int, str, bool]] = []
    variants = []
    for k, row in enumerate(rows):
        for end, is_lo in ((lo[k], True), (hi[k], False)):
            if not np.isfinite(end):
                continue
            loose_lo, loose_hi = lo.copy(), hi.copy()
            (loose_lo if is_lo else loose_hi)[k] = -np.inf if is_lo else np.inf
            sign = -1.0 if is_lo else 1.0
            variants.append(
                Variant(cost=sign * row.coefficients, fixed_lo=loose_lo, fixed_hi=loose_hi)
            )
            tried.append((k, row.id, is_lo))
    fill = _room(model)
    capped = [j for j in range(len(model.cost)) if model.col_hi[j] < fill * 0.999]
    for j in capped:
        cap, cost = model.col_hi.copy(), np.zeros(len(model.cost))
        cap[j], cost[j] = fill, 1.0
        variants.append(Variant(cost=cost, col_hi=cap))
    answers = search(model, variants, gap_share=1e-4) if variants else []
    for (k, row_id, is_lo), variant, answer in zip(tried, variants, answers, strict=False):
        if answer.x is None:
            continue
        now, then = _limit_values(model, k, is_lo, variant, answer.x)
        where = answer.x if where is None else where
        cures.append(Cure(row_id, now, then))
    for j, answer in zip(capped, answers[len(tried) :], strict=True):
        if answer.x is not None:
            where = answer.x if where is None else where
            cures.append(
                Cure(f"amount of {model.names[j]}", float(model.col_hi[j]), float(answer.x[j]))
            )
    if model.ceiling_gain_g_per_day is not None:
        free = replace(model, ceiling_gain_g_per_day=None)
        answer = search(free, [Variant(cost=free.me)], gap_share=1e-4)[0]
        if answer.x is not None:
            where = answer.x
            gain = _ceiling_of(free, answer.x)
            if gain > model.ceiling_gain_g_per_day + 1e-6:
                cures.append(Cure(CEILING, model.ceiling_gain_g_per_day, gain))
    most, x = _most_gain(model)
    if most is not None:
        where = x
        cures.insert(0, Cure("gain", model.needs.batch.gain_g_per_day, most))
    cures.sort(key=lambda c: abs(c.least_change - c.now) / max(abs(c.now), 1e-6))
    members = _members(model, where) or tuple(dict.fromkeys(c.row for c in cures))
    return Conflict(members, tuple(cures))


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
        again = search(
            model, [replace(variant, cost=sign * (top - share * bottom))], gap_share=1e-4
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


def _most_gain(model: MixModel) -> tuple[float | None, Array | None]:
    """The most gain within all limits, to 0.1 g/day, and a mix that gives it."""
    lo, hi = 0.0, model.needs.batch.gain_g_per_day
    keep = model.ceiling_gain_g_per_day
    best = None
    while hi - lo > 0.1 or best is None:
        gain = lo if best is None else (lo + hi) / 2
        tried = replace(model.with_gain(gain), ceiling_gain_g_per_day=keep)
        answer = search(tried, [Variant(any_will_do=True)])[0]
        if answer.x is None:
            if best is None:
                return None, None
            hi = gain
        else:
            best, lo = answer.x, gain
        if hi - lo <= 0.1:
            break
    return lo, best


def _members(model: MixModel, x: Array | None) -> tuple[str, ...]:
    """An irreducible conflict near a mix that only just breaks the limits."""
    if x is None:
        return ()
    q, level = model.quality_and_level(x[None])
    if not np.isfinite(q[0]):
        return ()
    (q_lo, q_hi), (l_lo, l_hi) = model.needs.quality, model.needs.level
    rows, lo, hi, empty = model.box_rows(
        np.clip(q - 0.004, q_lo, q_hi),
        np.clip(q + 0.004, q_lo, q_hi),
        np.clip(level - 0.02, l_lo, l_hi),
        np.clip(level + 0.02, l_lo, l_hi),
    )
    if empty[0]:
        return ()
    problem = Problem(
        model.cost,
        np.vstack([rows[0], model.fixed]),
        np.concatenate([lo[0], model.fixed_lo]),
        np.concatenate([hi[0], model.fixed_hi]),
        model.col_lo,
        model.col_hi,
        model.names,
        ("energy", "energy", "energy", *MOVING[2:], "energy", *(r.id for r in model.rows)),
        np.zeros(len(model.cost), dtype=bool),
    )
    found_rows, found_cols = solve.conflict(problem)
    fill = _room(model)
    names = [problem.row_names[i] for i in found_rows]
    names += [
        f"amount of {model.names[j]}" for j in found_cols if 0 < model.col_hi[j] < fill * 0.999
    ]
    return tuple(dict.fromkeys(names))
