"""The fine programme: every period's ration on lines that touch its true needs."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ration import solve
from ration.model import MOVING
from ration.needs import Array
from ration.winter import joint
from ration.winter.coarse import GAP_SHARE, Coarse, loads_in
from ration.winter.joint import NOTHING, Grain, Rows, Settled
from ration.winter.season import Season
from ration.winter.work import Answer, Work

_MEETS = 3e-7
_MOST_REFINEMENTS = 25
_TRACE_KG = 1e-7


@dataclass(frozen=True)
class Fine:
    """A plan on true needs: its programme solved and every ration."""

    answer: Answer
    rations: Mapping[tuple[int, int], Array]
    shortfall: float

    @property
    def cost(self) -> float:
        """Of the programme. [GBP]"""
        return float(self.answer.solution.cost or np.inf)


def tangents(
    season: Season, rations: Mapping[tuple[int, int], Array], reach: float
) -> dict[tuple[int, int], Rows]:
    """Rows that touch the true needs of every batch and period at a ration.

    Parameters
    ----------
    reach : float
        How far each feed may move from the ration. [kg DM/head/day]
    """
    out = {}
    for key, model in season.models.items():
        x = rations[key]
        rows, lo, hi = model.tangent_rows(x[None])
        out[key] = Rows(
            np.vstack([rows[0], model.fixed]),
            np.concatenate([lo[0], model.fixed_lo]),
            np.concatenate([hi[0], model.fixed_hi]),
            np.maximum(model.col_lo, x - reach),
            np.minimum(model.col_hi, x + reach),
            tuple(range(len(MOVING))),
        )
    return out


def refine(
    work: Work,
    rations: Mapping[tuple[int, int], Array],
    *,
    is_whole: bool = False,
    seconds: float | None = None,
    settled: Settled = NOTHING,
    start: Answer | None = None,
) -> Fine | None:
    """Rations and purchases of the fine programme with lines that touch, worked till they rest.

    Returns None when the settled loads cannot feed the winter.
    """
    since = time.perf_counter()
    season = work.season
    grain = Grain.of_periods(season)
    now = dict(rations)
    reach, best = np.inf, None
    worst_before = np.inf
    rest: object = None
    for turn in range(_MOST_REFINEMENTS):
        rows = tangents(season, now, reach)
        book, first = joint.build(grain, rows, settled)
        programme = book.problem()
        if not is_whole:
            programme = programme.relaxed()
        first_try = None if start is None else np.array([start[key] for key in book.columns])
        solution = solve.run(
            programme, seconds=seconds, gap_share=GAP_SHARE / 4, rest=rest, start=first_try
        )
        if solution.values is None:
            break
        rest = solution.rest
        answer = Answer(book, programme, first, solution)
        moved = 0.0
        worst = 0.0
        for key, model in season.models.items():
            x = answer.ration(*key, len(season.offers))
            x = np.where(x > _TRACE_KG, x, 0.0)
            moved = max(moved, float(np.abs(x - now[key]).max()))
            worst = max(worst, float(model.shortfalls(x[None]).max()))
            now[key] = x
        if is_whole or worst <= _MEETS:
            best = Fine(answer, dict(now), worst)
            if is_whole or moved < 1e-4 or turn > 8 or work.left < 0:
                break
        if turn >= 5 and worst > 0.5 * worst_before:
            reach = min(reach, 0.1) / 2
        worst_before = worst
    work.clock("refine", since)
    return best


def in_fine(grain: Grain, loads: Mapping[tuple[int, int], float]) -> dict[tuple[int, int], float]:
    """Loads of blocks put on periods: one at the first of its block, more spread over it."""
    out: dict[tuple[int, int], float] = {}
    for (g, s), count in loads.items():
        inside = grain.steps[s]
        for k in range(round(count)):
            t = inside[k * len(inside) // round(count)]
            out[g, t] = out.get((g, t), 0.0) + 1.0
    return out


def within_blocks(
    work: Work,
    coarse: Coarse,
    loads: Mapping[tuple[int, int], float],
    tiers: Mapping[int, int],
) -> Fine | None:
    """The fine programme with the loads of a block free to come at any of its periods."""
    blocks = [
        (inside, g, loads.get((g, s), 0.0))
        for s, inside in enumerate(coarse.grain.steps)
        for g, terms in enumerate(work.season.terms)
        if not terms.is_free
    ]
    fine = refine(
        work,
        coarse.rations,
        is_whole=True,
        seconds=max(min(work.left * 0.3, 8.0), 1.0),
        settled=Settled(block_loads=blocks, tiers=tiers),
    )
    if fine is None:
        return None
    return refine(work, fine.rations, settled=Settled(loads=loads_in(fine.answer), tiers=tiers))


def used_loads(
    season: Season, loads: Mapping[tuple[int, int], float], fine: Fine
) -> dict[tuple[int, int], float]:
    """The settled loads that bring something."""
    return {
        (g, t): count
        for (g, t), count in loads.items()
        if sum(
            fine.answer["buy", s, k, t]
            for s in season.terms[g].supplies
            for k in season.live_tiers[s]
        )
        > 1e-6
    }
