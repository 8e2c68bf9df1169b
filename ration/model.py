"""One batch's mix as numbers: the feeds as columns, the needs and limits as rows.

Unknown: x, kg of dry matter of each feed eaten by one sheep in a day. Rows that do not depend on
the diet (calcium, intake, forage ...) are built once. Three depend on the diet's own quality q and
feeding level L, both functions of x: the energy need and the two protein rows (microbial protein
is the smaller of what degradable protein and fermentable energy allow, so each is a row). They
come in two forms:

- `box_rows`: kindest values over a box of (q, L): every mix that truly meets its needs at some
  (q, L) in the box satisfies them, so their least cost is a lower bound for the box;
- `tangent_rows`: straight lines that touch the true needs at a mix, for prices and for polishing.

Nothing here knows a solver.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ration.needs import Array, Chemistry, Standard

if TYPE_CHECKING:
    from ration.programme import Sparse

ENERGY, CEILING, RUMEN, FERMENT = "energy", "energy ceiling", "protein rumen", "protein ferment"
MOVING = (ENERGY, CEILING, RUMEN, FERMENT)
_STEP_Q, _STEP_L = 1e-5, 1e-4
_BETWEEN = np.array([[1], [2], [3], [4], [5]]) / 6


@dataclass(frozen=True)
class Problem:
    """A linear or mixed-integer programme in plain arrays, always to be minimised.

    Attributes
    ----------
    cost : array (n,)
    matrix : array (m, n), or Sparse
    row_lo, row_hi : array (m,)
        -inf and inf for no limit.
    col_lo, col_hi : array (n,)
    column_names, row_names : tuple of str
        For people; the solver sees x0, x1 ... and r0, r1 ...
    integer : array (n,) of bool
    """

    cost: Array
    matrix: Array | Sparse
    row_lo: Array
    row_hi: Array
    col_lo: Array
    col_hi: Array
    column_names: tuple[str, ...]
    row_names: tuple[str, ...]
    integer: NDArray[np.bool_]

    def relaxed(self) -> Problem:
        """The same with no column whole."""
        return replace(self, integer=np.zeros_like(self.integer))


@dataclass(frozen=True)
class Row:
    """One row that does not move with the diet.

    Attributes
    ----------
    id : str
        "calcium", "forage", "share of beet-nuts" ...
    coefficients : array (n,)
        Per kg DM of each feed.
    lo, hi : float
        Limits of the sum; -inf and inf for none.
    ratio : tuple or None
        For a share or ratio: numerator and denominator (n,) and the limit on their quotient.
    """

    id: str
    coefficients: Array
    lo: float
    hi: float
    ratio: tuple[Array, Array, float] | None = None


@dataclass(frozen=True)
class MixModel:
    """Everything the search needs about one batch and the feeds it may be given.

    Attributes
    ----------
    names : tuple of str
        Offer ids, order of every array.
    cost : array (n,)
        Money per kg DM eaten, waste and losses paid. [GBP/kg DM]
    col_lo, col_hi : array (n,)
        Least and most of each feed. [kg DM/day]
    me, ge : array (n,)
        Metabolisable and gross energy. [MJ/kg DM]
    chemistry : Chemistry
        What the protein rules read.
    rows : tuple of Row
        The rows that do not move.
    needs : Standard
        The standard, as functions of q and L.
    ceiling_gain_g_per_day : float or None
        Energy may not allow more gain than this. [g/day]
    """

    names: tuple[str, ...]
    cost: Array
    col_lo: Array
    col_hi: Array
    me: Array
    ge: Array
    chemistry: Chemistry
    rows: tuple[Row, ...]
    needs: Standard
    ceiling_gain_g_per_day: float | None

    @cached_property
    def fixed(self) -> Array:
        """Coefficients of the rows that do not move (m, n)."""
        return np.array([r.coefficients for r in self.rows]).reshape(len(self.rows), len(self.cost))

    @property
    def fixed_lo(self) -> Array:
        """Their lower limits (m,)."""
        return np.array([r.lo for r in self.rows])

    @property
    def fixed_hi(self) -> Array:
        """Their upper limits (m,)."""
        return np.array([r.hi for r in self.rows])

    @cached_property
    def row_ids(self) -> dict[str, int]:
        """Number of each row that does not move, by id."""
        return {row.id: i for i, row in enumerate(self.rows)}

    def with_cost(self, cost: Array) -> MixModel:
        """The same model at other prices."""
        return replace(self, cost=cost)

    def with_gain(self, gain_g_per_day: float) -> MixModel:
        """The same feeds for another gain; calcium and phosphorus move with it."""
        needs = replace(self.needs, batch=replace(self.needs.batch, gain_g_per_day=gain_g_per_day))
        rows = list(self.rows)
        for i, row in enumerate(rows):
            if row.id == "calcium":
                rows[i] = replace(row, lo=needs.ca_line()[0])
            elif row.id == "phosphorus":
                rows[i] = replace(row, lo=needs.p_line()[0])
        ceiling = self.ceiling_gain_g_per_day
        return replace(
            self,
            needs=needs,
            rows=tuple(rows),
            ceiling_gain_g_per_day=None if ceiling is None else max(ceiling, gain_g_per_day),
        )

    # ---- the diet of a mix

    def quality_and_level(self, x: Array) -> tuple[Array, Array]:
        """Q and L of each mix in x (K, n) [-], [-]; q is nan where nothing is eaten."""
        me, ge = x @ self.me, x @ self.ge
        with np.errstate(invalid="ignore", divide="ignore"):
            q = me / ge
        lo, hi = self.needs.quality
        safe = np.clip(np.nan_to_num(q, nan=lo), lo, hi)
        return q, me / self.needs.maintenance_me(safe)

    def energy_limits(self, q: Array) -> tuple[Array, Array]:
        """ME need and ME ceiling at q [MJ/day]; inf where the gain is out of reach."""
        if self.ceiling_gain_g_per_day is None:
            return self.needs.me_need(q), np.full_like(q, np.inf)
        gains = np.array([self.needs.batch.gain_g_per_day, self.ceiling_gain_g_per_day])
        need, ceiling = self.needs.me_need(q, gains.reshape(2, *(1 for _ in q.shape)))
        return need, ceiling

    def shortfalls(self, x: Array) -> Array:
        """How far each mix misses its true moving needs, as a share of the need (K, 4).

        Columns as `MOVING`; 0 where met. The fixed rows are the solver's to keep.
        """
        q, level = self.quality_and_level(x)
        lo, hi = self.needs.quality
        inside = (q >= lo) & (q <= hi)
        level_lo, level_hi = self.needs.level
        safe_q = np.where(inside, q, (lo + hi) / 2)
        safe_l = np.clip(level, level_lo, level_hi)
        me = x @ self.me
        need, ceiling = self.energy_limits(safe_q)
        by_n, by_e = self.needs.protein_value(self.chemistry, safe_l)
        mp = self.needs.protein_need()
        with np.errstate(invalid="ignore"):
            out = np.column_stack(
                [
                    np.where(np.isinf(need), 1.0, (need - me) / np.where(np.isinf(need), 1, need)),
                    np.where(np.isinf(ceiling), 0.0, (me - ceiling) / ceiling),
                    1 - (by_n * x).sum(1) / mp,
                    1 - (by_e * x).sum(1) / mp,
                ]
            )
        out = np.asarray(np.maximum(out, 0.0))
        out[~inside, 0] = 1.0
        out[level > level_hi, 0] = 1.0
        return out

    # ---- rows that move, in their two forms

    def box_rows(
        self, q1: Array, q2: Array, l1: Array, l2: Array
    ) -> tuple[Array, Array, Array, NDArray[np.bool_]]:
        """Kindest rows over boxes [q1, q2] x [l1, l2].

        Returns
        -------
        tuple
            coefficients (K, 6, n), lower and upper limits (K, 6), and which boxes are empty (K,).
        """
        me, ge = self.me[None], self.ge[None]
        inner = q1 + _BETWEEN * (q2 - q1)
        need, ceiling = self.energy_limits(np.vstack([q1, q2, inner]))
        need1, need2, ceiling1 = need[0], need[1], ceiling[0]
        lo = np.maximum(need2, l1 * self.needs.maintenance_me(q2))
        hi = np.minimum(ceiling1, l2 * self.needs.maintenance_me(q1))
        by_n, by_e = self.needs.kindest_protein_value(self.chemistry, l1, l2)
        mp = np.full_like(q1, self.needs.protein_need())
        k, n = len(q1), len(self.me)
        chord, chord_lo = self._chord(q1, q2, need1, need2, inner, need[2:])
        rows = np.empty((k, 6, n))
        rows[:, 0] = me
        # a feed that lies on an edge of the box is let in, whatever rounding makes of it
        at1, at2, dust = me - q1[:, None] * ge, me - q2[:, None] * ge, 1e-9 * ge
        rows[:, 1] = np.where((at1 < 0) & (at1 > -dust), 0.0, at1)
        rows[:, 2] = np.where((at2 > 0) & (at2 < dust), 0.0, at2)
        rows[:, 3], rows[:, 4], rows[:, 5] = by_n, by_e, chord
        inf = np.full(k, np.inf)
        zero = np.zeros(k)
        return (
            rows,
            np.column_stack([lo, zero, -inf, mp, mp, chord_lo]),
            np.column_stack([hi, inf, zero, inf, inf, inf]),
            ~(lo <= hi) | ~np.isfinite(lo),
        )

    def _chord(
        self, q1: Array, q2: Array, need1: Array, need2: Array, inner_q: Array, inner_need: Array
    ) -> tuple[Array, Array]:
        """A straight cut below the curve ME = need(q) between q1 and q2.

        In the plane of gross and metabolisable energy the mixes of quality q lie on a ray, and
        those that meet their need lie beyond the point (need/q, need). The line through the two
        end points is moved inward until it is below the whole curve. Where the need hardly moves
        across the box the curve is as good as a parabola: five points between and as much
        again, and a little for what bends it twice. Elsewhere only its fall with q is trusted,
        from point to point.
        """
        usable = np.isfinite(need1) & np.isfinite(need2) & (q2 - q1 > 1e-6)
        a, b = np.where(usable, q1, 0.4), np.where(usable, q2, 0.5)
        m1, m2 = np.where(usable, need1, 2.0), np.where(usable, need2, 1.0)
        g1, g2 = m1 / a, m2 / b
        det = g1 * m2 - g2 * m1
        alpha, beta = (m2 - m1) / det, (g1 - g2) / det
        with np.errstate(invalid="ignore"):
            on_line = ((alpha / inner_q + beta) * inner_need).min(axis=0)
            steps_q = np.vstack([a, inner_q])
            steps_need = np.vstack([inner_need, m2])
            by_fall = (np.maximum(alpha / steps_q + beta, 0.0) * steps_need).min(axis=0)
        fall = m1 / m2 - 1
        inward = 2 * (1 - np.minimum(on_line, 1.0)) + 1e-3 * fall**2
        least = np.where(fall < 0.02, 1 - inward, by_fall)
        least = np.minimum(least, 1.0)
        rows = alpha[:, None] * self.ge[None] + beta[:, None] * self.me[None]
        rows = np.where(usable[:, None], rows, self.me[None])
        return rows, np.where(usable & (least > 0), least, 0.0)

    def tangent_rows(self, x: Array) -> tuple[Array, Array, Array]:
        """Lines touching the true moving needs at the mixes x (K, n).

        Returns
        -------
        tuple
            coefficients (K, 4, n) and lower and upper limits (K, 4), rows as `MOVING`.
        """
        q, level = self.quality_and_level(x)
        ge_eaten = (x @ self.ge)[:, None]
        slope_q = (self.me[None] - q[:, None] * self.ge[None]) / ge_eaten
        around = np.vstack([q, q + _STEP_Q, q - _STEP_Q])
        needs, ceilings = self.energy_limits(around)
        need, ceiling = needs[0], ceilings[0]
        with np.errstate(invalid="ignore"):
            need_q = (needs[1] - needs[2]) / (2 * _STEP_Q)
            ceiling_q = (ceilings[1] - ceilings[2]) / (2 * _STEP_Q)
        ceiling_q[~np.isfinite(ceiling_q)] = 0.0
        maintained = self.needs.maintenance_me(around)
        maintenance, maintenance_q = maintained[0], (maintained[1] - maintained[2]) / (2 * _STEP_Q)
        slope_l = (
            self.me[None] / maintenance[:, None]
            - (level * maintenance_q / maintenance)[:, None] * slope_q
        )
        k = len(x)
        values = self.needs.protein_value(
            self.chemistry, np.concatenate([level, level + _STEP_L, level - _STEP_L])
        )
        rows = np.empty((len(x), 4, x.shape[1]))
        rows[:, 0] = self.me[None] - need_q[:, None] * slope_q
        rows[:, 1] = self.me[None] - ceiling_q[:, None] * slope_q
        los = [need, np.full_like(need, -np.inf)]
        for i in (0, 1):
            here, above, below = values[i][:k], values[i][k : 2 * k], values[i][2 * k :]
            by_level = (((above - below) / (2 * _STEP_L)) * x).sum(1)
            rows[:, 2 + i] = here + by_level[:, None] * slope_l
            los.append(self.needs.protein_need() + by_level * level)
        inf = np.full_like(need, np.inf)
        return rows, np.column_stack(los), np.column_stack([inf, ceiling, inf, inf])

    # ---- the winner as one labelled programme

    def tangent_problem(self, x: Array) -> Problem:
        """The linear programme that touches the true needs at one mix x (n,).

        A mix that is truly cheapest is also this programme's optimum, so its prices and ranges
        are the true ones to first order.
        """
        rows, lo, hi = self.tangent_rows(x[None])
        return Problem(
            cost=self.cost,
            matrix=np.vstack([rows[0], self.fixed]),
            row_lo=np.concatenate([lo[0], self.fixed_lo]),
            row_hi=np.concatenate([hi[0], self.fixed_hi]),
            col_lo=self.col_lo,
            col_hi=self.col_hi,
            column_names=self.names,
            row_names=(*MOVING, *(r.id for r in self.rows)),
            integer=np.zeros(len(self.cost), dtype=bool),
        )

    def exact_problem(self, x: Array) -> Problem:
        """The linear programme at the mix's own q and L held fixed: every coefficient is true."""
        q, level = self.quality_and_level(x[None])
        by_n, by_e = self.needs.protein_value(self.chemistry, level)
        me = float(level[0] * self.needs.maintenance_me(q)[0])
        mp = self.needs.protein_need()
        inf = np.inf
        return Problem(
            cost=self.cost,
            matrix=np.vstack([self.me, self.me - q[0] * self.ge, by_n[0], by_e[0], self.fixed]),
            row_lo=np.concatenate([[me, 0.0, mp, mp], self.fixed_lo]),
            row_hi=np.concatenate([[me, 0.0, inf, inf], self.fixed_hi]),
            col_lo=self.col_lo,
            col_hi=self.col_hi,
            column_names=self.names,
            row_names=("energy", "quality", RUMEN, FERMENT, *(r.id for r in self.rows)),
            integer=np.zeros(len(self.cost), dtype=bool),
        )


def ratio_row(row_id: str, top: Array, bottom: Array, limit: float, *, least: bool) -> Row:
    """A row that keeps the quotient of two sums at least, or at most, a limit."""
    return Row(
        row_id,
        top - limit * bottom,
        0.0 if least else -np.inf,
        np.inf if least else 0.0,
        (top, bottom, limit),
    )


def share_row(row_id: str, members: Array, share: float, *, least: bool) -> Row:
    """A row that keeps part of the DM at least, or at most, a share of all DM."""
    return ratio_row(row_id, members, np.ones_like(members), share, least=least)
