"""Laboratory sheets: reading, doubting, combining and laying over a feed of the tables.

Expected figures come from outside the project where one is on file; the place is beside each.
Those marked "memory" or "common practice, no source" prove no more than that.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ration import analysis, tables, units
from ration.analysis import terms as lab_terms
from ration.analysis.reader import sheets_of_text, text_of
from ration.analysis.records import Sheet, house_figures
from ration.errors import InputError, OutOfRange
from ration.feeds import Feed, Figure
from ration.standards import feed_conversions, feed_equations

LAB = Path(__file__).parent / "data" / "lab"
TABLES = tables.load()
HAY = TABLES.feeds["hay-good"]


def sheets(text: str, *, is_yaml: bool = False) -> tuple[Sheet, ...]:
    return sheets_of_text(text, "sheet.csv", is_yaml=is_yaml)


def long(*rows: str) -> Sheet:
    (sheet,) = sheets("field,value,unit,basis\n" + "\n".join(rows))
    return sheet


def figure(sheet: Sheet, nutrient: str) -> float:
    return house_figures(sheet)[nutrient][0]


def findings(group: str, *rows: str, **more: Any) -> tuple[analysis.Finding, ...]:
    return analysis.checks(long(*rows), group, TABLES, **more)


def said(found: tuple[analysis.Finding, ...], level: str, text: str) -> bool:
    return any(f.level == level and re.search(text, f.words) for f in found)


# ---- the sheets in tests/data/lab (all invented)


def test_two_laboratories_on_one_lot_give_a_mean_and_its_error() -> None:
    """Protein 7.4 and 8.4 %: mean 7.9, standard error 0.5 (definition, worked by hand)."""
    read = [analysis.read_sheet(LAB / f, TABLES) for f in ("laboratory-1-hay.csv",
                                                           "laboratory-2-hay.yaml")]  # fmt: skip
    combined = analysis.combine(s for file in read for s in file)
    cp = combined.figures["cp_g_per_kg_dm"]
    assert cp.value == pytest.approx(79.0)
    assert cp.standard_error == pytest.approx(5.0)
    assert cp.values == (74.0, 84.0)
    assert combined.figures["me_mj_per_kg_dm"].value == pytest.approx(8.5)
    assert combined.figures["ca_g_per_kg_dm"].standard_error is None
    made = analysis.feed_from(read, HAY, TABLES)
    assert made.feed.figure("cp_g_per_kg_dm").spread == pytest.approx(5.0)
    assert made.feed.figure("cp_g_per_kg_dm").source == "Laboratory 1; Laboratory 2"
    assert made.feed.figure("p_g_per_kg_dm").value == 1.4
    assert analysis.words(made)[0].startswith(
        "Hay, mean of 2 samples: 7.9 % protein give or take 0.5 % (book 10.1 %)"
    )


def test_standard_error_of_three_is_sd_over_root_three() -> None:
    """2, 4, 9: mean 5, sd (n - 1) sqrt(13) = 3.6056, over root 3 = 2.0817 (by hand)."""
    three = [long(f"calcium,{v},g/kg,DM") for v in (2, 4, 9)]
    mean = analysis.combine(three).figures["ca_g_per_kg_dm"]
    assert mean.value == pytest.approx(5.0)
    assert mean.standard_error == pytest.approx(2.0817, abs=5e-5)


def test_decimal_comma_sheet_with_semicolons_is_read() -> None:
    (sheet,) = analysis.read_sheet(LAB / "laboratory-1-haylage.csv", TABLES)
    assert (sheet.sample, sheet.laboratory) == ("Haylage", "Laboratory 1")
    assert figure(sheet, "dm_g_per_kg_fresh") == 510
    assert figure(sheet, "cp_g_per_kg_dm") == pytest.approx(118)
    assert figure(sheet, "ph") == 5.6
    assert figure(sheet, "ash_g_per_kg_dm") == 108
    assert said(analysis.checks(sheet, "silage", TABLES), "warn", "Ash 108 g/kg DM.*soil")


def test_energy_from_d_value_is_derived_and_the_old_energy_falls() -> None:
    made = analysis.feed_from(
        analysis.read_sheet(LAB / "bottom-ings.yaml", TABLES), TABLES.feeds["hay-average"], TABLES,
        feed_id="bottom-ings", name="Bottom Ings",
    )  # fmt: skip
    me = made.feed.figure("me_mj_per_kg_dm")
    assert me.value == pytest.approx(0.16 * 51)  # MAFF-1975, memory
    assert me.mark == "derived"
    assert "0.16 x 51.0" in me.note
    assert made.derived == ("me_mj_per_kg_dm",)
    assert made.dropped == ("fme_published_mj_per_kg_dm",)
    assert made.feed["domd_g_per_kg_dm"] == 510
    assert "oil_g_per_kg_dm" in made.from_book
    assert "cp_g_per_kg_dm" not in made.from_book
    assert made.feed.figure("cp_g_per_kg_dm").mark == "lab"
    assert "sampled 3 October 2026" in made.feed.figure("cp_g_per_kg_dm").note
    assert made.feed.figure("cp_g_per_kg_dm").place == "bottom-ings.yaml line 7, protein"
    said_words = analysis.words(made)
    assert said_words[0].startswith(
        "Bottom Ings came back at 6.9 % protein (book 8.5 %), 8.2 MJ energy (book 8.4 MJ)"
    )
    assert any(w.startswith("Still the book's figures for Grass hay, average") for w in said_words)


# ---- headings, units, bases, numbers

HEADINGS = {
    "Crude protein (% DM)": ("cp_g_per_kg_dm", "%", "dm"),
    "protein_g_per_kg_dm": ("cp_g_per_kg_dm", "g/kg", "dm"),
    "cp_g_per_kg_dm": ("cp_g_per_kg_dm", "g/kg", "dm"),
    "CP g/kg": ("cp_g_per_kg_dm", "g/kg", ""),
    "Protein, % as fed": ("cp_g_per_kg_dm", "%", "fresh"),
    "% crude protein": ("cp_g_per_kg_dm", "%", ""),
    "Crude protein (N x 6.25) % DM": ("cp_g_per_kg_dm", "%", "dm"),
    "Protein (dry basis)": ("cp_g_per_kg_dm", "", "dm"),
    "Total N (%)": ("n_g_per_kg_dm", "%", ""),
    "N": ("n_g_per_kg_dm", "", ""),
    "DM": ("dm_g_per_kg_fresh", "", ""),
    "Dry Matter (g/kg)": ("dm_g_per_kg_fresh", "g/kg", ""),
    "Oven dry matter %": ("oven_dm_g_per_kg_fresh", "%", ""),
    "moisture": ("moisture_g_per_kg_fresh", "", ""),
    "D-value %": ("domd_g_per_kg_dm", "%", ""),
    "DOMD (% DM)": ("domd_g_per_kg_dm", "%", "dm"),
    "D": ("domd_g_per_kg_dm", "", ""),
    "DMD": ("dmd_g_per_kg_dm", "", ""),
    "OMD % OM": ("omd_g_per_kg_om", "%", "om"),
    "MJ ME/kg DM": ("me_mj_per_kg_dm", "mj/kg", "dm"),
    "Metabolisable energy (MJ/kg as fed)": ("me_mj_per_kg_dm", "mj/kg", "fresh"),
    "ME Mcal/kg": ("me_mj_per_kg_dm", "mcal/kg", ""),
    "NDF (g/kg of dry matter)": ("ndf_g_per_kg_dm", "g/kg", "dm"),
    "MAD fibre": ("madf_g_per_kg_dm", "", ""),
    "ether extract": ("oil_g_per_kg_dm", "", ""),
    "Sugars (WSC) %": ("sugar_g_per_kg_dm", "%", ""),
    "NH3-N (% total N)": ("ammonia_n_share_of_n", "%", "n"),
    "Ammonia-N as % of total N": ("ammonia_n_share_of_n", "%", "n"),
    "Copper \u00b5g/kg": ("cu_mg_per_kg_dm", "ug/kg", ""),
    "Iron (ppm)": ("fe_mg_per_kg_dm", "ppm", ""),
    "nitrate mg/kg DM": ("nitrate_mg_per_kg_dm", "mg/kg", "dm"),
    "P2O5 %": ("p_g_per_kg_dm", "%", ""),
    "pH": ("ph", "", ""),
    "n_c_per_h": ("n_c_per_h", "/h", ""),
}


@pytest.mark.parametrize(("text", "meant"), HEADINGS.items(), ids=HEADINGS)
def test_heading_is_taken_apart(text: str, meant: tuple[str, str, str]) -> None:
    found = lab_terms.heading(text)
    assert found.nutrient is not None
    got_unit = "" if (found.unit == "ph" and meant[0] == "ph") else found.unit
    assert (found.nutrient.id, got_unit, found.basis) == meant


@pytest.mark.parametrize(
    "text", ["Energy", "Digestibility", "Fibre", "Digestible protein", "True protein", "Moonstuff",
             "ME (Mcal/lb)", "protein of the field", "ADF (ash free)", "Ca:P", ""],
)  # fmt: skip
def test_unknown_heading_is_not_guessed(text: str) -> None:
    assert lab_terms.heading(text).nutrient is None


@pytest.mark.parametrize(
    ("text", "value"),
    [("6.9", 6.9), ("6,9", 6.9), ("1,234.5", 1234.5), ("1.234,5", 1234.5), ("1 234", 1234),
     ("0,125", 0.125), ("1,234,567", 1234567), ("69", 69), ("12'500", 12500)],
)  # fmt: skip
def test_number_is_read(text: str, value: float) -> None:
    assert lab_terms.number(text).value == pytest.approx(value)


def test_comma_with_three_digits_needs_the_rest_of_the_sheet_to_tell() -> None:
    with pytest.raises(InputError, match=r'read "1,234"; it could be 1234 or 1\.234'):
        lab_terms.number("1,234")
    assert lab_terms.number("1,234", "thousands").value == 1234
    assert lab_terms.number("1,234", "decimal").value == 1.234
    with pytest.raises(InputError, match=r"it could be 1234 or 1\.234"):
        lab_terms.number("1.234", "decimal")


@pytest.mark.parametrize(
    ("row", "nutrient", "house"),
    [
        ("protein,6.9,%,DM", "cp_g_per_kg_dm", 69),
        ("protein,0.069,kg/t,DM", "cp_g_per_kg_dm", 0.069),
        ("protein,6900,mg/100g,DM", "cp_g_per_kg_dm", 69),
        ("copper,9800,\u00b5g/kg,DM", "cu_mg_per_kg_dm", 9.8),
        ("copper,9.8,ppm,DM", "cu_mg_per_kg_dm", 9.8),
        ("phosphorus,2500,mg/kg,DM", "p_g_per_kg_dm", 2.5),  # definition
        ("calcium,0.5,%,DM", "ca_g_per_kg_dm", 5.0),  # definition
        ("ME,2,Mcal/kg,DM", "me_mj_per_kg_dm", 8.368),  # 1 Mcal = 4.184 MJ, definition
        ("P2O5,10,g/kg,DM", "p_g_per_kg_dm", 4.36),  # atomic weights
        ("CaO,1,%,DM", "ca_g_per_kg_dm", 7.15),
        ("MgO,10,g/kg,DM", "mg_g_per_kg_dm", 6.03),
        ("salt,1,%,DM", "na_g_per_kg_dm", 3.93),
        ("phosphorus,1,% as P2O5,DM", "p_g_per_kg_dm", 4.36),
        ("ammonia N,9,% of total N,", "ammonia_n_share_of_n", 0.09),
        ("D-value,57,%,", "domd_g_per_kg_dm", 570),
    ],
)
def test_unit_is_turned(row: str, nutrient: str, house: float) -> None:
    assert figure(long(row), nutrient) == pytest.approx(house)


@pytest.mark.parametrize(
    ("rows", "nutrient", "expected", "digits"),
    [
        # An 18 % cube at 87 % dry matter is 20.7 % in dry matter (worked by hand).
        (("dry matter,87,%,", "protein,18,%,fresh"), "cp_g_per_kg_dm", 207, 0.5),
        # Energy 10.5 MJ per kg fresh is 12.1 in dry matter (worked by hand).
        (("dry matter,87,%,", "ME,10.5,MJ/kg,as fed"), "me_mj_per_kg_dm", 12.1, 0.05),
        # Moisture 13 % is dry matter 87 %.
        (("moisture,13,%,", "protein,18,%,as received"), "cp_g_per_kg_dm", 207, 0.5),
    ],
)
def test_fresh_basis_is_turned_to_dry_matter(
    rows: tuple[str, ...], nutrient: str, expected: float, digits: float
) -> None:
    assert figure(long(*rows), nutrient) == pytest.approx(expected, abs=digits)


def test_prices_on_dry_matter() -> None:
    """Barley 280 GBP/t at 86 % DM and 13.2 MJ; silage 35 GBP/t at 21.6 % and 10.9 (by hand)."""
    assert units.price_gbp_per_t_dm(280, 0.86) == pytest.approx(325.6, abs=0.05)
    assert units.price_p_per_mj(280, 0.86, 13.2) == pytest.approx(2.47, abs=0.005)
    assert units.price_gbp_per_t_dm(35, 0.216) == pytest.approx(162.0, abs=0.05)
    assert units.price_p_per_mj(35, 0.216, 10.9) == pytest.approx(1.49, abs=0.005)


# ---- layouts


def test_wide_sheet_gives_one_sample_a_row() -> None:
    two = sheets(
        "Sample,DM (%),Crude protein (% DM),ME (MJ/kg DM),Colour\n"
        "Bottom Ings,86,6.9,8.1,green\nTop Field,85.2,n/a,8.3,\n"
    )
    assert [s.sample for s in two] == ["Bottom Ings", "Top Field"]
    assert figure(two[0], "cp_g_per_kg_dm") == pytest.approx(69)
    assert two[0].not_understood == ("line 1, column: Colour", "line 2, Colour: green")
    assert two[1].missing == ("line 3: Crude protein (% DM) | n/a",)


def test_row_of_units_under_the_headings_is_read() -> None:
    (sheet,) = sheets("Sample;DM;CP;ME;pH\n;%;% DM;MJ/kg DM;\nHay;86,0;6,9;8,1;5,6\n")
    assert figure(sheet, "cp_g_per_kg_dm") == pytest.approx(69)
    assert figure(sheet, "dm_g_per_kg_fresh") == pytest.approx(860)


def test_as_received_and_dry_columns_take_the_dry_one_and_keep_the_other() -> None:
    (sheet,) = sheets(
        "Analysis\tAs received\tDM\tUnits\nDry matter\t86.0\t100\t%\nCrude protein\t5.93\t6.9\t%\n"
        "D-value\t44\t51\t%\n"
    )
    assert figure(sheet, "dm_g_per_kg_fresh") == 860
    assert figure(sheet, "cp_g_per_kg_dm") == pytest.approx(69)
    assert figure(sheet, "domd_g_per_kg_dm") == pytest.approx(510)
    kept = [r.as_written for r in sheet.readings if not r.is_used]
    assert "Crude protein | As received: 5.93 | %" in kept
    assert len(kept) == 3


def test_air_dry_column_is_kept_and_not_used() -> None:
    (sheet,) = sheets("field,air dry,DM,unit\nprotein,6.4,6.9,%\ncalcium,4.8,,g/kg\n")
    assert figure(sheet, "cp_g_per_kg_dm") == pytest.approx(69)
    assert "ca_g_per_kg_dm" not in house_figures(sheet)
    assert said(analysis.checks(sheet, "hay", TABLES), "note", "air-dry basis")


def test_several_samples_in_a_long_sheet_are_told_apart() -> None:
    two = sheets("sample,field,value,unit,basis\nA,protein,6.9,%,DM\nB,protein,8.1,%,DM\n"
                 "A,ME,8.1,MJ/kg,DM\n")  # fmt: skip
    assert {s.sample: round(figure(s, "cp_g_per_kg_dm")) for s in two} == {"A": 69, "B": 81}


def test_sheet_without_headings_is_read() -> None:
    (sheet,) = sheets("Laboratory: ,Laboratory 1\nDry matter,86,%\nCrude protein:,7.4 % DM\n"
                      "ME,8.3,MJ/kg,DM,NIR\n")  # fmt: skip
    assert sheet.laboratory == "Laboratory 1"
    assert figure(sheet, "cp_g_per_kg_dm") == pytest.approx(74)
    assert sheet.not_understood == ("line 4, beside ME: NIR",)


def test_yaml_with_samples_shares_what_stands_above() -> None:
    two = sheets(
        "laboratory: Laboratory 1\nsamples:\n- sample: A\n  protein: 6.9 % DM\n"
        "- sample: B\n  protein: {value: 81, unit: g/kg, basis: DM}\n", is_yaml=True,
    )  # fmt: skip
    assert [(s.sample, s.laboratory) for s in two] == [("A", "Laboratory 1"), ("B", "Laboratory 1")]
    assert figure(two[1], "cp_g_per_kg_dm") == 81


@pytest.mark.parametrize(
    "way", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
)
def test_any_usual_way_of_saving_is_read(way: str) -> None:
    text = "field,value,unit,basis\nsample,Caf\u00e9 hay,,\ncopper,9800,\u00b5g/kg,DM\n"
    (sheet,) = sheets(text_of(text.encode(way), "sheet.csv"))
    assert sheet.sample == "Caf\u00e9 hay"
    assert figure(sheet, "cu_mg_per_kg_dm") == pytest.approx(9.8)


def test_whole_sheet_basis_is_heeded() -> None:
    (sheet,) = sheets("basis,as received\nfield,value,unit\ndry matter,87,%\nprotein,18,%\n")
    assert figure(sheet, "cp_g_per_kg_dm") == pytest.approx(206.9, abs=0.05)


def test_basis_not_said_is_taken_as_dry_matter_and_said() -> None:
    found = findings("hay", "dry matter,86,%,", "protein,10.2,%,")
    assert said(found, "warn", "does not say whether protein is fresh or dry; taken as dry")


def test_missing_unit_is_settled_by_size_or_asked() -> None:
    sheet = long("dry matter,86,,", "protein,69,,DM", "ME,2.0,,DM")
    assert figure(sheet, "dm_g_per_kg_fresh") == 860
    assert figure(sheet, "cp_g_per_kg_dm") == 69
    assert figure(sheet, "me_mj_per_kg_dm") == pytest.approx(8.368)
    assert said(analysis.checks(sheet, "hay", TABLES), "note", "only g/kg is believable")
    with pytest.raises(InputError, match=r"read 30 without a unit; it may be in % or g/kg"):
        long("protein,30,,DM")


def test_below_the_limit_and_blank_are_missing_not_zero() -> None:
    sheet = long("copper,<0.5,mg/kg,DM", "ash,-,%,DM", "protein,6.9,%,DM")
    made = analysis.feed_from([sheet], HAY, TABLES)
    assert made.feed.figure("cu_mg_per_kg_dm").mark == "memory"
    assert made.feed.figure("ash_g_per_kg_dm").mark == "memory"
    assert any("copper <0.5 mg/kg" in f.words.lower() for f in made.findings)
    assert any("ash | - | % | DM" in f.words for f in made.findings)


# ---- checks in words


def test_percent_for_grams_is_asked() -> None:
    with pytest.raises(
        InputError, match=r"protein 106 % is more than the whole.*Did you mean 106 g/kg\?"
    ):
        long("protein,106,%,DM")
    assert said(findings("hay", "protein,12,g/kg,DM"), "refuse", r"Did you mean 12 %\?")
    assert said(findings("hay", "protein,69,%,DM"), "refuse", r"Did you mean 69 g/kg\?")
    assert said(findings("hay", "phosphorus,900,g/kg,DM"), "refuse", r"Did you mean 900 mg/kg\?")
    with pytest.raises(InputError, match=r"phosphorus 2500 g/kg.*Did you mean 2500 mg/kg\?"):
        long("phosphorus,2500,g/kg,DM")
    assert said(findings("hay", "ME,2,MJ/kg,DM"), "refuse", r"Did you mean 2 Mcal/kg\?")


def test_moisture_entered_as_dry_matter_is_refused() -> None:
    """Hay of 14 %: common practice, no source (hay holds 10 to 20 % water)."""
    found = findings("hay", "dry matter,14,%,")
    assert said(found, "refuse", r"14 % for hay: is this the moisture\? Then dry matter is 86 %")
    assert said(findings("hay", "moisture,86,%,"), "refuse", "is this the dry matter")
    assert said(findings("hay", "moisture,16,%,", "dry matter,88,%,"), "refuse", "add to 100 %")
    assert not said(findings("root", "dry matter,14,%,"), "refuse", "")


def test_energy_and_d_value_must_go_together() -> None:
    apart = findings("hay", "dry matter,86,%,", "ME,8.1,MJ/kg,DM", "D-value,61,%,")
    assert said(apart, "warn", r"Energy 8\.1 MJ and D-value 61\.0 %.*is 9\.8 MJ")
    assert said(apart, "warn", r"8\.1 MJ is per kg fresh, that is 9\.4 MJ/kg dry matter")
    dmd = findings("hay", "ME,9.7,MJ/kg,DM", "D-value,66,%,")
    assert said(
        dmd, "warn", r"66\.0 % is digestibility of dry matter \(DMD\): then D-value is 61\.8"
    )
    # Guide values of good hay and silage go together: F-S26, restated.
    for d, me in ((58, 9.0), (64, 10.5), (61, 9.75), (65, 10.0), (70, 11.5)):
        assert not said(findings("hay", f"ME,{me},MJ/kg,DM", f"D-value,{d},%,"), "warn", "together")


def test_energy_of_hay_by_the_equation_for_silage_is_seen() -> None:
    """MADF 370: hay 8.9 MJ, silage 9.7 MJ (ADAS-MADF, memory)."""
    wrong = findings("hay", "ME,9.7,MJ/kg,DM", "MADF,370,g/kg,DM")
    assert said(wrong, "warn", r"equation for silage.*hay gives 8\.9 MJ")
    assert not said(findings("hay", "ME,8.9,MJ/kg,DM", "MADF,370,g/kg,DM"), "warn", "silage")


def test_fresh_basis_is_suggested_where_it_would_be_usual() -> None:
    found = findings("hay", "dry matter,86,%,", "ME,8.3,MJ/kg,")
    assert said(found, "note", r"per kg fresh: then it is 9\.7 MJ of dry matter")
    assert not said(findings("hay", "dry matter,86,%,", "ME,8.3,MJ/kg,DM"), "note", "per kg fresh")


def test_digestibilities_in_the_wrong_place_are_seen() -> None:
    assert said(findings("hay", "D-value,66,%,", "OMD,61,%,"), "refuse", "the wrong way round")
    assert said(findings("hay", "D-value,66,%,", "DMD,66,%,"), "warn", "entered as D-value")
    assert said(findings("hay", "D-value,75,%,"), "warn", "digestibility of dry matter")
    odd = findings("hay", "D-value,55,%,", "OMD,66,%,", "ash,8,%,DM")
    assert said(odd, "warn", r"which give 60\.7 %")
    with pytest.raises(InputError, match="Ask the laboratory which it is"):
        long("OMD,66,%,DM")


def test_swapped_columns_are_refused() -> None:
    (sheet,) = sheets("field,fresh,DM,unit\ndry matter,86,100,%\nprotein,8.0,6.9,%\n")
    found = analysis.checks(sheet, "hay", TABLES)
    assert said(found, "refuse", "Are the fresh and dry columns the wrong way round")


def test_sums_and_fibres_are_checked() -> None:
    over = findings("hay", "protein,30,%,DM", "NDF,75,%,DM", "ash,8,%,DM")
    assert said(over, "refuse", r"add to 113\.0 % of dry matter")
    doubt = findings("hay", "protein,22,%,DM", "NDF,75,%,DM", "ash,8,%,DM")
    assert said(doubt, "warn", r"add to 105\.0 %")
    assert not said(doubt, "refuse", "")
    assert said(findings("hay", "NDF,35,%,DM", "ADF,62,%,DM"), "refuse", "of which it is a part")
    assert said(findings("hay", "ash,13,%,DM"), "warn", "soil")  # F-S26: over 10 % means soil
    assert said(findings("hay", "protein,10,%,DM", "N,2.0,%,DM"), "warn", "6.25 times")


def test_label_protein_is_asked_about() -> None:
    """18 % on a label at 87 % dry matter is 20.7 % of dry matter (by hand)."""
    found = findings("compound", "dry matter,87,%,", "protein,18,%,")
    assert said(found, "warn", r"18 % as fed is 20\.7 % of dry matter")
    assert said(findings("compound", "protein,18,%,DM"), "note", r"20\.7 %")
    assert not said(findings("compound", "protein,20.7,%,DM"), "note", "label")


def test_oven_dry_matter_of_silage_is_said() -> None:
    found = findings("silage", "oven dry matter,25,%,", "protein,14,%,fresh")
    assert said(found, "warn", "true dry matter is more likely 26 to 27 %")  # memory: 1 to 2 units
    assert said(findings("silage", "dry matter,25,%,"), "note", "corrected dry matter is 1 to 2")
    assert not said(findings("silage", "corrected dry matter,25,%,"), "note", "corrected")


def test_usual_values_of_hay() -> None:
    """F-S26, restated: DM 84-90, D 58-64, ME 9-10.5, CP 8-14 %."""
    usual = findings(
        "hay", "dry matter,86,%,", "D-value,61,%,", "ME,9.8,MJ/kg,DM", "protein,10,%,DM"
    )
    assert usual == ()
    low = findings(
        "hay", "dry matter,83,%,", "D-value,57,%,", "ME,8.9,MJ/kg,DM", "protein,7.9,%,DM"
    )
    assert sum("below the usual" in f.words for f in low) == 4
    assert said(findings("silage", "dry matter,30,%,", "pH,4.6,,"), "note", "over 4.3")


def test_fresh_figure_without_dry_matter_is_refused_and_acceptance_is_by_name() -> None:
    assert said(findings("hay", "protein,6,%,fresh"), "refuse", "gives no dry matter")
    refused = findings("hay", "protein,12,g/kg,DM")
    accepted = findings("hay", "protein,12,g/kg,DM", accept=("cp_g_per_kg_dm",))
    assert said(refused, "refuse", "12 %")
    assert not said(accepted, "refuse", "")
    assert said(accepted, "warn", r"\(accepted\)")


def test_what_cannot_be_is_never_accepted() -> None:
    sheet = long("ME,81,MJ/kg,DM")
    with pytest.raises(InputError, match="Energy 81 MJ/kg DM cannot be"):
        analysis.feed_from([sheet], HAY, TABLES, accept=("me_mj_per_kg_dm",))


def test_refusals_stop_the_feed_all_at_once() -> None:
    sheet = long("dry matter,14,%,", "protein,12,g/kg,DM", "NDF,35,%,DM", "ADF,51,%,DM")
    with pytest.raises(InputError) as caught:
        analysis.feed_from([sheet], HAY, TABLES)
    assert len(caught.value.problems) == 3
    assert all(p.where.startswith("sheet.csv line ") for p in caught.value.problems)


# ---- repeat samples


def test_different_lots_are_not_averaged() -> None:
    a, b = (sheets(f"lot: {lot}\nprotein: 7 % DM\n", is_yaml=True)[0] for lot in ("1", "2"))
    with pytest.raises(InputError, match="different lots: 1, 2"):
        analysis.combine([a, b])
    with pytest.raises(InputError, match="no laboratory sheet was given"):
        analysis.combine([])


def test_laboratories_too_far_apart_are_doubted() -> None:
    near = analysis.combine([long("protein,7.4,%,DM"), long("protein,8.4,%,DM")])
    far = analysis.combine([long("protein,7.4,%,DM"), long("protein,10.4,%,DM")])
    assert near.findings == ()
    assert said(far.findings, "warn", "further apart than laboratory error")


# ---- filling gaps


@pytest.mark.parametrize(
    ("like", "rows", "expected", "digits"),
    [
        # The advisory equation's own worked values for hay (ADAS-MADF, memory).
        ("hay-good", ("MADF,370,g/kg,DM",), 8.9, 0.05),
        ("hay-good", ("MADF,32,%,DM",), 9.8, 0.05),
        ("hay-good", ("MADF,41,%,DM",), 8.1, 0.05),
        ("silage-clamp-medium", ("MADF,30,%,DM",), 10.77, 0.005),
        ("hay-good", ("DMD,65,%,",), 9.473, 0.0005),
        ("hay-good", ("OMD,66,%,", "ash,8,%,DM"), 0.16 * 66 * 0.92, 1e-9),
        ("cubes-18", ("NCGD,78,%,DM", "oil,4.5,%,DM"), 12.045, 0.0005),
        ("hay-good", ("digestible energy,11,MJ/kg,DM",), 8.91, 0.005),
        # The D-value is surer than fibre.
        ("hay-good", ("D-value,60,%,", "MADF,41,%,DM"), 9.6, 1e-9),
    ],
)
def test_energy_is_worked_out(
    like: str, rows: tuple[str, ...], expected: float, digits: float
) -> None:
    made = analysis.feed_from([long(*rows)], TABLES.feeds[like], TABLES)
    assert made.feed["me_mj_per_kg_dm"] == pytest.approx(expected, abs=digits)
    assert made.feed.figure("me_mj_per_kg_dm").mark == "derived"
    assert "me_mj_per_kg_dm" in made.derived


def test_measured_energy_wins_and_the_book_d_value_goes() -> None:
    made = analysis.feed_from([long("ME,8.3,MJ/kg,DM", "MADF,41,%,DM")], HAY, TABLES)
    assert made.feed["me_mj_per_kg_dm"] == 8.3
    assert "domd_g_per_kg_dm" not in made.feed.figures
    assert set(made.dropped) == {"fme_published_mj_per_kg_dm", "domd_g_per_kg_dm"}
    assert any("Left out" in w and "D-value" in w for w in analysis.words(made))


def test_book_energy_and_d_value_stay_when_neither_was_measured() -> None:
    made = analysis.feed_from([long("calcium,5.2,g/kg,DM")], HAY, TABLES)
    for nutrient in ("me_mj_per_kg_dm", "domd_g_per_kg_dm", "fme_published_mj_per_kg_dm"):
        assert made.feed.figure(nutrient) == HAY.figure(nutrient)
        assert nutrient in made.from_book
    assert made.dropped == ()
    assert made.derived == ()


def test_equation_out_of_range_leaves_the_book_and_says_so() -> None:
    made = analysis.feed_from([long("D-value,41,%,")], TABLES.feeds["hay-poor"], TABLES)
    assert made.feed["me_mj_per_kg_dm"] == 7.5
    assert said(made.findings, "warn", "Energy was not worked from D-value.*450 to 750")
    assert said(made.findings, "warn", "the book's stays")


def test_protein_from_nitrogen_is_derived() -> None:
    made = analysis.feed_from([long("N,1.1,%,DM")], HAY, TABLES)
    assert made.feed["cp_g_per_kg_dm"] == pytest.approx(68.75)  # 6.25 x 11, definition
    assert made.feed.figure("cp_g_per_kg_dm").mark == "derived"


def test_published_protein_parts_keep_their_share_and_say_so() -> None:
    book = Feed("x", "X", "byproduct", {
        "cp_g_per_kg_dm": Figure(250, "print"), "erdp_published_g_per_kg_dm": Figure(150, "print"),
    })  # fmt: skip
    made = analysis.feed_from([long("protein,20,%,DM")], book)
    assert made.feed["erdp_published_g_per_kg_dm"] == pytest.approx(120)
    assert made.derived == ("erdp_published_g_per_kg_dm",)
    assert "0.60" in made.feed.figure("erdp_published_g_per_kg_dm").note


def test_error_of_repeat_samples_is_carried_into_the_energy() -> None:
    made = analysis.feed_from([long("D-value,58,%,"), long("D-value,62,%,")], HAY, TABLES)
    assert made.feed.figure("domd_g_per_kg_dm").spread == pytest.approx(20)
    assert made.feed.figure("me_mj_per_kg_dm").spread == pytest.approx(0.32)


# ---- the equations themselves (their check rows are in tests/published/feed_equations.csv)


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (feed_equations.me_from_domd_mj_per_kg_dm, (440,)),
        (feed_equations.me_from_domd_mj_per_kg_dm, (760,)),
        (feed_equations.me_of_hay_from_madf_mj_per_kg_dm, (32,)),
        (feed_equations.me_of_silage_from_madf_mj_per_kg_dm, (500,)),
        (feed_equations.dmd_from_adf_g_per_kg_dm, (150,)),
        (feed_equations.domd_from_dmd_g_per_kg_dm, (65,)),
        (feed_equations.domd_from_dmd_g_per_kg_dm, (650, "martian")),
        (feed_equations.me_from_dmd_mj_per_kg_dm, (900,)),
        (feed_equations.me_of_byproduct_mj_per_kg_dm, (950, 30)),  # F-S41: ME 8.2 to 13.2, print
        (feed_equations.me_of_byproduct_mj_per_kg_dm, (500, 20)),
        (feed_equations.me_of_compound_mj_per_kg_dm, (78, 4.5)),
        (feed_equations.me_of_label_mj_per_kg_dm, (600, 40, 90, 90)),
        (feed_equations.me_from_proximate_mj_per_kg_dm, (300, 100, 300, 400)),
        (feed_equations.me_from_digestible_mj_per_kg_dm, (300, 100, 300, 400)),
        (feed_equations.ge_from_proximate_mj_per_kg_dm, (-1, 100, 300, 400)),
        (feed_equations.tdn_from_proximate_g_per_kg_dm, (300, 100, 300, 400)),
        (feed_equations.me_from_de_mj_per_kg_dm, (25,)),
        (feed_equations.me_from_de_mj_per_kg_dm, (10, "roman")),
        (feed_equations.me_from_tdn_mj_per_kg_dm, (1001,)),
        (feed_equations.omd_of_cereal_g_per_kg_om, (300,)),
        (feed_equations.domd_from_omd_g_per_kg_dm, (1100, 80)),
        (feed_equations.domd_from_omd_g_per_kg_dm, (700, math.nan)),
        (feed_conversions.cp_from_n_g_per_kg_dm, (500,)),
        (feed_conversions.dcp_of_forage_g_per_kg_dm, (400,)),
        (feed_conversions.dm_from_moisture_g_per_kg_fresh, (1000,)),
        (feed_conversions.element_from_compound_g_per_kg, ("H2O", 1)),
        (feed_conversions.g_per_kg_from_mg, (-1,)),
    ],
)
def test_equation_does_not_extrapolate(function: Any, arguments: tuple[Any, ...]) -> None:
    with pytest.raises(OutOfRange, match=r"covers|it is one of"):
        function(*arguments)


# ---- properties


@st.composite
def lab_hay(draw: st.DrawFn) -> dict[str, float]:
    """Tenths of the unit a sheet prints, so that every way of writing is exact."""
    tenths = st.integers
    return {
        "dm": draw(tenths(800, 920)) / 10, "cp": draw(tenths(50, 160)) / 10,
        "ndf": draw(tenths(450, 700)) / 10, "ash": draw(tenths(50, 95)) / 10,
        "d": draw(tenths(500, 680)) / 10, "ca": draw(tenths(15, 90)) / 10,
        "cu": draw(tenths(20, 120)) / 10,
    }  # fmt: skip


def _comma(value: float) -> str:
    return f"{value:.10g}".replace(".", ",")


def _ways(x: dict[str, float]) -> dict[str, tuple[Sheet, ...]]:
    """The same hay written in several ways."""
    nitrogen = f"{x['cp'] / 6.25:.6f}".replace(".", ",")
    fresh = {k: x[k] * x["dm"] / 100 for k in ("cp", "ndf", "ash", "ca", "cu")}
    return {
        "%": sheets(
            f"field,value,unit,basis\ndry matter,{x['dm']},%,\nprotein,{x['cp']},%,DM\n"
            f"NDF,{x['ndf']},%,DM\nash,{x['ash']},%,DM\nD-value,{x['d']},%,\n"
            f"Ca,{x['ca'] / 10:.10g},%,DM\nCu,{x['cu']},mg/kg,DM\n"
        ),
        "g/kg": sheets(
            "Sample,Dry matter (g/kg),Crude protein (g/kg DM),NDF g/kg DM,ash_g_per_kg_dm,"
            f"DOMD (g/kg DM),Calcium g/kg DM,Copper \u00b5g/kg DM\nHay,{x['dm'] * 10:.10g},"
            f"{x['cp'] * 10:.10g},{x['ndf'] * 10:.10g},{x['ash'] * 10:.10g},{x['d'] * 10:.10g},"
            f"{x['ca']},{x['cu'] * 1000:.10g}\n"
        ),
        "fresh": sheets(
            f"Analysis|Result|Unit|Basis\nMoisture|{100 - x['dm']:.10g}|%|\n"
            f"CP|{fresh['cp']!r}|%|as received\nNDF|{fresh['ndf']!r}|%|fresh\n"
            f"ash|{fresh['ash']!r}|%|as fed\nD|{x['d']}|%|\nCa|{fresh['ca']!r}|g/kg|fresh\n"
            f"Cu|{fresh['cu']!r}|ppm|fresh\n"
        ),
        "decimal comma": sheets(
            f"Trockensubstanz;1\nDM;{_comma(x['dm'])};%\nN;{nitrogen};% DM\n"
            f"NDF;{_comma(x['ndf'])} % DM\nash;{_comma(x['ash'])};% of dry matter\n"
            f"D-value;{_comma(x['d'])};%\n"
            f"Ca;{_comma(x['ca'])};g/kg;DM\nCu;{_comma(x['cu'])};mg/kg DM\n"
        ),
        "yaml": sheets(
            f"DM: {x['dm']} %\nprotein: {x['cp']} % DM\nNDF: '{_comma(x['ndf'])} % DM'\n"
            f"ash: {{value: {x['ash']}, unit: '%', basis: DM}}\nD-value: {x['d']} %\n"
            f"Ca: {x['ca']} g/kg DM\nCu: {x['cu']} mg/kg DM\n", is_yaml=True,
        ),
    }  # fmt: skip


@given(lab_hay())
def test_one_hay_written_five_ways_is_one_feed(x: dict[str, float]) -> None:
    feeds = {}
    for way, read in _ways(x).items():
        made = analysis.feed_from(read, HAY, TABLES)
        feeds[way] = {n: f.value for n, f in made.feed.figures.items()}
    first = feeds.pop("%")
    assert first["cp_g_per_kg_dm"] == pytest.approx(x["cp"] * 10)
    assert first["me_mj_per_kg_dm"] == pytest.approx(0.16 * x["d"])
    for way, figures in feeds.items():
        assert figures == pytest.approx(first), way


UNIT_OF = {"protein": "%", "oil": "g/kg", "ash": "%", "ME": "MJ/kg", "pH": "", "copper": "mg/kg",
           "P2O5": "g/kg", "D-value": "%", "dry matter": "%"}  # fmt: skip
WORDED = ("sample", "lot", "laboratory", "method", "basis", "unknown", "Colour of it")


@given(
    st.lists(
        st.tuples(
            st.sampled_from((*UNIT_OF, *WORDED)),
            st.sampled_from(("figure", "figure", "limit", "dash", "nothing")),
            st.sampled_from(("DM", "fresh", "as received", "")),
            st.booleans(),
        ),
        min_size=1,
        max_size=8,
        unique_by=lambda cell: cell[0],
    ),
    st.sampled_from(("long", "loose", "wide")),
)
def test_nothing_is_lost(cells: list[tuple[str, str, str, bool]], layout: str) -> None:
    """Each cell of a sheet that is read stands in a reading, the header or what is kept."""
    rows, tokens = [], []
    for i, (name, kind, basis, with_remark) in enumerate(cells):
        label, unit = (f"unknown{i}" if name == "unknown" else name), UNIT_OF.get(name, "")
        value = {"figure": f"6.{100 + i}", "limit": f"<0.{100 + i}", "dash": "-"}.get(kind, "")
        if name in WORDED:
            value = f"word{i}" if kind == "figure" else ""
            basis = ""
        row = [label, value, unit, basis, f"remark{i}" if with_remark else ""]
        rows.append(row)
        if name == "unknown":
            tokens.append(label)
        if value not in ("", "-"):
            tokens.append(value)
        if with_remark and layout != "wide":
            tokens.append(row[4])
    if layout == "long":
        rows = [["field", "value", "unit", "basis", "comment"], *rows]
    elif layout == "wide":
        heads = [f"{r[0]} ({r[2]} {r[3]})" if r[2] + r[3] else r[0] for r in rows]
        rows = [heads, [r[1] for r in rows]]
    out = io.StringIO()
    csv.writer(out, delimiter=";").writerows(rows)
    try:
        read = sheets(out.getvalue())
    except InputError:
        return  # refused, and so not lost
    told = "\n".join(
        json.dumps(s.__dict__, default=lambda r: r.as_written, ensure_ascii=False) for s in read
    )
    assert [t for t in tokens if t not in told] == []


def test_original_figures_are_kept_as_written() -> None:
    made = analysis.feed_from([long("protein,6.90,%,DM")], HAY, TABLES)
    (reading,) = made.original[0].readings
    assert (reading.as_written, reading.value, reading.unit) == (
        "protein | 6.90 | % | DM",
        6.9,
        "%",
    )
    assert '"protein | 6.90 | % | DM"' in made.feed.figure("cp_g_per_kg_dm").note


def test_neither_pandas_nor_numpy_is_loaded() -> None:
    import subprocess
    import sys

    code = ("import sys, ration.analysis, ration.analysis.yaml_sheet; "
            "sys.exit(any(m in sys.modules for m in ('numpy', 'pandas', 'pulp')))")  # fmt: skip
    root = Path(__file__).parent.parent
    assert subprocess.run([sys.executable, "-c", code], cwd=root, check=False).returncode == 0
