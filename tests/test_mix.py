"""The job: a farm in, proved and balanced rations out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ration import choices, demo, explain, farm, limits, lines, mix, tables
from ration.errors import BalanceError, InputError, MissingValue
from ration.faces import changes

FARM = Path(demo.__file__).parent / "quernhope.yaml"


@pytest.fixture(scope="module")
def book():
    return tables.load()


@pytest.fixture(scope="module")
def quernhope(book):
    return farm.read(FARM, tables=book)


@pytest.fixture(scope="module")
def answer(quernhope, book):
    return mix.mix(quernhope, book)


def test_demo_dates_and_gains_are_the_reference_figures(quernhope):
    # arithmetic on the invented farm: 156 days, mean 35.49 kg, 41.7 g a day over the flock
    assert quernhope.days == 156
    head = sum(b.head for b in quernhope.batches)
    mean = sum(b.head * b.start_weight_kg for b in quernhope.batches) / head
    gain = sum(b.head * b.gain_g_per_day for b in quernhope.batches) / head
    assert head == 184
    assert mean == pytest.approx(35.49, abs=0.005)
    assert gain == pytest.approx(41.7, abs=0.05)


def test_every_batch_has_a_proved_ration(answer):
    assert [r.batch.name for r in answer.rations] == ["strong", "middle", "small"]
    for ration in answer.rations:
        assert ration.status == "least cost"
        assert 0 <= ration.proved_gap_share <= 1e-3
        assert ration.assessment.gain_g_per_day >= ration.batch.gain_g_per_day - 1e-3


def test_together_the_batches_stay_within_the_stack(answer):
    for offer in answer.farm.offers:
        if offer.available_t_fresh is None:
            continue
        taken = sum(
            f.t_fresh_for_winter for r in answer.rations for f in r.feeds if f.id == offer.id
        )
        assert taken <= offer.available_t_fresh + 1e-6


def test_stock_shares_add_to_one(quernhope):
    assert sum(mix.stock_shares(quernhope).values()) == pytest.approx(1.0)


def test_a_gap_in_the_table_stops_the_work_and_says_what_could_be_assumed(quernhope, book):
    strict = replace(quernhope, assume=())
    with pytest.raises(MissingValue, match="degradability a.*could be taken as") as caught:
        mix.mix(strict, book)
    lines = str(caught.value).splitlines()
    assert len(lines) > 3
    assert all("missing is never taken as zero" in line for line in lines)


def test_gaps_may_be_allowed_feed_by_feed(quernhope, book):
    used = [o for o in quernhope.offers if o.id == "soya"]
    done, gaps = choices.complete(used, book, ["soya"])
    assert {g.nutrient for g in gaps} == {"adin_g_n_per_kg_dm"}
    assert done[0].feed.figure("adin_g_n_per_kg_dm").mark in ("memory", "guess")


def test_books_that_do_not_balance_are_never_shown(answer):
    ration = answer.rations[0]
    x = np.array([f.kg_dm_per_head_day for f in ration.feeds])
    mix.check_books(ration.model, x, ration.cost_gbp_per_head_day, ration.assessment)
    for wrong in (
        replace(ration.assessment, cost_gbp_per_head_day=ration.cost_gbp_per_head_day * 1.00001),
        replace(ration.assessment, me_mj_per_day=ration.assessment.me_mj_per_day * 0.99999),
        replace(ration.assessment, protein_g_per_day=ration.assessment.protein_g_per_day * 1.00001),
    ):
        with pytest.raises(BalanceError, match="do not balance"):
            mix.check_books(ration.model, x, ration.cost_gbp_per_head_day, wrong)
    short = x * 0.9
    told = mix.assessing.assess(ration.model.needs, lines.portions(ration.offers, short))
    with pytest.raises(BalanceError, match="under|broken"):
        mix.check_books(ration.model, short, float(ration.model.cost @ short), told)


def test_feed_made_for_other_stock_is_left_out(quernhope, book):
    offers = tuple(replace(o, made_for="cattle") if o.id == "soya" else o for o in quernhope.offers)
    answer = mix.mix(replace(quernhope, offers=offers), book, with_worth=False)
    assert ("soya", "made for cattle: not for sheep") in answer.rations[0].left_out
    assert all(f.id != "soya" for r in answer.rations for f in r.feeds)


def test_nothing_to_assess_says_how_to_write_it(quernhope, book):
    with pytest.raises(InputError, match="fed"):
        mix.assess_farm(replace(quernhope, fed=()), book)


def test_results_give_data_frames_with_units_in_the_columns(answer):
    frame = answer.frame()
    assert {"batch", "id", "kg_dm_per_head_day", "cost_gbp_per_head_day"} <= set(frame.columns)
    assert len(answer.rations[0].frame()) == len(answer.rations[0].feeds)
    assert "cost_of_one_more_gbp" in answer.rations[0].nutrients_frame().columns
    assert "supply" in answer.rations[0].assessment.frame().columns
    assert "kg_fresh_per_head_day" in answer.rations[0].assessment.portions_frame().columns
    assert answer.rations[0].needs.frame().shape[0] == 1


def test_crossed_limits_are_refused(quernhope, book):
    b = quernhope.batches[0]
    wild = replace(quernhope.limits, ceiling_gain_g_per_day=5.0, intake_kg_dm_least=2.0)
    with pytest.raises(InputError) as caught:
        limits.resolve(b, wild, quernhope.offers, book.limits)
    assert len(caught.value.problems) == 2


# ---- words


def test_every_kind_of_row_has_words_and_a_cure(answer):
    from ration.conflict import Cure

    for ration in answer.rations:
        for row in ration.model.rows:
            words, unit, factor = lines.row_words(row.id)
            assert words
            assert unit
            assert factor in (1.0, 100.0)
            told = explain.cure_words(Cure(row.id, 0.5, 0.6), ration)
            assert bool(told) != (row.id == "copper_mg_per_kg_dm_most")


def test_a_cure_as_printed_really_cures(quernhope, book):
    tight = replace(
        quernhope,
        limits=replace(quernhope.limits, intake_kg_dm_least=0.3, intake_kg_dm_most=0.58),
        batch_limits={},
    )
    answer = mix.mix(tight, book)
    ration = answer.rations[0]
    assert not ration.is_found
    words = explain.why_no_mix(ration)
    assert words[0].startswith("No mix can meet these needs")
    by_row = {c.row: explain.cure_words(c, ration) for c in ration.conflict.cures}
    kg = float(by_row["intake"].split("let them eat ")[1].split(" kg")[0])
    cured = replace(tight, limits=replace(tight.limits, intake_kg_dm_most=kg))
    assert mix.mix(cured, book, with_worth=False).rations[0].is_found
    gain = float(by_row["gain"].split("ask for ")[1].split(" g")[0])
    easier = replace(tight, batches=(replace(tight.batches[0], gain_g_per_day=gain),))
    assert mix.mix(easier, book, with_worth=False).rations[0].is_found


def test_what_changed_says_why(quernhope, book, answer):
    sheet = FARM.parent / "bottom-ings-2026-11-16.csv"
    after = mix.mix(farm.read(FARM, tables=book, analyses={"bottom-ings": sheet}), book)
    assert "6.9 %" in changes.what_changed_in_feeds(answer, after)[0]
    told = changes.what_changed(answer.rations[0], after.rations[0])
    assert "dearer" in told[0]
    assert "short by" in told[1]
    assert "limited by degradable protein in the rumen" in told[1]
    assert changes.what_changed(answer.rations[0], answer.rations[0])[-1] == (
        "The mix stays as it was."
    )


def test_a_cheaper_mix_of_the_same_diet_known_to_the_second_solver_is_taken(answer):
    """A search that stopped within its gap may hold a mix that HiGHS can better."""
    from ration.search import Found

    ration = answer.rations[0]
    model = ration.model
    best = np.array([f.kg_dm_per_head_day for f in ration.feeds])
    twin = ration.model.names.index("cubes-16-bags"), ration.model.names.index("cubes-16-blown")
    x = best.copy()
    free = replace(model, col_lo=np.where(np.arange(len(x)) == twin[0], 0.0, model.col_lo))
    dearer = best * 0.9
    dearer[twin[0]] = 0.1 * best.sum()  # bagged cubes where blown ones would do
    q, level = model.quality_and_level(dearer[None])
    assert np.isfinite(q[0])
    assert np.isfinite(level[0])
    found = Found(dearer, float(model.cost @ dearer), 0.0, 1)
    taken, cost, _ = mix._judged(free, found, dearer)
    assert cost < found.cost - 1e-4
    assert taken[twin[0]] == pytest.approx(0.0, abs=1e-7)


def test_a_bound_that_the_second_solver_beats_stops_the_work(answer):
    from ration.errors import NotProved
    from ration.search import Found

    ration = answer.rations[0]
    x = np.array([f.kg_dm_per_head_day for f in ration.feeds])
    cost = ration.cost_gbp_per_head_day
    with pytest.raises(NotProved, match="does not confirm"):
        mix._judged(ration.model, Found(x, cost, cost * 1.01, 1), x)
