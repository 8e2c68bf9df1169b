"""Rows of the tables of one ration: what to give, what it brings. Rounding only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ration import explain
from ration.card.measures import weight_words
from ration.explain import kilos, pence
from ration.faces import report
from ration.plain_text import sentence
from ration.units import money

if TYPE_CHECKING:
    from ration.card import Card
    from ration.lines import FeedLine
    from ration.mix import Ration

GIVE = ("Feed", "put out, each", "eaten", "as dry matter", "for all, a day", "cost, each", "winter")
BRING = ("Need or limit", "brings", "at least", "at most", "how near")


@dataclass(frozen=True)
class MealLine:
    """One feed at one meal: how much, of what, how often besides, where, and its weight."""

    much: str
    feed: str
    more: str
    place: str
    weight: str


def give(ration: Ration) -> list[tuple[str, ...]]:
    """What to give, trough feed first."""
    head = ration.batch.head
    offers = {o.id: o for o in ration.offers}
    used = sorted((f for f in ration.feeds if f.is_used), key=lambda f: offers[f.id].feed.is_forage)
    out: list[tuple[str, ...]] = []
    for f in used:
        is_grazed = offers[f.id].is_grazed
        out.append(
            (
                "grass they find"
                if is_grazed
                else f.name + (" (all there is)" if f.is_at_stock_limit else ""),
                "" if is_grazed else kilos(f.kg_fresh_offered_per_head_day),
                kilos(f.kg_fresh_per_head_day),
                kilos(f.kg_dm_per_head_day),
                "" if is_grazed else f"{f.kg_fresh_offered_per_head_day * head:.1f} kg",
                "" if is_grazed else pence(f.cost_gbp_per_head_day),
                "" if is_grazed else f"{f.t_fresh_for_winter:.2f} t",
            )
        )
    return out


def brings(ration: Ration) -> list[tuple[str, ...]]:
    """What it brings, a row a need or limit."""
    return [
        (
            f"{n.name}, {n.unit}",
            report.number(n.supply, n.unit),
            report.number(n.need, n.unit),
            report.number(n.limit, n.unit),
            "just met" if n.binding else "",
        )
        for n in report.shown_nutrients(ration)
    ]


def needs(ration: Ration) -> list[tuple[str, str]]:
    """A plain line for each need: just met, or met."""
    return [
        (sentence(n.name), "just met" if n.binding else "met")
        for n in report.shown_nutrients(ration)
        if n.need is not None
    ]


def worths(ration: Ration) -> list[tuple[str, ...]]:
    """What each feed is worth to this ration."""
    grazed = {o.id for o in ration.offers if o.is_grazed}
    lines = sorted(
        (f for f in ration.feeds if f.id not in grazed), key=lambda f: (not f.is_used, f.name)
    )
    return [
        (
            f.name,
            money(f.price_gbp_per_t_fresh) + (" at home" if f.is_home else ""),
            explain.worth_words(f),
        )
        for f in lines
    ]


def beside(first: Ration, now: Ration) -> list[tuple[str, ...]]:
    """Two rations beside each other, feed by feed, as put out for each a day."""
    told = [{f.id: f for f in r.feeds if f.is_used} for r in (first, now)]
    names = {f.id: f.name for r in told for f in r.values()}

    def amount(of: dict[str, FeedLine], feed: str) -> str:
        return kilos(of[feed].kg_fresh_offered_per_head_day) if feed in of else "none"

    rows = [(name, *(amount(of, i) for of in told)) for i, name in names.items()]
    costs = [pence(r.cost_gbp_per_head_day, 2) if r.is_found else "no mix" for r in (first, now)]
    return [*rows, ("cost, a head a day", *costs)]


def meals(card: Card) -> list[tuple[str, list[MealLine]]]:
    """What goes in at each meal of the day, by its name."""
    out = []
    for name in card.meal_names():
        lines = []
        for x in card.lines:
            meal = card.meals_of(x).get(name)
            if meal is not None:
                weight = "" if meal.count is None else f"({weight_words(meal.kg)})"
                lines.append(MealLine(meal.shown, x.name, meal.more, x.place, weight))
        out.append((sentence(name), lines))
    return out
