"""Quotes without a farm, as text: the price in the bin of each, cheapest first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ration.buying.landed import FEEDING_LEVEL
from ration.faces.report import say, table
from ration.faces.winter_words import to_ask
from ration.units import in_words_day, money

if TYPE_CHECKING:
    from rich.console import Console

    from ration.jobs.quotes import LandedLine, LandedOnly


def print_landed(console: Console, found: LandedOnly) -> None:
    """`ration quotes` without a farm file."""
    drops = "1 drop" if found.drops == 1 else f"{found.drops} drops"
    amount = "the least that is sold" if found.tonnes is None else f"{found.tonnes:g} t"
    on = "" if found.on is None else f", as the quotes stand on {in_words_day(found.on)}"
    say(console, f"{amount[:1].upper()}{amount[1:]} in {drops}{on}, ex VAT", style="bold")
    usable = [x for x in found.lines if x.landed is not None]
    if usable:
        table(
            console,
            "In the bin: price step, rise, haulage and drops in",
            ("From", "Feed", "as", "t", "£/t", "all", "£/t DM", "p/MJ", "£/kg CP", "£/kg MP"),
            [_row(x) for x in usable],
            words=(0, 1, 2),
            whole=(4, 5, 6, 7, 8, 9),
        )
    for x in usable:
        if x.conditions:
            say(console, f"{x.supply.quote.merchant}, {x.feed}: {x.conditions}; not in the price.")
    if usable:
        say(
            console,
            "CP is crude protein; MP is metabolisable protein of the feed by itself at feeding "
            f"level {FEEDING_LEVEL:g}. What is cheapest for your sheep depends on what else they "
            "eat: name a farm file first to see it.",
            style="dim",
        )
    refused = [x for x in found.lines if x.landed is None]
    if refused:
        say(console, "Refused, and what would make it usable", style="bold")
        say(console, *(f"{x.supply.quote.merchant}, {x.feed}: {x.refused}." for x in refused))
    if asked := to_ask(found.tied, found.sheets):
        say(console, "To look at before ordering", style="bold")
        say(console, *asked)


def _row(x: LandedLine) -> tuple[str, ...]:
    at, cost, quote = x.landed, x.unit_costs, x.supply.quote
    if at is None or cost is None:
        return ()
    parts = (cost.gbp_per_t_dm, cost.p_per_mj, cost.gbp_per_kg_cp, cost.gbp_per_kg_mp)
    pack = quote.pack if quote.pack_kg is None else f"{quote.pack} of {quote.pack_kg:g} kg"
    return (
        quote.merchant,
        x.feed,
        pack,
        f"{x.tonnes:.2f}",
        f"{at.gbp_per_t_fresh:.2f}",
        money(at.cost_gbp),
        *("" if v is None else f"{v:.2f}" for v in parts),
    )
