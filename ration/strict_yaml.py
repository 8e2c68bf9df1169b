"""The text of a farm file: strict YAML with the line of every name kept.

Only plain things pass: names with values, lists, text, whole and broken numbers, yes and no.
Marks that make YAML clever (references, tags, a second document, the same name twice) are
refused at their line. Dates and clock times stay text. Nothing read here can make an object, and
the size and the depth of a file are capped, so a hostile file costs no more than an honest one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import yaml

from ration.errors import FileError, Problem
from ration.units import shown

LARGEST_BYTES = 200_000
DEEPEST = 8
MOST_PROBLEMS = 200
MOST_ENTRIES = 200

Key = str | int
Keys = tuple[Key, ...]

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
NOT_TEXT = re.compile(
    r"[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)
_YES_NO = {"true": True, "yes": True, "false": False, "no": False}


def tidy(name: object) -> str:
    """A name as it is compared: small letters, and "_" and "-" read as spaces."""
    return " ".join(str(name).lower().replace("_", " ").replace("-", " ").split())


@dataclass(frozen=True, slots=True)
class Span:
    """Where a value stands in a text, in characters from its start (a byte-order mark apart).

    Attributes
    ----------
    start, end : int
        First character and the one after the last; of a block of text up to where the next
        thing starts, of an indented group up to the end of its last value.
    kind : str
        plain, quoted, text (a "|" or ">" block), empty, flow (in brackets) or block (indented).
    is_list : bool
    in_flow : bool
        It stands inside brackets.
    """

    start: int
    end: int
    kind: str
    is_list: bool = False
    in_flow: bool = False


@dataclass
class Sheet:
    """What a farm file says, and where.

    Parameters
    ----------
    name : str
        File name, for messages.
    data : object
        Plain values; every name tidied by `tidy`.
    lines : dict
        Line of each name or list item. [-]
    written : dict
        Each name as the user wrote it.
    problems : list of Problem
        Faults found so far.
    spans : dict
        Where each value stands in the text.
    name_spans : dict
        Where each name stands in the text: first character and the one after the last.
    """

    name: str
    data: object = None
    lines: dict[Keys, int] = field(default_factory=dict)
    written: dict[Keys, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    spans: dict[Keys, Span] = field(default_factory=dict)
    name_spans: dict[Keys, tuple[int, int]] = field(default_factory=dict)

    def line(self, keys: Keys) -> int | None:
        """Line of a name, or of the nearest one above it that is in the file."""
        while keys:
            if keys in self.lines:
                return self.lines[keys]
            keys = keys[:-1]
        return None

    def place(self, keys: Keys) -> str:
        """File and line: "farm.yaml line 23"."""
        line = self.line(keys)
        return self.name if line is None else f"{self.name} line {line}"

    def where(self, keys: Keys) -> str:
        """File, line and names: "farm.yaml line 23, feeds > barley > price"."""
        names = [
            f"item {key + 1}"
            if isinstance(key, int)
            else shown_name(self.written.get(keys[: i + 1], key))
            for i, key in enumerate(keys)
        ]
        return ", ".join(part for part in (self.place(keys), " > ".join(names)) if part)

    def group(self, keys: Keys) -> dict[str, Any]:
        """The group at a path, empty when there is none."""
        at: Any = self.data
        for key in keys:
            at = at.get(key) if isinstance(at, dict) else None
        return at if isinstance(at, dict) else {}

    def section(self, name: str, what: str) -> dict[str, Any]:
        """A section of named entries; a list or a lone value has its own message."""
        whole = self.group(())
        if name not in whole:
            return {}
        section = whole[name]
        if isinstance(section, dict) and len(section) > MOST_ENTRIES:
            self.fault((name,), f"{len(section)} names under {name}", f"at most {MOST_ENTRIES}")
            return {}
        if isinstance(section, dict) and section:
            return section
        if isinstance(section, list):
            read = "read a list"
        else:
            read = f"read {shown(section)}" if section else "nothing is there"
        self.fault(
            (name,),
            f"{read}: {name} is a group with one {what} under each name",
            do=f'Write "{what} name:" and its lines indented below it',
        )
        return {}

    def own_files(
        self, folder: Path | None, names: tuple[str, ...], keys: Keys
    ) -> tuple[Path, ...]:
        """Files that lie beside the farm file; nothing outside its folder is opened."""
        if folder is None and names:
            self.fault(keys, "other files cannot be named here", do="Use a farm file on disk")
        if folder is None:
            return ()
        found = []
        for name in names:
            if not is_beside(name):
                self.fault(
                    keys,
                    f"read {shown(name)}: this file must lie beside the farm file "
                    "or in a folder below it",
                    do="Copy it there",
                )
            elif not _exists(folder / name):
                self.fault(keys, f"read {shown(name)}: there is no such file beside the farm file")
            else:
                found.append(folder / name)
        return tuple(found)

    def fault(self, keys: Keys, read: str, allowed: str = "", do: str = "") -> None:
        """Note a problem at a name."""
        self.add(Problem(self.where(keys), read, allowed, do))

    def add(self, *problems: Problem) -> None:
        """Note problems; past `MOST_PROBLEMS` reading stops there."""
        self.problems += problems
        if len(self.problems) >= MOST_PROBLEMS:
            raise FileError(*self.problems)


def is_beside(name: str) -> bool:
    """Whether a file of this name lies in the farm file's folder or in one below it."""
    bad = "\0" in name or "\\" in name or ":" in name or Path(name).is_absolute()
    return not bad and ".." not in Path(name).parts


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def shown_name(name: object) -> str:
    """A name cut to a readable length."""
    text = " ".join(str(name).split())
    return text if len(text) <= 40 else text[:37] + "..."


def nearest(name: str, names: Iterator[str] | list[str] | tuple[str, ...]) -> str:
    """A hint with the nearest known name, or ""."""
    near = get_close_matches(name, list(names), n=1, cutoff=0.6)
    return f'Did you mean "{near[0]}"?' if near else ""


def text_of(path: Path) -> str:
    """The text of a file, within the size cap and in UTF-8."""
    name = path.name
    try:
        if path.is_dir():
            raise FileError(Problem(name, "this is a folder", "a farm file is wanted"))
        with path.open("rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError):
        there = path.exists() if "\0" not in str(path) else False
        if there:
            raise FileError(Problem(name, "the file cannot be opened")) from None
        do = "To get one to start from, use: ration demo"
        raise FileError(Problem(name, "there is no such file", "", do)) from None
    return decoded(raw, name)


def decoded(raw: bytes, name: str) -> str:
    """Bytes as text; anything but UTF-8 is refused with its line."""
    if len(raw) > LARGEST_BYTES:
        allowed = f"a farm file is at most {LARGEST_BYTES // 1000} kB"
        raise FileError(Problem(name, "the file is too large", allowed))
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise FileError(Problem(name, "the file is in UTF-16", "", "Save it as UTF-8 text"))
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        where = f"{name} line {line}"
        if b"\0" in raw:
            raise FileError(Problem(where, "this is not a text file")) from None
        raise FileError(
            Problem(
                where,
                f"a letter or sign is not UTF-8 (byte {raw[error.start]:#04x})",
                "perhaps £ or an accent from an older editor",
                "Save the file as UTF-8 text",
            )
        ) from None


def parse(text: str, name: str) -> Sheet:
    """The values of a farm file's text and the line of each.

    Raises
    ------
    FileError
        The text is not YAML at all, is empty, too large or too deep. Lesser faults are kept in
        `Sheet.problems` so that they are told together with those of the content.
    """
    text = text.removeprefix("\ufeff")
    if len(text) > LARGEST_BYTES:
        raise FileError(Problem(name, "the text is too large", "at most 200 kB"))
    odd = NOT_TEXT.search(text)
    if odd:
        line = text.count("\n", 0, odd.start()) + 1
        fault = f"there is a character that does not belong in text ({ord(odd.group()):#x})"
        raise FileError(Problem(f"{name} line {line}", fault))
    sheet = Sheet(name)
    try:
        _Builder(text, sheet).document()
    except yaml.YAMLError as error:
        raise FileError(*sheet.problems, _in_words(error, text, name)) from None
    return sheet


class _Builder:
    """Builds plain values from the events of the parser, without recursion beyond `DEEPEST`."""

    def __init__(self, text: str, sheet: Sheet) -> None:
        self.events: Iterator[Any] = yaml.parse(text, Loader=_LOADER)
        self.sheet = sheet
        self.flow_depth = 0
        self.ended = 0

    def document(self) -> None:
        next(self.events)  # start of the stream
        event = next(self.events)
        if isinstance(event, yaml.StreamEndEvent):
            do = "To get one to start from, use: ration demo"
            raise FileError(Problem(self.sheet.name, "the file is empty", "", do))
        self.sheet.data = self.value(next(self.events), ())
        next(self.events)  # end of the document
        if not isinstance(after := next(self.events), yaml.StreamEndEvent):
            self.odd(
                after,
                'a second document starts here ("---")',
                "one farm a file",
                "Take the line out",
            )
            raise FileError(*self.sheet.problems)

    def odd(self, event: Any, read: str, allowed: str = "", do: str = "") -> None:
        line = event.start_mark.line + 1
        self.sheet.add(Problem(f"{self.sheet.name} line {line}", read, allowed, do))

    def value(self, event: Any, keys: Keys) -> object:
        if len(keys) > DEEPEST:
            self.odd(event, "names are nested too deep", f"at most {DEEPEST} levels")
            raise FileError(*self.sheet.problems)
        if isinstance(event, yaml.AliasEvent):
            self.odd(
                event,
                f"a reference (*{shown_name(event.anchor)}) is not allowed here",
                do="Write the value out, or put it in quotes",
            )
            return None
        if event.anchor is not None:
            self.odd(
                event,
                f"a reference mark (&{shown_name(event.anchor)}) is not allowed here",
                do="Take it out, or put the text in quotes",
            )
        if event.tag is not None:
            self.odd(
                event,
                f"a tag ({shown_name(event.tag)}) is not allowed here",
                do="Take it out, or put the text in quotes",
            )
        if isinstance(event, yaml.ScalarEvent):
            self.note_span(keys, event, _ends(event))
            return _plain(event)
        self.flow_depth += bool(event.flow_style)
        is_list = isinstance(event, yaml.SequenceStartEvent)
        value: object = self.sequence(keys) if is_list else self.mapping(keys)
        self.flow_depth -= bool(event.flow_style)
        self.note_span(keys, event, self.ended)
        return value

    def note_span(self, keys: Keys, event: Any, end: int) -> None:
        """Keep where a value stands."""
        start = event.start_mark.index
        is_list = isinstance(event, yaml.SequenceStartEvent)
        if not isinstance(event, yaml.ScalarEvent):
            kind = "flow" if event.flow_style else "block"
        elif event.style in ("|", ">"):
            kind = "text"
        elif event.style:
            kind = "quoted"
        else:
            kind = "plain" if end > start else "empty"
        self.ended = end
        self.sheet.spans[keys] = Span(start, end, kind, is_list, self.flow_depth > 0)

    def close(self, event: Any) -> None:
        """Where a group or a list ends: at its bracket, or with its last value."""
        if self.flow_depth:
            self.ended = _ends(event)

    def sequence(self, keys: Keys) -> list[object]:
        items: list[object] = []
        while not isinstance(event := next(self.events), yaml.SequenceEndEvent):
            at = (*keys, len(items))
            self.sheet.lines[at] = event.start_mark.line + 1
            items.append(self.value(event, at))
        self.close(event)
        return items

    def mapping(self, keys: Keys) -> dict[str, object]:
        pairs: dict[str, object] = {}
        while not isinstance(event := next(self.events), yaml.MappingEndEvent):
            if not isinstance(event, yaml.ScalarEvent):
                self.odd(event, "a name is wanted before the colon", do="Write a plain name")
                self.value(event, (*keys, "?"))
                self.value(next(self.events), (*keys, "?"))
                continue
            self.value(event, keys)  # refuses tags and reference marks on names
            name = tidy(event.value)
            at = (*keys, name)
            mark: Any = event.start_mark
            if not name:
                self.odd(event, "a name is empty")
            if name in pairs:
                self.odd(
                    event,
                    f"{shown(event.value)} is here a second time",
                    f"it is already at line {self.sheet.lines[at]}",
                    "Keep one of the two",
                )
                self.value(next(self.events), (*keys, "?"))
                continue
            self.sheet.lines[at] = mark.line + 1
            self.sheet.written[at] = event.value
            self.sheet.name_spans[at] = (mark.index, _ends(event))
            pairs[name] = self.value(next(self.events), at)
        self.close(event)
        return pairs


def _ends(event: Any) -> int:
    return int(event.end_mark.index)


def _plain(event: Any) -> object:
    """Value of a scalar: text in quotes stays text; bare yes/no and plain numbers are read."""
    text: str = event.value
    if event.style:  # in quotes, or a block of text
        return text
    if text.lower() in _YES_NO:
        return _YES_NO[text.lower()]
    if text == "" or text == "~" or text.lower() == "null":
        return None
    if re.fullmatch(r"-?(0|[1-9][0-9]{0,8})", text):
        return int(text)
    if re.fullmatch(r"-?(0|[1-9][0-9]{0,8})\.[0-9]{1,6}", text):
        return float(text)
    return text


_UNEVEN = "the lines do not line up"
_IN_WORDS = (
    (
        "mapping values are not allowed",
        "a colon does not fit here: it is the second of its line, or the line is set in too far",
        "Line it up with its neighbours, or put text that holds a colon in quotes",
    ),
    (
        "cannot start any token",
        "a sign here cannot start a value",
        "Put the text in quotes; indent with spaces, never tabs",
    ),
    (
        "could not find expected ':'",
        'this line, or the one above, has no ":" after its name',
        'Write "name: value"',
    ),
    ("expected key", _UNEVEN, "Start all items of a group under one another"),
    ("expected '-'", _UNEVEN, "Start all items of a group under one another"),
    ("block end", _UNEVEN, "Start all items of a group under one another"),
    ("block mapping", _UNEVEN, "Start all items of a group under one another"),
    ("unexpected end of stream", "a quote is opened here and not closed", "Close it"),
    ("expected ',' or", "a bracket is opened here and not closed well", "Close every [ and {"),
    ("nesting depth", "names are nested too deep", f"At most {DEEPEST} levels are read"),
)


def _in_words(error: yaml.YAMLError, text: str, name: str) -> Problem:
    """What the YAML reader could not follow, in plain words, with its line."""
    fault = str(getattr(error, "problem", "") or "this cannot be read")
    marks: list[Any] = [getattr(error, "problem_mark", None), getattr(error, "context_mark", None)]
    if "unexpected end of stream" in fault or "expected ',' or" in fault:
        marks.reverse()  # where the quote or the bracket was opened tells more
    mark = marks[0] or marks[1]
    lines = text.splitlines()
    if mark is None:
        return Problem(name, f"this is not a farm file ({fault})")
    number = min(mark.line, max(len(lines) - 1, 0))
    where = f"{name} line {number + 1}"
    here = lines[number] if lines else ""
    if re.match(r"[ ]*\t", here):
        return Problem(where, "a tab is used to line things up", "spaces only", "Use spaces")
    for part, words, do in _IN_WORDS:
        if part in fault:
            return Problem(where, words, "", do)
    return Problem(where, f"this cannot be read ({fault})")
