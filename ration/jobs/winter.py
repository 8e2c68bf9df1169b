"""From files to a worked winter: the stack, the plan, the order, a weighing, the cards.

Each job reads a farm file and its quotes, works them and gathers the cautions; it prints nothing.
Without a day of its own a job takes the first day of the winter, never today.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from ration import card, choices, explain, jobs, mix, what_if, winter
from ration.buying import tie
from ration.buying.tie import Tied
from ration.cautions import Caution
from ration.choices import Gap
from ration.errors import InputError, OutOfRange, Problem, UnknownName
from ration.farm import Farm, Offer
from ration.jobs import winter_cautions
from ration.plain_text import sentence
from ration.quotes.reader import read as read_quotes
from ration.quotes.records import QuoteSheet, Supply
from ration.stack import lots as stacked
from ration.stack.lots import HAY_KG_PER_HEAD_DAY, Stacked
from ration.tables import Tables
from ration.units import in_words_day
from ration.what_if import Change, PriceMove
from ration.winter import Plan

Tell = Callable[[str], None]
Stop = Callable[[], bool]
SECONDS = winter.SECONDS


def silent(_: str) -> None:
    """Tell nobody."""


def never() -> bool:
    """Never stop."""
    return False


@dataclass(frozen=True)
class Ready:
    """A farm and its merchants' quotes, ready to be planned.

    Attributes
    ----------
    farm : Farm
        With the feeds that only quotes bring, gaps filled where the file allows it.
    tables : Tables
    sheets : tuple of QuoteSheet
    tied : Tied
    gaps : tuple of Gap
        Every figure that was filled.
    on : date
        Day on which the order would be placed.
    """

    farm: Farm
    tables: Tables
    sheets: tuple[QuoteSheet, ...]
    tied: Tied
    gaps: tuple[Gap, ...]
    on: date

    @property
    def supplies(self) -> tuple[Supply, ...]:
        """All quotes as supplies, refused ones too."""
        return self.tied.supplies

    @property
    def refused(self) -> tuple[Supply, ...]:
        """Supplies that may not be bought, each with why and what would make it usable."""
        return tuple(s for s in self.supplies if not s.is_usable)


@dataclass(frozen=True)
class WhatIf:
    """A winter with one thing changed, beside the base.

    Attributes
    ----------
    change : Change
    notes : tuple of str
        What its words do not say.
    plan : Plan or None
        None when the work was stopped before it.
    line : str
        New bill, order and run-out beside the base.
    """

    change: Change
    notes: tuple[str, ...]
    plan: Plan | None
    line: str


@dataclass(frozen=True)
class Wintered:
    """A winter worked out.

    Attributes
    ----------
    ready : Ready
    plan : Plan
    stack : Stacked
        By the plan; as estimated where there is none.
    cautions : tuple of Caution
        Each once for the winter, stops first.
    what_ifs : tuple of WhatIf
    why_not : tuple of str
        Sentences, when there is no plan.
    """

    ready: Ready
    plan: Plan
    stack: Stacked
    cautions: tuple[Caution, ...]
    what_ifs: tuple[WhatIf, ...] = ()
    why_not: tuple[str, ...] = ()


def stack_file(
    path: Path,
    *,
    hay_kg_per_head_day: float = HAY_KG_PER_HEAD_DAY,
    overlays: Sequence[Path] = (),
) -> Stacked:
    """The stack of a farm file before there is a plan.

    Parameters
    ----------
    path : Path
    hay_kg_per_head_day : float
        Taken to be eaten by each of the batches. [kg fresh/head/day]
    overlays : sequence of Path

    Raises
    ------
    InputError
        Every fault of the file, or a weight of hay that cannot be.
    """
    farm, _ = jobs.read_farm(path, overlays=overlays)
    return stacked.estimated(farm, hay_kg_per_head_day)


def quotes_of(paths: Sequence[Path]) -> tuple[QuoteSheet, ...]:
    """Files of quotes read, the faults of all of them together.

    Raises
    ------
    InputError
        Every fault of every file, one line each.
    """
    sheets: list[QuoteSheet] = []
    faults: list[Problem] = []
    for path in paths:
        try:
            sheets.append(read_quotes(path))
        except InputError as error:
            faults += error.problems
    if faults:
        raise InputError(*faults)
    return tuple(sheets)


def read_winter(
    path: Path,
    *,
    quotes: Sequence[Path] = (),
    on: date | None = None,
    overlays: Sequence[Path] = (),
) -> Ready:
    """A farm file with its quotes, ready to be planned.

    Parameters
    ----------
    path : Path
    quotes : sequence of Path
        Files of quotes to use instead of those that the farm file names.
    on : date, optional
        Day on which the order is placed; None takes the first day of the winter.
    overlays : sequence of Path

    Raises
    ------
    InputError
        Every fault of the farm file, the tables, the quotes and their ties; a gap that may not
        be filled.
    """
    farm, book = jobs.read_farm(path, overlays=overlays)
    return ready_of(farm, book, quotes=quotes, on=on)


def ready_of(
    farm: Farm, book: Tables, *, quotes: Sequence[Path] = (), on: date | None = None
) -> Ready:
    """A farm that was read, with its quotes, ready to be planned.

    Parameters
    ----------
    farm : Farm
    book : Tables
    quotes, on
        As in `read_winter`.

    Raises
    ------
    InputError
        Every fault of the quotes and their ties; a gap that may not be filled.
    """
    sheets = quotes_of(quotes or farm.winter.quotes)
    day = farm.start if on is None else on
    tied = tie.tie(farm, [q for s in sheets for q in s.quotes], book, on=day)
    assume = (*farm.assume, *(new for new, old in tied.stands_for.items() if old in farm.assume))
    whole = replace(
        farm,
        offers=tied.offers,
        assume=assume,
        winter=replace(farm.winter, stores=tied.stores or farm.winter.stores),
    )
    completed, gaps = _completed(whole, book)
    return Ready(completed, book, sheets, tied, gaps, day)


def _completed(farm: Farm, book: Tables) -> tuple[Farm, tuple[Gap, ...]]:
    """The farm with the gaps of what sheep may be fed filled, where it allows it."""
    fit = [o for o in farm.offers if not o.made_for]
    done, gaps = choices.complete(fit, book, farm.assume)
    by_id = {o.id: o for o in done}
    return replace(farm, offers=tuple(by_id.get(o.id, o) for o in farm.offers)), gaps


def plan_of(
    farm: Farm,
    supplies: Sequence[Supply],
    book: Tables,
    *,
    seconds: float = SECONDS,
    with_values: bool = True,
    tell: Tell = silent,
    stop: Stop = never,
) -> Plan:
    """The cheapest winter of a farm that holds its own offers, gaps filled first."""
    whole, _ = _completed(farm, book)
    fit = [o for o in whole.offers if not o.made_for]
    return winter.plan(
        whole, book, fit, supplies, seconds=seconds, with_values=with_values, tell=tell, stop=stop
    )


def winter_file(
    path: Path,
    *,
    quotes: Sequence[Path] = (),
    on: date | None = None,
    seconds: float = SECONDS,
    what_ifs: Sequence[str] = (),
    with_values: bool = True,
    overlays: Sequence[Path] = (),
    tell: Tell = silent,
    stop: Stop = never,
) -> Wintered:
    """The whole winter of a farm file: plan, stack, cautions, and what-ifs beside it.

    Parameters
    ----------
    path : Path
    quotes, on, overlays
        As in `read_winter`.
    seconds : float
        For each plan. [s]
    what_ifs : sequence of str
        Changes in the farmer's words.
    with_values : bool
        Also the worth of one more tonne and the price to walk away at.
    tell, stop
        As in `ration.winter.plan`.

    Raises
    ------
    InputError
        Every fault of the files, or a what-if that is not understood; before any plan is worked.
    NotProved, BalanceError
        The books of the plan do not balance; nothing is shown.
    """
    ready = read_winter(path, quotes=quotes, on=on, overlays=overlays)
    return wintered(
        ready, seconds=seconds, what_ifs=what_ifs, with_values=with_values, tell=tell, stop=stop
    )


def wintered(
    ready: Ready,
    *,
    seconds: float = SECONDS,
    what_ifs: Sequence[str] = (),
    with_values: bool = True,
    tell: Tell = silent,
    stop: Stop = never,
) -> Wintered:
    """The whole winter of a farm that is ready to be planned.

    Parameters
    ----------
    ready : Ready
    seconds, what_ifs, with_values, tell, stop
        As in `winter_file`.

    Raises
    ------
    InputError
        A what-if that is not understood; before any plan is worked.
    NotProved, BalanceError
        The books of the plan do not balance; nothing is shown.
    """
    changed = changed_by(ready, what_ifs)
    plan = plan_of(
        ready.farm,
        ready.supplies,
        ready.tables,
        seconds=seconds,
        with_values=with_values,
        tell=tell,
        stop=stop,
    )
    asked: list[WhatIf] = []
    for change, farm, supplies in changed:
        told = what_if.notes(change, ready.farm)
        what = sentence(change.words)
        if stop():
            asked.append(WhatIf(change, told, None, f"{what}: not worked out, the work stopped."))
            continue
        if _is_idle(change, ready.supplies, supplies, plan):
            line = f"{what}: nothing changes, none of it is in the order."
            asked.append(WhatIf(change, told, plan, line))
            continue
        tell(f"what if: {change.words}")
        other = plan_of(
            farm, supplies, ready.tables, seconds=seconds, with_values=False, tell=tell, stop=stop
        )
        asked.append(WhatIf(change, told, other, what_if.beside(plan, other, change)))
    return told_of(ready, plan, asked)


def _is_idle(change: Change, before: Sequence[Supply], after: Sequence[Supply], plan: Plan) -> bool:
    """Whether a change only makes dearer what the plan does not buy: the plan stays the best."""
    if not isinstance(change, PriceMove) or plan.bill is None:
        return False
    bought = {d.supply.id for d in plan.deliveries}
    moved = [(a, b) for a, b in zip(before, after, strict=True) if a.quote != b.quote]
    return bool(moved) and all(
        a.id not in bought
        and all(
            y.price_gbp_per_t_fresh >= x.price_gbp_per_t_fresh
            for x, y in zip(a.quote.tiers, b.quote.tiers, strict=True)
        )
        for a, b in moved
    )


def changed_by(ready: Ready, texts: Sequence[str]) -> list[tuple[Change, Farm, tuple[Supply, ...]]]:
    """Every what-if laid over the farm and the quotes.

    Raises
    ------
    InputError
        The faults of all of them, one line each.
    """
    found: list[tuple[Change, Farm, tuple[Supply, ...]]] = []
    faults: list[Problem] = []
    for text in texts:
        try:
            change = what_if.parse(text)
            farm = what_if.apply(change, ready.farm)
            supplies = what_if.apply_to_supplies(change, ready.supplies, ready.farm)
            found.append((change, farm, supplies))
        except InputError as error:
            faults += error.at("--what-if").problems
    if faults:
        raise InputError(*faults)
    return found


def told_of(ready: Ready, plan: Plan, what_ifs: Sequence[WhatIf] = ()) -> Wintered:
    """A plan with its stack, its cautions and, where there is none, the reasons."""
    if not plan.is_found:
        return Wintered(
            ready,
            plan,
            stacked.estimated(ready.farm),
            (),
            tuple(what_ifs),
            tuple(_why_not(plan)),
        )
    return Wintered(
        ready,
        plan,
        stacked.planned(plan),
        winter_cautions.for_plan(plan, ready.tables, offers=_looked_at(ready, plan)),
        tuple(what_ifs),
    )


def _looked_at(ready: Ready, plan: Plan) -> tuple[Offer, ...]:
    """What is on offer: the farm's own, and of what only quotes bring that which may be bought."""
    usable = {s.offer_id for s in ready.supplies if s.is_usable}
    brought = ready.tied.stands_for
    return tuple(o for o in plan.farm.offers if o.id not in brought or o.id in usable)


def _why_not(plan: Plan) -> list[str]:
    """Why there is no plan, with the least changes that would do where one batch has no ration."""
    if plan.is_cut_short:
        return ["The work stopped before a plan was found; give it more --seconds."]
    said = [f"No plan: {plan.why_not}."]
    if plan.stuck is None or plan.conflict is None:
        return said
    batch, days = plan.stuck.needs.batch, plan.periods[0].days
    return said + explain.why_no_mix(
        mix.no_ration(batch, days, plan.offers, plan.stuck, plan.conflict)
    )


# ---------------------------------------------------------------- cards


def cards_of(
    done: Wintered, when: date | None = None, batches: Sequence[str] = ()
) -> tuple[card.Card, ...]:
    """The feeding cards of the period that holds a day, of some batches or all.

    Raises
    ------
    ModelError
        There is no plan.
    InputError
        No such batch, or no such day.
    """
    check_batches(done.ready.farm, batches)
    found = card.cards(done.plan, when or done.plan.farm.start, done.ready.tables)
    return tuple(c for c in found if not batches or c.batch.name in batches)


def check_batches(farm: Farm, batches: Sequence[str]) -> None:
    """Refuse names that are not batches of a farm.

    Raises
    ------
    UnknownName
        One line a name.
    """
    known = [b.name for b in farm.batches]
    if wrong := [n for n in batches if n not in known]:
        raise UnknownName(
            *(
                Problem("--batch", f'"{n}" is not a batch', f"there are {', '.join(known)}")
                for n in wrong
            )
        )


def check_card(
    path: Path, when: date | None, batches: Sequence[str], overlays: Sequence[Path] = ()
) -> None:
    """Refuse a day or a batch that a farm does not have, before its winter is worked.

    Raises
    ------
    InputError
        Every fault of the file; no such batch or day.
    """
    farm, _ = jobs.read_farm(path, overlays=overlays)
    check_batches(farm, batches)
    if when is not None and not farm.start <= when < farm.end:
        first, last = in_words_day(farm.start), in_words_day(farm.end)
        raise OutOfRange(
            Problem("--on", f"{in_words_day(when)} is not in the winter", f"{first} to {last}")
        )
