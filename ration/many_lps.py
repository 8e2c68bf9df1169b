"""Many small linear programmes solved at once, each answer with its own proof.

Problem k asks: minimise ``c_k . x`` subject to ``row_lo_k <= A_k x <= row_hi_k`` and
``col_lo_k <= x <= col_hi_k``, where every column has two finite bounds.

The method is the bounded dual simplex on dense tableaux, all problems pivoting in step.

* The row activities ``s = A x`` are variables with bounds of their own. At any time m of the
  n + m variables are *basic*: each is written as a row of the tableau, a sum over the n
  *nonbasic* ones, and each of those rests on one of its two bounds.
* Cold start: the activities are basic and each column rests on the bound that is cheap for its
  cost. Moving one column cannot then lower the cost, so no first phase is needed; but the
  activities may break their bounds.
* One pivot: the basic variable that breaks a bound most leaves, and comes to rest on that bound.
  Of the nonbasic variables that can push it there, the one that keeps all reduced costs right
  takes its place (least ratio of reduced cost to coefficient; of near ties, the largest
  coefficient). Nothing broken: least cost. Nothing can push: no solution, and that row of the
  tableau shows why.
* The cost is the last row of the tableau and the values of the basic variables its last column,
  so one outer product a pivot moves everything. Problems that end are swapped behind those still
  running, and no step touches them again.
* Warm start: a fresh tableau is pivoted straight into the given basis, and each nonbasic variable
  is set on the bound that its reduced cost asks for. So that it always has one, a missing row
  limit is replaced by a finite one that no activity can reach.

What the pivots say is not believed. From the original numbers, x is checked against every row, and
the prices y give a lower bound on the cost of any solution (weak duality): with ``d = c - A'y``,
``sum_i y_i row_i + sum_j d_j col_j``, each limit the lower where its price is positive, the upper
where negative. OPTIMAL says that x holds and costs no more than that bound. With c = 0, a bound
above zero proves that there is no solution. What is not proved is pivoted once more from a fresh
tableau, then left UNDECIDED.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ration.errors import OutOfRange, Problem

UNDECIDED, OPTIMAL, INFEASIBLE = 0, 1, 2

PROVED = 1e-9  # OPTIMAL: most violation, most gap; INFEASIBLE: least margin; all relative
NOTHING = 1e-12  # gap that counts as none, in units of the highest price
BROKEN = 1e-10  # a basic variable further outside its bounds has to leave
NEAR_TIE = 1e-12  # reduced costs this near to each other are tied (highest price scaled to 1)
LEAST_PIVOT = 1e-9  # smaller coefficients cannot push (rows scaled to 1)
LEAST_WARM_PIVOT = 1e-7  # a given basis that needs a smaller one is not used
PATIENCE = 2  # after this many times m + n pivots the choice is shuffled, to break any cycle
AT_ONCE = 512  # problems that pivot in step: as many as fit in the cache
TINY, HUGE = 1e-40, 1e20
EPS = float(np.finfo(np.float64).eps)

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class Basis:
    """Where pivoting ended; opaque, to be handed to `solve_many` as `start`.

    `rests` (K, n + m): each column, then each row activity, is 0 basic, 1 on its lower bound or
    -1 on its upper one.
    """

    rests: NDArray[np.int8]

    def take(self, indices: ArrayLike) -> Basis:
        """The bases of chosen problems, in the order given; repeats allowed."""
        return Basis(self.rests[np.asarray(indices, dtype=np.intp)])


@dataclass(frozen=True)
class Answers:
    """One entry per problem, in the units of the problem.

    Attributes
    ----------
    status : array of int8, (K,)
        OPTIMAL, INFEASIBLE or UNDECIDED (ask another solver).
    x, cost, worst_violation : arrays, (K, n), (K,) and (K,)
        Solution, inside its column bounds to the last digit; ``c . x``; the most that x breaks a
        row, over the row's largest coefficient. nan unless OPTIMAL, but cost inf when INFEASIBLE.
    lower_bound : array, (K,)
        Proved lower bound on the cost, less what rounding could do; inf when INFEASIBLE.
    row_price : array, (K, m)
        Cost of asking one more unit of an active row: positive on a lower limit, negative on an
        upper one. When INFEASIBLE, the weights of a mix of rows that cannot be met.
    col_price : array, (K, n)
        ``c - A' row_price``, the cost of one more unit of a column (without c when INFEASIBLE).
    pivots, rests : arrays of int, (K,) and (K, n + m)
        Pivots made after the start, and where they ended (see `Basis`).
    """

    status: NDArray[np.int8]
    x: Floats
    cost: Floats
    lower_bound: Floats
    row_price: Floats
    col_price: Floats
    worst_violation: Floats
    pivots: Ints
    rests: NDArray[np.int8]

    @property
    def basis(self) -> Basis:
        """Where pivoting ended, to start like problems from."""
        return Basis(self.rests)


class _Problems:
    """The original numbers of some problems, and the proofs made from them."""

    def __init__(self, c: Floats, a: Floats, rl: Floats, rh: Floats, cl: Floats, ch: Floats):
        self.c, self.a, self.rl, self.rh, self.cl, self.ch = c, a, rl, rh, cl, ch
        size = np.abs(a[:1] if a.strides[0] == 0 else a).max(axis=2)
        size[size == 0.0] = 1.0
        self.row_size = np.broadcast_to(size, rl.shape)
        self.reach = np.maximum(np.abs(cl), np.abs(ch))
        crossed_rows = rl - rh > PROVED * np.maximum(self.row_size, np.abs(rl))
        crossed_cols = cl - ch > PROVED * np.maximum(1.0, np.abs(cl))
        self.crossed = crossed_rows.any(axis=1) | crossed_cols.any(axis=1)

    def take(self, k: Ints) -> _Problems:
        """Some of the problems."""
        return _Problems(*(v[k] for v in (self.c, self.a, self.rl, self.rh, self.cl, self.ch)))

    def bound(self, c: Floats | float, y: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Weak duality: lower bound of c.x, prices used, reduced costs, rounding, size of terms."""
        limit = np.where(y > 0.0, self.rl, self.rh)
        exists = np.isfinite(limit)
        y = np.where(exists, y, 0.0)
        d = c - np.matmul(y[:, None, :], self.a)[:, 0, :]
        rows = y * np.where(exists, limit, 0.0)
        cols = d * np.where(d > 0.0, self.cl, self.ch)
        weight = (np.abs(y) * self.row_size).sum(1)
        size = np.abs(rows).sum(1) + np.abs(cols).sum(1)
        most = size + (np.abs(c) * self.reach).sum(1) + weight * self.reach.sum(1)
        slip = EPS * (sum(self.a.shape[1:]) + 4) * most
        return rows.sum(1) + cols.sum(1), y, d, slip, np.maximum(size, weight)


class _Tableaux:
    """Working state. Problem `who[p]` sits at place p; the first `live` places still pivot.

    `t` (K, m+1, n+1): basic variables (last row: cost) over nonbasic ones (last column: values).
    `v` (K, m+n, 4): for each slot, m basic then n nonbasic, the lower and upper bound of the
    variable in it, its number, and 1 if it can move. `side` (K, n): nonbasic on its lower (1) or
    upper (-1) bound, or not able to move (0). Rows are scaled to a largest coefficient of 1.
    """

    def __init__(self, lps: _Problems):
        k, m, n = lps.a.shape
        self.m, self.n, self.live, self.who = m, n, k, np.arange(k)
        self.t, self.v = np.empty((k, m + 1, n + 1)), np.empty((k, m + n, 4))
        np.divide(lps.a, lps.row_size[:, :, None], out=self.t[:, :m, :n])
        self.cost_size = np.abs(lps.c).max(axis=1, keepdims=True)
        self.cost_size[self.cost_size == 0.0] = 1.0
        np.divide(lps.c, self.cost_size, out=self.t[:, m, :n])
        never = 1.0 + 2.0 * lps.reach.sum(1, keepdims=True)
        np.maximum(lps.rl / lps.row_size, -never, out=self.v[:, :m, 0])
        np.minimum(lps.rh / lps.row_size, never, out=self.v[:, :m, 1])
        self.v[:, m:, 0], self.v[:, m:, 1] = lps.cl, lps.ch
        np.maximum(self.v[:, :, 0], self.v[:, :, 1], out=self.v[:, :, 1])
        self.v[:, :m, 2], self.v[:, m:, 2] = np.arange(n, n + m), np.arange(n)
        self.v[:, :, 3] = self.v[:, :, 1] > self.v[:, :, 0]
        self.side = np.where(self.t[:, m, :n] < 0.0, -1.0, 1.0) * self.v[:, m:, 3]
        # where each problem begins in the flattened arrays
        self.at_row, self.at_basic = self.who * (m + 1), self.who * m
        self.at_slot, self.at_side, self.at_cell = (self.who * w for w in (m + n, n, n + 1))
        self.column = (self.at_row[:, None] + np.arange(m + 1)) * (n + 1)
        self.outer = np.empty_like(self.t)
        self.fill_values()

    def fill_values(self) -> None:
        """Work out the last column from the bounds that nonbasic variables rest on."""
        rest = np.where(self.side < 0.0, self.v[:, self.m :, 1], self.v[:, self.m :, 0])
        self.t[:, :, self.n] = np.matmul(self.t[:, :, : self.n], rest[:, :, None])[:, :, 0]

    def exchange(self, r: Ints, j: Ints, row: Floats, pivot: Floats) -> None:
        """Basic slot r and nonbasic slot j change places; `row` is a copy of row r."""
        k, t = self.live, self.t[: self.live]
        cells, at_row = t.reshape(-1), self.at_row[:k] + r
        column = self.column[:k] + j[:, None]
        col = cells.take(column)
        col.reshape(-1)[at_row] = 1.0
        row /= pivot[:, None]
        row.reshape(-1)[self.at_cell[:k] + j] = -1.0 / pivot
        t.reshape(-1, self.n + 1)[at_row] = 0.0
        cells[column] = 0.0
        np.einsum("ki,kj->kij", col, row, out=self.outer[:k])
        np.subtract(t, self.outer[:k], out=t)
        out, into = self.at_slot[:k] + r, self.at_slot[:k] + (j + self.m)
        slots = self.v.reshape(-1, 4)
        swapped = slots.take(np.concatenate((into, out)), axis=0)
        slots[np.concatenate((out, into))] = swapped

    def set_aside(self, ended: NDArray[np.bool_]) -> None:
        """Swap ended problems behind the running ones."""
        left = self.live - int(np.count_nonzero(ended))
        holes, stay = np.flatnonzero(ended[:left]), np.flatnonzero(~ended[left:]) + left
        if holes.size:
            to, of = np.concatenate((holes, stay)), np.concatenate((stay, holes))
            for v in (self.t, self.v, self.side, self.who):
                v[to] = v[of]
        self.live = left


def _warm(tab: _Tableaux, rests: NDArray[np.int8]) -> None:
    """Pivot fresh tableaux into given bases; where that cannot be done leave them cold."""
    m, n = tab.m, tab.n
    usable = np.count_nonzero(rests, axis=1) == n
    count = np.where(usable, n - np.count_nonzero(rests[:, :n], axis=1), 0)
    tab.who = order = np.argsort(-count, kind="stable")  # those with most to do come first
    cold = tab.t, tab.v, tab.side
    tab.t, tab.v, tab.side = (v[order] for v in cold)
    count, rests, usable = count[order], rests[order], usable[order]
    enters = np.argsort(rests[:, :n] != 0, axis=1, kind="stable")
    may_leave = (rests[:, n:] != 0).astype(np.float64)
    for step in range(int(count.max())):
        k = tab.live = int(np.count_nonzero(count > step))
        j = enters[:k, step]
        size = np.abs(tab.t.reshape(-1).take(tab.column[:k, :m] + j[:, None])) * may_leave[:k]
        r = size.argmax(1)
        at = tab.at_basic[:k] + r
        may_leave.reshape(-1)[at] = 0.0
        row = tab.t.reshape(-1, n + 1).take(tab.at_row[:k] + r, axis=0)
        pivot = row.reshape(-1).take(tab.at_cell[:k] + j)
        usable[:k] &= size.reshape(-1).take(at) >= LEAST_WARM_PIVOT
        tab.exchange(r, j, row, pivot)
    tab.live = len(order)
    number = tab.v[:, m:, 2].astype(np.intp)
    side = np.take_along_axis(rests, number, axis=1).astype(np.float64)
    wrong = tab.t[:, m, :n] * side < -NEAR_TIE
    tab.side = np.where(wrong, -side, side) * tab.v[:, m:, 3]
    tab.fill_values()
    lost = np.flatnonzero(~(usable & np.isfinite(tab.t[:, :, n]).all(axis=1)))
    if lost.size:
        for new, old in zip((tab.t, tab.v, tab.side), cold, strict=True):
            new[lost] = old[order[lost]]


def _pivot(tab: _Tableaux, limit: int) -> Ints:
    """Pivot until all have ended: for each what it claims, pivots made, stuck row, which way."""
    m, n = tab.m, tab.n
    ends = np.full((tab.live, 4), (UNDECIDED, limit, 0, 0))
    pivots, patience = 0, PATIENCE * (m + n)
    while tab.live and pivots < limit:
        k, who = tab.live, tab.who[: tab.live]
        t, v, side = tab.t[:k], tab.v[:k], tab.side[:k]
        # which leaves: the one that breaks a bound most
        under = v[:, :m, 0] - t[:, :m, n]
        worst = np.maximum(under, t[:, :m, n] - v[:, :m, 1])
        if pivots <= patience:
            r = worst.argmax(1)
        else:
            r = (worst * (1.0 + pivots * np.arange(1, m + 1) * 0.618034 % 1.0)).argmax(1)
        at = tab.at_basic[:k] + r
        by = worst.reshape(-1).take(at)
        ended = ~(by > BROKEN)
        if ended.any():
            ends[who[ended]] = OPTIMAL, pivots, 0, 0
            tab.set_aside(ended)
            continue
        # which enters: of those that can push it there, the first whose reduced cost gives out
        way = np.copysign(1.0, under.reshape(-1).take(at))
        row = tab.t.reshape(-1, n + 1).take(tab.at_row[:k] + r, axis=0)
        push = row[:, :n] * side
        push *= way[:, None]
        np.copyto(push, TINY, where=push < LEAST_PIVOT)
        price = np.maximum(t[:, m, :n] * side, 0.0)
        least = ((price + NEAR_TIE) / push).min(1)
        ended = least > HUGE
        if ended.any():
            stuck = zip(r[ended], way[ended], strict=True)
            ends[who[ended]] = [(INFEASIBLE, pivots, row, up) for row, up in stuck]
            tab.set_aside(ended)
            continue
        j = (push * (price <= push * least[:, None])).argmax(1)
        # change places
        slot, cell = tab.at_slot[:k] + (j + m), tab.at_side[:k] + j
        upper = side.reshape(-1).take(cell) < 0.0
        rested = v.reshape(-1).take(slot * 4 + upper)
        row[:, n] = -way * by
        tab.exchange(r, j, row, row.reshape(-1).take(tab.at_cell[:k] + j))
        t.reshape(-1)[(tab.at_row[:k] + r) * (n + 1) + n] += rested
        side.reshape(-1)[cell] = way * v.reshape(-1).take(slot * 4 + 3)
        pivots += 1
    return ends


def _prove(lps: _Problems, tab: _Tableaux, ends: Ints) -> Answers:
    """Read the answers off the tableaux and check them against the original numbers."""
    m, n, who = tab.m, tab.n, tab.who
    claim, made, stuck_row, stuck_way = ends.T.copy()
    slots = tab.v[:, :, 2].astype(np.intp) + (who * (m + n))[:, None]
    basic, others = slots[:, :m], slots[:, m:]
    flat = np.zeros(len(who) * (m + n))  # one number per variable, problems in their own order
    each = flat.reshape(-1, m + n)
    down = tab.side < 0.0
    rests = np.zeros(each.shape, dtype=np.int8)
    rests.reshape(-1)[others] = np.where(down, -1, 1)
    flat[basic], flat[others] = tab.t[:, :m, n], np.where(down, tab.v[:, m:, 1], tab.v[:, m:, 0])
    x = np.minimum(np.maximum(each[:, :n], lps.cl), lps.ch)
    flat[basic], flat[others] = 0.0, tab.t[:, m, :n]
    lower, y, d, slip, _ = lps.bound(lps.c, each[:, n:] * tab.cost_size / lps.row_size)
    terms, s = lps.c * x, np.matmul(lps.a, x[:, :, None])[:, :, 0]
    cost, near = terms.sum(1), PROVED * np.abs(terms).sum(1) + NOTHING * tab.cost_size[:, 0]
    broken = (np.maximum(np.maximum(lps.rl - s, s - lps.rh), 0.0) / lps.row_size).max(1)
    proved = (claim == OPTIMAL) & (broken <= PROVED) & (np.abs(cost - lower) <= near)
    status = np.where(proved, OPTIMAL, UNDECIDED).astype(np.int8)
    lower -= slip

    stuck = np.flatnonzero(claim[who] == INFEASIBLE)
    if stuck.size:
        k = who[stuck]
        part, r, way = lps.take(k), stuck_row[k], stuck_way[k]
        flat[others[stuck]] = tab.t[stuck, r, :n] * -way[:, None]
        flat[basic[stuck, r]] = way
        margin, ray, ray_d, slip, size = part.bound(0.0, each[k, n:] / part.row_size)
        sure = margin > np.maximum(slip, PROVED * size)
        k = k[sure]
        status[k], y[k], d[k] = INFEASIBLE, ray[sure], ray_d[sure]
    status[lps.crossed] = INFEASIBLE
    none, unknown = status == INFEASIBLE, status != OPTIMAL
    if unknown.any():
        x[unknown], cost[unknown], broken[unknown] = np.nan, np.nan, np.nan
        cost[none], lower[none], lower[np.isnan(lower)] = np.inf, np.inf, -np.inf
    return Answers(status, x, cost, lower, y, d, broken, made, rests)


def _solve(lps: _Problems, start: Basis | None, limit: int, tries: int = 2) -> Answers:
    """Answers of one lot; what was not proved is tried once more from a fresh tableau."""
    tab = _Tableaux(lps)
    if start is not None and tab.live:
        _warm(tab, start.rests)
    first = _prove(lps, tab, _pivot(tab, limit))
    again = np.flatnonzero(first.status == UNDECIDED)
    if again.size and tries > 1:
        second = _solve(lps.take(again), first.basis.take(again), limit, tries - 1)
        second.pivots[:] += first.pivots[again]
        for field in fields(Answers):
            getattr(first, field.name)[again] = getattr(second, field.name)
    return first


def _checked(name: str, given: ArrayLike, tail: tuple[int, ...], missing: float) -> Floats:
    """The array as floats, problems along the first axis (one if shared); `missing`: no limit."""
    out = np.ascontiguousarray(given, dtype=np.float64)
    if out.shape not in (tail, (len(out), *tail)):
        raise OutOfRange(Problem(name, f"shape {out.shape}", f"{tail} or (K, *{tail}) is allowed"))
    if not np.isfinite(out.sum()):
        bad = np.argwhere(~np.isfinite(out) & (out != missing))
        if len(bad):
            allowed = "a finite number" + ("" if np.isnan(missing) else f" or {missing}")
            at = tuple(bad[0].tolist())
            raise OutOfRange(Problem(f"{name}{list(at)}", f"{out[at]}", f"{allowed} is allowed"))
    return out.reshape(-1, *tail)


def solve_many(
    c: ArrayLike,
    A: ArrayLike,
    row_lo: ArrayLike,
    row_hi: ArrayLike,
    col_lo: ArrayLike,
    col_hi: ArrayLike,
    *,
    start: Basis | None = None,
    pivot_limit: int | None = None,
) -> Answers:
    """Least cost of every problem, proved.

    Parameters
    ----------
    c : array, (n,) or (K, n)
        Costs. Each array may be shared by all problems or given for each along a first axis.
    A : array, (m, n) or (K, m, n)
        Coefficients.
    row_lo, row_hi : array, (m,) or (K, m)
        Limits of A x; -inf and inf for none, equal for an equation.
    col_lo, col_hi : array, (n,) or (K, n)
        Limits of x, finite.
    start : Basis, optional
        Bases of like problems, one each, in order. Only speed depends on it.
    pivot_limit : int, optional
        Pivots before a try is given up; 8 (m + n) unless given.

    Returns
    -------
    Answers

    Raises
    ------
    OutOfRange
        An array of the wrong shape, nan anywhere, or inf other than a missing row limit.
    """
    shape = np.shape(A)
    if len(shape) < 2 or 0 in shape[-2:]:
        raise OutOfRange(Problem("A", f"shape {shape}", "at least one row and column is allowed"))
    m, n = shape[-2:]
    limit = 8 * (m + n) if pivot_limit is None else pivot_limit
    lots: list[Answers] = []
    with np.errstate(all="ignore"):
        numbers = [
            _checked("c", c, (n,), np.nan),
            _checked("A", A, (m, n), np.nan),
            _checked("row_lo", row_lo, (m,), -np.inf),
            _checked("row_hi", row_hi, (m,), np.inf),
            _checked("col_lo", col_lo, (n,), np.nan),
            _checked("col_hi", col_hi, (n,), np.nan),
        ]
        many = next((len(v) for v in numbers if len(v) != 1), 1)
        given = {len(v) for v in numbers} - {1, many}
        if given or (start is not None and start.rests.shape != (many, n + m)):
            raise OutOfRange(Problem("", "arrays or bases for different numbers of problems"))
        numbers = [np.broadcast_to(v, (many, *v.shape[1:])) for v in numbers]
        for i in range(0, max(many, 1), AT_ONCE):
            lot = slice(i, i + AT_ONCE)
            begin = None if start is None else Basis(start.rests[lot])
            lots.append(_solve(_Problems(*(v[lot] for v in numbers)), begin, limit))
    parts = ([getattr(lot, field.name) for lot in lots] for field in fields(Answers))
    return lots[0] if len(lots) == 1 else Answers(*(np.concatenate(part) for part in parts))
