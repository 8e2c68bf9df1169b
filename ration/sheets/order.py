"""The order on paper: what to ring in, from whom, at what price to stop; a line to sign."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ration.faces import report, winter_report, winter_words
from ration.sheets.card import caution_line
from ration.sheets.ears import Block, Grid, Said, heard
from ration.sheets.html import Foot, Picture, sheet
from ration.units import money
from ration.winter import order

if TYPE_CHECKING:
    from ration.jobs.winter import Wintered

EMPTY = Grid("", (), (), ())


def order_sheet(done: Wintered, at_foot: Foot, pictures: Sequence[Picture] = ()) -> str:
    """The order of a winter that was found, on one or two A4 sides.

    Parameters
    ----------
    done : Wintered
        Its plan is found.
    at_foot : Foot
    pictures : sequence of Picture
        Drawn under the order.
    """
    farm, plan = done.ready.farm, done.plan
    bought = order.rows_of(plan)
    told = heard(lambda c: winter_report.print_order_sheet(c, plan, bought, done.ready.on))
    all_told = heard(lambda c: winter_report.print_order(c, done))
    total = winter_words.order_total(plan) if bought else "Nothing is to be bought."
    return sheet(
        "order.html",
        f"Order sheet, {farm.name}",
        at_foot,
        body="order",
        farm=farm.name,
        heading=_said(heard(lambda c: report.print_heading(c, farm)))[0],
        stack=done.stack.line,
        rows=next((b for b in told if isinstance(b, Grid)), EMPTY),
        total=total,
        notes=[x for x in _said(told) if x != total] if bought else [],
        stops=[caution_line(c) for c in done.cautions if c.level == "stop"],
        proof=winter_words.proof(plan),
        lists=_lists(done),
        method=_said(all_told)[-1],
        pictures=pictures,
    )


def _lists(done: Wintered) -> list[tuple[str, list[str]]]:
    """What may not be bought, what to ask, what was left out, what if."""
    ready, bill = done.ready, done.plan.bill
    base = [f"As it is: {money(bill.total_gbp)}."] if bill is not None and done.what_ifs else []
    return [
        ("Refused, and what would make it usable", winter_words.refused(ready.supplies)),
        ("To look at before ordering", winter_words.to_ask(ready.tied, ready.sheets)),
        ("Left out", [f"{feed} ({why})" for feed, why in ready.farm.unpriced]),
        ("What if", base + [line for x in done.what_ifs for line in (x.line, *x.notes)]),
    ]


def _said(blocks: Sequence[Block]) -> list[str]:
    return [b.text for b in blocks if isinstance(b, Said)]
