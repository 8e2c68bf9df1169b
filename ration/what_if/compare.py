"""Two plans side by side: the bill, what more is bought, and how long the home hay lasts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from ration.units import in_words_day, money
from ration.what_if.records import Change

if TYPE_CHECKING:
    import pandas as pd

    from ration.winter.records import Plan

EMPTY_T = 0.001
SHOWN_T = 0.05


def bought_t(plan: Plan) -> Mapping[str, float]:
    """The order by offer id. [t fresh]"""
    found: dict[str, float] = {}
    for delivery in plan.deliveries:
        key = delivery.supply.offer_id
        found[key] = found.get(key, 0.0) + delivery.tonnes
    return found


def _home_hay(plan: Plan) -> set[str]:
    return {o.id for o in plan.offers if o.is_home and o.feed.group == "hay"}


def _closing_t(plan: Plan) -> list[float]:
    """Home hay together at the end of each period. [t fresh]"""
    hay = _home_hay(plan)
    return [
        sum(s.closing_t for s in plan.stocks if s.offer_id in hay and s.period.index == p.index)
        for p in plan.periods
    ]


def hay_left_t(plan: Plan) -> float | None:
    """Home hay left at turnout, others' claims taken off; None where there is none to lay out.

    [t fresh]
    """
    hay = _home_hay(plan)
    if not any(s.opening_t > EMPTY_T for s in plan.stocks if s.offer_id in hay):
        return None
    return _closing_t(plan)[-1]


def hay_runs_out(plan: Plan) -> date | None:
    """First day without home hay by the plan; None when it lasts to turnout or there is none."""
    if hay_left_t(plan) is None:
        return None
    empty = None
    for period, closing in zip(reversed(plan.periods), reversed(_closing_t(plan)), strict=True):
        if closing > EMPTY_T:
            break
        empty = period.end
    return None if empty is None or empty >= plan.periods[-1].end else empty


def beside(base: Plan, other: Plan, change: Change) -> str:
    """One line: the new bill against the base, what more or less is bought, and the hay."""
    what = change.words[:1].upper() + change.words[1:]
    if other.bill is None:
        return f"{what}: no plan; {other.why_not or 'none was found'}."
    bill = other.bill.total_gbp
    if base.bill is None:
        told = f"{what}: {money(bill)}; there is no plan without the change to set beside it"
        return f"{told}; {_hay_words(other, None)}."
    more = bill - base.bill.total_gbp
    said = "the same" if abs(more) < 0.005 else f"{money(abs(more))} {_way(more)}"
    open_gbp = sum(p.gap_share * abs(p.bill.total_gbp) for p in (base, other) if p.bill)
    if abs(more) >= 0.005 and open_gbp >= abs(more):
        said += f" (the searches leave {money(open_gbp)} open, so it may be nothing)"
    return f"{what}: {money(bill)}, {said}; {_order_words(base, other)}; {_hay_words(other, base)}."


def _way(more: float) -> str:
    return "more" if more > 0 else "less"


def _order_words(base: Plan, other: Plan) -> str:
    before, after = bought_t(base), bought_t(other)
    names = {o.id: o.name for o in (*base.offers, *other.offers)}
    moves = [(names.get(i, i), after.get(i, 0.0) - before.get(i, 0.0)) for i in {**before, **after}]
    shown = sorted((m for m in moves if abs(m[1]) >= SHOWN_T), key=lambda m: (-m[1], m[0]))
    if not shown:
        return "the order is the same"
    return "order " + ", ".join(f"{abs(t):.1f} t {_way(t)} {name}" for name, t in shown)


def _hay_words(other: Plan, base: Plan | None) -> str:
    left, empty = hay_left_t(other), hay_runs_out(other)
    if left is None:
        return "no home hay to lay out"
    if empty is None:
        return f"home hay lasts to turnout, {max(left, 0.0):.1f} t left"
    said = f"home hay runs out on {in_words_day(empty)}"
    if base is None or hay_left_t(base) is None:
        return said
    was = hay_runs_out(base)
    if was is None:
        return said + ", before it lasted to turnout"
    days = (empty - was).days
    if days == 0:
        return said + ", the same day"
    return said + f", {abs(days)} days {'sooner' if days < 0 else 'later'}"


def frame(base: Plan, others: Sequence[tuple[Change, Plan]]) -> pd.DataFrame:
    """One row a plan, the base first: bill, difference, order and hay; missing where no plan."""
    import pandas as pd

    start = base.bill.total_gbp if base.bill else None
    rows = []
    for words, plan in (("as it is", base), *((c.words, p) for c, p in others)):
        bill = plan.bill
        row: dict[str, object] = {"what_if": words, "is_found": plan.is_found}
        if bill is not None:
            row |= {
                "bill_gbp": bill.total_gbp,
                "more_gbp": None if start is None else bill.total_gbp - start,
                "to_merchants_gbp": bill.cash_gbp,
                "order_t_fresh": sum(bought_t(plan).values()),
                "home_hay_runs_out": hay_runs_out(plan),
                "home_hay_left_t_fresh": hay_left_t(plan),
                "gap_share": plan.gap_share,
            }
        rows.append(row)
    return pd.DataFrame(rows)
