"""What a run of the planner keeps, and a programme of the winter once solved."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from ration import solve
from ration.errors import NotProved
from ration.model import Problem as Programme
from ration.needs import Array
from ration.programme import Book
from ration.winter.season import Season

Tell = Callable[[str], None]
Stop = Callable[[], bool]


@dataclass
class Work:
    """What a run of the planner keeps: clock, watchers, rations found."""

    season: Season
    seconds: float
    tell: Tell
    stop: Stop
    began: float = field(default_factory=time.perf_counter)
    spent: dict[str, float] = field(default_factory=dict)
    is_cut_short: bool = False

    @property
    def left(self) -> float:
        """Time that is left. [s]"""
        return self.seconds - (time.perf_counter() - self.began)

    def ended(self) -> bool:
        """Whether to make do with what there is."""
        if self.left <= 0 or self.stop():
            self.is_cut_short = True
        return self.is_cut_short

    def clock(self, name: str, since: float) -> None:
        """Book the time of a step."""
        self.spent[name] = self.spent.get(name, 0.0) + time.perf_counter() - since


@dataclass(frozen=True)
class Answer:
    """One programme of the winter solved, its values by key."""

    book: Book
    programme: Programme
    first: Mapping[tuple[int, int], int]
    solution: solve.Solution

    def __getitem__(self, key: object) -> float:
        number = self.book.columns.get(key)
        if number is None or self.solution.values is None:
            return 0.0
        return float(self.solution.values[number])

    @property
    def is_found(self) -> bool:
        """Whether there is an answer."""
        return self.solution.values is not None

    def ration(self, b: int, s: int, n: int) -> Array:
        """Kg DM a head a day of each feed (n,)."""
        values = self.solution.values
        if values is None:
            raise NotProved("A winter without an answer has no rations; nothing is shown.")
        return values[self.first[b, s] : self.first[b, s] + n]


def watch_of(work: Work, what: str, sunk_gbp: float) -> solve.Watch:
    """A watcher that tells the progress every other second and stops when asked."""
    told = [0.0]

    def watch(p: solve.Progress) -> bool:
        if p.seconds - told[0] >= 2:
            told[0] = p.seconds
            best = (
                f"£{p.best + sunk_gbp:,.0f}"
                if np.isfinite(p.best) and abs(p.best) < 1e15
                else "none yet"
            )
            work.tell(f"{what}: {p.seconds:.0f} s, best {best}, bound £{p.bound + sunk_gbp:,.0f}")
        return work.stop()

    return watch
