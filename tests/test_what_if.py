"""What-ifs: read from a line, laid over a farm and its quotes, set beside the base.

Each form is tried as a farmer writes it: common practice, no source. One standard deviation of a
hay (0.5 MJ ME, 14 g CP per kg DM) is judgement, no source. Farm, quotes and plans are invented;
expected figures are arithmetic by hand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ration import animals, what_if
from ration.errors import InputError, OutOfRange, UnknownName
from ration.farm import Farm, Lot, Offer, Winter
from ration.feeds import Feed, Figure
from ration.quotes.records import Quote, Supply, Tier
from ration.what_if import (
    FORMS,
    Change,
    FeedMove,
    LongWinter,
    Loss,
    MoreSheep,
    PriceMove,
)
from ration.winter.records import Bill, Delivery, Period, Plan, StockLine

START, END = date(2026, 10, 28), date(2027, 4, 2)
HEADS = {"strong": 92, "middle": 58, "small": 34}


# ---------------------------------------------------------------- an invented farm


def feed(feed_id: str, group: str, me: float, cp: float, **more: float) -> Feed:
    figures = {"dm_g_per_kg_fresh": 850.0, "me_mj_per_kg_dm": me, "cp_g_per_kg_dm": cp, **more}
    marked = {k: Figure(v, "lab", spread=0.3) for k, v in figures.items()}
    return Feed(feed_id, feed_id, group, MappingProxyType(marked))


HAY = Offer(
    "long-meadow", "Long Meadow", feed("hay-average", "hay", 8.7, 86, domd_g_per_kg_dm=560),
    True, 110.0, stock_t_fresh=11.776, first_claim_t_fresh=11.776, claims=(("ewes", 11.776),),
    lot=Lot(640, "bales", 18.4, 1.9, 12), stock_words="640 bales of 18.4 kg",
)  # fmt: skip
ROUNDS = Offer(
    "bottom-ings", "Bottom Ings", feed("hay-meadow", "hay", 8.1, 69), True, 110.0,
    stock_t_fresh=11.04, first_claim_t_fresh=7.694, claims=(("ewes", 7.694),),
    lot=Lot(46, "rounds", guess_kg=(215, 265)),
)  # fmt: skip
SQUARES = Offer("big-square-hay", "big square hay", feed("hay-average", "hay", 8.8, 90), False, 146)
CUBES = Offer(
    "cubes-16-blown", "16 % hogg cubes, blown", feed("cubes-16", "compound", 12.4, 184), False, 291
)
BARLEY = Offer("rolled-barley", "rolled barley", feed("barley", "cereal", 13.2, 115), False, 211)
STORED = replace(
    CUBES, id="cubes-16-blown-in-store", name="16 % hogg cubes, blown, already bought", is_home=True,
    price_gbp_per_t_fresh=0.0, stock_t_fresh=2.0,
)  # fmt: skip


def farm(**said: Any) -> Farm:
    batches = tuple(
        animals.batch(
            name, head=head, weight_kg=38.0, gain_g_per_day=40.0,
            start_weight_kg=34.88, end_weight_kg=41.12,
        )
        for name, head in HEADS.items()
    )  # fmt: skip
    usual: dict[str, Any] = {
        "offers": (HAY, ROUNDS, SQUARES, CUBES, BARLEY),
        "winter": Winter(pens=MappingProxyType({"strong": (46, 46), "middle": (30, 28)})),
    }
    return Farm(Path("x.yaml"), "Quernhope", START, END, 156, batches, **{**usual, **said})


def offer_of(of: Farm, offer_id: str) -> Offer:
    return next(o for o in of.offers if o.id == offer_id)


def price(of: Farm, offer_id: str) -> float:
    return offer_of(of, offer_id).price_gbp_per_t_fresh


# ---------------------------------------------------------------- read from a line


@pytest.mark.parametrize(
    ("text", "change"),
    [
        ("long winter", LongWinter()),
        ("a longer winter", LongWinter()),
        ("long winter 40 days", LongWinter(40)),
        ("Long winter, 40 days more", LongWinter(40)),
        ("cubes 16 blown +17 /t", PriceMove("cubes 16 blown", 17.0)),
        ("cubes 16 blown + £17 /t", PriceMove("cubes 16 blown", 17.0)),
        ("cubes 16 blown +0.017 /kg", PriceMove("cubes 16 blown", 17.0)),
        ("cubes 16 blown \u221217 /t", PriceMove("cubes 16 blown", -17.0)),
        ("cubes 16 blown +10 %", PriceMove("cubes 16 blown", share=0.1)),
        ("cubes 16 blown -10%", PriceMove("cubes 16 blown", share=-0.1)),
        ("big-square hay -10 per cent", PriceMove("big-square hay", share=-0.1)),
        ("all bought feed +30 %", PriceMove("all bought feed", share=0.3)),
        ("all bought feed +12.5 /t", PriceMove("all bought feed", 12.5)),
        ("poorer hay", FeedMove("hay", -0.5, -14.0)),
        ("poorer Long Meadow", FeedMove("Long Meadow", -0.5, -14.0)),
        ("hay -0.5 MJ", FeedMove("hay", -0.5)),
        ("hay +0.5 MJ/kg DM", FeedMove("hay", 0.5)),
        ("Long Meadow -0.5 mj per kg dry matter", FeedMove("Long Meadow", -0.5)),
        ("hay -14 g protein", FeedMove("hay", cp_g_per_kg_dm=-14.0)),
        ("hay -14 g/kg CP", FeedMove("hay", cp_g_per_kg_dm=-14.0)),
        ("hay -14 g/kg DM crude protein", FeedMove("hay", cp_g_per_kg_dm=-14.0)),
        ("20 more sheep", MoreSheep(20)),
        ("20 fewer sheep", MoreSheep(-20)),
        ("1,200 more head", MoreSheep(1200)),
        ("20 more in small", MoreSheep(20, "small")),
        ("lost 60 bales of Long Meadow", Loss("Long Meadow", bales=60)),
        ("Lost 6 rounds of Bottom Ings", Loss("Bottom Ings", bales=6)),
        ("lost 20 % of Bottom Ings", Loss("Bottom Ings", share=0.2)),
        ("lost 1.5 t of Top of the Hill", Loss("Top of the Hill", tonnes=1.5)),
        ("lost 500 kg of Long Meadow", Loss("Long Meadow", tonnes=0.5)),
    ],
)
def test_line_is_read(text: str, change: Change) -> None:
    assert what_if.parse(text) == change


def test_every_form_that_is_offered_can_be_read_and_laid_on() -> None:
    of = farm()
    for form in FORMS:
        change = what_if.parse(form)
        assert what_if.apply(change, of) != of, form
        assert change.words


@pytest.mark.parametrize(
    "text",
    [
        "", "   ", "snow", "cubes", "cubes 16 blown", "cubes +17", "cubes +17 /lorry", "cubes + /t",
        "cubes 16 blown 17 /t", "cubes +17,5 /t", "cubes +1e3 /t", "cubes +5000 /t", "cubes +0 /t",
        "cubes -100 %", "cubes +400 %", "cubes +0 %", "long winter forty days", "long winter 0 days",
        "long winter 500 days", "long winter -5 days", "short winter", "hay -0.5", "hay -50 MJ",
        "hay -0 MJ", "hay -500 g protein", "more sheep", "0 more sheep", "2.5 more sheep",
        "9999999 more sheep", "20 sheep", "lost bales of Long Meadow", "lost 0 bales of Long Meadow",
        "lost 6.5 bales of Long Meadow", "lost 120 % of Bottom Ings", "lost 0 % of Bottom Ings",
        "lost 0 t of Bottom Ings", "lost 60 bales", "poorer", None, True, 17, ["long winter"],
        "x" * 5000, "long winter\nlong winter 4 days 3",
    ],
)  # fmt: skip
def test_anything_else_is_one_line_with_the_forms(text: object) -> None:
    with pytest.raises(InputError) as caught:
        what_if.parse(text)
    said = str(caught.value)
    assert len(said.splitlines()) == 1
    assert "read " in said
    for form in FORMS:
        assert f'"{form}"' in said
    assert len(said) < 800


@given(st.text(max_size=60))
def test_no_text_breaks_the_reader(text: str) -> None:
    try:
        what_if.parse(text)
    except InputError as error:
        assert len(str(error).splitlines()) == 1


# ---------------------------------------------------------------- long winter


def test_long_winter_moves_turnout_and_holds_the_line() -> None:
    new = what_if.apply(LongWinter(), farm())
    assert (new.end, new.days) == (date(2027, 4, 27), 181)  # 25 days after 2 April
    assert new.winter.line_end == END
    assert [b.gain_g_per_day for b in new.batches] == [40.0, 40.0, 40.0]
    assert new.batches == farm().batches
    twice = what_if.apply(LongWinter(5), new)
    assert (twice.end, twice.winter.line_end) == (date(2027, 5, 2), END)


def test_long_winter_takes_the_farms_own_days() -> None:
    of = farm(winter=Winter(long_winter_days=10))
    assert what_if.apply(LongWinter(), of).end == date(2027, 4, 12)


def test_long_winter_says_what_is_held_and_left() -> None:
    assert what_if.notes(LongWinter(25), farm()) == (
        "Turnout on 27 April 2027; the target is for 2 April 2027 and is held from then.",
        "What other stock have first call on is left as written.",
    )


def test_winter_of_over_a_year_or_short_of_its_target_is_refused() -> None:
    of = replace(farm(), end=START + timedelta(days=300), days=300)
    with pytest.raises(OutOfRange, match="the winter would be 400 days long"):
        what_if.apply(LongWinter(100), of)
    with pytest.raises(OutOfRange, match="not before the target's own day"):
        what_if.apply(LongWinter(-1), farm())


# ---------------------------------------------------------------- prices


def test_price_moves_one_feed_or_all_that_is_bought() -> None:
    of = farm(offers=(*farm().offers, STORED))
    up = what_if.apply(what_if.parse("cubes 16 blown +17 /t"), of)
    assert price(up, "cubes-16-blown") == 308.0  # 291 + 17
    assert price(up, "cubes-16-blown-in-store") == 0.0
    assert price(up, "rolled-barley") == 211.0
    all_up = what_if.apply(what_if.parse("all bought feed +30 %"), of)
    assert price(all_up, "rolled-barley") == pytest.approx(274.3)
    assert price(all_up, "big-square-hay") == pytest.approx(189.8)
    assert price(all_up, "long-meadow") == 110.0
    hay_up = what_if.apply(what_if.parse("hay +10 %"), of)
    assert price(hay_up, "big-square-hay") == pytest.approx(160.6)
    assert price(hay_up, "long-meadow") == 110.0
    by_name = what_if.apply(what_if.parse("16 % hogg cubes, blown +17 /t"), of)
    assert by_name == up


def test_price_of_nothing_or_of_an_unknown_feed_is_refused() -> None:
    with pytest.raises(OutOfRange, match="rolled barley would cost -39.00 pounds a tonne"):
        what_if.apply(PriceMove("rolled barley", -250.0), farm())
    with pytest.raises(UnknownName, match='"rolled barly" is not a feed.*Did you mean'):
        what_if.apply(PriceMove("rolled barly", 5.0), farm())
    with pytest.raises(InputError, match='"Long Meadow" is not bought on this farm'):
        what_if.apply(PriceMove("Long Meadow", 5.0), farm())


def supply(offer_id: str, *prices: float) -> Supply:
    tiers = tuple(Tier(10.0 * i, p) for i, p in enumerate(prices))
    return Supply(
        f"heron-{offer_id}", offer_id, Quote("Heron", offer_id, tiers, drop_charge_gbp=95)
    )


def test_quotes_move_in_every_tier_and_nothing_else() -> None:
    offered = (supply("cubes-16-blown", 296.0, 287.0, 280.0), supply("rolled-barley", 205.0))
    up = what_if.apply_to_supplies(PriceMove("cubes 16 blown", 17.0), offered)
    assert [t.price_gbp_per_t_fresh for t in up[0].quote.tiers] == [313.0, 304.0, 297.0]
    assert [t.from_t for t in up[0].quote.tiers] == [0.0, 10.0, 20.0]
    assert up[0].quote.drop_charge_gbp == 95
    assert up[1] == offered[1]
    by_name = PriceMove("16 % hogg cubes, blown", 17.0)
    assert what_if.apply_to_supplies(by_name, offered, farm()) == up
    everything = what_if.apply_to_supplies(PriceMove("all bought feed", share=0.5), offered)
    assert everything[1].quote.tiers[0].price_gbp_per_t_fresh == pytest.approx(307.5)
    assert what_if.apply_to_supplies(LongWinter(), offered) == offered
    with pytest.raises(UnknownName, match='"oats" is not a feed'):
        what_if.apply_to_supplies(PriceMove("oats", 1.0), offered)
    with pytest.raises(OutOfRange, match="rolled-barley of Heron would cost"):
        what_if.apply_to_supplies(PriceMove("rolled barley", -500.0), offered)


# ---------------------------------------------------------------- poorer feed


def test_poorer_hay_lowers_every_hay_and_keeps_its_origin() -> None:
    new = what_if.apply(what_if.parse("poorer hay"), farm())
    for offer_id, me, cp in (
        ("long-meadow", 8.2, 72), ("bottom-ings", 7.6, 55), ("big-square-hay", 8.3, 76),
    ):  # fmt: skip
        made = offer_of(new, offer_id).feed
        assert made["me_mj_per_kg_dm"] == pytest.approx(me)
        assert made["cp_g_per_kg_dm"] == pytest.approx(cp)
        figure = made.figure("me_mj_per_kg_dm")
        assert (figure.mark, figure.spread) == ("derived", 0.3)
        assert figure.source == "what if: hay -0.5 MJ and -14 g protein a kg of dry matter"
        assert figure.note.endswith("your laboratory")
    assert offer_of(new, "cubes-16-blown") == CUBES
    assert what_if.notes(what_if.parse("poorer hay"), farm()) == (
        "Changed: Long Meadow, Bottom Ings, big square hay.",
    )


def test_figures_that_no_longer_hold_fall_with_the_energy() -> None:
    new = what_if.apply(FeedMove("Long Meadow", -0.5), farm())
    assert offer_of(new, "long-meadow").feed.get("domd_g_per_kg_dm") is None
    assert offer_of(new, "long-meadow").feed["cp_g_per_kg_dm"] == 86
    assert offer_of(new, "bottom-ings") == ROUNDS


def test_move_of_a_feed_reaches_what_is_in_store_of_it() -> None:
    of = farm(offers=(*farm().offers, STORED))
    new = what_if.apply(FeedMove("cubes 16 blown", cp_g_per_kg_dm=-10.0), of)
    assert offer_of(new, "cubes-16-blown-in-store").feed["cp_g_per_kg_dm"] == 174
    assert offer_of(new, "cubes-16-blown").feed["cp_g_per_kg_dm"] == 174


def test_feed_without_energy_or_protein_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"hay-meadow would have 2.9 MJ/kg DM of energy"):
        what_if.apply(FeedMove("Bottom Ings", -5.2), farm())
    with pytest.raises(OutOfRange, match="g/kg DM of protein"):
        what_if.apply(FeedMove("Bottom Ings", cp_g_per_kg_dm=-90.0), farm())


# ---------------------------------------------------------------- sheep


def test_more_sheep_are_shared_by_heads_and_pens() -> None:
    # 20 x 92/184 = 10, 20 x 58/184 = 6.3, 20 x 34/184 = 3.7: 10, 6 and 4, by hand
    new = what_if.apply(MoreSheep(20), farm())
    assert {b.name: b.head for b in new.batches} == {"strong": 102, "middle": 64, "small": 38}
    assert new.winter.pens == {"strong": (51, 51), "middle": (33, 31)}
    one = what_if.apply(MoreSheep(6, "Small"), farm())
    assert {b.name: b.head for b in one.batches} == {**HEADS, "small": 40}
    assert one.winter.pens == farm().winter.pens


def test_batch_that_is_not_there_or_would_be_empty_is_refused() -> None:
    with pytest.raises(UnknownName, match='"smal" is not a batch.*Did you mean "small"'):
        what_if.apply(MoreSheep(5, "smal"), farm())
    with pytest.raises(OutOfRange, match="0 head would be left of 34"):
        what_if.apply(MoreSheep(-34, "small"), farm())
    with pytest.raises(OutOfRange, match="-16 head would be left of 184"):
        what_if.apply(MoreSheep(-200), farm())


@given(
    heads=st.lists(st.integers(1, 400), min_size=1, max_size=5),
    more=st.integers(-100, 300),
)
def test_more_stock_raises_heads_and_adds_up(heads: list[int], more: int) -> None:
    batches = tuple(
        animals.batch(f"b{i}", head=h, weight_kg=30, gain_g_per_day=20) for i, h in enumerate(heads)
    )
    pens = {f"b{i}": (h // 2, h - h // 2) for i, h in enumerate(heads) if h > 1}
    of = replace(farm(), batches=batches, winter=Winter(pens=MappingProxyType(pens)))
    try:
        new = what_if.apply(MoreSheep(more), of)
    except OutOfRange:
        assert more < 0
        return
    assert sum(b.head for b in new.batches) == sum(heads) + more
    for old, batch in zip(of.batches, new.batches, strict=True):
        assert (batch.head - old.head) * more >= 0
        if batch.name in pens:
            assert sum(new.winter.pens[batch.name]) == batch.head


# ---------------------------------------------------------------- feed lost


def test_bales_lost_are_taken_off_the_lot() -> None:
    free = replace(HAY, first_claim_t_fresh=0.0, claims=())
    new = what_if.apply(Loss("Long Meadow", bales=60), farm(offers=(free, ROUNDS)))
    hay = offer_of(new, "long-meadow")
    assert hay.lot is not None and hay.lot.bales == 580
    assert hay.stock_t_fresh == pytest.approx(580 * 0.0184)
    assert hay.stock_words == "640 bales of 18.4 kg, less 1.10 t lost"
    assert offer_of(new, "bottom-ings") == ROUNDS


def test_what_other_stock_can_no_longer_have_they_take_from_other_hay() -> None:
    # the ewes had all 11.776 t; 60 bales are 1.104 t, which they now take from Bottom Ings:
    # 3.346 - 1.104 = 2.242 t left for the hoggs. By hand; ewes first: common practice, no source
    change = Loss("Long Meadow", bales=60)
    new = what_if.apply(change, farm())
    rounds = offer_of(new, "bottom-ings")
    assert rounds.first_claim_t_fresh == pytest.approx(7.694 + 1.104)
    assert rounds.claims == (("ewes", pytest.approx(7.694 + 1.104)),)
    assert rounds.available_t_fresh == pytest.approx(2.242)
    hay = offer_of(new, "long-meadow")
    assert hay.first_claim_t_fresh == pytest.approx(hay.stock_t_fresh or 0.0)
    assert what_if.notes(change, farm()) == (
        "What other stock can no longer have of Long Meadow they take from Bottom Ings: "
        "1.10 t more.",
    )


def test_share_and_tonnes_lost() -> None:
    part = offer_of(what_if.apply(what_if.parse("lost 20 % of Bottom Ings"), farm()), "bottom-ings")
    assert part.stock_t_fresh == pytest.approx(8.832)
    assert part.lot is not None and part.lot.bales == 37  # 36.8
    tonnes = what_if.apply(what_if.parse("lost 1.5 t of Bottom Ings"), farm())
    assert offer_of(tonnes, "bottom-ings").stock_t_fresh == pytest.approx(9.54)
    of = farm(offers=(*farm().offers, STORED))
    spilt = what_if.apply(what_if.parse("lost 0.5 t of cubes 16 blown"), of)
    assert offer_of(spilt, "cubes-16-blown-in-store").stock_t_fresh == pytest.approx(1.5)
    gone = what_if.apply(what_if.parse("lost 100 % of Bottom Ings"), farm())
    assert offer_of(gone, "bottom-ings").stock_t_fresh == 0.0
    assert offer_of(gone, "bottom-ings").lot is None


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (Loss("Long Meadow", bales=641), "641 bales of Long Meadow lost, but there are 640"),
        (Loss("Long Meadow", tonnes=12.0), "12 t of Long Meadow lost, but there are 11.78 t"),
        (Loss("rolled barley", share=0.1), '"rolled barley" is not in store on this farm'),
        (Loss("Long Medow", bales=1), 'Did you mean "long-meadow"?'),
    ],
)
def test_loss_that_cannot_be_is_refused(change: Loss, message: str) -> None:
    with pytest.raises(InputError) as caught:
        what_if.apply(change, farm())
    assert message in str(caught.value)


def test_bales_of_a_stock_that_was_never_counted_are_refused_with_a_way_out() -> None:
    of = farm(offers=(replace(HAY, lot=None),))
    with pytest.raises(InputError, match='Write "lost 20 % of Long Meadow"'):
        what_if.apply(Loss("Long Meadow", bales=60), of)
    with pytest.raises(InputError, match="the stock of Long Meadow is not known"):
        what_if.apply(
            Loss("Long Meadow", share=0.1), farm(offers=(replace(HAY, stock_t_fresh=None),))
        )


@given(share=st.floats(0.001, 1.0), claim=st.floats(0, 11.776), other=st.floats(0, 11.04))
def test_lost_bales_never_raise_a_stock_nor_lose_a_claim(
    share: float, claim: float, other: float
) -> None:
    of = farm(
        offers=(
            replace(
                HAY, first_claim_t_fresh=claim, claims=(("ewes", claim / 2), ("cattle", claim / 2))
            ),
            replace(ROUNDS, first_claim_t_fresh=other, claims=()),
        )
    )
    new = what_if.apply(Loss("Long Meadow", share=share), of)
    for old, offer in zip(of.offers, new.offers, strict=True):
        assert (offer.stock_t_fresh or 0.0) <= (old.stock_t_fresh or 0.0)
        assert (offer.available_t_fresh or 0.0) <= (old.available_t_fresh or 0.0) + 1e-9
        assert offer.first_claim_t_fresh <= (offer.stock_t_fresh or 0.0) + 1e-9
        if offer.claims:
            assert sum(t for _, t in offer.claims) == pytest.approx(
                offer.first_claim_t_fresh, abs=1e-9
            )
    free = sum(o.available_t_fresh or 0.0 for o in of.offers)
    lost = share * 11.776
    assert sum(o.available_t_fresh or 0.0 for o in new.offers) == pytest.approx(
        max(0.0, free - lost), abs=1e-9
    )


# ---------------------------------------------------------------- there and back


@pytest.mark.parametrize(
    "change",
    [
        LongWinter(40),
        PriceMove("cubes 16 blown", 17.25),
        PriceMove("all bought feed", -12.5),
        MoreSheep(20),
        MoreSheep(7, "small"),
    ],
)
def test_change_and_its_undoing_give_the_farm_back(change: Change) -> None:
    of = farm()
    back = what_if.undo(change)
    assert back is not None
    changed = what_if.apply(change, of)
    assert changed != of
    assert what_if.apply(back, changed) == of


def test_undoing_in_value() -> None:
    of = farm()
    for change in (PriceMove("rolled barley", share=0.3), FeedMove("hay", -0.5, -14.0)):
        back = what_if.undo(change)
        assert back is not None
        new = what_if.apply(back, what_if.apply(change, of))
        assert price(new, "rolled-barley") == pytest.approx(211.0)
        assert offer_of(new, "long-meadow").feed["me_mj_per_kg_dm"] == pytest.approx(8.7)
    assert what_if.undo(Loss("Long Meadow", bales=1)) is None
    assert what_if.undo(LongWinter()) is None


def test_the_farm_given_is_not_touched() -> None:
    of, same = farm(), farm()
    for form in FORMS:
        what_if.apply(what_if.parse(form), of)
    assert of == same


# ---------------------------------------------------------------- two plans side by side


PERIODS = tuple(
    Period(i, START + timedelta(days=14 * i), START + timedelta(days=14 * (i + 1)))
    for i in range(10)
)


def plan(bill: float | None, order: Mapping[str, float], hay: Sequence[float], **said: Any) -> Plan:
    """A plan with a bill, tonnes ordered, and home hay at the start and after each period."""
    of = farm()
    deliveries = tuple(
        Delivery(supply(i, 291.0), PERIODS[0], t / 2, None, 291.0, 291.0 * t / 2)
        for i, t in order.items()
        for _ in range(2)
    )
    stocks = tuple(
        StockLine("long-meadow", p, a, 0.0, a - b, 0.0, b)
        for p, a, b in zip(PERIODS, hay[:-1], hay[1:], strict=True)
    )
    usual: dict[str, Any] = {
        "farm": of, "periods": PERIODS, "offers": of.offers, "supplies": (), "fed": (),
        "extra_forage_kg_dm": {}, "deliveries": deliveries, "drops": (), "stocks": stocks,
        "bill": None if bill is None else Bill(bill, 0.0, 0.0, 0.0, 0.0),
        "bound_gbp": bill or 0.0, "is_cut_short": False, "more": (), "walk_away_gbp_per_t": {},
        "why_not": "", "conflict": None, "seconds": {}, "solver": "by hand",
    }  # fmt: skip
    return Plan(**{**usual, **said})


LASTING = [10.0 - 0.5 * i for i in range(11)]
SHORT = [max(0.0, 10.0 - 1.25 * i) for i in range(11)]  # empty after 8 periods of 14 days
SHORTER = [max(0.0, 10.0 - 10 / 7 * i) if i < 7 else 0.0 for i in range(11)]
BASE = plan(5000.0, {"cubes-16-blown": 4.0, "rolled-barley": 5.0}, SHORT)


def test_line_tells_bill_order_and_hay() -> None:
    # 28 October + 112 days = 17 February, + 98 days = 3 February; by hand
    other = plan(5310.5, {"cubes-16-blown": 6.1, "rolled-barley": 4.0}, SHORTER)
    assert what_if.beside(BASE, other, LongWinter(25)) == (
        "Winter 25 days longer: £5,310.50, £310.50 more; order 2.1 t more 16 % hogg cubes, blown, "
        "1.0 t less rolled barley; home hay runs out on 3 February 2027, 14 days sooner."
    )


def test_line_where_nothing_moves() -> None:
    assert what_if.beside(BASE, BASE, PriceMove("oats", 5.0)) == (
        "Oats +5 pounds a tonne: £5,000.00, the same; the order is the same; home hay runs out on "
        "17 February 2027, the same day."
    )


def test_line_where_hay_lasts_or_did() -> None:
    lasting = plan(4900.0, {"cubes-16-blown": 4.0, "rolled-barley": 5.0}, LASTING)
    said = what_if.beside(BASE, lasting, MoreSheep(-20))
    assert said.startswith("20 fewer sheep: £4,900.00, £100.00 less; the order is the same;")
    assert said.endswith("home hay lasts to turnout, 5.0 t left.")
    assert "before it lasted to turnout" in what_if.beside(lasting, BASE, MoreSheep(20))
    last_day = plan(4900.0, {}, [*SHORT[:8], 1.0, 0.5, 0.0])
    assert what_if.hay_runs_out(last_day) is None
    none = plan(4900.0, {}, [0.0] * 11)
    assert "no home hay to lay out" in what_if.beside(BASE, none, MoreSheep(20))


def test_difference_within_what_the_searches_leave_open_is_said() -> None:
    loose = plan(5030.0, {}, SHORT, bound_gbp=4980.0)
    said = what_if.beside(BASE, loose, LongWinter(1))
    assert "£30.00 more (the searches leave £50.00 open, so it may be nothing)" in said
    tight = plan(5030.0, {}, SHORT, bound_gbp=5029.0)
    assert "leave" not in what_if.beside(BASE, tight, LongWinter(1))


def test_line_without_a_plan() -> None:
    none = plan(None, {}, SHORT, why_not="too little feed in period 4")
    assert what_if.beside(BASE, none, MoreSheep(500)) == (
        "500 more sheep: no plan; too little feed in period 4."
    )
    assert "there is no plan without the change" in what_if.beside(none, BASE, MoreSheep(1))


def test_frame_has_the_base_first_and_a_row_for_no_plan() -> None:
    other = plan(5310.5, {"cubes-16-blown": 6.1}, LASTING)
    none = plan(None, {}, SHORT, why_not="no")
    rows = what_if.frame(BASE, [(LongWinter(25), other), (MoreSheep(500), none)])
    assert list(rows["what_if"]) == ["as it is", "winter 25 days longer", "500 more sheep"]
    assert list(rows["is_found"]) == [True, True, False]
    assert rows["more_gbp"].iloc[1] == pytest.approx(310.5)
    assert rows["order_t_fresh"].iloc[0] == pytest.approx(9.0)
    assert rows["home_hay_runs_out"].iloc[0] == date(2027, 2, 17)
    assert rows["bill_gbp"].isna().iloc[2]
