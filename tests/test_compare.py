"""Landed costs, the cheapest way to buy, members together, and the ranking of merchants.

The merchants, members and prices are invented; sums on them are worked by hand beside each test.
"""

from __future__ import annotations

import io
import itertools
import math
import random
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from ration import demo, farm, mix, tables
from ration import needs as standards
from ration.buying import compare
from ration.buying.compare import (
    Member,
    cheapest_buy,
    group_cost,
    landed,
    ranking,
    timing,
    unit_costs,
)
from ration.buying.landed import mp_g_per_kg_dm, rise_gbp_per_t, tier_price_gbp_per_t
from ration.buying.tie import tie
from ration.errors import InputError, ModelError, OutOfRange
from ration.faces import quotes_report
from ration.feeds import Feed, Figure
from ration.quotes.records import Quote, QuoteSheet, Tier
from ration.standards import afrc1993

ON = date(2026, 9, 14)


def quote(merchant, *tiers, feed="18 % hogg cubes", **more):
    more.setdefault("place", "quotes.csv row 2")
    return Quote(merchant, feed, tuple(Tier(*t) for t in tiers), **more)


HERON = quote("Heron", (0, 296), (15, 287), (29, 280), least_drop_t=3, drop_charge_gbp=95,
              payment_days=28)  # fmt: skip
HERON_BAGS = quote("Heron", (0, 338), pack="bag", pack_kg=20, is_collected=True)
PLOVER = quote("Plover", (0, 283), least_drop_t=10, lorry_t=44, cash_off_gbp_per_t=4)
SNIPE = quote("Snipe", (0, 309), feed="20 % hogg cubes", drop_charge_gbp=60, least_drop_t=3,
              rise_gbp_per_t_month=6, rise_from=date(2026, 12, 1))  # fmt: skip
MEMBERS = {
    "A": Member("A", 4.5),
    "B": Member("B", 7.0, 18.0),
    "C": Member("C", 2.2, yard="yard end"),
    "D": Member("D", 11.0),
    "E": Member("E", 3.3, 18.0, "yard end"),
    "F": Member("F", 6.0, 18.0),
}


def pounds(value):
    return pytest.approx(value, abs=0.005)


# ---- landed


def test_the_landed_price_of_a_pooled_load():
    # 280 + 5 x 95 / 34 = 293.97; all of it 34 x 280 + 5 x 95 = 9,995.00
    got = landed(HERON, 34.0, 5)
    assert got.gbp_per_t_fresh == pounds(293.97)
    assert got.cost_gbp == pounds(9995.00)
    assert got.drop_charges_gbp_per_t_fresh == pounds(13.97)


@pytest.mark.parametrize(
    ("tonnes", "price"),
    [(3.0, 296), (14.99, 296), (15.0, 287), (28.9, 287), (29.0, 280), (90, 280)],
)
def test_the_tier_is_that_of_the_whole_order(tonnes, price):
    assert tier_price_gbp_per_t(HERON, tonnes) == price


def test_cash_with_the_order_is_taken_where_it_is_cheaper():
    # 283 - 4 = 279; with the order paid three months ahead at 6 %: 279 x 0.06 x 3 / 12 = 4.19 > 4
    assert landed(PLOVER, 10.0, 1, interest_share_per_year=0.06).gbp_per_t_fresh == pounds(279.0)
    ahead = landed(PLOVER, 10.0, 1, interest_share_per_year=0.06, months_ahead=3)
    assert ahead.gbp_per_t_fresh == pounds(283.0)
    assert landed(PLOVER, 10.0, 1).gbp_per_t_fresh == pounds(283.0)  # the invoice


def test_payment_days_are_worth_their_interest():
    # (296 + 95 / 10) x 0.06 x 28 / 365 = 1.406
    got = landed(HERON, 10.0, 1, interest_share_per_year=0.06)
    assert got.credit_gbp_per_t_fresh == pounds(1.41)
    assert got.invoice_gbp_per_t_fresh == pounds(305.50)
    assert got.gbp_per_t_fresh == pounds(304.09)


@pytest.mark.parametrize(
    ("on", "rise"),
    [
        (date(2026, 11, 30), 0),
        (date(2026, 12, 1), 6),
        (date(2026, 12, 31), 6),
        (date(2027, 1, 1), 12),
        (date(2027, 3, 10), 24),
    ],
)
def test_a_rise_counts_each_calendar_month_from_its_first(on, rise):
    assert rise_gbp_per_t(SNIPE, on) == rise
    assert landed(SNIPE, 3.0, 1, on).gbp_per_t_fresh == pounds(309 + rise + 20)


def test_a_rise_without_a_first_month_counts_from_the_order():
    later = replace(SNIPE, rise_from=None)
    assert rise_gbp_per_t(later, date(2026, 12, 1), 0.0) == 0
    assert rise_gbp_per_t(later, date(2026, 12, 1), 3.0) == 18


def test_nothing_has_no_landed_price():
    with pytest.raises(OutOfRange, match="more than nothing"):
        landed(HERON, 0.0, 1)


def test_bags_and_bales_by_the_tonne():
    # 8.35 a 20 kg bag and 7.95 a 20 kg bag; 5.60 a bale of 18 kg; 7.35 per 25 kg
    for pack_gbp, kg, per_t in ((8.35, 20, 417.50), (7.95, 20, 397.50), (5.60, 18, 311.11),
                                (7.35, 25, 294.00)):  # fmt: skip
        bag = quote("x", (0, pack_gbp / kg * 1000), pack="bag", pack_kg=kg)
        assert landed(bag, 1.0, 1).gbp_per_t_fresh == pounds(per_t)


def test_of_one_feed_in_three_packs_blown_is_cheapest_when_the_drop_is_filled():
    # 291 blown from 3 t, 318 in tonne bags, 8.35 a 20 kg bag = 417.50
    packs = [
        quote("x", (0, 291), least_drop_t=3),
        quote("x", (0, 318), pack="tonne bag", pack_kg=1000),
        quote("x", (0, 417.5), pack="bag", pack_kg=20),
    ]
    assert cheapest_buy(packs, 4.0).landed.gbp_per_t_fresh == pounds(291)
    assert cheapest_buy(packs, 2.0).quote.pack == "tonne bag"  # 636 against 835 and 873
    assert cheapest_buy(packs, 0.5).quote.pack == "bag"  # 208.75 against 318 and 873
    assert cheapest_buy(packs, 0.5).packs == 25


# ---- by what is in it


NEEDS = standards.of(
    farm.read(Path(demo.__file__).parent / "quernhope.yaml", tables=tables.load()).batches[0]
)


def plain_feed(dm, me, cp, a=0.25, b=0.70, c=0.35, adin=0.2, oil=17.0):
    values = {
        "dm_g_per_kg_fresh": dm, "me_mj_per_kg_dm": me, "cp_g_per_kg_dm": cp, "n_a_share": a,
        "n_b_share": b, "n_c_per_h": c, "adin_g_n_per_kg_dm": adin, "oil_g_per_kg_dm": oil,
    }  # fmt: skip
    return Feed("x", "x", "cereal", {k: Figure(v, "user") for k, v in values.items()})


@pytest.mark.parametrize(
    ("price", "dm", "me", "p_per_mj"),
    [
        (397.50, 870, 12.4, 3.68),  # cube: 39.75 / 0.87 / 12.4
        (182.0, 860, 13.2, 1.60),  # barley
        (268.0, 880, 12.5, 2.44),  # beet pulp
        (145.0, 850, 9.0, 1.90),  # hay
    ],
)
def test_pence_per_megajoule(price, dm, me, p_per_mj):
    # arithmetic on round figures of common feeds
    assert unit_costs(plain_feed(dm, me, 100.0), price, NEEDS).p_per_mj == pounds(p_per_mj)


def test_price_per_kg_of_crude_protein():
    # 309 / 0.87 / 1000 / (0.20 / 0.87) = 1.545 GBP per kg
    got = unit_costs(plain_feed(870, 12.0, 200 / 0.87), 309.0, NEEDS)
    assert got.gbp_per_kg_cp == pytest.approx(1.545, abs=5e-4)
    assert got.gbp_per_t_dm == pounds(355.17)


def test_mp_of_a_feed_by_itself_is_the_smaller_of_the_two_limits():
    # AFRC (1993): MP = 0.6375 x min(ERDP, y x FME) + DUP, its parts checked against their sources
    for cp, limit in ((115.0, "erdp"), (400.0, "energy")):
        feed = plain_feed(860, 13.2, cp)
        flow = afrc1993.outflow_per_h(1.5)
        erdp = afrc1993.erdp_g_per_kg_dm(cp, 0.25, 0.70, 0.35, flow)
        dup = afrc1993.dup_g_per_kg_dm(cp, 0.25, 0.70, 0.35, 0.2, flow)
        energy = afrc1993.microbial_yield_g_per_mj(1.5) * (13.2 - 0.035 * 17.0)
        assert (erdp < energy) == (limit == "erdp")
        assert mp_g_per_kg_dm(feed, NEEDS) == pytest.approx(0.6375 * min(erdp, energy) + dup)


def test_a_figure_that_is_missing_gives_no_price():
    bare = Feed("x", "x", "cereal", {"dm_g_per_kg_fresh": Figure(860.0, "user")})
    got = unit_costs(bare, 200.0, NEEDS)
    assert (got.p_per_mj, got.gbp_per_kg_cp, got.gbp_per_kg_mp) == (None, None, None)
    assert unit_costs(Feed("x", "x", "cereal"), 200.0, NEEDS).gbp_per_t_dm is None
    no_protein = unit_costs(plain_feed(980, 0.0, 0.0), 90.0, NEEDS)
    assert (no_protein.p_per_mj, no_protein.gbp_per_kg_cp) == (None, None)


# ---- the cheapest way to buy


def test_a_small_order_is_cheaper_in_bags_than_topped_up_to_the_least_drop():
    # 2.2 x 338 = 743.60 against 3 x 296 + 95 = 983.00
    assert cheapest_buy([HERON], 2.2).cost_gbp == pounds(983.00)
    got = cheapest_buy([HERON, HERON_BAGS], 2.2)
    assert got.cost_gbp == pounds(743.60)
    assert got.packs == 110


def test_over_ordering_to_a_price_step():
    # 28.5 t: 29 x 280 + 95 = 8,215.00 against 28.5 x 287 + 95 = 8,274.50
    got = cheapest_buy([HERON], 28.5)
    assert (got.tonnes, got.cost_gbp, got.left_t) == (29.0, pounds(8215.00), pytest.approx(0.5))
    # 14.4 t at 296 + 95 = 4,357.40; 15 t at 287 + 95 = 4,400.00
    assert cheapest_buy([HERON], 14.4).tonnes == 14.4


def test_the_lane_and_the_bin_set_the_drops():
    # an 18 t rigid carries 8 t: common practice, no source
    assert cheapest_buy([HERON], 11.0, lane_t=18.0).drops == 2
    assert cheapest_buy([HERON], 11.0).drops == 1
    assert cheapest_buy([HERON], 11.0, room_t=4.0).drops == 3
    # a 4 t bin and an order of 6 t: two drops
    assert cheapest_buy([HERON], 6.0, room_t=4.0).drops == 2
    assert cheapest_buy([HERON], 4.0, places=3).tonnes == 9.0  # three drops of 3 t at the least


def test_what_no_quote_can_bring_is_told():
    with pytest.raises(ModelError, match="no quote here can bring 5 t"):
        cheapest_buy([PLOVER], 5.0, lane_t=18.0)
    with pytest.raises(ModelError, match="can bring 9 t"):
        cheapest_buy([replace(HERON, most_t=6.0)], 9.0)


def test_the_cheapest_buy_is_that_of_every_order_tried_by_tenths():
    # brute force: every order from the wanted tonnes up, in steps of 0.1 t, each with its drops
    rng = random.Random(14)
    for _ in range(200):
        steps = sorted(rng.sample(range(20, 300), rng.randint(0, 2)))
        prices = sorted((rng.randint(200, 340) for _ in range(len(steps) + 1)), reverse=True)
        least, load = rng.randint(0, 80), rng.choice([80, 160, 290])
        unit = rng.choice([1, 5, 10])
        q = quote(
            "x",
            *((f / 10, p) for f, p in zip([0, *steps], prices, strict=True)),
            least_drop_t=least / 10,
            drop_charge_gbp=rng.choice([0, 60, 95]),
            pack="bulk" if unit == 1 else "tonne bag",
            pack_kg=None if unit == 1 else unit * 100,
        )
        want = rng.randint(1, 300)
        full = load // unit * unit
        each = max(-(-least // unit) * unit, unit if unit > 1 else 0)
        if each > full:
            continue
        best = math.inf
        for tenths in range(want, 900):
            drops = math.ceil(tenths / full)
            if tenths % unit or tenths < drops * each:
                continue
            price = [p for f, p in zip([0, *steps], prices, strict=True) if f <= tenths][-1]
            best = min(best, tenths / 10 * price + drops * q.drop_charge_gbp)
        lane = {80: 18.0, 160: 26.0, 290: None}[load]
        assert cheapest_buy([q], want / 10, lane_t=lane).cost_gbp == pytest.approx(best)


def test_loosening_a_least_drop_never_costs_more():
    for tonnes in np.linspace(0.3, 40.0, 60):
        costs = [
            cheapest_buy([replace(HERON, least_drop_t=d), HERON_BAGS], float(tonnes)).cost_gbp
            for d in (0.0, 1.0, 3.0, 8.0)
        ]
        assert costs == sorted(costs)


# ---- members together


ALONE = {"A": 1427.00, "B": 2167.00, "C": 743.60, "D": 3351.00, "E": 1071.80, "F": 1871.00}


@pytest.mark.parametrize(("names", "cost"), [
    *ALONE.items(),
    ("ABCDEF", 9995.00),  # 34 x 280 + 5 x 95
    ("ABCDF", 9243.60),  # 29 x 280 + 4 x 95 + C bagged 743.60, not 9,295.00 with C topped up to 3 t
    ("ABCEF", 6981.00),  # 23 x 287 + 4 x 95
])  # fmt: skip
def test_what_a_group_pays_with_one_merchant(names, cost):
    got = group_cost([MEMBERS[n] for n in names], [HERON, HERON_BAGS])
    assert got.cost_gbp == pounds(cost)


def test_the_trap_is_over_ordered_with_the_small_one_in_bags():
    parts = group_cost([MEMBERS[n] for n in "ABCDF"], [HERON, HERON_BAGS]).parts
    bulk, bags = parts
    assert (bulk.tonnes, bulk.drops, bulk.price_gbp_per_t_fresh) == (29.0, 4, 280)
    assert bulk.wanted_t == pytest.approx(28.5)
    assert (bags.members, bags.cost_gbp) == (("C",), pounds(743.60))


def test_no_group_costs_more_than_its_parts_apart():
    cost = {
        frozenset(g): group_cost([MEMBERS[n] for n in g], [HERON, HERON_BAGS]).cost_gbp
        for k in range(1, 7)
        for g in itertools.combinations("ABCDEF", k)
    }
    for one, other in itertools.combinations(cost, 2):
        if not one & other:
            assert cost[one | other] <= cost[one] + cost[other] + 1e-6
    saving = math.fsum(cost[frozenset(n)] for n in "ABCDEF") - cost[frozenset("ABCDEF")]
    assert saving == pounds(636.40)  # 10,631.40 less 9,995.00


def test_a_merchant_with_artics_only_reaches_no_narrow_lane():
    with pytest.raises(ModelError, match="every member"):
        group_cost([MEMBERS["A"], MEMBERS["B"]], [PLOVER])


def test_too_many_members_are_not_tried_one_by_one():
    crowd = [Member(str(k), 3.0) for k in range(30)]
    with pytest.raises(InputError, match="ways are tried"):
        group_cost(crowd, [HERON, HERON_BAGS])


# ---- now or later


def test_the_rise_that_makes_buying_now_worth_it():
    # 288 x 6 % x 3/12 = 4.32, storage 2.00, shrink 1 % = 2.88: 9.20
    assert timing(288.0, 3, 0.06, 2.00, 0.01) == pounds(9.20)


# ---- the ranking


@pytest.fixture(scope="module")
def book():
    return tables.load()


@pytest.fixture(scope="module")
def hill(book):
    """One batch on bought hay and straw with soya: small, so that many rankings are quick."""
    whole = farm.read(Path(demo.__file__).parent / "quernhope.yaml", tables=book)
    keep = ("big-square-hay", "barley-straw", "soya", "sheep-mineral")
    offers = tuple(
        replace(o, feed=book.feeds["hay-poor"], price_gbp_per_t_fresh=70.0)
        if o.id == "big-square-hay"
        else o
        for o in whole.offers
        if o.id in keep
    )
    return replace(whole, offers=offers, batches=whole.batches[2:])


def heron(price, **more):
    return quote("Heron", (0, price), feed="16 % hogg cubes", like="cubes-16", **more)


def snipe(price, **more):
    said = {"cp_g_per_kg_fresh": Figure(200.0, "label")}
    return quote(
        "Snipe", (0, price), feed="20 % hogg cubes", like="cubes-18", declared=said, **more
    )


def ranked(hill, book, *quotes):
    return ranking(hill, book, tie(hill, quotes, book, on=ON), on=ON)


def raised(q, by):
    tiers = tuple(Tier(t.from_t, t.price_gbp_per_t_fresh + by) for t in q.tiers)
    return replace(q, tiers=tiers)


def test_stronger_cubes_win_by_the_soya_they_save(hill, book):
    # 225 against 220 a tonne: dearer by the tonne, cheaper for the sheep
    first, second = ranked(hill, book, heron(220.0), snipe(225.0))
    assert (first.merchant, second.merchant) == ("Snipe", "Heron")
    assert first.cost_gbp_per_head_day < second.cost_gbp_per_head_day
    assert first.landed.gbp_per_t_fresh > second.landed.gbp_per_t_fresh
    assert first.reason.startswith("cheapest per head: 20% protein saves")
    assert first.reason.endswith("of soya")
    assert second.reason.endswith("more of soya")
    assert first.unit_costs.gbp_per_kg_cp < second.unit_costs.gbp_per_kg_cp


def test_the_cost_is_that_of_the_mix_with_this_feed_alone(hill, book):
    # without drops, tiers and terms the ranking must cost what the mix costs at that price
    for q in (heron(220.0), snipe(225.0), heron(120.0)):
        tied = tie(hill, [q], book, on=ON)
        (line,) = ranking(hill, book, tied, on=ON)
        done = mix.mix(replace(hill, offers=tied.offers), book)
        want = math.fsum(r.cost_gbp_for_winter for r in done.rations)
        assert line.cost_gbp_for_winter == pytest.approx(want, rel=1e-5)
        feed = next(f for f in done.rations[0].feeds if f.id == line.offer_id)
        assert line.tonnes == pytest.approx(feed.t_fresh_for_winter, rel=1e-3)
        assert line.worth_gbp_per_t_fresh == pytest.approx(feed.worth_gbp_per_t_fresh, abs=0.02)
        told = line.assessments[0]
        assert told.cost_gbp_per_head_day == pytest.approx(line.cost_gbp_per_head_day, rel=1e-6)
        assert told.gain_g_per_day >= hill.batches[0].gain_g_per_day - 1e-3


def test_the_rank_flips_within_a_penny_of_the_price_told(hill, book):
    mine, other = snipe(225.0, drop_charge_gbp=60.0), heron(220.0, drop_charge_gbp=95.0)
    first, second = ranked(hill, book, mine, other)
    rise, fall = first.may_rise_gbp_per_t, second.must_fall_gbp_per_t
    assert rise > 0
    assert fall > 0
    assert ranked(hill, book, raised(mine, rise - 0.01), other)[0].merchant == "Snipe"
    assert ranked(hill, book, raised(mine, rise + 0.01), other)[0].merchant == "Heron"
    assert ranked(hill, book, mine, raised(other, -fall + 0.01))[0].merchant == "Snipe"
    assert ranked(hill, book, mine, raised(other, -fall - 0.01))[0].merchant == "Heron"


def test_a_feed_over_its_worth_is_not_bought_and_a_penny_under_it_is(hill, book):
    (at,) = ranked(hill, book, snipe(225.0))
    worth = at.worth_gbp_per_t_fresh
    (over,) = ranked(hill, book, snipe(worth + 0.01))
    (under,) = ranked(hill, book, snipe(worth - 0.01))
    assert not over.is_used
    assert under.is_used
    assert over.reason.startswith("not worth buying")
    assert over.cost_gbp_per_head_day == pytest.approx(over.without_gbp_per_head_day)
    assert over.must_fall_gbp_per_t == pytest.approx(0.01, abs=0.02)


def test_raising_a_price_never_improves_a_rank_or_lowers_a_cost(hill, book):
    rng = random.Random(3)
    for _ in range(4):
        others = [snipe(rng.uniform(200, 320), drop_charge_gbp=rng.choice([0.0, 60.0]))]
        base = heron(
            rng.uniform(180, 260), least_drop_t=rng.choice([0.0, 2.0]), drop_charge_gbp=95.0
        )
        ranks, costs = [], []
        for by in (0.0, 0.5, 5.0, 25.0, 80.0):
            lines = ranked(hill, book, raised(base, by), *others)
            mine = next(r for r in lines if r.merchant == "Heron")
            ranks.append(mine.rank)
            costs.append(mine.cost_gbp_for_winter)
        assert ranks == sorted(ranks)
        assert costs == sorted(costs)


def test_taking_a_quote_away_never_lowers_the_best_cost(hill, book):
    quotes = [
        heron(230.0, drop_charge_gbp=95.0, least_drop_t=1.0),
        replace(heron(255.0), pack="bag", pack_kg=20.0),
        snipe(240.0, drop_charge_gbp=60.0),
        quote("Plover", (0, 238), (2, 224), feed="16 % hogg cubes", like="cubes-16"),
    ]

    def best(some):
        tied = tie(hill, quotes, book, on=ON)
        kept = tuple(s for s in tied.supplies if not s.quote.merchant or s.quote in some)
        lines = ranking(hill, book, replace(tied, supplies=kept), on=ON)
        return min(r.cost_gbp_for_winter for r in lines)

    whole = best(quotes)
    for k in range(len(quotes)):
        assert best(quotes[:k] + quotes[k + 1 :]) >= whole - 1e-6


def test_a_price_step_over_what_they_need_is_over_ordered_when_cheaper(hill, book):
    (plain,) = ranked(hill, book, heron(220.0))
    step = plain.tonnes * 1.05
    (line,) = ranked(hill, book, quote("Heron", (0, 220), (step, 180), feed="16 % hogg cubes",
                                       like="cubes-16"))  # fmt: skip
    assert line.buy.tonnes >= step - 1e-9
    assert line.cost_gbp_for_winter < plain.cost_gbp_for_winter
    assert line.cost_gbp_for_winter <= plain.cost_gbp_for_winter - plain.tonnes * 220 + step * 180


def test_other_merchants_of_the_kind_are_out_and_other_kinds_are_in(hill, book):
    hay = quote("Curlew", (0, 60.0), feed="big square hay")
    lines = ranked(hill, book, heron(220.0), snipe(225.0), hay)
    by = {r.merchant: r for r in lines}
    assert {r.kind for r in lines} == {"compound", "hay"}
    assert all(r.rank is not None for r in lines)
    fed = {p.id for a in by["Heron"].assessments for p in a.portions}
    assert "20-hogg-cubes-snipe" not in fed
    assert "big-square-hay" in fed  # Curlew's hay, of another kind
    hay_at_70 = {r.merchant: r for r in ranked(hill, book, heron(220.0), snipe(225.0))}
    assert by["Heron"].cost_gbp_for_winter < hay_at_70["Heron"].cost_gbp_for_winter


def test_no_more_is_fed_than_there_is(hill, book):
    (all_of_it,) = ranked(hill, book, snipe(225.0))
    (some,) = ranked(hill, book, snipe(225.0, most_t=0.5))
    assert all_of_it.tonnes > 0.5
    assert 0 < some.tonnes <= 0.5 + 1e-6
    assert some.cost_gbp_for_winter > all_of_it.cost_gbp_for_winter


def test_refused_quotes_come_last_with_what_would_make_them_usable(hill, book):
    narrow = replace(hill, winter=replace(hill.winter, lane_t=18.0))
    dipper = quote("Dipper", (0, 294), pack="bag", pack_kg=25, packs_per_pallet=40, like="cubes-18",
                   copper_mg_per_kg_fresh=18.0, drop_charge_gbp=22.0)  # fmt: skip
    plover = replace(PLOVER, like="cubes-18")
    old = heron(220.0, valid_until=date(2026, 9, 1))
    lines = ranked(narrow, book, dipper, plover, old, snipe(225.0))
    assert [r.merchant for r in lines] == ["Snipe", "Dipper", "Plover", "Heron"]
    assert [r.rank for r in lines] == [1, None, None, None]
    assert "copper" in lines[1].refused
    assert "artic only, lane takes 18 t" in lines[2].refused
    assert "ask if it still holds" in lines[3].refused
    assert all(r.cost_gbp_for_winter is None for r in lines[1:])


def test_no_adequate_ration_is_told(hill, book):
    bare = replace(hill, offers=tuple(o for o in hill.offers if o.id == "barley-straw"))
    (line,) = ranked(bare, book, heron(220.0))
    assert line.rank is None
    assert line.reason.startswith("no adequate ration")
    assert not line.refused


def test_nothing_quoted_ranks_nothing(hill, book):
    assert ranked(hill, book) == ()


# ---- for notebooks, JSON and print


def test_frames_and_dictionaries_carry_units(hill, book):
    lines = ranked(hill, book, heron(220.0), snipe(225.0), heron(200.0, made_for="cattle"))
    table = compare.frame(lines)
    assert len(table) == 3
    for column, value in compare.as_dicts(lines)[0].items():
        if isinstance(value, float):
            assert any(u in column for u in ("_gbp", "_t_fresh", "_p_per_mj")), column
    assert table.loc[0, "cost_gbp_for_winter"] == lines[0].cost_gbp_for_winter


def printed(lines, tied, **more):
    from rich.console import Console

    out = io.StringIO()
    quotes_report.print_quotes(Console(file=out, width=100), lines, tied, on=ON, **more)
    return out.getvalue()


def test_the_report_says_first_who_is_cheapest_for_these_sheep(hill, book):
    tied = tie(hill, [heron(220.0), snipe(225.0), heron(1.0, made_for="cattle")], book, on=ON)
    lines = ranking(hill, book, tied, on=ON)
    sheet = QuoteSheet("quotes.csv", (), ("Is the price ex VAT?",), (), ("row 9: no price",))
    text = printed(lines, tied, sheets=[sheet])
    first = text.splitlines()[1]
    pence = f"{lines[0].cost_gbp_per_head_day * 100:.1f}p a head a day"
    assert first.startswith("Snipe is cheapest for these sheep with 20 % hogg cubes: " + pence)
    flat = " ".join(text.split())
    assert f"price goes up by £{lines[0].may_rise_gbp_per_t:.2f} a tonne, Heron is level." in flat
    for words in (
        "p/MJ", "£/kg MP", "Refused", "made for cattle: not for sheep", "Is the price ex VAT?",
        "quotes.csv, not read: row 9: no price", "copper unknown: ask for the label",
    ):  # fmt: skip
        assert words in flat
    assert flat.index("cheapest for these sheep") < flat.index("p/MJ") < flat.index("Refused")


def test_the_report_without_a_usable_quote(hill, book):
    tied = tie(hill, [heron(220.0, made_for="cattle")], book, on=ON)
    assert "no quote can be used; every one is refused" in printed(
        ranking(hill, book, tied, on=ON), tied
    )
    tied = tie(hill, [heron(900.0)], book, on=ON)
    text = printed(ranking(hill, book, tied, on=ON), tied)
    assert "none is worth buying for these sheep at these prices" in " ".join(text.split())
