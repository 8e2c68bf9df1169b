"""What sheep eat of long hay, alone and beside trough feed: published figures and practice.

Nobody can promise what a sheep will clear. The figures here are trials and rules that disagree;
they are shown beside the band in the farm file, never instead of it. Functions are pure: numbers
in, numbers out.

Letters: W live weight [kg], OMD digestibility of the organic matter [-], s substitution: hay left
in the rack for each kg of trough feed eaten, both as dry matter [kg/kg].
"""

from __future__ import annotations

from ration.standards.intake.observed import (
    EWE_STAGES,
    concentrate_at_most_energy_kg_per_day,
    digestible_protein_at_most_hay_g_per_day,
    ewe_intake_share_of_weight,
    fattening_lamb_rule_kg_dm_per_day,
    observed_barley_straw_intake_kg_dm_per_day,
    observed_hay_beside_concentrate_kg_dm_per_day,
    observed_hay_intake_kg_dm_per_day,
    observed_poor_hay_intake_kg_dm_per_day,
    observed_straw_intake_kg_dm_per_day,
)
from ration.standards.intake.side_by_side import Appetite, Prediction
from ration.standards.intake.substitution import (
    SOURCES_DISAGREE,
    SUBSTITUTION_BY_PRACTICE,
    SUBSTITUTION_POINTS,
    SubstitutionPoint,
    appetite_row,
    hay_beside_concentrate_kg_dm_per_day,
    substitution_share,
)

__all__ = [
    "EWE_STAGES",
    "SOURCES_DISAGREE",
    "SUBSTITUTION_BY_PRACTICE",
    "SUBSTITUTION_POINTS",
    "Appetite",
    "Prediction",
    "SubstitutionPoint",
    "appetite_row",
    "concentrate_at_most_energy_kg_per_day",
    "digestible_protein_at_most_hay_g_per_day",
    "ewe_intake_share_of_weight",
    "fattening_lamb_rule_kg_dm_per_day",
    "hay_beside_concentrate_kg_dm_per_day",
    "observed_barley_straw_intake_kg_dm_per_day",
    "observed_hay_beside_concentrate_kg_dm_per_day",
    "observed_hay_intake_kg_dm_per_day",
    "observed_poor_hay_intake_kg_dm_per_day",
    "observed_straw_intake_kg_dm_per_day",
    "substitution_share",
]
