"""Minerals and vitamins on paper: what is short, too much or not known, with every book's figure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ration.cautions import STANDING
from ration.faces import minerals_report
from ration.sheets.heard import Block, Said, heard, parts
from ration.sheets.html import Foot, Picture, sheet

if TYPE_CHECKING:
    from ration.jobs.minerals import FarmMinerals


def minerals_sheet(done: FarmMinerals, at_foot: Foot, pictures: Sequence[Picture] = ()) -> str:
    """Minerals and vitamins of each batch, a batch to a page, then the sources.

    Parameters
    ----------
    done : FarmMinerals
        From `ration.jobs.minerals.minerals_file`.
    at_foot : Foot
    pictures : sequence of Picture
    """
    sections = [
        tuple(b for b in part if not _is_standing(b))
        for part in parts(heard(lambda c: minerals_report.print_minerals(c, done)))
    ]
    return sheet(
        "plain.html",
        f"Minerals and vitamins, {done.farm.name}",
        at_foot,
        body="dense minerals",
        kind="Minerals and vitamins",
        farm=done.farm.name,
        parts=sections,
        new_page=tuple(range(2, len(sections) - 1)),
        pictures=pictures,
    )


def _is_standing(block: Block) -> bool:
    return isinstance(block, Said) and block.text == STANDING
