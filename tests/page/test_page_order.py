"""The winter on the page: long work shared by all who look, its answer in the words of the faces.

Words and figures are held against the job and the command on the same file; both are tested against
the outside elsewhere. The farm is invented.
"""

from __future__ import annotations

import csv
import io
import re
import threading
import time
from dataclasses import replace
from urllib.parse import urlencode

import openpyxl
import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from page_browser import Browser, browser, words
from page_winter import QUOTES, SMALL, Slow, closing, ended, now, opened, runs_of, small
from test_page_views import faults_of_a_page

from ration import cautions
from ration.cli import main
from ration.errors import NotProved
from ration.faces import winter_json, winter_words
from ration.jobs import winter as winter_jobs
from ration.page import runs
from ration.page.views import order as view
from ration.stack import lots as stacked


@pytest.fixture
def page(tmp_path):
    with closing(opened(tmp_path)) as made:
        yield made


@pytest.fixture(scope="module")
def worked(tmp_path_factory):
    """One page on which the winter is worked out, with quotes and a what-if."""
    with closing(opened(tmp_path_factory.mktemp("order"), quotes=QUOTES)) as made:
        made.fill("/order/run", **{"what-if-1": "long winter"})
        ended(made, "order")
        yield made


def told(page: Browser, path: str = "/order") -> str:
    got = page.get(path)
    assert got.status_code == 200, got.text
    assert faults_of_a_page(got.text) == []
    return words(got.text)


def slowly(monkeypatch, gives: object = None) -> Slow:
    slow = Slow(gives)
    monkeypatch.setattr(winter_jobs, "wintered", slow)
    return slow


def changed(page: Browser, price: str = "300 /t"):
    """Another window writes into the farm file on the desk."""
    got = page.fill("/feed/keep", batch="hoggs", **{"price-soya": price})
    assert got.status_code == 303, got.text


# ---------------------------------------------------------------- before, and the answer


def test_before_it_is_worked_out_it_says_what_it_knows(page) -> None:
    said = told(page)
    assert "The winter is not worked out yet." in said
    assert stacked.estimated(page.desk.read().farm).line in said
    assert "fold.yaml names no merchants' quotes, so its own prices are taken" in said
    assert "Work out the winter" in said
    assert now(page, "order") is None, "looking begins nothing"


def test_the_answer_is_the_winter_of_the_job_in_the_words_of_the_faces(worked) -> None:
    said = told(worked)
    done = winter_jobs.winter_file(worked.desk.path, what_ifs=["long winter"])
    plan = done.plan
    for line in (
        winter_words.order_total(plan),
        done.stack.line,
        winter_words.proof(plan),
        *winter_words.bill(plan),
        *winter_words.more(plan.more),
        *(lot.words for lot in done.stack.lots),
        *(w.line for w in done.what_ifs),
        *(c.words for c in done.cautions),
        cautions.STANDING,
    ):
        assert words(line) in said
    tonnes = sum(d.tonnes for d in plan.deliveries)
    assert f"to order {tonnes:.2f} t" in said
    assert "Prices by the quotes in quotes.csv, as on 2 November 2026." in said
    assert "Not quoted, so at the price in fold.yaml, any amount on any day: " in said
    for head in ("Order sheet", "Now or later", "What if", "hoggs, 40 head, to gain 60 g a day"):
        assert head in said
    html = worked.get("/order").text
    assert html.count("<svg") == 3, "the ration, the stack, the weights"
    assert "hx-get" not in html.split('id="told"')[1].split('class="side"')[0], "nothing is asked"


def test_it_is_still_there_when_the_page_is_loaded_again_and_in_another_window(worked) -> None:
    count = now(worked, "order").number
    other = Browser(worked.app, base_url=str(worked.base_url), client=("127.0.0.1", 50001))
    assert told(other) == told(worked) == told(worked)
    assert now(worked, "order").number == count


def test_json_is_the_commands_to_the_byte(worked) -> None:
    whole = ["winter", str(worked.desk.path), "--what-if", "long winter", "--json"]
    by_command = CliRunner().invoke(main, whole)
    assert by_command.exit_code == 0, by_command.output
    link = re.search(r'href="(/json/winter[^"]*)"', worked.get("/order").text).group(1)
    got = worked.get(link.replace("&amp;", "&"))
    assert got.headers["content-type"] == "application/json"
    assert got.content == by_command.stdout_bytes


def test_json_works_it_out_when_nobody_has(page) -> None:
    by_command = CliRunner().invoke(main, ["winter", str(page.desk.path), "--json"])
    got = page.get("/json/winter")
    assert got.content == by_command.stdout_bytes
    assert now(page, "order").number == 1
    assert page.get("/json/winter").content == got.content
    assert now(page, "order").number == 1, "kept"
    assert "The winter costs £" in told(page), "and shown on the page"


@pytest.mark.parametrize(
    ("query", "status", "said"),
    [
        ("what-if=no+snow", 422, "this is not a what-if that is read here"),
        ("on=soon", 422, "Day of the order"),
        ("seconds=-1", 422, "How long it may look"),
        ("seconds=nan", 422, "How long it may look"),
        ("&".join(["what-if=long+winter"] * 11), 400, "At most 10 what-ifs"),
    ],
)
def test_json_of_what_cannot_be_asked(page, query, status, said) -> None:
    got = page.get(f"/json/winter?{query}")
    assert got.status_code == status
    assert said in words(got.text)
    assert now(page, "order") is None


def test_the_workbook_and_the_csv_hold_the_order(worked) -> None:
    done = now(worked, "order").result
    book = worked.get("/order/winter.xlsx")
    assert "fold-winter.xlsx" in book.headers["content-disposition"]
    assert book.headers["content-disposition"].startswith("attachment")
    sheet = openpyxl.load_workbook(io.BytesIO(book.content), read_only=True)["Order"]
    feeds = {row[0] for row in sheet.iter_rows(values_only=True)}
    assert {"barley", "soya"} <= feeds
    listed = worked.get("/order/order.csv")
    assert listed.content.startswith(b"\xef\xbb\xbf")
    rows = list(csv.DictReader(io.StringIO(listed.content.decode("utf-8-sig"))))
    assert len(rows) == len(done.plan.deliveries)
    tonnes = sum(d.tonnes for d in done.plan.deliveries)
    assert sum(float(r["t_fresh"]) for r in rows) == pytest.approx(tonnes, abs=0.001 * len(rows))
    assert {r["from"] for r in rows} == {"Curlew Feeds", "your own price"}


def test_nothing_to_take_away_before_it_is_worked_out(page) -> None:
    for path in ("/order/winter.xlsx", "/order/order.csv"):
        got = page.get(path, follow_redirects=False)
        assert (got.status_code, got.headers["location"]) == (303, "/order")


# ---------------------------------------------------------------- while it is worked out


def test_two_who_ask_share_one_run(page, monkeypatch) -> None:
    slow = slowly(monkeypatch, winter_jobs.winter_file(page.desk.path))
    other = Browser(page.app, base_url=str(page.base_url), client=("127.0.0.1", 50001))
    assert page.fill("/order/run").headers["location"] == "/order"
    assert slow.has_begun.wait(10)
    assert other.fill("/order/run", **{"what-if-1": "long winter"}).status_code == 303
    for one in (page, other):
        said = told(one)
        assert "Working out the winter" in said
        assert "looking" in said
        assert "Stop and show the best so far" in said
    slow.go_on.set()
    ended(page, "order")
    assert slow.calls == 1
    assert told(page) == told(other)


def test_the_script_asks_for_the_progress_and_then_for_the_page(page, monkeypatch) -> None:
    slow = slowly(monkeypatch, winter_jobs.winter_file(page.desk.path))
    assert page.part("/order/progress").headers["hx-refresh"] == "true", "nothing to wait for"
    page.fill("/order/run")
    assert slow.has_begun.wait(10)
    html = page.get("/order").text
    assert 'hx-get="/order/progress" hx-trigger="every 1s"' in html
    part = page.part("/order/progress")
    assert "<html" not in part.text
    assert "hx-refresh" not in part.headers
    assert re.search(r"\b\d+ s looking", words(part.text))
    slow.go_on.set()
    ended(page, "order")
    assert page.part("/order/progress").headers["hx-refresh"] == "true"


def test_it_goes_without_script(page, monkeypatch) -> None:
    slow = slowly(monkeypatch, winter_jobs.winter_file(page.desk.path))
    page.fill("/order/run")
    assert slow.has_begun.wait(10)
    html = page.get("/order").text
    assert '<noscript><meta http-equiv="refresh"' in html
    assert "Look again" in words(html)
    assert page.get("/order/progress", follow_redirects=False).headers["location"] == "/order"
    slow.go_on.set()
    ended(page, "order")
    assert "http-equiv" not in page.get("/order").text


def test_stopped_it_shows_the_best_so_far(page, monkeypatch) -> None:
    plan = winter_jobs.winter_file(page.desk.path)
    best = replace(plan, plan=replace(plan.plan, is_cut_short=True))
    slow = slowly(monkeypatch, best)
    page.fill("/order/run")
    assert slow.has_begun.wait(10)
    assert page.fill("/order/stop").headers["location"] == "/order"
    assert slow.was_stopped.wait(10)
    ended(page, "order")
    assert "Stopped early: this is the best plan found" in told(page)


def test_the_planner_itself_stops_when_asked(farm) -> None:
    """The invented farm takes a minute and more when it is let."""
    with closing(browser(farm)) as page:
        page.fill("/order/run", seconds="200")
        run = now(page, "order")
        until = time.monotonic() + 30
        while not any("coarse plan" in line for _, line in run.lines):
            assert time.monotonic() < until
            time.sleep(0.05)
        page.fill("/order/stop")
        assert run.wait(60)
        assert run.fault is None
        assert run.result.plan.is_cut_short
        said = told(page)
        assert "Stopped early" in said or "The work stopped before a plan was found" in said


def test_stopping_when_nothing_goes_is_no_harm(page) -> None:
    assert page.fill("/order/stop").headers["location"] == "/order"
    assert "not worked out yet" in told(page)


# ---------------------------------------------------------------- the farm file changes


def test_a_change_of_the_file_drops_the_run(page, monkeypatch) -> None:
    slow = slowly(monkeypatch, winter_jobs.winter_file(page.desk.path))
    page.fill("/order/run")
    assert slow.has_begun.wait(10)
    run = now(page, "order")
    changed(page)
    assert slow.was_stopped.wait(10), "it stops by itself; nobody looked"
    assert run.wait(10)
    assert run.is_dropped
    assert page.part("/order/progress").headers["hx-refresh"] == "true"
    said = told(page)
    assert "that work was dropped" in said
    assert "not worked out yet" in said
    page.fill("/undo")
    assert "not worked out yet" in told(page), "what it found is not kept"
    assert slow.calls == 1


def test_a_new_run_after_a_change_waits_for_the_old_one_to_end(page, monkeypatch) -> None:
    slow = slowly(monkeypatch, winter_jobs.winter_file(page.desk.path))
    page.fill("/order/run")
    assert slow.has_begun.wait(10)
    for price in ("300 /t", "301 /t", "302 /t"):
        changed(page, price)
        page.fill("/order/run")
    slow.go_on.set()
    ended(page, "order")
    assert slow.most_at_once == 1, "one at a time"
    assert "dropped" not in told(page)


def test_what_was_found_is_kept_for_the_text_it_was_found_for(page) -> None:
    page.fill("/order/run")
    first = ended(page, "order")
    before = told(page)
    changed(page)
    assert "not worked out yet" in told(page)
    page.fill("/undo")
    assert now(page, "order") is first
    costs = re.compile(r"The winter costs £[\d.]+")
    assert costs.search(told(page)).group() == costs.search(before).group()


def test_unsaved_changes_are_what_is_worked_out(page) -> None:
    page.fill("/order/run")
    before = ended(page, "order").result.plan.bill.total_gbp
    changed(page, "900 /t")
    page.fill("/order/run")
    done = ended(page, "order").result
    assert done.plan.bill.total_gbp > before
    assert "398" in page.desk.path.read_text("utf-8"), "nothing was written"


def test_json_says_so_when_the_file_changes_meanwhile(page, monkeypatch) -> None:
    slow = slowly(monkeypatch, winter_jobs.winter_file(page.desk.path))
    got = []
    asking = threading.Thread(target=lambda: got.append(page.get("/json/winter")))
    asking.start()
    assert slow.has_begun.wait(10)
    changed(page)
    asking.join(20)
    assert got[0].status_code == 409
    assert "changed while" in words(got[0].text)


# ---------------------------------------------------------------- what goes wrong


def test_a_fault_of_the_work_is_told_and_it_can_be_tried_again(page, monkeypatch) -> None:
    slow = slowly(monkeypatch, NotProved("The books do not balance; nothing is shown."))
    slow.go_on.set()
    page.fill("/order/run")
    ended(page, "order")
    said = told(page)
    assert "The books do not balance; nothing is shown." in said
    assert "Work out the winter again" in said
    monkeypatch.undo()
    page.fill("/order/run")
    ended(page, "order")
    assert "The winter costs £" in told(page)


def test_what_nobody_foresaw_is_told_in_words(page, monkeypatch) -> None:
    slow = slowly(monkeypatch, ZeroDivisionError("secret of the inside"))
    slow.go_on.set()
    page.fill("/order/run")
    ended(page, "order")
    said = told(page)
    assert "This is our fault, not yours: ZeroDivisionError." in said
    assert "secret of the inside" not in said
    assert "Traceback" not in said


def test_no_plan_is_told_with_why(tmp_path) -> None:
    text = SMALL + "limits:\n  least dry matter: 0.3 kg\n  most dry matter: 0.4 kg\n"
    with closing(opened(tmp_path, text=text)) as page:
        assert page.fill("/order/run").status_code == 303
        done = ended(page, "order").result
        assert not done.plan.is_found
        said = told(page)
        for line in done.why_not:
            assert words(line) in said
        assert "Order sheet" not in said
        assert page.get("/json/winter").json() == winter_json.winter_json(done)


def test_a_fault_of_the_file_that_only_the_planner_meets_is_told(tmp_path) -> None:
    text = SMALL + "limits:\n  most dry matter: 0.3 kg\n"
    with closing(opened(tmp_path, text=text)) as page:
        page.fill("/order/run")
        ended(page, "order")
        assert "the least must be under the most" in told(page)
        assert page.get("/json/winter").status_code == 422


BAD = [
    ("what-if-1", "no snow", "not a what-if"),
    ("what-if-2", "lost 9 t of Bottom Hay", ""),
    ("what-if-1", "<script>alert(1)</script> +10 %", ""),
    ("what-if-3", "x" * 500, "too long"),
    ("what-if-1", "barley +1e400 /t", ""),
    ("on", "31 February 2027", ""),
    ("on", "2026", ""),
    ("seconds", "0", "0.1 to 600"),
    ("seconds", "inf", ""),
    ("seconds", "601", "0.1 to 600"),
    ("seconds", "1e9", ""),
    ("seconds", "soon", ""),
]


@pytest.mark.parametrize(("name", "value", "said"), BAD)
def test_a_bad_value_is_told_beside_its_box(page, name, value, said) -> None:
    got = page.fill("/order/run", **{name: value})
    assert got.status_code == 422
    beside = re.search(rf'id="error-{name}"[^>]*>(.*?)</p>', got.text, re.DOTALL).group(1)
    assert words(beside)
    assert said in words(beside)
    assert f'<a href="#{name}">' in got.text
    assert "<script>alert" not in got.text
    assert faults_of_a_page(got.text) == []
    assert 'name="back" value="/order/run"' not in got.text
    assert now(page, "order") is None


@given(
    st.lists(
        st.tuples(
            st.sampled_from([*view.NAMES, "batch", "what-if-99"]),
            st.text(st.characters(exclude_categories=["Cs"]), max_size=40),
        ),
        max_size=6,
    )
)
@settings(max_examples=40, suppress_health_check=list(HealthCheck))
def test_whatever_is_typed_is_taken_or_told(tmp_path_factory, monkeypatch, typed) -> None:
    global _SHARED
    if _SHARED is None:
        _SHARED = opened(tmp_path_factory.mktemp("any"))
    monkeypatch.setattr(winter_jobs, "wintered", lambda *_, **__: None)
    got = _SHARED.fill("/order/run", **dict(typed))
    assert got.status_code in (303, 422), got.text
    asked = _SHARED.get(f"/order?{urlencode(typed)}")
    assert asked.status_code == 200


_SHARED = None


def test_a_form_without_the_token_begins_nothing(page) -> None:
    assert page.post("/order/run", data={"seconds": "10"}).status_code == 403
    assert page.post("/order/stop", data={"token": "guess"}).status_code == 403
    assert now(page, "order") is None


def test_names_of_feeds_and_merchants_are_only_text(tmp_path) -> None:
    nasty = '=HYPERLINK("x")<b onclick="y">'
    text = SMALL.replace("  soya:\n", f"  soya:\n    name: '{nasty}'\n")
    with closing(opened(tmp_path, text=text)) as page:
        page.fill("/order/run")
        ended(page, "order")
        html = page.get("/order").text
        assert "<b onclick" not in html
        assert faults_of_a_page(html) == []
        listed = page.get("/order/order.csv").content.decode("utf-8-sig")
        feeds = {r["feed"] for r in csv.DictReader(io.StringIO(listed))}
        assert f"'{nasty}" in feeds
        assert not any(f.startswith("=") for f in feeds)


def test_quotes_that_cannot_be_read_are_told(tmp_path) -> None:
    with closing(opened(tmp_path, quotes="merchant,feed\nCurlew,barley\n")) as page:
        got = page.get("/order")
        assert got.status_code == 422
        assert "quotes.csv" in words(got.text)
    gone = small(tmp_path / "gone", quotes=QUOTES)
    with closing(browser(gone)) as page:
        assert told(page)
        (tmp_path / "gone" / "quotes.csv").unlink()
        got = page.get("/order")
        assert got.status_code == 422
        assert "quotes.csv" in words(got.text)


def test_a_change_of_the_quotes_on_disk_makes_the_answer_old(tmp_path) -> None:
    with closing(opened(tmp_path, quotes=QUOTES)) as page:
        page.fill("/order/run")
        ended(page, "order")
        assert "The winter costs £" in told(page)
        (tmp_path / "quotes.csv").write_text(QUOTES.replace("205", "215"), "utf-8")
        time.sleep(0.02)
        assert "not worked out yet" in told(page)


# ---------------------------------------------------------------- runs by themselves


def test_runs_are_told_apart_by_question_and_text() -> None:
    kept, slow = runs.Runs(), Slow("found")
    first = kept.begin("order", "a", (), lambda t, s: slow(tell=t, stop=s))
    assert kept.begin("order", "a", (("on", "x"),), lambda t, s: 1) is first
    other = kept.begin("weighing", "a", (), lambda t, s: "weighed")
    assert other.wait(5), "another question does not wait"
    assert kept.look("order", "a") is first
    assert kept.look("order", "a", (("on", "x"),)) is None
    slow.go_on.set()
    assert first.wait(5)
    assert kept.look("order", "a").result == "found"
    assert kept.look("order", "b") is None
    assert not first.is_dropped, "it had ended when another text was looked at"


def test_only_so_many_are_kept() -> None:
    kept = runs.Runs()
    for n in range(runs.MOST_KEPT + 3):
        assert kept.begin("order", n, (), lambda t, s: "found").wait(5)
    assert kept.look("order", 0) is None
    assert kept.look("order", runs.MOST_KEPT + 2).result == "found"


def test_the_end_of_the_page_ends_its_runs() -> None:
    kept, slow = runs.Runs(), Slow("found")
    run = kept.begin("order", "a", (), lambda t, s: slow(tell=t, stop=s))
    assert slow.has_begun.wait(5)
    assert kept.end(5)
    assert not run.is_going
    assert kept.look("order", "a") is None


def test_seconds_stand_still_when_it_has_ended() -> None:
    clock = iter(range(100))
    kept = runs.Runs(clock=lambda: float(next(clock)))
    run = kept.begin("order", "a", (), lambda tell, _: tell("one"))
    assert run.wait(5)
    assert run.seconds == run.seconds > 0
    assert len(run.lines) == 1


def test_no_more_lines_are_shown_than_can_be_read() -> None:
    kept = runs.Runs()

    def work(tell, _stop):
        for n in range(1000):
            tell(f"line {n}")

    run = kept.begin("order", "a", (), work)
    assert run.wait(5)
    assert [w for _, w in run.shown] == [f"line {n}" for n in range(994, 1000)]
    assert len(run.lines) == runs.MOST_LINES


@given(
    st.lists(
        st.sampled_from(["begin a", "begin b", "look a", "look b", "stop", "end"]), max_size=12
    )
)
@settings(max_examples=25)
def test_never_two_at_once_whatever_is_asked(asked) -> None:
    kept, slow = runs.Runs(), Slow("found")
    for what in asked:
        way, _, key = what.partition(" ")
        if way == "begin":
            kept.begin("order", key, (), lambda t, s: slow(tell=t, stop=s))
        elif way == "look":
            run = kept.look("order", key)
            assert run is None or run.key == key
        elif way == "stop":
            kept.stop("order")
        else:
            kept.end(5)
    slow.go_on.set()
    kept.end(10)
    assert slow.most_at_once <= 1
    assert slow.at_once == 0


def test_a_page_that_is_closed_says_whether_its_work_has_ended(page) -> None:
    assert runs.end(page.app), "nothing was begun"
    go_on = threading.Event()
    run = runs_of(page).begin("order", "a", (), lambda tell, stop: go_on.wait(20))
    assert not runs.end(page.app, 0.05), "the planner has not asked yet"
    go_on.set()
    assert runs.end(page.app, 10)
    assert run.is_dropped
