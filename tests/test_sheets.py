"""Sheets on paper: figures those of the JSON, safe HTML, pages that hold, nothing cut or crossed.

What a page must be is A4 (ISO 216: 210 by 297 mm). That amounts on a card in a shed are read at 18
points or more is common practice, no source.
"""

from __future__ import annotations

import importlib
import io
import json
import math
import os
import re
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import dataclass, replace
from datetime import date, timedelta
from importlib.util import find_spec
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from ration import animals, card, jobs, sheets, units
from ration.cautions import STANDING
from ration.cli.paper import paper
from ration.errors import FileError
from ration.explain import kilos, pence
from ration.faces import as_json, minerals_json, minerals_words, winter_json, wintering_json
from ration.jobs import minerals as mineral_jobs
from ration.jobs import quotes as quote_jobs
from ration.jobs import winter as winter_jobs
from ration.jobs import wintering as wintering_jobs
from ration.sheets import card as card_sheets
from ration.sheets import drawings, ears, html, store

HERE = Path(__file__).parent
DEMO = HERE.parent / "ration" / "demo"
QUERNHOPE, HAFOD = DEMO / "quernhope.yaml", DEMO / "hafod-wrynach.yaml"
LAB = {"bottom-ings": DEMO / "bottom-ings-2026-11-16.csv"}
FARM = HERE / "data" / "winter" / "farm.yaml"
CO_OP = HERE / "data" / "quotes" / "orrowmoss-september.csv"
DAY = date(2026, 10, 4)
FOOT = sheets.foot(DAY, "0123456789ab")
HOSTILE = "</style><script>alert(1)</script><img src=x onerror=y>&amp;\"'{{7*7}}\x00\u202e"
POINTS_A_MM = 72 / 25.4

is_ci = bool(os.environ.get("CI"))
needs_pdf = pytest.mark.skipif(
    find_spec("weasyprint") is None and not is_ci, reason="weasyprint (extra [pdf]) is missing"
)
needs_poppler = pytest.mark.skipif(
    shutil.which("pdftotext") is None and not is_ci, reason="poppler's pdftotext is missing"
)


# ---------------------------------------------------------------- worked once


@pytest.fixture(scope="module")
def winter():
    """A winter worked once; the prices to walk away at are written in, one of them without end."""
    done = winter_jobs.winter_file(FARM, seconds=3, with_values=False)
    bought = dict.fromkeys(d.supply.id for d in done.plan.deliveries)
    walk = {name: 1234.5 + i if i else math.inf for i, name in enumerate(bought)}
    return replace(done, plan=replace(done.plan, walk_away_gbp_per_t=walk))


@pytest.fixture(scope="module")
def cards(winter):
    """Cards of four pens as trough feed comes in, in mid-winter, and as it goes out."""
    periods = winter.plan.periods
    return tuple(
        c
        for at in (0, len(periods) // 2, len(periods) - 1)
        for c in winter_jobs.cards_of(winter, periods[at].start)
    )


@pytest.fixture(scope="module")
def mixed():
    """The demo by its laboratory sheet, with the rations before."""
    return jobs.mix_file(QUERNHOPE, sheets=LAB)


@pytest.fixture(scope="module")
def wintered():
    return wintering_jobs.wintering_file(QUERNHOPE, with_mix=True)


@pytest.fixture(scope="module")
def compared():
    return quote_jobs.compare_file(FARM, quotes=[CO_OP])


@pytest.fixture(scope="module")
def minerals():
    return mineral_jobs.minerals_file(QUERNHOPE)


@pytest.fixture(scope="module")
def needs():
    return sheets.needs_beside(QUERNHOPE, sheets=LAB)


@pytest.fixture(scope="module")
def made(winter, cards, mixed, wintered, compared, minerals, needs):
    """Every sheet as HTML."""
    return {
        "card": sheets.card_sheet("Quernhope", cards, FOOT),
        "order": sheets.order_sheet(winter, FOOT, drawings.of_order(winter)),
        "ration": sheets.ration_sheet(mixed, FOOT),
        "nutritionist": sheets.nutritionist_sheet(mixed, FOOT),
        "needs": sheets.needs_sheet(needs, FOOT),
        "quotes": sheets.quotes_sheet(compared, FOOT),
        "wintering": sheets.wintering_sheet(wintered, FOOT),
        "minerals": sheets.minerals_sheet(minerals, FOOT),
    }


@pytest.fixture(scope="module")
def printed(made):
    """Every sheet as PDF."""
    return {kind: sheets.pdf(page) for kind, page in made.items()}


KINDS = ("card", "order", "ration", "nutritionist", "needs", "quotes", "wintering", "minerals")


# ---------------------------------------------------------------- reading a sheet again


def tree(page: str) -> ET.Element:
    """The page read as XML: it is well formed or this fails."""
    return ET.fromstring(page.removeprefix("<!DOCTYPE html>"))


def words(element: ET.Element) -> str:
    return " ".join("".join(element.itertext()).split())


def tables(page: str) -> list[list[list[str]]]:
    """Cells of every table, row by row."""
    return [
        [[words(c) for c in row if c.tag in ("th", "td")] for row in table.iter("tr")]
        for table in tree(page).iter("table")
    ]


def table(page: str, *heads: str) -> list[list[str]]:
    """Rows of the first table in whose headings all of these stand."""
    for rows in tables(page):
        if any(all(any(h in cell for cell in row) for h in heads) for row in rows[:2]):
            return rows
    raise AssertionError(f"no table has the headings {heads}")


# ---------------------------------------------------------------- HTML that is safe and whole


@pytest.mark.parametrize("kind", KINDS)
def test_a_sheet_is_well_formed_and_stands_alone(made, kind):
    page = made[kind]
    root = tree(page)
    assert root.tag == "html"
    assert root.get("lang") == "en-GB"
    assert root.find("head/title").text
    for element in root.iter():
        assert element.tag not in ("script", "link", "iframe", "object", "img", "form", "input")
        for name, value in element.attrib.items():
            assert not name.startswith("on")
            assert name not in ("src", "href", "action")
            assert "//" not in value and "url(" not in value
    style = root.find("head/style").text
    assert "url(" not in style and "@import" not in style and "http" not in style
    assert "size: A4" in style
    ids = [h for h in root.iter() if h.tag in ("h1",)]
    assert ids


@pytest.mark.parametrize("kind", KINDS)
def test_every_figure_column_has_a_heading_of_its_own(made, kind):
    for element in tree(made[kind]).iter("th"):
        assert element.get("scope") in ("col", "row", "colgroup", "rowgroup")


@pytest.mark.parametrize("kind", KINDS)
def test_the_foot_carries_version_day_tables_and_the_standing_caution(made, kind):
    page = made[kind]
    foot = words(tree(page).find("body/footer"))
    assert STANDING in foot
    assert "4 October 2026" in foot
    assert "0123456789ab" in foot
    assert "counter(page)" in page and "counter(pages)" in page


def test_black_on_white_and_no_meaning_in_colour(made):
    style = tree(made["card"]).find("head/style").text
    colours = set(re.findall(r"#[0-9a-fA-F]{3,6}\b", style))
    assert colours <= {"#000", "#fff", "#777"}
    assert "background: #fff" in style


def test_a_hostile_name_is_text_and_nothing_else(cards, mixed, compared):
    first = replace(
        cards[0],
        batch=replace(cards[0].batch, name=HOSTILE),
        notes=(HOSTILE,),
        lines=tuple(replace(x, name=HOSTILE) for x in cards[0].lines),
    )
    rations = [replace(r, batch=replace(r.batch, name=HOSTILE)) for r in mixed.result.rations]
    farm = replace(mixed.result.farm, name=HOSTILE)
    wrong = replace(mixed, result=replace(mixed.result, farm=farm, rations=tuple(rations)))
    bad = tuple(replace(r, merchant=HOSTILE, reason=HOSTILE) for r in compared.ranked)
    for page in (
        sheets.card_sheet(HOSTILE, [first], FOOT),
        sheets.ration_sheet(wrong, FOOT),
        sheets.nutritionist_sheet(wrong, FOOT),
        sheets.quotes_sheet(replace(compared, ranked=bad), FOOT),
    ):
        root = tree(page)
        assert not list(root.iter("script")) and not list(root.iter("img"))
        assert "<script" not in page
        assert "{{7*7}}" in "".join(root.itertext())  # not reckoned by the template engine
        assert "\x00" not in page


@given(st.text(max_size=60))
def test_text_in_a_style_sheet_cannot_leave_its_string(text):
    made = html.css_text(text)
    assert made[0] == made[-1] == '"'
    assert not re.search(r"[\"'<>\n\r{};]", made[1:-1])
    # read back as CSS reads it (CSS Syntax Level 3, 4.3.7: six hex digits end an escape)
    back = re.sub(r"\\([0-9a-f]{6})", lambda m: chr(int(m[1], 16)), made[1:-1])
    assert back == text


@given(st.text(max_size=40), st.text(max_size=40))
def test_any_names_make_a_page_that_can_be_read(farm, batch):
    made = card.Card(
        animals.batch(batch, weight_kg=35, gain_g_per_day=30, head=9), 1, 1, 9, DAY,
        DAY + timedelta(days=9), (), 1, 1, True, notes=(batch,),
    )  # fmt: skip
    page = sheets.card_sheet(farm, [made], FOOT)
    page.encode("utf-8")
    tree(page)


def test_a_drawing_may_hold_no_script_and_fetch_nothing():
    @dataclass(frozen=True)
    class Drawn:
        svg: str
        title: str = "Hay left"
        sentence: str = "The hay lasts to 2 April."

    good = '<?xml version="1.0"?><!DOCTYPE svg><svg xmlns="http://www.w3.org/2000/svg"><g/></svg>'
    assert html.svg_inside(good) == '<svg xmlns="http://www.w3.org/2000/svg"><g/></svg>'
    for bad in (
        "<svg><script>1</script></svg>",
        '<svg onload="x()"></svg>',
        '<svg><image href="http://example.invalid/x.png"/></svg>',
    ):
        with pytest.raises(ValueError, match="no script"):
            html.svg_inside(bad)


def test_a_drawing_stands_with_its_sentence_under_it(mixed):
    @dataclass(frozen=True)
    class Drawn:
        svg: str = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"></svg>'
        title: str = 'What a "bale" is worth'
        sentence: str = "Worth less & less."

    root = tree(sheets.ration_sheet(mixed, FOOT, [Drawn()]))
    figure = next(root.iter("figure"))
    assert figure.get("role") == "img"
    assert figure.get("aria-label") == 'What a "bale" is worth'
    assert words(figure.find("figcaption")) == "Worth less & less."


# ---------------------------------------------------------------- figures are those of the JSON


def test_card_gives_what_the_json_gives(winter, cards, made):
    found = winter_json.cards_json(winter, cards)["cards"]
    sides = [s for s in tree(made["card"]).iter("section")]
    assert len(sides) == len(found) == len(cards)
    for side, one in zip(sides, found, strict=True):
        told = words(side)
        for meal in one["meals"]:
            for feed in meal["feeds"]:
                assert feed["name"] in told
                first = feed["give"].split(", and")[0].split(" every")[0]
                assert first in told
        for day in one["days"]:
            for feed in day["feeds"]:
                assert feed["give"] in told
        for note in one["notes"]:
            assert note in told
        for caution in one["cautions"]:
            assert caution["words"] in told


def test_card_has_a_box_for_every_meal_of_every_day(cards, made):
    for side, one in zip(tree(made["card"]).iter("section"), cards, strict=True):
        boxes = [b for b in side.iter("span") if b.get("class") == "box"]
        assert len(boxes) == (one.end - one.start).days * len(one.meal_names())
        days = [
            words(h)
            for h in side.iter("th")
            if re.match(r"(Mon|Tue|Wed|Thu|Fri|Sat|Sun)\b", words(h))
        ]
        assert len(days) == (one.end - one.start).days
        assert sum(d.endswith("*") for d in days) == len(one.days)


def test_card_of_a_long_span_has_weeks_to_date_by_hand():
    start = date(2026, 10, 28)  # a Wednesday
    long = card.Card(
        animals.batch("b", weight_kg=35, gain_g_per_day=30, head=9), 1, 1, 9, start,
        start + timedelta(days=156), (), 2, 2, True,
    )  # fmt: skip
    rows = card_sheets.weeks(long)
    assert rows[0] == ("Wed", "Thu", "Fri", "Sat", "Sun", "Mon", "Tue")
    assert len(rows) == 5
    assert len(card_sheets.weeks(replace(long, end=start + timedelta(days=14)))) == 2


def test_order_gives_what_the_json_gives(winter, made):
    found = winter_json.order_json(winter)
    rows = table(made["order"], "Feed", "tonnes", "walk away")
    assert rows[0][0] == "rung"
    assert len(rows) - 1 == len(found["order"]) > 3
    for cells, row in zip(rows[1:], found["order"], strict=True):
        _, feed, merchant, tonnes, amount, when, price, cost, walk = cells
        assert (feed, merchant, amount, when) == (
            row["name"], row["merchant"], row["amount"], row["when"],
        )  # fmt: skip
        places = 2 if row["tonnes_fresh"] >= 0.05 else 3
        assert tonnes == f"{row['tonnes_fresh']:.{places}f}"
        assert price == f"{row['price_gbp_per_t_fresh']:.2f}"
        assert cost == units.money(row["cost_gbp"])
        above = row["walk_away_gbp_per_t_fresh"]
        expected = (
            "any price" if row["cannot_do_without"] else ("" if above is None else f"{above:,.2f}")
        )
        assert walk == expected
    told = words(tree(made["order"]))
    assert units.money(found["bill"]["to_merchants_gbp"]) in told
    assert found["proof"] in told
    assert found["stack"]["line"] in told
    for one in found["refused"]:
        assert one["why"] in told
    for line in found["to_ask"]:
        assert line in told
    assert "signed" in told
    # the rows add up to the feed bill, to the penny a row may be rounded by
    total = sum(float(r[7].replace("£", "").replace(",", "")) for r in rows[1:])
    assert total == pytest.approx(found["bill"]["feed_gbp"], abs=0.005 * len(rows))


def test_ration_gives_what_the_json_gives(mixed, made):
    found = as_json.mix_json(mixed)
    rows = table(made["ration"], "strong", "middle", "small")
    names = rows[0][1:]
    assert names == [b["name"] for b in found["batches"]]
    by_feed = {r[0].removesuffix(" (all there is)"): r[1:] for r in rows[2:]}
    for i, batch in enumerate(found["batches"]):
        for feed in batch["feeds"]:
            kg = feed["kg_fresh_offered_per_head_day"]
            if kg <= 0:
                assert by_feed.get(feed["name"], [""] * 6)[2 * i] == ""
                continue
            assert by_feed[feed["name"]][2 * i] == kilos(kg)
            assert by_feed[feed["name"]][2 * i + 1] == f"{kg * batch['head']:.1f} kg"
    told = words(tree(made["ration"]))
    for batch in found["batches"]:
        assert f"{pence(batch['cost_gbp_per_head_day'])} a head a day" in told
        assert f"Expect {batch['gain_g_per_day']:.0f} g a day" in told
    for one in mixed.cautions:
        assert (one.words in told) == (one.level != "note")


def test_nutritionist_gives_needs_supply_limits_and_what_binds(mixed, made):
    found = sheets.nutritionist_json(mixed)
    rows = table(made["nutritionist"], "Need or limit", "strong")
    lines = {r[0]: r[1:] for r in rows[2:]}
    for i, batch in enumerate(found["batches"]):
        shown = {f"{n['name']}, {n['unit']}": n for n in batch["nutrients"] if n["supply"] > 0}
        for name, n in shown.items():
            if "calcium to phosphorus" in name:
                continue  # its two ends stand in one row
            brings, least, most = lines[name][3 * i : 3 * i + 3]
            assert brings.startswith("= ") == n["binding"]
            for cell, value in (
                (brings.removeprefix("= "), n["supply"]),
                (least, n["need"]),
                (most, n["limit"]),
            ):
                if value is None:
                    assert cell == ""
                else:
                    assert float(cell) == pytest.approx(value, abs=0.05001)
    told = words(tree(made["nutritionist"]))
    for batch in found["batches"]:
        for feed in batch["feeds"]:
            if feed["price_gbp_per_t"] and feed["is_home"] is False:
                assert units.money(feed["price_gbp_per_t"]) in told
    for line in found["changed_feeds"]:
        assert line in told


def test_nutritionist_gives_every_figure_with_its_origin(mixed, made):
    rows = table(made["nutritionist"], "Feed", "ME MJ", "CP g")
    at = {head: i for i, head in enumerate(rows[0])}
    found = sheets.nutritionist_json(mixed)["feed_figures"]
    names = {o.id: o.name for o in mixed.result.rations[0].offers}
    cells = {r[0]: r for r in rows[1:]}
    assert len(cells) == len(found)
    for feed in found:
        row = cells[names[feed["offer"]]]
        for head, nutrient in (
            ("ME MJ", "me_mj_per_kg_dm"),
            ("CP g", "cp_g_per_kg_dm"),
            ("Cu mg", "cu_mg_per_kg_dm"),
        ):
            figure = feed["figures"].get(nutrient)
            if figure is None:
                assert row[at[head]] == "unknown"
                continue
            number, letter = row[at[head]].split()
            assert float(number) == pytest.approx(figure["value"], rel=1e-3)
            assert letter == {
                "lab": "L", "label": "l", "user": "Y", "print": "P", "restated": "R",
                "derived": "D", "memory": "M", "practice": "C", "guess": "G",
            }[figure["mark"]]  # fmt: skip
    assert "6.9" not in cells["Bottom Ings"][at["CP g"]]
    assert cells["Bottom Ings"][at["CP g"]] == "69 L"  # the sheet's 6.9 % of dry matter
    assert cells["Bottom Ings"][at["ME MJ"]] == "8.1 L"


def test_needs_are_those_of_each_standard(needs, made):
    found = sheets.needs_beside_json(needs)
    told = tables(made["needs"])
    need_tables = [t for t in told if t[0][0] == "Need, a head a day"]
    assert len(need_tables) == len(found["needs"]) == 3
    for rows, beside in zip(need_tables, found["needs"].values(), strict=True):
        energy = next(r for r in rows if r[0] == "energy, MJ ME")
        for i, one in enumerate(beside["needs"].values()):
            assert energy[1 + 2 * i] == f"{one['me_mj_per_day']:.2f}"
    # by the farm's standard the need is the need of the ration itself
    for batch in found["mix"]["batches"]:
        energy = next(n for n in batch["nutrients"] if n["id"] == "energy")
        own = found["needs"][batch["name"]]["needs"]["AFRC 1993"]["me_mj_per_day"]
        assert own == pytest.approx(energy["need"], rel=1e-6)


def test_needs_show_before_and_after_the_analysis(needs, made):
    for old, new in zip(needs.mixed.before.rations, needs.mixed.result.rations, strict=True):
        rows = next(
            t for t in tables(made["needs"])
            if t[0][:3] == ["Feed", "put out, before", "put out, after"]
            and any(r[-1] == pence(new.cost_gbp_per_head_day) and r[0] == "together" for r in t)
        )  # fmt: skip
        cells = {r[0].removesuffix(" (all there is)"): r for r in rows}
        for line in new.feeds:
            if line.is_used:
                assert cells[line.name][2] == kilos(line.kg_fresh_offered_per_head_day)
        assert cells["together"][-2] == pence(old.cost_gbp_per_head_day)


def test_needs_without_an_analysis_have_no_before(needs):
    page = sheets.needs_sheet(replace(needs, mixed=replace(needs.mixed, before=None)), FOOT)
    assert "before and after" not in page


def test_quotes_give_rank_cost_reason_and_the_refused(compared, made):
    found = winter_json.compared_json(compared)
    rows = table(made["quotes"], "Merchant", "Why")
    told = words(tree(made["quotes"]))
    ranked = [r for r in found["ranking"] if r["rank"] is not None]
    refused = [r for r in compared.ranked if r.refused]
    assert ranked and refused
    for one, r in zip(ranked, [r for r in compared.ranked if r.rank is not None], strict=True):
        row = next(x for x in rows if len(x) > 2 and x[1] == f"{r.merchant}, {r.feed}")
        assert row[0] == str(one["rank"])
        assert row[2] == f"{r.cost_gbp_per_head_day * 100:.2f}"
        assert row[3] == f"{r.cost_gbp_for_winter:.2f}"
        assert r.reason in row[6]
    for r in refused:
        assert r.refused in told
    for line in found["to_ask"]:
        assert line.split(": ")[-1] in told


def test_wintering_gives_costs_keep_turns_and_the_welfare_line(wintered, made):
    found = wintering_json.wintering_json(wintered)
    page = made["wintering"]
    told = words(tree(page))
    rows = table(page, *(w["way"] for w in found["ways"]))
    cells = {r[0]: r[1:] for r in rows}
    for i, way in enumerate(found["ways"]):
        assert cells["together, a head"][i] == f"{way['gbp_per_head_wintered']:.2f}"
        assert cells["a head returned alive"][i] == f"{way['gbp_per_head_returned']:.2f}"
        for line in way["lines"]:
            if line["gbp_per_head"]:
                assert cells[line["name"]][i] == f"{line['gbp_per_head']:.2f}"
    for line in found["words"]:
        assert line in told
    for keep in found["most_for_keep"]:
        assert f"{keep['p_per_head_week']:.1f} p beside {keep['home']}" in told
    turns = table(page, "passes", "then cheapest")
    assert 0 < len(turns) - 1 <= len(found["switching_values"])
    boxed = [words(p) for p in tree(page).iter("p") if p.get("class") == "wanted"]
    assert len(boxed) == 1
    assert found["welfare"]["words"] in boxed[0]
    for note in [*found["notes"], *found["trials"], *found["shed"]]:
        assert note["words"] in told
    for p in found["partial_budgets"]:
        assert f"{abs(p['gain_gbp_per_head']):.2f}" in told


def test_minerals_say_unknown_and_never_nought(minerals, made):
    found = minerals_json.minerals_json(minerals)
    told = [t for t in tables(made["minerals"]) if "brings" in t[0]]
    assert len(told) == len(found["batches"])
    for rows, batch in zip(told, found["batches"], strict=True):
        for row, line in zip(rows[1:], batch["lines"], strict=True):
            assert row[0].startswith(line["name"])
            if line["per_kg_dm"] is None:
                assert row[1] == row[2] == "unknown"
            else:
                number = minerals_words.figure(line["per_kg_dm"])
                assert row[1] == (f"at least {number}" if line["is_at_least"] else number)
            assert row[-1] == line["verdict"]
    everything = words(tree(made["minerals"]))
    for batch in found["batches"]:
        for line in (*batch["words"], *batch["differences"]):
            assert line in everything


def test_what_is_heard_is_what_is_printed():
    from ration.faces.report import say
    from ration.faces.report import table as put_table

    def put(console):
        say(console, "One.", "Two.", style="bold")
        console.rule(style="dim")
        put_table(console, "T", ("a", "b"), [("x", "1"), ("[y]", "2")])

    one, two, rule, found = ears.heard(put)
    assert (one.text, one.style, two.text) == ("One.", "bold", "Two.")
    assert isinstance(rule, ears.Rule)
    assert found == ears.Grid("T", ("a", "b"), (True, False), (("x", "1"), ("[y]", "2")))
    assert ears.grid((one, found), "T") is found
    with pytest.raises(LookupError):
        ears.grid((one, found), "U")
    m = ears.merged([("p", found), ("q", replace(found, rows=(("z", "3"),)))], (1,), ("n",), ("x",))
    assert m.rows == (("z", (("",), ("3",))), ("[y]", (("2",), ("",))), ("x", (("1",), ("",))))


# ---------------------------------------------------------------- pages


PAGES = {
    "order": (1, 2), "ration": (1, 1), "nutritionist": (2, 3), "quotes": (1, 2), "wintering": (2, 2),
    "minerals": (4, 4), "needs": (4, 5),
}  # fmt: skip


def page_count(data: bytes) -> int:
    import pypdf

    return len(pypdf.PdfReader(io.BytesIO(data)).pages)


def page_words(data: bytes) -> list[list[tuple[float, float, float, float, str]]]:
    """Words with their boxes on each page, in mm: left, top, right, bottom, text."""
    told = subprocess.run(
        ["pdftotext", "-bbox", "-", "-"], input=data, capture_output=True, check=True
    ).stdout.decode()
    out = []
    for part in told.split("<page ")[1:]:
        found = re.findall(
            r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>',
            part,
        )
        out.append([(*(float(v) / POINTS_A_MM for v in f[:4]), f[4]) for f in found])
    return out


@needs_pdf
@pytest.mark.parametrize("kind", PAGES)
def test_a_sheet_keeps_to_its_pages(printed, kind):
    least, most = PAGES[kind]
    assert least <= page_count(printed[kind]) <= most


@needs_pdf
def test_a_card_is_one_side_a_pen(printed, cards):
    assert page_count(printed["card"]) == len(cards) == 12


@needs_pdf
def test_pages_are_a4(printed):
    import pypdf

    for data in printed.values():
        for page in pypdf.PdfReader(io.BytesIO(data)).pages:
            assert float(page.mediabox.width) / POINTS_A_MM == pytest.approx(210, abs=0.2)
            assert float(page.mediabox.height) / POINTS_A_MM == pytest.approx(297, abs=0.2)


@needs_pdf
@needs_poppler
@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_cut_or_lies_on_other_words(printed, kind):
    for number, page in enumerate(page_words(printed[kind]), 1):
        assert page
        for left, top, right, bottom, text in page:
            assert left >= 12.5 and right <= 210 - 12.5, (kind, number, text)
            assert top >= 12.5 and bottom <= 297 - 5, (kind, number, text)
        foot = " ".join(w[4] for w in page if w[1] > 297 - 23)
        assert "qualified nutritionist" in foot
        assert f"page {number} of " in foot
        body = sorted(w for w in page if w[3] < 297 - 23)
        for i, a in enumerate(body):
            for b in body[i + 1 :]:
                if b[0] >= a[2] - 0.4:
                    break
                deep = min(a[3], b[3]) - max(a[1], b[1])
                assert deep < 0.55 * min(a[3] - a[1], b[3] - b[1]), (kind, number, a[4], b[4])


def shouted(one: card.Card) -> card.Card:
    """A card of a farm that is fond of long names."""
    long = tuple(replace(x, name=f"{x.name}, second cut") for x in one.lines)
    return replace(
        one,
        batch=replace(one.batch, name="the smallest of the late lambs of the far hirsel"),
        lines=long,
    )


@needs_pdf
def test_a_crowded_card_still_keeps_to_one_side(cards):
    first = [c for c in cards if c.days][:4]
    data = sheets.pdf(sheets.card_sheet("Quernhope", [shouted(c) for c in first], FOOT))
    assert page_count(data) == len(first) == 4


@needs_pdf
def test_cards_keep_to_one_side_in_wider_letters(cards):
    """Where the machine has only DejaVu Sans, whose letters are wider."""
    page = sheets.card_sheet("Quernhope", cards[:4], FOOT)
    wide = page.replace('"Liberation Sans", Arial, Helvetica, ', "")
    assert wide != page
    assert page_count(sheets.pdf(wide)) == 4


def test_amounts_on_a_card_are_read_at_arms_length(cards):
    sizes = [card_sheets.letters_of(c).large_pt for c in cards]
    assert min(sizes) >= 14
    plain = [card_sheets.letters_of(replace(c, days=())).large_pt for c in cards]
    assert min(plain) >= 18


@needs_pdf
def test_the_largest_orders_and_comparisons_keep_to_two_pages(winter, compared):
    kinds = ("cereal", "compound", "protein", "hay")
    usable = [r for r in compared.ranked if not r.refused]
    many = tuple(replace(r, kind=k, rank=i + 1) for k in kinds for i, r in enumerate(usable * 4))
    page = sheets.quotes_sheet(replace(compared, ranked=many), FOOT)
    assert page_count(sheets.pdf(page)) <= 2
    plan, times = winter.plan, range(4)
    deliveries = tuple(
        replace(d, supply=replace(d.supply, id=f"{d.supply.id} {i}"))
        for i in times
        for d in plan.deliveries
    )
    supplies = tuple({d.supply.id: d.supply for d in deliveries}.values())
    crowded = replace(plan, deliveries=deliveries, supplies=supplies)
    page = sheets.order_sheet(replace(winter, plan=crowded), FOOT)
    assert len(table(page, "Feed", "tonnes")) - 1 >= 20
    assert page_count(sheets.pdf(page)) <= 2


@needs_pdf
def test_the_second_demo_keeps_to_its_pages():
    done = jobs.mix_file(HAFOD)
    assert page_count(sheets.pdf(sheets.ration_sheet(done, FOOT))) == 1
    assert 2 <= page_count(sheets.pdf(sheets.nutritionist_sheet(done, FOOT))) <= 3


@needs_pdf
def test_the_same_sheet_gives_the_same_bytes(winter, made, printed):
    assert sheets.pdf(made["order"]) == printed["order"]
    tomorrow = replace(FOOT, dated=DAY + timedelta(days=1))
    later = sheets.order_sheet(winter, tomorrow, drawings.of_order(winter))
    assert sheets.pdf(later) != printed["order"]


@needs_pdf
def test_style_is_understood_to_the_last_word(made, caplog):
    with caplog.at_level("WARNING", logger="weasyprint"):
        sheets.pdf(made["wintering"])
    assert not [r for r in caplog.records if r.name.startswith("weasyprint")]


# ---------------------------------------------------------------- files


def test_a_file_that_differs_is_not_written_over(tmp_path):
    path = tmp_path / "a.html"
    assert store.put("one", path) == path
    store.put("one", path)
    with pytest.raises(FileError, match="it differs"):
        store.put("two", path)
    assert path.read_text() == "one"
    store.put("two", path, over=True)
    assert path.read_text() == "two"
    assert [p.name for p in tmp_path.iterdir()] == ["a.html"]


def test_only_html_and_pdf_are_written(tmp_path):
    with pytest.raises(FileError, match=r"\.html or as \.pdf"):
        store.put("one", tmp_path / "a.docx")
    with pytest.raises(FileError, match="cannot be written"):
        store.put("one", tmp_path / "no" / "a.html")


@pytest.mark.parametrize(("fault", "words_told"), [(ImportError, "weasyprint"), (OSError, "Pango")])
def test_without_the_extra_one_plain_line_tells_what_to_install(monkeypatch, fault, words_told):
    def missing(name):
        raise fault(name)

    monkeypatch.setattr(importlib, "import_module", missing)
    with pytest.raises(FileError) as told:
        sheets.pdf("<html></html>")
    assert words_told in str(told.value)
    assert len(str(told.value).splitlines()) == 1
    assert "Install" in str(told.value)


# ---------------------------------------------------------------- the command


def run(*args: object):
    return CliRunner().invoke(paper, [str(a) for a in args])


@pytest.fixture
def farm(tmp_path):
    for name in ("farm.yaml", "quotes.csv"):
        shutil.copy(FARM.parent / name, tmp_path / name)
    return tmp_path / "farm.yaml"


def test_paper_is_put_beside_the_farm_file(farm):
    told = run("ration", farm, "--dated", "4 October 2026")
    assert told.exit_code == 0, told.output
    path = farm.with_name("farm-ration.html")
    assert told.stdout == f"Written: {path}\n"
    assert "printed 4 October 2026" in words(tree(path.read_text("utf-8")))
    again = run("ration", farm, "--dated", "4 October 2026")
    assert again.exit_code == 0
    other = run("ration", farm, "--dated", "5 October 2026")
    assert other.exit_code == 1
    assert "it differs" in other.stderr and "--over" in other.stderr
    assert run("ration", farm, "--dated", "5 October 2026", "--over").exit_code == 0


def test_paper_json_is_that_of_the_job(farm):
    told = run("ration", farm, "--batch", "small", "--json")
    assert told.exit_code == 0, told.output
    done = jobs.mix_file(farm, batches=["small"])
    assert json.loads(told.stdout) == json.loads(json.dumps(as_json.mix_json(done)))
    assert not farm.with_name("farm-ration-small.html").exists()


def test_card_and_order_by_the_command(farm, winter, monkeypatch):
    monkeypatch.setattr(winter_jobs, "winter_file", lambda *_, **__: winter)
    told = run("card", farm, "--on", "14 January 2027", "--batch", "small")
    assert told.exit_code == 0, told.output
    (path,) = farm.parent.glob("farm-card-*-small.html")
    assert told.stdout == f"Written: {path}\n"
    assert len(list(tree(path.read_text("utf-8")).iter("section"))) == 1
    out = farm.with_name("o.html")
    assert run("order", farm, "--out", out).exit_code == 0
    assert "Order sheet" in out.read_text("utf-8")
    data = json.loads(run("order", farm, "--json").stdout)
    assert data == json.loads(json.dumps(winter_json.order_json(winter)))


def test_no_plan_leaves_no_file_and_says_why(farm, winter, monkeypatch):
    none = replace(
        winter, plan=replace(winter.plan, bill=None), why_not=("No plan: there is no hay.",)
    )
    assert not none.plan.is_found
    monkeypatch.setattr(winter_jobs, "winter_file", lambda *_, **__: none)
    told = run("order", farm)
    assert told.exit_code == 3
    assert "there is no hay" in told.stdout
    assert not list(farm.parent.glob("*.html"))


@pytest.mark.parametrize(
    ("args", "code", "said"),
    [
        (("nothing", "x.yaml"), 2, "card"),
        (("wintering", "x.yaml", "--batch", "small"), 2, "means nothing to wintering"),
        (("ration", "x.yaml", "--quotes", "q.csv"), 2, "means nothing to ration"),
        (("ration", "x.yaml", "--out", "a.txt"), 1, ".html or as .pdf"),
        (("card", "x.yaml", "--on", "someday"), 1, "--on"),
        (("ration", "no-such.yaml"), 1, "no-such.yaml"),
    ],
)
def test_a_command_typed_wrongly_is_told_in_a_line(args, code, said):
    told = run(*args)
    assert told.exit_code == code
    assert said in told.output
    assert "Traceback" not in told.output


def test_help_is_quick_and_shows_examples():
    told = run("--help")
    assert "ration paper card quernhope.yaml" in told.output
    out = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", "import ration.cli.paper"],
        capture_output=True,
        text=True,
        check=True,
    ).stderr
    for heavy in ("jinja2", "weasyprint", "pandas", "rich.console", "highspy", "matplotlib"):
        assert not re.search(rf"\b{re.escape(heavy)}\b", out), heavy
