"""Paper: each sheet is the one that `ration paper` writes, opened, kept or as PDF."""

from __future__ import annotations

import io
import re
import sys
from datetime import date

import pytest
from click.testing import CliRunner
from page_browser import SHIPPED, browser, words
from test_page_views import faults_of_a_page

from ration import errors
from ration.cli import main
from ration.jobs import winter as winter_jobs
from ration.page.views import order, paper

DAY = date(2026, 12, 3)
command = sys.modules["ration.cli.paper"]  # the package has the command under that name
KINDS = [s.kind for s in paper.SHEETS]


@pytest.fixture(autouse=True)
def clock(monkeypatch) -> None:
    """The day of this machine, and of the command, is one we know."""
    monkeypatch.setattr(paper, "today", lambda: DAY)
    monkeypatch.setattr(command, "_today", lambda: DAY)


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    """A page on which the winter was worked out, and that winter."""
    import shutil

    folder = tmp_path_factory.mktemp("paper") / "farm"
    shutil.copytree(SHIPPED, folder)
    path = folder / "quernhope.yaml"
    done = winter_jobs.winter_file(path, seconds=3.0)
    assert done.plan.is_found
    return browser(path), done


def commands(path, kind: str, out, *more: str) -> str:
    """The sheet that the command writes."""
    run = CliRunner().invoke(main, ["paper", kind, str(path), "--out", str(out), "--over", *more])
    assert run.exit_code in (0, 3), run.output
    return out.read_text(encoding="utf-8")


def test_every_sheet_of_the_command_is_listed(shared) -> None:
    html = shared.get("/paper").text
    assert faults_of_a_page(html) == []
    assert tuple(KINDS) == command.KINDS
    for sheet in paper.SHEETS:
        assert sheet.title in words(html)
    assert 'value="3 December 2026"' in html, "the day by the clock, as it is in the winter"
    assert re.search(r'aria-current="true">25 Nov to 8 Dec<', html)


def test_what_needs_the_plan_says_so(shared) -> None:
    told = words(shared.get("/paper").text)
    assert told.count("made from the plan of the winter, which is not worked out yet") == 2
    for kind in ("card", "order"):
        got = shared.get(f"/paper/{kind}.html")
        assert got.status_code == 409
        assert "not worked out yet" in words(got.text)
        assert faults_of_a_page(got.text) == []
    assert shared.get("/paper/quotes.html").status_code == 409, "nobody said yes to the reading"


@pytest.mark.parametrize("kind", ["ration", "nutritionist", "needs", "wintering", "minerals"])
def test_what_is_kept_is_what_the_command_writes(shared, tmp_path, kind) -> None:
    got = shared.get(f"/paper/{kind}.html?keep=yes")
    assert got.status_code == 200
    assert f"quernhope-{kind}.html" in got.headers["content-disposition"]
    assert got.text == commands(shared.desk.path, kind, tmp_path / "it.html")
    assert "printed 3 December 2026" in got.text


def test_of_one_batch(shared, tmp_path) -> None:
    got = shared.get("/paper/ration.html?batch=small&keep=yes")
    out = tmp_path / "it.html"
    assert got.text == commands(shared.desk.path, "ration", out, "--batch", "small")
    assert "quernhope-ration-small.html" in got.headers["content-disposition"]


@pytest.mark.parametrize("kind", ["ration", "wintering"])
def test_what_is_opened_has_its_style_beside_it(shared, kind) -> None:
    got = shared.get(f"/paper/{kind}.html")
    assert "<style" not in got.text
    assert not re.search(r"\sstyle=", got.text)
    assert "<script" not in got.text
    address = re.search(r'<link rel="stylesheet" href="([^"]+)">', got.text).group(1)
    css = shared.get(address.replace("&amp;", "&"))
    assert css.headers["content-type"].startswith("text/css")
    assert "@page" in css.text
    assert "style-src 'self'" in got.headers["content-security-policy"]
    kept = shared.get(f"/paper/{kind}.html?keep=yes").text
    assert words(got.text) == words(re.sub(r"<style>.*?</style>", "", kept, flags=re.DOTALL))


def test_cards_and_order_are_made_from_the_plan_worked_out(planned, monkeypatch) -> None:
    from pypdf import PdfReader

    client, done = planned
    monkeypatch.setattr(order, "found", lambda request: done)
    told = words(client.get("/paper").text)
    assert "not worked out yet" not in told.replace("quotes are not compared yet", "")
    cards = client.get("/paper/card.html?on=2027-01-14&batch=small")
    assert cards.status_code == 200
    assert "style=" not in cards.text
    shown = words(cards.text)
    assert "small" in shown
    assert cards.text.count('<section class="card') == 1
    assert "14" in shown
    css = client.get("/paper/card.css?on=2027-01-14&batch=small").text
    sizes = set(re.findall(r'data-size="(\d+)"', cards.text))
    assert sizes
    for n in sizes:
        assert re.search(rf'\[data-size="{n}"\] {{ font-size: [\d.]+pt !important; }}', css)
    whole = client.get("/paper/card.pdf?on=2027-01-14")
    assert whole.headers["content-type"] == "application/pdf"
    pens = winter_jobs.cards_of(done, date(2027, 1, 14))
    assert len(PdfReader(io.BytesIO(whole.content)).pages) == len(pens), "one side a pen"
    assert "To order:" in words(client.get("/paper/order.html").text)
    out = client.get("/paper/card.html?on=2027-08-01")
    assert out.status_code == 409
    assert "1 August 2027 is not in the winter" in words(out.text)


def test_a_winter_without_a_plan_gives_no_card(planned, monkeypatch) -> None:
    from dataclasses import replace

    client, done = planned
    none = replace(done, plan=_NoPlan(), why_not=("No plan: too little hay.",))
    monkeypatch.setattr(order, "found", lambda request: none)
    got = client.get("/paper/card.html")
    assert got.status_code == 409
    assert "No plan: too little hay." in words(got.text)


class _NoPlan:
    is_found = False


def test_the_draft_is_on_paper_saved_or_not(client) -> None:
    client.fill("/feed/keep", batch="strong", **{"price-soya": "431 /t"})
    assert not client.desk.draft.is_saved
    assert "£431.00" in words(client.get("/paper/nutritionist.html").text)


def test_without_the_extra_package_it_says_what_to_install(client, monkeypatch) -> None:
    from ration import sheets

    monkeypatch.setattr(paper, "find_spec", lambda name: None)
    html = client.get("/paper").text
    assert 'pip install "ration[pdf]"' in words(html)
    assert ".pdf" not in "".join(re.findall(r'href="([^"]+)"', html))

    def absent(html: str) -> bytes:
        raise errors.FileError(errors.Problem("", "a PDF needs the package weasyprint"))

    monkeypatch.setattr(sheets, "pdf", absent)
    got = client.get("/paper/ration.pdf")
    assert got.status_code == 503
    assert "a PDF needs the package weasyprint" in words(got.text)
    assert faults_of_a_page(got.text) == []


@pytest.mark.parametrize(
    "path", ["/paper/secrets.html", "/paper/ration.exe", "/paper/..%2f..%2fetc.html",
             "/paper/ration.html.exe"],
)  # fmt: skip
def test_no_other_sheet(shared, path) -> None:
    assert shared.get(path).status_code == 404


def test_a_day_that_is_none_is_told_beside_its_box(shared) -> None:
    for path in ("/paper?on=soon", "/paper/card.html?on=soon"):
        got = shared.get(path)
        assert got.status_code == 422
        assert words(re.search(r'id="error-on"[^>]*>(.*?)</p>', got.text, re.DOTALL).group(1))
        assert faults_of_a_page(got.text) == []
    assert shared.get("/paper?batch=<script>alert(1)</script>").text.count("<script>") == 0


def test_script_in_a_feeds_name_is_only_text(farm) -> None:
    text = farm.read_text(encoding="utf-8")
    nasty = '<script>alert(1)</script>\\" style=\\"font-size: 90pt\\"'
    farm.write_text(text.replace("  soya:\n", f'  soya:\n    name: "{nasty}"\n', 1), "utf-8")
    page = browser(farm)
    for kind in ("ration", "nutritionist", "minerals"):
        got = page.get(f"/paper/{kind}.html")
        assert got.status_code == 200
        assert "<script" not in got.text
        assert "90pt !important" not in page.get(f"/paper/{kind}.css").text


def test_a_farm_without_ways_or_quotes(tmp_path) -> None:
    import shutil

    shutil.copytree(SHIPPED, tmp_path / "f")
    page = browser(tmp_path / "f" / "hafod-wrynach.yaml")
    told = words(page.get("/paper").text)
    assert "does not say which ways of wintering there are" in told
    assert "There are no merchants' quotes yet" in told
    assert page.get("/paper/wintering.html").status_code == 409
