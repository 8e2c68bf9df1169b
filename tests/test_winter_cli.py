"""The commands of the winter on a small invented farm: contract, books, exit codes, Ctrl-C.

Reference figures of the stack, the weighing and the landed costs are worked by hand beside each
test from the farm's and the merchants' own numbers, all invented.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from ration import cli
from ration.cli import common as cli_common
from ration.errors import InputError
from ration.jobs import quotes as quote_jobs
from ration.jobs import weigh as weigh_jobs
from ration.jobs import winter as winter_jobs
from ration.jobs import winter_cautions

DATA = Path(__file__).parent / "data"
FARM, QUOTES = DATA / "winter" / "farm.yaml", DATA / "winter" / "quotes.csv"
CO_OP = DATA / "quotes" / "orrowmoss-september.csv"
WEIGHED = ("--on", "14 January 2027", "--mean", "37.1kg", "--sd", "3.0kg", "--number", "40")
SECONDS = 12.0


def run(*args: object):
    return CliRunner().invoke(cli.main, [str(a) for a in args])


@pytest.fixture(scope="module")
def done():
    """The winter of the farm, worked once, with one what-if."""
    return winter_jobs.winter_file(FARM, seconds=SECONDS, what_ifs=["long winter 14 days"])


@pytest.fixture
def worked(done, monkeypatch):
    """The commands see the winter that was worked; what they asked for is noted."""
    asked = []

    def hand(path, **said):
        asked.append((path, said))
        return done

    monkeypatch.setattr(winter_jobs, "winter_file", hand)
    return asked


# ---------------------------------------------------------------- the stack


def test_stack_is_one_line_first_and_its_json_agrees():
    told = run("stack", FARM)
    assert told.exit_code == 0, told.stderr
    assert told.stdout.startswith("Hay for the hoggs, once the ewes have their 21.0 t, lasts to ")
    found = json.loads(run("stack", FARM, "--json").stdout)
    assert found["line"].startswith(told.stdout.splitlines()[0].rstrip())
    assert found["put_out_t_fresh"] == pytest.approx(26.09, abs=0.005)  # 184 x 156 x 0.80 / 0.88
    (meadow,) = (x for x in found["lots"] if x["id"] == "long-meadow")
    assert meadow["in_stack"]["t_fresh"] == pytest.approx(11.776)  # 640 x 18.4
    assert meadow["in_stack"]["most_t_fresh"] - 11.776 == pytest.approx(0.77, abs=0.005)


def test_stack_takes_another_allowance():
    less = json.loads(run("stack", FARM, "--hay", "0.68 kg", "--json").stdout)
    assert less["put_out_t_fresh"] == pytest.approx(184 * 156 * 0.68 / 0.88 / 1000)
    refused = run("stack", FARM, "--hay", "0.68")
    assert refused.exit_code == 1
    assert refused.stderr.startswith("--hay: ")
    assert len(refused.stderr.strip().splitlines()) == 1


# ---------------------------------------------------------------- the winter and the order


def test_winter_says_the_order_first_and_the_proof_last(worked):
    told = run("winter", FARM)
    assert told.exit_code == 0, told.stderr
    words = " ".join(told.stdout.split())
    places = [words.index(x) for x in (
        "Quernhope: 184 sheep", "Hay for the hoggs", "ORDER SHEET", "To order: £", "Now or later",
        "strong, 92 head", "middle, 58 head", "small, 34 head", "How long it lasts", "The bill",
        "One more tonne of Bottom Ings", "What if", "Refused, and what would make it usable",
        "Cautions", "This is arithmetic on the figures", "No plan of this winter can cost less",
        "Method: ",
    )]  # fmt: skip
    assert places == sorted(places)
    assert "optimal" not in words
    assert "Quotes as they stand on 28 October 2026" in words  # the first day, never today
    ((path, said),) = worked
    assert path == FARM
    assert said["on"] is None


def test_each_caution_is_said_once_with_its_days(done, worked):
    words = " ".join(run("winter", FARM).stdout.split())
    assert words.count("Bottom Ings (dusty)") == 1
    assert words.count("If you mix feed at home") == 1
    assert words.count("177 of 184 can eat at once") == 1  # 54 m / 0.305 m
    assert words.count("It holds 170 of 184: 14 must come out") == 1  # 128 m2 / 0.75
    (stops,) = ([c for c in done.cautions if c.level == "stop"],)
    assert stops == []  # the cattle feed is refused, not on offer
    ids = [c.id for c in done.cautions]
    assert len(ids) == len(set(ids))
    names = {f.batch.name for f in done.plan.fed}
    assert names == {"strong", "middle", "small"}
    # 92 strong ones stand in two pens of 46, so no pen is over 60
    assert "pen-size" not in ids


def test_a_step_over_fifty_grams_a_day_is_warned_of(done):
    def ids(kg: float) -> set[str]:
        rule = replace(done.plan.farm.winter, most_step_kg=kg)
        plan = replace(done.plan, farm=replace(done.plan.farm, winter=rule))
        return {c.id for c in winter_cautions.for_plan(plan, done.ready.tables)}

    assert "winter-step" not in ids(0.05)
    assert "winter-step" in ids(0.08)


def test_winter_json_balances_to_the_gram_and_the_penny(worked):
    told = json.loads(run("winter", FARM, "--json").stdout)
    for s in told["stocks"]:
        came = s["opening_t_fresh"] + s["bought_t_fresh"]
        went = s["fed_t_fresh"] + s["lost_t_fresh"] + s["closing_t_fresh"]
        assert came == pytest.approx(went, abs=1e-6)
    bill = told["bill"]
    parts = sum(bill[k] for k in ("feed_gbp", "drops_gbp", "home_gbp", "interest_gbp"))
    assert bill["total_gbp"] == pytest.approx(parts - bill["left_over_gbp"])
    assert sum(r["cost_gbp"] for r in told["order"]) == pytest.approx(bill["feed_gbp"], abs=1e-6)
    for r in told["order"]:
        assert sum(d["tonnes_fresh"] for d in r["deliveries"]) == pytest.approx(r["tonnes_fresh"])
    bought = sum(s["bought_t_fresh"] for s in told["stocks"])
    assert sum(r["tonnes_fresh"] for r in told["order"]) == pytest.approx(bought, abs=1e-6)
    assert told["bound_gbp"] <= bill["total_gbp"]
    assert told["gap_share"] == pytest.approx(
        (bill["total_gbp"] - told["bound_gbp"]) / bill["total_gbp"]
    )
    assert {f["batch"] for f in told["fed"]} == {"strong", "middle", "small"}
    assert len(told["fed"]) == 3 * len(told["periods"])
    assert told["quotes_on"] == "2026-10-28"
    assert {"standing", "cautions", "one_more", "now_or_later", "what_ifs"} <= set(told)


def test_the_merchants_conditions_are_kept(worked):
    """Lane of 18 t takes 8 t a load (common practice, no source); the bin holds 4 t."""
    told = json.loads(run("winter", FARM, "--json").stdout)
    for drop in told["drops"]:
        assert drop["tonnes_fresh"] <= 8.0 * drop["loads"] + 1e-6
    binned = {"rolled-barley", "hogg-cubes"}
    for period in told["periods"]:
        at = [s for s in told["stocks"] if s["period"] == told["periods"].index(period)]
        lies = sum(s["opening_t_fresh"] + s["bought_t_fresh"] for s in at if s["feed"] in binned)
        assert lies <= 4.0 + 1e-6
    for row in told["order"]:
        if row["feed"] == "soya":
            assert row["tonnes_fresh"] == row["packs"] * 1.0
    refused = {(r["merchant"], r["feed"]) for r in told["refused"]}
    whimbrel = {("Whimbrel", f) for f in ("cattle nuts", "soya meal", "artic barley")}
    assert refused == whimbrel


def test_a_longer_winter_never_costs_less(done, worked):
    told = json.loads(run("winter", FARM, "--json").stdout)
    (asked,) = told["what_ifs"]
    assert asked["is_found"]
    # the longer winter's proved bound is set against this one's best plan: both are true figures
    assert asked["bill"]["total_gbp"] >= told["bound_gbp"] - 1e-6
    words = " ".join(run("order", FARM).stdout.split())
    assert f"As it is: £{done.plan.bill.total_gbp:,.2f}." in words
    assert "Winter 14 days longer: £" in words


def test_order_is_the_sheet_the_proof_and_what_is_refused(worked):
    told = run("order", FARM)
    assert told.exit_code == 0, told.stderr
    words = " ".join(told.stdout.split())
    for part in ("ORDER SHEET", "To order: £", "No plan of this winter can cost less", "Refused",
                 "This is arithmetic"):  # fmt: skip
        assert part in words
    assert "put out for each" not in words
    found = json.loads(run("order", FARM, "--json").stdout)
    assert "fed" not in found
    assert [r["name"] for r in found["order"]]


def test_options_reach_the_job(worked):
    result = run("order", FARM, "--quotes", QUOTES, "--on", "14 September 2026", "--seconds", "3",
                 "--what-if", "long winter")  # fmt: skip
    assert result.exit_code == 0, result.stderr
    ((_, said),) = worked
    assert said["quotes"] == (QUOTES,)
    assert said["on"] == date(2026, 9, 14)
    assert said["seconds"] == 3.0
    assert said["what_ifs"] == ("long winter",)


def test_quotes_are_held_to_the_day_of_the_order():
    early = winter_jobs.read_winter(FARM, on=date(2026, 9, 14))
    late = winter_jobs.read_winter(FARM)
    assert late.on == late.farm.start
    assert {s.quote.feed for s in late.refused} - {s.quote.feed for s in early.refused} == {
        "soya meal"
    }


# ---------------------------------------------------------------- cards


def test_cards_of_a_day_and_of_one_batch(worked):
    told = run("card", FARM, "--on", "14 January 2027", "--batch", "strong")
    assert told.exit_code == 0, told.stderr
    assert "Strong, pen 1: 46 hoggs, 23 December to 19 January" in told.stdout
    assert "Strong, pen 2: 46 hoggs" in told.stdout
    assert "Middle" not in told.stdout.split("Trough:")[0]
    assert "MORNING" in told.stdout
    assert "This is arithmetic" in told.stdout
    cards = json.loads(run("card", FARM, "--json").stdout)["cards"]
    assert [(c["batch"], c["pen"]) for c in cards] == [
        ("strong", 1), ("strong", 2), ("middle", 1), ("small", 1),
    ]  # fmt: skip
    assert {c["from"] for c in cards} == {"2026-10-28"}


@pytest.mark.parametrize(
    ("args", "fault"),
    [
        (("card", FARM, "--batch", "big"), '--batch: "big" is not a batch'),
        (("card", FARM, "--on", "1 June 2027"), "--on: 1 June 2027 is not in the winter"),
        (("card", FARM, "--on", "soon"), "--on: "),
        (("winter", FARM, "--what-if", "no snow"), '--what-if: read "no snow"'),
        (("winter", FARM, "--what-if", "lost 9 t of Bottom Hay"), "--what-if: "),
        (("order", FARM, "--quotes", "nowhere.csv"), "nowhere.csv: there is no such file"),
        (("winter", "nowhere.yaml"), "nowhere.yaml: there is no such file"),
        (("weigh", FARM, *WEIGHED, "--batch", "big"), '--batch: "big" is not a batch'),
        (("weigh", FARM, *WEIGHED, "--later", "1 March 2027"), "--later: 1 March 2027 is not"),
        (("weigh", FARM, *WEIGHED, "--hours-off", "long"), "--hours-off: "),
        (("weigh", FARM, "--on", "14 January 2026", *WEIGHED[2:]), "weighing of 14 January 2026"),
        (("weigh", FARM, "--on", "14 January 2027", "--weights", "nowhere.txt"), "nowhere.txt: "),
        (("quotes", CO_OP, "--tonnes", "0 t"), "--tonnes: "),
        (("quotes", CO_OP, "--drops", "0"), "--drops: 0"),
    ],
)
def test_every_fault_is_one_line_and_exit_1(args, fault):
    result = run(*args)
    assert result.exit_code == 1, result.stdout
    assert len(result.stderr.strip().splitlines()) == 1
    assert fault in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize(
    "args",
    [
        ("weigh", FARM, "--on", "14 January 2027", "--mean", "37.1kg"),
        ("weigh", FARM, *WEIGHED, "--weights", "x.txt"),
        ("quotes", FARM, QUOTES, "--tonnes", "3"),
        ("winter", FARM, "--seconds", "0"),
    ],
)
def test_what_is_typed_wrongly_is_exit_2(args):
    assert run(*args).exit_code == 2


# ---------------------------------------------------------------- no plan


def test_impossible_needs_are_exit_3_with_what_would_do(tmp_path):
    text = FARM.read_text(encoding="utf-8")
    limits = "limits:\n  least dry matter: 0.4 kg\n  most dry matter: 0.58 kg\n"
    (tmp_path / "farm.yaml").write_text(text + limits, encoding="utf-8")
    (tmp_path / "quotes.csv").write_bytes(QUOTES.read_bytes())
    for command in ("winter", "order", "card"):
        result = run(command, tmp_path / "farm.yaml")
        assert result.exit_code == 3, result.stderr
        words = " ".join(result.stdout.split())
        assert "No plan: strong has no ration from 28 October 2026" in words
        assert "Any one of these would do" in words
        assert "ORDER SHEET" not in words
    found = json.loads(run("order", tmp_path / "farm.yaml", "--json").stdout)
    assert not found["is_found"]
    assert found["bill"] is None
    assert any("Any one of these would do" in w for w in found["words"])


def test_too_little_feed_is_exit_3_and_says_what_is_short(tmp_path):
    text = FARM.read_text(encoding="utf-8")
    quotes = "merchant,feed,price (GBP/t),all there is (t),VAT,delivered or collected,pack\n"
    for name in ("rolled barley", "hogg cubes", "soya", "big square hay", "barley straw"):
        quotes += f"Curlew Feeds,{name},200,1,ex,delivered,bulk\n"
    (tmp_path / "farm.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "quotes.csv").write_text(quotes, encoding="utf-8")
    result = run("order", tmp_path / "farm.yaml", "--seconds", "5")
    assert result.exit_code == 3, result.stderr
    assert "there is not enough to be had: short of" in " ".join(result.stdout.split())


# ---------------------------------------------------------------- weighing


@pytest.fixture(scope="module")
def weighed():
    told = run("weigh", FARM, *WEIGHED, "--hours-off", "8 h", "--seconds", SECONDS, "--json")
    assert told.exit_code == 0, told.stderr
    return json.loads(told.stdout)


def test_weighing_against_the_line(weighed):
    """Line (92 x 37.2 + 58 x 34.6 + 34 x 32.4) / 184 = 35.49 kg, 78 of 156 days to 42.0: 38.75.

    Behind 38.75 - 37.1 = 1.65, +/- 1.96 x 3.0 / sqrt(40) = 0.93; (42.0 - 37.1) / 78 = 62.8 g.
    """
    assert weighed["line_kg"] == pytest.approx(38.75, abs=0.005)
    assert weighed["behind_kg"] == pytest.approx(1.65, abs=0.005)
    assert weighed["half_width_kg"] == pytest.approx(0.93, abs=0.005)
    assert weighed["needed_g_per_day"] == pytest.approx(62.8, abs=0.05)
    assert weighed["needed_later_g_per_day"] == pytest.approx(47.6, abs=0.05)
    assert weighed["verdict"] == "cannot tell"  # 8 h off feed may be 1.7 to 2.4 kg of gut fill


def test_catching_up_costs_more_and_treats_what_is_bought_as_paid(weighed):
    catch, line = weighed["by_turnout"], weighed["on_the_line"]
    assert catch["plan"]["is_found"] and line["is_found"]
    total = catch["plan"]["bill"]["total_gbp"]
    assert total >= line["bound_gbp"] - 1e-6
    assert catch["more_gbp"] == pytest.approx(total - line["bill"]["total_gbp"])
    # the rest of the winter alone, with its feed in store paid for, is less than the whole
    assert line["bill"]["total_gbp"] < weighed["base"]["bill"]["total_gbp"]
    # strong: (42.0 - (39.60 - 1.65)) / 78 days = 51.9 g
    assert catch["gain_g_per_day"]["strong"] == pytest.approx(51.9, abs=0.1)
    assert all(r["deliveries"][0]["date"] >= "2027-01-14" for r in catch["plan"]["order"])


def test_new_cards_begin_on_the_day_and_name_each_feed_once(weighed):
    assert {c["from"] for c in weighed["cards"]} == {"2027-01-14"}
    for card in weighed["cards"]:
        names = [f["name"] for f in card["feeds"]]
        assert len(names) == len(set(names))
        assert not any("already bought" in n for n in names)


def test_weights_are_read_one_a_line(tmp_path):
    path = tmp_path / "weights.txt"
    path.write_text("# small pen\n36.5\n37.0 kg\n5 st 12 lb\n\n38.1 # the lame one\n", "utf-8")
    assert weigh_jobs.weights_of(path) == pytest.approx([36.5, 37.0, 82 * 0.45359237, 38.1])
    path.write_text("36.5\nheavy\n37,1\n", encoding="utf-8")
    with pytest.raises(InputError) as fault:
        weigh_jobs.weights_of(path)
    assert len(fault.value.problems) == 2
    assert "weights.txt line 2" in str(fault.value)


# ---------------------------------------------------------------- quotes


def test_landed_costs_without_a_farm():
    """34 t in 5 drops of 95: 280 + 475 / 34 = 293.97 a tonne, 9,995.00 in all."""
    told = json.loads(run("quotes", CO_OP, "--tonnes", "34 t", "--drops", 5, "--json").stdout)
    by = {(q["merchant"], q["pack"]): q for q in told["quotes"]}
    heron = by["Heron", "bulk"]
    assert heron["landed_gbp_per_t_fresh"] == pytest.approx(293.97, abs=0.005)
    assert heron["cost_gbp"] == pytest.approx(9995.00)
    assert "least drop 10 t, 5 drops are 50 t" in by["Plover", "bulk"]["refused"]
    assert "copper" in by["Dipper", "bag"]["refused"]
    assert by["Heron", "bag"]["landed_gbp_per_t_fresh"] == 338.0
    assert told["quotes_on"] == "2026-09-01"  # the day of the sheet, never today
    words = " ".join(run("quotes", CO_OP, "--tonnes", 34, "--drops", 5).stdout.split())
    assert words.startswith("34 t in 5 drops, as the quotes stand on 1 September 2026, ex VAT")
    assert "£9,995.00" in words
    assert "fewer drops or a part load" in words


def test_quotes_ranked_for_a_farm(monkeypatch):
    ranked = quote_jobs.compare_file(FARM, quotes=(QUOTES,))
    monkeypatch.setattr(quote_jobs, "compare_file", lambda *_, **__: ranked)
    told = run("quotes", FARM, QUOTES)
    assert told.exit_code == 0, told.stderr
    assert told.stdout.startswith("Quotes as they stand on 28 October 2026, ex VAT")
    assert "Dunnock is cheapest for these sheep with soya" in " ".join(told.stdout.split())
    found = json.loads(run("quotes", FARM, QUOTES, "--json").stdout)
    assert found["quotes_on"] == "2026-10-28"
    refused = [r for r in found["ranking"] if r["refused"]]
    assert len(refused) == 3


# ---------------------------------------------------------------- Ctrl-C and progress


def test_first_press_asks_to_stop_and_the_second_is_the_systems():
    before = signal.getsignal(signal.SIGINT)
    with cli_common.watched(False) as (_, stop):
        assert not stop()
        os.kill(os.getpid(), signal.SIGINT)
        assert stop()
        assert signal.getsignal(signal.SIGINT) is signal.SIG_DFL
    assert signal.getsignal(signal.SIGINT) is before


def test_progress_is_told_only_when_asked_or_seen(worked, capsys):
    with cli_common.watched(True) as (tell, _):
        tell("working")
    assert capsys.readouterr().err == "working\n"
    with cli_common.watched(False) as (tell, _):
        tell("working")
    assert capsys.readouterr().err == ""


def many_quotes(folder: Path) -> Path:
    """The same farm with six merchants, so that a plan takes a while."""
    feeds = (("barley", "barley", 205), ("oats", "oats", 190), ("wheat", "wheat", 212),
             ("soya", "soya-hipro", 395), ("beans", "beans", 262), ("wheatfeed", "wheatfeed", 236),
             ("cubes", "cubes-18", 296), ("rape meal", "rapeseed-meal", 305))  # fmt: skip
    rows = ["merchant,feed,price (GBP/t),pack,least drop (t),drop charge (GBP),lorry,"
            "delivered or collected,VAT,like"]  # fmt: skip
    for m, name in enumerate(("Knot", "Ruff", "Dunlin", "Godwit", "Turnstone", "Sanderling")):
        for k, (feed, like, gbp) in enumerate(feeds):
            p = gbp + (m * 7 + k * 11) % 13 - 6
            price = f"{p}; {p - 6} from 4 t; {p - 11} from 9 t"
            rows.append(
                f"{name},{name} {feed},{price},bulk,3,{25 + 14 * m},18 t,delivered,ex,{like}"
            )
        rows.append(f"{name},{name} hay,{146 + 3 * m},bulk,5,40,18 t,delivered,ex,hay-good")
    (folder / "quotes.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    text = FARM.read_text(encoding="utf-8").replace("periods: 28 days", "periods: 14 days")
    (folder / "farm.yaml").write_text(text, encoding="utf-8")
    return folder / "farm.yaml"


def started(farm: Path, line: str) -> subprocess.Popen[str]:
    """A process at work, once it has told this line of progress."""
    work = subprocess.Popen(
        [sys.executable, "-m", "ration", "order", str(farm), "--progress", "--seconds", "100"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert work.stderr is not None
    for told in work.stderr:
        if told.startswith(line):
            return work
    raise AssertionError("it ended too early")


def test_ctrl_c_gives_the_best_plan_found_with_its_gap(tmp_path):
    work = started(many_quotes(tmp_path), "plan of £")
    work.send_signal(signal.SIGINT)
    since = time.monotonic()
    told, faults = work.communicate(timeout=60)
    assert work.returncode == 0, faults
    assert time.monotonic() - since < 50
    assert "Press Ctrl-C again" in faults
    assert "Traceback" not in faults
    words = " ".join(told.split())
    assert "ORDER SHEET" in words
    assert "Stopped early: this is the best plan found, £" in words
    assert "gap " in words
    assert "optimal" not in words


def test_second_press_ends_it_at_once(tmp_path):
    work = started(many_quotes(tmp_path), "looking")
    work.send_signal(signal.SIGINT)
    assert work.stderr is not None
    for told in work.stderr:
        if "Press Ctrl-C again" in told:
            break
    work.send_signal(signal.SIGINT)
    told, _ = work.communicate(timeout=20)
    assert work.returncode == -signal.SIGINT
    assert told == ""
