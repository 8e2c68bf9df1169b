"""Quotes compared, as text: who is cheapest for these sheep first, then the figures behind it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from ration.buying.landed import FEEDING_LEVEL
from ration.explain import pence
from ration.faces.report import say, table
from ration.plain_text import sentence
from ration.units import in_words_day, money

if TYPE_CHECKING:
    from rich.console import Console

    from ration.buying.compare import Ranked
    from ration.buying.landed import UnitCosts
    from ration.buying.tie import Tied
    from ration.quotes.records import QuoteSheet


def print_quotes(
    console: Console,
    ranked: Sequence[Ranked],
    tied: Tied,
    *,
    on: date,
    sheets: Sequence[QuoteSheet] = (),
) -> None:
    """Words first, then landed costs, the ranking, what is refused and what the sheets leave open.

    Parameters
    ----------
    console : Console
    ranked : sequence of Ranked
        From `ration.buying.compare.ranking`.
    tied : Tied
    on : date
        Day the quotes were looked at.
    sheets : sequence of QuoteSheet
        Where the quotes were read, for their questions.
    """
    say(console, f"Quotes as they stand on {in_words_day(on)}, ex VAT", style="bold")
    say(console, *in_a_few_sentences(ranked))
    _landed_table(console, ranked)
    _ranking(console, ranked)
    _refused(console, ranked)
    _questions(console, tied, sheets)


def in_a_few_sentences(ranked: Sequence[Ranked]) -> list[str]:
    """Who is cheapest of each kind, at what a head a day, and what would change it."""
    out = []
    for kind in dict.fromkeys(r.kind for r in ranked):
        mine = [r for r in ranked if r.kind == kind]
        found = [r for r in mine if r.rank is not None]
        if not found:
            why = "no adequate ration can be made with any of them"
            if all(r.refused for r in mine):
                why = "every one is refused"
            out.append(f"{_kind_words(kind)}: no quote can be used; {why}.")
            continue
        first = found[0]
        if first.cost_gbp_per_head_day is None:
            continue
        day = pence(first.cost_gbp_per_head_day)
        if not first.is_used:
            out.append(
                f"{_kind_words(kind)}: none is worth buying for these sheep at these prices; "
                f"without any they cost {day} a head a day."
            )
            continue
        words = (
            f"{first.merchant} is cheapest for these sheep with {first.feed}: {day} a head a day, "
            f"{money(first.cost_gbp_for_winter or 0.0)} for the winter."
        )
        out += [words, *_against_next(found), *_how_bought(first)]
        if first.may_rise_gbp_per_t is not None:
            out.append(_rise_words(first, found))
    return [sentence(words) for words in out]


def _kind_words(kind: str) -> str:
    words = {"compound": "compound feed", "byproduct": "by-products", "npn": "urea"}.get(kind, kind)
    return words[:1].upper() + words[1:]


def _against_next(found: Sequence[Ranked]) -> list[str]:
    """How much dearer the next one is."""
    first = found[0]
    if len(found) < 2:
        return []
    second = found[1]
    more = (second.cost_gbp_for_winter or 0.0) - (first.cost_gbp_for_winter or 0.0)
    who = f"{second.merchant} is next with {second.feed}"
    if more < 0.005:
        return [f"{who}, at the same cost."]
    if not second.is_used:
        return [f"{who}, but it is not worth buying; doing without costs {money(more)} more."]
    each = (second.cost_gbp_per_head_day or 0.0) - (first.cost_gbp_per_head_day or 0.0)
    return [f"{who}, {pence(each)} a head a day or {money(more)} more."]


def _how_bought(r: Ranked) -> list[str]:
    """How much is bought and how it comes."""
    if r.buy is None or r.landed is None:
        return []
    b = r.buy
    loads = "1 delivery" if b.drops == 1 else f"{b.drops} deliveries"
    if b.quote.is_collected:
        loads = "fetched"
    packs = "" if b.packs is None else f" in {b.packs} packs of {b.quote.pack_kg:g} kg"
    words = (
        f"They need {r.tonnes:.2f} t of it; {b.tonnes:.2f} t is bought{packs}, {loads}, landed at "
        f"{money(r.landed.gbp_per_t_fresh)} a tonne."
    )
    if b.left_t > 0.005:
        words += f" {b.left_t:.2f} t is left over: that is the cheapest way to buy enough."
    return [words]


def _rise_words(first: Ranked, found: Sequence[Ranked]) -> str:
    rise = first.may_rise_gbp_per_t or 0.0
    second = next((r for r in found[1:] if r.is_used), None)
    then = "it is not worth buying"
    if second is not None:
        same = second.merchant == first.merchant
        then = f"his own {second.feed} is level" if same else f"{second.merchant} is level"
    return f"If {first.merchant}'s price goes up by {money(rise)} a tonne, {then}."


def _landed_table(console: Console, ranked: Sequence[Ranked]) -> None:
    rows = [
        (r.merchant, r.feed, _two(at.gbp_per_t_fresh), *map(_two, _by_content(u)))
        for r in ranked
        if (at := r.landed) is not None and (u := r.unit_costs) is not None
    ]
    if not rows:
        return
    table(
        console,
        "Landed: tier, drops, haulage, rise and terms in",
        ("Merchant", "Feed", "£/t", "£/t DM", "p/MJ", "£/kg CP", "£/kg MP"),
        rows,
        words=(0, 1),
    )
    say(
        console,
        "CP is crude protein; MP is metabolisable protein of the feed by itself at feeding level "
        f"{FEEDING_LEVEL:g}, the smaller of what its degradable protein and its energy allow. A "
        "feed cheap by one of these is not yet cheap for the sheep; the ranking goes by the sheep.",
        style="dim",
    )


def _by_content(u: UnitCosts) -> tuple[float | None, ...]:
    return u.gbp_per_t_dm, u.p_per_mj, u.gbp_per_kg_cp, u.gbp_per_kg_mp


def _two(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"


def _worth(value: float | None) -> str:
    if value is None:
        return ""
    return "any price" if math.isinf(value) else f"{value:.2f}"


def _flip(r: Ranked) -> str:
    """What moves its rank: up by, or down by, so much a tonne."""
    parts = []
    up = "moves up" if r.is_used else "is worth buying"
    if r.must_fall_gbp_per_t is not None:
        parts.append(f"£{r.must_fall_gbp_per_t:.2f}/t less and it {up}")
    if r.is_used and r.may_rise_gbp_per_t is not None:
        parts.append(f"£{r.may_rise_gbp_per_t:.2f}/t more and it moves down")
    return "; ".join(parts)


def _ranking(console: Console, ranked: Sequence[Ranked]) -> None:
    for kind in dict.fromkeys(r.kind for r in ranked if not r.refused):
        table(
            console,
            f"{_kind_words(kind)}: what these sheep cost with each as the only change",
            ("", "Merchant", "p a head\na day", "£ for the\nwinter", "t", "worth\n£/t", "Why"),
            [
                (
                    "" if r.rank is None else str(r.rank),
                    f"{r.merchant}, {r.feed}",
                    ""
                    if r.cost_gbp_per_head_day is None
                    else f"{r.cost_gbp_per_head_day * 100:.2f}",
                    _two(r.cost_gbp_for_winter),
                    f"{r.tonnes:.2f}",
                    _worth(r.worth_gbp_per_t_fresh),
                    ". ".join(part for part in (r.reason, _flip(r)) if part),
                )
                for r in ranked
                if r.kind == kind and not r.refused
            ],
            words=(0, 1, 6),
        )
    without = {
        r.kind: r.without_gbp_per_head_day for r in ranked if r.without_gbp_per_head_day is not None
    }
    for kind, cost in without.items():
        say(console, f"Without any quoted {_kind_words(kind).lower()}: {pence(cost)} a head a day.")
    say(
        console,
        "The whole bill of each is set against these sheep, what is left over too. Moving a price "
        "means every price of that merchant for that feed, in £ a tonne.",
        style="dim",
    )


def _refused(console: Console, ranked: Sequence[Ranked]) -> None:
    refused = [r for r in ranked if r.refused]
    if not refused:
        return
    say(console, "Refused", style="bold")
    for r in refused:
        pack = r.supplies[0].quote.pack if r.supplies else ""
        say(console, f"{r.merchant}, {r.feed}, {pack}: {r.refused}.")


def _questions(console: Console, tied: Tied, sheets: Sequence[QuoteSheet]) -> None:
    lines = list(tied.notes)
    for sheet in sheets:
        lines += [f"{sheet.file}: {question}" for question in sheet.questions]
        lines += [f"{sheet.file}, not read: {row}" for row in sheet.not_read]
    if lines:
        say(console, "To ask before ordering", style="bold")
        say(console, *dict.fromkeys(lines))
