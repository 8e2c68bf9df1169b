"""NRC (1985) for one batch: energy and minerals by table, crude protein by its factors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar

import numpy as np

from ration.needs.records import CRUDE_LIMIT, Array, Chemistry, Eaten, Figure, Protein, Supply
from ration.needs.standard import Standard
from ration.standards import MARGINS, nrc1985
from ration.standards.afrc1993 import QUALITY

LATE_GESTATION_DAY = 119  # the last four weeks
_SLOPE = nrc1985.faecal_protein_g_per_day(1.0) / nrc1985.NET_PROTEIN_VALUE


@dataclass(frozen=True)
class Nrc(Standard):
    """NRC (1985) for one batch: its needs do not move with the quality of the diet."""

    margin: float = MARGINS["NRC 1985"]

    name: ClassVar[str] = "NRC 1985"
    protein: ClassVar[Protein] = Protein("CP", "crude protein")
    quality_trusted: ClassVar[tuple[float, float]] = QUALITY
    gross_energy_mj_per_kg_dm: ClassVar[float] = 18.45

    @property
    def protein_slope_g_per_kg_dm(self) -> float:
        """Crude protein that each kg of dry matter eaten takes. [g/kg DM]"""
        return self.margin * _SLOPE

    # ---- the sheep as the table wants them

    @property
    def state(self) -> str | None:
        """Stage of the table: None for dry or growing sheep."""
        b = self.batch
        if b.milk_kg_per_day:
            return "lactation"
        if b.days_pregnant is None:
            return None
        return "late gestation" if b.days_pregnant > LATE_GESTATION_DAY else "early gestation"

    def _ewe(self) -> dict[str, Any]:
        return {"state": self.state, "lambs": self.batch.lambs or 1.0}

    def _protein(self) -> dict[str, Any]:
        b = self.batch
        return {
            **self._ewe(),
            "milk_kg_per_day": b.milk_kg_per_day or None,
            "mature_weight_kg": b.mature_weight_kg,
        }

    @cached_property
    def _line(self) -> tuple[float, float]:
        """ME at no gain and ME per g of gain, the multiplier on what standing still takes in."""
        b = self.batch
        constant, per_g = nrc1985.energy_line(b.weight_kg, b.sheep_class, **self._ewe())
        constant = max(constant, self._still)  # remembered rows of ewe lambs in lamb ask less
        return constant + (self.maintenance - 1) * self._still, per_g

    @cached_property
    def _still(self) -> float:
        """ME of the same sheep neither gaining nor in lamb. [MJ/day]"""
        return nrc1985.energy_line(self.batch.weight_kg, self.batch.sheep_class)[0]

    def covered(self) -> None:
        """Refuse sheep and gains that the table has no rows for."""
        b = self.batch
        nrc1985.growing_me_mj_per_day(b.weight_kg, b.gain_g_per_day, b.sheep_class, **self._ewe())

    # ---- energy

    def me_need(self, q: Array, gain_g_per_day: float | Array | None = None) -> Array:
        """ME needed, margin and cold included [MJ/day]; the same at every quality."""
        gain = self.batch.gain_g_per_day if gain_g_per_day is None else gain_g_per_day
        constant, per_g = self._line
        need = self.margin * (constant + per_g * np.asarray(gain, dtype=float))
        return np.asarray(need + self.batch.cold_me_mj_per_day + np.zeros_like(q))

    def maintenance_me(self, q: Array) -> Array:
        """ME to stand still, no margin [MJ/day]."""
        return np.full_like(q, self.maintenance * self._still, dtype=float)

    def gain_from_me(self, me_mj_per_day: float, q: float, margin: float | None = None) -> float:
        """Gain that an ME intake allows [g/day], on the same straight line."""
        constant, per_g = self._line
        me = (me_mj_per_day - self.batch.cold_me_mj_per_day) / (
            self.margin if margin is None else margin
        )
        return (me - constant) / per_g

    # ---- protein

    def _cp_line(self, gain_g_per_day: float) -> tuple[float, float]:
        b = self.batch
        return nrc1985.cp_need_line(b.weight_kg, gain_g_per_day, b.sheep_class, **self._protein())

    def protein_need(self, gain_g_per_day: float | None = None) -> float:
        """Crude protein needed, margin included, less what goes with dry matter [g/day]."""
        gain = self.batch.gain_g_per_day if gain_g_per_day is None else gain_g_per_day
        return self.margin * self._cp_line(gain)[0]

    def protein_value(self, chemistry: Chemistry, level: Array) -> tuple[Array, Array]:
        """Crude protein per kg DM of each feed, less the slope; one limit, given twice."""
        value = np.broadcast_to(
            chemistry.cp[None] - self.protein_slope_g_per_kg_dm, (len(level), len(chemistry.cp))
        )
        return value, value

    def protein_supply(self, eaten: Sequence[Eaten], level: float) -> Supply:
        """Crude protein of a whole diet."""
        return Supply(sum(e.kg_dm * e.cp for e in eaten), CRUDE_LIMIT)

    def gain_from_protein(
        self, protein_g_per_day: float, dmi_kg_per_day: float, margin: float | None = None
    ) -> float:
        """Gain that a supply of crude protein allows [g/day]."""
        b = self.batch
        cp = protein_g_per_day / (self.margin if margin is None else margin)
        return nrc1985.gain_from_cp_g_per_day(
            b.weight_kg, cp, dmi_kg_per_day, b.sheep_class, **self._protein()
        )

    # ---- calcium and phosphorus

    def _minerals(self) -> tuple[float, float, float, float]:
        b = self.batch
        return nrc1985.mineral_line(b.weight_kg, b.sheep_class, **self._ewe())

    def ca_line(self) -> tuple[float, float]:
        """Calcium need of the table; it does not move with intake."""
        constant, per_g, _, _ = self._minerals()
        return max(constant + per_g * self.batch.gain_g_per_day, 0.0), 0.0

    def p_line(self) -> tuple[float, float]:
        """Phosphorus need of the table; it does not move with intake."""
        _, _, constant, per_g = self._minerals()
        return max(constant + per_g * self.batch.gain_g_per_day, 0.0), 0.0

    # ---- the needs on one diet

    @property
    def _marks(self) -> frozenset[str]:
        b = self.batch
        return nrc1985.row_marks(b.sheep_class, **self._ewe(), weight_kg=b.weight_kg)

    def figures(self, q: float, dmi_kg_per_day: float) -> tuple[Figure, ...]:
        """Every need and its parts, with mark and source."""
        b = self.batch
        mark = "memory" if "memory" in self._marks else "derived"
        me, cp = self.exact_me(q), self.protein_need() / self.margin
        book = (me - b.cold_me_mj_per_day) / self.margin
        still = self.maintenance * self._still
        state = self.state
        rest = {
            None: "for the gain",
            "lactation": "for milk and weight change",
        }.get(state, "for the gain and the lambs inside")
        eaten = _SLOPE * dmi_kg_per_day
        vitamin_a = nrc1985.vitamin_a_iu_per_day(b.weight_kg, b.sheep_class, **self._ewe())
        vitamin_e = nrc1985.vitamin_e_iu_per_day(dmi_kg_per_day, b.weight_kg)
        key = "NRC-1985, N-S1"
        return (
            Figure("energy", "MJ ME", me, mark, key),
            Figure("energy: to stand still", "MJ ME", still, "derived", key),
            Figure(f"energy: {rest}", "MJ ME", book - still, mark, key),
            Figure("energy: safety margin", "MJ ME", (self.margin - 1) * book, "practice", ""),
            *self.cold(),
            Figure("protein", self.protein.unit, self.margin * (cp + eaten), "memory", key),
            Figure("protein: with the dry matter eaten", "g CP", eaten, "memory", key),
            Figure("protein: all else, fleece and gain", "g CP", cp, "memory", key),
            Figure(
                "protein: safety margin", "g CP", (self.margin - 1) * (cp + eaten), "practice", ""
            ),
            Figure("calcium", "g", self.ca_line()[0], mark, key),
            Figure("phosphorus", "g", self.p_line()[0], mark, key),
            Figure("vitamin A", "IU", vitamin_a, "derived", key),
            Figure("vitamin E", "IU", vitamin_e, "derived", key),
            self.intake_figure(),
        )

    def method(self, q: float, level: float, dmi_kg_per_day: float) -> str:
        """How the needs were worked."""
        stage = self.state or ("growing" if not self.batch.is_grown else "dry")
        return (
            f"NRC (1985), Table 1 ({stage}), straight between its rows; crude protein by its "
            f"factors at {dmi_kg_per_day:.2f} kg DM."
        )

    def notes(self, q: float) -> list[str]:
        """What the reader should know about these needs."""
        b, notes = self.batch, []
        if "memory" in self._marks:
            notes.append("The rows used for this class are remembered, not read in print.")
        if self.state is not None and b.lambs is None:
            notes.append("Its rows go by lambs a ewe, and nobody has said how many: one is taken.")
        if b.milk_kg_per_day:
            notes.append(
                "Its energy is that of the row for one lamb or for twins, whatever the milk; only "
                "its protein goes by the milk given."
            )
        if b.housing != "shed" or b.walk_km_per_day or b.climb_km_per_day:
            notes.append("Its table has no allowance for walking, hill or keep.")
        if self.recycled_n_share:
            notes.append("It counts crude protein: recycled nitrogen is not credited.")
        if b.sheep_class == "ewe-lamb" and self.state is None:
            notes.append(
                "At its rows' own gains (100 to 227 g a day) it asks 14 to 29 % less energy than "
                "CSIRO (2007): do not plan a hill winter on it alone."
            )
        return notes
