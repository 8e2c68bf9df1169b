"""Several members buying from one merchant together: pooled tonnage, shared drops."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from ration.buying.landed import filled_drops, full_load_t, landed
from ration.buying.tie import whole_packs_t
from ration.errors import InputError, ModelError, Problem
from ration.quotes.records import Quote

MOST_WAYS = 200_000
_EPS = 1e-9


@dataclass(frozen=True)
class Member:
    """One who buys with others.

    Attributes
    ----------
    name : str
    tonnes : float
        Wanted. [t fresh]
    lane_t : float or None
        Heaviest laden lorry of his lane. [t]
    yard : str
        Where it is put down; members of one yard share drops. "" is his own.
    """

    name: str
    tonnes: float
    lane_t: float | None = None
    yard: str = ""


@dataclass(frozen=True)
class GroupPart:
    """What a group buys on one quote; `drops` may serve several members of one yard."""

    quote: Quote
    members: tuple[str, ...]
    wanted_t: float
    tonnes: float
    price_gbp_per_t_fresh: float
    drops: int
    cost_gbp: float


@dataclass(frozen=True)
class GroupBuy:
    """The cheapest plan of a group with one merchant. [GBP]"""

    cost_gbp: float
    parts: tuple[GroupPart, ...]


def group_cost(
    members: Sequence[Member], quotes: Sequence[Quote], *, on: date | None = None
) -> GroupBuy:
    """The cheapest plan of a group: each member on one quote, tonnage pooled for the tiers.

    Every way of putting the members on the quotes is tried; each yard has drops of its own, topped
    up to the least; the tonnage is taken as it is or over-ordered to a price step. Terms are left
    out.

    Parameters
    ----------
    members : sequence of Member
    quotes : sequence of Quote
        Of one merchant and feed.
    on : date or None
        Day of delivery, for a monthly rise.

    Raises
    ------
    InputError
        Too many members to try every way.
    ModelError
        No quote reaches a member.
    """
    if len(quotes) ** len(members) > MOST_WAYS:
        raise InputError(
            Problem(
                "",
                f"{len(members)} members on {len(quotes)} quotes",
                f"at most {MOST_WAYS} ways are tried",
                "Give fewer members at a time",
            )
        )
    best: GroupBuy | None = None
    for choice in itertools.product(range(len(quotes)), repeat=len(members)):
        parts: list[GroupPart] = []
        for k, quote in enumerate(quotes):
            mine = [m for m, c in zip(members, choice, strict=True) if c == k]
            part = _part(quote, mine, on) if mine else None
            if mine and part is None:
                break
            parts += [] if part is None else [part]
        else:
            cost = math.fsum(p.cost_gbp for p in parts)
            if best is None or cost < best.cost_gbp - _EPS:
                best = GroupBuy(cost, tuple(parts))
    if best is None:
        raise ModelError(Problem("", "no quote here reaches every member"))
    return best


def _part(quote: Quote, members: Sequence[Member], on: date | None) -> GroupPart | None:
    """What some members buy on one quote; None when it cannot be brought."""
    yards: dict[str, list[Member]] = {}
    for m in members:
        yards.setdefault(m.yard or f"\0{m.name}", []).append(m)
    total, drops, spare, loads = 0.0, 0, 0.0, []
    for there in yards.values():
        lanes = [m.lane_t for m in there if m.lane_t is not None]
        load = full_load_t(quote, min(lanes) if lanes else None)
        if load <= 0:
            return None
        want = math.fsum(whole_packs_t(quote, m.tonnes) for m in there)
        bought, n = filled_drops(quote, want, load)
        total, drops, spare = total + bought, drops + n, spare + n * load - bought
        loads.append(load)
    options = []
    for start in (total, *(t.from_t for t in quote.tiers if t.from_t > total)):
        bought = whole_packs_t(quote, start)
        over = bought - total - spare
        n = drops + (math.ceil(over / max(loads) - _EPS) if over > _EPS else 0)
        if quote.most_t is None or bought <= quote.most_t + 1e-6:
            at = landed(quote, bought, n, on)
            options.append((at.cost_gbp, bought, n, at))
    if not options:
        return None
    cost, bought, n, at = min(options, key=lambda o: o[:2])
    names = tuple(m.name for m in members)
    wanted = math.fsum(m.tonnes for m in members)
    return GroupPart(quote, names, wanted, bought, at.price_gbp_per_t_fresh, n, cost)
