"""A weighing in mid-winter held against the weight line, and the rest of the winter from it.

Two errors are kept apart. Sampling: the mean of those weighed is not the mean of all; it is told
as 1.96 standard errors. Gut fill: sheep weighed after some hours off feed weigh less than the
same sheep weighed full; it moves the whole mean one way, cannot be averaged out, and is told as a
range beside the first, never added as if it were known.
"""

from __future__ import annotations

from ration.weighing.batches import against_farm, batch_weights
from ration.weighing.line import Told, against_line, gut_fill_kg, line_kg
from ration.weighing.records import Weighing, from_weights, weighing
from ration.weighing.rest import farm_from
from ration.weighing.sentences import words
from ration.weighing.store import left_t, supplies_from

__all__ = [
    "Told", "Weighing", "against_farm", "against_line", "batch_weights", "farm_from",
    "from_weights", "gut_fill_kg", "left_t", "line_kg", "supplies_from",
    "weighing", "words",
]  # fmt: skip
