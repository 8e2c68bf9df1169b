"""The same sheep by every standard, beside each other and never averaged.

Where two standards differ by more than a tenth the difference is named and traced to its parts;
what each calls protein is its own thing, so proteins are not compared.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ration.animals import Batch
from ration.errors import InputError
from ration.needs.records import Needs
from ration.units import in_words_standard

if TYPE_CHECKING:
    import pandas as pd

WIDE_SHARE = 0.10
COMPARED = (
    ("energy", "me_mj_per_day", "MJ"),
    ("calcium", "ca_g_per_day", "g"),
    ("phosphorus", "p_g_per_day", "g"),
)
TOGETHER = "for the gain and the lambs inside"  # NRC's one part where the others have two
# (part or need, standard): what in the standard makes it so
BECAUSE = {
    ("to stand still", "AFRC 1993"): "fasting metabolism 0.25 MJ per kg of fasted weight^0.75 "
    "under a year, found in respiration chambers",
    ("to stand still", "NRC 1985"): "allowances of mature ewes in print, which carry activity and "
    "safety, drawn down to lighter sheep",
    ("to stand still", "CSIRO 2007"): "0.28 MJ per kg^0.75 falling with age, plus a tenth of all "
    "that is eaten over maintenance",
    ("for the gain", "AFRC 1993"): "energy of gain by live weight and sex, and an efficiency that "
    "falls as the gain rises",
    ("for the gain", "NRC 1985"): "a straight line between standing still and the row of the table",
    ("for the gain", "CSIRO 2007"): "energy of gain by size against the grown weight, at one "
    "efficiency",
    ("for the lambs inside", "AFRC 1993"): "what they lay down that day, by their birth weight, at "
    "an efficiency of 0.13",
    ("for the lambs inside", "CSIRO 2007"): "what they lay down that day, by their birth weight, "
    "at an efficiency of 0.13",
    (
        TOGETHER,
        "AFRC 1993",
    ): "what the lambs inside lay down that day, by their birth weight, at an efficiency of 0.13",
    (
        TOGETHER,
        "NRC 1985",
    ): "a row for weeks of pregnancy and lambs a ewe, the same for all its days",
    (TOGETHER, "CSIRO 2007"): "what the lambs inside lay down that day, by their birth weight, at "
    "an efficiency of 0.13",
    ("for milk and weight change", "AFRC 1993"): "the energy in the milk she gives",
    (
        "for milk and weight change",
        "NRC 1985",
    ): "a row for one lamb or for twins, whatever the milk",
    ("for milk and weight change", "CSIRO 2007"): "the energy in the milk she gives",
    ("safety margin", "AFRC 1993"): "it carries a safety margin and the others none",
    ("calcium", "AFRC 1993"): "losses that rise with dry matter eaten, 68 % absorbed",
    ("calcium", "NRC 1985"): "a lower absorption and a margin inside the table",
    ("calcium", "CSIRO 2007"): "the same factors as AFRC (1991)",
    ("phosphorus", "AFRC 1993"): "the high losses of sheep on long forage (AFRC 1991)",
    ("phosphorus", "NRC 1985"): "losses by live weight alone, 60 % absorbed",
    ("phosphorus", "CSIRO 2007"): "the same factors as AFRC (1991)",
}
SHARED_LIME = frozenset({"AFRC 1993", "CSIRO 2007"})  # one rule for calcium and phosphorus
NRC_ROW = "a figure of its table for the ewe's state, whatever she eats"


@dataclass(frozen=True)
class Difference:
    """One need on which two standards differ by more than a tenth.

    Attributes
    ----------
    need, unit : str
    high, low : str
        Names of the standards.
    high_per_day, low_per_day : float
        In the unit.
    parts : tuple of (str, float)
        What the difference is made of, largest first; they add up to it. None for needs that a
        standard gives whole. [unit]
    why : str
        What in the two standards makes it so.
    """

    need: str
    unit: str
    high: str
    low: str
    high_per_day: float
    low_per_day: float
    parts: tuple[tuple[str, float], ...]
    why: str

    @property
    def over_share(self) -> float:
        """How much the higher is over the lower. [-]"""
        return self.high_per_day / self.low_per_day - 1


@dataclass(frozen=True)
class Beside:
    """One batch by every standard.

    Attributes
    ----------
    batch : Batch
    needs : mapping of str to Needs
        By name of the standard, those that cover the sheep.
    refused : mapping of str to str
        By name of the standard, why it does not cover them.
    differences : tuple of Difference
    """

    batch: Batch
    needs: Mapping[str, Needs]
    refused: Mapping[str, str]
    differences: tuple[Difference, ...]

    def frame(self) -> pd.DataFrame:
        """One row a figure or part, one column a standard."""
        import pandas as pd

        columns = {
            name: pd.Series({f"{f.id} [{f.unit}]": f.per_day for f in need.figures})
            for name, need in self.needs.items()
        }
        return pd.DataFrame(columns)


def compared(batch: Batch, needs: Mapping[str, Needs], refused: Mapping[str, str]) -> Beside:
    """The needs by several standards with what sets them apart."""
    found = []
    for need, attribute, unit in COMPARED:
        amounts = {name: float(getattr(n, attribute)) for name, n in needs.items()}
        if len(amounts) < 2:
            continue
        high, low = max(amounts, key=amounts.__getitem__), min(amounts, key=amounts.__getitem__)
        if amounts[low] <= 0 or amounts[high] / amounts[low] - 1 <= WIDE_SHARE:
            continue
        parts = _parts(needs[high], needs[low], need)
        found.append(
            Difference(
                need,
                unit,
                high,
                low,
                amounts[high],
                amounts[low],
                parts,
                _why(need, needs[high], needs[low], parts),
            )
        )
    return Beside(batch, needs, refused, tuple(found))


def _parts(high: Needs, low: Needs, need: str) -> tuple[tuple[str, float], ...]:
    def of(needs: Needs) -> dict[str, float]:
        start = f"{need}: "
        return {
            f.id.removeprefix(start): f.per_day for f in needs.figures if f.id.startswith(start)
        }

    a, b = of(high), of(low)
    if TOGETHER in a or TOGETHER in b:
        a, b = _gain_and_lambs(a), _gain_and_lambs(b)
    names = list(dict.fromkeys([*a, *b]))
    apart = [(name, a.get(name, 0.0) - b.get(name, 0.0)) for name in names]
    return tuple(sorted((p for p in apart if p[1]), key=lambda p: -abs(p[1])))


def _gain_and_lambs(parts: dict[str, float]) -> dict[str, float]:
    """The same parts, gain and lambs inside in one."""
    apart = ("for the gain", "for the lambs inside", TOGETHER)
    rest = {name: amount for name, amount in parts.items() if name not in apart}
    return {**rest, TOGETHER: sum(parts.get(name, 0.0) for name in apart)}


def _why(need: str, high: Needs, low: Needs, parts: tuple[tuple[str, float], ...]) -> str:
    if need in ("calcium", "phosphorus"):
        return _why_of_lime(need, high, low)
    larger = high.me_mj_per_day - low.me_mj_per_day
    causes = [
        name for name, amount in parts if amount * larger > 0 and (name, high.standard) in BECAUSE
    ]
    if not causes:
        return ""
    return "; ".join(
        f"{in_words_standard(s)}: {BECAUSE[causes[0], s]}"
        for s in (high.standard, low.standard)
        if (causes[0], s) in BECAUSE
    )


def _why_of_lime(need: str, high: Needs, low: Needs) -> str:
    """Why calcium or phosphorus differ: by rule, or by the dry matter that one rule goes with."""
    if {high.standard, low.standard} == SHARED_LIME:
        return (
            "both go by the same rule, which rises with the dry matter eaten: "
            f"{high.dmi_kg_per_day:.2f} against {low.dmi_kg_per_day:.2f} kg DM on this feed"
        )
    by_content = {n.standard for n in (high, low) if "N-S5" in n.figure(need).source}

    def words(standard: str) -> str:
        if standard in by_content:
            return "a content of the dry matter, tabulated after NRC (2007)"
        return NRC_ROW if by_content else BECAUSE[need, standard]

    return "; ".join(f"{in_words_standard(n.standard)}: {words(n.standard)}" for n in (high, low))


def in_one_line(error: InputError) -> str:
    """Why a standard does not cover some sheep."""
    return "; ".join(
        ": ".join(part for part in (p.read, p.allowed) if part) for p in error.problems
    )
