"""The only module that talks to the solver: HiGHS, in process, through PuLP.

A problem goes in as arrays and comes out as a `Solution` whose status is honest: a run stopped by
a limit is never called optimal, an infeasible one carries no values, prices of an integer problem
are None. Signs: always a minimum; `row_price` > 0 is what one more unit asked of a row costs.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from importlib import metadata
from threading import Lock
from typing import Any

import highspy
import numpy as np
import pulp

from ration.errors import OutOfRange
from ration.errors import Problem as Fault
from ration.model import Problem
from ration.needs import Array
from ration.programme import Ints, Sparse

OPTIMAL, FOUND, INFEASIBLE, UNBOUNDED, UNDECIDED = (
    "OPTIMAL",
    "FOUND_NOT_PROVED",
    "INFEASIBLE",
    "UNBOUNDED",
    "UNDECIDED",
)


# On an integer problem this rule of the presolve of HiGHS 1.15.1 can end in a dearer answer called
# optimal, its bound over a cheaper true one; with the rule off the answer is right
# (`tests/winter/test_programme.py` holds 50 programmes against a second solver).
_AGGREGATOR = 1 << 12


@dataclass(frozen=True)
class Solution:
    """What the solver found.

    Attributes
    ----------
    status : str
        OPTIMAL (proved), FOUND_NOT_PROVED (a limit stopped it), INFEASIBLE, UNBOUNDED, UNDECIDED.
    values : array (n,) or None
    cost : float or None
    row_price : array (m,) or None
        Cost of one more unit asked; None with any integer column.
    col_price : array (n,) or None
        Reduced costs; None with any integer column.
    price_range : tuple of array (n,) or None
        Lowest and highest cost coefficient at which these values stay best (linear problems).
    solver : str
        Name and version.
    bound : float or None
        With integer columns: proved, no answer costs less. None when nothing was proved.
    rest : object
        Where the solver came to rest: handed to a like linear problem it spares work.
    """

    status: str
    values: Array | None
    cost: float | None
    row_price: Array | None
    col_price: Array | None
    price_range: tuple[Array, Array] | None
    solver: str
    bound: float | None = None
    rest: Any = None


@dataclass(frozen=True)
class Progress:
    """Where an integer problem stands: seconds gone, best cost so far (inf for none), bound."""

    seconds: float
    best: float
    bound: float


Watch = Callable[[Progress], bool]


class _Highs(pulp.HiGHS):  # type: ignore[misc]
    """PuLP's HiGHS, given a first answer and told when to stop."""

    def __init__(
        self, start: Array | None, watch: Watch | None, rest: Any = None, **options: Any
    ) -> None:
        self.start, self.watch, self.rest = start, watch, rest
        if watch is not None:
            wanted = highspy.cb.HighsCallbackType.kCallbackMipInterrupt
            options |= {"callbackTuple": (self.heard, None), "callbacksToActivate": [wanted]}
        super().__init__(msg=False, **options)

    def heard(self, _kind: Any, _message: str, told: Any, answer: Any, _user: Any) -> None:
        """HiGHS asks whether to go on."""
        best, bound = float(told.mip_primal_bound), float(told.mip_dual_bound)
        watch = self.watch
        if watch is not None and watch(Progress(float(told.running_time), best, bound)):
            answer.user_interrupt = True

    def callSolver(self, lp: Any) -> None:
        """Run, from the first answer when there is one."""
        if self.start is not None:
            first = highspy.HighsSolution()
            values = np.zeros(len(lp.variables()))
            for v in lp.variables():
                values[v.index] = self.start[int(v.name[1:])]
            first.col_value = values.tolist()
            lp.solverModel.setSolution(first)
        if self.rest is not None:
            lp.solverModel.setBasis(self.rest)
        lp.solverModel.run()


class _Quiet:
    """File descriptor 1 sent to the null device while any problem is being solved.

    Some solver versions print a banner from C++. Two problems may be solved side by side: the
    first to begin turns it off and the last to end turns it on again.
    """

    def __init__(self) -> None:
        self.lock, self.inside, self.saved = Lock(), 0, -1

    def __enter__(self) -> None:
        with self.lock:
            self.inside += 1
            if self.inside > 1:
                return
            self.saved, null = os.dup(1), os.open(os.devnull, os.O_WRONLY)
            os.dup2(null, 1)
            os.close(null)

    def __exit__(self, *_: object) -> None:
        with self.lock:
            self.inside -= 1
            if self.inside == 0:
                os.dup2(self.saved, 1)
                os.close(self.saved)


_QUIET = _Quiet()


def _is_sparse(problem: Problem) -> bool:
    return isinstance(problem.matrix, Sparse)


def _by_row(problem: Problem) -> Iterator[tuple[Ints, Array]]:
    if isinstance(problem.matrix, Sparse):
        yield from problem.matrix.by_row()
        return
    for row in problem.matrix:
        at = np.flatnonzero(row)
        yield at, row[at]


def _refuse_bad_numbers(problem: Problem) -> None:
    faults = []
    if isinstance(problem.matrix, Sparse):
        a = problem.matrix
        faults = [
            Fault(
                "",
                f"matrix of {problem.column_names[a.column[k]]}, row "
                f"{problem.row_names[a.row[k]]} is not a number",
                "numbers are wanted",
            )
            for k in np.flatnonzero(~np.isfinite(a.value))[:5]
        ]
    for what, values, allow_inf in (
        ("cost", problem.cost, False),
        ("matrix", np.zeros((0, 0)) if faults or _is_sparse(problem) else problem.matrix, False),
        ("row lower limit", problem.row_lo, True),
        ("row upper limit", problem.row_hi, True),
        ("column lower limit", problem.col_lo, True),
        ("column upper limit", problem.col_hi, True),
    ):
        numbers = np.asarray(values)
        bad = np.isnan(numbers) if allow_inf else ~np.isfinite(numbers)
        for where in np.argwhere(bad)[:5]:
            column = int(where[-1])
            is_row = what.startswith("row")
            name = problem.row_names[column] if is_row else problem.column_names[column]
            row = f", row {problem.row_names[int(where[0])]}" if len(where) == 2 else ""
            faults.append(Fault("", f"{what} of {name}{row} is not a number", "numbers are wanted"))
    if faults:
        raise OutOfRange(*faults)


def build(problem: Problem) -> pulp.LpProblem:
    """The problem as a PuLP model: columns x0, x1 ..., rows r0lo, r0hi ...

    Names are the solver's own, because a solver that tidies names can make two feeds one.
    """
    pairs: Any = getattr(pulp.LpAffineExpression, "from_list", pulp.LpAffineExpression)
    model = pulp.LpProblem("mix", pulp.LpMinimize)
    category = ["Integer" if i else "Continuous" for i in problem.integer]

    def bound(value: float) -> float | None:
        return float(value) if np.isfinite(value) else None

    columns = [
        model.add_variable(f"x{j}", bound(lo), bound(hi), category[j])
        for j, (lo, hi) in enumerate(zip(problem.col_lo, problem.col_hi, strict=True))
    ]
    model.setObjective(pairs(list(zip(columns, map(float, problem.cost), strict=True))))
    for i, (at, values) in enumerate(_by_row(problem)):
        terms = [(columns[j], v) for j, v in zip(at.tolist(), values.tolist(), strict=True)]
        lo, hi = problem.row_lo[i], problem.row_hi[i]
        if lo == hi:
            model.addConstraint(pairs(terms) == float(lo), f"r{i}eq")
            continue
        if np.isfinite(lo):
            model.addConstraint(pairs(terms) >= float(lo), f"r{i}lo")
        if np.isfinite(hi):
            model.addConstraint(pairs(terms) <= float(hi), f"r{i}hi")
    return model


def _empty_row_fault(problem: Problem) -> bool:
    if isinstance(problem.matrix, Sparse):
        empty = np.bincount(problem.matrix.row, minlength=len(problem.row_lo)) == 0
    else:
        empty = ~problem.matrix.any(axis=1)
    return bool(np.any(empty & ((problem.row_lo > 0) | (problem.row_hi < 0))))


def run(
    problem: Problem,
    *,
    seconds: float | None = None,
    ranging: bool = False,
    gap_share: float | None = None,
    start: Array | None = None,
    watch: Watch | None = None,
    rest: Any = None,
) -> Solution:
    """Solve one problem.

    Parameters
    ----------
    problem : Problem
        In plain arrays.
    seconds : float or None
        Time limit; an answer found under a limit but not proved is FOUND_NOT_PROVED.
    ranging : bool
        Also work out how far each cost can move (linear problems).
    gap_share : float or None
        With integer columns: gap at which to stop, as a share of the cost. [-]
    start : array (n,) or None
        A first answer, for integer problems.
    watch : callable or None
        Told the progress of an integer problem now and then; True stops it.
    rest : object
        `Solution.rest` of a linear problem with the same columns and rows.

    Raises
    ------
    OutOfRange
        A number is NaN, or infinite where it may not be; it names the column and row.
    """
    _refuse_bad_numbers(problem)
    version = f"PuLP {metadata.version('pulp')}, HiGHS {metadata.version('highspy')}"
    nothing = Solution(INFEASIBLE, None, None, None, None, None, version)
    if np.any(problem.col_lo > problem.col_hi) or np.any(problem.row_lo > problem.row_hi):
        return nothing
    if _empty_row_fault(problem):
        return nothing
    is_whole = bool(problem.integer.any())
    with _QUIET:
        model = build(problem)
        options: dict[str, Any] = {} if seconds is None else {"timeLimit": seconds}
        if is_whole:
            options["presolve_rule_off"] = _AGGREGATOR
        if is_whole and gap_share is not None:
            options["gapRel"] = gap_share
        outcome = model.solve(
            _Highs(
                start if is_whole else None,
                watch if is_whole else None,
                None if is_whole else rest,
                **options,
            )
        )
        status = _status(model, outcome)
        bound = _bound(model) if is_whole else None
        if status == FOUND and is_whole and not np.isfinite(_objective(model)):
            status = UNDECIDED
        price_range = _price_range(model, problem) if status == OPTIMAL and ranging else None
    if status not in (OPTIMAL, FOUND):
        return Solution(status, None, None, None, None, None, version, bound)
    columns = model.variables()
    by_name = {v.name: v for v in columns}
    ordered = [by_name.get(f"x{j}") for j in range(len(problem.cost))]
    values = np.array(
        [
            lo if v is None else float(v.varValue)
            for v, lo in zip(ordered, np.maximum(problem.col_lo, -1e300), strict=True)
        ]
    )
    row_price = col_price = None
    if not is_whole and status == OPTIMAL:
        row_price = _row_prices(model, len(problem.row_lo))
        a = problem.matrix
        passed_on = a.transposed_times(row_price) if isinstance(a, Sparse) else a.T @ row_price
        col_price = problem.cost - passed_on
    return Solution(
        status,
        values,
        float(problem.cost @ values),
        row_price,
        col_price,
        None if is_whole else price_range,
        version,
        bound,
        None if is_whole or status != OPTIMAL else model.solverModel.getBasis(),
    )


def _objective(model: pulp.LpProblem) -> float:
    return float(model.solverModel.getObjectiveValue())


def _bound(model: pulp.LpProblem) -> float | None:
    """What HiGHS proved of an integer problem; None when nothing."""
    bound = float(model.solverModel.getInfo().mip_dual_bound)
    return bound if np.isfinite(bound) else None


def _status(model: pulp.LpProblem, outcome: Any) -> str:
    code = int(getattr(outcome, "status", outcome))
    has_solution = getattr(outcome, "has_solution", None)
    if has_solution is None:  # PuLP 3: a limit also comes back as code 1
        if code == 1:
            return OPTIMAL if model.sol_status == 1 else FOUND
    elif code == 1:
        return OPTIMAL if has_solution else UNDECIDED
    solver = getattr(model, "solverModel", None)
    either = highspy.HighsModelStatus.kUnboundedOrInfeasible
    if code == -1 and solver is not None and solver.getModelStatus() == either:
        return UNDECIDED
    return {-1: INFEASIBLE, -2: UNBOUNDED}.get(code, UNDECIDED)


def _row_prices(model: pulp.LpProblem, rows: int) -> Array:
    prices = np.zeros(rows)
    constraints = model.constraints
    found = constraints() if callable(constraints) else constraints
    items = found.values() if isinstance(found, dict) else found
    for constraint in items:
        index = int(constraint.name[1:-2])
        prices[index] += float(constraint.pi or 0.0)
    return prices


def _price_range(model: pulp.LpProblem, problem: Problem) -> tuple[Array, Array] | None:
    solver = getattr(model, "solverModel", None)
    if solver is None:
        return None
    status, ranging = solver.getRanging()
    if status != highspy.HighsStatus.kOk:
        return None
    n = len(problem.cost)
    order = {name: i for i, name in enumerate(v.name for v in model.variables())}
    lows, highs = np.full(n, -np.inf), np.full(n, np.inf)
    for j in range(n):
        i = order.get(f"x{j}")
        if i is not None:
            lows[j] = ranging.col_cost_dn.value_[i]
            highs[j] = ranging.col_cost_up.value_[i]
    return lows, highs


def conflict(problem: Problem) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """An irreducible set of rows and column limits that cannot all hold (linear problems).

    Returns
    -------
    tuple
        Row indices and column indices; both empty when the problem is feasible.
    """
    _refuse_bad_numbers(problem)
    if isinstance(problem.matrix, Sparse):
        raise TypeError("a conflict is looked for in the mix of one batch, not in a winter")
    m, n = problem.matrix.shape
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = n, m
    lp.col_cost_ = np.zeros(n)
    lp.col_lower_, lp.col_upper_ = problem.col_lo, problem.col_hi
    lp.row_lower_, lp.row_upper_ = problem.row_lo, problem.row_hi
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    rows, cols = np.nonzero(problem.matrix)
    lp.a_matrix_.start_ = np.searchsorted(rows, np.arange(m + 1)).astype(np.int32)
    lp.a_matrix_.index_ = cols.astype(np.int32)
    lp.a_matrix_.value_ = problem.matrix[rows, cols]
    with _QUIET:
        solver: Any = highspy.Highs()  # type: ignore[no-untyped-call]
        solver.setOptionValue("output_flag", False)
        solver.setOptionValue("iis_strategy", 6)
        if solver.passModel(lp) == highspy.HighsStatus.kError:
            return (), ()
        solver.run()
        status, found = solver.getIis()
    if status == highspy.HighsStatus.kError:
        return (), ()
    return _irreducible(
        problem, [int(i) for i in found.row_index_], [int(j) for j in found.col_index_]
    )


def _irreducible(
    problem: Problem, rows: list[int], columns: list[int]
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Drop members one at a time while the rest still conflict: the solver's set may carry more.

    The least of a column always stays: what can be let go is a row, or the most of a column.
    """
    free_row, free_column = np.full(len(problem.row_lo), np.inf), np.full(len(problem.cost), np.inf)

    def still(kept_rows: list[int], kept_columns: list[int]) -> bool:
        row_lo, row_hi = -free_row, free_row.copy()
        col_hi = free_column.copy()
        row_lo[kept_rows], row_hi[kept_rows] = problem.row_lo[kept_rows], problem.row_hi[kept_rows]
        col_hi[kept_columns] = problem.col_hi[kept_columns]
        trial = replace(
            problem,
            cost=np.zeros_like(problem.cost),
            row_lo=row_lo,
            row_hi=row_hi,
            col_hi=col_hi,
        )
        return run(trial).status == INFEASIBLE

    if not (rows or columns) or not still(rows, columns):
        return tuple(rows), tuple(columns)
    for i in list(rows):
        fewer = [r for r in rows if r != i]
        if still(fewer, columns):
            rows = fewer
    for j in list(columns):
        fewer = [c for c in columns if c != j]
        if still(rows, fewer):
            columns = fewer
    return tuple(rows), tuple(columns)
