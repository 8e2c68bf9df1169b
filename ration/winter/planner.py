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
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from ration import animals, choices, grazing, limits, search, solve
from ration import needs as standards
from ration.errors import OutOfRange, Problem
from ration.farm import Farm, Offer
from ration.needs import Array
from ration.quotes.records import Supply
from ration.tables import Tables
from ration.winter import calendar
from ration.winter.coarse import Coarse, loads_in, settled_of
from ration.winter.fine import Fine, in_fine, refine, used_loads, within_blocks
from ration.winter.joint import Settled
from ration.winter.records import Period
from ration.winter.season import Season, unit_of
from ration.winter.work import Answer, Work, watch_of

_TURNS = 3
_PATIENCE_S = 15.0  # a backstop for a turn: a small winter ends by its gap, alike on all machines
_FOR_REFINING_S = 19.0
_QUICK_COLUMNS = 1500  # of rations, up to where a fine programme is solved in a moment


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
        and (o.id in to_be_had or (o.is_home and (o.is_grazed or (o.available_t_fresh or 0.0) > 0)))
    )
    ids = {o.id for o in kept}
    periods = calendar.periods(farm.start, farm.end, farm.winter.period_days)
    spans = [(b, p.start, p.end) for b in farm.batches for p in periods]
    kept = grazing.grown(farm, kept, spans)
    _refuse_heavy(farm, periods)
    models = {}
    for b, batch in enumerate(farm.batches):
        own = farm.batch_limits.get(batch.name, farm.limits)
        for t, period in enumerate(periods):
            then = calendar.batch_in(farm, batch, period)
            need = standards.of_farm(farm, then, period.start, period.end)
            bounds = limits.resolve(then, own, kept, tables.limits)
            at_hand = grazing.laid(farm, kept, then, period.start, period.end)
            models[b, t] = choices.build(need, at_hand, bounds, {})
    return Season(
        farm,
        periods,
        kept,
        tuple(s for s in usable if s.offer_id in ids),
        farm.batches,
        models,
    )


def _refuse_heavy(farm: Farm, periods: Sequence[Period]) -> None:
    """Refuse batches whose line of weights leaves what the standards cover."""
    faults = []
    for batch in farm.batches:
        lightest, heaviest = animals.weights_kg(batch.sheep_class)
        end = farm.line_kg(batch, periods[-1].end)
        if not lightest <= min(farm.start_kg(batch), end) <= end <= heaviest:
            faults.append(
                Problem(
                    batch.name,
                    f"the line of weights runs to {end:.1f} kg",
                    f"the growth equations cover {lightest:g} to {heaviest:g} kg",
                    "Ask for less gain, or end the winter sooner",
                )
            )
    if faults:
        raise OutOfRange(*faults)


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


class _Run:
    """One search of a winter: the coarse programme, the best plan and the bound so far."""

    def __init__(
        self, work: Work, rations: Mapping[tuple[int, int], Array], gap_share: float
    ) -> None:
        self.work, self.gap_share = work, gap_share
        self.coarse = Coarse(work, rations)
        self.answer = self.coarse.tighten(3 if self.coarse.is_small else 1)
        self.best = Found(None, {}, {}, -np.inf, self.coarse)
        self.tried: set[object] = set()
        self.sunk = work.season.sunk_gbp
        self.refining = 0.0
        if self.answer.is_found:
            self.lift(self.answer.solution.cost)

    def lift(self, bound: float | None) -> None:
        """Keep the higher bound."""
        if bound is not None:
            self.best = replace(self.best, bound=max(self.best.bound, bound))

    def whole(self, seconds: float) -> Answer:
        """The coarse programme with whole loads, from the last answer with the same rows."""
        since = time.perf_counter()
        last = self.coarse.last
        answer = self.coarse.solve(
            is_whole=True,
            seconds=max(seconds, 0.5),
            start=None if last is None else last.solution.values,
            gap_share=self.gap_share / self.closeness(),
            watch=watch_of(self.work, "coarse plan", self.sunk),
        )
        self.work.clock("coarse", since)
        return answer

    def closeness(self) -> float:
        """How much closer than the gap asked for the coarse programme is worked. [-]"""
        if not self.coarse.is_small:
            return 10.0
        return 4.0 if self.tried else 2.0

    def take(self, answer: Answer) -> bool:
        """Keep a coarse answer and its bound; whether its loads are new."""
        self.answer = self.coarse.last = answer
        self.lift(answer.solution.bound)
        self.loads, self.tiers = settled_of(self.work.season, answer)
        key = (tuple(sorted(self.loads.items())), tuple(sorted(self.tiers.items())))
        is_new = key not in self.tried
        self.tried.add(key)
        return is_new

    def sharpen(self) -> None:
        """Search at the prices that hold once the loads are settled."""
        if self.work.ended():
            return
        held = Settled(loads=self.loads, tiers=self.tiers)
        fixed = self.coarse.solve(is_whole=False, settled=held)
        if fixed.is_found:
            self.coarse.search_at(self.coarse.internal_prices(fixed))

    def refine(self) -> None:
        """Carry the loads out on true needs; keep the plan if it is the cheapest."""
        since = time.perf_counter()
        self.best = _better(self.best, self.work, self.coarse, self.loads, self.tiers)
        self.refining = time.perf_counter() - since

    def is_close(self) -> bool:
        """Tell how far it has come; whether the gap is small enough."""
        if self.best.fine is None:
            return False
        cost = self.best.fine.cost + self.sunk
        gap = max(self.best.fine.cost - self.best.bound, 0.0) / max(abs(cost), 1e-9)
        self.work.tell(
            f"plan of £{cost:,.0f}; no plan can cost less than £{self.best.bound + self.sunk:,.0f} "
            f"({gap:.2%})"
        )
        return gap <= self.gap_share

    def without_loads(self) -> None:
        """Nothing is counted whole: sharper rows until the gap is small."""
        for _ in range(4):
            self.take(self.answer)
            self.refine()
            if self.is_close() or self.work.ended():
                return
            self.sharpen()
            answer = self.coarse.solve(is_whole=False)
            self.lift(answer.solution.cost)

    def in_turns(self) -> None:
        """Coarse, settle, refine, sharpen, and again."""
        for _ in range(_TURNS):
            answer = self.whole(min(_PATIENCE_S, self.work.left * 0.6))
            if not answer.is_found:
                return
            is_new = self.take(answer)
            if is_new:
                self.refine()
            if self.is_close() or self.work.ended() or self.work.left < 2 + self.refining:
                return
            if not is_new and answer.solution.status == solve.OPTIMAL:
                return
            self.sharpen()

    def side_by_side(self) -> None:
        """A large winter: the bound is worked on while the first loads are carried out."""
        answer = self.whole(min(8.0, self.work.left * 0.2))
        if not answer.is_found:
            return
        self.take(answer)
        self.sharpen()
        with ThreadPoolExecutor(1) as pool:
            later = pool.submit(self.whole, self.work.left - _FOR_REFINING_S)
            self.refine()
            answer = later.result()
        if answer.is_found and self.take(answer) and not self.is_close():
            self.refine()
        while not self.is_close() and self.work.left > _FOR_REFINING_S and not self.work.ended():
            self.sharpen()
            answer = self.whole(self.work.left - _FOR_REFINING_S)
            if not answer.is_found or not self.take(answer):
                break
            self.refine()
        if self.best.fine is not None and not self.is_close() and self.work.left > 12:
            self.best = _elsewhen(self.best, self.work, self.work.left - 9)


def search_winter(work: Work, rations: Mapping[tuple[int, int], Array], gap_share: float) -> Found:
    """Coarse, settle, refine; again with sharper rows while the gap is wide and there is time."""
    run = _Run(work, rations, gap_share)
    if not run.answer.is_found:
        return run.best
    if not run.answer.book.has_whole:
        run.without_loads()
    elif run.coarse.is_small:
        run.in_turns()
    else:
        run.side_by_side()
    if run.best.fine is None:
        other = at_once(work, run.coarse.rations, are_packs_whole=False)
        run.best = replace(other, bound=run.best.bound, coarse=run.coarse)
    return run.best


def _better(
    best: Found,
    work: Work,
    coarse: Coarse,
    loads: Mapping[tuple[int, int], float],
    tiers: Mapping[int, int],
) -> Found:
    """The best plan so far, or one with these loads if it is cheaper."""
    season = work.season
    is_quick = len(season.models) * len(season.offers) < _QUICK_COLUMNS
    ways = []
    if is_quick or not loads:
        ways.append(
            refine(
                work,
                coarse.rations,
                settled=Settled(loads=in_fine(coarse.grain, loads), tiers=tiers),
            )
        )
    if loads and (not is_quick or ways[0] is None or any(v > 1 for v in loads.values())):
        ways.append(within_blocks(work, coarse, loads, tiers))
    for fine in ways:
        if fine is not None and (best.fine is None or fine.cost < best.fine.cost):
            best = replace(best, fine=fine, loads=loads_in(fine.answer), tiers=tiers)
    return best


def _elsewhen(best: Found, work: Work, seconds: float) -> Found:
    """The best plan, or a cheaper one whose loads, no more of them, come at any time."""
    fine, season = best.fine, work.season
    if fine is None:
        return best
    every = tuple(range(len(season.periods)))
    counts = [
        (every, g, sum(n for (h, _), n in best.loads.items() if h == g))
        for g, terms in enumerate(season.terms)
        if not terms.is_free
    ]
    moved = refine(
        work,
        fine.rations,
        is_whole=True,
        seconds=seconds,
        settled=Settled(block_loads=counts, tiers=best.tiers),
    )
    if moved is None:
        return best
    loads = loads_in(moved.answer)
    other = refine(work, moved.rations, settled=Settled(loads=loads, tiers=best.tiers))
    if other is None or other.cost >= fine.cost:
        return best
    return replace(best, fine=other, loads=loads)


def at_once(
    work: Work,
    rations: Mapping[tuple[int, int], Array],
    *,
    are_packs_whole: bool,
    seconds: float = 15.0,
    start: Answer | None = None,
) -> Found:
    """The fine programme with every load, tier and bag open, then carried out on true needs.

    For when the loads of a block, or bags counted afterwards, lead nowhere or to a dear plan.
    """
    season = work.season
    whole = refine(
        work,
        rations,
        is_whole=True,
        seconds=max(min(work.left * 0.6, seconds), 1.0),
        settled=Settled(are_packs_whole=are_packs_whole),
        start=start,
    )
    nothing = Found(None, {}, {}, -np.inf, None)
    if whole is None:
        return nothing
    loads, tiers = settled_of(season, whole.answer)
    found = replace(nothing, fine=whole, loads=loads, tiers=tiers)
    if are_packs_whole:
        return _carried_out(work, found, packs_in(season, whole))
    fine = refine(work, whole.rations, settled=Settled(loads=loads, tiers=tiers))
    return replace(found, fine=fine)


def packs_in(season: Season, fine: Fine) -> dict[tuple[int, int], float]:
    """Whole packs of an answer, by supply and period."""
    return {
        (s, t): float(round(fine.answer["pack", s, t]))
        for s in range(len(season.supplies))
        for t in range(len(season.periods))
        if round(fine.answer["pack", s, t])
    }


def _carried_out(work: Work, found: Found, packs: Mapping[tuple[int, int], float] | None) -> Found:
    """The plan with its bags held and no load that brings nothing."""
    fine = found.fine
    if fine is None:
        return found
    loads = used_loads(work.season, found.loads, fine)
    if packs is not None or loads != found.loads:
        settled = Settled(loads=loads, tiers=found.tiers, packs=packs)
        fine = refine(work, fine.rations, settled=settled)
    return replace(found, fine=fine, loads=loads)


def whole_packs(work: Work, found: Found, gap_share: float) -> Found:
    """The plan with bags, pallets and bales counted whole, and no load that brings nothing."""
    season, fine, coarse = work.season, found.fine, found.coarse
    if fine is None or coarse is None:
        return found
    if all(unit_of(x.quote) is None for x in season.supplies):
        return _carried_out(work, found, None)
    counted = refine(
        work,
        fine.rations,
        is_whole=True,
        seconds=8.0,
        settled=Settled(loads=found.loads, tiers=found.tiers, are_packs_whole=True),
    )
    best = replace(found, fine=counted)
    if counted is not None:
        best = _carried_out(work, best, packs_in(season, counted))
    is_wide, has_time = best.fine is None, False
    if best.fine is not None:
        gap = (best.fine.cost - found.bound) / max(abs(best.fine.cost + season.sunk_gbp), 1e-9)
        is_wide = coarse.is_small and gap > 2 * gap_share
        has_time = not coarse.is_small and gap > gap_share and work.left > 14
    if is_wide or has_time:
        seconds = work.left - 6 if has_time else 15.0
        held = fine if best.fine is None else best.fine
        other = at_once(
            work,
            held.rations,
            are_packs_whole=True,
            seconds=seconds,
            start=held.answer if best.fine is held else None,
        )
        if other.fine is not None and (best.fine is None or other.fine.cost < best.fine.cost):
            best = replace(other, bound=found.bound, coarse=coarse)
    return best
