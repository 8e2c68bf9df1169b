"""The batch solver against hand-solved problems, exact arithmetic and HiGHS.

Origin of expected answers: `hand` (working beside the case), `memory` (textbook examples known by
heart), `program` (HiGHS, called through highspy with tolerances of 1e-9).
"""

from __future__ import annotations

from fractions import Fraction

import highspy
import numpy as np
import pytest

from ration import many_lps
from ration.errors import OutOfRange
from ration.many_lps import INFEASIBLE, OPTIMAL, UNDECIDED, Answers, Basis, solve_many

INF = np.inf


class Judge:
    """HiGHS, one problem at a time."""

    def __init__(self):
        self.highs = highspy.Highs()
        self.highs.silent()
        for name in ("primal_feasibility_tolerance", "dual_feasibility_tolerance"):
            self.highs.setOptionValue(name, 1e-9)
        self.highs.setOptionValue("small_matrix_value", 1e-12)

    def __call__(self, c, a, row_lo, row_hi, col_lo, col_hi):
        m, n = a.shape
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = n, m
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = c, col_lo, col_hi
        lp.row_lower_, lp.row_upper_ = row_lo, row_hi
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.arange(m + 1) * n
        lp.a_matrix_.index_ = np.tile(np.arange(n), m)
        lp.a_matrix_.value_ = a.ravel()
        self.highs.passModel(lp)
        self.highs.run()
        status = self.highs.getModelStatus()
        if status == highspy.HighsModelStatus.kOptimal:
            return OPTIMAL, self.highs.getInfo().objective_function_value
        assert status == highspy.HighsModelStatus.kInfeasible, status
        return INFEASIBLE, INF


@pytest.fixture(scope="module")
def judge():
    return Judge()


def nasty(rng, k, n, m):
    """k problems of one shape, made to be awkward; about one in seven has no solution."""
    feeds = rng.random() < 0.4  # all coefficients and columns nonnegative, as in a feed table
    whole = rng.random() < 0.4  # whole numbers, so that many ratios tie exactly
    a = rng.uniform(0, 2, (k, m, n)) if feeds else rng.normal(0, 1, (k, m, n))
    a *= rng.random((k, m, n)) < rng.uniform(0.3, 1.0)
    c = rng.uniform(0.1, 2, (k, n)) if rng.random() < 0.5 else rng.normal(0.5, 1, (k, n))
    if whole:
        a, c = np.round(2 * a), np.round(2 * c)
    col_lo = np.where(rng.random((k, n)) < 0.2, -rng.integers(0, 3, (k, n)), 0.0) * (not feeds)
    col_hi = col_lo + rng.choice([1.0, 2.0, 5.0, 100.0], (k, n))
    fixed = rng.random((k, n)) < 0.1
    col_hi[fixed] = col_lo[fixed]
    if n > 2:  # copied columns, with the same or another price
        copied = rng.random(k) < 0.5
        a[copied, :, 1] = a[copied, :, 0]
        copied &= rng.random(k) < 0.5
        c[copied, 1] = c[copied, 0]
    if m > 2:  # copied rows
        copied = rng.random(k) < 0.5
        a[copied, 1] = a[copied, 0]
    a[rng.random((k, m)) < 0.03] = 0.0
    x = col_lo + (col_hi - col_lo) * rng.random((k, n)) * (rng.random((k, n)) < 0.5)
    if whole:
        x = np.round(x)
    s = np.einsum("kmn,kn->km", a, x)
    room = 0.3 * rng.uniform(0, 1, (k, m)) * (1 + np.abs(s)) * (rng.random((k, m)) < 0.7)
    if whole:
        room = np.round(room)
    kind = rng.random((k, m))
    row_lo = np.where(kind < 0.45, s - room, -INF)
    row_hi = np.where(kind > 0.4, s + room, INF)
    equal = rng.random((k, m)) < 0.1
    row_lo[equal] = row_hi[equal] = s[equal]
    asks_more = np.flatnonzero(rng.random(k) < 0.2)
    i = rng.integers(0, m, k)[asks_more]
    more = rng.uniform(0, 3, len(i)) * (1 + np.abs(s[asks_more, i]))
    row_lo[asks_more, i] = s[asks_more, i] + more
    row_hi = np.maximum(row_hi, row_lo)
    if rng.random() < 0.6:
        scale = 10 ** rng.uniform(-3, 3, (k, m))
        a, row_lo, row_hi = a * scale[:, :, None], row_lo * scale, row_hi * scale
    return c, a, row_lo, row_hi, col_lo, col_hi


def nasty_lots(seed, lots, k):
    rng = np.random.default_rng(seed)
    for _ in range(lots):
        yield rng, nasty(rng, k, int(rng.integers(3, 41)), int(rng.integers(1, 31)))


def compare(problems, answers: Answers, judge) -> np.ndarray:
    """Every answer against the judge; returns how many of each status."""
    for k, status in enumerate(answers.status):
        one = [v[k] for v in problems]
        truth, cost = judge(*one)
        near = 1e-9 * max(1.0, abs(cost)) if truth == OPTIMAL else 0.0
        assert answers.lower_bound[k] <= cost + near
        if status == UNDECIDED:
            continue
        assert status == truth, (k, answers.cost[k], cost)
        if truth == INFEASIBLE:
            assert answers.cost[k] == answers.lower_bound[k] == INF
            continue
        x, (c, a, row_lo, row_hi, col_lo, col_hi) = answers.x[k], one
        size = np.abs(a).max(axis=1)
        size[size == 0] = 1
        assert np.all(x >= col_lo) and np.all(x <= col_hi)
        assert np.all(a @ x >= row_lo - 1e-9 * size) and np.all(a @ x <= row_hi + 1e-9 * size)
        assert answers.cost[k] == pytest.approx(cost, rel=1e-8, abs=1e-9)
        assert answers.cost[k] == pytest.approx(c @ x, rel=1e-12, abs=1e-12)
    return np.bincount(answers.status, minlength=3)


# ---- solved by hand -----------------------------------------------------------------------------


def test_lower_limit_has_a_positive_price():
    """hand: the cheap column fills up (3 at 2), the other meets the rest (1 at 3): cost 9."""
    got = solve_many([2, 3], [[1, 1]], [4], [INF], [0, 0], [3, 10])
    assert got.status.tolist() == [OPTIMAL]
    assert got.x.tolist() == [[3, 1]]
    assert got.cost[0] == 9
    assert got.row_price.tolist() == [[3]]  # one more unit comes from the dear column
    assert got.col_price.tolist() == [[-1, 0]]  # one more unit of room in the cheap one saves 1
    assert 9 - 1e-12 < got.lower_bound[0] <= 9


def test_upper_limit_has_a_negative_price():
    """hand: worth 3 and 2, room for 4 together and 3 of each: 3 and 1, cost -11."""
    got = solve_many([-3, -2], [[1, 1]], [-INF], [4], [0, 0], [3, 3])
    assert got.x.tolist() == [[3, 1]]
    assert (got.cost[0], got.row_price[0, 0]) == (-11, -2)
    assert got.col_price.tolist() == [[-1, 0]]


def test_equation_prices():
    """hand: x + 2y = 4 at cost x + y is cheapest with y = 2; each unit more costs a half."""
    got = solve_many([1, 1], [[1, 2]], [4], [4], [0, 0], [3, 3])
    assert got.x.tolist() == [[0, 2]]
    assert got.cost[0] == 2
    assert got.row_price.tolist() == [[0.5]]
    assert got.col_price.tolist() == [[0.5, 0]]


def test_equation_that_wants_less_has_a_negative_price():
    """hand: x = 1 asked, x would rather be 3 (cost -2 each)."""
    got = solve_many([-2], [[5]], [5], [5], [0], [3])
    assert (got.x[0, 0], got.cost[0], got.row_price[0, 0]) == (1, -2, pytest.approx(-0.4))


def test_fixed_column_counts_but_does_not_move():
    """hand: y is held at 2, so x has to give the other 3."""
    got = solve_many([1, 1], [[1, 1]], [5], [INF], [0, 2], [9, 2])
    assert got.x.tolist() == [[3, 2]]
    assert got.cost[0] == 5


def test_no_active_row_leaves_each_column_on_its_cheap_bound():
    got = solve_many([1, -1, 0], [[1, 1, 1]], [-INF], [INF], [-1, -1, 2], [4, 4, 5])
    assert got.x[0, :2].tolist() == [-1, 4]
    assert got.cost[0] == -5
    assert got.row_price.tolist() == [[0]]


def test_empty_rows():
    """hand: 0 x <= 1 asks nothing; 0 x >= 0.001 cannot be met."""
    got = solve_many([1], [[0], [1]], [[-INF, 2], [0.001, 2]], [1, INF], [0], [3])
    assert got.status.tolist() == [OPTIMAL, INFEASIBLE]
    assert got.x[0, 0] == 2


def test_infeasible_comes_with_a_mix_of_rows_that_cannot_be_met():
    """hand: x + y >= 7 with at most 3 of each."""
    got = solve_many([1, 1], [[1, 1]], [7], [INF], [0, 0], [3, 3])
    assert got.status.tolist() == [INFEASIBLE]
    assert got.cost[0] == got.lower_bound[0] == INF
    assert np.isnan(got.x).all() and np.isnan(got.worst_violation).all()
    weight = got.row_price[0, 0]
    assert weight > 0 and weight * 7 > weight * (3 + 3)


@pytest.mark.parametrize(
    ("row", "col"),
    [(((2.0,), (1.0,)), ((0.0,), (5.0,))), (((0.0,), (9.0,)), ((3.0,), (2.0,)))],
)
def test_crossed_limits_are_infeasible(row, col):
    assert solve_many([1], [[1]], *row, *col).status.tolist() == [INFEASIBLE]


def test_limits_crossed_by_rounding_are_an_equation():
    got = solve_many([1], [[1]], [0.1 + 0.2], [0.3], [0], [1])
    assert got.status.tolist() == [OPTIMAL]
    assert got.x[0, 0] == pytest.approx(0.3, abs=1e-15)


# ---- textbook examples --------------------------------------------------------------------------


def test_beale_1955_cycling_example():
    """memory: E. M. L. Beale, Cycling in the dual simplex algorithm (1955); least cost -1/20."""
    a = [[0.25, -60, -0.04, 9], [0.5, -90, -0.02, 3], [0, 0, 1, 0]]
    got = solve_many([-0.75, 150, -0.02, 6], a, [-INF] * 3, [0, 0, 1], [0] * 4, [1000] * 4)
    assert got.cost[0] == pytest.approx(-0.05, rel=1e-12)
    assert got.x[0] == pytest.approx([0.04, 0, 1, 0], abs=1e-12)


@pytest.mark.parametrize("n", [3, 6, 9])
def test_klee_minty_1972_cube(n):
    """memory: V. Klee and G. J. Minty, How good is the simplex algorithm? (1972); optimum 5^n."""
    a = np.array([[2.0 ** (i - j + 1) if j < i else float(i == j) for j in range(n)]
                  for i in range(n)])  # fmt: skip
    cost = -(2.0 ** np.arange(n - 1, -1, -1))
    got = solve_many(cost, a, [-INF] * n, 5.0 ** np.arange(1, n + 1), [0] * n, [5.0**n] * n)
    assert got.status.tolist() == [OPTIMAL]
    assert got.cost[0] == pytest.approx(-(5.0**n), rel=1e-9)


@pytest.mark.parametrize("n", [4, 8])
def test_all_ties_end(n):
    """hand: n equal columns and copied rows; the least cost is what one row asks."""
    got = solve_many(np.ones(n), np.ones((12, n)), [2.5] * 12, [INF] * 12, [0] * n, [1] * n)
    assert got.status.tolist() == [OPTIMAL]
    assert got.cost[0] == pytest.approx(2.5)


# ---- against HiGHS and exact arithmetic ---------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_ten_thousand_awkward_problems_agree_with_highs(seed, judge):
    """program: HiGHS. 2,500 problems a seed; statuses equal, costs within 1e-8."""
    count = np.zeros(3, dtype=int)
    for _, problems in nasty_lots(seed, lots=25, k=100):
        answers = solve_many(*problems)
        count += compare(problems, answers, judge)
    assert count.sum() == 2500
    assert count[UNDECIDED] <= 2  # under 0.1 %
    assert 0.08 < count[INFEASIBLE] / 2500 < 0.25


def test_large_caps_and_uneven_columns_agree_with_highs(judge):
    """program: HiGHS. Columns in units a thousand apart, and caps of ten thousand."""
    count = np.zeros(3, dtype=int)
    for rng, (c, a, row_lo, row_hi, col_lo, col_hi) in nasty_lots(77, lots=10, k=100):
        col_hi = np.where((rng.random(col_hi.shape) < 0.5) & (col_hi > col_lo), 1e4, col_hi)
        unit = 10.0 ** rng.integers(-1, 3, (100, 1, c.shape[1]))
        a, c, col_lo, col_hi = a * unit, c * unit[:, 0], col_lo / unit[:, 0], col_hi / unit[:, 0]
        problems = c, a, row_lo, row_hi, col_lo, col_hi
        count += compare(problems, solve_many(*problems), judge)
    assert count[UNDECIDED] <= 1


def test_warm_starts_agree_with_highs_and_save_pivots(judge):
    """program: HiGHS. 2,000 problems moved a little from their parents."""
    cold = warm = 0
    for rng, parents in nasty_lots(5, lots=20, k=100):
        basis = solve_many(*parents).basis
        c, a, row_lo, row_hi, col_lo, col_hi = parents
        a = a * (1 + 0.005 * rng.normal(size=a.shape))
        width = 1 + np.where(np.isfinite(row_hi - row_lo), row_hi - row_lo, 0.0)
        row_lo = row_lo - width * rng.uniform(0, 0.02, row_lo.shape)
        row_hi = row_hi + width * rng.uniform(0, 0.02, row_hi.shape)
        order = rng.permutation(len(c))
        problems = [v[order] for v in (c, a, row_lo, row_hi, col_lo, col_hi)]
        answers = solve_many(*problems, start=basis.take(order))
        compare(problems, answers, judge)
        warm += answers.pivots.sum()
        cold += solve_many(*problems).pivots.sum()
    assert warm < 0.4 * cold


def test_any_start_gives_the_same_answer(judge):
    """Bases that are singular, of the wrong size or of another problem only cost time."""
    for rng, problems in nasty_lots(6, lots=6, k=60):
        k, m, n = problems[1].shape
        random = np.where(rng.random((k, m + n)).argsort(1) < m, 0, rng.choice([-1, 1], (k, m + n)))
        for rests in (random, np.zeros((k, m + n)), np.ones((k, m + n)), rng.permutation(random)):
            answers = solve_many(*problems, start=Basis(rests.astype(np.int8)))
            assert compare(problems, answers, judge)[UNDECIDED] == 0


@pytest.mark.parametrize("limit", [0, 1, 3])
def test_stopped_early_the_bound_still_holds_and_no_status_is_wrong(limit, judge):
    for _, problems in nasty_lots(7, lots=5, k=60):
        count = compare(problems, solve_many(*problems, pivot_limit=limit), judge)
        assert count[UNDECIDED] > 0


@pytest.mark.parametrize("claim", [(OPTIMAL, 0, 0, 0), (INFEASIBLE, 0, 0, 1)])
def test_what_the_pivots_say_is_not_believed(claim, judge, monkeypatch):
    """All ends are claimed before any pivot; only what happens to be true may be let through."""
    monkeypatch.setattr(many_lps, "_pivot", lambda tab, limit: np.full((tab.live, 4), claim))
    for _, problems in nasty_lots(21, lots=5, k=60):
        count = compare(problems, solve_many(*problems), judge)
        assert count[UNDECIDED] > 30


def test_the_dearest_answer_is_not_let_through_as_the_cheapest(judge, monkeypatch):
    """Pivots that maximise: x holds, but its cost is not the bound."""
    pivot = many_lps._pivot

    def upside_down(tab, limit):
        tab.t[:, tab.m] *= -1
        tab.side *= -1
        tab.fill_values()
        return pivot(tab, limit)

    monkeypatch.setattr(many_lps, "_pivot", upside_down)
    for _, problems in nasty_lots(22, lots=5, k=60):
        count = compare(problems, solve_many(*problems), judge)
        assert count[UNDECIDED] > 30


def test_what_was_not_proved_is_tried_once_more(judge, monkeypatch):
    pivot, calls = many_lps._pivot, []

    def idle_at_first(tab, limit):
        calls.append(tab.live)
        return pivot(tab, limit if len(calls) > 1 else 0)

    monkeypatch.setattr(many_lps, "_pivot", idle_at_first)
    _, problems = next(nasty_lots(23, lots=1, k=60))
    assert compare(problems, solve_many(*problems), judge)[UNDECIDED] == 0
    assert calls == [60, 60]


def test_shuffled_choices_reach_the_same_answers(judge, monkeypatch):
    monkeypatch.setattr(many_lps, "PATIENCE", 0)
    for _, problems in nasty_lots(24, lots=5, k=60):
        assert compare(problems, solve_many(*problems), judge)[UNDECIDED] == 0


def exact_bound(cost, problem, price):
    """Weak duality in fractions, no rounding at all."""
    _, a, row_lo, row_hi, col_lo, col_hi = problem
    y = [Fraction(v) for v in price]
    total = sum(
        v * Fraction(lo if v > 0 else hi) for v, lo, hi in zip(y, row_lo, row_hi, strict=True) if v
    )
    for j, price_j in enumerate(cost):
        d = Fraction(price_j) - sum(v * Fraction(a[i, j]) for i, v in enumerate(y) if v)
        total += d * Fraction(col_lo[j] if d > 0 else col_hi[j])
    return total


def test_every_bound_holds_in_exact_arithmetic():
    """derived: the same prices, bound worked again in fractions."""
    seen = np.zeros(3, dtype=int)
    for _, problems in nasty_lots(8, lots=12, k=25):
        answers = solve_many(*problems)
        for k, status in enumerate(answers.status):
            one = [v[k] for v in problems]
            cost = np.zeros(len(one[0])) if status == INFEASIBLE else one[0]
            bound = exact_bound(cost, one, answers.row_price[k])
            seen[status] += 1
            if status == INFEASIBLE:
                assert bound > 0
            else:
                assert Fraction(answers.lower_bound[k]) <= bound
    assert seen[OPTIMAL] > 200 and seen[INFEASIBLE] > 20


def test_row_price_is_the_cost_of_one_more():
    """derived: the limit moved by a millionth of the row's size, both ways."""
    rng = np.random.default_rng(9)
    n, m = 12, 8
    a, c = rng.uniform(0.1, 2, (m, n)), rng.uniform(0.5, 2, n)
    row_lo = a @ (rng.random(n) < 0.4) * rng.uniform(0.5, 0.9, m)
    base = solve_many(c, a, row_lo, [INF] * m, [0] * n, [1] * n)
    step = 1e-6 * np.concatenate((np.eye(m), -np.eye(m)))
    moved = solve_many(
        c, a, row_lo + step, [INF] * m, [0] * n, [1] * n, start=base.basis.take([0] * 2 * m)
    )
    slope = (moved.cost[:m] - moved.cost[m:]) / 2e-6
    assert (base.row_price > 0).sum() >= 2
    assert slope == pytest.approx(base.row_price[0], abs=1e-6)


# ---- the way it is called -----------------------------------------------------------------------


def test_shared_arrays_and_small_lots_change_nothing(monkeypatch):
    rng = np.random.default_rng(10)
    c, a, row_lo, row_hi, col_lo, col_hi = (v[0] for v in nasty(rng, 1, 9, 6))
    costs = c + rng.normal(0, 0.2, (23, 9))
    shared = solve_many(costs, a, row_lo, row_hi, col_lo, col_hi)
    own = [np.repeat(v[None], 23, axis=0) for v in (a, row_lo, row_hi, col_lo, col_hi)]
    monkeypatch.setattr(many_lps, "AT_ONCE", 7)
    for other in (
        solve_many(costs, *own),
        solve_many(costs, a, row_lo, row_hi, col_lo, col_hi, start=shared.basis),
    ):
        assert other.status.tolist() == shared.status.tolist()
        assert other.cost == pytest.approx(shared.cost, rel=1e-10, nan_ok=True)
        assert other.basis.rests.shape == (23, 15)


def test_a_problem_alone_gets_the_answer_it_gets_in_company():
    _, problems = next(nasty_lots(11, lots=1, k=40))
    together = solve_many(*problems)
    for k in range(40):
        alone = solve_many(*(v[k] for v in problems))
        assert alone.status[0] == together.status[k]
        np.testing.assert_allclose(alone.x[0], together.x[k], rtol=0, atol=1e-9)


def test_same_call_same_digits():
    _, problems = next(nasty_lots(12, lots=1, k=40))
    one, two = solve_many(*problems), solve_many(*problems)
    np.testing.assert_array_equal(one.x, two.x)
    np.testing.assert_array_equal(one.lower_bound, two.lower_bound)


def test_inputs_are_left_alone():
    _, problems = next(nasty_lots(13, lots=1, k=10))
    before = [v.copy() for v in problems]
    solve_many(*problems)
    for old, new in zip(before, problems, strict=True):
        np.testing.assert_array_equal(old, new)


def test_no_problems_no_answers():
    got = solve_many(np.empty((0, 2)), [[1, 1]], [1], [2], [0, 0], [1, 1])
    assert got.status.shape == (0,)
    assert got.x.shape == (0, 2)


GOOD = {
    "c": [1.0, 2.0],
    "A": [[1.0, 1.0], [1.0, 0.0]],
    "row_lo": [1.0, -INF],
    "row_hi": [INF, 1.0],
    "col_lo": [0.0, 0.0],
    "col_hi": [1.0, 1.0],
}


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"A": [[1.0, 1.0], [np.nan, 0.0]]}, r"^A\[1, 0\]: nan; a finite number is allowed"),
        ({"A": [[[1.0, 1.0], [1.0, INF]]]}, r"^A\[0, 1, 1\]: inf; a finite number is allowed"),
        ({"c": [1.0, -INF]}, r"^c\[1\]: -inf; a finite number is allowed"),
        ({"row_lo": [np.nan, 0.0]}, r"^row_lo\[0\]: nan; a finite number or -inf is allowed"),
        ({"row_lo": [1.0, INF]}, r"^row_lo\[1\]: inf; a finite number or -inf is allowed"),
        ({"row_hi": [[-INF, 1.0]]}, r"^row_hi\[0, 0\]: -inf; a finite number or inf is allowed"),
        ({"col_lo": [0.0, -INF]}, r"^col_lo\[1\]: -inf; a finite number is allowed"),
        ({"col_hi": [0.0, INF]}, r"^col_hi\[1\]: inf; a finite number is allowed"),
        ({"c": [1.0]}, r"^c: shape \(1,\); \(2,\) or \(K, \*\(2,\)\) is allowed"),
        ({"A": np.empty((0, 2))}, r"^A: shape \(0, 2\); at least one row and column"),
        ({"c": np.ones((2, 2)), "col_hi": np.ones((3, 2))}, "different numbers of problems"),
        ({"start": Basis(np.zeros((1, 3), dtype=np.int8))}, "different numbers of problems"),
    ],
)
def test_what_cannot_be_used_is_named(change, message):
    with pytest.raises(OutOfRange, match=message):
        solve_many(**(GOOD | change))


def test_huge_but_finite_numbers_do_no_harm():
    """No status may be wrong; nobody promises an answer."""
    got = solve_many([1e300, 1.0], [[1e300, 1e-300]], [1e300], [INF], [0, 0], [1e300, 1e300])
    assert got.status[0] in (OPTIMAL, UNDECIDED)
    assert got.lower_bound[0] <= 1e300
