"""The feed table as a workbook, in the layout that `--tables` and `ration feeds check` read."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from ration.errors import Problem, UnknownName
from ration.workbooks.read_me import first_sheet, started
from ration.workbooks.sheet import Column, Value

if TYPE_CHECKING:
    from ration.tables import Tables

TABLE, BY_FEED, NUTRIENTS = "Feed table", "Figures by feed", "What the figures are"
# The long form of a table of one's own, column for column.
LAYOUT = (
    Column("feed_id"), Column("nutrient"), Column("value", "figure"), Column("unit"),
    Column("basis"), Column("spread", "figure"), Column("mark"), Column("source"), Column("note"),
    Column("name"), Column("group"),
)  # fmt: skip


def feeds_book(tables: Tables, group: str | None = None) -> bytes:
    """Every figure of every feed, or of one group, with unit, basis, mark, source and note.

    Parameters
    ----------
    tables : Tables
    group : str or None
        hay, straw, cereal, ...

    Raises
    ------
    UnknownName
        No feed is in that group.
    """
    feeds = [f for f in tables.feeds.values() if group is None or f.group == group]
    if not feeds:
        known = ", ".join(sorted({f.group for f in tables.feeds.values()}))
        raise UnknownName(Problem("--group", f'no feed is in group "{group}"', f"groups: {known}"))
    rows: list[tuple[Value, ...]] = []
    for feed in feeds:
        for key, figure in feed.figures.items():
            nutrient = tables.nutrients[key]
            rows.append((
                feed.id, key, figure.value, nutrient.unit, nutrient.basis, figure.spread,
                figure.mark, figure.source, figure.note, feed.name, feed.group,
            ))  # fmt: skip
    figures = [f for feed in feeds for f in feed.figures.values()]
    used = [k for k in tables.nutrients if any(k in f.figures for f in feeds)]
    book = started("Feed table", _day(tables.version), tables)
    first_sheet(
        book,
        "The feed table" if group is None else f"The feed table, group {group}",
        [],
        tables,
        sheets=(
            (TABLE, "one row a feed and figure; change a value here and use the workbook as your "
             "own table: ration feeds check FILE, then --tables FILE"),
            (BY_FEED, "one row a feed"),
            (NUTRIENTS, "what each figure means"),
        ),
        notes=("A figure whose value you change becomes yours: its mark and source are replaced.",),
        marks=[f.mark for f in figures],
        sources=[f.source for f in figures],
    )  # fmt: skip
    book.table(TABLE, LAYOUT, rows, nothing="")
    book.table(
        BY_FEED,
        (
            Column("Feed"), Column("Name"), Column("Group"), Column("Confidence"),
            *(Column(f"{tables.nutrients[k].name} ({tables.nutrients[k].unit})", "figure")
              for k in used),
            Column("Note"), Column("What other sources say"),
        ),
        [
            (
                f.id, f.name, f.group, tables.confidence.get(f.id), *(f.get(k) for k in used),
                f.note, tables.disagreements.get(f.id),
            )
            for f in feeds
        ],
    )  # fmt: skip
    book.table(
        NUTRIENTS,
        (Column("Figure"), Column("Name"), Column("Unit"), Column("Basis"), Column("Meaning")),
        [(k, n.name, n.unit, n.basis, n.meaning) for k, n in tables.nutrients.items() if k in used],
    )
    return book.data()


def _day(version: str) -> date | None:
    """The tables' version is a day."""
    try:
        return date.fromisoformat(version)
    except ValueError:
        return None
