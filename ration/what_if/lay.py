"""A change laid over a farm and over its merchants' quotes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta
from types import MappingProxyType
from typing import TYPE_CHECKING

from ration.errors import InputError, OutOfRange, Problem, UnknownName
from ration.farm import Farm, Offer
from ration.farm.offers import FALL_WITH
from ration.farm.words import id_of
from ration.feeds import Feed, Figure
from ration.plain_text import shown
from ration.strict_yaml import nearest
from ration.units import in_words_day
from ration.weighing.store import IN_STORE, lot_of
from ration.what_if.records import (
    ALL_BOUGHT,
    Change,
    FeedMove,
    LongWinter,
    Loss,
    MoreSheep,
    PriceMove,
)

if TYPE_CHECKING:
    from ration.quotes.records import Supply

LONGEST_WINTER_DAYS = 366
LEAST_ME_MJ_PER_KG_DM = 3.0
HAIR_T = 1e-9
KINDS = ("hay", "straw", "silage")
OTHERS = "other stock"


def apply(change: Change, farm: Farm) -> Farm:
    """The farm with the change; the one given stays as it is.

    Raises
    ------
    InputError
        A name that is not the farm's, or a change that it cannot have.
    """
    if isinstance(change, LongWinter):
        return _longer(change, farm)
    if isinstance(change, PriceMove):
        return _priced(change, farm)
    if isinstance(change, FeedMove):
        return _with_figures(change, farm)
    if isinstance(change, MoreSheep):
        return _with_head(change, farm)
    return _after_loss(change, farm)


def notes(change: Change, farm: Farm) -> tuple[str, ...]:
    """What a reader should know of a change that its words do not say."""
    after = apply(change, farm)
    if isinstance(change, LongWinter):
        until, held = in_words_day(after.end), in_words_day(after.winter.line_end or after.end)
        said = [f"Turnout on {until}; the target is for {held} and is held from then."]
        if any(o.first_claim_t_fresh > 0 for o in farm.offers):
            said.append("What other stock have first call on is left as written.")
        return tuple(said)
    if isinstance(change, Loss):
        before = {o.id: o for o in farm.offers}
        return tuple(
            f"What other stock can no longer have of {change.feed} they take from {o.name}: "
            f"{more:.2f} t more."
            for o in after.offers
            if (more := o.first_claim_t_fresh - before[o.id].first_claim_t_fresh) > 0.005
        )
    if isinstance(change, FeedMove):
        touched = [o.name for o in _chosen(change.feed, farm, _all)]
        return (f"Changed: {', '.join(touched)}.",) if len(touched) > 1 else ()
    return ()


def undo(change: Change) -> Change | None:
    """The change that takes another back; None where what was lost cannot be told from it."""
    if isinstance(change, LongWinter):
        return None if change.days is None else LongWinter(-change.days)
    if isinstance(change, PriceMove):
        return PriceMove(change.feed, -change.gbp_per_t, 1 / (1 + change.share) - 1)
    if isinstance(change, FeedMove):
        return FeedMove(change.feed, -change.me_mj_per_kg_dm, -change.cp_g_per_kg_dm)
    if isinstance(change, MoreSheep):
        return MoreSheep(-change.head, change.batch)
    return None


# ---------------------------------------------------------------- days and prices


def _longer(change: LongWinter, farm: Farm) -> Farm:
    more = farm.winter.long_winter_days if change.days is None else change.days
    end = farm.end + timedelta(days=more)
    line_end = farm.winter.line_end or farm.end
    days = (end - farm.start).days
    if days > LONGEST_WINTER_DAYS or end < line_end:
        most = f"up to {LONGEST_WINTER_DAYS} days, and not before the target's own day"
        raise OutOfRange(Problem("", f"the winter would be {days} days long", most))
    winter = replace(farm.winter, line_end=line_end if line_end < end else None)
    return replace(farm, end=end, days=days, winter=winter)


def _priced(change: PriceMove, farm: Farm) -> Farm:
    moved: dict[str, float] = {}
    for offer in _chosen(change.feed, farm, _is_bought):
        price = change.price(offer.price_gbp_per_t_fresh)
        if not price > 0:
            raise _no_price(offer.name, price)
        moved[offer.id] = price
    return replace(
        farm,
        offers=tuple(
            replace(o, price_gbp_per_t_fresh=moved[o.id]) if o.id in moved else o
            for o in farm.offers
        ),
    )


def _no_price(name: str, price: float) -> OutOfRange:
    read = f"{name} would cost {price:.2f} pounds a tonne"
    return OutOfRange(Problem("", read, "a bought feed has a price", "Make the move smaller"))


def apply_to_supplies(
    change: Change, supplies: Sequence[Supply], farm: Farm | None = None
) -> tuple[Supply, ...]:
    """Merchants' quotes after a price move; any other change leaves them.

    Every tier moves; drop charges and haulage do not.

    Parameters
    ----------
    change : Change
    supplies : sequence of Supply
    farm : Farm, optional
        For names of feeds and kinds such as "hay"; without it only "all bought feed" and ids of
        feeds are known.

    Raises
    ------
    InputError
        The feed is not known, or a price would fall to nothing.
    """
    if not isinstance(change, PriceMove):
        return tuple(supplies)
    if farm is not None:
        ids = {o.id for o in _chosen(change.feed, farm, _is_bought)}
    else:
        ids = {s.offer_id for s in supplies}
        if id_of(change.feed) != id_of(ALL_BOUGHT):
            if id_of(change.feed) not in ids:
                raise _not_known(change.feed, sorted(ids))
            ids = {id_of(change.feed)}
    return tuple(_moved(change, s) if s.offer_id in ids else s for s in supplies)


def _moved(change: PriceMove, supply: Supply) -> Supply:
    tiers = []
    for tier in supply.quote.tiers:
        price = change.price(tier.price_gbp_per_t_fresh)
        if not price > 0:
            raise _no_price(f"{supply.quote.feed} of {supply.quote.merchant}", price)
        tiers.append(replace(tier, price_gbp_per_t_fresh=price))
    return replace(supply, quote=replace(supply.quote, tiers=tuple(tiers)))


# ---------------------------------------------------------------- which feeds


def _all(offer: Offer) -> bool:
    return True


def _is_bought(offer: Offer) -> bool:
    return not offer.is_home


def _is_home(offer: Offer) -> bool:
    return offer.is_home


def _chosen(name: str, farm: Farm, wanted: Callable[[Offer], bool]) -> tuple[Offer, ...]:
    """The offers a name stands for, one at least: one feed, what is in store of it, or a kind."""
    key = id_of(name)
    named = [o for o in farm.offers if key in (o.id, id_of(o.name)) or o.id == key + IN_STORE]
    if not named and key == id_of(ALL_BOUGHT):
        named = [o for o in farm.offers if not o.is_home]
    if key in KINDS and wanted is not _is_home:
        named += [o for o in farm.offers if o.feed.group == key and o not in named]
    if not named:
        raise _not_known(name, [o.id for o in farm.offers])
    found = tuple(o for o in named if wanted(o))
    if not found:
        kind = "bought" if wanted is _is_bought else "in store"
        raise InputError(Problem("", f"{shown(name)} is not {kind} on this farm"))
    return found


def _not_known(name: str, ids: Sequence[str]) -> UnknownName:
    hint = nearest(id_of(name), tuple(ids))
    read = f"{shown(name)} is not a feed of this farm"
    return UnknownName(Problem("", read, f"feeds: {', '.join(ids)}", hint))


# ---------------------------------------------------------------- figures


def _with_figures(change: FeedMove, farm: Farm) -> Farm:
    touched = {o.id for o in _chosen(change.feed, farm, _all)}
    return replace(
        farm,
        offers=tuple(
            replace(o, feed=_feed(change, o.feed)) if o.id in touched else o for o in farm.offers
        ),
    )


def _feed(change: FeedMove, feed: Feed) -> Feed:
    moves = {
        "me_mj_per_kg_dm": (change.me_mj_per_kg_dm, LEAST_ME_MJ_PER_KG_DM, "MJ/kg DM of energy"),
        "cp_g_per_kg_dm": (change.cp_g_per_kg_dm, 1.0, "g/kg DM of protein"),
    }
    new: dict[str, Figure] = {}
    for nutrient, (more, least, words) in moves.items():
        if more == 0:
            continue
        old = feed.figure(nutrient)
        value = old.value + more
        if value < least:
            read = f"{feed.name} would have {value:g} {words}"
            raise OutOfRange(Problem("", read, f"{least:g} or more is believable"))
        note = f"was {old.value:g}, {old.origin}"
        new[nutrient] = replace(
            old, value=value, mark="derived", source=f"what if: {change.words}", note=note
        )
    gone = {n for nutrient in new for n in FALL_WITH.get(nutrient, ())}
    kept = {n: f for n, f in feed.figures.items() if n not in gone}
    return replace(feed, figures=MappingProxyType({**kept, **new}))


# ---------------------------------------------------------------- sheep


def shared_out(total: int, old: Sequence[int]) -> tuple[int, ...]:
    """A number of head over groups by what they were, the largest remainders rounded up.

    Examples
    --------
    >>> shared_out(204, (92, 58, 34))
    (102, 64, 38)
    """
    before = sum(old)
    floors = [head * total // before for head in old]
    by_rest = sorted(range(len(old)), key=lambda i: (-(old[i] * total % before), i))
    for i in by_rest[: total - sum(floors)]:
        floors[i] += 1
    return tuple(floors)


def _with_head(change: MoreSheep, farm: Farm) -> Farm:
    names = [b.name for b in farm.batches]
    if change.batch and change.batch not in names:
        matched = [n for n in names if id_of(n) == id_of(change.batch)]
        if not matched:
            read = f"{shown(change.batch)} is not a batch of this farm"
            hint = nearest(change.batch, tuple(names))
            raise UnknownName(Problem("", read, f"batches: {', '.join(names)}", hint))
        return _with_head(replace(change, batch=matched[0]), farm)
    touched = [b for b in farm.batches if change.batch in ("", b.name)]
    total = sum(b.head for b in touched) + change.head
    if total < len(touched):
        read = f"{total} head would be left of {sum(b.head for b in touched)}"
        raise OutOfRange(Problem("", read, "a batch has at least 1 sheep"))
    heads = dict(
        zip(
            [b.name for b in touched],
            shared_out(total, [b.head for b in touched]),
            strict=True,
        )
    )
    if empty := [name for name, head in heads.items() if head < 1]:
        raise OutOfRange(Problem(empty[0], "no sheep would be left", "at least 1 in a batch"))
    pens = {
        name: tuple(h for h in shared_out(heads[name], pen) if h > 0) if name in heads else pen
        for name, pen in farm.winter.pens.items()
    }
    return replace(
        farm,
        batches=tuple(
            replace(b, head=heads[b.name]) if b.name in heads else b for b in farm.batches
        ),
        winter=replace(farm.winter, pens=MappingProxyType(pens)),
    )


# ---------------------------------------------------------------- feed lost


def _after_loss(change: Loss, farm: Farm) -> Farm:
    offer = _chosen(change.feed, farm, _is_home)[0]
    stock = offer.stock_t_fresh
    if stock is None:
        raise InputError(Problem("", f"the stock of {offer.name} is not known", "", "Count it"))
    lost = _lost_t(change, offer, stock)
    if lost > stock + HAIR_T:
        read = f"{change.words}, but there are {stock:.2f} t"
        raise OutOfRange(Problem("", read, "no more can be lost than there is"))
    left = max(0.0, stock - lost)
    lot = lot_of(offer, left)
    unmet = max(0.0, offer.first_claim_t_fresh - left)
    names = offer.claims or ((OTHERS, offer.first_claim_t_fresh),)
    share = unmet / offer.first_claim_t_fresh if unmet else 0.0
    moved = [(who, t * share) for who, t in names]
    words = f"{offer.stock_words}, less {lost:.2f} t lost".removeprefix(", ")
    after = replace(
        offer,
        stock_t_fresh=left,
        lot=lot,
        stock_words=words,
        first_claim_t_fresh=offer.first_claim_t_fresh - unmet,
        claims=tuple((who, t * (1 - share)) for who, t in offer.claims),
    )
    offers = {o.id: after if o.id == offer.id else o for o in farm.offers}
    takers = [
        o
        for o in offers.values()
        if o.is_home and o.id != offer.id and o.feed.group == offer.feed.group
    ]
    for taker in sorted(takers, key=lambda o: -(o.available_t_fresh or 0.0)):
        taken = min(unmet, taker.available_t_fresh or 0.0)
        if taken <= 0:
            break
        offers[taker.id] = _claimed(taker, [(who, t * taken / unmet) for who, t in moved])
        moved = [(who, t * (1 - taken / unmet)) for who, t in moved]
        unmet -= taken
    return replace(farm, offers=tuple(offers.values()))


def _lost_t(change: Loss, offer: Offer, stock_t: float) -> float:
    if change.tonnes is not None:
        return change.tonnes
    if change.share is not None:
        return stock_t * change.share
    bales = change.bales or 0
    if offer.lot is None or offer.lot.bales == 0:
        read = f"how many bales there are of {offer.name} is not known"
        do = f'Write "lost 20 % of {change.feed}" or "lost 1.5 t of {change.feed}"'
        raise InputError(Problem("", read, "", do))
    if bales > offer.lot.bales:
        read = f"{change.words}, but there are {offer.lot.bales}"
        raise OutOfRange(Problem("", read, "no more can be lost than there is"))
    return stock_t * bales / offer.lot.bales


def _claimed(offer: Offer, more: Sequence[tuple[str, float]]) -> Offer:
    """A feed on which other stock have a further claim. [t fresh]"""
    total = offer.first_claim_t_fresh + sum(t for _, t in more)
    if offer.first_claim_t_fresh > 0 and not offer.claims:
        return replace(offer, first_claim_t_fresh=total)
    claims = dict(offer.claims)
    for who, tonnes in more:
        claims[who] = claims.get(who, 0.0) + tonnes
    return replace(offer, first_claim_t_fresh=total, claims=tuple(claims.items()))
