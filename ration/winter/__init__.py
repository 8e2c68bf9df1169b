"""The whole winter at once: periods, stacks, purchases and the order.

`plan` is the door: a farm, its feeds and its supplies become the cheapest winter with its bound.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import metadata
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from ration import conflict, solve
from ration.needs import Array
from ration.units import in_words_day
from ration.winter import books, fine, joint, planner, values
from ration.winter.records import Bill, Delivery, Drop, Fed, More, Period, Plan, StockLine
from ration.winter.work import Answer, Work

if TYPE_CHECKING:
    from ration.farm import Farm, Offer
    from ration.model import MixModel
    from ration.quotes.records import Supply
    from ration.tables import Tables

__all__ = ["Bill", "Delivery", "Drop", "Fed", "More", "Period", "Plan", "StockLine", "plan"]

SECONDS = 50.0


def plan(
    farm: Farm,
    tables: Tables,
    offers: Sequence[Offer],
    supplies: Sequence[Supply],
    *,
    seconds: float = SECONDS,
    gap_share: float = 0.01,
    with_values: bool = True,
    tell: Callable[[str], None] = lambda _: None,
    stop: Callable[[], bool] = lambda: False,
) -> Plan:
    """The cheapest winter of a farm.

    Parameters
    ----------
    farm : Farm
    tables : Tables
        For the default limits.
    offers : sequence of Offer
        Feeds the batches may be given, complete (`choices.complete`).
    supplies : sequence of Supply
        What can be bought, refused ones too; each delivers one of the offers.
    seconds : float
        Time after which the best plan found is given, with the gap proved by then. [s]
    gap_share : float
        Gap at which to stop. [-]
    with_values : bool
        Also say what one more tonne, metre or bin is worth, and the price to walk away at.
    tell : callable
        Told a line of progress now and then.
    stop : callable
        Asked now and then whether to make do with the best plan so far.

    Raises
    ------
    InputError
        Limits cross, a weight is outside what the standard covers.
    NotProved, BalanceError
        The books of the plan do not balance; nothing is shown.
    """
    season = planner.season_of(farm, tables, offers, supplies)
    work = Work(season, seconds, tell, stop)
    solver = f"PuLP {metadata.version('pulp')}, HiGHS {metadata.version('highspy')}"

    def none(why: str, hit: conflict.Conflict | None = None, stuck: MixModel | None = None) -> Plan:
        return Plan(
            farm, season.periods, season.offers, tuple(supplies), (), MappingProxyType({}), (), (),
            (), None, float("nan"), work.is_cut_short, (), MappingProxyType({}), why, hit,
            MappingProxyType(dict(work.spent)), solver, tables.digest, stuck,
        )  # fmt: skip

    if not season.offers:
        return none("there is no feed to be had: no home feed and no quote that can be used")
    tell("looking at each batch in each period")
    rations, without = planner.alone(work)
    if without is not None:
        b, t = without
        then = season.models[b, t].with_cost(planner.first_prices(season))
        return none(
            f"{season.batches[b].name} has no ration from "
            f"{in_words_day(season.periods[t].start)}, whatever is bought",
            conflict.explain(then),
            then,
        )
    found = planner.search_winter(work, rations, gap_share)
    if found.fine is None:
        return none(_short(work, rations))
    found = planner.whole_packs(work, found, gap_share)
    best = found.fine
    if best is None:
        return none("no plan in whole bags was found; loosen a limit or a least drop")
    answer = best.answer
    bought = {
        key[1:]: answer[key]
        for key in answer.book.columns
        if isinstance(key, tuple) and key[0] == "buy" and answer[key] > 1e-7
    }
    fill = {
        (season.batches[b].name, o.id): kg
        for b in range(len(season.batches))
        for j, o in enumerate(season.offers)
        if (kg := answer["fill", b, j]) > 1e-9
    }
    deliveries = books.deliveries_of(season, bought)
    drops = books.drops_of(season, found.loads, deliveries)
    fed = books.fed_of(season, best.rations)
    stocks = books.stocks_of(season, fed, fill, deliveries)
    bill = books.bill_of(season, deliveries, drops, stocks)
    grazed = {o.id for o in season.offers if o.is_grazed}
    books.check_conditions(season, deliveries, drops, best.cost + season.sunk_gbp, bill)
    more: tuple[More, ...] = ()
    walk: dict[str, float] = {}
    if with_values and found.coarse is not None:
        linear = found.coarse.solve(is_whole=False)
        more = values.values_of_more(work, found.coarse, linear, best)
        walk = values.walk_away(work, found.coarse, linear, deliveries)
    return Plan(
        farm=farm,
        periods=season.periods,
        offers=season.offers,
        supplies=tuple(supplies),
        fed=fed,
        extra_forage_kg_dm=MappingProxyType(fill),
        deliveries=deliveries,
        drops=drops,
        stocks=tuple(s for s in stocks if s.offer_id not in grazed),
        bill=bill,
        bound_gbp=min(found.bound + season.sunk_gbp, bill.total_gbp),
        is_cut_short=work.is_cut_short,
        more=more,
        walk_away_gbp_per_t=MappingProxyType(walk),
        why_not="",
        conflict=None,
        seconds=MappingProxyType(dict(work.spent)),
        solver=solver,
        tables_digest=tables.digest,
    )


def _short(work: Work, rations: dict[tuple[int, int], Array]) -> str:
    """Which feed is wanting, when the loads and stores cannot feed the winter."""
    season = work.season
    grain = joint.Grain.of_periods(season)
    rows = fine.tangents(season, rations, np.inf)
    book, first = joint.build(grain, rows, joint.Settled(emergency_gbp_per_t=5000.0))
    programme = book.problem().relaxed()
    answer = Answer(book, programme, first, solve.run(programme))
    if not answer.is_found:
        return "the rations that are possible alone do not fit together: loosen the steps"
    short: list[str] = []
    for j, offer in enumerate(season.offers):
        tonnes = sum(answer["nowhere", j, s] for s in range(len(grain.steps)))
        if tonnes > 1e-3:
            first_step = next(s for s in range(len(grain.steps)) if answer["nowhere", j, s] > 1e-4)
            day = in_words_day(season.periods[first_step].start)
            short.append(f"{tonnes:.1f} t of {offer.name} from {day}")
    if short:
        return (
            f"there is not enough to be had: short of {' and '.join(short)}. Another quote, a "
            "later date or more store would cure it"
        )
    return "no plan keeps the merchants' whole loads and the stores together"
