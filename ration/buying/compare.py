"""Merchants compared by what the sheep cost with each one's feed as the only change.

For every feed that a merchant quotes, all rations that are the cheapest at some price of it are
found first (`corners`), each proved by a full search; then each is bought the cheapest way
that the quote's tiers, drops and packs allow. So nothing hangs on a guess at the price to mix at,
and raising a merchant's price never improves his rank.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from ration import choices, needs
from ration.buying.corners import DEAREST_GBP_PER_T, LEAST_T, Entry, Shop
from ration.buying.landed import (
    FEEDING_LEVEL,
    Buy,
    Landed,
    UnitCosts,
    cheapest_buy,
    landed,
    timing,
    unit_costs,
)
from ration.buying.pooled import GroupBuy, Member, group_cost
from ration.buying.tie import Tied
from ration.quotes.records import Supply
from ration.units import money

if TYPE_CHECKING:
    import pandas as pd

    from ration.assess import Assessment
    from ration.farm import Farm, Offer
    from ration.tables import Tables

__all__ = [
    "FEEDING_LEVEL",
    "Buy",
    "GroupBuy",
    "Landed",
    "Member",
    "Ranked",
    "UnitCosts",
    "as_dicts",
    "cheapest_buy",
    "frame",
    "group_cost",
    "landed",
    "ranking",
    "timing",
    "unit_costs",
]

_LEAST_PRICE = 0.01  # GBP/t


@dataclass(frozen=True)
class Ranked:
    """One feed of one merchant, and what these sheep cost with it as the only change.

    Attributes
    ----------
    kind : str
        Group of the feed; ranks are within it.
    rank : int or None
        From 1; None when it is refused or no ration is adequate with it.
    merchant, feed, offer_id : str
    supplies : tuple of Supply
        The packs it comes in; of a refused one that quote alone.
    cost_gbp_per_head_day, cost_gbp_for_winter : float or None
        All feed, all batches, this one landed.
    without_gbp_per_head_day : float or None
        The same with no quoted feed of this kind at all; None when there is no ration then.
    tonnes : float
        Of this feed that the ration takes from store. [t fresh]
    buy : Buy or None
        How that is bought; None when none is fed.
    landed : Landed or None
        Price in the bin of `buy`; of the least load when none is fed.
    unit_costs : UnitCosts or None
        Of that price.
    worth_gbp_per_t_fresh : float or None
        Landed price at which the last batch would leave it; inf when one cannot do without it.
    worth_of_batch : mapping of str to float
        The same batch by batch.
    may_rise_gbp_per_t : float or None
        What may be added to its every price before the next one is level; None when nothing can
        change that. [GBP/t fresh]
    must_fall_gbp_per_t : float or None
        What must come off its every price to be level with the next cheaper one, or to be worth
        buying at all; None for the first, or when no price is low enough. [GBP/t fresh]
    reason : str
        Why it stands where it does, in one line.
    refused : str
        Why it may not be bought, with what would make it usable.
    assessments : tuple of Assessment
        The ration of each batch, summed from the feeds without the optimiser.
    """

    kind: str
    rank: int | None
    merchant: str
    feed: str
    offer_id: str
    supplies: tuple[Supply, ...]
    cost_gbp_per_head_day: float | None = None
    cost_gbp_for_winter: float | None = None
    without_gbp_per_head_day: float | None = None
    tonnes: float = 0.0
    buy: Buy | None = None
    landed: Landed | None = None
    unit_costs: UnitCosts | None = None
    worth_gbp_per_t_fresh: float | None = None
    worth_of_batch: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    may_rise_gbp_per_t: float | None = None
    must_fall_gbp_per_t: float | None = None
    reason: str = ""
    refused: str = ""
    assessments: tuple[Assessment, ...] = ()

    @property
    def is_used(self) -> bool:
        """Whether any of it is fed."""
        return self.tonnes > 0


def ranking(
    farm: Farm,
    tables: Tables,
    tied: Tied,
    *,
    on: date,
    deliver: date | None = None,
) -> tuple[Ranked, ...]:
    """Every quoted feed ranked within its kind by what the sheep cost with it, refused ones last.

    The farm's own feeds and those that only the farm file prices stay as they are; of the same
    kind no other merchant's feed is on offer; of other kinds each quoted feed is, at the first
    price of its cheapest quote.

    Parameters
    ----------
    farm : Farm
    tables : Tables
    tied : Tied
    on : date
        Day of the order.
    deliver : date or None
        Day of delivery; None for the first day of the winter, or of the order if that is later.

    Raises
    ------
    MissingValue
        A feed lacks a figure that may not be assumed.
    """
    day = max(on, farm.start) if deliver is None else deliver
    shop = Shop(farm, tied, day, max((day - on).days, 0) / 30.4375)
    quoted = [s for s in tied.supplies if s.quote.merchant]
    offers = _complete(farm, tables, tied)
    groups: dict[tuple[str, str, str], list[Supply]] = {}
    for s in quoted:
        if s.is_usable:
            kind = offers[s.offer_id].feed.group
            groups.setdefault((kind, s.quote.merchant, s.offer_id), []).append(s)
    by_kind: dict[str, list[Entry]] = {}
    for (kind, merchant, offer_id), supplies in groups.items():
        entry = Entry(kind, merchant, offers[offer_id], tuple(supplies), shop)
        entry.work_out(_others(tied, offers, kind), tables)
        by_kind.setdefault(kind, []).append(entry)
    out: list[Ranked] = []
    for entries in by_kind.values():
        found = sorted((e for e in entries if e.corners), key=Entry.place)
        out += [_ranked(found, k) for k in range(len(found))]
        out += [_no_ration(e) for e in entries if not e.corners]
    return (*out, *(_refused(s, offers) for s in quoted if not s.is_usable))


def _complete(farm: Farm, tables: Tables, tied: Tied) -> dict[str, Offer]:
    """Feeds that may be fed by id, gaps filled as the farm allows for the feed each stands for."""
    assume = (*farm.assume, *(new for new, old in tied.stands_for.items() if old in farm.assume))
    fit = [o for o in tied.offers if not o.made_for]
    done, _ = choices.complete(fit, tables, assume)
    return {**{o.id: o for o in tied.offers}, **{o.id: o for o in done}}


def _others(tied: Tied, offers: Mapping[str, Offer], kind: str) -> tuple[Offer, ...]:
    """What is on offer beside a merchant's feed of one kind."""
    by_file = {s.offer_id for s in tied.supplies if s.is_usable and not s.quote.merchant}
    quoted = {s.offer_id for s in tied.supplies if s.is_usable and s.quote.merchant}
    return tuple(
        offers[o.id]
        for o in tied.offers
        if not o.made_for
        and (o.is_home or o.id in by_file or (o.id in quoted and offers[o.id].feed.group != kind))
    )


def _ranked(found: Sequence[Entry], k: int) -> Ranked:
    """One entry of a sorted kind, with its reason and the prices at which its rank changes."""
    e = found[k]
    head_days = _head_days(e)
    at = e.landed()
    worths = e.worths()
    next_one = found[k + 1] if k + 1 < len(found) else None
    better = [x for x in found[:k] if round(x.cost_gbp, 2) < round(e.cost_gbp, 2)]
    before = better[-1] if better else None
    lowest = min(t.price_gbp_per_t_fresh for q in e.quotes for t in q.tiers)
    without = e.corners[-1]
    has_none = without.tonnes <= LEAST_T
    return Ranked(
        kind=e.kind,
        rank=k + 1,
        merchant=e.merchant,
        feed=e.supplies[0].quote.feed,
        offer_id=e.offer.id,
        supplies=e.supplies,
        cost_gbp_per_head_day=e.cost_gbp / head_days,
        cost_gbp_for_winter=e.cost_gbp,
        without_gbp_per_head_day=without.rest_gbp / head_days if has_none else None,
        tonnes=e.best_buy.wanted_t if e.best_buy else 0.0,
        buy=e.best_buy,
        landed=at,
        unit_costs=None
        if at is None
        else unit_costs(e.offer.feed, at.gbp_per_t_fresh, needs.of(e.models[0].needs.batch)),
        worth_gbp_per_t_fresh=max(worths.values(), default=None),
        worth_of_batch=MappingProxyType(worths),
        may_rise_gbp_per_t=None
        if next_one is None
        else e.level_gbp_per_t(next_one.cost_gbp, 0.0, DEAREST_GBP_PER_T),
        must_fall_gbp_per_t=_fall(e, before, lowest),
        reason=_reason(found, k),
        assessments=e.assessments(),
    )


def _head_days(e: Entry) -> float:
    return sum(b.head for b in e.shop.farm.batches) * e.shop.farm.days


def _fall(e: Entry, before: Entry | None, lowest_gbp_per_t: float) -> float | None:
    if before is None and e.best_buy is not None:
        return None
    target = math.inf if before is None else before.cost_gbp
    level = e.level_gbp_per_t(target, -lowest_gbp_per_t + _LEAST_PRICE, 0.0)
    return None if level is None else -level


def _pence(gbp: float) -> str:
    return f"{gbp * 100:.1f}p"


def _reason(found: Sequence[Entry], k: int) -> str:
    """Why an entry stands where it does, in one line."""
    e = found[k]
    if e.best_buy is None:
        return f"not worth buying: {_worth_words(e)}"
    others = [x for x in found if x is not e and x.best_buy is not None]
    if not others:
        alone = (
            "the only usable one of its kind" if len(found) == 1 else "the only one worth buying"
        )
        return f"{alone}: {_worth_words(e)}"
    if k and round(e.cost_gbp, 2) == round(found[0].cost_gbp, 2):
        return f"costs the same as {found[0].merchant}"
    other = others[0]
    mine, theirs = e.day_costs_gbp(), other.day_costs_gbp()
    sign = 1.0 if k == 0 else -1.0
    gains = {i: sign * (theirs.get(i, 0.0) - mine.get(i, 0.0)) for i in {*mine, *theirs}}
    total = math.fsum(gains.values())
    rest = total - gains[""]
    small = f"{money(total * _head_days(e))} a winter"
    by = small if total < 0.0005 else f"{_pence(total)} a head a day"
    dearer = f"{by} dearer than {other.merchant}"
    start = "cheapest per head" if k == 0 else dearer
    if rest > gains[""]:
        names = {o.id: o.name for o in (*e.offers[:-1], *other.offers[:-1])}
        what = max(sorted(names), key=lambda i: gains.get(i, 0.0))
        lead = f"{_protein_words(e.offer)} " if k == 0 and _is_richer(e, other) else ""
        verb = "saves" if k == 0 else "needs"
        more = "" if k == 0 else "more "
        if gains[what] > rest * 1.05:
            what_words = f"of other feed, most of it {names[what]}"
            return f"{start}: {lead}{verb} {_pence(rest)} {more}{what_words}"
        return f"{start}: {lead}{verb} {_pence(gains[what])} {more}of {names[what]}"
    own, rival = (x.best_buy.landed.gbp_per_t_fresh for x in (e, other) if x.best_buy)
    if sign * (rival - own) > 0:
        return f"{start}: landed {money(own)}/t against {money(rival)}"
    less = "less" if k == 0 else "more"
    wanted = [x.best_buy.wanted_t for x in (e, other) if x.best_buy]
    return f"{start}: {less} of it is needed ({wanted[0]:.2f} t against {wanted[1]:.2f})"


def _worth_words(e: Entry) -> str:
    worth, at = max(e.worths().values(), default=0.0), e.landed()
    words = "a batch cannot do without it"
    if not math.isinf(worth):
        words = f"worth up to {money(worth)}/t to these sheep"
    if at is None:
        return words
    price = at.gbp_per_t_fresh
    if e.best_buy is None and worth > price:
        return f"{words} for the first of it, but not by the load, landed {money(price)}"
    return f"{words}, landed {money(price)}"


def _protein_words(offer: Offer) -> str:
    return f"{offer.feed['cp_g_per_kg_dm'] * offer.feed['dm_g_per_kg_fresh'] / 1e6:.0%} protein"


def _is_richer(e: Entry, other: Entry) -> bool:
    name = "cp_g_per_kg_dm"
    return (e.offer.feed.get(name) or 0.0) > (other.offer.feed.get(name) or 0.0) + 5.0


def _no_ration(e: Entry) -> Ranked:
    return Ranked(
        e.kind,
        None,
        e.merchant,
        e.supplies[0].quote.feed,
        e.offer.id,
        e.supplies,
        reason="no adequate ration with it as the only one of its kind",
    )


def _refused(s: Supply, offers: Mapping[str, Offer]) -> Ranked:
    return Ranked(
        offers[s.offer_id].feed.group,
        None,
        s.quote.merchant,
        s.quote.feed,
        s.offer_id,
        (s,),
        refused=s.refused,
    )


# ---------------------------------------------------------------- for notebooks and JSON


def as_dicts(ranked: Sequence[Ranked]) -> list[dict[str, Any]]:
    """One dictionary a line, a unit at the end of every number's key."""
    out = []
    for r in ranked:
        at, u = r.landed, r.unit_costs
        out.append(
            {
                "kind": r.kind,
                "rank": r.rank,
                "merchant": r.merchant,
                "feed": r.feed,
                "offer_id": r.offer_id,
                "packs": [s.quote.pack for s in r.supplies],
                "cost_gbp_per_head_day": r.cost_gbp_per_head_day,
                "cost_gbp_for_winter": r.cost_gbp_for_winter,
                "without_gbp_per_head_day": r.without_gbp_per_head_day,
                "needed_t_fresh": r.tonnes,
                "bought_t_fresh": r.buy.tonnes if r.buy else 0.0,
                "drops": r.buy.drops if r.buy else 0,
                "pack": r.buy.quote.pack if r.buy else None,
                "landed_gbp_per_t_fresh": at.gbp_per_t_fresh if at else None,
                "invoice_gbp_per_t_fresh": at.invoice_gbp_per_t_fresh if at else None,
                "landed_gbp_per_t_dm": u.gbp_per_t_dm if u else None,
                "landed_p_per_mj": u.p_per_mj if u else None,
                "landed_gbp_per_kg_cp": u.gbp_per_kg_cp if u else None,
                "landed_gbp_per_kg_mp": u.gbp_per_kg_mp if u else None,
                "worth_gbp_per_t_fresh": r.worth_gbp_per_t_fresh,
                "may_rise_gbp_per_t_fresh": r.may_rise_gbp_per_t,
                "must_fall_gbp_per_t_fresh": r.must_fall_gbp_per_t,
                "reason": r.reason,
                "refused": r.refused,
            }
        )
    return out


def frame(ranked: Sequence[Ranked]) -> pd.DataFrame:
    """One row a line, as `as_dicts`."""
    import pandas as pd

    return pd.DataFrame(as_dicts(ranked))
