"""What a plot is once drawn, and the two sizes it is drawn in."""

from __future__ import annotations

from dataclasses import dataclass

Rows = tuple[tuple[str, ...], ...]
Table = tuple[tuple[str, ...], Rows]


@dataclass(frozen=True)
class Size:
    """A grid to draw on; the picture itself has no fixed width and fills what it is given.

    Attributes
    ----------
    name : str
    width : float
        [grid units]
    text : float
        Size of the words. [grid units]
    """

    name: str
    width: float
    text: float


PAGE = Size("page", 420.0, 13.0)  # 11 px on a phone 390 px wide
PAPER = Size("paper", 680.0, 15.0)  # 11 pt on paper where 680 units are 180 mm


@dataclass(frozen=True)
class Plot:
    """One plot, and the same data to be read.

    Attributes
    ----------
    svg : str
        The picture as text, without declaration, ready to stand in a page.
    title : str
    sentence : str
        What it shows, in plain words; its name to a screen reader.
    table : tuple of heads and rows
        What is drawn, each cell as print: nothing drawn is missing from it.
    """

    svg: str
    title: str
    sentence: str
    table: Table

    @property
    def heads(self) -> tuple[str, ...]:
        """Headings of the table."""
        return self.table[0]

    @property
    def rows(self) -> Rows:
        """Rows of the table."""
        return self.table[1]


def usual_height(size: Size) -> float:
    """Height of a plot with one panel. [grid units]"""
    return 150 + 0.26 * size.width
