"""From a farm file to the ways of wintering side by side.

The ways' own figures are costed by `ration.wintering`; beside amounts put out by hand stands the
cheapest safe mix of the farm's feeds for the same sheep on that way: its needs by where they are
kept, its waste, its days, with cold and grazing when the farm file says what they meet out of
doors. Nothing is printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ration.errors import InputError, Problem, UnknownName
from ration.farm import Farm, Offer
from ration.farm.words import id_of
from ration.jobs import read_farm
from ration.jobs.wintering_mix import ByMix, by_mix
from ration.plain_text import joined
from ration.strict_yaml import nearest, tidy
from ration.tables import Tables
from ration.wintering import risks, shed
from ration.wintering.budget import Budget, budget
from ration.wintering.compare import (
    Partial,
    break_even_keep_p_per_head_week,
    budgets,
    cheapest,
    partial,
)
from ration.wintering.records import Way, Wintering
from ration.wintering.split import Split, cheapest_split
from ration.wintering.switch import Switches, switching

HAND_FED_DM_SHARE = 0.86  # of hay and trough feed by hand; common practice
EXAMPLE = (
    'Add "wintering:" with "ways:" below it, one for each of away, hill, in-bye and shed; '
    '"ration demo" has an example'
)


@dataclass(frozen=True)
class MostForKeep:
    """The keep at which an away way costs what a home way does. [p/head/week]"""

    away: str
    home: str
    p_per_head_week: float


@dataclass(frozen=True)
class Compared:
    """The ways side by side.

    Attributes
    ----------
    farm : Farm
    wintering : Wintering
        Prices filled in, mixes worked.
    head : int
    budgets : tuple of Budget
        As if all went that way.
    best, base : int
        Place of the cheapest way and of the one that differences are taken from.
    keeps : tuple of MostForKeep
    switches : Switches
    partials : tuple of Partial
        From the base to each other way.
    places : tuple of (int or None, str)
        Room of each way, and how it is known.
    split, split_without : Split, Split or None
        The cheapest sharing out; the same without the cheapest way.
    mixes : tuple of ByMix
    checks : tuple of shed.Check
    shed : str
        The way the checks belong to; "" when none.
    welfare : risks.Note or None
    notes, trials : tuple of risks.Note
    """

    farm: Farm
    wintering: Wintering
    head: int
    budgets: tuple[Budget, ...]
    best: int
    base: int
    keeps: tuple[MostForKeep, ...]
    switches: Switches
    partials: tuple[Partial, ...]
    places: tuple[tuple[int | None, str], ...]
    split: Split
    split_without: Split | None
    mixes: tuple[ByMix, ...]
    checks: tuple[shed.Check, ...]
    shed: str
    welfare: risks.Note | None
    notes: tuple[risks.Note, ...]
    trials: tuple[risks.Note, ...]


def wintering_file(
    path: Path,
    *,
    base: str | None = None,
    with_mix: bool = True,
    overlays: Sequence[Path] = (),
) -> Compared:
    """The ways of a farm file side by side.

    Parameters
    ----------
    path : Path
        The farm file, with a section `wintering:`.
    base : str or None
        Way that differences are taken from; None for the way of the farm's own housing.
    with_mix : bool
        Work the mix beside amounts put out by hand; ways fed by the mix are worked in any case.
    overlays : sequence of Path
        Tables of your own, laid over the shipped ones.

    Raises
    ------
    InputError
        Every fault of the file; no such section; no such base.
    ModelError
        A way is fed by the mix and no mix will do.
    """
    farm, tables = read_farm(path, overlays=overlays)
    if farm.wintering is None:
        raise InputError(Problem(str(path), 'there is no "wintering:" section', "", EXAMPLE))
    return compared(farm, farm.wintering, tables, base=base, with_mix=with_mix)


def compared(
    farm: Farm,
    wintering: Wintering,
    tables: Tables,
    *,
    base: str | None = None,
    with_mix: bool = True,
) -> Compared:
    """The ways of a farm side by side; the arguments are those of `wintering_file`."""
    head = wintering.head or sum(b.head for b in farm.batches)
    at_base = _base(farm, wintering, base)
    priced = replace(wintering, ways=tuple(_priced(way, farm.offers) for way in wintering.ways))
    mixes = tuple(
        worked
        for way in priced.ways
        if (way.is_by_mix or with_mix) and (worked := by_mix(way, farm, tables)) is not None
    )
    by_way = {m.way: m for m in mixes}
    ways = tuple(
        replace(w, mix_gbp_per_head=by_way[w.name].gbp_per_head) if w.is_by_mix else w
        for w in priced.ways
    )
    filled = replace(priced, ways=ways, head=head)
    found = budgets(filled, head)
    best = cheapest(found, filled.terms.basis)
    places = tuple(_places(way, farm) for way in ways)
    checks, in_shed = _checks(ways, farm, head, by_way)
    return Compared(
        farm=farm,
        wintering=filled,
        head=head,
        budgets=found,
        best=best,
        base=at_base,
        keeps=_keeps(filled, head),
        switches=switching(filled, head),
        partials=tuple(partial(found[at_base], b) for i, b in enumerate(found) if i != at_base),
        places=places,
        split=cheapest_split(found, [p for p, _ in places], head),
        split_without=_without(found, places, head, best),
        mixes=mixes,
        checks=checks,
        shed=in_shed,
        welfare=risks.welfare(found, found[best]),
        notes=risks.notes(filled, found, winter_days=farm.days, end=farm.end),
        trials=risks.TRIALS,
    )


def _base(farm: Farm, wintering: Wintering, said: str | None) -> int:
    """Place of the way that differences are taken from."""
    names = [w.name for w in wintering.ways]
    if said is None:
        places = [w.place for w in wintering.ways]
        return places.index(farm.housing) if farm.housing in places else 0
    for i, way in enumerate(wintering.ways):
        if tidy(said) in (tidy(way.name), tidy(way.place)):
            return i
    hint = nearest(tidy(said), [tidy(n) for n in names])
    raise UnknownName(
        Problem("--base", f'"{said}" is not a way of this farm', f"it has {joined(names)}", hint)
    )


def _priced(way: Way, offers: Sequence[Offer]) -> Way:
    """The way with the farm's own price on each feed that has none of its own."""
    price = {o.id: o.price_gbp_per_t_fresh for o in offers}
    return replace(
        way,
        feeds=tuple(
            replace(f, price_gbp_per_t_fresh=price.get(id_of(f.name)))
            if f.price_gbp_per_t_fresh is None
            else f
            for f in way.feeds
        ),
    )


def _keeps(wintering: Wintering, head: int) -> tuple[MostForKeep, ...]:
    return tuple(
        MostForKeep(
            away.name,
            home.name,
            break_even_keep_p_per_head_week(home, away, wintering.terms, head),
        )
        for away in wintering.ways
        if away.keep is not None
        for home in wintering.ways
        if home.keep is None
    )


def _places(way: Way, farm: Farm) -> tuple[int | None, str]:
    """Room of a way: as said, or by the floor of the shed."""
    if way.places is not None:
        return way.places, "as you say"
    if way.place == "shed" and farm.floor_m2 is not None:
        least = shed.CODE_FLOOR_M2[0]
        return shed.heads_that_fit(farm.floor_m2, least), f"by the floor at {least} m2 a head"
    return None, "no limit said"


def _without(
    found: Sequence[Budget], places: Sequence[tuple[int | None, str]], head: int, best: int
) -> Split | None:
    """The cheapest sharing out that sends none on the cheapest way."""
    rest = [i for i in range(len(found)) if i != best]
    if not rest:
        return None
    return cheapest_split([found[i] for i in rest], [places[i][0] for i in rest], head)


# ---------------------------------------------------------------- the shed


def _checks(
    ways: Sequence[Way], farm: Farm, head: int, mixes: dict[str, ByMix]
) -> tuple[tuple[shed.Check, ...], str]:
    """Checks of the first way that is in a shed."""
    way = next((w for w in ways if w.place == "shed"), None)
    if way is None:
        return (), ""
    found: list[shed.Check | None] = []
    if farm.floor_m2 is not None:
        found.append(shed.floor_check(farm.floor_m2, head))
    if farm.trough_m is not None:
        found.append(shed.trough_check(farm.trough_m, head))
    pens = [p for b in farm.batches for p in farm.winter.pens.get(b.name, (b.head,))]
    found.append(shed.group_check(tuple(pens)))
    if (dm := _dm_eaten_kg(way, mixes)) is not None:
        m2 = farm.floor_m2 / head if farm.floor_m2 else shed.CODE_FLOOR_M2[0]
        found.append(shed.dung_check(dm, way.days, m2))
    total = sum(b.head for b in farm.batches)
    weight = sum(b.head * b.weight_kg for b in farm.batches) / total
    found += [shed.water_check(weight, head), shed.straw_check(way.weeks, head)]
    for feed in way.feeds:
        kind = shed.kind_of(feed.name)
        tonnes = feed.kg_fresh_per_head_day * feed.days * head / 1000
        if kind is not None and tonnes:
            found.append(shed.store_check(feed.name, tonnes, kind))
    return tuple(c for c in found if c is not None), way.name


def _dm_eaten_kg(way: Way, mixes: dict[str, ByMix]) -> float | None:
    """Dry matter a head eats a day in the shed: put out by hand, or of the mix. [kg DM]"""
    if way.feeds:
        kg_days = sum(f.kg_fresh_per_head_day * f.days for f in way.feeds)
        return HAND_FED_DM_SHARE * kg_days / way.days
    told = [
        (r.batch.head, r.assessment.dm_kg_per_day)
        for r in (mixes[way.name].rations if way.name in mixes else ())
        if r.assessment is not None
    ]
    total = sum(head for head, _ in told)
    return sum(head * kg for head, kg in told) / total if total else None


def with_mix_gbp_per_head(done: Compared, told: ByMix) -> float | None:
    """Cost of a head on a way were it fed by the mix in place of by hand. [GBP/head]"""
    if told.gbp_per_head is None:
        return None
    way = next(w for w in done.wintering.ways if w.name == told.way)
    by_mix = replace(way, is_by_mix=True, mix_gbp_per_head=told.gbp_per_head)
    return budget(by_mix, done.wintering.terms, done.head).by(done.wintering.terms.basis)
