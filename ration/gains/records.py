"""What a curve of gains is made of."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from ration.animals import Batch
    from ration.farm import Farm

_JUMP = 1.4


@dataclass(frozen=True)
class MatingShare:
    """Least live weight at tupping as a share of grown weight, as published."""

    what: str
    share: float
    source: str
    mark: str


@dataclass(frozen=True)
class Point:
    """One gain and the cheapest ration for it.

    Attributes
    ----------
    gain_g_per_day : float
    weight_kg, end_weight_kg : float
        Live weight that is fed for, and on the day of the target. [kg]
    mature_share : float
        End weight as a share of grown weight. [-]
    cost_gbp_per_head_day, cost_gbp_for_winter : float or None
        Of one head a day, of the batch for the winter; None where there is no ration. [GBP]
    trough_kg_fresh_per_head_day : float or None
        Trough feed put out. [kg fresh]
    more_gbp_per_head_day : float or None
        Than the gain one step below; None at the foot, between steps and where either has no
        ration. [GBP]
    proved_gap_share : float or None
        How far from the cheapest it may be. [-]
    why_not : str
        Why there is no ration, "" where there is one.
    is_target, is_step : bool
        The gain the farm file asks for; one of the even steps.
    """

    gain_g_per_day: float
    weight_kg: float
    end_weight_kg: float
    mature_share: float
    cost_gbp_per_head_day: float | None
    cost_gbp_for_winter: float | None
    trough_kg_fresh_per_head_day: float | None
    more_gbp_per_head_day: float | None
    proved_gap_share: float | None
    why_not: str
    is_target: bool
    is_step: bool

    @property
    def is_reached(self) -> bool:
        """Whether there is a ration for it."""
        return self.cost_gbp_per_head_day is not None


@dataclass(frozen=True)
class Change:
    """Another gain instead of the target.

    Attributes
    ----------
    to : Point
    more_gbp_per_head_day, more_gbp_for_winter : float
        Below 0 where it saves. [GBP]
    more_kg : float
        Heavier on the day of the target. [kg]
    gbp_per_kg : float
        Money for each kg. [GBP/kg live weight]
    """

    to: Point
    more_gbp_per_head_day: float
    more_gbp_for_winter: float
    more_kg: float
    gbp_per_kg: float


@dataclass(frozen=True)
class AtTupping:
    """Whether the weight at turnout and the summer's gain make the weight wanted at tupping.

    Attributes
    ----------
    wanted : MatingShare
    day : date
    days : int
        From the day of the target. [day]
    summer_gain_g_per_day : float
        Assumed. [g/day]
    weight_kg, share : float
        At tupping, grown weight at most. [kg], [-]
    wanted_kg : float
        [kg]
    gain_wanted_g_per_day : float
        Summer gain that just makes it; 0 where the weight at turnout is enough. [g/day]
    """

    wanted: MatingShare
    day: date
    days: int
    summer_gain_g_per_day: float
    weight_kg: float
    share: float
    wanted_kg: float
    gain_wanted_g_per_day: float

    @property
    def is_enough(self) -> bool:
        """Whether they make it."""
        return self.weight_kg >= self.wanted_kg - 1e-9


@dataclass(frozen=True)
class GainCurve:
    """What each gain costs one batch.

    Attributes
    ----------
    batch : Batch
        As the farm file has it.
    start_kg : float
        Live weight on the first day. [kg]
    days, days_to_target : int
        Of the winter; to the day of the target. [day]
    step_g_per_day : float
    points : tuple of Point
        By gain: the even steps, the target, and one step either side of the target.
    target : Point
    more, less : Change or None
        One step over and under the target; None where either has no ration.
    tupping : AtTupping or None
        None for males, for ewes in lamb and for grown ewes.
    case : str
        "hill" or "lowland": which trials stand nearer to this batch; "" when nothing says.
    """

    batch: Batch
    start_kg: float
    days: int
    days_to_target: int
    step_g_per_day: float
    points: tuple[Point, ...]
    target: Point
    more: Change | None
    less: Change | None
    tupping: AtTupping | None
    case: str

    @property
    def steps(self) -> tuple[Point, ...]:
        """The even steps alone."""
        return tuple(p for p in self.points if p.is_step)

    @property
    def most_reached_g_per_day(self) -> float | None:
        """The largest gain with a ration; None where there is none. [g/day]"""
        return max((p.gain_g_per_day for p in self.points if p.is_reached), default=None)

    @property
    def knee(self) -> tuple[Point, Point] | None:
        """Where a step first costs far more than the one before: that step's two ends."""
        told = self.steps
        for before, here, after in zip(told, told[1:], told[2:], strict=False):
            a, b = here.more_gbp_per_head_day, after.more_gbp_per_head_day
            if a is not None and b is not None and a > 0 and b > _JUMP * a and before.is_reached:
                return here, after
        return None

    def frame(self) -> pd.DataFrame:
        """One row a gain."""
        import pandas as pd

        return pd.DataFrame([{"batch": self.batch.name, **vars(p)} for p in self.points])


@dataclass(frozen=True)
class FarmGains:
    """The curves of a farm, and the batches that have none with the reason."""

    farm: Farm
    curves: tuple[GainCurve, ...]
    left_out: tuple[tuple[str, str], ...]
    tables_digest: str
