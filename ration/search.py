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
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ration import solve
from ration.errors import NotProved
from ration.many_lps import INFEASIBLE, OPTIMAL, Answers, Basis, Ints, solve_many
from ration.model import MixModel, Problem
from ration.needs import Array

GAP_SHARE = 1e-3
_MEETS = 1e-9
_STILL_KG = 1e-6  # a mix that moves less is at rest: the next step would move its square
_NEAR_KG = 0.02
_PENALTY = 10.0  # what a need missed wholly counts for beside the cost, while polishing
_REST = 8  # generations between polishings of a variant that no longer gains by them
_ROUNDS_OF_POLISH = 8
_MOST_GENERATIONS = 60
_MOST_BOXES = 20_000
CROWD = 400
_MANY = 50  # boxes of one variant, from where polishing costs little beside bounding
_HOPELESS = 4000  # boxes of a variant without any mix, after which a near miss is called one
_PARTS = 8


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
    is_borderline : bool
        No mix was found, but some come within a part in a thousand of their needs: the proof that
        none meets them was given up.
    """

    x: Array | None
    cost: float
    lower_bound: float
    linear_programmes: int
    is_borderline: bool = False

    @property
    def gap_share(self) -> float:
        """Proved gap as a share of the cost, 0 when there is no mix."""
        if self.x is None:
            return 0.0
        return max(self.cost - self.lower_bound, 0.0) / max(abs(self.cost), 1e-9)


class _Variants:
    """The variants' numbers stacked, one row each."""

    def __init__(self, model: MixModel, variants: Sequence[Variant]) -> None:
        def rows(name: str, default: Array) -> Array:
            picked = [getattr(v, name) for v in variants]
            return np.array([default if p is None else p for p in picked])

        self.cost = rows("cost", model.cost)
        self.col_lo, self.col_hi = rows("col_lo", model.col_lo), rows("col_hi", model.col_hi)
        self.fixed_lo = rows("fixed_lo", model.fixed_lo)
        self.fixed_hi = rows("fixed_hi", model.fixed_hi)
        self.any_will_do = np.array([v.any_will_do for v in variants])

    def __len__(self) -> int:
        return len(self.cost)


@dataclass(frozen=True)
class _Boxes:
    """Boxes [q1, q2] x [l1, l2], the variant of each, and where their bounds may start from."""

    q1: Array
    q2: Array
    l1: Array
    l2: Array
    of: Ints
    basis: Basis | None = None

    def __len__(self) -> int:
        return len(self.of)

    def take(self, which: Ints) -> _Boxes:
        """Some of them."""
        return _Boxes(
            self.q1[which],
            self.q2[which],
            self.l1[which],
            self.l2[which],
            self.of[which],
            None if self.basis is None else self.basis.take(which),
        )


@dataclass(frozen=True)
class _Bounds:
    """Boxes that may hold a mix, the mix and cost that bound each, and what that mix abuses."""

    boxes: _Boxes
    x: Array
    bound: Array
    misses: Array  # (K, 4), shares of the true needs
    is_real: NDArray[np.bool_]  # the bounding mix meets its true needs

    @property
    def of(self) -> Ints:
        return self.boxes.of


def search(
    model: MixModel,
    variants: Sequence[Variant] | None = None,
    *,
    gap_share: float = GAP_SHARE,
    start: Sequence[tuple[int, Array]] = (),
    least_scale: float | Array = 1e-9,
    crowd: int = CROWD,
) -> list[Found]:
    """The cheapest mix of each variant over all q and L.

    Parameters
    ----------
    model : MixModel
        The batch and its feeds.
    variants : sequence of Variant or None
        Ways of asking; None asks the model as it stands.
    gap_share : float
        Gap aimed at, as a share of the cost. [-] Where many mixes cost nearly the same a variant
        may end with a wider gap, as a rule not over 0.1 %: `Found.gap_share` is the one proved.
    start : sequence of (int, array (n,))
        Variant numbers and mixes to polish for them first: they cost little and spare much.
    least_scale : float or array (one a variant)
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
        One step could be solved neither here nor by HiGHS.
    """
    stacked = _Variants(model, [Variant()] if variants is None else variants)
    return _Search(model, stacked, gap_share, least_scale, crowd).run(start)


class _Search:
    """One search: the best mix, the proved floor and the allowed gap of every variant."""

    def __init__(
        self,
        model: MixModel,
        v: _Variants,
        gap_share: float,
        least_scale: float | Array,
        crowd: int,
    ) -> None:
        self.model, self.v, self.fixed = model, v, model.fixed
        self.gap_share, self.least_scale, self.crowd = gap_share, least_scale, crowd
        self.best = np.full(len(v), np.inf)
        self.best_x = np.full((len(v), len(model.cost)), np.nan)
        self.floor = np.full(len(v), np.inf)  # least bound among the boxes dropped
        self.gap = np.full(len(v), gap_share)
        self.idle = np.zeros(len(v), dtype=int)  # polishings in a row that brought nothing
        self.given_up = np.zeros(len(v), dtype=bool)
        self.solved = 0

    def run(self, start: Sequence[tuple[int, Array]]) -> list[Found]:
        """Bound, close, polish, split, until nothing is open."""
        if start:
            self.offer(np.array([x for _, x in start]), np.array([k for k, _ in start]))
        boxes = _first_boxes(self.model, self.v)
        for generation in range(_MOST_GENERATIONS):
            settled = self.given_up | (self.v.any_will_do & np.isfinite(self.best))
            boxes = boxes.take(np.flatnonzero(~settled[boxes.of]))
            if not len(boxes):
                return self.found()
            bounds = self.bounded(boxes)
            self.keep_real(bounds)
            self.polish_some(bounds, generation)
            self.mind_the_crowd(bounds)
            is_open = ~bounds.is_real & (bounds.bound < self.cutoff()[bounds.of])
            if generation + 1 == _MOST_GENERATIONS or is_open.sum() > _MOST_BOXES:
                self.given_up[bounds.of[is_open & ~np.isfinite(self.best)[bounds.of]]] = True
                is_open[:] = False  # what is left open is the gap, and is said
            np.minimum.at(self.floor, bounds.of[~is_open], bounds.bound[~is_open])
            boxes = _split(self.model, bounds, np.flatnonzero(is_open))
        return self.found()

    def found(self) -> list[Found]:
        """The answer of every variant."""
        return [
            Found(
                x=self.best_x[k] if np.isfinite(self.best[k]) else None,
                cost=float(self.best[k]),
                lower_bound=-np.inf
                if self.v.any_will_do[k]
                else float(min(self.best[k], self.floor[k])),
                linear_programmes=self.solved,
                is_borderline=bool(self.given_up[k]),
            )
            for k in range(len(self.v))
        ]

    def cutoff(self) -> Array:
        """A box at or over this cannot beat the best of its variant by more than the gap."""
        room = self.gap * np.maximum(np.abs(self.best), self.least_scale)
        with np.errstate(invalid="ignore"):
            return self.best - np.where(np.isfinite(self.best), room, 0)

    def bounded(self, boxes: _Boxes) -> _Bounds:
        """The lower bound of every box; boxes proved to hold no mix are left out."""
        rows, lo, hi, empty = self.model.box_rows(boxes.q1, boxes.q2, boxes.l1, boxes.l2)
        live = np.flatnonzero(~empty)
        boxes, rows, lo, hi = boxes.take(live), rows[live], lo[live], hi[live]
        v, who = self.v, boxes.of
        if not len(who):
            nothing = np.zeros((0, len(self.model.cost)))
            return _Bounds(boxes, nothing, np.zeros(0), np.zeros((0, 4)), np.zeros(0, dtype=bool))
        matrix, row_lo, row_hi = _with_fixed(v, self.fixed, rows, lo, hi, who)
        answers = solve_many(
            v.cost[who], matrix, row_lo, row_hi, v.col_lo[who], v.col_hi[who], start=boxes.basis
        )
        self.solved += len(who)
        status, x, bound = answers.status.copy(), answers.x.copy(), answers.lower_bound.copy()
        for i in np.flatnonzero((status != OPTIMAL) & (status != INFEASIBLE)):
            status[i], x[i], bound[i] = _by_the_judge(
                v, who[i], matrix[i], row_lo[i], row_hi[i], bound[i]
            )
        keep = np.flatnonzero(status == OPTIMAL)
        misses = self.model.shortfalls(x[keep])
        kept = replace(boxes.take(keep), basis=answers.basis.take(keep))
        return _Bounds(
            kept, x[keep], bound[keep], misses, misses.max(axis=1, initial=0.0) <= _MEETS
        )

    def keep_real(self, bounds: _Bounds) -> None:
        """A bound whose own mix is real closes its box, and may be the best so far."""
        for i in np.flatnonzero(bounds.is_real):
            k = bounds.of[i]
            cost = float(self.v.cost[k] @ bounds.x[i])
            if cost < self.best[k]:
                self.best[k], self.best_x[k] = cost, bounds.x[i]

    def polish_some(self, bounds: _Bounds, generation: int) -> None:
        """Polish the mix of each variant's lowest open bound, unless the best is near it."""
        is_open = ~bounds.is_real & (bounds.bound < self.cutoff()[bounds.of])
        if generation % _REST:
            many = np.bincount(bounds.of, minlength=len(self.v)) > _MANY
            is_open &= (many | (self.idle < 2))[bounds.of]
        rows = np.flatnonzero(is_open)
        if not len(rows):
            return
        rows = rows[np.lexsort((bounds.bound[rows], bounds.of[rows]))]
        first = rows[np.r_[True, np.diff(bounds.of[rows]) > 0]]
        apart = np.abs(bounds.x[first] - self.best_x[bounds.of[first]]).max(axis=1)
        first = first[~(apart < _NEAR_KG)]
        if len(first):
            self.offer(bounds.x[first], bounds.of[first])

    def offer(self, xs: Array, which: Ints) -> None:
        """Polish mixes and keep those that are the best of their variant."""
        polished, costs, solved = polish(self.model, self.v, self.fixed, xs, which)
        self.solved += solved
        for i, k in enumerate(which):
            self.idle[k] = self.idle[k] + 1 if costs[i] >= self.best[k] else 0
            if costs[i] < self.best[k]:
                self.best[k], self.best_x[k] = costs[i], polished[i]

    def mind_the_crowd(self, bounds: _Bounds) -> None:
        """Where a variant's boxes multiply: loosen its gap, or give up one only just impossible."""
        many = np.bincount(bounds.of, minlength=len(self.v))
        crowded = many > self.crowd
        loose = np.minimum(10 * self.gap[crowded], GAP_SHARE)
        self.gap[crowded] = np.maximum(loose, self.gap_share)
        for k in np.flatnonzero((many > _HOPELESS) & ~np.isfinite(self.best)):
            if bounds.misses[bounds.of == k].max(axis=1).min() < GAP_SHARE:
                self.given_up[k] = True


def polish(
    model: MixModel, v: _Variants, fixed: Array, xs: Array, which: Ints
) -> tuple[Array, Array, int]:
    """Walk each mix to the nearest real optimum along lines that touch its true needs.

    An extra column lets the needs be missed at a steep price, so that a walk may start from a mix
    that misses them. The true needs bend: a step that comes out no better, cost and needs missed
    counted together, is taken again aiming as far past them as it fell short, and if that does not
    help it is cut short.

    Returns
    -------
    tuple
        mixes (K, n), their costs (K,), inf where no real mix was reached, and programmes solved.
    """
    costs = np.where(_is_real(model, v, fixed, xs, which), (v.cost[which] * xs).sum(1), np.inf)
    out, current, live = xs.copy(), xs.copy(), np.arange(len(xs))
    misses, start_cost = model.shortfalls(xs).max(axis=1), (v.cost[which] * xs).sum(1)
    merit = start_cost + _PENALTY * np.abs(start_cost) * np.where(misses <= _MEETS, 0.0, misses)
    # how far a step may go: a start that all but meets its needs is not to be jumped away from
    reach = np.where(misses < 3e-3, _NEAR_KG + 4 * np.sqrt(misses), np.inf)
    aim = np.zeros((len(xs), 4))  # how much more than the needs a step aims at, as shares
    basis, lps = None, 0
    for _ in range(_ROUNDS_OF_POLISH):
        keep = np.flatnonzero(_has_tangent(model, current[live]))
        basis = None if basis is None else basis.take(keep)
        live = live[keep]
        if not len(live):
            break
        here = current[live]
        answers = _step(model, v, fixed, here, which[live], reach[live], aim[live], basis)
        lps += len(live)
        ok = np.flatnonzero(answers.status == OPTIMAL)
        live, here, x = live[ok], here[ok], answers.x[ok, :-1]
        if not len(live):
            break
        moved = np.abs(x - here).max(axis=1)
        missed = model.shortfalls(x)
        miss = missed.max(axis=1)
        cost = (v.cost[which[live]] * x).sum(1)
        better = (miss <= _MEETS) & (cost < costs[live])
        out[live[better]], costs[live[better]] = x[better], cost[better]
        worth = cost + _PENALTY * np.abs(cost) * np.where(miss <= _MEETS, 0.0, miss)
        took = worth < merit[live]
        current[live[took]], merit[live[took]] = x[took], worth[took]
        # a step that disappoints is taken again aiming past the bend, then cut short
        again = ~took & (aim[live].max(axis=1) == 0)
        short = ~took & ~again
        reach[live[short]] = moved[short] / 4
        aim[live] = np.where(again[:, None], missed, 0.0)
        going = np.flatnonzero(moved >= _STILL_KG)
        live, basis = live[going], answers.basis.take(ok[going])
        if not len(live):
            break
    return out, costs, lps


def _step(
    model: MixModel,
    v: _Variants,
    fixed: Array,
    here: Array,
    who: Ints,
    reach: Array,
    aim: Array,
    basis: Basis | None,
) -> Answers:
    """One step of polishing: the lines that touch the needs, and the price of missing them."""
    rows, lo, hi = model.tangent_rows(here)
    lo = np.where(np.isfinite(lo), lo * (1 + aim), lo)
    hi = np.where(np.isfinite(hi), hi * (1 - aim), hi)
    matrix, row_lo, row_hi = _with_fixed(v, fixed, rows, lo, hi, who)
    missing = np.zeros((len(who), matrix.shape[1], 1))
    allowed = np.where(np.isfinite(lo), lo, np.where(np.isfinite(hi), -hi, 0.0))
    missing[:, : lo.shape[1], 0] = allowed
    steep = 50 * np.abs(v.cost[who]).max(axis=1, keepdims=True) + 1e-6
    span = reach[:, None]
    none = np.zeros((len(who), 1))
    return solve_many(
        np.hstack([v.cost[who], steep]),
        np.concatenate([matrix, missing], axis=2),
        row_lo,
        row_hi,
        np.hstack([np.minimum(np.maximum(v.col_lo[who], here - span), v.col_hi[who]), none]),
        np.hstack([np.maximum(np.minimum(v.col_hi[who], here + span), v.col_lo[who]), none + 1]),
        start=basis,
    )


def _has_tangent(model: MixModel, xs: Array) -> NDArray[np.bool_]:
    """Which mixes lie inside what the standard covers, where its lines can be drawn."""
    (q_lo, q_hi), (l_lo, l_hi) = model.needs.quality, model.needs.level
    q, level = model.quality_and_level(xs)
    inside = (q > q_lo + 1e-4) & (q < q_hi - 1e-4) & (level > l_lo) & (level < l_hi - 1e-3)
    needs = model.needs.me_need(np.clip(np.nan_to_num(q) - 1e-4, q_lo, q_hi))
    return np.asarray(inside & np.isfinite(needs))


def _is_real(
    model: MixModel, v: _Variants, fixed: Array, xs: Array, which: Ints
) -> NDArray[np.bool_]:
    """Which mixes already meet every need and limit."""
    activity, size = xs @ fixed.T, np.abs(xs) @ np.abs(fixed).T + 1e-3
    real = model.shortfalls(xs).max(axis=1) <= _MEETS
    real &= (activity >= v.fixed_lo[which] - _MEETS * size).all(axis=1)
    real &= (activity <= v.fixed_hi[which] + _MEETS * size).all(axis=1)
    real &= (xs >= v.col_lo[which] - _MEETS).all(axis=1)
    return np.asarray(real & (xs <= v.col_hi[which] + _MEETS).all(axis=1))


def _with_fixed(
    v: _Variants, fixed: Array, rows: Array, lo: Array, hi: Array, who: Ints
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


def _first_boxes(model: MixModel, v: _Variants) -> _Boxes:
    """A coarse grid that covers every quality and level a mix can have."""
    usable = (v.col_hi > 0).any(axis=0)
    ratios = model.me[usable] / model.ge[usable] if usable.any() else np.array([0.5])
    lo, hi = model.needs.quality
    least, most = np.clip([ratios.min() - 1e-6, ratios.max() + 1e-6], lo, hi)
    edges = np.linspace(float(least), float(most), 5)
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
    count, n_l = len(v), len(steps) - 1
    q1, q2 = np.repeat(q1, n_l), np.repeat(q2, n_l)
    l1, l2 = l_edges[:, :-1].ravel(), l_edges[:, 1:].ravel()
    return _Boxes(
        np.tile(q1, count),
        np.tile(q2, count),
        np.tile(l1, count),
        np.tile(l2, count),
        np.repeat(np.arange(count), len(q1)),
    )


def _split(model: MixModel, bounds: _Bounds, which: Ints) -> _Boxes:
    """Each box cut in eight across q or L, whichever its bound's mix abuses more.

    L is ME over a maintenance that moves with q, so a box narrower in L than its width in q blurs
    L must be cut across q whatever it abuses.
    """
    boxes, misses = bounds.boxes.take(which), bounds.misses[which]
    q1, q2, l1, l2 = (side[:, None] for side in (boxes.q1, boxes.q2, boxes.l1, boxes.l2))
    energy = misses[:, :2].max(axis=1, initial=0.0)
    protein = misses[:, 2:].max(axis=1, initial=0.0)
    blur = model.needs.maintenance_me(boxes.q1) / model.needs.maintenance_me(boxes.q2) - 1
    across = ((energy >= protein) | (boxes.l2 - boxes.l1 <= boxes.l2 * blur))[:, None]
    steps = np.arange(_PARTS + 1) / _PARTS
    q_edges = np.where(across, q1 + (q2 - q1) * steps, q1)
    l_edges = np.where(across, l1, l1 + (l2 - l1) * steps)
    mother = np.repeat(np.arange(len(boxes)), _PARTS)
    basis = boxes.basis
    return _Boxes(
        q_edges[:, :-1].ravel(),
        np.where(across, q_edges[:, 1:], q2).ravel(),
        l_edges[:, :-1].ravel(),
        np.where(across, l2, l_edges[:, 1:]).ravel(),
        boxes.of[mother],
        None if basis is None else basis.take(mother),
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
