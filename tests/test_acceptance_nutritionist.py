"""Hafod Wrynach: the nutritionist's two laboratories against figures set beforehand.

The farm is invented; every expected figure is arithmetic on its inputs, worked by hand (origin: the
scenario's reference figures), unless a test says otherwise. The lines at which cautions are raised
are held against their published sources in `test_cautions`.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from ration import cautions, cli, demo, farm, jobs, needs
from ration.assess import assess
from ration.demo import hafod
from ration.faces import changes

FOLDER = Path(demo.__file__).parent
FARM = FOLDER / "hafod-wrynach.yaml"
BATCHES = ("Mules", "Texel crosses", "tup lambs")


@pytest.fixture(scope="module")
def done() -> hafod.Worked:
    return hafod.work(FOLDER)


@pytest.fixture(scope="module")
def after_by_each() -> jobs.MixedByEach:
    return jobs.mix_by_each(FARM, sheets=hafod.sheets_in(FOLDER))


def offer(read: farm.Farm, offer_id: str) -> farm.Offer:
    return next(o for o in read.offers if o.id == offer_id)


# ---------------------------------------------------------------- the two laboratories


def test_two_sheets_make_a_mean_with_its_error(done):
    # (7.4 + 8.4) / 2 = 7.9; of two figures the standard error is half their distance: 0.5
    hay = offer(done.retuned.result.farm, "hay").feed
    protein, energy = hay.figure("cp_g_per_kg_dm"), hay.figure("me_mj_per_kg_dm")
    assert (protein.value, protein.spread) == pytest.approx((79.0, 5.0))
    assert (energy.value, energy.spread) == pytest.approx((8.5, 0.2))
    assert hay["dm_g_per_kg_fresh"] == 860  # only the first laboratory says
    assert protein.mark == "lab"
    said = " ".join(hafod.sheet_words(done))
    assert "7.9 % protein give or take 0.5 % (book 10.5 %)" in said


def test_stock_of_haylage_by_the_book_and_by_the_sheet(done):
    # 46 bales x 540 kg x 0.60 = 14.9 t DM; x 0.51 = 12.7 t DM
    _, by_book, by_sheet = done.sheets["haylage"]
    assert by_book == pytest.approx(46 * 0.540 * 0.60)
    assert by_sheet == pytest.approx(46 * 0.540 * 0.51)
    assert "12.7 t of haylage dry matter, not the 14.9 t" in " ".join(hafod.sheet_words(done))


def test_sheets_named_in_a_run_and_in_the_file_come_to_the_same(done):
    # the farm file tells the reader to take the "#" off two lines
    text = FARM.read_text(encoding="utf-8")
    assert text.count("# analysis:") == 2
    named = farm.read_text(
        text.replace("# analysis:", "analysis:"), FARM.name, FOLDER, tables=done.retuned.tables
    )
    for own in ("hay", "haylage"):
        figures = offer(named, own).feed.figures
        assert figures == offer(done.retuned.result.farm, own).feed.figures


def test_a_sheet_may_be_given_alone_or_with_others():
    hay = {
        n: offer(jobs.read_farm(FARM, sheets={"hay": [FOLDER / f for f in files]})[0], "hay").feed[
            "cp_g_per_kg_dm"
        ]
        for n, files in ((1, hafod.FILES[2:3]), (2, hafod.FILES[2:4]))
    }
    assert hay == pytest.approx({1: 74.0, 2: 79.0})


# ---------------------------------------------------------------- the re-tune


def test_the_first_sheet_alone_moves_the_hay_from_105_to_74():
    # feature 12: hay protein 10.5 -> 7.4 %; the report lists what changed
    told = jobs.mix_file(FARM, batches=["Texel crosses"], sheets={"hay": FOLDER / hafod.FILES[2]})
    said = changes.what_changed_in_feeds(told.before, told.result)
    assert [s for s in said if s.startswith("Hay ")]
    assert "protein 7.4 % of DM (was 10.5)" in said[0]
    assert not any("aylage" in s for s in said)


def test_before_and_after_name_the_feeds_and_the_change_in_cost(done):
    before, after = done.retuned.before, done.retuned.result
    feeds = " ".join(changes.what_changed_in_feeds(before, after))
    for words in ("protein 7.9 % of DM (was 10.5)", "phosphorus 1.4 g/kg DM", "(was 60.0)"):
        assert words in feeds
    for old, new in zip(before.rations, after.rations, strict=True):
        said = changes.what_changed(old, new)
        assert "becomes" in said[0]
        assert "a head a day" in said[0]
        # wetter haylage and thinner hay cannot make a ration cheaper at unchanged prices a tonne
        assert new.cost_gbp_per_head_day > old.cost_gbp_per_head_day


def test_booked_cubes_are_all_still_fed_and_why_not_if_they_were_not_booked(done):
    # feature 12: 3.9 t contracted. What is owed anyway costs nothing more; 3.9 x 287 = 1,119.30
    for rations in (done.retuned.before, done.retuned.result):
        used = sum(
            f.t_fresh_for_winter for r in rations.rations for f in r.feeds if f.id == hafod.BOOKED
        )
        assert used == pytest.approx(3.9, rel=1e-4)
    said = " ".join(hafod.cube_words(done))
    assert "£1,119.30" in said
    assert "all of the 3.9 t is still fed" in said
    # at what they cost none is fed, and the reason is given: each batch's own worth is under it
    assert "none would be fed" in said
    for ration in done.sent_back.rations:
        line = next(f for f in ration.feeds if f.id == hafod.BOOKED)
        assert line.price_gbp_per_t_fresh == 287
        assert not line.is_used
        assert line.worth_gbp_per_t_fresh < 287
        assert f"£{line.worth_gbp_per_t_fresh:.2f}" in said


def test_no_batch_is_ever_given_the_cattle_nuts(done, after_by_each):
    for mixed in (*done.draft.by.values(), *after_by_each.by.values()):
        for ration in mixed.result.rations:
            assert "cattle-nuts" not in {f.id for f in ration.feeds}
            assert "cattle-nuts" in dict(ration.left_out)


# ---------------------------------------------------------------- by every standard


@pytest.mark.parametrize("batch", BATCHES)
@pytest.mark.parametrize("standard", list(needs.REGISTRY))
def test_every_standard_gives_a_proved_balanced_ration_or_says_why_not(
    done, after_by_each, standard, batch
):
    for told in (done.draft, after_by_each):
        if standard in told.refused:
            assert all(p.read for p in told.refused[standard].problems)
            continue
        mixed = told.by[standard]
        ration = next(r for r in mixed.result.rations if r.batch.name == batch)
        if not ration.is_found:
            assert ration.conflict is not None
            assert ration.conflict.members
            continue
        assert ration.proved_gap_share <= 1e-3
        # the books again from the feeds, by a reader of the farm who never saw the optimiser
        judge = needs.of_farm(mixed.result.farm, ration.batch)
        again = assess(judge, ration.assessment.portions)
        assert again.cost_gbp_per_head_day == pytest.approx(ration.cost_gbp_per_head_day, rel=1e-6)
        assert again.gain_g_per_day >= ration.batch.gain_g_per_day - 0.1
        for balance in again.balances:
            assert balance.need is not None
            assert balance.supply >= balance.need * (1 - 1e-6), balance.name


def test_no_mix_is_said_in_a_plain_line(done):
    # on book values CSIRO (2007) finds none for the tup lambs (seen when this was written)
    result = CliRunner().invoke(
        cli.main, ["mix", str(FARM), "--standard", "all", "--batch", "tup lambs"]
    )
    assert result.exit_code == 0, result.stderr
    none = [
        name
        for name, mixed in done.draft.by.items()
        for r in mixed.result.rations
        if r.batch.name == "tup lambs" and not r.is_found
    ]
    assert result.stdout.count("no mix will do") == len(none)


@pytest.mark.parametrize("standard", list(needs.REGISTRY))
def test_needs_in_lamb_rise_through_the_winter(done, standard):
    # at one weight and gain, so that only the lambs inside make the difference; NRC (1985) has two
    # stages and so steps once
    batch = next(b for b in done.retuned.result.farm.batches if b.name == "Mules")
    days = [20.0, 60.0, 100.0, 125.0, 139.0]
    asked = [
        needs.of(replace(batch, days_pregnant=d), standard).at(10.0).me_mj_per_day for d in days
    ]
    assert asked == sorted(asked)
    assert asked[-1] > asked[0] * 1.1
    on_the_line = [need[standard] for _, _, need in done.rising]
    assert on_the_line == sorted(on_the_line)
    assert [d for d, _, _ in done.rising] == [
        date(2026, 11, 16),
        date(2027, 1, 15),
        date(2027, 2, 25),  # 42 days before 8 April
        date(2027, 3, 31),
    ]


# ---------------------------------------------------------------- must fire, with their data

NOW, NEW = "fed", "retuned"
MUST_FIRE = {
    "copper-stop": (NOW, "Tup lambs: this ration has 17"),
    "wrong-stock": (NEW, "cattle nuts (cattle)"),
    "copper-breed": (NOW, "Texel cross sheep store copper"),
    "listeria-strong": (NEW, "haylage (ash 108 g, pH 5.6)"),
    "p-low-forage": (NEW, "hay (1.4)"),
    "p-short": (NOW, "phosphorus is short"),
    "urinary-ratio": (NOW, "Tup lambs: for males"),
    "lambing-countdown": (NEW, "lambing starts about 8 April"),
    "twin-lamb": (NOW, "Mules: in the last 42 days before lambing"),
    "low-protein": (NOW, "the ration has 79 g protein"),
}


@pytest.mark.parametrize("caution", MUST_FIRE)
def test_must_fire(done, caution):
    where, words = MUST_FIRE[caution]
    told = {c.id: c for c in getattr(done, where).cautions}
    assert words in told[caution].words
    assert told[caution].level == ("stop" if caution in ("copper-stop", "wrong-stock") else
                                   "note" if caution in ("p-low-forage", "lambing-countdown") else
                                   "warn")  # fmt: skip


def test_what_the_sheets_brought_is_silent_without_them(done):
    draft = {c.id for m in done.draft.by.values() for c in m.cautions}
    assert not draft & {"listeria", "listeria-strong", "p-low-forage"}
    fed = {c.id for c in jobs.assess_file(FARM).cautions}
    assert not fed & {"low-protein", "p-low-forage", "copper-stop"}


def edited(old: str, new: str) -> list[cautions.Caution]:
    """Cautions on what is fed now, with one line of the farm file changed."""
    text = FARM.read_text(encoding="utf-8").replace("# analysis:", "analysis:")
    assert text.count(old) == 1
    read = farm.read_text(text.replace(old, new), FARM.name, FOLDER)
    book = jobs.tables.load()
    return list(cautions.for_assessments(jobs.mix.assess_farm(read, book), read, book))


@pytest.mark.parametrize(
    ("old", "new", "gone"),
    [
        ("copper: 25 mg/kg fresh ", "copper: 6 mg/kg fresh ", {"copper-stop", "copper-breed"}),
        ("breed: Texel cross ", "breed: Cheviot ", {"copper-breed"}),
        ("class: tup lamb", "class: ewe lamb", {"urinary-ratio"}),
        ("tupped: 12 November 2026", "tupped: 1 February 2027", {"twin-lamb"}),
        ("    made for: cattle\n", "", {"wrong-stock"}),
    ],
)
def test_silent_when_the_datum_is_another(done, old, new, gone):
    raised = {c.id for c in done.fed.cautions}
    assert gone <= raised
    left = {c.id for c in edited(old, new)}
    assert not gone & left


# ---------------------------------------------------------------- what is told and printed


def test_the_mineral_table_names_what_nobody_knows(done):
    (found,) = done.minerals.batches
    assert found.batch.name == "Texel crosses"
    lines = {line.name: line for line in found.account.lines}
    for name in ("Selenium", "Cobalt", "Iodine", "Vitamin D"):
        assert lines[name].per_kg_dm is None
        assert set(lines[name].unknown) >= {"hay", "haylage"}
    assert "haylage" in lines["Copper"].unknown


def test_the_shepherd_is_told_to_stop_and_what_to_give(done):
    told = hafod.monday_words(done)
    assert told[0].startswith("Stop the cattle nuts today")
    until, once = (
        next(i for i, s in enumerate(told) if s.startswith(start))
        for start in ("Hold the haylage back", "If the vet lets you")
    )
    for lines in (told[until + 1 : until + 4], told[once + 1 : once + 4]):
        assert [s.split(":")[0] for s in lines] == ["- Mules", "- Texel crosses", "- Tup lambs"]
        assert all("in the trough" in s for s in lines)
    assert not any("haylage" in s for s in told[until + 1 : until + 4])


@pytest.fixture
def quick(done, monkeypatch):
    """The demo with its sums taken from the fixture, so that the printing alone is run."""
    monkeypatch.setattr(hafod, "work", lambda folder: done)


def test_demo_writes_runs_and_says_what_to_try(quick, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(cli.main, ["demo", "--farm", "hafod-wrynach"])
    assert result.exit_code == 0, result.stderr
    folder = tmp_path / "hafod-wrynach-demo"
    assert {p.name for p in folder.iterdir()} == set(hafod.FILES)
    for words in ("by three standards", "waits for the analysis", "the sheets come back",
                  "given now", "on Monday", "feeding trials", "Minerals of", "Now try:"):  # fmt: skip
        assert words in result.stdout
    assert not re.search(r"\b(nan|None|inf)\b|[{}]", result.stdout)
    mine = folder / "hafod-book.csv"
    mine.write_text("feed_id\n", encoding="utf-8")
    again = CliRunner().invoke(cli.main, ["demo", "--farm", "hafod-wrynach"])
    assert again.exit_code == 1
    assert mine.read_text(encoding="utf-8") == "feed_id\n"


def test_demo_as_json(quick, tmp_path):
    result = CliRunner().invoke(
        cli.main, ["demo", str(tmp_path / "x"), "--farm", "hafod-wrynach", "--json"]
    )
    assert result.exit_code == 0, result.stderr
    told = json.loads(result.stdout)
    assert set(told) == {"needs", "needs_rising", "draft", "sheets", "analysis", "words", "fed",
                         "trials", "minerals"}  # fmt: skip
    hay = next(s for s in told["sheets"] if s["feed"] == "hay")
    assert hay["measured"]["cp_g_per_kg_dm"] == {"value": 79.0, "standard_error": 5.0}


def test_demo_of_a_farm_there_is_not():
    result = CliRunner().invoke(cli.main, ["demo", "--farm", "hafod"])
    assert result.exit_code == 2
    assert "hafod-wrynach" in result.stderr
