"""CSIRO (2007) for one batch: its own efficiencies, gain by relative size, protein as DPLS."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np

from ration.errors import OutOfRange, Problem
from ration.needs.records import (
    FERMENT_LIMIT,
    RUMEN_LIMIT,
    Array,
    Chemistry,
    Eaten,
    Figure,
    Protein,
    Supply,
)
from ration.needs.standard import Standard
from ration.standards import MARGINS, afrc1993, csiro2007

USUAL_AGE_YEARS = {"ewe": 4.0, "gimmer": 1.5, "wether": 1.5, "tup": 1.5}
LAMB_AGE_YEARS = 0.7
MILK_PROTEIN_G_PER_KG = 48.9  # true protein of ewes' milk as AFRC has it; CSIRO's not on file
_MICROBES = csiro2007.MICROBIAL_DIGESTIBLE_SHARE
_LEAST_RATE = 1e-6
_FAECAL = csiro2007.FAECAL_G_PER_KG_DMI / csiro2007.EFFICIENCY


@dataclass(frozen=True)
class Csiro(Standard):
    """CSIRO (2007) for one batch, as functions of diet quality q and feeding level L.

    Its equations read M/D; here M/D is q times one gross energy for all feeds. Outflow and
    microbial yield are AFRC's: its own are remembered with little confidence.
    """

    margin: float = MARGINS["CSIRO 2007"]

    name: ClassVar[str] = "CSIRO 2007"
    protein: ClassVar[Protein] = Protein("DPLS", "digestible protein leaving the stomach")
    gross_energy_mj_per_kg_dm: ClassVar[float] = csiro2007.GROSS_ENERGY_MJ_PER_KG_DM

    @property
    def protein_slope_g_per_kg_dm(self) -> float:
        """DPLS that each kg of dry matter eaten takes. [g/kg DM]"""
        return self.margin * _FAECAL

    # ---- the sheep as the equations want them

    def _walking(self) -> float:
        b = self.batch
        if b.walk_km_per_day is not None or b.climb_km_per_day is not None:
            return csiro2007.distance_net_mj_per_day(
                b.weight_kg, b.walk_km_per_day or 0.0, b.climb_km_per_day or 0.0
            )
        return csiro2007.place_net_mj_per_day(b.weight_kg, b.housing)

    def _standing(self) -> dict[str, Any]:
        b = self.batch
        age = b.age_years
        if age is None:
            age = LAMB_AGE_YEARS if b.under_one_year else USUAL_AGE_YEARS.get(b.sheep_class, 1.5)
        return {
            "sex": b.sex,
            "age_years": age,
            "walking_net_mj_per_day": self._walking(),
            "maintenance": self.maintenance,
        }

    def _animal(self) -> dict[str, Any]:
        b = self.batch
        inside = b.is_in_lamb
        return {
            **self._standing(),
            "srw_kg": b.mature_weight_kg,
            "days_pregnant": b.days_pregnant if inside else None,
            "litter_kg": b.litter_kg if inside else None,
            "milk_kg_per_day": b.milk_kg_per_day,
        }

    def _protein(self) -> dict[str, float]:
        b = self.batch
        inside = 0.0
        if b.days_pregnant is not None and b.litter_kg is not None:
            inside = afrc1993.pregnancy_net_protein_g_per_day(b.days_pregnant, b.litter_kg)
        return {
            "srw_kg": b.mature_weight_kg,
            "conceptus_protein_g_per_day": inside,
            "milk_protein_g_per_day": MILK_PROTEIN_G_PER_KG * b.milk_kg_per_day,
        }

    def covered(self) -> None:
        """Refuse a planned loss: its equations here are of gain."""
        if self.batch.gain_g_per_day < 0:
            raise OutOfRange(
                Problem(
                    self.batch.name,
                    f"a planned loss of {-self.batch.gain_g_per_day:g} g a day",
                    "CSIRO (2007) is offered here for gains of 0 and more",
                    "Use AFRC 1993 for ewes that milk off their backs",
                )
            )

    # ---- energy

    def me_need(self, q: Array, gain_g_per_day: float | Array | None = None) -> Array:
        """ME needed, margin and cold included [MJ/day]. Falls as q rises."""
        b = self.batch
        gain = b.gain_g_per_day if gain_g_per_day is None else gain_g_per_day
        need = csiro2007.me_need_mj_per_day(
            b.weight_kg,
            np.asarray(gain, dtype=float),
            q * self.gross_energy_mj_per_kg_dm,
            **self._animal(),
        )
        return np.asarray(self.margin * need + b.cold_me_mj_per_day)

    def maintenance_me(self, q: Array) -> Array:
        """ME to stand still, no margin [MJ/day]. Falls as q rises."""
        return csiro2007.maintenance_me_mj_per_day(
            self.batch.weight_kg, q * self.gross_energy_mj_per_kg_dm, **self._standing()
        )

    def gain_from_me(self, me_mj_per_day: float, q: float, margin: float | None = None) -> float:
        """Gain that an ME intake allows [g/day]; below maintenance a direction, not a figure."""
        b = self.batch
        me = (me_mj_per_day - b.cold_me_mj_per_day) / (self.margin if margin is None else margin)
        return csiro2007.gain_from_me_g_per_day(
            b.weight_kg, max(me, 0.0), q * self.gross_energy_mj_per_kg_dm, **self._animal()
        )

    # ---- protein

    def protein_need(self, gain_g_per_day: float | None = None) -> float:
        """DPLS needed, margin included, less what goes with dry matter [g/day]."""
        b = self.batch
        gain = b.gain_g_per_day if gain_g_per_day is None else gain_g_per_day
        constant, _ = csiro2007.protein_need_line(b.weight_kg, gain, **self._protein())
        return self.margin * constant

    def protein_value(self, chemistry: Chemistry, level: Array) -> tuple[Array, Array]:
        """DPLS per kg DM of each feed, less the slope, by degradable protein and by energy."""
        c = chemistry
        flow = afrc1993.outflow_per_h(level)[:, None]
        cp = c.cp[None]
        rate = np.maximum(c.c, _LEAST_RATE)[None]
        broken = csiro2007.rumen_degraded_g_per_kg_dm(cp, c.a[None], c.b[None], rate, flow)
        past = csiro2007.undegraded_digestible_g_per_kg_dm(
            np.broadcast_to(cp, broken.shape), broken, np.broadcast_to(c.adin[None], broken.shape)
        )
        less = past - self.protein_slope_g_per_kg_dm
        energy = afrc1993.microbial_yield_g_per_mj(level)[:, None] * c.me[None]
        return _MICROBES * (1 + self.recycled_n_share) * broken + less, _MICROBES * energy + less

    def protein_supply(self, eaten: Sequence[Eaten], level: float) -> Supply:
        """DPLS of a whole diet, with its parts."""
        flow = afrc1993.outflow_per_h(level)
        broken = past = energy = 0.0
        for e in eaten:
            energy += e.kg_dm * e.me
            if e.cp > 0:
                rate = max(e.c, _LEAST_RATE)  # urea has nothing that is broken down slowly
                degraded = csiro2007.rumen_degraded_g_per_kg_dm(e.cp, e.a, e.b, rate, flow)
                broken += e.kg_dm * degraded
                past += e.kg_dm * csiro2007.undegraded_digestible_g_per_kg_dm(
                    e.cp, degraded, e.adin
                )
        by_energy = afrc1993.microbial_yield_g_per_mj(level) * energy
        usable = broken * (1 + self.recycled_n_share)
        return Supply(
            _MICROBES * min(usable, by_energy) + past,
            RUMEN_LIMIT if usable <= by_energy else FERMENT_LIMIT,
            (
                ("degraded_g_per_day", broken),
                ("recycled_g_per_day", usable - broken),
                ("microbes_could_use_g_per_day", by_energy),
                ("undegraded_digestible_g_per_day", past),
            ),
        )

    def gain_from_protein(
        self, protein_g_per_day: float, dmi_kg_per_day: float, margin: float | None = None
    ) -> float:
        """Gain that a supply of DPLS allows [g/day]."""
        dpls = protein_g_per_day / (self.margin if margin is None else margin)
        return csiro2007.gain_from_dpls_g_per_day(
            self.batch.weight_kg, dpls, dmi_kg_per_day, **self._protein()
        )

    # ---- the needs on one diet

    def _protein_without(self, **changed: Any) -> float:
        """DPLS of the same sheep without some of what she does, no margin [g/day]."""
        return replace(self, batch=replace(self.batch, **changed)).protein_need() / self.margin

    def figures(self, q: float, dmi_kg_per_day: float) -> tuple[Figure, ...]:
        """Every need and its parts, with mark and source."""
        b = self.batch
        me = self.exact_me(q)
        still = float(self.maintenance_me(np.array([q]))[0])
        book = (me - b.cold_me_mj_per_day) / self.margin
        inside = 0.0
        if b.is_in_lamb:
            inside = csiro2007.pregnancy_me_mj_per_day(b.days_pregnant, b.litter_kg)
        rest = "for milk and weight change" if b.milk_kg_per_day else "for the gain"
        dpls, eaten = self.protein_need() / self.margin, _FAECAL * dmi_kg_per_day
        idle_in_lamb = self._protein_without(gain_g_per_day=0.0, milk_kg_per_day=0.0)
        idle = self._protein_without(gain_g_per_day=0.0, milk_kg_per_day=0.0, days_pregnant=None)
        unborn = idle_in_lamb - idle
        parts = [
            Figure("energy", "MJ ME", me, "restated", "N-S7, N-S8"),
            Figure("energy: to stand still", "MJ ME", still, "restated", "N-S6, N-S7"),
            Figure(f"energy: {rest}", "MJ ME", book - still - inside, "restated", "N-S7, N-S8"),
        ]
        if inside:
            parts.append(
                Figure("energy: for the lambs inside", "MJ ME", inside, "restated", "N-S7")
            )
        return (
            *parts,
            Figure("energy: safety margin", "MJ ME", (self.margin - 1) * book, "practice", ""),
            *self.cold(),
            Figure(
                "protein", self.protein.unit, self.margin * (dpls + eaten), "memory", "CSIRO-2007"
            ),
            Figure("protein: with the dry matter eaten", "g DPLS", eaten, "memory", "CSIRO-2007"),
            Figure(
                "protein: to stand still, fleece included", "g DPLS", idle, "memory", "CSIRO-2007"
            ),
            *(
                [Figure("protein: for the lambs inside", "g DPLS", unborn, "memory", "CSIRO-2007")]
                if inside
                else []
            ),
            Figure(f"protein: {rest}", "g DPLS", dpls - idle_in_lamb, "memory", "CSIRO-2007"),
            Figure(
                "protein: safety margin",
                "g DPLS",
                (self.margin - 1) * (dpls + eaten),
                "practice",
                "",
            ),
            *self.mineral_figures(dmi_kg_per_day),
            self.intake_figure(),
        )

    def method(self, q: float, level: float, dmi_kg_per_day: float) -> str:
        """How the needs were worked."""
        return (
            f"CSIRO (2007), grown weight {self.batch.mature_weight_kg:g} kg, M/D "
            f"{q * self.gross_energy_mj_per_kg_dm:.1f}, level {level:.2f}; calcium and phosphorus "
            + (
                "by content as NRC (2007)"
                if self.breeding_content()
                else "AFRC (1991), whose factors it follows,"
            )
            + f" at {dmi_kg_per_day:.2f} kg DM."
        )

    def notes(self, q: float) -> list[str]:
        """What the reader should know about these needs."""
        return [
            "Its protein account is from memory, and microbial yield and outflow are AFRC's "
            "(1993): trust its energy more than its protein.",
            *self.breeding_notes(),
        ]
