"""The ways of wintering on paper: what each costs, the keep to pay, where it turns, what dies."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ration.faces import wintering_report
from ration.faces.wintering_report import method, note_words
from ration.sheets.heard import Block, Grid, Said, heard
from ration.sheets.html import Foot, Picture, sheet

if TYPE_CHECKING:
    from ration.jobs.wintering import Compared

COSTS = "What a head costs"
PARTIAL = "Leaving "
NOT_MONEY, TRIALS = "Not money", "What trials found"


def wintering_sheet(done: Compared, at_foot: Foot, pictures: Sequence[Picture] = ()) -> str:
    """The wintering budget on two A4 sides.

    Parameters
    ----------
    done : Compared
        From `ration.jobs.wintering.wintering_file`.
    at_foot : Foot
    pictures : sequence of Picture
    """
    told = heard(lambda c: wintering_report.print_wintering(c, done))
    costs_at = _at(told, COSTS)
    notes_at = _at(told, NOT_MONEY)
    trials_at = _at(told, TRIALS)
    middle = told[costs_at + 1 : notes_at]
    welfare = "" if done.welfare is None else note_words(done.welfare)
    words = [b.text for b in told[1:costs_at] if isinstance(b, Said) and b.text != welfare]
    last = method(done)
    return sheet(
        "wintering.html",
        f"Ways of wintering, {done.farm.name}",
        at_foot,
        body="dense",
        farm=done.farm.name,
        heading=_texts(told[:1])[0],
        words=words,
        welfare=welfare,
        costs=told[costs_at],
        middle=[b for b in middle if not _is_partial(b)],
        partials=[b for b in middle if _is_partial(b)],
        notes=_texts(told[notes_at + 1 : trials_at]),
        trials_title=_texts(told[trials_at : trials_at + 1])[0],
        trials=_texts(told[trials_at + 1 : trials_at + 1 + len(done.trials)]),
        method=last,
        pictures=pictures,
    )


def _at(told: Sequence[Block], start: str) -> int:
    """Place of the block that begins so."""
    for i, block in enumerate(told):
        words = block.title if isinstance(block, Grid) else getattr(block, "text", "")
        if words.startswith(start):
            return i
    raise LookupError(f'nothing begins with "{start}"')


def _is_partial(block: Block) -> bool:
    return isinstance(block, Grid) and block.title.startswith(PARTIAL)


def _texts(blocks: Sequence[Block]) -> list[str]:
    return [b.text for b in blocks if isinstance(b, Said)]
