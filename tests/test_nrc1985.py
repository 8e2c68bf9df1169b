"""NRC (1985): rows against rows, terms against rows, lines, marks, and what is refused.

The numbers themselves are checked row by row in tests/published/nrc1985.csv. Here: what holds
over whole blocks of Table 1 (13 rows print, the rest remembered), and properties of the lines.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ration.errors import OutOfRange
from ration.standards import nrc1985

PUBLISHED = Path(__file__).parent / "published" / "nrc1985.csv"
GROWN = ("gimmer", "wether", "ewe")
DRY_ROWS = {
    "ewe-lamb": "replacement ewe lambs",
    "tup-lamb": "replacement ram lambs",
    "wether-lamb": "finishing lambs",
    "ewe": "flushing",
}
# class, state, lambs, block of the table
STATES = [
    *((c, None, 1.0, s) for c, s in DRY_ROWS.items()),
    ("ewe", "early gestation", 1.0, "early gestation"),
    ("ewe", "late gestation", 1.0, "late gestation 130-150 %"),
    ("ewe", "late gestation", 1.64, "late gestation 130-150 %"),
    ("gimmer", "late gestation", 1.65, "late gestation 180-225 %"),
    ("ewe", "lactation", 1.49, "lactation singles"),
    ("ewe", "lactation", 1.5, "lactation twins"),
    ("ewe-lamb", "early gestation", 1.0, "ewe lamb early gestation"),
    ("ewe-lamb", "late gestation", 1.0, "ewe lamb late gestation"),
]
SHEEP = st.sampled_from([(c, s, n) for c, s, n, _ in STATES])


def weights(sheep_class: str, state: str | None, lambs: float) -> tuple[float, float]:
    block = next(b for c, s, n, b in STATES if (c, s, n) == (sheep_class, state, lambs))
    rows = nrc1985.TABLE[block]
    return rows[0].weight_kg, rows[-1].weight_kg


def most_gain(sheep_class: str) -> float:
    """Gain that every row of the class allows."""
    return 1.25 * min(
        r.gain_g_per_day for r in nrc1985.TABLE[DRY_ROWS.get(sheep_class, "flushing")]
    )


# ---- the rows


def test_thirteen_rows_are_print_and_the_others_say_memory() -> None:
    by_mark = {
        mark: [
            (r.stage, r.weight_kg)
            for rows in nrc1985.TABLE.values()
            for r in rows
            if r.mark == mark
        ]
        for mark in ("print", "memory")
    }
    whole = [(stage, w) for stage in ("maintenance", "flushing") for w in (50, 60, 70, 80, 90)]
    assert sorted(by_mark["print"]) == sorted(
        [*whole, *(("early gestation", w) for w in (50, 60, 70))]
    )
    assert len(by_mark["memory"]) == 58
    assert set(nrc1985.STAGES) == {s for marks in by_mark.values() for s, _ in marks}


def test_every_print_row_is_checked_in_every_column() -> None:
    with PUBLISHED.open(encoding="utf-8", newline="") as file:
        checked = {r["inputs"] for r in csv.DictReader(file) if r["function"].endswith("row_value")}
    for rows in nrc1985.TABLE.values():
        for row in rows:
            for column in nrc1985.COLUMNS:
                cell = f'{{"stage": "{row.stage}", "weight_kg": {row.weight_kg:g}, "column": "{column}"}}'
                assert row.mark != "print" or cell in checked, cell


@pytest.mark.parametrize("stage", nrc1985.STAGES)
def test_rows_are_believable_and_rise_with_weight(stage: str) -> None:
    """A slip of a digit shows: feed rises with weight, and concentrations are those of feeds."""
    rows = nrc1985.TABLE[stage]
    assert len({r.weight_kg for r in rows}) == len(rows)
    for column in ("dm_kg_per_day", "tdn_kg_per_day", "me_mcal_per_day"):
        if stage == "replacement ewe lambs" and column != "dm_kg_per_day":
            continue  # their gain falls from 227 to 100 g faster than upkeep rises
        values = [getattr(r, column) for r in rows]
        assert values == sorted(values)
    for row in rows:
        assert 0.013 <= row.dm_share_of_weight <= 0.061
        assert 0.54 <= row.tdn_kg_per_day / row.dm_kg_per_day <= 0.82
        assert 87 <= row.cp_g_per_day / row.dm_kg_per_day <= 265
        assert 1.9 <= row.ca_g_per_day / row.dm_kg_per_day <= 8.2
        assert 1.4 <= row.p_g_per_day / row.dm_kg_per_day <= 3.9


def test_energy_of_the_remembered_rows_follows_their_tdn() -> None:
    """ME = 0.82 x 4.409 TDN to the printed 0.1 Mcal, but for six rows, three of them ram lambs."""
    off = {}
    for stage, rows in nrc1985.TABLE.items():
        if stage == "late lactation singles":
            continue  # the rows of 130 to 150 % over again: the book prints them once
        for row in rows:
            me = nrc1985.me_mcal_from_de(nrc1985.de_mcal_from_tdn(row.tdn_kg_per_day))
            if row.mark == "memory" and abs(me - row.me_mcal_per_day) > 0.05:
                off[stage, row.weight_kg] = abs(me - row.me_mcal_per_day)
    rams = {key for key in off if key[0] == "replacement ram lambs"}
    assert rams == {("replacement ram lambs", w) for w in (40, 60, 80)}
    assert off.keys() - rams == {
        ("early gestation", 90),
        ("late gestation 130-150 %", 90),
        ("late gestation 180-225 %", 70),
    }
    assert max(off[key] for key in off.keys() - rams) < 0.1
    assert max(off.values()) < 0.15


def test_late_lactation_rows_are_those_of_130_to_150_percent_at_45_grams() -> None:
    late, lambing = (
        nrc1985.TABLE[f"late {s}"] for s in ("lactation singles", "gestation 130-150 %")
    )
    for one, other in zip(late, lambing, strict=True):
        assert (one.gain_g_per_day, other.gain_g_per_day) == (45, 180)
        for column in nrc1985.COLUMNS[1:]:
            assert getattr(one, column) == getattr(other, column)


def test_mj_of_tdn_by_hand() -> None:
    """0.55 kg TDN: 2.42 Mcal DE, 1.99 Mcal ME, 8.32 MJ; 15.1 MJ ME in a kilogram."""
    me = nrc1985.me_mcal_from_de(nrc1985.de_mcal_from_tdn(0.55))
    assert 4.184 * me == pytest.approx(8.32, abs=0.005)
    assert 4.184 * me / 0.55 == pytest.approx(15.1, abs=0.05)


def test_intake_shares_of_replacement_ewe_lambs() -> None:
    """Remembered DM over live weight: 4.0, 3.5, 3.0, 2.5, 2.1 %."""
    shares = [r.dm_share_of_weight for r in nrc1985.TABLE["replacement ewe lambs"]]
    assert shares == pytest.approx([0.040, 0.035, 0.030, 0.025, 0.021], abs=0.0005)


def test_net_energy_equations_do_not_rebuild_the_table() -> None:
    """Why energy goes by the table: intake by the chain is up to a quarter over the printed one."""
    ratios = []
    for stage in ("maintenance", "flushing", "early gestation"):
        for row in nrc1985.TABLE[stage]:
            if row.mark != "print":
                continue
            nem, neg = nrc1985.net_energy_of_feed_mcal_per_kg_dm(
                row.me_mcal_per_day / row.dm_kg_per_day
            )
            gain = nrc1985.ne_gain_mcal_per_day(row.weight_kg, row.gain_g_per_day)
            dm = nrc1985.ne_maintenance_mcal_per_day(row.weight_kg) / nem + gain / neg
            ratios.append(dm / row.dm_kg_per_day)
    assert min(ratios) == pytest.approx(0.98, abs=0.005)
    assert max(ratios) == pytest.approx(1.25, abs=0.005)


# ---- protein: terms against rows


def test_terms_miss_the_two_lightest_replacement_rows_by_a_seventh() -> None:
    rows = nrc1985.TABLE["replacement ewe lambs"]
    misses = [
        nrc1985.cp_need_g_per_day(r.weight_kg, r.gain_g_per_day, r.dm_kg_per_day, "ewe-lamb")
        - r.cp_g_per_day
        for r in rows
    ]
    assert misses[:2] == pytest.approx([-24, -23], abs=0.5)
    assert misses[2:] == pytest.approx([4, 0, 1], abs=0.5)


def test_terms_miss_the_suspect_rapid_row_by_thirty_grams() -> None:
    row = nrc1985.TABLE["early weaned rapid"][-1]
    need = nrc1985.cp_need_g_per_day(
        row.weight_kg, row.gain_g_per_day, row.dm_kg_per_day, "wether-lamb", mature_weight_kg=95
    )
    assert row.weight_kg == 60
    assert need - row.cp_g_per_day == pytest.approx(-30, abs=0.5)


@pytest.mark.parametrize(
    ("state", "low", "high"), [("early gestation", 0.99, 1.03), ("late gestation", 1.03, 1.065)]
)
def test_terms_against_the_rows_of_ewe_lambs_in_lamb(state: str, low: float, high: float) -> None:
    for row in nrc1985.TABLE[f"ewe lamb {state}"]:
        own = row.gain_g_per_day - nrc1985.womb_gain_g_per_day("ewe-lamb", state)
        need = nrc1985.cp_need_g_per_day(
            row.weight_kg, own, row.dm_kg_per_day, "ewe-lamb", state, lambs=1.1
        )
        assert low <= need / row.cp_g_per_day <= high


def test_flushing_rows_come_out_of_the_terms() -> None:
    for row in nrc1985.TABLE["flushing"]:
        need = nrc1985.cp_need_g_per_day(row.weight_kg, 100, row.dm_kg_per_day, "ewe")
        assert need == pytest.approx(row.cp_g_per_day, abs=1e-9)


def test_grown_sheep_are_not_charged_for_the_first_ten_grams() -> None:
    at = [nrc1985.cp_need_line(60, g, "wether")[0] for g in (0, 10, 10.1, 100)]
    assert at[0] == at[1] < at[2] < at[3]
    in_lamb = [nrc1985.cp_need_line(60, g, "ewe", "early gestation")[0] for g in (0, 30, 31)]
    assert in_lamb[0] == in_lamb[1] < in_lamb[2]


def test_loss_in_milk_is_credited_a_tenth_of_a_gram_a_gram() -> None:
    holding, losing = (nrc1985.cp_need_line(70, g, "ewe", "lactation", 2)[0] for g in (0, -60))
    assert 0.561 * (holding - losing) == pytest.approx(6.0)


def test_milk_of_ones_own_takes_the_place_of_the_usual() -> None:
    usual = nrc1985.cp_need_line(70, 0, "ewe", "lactation", 1)[0]
    assert nrc1985.cp_need_line(70, 0, "ewe", "lactation", 1, 1.74)[0] == pytest.approx(usual)
    more = nrc1985.cp_need_line(70, 0, "ewe", "lactation", 1, 2.74)[0]
    assert 0.561 * (more - usual) == pytest.approx(47.875)


# ---- lines


@pytest.mark.parametrize(("sheep_class", "state", "lambs", "block"), STATES)
def test_lines_run_through_the_rows(
    sheep_class: str, state: str | None, lambs: float, block: str
) -> None:
    for row in nrc1985.TABLE[block]:
        own = row.gain_g_per_day - nrc1985.womb_gain_g_per_day(sheep_class, state, lambs)
        sheep: Any = (row.weight_kg, sheep_class, state, lambs)
        me = nrc1985.growing_me_mj_per_day(row.weight_kg, own, sheep_class, state, lambs)
        assert me == pytest.approx(4.184 * row.me_mcal_per_day)
        ca0, ca_per_g, p0, p_per_g = nrc1985.mineral_line(*sheep)
        assert ca0 + ca_per_g * own == pytest.approx(row.ca_g_per_day)
        assert p0 + p_per_g * own == pytest.approx(row.p_g_per_day)
        assert min(ca0, ca_per_g, p0, p_per_g) > 0
        # grown sheep at maintenance carry a row of their own
        if block != "flushing":
            assert nrc1985.dm_kg_per_day(*sheep) == row.dm_kg_per_day


@pytest.mark.parametrize("sheep_class", GROWN)
def test_grown_line_also_runs_through_maintenance(sheep_class: str) -> None:
    for row in nrc1985.TABLE["maintenance"]:
        me = nrc1985.growing_me_mj_per_day(row.weight_kg, 10, sheep_class)
        assert me == pytest.approx(4.184 * row.me_mcal_per_day)
        ca0, ca_per_g, p0, p_per_g = nrc1985.mineral_line(row.weight_kg, sheep_class)
        assert ca0 + 10 * ca_per_g == pytest.approx(row.ca_g_per_day, abs=0.11)
        assert p0 + 10 * p_per_g == pytest.approx(row.p_g_per_day, abs=0.05)


def test_a_ewe_holding_her_own_body_needs_more_the_nearer_she_is_to_lambing() -> None:
    """No gain of her own near lambing is the whole row, not the row less the womb's growth."""
    for weight in (50, 65, 90):
        dry, early, single, twins = (
            nrc1985.growing_me_mj_per_day(weight, 0, "ewe", state, lambs)
            for state, lambs in (
                (None, 1),
                ("early gestation", 1),
                ("late gestation", 1),
                ("late gestation", 2),
            )
        )
        assert dry < early < single < twins
        assert single > 1.5 * dry


def test_replacement_rows_ask_less_energy_than_csiro_equations() -> None:
    """At the rows' gains CSIRO asks 14 to 29 % more; at 40 kg and 100 g 11.8 MJ (derived)."""
    assert 0.80 < nrc1985.growing_me_mj_per_day(40, 100, "ewe-lamb") / 11.8 < 0.95


@given(sheep=SHEEP, at=st.floats(0, 1), low=st.floats(0, 1), high=st.floats(0, 1))
def test_needs_rise_with_gain(
    sheep: tuple[str, str | None, float], at: float, low: float, high: float
) -> None:
    lightest, heaviest = weights(*sheep)
    weight = lightest + at * (heaviest - lightest)
    low, high = (most_gain(sheep[0]) * g for g in sorted((low, high)))
    me = [nrc1985.growing_me_mj_per_day(weight, g, *sheep) for g in (low, high)]
    cp = [nrc1985.cp_need_line(weight, g, *sheep)[0] for g in (low, high)]
    assert 0 < me[0] <= me[1]
    assert 0 < cp[0] <= cp[1]
    if high - low > 1:
        assert me[0] < me[1]


@given(
    sheep_class=st.sampled_from(list(DRY_ROWS)),
    first=st.floats(0, 1),
    second=st.floats(0, 1),
    gain=st.floats(0, 100),
)
def test_energy_need_rises_with_weight(
    sheep_class: str, first: float, second: float, gain: float
) -> None:
    """Up to 60 kg for ewe lambs: the remembered 60 and 70 kg rows print the same ME."""
    lightest, heaviest = weights(sheep_class, None, 1.0)
    heaviest = min(heaviest, 60) if sheep_class == "ewe-lamb" else heaviest
    light, heavy = (lightest + x * (heaviest - lightest) for x in sorted((first, second)))
    needs = [nrc1985.growing_me_mj_per_day(w, gain, sheep_class) for w in (light, heavy)]
    assert needs[0] <= needs[1] + 1e-9


@given(sheep=SHEEP, at=st.floats(0, 1), share=st.floats(0, 1), loses=st.booleans())
def test_gain_and_need_turn_round(
    sheep: tuple[str, str | None, float], at: float, share: float, loses: bool
) -> None:
    lightest, heaviest = weights(*sheep)
    weight = lightest + at * (heaviest - lightest)
    gain = share * most_gain(sheep[0])
    if loses and sheep[1] == "lactation":
        gain = -200 * share
    me = nrc1985.growing_me_mj_per_day(weight, gain, *sheep)
    assert nrc1985.gain_from_me_g_per_day(weight, max(me, 0.0), *sheep) == pytest.approx(
        gain, abs=1e-6
    )
    cp = nrc1985.cp_need_g_per_day(weight, gain, 1.3, *sheep)
    back = nrc1985.gain_from_cp_g_per_day(weight, cp, 1.3, *sheep)
    free = {None: 10.0, "early gestation": 30.0}.get(sheep[1], 0.0) if sheep[0] == "ewe" else 0.0
    assert back == pytest.approx(max(gain, free) if gain >= 0 else gain, abs=1e-6)


def test_shortage_is_a_loss() -> None:
    assert nrc1985.gain_from_me_g_per_day(40, 5.0, "ewe-lamb") < 0
    assert nrc1985.gain_from_cp_g_per_day(40, 60.0, 1.0, "ewe-lamb") < 0
    assert nrc1985.gain_from_cp_g_per_day(60, 60.0, 1.0, "ewe") < 0


# ---- marks


def test_marks_tell_what_is_remembered() -> None:
    for sheep_class in GROWN:
        assert nrc1985.row_marks(sheep_class) == {"print"}
    assert nrc1985.row_marks("ewe", "early gestation") == {"print", "memory"}
    assert nrc1985.row_marks("ewe", "early gestation", 1.0, 65.0) == {"print"}
    assert nrc1985.row_marks("ewe", "early gestation", 1.0, 75.0) == {"print", "memory"}
    for sheep_class, state, lambs, _ in STATES:
        if state in ("late gestation", "lactation") or sheep_class.endswith("lamb"):
            assert "memory" in nrc1985.row_marks(sheep_class, state, lambs)
    assert "derived" in nrc1985.row_marks("ewe-lamb", None, 1.0, 40.0)
    assert "derived" not in nrc1985.row_marks("ewe-lamb", None, 1.0, 55.0)


# ---- what is refused


@pytest.mark.parametrize(
    ("sheep", "words"),
    [
        (
            (29.9, "ewe-lamb"),
            r"live weight 29.9 kg; NRC \(1985\) prints replacement ewe lambs from 30 to 70 kg",
        ),
        ((70.1, "ewe-lamb"), r"replacement ewe lambs from 30 to 70 kg \(remembered"),
        ((35, "ewe-lamb", "early gestation"), r"ewe lambs early in lamb from 40 to 70 kg"),
        ((49, "ewe"), r"grown ewes being flushed from 50 to 90 kg\."),
        ((39, "tup-lamb"), r"replacement ram lambs from 40 to 100 kg"),
        ((51, "wether-lamb"), r"finishing lambs from 30 to 50 kg"),
        ((40, "ewe-lamb", "lactation"), r"no row for ewe lambs in milk"),
        ((60, "tup"), r'class "tup"; NRC \(1985\) is held for ewe-lamb'),
        ((60, "wether", "lactation"), r"only females are in lamb"),
        ((60, "ewe", "tupping"), r'state "tupping"; it is none or early gestation'),
        ((60, "ewe", "lactation", 9), r"lambs a ewe 9; 0.5 to 5 is covered"),
    ],
)
def test_refusals_say_what_is_covered(sheep: Any, words: str) -> None:
    for line in (nrc1985.energy_line, nrc1985.mineral_line, nrc1985.dm_kg_per_day):
        if line is nrc1985.dm_kg_per_day and sheep[1:] == ("ewe",):
            continue  # its words are those of the maintenance rows
        with pytest.raises(OutOfRange, match=words):
            line(*sheep)


def test_gains_over_one_and_a_quarter_rows_are_refused() -> None:
    assert math.isfinite(nrc1985.growing_me_mj_per_day(40, 1.25 * 182, "ewe-lamb"))
    with pytest.raises(OutOfRange, match=r"gain at 40 kg 228 g/day; 0 to 227.5 g/day is covered"):
        nrc1985.growing_me_mj_per_day(40, 228, "ewe-lamb")
    with pytest.raises(OutOfRange, match=r"gain at 60 kg -1 g/day; 0 to 125 g/day"):
        nrc1985.growing_me_mj_per_day(60, -1, "ewe")
    with pytest.raises(OutOfRange, match=r"-200 to 125 g/day"):
        nrc1985.growing_me_mj_per_day(60, -201, "ewe", "lactation")
    with pytest.raises(OutOfRange, match=r"gain 126 g/day"):
        nrc1985.cp_need_line(60, 126, "ewe")


def test_names_of_the_table_are_listed_when_one_is_not_known() -> None:
    with pytest.raises(OutOfRange, match=r'stage "flush"; it is one of maintenance, flushing'):
        nrc1985.table_row_value("flush", 50, "cp_g_per_day")
    with pytest.raises(OutOfRange, match=r'column "cp"; it is one of gain_g_per_day'):
        nrc1985.table_row_value("flushing", 50, "cp")


def test_no_protein_of_gain_near_the_grown_size_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"leaves none so near the grown size"):
        nrc1985.cp_need_line(95, 50, "tup-lamb", mature_weight_kg=60)
    assert nrc1985.cp_need_line(95, 0, "tup-lamb", mature_weight_kg=60)[0] > 0


HOSTILE: list[Any] = [math.nan, math.inf, -math.inf, -1, 0, 1e308, 10**400, "40 kg", None, [40]]


@pytest.mark.parametrize("hostile", HOSTILE, ids=[repr(h)[:12] for h in HOSTILE])
def test_hostile_numbers_are_refused(hostile: Any) -> None:
    for sheep_class, state, lambs, _ in STATES:
        sheep = (sheep_class, state, lambs)
        for call in (
            lambda w, s=sheep: nrc1985.energy_line(w, *s),
            lambda w, s=sheep: nrc1985.mineral_line(w, *s),
            lambda w, s=sheep: nrc1985.dm_kg_per_day(w, *s),
            lambda w, s=sheep: nrc1985.growing_me_mj_per_day(w, 0, *s),
            lambda w, s=sheep: nrc1985.gain_from_me_g_per_day(w, 10, *s),
            lambda w, s=sheep: nrc1985.cp_need_line(w, 0, *s),
            lambda w, s=sheep: nrc1985.gain_from_cp_g_per_day(w, 100, 1, *s),
            lambda w, s=sheep: nrc1985.vitamin_a_iu_per_day(w, *s),
        ):
            with pytest.raises(OutOfRange):
                call(hostile)
    if hostile in (0, None):  # nothing eaten, no gain, and "not said" are answers elsewhere
        return
    for call in (
        lambda x: nrc1985.growing_me_mj_per_day(50, x, "ewe"),
        lambda x: nrc1985.gain_from_me_g_per_day(50, x, "ewe"),
        lambda x: nrc1985.cp_need_line(50, x, "ewe"),
        lambda x: nrc1985.cp_need_line(50, 0, "ewe", "late gestation", x),
        lambda x: nrc1985.cp_need_line(50, 0, "ewe", "lactation", 1, x),
        lambda x: (
            nrc1985.cp_need_line(40, 0, "ewe-lamb", mature_weight_kg=x)
            and nrc1985.gain_energy_coefficient(x)
        ),
        lambda x: nrc1985.cp_need_g_per_day(50, 0, x, "ewe"),
        lambda x: nrc1985.vitamin_e_iu_per_day(x),
        lambda x: nrc1985.net_energy_of_feed_mcal_per_kg_dm(x),
        lambda x: nrc1985.de_mcal_from_tdn(x),
    ):
        with pytest.raises(OutOfRange):
            call(hostile)


@given(
    weight=st.floats(allow_nan=True, allow_infinity=True),
    gain=st.floats(-300, 600),
    sheep_class=st.sampled_from(["ewe-lamb", "tup-lamb", "wether-lamb", *GROWN, "tup", ""]),
    state=st.sampled_from([None, *nrc1985.STATES, "dry"]),
    lambs=st.floats(0, 6),
)
def test_any_question_gets_a_number_or_a_refusal(
    weight: float, gain: float, sheep_class: str, state: str | None, lambs: float
) -> None:
    for need in (
        lambda: nrc1985.growing_me_mj_per_day(weight, gain, sheep_class, state, lambs),
        lambda: nrc1985.cp_need_line(weight, gain, sheep_class, state, lambs)[0],
        lambda: nrc1985.mineral_line(weight, sheep_class, state, lambs)[0],
    ):
        try:
            answer = need()
        except OutOfRange as refusal:
            assert str(refusal)
        else:
            assert math.isfinite(answer)
