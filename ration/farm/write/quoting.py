"""A value as it is written in a farm file, in quotes where YAML needs them.

Whether a text may stand without quotes is not worked out from rules of our own: the text is put
in a trial line and the YAML reader itself is asked what it makes of it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import yaml

from ration import strict_yaml
from ration.errors import FileError, InputError, Problem
from ration.plain_text import shown

Value = str | bool | int | float | None | Sequence["Value"] | Mapping[str, "Value"]

LONGEST_NAME = 200
_NUMBER = re.compile(r"-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,6})?")
_ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}
_LOADERS = {yaml.SafeLoader, getattr(yaml, "CSafeLoader", yaml.SafeLoader)}
_RESOLVER: Any = yaml.resolver.Resolver()


def written(value: Value, *, in_flow: bool = False, is_yes_no: bool = False) -> str:
    """A value as YAML text on one line.

    Parameters
    ----------
    value : str, bool, int, float, None, sequence or mapping
        A str is text as a person would type it and reads back as that text (a plain number as
        that number); lists and groups are written in brackets.
    in_flow : bool
        It will stand inside brackets.
    is_yes_no : bool
        A str yes or no is the answer, not a word.

    Raises
    ------
    InputError
        The value cannot stand in a farm file.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _number(value)
    if isinstance(value, str):
        if is_yes_no and value.lower() in ("yes", "no", "true", "false"):
            return value
        return _text(value, in_flow)
    if isinstance(value, Mapping):
        pairs = (f"{name(n, in_flow=True)}: {_item(v)}" for n, v in value.items())
        return "{" + ", ".join(pairs) + "}"
    return "[" + ", ".join(map(_item, value)) + "]"


def _item(value: Value) -> str:
    return written(value, in_flow=True) or "~"


def name(words: str, *, in_flow: bool = False) -> str:
    """A name as it stands before its colon.

    Raises
    ------
    InputError
        Empty, of several lines or too long.
    """
    if not strict_yaml.tidy(words):
        raise InputError(Problem("", "a name is empty", "", "Write a name"))
    if len(words) > LONGEST_NAME or words.splitlines() != [words]:
        allowed = f"one line of at most {LONGEST_NAME} letters"
        raise InputError(Problem("", f"{shown(words)} cannot be a name", allowed, "Shorten it"))
    _belongs(words)
    trial = f"{{{words}: x}}" if in_flow else f"{words}: x"
    events = ["map", words, "x", "end"]
    return words if _events(trial) == events and not words[0].isspace() else _quoted(words)


def read_back(text: str) -> Any:
    """What the reader makes of a value written by `written`."""
    sheet = strict_yaml.parse(f"x: {text}\n", "the value")
    if sheet.problems:
        raise InputError(*sheet.problems)
    if not isinstance(sheet.data, dict) or list(sheet.data) != ["x"]:
        raise FileError(Problem("", f"read {shown(text)}: this is more than one value"))
    return sheet.data["x"]


def remark(words: str) -> str:
    """Words as a remark without its "#": one line, unseen characters out."""
    line = " ".join(words.split()).lstrip("# ")
    _belongs(line)
    return line


def _number(value: float) -> str:
    text = str(value)
    if not _NUMBER.fullmatch(text):
        fault = "this number cannot stand in a farm file"
        allowed = "up to nine digits before the point and six after it"
        raise InputError(Problem("", f"read {shown(text)}: {fault}", allowed, "Round it"))
    return text


def _belongs(text: str) -> None:
    odd = strict_yaml.NOT_TEXT.search(text)
    if odd:
        fault = f"there is a character that does not belong in text ({ord(odd.group()):#x})"
        raise InputError(Problem("", fault, "", "Take it out"))


def _text(text: str, in_flow: bool) -> str:
    _belongs(text)
    if len(text) > strict_yaml.LARGEST_BYTES:
        raise FileError(Problem("", "the text is too large", "at most 200 kB"))
    if _NUMBER.fullmatch(text) or _is_plain(text, in_flow):
        return text
    return _quoted(text)


def _is_plain(text: str, in_flow: bool) -> bool:
    """Whether any YAML reader takes the bare text for this very text."""
    if not text.isprintable() or text != text.strip():
        return False
    scalar = yaml.SafeLoader.DEFAULT_SCALAR_TAG
    if _RESOLVER.resolve(yaml.ScalarNode, text, (True, False)) != scalar:
        return False
    if _events(f"{{x: {text}, y: z}}" if in_flow else f"x: {text}  # r\ny: z") != [
        "map", "x", text, "y", "z", "end",
    ]:  # fmt: skip
        return False
    try:
        return bool(read_back(text) == text)
    except InputError:
        return False


def _events(trial: str) -> list[str] | None:
    """What a trial line holds, None when not all readers agree that it is plain text."""
    found = [_events_by(loader, trial) for loader in _LOADERS]
    return found[0] if all(f == found[0] for f in found) else None


def _events_by(loader: Any, trial: str) -> list[str] | None:
    """What a trial line holds, None when it cannot be read or holds anything but plain text."""
    found = []
    try:
        for event in yaml.parse(trial, Loader=loader):
            if isinstance(event, yaml.MappingStartEvent):
                found.append("map")
            elif isinstance(event, yaml.MappingEndEvent):
                found.append("end")
            elif isinstance(event, yaml.ScalarEvent):
                if event.style or event.anchor or event.tag:
                    return None
                found.append(event.value)
            elif isinstance(event, yaml.AliasEvent | yaml.SequenceStartEvent):
                return None
    except (yaml.YAMLError, RecursionError):
        return None
    return found


def _quoted(text: str) -> str:
    """A text in quotes: single ones when that saves marks, double ones otherwise."""
    if text.isprintable() and '"' in text and "'" not in text:
        return f"'{text}'"
    if text.isprintable() and "\\" in text and "'" not in text:
        return f"'{text}'"
    return '"' + "".join(_ESCAPES.get(c) or (c if c.isprintable() else _hex(c)) for c in text) + '"'


def _hex(c: str) -> str:
    point = ord(c)
    if point < 0x100:
        return f"\\x{point:02x}"
    return f"\\u{point:04x}" if point < 0x10000 else f"\\U{point:08x}"
