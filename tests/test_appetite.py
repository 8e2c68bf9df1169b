"""Hay to appetite: the row of each hay, what gives way to it, and the cheapest hay proved.

The row is what substitution means (common practice, no source); the figures behind it are checked
in `tests/published/intake.csv`. Here its arithmetic is worked by hand, and the search is held
against SciPy, hay by hay, for NRC (1985), where everything is straight.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from properties.strategies import Made, farms, seeded_farm
from scipy.optimize import linprog

from ration import appetite, mix, needs
from ration.appetite import InTheRack
from ration.errors import InputError, OutOfRange
from ration.limits import YOURS
from ration.model import MixModel
from ration.standards import afrc1993
from ration.standards.intake import substitution_share


def ways(made: Made, to_appetite: bool | float = True) -> list[tuple[InTheRack, MixModel]]:
    return list(appetite.ways(made.model, made.offers, made.bounds, to_appetite))


def row_of(way: MixModel) -> np.ndarray:
    row = way.rows[way.row_ids[appetite.ROW]]
    assert row.lo == row.hi
    return row.coefficients


def at(made: Made, offer_id: str) -> int:
    return next(j for j, o in enumerate(made.offers) if o.id == offer_id)


# ---------------------------------------------------------------- the row


@settings(max_examples=40)
@given(farms(), st.one_of(st.just(True), st.floats(0.3, 0.9)))
def test_each_hay_has_its_own_straight_row(made: Made, to_appetite: bool | float) -> None:
    model = made.model
    found = ways(made, to_appetite)
    hays = [o.id for o, most in zip(made.offers, model.col_hi, strict=True)
            if o.feed.group == "hay" and most > 0]  # fmt: skip
    assert [rack.offer_id for rack, _ in found] == hays
    for rack, way in found:
        j, row = at(made, rack.offer_id), row_of(way)
        total = way.rows[way.row_ids[appetite.ROW]].lo
        assert total == rack.appetite_kg_dm_per_day
        if to_appetite is not True:
            assert rack.is_own
            assert total == pytest.approx(
                to_appetite * made.offers[j].feed["dm_g_per_kg_fresh"] / 1000
            )
        assert row[j] == pytest.approx(1.0)
        assert rack.substitution == substitution_share(model.me[j])
        line = [
            afrc1993.coarse_intake_kg_dm_per_day(made.batch.weight_kg, me / ge) if ge else 0.0
            for me, ge in zip(model.me, model.ge, strict=True)
        ]
        for k, o in enumerate(made.offers):
            if o.feed.is_concentrate:
                assert row[k] == rack.substitution
            elif o.feed.is_forage:
                assert row[k] == pytest.approx(line[j] / line[k]), o.id
            else:
                assert row[k] == 0, o.id
            if o.feed.group == "hay" and k != j:
                assert way.col_lo[k] == model.col_lo[k]
                assert way.col_hi[k] == min(model.col_lo[k], model.col_hi[k])
            elif k != j:
                assert (way.col_lo[k], way.col_hi[k]) == (model.col_lo[k], model.col_hi[k])


def test_row_by_hand() -> None:
    """0.80 kg of hay of 85 % is 0.68 kg; 0.30 kg trough feed at s = 0.50 leaves 0.53.

    Worked by hand; s of a hay of 8.5 MJ from the published line of practice.
    """
    made = plain(hay_me=8.5)
    ((rack, way),) = ways(made, 0.80)
    assert rack.appetite_kg_dm_per_day == pytest.approx(0.68)
    s = rack.substitution
    assert 0.3 < s < 0.6  # common practice, no source: about half on average hay
    x = np.zeros(len(made.offers))
    x[at(made, rack.offer_id)] = 0.68 - s * 0.30
    x[next(j for j, o in enumerate(made.offers) if o.feed.is_concentrate)] = 0.30
    assert row_of(way) @ x == pytest.approx(0.68)


@cache
def plain(hay_me: float | None = None, **hay: float | None) -> Made:
    """An invented farm of one hay, straw, barley, soya and a mineral, without stocks."""
    made = seeded_farm(3, 5)
    offers = []
    for o in made.offers:
        if o.feed.group == "hay":
            figures = dict(o.feed.figures)
            figures["dm_g_per_kg_fresh"] = replace(figures["dm_g_per_kg_fresh"], value=850.0)
            if hay_me is not None:
                figures["me_mj_per_kg_dm"] = replace(figures["me_mj_per_kg_dm"], value=hay_me)
            o = replace(o, feed=replace(o.feed, figures=figures), **hay)
        free = {} if hay and o.feed.group == "hay" else {"most_kg_fresh_per_head_day": None}
        offers.append(
            replace(
                o,
                least_share_of_dm=0.0,
                most_share_of_dm=None,
                least_kg_fresh_per_head_day=0.0,
                **free,
            )
        )
    return replace(made, offers=tuple(offers), stock_kg_dm_per_head_day={})


def test_richer_hay_is_left_more_for_trough_feed_and_eaten_more_alone() -> None:
    """Poor hay is hardly left for trough feed, good hay nearly kilo for kilo: common practice."""
    racks = [ways(plain(hay_me=me))[0][0] for me in (7.0, 8.5, 10.0, 11.5)]
    swaps = [r.substitution for r in racks]
    alone = [r.appetite_kg_dm_per_day for r in racks]
    assert swaps == sorted(swaps)
    assert swaps[0] < swaps[-1]
    assert alone == sorted(alone)
    assert not any(r.is_own for r in racks)


def test_what_they_clear_scales_every_forage_alike() -> None:
    made = seeded_farm(3, 14)
    for (by_line, a), (own, b) in zip(ways(made), ways(made, 0.55), strict=True):
        assert row_of(a) == pytest.approx(row_of(b))
        assert own.substitution == by_line.substitution


# ---------------------------------------------------------------- what gives way


def test_band_and_ceiling_give_way_unless_they_are_the_users() -> None:
    made = plain()
    ((_, way),) = ways(made)
    intake = way.rows[way.row_ids["intake"]]
    assert (intake.lo, intake.hi) == (0.0, np.inf)
    assert way.ceiling_gain_g_per_day is None
    mine = {n: YOURS for n in ("intake_kg_dm_least", "intake_kg_dm_most", "ceiling_gain_g_per_day")}
    kept = replace(made, bounds=replace(made.bounds, origin=mine))
    ((_, way),) = ways(kept)
    before, after = (m.rows[m.row_ids["intake"]] for m in (kept.model, way))
    assert (after.lo, after.hi) == (before.lo, before.hi)
    assert way.ceiling_gain_g_per_day == made.model.ceiling_gain_g_per_day
    others = [r.id for r in way.rows if r.id != appetite.ROW]
    assert others == [r.id for r in kept.model.rows]


def test_appetite_over_the_band_is_let_out_but_a_stock_or_a_limit_never_is() -> None:
    weight = plain().batch.weight_kg
    much = 0.05 * weight / 0.85
    ((rack, way),) = ways(plain(), much)
    j = at(plain(), rack.offer_id)
    assert rack.appetite_kg_dm_per_day > plain().model.col_hi[j]
    assert way.col_hi[j] == pytest.approx(rack.appetite_kg_dm_per_day)
    limited = plain(most_kg_fresh_per_head_day=0.4)
    ((_, way),) = ways(limited, much)
    assert way.col_hi[j] == limited.model.col_hi[j] < 0.4
    stocked = replace(
        plain(stock_t_fresh=3.0, most_kg_fresh_per_head_day=None),
        stock_kg_dm_per_head_day={rack.offer_id: 0.31},
    )
    ((_, way),) = ways(stocked, much)
    assert way.col_hi[j] == pytest.approx(0.31)


@pytest.mark.parametrize("share", [0.0, 0.061, 0.5])
def test_absurd_appetite_is_refused_with_the_batch(share: float) -> None:
    made = plain()
    with pytest.raises(OutOfRange, match="is believable") as caught:
        ways(made, share * made.batch.weight_kg / 0.85)
    (problem,) = caught.value.problems
    assert problem.where == made.batch.name
    assert "hay to appetite" in problem.read


def test_no_hay_or_no_hay_left_is_refused() -> None:
    made = plain()
    hay = next(o.id for o in made.offers if o.feed.group == "hay")
    gone = replace(made, stock_kg_dm_per_head_day={hay: 0.0})
    barn = tuple(o for o in made.offers if o.id != hay)
    none = replace(made, offers=barn, bounds=replace(made.bounds, family_caps=()))
    for without in (gone, none):
        with pytest.raises(InputError, match="no hay to feed"):
            ways(without)


def test_hay_that_must_be_given_is_given_beside_the_one_in_the_rack() -> None:
    """A user's "given apart" of one hay is never dropped for another in the rack."""
    beside = 0
    for seed in range(40):
        made = seeded_farm(seed, 14)
        hays = [j for j, o in enumerate(made.offers) if o.feed.group == "hay"]
        must = hays[0]
        offers = list(made.offers)
        offers[must] = replace(
            offers[must], least_kg_fresh_per_head_day=0.12, most_kg_fresh_per_head_day=0.12
        )
        made = replace(made, offers=tuple(offers), stock_kg_dm_per_head_day={})
        for rack, way in ways(made):
            assert way.col_lo[must] == made.model.col_lo[must] > 0
            if rack.offer_id != offers[must].id:
                assert way.col_hi[must] == way.col_lo[must]
        rack, _, found = mix._searched(made.model, made.offers, made.bounds, True)
        if found.x is not None:
            assert rack is not None
            beside += rack.offer_id != offers[must].id
            assert found.x[must] == pytest.approx(made.model.col_lo[must])
    assert beside > 3


# ---------------------------------------------------------------- the cheapest hay


def by_scipy(way: MixModel) -> float:
    """Least cost of a model whose needs do not move with the diet; inf when there is no mix."""
    need, ceiling = (float(v[0]) for v in way.energy_limits(np.array([0.5])))
    (q_lo, q_hi), ge = way.needs.quality, way.ge
    cp = way.chemistry.cp - way.needs.protein_slope_g_per_kg_dm
    rows = np.vstack(
        [way.me, -way.me, cp, way.me - q_lo * ge, q_hi * ge - way.me, way.fixed, -way.fixed]
    )
    least = np.concatenate(
        [[need, -ceiling, way.needs.protein_need(), 0, 0], way.fixed_lo, -way.fixed_hi]
    )
    kept = np.isfinite(least)
    judge = linprog(
        way.cost,
        A_ub=-rows[kept],
        b_ub=-least[kept],
        bounds=list(zip(way.col_lo, way.col_hi, strict=True)),
        method="highs",
    )
    assert judge.status in (0, 2)
    return float(judge.fun) if judge.status == 0 else np.inf


def by_nrc(seed: int) -> Made | None:
    made = seeded_farm(seed, 14)
    try:
        need = needs.of(made.batch, "NRC 1985")
    except OutOfRange:
        return None
    return replace(made, needs=need)


@pytest.mark.parametrize("to_appetite", [True, 0.55])
def test_cheapest_hay_is_scipys_hay_by_hay(to_appetite: bool | float) -> None:
    found = several = 0
    for seed in range(90):
        made = by_nrc(seed)
        if made is None:
            continue
        model = made.model
        costs = {r.offer_id: by_scipy(w) for r, w in ways(made, to_appetite)}
        rack, way, answer = mix._searched(model, made.offers, made.bounds, to_appetite)
        best = min(costs.values())
        if answer.x is None:
            assert np.isinf(best), seed
            continue
        found += 1
        several += len(costs) > 1
        assert rack is not None
        assert answer.cost == pytest.approx(best, rel=2e-6), seed
        assert costs[rack.offer_id] == pytest.approx(best, rel=2e-6), seed
        assert row_of(way) @ answer.x == pytest.approx(rack.appetite_kg_dm_per_day, rel=1e-7)
        for j, o in enumerate(made.offers):
            if o.feed.group == "hay" and o.id != rack.offer_id:
                assert answer.x[j] == pytest.approx(model.col_lo[j], abs=1e-9)
    assert found >= 10
    assert several >= 5


def test_without_hay_to_appetite_the_search_is_the_plain_one() -> None:
    made = plain()
    rack, model, answer = mix._searched(made.model, made.offers, made.bounds, False)
    assert rack is None
    assert appetite.ROW not in model.row_ids
    assert answer.linear_programmes > 0
