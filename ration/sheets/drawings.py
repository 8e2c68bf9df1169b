"""The plots that help on a sheet, for the size of paper; none where matplotlib is not installed."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ration.jobs.winter import Wintered
    from ration.sheets.html import Picture


def of_order(done: Wintered) -> tuple[Picture, ...]:
    """How long the hay lasts by the plan."""
    return _drawn(lambda p: p.stack_to_run_out(done.stack, done.plan, size=p.PAPER))


def _drawn(draw: Callable[[Any], Picture]) -> tuple[Picture, ...]:
    try:
        from ration import plots
    except ImportError:
        return ()
    return (draw(plots),)
