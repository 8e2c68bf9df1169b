"""How many to send each way, when each has only so many places.

A way costs something for the flock once any sheep goes there (visits, a building, land) and
something for each head. With so few ways every set of them is tried: within a set the once-paid
costs stand, so the head fill the places in order of their own cost, and the cheapest set is the
answer. That is exact: the cost of a set is straight in the numbers, and a set whose cheapest
filling leaves a way empty is dearer than the set without it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain, combinations

from ration.errors import InputError, Problem
from ration.wintering.budget import Budget

MOST_WAYS = 10


@dataclass(frozen=True)
class Sent:
    """So many head on one way and what they cost, the flock's costs of the way included."""

    way: str
    head: int
    gbp: float


@dataclass(frozen=True)
class Split:
    """The cheapest way to share the sheep out.

    Attributes
    ----------
    head : int
        To be placed.
    sent : tuple of Sent
        Ways that get any, in the order of the ways.
    room : int or None
        All places together; None when a way has no limit.
    """

    head: int
    sent: tuple[Sent, ...]
    room: int | None

    @property
    def is_found(self) -> bool:
        """There is room for all."""
        return bool(self.sent)

    @property
    def gbp(self) -> float:
        """All of them together. [GBP]"""
        return math.fsum(s.gbp for s in self.sent)


def cheapest_split(found: Sequence[Budget], places: Sequence[int | None], head: int) -> Split:
    """How many head each way takes so that all together cost least.

    Parameters
    ----------
    found : sequence of Budget
        Of each way; its lines say what is paid once and what for each head.
    places : sequence of int or None
        Most head on each way; None for no limit.
    head : int
        To be placed, 1 or more.

    Returns
    -------
    Split
        Without any sent when there are too few places.

    Raises
    ------
    InputError
        More than `MOST_WAYS` ways, or nobody to place.
    """
    if head < 1 or len(found) > MOST_WAYS:
        raise InputError(
            Problem("", f"{head} head on {len(found)} ways", f"1 head or more, {MOST_WAYS} ways")
        )
    room = None if None in places else sum(p or 0 for p in places)
    caps = [head if p is None else min(p, head) for p in places]
    best: tuple[float, tuple[int, ...]] | None = None
    ways = range(len(found))
    for chosen in chain.from_iterable(combinations(ways, n) for n in range(1, len(found) + 1)):
        numbers = _filled(chosen, found, caps, head)
        if numbers is None:
            continue
        cost = _cost(numbers, found)
        if best is None or cost < best[0] - 1e-9 * max(1.0, abs(best[0])):
            best = (cost, numbers)
    sent = () if best is None else best[1]
    return Split(
        head,
        tuple(
            Sent(b.way, n, b.flock_gbp + n * b.per_head_gbp)
            for b, n in zip(found, sent, strict=False)
            if n
        ),
        room,
    )


def _filled(
    chosen: tuple[int, ...], found: Sequence[Budget], caps: Sequence[int], head: int
) -> tuple[int, ...] | None:
    """The head placed on these ways alone, the cheapest place first; None when they do not fit."""
    left, numbers = head, [0] * len(found)
    for i in sorted(chosen, key=lambda i: found[i].per_head_gbp):
        numbers[i] = min(caps[i], left)
        left -= numbers[i]
    return None if left else tuple(numbers)


def _cost(numbers: Sequence[int], found: Sequence[Budget]) -> float:
    return math.fsum(
        b.flock_gbp + n * b.per_head_gbp for b, n in zip(found, numbers, strict=True) if n
    )
