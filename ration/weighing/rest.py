"""The farm from a day in mid-winter to turnout: weights as measured, feed as it is left."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING

from ration import animals
from ration.animals import Batch
from ration.errors import InputError, OutOfRange, Problem, UnknownName
from ration.farm import Farm, OtherStock, Winter
from ration.units import in_words_day, shown
from ration.weighing.store import IN_STORE, checked, left_t, offers_left

if TYPE_CHECKING:
    from ration.farm import Offer
    from ration.winter.records import Plan


def target_kg(farm: Farm, batch: Batch) -> float:
    """Live weight wanted at the end of the line, from the gain where no target was set. [kg]"""
    if batch.end_weight_kg is not None:
        return batch.end_weight_kg
    days = (farm.line_end - farm.start).days
    return farm.start_kg(batch) + batch.gain_g_per_day * days / 1000


def farm_from(
    farm: Farm,
    plan: Plan,
    when: date,
    weights: Mapping[str, float],
    *,
    left: Mapping[str, float] | None = None,
    end: date | None = None,
) -> Farm:
    """The farm for the rest of the winter.

    Feed delivered before the day becomes home feed at no price, beside the same feed at the
    merchant's price; what was to come later is not bought. Where the user set a least amount a
    day of that feed it is dropped from both (the two cannot share it), and the note says so.

    Parameters
    ----------
    farm : Farm
    plan : Plan
        The plan that was followed up to that day.
    when : date
        First day of the new farm.
    weights : mapping of str to float
        Live weight by batch name, every batch. [kg]
    left : mapping of str to float, optional
        What was counted by offer id, instead of what the plan says; of home feed all that lies
        there, others' claims included. [t fresh]
    end : date, optional
        Another last day, by which the target is to be reached; None keeps the farm's days.

    Raises
    ------
    InputError
        Names that are not the farm's, weights or gains outside what is covered, a day outside the
        plan; all faults of a kind together.
    """
    if not plan.is_found:
        why = plan.why_not or "no plan was found"
        raise InputError(Problem("", "there is no plan of this winter to go on from", why))
    stocks = left_t(plan, when)
    last = farm.end if end is None else end
    aim = last if end is not None else farm.line_end
    if when >= last:
        first, until = in_words_day(when), in_words_day(last)
        raise OutOfRange(Problem("", f"nothing is left of the winter from {first} to {until}"))
    counted = checked(left or {}, farm)
    kept = tuple(_later(o, when) for o in farm.winter.other_stock if o.end > when)
    offers = tuple(offers_left(farm, plan, when, stocks, counted))
    winter = replace(
        farm.winter,
        start_kg=MappingProxyType(dict(weights)),
        other_stock=kept,
        stores=tuple(
            replace(s, offer_ids=_with_in_store(s.offer_ids, offers)) for s in farm.winter.stores
        ),
        step_up_days=_step_up_days(farm.winter, plan, when),
        line_end=aim if when < aim < last else None,
    )
    return replace(
        farm,
        start=when,
        end=last,
        days=(last - when).days,
        batches=_batches(farm, when, weights, aim if aim > when else last),
        offers=offers,
        winter=winter,
    )


def _batches(farm: Farm, when: date, weights: Mapping[str, float], aim: date) -> tuple[Batch, ...]:
    """Batches from their measured weights to the same targets."""
    names = [b.name for b in farm.batches]
    faults = [
        Problem("", f"{shown(name)} is not a batch of this farm", f"batches: {', '.join(names)}")
        for name in weights
        if name not in names
    ]
    faults += [
        Problem(name, "there is no weight", "every batch needs one on the new first day")
        for name in names
        if name not in weights
    ]
    if faults:
        raise UnknownName(*faults)
    found: list[Batch] = []
    wrong: list[Problem] = []
    for batch in farm.batches:
        try:
            found.append(_batch(farm, batch, when, weights[batch.name], aim))
        except InputError as error:
            wrong += error.at(batch.name).problems
    if wrong:
        raise OutOfRange(*wrong)
    return tuple(found)


def _batch(farm: Farm, batch: Batch, when: date, weight_kg: float, aim: date) -> Batch:
    target = target_kg(farm, batch)
    gain = (target - weight_kg) * 1000 / (aim - when).days
    said = f"{weight_kg:.1f} kg on {in_words_day(when)} against a target of {target:.1f} kg"
    if -1e-6 < gain < 0:
        gain = 0.0
    if gain < 0:
        raise OutOfRange(
            Problem("", f"{said}: they are past the target", "", "Set a target at or above it")
        )
    if gain > animals.GAIN_G_PER_DAY[1]:
        most = f"at most {animals.GAIN_G_PER_DAY[1]:g} g/day is covered"
        raise OutOfRange(
            Problem(
                "",
                f"{said} by {in_words_day(aim)} asks {gain:.0f} g/day",
                most,
                "Set a lower target or a later day",
            )
        )
    lambing = batch.days_to_lambing
    if lambing is not None:
        lambing -= (when - farm.start).days
        if lambing <= 0:
            raise OutOfRange(Problem("", f"they have lambed by {in_words_day(when)}"))
    is_mid_winter = not math.isclose(batch.weight_kg, farm.start_kg(batch))
    is_set = batch.end_weight_kg is not None
    return animals.batch(
        batch.name,
        sheep_class=batch.sheep_class,
        weight_kg=(weight_kg + target) / 2 if is_mid_winter else weight_kg,
        gain_g_per_day=gain,
        head=batch.head,
        sex=batch.sex,
        under_one_year=batch.under_one_year,
        housing=batch.housing,
        mature_weight_kg=batch.mature_weight_kg,
        breed=batch.breed,
        start_weight_kg=weight_kg if is_set else None,
        end_weight_kg=target if is_set else None,
        days_to_lambing=lambing,
    )


def _later(other: OtherStock, when: date) -> OtherStock:
    return replace(other, start=max(other.start, when))


def _step_up_days(winter: Winter, plan: Plan, when: date) -> int:
    """Days still to go until the full trough feed, 1 when the sheep are on it.

    Sheep that had no trough feed so far step up like new ones.
    """
    trough = {o.id for o in plan.offers if o.feed.is_concentrate}
    before = [f for f in plan.fed if f.period.start < when]
    if not any(kg > 0 for f in before for feed, kg in f.kg_dm.items() if feed in trough):
        return winter.step_up_days
    return max(1, winter.step_up_days - (when - plan.periods[0].start).days)


def _with_in_store(ids: tuple[str, ...], offers: Sequence[Offer]) -> tuple[str, ...]:
    there = {o.id for o in offers}
    found = [i for one in ids for i in (one, one + IN_STORE) if i in there]
    return tuple(dict.fromkeys(found))
