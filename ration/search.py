"""The cheapest mix over every diet quality and feeding level, with a proof.

Needs depend on the diet itself, so the problem is not a linear programme and the usual loop
(solve, work the quality out again, solve again) can settle on a dearer mix or on none. Here boxes
of quality q and level L are bounded from below by a linear programme with the kindest values in
the box; boxes that cannot beat the best real mix are dropped, the rest are split. A bound whose
own mix truly meets its needs closes its box. What is left over is the proved gap.

Several variants of one batch (other prices, a feed left out, a limit dropped) are searched side by
side: each generation of boxes of all variants is one call of the many-problem solver.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ration import solve
from ration.errors import NotProved
from ration.many_lps import INFEASIBLE, OPTIMAL, solve_many
from ration.model import MixModel, Problem
from ration.needs import Array

GAP_SHARE = 1e-3
_MEETS = 1e-9
_STILL_KG = 1e-6  # a mix that moves less is at rest: the next step would move its square
_NEAR_KG = 0.02
_REST = 8  # generations between polishings of a variant that no longer gains by them
_ROUNDS_OF_POLISH = 8
_MOST_GENERATIONS = 60
_MOST_BOXES = 200_000
CROWD = 400


@dataclass(frozen=True)
class Variant:
    """One way of asking: what differs from the model. None leaves the model's own.

    Attributes
    ----------
    cost, col_lo, col_hi : array (n,) or None
    fixed_lo, fixed_hi : array (m,) or None
        Limits of the rows that do not move.
    any_will_do : bool
        Stop at the first mix that meets its needs.
    """

    cost: Array | None = None
    col_lo: Array | None = None
    col_hi: Array | None = None
    fixed_lo: Array | None = None
    fixed_hi: Array | None = None
    any_will_do: bool = False


@dataclass(frozen=True)
class Found:
    """The best mix of one variant and what was proved about it.

    Attributes
    ----------
    x : array (n,) or None
        kg DM of each feed eaten a day; None when it is proved that no mix will do.
    cost : float
        Of x; inf when there is none.
    lower_bound : float
        No mix at any quality and level costs less.
    linear_programmes : int
        How many were solved, all variants together.
    """

    x: Array | None
    cost: float
    lower_bound: float
    linear_programmes: int

    @property
    def gap_share(self) -> float:
        """Proved gap as a share of the cost, 0 when there is no mix."""
        if self.x is None:
            return 0.0
        return max(self.cost - self.lower_bound, 0.0) / max(abs(self.cost), 1e-9)


class _Variants:
    """The variants' numbers stacked, one row each."""

    def __init__(self, model: MixModel, variants: list[Variant]) -> None:
        def rows(name: str, default: Array) -> Array:
            picked = [getattr(v, name) for v in variants]
            return np.array([default if p is None else p for p in picked])

        self.cost = rows("cost", model.cost)
        self.col_lo, self.col_hi = rows("col_lo", model.col_lo), rows("col_hi", model.col_hi)
        self.fixed_lo = rows("fixed_lo", model.fixed_lo)
        self.fixed_hi = rows("fixed_hi", model.fixed_hi)
        self.any_will_do = np.array([v.any_will_do for v in variants])


def search(
    model: MixModel,
    variants: list[Variant] | None = None,
    *,
    gap_share: float = GAP_SHARE,
    start: Sequence[tuple[int, Array]] = (),
    least_scale: float = 1e-9,
    crowd: int = CROWD,
) -> list[Found]:
    """The cheapest mix of each variant over all q and L.

    Parameters
    ----------
    model : MixModel
        The batch and its feeds.
    variants : list of Variant or None
        Ways of asking; None asks the model as it stands.
    gap_share : float
        Gap aimed at, as a share of the cost. [-] Where many mixes cost nearly the same a variant
        may end with a wider gap: `Found.gap_share` is the one proved, never over 0.1 %.
    start : sequence of (int, array (n,))
        Variant numbers and mixes to polish for them first: they cost little and spare much.
    least_scale : float
        The gap is a share of the cost or of this, whichever is more. [GBP]
    crowd : int
        Boxes of one variant; past it a flat ridge is proved to a looser gap.

    Returns
    -------
    list of Found
        One a variant, in order.

    Raises
    ------
    NotProved
        The search ran out of its allowance before the gap closed.
    """
    asked = [Variant()] if variants is None else variants
    v = _Variants(model, asked)
    fixed = model.fixed
    count = len(asked)
    best = np.full(count, np.inf)
    best_x = np.full((count, len(model.cost)), np.nan)
    floor = np.full(count, np.inf)  # least bound among the boxes dropped
    solved = 0
    idle = np.zeros(count, dtype=int)  # polishings in a row that brought nothing
    gap = np.full(count, gap_share)

    def offer(xs: Array, which: NDArray[np.int64]) -> int:
        """Polish mixes and keep the best; returns programmes solved."""
        polished, costs, lps = polish(model, v, fixed, xs, which)
        for i, k in enumerate(which):
            idle[k] = idle[k] + 1 if costs[i] >= best[k] else 0
            if costs[i] < best[k]:
                best[k], best_x[k] = costs[i], polished[i]
        return lps

    if start:
        solved += offer(np.array([x for _, x in start]), np.array([k for k, _ in start]))

    q1, q2, l1, l2, of = _first_boxes(model, v)
    basis = None
    for generation in range(_MOST_GENERATIONS):
        keep = ~(v.any_will_do[of] & np.isfinite(best[of]))
        q1, q2, l1, l2, of = q1[keep], q2[keep], l1[keep], l2[keep], of[keep]
        basis = None if basis is None else basis.take(np.flatnonzero(keep))
        if not len(of):
            break
        if len(of) > _MOST_BOXES:
            raise NotProved("The search for the cheapest mix grew too large; nothing is shown.")
        rows, lo, hi, empty = model.box_rows(q1, q2, l1, l2)
        live = np.flatnonzero(~empty)
        if not len(live):
            break
        matrix, row_lo, row_hi = _with_fixed(v, fixed, rows[live], lo[live], hi[live], of[live])
        who = of[live]
        answers = solve_many(
            v.cost[who],
            matrix,
            row_lo,
            row_hi,
            v.col_lo[who],
            v.col_hi[who],
            start=None if basis is None else basis.take(live),
        )
        solved += len(live)
        status, x, bound = answers.status, answers.x, answers.lower_bound.copy()
        for i in np.flatnonzero((status != OPTIMAL) & (status != INFEASIBLE)):
            status, x = status.copy(), x.copy()
            status[i], x[i], bound[i] = _by_the_judge(
                v, who[i], matrix[i], row_lo[i], row_hi[i], bound[i]
            )
        feasible = np.flatnonzero(status == OPTIMAL)
        who, x, bound = who[feasible], x[feasible], bound[feasible]
        boxes = live[feasible]
        misses = model.shortfalls(x)
        truly = misses.max(axis=1, initial=0.0) <= _MEETS
        for i in np.flatnonzero(truly):  # the bound's own mix is real: the box is closed
            cost = float(v.cost[who[i]] @ x[i])
            floor[who[i]] = min(floor[who[i]], bound[i])
            if cost < best[who[i]]:
                best[who[i]], best_x[who[i]] = cost, x[i]
        open_ = np.flatnonzero(~truly & (bound < _cutoff(best, gap, least_scale)[who]))
        if generation % _REST:
            open_ = open_[(idle < 2)[who[open_]]]
        picked = _most_promising(x[open_], who[open_], bound[open_], best_x)
        if len(picked):
            solved += offer(x[open_][picked], who[open_][picked])
        crowded = np.bincount(who, minlength=count) > crowd
        gap[crowded] = np.maximum(np.minimum(10 * gap[crowded], GAP_SHARE), gap_share)
        cut = _cutoff(best, gap, least_scale)[who]
        for i in np.flatnonzero(~truly & (bound >= cut)):
            floor[who[i]] = min(floor[who[i]], bound[i])
        go_on = np.flatnonzero(~truly & (bound < cut))
        if not len(go_on):
            break
        b = boxes[go_on]
        parents = feasible[go_on]
        q1, q2, l1, l2, of, mother = _split(
            model, q1[b], q2[b], l1[b], l2[b], who[go_on], misses[go_on]
        )
        basis = answers.basis.take(parents[mother])
    else:
        raise NotProved("The search for the cheapest mix did not close; nothing is shown.")
    return [
        Found(
            best_x[k] if np.isfinite(best[k]) else None,
            float(best[k]),
            float(min(best[k], floor[k])) if not v.any_will_do[k] else -np.inf,
            solved,
        )
        for k in range(count)
    ]


def polish(
    model: MixModel, v: _Variants, fixed: Array, xs: Array, which: NDArray[np.int64]
) -> tuple[Array, Array, int]:
    """Walk each mix to the nearest real optimum along lines that touch its true needs.

    Returns
    -------
    tuple
        mixes (K, n), their costs (K,), inf where no real mix was reached, and programmes solved.
    """
    costs = np.where(_is_real(model, v, fixed, xs, which), (v.cost[which] * xs).sum(1), np.inf)
    out = xs.copy()
    current, live = xs.copy(), np.arange(len(xs))
    misses = model.shortfalls(xs).max(axis=1)
    reach = np.full(len(xs), np.inf)  # how far a step may go; shrinks when a step disappoints
    basis, lps = None, 0
    (q_lo, q_hi), (l_lo, l_hi) = model.needs.quality, model.needs.level
    for _ in range(_ROUNDS_OF_POLISH):
        q, level = model.quality_and_level(current[live])
        sound = (q > q_lo + 1e-4) & (q < q_hi - 1e-4) & (level > l_lo) & (level < l_hi - 1e-3)
        sound &= np.isfinite(model.needs.me_need(np.clip(np.nan_to_num(q) - 1e-4, q_lo, q_hi)))
        keep = np.flatnonzero(sound)
        basis = None if basis is None else basis.take(keep)
        live = live[keep]
        if not len(live):
            break
        who, here, span = which[live], current[live], reach[live][:, None]
        rows, lo, hi = model.tangent_rows(here)
        matrix, row_lo, row_hi = _with_fixed(v, fixed, rows, lo, hi, who)
        answers = solve_many(
            v.cost[who],
            matrix,
            row_lo,
            row_hi,
            np.minimum(np.maximum(v.col_lo[who], here - span), v.col_hi[who]),
            np.maximum(np.minimum(v.col_hi[who], here + span), v.col_lo[who]),
            start=basis,
        )
        lps += len(live)
        ok = np.flatnonzero(answers.status == OPTIMAL)
        live, here, x = live[ok], here[ok], answers.x[ok]
        if not len(live):
            break
        moved = np.abs(x - here).max(axis=1)
        miss = model.shortfalls(x).max(axis=1)
        cost = (v.cost[which[live]] * x).sum(1)
        better = (miss <= _MEETS) & (cost < costs[live])
        out[live[better]], costs[live[better]] = x[better], cost[better]
        took = miss <= np.maximum(misses[live] / 2, _MEETS)
        current[live[took]], misses[live[took]] = x[took], miss[took]
        reach[live[~took]] = moved[~took] / 4
        going = np.flatnonzero(moved >= _STILL_KG)
        live, basis = live[going], answers.basis.take(ok[going])
        if not len(live):
            break
    return out, costs, lps


def _is_real(
    model: MixModel, v: _Variants, fixed: Array, xs: Array, which: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Which mixes already meet every need and limit."""
    activity, size = xs @ fixed.T, np.abs(xs) @ np.abs(fixed).T + 1e-3
    real = model.shortfalls(xs).max(axis=1) <= _MEETS
    real &= (activity >= v.fixed_lo[which] - _MEETS * size).all(axis=1)
    real &= (activity <= v.fixed_hi[which] + _MEETS * size).all(axis=1)
    real &= (xs >= v.col_lo[which] - _MEETS).all(axis=1)
    return np.asarray(real & (xs <= v.col_hi[which] + _MEETS).all(axis=1))


def _with_fixed(
    v: _Variants, fixed: Array, rows: Array, lo: Array, hi: Array, who: NDArray[np.int64]
) -> tuple[Array, Array, Array]:
    """Moving rows with the fixed ones under them, for each programme."""
    k, moving, n = rows.shape
    matrix = np.empty((k, moving + len(fixed), n))
    matrix[:, :moving] = rows
    matrix[:, moving:] = fixed
    return (
        matrix,
        np.concatenate([lo, v.fixed_lo[who]], axis=1),
        np.concatenate([hi, v.fixed_hi[who]], axis=1),
    )


def _cutoff(best: Array, gap_share: Array, least_scale: float) -> Array:
    """Boxes at or over this cannot beat the best by more than the gap."""
    room = gap_share * np.maximum(np.abs(best), least_scale)
    with np.errstate(invalid="ignore"):
        return best - np.where(np.isfinite(best), room, 0)


def _most_promising(
    x: Array, who: NDArray[np.int64], bound: Array, best_x: Array
) -> NDArray[np.int64]:
    """The lowest bound of each variant, as a start for polishing, unless the best is near it."""
    order = np.lexsort((bound, who))
    first = order[np.r_[True, np.diff(who[order]) > 0]] if len(order) else order
    apart = np.abs(x[first] - best_x[who[first]]).max(axis=1, initial=0.0)
    return np.asarray(first[~(apart < _NEAR_KG)])


def _first_boxes(
    model: MixModel, v: _Variants
) -> tuple[Array, Array, Array, Array, NDArray[np.int64]]:
    """A coarse grid that covers every quality and level a mix can have."""
    usable = (v.col_hi > 0).any(axis=0)
    ratios = model.me[usable] / model.ge[usable] if usable.any() else np.array([0.5])
    lo, hi = model.needs.quality
    edges = np.linspace(max(lo, ratios.min()), min(hi, ratios.max()) + 1e-9, 5)
    if edges[0] >= edges[-1]:
        edges = np.array([edges[0] - 1e-6, edges[0] + 1e-6]).clip(lo, hi)
    q1, q2 = edges[:-1], edges[1:]
    need2, _ = model.energy_limits(q2)
    _, ceiling1 = model.energy_limits(q1)
    at1, at2 = model.needs.maintenance_me(q1), model.needs.maintenance_me(q2)
    most_me = float((v.col_hi.max(axis=0) * model.me).sum())
    level_lo, level_hi = model.needs.level
    first = np.clip(np.where(np.isfinite(need2), need2, most_me) / at1, level_lo, level_hi)
    last = np.clip(np.minimum(ceiling1, most_me) / at2, first, level_hi)
    steps = np.linspace(0, 1, 4)
    l_edges = first[:, None] + (last - first)[:, None] * steps[None]
    count, n_l = len(v.cost), len(steps) - 1
    q1, q2 = np.repeat(q1, n_l), np.repeat(q2, n_l)
    l1, l2 = l_edges[:, :-1].ravel(), l_edges[:, 1:].ravel()
    of = np.repeat(np.arange(count), len(q1))
    return np.tile(q1, count), np.tile(q2, count), np.tile(l1, count), np.tile(l2, count), of


def _split(
    model: MixModel,
    q1: Array,
    q2: Array,
    l1: Array,
    l2: Array,
    who: NDArray[np.int64],
    misses: Array,
) -> tuple[Array, Array, Array, Array, NDArray[np.int64], NDArray[np.int64]]:
    """Each box cut in eight across q or L, whichever its bound's mix abuses more.

    L is ME over a maintenance that moves with q, so a box narrower in L than its width in q blurs
    L must be cut across q whatever it abuses.
    """
    parts = 8
    energy = misses[:, :2].max(axis=1)
    protein = misses[:, 2:].max(axis=1)
    blur = model.needs.maintenance_me(q1) / model.needs.maintenance_me(q2) - 1
    across_q = (energy >= protein) | (l2 - l1 <= l2 * blur)
    steps = np.arange(parts + 1) / parts
    q_edges = np.where(across_q[:, None], q1[:, None] + (q2 - q1)[:, None] * steps, q1[:, None])
    l_edges = np.where(across_q[:, None], l1[:, None], l1[:, None] + (l2 - l1)[:, None] * steps)
    new_q1 = q_edges[:, :-1]
    new_q2 = np.where(across_q[:, None], q_edges[:, 1:], q2[:, None])
    new_l1 = l_edges[:, :-1]
    new_l2 = np.where(across_q[:, None], l2[:, None], l_edges[:, 1:])
    mother = np.repeat(np.arange(len(q1)), parts)
    return (
        new_q1.ravel(),
        new_q2.ravel(),
        new_l1.ravel(),
        new_l2.ravel(),
        who[mother],
        mother,
    )


def _by_the_judge(
    v: _Variants, k: int, matrix: Array, row_lo: Array, row_hi: Array, bound: float
) -> tuple[int, Array, float]:
    """One programme the many-problem solver left undecided, by HiGHS."""
    n = matrix.shape[1]
    problem = Problem(
        v.cost[k],
        matrix,
        row_lo,
        row_hi,
        v.col_lo[k],
        v.col_hi[k],
        tuple(f"x{j}" for j in range(n)),
        tuple(f"r{i}" for i in range(len(row_lo))),
        np.zeros(n, dtype=bool),
    )
    answer = solve.run(problem)
    if answer.status == solve.INFEASIBLE:
        return INFEASIBLE, np.full(n, np.nan), np.inf
    if answer.values is None or answer.cost is None:
        raise NotProved("One step of the search could not be solved; nothing is shown.")
    return OPTIMAL, answer.values, max(bound, answer.cost - 1e-9 * (1 + abs(answer.cost)))
