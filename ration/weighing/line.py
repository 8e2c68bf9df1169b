"""A weighing against the weight line: sampling and gut fill kept apart.

Source
------
Gut fill: 1.7 to 2.4 kg in 8 h off feed, Semakula et al. (2021) Agriculture 11, 150, ewe lambs
off pasture (its opening read only). Even loss over the 8 h and none after is judgement. Days
between weighings, number to weigh and spread: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from ration.errors import OutOfRange, Problem
from ration.student import t_975
from ration.units import in_words_day
from ration.weighing.records import Weighing

if TYPE_CHECKING:
    import pandas as pd

GUT_FILL_KG = (1.7, 2.4)
GUT_FILL_HOURS = 8.0
STANDARD_ERRORS = 1.96  # 95 % of a normal distribution
LEAST_DAYS_BETWEEN = 28
LEAST_NUMBER = 30
EVEN_SPREAD_SHARE = 0.12


def line_kg(start_kg: float, start: date, target_kg: float, end: date, when: date) -> float:
    """Weight of the line on a day: straight from start to end, held before and after. [kg]"""
    share = (when - start).days / max((end - start).days, 1)
    return start_kg + (target_kg - start_kg) * min(max(share, 0.0), 1.0)


def gut_fill_kg(hours_off_feed: float | None, start_hours_off: float | None) -> tuple[float, float]:
    """What may have to be added to a mean to set it beside the first weighing. [kg]

    Nothing after the same hours off feed. Otherwise 0 at 0 h rising evenly to 1.7 to 2.4 kg at
    8 h and no further. Where hours are not known, anything from none to 8 h is allowed for.

    Parameters
    ----------
    hours_off_feed, start_hours_off : float or None
        Now, and at the first weighing. [h]

    Returns
    -------
    tuple of float
        Least and most; below zero when they are fuller now. [kg]

    Source
    ------
    Semakula et al. (2021) Agriculture 11, 150 (opening read only); the straight line and the
    stop at 8 h are judgement.
    """
    if hours_off_feed is not None and hours_off_feed == start_hours_off:
        return 0.0, 0.0
    now, first = _emptied(hours_off_feed), _emptied(start_hours_off)
    shares = (now[0] - first[1], now[1] - first[0])
    ends = [share * kg for share in shares for kg in GUT_FILL_KG]
    return min(ends), max(ends)


def _emptied(hours: float | None) -> tuple[float, float]:
    """Least and most share of the 8 h loss that has gone. [-]"""
    if hours is None:
        return 0.0, 1.0
    share = min(hours / GUT_FILL_HOURS, 1.0)
    return share, share


@dataclass(frozen=True)
class Told:
    """A weighing against the line.

    Attributes
    ----------
    weighing : Weighing
    start_kg, start : float, date
        First weight and day of the line. [kg]
    target_kg, end : float, date
        Last weight and day of the line. [kg]
    line_kg : float
        The line on the day of the weighing. [kg]
    behind_kg : float
        Line less mean: above zero they are behind, below zero ahead. [kg]
    half_width_kg : float
        95 % half width of the mean from sampling, 1.96 standard errors. [kg]
    gut_fill_kg : tuple of float
        Least and most that gut fill may have to add to the mean. [kg]
    gain_g_per_day, gain_half_width_g_per_day : float
        Gain since the first weighing and its half width from sampling now; the first weighing
        is taken as exact. [g/day]
    needed_g_per_day : float
        Gain that reaches the target by the end. [g/day]
    later_end, needed_later_g_per_day : date or None, float or None
        A later turnout and the gain that reaches the target by then. [g/day]
    notes : tuple of str
        What the reader should know of how far these figures carry.
    """

    weighing: Weighing
    start_kg: float
    start: date
    target_kg: float
    end: date
    line_kg: float
    behind_kg: float
    half_width_kg: float
    gut_fill_kg: tuple[float, float]
    gain_g_per_day: float
    gain_half_width_g_per_day: float
    needed_g_per_day: float
    later_end: date | None
    needed_later_g_per_day: float | None
    notes: tuple[str, ...] = ()

    @property
    def behind_range_kg(self) -> tuple[float, float]:
        """Least and most they may be behind, sampling and gut fill both allowed for. [kg]"""
        low, high = self.gut_fill_kg
        return (
            self.behind_kg - high - self.half_width_kg,
            self.behind_kg - low + self.half_width_kg,
        )

    @property
    def verdict(self) -> str:
        """behind, ahead or cannot tell, with everything allowed for."""
        least, most = self.behind_range_kg
        return "behind" if least > 0 else "ahead" if most < 0 else "cannot tell"

    def frame(self) -> pd.DataFrame:
        """One row: the day, what was weighed and what it tells."""
        import pandas as pd

        least, most = self.behind_range_kg
        row = {
            "date": self.weighing.when,
            "batch": self.weighing.batch or "all",
            "weighed": self.weighing.number,
            "mean_kg": self.weighing.mean_kg,
            "line_kg": self.line_kg,
            "behind_kg": self.behind_kg,
            "half_width_kg": self.half_width_kg,
            "behind_least_kg": least,
            "behind_most_kg": most,
            "gain_g_per_day": self.gain_g_per_day,
            "needed_g_per_day": self.needed_g_per_day,
            "verdict": self.verdict,
        }
        return pd.DataFrame([row])


def against_line(
    weighing: Weighing,
    start_kg: float,
    start: date,
    target_kg: float,
    end: date,
    later_end: date | None = None,
    start_hours_off: float | None = None,
) -> Told:
    """A weighing held against the straight line from the first weight to the target.

    Parameters
    ----------
    weighing : Weighing
    start_kg, start : float, date
        First weight and its day. [kg]
    target_kg, end : float, date
        Weight wanted and its day. [kg]
    later_end : date, optional
        A later turnout to work the gain for as well.
    start_hours_off : float, optional
        Hours off feed at the first weighing. [h]

    Raises
    ------
    OutOfRange
        The weighing is not between the two days.
    """
    when = weighing.when
    if not start < when < end:
        first, last = in_words_day(start), in_words_day(end)
        raise OutOfRange(
            Problem(
                f"weighing of {in_words_day(when)}",
                f"the line runs from {first} to {last}",
                "a weighing tells something on the days between",
                "Check the year",
            )
        )
    days, short_kg = (when - start).days, target_kg - weighing.mean_kg
    line = line_kg(start_kg, start, target_kg, end, when)
    half = STANDARD_ERRORS * weighing.standard_error_kg
    later = None if later_end is None or later_end <= end else later_end
    return Told(
        weighing=weighing,
        start_kg=start_kg,
        start=start,
        target_kg=target_kg,
        end=end,
        line_kg=line,
        behind_kg=line - weighing.mean_kg,
        half_width_kg=half,
        gut_fill_kg=gut_fill_kg(weighing.hours_off_feed, start_hours_off),
        gain_g_per_day=(weighing.mean_kg - start_kg) * 1000 / days,
        gain_half_width_g_per_day=half * 1000 / days,
        needed_g_per_day=short_kg * 1000 / (end - when).days,
        later_end=later,
        needed_later_g_per_day=None if later is None else short_kg * 1000 / (later - when).days,
        notes=tuple(_notes(weighing, days, start_hours_off)),
    )


def _notes(weighing: Weighing, days: int, start_hours_off: float | None) -> list[str]:
    notes = []
    if days < LEAST_DAYS_BETWEEN:
        notes.append(
            f"Only {days} days since the first weighing: under {LEAST_DAYS_BETWEEN} days, gut fill "
            "and the scales move the weight more than growth does."
        )
    now = weighing.hours_off_feed
    if now is None or start_hours_off is None:
        which = "either" if now is None and start_hours_off is None else "one"
        notes.append(
            f"The hours off feed are not known for {which} weighing; weigh at the same hour after "
            "the same time off feed each time, and write it down."
        )
    elif now != start_hours_off:
        notes.append(
            f"Weighed {now:g} hours off feed, and {start_hours_off:g} the first time; weigh after "
            "the same time off feed each time."
        )
    if weighing.number < LEAST_NUMBER:
        df = weighing.number - 1
        wide = t_975(df) * weighing.standard_error_kg
        notes.append(
            f"Only {weighing.number} were weighed; by Student's t on {df} degrees of freedom it is "
            f"give or take {wide:.2f} kg. Weigh {LEAST_NUMBER} to 50, or 80 to 100 of an uneven "
            "lot, as they come to the gate."
        )
    if weighing.sd_kg > EVEN_SPREAD_SHARE * weighing.mean_kg:
        share = weighing.sd_kg / weighing.mean_kg
        notes.append(
            f"Their weights are spread by {share:.0%} of the mean, over {EVEN_SPREAD_SHARE:.0%}: "
            "draw off the small ones and feed them apart."
        )
    return notes
