"""What the users come for, from the first page to the file or the paper, in a real browser.

The words looked for are those of the page; the figures are held against the command's in
tests/page. What each journey must do is the project's own; no outside source.
"""

from __future__ import annotations

import csv
import difflib
import re
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest
from playwright.sync_api import Download, expect
from pypdf import PdfReader
from states import SHIPPED, THERE, agree, drop_lab_sheet, work_the_winter
from windows import LONG_MS, Window

CO_OP = Path(__file__).parents[1] / "data" / "quotes" / "orrowmoss-september.csv"
HAY = "What if the hay is not what I thought?"
MEADOW = "/hay?hay=long-meadow"


def needs(*views: str):
    """Leave out a journey through a question that the menu does not have."""
    missing = [v for v in views if v not in THERE]
    return pytest.mark.skipif(bool(missing), reason=f"the menu has no {', '.join(missing)}")


def changed_lines(before: str, after: str) -> list[tuple[str, str]]:
    """The lines that were taken out of a text and put into it."""
    told = difflib.ndiff(before.splitlines(), after.splitlines())
    return [(x[0], x[2:].strip()) for x in told if x[0] in "+-"]


# ---------------------------------------------------------------- the farmer


def test_farmer_moves_the_hay_and_a_price_takes_one_back_and_saves(window: Window, site) -> None:
    """Nothing is written before it is said so; afterwards one line of the file is another."""
    before = site.text
    window.open("/")
    expect(window.page.get_by_role("heading", level=1)).to_have_text("What do I feed?")
    assert re.search(r"Give each one, each day: .* kg", window.read(".answer"))
    first = window.read("#now")
    window.picture("feed")

    window.ask(HAY)
    window.box("Protein").fill("6.9")
    window.says("What changed")
    assert re.search(r"strong: .*p becomes .*p a head a day, £.* (dearer|cheaper)", window.read())
    expect(window.page.locator("#now")).to_contain_text("by the farm file")
    window.picture("hay-moved")
    window.press("Keep this analysis in quernhope.yaml")
    window.says("changes not saved yet")
    window.says("is new: protein: 6.9 %")

    window.ask("What do I feed?")
    assert window.read("#now") != first
    window.page.get_by_text("Prices", exact=True).click()
    window.box("soya").fill("430 /t")
    expect(window.page.locator("#now")).to_contain_text("by the farm file")
    window.press("Write this into quernhope.yaml")
    window.says("price: 430 /t")
    window.picture("feed-changed")

    window.press(re.compile("^Take back: .*430"))
    window.says_not("is now price: 430 /t")
    assert site.text == before, "nothing is on disk before it is saved"
    window.press("Save")
    window.says("quernhope.yaml: all saved.")
    assert changed_lines(before, site.text) == [("+", "protein: 6.9 %")]


def test_farmer_by_keyboard_alone(open_window, site) -> None:
    """Tab leads through in order, the focus is seen, stays where it was, and Enter sends."""
    window = open_window("desktop")
    keys = window.page.keyboard
    window.open("/")
    keys.press("Tab")
    assert window.focused() == "Skip to the answer"
    keys.press("Enter")
    assert window.focused() == "main"
    window.open("/")
    window.tab_to(window.page.get_by_role("link", name=HAY))
    keys.press("Enter")
    expect(window.page.get_by_role("heading", level=1)).to_have_text(HAY)
    window.tab_to(window.page.get_by_role("link", name="Long Meadow"))
    keys.press("Enter")

    protein = window.box("Protein")
    window.tab_to(protein)
    keys.press("Control+A")
    keys.type("6.9")
    window.says("What changed")
    assert window.focused() == "protein", "the answer came and the focus stayed"
    keys.type("5")
    expect(window.page.locator("#now")).to_contain_text("by the farm file")
    assert protein.input_value() == "6.95", "and so did the place in the box"

    window.tab_to(window.page.get_by_label("Protein, slider"))
    keys.press("ArrowLeft")
    expect(protein).not_to_have_value("6.95")
    moved = protein.input_value()
    keys.press("Shift+Tab")
    assert window.focused() == "protein"
    keys.press("Enter")
    window.page.wait_for_url(re.compile(rf"protein={re.escape(moved)}"))
    window.says("What changed")

    window.tab_to(window.button("Keep this analysis in quernhope.yaml"))
    keys.press("Enter")
    window.says(f"is now protein: {moved} %")
    window.tab_to(window.button("Save"))
    keys.press("Enter")
    window.says("all saved")
    assert f"protein: {moved} %" in site.text


def test_the_focus_is_seen_wherever_tab_leads(open_window) -> None:
    """WCAG 2.2, 2.4.7 and 2.4.11: a mark on what has the focus, and nothing quite over it."""
    window = open_window("desktop")
    for path in ("/", "/hay?protein=6.9"):
        window.open(path)
        seen = 0
        for _ in range(80):
            window.page.keyboard.press("Tab")
            told = window.page.evaluate(FOCUS)
            if told is None:
                break
            assert told["mark"] >= 2, told
            assert told["seen"], told
            seen += 1
        assert seen > 12, f"only {seen} stops on {path}"


FOCUS = """async () => {
  await Promise.all(document.getAnimations().map(a => a.finished));
  const e = document.activeElement;
  if (!e || e === document.body) return null;
  const s = getComputedStyle(e), r = e.getBoundingClientRect();
  const xs = [.1, .5, .9].map(k => r.left + k * r.width);
  const ys = [.1, .5, .9].map(k => r.top + k * r.height);
  const on = (x, y) => { const t = document.elementFromPoint(x, y); return t && (e.contains(t) || t.contains(e)); };
  return { what: e.outerHTML.slice(0, 120), mark: s.outlineStyle === "none" ? 0 : parseFloat(s.outlineWidth),
           seen: xs.some(x => ys.some(y => on(x, y))) };
}"""


def test_farmer_with_scripts_off(open_window, site) -> None:
    """Every step has a button, and the same words come back on a whole page."""
    window = open_window("phone", has_scripts=False)
    window.open(MEADOW)
    expect(window.page.get_by_label("Protein, slider")).to_be_hidden()
    window.box("Protein").fill("6.9")
    window.press("Work it out")
    window.says("What changed")
    window.press("Keep this analysis in quernhope.yaml")
    window.says("is now protein: 6.9 %")
    window.press(re.compile("^Take back"))
    window.says("all saved")
    window.box("Protein").fill("seven")
    window.may_say("422")
    window.press("Work it out")
    window.says("Not worked out")
    assert window.box("Protein").get_attribute("aria-invalid") == "true"
    window.press("Show where the mix changes")
    expect(window.page.get_by_role("heading", level=1)).to_have_text("Where does the mix change?")
    window.picture("curve")
    window.ask("What do I feed?")
    window.page.get_by_text("Prices", exact=True).click()
    window.box("soya").fill("430 /t")
    window.press("Work it out")
    window.says("What changed")
    assert "430" not in site.text


def test_a_fault_is_told_by_its_box_and_goes_when_it_is_mended(window: Window) -> None:
    window.open(MEADOW)
    window.may_say("422")
    protein = window.box("Protein")
    protein.fill("99")
    expect(window.page.locator("#error-protein")).not_to_be_empty()
    window.says("Not worked out")
    assert protein.get_attribute("aria-invalid") == "true"
    window.picture("fault")
    window.page.get_by_role("alert").get_by_role("link").first.click()
    assert window.focused() == "protein"
    protein.fill("8.9")
    window.says("What changed")
    expect(window.page.locator("#error-protein")).to_be_empty()
    expect(protein).not_to_have_attribute("aria-invalid", "true")


@needs("order", "paper")
@pytest.mark.farm("small")
def test_farmer_works_out_the_winter_and_prints_the_order_and_the_card(window: Window) -> None:
    """From the question to A4 in the hand; the same tonnes on the page, on paper and as a file."""
    window.open("/")
    window.ask("What do I order, and when?")
    window.says("The winter is not worked out yet.")
    work_the_winter(window)
    told = window.read("main")
    total = re.search(r"To order: (£[\d,.]+) of feed", told)
    assert total, told[:300]
    window.picture("order")
    told_csv = Path(window.download(lambda: window.press("The order as CSV")).path())
    rows = told_csv.read_text(encoding="utf-8-sig").splitlines()
    assert len(rows) > 2 and all(r.split(",")[0] in told for r in rows[1:])
    book = window.download(lambda: window.press("Workbook"))
    assert book.suggested_filename == "quernhope-winter.xlsx"
    assert workbook(book).sheetnames

    window.ask("Paper")
    order = on_paper(window, "Order sheet")
    assert total.group(1) in order
    window.open("/paper")
    card = on_paper(window, "Feeding cards", sides=1)
    assert "Morning" in card and "Evening" in card
    window.open("/paper")
    kept = window.download(lambda: window.press("Keep Feeding cards as a file"))
    html = Path(kept.path()).read_text(encoding="utf-8")
    assert kept.suggested_filename.endswith(".html")
    assert "<style>" in html and "src=" not in html and "<script" not in html


def workbook(coming: Download) -> openpyxl.Workbook:
    """A workbook that came down."""
    return openpyxl.load_workbook(BytesIO(Path(coming.path()).read_bytes()))


def on_paper(window: Window, sheet: str, sides: int | None = None) -> str:
    """Open a sheet, print it as the browser does and as PDF; its words, which are the same."""
    window.press(f"Open {sheet}")
    window.page.wait_for_load_state()
    words = window.read("body")
    window.picture(sheet.lower().replace(" ", "-"))
    printed = PdfReader(BytesIO(window.page.pdf(prefer_css_page_size=True)))
    made = PdfReader(BytesIO(window.page.request.get(
        window.page.url.replace(".html", ".pdf"), timeout=LONG_MS).body()))  # fmt: skip
    for told in (printed, made):
        sizes = {tuple(round(float(x)) for x in p.mediabox[2:]) for p in told.pages}
        assert sizes <= {(595, 842), (596, 842), (594, 842)}, f"not A4: {sizes}"
        assert sides is None or len(told.pages) == sides, f"{len(told.pages)} sides"
    assert len(printed.pages) == len(made.pages)
    return words


@needs("order")
@pytest.mark.farm("one")
def test_a_long_work_tells_how_far_it_is_and_can_be_stopped(open_window) -> None:
    """Another question is answered meanwhile, in another window."""
    window = open_window("phone")
    window.open("/order")
    window.press("Work out the winter")
    window.says("Working out the winter")
    expect(window.page.locator("#progress li").first).to_be_visible()
    window.picture("under-way")
    other = open_window("desktop")
    other.open("/")
    assert "Give each one" in other.read(".answer")
    window.press(re.compile("^Stop"))
    expect(window.page.get_by_text("Worked out in")).to_be_visible(timeout=LONG_MS)


@pytest.mark.parametrize("path", ["/hay", "/figures?feed=bottom-ings", "/wintering"])
def test_the_box_being_typed_in_stays_where_it_is(open_window, path) -> None:
    """The answer above grows; what is under the thumb does not jump away (WCAG 2.2, 3.2.2)."""
    window = open_window("phone")
    window.open(path)
    box = window.page.locator("form.ask input[type=text]:visible").first
    box.scroll_into_view_if_needed()
    box.focus()
    where = box.bounding_box()["y"]
    box.fill("81 %" if path.startswith("/figures") else "7.5")
    window.says(re.compile("What chang"))
    window.page.wait_for_timeout(300)
    assert abs(box.bounding_box()["y"] - where) < 4


# ---------------------------------------------------------------- the nutritionist


@needs("figures", "paper")
@pytest.mark.farm("hafod")
def test_nutritionist_lays_a_laboratory_sheet_over_the_book(window: Window, site) -> None:
    """The book's hay, the sheet's, what it does to a ration; what is guessed; needs by each standard."""
    before = site.text
    window.open("/figures")
    expect(window.page.get_by_role("heading", level=1)).to_have_text(
        "Which figures are we trusting?"
    )
    assert re.search(r"rests on \d+ figures", window.read(".answer"))
    drop_lab_sheet(window, SHIPPED / "hafod-hay-lab1.csv", "hay")
    told = window.read("#sheet")
    assert "7.4 %" in told and "8.3" in told, told[:400]
    assert "book" in told
    window.picture("sheet")
    assert site.text == before
    window.press("Lay it over")
    window.says("hafod-hay-lab1.csv")
    window.says("changes not saved yet")
    window.picture("laid-over")

    window.open("/paper")
    needs_told = on_paper(window, "Needs beside each other")
    for standard in ("AFRC (1993)", "NRC (1985)", "CSIRO (2007)"):
        assert standard in needs_told
    window.open("/figures")
    window.press("Save")
    window.says("all saved")
    assert [x for x in changed_lines(before, site.text) if x[0] == "-"] == []
    assert ("+", "analysis: hafod-hay-lab1.csv") in changed_lines(before, site.text)
    assert (site.farm.parent / "hafod-hay-lab1.csv").exists()


@needs("figures")
def test_nutritionist_writes_a_figure_over_the_book(open_window, site) -> None:
    window = open_window("desktop")
    window.open("/figures?batch=small&feed=bottom-ings")
    window.box("Crude protein").fill("6.9 %")
    expect(window.page.locator("#told")).to_contain_text("is now protein 6.9 % of DM (was 9.0)")
    window.press("Write this into quernhope.yaml")
    window.says("is new: protein: 6.9 %")
    assert "protein: 6.9 %" not in site.text


# ---------------------------------------------------------------- the buyer


def co_op_workbook(folder: Path) -> Path:
    """The four invented merchants' offers as a workbook, money and tonnes as numbers."""
    path = folder / "orrowmoss-september.xlsx"
    book = openpyxl.Workbook()
    for row in csv_rows(CO_OP):
        book.active.append([float(c) if re.fullmatch(r"\d+(\.\d+)?", c) else c for c in row])
    book.save(path)
    return path


def csv_rows(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


@needs("quotes")
@pytest.mark.farm("small")
def test_buyer_drops_a_workbook_agrees_compares_and_keeps_the_comparison(
    window: Window, site, tmp_path
) -> None:
    """Nothing is priced before it is agreed; the label with copper is refused for sheep."""
    window.open("/")
    window.ask("Whose quote is best for us?")
    window.page.get_by_label("Drop sheets here").set_input_files(co_op_workbook(tmp_path))
    window.press("Read them")
    window.says("orrowmoss-september.xlsx")
    for merchant in ("Heron", "Plover", "Dipper", "Snipe"):
        assert merchant in window.read("main")
    window.picture("as-read")
    assert not window.button("Workbook").is_visible(), "nothing is priced yet"
    assert "expired 22 September 2026" in window.read("main")
    window.box("Day of the order").fill("15 September 2026")
    window.press("Look at them on that day")
    window.says_not("expired 22 September 2026")
    agree(window)
    told = window.read("main")
    assert re.search(r"copper", told), "Dipper's label"
    window.picture("compared")
    book = window.download(lambda: window.press("Workbook"))
    assert book.suggested_filename.endswith(".xlsx")
    kept = workbook(book)
    cells = [c for sheet in kept for row in sheet.iter_rows(values_only=True) for c in row]
    assert "Heron" in " ".join(str(c) for c in cells)
    assert any(isinstance(c, float) for c in cells)
    assert not any(isinstance(c, str) and c.startswith("=") for c in cells)
    window.press("Use these quotes for the winter")
    window.says("orrowmoss-september.xlsx")
    window.press("Save")
    window.says("all saved")
    assert "orrowmoss-september.xlsx" in site.text


# ---------------------------------------------------------------- two at once


def test_two_windows_change_the_farm_at_once_and_nothing_is_lost(open_window, site) -> None:
    """The second is shown both values and chooses; what the first wrote stands."""
    before = site.text
    one, two = open_window("desktop"), open_window("phone")
    one.open(MEADOW)
    two.open(MEADOW)
    two.box("Protein").fill("7.4")
    two.says("What changed")
    one.box("Protein").fill("6.9")
    one.says("What changed")
    one.press("Keep this analysis in quernhope.yaml")
    one.says("is now protein: 6.9 %")

    two.may_say("409")
    two.press("Keep this analysis in quernhope.yaml")
    expect(two.page.get_by_role("heading", level=1)).to_have_text("Changed in another window")
    table = two.read("table")
    assert "7.4" in table and "6.9" in table
    two.picture("both-values")
    assert "protein: 6.9 %" in site.desk.draft.text, "nothing is written before a choice is made"
    two.press("Put mine in")
    two.says("is now protein: 7.4 %")

    one.may_say("409")
    one.press("Save")
    one.says("Changed in another window")
    assert "protein: 8.6 %" in site.text, "what one has not seen is not saved by him"
    two.press(re.compile("^Take back: .*7.4"))
    two.says("Put in again: Long Meadow protein 6.9 % to 7.4 %")
    one.open("/")
    one.press("Save")
    one.says("all saved")
    assert changed_lines(before, site.text) == [("-", "protein: 8.6 %"), ("+", "protein: 6.9 %")]


def test_two_windows_that_look_at_different_figures_do_not_disturb_each_other(
    open_window, site
) -> None:
    """A figure typed before the other window wrote another one counts with it, and says so."""
    one, two = open_window("desktop"), open_window("desktop")
    one.open(MEADOW)
    two.open("/")
    one.box("Protein").fill("6.9")
    one.says("What changed")
    one.press("Keep this analysis in quernhope.yaml")
    one.says("is now protein: 6.9 %")
    two.page.get_by_text("Prices", exact=True).click()
    two.box("soya").fill("430 /t")
    two.says("The farm file was changed in another window since this page was loaded")
    two.may_say("409")
    two.press("Write this into quernhope.yaml")
    two.says("is now price: 430 /t")
    text = site.desk.draft.text
    assert "protein: 6.9 %" in text and "price: 430 /t" in text


def test_a_file_changed_by_an_editor_meanwhile_is_not_written_over(open_window, site) -> None:
    window = open_window("desktop")
    window.open(MEADOW)
    window.box("Protein").fill("6.9")
    window.says("What changed")
    window.press("Keep this analysis in quernhope.yaml")
    window.says("changes not saved yet")
    theirs = site.text.replace("head: 92", "head: 90")
    site.farm.write_text(theirs, encoding="utf-8")
    window.may_say("409")
    window.press("Save")
    window.says("changed on disk by something else")
    assert site.text == theirs
    window.open(MEADOW)
    window.says("Nothing is lost yet")
    window.picture("moved")
    window.press("Read the file again and drop the changes here")
    window.says("all saved")
    assert site.text == theirs
