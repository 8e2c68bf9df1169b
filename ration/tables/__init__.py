"""The feed tables: found, read, checked, overlaid with the user's own and copied for editing.

The shipped tables are never written to. An overlay is a file or a folder of the user's; each of
its figures takes the place of the shipped one of the same feed and nutrient, all else stays.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path
from types import MappingProxyType

from ration.errors import FileError, InputError, Problem, TableError
from ration.feeds import Feed, FeedTable, Figure
from ration.tables import book, minerals
from ration.tables.csvfile import Field, Grid, Row, Schema, cut, plain, read_rows, read_text, rows
from ration.tables.minerals import MineralLevel
from ration.tables.records import (
    CP_PER_N,
    Assumption,
    DefaultCaution,
    DefaultLimit,
    Doubt,
    Nutrient,
    Range,
    Source,
    Tables,
    consistency,
    range_fault,
    unknown_nutrient,
)

__all__ = [
    "Assumption",
    "DefaultCaution",
    "DefaultLimit",
    "Doubt",
    "MineralLevel",
    "Nutrient",
    "Range",
    "Source",
    "Tables",
    "assumed",
    "check",
    "copy",
    "load",
    "read_rows",
    "schemas",
    "tables_folder",
]

DESCRIPTOR = "datapackage.json"
NEEDED = ("nutrients", "feeds", "analyses", "ranges", "sources", "assumptions")
CHECKED = "checked"
# Marks that vouch for a published or worked-out figure; a changed figure may not keep them.
BOOK_MARKS = ("print", "restated", "derived", "memory", "practice")


def tables_folder(extra: Path | None = None) -> Path:
    """The folder of the feed tables: `extra`, or inside the package, or beside it.

    Raises
    ------
    FileError
        No such folder holds a `datapackage.json`.
    """
    here = Path(__file__).resolve().parent.parent
    places = (extra,) if extra else (here / "feedtables", here.parent / "feedtables")
    for place in places:
        if os.path.isfile(place / DESCRIPTOR):
            return place
    raise FileError(
        Problem(
            str(extra or "feedtables"),
            f"no {DESCRIPTOR} is there",
            "a folder of feed tables holds one",
            "Check the folder, or install again",
        )
    )


def _package(folder: Path) -> tuple[dict[str, Schema], str, str]:
    """Schemas, version and text of a folder's descriptor."""
    text = read_text(folder / DESCRIPTOR)
    try:
        raw = json.loads(text)
        found = {r["name"]: Schema.from_json(r) for r in raw["resources"]}
        if not all(found[name].primary_key for name in NEEDED):
            raise ValueError
        for _, other, there in (k for s in found.values() for k in s.foreign_keys):
            found[other].primary_key.index(there)
        return found, str(raw["version"]), text
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError, re.error) as e:
        raise FileError(
            Problem(
                DESCRIPTOR,
                f"it cannot be understood ({type(e).__name__})",
                "a data package with the feed tables and their schemas is wanted",
                "Take the shipped one again",
            )
        ) from None


def schemas(folder: Path | None = None) -> dict[str, Schema]:
    """The schema of each table of a folder, by table name."""
    return _package(folder or tables_folder())[0]


class _Build:
    """Tables on the way: overlays are laid on here, key by key."""

    def __init__(self, known: Mapping[str, Schema]) -> None:
        self.schemas = known
        self.data: dict[str, dict[tuple[str, ...], Row]] = {n: {} for n in known}
        self.figures: dict[str, dict[str, Figure]] = {}
        self.touched: set[str] = set()
        self.problems: list[Problem] = []

    def lay(self, name: str, found: Sequence[Row]) -> None:
        """Rows of one table over those already there."""
        table, key = self.data[name], self.schemas[name].primary_key
        for row in found:
            table[tuple(row.text(k) for k in key)] = row
        if name == "analyses":
            for row in found:
                self.figure(row, row.text("feed_id"), row.text("nutrient"), row.number("value"))
        if name == "feeds":
            self.touched.update(row.text("feed_id") for row in found)

    def figure(self, row: Row, feed: str, nutrient: str, value: float | None) -> None:
        """One figure over what was there; a changed book figure becomes the user's own."""
        if value is None:
            return
        self.touched.add(feed)
        mark, source, note = row.text("mark") or "user", row.text("source"), row.text("note")
        mine = self.figures.setdefault(feed, {})
        old = mine.get(nutrient)
        changed = old is not None and value != old.value
        if old and changed and mark in BOOK_MARKS and (mark, source) == (old.mark, old.source):
            mark, source = "user", row.file
            note = note if note.startswith(CHECKED) else f"was {old.value:g}, {old.origin}"
        mine[nutrient] = Figure(
            value, mark, source or row.file, note, row.number("spread"), row.place
        )

    def links(self, names: Sequence[str]) -> None:
        """Every key that points to another table must be there."""
        for name in names:
            for column, other, there in self.schemas[name].foreign_keys:
                at = self.schemas[other].primary_key.index(there)
                known = {key[at] for key in self.data[other]}
                for row in self.data[name].values():
                    value = row.text(column)
                    own = column == "source" and row.text("mark") not in (*BOOK_MARKS, "guess")
                    if value and value not in known and not own:
                        near = get_close_matches(value, known, n=3, cutoff=0.6)
                        self.problems.append(
                            Problem(
                                f"{row.place}, column {column}",
                                f'read "{value}"',
                                f"it is not in {other}.csv"
                                + (f"; nearest: {', '.join(near)}" if near else ""),
                                f"Correct it, or add it to {other}.csv",
                            )
                        )

    def tables(self, digest: str, version: str, folder: Path, overlays: Sequence[Path]) -> Tables:
        """The finished record."""
        d = self.data
        feeds = {
            i: Feed(
                i,
                r.text("name"),
                r.text("group"),
                MappingProxyType(self.figures.get(i, {})),
                r.text("note"),
            )
            for (i,), r in d["feeds"].items()
        }
        return Tables(
            FeedTable(feeds),
            MappingProxyType(
                {
                    k: Nutrient(
                        k,
                        r.text("name"),
                        r.text("unit"),
                        r.text("basis"),
                        int(r.number("decimals") or 0),
                        r.text("meaning"),
                    )
                    for (k,), r in d["nutrients"].items()
                }
            ),
            MappingProxyType(
                {
                    (k[0], k[1]): Range(
                        r.number("lowest") or 0.0,
                        r.number("highest") or 0.0,
                        r.text("source"),
                        r.text("mark"),
                    )
                    for k, r in d["ranges"].items()
                }
            ),
            MappingProxyType(
                {
                    k: Source(k, r.text("what"), r.text("address"), r.text("mark"))
                    for (k,), r in d["sources"].items()
                }
            ),
            MappingProxyType(
                {
                    (k[0], k[1]): Assumption(
                        k[0],
                        k[1],
                        r.number("value") or 0.0,
                        r.text("rule"),
                        r.text("mark"),
                        r.text("source"),
                        r.text("words"),
                        r.place,
                    )
                    for k, r in d["assumptions"].items()
                }
            ),
            tuple(
                DefaultLimit(
                    r.text("limit"),
                    r.text("match"),
                    r.text("when"),
                    r.number("value") or 0.0,
                    r.text("unit"),
                    r.text("words"),
                    r.text("source"),
                    r.text("mark"),
                )
                for r in d.get("limits", {}).values()
            ),
            tuple(
                DefaultCaution(
                    r.text("caution"),
                    r.text("level"),
                    r.text("title"),
                    r.text("threshold"),
                    r.number("value"),
                    r.text("unit"),
                    r.number("second"),
                    r.text("second_unit"),
                    r.text("trigger"),
                    r.text("words"),
                    r.text("source"),
                    r.text("mark"),
                )
                for r in d.get("cautions", {}).values()
            ),
            MappingProxyType({i: r.text("confidence") for (i,), r in d["feeds"].items()}),
            MappingProxyType(
                {i: r.text("range_and_disagreements") for (i,), r in d["feeds"].items()}
            ),
            digest,
            version,
            folder,
            tuple(overlays),
            tuple(minerals.level(r) for r in d.get("minerals", {}).values()),
        )


def _overlay_schema(known: Mapping[str, Schema], grid: Grid, nutrients: Sequence[str]) -> Schema:
    """Schema of a user's file, long or wide, told by its headings."""
    feeds = {f.name: replace(f, required=False, unique=False) for f in known["feeds"].fields}
    figures = {f.name: replace(f, required=False) for f in known["analyses"].fields}
    shared = replace(feeds["feed_id"], required=True)
    text = (figures["mark"], replace(figures["source"], pattern=None), figures["note"])
    if "feed_id" not in grid.header:
        near = get_close_matches("feed_id", grid.header, n=1, cutoff=0.5)
        raise TableError(
            Problem(
                grid.file,
                "column feed_id is missing",
                "a feed table has one row a feed, or one a feed and nutrient",
                f"Rename {near[0]} to feed_id" if near else "Add the heading feed_id",
            )
        )
    if {"nutrient", "value"} & set(grid.header):
        must = ("nutrient", "value")
        long = tuple(
            replace(figures[n], required=n in must)
            for n in ("nutrient", "value", "unit", "basis", "spread")
        )
        fields = (shared, *long, *text, feeds["name"], feeds["group"])
        return Schema(grid.file, fields, ("feed_id", "nutrient"))
    value = replace(figures["value"], required=False)
    wide = tuple(Field(n, value.type, n, minimum=value.minimum) for n in nutrients)
    others = tuple(f for n, f in feeds.items() if n not in ("feed_id", "note"))
    return Schema(grid.file, (shared, *others, *text, *wide), ("feed_id",))


def _lay_file(build: _Build, file: str, text: str, word: str) -> None:
    """A user's long or wide file over the tables."""
    nutrients = [k for (k,) in build.data["nutrients"]]
    grid = cut(file, text, word)
    found = rows(grid, _overlay_schema(build.schemas, grid, nutrients))
    is_long = "nutrient" in grid.header
    for row in found:
        feed = row.text("feed_id")
        if is_long:
            build.figure(row, feed, row.text("nutrient"), row.number("value"))
        else:
            for n in nutrients:
                build.figure(row, feed, n, row.number(n))
        old = build.data["feeds"].get((feed,))
        own = {
            k: row.cells[k]
            for k in ("name", "group", "confidence", "range_and_disagreements")
            if row.cells.get(k) is not None
        }
        if own or old is None:
            cells = {**(old.cells if old else {"feed_id": feed}), **own}
            build.data["feeds"][(feed,)] = Row(row.file, row.line, cells, row.word)
            build.touched.add(feed)
    if is_long:
        build.problems.extend(_unit_faults(found, build))


def _own_schema(schema: Schema) -> Schema:
    """A shipped schema as it binds the user's copy: the source may be any words, or none."""
    if schema.name != "analyses":
        return schema
    loose = ("unit", "basis", "source", "mark")
    fields = (replace(f, required=False) if f.name in loose else f for f in schema.fields)
    return replace(
        schema, fields=tuple(replace(f, pattern=None) if f.name == "source" else f for f in fields)
    )


def _lay_folder(build: _Build, folder: Path, own: bool) -> list[str]:
    """The tables of a folder over those already there; their texts, for the digest."""
    texts: list[str] = []
    names: list[str] = []
    stray = sorted(p for p in folder.glob("*.csv") if p.stem not in build.schemas)
    if stray:
        build.problems.append(
            Problem(
                plain(f"{folder.name}/{stray[0].name}"),
                "this is not one of the feed tables",
                "allowed here: " + ", ".join(f"{n}.csv" for n in build.schemas),
                "Name your own file by itself, or move it away",
            )
        )
    for name, schema in build.schemas.items():
        path = folder / f"{name}.csv"
        if not os.path.exists(path):
            continue
        try:
            texts.append(read_text(path))
            file = plain(f"{folder.name}/{path.name}") if own else path.name
            found = rows(cut(file, texts[-1]), _own_schema(schema) if own else schema)
        except InputError as e:
            build.problems.extend(e.problems)
            continue
        build.lay(name, found)
        names.append(name)
        if name == "analyses":
            build.problems.extend(_unit_faults(found, build))
    if not names and not build.problems:
        build.problems.append(
            Problem(
                plain(folder.name),
                "no feed table is in this folder",
                "analyses.csv or another of the feed tables is wanted",
                "Copy them with: ration feeds copy",
            )
        )
    build.links(names)
    return texts


def _unit_faults(found: Sequence[Row], build: _Build) -> Iterator[Problem]:
    """Unknown nutrients, and units or bases other than the nutrient's own."""
    entries = {k: r for (k,), r in build.data["nutrients"].items()}
    for row in found:
        entry = entries.get(row.text("nutrient"))
        if entry is None:
            yield unknown_nutrient(f"{row.place}, column nutrient", row.text("nutrient"), entries)
            continue
        unit, want = row.text("unit"), entry.text("unit")
        if unit and unit not in (want, want.split(" DM")[0], want.split(" fresh")[0]):
            do = f"Write the value in {want}"
            value = row.number("value")
            if unit.startswith("%") and want.startswith("g/kg") and value is not None:
                do += f" ({value:g} % is {value * 10:g} g/kg)"
            yield Problem(
                f"{row.place}, column unit",
                f'read "{unit}"',
                f"{row.text('nutrient')} is in {want}",
                do,
            )
        basis = row.text("basis")
        if basis and basis != entry.text("basis"):
            yield Problem(
                f"{row.place}, column basis",
                f'read "{basis}"',
                f"{row.text('nutrient')} is on the basis {entry.text('basis')}",
                "Turn the value to that basis",
            )


def _digest(texts: Sequence[str]) -> str:
    """Short hash of the texts in order."""
    total = hashlib.sha256()
    for text in texts:
        total.update(hashlib.sha256(text.encode()).digest())
    return total.hexdigest()[:12]


def _built(folder: Path, overlays: Sequence[Path]) -> tuple[_Build, str, str]:
    """Folder and overlays read, with their digest and version; faults gathered inside."""
    known, version, descriptor = _package(folder)
    build = _Build(known)
    missing = [n for n in known if not os.path.isfile(folder / f"{n}.csv")]
    if missing:
        raise FileError(
            *(
                Problem(
                    f"{n}.csv",
                    "the file is missing",
                    f"it belongs in {folder.name}",
                    "Take the shipped one again",
                )
                for n in missing
            )
        )
    texts = [descriptor, *_lay_folder(build, folder, own=False)]
    for path in () if build.problems else overlays:
        build.touched.clear()
        try:
            if os.path.isdir(path):
                texts.extend(_lay_folder(build, path, own=True))
            elif book.is_book(path):
                sheet, text = book.read_book(path)
                texts.append(text)
                _lay_file(build, sheet, text, "row")
            else:
                texts.append(read_text(path))
                _lay_file(build, plain(path.name), texts[-1], "line")
        except InputError as e:
            build.problems.extend(e.problems)
    return build, _digest(texts), version


def load(folder: Path | None = None, overlays: Sequence[Path] = ()) -> Tables:
    """The feed tables with overlays laid on, in the order given.

    Parameters
    ----------
    folder : Path, optional
        Folder of the tables; the shipped one when not given.
    overlays : sequence of Path
        Each a folder (any of the shipped files, edited), a CSV file or a workbook (.xlsx): long,
        as `analyses.csv`, or wide, one row a feed and one column a nutrient. A figure takes the
        place of the earlier one of the same feed and nutrient. A figure without a mark is marked
        "user" with the file as its source; so is a book figure whose value was changed and its
        mark left.

    Raises
    ------
    InputError
        Every fault of every file, one line each; also figures outside the plausible range of
        their group unless their note begins with "checked".
    """
    folder = folder or tables_folder()
    build, digest, version = _built(folder, overlays)
    if not build.problems:
        made = build.tables(digest, version, folder, overlays)
        build.problems = [p for p in _feed_faults(build, made) if not isinstance(p, Doubt)]
        if not build.problems:
            return made
    raise InputError(*build.problems)


def check(path: Path, tables: Tables | None = None) -> list[Problem]:
    """Everything wrong or doubtful in a user's table, as if laid over others.

    Parameters
    ----------
    path : Path
        A file or folder as for `load`.
    tables : Tables, optional
        The tables it is to be laid over; the shipped ones when not given.

    Returns
    -------
    list of Problem
        Empty when all is well; a `Doubt` is a problem that does not bar the table.
    """
    folder = tables.folder if tables else tables_folder()
    overlays = (*tables.overlays, path) if tables else (path,)
    build, digest, version = _built(folder, overlays)
    if build.problems:
        return build.problems
    return list(_feed_faults(build, build.tables(digest, version, folder, overlays)))


def _feed_faults(build: _Build, made: Tables) -> Iterator[Problem]:
    """Faults of feeds as a whole; doubts only of feeds the last overlay touched."""
    groups = next(f.enum for f in build.schemas["feeds"].fields if f.name == "group")
    for row in build.data["ranges"].values():
        if (row.number("lowest") or 0.0) > (row.number("highest") or 0.0):
            yield Problem(row.place, "lowest is over highest", "", "Swap or correct them")
    units = {key: nutrient.unit for key, nutrient in made.nutrients.items()}
    yield from minerals.faults(build.data.get("minerals", {}).values(), units)
    for (match, _), row in build.data["assumptions"].items():
        if match not in made.feeds and match not in groups:
            yield Problem(
                f"{row.place}, column match",
                f'read "{match}"',
                "a feed id or a group is wanted",
                "Correct it",
            )
    for (feed_id,), row in build.data["feeds"].items():
        feed = made.feeds[feed_id]
        if not feed.name or feed.group not in groups:
            near = get_close_matches(feed_id, (i for i in made.feeds if i != feed_id), n=3)
            yield Problem(
                row.place,
                f'feed "{feed_id}" is new and has no name or no group',
                "a new feed needs both" + (f"; nearest: {', '.join(near)}" if near else ""),
                "Add columns name and group, or correct the id",
            )
            continue
        for nutrient, figure in feed.figures.items():
            lo, hi = made.range_of(nutrient, feed.group)
            if not lo <= figure.value <= hi and not figure.note.startswith(CHECKED):
                yield range_fault(feed, made.nutrients[nutrient], figure, lo, hi)
        for fault in consistency(feed):
            if feed_id in build.touched or not isinstance(fault, Doubt):
                yield fault


def assumed(feed: Feed, nutrient: str, tables: Tables) -> Figure | None:
    """What a missing figure of a feed may be taken as, in the unit of the nutrient, or None.

    A row for the feed wins over a row for its group. The caller asks only for what is missing.
    """
    row = tables.assumptions.get((feed.id, nutrient)) or tables.assumptions.get(
        (feed.group, nutrient)
    )
    if row is None:
        return None
    value = row.value
    if row.rule:
        cp = feed.get("cp_g_per_kg_dm")
        if cp is None:
            return None
        value = round(row.value * cp / CP_PER_N, 3)
    return Figure(value, row.mark, row.source, row.words, place=row.place)


def copy(folder_out: Path) -> tuple[Path, ...]:
    """Copies the shipped tables for editing; all of them or none. The files written.

    Raises
    ------
    FileError
        A file of that name is there, or the folder cannot be written to.
    """
    import shutil

    shipped = [
        p
        for p in sorted(tables_folder().iterdir())
        if p.suffix in (".csv", ".json", ".md") and p.is_file()
    ]
    there = [folder_out / p.name for p in shipped if os.path.exists(folder_out / p.name)]
    if there:
        raise FileError(
            *(
                Problem(
                    str(p),
                    "the file is already there",
                    "nothing is overwritten",
                    "Choose another folder",
                )
                for p in there
            )
        )
    stage = folder_out.parent / f".{folder_out.name}.{os.getpid()}.part"
    done: list[Path] = []
    try:
        folder_out.parent.mkdir(parents=True, exist_ok=True)
        stage.mkdir()
        for p in shipped:
            shutil.copyfile(p, stage / p.name)
        if not folder_out.exists():
            stage.rename(folder_out)
        for p in shipped if stage.exists() else ():
            os.replace(stage / p.name, folder_out / p.name)
            done.append(folder_out / p.name)
    except (OSError, ValueError) as e:
        for p in done:
            p.unlink(missing_ok=True)
        reason = e.strerror if isinstance(e, OSError) and e.strerror else "not a usable name"
        raise FileError(
            Problem(
                str(folder_out),
                f"cannot be written to ({reason.lower()})",
                "",
                "Choose another folder; nothing was written",
            )
        ) from None
    finally:
        shutil.rmtree(stage, ignore_errors=True)
    return tuple(folder_out / p.name for p in shipped)
