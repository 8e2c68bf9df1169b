"""The winter planner beside one big model given the same time.

Run alone on the machine: python tests/bench/bench_winter.py [farms] [seconds]

For each random farm (6 batches, 26 weeks, 20 feeds, 4 to 6 merchants with tiers, drop charges and
bags) it prints the cost of both plans, the gap the planner proved over all rations of the true
needs, the time and the memory. The big model is the same fine programme with every load, tier and
bag whole at once, on lines that touch the needs at rations found beforehand; its loads and tiers
are then held and its rations worked until they meet their true needs, as the planner's are.
"""

from __future__ import annotations

import resource
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import winter_farms

from ration import winter
from ration.winter import planner
from ration.winter.work import Work


def one_big_model(seed: int, seconds: float) -> tuple[float, float]:
    """Cost of the one model's plan [GBP], and the time it took [s]."""
    farm, book, offers, supplies = winter_farms.farm(seed)
    began = time.perf_counter()
    season = planner.season_of(farm, book, offers, supplies)
    # the clock of the run is let out: `seconds` holds for the one model, 12 s kept for its rations
    work = Work(season, 2 * seconds, lambda _: None, lambda: False)
    rations, _ = planner.alone(work)
    whole = max(seconds - 12.0, 5.0)
    found = planner.at_once(work, rations, are_packs_whole=True, seconds=whole).fine
    cost = float("inf") if found is None else found.cost + season.sunk_gbp
    return cost, time.perf_counter() - began


def main() -> None:
    """Print one line a farm, then what held."""
    farms = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 52.0
    print("farm quotes   plan GBP  bound GBP    gap      s   one model GBP      s   dearer by")
    close = never = 0
    for seed in range(farms):
        farm, book, offers, supplies = winter_farms.farm(seed)
        began = time.perf_counter()
        plan = winter.plan(
            farm, book, offers, supplies, seconds=seconds, with_values=False, gap_share=0.001
        )
        took = time.perf_counter() - began
        if plan.bill is None:
            print(f"{seed:4d} {plan.why_not}")
            continue
        cost, theirs = one_big_model(seed, seconds)
        close += plan.gap_share <= 0.01 and took <= 60
        never += plan.bill.total_gbp <= cost * (1 + 1e-6)
        print(
            f"{seed:4d} {len(supplies):6d} {plan.bill.total_gbp:10.2f} {plan.bound_gbp:10.2f} "
            f"{plan.gap_share:6.2%} {took:6.1f} {cost:15.2f} {theirs:6.1f} "
            f"{cost / plan.bill.total_gbp - 1:11.2%}",
            flush=True,
        )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"gap at most 1 % within 60 s: {close} of {farms}; not dearer than one model: {never}")
    print(f"most memory {peak:.0f} MB")


if __name__ == "__main__":
    main()
