"""Purchases against every way of buying, tried one after another.

Origin: enumeration. Rations are held, so what is left is the order. `by_hand` writes a small
winter's order anew from the quotes, the farm's rules and the rations, with its own sums; every
count of loads in every period and every price step is tried, each a linear programme for
`scipy.optimize.linprog`, and the least of all is what the programme must cost.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from itertools import product

import numpy as np
import pytest
from scipy import sparse
from scipy.optimize import linprog
from winter.small import (
    as_scipy,
    farm,
    fine_grain,
    held,
    home,
    random_quote,
    rations_at,
    season_of,
    supplies,
    to_buy,
)

from ration import solve
from ration.farm import Store
from ration.quotes.records import Quote
from ration.winter import joint
from ration.winter.coarse import loads_in, settled_of
from ration.winter.fine import tangents
from ration.winter.joint import Grain, Settled
from ration.winter.season import Season
from ration.winter.work import Answer

MISSED_GBP = 1e5  # a tonne of any condition missed: only ways that cannot be carried out pay it


@dataclass(frozen=True)
class Case:
    """A season with its rations held, and the most loads tried in one period."""

    season: Season
    rations: Mapping[tuple[int, int], np.ndarray]
    most_loads: int


# ---- the order written anew


@dataclass(frozen=True)
class Lorry:
    """Quotes that come together: same merchant, bulk or packed, same least, charge and most."""

    merchant: str
    least_t: float
    most_t: float
    charge_gbp: float
    lines: tuple[int, ...]

    @property
    def is_counted(self) -> bool:
        return self.least_t > 0 or self.charge_gbp > 0


CARRIES_T = {7.5: 3.0, 18.0: 8.0, 26.0: 16.0, 32.0: 20.0, 44.0: 29.0}  # common practice


def lorries(case: Case) -> list[Lorry]:
    lane = case.season.farm.winter.lane_t
    carried = max(load for laden, load in CARRIES_T.items() if lane is None or laden <= lane)
    groups: dict[tuple[object, ...], list[int]] = {}
    for s, supply in enumerate(case.season.supplies):
        q = supply.quote
        most = carried if q.most_drop_t is None else min(carried, q.most_drop_t)
        key = (q.merchant, q.pack == "bulk", q.least_drop_t, most, q.drop_charge_gbp)
        groups.setdefault(key, []).append(s)
    return [
        Lorry(str(k[0]), float(k[2]), float(k[3]), float(k[4]), tuple(v)) for k, v in groups.items()
    ]


def months(quote: Quote, case: Case, t: int) -> int:
    """Rises counted by a delivery at the start of a period."""
    day, first = case.season.periods[t].start, case.season.farm.start
    if quote.rise_from is not None:
        start = quote.rise_from
        return max((day.year - start.year) * 12 + day.month - start.month + 1, 0)
    return round((day - first).days / (365 / 12))


def out_share(case: Case, t: int, credit_days: int) -> float:
    """Interest from paying for a delivery until turnout."""
    days = (case.season.farm.end - case.season.periods[t].start).days - credit_days
    return case.season.farm.winter.interest_share_per_year * max(days, 0) / 365


def drawn_t(case: Case, t: int) -> np.ndarray:
    """Taken from store of each feed in a period by the held rations, forage fill apart."""
    rule, periods = case.season.farm.winter, case.season.periods
    total = np.zeros(len(case.season.offers))
    for b, batch in enumerate(case.season.batches):
        for j, offer in enumerate(case.season.offers):
            days = float(periods[t].days)
            if not offer.feed.is_forage:
                if t == 0:
                    days -= (max(1, min(rule.step_up_days, periods[0].days)) - 1) / 2
                if t == len(periods) - 1 and rule.taper_days:
                    days -= (rule.taper_days - 1) / 2
            total[j] += batch.head * case.rations[b, t][j] * days * fresh_t(offer)
    return total


def fresh_t(offer) -> float:
    """Tonnes out of store for a kg DM eaten."""
    dm = offer.feed["dm_g_per_kg_fresh"]
    return 1 / dm / (1 - offer.waste_share) / (1 - offer.storage_loss_share)


class ByHand:
    """The order of a case: columns for tonnes bought and forage fill, rows `<=`."""

    def __init__(self, case: Case) -> None:
        self.case, season = case, case.season
        self.lorries = lorries(case)
        self.steps = range(len(season.periods))
        self.buy = {
            key: i for i, key in enumerate(product(range(len(season.supplies)), self.steps))
        }
        forage = [j for j, o in enumerate(season.offers) if o.feed.is_forage]
        # straw stands in for trough feed only where there is no other forage
        forage = [j for j in forage if season.offers[j].feed.group != "straw"] or forage
        up = max(1, min(season.farm.winter.step_up_days, season.periods[0].days))
        self.fill = {}
        if up > 1:
            for b in range(len(season.batches)):
                for j in forage:
                    self.fill[b, j] = len(self.buy) + len(self.fill)
        before = len(self.buy) + len(self.fill)
        self.over = {s: before + s for s in range(len(season.supplies))}  # left at turnout
        self.n = before + len(self.over)
        self.tiers = [range(len(s.quote.tiers)) for s in season.supplies]
        self.rows: list[np.ndarray] = []
        self.rhs: list[float] = []
        self.by_load: list[tuple[int, int, int, float]] = []  # row, lorry, period, tonnes a load
        self.by_tier: list[tuple[int, int]] = []  # row, supply
        self.left: list[tuple[np.ndarray, float]] = []
        self.eaten = np.cumsum([drawn_t(case, t) for t in self.steps], axis=0)
        self.stocks()
        self.left_over()
        self.loads()
        self.steps_of_price()
        self.filling(up)

    def row(self, coefficients: np.ndarray, most: float) -> int:
        self.rows.append(coefficients)
        self.rhs.append(most)
        return len(self.rows) - 1

    def stocks(self) -> None:
        season = self.case.season
        rule = season.farm.winter
        at: dict[tuple[int, int], tuple[np.ndarray, float]] = {}
        drawn = np.diff(self.eaten, axis=0, prepend=0.0)
        for j, offer in enumerate(season.offers):
            expression = np.zeros(self.n)
            constant = (offer.stock_t_fresh or 0.0) if offer.is_home else 0.0
            for t in self.steps:
                came = np.zeros(self.n)
                for s, supply in enumerate(season.supplies):
                    if supply.offer_id == offer.id:
                        came[self.buy[s, t]] = 1.0
                at[j, t] = expression + came, constant  # as the lorry leaves
                if not offer.is_home:
                    kept = 1 - rule.shrink_share_per_month / (365 / 12) * season.periods[t].days
                    expression, constant = expression * kept, constant * kept
                expression = expression + came
                constant -= drawn[t][j]
                if t == 0:
                    for (b, i), column in self.fill.items():
                        if i == j:
                            expression[column] -= season.batches[b].head * fresh_t(offer)
                self.row(-expression, constant)
            self.left.append((expression, constant))
        for store in rule.stores:
            members = [j for j, o in enumerate(season.offers) if o.id in store.offer_ids]
            for t in self.steps if members else ():
                total = sum(at[j, t][0] for j in members)
                self.row(total, store.holds_t - sum(at[j, t][1] for j in members))

    def left_over(self) -> None:
        """No more of a supply is left than came of it, nor of a feed than lies in store."""
        season = self.case.season
        for s, column in self.over.items():
            row = np.zeros(self.n)
            row[column] = 1.0
            row[[self.buy[s, t] for t in self.steps]] = -1.0
            self.row(row, 0.0)
        for j, (expression, rest) in enumerate(self.left):
            row = -expression
            for s, column in self.over.items():
                if season.supplies[s].offer_id == season.offers[j].id:
                    row[column] += 1.0
            self.row(row, rest)

    def loads(self) -> None:
        season = self.case.season
        for g, lorry in enumerate(self.lorries):
            for t in self.steps if lorry.is_counted else ():
                came = np.zeros(self.n)
                for s in lorry.lines:
                    came[self.buy[s, t]] = 1.0
                self.by_load.append((self.row(came, 0.0), g, t, lorry.most_t))
                self.by_load.append((self.row(-came, 0.0), g, t, -lorry.least_t))
        for s, supply in enumerate(season.supplies):
            everything = np.zeros(self.n)
            for t in self.steps:
                everything[self.buy[s, t]] = 1.0
                until = supply.quote.delivered_until
                if until is not None and season.periods[t].start > until:
                    shut = np.zeros(self.n)
                    shut[self.buy[s, t]] = 1.0
                    self.row(shut, 0.0)
            if supply.quote.most_t is not None:
                self.row(everything, supply.quote.most_t)

    def steps_of_price(self) -> None:
        for s in range(len(self.case.season.supplies)):
            everything = np.zeros(self.n)
            for t in self.steps:
                everything[self.buy[s, t]] = -1.0
            self.by_tier.append((self.row(everything, 0.0), s))

    def filling(self, up: int) -> None:
        season = self.case.season
        for b in range(len(season.batches)) if up > 1 else ():
            trough = sum(
                self.case.rations[b, 0][j]
                for j, o in enumerate(season.offers)
                if not o.feed.is_forage
            )
            terms = np.zeros(self.n)
            for (who, _), column in self.fill.items():
                terms[column] = float(who == b)
            self.row(-terms, -trough * (up - 1) / 2)

    def ways(self) -> Iterator[tuple[dict[tuple[int, int], int], tuple[int, ...]]]:
        """Loads of each lorry and period, and the price step of each quote."""
        counted = [g for g, lorry in enumerate(self.lorries) if lorry.is_counted]
        places = list(product(counted, self.steps))
        for counts in product(range(self.case.most_loads + 1), repeat=len(places)):
            loads = dict(zip(places, counts, strict=True))
            if self.can_feed(loads):
                for tiers in product(*self.tiers):
                    yield loads, tiers

    def can_feed(self, loads: Mapping[tuple[int, int], int]) -> bool:
        """False where even full lorries bring less of a bought feed than is eaten by then."""
        for j, offer in enumerate(self.case.season.offers):
            lines = [s for s, x in enumerate(self.case.season.supplies) if x.offer_id == offer.id]
            here = [g for g, lorry in enumerate(self.lorries) if set(lorry.lines) & set(lines)]
            if offer.is_home or any(not self.lorries[g].is_counted for g in here):
                continue
            come = 0.0
            for t in self.steps:
                come += sum(loads[g, t] * self.lorries[g].most_t for g in here)
                if come < self.eaten[t][j] - 1e-9:
                    return False
        return True

    def cost_of(self, tiers: tuple[int, ...]) -> np.ndarray:
        season, cost = self.case.season, np.zeros(self.n)
        for (s, t), column in self.buy.items():
            q = season.supplies[s].quote
            price = q.tiers[tiers[s]].price_gbp_per_t_fresh + q.haulage_gbp_per_t
            price += q.rise_gbp_per_t_month * months(q, self.case, t) - q.cash_off_gbp_per_t
            cost[column] = price * (1 + out_share(self.case, t, q.payment_days))
        for s, column in self.over.items():
            q = season.supplies[s].quote
            price = q.tiers[tiers[s]].price_gbp_per_t_fresh + q.haulage_gbp_per_t
            share = season.farm.winter.leftover_share
            cost[column] = -share * max(price - q.cash_off_gbp_per_t, 0.0)
        return cost

    def least(self) -> tuple[float, int]:
        """Least bill of all ways, what is left valued, and how many ways were tried."""
        season = self.case.season
        worth, constant = np.zeros(self.n), 0.0
        for j, (expression, rest) in enumerate(self.left):
            offer = season.offers[j]
            value = offer.price_gbp_per_t_fresh if offer.is_home else 0.0
            worth += value * expression
            constant += value * rest
        costs, limits, charges = [], [], []
        for loads, tiers in self.ways():
            rhs = np.array(self.rhs)
            for row, g, t, tonnes in self.by_load:
                rhs[row] = loads[g, t] * tonnes
            for row, s in self.by_tier:
                rhs[row] = -season.supplies[s].quote.tiers[tiers[s]].from_t
            costs.append(self.cost_of(tiers) - worth)
            limits.append(rhs)
            charges.append(
                sum(
                    n * self.lorries[g].charge_gbp * (1 + out_share(self.case, t, 0))
                    for (g, t), n in loads.items()
                )
            )
        if not costs:
            return np.inf, 0
        matrix = np.array(self.rows)
        soft = np.hstack([matrix, -np.ones((len(matrix), 1))])
        many = len(costs)
        answer = linprog(
            np.concatenate([np.append(c, MISSED_GBP) for c in costs]),
            A_ub=sparse.kron(sparse.identity(many), sparse.csr_matrix(soft), format="csr"),
            b_ub=np.concatenate(limits),
            method="highs-ds",
            options={"presolve": False},
        )
        assert answer.status == 0, answer.message
        x = answer.x.reshape(many, self.n + 1)
        bills = (np.array(costs) * x[:, :-1]).sum(axis=1) + np.array(charges) - constant
        bills[x[:, -1] > 1e-7] = np.inf
        return float(bills.min()), many


# ---- cases


@cache
def base(seed: int) -> Season:
    """One or two batches for two to four periods, some hay of their own, two feeds to buy."""
    rng = np.random.default_rng([5, seed])
    periods = int(rng.choice([2, 3, 4], p=[0.35, 0.5, 0.15]))
    batches = 1 if rng.random() < 0.75 else 2
    bought = [
        ["hay-good", "soya-hipro"],
        ["barley", "beans"],
        ["cubes-16"],
        ["hay-good", "cubes-18"],
    ]
    feeds = bought[int(rng.integers(4))]
    sheep = [
        (
            int(rng.integers(25, 70)),
            round(float(rng.uniform(30, 38)), 1),
            float(rng.integers(25, 55)),
        )
        for _ in range(batches)
    ]
    place = farm(
        [home("hay-average", 30.0), home("straw-barley", 5.0), *(to_buy(f) for f in feeds)],
        days=14 * periods,
        sheep=sheep,
        most_change_kg=10.0,
        most_step_kg=10.0,
    )
    return season_of(
        place, supplies(*(random_quote(rng, "any", f, delivered_until=None) for f in feeds))
    )


BASES, CASES = 16, 200


@cache
def eaten_in(seed: int, turn: int) -> Mapping[tuple[int, int], np.ndarray]:
    """Rations of a base at prices that make it eat of what is bought."""
    season, rng = base(seed), np.random.default_rng([6, seed, turn])
    prices = np.array([0.15 if o.is_home else 0.02 for o in season.offers])
    return rations_at(season, prices * rng.uniform(0.5, 2.0, len(prices)))


@cache
def case(seed: int) -> Case:
    rng = np.random.default_rng([7, seed])
    season = base(seed % BASES)
    rations = eaten_in(seed % BASES, seed // BASES % 2)
    feeds = [o.id for o in season.offers if not o.is_home]
    periods = len(season.periods)
    bought = [j for j, o in enumerate(season.offers) if not o.is_home]
    drawn = [drawn_t(Case(season, rations, 1), t)[bought] for t in range(periods)]
    a_period, last_a_period = max(d.sum() for d in drawn), max(d[-1] for d in drawn)
    merchants = 1 if periods == 4 else 2 if periods == 3 or rng.random() < 0.6 else 3
    quotes = []
    for m in range(merchants):
        said: dict[str, object] = {}
        if rng.random() < 0.6:  # one lorry brings all; else every feed comes on its own
            least = float(rng.choice([0.3, 0.6, 1.0]))
            said = {
                "least_drop_t": least,
                "drop_charge_gbp": float(rng.choice([0.0, 8.0, 20.0])),
                "most_drop_t": round(least + a_period * float(rng.uniform(0.1, 0.9)), 2),
            }
        for k, feed in enumerate(feeds):
            if k == 0 or m == 0 or rng.random() < 0.7:
                alone = said or {"least_drop_t": 0.0, "drop_charge_gbp": 0.0} if k else said
                quotes.append(
                    random_quote(rng, f"merchant {m + 1}", feed, tiers=len(quotes) < 2, **alone)
                )
    rule = season.farm.winter
    rule = replace(
        rule,
        lane_t=float(rng.choice([7.5, 18.0, 44.0])),
        step_up_days=int(rng.choice([1, 12])),
        taper_days=int(rng.choice([0, 7])),
        interest_share_per_year=float(rng.choice([0.0, 0.06, 0.3])),
        leftover_share=float(rng.choice([0.0, 0.5, 0.9])),
        shrink_share_per_month=float(rng.choice([0.0, 0.0033, 0.03])),
        stores=(Store("bin", last_a_period * float(rng.uniform(1.05, 2.5)), tuple(feeds[-1:])),)
        if rng.random() < 0.5
        else (),
    )
    made = replace(season, farm=replace(season.farm, winter=rule), supplies=supplies(*quotes))
    places = periods * sum(not terms.is_free for terms in made.terms)
    return Case(made, rations, 2 if places <= 4 or (places == 6 and rng.random() < 0.2) else 1)


def programme_of(one: Case, settled: Settled | None = None, grain: Grain | None = None):
    grain = grain or fine_grain(one.season)
    limits = [
        (((s,), g, float(one.most_loads * len(inside))))
        for s, inside in enumerate(grain.steps)
        for g, terms in enumerate(one.season.terms)
        if not terms.is_free
    ]
    rations = held(one.rations)
    if not grain.is_fine:
        rations = held(
            {
                (b, s): np.average(
                    [one.rations[b, t] for t in inside],
                    axis=0,
                    weights=[one.season.periods[t].days for t in inside],
                )
                for b in range(len(one.season.batches))
                for s, inside in enumerate(grain.steps)
            }
        )
    return joint.build(grain, rations, settled or Settled(block_loads=limits))


def sunk(one: Case) -> float:
    return float(one.season.opening_t @ one.season.home_value_gbp_per_t)


# ---- what must agree


@cache
def solved(seed: int) -> tuple[float, int, solve.Solution, joint.Book]:
    """Least bill by hand, ways tried, and the programme solved."""
    one = case(seed)
    least, ways = ByHand(one).least()
    book, _ = programme_of(one)
    return least, ways, solve.run(book.problem(), gap_share=1e-9), book


def test_200_small_orders_cost_what_the_best_of_all_ways_costs() -> None:
    ways = none = 0
    for seed in range(CASES):
        least, many, found, _ = solved(seed)
        ways += many
        if not np.isfinite(least):
            none += 1
            assert found.status == solve.INFEASIBLE, seed
            continue
        assert found.status == solve.OPTIMAL, seed
        assert found.cost == pytest.approx(least, rel=1e-6, abs=1e-6), seed
        assert found.bound <= least + 1e-6 * max(abs(least), 1), seed
    assert ways > 20_000
    assert none < 40


def test_the_cases_bite() -> None:
    """Every kind of condition decides some of the orders, else agreeing proves little."""
    met = {"two loads": 0, "second step": 0, "over-ordered": 0, "store full": 0, "ahead": 0}
    for seed in range(CASES):
        _, _, found, book = solved(seed)
        if found.values is None:
            continue
        one = case(seed)
        at = {key: float(found.values[i]) for key, i in book.columns.items()}
        met["two loads"] += any(round(v) > 1 for k, v in at.items() if k[0] == "drop")
        met["second step"] += any(v > 0.5 for k, v in at.items() if k[0] == "tier" and k[2])
        last = len(one.season.periods) - 1
        bought = [j for j, o in enumerate(one.season.offers) if not o.is_home]
        met["over-ordered"] += any(at["left", j, last] > 1e-3 for j in bought)
        met["ahead"] += any(at["left", j, 0] > 1e-3 for j in bought)
        activity = book.problem().matrix @ found.values
        met["store full"] += any(
            activity[i] > book.problem().row_hi[i] - 1e-6
            for key, i in book.rows.items()
            if key[0] == "store"
        )
    assert all(count >= 8 for count in met.values()), met


def test_loads_and_steps_once_settled_give_the_same_order() -> None:
    """The planner settles loads and tiers and solves the rest: no cost may change by it."""
    for seed in range(0, CASES, 3):
        one, (least, _, found, book) = case(seed), solved(seed)
        if found.values is None:
            continue
        answer = Answer(book, book.problem(), {}, found)
        _, tiers = settled_of(one.season, answer)
        again, _ = programme_of(one, Settled(loads=loads_in(answer), tiers=tiers))
        programme = again.problem()
        assert not programme.integer.any(), seed
        assert solve.run(programme).cost == pytest.approx(least, rel=1e-6, abs=1e-5), seed


def test_blocks_of_periods_never_cost_more_than_the_periods() -> None:
    """What the coarse grain lets go it lets go in the kinder direction: its cost is a bound."""
    dearer = 0
    for seed in range(CASES):
        one, (least, _, found, _) = case(seed), solved(seed)
        count = len(one.season.periods)
        if found.values is None or count < 3:
            continue
        steps = ((0,), (1, 2)) if count == 3 else ((0,), (1, 2), (3,))
        # the last period stands in a block only where nothing tapers in it
        if count == 3 and one.season.farm.winter.taper_days:
            continue
        coarse, _ = programme_of(one, grain=Grain(one.season, steps))
        kind = solve.run(coarse.problem(), gap_share=1e-9)
        assert kind.cost is not None, seed
        assert kind.cost <= least + 1e-6 * max(abs(least), 1), seed
        dearer += kind.cost < least - 1e-3
    assert dearer >= 5


# ---- rations free on lines that touch their needs


def free_case(seed: int) -> Case:
    """Two periods and at most two lorries that count, rations free."""
    for more in range(1000):
        one = case(10_000 + 100 * seed + more)
        counted = sum(not terms.is_free for terms in one.season.terms)
        if len(one.season.periods) == 2 and 1 <= counted <= 2:
            return one
    raise AssertionError("no such case")


def test_20_winters_with_free_rations_cost_what_the_best_of_all_ways_costs() -> None:
    """Whole columns tried one after another; rations left to `linprog` on the same rows."""
    bought = 0
    for seed in range(20):
        one = free_case(seed)
        grain = fine_grain(one.season)
        near = tangents(one.season, one.rations, 0.3)
        places = [(g, t) for g, x in enumerate(one.season.terms) if not x.is_free for t in (0, 1)]
        most = 2 if len(places) == 2 else 1
        limits = [((t,), g, float(most)) for g, t in places]
        book, _ = joint.build(grain, near, Settled(block_loads=limits))
        programme = book.problem()
        found = solve.run(programme, gap_share=1e-9)
        whole = np.flatnonzero(programme.integer)
        keys = list(book.columns)
        counts = [range(most + 1) if keys[j][0] == "drop" else (0, 1) for j in whole]
        asked = as_scipy(programme)
        best = np.inf
        for values in product(*counts):
            asked["bounds"][whole] = np.array(values, dtype=float)[:, None]
            answer = linprog(**asked, method="highs-ds")
            assert answer.status in (0, 2), answer.message
            best = min(best, answer.fun if answer.status == 0 else np.inf)
        if not np.isfinite(best):
            assert found.status == solve.INFEASIBLE, seed
            continue
        assert found.cost == pytest.approx(best, rel=1e-6, abs=1e-5), seed
        bought += any(round(found.values[j]) for j in whole)
    assert bought >= 8
