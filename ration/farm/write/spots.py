"""Where things stand in a farm file's text: names, values, lines and remarks."""

from __future__ import annotations

import json
import re
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from ration import strict_yaml
from ration.errors import FileError, InputError, Problem, UnknownName
from ration.farm.words import id_of
from ration.plain_text import joined, shown
from ration.strict_yaml import Key, Keys, Span, nearest, tidy

NAME = "the farm file"
BOM = "\ufeff"
BREAKS = "\n\r\x85\u2028\u2029"  # what ends a line for a YAML reader
_REMARK = re.compile(f"#[^{BREAKS}]*")
_BREAK = re.compile(f"\r\n|[{BREAKS}]")
_HEADER = re.compile(f"[|>][-+0-9]*[ \t]+(?=#)(#[^{BREAKS}]*)")


class Leaf:
    """One reading of a farm file's text, with the place of everything in it.

    Parameters
    ----------
    text : str
        The whole text; a byte-order mark is kept apart and put back by `put`.

    Raises
    ------
    InputError
        The text is not a sound farm file; a broken one is mended by hand first.
    """

    def __init__(self, text: str) -> None:
        self.mark = BOM if text.startswith(BOM) else ""
        self.text = text.removeprefix(BOM)
        self.sheet = strict_yaml.parse(self.text, NAME)
        if self.sheet.problems:
            raise InputError(*self.sheet.problems)
        if not isinstance(self.sheet.data, dict):
            raise FileError(Problem(NAME, "this is not a farm file", "it has names and values"))
        if len(text.encode()) > strict_yaml.LARGEST_BYTES:
            raise FileError(Problem(NAME, "the file is too large", "at most 200 kB"))
        self.remarks = _remarks(self.text, self.sheet)

    # ------------------------------------------------------------ names

    def find(self, keys: Sequence[Key]) -> Keys:
        """The path as the reader has it; names may be tidied, as written, or ids."""
        found: Keys = ()
        for key in keys:
            here = self.value(found)
            if isinstance(here, list) and isinstance(key, int) and 0 <= key < len(here):
                found = (*found, key)
                continue
            name = self.name_in(found, key) if isinstance(here, dict) else None
            if name is None:
                known = [self.written((*found, n)) for n in here] if isinstance(here, dict) else []
                where = self.sheet.where(found) if found else NAME
                hint = nearest(str(key), known) or (
                    f"There: {joined(known[:12])}" if known and len(known) <= 12 else ""
                )
                raise UnknownName(Problem(where, f"there is no {shown(key)} here", "", hint))
            found = (*found, name)
        return found

    def has(self, keys: Sequence[Key]) -> bool:
        """Whether a path is in the file."""
        try:
            self.find(keys)
        except UnknownName:
            return False
        return True

    def name_in(self, group: Keys, key: Key) -> str | None:
        """The tidied name in a group that a name or an id means; None when there is none."""
        here = self.value(group)
        if not isinstance(here, dict):
            return None
        if tidy(key) in here:
            return tidy(key)
        same = [name for name in here if id_of(name) == id_of(key)]
        return same[0] if len(same) == 1 and id_of(key) else None

    def value(self, keys: Keys) -> Any:
        """What the reader has at a path that is there."""
        at: Any = self.sheet.data
        for key in keys:
            at = at[key]
        return at

    def span(self, keys: Keys) -> Span:
        """Where the value at a path stands; a block of text ends with its last line."""
        span, last = self.sheet.spans[keys], keys
        while self.sheet.spans[last].kind == "block":
            last = (*last, self.children(last)[-1])
        leaf = self.sheet.spans[last]
        if leaf.kind != "text":
            return span
        return replace(span, end=leaf.start + _text_end(self.text[leaf.start : leaf.end]))

    def children(self, keys: Keys) -> list[Key]:
        """Names or numbers of what a group or list holds, in the order of the file."""
        here = self.value(keys)
        if isinstance(here, dict):
            return list(here)
        return list(range(len(here))) if isinstance(here, list) else []

    def written(self, keys: Keys) -> str:
        """A name as it is written in the file."""
        last = keys[-1]
        if isinstance(last, int):
            return f"item {last + 1}"
        return self.sheet.written.get(keys, last)

    def words(self, keys: Keys) -> str:
        """A path in words: "Bottom Ings protein", "waste hay"."""
        start = 1 if len(keys) > 1 and keys[0] in ("feeds", "batches") else 0
        names = [self.written(keys[: i + 1]) for i in range(start, len(keys))]
        return " ".join(strict_yaml.shown_name(n.replace("_", " ")) for n in names)

    def start(self, keys: Keys) -> int:
        """First character of an entry: of its name, or of a list item."""
        names = self.sheet.name_spans
        return names[keys][0] if keys in names else self.sheet.spans[keys].start

    # ------------------------------------------------------------ lines and remarks

    def line_start(self, at: int) -> int:
        """First character of the line on which a character stands."""
        return line_start(self.text, at)

    def line_end(self, at: int) -> int:
        """End of the line on which a character stands, its break left out."""
        return line_end(self.text, at)

    def next_line(self, at: int) -> int:
        """First character of the line after."""
        end = self.line_end(at)
        found = _BREAK.match(self.text, end)
        return found.end() if found else end

    def line_of(self, at: int) -> int:
        """Number of the line on which a character stands. [from 1]"""
        return len(_BREAK.findall(self.text, 0, self.line_start(at))) + 1

    def line_break(self, at: int) -> str:
        """How the line of a character ends; the last line like the first one."""
        found = _BREAK.search(self.text, at) or _BREAK.search(self.text)
        return found.group() if found else "\n"

    def remark_after(self, at: int) -> tuple[int, int] | None:
        """Where the remark at the end of a character's line stands."""
        i = bisect_left(self.remarks, (at, 0))
        if i < len(self.remarks) and self.remarks[i][0] <= self.line_end(at):
            return self.remarks[i]
        return None

    def remarks_in(self, start: int, end: int) -> list[str]:
        """The remarks that begin in a stretch of text."""
        return [self.text[a:b].rstrip() for a, b in self.remarks if start <= a < end]

    def sign(self, mark: str, start: int, end: int) -> int:
        """Where a sign stands outside remarks; -1 when it does not."""
        at = self.text.find(mark, start, end)
        while at >= 0 and (inside := [b for a, b in self.remarks if a <= at < b]):
            at = self.text.find(mark, inside[0], end)
        return at

    def line(self, keys: Keys) -> str:
        """The whole line of an entry, or its lines."""
        start, end = self.start(keys), self.span(keys).end
        return self.text[self.line_start(start) : self.line_end(max(start, end))]

    def said(self, keys: Keys) -> str:
        """The value at a path as it is written, on one line, without quotes and remarks."""
        span = self.span(keys)
        if span.kind in ("quoted", "text"):
            return " ".join(str(self.value(keys)).split())
        parts, at = [], span.start
        for a, b in self.remarks:
            if span.start <= a < span.end:
                parts.append(self.text[at:a])
                at = b
        return " ".join("".join([*parts, self.text[at : span.end]]).split())

    # ------------------------------------------------------------ a new text

    def with_text(self, start: int, end: int, new: str) -> str:
        """The text with a stretch replaced; the remark at the line's end keeps its column."""
        there = self.remark_after(end)
        if there is None:
            return self.text[:start] + new + self.text[end:]
        tail = self.text[end : there[0]]
        kept = tail.rstrip(" \t")
        gap = len(tail) - len(kept)
        head = self.text[:start] + new + kept
        column = there[0] - self.line_start(there[0])
        wanted = column - (len(head) - line_start(head, len(head)))
        least = max(min(gap, 2), 1)
        spaces = tail[len(kept) :] if wanted == gap else " " * max(wanted, least)
        return head + spaces + self.text[there[0] :]


def line_start(text: str, at: int) -> int:
    """First character of the line on which a character of a text stands."""
    return max(text.rfind(b, 0, at) for b in BREAKS) + 1


def line_end(text: str, at: int) -> int:
    """End of the line on which a character of a text stands, its break left out."""
    found = _BREAK.search(text, at)
    return found.start() if found else len(text)


def same(a: object, b: object) -> bool:
    """Whether two readings hold the same values of the same kinds in the same order."""
    return json.dumps(a) == json.dumps(b)


def changed_at(data: Any, keys: Keys, change: Callable[[Any], None]) -> Any:
    """A copy of plain data in which the group that holds a path's end was changed."""
    copy = json.loads(json.dumps(data))
    at = copy
    for key in keys[:-1]:
        at = at[key]
    change(at)
    return copy


def _text_end(body: str) -> int:
    """End of a block of text: of its last line that says something; of all of it under "|+"."""
    header = body[: line_end(body, 0)].split("#")[0]
    if "+" not in header:
        return len(body.rstrip(" \t" + BREAKS))
    last = line_start(body, len(body))
    if body[last:].strip():
        return len(body)
    return last - (2 if body[:last].endswith("\r\n") else 1)


def _remarks(text: str, sheet: strict_yaml.Sheet) -> list[tuple[int, int]]:
    """Every remark: a "#" outside names and values, to the end of its line."""
    scalars = [(s.start, s.end) for s in sheet.spans.values() if s.kind in ("plain", "quoted")]
    blocks = [(s.start, s.end) for s in sheet.spans.values() if s.kind == "text"]
    found, at = [], 0
    for start, end in [*sorted([*sheet.name_spans.values(), *scalars, *blocks]), (len(text), 0)]:
        found += [m.span() for m in _REMARK.finditer(text, at, start)]
        at = max(at, end)
        if (start, end) in blocks and (header := _HEADER.match(text, start, end)):
            found.append(header.span(1))
    return found
