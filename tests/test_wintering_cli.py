"""`ration wintering`: words, tables, JSON, the mix beside amounts by hand, exit codes.

The farm is the demo's (invented); reference figures are hand working. What is a tested sentence
holds a figure that is tested to the penny elsewhere.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner

from ration import farm as farms
from ration import mix, tables
from ration.cli.wintering import wintering as command
from ration.errors import InputError, ModelError
from ration.faces import wintering_json, wintering_report
from ration.jobs import wintering as jobs
from ration.winter import calendar
from ration.wintering import Amount, Terms, Way, Wintering

DEMO = Path(farms.__file__).parent.parent / "demo"
SECTION = re.search(
    r"^wintering:\n(?:[ #].*\n|\n)*", (DEMO / "quernhope.yaml").read_text(encoding="utf-8"), re.M
)[0]
TABLES = tables.load()
SMALL = """\
name: Upper Skarrendale
winter: {from: 28 October 2026, to: 2 April 2027}
class: ewe lamb
housing: shed
trough: 54 m
floor: 128 m2
assume: all
batches:
  strong: {head: 120, weight: 34 kg, gain: 20 g/day}
  small: {head: 64, weight: 30 kg, gain: 20 g/day}
feeds:
  hay-average: {would fetch: 110 /t}
  barley: {price: 211 /t}
  cubes-18: {price: 291 /t}
  limestone: {price: 120 /t}
"""
OUTDOORS = """\
outdoors:
  fleece: 60 mm
  shelter: wall
  typical weather:
    October: 8 C, 18 km/h, 4 mm
    November: 5 C, 18 km/h, 4 mm
    December: 3 C, 20 km/h, 5 mm
    January: 2 C, 22 km/h, 5 mm
    February: 2 C, 20 km/h, 4 mm
    March: 4 C, 18 km/h, 3 mm
    April: 6 C, 18 km/h, 3 mm
  grazing:
    28 October: 3.0 MJ
"""
BY_MIX = """\
wintering:
  wage: 13.48 /h
  value of a hogg: 110
  ways:
    in-bye: {feed: the mix, labour: 40 min a day, deaths: 3 %}
    shed: {feed: the mix, labour: 45 min a day, deaths: 1.5 %, waste: {hay: 5 %}}
"""


@pytest.fixture
def farm_file(tmp_path):
    def write(text: str) -> Path:
        path = tmp_path / "farm.yaml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def run(*args: object, code: int = 0) -> str:
    result = CliRunner().invoke(command, [str(a) for a in args])
    assert result.exit_code == code, result.output
    return " ".join(result.output.split())


@pytest.fixture(scope="module")
def by_hand():
    """The demo's section on a small farm, without the mix."""
    farm = farms.read_text(SMALL + SECTION, "farm.yaml", None, tables=TABLES)
    return jobs.compared(farm, farm.wintering, TABLES, with_mix=False)


# ---------------------------------------------------------------- the words


def test_the_first_words_are_the_answer(farm_file):
    out = run(farm_file(SMALL + SECTION), "--no-mix")
    assert (
        "At 95 p a week, away costs £33.90 a head: £2.31 more than in-bye, £11.96 less than housed."
        in out
    )
    assert "Hill is cheapest at £22.63 until its deaths pass 16 %" in out
    assert "44.4 p beside hill, 84.6 p beside in-bye and 148.6 p beside housed" in out
    assert out.index("Hill is cheapest") < out.index("keep 21.17") < out.index("Method:")


def test_beside_hill_is_cheapest_stands_the_welfare_line(by_hand):
    # hand working: 8 % of 184 is 15, 1.5 % is 3
    said = wintering_report.in_words(by_hand)
    at = next(i for i, line in enumerate(said) if "is cheapest" in line)
    welfare = next(i for i, line in enumerate(said) if "loses 15 of 184" in line)
    assert welfare - at <= 2
    assert "housed would lose 3" in said[welfare]
    assert "W-S69" in said[welfare]


def test_no_welfare_line_when_the_cheapest_way_loses_least():
    kind = Way("in-bye", "in-bye", 156, doses=Amount(1), deaths_share=0.01)
    hard = Way("hill", "hill", 156, doses=Amount(9), deaths_share=0.08)
    assert _compared(kind, hard).welfare is None


def _compared(*ways: Way, **more):
    farm = farms.read_text(SMALL, "farm.yaml", None, tables=TABLES)
    terms = Terms(wage_gbp_per_h=13.48, hogg_gbp=110)
    return jobs.compared(farm, Wintering(terms, ways), TABLES, with_mix=False, **more)


def test_a_cheapest_way_that_no_deaths_unseat_is_told_so():
    kind = Way("in-bye", "in-bye", 156, doses=Amount(1))
    dear = Way("shed", "shed", 156, doses=Amount(900))
    said = " ".join(wintering_report.in_words(_compared(kind, dear)))
    assert "its deaths do not bring shed before it" in said


def test_all_batches_are_wintered_when_no_head_is_said():
    assert _compared(Way("hill", "hill", 156), Way("shed", "shed", 156)).head == 184


def test_places_of_the_shed_are_those_of_the_floor(by_hand):
    named = {w.name: p for w, (p, _) in zip(by_hand.wintering.ways, by_hand.places, strict=True)}
    assert named == {"away": 110, "hill": None, "in-bye": None, "housed": 170}
    assert [(s.way, s.head) for s in by_hand.split.sent] == [("hill", 184)]
    assert [(s.way, s.head) for s in by_hand.split_without.sent] == [("in-bye", 184)]


def test_the_shed_checks_are_those_of_the_demo(by_hand):
    said = {c.id: c.words for c in by_hand.checks}
    assert "56.1 m" in said["trough"]
    assert "177 can eat at once" in said["trough"]
    assert "170 at 0.75" in said["floor"]
    assert "142 at 0.9" in said["floor"]
    # hand working: 0.85 kg x 156 d x 184 = 24.4 t
    assert said["store hay"].startswith("24.4 t of hay")
    assert set(said) >= {"group", "dung", "water", "straw", "store cubes"}
    assert by_hand.shed == "housed"


# ---------------------------------------------------------------- risk notes


def _notes(done) -> set[str]:
    return {n.id for n in done.notes}


def test_away_raises_its_notes_and_home_does_not(by_hand):
    assert _notes(by_hand) >= {
        "agreement", "moves", "fences", "scab and fluke", "lorries", "paid on", "back early",
        "keep seen",
    }  # fmt: skip
    home = _compared(Way("hill", "hill", 156, deaths_share=0.01),
                     Way("shed", "shed", 156, deaths_share=0.01))  # fmt: skip
    assert _notes(home) == set()


@pytest.mark.parametrize(("said", "is_told"), [(True, False), (False, True), (None, True)])
def test_rickets_is_told_unless_vitamin_d_is_given(said, is_told):
    away = Way("away", "away", 156, is_doses_with_vitamin_d=said)
    assert ("rickets" in _notes(_compared(away, Way("hill", "hill", 156)))) is is_told


def test_a_way_that_ends_before_the_winter_says_what_is_left_out():
    away = Way("away", "away", 123)
    (note,) = [n for n in _compared(away, Way("hill", "hill", 156)).notes if n.id == "short"]
    assert "123 of the winter's 156 days" in note.words


def test_trials_that_disagree_are_told_with_their_sources(farm_file):
    out = run(farm_file(SMALL + SECTION), "--no-mix")
    assert "Sources disagree" in out
    for part in ("7.3 kg heavier", "P-S121, print", "143 % after away", "P-S125, restated",
                 "P-S120, print", "P-S126, restated", "P-S108, restated"):  # fmt: skip
        assert part in out


def test_every_source_named_is_in_the_list_of_sources(by_hand):
    keys = {
        line.split(",", 1)[0]
        for line in (TABLES.folder / "sources.csv").read_text(encoding="utf-8").splitlines()
    }
    told = (*by_hand.notes, *by_hand.trials, *by_hand.checks, by_hand.welfare)
    named = {key for n in told for key in n.source.split("; ") if key}
    assert named
    assert named <= keys


# ---------------------------------------------------------------- JSON and options


def test_json_alone_with_units_in_every_key(farm_file):
    result = CliRunner().invoke(command, [str(farm_file(SMALL + SECTION)), "--no-mix", "--json"])
    assert result.exit_code == 0
    told = json.loads(result.stdout)
    assert told["cheapest"] == "hill"
    assert told["base"] == "housed"
    costs = {w["way"]: f"{w['gbp_per_head_wintered']:.2f}" for w in told["ways"]}
    assert costs == {"away": "33.90", "hill": "22.63", "in-bye": "31.59", "housed": "45.86"}
    keep = [f"{k['p_per_head_week']:.1f}" for k in told["most_for_keep"]]
    assert keep == ["44.4", "84.6", "148.6"]
    deaths = next(s for s in told["switching_values"] if s["id"] == "hill > deaths")
    assert deaths["then_cheapest"] == "in-bye"
    assert deaths["passes"] == pytest.approx(0.1615, abs=5e-5)
    assert {s["unit"] for s in told["switching_values"]} <= {
        "share", "share a year", "GBP/h", "GBP/head/week", "GBP/kg", "GBP/t", "GBP/head", "GBP",
        "kg", "kg/day", "h/day", "journeys", "t DM/ha",
    }  # fmt: skip
    assert told["feed_by_mix"] == []


def test_the_base_can_be_chosen_and_a_wrong_one_is_told(farm_file):
    path = farm_file(SMALL + SECTION)
    out = run(path, "--no-mix", "--base", "in-bye")
    assert "Leaving in-bye for away" in out
    assert "Leaving in-bye for in-bye" not in out
    assert "Leaving housed for" in run(path, "--no-mix", "--base", "shed")
    wrong = run(path, "--no-mix", "--base", "hil", code=1)
    assert '--base: "hil" is not a way of this farm' in wrong
    assert 'Did you mean "hill"?' in wrong


def test_a_farm_without_the_section_is_told_what_to_add(farm_file):
    out = run(farm_file(SMALL), code=1)
    assert 'there is no "wintering:" section' in out
    assert "ways:" in out


def test_faults_of_the_section_are_lines_and_exit_1(farm_file):
    broken = SECTION.replace("95 p a week", "95 p").replace("deaths: 2 %", "deaths: 200 %")
    result = CliRunner().invoke(command, [str(farm_file(SMALL + broken))])
    assert result.exit_code == 1
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 2
    assert all(re.match(r"farm\.yaml line \d+, wintering > ways > away > ", x) for x in lines)
    assert result.stdout == ""


def test_help_shows_examples():
    out = run("--help")
    assert "ration wintering quernhope.yaml --base in-bye" in out


def test_the_same_file_gives_the_same_bytes(farm_file):
    path = farm_file(SMALL + SECTION)
    assert run(path, "--no-mix", "--json") == run(path, "--no-mix", "--json")


# ---------------------------------------------------------------- prices from the farm, basis


def test_a_feed_without_a_price_is_charged_at_the_farms_own():
    ways = {"hill": {"feed": {"hay average": "0.5 kg for 100 days"}}, "shed": {}}
    text = SMALL + yaml.safe_dump({"wintering": {"ways": ways}})
    farm = farms.read_text(text, "farm.yaml", None, tables=TABLES)
    done = jobs.compared(farm, farm.wintering, TABLES, with_mix=False)
    # hand working: 0.5 kg x 100 d x 184 at 110 a tonne, 5.50 a head
    assert done.budgets[0].gbp_per_head == pytest.approx(5.50)


def test_by_heads_returned_a_deadly_way_loses_its_lead():
    # hand working: 20 over 0.75 is 26.67, 24 over 0.99 is 24.24
    hard = Way("hill", "hill", 156, doses=Amount(20), deaths_share=0.25)
    kind = Way("shed", "shed", 156, doses=Amount(24), deaths_share=0.01)
    farm = farms.read_text(SMALL, "farm.yaml", None, tables=TABLES)
    for basis, best in (("wintered", 0), ("returned", 1)):
        ways = Wintering(Terms(basis=basis), (hard, kind))
        assert jobs.compared(farm, ways, TABLES, with_mix=False).best == best


# ---------------------------------------------------------------- the mix


def by_periods(farm, place, waste=None):
    """Cost a head of a place: every batch and fortnight a farm of its own, mixed by itself."""
    total = 0.0
    for batch in farm.batches:
        for period in calendar.periods(farm.start, farm.end, farm.winter.period_days):
            then = calendar.batch_in(farm, replace(batch, housing=place), period)
            alone = replace(farm, batches=(then,), start=period.start, end=period.end)
            (ration,) = mix.mix(alone, TABLES, with_worth=False).rations
            total += ration.cost_gbp_per_head_day * period.days * batch.head
    return total / sum(b.head for b in farm.batches)


def test_ways_fed_by_the_mix_cost_what_the_mix_costs():
    farm = farms.read_text(SMALL + BY_MIX, "farm.yaml", None, tables=TABLES)
    done = jobs.compared(farm, farm.wintering, TABLES, with_mix=False)
    in_bye, shed = done.mixes
    gbp = by_periods(farm, "in-bye")
    assert in_bye.gbp_per_head == pytest.approx(gbp, rel=1e-6)
    assert done.budgets[0].gbp("feed: the mix") == pytest.approx(in_bye.gbp_per_head, rel=1e-9)
    assert "no grazing counted" in in_bye.words
    assert "waste of its own" in shed.words
    # walking out of doors asks for more than standing in a shed (AFRC-1993); what each of them
    # wastes differs, so the energy is compared, not the money
    needs = [sum(r.needs.me_mj_per_day for r in m.rations) for m in done.mixes]
    assert needs[0] > needs[1]


def test_waste_of_its_own_makes_the_mix_of_a_way_dearer():
    text = SMALL + BY_MIX
    costs = []
    for waste in ("5 %", "30 %"):
        changed = text.replace("hay: 5 %", f"hay: {waste}")
        farm = farms.read_text(changed, "farm.yaml", None, tables=TABLES)
        done = jobs.compared(farm, farm.wintering, TABLES, with_mix=False)
        costs.append(done.mixes[1].gbp_per_head)
    assert costs[1] > costs[0] * 1.05


@pytest.fixture(scope="module")
def grazed():
    """The demo's section with grazing and weather, the mix beside it."""
    farm = farms.read_text(SMALL + OUTDOORS + SECTION, "farm.yaml", None, tables=TABLES)
    return jobs.compared(farm, farm.wintering, TABLES)


def test_grazing_pays_part_of_the_mix_out_of_doors(grazed):
    by_way = {m.way: m for m in grazed.mixes}
    assert set(by_way) == {"hill", "in-bye", "housed"}  # away the host's grass feeds them
    bare = farms.read_text(
        SMALL + OUTDOORS.partition("  grazing:")[0] + BY_MIX, "farm.yaml", None, tables=TABLES
    )
    ungrazed = by_periods(bare, "in-bye")
    assert 0 < by_way["in-bye"].gbp_per_head < ungrazed
    assert by_way["hill"].gbp_per_head < by_way["in-bye"].gbp_per_head  # it has its own curve
    for name in ("hill", "in-bye"):
        cold = [r.assessment.batch.cold_me_mj_per_day for r in by_way[name].rations]
        assert max(cold) > 0
        assert any("they graze" in w for w in by_way[name].words)
    cold = [r.assessment.batch.cold_me_mj_per_day for r in by_way["housed"].rations]
    assert max(cold) == 0
    assert grazed.budgets[1].gbp_per_head == pytest.approx(22.6255, abs=5e-5)  # by hand, as it was


def test_grass_that_is_enough_alone_needs_no_feed():
    text = SMALL + OUTDOORS + BY_MIX
    head, _, _ = text.rpartition("wintering:")
    ways = """wintering:
  ways:
    in-bye:
      feed: the mix
      grazing:
        28 October: 15 MJ
        1 January: 15 MJ
        1 April: 15 MJ
    shed: {feed: the mix}
"""
    farm = farms.read_text(head + ways, "farm.yaml", None, tables=TABLES)
    told = jobs.compared(farm, farm.wintering, TABLES).mixes[0]
    assert told.gbp_per_head == 0
    assert told.rations == ()
    assert any("100 % of their energy" in w for w in told.words)


def test_curve_of_a_way_ends_at_new_year_in_bye_and_not_on_the_hill():
    text = (
        SMALL
        + """wintering:
  ways:
    in-bye: {feed: the mix, grazing: {28 October: 4 MJ}}
    hill: {feed: the mix, grazing: {28 October: 4 MJ}}
"""
    )
    farm = farms.read_text(text, "farm.yaml", None, tables=TABLES)
    in_bye, hill = farm.wintering.ways
    assert [mj for _, mj in in_bye.grazing] == [4.0, 0.0]
    assert [mj for _, mj in hill.grazing] == [4.0]
    for way in ("shed", "away"):
        with pytest.raises(InputError, match="grazing is said of a way"):
            farms.read_text(
                SMALL + f"wintering:\n  ways:\n    {way}: {{grazing: {{1 December: 3 MJ}}}}\n",
                "farm.yaml", None, tables=TABLES,
            )  # fmt: skip


def test_hill_without_grazing_said_has_no_mix_and_says_why():
    bare = re.sub(r"      grazing: .*\n(        .*MJ.*\n)+", "", SECTION)
    assert "grazing" not in bare
    farm = farms.read_text(SMALL + bare, "farm.yaml", None, tables=TABLES)
    told = next(m for m in jobs.compared(farm, farm.wintering, TABLES).mixes if m.way == "hill")
    assert told.gbp_per_head is None
    assert 'add "grazing:" to this way' in told.why_not


def test_a_way_fed_by_a_mix_that_cannot_be_is_an_error_and_beside_hand_fed_a_reason():
    poor = SMALL.replace("gain: 20", "gain: 240").replace("  barley: {price: 211 /t}\n", "")
    poor = poor.replace("  cubes-18: {price: 291 /t}\n", "")
    farm = farms.read_text(poor + BY_MIX, "farm.yaml", None, tables=TABLES)
    with pytest.raises(ModelError, match="no mix of the feeds on offer"):
        jobs.compared(farm, farm.wintering, TABLES)
    hand = farms.read_text(poor + SECTION, "farm.yaml", None, tables=TABLES)
    done = jobs.compared(hand, hand.wintering, TABLES)
    told = next(m for m in done.mixes if m.way == "housed")
    assert told.gbp_per_head is None
    assert "no mix of the feeds on offer" in told.why_not


def test_the_table_of_the_mix_is_printed(grazed, capsys):
    from rich.console import Console

    wintering_report.print_wintering(Console(width=100, no_color=True), grazed)
    out = " ".join(capsys.readouterr().out.split())
    assert "Feed by the cheapest safe mix" in out
    assert "With the mix in place of amounts by hand" in out
    told = wintering_json.wintering_json(grazed)["feed_by_mix"]
    assert {m["way"] for m in told} == {"hill", "in-bye", "housed"}
    assert all(m["by_mix_gbp_per_head"] > 0 for m in told)


def test_a_farm_file_that_is_not_there_is_told():
    with pytest.raises(InputError):
        jobs.wintering_file(Path("nowhere.yaml"))
