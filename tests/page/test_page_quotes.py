"""Merchants' sheets dropped, how they were read, what is priced only after a yes.

What is compared is held against the command, a landed price against one worked by hand.
"""

from __future__ import annotations

import io
import re
import stat
import threading
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import Workbook, load_workbook
from page_browser import HERE, TOKEN, browser, words
from test_page_views import faults_of_a_page

from ration.cli import main
from ration.page import tray as trays
from ration.page.reading import tray_of
from ration.page.waiting import Stopped, apart

SENT = {"Origin": HERE, "Sec-Fetch-Site": "same-origin"}
CSV = (
    "merchant,feed,like,price (GBP/t),pack,least drop (t),drop charge (GBP),delivered or collected,"
    "VAT,made for,note\n"
    "Heron,rolled barley,barley,200,bulk,5,30,delivered,ex,,tipped\n"
    "Lapwing,rolled barley,barley,215,bulk,3,0,delivered,ex,,\n"
    "Lapwing,soya,soya-hipro,410,25 kg bag,none,0,delivered,ex,,\n"
    "Lapwing,dairy cubes,cubes-16,280,bulk,3,0,delivered,ex,cattle,\n"
)


def drop(client, *files: tuple[str, bytes], **more: str):
    """Files dropped on the page."""
    return client.post(
        "/quotes/sheets",
        data={"token": TOKEN, **more},
        files=[("sheets", (name, data, "application/octet-stream")) for name, data in files],
        headers=SENT,
        follow_redirects=False,
    )


def say(client, path: str, **fields: str):
    return client.post(path, data={"token": TOKEN, **fields}, headers=SENT, follow_redirects=False)


def mark(client, query: str = "") -> str:
    found = re.search(r'name="mark" value="(\w+)"', client.get(f"/quotes{query}").text)
    return found.group(1) if found else ""


def agree(client, query: str = "", **more: str) -> None:
    """Yes, that is how I read it."""
    given = mark(client, query)
    assert given
    assert say(client, "/quotes/agree", mark=given, **more).status_code == 303


def until_done(client, query: str = "") -> str:
    for _ in range(120):
        html = client.get(f"/quotes{query}").text
        if "Working it out" not in html:
            return html
    raise AssertionError("never done")


@pytest.fixture(scope="module")
def compared(tmp_path_factory):
    """A page on which two merchants are compared, and the file they came in."""
    import shutil

    from page_browser import SHIPPED

    folder = tmp_path_factory.mktemp("quotes")
    shutil.copytree(SHIPPED, folder / "farm")
    sheet = folder / "prices.csv"
    sheet.write_text(CSV, encoding="utf-8")
    client = browser(folder / "farm" / "quernhope.yaml")
    assert drop(client, (sheet.name, CSV.encode())).status_code == 303
    agree(client)
    return client, sheet, until_done(client)


# ---------------------------------------------------------------- the step in between


def test_the_farms_own_quotes_are_shown_first_and_not_priced(client) -> None:
    html = client.get("/quotes").text
    told = words(html)
    assert faults_of_a_page(html) == []
    assert "Is this how you read this sheet?" in told
    assert "12 quotes were read, and nothing was left over" in told
    assert "plain beet nuts Beck Foot stores £274.00/t" in told
    assert "order by 30 November 2026" in told
    assert "a head a day" not in told


def test_how_a_sheet_was_read(client) -> None:
    text = CSV.replace(",VAT,", ",colour,").replace("ex,,tipped", "red,,tipped")
    text = text.replace(",ex,", ",,") + "Teal,oats,oats,,bulk,,,,,,ring for a price\n"
    text += "Prices hold while stocks last,,,,,,,,,,\n"
    assert drop(client, ("teal.csv", text.encode())).status_code == 303
    told = words(client.get("/quotes").text)
    assert "teal.csv" in told
    assert "quernhope-quotes.csv" not in re.sub(r"The quotes that .*? are left out", "", told)
    assert "VAT is not said" in told, "a question, not a nought"
    assert "no: made for cattle: not for sheep; ask for a sheep feed" in told
    assert "colour" in told
    assert "Prices hold while stocks last" in told
    assert "price (GBP/t) price per tonne" in told


@pytest.mark.parametrize(
    "path", ["/quotes/quotes.xlsx", "/json/quotes", "/quotes/landed", "/json/landed",
             "/quotes/landed.xlsx"],
)  # fmt: skip
def test_nothing_is_priced_before_a_yes(client, path) -> None:
    drop(client, ("prices.csv", CSV.encode()))
    got = client.get(path)
    assert got.status_code == 403
    assert "Nothing is priced before" in words(got.text)
    assert say(client, "/quotes/agree", mark="").status_code == 303
    assert say(client, "/quotes/agree", mark="f" * 64).status_code == 303
    assert client.get(path).status_code == 403
    assert "Is this how you read" in client.get("/quotes").text
    assert client.fill("/quotes/use").status_code == 403


def test_a_yes_is_to_what_was_shown_and_no_more(client) -> None:
    drop(client, ("prices.csv", CSV.encode()))
    agree(client)
    assert client.get("/json/landed").status_code == 200
    drop(client, ("more.csv", CSV.replace("Heron", "Curlew").encode()))
    assert client.get("/json/landed").status_code == 403, "another sheet is another reading"
    agree(client)
    assert client.get("/json/landed").status_code == 200
    text = client.desk.draft.text.replace("lane: 18 t", "lane: 7.5 t")
    client.desk.path.write_text(text, encoding="utf-8")
    assert client.get("/json/landed").status_code == 403, "now other quotes are refused"
    assert "least drop" in words(client.get("/quotes").text)


def test_another_day_of_the_order_is_another_reading(client) -> None:
    drop(client, ("prices.csv", CSV.replace("note\n", "note,valid until\n")
                  .replace("tipped\n", "tipped,30 November 2026\n").encode()))  # fmt: skip
    agree(client)
    got = client.get("/quotes?on=1 December 2026")
    assert "Is this how you read" in got.text
    assert "expired 30 November 2026: ask if it still holds" in words(got.text)
    assert client.get("/json/landed").status_code == 200
    assert client.get("/json/landed?on=2026-12-01").status_code == 403
    bad = client.get("/quotes?on=the 40th")
    assert bad.status_code == 422
    assert 'href="#on"' in bad.text
    assert faults_of_a_page(bad.text) == []


# ---------------------------------------------------------------- what they come to


def test_the_comparison_is_that_of_the_command(compared) -> None:
    client, sheet, html = compared
    assert faults_of_a_page(html) == []
    told = words(html)
    run = CliRunner().invoke(main, ["quotes", str(client.desk.path), str(sheet), "--json"])
    assert run.exit_code == 0, run.output
    got = client.get("/json/quotes")
    assert got.content == run.stdout_bytes
    for line in got.json()["ranking"]:
        assert line["refused"] or line["reason"] in told
    assert "Lapwing, dairy cubes, bulk: made for cattle" in told
    assert "is cheapest for these sheep with rolled barley" in told
    assert "Landed: tier, drops, haulage, rise and terms in" in told
    assert "/t more and it moves down" in told or "/t less and it" in told


def test_the_part_alone_for_the_pages_script(compared) -> None:
    client, _, html = compared
    part = client.part("/quotes").text
    assert "<html" not in part
    assert words(re.search(r'<p class="answer">(.*?)</p>', html).group(1)) in words(part)


def test_the_workbook_holds_the_offers_and_no_formula_of_a_merchant(compared) -> None:
    client, _, _ = compared
    got = client.get("/quotes/quotes.xlsx")
    assert got.status_code == 200
    assert "attachment" in got.headers["content-disposition"]
    book = load_workbook(io.BytesIO(got.content))
    assert "On one footing" in book.sheetnames
    assert any("Heron" in str(c.value) for row in book["On one footing"] for c in row)


def test_landed_without_sheep_is_the_commands_and_that_of_the_hand(compared) -> None:
    client, sheet, _ = compared
    run = CliRunner().invoke(
        main, ["quotes", str(sheet), "--tonnes", "10 t", "--drops", "2", "--json"]
    )
    got = client.get("/json/landed?tonnes=10&drops=2")
    assert got.content == run.stdout_bytes
    html = client.get("/quotes/landed?tonnes=10&drops=2").text
    assert faults_of_a_page(html) == []
    # by hand: 10 t at £200 and two drops at £30 are £2,060, so £206.00 a tonne
    assert "10.00 206.00 £2,060.00" in words(html)
    assert client.get("/quotes/landed.xlsx?tonnes=10&drops=2").content[:2] == b"PK"


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [("tonnes", "lots", "number"), ("tonnes", "-3", ""), ("tonnes", "99999 t", "10,000"),
     ("drops", "two", "whole number"), ("drops", "0", "1 to 1,000"), ("drops", "1e9", "whole")],
)  # fmt: skip
def test_an_amount_that_cannot_be_is_told_beside_its_box(compared, name, value, said) -> None:
    client, _, _ = compared
    got = client.get(f"/quotes/landed?{name}={value}")
    assert got.status_code == 422
    beside = re.search(rf'id="error-{name}"[^>]*>(.*?)</p>', got.text, re.DOTALL).group(1)
    assert words(beside)
    assert said in words(beside)
    assert client.get(f"/json/landed?{name}={value}").status_code == 422


# ---------------------------------------------------------------- kept apart, then used


def test_sheets_lie_apart_from_the_farm_file_where_nobody_else_looks(client, farm) -> None:
    before = sorted(p.name for p in farm.parent.iterdir())
    drop(client, ("prices.csv", CSV.encode()))
    assert sorted(p.name for p in farm.parent.iterdir()) == before
    (kept,) = tray_of(client.app).sent
    assert farm.parent not in kept.path.parents
    assert stat.S_IMODE(kept.path.parent.stat().st_mode) & 0o077 == 0
    say(client, "/quotes/take-out", sheet=kept.id)
    assert not kept.path.exists()
    assert tray_of(client.app).sent == ()
    assert str(kept.path.parent) not in client.get("/quotes").text


def test_the_folder_goes_with_the_tray(tmp_path) -> None:
    import gc

    tray = trays.Tray()
    folder = tray.put("prices.csv", CSV.encode()).path.parent
    assert folder.is_dir()
    del tray
    gc.collect()
    assert not folder.exists()


def test_used_for_the_winter_they_are_copied_and_named(client, farm) -> None:
    other = farm.parent / "prices.csv"
    other.write_text("somebody else's", encoding="utf-8")
    drop(client, ("prices.csv", CSV.encode()))
    agree(client)
    got = client.fill("/quotes/use")
    assert got.status_code == 303
    assert other.read_text(encoding="utf-8") == "somebody else's", "never written over"
    assert (farm.parent / "prices-2.csv").read_bytes() == CSV.encode()
    assert "quotes: prices-2.csv" in client.desk.draft.text
    assert "# what the merchants sent" in client.desk.draft.text, "the remark stays"
    assert not client.desk.draft.is_saved
    assert "quotes: quernhope-quotes.csv" in farm.read_text(encoding="utf-8")
    assert tray_of(client.app).sent == ()
    assert client.desk.read().farm.winter.quotes == (farm.parent / "prices-2.csv",)
    client.fill("/undo")
    assert "quotes: quernhope-quotes.csv" in client.desk.draft.text


def test_used_beside_the_farm_files_own(client, farm) -> None:
    drop(client, ("prices.csv", CSV.encode()))
    say(client, "/quotes/own", own="yes")
    agree(client)
    assert client.fill("/quotes/use").status_code == 303
    names = [p.name for p in client.desk.read().farm.winter.quotes]
    assert names == ["quernhope-quotes.csv", "prices.csv"]


def test_used_from_an_old_window_nothing_is_copied(client, farm) -> None:
    drop(client, ("prices.csv", CSV.encode()))
    agree(client)
    got = client.fill("/quotes/use", made_from="0" * 64)
    assert got.status_code == 409
    assert not (farm.parent / "prices.csv").exists()
    assert client.desk.draft.is_saved


def test_where_the_folder_cannot_be_written_nothing_is_lost(client, farm, monkeypatch) -> None:
    drop(client, ("a.csv", CSV.encode()), ("b.csv", CSV.replace("Heron", "Teal").encode()))
    agree(client)
    real = Path.open

    def full(self, mode="r", *rest, **more):
        if "x" in mode and self.name == "b.csv":
            raise OSError(28, "No space left on device")
        return real(self, mode, *rest, **more)

    monkeypatch.setattr(Path, "open", full)
    got = client.fill("/quotes/use")
    assert got.status_code == 422
    assert "no space left" in words(got.text).lower()
    assert not (farm.parent / "a.csv").exists(), "the first is taken away again"
    assert len(tray_of(client.app).sent) == 2
    assert client.desk.draft.is_saved


def test_two_sheets_of_one_name_are_both_kept(client) -> None:
    drop(client, ("prices.csv", CSV.encode()))
    drop(client, ("Prices.csv", CSV.replace("Heron", "Teal").encode()))
    drop(client, ("again.csv", CSV.encode()))
    assert [s.name for s in tray_of(client.app).sent] == ["prices.csv", "Prices-2.csv"]
    assert "There is another sheet Prices.csv here" in words(client.get("/quotes").text)


# ---------------------------------------------------------------- files made to harm


def far_corner() -> bytes:
    book = Workbook()
    sheet = book.active
    for n, row in enumerate(CSV.splitlines(), 1):
        for m, cell in enumerate(row.split(","), 1):
            sheet.cell(n, m, cell)
    sheet.cell(1_048_576, 16_384, "x")
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def bomb() -> bytes:
    """A workbook whose sheet is 300 MB of spaces once it is unpacked."""
    good = io.BytesIO()
    Workbook().save(good)
    out = io.BytesIO()
    with zipfile.ZipFile(good) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for item in old.infolist():
            if item.filename == "xl/worksheets/sheet1.xml":
                with new.open(item.filename, "w") as file:
                    for _ in range(300):
                        file.write(b" " * 1_000_000)
            else:
                new.writestr(item, old.read(item.filename))
    return out.getvalue()


HOSTILE = [
    ("bomb.xlsx", bomb),
    ("sheet.exe", lambda: b"MZ\x90\x00" * 40),
    ("page.csv", lambda: b"<html><script>alert(1)</script></html>"),
    ("list.pdf", lambda: b"%PDF-1.7\n"),
    ("list.csv", lambda: b"%PDF-1.7\n"),
    ("noise.xls", lambda: b"\xd0\xcf\x11\xe0" + bytes(range(256)) * 20),
    ("noise.ods", lambda: b"PK\x03\x04" + bytes(200)),
    ("nulls.csv", lambda: b"\x00" * 4000),
    ("headings.csv", lambda: b"a,b\n1,2\n"),
]


@pytest.mark.parametrize(("name", "data"), HOSTILE, ids=[n for n, _ in HOSTILE])
def test_a_file_made_to_harm_is_a_line_of_words(client, name, data) -> None:
    assert drop(client, (name, data())).status_code == 303
    got = client.get("/quotes")
    assert got.status_code == 200
    assert faults_of_a_page(got.text) == []
    told = words(got.text)
    assert "It cannot be used as it is:" in told
    assert "Nothing is priced yet" in told
    assert "<script>alert" not in got.text
    assert mark(client) == "", "there is nothing to say yes to"
    (kept,) = tray_of(client.app).sent
    say(client, "/quotes/take-out", sheet=kept.id)
    assert "Is this how you read" in client.get("/quotes").text, "the rest lives on"


def test_a_stray_cell_in_the_far_corner_is_told(client) -> None:
    drop(client, ("far.xlsx", far_corner()))
    told = words(client.get("/quotes").text)
    assert "4 quotes were read" in told
    assert "1048576" in told.replace(",", "") or "1,048,576" in told


def test_one_bad_sheet_holds_up_the_rest_until_it_is_taken_out(client) -> None:
    drop(client, ("prices.csv", CSV.encode()), ("bad.csv", b"a,b\n1,2\n"))
    assert mark(client) == ""
    bad = next(s for s in tray_of(client.app).sent if s.name == "bad.csv")
    say(client, "/quotes/take-out", sheet=bad.id)
    assert mark(client)


def test_too_long_is_refused_and_the_page_lives(client) -> None:
    got = drop(client, ("nine.csv", b"x" * 9_000_000))
    assert got.status_code == 413
    got = drop(client, ("six.csv", b"x" * 6_000_000))
    assert got.status_code == 422
    assert "too large" in words(got.text)
    assert faults_of_a_page(got.text) == []
    assert drop(client, ("none.csv", b"")).status_code == 422
    assert drop(client).status_code in (415, 422)
    assert tray_of(client.app).sent == ()


def test_no_more_than_so_many(client) -> None:
    for n in range(trays.MOST_SHEETS):
        assert drop(client, (f"{n}.csv", CSV.replace("Heron", f"H{n}").encode())).status_code == 303
    assert drop(client, ("one-more.csv", CSV.replace("Heron", "Z").encode())).status_code == 422
    assert len(tray_of(client.app).sent) == trays.MOST_SHEETS


NAMES = [
    "../../etc/cron.d/prices.csv",
    "C:\\Windows\\prices.csv",
    "<img src=x onerror=alert(1)>.csv",
    "=cmd|' /C calc'!A0.csv",
    '"; rm -rf ~ #.csv',
    "prices.csv\r\nSet-Cookie: a=b",
    "\u202evsc.secirp.csv",
    "Ω" * 300 + ".csv",
    "con.csv",
    "..",
]


@pytest.mark.parametrize("name", NAMES)
def test_a_name_made_to_harm_is_cut_to_a_plain_one(client, farm, name) -> None:
    tray = tray_of(client.app)
    kept = tray.put(name, CSV.encode())
    assert kept.path.parent == tray._folder
    assert not set(kept.name) & set("<>\"'|&;=\r\n/\\:*?\u202e")
    html = client.get("/quotes").text
    assert "<img" not in html
    assert faults_of_a_page(html) == []
    if kept.sheet is not None:
        agree(client)
        assert client.fill("/quotes/use").status_code == 303
        (path,) = client.desk.read().farm.winter.quotes
        assert path.parent == farm.parent
        assert path.read_bytes() == CSV.encode()


def test_what_a_merchant_writes_is_only_text(client) -> None:
    nasty = "<script>alert(1)</script>"
    drop(client, ("n.csv", CSV.replace("Heron", nasty).replace("tipped", "=1+1").encode()))
    html = client.get("/quotes").text
    assert nasty not in html
    assert faults_of_a_page(html) == []


def test_without_the_token_no_sheet_is_taken(client) -> None:
    got = client.post("/quotes/sheets", files=[("sheets", ("a.csv", CSV.encode(), "text/csv"))],
                      headers=SENT)  # fmt: skip
    assert got.status_code == 403
    assert tray_of(client.app).sent == ()


def test_a_feed_that_cannot_be_tied_is_told(client) -> None:
    drop(client, ("odd.csv", CSV.replace("rolled barley,barley", "moon dust,moon-dust").encode()))
    told = words(client.get("/quotes").text)
    assert "Nothing is priced yet" in told
    assert "moon" in told
    assert mark(client) == ""


# ---------------------------------------------------------------- work that cannot be stopped


def test_work_apart_gives_raises_and_is_left_alone() -> None:
    assert apart(lambda: 3, lambda: False) == 3
    with pytest.raises(ZeroDivisionError):
        apart(lambda: 1 // 0, lambda: False)
    hold = threading.Event()
    with pytest.raises(Stopped):
        apart(hold.wait, lambda: True)
    hold.set()
