"""Feeds and laboratory sheets as text and JSON-ready dictionaries."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ration.errors import Problem, UnknownName
from ration.faces.as_json import plain
from ration.faces.report import say, table
from ration.feeds import Feed

if TYPE_CHECKING:
    from rich.console import Console

    from ration.tables import Tables

Put = Callable[[Any], None] | None
MAIN = (
    ("dm_g_per_kg_fresh", "DM %", 0.1),
    ("me_mj_per_kg_dm", "ME MJ", 1.0),
    ("cp_g_per_kg_dm", "CP g", 1.0),
    ("ca_g_per_kg_dm", "Ca g", 1.0),
    ("p_g_per_kg_dm", "P g", 1.0),
    ("cu_mg_per_kg_dm", "Cu mg", 1.0),
)


def feed_json(feed: Feed) -> dict[str, Any]:
    """One feed with the origin of each figure."""
    return dict(
        plain(
            {
                "id": feed.id,
                "name": feed.name,
                "group": feed.group,
                "note": feed.note,
                "figures": {
                    k: {
                        "value": f.value,
                        "mark": f.mark,
                        "origin": f.origin,
                        "source": f.source,
                        "spread": f.spread,
                        "note": f.note,
                        "place": f.place,
                    }
                    for k, f in feed.figures.items()
                },
            }
        )
    )


def print_list(
    console: Callable[[], Console], tables: Tables, group: str | None, put_json: Put
) -> None:
    """All feeds, or one group, with their main figures."""
    feeds = [f for f in tables.feeds.values() if group is None or f.group == group]
    if not feeds:
        groups = sorted({f.group for f in tables.feeds.values()})
        raise UnknownName(
            Problem("--group", f'no feed is in group "{group}"', f"groups: {', '.join(groups)}")
        )
    if put_json is not None:
        put_json([feed_json(f) for f in feeds])
        return
    screen = console()
    table(
        screen,
        "",
        ("Feed", *(words for _, words, _ in MAIN), "Name"),
        [(f.id, *(_shown(f, n, k) for n, _, k in MAIN), f.name) for f in feeds],
        words=(0, len(MAIN) + 1),
        whole=(0,),
    )
    say(
        screen,
        "DM per cent of fresh; all else per kg DM. m from memory, unverified; d derived; g a "
        "guess; no letter: read in a book or yours. A blank is not known, never nought.",
        "One feed with every source: ration feeds show FEED",
    )


def _shown(feed: Feed, nutrient: str, factor: float) -> str:
    figure = feed.figures.get(nutrient)
    if figure is None:
        return ""
    letter = {"memory": "m", "derived": "d", "guess": "g"}.get(figure.mark, "")
    return f"{figure.value * factor:g}{letter}"


def print_feed(console: Callable[[], Console], tables: Tables, feed_id: str, put_json: Put) -> None:
    """One feed, each figure with its origin."""
    feed = tables.feeds[feed_id]
    if put_json is not None:
        put_json(feed_json(feed))
        return
    screen = console()
    say(screen, f"{feed.name} ({feed.id}, {feed.group})", style="bold")
    if feed.note:
        say(screen, f"Note: {feed.note}.")
    if told := tables.disagreements.get(feed_id):
        say(screen, f"Other sources: {told}.")
    rows = []
    for key, nutrient in tables.nutrients.items():
        figure = feed.figures.get(key)
        if figure is None:
            continue
        spread = "" if figure.spread is None else f" +/- {figure.spread:g}"
        rows.append((nutrient.name, f"{figure.value:g}{spread}", nutrient.unit, figure.origin))
    table(screen, "", ("Figure", "Value", "Unit", "Where it comes from"), rows, words=(0, 2, 3))
    missing = [n.name for k, n in tables.nutrients.items() if k not in feed.figures]
    say(screen, f"Not known: {', '.join(missing)}.")
    keys = {f.source for f in feed.figures.values() if f.source in tables.sources}
    say(screen, "Sources", style="bold")
    for key in sorted(keys):
        source = tables.sources[key]
        say(screen, f"{key}: {source.what} {source.address}".rstrip())


def print_analysis(
    console: Callable[[], Console],
    tables: Tables,
    sheets: Sequence[Path],
    like: str,
    name: str | None,
    put_json: Put,
) -> None:
    """Laboratory sheets as a feed of the farm, with what was checked and what was filled."""
    from ration import analysis

    read = [s for path in sheets for s in analysis.read_sheet(path, tables)]
    sample = next((s.sample for s in read if s.sample), None)
    made = analysis.feed_from(read, tables.feeds[like], tables, name=name or sample)
    if put_json is not None:
        put_json(
            plain(
                {
                    "feed": feed_json(made.feed),
                    "findings": [
                        {
                            "level": f.level,
                            "words": f.words,
                            "nutrient": f.nutrient,
                            "place": f.place,
                        }
                        for f in made.findings
                    ],
                    "derived": list(made.derived),
                    "from_book": list(made.from_book),
                    "original": [
                        {
                            "sample": s.sample,
                            "laboratory": s.laboratory,
                            "place": s.place,
                            "readings": [
                                {
                                    "nutrient": r.nutrient,
                                    "as_written": r.as_written,
                                    "value": r.value,
                                    "unit": r.unit,
                                    "basis": r.basis,
                                    "line": r.line,
                                }
                                for r in s.readings
                            ],
                            "not_understood": [str(n) for n in s.not_understood],
                        }
                        for s in made.original
                    ],
                }
            )
        )
        return
    screen = console()
    say(screen, *analysis.words(made))
    rows = []
    for key, nutrient in tables.nutrients.items():
        figure = made.feed.figures.get(key)
        if figure is None:
            continue
        spread = "" if figure.spread is None else f" +/- {figure.spread:.2g}"
        rows.append((nutrient.name, f"{figure.value:.4g}{spread}", nutrient.unit, figure.origin))
    table(
        screen,
        made.feed.name,
        ("Figure", "Value", "Unit", "Where it comes from"),
        rows,
        words=(0, 2, 3),
    )
    for sheet in made.original:
        for item in sheet.not_understood:
            say(screen, f"Kept, not understood: {item}")
    files = ", ".join(path.name for path in sheets)
    say(
        screen,
        "To use it, write under the feed in your farm file:  analysis: "
        + (files if len(sheets) == 1 else f"[{files}]"),
    )
