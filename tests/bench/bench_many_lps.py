"""How long `solve_many` takes, in units of one PuLP + HiGHS solve of the same matrix.

Run: python tests/bench/bench_many_lps.py. Feeds are invented. Milliseconds are of the machine at
hand and change with what else it does; the ratios say more. Each time is a median.
"""

from __future__ import annotations

import statistics
import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

import numpy as np
import pulp

sys.path.insert(0, str(Path(__file__).parents[2]))

from ration.many_lps import OPTIMAL, solve_many

INF = np.inf


def invented_feeds(seed: int, many: int, n: int, m: int) -> list[np.ndarray]:
    """Problems of one farm, every number moved by 5 % from one to the next."""
    rng = np.random.default_rng(seed)
    a = (
        rng.uniform(0.2, 1.5, (m, n))
        * (rng.random((m, n)) < 0.8)
        * 10 ** rng.uniform(-1, 2, (m, 1))
    )
    eaten = rng.uniform(0, 1, n) * (rng.random(n) < 0.4)
    least = np.where(rng.random(m) < 0.6, 0.95, -INF)
    most = np.where(rng.random(m) < 0.5, 1.1, INF)
    a = a * rng.normal(1, 0.05, (many, m, n))
    supply = np.maximum(a @ eaten, 1e-3)
    cost = rng.uniform(0.5, 2, n) * rng.normal(1, 0.05, (many, n))
    return [cost, a, least * supply, most * supply, np.zeros((many, n)), np.full((many, n), 1.2)]


def by_pulp(c, a, row_lo, row_hi, col_lo, col_hi) -> float:
    """Build and solve one problem."""
    problem = pulp.LpProblem("bench", pulp.LpMinimize)
    x = [
        problem.add_variable(f"x{j}", lo, hi)
        for j, (lo, hi) in enumerate(zip(col_lo, col_hi, strict=True))
    ]
    problem += pulp.LpAffineExpression(list(zip(x, c, strict=True)))
    for i, (lo, hi) in enumerate(zip(row_lo, row_hi, strict=True)):
        row = list(zip(x, a[i], strict=True))
        if lo > -INF:
            problem += pulp.LpAffineExpression(row) >= lo, f"lo{i}"
        if hi < INF:
            problem += pulp.LpAffineExpression(row) <= hi, f"hi{i}"
    problem.solve(pulp.HiGHS(msg=False))
    return float(pulp.value(problem.objective))


def median_ms(call: Callable[[], object], times: int) -> float:
    """Median time of a call. [ms]"""
    taken = []
    for _ in range(times):
        began = perf_counter()
        call()
        taken.append(1e3 * (perf_counter() - began))
    return statistics.median(taken)


def main() -> None:
    print("  n  m    K   PuLP+HiGHS      cold                    warm")
    print("               one, ms     ms  solves  pivots      ms  solves  pivots   LP/s cold")
    for n, m in ((12, 12), (20, 16), (40, 25)):
        for many in (1, 48, 512):
            problems = invented_feeds(many + n, many, n, m)
            answers = solve_many(*problems)
            first = [v[0] for v in problems]
            if answers.status[0] == OPTIMAL:
                assert np.isclose(by_pulp(*first), answers.cost[0], rtol=1e-7)
            moved = list(problems)
            moved[1] = problems[1] * np.random.default_rng(1).normal(1, 0.003, (many, m, n))
            moved[2] = problems[2] * 0.995
            start = answers.basis
            times = 60 if many < 100 else 15
            pulp_ms = median_ms(lambda first=first: by_pulp(*first), 40)
            cold_ms = median_ms(lambda moved=moved: solve_many(*moved), times)
            warm_ms = median_ms(
                lambda moved=moved, start=start: solve_many(*moved, start=start), times
            )
            cold, warm = solve_many(*moved), solve_many(*moved, start=start)
            print(
                f"{n:3d} {m:2d} {many:4d} {pulp_ms:11.2f}"
                f" {cold_ms:7.2f} {cold_ms / pulp_ms:7.2f} {cold.pivots.mean():7.1f}"
                f" {warm_ms:7.2f} {warm_ms / pulp_ms:7.2f} {warm.pivots.mean():7.1f}"
                f" {1e3 * many / cold_ms:11.0f}"
            )


if __name__ == "__main__":
    main()
