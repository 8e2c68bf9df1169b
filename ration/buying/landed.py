"""What feed costs in the bin: tiers, drops, haulage, rise, terms; and the cheapest way to buy it.

Plain sums, each part by itself. Money is ex VAT. Over-ordering to a price step or to the least
drop is weighed against paying more a tonne; what is left over is worth nothing here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from ration import assess, units
from ration.buying.tie import least_load_t, most_load_t, pack_unit_t, whole_packs_t
from ration.choices import FOR_PROTEIN
from ration.errors import ModelError, OutOfRange, Problem
from ration.feeds import Feed
from ration.needs import Chemistry, Standard
from ration.quotes.records import Quote
from ration.standards import afrc1993

FEEDING_LEVEL = 1.5  # of growing ewe lambs, for the MP of one feed by itself; common practice
DAYS_A_YEAR = 365
_EPS = 1e-9


@dataclass(frozen=True)
class Landed:
    """Price in the bin, part by part. [GBP/t fresh]

    Attributes
    ----------
    tonnes, drops : float, int
        Bought, and in how many deliveries. [t fresh]
    price, rise, haulage, drop_charges : float
        Of the tier; monthly rise to the day of delivery; carriage; drop charges over the tonnes.
    cash_off, credit, interest : float
        Discount for paying with the order (taken off); worth of the payment days (taken off);
        interest from paying with the order to delivery. Either the first and last or the second.
    """

    tonnes: float
    drops: int
    price_gbp_per_t_fresh: float
    rise_gbp_per_t_fresh: float = 0.0
    haulage_gbp_per_t_fresh: float = 0.0
    drop_charges_gbp_per_t_fresh: float = 0.0
    cash_off_gbp_per_t_fresh: float = 0.0
    credit_gbp_per_t_fresh: float = 0.0
    interest_gbp_per_t_fresh: float = 0.0

    @property
    def invoice_gbp_per_t_fresh(self) -> float:
        """Before terms. [GBP/t fresh]"""
        return (
            self.price_gbp_per_t_fresh
            + self.rise_gbp_per_t_fresh
            + self.haulage_gbp_per_t_fresh
            + self.drop_charges_gbp_per_t_fresh
        )

    @property
    def gbp_per_t_fresh(self) -> float:
        """All in, terms valued on the day of delivery. [GBP/t fresh]"""
        return (
            self.invoice_gbp_per_t_fresh
            - self.cash_off_gbp_per_t_fresh
            - self.credit_gbp_per_t_fresh
            + self.interest_gbp_per_t_fresh
        )

    @property
    def cost_gbp(self) -> float:
        """All of it. [GBP]"""
        return self.gbp_per_t_fresh * self.tonnes


def tier_price_gbp_per_t(quote: Quote, tonnes: float) -> float:
    """Price of the tier that an order of so many tonnes reaches [GBP/t fresh]."""
    reached = [t for t in quote.tiers if t.from_t <= tonnes + _EPS]
    return (reached or list(quote.tiers[:1]))[-1].price_gbp_per_t_fresh


def rise_gbp_per_t(quote: Quote, on: date, months_ahead: float = 0.0) -> float:
    """Monthly rise by the day of delivery [GBP/t fresh].

    Every calendar month from `rise_from` is counted, that one too; where the quote does not say
    from when, every month after the month of the order.
    """
    month = on.year * 12 + on.month
    if quote.rise_from is not None:
        count = month - (quote.rise_from.year * 12 + quote.rise_from.month) + 1
    else:
        count = round(months_ahead)
    return quote.rise_gbp_per_t_month * max(count, 0)


def landed(
    quote: Quote,
    tonnes: float,
    drops: int,
    on: date | None = None,
    *,
    interest_share_per_year: float | None = None,
    months_ahead: float = 0.0,
) -> Landed:
    """The price in the bin of one order.

    Parameters
    ----------
    quote : Quote
    tonnes : float
        Of the order. [t fresh], over 0.
    drops : int
        Deliveries it comes in.
    on : date or None
        Day of delivery; None leaves the monthly rise out.
    interest_share_per_year : float or None
        Cost of money; None leaves the terms out: the invoice as it stands. [-/year]
    months_ahead : float
        From the order to the delivery. [month]

    Returns
    -------
    Landed
        Of cash with the order and payment on account the cheaper, by simple interest to the day of
        delivery: invoice x i x days / 365 off on account; (invoice - cash off) x i x months / 12
        on for cash. A buyer's own haulage earns no credit.

    Raises
    ------
    OutOfRange
        Nothing is ordered.
    """
    if not tonnes > 0:
        raise OutOfRange(Problem("", f"{tonnes:g} t ordered", "more than nothing is wanted"))
    price = tier_price_gbp_per_t(quote, tonnes)
    rise = 0.0 if on is None else rise_gbp_per_t(quote, on, months_ahead)
    charges = quote.drop_charge_gbp * drops / tonnes
    cash_off = credit = interest = 0.0
    if interest_share_per_year is not None:
        owed = price + rise + charges
        owed += 0.0 if quote.is_collected else quote.haulage_gbp_per_t
        on_account = owed * interest_share_per_year * quote.payment_days / DAYS_A_YEAR
        wait = (owed - quote.cash_off_gbp_per_t) * interest_share_per_year * months_ahead / 12
        if quote.cash_off_gbp_per_t - wait > on_account:
            cash_off, interest = quote.cash_off_gbp_per_t, wait
        else:
            credit = on_account
    return Landed(
        tonnes, drops, price, rise, quote.haulage_gbp_per_t, charges, cash_off, credit, interest
    )


# ---------------------------------------------------------------- by what is in it


@dataclass(frozen=True)
class UnitCosts:
    """One price by what it buys; None where the feed brings none or its figure is not known."""

    gbp_per_t_dm: float | None
    p_per_mj: float | None
    gbp_per_kg_cp: float | None
    gbp_per_kg_mp: float | None
    mp_g_per_kg_dm: float | None


def unit_costs(
    feed: Feed,
    gbp_per_t_fresh: float,
    needs: Standard,
    *,
    feeding_level: float = FEEDING_LEVEL,
) -> UnitCosts:
    """Price per tonne of dry matter, MJ of ME, kg of crude and of metabolisable protein.

    Parameters
    ----------
    feed : Feed
    gbp_per_t_fresh : float
        Landed. [GBP/t fresh]
    needs : Standard
        The standard; the batch does not matter.
    feeding_level : float
        At which protein is valued. [-]

    Returns
    -------
    UnitCosts
        The metabolisable protein is that of the feed by itself: the smaller of what its degradable
        protein and its fermentable energy allow, with its DUP.
    """
    dm = feed.get("dm_g_per_kg_fresh")
    if not dm:
        return UnitCosts(None, None, None, None, None)
    share = dm / 1000
    per_kg_dm = units.price_gbp_per_t_dm(gbp_per_t_fresh, share) / 1000
    me, cp = feed.get("me_mj_per_kg_dm"), feed.get("cp_g_per_kg_dm")
    mp = mp_g_per_kg_dm(feed, needs, feeding_level)
    return UnitCosts(
        per_kg_dm * 1000,
        units.price_p_per_mj(gbp_per_t_fresh, share, me) if me else None,
        per_kg_dm / cp * 1000 if cp else None,
        per_kg_dm / mp * 1000 if mp and mp > 0 else None,
        mp,
    )


def mp_g_per_kg_dm(
    feed: Feed, needs: Standard, feeding_level: float = FEEDING_LEVEL
) -> float | None:
    """Metabolisable protein of one feed by itself [g/kg DM]; None where a figure is missing."""
    me, cp = feed.get("me_mj_per_kg_dm"), feed.get("cp_g_per_kg_dm")
    oil = feed.get("oil_g_per_kg_dm")
    if me is None or cp is None or (me > 0 and oil is None):
        return None
    parts = [feed.get(n) for n in FOR_PROTEIN]
    if cp > 0 and any(p is None for p in parts):
        return None
    a, b, c, adin = (np.array([0.0 if p is None else p]) for p in parts)
    fme = afrc1993.fermentable_me_mj_per_kg_dm(me, oil or 0.0, assess.acids_share_of_me(feed))
    chemistry = Chemistry(
        np.array([cp]), a, b, np.maximum(c, 1e-3), adin, np.array([fme]), np.array([me])
    )
    by_n, by_e = needs.protein_value(chemistry, np.array([feeding_level]))
    return float(min(by_n[0, 0], by_e[0, 0]))


# ---------------------------------------------------------------- the cheapest way to buy


@dataclass(frozen=True)
class Buy:
    """The cheapest way to have so much of one feed from one merchant.

    Attributes
    ----------
    quote : Quote
    wanted_t, tonnes : float
        Wanted; bought, over-ordered where that is cheaper. [t fresh]
    drops : int
    packs : int or None
        None for bulk.
    landed : Landed
    """

    quote: Quote
    wanted_t: float
    tonnes: float
    drops: int
    packs: int | None
    landed: Landed

    @property
    def cost_gbp(self) -> float:
        """All of it. [GBP]"""
        return self.landed.cost_gbp

    @property
    def left_t(self) -> float:
        """Bought and not wanted. [t fresh]"""
        return max(self.tonnes - self.wanted_t, 0.0)


def cheapest_buy(
    quotes: Sequence[Quote],
    tonnes: float,
    *,
    lane_t: float | None = None,
    room_t: float = math.inf,
    places: int = 1,
    on: date | None = None,
    interest_share_per_year: float | None = None,
    months_ahead: float = 0.0,
) -> Buy:
    """The cheapest way to have so many tonnes of one feed from one merchant, in one kind of pack.

    Every pack is tried, as wanted and over-ordered to each price step, topped up to the least drop
    and to whole packs and pallets: exact, because between these the bill only rises.

    Parameters
    ----------
    quotes : sequence of Quote
        Of one merchant and feed: bulk, bags.
    tonnes : float
        Wanted. [t fresh], over 0.
    lane_t : float or None
        Heaviest laden lorry the lane takes. [t]
    room_t : float
        What the store holds: most of one drop. [t fresh]
    places : int
        Places to deliver to, at least one drop each.
    on, interest_share_per_year, months_ahead
        As in `landed`.

    Raises
    ------
    ModelError
        No quote can bring that much.
    """
    found = [
        Buy(
            quote,
            tonnes,
            bought,
            drops,
            packs,
            landed(
                quote,
                bought,
                drops,
                on,
                interest_share_per_year=interest_share_per_year,
                months_ahead=months_ahead,
            ),
        )
        for quote in quotes
        for bought, drops, packs in _ways(quote, tonnes, lane_t, room_t, places)
    ]
    if not found:
        raise ModelError(Problem("", f"no quote here can bring {tonnes:g} t"))
    return min(found, key=lambda b: (round(b.cost_gbp, 9), b.tonnes))


def _ways(
    quote: Quote, wanted_t: float, lane_t: float | None, room_t: float, places: int
) -> Iterator[tuple[float, int, int | None]]:
    """Tonnes, drops and packs worth trying with one quote."""
    load = full_load_t(quote, lane_t, room_t)
    if load <= 0:
        return
    for start in (wanted_t, *(t.from_t for t in quote.tiers if t.from_t > wanted_t)):
        bought, drops = filled_drops(quote, start, load, places)
        if quote.most_t is None or bought <= quote.most_t + 1e-6:
            packs = None if quote.pack_kg is None else round(bought * 1000 / quote.pack_kg)
            yield bought, drops, packs


def full_load_t(quote: Quote, lane_t: float | None, room_t: float = math.inf) -> float:
    """Most of one drop in whole packs; 0 when the least drop is over it [t fresh]."""
    load = min(most_load_t(quote, lane_t), room_t)
    if (unit := pack_unit_t(quote)) > 0 and math.isfinite(load):
        load = math.floor(load / unit + 1e-6) * unit
    return 0.0 if least_load_t(quote) > load + _EPS else load


def filled_drops(quote: Quote, tonnes: float, load_t: float, places: int = 1) -> tuple[float, int]:
    """Tonnes in whole packs that fill every drop to the least, and the drops."""
    drops = max(places, math.ceil(tonnes / load_t - _EPS))
    least = least_load_t(quote)
    return whole_packs_t(quote, max(tonnes, drops * least)), drops


# ---------------------------------------------------------------- now or later


def timing(
    price_gbp_per_t: float,
    months: float,
    interest_share_per_year: float,
    storage_gbp_per_t: float,
    shrink_share: float,
) -> float:
    """Rise of the price above which buying now is cheaper than later [GBP/t fresh].

    Parameters
    ----------
    price_gbp_per_t : float
        Today. [GBP/t fresh]
    months : float
        Until it is wanted. [month]
    interest_share_per_year : float
        Cost of money, simple. [-/year]
    storage_gbp_per_t : float
        For those months. [GBP/t fresh]
    shrink_share : float
        Lost in store over those months. [-]

    Returns
    -------
    float
        price x i x months / 12 + storage + price x shrink.

    Examples
    --------
    >>> timing(288.0, 3, 0.06, 2.0, 0.01)
    9.20
    """
    interest = price_gbp_per_t * interest_share_per_year * months / 12
    return interest + storage_gbp_per_t + price_gbp_per_t * shrink_share
