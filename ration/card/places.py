"""Whether the trough and the floor are long and wide enough, and what to do when they are not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ration.cautions.farm import USUAL_TROUGH_M
from ration.cautions.parts import HAIR
from ration.errors import OutOfRange, Problem


@dataclass(frozen=True)
class TroughCheck:
    """How many can eat at once.

    Attributes
    ----------
    head : int
    trough_m, m_per_head : float
        All the trough there is; for one sheep. [m]
    at_once : int
        Heads there is room for.
    sittings : int
        1 when all eat together.
    head_per_sitting : int
        Most at any one sitting.
    wanted_m : float
        Trough for all to eat together. [m]
    """

    head: int
    trough_m: float
    m_per_head: float
    at_once: int
    sittings: int
    head_per_sitting: int
    wanted_m: float

    @property
    def is_enough(self) -> bool:
        """All can eat at once."""
        return self.sittings == 1


@dataclass(frozen=True)
class FloorCheck:
    """How many a shed holds at one allowance of floor. [m2/head], heads"""

    m2_per_head: float
    fit: int
    out: int


def _refuse(*said: tuple[str, float]) -> None:
    faults = [
        Problem("", f"{what} {value:g}", "above 0")
        for what, value in said
        if not (math.isfinite(value) and value > 0)
    ]
    if faults:
        raise OutOfRange(*faults)


def trough_check(head: int, trough_m: float, m_per_head: float = USUAL_TROUGH_M) -> TroughCheck:
    """Heads that can eat at once, and sittings when that is not all.

    Parameters
    ----------
    head : int
        Sheep fed at the trough.
    trough_m : float
        Both sides added up. [m]
    m_per_head : float
        0.305 m (a foot): common practice, no source. [m]

    Raises
    ------
    OutOfRange
        No sheep, no trough, or too little for one sheep.

    Examples
    --------
    >>> found = trough_check(184, 54)
    >>> found.at_once, found.sittings, found.head_per_sitting, f"{found.wanted_m:.1f}"
    (177, 2, 92, '56.1')
    """
    _refuse(("head", head), ("trough, m,", trough_m), ("trough a head, m,", m_per_head))
    at_once = math.floor(trough_m / m_per_head + HAIR)
    if at_once < 1:
        raise OutOfRange(
            Problem("", f"trough {trough_m:g} m", f"one sheep wants {m_per_head:g} m", "Add trough")
        )
    sittings = math.ceil(head / at_once)
    return TroughCheck(
        head=head,
        trough_m=trough_m,
        m_per_head=m_per_head,
        at_once=at_once,
        sittings=sittings,
        head_per_sitting=math.ceil(head / sittings),
        wanted_m=head * m_per_head,
    )


def sittings_of(
    pens: Sequence[tuple[str, int]], at_once: int, sittings: int
) -> tuple[tuple[str, ...], ...]:
    """Whole pens put together into sittings, as even as may be.

    Parameters
    ----------
    pens : sequence of (str, int)
        Name and heads.
    at_once : int
        Heads that can eat at once.
    sittings : int

    Returns
    -------
    tuple of tuple of str
        Names by sitting; empty when whole pens do not fit into so many sittings.

    Examples
    --------
    >>> sittings_of([("strong", 92), ("middle", 58), ("small", 34)], 177, 2)
    (('strong',), ('middle', 'small'))
    """
    heads = [0] * sittings
    told: list[list[str]] = [[] for _ in range(sittings)]
    for name, head in sorted(pens, key=lambda p: -p[1]):
        least = heads.index(min(heads))
        if heads[least] + head > at_once:
            return ()
        heads[least] += head
        told[least].append(name)
    return tuple(tuple(names) for names in told if names)


def floor_check(head: int, floor_m2: float, m2_per_head: Sequence[float]) -> tuple[FloorCheck, ...]:
    """Heads that fit and heads that must come out, for each allowance of floor.

    Parameters
    ----------
    head : int
        Sheep in the shed.
    floor_m2 : float
        [m2]
    m2_per_head : sequence of float
        Allowances to be shown, such as the two ends of the code's span. [m2/head]

    Raises
    ------
    OutOfRange
        No sheep, no floor, no allowance.

    Examples
    --------
    >>> [(f.m2_per_head, f.fit, f.out) for f in floor_check(184, 128, (0.75, 0.9))]
    [(0.75, 170, 14), (0.9, 142, 42)]
    """
    _refuse(("head", head), ("floor, m2,", floor_m2), *(("m2 a head", m) for m in m2_per_head))
    fits = [math.floor(floor_m2 / m + HAIR) for m in m2_per_head]
    return tuple(
        FloorCheck(m, fit, max(0, head - fit)) for m, fit in zip(m2_per_head, fits, strict=True)
    )
