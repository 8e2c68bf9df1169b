"""What is odd about a laboratory sheet, in words a farmer can act on.

`checks` compares a sheet with itself, with the ranges of the feed tables and with what is usual.
A finding is `refuse` (a slip that would spoil the ration: put it right, or accept it by name),
`warn` (look again) or `note`. Usual values of hay and silage: F-S26 (ADAS, restated). The other
thresholds are common practice, no source, unless a line says otherwise.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

from ration.analysis.names import BY_ID
from ration.analysis.records import SHOWN_UNITS, Reading, Sheet, house_figures, in_house_unit
from ration.analysis.terms import candidate_units, factor
from ration.errors import InputError
from ration.standards.feed_equations import (
    domd_from_dmd_g_per_kg_dm,
    domd_from_omd_g_per_kg_dm,
    me_from_domd_mj_per_kg_dm,
    me_of_hay_from_madf_mj_per_kg_dm,
    me_of_silage_from_madf_mj_per_kg_dm,
)

ME_GAP_MJ = 0.8
FORAGES = ("hay", "silage", "straw", "grazing")
LABELLED = ("compound", "cereal", "byproduct", "protein")
DRY_FEEDS = ("hay", "straw", "cereal", "compound", "protein")
IN_MICROGRAMS = ("se_mg_per_kg_dm", "co_mg_per_kg_dm", "i_mg_per_kg_dm", "mo_mg_per_kg_dm")
SOIL_ASH_G_PER_KG = 100.0
SUM_PARTS = ("cp_g_per_kg_dm", "oil_g_per_kg_dm", "ash_g_per_kg_dm", "ndf_g_per_kg_dm",
             "starch_g_per_kg_dm", "sugar_g_per_kg_dm")  # fmt: skip
SUM_DOUBTED_G_PER_KG, SUM_REFUSED_G_PER_KG = 1030.0, 1100.0
USUAL: Mapping[str, Mapping[str, tuple[float, float]]] = {
    "hay": {"dm_g_per_kg_fresh": (840, 900), "domd_g_per_kg_dm": (580, 640),
            "me_mj_per_kg_dm": (9.0, 10.5), "cp_g_per_kg_dm": (80, 140)},
    "silage": {"dm_g_per_kg_fresh": (250, 400), "domd_g_per_kg_dm": (650, 700),
               "me_mj_per_kg_dm": (10.0, 11.5), "cp_g_per_kg_dm": (120, 180)},
}  # fmt: skip
LEVELS = ("refuse", "warn", "note")
Figures = Mapping[str, tuple[float, Reading]]


class Ranges(Protocol):
    """The part of the feed tables that is wanted here."""

    def range_of(self, nutrient: str, group: str) -> tuple[float, float]:
        """Lowest and highest plausible value."""
        ...


@dataclass(frozen=True)
class Finding:
    """One remark on a sheet.

    Parameters
    ----------
    level : str
        refuse, warn or note.
    words : str
        One sentence or two.
    nutrient : str
        Id of the figure it is about, or "".
    place : str
        File and line.
    """

    level: str
    words: str
    nutrient: str = ""
    place: str = ""


def checks(
    sheet: Sheet, group: str, tables: Ranges | None = None, *, accept: Collection[str] = ()
) -> tuple[Finding, ...]:
    """Everything odd about a sheet, the gravest first.

    Parameters
    ----------
    sheet : Sheet
        As read.
    group : str
        Group of the feed: hay, silage, straw, cereal ...
    tables : Tables or None
        Feed tables, for the plausible ranges; None uses those of all feeds together.
    accept : collection of str
        Nutrient ids whose odd figure the user has looked at and stands by: refusals become
        warnings, except of what cannot be.
    """
    figures = house_figures(sheet)
    found: list[Finding] = []
    for check in (_water, _fresh, _digestibility, _energy, _silage_equation, _parts,
                  _twice, _usual, _silage, _label, _as_read):  # fmt: skip
        found += check(sheet, group, figures)
    found += _ranges(sheet, group, figures, tables)
    never = list(_impossible(sheet, group, figures))
    softened = never + [
        Finding("warn", f"{f.words} (accepted)", f.nutrient, f.place)
        if f.level == "refuse" and f.nutrient in accept else f
        for f in found
    ]  # fmt: skip
    return tuple(sorted(softened, key=lambda f: LEVELS.index(f.level)))


def shown_figure(nutrient: str, value: float) -> str:
    """A figure as a farmer reads it: protein 6.9 %, energy 8.1 MJ, calcium 5.2 g/kg.

    Parameters
    ----------
    nutrient : str
        Nutrient id.
    value : float
        In the unit of the id.
    """
    kind = BY_ID[nutrient].kind
    if kind == "energy":
        return f"{value:.1f} MJ"
    if kind == "trace":
        return f"{value:.3g} mg/kg"
    if kind == "share":
        return f"{100 * value:.3g} %"
    if kind == "water" or (kind == "mass" and nutrient not in _IN_GRAMS):
        return f"{value / 10:.1f} %".replace(".0 %", " %")
    return f"{value:.3g} g/kg" if kind == "mass" else f"{value:.3g}"


_IN_GRAMS = ("ca_g_per_kg_dm", "p_g_per_kg_dm", "mg_g_per_kg_dm", "na_g_per_kg_dm",
             "k_g_per_kg_dm", "s_g_per_kg_dm", "cl_g_per_kg_dm", "n_g_per_kg_dm",
             "adin_g_n_per_kg_dm")  # fmt: skip


def _finding(sheet: Sheet, level: str, words: str, reading: Reading | None = None) -> Finding:
    if not words.startswith("pH"):
        words = words[:1].upper() + words[1:]
    if reading is None:
        return Finding(level, words, "", sheet.place)
    return Finding(level, words, reading.nutrient, sheet.where(reading))


def _impossible(sheet: Sheet, group: str, figures: Figures) -> Iterator[Finding]:
    limits = {"mass": 1000.0, "water": 1000.0, "energy": 40.0, "share": 1.0, "trace": 1e6,
              "rate": 5.0, "plain": 14.0}  # fmt: skip
    for nutrient, (value, reading) in figures.items():
        most = limits[BY_ID[nutrient].kind]
        if value > most and not (
            group == "npn" and nutrient in ("cp_g_per_kg_dm", "n_g_per_kg_dm")
        ):
            slip = _slip(reading, 0.0, BY_ID[nutrient].believable[1], None)
            yield _finding(sheet, "refuse", f"{reading.words} cannot be.{slip}", reading)
    for reading in sheet.readings:
        if reading.is_used and reading.nutrient not in figures:
            why = "it stands on the fresh basis and the sheet gives no dry matter. Add dry matter"
            yield _finding(sheet, "refuse", f"{reading.words} cannot be used: {why}.", reading)


def _slip(reading: Reading, lo: float, hi: float, dm_g_per_kg: float | None) -> str:
    """Ask "Did you mean ...?" when another unit brings the figure into range; else ""."""
    nutrient = BY_ID[reading.nutrient]
    likely = (*candidate_units(nutrient), "mg/kg", "g/kg", "%")
    if nutrient.id in IN_MICROGRAMS:
        likely = (*likely, "ug/kg")
    units = [u for u in likely if u != reading.unit]
    for unit in dict.fromkeys(units):
        turn, now = factor(nutrient, unit), factor(nutrient, reading.unit)
        if turn is None or not now or not reading.value:
            continue
        house = in_house_unit(reading, dm_g_per_kg)
        if house is not None and lo <= house * turn / now <= hi:
            return f" Did you mean {reading.value:g} {SHOWN_UNITS.get(unit, unit)}?"
    return ""


def _ranges(sheet: Sheet, group: str, figures: Figures, tables: Ranges | None) -> Iterator[Finding]:
    dm = figures["dm_g_per_kg_fresh"][0] if "dm_g_per_kg_fresh" in figures else None
    for nutrient, (value, reading) in figures.items():
        lo, hi = _range(nutrient, group, tables)
        if lo <= value <= hi:
            continue
        if nutrient in ("dm_g_per_kg_fresh", "moisture_g_per_kg_fresh") and group in DRY_FEEDS:
            continue  # `_water` has more to say
        slip = _slip(reading, lo, hi, dm)
        usual = f"{shown_figure(nutrient, lo)} to {shown_figure(nutrient, hi)} is plausible"
        words = f"{reading.words} is out of range: {usual} for {group or 'a feed'}.{slip}"
        yield _finding(sheet, "refuse" if slip else "warn", words, reading)


def _range(nutrient: str, group: str, tables: Ranges | None) -> tuple[float, float]:
    """The tables' range, or that of all feeds when there are none or no such row."""
    if tables is not None:
        try:
            return tables.range_of(nutrient, group)
        except InputError:
            pass
    lo, hi = BY_ID[nutrient].believable
    is_common_feed = hi > 0 and group not in ("mineral", "npn")
    return (lo, hi) if is_common_feed else (0.0, float("inf"))


def _water(sheet: Sheet, group: str, figures: Figures) -> Iterator[Finding]:
    dm, water = (figures.get(n) for n in ("dm_g_per_kg_fresh", "moisture_g_per_kg_fresh"))
    if dm and group in DRY_FEEDS and dm[0] < 300:
        other = shown_figure("dm_g_per_kg_fresh", 1000 - dm[0])
        words = f"{dm[1].words} for {group}: is this the moisture? Then dry matter is {other}."
        yield _finding(sheet, "refuse", words, dm[1])
    elif dm and group in DRY_FEEDS and not 700 <= dm[0] <= 980:
        yield _finding(sheet, "warn", f"{dm[1].words} is unusual for {group}.", dm[1])
    if water and group in DRY_FEEDS and water[0] > 500:
        words = f"{water[1].words} for {group}: is this the dry matter?"
        yield _finding(sheet, "refuse", words, water[1])
    if dm and water and abs(dm[0] + water[0] - 1000) > 5:
        words = f"{dm[1].words} and {water[1].words} do not add to 100 %."
        yield _finding(sheet, "refuse", words, water[1])


def _fresh(sheet: Sheet, group: str, figures: Figures) -> Iterator[Finding]:
    """Two columns side by side must tell one story."""
    dm = figures["dm_g_per_kg_fresh"][0] if "dm_g_per_kg_fresh" in figures else None
    for other in sheet.readings:
        used = figures.get(other.nutrient)
        if other.is_used or other.limit or not used or used[1] is other or other.basis != "fresh":
            continue
        turned = in_house_unit(other, dm)
        if BY_ID[other.nutrient].kind in ("water", "share", "plain") or turned is None:
            continue
        if abs(turned - used[0]) <= 0.03 * used[0] + 1e-9:
            continue
        as_fed = in_house_unit(other, 1000.0) or 0.0
        swapped = as_fed > used[0]
        words = f"{other.words} and {used[1].words} do not agree at this dry matter."
        if swapped:
            words += " Are the fresh and dry columns the wrong way round?"
        yield _finding(sheet, "refuse" if swapped else "warn", words, used[1])


def _digestibility(sheet: Sheet, group: str, figures: Figures) -> Iterator[Finding]:
    d, dmd, omd, ash = (figures.get(n) for n in ("domd_g_per_kg_dm", "dmd_g_per_kg_dm",
                                                 "omd_g_per_kg_om", "ash_g_per_kg_dm"))  # fmt: skip
    if not d:
        return
    if omd and d[0] > omd[0]:
        words = (f"{d[1].words} is above {omd[1].words}; the D-value is always the smaller. "
                 "Are they the wrong way round?")  # fmt: skip
        yield _finding(sheet, "refuse", words, d[1])
    elif omd and ash:
        expected = domd_from_omd_g_per_kg_dm(min(omd[0], 1000.0), min(ash[0], 500.0))
        if abs(expected - d[0]) > 25:
            words = (f"{d[1].words} does not follow from {omd[1].words} and {ash[1].words}, "
                     f"which give {expected / 10:.1f} %.")  # fmt: skip
            yield _finding(sheet, "warn", words, d[1])
    if dmd and d[0] >= dmd[0]:
        words = (f"{d[1].words} is not below {dmd[1].words}; D-value is usually 3 to 5 "
                 "units lower. Was digestibility of dry matter entered as D-value?")  # fmt: skip
        yield _finding(sheet, "warn", words, d[1])
    if not dmd and not omd and group == "hay" and d[0] > 720:
        words = (f"{d[1].words} is high for hay: is it digestibility of dry matter (DMD, 3 to 5 "
                 "units above D) or of organic matter (OMD, 4 to 7 above)?")  # fmt: skip
        yield _finding(sheet, "warn", words, d[1])


def _energy(sheet: Sheet, group: str, figures: Figures) -> Iterator[Finding]:
    me, d, dm = (figures.get(n) for n in ("me_mj_per_kg_dm", "domd_g_per_kg_dm",
                                          "dm_g_per_kg_fresh"))  # fmt: skip
    if not me or not d or group not in FORAGES:
        return
    try:
        expected = me_from_domd_mj_per_kg_dm(d[0])
    except InputError:
        return
    if abs(me[0] - expected) <= ME_GAP_MJ:
        return
    words = (f"Energy {me[0]:.1f} MJ and D-value {d[0] / 10:.1f} % do not go together: 0.16 x "
             f"{d[0] / 10:.1f} is {expected:.1f} MJ.")  # fmt: skip
    if dm and me[1].basis == "dm" and abs(me[0] * 1000 / dm[0] - expected) <= 0.4:
        words += (f" It would fit if {me[0]:.1f} MJ is per kg fresh, that is "
                  f"{me[0] * 1000 / dm[0]:.1f} MJ/kg dry matter.")  # fmt: skip
    try:
        as_dmd = domd_from_dmd_g_per_kg_dm(d[0])
        if abs(me_from_domd_mj_per_kg_dm(as_dmd) - me[0]) <= 0.4:
            words += (f" It would fit if {d[0] / 10:.1f} % is digestibility of dry matter (DMD): "
                      f"then D-value is {as_dmd / 10:.1f} %.")  # fmt: skip
    except InputError:
        pass
    yield _finding(sheet, "warn", words, me[1])


def _silage_equation(sheet: Sheet, group: str, figures: Figures) -> Iterator[Finding]:
    """Hay whose energy looks worked by the equation for silage (both ADAS-MADF, memory)."""
    me, fibre = figures.get("me_mj_per_kg_dm"), figures.get("madf_g_per_kg_dm")
    if group != "hay" or not me or not fibre:
        return
    try:
        of_hay = me_of_hay_from_madf_mj_per_kg_dm(fibre[0])
        of_silage = me_of_silage_from_madf_mj_per_kg_dm(fibre[0])
    except InputError:
        return
    if abs(of_hay - of_silage) > 0.3 and abs(me[0] - of_silage) <= 0.06:
        words = (f"Energy {me[0]:.1f} MJ is what the old equation for silage gives from this "
                 f"fibre; that for hay gives {of_hay:.1f} MJ. Ask how it was worked.")  # fmt: skip
        yield _finding(sheet, "warn", words, me[1])


def _parts(sheet: Sheet, group: str, figures: Figures) -> Iterator[Finding]:
    parts = [n for n in SUM_PARTS if n in figures]
    total = sum(figures[n][0] for n in parts)
    if total > SUM_DOUBTED_G_PER_KG and group != "npn":
        names = ", ".join(BY_ID[n].words for n in parts)
        level = "refuse" if total > SUM_REFUSED_G_PER_KG else "warn"
        words = f"{names} add to {total / 10:.1f} % of dry matter. Are all on the same basis?"
        yield _finding(sheet, level, words, figures[parts[0]][1])
    ndf = figures.get("ndf_g_per_kg_dm")
    for fibre in ("adf_g_per_kg_dm", "madf_g_per_kg_dm"):
        if ndf and fibre in figures and figures[fibre][0] > ndf[0]:
            words = f"{figures[fibre][1].words} is above {ndf[1].words}, of which it is a part."
            yield _finding(sheet, "refuse", words, figures[fibre][1])
    ash, d = figures.get("ash_g_per_kg_dm"), figures.get("domd_g_per_kg_dm")
    if ash and d and ash[0] + d[0] > 1000:
        yield _finding(sheet, "refuse", f"{d[1].words} and {ash[1].words} add to over 100 %.", d[1])
    if ash and group in FORAGES and ash[0] > SOIL_ASH_G_PER_KG:
        words = f"{ash[1].words}: over 10 % of dry matter means soil in it."
        yield _finding(sheet, "warn", words, ash[1])
    a, b = figures.get("n_a_share"), figures.get("n_b_share")
    if a and b and a[0] + b[0] > 1.0001:
        words = f"a and b add to {a[0] + b[0]:.2f}; they are shares of the nitrogen, at most 1."
        yield _finding(sheet, "refuse", words, a[1])


def _twice(sheet: Sheet, group: str, figures: Figures) -> Iterator[Finding]:
    """The same thing said in two ways: nitrogen and protein, element and compound."""
    cp, n = figures.get("cp_g_per_kg_dm"), figures.get("n_g_per_kg_dm")
    if cp and n and abs(6.25 * n[0] - cp[0]) > 0.03 * cp[0]:
        words = (f"{cp[1].words} is not 6.25 times {n[1].words} "
                 f"({6.25 * n[0] / 10:.1f} %). The protein is used.")  # fmt: skip
        yield _finding(sheet, "warn", words, cp[1])
    for other in sheet.readings:
        used = figures.get(other.nutrient)
        if other.is_used or other.limit or not other.compound or not used or used[1].compound:
            continue
        value = in_house_unit(other, 1000.0) if other.basis == used[1].basis else None
        if value is not None and abs(value - used[0]) > 0.05 * used[0]:
            words = f"{other.compound} {other.value:g} {other.unit} and {used[1].words} disagree."
            yield _finding(sheet, "warn", words, used[1])


def _usual(sheet: Sheet, group: str, figures: Figures) -> Iterator[Finding]:
    dm = figures.get("dm_g_per_kg_fresh")
    if group == "silage" and dm and dm[0] > 450:
        return  # haylage: no usual values on file
    for nutrient, (lo, hi) in USUAL.get(group, {}).items():
        if nutrient in figures and not lo <= figures[nutrient][0] <= hi:
            value, reading = figures[nutrient]
            side = "below" if value < lo else "above"
            words = (f"{BY_ID[nutrient].words} {shown_figure(nutrient, value)} is {side} the usual "
                     f"{shown_figure(nutrient, lo)} to {shown_figure(nutrient, hi)} "
                     f"of {group}.")  # fmt: skip
            dry = value * 1000 / dm[0] if dm and not reading.is_basis_said else 0.0
            if lo <= dry <= hi and value < lo:
                words += (f" It would be usual if it stands per kg fresh: then it is "
                          f"{shown_figure(nutrient, dry)} of dry matter.")  # fmt: skip
            yield _finding(sheet, "note", words, reading)
    ph = figures.get("ph")
    if group == "silage" and ph and ph[0] > 4.3 and dm and dm[0] <= 400:
        yield _finding(sheet, "note", f"{ph[1].words} is over 4.3: suspect in silage.", ph[1])


def _silage(sheet: Sheet, group: str, figures: Figures) -> Iterator[Finding]:
    """Volatile acids leave in the oven (1 to 2 units of dry matter: memory)."""
    dm, oven = figures.get("dm_g_per_kg_fresh"), figures.get("oven_dm_g_per_kg_fresh")
    if group != "silage":
        return
    if oven and not dm:
        low, high = oven[0] / 10 + 1, oven[0] / 10 + 2
        words = (f"{oven[1].words} is used as it stands; acids leave in the oven, and the true "
                 f"dry matter is more likely {low:.0f} to {high:.0f} %.")  # fmt: skip
        yield _finding(sheet, "warn", words, oven[1])
    elif dm and not oven and not _says_corrected(dm[1]):
        words = (f"{dm[1].words}: the sheet does not say whether this is corrected for acids lost "
                 "in the oven; corrected dry matter is 1 to 2 units higher.")  # fmt: skip
        yield _finding(sheet, "note", words, dm[1])


def _says_corrected(reading: Reading) -> bool:
    text = reading.as_written.lower()
    return "corrected" in text or "vcdm" in text or "tcdm" in text


def _label(sheet: Sheet, group: str, figures: Figures) -> Iterator[Finding]:
    cp, dm = figures.get("cp_g_per_kg_dm"), figures.get("dm_g_per_kg_fresh")
    if not cp or group not in LABELLED or cp[1].basis != "dm":
        return
    reading, dm_share = cp[1], (dm[0] / 1000 if dm else 0.87)
    is_whole = group == "compound" and reading.unit == "%" and reading.value == int(reading.value)
    if reading.is_basis_said and not is_whole:
        return
    words = (f"{reading.words}: a bag label gives protein as fed, and {cp[0] / 10:g} % as fed is "
             f"{cp[0] / 10 / dm_share:.1f} % of dry matter. Which is it?")  # fmt: skip
    yield _finding(sheet, "note" if reading.is_basis_said else "warn", words, reading)


def _as_read(sheet: Sheet, group: str, figures: Figures) -> Iterator[Finding]:
    """What was taken for granted, left out or not understood."""
    unsaid = [r for r in sheet.readings if r.is_used and not r.is_basis_said]
    if unsaid:
        names = ", ".join(BY_ID[r.nutrient].words for r in unsaid)
        words = f"The sheet does not say whether {names} is fresh or dry; taken as dry matter."
        yield _finding(sheet, "warn", words, unsaid[0])
    for r in sheet.readings:
        if r.note.startswith("no unit"):
            yield _finding(sheet, "note", f"{r.words}: {r.note.split('; ')[0]}.", r)
        elif not r.is_used and ("stands" not in r.note or "digestibility" in r.note):
            yield _finding(sheet, "note", f"{r.words}: {r.note}.", r)
    if sheet.missing:
        names = "; ".join(sheet.missing)
        yield _finding(sheet, "note", f"No figure is given for: {names}.")
    if sheet.not_understood:
        yield _finding(sheet, "note", f"Not understood, kept: {'; '.join(sheet.not_understood)}.")


EVERY_FEED = ("cp_g_per_kg_dm", "me_mj_per_kg_dm", "domd_g_per_kg_dm", "ndf_g_per_kg_dm",
              "adf_g_per_kg_dm")  # fmt: skip


def out_of_every_range(
    sheet: Sheet, tables: Ranges | None, accept: Collection[str] = ()
) -> list[Finding]:
    """Slips that show whatever the feed is: impossible, or in range for none in this unit."""
    figures = house_figures(sheet)
    found = list(_impossible(sheet, "npn", figures))
    if tables is not None:
        usual = {n: figures[n] for n in EVERY_FEED if n in figures}
        slips = [f for f in _ranges(sheet, "any", usual, tables) if f.level == "refuse"]
        found += [f for f in slips if f.nutrient not in accept]
    return found
