"""Minerals and vitamins of a ration as frozen records, and the words of a verdict."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ration.tables.minerals import MineralLevel

if TYPE_CHECKING:
    from ration.animals import Batch

ENOUGH, SHORT, DIFFER, WITHIN = "enough", "short", "books differ", "under every limit"
OVER_LAW, OVER_BOOK, UNKNOWN = "over the legal most", "over what is tolerated", "cannot tell"
GRAZING = "the grazing"
COPPER, MOLYBDENUM, SULPHUR = "cu_mg_per_kg_dm", "mo_mg_per_kg_dm", "s_g_per_kg_dm"
CALCIUM, PHOSPHORUS = "ca_g_per_kg_dm", "p_g_per_kg_dm"
# A thousandth past a figure is rounding: a mix may stand exactly on a need.
HAIR = 1e-3


@dataclass(frozen=True)
class Beside:
    """A published figure turned to the diet of this batch.

    Attributes
    ----------
    level : MineralLevel
        As printed, with its edition, source and mark.
    least, most : float or None
        In the nutrient's unit per kg of the diet's dry matter.
    is_sure : bool
        False where it is not known whether the row is for this ration.
    """

    level: MineralLevel
    least: float | None
    most: float | None
    is_sure: bool = True

    @property
    def ceiling(self) -> float:
        """The upper end, where the row is a limit. [unit per kg DM]"""
        return math.inf if self.most is None else self.most


@dataclass(frozen=True)
class MineralLine:
    """One mineral or vitamin of one ration.

    Attributes
    ----------
    nutrient, name, unit : str
        Key, plain name and unit per kg DM.
    per_kg_dm, per_head_day : float or None
        The known part, over the dry matter of the whole ration; None when no feed has a figure.
    by_feed : tuple of (str, float, str)
        Feed, what it brings a day, and where its figure comes from.
    unknown : tuple of str
        Feeds without a figure; also the grazing of a part ration.
    needs, limits, cautions : tuple of Beside
        What is asked; tolerance and law; levels at which harm was seen or a label must warn.
    verdict : str
        One of the words at the head of this module.
    """

    nutrient: str
    name: str
    unit: str
    per_kg_dm: float | None
    per_head_day: float | None
    by_feed: tuple[tuple[str, float, str], ...]
    unknown: tuple[str, ...]
    needs: tuple[Beside, ...]
    limits: tuple[Beside, ...]
    cautions: tuple[Beside, ...]
    verdict: str

    @property
    def short_by(self) -> tuple[Beside, ...]:
        """Needs that the known part does not reach."""
        known = self.per_kg_dm or 0.0
        return tuple(n for n in self.needs if under(known, n.least or 0.0))

    @property
    def met(self) -> tuple[Beside, ...]:
        """Needs that the known part reaches."""
        known = self.per_kg_dm or 0.0
        return tuple(n for n in self.needs if not under(known, n.least or 0.0))

    @property
    def passed(self) -> tuple[Beside, ...]:
        """Tolerances and legal limits that the known part is over."""
        known = self.per_kg_dm or 0.0
        return tuple(m for m in self.limits if m.is_sure and over(known, m.ceiling))

    @property
    def alarms(self) -> tuple[Beside, ...]:
        """Cautions for this ration that the known part is over."""
        known = self.per_kg_dm or 0.0
        return tuple(c for c in self.cautions if c.is_sure and over(known, c.ceiling))


@dataclass(frozen=True)
class MineralAccount:
    """Minerals and vitamins of one batch's ration.

    Attributes
    ----------
    batch : Batch
    breed : str
    stages : tuple of str
        Stages of the table that were read for this batch.
    dm_kg_per_day : float
        Eaten. [kg DM/day]
    lines : tuple of MineralLine
        In the order of the table.
    ca_to_p : float or None
        Calcium over phosphorus [g per g]; None when either is not known for every feed.
    given : tuple of (str, float)
        Minerals in the ration, fresh weight put out. [g/day]
    stores_copper : bool
        The breed is one that stores copper.
    copper_absorbed_share : float or None
        By Suttle and McLauchlan; None where molybdenum or sulphur is not known or out of range.
    is_part_ration : bool
    """

    batch: Batch
    breed: str
    stages: tuple[str, ...]
    dm_kg_per_day: float
    lines: tuple[MineralLine, ...]
    ca_to_p: float | None
    given: tuple[tuple[str, float], ...]
    stores_copper: bool
    copper_absorbed_share: float | None
    is_part_ration: bool

    def line(self, nutrient: str) -> MineralLine:
        """The line of a nutrient; KeyError when the table has none."""
        for found in self.lines:
            if found.nutrient == nutrient:
                return found
        raise KeyError(nutrient)

    def of(self, *verdicts: str) -> tuple[MineralLine, ...]:
        """The lines with one of these verdicts."""
        return tuple(x for x in self.lines if x.verdict in verdicts)


def under(value: float, limit: float) -> bool:
    """Short of the limit by more than rounding."""
    return value < limit - HAIR * abs(limit)


def over(value: float, limit: float) -> bool:
    """Past the limit by more than rounding."""
    return value > limit + HAIR * abs(limit)
