"""A change looked at before it is handed out: only what was asked for may differ."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from ration.errors import FileError, InputError, Problem
from ration.farm.write import hands, quoting
from ration.farm.write.spots import Leaf, same
from ration.strict_yaml import Keys

MOST_SHOWN = 60
TOUCHES_MORE = "this change cannot be made there without touching something else"


@dataclass(frozen=True)
class Changed:
    """A farm file's text after a change, and what the change was.

    Attributes
    ----------
    text : str
        The whole new text.
    line : int
        Line of the change: in the new text, or where a value taken out stood. [from 1]
    before, after : str
        The value as written, without quotes and remarks; "" where there is none.
    line_before, line_after : str
        The whole line, or lines, before and after; "" where there is none.
    keys : tuple
        The path as the reader has it.
    words : str
        "Bottom Ings protein 9 % to 7.4 %".
    """

    text: str
    line: int
    before: str
    after: str
    line_before: str = ""
    line_after: str = ""
    keys: Keys = ()
    words: str = ""


@dataclass(frozen=True)
class Wanted:
    """What a change was to come to.

    Attributes
    ----------
    data : object
        What the new text must read as.
    old, new : tuple or None
        Path of the value before and after; None where there is none.
    note : str
        Words added as a remark.
    gone : tuple of str
        Remarks taken out.
    """

    data: Any
    old: Keys | None
    new: Keys | None
    note: str = ""
    gone: tuple[str, ...] = ()


def settled(leaf: Leaf, made: str, wanted: Wanted) -> Changed:
    """The change, once its text was read again and only what was asked for differs.

    Raises
    ------
    FileError
        Anything else differs; nothing is changed.
    """
    at = wanted.new or wanted.old or ()
    refused = Problem(leaf.sheet.where(at), TOUCHES_MORE, "nothing is changed", "Do it by hand")
    try:
        new = Leaf(leaf.mark + made)
        if wanted.new and (note := quoting.remark(wanted.note)):
            new = Leaf(leaf.mark + hands.noted(new, wanted.new, note))
    except InputError as error:
        told = [p for p in error.problems if "too large" in p.read or "nested" in p.read]
        raise FileError(*(told or [refused])) from None
    if not same(new.sheet.data, wanted.data) or not _are_remarks_kept(leaf, new, wanted):
        raise FileError(refused)
    return _told(leaf, new, wanted)


def _are_remarks_kept(old: Leaf, new: Leaf, wanted: Wanted) -> bool:
    """Whether every remark is still there, with nothing new but the note."""
    before = Counter(old.remarks_in(0, len(old.text))) - Counter(wanted.gone)
    after = Counter(new.remarks_in(0, len(new.text)))
    lost, more = list((before - after).elements()), list((after - before).elements())
    if not lost and not more:
        return True
    note = quoting.remark(wanted.note)
    if not note or len(more) != 1 or len(lost) > 1:
        return False
    was = "".join(lost)
    return more[0] == (f"{was}; {note}" if was.strip("# ") else f"# {note}")


def _told(old: Leaf, new: Leaf, wanted: Wanted) -> Changed:
    """What a change was, in words."""
    was, now = wanted.old, wanted.new
    before = old.said(was) if was is not None else ""
    after = new.said(now) if now is not None else ""
    leaf, at = (new, now) if now is not None else (old, was or ())
    left = at if now is not None else at[:-1]
    line_after = new.line(left) if now is not None or new.span(left).kind == "flow" else ""
    return Changed(
        new.mark + new.text,
        leaf.line_of(leaf.start(at)),
        before,
        after,
        old.line(was) if was is not None else "",
        line_after,
        at,
        _words(old, new, wanted, _cut(before), _cut(after)),
    )


def _words(old: Leaf, new: Leaf, wanted: Wanted, before: str, after: str) -> str:
    was, now = wanted.old, wanted.new
    if was is None or (before == "" and now == was):
        return f"{new.words(now or ())} {after} added"
    name = old.words(was)
    if now is None:
        return f"{name} {before} taken out".replace("  ", " ")
    if now != was:
        return f"{name} {before} to {new.written(now)} {after}"
    return f"{name} {before} to {after or 'nothing'}" if before != after else f"{name} {after} kept"


def _cut(words: str) -> str:
    return words if len(words) <= MOST_SHOWN else words[: MOST_SHOWN - 3] + "..."
