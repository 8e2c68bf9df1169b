"""The full ration of a pen in measures and meals, with what has to be said beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from ration import cautions
from ration.card.measures import (
    MOST_ERROR_SHARE,
    bale_of,
    in_bales,
    is_bale,
    is_pack,
    measured,
    wrong_scoop_share,
)
from ration.card.places import FloorCheck, floor_check, sittings_of, trough_check
from ration.card.records import RACK, TROUGH, Card, Line
from ration.errors import OutOfRange, Problem, UnknownName
from ration.farm import Winter
from ration.plain_text import joined

if TYPE_CHECKING:
    from ration.animals import Batch
    from ration.assess import Assessment
    from ration.cautions import Caution
    from ration.farm import Farm, Measure, Offer
    from ration.tables import Tables

# Cautions of the table that belong beside a trough; every stop belongs there too.
ON_A_CARD = (
    "acidosis-cereal",
    "acidosis-meal",
    "acidosis-forage",
    "mouldy-hay",
    "pen-size",
    "trough-split",
    "trough-tight",
    "twin-lamb",
)
RACK_MEALS = 2
MOST_MEALS = 4
# Less than this is not put on a card. [kg fresh/head/day]
LEAST_KG = 0.0005
_TINY = 1e-6


def plain_cards(
    batch: Batch,
    kg_offered: Mapping[str, float],
    farm: Farm,
    start: date,
    end: date,
    tables: Tables,
    *,
    offers: Sequence[Offer] = (),
    assessment: Assessment | None = None,
    head_at_trough: int | None = None,
    used: Sequence[str] = (),
) -> tuple[Card, ...]:
    """The cards of one batch on one ration, every day alike: no plan needed.

    Parameters
    ----------
    batch : Batch
    kg_offered : mapping of str to float
        Put out, waste in, by offer id. [kg fresh/head/day]
    farm : Farm
        For measures, pens, meals, trough and floor.
    start, end : date
        First day, and the day after the last.
    tables : Tables
    offers : sequence of Offer, optional
        Laid over the farm's own, by id.
    assessment : Assessment, optional
        For the cautions.
    head_at_trough : int, optional
        Sheep of the whole farm that get trough feed; all when it is not given.
    used : sequence of str, optional
        Feeds other batches get, for the warning of a wrong scoop.

    Raises
    ------
    UnknownName
        A feed that is not on offer.
    OutOfRange
        A weight below nothing, no day, pens that do not add up.
    """
    known = {o.id: o for o in (*farm.offers, *offers)}
    _check(batch, kg_offered, farm, start, end, known)
    at_trough = head_at_trough
    if at_trough is None:
        at_trough = sum(b.head for b in farm.batches) or batch.head
    heads = _pens(farm, batch)
    feeds = {f: kg for f, kg in kg_offered.items() if kg >= LEAST_KG}
    out = []
    for i, head in enumerate(heads):
        lines, meals = lines_of(feeds, head, farm, known)
        card = Card(
            batch=batch,
            pen=i + 1,
            pens=len(heads),
            head=head,
            start=start,
            end=end,
            lines=lines,
            trough_meals=meals,
            rack_meals=RACK_MEALS if any(x.place == RACK for x in lines) else 0,
            is_hay_first=farm.winter.hay_first,
            notes=_notes(lines, feeds, farm, known, used),
            cautions=_cautions(assessment, head, farm, tables, offers, meals),
        )
        out.append(_with_places(card, farm, at_trough, tables))
    return tuple(out)


# ---------------------------------------------------------------- the full ration


def _check(
    batch: Batch,
    kg_offered: Mapping[str, float],
    farm: Farm,
    start: date,
    end: date,
    known: Mapping[str, Offer],
) -> None:
    strange = [f for f in kg_offered if f not in known]
    if strange:
        raise UnknownName(
            *(
                Problem(batch.name, f'feed "{f}" is not on offer', f"on offer: {', '.join(known)}")
                for f in strange
            )
        )
    faults = [
        Problem(batch.name, f"{kg:g} kg of {f} a head", "0 kg or more")
        for f, kg in kg_offered.items()
        if not 0 <= kg < 100
    ]
    if end <= start:
        faults.append(Problem(batch.name, f"a card from {start} to before {end}", "a day or more"))
    pens = farm.winter.pens.get(batch.name)
    if pens and (sum(pens) != batch.head or min(pens) < 1):
        faults.append(
            Problem(
                batch.name,
                f"pens of {', '.join(str(p) for p in pens)}",
                f"they add up to its {batch.head} head",
                "Correct the pens",
            )
        )
    if faults:
        raise OutOfRange(*faults)


def _pens(farm: Farm, batch: Batch) -> tuple[int, ...]:
    return tuple(farm.winter.pens.get(batch.name) or (batch.head,))


def is_put_out(offer: Offer) -> bool:
    """Carried to the sheep; grazing is not."""
    return offer.feed.group != "grazing"


def measures_of(offer: Offer) -> tuple[Measure, ...]:
    """The user's own, then the mean bale of the lot when none of them is a bale."""
    bale = bale_of(offer.lot)
    if bale is None or any(is_bale(m) for m in offer.measures):
        return offer.measures
    return (*offer.measures, bale)


def lines_of(
    feeds: Mapping[str, float], head: int, farm: Farm, known: Mapping[str, Offer]
) -> tuple[tuple[Line, ...], int]:
    """The lines of one pen in the order they are put out, and the meals at the trough."""
    trough = [f for f in feeds if not known[f].feed.is_forage]
    rack = [f for f in feeds if known[f].feed.is_forage and is_put_out(known[f])]
    trough.sort(key=lambda f: -feeds[f])
    rack.sort(key=lambda f: -feeds[f])
    at_trough, meals = _at_trough(trough, feeds, head, farm, known)
    at_rack = [
        Line(
            f,
            known[f].name,
            RACK,
            False,
            feeds[f],
            in_bales(head * feeds[f], measures_of(known[f]), RACK_MEALS),
        )
        for f in rack
    ]
    order = (*at_rack, *at_trough) if farm.winter.hay_first else (*at_trough, *at_rack)
    return order, meals


def _at_trough(
    trough: Sequence[str],
    feeds: Mapping[str, float],
    head: int,
    farm: Farm,
    known: Mapping[str, Offer],
) -> tuple[list[Line], int]:
    """Trough feed shared over as many meals as keep each under the most for one meal."""
    rich = [f for f in trough if known[f].feed.is_concentrate]
    most = farm.winter.one_feed_most_kg * (1 + MOST_ERROR_SHARE)
    whole = sum(feeds[f] for f in rich)
    meals = farm.meals_per_day
    while meals < MOST_MEALS and whole > meals * most:
        meals += 1
    if not trough:
        return [], 0

    def made(*, on_scales: bool) -> list[Line]:
        lines = []
        for i, f in enumerate(trough):
            kg = head * feeds[f]
            # a few grams of mineral go in once
            times = 1 if known[f].feed.group == "mineral" else meals
            own = () if on_scales and f in rich else measures_of(known[f])
            told = measured(kg, own, times, i % times)
            lines.append(Line(f, known[f].name, TROUGH, f in rich, feeds[f], told))
        return lines

    lines = made(on_scales=False)
    if _heaviest_meal_kg(lines, meals) > head * most:
        lines = made(on_scales=True)
    return lines, meals


def _heaviest_meal_kg(lines: Sequence[Line], meals: int) -> float:
    rich = [x for x in lines if x.is_stepped]
    return max((sum(x.measured.meals[m].kg for x in rich) for m in range(meals)), default=0.0)


# ---------------------------------------------------------------- notes, cautions, places


def _notes(
    lines: Sequence[Line],
    feeds: Mapping[str, float],
    farm: Farm,
    known: Mapping[str, Offer],
    used: Sequence[str],
) -> tuple[str, ...]:
    notes = []
    unweighed = [
        x.name
        for x in lines
        if x.place == TROUGH
        and all(is_pack(m) for m in known[x.offer_id].measures)
        and known[x.offer_id].feed.group != "mineral"
    ]
    if unweighed:
        names = joined(unweighed)
        notes.append(
            f"No scoop of {names} has been weighed yet. Weigh a scoop of it, and write it in."
        )
    rough = [x.name for x in lines if x.place == RACK and not measures_of(known[x.offer_id])]
    if rough:
        notes.append(f"No bale of {joined(rough)} has been weighed yet. Weigh ten.")
    guessed = [
        x.name
        for x in lines
        if x.place == RACK
        and (lot := known[x.offer_id].lot) is not None
        and not lot.weighed
        and (lot.guess_kg is not None or known[x.offer_id].is_stock_guess)
    ]
    if guessed:
        notes.append(f"The bale weight of {joined(guessed)} is a guess. Weigh ten.")
    notes += [
        f"A {m.word} of {x.name} ({m.kg:g} kg) lasts this pen "
        f"{m.kg / x.measured.kg_wanted:.1f} days."
        for x in lines
        if x.place == RACK and x.measured.is_weighed
        for m in measures_of(known[x.offer_id])
        if m.kg > x.measured.kg_wanted
    ]
    notes += _wrong_scoops(lines, known, used)
    if any(not is_put_out(known[f]) for f in feeds):
        notes.append("The rest comes from grazing. Look at the grass and at the sheep.")
    if farm.winter.most_step_kg > Winter().most_step_kg + _TINY:
        notes.append(
            f"Steps of up to {farm.winter.most_step_kg * 1000:.0f} g a day are allowed here; over "
            f"{Winter().most_step_kg * 1000:.0f} g the rumen can turn sour."
        )
    return tuple(notes)


def _wrong_scoops(
    lines: Sequence[Line], known: Mapping[str, Offer], used: Sequence[str]
) -> list[str]:
    """What the same scoop holds of another feed about the place, when that is not the same."""
    out = []
    others = dict.fromkeys((*(x.offer_id for x in lines), *used))
    for x in lines:
        measure = x.measured.measure
        if x.place != TROUGH or measure is None:
            continue
        found = [
            (known[f].name, m.kg)
            for f in others
            if f in known and f != x.offer_id and not known[f].feed.is_forage
            for m in known[f].measures
            if m.word == measure.word
            and abs(wrong_scoop_share(m.kg, measure.kg) - 1) >= MOST_ERROR_SHARE
        ]
        if found:
            told = [
                f"{kg:g} kg of {name} ({abs(1 - wrong_scoop_share(kg, measure.kg)) * 100:.0f} % "
                f"{'short' if kg < measure.kg else 'too much'})"
                for name, kg in found
            ]
            out.append(
                f"A {measure.word} is {measure.kg:g} kg of {x.name}, but {joined(told)}: do not "
                "change one for the other."
            )
    return out[:1]  # the main feed's is enough to make the point


def _cautions(
    assessment: Assessment | None,
    head: int,
    farm: Farm,
    tables: Tables,
    offers: Sequence[Offer],
    meals: int,
) -> tuple[Caution, ...]:
    """Those for one pen, fed as often as the card says."""
    if assessment is None:
        return ()
    in_pen = replace(assessment, batch=replace(assessment.batch, head=head))
    as_fed = replace(farm, meals_per_day=max(meals, farm.meals_per_day))
    found = cautions.for_assessment(in_pen, as_fed, tables, offers=offers)
    return tuple(c for c in found if c.level == "stop" or c.id in ON_A_CARD)


def _with_places(card: Card, farm: Farm, head_at_trough: int, tables: Tables) -> Card:
    """The card with trough and floor looked at."""
    trough = None
    together: tuple[tuple[str, ...], ...] = ()
    if card.trough_meals and farm.trough_m and head_at_trough:
        trough = trough_check(head_at_trough, farm.trough_m)
        if not trough.is_enough:
            pens = [
                (f"{b.name} pen {i + 1}" if len(_pens(farm, b)) > 1 else b.name, n)
                for b in farm.batches
                for i, n in enumerate(_pens(farm, b))
            ]
            if sum(n for _, n in pens) == head_at_trough:
                together = sittings_of(pens, trough.at_once, trough.sittings)
    floor: tuple[FloorCheck, ...] = ()
    in_shed = sum(b.head for b in farm.batches if b.housing == "shed")
    if farm.floor_m2 and in_shed and card.batch.housing == "shed":
        row = next(c for c in tables.cautions if c.caution == "floor-space")
        wanted = [m for m in (row.value, row.second) if m is not None]
        floor = floor_check(in_shed, farm.floor_m2, wanted)
    return replace(card, trough=trough, floor=floor, sittings=together)
