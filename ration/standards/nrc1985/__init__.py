"""Needs of sheep by NRC (1985) *Nutrient Requirements of Sheep*, sixth revised edition.

National Academy Press, Washington DC. Of its Table 1 thirteen rows were read in print (page 45:
grown ewes at maintenance, being flushed, and early in lamb up to 70 kg). All other rows, and the
equations, are remembered and unverified: `row_marks` tells which, and what is shown to a reader
must say so. Its replacement rows promise gains on 14 to 29 % less energy than CSIRO (2007) asks
for; hill sheep are better not planned on them.

Energy comes from the table (`energy_line`), protein from a sum of terms that gives back the rows
(`cp_need_line`), calcium and phosphorus from the table (`mineral_line`). Gain is everywhere that
of the animal's own body; what the womb puts on near lambing is in the constants.
"""

from __future__ import annotations

from ration.standards.nrc1985.energy import (
    BEYOND_THE_ROW,
    de_mcal_from_tdn,
    energy_line,
    gain_from_me_g_per_day,
    growing_me_mj_per_day,
    me_mcal_from_de,
)
from ration.standards.nrc1985.minerals import (
    ca_fit_g_per_day,
    mineral_line,
    p_fit_g_per_day,
    vitamin_a_iu_per_day,
    vitamin_e_iu_per_day,
)
from ration.standards.nrc1985.net_energy import (
    energy_of_empty_body_gain_mcal_per_kg,
    gain_energy_coefficient,
    ne_gain_mcal_per_day,
    ne_maintenance_mcal_per_day,
    net_energy_of_feed_mcal_per_kg_dm,
)
from ration.standards.nrc1985.protein import (
    cp_need_g_per_day,
    cp_need_line,
    gain_from_cp_g_per_day,
)
from ration.standards.nrc1985.rows import (
    COLUMNS,
    STAGES,
    STATES,
    TABLE,
    Row,
    dm_kg_per_day,
    row_marks,
    table_row_value,
    womb_gain_g_per_day,
)
from ration.standards.nrc1985.terms import (
    NET_PROTEIN_VALUE,
    dermal_protein_g_per_day,
    faecal_protein_g_per_day,
    gestation_protein_g_per_day,
    grown_gain_protein_g_per_kg,
    growth_protein_g_per_kg_gain,
    milk_protein_g_per_day,
    urinary_protein_g_per_day,
    usual_milk_kg_per_day,
    wool_protein_g_per_day,
)

__all__ = [
    "BEYOND_THE_ROW",
    "COLUMNS",
    "NET_PROTEIN_VALUE",
    "STAGES",
    "STATES",
    "TABLE",
    "Row",
    "ca_fit_g_per_day",
    "cp_need_g_per_day",
    "cp_need_line",
    "de_mcal_from_tdn",
    "dermal_protein_g_per_day",
    "dm_kg_per_day",
    "energy_line",
    "energy_of_empty_body_gain_mcal_per_kg",
    "faecal_protein_g_per_day",
    "gain_energy_coefficient",
    "gain_from_cp_g_per_day",
    "gain_from_me_g_per_day",
    "gestation_protein_g_per_day",
    "growing_me_mj_per_day",
    "grown_gain_protein_g_per_kg",
    "growth_protein_g_per_kg_gain",
    "me_mcal_from_de",
    "milk_protein_g_per_day",
    "mineral_line",
    "ne_gain_mcal_per_day",
    "ne_maintenance_mcal_per_day",
    "net_energy_of_feed_mcal_per_kg_dm",
    "p_fit_g_per_day",
    "row_marks",
    "table_row_value",
    "urinary_protein_g_per_day",
    "usual_milk_kg_per_day",
    "vitamin_a_iu_per_day",
    "vitamin_e_iu_per_day",
    "womb_gain_g_per_day",
    "wool_protein_g_per_day",
]
