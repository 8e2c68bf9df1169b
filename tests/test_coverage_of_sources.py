"""Every public equation names its source and has a check row; every row names a real function.

A new equation in `ration/standards/` without a row in `tests/published/`, or without a `Source`
section whose keys are in `feedtables/sources.csv`, fails here by name.
"""

from __future__ import annotations

import csv
import importlib
import importlib.util
import inspect
import pkgutil
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import ration.standards

ROOT = Path(__file__).parent.parent
PUBLISHED = Path(__file__).parent / "published"
LIKE_A_KEY = re.compile(r"(?<![\w-])[A-Z]{1,6}-[A-Z]?\d+[a-z]?\b")
WORD = re.compile(r"[A-Za-z][\w-]*")
MARK = re.compile(r"Mark: (print|restated|derived|memory|hand|practice|program|regression)\b")
WITHOUT_KEY = ("hand working", "common practice, no source", "memory")


def public_functions() -> list[tuple[str, Callable[..., Any]]]:
    found: list[tuple[str, Callable[..., Any]]] = []
    for info in pkgutil.iter_modules(ration.standards.__path__):
        module = importlib.import_module(f"ration.standards.{info.name}")
        found += [
            (f"{info.name}.{name}", function)
            for name, function in inspect.getmembers(module, inspect.isfunction)
            if function.__module__.startswith(module.__name__) and not name.startswith("_")
        ]
    return found


def rows() -> list[tuple[str, dict[str, str]]]:
    out = []
    for path in sorted(PUBLISHED.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            out += [(path.name, row) for row in csv.DictReader(file)]
    return out


def source_keys() -> set[str]:
    with (ROOT / "feedtables" / "sources.csv").open(encoding="utf-8", newline="") as file:
        lines = csv.reader(file)
        next(lines)
        return {line[0] for line in lines if line}


def source_section(function: Callable[..., Any]) -> str:
    text = inspect.getdoc(function) or ""
    section = re.search(r"^Source\n-+\n(.*?)(?=\n\n[A-Z][\w ]*\n-{3,}|\Z)", text, re.S | re.M)
    return section[1] if section else ""


def test_standards_are_found() -> None:
    names = {name for name, _ in public_functions()}
    assert {"afrc1993.growth_me_mj_per_day", "afrc1991.ca_need_g_per_day"} <= names


@pytest.mark.parametrize(
    ("name", "function"), public_functions(), ids=[name for name, _ in public_functions()]
)
def test_equation_has_a_check_row_and_a_known_source(
    name: str, function: Callable[..., Any]
) -> None:
    checked = {re.sub(r"\[\d+\]$", "", row["function"]) for _, row in rows()}
    assert name in checked, f"{name}: add a row to tests/published/"
    section = source_section(function)
    assert section, f"{name}: its docstring has no Source section"
    known = source_keys()
    assert set(WORD.findall(section)) & known, f"{name}: no key of sources.csv in {section!r}"
    unknown = sorted(set(LIKE_A_KEY.findall(section)) - known)
    assert not unknown, f"{name}: {unknown} not in feedtables/sources.csv"
    assert MARK.search(section), f"{name}: its Source section carries no mark: {section!r}"


def test_every_row_names_a_real_function() -> None:
    missing = []
    for file, row in rows():
        module, _, attribute = re.sub(r"\[\d+\]$", "", row["function"]).partition(".")
        if module == "composed":
            continue  # built in test_published.py, which fails on a name it does not have
        spec = [
            f"{package}.{module}"
            for package in ("ration.standards", "ration")
            if importlib.util.find_spec(f"{package}.{module}")
        ]
        if not spec or not callable(getattr(importlib.import_module(spec[0]), attribute, None)):
            missing.append(f"{file}: {row['case']}: no function {row['function']}")
    assert missing == []


def test_every_row_names_a_known_source() -> None:
    known = source_keys()
    unknown = [
        f"{file}: {row['case']}: source {row['source']!r}"
        for file, row in rows()
        if row["source"] not in WITHOUT_KEY and not set(re.split(r"[,;] *", row["source"])) <= known
    ]
    assert unknown == []
