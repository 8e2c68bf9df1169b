"""Published feeding trials against the program's own functions: what they say, and where they miss.

Each row of `feedtables/trials.csv` is one treatment. Where the print does not give an analysis, a
weight or an intake, the row carries a low and a high figure for it, so a prediction is a band with
a middle. Needs come from `needs.of` and the gain from `assess.assess`, as for a farm, and with
margin 1.00: a trial is asked what happened, not what is safe.
"""

from __future__ import annotations

from ration.trials.appetite import (
    AUSTRALIAN,
    GROUND_FEED,
    LONG_FEED,
    Intake,
    intake_predictions,
    substitution_by_practice_kg_per_kg,
    substitution_kg_per_kg,
)
from ration.trials.gain import MARGIN, Prediction, portions, predict, predict_extra
from ration.trials.records import Span, Trial, middle, read
from ration.trials.sums import BASES, Summary, basis, summary

__all__ = [
    "AUSTRALIAN",
    "BASES",
    "GROUND_FEED",
    "LONG_FEED",
    "MARGIN",
    "Intake",
    "Prediction",
    "Span",
    "Summary",
    "Trial",
    "basis",
    "intake_predictions",
    "middle",
    "portions",
    "predict",
    "predict_extra",
    "read",
    "substitution_by_practice_kg_per_kg",
    "substitution_kg_per_kg",
    "summary",
]
