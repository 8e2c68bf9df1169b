"""Ways of wintering as a workbook: the budget in live formulas, what turns it, what is not money.

A formula stands only where, worked on the cells it reads, it gives the figure told everywhere else.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from ration.faces.wintering_json import wintering_json
from ration.faces.wintering_report import BOXES, mix_words
from ration.wintering.budget import FEED, ORDER, paid_share
from ration.workbooks.read_me import first_sheet, started
from ration.workbooks.sheet import Book, Column, Live, Value, cell_of, live, number_of, sum_of

if TYPE_CHECKING:
    from ration.jobs.wintering import Compared
    from ration.tables import Tables

LINES, BUDGET, WAYS, KEEP = "Lines", "Budget", "Ways", "Most for keep"
PARTIAL, TURNS, SEND = "Partial budgets", "Where it turns", "How many to send"
MIX, MIX_RATIONS, SHED, OTHER = "Feed by the mix", "Rations of the mix", "Shed", "Not money"
_ABOUT = (
    (LINES, "every line of every way: once for the flock, for each, and so for a head"),
    (BUDGET, "the same lines side by side, £ a head that starts the winter"),
    (WAYS, "each way whole: a head that starts, a head returned alive, all of them"),
    (KEEP, "the most to pay for keep before a way at home costs less"),
    (PARTIAL, "what changes when the base is left for another way"),
    (TURNS, "the value of each figure at which another way becomes the cheapest"),
    (SEND, "the cheapest sharing out"),
    (MIX, "feed by the cheapest safe mix beside feed put out by hand"),
    (MIX_RATIONS, "those mixes, batch by batch"),
    (SHED, "room, trough and store"),
    (OTHER, "what is not money, and what trials found"),
)


def wintering_book(done: Compared, tables: Tables) -> bytes:
    """The ways of wintering side by side.

    Parameters
    ----------
    done : Compared
        From `ration.jobs.wintering.wintering_file`.
    tables : Tables
        That it was worked with.
    """
    told = wintering_json(done)
    book = started("Ways of wintering", done.farm.start, tables)
    notes = [*told["notes"], *told["trials"], *told["shed"]]
    notes += [told["welfare"]] if told["welfare"] else []
    first_sheet(
        book,
        f"Ways of wintering of {done.farm.name}, {told['head']} head; compared by {told['basis']}",
        [*told["words"], *mix_words(done)],
        tables,
        sheets=_ABOUT,
        notes=(told["method"], "Cells with formulas are worked anew when a figure is changed."),
        marks=[n["mark"] for n in notes],
        sources=[n["source"] for n in notes if n["source"] in tables.sources],
    )
    places = _lines(book, told)
    totals = _budget(book, told, places)
    _ways(book, told, totals)
    _keep(book, done, told)
    _partials(book, told)
    _turns(book, told)
    _send(book, told)
    _mixes(book, told)
    _notes(book, told)
    return book.data()


# ---------------------------------------------------------------- the budget, live


def _lines(book: Book, told: dict[str, Any]) -> dict[tuple[int, str], str]:
    """Every line of every way; where the cost a head of each stands."""
    rows: list[tuple[Value, ...]] = []
    places: dict[tuple[int, str], str] = {}
    head = told["head"]
    for i, way in enumerate(told["ways"]):
        for line in way["lines"]:
            at = len(rows) + 1
            flock, each, number = (cell_of(at, j) for j in (3, 4, 2))
            worked = line["for_the_flock_gbp"] / head + line["for_each_gbp"]
            cost = live(f"={flock}/{number}+{each}", worked, line["gbp_per_head"])
            rows.append((
                way["way"], line["name"], head, line["for_the_flock_gbp"], line["for_each_gbp"],
                cost,
            ))  # fmt: skip
            places[i, line["id"]] = f"{LINES}!{cell_of(at, 5)}"
    book.table(
        LINES,
        (
            Column("Way"), Column("Line"), Column("Head", "whole"),
            Column("Once for the flock (£)", "money"), Column("For each (£/head)", "money"),
            Column("Cost (£/head)", "money"),
        ),
        rows,
    )  # fmt: skip
    return places


def _budget(book: Book, told: dict[str, Any], places: dict[tuple[int, str], str]) -> list[str]:
    """Lines by ways, read from the sheet before; where the total of each way stands."""
    ways = told["ways"]
    names = {line["id"]: line["name"] for way in ways for line in way["lines"]}
    ids = sorted(names, key=lambda i: ORDER.index(FEED if i.startswith(FEED) else i))
    costs = [{line["id"]: line["gbp_per_head"] for line in way["lines"]} for way in ways]
    rows: list[tuple[Value, ...]] = [
        (
            names[i],
            *(
                Live(f"={places[w, i]}", cost[i]) if i in cost else None
                for w, cost in enumerate(costs)
            ),
        )
        for i in ids
    ]
    book.table(
        BUDGET,
        (Column("Line"), *(Column(f"{w['way']} (£/head that starts)", "money") for w in ways)),
        rows,
        {j: way["gbp_per_head_wintered"] for j, way in enumerate(ways, 1)},
    )
    return [f"{BUDGET}!{cell_of(len(rows) + 1, j)}" for j, _ in enumerate(ways, 1)]


def _ways(book: Book, told: dict[str, Any], totals: Sequence[str]) -> None:
    """Each way whole."""
    rows: list[tuple[Value, ...]] = []
    for at, (way, total) in enumerate(zip(told["ways"], totals, strict=True), 1):
        start, deaths, head = cell_of(at, 5), cell_of(at, 4), cell_of(at, 3)
        each, share = way["gbp_per_head_wintered"], way["deaths_share"]
        number = told["head"]
        rows.append((
            way["way"], way["place"], way["days"], number, share,
            Live(f"={total}", each) if way["lines"] else each,
            live(f"={start}/(1-{deaths})", each / (1 - share), way["gbp_per_head_returned"]),
            live(f"={start}*{head}", each * number, way["gbp_for_flock"]),
            way["dead_head"], way["places_head"], way["places_words"],
            "cheapest" if way["way"] == told["cheapest"] else None,
        ))  # fmt: skip
    book.table(
        WAYS,
        (
            Column("Way"), Column("Where they are"), Column("Days", "whole"),
            Column("Head", "whole"), Column("Deaths (share)", "share"),
            Column("Cost (£/head that starts)", "money"),
            Column("Cost (£/head returned alive)", "money"), Column("All of them (£)", "money"),
            Column("Dead (head)", "number"), Column("Places (head)", "whole"),
            Column("How the places are known"), Column("By the farm's basis"),
        ),
        rows,
    )  # fmt: skip


def _keep(book: Book, done: Compared, told: dict[str, Any]) -> None:
    """The break-even of keep: live where a pound of keep costs a pound, else as told."""
    at_way = {w["way"]: i for i, w in enumerate(told["ways"])}
    rows: list[tuple[Value, ...]] = []
    for at, k in enumerate(told["most_for_keep"], 1):
        away, home = at_way[k["away"]], at_way[k["home"]]
        way = done.wintering.ways[away]
        if way.keep is None:
            continue
        key = f"gbp_per_head_{done.wintering.terms.basis}"
        column = 5 if done.wintering.terms.basis == "wintered" else 6
        costs = [told["ways"][i][key] for i in (home, away)]
        price, share = way.keep.gbp_per_head_week, paid_share(way)
        alive = 1.0 if column == 5 else 1 - way.deaths_share
        now, weeks, paid, beside, own, left = (cell_of(at, j) for j in range(2, 8))
        worked = 100 * (price + (costs[0] - costs[1]) * alive / (way.weeks * share))
        most = live(
            f"=100*({now}+({beside}-{own})*{left}/({weeks}*{paid}))", worked, k["p_per_head_week"]
        )
        cells = [Live(f"={WAYS}!{cell_of(i + 1, column)}", c)
                 for i, c in zip((home, away), costs, strict=True)]  # fmt: skip
        rows.append((k["away"], k["home"], price, way.weeks, share, *cells, alive, most))
    book.table(
        KEEP,
        (
            Column("Away"), Column("Beside"), Column("Keep now (£/head/week)", "money"),
            Column("Weeks", "number"), Column("Paid on (share of those sent)", "share"),
            Column("Cost of the other (£/head)", "money"), Column("Cost away (£/head)", "money"),
            Column("Counted for (share)", "share"), Column("Most for keep (p/head/week)", "number"),
        ),
        rows,
    )  # fmt: skip


def _partials(book: Book, told: dict[str, Any]) -> None:
    """The four boxes of each change, and what is left, worked from them."""
    rows: list[tuple[Value, ...]] = []
    for change in told["partial_budgets"]:
        spans: dict[str, tuple[int, int]] = {}
        for box, title in BOXES:
            first = len(rows) + 1
            rows += [
                (change["base"], change["way"], title, c["name"], c["gbp_per_head"])
                for c in change[box]
            ]
            spans[box] = (first, len(rows))
        better = _span(spans, ("added_returns", "saved_costs"))
        worse = _span(spans, ("added_costs", "lost_returns"))
        gain = change["gain_gbp_per_head"]
        worked = math.fsum(
            sign * number_of(row[4])
            for sign, (first, last) in ((1, better), (-1, worse))
            for row in rows[first - 1 : last]
        )
        plus, minus = (sum_of(4, a, b) if a <= b else "0" for a, b in (better, worse))
        what = "better off" if gain >= 0 else "worse off: below nought"
        answer = live(f"={plus}-{minus}", worked, gain)
        rows.append((change["base"], change["way"], "together", what, answer))
    book.table(
        PARTIAL,
        (
            Column("Leaving"), Column("For"), Column("Box"), Column("What"),
            Column("Change (£/head that starts)", "money"),
        ),
        rows,
    )  # fmt: skip


def _span(spans: dict[str, tuple[int, int]], boxes: tuple[str, str]) -> tuple[int, int]:
    """First and last row of two boxes that follow each other; last before first when empty."""
    return spans[boxes[0]][0], spans[boxes[1]][1]


# ---------------------------------------------------------------- the rest


def _turns(book: Book, told: dict[str, Any]) -> None:
    rows: list[tuple[Value, ...]] = [
        (s["words"], s["unit"], s["now"], s["passes"], s["then_cheapest"], s["is_exact"])
        for s in told["switching_values"]
    ]
    rows += [(words, "", None, None, "never alone", None) for words in told["never_change_it"]]
    book.table(
        TURNS,
        (
            Column("Figure"), Column("Unit of the next two"), Column("Now", "figure"),
            Column("Turns when it passes", "figure"), Column("Then cheapest"),
            Column("Worked exactly"),
        ),
        rows,
    )  # fmt: skip


def _send(book: Book, told: dict[str, Any]) -> None:
    rows: list[tuple[Value, ...]] = []
    for key, title in (
        ("how_many_to_send", "any way"),
        ("how_many_to_send_without_cheapest", f"none on {told['cheapest']}"),
    ):
        split = told[key]
        if split is None:
            continue
        rows += [(title, s["way"], s["head"], s["gbp"], None) for s in split["sent"]]
        rows.append((title, "together", split["head"], split["gbp"], split["words"]))
    book.table(
        SEND,
        (
            Column("With"), Column("Way"), Column("Head", "whole"), Column("Cost (£)", "money"),
            Column("In words"),
        ),
        rows,
    )  # fmt: skip


def _mixes(book: Book, told: dict[str, Any]) -> None:
    mixes = told["feed_by_mix"]
    book.table(
        MIX,
        (
            Column("Way"), Column("Feed by hand (£/head)", "money"),
            Column("Feed by the mix (£/head)", "money"),
            Column("The way with the mix (£/head)", "money"), Column("What is counted"),
            Column("Why not"),
        ),
        [
            (
                m["way"], m["by_hand_gbp_per_head"], m["by_mix_gbp_per_head"],
                m["way_with_mix_gbp_per_head"], "; ".join(m["counted"]), m["why_not"],
            )
            for m in mixes
        ],
    )  # fmt: skip
    key = "kg_fresh_offered_per_head_day"
    book.table(
        MIX_RATIONS,
        (
            Column("Way"), Column("Batch"), Column("Head", "whole"),
            Column("Cost (£/head/day)", "small money"), Column("Feed"),
            Column("Put out (kg fresh/head/day)", "kilos"),
        ),
        [
            (m["way"], b["batch"], b["head"], b["cost_gbp_per_head_day"], feed, kg)
            for m in mixes
            for b in m["batches"]
            for feed, kg in b[key].items()
        ],
    )  # fmt: skip


def _notes(book: Book, told: dict[str, Any]) -> None:
    book.table(
        SHED,
        (Column("About"), Column("Level"), Column("Words"), Column("Source"), Column("Mark")),
        [(c["id"], c["level"], c["words"], c["source"], c["mark"]) for c in told["shed"]],
    )
    kinds = [("welfare", [told["welfare"]] if told["welfare"] else [])]
    kinds += [("to weigh", told["notes"]), ("trials", told["trials"])]
    book.table(
        OTHER,
        (
            Column("Kind"), Column("About"), Column("Words"), Column("Ways that raise it"),
            Column("Source"), Column("Mark"),
        ),
        [
            (kind, n["id"], n["words"], ", ".join(n["ways"]), n["source"], n["mark"])
            for kind, notes in kinds
            for n in notes
        ],
    )  # fmt: skip
