"""What a batch needs, as a function of the quality of the diet it is given.

Energy need depends on the diet itself (q, ME over gross energy) and protein supply on the feeding
level (L, ME eaten over maintenance ME), so a standard is offered here as functions, not numbers.
`Afrc` is the only standard so far; another joins by giving the same methods and by keeping the
promises its docstrings make about which way each one moves, because the optimiser's proof of
least cost rests on them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ration.animals import Batch
from ration.errors import OutOfRange, Problem, UnknownName
from ration.standards import afrc1991, afrc1993

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
STANDARD = "AFRC 1993"
SOURCES = "AFRC (1993) energy and protein; AFRC (1991) calcium and phosphorus"
INTAKE_SHARE_OF_WEIGHT = (0.020, 0.028)


@dataclass(frozen=True)
class Needs:
    """Daily needs of one sheep on a diet of one quality, margin included.

    Attributes
    ----------
    standard : str
        Name of the published standard.
    q : float
        Metabolisability of the diet. [-]
    md_mj_per_kg_dm : float
        ME of the diet. [MJ/kg DM]
    me_mj_per_day, mp_g_per_day : float
        Energy and metabolisable protein, times the margin. [MJ/day], [g/day]
    ca_g_per_day, p_g_per_day : float
        Calcium and phosphorus at `dmi_kg_per_day`, no margin. [g/day]
    dmi_kg_per_day : float
        Dry matter that calcium and phosphorus were worked at. [kg DM/day]
    dmi_kg_per_day_min, dmi_kg_per_day_max : float
        Band of dry matter that the batch is expected to clear. [kg DM/day]
    margin, maintenance : float
        Multipliers on need and on maintenance. [-]
    maintenance_me_mj_per_day : float
        ME to stand still, no margin. [MJ/day]
    feeding_level : float
        ME need over maintenance ME. [-]
    most_gain_g_per_day : float
        Gain that no amount of such a diet reaches. [g/day]
    coarse_intake_kg_dm_per_day : float
        Appetite for long forage by an old equation, from memory: a hint. [kg DM/day]
    notes : tuple of str
        What the reader should know about these figures.
    """

    standard: str
    q: float
    md_mj_per_kg_dm: float
    me_mj_per_day: float
    mp_g_per_day: float
    ca_g_per_day: float
    p_g_per_day: float
    dmi_kg_per_day: float
    dmi_kg_per_day_min: float
    dmi_kg_per_day_max: float
    margin: float
    maintenance: float
    maintenance_me_mj_per_day: float
    feeding_level: float
    most_gain_g_per_day: float
    coarse_intake_kg_dm_per_day: float
    notes: tuple[str, ...] = ()

    def frame(self) -> pd.DataFrame:
        """One row, one column a figure."""
        import pandas as pd

        return pd.DataFrame([{k: v for k, v in vars(self).items() if k != "notes"}])


@dataclass(frozen=True)
class Afrc:
    """AFRC (1993) for one batch, as functions of diet quality q and feeding level L.

    Parameters
    ----------
    batch : Batch
        The sheep.
    margin : float
        Multiplier on ME and MP need. [-] AFRC's own tables carry 1.05.
    maintenance : float
        Multiplier on maintenance. [-] 1.0 is the standard.
    gross_energy_mj_per_kg_dm : float
        Gross energy where a feed has none. [MJ/kg DM]
    """

    batch: Batch
    margin: float = afrc1993.SAFETY_MARGIN
    maintenance: float = 1.0
    gross_energy_mj_per_kg_dm: float = afrc1993.GROSS_ENERGY_MJ_PER_KG_DM

    name = STANDARD
    quality = afrc1993.QUALITY
    level = (0.2, afrc1993.LEVEL[1])

    def _animal(self) -> dict[str, Any]:
        b = self.batch
        return {
            "sex": b.sex,
            "under_one_year": b.under_one_year,
            "housing": b.housing,
            "maintenance": self.maintenance,
        }

    def me_need(self, q: Array, gain_g_per_day: float | Array | None = None) -> Array:
        """ME needed, margin included [MJ/day]; inf where no intake supports the gain.

        Falls as q rises: the proof of least cost rests on it.
        """
        gain = self.batch.gain_g_per_day if gain_g_per_day is None else gain_g_per_day
        need: Array = afrc1993.growth_me_mj_per_day(
            self.batch.weight_kg, np.asarray(gain), q, unsupported=inf, **self._animal()
        )
        return self.margin * need

    def maintenance_me(self, q: Array) -> Array:
        """ME to stand still, no margin [MJ/day]. Falls as q rises."""
        return afrc1993.maintenance_me_mj_per_day(self.batch.weight_kg, q, **self._animal())

    def mp_need(self, gain_g_per_day: float | None = None) -> float:
        """MP needed, margin included [g/day]."""
        gain = self.batch.gain_g_per_day if gain_g_per_day is None else gain_g_per_day
        b = self.batch
        return self.margin * afrc1993.mp_need_g_per_day(b.weight_kg, gain, b.sex)

    def ca_line(self) -> tuple[float, float]:
        """Calcium need: constant [g/day] and slope [g/kg DM eaten]."""
        b = self.batch
        return afrc1991.ca_line(b.weight_kg, b.mature_weight_kg, b.gain_g_per_day)

    def p_line(self) -> tuple[float, float]:
        """Phosphorus need on a hay diet: constant [g/day] and slope [g/kg DM eaten]."""
        b = self.batch
        return afrc1991.p_line(b.weight_kg, b.mature_weight_kg, b.gain_g_per_day)

    def protein_value(self, chemistry: Chemistry, level: Array) -> tuple[Array, Array]:
        """MP per kg DM of each feed if degradable protein, or fermentable energy, is the limit.

        The whole diet's MP is the smaller of the two sums, so each is a row of its own.

        Parameters
        ----------
        chemistry : Chemistry
            One value a feed.
        level : array (K,)
            Feeding levels. [-]

        Returns
        -------
        tuple of array (K, n)
            By degradable protein; by fermentable energy. [g/kg DM]
        """
        c = chemistry
        flow = afrc1993.outflow_per_h(level)[:, None]
        cp, a, b, rate = c.cp[None], c.a[None], c.b[None], c.c[None]
        erdp = afrc1993.erdp_g_per_kg_dm(cp, a, b, rate, flow)  # type: ignore[arg-type]
        dup = afrc1993.dup_g_per_kg_dm(cp, a, b, rate, c.adin[None], flow)  # type: ignore[arg-type]
        energy = afrc1993.microbial_yield_g_per_mj(level)[:, None] * c.fme[None]
        return 0.6375 * erdp + dup, 0.6375 * energy + dup

    def kindest_protein_value(
        self, chemistry: Chemistry, level_lo: Array, level_hi: Array
    ) -> tuple[Array, Array]:
        """An upper bound of `protein_value` over the levels between lo and hi, feed by feed.

        By degradable protein a feed's value falls with the level while its DUP is floored at 0 and
        rises after, so its largest value is at an end; by fermentable energy it only rises.
        """
        n_lo, _ = self.protein_value(chemistry, level_lo)
        n_hi, e_hi = self.protein_value(chemistry, level_hi)
        return np.maximum(n_lo, n_hi), e_hi

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
            Dry matter for the calcium and phosphorus lines; None takes what meets the ME need.
        intake_share_of_weight : tuple of float
            Band of dry matter as share of live weight. [-]

        Returns
        -------
        Needs

        Raises
        ------
        OutOfRange
            The diet is outside what the standard covers, or cannot support the gain.
        """
        b = self.batch
        ge = self.gross_energy_mj_per_kg_dm
        lo, hi = (s * ge for s in afrc1993.QUALITY)
        if not lo <= md_mj_per_kg_dm <= hi:
            raise OutOfRange(
                Problem(
                    "", f"diet energy {md_mj_per_kg_dm:g} MJ/kg DM", f"{lo:.1f} to {hi:.1f} covered"
                )
            )
        q = md_mj_per_kg_dm / ge
        need = self.margin * afrc1993.growth_me_mj_per_day(
            b.weight_kg, b.gain_g_per_day, q, **self._animal()
        )
        maintenance = afrc1993.maintenance_me_mj_per_day(b.weight_kg, q, **self._animal())
        dmi = need / md_mj_per_kg_dm if dmi_kg_per_day is None else dmi_kg_per_day
        ca0, ca1 = self.ca_line()
        p0, p1 = self.p_line()
        notes = []
        if not afrc1993.QUALITY_TRUSTED[0] <= q <= afrc1993.QUALITY_TRUSTED[1]:
            notes.append(f"q {q:.2f} is outside 0.4 to 0.7, where the equations are trusted.")
        if b.weight_kg > 50 and b.sex == "female":
            notes.append("Over 50 kg the energy of gain of ewe lambs is stretched past its range.")
        if q >= 0.7:
            notes.append("This diet is rich enough for the lower phosphorus line; hay's is used.")
        if dmi > intake_share_of_weight[1] * b.weight_kg:
            notes.append(
                f"They would have to eat {dmi:.2f} kg DM, over the {intake_share_of_weight[1]:.1%}"
                " of live weight expected."
            )
        return Needs(
            standard=self.name,
            q=q,
            md_mj_per_kg_dm=md_mj_per_kg_dm,
            me_mj_per_day=need,
            mp_g_per_day=self.mp_need(),
            ca_g_per_day=max(ca0 + ca1 * dmi, 0.0),
            p_g_per_day=max(p0 + p1 * dmi, 0.0),
            dmi_kg_per_day=dmi,
            dmi_kg_per_day_min=intake_share_of_weight[0] * b.weight_kg,
            dmi_kg_per_day_max=intake_share_of_weight[1] * b.weight_kg,
            margin=self.margin,
            maintenance=self.maintenance,
            maintenance_me_mj_per_day=maintenance,
            feeding_level=need / maintenance,
            most_gain_g_per_day=afrc1993.most_gain_g_per_day(b.weight_kg, q, **self._animal()),
            coarse_intake_kg_dm_per_day=afrc1993.coarse_intake_kg_dm_per_day(b.weight_kg, q),
            notes=tuple(notes),
        )


@dataclass(frozen=True)
class Chemistry:
    """What the protein rules read of each feed, one value a feed, order of the offers.

    Attributes
    ----------
    cp, a, b, c, adin, fme : array (n,)
        Crude protein [g/kg DM]; degradability a, b [-] and c [/h]; ADIN [g N/kg DM];
        fermentable ME [MJ/kg DM].
    """

    cp: Array
    a: Array
    b: Array
    c: Array
    adin: Array
    fme: Array


def of(
    batch: Batch,
    standard: str = STANDARD,
    *,
    margin: float = afrc1993.SAFETY_MARGIN,
    maintenance: float = 1.0,
) -> Afrc:
    """The needs of a batch by a published standard.

    Parameters
    ----------
    batch : Batch
        The sheep.
    standard : str
        Name of the standard; only "AFRC 1993" so far.
    margin : float
        Multiplier on ME and MP. [-], 0.8 to 1.5.
    maintenance : float
        Multiplier on maintenance. [-], 0.7 to 2.0.

    Raises
    ------
    UnknownName
        Standard not on the list.
    OutOfRange
        Margin or multiplier not believable.
    """
    if standard.replace("-", " ").upper() != STANDARD:
        raise UnknownName(
            Problem("", f'standard "{standard}" is not known', f"there is {STANDARD}")
        )
    faults = [
        Problem("", f"{what} {value:g}", f"{lo:g} to {hi:g} is believable")
        for what, value, lo, hi in (
            ("safety margin", margin, 0.8, 1.5),
            ("maintenance multiplier", maintenance, 0.7, 2.0),
        )
        if not lo <= value <= hi
    ]
    if faults:
        raise OutOfRange(*faults)
    return Afrc(batch, margin, maintenance)
