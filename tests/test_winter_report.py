"""The order sheet, the stack, the proof and the cautions of a winter, as rows and as words.

Plans are put together here from invented deliveries; sums are by hand beside each test. The farm
is invented (`data/winter`).
"""

from __future__ import annotations

import io
import math
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType

import pytest
from rich.console import Console

from ration.buying.tie import Tied
from ration.cautions import STANDING
from ration.errors import InputError
from ration.faces import winter_report, winter_words
from ration.jobs import winter as winter_jobs
from ration.quotes.records import Quote, QuoteSheet, Supply, Tier
from ration.stack import lots as stacked
from ration.winter import order
from ration.winter.records import Bill, Delivery, Drop, More, Period, Plan, StockLine

FARM = Path(__file__).parent / "data" / "winter" / "farm.yaml"
START = date(2026, 10, 28)
READY = winter_jobs.read_winter(FARM)


def periods(count: int, days: int = 14) -> tuple[Period, ...]:
    starts = [START + timedelta(days=days * i) for i in range(count + 1)]
    return tuple(Period(i, a, b) for i, (a, b) in enumerate(pairwise(starts)))


def supply(offer_id: str, merchant: str = "Heron", price: float = 200.0, **more) -> Supply:
    quote = Quote(merchant, offer_id, (Tier(0.0, price),), **more)
    return Supply(f"{merchant}-{offer_id}-{quote.pack}", offer_id, quote)


def delivery(of: Supply, period: Period, tonnes: float) -> Delivery:
    price = of.quote.tiers[0].price_gbp_per_t_fresh
    packs = None if of.quote.pack_kg is None else round(tonnes * 1000 / of.quote.pack_kg)
    return Delivery(of, period, tonnes, packs, price, tonnes * price)


def plan(*deliveries: Delivery, drops: tuple[Drop, ...] = (), count: int = 12, **more) -> Plan:
    feed = math.fsum(d.cost_gbp for d in deliveries)
    charges = math.fsum(d.charge_gbp for d in drops)
    supplies = tuple({d.supply.id: d.supply for d in deliveries}.values())
    said = {
        "farm": READY.farm,
        "periods": periods(count),
        "offers": READY.farm.offers,
        "supplies": supplies,
        "fed": (),
        "extra_forage_kg_dm": MappingProxyType({}),
        "deliveries": deliveries,
        "drops": drops,
        "stocks": (),
        "bill": Bill(feed, charges, 0.0, 0.0, 0.0),
        "bound_gbp": feed + charges,
        "is_cut_short": False,
        "more": (),
        "walk_away_gbp_per_t": MappingProxyType({}),
        "why_not": "",
        "conflict": None,
        "seconds": MappingProxyType({}),
        "solver": "",
        **more,
    }
    return Plan(**said)


def printed(show, *args) -> str:
    out = io.StringIO()
    console = Console(file=out, width=100, highlight=False, markup=False, no_color=True)
    show(console, *args)
    return " ".join(out.getvalue().split())


# ---------------------------------------------------------------- the order sheet


def test_three_deliveries_have_a_row_each_in_order_of_date():
    hay, cubes = supply("big-square-hay"), supply("hogg-cubes", "Plover")
    at = periods(12)
    rows = order.rows_of(
        plan(delivery(hay, at[4], 8.0), delivery(cubes, at[2], 4.0), delivery(hay, at[0], 8.0),
             delivery(hay, at[8], 8.0))
    )  # fmt: skip
    assert [(r.feed, r.when, r.tonnes) for r in rows] == [
        ("big square hay", "28 October", 8.0),
        ("hogg cubes", "25 November", 4.0),
        ("big square hay", "23 December", 8.0),
        ("big square hay", "17 February", 8.0),
    ]


def test_twelve_small_lots_are_one_row():
    oats = supply("rolled-barley", "")
    found = plan(*(delivery(oats, p, 0.13) for p in periods(12)))
    (row,) = order.rows_of(found)
    assert row.tonnes == pytest.approx(1.56)  # 12 x 0.13
    assert row.cost_gbp == pytest.approx(312.0)  # 1.56 x 200
    assert row.amount == "12 lots"
    assert row.when == "first on 28 October, last on 31 March"
    assert row.merchant == order.YOUR_PRICE


def test_a_few_small_lots_are_one_row_too():
    oats = supply("rolled-barley")
    (row,) = order.rows_of(plan(*(delivery(oats, p, 0.13) for p in periods(2))))
    assert row.tonnes == pytest.approx(0.26)
    assert winter_words.dates([row]) == ["Rolled barley: 28 October 0.13 t, 11 November 0.13 t."]


def test_monthly_deliveries_say_so_and_are_summed_by_month():
    cubes = supply("hogg-cubes")
    four_weeks = periods(6, 28)
    (row,) = order.rows_of(plan(*(delivery(cubes, p, 2.0) for p in four_weeks[:5])))
    assert row.when == "monthly, 28 October to 17 February"
    assert winter_words.dates([row]) == [
        "Hogg cubes, monthly: October 2.00 t, November 2.00 t, December 2.00 t, January 2.00 t, "
        "February 2.00 t."
    ]


def test_bags_and_pallets_are_whole_numbers():
    bags = supply("hogg-cubes", pack="bag", pack_kg=25.0, packs_per_pallet=22)
    (row,) = order.rows_of(plan(delivery(bags, periods(1)[0], 1.1)))
    assert row.amount == "44 bags of 25 kg on 2 pallets"
    tonne = supply("soya", pack="tonne bag", pack_kg=1000.0)
    (row,) = order.rows_of(plan(delivery(tonne, periods(1)[0], 2.0)))
    assert row.amount == "2 tonne bags"


def test_loads_are_those_of_the_same_terms():
    """Two feeds on one lorry share it; hay with another least load comes on its own."""
    at = periods(1)[0]
    barley = supply("rolled-barley", least_drop_t=3.0, drop_charge_gbp=40.0)
    cubes = supply("hogg-cubes", least_drop_t=3.0, drop_charge_gbp=40.0)
    hay = supply("big-square-hay", least_drop_t=8.0)
    found = plan(
        delivery(barley, at, 2.0), delivery(cubes, at, 1.5), delivery(hay, at, 16.0),
        drops=(Drop("Heron", "bulk", at, 1, 3.5, 40.0), Drop("Heron", "bulk", at, 2, 16.0, 0.0)),
    )  # fmt: skip
    amounts = {r.supply.offer_id: r.amount for r in order.rows_of(found)}
    assert amounts == {
        "rolled-barley": "part of 1 load",
        "hogg-cubes": "part of 1 load",
        "big-square-hay": "2 loads",
    }


def test_money_of_the_sheet_adds_up_to_the_bill():
    hay, cubes = supply("big-square-hay", price=146.0), supply("hogg-cubes", "Plover", 291.0)
    at = periods(12)
    found = plan(
        *(delivery(cubes, p, 0.7) for p in at), delivery(hay, at[0], 8.0),
        drops=(Drop("Plover", "bulk", at[0], 1, 0.7, 40.0),),
    )  # fmt: skip
    bill = found.bill
    assert bill is not None
    assert math.fsum(r.cost_gbp for r in order.rows_of(found)) == pytest.approx(bill.feed_gbp)
    # 12 x 0.7 x 291 + 8 x 146 = 2,444.40 + 1,168.00; with the drop 3,652.40; / 184 = 19.85
    assert winter_words.order_total(found) == (
        "To order: £3,612.40 of feed and £40.00 for drops, £3,652.40 in all, £19.85 a head, ex VAT."
    )


def test_sheet_prints_when_to_walk_away_and_the_last_day_of_a_quote():
    soya = supply("soya", "Plover", valid_until=date(2026, 12, 31))
    hay = supply("big-square-hay")
    found = plan(
        delivery(soya, periods(1)[0], 2.0), delivery(hay, periods(1)[0], 8.0),
        walk_away_gbp_per_t=MappingProxyType({soya.id: 512.375, hay.id: math.inf}),
    )  # fmt: skip
    told = printed(winter_report.print_order_sheet, found, order.rows_of(found), START)
    assert "walk away" in told and "above £/t" in told
    assert "512.38" in told
    assert "any price" in told
    assert "Order soya from Plover by 31 December 2026: the quote holds until then." in told
    late = winter_words.when_to_ring(order.rows_of(found), date(2027, 1, 14))
    assert late == [
        "Soya from Plover was booked before its quote ran out on 31 December 2026: agree any other "
        "amount with them."
    ]


def test_quotes_of_one_merchant_that_end_together_are_rung_once():
    last = date(2026, 12, 31)
    hay, straw = supply("big-square-hay", valid_until=last), supply("straw", valid_until=last)
    found = plan(delivery(hay, periods(1)[0], 8.0), delivery(straw, periods(2)[1], 4.0))
    assert winter_words.when_to_ring(order.rows_of(found), START) == [
        "Order big square hay and straw from Heron by 31 December 2026: the quotes hold until then."
    ]


def test_nothing_to_buy_is_said():
    assert printed(winter_report.print_order_sheet, plan(), (), START).endswith(
        "nothing is to be bought."
    )


# ---------------------------------------------------------------- now or later


def test_later_is_weighed_against_interest_and_loss():
    """91 days at 6 % on 288/t is 4.31; 0.33 % a month for 2.99 months is 2.84: 7.15 together."""
    day = Period(0, START + timedelta(days=91), START + timedelta(days=105))
    cubes = supply("hogg-cubes", price=288.0)
    (told,) = order.now_or_later(plan(delivery(cubes, day, 4.0)))
    months = 91 / (365 / 12)
    assert told.months == pytest.approx(months)
    assert told.hold_gbp_per_t == pytest.approx(288 * 0.06 * months / 12 + 288 * 0.0033 * months)
    assert round(told.hold_gbp_per_t, 2) == 7.15
    assert not told.is_now
    assert "now pays only on a rise of more than that" in told.words
    dear = supply("hogg-cubes", price=288.0, rise_gbp_per_t_month=6.0,
                  rise_from=date(2026, 12, 1))  # fmt: skip
    (told,) = order.now_or_later(plan(delivery(dear, day, 4.0)))
    assert told.rise_gbp_per_t == 12.0  # December and January
    assert "take more of it now" in told.words


def test_what_comes_at_once_lies_half_the_time_it_is_fed():
    soya = supply("soya", price=400.0)
    at = periods(12)
    lines = tuple(StockLine("soya", p, 2 - 0.2 * i, 0.0, 0.2, 0.0, 1.8 - 0.2 * i)
                  for i, p in enumerate(at[:10]))  # fmt: skip
    (told,) = order.now_or_later(plan(delivery(soya, at[0], 2.0), stocks=lines))
    assert told.is_now
    assert told.months == pytest.approx(140 / 2 / (365 / 12))  # fed over 140 days
    assert told.words.startswith("Soya, Heron: now.")


# ---------------------------------------------------------------- proof and bill


def test_proof_never_says_more_than_is_proved():
    found = plan(bill=Bill(5000.0, 0.0, 0.0, 0.0, 0.0), bound_gbp=4980.0)
    assert winter_words.proof(found) == (
        "No plan of this winter can cost less than £4,980.00: proved gap 0.4 %, £20.00 at most."
    )
    # 19 of 5,000 is 0.38 %: rounded up, never down
    assert "0.4 %" in winter_words.proof(replace(found, bound_gbp=4981.0))
    stopped = winter_words.proof(replace(found, is_cut_short=True))
    assert stopped.startswith("Stopped early: this is the best plan found, £5,000.00.")
    assert "gap 0.4 %" in stopped
    unproved = winter_words.proof(replace(found, bound_gbp=-math.inf, is_cut_short=True))
    assert "nothing is proved" in unproved
    for words in (stopped, unproved):
        assert "optimal" not in words


def test_bill_names_every_part_and_adds_up():
    found = plan(bill=Bill(4000.0, 100.0, 300.0, 50.0, 150.0))
    # 4,000 + 100 + 300 + 50 - 150 = 4,300.00; / 184 = 23.37; / 156 days = 15.0p
    assert winter_words.bill(found) == [
        "The winter costs £4,300.00: £23.37 a head, 15.0p a head a day.",
        "It is £4,000.00 for feed and £100.00 for drops to merchants, £300.00 of home feed at what "
        "it would fetch and £50.00 interest at 6 % a year to turnout.",
        "£150.00 is taken off for bought feed left at turnout, at 50 % of its price.",
    ]


def test_one_more_of_each_scarce_thing():
    told = winter_words.more(
        [More("bin", "tonne", 0.001), More("Bottom Ings", "tonne", 186.99, 110.0),
         More("trough", "metre", 41.6, note="about"), More("Old stack", "tonne", 60.0, 60.0)]
    )  # fmt: skip
    assert told == [
        "One more tonne of Bottom Ings would save £186.99, £76.99 more than it would fetch.",
        "One more metre of trough would save about £41.60.",
        "One more tonne of Old stack is worth what it would fetch, £60.00.",
        "One more tonne of bin would save nothing.",
    ]


def test_the_same_question_of_many_feeds_is_asked_once():
    notes = ("Knot, cubes: copper unknown: ask for the label.",
             "Ruff, cubes: copper unknown: ask for the label.")  # fmt: skip
    sheet = QuoteSheet("q.csv", (), ("q.csv rows 2, 3: VAT is not said",), (), ("row 9: odd",))
    assert winter_words.to_ask(Tied((), (), notes), [sheet]) == [
        "Knot, cubes; Ruff, cubes: copper unknown: ask for the label.",
        "q.csv rows 2, 3: VAT is not said",
        "q.csv: not read: row 9: odd",
    ]


def test_refused_quotes_say_what_would_make_them_usable():
    told = winter_words.refused(READY.supplies)
    assert len(told) == 3
    for words in ("ask for a sheep feed", "ask if it still holds", "ask for a smaller lorry"):
        assert sum(words in line for line in told) == 1


# ---------------------------------------------------------------- the stack


def test_stack_before_a_plan_with_what_is_taken_to_be_eaten():
    """184 x 156 x 0.80 / 0.88 = 26.09 t put out; / 0.97 = 26.90 t out of the stack."""
    found = stacked.estimated(READY.farm)
    assert found.put_out_t == pytest.approx(184 * 156 * 0.80 / 0.88 / 1000)
    assert found.wanted_t == pytest.approx(found.put_out_t / 0.97)
    assert found.line.startswith("Hay for the hoggs, once the ewes have their 21.0 t, lasts to ")
    # 26.90 less 3.346 is 23.6 short; 25 days more are 26.90 / 156 x 25 = 4.31
    assert found.run_out.short_t == pytest.approx(found.wanted_t - 3.346)
    assert found.more_t["hoggs"] == pytest.approx(found.wanted_t / 156 * 25)
    assert "short 27.9 t in a long winter" in found.line
    told = printed(winter_report.print_stack, found)
    assert "184 hoggs are taken to eat 0.80 kg of hay a day" in told
    assert "26.09 t is put out" in told
    assert "12 weighed: ± 0.77 t" in told
    assert "takes 4.04 t more for the ewes and 4.31 t more for the hoggs" in told


def test_less_hay_a_day_lasts_longer():
    more, less = stacked.estimated(READY.farm, 0.9), stacked.estimated(READY.farm, 0.5)
    assert more.run_out.date is not None and less.run_out.date is not None
    assert more.run_out.date < less.run_out.date
    with pytest.raises(InputError, match="over 0"):
        stacked.estimated(READY.farm, 0.0)


def test_stack_without_claims_or_without_hay():
    free = tuple(
        replace(o, first_claim_t_fresh=0.0, claims=()) if o.is_home else o
        for o in READY.farm.offers
    )
    found = stacked.estimated(replace(READY.farm, offers=free))
    assert found.line.startswith("Hay for the hoggs lasts to ")
    assert found.left.t == pytest.approx(found.whole.t)
    bare = replace(READY.farm, offers=tuple(o for o in free if not o.is_home))
    assert stacked.estimated(bare).line.startswith("There is no hay or silage in store")


def test_stack_by_a_plan_counts_the_bought_hay():
    hay = supply("big-square-hay")
    at = periods(11)
    lines = tuple(StockLine("big-square-hay", p, 8.0 - 0.8 * i, 0.0, 0.8, 0.0, 7.2 - 0.8 * i)
                  for i, p in enumerate(at[:10]))  # fmt: skip
    found = stacked.planned(plan(delivery(hay, at[0], 8.0), stocks=lines, count=11))
    assert found.is_planned
    assert found.bought_t == 8.0
    assert found.wanted_t == pytest.approx(8.0)
    assert found.left.t == pytest.approx(8.0 + 3.346)
    assert "8.0 t of it bought" in found.line
    assert "with 3.3 t over" in found.line


# ---------------------------------------------------------------- cautions


def test_cautions_stand_last_with_the_standing_line():
    told = printed(winter_report.print_cautions, ())
    assert told == STANDING
