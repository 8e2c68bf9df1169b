"""A weighing on the page: told at once in the words of the face, catching up as long work.

Words and figures are held against the job and the command on the same file. Lines, bands and means
are worked by hand beside each test. The farms are invented.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from page_browser import Browser, words
from page_winter import SMALL, Slow, closing, ended, now, opened
from test_page_views import faults_of_a_page

from ration import cautions, weighing
from ration.cli import main
from ration.faces import card_report
from ration.jobs import weigh as weigh_jobs
from ration.jobs import winter as winter_jobs
from ration.page.views import weighing as view

DAY = "23 November 2026"
SAID = {"on": DAY, "number": "30", "mean": "35.6", "sd": "2.0"}
WHEN = date(2026, 11, 23)


@pytest.fixture
def page(tmp_path):
    with closing(opened(tmp_path)) as made:
        yield made


@pytest.fixture(scope="module")
def still(tmp_path_factory):
    """A page for tests that begin nothing."""
    return opened(tmp_path_factory.mktemp("weighing"))


@pytest.fixture(scope="module")
def worked(tmp_path_factory):
    """One page on which catching up is worked out."""
    with closing(opened(tmp_path_factory.mktemp("weighed"))) as made:
        made.fill("/weighing/run", **SAID)
        ended(made, "weighing")
        yield made


def told(page: Browser, **said: str) -> str:
    got = page.get(f"/weighing?{urlencode(said)}" if said else "/weighing")
    assert got.status_code == 200, words(got.text)
    assert faults_of_a_page(got.text) == []
    return words(got.text)


def beside(html: str, name: str) -> str:
    """What is said to be wrong with a box."""
    return words(re.search(rf'id="error-{name}"[^>]*>(.*?)</p>', html, re.DOTALL).group(1))


# ---------------------------------------------------------------- against the line


def test_before_a_weighing_the_page_asks_for_one(still) -> None:
    said = told(still)
    assert "Put in a weighing" in said
    assert "As you write it: 23 November 2026" in said, "the middle of this farm's own winter"
    assert "Work out catching up" not in said


def test_against_the_line_in_the_words_of_the_face(still) -> None:
    """35 kg and 60 g a day from 2 November: on 23 November 35 + 21 x 0.06 = 36.26 kg.

    Behind 36.26 - 35.6 = 0.66 kg; 1.96 x 2.0 / sqrt(30) = 0.72.
    """
    said = told(still, **SAID)
    assert "the line on 23 November 36.26 kg" in said
    assert "behind, as weighed 0.66 kg" in said
    assert "give or take, by the sample 0.72 kg" in said
    farm = still.desk.read().farm
    found = weighing.against_farm(weighing.weighing(WHEN, 30, 35.6, 2.0), farm)
    html = still.get(f"/weighing?{urlencode(SAID)}").text
    answer = words(re.search(r'<p class="answer">(.*?)</p>', html).group(1))
    for sentence in re.split(r"(?<=[a-z)]\.) (?=[A-Z])", weighing.words(found)):
        assert words(sentence) in said
        assert said.count(words(sentence)) <= 1 or words(sentence) in answer
    assert answer in weighing.words(found)
    assert html.count("<svg") == 1


@pytest.mark.parametrize(
    ("mean", "verdict"), [("33.0", "behind"), ("36.3", "cannot tell"), ("40", "ahead")]
)
def test_the_answer_is_the_verdict(still, mean, verdict) -> None:
    """After the same hours off feed gut fill moves nothing; half width 0.72 as above."""
    said = {**SAID, "mean": mean, "hours-off": "3 h", "first-hours-off": "3"}
    html = still.get(f"/weighing?{urlencode(said)}").text
    answer = words(re.search(r'<p class="answer">(.*?)</p>', html).group(1))
    assert verdict in answer


def test_single_weights_give_mean_and_spread(still) -> None:
    """36, 37 and 38 kg: mean 37, spread (n - 1) 1. 82 lb is 82 x 0.45359237 = 37.19 kg."""
    said = told(still, on=DAY, weights="36\r\n37 kg\n38 # the lame one")
    assert "mean of 3 37.0 kg" in said
    assert f"give or take, by the sample {1.96 / 3**0.5:.2f} kg" in said
    assert "mean of 2 37.2 kg" in told(still, on=DAY, weights="82 lb\n82 lb")


def test_pounds_and_stones_are_taken(still) -> None:
    assert "mean of 30 37.2 kg" in told(still, **{**SAID, "mean": "82 lb"})
    assert "mean of 30 39.9 kg" in told(still, **{**SAID, "mean": "6 st 4 lb"})


def test_of_one_batch(still) -> None:
    said = told(still, **SAID, batch="hoggs")
    assert "hoggs: they weigh 35.6 kg" in said
    assert "Weight against the line, hoggs" in said


# ---------------------------------------------------------------- what is wrong

BAD = [
    ("on", "23 November 2025", "the line runs from"),
    ("on", "11/23/2026", "month first"),
    ("on", "soon", ""),
    ("on", "", "is wanted"),
    ("number", "1", "2 or more show a spread"),
    ("number", "0", "2 or more"),
    ("number", "-30", "not a whole number"),
    ("number", "3e1", "not a whole number"),
    ("number", "9" * 50, ""),
    ("number", "5001", "at most 5000"),
    ("number", "", "is wanted"),
    ("mean", "370", "15 to 55 kg is covered"),
    ("mean", "82", "If these are pounds, 82 lb is 37.2 kg"),
    ("mean", "nan", ""),
    ("mean", "", "is wanted"),
    ("sd", "25", "standard deviation"),
    ("sd", "-1", ""),
    ("sd", "", "is wanted"),
    ("hours-off", "90", "0 to 48 is believable"),
    ("hours-off", "long", ""),
    ("first-hours-off", "-1", ""),
    ("later", "1 December 2026", "is not after"),
    ("later", "0 days", "not a later day"),
    ("later", "99999999999 days", "not a later day"),
    ("batch", "big", '"big" is not a batch'),
    ("batch", "<script>alert(1)</script>", "is not a batch"),
    ("seconds", "0", "0.1 to 600"),
    ("weights", "36\n37", "leave number, mean and spread empty"),
]


@pytest.mark.parametrize(("name", "value", "said"), BAD)
def test_a_bad_value_is_told_beside_its_box_alone(still, name, value, said) -> None:
    typed = {**SAID, name: value}
    for got in (still.get(f"/weighing?{urlencode(typed)}"), still.fill("/weighing/run", **typed)):
        assert got.status_code == 422
        wrong = beside(got.text, name)
        assert wrong
        assert said.casefold() in wrong.casefold()
        others = [n for n in view.NAMES if n != name]
        assert [n for n in others if beside(got.text, n)] == [], "no other box is blamed"
        assert f'<a href="#{name}">' in got.text
        assert "<script>alert" not in got.text
        assert faults_of_a_page(got.text) == []
        assert "Work out catching up" not in got.text
    assert now(still, "weighing") is None


@pytest.mark.parametrize(
    ("weights", "said"),
    [
        ("36\nabc\n38", "line 2"),
        ("36\n400", "Weight 2 is 400 kg"),
        ("370\n36", "Did you mean 37 kg?"),
        ("36", "2 or more show a spread"),
        ("# nothing", "2 or more"),
        ("36\n" * 8000, "too long"),
        ("-4\n36", ""),
        ("\x00\n36", ""),
    ],
)
def test_faults_of_single_weights_name_the_line(still, weights, said) -> None:
    got = still.get(f"/weighing?{urlencode({'on': DAY, 'weights': weights})}")
    assert got.status_code == 422
    assert said in beside(got.text, "weights")
    assert "<details open><summary>Single weights instead" in got.text


def test_all_faults_are_told_together(still) -> None:
    got = still.get("/weighing?on=x&number=y&mean=z&sd=q&hours-off=r")
    assert got.status_code == 422
    for name in ("on", "number", "mean", "sd", "hours-off"):
        assert beside(got.text, name)


@given(
    st.dictionaries(
        st.sampled_from(view.NAMES),
        st.one_of(
            st.text(st.characters(exclude_categories=["Cs"]), max_size=30),
            st.sampled_from(["30", "36", "2", "23 November 2026", "25 days", "8 h", "10"]),
        ),
        max_size=8,
    )
)
@settings(max_examples=80, suppress_health_check=list(HealthCheck))
def test_whatever_is_typed_is_taken_or_told(still, typed) -> None:
    got = still.get(f"/weighing?{urlencode(typed)}")
    assert got.status_code in (200, 422), got.text
    assert "This is our fault" not in got.text


# ---------------------------------------------------------------- catching up


def test_catching_up_is_the_job_in_the_words_of_the_face(worked) -> None:
    done = weigh_jobs.weigh_file(worked.desk.path, weighing.weighing(WHEN, 30, 35.6, 2.0))
    for said in (told(worked, **SAID, seconds="50"), told(worked)):
        for line in done.by_turnout.words:
            assert words(line) in said
        assert "TOP-UP ORDER, to catch up by 14 December 2026" in said
        assert "New cards" in said
        for card in done.cards:
            assert card_report.heading(card) in said
        assert cautions.STANDING in said
        assert "Work out catching up" not in said


def test_another_weighing_is_not_answered_with_this_one(worked) -> None:
    said = told(worked, **{**SAID, "mean": "35.9"})
    assert "Work out catching up" in said
    assert "TOP-UP ORDER" not in said


def test_the_boxes_can_be_emptied(worked) -> None:
    assert "Put in a weighing" in words(worked.get("/weighing?on=").text)


def test_json_is_the_commands_to_the_byte(worked) -> None:
    by_command = CliRunner().invoke(
        main,
        ["weigh", str(worked.desk.path), "--on", DAY, "--mean", "35.6kg", "--sd", "2.0kg",
         "--number", "30", "--json"],
    )  # fmt: skip
    assert by_command.exit_code == 0, by_command.output
    html = worked.get("/weighing").text
    link = re.search(r'href="(/json/weigh[^"]*)"', html).group(1).replace("&amp;", "&")
    got = worked.get(link)
    assert got.content == by_command.stdout_bytes
    assert now(worked, "weighing").number == 1, "kept, not worked again"
    assert worked.get("/json/weigh").status_code == 422
    assert worked.get("/json/weigh?on=soon").status_code == 422


def test_the_winter_of_the_order_is_gone_on_from(page, monkeypatch) -> None:
    page.fill("/order/run", seconds="10")
    ended(page, "order")
    monkeypatch.setattr(winter_jobs, "told_of", lambda *_: pytest.fail("planned a second time"))
    monkeypatch.setattr(weigh_jobs, "told_of", lambda *_: pytest.fail("planned a second time"))
    page.fill("/weighing/run", **SAID, seconds="10")
    run = ended(page, "weighing")
    assert run.fault is None, run.fault
    monkeypatch.undo()
    alone = weigh_jobs.weigh_file(
        page.desk.path, weighing.weighing(WHEN, 30, 35.6, 2.0), seconds=10
    )
    assert run.result.by_turnout.words == alone.by_turnout.words
    assert run.result.base.plan.more == ()


def test_a_later_day_is_worked_out_beside(page) -> None:
    page.fill("/weighing/run", **SAID, later="7 days")
    done = ended(page, "weighing").result
    assert done.later.by == date(2026, 12, 21)
    said = told(page)
    for line in done.later.words:
        assert words(line) in said


def test_one_weighing_at_a_time_and_who_asks_for_another_is_told(page, monkeypatch) -> None:
    slow = Slow()
    monkeypatch.setattr(weigh_jobs, "weighed_of", slow)
    got = page.fill("/weighing/run", **SAID)
    assert got.headers["location"].startswith("/weighing?")
    assert slow.has_begun.wait(10)
    here = words(page.get(got.headers["location"]).text)
    assert "Working out what catching up costs." in here
    assert "Stop and show the best so far" in here
    other = {**SAID, "mean": "35.9"}
    page.fill("/weighing/run", **other)
    said = told(page, **other)
    assert "being worked out for another weighing, 23 November 2026" in said
    assert "Work out catching up" not in said
    assert "mean of 30 35.9 kg" in said, "what it tells by itself is told"
    stopped = page.fill("/weighing/stop")
    assert slow.was_stopped.wait(10)
    assert "mean=35.6" in stopped.headers["location"]
    ended(page, "weighing")
    assert slow.calls == 1


def test_stopped_early_it_tells_what_there_is(page, monkeypatch) -> None:
    done = weigh_jobs.weigh_file(page.desk.path, weighing.weighing(WHEN, 30, 35.6, 2.0))
    slow = Slow(replace(done, on_line=None, by_turnout=None, later=None, cards=()))
    monkeypatch.setattr(weigh_jobs, "weighed_of", slow)
    page.fill("/weighing/run", **SAID)
    assert slow.has_begun.wait(10)
    page.fill("/weighing/stop")
    ended(page, "weighing")
    said = told(page)
    assert "The work stopped before the rest of the winter was planned." in said
    assert "New cards" not in said
    assert "the line on 23 November 36.26 kg" in said


def test_a_change_of_the_file_drops_the_run(page, monkeypatch) -> None:
    slow = Slow()
    monkeypatch.setattr(weigh_jobs, "weighed_of", slow)
    page.fill("/weighing/run", **SAID)
    assert slow.has_begun.wait(10)
    page.fill("/feed/keep", batch="hoggs", **{"price-soya": "300 /t"})
    assert slow.was_stopped.wait(10)
    said = told(page, **SAID)
    assert "that work was dropped" in said
    assert "Work out catching up" in said


def test_no_plan_of_the_winter_is_told(tmp_path) -> None:
    text = SMALL + "limits:\n  least dry matter: 0.3 kg\n  most dry matter: 0.4 kg\n"
    with closing(opened(tmp_path, text=text)) as page:
        page.fill("/weighing/run", **SAID)
        done = ended(page, "weighing").result
        said = told(page)
        for line in done.base.why_not:
            assert words(line) in said
        assert "TOP-UP ORDER" not in said


def test_script_in_the_name_of_a_batch_is_only_text(tmp_path) -> None:
    nasty = '<b onclick="x">'
    text = SMALL.replace("  hoggs:\n", f"  '{nasty}':\n")
    with closing(opened(tmp_path, text=text)) as page:
        got = page.get(f"/weighing?{urlencode({**SAID, 'batch': nasty})}")
        assert got.status_code == 200, words(got.text)
        assert "<b onclick" not in got.text
        assert faults_of_a_page(got.text) == []
