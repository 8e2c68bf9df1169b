"""Programmes kept sparse, and what `solve.run` promises of whole numbers.

`scipy.optimize.milp` and `linprog` are HiGHS behind another door: they judge how a programme is put
and what is read back, on the same matrices. The hard problems are market splits (Cornuejols and
Dawande 1999: from memory): many yes-or-no columns whose sums are to come near given totals; an
answer is found at once, a proof takes longer than any test.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.optimize import LinearConstraint, OptimizeResult, linprog, milp
from winter.small import (
    as_scipy,
    dense,
    fine_grain,
    random_farm,
    rations_at,
    season_of,
    supplies,
)

from ration import solve
from ration.errors import OutOfRange
from ration.model import Problem
from ration.programme import Book, Sparse
from ration.quotes.records import Quote, Tier
from ration.winter import joint, planner
from ration.winter.coarse import Coarse
from ration.winter.fine import tangents
from ration.winter.joint import Settled
from ration.winter.work import Work

GAP = 1e-3

# ---- putting a programme together (origin: NumPy on the dense matrix)


def shopping() -> Book:
    """By hand: 2 x + 3 y with x + y >= 4, x <= 3, y whole, x and y named twice in a row."""
    page = Book()
    page.column("x", 2.0, hi=3.0)
    page.column(("y", 1), 3.0, whole=True)
    page.row("enough", [("x", 0.5), (("y", 1), 1.0), ("x", 0.5)], lo=4.0)
    page.row("nothing", {"x": 0.0}, hi=1.0)
    page.dense_rows(
        "block", 0, np.array([[1.0, -1.0], [0.0, 2.0]]), np.full(2, -9.0), np.full(2, 9.0)
    )
    return page


def test_book_gives_the_matrix_that_was_written() -> None:
    page = shopping()
    made = page.problem()
    assert dense(made) == pytest.approx(np.array([[1, 1], [0, 0], [1, -1], [0, 2]]))
    assert made.row_names == ("enough", "nothing", "('block', 0)", "('block', 1)")
    assert page.rows["block", 1] == 3
    assert made.integer.tolist() == [False, True]
    assert made.col_hi.tolist() == [3.0, np.inf]
    assert (made.row_lo[0], made.row_hi[0]) == (4.0, np.inf)
    found = solve.run(made)
    assert found.values == pytest.approx([3.0, 1.0])
    assert found.cost == pytest.approx(9.0)


def test_names_are_used_once_and_columns_stand_before_their_rows() -> None:
    page = shopping()
    with pytest.raises(KeyError):
        page.column("x")
    with pytest.raises(KeyError):
        page.row("enough", {"x": 1.0})
    with pytest.raises(KeyError):
        page.row("late", {"z": 1.0})


def test_sparse_sums_are_those_of_the_dense_matrix() -> None:
    rng = np.random.default_rng(1)
    for _ in range(50):
        m, n = (int(v) for v in rng.integers(1, 12, 2))
        full = rng.normal(size=(m, n)) * (rng.random((m, n)) < 0.4)
        row, column = np.nonzero(full)
        kept = Sparse(row, column, full[row, column], (m, n))
        x, y = rng.normal(size=n), rng.normal(size=m)
        assert kept @ x == pytest.approx(full @ x)
        assert kept.transposed_times(y) == pytest.approx(full.T @ y)
        for i, (at, values) in enumerate(kept.by_row()):
            assert at.tolist() == np.flatnonzero(full[i]).tolist()
            assert values == pytest.approx(full[i][at])


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_number_that_is_none_is_refused_by_name(bad: float) -> None:
    made = shopping().problem()
    spoilt = replace(made.matrix, value=np.where(np.arange(5) == 1, bad, made.matrix.value))
    with pytest.raises(OutOfRange, match=r"\('y', 1\), row enough is not a number"):
        solve.run(replace(made, matrix=spoilt))
    with pytest.raises(OutOfRange, match="cost of x"):
        solve.run(replace(made, cost=np.array([bad, 1.0])))


def test_limits_that_are_no_number_are_refused_by_name() -> None:
    made = shopping().problem()
    lo = made.row_lo.copy()
    lo[0] = np.nan
    with pytest.raises(OutOfRange, match="row lower limit of enough"):
        solve.run(replace(made, row_lo=lo))


def test_an_empty_row_that_asks_for_something_has_no_answer() -> None:
    page = shopping()
    page.row("from nothing", {}, lo=1.0)
    assert solve.run(page.problem()).status == solve.INFEASIBLE


# ---- whole numbers, stopped and started


def market_split(seed: int = 3, many: int = 40, rows: int = 4) -> Problem:
    """Yes-or-no columns whose sums miss half of each total by as little as can be."""
    rng = np.random.default_rng(seed)
    page = Book()
    weights = rng.integers(1, 100, (rows, many))
    for j in range(many):
        page.column(("take", j), hi=1.0, whole=True)
    for i in range(rows):
        page.column(("over", i), 1.0)
        page.column(("under", i), 1.0)
        half = float(weights[i].sum() // 2)
        terms = [(("take", j), float(weights[i, j])) for j in range(many)]
        page.row(("half", i), [*terms, (("over", i), -1.0), (("under", i), 1.0)], half, half)
    return replace(page.problem(), cost=page.problem().cost + 0.0)


def keeps(made: Problem, x: np.ndarray) -> bool:
    s = made.matrix @ x
    whole = x[made.integer]
    return bool(
        (s >= made.row_lo - 1e-5).all()
        and (s <= made.row_hi + 1e-5).all()
        and np.abs(whole - whole.round()).max() < 1e-5
    )


def assert_found_not_proved(made: Problem, found: solve.Solution) -> None:
    assert found.status == solve.FOUND
    assert found.values is not None and found.cost is not None
    assert keeps(made, found.values)
    assert found.bound is None or found.bound <= found.cost + 1e-9
    assert (found.row_price, found.col_price, found.price_range) == (None, None, None)


def test_a_watcher_stops_a_run_and_the_answer_is_called_found_not_proved() -> None:
    made, told = market_split(), []

    def watch(p: solve.Progress) -> bool:
        told.append(p)
        return np.isfinite(p.best) and p.best < 1e15 and p.seconds > 0.05

    began = time.perf_counter()
    found = solve.run(made, watch=watch, seconds=30)
    assert time.perf_counter() - began < 15
    assert told and all(p.bound <= p.best + 1e-9 for p in told)
    assert_found_not_proved(made, found)


def test_a_watcher_that_never_stops_changes_nothing() -> None:
    made = shopping().problem()
    assert solve.run(made, watch=lambda _: False).status == solve.OPTIMAL


def test_a_run_stopped_before_any_answer_has_none() -> None:
    found = solve.run(market_split(), watch=lambda _: True)
    assert found.status in (solve.FOUND, solve.UNDECIDED)
    assert (found.values is None) == (found.status == solve.UNDECIDED)
    assert (found.cost is None) == (found.status == solve.UNDECIDED)


def test_a_time_limit_gives_the_best_found_and_never_calls_it_optimal() -> None:
    made = market_split()
    began = time.perf_counter()
    found = solve.run(made, seconds=0.7)
    assert time.perf_counter() - began < 10
    assert_found_not_proved(made, found)


def test_a_first_answer_is_kept_or_bettered() -> None:
    made = market_split()
    first = solve.run(made, seconds=1.5)
    assert first.values is not None
    worse = first.values.copy()
    again = solve.run(made, start=worse, watch=lambda p: p.best < 1e15)
    assert again.cost is not None
    assert again.cost <= first.cost + 1e-6


def test_a_first_answer_that_cannot_be_does_no_harm() -> None:
    made = shopping().problem()
    for start in (np.array([9.0, -5.0]), np.array([0.3, 0.7]), np.zeros(2)):
        found = solve.run(made, start=start)
        assert found.status == solve.OPTIMAL
        assert found.cost == pytest.approx(9.0)


def test_the_gap_asked_for_is_the_gap_proved() -> None:
    found = solve.run(an_order(), gap_share=0.05)
    assert found.status == solve.OPTIMAL
    assert found.bound is not None
    assert found.cost - found.bound <= 0.05 * abs(found.cost) + 1e-9


def test_linear_runs_report_no_bound_and_resume_from_where_they_rested() -> None:
    made = an_order()
    linear = replace(made, integer=np.zeros_like(made.integer))
    first = solve.run(linear)
    assert (first.status, first.bound) == (solve.OPTIMAL, None)
    assert solve.run(linear, rest=first.rest).cost == pytest.approx(first.cost, rel=1e-9)
    dearer = replace(linear, cost=linear.cost * np.linspace(1, 1.2, len(linear.cost)))
    assert solve.run(dearer, rest=first.rest).cost == pytest.approx(
        solve.run(dearer).cost, rel=1e-9
    )


# ---- 50 winters by scipy


def an_order() -> Problem:
    """The first of them that has an answer."""
    return next(made for _, made in orders(True) if solve.run(made, gap_share=0.5).cost is not None)


@cache
def orders(is_fine: bool) -> tuple[tuple[int, Problem], ...]:
    return tuple(_orders(is_fine))


def _orders(is_fine: bool) -> Iterator[tuple[int, Problem]]:
    """Programmes of random small farms with tiers, drops, bags and pallets."""
    for seed in range(35) if is_fine else range(100, 115):
        many = 2 + (seed % 4 == 0) if is_fine else 5
        place, quotes = random_farm(seed, periods=many, batches=2 if seed % 5 == 0 else 1)
        feed = quotes[-1].offer_id
        packed = (
            Quote(
                "store", feed, (Tier(0, 330),), pack="tonne bag", pack_kg=500.0, drop_charge_gbp=5
            ),
            Quote("mill", feed, (Tier(0, 345),), pack="bag", pack_kg=25.0, packs_per_pallet=22),
            Quote("shop", feed, (Tier(0, 350),), pack="bag", pack_kg=25.0),
        )
        usable = supplies(*(s.quote for s in quotes), packed[seed % 3])
        season = season_of(place, usable)
        rations = rations_at(season, planner.first_prices(season))
        if is_fine:
            rows = tangents(season, rations, 2.0)
            settled = Settled(are_packs_whole=True)
            page, _ = joint.build(fine_grain(season), rows, settled)
        else:
            coarse = Coarse(Work(season, 60.0, lambda _: None, lambda: False), rations)
            page, _ = joint.build(coarse.grain, coarse.rows())
        yield seed, page.problem()


def by_milp(made: Problem, *, presolve: bool) -> OptimizeResult:
    return milp(
        made.cost,
        constraints=LinearConstraint(dense(made), made.row_lo, made.row_hi),
        bounds=(made.col_lo, made.col_hi),
        integrality=made.integer.astype(int),
        options={"mip_rel_gap": GAP, "time_limit": 20, "presolve": presolve},
    )


def test_50_winters_cost_what_scipy_says() -> None:
    """SciPy is asked again another way where it comes out dearer than an answer that keeps all.

    The HiGHS 1.12 in SciPy 1.17 calls a dearer answer optimal of about one such programme in a
    hundred, with its presolve of some (seed 7 here) and without it of others.
    """
    whole = 0
    for seed, made in (*orders(True), *orders(False)):
        found, theirs = solve.run(made, gap_share=GAP, seconds=20), by_milp(made, presolve=True)
        if found.cost is not None and (theirs.status == 2 or theirs.mip_dual_bound > found.cost):
            theirs = by_milp(made, presolve=False)
        if theirs.status == 2:
            assert found.status == solve.INFEASIBLE, seed
            continue
        assert theirs.status == 0, (seed, theirs.message)
        assert found.status == solve.OPTIMAL, seed
        assert keeps(made, found.values), seed
        # both are proved to a part in a thousand: neither may be under the other's proof
        dust = 1e-5 * (1 + abs(found.cost))
        assert found.bound <= theirs.fun + dust, seed
        assert theirs.mip_dual_bound <= found.cost + dust, seed
        assert found.cost == pytest.approx(theirs.fun, rel=2 * GAP), seed
        whole += bool(np.abs(found.values[made.integer]).sum() > 0.5)
    assert whole >= 40


def test_linear_winters_cost_what_scipy_says() -> None:
    for seed, made in (*orders(True)[::3], *orders(False)[::3]):
        linear = replace(made, integer=np.zeros_like(made.integer))
        found, theirs = solve.run(linear), linprog(**as_scipy(linear))
        assert (found.status == solve.OPTIMAL) == (theirs.status == 0), seed
        if found.cost is None:
            continue
        assert found.cost == pytest.approx(theirs.fun, rel=1e-7, abs=1e-6), seed
        # prices prove it: sum of price times limit is the cost
        y = found.row_price
        d = linear.cost - linear.matrix.transposed_times(y)
        prices, los = np.append(y, d), np.append(linear.row_lo, linear.col_lo)
        his = np.append(linear.row_hi, linear.col_hi)
        at = np.where(prices > 0, los, his)[np.abs(prices) > 1e-7]
        assert np.isfinite(at).all(), seed
        total = float(prices[np.abs(prices) > 1e-7] @ at)
        assert total == pytest.approx(found.cost, rel=1e-5, abs=1e-3), seed
