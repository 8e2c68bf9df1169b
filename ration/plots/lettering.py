"""Words on a plot: made clean, measured and broken into lines before anything is drawn."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from functools import cache, lru_cache
from pathlib import Path

import matplotlib
from matplotlib.ft2font import FT2Font

LINE = 1.25  # of the text's size
_UNKNOWN_EM = 1.0
_SHIPPED = "fonts/ttf/DejaVuSans.ttf"
# not allowed in XML, or turning the direction of the words around them
_OUT = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ufff0-\uffff\ud800-\udfff]"
)


@cache
def _font() -> FT2Font:
    font = FT2Font(str(Path(matplotlib.get_data_path()) / _SHIPPED))
    font.set_size(100, 72)
    return font


@lru_cache(maxsize=4096)
def _advance_em(char: str) -> float:
    if not is_drawn(char):
        return 0.0 if unicodedata.combining(char) else _UNKNOWN_EM
    return float(_font().load_char(ord(char)).linearHoriAdvance / 65536 / 100)


@lru_cache(maxsize=4096)
def is_drawn(char: str) -> bool:
    """Whether the font that everything is measured with has the sign."""
    return bool(_font().get_char_index(ord(char)))


def clean(words: object) -> str:
    """One line of text that any picture can hold: no control signs, single spaces."""
    return " ".join(_OUT.sub(" ", str(words)).split())


def width(words: str, size: float) -> float:
    """Width of words at a size of text. [grid units]"""
    return size * sum(map(_advance_em, words))


def cut(words: str, size: float, room: float) -> str:
    """The words, or as many signs of them as fit with three points after. [grid units]"""
    if width(words, size) <= room:
        return words
    kept = words
    while kept and width(f"{kept}…", size) > room:
        kept = kept[:-1]
    return f"{kept.rstrip()}…"


def wrap(words: str, size: float, room: float, most: int = 2) -> tuple[str, ...]:
    """The words in lines that fit a room, at most so many; what is left over is cut."""
    lines: list[str] = []
    for word in clean(words).split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width(longer, size) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    if len(lines) > most:
        lines = [*lines[: most - 1], " ".join(lines[most - 1 :])]
    return tuple(cut(line, size, room) for line in lines)


def spread(
    wanted: Sequence[float], heights: Sequence[float], low: float, high: float
) -> list[float]:
    """Middles of labels near where they are wanted, in the same order, none over another.

    Parameters
    ----------
    wanted, heights : sequence of float
        Where each is wanted, in rising order, and how much room it takes. [grid units]
    low, high : float
        Room for all of them; passed over at the end only where they do not fit. [grid units]

    Examples
    --------
    >>> spread([10.0, 11.0], [4.0, 4.0], 0.0, 100.0)
    [8.5, 12.5]
    """
    groups: list[list[float]] = []  # top of a group, its height, how many are in it
    for middle, tall in zip(wanted, heights, strict=True):
        groups.append([min(max(middle - tall / 2, low), high - tall), tall, 1])
        while len(groups) > 1 and groups[-2][0] + groups[-2][1] > groups[-1][0]:
            top, size, n = groups.pop()
            before = groups[-1]
            overlap = before[0] + before[1] - top
            before[0] -= overlap * n / (n + before[2])
            before[1] += size
            before[2] += n
            before[0] = max(min(before[0], high - before[1]), low)
    out: list[float] = []
    for top, _, n in groups:
        at = top
        for tall in heights[len(out) : len(out) + int(n)]:
            out.append(at + tall / 2)
            at += tall
    return out
