"""What appetite equations expect growing sheep to eat, beside what they ate."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

from ration import animals
from ration.standards import afrc1993, csiro2007, intake
from ration.trials.records import Trial, middle

if TYPE_CHECKING:
    from ration.tables import Tables

LONG_FEED = "long feed, ARC 1980"
GROUND_FEED = "ground feed, ARC 1980"
AUSTRALIAN = "forage alone, CSIRO 2007"
# Digestible dry matter from ME, as in the rows of the table: ash takes about 5 points of it.
ME_PER_DOMD_MJ_PER_G = 0.016
ASH_POINTS_SHARE = 0.05


@dataclass(frozen=True)
class Intake:
    """What an appetite equation expects of one treatment, forage and trough feed together.

    Attributes
    ----------
    equation : str
    kg_dm_per_day, low_kg_dm_per_day, high_kg_dm_per_day : float
        At the middle of what is assumed, and over its ends. [kg DM/day]
    seen_kg_dm_per_day : float
        Eaten. [kg DM/day]
    """

    equation: str
    kg_dm_per_day: float
    low_kg_dm_per_day: float
    high_kg_dm_per_day: float
    seen_kg_dm_per_day: float

    @property
    def error_share(self) -> float:
        """Expected over eaten, less one. [-]"""
        return self.kg_dm_per_day / self.seen_kg_dm_per_day - 1


def _me_of_trough(trial: Trial, tables: Tables) -> float:
    """ME of the trough feed as mixed. [MJ/kg DM]"""
    total = sum(kg for _, kg in trial.concentrate)
    if not total:
        return 0.0
    return sum(kg * tables.feeds[i]["me_mj_per_kg_dm"] for i, kg in trial.concentrate) / total


def _equations(trial: Trial) -> dict[str, Callable[[float, float], float]]:
    """Name of an equation to its value at a weight and a diet's energy. [kg DM/day]"""
    ge = afrc1993.GROSS_ENERGY_MJ_PER_KG_DM
    found: dict[str, Callable[[float, float], float]] = {
        LONG_FEED: lambda kg, md: afrc1993.coarse_intake_kg_dm_per_day(kg, md / ge),
        GROUND_FEED: lambda kg, md: afrc1993.fine_intake_kg_dm_per_day(kg, md / ge),
    }
    grown = trial.mature_weight_kg
    if trial.is_forage_alone and grown is not None:

        def by_digestibility(kg: float, md: float) -> float:
            digestible = md / (1000 * ME_PER_DOMD_MJ_PER_G) + ASH_POINTS_SHARE
            return csiro2007.intake_kg_dm_per_day(kg, grown, digestible)

        found[AUSTRALIAN] = by_digestibility
    return found


def intake_predictions(trial: Trial, tables: Tables) -> tuple[Intake, ...]:
    """What each appetite equation expects them to eat, beside what they ate.

    Parameters
    ----------
    trial : Trial
    tables : Tables
        For the energy of the trough feed.

    Returns
    -------
    tuple of Intake
        Empty where what they ate is not printed, or for grown sheep, which the equations do not
        cover. The diet's energy is that of the mixture eaten, so substitution is given here, not
        foreseen.
    """
    seen, weight, me = (
        trial.total_kg_dm_per_day,
        trial.weight_kg,
        trial.forage_me_mj_per_kg_dm,
    )
    if not trial.is_intake_seen or trial.sheep_class in animals.GROWN:
        return ()
    if seen is None or weight is None or me is None:
        return ()
    trough_share = middle(trial.concentrate_kg_dm_per_day) / seen
    trough_me = _me_of_trough(trial, tables)

    def md(of_forage: float) -> float:
        return of_forage * (1 - trough_share) + trough_me * trough_share

    found = []
    for name, equation in _equations(trial).items():
        ends = [equation(kg, md(m)) for kg, m in product(weight, me)]
        at_middle = equation(middle(weight), md(middle(me)))
        found.append(Intake(name, at_middle, min(ends), max(ends), seen))
    return tuple(found)


def substitution_kg_per_kg(trial: Trial, tables: Tables) -> float | None:
    """Forage that the equation for long feed makes them leave for each kg of trough feed. [kg/kg]

    The forage eaten beside the trough feed is that at which both together come to the equation's
    figure for the mixture. None for grown sheep, or where weight, forage or trough feed is not
    known.
    """
    weight, me = trial.weight_kg, trial.forage_me_mj_per_kg_dm
    trough = middle(trial.concentrate_kg_dm_per_day)
    if trial.sheep_class in animals.GROWN or weight is None or me is None or not trough:
        return None
    equation = _equations(trial)[LONG_FEED]
    kg, forage_me, trough_me = middle(weight), middle(me), _me_of_trough(trial, tables)

    def over(forage: float) -> float:
        md = (forage * forage_me + trough * trough_me) / (forage + trough)
        return forage + trough - equation(kg, md)

    alone = equation(kg, forage_me)
    low, high = 0.0, alone + 1.0
    if over(low) > 0:
        return alone / trough
    for _ in range(60):
        half = (low + high) / 2
        low, high = (low, half) if over(half) > 0 else (half, high)
    return (alone - low) / trough


def substitution_by_practice_kg_per_kg(trial: Trial) -> float | None:
    """The line the program feeds "hay to appetite" by, at the energy of this forage. [kg/kg]

    None where the forage's energy is not known. The line is common practice; it was drawn through
    the practice rows of the table, so it must meet those and may miss the trials.
    """
    me = trial.forage_me_mj_per_kg_dm
    return None if me is None else intake.substitution_share(middle(me))
