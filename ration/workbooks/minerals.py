"""Minerals and vitamins of the rations as a workbook: amounts, every book beside them, origins."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from ration.faces import minerals_words
from ration.faces.minerals_json import minerals_json
from ration.workbooks.read_me import first_sheet, started
from ration.workbooks.sheet import Book, Column, Value

if TYPE_CHECKING:
    from ration.jobs.minerals import FarmMinerals

AMOUNTS, BOOKS, BY_FEED = "Minerals", "Books beside it", "By feed"
SUPPLEMENTS, BATCHES, CAUTIONS = "Supplements", "Batches", "Cautions"
_ABOUT = (
    (BATCHES, "what each batch eats, and what is said of the whole"),
    (AMOUNTS, "each mineral and vitamin: how much there is and how it stands"),
    (BOOKS, "each published need, limit and warning beside it; none is averaged"),
    (BY_FEED, "what each feed brings, and where its figure comes from"),
    (SUPPLEMENTS, "what each mineral on offer would do"),
    (CAUTIONS, "what to look at before acting"),
)
_KINDS = (("needs", "need"), ("limits", "most allowed or tolerated"), ("cautions", "warning"))


def minerals_book(done: FarmMinerals) -> bytes:
    """Minerals and vitamins of the batches of a farm.

    Parameters
    ----------
    done : FarmMinerals
        From `ration.jobs.minerals.minerals_file`.
    """
    told = minerals_json(done)
    what = "what is fed now" if done.is_fed else "the cheapest mix"
    title = f"Minerals and vitamins of {done.farm.name}: {what}"
    found = [b for b in told["batches"] if "lines" in b]
    levels = [x for _, _, _, x in _levels(found)]
    book = started("Minerals and vitamins", done.farm.start, done.tables)
    first_sheet(
        book,
        title,
        [f"{b['name']}: {' '.join(b['words'])}" for b in found]
        + [f"{b['name']}: no mix was found." for b in told["batches"] if b not in found],
        done.tables,
        sheets=_ABOUT,
        notes=[
            *(f"{b['name']}: {line}" for b in found for line in b["differences"]),
            *minerals_words.source_lines(
                [b.account for b in done.batches if b.account is not None], done.tables
            ),
        ],
        marks=[x["mark"] for x in levels],
        sources=[x["source"] for x in levels],
    )
    _batches(book, told["batches"])
    _amounts(book, found)
    _books(book, found)
    _supplements(book, found)
    book.table(
        CAUTIONS,
        (
            Column("Batch"), Column("Level"), Column("About"), Column("Words"), Column("Source"),
            Column("Mark"),
        ),
        [
            (b["name"], c["level"], c["title"], c["words"], c["source"], c["mark"])
            for b in told["batches"]
            for c in b["cautions"]
        ],
    )  # fmt: skip
    return book.data()


def _levels(
    found: list[dict[str, Any]],
) -> Iterator[tuple[dict[str, Any], dict[str, Any], str, dict[str, Any]]]:
    """Every published figure with its batch, its mineral and what it is."""
    for batch in found:
        for line in batch["lines"]:
            for key, kind in _KINDS:
                for level in line[key]:
                    yield batch, line, kind, level


def _batches(book: Book, batches: list[dict[str, Any]]) -> None:
    rows: list[tuple[Value, ...]] = []
    for b in batches:
        given = "; ".join(x["name"] for x in b.get("minerals_given", ()))
        rows.append((
            b["name"], b["head"], b["status"], b.get("dm_kg_per_head_day"),
            ", ".join(b.get("stages", ())), b.get("ca_to_p"), b.get("stores_copper"),
            b.get("copper_absorbed_share"), b.get("is_part_ration"), given,
        ))  # fmt: skip
    book.table(
        BATCHES,
        (
            Column("Batch"), Column("Head", "whole"), Column("Ration"),
            Column("Eaten (kg DM/head/day)", "kilos"), Column("Stages read in the books"),
            Column("Calcium to phosphorus (g/g)", "number"), Column("Breed stores copper"),
            Column("Copper taken up (share)", "share"), Column("Only part of what they eat"),
            Column("Minerals given"),
        ),
        rows,
    )  # fmt: skip


def _amounts(book: Book, found: list[dict[str, Any]]) -> None:
    book.table(
        AMOUNTS,
        (
            Column("Batch"), Column("Mineral or vitamin"), Column("Unit (per kg DM)"),
            Column("In the ration (unit per kg DM)", "figure"),
            Column("A head a day (g, mg or IU)", "figure"), Column("At least that much"),
            Column("Not known for"), Column("How it stands"), Column("In words"),
        ),
        [
            (
                b["name"], x["name"], x["unit"], x["per_kg_dm"], x["per_head_day"],
                x["is_at_least"], ", ".join(x["unknown_for"]), x["verdict"], x["words"],
            )
            for b in found
            for x in b["lines"]
        ],
    )  # fmt: skip
    book.table(
        BY_FEED,
        (
            Column("Batch"), Column("Mineral or vitamin"), Column("Unit (per kg DM)"),
            Column("Feed"), Column("Brings a head a day (g, mg or IU)", "figure"),
            Column("Where its figure comes from"),
        ),
        [
            (b["name"], x["name"], x["unit"], f["feed"], f["per_head_day"], f["origin"])
            for b in found
            for x in b["lines"]
            for f in x["by_feed"]
        ],
    )  # fmt: skip


def _books(book: Book, found: list[dict[str, Any]]) -> None:
    book.table(
        BOOKS,
        (
            Column("Batch"), Column("Mineral or vitamin"), Column("Unit (per kg DM)"),
            Column("In the ration (unit per kg DM)", "figure"), Column("Kind"), Column("Sort"),
            Column("Edition"), Column("Least (unit per kg DM)", "figure"),
            Column("Most (unit per kg DM)", "figure"), Column("Printed least", "figure"),
            Column("Printed most", "figure"), Column("Printed unit"), Column("Printed per"),
            Column("Holds for this ration"), Column("Source"), Column("Mark"), Column("Note"),
        ),
        [
            (
                b["name"], x["name"], x["unit"], x["per_kg_dm"], kind, n["what"], n["edition"],
                n["least_per_kg_dm"], n["most_per_kg_dm"], n["printed_least"], n["printed_most"],
                n["unit"], n["basis"], n["applies"], n["source"], n["mark"], n["note"],
            )
            for b, x, kind, n in _levels(found)
        ],
    )  # fmt: skip


def _supplements(book: Book, found: list[dict[str, Any]]) -> None:
    rows: list[tuple[Value, ...]] = []
    for b in found:
        for s in b["supplements"]:
            rows += [
                (b["name"], s["name"], "covers", c["nutrient"], c["edition"],
                 c["g_fresh_per_head_day"], None)
                for c in s["covers"]
            ]  # fmt: skip
            rows += [
                (b["name"], s["name"], "does not cover", n, "", None, None)
                for n in s["does_not_cover"]
            ]
            if (first := s["first_limit"]) is not None:
                rows.append((
                    b["name"], s["name"], "first limit", first["nutrient"], first["edition"],
                    first["g_fresh_per_head_day"], None,
                ))  # fmt: skip
            rows += [(b["name"], s["name"], "in words", "", "", None, line) for line in s["words"]]
    book.table(
        SUPPLEMENTS,
        (
            Column("Batch"), Column("Supplement"), Column("What"), Column("Mineral or vitamin"),
            Column("Edition"), Column("Amount (g fresh/head/day)", "number"), Column("In words"),
        ),
        rows,
    )  # fmt: skip
