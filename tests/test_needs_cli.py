"""`ration needs`, `ration mix --standard` and `ration assess --standard`, friendly and hostile.

What is held: each option moves what it should and is refused in one plain line when it is nonsense;
no figure is printed or put in JSON without a mark and a source; no standard is averaged with
another. Figures from outside the project carry their source in the test; the rest is arithmetic of
one command against another.
"""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from ration import cli, demo
from ration.standards import MARGINS
from ration.tables import load

STANDARDS = tuple(MARGINS)
FARM = Path(demo.__file__).parent / "quernhope.yaml"
LAMB = ("--weight", "35 kg", "--gain", "50 g")
EWE = ("--class", "ewe", "--weight", "70 kg", "--md", "11")
IN_LAMB = (*EWE, "--in-lamb", "126", "--litter", "9 kg", "--lambs", "2")
MARKS = {"print", "restated", "derived", "memory", "practice"}


def run(*args: str):
    return CliRunner().invoke(cli.main, list(args))


@cache
def told(*args: str) -> dict:
    result = run("needs", *args, "--json")
    assert result.exit_code == 0, result.stderr
    assert result.stderr == ""
    return json.loads(result.stdout)


@cache
def said(*args: str) -> str:
    result = run("needs", *args)
    assert result.exit_code == 0, result.stderr
    return " ".join(result.stdout.split())


def refusal(*args: str) -> str:
    """The one line on standard error of a command that is refused."""
    result = run(*args)
    assert result.exit_code == 1, (result.exit_code, result.stdout)
    assert result.stdout == ""
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1, lines
    assert "Traceback" not in lines[0]
    return lines[0]


# ---------------------------------------------------------------- which standard


@pytest.mark.parametrize("name", STANDARDS)
def test_each_standard_however_it_is_typed(name: str) -> None:
    plain = told(*LAMB, "--standard", name)
    assert plain["standard"] == name
    assert plain["margin"] == MARGINS[name]
    for typed in (name.lower(), name.replace(" ", "-"), f"  {name.lower().replace(' ', '  ')} "):
        assert told(*LAMB, "--standard", typed) == plain


def test_without_a_standard_it_is_afrc() -> None:
    assert told(*LAMB) == told(*LAMB, "--standard", "AFRC 1993")


@pytest.mark.parametrize("typed", ["all", "ALL", "All", " all "])
def test_all_is_each_by_itself_however_it_is_typed(typed: str) -> None:
    beside = told(*LAMB, "--standard", typed)
    assert list(beside["needs"]) == list(STANDARDS)
    for name in STANDARDS:
        assert beside["needs"][name] == told(*LAMB, "--standard", name)


@pytest.mark.parametrize(
    "typed", ["NRC", "AFRC 1994", "", "afrc1993", "all of them", "NRC 1985; x"]
)
def test_unknown_standard_names_those_there_are(typed: str) -> None:
    line = refusal("needs", *LAMB, "--standard", typed)
    assert all(name in line for name in STANDARDS)


def test_known_needs_by_their_sources() -> None:
    """Grown ewes of NRC-1985 Table 1, 70 kg at maintenance: 2.40 Mcal ME, 113 g CP at 1.2 kg DM.

    The printed row gains 10 g a day (N-S1, read in print on page 45).
    """
    ewe = told(*EWE, "--gain", "10 g", "--dmi", "1.2 kg", "--standard", "NRC 1985")
    assert ewe["me_mj_per_day"] == pytest.approx(2.40 * 4.184, abs=0.005 * 4.184)
    assert ewe["protein_g_per_day"] == pytest.approx(113, abs=1.0)


# ---------------------------------------------------------------- what is not covered


def test_tup_is_not_covered_by_nrc_and_the_others_still_speak() -> None:
    sheep = ("--class", "tup", "--weight", "50 kg", "--gain", "50 g")
    beside = told(*sheep, "--standard", "all")
    assert list(beside["needs"]) == ["AFRC 1993", "CSIRO 2007"]
    assert list(beside["refused"]) == ["NRC 1985"]
    assert "tup" in beside["refused"]["NRC 1985"]
    line = refusal("needs", *sheep, "--standard", "NRC 1985")
    assert 'class "tup"' in line
    words = said(*sheep, "--standard", "all")
    assert words.count("gives no needs here") == 1
    assert "NRC (1985) gives no needs here" in words


@pytest.mark.parametrize(
    ("sheep", "silent"),
    [
        (("--weight", "20 kg", "--gain", "20 g"), ["NRC 1985"]),  # lighter than its rows
        (("--class", "ewe", "--weight", "95 kg"), ["NRC 1985"]),  # heavier
        (("--weight", "35 kg", "--milk", "1 kg"), ["AFRC 1993", "NRC 1985"]),
        (
            ("--class", "ewe", "--weight", "70 kg", "--milk", "2 kg", "--gain", "-50 g"),
            ["CSIRO 2007"],
        ),
        (("--weight", "17 kg", "--gain", "240 g", "--md", "6"), ["AFRC 1993", "NRC 1985"]),
    ],
)
def test_those_that_cover_are_shown_and_each_other_is_one_line(
    sheep: tuple[str, ...], silent: list[str]
) -> None:
    beside = told(*sheep, "--standard", "all")
    assert list(beside["refused"]) == silent
    assert set(beside["needs"]) == set(STANDARDS) - set(silent)
    for name in silent:
        line = refusal("needs", *sheep, "--standard", name)
        assert "\n" not in beside["refused"][name]
        assert beside["refused"][name].split(":")[0] in line


def test_what_no_standard_covers_is_refused_once_or_by_each() -> None:
    assert refusal("needs", *LAMB, "--margin", "9", "--standard", "all").startswith("safety margin")
    result = run("needs", "--weight", "50kg", "--gain", "250g", "--md", "3", "--standard", "all")
    lines = result.stderr.strip().splitlines()
    assert result.exit_code in (0, 1)
    assert len(lines) <= 3


# ---------------------------------------------------------------- the options move what they should


@pytest.mark.parametrize("name", STANDARDS)
def test_margin_multiplies_energy_and_protein_and_nothing_else(name: str) -> None:
    bare, safe = (
        told(*LAMB, "--dmi", "0.9", "--standard", name, "--margin", m) for m in ("1", "1.2")
    )
    for need in ("me_mj_per_day", "protein_g_per_day"):
        assert safe[need] == pytest.approx(1.2 * bare[need])
    for need in ("ca_g_per_day", "p_g_per_day", "maintenance_me_mj_per_day"):
        assert safe[need] == bare[need]


@pytest.mark.parametrize("name", STANDARDS)
def test_maintenance_multiplies_standing_still(name: str) -> None:
    plain, more = (told(*LAMB, "--standard", name, "--maintenance", m) for m in ("1", "1.4"))
    assert more["maintenance_me_mj_per_day"] == pytest.approx(
        1.4 * plain["maintenance_me_mj_per_day"]
    )
    assert more["me_mj_per_day"] > plain["me_mj_per_day"]
    assert more["maintenance"] == 1.4


@pytest.mark.parametrize("name", STANDARDS)
def test_cold_is_added_whole_with_or_without_its_unit(name: str) -> None:
    plain = told(*LAMB, "--standard", name)["me_mj_per_day"]
    for typed in ("1.5 MJ", "1.5", "1.5mj", "1.5 MJ a day", "1.5 MJ ME/day"):
        cold = told(*LAMB, "--standard", name, "--cold", typed)
        assert cold["me_mj_per_day"] == pytest.approx(plain + 1.5)
        assert [f["per_day"] for f in cold["figures"] if "cold" in f["id"]] == [1.5]


@pytest.mark.parametrize("name", ["AFRC 1993", "CSIRO 2007"])
def test_walking_counts_and_none_at_all_is_less_than_the_place_allows(name: str) -> None:
    on_the_hill = (*LAMB, "--housing", "hill", "--standard", name)
    usual = told(*on_the_hill)["me_mj_per_day"]
    asked = [
        told(*on_the_hill, "--walk", walk, "--climb", climb)["me_mj_per_day"]
        for walk, climb in (("0 km", "0 m"), ("1 km", "0 m"), ("1 km", "100 m"), ("6 km", "300 m"))
    ]
    assert asked == sorted(asked)
    assert asked[0] < asked[1] < asked[2] < asked[3]
    assert asked[0] < usual  # nought kilometres are none walked, not the hill's usual


def test_walk_and_climb_read_units_alike() -> None:
    for walk, climb in (("3000 m", "0.1 km"), ("3km a day", "100 m a day"), ("3 KM", "100m")):
        assert told(*LAMB, "--walk", walk, "--climb", climb) == told(
            *LAMB, "--walk", "3 km", "--climb", "100 m"
        )
    mile = told(*LAMB, "--walk", "2 miles", "--climb", "300 ft")["me_mj_per_day"]
    # 1 mile is 1.609344 km, 1 ft 0.3048 m: Weights and Measures Act 1985
    same = told(*LAMB, "--walk", "3.218688 km", "--climb", "91.44 m")["me_mj_per_day"]
    assert mile == pytest.approx(same)


@pytest.mark.parametrize("name", STANDARDS)
def test_in_lamb_asks_more_late_and_more_for_twins(name: str) -> None:
    dry = told(*EWE, "--standard", name)
    early, late = (
        told(*EWE, "--in-lamb", day, "--litter", "9 kg", "--lambs", "2", "--standard", name)
        for day in ("60", "140")
    )
    assert dry["me_mj_per_day"] < early["me_mj_per_day"] < late["me_mj_per_day"]
    single = told(*EWE, "--in-lamb", "140", "--litter", "5 kg", "--lambs", "1", "--standard", name)
    assert single["me_mj_per_day"] < late["me_mj_per_day"]
    # at least one and a half times maintenance in the last weeks with twins: common practice,
    # no source
    assert late["me_mj_per_day"] > 1.5 * dry["me_mj_per_day"]


@pytest.mark.parametrize("state", [("--in-lamb", "126", "--litter", "9 kg"), ("--milk", "2 kg")])
@pytest.mark.parametrize("name", STANDARDS)
def test_calcium_and_phosphorus_near_lambing_are_never_those_of_a_dry_ewe(
    name: str, state: tuple[str, ...]
) -> None:
    """Printed in NRC-1985 Table 1 for 70 kg: 2.5 g Ca, 2.4 g P dry (N-S1).

    A lamb inside takes calcium and so does milk: every standard must ask over twice the dry ewe's
    calcium, and none may leave it out for want of an equation.
    """
    dry, now = (
        told(*EWE, *more, "--lambs", "2", "--standard", name)
        if more
        else told(*EWE, "--standard", name)
        for more in ((), state)
    )
    assert now["ca_g_per_day"] > 2 * dry["ca_g_per_day"]
    assert now["p_g_per_day"] > 1.5 * dry["p_g_per_day"]
    dry_nrc = told(*EWE, "--gain", "10 g", "--standard", "NRC 1985")
    assert now["ca_g_per_day"] > 2 * dry_nrc["ca_g_per_day"]


def test_without_a_litter_the_lambs_are_not_fed_for_and_it_says_so() -> None:
    sheep = (*EWE, "--in-lamb", "126")
    words = said(*sheep, "--standard", "all")
    assert "day 126 of pregnancy, the weight of her lambs not said" in words
    assert (
        "AFRC (1993) and CSIRO (2007): In lamb, but no litter weight is given: the lambs inside "
        "are not fed for." in words
    )
    assert "NRC (1985): Its rows go by lambs a ewe, and nobody has said how many: one" in words
    assert "nobody has said" not in said(*IN_LAMB, "--standard", "all")


def test_milk_is_fed_for_by_its_weight_and_says_where_it_is_not() -> None:
    one, two = (
        told(*EWE, "--milk", m, "--lambs", "1", "--standard", "all") for m in ("1 kg", "2 kg")
    )
    for name in ("AFRC 1993", "CSIRO 2007"):
        more = two["needs"][name]["me_mj_per_day"] - one["needs"][name]["me_mj_per_day"]
        # ewes' milk holds about 4.6 MJ a kg, used at 0.6 to 0.7: 6 to 8.5 MJ (from memory)
        assert 6 < more / MARGINS[name] < 8.5
    nrc = [t["needs"]["NRC 1985"] for t in (one, two)]
    assert nrc[0]["me_mj_per_day"] == nrc[1]["me_mj_per_day"]
    assert any("whatever the milk" in note for note in nrc[0]["notes"])
    assert nrc[0]["protein_g_per_day"] < nrc[1]["protein_g_per_day"]
    assert told(*EWE, "--milk", "2 kg a day", "--lambs", "1", "--standard", "all") == two


def test_recycled_nitrogen_moves_no_need_and_says_where_it_counts() -> None:
    plain, credited = told(*LAMB), told(*LAMB, "--recycled", "15 %")
    assert credited["protein_g_per_day"] == plain["protein_g_per_day"]
    assert any("moves no need" in note for note in credited["notes"])
    nrc = told(*LAMB, "--recycled", "15 %", "--standard", "NRC 1985")
    assert any("recycled nitrogen is not credited" in note for note in nrc["notes"])


def test_dry_matter_said_is_what_goes_with_intake_is_worked_at() -> None:
    for typed in ("900 g", "0.9", "0.9 kg", "0.9 kg a day"):
        assert told(*LAMB, "--dmi", typed)["dmi_kg_per_day"] == pytest.approx(0.9)
    more = told(*LAMB, "--dmi", "1.2")
    assert more["ca_g_per_day"] > told(*LAMB, "--dmi", "0.9")["ca_g_per_day"]
    assert any("1.20 kg DM is more than" in note for note in more["notes"])


# ---------------------------------------------------------------- marks, sources, units


SHOWN = [
    LAMB,
    (*LAMB, "--cold", "2", "--walk", "3 km", "--climb", "100 m", "--housing", "hill"),
    IN_LAMB,
    (*EWE, "--milk", "1.6 kg", "--lambs", "2", "--margin", "1.1"),
    ("--class", "wether-lamb", "--weight", "40 kg", "--gain", "100 g", "--maintenance", "1.4"),
]


@pytest.mark.parametrize("args", SHOWN, ids=" ".join)
def test_every_figure_in_json_has_unit_mark_and_source(args: tuple[str, ...]) -> None:
    sources = load().sources
    for need in told(*args, "--standard", "all")["needs"].values():
        assert {"energy", "protein", "calcium", "phosphorus", "dry matter"} <= {
            f["id"] for f in need["figures"]
        }
        for figure in need["figures"]:
            assert set(figure) == {"id", "unit", "per_day", "mark", "source"}
            assert figure["mark"] in MARKS
            assert re.fullmatch(r"(MJ ME|g|kg DM|IU)( (MP|CP|DPLS))?", figure["unit"])
            keys = [k for k in figure["source"].split(", ") if k]
            assert set(keys) <= set(sources), figure
            assert keys or figure["mark"] == "practice", figure
        # every number of the answer itself is one of the figures, or carries its unit in its name
        bare = {"q", "margin", "maintenance", "feeding_level"}
        for key, value in need.items():
            if isinstance(value, float) and key not in bare:
                assert re.search(r"_(mj|g|kg)_(dm_)?per_(day|kg_dm)(_min|_max)?$", key), key
        by_id = {f["id"]: f["per_day"] for f in need["figures"]}
        assert by_id["energy"] == need["me_mj_per_day"]
        assert by_id["protein"] == pytest.approx(need["protein_g_per_day"], rel=1e-12)
        assert by_id["calcium"] == pytest.approx(need["ca_g_per_day"])
        assert by_id["phosphorus"] == pytest.approx(need["p_g_per_day"])


def rows_of(text: str) -> list[list[str]]:
    """Rows of the first table: the lines between its rule and the next empty line."""
    lines = text.splitlines()
    at = next(i for i, line in enumerate(lines) if "───" in line)
    out = []
    for line in lines[at + 1 :]:
        if not line.strip():
            break
        out.append(re.split(r" {2,}", line.strip()))
    return out


@pytest.mark.parametrize("name", STANDARDS)
@pytest.mark.parametrize("args", SHOWN, ids=" ".join)
def test_every_printed_amount_stands_beside_how_it_is_known(
    args: tuple[str, ...], name: str
) -> None:
    text = run("needs", *args, "--standard", name).stdout
    amounts = [row for row in rows_of(text) if any(re.fullmatch(r"[\d.,]+", c) for c in row)]
    figures = told(*args, "--standard", name)["figures"]
    assert len(amounts) >= 8
    for row in amounts:
        words = " ".join(row)
        assert re.search("print|restated|derived|memory|practice", words), row
        if "practice" not in words:
            assert re.search(r"[A-Z]+-", words), row
    shown = [f for f in figures if ": " not in f["id"] or abs(f["per_day"]) > 5e-3]
    assert len([r for r in rows_of(text) if re.search(r"\d", " ".join(r[1:]))]) == len(shown)


@pytest.mark.parametrize("args", SHOWN, ids=" ".join)
def test_table_of_all_has_a_mark_beside_every_amount(args: tuple[str, ...]) -> None:
    text = run("needs", *args, "--standard", "all").stdout
    count = 0
    for row in rows_of(text):
        for cell, after in zip(row, [*row[1:], ""], strict=True):
            if re.fullmatch(r"[\d.,]+( (MP|CP|DPLS)| to [\d.]+)?", cell):
                count += 1
                assert after in MARKS, row
    assert count > 20


def test_differences_are_told_with_their_parts_and_not_averaged() -> None:
    beside = told(*LAMB, "--standard", "all")
    energies = [n["me_mj_per_day"] for n in beside["needs"].values()]
    words = said(*LAMB, "--standard", "all")
    mean = sum(energies) / len(energies)
    assert f"{mean:.2f}" not in {f"{e:.2f}" for e in energies}  # else the next line says nothing
    assert f"{mean:.2f}" not in words
    assert "not averaged" in words
    for d in beside["differences"]:
        assert f"{d['high_per_day']:.2f} {d['unit']}" in words
        if d["parts"]:
            assert sum(d["parts"].values()) == pytest.approx(d["high_per_day"] - d["low_per_day"])


def test_feed_into_lamb_is_said_of_afrc_only() -> None:
    assert "Feed into Lamb" in said(*LAMB)
    for name in ("NRC 1985", "CSIRO 2007"):
        assert "Feed into Lamb" not in said(*LAMB, "--standard", name)
    assert "Feed into Lamb" not in said(*LAMB, "--maintenance", "1.4")


# ---------------------------------------------------------------- nonsense


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--margin", "5"), "safety margin 5"),
        (("--margin", "nan"), "safety margin nan"),
        (("--margin", "-1"), "safety margin -1"),
        (("--maintenance", "3"), "maintenance multiplier 3"),
        (("--maintenance", "inf"), "maintenance multiplier inf"),
        (("--recycled", "50 %"), "recycled nitrogen 0.5"),
        (("--recycled", "0.1"), 'Write "10 %"'),
        (("--in-lamb", "150", "--litter", "8 kg"), "day of pregnancy 150"),
        (("--in-lamb", "nan"), "day of pregnancy nan"),
        (("--in-lamb", "-1"), "day of pregnancy -1"),
        (("--in-lamb", "100", "--litter", "60 kg"), "litter weight 60 kg"),
        (("--litter", "8 kg"), "no day of pregnancy"),
        (("--in-lamb", "100", "--litter", "8"), 'Write "8 kg"'),
        (("--lambs", "2"), "neither in lamb nor in milk"),
        (("--in-lamb", "100", "--lambs", "9"), "lambs a ewe 9"),
        (("--in-lamb", "100", "--milk", "1 kg"), "both in lamb and in milk"),
        (("--milk", "1 kg"), "Feed her as class ewe"),
        (("--milk", "9 kg"), "milk 9 kg"),
        (("--class", "wether-lamb", "--in-lamb", "100"), "a male is said to be in lamb"),
        (("--cold", "99"), "energy for cold 99 MJ"),
        (("--cold", "-3"), "cannot be below zero"),
        (("--cold", "3 kJ"), 'Write "3 MJ"'),
        (("--cold", "nan"), "must start with a number"),
        (("--walk", "3", "--climb", "0 m"), 'Write it like "3 km"'),
        (("--walk", "3 kg", "--climb", "0 m"), "km, m, miles or ft"),
        (("--walk", "90 km", "--climb", "0 m"), "walk 90 km a day"),
        (("--walk", "3 km"), "walk is said and climb is not"),
        (("--climb", "100 m"), "climb is said and walk is not"),
        (("--climb", "3 km", "--walk", "3 km"), "climb 3 km a day"),
        (("--md", "9 MJ/kg fresh"), "--md: "),
        (("--md", "2"), "diet energy 2 MJ/kg DM"),
        (("--md", "20"), "diet energy 20 MJ/kg DM"),
        (("--md", "abc"), "--md: "),
        (("--dmi", "0"), "--dmi: "),
        (("--dmi", "500"), "--dmi: "),
        (("--dmi", "abc"), "--dmi: "),
        (("--age", "middling"), "under or over"),
        (("--sex", "ram"), 'sex "ram"'),
        (("--class", "cow"), 'class "cow"'),
        (("--housing", "sky"), 'housing "sky"'),
        (("--mature-weight", "62"), 'Write "62 kg"'),
        (("--mature-weight", "300 kg"), "mature weight 300 kg"),
        (("--gain", "50"), 'Write "50 g/day"'),
        (("--gain", "-50 g"), "loss of weight"),
        (("--gain", "900 g"), "gain 900 g/day"),
        (("--weight", "1000 kg"), "15 to 55 kg"),
        (("--weight", "35"), 'Write "35 kg"'),
        (("--weight", ""), "weight is empty"),
    ],
)  # fmt: skip
def test_nonsense_is_refused_in_one_line_that_says_what_to_do(
    more: tuple[str, ...], words: str
) -> None:
    line = refusal("needs", *LAMB, *more)
    assert words in line
    assert line.endswith((".", "?"))


@pytest.mark.parametrize(
    "args",
    [
        ("needs", *LAMB, "--bogus"),
        ("needs", "--gain", "5 g"),
        ("needs", *LAMB, "--margin", "5 %"),
        ("needs", *LAMB, "--in-lamb", "soon"),
        ("mix", "--standard", "all"),
    ],
)
def test_command_typed_wrongly_is_exit_2(args: tuple[str, ...]) -> None:
    assert run(*args).exit_code == 2


def test_help_names_every_option_and_shows_examples() -> None:
    text = run("needs", "--help").output
    for option in (
        "--standard", "--margin", "--maintenance", "--recycled", "--in-lamb", "--litter", "--lambs",
        "--milk", "--cold", "--walk", "--climb", "--dmi", "--md", "--json",
    ):  # fmt: skip
        assert option in text
    assert "Examples:" in text
    assert '"all"' in text
    assert "all" not in run("assess", "--help").output.partition("--standard")[2].partition("\n")[0]


# ---------------------------------------------------------------- ration mix, ration assess


@cache
def mixed(*args: str) -> dict:
    result = run("mix", str(FARM), "--batch", "small", "--json", *args)
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


@pytest.mark.parametrize("name", STANDARDS)
def test_mix_by_a_standard_is_its_column_in_mix_by_all(name: str) -> None:
    alone, by = mixed("--standard", name.lower()), mixed("--standard", "ALL")
    assert alone["standard"] == name
    assert alone["margin"] == MARGINS[name]
    assert list(by["by"]) == list(STANDARDS)
    assert by["refused"] == {}
    (one,), (two,) = alone["batches"], by["by"][name]["batches"]
    assert one["cost_gbp_per_head_day"] == pytest.approx(two["cost_gbp_per_head_day"], rel=2e-6)
    assert one["gain_g_per_day"] >= one["target_gain_g_per_day"] * (1 - 1e-6)
    judged = {
        (j["made_by"], j["judged_by"]): j["gain_g_per_day"]
        for j in by["judged"]
        if j["batch"] == "small"
    }
    assert set(judged) == {(a, b) for a in STANDARDS for b in STANDARDS}
    assert judged[name, name] == pytest.approx(two["gain_g_per_day"], rel=1e-6)


def test_mix_without_a_standard_is_the_farms_own() -> None:
    own, afrc = mixed(), mixed("--standard", "AFRC 1993")
    assert own["standard"] == "AFRC 1993"
    assert own["batches"][0]["cost_gbp_per_head_day"] == pytest.approx(
        afrc["batches"][0]["cost_gbp_per_head_day"], rel=1e-9
    )


def test_mix_by_all_tells_costs_gains_cautions_and_how_it_was_proved() -> None:
    result = run("mix", str(FARM), "--batch", "small", "--standard", "all")
    assert result.exit_code == 0
    words = " ".join(result.stdout.split())
    for name in ("AFRC (1993)", "NRC (1985)", "CSIRO (2007)"):
        assert f"gain, says {name}" in words
    assert "not averaged" in words
    assert "proved cheapest, within" in words
    assert "0.0000%" not in words
    assert "This is arithmetic on the figures you entered." in words
    stops = run("mix", str(FARM), "--batch", "small").stdout.count("STOP")
    assert result.stdout.count("STOP") >= stops


def with_lines(tmp_path: Path, *swaps: tuple[str, str]) -> Path:
    text = FARM.read_text(encoding="utf-8")
    for old, new in (("quotes: quernhope-quotes.csv", ""), *swaps):
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "farm.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_mix_of_a_batch_that_is_not_there_is_refused_by_one_and_by_all() -> None:
    for standard in ("NRC 1985", "all"):
        line = refusal("mix", str(FARM), "--batch", "nope", "--standard", standard)
        assert '"nope" is not a batch' in line
        assert "strong, middle, small" in line


def test_mix_by_all_leaves_out_who_does_not_cover_a_class(tmp_path: Path) -> None:
    path = with_lines(
        tmp_path, ("  small:\n    head: 34", "  small:\n    class: tup\n    head: 34")
    )
    result = run("mix", str(path), "--batch", "small", "--standard", "all")
    assert result.exit_code == 0, result.stderr
    words = " ".join(result.stdout.split())
    assert 'NRC (1985) makes no ration here: small: class "tup"' in words
    line = refusal("mix", str(path), "--batch", "small", "--standard", "NRC 1985")
    assert line.startswith("small: ")


def test_mix_by_all_without_any_mix_is_exit_3_and_says_why(tmp_path: Path) -> None:
    path = with_lines(
        tmp_path,
        ("    weight: 32.4 kg\n    target: 42.0 kg", "    weight: 32.4 kg\n    gain: 249 g/day"),
    )
    result = run("mix", str(path), "--batch", "small", "--standard", "all")
    assert result.exit_code == 3, result.stdout[-2000:]
    words = " ".join(result.stdout.split())
    assert words.count("no mix will do: ") >= 2
    assert "nan" not in words


@pytest.mark.parametrize("name", STANDARDS)
def test_assess_by_each_standard(name: str) -> None:
    result = run("assess", str(FARM), "--standard", name, "--json")
    assert result.exit_code == 0, result.stderr
    (batch,) = json.loads(result.stdout)["batches"]
    kind = {"AFRC 1993": "MP", "NRC 1985": "CP", "CSIRO 2007": "DPLS"}[name]
    (protein,) = [b for b in batch["balances"] if b["name"] == "protein"]
    assert protein["unit"] == f"g {kind}"
    assert batch["margin"] == MARGINS[name]
    printed = run("assess", str(FARM), "--standard", name).stdout
    assert f"Method: {name}" in printed


def test_assess_by_all_is_refused_with_the_names() -> None:
    assert "there is AFRC 1993, NRC 1985, CSIRO 2007" in refusal(
        "assess", str(FARM), "--standard", "all"
    )
