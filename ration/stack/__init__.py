"""The hay stack: tonnes with a 95 % band, when they run out, and what a long winter adds.

Bales counted and weighed give tonnes that are never exact. The band is carried to the day the
stack runs out: light bales give the early date, heavy ones the late date. Nothing here reads a
file or a clock; weights are fresh, as they lie in the stack.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from ration.errors import OutOfRange, Problem
from ration.farm import Lot, Offer, OtherStock
from ration.student import t_975
from ration.units import day_words

UNWEIGHED_SHARE = 0.15  # common practice, no source: a weight that nobody weighed, either way
Z_975 = 1.96  # as the trade rounds it
ONE_GRAM_T = 1e-6

Day = date


@dataclass(frozen=True)
class Tonnes:
    """A weight with the band that holds the true one 19 times in 20.

    Attributes
    ----------
    t, low_t, high_t : float
        Middle, least and most. [t fresh]
    words : str
        How the band was come by.
    normal_half_t : float or None
        Half of the band by 1.96 standard errors, where bales were weighed. [t fresh]
    """

    t: float
    low_t: float
    high_t: float
    words: str = ""
    normal_half_t: float | None = None

    def each(self, change: Callable[[float], float]) -> Tonnes:
        """The same band with all three weights changed alike."""
        return Tonnes(change(self.t), change(self.low_t), change(self.high_t), self.words)

    def less(self, share: float) -> Tonnes:
        """What is left once a share is spoiled in store. [-]"""
        return self.each(lambda t: t * (1 - share))


@dataclass(frozen=True)
class Use:
    """So much a day out of the stack, by one class or batch.

    Attributes
    ----------
    name : str
        One class or batch may have several, one after another.
    start, end : date
        First day, and day after the last.
    t_per_day : float
        Waste and storage loss included. [t fresh/day]
    """

    name: str
    start: date
    end: date
    t_per_day: float

    @property
    def t(self) -> float:
        """Taken out from first to last. [t fresh]"""
        return self.t_per_day * (self.end - self.start).days

    def eaten_t(self, day: date) -> float:
        """Taken out before this day. [t fresh]"""
        return self.t_per_day * max(0, (min(day, self.end) - self.start).days)


@dataclass(frozen=True)
class RunOut:
    """When a stack is used up.

    Attributes
    ----------
    date, early, late : date or None
        The day the last of it is fed at the middle, least and most tonnes; None when it lasts.
    left_t_at_end, short_t : float
        Left over at the end, or wanting, at the middle tonnes. [t fresh]
    over_low_t, over_high_t : float
        Left over at the least and the most tonnes, below zero when wanting. [t fresh]
    wanted_t : float
        All that would be used from the start to the end. [t fresh]
    """

    date: Day | None
    early: Day | None
    late: Day | None
    left_t_at_end: float
    short_t: float
    over_low_t: float
    over_high_t: float
    wanted_t: float


@dataclass(frozen=True)
class LongWinter:
    """What more days at the last rates come to.

    Attributes
    ----------
    days : int
        [day]
    more_t : float
        Used in those days. [t fresh]
    run_out : RunOut
        Of the longer winter.
    """

    days: int
    more_t: float
    run_out: RunOut


# ---------------------------------------------------------------- what is in the stack


def band(lot: Lot) -> Tonnes:
    """Tonnes of a lot of bales with their 95 % band.

    Two or more weighed: the mean, Student's t times the standard error either way. A range that
    was guessed is taken as the band itself. A weight that nobody weighed, or of unknown spread,
    gets `UNWEIGHED_SHARE` either way; so does a lot of which so few were weighed that their own
    band is wider, because a few weighed never say less than none.
    """
    if lot.guess_kg is not None and not (lot.weighed >= 2 and lot.sd_kg is not None):
        low, high = lot.guess_kg
        words = f"not weighed: {low:g} to {high:g} kg guessed"
        return _scaled(lot.bales, (low + high) / 2, low, high, words)
    if lot.mean_kg is None:
        raise _refused(f"a lot of {lot.bales} {lot.word} of unsaid weight", do="Weigh a few")
    mean, loose = lot.mean_kg, UNWEIGHED_SHARE * lot.mean_kg
    if lot.weighed < 2 or lot.sd_kg is None:
        words = f"not weighed: ± {UNWEIGHED_SHARE:.0%}"
        return _scaled(lot.bales, mean, mean - loose, mean + loose, words)
    error_kg = lot.sd_kg / math.sqrt(lot.weighed)
    t = t_975(lot.weighed - 1)
    by_t, by_z = (f * error_kg * lot.bales / 1000 for f in (t, Z_975))
    half = min(t * error_kg, loose)
    if half < t * error_kg:
        words = (
            f"{lot.weighed} weighed, too few for so uneven bales: "
            f"± {UNWEIGHED_SHARE:.0%} as if none were (± {by_t:.2f} t by Student's t)"
        )
    else:
        words = (
            f"{lot.weighed} weighed: ± {by_t:.2f} t, Student's t on {lot.weighed - 1} df "
            f"(± {by_z:.2f} t by {Z_975} standard errors)"
        )
    return replace(_scaled(lot.bales, mean, mean - half, mean + half, words), normal_half_t=by_z)


def _scaled(bales: int, mean: float, low: float, high: float, words: str) -> Tonnes:
    middle, least, most = (bales * kg / 1000 for kg in (mean, low, high))
    return Tonnes(middle, min(max(least, 0.0), middle), max(most, middle), words)


def in_hand(offer: Offer) -> Tonnes | None:
    """What there is of one feed, with its band; None for as much as wanted.

    Home feed written as tonnes is taken as unweighed; bought feed came over a weighbridge.
    """
    if offer.stock_t_fresh is None:
        return None
    if offer.lot is not None:
        return band(offer.lot)
    t = offer.stock_t_fresh
    if offer.is_home or offer.is_stock_guess:
        loose = UNWEIGHED_SHARE * t
        return Tonnes(t, t - loose, t + loose, f"tonnes as written: ± {UNWEIGHED_SHARE:.0%}")
    return Tonnes(t, t, t, "bought by weight")


def together(parts: Iterable[Tonnes]) -> Tonnes:
    """Several lots as one; their errors are independent and add as squares."""
    lots = list(parts)
    t = math.fsum(p.t for p in lots)
    under = math.sqrt(math.fsum((p.t - p.low_t) ** 2 for p in lots))
    over = math.sqrt(math.fsum((p.high_t - p.t) ** 2 for p in lots))
    words = lots[0].words if len(lots) == 1 else f"{len(lots)} lots, errors added as squares"
    return Tonnes(t, max(t - under, 0.0), t + over, words)


def after_claims(stock: Tonnes, claimed_t: float) -> Tonnes:
    """What is left of a stock once others have had what they have first call on. [t fresh]"""
    return stock.each(lambda t: max(t - claimed_t, 0.0))


def claimed(stock: Tonnes, claimed_t: float, before_t: float = 0.0) -> Tonnes:
    """What those with first call get, after others who come `before_t` ahead. [t fresh]"""
    return after_claims(stock, before_t).each(lambda t: min(t, claimed_t))


# ---------------------------------------------------------------- what goes out of it


def winter_tonnes(head: int, days: int, kg_per_head_day: float, waste_share: float) -> float:
    """Hay for a winter [t fresh], from what each eats a day [kg fresh/head/day].

    Examples
    --------
    >>> round(winter_tonnes(184, 156, 0.80, 0.12), 2)
    26.09
    """
    if not 0 <= waste_share < 1:
        raise _refused(f"a waste of {waste_share:g}", "0 to under 1")
    return head * days * kg_per_head_day / (1 - waste_share) / 1000


def uses_over(name: str, spans: Iterable[tuple[date, date, float]]) -> tuple[Use, ...]:
    """Even use within each span, from its first day, the day after its last and its tonnes.

    A plan's periods come in as `(period.start, period.end, fed_t + lost_t)`.
    """
    return tuple(
        Use(name, start, end, tonnes / (end - start).days)
        for start, end, tonnes in spans
        if end > start and tonnes > 0
    )


def claim_uses(
    claims: Sequence[tuple[str, float]],
    other_stock: Sequence[OtherStock],
    start: date,
    end: date,
) -> tuple[Use, ...]:
    """What others take by first call, evenly over their own dates.

    Parameters
    ----------
    claims : sequence of (str, float)
        An offer's. [t fresh]
    other_stock : sequence of OtherStock
        Where their dates are; a claim of nobody there is eaten over the winter.
    start, end : date
        The winter. The stack was counted on `start`: a claim that began before is eaten after.
    """
    dates = {s.name: (s.start, s.end) for s in other_stock}
    found: list[Use] = []
    for name, tonnes in claims:
        first, last = dates.get(name, (start, end))
        if last <= start:
            first, last = start, end
        found += uses_over(name, [(max(first, start), last, tonnes)])
    return tuple(found)


def run_out(stock: Tonnes, uses: Sequence[Use], start: date) -> RunOut:
    """When the stack is used up, at its middle, least and most tonnes.

    Parameters
    ----------
    stock : Tonnes
        In the stack on `start`.
    uses : sequence of Use
        All that share it. What would have been used before `start` is gone already.
    start : date
        The day the stack was counted.
    """
    ahead = [replace(u, start=max(u.start, start)) for u in uses if u.end > start]
    last = max((u.end for u in ahead), default=start)

    def used_t(day: date) -> float:
        return math.fsum(u.eaten_t(day) for u in ahead)

    wanted = used_t(last)

    def day_of(tonnes: float) -> date | None:
        if wanted <= tonnes + ONE_GRAM_T:
            return None
        low, high = 1, (last - start).days  # days from the start until it is used up
        while low < high:
            middle = (low + high) // 2
            if used_t(start + timedelta(middle)) >= tonnes - ONE_GRAM_T:
                high = middle
            else:
                low = middle + 1
        return start + timedelta(low - 1)

    return RunOut(
        date=day_of(stock.t),
        early=day_of(stock.low_t),
        late=day_of(stock.high_t),
        left_t_at_end=max(stock.t - wanted, 0.0),
        short_t=max(wanted - stock.t, 0.0),
        over_low_t=stock.low_t - wanted,
        over_high_t=stock.high_t - wanted,
        wanted_t=wanted,
    )


def run_out_by_class(
    stock: Tonnes, claims: Sequence[tuple[str, float]], uses: Sequence[Use], start: date
) -> Mapping[str, RunOut]:
    """When the hay of each class runs out: those with a claim first, in order, then the rest.

    Parameters
    ----------
    stock : Tonnes
    claims : sequence of (str, float)
        Who has first call and on how much. [t fresh]
    uses : sequence of Use
        Those of a claimant bear its name; all other names share what is left.
    start : date
    """
    names = [name for name, _ in claims]
    found: dict[str, RunOut] = {}
    before = 0.0
    for name, tonnes in claims:
        own = [u for u in uses if u.name == name]
        found[name] = run_out(claimed(stock, tonnes, before), own, start)
        before += tonnes
    rest = [u for u in uses if u.name not in names]
    shared = run_out(after_claims(stock, before), rest, start)
    return found | {name: shared for name in dict.fromkeys(u.name for u in rest)}


def longer(uses: Sequence[Use], end: date, days: int) -> tuple[Use, ...]:
    """The same uses, with `days` more at the last rate for all that still eat at the end.

    Parameters
    ----------
    uses : sequence of Use
    end : date
        Last day of the winter as planned; a class that was done before it is not fed longer.
    days : int
        [day], 0 or more.
    """
    if days < 0:
        raise _refused(f"a winter longer by {days} days", "0 or more")
    last = {name: max(u.end for u in uses if u.name == name) for name in {u.name for u in uses}}
    more = [
        replace(u, start=u.end, end=u.end + timedelta(days))
        for u in uses
        if days and u.end == last[u.name] >= end
    ]
    return (*uses, *more)


def long_winter(
    stock: Tonnes, uses: Sequence[Use], start: date, end: date, days: int
) -> LongWinter:
    """What `days` more at the last rates take, and whether the stack then falls short."""
    found = run_out(stock, longer(uses, end, days), start)
    return LongWinter(days, found.wanted_t - run_out(stock, uses, start).wanted_t, found)


# ---------------------------------------------------------------- in words


def in_one_line(what: str, found: RunOut, long: LongWinter | None = None) -> str:
    """The line on top of a stack: "hay lasts to 9 March (early 24 Feb, late 20 Mar)"."""
    line = f"{what} {_lasts(found)}"
    if long is None:
        return line
    short, left = _said(long.run_out.short_t), _said(long.run_out.left_t_at_end)
    if short:
        worse = f"{short} t short" if found.date is None else f"short {short} t"
        return f"{line}; {worse} in a long winter"
    return f"{line}; {f'{left} t over' if left else 'just enough'} in a long winter"


def lot_line(name: str, stock: Tonnes, found: RunOut) -> str:
    """One lot: its tonnes with the band and how long they last."""
    amount = f"{stock.t:.1f} t"
    if stock.high_t - stock.low_t > 0.05:
        amount += f" ({stock.low_t:.1f} to {stock.high_t:.1f})"
    short = f"; short {_said(found.short_t)} t" if _said(found.short_t) else ""
    return f"{name}: {amount}, {_lasts(found)}{short}"


def _lasts(found: RunOut) -> str:
    if found.date is not None:
        late = f"late {_day(found.late)}" if found.late else "at best the whole winter"
        dates = "" if found.early == found.late else f" (early {_day(found.early)}, {late})"
        return f"lasts to {_day(found.date, whole=True)}{dates}"
    left = _said(found.left_t_at_end)
    line = f"lasts the winter with {left} t over" if left else "just lasts the winter"
    if found.early is not None:
        over = f"{_said(found.over_high_t) or '0.0'} over"
        return (
            f"{line} ({_said(-found.over_low_t) or '0.0'} short to {over}; "
            f"at worst to {_day(found.early, whole=True)})"
        )
    if found.over_high_t - found.over_low_t > 0.05:
        line += f" ({max(found.over_low_t, 0.0):.1f} to {found.over_high_t:.1f})"
    return line


def _said(tonnes: float) -> str:
    """Tonnes to a tenth; "" for none to speak of."""
    return f"{tonnes:.1f}" if tonnes >= 0.05 else ""


def _day(day: date | None, *, whole: bool = False) -> str:
    if day is None:
        return "the end"
    words = day_words(day)
    return words if whole else words[: words.index(" ") + 4]


def _refused(read: str, allowed: str = "", do: str = "") -> OutOfRange:
    return OutOfRange(Problem("", read, allowed, do))
