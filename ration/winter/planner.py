"""The cheapest winter, with a proved bound: coarse plan, settle drops and tiers, refine.

1. every batch and period alone: is there a ration at all? (`search`)
2. coarse: blocks of periods, rows that every ration satisfies (`fences`); prices from its linear
   form are searched period by period, and each search gives one more true row;
3. the coarse programme with whole loads and tiers: its bound is a bound for the winter;
4. fine: loads and tiers settled, every period's ration on lines that touch its true needs, worked
   again until the rations lie on them; then whole bags.

Nothing here is shown before `books` has summed it again from the feeds.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ration import choices, limits, search, solve
from ration import needs as standards
from ration.farm import Farm, Offer
from ration.needs import Array
from ration.quotes.records import Supply
from ration.tables import Tables
from ration.winter import calendar
from ration.winter.coarse import Coarse, settled_of
from ration.winter.fine import Fine, in_fine, loads_in, refine, used_loads, within_blocks
from ration.winter.joint import Settled
from ration.winter.season import Season, unit_of
from ration.winter.work import Work, watch_of

_PRICE_ROUNDS = 3
_MANY = 60  # batches times periods, from where one round of prices comes before the loads


def season_of(
    farm: Farm, tables: Tables, offers: Sequence[Offer], supplies: Sequence[Supply]
) -> Season:
    """A farm's winter made ready; offers must be complete (`choices.complete`).

    Bought feeds that nobody can deliver are left out.
    """
    usable = tuple(s for s in supplies if s.is_usable)
    to_be_had = {s.offer_id for s in usable}
    kept = tuple(
        o
        for o in offers
        if not o.made_for
        and (o.id in to_be_had or (o.is_home and (o.available_t_fresh or 0.0) > 0))
    )
    ids = {o.id for o in kept}
    periods = calendar.periods(farm.start, farm.end, farm.winter.period_days)
    models = {}
    for b, batch in enumerate(farm.batches):
        own = farm.batch_limits.get(batch.name, farm.limits)
        for t, period in enumerate(periods):
            then = calendar.batch_in(farm, batch, period)
            need = standards.of(
                then, farm.standard, margin=farm.margin, maintenance=farm.maintenance
            )
            bounds = limits.resolve(then, own, kept, tables.limits)
            models[b, t] = choices.build(need, kept, bounds, {})
    return Season(
        farm,
        periods,
        kept,
        tuple(s for s in usable if s.offer_id in ids),
        farm.batches,
        models,
    )


def first_prices(season: Season) -> Array:
    """A plain price of each feed, for a first look. [GBP/kg DM]"""
    out = []
    for j, offer in enumerate(season.offers):
        prices = [
            t.price_gbp_per_t_fresh + season.supplies[s].quote.haulage_gbp_per_t
            for s in season.of_offer[j]
            for t in season.supplies[s].quote.tiers
        ]
        price = offer.price_gbp_per_t_fresh if offer.is_home else min(prices, default=1e4)
        out.append(max(price, 0.0) * season.t_per_kg_dm[j])
    return np.array(out)


def alone(work: Work) -> tuple[dict[tuple[int, int], Array], tuple[int, int] | None]:
    """A ration for every batch and period at plain prices; or the first that has none."""
    since = time.perf_counter()
    prices = first_prices(work.season)
    found: dict[tuple[int, int], Array] = {}
    for key, model in work.season.models.items():
        b, t = key
        hint = [(0, found[b, t - 1])] if (b, t - 1) in found else []
        answer = search.search(
            model.with_cost(prices), gap_share=1e-2, start=hint, least_scale=1e-3
        )[0]
        if answer.x is None:
            work.clock("alone", since)
            return found, key
        found[key] = answer.x
    work.clock("alone", since)
    return found, None


@dataclass(frozen=True)
class Found:
    """The best plan of a run: its fine answer, what was settled, and the bound of the winter."""

    fine: Fine | None
    loads: Mapping[tuple[int, int], float]
    tiers: Mapping[int, int]
    bound: float
    coarse: Coarse | None


def search_winter(work: Work, rations: Mapping[tuple[int, int], Array], gap_share: float) -> Found:
    """Coarse, settle, refine; again with sharper rows while the gap is wide and there is time."""
    coarse = Coarse(work, rations)
    answer = coarse.tighten(_PRICE_ROUNDS if len(rations) < _MANY else 1)
    if not answer.is_found:
        return Found(None, {}, {}, -np.inf, None)
    best = Found(None, {}, {}, float(answer.solution.cost or -np.inf), coarse)
    sunk = float(work.season.opening_t @ work.season.left_value_gbp_per_t)
    is_whole = bool(answer.book.problem().integer.any())
    tried: set[object] = set()
    start: Array | None = None
    refining = 0.0
    is_large = len(rations) > _MANY
    patience = (8.0, 14.0) if is_large else (1.0, 3.5)
    for turn in range(6):
        before = best
        if is_whole:
            since = time.perf_counter()
            answer = coarse.solve(
                is_whole=True,
                seconds=max(min(patience[min(turn, 1)], work.left * 0.4), 0.5),
                start=start,
                gap_share=gap_share / 10,
                watch=watch_of(work, "coarse plan", sunk),
            )
            work.clock("coarse", since)
            if not answer.is_found:
                break
            best = replace(best, bound=max(best.bound, answer.solution.bound or -np.inf))
            start = answer.solution.values
            coarse.last = answer
        loads, tiers = settled_of(coarse.grain, answer)
        key = (tuple(sorted(loads.items())), tuple(sorted(tiers.items())))
        is_new = key not in tried
        tried.add(key)
        if is_new and not work.ended():
            fixed = coarse.solve(is_whole=False, settled=Settled(loads=loads, tiers=tiers))
            if fixed.is_found:
                coarse.search_at(coarse.internal_prices(fixed))
        is_timed_out = is_whole and answer.solution.status != solve.OPTIMAL
        if turn == 0 and is_timed_out and work.left > 25:
            continue  # sharper rows first: the first answer of a large winter is a poor one
        if is_new and (best.fine is None or work.left > refining):
            since = time.perf_counter()
            best = _better(best, work, coarse, loads, tiers)
            refining = time.perf_counter() - since
        if not is_whole:
            sharper = coarse.solve(is_whole=False)
            best = replace(best, bound=max(best.bound, float(sharper.solution.cost or -np.inf)))
        if best.fine is not None:
            cost = best.fine.cost + sunk
            gap = max(best.fine.cost - best.bound, 0.0) / max(abs(cost), 1e-9)
            work.tell(
                f"plan of £{cost:,.0f}; no plan can cost less than £{best.bound + sunk:,.0f} "
                f"({gap:.2%})"
            )
            rests = best.bound - before.bound <= 2e-4 * abs(cost) and not is_timed_out
            if gap <= gap_share or (turn and not is_new and (rests or not is_large)):
                break
        if work.ended() or work.left < 2 + refining:
            break
    return best


def _better(
    best: Found,
    work: Work,
    coarse: Coarse,
    loads: Mapping[tuple[int, int], float],
    tiers: Mapping[int, int],
) -> Found:
    """The best plan so far, or one with these loads if it is cheaper."""
    season = work.season
    is_small = len(season.periods) * len(season.batches) * len(season.offers) < 1500
    ways = []
    if is_small or not loads:
        ways.append(
            refine(
                work,
                coarse.rations,
                settled=Settled(loads=in_fine(coarse.grain, loads), tiers=tiers),
            )
        )
    if loads and (not is_small or ways[0] is None or any(v > 1 for v in loads.values())):
        ways.append(within_blocks(work, coarse, loads, tiers))
    for fine in ways:
        if fine is not None and (best.fine is None or fine.cost < best.fine.cost):
            best = replace(best, fine=fine, loads=loads_in(fine.answer), tiers=tiers)
    return best


def whole_packs(work: Work, found: Found) -> Found:
    """The plan with bags, pallets and bales counted whole, and no load that brings nothing."""
    season, fine = work.season, found.fine
    if fine is None:
        return found
    packed = [s for s, x in enumerate(season.supplies) if unit_of(x.quote) is not None]
    packs: dict[tuple[int, int], float] | None = None
    if packed:
        fine = refine(
            work,
            fine.rations,
            is_whole=True,
            seconds=8.0,
            settled=Settled(loads=found.loads, tiers=found.tiers, are_packs_whole=True),
        )
        if fine is None:
            return replace(found, fine=None)
        packs = {
            (s, t): float(round(fine.answer["pack", s, t]))
            for s in packed
            for t in range(len(season.periods))
            if round(fine.answer["pack", s, t])
        }
    loads = used_loads(season, found.loads, fine)
    if packs is not None or loads != found.loads:
        settled = Settled(loads=loads, tiers=found.tiers, packs=packs)
        fine = refine(work, fine.rations, settled=settled)
    return replace(found, fine=fine, loads=loads)
