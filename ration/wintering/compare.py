"""The ways side by side: the cheapest, the keep at which two cost the same, what changes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ration.errors import InputError, Problem
from ration.wintering.budget import Budget, budget, paid_share
from ration.wintering.records import Basis, Terms, Way, Wintering


def budgets(wintering: Wintering, head: int) -> tuple[Budget, ...]:
    """Each way's budget, as if all so many head went that way."""
    return tuple(budget(way, wintering.terms, head) for way in wintering.ways)


def cheapest(found: Sequence[Budget], basis: Basis = "wintered") -> int:
    """Place of the budget that costs least a head; of equals the first."""
    return min(range(len(found)), key=lambda i: found[i].by(basis))


def break_even_keep_p_per_head_week(home: Way, away: Way, terms: Terms, head: int) -> float:
    """Most to pay for keep before the home way costs less [p/head/week].

    The cost of a head at home less that of a head away without its keep, over the weeks, on the
    heads and by the basis that are agreed. Below zero, keep would have to be paid for having them.

    Parameters
    ----------
    home, away : Way
        `away` is on keep.
    terms : Terms
    head : int
        All of them at home or all away.

    Raises
    ------
    InputError
        `away` is not on keep.
    """
    if away.keep is None:
        raise InputError(Problem(away.name, "it is not on keep", "keep is paid by head and week"))
    at_home = budget(home, terms, head)
    on_keep = budget(away, terms, head)
    over = at_home.by(terms.basis) - on_keep.by(terms.basis)
    if terms.basis == "returned":
        over *= 1 - away.deaths_share
    # interest and a dead one's outlay ride on keep: a penny of keep costs more than a penny
    weight = _cost_of_a_pound_of_keep(away, terms)
    return 100 * (away.keep.gbp_per_head_week + over / (away.weeks * weight))


def _cost_of_a_pound_of_keep(way: Way, terms: Terms) -> float:
    """What one more pound of a head's keep adds to the cost of a head sent. [-]"""
    share = paid_share(way)
    more = share
    if terms.is_interest_counted:
        more += share * terms.interest_share_per_year * way.days / 2 / 365.0
    if way.keep is not None and way.keep.paid_on == "sent":
        more += way.deaths_share * terms.sunk_share
    return more


@dataclass(frozen=True)
class Change:
    """One thing that changes, and by how much. [GBP/head]"""

    name: str
    gbp_per_head: float


@dataclass(frozen=True)
class Partial:
    """What changes when the base is left for another way, in the four boxes of a partial budget.

    Attributes
    ----------
    base, way : str
    added_returns, saved_costs, added_costs, lost_returns : tuple of Change
        Each over zero. [GBP/head wintered]
    """

    base: str
    way: str
    added_returns: tuple[Change, ...]
    saved_costs: tuple[Change, ...]
    added_costs: tuple[Change, ...]
    lost_returns: tuple[Change, ...]

    @property
    def gain_gbp_per_head(self) -> float:
        """What the change leaves: over zero when it pays. [GBP/head wintered]"""
        better = (*self.added_returns, *self.saved_costs)
        worse = (*self.added_costs, *self.lost_returns)
        return math.fsum(c.gbp_per_head for c in better) - math.fsum(c.gbp_per_head for c in worse)


def partial(base: Budget, other: Budget) -> Partial:
    """Only what changes from one way to another, a head that starts the winter.

    Source
    ------
    Partial budget in four boxes, as laid out for farmers in W-S43. Mark: print.
    """
    names: dict[str, tuple[str, bool]] = {}
    for line in (*base.lines, *other.lines):
        names.setdefault(line.id, (line.name, line.is_return))
    boxes: dict[tuple[bool, bool], list[Change]] = {}
    for line_id, (name, is_return) in names.items():
        more = other.gbp(line_id) - base.gbp(line_id)
        if more:
            boxes.setdefault((is_return, more > 0), []).append(Change(name, abs(more)))
    return Partial(
        base.way,
        other.way,
        added_returns=tuple(boxes.get((True, False), ())),
        saved_costs=tuple(boxes.get((False, False), ())),
        added_costs=tuple(boxes.get((False, True), ())),
        lost_returns=tuple(boxes.get((True, True), ())),
    )
