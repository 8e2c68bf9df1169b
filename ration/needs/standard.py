"""The form every standard takes here, and the promises the optimiser rests on.

Energy need depends on the diet itself (q, ME over gross energy) and protein supply on the feeding
level (L, ME eaten over maintenance ME), so a standard is offered as functions, not numbers. A new
one fills in the methods below and keeps the promises their docstrings make about which way each
moves; `tests/lp/test_search.py` asserts them for every standard of the registry.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ration.animals import Batch
from ration.errors import OutOfRange, Problem
from ration.needs.records import (
    INTAKE_SHARE_OF_WEIGHT,
    Array,
    Chemistry,
    Eaten,
    Figure,
    Needs,
    Protein,
    Supply,
)
from ration.standards import MARGINS, afrc1991, afrc1993
from ration.standards.intake import Appetite, Prediction

LATE_PREGNANCY_DAY = 105  # the last six weeks


@dataclass(frozen=True)
class Standard(ABC):
    """A published standard for one batch, as functions of diet quality q and feeding level L.

    Parameters
    ----------
    batch : Batch
        The sheep.
    margin : float
        Multiplier on energy and protein need. [-]
    maintenance : float
        Multiplier on maintenance. [-] 1.0 is the standard.
    recycled_n_share : float
        Degradable protein credited for nitrogen that comes back to the rumen. [-] 0 is the
        standard.
    """

    batch: Batch
    margin: float = 1.0
    maintenance: float = 1.0
    recycled_n_share: float = 0.0

    name: ClassVar[str]
    protein: ClassVar[Protein]
    quality: ClassVar[tuple[float, float]] = afrc1993.QUALITY
    quality_trusted: ClassVar[tuple[float, float]] = afrc1993.QUALITY_TRUSTED
    level: ClassVar[tuple[float, float]] = (0.2, afrc1993.LEVEL[1])
    gross_energy_mj_per_kg_dm: ClassVar[float]

    @property
    def protein_slope_g_per_kg_dm(self) -> float:
        """Protein that each kg of dry matter eaten takes, margin included. [g/kg DM]"""
        return 0.0

    def covered(self) -> None:  # noqa: B027 - a standard may cover all that a batch can be
        """Refuse sheep and gains that the standard does not cover, with `OutOfRange`."""

    @property
    def is_by_the_book(self) -> bool:
        """No switch is on."""
        return self.maintenance == 1.0 and self.recycled_n_share == 0.0

    # ---- energy

    @abstractmethod
    def me_need(self, q: Array, gain_g_per_day: float | Array | None = None) -> Array:
        """ME needed, margin and cold included [MJ/day]; inf where no intake supports the gain.

        Never rises with q, is convex in q, and rises with the gain.
        """

    @abstractmethod
    def maintenance_me(self, q: Array) -> Array:
        """ME to stand still, no margin, no cold [MJ/day]. Never rises with q."""

    @abstractmethod
    def gain_from_me(self, me_mj_per_day: float, q: float, margin: float | None = None) -> float:
        """Gain that an ME intake allows [g/day]: `me_need` turned round, at a margin."""

    def most_gain(self, q: float) -> float | None:
        """Gain that no amount of a diet of quality q reaches [g/day]; None: no such limit."""
        return None

    def gross_energy(self, own_mj_per_kg_dm: float | None) -> float:
        """Gross energy of a feed's dry matter that q is worked with. [MJ/kg DM].

        The standard's constant here; q is then the M/D of the diet over that constant.
        """
        return self.gross_energy_mj_per_kg_dm

    # ---- protein, in the standard's own kind

    @abstractmethod
    def protein_need(self, gain_g_per_day: float | None = None) -> float:
        """Protein needed, margin included, less what goes with dry matter eaten [g/day].

        The whole need is this plus `protein_slope_g_per_kg_dm` times the dry matter;
        `protein_value` is less the same slope, so the row of the two is right.
        """

    @abstractmethod
    def protein_value(self, chemistry: Chemistry, level: Array) -> tuple[Array, Array]:
        """Protein per kg DM of each feed, less the slope, by two limits.

        The whole diet's protein is the smaller of the two sums, so each is a row of its own; a
        standard with one limit gives it twice.

        Parameters
        ----------
        chemistry : Chemistry
            One value a feed.
        level : array (K,)
            Feeding levels. [-]

        Returns
        -------
        tuple of array (K, n)
            By degradable protein; by energy for the microbes. [g/kg DM]
        """

    def kindest_protein_value(
        self, chemistry: Chemistry, level_lo: Array, level_hi: Array
    ) -> tuple[Array, Array]:
        """An upper bound of `protein_value` over the levels between lo and hi, feed by feed.

        The larger of the two ends. By degradable protein a value falls with the level while the
        undegraded part is floored at 0 and rises after: it bends upward in what is broken down, so
        its largest is at an end. By energy it only rises. A standard that behaves otherwise has to
        say so here; `tests/lp/test_standards.py` looks.
        """
        ends = self.protein_value(chemistry, level_lo), self.protein_value(chemistry, level_hi)
        (n_lo, e_lo), (n_hi, e_hi) = ends
        return np.maximum(n_lo, n_hi), np.maximum(e_lo, e_hi)

    @abstractmethod
    def protein_supply(self, eaten: Sequence[Eaten], level: float) -> Supply:
        """Protein that a whole diet supplies: plain sums, nothing shared with the two above."""

    @abstractmethod
    def gain_from_protein(
        self, protein_g_per_day: float, dmi_kg_per_day: float, margin: float | None = None
    ) -> float:
        """Gain that a supply of protein allows [g/day], at a margin."""

    # ---- calcium and phosphorus

    def breeding_content(self) -> tuple[float, float] | None:
        """Calcium and phosphorus that the diet should hold late in lamb and in milk [g/kg DM].

        By NRC (2007): what AFRC (1991) asks for unborn lambs and milk is not on file, and its
        growth alone would starve the bones of a ewe near lambing. None for other sheep.
        """
        b = self.batch
        if b.milk_kg_per_day:
            return afrc1991.breeding_content_g_per_kg_dm("lactation")
        if b.days_pregnant is not None and b.days_pregnant > LATE_PREGNANCY_DAY:
            return afrc1991.breeding_content_g_per_kg_dm("late pregnancy")
        return None

    def ca_line(self) -> tuple[float, float]:
        """Calcium need: constant [g/day] and slope [g/kg DM eaten]."""
        b, content = self.batch, self.breeding_content()
        if content is not None:
            return 0.0, content[0]
        return afrc1991.ca_line(b.weight_kg, b.mature_weight_kg, max(b.gain_g_per_day, 0.0))

    def p_line(self) -> tuple[float, float]:
        """Phosphorus need on a hay diet: constant [g/day] and slope [g/kg DM eaten]."""
        b, content = self.batch, self.breeding_content()
        if content is not None:
            return 0.0, content[1]
        return afrc1991.p_line(b.weight_kg, b.mature_weight_kg, max(b.gain_g_per_day, 0.0))

    def mineral_figures(self, dmi_kg_per_day: float) -> tuple[Figure, Figure]:
        """Calcium and phosphorus by `ca_line` and `p_line`, with mark and source."""
        by_content = self.breeding_content() is not None
        known = ("restated", "N-S5") if by_content else ("memory", "AFRC-1991")
        (ca0, ca1), (p0, p1) = self.ca_line(), self.p_line()
        return (
            Figure("calcium", "g", max(ca0 + ca1 * dmi_kg_per_day, 0.0), *known),
            Figure("phosphorus", "g", max(p0 + p1 * dmi_kg_per_day, 0.0), *known),
        )

    # ---- the needs on one diet

    @abstractmethod
    def figures(self, q: float, dmi_kg_per_day: float) -> tuple[Figure, ...]:
        """Every need and its parts on a diet of quality q, with mark and source."""

    @abstractmethod
    def method(self, q: float, level: float, dmi_kg_per_day: float) -> str:
        """How the needs were worked, one sentence."""

    def notes(self, q: float) -> list[str]:
        """What the reader should know about the needs at quality q, in whole sentences."""
        return []

    def breeding_notes(self) -> list[str]:
        """What is not fed for, and what stands in, in sheep in lamb or in milk."""
        b, notes = self.batch, []
        if b.days_pregnant is not None and b.litter_kg is None:
            notes.append(
                "In lamb, but no litter weight is given: the lambs inside are not fed for."
            )
        if self.breeding_content() is not None:
            notes.append(
                "Calcium and phosphorus for lambs inside and for milk are not on file as it has "
                "them: contents of the diet tabulated after NRC (2007) stand in."
            )
        return notes

    def at(
        self,
        md_mj_per_kg_dm: float,
        *,
        dmi_kg_per_day: float | None = None,
        intake_share_of_weight: tuple[float, float] = INTAKE_SHARE_OF_WEIGHT,
    ) -> Needs:
        """The needs on a diet of one quality.

        Parameters
        ----------
        md_mj_per_kg_dm : float
            ME of the diet's dry matter. [MJ/kg DM]
        dmi_kg_per_day : float or None
            Dry matter for the needs that go with it; None takes what meets the ME need.
        intake_share_of_weight : tuple of float
            Band of dry matter as share of live weight. [-]

        Raises
        ------
        OutOfRange
            The diet is outside what the standard covers, or cannot support the gain.
        """
        ge = self.gross_energy_mj_per_kg_dm
        lo, hi = (s * ge for s in self.quality)
        if not lo <= md_mj_per_kg_dm <= hi:
            raise OutOfRange(
                Problem(
                    "", f"diet energy {md_mj_per_kg_dm:g} MJ/kg DM", f"{lo:.1f} to {hi:.1f} covered"
                )
            )
        q = md_mj_per_kg_dm / ge
        me = self.exact_me(q)
        standing = float(self.maintenance_me(_one(q))[0])
        dmi = me / md_mj_per_kg_dm if dmi_kg_per_day is None else dmi_kg_per_day
        (ca0, ca1), (p0, p1) = self.ca_line(), self.p_line()
        b = self.batch
        notes = self.notes(q)
        if self.recycled_n_share:
            notes.append(
                "The credit for recycled nitrogen counts in what feeds bring (ration mix, ration "
                "assess); it moves no need."
            )
        if dmi > intake_share_of_weight[1] * b.weight_kg:
            notes.append(
                f"They would have to eat {dmi:.2f} kg DM, more than the "
                f"{intake_share_of_weight[1]:.1%} of live weight that is expected."
                if dmi_kg_per_day is None
                else f"{dmi:.2f} kg DM is more than the {intake_share_of_weight[1]:.1%} of "
                "live weight that is expected."
            )
        return Needs(
            standard=self.name,
            q=q,
            md_mj_per_kg_dm=md_mj_per_kg_dm,
            me_mj_per_day=me,
            protein_kind=self.protein.kind,
            protein_g_per_day=self.protein_need() + self.protein_slope_g_per_kg_dm * dmi,
            ca_g_per_day=max(ca0 + ca1 * dmi, 0.0),
            p_g_per_day=max(p0 + p1 * dmi, 0.0),
            dmi_kg_per_day=dmi,
            dmi_kg_per_day_min=intake_share_of_weight[0] * b.weight_kg,
            dmi_kg_per_day_max=intake_share_of_weight[1] * b.weight_kg,
            margin=self.margin,
            maintenance=self.maintenance,
            maintenance_me_mj_per_day=standing,
            feeding_level=me / standing,
            most_gain_g_per_day=self.most_gain(q),
            coarse_intake_kg_dm_per_day=afrc1993.coarse_intake_kg_dm_per_day(b.weight_kg, q),
            appetites=() if b.is_grown else _appetites(b, md_mj_per_kg_dm),
            figures=self.figures(q, dmi),
            method=self.method(q, me / standing, dmi),
            notes=tuple(notes),
        )

    def exact_me(self, q: float) -> float:
        """ME need at one quality; raises where no intake supports the gain. [MJ/day]"""
        return float(self.me_need(_one(q))[0])

    def cold(self) -> tuple[Figure, ...]:
        """The part of the energy need that is for cold, wind and wet, if any."""
        cold = self.batch.cold_me_mj_per_day
        if not cold:
            return ()
        return (Figure("energy: for cold, wind and wet", "MJ ME", cold, "memory", "CSIRO-2007"),)

    def intake_figure(self) -> Figure:
        """The middle of the expected band of dry matter."""
        share = sum(INTAKE_SHARE_OF_WEIGHT) / 2
        return Figure("dry matter", "kg DM", share * self.batch.weight_kg, "practice", "")


def _appetites(batch: Batch, md_mj_per_kg_dm: float) -> tuple[Prediction, ...]:
    """Every published prediction of intake of growing sheep on a diet of one quality.

    Digestibility is read off the energy by the Australian line for forage (`feed_equations`).
    """
    digestible = (md_mj_per_kg_dm + 1.707) / 17.2
    return Appetite(
        batch.weight_kg,
        q=md_mj_per_kg_dm / afrc1993.GROSS_ENERGY_MJ_PER_KG_DM,
        digestibility_share=min(max(digestible, 0.3), 0.85),
        srw_kg=batch.mature_weight_kg,
    ).predictions()


def _one(q: float) -> Array:
    return np.array([q])


def margin_of(standard: str, margin: float | None) -> float:
    """The margin asked for, else the standard's own. [-]"""
    return MARGINS[standard] if margin is None else margin
