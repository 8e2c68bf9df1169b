"""Plots of results as SVG text: one look, no script, the same data beside each as a table.

Each function takes result records and gives a `Plot`; nothing is worked out here. Pictures have
no fixed width: they fill what they stand in, the same bytes from the same records. Words and axes
take the colour of the page; `CSS` has the few lines a page needs.
"""

from __future__ import annotations

from ration.plots.curves import cost_against_hay, cost_of_gain
from ration.plots.rations import needs_against_supply, worth_against_price
from ration.plots.records import PAGE, PAPER, Plot, Size
from ration.plots.stack import stack_to_run_out
from ration.plots.style import CSS
from ration.plots.ways import standards_beside, trials, ways_of_wintering
from ration.plots.winter import ration_through_winter, weights_line

__all__ = [
    "CSS",
    "PAGE",
    "PAPER",
    "Plot",
    "Size",
    "cost_against_hay",
    "cost_of_gain",
    "needs_against_supply",
    "ration_through_winter",
    "stack_to_run_out",
    "standards_beside",
    "trials",
    "ways_of_wintering",
    "weights_line",
    "worth_against_price",
]
