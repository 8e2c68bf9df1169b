"""A weighing in mid-winter: what it tells, what catches up, what that costs, and the new cards.

The winter is planned as it was on the first day; from the day of the weighing it is planned twice
more, once for sheep on their weight line and once for sheep as weighed, feed already bought being
paid for in both. The difference is what catching up costs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from ration import card, weighing
from ration.assess import Assessment
from ration.card import Card
from ration.errors import FileError, InputError, OutOfRange, Problem
from ration.farm import Farm
from ration.jobs.winter import (
    SECONDS,
    Ready,
    Stop,
    Tell,
    Wintered,
    check_batches,
    never,
    plan_of,
    read_winter,
    silent,
    told_of,
)
from ration.plain_text import joined, sentence
from ration.quotes.records import Supply
from ration.strict_yaml import decoded
from ration.units import day_words, in_words_day, mass_kg, money
from ration.weighing import Told, Weighing
from ration.weighing.rest import target_kg
from ration.weighing.store import IN_STORE
from ration.winter import Plan

MOST_WEIGHTS = 5000


@dataclass(frozen=True)
class CatchUp:
    """The rest of the winter for sheep as weighed, to reach the target by one day.

    Attributes
    ----------
    by : date
    gain_g_per_day : mapping of str to float
        By batch. [g/day]
    plan : Plan or None
        None when no plan was tried, and `why_not` says why.
    more_gbp : float or None
        Than for sheep on their line; None where one of the two has no plan, or where the winters
        are not of one length. [GBP]
    words : tuple of str
    """

    by: date
    gain_g_per_day: Mapping[str, float]
    plan: Plan | None
    more_gbp: float | None
    words: tuple[str, ...]


@dataclass(frozen=True)
class Weighed:
    """A weighing worked out.

    Attributes
    ----------
    base : Wintered
        The winter as planned on its first day.
    told : Told
    weights : mapping of str to float
        Of each batch, to go on from. [kg]
    notes : tuple of str
        Where those weights come from.
    on_line : Plan or None
        The rest of the winter had they been on their line.
    by_turnout : CatchUp or None
    later : CatchUp or None
        By a later day, when one was asked for.
    cards : tuple of Card
        Of the first period from the weighing.
    expired : tuple of str
        Quotes that no longer hold on the day.
    """

    base: Wintered
    told: Told
    weights: Mapping[str, float]
    notes: tuple[str, ...]
    on_line: Plan | None
    by_turnout: CatchUp | None
    later: CatchUp | None
    cards: tuple[Card, ...]
    expired: tuple[str, ...]

    @property
    def is_found(self) -> bool:
        """Whether there is a plan to go on with."""
        best = self.by_turnout
        return best is not None and best.plan is not None and best.plan.is_found


def weights_of(path: Path) -> list[float]:
    """Weights from a file, one a line; "#" begins a remark, a bare number is kg. [kg]

    Raises
    ------
    InputError
        Every line that is not a weight.
    """
    if not path.is_file():
        raise FileError(Problem(str(path), "there is no such file", "one weight a line"))
    return weights_in(decoded(path.read_bytes(), path.name), path.name)


def weights_in(text: str, name: str) -> list[float]:
    """Weights from a text, one a line; `name` says in a fault whose line it is. [kg]

    Raises
    ------
    InputError
        Every line that is not a weight.
    """
    found: list[float] = []
    faults: list[Problem] = []
    for number, line in enumerate(text.splitlines(), 1):
        words = line.split("#")[0].strip().strip(",;")
        if not words:
            continue
        try:
            found.append(mass_kg(words if words[-1].isalpha() else f"{words} kg"))
        except InputError as error:
            faults += error.at(f"{name} line {number}").problems
    if len(found) > MOST_WEIGHTS:
        faults.append(Problem(name, f"{len(found)} weights", f"at most {MOST_WEIGHTS}"))
    if faults:
        raise OutOfRange(*faults)
    return found


def weigh_file(
    path: Path,
    weighed: Weighing,
    *,
    quotes: Sequence[Path] = (),
    later: date | int | None = None,
    start_hours_off: float | None = None,
    seconds: float = SECONDS,
    overlays: Sequence[Path] = (),
    tell: Tell = silent,
    stop: Stop = never,
    base: Wintered | None = None,
) -> Weighed:
    """What a weighing tells of a farm's winter, and the rest of the winter from it.

    Parameters
    ----------
    path : Path
        The farm file.
    weighed : Weighing
    quotes, overlays
        As in `ration.jobs.winter.read_winter`.
    later : date or int, optional
        A later day to catch up by, or so many days after turnout.
    start_hours_off : float, optional
        Hours off feed at the first weighing. [h]
    seconds : float
        For each plan. [s]
    tell, stop
        As in `ration.winter.plan`.
    base : Wintered or None
        The winter as planned on its first day, when it was worked out before.

    Raises
    ------
    InputError
        Every fault of the files and the weighing.
    NotProved, BalanceError
        The books of a plan do not balance.
    """
    return weighed_of(
        read_winter(path, quotes=quotes, overlays=overlays) if base is None else base.ready,
        weighed,
        later=later,
        start_hours_off=start_hours_off,
        seconds=seconds,
        tell=tell,
        stop=stop,
        base=base,
    )


def weighed_of(
    ready: Ready,
    weighed: Weighing,
    *,
    later: date | int | None = None,
    start_hours_off: float | None = None,
    seconds: float = SECONDS,
    tell: Tell = silent,
    stop: Stop = never,
    base: Wintered | None = None,
) -> Weighed:
    """What a weighing tells of the winter of a farm that is ready to be planned.

    Parameters
    ----------
    ready : Ready
        That of `base` where one is given.
    weighed : Weighing
    later, start_hours_off, seconds, tell, stop, base
        As in `weigh_file`.

    Raises
    ------
    InputError
        Every fault of the weighing.
    NotProved, BalanceError
        The books of a plan do not balance.
    """
    farm, when = ready.farm, weighed.when
    check_batches(farm, [weighed.batch] if weighed.batch else [])
    end = later_day(farm, later)
    told = weighing.against_farm(weighed, farm, later_end=end, start_hours_off=start_hours_off)
    weights, notes = weighing.batch_weights([weighed], farm)
    if base is None:
        tell("the winter as planned on its first day")
        plan = plan_of(
            farm,
            ready.supplies,
            ready.tables,
            seconds=seconds,
            with_values=False,
            tell=tell,
            stop=stop,
        )
        base = told_of(ready, plan)
    first_plan = base.plan
    nothing = Weighed(base, told, weights, notes, None, None, None, (), ())
    if not base.plan.is_found or stop():
        return nothing
    supplies, expired = _still_hold(ready, base.plan, when)

    def rest(of: Mapping[str, float], by: date | None, words: str, values: bool) -> Plan:
        tell(words)
        new = weighing.farm_from(farm, first_plan, when, of, end=by)
        return plan_of(new, supplies, ready.tables, seconds=seconds, with_values=values,
                       tell=tell, stop=stop)  # fmt: skip

    on_line = rest(
        {b.name: farm.line_kg(b, when) for b in farm.batches},
        None,
        "the rest of the winter, on the line",
        False,
    )

    def catch_up(by: date | None) -> CatchUp:
        day = by or farm.line_end
        gains = {
            b.name: (target_kg(farm, b) - weights[b.name]) * 1000 / (day - when).days
            for b in farm.batches
        }
        try:
            plan = rest(weights, by, f"catching up by {in_words_day(day)}", by is None)
        except OutOfRange as error:
            why = tuple(f"By {in_words_day(day)} they cannot: {p}" for p in error.problems)
            return CatchUp(day, gains, None, None, why)
        more = None
        if by is None and plan.bill is not None and on_line.bill is not None:
            more = plan.bill.total_gbp - on_line.bill.total_gbp
        return CatchUp(day, gains, plan, more, tuple(_words(plan, on_line, gains, day, more, when)))

    first = catch_up(None)
    second = catch_up(end) if end is not None and not stop() else None
    best = first.plan if first.plan is not None and first.plan.is_found else None
    if best is None and second is not None and second.plan is not None and second.plan.is_found:
        best = second.plan
    return replace(
        nothing,
        on_line=on_line,
        by_turnout=first,
        later=second,
        cards=() if best is None else card.cards(_as_one(best), when, ready.tables),
        expired=expired,
    )


def _as_one(plan: Plan) -> Plan:
    """The plan with feed already bought and the same feed still to be bought as one: one heap."""
    known = {o.id: o for o in plan.farm.offers}
    both = {i: i.removesuffix(IN_STORE) for i in known if i.endswith(IN_STORE)}
    twin = {i: known[base] for i, base in both.items() if base in known}

    def merged(kg: Mapping[str, float]) -> Mapping[str, float]:
        out: dict[str, float] = {}
        for i, x in kg.items():
            name = twin[i].id if i in twin else i
            out[name] = out.get(name, 0.0) + x
        return out

    def renamed(told: Assessment) -> Assessment:
        portions = [
            replace(p, id=twin[p.id].id, name=twin[p.id].name) if p.id in twin else p
            for p in told.portions
        ]
        return replace(told, portions=tuple(portions))

    offers = {o.id: o for o in (twin.get(o.id, o) for o in plan.offers)}
    return replace(
        plan,
        offers=tuple(offers.values()),
        fed=tuple(
            replace(
                f,
                kg_dm=merged(f.kg_dm),
                kg_offered=merged(f.kg_offered),
                assessment=renamed(f.assessment),
            )
            for f in plan.fed
        ),
    )


def later_day(farm: Farm, later: date | int | None) -> date | None:
    """The later day to catch up by; None where none is asked for.

    Raises
    ------
    OutOfRange
        It is not after turnout.
    """
    if later is None:
        return None
    end = farm.end.fromordinal(farm.end.toordinal() + later) if isinstance(later, int) else later
    if end <= farm.end:
        raise OutOfRange(
            Problem(
                "--later",
                f"{in_words_day(end)} is not after {in_words_day(farm.end)}",
                "a later day is wanted, or a number of days over 0",
            )
        )
    return end


def _still_hold(ready: Ready, plan: Plan, when: date) -> tuple[tuple[Supply, ...], tuple[str, ...]]:
    """Supplies from a day on, and those whose time is past; what was ordered already may come."""
    ordered = {d.supply.id for d in plan.deliveries if d.period.start >= when}
    names = {o.id: o.name for o in ready.farm.offers}
    kept, expired = [], []
    for s in weighing.supplies_from(ready.supplies, plan, when):
        until = s.quote.valid_until
        if s.is_usable and until is not None and until < when and s.id not in ordered:
            why = f"expired {in_words_day(until)}: ask if it still holds"
            s = replace(s, refused=why)
            name = sentence(names.get(s.offer_id, s.quote.feed))
            expired.append(f"{name}, {s.quote.merchant}: {why}.")
        kept.append(s)
    return tuple(kept), tuple(expired)


def _words(
    plan: Plan,
    on_line: Plan,
    gains: Mapping[str, float],
    day: date,
    more: float | None,
    when: date,
) -> list[str]:
    """What catching up asks and costs."""
    asked = joined([f"{g:.0f} g ({name})" for name, g in gains.items()])
    lead = f"To reach their targets by {in_words_day(day)} they must gain {asked} a day"
    if plan.bill is None:
        why = "the work stopped first" if plan.is_cut_short else plan.why_not
        return [f"{lead}: no plan; {why}."]
    bill = plan.bill
    said = [
        f"{lead}. From {day_words(when)} that costs {money(bill.total_gbp)}, feed already bought "
        f"being paid for; merchants are paid {money(bill.cash_gbp)}."
    ]
    if more is None or on_line.bill is None:
        return said
    head = sum(b.head for b in plan.farm.batches)
    open_gbp = sum(p.gap_share * abs(p.bill.total_gbp) for p in (plan, on_line) if p.bill)
    way = "more" if more >= 0 else "less"
    line = f"That is {money(abs(more))} {way} than for sheep on their line"
    line += f", {money(abs(more) / head)} a head"
    if open_gbp >= abs(more):
        line += f"; the searches leave {money(open_gbp)} open, so it may be nothing"
    return [*said, f"{line}."]
