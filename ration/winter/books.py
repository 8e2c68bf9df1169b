"""A solved winter made into a plan, summed again from the feeds, and refused if sums differ.

Nothing here reads the optimiser's rows: rations are assessed from the feeds, stocks are walked
through day by day's sums, the bill is added up from deliveries and stocks.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ration import assess
from ration import needs as standards
from ration.buying.landed import rise_gbp_per_t
from ration.errors import BalanceError, Problem
from ration.lines import portion
from ration.needs import Array
from ration.winter import calendar
from ration.winter.records import Bill, Delivery, Drop, Fed, StockLine
from ration.winter.season import DAYS_A_MONTH, Season, unit_of

BOOKS = 1e-6
GRAM_T = 1e-6


def fed_of(season: Season, rations: Mapping[tuple[int, int], Array]) -> tuple[Fed, ...]:
    """Every batch in every period, assessed from the feeds.

    Raises
    ------
    BalanceError
        A ration does not meet its needs.
    """
    farm = season.farm
    out, faults = [], []
    for t, period in enumerate(season.periods):
        for b, batch in enumerate(season.batches):
            x = rations[b, t]
            then = calendar.batch_in(farm, batch, period)
            need = standards.of_farm(farm, then, period.start, period.end)
            used = [j for j in range(len(x)) if x[j] > 0]
            offered = {
                season.offers[j].id: float(
                    x[j]
                    / (season.offers[j].feed["dm_g_per_kg_fresh"] / 1000)
                    / (1 - season.offers[j].waste_share)
                )
                for j in used
            }
            told = assess.assess(
                need, [portion(season.offers[j], offered[season.offers[j].id]) for j in used]
            )
            where = f"{batch.name}, {period.start:%d %B}"
            faults += [
                Problem(where, f"{x.name}: {x.supply:g} is under {x.need:g}")
                for x in told.balances
                if x.need is not None and x.supply < x.need * (1 - BOOKS) - 1e-9
            ]
            kg = {season.offers[j].id: float(x[j]) for j in used}
            grazed = {o.id for o in season.offers if o.is_grazed}
            put_out = {name: amount for name, amount in offered.items() if name not in grazed}
            out.append(Fed(need.batch, period, kg, put_out, told))
    _refuse(faults)
    return tuple(out)


def deliveries_of(
    season: Season, bought: Mapping[tuple[int, int, int], float]
) -> tuple[Delivery, ...]:
    """What comes when, from tonnes by (supply, tier, period)."""
    out = []
    for (s, k, t), tonnes in sorted(bought.items(), key=lambda item: (item[0][2], item[0][0])):
        quote = season.supplies[s].quote
        price = season.price_gbp_per_t(s, quote.tiers[k], t)
        packs = None
        if quote.pack_kg is not None:
            packs = round(tonnes * 1000 / quote.pack_kg)
            tonnes = packs * quote.pack_kg / 1000 if unit_of(quote) else tonnes
        out.append(
            Delivery(season.supplies[s], season.periods[t], tonnes, packs, price, tonnes * price)
        )
    return tuple(out)


def drops_of(
    season: Season, loads: Mapping[tuple[int, int], float], deliveries: tuple[Delivery, ...]
) -> tuple[Drop, ...]:
    """Lorry loads by merchant and period."""
    out = []
    for g, terms in enumerate(season.terms):
        ids = {season.supplies[s].id for s in terms.supplies}
        for t, period in enumerate(season.periods):
            tonnes = sum(d.tonnes for d in deliveries if d.supply.id in ids and d.period.index == t)
            count = round(loads.get((g, t), 0.0))
            if terms.is_free and tonnes > GRAM_T:
                count = int(np.ceil(tonnes / terms.most_t - 1e-9)) if terms.most_t > 0 else 1
            if count and tonnes > GRAM_T:
                out.append(
                    Drop(
                        terms.merchant, terms.pack, period, count, tonnes, count * terms.charge_gbp
                    )
                )
    return tuple(out)


def stocks_of(
    season: Season,
    fed: tuple[Fed, ...],
    fill: Mapping[tuple[str, str], float],
    deliveries: tuple[Delivery, ...],
) -> tuple[StockLine, ...]:
    """Every feed's store walked through the winter from what is fed and what comes.

    Raises
    ------
    BalanceError
        A store goes under nothing by more than a gram.
    """
    farm = season.farm
    heads = {b.name: b.head for b in farm.batches}
    out, faults = [], []
    for offer in season.offers:
        dm = offer.feed["dm_g_per_kg_fresh"] / 1000
        now = (offer.available_t_fresh or 0.0) if offer.is_home else 0.0
        for t, period in enumerate(season.periods):
            bought = sum(
                d.tonnes
                for d in deliveries
                if d.supply.offer_id == offer.id and d.period.index == t
            )
            days = season.trough_days(t) if offer.feed.is_concentrate else float(period.days)
            put_out = 0.0
            for f in fed:
                if f.period.index != t:
                    continue
                put_out += f.kg_offered.get(offer.id, 0.0) * heads[f.batch.name] * days / 1000
                if t == 0:
                    kg_dm = fill.get((f.batch.name, offer.id), 0.0)
                    put_out += kg_dm / dm / (1 - offer.waste_share) * heads[f.batch.name] / 1000
            spoiled = put_out / (1 - offer.storage_loss_share) - put_out
            shrunk = (
                0.0
                if offer.is_home
                else now * period.days * farm.winter.shrink_share_per_month / (365 / 12)
            )
            then = now + bought - put_out - spoiled - shrunk
            if then < -GRAM_T - BOOKS * (now + bought):
                faults.append(
                    Problem(offer.name, f"{-then * 1000:.3f} kg too much is fed from the store")
                )
            if max(now, bought, put_out) > 0:
                out.append(
                    StockLine(offer.id, period, now, bought, put_out, spoiled + shrunk, then)
                )
            now = then
    _refuse(faults)
    return tuple(out)


def bill_of(
    season: Season,
    deliveries: tuple[Delivery, ...],
    drops: tuple[Drop, ...],
    stocks: tuple[StockLine, ...],
) -> Bill:
    """The money, from what comes and what is left."""
    farm = season.farm
    last: dict[str, float] = {}
    for line in stocks:
        last[line.offer_id] = line.closing_t
    home = left = 0.0
    for offer in season.offers:
        if offer.is_home:
            opening = offer.available_t_fresh or 0.0
            home += (opening - last.get(offer.id, opening)) * offer.price_gbp_per_t_fresh
            continue
        over = max(last.get(offer.id, 0.0), 0.0)
        heaps = sorted(
            (
                (_worth_after(season, d), d.tonnes)
                for d in deliveries
                if d.supply.offer_id == offer.id
            ),
            reverse=True,
        )
        for value, tonnes in heaps:
            part = min(over, tonnes)
            left += part * value
            over -= part

    def share(day_index: int, payment_days: int) -> float:
        out = max(0, (farm.end - season.periods[day_index].start).days - payment_days)
        return farm.winter.interest_share_per_year * out / 365

    interest = sum(
        d.cost_gbp * share(d.period.index, d.supply.quote.payment_days) for d in deliveries
    ) + sum(d.charge_gbp * share(d.period.index, 0) for d in drops)
    return Bill(
        feed_gbp=sum(d.cost_gbp for d in deliveries),
        drops_gbp=sum(d.charge_gbp for d in drops),
        home_gbp=home,
        interest_gbp=interest,
        leftover_gbp=left,
    )


def _worth_after(season: Season, d: Delivery) -> float:
    """What a tonne of a delivery left at turnout is worth. [GBP/t fresh]"""
    quote = d.supply.quote
    ahead = (d.period.start - season.farm.start).days / DAYS_A_MONTH
    bare = d.price_gbp_per_t_fresh - rise_gbp_per_t(quote, d.period.start, ahead)
    return season.farm.winter.leftover_share * max(bare, 0.0)


def check_conditions(
    season: Season,
    deliveries: tuple[Delivery, ...],
    drops: tuple[Drop, ...],
    cost: float,
    bill: Bill,
) -> None:
    """Hold the order against the merchants' conditions and the bill against the programme's.

    Raises
    ------
    BalanceError
        A tier, least drop, lorry, store of all there is, or the money is not kept.
    """
    faults = []
    total: dict[str, float] = {}
    for d in deliveries:
        total[d.supply.id] = total.get(d.supply.id, 0.0) + d.tonnes
        q = d.supply.quote
        if q.delivered_until is not None and d.period.start > q.delivered_until:
            faults.append(Problem(q.place, f"{q.feed} comes after {q.delivered_until}"))
    for d in deliveries:
        q, t = d.supply.quote, total[d.supply.id]
        owed = [x.price_gbp_per_t_fresh for x in q.tiers if x.from_t <= t * (1 + BOOKS) + GRAM_T]
        first = next(x for x in deliveries if x.supply.id == d.supply.id)
        base = first.price_gbp_per_t_fresh - q.haulage_gbp_per_t + q.cash_off_gbp_per_t
        if not owed or base < min(owed) - 1e-6:
            faults.append(Problem(q.place, f"{q.feed}: {t:.3f} t does not reach its price"))
        if q.most_t is not None and t > q.most_t + GRAM_T:
            faults.append(Problem(q.place, f"{q.feed}: {t:.3f} t is over all there is"))
    for drop in drops:
        matching = [x for x in season.terms if x.merchant == drop.merchant and x.pack == drop.pack]
        if not any(
            x.least_t * drop.loads <= drop.tonnes + GRAM_T * 10
            and drop.tonnes <= x.most_t * drop.loads + GRAM_T * 10
            for x in matching
        ):
            faults.append(
                Problem(drop.merchant, f"{drop.loads} loads of {drop.tonnes:.3f} t break its terms")
            )
    if not abs(bill.total_gbp - cost) <= BOOKS * max(abs(cost), 1.0) * 10:
        faults.append(Problem("", f"the bill is {bill.total_gbp!r}, the programme says {cost!r}"))
    _refuse(faults)


def _refuse(faults: list[Problem]) -> None:
    if faults:
        raise BalanceError(
            Problem(
                "",
                "the books of this winter do not balance, so it is not shown",
                "",
                "Please report it with the farm file and the quotes",
            ),
            *faults,
        )
