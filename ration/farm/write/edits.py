"""One value of a farm file changed, added or taken out; every other character stays.

Each function gives a new text and says what it changed. Before that the new text is read again:
unless it holds the same data in the same order except at that one path, and every remark that the
old one held, `FileError` is raised and nothing is changed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pydantic import BaseModel

from ration.errors import FileError, InputError, Problem
from ration.farm import keys as farm_keys
from ration.farm.write import hands, quoting
from ration.farm.write.quoting import Value
from ration.farm.write.settle import TOUCHES_MORE, Changed, Wanted, settled
from ration.farm.write.spots import Leaf, changed_at
from ration.plain_text import shown
from ration.strict_yaml import Key, Keys, tidy

_MODELS: dict[Keys | Key, type[BaseModel]] = {
    (): farm_keys.FarmEntry,
    ("winter",): farm_keys.WinterEntry,
    ("steps",): farm_keys.StepsEntry,
    ("limits",): farm_keys.LimitsEntry,
    "batches": farm_keys.BatchEntry,
    "feeds": farm_keys.FeedEntry,
}


def set_value(text: str, keys: Sequence[Key], value_text: Value, note: str = "") -> Changed:
    """Put a value where one stands.

    Parameters
    ----------
    text : str
        A farm file.
    keys : sequence of str or int
        The path: names tidied, as written or as ids; an int for an item of a list.
    value_text : str, bool, int, float, None, sequence or mapping
        The new value. A str is text as a person types it and is put in quotes where YAML needs
        them; over a yes or no, a str yes or no stays an answer. A sequence or a mapping is
        written in brackets.
    note : str
        Added to the remark at the end of the line.

    Raises
    ------
    UnknownName
        There is no such path.
    InputError
        The text is not a sound farm file, or the value cannot stand there; nothing is changed.

    Examples
    --------
    >>> made = set_value("oats: {price: 178 /t}  # his", ("oats", "price"), "9 /t")
    >>> made.text, made.words
    ('oats: {price: 9 /t}    # his', 'oats price 178 /t to 9 /t')
    """
    leaf = Leaf(text)
    at = _named(leaf, keys)
    span = leaf.span(at)
    is_answer = isinstance(leaf.value(at), bool)
    new = quoting.written(value_text, in_flow=span.in_flow, is_yes_no=is_answer)
    read = quoting.read_back(new)
    data = changed_at(leaf.sheet.data, at, lambda group: _put(group, at[-1], read))
    made = leaf.text if new == leaf.text[span.start : span.end] else hands.over(leaf, at, new)
    return settled(leaf, made, Wanted(data, at, at, note))


def add_value(
    text: str,
    group_keys: Sequence[Key],
    name: str,
    value_text: Value,
    after: str | None = None,
    note: str = "",
) -> Changed:
    """Add a name and its value to a group: a line, or a pair inside the group's brackets.

    Parameters
    ----------
    text : str
        A farm file.
    group_keys : sequence of str
        Path of the group, () for the file itself; made when it is not there.
    name : str
        The new name, as it is to be written.
    value_text : str, bool, int, float, None, sequence or mapping
        As for `set_value`.
    after : str, optional
        The name it is to follow. Without one it goes where the reader lists it: behind the
        nearest name that comes before it there, else at the end of the group.
    note : str
        A remark for the end of its line.

    Raises
    ------
    InputError
        The name is already there, the group is no group, the text is not a sound farm file;
        nothing is changed.
    """
    leaf = Leaf(text)
    there = 0
    while there < len(group_keys) and leaf.has(group_keys[: there + 1]):
        there += 1
    group = leaf.find(group_keys[:there])
    names = [*(str(k) for k in group_keys[there:]), name]
    for inner in reversed(names[1:]):
        value_text = {inner: value_text}
    return _added(leaf, group, names, value_text, None if len(names) > 1 else after, note)


def put_value(text: str, keys: Sequence[Key], value_text: Value, note: str = "") -> Changed:
    """Put a value where one stands, or add it where there is none."""
    if not keys or Leaf(text).has(keys):
        return set_value(text, keys, value_text, note)
    return add_value(text, keys[:-1], str(keys[-1]), value_text, note=note)


def add_item(text: str, keys: Sequence[Key], value_text: Value) -> Changed:
    """Add an item at the end of a list; a single value becomes the first item of one."""
    leaf = Leaf(text)
    at = _named(leaf, keys)
    old, span = leaf.value(at), leaf.span(at)
    if not isinstance(old, list):
        return set_value(text, at, [value_text] if old is None else [old, value_text])
    item: Keys = (*at, len(old))
    in_flow = span.kind == "flow"
    new = quoting.written(value_text, in_flow=in_flow)
    data = changed_at(leaf.sheet.data, item, lambda items: items.append(quoting.read_back(new)))
    if in_flow:
        made = hands.into_brackets(leaf, at, new or "~", len(old) - 1 if old else None)
    else:
        dash = " " * (span.start - leaf.line_start(span.start)) + "- "
        made = hands.with_lines(leaf, span.end, [(dash + new).rstrip()])
    return settled(leaf, made, Wanted(data, None, item))


def remove_value(text: str, keys: Sequence[Key], *, keep_remarks: bool = True) -> Changed:
    """Take a name and its value out; an indented group that would be left empty goes with it.

    Parameters
    ----------
    text : str
        A farm file.
    keys : sequence of str or int
        As for `set_value`.
    keep_remarks : bool
        Remarks on the lines taken out stay, each on a line of its own.

    Raises
    ------
    UnknownName
        There is no such path.
    InputError
        Nothing would be left, or the text is not a sound farm file; nothing is changed.
    """
    leaf = Leaf(text)
    at = _named(leaf, keys)
    while len(leaf.children(at[:-1])) == 1 and leaf.span(at[:-1]).kind == "block":
        if len(at) == 1:
            raise FileError(Problem("", "nothing would be left of the farm file"))
        at = at[:-1]
    data = changed_at(leaf.sheet.data, at, lambda group: _drop(group, at[-1]))
    if leaf.span(at[:-1]).kind != "block":
        return settled(leaf, hands.out_of_brackets(leaf, at), Wanted(data, at, None))
    start = leaf.start(at)
    first, last = leaf.line_start(start), leaf.next_line(leaf.span(at).end)
    ahead = leaf.text[first:start]
    if ahead.strip() not in ("", "-" if isinstance(at[-1], int) else ""):
        raise FileError(Problem(leaf.sheet.where(at), TOUCHES_MORE, "", "Take it out by hand"))
    indent = len(ahead) - len(ahead.lstrip(" ")) if ahead.strip() else len(ahead)
    kept = hands.remark_lines(leaf, first, last, indent) if keep_remarks else ""
    gone = () if keep_remarks else tuple(leaf.remarks_in(first, last))
    made = leaf.text[:first] + kept + leaf.text[last:]
    return settled(leaf, made, Wanted(data, at, None, gone=gone))


def rename(text: str, keys: Sequence[Key], name: str, value_text: Value = None) -> Changed:
    """Write another name where one stands; with a value, another value beside it too."""
    leaf = Leaf(text)
    at = _named(leaf, keys)
    if at not in leaf.sheet.name_spans:
        raise FileError(Problem(leaf.sheet.where(at), "an item of a list has no name"))
    new_at: Keys = (*at[:-1], tidy(name))
    if new_at != at and tidy(name) in leaf.value(at[:-1]):
        raise _already(leaf, new_at, name)
    start, end = leaf.sheet.name_spans[at]
    span, value = leaf.span(at), leaf.value(at)
    as_written = quoting.name(name, in_flow=span.in_flow)
    if value_text is None:
        made = leaf.with_text(start, end, as_written)
    else:
        new = quoting.written(value_text, in_flow=span.in_flow)
        value = quoting.read_back(new)
        if span.kind == "empty":
            new = hands.spaced(leaf, span.start, new)
        made = leaf.with_text(start, span.end, as_written + leaf.text[end : span.start] + new)

    def change(group: Any) -> None:
        pairs = [(tidy(name), value) if k == at[-1] else (k, v) for k, v in group.items()]
        group.clear()
        group.update(pairs)

    return settled(leaf, made, Wanted(changed_at(leaf.sheet.data, at, change), at, new_at))


def set_many(
    text: str, changes: Mapping[Keys, Value] | Iterable[tuple[Sequence[Key], Value]]
) -> tuple[str, tuple[Changed, ...]]:
    """Several values put or added, all or none; every fault is told.

    Returns
    -------
    tuple of str and tuple of Changed
        The last text, and each change in turn.
    """
    pairs = list(changes.items()) if isinstance(changes, Mapping) else list(changes)
    made: list[Changed] = []
    faults: list[Problem] = []
    for keys, value in pairs:
        try:
            made.append(put_value(text, keys, value))
            text = made[-1].text
        except InputError as error:
            faults += error.problems
    if faults:
        raise InputError(*faults)
    return text, tuple(made)


def _named(leaf: Leaf, keys: Sequence[Key]) -> Keys:
    """The path as the reader has it; a path of no names is refused."""
    if not keys:
        raise FileError(Problem("", "no name is given", "", "Name the value to change"))
    return leaf.find(keys)


def _added(
    leaf: Leaf,
    group: Keys,
    names: Sequence[str],
    value: Value,
    after: str | None,
    note: str,
) -> Changed:
    """A name and its value added to a group that is there; all names but the last are groups."""
    name, here = names[0], leaf.value(group)
    if here is not None and not isinstance(here, dict):
        what = "a list" if isinstance(here, list) else shown(leaf.said(group))
        fault = f"read {what}: this is no group of names and values"
        raise FileError(Problem(leaf.sheet.where(group), fault, f"{shown(name)} cannot go there"))
    if (there := leaf.name_in(group, name)) is not None:
        raise _already(leaf, (*group, there), name)
    inside = list(here or ())
    follows = leaf.find((*group, after))[-1] if after and here else _follows(group, name, inside)
    span = leaf.span(group)
    pair = quoting.written({name: value}, in_flow=True)
    read = quoting.read_back(pair)
    if span.kind == "flow":
        made = hands.into_brackets(leaf, group, pair[1:-1], follows)
    elif span.in_flow:
        made = leaf.with_text(span.start, span.end, hands.spaced(leaf, span.start, pair))
    else:
        made = hands.block_lines(leaf, group, name, value, follows, len(names) - 1)
    if here is None:
        data = changed_at(leaf.sheet.data, group, lambda g: _put(g, group[-1], read))
    else:
        at = (*group, tidy(name))
        data = changed_at(leaf.sheet.data, at, lambda g: _insert(g, read, follows))
    return settled(leaf, made, Wanted(data, None, (*group, *map(tidy, names)), note))


def _follows(group: Keys, name: str, inside: list[Key]) -> Key | None:
    """The name in a group that a new one goes behind; None in an empty group."""
    kind = group[0] if len(group) == 2 and group[0] in ("batches", "feeds") else group
    model = _MODELS.get(kind)
    order = [tidy(known) for known in farm_keys.names_in(model)] if model else []
    before = order[: order.index(tidy(name))] if tidy(name) in order else []
    found = [known for known in inside if known in before]
    if found:
        return max(found, key=lambda known: before.index(str(known)))
    return inside[-1] if inside else None


def _put(group: Any, key: Key, value: Any) -> None:
    group[key] = value


def _drop(group: Any, key: Key) -> None:
    del group[key]


def _insert(group: dict[Key, Any], pair: dict[Key, Any], follows: Key | None) -> None:
    """A pair put into plain data behind a name."""
    pairs = list(group.items())
    at = list(group).index(follows) + 1 if follows is not None else 0
    pairs[at:at] = pair.items()
    group.clear()
    group.update(pairs)


def _already(leaf: Leaf, at: Keys, name: str) -> FileError:
    fault = f"{shown(name)} is there already"
    return FileError(Problem(leaf.sheet.where(at), fault, "each name once", "Change its value"))
