"""Which figures are we trusting? Figures read, changed and taken back; laboratory sheets dropped.

Expected words and costs come from the jobs and faces that the command line uses; the sheets and the
farm are invented.
"""

from __future__ import annotations

import io
import re
import shutil
import tempfile
import zipfile
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlencode

import pytest
from page_browser import SHIPPED, TOKEN, browser, words
from test_page_views import faults_of_a_page

from ration import analysis, explain, farm, jobs, mix, tables
from ration.faces import figures_words
from ration.farm.words import FIGURES
from ration.feeds import Figure
from ration.jobs import figures as job
from ration.page import dropped

SHEET = "bottom-ings-2026-11-16.csv"
LAB = (SHIPPED / SHEET).read_bytes()


def field_error(html: str, name: str) -> str:
    return words(re.search(rf'id="error-{name}"[^>]*>(.*?)</p>', html, re.DOTALL).group(1))


def put_in(client, name: str = SHEET, data: bytes = LAB, **more):
    return client.post(
        "/figures/sheet",
        data={"token": TOKEN, **more},
        files={"file": (name, data, "text/csv")},
        follow_redirects=False,
    )


def digest_in(answer) -> str:
    assert answer.status_code == 303, words(answer.text)
    return re.search(r"sheet=(\w+)", answer.headers["location"]).group(1)


# ---------------------------------------------------------------- what is shown


@pytest.mark.parametrize(
    "path",
    ["/figures", "/figures?feed=long-meadow&batch=small", "/figures?feed=soya&fig-protein=50+%25",
     "/figures?feed=soya&fig-protein=50", "/figures/table", "/figures/table?group=hay",
     "/figures/table?feed=hay-meadow", "/figures/sheet"],
)  # fmt: skip
def test_a_page_of_figures_can_be_read_by_ear(shared, path) -> None:
    got = shared.get(path)
    assert got.status_code == (422 if path.endswith("=50") else 200)
    assert faults_of_a_page(got.text) == []


def test_the_menu_has_it(shared) -> None:
    assert 'href="/figures" aria-current="page"' in shared.get("/figures").text


def test_what_the_ration_rests_on_is_told_as_on_the_command_line(shared) -> None:
    told = words(shared.get("/figures?batch=middle").text)
    (ration,) = jobs.mix_file(shared.desk.path, batches=["middle"]).result.rations
    for line in explain.where_the_figures_come_from([ration]):
        assert line in told
    behind = job.behind(ration, shared.desk.read().tables)
    marks = [b.figure.mark for b in behind]
    assert f"rests on {len(behind)} figures" in told
    assert f"{marks.count('memory')} from memory, unverified" in told
    assert sum(b.is_assumed for b in behind) > 0


def test_every_figure_that_can_be_written_has_a_box_with_its_value_and_where_it_is_from(shared):
    got = shared.get("/figures?feed=rolled-barley")
    offer = next(o for o in shared.desk.read().farm.offers if o.id == "rolled-barley")
    names = set(re.findall(r'<input id="(fig-[a-z-]+)"', got.text))
    assert len(names) == len(FIGURES) + 3
    for word, (nutrient, _) in FIGURES.items():
        figure = offer.feed.figures.get(nutrient)
        slug = "fig-" + re.sub("[^a-z]", "-", word.lower()).strip("-")
        value = re.search(rf'id="{slug}" name="{slug}" value="([^"]*)"', got.text).group(1)
        hint = words(re.search(rf'id="hint-{slug}">(.*?)</p>', got.text).group(1))
        if figure is None:
            assert value == ""
            assert "not" in hint
        else:
            assert float(value.split()[0]) == pytest.approx(figure.value)
            assert figures_words.FROM_WORDS[figure.mark] in hint


def test_a_figure_written_in_the_file_is_shown_as_it_is_written(shared) -> None:
    got = shared.get("/figures?feed=long-meadow").text
    assert 'name="fig-dry-matter" value="84.6 %"' in got
    assert 'value="34 % fresh"' in shared.get("/figures?feed=balancer-nut").text
    assert "written by you" in words(got)


def test_an_assumed_figure_is_named_as_such(shared) -> None:
    told = words(shared.get("/figures?feed=plain-beet-nuts").text)
    assert "not on file; taken as" in told


def test_the_whole_table_and_one_feed_of_it(shared) -> None:
    book = shared.desk.read().tables
    got = shared.get("/figures/table").text
    for feed in book.feeds.values():
        assert f"/figures/table?feed={feed.id}" in got
    one = words(shared.get("/figures/table?feed=barley").text)
    for figure in book.feeds["barley"].figures.values():
        assert figures_words.where_from(figure).split(";")[0] in one
    assert shared.get("/figures/table?feed=../../x").status_code == 404
    assert shared.get("/figures/table?group=<script>").status_code == 200


def test_an_unknown_feed_or_batch_shows_the_first(shared) -> None:
    got = shared.get("/figures?feed=../../etc/passwd&batch=%00<b>")
    assert got.status_code == 200
    assert "passwd" not in got.text
    assert "Long Meadow: every figure" in got.text


def test_a_ration_that_cannot_be_worked_leaves_the_figures_to_be_written(farm) -> None:
    text = farm.read_text("utf-8")
    farm.write_text(text.replace("assume: all", "# assume: all"), "utf-8")
    page = browser(farm)
    got = page.get("/figures?feed=soya")
    assert got.status_code == 200
    told = words(got.text)
    assert "No ration of strong can be worked out yet" in told
    assert "has no figure for" in told
    assert 'id="fig-protein"' in got.text
    assert page.get("/figures/out").status_code == 422
    assert page.get("/figures?feed=soya&fig-protein=50+%25").status_code == 200


def test_by_a_farm_with_tables_of_its_own(tmp_path) -> None:
    shutil.copytree(SHIPPED, tmp_path / "f")
    page = browser(tmp_path / "f" / "hafod-wrynach.yaml")
    got = page.get("/figures?feed=hay")
    assert got.status_code == 200
    assert "common practice [hafod-book.csv]" in words(got.text)
    assert faults_of_a_page(got.text) == []


# ---------------------------------------------------------------- which one moves the cost


@pytest.fixture(scope="module")
def hafod():
    return jobs.read_farm(SHIPPED / "hafod-wrynach.yaml")


def test_each_cost_is_that_of_the_ration_with_the_figure_written_so(hafod) -> None:
    read, book = hafod
    found = job.costs_if_out(read, book, "Mules")
    (now,) = mix.mix(read, book, batches=["Mules"], with_worth=False).rations
    assert found.now_gbp_per_head_day == now.cost_gbp_per_head_day
    one = next(o for o in found.ones if o.behind.nutrient == "me_mj_per_kg_dm")
    for value, cost in ((one.low, one.low_gbp_per_head_day), (one.high, one.high_gbp_per_head_day)):
        offers = tuple(
            replace(o, feed=o.feed.with_figures({"me_mj_per_kg_dm": Figure(value, "user")}))
            if o.id == one.behind.offer_id
            else o
            for o in read.offers
        )
        again = mix.mix(replace(read, offers=offers), book, batches=["Mules"], with_worth=False)
        assert cost == pytest.approx(again.rations[0].cost_gbp_per_head_day, rel=1e-5)
    assert one.low == pytest.approx(0.95 * one.behind.figure.value)
    assert one.high == pytest.approx(1.05 * one.behind.figure.value)


def test_the_ranking_falls_and_poorer_feed_never_makes_a_cheaper_ration(hafod) -> None:
    found = job.costs_if_out(*hafod, "Mules")
    now = found.now_gbp_per_head_day
    moves = [o.most_moved(now) for o in found.ones]
    assert moves == sorted(moves, reverse=True)
    used = mix.asker(*hafod)(found.batch)
    assert {o.behind.offer_id for o in found.ones} == {f.id for f in used.feeds if f.is_used}
    for one in found.ones:
        if one.behind.nutrient in ("dm_g_per_kg_fresh", "me_mj_per_kg_dm"):
            assert one.low_gbp_per_head_day >= now * (1 - 2e-6)
            assert one.high_gbp_per_head_day <= now * (1 + 2e-6)


def test_dry_matter_moves_a_feed_that_is_priced_as_it_lies_as_worked_by_hand(hafod) -> None:
    """Amounts on dry matter stay, so a feed 5 % drier in water costs 1/0.95 of what it did."""
    found = job.costs_if_out(*hafod, "Mules")
    ration = mix.asker(*hafod)(found.batch)
    spent = {f.id: f.cost_gbp_per_head_day for f in ration.feeds}
    one = next(o for o in found.ones
               if o.behind.nutrient == "dm_g_per_kg_fresh" and o.behind.offer_id == "haylage")  # fmt: skip
    # the mix may move to another: never dearer than the old amounts
    most = found.now_gbp_per_head_day + spent["haylage"] * (1 / 0.95 - 1)
    assert one.low_gbp_per_head_day <= most * (1 + 2e-6)
    assert one.low_gbp_per_head_day == pytest.approx(most, rel=0.002)


def test_a_share_is_not_moved_past_the_whole() -> None:
    feed = (
        tables.load()
        .feeds["barley"]
        .with_figures({"n_a_share": Figure(0.6, "guess"), "n_b_share": Figure(0.4, "guess")})
    )
    assert job._most("n_a_share", feed) == pytest.approx(0.6)
    assert job._most("dm_g_per_kg_fresh", feed) == 1000


def test_the_ranked_table_in_part_and_whole(tmp_path) -> None:
    shutil.copytree(SHIPPED, tmp_path / "f")
    page = browser(tmp_path / "f" / "hafod-wrynach.yaml")
    part = page.part("/figures/out?batch=Mules")
    assert part.status_code == 200
    assert "<html" not in part.text
    found = job.costs_if_out(*jobs.read_farm(page.desk.path), "Mules")
    told = words(part.text)
    for line in figures_words.moves_most(found):
        assert words(line) in told
    first = figures_words.if_out_row(found.ones[0], found.now_gbp_per_head_day)
    assert " ".join(first) in told
    whole = page.get("/figures/out?batch=Mules")
    assert faults_of_a_page(whole.text) == []
    assert words(part.text) in words(whole.text)


def test_out_by_too_much_or_for_nobody_is_refused(hafod) -> None:
    from ration.errors import OutOfRange, UnknownName

    with pytest.raises(UnknownName):
        job.costs_if_out(*hafod, "nobody")
    for share in (0.0, -0.1, 0.6, float("nan")):
        with pytest.raises(OutOfRange):
            job.costs_if_out(*hafod, "Mules", share)


# ---------------------------------------------------------------- a figure changed


def test_a_figure_is_written_shown_by_its_line_and_taken_back(client) -> None:
    before = client.desk.draft.text
    got = client.part("/figures?" + urlencode({"feed": "soya", "fig-protein": "50 %"}))
    assert got.status_code == 200
    assert "Soya is now protein 50.0 % of DM" in words(got.text)
    assert client.desk.draft.text == before, "looking writes nothing"
    kept = client.fill("/figures/keep", feed="soya", batch="strong", **{"fig-protein": "50 %"})
    assert kept.status_code == 303
    told = words(client.get(kept.headers["location"]).text)
    assert re.search(r"Line \d+ is new: protein: 50 %", told)
    assert client.desk.read().farm.offers[10].feed.figure("cp_g_per_kg_dm").mark == "user"
    assert client.desk.draft.text.replace("    protein: 50 %\n", "", 1) == before
    assert client.fill("/undo").status_code == 303
    assert client.desk.draft.text == before


def test_an_own_figure_emptied_gives_way_to_the_one_beneath(client) -> None:
    got = client.fill("/figures/keep", feed="long-meadow", **{"fig-protein": ""})
    assert got.status_code == 303
    offer = next(o for o in client.desk.read().farm.offers if o.id == "long-meadow")
    assert offer.feed.figure("cp_g_per_kg_dm") == tables.load().feeds["hay-average"].figure(
        "cp_g_per_kg_dm"
    )


def test_the_three_of_degradability_go_in_and_out_together(client) -> None:
    name = "fig-a"
    got = client.part("/figures?" + urlencode({"feed": "soya", name: "0.05"}))
    assert got.status_code == 200, words(got.text)
    hidden = dict(re.findall(r'type="hidden" name="(fig-[abc])" value="([^"]*)"', got.text))
    assert set(hidden) == {"fig-a", "fig-b", "fig-c"}
    assert client.fill("/figures/keep", feed="soya", **hidden).status_code == 303
    offer = next(o for o in client.desk.read().farm.offers if o.id == "soya")
    assert offer.feed["n_a_share"] == 0.05
    assert offer.feed.figure("n_c_per_h").mark == "user"
    out = {"fig-a": "", "fig-b": "", "fig-c": ""}
    assert client.fill("/figures/keep", feed="soya", **out).status_code == 303
    assert "degradability" not in client.desk.draft.text.replace("# ", "").split("feeds:")[1]


BAD = [
    ("fig-protein", "50", "needs its unit"),
    ("fig-protein", "90 %", "believable"),
    ("fig-protein", "-3 %", "cannot be below zero"),
    ("fig-protein", "13,2 %", "comma where a point belongs"),
    ("fig-protein", "9" * 300, "too long"),
    ("fig-dry-matter", "", "othing is written here"),
    ("fig-energy", "!!python/object/apply:os.system [ls]", "energy"),
    ("fig-copper", "8 g/kg", "believable"),
    ("fig-a", "1.4", "0 to 1"),
    ("fig-a", "0.2", "add to 1.12"),
    ("fig-fibre--ndf", "x", "must start with a number"),
]


@pytest.mark.parametrize(("name", "value", "said"), BAD)
@pytest.mark.parametrize("is_part", [True, False])
def test_a_bad_figure_is_told_beside_its_box(shared, name, value, said, is_part) -> None:
    query = "/figures?" + urlencode({"feed": "soya", name: value})
    got = shared.part(query) if is_part else shared.get(query)
    assert got.status_code == 422
    assert said in field_error(got.text, name)
    assert f'<a href="#{name}">' in got.text
    if not is_part:
        assert faults_of_a_page(got.text) == []
        box = re.search(rf'<input id="{name}"[^>]*>', got.text).group(0)
        assert 'aria-invalid="true"' in box


def test_a_bad_figure_that_is_posted_writes_nothing(client) -> None:
    got = client.fill("/figures/keep", feed="soya", **{"fig-protein": "90 %"})
    assert got.status_code == 422
    assert client.desk.draft.is_saved


def test_a_form_from_an_older_draft_shows_both_values(client) -> None:
    old = client.desk.draft.digest
    client.fill("/figures/keep", feed="soya", **{"fig-protein": "50 %"})
    got = client.fill("/figures/keep", feed="soya", made_from=old, **{"fig-protein": "48 %"})
    assert got.status_code == 409
    told = words(got.text)
    assert "48 %" in told
    assert "50 %" in told
    assert 'action="/figures/keep"' in got.text
    assert "protein: 48 %" not in client.desk.draft.text


def test_without_the_token_nothing_is_written(client) -> None:
    for path, more in (("/figures/keep", {"feed": "soya", "fig-protein": "50 %"}),
                       ("/figures/sheet/lay", {"over": "bottom-ings"})):  # fmt: skip
        assert client.post(path, data=more).status_code == 403
    assert client.post("/figures/sheet", files={"file": ("a.csv", LAB)}).status_code == 403
    assert client.desk.draft.is_saved


def test_script_in_names_is_only_text(farm) -> None:
    text = farm.read_text("utf-8")
    nasty = '<script>alert(1)</script>\\" onfocus=\\"x'
    farm.write_text(text.replace("  soya:\n", f'  soya:\n    name: "{nasty}"\n', 1), "utf-8")
    page = browser(farm)
    sheet = digest_in(put_in(page, "<img src=x onerror=y>.csv", over="soya"))
    for path in ("/figures?feed=soya", "/figures/table?feed=soya-hipro",
                 f"/figures/sheet?sheet={sheet}", "/figures?feed=soya&fig-oil=<b>"):  # fmt: skip
        got = page.get(path)
        assert "<script>alert" not in got.text
        assert "<img" not in got.text
        assert "<b>" not in got.text
        assert faults_of_a_page(got.text) == []


# ---------------------------------------------------------------- a laboratory sheet


def test_a_sheet_is_read_in_the_words_of_the_command_and_names_its_feed(client) -> None:
    got = put_in(client)
    assert "over=bottom-ings" in got.headers["location"]
    page = client.get(got.headers["location"])
    assert page.status_code == 200
    assert faults_of_a_page(page.text) == []
    told = words(page.text)
    book = client.desk.read().tables
    like = replace(book.feeds["hay-meadow"], name="Bottom Ings")
    made = analysis.feed_from(analysis.read_sheet(SHIPPED / SHEET, book), like, book)
    for line in analysis.words(made):
        assert words(line) in told
    done = jobs.mix_file(client.desk.path, batches=["strong"],
                         sheets={"bottom-ings": SHIPPED / SHEET})  # fmt: skip
    cost = explain.pence(done.result.rations[0].cost_gbp_per_head_day, 2)
    assert f"becomes {cost} a head a day" in told
    assert "15.97p" in told
    assert client.desk.draft.is_saved, "reading writes nothing"


def test_laid_over_it_is_copied_named_and_taken_back(client) -> None:
    before = client.desk.draft.text
    sheet = digest_in(put_in(client, "../../a/../Lab 1 (hay).csv"))
    got = client.fill("/figures/sheet/lay", sheet=sheet, over="bottom-ings", batch="small")
    assert got.status_code == 303
    folder = client.desk.path.parent
    assert (folder / "Lab 1 (hay).csv").read_bytes() == LAB
    told = words(client.get(got.headers["location"]).text)
    assert re.search(r"Line \d+ is new: analysis: Lab 1 \(hay\).csv", told)
    assert "from your laboratory" in told
    offer = next(o for o in client.desk.read().farm.offers if o.id == "bottom-ings")
    assert offer.feed.figure("cp_g_per_kg_dm").mark == "lab"
    client.fill("/undo")
    assert client.desk.draft.text == before


def test_another_file_of_that_name_is_never_written_over(client) -> None:
    folder = client.desk.path.parent
    (folder / "lab.csv").write_text("not yours")
    (folder / "lab-2.csv").symlink_to(folder / "nowhere")
    sheet = digest_in(put_in(client, "lab.csv"))
    assert client.fill("/figures/sheet/lay", sheet=sheet, over="bottom-ings").status_code == 303
    assert (folder / "lab.csv").read_text() == "not yours"
    assert not (folder / "nowhere").exists()
    assert (folder / "lab-3.csv").read_bytes() == LAB
    assert "analysis: lab-3.csv" in client.desk.draft.text


def test_the_same_sheet_is_not_copied_twice(client) -> None:
    files = sorted(p.name for p in client.desk.path.parent.iterdir())
    sheet = digest_in(put_in(client))
    assert client.fill("/figures/sheet/lay", sheet=sheet, over="bottom-ings").status_code == 303
    assert sorted(p.name for p in client.desk.path.parent.iterdir()) == files
    assert f"analysis: {SHEET}" in client.desk.draft.text


def test_two_laboratories_are_taken_together_or_one_in_the_others_place(tmp_path) -> None:
    """As `analysis: [a, b]` in the farm file: the mean of both."""
    shutil.copytree(SHIPPED, tmp_path / "f")
    page = browser(tmp_path / "f" / "hafod-wrynach.yaml")
    one, two = ((SHIPPED / f"hafod-hay-lab{i}.csv").read_bytes() for i in (1, 2))
    sheet = digest_in(put_in(page, "hafod-hay-lab1.csv", one, over="hay"))
    page.fill("/figures/sheet/lay", sheet=sheet, over="hay")
    sheet = digest_in(put_in(page, "hafod-hay-lab2.csv", two, over="hay"))
    told = words(page.get(f"/figures/sheet?sheet={sheet}&over=hay").text)
    assert "mean of 2 samples" in told
    both = [SHIPPED / f"hafod-hay-lab{i}.csv" for i in (1, 2)]
    read = farm.read(SHIPPED / "hafod-wrynach.yaml", analyses={"hay": both})
    wanted = next(o for o in read.offers if o.id == "hay").feed["cp_g_per_kg_dm"]
    assert page.fill("/figures/sheet/lay", sheet=sheet, over="hay").status_code == 303
    offer = next(o for o in page.desk.read().farm.offers if o.id == "hay")
    assert offer.feed["cp_g_per_kg_dm"] == pytest.approx(wanted)
    page.fill("/undo")
    got = page.fill("/figures/sheet/lay", sheet=sheet, over="hay", way="instead")
    assert got.status_code == 303
    assert "analysis: hafod-hay-lab2.csv" in page.desk.draft.text


def test_a_sheet_laid_from_an_older_draft_copies_nothing(client) -> None:
    old = client.desk.draft.digest
    sheet = digest_in(put_in(client, "mine.csv"))
    client.fill("/figures/keep", feed="soya", **{"fig-protein": "50 %"})
    got = client.fill("/figures/sheet/lay", made_from=old, sheet=sheet, over="bottom-ings")
    assert got.status_code == 409
    assert "Changed in another window" in got.text
    assert not (client.desk.path.parent / "mine.csv").exists()


def test_a_sheet_that_does_not_suit_the_feed_is_told_and_nothing_is_copied(client) -> None:
    odd = LAB.replace(b"82.0,%", b"22.0,%")
    sheet = digest_in(put_in(client, "odd.csv", odd))
    got = client.get(f"/figures/sheet?sheet={sheet}&over=rolled-barley")
    assert got.status_code == 422
    assert "odd.csv" in words(got.text)
    assert faults_of_a_page(got.text) == []
    got = client.fill("/figures/sheet/lay", sheet=sheet, over="rolled-barley")
    assert got.status_code == 422
    assert not (client.desk.path.parent / "odd.csv").exists()
    assert client.desk.draft.is_saved


def zip_bomb() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("xl/worksheets/sheet1.xml", b"0" * 50_000_000)
    return out.getvalue()


REFUSED = [
    ("bomb.xlsx", zip_bomb(), "is not read here"),
    ("bomb.csv", zip_bomb(), "spreadsheet or archive"),
    ("lab.pdf", b"%PDF-1.7", "is not read here"),
    ("lab.csv", b"%PDF-1.7", "this is a PDF"),
    ("lab.csv", b"", "the file is empty"),
    ("lab.csv", b"\x00\x01\x02\xff" * 50, "not text"),
    ("lab.csv", b"hello\nworld\n", "only one column"),
    ("lab.csv", b"colour,red\nsize,big\n", "no figure of a feed was found"),
    ("lab.csv", b"protein,6.9,%,DM\n" * 40_000, "too large"),
    ("lab.yaml", b"a: &x [1]\nb: *x\n", ""),
    ("lab.yaml", b"!!python/object/apply:os.system [ls]\n", ""),
    ("lab.yaml", b"[" * 5000, ""),
    ("passwd", b"root:x:0:0\n", "is not read here"),
    ("..", LAB, "is not read here"),
    ("lab.csv", LAB.replace(b"82.0", b"820"), "more than the whole feed"),
]


@pytest.mark.parametrize(("name", "data", "said"), REFUSED)
def test_what_is_no_sheet_is_refused_in_words(client, name, data, said) -> None:
    files = sorted(p.name for p in client.desk.path.parent.iterdir())
    got = put_in(client, name, data)
    assert got.status_code == 422
    told = words(got.text)
    assert said in told
    assert "The sheet was not taken" in told
    assert "Traceback" not in told
    assert tempfile.gettempdir() not in told
    assert field_error(got.text, "file")
    assert faults_of_a_page(got.text) == []
    assert sorted(p.name for p in client.desk.path.parent.iterdir()) == files
    assert client.get("/figures").status_code == 200, "the page is still up"


def test_too_much_and_the_wrong_kind_of_form_are_refused(client) -> None:
    assert put_in(client, "big.csv", b"x" * 9_000_000).status_code == 413
    got = client.post("/figures/sheet", data={"token": TOKEN, "file": "text"})
    assert got.status_code == 422
    assert "no file was chosen" in words(got.text)
    got = client.post("/figures/sheet", data={"token": TOKEN}, files={"file": ("", b"")})
    assert got.status_code == 422
    assert client.get("/figures").status_code == 200


@pytest.mark.parametrize("digest", ["0" * 32, "../../x", "<b>"])
def test_a_sheet_that_is_not_held_is_said(client, digest) -> None:
    got = client.get("/figures/sheet?" + urlencode({"sheet": digest}))
    assert got.status_code == 404
    assert "not held any more" in words(got.text)
    got = client.fill("/figures/sheet/lay", sheet=digest, over="bottom-ings")
    assert got.status_code == 404
    assert client.desk.draft.is_saved


def test_a_feed_that_is_not_there_is_asked_for(client) -> None:
    sheet = digest_in(put_in(client))
    got = client.fill("/figures/sheet/lay", sheet=sheet, over="../../x")
    assert got.status_code == 422
    assert "which feed" in words(got.text)


def test_a_folder_that_cannot_be_written_to_is_said(client, monkeypatch) -> None:
    sheet = digest_in(put_in(client, "new.csv"))

    def full(path: Path, data: bytes) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(dropped, "_put", full)
    got = client.fill("/figures/sheet/lay", sheet=sheet, over="bottom-ings")
    assert got.status_code == 422
    assert "cannot be copied" in words(got.text)
    assert client.desk.draft.is_saved


def test_a_copy_cut_short_leaves_nothing(tmp_path, monkeypatch) -> None:
    def full(number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(dropped.os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        dropped._put(tmp_path / "a.csv", b"x")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("sent", "kept"),
    [("../../etc/passwd", "passwd"), ("C:\\x\\Lab.csv", "Lab.csv"), (".hidden.csv", "hidden.csv"),
     ("-rf.csv", "rf.csv"), ("nul.csv", "sheet nul.csv"), ("a\x00b\n.csv", "ab.csv"), ("", "sheet"),
     ("\u202evsc.exe", "vsc.exe"), ("a,b[c].csv", "abc.csv"), ("~/x.csv", "x.csv")],
)  # fmt: skip
def test_a_name_is_cut_to_what_may_lie_in_a_folder(sent, kept) -> None:
    assert dropped.file_name(sent) == kept


def test_only_the_last_sheets_are_held() -> None:
    tray = dropped.Tray()
    first = tray.put("a.csv", b"1")
    for i in range(dropped.MOST_HELD):
        tray.put(f"{i}.csv", b"1")
    assert tray.get(first.digest) is None
    assert tray.put("a.csv", b"1").digest != tray.put("b.csv", b"1").digest
