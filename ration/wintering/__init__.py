"""Which way of wintering pays: away on keep, on the hill, on the in-bye land, in the shed.

Pure arithmetic on what the farmer entered: `records` holds the ways and their prices, `budget`
costs one way line by line, `compare` sets the ways side by side, `switch` finds the value of each
uncertain figure at which the cheapest way changes, `split` says how many to send where, `shed`
checks floor, trough, dung, water, straw and store, `risks` what is not money.
"""

from __future__ import annotations

from ration.wintering.budget import Budget, Line, annuity, budget
from ration.wintering.compare import (
    Partial,
    break_even_keep_p_per_head_week,
    budgets,
    cheapest,
    partial,
)
from ration.wintering.records import (
    Amount,
    Building,
    FeedGiven,
    Keep,
    Labour,
    Land,
    Terms,
    Visits,
    Way,
    Wintering,
)
from ration.wintering.split import Split, cheapest_split
from ration.wintering.switch import Lever, Switch, levers, switching

__all__ = [
    "Amount", "Budget", "Building", "FeedGiven", "Keep", "Labour", "Land", "Lever", "Line",
    "Partial", "Split", "Switch", "Terms", "Visits", "Way", "Wintering", "annuity",
    "break_even_keep_p_per_head_week", "budget", "budgets", "cheapest", "cheapest_split", "levers",
    "partial", "switching",
]  # fmt: skip
