"""Every published prediction of intake for one sheep and its forage, side by side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from ration.standards import afrc1993, csiro2007
from ration.standards.intake.observed import (
    fattening_lamb_rule_kg_dm_per_day,
    observed_barley_straw_intake_kg_dm_per_day,
    observed_hay_intake_kg_dm_per_day,
    observed_poor_hay_intake_kg_dm_per_day,
    observed_straw_intake_kg_dm_per_day,
)


class Prediction(NamedTuple):
    """What one published way says they would clear.

    Attributes
    ----------
    name : str
        Plain words.
    kg_dm_per_day : float
        [kg DM/day]
    source, mark : str
        Key of the table of sources, and how it is known.
    """

    name: str
    kg_dm_per_day: float
    source: str
    mark: str


@dataclass(frozen=True)
class Appetite:
    """One sheep and its forage, as the intake equations ask for them.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg]
    q : float or None
        ME over gross energy of the forage. [-]
    digestibility_share : float or None
        Digestibility of its dry matter. [-]
    srw_kg : float or None
        Grown weight of the breed, ewes in middling condition. [kg]
    """

    weight_kg: float
    q: float | None = None
    digestibility_share: float | None = None
    srw_kg: float | None = None

    def predictions(self) -> tuple[Prediction, ...]:
        """Every published prediction that its figures allow, to be shown beside the user's band."""
        w = self.weight_kg
        found = [
            Prediction(
                "average hay alone, as hill ewe lambs ate it",
                observed_hay_intake_kg_dm_per_day(w),
                "P-S83",
                "print",
            ),
            Prediction(
                "poorer hay alone, same breed",
                observed_poor_hay_intake_kg_dm_per_day(w),
                "P-S130",
                "derived",
            ),
            Prediction(
                "straw alone, same breed", observed_straw_intake_kg_dm_per_day(w), "P-S83", "print"
            ),
            Prediction(
                "barley straw alone, other lambs",
                observed_barley_straw_intake_kg_dm_per_day(w),
                "P-S131",
                "print",
            ),
        ]
        if self.q is not None:
            found.append(
                Prediction(
                    "long forage, an old British equation",
                    max(0.0, afrc1993.coarse_intake_kg_dm_per_day(w, self.q)),
                    "AFRC-1993",
                    "memory",
                )
            )
        found += self._csiro()
        found.append(
            Prediction(
                "fattening lambs on good feed, 4 % of weight",
                fattening_lamb_rule_kg_dm_per_day(w),
                "A-S9",
                "restated",
            )
        )
        return tuple(found)

    def _csiro(self) -> list[Prediction]:
        if self.digestibility_share is None or self.srw_kg is None:
            return []
        eaten = csiro2007.intake_kg_dm_per_day(
            self.weight_kg, self.srw_kg, self.digestibility_share
        )
        return [Prediction("grass forage, the Australian equations", eaten, "CSIRO-2007", "memory")]
