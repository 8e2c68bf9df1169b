"""The README says what the program does: its commands are run and their output compared."""

from __future__ import annotations

import csv
import re
import shlex
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from ration import cli, winter

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
CONSOLE = re.findall(r"```console\n(.*?)```", README, flags=re.DOTALL)
PYTHON = re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL)
SHELL = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)


def commands(block: str) -> list[tuple[str, list[str]]]:
    """Each "$ ration ..." of a block with the lines that follow it."""
    out: list[tuple[str, list[str]]] = []
    for line in block.splitlines():
        if line.startswith("$ "):
            out.append((line[2:], []))
        else:
            out[-1][1].append(line.rstrip())
    return out


EXAMPLES = [pair for block in CONSOLE for pair in commands(block)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """One folder for all examples, in order, as a reader would have it."""
    return tmp_path_factory.mktemp("readme")


@pytest.fixture(scope="module", autouse=True)
def each_winter_is_planned_once():
    """The examples ask for the same winters again and again; a plan is a function of its input."""
    planned, plan = {}, winter.plan

    def once(farm, tables, offers, supplies, **wanted):
        said = {k: v for k, v in wanted.items() if k not in ("tell", "stop")}
        key = repr((replace(farm, path=Path()), farm.winter, offers, supplies, said))
        key = re.sub(r"PosixPath\('[^']*'\)", "", key)
        if key not in planned:
            planned[key] = plan(farm, tables, offers, supplies, **wanted)
        return planned[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(winter, "plan", once)
        yield


@pytest.mark.parametrize(("command", "shown"), EXAMPLES, ids=[c for c, _ in EXAMPLES])
def test_readme_example_prints_what_it_says(command, shown, folder, monkeypatch):
    monkeypatch.chdir(folder)
    name, *args = shlex.split(command)
    assert name == "ration"
    result = CliRunner().invoke(cli.main, args)
    assert result.exit_code == 0, result.stderr
    printed = [line.rstrip() for line in result.stdout.splitlines()]
    at = 0
    for part in ("\n" + "\n".join(shown) + "\n").split("\n...\n"):
        wanted = part.strip("\n").splitlines()
        starts = [
            i for i in range(at, len(printed) - len(wanted) + 1)
            if printed[i : i + len(wanted)] == wanted
        ]  # fmt: skip
        assert starts, "not printed:\n" + "\n".join(wanted)
        at = starts[0] + len(wanted)


def test_readme_has_examples_of_every_command():
    told = {c.split()[1] for c, _ in EXAMPLES}
    assert told == set(cli.main.commands)


@pytest.mark.parametrize("block", PYTHON)
def test_readme_python_runs(block, folder, monkeypatch):
    if not (folder / "quernhope-demo").exists():
        monkeypatch.chdir(folder)
        CliRunner().invoke(cli.main, ["demo"])
    monkeypatch.chdir(folder)
    exec(compile(block, "README.md", "exec"), {})
    assert len([line for line in block.splitlines() if line.strip()]) <= 10


def test_the_check_script_runs_the_readmes_test_command():
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    install_and_run, install_and_test = (block.strip() for block in SHELL[:2])
    assert install_and_test in script
    assert "ration demo" in install_and_run
    assert "pytest" in install_and_test


def test_readme_opens_with_the_job_in_one_paragraph():
    title, job, rest = README.split("\n\n", 2)
    assert title.startswith("# ration")
    for word in ("hill", "hay", "least cost", "winter"):
        assert word in job
    assert rest


def test_the_table_of_checks_counts_the_check_rows():
    told = re.findall(r"^\| `([\w*]+\.csv)` .*\| (\d+) of (\d+) \|$", README, flags=re.MULTILINE)
    assert len(told) == 8
    for pattern, read, total in told:
        rows = [
            row
            for path in (ROOT / "tests" / "published").glob(pattern)
            for row in csv.DictReader(path.read_text(encoding="utf-8").splitlines())
        ]
        printed = [r for r in rows if r["origin"] in ("print", "restated")]
        assert (len(printed), len(rows)) == (int(read), int(total)), pattern


def test_version_is_the_top_entry_of_changes():
    version = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"][
        "version"
    ]
    changes = (ROOT / "CHANGES.md").read_text(encoding="utf-8")
    assert re.search(r"^## (\S+)", changes, flags=re.MULTILINE).group(1) == version
    assert "### Numbers that moved" in changes


def test_every_pin_with_a_cap_has_its_reason():
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    for line in re.findall(r'^\s*".*<.*".*$', text, flags=re.MULTILINE):
        assert "#" in line, line


def test_nothing_in_the_tree_carries_a_machine_path():
    private = re.compile(r"(?<![\w.])/(?:home|root|tmp|Users|opt)/|\.\./\.\./")
    for pattern in ("ration/**/*", "feedtables/*", "notebooks/*", "*.md", "*.toml"):
        for path in ROOT.glob(pattern):
            if path.is_file() and path.suffix in {
                ".py",
                ".csv",
                ".json",
                ".md",
                ".toml",
                ".ipynb",
                ".yaml",
            }:
                found = private.search(path.read_text(encoding="utf-8"))
                assert not found, (path, found)
