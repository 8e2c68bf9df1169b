"""Laboratory sheets in YAML: names with values, read by the same strict rules as a farm file."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import yaml

from ration import strict_yaml
from ration.analysis.records import FIGURE, LONGEST_CELL, Entry, RawSheet, header_field, put_header
from ration.analysis.terms import heading, tidy
from ration.errors import FileError, InputError, Problem

_LOADER = getattr(yaml, "CBaseLoader", yaml.BaseLoader)  # as `strict_yaml` chooses
_LISTS = ("samples", "sheets", "sheet")
_GROUPS = ("figures", "readings", "results", "analysis", "values")


def raw_sheets(text: str, name: str) -> list[RawSheet]:
    """Every sample of a YAML text, before its figures are read."""
    try:
        strict = strict_yaml.parse(text, name)
    except FileError as error:
        raise FileError(*(_of_a_sheet(p) for p in error.problems)) from None
    if strict.problems:
        raise InputError(*(_of_a_sheet(p) for p in strict.problems))
    try:
        root = yaml.compose(text, Loader=_LOADER)  # nodes only: nothing is built
    except yaml.YAMLError:
        raise FileError(Problem(name, "this cannot be read as YAML")) from None
    raws: list[RawSheet] = []
    top = RawSheet(name)
    if isinstance(root, yaml.MappingNode):
        for key, value in root.value:
            if tidy(key.value) in _LISTS and isinstance(value, yaml.SequenceNode):
                raws += [_yaml_sheet(item, name) for item in value.value]
            else:
                _yaml_pair(key, value, top)
    elif isinstance(root, yaml.SequenceNode):
        raws += [_yaml_sheet(item, name) for item in root.value]
    else:
        raise InputError(
            Problem(name, "no names with values were found", 'write them as "protein: 6.9 % DM"')
        )
    if not raws or top.entries:
        return [top, *raws]
    for raw in raws:
        for field, value in top.header.items():
            raw.header.setdefault(field, value)
    raws[0].kept = top.kept + raws[0].kept
    return raws


def _of_a_sheet(problem: Problem) -> Problem:
    words = problem.allowed.replace("one farm a file", "one sheet a file")
    return replace(problem, allowed=words.replace("farm file", "sheet"),
                   read=problem.read.replace("farm file", "sheet"))  # fmt: skip


def _yaml_sheet(node: Any, name: str) -> RawSheet:
    raw = RawSheet(name)
    line = node.start_mark.line + 1
    if not isinstance(node, yaml.MappingNode):
        raise InputError(
            Problem(f"{name} line {line}", "a sample is a group of names with values",
                    'write them as "protein: 6.9 % DM"')
        )  # fmt: skip
    for key, value in node.value:
        _yaml_pair(key, value, raw)
    return raw


def _yaml_pair(key: Any, value: Any, raw: RawSheet) -> None:
    label, line = " ".join(key.value.split()), key.start_mark.line + 1
    if isinstance(value, yaml.MappingNode) and tidy(label) in _GROUPS:
        for inner_key, inner in value.value:
            _yaml_pair(inner_key, inner, raw)
        return
    found, name = heading(label), header_field(label)
    if isinstance(value, yaml.ScalarNode):
        text = " ".join(value.value.split())
        if len(text) > LONGEST_CELL or len(label) > LONGEST_CELL:
            raise FileError(Problem(f"{raw.place} line {line}", "a value is too long"))
        as_written = f"{label}: {text}"
        if found.nutrient and not (name and not FIGURE.match(text)):
            raw.entries.append(Entry(found, text, as_written, line))
        elif name:
            put_header(raw, name, text, f"line {line}: {as_written}")
        else:
            raw.kept.append(f"line {line}: {as_written}")
        return
    parts = _flat(value)
    as_written = f"{label}: " + ", ".join(f"{k} {v}".strip() for k, v in parts)
    given = {tidy(k): v for k, v in parts}
    if found.nutrient and "value" in given and set(given) <= {"value", "unit", "basis", "method"}:
        raw.entries.append(
            Entry(found, given["value"], as_written, line, given.get("unit", ""),
                  given.get("basis", ""))
        )  # fmt: skip
    else:
        raw.kept.append(f"line {line}: {as_written}")


def _flat(node: Any, key: str = "") -> list[tuple[str, str]]:
    """Every scalar below a node, with the name it stands under."""
    if isinstance(node, yaml.ScalarNode):
        return [(key, " ".join(node.value.split()))]
    pairs = []
    for item in node.value:
        if isinstance(node, yaml.MappingNode):
            pairs += _flat(item[1], f"{key} {item[0].value}".strip())
        else:
            pairs += _flat(item, key)
    return pairs
