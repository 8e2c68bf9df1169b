"""Two diet problems that the literature has solved, through our solvers and through SciPy.

Stigler's diet (77 foods, 9 nutrients, 1939 prices; citation in stigler.csv): 39.6617 dollars a
year, with the five foods and nutrient totals that Google's OR-Tools guide prints for its own
solver, Glop (developers.google.com/optimization/lp/stigler_diet). The textbooks' 39.69 (memory)
is Laderman's hand answer of 1947 from rounder figures. Prices (duals): SciPy 1.17.1.

The six-food diet of the SAS/OR manual (The OPTLP Procedure, "The Diet Problem"; the data were read
there, its answer was not). Least cost 12.081337881 and the foods to six figures stand in the
integration tests of another modelling library, Jamps (Apache-2.0); full digits: SciPy 1.17.1.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import linprog

from ration import many_lps, solve
from ration.model import Problem

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Answer:
    cost: float
    values: Array
    row_price: Array


@dataclass(frozen=True)
class Known:
    problem: Problem
    cost: float
    foods: dict[str, float]
    supplied: dict[str, float]
    row_price: dict[str, float]


def stigler() -> Known:
    with (Path(__file__).parent / "stigler.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.reader(line for line in file if not line.startswith("#")))
    head, least, *foods = table
    matrix = np.array([row[1:] for row in foods], dtype=float).T
    n = len(foods)
    problem = Problem(
        cost=np.ones(n),
        matrix=matrix,
        row_lo=np.array(least[1:], dtype=float),
        row_hi=np.full(len(matrix), np.inf),
        col_lo=np.zeros(n),
        # Dollars a day on one food. The whole diet costs 0.11, so 1 is never in the way.
        col_hi=np.ones(n),
        column_names=tuple(row[0] for row in foods),
        row_names=tuple(name.removesuffix("_per_usd") for name in head[1:]),
        integer=np.zeros(n, dtype=bool),
    )
    return Known(
        problem,
        cost=0.10866227820675685,
        foods={
            "Wheat Flour (Enriched)": 10.774457511918223 / 365,
            "Liver (Beef)": 0.6907834111074193 / 365,
            "Cabbage": 4.093268864842877 / 365,
            "Spinach": 1.8277960703546996 / 365,
            "Navy Beans, Dried": 22.275425687243036 / 365,
        },
        supplied={
            "energy_thousand_kcal": 3.0,
            "protein_g": 147.4135,
            "calcium_g": 0.8,
            "iron_mg": 60.4669,
            "vitamin_a_thousand_iu": 5.0,
            "vitamin_b1_mg": 4.1204,
            "vitamin_b2_mg": 2.7,
            "niacin_mg": 27.3160,
            "vitamin_c_mg": 75.0,
        },
        row_price={
            "energy_thousand_kcal": 0.00876515,
            "protein_g": 0.0,
            "calcium_g": 0.03173771,
            "iron_mg": 0.0,
            "vitamin_a_thousand_iu": 0.00040023,
            "vitamin_b1_mg": 0.0,
            "vitamin_b2_mg": 0.01635803,
            "niacin_mg": 0.0,
            "vitamin_c_mg": 0.00014412,
        },
    )


def six_foods() -> Known:
    inf = np.inf
    problem = Problem(
        cost=np.array([2.0, 3.5, 8.0, 1.5, 11.0, 1.0]),
        matrix=np.array(
            [
                [90.0, 120.0, 106.0, 97.0, 130.0, 180.0],
                [4.0, 8.0, 7.0, 1.3, 8.0, 9.2],
                [1.0, 5.0, 9.0, 0.1, 7.0, 1.0],
                [15.0, 11.7, 0.4, 22.6, 0.0, 17.0],
            ]
        ),
        row_lo=np.array([300.0, -inf, 8.0, 10.0]),
        row_hi=np.array([inf, 10.0, inf, inf]),
        col_lo=np.array([0.0, 0.0, 0.0, 0.0, 0.5, 0.0]),
        # Milk at most 1 is the problem's own; 20 of any other food costs 20, more than the diet.
        col_hi=np.array([20.0, 1.0, 20.0, 20.0, 20.0, 20.0]),
        column_names=("bread", "milk", "cheese", "potato", "fish", "yogurt"),
        row_names=("energy", "protein", "fat", "carbohydrate"),
        integer=np.zeros(6, dtype=bool),
    )
    return Known(
        problem,
        cost=12.081337881108173,
        foods={"milk": 0.05359877, "cheese": 0.44949882, "potato": 1.86516776, "fish": 0.5},
        supplied={"energy": 300.0, "protein": 10.0, "fat": 8.0},
        row_price={"carbohydrate": 0.0},
    )


def by_highs(p: Problem) -> Answer:
    found = solve.run(p)
    assert found.status == solve.OPTIMAL
    assert found.values is not None
    assert found.cost is not None
    assert found.row_price is not None
    return Answer(found.cost, found.values, found.row_price)


def by_many(p: Problem) -> Answer:
    found = many_lps.solve_many(p.cost, p.matrix, p.row_lo, p.row_hi, p.col_lo, p.col_hi)
    assert found.status.tolist() == [many_lps.OPTIMAL]
    assert found.lower_bound[0] == pytest.approx(found.cost[0], rel=1e-9)
    assert found.lower_bound[0] <= found.cost[0] + 1e-15
    return Answer(float(found.cost[0]), found.x[0], found.row_price[0])


def by_scipy(p: Problem) -> Answer:
    at_least, at_most = np.isfinite(p.row_lo), np.isfinite(p.row_hi)
    found = linprog(
        p.cost,
        A_ub=np.vstack([-p.matrix[at_least], p.matrix[at_most]]),
        b_ub=np.concatenate([-p.row_lo[at_least], p.row_hi[at_most]]),
        bounds=np.column_stack([p.col_lo, p.col_hi]),
    )
    assert found.status == 0, found.message
    prices = np.zeros(len(p.row_lo))
    cut = int(at_least.sum())
    prices[at_least] -= found.ineqlin.marginals[:cut]
    prices[at_most] += found.ineqlin.marginals[cut:]
    return Answer(found.fun, found.x, prices)


Solver = Callable[[Problem], Answer]
SOLVERS = pytest.mark.parametrize("solver", [by_highs, by_many, by_scipy], ids=lambda f: f.__name__)
PROBLEMS = pytest.mark.parametrize("known", [stigler(), six_foods()], ids=["stigler", "six-foods"])


def test_stigler_data_is_whole() -> None:
    problem = stigler().problem
    assert problem.matrix.shape == (9, 77)
    assert len(set(problem.column_names)) == 77


@SOLVERS
def test_stigler_diet_costs_39_6617_dollars_a_year(solver: Solver) -> None:
    assert 365 * solver(stigler().problem).cost == pytest.approx(39.6617, abs=0.00005)


@SOLVERS
@PROBLEMS
def test_cost_is_the_known_one(known: Known, solver: Solver) -> None:
    answer = solver(known.problem)
    assert answer.cost == pytest.approx(known.cost, rel=1e-9)
    assert float(known.problem.cost @ answer.values) == pytest.approx(known.cost, rel=1e-9)


@SOLVERS
@PROBLEMS
def test_foods_are_the_known_ones(known: Known, solver: Solver) -> None:
    values = solver(known.problem).values
    for name, value in zip(known.problem.column_names, values, strict=True):
        assert value == pytest.approx(known.foods.get(name, 0.0), abs=1e-8), name


@SOLVERS
@PROBLEMS
def test_nutrients_supplied_are_the_known_ones(known: Known, solver: Solver) -> None:
    supply = known.problem.matrix @ solver(known.problem).values
    for name, value in known.supplied.items():
        assert supply[known.problem.row_names.index(name)] == pytest.approx(value, abs=1e-4), name


@SOLVERS
@PROBLEMS
def test_prices_of_needs_are_the_known_ones(known: Known, solver: Solver) -> None:
    prices = dict(zip(known.problem.row_names, solver(known.problem).row_price, strict=True))
    for name, value in known.row_price.items():
        assert prices[name] == pytest.approx(value, abs=5e-9), name


@SOLVERS
@PROBLEMS
def test_prices_add_up_to_the_cost(known: Known, solver: Solver) -> None:
    """Least cost = sum of price x limit over the rows and the bounds that hold (strong duality)."""
    p, answer = known.problem, solver(known.problem)
    limit = np.where(answer.row_price > 0, p.row_lo, p.row_hi)
    reduced = p.cost - p.matrix.T @ answer.row_price
    held = np.where(reduced > 0, p.col_lo, p.col_hi)
    total = sum(y * b for y, b in zip(answer.row_price, limit, strict=True) if abs(y) > 1e-12)
    total += sum(d * b for d, b in zip(reduced, held, strict=True) if abs(d) > 1e-12)
    assert total == pytest.approx(known.cost, rel=1e-9)


@SOLVERS
@PROBLEMS
def test_price_is_what_one_more_unit_costs(known: Known, solver: Solver) -> None:
    """The sign and size of each price, by asking a little more and solving again."""
    p, answer = known.problem, solver(known.problem)
    for i, price in enumerate(answer.row_price):
        step = 1e-4 * abs(p.row_lo[i] if np.isfinite(p.row_lo[i]) else p.row_hi[i])
        move = np.zeros(len(p.row_lo))
        move[i] = step
        asked = replace(p, row_lo=p.row_lo + move, row_hi=p.row_hi + move)
        rise = (solver(asked).cost - answer.cost) / step
        assert rise == pytest.approx(price, rel=1e-4, abs=1e-8), p.row_names[i]


@PROBLEMS
def test_safe_caps_are_not_in_the_way(known: Known) -> None:
    """The caps that a bounded solver wants change nothing: SciPy without them agrees."""
    p = known.problem
    own = p.col_hi < known.cost / np.maximum(p.cost, 1e-9)
    free = replace(p, col_hi=np.where(own, p.col_hi, np.inf))
    assert by_scipy(free).cost == pytest.approx(known.cost, rel=1e-9)
