"""Published equations that fill the gaps in a laboratory sheet, and the conversions it needs.

Each takes and returns plain floats, in the units of the nutrient dictionary: amounts in g per kg
of dry matter (10 g/kg is 1 %), energy in MJ per kg of dry matter. A formula that was published in
per cent is turned to per cent inside. Outside the range its source covers a function raises
`OutOfRange`; it never extrapolates. Errors of prediction are those of the source: an equation
from fibre is a rough guide, a measured figure is better.

Marks: print (read in the source), restated, memory (remembered, not yet read in print).
"""

from __future__ import annotations

from ration.standards.feed_conversions import _choice, _within
from ration.units import MJ_PER_MCAL

MJ_DE_PER_KG_TDN = 4.409 * MJ_PER_MCAL
ME_OF_DE = {"british": 0.81, "american": 0.82}
D_FROM_DMD = {"australian": (0.95, -0.9), "older-british": (0.98, -4.8)}


def _parts(**parts_g_per_kg: float) -> None:
    """Each part 0 to 1000 g/kg and all together at most 1000 (2 % over is rounding)."""
    for name, value in parts_g_per_kg.items():
        _within(f"{name} [g/kg DM]", value, 0.0, 1000.0)
    _within("the parts together [g/kg DM]", sum(parts_g_per_kg.values()), 0.0, 1020.0)


# --- digestibility -----------------------------------------------------------------------------
def domd_from_omd_g_per_kg_dm(omd_g_per_kg_om: float, ash_g_per_kg_dm: float) -> float:
    """D-value x 10 (digestible organic matter) from organic-matter digestibility [g/kg DM].

    Parameters
    ----------
    omd_g_per_kg_om : float
        Digestibility of the organic matter. [g/kg OM], 0 to 1000.
    ash_g_per_kg_dm : float
        Ash. [g/kg DM], 0 to 500.

    Returns
    -------
    float
        OMD x (1000 - ash) / 1000. [g/kg DM] Raises `OutOfRange` outside the ranges.

    Source
    ------
    MAFF-1975, the definition. Mark: memory.
    """
    _within("organic-matter digestibility [g/kg OM]", omd_g_per_kg_om, 0.0, 1000.0)
    _within("ash [g/kg DM]", ash_g_per_kg_dm, 0.0, 500.0)
    return omd_g_per_kg_om * (1000.0 - ash_g_per_kg_dm) / 1000.0


def domd_from_dmd_g_per_kg_dm(dmd_g_per_kg_dm: float, line: str = "australian") -> float:
    """D-value x 10 from dry-matter digestibility of a forage [g/kg DM].

    Parameters
    ----------
    dmd_g_per_kg_dm : float
        Digestibility of the dry matter. [g/kg DM], 400 to 850.
    line : str
        "australian" 0.95 DMD % - 0.9, or "older-british" 0.98 DMD % - 4.8.

    Returns
    -------
    float
        [g/kg DM] Raises `OutOfRange` outside the range or for another line.

    Source
    ------
    CSIRO-2007 (australian) and MAFF-1975 (older-british), from memory. Mark: memory.
    """
    _within("dry-matter digestibility [g/kg DM]", dmd_g_per_kg_dm, 400.0, 850.0)
    slope, constant = _choice("line", line, D_FROM_DMD)
    return 10.0 * (slope * dmd_g_per_kg_dm / 10.0 + constant)


def dmd_from_adf_g_per_kg_dm(adf_g_per_kg_dm: float) -> float:
    """Digestible dry matter of legume and grass hay from acid detergent fibre [g/kg DM].

    Parameters
    ----------
    adf_g_per_kg_dm : float
        Acid detergent fibre (not modified). [g/kg DM], 200 to 550.

    Returns
    -------
    float
        DDM % = 88.9 - 0.779 ADF %. [g/kg DM] Raises `OutOfRange` outside the range.

    Source
    ------
    Foragetesting-A, foragetesting.org, appendix A. Mark: print.
    """
    _within("acid detergent fibre [g/kg DM]", adf_g_per_kg_dm, 200.0, 550.0)
    return 10.0 * (88.9 - 0.779 * adf_g_per_kg_dm / 10.0)


def omd_of_cereal_g_per_kg_om(crude_fibre_g_per_kg_dm: float, of_maize: bool = False) -> float:
    """Organic-matter digestibility of cereals and their by-products [g/kg OM].

    Parameters
    ----------
    crude_fibre_g_per_kg_dm : float
        Crude fibre. [g/kg DM], 0 to 250.
    of_maize : bool
        True for by-products of maize (+2.54), False for all others (-2.54).

    Returns
    -------
    float
        OMD % = 95.81 - 1.911 CF % + a. [g/kg OM] Raises `OutOfRange` outside the range.

    Source
    ------
    INRA-AFZ-2002, feedtables.com, methods for ruminants; n 124, residual sd 3.7 %. Mark: print.
    """
    _within("crude fibre [g/kg DM]", crude_fibre_g_per_kg_dm, 0.0, 250.0)
    a = 2.54 if of_maize else -2.54
    return 10.0 * (95.81 - 1.911 * crude_fibre_g_per_kg_dm / 10.0 + a)


# --- energy of forages -------------------------------------------------------------------------
def me_from_domd_mj_per_kg_dm(domd_g_per_kg_dm: float) -> float:
    """Metabolisable energy of a forage from its D-value: 0.16 x D % [MJ/kg DM].

    Parameters
    ----------
    domd_g_per_kg_dm : float
        Digestible organic matter in dry matter, D-value x 10. [g/kg DM], 450 to 750.

    Returns
    -------
    float
        0.016 x DOMD. [MJ/kg DM] Raises `OutOfRange` outside the range. A print check puts silage
        by near infrared about 0.4 MJ above this; AFRC (1993) writes 0.0157 for grass and hay.

    Source
    ------
    MAFF-1975, forages fed at maintenance. Mark: memory.
    """
    _within("digestible organic matter [g/kg DM]", domd_g_per_kg_dm, 450.0, 750.0)
    return 0.016 * domd_g_per_kg_dm


def me_from_dmd_mj_per_kg_dm(dmd_g_per_kg_dm: float) -> float:
    """Metabolisable energy of a forage from dry-matter digestibility [MJ/kg DM].

    Parameters
    ----------
    dmd_g_per_kg_dm : float
        Digestibility of the dry matter. [g/kg DM], 400 to 850.

    Returns
    -------
    float
        0.172 DMD % - 1.707. [MJ/kg DM] Raises `OutOfRange` outside the range.

    Source
    ------
    CSIRO-2007, forages. Mark: memory.
    """
    _within("dry-matter digestibility [g/kg DM]", dmd_g_per_kg_dm, 400.0, 850.0)
    return 0.172 * dmd_g_per_kg_dm / 10.0 - 1.707


def me_of_hay_from_madf_mj_per_kg_dm(madf_g_per_kg_dm: float) -> float:
    """Metabolisable energy of grass hay from modified acid detergent fibre [MJ/kg DM].

    Parameters
    ----------
    madf_g_per_kg_dm : float
        Modified acid detergent fibre. [g/kg DM], 250 to 480.

    Returns
    -------
    float
        15.86 - 0.0189 MADF. [MJ/kg DM] Raises `OutOfRange` outside the range.

    Source
    ------
    ADAS-MADF, advisory equation. Mark: memory, low certainty.
    """
    _within("modified acid detergent fibre [g/kg DM]", madf_g_per_kg_dm, 250.0, 480.0)
    return 15.86 - 0.0189 * madf_g_per_kg_dm


def me_of_silage_from_madf_mj_per_kg_dm(madf_g_per_kg_dm: float) -> float:
    """Metabolisable energy of grass silage from modified acid detergent fibre [MJ/kg DM].

    Parameters
    ----------
    madf_g_per_kg_dm : float
        Modified acid detergent fibre. [g/kg DM], 220 to 450.

    Returns
    -------
    float
        15.33 - 0.0152 MADF. [MJ/kg DM] Raises `OutOfRange` outside the range. Given up by British
        laboratories about 1990, because this fibre foretold silage digestibility poorly.

    Source
    ------
    ADAS-MADF, advisory equation. Mark: memory.
    """
    _within("modified acid detergent fibre [g/kg DM]", madf_g_per_kg_dm, 220.0, 450.0)
    return 15.33 - 0.0152 * madf_g_per_kg_dm


# --- energy of concentrates --------------------------------------------------------------------
def me_of_byproduct_mj_per_kg_dm(ncd_g_per_kg_dm: float, aee_g_per_kg_dm: float) -> float:
    """Metabolisable energy of an energy-rich by-product [MJ/kg DM].

    Parameters
    ----------
    ncd_g_per_kg_dm : float
        Neutral detergent amylase-cellulase digestibility. [g/kg DM], 0 to 1000.
    aee_g_per_kg_dm : float
        Acid-ether extract. [g/kg DM], 0 to 300.

    Returns
    -------
    float
        0.0142 NCD + 0.0262 AEE; residual sd 1.19. [MJ/kg DM] Raises `OutOfRange` when the answer
        lies outside the 8.2 to 13.2 MJ of the 29 feeds behind it.

    Source
    ------
    F-S41, 29 by-products (abstract). Mark: print.
    """
    _within("neutral cellulase digestibility [g/kg DM]", ncd_g_per_kg_dm, 0.0, 1000.0)
    _within("acid-ether extract [g/kg DM]", aee_g_per_kg_dm, 0.0, 300.0)
    me = 0.0142 * ncd_g_per_kg_dm + 0.0262 * aee_g_per_kg_dm
    _within("metabolisable energy of a by-product [MJ/kg DM]", me, 8.2, 13.2)
    return me


def me_of_compound_mj_per_kg_dm(ncgd_g_per_kg_dm: float, oil_g_per_kg_dm: float) -> float:
    """Metabolisable energy of a compound feed, equation E3 [MJ/kg DM].

    Parameters
    ----------
    ncgd_g_per_kg_dm : float
        Neutral detergent cellulase plus gamanase digestibility. [g/kg DM], 400 to 1000.
    oil_g_per_kg_dm : float
        Oil (acid ether extract). [g/kg DM], 0 to 150.

    Returns
    -------
    float
        0.014 NCGD + 0.025 oil. [MJ/kg DM] Raises `OutOfRange` outside the ranges.

    Source
    ------
    Thomas-1988, used for British compound declarations. Mark: memory.
    """
    _within("NCGD [g/kg DM]", ncgd_g_per_kg_dm, 400.0, 1000.0)
    _within("oil [g/kg DM]", oil_g_per_kg_dm, 0.0, 150.0)
    return 0.014 * ncgd_g_per_kg_dm + 0.025 * oil_g_per_kg_dm


def me_of_label_mj_per_kg_dm(
    cp_g_per_kg_dm: float,
    oil_g_per_kg_dm: float,
    crude_fibre_g_per_kg_dm: float,
    ash_g_per_kg_dm: float,
) -> float:
    """Metabolisable energy of a compound from its label, equation U1 [MJ/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm, oil_g_per_kg_dm, crude_fibre_g_per_kg_dm, ash_g_per_kg_dm : float
        The label's four figures, on dry matter. [g/kg DM], 0 to 500, 150, 300, 200.

    Returns
    -------
    float
        11.78 + 0.0654 CP + 0.0665 EE^2 - 0.0414 EE x CF - 0.118 ash (all % of DM). [MJ/kg DM]
        Raises `OutOfRange` outside the ranges.

    Source
    ------
    Alderman-1985. Mark: memory.
    """
    _within("protein [g/kg DM]", cp_g_per_kg_dm, 0.0, 500.0)
    _within("oil [g/kg DM]", oil_g_per_kg_dm, 0.0, 150.0)
    _within("crude fibre [g/kg DM]", crude_fibre_g_per_kg_dm, 0.0, 300.0)
    _within("ash [g/kg DM]", ash_g_per_kg_dm, 0.0, 200.0)
    cp, ee = cp_g_per_kg_dm / 10.0, oil_g_per_kg_dm / 10.0
    cf, ash = crude_fibre_g_per_kg_dm / 10.0, ash_g_per_kg_dm / 10.0
    return 11.78 + 0.0654 * cp + 0.0665 * ee**2 - 0.0414 * ee * cf - 0.118 * ash


def me_from_proximate_mj_per_kg_dm(
    cp_g_per_kg_dm: float,
    oil_g_per_kg_dm: float,
    crude_fibre_g_per_kg_dm: float,
    nfe_g_per_kg_dm: float,
) -> float:
    """Metabolisable energy from total proximate parts; not for silage or urea [MJ/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm, oil_g_per_kg_dm, crude_fibre_g_per_kg_dm, nfe_g_per_kg_dm : float
        Protein, oil, crude fibre, nitrogen-free extract. [g/kg DM], together at most 1000.

    Returns
    -------
    float
        0.012 CP + 0.031 EE + 0.005 CF + 0.014 NFE. [MJ/kg DM] Raises `OutOfRange`.

    Source
    ------
    MAFF-1975, compounds and straights. Mark: memory.
    """
    cp, ee, cf, nfe = cp_g_per_kg_dm, oil_g_per_kg_dm, crude_fibre_g_per_kg_dm, nfe_g_per_kg_dm
    _parts(protein=cp, oil=ee, fibre=cf, nfe=nfe)
    return 0.012 * cp + 0.031 * ee + 0.005 * cf + 0.014 * nfe


def me_from_digestible_mj_per_kg_dm(
    dcp_g_per_kg_dm: float,
    digestible_oil_g_per_kg_dm: float,
    digestible_fibre_g_per_kg_dm: float,
    digestible_nfe_g_per_kg_dm: float,
) -> float:
    """Metabolisable energy from digestible proximate parts [MJ/kg DM].

    Parameters
    ----------
    dcp_g_per_kg_dm, digestible_oil_g_per_kg_dm, digestible_fibre_g_per_kg_dm : float
        Digestible protein, oil and crude fibre. [g/kg DM], with NFE at most 1000.
    digestible_nfe_g_per_kg_dm : float
        Digestible nitrogen-free extract. [g/kg DM]

    Returns
    -------
    float
        0.0152 DCP + 0.0342 DEE + 0.0128 DCF + 0.0159 DNFE. [MJ/kg DM] Raises `OutOfRange`.

    Source
    ------
    MAFF-1975. Mark: memory.
    """
    cp, ee = dcp_g_per_kg_dm, digestible_oil_g_per_kg_dm
    cf, nfe = digestible_fibre_g_per_kg_dm, digestible_nfe_g_per_kg_dm
    _parts(protein=cp, oil=ee, fibre=cf, nfe=nfe)
    return 0.0152 * cp + 0.0342 * ee + 0.0128 * cf + 0.0159 * nfe


def ge_from_proximate_mj_per_kg_dm(
    cp_g_per_kg_dm: float,
    oil_g_per_kg_dm: float,
    crude_fibre_g_per_kg_dm: float,
    nfe_g_per_kg_dm: float,
) -> float:
    """Gross energy from total proximate parts [MJ/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm, oil_g_per_kg_dm, crude_fibre_g_per_kg_dm, nfe_g_per_kg_dm : float
        Protein, oil, crude fibre, nitrogen-free extract. [g/kg DM], together at most 1000.

    Returns
    -------
    float
        0.0226 CP + 0.0407 EE + 0.0192 CF + 0.0177 NFE. [MJ/kg DM] Raises `OutOfRange`.

    Source
    ------
    MAFF-1975. Mark: memory.
    """
    cp, ee, cf, nfe = cp_g_per_kg_dm, oil_g_per_kg_dm, crude_fibre_g_per_kg_dm, nfe_g_per_kg_dm
    _parts(protein=cp, oil=ee, fibre=cf, nfe=nfe)
    return 0.0226 * cp + 0.0407 * ee + 0.0192 * cf + 0.0177 * nfe


# --- other energy systems ----------------------------------------------------------------------
def me_from_de_mj_per_kg_dm(de_mj_per_kg_dm: float, rule: str = "british") -> float:
    """Metabolisable from digestible energy, sheep and cattle near maintenance [MJ/kg DM].

    Parameters
    ----------
    de_mj_per_kg_dm : float
        Digestible energy. [MJ/kg DM], 0 to 22.
    rule : str
        "british" 0.81 (print) or "american" 0.82 (memory).

    Returns
    -------
    float
        [MJ/kg DM] Raises `OutOfRange` outside the range or for another rule.

    Source
    ------
    F-S30 uses 0.81. Mark: print; NRC-1985 0.82. Mark: memory.
    """
    _within("digestible energy [MJ/kg DM]", de_mj_per_kg_dm, 0.0, 22.0)
    return _choice("rule", rule, ME_OF_DE) * de_mj_per_kg_dm


def me_from_tdn_mj_per_kg_dm(tdn_g_per_kg_dm: float) -> float:
    """Metabolisable energy from total digestible nutrients: 15.1 MJ per kg TDN [MJ/kg DM].

    Parameters
    ----------
    tdn_g_per_kg_dm : float
        Total digestible nutrients. [g/kg DM], 0 to 1000.

    Returns
    -------
    float
        TDN x 4.409 Mcal x 4.184 x 0.82. [MJ/kg DM] Raises `OutOfRange` outside the range.

    Source
    ------
    NRC-1985. Mark: memory.
    """
    _within("total digestible nutrients [g/kg DM]", tdn_g_per_kg_dm, 0.0, 1000.0)
    return tdn_g_per_kg_dm / 1000.0 * MJ_DE_PER_KG_TDN * ME_OF_DE["american"]


def tdn_from_proximate_g_per_kg_dm(
    cp_g_per_kg_dm: float,
    oil_g_per_kg_dm: float,
    crude_fibre_g_per_kg_dm: float,
    nfe_g_per_kg_dm: float,
) -> float:
    """Total digestible nutrients from total proximate parts, a teaching rule [g/kg DM].

    Parameters
    ----------
    cp_g_per_kg_dm, oil_g_per_kg_dm, crude_fibre_g_per_kg_dm, nfe_g_per_kg_dm : float
        Protein, oil, crude fibre, nitrogen-free extract. [g/kg DM], together at most 1000.

    Returns
    -------
    float
        0.75 CP + 2.25 x 0.90 EE + 0.50 CF + 0.90 NFE. [g/kg DM] Raises `OutOfRange`.

    Source
    ------
    Feed-sampling-slides, teaching slides on feed sampling. Mark: print.
    """
    cp, ee, cf, nfe = cp_g_per_kg_dm, oil_g_per_kg_dm, crude_fibre_g_per_kg_dm, nfe_g_per_kg_dm
    _parts(protein=cp, oil=ee, fibre=cf, nfe=nfe)
    return 0.75 * cp + 2.25 * 0.90 * ee + 0.50 * cf + 0.90 * nfe
