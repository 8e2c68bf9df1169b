"""A weighing as text: what it tells, what catches up at what cost, the top-up order, the cards."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ration import weighing
from ration.cautions import STANDING
from ration.faces.card_report import print_cards
from ration.faces.report import print_heading, say
from ration.faces.winter_report import print_order_sheet
from ration.faces.winter_words import proof
from ration.units import in_words_day
from ration.winter import order

if TYPE_CHECKING:
    from rich.console import Console

    from ration.jobs.weigh import CatchUp, Weighed


def print_weighing(console: Console, done: Weighed) -> None:
    """`ration weigh`: against the line, then what to do about it."""
    print_heading(console, done.base.ready.farm)
    print_told(console, done)
    best = _best(done)
    if best is None or best.plan is None:
        return
    say(console, "New cards", style="bold")
    print_cards(console, done.cards)
    if not done.cards:
        say(console, STANDING, style="bold")


def print_told(console: Console, done: Weighed) -> None:
    """Against the line, what catches up at what cost, and the top-up order; no cards."""
    w = done.told.weighing
    what = w.batch or "a sample of all"
    say(console, f"Weighed on {in_words_day(w.when)}: {what}", style="bold")
    say(console, weighing.words(done.told), *done.notes)
    if not done.base.plan.is_found:
        say(console, *done.base.why_not, style="bold")
        return
    if done.by_turnout is None:
        say(console, "The work stopped before the rest of the winter was planned.", style="bold")
        return
    say(console, "Catching up", style="bold")
    say(console, *done.by_turnout.words)
    if done.later is not None:
        say(console, *done.later.words)
    if done.expired:
        say(console, "Quotes that no longer hold", style="bold")
        say(console, *done.expired)
    best = _best(done)
    if best is None or best.plan is None:
        return
    rows = order.rows_of(best.plan)
    title = f"TOP-UP ORDER, to catch up by {in_words_day(best.by)}"
    print_order_sheet(console, best.plan, rows, w.when, title)
    say(console, proof(best.plan))


def _best(done: Weighed) -> CatchUp | None:
    """The plan that the cards are of."""
    for found in (done.by_turnout, done.later):
        if found is not None and found.plan is not None and found.plan.is_found:
            return found
    return None
