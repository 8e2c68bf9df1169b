"""Words, units, bases and numbers as laboratories write them.

Headings vary from sheet to sheet: "Crude protein (% DM)", "CP g/kg", "protein_g_per_kg_dm". Here
such a text becomes a nutrient, a unit and a basis, or is honestly not understood. A name matches
whole or not at all; nothing is guessed from part of a word.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass

from ration.analysis.names import BY_ID, BY_NAME, MISSING_WORDS, Nutrient
from ration.errors import Problem, UnitError
from ration.units import MJ_PER_MCAL, shown

MOST_DIGITS = 12


_UNITS: Mapping[str, tuple[str, float]] = {
    # unit as tidied without spaces -> family and factor to g/kg, MJ/kg or a share
    "%": ("mass", 10.0), "percent": ("mass", 10.0), "pct": ("mass", 10.0),
    "g/100g": ("mass", 10.0), "g/kg": ("mass", 1.0), "gn/kg": ("mass", 1.0),
    "kg/t": ("mass", 1.0), "mg/g": ("mass", 1.0), "mg/kg": ("mass", 1e-3),
    "ppm": ("mass", 1e-3), "g/t": ("mass", 1e-3), "mg/100g": ("mass", 1e-2),
    "ug/kg": ("mass", 1e-6), "mcg/kg": ("mass", 1e-6), "ppb": ("mass", 1e-6),
    "ug/g": ("mass", 1e-3), "mj/kg": ("energy", 1.0), "mj": ("energy", 1.0),
    "mcal/kg": ("energy", MJ_PER_MCAL), "mcal": ("energy", MJ_PER_MCAL),
    "kcal/kg": ("energy", MJ_PER_MCAL / 1000), "kj/kg": ("energy", 1e-3),
    "kj/g": ("energy", 1.0), "mj/t": ("energy", 1e-3),
    "/h": ("rate", 1.0), "perhour": ("rate", 1.0), "%/h": ("rate", 0.01),
    "share": ("share", 1.0), "fraction": ("share", 1.0),
    "ph": ("plain", 1.0), "phunits": ("plain", 1.0),
}  # fmt: skip
_UNIT_TEXT = re.compile(
    r"(?<![a-z0-9])("
    r"(?:g n|mg|ug|mcg|mj|mcal|kcal|kj|kg|g) ?(?:(?:me|de|ge|cp) ?)?/ ?"
    r"(?:100 ?g|kg|t|g)(?![a-z0-9])"
    r"|% ?/ ?h(?![a-z])|/ ?h(?![a-z])|per hour|percent|pct|ppm|ppb|mcal|mj"
    r")|(%)"
)
_BASIS_PATTERNS = (
    ("dm", r"(?:100 ?% ?)?(?:dm|dry matter|dry wt|dry weight|dry)(?: basis| matter)?"),
    ("air-dry", r"air[ -]?dr(?:y|ied)(?: basis| matter)?"),
    ("fresh", r"as[ -]?(?:received|fed|is|sampled)(?: basis)?"),
    ("fresh", r"(?:fresh|wet)(?: matter| weight| wt)?(?: basis)?|fm|fw"),
    ("n", r"(?:total )?(?:n|nitrogen)"),
    ("om", r"(?:om|organic matter)"),
)  # fmt: skip
_HOUSE: Mapping[str, tuple[str, str]] = {
    "mass": ("g/kg", "dm"), "water": ("g/kg", "fresh"), "trace": ("mg/kg", "dm"),
    "energy": ("mj/kg", "dm"), "share": ("share", ""), "rate": ("/h", ""), "plain": ("ph", ""),
}  # fmt: skip


@dataclass(frozen=True)
class Heading:
    """A heading taken apart: name as tidied, nutrient if known, unit and basis if written."""

    name: str
    nutrient: Nutrient | None
    unit: str = ""
    basis: str = ""


@dataclass(frozen=True)
class Number:
    """A number as read, with "<" or ">" when the laboratory gave only a limit."""

    value: float
    limit: str = ""
    rest: str = ""


def tidy(text: str) -> str:
    """Lower case, one kind of space and dash, "_per_" as "/", no decoration."""
    text = unicodedata.normalize("NFKC", text).lower()
    text = text.replace("\u03bc", "u").replace("\u2013", "-").replace("\u2014", "-")
    text = text.replace("\u2212", "-").replace("kg-1", "/kg").replace("kg^-1", "/kg")
    text = re.sub(r"\bper[ _]cent(?:age)?\b", "%", text)
    text = re.sub(r"[ _]per[ _]", "/", text.replace("_per_", "/"))
    text = re.sub(r"\s*/\s*", "/", text.replace("_", " "))
    return " ".join(text.split())


def _name(text: str) -> str:
    return " ".join(re.sub(r"[^a-z0-9]+", " ", text).split())


def unit_and_basis(text: str) -> tuple[str, str, str]:
    """Unit, basis and what was left over, from text such as "% DM", "g/kg" or "as fed"."""
    rest, unit = tidy(text), ""
    if found := _UNIT_TEXT.search(rest):
        unit = re.sub(r"(me|de|ge|cp) ?(?=/)", "", found.group()).replace(" ", "")
        before, after = rest[: found.start()].strip(" ,;:()[]"), rest[found.end() :]
        rest = f"{before} | {after.strip(' ,;:()[]')}".strip(" |")
    elif rest in ("ph units", "share", "fraction"):
        return rest.replace(" ", ""), "", ""
    pieces, basis = [], ""
    for piece in (p.strip(" ,;:()[].") for p in rest.split("|")):
        found_basis = basis_of(piece)
        if found_basis and not basis:
            basis = found_basis
        elif piece:
            pieces.append(piece)
    return unit, basis, " ".join(pieces)


def basis_of(text: str) -> str:
    """dm, fresh, air-dry, n or om when the text names a basis and nothing else; or ""."""
    bare = tidy(text).replace("-", " ").strip(" ,;:()[].")
    without = re.sub(r"^(?:as |of |in |on |the |an? )+", "", bare)
    for candidate in (bare, without):
        for basis, pattern in _BASIS_PATTERNS:
            if re.fullmatch(pattern, candidate):
                return basis
    return ""


def heading(text: str) -> Heading:
    """Take a heading apart; an exact name wins over any unit or basis inside it.

    Examples
    --------
    >>> heading("Crude protein (% DM)").nutrient.id, heading("Crude protein (% DM)").basis
    ('cp_g_per_kg_dm', 'dm')
    """
    if (house := text.strip().lower()) in BY_ID and "_" in house:
        return Heading(_name(house), BY_ID[house], *_HOUSE[BY_ID[house].kind])
    clean = tidy(text)
    whole = _name(clean)
    if whole in BY_NAME and not _UNIT_TEXT.search(clean):
        return Heading(whole, BY_NAME[whole])
    unit = ""
    if found := _UNIT_TEXT.search(clean):
        unit = re.sub(r"(me|de|ge|cp) ?(?=/)", "", found.group()).replace(" ", "")
        inside = re.search(r"(?:^|[^a-z])(me|de|ge|cp) ?/", found.group())
        before, after = clean[: found.start()], clean[found.end() :]
        if inside and not _name(before):
            before = inside.group(1)
    else:
        before, after = clean, ""
    for name_text, rest in ((before, after), (after, "")) if _name(before) else ((after, ""),):
        split = _name_and_basis(name_text)
        if split is None:
            continue
        name, basis = split
        rest = rest.strip(" ,;:()[].")
        late = basis_of(rest) if rest else ""
        if rest and not late:
            return Heading(whole, None)
        nutrient = BY_NAME[name]
        return Heading(name, nutrient, unit, late or basis)
    return Heading(whole, None)


def _name_and_basis(text: str) -> tuple[str, str] | None:
    name = re.sub(r"(?: as| in| of| on)+$", "", _name(text))
    if name in BY_NAME:
        return name, ""
    words = name.split()
    for cut in range(len(words) - 1, 0, -1):
        basis = basis_of(" ".join(words[cut:]))
        if basis and " ".join(words[:cut]) in BY_NAME:
            return " ".join(words[:cut]), basis
    return None


def is_missing(text: str) -> bool:
    """Whether a cell says, in any usual way, that there is no figure."""
    return tidy(text) in MISSING_WORDS


def comma_evidence(texts: list[str]) -> str:
    """What a comma means in this sheet: "decimal", "thousands" or "" when nothing tells."""
    decimal = point = False
    for text in texts:
        for token in re.findall(r"[0-9][0-9.,]*", text):
            if re.fullmatch(r"[0-9]+,[0-9]{1,2}|0,[0-9]+|[0-9]+,[0-9]{4,}", token):
                decimal = True
            if re.fullmatch(r"[0-9]+\.[0-9]+|[0-9]{1,3}(,[0-9]{3})+\.[0-9]+", token):
                point = True
    if decimal == point:
        return "both" if decimal else ""
    return "decimal" if decimal else "thousands"


def number(text: str, comma: str = "") -> Number:
    """A number at the start of a cell, decimal point or comma, with its limit sign.

    Parameters
    ----------
    text : str
        The cell: "6.9", "6,9 %", "1,234", "<0.5 mg/kg".
    comma : str
        What a comma means where the cell itself does not tell: `comma_evidence`.
    """
    clean = " ".join(unicodedata.normalize("NFKC", text).replace("\u2212", "-").split())
    found = re.fullmatch(
        r"(<=?|>=?|\u2264|\u2265|less than|~|ca\.?|c\.)? ?([+-]?) ?"
        r"([0-9](?:[0-9.,']| (?=[0-9]{3}(?![0-9])))*)(.*)",
        clean, re.IGNORECASE | re.DOTALL,
    )  # fmt: skip
    if not found:
        raise UnitError(Problem("", f"read {shown(text)}", "a number is wanted"))
    sign, minus, digits, rest = found.groups()
    rest = rest.strip()
    digits = digits.replace(" ", "").replace("'", "")
    while digits[-1] in ".,":
        digits = digits[:-1]
    if minus == "-" and float(_plain_digits(digits, text, comma)) != 0:
        raise UnitError(Problem("", f"read {shown(text)}", "a figure cannot be below zero"))
    if re.match(r"e[+-]?[0-9]", rest, re.IGNORECASE):
        raise UnitError(Problem("", f"read {shown(text)}", "powers of ten are not read",
                                "Write the number out in full"))  # fmt: skip
    if re.match(r"[-/][0-9]|- ?[0-9]", rest):
        raise UnitError(Problem("", f"read {shown(text)}", "one figure is wanted, not two"))
    value = float(_plain_digits(digits, text, comma))
    if not math.isfinite(value):
        raise UnitError(Problem("", f"read {shown(text)}", "an ordinary number is wanted"))
    limits = {"<": "<", "<=": "<", "\u2264": "<", "less than": "<",
              ">": ">", ">=": ">", "\u2265": ">"}  # fmt: skip
    return Number(value, limits.get((sign or "").lower(), ""), rest)


def _plain_digits(digits: str, text: str, comma: str) -> str:
    """The digits with a point as decimal mark, or `UnitError` when it could be either."""
    whole = re.split(r"[.,](?=[0-9]*$)", digits)[0]
    if len(whole) > MOST_DIGITS + 4 or len(digits) > 2 * MOST_DIGITS + 8:
        raise UnitError(Problem("", f"read {shown(text)}", "too many digits for a figure"))
    if re.fullmatch(r"[0-9]+", digits):
        return digits
    if re.fullmatch(r"[0-9]+\.[0-9]+", digits):
        if comma == "decimal" and re.fullmatch(r"[1-9][0-9]{0,2}\.[0-9]{3}", digits):
            raise _either(digits, text)
        return digits
    if re.fullmatch(r"[1-9][0-9]{0,2}(,[0-9]{3})+\.[0-9]+|[1-9][0-9]{0,2}(,[0-9]{3}){2,}", digits):
        return digits.replace(",", "")
    if re.fullmatch(r"[1-9][0-9]{0,2}(\.[0-9]{3})+,[0-9]+|[1-9][0-9]{0,2}(\.[0-9]{3}){2,}", digits):
        return digits.replace(".", "").replace(",", ".")
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", digits):
        if comma == "decimal":
            return digits.replace(",", ".")
        if comma == "thousands":
            return digits.replace(",", "")
        raise _either(digits, text)
    if re.fullmatch(r"[0-9]+,[0-9]+", digits):
        return digits.replace(",", ".")
    raise UnitError(Problem("", f"read {shown(text)}", "the number cannot be made out"))


def _either(digits: str, text: str) -> UnitError:
    joined = re.sub(r"[.,]", "", digits)
    pointed = digits.replace(",", ".")
    return UnitError(
        Problem("", f"read {shown(text)}", f"it could be {joined} or {pointed}",
                f"Write {joined}, or {pointed}0 with one more nought")
    )  # fmt: skip


def factor(nutrient: Nutrient, unit: str) -> float | None:
    """What turns a figure in this unit into the unit of the nutrient; None when it cannot be.

    Examples
    --------
    >>> factor(BY_NAME["cp"], "%"), factor(BY_NAME["cu"], "g/kg")
    (10.0, 1000.0)
    """
    family, to_base = _UNITS.get(unit, ("", 0.0))
    kind = nutrient.kind
    if kind in ("mass", "water") and family == "mass":
        return to_base
    if kind == "trace" and family == "mass":
        return to_base * 1000.0
    if kind == "share" and unit == "%":
        return 0.01
    return to_base if family == kind else None


def candidate_units(nutrient: Nutrient) -> tuple[str, ...]:
    """Units a bare number of this nutrient might be in."""
    return {
        "mass": ("%", "g/kg"), "water": ("%", "g/kg"), "trace": ("mg/kg",),
        "energy": ("mj/kg", "mcal/kg"), "plain": ("ph",), "share": ("share", "%"),
        "rate": ("/h", "%/h"),
    }.get(nutrient.kind, ())  # fmt: skip
