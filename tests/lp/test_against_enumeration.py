"""Small mixes by trying every corner in exact whole numbers; large ones by SciPy.

The corners are worked in plain Python without any solver, so they judge HiGHS and our own solver
alike. `scipy.optimize.linprog` is HiGHS behind another door: it judges how the problems are put,
and our own solver, which shares no line with it.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest
from properties.strategies import real_mixes, seeded_farm
from scipy.optimize import linprog

from ration import many_lps, solve
from ration.model import MixModel, Problem

INF = np.inf
Line = tuple[tuple[int, int, int], int]  # a . x = b


def problem_of(
    cost: np.ndarray, matrix: np.ndarray, row_lo: np.ndarray, row_hi: np.ndarray, col_hi: np.ndarray
) -> Problem:
    m, n = matrix.shape
    return Problem(
        cost=cost.astype(float),
        matrix=matrix.astype(float),
        row_lo=row_lo.astype(float),
        row_hi=row_hi.astype(float),
        col_lo=np.zeros(n),
        col_hi=col_hi.astype(float),
        column_names=tuple(f"feed {j}" for j in range(n)),
        row_names=tuple(f"need {i}" for i in range(m)),
        integer=np.zeros(n, dtype=bool),
    )


# ---- every corner of 3 feeds and 4 rows


def small_problem(seed: int) -> Problem:
    """3 feeds, 4 rows, whole numbers; ties, zero prices, equations and crossed needs occur."""
    rng = np.random.default_rng(seed)
    matrix = rng.integers(-2, 10, (4, 3)) * (rng.random((4, 3)) < 0.85)
    eaten = rng.integers(0, 6, 3)
    supply = matrix @ eaten
    least = np.where(rng.random(4) < 0.6, supply - rng.integers(0, 6, 4), -INF)
    most = np.where(rng.random(4) < 0.5, supply + rng.integers(0, 6, 4), INF)
    if rng.random() < 0.25:
        least[0] = most[0] = supply[0]
    if rng.random() < 0.3:  # asked too much: often no mix is left
        least[3] = supply[3] + rng.integers(1, 40)
        most[3] = max(most[3], least[3])
    return problem_of(rng.integers(-2, 12, 3), matrix, least, most, eaten + rng.integers(0, 6, 3))


def det3(a: tuple[int, ...], b: tuple[int, ...], c: tuple[int, ...]) -> int:
    return (
        a[0] * (b[1] * c[2] - b[2] * c[1])
        - a[1] * (b[0] * c[2] - b[2] * c[0])
        + a[2] * (b[0] * c[1] - b[1] * c[0])
    )


def faces(p: Problem) -> tuple[list[Line], list[Line]]:
    """All limits as a . x >= b, and the planes they lie on; whole numbers."""
    at_least: list[Line] = []
    for row, lo, hi in zip(p.matrix.astype(int).tolist(), p.row_lo, p.row_hi, strict=True):
        if np.isfinite(lo):
            at_least.append(((row[0], row[1], row[2]), int(lo)))
        if np.isfinite(hi):
            at_least.append(((-row[0], -row[1], -row[2]), -int(hi)))
    for j, hi in enumerate(p.col_hi.astype(int).tolist()):
        unit = (int(j == 0), int(j == 1), int(j == 2))
        at_least.append((unit, 0))
        at_least.append(((-unit[0], -unit[1], -unit[2]), -hi))
    return at_least, list(dict.fromkeys(at_least))


def corners(p: Problem) -> Iterator[tuple[int, tuple[int, int, int]]]:
    """Corners that keep every limit, as (denominator > 0, numerators): Cramer's rule."""
    limits, planes = faces(p)
    for (a, p1), (b, p2), (c, p3) in combinations(planes, 3):
        under = det3(a, b, c)
        if under == 0:
            continue
        x = (
            det3((p1, a[1], a[2]), (p2, b[1], b[2]), (p3, c[1], c[2])),
            det3((a[0], p1, a[2]), (b[0], p2, b[2]), (c[0], p3, c[2])),
            det3((a[0], a[1], p1), (b[0], b[1], p2), (c[0], c[1], p3)),
        )
        if under < 0:
            under, x = -under, (-x[0], -x[1], -x[2])
        if all(g[0] * x[0] + g[1] * x[1] + g[2] * x[2] >= h * under for g, h in limits):
            yield under, x


def by_corners(p: Problem) -> Fraction | None:
    """Exact least cost, None when nothing keeps every limit: feeds are bounded, so if anything
    does, a corner does.
    """
    cost = [int(c) for c in p.cost]
    found = [
        Fraction(sum(c * v for c, v in zip(cost, x, strict=True)), under) for under, x in corners(p)
    ]
    return min(found, default=None)


SMALL = range(500)


def test_corners_are_right_on_a_mix_solved_by_hand() -> None:
    """2 x + 3 y + 9 z, x + y + z >= 4, x <= 3, y <= 5, z <= 5, x - y <= 1 (in four rows).

    Best: y is dear by 1, x may lead y by 1: x = 2.5, y = 1.5, cost 9.5.
    """
    p = problem_of(
        np.array([2, 3, 9]),
        np.array([[1, 1, 1], [1, -1, 0], [0, 0, 1], [1, 0, 0]]),
        np.array([4, -INF, 0, 0]),
        np.array([INF, 1, 5, 3]),
        np.array([3, 5, 5]),
    )
    assert by_corners(p) == Fraction(19, 2)
    assert solve.run(p).cost == pytest.approx(9.5)


def test_both_solvers_find_the_best_corner_of_500_small_mixes() -> None:
    none = 0
    for seed in SMALL:
        p = small_problem(seed)
        best = by_corners(p)
        found = solve.run(p)
        ours = many_lps.solve_many(p.cost, p.matrix, p.row_lo, p.row_hi, p.col_lo, p.col_hi)
        if best is None:
            none += 1
            assert found.status == solve.INFEASIBLE, seed
            assert (found.values, found.cost, found.row_price, found.col_price) == (None,) * 4
            assert ours.status[0] == many_lps.INFEASIBLE, seed
            continue
        assert found.status == solve.OPTIMAL, seed
        assert ours.status[0] == many_lps.OPTIMAL, seed
        assert found.cost == pytest.approx(float(best), rel=1e-9, abs=1e-9), seed
        assert ours.cost[0] == pytest.approx(float(best), rel=1e-9, abs=1e-9), seed
        assert ours.lower_bound[0] <= float(best) + 1e-12 * (1 + abs(float(best))), seed
    assert 50 < none < 300


def test_values_of_small_mixes_keep_every_limit() -> None:
    for seed in SMALL[::2]:
        p = small_problem(seed)
        found = solve.run(p)
        if found.values is None:
            continue
        s = p.matrix @ found.values
        assert (s >= p.row_lo - 1e-7).all(), seed
        assert (s <= p.row_hi + 1e-7).all(), seed
        assert (found.values >= p.col_lo - 1e-9).all(), seed
        assert (found.values <= p.col_hi + 1e-9).all(), seed


def test_prices_of_small_mixes_prove_the_best_corner() -> None:
    """Weak duality worked here: price x limit, summed, is the exact least cost and no more."""
    for seed in SMALL[::2]:
        p = small_problem(seed)
        best = by_corners(p)
        found = solve.run(p)
        if best is None or found.row_price is None:
            assert best is None, seed
            continue
        y, d = found.row_price, p.cost - p.matrix.T @ found.row_price
        total = 0.0
        for price, lo, hi in zip(
            [*y, *d], [*p.row_lo, *p.col_lo], [*p.row_hi, *p.col_hi], strict=True
        ):
            if abs(price) > 1e-9:
                assert np.isfinite(lo if price > 0 else hi), (seed, "priced without a limit")
                total += price * (lo if price > 0 else hi)
        assert total == pytest.approx(float(best), rel=1e-7, abs=1e-7), seed
        assert found.col_price == pytest.approx(d, abs=1e-9)


# ---- 500 large mixes as the search puts them


def as_boxes(model: MixModel, x: np.ndarray, rng: np.random.Generator) -> Problem | None:
    """Kindest rows over a random box round a mix, as one programme."""
    q, level = model.quality_and_level(x[None])
    (q_lo, q_hi), (l_lo, l_hi) = model.needs.quality, model.needs.level
    wide_q, wide_l = 10 ** rng.uniform(-3, -1), 10 ** rng.uniform(-3, 0)
    rows, lo, hi, empty = model.box_rows(
        np.maximum(q - wide_q, q_lo),
        np.minimum(q + wide_q, q_hi),
        np.maximum(level - wide_l, l_lo),
        np.minimum(level + wide_l, l_hi),
    )
    if empty[0]:
        return None
    m = 6 + len(model.rows)
    return Problem(
        model.cost,
        np.vstack([rows[0], model.fixed]),
        np.concatenate([lo[0], model.fixed_lo]),
        np.concatenate([hi[0], model.fixed_hi]),
        model.col_lo,
        model.col_hi,
        model.names,
        tuple(f"row {i}" for i in range(m)),
        np.zeros(len(model.cost), dtype=bool),
    )


def large_problems(many: int) -> Iterator[tuple[str, Problem]]:
    """Programmes of the three kinds at random mixes, some that can and some that cannot be met."""
    rng = np.random.default_rng(2024)
    made = 0
    for seed in range(10_000):
        model = seeded_farm(seed).model
        for x in real_mixes(model, rng, tries=800)[:2]:
            kinds = {
                "held": model.exact_problem(x),
                "tangent": model.tangent_problem(x),
                "box": as_boxes(model, x, rng),
            }
            for name, problem in kinds.items():
                if problem is not None and made < many:
                    made += 1
                    yield f"{name} {seed}", problem
        if made >= many:
            return


def by_scipy(p: Problem) -> tuple[str, float]:
    equal = p.row_lo == p.row_hi
    at_least, at_most = np.isfinite(p.row_lo) & ~equal, np.isfinite(p.row_hi) & ~equal
    found = linprog(
        p.cost,
        A_ub=np.vstack([-p.matrix[at_least], p.matrix[at_most]]),
        b_ub=np.concatenate([-p.row_lo[at_least], p.row_hi[at_most]]),
        A_eq=p.matrix[equal] if equal.any() else None,
        b_eq=p.row_lo[equal] if equal.any() else None,
        bounds=np.column_stack([p.col_lo, p.col_hi]),
    )
    return {0: solve.OPTIMAL, 2: solve.INFEASIBLE}[found.status], found.fun or 0.0


def test_scipy_agrees_on_500_large_mixes() -> None:
    counts = {solve.OPTIMAL: 0, solve.INFEASIBLE: 0}
    kinds: dict[str, int] = {}
    for name, p in large_problems(500):
        status, cost = by_scipy(p)
        found = solve.run(p)
        ours = many_lps.solve_many(p.cost, p.matrix, p.row_lo, p.row_hi, p.col_lo, p.col_hi)
        counts[status] += 1
        kinds[name.split()[0]] = kinds.get(name.split()[0], 0) + 1
        assert found.status == status, name
        assert (
            ours.status[0]
            == {
                solve.OPTIMAL: many_lps.OPTIMAL,
                solve.INFEASIBLE: many_lps.INFEASIBLE,
            }[status]
        ), name
        if status == solve.OPTIMAL:
            assert found.cost == pytest.approx(cost, rel=1e-7, abs=1e-9), name
            assert ours.cost[0] == pytest.approx(cost, rel=1e-7, abs=1e-9), name
            assert ours.lower_bound[0] <= cost + 1e-7 * abs(cost) + 1e-12, name
    assert sum(kinds.values()) == 500
    assert min(kinds.values()) > 100
    assert min(counts.values()) > 20
