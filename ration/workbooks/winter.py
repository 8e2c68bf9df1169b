"""A winter as a workbook: the order, the rations by period and batch, stocks, bill, what-ifs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from ration.faces import winter_json, winter_words
from ration.units import in_words_day
from ration.workbooks.read_me import first_sheet, started
from ration.workbooks.sheet import Book, Column, Value, live, sum_of

if TYPE_CHECKING:
    from ration.jobs.winter import Wintered

ORDER, DELIVERIES, LOADS, BILL, WHAT_IF = "Order", "Deliveries", "Loads", "Bill", "What if"
RATIONS, RATIONS_DM, STOCKS = "Rations put out", "Rations in dry matter", "Stocks"
MORE, TIMING, ASSUMED = "One more", "Now or later", "Assumed"
CAUTIONS, REFUSED = "Cautions", "Refused and questions"
ANY_PRICE = "any price"
YOUR_PRICE = "your own price"
_PARTS = (
    ("feed_gbp", "feed, to merchants"),
    ("drops_gbp", "drops, to merchants"),
    ("home_gbp", "home feed, at what it would fetch"),
    ("interest_gbp", "interest to turnout"),
)
_ABOUT = {
    ORDER: "feed, merchant, tonnes, loads, when, cost, and the price to walk away at",
    DELIVERIES: "each day something comes",
    LOADS: "lorry loads and their charges",
    RATIONS: "what one sheep is given a day, by period and batch, fresh and waste included",
    RATIONS_DM: "the same as dry matter eaten",
    STOCKS: "each feed through each period",
    BILL: "where the money goes",
    WHAT_IF: "the winter with one thing changed",
    MORE: "what one more of each scarce thing would save",
    TIMING: "whether each is rather bought now or later",
    ASSUMED: "figures that nobody had and the farm file allowed to be assumed",
    CAUTIONS: "what to look at before acting",
    REFUSED: "what may not be bought and why; what to ask before ordering",
}


def winter_book(done: Wintered) -> bytes:
    """The whole winter.

    Parameters
    ----------
    done : Wintered
        From `ration.jobs.winter.winter_file`.
    """
    told = winter_json.winter_json(done)
    sheets = (
        ORDER, DELIVERIES, LOADS, RATIONS, RATIONS_DM, STOCKS, BILL, WHAT_IF, MORE, TIMING,
        ASSUMED, CAUTIONS, REFUSED,
    )  # fmt: skip
    book = _begun(done, told, "Winter plan", sheets)
    _order(book, done, told)
    _loads(book, told)
    names = {o.id: o.name for o in (*done.ready.farm.offers, *done.plan.offers)}
    _rations(book, RATIONS, told, "kg_fresh_offered_per_head_day", "kg fresh/head/day", names)
    _rations(book, RATIONS_DM, told, "kg_dm_per_head_day", "kg DM/head/day", names)
    _stocks(book, told, names)
    _bill(book, told["bill"])
    _what_ifs(book, told)
    _more(book, told, names)
    _cautions(book, told)
    return book.data()


def order_book(done: Wintered) -> bytes:
    """The order alone, with its bill, what-ifs and questions; `done` as in `winter_book`."""
    told = winter_json.order_json(done)
    book = _begun(done, told, "Order", (ORDER, DELIVERIES, BILL, WHAT_IF, CAUTIONS, REFUSED))
    _order(book, done, told)
    _bill(book, told["bill"])
    _what_ifs(book, told)
    _cautions(book, told)
    return book.data()


def _begun(done: Wintered, told: dict[str, Any], title: str, sheets: Sequence[str]) -> Book:
    farm, plan, tables = done.ready.farm, done.plan, done.ready.tables
    book = started(title, farm.start, tables)
    span = f"{in_words_day(farm.start)} to {in_words_day(farm.end)}"
    words = list(done.why_not)
    if plan.is_found:
        words += [*winter_words.bill(plan), winter_words.order_total(plan), told["proof"]]
    words.append(told["stack"]["line"])
    figures = [f for o in plan.offers for f in o.feed.figures.values()]
    first_sheet(
        book,
        f"{title} of {farm.name}, {span}; quotes as they stand on {in_words_day(done.ready.on)}, "
        "ex VAT",
        words,
        tables,
        sheets=[(name, _ABOUT[name]) for name in sheets],
        notes=("A period runs to the morning of its last date.",),
        marks=[*(f.mark for f in figures), *(c["mark"] for c in told["cautions"])],
        sources=[
            *(f.source for f in figures if f.source in tables.sources),
            *(c["source"] for c in told["cautions"] if c["source"] in tables.sources),
        ],
    )
    return book


def _day(text: str) -> date:
    return date.fromisoformat(text)


# ---------------------------------------------------------------- the order and the bill


def _order(book: Book, done: Wintered, told: dict[str, Any]) -> None:
    bill = told["bill"]
    rows: list[tuple[Value, ...]] = [
        (
            r["name"], r["merchant"] or YOUR_PRICE, r["pack"], r["tonnes_fresh"], r["packs"],
            r["loads"], r["amount"], r["when"], r["price_gbp_per_t_fresh"], r["cost_gbp"],
            ANY_PRICE if r["cannot_do_without"] else r["walk_away_gbp_per_t_fresh"],
        )
        for r in told["order"]
    ]  # fmt: skip
    columns = (
        Column("Feed"), Column("Merchant"), Column("Pack"), Column("Tonnes (t fresh)", "tonnes"),
        Column("Packs", "whole"), Column("Loads", "whole"), Column("How it comes"), Column("When"),
        Column("Price (£/t fresh)", "money"), Column("Cost without drops (£)", "money"),
        Column("Walk away over (£/t fresh)", "money"),
    )  # fmt: skip
    book.table(ORDER, columns, rows, None if bill is None else {9: bill["feed_gbp"]})
    book.table(
        DELIVERIES,
        (
            Column("Feed"), Column("Merchant"), Column("Day", "day"),
            Column("Tonnes (t fresh)", "tonnes"),
        ),
        [
            (r["name"], r["merchant"] or YOUR_PRICE, _day(d["date"]), d["tonnes_fresh"])
            for r in told["order"]
            for d in r["deliveries"]
        ],
    )  # fmt: skip


def _loads(book: Book, told: dict[str, Any]) -> None:
    bill = told["bill"]
    book.table(
        LOADS,
        (
            Column("Merchant"), Column("Pack"), Column("Day", "day"), Column("Loads", "whole"),
            Column("Tonnes (t fresh)", "tonnes"), Column("Charge (£)", "money"),
        ),
        [
            (
                d["merchant"], d["pack"], _day(d["date"]), d["loads"], d["tonnes_fresh"],
                d["charge_gbp"],
            )
            for d in told["drops"]
        ],
        None if bill is None else {5: bill["drops_gbp"]},
    )  # fmt: skip


def _bill(book: Book, bill: dict[str, Any] | None) -> None:
    """Where the money goes; the total is worked from the lines above it."""
    rows: list[tuple[Value, ...]] = []
    if bill is not None:
        rows = [(words, bill[key]) for key, words in _PARTS]
        rows.append(("bought feed left over, taken off", -bill["left_over_gbp"]))
        parts = sum(bill[key] for key, _ in _PARTS) - bill["left_over_gbp"]
        last = len(rows)
        rows.append((
            "the winter, together", live(f"={sum_of(1, 1, last)}", parts, bill["total_gbp"])
        ))  # fmt: skip
        paid = live(
            f"={sum_of(1, 1, 2)}", bill["feed_gbp"] + bill["drops_gbp"], bill["to_merchants_gbp"]
        )
        rows.append(("of that paid to merchants", paid))
    book.table(BILL, (Column("What"), Column("Cost (£)", "money")), rows)


def _what_ifs(book: Book, told: dict[str, Any]) -> None:
    keys = (
        "total_gbp", "feed_gbp", "drops_gbp", "to_merchants_gbp", "home_gbp", "interest_gbp",
        "left_over_gbp",
    )  # fmt: skip
    book.table(
        WHAT_IF,
        (
            Column("Change"), Column("There is a plan"), Column("The winter (£)", "money"),
            Column("Feed (£)", "money"), Column("Drops (£)", "money"),
            Column("Paid to merchants (£)", "money"), Column("Home feed (£)", "money"),
            Column("Interest (£)", "money"), Column("Left over, taken off (£)", "money"),
            Column("No plan can cost less than (£)", "money"), Column("In words"),
            Column("What its words do not say"),
        ),
        [
            (
                x["what"], x["is_found"], *((x["bill"] or {}).get(k) for k in keys),
                x["bound_gbp"], x["line"], " ".join(x["notes"]),
            )
            for x in told["what_ifs"]
        ],
    )  # fmt: skip


# ---------------------------------------------------------------- rations and stocks


def _rations(
    book: Book, name: str, told: dict[str, Any], key: str, unit: str, names: dict[str, str]
) -> None:
    """One row a period and batch, one column a feed."""
    feeds = list(dict.fromkeys(feed for f in told["fed"] for feed in f[key]))
    periods = told["periods"]
    rows = []
    for f in told["fed"]:
        period = periods[f["period"]]
        rows.append((
            _day(period["from"]), _day(period["to"]), period["days"], f["batch"], f["head"],
            f["weight_kg"], f["gain_g_per_day"], f["target_gain_g_per_day"],
            *(f[key].get(feed) for feed in feeds),
        ))  # fmt: skip
    book.table(
        name,
        (
            Column("From", "day"), Column("To the morning of", "day"), Column("Days", "whole"),
            Column("Batch"), Column("Head", "whole"), Column("Weight (kg)", "number"),
            Column("Gain (g/day)", "number"), Column("Gain wanted (g/day)", "number"),
            *(Column(f"{names.get(feed, feed)} ({unit})", "kilos") for feed in feeds),
        ),
        rows,
    )  # fmt: skip


def _stocks(book: Book, told: dict[str, Any], names: dict[str, str]) -> None:
    """Opening and bought, fed, lost and left, feed by feed."""
    periods = told["periods"]
    book.table(
        STOCKS,
        (
            Column("Feed"), Column("From", "day"), Column("To the morning of", "day"),
            Column("In store (t fresh)", "kilos"), Column("Bought (t fresh)", "kilos"),
            Column("Fed (t fresh)", "kilos"), Column("Lost (t fresh)", "kilos"),
            Column("Left (t fresh)", "kilos"),
        ),
        [
            (
                names.get(s["feed"], s["feed"]), _day(periods[s["period"]]["from"]),
                _day(periods[s["period"]]["to"]), s["opening_t_fresh"], s["bought_t_fresh"],
                s["fed_t_fresh"], s["lost_t_fresh"], s["closing_t_fresh"],
            )
            for s in told["stocks"]
        ],
    )  # fmt: skip


def _more(book: Book, told: dict[str, Any], names: dict[str, str]) -> None:
    """What more would be worth, now or later, and what was assumed."""
    book.table(
        MORE,
        (
            Column("One more of"), Column("Unit"), Column("Would save (£/unit)", "money"),
            Column("Of that it would fetch (£/unit)", "money"), Column("Note"),
        ),
        [
            (m["what"], m["unit"], m["worth_gbp"], m["would_fetch_gbp"], m["note"])
            for m in told["one_more"]
        ],
    )  # fmt: skip
    book.table(
        TIMING,
        (
            Column("Feed"), Column("Merchant"), Column("All on the first day"),
            Column("Time in store (months)", "number"),
            Column("Interest and loss (£/t fresh)", "money"),
            Column("Price rises (£/t fresh)", "money"), Column("In words"),
        ),
        [
            (
                names.get(x["feed"], x["feed"]), x["merchant"] or YOUR_PRICE, x["is_now"],
                x["months"], x["hold_gbp_per_t_fresh"], x["rise_gbp_per_t_fresh"], x["words"],
            )
            for x in told["now_or_later"]
        ],
    )  # fmt: skip
    book.table(
        ASSUMED,
        (
            Column("Feed"), Column("Figure"), Column("Value (its unit is in its name)", "figure"),
            Column("Mark"), Column("Note"),
        ),
        [
            (names.get(g["feed"], g["feed"]), g["nutrient"], g["value"], g["mark"], g["note"])
            for g in told["assumed"]
        ],
    )  # fmt: skip


def _cautions(book: Book, told: dict[str, Any]) -> None:
    book.table(
        CAUTIONS,
        (Column("Level"), Column("About"), Column("Words"), Column("Source"), Column("Mark")),
        [(c["level"], c["title"], c["words"], c["source"], c["mark"]) for c in told["cautions"]],
    )
    rows = [
        ("refused", r["merchant"] or YOUR_PRICE, r["feed"], r["pack"], r["why"], r["place"])
        for r in told["refused"]
    ]
    rows += [("left out", "", x["feed"], "", x["why"], "") for x in told["left_out"]]
    rows += [("to ask", "", "", "", line, "") for line in told["to_ask"]]
    book.table(
        REFUSED,
        (
            Column("Refused or to ask"), Column("Merchant"), Column("Feed"), Column("Pack"),
            Column("Why, or the question"), Column("Where it was read"),
        ),
        rows,
    )  # fmt: skip
