"""Published feeding trials: the table against print, the predictions, and the misses told as such.

Every number of `feedtables/trials.csv` that a source prints is held here against what was read
there (of most only the abstract). Where the program misses what is known of feeding sheep the test
asserts the miss and its direction: it passes while the miss lasts, and fails when it is gone, so
that the words a user reads stay true. All with margin 1.00.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from ration import animals, needs, tables, trials
from ration.assess import RUMEN_LIMIT, Portion, assess
from ration.cli.trials import trials as command
from ration.errors import InputError, OutOfRange, UnknownName
from ration.faces import trials_report
from ration.jobs import trials as job
from ration.standards import afrc1993, intake
from ration.tables.csvfile import Row
from ration.trials import Prediction, Trial

Record = Callable[[str, Any], None]
BOOK = tables.load()
TRIALS = {t.key: t for t in job.read_trials(BOOK)}
STANDARDS = tuple(needs.REGISTRY)
WITH_GAIN = [t for t in TRIALS.values() if t.gain_g_per_day]
HAY = "hay or straw, little or no trough feed"
SILAGE = "silage with trough feed"

# ---- the table against print -----------------------------------------------------------------
# key, gain in g a day, source
GAINS = [
    ("yarded-lambs-1988/hay-alone", -25, "P-S97"),
    ("yarded-lambs-1988/supplement-1076", 142, "P-S97"),
    ("straw-lambs-2000/straw-alone", -20, "P-S131"),
    ("urea-straw-ewe-lambs/maize-0", 51, "P-S132"),
    ("urea-straw-ewe-lambs/maize-300", 154, "P-S132"),
    ("silage-lambs-2013/digestibility-70-concentrate-200", 50, "P-S135"),
    ("silage-lambs-2013/digestibility-70-concentrate-800", 150, "P-S135"),
    ("silage-lambs-2013/digestibility-75-concentrate-200", 150, "P-S135"),
    ("silage-lambs-2013/digestibility-75-concentrate-800", 200, "P-S135"),
    ("store-wethers/silage-and-450", 109, "P-S136"),
    ("store-wethers/concentrate-ad-lib", 383, "P-S136"),
    ("store-lambs-inside-1995/barley-soya-450", 130, "P-S105"),  # restated
]
# key, forage eaten in kg DM a day, source
FORAGE = [
    ("welsh-1971/hay-alone", 0.451, "P-S83"),
    ("welsh-1971/straw-alone", 0.242, "P-S83"),
    ("welsh-1971-poor-hay/hay-alone", 0.287, "P-S130"),
    ("welsh-1971-poor-hay/soya-25", 0.412, "P-S130"),
    ("welsh-1971-poor-hay/soya-50", 0.339, "P-S130"),
    ("galway-wethers/hay", 0.999, "P-S133"),
    ("galway-wethers/silage", 0.643, "P-S133"),
]
# key, kg of forage left for a kg of trough feed, source
LEFT = [
    ("yarded-lambs-1988/supplement-over-400", 1.1, "P-S97"),
    ("straw-lambs-2000/barley-and-nitrogen", 0.50, "P-S131"),
    ("straw-lambs-2000/fish-or-lucerne", 0.36, "P-S131"),
    ("straw-lambs-2000/cottonseed", 0.25, "P-S131"),
    ("orr-1984/pregnant-ewes", 0.63, "P-S140"),
    ("orr-lactation/hay-59", 0.62, "P-S141"),
    ("orr-lactation/three-hays", 0.30, "P-S141"),
    ("three-hays-itea/ryegrass-hay-rich", 1.05, "P-S142"),
    ("three-hays-itea/ryegrass-hay-poor", 0.12, "P-S142"),
    ("three-hays-itea/lucerne-hay", 1.76, "P-S142"),
]


@pytest.mark.parametrize(("key", "gain", "source"), GAINS)
def test_gain_as_printed(key: str, gain: float, source: str) -> None:
    t = TRIALS[key]
    assert t.gain_g_per_day == (gain, gain)
    assert t.source == source
    assert t.mark == ("restated" if source == "P-S105" else "print")


@pytest.mark.parametrize(("key", "kg", "source"), FORAGE)
def test_forage_eaten_as_printed(key: str, kg: float, source: str) -> None:
    t = TRIALS[key]
    assert t.forage_kg_dm_per_day == (kg, kg)
    assert (t.how["forage"], t.source) == ("print", source)


@pytest.mark.parametrize(("key", "left", "source"), LEFT)
def test_substitution_as_printed(key: str, left: float, source: str) -> None:
    t = TRIALS[key]
    assert t.substitution_kg_per_kg == (left, left)
    assert (t.mark, t.source) == ("print", source)


def test_no_gain_or_substitution_of_the_table_is_left_out_above() -> None:
    measured = [t for t in TRIALS.values() if not t.is_practice]
    assert {t.key for t in measured if t.gain_g_per_day} == {k for k, _, _ in GAINS}
    printed = {t.key for t in measured if t.substitution_kg_per_kg and t.mark == "print"}
    assert printed == {k for k, _, _ in LEFT}
    assert {t.key for t in measured if t.how["forage"] == "print"} == {k for k, _, _ in FORAGE}


def test_printed_weights_and_amounts() -> None:
    # Ile-de-France ewe lambs 43 kg (P-S132); Suffolk crosses 36 kg, 0.2 and 0.8 kg of concentrate
    # (P-S135); 1,076 g DM of 1 sunflower meal to 2 oats (P-S97); 450 g of 9 barley to 1 soya
    # (P-S105); D-value 67 (P-S136).
    for key, kg in (("urea-straw-ewe-lambs/maize-0", 43), (GAINS[5][0], 36)):
        assert TRIALS[key].weight_kg == (kg, kg)
        assert TRIALS[key].how["weight"] == "print"
    for key, fresh in ((GAINS[5][0], 0.2), (GAINS[6][0], 0.8)):
        assert TRIALS[key].concentrate == (("concentrate-research", pytest.approx(0.88 * fresh)),)
    meal, oats = TRIALS["yarded-lambs-1988/supplement-1076"].concentrate
    assert meal[1] + oats[1] == pytest.approx(1.076)
    assert oats[1] / meal[1] == pytest.approx(2, abs=0.01)
    barley, soya = TRIALS["store-lambs-inside-1995/barley-soya-450"].concentrate
    assert barley[1] == pytest.approx(0.450 * 0.9 * 0.86, abs=5e-4)
    assert soya[1] == pytest.approx(0.450 * 0.1 * 0.89, abs=5e-4)
    low, high = TRIALS["store-wethers/silage-and-450"].forage_me_mj_per_kg_dm or (0, 0)
    assert (low + high) / 2 == pytest.approx(0.16 * 67, abs=0.05)


# ---- what was worked from print (P-S83, P-S97, P-S131, P-S132) ----------------------------------
@pytest.mark.parametrize(
    ("grams", "total", "left"), [(100, 0.484, 0.62), (200, 0.526, 0.57), (400, 0.634, 0.47)]
)
def test_hay_beside_concentrate_follows_from_the_printed_fall(
    grams: int, total: float, left: float
) -> None:
    """Hay falls 3 g a day for each 1 % of concentrate in the diet; 87 % dry matter assumed."""
    t = TRIALS[f"welsh-1971/concentrate-{grams}"]
    hay, trough = t.forage_kg_dm_per_day[0], t.concentrate_kg_dm_per_day[0]
    assert trough == pytest.approx(0.87 * grams / 1000)
    assert hay == pytest.approx(0.451 - 0.3 * trough / (hay + trough), abs=6e-4)
    assert t.total_kg_dm_per_day == pytest.approx(total, abs=5e-4)
    assert t.substitution_kg_per_kg == (left, left)
    assert (0.451 - hay) / trough == pytest.approx(left, abs=5e-3)
    assert t.mark == "derived"
    again = intake.observed_hay_beside_concentrate_kg_dm_per_day(t.weight_kg[0], trough)
    assert again == pytest.approx(hay, abs=2e-3)


@pytest.mark.parametrize(
    ("key", "grams", "per_kg"), [("hay-alone", 451, 49.2), ("straw-alone", 242, 28.4)]
)
def test_weight_follows_from_intake_per_metabolic_weight(
    key: str, grams: float, per_kg: float
) -> None:
    t = TRIALS[f"welsh-1971/{key}"]
    weight = (grams / per_kg) ** (1 / 0.73)
    assert t.weight_kg == (pytest.approx(weight, abs=0.05),) * 2
    assert t.how["weight"] == "derived"


def test_straw_lambs_follow_from_energy_and_intake() -> None:
    """38.3 g DM/kg W^0.75 and 2.54 MJ ME a day: the straw's energy sets dry matter and weight."""
    t = TRIALS["straw-lambs-2000/straw-alone"]
    me = BOOK.feeds["straw-barley"]["me_mj_per_kg_dm"]
    assert t.forage_me_mj_per_kg_dm == (me, me)
    assert t.forage_kg_dm_per_day[0] == pytest.approx(2.54 / me, abs=5e-4)
    for straw_me, weight in zip((7.0, 6.0), t.weight_kg, strict=True):
        assert weight == pytest.approx((2540 / straw_me / 38.3) ** (4 / 3), abs=0.06)


def test_straw_and_maize_follow_from_their_shares() -> None:
    for key, straw, maize in (("maize-0", 21.6, 0.0), ("maize-300", 17.7, 0.300)):
        t = TRIALS[f"urea-straw-ewe-lambs/{key}"]
        parts = dict(t.concentrate)
        assert t.forage_kg_dm_per_day[0] == pytest.approx(straw * 43 / 1000, abs=5e-4)
        whole = t.forage_kg_dm_per_day[0] / (1 - 0.050 - maize)
        assert parts["soya-hipro"] == pytest.approx(0.050 * whole, abs=6e-4)  # for fish meal
        assert parts.get("maize", 0.0) == pytest.approx(maize * whole, abs=6e-4)


def test_supplement_eaten_is_what_was_offered_less_the_printed_waste() -> None:
    low, high = TRIALS["yarded-lambs-1988/supplement-1076"].concentrate_kg_dm_per_day
    assert low == pytest.approx((1076 - (0.263 * 1076 - 38.8)) / 1000, abs=5e-4)
    assert high == 1.076


# ---- the form of the table -------------------------------------------------------------------
def test_every_row_says_what_is_assumed_and_where_from() -> None:
    assert len(TRIALS) == 39
    for t in TRIALS.values():
        assert len(t.what_is_assumed) > 10
        assert (t.source == "") == t.is_practice
        assert t.is_practice == t.trial.startswith("practice-")
        for feed in (t.forage_id, *(i for i, _ in t.concentrate)):
            assert feed in BOOK.feeds
        assert t.forage_kg_dm_per_day is None or t.how["forage"]
        assert t.weight_kg is None or t.how["weight"]
        has_analysis = t.forage_me_mj_per_kg_dm or t.forage_cp_g_per_kg_dm
        assert t.how["analysis"] == ("assumed" if has_analysis else "")  # none is in print


def test_wide_where_assumed_and_single_where_printed() -> None:
    for t in TRIALS.values():
        for span, how in (
            (t.weight_kg, t.how["weight"]),
            (t.forage_kg_dm_per_day, t.how["forage"]),
        ):
            if span is not None and how == "print":
                assert span[0] == span[1], t.key
            if span is not None and how == "assumed" and not t.is_practice:
                assert span[0] < span[1], t.key


ROW = {
    "trial": "t",
    "treatment": "a",
    "words": "w",
    "sheep_class": "ewe-lamb",
    "weight_kg_low": 30.0,
    "weight_kg_high": 30.0,
    "forage_feed_id": "hay-average",
    "forage_me_mj_per_kg_dm_low": 8.4,
    "forage_me_mj_per_kg_dm_high": 8.4,
    "forage_cp_g_per_kg_dm_low": 85.0,
    "forage_cp_g_per_kg_dm_high": 85.0,
    "forage_kg_dm_per_day_low": 0.7,
    "forage_kg_dm_per_day_high": 0.7,
    "mark": "print",
}


def row(**changes: Any) -> Row:
    return Row("trials.csv", 2, {**ROW, **changes})


@pytest.mark.parametrize(
    "changes",
    [
        {"weight_kg_low": 31.0},
        {"weight_kg_high": None},
        {"forage_kg_dm_per_day_low": None},
        {"observed_gain_g_per_day_low": 50.0},
        {"concentrate": "barley 0.3"},
        {"concentrate_kg_dm_per_day_low": 0.3, "concentrate_kg_dm_per_day_high": 0.3},
        {
            "concentrate": "barley 0.3 + soya-hipro 0.1",
            "concentrate_kg_dm_per_day_low": 0.1,
            "concentrate_kg_dm_per_day_high": 0.3,
        },
    ],
)
def test_a_row_that_contradicts_itself_is_refused(changes: dict[str, Any]) -> None:
    with pytest.raises(OutOfRange) as caught:
        trials.read([row(), row(**changes), row(**changes)])
    assert len(caught.value.problems) == 2  # every row at fault, the sound one not
    assert all(p.where == "trials.csv line 2" for p in caught.value.problems)


def test_a_row_that_says_too_little_is_not_predicted() -> None:
    (t,) = trials.read([row(weight_kg_low=None, weight_kg_high=None)])
    for standard in STANDARDS:
        got = trials.predict(t, BOOK, standard)
        assert not got.is_covered
        assert "live weight" in got.why_not
        assert not got.reaches((0.0, 1000.0))
        assert math.isnan(got.beyond_g_per_day((0.0, 0.0)))
    assert trials.intake_predictions(t, BOOK) == ()


# ---- predictions -----------------------------------------------------------------------------
def test_prediction_is_what_a_farm_would_be_told() -> None:
    """Through `needs.of` and `assess.assess`, at the middle of what is assumed, margin 1.00."""
    t = TRIALS["silage-lambs-2013/digestibility-70-concentrate-800"]
    batch = animals.batch(
        sheep_class="wether-lamb", weight_kg=36, gain_g_per_day=0, mature_weight_kg=75
    )
    for standard in STANDARDS:
        told = assess(needs.of(batch, standard, margin=1.0), trials.portions(t, BOOK))
        got = trials.predict(t, BOOK, standard)
        assert got.gain_energy_g_per_day == pytest.approx(told.gain_energy_g_per_day)
        assert got.gain_protein_g_per_day == pytest.approx(told.gain_protein_g_per_day)
        assert got.gain_g_per_day == pytest.approx(told.gain_without_margin_g_per_day)
        assert got.limited_by == told.limited_by
    hay, cubes = trials.portions(TRIALS["welsh-1971/concentrate-200"], BOOK)
    assert hay.kg_dm_per_head_day == pytest.approx(0.352)
    assert cubes.kg_dm_per_head_day == pytest.approx(0.174)
    assert (hay.feed["me_mj_per_kg_dm"], hay.feed["cp_g_per_kg_dm"]) == (8.5, 87.5)
    assert hay.feed.figure("me_mj_per_kg_dm").mark == "guess"  # assumed, and never called print


def test_energy_gain_worked_by_hand() -> None:
    """AFRC (1993) as remembered, worked here from its letters for the urea-straw ewe lambs."""
    t = TRIALS["urea-straw-ewe-lambs/maize-0"]
    weight, straw, soya, urea = 43.0, 0.929, 0.049, 0.016
    me = straw * (6.4 + 7.5) / 2 + soya * BOOK.feeds["soya-hipro"]["me_mj_per_kg_dm"]
    q = me / (straw + soya + urea) / 18.8
    km, kf = 0.35 * q + 0.503, 0.78 * q + 0.006
    em = 0.25 * (weight / 1.08) ** 0.75 + 0.0067 * weight
    k, b = km * math.log(km / kf), km / (km - kf)
    retained = b - 1 - b * math.exp(-k * me / em)
    by_hand = 1000 * retained * em / (2.1 + 0.45 * weight)
    got = trials.predict(t, BOOK, "AFRC 1993")
    assert got.gain_energy_g_per_day == pytest.approx(by_hand, abs=0.05)


@pytest.mark.parametrize("standard", STANDARDS)
def test_band_holds_the_middle_and_closes_when_nothing_is_open(standard: str) -> None:
    for t in WITH_GAIN:
        p = trials.predict(t, BOOK, standard)
        if p.is_covered:
            assert p.low_g_per_day <= p.gain_g_per_day <= p.high_g_per_day, t.key
            assert p.gain_g_per_day == min(p.gain_energy_g_per_day, p.gain_protein_g_per_day)
        else:
            assert p.why_not, t.key
    (known,) = trials.read([row()])
    p = trials.predict(known, BOOK, standard)
    assert p.low_g_per_day == p.gain_g_per_day == p.high_g_per_day


@pytest.mark.parametrize("standard", STANDARDS)
@given(
    weight=st.floats(18, 50),
    me=st.floats(7.0, 10.5),
    hay=st.floats(0.25, 1.0),
    trough=st.floats(0.0, 0.6),
    more=st.floats(0.005, 0.3),
    feed=st.sampled_from(["barley", "oats", "cubes-16", "beet-pulp-molassed-nuts", "soya-hipro"]),
)
def test_more_concentrate_never_lowers_the_gain_by_energy(
    standard: str, weight: float, me: float, hay: float, trough: float, more: float, feed: str
) -> None:
    (t,) = trials.read([row()])
    t = replace(
        t,
        weight_kg=(weight, weight),
        forage_me_mj_per_kg_dm=(me, me),
        forage_kg_dm_per_day=(hay, hay),
    )
    less, fuller = (
        trials.predict(
            replace(t, concentrate=((feed, kg),), concentrate_kg_dm_per_day=(kg, kg)),
            BOOK,
            standard,
        )
        for kg in (trough, trough + more)
    )
    if less.is_covered and fuller.is_covered:
        assert fuller.gain_energy_g_per_day >= less.gain_energy_g_per_day - 1e-6
    elif less.is_covered:  # a fuller trough may leave what is covered; it must say so
        assert fuller.why_not


@pytest.mark.parametrize("standard", STANDARDS)
@given(key=st.sampled_from([t.key for t in WITH_GAIN]), more=st.floats(0.01, 0.5))
def test_more_for_maintenance_never_raises_the_gain_by_energy(
    standard: str, key: str, more: float
) -> None:
    """But for half a gram: near the most that a diet can do AFRC's curve lies flat, and the most

    itself rises with maintenance.
    """
    book, dearer = (trials.predict(TRIALS[key], BOOK, standard, x) for x in (1.0, 1.0 + more))
    if book.is_covered and dearer.is_covered:
        assert dearer.gain_energy_g_per_day <= book.gain_energy_g_per_day + 0.5


@pytest.mark.parametrize("standard", STANDARDS)
@given(key=st.sampled_from([t.key for t in WITH_GAIN]), credit=st.floats(0.0, 0.3))
def test_recycled_nitrogen_never_lowers_the_gain_by_protein(
    standard: str, key: str, credit: float
) -> None:
    book, credited = (trials.predict(TRIALS[key], BOOK, standard, 1.0, x) for x in (0.0, credit))
    if book.is_covered:
        assert credited.gain_protein_g_per_day >= book.gain_protein_g_per_day - 1e-9
        assert credited.gain_energy_g_per_day == book.gain_energy_g_per_day


def test_what_is_outside_a_standard_is_not_stretched() -> None:
    (t,) = trials.read([row()])
    for standard in STANDARDS:
        heavy = trials.predict(replace(t, weight_kg=(95.0, 95.0)), BOOK, standard)
        assert heavy.gain_g_per_day is None
        assert "95 kg" in heavy.why_not
    # a band that reaches past what is covered keeps the part that is covered
    wide = trials.predict(replace(t, weight_kg=(40.0, 60.0)), BOOK)
    assert wide.is_covered
    assert wide.high_g_per_day == wide.gain_g_per_day or wide.high_g_per_day > wide.gain_g_per_day


def test_a_slip_in_the_question_is_raised_and_not_called_a_miss() -> None:
    (t,) = trials.read([row()])
    with pytest.raises(UnknownName):
        trials.predict(t, BOOK, "AFRC 1893")
    with pytest.raises(UnknownName):
        trials.predict(replace(t, forage_id="hey"), BOOK)
    for switch in ((0.1, 0.0), (math.nan, 0.0), (1.0, 0.9), (1.0, -0.1)):
        with pytest.raises(InputError):
            trials.predict(t, BOOK, "AFRC 1993", *switch)


def test_gain_added_counts_what_the_trough_displaces() -> None:
    t = TRIALS["practice-trough/concentrate-225"]
    assert t.forage_alone_kg_dm_per_day == 0.70
    got = trials.predict_extra(t, BOOK)
    undisplaced = trials.predict_extra(replace(t, forage_kg_dm_per_day=(0.70, 0.70)), BOOK)
    assert got.gain_g_per_day < undisplaced.gain_g_per_day
    # without trough feed there is nothing to add
    alone = trials.predict_extra(TRIALS["practice-hay-alone/fair"], BOOK)
    assert not alone.is_covered
    assert alone.why_not


# ---- bias and error --------------------------------------------------------------------------
def test_summary_by_hand() -> None:
    (t,) = trials.read([row(observed_gain_g_per_day=100.0)])
    usual = replace(t, mark="practice")

    def p(standard: str, gain: float | None, low: float | None, high: float | None) -> Prediction:
        return Prediction(standard, 1.0, 0.0, gain, gain, gain, low, high)

    told = [
        (t, p("A", 130.0, 90.0, 150.0)),  # 30 over, inside
        (t, p("A", 60.0, 50.0, 80.0)),  # 40 under, 20 outside
        (t, p("B", None, None, None)),
        (usual, p("A", 999.0, 0.0, 999.0)),  # practice is no measurement
    ]
    first, second = trials.summary(told)
    assert (first.standard, first.n, first.within_band, first.not_covered) == ("A", 2, 1, 0)
    assert first.bias_g_per_day == pytest.approx(-5)
    assert first.mean_absolute_error_g_per_day == pytest.approx(35)
    assert first.mean_beyond_band_g_per_day == pytest.approx(10)
    assert (second.standard, second.n, second.not_covered) == ("B", 0, 1)
    assert second.bias_g_per_day is None
    assert trials.summary([]) == ()


@pytest.fixture(scope="module")
def done() -> job.Trialled:
    return job.run_trials()


def bias(found: tuple[trials.Summary, ...], standard: str = "AFRC 1993") -> float:
    (got,) = [s.bias_g_per_day for s in found if s.standard == standard]
    assert got is not None
    return got


def test_record_of_afrc(done: job.Trialled) -> None:
    """What this code computed, so that a change of a standard shows here; it proves no science."""
    (got,) = [s for s in done.sums if s.standard == "AFRC 1993"]
    assert (got.n, got.not_covered) == (12, 0)
    assert got.bias_g_per_day == pytest.approx(9.7, abs=0.5)
    assert got.mean_absolute_error_g_per_day == pytest.approx(65.2, abs=0.5)
    assert got.within_band == 4


@pytest.mark.parametrize("standard", STANDARDS)
def test_miss_poor_forage_is_expected_to_do_worse_than_it_did(
    done: job.Trialled, standard: str
) -> None:
    """A miss: on hay or straw alone each standard expects less than every trial it covers saw."""
    mine = [(t, p) for t, p in done.told if trials.basis(t, BOOK) == HAY and p.is_covered]
    mine = [(t, p) for t, p in mine if p.standard == standard]
    assert 2 <= len(mine) <= 3
    for t, p in mine:
        assert p.gain_g_per_day < t.gain_g_per_day[0]
        assert p.beyond_g_per_day(t.gain_g_per_day) < 0  # and no assumption of the row mends it
    assert bias(done.by_basis[HAY], standard) < -30


@pytest.mark.parametrize("standard", STANDARDS)
def test_miss_silage_is_expected_to_do_better_than_it_did(
    done: job.Trialled, standard: str
) -> None:
    """A miss: on silage with trough feed each standard expects more than all five saw."""
    mine = [x for x in done.told if trials.basis(x[0], BOOK) == SILAGE]
    mine = [(t, p) for t, p in mine if p.standard == standard]
    assert len(mine) == 5
    assert all(p.gain_g_per_day > t.gain_g_per_day[0] for t, p in mine)
    assert bias(done.by_basis[SILAGE], standard) > 30


def test_miss_welsh_lambs_on_hay_are_expected_to_stand_still() -> None:
    """P-S83, print: gains were above those the standards of the day expected for the ME eaten.

    The gains themselves are not on file. AFRC, too, has them lose or stand still on hay alone.
    """
    got = trials.predict(TRIALS["welsh-1971/hay-alone"], BOOK)
    assert got.gain_g_per_day < 10
    assert got.gain_energy_g_per_day < 20


def test_no_switch_mends_both_ends() -> None:
    """A-S13 (print): 40 to 53 % more for maintenance. It helps silage diets and harms poor forage."""
    book, dearer = job.run_trials(), job.run_trials(maintenance=1.4)
    credited = job.run_trials(recycled_n_share=0.15)
    for s in STANDARDS:
        assert bias(dearer.by_basis[SILAGE], s) < bias(book.by_basis[SILAGE], s)
        assert bias(dearer.by_basis[HAY], s) < bias(book.by_basis[HAY], s) < 0
    # the credit moves poor forage the right way, but little: energy binds there too
    assert bias(book.by_basis[HAY]) < bias(credited.by_basis[HAY]) < bias(book.by_basis[HAY]) + 10
    assert [s.words for s in book.switched] == [w for w, _, _ in job.SWITCHES]
    assert book.switched[0].sums == book.sums
    assert book.switched[1].sums == dearer.sums
    assert book.switched[2].sums == credited.sums


# ---- reality bands 1 to 5: common practice, no source, read across the trials above --------------
def by_name(t: Trial) -> dict[str, trials.Intake]:
    return {i.equation: i for i in trials.intake_predictions(t, BOOK)}


def practice(record_property: Record, *, is_miss: bool) -> None:
    record_property("published_origin", "practice")
    record_property("published_gap", is_miss)


def test_band_1_small_lambs_on_average_hay_eat_400_to_500_g(record_property: Record) -> None:
    """20-21 kg: 0.40 to 0.50 kg DM. The old equation misses low, the Australian one high."""
    practice(record_property, is_miss=True)
    expected = by_name(TRIALS["welsh-1971/hay-alone"])
    assert 0.30 < expected[trials.LONG_FEED].kg_dm_per_day < 0.40
    assert 0.50 < expected[trials.AUSTRALIAN].kg_dm_per_day < 0.70
    # the program's own share of live weight reaches the band, and its top is under 3 %
    low, high = (s * 20.8 for s in needs.INTAKE_SHARE_OF_WEIGHT)
    assert low <= 0.50 <= high or 0.40 <= low <= 0.50
    assert needs.INTAKE_SHARE_OF_WEIGHT[1] < 0.03


def test_band_1_poor_hay_is_not_eaten_at_3_percent_of_weight(record_property: Record) -> None:
    practice(record_property, is_miss=False)
    expected = by_name(TRIALS["welsh-1971-poor-hay/hay-alone"])
    assert expected[trials.LONG_FEED].high_kg_dm_per_day < 0.03 * 20
    assert expected[trials.LONG_FEED].low_kg_dm_per_day <= 0.287  # P-S130: the band reaches print
    assert expected[trials.LONG_FEED].high_kg_dm_per_day >= 0.287


def test_band_2_poor_hay_alone(record_property: Record) -> None:
    """-25 to +25 g a day. A miss by protein; by energy alone it is inside."""
    practice(record_property, is_miss=True)
    t = TRIALS["practice-hay-alone/poor"]
    assert t.gain_g_per_day == (-25, 25)
    got = trials.predict(t, BOOK)
    assert got.high_g_per_day < -25
    assert got.limited_by == RUMEN_LIMIT
    assert -25 <= got.gain_energy_g_per_day <= 25


def test_band_2_fair_hay_alone(record_property: Record) -> None:
    """20 to 60 g a day: the band of the prediction reaches it, its middle is at the low end."""
    practice(record_property, is_miss=False)
    t = TRIALS["practice-hay-alone/fair"]
    assert t.gain_g_per_day == (20, 60)
    got = trials.predict(t, BOOK)
    assert got.reaches(t.gain_g_per_day)
    assert got.gain_g_per_day == pytest.approx(20, abs=5)


def test_band_2_early_cut_hay_alone(record_property: Record) -> None:
    """60 to 100 g a day: reached by the band; the middle is over it, by energy."""
    practice(record_property, is_miss=True)
    t = TRIALS["practice-hay-alone/early-cut"]
    assert t.gain_g_per_day == (60, 100)
    got = trials.predict(t, BOOK)
    assert got.reaches(t.gain_g_per_day)
    assert 100 < got.gain_g_per_day < 120


def test_band_2_better_hay_does_better(record_property: Record) -> None:
    practice(record_property, is_miss=False)
    for standard in STANDARDS:
        gains = [
            trials.predict(TRIALS[f"practice-hay-alone/{x}"], BOOK, standard).gain_g_per_day
            for x in ("poor", "fair", "early-cut")
        ]
        assert gains == sorted(gains)


def test_band_3_what_the_trough_adds(record_property: Record) -> None:
    """40 to 80 g a day, never 150. AFRC is over it with protein as published: the cubes bring

    what the hay lacks. With 15 % credited for recycled nitrogen it is inside.
    """
    practice(record_property, is_miss=True)
    t = TRIALS["practice-trough/concentrate-225"]
    assert t.extra_gain_g_per_day == (40, 80)
    got = trials.predict_extra(t, BOOK)
    assert 80 < got.gain_g_per_day < 110
    assert got.reaches(t.extra_gain_g_per_day)
    assert 40 <= got.gain_energy_g_per_day <= 80
    assert 40 <= trials.predict_extra(t, BOOK, "AFRC 1993", 1.0, 0.15).gain_g_per_day <= 80
    for standard in STANDARDS:
        assert trials.predict_extra(t, BOOK, standard).high_g_per_day < 150


def test_band_4_substitution(record_property: Record) -> None:
    """0.5 to 0.6 on average hay, nearly 0 on very poor, about 1 on very good.

    The equation is inside on average hay, but leaves far too much of very poor hay; the line
    that "hay to appetite" is fed by was drawn through these and so meets them.
    """
    practice(record_property, is_miss=True)
    average, poor, good = (
        TRIALS[f"practice-substitution/{x}-hay"] for x in ("average", "very-poor", "very-good")
    )
    assert 0.5 <= trials.substitution_kg_per_kg(average, BOOK) <= 0.6
    assert trials.substitution_kg_per_kg(poor, BOOK) > 0.3  # a miss
    assert 0.8 <= trials.substitution_kg_per_kg(good, BOOK) <= 1.0
    line = trials.substitution_by_practice_kg_per_kg
    assert 0.5 <= line(average) <= 0.6
    assert line(poor) <= 0.1
    assert line(good) == pytest.approx(1.0)


def test_substitution_of_the_welsh_lambs(record_property: Record) -> None:
    """P-S83: 0.62, 0.57, 0.47, falling. The equation is near, but rises: it misses the fall."""
    record_property("published_origin", "derived")
    record_property("published_gap", True)
    got = [
        trials.substitution_kg_per_kg(TRIALS[f"welsh-1971/concentrate-{g}"], BOOK)
        for g in (100, 200, 400)
    ]
    assert got == sorted(got)
    for expected, seen in zip(got, (0.62, 0.57, 0.47), strict=True):
        assert expected == pytest.approx(seen, abs=0.16)


def test_substitution_is_what_the_equation_says_it_is() -> None:
    """Hay and trough feed together come to the equation's figure for the mixture, by hand."""
    t = TRIALS["welsh-1971/concentrate-200"]
    left = trials.substitution_kg_per_kg(t, BOOK)
    alone = afrc1993.coarse_intake_kg_dm_per_day(20.8, 8.5 / 18.8)
    hay, trough = alone - left * 0.174, 0.174
    md = (hay * 8.5 + trough * BOOK.feeds["cubes-16"]["me_mj_per_kg_dm"]) / (hay + trough)
    together = afrc1993.coarse_intake_kg_dm_per_day(20.8, md / 18.8)
    assert hay + trough == pytest.approx(together, abs=1e-9)
    # a trough that alone is over appetite leaves all the hay
    glut = replace(t, concentrate=(("cubes-16", 3.0),), concentrate_kg_dm_per_day=(3.0, 3.0))
    assert trials.substitution_kg_per_kg(glut, BOOK) == pytest.approx(alone / 3)


def fed_poor_hay(*trough: tuple[str, float]) -> float:
    """Gain of a lamb of 30 kg on the poor hay of practice with something beside it."""
    t = TRIALS["practice-hay-alone/poor"]
    kg = sum(x for _, x in trough)
    t = replace(t, concentrate=trough, concentrate_kg_dm_per_day=(kg, kg))
    gain = trials.predict(t, BOOK).gain_g_per_day
    assert gain is not None
    return gain


def test_band_5_rumen_protein_is_short_on_low_protein_hay(record_property: Record) -> None:
    """P-S130, P-S131: with barley alone little is won, with soya much more."""
    practice(record_property, is_miss=False)
    t = TRIALS["practice-hay-alone/poor"]
    assert trials.predict(t, BOOK).limited_by == RUMEN_LIMIT
    alone, barley, soya = (
        fed_poor_hay(),
        fed_poor_hay(("barley", 0.1)),
        fed_poor_hay(("soya-hipro", 0.1)),
    )
    assert alone < barley < soya
    assert barley - alone < 0.4 * (soya - alone)


def test_miss_no_equation_knows_that_protein_makes_them_eat(record_property: Record) -> None:
    """P-S130, print: soya raised the hay eaten from 287 to 412 g; the equations read no protein."""
    record_property("published_origin", "print")
    record_property("published_gap", True)
    t = TRIALS["welsh-1971-poor-hay/hay-alone"]
    richer = replace(t, forage_cp_g_per_kg_dm=(150.0, 150.0))
    assert trials.intake_predictions(t, BOOK) == trials.intake_predictions(richer, BOOK)
    assert TRIALS["welsh-1971-poor-hay/soya-25"].forage_kg_dm_per_day[0] > 1.4 * 0.287


# ---- appetite against print --------------------------------------------------------------------
def test_old_equation_of_long_feed_reads_low_on_hay(done: job.Trialled) -> None:
    """A miss: on average 19 % under what was eaten; right for straw and for silage of ripe grass."""
    errors = {
        t.key: i.error_share
        for t, expected in done.intakes
        for i in expected
        if i.equation == trials.LONG_FEED
    }
    assert set(errors) == {t.key for t in TRIALS.values() if t.is_intake_seen}
    assert len(errors) == 11
    assert -0.25 < sum(errors.values()) / len(errors) < -0.10
    assert errors["welsh-1971/straw-alone"] == pytest.approx(0, abs=0.10)
    assert errors["galway-wethers/hay"] < -0.2 < errors["galway-wethers/silage"]


def test_intake_is_compared_only_where_it_is_printed_or_follows() -> None:
    assert not TRIALS["store-wethers/concentrate-ad-lib"].is_intake_seen  # concentrate assumed
    assert not TRIALS["welsh-1971-poor-hay/soya-25"].is_intake_seen  # barley assumed
    for t in TRIALS.values():
        assert bool(trials.intake_predictions(t, BOOK)) == t.is_intake_seen, t.key
    grown = replace(TRIALS["galway-wethers/hay"], sheep_class="ewe")
    assert trials.intake_predictions(grown, BOOK) == ()


# ---- the command -----------------------------------------------------------------------------
def run(*words: str) -> Any:
    return CliRunner().invoke(command, list(words))


def test_words_first_sources_last(done: job.Trialled) -> None:
    got = run()
    assert got.exit_code == 0
    text = got.output
    flat = " ".join(text.split())
    for line in trials_report.verdicts(done.sums):
        assert line in flat
    assert "nitrogen that the sheep sends back to the rumen" in flat
    assert text.index("Why poor forage reads low") < text.index("by equation")
    sources = text.index("\nSources")
    assert sources > text.index("Forage left for each kg")
    for key in {t.source for t in TRIALS.values() if t.source} | {"A-S13", "A-S17", "A-S18"}:
        assert f"\n{key}: " in text[sources:]


def test_what_is_not_covered_is_told_with_its_reason(done: job.Trialled) -> None:
    flat = " ".join(run().output.split())
    missing = trials_report.not_covered(done.told)
    assert any("NRC 1985, lambs: barley straw alone: live weight 22.3 kg" in x for x in missing)
    assert all(line in flat for line in missing)


def test_one_standard_shows_energy_and_protein() -> None:
    got = run("--standard", "afrc-1993", "--maintenance", "1.4", "--recycled", "15 %")
    assert got.exit_code == 0
    assert "by energy" in got.output
    assert "maintenance x 1.4, recycled 15%" in " ".join(got.output.split())


def test_json_holds_the_same(done: job.Trialled) -> None:
    got = run("--json")
    assert got.exit_code == 0
    told = json.loads(got.output)
    assert told["standards"] == list(STANDARDS)
    assert len(told["gains"]) == 12 * len(STANDARDS)
    assert told["summary"][0]["bias_g_per_day"] == pytest.approx(done.sums[0].bias_g_per_day)
    assert told["margin"] == 1.0
    assert all(x["what_is_assumed"] for x in told["gains"])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--standard", "INRA"), "is not known"),
        (("--maintenance", "9"), "maintenance"),
        (("--maintenance", "nan"), "maintenance"),
        (("--recycled", "15"), "--recycled"),
        (("--recycled", "90 %"), "recycled"),
        (("--recycled", "lots"), "--recycled"),
    ],
)
def test_slips_are_told_in_one_line(words: tuple[str, ...], said: str) -> None:
    got = run(*words)
    assert got.exit_code == 1
    assert said in got.stderr
    assert len(got.stderr.strip().splitlines()) == 1


def test_a_users_own_trial_joins_in(tmp_path: Path) -> None:
    shipped = (tables.tables_folder() / "trials.csv").read_text(encoding="utf-8").splitlines()
    own = next(x for x in shipped if x.startswith("straw-lambs-2000,straw-alone,"))
    text = f"{shipped[0]}\n{own.replace('straw-lambs-2000', 'my-own', 1)}\n"
    (tmp_path / "trials.csv").write_text(text, encoding="utf-8")
    found = job.run_trials("AFRC 1993", overlays=[tmp_path])
    assert found.sums[0].n == 13
    (tmp_path / "trials.csv").write_text(text.replace("my-own", "My Own"), encoding="utf-8")
    with pytest.raises(InputError):
        job.run_trials("AFRC 1993", overlays=[tmp_path])


def test_portions_eaten_are_nothing_wasted() -> None:
    for t in WITH_GAIN:
        for p in trials.portions(t, BOOK):
            assert isinstance(p, Portion)
            assert p.waste_share == p.storage_loss_share == 0
