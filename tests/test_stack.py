"""The hay stack: bands of weighed bales, run-out dates, long winters and the lines that tell them.

Student's t is held against scipy.stats (an independent program) and against the table printed in
every textbook (from memory). Weights, dates and tonnes are arithmetic by hand; the case of 640
bales and 184 lambs is an invented farm.
"""

from __future__ import annotations

import itertools
import math
import random
import statistics
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from ration import farm, stack
from ration.errors import InputError
from ration.farm import Lot, OtherStock
from ration.stack import LongWinter, RunOut, Tonnes, Use

LONG_MEADOW = Lot(640, "bales", 18.4, 1.9, 12)
BOTTOM_INGS = Lot(46, "rounds", guess_kg=(215.0, 265.0))
OLD_STACK = Lot(90, "bales", 17.0)
START, END = date(2026, 10, 28), date(2027, 4, 2)


# ---------------------------------------------------------------- Student's t


@pytest.mark.parametrize("df", [*range(1, 201), 500, 999, 1000, 1001, 10_000])
def test_students_t_agrees_with_another_program(df: int) -> None:
    assert stack.t_975(df) == pytest.approx(stats.t.ppf(0.975, df), rel=1e-8)


@pytest.mark.parametrize(("df", "t"), [(1, 12.706), (2, 4.303), (11, 2.201), (30, 2.042)])
def test_students_t_agrees_with_the_printed_table(df: int, t: float) -> None:
    assert round(stack.t_975(df), 3) == t  # Fisher and Yates, Statistical Tables; from memory


def test_students_t_falls_with_every_bale_more() -> None:
    ts = [stack.t_975(df) for df in range(1, 1100)]
    assert all(a > b for a, b in itertools.pairwise(ts))
    assert ts[-1] > stack.Z_975 - 1e-3
    with pytest.raises(InputError, match="at least 1"):
        stack.t_975(0)


# ---------------------------------------------------------------- bands


def test_twelve_bales_weighed() -> None:
    found = stack.band(LONG_MEADOW)
    assert found.t == pytest.approx(11.776)
    se_t = 640 * 1.9 / math.sqrt(12) / 1000
    assert found.high_t - found.t == pytest.approx(stats.t.ppf(0.975, 11) * se_t)
    assert found.t - found.low_t == pytest.approx(found.high_t - found.t)
    assert found.normal_half_t == pytest.approx(1.96 * se_t)
    assert (round(found.high_t - found.t, 2), round(found.normal_half_t or 0, 2)) == (0.77, 0.69)
    assert found.words == (
        "12 weighed: ± 0.77 t, Student's t on 11 df (± 0.69 t by 1.96 standard errors)"
    )


def test_the_band_holds_the_truth_19_times_in_20() -> None:
    """Bands of 4,000 samples drawn from a known stack: 95 % +/- 1 hold its weight."""
    rng = random.Random(3)
    held = 0
    for _ in range(4000):
        kgs = [rng.gauss(18.4, 1.0) for _ in range(12)]
        lot = Lot(640, "bales", statistics.fmean(kgs), statistics.stdev(kgs), 12)
        found = stack.band(lot)
        held += found.low_t <= 640 * 18.4 / 1000 <= found.high_t
    assert held / 4000 == pytest.approx(0.95, abs=0.01)


def test_guessed_and_unweighed_bales() -> None:
    rounds = stack.band(BOTTOM_INGS)
    assert (rounds.low_t, rounds.t, rounds.high_t) == pytest.approx((9.89, 11.04, 12.19))
    old = stack.band(OLD_STACK)
    assert (old.low_t, old.t, old.high_t) == pytest.approx((1.53 * 0.85, 1.53, 1.53 * 1.15))
    assert "not weighed" in rounds.words
    assert "not weighed" in old.words
    with pytest.raises(InputError, match="unsaid weight"):
        stack.band(Lot(90))


def test_a_few_weighed_say_no_less_than_none() -> None:
    few = stack.band(Lot(90, "bales", 17.0, 3.0, 2))
    none = stack.band(OLD_STACK)
    assert (few.low_t, few.high_t) == pytest.approx((none.low_t, none.high_t))
    assert "too few for so uneven bales" in few.words


WEIGHED = st.builds(
    lambda bales, mean, spread, n: Lot(bales, "bales", mean, spread * mean, n),
    st.integers(0, 5000),
    st.floats(5, 900),
    st.floats(0, 0.5),
    st.integers(2, 300),
)


def width(found: Tonnes) -> float:
    return found.high_t - found.low_t


@given(WEIGHED, st.integers(2, 300))
def test_less_weighing_never_narrows_the_band(lot: Lot, fewer: int) -> None:
    found = stack.band(lot)
    known = replace(lot, weighed=min(fewer, lot.weighed))
    unknown = (
        replace(lot, sd_kg=None),
        replace(lot, sd_kg=None, weighed=0),
        replace(lot, weighed=1),
    )
    for less in (known, *unknown):
        assert width(stack.band(less)) >= width(found) * (1 - 1e-12)
        assert stack.band(less).low_t <= found.low_t + 1e-9
        assert stack.band(less).high_t >= found.high_t - 1e-9


@given(
    WEIGHED
    | st.builds(
        lambda a, b: Lot(46, guess_kg=(min(a, b), max(a, b))), st.floats(1, 900), st.floats(1, 900)
    )
)
def test_a_band_is_ordered_finite_and_never_below_nothing(lot: Lot) -> None:
    found = stack.band(lot)
    assert 0 <= found.low_t <= found.t <= found.high_t < math.inf


@given(st.lists(WEIGHED, min_size=1, max_size=5), st.data())
def test_lots_together(lots: list[Lot], data: st.DataObject) -> None:
    parts = [stack.band(lot) for lot in lots]
    whole = stack.together(parts)
    assert whole.t == pytest.approx(sum(p.t for p in parts))
    assert whole.low_t >= sum(p.low_t for p in parts) - 1e-9
    assert whole.high_t <= sum(p.high_t for p in parts) + 1e-9
    assert width(whole) >= max(width(p) for p in parts) - 1e-9
    i = data.draw(st.integers(0, len(lots) - 1))
    parts[i] = stack.band(replace(lots[i], sd_kg=None, weighed=0))
    assert width(stack.together(parts)) >= width(whole) - 1e-9


def test_two_lots_add_as_squares() -> None:
    whole = stack.together([Tonnes(10, 7, 13), Tonnes(10, 6, 14)])
    assert (whole.low_t, whole.t, whole.high_t) == pytest.approx((15, 20, 25))  # 3, 4, 5


def test_what_is_in_hand_of_each_offer() -> None:
    found = farm.read_text(
        """\
winter: {from: 28 October 2026, to: 2 April 2027}
batches:
  hoggs: {head: 50, weight: 30 kg, gain: 20 g/day}
feeds:
  hay-average: {would fetch: 100 /t, stock: 640 bales of 18.4 kg}
  hay-poor: {would fetch: 60 /t, stock: 10 t}
  beet-pulp-plain: {price: 274 /t, stock: 6 t}
  barley: {price: 200 /t}
"""
    )
    hay, poor, beet, barley = (stack.in_hand(o) for o in found.offers)
    assert hay is not None
    assert poor is not None
    assert hay == stack.band(Lot(640, "bales", 18.4))
    assert (poor.low_t, poor.high_t) == pytest.approx((8.5, 11.5))
    assert beet == Tonnes(6, 6, 6, "bought by weight")
    assert barley is None
    assert hay.less(0.03).low_t == pytest.approx(hay.low_t * 0.97)


# ---------------------------------------------------------------- a winter's hay


def test_a_winters_hay_and_a_longer_one() -> None:
    base = stack.winter_tonnes(184, 156, 0.80, 0.12)
    long = stack.winter_tonnes(184, 181, 0.80, 0.12)
    assert (round(base, 2), round(long, 2), round(long - base, 2)) == (26.09, 30.28, 4.18)
    with pytest.raises(InputError, match="0 to under 1"):
        stack.winter_tonnes(184, 156, 0.80, 1.0)


def test_25_more_days_at_the_last_rate_add_the_same() -> None:
    a_day = 184 * 0.80 / 0.88 / 1000
    uses = [Use("hoggs", START, END, a_day)]
    found = stack.long_winter(Tonnes(27, 26, 28), uses, START, END, 25)
    assert found.more_t == pytest.approx(4.18, abs=0.005)
    assert found.run_out.short_t == pytest.approx(30.28 - 27, abs=0.005)


def test_only_those_still_eating_are_fed_longer_and_at_their_last_rate() -> None:
    uses = [
        Use("hoggs", START, date(2027, 3, 1), 0.10),
        Use("hoggs", date(2027, 3, 1), END, 0.20),
        Use("ewes", START, date(2027, 4, 10), 0.30),
        Use("cattle", START, date(2027, 1, 1), 0.50),
    ]
    more = stack.longer(uses, END, 10)[4:]
    assert more == (
        Use("hoggs", END, date(2027, 4, 12), 0.20),
        Use("ewes", date(2027, 4, 10), date(2027, 4, 20), 0.30),
    )
    assert stack.longer(uses, END, 0) == tuple(uses)
    with pytest.raises(InputError, match="0 or more"):
        stack.longer(uses, END, -1)


# ---------------------------------------------------------------- run-out


def test_a_tonne_a_day_runs_out_on_the_day_it_is_used_up() -> None:
    day = date(2027, 1, 1)
    uses = [Use("sheep", day, date(2027, 2, 1), 1.0)]

    def dates(low: float, t: float, high: float) -> list[date | None]:
        found = stack.run_out(Tonnes(t, low, high), uses, day)
        return [found.early, found.date, found.late]

    assert dates(9, 10, 10.5) == [date(2027, 1, 9), date(2027, 1, 10), date(2027, 1, 11)]
    assert dates(0, 0, 1) == [day, day, day]
    assert dates(30, 31, 32) == [date(2027, 1, 30), None, None]
    found = stack.run_out(Tonnes(29, 25, 33), uses, day)
    assert (found.left_t_at_end, found.short_t) == (0.0, 2.0)
    assert (found.over_low_t, found.over_high_t, found.wanted_t) == (-6.0, 2.0, 31.0)


def test_uses_come_and_go() -> None:
    """Ewes join on 1 January: 61 days of 0.1 t, then 0.4 t a day: 10 t go on 10 January."""
    uses = [
        Use("hoggs", date(2026, 11, 1), date(2027, 4, 1), 0.1),
        Use("ewes", date(2027, 1, 1), date(2027, 4, 1), 0.3),
    ]
    found = stack.run_out(Tonnes(10, 10, 10), uses, date(2026, 11, 1))
    assert found.date == date(2027, 1, 10)  # 6.1 + 10 x 0.4 = 10.1
    # what was eaten before the count is gone already
    later = stack.run_out(Tonnes(10, 10, 10), uses, date(2027, 1, 1))
    assert later.date == date(2027, 1, 25)  # 25 x 0.4 = 10


def test_nobody_eats() -> None:
    found = stack.run_out(Tonnes(10, 9, 11), [], START)
    assert (found.date, found.early, found.late, found.left_t_at_end) == (None, None, None, 10)


def test_a_plans_periods_and_a_claim_become_uses() -> None:
    spans = [(START, date(2026, 11, 11), 1.4), (date(2026, 11, 11), date(2026, 11, 25), 0.0)]
    assert stack.uses_over("hoggs", spans) == (Use("hoggs", START, date(2026, 11, 11), 1.4 / 14),)
    ewes = OtherStock("ewes", 610, date(2026, 10, 1), date(2027, 4, 10))
    found = stack.claim_uses([("ewes", 16.5), ("other stock", 15.6)], [ewes], START, END)
    # 28 October to 10 April are 164 days, to 2 April 156
    assert found == (
        Use("ewes", START, date(2027, 4, 10), 16.5 / 164),
        Use("other stock", START, END, pytest.approx(0.1)),
    )
    for use, tonnes in zip(found, (16.5, 15.6), strict=True):
        assert use.eaten_t(date(2028, 1, 1)) == pytest.approx(tonnes)


DAYS = st.integers(0, 150)
USES = st.lists(
    st.builds(
        lambda name, start, days, rate: Use(
            name, START + timedelta(start), START + timedelta(start + days), rate
        ),
        st.sampled_from(["hoggs", "ewes", "cattle"]),
        DAYS,
        DAYS,
        st.floats(0, 2),
    ),
    max_size=6,
)
STOCKS = st.builds(
    lambda t, under, over: Tonnes(t, t * (1 - under), t * (1 + over)),
    st.floats(0, 200),
    st.floats(0, 0.5),
    st.floats(0, 0.5),
)


def rank(day: date | None) -> date:
    return day or date.max


@given(STOCKS, USES)
def test_early_is_first_and_late_is_last(stock: Tonnes, uses: list[Use]) -> None:
    found = stack.run_out(stock, uses, START)
    assert rank(found.early) <= rank(found.date) <= rank(found.late)
    assert (found.date is None) == (found.short_t <= stack.ONE_GRAM_T)
    assert min(found.short_t, found.left_t_at_end) == 0
    assert found.left_t_at_end - found.short_t == pytest.approx(stock.t - found.wanted_t)
    if found.date is not None:  # used up on that day: not before it, and surely by its end
        before = sum(u.eaten_t(found.date) for u in uses)
        after = sum(u.eaten_t(found.date + timedelta(1)) for u in uses)
        assert before <= stock.t + 1e-9
        assert after >= stock.t - 2 * stack.ONE_GRAM_T


@given(STOCKS, USES, USES, st.floats(0, 1))
def test_more_mouths_or_lighter_bales_never_last_longer(
    stock: Tonnes, uses: list[Use], more: list[Use], lighter: float
) -> None:
    base = stack.run_out(stock, uses, START)
    for worse in (
        stack.run_out(stock, [*uses, *more], START),
        stack.run_out(stock.each(lambda t: t * lighter), uses, START),
    ):
        assert rank(worse.date) <= rank(base.date)
        assert rank(worse.early) <= rank(base.early)
        assert rank(worse.late) <= rank(base.late)
        assert worse.short_t >= base.short_t - 1e-9


@given(WEIGHED, USES)
def test_not_knowing_the_weight_only_spreads_the_dates(lot: Lot, uses: list[Use]) -> None:
    base = stack.run_out(stack.band(lot), uses, START)
    unknown = stack.run_out(stack.band(replace(lot, sd_kg=None, weighed=0)), uses, START)
    assert unknown.date == base.date
    assert rank(unknown.early) <= rank(base.early)
    assert rank(unknown.late) >= rank(base.late)


@given(STOCKS, USES, st.integers(0, 120), st.integers(0, 60))
def test_a_longer_winter_never_leaves_more(
    stock: Tonnes, uses: list[Use], days: int, more: int
) -> None:
    one = stack.long_winter(stock, uses, START, END, days)
    two = stack.long_winter(stock, uses, START, END, days + more)
    assert one.more_t >= -1e-9
    assert two.more_t >= one.more_t - 1e-9
    assert two.run_out.short_t >= one.run_out.short_t - 1e-9


def test_each_class_has_its_own_date() -> None:
    """16 t: the ewes' 10 t are safe even of light bales; the hoggs have 6 t of the 8 wanted."""
    stock = Tonnes(16, 14, 18)
    uses = [
        *stack.uses_over("ewes", [(START, START + timedelta(100), 10.0)]),
        *stack.uses_over("hoggs", [(START, START + timedelta(100), 8.0)]),
    ]
    found = stack.run_out_by_class(stock, [("ewes", 10.0)], uses, START)
    assert found["ewes"].date is found["ewes"].early is None
    hoggs = found["hoggs"]
    assert hoggs.short_t == pytest.approx(2)
    assert hoggs.early == START + timedelta(49)  # 4 t at 0.08 a day: the 50th day
    assert hoggs.date == START + timedelta(74)
    assert hoggs.late is None
    light = stack.run_out_by_class(Tonnes(11, 9, 13), [("ewes", 10.0)], uses, START)
    assert light["ewes"].early == START + timedelta(89)
    assert light["hoggs"].early == START


@given(STOCKS, USES, st.floats(0, 50))
def test_a_bigger_claim_never_feeds_the_rest_longer(
    stock: Tonnes, uses: list[Use], more: float
) -> None:
    small = stack.run_out_by_class(stock, [("ewes", 5.0)], uses, START)
    large = stack.run_out_by_class(stock, [("ewes", 5.0 + more)], uses, START)
    for name in set(small) - {"ewes"}:
        assert rank(large[name].date) <= rank(small[name].date)
    assert rank(large["ewes"].date) >= rank(small["ewes"].date)


# ---------------------------------------------------------------- words

LAST = RunOut(date(2027, 3, 9), date(2027, 2, 24), date(2027, 3, 20), 0, 2.1, -4, -0.5, 20)
ENOUGH = RunOut(None, None, None, 3.1, 0, 1.2, 4.8, 20)
BARELY = RunOut(None, date(2027, 3, 20), None, 0.4, 0, -1.0, 1.8, 20)


def after(short_t: float, left_t: float) -> LongWinter:
    day = date(2027, 4, 9) if short_t else None
    return LongWinter(25, 4.18, RunOut(day, day, None, left_t, short_t, 0, 0, 24))


@pytest.mark.parametrize(
    ("found", "long", "line"),
    [
        (
            LAST,
            after(4.18, 0),
            "hay lasts to 9 March (early 24 Feb, late 20 Mar); short 4.2 t in a long winter",
        ),
        (LAST, None, "hay lasts to 9 March (early 24 Feb, late 20 Mar)"),
        (
            replace(LAST, late=None),
            None,
            "hay lasts to 9 March (early 24 Feb, at best the whole winter)",
        ),
        (replace(LAST, early=LAST.date, late=LAST.date), None, "hay lasts to 9 March"),
        (
            ENOUGH,
            after(1.1, 0),
            "hay lasts the winter with 3.1 t over (1.2 to 4.8); 1.1 t short in a long winter",
        ),
        (
            ENOUGH,
            after(0, 0.7),
            "hay lasts the winter with 3.1 t over (1.2 to 4.8); 0.7 t over in a long winter",
        ),
        (
            ENOUGH,
            after(0.01, 0),
            "hay lasts the winter with 3.1 t over (1.2 to 4.8); just enough in a long winter",
        ),
        (
            BARELY,
            None,
            "hay lasts the winter with 0.4 t over (1.0 short to 1.8 over; at worst to 20 March)",
        ),
        (RunOut(None, None, None, 0, 0, 0, 0, 20), None, "hay just lasts the winter"),
    ],
)
def test_the_line_on_top(found: RunOut, long: LongWinter | None, line: str) -> None:
    assert stack.in_one_line("hay", found, long) == line


def test_a_line_for_each_lot() -> None:
    assert stack.lot_line("Long Meadow", stack.band(LONG_MEADOW), LAST) == (
        "Long Meadow: 11.8 t (11.0 to 12.5), lasts to 9 March (early 24 Feb, late 20 Mar); short 2.1 t"
    )
    assert stack.lot_line("beet", Tonnes(6, 6, 6), ENOUGH) == (
        "beet: 6.0 t, lasts the winter with 3.1 t over (1.2 to 4.8)"
    )


@given(STOCKS, USES, st.integers(0, 60))
def test_every_case_has_one_plain_line(stock: Tonnes, uses: list[Use], days: int) -> None:
    found = stack.run_out(stock, uses, START)
    long = stack.long_winter(stock, uses, START, END, days)
    for line in (stack.in_one_line("hay", found, long), stack.lot_line("hay", stock, found)):
        assert "\n" not in line
        assert len(line) < 160
        assert "None" not in line
        assert "the end" not in line
        assert "-" not in line


def test_august_stack_of_the_invented_farm() -> None:
    """24.3 t against 21 t claimed by the ewes and 26.1 t for the lambs: hay must be bought.

    By hand: 47.1 t wanted in 156 days; 24.346 t last 80.6 days, so to the 81st, 16 January.
    """
    lots = [stack.band(lot) for lot in (LONG_MEADOW, BOTTOM_INGS, OLD_STACK)]
    whole = stack.together(lots)
    assert whole.t == pytest.approx(11.776 + 11.04 + 1.53)
    uses = [
        *stack.uses_over("ewes", [(START, END, 21.0)]),
        *stack.uses_over("lambs", [(START, END, stack.winter_tonnes(184, 156, 0.80, 0.12))]),
    ]
    found = stack.run_out(whole, uses, START)
    assert found.date == date(2027, 1, 16)
    assert found.short_t == pytest.approx(22.75, abs=0.01)
    half = math.hypot(0.7726, 1.15, 0.2295)
    assert whole.high_t - whole.t == pytest.approx(half, abs=0.001)
    assert found.early == date(2027, 1, 11)  # 22.942 t last 75.99 days
    long = stack.long_winter(whole, uses, START, END, 25)
    assert long.more_t == pytest.approx(4.18 + 21 * 25 / 156, abs=0.01)
