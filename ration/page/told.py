"""What a face says, laid out as a page: the same sentences and tables, in sections."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ration.sheets.ears import Block, Grid, Said


@dataclass(frozen=True)
class Section:
    """Sentences and tables under one heading, "" where there is none."""

    heading: str
    blocks: tuple[Block, ...]


def sections(blocks: Sequence[Block]) -> list[Section]:
    """Blocks parted at the lines that are set in bold."""
    out: list[tuple[str, list[Block]]] = [("", [])]
    for block in blocks:
        if isinstance(block, Said) and block.style == "bold":
            out.append((block.text, []))
        else:
            out[-1][1].append(block)
    return [Section(h, tuple(b)) for h, b in out if h or b]


def first_words(blocks: Sequence[Block]) -> tuple[list[str], list[Block]]:
    """The sentences that stand before everything else, and the rest."""
    n = next(
        (i for i, b in enumerate(blocks) if not isinstance(b, Said) or b.style), len(blocks)
    )  # fmt: skip
    return [b.text for b in blocks[:n] if isinstance(b, Said)], list(blocks[n:])


def is_titled(block: Block, words: str) -> bool:
    """Whether a block is a table with these words in its title."""
    return isinstance(block, Grid) and words in block.title


def words_at(grid: Grid) -> tuple[int, ...]:
    """Columns that hold words."""
    return tuple(i for i, is_words in enumerate(grid.is_words) if is_words)
