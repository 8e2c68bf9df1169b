"""How fast and how right: the search beside what a nutritionist would write. Prints ratios of one run.

    python tests/bench/bench_mix.py

Times depend on the machine and its other work; the ratios are taken in one run and mean more.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pulp

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "properties"))

from strategies import seeded_farm  # noqa: E402

from ration import search, solve  # noqa: E402
from ration.model import MixModel, Problem  # noqa: E402
from ration.needs import Array  # noqa: E402

FARMS = 200
LOOP_FARMS = 500
FEEDS = 20
SLOW_FARMS = 60
FIXED = (0.55, 1.5)  # quality and level that a script without proof starts from
SHORT_SHARE = 1e-4
DEAR_SHARE = 2e-3


def at(model: MixModel, q: float, level: float) -> Problem:
    """The programme at one quality and level: needs as numbers, nothing tied to the mix."""
    quality = np.array([q])
    need, ceiling = model.energy_limits(quality)
    by_n, by_e = model.needs.protein_value(model.chemistry, np.array([level]))
    mp, inf = model.needs.protein_need(), np.inf
    return Problem(
        model.cost,
        np.vstack([model.me, by_n[0], by_e[0], model.fixed]),
        np.concatenate([[need[0], mp, mp], model.fixed_lo]),
        np.concatenate([[ceiling[0], inf, inf], model.fixed_hi]),
        model.col_lo,
        model.col_hi,
        model.names,
        ("energy", "rumen", "ferment", *(r.id for r in model.rows)),
        np.zeros(len(model.cost), dtype=bool),
    )


def with_cbc(problem: Problem) -> Array | None:
    """The script a nutritionist would write: PuLP and the solver that comes with it."""
    model = solve.build(problem)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        status = model.solve(pulp.PULP_CBC_CMD(msg=False))
    if status != 1:
        return None
    values = {v.name: v.varValue for v in model.variables()}
    return np.array([values.get(f"x{j}", 0.0) for j in range(len(problem.cost))])


def with_highs(problem: Problem) -> Array | None:
    """The same by HiGHS."""
    return solve.run(problem).values


def loop(
    model: MixModel, solver: Callable[[Problem], Array | None], tries: int = 30
) -> tuple[Array | None, bool, int]:
    """Solve, work the quality and level out again, solve again: mix, settled?, programmes."""
    (q, level), last = FIXED, None
    for n in range(1, tries + 1):
        last = solver(at(model, q, level))
        if last is None:
            return None, False, n
        q_new, level_new = (float(v[0]) for v in model.quality_and_level(last[None]))
        if abs(q_new - q) < 1e-6 and abs(level_new - level) < 1e-6:
            return last, True, n
        lo, hi = model.needs.quality
        q, level = float(np.clip(q_new, lo, hi)), float(np.clip(level_new, *model.needs.level))
    return last, False, tries


def ms(seconds: list[float], share: float = 0.5) -> float:
    return 1000 * float(np.quantile(seconds, share))


def bare(problem: Problem) -> None:
    """PuLP and HiGHS alone, without the checks and prices of `ration.solve`."""
    solve.build(problem).solve(pulp.HiGHS(msg=False))


def timed(call: Callable[[], Any], seconds: list[float]) -> Any:
    """What the call gives; its time is put on the list."""
    began = time.perf_counter()
    given = call()
    seconds.append(time.perf_counter() - began)
    return given


def speed() -> None:
    """Times of the search and of plain solves, in units of one PuLP + HiGHS solve."""
    search_s: list[float] = []
    highs_s: list[float] = []
    bare_s: list[float] = []
    cbc_s: list[float] = []
    loop_s: list[float] = []
    loop_cbc_s: list[float] = []
    programmes, rows, gaps = [], [], []
    search.search(seeded_farm(FARMS, FEEDS).model)  # first use of a library is not timed
    bare(seeded_farm(0, FEEDS).model.exact_problem(np.full(FEEDS, 0.05)))
    for seed in range(FARMS):
        model = seeded_farm(seed, FEEDS).model
        found = timed(lambda model=model: search.search(model)[0], search_s)
        programmes.append(found.linear_programmes)
        if found.x is None:
            continue
        gaps.append(found.gap_share)
        problem = model.exact_problem(found.x)
        rows.append(len(problem.row_lo))
        timed(lambda problem=problem: solve.run(problem), highs_s)
        timed(lambda problem=problem: bare(problem), bare_s)
        if seed < SLOW_FARMS:
            timed(lambda model=model: with_cbc(at(model, *FIXED)), cbc_s)
            timed(lambda model=model: loop(model, with_highs), loop_s)
            timed(lambda model=model: loop(model, with_cbc), loop_cbc_s)
    one = ms(highs_s)
    print(
        f"{FARMS} random batches, {FEEDS} feeds, {min(rows)} to {max(rows)} rows; "
        f"widest gap proved {max(gaps):.3%}"
    )
    for name, value in (
        ("one PuLP + HiGHS solve of the same matrix", one),
        ("the same without our checks and prices", ms(bare_s)),
        ("search over all q and L with proof, median", ms(search_s)),
        ("search, 95th percentile", ms(search_s, 0.95)),
        ("search, slowest", ms(search_s, 1.0)),
        ("PuLP + CBC at one fixed q and L, no proof", ms(cbc_s)),
        ("loop of PuLP + HiGHS, median", ms(loop_s)),
        ("loop of PuLP + CBC, median", ms(loop_cbc_s)),
    ):
        print(f"  {name:44} {value:8.1f} ms {value / one:6.1f} solves")
    print(
        f"  programmes a search: median {statistics.median(programmes):.0f}, most {max(programmes)}"
    )


@dataclass
class Tally:
    """How a way without proof does beside the search."""

    right: int = 0
    dearer: list[float] = field(default_factory=list)
    short: list[float] = field(default_factory=list)
    unsettled: int = 0
    none: int = 0

    def count(self, model: MixModel, best: float, x: Array | None, *, settled: bool) -> None:
        """Put one answer where it belongs: each farm is counted once."""
        if x is None:
            self.none += 1
            return
        missed = float(model.shortfalls(x[None]).max())
        over = float(model.cost @ x) / best - 1
        if missed > SHORT_SHARE:
            self.short.append(missed)
        elif over > DEAR_SHARE:
            self.dearer.append(over)
        else:
            self.right += 1
        self.unsettled += not settled

    def show(self) -> None:
        total = self.right + len(self.dearer) + len(self.short) + self.none

        def line(words: str, number: int, sizes: list[float]) -> None:
            tail = f", mean {np.mean(sizes):.1%}, most {max(sizes):.1%}" if sizes else ""
            print(f"    {words:44} {number:4d} ({number / total:.0%}){tail}")

        line(f"right within {DEAR_SHARE:.1%}", self.right, [])
        line("dearer", len(self.dearer), self.dearer)
        line("short of the need of its own mix", len(self.short), self.short)
        line("says no mix, though there is one", self.none, [])
        line("of all these, did not settle in 30 rounds", self.unsettled, [])


def without_proof() -> None:
    """The two scripts a nutritionist would write, on farms that have a mix."""
    fixed, looped = Tally(), Tally()
    farms = 0
    for seed in range(LOOP_FARMS):
        model = seeded_farm(seed, FEEDS).model
        found = search.search(model)[0]
        if found.x is None:
            continue
        farms += 1
        fixed.count(model, found.cost, with_highs(at(model, *FIXED)), settled=True)
        x, settled, _ = loop(model, with_highs)
        looped.count(model, found.cost, x, settled=settled)
    print(f"{LOOP_FARMS} random farms, {farms} of which have a mix")
    print(f"  solve once at q {FIXED[0]} and L {FIXED[1]}")
    fixed.show()
    print("  solve, work q and L out, solve again")
    looped.show()


def command() -> None:
    farm = HERE.parents[1] / "ration" / "demo" / "quernhope.yaml"
    seconds = []
    for _ in range(5):
        t = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "ration", "mix", str(farm), "--json"],
            stdout=subprocess.DEVNULL,
            check=True,
        )
        seconds.append(time.perf_counter() - t)
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(
        f"the whole command on the demo farm, worth of every feed included: {ms(seconds) / 1000:.2f} s, "
        f"{peak:.0f} MB"
    )
    t = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "ration", "--help"], stdout=subprocess.DEVNULL, check=True
    )
    print(f"ration --help: {time.perf_counter() - t:.2f} s")


if __name__ == "__main__":
    speed()
    without_proof()
    command()
