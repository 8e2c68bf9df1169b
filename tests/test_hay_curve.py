"""The cost of a ration as one figure of one feed moves, held against rations worked by themselves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from ration import demo, farm, mix, tables
from ration.errors import OutOfRange, UnknownName
from ration.gains import NO_MIX
from ration.jobs.hay import hay_curve

QUERNHOPE = Path(demo.__file__).parent / "quernhope.yaml"
ENERGY = "me_mj_per_kg_dm"
PROTEIN = "cp_g_per_kg_dm"


@pytest.fixture(scope="module")
def book():
    return tables.load()


@pytest.fixture(scope="module")
def quernhope(book):
    return farm.read(QUERNHOPE, tables=book)


@pytest.fixture(scope="module")
def curve(quernhope, book):
    values = [6.5, 7.5, 8.5, 9.0, 9.5, 10.25]
    return hay_curve(quernhope, book, "small", "big-square-hay", ENERGY, values, halvings=3)


@pytest.mark.parametrize("figure", [ENERGY, PROTEIN, "dm_g_per_kg_fresh"])
def test_at_the_present_value_it_is_the_ration_of_mix(quernhope, book, figure):
    found = hay_curve(quernhope, book, "middle", "bottom-ings", figure, [])
    (ration,) = mix.mix(quernhope, book, batches=["middle"]).rations
    assert found.at_now.cost_gbp_per_head_day == ration.cost_gbp_per_head_day
    put_out = {f.id: f.kg_fresh_offered_per_head_day for f in ration.feeds if f.is_used}
    assert dict(found.at_now.kg_offered) == put_out
    offer = next(o for o in quernhope.offers if o.id == "bottom-ings")
    assert found.now == offer.feed[figure]
    assert found.points == (found.at_now,)
    assert found.turns == ()


@pytest.mark.parametrize(
    ("feed", "line", "figure", "value"),
    [
        ("Bottom Ings", "energy: 9.4 MJ/kg DM", ENERGY, 9.4),
        ("Bottom Ings", "protein: 6.1 %", PROTEIN, 61.0),
        ("Bottom Ings", "dry matter: 79 %", "dm_g_per_kg_fresh", 790.0),
    ],
)
def test_another_value_is_what_the_farm_file_with_that_line_gives(
    quernhope, book, feed, line, figure, value
):
    text = QUERNHOPE.read_text("utf-8")
    # no sheet is laid on, so that the figure written is the only one that differs
    edited = text.replace(f"  {feed}:\n", f"  {feed}:\n    {line}\n", 1)
    assert edited != text
    told = farm.read_text(edited, "edited.yaml", QUERNHOPE.parent, tables=book)
    (ration,) = mix.mix(told, book, batches=["middle"]).rations
    found = hay_curve(quernhope, book, "middle", "bottom-ings", figure, [value])
    point = next(p for p in found.points if not p.is_now)
    assert point.cost_gbp_per_head_day == pytest.approx(ration.cost_gbp_per_head_day, rel=1e-6)


def test_points_come_by_value_with_now_among_them(curve):
    values = [p.value for p in curve.points]
    assert values == sorted({6.5, 7.5, 8.4, 8.5, 9.0, 9.5, 10.25})
    assert [p.value for p in curve.points if p.is_now] == [curve.now] == [8.4]
    assert (curve.words, curve.unit) == ("Metabolisable energy (ME)", "MJ/kg DM")


def test_richer_hay_at_the_same_price_does_not_make_it_dearer_here(curve):
    costs = [p.cost_gbp_per_head_day for p in curve.points]
    assert costs == sorted(costs, reverse=True)


def test_what_is_not_fed_costs_the_same_whatever_its_figures(quernhope, book):
    # all of the old stack is kept for the ewes, so its figures cannot matter
    found = hay_curve(quernhope, book, "strong", "old-stack", PROTEIN, [45.0, 60.0, 110.0])
    assert len({round(p.cost_gbp_per_head_day, 9) for p in found.points}) == 1
    assert found.turns == ()


def test_the_mix_differs_on_the_two_sides_of_every_turn(quernhope, book, curve):
    assert curve.turns
    for turn in curve.turns:
        ends = hay_curve(
            quernhope, book, "small", "big-square-hay", ENERGY, [turn.low, turn.high]
        ).points
        low, high = (next(p for p in ends if p.value == v) for v in (turn.low, turn.high))
        assert set(turn.comes_in) == set(high.kg_offered) - set(low.kg_offered)
        assert set(turn.goes_out) == set(low.kg_offered) - set(high.kg_offered)
        assert turn.comes_in or turn.goes_out


def test_halving_narrows_the_gap_in_which_the_mix_changes(quernhope, book, curve):
    coarse = hay_curve(quernhope, book, "small", "big-square-hay", ENERGY, [9.0])
    assert [t.high - t.low for t in coarse.turns] == pytest.approx([0.6])
    fine = [t for t in curve.turns if coarse.turns[0].low <= t.low < t.high <= 9.0]
    assert fine and all(t.high - t.low == pytest.approx(0.5 / 8) for t in fine)


def test_where_there_is_no_mix_the_point_says_so_and_the_turn_too(quernhope, book):
    # hay and straw alone: too poor at one end; at the other more energy than the ceiling allows
    kept = {"big-square-hay", "barley-straw", "sheep-mineral"}
    bare = replace(quernhope, offers=tuple(o for o in quernhope.offers if o.id in kept))
    values = [6.0, 7.0, 8.0, 9.0, 11.0]
    found = hay_curve(bare, book, "strong", "big-square-hay", ENERGY, values)
    assert [p.is_found for p in found.points] == [False, False, True, True, True, False]
    poor = found.points[0]
    assert (poor.cost_gbp_per_head_day, poor.why_not, dict(poor.kg_offered)) == (None, NO_MIX, {})
    assert [(t.low, t.high, t.is_lost, t.is_regained) for t in found.turns] == [
        (7.0, 8.0, False, True),
        (9.0, 11.0, True, False),
    ]


def test_a_repeat_of_the_present_value_is_not_worked_twice(quernhope, book):
    found = hay_curve(quernhope, book, "middle", "bottom-ings", ENERGY, [8.5, 8.5 + 1e-12, 8.5])
    assert len(found.points) == 1


@pytest.mark.parametrize(
    ("batch", "offer", "said"),
    [
        ("nobody", "bottom-ings", "nobody"),
        ("middle", "caviar", "caviar"),
        ("nobody", "caviar", "caviar"),
    ],
)
def test_unknown_names_are_told_with_those_there_are(quernhope, book, batch, offer, said):
    with pytest.raises(UnknownName, match=said) as error:
        hay_curve(quernhope, book, batch, offer, ENERGY, [8.0])
    assert len(error.value.problems) == 1 + (batch == "nobody" and offer == "caviar")


def test_an_unknown_figure_is_told(quernhope, book):
    with pytest.raises(UnknownName, match="shine"):
        hay_curve(quernhope, book, "middle", "bottom-ings", "shine", [8.0])


@pytest.mark.parametrize(
    "values", [[0.0], [-1.0], [float("nan")], [float("inf")], [8.0, 30.0], [8.0] * 61]
)
def test_values_no_hay_has_are_refused(quernhope, book, values):
    with pytest.raises(OutOfRange):
        hay_curve(quernhope, book, "middle", "bottom-ings", ENERGY, values)


def test_all_wrong_values_are_told_at_once(quernhope, book):
    with pytest.raises(OutOfRange) as error:
        hay_curve(quernhope, book, "middle", "bottom-ings", ENERGY, [0.0, 8.0, 30.0])
    assert len(error.value.problems) == 2
    assert "plausible for hay" in str(error.value)


def test_halvings_are_bounded(quernhope, book):
    with pytest.raises(OutOfRange, match="halvings"):
        hay_curve(quernhope, book, "middle", "bottom-ings", ENERGY, [8.0], halvings=50)
