"""How a farm file's text is cut and put together; what comes out is looked at by `settle`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ration.farm.write import quoting
from ration.farm.write.quoting import Value
from ration.farm.write.spots import Leaf
from ration.strict_yaml import Key, Keys

NEAR_LINES = 12  # a new remark lines up with one no further above
MOST_IN = 1000
STEP = 2  # spaces a new group is set in by, when the file has none to follow


def over(leaf: Leaf, at: Keys, new: str) -> str:
    """The text with a value put where one stands; remarks inside the old one stay."""
    span = leaf.span(at)
    if span.kind == "block" and at in leaf.sheet.name_spans:
        return _over_block(leaf, at, new)
    if span.kind == "empty":
        put = spaced(leaf, span.start, new) if new else ""
        return leaf.with_text(span.start, span.end, put)
    return leaf.with_text(span.start, span.end, new + kept(leaf, span.start, span.end))


def _over_block(leaf: Leaf, at: Keys, new: str) -> str:
    """An indented group or list replaced by a value behind its name."""
    colon = leaf.text.index(":", leaf.sheet.name_spans[at][1]) + 1
    first, last = leaf.next_line(colon), leaf.next_line(leaf.span(at).end)
    lines = remark_lines(leaf, first, last)
    put = leaf.with_text(colon, colon, f" {new}" if new else "")
    grown = len(put) - len(leaf.text)
    return put[: first + grown] + lines + put[last + grown :]


def spaced(leaf: Leaf, at: int, new: str) -> str:
    """A value put where there was none: after a space."""
    return f" {new}" if leaf.text[at - 1 : at] in (":", "-") else f": {new}"


def kept(leaf: Leaf, start: int, end: int) -> str:
    """Remarks inside a stretch that is replaced, to stand behind what replaces it."""
    remarks = leaf.remarks_in(start, end)
    if not remarks:
        return ""
    stop = leaf.line_break(start) + " " * (start - leaf.line_start(start))
    closes = leaf.text[end : leaf.line_end(end)].strip()
    return "  " + stop.join(remarks) + (stop if closes else "")


def remark_lines(leaf: Leaf, first: int, last: int, furthest: int = MOST_IN) -> str:
    """Remarks of a stretch of whole lines, each on its own line as far in as that line was.

    `furthest` is the most they may be set in: further, they might join a block of text above.
    """
    lines = []
    for start, end in leaf.remarks:
        if first <= start < last:
            line = leaf.text[leaf.line_start(start) : start]
            indent = line[: min(len(line) - len(line.lstrip(" ")), furthest)]
            lines.append(indent + leaf.text[start:end] + leaf.line_break(start))
    return "".join(lines)


def with_lines(leaf: Leaf, after: int, lines: Sequence[str]) -> str:
    """The text with lines added below the one on which a character stands."""
    stop, at = leaf.line_break(after), leaf.next_line(after)
    if at == leaf.line_end(after):  # the file's last line, with no end
        return leaf.text + "".join(stop + line for line in lines)
    return leaf.text[:at] + "".join(line + stop for line in lines) + leaf.text[at:]


def into_brackets(leaf: Leaf, group: Keys, new: str, after: Key | None) -> str:
    """Something added inside a group's brackets, behind one of its entries."""
    if after is None:
        at = leaf.span(group).start + 1
        return leaf.with_text(at, at, new + ("" if leaf.text[at : at + 1] in "}]" else " "))
    at = leaf.span((*group, after)).end
    return leaf.with_text(at, at, f", {new}")


def out_of_brackets(leaf: Leaf, at: Keys) -> str:
    """An entry and its comma taken out of a group's brackets."""
    entries = leaf.children(at[:-1])
    i = entries.index(at[-1])
    start, end = leaf.start(at), leaf.span(at).end
    if i + 1 < len(entries):
        end = leaf.sign(",", end, leaf.start((*at[:-1], entries[i + 1]))) + 1
        while leaf.text[end : end + 1] == " ":
            end += 1
    elif i:
        start = leaf.sign(",", leaf.span((*at[:-1], entries[i - 1])).end, start)
    return leaf.with_text(start, end, kept(leaf, start, end))


def block_lines(
    leaf: Leaf, group: Keys, name: str, value: Value, follows: Key | None, deep: int
) -> str:
    """Lines added to an indented group, or below a name that has nothing yet.

    `deep` levels of the value are groups of their own lines; what is below stands in brackets.
    """
    step = step_of(leaf)
    if follows is not None:
        first = leaf.start((*group, leaf.children(group)[0]))
        column, behind = first - leaf.line_start(first), leaf.span((*group, follows)).end
    else:
        start = leaf.start(group)
        column, behind = start - leaf.line_start(start) + step, leaf.span(group).end
    lines = []
    while deep and isinstance(value, Mapping):
        lines.append(" " * column + f"{quoting.name(name)}:")
        ((name, value),) = value.items()
        column, deep = column + step, deep - 1
    lines.append(" " * column + f"{quoting.name(name)}: {quoting.written(value)}".rstrip())
    return with_lines(leaf, behind, lines)


def step_of(leaf: Leaf) -> int:
    """How far the file sets its groups in: as its first one does."""
    for keys, span in leaf.sheet.spans.items():
        if len(keys) == 1 and span.kind == "block" and not span.is_list:
            return max(span.start - leaf.line_start(span.start), 1)
    return STEP


def _column(leaf: Leaf, at: int) -> int:
    """Column of the last remark above that stands behind something; 0 when it is far off."""
    for start, _ in reversed(leaf.remarks):
        first = leaf.line_start(start)
        if start < at and leaf.text[first:start].strip():
            return start - first if leaf.line_of(at) - leaf.line_of(start) < NEAR_LINES else 0
    return 0


def noted(leaf: Leaf, at: Keys, note: str) -> str:
    """The text with words added to the remark at the end of a value's line."""
    span = leaf.span(at)
    end = span.end if span.kind != "block" else leaf.sheet.name_spans[at][1]
    there = leaf.remark_after(end)
    if there is None:
        stop = leaf.line_end(end)
        stop -= len(leaf.text[end:stop]) - len(leaf.text[end:stop].rstrip())
        gap = " " * max(2, _column(leaf, stop) - (stop - leaf.line_start(stop)))
        return leaf.text[:stop] + f"{gap}# {note}" + leaf.text[stop:]
    old = leaf.text[there[0] : there[1]].rstrip()
    if old.lstrip("# ") == note or old.endswith(f"; {note}"):
        return leaf.text
    joined = f"{old}; {note}" if old.strip("# ") else f"# {note}"
    return leaf.text[: there[0]] + joined + leaf.text[there[0] + len(old) :]
