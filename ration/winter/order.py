"""The order: what is bought of a plan, gathered as a farmer would write it down and ring it in.

A supply that comes once, twice or three times has a row a delivery; one that comes oftener, or in
small lots, has one row. Beside each stands whether it is rather bought now or later.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING

from ration.buying.landed import rise_gbp_per_t, timing
from ration.quotes.records import BAG, BALE, BULK, TONNE_BAG, Supply
from ration.units import day_words, money

if TYPE_CHECKING:
    from ration.winter.records import Delivery, Plan

MOST_ROWS = 3
SMALL_T = 0.5
EMPTY_T = 1e-3
DAYS_A_MONTH = 365 / 12
YOUR_PRICE = "your own price"
_PACKS = {BAG: "bag", TONNE_BAG: "tonne bag", BALE: "bale"}
_PENNY = 0.005


@dataclass(frozen=True)
class OrderRow:
    """One row of the order sheet.

    Attributes
    ----------
    supply : Supply
    feed : str
    deliveries : tuple of (date, float)
        Days and tonnes. [t fresh]
    tonnes : float
        [t fresh]
    packs : int or None
        None for bulk.
    loads : int
        Lorry loads that bring it, other feeds on them or not; 0 where none are counted.
    is_shared : bool
        Other feeds come on the same loads.
    cost_gbp : float
        Drop charges apart. [GBP]
    walk_away_gbp_per_t : float or None
        Price above which the plan without it is cheaper; inf when nothing else will do.
    """

    supply: Supply
    feed: str
    deliveries: tuple[tuple[date, float], ...]
    tonnes: float
    packs: int | None
    loads: int
    is_shared: bool
    cost_gbp: float
    walk_away_gbp_per_t: float | None

    @property
    def merchant(self) -> str:
        """Who it is from."""
        return self.supply.quote.merchant or YOUR_PRICE

    @property
    def first(self) -> date:
        """Day of the first delivery."""
        return self.deliveries[0][0]

    @property
    def tonnes_words(self) -> str:
        """8.00, with a third digit under 50 kg."""
        return f"{self.tonnes:.2f}" if self.tonnes >= 0.05 else f"{self.tonnes:.3f}"

    @property
    def price_gbp_per_t(self) -> float:
        """Mean price. [GBP/t fresh]"""
        return self.cost_gbp / self.tonnes

    @property
    def when(self) -> str:
        """28 October; monthly, 28 October to 17 March; first on 28 October, last on 17 March."""
        days = [d for d, _ in self.deliveries]
        if len(days) == 1:
            return day_words(days[0])
        if len(days) > MOST_ROWS and all(25 <= (b - a).days <= 35 for a, b in pairwise(days)):
            return f"monthly, {day_words(days[0])} to {day_words(days[-1])}"
        said = f"first on {day_words(days[0])}, last on {day_words(days[-1])}"
        return said if self.amount.startswith(f"{len(days)} ") else f"in {len(days)} lots, {said}"

    @property
    def amount(self) -> str:
        """2 tonne bags; 1 load; part of 1 load; 44 bags on 2 pallets; 11 lots."""
        quote = self.supply.quote
        if quote.pack != BULK and self.packs is not None:
            word = _PACKS[quote.pack]
            size = "" if quote.pack == TONNE_BAG else f" of {quote.pack_kg:g} kg"
            said = f"{_count(self.packs, word)}{size}"
            if quote.packs_per_pallet:
                pallets = math.ceil(self.packs / quote.packs_per_pallet)
                said += f" on {_count(pallets, 'pallet')}"
            return said
        if quote.is_collected:
            return _count(len(self.deliveries), "trip")
        if not self.supply.quote.merchant or not self.loads:
            return _count(len(self.deliveries), "lot")
        return f"{'part of ' if self.is_shared else ''}{_count(self.loads, 'load')}"


def _count(number: int, word: str) -> str:
    return f"{number:,} {word}" + ("" if number == 1 else "s")


def rows_of(plan: Plan) -> tuple[OrderRow, ...]:
    """The order sheet by date, feed and merchant."""
    names = {o.id: o.name for o in plan.offers}
    out = []
    for supply in plan.supplies:
        by_day: dict[date, list[Delivery]] = {}
        for d in plan.deliveries:
            if d.supply.id == supply.id:
                by_day.setdefault(d.period.start, []).append(d)
        for days in _gathered(by_day):
            found = [d for day in days for d in by_day[day]]
            loads, is_shared = _loads(plan, supply, days)
            out.append(
                OrderRow(
                    supply=supply,
                    feed=names.get(supply.offer_id, supply.quote.feed),
                    deliveries=tuple((day, _tonnes(by_day[day])) for day in days),
                    tonnes=_tonnes(found),
                    packs=None
                    if supply.quote.pack_kg is None
                    else sum(d.packs or 0 for d in found),
                    loads=loads,
                    is_shared=is_shared,
                    cost_gbp=math.fsum(d.cost_gbp for d in found),
                    walk_away_gbp_per_t=plan.walk_away_gbp_per_t.get(supply.id),
                )
            )
    return tuple(sorted(out, key=lambda r: (r.first, r.feed, r.merchant)))


def _tonnes(deliveries: Sequence[Delivery]) -> float:
    return math.fsum(d.tonnes for d in deliveries)


def _gathered(by_day: dict[date, list[Delivery]]) -> list[tuple[date, ...]]:
    """The days of one supply as rows: apart when few and large, else together."""
    days = sorted(by_day)
    is_small = len(days) > 1 and all(_tonnes(by_day[d]) < SMALL_T for d in days)
    if is_small or len(days) > MOST_ROWS:
        return [tuple(days)]
    return [(day,) for day in days]


def _loads(plan: Plan, supply: Supply, days: Sequence[date]) -> tuple[int, bool]:
    """Lorry loads that bring a supply on some days, and whether other feeds are on them."""
    is_bulk = supply.quote.pack == BULK
    loads, is_shared = 0, False
    for day in days:
        drops = [
            d
            for d in plan.drops
            if d.merchant == supply.quote.merchant
            and (d.pack == BULK) == is_bulk
            and d.period.start == day
        ]
        coming = [d for d in plan.deliveries if d.period.start == day]
        together = [d for d in coming if _terms(d.supply) == _terms(supply)]
        tonnes = _tonnes(together)
        own = [d for d in drops if abs(d.tonnes - tonnes) <= EMPTY_T] or drops
        loads += sum(d.loads for d in own)
        is_shared |= any(d.supply.id != supply.id for d in together)
    return loads, is_shared


def _terms(supply: Supply) -> tuple[object, ...]:
    """What feeds must have alike to come on one lorry."""
    q = supply.quote
    return (
        q.merchant,
        q.pack == BULK,
        q.least_drop_t,
        q.drop_charge_gbp,
        q.lorry_t,
        q.most_drop_t,
        q.is_collected,
    )


# ---------------------------------------------------------------- now or later


@dataclass(frozen=True)
class NowOrLater:
    """Whether one supply is rather bought now or later.

    Attributes
    ----------
    supply : Supply
    feed, merchant : str
    is_now : bool
        The plan has it come on the first day, all of it.
    months : float
        That the average tonne lies in store, or would if it came on the first day. [month]
    hold_gbp_per_t : float
        Interest and loss in store over those months. [GBP/t fresh]
    rise_gbp_per_t : float
        That the price rises over the time, by the quote. [GBP/t fresh]
    words : str
    """

    supply: Supply
    feed: str
    merchant: str
    is_now: bool
    months: float
    hold_gbp_per_t: float
    rise_gbp_per_t: float
    words: str


def now_or_later(plan: Plan) -> tuple[NowOrLater, ...]:
    """One for each supply that is bought, in the order of the sheet."""
    done: dict[str, NowOrLater] = {}
    for row in rows_of(plan):
        if row.supply.id not in done:
            done[row.supply.id] = _told(plan, row)
    return tuple(done.values())


def _told(plan: Plan, row: OrderRow) -> NowOrLater:
    mine = [d for d in plan.deliveries if d.supply.id == row.supply.id]
    start, tonnes, quote = plan.farm.start, _tonnes(mine), row.supply.quote
    price = math.fsum(d.cost_gbp for d in mine) / tonnes
    is_now = all(d.period.start == start for d in mine)

    def rise(day: date) -> float:
        ahead = (day - start).days / DAYS_A_MONTH
        return rise_gbp_per_t(quote, day, ahead) - rise_gbp_per_t(quote, start)

    if is_now:
        waits = (_fed_until(plan, row.supply.offer_id) - start) / 2
        months, risen = waits.days / DAYS_A_MONTH, rise(start + waits)
    else:
        days = math.fsum(d.tonnes * (d.period.start - start).days for d in mine) / tonnes
        months = days / DAYS_A_MONTH
        risen = math.fsum(d.tonnes * rise(d.period.start) for d in mine) / tonnes
    winter = plan.farm.winter
    shrink = winter.shrink_share_per_month * months
    hold = timing(price, months, winter.interest_share_per_year, 0.0, shrink)
    if is_now:
        words = _now_words(months, hold, risen)
    else:
        words = _later_words([d.period.start for d in mine], months, hold, risen)
    return NowOrLater(
        row.supply, row.feed, row.merchant, is_now, months, hold, risen, f"{_what(row)}: {words}"
    )


def _what(row: OrderRow) -> str:
    name = row.supply.quote.merchant
    words = f"{row.feed}, {name}" if name and name not in row.feed else row.feed
    return words[:1].upper() + words[1:]


def _fed_until(plan: Plan, offer_id: str) -> date:
    """The day by which a feed in store is used up."""
    lines = [s for s in plan.stocks if s.offer_id == offer_id]
    fed = [s.period.end for s in lines if s.fed_t > EMPTY_T]
    return max(fed, default=plan.farm.end)


def _now_words(months: float, hold: float, rise: float) -> str:
    lies = (
        f"now. The average tonne lies {months:.1f} months before it is fed, which costs "
        f"{money(hold)}/t in interest and loss"
    )
    if rise > hold + _PENNY:
        return f"{lies}; in that time the price rises {money(rise)}/t, so now pays."
    said = f"rises only {money(rise)}/t" if rise > _PENNY else "has no rise in the quote"
    return (
        f"{lies}, and the price {said}. If part of it could come later at the same price and "
        "charges, that would be cheaper."
    )


def _later_words(days: Sequence[date], months: float, hold: float, rise: float) -> str:
    lots = len(set(days))
    if lots == 1:
        lead, by = f"later, on {day_words(days[0])}", "by then"
    else:
        lead, by = (
            f"as it is wanted, in {lots} lots to {day_words(max(days))}",
            "over those lots",
        )
    early = (
        f"Having it all on the first day, {months:.1f} months sooner on average, would cost "
        f"{money(hold)}/t in interest and loss"
    )
    if rise > hold + _PENNY:
        return (
            f"{lead}. {early}, and {by} the price rises {money(rise)}/t: take more of it now if "
            "you can find room and a load for it."
        )
    said = f"rises {money(rise)}/t {by}" if rise > _PENNY else "has no rise in the quote"
    return f"{lead}. {early}, and the price {said}: now pays only on a rise of more than that."
