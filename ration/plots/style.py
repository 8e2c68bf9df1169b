"""The one look of all plots, and the one place that draws: a sheet, panels on it, a picture out.

Colours are those of Okabe and Ito, from memory, all brought to a lightness that stands out 3 to 1
from white and from near black, as WCAG 2.2 (1.4.11) asks of what is not text; words take the
colour of the page. Nothing rests on colour: each series has its own dash, mark or hatch, and its
name beside it.
"""

from __future__ import annotations

import io
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from typing import Any

import matplotlib
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle
from matplotlib.ticker import MaxNLocator
from matplotlib.transforms import Affine2D

from ration.plots import lettering, svg
from ration.plots.lettering import LINE
from ration.plots.records import PAGE, Plot, Rows, Size, Table

SERIES = (
    "#0072b2",  # blue
    "#d55e00",  # vermilion
    "#008f68",  # green, darkened
    "#be5fa0",  # purple, darkened
    "#b97a00",  # orange, darkened
    "#3a92c8",  # sky blue, darkened
    "#8a8a00",  # yellow, darkened
    "#767676",  # grey, for black
)
DASHES: tuple[Any, ...] = (
    "solid",
    (0, (6, 2)),
    (0, (2, 2)),
    (0, (7, 2, 2, 2)),
    (0, (1, 1.5)),
    (0, (10, 3)),
)
MARKS = ("o", "D", "^", "s", "v", "P", "X", "*")
HATCHES = ("", "///", "--", "\\\\\\", "xx", "||", "++", "/", "---", "\\")
_INK, _PAPER = "#010203", "#fdfeff"  # stand for the page's own colours till the end
_COLOURS = {
    _INK: ("currentColor", "ink"),
    _PAPER: ("#ffffff", "paper"),
    **{colour: (colour, f"series-{i}") for i, colour in enumerate(SERIES, 1)},
}
CSS = """\
.plot { display: block; width: 100%; height: auto; font-family: inherit; }
@media screen and (prefers-color-scheme: dark) {
  .plot .plot-stroke-paper { stroke: #161616; }
  .plot .plot-fill-paper { fill: #161616; }
}
"""
GRID, AXIS, BAND = 0.15, 0.6, 0.22
_RC = {
    **{
        name: value
        for name, value in matplotlib.rcParamsDefault.items()
        if not name.startswith(("backend", "webagg", "tk.", "date.epoch", "docstring"))
    },
    "font.family": ["DejaVu Sans"],
    "hatch.linewidth": 1.3,
    "svg.fonttype": "none",
    "svg.hashsalt": "ration",
    "text.parse_math": False,
}
_METADATA = dict.fromkeys(("Creator", "Date", "Format", "Type"))
_ONE_AT_A_TIME = threading.RLock()  # settings of matplotlib belong to the whole process
Span = tuple[float, float]


def colour(index: int) -> str:
    """Colour of a series, from 0; they begin again after the eighth."""
    return SERIES[index % len(SERIES)]


def dash(index: int) -> Any:
    """Dash of a series."""
    return DASHES[index % len(DASHES)]


def mark(index: int) -> str:
    """Mark of a series."""
    return MARKS[index % len(MARKS)]


def hatch(index: int) -> str:
    """Hatch of a series; with the colour it is its own up to the fortieth."""
    return HATCHES[index % len(HATCHES)]


def span_of(values: Sequence[float], *, spare: float = 0.08, least: float = 1.0) -> Span:
    """Ends of a scale that holds all values with some to spare, never of no length."""
    low, high = (min(values), max(values)) if values else (0.0, least)
    more = max((high - low) * spare, (least - (high - low)) / 2, 1e-9)
    return low - more, high + more


def ticks_of(span: Span, most: int) -> list[float]:
    """Round values on a scale, about so many."""
    found = MaxNLocator(nbins=max(most, 1), min_n_ticks=1, steps=[1, 2, 2.5, 5, 10]).tick_values(
        *span
    )
    slack = (span[1] - span[0]) * 1e-9
    return [float(v) for v in found if span[0] - slack <= v <= span[1] + slack]


def flow(
    words: Sequence[str], size: Size, before: float, *, apart: float = 14.0
) -> list[list[tuple[float, int]]]:
    """Where names with a swatch before them stand, in as many rows as they need.

    Returns
    -------
    list of rows
        Each a list of where a name's swatch begins and which name it is. [grid units]
    """
    rows: list[list[tuple[float, int]]] = [[]]
    across = 4.0
    for i, name in enumerate(words):
        wide = before + lettering.width(name, size.text)
        if rows[-1] and across + wide > size.width - 4:
            rows.append([])
            across = 4.0
        rows[-1].append((across, i))
        across += wide + apart
    return rows


def months_of(start: date, end: date, most: int) -> list[tuple[date, str]]:
    """Days to mark between two days: first days of months, or days where there are too few."""
    firsts = [
        date(year, month, 1)
        for year in range(start.year, end.year + 1)
        for month in range(1, 13)
        if start <= date(year, month, 1) <= end
    ]
    if len(firsts) >= 3:
        every = -(-len(firsts) // max(most, 1))
        return [(day, f"{day:%b}") for day in firsts[::every]]
    days = (end - start).days
    step = max(-(-days // max(most - 1, 1)), 1)
    found = [date.fromordinal(start.toordinal() + i) for i in range(0, days + 1, step)]
    return [(day, f"{day.day} {day:%b}") for day in found]


@dataclass(frozen=True)
class Panel:
    """A part of a sheet with a scale each way.

    Attributes
    ----------
    sheet : Sheet
    left, top, right, bottom : float
        [grid units], down from the top
    x, y : tuple of float
        What the ends stand for.
    """

    sheet: Sheet
    left: float
    top: float
    right: float
    bottom: float
    x: Span
    y: Span

    def at_x(self, value: float) -> float:
        """Across. [grid units]"""
        share = (value - self.x[0]) / (self.x[1] - self.x[0])
        return self.left + share * (self.right - self.left)

    def at_y(self, value: float) -> float:
        """Down. [grid units]"""
        share = (value - self.y[0]) / (self.y[1] - self.y[0])
        return self.bottom - share * (self.bottom - self.top)

    @property
    def transform(self) -> Affine2D:
        """From values to where they are drawn."""
        wide = (self.right - self.left) / (self.x[1] - self.x[0])
        tall = (self.bottom - self.top) / (self.y[1] - self.y[0])
        across = self.left - self.x[0] * wide
        up = self.sheet.height - self.bottom - self.y[0] * tall
        return Affine2D.from_values(wide, 0, 0, tall, across, up)

    def line(self, x: Sequence[float], y: Sequence[float], **looks: Any) -> None:
        """A line or marks through values."""
        self.sheet.add(Line2D(x, y, transform=self.transform, **looks))

    def series(self, x: Sequence[float], y: Sequence[float], index: int, **looks: Any) -> None:
        """A line in the colour and dash of a series."""
        drawn = {"color": colour(index), "linestyle": dash(index), "linewidth": 2.2, **looks}
        self.line(x, y, **drawn)

    def points(
        self,
        x: Sequence[float],
        y: Sequence[float],
        index: int,
        *,
        is_open: bool = False,
        **looks: Any,
    ) -> None:
        """Marks of a series, filled or open."""
        face = _PAPER if is_open else colour(index)
        drawn = {"marker": mark(index), "markersize": 9.0, "markerfacecolor": face, **looks}
        self.line(x, y, linestyle="none", color=colour(index), **{"markeredgewidth": 1.8, **drawn})

    def bar(self, x: Span, y: Span, index: int) -> None:
        """A bar in the colour and hatch of a series."""
        box = Rectangle(
            (x[0], y[0]),
            x[1] - x[0],
            y[1] - y[0],
            transform=self.transform,
            facecolor=colour(index),
            edgecolor=_PAPER,
            hatch=hatch(index) or None,
            linewidth=1.0,
        )
        self.sheet.add(box)

    def band(
        self, x: Sequence[float], low: Sequence[float], high: Sequence[float], index: int
    ) -> None:
        """A band between two lines."""
        around = [*zip(x, low, strict=True), *reversed(list(zip(x, high, strict=True)))]
        self.sheet.add(
            Polygon(
                around,
                transform=self.transform,
                facecolor=colour(index),
                alpha=BAND,
                linewidth=0,
            )
        )

    def upright(self, x: float, **looks: Any) -> None:
        """A line from top to bottom at a value."""
        drawn = {"color": _INK, "linewidth": 1.2, "linestyle": (0, (4, 3)), **looks}
        self.line([x, x], list(self.y), **drawn)

    def x_axis(self, labels: Sequence[tuple[float, str]]) -> None:
        """The line at the foot, and words under it."""
        self.line(self.x, [self.y[0]] * 2, color=_INK, alpha=AXIS, linewidth=1)
        for value, _ in labels:
            at = self.at_x(value), self.bottom
            self.sheet.line([at[0]] * 2, [at[1], at[1] + 4], color=_INK, alpha=AXIS)
        self._under(labels)

    def x_axis_below(self, labels: Sequence[tuple[float, str]]) -> None:
        """Faint lines down a panel whose values run downward, and words under them."""
        for value, _ in labels:
            self.line([value] * 2, self.y, color=_INK, alpha=GRID, linewidth=1, zorder=0)
        self._under(labels)

    def _under(self, labels: Sequence[tuple[float, str]]) -> None:
        """Words under the foot, those that would touch the last ones left out."""
        size, wide = self.sheet.size.text, self.sheet.size.width
        free = 0.0
        for value, words in labels:
            half = lettering.width(words, size) / 2
            across = min(max(self.at_x(value), half), wide - half)
            if across - half >= free:
                self.sheet.words(across, self.bottom + 4 + size * 0.8, words, anchor="middle")
                free = across + half + size / 2

    def y_axis(self, labels: Sequence[tuple[float, str]], unit: str) -> None:
        """Faint lines across, a value before each, and on top what they are."""
        size = self.sheet.size.text
        for value, words in labels:
            self.line(self.x, [value] * 2, color=_INK, alpha=GRID, linewidth=1, zorder=0)
            self.sheet.words(self.left - 6, self.at_y(value), words, anchor="end")
        self.sheet.words(2, self.top - size, unit)


class Sheet:
    """A picture being drawn; lengths in grid units, down from the top left."""

    def __init__(self, size: Size, height: float) -> None:
        self.size = size
        self.height = height
        self.figure = Figure(figsize=(size.width / 72, height / 72), dpi=72)
        FigureCanvasSVG(self.figure)
        self.figure.patch.set_visible(False)
        self._words: dict[str, str] = {}

    def add(self, artist: Any) -> None:
        """Something of matplotlib's, with its transform set."""
        self.figure.add_artist(artist)

    def line(self, x: Sequence[float], y: Sequence[float], **looks: Any) -> None:
        """A line in grid units."""
        up = [self.height - value for value in y]
        drawn = {"linewidth": 1.0, "transform": Affine2D(), **looks}
        self.add(Line2D(x, up, **drawn))

    def swatch(self, x: float, y: float, index: int, side: float) -> None:
        """A small square in the colour and hatch of a series, by its middle."""
        box = Panel(self, x - side / 2, y - side / 2, x + side / 2, y + side / 2, (0, 1), (0, 1))
        box.bar((0, 1), (0, 1), index)

    def mark(self, x: float, y: float, index: int, **looks: Any) -> None:
        """One mark of a series by its middle."""
        Panel(
            self, 0, 0, self.size.width, self.height, (0, self.size.width), (self.height, 0)
        ).points([x], [y], index, **looks)

    def words(
        self, x: float, y: float, words: str, *, anchor: str = "start", is_bold: bool = False
    ) -> None:
        """One line of words with its middle at a height; never measured or read as a formula."""
        shown = lettering.clean(words)
        if not shown:
            return
        name = f"{svg.WORDS}{len(self._words) + 1}"
        self._words[name] = shown
        drawn = "".join(c if lettering.is_drawn(c) else "x" for c in shown)
        self.figure.text(
            x / self.size.width,
            1 - (y + self.size.text * 0.36) / self.height,
            drawn,
            fontsize=self.size.text,
            color=_INK,
            ha={"start": "left", "middle": "center", "end": "right"}[anchor],
            va="baseline",
            gid=name,
            weight="bold" if is_bold else "normal",
        )

    def lines(self, x: float, y: float, lines: Sequence[str], *, anchor: str = "start") -> None:
        """Lines of words with the middle of them all at a height."""
        step = self.size.text * LINE
        first = y - step * (len(lines) - 1) / 2
        for i, words in enumerate(lines):
            self.words(x, first + i * step, words, anchor=anchor)

    def picture(self, key: str, title: str, sentence: str) -> str:
        """The finished picture."""
        out = io.StringIO()
        self.figure.savefig(out, format="svg", metadata=_METADATA)
        return svg.finished(
            out.getvalue(),
            key=key,
            title=title,
            sentence=sentence,
            words=self._words,
            colours=_COLOURS,
        )


@contextmanager
def sheet(size: Size, height: float) -> Iterator[Sheet]:
    """A sheet to draw on; settings of matplotlib are as they were afterwards."""
    with _ONE_AT_A_TIME, matplotlib.rc_context(_RC):
        yield Sheet(size, height)


def plot(drawn: Sheet, key: str, title: str, sentence: str, table: Table) -> Plot:
    """The plot of a sheet."""
    named, said = lettering.clean(title), lettering.clean(sentence)
    heads, rows = table
    return Plot(
        drawn.picture(key, named, said),
        named,
        said,
        (_cleaned(heads), tuple(map(_cleaned, rows))),
    )


def _cleaned(cells: Sequence[str]) -> tuple[str, ...]:
    return tuple(map(lettering.clean, cells))


def nothing(
    key: str, title: str, why: str, heads: Sequence[str], *, rows: Rows = (), size: Size = PAGE
) -> Plot:
    """A plot of nothing that says why."""
    lines = lettering.wrap(why, size.text, size.width - 8, most=4)
    tall = size.text * LINE * (len(lines) + 1)
    with sheet(size, tall) as drawn:
        drawn.lines(4, tall / 2, lines)
        return plot(drawn, key, title, why, (tuple(heads), rows))
