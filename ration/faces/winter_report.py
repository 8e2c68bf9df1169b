"""The winter as text: the order first, then what is fed, how long it lasts, and the proof last."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from ration.faces import winter_words
from ration.faces.report import print_cautions, print_heading, say, table
from ration.units import in_words_day, money
from ration.winter import order

if TYPE_CHECKING:
    from datetime import date

    from rich.console import Console

    from ration.jobs.winter import Ready, Wintered
    from ration.stack.lots import Stacked
    from ration.winter.order import OrderRow
    from ration.winter.records import Fed, Plan

LEAST_COLUMN = 8
ROOM = 70  # columns for feeds beside dates and weights on a page of 100


def print_stack(console: Console, found: Stacked) -> None:
    """`ration stack`: the one line, each lot with its band, and what it rests on."""
    say(console, found.line, style="bold")
    for lot in found.lots:
        say(console, f"  {lot.words}")
    say(console, *winter_words.classes(found), *winter_words.behind_the_stack(found))


def print_winter(console: Console, done: Wintered) -> None:
    """`ration winter`: what to order, what is fed when, how long it lasts, what it costs."""
    plan = done.plan
    _top(console, done)
    if not plan.is_found:
        _none(console, done)
        return
    rows = order.rows_of(plan)
    print_order_sheet(console, plan, rows, done.ready.on)
    _now_or_later(console, plan)
    print_periods(console, plan)
    if plan.farm.hay_to_appetite is not False:
        say(
            console,
            "Hay to appetite is not used here: the whole winter keeps to the band of dry matter. "
            "For hay always in front of them see ration mix.",
        )
    say(console, "How long it lasts", style="bold")
    for lot in done.stack.lots:
        say(console, f"  {lot.words}")
    say(console, *winter_words.classes(done.stack), *winter_words.behind_the_stack(done.stack))
    say(console, "The bill", style="bold")
    say(console, *winter_words.bill(plan))
    if plan.more:
        say(console, *winter_words.more(plan.more))
    _what_ifs(console, done)
    _refused(console, done.ready)
    print_cautions(console, done.cautions)
    _method(console, done)


def print_order(console: Console, done: Wintered) -> None:
    """`ration order`: the stack line, the order sheet, its proof, and what is refused."""
    plan = done.plan
    _top(console, done)
    if not plan.is_found:
        _none(console, done)
        return
    print_order_sheet(console, plan, order.rows_of(plan), done.ready.on)
    say(console, winter_words.proof(plan))
    _what_ifs(console, done)
    _refused(console, done.ready)
    print_cautions(console, [c for c in done.cautions if c.level == "stop"])
    _footer(console, done)


def _top(console: Console, done: Wintered) -> None:
    print_heading(console, done.ready.farm)
    say(console, done.stack.line, style="bold")


def _none(console: Console, done: Wintered) -> None:
    say(console, *done.why_not, style="bold")
    _what_ifs(console, done)
    _refused(console, done.ready)
    _footer(console, done)


def print_order_sheet(
    console: Console,
    plan: Plan,
    rows: Sequence[OrderRow],
    on: date,
    title: str = "ORDER SHEET",
) -> None:
    """What to buy, from whom, how much, when, at what cost, and when to walk away.

    Parameters
    ----------
    console : Console
    plan : Plan
    rows : sequence of OrderRow
    on : date
        Day of the order.
    title : str
    """
    if not rows:
        say(console, f"{title}: nothing is to be bought.", style="bold")
        return
    has_walk = any(r.walk_away_gbp_per_t is not None for r in rows)
    heads = ["Feed", "From", "tonnes", "as", "when", "£/t", "cost"]
    table(
        console,
        title,
        [*heads, *(["walk away\nabove £/t"] if has_walk else [])],
        [
            (
                r.feed,
                r.merchant,
                r.tonnes_words,
                r.amount,
                r.when,
                f"{r.price_gbp_per_t:.2f}",
                money(r.cost_gbp),
                *([winter_words.walk_away(r)] if has_walk else []),
            )
            for r in rows
        ],
        words=(0, 1, 3, 4),
        whole=(2, 6),
    )
    say(console, winter_words.order_total(plan), style="bold")
    say(console, *winter_words.when_to_ring(rows, on), *winter_words.dates(rows))


def _now_or_later(console: Console, plan: Plan) -> None:
    found = order.now_or_later(plan)
    if found:
        say(console, "Now or later", style="bold")
        say(console, *(x.words for x in found))


def print_periods(console: Console, plan: Plan) -> None:
    """What is put out for each batch, period by period."""
    rich = {o.id for o in plan.offers if o.feed.is_concentrate}
    names = {o.id: o.name for o in plan.offers}
    for batch in plan.farm.batches:
        fed = [f for f in plan.fed if f.batch.name == batch.name]
        feeds = winter_words.feeds_of(plan, fed)
        gains = {f"{f.batch.gain_g_per_day:.0f} g" for f in fed}
        title = f"{batch.name}, {batch.head} head"
        title += f", to gain {gains.pop()} a day" if len(gains) == 1 else ""
        parts = [(f"{title}: put out for each, each day", feeds)]
        if _width([names.get(i, i) for i in feeds]) > ROOM:
            parts = [
                (f"{title}: in the trough for each, each day", [i for i in feeds if i in rich]),
                (f"{title}: in the rack for each, each day", [i for i in feeds if i not in rich]),
            ]
        for words, some in parts:
            _periods(console, words, fed, [(i, names.get(i, i)) for i in some], bool(gains))
        say(console, *winter_words.out_of_doors(plan, fed))
    say(console, *winter_words.steps(plan))


def _column(name: str) -> int:
    """Letters that a feed needs in a heading, its longest word unbroken."""
    return max(LEAST_COLUMN, *(len(word) for word in name.split()))


def _width(names: Sequence[str]) -> int:
    """Letters that feeds take in a table."""
    return sum(_column(name) + 3 for name in names)


def _headings(names: Sequence[str]) -> list[str]:
    """Names as headings, on several lines where they would not all fit side by side."""
    if sum(len(name) + 3 for name in names) <= ROOM:
        return list(names)
    return [textwrap.fill(name, _column(name)) for name in names]


def _periods(
    console: Console,
    title: str,
    fed: Sequence[Fed],
    feeds: Sequence[tuple[str, str]],
    with_gain: bool,
) -> None:
    table(
        console,
        title,
        ("", "weight", *(("gain",) if with_gain else ()), *_headings([n for _, n in feeds])),
        [
            (
                winter_words.span(f.period),
                f"{f.batch.weight_kg:.1f} kg",
                *((f"{f.batch.gain_g_per_day:.0f} g",) if with_gain else ()),
                *(winter_words.put_out(f, i) for i, _ in feeds),
            )
            for f in fed
        ],
        whole=(0, 1),
    )


def _what_ifs(console: Console, done: Wintered) -> None:
    if not done.what_ifs:
        return
    say(console, "What if", style="bold")
    if done.plan.bill is not None:
        say(console, f"As it is: {money(done.plan.bill.total_gbp)}.")
    for asked in done.what_ifs:
        say(console, asked.line, *(f"  {note}" for note in asked.notes))


def _refused(console: Console, ready: Ready) -> None:
    lines = winter_words.refused(ready.supplies)
    if lines:
        say(console, "Refused, and what would make it usable", style="bold")
        say(console, *lines)
    asked = winter_words.to_ask(ready.tied, ready.sheets)
    if asked:
        say(console, "To look at before ordering", style="bold")
        say(console, *asked)
    for feed_id, reason in ready.farm.unpriced:
        say(console, f"Left out: {feed_id} ({reason}).")


def _method(console: Console, done: Wintered) -> None:
    say(console, winter_words.proof(done.plan), style="bold")
    days = done.ready.farm.winter.period_days
    say(
        console,
        f"Method: all batches and {len(done.plan.periods)} periods of {days} days or so in one "
        "programme with whole loads, bags and price steps; every ration proved against its own "
        "needs and summed again from the feeds; stocks walked through to the gram.",
        style="dim",
    )
    _footer(console, done)


def _footer(console: Console, done: Wintered) -> None:
    from importlib import metadata

    farm = done.ready.farm
    say(
        console,
        f"Quotes as they stand on {in_words_day(done.ready.on)}, ex VAT. "
        f"ration {metadata.version('ration')}; feed tables {done.plan.tables_digest}; "
        f"{done.plan.solver}; standard {farm.standard}, margin {farm.margin:g}, maintenance "
        f"{farm.maintenance:g}.",
        style="dim",
    )
