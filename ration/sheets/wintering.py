"""The ways of wintering on paper: what each costs, the keep to pay, where it turns, what dies."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from ration.faces import wintering_report
from ration.faces.wintering_report import check_words, method, note_words
from ration.sheets.ears import Block, Grid, Said, heard
from ration.sheets.html import Foot, Picture, sheet

if TYPE_CHECKING:
    from ration.jobs.wintering import Compared

COSTS, PARTIAL, TURNS = "What a head costs", "Leaving ", " stops being cheapest"


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
    costs_at = next(i for i, b in enumerate(told) if _titled(b, COSTS))
    welfare = "" if done.welfare is None else note_words(done.welfare)
    checks = [check_words(c) for c in done.checks]
    notes, trials = [note_words(n) for n in done.notes], [note_words(n) for n in done.trials]
    last = method(done)
    lists = {*checks, *notes, *trials, welfare, last}
    texts = [b for b in told if isinstance(b, Said)]
    headings = {
        name: next(x.text for x, y in pairwise(texts) if y.text == some[0])
        for name, some in (("checks", checks), ("notes", notes), ("trials", trials))
        if some
    }
    lists |= set(headings.values())
    rest = [b for b in told[costs_at + 1 : -1] if not (isinstance(b, Said) and b.text in lists)]
    return sheet(
        "wintering.html",
        f"Ways of wintering, {done.farm.name}",
        at_foot,
        body="dense ways",
        farm=done.farm.name,
        heading=texts[0].text,
        words=[x.text for x in _texts(told[1:costs_at]) if x.text != welfare],
        welfare=welfare,
        costs=told[costs_at],
        turns=next((b for b in rest if _titled(b, TURNS)), None),
        middle=[b for b in rest if not (_titled(b, TURNS) or _titled(b, PARTIAL))],
        partials=[b for b in rest if _titled(b, PARTIAL)],
        lists=[
            (headings[name], some)
            for name, some in (("checks", checks), ("notes", notes), ("trials", trials))
            if some
        ],
        method=last,
        pictures=pictures,
    )


def _titled(block: Block, words: str) -> bool:
    return isinstance(block, Grid) and words in block.title


def _texts(blocks: Sequence[Block]) -> list[Said]:
    return [b for b in blocks if isinstance(b, Said)]
