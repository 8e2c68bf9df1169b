"""Feed on a day in mid-winter: what is left, what is bought already, what can still be bought.

What was bought before that day is paid for whatever happens next, so it goes on at no price, as
a feed of its own beside the same feed at the merchant's price.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING

from ration.errors import OutOfRange, Problem, UnknownName
from ration.farm import Farm, Lot, Offer
from ration.units import in_words_day, shown

if TYPE_CHECKING:
    from ration.quotes.records import Supply, Tier
    from ration.winter.records import Plan, StockLine

IN_STORE = "-in-store"
ALREADY_BOUGHT = ", already bought"
NOTHING_T = 1e-6  # a gram: less than this is not kept as a feed


def left_t(plan: Plan, when: date) -> Mapping[str, float]:
    """What the plan leaves of each feed on the morning of a day, others' claims taken off.

    Inside a period the same is used every day. A delivery on that very morning has not come.

    Parameters
    ----------
    plan : Plan
    when : date
        A day of the plan.

    Returns
    -------
    mapping of str to float
        By offer id. [t fresh]

    Raises
    ------
    OutOfRange
        The plan does not cover the day.
    """
    if not plan.periods or not plan.periods[0].start <= when < plan.periods[-1].end:
        raise OutOfRange(
            Problem("", f"{in_words_day(when)} is not a day of the plan", _days_of(plan))
        )
    return MappingProxyType({s.offer_id: _left(s, when) for s in plan.stocks if _holds(s, when)})


def _holds(line: StockLine, when: date) -> bool:
    return line.period.start <= when < line.period.end


def _left(line: StockLine, when: date) -> float:
    gone = (when - line.period.start).days
    if gone == 0:
        return max(0.0, line.opening_t)
    used = (line.fed_t + line.lost_t) * gone / line.period.days
    return max(0.0, line.opening_t + line.bought_t - used)


def _days_of(plan: Plan) -> str:
    if not plan.periods:
        return plan.why_not
    first, last = plan.periods[0].start, plan.periods[-1].end
    return f"it runs from {in_words_day(first)} to {in_words_day(last)}"


def bought_t(plan: Plan, when: date) -> Mapping[str, float]:
    """What the plan had delivered before a day, by supply id. [t fresh]"""
    found: dict[str, float] = {}
    for delivery in plan.deliveries:
        if delivery.period.start < when:
            key = delivery.supply.id
            found[key] = found.get(key, 0.0) + delivery.tonnes
    return MappingProxyType(found)


def checked(left: Mapping[str, float], farm: Farm) -> Mapping[str, float]:
    """What was counted, checked."""
    known = {o.id for o in farm.offers}
    faults = [
        Problem("", f"{shown(name)} is not a feed of this farm", f"feeds: {', '.join(known)}")
        for name in left
        if name not in known
    ]
    if faults:
        raise UnknownName(*faults)
    wrong = [
        Problem("", f"{name}: {tonnes:g} t left", "0 t or more is believable")
        for name, tonnes in left.items()
        if not (math.isfinite(tonnes) and tonnes >= 0)
    ]
    if wrong:
        raise OutOfRange(*wrong)
    return left


def _claims_left(farm: Farm, offer: Offer, when: date) -> tuple[tuple[str, float], ...]:
    """What others have still to eat of a feed, each claim eaten evenly over its days. [t fresh]"""
    first = farm.start  # the claim is on what lay there then
    days = {o.name.lower(): (max(o.start, first), o.end) for o in farm.winter.other_stock}
    claims = offer.claims or (("", offer.first_claim_t_fresh),)
    kept = []
    for who, tonnes in claims:
        start, end = days.get(who.lower(), (farm.start, farm.end))
        gone = (when - start).days / max((end - start).days, 1)
        kept.append((who, tonnes * (1 - min(max(gone, 0.0), 1.0))))
    return tuple(kept)


def offers_left(
    farm: Farm,
    plan: Plan,
    when: date,
    stocks: Mapping[str, float],
    counted: Mapping[str, float],
) -> Iterable[Offer]:
    """Home feeds as left; each bought feed to be bought again, and what is in store of it."""
    delivered: dict[str, float] = {}
    for supply_id, tonnes in bought_t(plan, when).items():
        offer_id = next(d.supply.offer_id for d in plan.deliveries if d.supply.id == supply_id)
        delivered[offer_id] = delivered.get(offer_id, 0.0) + tonnes
    ids = {o.id for o in farm.offers}
    in_store = {o.id + IN_STORE: o for o in farm.offers if not o.is_home}
    for offer in farm.offers:
        if offer.is_home:
            more = 0.0
            if (bought := in_store.get(offer.id)) is not None:  # bought before, topped up since
                by_plan = 0.0 if offer.id in counted else stocks.get(bought.id, 0.0)
                more = counted.get(bought.id, by_plan)
            yield _home(farm, offer, when, stocks, counted, more)
            continue
        lies = counted.get(offer.id, stocks.get(offer.id, 0.0))
        is_split = lies > NOTHING_T and offer.id + IN_STORE not in ids
        limit = offer.stock_t_fresh
        if limit is not None:
            limit = max(0.0, limit - delivered.get(offer.id, 0.0))
        has_least = offer.least_kg_fresh_per_head_day > 0 or offer.least_share_of_dm > 0
        kept = replace(offer, stock_t_fresh=limit)
        if is_split and has_least:
            kept = _without_least(kept)
        yield kept
        if is_split:
            yield _bought(kept, lies, when)


def _without_least(offer: Offer) -> Offer:
    said = "the least amount a day is not held to, for this feed now lies in store and is bought"
    note = f"{offer.note}; {said}" if offer.note else said
    return replace(offer, least_kg_fresh_per_head_day=0.0, least_share_of_dm=0.0, note=note)


def _bought(offer: Offer, tonnes: float, when: date) -> Offer:
    """The part of a bought feed that is in store: paid for, so it costs nothing more."""
    return replace(
        offer,
        id=offer.id + IN_STORE,
        name=offer.name + ALREADY_BOUGHT,
        is_home=True,
        price_gbp_per_t_fresh=0.0,
        price_words="already paid for",
        stock_t_fresh=tonnes,
        stock_words=_stock_words(tonnes, when),
        is_stock_guess=False,
        first_claim_t_fresh=0.0,
        claims=(),
        lot=None,
    )


def _home(
    farm: Farm,
    offer: Offer,
    when: date,
    stocks: Mapping[str, float],
    counted: Mapping[str, float],
    more_t: float,
) -> Offer:
    """A home feed as it lies on the day, with what others have still to eat of it."""
    if offer.stock_t_fresh is None and offer.id not in counted:
        return offer
    claims = _claims_left(farm, offer, when)
    claimed = sum(t for _, t in claims)
    if offer.id in counted:
        tonnes = counted[offer.id] + more_t
        if claimed > tonnes:
            claims = tuple((who, t * tonnes / claimed) for who, t in claims)
            claimed = tonnes
    else:
        ours = stocks.get(offer.id, offer.available_t_fresh or 0.0)
        tonnes = ours + claimed + more_t
    return replace(
        offer,
        stock_t_fresh=tonnes,
        first_claim_t_fresh=claimed,
        claims=claims if offer.claims else (),
        stock_words=_stock_words(tonnes, when),
        lot=lot_of(offer, tonnes),
    )


def _stock_words(tonnes: float, when: date) -> str:
    return f"{tonnes:.2f} t left on {in_words_day(when)}"


def lot_of(offer: Offer, tonnes: float) -> Lot | None:
    """The bales behind what is left of a stock, to the nearest bale; None when none is left."""
    if offer.lot is None or not offer.stock_t_fresh:
        return None if tonnes <= NOTHING_T else offer.lot
    bales = round(offer.lot.bales * tonnes / offer.stock_t_fresh)
    return replace(offer.lot, bales=bales) if bales > 0 else None


def supplies_from(supplies: Sequence[Supply], plan: Plan, when: date) -> tuple[Supply, ...]:
    """Supplies for the rest of the winter: less is to be had, and tonnes bought count to a tier.

    Parameters
    ----------
    supplies : sequence of Supply
    plan : Plan
        The plan that was followed up to that day.
    when : date
    """
    had = bought_t(plan, when)
    found = []
    for supply in supplies:
        tonnes = had.get(supply.id, 0.0)
        quote = supply.quote
        most = None if quote.most_t is None else max(0.0, quote.most_t - tonnes)
        quote = replace(quote, tiers=_tiers_after(quote.tiers, tonnes), most_t=most)
        found.append(replace(supply, quote=quote) if tonnes > 0 else supply)
    return tuple(found)


def _tiers_after(tiers: tuple[Tier, ...], tonnes: float) -> tuple[Tier, ...]:
    reached = [t for t in tiers if t.from_t <= tonnes]
    ahead = [t for t in tiers if t.from_t > tonnes]
    first = [replace(reached[-1], from_t=0.0)] if reached else []
    return (*first, *(replace(t, from_t=t.from_t - tonnes) for t in ahead))
