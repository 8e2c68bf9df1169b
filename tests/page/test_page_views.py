"""The two views, whole and in part, and their JSON. Words and figures are held against the faces."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner
from page_browser import browser, words

from ration import explain, jobs
from ration.cli import main
from ration.page.views import QUESTIONS, menu


class Tags(HTMLParser):
    """Every tag of a page with its attributes."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.all: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)

    def handle_starttag(self, tag, attrs) -> None:
        self.all.append((tag, dict(attrs)))

    def of(self, *names: str) -> list[dict[str, str | None]]:
        return [attrs for tag, attrs in self.all if tag in names]


VIEWS = ["/", "/?batch=small&worth=yes", "/hay", "/hay?protein=6.9", "/hay/curve?figure=protein"]


def faults_of_a_page(html: str) -> list[str]:
    """What a reader without eyes or without a mouse would stumble over."""
    tags = Tags(html)
    ids = [a["id"] for _, a in tags.all if "id" in a]
    found = [f"id {i} twice" for i in set(ids) if ids.count(i) > 1]
    labels = {a.get("for") for a in tags.of("label")}
    for box in tags.of("input", "select", "textarea"):
        if box.get("type") in ("hidden", "submit"):
            continue
        if box.get("id") not in labels and not box.get("aria-label"):
            found.append(f"{box} has no label")
        for told in (box.get("aria-describedby") or "").split():
            if told not in ids:
                found.append(f"{box.get('id')} is described by {told}, which is not there")
    found += [f"link to {a['href']}" for a in tags.of("a")
              if a["href"].startswith("#") and a["href"][1:] not in ids]  # fmt: skip
    found += [f"{a} asks another host" for _, a in tags.all
              for v in a.values() if v and v.startswith(("http:", "https:", "//"))
              and "w3.org" not in v]  # fmt: skip
    found += [f"style in {t}" for t, a in tags.all if "style" in a or t == "style"]
    found += [f"{t} has {k}" for t, a in tags.all for k in a if k.startswith("on")]
    found += ["a script in the page" for a in tags.of("script") if "src" not in a]
    heads = len(tags.of("h1"))
    return found + ([] if heads == 1 else [f"{heads} main headings"])


@pytest.mark.parametrize("path", VIEWS)
def test_a_page_can_be_read_by_ear_and_asks_nobody_else(shared, path) -> None:
    got = shared.get(path)
    assert got.status_code == 200
    assert got.text.startswith("<!doctype html>")
    assert '<html lang="en-GB">' in got.text
    assert faults_of_a_page(got.text) == []


def test_the_answer_is_the_ration_of_the_job(shared) -> None:
    told = words(shared.get("/?batch=middle").text)
    done = jobs.mix_file(shared.desk.path, batches=["middle"])
    ration = done.result.rations[0]
    for sentence in explain.in_a_few_sentences(ration):
        assert sentence in told
    for caution in done.cautions_of["middle"]:
        assert caution.words in told
    assert explain.pence(ration.cost_gbp_per_head_day) in told
    assert "Morning" in told
    assert "Evening" in told
    assert "Hay for the hoggs, once the ewes have their 21.0 t, lasts to 16 November" in told


def test_a_plain_line_stands_for_each_need(shared) -> None:
    told = words(shared.get("/?batch=strong").text)
    for line in ("Energy: just met", "Protein: just met", "Calcium: met"):
        assert line in told


def test_worth_is_worked_out_only_when_asked(shared) -> None:
    assert "What each feed is worth" not in shared.get("/").text
    told = words(shared.get("/?worth=yes").text)
    assert "What each feed is worth to strong" in told
    assert "These amounts stay the cheapest while" in told


def test_the_script_gets_the_part_alone_and_the_same_answer(shared) -> None:
    query = "/?" + urlencode({"batch": "strong", "price-soya": "430 /t"})
    whole, part = shared.get(query), shared.part(query)
    assert "<html" not in part.text
    assert part.headers["vary"] == whole.headers["vary"] == "HX-Request"
    answer = re.search(r'<p class="answer">(.*?)</p>', whole.text).group(1)
    assert answer in part.text
    assert 'id="now" role="status" hx-swap-oob="true"' in part.text
    assert part.text.count("hx-swap-oob") > 10, "every fault of a box is sent again"


def test_a_change_is_told_in_the_words_of_the_faces(shared) -> None:
    told = words(shared.part("/?" + urlencode({"batch": "strong", "price-soya": "430 /t"})).text)
    assert re.search(r"strong: 15\.97p becomes 1\d\.\d\dp a head a day, £[\d.]+ dearer", told)
    assert "by the farm file 15.97p" in told
    assert shared.desk.draft.is_saved, "looking writes nothing"


def test_a_gain_takes_the_place_of_a_target(shared) -> None:
    got = shared.part("/?" + urlencode({"batch": "strong", "target": "", "gain": "40 g"}))
    assert got.status_code == 200
    assert "to gain 40 g a day" in words(got.text)


def test_by_another_standard(shared) -> None:
    got = words(shared.get("/?" + urlencode({"standard": "CSIRO 2007"})).text)
    assert "Standard CSIRO 2007" in got


BAD = [
    ("price-soya", "-3", "price cannot be below zero"),
    ("price-soya", "13,2 /t", "comma where a point belongs"),
    ("price-soya", "", "nothing is written here"),
    ("price-soya", "!!python/object/apply:os.system [ls]", "price"),
    ("price-soya", "*all", "price"),
    ("price-soya", "{a: 1}", "price"),
    ("price-soya", "9" * 300, "too long"),
    ("target", "forty", "target must start with a number"),
    ("target", "9000 kg", ""),
    ("margin", "7", "1.00 to 1.50"),
    ("standard", "mine", "standard is not known"),
]


@pytest.mark.parametrize(("name", "value", "said"), BAD)
@pytest.mark.parametrize("is_part", [True, False])
def test_a_bad_value_is_told_beside_its_box(shared, name, value, said, is_part) -> None:
    query = "/?" + urlencode({"batch": "strong", name: value})
    got = shared.part(query) if is_part else shared.get(query)
    assert got.status_code == 422
    beside = re.search(rf'id="error-{name}"[^>]*>(.*?)</p>', got.text, re.DOTALL).group(1)
    assert said in words(beside).replace("Nothing", "nothing")
    assert words(beside)
    assert f'<a href="#{name}">' in got.text
    assert 'role="alert"' in got.text
    assert "Give each one, each day" in words(got.text), "the answer by the file still stands"
    if not is_part:
        box = next(a for a in Tags(got.text).of("input", "select") if a.get("id") == name)
        assert box["aria-invalid"] == "true"
        assert faults_of_a_page(got.text) == []


def test_both_a_target_and_a_gain_are_too_many(shared) -> None:
    got = shared.part("/?" + urlencode({"batch": "strong", "gain": "40 g"}))
    assert got.status_code == 422
    assert "one of the two is wanted" in words(got.text)


def test_no_mix_is_told_with_what_would_do(shared) -> None:
    got = shared.part("/?" + urlencode({"batch": "strong", "target": "", "gain": "250 g"}))
    assert got.status_code == 200
    told = words(got.text)
    assert "No mix" in told
    assert "no mix will do" in told


# ---------------------------------------------------------------- the hay


def test_the_hay_stays_beside_its_first_answer(shared) -> None:
    got = shared.part("/hay?hay=bottom-ings&batch=strong&protein=6.9")
    told = words(got.text)
    assert "Bottom Ings is now protein 6.9 % of DM (was 9.0)." in told
    assert "by the farm file with these figures" in told
    assert "15.97p" in told
    assert "Keep this analysis in quernhope.yaml" in told


def test_a_slider_spans_what_is_believable_for_hay(shared) -> None:
    sliders = {a["data-for"]: a for a in Tags(shared.get("/hay").text).of("input")
               if a.get("type") == "range"}  # fmt: skip
    assert set(sliders) == {"protein", "energy", "dry-matter", "price"}
    least, most = shared.desk.read().tables.range_of("cp_g_per_kg_dm", "hay")
    assert float(sliders["protein"]["min"]) == pytest.approx(least / 10)
    assert float(sliders["protein"]["max"]) == pytest.approx(most / 10)
    assert all("hidden" in a and a.get("name") is None for a in sliders.values()), "script only"


@pytest.mark.parametrize(
    ("name", "value"),
    [("protein", "abc"), ("protein", "90"), ("energy", "80"), ("dry-matter", "0"),
     ("price", "-1"), ("protein", "nan"), ("energy", "1e9")],
)  # fmt: skip
def test_a_bad_figure_of_the_hay_is_told_beside_its_box(shared, name, value) -> None:
    got = shared.part(f"/hay?{urlencode({'hay': 'bottom-ings', name: value})}")
    assert got.status_code == 422
    assert words(re.search(rf'id="error-{name}"[^>]*>(.*?)</p>', got.text).group(1))


def test_an_unknown_forage_or_batch_shows_the_first(shared) -> None:
    got = shared.get("/hay?hay=../../etc/passwd&batch=%00<b>")
    assert got.status_code == 200
    assert "passwd" not in got.text
    assert "Bottom Ings" in got.text


def test_the_curve_is_a_table_words_and_a_picture(shared) -> None:
    got = shared.part("/hay/curve?hay=bottom-ings&batch=strong&figure=protein")
    assert got.status_code == 200
    assert "<svg" in got.text
    assert words(got.text).count("p 0.") >= 13, "a row a value"
    assert shared.get("/hay/curve?figure=copper").status_code == 404


# ---------------------------------------------------------------- the menu, JSON


def test_the_menu_has_the_questions_that_are_answered(shared) -> None:
    html = shared.get("/").text
    for question in menu():
        assert f'href="{question.path}"' in html
    assert [q.words for q in QUESTIONS][:2] == [
        "What do I feed?",
        "What if the hay is not what I thought?",
    ]
    assert html.count('aria-current="page"') == 2, "the question and the batch"


@pytest.mark.parametrize(
    ("query", "command"),
    [
        ("mix", ["mix"]),
        ("mix?batch=small", ["mix", "--batch", "small"]),
        (
            "mix?standard=NRC 1985&batch=middle",
            ["mix", "--standard", "NRC 1985", "--batch", "middle"],
        ),
        ("assess", ["assess"]),
        ("stack", ["stack"]),
    ],
)
def test_json_is_the_commands_to_the_byte(shared, query, command) -> None:
    got = shared.get(f"/json/{query}")
    told = CliRunner().invoke(main, [command[0], str(shared.desk.path), *command[1:], "--json"])
    assert told.exit_code == 0, told.output
    assert got.headers["content-type"] == "application/json"
    assert got.content == told.stdout_bytes


def test_json_that_is_not_there(shared) -> None:
    assert shared.get("/json/everything").status_code == 404
    assert shared.get("/json/mix?batch=none").status_code == 404


# ---------------------------------------------------------------- hostile names, faulty files


def test_script_in_a_feeds_name_is_only_text(farm) -> None:
    text = farm.read_text(encoding="utf-8")
    nasty = '<script>alert(1)</script>\\" onfocus=\\"x'
    farm.write_text(text.replace("  soya:\n", f'  soya:\n    name: "{nasty}"\n', 1), "utf-8")
    page = browser(farm)
    for path in ("/", "/?worth=yes", "/hay", "/hay/curve?figure=protein"):
        got = page.get(path)
        assert got.status_code == 200
        assert "<script>alert" not in got.text
        assert faults_of_a_page(got.text) == []


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("note: !!python/object/apply:os.system [ls]\n", "a tag"),
        ("note: &a hello\n", "reference mark"),
        ("colour: blue\n", "is not a name used here"),
    ],
)
def test_a_file_with_faults_is_a_page_of_faults(farm, line, said) -> None:
    with farm.open("a", encoding="utf-8") as file:
        file.write(line)
    page = browser(farm)
    got = page.get("/")
    assert got.status_code == 422
    assert said in words(got.text)
    assert "Traceback" not in got.text
    assert page.get("/json/mix").status_code == 422
    assert page.get("/draft.txt").status_code == 200


def test_a_farm_of_another_shape(tmp_path) -> None:
    import shutil

    from page_browser import SHIPPED

    shutil.copytree(SHIPPED, tmp_path / "f")
    page = browser(tmp_path / "f" / "hafod-wrynach.yaml")
    for path in ("/", "/hay"):
        got = page.get(path)
        assert got.status_code == 200, words(got.text)
        assert faults_of_a_page(got.text) == []
