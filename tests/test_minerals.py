"""Minerals and vitamins: the table of what is published, the account, the supplement, the command.

Figures of the table are checked against what each named source prints (or restates), its check
values C10 to C20 among them; supplies, grams and turning points are worked by hand beside each test
from invented feeds.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from ration import animals, cautions, minerals, tables
from ration.assess import Balance, Portion
from ration.cli.minerals import minerals as command
from ration.errors import InputError, OutOfRange
from ration.faces import minerals_words as words
from ration.farm import words as farm_words
from ration.feeds import Feed, Figure
from ration.minerals import (
    COPPER,
    DIFFER,
    ENOUGH,
    MOLYBDENUM,
    OVER_BOOK,
    OVER_LAW,
    SHORT,
    UNKNOWN,
    WITHIN,
    MineralAccount,
    supplement_needed,
)
from ration.standards.copper import copper_absorption_share, stores_copper

BOOK = tables.load()
CA, P, MG, NA, K, S = (f"{e}_g_per_kg_dm" for e in ("ca", "p", "mg", "na", "k", "s"))
SE, ZN, MN, CO, I, FE = (f"{e}_mg_per_kg_dm" for e in ("se", "zn", "mn", "co", "i", "fe"))
VITAMINS = tuple(f"vitamin_{v}_iu_per_kg_dm" for v in "ade")
ALL = tuple(dict.fromkeys(m.nutrient for m in BOOK.minerals))
LAW = "EU law kept in GB"
DEMO = Path(__file__).parent.parent / "ration" / "demo" / "quernhope.yaml"


def feed(name: str, group: str = "hay", dm: float = 1000.0, **content: float) -> Feed:
    figures = {"dm_g_per_kg_fresh": Figure(dm, "lab")}
    figures |= {k: Figure(v, "lab") for k, v in content.items()}
    return Feed(name, name, group, figures)


def ration(*fed: tuple[Feed, float], part: bool = False, need: float = 0.0, **batch: object):
    """What `account` reads of an assessment; feeds are given in kg of dry matter."""
    said = {"weight_kg": 30.0, "gain_g_per_day": 50.0, "breed": "Cheviot", **batch}
    portions = tuple(
        Portion(f.id, f.name, f, kg / (f["dm_g_per_kg_fresh"] / 1000)) for f, kg in fed
    )
    dm = sum(kg for _, kg in fed)
    ca, p = (sum(kg * (f.get(n) or 0.0) for f, kg in fed) for n in (CA, P))
    return SimpleNamespace(
        batch=animals.batch("hoggs", **said),  # type: ignore[arg-type]
        portions=portions,
        dm_kg_per_day=dm,
        is_part_ration=part,
        forage_share_of_dm=sum(kg for f, kg in fed if f.is_forage) / dm,
        balances=(Balance("calcium", "g", ca, need or None),),
        ca_to_p=ca / p if p else float("inf"),
        standard="AFRC 1993",
    )


def told(*fed: tuple[Feed, float], **more) -> MineralAccount:
    return minerals.account(ration(*fed, **more), BOOK)


def one(nutrient: str, value: float, **more):
    """The line of one nutrient in a ration of one feed, with molybdenum known to be low."""
    known = {MOLYBDENUM: 0.5, nutrient: value}
    return told((feed("hay", **known), 1.0), **more).line(nutrient)


# ---------------------------------------------------------------- the table against its sources


def level(nutrient: str, what: str, edition: str, stage: str = "any", when: str = ""):
    found = [
        m
        for m in BOOK.minerals
        if (m.nutrient, m.what, m.edition, m.stage, m.when)
        == (nutrient, what, edition, stage, when)
    ]
    assert len(found) == 1, (nutrient, what, edition, stage, when)
    return found[0]


@pytest.mark.parametrize(
    ("nutrient", "least", "most"),
    [
        (CA, 2.0, 8.2), (P, 1.6, 3.8), (MG, 1.2, 1.8), (NA, 0.9, 1.8), (K, 5.0, 8.0),
        (S, 1.4, 2.6), (CO, 0.1, 0.2), (I, 0.1, 0.8), (FE, 30, 50), (MN, 20, 40), (SE, 0.1, 0.2),
        (ZN, 20, 33), (MOLYBDENUM, 0.5, 0.5),
    ],
)  # fmt: skip
def test_nrc_1985_ranges(nutrient: str, least: float, most: float) -> None:
    # NRC 1985 as restated by Oregon State Extension [P-S14]; C18 is Na, Mg, K and S.
    got = level(nutrient, "need", "NRC 1985")
    assert (got.least, got.most, got.source, got.mark) == (least, most, "P-S14", "restated")


@pytest.mark.parametrize(
    ("nutrient", "growing", "late", "early"),
    [
        (CA, 3.1, 4.9, 4.1), (P, 2.5, 2.9, 3.5), (MG, 0.9, 1.0, 1.3), (NA, 0.6, 0.5, 0.7),
        (K, 4.4, 4.5, 5.5), (S, 1.8, 1.6, 1.6), (COPPER, 7, 11, 11), (FE, 78, 51, 13),
        (MN, 26, 38, 25), (ZN, 45, 51, 79),
    ],
)  # fmt: skip
def test_nrc_2007(nutrient: str, growing: float, late: float, early: float) -> None:
    # NRC 2007 as tabulated in a paper of 2024 [P-S16], restated.
    for stage, value in (("growing", growing), ("late-pregnancy", late), ("lactation", early)):
        got = level(nutrient, "need", "NRC 2007", stage)
        assert (got.least, got.most, got.source, got.mark) == (value, value, "P-S16", "restated")


@pytest.mark.parametrize(
    ("nutrient", "first", "second"),
    [
        (COPPER, 25, 15), (MOLYBDENUM, 10, 5), (SE, 2, 5), (I, 50, 50), (ZN, 750, 300),
        (FE, 500, 500), (MN, 1000, 2000), (CO, 10, 25),
    ],
)  # fmt: skip
def test_tolerances_of_both_editions(nutrient: str, first: float, second: float) -> None:
    # NRC 1985 restated [P-S14]; NRC 2005 from memory.
    old, new = (level(nutrient, "tolerance", e) for e in ("NRC 1985", "NRC 2005"))
    assert (old.most, old.mark) == (first, "restated")
    assert (new.most, new.mark, new.source) == (second, "memory", "NRC-2005")


@pytest.mark.parametrize(
    ("nutrient", "most", "source", "mark"),
    [
        (COPPER, 15, "P-S26", "print"),  # C12
        (SE, 0.5, "P-S30", "print"), (I, 10, "P-S31", "restated"), (ZN, 120, "P-S32", "print"),
        (MN, 150, "P-S33", "print"), (MOLYBDENUM, 2.5, "P-S31", "restated"),
        (CO, 1, "P-S29", "print"), (FE, 500, "P-S34", "memory"),
    ],
)  # fmt: skip
def test_legal_most(nutrient: str, most: float, source: str, mark: str) -> None:
    # C15: complete feed at 12 % moisture.
    got = level(nutrient, "legal", LAW)
    assert (got.most, got.basis, got.source, got.mark) == (
        most, "kg at 12 % moisture", source, mark,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("when", "stage", "least", "most"),
    [
        ("mo-under-1", "growing", 8, 10), ("mo-under-1", "pregnancy", 9, 11),
        ("mo-under-1", "lactation", 7, 8), ("mo-over-3", "growing", 17, 21),
        ("mo-over-3", "pregnancy", 19, 23), ("mo-over-3", "lactation", 14, 17),
    ],
)  # fmt: skip
def test_copper_by_molybdenum(when: str, stage: str, least: float, most: float) -> None:
    got = level(COPPER, "need", "Oregon State course", stage, when)  # [P-S23], print
    assert (got.least, got.most, got.source, got.mark) == (least, most, "P-S23", "print")


def test_copper_levels_of_harm() -> None:
    # C13 label over 10 mg/kg feed [P-S26]; C14 Texels at 14 [P-S39], lambs at 12 mg/kg DM [P-S42].
    assert level(COPPER, "caution", "label rule").most == 10
    stores = {"stage": "any", "when": "breed-stores-copper"}
    assert level(COPPER, "caution", "Grange", **stores).most == 14
    assert level(COPPER, "caution", "Farm Health Online", **stores).most == 12


def test_the_cattle_figure_for_copper_is_nowhere() -> None:
    # A summary of NRC 2005 for cattle gives copper 40 mg/kg [P-S25]: never for sheep.
    mine = [m for m in BOOK.minerals if m.nutrient == COPPER]
    assert all((m.most or 0) <= 25 for m in mine)
    assert not [m for m in BOOK.minerals if m.source == "P-S25"]


def test_stones_by_phosphorus_and_the_ratio() -> None:
    # C19 [P-S45]: 0 % at 3.3 g/kg, 31 % at 6.2, 73 % at 8.1; C20 [P-S47, P-S49]: 2:1 for males.
    got = level(P, "caution", "stones trial of 1963", "any", "male")
    assert (got.least, got.most, got.source, got.mark) == (3.3, 6.2, "P-S45", "print")
    assert "31 % at 6.2" in got.note and "73 % at 8.1" in got.note
    ratio = next(c for c in BOOK.cautions if c.caution == "urinary-ratio")
    assert ratio.value == 2.0 and ratio.source == "P-S47"


def test_every_row_has_a_known_source_and_is_no_better_than_it() -> None:
    for m in BOOK.minerals:
        assert m.source in BOOK.sources, m
        if BOOK.sources[m.source].mark == "memory":
            assert m.mark == "memory", m


def test_vitamins_and_every_mineral_stand_in_the_table() -> None:
    assert {CA, P, MG, NA, K, S, COPPER, SE, CO, I, ZN, MN, FE, MOLYBDENUM, *VITAMINS} <= set(ALL)
    assert all(BOOK.nutrient(v).unit == "IU/kg DM" for v in VITAMINS)
    assert not any(f.get(v) for f in BOOK.feeds.values() for v in VITAMINS)


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        ("NRC 1985,P-S14,restated,range over", "NRC 1985,,restated,range over", "source"),
        ("NRC 1985,P-S14,restated,range over", "NRC 1985,P-S999,restated,range over", "P-S999"),
        ("ca_g_per_kg_dm,need,any,,2,8.2,g", "ca_g_per_kg_dm,need,any,,9,8.2,g", "least is over"),
        ("ca_g_per_kg_dm,need,any,,2,8.2,g", "ca_g_per_kg_dm,need,any,,2,8.2,mg", "is in g/kg DM"),
        ("ca_g_per_kg_dm,need,any,,2,8.2,g", "ca_g_per_kg_dm,need,any,,,8.2,g", "without its least"),
        ("any,,,15,g,kg DM,NRC 2005", "any,,,,g,kg DM,NRC 2005", "tolerance without its most"),
        ("any,,,15,g,kg DM", "any,,,15,g,kg live weight a day", "only a need is per kg of live"),
        ("ca_g_per_kg_dm,need,any", "calcium_g,need,any", "not in nutrients.csv"),
        ("ca_g_per_kg_dm,need,any", "ca_g_per_kg_dm,wish,any", "allowed: need, tolerance"),
        ("ca_g_per_kg_dm,need,any,,2,", "ca_g_per_kg_dm,need,any,,-2,", "at least 0"),
        ("ca_g_per_kg_dm,need,growing", "ca_g_per_kg_dm,need,any", ""),
    ],
)  # fmt: skip
def test_a_broken_row_is_refused(tmp_path: Path, old: str, new: str, match: str) -> None:
    folder = tmp_path / "t"
    tables.copy(folder)
    path = folder / "minerals.csv"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    if not match:  # the same row for another edition is no double
        assert tables.load(folder)
        return
    with pytest.raises(InputError, match=match) as caught:
        tables.load(folder)
    assert all("minerals.csv" in str(p) for p in caught.value.problems)


def test_an_overlay_adds_a_vets_own_row(tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    mine.mkdir()
    head = (tables.tables_folder() / "minerals.csv").read_text(encoding="utf-8").splitlines()[0]
    row = f"{SE},need,any,,0.15,0.25,mg,kg DM,our vet,letter,user,low ground"
    (mine / "minerals.csv").write_text(f"{head}\n{row}\n", encoding="utf-8")
    book = tables.load(overlays=[mine])
    assert len(book.minerals) == len(BOOK.minerals) + 1
    line = minerals.account(ration((feed("hay", **{SE: 0.12}), 1.0)), book).line(SE)
    assert line.verdict == DIFFER and [n.level.edition for n in line.short_by] == ["our vet"]


# ---------------------------------------------------------------- what the feeds bring


def test_supply_by_hand() -> None:
    # Hay 0.8 kg DM at 1.5 g Na, barley 0.2 kg DM at 0.2 g: 1.2 + 0.04 = 1.24 g a day, over 1.0 kg.
    line = told(
        (feed("hay", **{NA: 1.5}), 0.8), (feed("barley", "cereal", 860, **{NA: 0.2}), 0.2)
    ).line(NA)
    assert line.per_head_day == pytest.approx(1.24)
    assert line.per_kg_dm == pytest.approx(1.24)
    assert [(n, round(v, 3)) for n, v, _ in line.by_feed] == [("hay", 1.2), ("barley", 0.04)]
    assert line.verdict == ENOUGH and not line.unknown


def test_the_known_part_is_spread_over_all_the_dry_matter() -> None:
    # Only the hay is known: 0.8 x 2 = 1.6 g over 1.0 kg DM, not over 0.8.
    line = told((feed("hay", **{MG: 2.0}), 0.8), (feed("oats", "cereal"), 0.2)).line(MG)
    assert line.per_kg_dm == pytest.approx(1.6) and line.unknown == ("oats",)
    assert line.verdict == UNKNOWN
    assert words.verdict_words(line) == "cannot tell: unknown for oats"


def test_no_figure_at_all_is_not_zero() -> None:
    line = told((feed("hay"), 1.0)).line(SE)
    assert line.per_kg_dm is None and line.per_head_day is None and line.verdict == UNKNOWN
    assert "no feed has a figure" in words.verdict_words(line)


def test_zero_that_somebody_entered_is_zero() -> None:
    assert one(SE, 0.0).verdict == SHORT


@pytest.mark.parametrize(
    ("nutrient", "value", "verdict"),
    [
        (NA, 0.5, SHORT),  # under NRC 2007 growing 0.6, NRC 1985 0.9, Pugh 0.8
        (NA, 0.7, DIFFER),
        (NA, 1.0, ENOUGH),
        (NA, 12.0, OVER_BOOK),
        (ZN, 12.0, SHORT),  # under NZ 13
        (ZN, 15.0, DIFFER),  # NZ 13-18; NRC 1985 20; NRC 2007 45
        (ZN, 50.0, ENOUGH),
        (ZN, 135.9, ENOUGH),  # 120 / 0.88 = 136.4
        (ZN, 137.0, OVER_LAW),
        (SE, 0.05, SHORT),
        (SE, 0.15, ENOUGH),
        (SE, 0.58, OVER_LAW),  # 0.5 / 0.88 = 0.568
        (K, 21.0, OVER_BOOK),
        ("f_mg_per_kg_dm", 10.0, WITHIN),
        ("f_mg_per_kg_dm", 58.0, OVER_LAW),  # 50 / 0.88 = 56.8
        (COPPER, 16.9, OVER_BOOK),  # 15 by NRC 2005, from memory
        (COPPER, 17.05, OVER_LAW),
    ],
)  # fmt: skip
def test_verdicts_by_hand(nutrient: str, value: float, verdict: str) -> None:
    assert one(nutrient, value).verdict == verdict


def test_legal_copper_is_17_0_as_in_the_cautions() -> None:
    line = one(COPPER, 10.0)
    legal = next(m for m in line.limits if m.level.what == "legal")
    assert legal.ceiling == next(c.value for c in BOOK.cautions if c.caution == "copper-stop")
    assert words.limit(legal) == "17.0 by law" and legal.level.most == 15


def test_a_lower_stop_of_the_users_own_binds() -> None:
    lower = tuple(
        replace(c, value=12.0) if c.caution == "copper-stop" else c for c in BOOK.cautions
    )
    account = minerals.account(
        ration((feed("hay", **{COPPER: 13.0}), 1.0)), replace(BOOK, cautions=lower)
    )
    assert account.line(COPPER).verdict == OVER_LAW


def test_over_is_told_from_the_known_part_alone() -> None:
    # 0.5 kg DM at 40 mg = 20 mg over 1.0 kg DM: past 17.0 whatever the barley holds.
    line = told((feed("cube", "compound", **{COPPER: 40.0}), 0.5), (feed("barley"), 0.5)).line(
        COPPER
    )
    assert line.verdict == OVER_LAW and line.unknown == ("barley",)


@settings(max_examples=60)
@given(
    st.sampled_from(ALL),
    st.lists(
        st.tuples(
            st.floats(0.05, 1.0),
            st.one_of(st.none(), st.floats(0.0, 60.0)),
            st.one_of(st.none(), st.floats(0.0, 6.0)),
        ),
        min_size=1,
        max_size=4,
    ),
    st.data(),
)
def test_dropping_a_figure_never_makes_short_or_enough(nutrient, shares, data) -> None:
    def made(items):
        fed = []
        for i, (kg, value, mo) in enumerate(items):
            content = {MOLYBDENUM: mo, nutrient: value}
            fed.append((feed(f"f{i}", **{k: v for k, v in content.items() if v is not None}), kg))
        return told(*fed).line(nutrient)

    before = made(shares)
    at = data.draw(st.integers(0, len(shares) - 1))
    kg, value, mo = shares[at]
    gone = (kg, value, None) if data.draw(st.booleans()) else (kg, None, mo)
    after = made([*shares[:at], gone, *shares[at + 1 :]])
    for line in (before, after):
        if line.unknown:
            assert line.verdict in (UNKNOWN, OVER_LAW, OVER_BOOK)
    if after.verdict in (SHORT, ENOUGH):
        assert before.verdict == after.verdict
    if nutrient != MOLYBDENUM and before.by_feed:
        dm = sum(kg for kg, _, _ in shares)
        brought = sum(kg * v for kg, v, _ in shares if v is not None)
        assert before.per_kg_dm == pytest.approx(brought / dm)


def test_part_ration_is_never_short_and_never_enough() -> None:
    hay = feed("hay", **{NA: 0.1, MG: 1.9, ZN: 140.0})
    account = told((hay, 1.0), part=True)
    assert account.line(NA).verdict == account.line(MG).verdict == UNKNOWN
    assert minerals.GRAZING in account.line(NA).unknown
    assert account.line(ZN).verdict == OVER_LAW
    assert not account.of(SHORT, ENOUGH)


# ---------------------------------------------------------------- which rows are for which sheep


@pytest.mark.parametrize(
    ("batch", "stages"),
    [
        ({}, ("growing",)),
        ({"sheep_class": "ewe", "weight_kg": 55.0, "gain_g_per_day": 0.0}, ("maintenance",)),
        ({"days_pregnant": 60.0}, ("growing", "pregnancy")),
        ({"days_to_lambing": 30}, ("growing", "pregnancy", "late-pregnancy")),
        (
            {"sheep_class": "ewe", "weight_kg": 55.0, "gain_g_per_day": 0.0, "days_pregnant": 120.0},
            ("pregnancy", "late-pregnancy"),
        ),
        (
            {"sheep_class": "ewe", "weight_kg": 55.0, "gain_g_per_day": 0.0, "milk_kg_per_day": 1.5},
            ("lactation",),
        ),
    ],
)  # fmt: skip
def test_stages(batch: dict, stages: tuple[str, ...]) -> None:
    said = {"weight_kg": 30.0, "gain_g_per_day": 50.0, **batch}
    assert minerals.stages_of(animals.batch("b", **said)) == stages


def test_a_row_of_its_own_displaces_the_one_for_any() -> None:
    # NRC 1985 vitamin A: 47 IU/kg W, late in pregnancy 85 (memory). 55 kg on 1.1 kg DM:
    # 85 x 55 / 1.1 = 4,250 IU/kg DM.
    ewe = {"sheep_class": "ewe", "weight_kg": 55.0, "gain_g_per_day": 0.0, "days_pregnant": 130.0}
    line = told((feed("hay"), 1.1), **ewe).line(VITAMINS[0])
    (need,) = [n for n in line.needs if n.level.edition == "NRC 1985"]
    assert need.least == pytest.approx(4250) and need.level.least == 85


def test_small_lambs_want_more_vitamin_e() -> None:
    # NRC 1985: 15 IU/kg DM [P-S13], 20 for lambs to 20 kg (memory).
    for weight, want in ((20.0, 20), (30.0, 15)):
        line = told((feed("hay"), 0.6), weight_kg=weight).line(VITAMINS[2])
        (need,) = [n for n in line.needs if n.level.edition == "NRC 1985"]
        assert need.least == want


def test_vitamin_a_of_a_50_kg_ewe() -> None:
    # C17 and NRC 1985 table 1 [P-S13]: 2,350 IU a day at 50 kg eating 1.0 kg DM.
    ewe = {"sheep_class": "ewe", "weight_kg": 50.0, "gain_g_per_day": 0.0}
    line = told((feed("hay"), 1.0), **ewe).line(VITAMINS[0])
    assert next(n.least for n in line.needs if n.level.edition == "NRC 1985") == 2350


def test_sulphur_tolerance_follows_the_forage() -> None:
    hay, meal = feed("hay", **{S: 4.0}), feed("meal", "cereal", **{S: 4.0})
    assert told((hay, 0.6), (meal, 0.4)).line(S).verdict == ENOUGH  # 5 by NRC 2005
    assert told((hay, 0.3), (meal, 0.7)).line(S).verdict == OVER_BOOK  # 3


def test_copper_by_molybdenum_in_the_account() -> None:
    def copper(mo: float | None):
        known = {COPPER: 9.0} | ({} if mo is None else {MOLYBDENUM: mo})
        return told((feed("hay", **known), 1.0)).line(COPPER)

    assert copper(0.5).verdict == ENOUGH  # 7-11, 7 and 8-10
    assert copper(4.0).verdict == DIFFER  # 17-21 by the course, 7 by NRC 2007
    assert copper(2.0).verdict == ENOUGH  # no class is printed for 1 to 3
    unknown = copper(None)
    assert unknown.verdict == DIFFER and {n.is_sure for n in unknown.needs} == {True, False}
    assert "if Mo is over 3" in " ".join(words.span(n) for n in unknown.needs)


def test_calcium_and_phosphorus_show_afrc_and_arc() -> None:
    # ARC 1980, 30 kg, 100 g/d: 2.32 g Ca and 1.32 g P a day; on 0.8 kg DM 2.90 and 1.64 g/kg.
    account = told((feed("hay", **{CA: 5.0, P: 2.0}), 0.8), need=2.4, gain_g_per_day=100.0)
    needs = {n.level.edition: n.least for n in account.line(CA).needs}
    assert needs["ARC 1980"] == pytest.approx(2.3235 / 0.8, abs=1e-3)
    assert needs["worked with"] == pytest.approx(2.4 / 0.8)
    assert {"NRC 1985", "NRC 2007"} <= set(needs)
    assert account.ca_to_p == 2.5
    p = {n.level.edition: n.least for n in account.line(P).needs}
    assert p["ARC 1980"] == pytest.approx(0.96 / 0.73 / 0.8, abs=1e-3)


def test_no_ratio_when_either_is_unknown() -> None:
    assert told((feed("hay", **{CA: 5.0, P: 2.0}), 0.8), (feed("oats"), 0.2)).ca_to_p is None


def test_males_and_stones() -> None:
    hay = feed("hay", **{P: 6.5})
    males = told((hay, 1.0), sheep_class="wether-lamb")
    assert [a.level.source for a in males.line(P).alarms] == ["P-S45"]
    assert "73 % at 8.1 g" in " ".join(words.alarm_lines(males))
    assert not told((hay, 1.0)).line(P).alarms


def test_breeds_that_store_copper() -> None:
    hay = feed("hay", **{COPPER: 13.0})
    texel = told((hay, 1.0), breed="Texel x Mule")
    assert texel.stores_copper
    assert {a.level.edition for a in texel.line(COPPER).alarms} == {
        "label rule",
        "Farm Health Online",
    }
    cheviot = told((hay, 1.0))
    assert [a.level.edition for a in cheviot.line(COPPER).alarms] == ["label rule"]
    assert minerals.account(ration((hay, 1.0)), BOOK, "Suffolk").stores_copper


# ---------------------------------------------------------------- absorption of copper


@pytest.mark.parametrize(("mo", "s"), [(-0.1, 2), (6.1, 2), (1, -0.1), (1, 6.1), (float("nan"), 2)])
def test_absorption_outside_what_is_covered(mo: float, s: float) -> None:
    with pytest.raises(OutOfRange):
        copper_absorption_share(mo, s)


@given(st.floats(0, 6), st.floats(0, 6), st.floats(0, 1))
def test_molybdenum_and_sulphur_only_hinder(mo: float, s: float, part: float) -> None:
    base = copper_absorption_share(mo * part, s)
    assert copper_absorption_share(mo, s) <= base * (1 + 1e-12) <= 0.0704
    assert copper_absorption_share(mo, s) <= copper_absorption_share(mo, s * part) * (1 + 1e-12)


def test_absorption_is_told_only_when_both_are_known() -> None:
    both = told((feed("hay", **{MOLYBDENUM: 1.6, S: 3.5}), 1.0))
    assert both.copper_absorbed_share == pytest.approx(0.0321, abs=5e-5)  # C16
    assert "3.2%" in " ".join(words.copper_lines(both))
    one_known = told((feed("hay", **{MOLYBDENUM: 1.6}), 1.0))
    assert one_known.copper_absorbed_share is None
    assert "sulphur is not known" in " ".join(words.copper_lines(one_known))
    beyond = told((feed("hay", **{MOLYBDENUM: 9.0, S: 3.5}), 1.0))
    assert beyond.copper_absorbed_share is None
    assert "outside" in " ".join(words.copper_lines(beyond))


def test_a_breed_nobody_named_is_not_called_safe() -> None:
    assert not stores_copper("") and not stores_copper("Quernhope type")
    assert stores_copper("CHAROLLAIS-cross") and stores_copper("north  ronaldsay")


# ---------------------------------------------------------------- what a mineral would do


SALT = feed("salt", "mineral", 990, **{NA: 393.0, COPPER: 0.0})


def test_salt_by_hand() -> None:
    # 1.0 kg DM at 0.4 g Na. To 0.6 (NRC 2007): 0.2 / (393 - 0.6) kg DM = 0.5097 g DM = 0.5148 g
    # fresh; to 0.9 (NRC 1985): 0.5 / 392.1 = 1.2752 g DM = 1.2881 g; limit 11.8 (NRC 2005):
    # 11.4 / 381.2 = 29.906 g DM = 30.208 g fresh.
    account = told((feed("hay", **{NA: 0.4, COPPER: 6.0}), 1.0))
    got = supplement_needed(account, SALT)
    grams = {c.beside.level.edition: c.g_fresh_per_day for c in got.covers}
    assert grams["NRC 2007"] == pytest.approx(0.5148, abs=1e-4)
    assert grams["NRC 1985"] == pytest.approx(1.2881, abs=1e-4)
    assert got.first is not None and got.first.nutrient == NA
    assert got.first.g_fresh_per_day == pytest.approx(30.208, abs=1e-3)
    said = words.supplement_lines(got)
    assert "salt a day that would cover sodium: 0.6 g by NRC 2007" in said[0]
    assert "over 30 g a day of salt would pass sodium of 11.8 NRC 2005" in said[-1]


@given(
    st.floats(0.3, 2.0),
    st.floats(0.0, 0.55),
    st.floats(20.0, 393.0),
    st.floats(500.0, 1000.0),
)
def test_the_grams_reach_the_need_and_the_limit(dm, na, content, share) -> None:
    hay = feed("hay", **{NA: na, COPPER: 5.0})
    mineral = feed("mineral", "mineral", share, **{NA: content, COPPER: 5.0})
    got = supplement_needed(told((hay, dm)), mineral)
    assert got.covers and got.first is not None
    for grams, goal in (
        *((c.g_fresh_per_day, c.beside.least) for c in got.covers),
        (got.first.g_fresh_per_day, got.first.beside.ceiling),
    ):
        after = told((hay, dm), (mineral, grams * share / 1e6))
        assert after.line(NA).per_kg_dm == pytest.approx(goal, rel=1e-6)
    assert not after.line(NA).passed


def test_copper_is_the_limit_that_is_named_first() -> None:
    # 1.0 kg DM at 10 mg Cu; a mineral of 600 mg: over law, so no amount at all. One of 16.5 mg
    # and 60 g Na reaches sodium's 11.8 first: 11.4 / 48.2 = 0.2365 kg.
    hay = feed("hay", **{NA: 0.4, COPPER: 10.0})
    rich = supplement_needed(
        told((hay, 1.0)), feed("cattle mineral", "mineral", **{NA: 90.0, COPPER: 600.0})
    )
    assert rich.holds_copper and not rich.covers
    # copper is reached first: to 15 (NRC 2005) 5 / 585 = 8.547 g
    assert rich.first is not None and rich.first.nutrient == COPPER
    assert rich.first.g_fresh_per_day == pytest.approx(1000 * 5 / 585)
    said = " ".join(words.supplement_lines(rich))
    assert "ask your vet" in said and " g " not in said


def test_a_breed_that_stores_copper_has_less_room() -> None:
    hay = feed("hay", **{COPPER: 10.0})
    mineral = feed("m", "mineral", **{COPPER: 14.5})
    assert supplement_needed(told((hay, 1.0)), mineral).first is None  # never over 14.5
    texel = supplement_needed(told((hay, 1.0), breed="Texel"), mineral).first
    assert texel is not None and texel.beside.level.edition == "Farm Health Online"
    assert texel.g_fresh_per_day == pytest.approx(1000 * 2 / 2.5)


def test_copper_is_never_covered() -> None:
    account = told((feed("hay", **{COPPER: 3.0, MOLYBDENUM: 0.5}), 1.0))
    assert account.line(COPPER).verdict == SHORT
    got = supplement_needed(account, feed("m", "mineral", **{COPPER: 16.0}))
    assert not got.covers and not got.lacks
    assert "add none: ask your vet" in " ".join(words.three_sentences(account))


def test_nothing_unknown_is_covered_and_room_is_not_proved() -> None:
    account = told((feed("hay", **{NA: 0.1}), 0.8), (feed("oats"), 0.2))
    got = supplement_needed(account, feed("salt", "mineral", **{NA: 393.0}))
    assert not got.covers and got.copper_unknown == ("hay", "oats", "salt")
    assert "Sodium" in got.unchecked
    assert "no amount of salt is proved safe" in " ".join(words.supplement_lines(got))


def test_too_weak_a_mineral_and_no_room() -> None:
    short = told((feed("hay", **{NA: 0.1, COPPER: 5.0}), 1.0))
    weak = supplement_needed(short, feed("m", "mineral", **{NA: 0.3, COPPER: 5.0}))
    assert weak.lacks == ("Sodium",) and "would not cover sodium" in words.supplement_lines(weak)[0]
    over = told((feed("hay", **{NA: 13.0, COPPER: 5.0}), 1.0))
    assert "There is no room for salt" in " ".join(
        words.supplement_lines(supplement_needed(over, SALT))
    )


def test_a_mineral_without_dry_matter_is_refused() -> None:
    bare = Feed("m", "m", "mineral", {NA: Figure(1.0, "lab")})
    with pytest.raises(InputError, match="dry matter is not known"):
        supplement_needed(told((feed("hay"), 1.0)), bare)


def test_minerals_given_are_named_with_their_weight() -> None:
    account = told((feed("hay", **{NA: 1.0}), 1.0), (SALT, 0.0099))
    assert account.given == (("salt", pytest.approx(10.0)),)


# ---------------------------------------------------------------- words


def test_both_editions_are_shown_where_they_differ() -> None:
    # Zn, Se, Co and Mn differ between NRC 1985 and NRC 2005: both are named, none averaged.
    said = words.differences(told((feed("hay"), 1.0)))
    for name, old, new in (
        ("Zinc", "750 NRC 1985", "300 NRC 2005"),
        ("Selenium", "2 NRC 1985", "5 NRC 2005"),
        ("Cobalt", "10 NRC 1985", "25 NRC 2005"),
        ("Manganese", "1,000 NRC 1985", "2,000 NRC 2005"),
    ):
        (line,) = [x for x in said if x.startswith(name)]
        assert old in line and new in line and "All stand" in line


def test_every_figure_shown_has_its_source_told() -> None:
    account = told((feed("hay", **{NA: 1.0}), 1.0), need=2.0)
    said = "\n".join(words.source_lines([account], BOOK))
    for line in account.lines:
        for beside in (*line.needs, *line.limits):
            assert f"[{beside.level.source}]" in said and beside.level.edition in said
    assert "your laboratory" in said


def test_three_sentences() -> None:
    hay = feed("hay", **{NA: 0.2, ZN: 140.0, MG: 1.0})
    short, over, unknown, differ = words.three_sentences(told((hay, 1.0)))[:4]
    assert short == "Short by every book: sodium."
    assert over == "Too much: zinc (over the legal most)."
    assert "selenium" in unknown and "sodium" not in unknown
    assert differ == "The books differ: magnesium."
    assert words.verdict_lines(told((hay, 1.0))) == [
        "Magnesium: enough by NRC 2007, short by NRC 1985.",
        "Sodium: short by NRC 1985, NRC 2007 and Pugh (Ohio).",
        "Zinc: over the legal most.",
    ]


def test_book_figures_behind_a_short_verdict_are_said() -> None:
    own = told((feed("hay", **{NA: 0.2}), 1.0))
    assert "forage analysed" not in " ".join(words.three_sentences(own))
    book = Feed("h", "h", "hay", {"dm_g_per_kg_fresh": Figure(850, "memory", "F-M1"),
                                  NA: Figure(0.2, "memory", "F-M1")})  # fmt: skip
    assert "have your own forage analysed" in " ".join(words.three_sentences(told((book, 1.0))))


# ---------------------------------------------------------------- the farm file


@pytest.mark.parametrize(
    ("text", "value", "basis"),
    [
        ("8000 IU/kg DM", 8000, "dm"),
        ("8,000 IU/kg fresh", 8000, "fresh"),
        ("8000 iu per kg, as fed", 8000, "fresh"),
        ("400 IU/g", 400_000, None),
        ("8000 IU/kg", 8000, None),
    ],
)
def test_vitamins_in_the_farm_file(text: str, value: float, basis: str | None) -> None:
    for word in ("vitamin A", "vitamin D", "vitamin E"):
        got = farm_words.FIGURES[word][1](text)
        assert (got.value, got.basis) == (value, basis)


@pytest.mark.parametrize(
    ("word", "text", "match"),
    [
        ("vitamin A", "8000", "needs its unit"),
        ("vitamin A", "8 mg/kg", "IU/kg or IU/g"),
        ("vitamin E", "150 mg/kg", "all-rac-alpha-tocopheryl acetate is as many IU"),
        ("vitamin D", "-5 IU/kg", "cannot be below zero"),
        ("vitamin D", "1e3 IU/kg", "power of ten"),
        ("vitamin A", "8000 IU/kg wet", "needs its unit"),
        ("vitamin A", "plenty", "must start with a number"),
        ("vitamin A", ["1"], "one value"),
        ("vitamin A", None, "is empty"),
        ("vitamin A", "8000 IU/kg fresh DM", "needs its unit"),
    ],
)
def test_vitamins_that_cannot_be_read(word: str, text: object, match: str) -> None:
    with pytest.raises(InputError, match=match):
        farm_words.FIGURES[word][1](text)


def test_every_mineral_of_the_table_has_a_word() -> None:
    assert set(ALL) <= {nutrient for nutrient, _ in farm_words.FIGURES.values()}


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """The demo farm with a vitamin on its mineral, in a folder of its own."""
    for name in ("quernhope.yaml", "bottom-ings-2026-11-16.csv", "quernhope-quotes.csv"):
        shutil.copy(DEMO.parent / name, tmp_path / name)
    path = tmp_path / "quernhope.yaml"
    text = path.read_text(encoding="utf-8")
    mineral = "  sheep mineral:\n    price: 0.74 /kg\n"
    assert mineral in text and "    cubes 16 blown: 0.18 kg" in text
    text = text.replace(
        mineral,
        mineral + "    vitamin A: 400,000 IU/kg fresh\n    zinc: 2.5 g/kg\n    copper: 0 mg/kg\n",
    )
    text = text.replace(
        "    cubes 16 blown: 0.18 kg", "    cubes 16 blown: 0.18 kg\n    sheep mineral: 0.01 kg"
    )
    path.write_text(text, encoding="utf-8")
    return path


def run(*args: object):
    return CliRunner().invoke(command, [str(a) for a in args])


def test_fed_now_in_json_by_hand(farm: Path) -> None:
    got = run(farm, "--fed", "--json")
    assert got.exit_code == 0, got.output
    (batch,) = json.loads(got.stdout)["batches"]
    lines = {x["nutrient"]: x for x in batch["lines"]}
    # 10 g of mineral put out, trough waste of the farm off it: 400,000 IU/kg fresh, however wet.
    given = batch["minerals_given"]
    assert [g["name"] for g in given] == ["sheep mineral"]
    assert given[0]["g_fresh_per_head_day"] == pytest.approx(10.0)
    a = lines["vitamin_a_iu_per_kg_dm"]
    assert a["verdict"] == UNKNOWN and "Long Meadow" in a["unknown_for"]
    assert 0.8 * 4000 <= a["per_head_day"] <= 4000.001
    # zinc 2.5 g/kg of DM at 98 % DM: 24.5 mg a day before waste
    assert 0.8 * 24.5 <= lines[ZN]["per_head_day"] <= 24.501
    assert lines[COPPER]["unknown_for"] == []
    assert {n["edition"] for n in lines[ZN]["needs"]} >= {"NRC 1985", "NRC 2007"}
    assert all(n["source"] and n["mark"] for x in lines.values() for n in x["needs"])


def test_the_mix_in_words(farm: Path) -> None:
    got = run(farm, "--batch", "small")
    assert got.exit_code == 0, got.output
    text = " ".join(got.output.split())
    for said in (
        "small:", "Cannot be told, for want of figures", "Where the books differ",
        "NRC 1985", "NRC 2005", "17.0 by", "Ask your vet or a qualified nutritionist",
        "follow the local feed law", "Sources and how each figure is known", "cannot tell",
    ):  # fmt: skip
        assert said in text, said
    assert text.index("Cannot be told") < text.index("books ask") < text.index("Sources and how")


def test_with_a_mineral_of_the_table(farm: Path) -> None:
    got = run(farm, "--fed", "--with", "salt", "--json")
    assert got.exit_code == 0, got.output
    (batch,) = json.loads(got.stdout)["batches"]
    (salt,) = batch["supplements"]
    assert salt["feed"] == "salt" and salt["first_limit"]["nutrient"] == NA
    assert "Salt" in salt["copper_unknown_for"]


@pytest.mark.parametrize(
    ("args", "match"),
    [
        (("--batch", "nobody"), "nobody"),
        (("--fed", "--batch", "small"), "not fed"),
        (("--fed", "--with", "moon dust"), "moon-dust"),
    ],
)
def test_what_the_command_refuses(farm: Path, args: tuple[str, ...], match: str) -> None:
    got = run(farm, *args)
    assert got.exit_code != 0 and match in got.stderr
    assert "our fault" not in got.stderr and "Traceback" not in got.output


def test_a_batch_without_a_mix_ends_with_3(farm: Path) -> None:
    text = farm.read_text(encoding="utf-8")
    # straw, and the hay the ewes leave them, will not grow a lamb (common practice, no source)
    start = text.index("  # ---- trough feed, delivered")
    end = text.index("  barley straw:")
    text = (text[:start] + text[end:]).replace("for: [cubes 16 blown]", "for: [barley straw]")
    farm.write_text(text.split("fed:")[0], encoding="utf-8")
    got = run(farm, "--batch", "small")
    assert got.exit_code == 3, got.output
    assert "No mix was found" in got.output
    again = run(farm, "--batch", "small", "--json")
    assert again.exit_code == 3 and json.loads(again.stdout)["batches"][0]["status"] == "no mix"


def test_no_file(tmp_path: Path) -> None:
    got = run(tmp_path / "none.yaml")
    assert got.exit_code != 0 and "none.yaml" in got.stderr


def test_help_shows_examples() -> None:
    got = run("--help")
    assert "ration minerals quernhope.yaml" in got.output and got.exit_code == 0


def test_the_standing_line_is_that_of_the_cautions(farm: Path) -> None:
    assert json.loads(run(farm, "--fed", "--json").stdout)["standing"] == cautions.STANDING
