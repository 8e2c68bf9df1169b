"""How far predictions are from what was seen: bias and error, and on which kind of diet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ration.trials.gain import Prediction
from ration.trials.records import Trial, middle

if TYPE_CHECKING:
    from ration.tables import Tables

LITTLE_SHARE = 0.10
BASES = (
    "hay or straw, little or no trough feed",
    "hay or straw with trough feed",
    "silage with trough feed",
)


@dataclass(frozen=True)
class Summary:
    """How far predictions are from what was seen.

    Attributes
    ----------
    standard : str
    n : int
        Treatments compared.
    bias_g_per_day : float or None
        Mean of predicted less seen: below zero, the standard expects too little. [g/day]
    mean_absolute_error_g_per_day : float or None
        [g/day]
    mean_beyond_band_g_per_day : float or None
        Mean distance of what was seen from the band of the prediction: what no assumption of ours
        explains. [g/day]
    within_band : int
        Treatments whose gain lies inside the band of the prediction.
    not_covered : int
        Treatments the standard says nothing about.
    """

    standard: str
    n: int
    bias_g_per_day: float | None
    mean_absolute_error_g_per_day: float | None
    mean_beyond_band_g_per_day: float | None
    within_band: int
    not_covered: int


def summary(told: Sequence[tuple[Trial, Prediction]]) -> tuple[Summary, ...]:
    """Bias and error of predictions, by standard, in the order the standards first stand.

    Only trials with one printed gain count: a range of common practice is no measurement.
    """
    found = []
    for standard in dict.fromkeys(p.standard for _, p in told):
        mine = [
            (p, t.gain_g_per_day)
            for t, p in told
            if p.standard == standard and t.gain_g_per_day is not None and not t.is_practice
        ]
        errors = [p.gain_g_per_day - middle(g) for p, g in mine if p.gain_g_per_day is not None]
        n = len(errors)
        found.append(
            Summary(
                standard=standard,
                n=n,
                bias_g_per_day=_mean(errors),
                mean_absolute_error_g_per_day=_mean([abs(e) for e in errors]),
                mean_beyond_band_g_per_day=_mean(
                    [abs(p.beyond_g_per_day(g)) for p, g in mine if p.is_covered]
                ),
                within_band=sum(p.reaches(g) for p, g in mine),
                not_covered=len(mine) - n,
            )
        )
    return tuple(found)


def _mean(values: Sequence[float]) -> float | None:
    return sum(values) / len(values) if values else None


def basis(trial: Trial, tables: Tables) -> str:
    """What the diet rests on, one of `BASES`: trough feed under a tenth of it is little."""
    if tables.feeds[trial.forage_id].group == "silage":
        return BASES[2]
    total, trough = trial.total_kg_dm_per_day, middle(trial.concentrate_kg_dm_per_day)
    return BASES[0] if not total or trough < LITTLE_SHARE * total else BASES[1]
