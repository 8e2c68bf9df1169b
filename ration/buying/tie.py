"""Merchants' quotes tied to the farm's feeds, and whether each may be bought.

What may not be fed to sheep, is out of date or cannot get up the lane is refused with what would
make it usable; nothing is dropped silently.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING

from ration import units
from ration.buying.feed_book import COPPER, COPPER_FRESH, DM, FeedBook, who
from ration.errors import InputError, Problem
from ration.farm import Offer, Store
from ration.farm.words import COPPER_BY_LAW_MG_PER_KG_DM, id_of
from ration.feeds import Feed
from ration.quotes.records import Quote, Supply, Tier

if TYPE_CHECKING:
    from ration.farm import Farm
    from ration.tables import Tables

COPPER_WORDS = "copper unknown: ask for the label"
# laden lorry [t]: what it carries [t fresh]; common practice, no source
LOAD_T_BY_LADEN_T: Mapping[float, float] = MappingProxyType(
    {7.5: 3.0, 18.0: 8.0, 26.0: 16.0, 32.0: 20.0, 44.0: 29.0}
)
ARTIC_LADEN_T = 40.0
_OWN_MARKS = ("lab", "label", "user")
_EPS_T = 1e-9


@dataclass(frozen=True)
class Tied:
    """Quotes tied to feeds.

    Attributes
    ----------
    offers : tuple of Offer
        The farm's, at the price of the cheapest usable quote where there is one, then the feeds
        that only quotes bring.
    supplies : tuple of Supply
        One a quote, in order, then one for each bought feed that only the farm file prices; the
        refused ones are among them.
    notes : tuple of str
        What the reader should know, one plain line each.
    stores : tuple of Store
        The farm's, with the feeds that quotes bring put where their like lies.
    stands_for : mapping of str to str
        Id of a feed that only quotes bring to the farm feed it was laid over; "" for none.
    """

    offers: tuple[Offer, ...]
    supplies: tuple[Supply, ...]
    notes: tuple[str, ...]
    stores: tuple[Store, ...] = ()
    stands_for: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    def offer(self, offer_id: str) -> Offer:
        """The feed of a supply."""
        return next(o for o in self.offers if o.id == offer_id)


def most_load_t(quote: Quote, lane_t: float | None) -> float:
    """Most that one delivery brings; 0 when no lorry of this merchant gets up the lane [t fresh].

    Parameters
    ----------
    quote : Quote
    lane_t : float or None
        Heaviest laden lorry the lane takes; None for any. [t]

    Source
    ------
    Loads by laden weight: common practice, no source.

    Examples
    --------
    >>> most_load_t(Quote("Heron", "cubes", (Tier(0.0, 296.0),)), 18.0)
    8.0
    """
    lorry = math.inf
    if not quote.is_collected:
        if lane_t is not None and (quote.lorry_t or 0.0) > lane_t:
            return 0.0
        carried = [
            load for laden, load in LOAD_T_BY_LADEN_T.items() if lane_t is None or laden <= lane_t
        ]
        lorry = max(carried, default=0.0)
    return lorry if quote.most_drop_t is None else min(lorry, quote.most_drop_t)


def pack_unit_t(quote: Quote) -> float:
    """Least that is sold: one pack or one pallet; 0 for bulk [t fresh]."""
    return (quote.pack_kg or 0.0) / 1000 * (quote.packs_per_pallet or 1)


def whole_packs_t(quote: Quote, tonnes: float) -> float:
    """Rounded up to whole packs or pallets [t fresh]."""
    unit = pack_unit_t(quote)
    return tonnes if unit <= 0 else math.ceil(tonnes / unit - 1e-6) * unit


def least_load_t(quote: Quote) -> float:
    """Least that one delivery brings: the least drop in whole packs, or one pack [t fresh]."""
    return max(whole_packs_t(quote, quote.least_drop_t), pack_unit_t(quote))


def room_t(stores: Iterable[Store], offer_id: str) -> float:
    """What the store of a feed holds; infinite when it lies in none [t fresh]."""
    return min((s.holds_t for s in stores if offer_id in s.offer_ids), default=math.inf)


def tie(
    farm: Farm,
    quotes: Sequence[Quote],
    tables: Tables,
    *,
    on: date,
    most_bought_t: Mapping[str, float] | None = None,
) -> Tied:
    """Every quote with the feed it delivers, and why those that are refused are.

    Parameters
    ----------
    farm : Farm
    quotes : sequence of Quote
    tables : Tables
    on : date
        Day on which the order would be placed.
    most_bought_t : mapping of str to float or None
        Most of each feed that the winter can use, by offer id; a feed not named has no such
        limit. [t fresh]

    Returns
    -------
    Tied
        A feed with a quote is bought by quote only: the price in the farm file no longer counts.

    Raises
    ------
    InputError
        A quote that cannot be tied, or whose label cannot be right; one line each.
    """
    book = FeedBook(farm, tables)
    faults: list[Problem] = []
    tied: list[tuple[Quote, str]] = []
    for quote in quotes:
        try:
            tied.append((quote, book.offer_for(quote)))
        except InputError as error:
            faults += error.problems
    if faults:
        raise InputError(*faults)
    stores = book.stores()
    supplies: list[Supply] = []
    taken: set[str] = set()
    for quote, offer_id in tied:
        quote = book.with_stock(quote, offer_id)
        why = _refusals(quote, book.offers[offer_id], farm.winter.lane_t, on)
        name = id_of(f"{quote.merchant} {quote.feed} {quote.pack}")
        supplies.append(Supply(_unique(name, taken), offer_id, quote, "; ".join(why)))
    supplies = _least_drops(supplies, stores, most_bought_t or {})
    quoted = {offer_id for _, offer_id in tied} | set(book.stands_for.values())
    supplies += [
        _from_farm_file(o, taken) for o in farm.offers if not o.is_home and o.id not in quoted
    ]
    offers = tuple(_priced(o, supplies) for o in book.offers.values())
    notes = (
        *book.notes,
        *_copper_notes(supplies, book.offers),
        *_unbuyable(offers, supplies, book.stands_for),
    )
    return Tied(
        offers,
        tuple(supplies),
        tuple(dict.fromkeys(notes)),
        stores,
        MappingProxyType(dict(book.stands_for)),
    )


def _unique(name: str, taken: set[str]) -> str:
    found, n = name, 1
    while found in taken:
        n += 1
        found = f"{name}-{n}"
    taken.add(found)
    return found


def _from_farm_file(offer: Offer, taken: set[str]) -> Supply:
    """A bought feed that has only the farm file's price: bulk, no conditions."""
    quote = Quote(
        "",
        offer.name,
        (Tier(0.0, offer.price_gbp_per_t_fresh),),
        most_t=offer.stock_t_fresh,
        made_for=offer.made_for,
        place=offer.place,
        note=offer.note,
    )
    refused = _made_for_words(offer.made_for) if offer.made_for else ""
    return Supply(_unique(f"{offer.id}-farm-file", taken), offer.id, quote, refused)


def _priced(offer: Offer, supplies: Sequence[Supply]) -> Offer:
    """The offer at the first price of its cheapest usable quote."""
    prices = [
        (s.quote.tiers[0].price_gbp_per_t_fresh + s.quote.haulage_gbp_per_t, s.quote.merchant)
        for s in supplies
        if s.offer_id == offer.id and s.is_usable and s.quote.merchant
    ]
    if not prices:
        return offer
    price, merchant = min(prices)
    words = f"quote of {merchant}, {units.money(price)}/t"
    return replace(offer, price_gbp_per_t_fresh=price, price_words=words)


def _copper_notes(supplies: Sequence[Supply], offers: Mapping[str, Offer]) -> list[str]:
    """Bought compounds whose copper no label tells; a book figure is no evidence."""
    out = []
    for s in supplies:
        feed = offers[s.offer_id].feed
        known = label_copper_mg_per_kg_dm(s.quote, feed) is not None
        if s.quote.merchant and feed.group == "compound" and s.is_usable and not known:
            out.append(f"{who(s.quote)}: {COPPER_WORDS}.")
    return out


def _unbuyable(
    offers: Sequence[Offer], supplies: Sequence[Supply], stands_for: Mapping[str, str]
) -> list[str]:
    """Feeds of which every quote is refused."""
    out = []
    for offer in offers:
        mine = [s for s in supplies if s.offer_id == offer.id]
        if mine and mine[0].quote.merchant and not any(s.is_usable for s in mine):
            beside = "; a price in the farm file does not count beside quotes"
            words = f"{offer.name}: every quote for it is refused, so it cannot be bought"
            out.append(f"{words}{'' if offer.id in stands_for else beside}.")
    return out


# ---------------------------------------------------------------- refusals


def _made_for_words(animal: str) -> str:
    return f"made for {animal}: not for sheep; ask for a sheep feed"


def _refusals(quote: Quote, offer: Offer, lane_t: float | None, on: date) -> list[str]:
    """Why one quote may not be bought, each with what would make it usable."""
    day, why = units.in_words_day, []
    if animal := quote.made_for or offer.made_for:
        why.append(_made_for_words(animal))
    if words := _copper_words(quote, offer.feed):
        why.append(words)
    if quote.valid_until is not None and quote.valid_until < on:
        why.append(f"expired {day(quote.valid_until)}: ask if it still holds")
    if quote.valid_from is not None and quote.valid_from > on:
        why.append(f"holds only from {day(quote.valid_from)}: order then")
    if quote.delivered_until is not None and quote.delivered_until < on:
        why.append(f"delivered only until {day(quote.delivered_until)}: ask for a later date")
    load = most_load_t(quote, lane_t)
    if load <= 0 and quote.lorry_t is not None:
        lorry = (
            "artic only"
            if quote.lorry_t >= ARTIC_LADEN_T
            else f"no lorry under {quote.lorry_t:g} t"
        )
        why.append(f"{lorry}, lane takes {lane_t:g} t: ask for a smaller lorry")
    elif load <= 0:
        why.append(f"lane takes {lane_t:g} t, too little for a lorry: fetch it, or meet it")
    elif least_load_t(quote) > load + _EPS_T:
        why.append(
            f"too large: least drop {least_load_t(quote):g} t, one load is at most {load:g} t: "
            "ask for a part load"
        )
    return why


def label_copper_mg_per_kg_dm(quote: Quote, feed: Feed) -> float | None:
    """Copper by the label or the farm's own figure; None when only a book tells [mg/kg DM]."""
    dm, said = feed.get(DM), quote.declared
    fresh = quote.copper_mg_per_kg_fresh
    if fresh is None and COPPER_FRESH in said:
        fresh = said[COPPER_FRESH].value
    if fresh is not None and dm is not None:
        return units.content_per_kg_dm(fresh, dm / 1000)
    if COPPER in said:
        return said[COPPER].value
    figure = feed.figures.get(COPPER)
    return figure.value if figure is not None and figure.mark in _OWN_MARKS else None


def _copper_words(quote: Quote, feed: Feed) -> str:
    """Copper over what the law allows in a sheep compound, "" when it is not.

    Minerals and licks with a mineral's place are watched in the whole diet instead.
    """
    if feed.group != "compound":
        return ""
    copper = label_copper_mg_per_kg_dm(quote, feed)
    if copper is None or copper <= COPPER_BY_LAW_MG_PER_KG_DM:
        return ""
    return (
        f"copper {copper * 0.88:.3g} mg/kg at 12 % moisture, over the 15 the law allows sheep: "
        "do not feed it; ask for a sheep feed"
    )


def _least_drops(
    supplies: Sequence[Supply], stores: Sequence[Store], most_bought_t: Mapping[str, float]
) -> list[Supply]:
    """Refuse least drops that all feeds of the merchant together could not fill or hold."""
    out = []
    for s in supplies:
        q = s.quote
        load = {
            x.offer_id
            for x in supplies
            if x.quote.merchant == q.merchant and x.quote.pack == q.pack and x.is_usable
        } | {s.offer_id}
        where = {st.name: st.holds_t for st in stores if load & set(st.offer_ids)}
        is_housed = all(math.isfinite(room_t(stores, i)) for i in load)
        room = sum(where.values()) if is_housed else math.inf
        use = sum(most_bought_t.get(i, math.inf) for i in load)
        least = least_load_t(q)
        why = ""
        if s.is_usable and least > room + _EPS_T:
            names = " and ".join(where)
            verb = "holds" if len(where) == 1 else "hold"
            why = (
                f"too large: least drop {least:g} t, the {names} {verb} {room:g} t: "
                "ask for a part load, or for bags"
            )
        elif s.is_usable and least > use + _EPS_T:
            why = (
                f"too large: least drop {least:g} t, this winter can use {use:.3g} t: "
                "share a load, or ask for bags"
            )
        out.append(replace(s, refused=why) if why else s)
    return out
