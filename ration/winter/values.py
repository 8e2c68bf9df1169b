"""What more of something would be worth, and the price to walk away at."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

from ration import solve
from ration.cautions.farm import USUAL_TROUGH_M
from ration.winter.coarse import Coarse
from ration.winter.fine import Fine
from ration.winter.joint import Settled
from ration.winter.records import Delivery, More
from ration.winter.work import Answer, Work


def values_of_more(work: Work, coarse: Coarse, linear: Answer, fine: Fine) -> tuple[More, ...]:
    """What one more tonne of each home feed, metre of trough and tonne of store would save.

    Home feed and trough by the prices of the fine programme, its purchases held; a store by the
    coarse programme with the tonne added and loads that need not be whole, beside its `linear`
    answer without.
    """
    season, answer = work.season, fine.answer
    since = time.perf_counter()
    out = []
    steps = range(len(season.periods))
    prices = answer.solution.row_price
    if prices is None:
        prices = solve.run(answer.programme.relaxed()).row_price
    if prices is None:
        return ()
    for j, offer in enumerate(season.offers):
        if offer.is_home and not offer.is_grazed:
            # a tonne more on the first day, and its first period's keeping
            worth = abs(float(prices[answer.book.rows["stock", j, 0]]))
            out.append(More(offer.name, "tonne", worth, offer.price_gbp_per_t_fresh))
    if season.farm.trough_m is not None:
        meals = max(2, season.farm.meals_per_day)
        a_metre = meals * season.farm.winter.one_feed_most_kg / USUAL_TROUGH_M
        worth = sum(-float(prices[answer.book.rows["trough", s]]) * a_metre for s in steps)
        out.append(More("trough", "metre", max(worth, 0.0)))
    rule = season.farm.winter
    for store in rule.stores:
        roomier = tuple(
            replace(s, holds_t=s.holds_t + 1.0) if s is store else s for s in rule.stores
        )
        then = coarse.at(
            replace(season, farm=replace(season.farm, winter=replace(rule, stores=roomier)))
        ).solve(is_whole=False)
        if then.is_found and linear.is_found:
            saved = float(linear.solution.cost or 0) - float(then.solution.cost or 0)
            out.append(More(store.name, "tonne", max(saved, 0.0), note="about"))
    work.clock("values", since)
    return tuple(out)


def walk_away(
    work: Work, coarse: Coarse, linear: Answer, deliveries: Sequence[Delivery]
) -> dict[str, float]:
    """Price of each supply bought above which a plan without it is cheaper. [GBP/t fresh]

    The price paid, and what the winter without the supply would cost more, spread over its
    tonnes; both by the coarse programme with loads that need not be whole.
    """
    since = time.perf_counter()
    out: dict[str, float] = {}
    tonnes: dict[str, float] = {}
    paid: dict[str, float] = {}
    for d in deliveries:
        tonnes[d.supply.id] = tonnes.get(d.supply.id, 0.0) + d.tonnes
        paid[d.supply.id] = paid.get(d.supply.id, 0.0) + d.cost_gbp
    for s, supply in enumerate(work.season.supplies):
        if supply.id not in tonnes or work.left < 1 or work.stop():
            continue
        then = coarse.solve(is_whole=False, settled=Settled(without=frozenset({s})))
        price = paid[supply.id] / tonnes[supply.id]
        if not then.is_found:
            out[supply.id] = float("inf")
        elif linear.is_found:
            dearer = float(then.solution.cost or 0) - float(linear.solution.cost or 0)
            out[supply.id] = price + max(dearer, 0.0) / tonnes[supply.id]
    work.clock("walk away", since)
    return out
