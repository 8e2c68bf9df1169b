"""Cards from a plan: the full ration of a period, and the days of it that differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from ration.card import days as by_day
from ration.card.days import BLEND_DAYS, Unit, share_of_full
from ration.card.full import LEAST_KG, is_put_out, lines_of, measures_of, plain_cards
from ration.card.measures import (
    amount_words,
    is_bale,
    is_carried,
    smallest_share,
    weight_words,
)
from ration.card.records import BLEND, CHANGE, STEP_UP, TAPER, Card, Day, DayAmount
from ration.errors import ModelError, OutOfRange, Problem
from ration.plain_text import joined
from ration.units import dm_to_fresh_kg, offered_kg

if TYPE_CHECKING:
    from ration.farm import Offer
    from ration.tables import Tables
    from ration.winter.records import Fed, Period, Plan

PROTEIN, ENERGY = "cp_g_per_kg_dm", "me_mj_per_kg_dm"
# Judgement: a lot whose share of the forage rises by more than this is a change of hay. [-]
MOVED_SHARE = 0.10
_TINY = 1e-6


def cards(plan: Plan, when: int | date, tables: Tables) -> tuple[Card, ...]:
    """The cards of every pen for one period of a plan.

    Parameters
    ----------
    plan : Plan
    when : int or date
        Number of the period from 0, or a day in it.
    tables : Tables
        For the cautions and the limits they name.

    Raises
    ------
    ModelError
        There is no plan.
    OutOfRange
        No such period; the pens of a batch do not add up to it.
    """
    if not plan.is_found:
        raise ModelError(Problem("", "there is no plan to write cards from", plan.why_not))
    period = period_of(plan, when)
    out: list[Card] = []
    for fed in plan.fed:
        if fed.period.index != period.index:
            continue
        made = plain_cards(
            fed.batch,
            fed.kg_offered,
            plan.farm,
            period.start,
            period.end,
            tables,
            offers=plan.offers,
            assessment=fed.assessment,
            head_at_trough=_head_at_trough(plan, period),
            used=[f for x in plan.fed for f in x.kg_offered],
        )
        out += [_with_days(card, plan, tables) for card in made]
    return tuple(out)


def period_of(plan: Plan, when: int | date) -> Period:
    """The period of a plan with this number from 0, or with this day in it.

    Raises
    ------
    OutOfRange
        No such period.
    """
    for p in plan.periods:
        if p.index == when or (isinstance(when, date) and p.start <= when < p.end):
            return p
    first, last = plan.periods[0].start, plan.periods[-1].end - timedelta(days=1)
    raise OutOfRange(
        Problem(
            "",
            f"no period {when}",
            f"0 to {len(plan.periods) - 1}, or a day from {first} to {last}",
        )
    )


def is_hay_changed_much(old: Offer, new: Offer, tables: Tables) -> bool:
    """Whether two forages differ so much that one is blended into the other over some days.

    The limits are those of the caution `hay-change`. A figure that is not known counts as
    different.
    """
    row = next(c for c in tables.cautions if c.caution == "hay-change")
    for nutrient, limit in ((PROTEIN, row.value), (ENERGY, row.second)):
        a, b = old.feed.get(nutrient), new.feed.get(nutrient)
        if a is None or b is None or abs(a - b) > (limit or 0.0) + _TINY:
            return True
    return False


def _head_at_trough(plan: Plan, period: Period) -> int:
    rich = {o.id for o in plan.offers if o.feed.is_concentrate}
    return sum(
        f.batch.head
        for f in plan.fed
        if f.period.index == period.index
        and any(kg >= LEAST_KG for feed, kg in f.kg_offered.items() if feed in rich)
    )


# ---------------------------------------------------------------- the days that differ


@dataclass(frozen=True)
class Blend:
    """One hay blended into another at the start of a period, or only a new hay to look at."""

    new: tuple[str, ...]
    gone: tuple[str, ...]
    is_blended: bool
    words: str


def _with_days(card: Card, plan: Plan, tables: Tables) -> Card:
    """The card with the days on which this pen is not given the full ration."""
    known = {o.id: o for o in (*plan.farm.offers, *plan.offers)}
    fed = {f.period.index: f for f in plan.fed if f.batch.name == card.batch.name}
    period = period_of(plan, card.start)
    first = (card.start - plan.periods[0].start).days
    span = range(first, first + period.days)
    trough = _Trough.of(card, plan, fed, known)
    rack, blend = _rack(card, plan, fed, known, trough, tables)
    full_rack = {f: kg * card.head for f, kg in _forage(fed.get(period.index), known).items()}
    moves = {
        i
        for i in span
        if _differs(trough.given[i], trough.full[i]) or _differs(rack[i - first], full_rack)
    }
    if not moves:
        return replace(card, notes=(*card.notes, *_hay_notes(blend, rack, full_rack, known)))
    listed = sorted(moves)
    amounts = _trough_amounts(card, trough, listed, known)
    amounts |= _rack_amounts(rack, full_rack, [i - first for i in listed], known)
    told = []
    for n, i in enumerate(listed):
        day = i - first
        is_blend = blend is not None and blend.is_blended and day < BLEND_DAYS
        told.append(
            Day(
                day=card.start + timedelta(days=day),
                reasons=(*trough.reasons(i), *((BLEND,) if is_blend else ())),
                trough_kg_per_head=sum(trough.given[i].values()) / card.head,
                amounts=tuple(column[n] for column in amounts.values()),
                new_lot_share=_share(rack[day], blend.new) if blend and is_blend else None,
            )
        )
    notes = (*card.notes, *_hay_notes(blend, rack, full_rack, known))
    return replace(card, days=tuple(told), notes=notes)


def _differs(one: Mapping[str, float], other: Mapping[str, float]) -> bool:
    return any(abs(one.get(f, 0.0) - other.get(f, 0.0)) > _TINY for f in {*one, *other})


@dataclass(frozen=True)
class _Trough:
    """Trough feed of one pen by day of the winter. [kg fresh/pen/day]"""

    wanted: list[dict[str, float]]
    given: list[dict[str, float]]
    full: list[dict[str, float]]
    shares: list[float]
    units: Mapping[str, Unit]

    @classmethod
    def of(
        cls, card: Card, plan: Plan, fed: Mapping[int, Fed], known: Mapping[str, Offer]
    ) -> _Trough:
        """From the first day of the plan to its last."""
        rule, periods = plan.farm.winter, plan.periods
        up = max(1, min(rule.step_up_days, periods[0].days))
        down = max(0, min(rule.taper_days, periods[-1].days))
        days = sum(p.days for p in periods)
        full: list[dict[str, float]] = []
        for p in periods:
            feeds = {
                f: kg
                for f, kg in (fed[p.index].kg_offered if p.index in fed else {}).items()
                if kg >= LEAST_KG
            }
            lines, _ = lines_of(feeds, card.head, plan.farm, known)
            day = {x.offer_id: x.measured.kg_given for x in lines if x.is_stepped}
            full += [day] * p.days
        shares = [share_of_full(i, days, up, down) for i in range(days)]
        wanted, given, units = by_day.trough_path(
            full,
            shares,
            {f: measures_of(o) for f, o in known.items()},
            rule.most_step_kg * card.head,
            is_stepped_up=up > 1,
        )
        return cls(wanted, given, full, shares, units)

    def reasons(self, i: int) -> tuple[str, ...]:
        """Why a day's trough feed is not the full amount."""
        if not _differs(self.given[i], self.full[i]):
            return ()
        is_reached = any(
            day and not _differs(now, day)
            for now, day in zip(self.given[:i], self.full[:i], strict=True)
        )
        if not is_reached:
            return (STEP_UP,)
        return (TAPER,) if self.shares[i] < 1 else (CHANGE,)


def _trough_amounts(
    card: Card, trough: _Trough, listed: Sequence[int], known: Mapping[str, Offer]
) -> dict[str, list[DayAmount]]:
    """Trough feeds that differ from the full ration on any of the days, by day."""
    order = [x.offer_id for x in card.lines if x.is_stepped]
    feeds = [*order, *(f for f in (trough.given[0] if trough.given else ()) if f not in order)]
    out = {}
    for f in feeds:
        kg = [trough.given[i].get(f, 0.0) for i in listed]
        full = [trough.full[i].get(f, 0.0) for i in listed]
        if any(abs(a - b) > _TINY for a, b in zip(kg, full, strict=True)):
            out[f] = [_told(f, x, trough.units[f]) for x in kg]
    return out


def _told(offer_id: str, kg: float, unit: Unit) -> DayAmount:
    """One day's weight in measures where it is whole parts of one, else in kg."""
    if kg < _TINY:
        return DayAmount(offer_id, "none", 0.0, 0.0)
    if unit.measure is not None:
        part = smallest_share(unit.measure)
        count = kg / unit.measure.kg
        if abs(count / part - round(count / part)) < 1e-4:
            count = round(count / part) * part
            return DayAmount(offer_id, amount_words(count, unit.measure.word), count, kg)
    return DayAmount(offer_id, weight_words(kg), None, kg)


# ---------------------------------------------------------------- forage by day


def _forage(fed: Fed | None, known: Mapping[str, Offer]) -> dict[str, float]:
    """Forage that is put out. [kg fresh/head/day]"""
    if fed is None:
        return {}
    return {
        f: kg
        for f, kg in fed.kg_offered.items()
        if kg >= LEAST_KG and known[f].feed.is_forage and is_put_out(known[f])
    }


def _rack(
    card: Card,
    plan: Plan,
    fed: Mapping[int, Fed],
    known: Mapping[str, Offer],
    trough: _Trough,
    tables: Tables,
) -> tuple[list[dict[str, float]], Blend | None]:
    """Forage for each day of the card before rounding [kg fresh/pen/day], and its change."""
    period = period_of(plan, card.start)
    now = _forage(fed.get(period.index), known)
    before = _forage(fed.get(period.index - 1), known)
    blend = _blend(before, now, known, tables) if period.index else None
    first = (card.start - plan.periods[0].start).days
    fill = by_day.fill_shares(trough.wanted, trough.full)
    extra = {
        f: offered_kg(
            dm_to_fresh_kg(kg_dm, known[f].feed["dm_g_per_kg_fresh"] / 1000),
            known[f].waste_share,
        )
        for (batch, f), kg_dm in plan.extra_forage_kg_dm.items()
        if batch == card.batch.name and kg_dm > 0
    }
    out = []
    for day in range(period.days):
        new = by_day.new_lot_share(day) if blend is not None and blend.is_blended else 1.0
        feeds = dict.fromkeys((*now, *(before if new < 1 else ()), *extra))
        out.append(
            {
                f: card.head
                * (
                    new * now.get(f, 0.0)
                    + (1 - new) * before.get(f, 0.0)
                    + fill[first + day] * extra.get(f, 0.0)
                )
                for f in feeds
            }
        )
    return out, blend


def _blend(
    before: Mapping[str, float],
    now: Mapping[str, float],
    known: Mapping[str, Offer],
    tables: Tables,
) -> Blend | None:
    """What to do about hay that was not, or was hardly, in the last period's ration."""
    if not before or not now:
        return None
    old = {f: kg / sum(before.values()) for f, kg in before.items()}
    new = {f: kg / sum(now.values()) for f, kg in now.items()}
    rises = {f: s - old.get(f, 0.0) for f, s in new.items()}
    moved = [f for f, rise in rises.items() if rise > MOVED_SHARE or f not in old]
    if not moved:
        return None
    falls = max(old, key=lambda f: old[f] - new.get(f, 0.0))
    big = [
        f
        for f in moved
        if rises[f] > MOVED_SHARE and is_hay_changed_much(known[falls], known[f], tables)
    ]
    gone = tuple(f for f in old if f not in new)
    if big:
        told = joined([f"{known[f].name} ({_figures(known[f])})" for f in big])
        words = (
            f"{told} is not like {known[falls].name} ({_figures(known[falls])}). Blend it in over "
            f"{BLEND_DAYS} days, as in the table."
        )
        return Blend(tuple(moved), gone, True, words)
    strange = [known[f].name for f in moved if f not in old]
    if not strange:
        return None
    return Blend(
        tuple(moved),
        gone,
        False,
        f"New hay, {joined(strange)}: look at them, and at what they leave.",
    )


def _figures(offer: Offer) -> str:
    protein, energy = offer.feed.get(PROTEIN), offer.feed.get(ENERGY)
    return (
        f"{'protein not known' if protein is None else f'{protein / 10:.1f} % protein'}, "
        f"{'energy not known' if energy is None else f'{energy:.1f} MJ'}"
    )


def _share(rack: Mapping[str, float], new: Sequence[str]) -> float:
    """Share of the forage that is of the new lots. [-]"""
    return sum(rack.get(f, 0.0) for f in new) / sum(rack.values())


def _rack_amounts(
    rack: Sequence[Mapping[str, float]],
    full: Mapping[str, float],
    listed: Sequence[int],
    known: Mapping[str, Offer],
) -> dict[str, list[DayAmount]]:
    """Forages that differ from the full ration on any of the days, rounding carried over."""
    out = {}
    for f in dict.fromkeys(f for i in listed for f in rack[i]):
        kg = [rack[i].get(f, 0.0) for i in listed]
        if all(abs(x - full.get(f, 0.0)) <= _TINY for x in kg):
            continue
        unit = _rack_unit(known[f], max(kg))
        out[f] = [_told(f, x, unit) for x in by_day.carried_over(kg, unit.kg)]
    return out


def _rack_unit(offer: Offer, most_kg: float) -> Unit:
    """Half a bale that is carried; else a weight."""
    for measure in measures_of(offer):
        if is_carried(measure) or not is_bale(measure):
            return Unit(measure.kg * smallest_share(measure), measure)
    return Unit(0.5 if most_kg >= 10 else 0.05)


def _hay_notes(
    blend: Blend | None,
    rack: Sequence[Mapping[str, float]],
    full: Mapping[str, float],
    known: Mapping[str, Offer],
) -> tuple[str, ...]:
    if blend is None:
        return ()
    notes = [blend.words]
    if blend.is_blended:
        for f in blend.gone:
            kg = sum(day.get(f, 0.0) for day in rack)
            unit = _rack_unit(known[f], kg)
            if unit.measure is not None:
                whole = max(1.0, -(-kg // unit.measure.kg))
                told = amount_words(whole, unit.measure.word)
            else:
                told = weight_words(kg)
            if kg > _TINY:
                notes.append(f"Keep back {told} of {known[f].name} for it.")
    return tuple(notes)
