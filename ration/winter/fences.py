"""Straight rows that every ration of a batch in a period satisfies, whatever its quality.

The needs bend with the diet (q, L), so a linear programme of the whole winter can only hold rows
that are true of all rations. Four kinds:

- the fixed rows of the mix (calcium, intake, forage ...), true as they stand;
- energy lines: ME need at q is a curve in the plane of (ME, GE) eaten; a line in that plane is
  pushed out until the whole curve, looked at in small steps with the kindest end of each, is on its
  good side;
- protein rows at the kindest value any level in reach can give each feed;
- price lines: at any prices no ration costs less than the bound that `search` proved.

Rows of several periods are joined to rows of their mean ration by taking means: what each period
must have, the mean must have on average.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ration.many_lps import OPTIMAL, solve_many
from ration.model import MixModel
from ration.needs import Array

_STEPS = 4000
_LINES = 5


@dataclass(frozen=True)
class Fence:
    """Rows matrix (m, n) between lo and hi (m,), and column limits (n,), of one mean ration."""

    matrix: Array
    lo: Array
    hi: Array
    col_lo: Array
    col_hi: Array


@dataclass(frozen=True)
class Reach:
    """Qualities, levels and ME that any ration of a batch in a period can have: least and most."""

    q1: float
    q2: float
    l1: float
    l2: float
    most_me: float


def reach(model: MixModel) -> Reach:
    """How far rations can differ, proved from the fixed rows and the energy limits."""
    usable = model.col_hi > 0
    ratios = model.me[usable] / model.ge[usable] if usable.any() else np.array([0.5])
    lo, hi = model.needs.quality
    q1, q2 = np.clip([ratios.min() - 1e-9, ratios.max() + 1e-9], lo, hi)
    qs = np.linspace(float(q1), float(q2), 400)
    need, ceiling = model.energy_limits(qs)
    least_me = float(np.min(need, initial=np.inf))
    top = np.where(np.isfinite(ceiling), ceiling, -np.inf).max()
    most_me = min(float(model.col_hi @ model.me), float(top) if top > 0 else np.inf)
    if np.isfinite(least_me):
        q1, q2 = _qualities(model, float(q1), float(q2), least_me, most_me)
    qs = np.linspace(float(q1), float(q2), 400)
    need, ceiling = model.energy_limits(qs)
    most_me = min(most_me, float(np.max(ceiling, initial=0.0)))
    kept = model.needs.maintenance_me(qs)
    level_lo, level_hi = model.needs.level
    # each q is looked at with the neighbour that is kindest
    l1 = float(np.min(need[1:] / kept[:-1], initial=level_hi))
    l2 = float(np.max(np.minimum(ceiling[:-1], most_me) / kept[1:], initial=level_lo))
    l1 = min(max(l1, level_lo), level_hi)
    return Reach(float(q1), float(q2), l1, min(max(l2, l1), level_hi), most_me)


def _qualities(
    model: MixModel, q1: float, q2: float, least_me: float, most_me: float
) -> tuple[float, float]:
    """Least and most ME over GE under the fixed rows: each guess is moved to where it is proved."""
    rows = np.vstack([model.fixed, model.me])
    row_lo = np.append(model.fixed_lo, least_me)
    row_hi = np.append(model.fixed_hi, most_me)
    ends = []
    for sign, end in ((1.0, q1), (-1.0, q2)):
        guess, proved = (q1 + q2) / 2, end
        most_ge = float(model.col_hi @ model.ge)
        for _ in range(12):
            cost = sign * (model.me - guess * model.ge)
            answer = solve_many(cost, rows, row_lo, row_hi, model.col_lo, model.col_hi)
            if answer.status[0] != OPTIMAL:
                break
            bound, x = float(answer.lower_bound[0]), answer.x[0]
            if bound >= -1e-7 * most_ge:
                proved = guess - sign * 1e-7  # every mix has sign (ME - guess GE) >= bound
                proved += sign * min(bound, 0.0) / max(least_me, 1e-3)
                break
            guess = float(x @ model.me / (x @ model.ge))
        ends.append(proved)
    return max(q1, ends[0]), min(q2, ends[1])


def _grid(q1: float, q2: float) -> tuple[Array, Array]:
    edges = np.linspace(q1, q2, _STEPS + 1)
    return edges[:-1], edges[1:]


def _least_of_line(need_hi: Array, a: Array, b: Array, slope: float) -> float:
    """Least of M - slope x G with M >= need(q), G = M/q, over the steps [a, b] of q.

    In a step M is at least the need at b (needs fall with q) and 1 - slope/q at least its value
    at a; where that is negative no finite least exists and -inf says so.
    """
    factor = 1 - slope / a
    known = np.isfinite(need_hi)
    if not known.any():
        return np.inf
    if (factor[known] < 0).any():
        return -np.inf
    return float((need_hi[known] * factor[known]).min())


def energy_lines(
    models: Sequence[MixModel], reaches: Sequence[Reach], weights: Array, at_q: float
) -> tuple[Array, Array]:
    """Lines in ME and GE that all mean rations are above: rows (k, n) and least values (k,)."""
    first = models[0]
    q1, q2 = min(r.q1 for r in reaches), max(r.q2 for r in reaches)
    a, b = _grid(q1, q2)
    needs = [m.energy_limits(b)[0] for m in models]
    here = float(np.clip(at_q, q1 + 1e-6, q2 - 1e-6))
    touch = np.unique(np.clip(here + np.array([-0.06, -0.02, 0.0, 0.02, 0.06]), q1, q2))[:_LINES]
    rows, least = [], []
    for q in touch:
        near = np.clip([q - 1e-4, q + 1e-4], *first.needs.quality)
        n0, n1 = first.energy_limits(np.array(near))[0]
        if not (np.isfinite(n0) and np.isfinite(n1)) or near[1] <= near[0]:
            continue
        # along the curve M = need(q), G = need(q)/q
        d_m, d_g = n1 - n0, n1 / near[1] - n0 / near[0]
        slope = float(np.clip(d_m / d_g if d_g else 0.0, 0.0, 0.98 * q1))
        value = sum(w * _least_of_line(n, a, b, slope) for w, n in zip(weights, needs, strict=True))
        if np.isfinite(value):
            rows.append(first.me - slope * first.ge)
            least.append(value)
    lowest = sum(w * float(np.min(n, initial=np.inf)) for w, n in zip(weights, needs, strict=True))
    rows.append(first.me.copy())
    least.append(lowest if np.isfinite(lowest) else 1e6)
    return np.array(rows), np.array(least)


def _level_line(model: MixModel, q1: float, q2: float) -> Array:
    """Coefficients (n,) of a sum that is at least the feeding level L of every mix.

    L is ME over the maintenance at q. One over that maintenance is put under a straight line
    a + b q that no step of q rises over; and since q lies between q1 and q2,
    q x q <= (q1 + q2) q - q1 q2, so GE x q x q, which is ME x q, is under a sum in ME and GE.
    """
    a, b = _grid(q1, q2)
    kindest = 1 / model.needs.maintenance_me(b)  # maintenance falls with q
    rise = max(0.0, float((kindest[-1] - kindest[0]) / (b[-1] - b[0]))) if q2 > q1 else 0.0
    base = float(np.max(kindest - rise * a))
    return base * model.me + rise * ((q1 + q2) * model.me - q1 * q2 * model.ge)


def _most_of(model: MixModel, sums: Array, most_me: float) -> Array:
    """Most that each sum (k, n) can come to under the fixed rows and the energy ceiling. (k,)"""
    answers = solve_many(
        -sums,
        np.vstack([model.fixed, model.me]),
        np.append(model.fixed_lo, -np.inf),
        np.append(model.fixed_hi, most_me),
        model.col_lo,
        model.col_hi,
    )
    plain = sums @ model.col_hi
    proved = np.where(np.isfinite(answers.lower_bound), -answers.lower_bound, plain)
    return np.minimum(plain, proved)


def most_of_each(model: MixModel) -> Array:
    """Most of each feed that any ration can hold, proved from the fixed rows. (n,) [kg DM/day]"""
    n = len(model.cost)
    return np.clip(_most_of(model, np.eye(n), float(model.col_hi @ model.me)), 0, model.col_hi)


def _protein(model: MixModel, within: Reach) -> tuple[Array, Array]:
    """Protein rows (4, n) of every mix that meets its MP need, and their least values (4,).

    A feed's value at level L is put under a straight line from the least level in reach:
    v(L) <= v0 + s (L - l1). So the diet's is under v0 x + S (L - l1), S = s x; and since S is at
    most S2 and L at most l2, S (L - l1) is at most S2 (L - l1), and at most (l2 - l1) S. L itself
    is put under a sum (`_level_line`).
    """
    q1, q2, l1, l2 = within.q1, within.q2, within.l1, within.l2
    edges = np.linspace(l1, l2, 49)
    if l2 - l1 < 1e-6:
        values = model.needs.kindest_protein_value(model.chemistry, edges[:1], edges[-1:])
        alike = np.vstack([values[0], values[0], values[1], values[1]])
        return alike, np.full(4, model.needs.protein_need())
    level = _level_line(model, q1, q2)
    starts, slopes = [], []
    for by in model.needs.kindest_protein_value(model.chemistry, edges[:-1], edges[1:]):
        starts.append(by[0])
        rise = (by[1:] - by[0]) / (edges[1:-1] - l1)[:, None]
        slopes.append(np.maximum(rise.max(axis=0), 0.0))
    most = _most_of(model, np.array(slopes), within.most_me)
    mp = model.needs.protein_need()
    rows: list[Array] = []
    least: list[float] = []
    for v0, s, most_s in zip(starts, slopes, most, strict=True):
        rows += [v0 + most_s * level, v0 + (l2 - l1) * s]
        least += [mp + most_s * l1, mp]
    return np.array(rows), np.array(least)


def protein_rows(
    models: Sequence[MixModel], reaches: Sequence[Reach], weights: Array
) -> tuple[Array, Array]:
    """Kindest protein rows (4, n) of the mean ration and what they must reach (4,)."""
    each = [_protein(m, r) for m, r in zip(models, reaches, strict=True)]
    rows = np.max([r for r, _ in each], axis=0)
    return rows, weights @ np.array([least for _, least in each])


def fence(
    models: Sequence[MixModel],
    reaches: Sequence[Reach],
    days: Array,
    at_q: float,
    prices: Sequence[Array] = (),
    bounds: Sequence[Array] = (),
) -> Fence:
    """The rows of the mean ration of some periods of one batch.

    Parameters
    ----------
    models : sequence of MixModel
        One a period, the same feeds in the same order.
    reaches : sequence of Reach
        Of each of them (`reach`).
    days : array (periods,)
        Length of each. [day]
    at_q : float
        Quality near which the energy lines touch. [-]
    prices : sequence of array (n,)
        Prices at which the rations were searched. [GBP/kg DM]
    bounds : sequence of array (periods,)
        For each of them the proved least cost a head a day, period by period. [GBP]
    """
    weights = days / days.sum()
    # a row >= lo holds for the mean with its kindest coefficients, a row <= hi likewise;
    # a row that not all periods have says nothing of the mean
    ids = [i for i in (r.id for r in models[0].rows) if all(i in m.row_ids for m in models)]
    picked = [[m.row_ids[i] for i in ids] for m in models]
    n = len(models[0].cost)
    fixed = np.array([m.fixed[k] for m, k in zip(models, picked, strict=True)]).reshape(
        len(models), len(ids), n
    )
    lo = weights @ np.array([m.fixed_lo[k] for m, k in zip(models, picked, strict=True)])
    hi = weights @ np.array([m.fixed_hi[k] for m, k in zip(models, picked, strict=True)])
    alike = np.ptp(fixed, axis=0).max(axis=1, initial=0.0) < 1e-12
    rows, los, his = [], [], []
    for i in range(fixed.shape[1]):
        if alike[i]:
            rows.append(fixed[0, i])
            los.append(lo[i])
            his.append(hi[i])
            continue
        for limit, coefficients, is_least in (
            (lo[i], fixed[:, i].max(axis=0), True),
            (hi[i], fixed[:, i].min(axis=0), False),
        ):
            if np.isfinite(limit):
                rows.append(coefficients)
                los.append(limit if is_least else -np.inf)
                his.append(np.inf if is_least else limit)
    energy, least = energy_lines(models, reaches, weights, at_q)
    protein, mp = protein_rows(models, reaches, weights)
    most = float(weights @ np.array([r.most_me for r in reaches]))
    rows += [*energy, models[0].me, *protein]
    los += [*least, -np.inf, *mp]
    his += [*[np.inf] * len(least), most, *[np.inf] * len(mp)]
    for price, bound in zip(prices, bounds, strict=True):
        rows.append(price)
        los.append(float(weights @ bound))
        his.append(np.inf)
    return Fence(
        np.array(rows),
        np.array(los),
        np.array(his),
        weights @ np.array([m.col_lo for m in models]),
        weights @ np.array([m.col_hi for m in models]),
    )
