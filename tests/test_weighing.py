"""Weighings against the line, and the farm for the rest of the winter.

The standard error of a mean, the 95 % point 1.96 and Student's t are held against `scipy.stats`,
a general reference library. Gut fill is 1.7 to 2.4 kg in 8 h off feed by Semakula et al. (2021),
Agriculture 11, 150 (its opening read only); that it is lost evenly is judgement. The flock is
invented; its expected figures are arithmetic by hand, shown beside them. How many to weigh and
how far apart: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from ration import animals, weighing
from ration.errors import InputError, OutOfRange, UnknownName
from ration.farm import Farm, Lot, Offer, OtherStock, Store, Winter
from ration.feeds import Feed, Figure
from ration.quotes.records import Quote, Supply, Tier
from ration.student import t_975
from ration.weighing import Weighing
from ration.weighing.rest import target_kg
from ration.winter.records import Bill, Delivery, Fed, Period, Plan, StockLine

START, END, WEIGHED = date(2026, 10, 28), date(2027, 4, 2), date(2027, 1, 14)
SLIP = date(2027, 4, 27)
HEADS = {"strong": 92, "middle": 58, "small": 34}
FIRST_KG = {"strong": 37.2, "middle": 34.6, "small": 32.4}


# ---------------------------------------------------------------- an invented farm and its plan


def feed(feed_id: str, group: str) -> Feed:
    figures = {"dm_g_per_kg_fresh": 850.0, "me_mj_per_kg_dm": 8.7, "cp_g_per_kg_dm": 86.0}
    marked = {k: Figure(v, "lab") for k, v in figures.items()}
    return Feed(feed_id, feed_id, group, MappingProxyType(marked))


def flock(**said: Any) -> tuple[animals.Batch, ...]:
    """Three batches to 42 kg in 156 days, fed for their mid-winter weight."""
    return tuple(
        animals.batch(
            name,
            head=head,
            weight_kg=(FIRST_KG[name] + 42) / 2,
            gain_g_per_day=(42 - FIRST_KG[name]) * 1000 / 156,
            start_weight_kg=FIRST_KG[name],
            end_weight_kg=42.0,
            **said,
        )
        for name, head in HEADS.items()
    )


HAY = Offer(
    "long-meadow", "Long Meadow", feed("hay-average", "hay"), True, 110.0,
    waste_share=0.12, storage_loss_share=0.03, stock_t_fresh=12.0, first_claim_t_fresh=4.0,
    claims=(("ewes", 3.0), ("cattle", 1.0)), lot=Lot(640, "bales", 18.4, 1.9, 12),
)  # fmt: skip
CUBES = Offer(
    "cubes", "16 % hogg cubes", feed("cubes-16", "compound"), False, 291.0, waste_share=0.01
)
BEET = Offer(
    "beet", "beet nuts", feed("beet-pulp-plain", "byproduct"), False, 274.0, stock_t_fresh=6.0
)
WINTER = Winter(
    stores=(Store("bin", 4.0, ("cubes", "beet")),),
    other_stock=(
        OtherStock("ewes", 610, date(2026, 12, 5), date(2027, 2, 23)),  # 80 days, half at day 78
        OtherStock("cattle", 9, START, date(2026, 12, 1)),  # gone
    ),
    start_kg=MappingProxyType(FIRST_KG),
)


def farm(offers: Sequence[Offer] = (HAY, CUBES, BEET), winter: Winter = WINTER) -> Farm:
    return Farm(Path("x.yaml"), "Quernhope", START, END, 156, flock(), tuple(offers), winter=winter)


def periods(days: int = 12) -> tuple[Period, ...]:
    """Thirteen periods of 12 days: day 78 is the middle of the seventh."""
    return tuple(
        Period(i, START + timedelta(days=days * i), START + timedelta(days=days * (i + 1)))
        for i in range(156 // days)
    )


def supply(offer_id: str, **quote: Any) -> Supply:
    tiers = quote.pop("tiers", (Tier(0.0, 291.0),))
    return Supply(f"curlew-{offer_id}", offer_id, Quote("Curlew", offer_id, tiers, **quote))


def drop(offer_id: str, period: Period, tonnes: float) -> Delivery:
    return Delivery(supply(offer_id), period, tonnes, None, 291.0, tonnes * 291.0)


def stocks(
    offer_id: str, opening_t: float, used_t: float, bought: Mapping[int, float]
) -> list[Any]:
    """Stock lines of a feed of which the same is fed and lost in every period."""
    lines = []
    for p in periods():
        more = bought.get(p.index, 0.0)
        closing = opening_t + more - used_t
        lines.append(StockLine(offer_id, p, opening_t, more, used_t * 0.97, used_t * 0.03, closing))
        opening_t = closing
    return lines


def plan(
    of: Farm, deliveries: Sequence[Delivery] = (), lines: Sequence[StockLine] = (), **said: Any
) -> Plan:
    usual: dict[str, Any] = {
        "farm": of, "periods": periods(), "offers": of.offers, "supplies": (), "fed": (),
        "extra_forage_kg_dm": {}, "deliveries": tuple(deliveries), "drops": (),
        "stocks": tuple(lines), "bill": Bill(1000.0, 0.0, 500.0, 10.0, 0.0), "bound_gbp": 1510.0,
        "is_cut_short": False, "more": (), "walk_away_gbp_per_t": {}, "why_not": "",
        "conflict": None, "seconds": {}, "solver": "by hand",
    }  # fmt: skip
    return Plan(**{**usual, **said})


def followed(of: Farm) -> Plan:
    """Hay 0.5 t a period; cubes 3 t in period 0, 3 t in period 6 and 2 t in period 9."""
    ps = periods()
    bought = {0: 3.0, 6: 3.0, 9: 2.0}
    lines = [*stocks("long-meadow", 8.0, 0.5, {}), *stocks("cubes", 0.0, 0.4, bought)]
    trough: Any = [Fed(b, p, {"cubes": 0.15}, {}, None) for p in ps for b in of.batches]  # type: ignore[arg-type]
    return plan(of, [drop("cubes", ps[i], t) for i, t in bought.items()], lines, fed=tuple(trough))


MEASURED = {"strong": 39.0, "middle": 36.5, "small": 34.0}


def forty(**said: Any) -> Weighing:
    return weighing.weighing(WEIGHED, 40, 37.1, 3.0, **said)


# ---------------------------------------------------------------- one weighing


def test_list_gives_mean_spread_and_number_of_a_reference_library() -> None:
    kgs = [36.2, 39.5, 33.1, 41.0, 37.4, 38.8]
    w = weighing.from_weights(kgs, WEIGHED, hours_off_feed=2, batch="small")
    assert w.mean_kg == pytest.approx(stats.tmean(kgs), rel=1e-12)
    assert w.sd_kg == pytest.approx(stats.tstd(kgs), rel=1e-12)
    assert w.standard_error_kg == pytest.approx(stats.sem(kgs), rel=1e-12)
    assert (w.number, w.hours_off_feed, w.batch) == (6, 2, "small")


@pytest.mark.parametrize(
    ("said", "message"),
    [
        ({"number": 1}, "1 weighed; 2 or more show a spread"),
        ({"mean_kg": 82.0}, "If these are pounds, 82 lb is 37.2 kg"),
        ({"mean_kg": 371.0}, "mean 371 kg; 15 to 55 kg is covered"),
        ({"mean_kg": math.nan}, "mean nan kg"),
        ({"sd_kg": -1.0}, "spread (standard deviation) -1 kg"),
        ({"sd_kg": 14.0}, "not lightest to heaviest"),
        ({"sd_kg": math.nan}, "spread (standard deviation) nan kg"),
        ({"hours_off_feed": 60.0}, "60 hours off feed; 0 to 48 is believable"),
        ({"hours_off_feed": -1.0}, "-1 hours off feed"),
    ],
)
def test_what_cannot_be_believed_is_refused_in_one_line(said: Any, message: str) -> None:
    usual: dict[str, Any] = {"number": 40, "mean_kg": 37.1, "sd_kg": 3.0}
    with pytest.raises(OutOfRange) as caught:
        weighing.weighing(WEIGHED, **{**usual, **said})
    assert message in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_every_bad_weight_of_a_list_is_told() -> None:
    with pytest.raises(OutOfRange) as caught:
        weighing.from_weights([37.2, 372.0, 2.0, math.nan, 38.1], WEIGHED)
    lines = str(caught.value).splitlines()
    assert len(lines) == 3
    assert "weight 2 is 372 kg" in lines[0]
    assert "Did you mean 37.2 kg?" in lines[0]
    assert "weight 3 is 2 kg" in lines[1]
    with pytest.raises(OutOfRange, match="1 weighed; 2 or more show a spread"):
        weighing.from_weights([37.2], WEIGHED)


def test_student_and_normal_points_agree_with_a_reference_library() -> None:
    for df in (1, 2, 3, 4, 5, 11, 12, 29, 39, 200):
        assert t_975(df) == pytest.approx(stats.t.ppf(0.975, df), rel=1e-9)
    from ration.weighing.line import STANDARD_ERRORS

    assert pytest.approx(stats.norm.ppf(0.975), abs=0.005) == STANDARD_ERRORS


# ---------------------------------------------------------------- against the line


def test_day_78_is_behind_by_1_65_give_or_take_0_93() -> None:
    # (92 x 37.2 + 58 x 34.6 + 34 x 32.4)/184 = 35.49; half way to 42.0 is 38.75;
    # 1.96 x 3.0/sqrt(40) = 0.93; 4.9 kg in 78 d = 62.8 g, in 103 d = 47.6 g; by hand
    told = weighing.against_line(forty(), 6530.8 / 184, START, 42.0, END, SLIP)
    assert told.line_kg == pytest.approx(38.75, abs=0.005)
    assert told.behind_kg == pytest.approx(1.65, abs=0.005)
    assert told.half_width_kg == pytest.approx(0.93, abs=0.005)
    assert told.needed_g_per_day == pytest.approx(62.8, abs=0.05)
    assert told.needed_later_g_per_day == pytest.approx(47.6, abs=0.05)
    assert told.gain_g_per_day == pytest.approx(1606.5 / 78, abs=0.1)  # 37.1 - 35.4935 kg
    assert told.gain_half_width_g_per_day == pytest.approx(930 / 78, abs=0.1)


def test_farm_gives_the_same_line_from_its_batches() -> None:
    told = weighing.against_farm(forty(), farm())
    assert told == weighing.against_line(forty(), told.start_kg, START, 42.0, END, SLIP)
    assert told.start_kg == pytest.approx(6530.8 / 184, rel=1e-12)
    small = weighing.against_farm(forty(batch="small"), farm())
    assert small.line_kg == pytest.approx((32.4 + 42) / 2)
    with pytest.raises(UnknownName, match=r'"tail" is not a batch of this farm; batches: strong'):
        weighing.against_farm(forty(batch="tail"), farm())


def test_line_of_a_batch_with_a_gain_runs_from_its_weight_by_its_gain() -> None:
    steady = animals.batch("hoggs", weight_kg=30.0, gain_g_per_day=20.0, head=50)
    of = replace(farm(winter=Winter()), batches=(steady,))
    assert target_kg(of, steady) == pytest.approx(30 + 0.020 * 156)
    told = weighing.against_farm(forty(), of)
    assert told.line_kg == pytest.approx(30 + 0.020 * 78)
    assert told.behind_kg < 0


def test_line_that_ends_before_turnout_is_held() -> None:
    of = replace(farm(), end=SLIP, days=181, winter=replace(WINTER, line_end=END))
    assert weighing.against_farm(forty(), of).line_kg == pytest.approx(38.75, abs=0.005)
    assert weighing.line_kg(35.0, START, 42.0, END, SLIP) == 42.0
    assert weighing.line_kg(35.0, START, 42.0, END, START) == 35.0


@pytest.mark.parametrize("when", [START, END, date(2026, 1, 14), date(2028, 1, 14)])
def test_weighing_outside_the_line_is_refused(when: date) -> None:
    w = weighing.weighing(when, 40, 37.1, 3.0)
    with pytest.raises(OutOfRange, match="the line runs from 28 October 2026 to 2 April 2027"):
        weighing.against_line(w, 35.5, START, 42.0, END)


# ---------------------------------------------------------------- gut fill


@pytest.mark.parametrize(
    ("now", "first", "band"),
    [
        (0.0, 0.0, (0.0, 0.0)),
        (6.0, 6.0, (0.0, 0.0)),
        (8.0, 0.0, (1.7, 2.4)),  # the published range itself
        (16.0, 0.0, (1.7, 2.4)),  # no more after 8 h: judgement
        (4.0, 0.0, (0.85, 1.2)),  # half of it: judgement
        (0.0, 8.0, (-2.4, -1.7)),
        (6.0, 2.0, (0.85, 1.2)),
        (None, None, (-2.4, 2.4)),
        (8.0, None, (0.0, 2.4)),
        (0.0, None, (-2.4, 0.0)),
        (None, 0.0, (0.0, 2.4)),
        (None, 4.0, (-1.2, 1.2)),
    ],
)
def test_gut_fill_allowance(now: float | None, first: float | None, band: Any) -> None:
    assert weighing.gut_fill_kg(now, first) == pytest.approx(band)


def test_gut_fill_is_never_taken_as_known() -> None:
    bare = weighing.against_farm(forty(hours_off_feed=0), farm(), start_hours_off=0)
    empty = weighing.against_farm(forty(hours_off_feed=8), farm(), start_hours_off=0)
    assert empty.behind_kg == bare.behind_kg
    assert empty.half_width_kg == bare.half_width_kg
    assert bare.behind_range_kg == pytest.approx((1.647 - 0.930, 1.647 + 0.930), abs=0.001)
    assert empty.behind_range_kg == pytest.approx(
        (1.647 - 2.4 - 0.930, 1.647 - 1.7 + 0.930), abs=0.001
    )
    assert bare.verdict == "behind"
    assert empty.verdict == "cannot tell"


@given(
    mean=st.floats(20, 50),
    sd=st.floats(0, 5),
    number=st.integers(2, 200),
    now=st.none() | st.floats(0, 24),
    first=st.none() | st.floats(0, 24),
)
def test_not_knowing_hours_never_narrows_what_is_told(
    mean: float, sd: float, number: int, now: float | None, first: float | None
) -> None:
    w = weighing.weighing(WEIGHED, number, mean, sd, hours_off_feed=now)
    told = weighing.against_farm(w, farm(), start_hours_off=first)
    unknown = weighing.against_farm(replace(w, hours_off_feed=None), farm(), start_hours_off=first)
    least, most = told.behind_range_kg
    assert least - 1e-9 <= told.behind_kg - told.gut_fill_kg[1] and least <= most
    assert unknown.behind_range_kg[0] <= least + 1e-9
    assert unknown.behind_range_kg[1] >= most - 1e-9
    assert (told.verdict == "cannot tell") == (least <= 0 <= most)


def test_more_weighed_narrows_by_the_root_of_the_number() -> None:
    one, four = (weighing.weighing(WEIGHED, n, 37.1, 3.0) for n in (40, 160))
    a, b = (weighing.against_farm(w, farm()) for w in (one, four))
    assert a.half_width_kg == pytest.approx(2 * b.half_width_kg, rel=1e-12)


# ---------------------------------------------------------------- words


def test_words_of_the_demo() -> None:
    said = weighing.words(weighing.against_farm(forty(), farm()))
    assert said.startswith(
        "They weigh 37.1 kg against a line of 38.75: 1.65 kg behind, give or take 0.93 "
        "(1.96 standard errors, 40 weighed), before gut fill."
    )
    assert "up to 2.4 kg either way (Semakula et al. (2021), Agriculture 11, 150)" in said
    assert "you cannot tell whether they are behind or ahead of the line" in said
    assert "To reach 42.0 kg they need 62.8 g/day to 2 April 2027, or 47.6 to 27 April 2027" in said


def test_words_where_gut_fill_is_the_same() -> None:
    said = weighing.words(weighing.against_farm(forty(hours_off_feed=3), farm(), start_hours_off=3))
    assert "They were weighed after the same time off feed as at first." in said
    assert "They are behind the line, by 0.7 to 2.6 kg." in said
    assert "cannot tell" not in said


def test_words_of_a_band_over_zero_do_not_take_sides() -> None:
    w = weighing.weighing(WEIGHED, 40, 38.6, 3.0, hours_off_feed=3)
    said = weighing.words(weighing.against_farm(w, farm(), start_hours_off=3))
    assert "you cannot tell whether they are behind or ahead" in said
    ahead = weighing.weighing(WEIGHED, 40, 40.6, 3.0, hours_off_feed=3)
    said = weighing.words(weighing.against_farm(ahead, farm(), start_hours_off=3))
    assert "1.85 kg ahead, give or take 0.93" in said
    assert "They are ahead of the line, by 0.9 to 2.8 kg." in said


@pytest.mark.parametrize(
    ("now", "first", "words"),
    [
        (8.0, 0.0, "emptier than at first and may weigh 1.7 to 2.4 kg too light"),
        (0.0, 8.0, "fuller than at first and may weigh 1.7 to 2.4 kg too heavy"),
        (8.0, None, "emptier than at first and may weigh up to 2.4 kg too light"),
        (None, 4.0, "up to 1.2 kg either way"),
        (2.0, None, "from 1.8 kg too heavy to 0.6 kg too light"),
    ],
)
def test_words_of_gut_fill(now: float | None, first: float | None, words: str) -> None:
    told = weighing.against_farm(forty(hours_off_feed=now), farm(), start_hours_off=first)
    assert words in weighing.words(told)


def test_words_past_the_target() -> None:
    w = weighing.weighing(WEIGHED, 40, 42.5, 3.0)
    said = weighing.words(weighing.against_farm(w, farm()))
    assert "They are at or past the target of 42.0 kg for 2 April 2027 already." in said


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"when": START + timedelta(days=27)}, "Only 27 days since the first weighing"),
        ({"number": 29}, "Only 29 were weighed; by Student's t on 28 degrees of freedom"),
        ({"sd_kg": 4.5}, "draw off the small ones"),
        ({"hours_off_feed": None}, "The hours off feed are not known for one weighing"),
        ({"hours_off_feed": 5.0}, "Weighed 5 hours off feed, and 2 the first time"),
    ],
)
def test_notes_are_raised_just_past_their_line_only(change: Any, words: str) -> None:
    # 28 days, 30 weighed, 12 % spread: common practice, no source
    just = Weighing(START + timedelta(days=28), 30, 37.0, 4.4, 2.0)
    quiet = weighing.against_line(just, 35.5, START, 42.0, END, start_hours_off=2.0)
    assert quiet.notes == ()
    told = weighing.against_line(
        replace(just, **change), 35.5, START, 42.0, END, start_hours_off=2.0
    )
    assert len(told.notes) == 1
    assert words in told.notes[0]
    assert words in weighing.words(told)


def test_frame_has_one_row_with_units() -> None:
    row = weighing.against_farm(forty(), farm()).frame().iloc[0]
    assert row["batch"] == "all"
    assert row["behind_kg"] == pytest.approx(1.65, abs=0.005)
    assert row["verdict"] == "cannot tell"


# ---------------------------------------------------------------- weights of the batches


def test_sample_of_all_puts_each_batch_alike_off_its_line() -> None:
    weights, notes = weighing.batch_weights([forty()], farm())
    off = {n: (FIRST_KG[n] + 42) / 2 - kg for n, kg in weights.items()}
    assert all(kg == pytest.approx(1.647, abs=0.001) for kg in off.values())
    mean = sum(HEADS[n] * kg for n, kg in weights.items()) / 184
    assert mean == pytest.approx(37.1, abs=1e-9)
    assert "each taken to be 1.65 kg behind their own line" in notes[0]


def test_batch_weighed_by_itself_has_its_own_weight() -> None:
    weights, notes = weighing.batch_weights([replace(forty(), batch="small", mean_kg=35.0)], farm())
    assert weights["small"] == 35.0
    assert weights["strong"] == pytest.approx((37.2 + 42) / 2)
    assert notes == ("Not weighed, so taken to be on the line: strong and middle.",)
    every = [replace(forty(), batch=n, mean_kg=36.0) for n in HEADS]
    assert weighing.batch_weights(every, farm()) == ({n: 36.0 for n in HEADS}, ())


def test_weighings_that_do_not_go_together_are_refused() -> None:
    other_day = replace(forty(batch="small"), when=date(2027, 1, 15))
    with pytest.raises(InputError, match="weighings of 2 days"):
        weighing.batch_weights([forty(), other_day], farm())
    with pytest.raises(InputError, match="all was weighed twice"):
        weighing.batch_weights([forty(), forty()], farm())
    with pytest.raises(InputError, match="no weighing"):
        weighing.batch_weights([], farm())
    with pytest.raises(UnknownName, match='"tail" is not a batch'):
        weighing.batch_weights([forty(batch="tail")], farm())


# ---------------------------------------------------------------- the rest of the winter


def rest(of: Farm | None = None, when: date = WEIGHED, **said: Any) -> Farm:
    of = of or farm()
    return weighing.farm_from(of, followed(of), when, said.pop("weights", MEASURED), **said)


def offer_of(of: Farm, offer_id: str) -> Offer:
    return next(o for o in of.offers if o.id == offer_id)


def test_rest_starts_that_day_at_the_measured_weights_to_the_same_targets() -> None:
    new = rest()
    assert (new.start, new.end, new.days) == (WEIGHED, END, 78)
    assert new.winter.start_kg == MEASURED
    for old, batch in zip(farm().batches, new.batches, strict=True):
        kg = MEASURED[batch.name]
        assert batch.gain_g_per_day == pytest.approx((42 - kg) * 1000 / 78)
        assert batch.weight_kg == pytest.approx((kg + 42) / 2)
        assert (batch.start_weight_kg, batch.end_weight_kg) == (kg, 42.0)
        assert (batch.head, batch.sex, batch.breed) == (old.head, old.sex, old.breed)
    assert new.winter.step_up_days == 1


def test_later_end_spreads_the_gain() -> None:
    new = rest(end=SLIP, weights=dict.fromkeys(HEADS, 37.1))
    assert (new.end, new.days, new.winter.line_end) == (SLIP, 103, None)
    assert all(b.gain_g_per_day == pytest.approx(47.6, abs=0.05) for b in new.batches)


def test_held_line_stays_held() -> None:
    of = replace(farm(), end=SLIP, days=181, winter=replace(WINTER, line_end=END))
    long = plan(of, periods=(*periods(), Period(13, END, SLIP)))
    new = weighing.farm_from(of, long, WEIGHED, MEASURED)
    assert (new.end, new.winter.line_end) == (SLIP, END)
    assert new.batches[0].gain_g_per_day == pytest.approx(3000 / 78)
    held = weighing.farm_from(of, long, date(2027, 4, 10), dict.fromkeys(HEADS, 42.0))
    assert held.winter.line_end is None
    assert {b.gain_g_per_day for b in held.batches} == {0.0}


def test_home_feed_is_what_the_plan_leaves_and_claims_still_to_eat() -> None:
    # 8.0 t net, 0.5 t a period, 6.5 periods gone: 4.75 t; ewes 40 of 80 days gone: 1.5 of 3 t;
    # cattle done. 6.25 of 12 t is 333 of 640 bales. By hand.
    hay = offer_of(rest(), "long-meadow")
    assert hay.available_t_fresh == pytest.approx(4.75)
    assert hay.claims == (("ewes", pytest.approx(1.5)), ("cattle", pytest.approx(0.0)))
    assert hay.first_claim_t_fresh == pytest.approx(1.5)
    assert hay.stock_t_fresh == pytest.approx(6.25)
    assert hay.lot is not None and hay.lot.bales == 333
    assert (hay.price_gbp_per_t_fresh, hay.waste_share) == (110.0, 0.12)
    assert hay.stock_words == "6.25 t left on 14 January 2027"
    assert rest().winter.other_stock == (OtherStock("ewes", 610, WEIGHED, date(2027, 2, 23)),)


def test_claim_without_dates_is_eaten_over_the_winter() -> None:
    plain = replace(HAY, claims=())
    hay = offer_of(rest(farm([plain, CUBES, BEET])), "long-meadow")
    assert hay.first_claim_t_fresh == pytest.approx(2.0)  # 78 of 156 days
    assert hay.claims == ()


def test_bought_feed_in_store_is_sunk_and_later_deliveries_are_not_bought() -> None:
    # 3 + 3 t come, 6.5 periods of 0.4 t gone: 3.4 t; the 2 t of period 9 is not bought. By hand.
    new = rest()
    lies = offer_of(new, "cubes-in-store")
    assert lies.stock_t_fresh == pytest.approx(3.4)
    assert lies.is_home and lies.price_gbp_per_t_fresh == 0.0
    assert lies.name == "16 % hogg cubes, already bought"
    assert (lies.feed, lies.waste_share) == (CUBES.feed, CUBES.waste_share)
    assert offer_of(new, "cubes") == CUBES
    assert new.winter.stores[0].offer_ids == ("cubes", "cubes-in-store", "beet")
    assert "beet-in-store" not in {o.id for o in new.offers}


def test_delivery_of_that_morning_is_not_bought_yet() -> None:
    morning = periods()[6].start
    lies = offer_of(rest(when=morning), "cubes-in-store")
    assert lies.stock_t_fresh == pytest.approx(3.0 - 6 * 0.4)


def test_what_was_counted_overrides_the_plan() -> None:
    new = rest(left={"long-meadow": 5.0, "cubes": 2.5, "beet": 0.7})
    hay = offer_of(new, "long-meadow")
    assert (hay.stock_t_fresh, hay.first_claim_t_fresh) == (5.0, pytest.approx(1.5))
    assert offer_of(new, "cubes-in-store").stock_t_fresh == 2.5
    assert offer_of(new, "beet-in-store").stock_t_fresh == 0.7
    short = offer_of(rest(left={"long-meadow": 0.5}), "long-meadow")
    assert (short.stock_t_fresh, short.available_t_fresh) == (0.5, 0.0)
    assert sum(t for _, t in short.claims) == pytest.approx(short.first_claim_t_fresh)
    none = rest(left={"cubes": 0.0})
    assert "cubes-in-store" not in {o.id for o in none.offers}


def test_no_more_to_be_had_counts_what_came() -> None:
    of = farm([HAY, replace(CUBES, stock_t_fresh=8.0), BEET])
    new = rest(of)
    assert offer_of(new, "cubes").stock_t_fresh == pytest.approx(2.0)
    assert offer_of(new, "beet").stock_t_fresh == 6.0


def test_least_amount_is_dropped_from_both_parts_and_said() -> None:
    new = rest(farm([HAY, replace(CUBES, least_kg_fresh_per_head_day=0.1), BEET]))
    for offer_id in ("cubes", "cubes-in-store"):
        part = offer_of(new, offer_id)
        assert part.least_kg_fresh_per_head_day == 0.0
        assert "least amount a day is not held to" in part.note


def test_second_weighing_joins_what_was_bought_before_and_since() -> None:
    of = rest()
    again = plan(
        of,
        [drop("cubes", periods()[9], 2.0)],
        [*stocks("cubes-in-store", 3.4, 0.2, {}), *stocks("cubes", 0.0, 0.1, {0: 2.0})],
    )
    on = date(2027, 2, 25)  # 10 periods of 12 days gone
    third = weighing.farm_from(of, again, on, dict.fromkeys(HEADS, 40.0))
    ids = [o.id for o in third.offers]
    assert len(ids) == len(set(ids))
    lies = offer_of(third, "cubes-in-store")
    assert lies.stock_t_fresh == pytest.approx(3.4 - 10 * 0.2 + 2.0 - 10 * 0.1)
    assert lies.name == "16 % hogg cubes, already bought"
    counted = weighing.farm_from(
        of, again, on, dict.fromkeys(HEADS, 40.0), left={"cubes-in-store": 1.9}
    )
    assert offer_of(counted, "cubes-in-store").stock_t_fresh == pytest.approx(1.9)


def test_sheep_that_had_no_trough_feed_step_up_like_new_ones() -> None:
    of = farm()
    new = weighing.farm_from(of, replace(followed(of), fed=()), WEIGHED, MEASURED)
    assert new.winter.step_up_days == 12
    early = rest(when=START + timedelta(days=5), weights=FIRST_KG)
    assert early.winter.step_up_days == 7


@given(day=st.integers(1, 155))
def test_feed_is_conserved_on_every_day(day: int) -> None:
    """Left + used so far = opening + delivered before that day, to the gram."""
    when = START + timedelta(days=day)
    of = farm()
    left = weighing.left_t(followed(of), when)
    full, part = divmod(day, 12)
    used = full + part / 12
    came = 3.0 * (day > 0) + 3.0 * (day > 72) + 2.0 * (day > 108)
    assert left["long-meadow"] + 0.5 * used == pytest.approx(8.0, abs=1e-6)
    assert left["cubes"] + 0.4 * used == pytest.approx(came, abs=1e-6)


@pytest.mark.parametrize(
    ("said", "message"),
    [
        ({"weights": {**MEASURED, "strong": 43.0}}, "strong: 43.0 kg on 14 January 2027 against a target of 42.0 kg: they are past the target"),
        ({"weights": {**MEASURED, "strong": 20.0}}, "asks 282 g/day; at most 250 g/day is covered"),
        ({"weights": {"strong": 39.0, "middle": 36.5}}, "small: there is no weight"),
        ({"weights": {**MEASURED, "tail": 30.0}}, '"tail" is not a batch of this farm'),
        ({"left": {"straw": 1.0}}, '"straw" is not a feed of this farm'),
        ({"left": {"cubes": -1.0}}, "cubes: -1 t left; 0 t or more"),
        ({"left": {"cubes": math.nan}}, "cubes: nan t left"),
        ({"when": END}, "2 April 2027 is not a day of the plan; it runs from 28 October 2026"),
        ({"when": date(2026, 1, 14)}, "14 January 2026 is not a day of the plan"),
        ({"end": date(2027, 1, 14)}, "nothing is left of the winter"),
    ],
)  # fmt: skip
def test_rest_that_cannot_be_is_refused_in_one_line(said: Any, message: str) -> None:
    with pytest.raises(InputError) as caught:
        rest(**said)
    assert message in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_weight_outside_the_equations_is_refused() -> None:
    of = replace(farm(), batches=tuple(replace(b, end_weight_kg=18.0) for b in flock()))
    with pytest.raises(OutOfRange, match="strong: live weight 13.5 kg; the growth equations"):
        rest(of, weights={**dict.fromkeys(HEADS, 17.0), "strong": 9.0})


def test_every_batch_past_its_target_is_told() -> None:
    with pytest.raises(OutOfRange) as caught:
        rest(weights=dict.fromkeys(HEADS, 43.0))
    assert len(caught.value.problems) == 3


def test_without_a_plan_there_is_nothing_to_go_on_from() -> None:
    of = farm()
    lost = plan(of, bill=None, why_not="too little hay in period 3")
    with pytest.raises(InputError, match="no plan of this winter to go on from; too little hay"):
        weighing.farm_from(of, lost, WEIGHED, MEASURED)


def test_days_to_lambing_count_down() -> None:
    of = replace(farm(), batches=flock(days_to_lambing=150))
    assert {b.days_to_lambing for b in rest(of).batches} == {72}
    of = replace(farm(), batches=flock(days_to_lambing=70))
    with pytest.raises(OutOfRange, match="they have lambed by 14 January 2027"):
        rest(of)


def test_tonnes_bought_count_towards_a_tier_and_what_is_to_be_had() -> None:
    # invented tiers: 296, 287 from 15 t, 280 from 29 t; 6 t bought, so 9 and 23 t more
    tiers = (Tier(0.0, 296.0), Tier(15.0, 287.0), Tier(29.0, 280.0))
    offered = (supply("cubes", tiers=tiers, most_t=40.0), supply("beet"))
    of = farm()
    cubes, beet = weighing.supplies_from(offered, followed(of), WEIGHED)
    assert cubes.quote.tiers == (Tier(0.0, 296.0), Tier(9.0, 287.0), Tier(23.0, 280.0))
    assert cubes.quote.most_t == pytest.approx(34.0)
    assert beet == offered[1]
    much = replace(followed(of), deliveries=(drop("cubes", periods()[0], 15.0),))
    (cubes, _) = weighing.supplies_from(offered, much, WEIGHED)
    assert cubes.quote.tiers == (Tier(0.0, 287.0), Tier(14.0, 280.0))
