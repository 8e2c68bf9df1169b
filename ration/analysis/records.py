"""A laboratory sheet as records: each figure as it stood on the sheet, and what it means.

`Reading` keeps the figure in the sheet's own unit and basis; `in_house_unit` turns it into the
unit of the nutrient dictionary. `sheet_of` makes a `Sheet` of raw entries and collects every
problem on the way.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from ration.analysis.names import BY_ID, BY_NAME, HEADER_FIELDS, Nutrient
from ration.analysis.terms import (
    Heading,
    basis_of,
    candidate_units,
    comma_evidence,
    factor,
    is_missing,
    number,
    tidy,
    unit_and_basis,
)
from ration.errors import InputError, Problem
from ration.standards.feed_conversions import element_from_compound_g_per_kg
from ration.units import content_per_kg_dm, shown

ALWAYS_ON_DM = ("domd_g_per_kg_dm", "dmd_g_per_kg_dm", "tdn_g_per_kg_dm", "ncgd_g_per_kg_dm")
LONGEST_CELL = 400
FIGURE = re.compile(r"^(?:[<>\u2264\u2265~]|less than)?=? ?[+-]?[0-9]", re.IGNORECASE)
SHOWN_UNITS = {"mj/kg": "MJ/kg", "mcal/kg": "Mcal/kg", "mj": "MJ", "mcal": "Mcal", "ph": "pH",
               "gn/kg": "g N/kg", "share": "(a share)", "ug/kg": "µg/kg"}  # fmt: skip


@dataclass(frozen=True)
class Reading:
    """One figure of a sheet.

    Parameters
    ----------
    nutrient : str
        Id of the figure (`ration.analysis.names`).
    value : float
        As on the sheet, in `unit`.
    unit : str
        Unit of the sheet, tidied ("%", "g/kg", "mj/kg").
    basis : str
        dm, fresh, air-dry, n, om, or "" where a basis has no meaning.
    as_written : str
        The cells as they stood.
    line : int
        Line of the file.
    compound : str
        "P2O5" and the like when the sheet gave a compound of the element.
    limit : str
        "<" or ">" when only a limit was given.
    is_used : bool
        False for a figure that is kept and not used; `note` says why.
    is_basis_said : bool
        False when the sheet did not say what it is a share of.
    note : str
        What was taken for granted in reading it.
    """

    nutrient: str
    value: float
    unit: str
    basis: str
    as_written: str
    line: int
    compound: str = ""
    limit: str = ""
    is_used: bool = True
    is_basis_said: bool = True
    note: str = ""

    @property
    def words(self) -> str:
        """Name and figure as the sheet has it: "protein 6.9 % of dry matter"."""
        on = {"dm": " of dry matter" if self.unit == "%" else " DM", "fresh": " fresh",
              "air-dry": " air-dry"}.get(self.basis, "")  # fmt: skip
        if BY_ID[self.nutrient].kind in ("water", "share", "rate", "plain"):
            on = ""
        unit = "" if self.unit == "ph" else f" {SHOWN_UNITS.get(self.unit, self.unit)}"
        return f"{BY_ID[self.nutrient].words} {self.limit}{self.value:g}{unit}{on}"


@dataclass(frozen=True)
class Sheet:
    """One sample of a laboratory sheet, with its figures as they stood.

    Parameters
    ----------
    sample, lot, laboratory, sampled, reported, method : str
        As written; "" when the sheet does not say.
    readings : tuple of Reading
        Every figure that was understood.
    not_understood : tuple of str
        Every other cell, kept as written with its line.
    place : str
        File name.
    received : str
        Date received, as written.
    missing : tuple of str
        Figures the sheet names and gives no number for.
    """

    sample: str = ""
    lot: str = ""
    laboratory: str = ""
    sampled: str = ""
    reported: str = ""
    method: str = ""
    readings: tuple[Reading, ...] = ()
    not_understood: tuple[str, ...] = ()
    place: str = ""
    received: str = ""
    missing: tuple[str, ...] = ()

    def reading(self, nutrient: str) -> Reading | None:
        """The figure in use for a nutrient, or None."""
        for r in self.readings:
            if r.nutrient == nutrient and r.is_used:
                return r
        return None

    def where(self, reading: Reading) -> str:
        """File, line and name of a figure."""
        line = f" line {reading.line}" if reading.line else ""
        return f"{self.place}{line}, {BY_ID[reading.nutrient].words}".lstrip(", ")


@dataclass(frozen=True)
class Entry:
    """One cell that may be a figure, with all the sheet says about it."""

    heading: Heading
    value: str
    as_written: str
    line: int
    unit: str = ""
    basis: str = ""


@dataclass
class RawSheet:
    """A sample while it is being read."""

    place: str
    header: dict[str, str] = field(default_factory=dict)
    entries: list[Entry] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)


def in_house_unit(reading: Reading, dm_g_per_kg_fresh: float | None) -> float | None:
    """A reading in the unit of its nutrient id, compounds as the element, on dry matter.

    Parameters
    ----------
    reading : Reading
        The figure.
    dm_g_per_kg_fresh : float or None
        Dry matter of the sample. [g/kg fresh], wanted for a figure on the fresh basis.

    Returns
    -------
    float or None
        None when a fresh figure cannot be turned because dry matter is not known.
    """
    nutrient = BY_ID[reading.nutrient]
    turn = factor(nutrient, reading.unit)
    if turn is None:
        return None
    value = reading.value * turn
    if reading.compound:
        value = element_from_compound_g_per_kg(reading.compound, value)
    if reading.basis != "fresh" or nutrient.kind in ("water", "share", "rate", "plain"):
        return value
    if not dm_g_per_kg_fresh:
        return None
    return content_per_kg_dm(value, dm_g_per_kg_fresh / 1000)


def sheet_of(raw: RawSheet, comma: str | None = None) -> tuple[Sheet, list[Problem]]:
    """A `Sheet` of raw entries, and every problem met."""
    if comma is None:
        comma = comma_evidence([e.value for e in raw.entries])
    kept, missing = list(raw.kept), list[str]()
    readings, problems = list[Reading](), list[Problem]()
    whole_basis, header = _header_basis(raw, kept)
    for entry in raw.entries:
        if entry.heading.nutrient is None:
            kept.append(f"line {entry.line}: {entry.as_written}")
        elif is_missing(entry.value):
            missing.append(f"line {entry.line}: {entry.as_written}")
        else:
            try:
                readings.append(_reading(entry, entry.heading.nutrient, comma, whole_basis))
            except InputError as error:
                name = entry.heading.nutrient.words
                problems += error.at(f"{raw.place} line {entry.line}, {name}").problems
    readings, more = _one_of_each(readings, raw.place)
    sheet = Sheet(
        readings=tuple(readings), not_understood=tuple(kept), place=raw.place,
        missing=tuple(missing), **header,
    )  # fmt: skip
    return sheet, problems + more


def _header_basis(raw: RawSheet, kept: list[str]) -> tuple[str, dict[str, str]]:
    header = dict(raw.header)
    said = header.pop("basis", "")
    basis = basis_of(said)
    if said and not basis:
        kept.append(f"basis: {said}")
    return basis, header


def _reading(entry: Entry, nutrient: Nutrient, comma: str, whole_basis: str) -> Reading:
    found = number(entry.value, comma)
    rest = re.sub(r"^[*#\u2020]+|[*#\u2020]+$", "", found.rest).strip()
    rest = re.sub(r"^(?:\u00b1|\+/-|\+-) ?[0-9.,]+ ?", "", rest)
    own_unit, own_basis, left = unit_and_basis(rest)
    col_unit, col_basis, col_left = unit_and_basis(entry.unit)
    compound = nutrient.compound
    for odd in (left, col_left):
        if not odd:
            continue
        as_compound = BY_NAME.get(re.sub(r"^(?:as|of) ", "", odd))
        if as_compound and as_compound.id == nutrient.id:
            compound = as_compound.compound or compound
            continue
        raise InputError(
            Problem("", f"read {shown(entry.as_written)}", f"{shown(odd)} is not a unit read here",
                    "Write % or g/kg, mg/kg, MJ/kg, and DM or fresh")
        )  # fmt: skip
    unit = _agreed("unit", own_unit, col_unit, entry.heading.unit)
    basis = _agreed("basis", own_basis, basis_of(entry.basis) or col_basis, entry.heading.basis)
    if entry.basis and not basis_of(entry.basis):
        raise InputError(
            Problem("", f"read basis {shown(entry.basis)}", "it is fresh or dry matter (DM)")
        )
    note = ""
    if not unit:
        unit, note = _settled(nutrient, found.value)
    if factor(nutrient, unit) is None:
        raise InputError(
            Problem(
                "", f"read {shown(entry.as_written)}", f"{nutrient.words} is not given in {unit}"
            )
        )
    _possible(nutrient, found.value, unit)
    basis, is_said, more = _basis(nutrient, basis or whole_basis, entry)
    reading = Reading(
        nutrient.id, found.value, unit, basis, entry.as_written, entry.line, compound,
        found.limit, is_basis_said=is_said, note="; ".join(n for n in (note, more) if n),
    )  # fmt: skip
    return _left_out(reading, nutrient)


def _possible(nutrient: Nutrient, value: float, unit: str) -> None:
    """`InputError` for more than the whole; urea alone counts as more protein than its weight."""
    whole = {"mass": 1000.0, "water": 1000.0, "trace": 1e6, "share": 1.0}.get(nutrient.kind)
    turned = value * (factor(nutrient, unit) or 0.0)
    if whole is None or turned <= whole * (1 + 1e-9):
        return
    if nutrient.id in ("cp_g_per_kg_dm", "n_g_per_kg_dm") and turned >= 2000:
        return
    lo, hi = nutrient.believable
    units = (*candidate_units(nutrient), "mg/kg")
    meant = [u for u in units if lo <= value * (factor(nutrient, u) or 0) <= hi]
    do = f"Did you mean {value:g} {SHOWN_UNITS.get(meant[0], meant[0])}?" if meant else ""
    shown_unit = SHOWN_UNITS.get(unit, unit)
    raise InputError(
        Problem("", f"{nutrient.words} {value:g} {shown_unit} is more than the whole feed", "", do)
    )


def _left_out(reading: Reading, nutrient: Nutrient) -> Reading:
    """The same reading, marked as not used where it cannot serve."""
    why = ""
    if reading.limit:
        why = "only a limit, not a figure"
    elif reading.basis == "air-dry":
        why = "on the air-dry basis, and what water was left is not said"
    elif nutrient.id in ALWAYS_ON_DM and reading.basis == "fresh":
        why = "a digestibility belongs to dry matter, and this one stands on the fresh basis"
    elif nutrient.kind == "water" and reading.basis == "dm":
        why = "of the dry matter itself"
    elif nutrient.kind == "mass" and reading.basis in ("n", "om") and "_om" not in nutrient.id:
        why = "as a share of " + ("nitrogen" if reading.basis == "n" else "organic matter")
    if not why:
        return reading
    return replace(reading, is_used=False, note=f"kept, not used: {why}")


def _agreed(what: str, *said: str) -> str:
    """The one unit or basis that was written, or `InputError` when two disagree."""
    different = list(dict.fromkeys(s for s in said if s))
    if len(different) > 1:
        raise InputError(
            Problem("", f"the {what} is given as {' and as '.join(different)}", "one is wanted")
        )
    return different[0] if different else ""


def _settled(nutrient: Nutrient, value: float) -> tuple[str, str]:
    """The only unit in which a bare number is believable, or `InputError` with the question."""
    lo, hi = nutrient.believable
    possible = []
    for unit in candidate_units(nutrient):
        turn = factor(nutrient, unit)
        if turn is not None and lo <= value * turn <= hi and hi > 0:
            possible.append(unit)
    if len(possible) == 1:
        unit = possible[0]
        if nutrient.kind == "plain":
            return unit, ""
        return unit, f"no unit on the sheet, and only {SHOWN_UNITS.get(unit, unit)} is believable"
    names = " or ".join(SHOWN_UNITS.get(u, u) for u in candidate_units(nutrient))
    raise InputError(
        Problem("", f"read {value:g} without a unit", f"it may be in {names}",
                f"Write the unit: {value:g} {names.split(' or ')[0]}")
    )  # fmt: skip


def _basis(nutrient: Nutrient, basis: str, entry: Entry) -> tuple[str, bool, str]:
    """Basis, whether the sheet said it, and a note."""
    if nutrient.kind in ("share", "rate", "plain"):
        return "", True, ""
    if nutrient.kind == "water":
        is_all = re.fullmatch(r"100(?:[.,]0+)?|0(?:[.,]0+)?|1000", entry.value.strip())
        return ("dm" if basis == "dm" and is_all else "fresh"), True, ""
    if nutrient.id == "omd_g_per_kg_om":
        if basis == "dm":
            raise _which_digestibility(entry, "organic-matter digestibility of dry matter")
        return "om", True, ""
    if nutrient.id in ALWAYS_ON_DM:
        if basis == "om" and nutrient.id == "domd_g_per_kg_dm":
            raise _which_digestibility(entry, "D-value of organic matter")
        return ("fresh" if basis == "fresh" else "dm"), True, ""
    if basis:
        return basis, True, ""
    return "dm", False, "the sheet does not say fresh or dry; taken as dry matter"


def _which_digestibility(entry: Entry, read: str) -> InputError:
    return InputError(
        Problem("", f"read {shown(entry.as_written)}, {read}",
                "the D-value is a share of dry matter, OMD a share of organic matter",
                "Ask the laboratory which it is, and write D-value or OMD alone")
    )  # fmt: skip


def _one_of_each(readings: Sequence[Reading], place: str) -> tuple[list[Reading], list[Problem]]:
    """Leave one figure in use per nutrient: dry matter before fresh, element before compound."""
    problems = list[Problem]()
    out = list(readings)
    order = {"dm": 0, "om": 0, "": 0, "fresh": 1}
    for nutrient in dict.fromkeys(r.nutrient for r in readings if r.is_used):
        rows = [i for i, r in enumerate(out) if r.nutrient == nutrient and r.is_used]
        rows.sort(key=lambda i: (order[out[i].basis], bool(out[i].compound)))
        first = out[rows[0]]
        for i in rows[1:]:
            other = out[i]
            is_same_kind = (first.basis, first.compound) == (other.basis, other.compound)
            if is_same_kind and abs(_base(first) - _base(other)) > 1e-9 * abs(_base(first)):
                problems.append(
                    Problem(f"{place} line {other.line}", f"{other.words} and {first.words} "
                            f"(line {first.line}) stand in one sample", "one is wanted",
                            "Give repeat tests as samples of their own")
                )  # fmt: skip
            note = "kept, not used: the same figure stands elsewhere"
            if not is_same_kind:
                note = "kept, not used: a figure on dry matter or of the element stands beside it"
            out[i] = replace(other, is_used=False, note=note)
    return out, problems


def _base(reading: Reading) -> float:
    return reading.value * (factor(BY_ID[reading.nutrient], reading.unit) or 1.0)


def header_field(text: str) -> str:
    """The header field that a heading names (sample, lot, sampled ...), or ""."""
    return HEADER_FIELDS.get(re.sub(r"[^a-z0-9]+", " ", tidy(text)).strip(), "")


def put_header(raw: RawSheet, name: str, value: str, as_written: str) -> None:
    """Store a header field; a second, different value is kept as not understood."""
    if not value or is_missing(value):
        if as_written.strip():
            raw.kept.append(as_written)
        return
    if raw.header.get(name, value) != value:
        raw.kept.append(as_written)
        return
    raw.header[name] = value


def house_figures(sheet: Sheet) -> Mapping[str, tuple[float, Reading]]:
    """Every figure in use in house units, with water turned to dry matter first."""
    dm = sheet.reading("dm_g_per_kg_fresh") or sheet.reading("oven_dm_g_per_kg_fresh")
    dm_g_per_kg = in_house_unit(dm, None) if dm else None
    if dm_g_per_kg is None and (water := sheet.reading("moisture_g_per_kg_fresh")):
        share = in_house_unit(water, None)
        dm_g_per_kg = 1000.0 - share if share is not None else None
    figures = {}
    for r in sheet.readings:
        if r.is_used and (value := in_house_unit(r, dm_g_per_kg)) is not None:
            figures[r.nutrient] = (value, r)
    return figures
