"""The command: contract of the JSON, exit codes, silence on standard output, quick start."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from ration import cli, demo
from ration.errors import BalanceError

FARM = Path(demo.__file__).parent / "quernhope.yaml"
SHEET = FARM.parent / "bottom-ings-2026-11-16.csv"


def run(*args: str):
    return CliRunner().invoke(cli.main, list(args))


def as_json(*args: str):
    result = run(*args, "--json")
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def test_needs_json_keeps_its_contract():
    told = as_json(
        "needs",
        "--class",
        "ewe-lamb",
        "--weight",
        "30kg",
        "--gain",
        "20g",
        "--housing",
        "shed",
        "--md",
        "9.2",
        "--margin",
        "1.0",
    )
    keys = {
        "standard",
        "q",
        "me_mj_per_day",
        "protein_g_per_day",
        "ca_g_per_day",
        "p_g_per_day",
        "dmi_kg_per_day_min",
        "dmi_kg_per_day_max",
        "margin",
    }
    assert keys <= set(told)
    # derived by hand from the same equations: 5.43 MJ and 44.3 g without margin
    assert told["me_mj_per_day"] == pytest.approx(5.43, abs=0.005)
    assert told["protein_g_per_day"] == pytest.approx(44.3, abs=0.05)


def test_needs_takes_every_option_of_the_contract():
    told = as_json(
        "needs",
        "--weight",
        "66 lb",
        "--gain",
        "0.1 lb/day",
        "--sex",
        "castrate",
        "--age",
        "over",
        "--mature-weight",
        "60 kg",
        "--dmi",
        "0.9",
        "--maintenance",
        "1.4",
        "--md",
        "9.2",
    )
    assert told["dmi_kg_per_day"] == 0.9
    assert told["maintenance"] == 1.4


def test_needs_default_margin_is_five_per_cent_and_shown():
    bare = as_json("needs", "--weight", "30kg", "--gain", "20g", "--margin", "1")
    safe = as_json("needs", "--weight", "30kg", "--gain", "20g")
    assert safe["margin"] == 1.05
    assert safe["me_mj_per_day"] == pytest.approx(1.05 * bare["me_mj_per_day"], rel=1e-12)


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--weight", "30kg", "--gain", "-20g"), "loss|0 and up|negative|at least 0"),
        (("--weight", "45kg", "--gain", "250g", "--md", "6"), "no amount of this diet"),
        (("--weight", "80kg"), "15 to 55 kg"),
        (("--weight", "30"), "unit"),
        (("--weight", "30kg", "--class", "cow"), "ewe-lamb"),
        (("--weight", "30kg", "--margin", "9"), "0.8 to 1.5"),
        (("--weight", "30kg", "--standard", "mine"), "AFRC 1993"),
    ],
)
def test_needs_refuses_in_one_line_and_exit_1(args, words):
    result = run("needs", *args)
    assert result.exit_code == 1
    assert result.stdout == ""
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1
    assert any(w in lines[0] for w in words.split("|")), lines[0]


def test_wrong_use_is_exit_2():
    assert run("mix").exit_code == 2
    assert run("needs", "--wieght", "30kg").exit_code == 2


def test_mix_json_keeps_its_contract():
    told = as_json("mix", str(FARM), "--batch", "small")
    (batch,) = told["batches"]
    assert {
        "name",
        "head",
        "status",
        "cost_gbp_per_head_day",
        "proved_gap",
        "q",
        "feeding_level",
        "feeds",
        "nutrients",
        "gain_g_per_day",
        "limited_by",
        "cautions",
    } <= set(batch)
    for feed in batch["feeds"]:
        assert {
            "id",
            "kg_dm_per_head_day",
            "kg_fresh_per_head_day",
            "kg_fresh_offered_per_head_day",
            "cost_gbp_per_head_day",
            "worth_gbp_per_t",
            "price_gbp_per_t",
        } <= set(feed)
    for line in batch["nutrients"]:
        assert {
            "name",
            "unit",
            "supply",
            "need",
            "limit",
            "binding",
            "cost_of_one_more_gbp",
        } <= set(line)
    assert batch["proved_gap"] <= 0.001
    assert sum(f["cost_gbp_per_head_day"] for f in batch["feeds"]) == pytest.approx(
        batch["cost_gbp_per_head_day"], rel=1e-6
    )


def test_mix_with_an_analysis_shows_before_and_after():
    told = as_json("mix", str(FARM), "--analysis", f"bottom-ings={SHEET}", "--batch", "strong")
    assert "Bottom Ings" in told["changed_feeds"][0]
    (change,) = told["changes"]
    assert change["cost_after_gbp_per_head_day"] > change["cost_before_gbp_per_head_day"]
    assert any("Fed on as before" in w for w in change["words"])


def test_assess_json_keeps_its_contract():
    told = as_json("assess", str(FARM))
    for batch in told["batches"]:
        assert {
            "gain_energy_g_per_day",
            "gain_protein_g_per_day",
            "gain_g_per_day",
            "limited_by",
            "balances",
        } <= set(batch)


def test_impossible_needs_are_exit_3_and_told(tmp_path):
    shutil.copy(FARM.parent / "quernhope-quotes.csv", tmp_path)
    text = FARM.read_text(encoding="utf-8").replace(
        "batches:", "limits:\n  least dry matter: 0.4 kg\n  most dry matter: 0.58 kg\n\nbatches:"
    )
    farm = tmp_path / "farm.yaml"
    farm.write_text(text, encoding="utf-8")
    result = run("mix", str(farm))
    assert result.exit_code == 3, result.stderr
    assert "No mix" in result.stdout
    assert "Any one of these would do" in result.stdout or "No single change" in result.stdout


def test_missing_file_is_one_line_and_exit_1(tmp_path):
    result = run("mix", str(tmp_path / "nowhere.yaml"))
    assert result.exit_code == 1
    assert len(result.stderr.strip().splitlines()) == 1


def test_our_fault_is_exit_4_without_a_traceback(monkeypatch):
    from ration import mix

    def broken(*_args, **_kwargs):
        raise BalanceError("the books of this ration do not balance")

    monkeypatch.setattr(mix, "mix", broken)
    result = run("mix", str(FARM))
    assert result.exit_code == 4
    assert "Traceback" not in result.stderr

    def crash(*_args, **_kwargs):
        raise ZeroDivisionError("oops")

    monkeypatch.setattr(mix, "mix", crash)
    result = run("mix", str(FARM))
    assert result.exit_code == 4
    assert "our fault" in result.stderr
    assert "Traceback" not in result.stderr


def test_demo_never_writes_over_work(tmp_path):
    # that it runs from the stack in August to a late spring: `test_docs`, the README's example
    folder = tmp_path / "demo"
    assert len(demo.write(folder)) == 3
    mine = folder / "quernhope.yaml"
    mine.write_text("name: mine\n", encoding="utf-8")
    again = run("demo", str(folder))
    assert again.exit_code == 1
    assert mine.read_text(encoding="utf-8") == "name: mine\n"


def test_same_input_gives_the_same_bytes():
    first, second = run("mix", str(FARM), "--json"), run("mix", str(FARM), "--json")
    assert first.stdout_bytes == second.stdout_bytes


def test_feeds_commands(tmp_path):
    assert "hay-average" in run("feeds").stdout
    assert any(f["id"] == "hay-average" for f in as_json("feeds", "list", "--group", "hay"))
    assert as_json("feeds", "show", "barley")["figures"]["cp_g_per_kg_dm"]["mark"] == "print"
    wrong = run("feeds", "show", "barly")
    assert wrong.exit_code == 1
    assert "barley" in wrong.stderr
    folder = tmp_path / "mine"
    assert len(as_json("feeds", "copy", str(folder))["written"]) >= 5
    assert run("feeds", "copy", str(folder)).exit_code == 1


def test_help_is_quick_to_start():
    code = (
        "import sys\nimport ration.cli\nfrom click.testing import CliRunner\n"
        "r = CliRunner().invoke(ration.cli.main, ['--help'])\nassert r.exit_code == 0\n"
        "heavy = {'pandas', 'numpy', 'pulp', 'highspy', 'pydantic', 'rich', 'yaml'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_json_is_alone_on_standard_output_of_a_real_process():
    done = subprocess.run(
        [sys.executable, "-m", "ration", "mix", str(FARM), "--json"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert json.loads(done.stdout)["farm"] == "Quernhope"
    assert done.stderr == ""


def test_every_command_has_help_with_words():
    def walk(command, path):
        yield path
        for name, sub in getattr(command, "commands", {}).items():
            yield from walk(sub, [*path, name])

    for path in walk(cli.main, []):
        result = run(*path, "--help")
        assert result.exit_code == 0
        assert "Usage:" in result.stdout


def test_one_batch_is_worked_as_it_is_among_all():
    everyone = {b["name"]: b for b in as_json("mix", str(FARM))["batches"]}
    (alone,) = as_json("mix", str(FARM), "--batch", "middle")["batches"]
    assert alone == everyone["middle"]


def test_the_farms_own_tables_lie_over_those_of_the_command(tmp_path):
    head = "feed_id,cp_g_per_kg_dm\nstraw-barley,"
    (tmp_path / "mine.csv").write_text(head + "51\n", encoding="utf-8")
    (tmp_path / "given.csv").write_text(head + "47\n", encoding="utf-8")
    farm = tmp_path / "farm.yaml"
    shutil.copy(FARM.parent / "quernhope-quotes.csv", tmp_path)
    text = FARM.read_text(encoding="utf-8")
    farm.write_text(text + "\ntables: mine.csv\n", encoding="utf-8")
    from ration import jobs

    read, book = jobs.read_farm(farm, overlays=[tmp_path / "given.csv"])
    straw = next(o.feed for o in read.offers if o.id == "barley-straw")
    assert straw["cp_g_per_kg_dm"] == 51
    assert book.feeds["straw-barley"]["cp_g_per_kg_dm"] == 51
