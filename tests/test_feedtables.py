"""The shipped feed tables: their form, their counts, and cells against what the sources print."""

from __future__ import annotations

import csv
import json
import re
from collections import Counter

import pytest

from ration import tables
from ration.feeds import MARK_WORDS
from ration.tables.csvfile import read_rows

FOLDER = tables.tables_folder()
SCHEMAS = tables.schemas()
LOADED = tables.load()
RAW = {
    p.stem: list(csv.DictReader(p.read_text(encoding="utf-8").splitlines()))
    for p in FOLDER.glob("*.csv")
}
FILLED = [(i, n, g) for i, f in LOADED.feeds.items() for n, g in f.figures.items()]


# ---- form ------------------------------------------------------------------------------------
def test_descriptor_is_a_data_package() -> None:
    # Open Data Package and Table Schema standards (Open Knowledge Foundation): required
    # properties, names in lower case, types and constraints of the standard only.
    package = json.loads((FOLDER / "datapackage.json").read_text(encoding="utf-8"))
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", package["version"])
    assert {r["path"] for r in package["resources"]} == {p.name for p in FOLDER.glob("*.csv")}
    for resource in package["resources"]:
        assert re.fullmatch(r"[a-z0-9._-]+", resource["name"])
        fields = resource["schema"]["fields"]
        header = list(RAW[resource["name"]][0])
        assert [f["name"] for f in fields] == header
        for f in fields:
            assert f["type"] in ("string", "number", "integer")
            assert f["title"] and f["description"]
            assert set(f.get("constraints", {})) <= {
                "required",
                "unique",
                "enum",
                "minimum",
                "maximum",
                "pattern",
            }
        key = resource["schema"]["primaryKey"]
        assert set(key) <= set(header)
        for link in resource["schema"].get("foreignKeys", []):
            assert link["fields"] in header
            assert link["reference"]["fields"] in RAW[link["reference"]["resource"]][0]


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_table_fits_its_schema(name: str) -> None:
    assert read_rows(FOLDER / f"{name}.csv", SCHEMAS[name])


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_table_is_plain_csv(name: str) -> None:
    raw = (FOLDER / f"{name}.csv").read_bytes()
    assert not raw.startswith(b"\xef\xbb\xbf") and b"\r" not in raw and raw.endswith(b"\n")
    raw.decode("utf-8")


def test_marks_of_the_table_are_those_of_the_program() -> None:
    mark = next(f for f in SCHEMAS["analyses"].fields if f.name == "mark")
    assert set(mark.enum) == set(MARK_WORDS)


def test_nothing_wrong_or_doubtful() -> None:
    assert tables.check(FOLDER) == []


def test_no_private_place_is_named() -> None:
    for path in FOLDER.iterdir():
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"\.\./|localhost", text)


# ---- counts ----------------------------------------------------------------------------------
def test_seventy_feeds() -> None:
    assert len(LOADED.feeds) == 70


def test_counts_by_mark() -> None:
    # 887 cells were gathered: 229 print, 30 restated, 577 memory, 51 derived (6 of them from
    # atomic weights); two shares of non-protein nitrogen by definition make 889.
    marks = Counter(g.mark for _, _, g in FILLED)
    assert marks == {"print": 229, "restated": 30, "memory": 577, "derived": 53}
    assert sum(g.source == "F-C" for _, _, g in FILLED) == 6


@pytest.mark.parametrize(
    ("nutrient", "read", "memory"),
    [
        ("dm_g_per_kg_fresh", 39, 31),
        ("me_mj_per_kg_dm", 34, 34),
        ("cp_g_per_kg_dm", 40, 25),
        ("ca_g_per_kg_dm", 14, 51),
        ("p_g_per_kg_dm", 13, 50),
    ],
)
def test_counts_of_the_five_that_matter(nutrient: str, read: int, memory: int) -> None:
    marks = Counter(g.mark for _, n, g in FILLED if n == nutrient)
    assert (marks["print"] + marks["restated"], marks["memory"]) == (read, memory)


def test_readme_tells_the_same_counts() -> None:
    text = " ".join((FOLDER / "README.md").read_text(encoding="utf-8").split())
    marks = Counter(g.mark for _, _, g in FILLED)
    assert (
        f"Of the {len(FILLED)} figures {marks['print']} are print and {marks['restated']} " in text
    )
    assert f"{marks['memory']} memory (65 %), {marks['derived']} derived" in text
    assert round(100 * (marks["print"] + marks["restated"]) / len(FILLED)) == 29


# ---- origins ---------------------------------------------------------------------------------
def test_every_source_key_exists() -> None:
    keys = set(LOADED.sources)
    used = {r["source"] for t in RAW.values() for r in t if r.get("source")}
    text = "".join(r["range_and_disagreements"] + r["note"] for r in RAW["feeds"])
    text += "".join(r["note"] for r in RAW["analyses"])
    used |= set(re.findall(r"\b[AFNPW]-[SM]\d+b?\b", text))
    assert used - keys == set()
    assert not re.search(r"\[S\d", text)


def test_a_figure_is_never_better_than_its_source() -> None:
    for feed, nutrient, g in FILLED:
        source = LOADED.sources[g.source]
        assert g.mark == source.mark, (feed, nutrient)
        assert (g.mark == "memory") == g.source.startswith("F-M"), (feed, nutrient)


def test_every_derived_figure_says_how() -> None:
    assert all(g.note for _, _, g in FILLED if g.mark == "derived" and g.source == "F-D")


def test_spread_of_the_hays_is_marked_practice() -> None:
    with_spread = [(i, g) for i, _, g in FILLED if g.spread is not None]
    assert with_spread and all(
        LOADED.feeds[i].group == "hay" and "practice" in g.note for i, g in with_spread
    )


def test_missing_is_missing() -> None:
    feed = LOADED.feeds["hay-average"]
    assert feed.get("adin_g_n_per_kg_dm") is None
    zeros = {(i, n) for i, n, g in FILLED if g.value == 0}
    assert all(LOADED.feeds[i].group in ("mineral", "npn") for i, _ in zeros)


# ---- ranges ----------------------------------------------------------------------------------
def test_every_nutrient_has_a_range_for_any_group() -> None:
    assert {n for n, g in LOADED.ranges if g == "any"} == set(LOADED.nutrients)


def test_every_figure_lies_in_its_range() -> None:
    for feed, nutrient, g in FILLED:
        lo, hi = LOADED.range_of(nutrient, LOADED.feeds[feed].group)
        assert lo <= g.value <= hi, (feed, nutrient, g.value, lo, hi)


def test_printed_ranges() -> None:
    # Yan and Agnew 2004, 174 silages; straw: INRAE-CIRAD-AFZ (ash) and Victoria (ME 4-8), print.
    assert LOADED.range_of("me_mj_per_kg_dm", "silage") == (7.7, 13.6)
    assert LOADED.range_of("ash_g_per_kg_dm", "straw") == (24, 126)
    assert LOADED.range_of("me_mj_per_kg_dm", "straw") == (4, 8)


def test_guards_catch_the_common_slips() -> None:
    # Common practice, no source: CP in % or ME per kg fresh in the dry-matter column of hay,
    # moisture typed as dry matter, phosphate typed as phosphorus.
    for nutrient, group, slip in (
        ("cp_g_per_kg_dm", "hay", 10.6),
        ("dm_g_per_kg_fresh", "hay", 140),
        ("dm_g_per_kg_fresh", "hay", 86),
        ("ca_g_per_kg_dm", "hay", 5000),
        ("me_mj_per_kg_dm", "cereal", 1320),
        ("p_g_per_kg_dm", "hay", 0.25 / 1000),
    ):
        lo, hi = LOADED.range_of(nutrient, group)
        assert not lo <= slip <= hi, (nutrient, slip)


# ---- assumptions -----------------------------------------------------------------------------
def test_assumptions_match_a_feed_or_a_group() -> None:
    groups = {f.group for f in LOADED.feeds.values()}
    assert not groups & set(LOADED.feeds)
    assert {m for m, _ in LOADED.assumptions} <= groups | set(LOADED.feeds)


def needed(feed_id: str) -> tuple[str, ...]:
    """What a mix needs of a feed: no protein chemistry without protein, no oil without energy."""
    feed = LOADED.feeds[feed_id]
    always = (
        "dm_g_per_kg_fresh",
        "me_mj_per_kg_dm",
        "cp_g_per_kg_dm",
        "ca_g_per_kg_dm",
        "p_g_per_kg_dm",
    )
    protein = ("n_a_share", "n_b_share", "n_c_per_h", "adin_g_n_per_kg_dm")
    return (
        *always,
        *(protein if feed["cp_g_per_kg_dm"] else ()),
        *(("oil_g_per_kg_dm",) if feed["me_mj_per_kg_dm"] else ()),
    )


@pytest.mark.parametrize("feed_id", sorted(LOADED.feeds))
def test_every_feed_can_be_completed(feed_id: str) -> None:
    feed = LOADED.feeds[feed_id]
    figures = dict(feed.figures)
    for nutrient in needed(feed_id):
        if nutrient not in figures:
            guess = tables.assumed(feed, nutrient, LOADED)
            assert guess is not None, nutrient
            assert guess.mark in ("memory", "guess", "derived") and guess.note and guess.place
            lo, hi = LOADED.range_of(nutrient, feed.group)
            assert lo <= guess.value <= hi, (nutrient, guess)
            figures[nutrient] = guess
    if "n_a_share" in figures:
        assert figures["n_a_share"].value + figures["n_b_share"].value <= 1 + 1e-9
        assert figures["adin_g_n_per_kg_dm"].value * 6.25 <= feed["cp_g_per_kg_dm"]


def test_only_energy_protein_and_dry_matter_are_never_assumed_for_shipped_feeds() -> None:
    for feed in LOADED.feeds.values():
        assert {"dm_g_per_kg_fresh", "me_mj_per_kg_dm", "cp_g_per_kg_dm"} <= set(feed.figures)
        assert tables.assumed(feed, "me_mj_per_kg_dm", LOADED) is None
        assert tables.assumed(feed, "cu_mg_per_kg_dm", LOADED) is None


@pytest.mark.parametrize(
    ("feed_id", "a", "b", "c"),
    [
        ("oats", 0.69, 0.25, 0.35),
        ("beet-pulp-molassed-nuts", 0.30, 0.50, 0.06),
        ("cubes-16", 0.28, 0.60, 0.12),
        ("haylage", 0.59, 0.29, 0.05),
        ("urea", 1, 0, 0),
    ],
)
def test_remembered_degradability(feed_id: str, a: float, b: float, c: float) -> None:
    # Memory of AFRC-type tables (urea: by definition); guards the file, proves nothing.
    feed = LOADED.feeds[feed_id]
    got = [tables.assumed(feed, n, LOADED) for n in ("n_a_share", "n_b_share", "n_c_per_h")]
    assert [g.value for g in got if g] == [a, b, c]


def test_share_of_nitrogen_rule() -> None:
    # Straw: 15 % of the nitrogen; barley straw holds 42 / 6.25 = 6.72 g N/kg DM.
    got = tables.assumed(LOADED.feeds["straw-barley"], "adin_g_n_per_kg_dm", LOADED)
    assert got is not None and got.value == pytest.approx(0.15 * 6.72, abs=5e-4)


# ---- cells against what the source named in the row prints -------------------------------------
PRINTED = [
    # feed, nutrient, value as printed turned to our unit, half a unit of our last digit
    ("straw-wheat", "dm_g_per_kg_fresh", 903, 0.5, "F-S2"),
    ("straw-wheat", "cp_g_per_kg_dm", 39, 0.5, "F-S2"),
    ("straw-wheat", "ash_g_per_kg_dm", 66, 0.5, "F-S2"),
    ("barley", "fme_published_mj_per_kg_dm", 11.0, 0.05, "F-S3"),
    ("grass-young", "dm_g_per_kg_fresh", (150 + 200) / 2, 0.5, "F-S5"),
    ("grass-young", "me_mj_per_kg_dm", (11.5 + 12.5) / 2, 0.05, "F-S5"),
    ("grass-mature", "cp_g_per_kg_dm", (50 + 130) / 2, 0.5, "F-S5"),
    ("citrus-pulp", "cp_g_per_kg_dm", (45 + 70) / 2, 0.51, "F-S6"),
    ("citrus-pulp", "oil_g_per_kg_dm", (10 + 45) / 2, 0.51, "F-S6"),
    ("swedes", "me_mj_per_kg_dm", (12.5 + 13) / 2, 0.051, "F-S32"),
    ("beet-pulp-molassed-nuts", "me_mj_per_kg_dm", 10.84 / 0.90, 0.05, "F-S49"),
    ("soya-hipro", "cp_g_per_kg_dm", 480 / 0.89, 0.5, "F-S42"),
    ("soya-hipro", "ndf_g_per_kg_dm", 71 / 0.89, 0.5, "F-S42"),
    # Scientific Reports 2023 Table 1 [F-S28], printed fresh, at 88 % dry matter
    ("concentrate-research", "me_mj_per_kg_dm", 10.9 / 0.88, 0.05, "F-S28"),
    ("concentrate-research", "cp_g_per_kg_dm", 170 / 0.88, 0.5, "F-S28"),
    ("concentrate-research", "oil_g_per_kg_dm", 36.5 / 0.88, 0.5, "F-S28"),
    ("concentrate-research", "ndf_g_per_kg_dm", 208 / 0.88, 0.5, "F-S28"),
    ("concentrate-research", "starch_g_per_kg_dm", 229 / 0.88, 0.5, "F-S28"),
    ("concentrate-research", "sugar_g_per_kg_dm", 73.5 / 0.88, 0.5, "F-S28"),
    ("concentrate-research", "ash_g_per_kg_dm", 75.9 / 0.88, 0.5, "F-S28"),
    ("concentrate-research", "ca_g_per_kg_dm", 11.1 / 0.88, 0.05, "F-S28"),
    ("concentrate-research", "mg_g_per_kg_dm", 2.3 / 0.88, 0.05, "F-S28"),
    ("concentrate-research", "na_g_per_kg_dm", 4.5 / 0.88, 0.05, "F-S28"),
    ("concentrate-research", "erdp_published_g_per_kg_dm", 107 / 0.88, 0.5, "F-S28"),
    ("concentrate-research", "dup_published_g_per_kg_dm", 42.4 / 0.88, 0.5, "F-S28"),
]


@pytest.mark.parametrize(("feed_id", "nutrient", "printed", "within", "source"), PRINTED)
def test_cell_against_print(
    feed_id: str, nutrient: str, printed: float, within: float, source: str
) -> None:
    figure = LOADED.feeds[feed_id].figure(nutrient)
    assert figure.source == source and figure.mark in ("print", "restated")
    assert figure.value == pytest.approx(printed, abs=within)


# Standard atomic weights, IUPAC 2021 abridged (from memory; any chemistry book).
H, N, O, NA, MG, P, CL, CA, C = 1.008, 14.007, 15.999, 22.990, 24.305, 30.974, 35.45, 40.078, 12.011
BRUSHITE = CA + H + P + 4 * O + 2 * (2 * H + O)
MAP = N + 6 * H + P + 4 * O


@pytest.mark.parametrize(
    ("feed_id", "nutrient", "grams"),
    [
        ("dicalcium-phosphate", "ca_g_per_kg_dm", 1000 * CA / BRUSHITE),
        ("dicalcium-phosphate", "p_g_per_kg_dm", 1000 * P / BRUSHITE),
        ("monoammonium-phosphate", "p_g_per_kg_dm", 1000 * P / MAP),
        ("monoammonium-phosphate", "cp_g_per_kg_dm", 6.25 * 1000 * N / MAP),
        ("salt", "na_g_per_kg_dm", 1000 * NA / (NA + CL)),
        ("urea", "cp_g_per_kg_dm", 6.25 * 460),
    ],
)
def test_cell_from_atomic_weights(feed_id: str, nutrient: str, grams: float) -> None:
    figure = LOADED.feeds[feed_id].figure(nutrient)
    assert figure.source == "F-C" and figure.value == pytest.approx(grams, abs=0.6)


def test_pure_minerals_are_the_upper_ends_of_their_ranges() -> None:
    assert LOADED.range_of("ca_g_per_kg_dm", "mineral")[1] == pytest.approx(
        1000 * CA / (CA + C + 3 * O), abs=0.06
    )
    assert LOADED.range_of("mg_g_per_kg_dm", "mineral")[1] == pytest.approx(
        1000 * MG / (MG + O), abs=0.06
    )


@pytest.mark.parametrize("label", [14, 16, 18])
def test_cubes_are_the_label_turned_to_dry_matter(label: int) -> None:
    cubes = LOADED.feeds[f"cubes-{label}"]
    assert cubes["cp_g_per_kg_dm"] == pytest.approx(label * 10 / 0.87, abs=0.5)


def test_derived_fermentable_energy() -> None:
    # AFRC-1993 rule from memory: ME - 0.035 oil - 0.10 ME (silage), 0.05 ME (distillers' feeds).
    checked = 0
    for feed_id, nutrient, g in FILLED:
        if nutrient != "fme_published_mj_per_kg_dm" or g.mark != "derived":
            continue
        feed = LOADED.feeds[feed_id]
        cut = 0.10 if feed.group == "silage" else 0.05 if "distillers" in feed_id else 0.0
        oil = feed.get("oil_g_per_kg_dm")
        if oil is None:
            continue
        checked += 1
        expect = feed["me_mj_per_kg_dm"] * (1 - cut) - 0.035 * oil
        assert g.value == pytest.approx(expect, abs=0.06), feed_id
    assert checked == 40


@pytest.mark.parametrize(
    ("feed_id", "me", "how"),
    [("grass-deferred", 0.16 * 60, "DMD 65"), ("heather", 0.16 * 42, "0.16 times")],
)
def test_derived_energy(feed_id: str, me: float, how: str) -> None:
    figure = LOADED.feeds[feed_id].figure("me_mj_per_kg_dm")
    assert figure.value == pytest.approx(me, abs=0.05) and how in figure.note


def test_wheat_keeps_the_print_that_contradicts_it() -> None:
    # Givens, Deaville and Moss 1997, 74 wheats: a 0.169 (sd 0.038), c 0.128 per hour (sd 0.018).
    wheat = LOADED.feeds["wheat"]
    assert "0.169 (sd 0.038) [F-S38]" in wheat.figure("n_a_share").note
    assert "0.128 per hour (sd 0.018) [F-S38]" in wheat.figure("n_c_per_h").note
    assert wheat.figure("n_a_share").spread is None


def test_non_protein_nitrogen() -> None:
    # Definition: urea and ammonium nitrogen is no protein.
    marked = {i for i, n, g in FILLED if n == "npn_share_of_cp" and g.value == 1}
    assert marked == {"urea", "monoammonium-phosphate"}


def test_copper_of_wheat_distillers_grains_is_left_blank() -> None:
    # One merchant sheet warns of about 150 mg/kg [F-S9]; no figure may stand for it.
    assert LOADED.feeds["distillers-wheat"].get("cu_mg_per_kg_dm") is None
