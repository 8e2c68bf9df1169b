"""The ways of wintering on the page, held against the command and against sums done by hand."""

from __future__ import annotations

import io
import re
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook
from page_browser import SHIPPED, browser, words
from test_page_views import faults_of_a_page

from ration.cli import main
from ration.faces import wintering_report
from ration.farm.write import put_value
from ration.jobs import wintering as job
from ration.page.wintering_example import EXAMPLE, with_example


def without_section(folder):
    import shutil

    shutil.copytree(SHIPPED, folder)
    return folder / "hafod-wrynach.yaml"


def test_the_words_are_those_of_the_face_the_answer_first(shared) -> None:
    html = shared.get("/wintering").text
    assert faults_of_a_page(html) == []
    told = words(html)
    done = job.wintering_file(shared.desk.path, with_mix=False)
    for line in wintering_report.in_words(done):
        assert line in told
    first = re.search(r'<p class="answer">(.*?)</p>', html).group(1)
    assert first.startswith("Hill is cheapest at £")
    assert told.index(first) < told.index("At 95 p a week")
    for line in (*done.checks, *done.notes, *done.trials):
        assert line.words in told
    assert wintering_report.split_words(done.split)[1:] in told
    assert "<svg" in html
    assert 'class="note warn"' in html, "deaths are sheep, not only money"
    assert wintering_report.method(done) in told


def test_json_is_the_commands_to_the_byte(shared) -> None:
    for query, more in (("", []), ("?from=in-bye", ["--base", "in-bye"])):
        run = CliRunner().invoke(main, ["wintering", str(shared.desk.path), *more, "--json"])
        assert run.exit_code == 0, run.output
        assert shared.get(f"/json/wintering{query}").content == run.stdout_bytes


def test_the_workbook(shared) -> None:
    got = shared.get("/wintering/wintering.xlsx")
    book = load_workbook(io.BytesIO(got.content))
    assert {"Lines", "Budget", "Ways"} <= set(book.sheetnames)


def test_a_penny_of_keep_costs_what_it_does_by_hand(shared) -> None:
    got = shared.part("/wintering?" + urlencode({"keep-1": "105"}))
    assert got.status_code == 200
    told = words(got.text)
    # by hand: 10 p a week more over 156/7 weeks is 2.23, on top of 33.90
    assert "away 36.13 33.90" in told
    assert "hill 22.63 22.63" in told
    assert "Write this into quernhope.yaml" in told
    assert 'id="now" role="status" hx-swap-oob="true"' in got.text
    assert shared.desk.draft.is_saved, "looking writes nothing"


def test_deaths_of_the_hill_by_hand(shared) -> None:
    got = words(shared.part("/wintering?" + urlencode({"deaths-2": "10"})).text)
    # by hand: 2 % more of 184 at £110 is 2.20 a head; fewer are left to be barren and lose wool
    found = re.search(r"hill (\d+\.\d\d) 22\.63", got)
    assert 22.63 + 2.20 - 0.06 <= float(found.group(1)) <= 22.63 + 2.20


BAD = [
    ("keep-1", "abc", "must start with a number"),
    ("keep-1", "-5", "keep"),
    ("keep-1", "", "nothing is written here"),
    ("keep-1", "9000", "believable"),
    ("deaths-2", "80", "deaths"),
    ("deaths-2", "nan", ""),
    ("wage", "{a: 1}", "wage"),
    ("wage", "1e9", ""),
    ("price-1", "*x", "price"),
    ("price-1", "0", "price"),
    ("price-1", "9" * 300, "too long"),
]


@pytest.mark.parametrize(("name", "value", "said"), BAD)
@pytest.mark.parametrize("is_part", [True, False])
def test_a_bad_figure_is_told_beside_its_box(shared, name, value, said, is_part) -> None:
    query = "/wintering?" + urlencode({name: value})
    got = shared.part(query) if is_part else shared.get(query)
    assert got.status_code == 422
    beside = re.search(rf'id="error-{name}"[^>]*>(.*?)</p>', got.text, re.DOTALL).group(1)
    assert words(beside)
    assert said.lower() in words(beside).lower()
    assert "Hill is cheapest" in words(got.text), "the answer by the file still stands"
    if not is_part:
        assert faults_of_a_page(got.text) == []


def test_changes_counted_from_another_way(shared) -> None:
    told = words(shared.get("/wintering?from=hill").text)
    assert "Leaving hill for another way" in told
    assert "Leaving hill for away" in told
    assert "Leaving housed" in words(shared.get("/wintering?from=<b>nowhere").text)


def test_the_mix_beside_feed_by_hand(shared) -> None:
    got = shared.part("/wintering/mix")
    told = words(got.text)
    done = job.wintering_file(shared.desk.path)
    assert "<html" not in got.text
    for line in wintering_report.mix_words(done):
        assert line in told
    whole = shared.get("/wintering/mix").text
    assert faults_of_a_page(whole) == []


def test_written_into_the_file_with_its_unit_and_its_remark(client) -> None:
    got = client.fill("/wintering/keep", **{"keep-1": "88", "deaths-2": "6", "wage": "14"})
    assert got.status_code == 303
    text = client.desk.draft.text
    assert "keep: 88 p a week" in text
    assert "deaths: 6 %" in text
    assert "wage: 14 /h" in text
    assert "95 p a week" not in text
    found = client.desk.read().farm.wintering
    assert found.ways[0].keep.gbp_per_head_week == pytest.approx(0.88)
    assert found.ways[1].deaths_share == pytest.approx(0.06)
    assert found.terms.wage_gbp_per_h == 14.0
    told = words(client.get("/wintering").text)
    assert "changes not saved yet" in told
    assert "At 88 p a week" in told, "the draft is worked, saved or not"
    client.fill("/undo")
    assert "keep: 95 p a week" in client.desk.draft.text


def test_a_figure_as_the_farmer_says_it_is_taken_too(client) -> None:
    client.fill("/wintering/keep", **{"keep-1": "£1.05 a week"})
    assert client.desk.read().farm.wintering.ways[0].keep.gbp_per_head_week == pytest.approx(1.05)


def test_from_an_old_window_nothing_is_written(client) -> None:
    old = client.desk.draft.digest
    client.fill("/wintering/keep", **{"keep-1": "88"})
    got = client.fill("/wintering/keep", **{"keep-1": "77"}, made_from=old)
    assert got.status_code == 409
    assert "keep: 88 p a week" in client.desk.draft.text


# ---------------------------------------------------------------- no such section


def test_a_farm_without_the_section_is_told_what_to_add(tmp_path) -> None:
    client = browser(without_section(tmp_path / "f"))
    html = client.get("/wintering").text
    assert faults_of_a_page(html) == []
    told = words(html)
    assert job.EXAMPLE.split(";")[0] in told
    assert "margin of a lamb crop: 60" in told
    assert "Every figure in it is invented" in told
    assert client.get("/json/wintering").status_code == 404
    assert client.get("/wintering/mix", follow_redirects=False).status_code == 303
    assert client.get("/wintering/wintering.xlsx", follow_redirects=False).status_code == 303


def test_the_example_is_added_worked_and_taken_back(tmp_path) -> None:
    path = without_section(tmp_path / "f")
    before = path.read_text(encoding="utf-8")
    client = browser(path)
    assert client.fill("/wintering/example", made_from="0" * 64).status_code == 409
    assert client.fill("/wintering/example").status_code == 303
    assert client.desk.draft.text == before.rstrip() + "\n\n" + EXAMPLE
    assert path.read_text(encoding="utf-8") == before, "not on disk before it is saved"
    got = client.get("/wintering")
    assert got.status_code == 200
    assert faults_of_a_page(got.text) == []
    assert "is cheapest" in words(got.text)
    assert client.fill("/wintering/example").status_code == 303
    assert client.desk.draft.text.count("\nwintering:") == 1, "never twice"
    client.fill("/undo")
    assert client.desk.draft.text == before


def test_the_example_keeps_the_line_ends_of_the_file() -> None:
    made = with_example("name: a\r\nwinter: {}\r\n")
    assert made.count("\n") == made.count("\r\n")
    assert with_example("name: a\n").count("\r") == 0


def test_it_does_not_fit_behind_an_end_mark(farm) -> None:
    text = farm.read_text(encoding="utf-8")
    start = text.index("wintering:")
    end = text.index("# ------", start)
    farm.write_text(text[:start] + text[end:] + "...\n", encoding="utf-8")
    client = browser(farm)
    got = client.fill("/wintering/example")
    assert got.status_code == 422
    assert client.desk.draft.text == farm.read_text(encoding="utf-8"), "nothing is written"
    assert client.get("/wintering").status_code == 200


def test_a_way_without_deaths_has_an_empty_box(client, farm) -> None:
    text = farm.read_text(encoding="utf-8").replace("      deaths: 1.5 %\n", "")
    farm.write_text(text, encoding="utf-8")
    html = client.get("/wintering").text
    assert re.search(r'id="deaths-4"[^>]*value=""', html)
    client.fill("/wintering/keep", **{"deaths-4": "2"})
    assert client.desk.read().farm.wintering.ways[3].deaths_share == pytest.approx(0.02)
    client.fill("/wintering/keep", **{"deaths-4": ""})
    assert client.desk.read().farm.wintering.ways[3].deaths_share in (0.0, 0.02)


def test_script_in_a_ways_name_is_only_text(farm) -> None:
    text = farm.read_text(encoding="utf-8")
    nasty = '"<script>alert(1)</script>"'
    farm.write_text(text.replace("    housed:\n", f"    {nasty}:\n", 1), encoding="utf-8")
    client = browser(farm)
    for path in ("/wintering", "/wintering?deaths-4=3", "/wintering/mix"):
        got = client.get(path)
        assert got.status_code == 200
        assert "<script>alert" not in got.text
        assert faults_of_a_page(got.text) == []


def test_ways_fed_by_the_mix_are_worked_too(farm) -> None:
    text = farm.read_text(encoding="utf-8")
    at = ("wintering", "ways", "housed", "feed")
    farm.write_text(put_value(text, at, "the mix").text, encoding="utf-8")
    client = browser(farm)
    got = client.get("/wintering")
    assert got.status_code == 200
    done = job.wintering_file(farm, with_mix=False)
    assert done.mixes, "worked in any case"
    for line in wintering_report.in_words(done):
        assert line in words(got.text)
