"""What if: a change in the farmer's words, the farm with it laid over, and the two side by side.

The farm given is never touched. What is changed in a feed is marked as derived and says by what.
"""

from __future__ import annotations

from ration.what_if.compare import beside, bought_t, frame, hay_left_t, hay_runs_out
from ration.what_if.lay import apply, apply_to_supplies, notes, undo
from ration.what_if.reading import FORMS, parse
from ration.what_if.records import (
    ALL_BOUGHT,
    Change,
    FeedMove,
    LongWinter,
    Loss,
    MoreSheep,
    PriceMove,
)

__all__ = [
    "ALL_BOUGHT", "FORMS", "Change", "FeedMove", "LongWinter", "Loss", "MoreSheep", "PriceMove",
    "apply", "apply_to_supplies", "beside", "bought_t", "frame", "hay_left_t", "hay_runs_out",
    "notes", "parse", "undo",
]  # fmt: skip
