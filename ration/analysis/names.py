"""The figures a laboratory may report and how sheets write their names.

To teach the reader another heading, add it here in the form of `ration.analysis.terms.tidy` (lower
case, no punctuation). A name matches whole or not at all.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Nutrient:
    """One figure that a laboratory may report.

    Parameters
    ----------
    id : str
        With the unit the program works in.
    words : str
        Plain name.
    kind : str
        mass [g/kg], trace [mg/kg], energy [MJ/kg], water [g/kg fresh], share, rate or plain.
    names : tuple of str
        How sheets write it, in the form of `tidy`.
    compound : str
        Set when the sheet gives a compound of the element ("P2O5").
    believable : tuple of float
        Range over all common feeds, used only to settle a missing unit.
    """

    id: str
    words: str
    kind: str
    names: tuple[str, ...]
    believable: tuple[float, float] = (0.0, 0.0)
    compound: str = ""


def _n(
    nutrient_id: str,
    words: str,
    kind: str,
    names: str,
    believable: tuple[float, float] = (0.0, 0.0),
    compound: str = "",
) -> Nutrient:
    split = tuple(n.strip() for n in names.split(","))
    return Nutrient(nutrient_id, words, kind, split, believable, compound)


# Believable ranges: common practice, no source; they settle "%" against "g/kg" and nothing else.
NUTRIENTS = (
    _n("dm_g_per_kg_fresh", "dry matter", "water",
       "dm, dry matter, total dry matter, corrected dry matter, corrected dm, dm corrected, "
       "dry matter corrected, volatile corrected dm, vcdm, tcdm", (95, 1000)),
    _n("oven_dm_g_per_kg_fresh", "oven dry matter", "water",
       "oven dry matter, oven dm, odm, dm oven, dry matter oven, uncorrected dm, "
       "uncorrected dry matter, dm uncorrected, dry matter uncorrected", (95, 1000)),
    _n("moisture_g_per_kg_fresh", "moisture", "water", "moisture, water, moisture content",
       (20, 900)),
    _n("me_mj_per_kg_dm", "energy", "energy",
       "me, metabolisable energy, metabolizable energy, metabolisable energy me, "
       "metabolizable energy me, m e, me metabolisable energy, est me, estimated me, "
       "predicted me, me predicted, me estimated, me estimate", (4, 17)),
    _n("ge_mj_per_kg_dm", "gross energy", "energy", "ge, gross energy", (13, 25)),
    _n("de_mj_per_kg_dm", "digestible energy", "energy", "de, digestible energy", (5, 20)),
    _n("fme_published_mj_per_kg_dm", "fermentable energy", "energy",
       "fme, fermentable me, fermentable metabolisable energy, fermentable energy", (3, 15)),
    _n("domd_g_per_kg_dm", "D-value", "mass",
       "d value, d, domd, digestible organic matter in dry matter, dom, "
       "digestible organic matter, d value domd, domd d value, dig om in dm, "
       "digestible organic matter domd", (350, 850)),
    _n("dmd_g_per_kg_dm", "dry-matter digestibility", "mass",
       "dmd, dry matter digestibility, ddm, digestible dry matter, ivdmd, "
       "dry matter digestibility dmd", (350, 900)),
    _n("omd_g_per_kg_om", "organic-matter digestibility", "mass",
       "omd, organic matter digestibility, ivomd, organic matter digestibility omd", (350, 920)),
    _n("cp_g_per_kg_dm", "protein", "mass",
       "cp, crude protein, protein, total protein, crude protein cp, protein crude, "
       "protein n x 6 25, protein nx6 25, protein n 6 25, crude protein n x 6 25, "
       "crude protein nx6 25, crude protein n 6 25", (15, 620)),
    _n("n_g_per_kg_dm", "nitrogen", "mass", "n, nitrogen, total n, total nitrogen", (3, 95)),
    _n("oil_g_per_kg_dm", "oil", "mass",
       "oil, ee, ether extract, oil ether extract, ether extract oil, crude fat, fat, crude oil, "
       "oil a, oil b, oils and fats, crude oils and fats, ahee, aee, acid ether extract",
       (4, 250)),
    _n("ndf_g_per_kg_dm", "NDF fibre", "mass",
       "ndf, neutral detergent fibre, neutral detergent fiber, andf, andfom, ndfom, "
       "neutral detergent fibre ndf", (80, 850)),
    _n("adf_g_per_kg_dm", "ADF fibre", "mass",
       "adf, acid detergent fibre, acid detergent fiber, adfom, acid detergent fibre adf",
       (60, 600)),
    _n("madf_g_per_kg_dm", "modified ADF fibre", "mass",
       "madf, mad fibre, mad fiber, modified acid detergent fibre, "
       "modified acid detergent fiber, modified adf, modified acid detergent fibre madf",
       (60, 600)),
    _n("crude_fibre_g_per_kg_dm", "crude fibre", "mass", "cf, crude fibre, crude fiber",
       (50, 450)),
    _n("nfe_g_per_kg_dm", "nitrogen-free extract", "mass",
       "nfe, nitrogen free extract, nitrogen free extractives", (100, 900)),
    _n("starch_g_per_kg_dm", "starch", "mass", "starch, total starch", (10, 750)),
    _n("sugar_g_per_kg_dm", "sugar", "mass",
       "sugar, sugars, wsc, water soluble carbohydrate, water soluble carbohydrates, "
       "sugars wsc, sugar wsc, total sugar, total sugars", (10, 800)),
    _n("ash_g_per_kg_dm", "ash", "mass", "ash, total ash, crude ash", (15, 140)),
    _n("ncgd_g_per_kg_dm", "NCGD", "mass", "ncgd, ncdg", (400, 1000)),
    _n("ncd_g_per_kg_dm", "neutral cellulase digestibility", "mass", "ncd", (400, 1000)),
    _n("tdn_g_per_kg_dm", "total digestible nutrients", "mass",
       "tdn, total digestible nutrients", (350, 950)),
    _n("n_a_share", "protein dissolved at once (a)", "share", "a, n a, degradability a, a share",
       (0.01, 1)),
    _n("n_b_share", "protein broken down slowly (b)", "share", "b, n b, degradability b, b share",
       (0.01, 1)),
    _n("n_c_per_h", "rate of breakdown (c)", "rate", "c, n c, degradability c", (0.005, 0.6)),
    _n("adin_g_n_per_kg_dm", "bound nitrogen (ADIN)", "mass",
       "adin, acid detergent insoluble nitrogen, acid detergent insoluble n, bound nitrogen"),
    _n("ca_g_per_kg_dm", "calcium", "mass", "ca, calcium, calcium ca, ca calcium", (0.05, 60)),
    _n("p_g_per_kg_dm", "phosphorus", "mass",
       "p, phosphorus, phosphorous, total p, phosphorus p, p phosphorus", (0.2, 40)),
    _n("mg_g_per_kg_dm", "magnesium", "mass", "mg, magnesium, magnesium mg, mg magnesium",
       (0.3, 30)),
    _n("na_g_per_kg_dm", "sodium", "mass", "na, sodium, sodium na, na sodium", (0.05, 60)),
    _n("k_g_per_kg_dm", "potassium", "mass", "k, potassium, potassium k, k potassium", (2, 60)),
    _n("s_g_per_kg_dm", "sulphur", "mass", "s, sulphur, sulfur, sulphur s, s sulphur", (0.5, 8)),
    _n("cl_g_per_kg_dm", "chloride", "mass", "cl, chloride, chlorine", (0.3, 40)),
    _n("p_g_per_kg_dm", "phosphorus", "mass", "p2o5, phosphate, phosphate p2o5",
       compound="P2O5"),
    _n("ca_g_per_kg_dm", "calcium", "mass", "cao, lime cao, calcium oxide", compound="CaO"),
    _n("mg_g_per_kg_dm", "magnesium", "mass", "mgo, magnesium oxide", compound="MgO"),
    _n("na_g_per_kg_dm", "sodium", "mass", "nacl, salt, salt nacl, sodium chloride",
       compound="NaCl"),
    _n("nitrate_mg_per_kg_dm", "nitrate", "trace", "nitrate, nitrates, no3, nitrate no3",
       (10, 30000)),
    _n("cu_mg_per_kg_dm", "copper", "trace", "cu, copper, copper cu, cu copper", (0.5, 60)),
    _n("mo_mg_per_kg_dm", "molybdenum", "trace", "mo, molybdenum, molybdenum mo", (0.05, 20)),
    _n("fe_mg_per_kg_dm", "iron", "trace", "fe, iron, iron fe", (15, 5000)),
    _n("zn_mg_per_kg_dm", "zinc", "trace", "zn, zinc, zinc zn", (5, 400)),
    _n("mn_mg_per_kg_dm", "manganese", "trace", "mn, manganese, manganese mn", (5, 800)),
    _n("se_mg_per_kg_dm", "selenium", "trace", "se, selenium, selenium se", (0.005, 5)),
    _n("co_mg_per_kg_dm", "cobalt", "trace", "co, cobalt, cobalt co", (0.01, 5)),
    _n("i_mg_per_kg_dm", "iodine", "trace", "i, iodine, iodine i", (0.02, 20)),
    _n("lactic_acid_g_per_kg_dm", "lactic acid", "mass", "lactic acid, lactate"),
    _n("acetic_acid_g_per_kg_dm", "acetic acid", "mass", "acetic acid, acetate"),
    _n("butyric_acid_g_per_kg_dm", "butyric acid", "mass", "butyric acid, butyrate"),
    _n("vfa_g_per_kg_dm", "volatile fatty acids", "mass",
       "vfa, vfas, volatile fatty acids, total vfa, total vfas"),
    _n("ammonia_n_share_of_n", "ammonia nitrogen", "share",
       "ammonia n, ammonia nitrogen, nh3 n, nh3n, ammonia n of total n, "
       "ammonia nitrogen of total nitrogen, nh3 n of total n, ammonia n total n", (0.005, 0.5)),
    _n("ph", "pH", "plain", "ph, ph value", (2, 10)),
)  # fmt: skip

BY_NAME: Mapping[str, Nutrient] = {name: n for n in NUTRIENTS for name in n.names}
BY_ID: Mapping[str, Nutrient] = {n.id: n for n in reversed(NUTRIENTS)}

HEADER_FIELDS: Mapping[str, str] = {
    name: field
    for field, names in {
        "sample": "sample, sample name, sample id, sample description, description, feed, "
        "feed name, material, sample type name, name of sample, identification",
        "lot": "lot, lot number, lot no, batch, batch number, stack",
        "laboratory": "laboratory, lab, laboratory name, analysed by",
        "sampled": "sampled, date sampled, sampled on, sampling date, sample date, "
        "date of sampling",
        "received": "received, date received, received on, sample received",
        "reported": "reported, date reported, reported on, report date, date of report, issued",
        "method": "method, technique, analysis method, method of analysis",
        "basis": "basis, results on, result basis, reported basis, basis of results",
    }.items()
    for name in (n.strip() for n in names.split(","))
}
COLUMN_WORDS: Mapping[str, str] = {
    name: kind
    for kind, names in {
        "field": "field, figure, determination, analysis, parameter, test, nutrient, item, "
        "analyte, component, determinand, constituent, name, measurement",
        "value": "value, result, results, figure found, amount, reading",
        "unit": "unit, units",
        "basis": "basis, on",
    }.items()
    for name in (n.strip() for n in names.split(","))
}
MISSING_WORDS = (
    "", "-", "--", "---", "n/a", "na", "n.a.", "nd", "n.d.", "n/d", "nt", "n/t", "none",
    "not tested", "not determined", "not analysed", "not requested", "not available", "null",
    "missing", "nil found", "tbc", "to follow", "~", "?",
)  # fmt: skip
