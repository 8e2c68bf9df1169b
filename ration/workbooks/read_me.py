"""The sheet that stands first: what this is, in words, what to be careful of, where from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from importlib import metadata
from typing import TYPE_CHECKING

from ration.cautions import STANDING
from ration.feeds import MARK_WORDS
from ration.workbooks.sheet import Book, Column

if TYPE_CHECKING:
    from datetime import date

    from ration.tables import Tables

READ_ME = "Read me"
BLANK = (
    "A blank cell means not known or not said, never nought. Units stand in the headings. Numbers "
    "are kept with all their digits; the format shows a few."
)


def version() -> str:
    """Of this program, as installed."""
    try:
        return metadata.version("ration")
    except metadata.PackageNotFoundError:
        return "not installed"


def started(title: str, on: date | None, tables: Tables) -> Book:
    """A workbook with its foot: program, version, hash of the tables."""
    foot = f"ration {version()}, feed tables {tables.version} {tables.digest}"
    return Book(title, on, foot)


def first_sheet(
    book: Book,
    title: str,
    words: Sequence[str],
    tables: Tables,
    *,
    sheets: Sequence[tuple[str, str]] = (),
    notes: Sequence[str] = (),
    marks: Iterable[str] = (),
    sources: Iterable[str] = (),
) -> None:
    """The sheet to read first.

    Parameters
    ----------
    book : Book
    title : str
    words : sequence of str
        The answer in sentences.
    tables : Tables
    sheets : sequence of (str, str)
        The sheets that follow and what is on each.
    notes : sequence of str
        How it was worked.
    marks, sources : iterable of str
        Marks and keys of sources that stand in the workbook; unknown keys are files of the user.
    """
    rows: list[tuple[str, str]] = [("What this is", title)]
    rows += [("In words" if i == 0 else "", text) for i, text in enumerate(words)]
    rows.append(("Take care", STANDING))
    rows += [(f"Sheet: {name}", what) for name, what in sheets]
    rows += [("How to read it" if i == 0 else "", text) for i, text in enumerate((BLANK, *notes))]
    rows.append(("Made by", f"ration {version()}"))
    rows.append(("Feed tables", f"{tables.version}, hash {tables.digest}"))
    found = dict.fromkeys(m for m in marks if m)
    rows += [(f"Mark: {m}", MARK_WORDS[m]) for m in MARK_WORDS if m in found]
    for key in sorted({s for s in sources if s}):
        source = tables.sources.get(key)
        what = f"{source.what} {source.address}".strip() if source else "a file or label of yours"
        rows.append((f"Source: {key}", what))
    book.table(READ_ME, (Column("About"), Column("Words")), rows)
