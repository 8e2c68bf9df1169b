"""What every standard gives: needs with the origin of each figure, and the protein of a diet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ration.standards.intake import Prediction

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
INTAKE_SHARE_OF_WEIGHT = (0.020, 0.028)
RUMEN_LIMIT = "degradable protein in the rumen"
FERMENT_LIMIT = "energy for the rumen's microbes"
CRUDE_LIMIT = "crude protein"


@dataclass(frozen=True)
class Protein:
    """What a standard calls protein.

    Attributes
    ----------
    kind : str
        Its short name: MP, CP, DPLS.
    words : str
        metabolisable protein, crude protein ...
    """

    kind: str
    words: str

    @property
    def unit(self) -> str:
        """G MP."""
        return f"g {self.kind}"


@dataclass(frozen=True)
class Figure:
    """One figure of a need, or one part of it, and how it is known.

    Attributes
    ----------
    id : str
        "energy", "energy: to stand still", "protein" ...
    unit : str
    per_day : float
        A head a day, in the unit.
    mark : str
        print, restated, derived, memory or practice.
    source : str
        Keys of feedtables/sources.csv, comma between; "" for common practice.
    """

    id: str
    unit: str
    per_day: float
    mark: str
    source: str

    @property
    def is_part(self) -> bool:
        """A part of the figure above it."""
        return ": " in self.id


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
    me_mj_per_day : float
        Energy, times the margin, with what cold takes. [MJ/day]
    protein_kind : str
        What the standard calls protein: MP, CP or DPLS.
    protein_g_per_day : float
        Protein of that kind at `dmi_kg_per_day`, times the margin. [g/day]
    ca_g_per_day, p_g_per_day : float
        Calcium and phosphorus at `dmi_kg_per_day`, no margin. [g/day]
    dmi_kg_per_day : float
        Dry matter that what goes with intake was worked at. [kg DM/day]
    dmi_kg_per_day_min, dmi_kg_per_day_max : float
        Band of dry matter that the batch is expected to clear. [kg DM/day]
    margin, maintenance : float
        Multipliers on need and on maintenance. [-]
    maintenance_me_mj_per_day : float
        ME to stand still, no margin, no cold. [MJ/day]
    feeding_level : float
        ME need over maintenance ME. [-]
    most_gain_g_per_day : float or None
        Gain that no amount of such a diet reaches; None where the standard knows no such limit.
        [g/day]
    coarse_intake_kg_dm_per_day : float
        Appetite for long forage by an old equation, from memory: a hint. [kg DM/day]
    appetites : tuple of Prediction
        What published equations and trials say such sheep clear of such feed, to be shown beside
        the band: hints, never limits.
    figures : tuple of Figure
        Every need and its parts, with mark and source.
    method : str
        How it was worked, one sentence.
    notes : tuple of str
        What the reader should know about these figures.
    """

    standard: str
    q: float
    md_mj_per_kg_dm: float
    me_mj_per_day: float
    protein_kind: str
    protein_g_per_day: float
    ca_g_per_day: float
    p_g_per_day: float
    dmi_kg_per_day: float
    dmi_kg_per_day_min: float
    dmi_kg_per_day_max: float
    margin: float
    maintenance: float
    maintenance_me_mj_per_day: float
    feeding_level: float
    most_gain_g_per_day: float | None
    coarse_intake_kg_dm_per_day: float
    appetites: tuple[Prediction, ...] = ()
    figures: tuple[Figure, ...] = ()
    method: str = ""
    notes: tuple[str, ...] = ()

    def figure(self, name: str) -> Figure:
        """One figure by its id; KeyError when there is none."""
        found = {f.id: f for f in self.figures}
        return found[name]

    def frame(self) -> pd.DataFrame:
        """One row, one column a figure."""
        import pandas as pd

        left_out = ("notes", "figures", "method", "appetites")
        return pd.DataFrame([{k: v for k, v in vars(self).items() if k not in left_out}])

    def figures_frame(self) -> pd.DataFrame:
        """One row a figure or part: unit, amount a day, mark, source."""
        import pandas as pd

        return pd.DataFrame([vars(f) for f in self.figures])


@dataclass(frozen=True)
class Chemistry:
    """What the protein rules read of each feed, one value a feed, order of the offers.

    Attributes
    ----------
    cp, a, b, c, adin, fme, me : array (n,)
        Crude protein [g/kg DM]; degradability a, b [-] and c [/h]; ADIN [g N/kg DM];
        fermentable ME and ME [MJ/kg DM].
    """

    cp: Array
    a: Array
    b: Array
    c: Array
    adin: Array
    fme: Array
    me: Array


@dataclass(frozen=True)
class Eaten:
    """One feed as eaten by one sheep in a day, and what the protein rules read of it.

    Units as in `Chemistry`; figures a feed without protein or energy does not need are 0.
    """

    kg_dm: float
    cp: float
    a: float
    b: float
    c: float
    adin: float
    fme: float
    me: float


@dataclass(frozen=True)
class Supply:
    """Protein that a whole diet supplies, in the standard's own kind.

    Attributes
    ----------
    g_per_day : float
        [g/day]
    limit : str
        What would have to rise for more.
    parts : tuple of (str, float)
        What it is made of, name with unit and amount.
    """

    g_per_day: float
    limit: str
    parts: tuple[tuple[str, float], ...] = ()
