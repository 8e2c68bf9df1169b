"""One sheet as one HTML file: template, style, foot; escaped by the template engine."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from importlib import resources
from typing import TYPE_CHECKING, Any, Protocol

from ration.cautions import STANDING
from ration.sheets.ears import Grid, Rule, Said
from ration.units import in_words_day

if TYPE_CHECKING:
    from jinja2 import Environment

_PLAIN = re.compile(r"[A-Za-z0-9]")
_HEAD = re.compile(r"\A\s*(<\?xml[^>]*\?>|<!DOCTYPE[^>]*>|<!--.*?-->|\s)*", re.DOTALL)
_DATA = re.compile(r"<metadata\b.*?</metadata>", re.DOTALL)
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ufffe\uffff]")


@dataclass(frozen=True)
class Foot:
    """What stands at the foot of every page.

    Attributes
    ----------
    program : str
        Name and version.
    dated : date
        Day it was printed.
    tables : str
        Hash of the feed tables.
    """

    program: str
    dated: date
    tables: str

    @property
    def words(self) -> str:
        """Program, day and tables in one line."""
        return f"{self.program}; printed {in_words_day(self.dated)}; feed tables {self.tables}"


class Picture(Protocol):
    """A plot as `ration.plots` draws it; the sheet shows it with its sentence under it."""

    @property
    def svg(self) -> str:
        """The drawing."""

    @property
    def title(self) -> str:
        """Its name."""

    @property
    def sentence(self) -> str:
        """What it shows, in words."""


def foot(dated: date, tables: str) -> Foot:
    """The foot of this version of the program."""
    from importlib import metadata

    return Foot(f"ration {metadata.version('ration')}", dated, tables)


def css_text(words: str) -> str:
    r"""Text as a string in a style sheet; whatever is not a letter or digit is escaped.

    Examples
    --------
    >>> css_text('a"</style>')
    '"a\\000022\\00003c\\00002fstyle\\00003e"'
    """
    return '"' + "".join(c if _PLAIN.match(c) else f"\\{ord(c):06x}" for c in words) + '"'


def svg_inside(svg: str) -> str:
    """A drawing fit to stand inside a page: no prologue, no metadata.

    Raises
    ------
    ValueError
        It holds a script or fetches something.
    """
    bare = _DATA.sub("", _HEAD.sub("", svg, count=1))
    if re.search(r"<script|<foreignObject|\son\w+\s*=|href\s*=\s*[\"'](?!#)", bare, re.IGNORECASE):
        raise ValueError("a drawing on a sheet may hold no script and fetch nothing")
    return bare


def _clean(words: object) -> str:
    """Text without the control characters that no page may hold."""
    return _CONTROL.sub("\ufffd", str(words))


@lru_cache(maxsize=1)
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("ration.sheets", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=lambda x: _CONTROL.sub("\ufffd", x) if type(x) is str else x,
    )
    made.tests["said"] = lambda x: isinstance(x, Said)
    made.tests["grid"] = lambda x: isinstance(x, Grid)
    made.tests["rule"] = lambda x: isinstance(x, Rule)
    made.filters["svg"] = _svg
    return made


def _svg(picture: Picture) -> Any:
    from markupsafe import Markup

    return Markup(svg_inside(picture.svg))  # checked above, drawn by our own plots


def sheet(template: str, title: str, at_foot: Foot, *, body: str = "", **given: Any) -> str:
    """One HTML file.

    Parameters
    ----------
    template : str
        File in `templates/`.
    title : str
        Of the document.
    at_foot : Foot
    body : str
        Class of the body: which sheet it is.
    given
        What the template asks for.
    """
    from markupsafe import Markup

    style = resources.files("ration.sheets").joinpath("paper.css").read_text("utf-8")
    margin = (
        f"@page {{ @bottom-left {{ content: {css_text(STANDING)} {css_text(chr(10))} "
        f"{css_text(at_foot.words)} }} }}\n"
    )
    return _environment().get_template(template).render(
        title=_clean(title),
        foot=at_foot.words,
        standing=STANDING,
        style=Markup(style + margin),  # our own file, and text that is escaped
        body=body,
        **given,
    )  # fmt: skip


def chunks(things: Sequence[Any], size: int) -> list[list[Any]]:
    """Things in groups of at most `size`, as even as may be.

    Examples
    --------
    >>> chunks("abcd", 3)
    [['a', 'b'], ['c', 'd']]
    """
    count = max(1, -(-len(things) // size))
    each, odd = divmod(len(things), count)
    out, at = [], 0
    for i in range(count):
        step = each + (i < odd)
        out.append(list(things[at : at + step]))
        at += step
    return out
