"""AFRC (1993) for one batch, with AFRC (1991) for calcium and phosphorus."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf
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
from ration.standards import MARGINS, afrc1993

_ENERGY_SOURCE = "AFRC-1993, A-S7"


@dataclass(frozen=True)
class Afrc(Standard):
    """AFRC (1993) for one batch, as functions of diet quality q and feeding level L."""

    margin: float = MARGINS["AFRC 1993"]

    name: ClassVar[str] = "AFRC 1993"
    protein: ClassVar[Protein] = Protein("MP", "metabolisable protein")
    gross_energy_mj_per_kg_dm: ClassVar[float] = afrc1993.GROSS_ENERGY_MJ_PER_KG_DM

    def covered(self) -> None:
        """Refuse milk of a sheep that is fed as a growing one: the equations leave it out."""
        b = self.batch
        if b.milk_kg_per_day and not b.is_grown:
            raise OutOfRange(
                Problem(
                    b.name,
                    f"{b.milk_kg_per_day:g} kg of milk a day from class {b.sheep_class}",
                    "AFRC (1993) is worked for the milk of grown ewes",
                    "Feed her as class ewe",
                )
            )

    # ---- the animal as the equations want it

    def _activity(self) -> float | None:
        """Activity allowance where it is not the lamb's own of its place. [MJ/day]"""
        b = self.batch
        if b.walk_km_per_day is not None or b.climb_km_per_day is not None:
            still = afrc1993.activity_mj_per_day(b.weight_kg, "shed")
            return still + afrc1993.activity_from_distance_mj_per_day(
                b.weight_kg, b.walk_km_per_day or 0.0, b.climb_km_per_day or 0.0
            )
        if b.is_grown:
            kind = "ewe" if b.days_pregnant is None else "pregnant ewe"
            return afrc1993.activity_mj_per_day(b.weight_kg, b.housing, kind=kind)
        return None

    def _animal(self) -> dict[str, Any]:
        b = self.batch
        return {
            "sex": b.sex,
            "under_one_year": b.under_one_year,
            "housing": b.housing,
            "maintenance": self.maintenance,
            "activity_mj_per_day": self._activity(),
        }

    def _ewe(self) -> dict[str, Any]:
        b = self.batch
        return {
            "housing": b.housing,
            "milk_kg_per_day": b.milk_kg_per_day,
            **self._lamb_inside(),
            "maintenance": self.maintenance,
            "under_one_year": b.under_one_year,
            "activity_mj_per_day": self._activity(),
        }

    def _lamb_inside(self) -> dict[str, float | None]:
        b = self.batch
        if not b.is_in_lamb:
            return {"days_pregnant": None, "litter_kg": None}
        return {"days_pregnant": b.days_pregnant, "litter_kg": b.litter_kg}

    def _pregnancy_me(self) -> float:
        b = self.batch
        if b.days_pregnant is None or b.litter_kg is None:
            return 0.0
        return float(afrc1993.pregnancy_me_mj_per_day(b.days_pregnant, b.litter_kg))

    def _pregnancy_mp(self) -> float:
        b = self.batch
        if b.days_pregnant is None or b.litter_kg is None:
            return 0.0
        return float(afrc1993.pregnancy_mp_g_per_day(b.days_pregnant, b.litter_kg))

    # ---- energy

    def me_need(self, q: Array, gain_g_per_day: float | Array | None = None) -> Array:
        """ME needed, margin and cold included [MJ/day]; inf where no intake supports the gain."""
        b = self.batch
        gain = b.gain_g_per_day if gain_g_per_day is None else gain_g_per_day
        need: Array
        if b.is_grown:
            need = afrc1993.ewe_me_mj_per_day(
                b.weight_kg, q, gain_g_per_day=np.asarray(gain), **self._ewe()
            )
        else:
            need = afrc1993.growth_me_mj_per_day(
                b.weight_kg, np.asarray(gain), q, unsupported=inf, **self._animal()
            )
            need = need + self._pregnancy_me()
        return self.margin * need + b.cold_me_mj_per_day

    def exact_me(self, q: float) -> float:
        """ME need at one quality; raises, with the most gain, where none supports it. [MJ/day]"""
        b = self.batch
        if b.is_grown:
            return super().exact_me(q)
        need = afrc1993.growth_me_mj_per_day(b.weight_kg, b.gain_g_per_day, q, **self._animal())
        return self.margin * (need + self._pregnancy_me()) + b.cold_me_mj_per_day

    def maintenance_me(self, q: Array) -> Array:
        """ME to stand still, no margin [MJ/day]. Falls as q rises."""
        return afrc1993.maintenance_me_mj_per_day(self.batch.weight_kg, q, **self._animal())

    def gain_from_me(self, me_mj_per_day: float, q: float, margin: float | None = None) -> float:
        """Gain that an ME intake allows [g/day]; below maintenance a direction, not a figure."""
        b = self.batch
        me = (me_mj_per_day - b.cold_me_mj_per_day) / (self.margin if margin is None else margin)
        if b.is_grown:
            return afrc1993.ewe_gain_from_me_g_per_day(b.weight_kg, me, q, **self._ewe())
        return afrc1993.gain_from_me_g_per_day(
            b.weight_kg, me - self._pregnancy_me(), q, **self._animal()
        )

    def most_gain(self, q: float) -> float | None:
        """Gain that no amount of a diet of quality q reaches [g/day]."""
        b = self.batch
        if b.is_grown:
            return None
        return afrc1993.most_gain_g_per_day(b.weight_kg, q, **self._animal())

    def gross_energy(self, own_mj_per_kg_dm: float | None) -> float:
        """A feed's own gross energy where it has one. [MJ/kg DM]"""
        return self.gross_energy_mj_per_kg_dm if own_mj_per_kg_dm is None else own_mj_per_kg_dm

    # ---- protein

    def protein_need(self, gain_g_per_day: float | None = None) -> float:
        """MP needed, margin included [g/day]."""
        b = self.batch
        gain = b.gain_g_per_day if gain_g_per_day is None else gain_g_per_day
        if b.is_grown:
            mp = afrc1993.ewe_mp_g_per_day(
                b.weight_kg,
                gain_g_per_day=gain,
                milk_kg_per_day=b.milk_kg_per_day,
                **self._lamb_inside(),
            )
        else:
            mp = afrc1993.mp_need_g_per_day(b.weight_kg, gain, b.sex) + self._pregnancy_mp()
        return self.margin * mp

    def protein_value(self, chemistry: Chemistry, level: Array) -> tuple[Array, Array]:
        """MP per kg DM of each feed if degradable protein, or fermentable energy, is the limit."""
        c = chemistry
        flow = afrc1993.outflow_per_h(level)[:, None]
        cp, a, b, rate = c.cp[None], c.a[None], c.b[None], c.c[None]
        erdp = afrc1993.erdp_g_per_kg_dm(cp, a, b, rate, flow)  # type: ignore[arg-type]
        dup = afrc1993.dup_g_per_kg_dm(cp, a, b, rate, c.adin[None], flow)  # type: ignore[arg-type]
        energy = afrc1993.microbial_yield_g_per_mj(level)[:, None] * c.fme[None]
        return 0.6375 * (1 + self.recycled_n_share) * erdp + dup, 0.6375 * energy + dup

    def protein_supply(self, eaten: Sequence[Eaten], level: float) -> Supply:
        """MP of a whole diet, with its ERDP and DUP."""
        flow = afrc1993.outflow_per_h(level)
        erdp = dup = fme = 0.0
        for e in eaten:
            fme += e.kg_dm * e.fme
            if e.cp > 0:
                erdp += e.kg_dm * afrc1993.erdp_g_per_kg_dm(e.cp, e.a, e.b, e.c, flow)
                dup += e.kg_dm * afrc1993.dup_g_per_kg_dm(e.cp, e.a, e.b, e.c, e.adin, flow)
        by_ferment = afrc1993.microbial_yield_g_per_mj(level) * fme
        usable = erdp * (1 + self.recycled_n_share)
        return Supply(
            afrc1993.mp_supply_g_per_day(usable, fme, dup, level),
            RUMEN_LIMIT if usable <= by_ferment else FERMENT_LIMIT,
            (
                ("erdp_g_per_day", erdp),
                ("recycled_g_per_day", usable - erdp),
                ("microbes_could_use_g_per_day", by_ferment),
                ("dup_g_per_day", dup),
            ),
        )

    def gain_from_protein(
        self, protein_g_per_day: float, dmi_kg_per_day: float, margin: float | None = None
    ) -> float:
        """Gain that a supply of MP allows [g/day]."""
        b = self.batch
        mp = protein_g_per_day / (self.margin if margin is None else margin)
        if b.is_grown:
            return afrc1993.ewe_gain_from_mp_g_per_day(
                b.weight_kg, mp, milk_kg_per_day=b.milk_kg_per_day, **self._lamb_inside()
            )
        return afrc1993.gain_from_mp_g_per_day(b.weight_kg, mp - self._pregnancy_mp(), b.sex)

    # ---- the needs on one diet

    def figures(self, q: float, dmi_kg_per_day: float) -> tuple[Figure, ...]:
        """Every need and its parts, with mark and source."""
        b = self.batch
        me = self.exact_me(q)
        still = float(self.maintenance_me(np.array([q]))[0])
        inside = self._pregnancy_me()
        book = (me - b.cold_me_mj_per_day) / self.margin
        idle = replace(b, gain_g_per_day=0.0, milk_kg_per_day=0.0)
        mp_still = replace(self, batch=idle).protein_need() / self.margin - self._pregnancy_mp()
        mp = self.protein_need() / self.margin
        rest = "for milk and weight change" if b.milk_kg_per_day else "for the gain"
        mark = "memory" if b.is_grown or inside else "restated"
        parts = [
            Figure("energy", "MJ ME", me, mark, _ENERGY_SOURCE),
            Figure("energy: to stand still", "MJ ME", still, "restated", "A-S1, A-S6, A-S30"),
            Figure(f"energy: {rest}", "MJ ME", book - still - inside, mark, "A-S3, A-S6, A-S7"),
        ]
        if inside:
            parts.append(
                Figure("energy: for the lambs inside", "MJ ME", inside, "memory", "AFRC-1993, N-S7")
            )
        parts.append(
            Figure("energy: safety margin", "MJ ME", (self.margin - 1) * book, "memory", "A-S14")
        )
        parts += self.cold()
        parts += [
            Figure("protein", self.protein.unit, self.protein_need(), "memory", "AFRC-1993, A-S9"),
            Figure(
                "protein: to stand still, fleece included", "g MP", mp_still, "memory", "AFRC-1993"
            ),
            Figure(
                f"protein: {rest}",
                "g MP",
                mp - mp_still - self._pregnancy_mp(),
                "memory",
                "AFRC-1993",
            ),
        ]
        if inside:
            parts.append(
                Figure(
                    "protein: for the lambs inside",
                    "g MP",
                    self._pregnancy_mp(),
                    "memory",
                    "AFRC-1993",
                )
            )
        parts += [
            Figure("protein: safety margin", "g MP", (self.margin - 1) * mp, "memory", "A-S14"),
            *self.mineral_figures(dmi_kg_per_day),
            self.intake_figure(),
        ]
        return tuple(parts)

    def method(self, q: float, level: float, dmi_kg_per_day: float) -> str:
        """How the needs were worked."""
        form = "ewes" if self.batch.is_grown else "feeding-level form"
        lime = (
            "calcium and phosphorus by content as NRC (2007)"
            if self.breeding_content()
            else "calcium and phosphorus AFRC (1991)"
        )
        return (
            f"AFRC (1993), {form}, q {q:.3f}, level {level:.2f}; {lime} at {dmi_kg_per_day:.2f} "
            "kg DM."
        )

    def notes(self, q: float) -> list[str]:
        """What the reader should know about the needs at quality q."""
        b, notes = self.batch, []
        low, high = afrc1993.QUALITY_TRUSTED
        if not low <= q <= high:
            notes.append(f"q {q:.2f} is outside 0.4 to 0.7, where the equations are trusted.")
        if b.weight_kg > 50 and b.sex == "female" and not b.is_grown:
            notes.append("Over 50 kg the energy of gain of ewe lambs is stretched past its range.")
        if q >= 0.7:
            notes.append("This diet is rich enough for the lower phosphorus line; hay's is used.")
        return notes + self.breeding_notes()
