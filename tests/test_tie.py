"""Quotes tied to feeds, and which may be bought. Farms and merchants here are invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ration import choices, demo, farm, tables
from ration.buying.tie import LOAD_T_BY_LADEN_T, least_load_t, most_load_t, tie
from ration.errors import InputError
from ration.farm import Store
from ration.feeds import Figure
from ration.quotes.records import Quote, Tier

ON = date(2026, 9, 14)


@pytest.fixture(scope="module")
def book():
    return tables.load()


@pytest.fixture(scope="module")
def hill(book):
    return farm.read(Path(demo.__file__).parent / "quernhope.yaml", tables=book)


def quote(merchant="Heron", feed="soya", price=296.0, **more):
    return Quote(merchant, feed, (Tier(0.0, price),), place="quotes.csv row 2", **more)


def label(**values):
    return {name: Figure(value, "label") for name, value in values.items()}


def with_winter(hill, **more):
    return replace(hill, winter=replace(hill.winter, **more))


def lane(hill, lane_t):
    return with_winter(hill, lane_t=lane_t)


# ---- which feed


@pytest.mark.parametrize("name", ["soya", "Soya", "SOYA"])
def test_a_quote_with_the_name_of_a_feed_is_a_supply_of_it(hill, book, name):
    tied = tie(hill, [quote(feed=name, price=405.0)], book, on=ON)
    mine = [s for s in tied.supplies if s.offer_id == "soya"]
    assert [s.quote.merchant for s in mine] == ["Heron"]  # the farm file's price is replaced
    assert [o.id for o in tied.offers] == [o.id for o in hill.offers]
    assert tied.offer("soya").price_gbp_per_t_fresh == 405.0


def test_the_shown_name_of_a_feed_ties_too(hill, book):
    tied = tie(hill, [quote(feed="16 % hogg cubes, blown")], book, on=ON)
    assert tied.supplies[0].offer_id == "cubes-16-blown"


def test_feeds_without_a_quote_stay_at_the_price_of_the_farm_file(hill, book):
    tied = tie(hill, [], book, on=ON)
    assert {s.offer_id for s in tied.supplies} == {o.id for o in hill.offers if not o.is_home}
    beet = next(s for s in tied.supplies if s.offer_id == "plain-beet-nuts")
    assert beet.quote.tiers == (Tier(0.0, 274.0),)
    assert (beet.quote.merchant, beet.quote.pack, beet.quote.most_t) == ("", "bulk", 6.0)
    assert beet.is_usable
    assert "hay" not in {s.offer_id for s in tied.supplies}
    assert tied.offers == hill.offers


def test_all_there_is_by_the_farm_file_holds_for_a_quote_that_does_not_say(hill, book):
    tied = tie(hill, [quote(feed="plain beet nuts")], book, on=ON)
    assert tied.supplies[0].quote.most_t == 6.0
    assert "at most 6 t, by the farm file" in tied.notes[0]


def test_a_name_that_is_only_near_is_never_tied(hill, book):
    with pytest.raises(InputError, match="Heron, soja: is not tied") as caught:
        tie(hill, [quote(feed="soja"), quote("Plover", "cube 16 blown")], book, on=ON)
    lines = str(caught.value).splitlines()
    assert len(lines) == 2  # every fault, one line each
    assert "quotes.csv row 2" in lines[0]
    assert "nearest: soya" in lines[0]
    assert "cubes-16-blown" in lines[1]


def test_like_names_a_row_of_the_table_by_id_or_name(hill, book):
    for like in ("cubes-18", book.feeds["cubes-18"].name):
        tied = tie(hill, [quote(feed="18 % hogg cubes", like=like)], book, on=ON)
        new = tied.offer("18-hogg-cubes")
        assert new.feed.id == "cubes-18"
        assert new.price_gbp_per_t_fresh == 296.0
        assert not new.is_home


def test_like_may_name_a_feed_of_the_farm(hill, book):
    tied = tie(hill, [quote(feed="hipro", like="soya")], book, on=ON)
    assert tied.supplies[0].offer_id == "soya"


def test_a_like_that_is_not_known_tells_the_nearest(hill, book):
    with pytest.raises(InputError, match=r'like "cubes-19" is not a feed.*nearest: cubes-1'):
        tie(hill, [quote(feed="ewe nuts", like="cubes-19")], book, on=ON)


def test_a_feed_of_the_table_by_its_exact_id_needs_no_like(hill, book):
    tied = tie(hill, [quote(feed="Limestone")], book, on=ON)
    assert tied.offer("limestone").feed.id == "limestone"


def test_two_merchants_with_one_feed_share_it_and_two_feeds_of_one_name_do_not(hill, book):
    quotes = [
        quote(feed="hogg cubes", like="cubes-18"),
        quote("Plover", "Hogg cubes", 283.0, like="cubes-18"),
        quote("Snipe", "hogg cubes", like="cubes-16"),
    ]
    tied = tie(hill, quotes, book, on=ON)
    ids = [s.offer_id for s in tied.supplies[:3]]
    assert ids == ["hogg-cubes", "hogg-cubes", "hogg-cubes-snipe"]
    assert tied.offer("hogg-cubes").price_gbp_per_t_fresh == 283.0  # the cheapest


def test_like_against_the_farm_file_makes_a_feed_of_its_own_and_says_so(hill, book):
    tied = tie(hill, [quote(feed="cubes 16 blown", like="cubes-18")], book, on=ON)
    assert tied.supplies[0].offer_id == "cubes-16-blown-heron"
    assert tied.offer("cubes-16-blown-heron").feed.id == "cubes-18"
    assert "like cubes-16, the quote says cubes-18" in tied.notes[0]


def test_own_feed_cannot_be_bought_under_its_name(hill, book):
    with pytest.raises(InputError, match="name of your own feed"):
        tie(hill, [quote(feed="Long Meadow")], book, on=ON)
    tied = tie(hill, [quote(feed="Long Meadow", like="hay average")], book, on=ON)
    assert tied.supplies[0].offer_id == "long-meadow-heron"
    assert tied.offer("long-meadow") == next(o for o in hill.offers if o.id == "long-meadow")


def test_a_feed_without_a_price_and_without_figures_says_so(hill, book):
    short = replace(hill, unpriced=(("moor-mix", "price to be entered"),))
    with pytest.raises(InputError, match="without a price"):
        tie(short, [quote(feed="moor mix")], book, on=ON)


# ---- what the label says


def test_a_label_per_kg_fresh_is_laid_over_per_kg_dm(hill, book):
    # 20 % of a cube of 87 % dry matter: 200 / 0.87 = 229.9 g/kg DM (arithmetic)
    said = label(cp_g_per_kg_fresh=200.0)
    tied = tie(hill, [quote("Snipe", "cubes 16 blown", declared=said)], book, on=ON)
    new = tied.offer("cubes-16-blown-snipe")
    figure = new.feed.figure("cp_g_per_kg_dm")
    assert figure.value == pytest.approx(229.885, abs=1e-3)
    assert figure.mark == "label"
    assert figure.place == "quotes.csv row 2"
    base = next(o for o in hill.offers if o.id == "cubes-16-blown")
    assert new.feed["me_mj_per_kg_dm"] == base.feed["me_mj_per_kg_dm"]
    assert (new.waste_share, new.storage_loss_share) == (base.waste_share, base.storage_loss_share)
    assert tied.stands_for == {"cubes-16-blown-snipe": "cubes-16-blown"}
    # book figures that followed the old protein are gone
    assert "erdp_published_g_per_kg_dm" not in new.feed.figures
    # the quote takes the place of the farm file's price
    assert not any(s.offer_id == "cubes-16-blown" for s in tied.supplies)


def test_a_declared_dry_matter_is_the_one_used(hill, book):
    said = label(cp_g_per_kg_fresh=180.0, dm_g_per_kg_fresh=900.0)
    tied = tie(hill, [quote(feed="cubes 16 blown", declared=said)], book, on=ON)
    new = tied.offer("cubes-16-blown-heron")
    assert new.feed["cp_g_per_kg_dm"] == pytest.approx(200.0)
    assert new.feed["dm_g_per_kg_fresh"] == 900.0


def test_a_label_that_says_what_is_known_makes_no_new_feed(hill, book):
    # 16 % fresh at 87 % dry matter is the table's 184 g/kg DM, to the printed digit
    said = label(cp_g_per_kg_fresh=160.0)
    tied = tie(hill, [quote(feed="cubes 16 blown", declared=said)], book, on=ON)
    assert tied.supplies[0].offer_id == "cubes-16-blown"


def test_a_label_that_cannot_be_right_is_a_fault(hill, book):
    said = label(cp_g_per_kg_dm=1840.0)
    with pytest.raises(InputError, match=r"declares crude protein .*of 1840 .*believable"):
        tie(hill, [quote(feed="cubes 16 blown", declared=said)], book, on=ON)


def test_new_feeds_are_complete_enough_for_a_ration(hill, book):
    quotes = [
        quote(feed="hogg nuts", like="cubes-18", declared=label(cp_g_per_kg_fresh=190.0)),
        quote(feed="hay", like="hay-good"),
    ]
    tied = tie(hill, quotes, book, on=ON)
    done, _ = choices.complete(tied.offers, book, ["all"])
    assert {"hogg-nuts-heron", "hay"} <= {o.id for o in done}
    hay = next(o for o in done if o.id == "hay")
    assert (hay.waste_share, hay.storage_loss_share) == (0.12, 0.03)  # the farm's losses of hay


def test_a_kind_the_farm_does_not_have_loses_nothing_and_says_so(hill, book):
    tied = tie(hill, [quote(feed="swedes")], book, on=ON)
    assert tied.offer("swedes").waste_share == 0.0
    assert any("the farm has no roots" in note for note in tied.notes)


# ---- what may not be bought


DAY_BEFORE, DAY_AFTER = date(2026, 9, 13), date(2026, 9, 15)


@pytest.mark.parametrize(
    ("more", "lane_t", "words"),
    [
        ({"valid_until": DAY_BEFORE}, None, "expired 13 September 2026: ask if it still holds"),
        ({"valid_until": ON}, None, ""),  # good through its last day
        ({"valid_from": DAY_AFTER}, None, "holds only from 15 September 2026: order then"),
        ({"valid_from": ON}, None, ""),
        ({"delivered_until": DAY_BEFORE}, None, "delivered only until 13 September 2026"),
        ({"lorry_t": 44.0}, 18.0, "artic only, lane takes 18 t"),
        ({"lorry_t": 26.0}, 18.0, "no lorry under 26 t, lane takes 18 t"),
        ({"lorry_t": 18.0}, 18.0, ""),
        ({"lorry_t": 44.0}, None, ""),
        ({"lorry_t": 44.0, "is_collected": True}, 18.0, ""),
        ({}, 5.0, "lane takes 5 t, too little for a lorry"),
        ({"least_drop_t": 10.0}, 18.0, "least drop 10 t, one load is at most 8 t"),
        ({"least_drop_t": 10.0}, 26.0, ""),
        ({"made_for": "cattle"}, None, "made for cattle: not for sheep"),
        ({"made_for": "poultry"}, None, "made for poultry: not for sheep"),
    ],
)
def test_what_is_refused_and_what_would_make_it_usable(hill, book, more, lane_t, words):
    tied = tie(lane(hill, lane_t), [quote(**more)], book, on=ON)
    refused = tied.supplies[0].refused
    assert tied.supplies[0].is_usable == (words == "")
    assert words in refused
    assert bool(refused) == bool(words)


def test_several_reasons_are_all_told(hill, book):
    bad = quote(valid_until=DAY_BEFORE, made_for="horse", lorry_t=44.0)
    refused = tie(lane(hill, 18.0), [bad], book, on=ON).supplies[0].refused
    for words in ("horse", "expired", "artic"):
        assert words in refused


def test_when_every_quote_of_a_feed_is_refused_it_cannot_be_bought(hill, book):
    tied = tie(hill, [quote(valid_until=DAY_BEFORE)], book, on=ON)
    assert [s.is_usable for s in tied.supplies if s.offer_id == "soya"] == [False]
    assert any(note.startswith("soya: every quote") for note in tied.notes)


def test_cattle_nuts_need_not_say_what_they_are_like(hill, book):
    nuts = quote(feed="18 % cattle nuts", made_for="cattle", copper_mg_per_kg_fresh=25.0)
    tied = tie(hill, [nuts], book, on=ON)
    assert "made for cattle" in tied.supplies[0].refused
    assert tied.offer(tied.supplies[0].offer_id).made_for == "cattle"


# Copper: at most 15 mg in a kg of complete feed for sheep at 12 % moisture, Regulation (EU)
# 2018/1039, annex; as read in eurlexa.com/act/en/32012R0269 (amended text).
@pytest.mark.parametrize(
    ("copper_fresh", "dm", "is_usable"),
    [
        (15.0, 880.0, True),  # the limit itself, at 12 % moisture
        (15.1, 880.0, False),
        (14.9, 860.0, False),  # 14.9 / 0.86 x 0.88 = 15.25 at 12 % moisture
        (14.5, 860.0, True),  # 14.84
        (15.2, 900.0, True),  # 14.86
        (18.0, 870.0, False),
    ],
)
def test_copper_over_the_legal_most_of_a_sheep_compound_is_refused(
    hill, book, copper_fresh, dm, is_usable
):
    cube = quote(
        feed="hogg cubes",
        like="cubes-16",
        copper_mg_per_kg_fresh=copper_fresh,
        declared=label(dm_g_per_kg_fresh=dm),
    )
    supply = tie(hill, [cube], book, on=ON).supplies[0]
    assert supply.is_usable == is_usable
    assert ("over the 15 the law allows sheep" in supply.refused) == (not is_usable)


def test_copper_may_be_told_per_kg_dm(hill, book):
    for copper, is_usable in ((17.0, True), (17.2, False)):  # 15 / 0.88 = 17.05
        cube = quote(feed="x", like="cubes-16", declared=label(cu_mg_per_kg_dm=copper))
        assert tie(hill, [cube], book, on=ON).supplies[0].is_usable == is_usable


def test_a_mineral_is_not_held_to_the_copper_of_a_compound(hill, book):
    lick = quote(feed="sheep mineral", copper_mg_per_kg_fresh=400.0)
    tied = tie(hill, [lick], book, on=ON)
    assert tied.supplies[0].is_usable
    # but the whole diet sees it
    assert tied.offer(tied.supplies[0].offer_id).feed["cu_mg_per_kg_dm"] > 400.0


def test_a_compound_without_copper_on_its_label_is_asked_about(hill, book):
    asked = "copper unknown: ask for the label"
    plain = tie(hill, [quote(feed="cubes 16 blown")], book, on=ON)
    assert plain.notes == (f"Heron, cubes 16 blown: {asked}.",)
    told = tie(hill, [quote(feed="cubes 16 blown", copper_mg_per_kg_fresh=9.0)], book, on=ON)
    assert told.notes == ()
    straight = tie(hill, [quote(feed="soya")], book, on=ON)
    assert straight.notes == ()


# ---- loads


def test_what_a_lorry_carries_by_its_laden_weight():
    # common practice, no source: an 18 t rigid brings 8 t, a 26 t one 16 t, an artic 29 t
    assert (LOAD_T_BY_LADEN_T[18.0], LOAD_T_BY_LADEN_T[26.0], LOAD_T_BY_LADEN_T[44.0]) == (
        8,
        16,
        29,
    )
    assert most_load_t(quote(), 18.0) == 8
    assert most_load_t(quote(), 30.0) == 16
    assert most_load_t(quote(), None) == 29
    assert most_load_t(quote(lorry_t=44.0), 18.0) == 0
    assert most_load_t(quote(most_drop_t=6.0), 18.0) == 6
    assert most_load_t(quote(is_collected=True, most_drop_t=2.2), 5.0) == 2.2


def test_least_load_counts_pallets():
    # 40 bags of 25 kg are a tonne
    assert least_load_t(quote(pack="bag", pack_kg=25.0, packs_per_pallet=40)) == 1.0
    assert (
        least_load_t(quote(pack="bag", pack_kg=25.0, packs_per_pallet=40, least_drop_t=1.5)) == 2.0
    )
    assert least_load_t(quote(least_drop_t=3.0)) == 3.0


def test_a_least_drop_the_bin_cannot_hold_is_too_large(hill, book):
    small = with_winter(hill, lane_t=None, stores=(Store("bin", 4.0, ("cubes-16-blown",)),))
    tied = tie(small, [quote(feed="cubes 16 blown", least_drop_t=10.0)], book, on=ON)
    assert "least drop 10 t, the bin holds 4 t" in tied.supplies[0].refused
    assert tie(small, [quote(feed="soya", least_drop_t=10.0)], book, on=ON).supplies[0].is_usable


def test_a_feed_of_the_label_lies_in_the_store_of_its_like(hill, book):
    small = with_winter(hill, stores=(Store("bin", 4.0, ("cubes-16-blown",)),))
    strong = quote(feed="cubes 16 blown", declared=label(cp_g_per_kg_fresh=200.0), least_drop_t=5.0)
    tied = tie(small, [strong], book, on=ON)
    assert tied.stores == (Store("bin", 4.0, ("cubes-16-blown", "cubes-16-blown-heron")),)
    assert "the bin holds 4 t" in tied.supplies[0].refused


def test_a_least_drop_over_what_the_winter_can_use_is_too_large(hill, book):
    small = quote(least_drop_t=3.0)
    tied = tie(hill, [small], book, on=ON, most_bought_t={"soya": 2.2})
    assert "least drop 3 t, this winter can use 2.2 t" in tied.supplies[0].refused
    tied = tie(hill, [small], book, on=ON, most_bought_t={"soya": 3.0})
    assert tied.supplies[0].is_usable


def test_two_feeds_of_one_merchant_fill_a_drop_together(hill, book):
    # a least drop is of the lorry, not of the feed: common practice, no source
    quotes = [quote(least_drop_t=3.0), quote(feed="rolled barley", least_drop_t=3.0)]
    most = {"soya": 1.0, "rolled-barley": 2.5}
    assert tie(hill, quotes, book, on=ON, most_bought_t=most).supplies[0].is_usable
    assert not tie(hill, quotes[:1], book, on=ON, most_bought_t=most).supplies[0].is_usable


# ---- nothing is lost


@given(
    st.lists(
        st.builds(
            quote,
            merchant=st.sampled_from(["Heron", "Plover"]),
            feed=st.sampled_from(["soya", "cubes 16 blown", "limestone", "hogg cubes"]),
            price=st.floats(50, 500),
            like=st.sampled_from(["cubes-16", "cubes-18"]),
            pack=st.sampled_from(["bulk", "bag"]),
            made_for=st.sampled_from(["", "cattle"]),
            valid_until=st.sampled_from([None, DAY_BEFORE, DAY_AFTER]),
            declared=st.sampled_from([{}, label(cp_g_per_kg_fresh=200.0)]),
        ),
        max_size=6,
    )
)
def test_every_quote_is_one_supply_of_a_feed_that_is_there(hill, book, quotes):
    tied = tie(hill, quotes, book, on=ON)
    told = tied.supplies[: len(quotes)]
    assert [s.quote.merchant for s in told] == [q.merchant for q in quotes]
    assert [s.quote.tiers for s in told] == [q.tiers for q in quotes]
    assert len({s.id for s in tied.supplies}) == len(tied.supplies)
    ids = [o.id for o in tied.offers]
    assert len(set(ids)) == len(ids)
    assert {s.offer_id for s in tied.supplies} <= set(ids)
    for s in told:
        wrong = s.quote.made_for or s.quote.valid_until == DAY_BEFORE
        assert s.is_usable == (not wrong)
    homes = {o.id for o in tied.offers if o.is_home}
    assert not homes & {s.offer_id for s in tied.supplies}
