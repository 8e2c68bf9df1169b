"""Energy, protein and appetite of sheep: SCA (1990), revised as CSIRO (2007).

Standing Committee on Agriculture (1990) *Feeding Standards for Australian Livestock: Ruminants*;
Freer, Dove and Nolan (2007) *Nutrient Requirements of Domesticated Ruminants*, CSIRO. Neither
book was read: energy is restated by later works that name them, protein and appetite are
remembered; each mark says which. Results carry no safety margin and no cold. Functions take
floats, or numpy arrays for the diet's M/D, the gain and the feeding level.

Letters: M/D ME of the whole diet [MJ/kg DM], W live weight [kg], SRW grown weight in condition 3,
Z = W/SRW, R rate term of gain, D digestibility of dry matter (share).
"""

from __future__ import annotations

from ration.standards.csiro2007.energy_use import (
    EGRAZE_COEFFICIENT,
    PLACES,
    basal_me_mj_per_day,
    distance_net_mj_per_day,
    efficiency_gain,
    efficiency_maintenance,
    efficiency_maintenance_by_q,
    efficiency_milk,
    egraze_net_mj_per_day,
    grazing_me_mj_per_day,
    maintenance_me_mj_per_day,
    place_net_mj_per_day,
    walking_net_mj_per_day,
)
from ration.standards.csiro2007.ground import (
    GAIN_G_PER_DAY,
    GROSS_ENERGY_MJ_PER_KG_DM,
    MD,
    MD_TRUSTED,
    SRW_KG,
    WEIGHT_KG,
)
from ration.standards.csiro2007.growth import (
    energy_of_gain_mj_per_kg,
    fat_of_gain_g_per_kg,
    flat_protein_of_gain_g_per_kg,
    gain_me_mj_per_day,
    protein_of_gain_g_per_kg,
    protein_of_liveweight_gain_g_per_kg,
    rate_term,
    relative_size,
)
from ration.standards.csiro2007.guides import (
    crude_protein_floor_g_per_kg_dm,
    feed_into_lamb_maintenance_me_mj_per_day,
)
from ration.standards.csiro2007.intake import (
    intake_kg_dm_per_day,
    potential_intake_kg_dm_per_day,
    relative_intake_quality,
)
from ration.standards.csiro2007.need import (
    gain_from_me_g_per_day,
    me_need_mj_per_day,
)
from ration.standards.csiro2007.production import (
    CLEAN_SHARE_OF_GREASY,
    MILK_MJ_PER_KG,
    clean_wool_g_per_day,
    conceptus_energy_mj,
    milk_energy_mj_per_kg,
    milk_me_mj_per_day,
    pregnancy_me_mj_per_day,
    wool_me_mj_per_day,
)
from ration.standards.csiro2007.protein import (
    CLEAN_WOOL_G_PER_DAY,
    EFFICIENCY,
    EFFICIENCY_OF_WOOL,
    FAECAL_G_PER_KG_DMI,
    LEVEL_ABOVE_MAINTENANCE,
    MICROBIAL_DIGESTIBLE_SHARE,
    UNDEGRADED_DIGESTIBLE_SHARE,
    dpls_supply_g_per_day,
    endogenous_urinary_protein_g_per_day,
    gain_from_dpls_g_per_day,
    microbial_protein_g_per_mj,
    protein_need_line,
    rumen_degraded_g_per_kg_dm,
    undegraded_digestible_g_per_kg_dm,
)

__all__ = [
    "CLEAN_SHARE_OF_GREASY",
    "CLEAN_WOOL_G_PER_DAY",
    "EFFICIENCY",
    "EFFICIENCY_OF_WOOL",
    "EGRAZE_COEFFICIENT",
    "FAECAL_G_PER_KG_DMI",
    "GAIN_G_PER_DAY",
    "GROSS_ENERGY_MJ_PER_KG_DM",
    "LEVEL_ABOVE_MAINTENANCE",
    "MD",
    "MD_TRUSTED",
    "MICROBIAL_DIGESTIBLE_SHARE",
    "MILK_MJ_PER_KG",
    "PLACES",
    "SRW_KG",
    "UNDEGRADED_DIGESTIBLE_SHARE",
    "WEIGHT_KG",
    "basal_me_mj_per_day",
    "clean_wool_g_per_day",
    "conceptus_energy_mj",
    "crude_protein_floor_g_per_kg_dm",
    "distance_net_mj_per_day",
    "dpls_supply_g_per_day",
    "efficiency_gain",
    "efficiency_maintenance",
    "efficiency_maintenance_by_q",
    "efficiency_milk",
    "egraze_net_mj_per_day",
    "endogenous_urinary_protein_g_per_day",
    "energy_of_gain_mj_per_kg",
    "fat_of_gain_g_per_kg",
    "feed_into_lamb_maintenance_me_mj_per_day",
    "flat_protein_of_gain_g_per_kg",
    "gain_from_dpls_g_per_day",
    "gain_from_me_g_per_day",
    "gain_me_mj_per_day",
    "grazing_me_mj_per_day",
    "intake_kg_dm_per_day",
    "maintenance_me_mj_per_day",
    "me_need_mj_per_day",
    "microbial_protein_g_per_mj",
    "milk_energy_mj_per_kg",
    "milk_me_mj_per_day",
    "place_net_mj_per_day",
    "potential_intake_kg_dm_per_day",
    "pregnancy_me_mj_per_day",
    "protein_need_line",
    "protein_of_gain_g_per_kg",
    "protein_of_liveweight_gain_g_per_kg",
    "rate_term",
    "relative_intake_quality",
    "relative_size",
    "rumen_degraded_g_per_kg_dm",
    "undegraded_digestible_g_per_kg_dm",
    "walking_net_mj_per_day",
    "wool_me_mj_per_day",
]
