"""The coarse programme: blocks of periods on rows that every ration satisfies; its bound holds."""

from __future__ import annotations

import time
from collections.abc import Mapping
from copy import copy
from dataclasses import replace

import numpy as np

from ration import search, solve
from ration.errors import NotProved
from ration.needs import Array
from ration.programme import Sparse
from ration.winter import calendar, fences, joint
from ration.winter.joint import NOTHING, Grain, Rows, Settled
from ration.winter.season import Season
from ration.winter.work import Answer, Work

BLOCKS, BLOCKS_WHEN_SMALL = 5, 4  # a small winter is to be quick
SMALL = 60  # batches times periods; in a small winter bags are counted here too
GAP_SHARE = 0.002
_SEARCH_GAP = 3e-4


class Coarse:
    """The coarse programme of a season and the true rows found for it so far."""

    def __init__(self, work: Work, rations: Mapping[tuple[int, int], Array]) -> None:
        self.work, self.season = work, work.season
        self.is_small = len(rations) <= SMALL
        most = BLOCKS_WHEN_SMALL if self.is_small else BLOCKS
        self.grain = Grain(self.season, calendar.blocks(len(self.season.periods), most))
        self.rations = dict(rations)
        self.last: Answer | None = None  # the latest with whole loads
        self.prices: dict[tuple[int, int], list[Array]] = {}
        self.bounds: dict[tuple[int, int], list[Array]] = {}
        self.fences: dict[tuple[int, int], fences.Fence] = {}
        self.reaches = {key: fences.reach(m) for key, m in self.season.models.items()}
        for b in range(len(self.season.batches)):
            for s, inside in enumerate(self.grain.steps):
                models = [self.season.models[b, t] for t in inside]
                middle = self.rations[b, inside[len(inside) // 2]]
                q = float(models[0].quality_and_level(middle[None])[0][0])
                reaches = [self.reaches[b, t] for t in inside]
                self.fences[b, s] = fences.fence(models, reaches, self.days(s), q)
                self.prices[b, s], self.bounds[b, s] = [], []

    def at(self, season: Season) -> Coarse:
        """The same rows for a season whose stores differ."""
        other = copy(self)
        other.season, other.grain = season, Grain(season, self.grain.steps)
        return other

    def days(self, s: int) -> Array:
        """Lengths of the periods in a block. [day]"""
        return np.array([float(self.season.periods[t].days) for t in self.grain.steps[s]])

    def rows(self) -> dict[tuple[int, int], Rows]:
        """The true rows of every batch and block."""
        out = {}
        for (b, s), fence in self.fences.items():
            weights = self.days(s) / self.days(s).sum()
            extra = np.array(self.prices[b, s]).reshape(-1, len(self.season.offers))
            least = np.array([float(weights @ v) for v in self.bounds[b, s]])
            out[b, s] = Rows(
                np.vstack([fence.matrix, extra]),
                np.concatenate([fence.lo, least]),
                np.concatenate([fence.hi, np.full(len(least), np.inf)]),
                fence.col_lo,
                fence.col_hi,
            )
        return out

    def solve(
        self,
        *,
        is_whole: bool,
        seconds: float | None = None,
        start: Array | None = None,
        gap_share: float = GAP_SHARE,
        watch: solve.Watch | None = None,
        settled: Settled = NOTHING,
    ) -> Answer:
        """The coarse programme, with or without whole loads and tiers."""
        settled = replace(settled, are_packs_whole=self.is_small)
        book, first = joint.build(self.grain, self.rows(), settled)
        programme = book.problem()
        if not is_whole:
            programme = programme.relaxed()
        answer = solve.run(
            programme, seconds=seconds, gap_share=gap_share, start=start, watch=watch
        )
        return Answer(book, programme, first, answer)

    def internal_prices(self, answer: Answer) -> dict[tuple[int, int], Array]:
        """What a kg DM of each feed costs each batch and block in a linear answer. [GBP/kg DM]"""
        duals = answer.solution.row_price
        if duals is None:
            return {}
        duals = duals.copy()
        for key, number in answer.book.rows.items():
            name = key[0][0] if isinstance(key[0], tuple) else key[0]  # type: ignore[index]
            if name == "need":
                duals[number] = 0.0
        matrix = answer.programme.matrix
        if not isinstance(matrix, Sparse):
            raise TypeError("a winter is kept sparse")
        internal = answer.programme.cost - matrix.transposed_times(duals)
        n = len(self.season.offers)
        out = {}
        for (b, s), at in answer.first.items():
            a_head_day = self.season.batches[b].head * self.grain.days(s)
            out[b, s] = np.maximum(internal[at : at + n] / a_head_day, 0.0)
        return out

    def search_at(self, prices: Mapping[tuple[int, int], Array]) -> None:
        """Search every period at its block's prices; keep the bound as a true row."""
        since = time.perf_counter()
        for (b, s), price in prices.items():
            least = np.zeros(len(self.grain.steps[s]))
            for i, t in enumerate(self.grain.steps[s]):
                model = self.season.models[b, t].with_cost(price)
                hints = [(0, self.rations[b, t])]
                if (b, t - 1) in self.rations:
                    hints.append((0, self.rations[b, t - 1]))
                found = search.search(model, gap_share=_SEARCH_GAP, start=hints, least_scale=1e-3)[
                    0
                ]
                if found.x is None:
                    raise NotProved("A ration found once was not found again; nothing is shown.")
                least[i] = found.lower_bound
                self.rations[b, t] = found.x
            self.prices[b, s].append(price)
            self.bounds[b, s].append(least)
        self.work.clock("search", since)

    def tighten(self, rounds: int) -> Answer:
        """Prices, searches, true rows, until the linear bound rests."""
        last = -np.inf
        answer = self.solve(is_whole=False)
        for _ in range(rounds):
            if not answer.is_found or self.work.ended():
                return answer
            cost = float(answer.solution.cost or 0.0)
            if cost - last <= 2e-4 * abs(cost):
                return answer
            last = cost
            self.search_at(self.internal_prices(answer))
            answer = self.solve(is_whole=False)
        return answer


def loads_in(answer: Answer) -> dict[tuple[int, int], float]:
    """Whole loads of an answer, by terms and step."""
    return {
        key[1:]: float(round(answer[key]))
        for key in answer.book.columns
        if isinstance(key, tuple) and key[0] == "drop" and round(answer[key])
    }


def settled_of(
    season: Season, answer: Answer
) -> tuple[dict[tuple[int, int], float], dict[int, int]]:
    """Whole loads of each terms and step, and the tier of each supply."""
    tiers = {}
    for supply, record in enumerate(season.supplies):
        count = len(record.quote.tiers)
        if count > 1:
            picked = [k for k in range(count) if answer["tier", supply, k] > 0.5]
            tiers[supply] = picked[0] if picked else 0
    return loads_in(answer), tiers
