"""Minerals and vitamins on paper: what is short, too much or not known, by every book."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ration.cautions import STANDING
from ration.faces import minerals_report
from ration.sheets.ears import Block, Grid, Said, heard, parts
from ration.sheets.html import Foot, Picture, sheet

if TYPE_CHECKING:
    from ration.jobs.minerals import FarmMinerals

EVERY = Said("Of every batch", "bold")


def minerals_sheet(done: FarmMinerals, at_foot: Foot, pictures: Sequence[Picture] = ()) -> str:
    """Minerals and vitamins of each batch, a batch to a page; then what is common, and sources.

    Parameters
    ----------
    done : FarmMinerals
        From `ration.jobs.minerals.minerals_file`.
    at_foot : Foot
    pictures : sequence of Picture
    """
    top, *batches, last = [
        tuple(b for b in part if b != Said(STANDING, "bold"))
        for part in parts(heard(lambda c: minerals_report.print_minerals(c, done)))
    ]
    shared = _shared(batches)
    sections = [top, *(tuple(b for b in part if b not in shared) for part in batches)]
    sections.append((*((EVERY, *shared) if shared else ()), *last))
    return sheet(
        "plain.html",
        f"Minerals and vitamins, {done.farm.name}",
        at_foot,
        body="dense minerals",
        kind="Minerals and vitamins",
        farm=done.farm.name,
        parts=sections,
        new_page=tuple(range(2, len(sections))),
        pictures=pictures,
    )


def _shared(batches: Sequence[Sequence[Block]]) -> list[Block]:
    """What is said word for word under the table of every batch."""
    if len(batches) < 2:
        return []
    under = [_under(b) for b in batches]
    return [b for b in under[0] if b.style != "bold" and all(b in u for u in under[1:])]


def _under(blocks: Sequence[Block]) -> list[Said]:
    at = next((i for i, b in enumerate(blocks) if isinstance(b, Grid)), len(blocks))
    return [b for b in blocks[at:] if isinstance(b, Said)]
