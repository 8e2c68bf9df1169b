"""What a face would put on the screen, kept as sentences and tables to be laid out on paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    from rich.console import Console


@dataclass(frozen=True)
class Said:
    """One line of text.

    Attributes
    ----------
    text : str
    style : str
        "", bold, or dim for method and sources.
    """

    text: str
    style: str = ""


@dataclass(frozen=True)
class Grid:
    """One table.

    Attributes
    ----------
    title : str
    heads : tuple of str
    is_words : tuple of bool
        For each column: text keeps left, figures right.
    rows : tuple of tuple of str
    """

    title: str
    heads: tuple[str, ...]
    is_words: tuple[bool, ...]
    rows: tuple[tuple[str, ...], ...]

    def columns(self, *places: int) -> Grid:
        """Only some columns, in the order given."""
        return replace(
            self,
            heads=tuple(self.heads[i] for i in places),
            is_words=tuple(self.is_words[i] for i in places),
            rows=tuple(tuple(row[i] for i in places) for row in self.rows),
        )


@dataclass(frozen=True)
class Rule:
    """A line across: a new batch, or what is common to all."""


Block = Said | Grid | Rule


class _Ears:
    """Takes what is printed; knows of a console only what the faces use."""

    def __init__(self) -> None:
        self.blocks: list[Block] = []

    def print(self, *things: Any) -> None:
        """A table or a line of text."""
        for thing in things:
            if hasattr(thing, "columns"):
                self.blocks.append(_grid(thing))
            else:
                self.blocks.append(Said(str(thing), str(getattr(thing, "style", "") or "")))

    def rule(self, *_: Any, **__: Any) -> None:
        """A line across."""
        self.blocks.append(Rule())


def _grid(thing: Any) -> Grid:
    columns = thing.columns
    cells = [[str(cell) for cell in column.cells] for column in columns]
    return Grid(
        title=str(thing.title or ""),
        heads=tuple(str(column.header) for column in columns),
        is_words=tuple(column.justify == "left" for column in columns),
        rows=tuple(zip(*cells, strict=True)),
    )


def heard(put: Callable[[Console], None]) -> tuple[Block, ...]:
    """All that a face prints, in order.

    Parameters
    ----------
    put : callable
        Prints on the console it is given: ``lambda c: report.print_mix(c, done)``.
    """
    ears = _Ears()
    put(cast("Console", ears))
    return tuple(ears.blocks)


def grid(blocks: Iterable[Block], title: str = "", head: str = "") -> Grid:
    """The first table whose title, or whose first heading, begins so.

    Raises
    ------
    LookupError
        The face no longer prints such a table.
    """
    for block in blocks:
        if (
            isinstance(block, Grid)
            and block.title.startswith(title)
            and block.heads[0].startswith(head)
        ):
            return block
    raise LookupError(f'no table begins with "{title or head}"')


def parts(blocks: Sequence[Block]) -> list[tuple[Block, ...]]:
    """What stands between the lines across."""
    out: list[list[Block]] = [[]]
    for block in blocks:
        if isinstance(block, Rule):
            out.append([])
        else:
            out[-1].append(block)
    return [tuple(part) for part in out]


@dataclass(frozen=True)
class Merged:
    """Tables of several batches side by side.

    Attributes
    ----------
    names : tuple of str
        Of the batches.
    heads : tuple of str
        Of the columns under each batch.
    rows : tuple of (str, tuple of tuple of str)
        Label, then the cells of each batch; empty ones where it has no such row.
    """

    names: tuple[str, ...]
    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]


def merged(
    grids: Sequence[tuple[str, Grid]],
    places: Sequence[int],
    heads: Sequence[str],
    last: Sequence[str] = (),
) -> Merged:
    """Tables with the same first column laid beside each other.

    Parameters
    ----------
    grids : sequence of (str, Grid)
        A batch's name and its table.
    places : sequence of int
        Columns to keep.
    heads : sequence of str
        Their headings.
    last : sequence of str
        Labels of rows that belong at the foot.
    """
    labels: list[str] = []
    for _, one in grids:
        at = -1
        for row in one.rows:
            if row[0] in labels:
                at = labels.index(row[0])
            else:
                at += 1
                labels.insert(at, row[0])
    labels = [x for x in labels if x not in last] + [x for x in last if x in labels]
    blank = ("",) * len(places)
    by_batch = [
        {row[0]: tuple(row[i] for i in places) for row in one.rows} for _, one in grids
    ]  # fmt: skip
    return Merged(
        names=tuple(name for name, _ in grids),
        heads=tuple(heads),
        rows=tuple((x, tuple(cells.get(x, blank) for cells in by_batch)) for x in labels),
    )
