"""Minerals and vitamins of a ration: what the feeds bring, beside all that is published.

The books disagree, and every figure stands beside the others with its source: none is averaged and
none is left out. A figure that is not on file is unknown, never zero: what a ration brings is then
"at least" the known part, which can be too much but never too little and never enough.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ration.animals import TERM_DAYS
from ration.errors import OutOfRange
from ration.minerals.records import (
    CALCIUM,
    COPPER,
    DIFFER,
    ENOUGH,
    GRAZING,
    MOLYBDENUM,
    OVER_BOOK,
    OVER_LAW,
    PHOSPHORUS,
    SHORT,
    SULPHUR,
    UNKNOWN,
    WITHIN,
    Beside,
    MineralAccount,
    MineralLine,
    over,
    under,
)
from ration.minerals.supplement import Ceiling, Cover, Supplement, supplement_needed
from ration.standards import arc1980
from ration.standards.copper import copper_absorption_share, stores_copper
from ration.tables.minerals import (
    ANY_STAGE,
    AT_12_PERCENT,
    CAUTION,
    LEGAL,
    NEED,
    PER_KG_WEIGHT,
    TOLERANCE,
    MineralLevel,
)

if TYPE_CHECKING:
    from ration.animals import Batch
    from ration.assess import Assessment
    from ration.tables import Tables

__all__ = [
    "CALCIUM",
    "COPPER",
    "DIFFER",
    "ENOUGH",
    "GRAZING",
    "MOLYBDENUM",
    "OVER_BOOK",
    "OVER_LAW",
    "PHOSPHORUS",
    "SHORT",
    "SULPHUR",
    "UNKNOWN",
    "WITHIN",
    "Beside",
    "Ceiling",
    "Cover",
    "MineralAccount",
    "MineralLine",
    "Supplement",
    "account",
    "per_kg_dm",
    "stages_of",
    "supplement_needed",
]

PER_HEAD = "head a day"
DM_SHARE_OF_LAW = 0.88
LATE_PREGNANCY_FROM_DAY = TERM_DAYS - 42
_OWN_NEED = {"calcium": CALCIUM, "phosphorus": PHOSPHORUS}
_NEED_SOURCE = {"NRC 1985": "NRC-1985", "CSIRO 2007": "CSIRO-2007"}


def per_kg_dm(
    printed: float, basis: str, weight_kg: float = 1.0, dm_kg_per_day: float = 1.0
) -> float:
    """A printed figure turned to a kilogram of the diet's dry matter [same unit per kg DM].

    Parameters
    ----------
    printed : float
        In the unit of its row.
    basis : str
        "kg DM", "kg at 12 % moisture", "kg live weight a day" or "head a day".
    weight_kg, dm_kg_per_day : float
        Of the sheep; only the last two bases read them. [kg], [kg DM/day]

    Examples
    --------
    >>> round(per_kg_dm(15, "kg at 12 % moisture"), 1)
    17.0
    """
    if basis == AT_12_PERCENT:
        return printed / DM_SHARE_OF_LAW
    if basis == PER_KG_WEIGHT:
        return printed * weight_kg / dm_kg_per_day
    return printed / dm_kg_per_day if basis == PER_HEAD else printed


def stages_of(batch: Batch) -> tuple[str, ...]:
    """The stages of the table that are for this batch, besides "any"."""
    if batch.milk_kg_per_day > 0:
        return ("lactation",)
    day = batch.days_pregnant
    if day is None and batch.days_to_lambing is not None:
        day = float(TERM_DAYS - batch.days_to_lambing)
    found = []
    if day is not None and day >= 0:
        found = ["pregnancy", *(["late-pregnancy"] if day >= LATE_PREGNANCY_FROM_DAY else [])]
    if batch.is_grown:
        return tuple(found) or ("maintenance",)
    return ("growing", *found)


def account(assessment: Assessment, tables: Tables, breed: str | None = None) -> MineralAccount:
    """What a ration brings of every mineral and vitamin, beside what is published.

    Parameters
    ----------
    assessment : Assessment
        The ration and what it does.
    tables : Tables
        For what is published (`Tables.minerals`) and the names and units.
    breed : str or None
        As the farmer says it; the batch's own when None. Only copper reads it.

    Returns
    -------
    MineralAccount
    """
    batch = assessment.batch
    breed = batch.breed if breed is None else breed
    stages = stages_of(batch)
    sums = {key: _supply(assessment, key) for key in dict.fromkeys(
        (*(m.nutrient for m in tables.minerals), MOLYBDENUM, SULPHUR)
    )}  # fmt: skip
    holds = _conditions(assessment, sums[MOLYBDENUM], stores_copper(breed))
    lines = []
    for key in dict.fromkeys(m.nutrient for m in tables.minerals):
        rows = _rows(key, tables.minerals, stages, holds, assessment)
        if key == COPPER:
            rows = [_by_caution(row, tables) for row in rows]
        lines.append(_line(key, tables, sums[key], rows, assessment.dm_kg_per_day))
    return MineralAccount(
        batch=batch,
        breed=breed,
        stages=stages,
        dm_kg_per_day=assessment.dm_kg_per_day,
        lines=tuple(lines),
        ca_to_p=_ratio(sums, assessment),
        given=tuple(
            (p.name, 1000 * p.kg_fresh_offered_per_head_day)
            for p in assessment.portions
            if p.feed.group == "mineral"
        ),
        stores_copper=stores_copper(breed),
        copper_absorbed_share=_absorbed(sums[MOLYBDENUM], sums[SULPHUR]),
        is_part_ration=assessment.is_part_ration,
    )


# ---------------------------------------------------------------- what the feeds bring


@dataclass(frozen=True)
class _Supply:
    """Known part of a nutrient: a day, per kg DM, feed by feed, and what is not known."""

    by_feed: tuple[tuple[str, float, str], ...]
    unknown: tuple[str, ...]
    per_kg_dm: float

    @property
    def is_known(self) -> bool:
        """Every feed has a figure."""
        return not self.unknown


def _supply(assessment: Assessment, nutrient: str) -> _Supply:
    by_feed, unknown = [], []
    for portion in assessment.portions:
        figure = portion.feed.figures.get(nutrient)
        if figure is None:
            unknown.append(portion.name)
        else:
            brought = portion.kg_dm_per_head_day * figure.value
            by_feed.append((portion.name, brought, figure.origin))
    if assessment.is_part_ration:
        unknown.append(GRAZING)
    total = math.fsum(brought for _, brought, _ in by_feed)
    return _Supply(
        tuple(by_feed),
        tuple(dict.fromkeys(unknown)),
        total / assessment.dm_kg_per_day,
    )


def _ratio(sums: Mapping[str, _Supply], assessment: Assessment) -> float | None:
    known = CALCIUM in sums and sums[CALCIUM].is_known and sums[PHOSPHORUS].is_known
    return assessment.ca_to_p if known and math.isfinite(assessment.ca_to_p) else None


def _absorbed(molybdenum: _Supply, sulphur: _Supply) -> float | None:
    if not (molybdenum.is_known and sulphur.is_known):
        return None
    try:
        return copper_absorption_share(molybdenum.per_kg_dm, sulphur.per_kg_dm)
    except OutOfRange:
        return None


# ---------------------------------------------------------------- what is published


def _conditions(
    assessment: Assessment, molybdenum: _Supply, copper_breed: bool
) -> dict[str, bool | None]:
    """Which "when" of the table holds; None where it is not known."""
    mo, is_known = molybdenum.per_kg_dm, molybdenum.is_known
    forage = assessment.forage_share_of_dm
    return {
        "": True,
        "mo-under-1": mo < 1 if is_known else (False if mo >= 1 else None),
        "mo-over-3": mo > 3 if is_known else (True if mo > 3 else None),
        "forage-under-40": forage < 0.4,
        "forage-40-up": forage >= 0.4,
        "to-20-kg": assessment.batch.weight_kg <= 20,
        "breed-stores-copper": copper_breed,
        "male": assessment.batch.sex != "female",
    }


def _rows(
    nutrient: str,
    levels: Iterable[MineralLevel],
    stages: tuple[str, ...],
    holds: Mapping[str, bool | None],
    assessment: Assessment,
) -> list[Beside]:
    """The rows for this batch; a row of its own displaces the same edition's row for any."""
    fit = [
        m
        for m in levels
        if m.nutrient == nutrient
        and m.stage in (ANY_STAGE, *stages)
        and holds.get(m.when, None) is not False
    ]
    special = {
        (m.what, m.edition)
        for m in fit
        if (m.stage != ANY_STAGE or m.when) and holds.get(m.when) is True
    }
    kept = [
        m
        for m in fit
        if m.what == CAUTION or m.stage != ANY_STAGE or m.when or (m.what, m.edition) not in special
    ]
    kept = [*_worked_with(nutrient, assessment), *kept]
    weight, dm = assessment.batch.weight_kg, assessment.dm_kg_per_day

    def turned(printed: float | None, basis: str) -> float | None:
        return None if printed is None else per_kg_dm(printed, basis, weight, dm)

    return [
        Beside(m, turned(m.least, m.basis), turned(m.most, m.basis), holds.get(m.when) is True)
        for m in kept
    ]


def _worked_with(nutrient: str, assessment: Assessment) -> list[MineralLevel]:
    """Calcium and phosphorus: the need this ration was worked with, and ARC (1980) beside it."""
    found = []

    def need(edition: str, g_per_day: float, source: str, mark: str, note: str) -> None:
        found.append(
            MineralLevel(
                nutrient, NEED, ANY_STAGE, "", g_per_day, g_per_day, "g", PER_HEAD, edition,
                source, mark, note,
            )
        )  # fmt: skip

    for balance in assessment.balances:
        wanted = balance.need
        if _OWN_NEED.get(balance.name) == nutrient and wanted and math.isfinite(wanted):
            source = _NEED_SOURCE.get(assessment.standard, "AFRC-1991")
            need("worked with", wanted, source, "memory", "the need this ration was worked with")
    batch = assessment.batch
    if stages_of(batch) != ("growing",):
        return found
    age = "young" if batch.under_one_year else "adult"
    gain = max(batch.gain_g_per_day, 0.0)
    if nutrient == CALCIUM:
        wanted = arc1980.ca_need_g_per_day(batch.weight_kg, gain)
        need("ARC 1980", wanted, "ARC-1980", "memory", "losses by live weight, not by intake")
    if nutrient == PHOSPHORUS:
        wanted = arc1980.p_need_g_per_day(batch.weight_kg, gain, age)
        need("ARC 1980", wanted, "ARC-1980", "memory", "losses by live weight, not by intake")
    return found


def _by_caution(row: Beside, tables: Tables) -> Beside:
    """The legal copper no higher than the level at which the program stops a ration."""
    stop = next((c.value for c in tables.cautions if c.caution == "copper-stop"), None)
    if row.level.what != LEGAL or stop is None:
        return row
    return replace(row, most=min(row.ceiling, stop))


# ---------------------------------------------------------------- the verdict


def _line(
    nutrient: str, tables: Tables, supply: _Supply, rows: list[Beside], dm_kg_per_day: float
) -> MineralLine:
    entry = tables.nutrient(nutrient)
    known = bool(supply.by_feed)
    needs = tuple(r for r in rows if r.level.what == NEED)
    limits = tuple(r for r in rows if r.level.what in (TOLERANCE, LEGAL))
    brought = supply.per_kg_dm
    return MineralLine(
        nutrient=nutrient,
        name=entry.name,
        unit=entry.unit,
        per_kg_dm=brought if known else None,
        per_head_day=brought * dm_kg_per_day if known else None,
        by_feed=supply.by_feed,
        unknown=supply.unknown,
        needs=needs,
        limits=limits,
        cautions=tuple(r for r in rows if r.level.what == CAUTION),
        verdict=_verdict(supply, needs, limits),
    )


def _verdict(supply: _Supply, needs: tuple[Beside, ...], limits: tuple[Beside, ...]) -> str:
    """Too much already by the known part; else nothing is said until all of it is known."""
    brought = supply.per_kg_dm
    passed = [m for m in limits if m.is_sure and over(brought, m.ceiling)]
    if any(m.level.what == LEGAL for m in passed):
        return OVER_LAW
    if passed:
        return OVER_BOOK
    if not supply.is_known:
        return UNKNOWN
    short = [under(brought, n.least or 0.0) for n in needs]
    if not short:
        return WITHIN
    return SHORT if all(short) else DIFFER if any(short) else ENOUGH
