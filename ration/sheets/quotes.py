"""Merchants' quotes compared on paper: who is cheapest, why each stands so, the refused."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ration.faces import quotes_report
from ration.sheets.ears import Block, Grid, Said, heard
from ration.sheets.html import Foot, Picture, sheet

if TYPE_CHECKING:
    from ration.jobs.quotes import Compared

WITHOUT = "Without any quoted "
RANKED = ": what these sheep cost with each as the only change"


def quotes_sheet(done: Compared, at_foot: Foot, pictures: Sequence[Picture] = ()) -> str:
    """Quotes compared for the sheep of a farm, on two A4 sides or so.

    Parameters
    ----------
    done : Compared
        From `ration.jobs.quotes.compare_file`.
    at_foot : Foot
    pictures : sequence of Picture
    """
    told = heard(
        lambda c: quotes_report.print_quotes(
            c, done.ranked, done.tied, on=done.on, sheets=done.sheets
        )
    )
    first_table = next((i for i, b in enumerate(told) if isinstance(b, Grid)), len(told))
    ranked = [i for i, b in enumerate(told) if isinstance(b, Grid) and b.title.endswith(RANKED)]
    between = told[first_table : ranked[0]] if ranked else told[first_table:]
    landed = next((b for b in between if isinstance(b, Grid)), None)
    after = told[ranked[-1] + 1 :] if ranked else ()
    without = [b for b in after if isinstance(b, Said) and b.text.startswith(WITHOUT)]
    return sheet(
        "quotes.html",
        f"Quotes compared, {done.farm.name}",
        at_foot,
        body="dense quotes",
        farm=done.farm.name,
        heading=_texts(told[:1])[0],
        words=_texts(told[1:first_table]),
        landed=landed,
        landed_note=_texts(between),
        heads=told[ranked[0]] if ranked else None,
        kinds=[_kind(told[i]) for i in ranked],
        without=[b.text for b in without],
        after=[b for b in after if b not in without],
        pictures=pictures,
    )


def _kind(block: Block) -> tuple[str, Grid]:
    table = block if isinstance(block, Grid) else Grid("", (), (), ())
    return table.title.removesuffix(RANKED), table


def _texts(blocks: Sequence[Block]) -> list[str]:
    return [b.text for b in blocks if isinstance(b, Said)]
