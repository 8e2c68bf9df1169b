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
from pathlib import Path

import numpy as np
import pulp

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "properties"))

from strategies import seeded_farm  # noqa: E402

from ration import search, solve  # noqa: E402
from ration.model import MixModel, Problem  # noqa: E402

FARMS = 200
LOOP_FARMS = 500
FEEDS = 20


def at(model: MixModel, q: float, level: float) -> Problem:
    """The programme at one quality and level: needs as numbers, nothing tied to the mix."""
    quality = np.array([q])
    need, ceiling = model.energy_limits(quality)
    by_n, by_e = model.needs.protein_value(model.chemistry, np.array([level]))
    mp, inf = model.needs.mp_need(), np.inf
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


def with_cbc(problem: Problem) -> np.ndarray | None:
    """The script a nutritionist would write: PuLP and the solver that comes with it."""
    model = solve.build(problem)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        status = model.solve(pulp.PULP_CBC_CMD(msg=False))
    if status != 1:
        return None
    values = {v.name: v.varValue for v in model.variables()}
    return np.array([values.get(f"x{j}", 0.0) for j in range(len(problem.cost))])


def loop(model: MixModel, tries: int = 30) -> tuple[np.ndarray | None, bool, int]:
    """Solve, work the quality and level out again, solve again: mix, settled?, programmes."""
    q, level, last = 0.55, 1.5, None
    for n in range(1, tries + 1):
        answer = solve.run(at(model, q, level))
        if answer.values is None:
            return None, False, n
        last = answer.values
        q_new, level_new = (float(v[0]) for v in model.quality_and_level(last[None]))
        if abs(q_new - q) < 1e-6 and abs(level_new - level) < 1e-6:
            return last, True, n
        lo, hi = model.needs.quality
        q, level = float(np.clip(q_new, lo, hi)), float(np.clip(level_new, *model.needs.level))
    return last, False, tries


def ms(seconds: list[float], share: float = 0.5) -> float:
    return 1000 * float(np.quantile(seconds, share))


def speed() -> None:
    search_s, highs_s, cbc_s, programmes = [], [], [], []
    for seed in range(FARMS):
        model = seeded_farm(seed, FEEDS).model
        t = time.perf_counter()
        found = search.search(model)[0]
        search_s.append(time.perf_counter() - t)
        programmes.append(found.linear_programmes)
        if found.x is None:
            continue
        problem = model.exact_problem(found.x)
        t = time.perf_counter()
        solve.run(problem)
        highs_s.append(time.perf_counter() - t)
        if seed < 60:
            t = time.perf_counter()
            with_cbc(at(model, 0.55, 1.5))
            cbc_s.append(time.perf_counter() - t)
    one = ms(highs_s)
    rows = len(problem.row_lo)
    print(
        f"{FARMS} random batches, {FEEDS} feeds, about {rows} rows, gap 0.1 % proved over all q and L"
    )
    print(f"  one PuLP + HiGHS solve of the same matrix      {one:7.1f} ms   1.0")
    for name, share in (("median", 0.5), ("95th percentile", 0.95)):
        value = ms(search_s, share)
        print(
            f"  the search with proof, {name:16}        {value:7.1f} ms  {value / one:4.1f} solves"
        )
    print(
        f"  PuLP + CBC at one fixed q and L, no proof      {ms(cbc_s):7.1f} ms  {ms(cbc_s) / one:4.1f} solves"
    )
    print(
        f"  programmes a search, median and most           {statistics.median(programmes):7.0f}      {max(programmes)}"
    )


def the_loop() -> None:
    dearer, short, stuck, right, none = [], [], 0, 0, 0
    loop_s, search_s = [], []
    for seed in range(LOOP_FARMS):
        model = seeded_farm(seed, FEEDS).model
        t = time.perf_counter()
        found = search.search(model)[0]
        search_s.append(time.perf_counter() - t)
        t = time.perf_counter()
        x, settled, _ = loop(model)
        loop_s.append(time.perf_counter() - t)
        if found.x is None:
            continue
        if x is None:
            none += 1
            continue
        missed = float(model.shortfalls(x[None]).max())
        over = float(model.cost @ x) / found.cost - 1
        if missed > 1e-4:
            short.append(missed)
        if not settled:
            stuck += 1
        elif missed <= 1e-4 and over > 2e-3:
            dearer.append(over)
        elif missed <= 1e-4:
            right += 1
    total = right + len(dearer) + stuck + none
    print(f'the loop "solve, recompute, solve" on {LOOP_FARMS} farms, {total} of which have a mix')
    print(f"  right within 0.2 %                       {right}")
    print(
        f"  settles on a dearer mix                  {len(dearer)}"
        + (f", mean {np.mean(dearer):.1%}, most {max(dearer):.1%}" if dearer else "")
    )
    print(f"  does not settle in 30 rounds             {stuck}")
    print(f"  says no mix, though there is one         {none}")
    print(
        f"  its last mix misses its own need         {len(short)}"
        + (f", most {max(short):.1%}" if short else "")
    )
    print(f"  time beside the search with proof        {ms(loop_s) / ms(search_s):.1f}")


def command() -> None:
    farm = HERE.parents[1] / "ration" / "demo" / "quernhope.yaml"
    seconds = []
    for _ in range(5):
        t = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "ration.cli", "mix", str(farm), "--json"],
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
        [sys.executable, "-m", "ration.cli", "--help"], stdout=subprocess.DEVNULL, check=True
    )
    print(f"ration --help: {time.perf_counter() - t:.2f} s")


if __name__ == "__main__":
    speed()
    the_loop()
    command()
