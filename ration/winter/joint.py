"""The winter as one programme: every batch and period, one stack a feed, purchases in drops.

The same programme in two grains:

- fine: a step is a period. Its answer can be carried out.
- coarse: a step is a block of periods and its columns are means over the block. Everything that
  binds inside a block is let go in the kinder direction, so its least cost is a bound for the fine
  one: what is bought in a block may be fed in all of it, at the block's lowest price.

Unknowns, for a step s: `x` kg DM a head a day of each feed for each batch; `fill` forage that
stands in for trough feed while it is stepped up; `left` t in store at the end; `buy` t of each
supply at each of its tiers; `drop` loads of each merchant; `tier` yes or no; `pack` bags.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ration.cautions.farm import USUAL_TROUGH_M
from ration.needs import Array
from ration.programme import Book
from ration.winter.season import Season, unit_of

Term = tuple[Hashable, float]
SHORT_GBP = 300.0  # a head's whole need missed for a day, while the lines are being found
_MOST_LOADS = 40.0
_LARGE_PACK_T = 0.2  # smaller packs are counted in the fine grain only


@dataclass(frozen=True)
class Rows:
    """Ration rows of one batch in one step: matrix (m, n) between lo and hi, and column limits.

    Those in `soft` may be missed at a price, `SHORT_GBP`.
    """

    matrix: Array
    lo: Array
    hi: Array
    col_lo: Array
    col_hi: Array
    soft: tuple[int, ...] = ()


@dataclass(frozen=True)
class Grain:
    """One grain of the season: its steps as tuples of periods."""

    season: Season
    steps: tuple[tuple[int, ...], ...]

    @classmethod
    def of_periods(cls, season: Season) -> Grain:
        """The fine grain."""
        return cls(season, tuple((t,) for t in range(len(season.periods))))

    @property
    def is_fine(self) -> bool:
        """Every step is one period."""
        return all(len(s) == 1 for s in self.steps)

    def days(self, step: int) -> float:
        """Length. [day]"""
        return float(sum(self.season.periods[t].days for t in self.steps[step]))

    def feed_days(self, step: int) -> Array:
        """Days of the mean full ration that each feed is drawn for. [day]"""
        return np.asarray(np.sum([self.season.feed_days(t) for t in self.steps[step]], axis=0))


@dataclass(frozen=True)
class Settled:
    """What is decided already and only has to be carried out.

    Attributes
    ----------
    loads : mapping of (terms, step) to float, or None
        Loads; what is not named is none.
    block_loads : sequence of (steps, terms, loads)
        Most loads over some steps together.
    tiers : mapping of supply to tier, or None
    packs : mapping of (supply, step) to float, or None
    without : frozenset of int
        Supplies left out.
    are_packs_whole : bool
        Bags are counted.
    emergency_gbp_per_t : float or None
        Price of feed out of nowhere, to find out what is short.
    """

    loads: Mapping[tuple[int, int], float] | None = None
    block_loads: Sequence[tuple[tuple[int, ...], int, float]] = ()
    tiers: Mapping[int, int] | None = None
    packs: Mapping[tuple[int, int], float] | None = None
    without: frozenset[int] = field(default_factory=frozenset)
    are_packs_whole: bool = False
    emergency_gbp_per_t: float | None = None


NOTHING = Settled()


def build(
    grain: Grain, rations: Mapping[tuple[int, int], Rows], settled: Settled = NOTHING
) -> tuple[Book, dict[tuple[int, int], int]]:
    """The programme of one grain.

    Parameters
    ----------
    grain : Grain
    rations : mapping of (batch, step) to Rows
    settled : Settled

    Returns
    -------
    tuple
        The programme, and the number of the first `x` column of each batch and step.
    """
    page = _Page(grain, settled)
    page.rations(rations)
    for b in range(len(grain.season.batches)):
        page.smooth(b)
        page.fill(b)
    page.trough()
    page.loads()
    for supply in range(len(grain.season.supplies)):
        page.tonnes(supply)
        page.tiers(supply)
        page.packs(supply)
    page.conditions_of_loads()
    for j in range(len(grain.season.offers)):
        page.stock(j)
        page.over(j)
    page.stores()
    return page.book, page.first


class _Page:
    """The programme while it is being written."""

    def __init__(self, grain: Grain, settled: Settled) -> None:
        self.grain, self.season, self.settled = grain, grain.season, settled
        self.rule = grain.season.farm.winter
        self.book = Book()
        self.first: dict[tuple[int, int], int] = {}
        self.steps = range(len(grain.steps))
        self.offered = self.season.offered_per_kg_dm * self.season.is_trough
        self.in_trough = [int(j) for j in np.flatnonzero(self.season.is_trough)]

    # ---- rations

    def rations(self, rations: Mapping[tuple[int, int], Rows]) -> None:
        """What every batch eats in every step, and what it must."""
        for (b, s), rows in rations.items():
            numbers = [
                self.book.column(("x", b, s, j), 0.0, float(lo), float(hi))
                for j, (lo, hi) in enumerate(zip(rows.col_lo, rows.col_hi, strict=True))
            ]
            self.first[b, s] = numbers[0]
            if not rows.soft:
                self.book.dense_rows(("need", b, s), numbers[0], rows.matrix, rows.lo, rows.hi)
                continue
            weight = SHORT_GBP * self.season.batches[b].head * self.grain.days(s)
            for i, row in enumerate(rows.matrix):
                lo, hi = float(rows.lo[i]), float(rows.hi[i])
                terms: list[Term] = [
                    (("x", b, s, j), float(row[j])) for j in np.flatnonzero(row).tolist()
                ]
                if i in rows.soft:
                    self.book.column(("short", b, s, i), weight)
                    size = max((abs(v) for v in (lo, hi) if np.isfinite(v)), default=1.0)
                    sign = 1.0 if np.isfinite(lo) else -1.0
                    terms.append((("short", b, s, i), sign * max(size, 1e-3)))
                self.book.row(("need", b, s, i), terms, lo, hi)

    def trough_feed(self, b: int, s: int, sign: float = 1.0) -> list[Term]:
        """Trough feed of a batch as put out. [kg fresh/head/day]"""
        return [(("x", b, s, j), sign * float(self.offered[j])) for j in self.in_trough]

    def smooth(self, b: int) -> None:
        """No jump in trough feed between steps, and no more at first than stepping up allows."""
        if not self.in_trough:
            return
        width = [len(inside) for inside in self.grain.steps]
        if self.season.step_up_days > 1:
            most = self.rule.most_step_kg * self.season.step_up_days
            inside = self.rule.most_change_kg * (width[0] - 1) / 2
            self.book.row(("first", b), self.trough_feed(b, 0), hi=most + inside)
        for s in self.steps[1:]:
            most = self.rule.most_change_kg * (width[s - 1] + width[s]) / 2
            terms = self.trough_feed(b, s) + self.trough_feed(b, s - 1, -1.0)
            self.book.row(("smooth", b, s), terms, -most, most)

    def fill(self, b: int) -> None:
        """Forage that stands in for the trough feed spared while stepping up, DM for DM."""
        if self.season.fill_days <= 0:
            return
        terms: list[Term] = []
        for j in self.season.fillers:
            self.book.column(("fill", b, j))
            terms.append((("fill", b, j), 1.0))
        terms += [(("x", b, 0, j), -self.season.fill_days) for j in self.in_trough]
        self.book.row(("fill", b), terms, 0.0, 0.0)

    def trough(self) -> None:
        """What the trough takes at the meals of a day, all sheep at the usual width."""
        length = self.season.farm.trough_m
        if length is None:
            return
        meals = max(2, self.season.farm.meals_per_day)
        room = meals * self.rule.one_feed_most_kg * length / USUAL_TROUGH_M
        for s in self.steps:
            terms = [
                (key, batch.head * kg)
                for b, batch in enumerate(self.season.batches)
                for key, kg in self.trough_feed(b, s)
            ]
            self.book.row(("trough", s), terms, hi=room)

    # ---- purchases

    def came(self, supply: int, s: int) -> list[Term]:
        """Tonnes of a supply that come at a step, over its tiers."""
        keys = [("buy", supply, k, s) for k in self.season.live_tiers[supply]]
        return [(key, 1.0) for key in keys if key in self.book.columns]

    def loads(self) -> None:
        """Loads of each merchant whose loads count for something."""
        for g, terms in enumerate(self.season.terms):
            for s in () if terms.is_free else self.steps:
                loads = self.settled.loads
                count = None if loads is None else loads.get((g, s), 0.0)
                interest = min(self.season.interest_share(t, 0) for t in self.grain.steps[s])
                self.book.column(
                    ("drop", g, s),
                    terms.charge_gbp * (1 + interest),
                    count or 0.0,
                    _MOST_LOADS * len(self.grain.steps[s]) if count is None else count,
                    whole=count is None,
                )

    def tonnes(self, supply: int) -> None:
        """Tonnes bought of a supply at each live tier and open step, at the kindest price."""
        season = self.season
        if supply in self.settled.without:
            return
        quote, g = season.supplies[supply].quote, season.term_of[supply]
        chosen = None if self.settled.tiers is None else self.settled.tiers.get(supply)
        loads = None if season.terms[g].is_free else self.settled.loads
        for k in season.live_tiers[supply]:
            for s in self.steps:
                months = [t for t in self.grain.steps[s] if season.is_open(supply, t)]
                if (
                    not months
                    or chosen not in (None, k)
                    or (loads is not None and not loads.get((g, s)))
                ):
                    continue
                cost = min(
                    season.price_gbp_per_t(supply, quote.tiers[k], t)
                    * (1 + season.interest_share(t, quote.payment_days))
                    for t in months
                )
                self.book.column(("buy", supply, k, s), cost)

    def tiers(self, supply: int) -> None:
        """All there is of a supply, and the price that its season's tonnes earn."""
        season, book = self.season, self.book
        quote, live = season.supplies[supply].quote, season.live_tiers[supply]
        everything = [term for s in self.steps for term in self.came(supply, s)]
        if not everything:
            return
        most = season.most_wanted_t(supply) if quote.most_t is None else quote.most_t
        if quote.most_t is not None:
            book.row(("all there is", supply), everything, hi=most)
        if len(live) == 1 and quote.tiers[0].from_t <= 0:
            return
        chosen = None if self.settled.tiers is None else self.settled.tiers.get(supply)
        for k in live:
            bought = [term for term in everything if term[0][2] == k]  # type: ignore[index]
            least = quote.tiers[k].from_t
            is_set = chosen is not None and len(live) > 1
            yes = float(chosen == k) if is_set else 0.0
            book.column(("tier", supply, k), 0.0, yes, yes if is_set else 1.0, whole=not is_set)
            take: Term = (("tier", supply, k), -max(most, least))
            book.row(("tier most", supply, k), [*bought, take], hi=0.0)
            if least > 0:
                book.row(
                    ("tier least", supply, k), [*bought, (("tier", supply, k), -least)], lo=0.0
                )
        book.row(("one tier", supply), [(("tier", supply, k), 1.0) for k in live], hi=1.0)

    def packs(self, supply: int) -> None:
        """Whole bags, bales or pallets of a supply: in a block of periods too they are whole."""
        unit_t = unit_of(self.season.supplies[supply].quote)
        counted, packs = self.settled.are_packs_whole, self.settled.packs
        if unit_t is None or not (counted or packs is not None):
            return
        if not self.grain.is_fine and unit_t < _LARGE_PACK_T:
            return
        for s in self.steps:
            came = self.came(supply, s)
            if not came:
                continue
            count = None if packs is None else packs.get((supply, s), 0.0)
            self.book.column(
                ("pack", supply, s),
                0.0,
                count or 0.0,
                np.inf if count is None else count,
                whole=count is None,
            )
            self.book.row(("packs", supply, s), [*came, (("pack", supply, s), -unit_t)], 0.0, 0.0)

    def conditions_of_loads(self) -> None:
        """Least and most of a load, and loads settled over a block."""
        season, book = self.season, self.book
        for g, terms in enumerate(season.terms):
            for s in () if terms.is_free else self.steps:
                drop = ("drop", g, s)
                each = {supply: self.came(supply, s) for supply in terms.supplies}
                came = [term for own in each.values() for term in own]
                book.row(("load most", g, s), [*came, (drop, -terms.most_t)], hi=0.0)
                if terms.least_t > 0:
                    book.row(("load least", g, s), [*came, (drop, -terms.least_t)], lo=0.0)
                for store in self.rule.stores:
                    # one load brings no more for a store than it holds
                    held = [
                        term
                        for supply, own in each.items()
                        if season.offers[season.offer_of[supply]].id in store.offer_ids
                        for term in own
                    ]
                    if held and store.holds_t < 0.999 * terms.most_t:
                        row = [*held, (drop, -store.holds_t)]
                        book.row(("store load", store.name, g, s), row, hi=0.0)
                for supply, own in each.items() if len(each) > 1 else ():
                    # one load brings no more of a feed than its store holds or the winter uses
                    room = min(season.store_room_t(supply), season.most_wanted_t(supply))
                    if own and room < 0.999 * terms.most_t:
                        book.row(("own load", supply, s), [*own, (drop, -room)], hi=0.0)
        for i, (inside, g, count) in enumerate(self.settled.block_loads):
            book.row(("block", i), [(("drop", g, s), 1.0) for s in inside], hi=count)

    # ---- stocks

    def stock(self, j: int) -> None:
        """What is left of a feed after each step: left before, and come, less fed and lost."""
        season, book = self.season, self.book
        for s in self.steps:
            worth = float(season.home_value_gbp_per_t[j]) if s == self.steps[-1] else 0.0
            book.column(("left", j, s), -worth)
            first_period = season.periods[self.grain.steps[s][0]]
            kept = 1 - float(season.shrink_per_day[j]) * first_period.days
            terms: list[Term] = [(("left", j, s), 1.0)]
            if s:
                terms.append((("left", j, s - 1), -kept))
            for supply in season.of_offer[j]:
                terms += [(key, -1.0) for key, _ in self.came(supply, s)]
            if self.settled.emergency_gbp_per_t is not None:
                book.column(("nowhere", j, s), self.settled.emergency_gbp_per_t)
                terms.append((("nowhere", j, s), -1.0))
            days = self.grain.feed_days(s)
            for b, batch in enumerate(season.batches):
                a_head_t = batch.head * float(season.t_per_kg_dm[j])
                terms.append((("x", b, s, j), a_head_t * float(days[j])))
                if s == 0 and ("fill", b, j) in book.columns:
                    terms.append((("fill", b, j), a_head_t))
            opening = float(season.opening_t[j]) * kept if s == 0 else 0.0
            book.row(("stock", j, s), terms, opening, opening)

    def over(self, j: int) -> None:
        """Bought feed left at turnout, worth a share of the price it was bought at."""
        over: list[Term] = []
        for supply in self.season.of_offer[j]:
            for k in self.season.live_tiers[supply]:
                names = [("buy", supply, k, s) for s in self.steps]
                less: list[Term] = [(n, -1.0) for n in names if n in self.book.columns]
                if less:
                    key = ("over", supply, k)
                    self.book.column(key, -self.season.over_value_gbp_per_t(supply, k))
                    self.book.row(("over bought", supply, k), [(key, 1.0), *less], hi=0.0)
                    over.append((key, 1.0))
        if over:
            last = ("left", j, self.steps[-1])
            self.book.row(("over", j), [*over, (last, -1.0)], hi=0.0)

    def stores(self) -> None:
        """No store over full. Fine: after each delivery. Coarse: at the end of each block."""
        season = self.season
        at = {o.id: j for j, o in enumerate(season.offers)}
        for store in self.rule.stores:
            members = [at[i] for i in store.offer_ids if i in at]
            # what lies there on the first day may be more than the store is said to hold
            held = float(sum(season.opening_t[j] for j in members))
            room = max(store.holds_t, held)
            for s in self.steps if members else ():
                terms: list[Term] = []
                if self.grain.is_fine:
                    terms = [(("left", j, s - 1), 1.0) for j in members] if s else []
                    supplies = [supply for j in members for supply in season.of_offer[j]]
                    terms += [term for supply in supplies for term in self.came(supply, s)]
                elif s != self.steps[-1]:
                    terms = [(("left", j, s), 1.0) for j in members]
                if terms:
                    before = held if self.grain.is_fine and s == 0 else 0.0
                    self.book.row(("store", store.name, s), terms, hi=room - before)
