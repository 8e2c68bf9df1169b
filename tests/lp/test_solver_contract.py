"""What `solve.run` promises, on mixes of two or three feeds solved by hand beside the test.

Convention held throughout: least cost; the price of a row is what one more unit asked of it costs.
Faults that solvers have had are in `test_canaries.py`.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from scipy.optimize import linprog

from ration import solve
from ration.errors import OutOfRange
from ration.model import Problem

INF = np.inf


def problem(
    cost: list[float],
    matrix: list[list[float]],
    row_lo: list[float],
    row_hi: list[float],
    col_hi: list[float] | None = None,
    *,
    col_lo: list[float] | None = None,
    names: tuple[str, ...] | None = None,
    whole: bool = False,
) -> Problem:
    n, m = len(cost), len(row_lo)
    return Problem(
        cost=np.array(cost, dtype=float),
        matrix=np.array(matrix, dtype=float).reshape(m, n),
        row_lo=np.array(row_lo, dtype=float),
        row_hi=np.array(row_hi, dtype=float),
        col_lo=np.zeros(n) if col_lo is None else np.array(col_lo, dtype=float),
        col_hi=np.full(n, 5.0) if col_hi is None else np.array(col_hi, dtype=float),
        column_names=names or tuple(f"feed {j}" for j in range(n)),
        row_names=tuple(f"need {i}" for i in range(m)),
        integer=np.full(n, whole),
    )


def hay_barley_cubes(**change: float) -> Problem:
    """Hay 10 p and 8 MJ, barley 25 p and 13 MJ, cubes 30 p and 12 MJ a kg; 10 MJ in 1 kg.

    By hand: hay alone would take 1.25 kg, so energy and intake both bind: h + b = 1 and
    8 h + 13 b = 10 give h 0.6, b 0.4, 16 p. Prices e (MJ) and i (kg): 8 e + i = 10 p and
    13 e + i = 25 p give e = 3 p, i = -14 p: one more MJ costs 3 p, one more kg of room saves 14 p.
    Cubes: 30 - 12 x 3 + 14 = 8 p too dear.
    """
    costs = {"hay": 0.10, "barley": 0.25, "cubes": 0.30} | change
    return problem(
        list(costs.values()),
        [[8, 13, 12], [1, 1, 1]],
        [10, -INF],
        [INF, 1],
        names=("hay", "barley", "cubes"),
    )


def test_values_and_cost_are_the_hand_answer() -> None:
    found = solve.run(hay_barley_cubes())
    assert found.status == solve.OPTIMAL
    assert found.values == pytest.approx([0.6, 0.4, 0.0], abs=1e-9)
    assert found.cost == pytest.approx(0.16)


def test_prices_have_the_hand_sign_and_size() -> None:
    found = solve.run(hay_barley_cubes())
    assert found.row_price == pytest.approx([0.03, -0.14])
    assert found.col_price == pytest.approx([0.0, 0.0, 0.08], abs=1e-12)


def test_price_is_the_cost_of_one_more_unit_asked() -> None:
    p = hay_barley_cubes()
    base = solve.run(p).cost
    for i, lo, hi in ((0, 0.01, 0.0), (1, 0.0, 0.01)):
        lifted = replace(p, row_lo=p.row_lo.copy(), row_hi=p.row_hi.copy())
        lifted.row_lo[i] += lo
        lifted.row_hi[i] += hi
        price = solve.run(p).row_price
        assert price is not None
        assert (solve.run(lifted).cost - base) / 0.01 == pytest.approx(price[i])


def test_equation_prices_have_the_sign_of_one_more() -> None:
    """x + y = 3, x dear at 4, y at most 1 and cheap at 1: one more is one more x, 4.

    And turned round: earning 2 for each x (cost -2), x = 3: one more earns 2.
    """
    found = solve.run(problem([4, 1], [[1, 1]], [3], [3], [5, 1]))
    assert found.row_price == pytest.approx([4.0])
    assert found.col_price == pytest.approx([0.0, -3.0])
    assert solve.run(problem([-2], [[1]], [3], [3])).row_price == pytest.approx([-2.0])


def test_range_of_two_sided_row_has_one_price() -> None:
    """0.5 <= x <= 2 at cost +1 binds below (price 1), at cost -1 above (price -1)."""
    for cost, value in ((1.0, 0.5), (-1.0, 2.0)):
        found = solve.run(problem([cost], [[1]], [0.5], [2.0]))
        assert found.values == pytest.approx([value])
        assert found.row_price == pytest.approx([cost])


def test_price_ranges_are_the_hand_ones() -> None:
    """The corner h, b stays best while e >= 0 and i <= 0 and cubes stay out.

    Cubes cost 12 e + i and more; e = (b - h)/5, i = (13 h - 8 b)/5. Barley b: i <= 0 gives
    b >= 13 h / 8 = 16.25 p; cubes 30 >= (12 (b - 10) + 130 - 8 b)/5 = (4 b + 10)/5: b <= 35 p.
    Hay h: i <= 0 gives h <= 8 b / 13 = 15.38 p, cubes out: 30 >= (100 + h)/5 always here; h may
    fall until the cap of 5 kg or e = 0 are reached, which never comes: no lower end. Cubes: from
    22 p up.
    """
    found = solve.run(hay_barley_cubes(), ranging=True)
    assert found.price_range is not None
    low, high = found.price_range
    assert low[1:] == pytest.approx([0.1625, 0.22])
    assert low[0] == -INF
    assert high[:2] == pytest.approx([0.25 * 8 / 13, 0.35])
    assert high[2] == INF


@pytest.mark.parametrize(("feed", "end"), [("hay", 1), ("barley", 0), ("barley", 1), ("cubes", 0)])
def test_mix_stays_inside_its_price_range_and_moves_outside(feed: str, end: int) -> None:
    at = ("hay", "barley", "cubes").index(feed)
    first = solve.run(hay_barley_cubes(), ranging=True)
    assert first.price_range is not None
    limit = float(first.price_range[end][at])
    inward = 1e-4 if end == 0 else -1e-4
    inside = solve.run(hay_barley_cubes(**{feed: limit + inward})).values
    outside = solve.run(hay_barley_cubes(**{feed: limit - inward})).values
    assert inside == pytest.approx(first.values, abs=1e-9)
    assert np.abs(outside - first.values).max() > 0.01


def test_ranging_is_only_worked_out_when_asked() -> None:
    assert solve.run(hay_barley_cubes()).price_range is None


def test_degenerate_mix_has_the_right_cost_and_prices_that_prove_it() -> None:
    """x + y >= 2, x >= 1, y >= 1 and 2 x + y >= 3 all meet at (1, 1), cost 1 + 1 = 2.

    Many prices are right; each must be >= 0 and add up to the cost.
    """
    p = problem([1, 1], [[1, 1], [1, 0], [0, 1], [2, 1]], [2, 1, 1, 3], [INF] * 4)
    found = solve.run(p)
    assert found.values == pytest.approx([1, 1])
    assert found.row_price is not None
    assert (found.row_price >= -1e-12).all()
    assert float(found.row_price @ p.row_lo) == pytest.approx(2.0)
    assert found.col_price == pytest.approx([0, 0], abs=1e-12)


def test_tied_mixes_cost_the_same_whichever_is_given() -> None:
    found = solve.run(problem([2, 2], [[1, 1]], [3], [INF]))
    assert found.cost == pytest.approx(6)
    assert found.values is not None
    assert found.values.sum() == pytest.approx(3)


@pytest.mark.parametrize(
    "p",
    [
        problem([1, 1], [[1, 1], [1, 1]], [5, -INF], [INF, 4]),  # at least 5 and at most 4
        problem([1], [[1]], [9], [INF]),  # the cap is 5
        problem([1], [[1]], [3], [2]),  # crossed need
        problem([1], [[1]], [0], [INF], [1], col_lo=[2]),  # crossed cap
        problem([1], [[0]], [1], [INF]),  # no feed has any
        problem([1], [[0]], [-INF], [-1]),
    ],
    ids=["needs", "cap", "crossed need", "crossed cap", "nothing has it", "less than nothing"],
)
@pytest.mark.parametrize("whole", [False, True])
def test_no_mix_carries_no_numbers(p: Problem, whole: bool) -> None:
    found = solve.run(replace(p, integer=np.full(len(p.cost), whole)), ranging=True)
    assert found.status == solve.INFEASIBLE
    assert (found.values, found.cost) == (None, None)
    assert (found.row_price, found.col_price, found.price_range) == (None, None, None)


def test_row_that_no_feed_has_but_asks_nothing_is_no_bar() -> None:
    found = solve.run(problem([1, 2], [[1, 1], [0, 0]], [2, -3], [INF, 7]))
    assert found.status == solve.OPTIMAL
    assert found.values == pytest.approx([2, 0])
    assert found.row_price == pytest.approx([1, 0])


def test_feed_that_earns_without_end_is_unbounded_and_carries_no_numbers() -> None:
    found = solve.run(problem([-1, 1], [[1, 1]], [1], [INF], [INF, 5]))
    assert found.status == solve.UNBOUNDED
    assert (found.values, found.cost, found.row_price) == (None, None, None)


def test_whole_bags_cost_the_hand_answer_and_have_no_prices() -> None:
    """6 a and 10 b at least 25: b 3 (cost 9), b 2 + a 1 (8): 26; fractions would do 7.5."""
    p = problem([2, 3], [[6, 10]], [25], [INF], whole=True)
    found = solve.run(p, ranging=True)
    assert found.status == solve.OPTIMAL
    assert found.cost == pytest.approx(8)
    assert found.values == pytest.approx([1, 2])
    assert (found.row_price, found.col_price, found.price_range) == (None, None, None)
    loose = solve.run(replace(p, integer=np.zeros(2, dtype=bool)))
    assert loose.cost == pytest.approx(7.5)
    assert loose.row_price == pytest.approx([0.3])


def test_one_whole_column_is_enough_to_have_no_prices() -> None:
    p = problem([2, 3], [[6, 10]], [25], [INF])
    found = solve.run(replace(p, integer=np.array([True, False])))
    assert found.status == solve.OPTIMAL
    assert found.row_price is None


def test_feed_that_costs_nothing_is_fed_to_its_use_and_no_further_is_paid() -> None:
    """Own hay at nothing: 8 MJ a kg, 1 kg of room, 10 MJ: as before h 0.6, b 0.4, now 10 p."""
    found = solve.run(hay_barley_cubes(hay=0.0))
    assert found.values == pytest.approx([0.6, 0.4, 0.0], abs=1e-9)
    assert found.cost == pytest.approx(0.10)
    assert found.row_price == pytest.approx([0.05, -0.40])
    everything_free = solve.run(hay_barley_cubes(hay=0.0, barley=0.0, cubes=0.0))
    assert everything_free.status == solve.OPTIMAL
    assert everything_free.cost == 0.0


def test_least_amounts_and_equal_caps_are_kept() -> None:
    found = solve.run(problem([1, 2], [[1, 1]], [3], [INF], [1, 5], col_lo=[1, 0.5]))
    assert found.values == pytest.approx([1, 2])
    assert found.cost == pytest.approx(5)


def test_order_of_many_columns_is_kept() -> None:
    """x10 comes before x2 in the alphabet; each of 25 feeds is asked its own amount."""
    n = 25
    least = np.arange(1, n + 1) / 10
    found = solve.run(
        problem(
            [1.0 + j % 7 for j in range(n)],
            np.eye(n).tolist(),
            least.tolist(),
            [INF] * n,
        ),
        ranging=True,
    )
    assert found.values == pytest.approx(least)
    assert found.row_price == pytest.approx([1.0 + j % 7 for j in range(n)])
    assert found.price_range is not None
    low, high = found.price_range
    assert (low <= [1.0 + j % 7 for j in range(n)]).all()
    assert (high >= [1.0 + j % 7 for j in range(n)]).all()


@pytest.mark.parametrize(
    "names",
    [
        ("hay", "hay", "hay"),
        ("Long Meadow hay", "Long-Meadow-hay", "Long_Meadow_hay"),
        ("foin d'été", "gwair Llŷn", "сено"),
        ("a/b [1] + c", "x0", "r0lo"),
        ("", " ", "\n"),
    ],
)
def test_names_never_reach_the_solver(names: tuple[str, str, str]) -> None:
    p = replace(hay_barley_cubes(), column_names=names, row_names=(names[0], names[0]))
    found = solve.run(p, ranging=True)
    assert found.values == pytest.approx([0.6, 0.4, 0.0], abs=1e-9)
    assert found.row_price == pytest.approx([0.03, -0.14])
    built = solve.build(p)
    assert sorted(v.name for v in built.variables()) == ["x0", "x1", "x2"]


def test_bad_number_is_refused_with_the_feed_and_row_it_is_in() -> None:
    p = replace(hay_barley_cubes(), column_names=("hay", "gerste grün", "cubes"))
    for bad in (np.nan, INF, -INF):
        cost, matrix = p.cost.copy(), p.matrix.copy()
        cost[1], matrix[1, 2] = bad, bad
        with pytest.raises(OutOfRange, match=r"cost of gerste grün is not a number"):
            solve.run(replace(p, cost=cost))
        with pytest.raises(OutOfRange, match=r"matrix of cubes, row need 1 is not a number"):
            solve.run(replace(p, matrix=matrix))
    with pytest.raises(OutOfRange) as both:
        solve.run(replace(p, cost=np.full(3, np.nan)))
    assert len(both.value.problems) == 3


@pytest.mark.parametrize("seconds", [0.0, 1e-9, 1e-3])
def test_too_little_time_is_never_called_proved_unless_it_is(seconds: float) -> None:
    rng = np.random.default_rng(5)
    n, m = 150, 100
    matrix = rng.uniform(0, 1, (m, n))
    p = problem(
        rng.uniform(1, 2, n).tolist(),
        matrix.tolist(),
        (matrix.sum(axis=1) * 0.3).tolist(),
        [INF] * m,
        [1.0] * n,
    )
    found = solve.run(p, seconds=seconds)
    true = linprog(p.cost, A_ub=-p.matrix, b_ub=-p.row_lo, bounds=(0, 1)).fun
    assert found.status in (solve.OPTIMAL, solve.FOUND, solve.UNDECIDED)
    if found.status == solve.OPTIMAL:
        assert found.cost == pytest.approx(true)
    else:
        assert found.row_price is None


def test_solver_is_named_with_its_version() -> None:
    assert solve.run(hay_barley_cubes()).solver.startswith("PuLP ")
    assert ", HiGHS 1." in solve.run(hay_barley_cubes()).solver


# ---- conflicts


def without(p: Problem, row: int | None, column: int | None) -> Problem:
    """The same problem with one limit let go."""
    row_lo, row_hi, col_hi = p.row_lo.copy(), p.row_hi.copy(), p.col_hi.copy()
    if row is not None:
        row_lo[row], row_hi[row] = -INF, INF
    if column is not None:
        col_hi[column] = 1e6
    return replace(p, row_lo=row_lo, row_hi=row_hi, col_hi=col_hi)


def test_conflict_names_the_limits_that_cannot_all_hold() -> None:
    """15 MJ in 1 kg: barley, the best, has 13. The forage row is a bystander."""
    p = problem(
        [1, 1], [[8, 13], [1, 1], [1, 0]], [15, -INF, 0.1], [INF, 1, INF], names=("hay", "barley")
    )
    rows, columns = solve.conflict(p)
    assert set(rows) == {0, 1}
    assert columns == () or set(columns) <= {0, 1}


def test_dropping_any_member_of_a_conflict_makes_a_mix_possible() -> None:
    """An irreducible conflict, tried on 150 small problems without a mix."""
    rng = np.random.default_rng(3)
    tried = 0
    while tried < 150:
        matrix = rng.uniform(0, 5, (4, 3)) * (rng.random((4, 3)) < 0.8)
        p = problem(
            [1, 1, 1],
            matrix.tolist(),
            [rng.uniform(0, 14), rng.uniform(0, 14), -INF, -INF],
            [INF, INF, rng.uniform(0, 5), rng.uniform(0, 5)],
            [2, 2, 2],
        )
        if solve.run(p).status != solve.INFEASIBLE or not matrix.any(axis=1).all():
            continue
        tried += 1
        rows, columns = solve.conflict(p)
        assert rows or columns
        only = p
        for i in set(range(4)) - set(rows):
            only = without(only, i, None)
        for j in set(range(3)) - set(columns):
            only = without(only, None, j)
        assert solve.run(only).status == solve.INFEASIBLE  # the members alone conflict
        for i, j in [*product(rows, [None]), *product([None], columns)]:
            assert solve.run(without(only, i, j)).status == solve.OPTIMAL


def test_problem_with_a_mix_has_no_conflict() -> None:
    assert solve.conflict(hay_barley_cubes()) == ((), ())
