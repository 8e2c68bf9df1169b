"""What a named mineral would do for a ration: grams to cover what is short, the first limit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ration.errors import InputError, Problem
from ration.minerals.records import COPPER, SHORT, Beside, MineralAccount, MineralLine

if TYPE_CHECKING:
    from ration.feeds import Feed


@dataclass(frozen=True)
class Cover:
    """Fresh grams a day of a mineral that would cover one short nutrient by one book."""

    nutrient: str
    name: str
    beside: Beside
    g_fresh_per_day: float


@dataclass(frozen=True)
class Ceiling:
    """Fresh grams a day of a mineral that would bring the ration up to one limit."""

    nutrient: str
    name: str
    beside: Beside
    g_fresh_per_day: float


@dataclass(frozen=True)
class Supplement:
    """What a named mineral would do for a ration.

    Attributes
    ----------
    feed_id, name : str
    holds_copper : bool
        Richer in copper than any ration may be: no amount is told, a vet is to be asked.
    copper_unknown : tuple of str
        Feeds, the mineral itself among them, without a copper figure: no room is then proved.
    covers : tuple of Cover
        One a short nutrient and book; empty where it holds none of what is short.
    lacks : tuple of str
        Names of short nutrients that it has no figure for, or too little of.
    first : Ceiling or None
        The limit that is reached first.
    unchecked : tuple of str
        Names of nutrients with a limit that cannot be checked: unknown in it or in a feed.
    """

    feed_id: str
    name: str
    holds_copper: bool
    copper_unknown: tuple[str, ...]
    covers: tuple[Cover, ...]
    lacks: tuple[str, ...]
    first: Ceiling | None
    unchecked: tuple[str, ...]


def supplement_needed(told: MineralAccount, feed: Feed) -> Supplement:
    """How much of a mineral covers what is surely short, and which limit it reaches first.

    The amount is added to the ration as it stands; its own dry matter is counted. Copper is never
    covered: that is for a vet.

    Parameters
    ----------
    told : MineralAccount
    feed : Feed
        The mineral, with its dry matter.

    Raises
    ------
    InputError
        Its dry matter is not known.
    """
    dm_share = (feed.get("dm_g_per_kg_fresh") or 0.0) / 1000
    if dm_share <= 0:
        raise InputError(
            Problem(feed.name, "its dry matter is not known", do='Add "dry matter: 98 %"')
        )

    def grams(line: MineralLine, goal: float) -> float | None:
        """Fresh grams that bring the known part to a level per kg DM; None when none will."""
        content = feed.get(line.nutrient)
        missing = (goal - (line.per_kg_dm or 0.0)) * told.dm_kg_per_day
        if missing <= 0:
            return 0.0
        if content is None or content <= goal:
            return None
        return 1000 * missing / (content - goal) / dm_share

    short = [x for x in told.of(SHORT) if x.nutrient != COPPER]
    copper = next((x for x in told.lines if x.nutrient == COPPER), None)
    own_copper = feed.get(COPPER)
    law = min((m.ceiling for m in copper.limits), default=math.inf) if copper else math.inf
    holds_copper = own_copper is not None and own_copper > law
    covers, lacks = [], []
    for line in short:
        found = [(n, grams(line, n.least or 0.0)) for n in line.short_by]
        enough = [Cover(line.nutrient, line.name, n, g) for n, g in found if g is not None]
        lacks += [] if enough else [line.name]
        covers += [] if holds_copper else enough
    reached = [
        Ceiling(line.nutrient, line.name, m, g)
        for line in told.lines
        if feed.get(line.nutrient) is not None
        for m in _ceilings(line)
        if (g := grams(line, m.ceiling)) is not None
    ]
    return Supplement(
        feed_id=feed.id,
        name=feed.name,
        holds_copper=holds_copper,
        copper_unknown=(
            *(copper.unknown if copper else ()),
            *((feed.name,) if own_copper is None else ()),
        ),
        covers=tuple(covers),
        lacks=tuple(lacks),
        first=min(reached, key=lambda c: c.g_fresh_per_day, default=None),
        unchecked=tuple(
            line.name
            for line in told.lines
            if line.limits and (line.unknown or feed.get(line.nutrient) is None)
        ),
    )


def _ceilings(line: MineralLine) -> list[Beside]:
    """Tolerances and law, and for a breed that stores copper the levels that harmed it."""
    harmed = line.cautions if line.nutrient == COPPER else ()
    found = (*line.limits, *(c for c in harmed if c.level.when))
    return [m for m in found if m.is_sure and math.isfinite(m.ceiling)]
