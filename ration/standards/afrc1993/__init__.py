"""Energy and metabolisable protein of growing sheep: AFRC (1993).

AFRC (1993) *Energy and Protein Requirements of Ruminants*, CAB International, Wallingford
(reprinted with corrections 1995). No equation here was read in the book itself: each is either
restated by a later work that names it, or remembered; the mark says which. Results carry no
safety margin. Functions take floats, or numpy arrays for the diet's quality and feeding level.

Letters: q metabolisability of the whole diet (ME/GE), W live weight [kg], L feeding level
(ME eaten over maintenance ME), r rumen outflow [/h].
"""

from __future__ import annotations

from ration.standards.afrc1993.energy import (
    ACTIVITY_MJ_PER_KG,
    GAIN_ENERGY,
    activity_mj_per_day,
    coarse_intake_kg_dm_per_day,
    efficiency_growth,
    efficiency_maintenance,
    energy_of_gain_mj_per_kg,
    fasting_metabolism_mj_per_day,
    fine_intake_kg_dm_per_day,
    gain_from_me_g_per_day,
    growth_me_mj_per_day,
    maintenance_me_mj_per_day,
    most_gain_g_per_day,
)
from ration.standards.afrc1993.ground import (
    GROSS_ENERGY_MJ_PER_KG_DM,
    LEVEL,
    QUALITY,
    QUALITY_TRUSTED,
    SAFETY_MARGIN,
)
from ration.standards.afrc1993.protein import (
    GAIN_PROTEIN,
    dup_g_per_kg_dm,
    erdp_g_per_kg_dm,
    fermentable_me_mj_per_kg_dm,
    gain_from_mp_g_per_day,
    microbial_yield_g_per_mj,
    mp_need_g_per_day,
    mp_supply_g_per_day,
    net_protein_of_gain_g_per_kg,
    outflow_per_h,
    quickly_degraded_g_per_kg_dm,
    slowly_degraded_g_per_kg_dm,
)

__all__ = [
    "ACTIVITY_MJ_PER_KG",
    "GAIN_ENERGY",
    "GAIN_PROTEIN",
    "GROSS_ENERGY_MJ_PER_KG_DM",
    "LEVEL",
    "QUALITY",
    "QUALITY_TRUSTED",
    "SAFETY_MARGIN",
    "activity_mj_per_day",
    "coarse_intake_kg_dm_per_day",
    "dup_g_per_kg_dm",
    "efficiency_growth",
    "efficiency_maintenance",
    "energy_of_gain_mj_per_kg",
    "erdp_g_per_kg_dm",
    "fasting_metabolism_mj_per_day",
    "fermentable_me_mj_per_kg_dm",
    "fine_intake_kg_dm_per_day",
    "gain_from_me_g_per_day",
    "gain_from_mp_g_per_day",
    "growth_me_mj_per_day",
    "maintenance_me_mj_per_day",
    "microbial_yield_g_per_mj",
    "most_gain_g_per_day",
    "mp_need_g_per_day",
    "mp_supply_g_per_day",
    "net_protein_of_gain_g_per_kg",
    "outflow_per_h",
    "quickly_degraded_g_per_kg_dm",
    "slowly_degraded_g_per_kg_dm",
]
