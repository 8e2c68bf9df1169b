"""What each feed is worth to a batch, and how far each price can move before the mix changes.

The worth of a feed is the delivered price at which it would just enter this ration, or leave it.
The cheapest cost over all diets, as a function of one price, is the lower edge of straight lines
(one for each mix), so the tie with a reference mix is found by Newton's step: search at a price,
and if a mix beats the reference there, move to the price at which those two tie. Every step is a
full search over quality and level, so the answer holds for all diets, not only for the neighbours
of this one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ration.errors import NotProved
from ration.model import MixModel
from ration.needs import Array
from ration.search import Found, Variant, search

GAP_SHARE = 1e-6
_CROWD = 60
_USED_KG_DM = 1e-7
_LEAST_KG_DM = 1e-6  # a difference in a feed that is not the rounding of a mix without it
_DUST = 1e-9  # of the cost: a saving that is rounding
_SAME_PRICE = 2e-6  # GBP per kg DM: a fifth of a penny per tonne
_ROUNDS = 25


@dataclass(frozen=True)
class Prices:
    """Per feed, in GBP per kg DM eaten, order of the model.

    Attributes
    ----------
    worth : array (n,)
        Price at which the feed just enters or leaves; inf when no mix does without it, nan when
        the farm file forces it in or its cap is zero.
    low, high : array (n,)
        Prices between which this mix stays the cheapest; -inf, inf for no end.
    linear_programmes : int
    """

    worth: Array
    low: Array
    high: Array
    linear_programmes: int


@dataclass
class _Tie:
    """One price being moved, one way only, until a reference mix and the best mix tie."""

    feed: int
    reference: Array
    price: float
    is_rising: bool = True
    stop: float = np.inf  # never moved past this
    done: bool = False

    def move(self, price: float) -> None:
        """Move to a price if it lies the right way; else rest."""
        if (price > self.price) != self.is_rising:
            self.done = True
        elif (price > self.stop) if self.is_rising else (price < self.stop):
            self.price, self.done = self.stop, True
        else:
            self.price = price


def prices(
    model: MixModel, found: Found, tangent_range: tuple[Array, Array] | None, reduced_cost: Array
) -> Prices:
    """Worth and price range of every feed.

    Parameters
    ----------
    model : MixModel
    found : Found
        The cheapest mix, searched to a close gap.
    tangent_range : tuple of array (n,) or None
        Price range by the linear programme that touches the mix; a first guess, checked here.
    reduced_cost : array (n,)
        By the same programme; a first guess of the worth of feeds not used.
    """
    if found.x is None:
        raise NotProved("There is no mix to price.")
    x, n = found.x, len(model.cost)
    used = x > _USED_KG_DM
    forced = (model.col_lo > 0) | (model.col_hi <= 0)
    lps = 0
    # what the batch costs without each feed it uses
    without = [j for j in range(n) if used[j] and not forced[j]]
    ties: list[_Tie] = []
    worth = np.full(n, np.nan)
    if without:
        variants = []
        for j in without:
            cap = model.col_hi.copy()
            cap[j] = 0.0
            variants.append(Variant(col_hi=cap))
        answers = search(model, variants, gap_share=GAP_SHARE, least_scale=found.cost, crowd=_CROWD)
        lps += answers[0].linear_programmes
        for j, answer in zip(without, answers, strict=True):
            if answer.x is None:
                worth[j] = np.inf
            else:
                ties.append(_Tie(j, answer.x, _tie_price(model.cost, j, answer.x, x)))
    twins: dict[bytes, int] = {}
    twin_of: dict[int, int] = {}
    for j in range(n):
        if not used[j] and not forced[j]:
            first = twins.setdefault(_fingerprint(model, j), j)
            if first != j:  # one feed offered in several packs: one worth
                twin_of[j] = first
                continue
            ties.append(_Tie(j, x, float(model.cost[j] - max(reduced_cost[j], 0.0))))
    enter_or_leave = len(ties)
    low, high = np.full(n, -np.inf), np.full(n, np.inf)
    for j in range(n):
        if used[j] and tangent_range is not None:
            at, (least, most) = float(model.cost[j]), (end[j] for end in tangent_range)
            if np.isfinite(least):
                ties.append(_Tie(j, x, min(float(least), at), True, at))
            if np.isfinite(most):
                ties.append(_Tie(j, x, max(float(most), at), False, at))
    lps += _settle(model, ties, x, found.cost)
    for tie in ties[:enter_or_leave]:
        worth[tie.feed] = tie.price
    for j, first in twin_of.items():
        worth[j] = worth[first]
    for tie in ties[enter_or_leave:]:
        j = tie.feed
        if tie.is_rising:
            low[j] = tie.price
        else:
            high[j] = tie.price
    low[~used] = np.fmin(worth[~used], model.cost[~used])
    return Prices(worth, low, high, lps)


def _fingerprint(model: MixModel, j: int) -> bytes:
    """All that the model knows of a feed but its price."""
    c = model.chemistry
    return np.array(
        [
            model.me[j],
            model.ge[j],
            c.cp[j],
            c.a[j],
            c.b[j],
            c.c[j],
            c.adin[j],
            c.fme[j],
            model.col_hi[j],
            *model.fixed[:, j],
        ]
    ).tobytes()


def _tie_price(cost: Array, feed: int, reference: Array, other: Array) -> float:
    """The price of one feed at which two mixes cost the same."""
    others = np.arange(len(cost)) != feed
    rest = float(cost[others] @ (other - reference)[others])
    return rest / float(reference[feed] - other[feed])


def _settle(model: MixModel, ties: list[_Tie], x: Array, scale: float) -> int:
    """Move every tie until no mix beats its reference at its price; all of them side by side."""
    lps = 0
    for _ in range(_ROUNDS):
        going = [t for t in ties if not t.done]
        if not going:
            return lps
        variants = []
        for t in going:
            cost = model.cost.copy()
            cost[t.feed] = t.price
            variants.append(Variant(cost=cost))
        starts = [(k, mix) for k, t in enumerate(going) for mix in (x, t.reference)]
        answers = search(
            model,
            variants,
            gap_share=GAP_SHARE,
            start=starts,
            least_scale=scale,
            crowd=_CROWD,
        )
        lps += answers[0].linear_programmes
        for t, answer, variant in zip(going, answers, variants, strict=True):
            if answer.x is None or variant.cost is None:
                t.done = True
                continue
            saved = float(variant.cost @ t.reference) - answer.cost
            differs = abs(answer.x[t.feed] - t.reference[t.feed])
            if saved <= max(_SAME_PRICE * differs, _DUST * scale) or differs < _LEAST_KG_DM:
                t.done = True
                continue
            t.move(_tie_price(model.cost, t.feed, t.reference, answer.x))
    return lps
