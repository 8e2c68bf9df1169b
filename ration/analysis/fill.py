"""Energy that a sheet does not give, worked from what it does give, by published equations.

The surest way first: D-value, then digestibility, then fibre. An equation is used only for the
group of feed it was made for and inside its range; what was refused is told.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

from ration.analysis.names import BY_ID
from ration.errors import InputError
from ration.standards import feed_equations as eq

FORAGES = ("hay", "silage", "straw", "grazing")
UNREAD = "from memory, unverified"
ME = "me_mj_per_kg_dm"


@dataclass(frozen=True)
class Filled:
    """A figure of a sheet in house units; `how` is "" when it was measured."""

    nutrient: str
    value: float
    place: str = ""
    how: str = ""
    spread: float | None = None


class Known(Protocol):
    """A figure at hand: its value, its standard error and where it stands."""

    @property
    def value(self) -> float:
        """In the unit of its id."""
        ...

    @property
    def standard_error(self) -> float | None:
        """Of the mean, when there are several."""
        ...

    @property
    def places(self) -> tuple[str, ...]:
        """File and line of each."""
        ...


@dataclass(frozen=True)
class Way:
    """One way to energy: for which groups, from which figures, in words with {} for them."""

    groups: tuple[str, ...]
    wants: tuple[str, ...]
    work: Callable[..., float]
    how: str


def _from_omd(omd_g_per_kg_om: float, ash_g_per_kg_dm: float) -> float:
    return eq.me_from_domd_mj_per_kg_dm(
        eq.domd_from_omd_g_per_kg_dm(omd_g_per_kg_om, ash_g_per_kg_dm)
    )


WAYS = (
    Way(FORAGES, ("domd_g_per_kg_dm",), eq.me_from_domd_mj_per_kg_dm,
        "energy from D-value: 0.16 x {0:.1f} (MAFF 1975, {unread})"),
    Way(FORAGES, ("omd_g_per_kg_om", "ash_g_per_kg_dm"), _from_omd,
        "energy from OMD {0:.1f} % and ash {1:.1f} %: 0.16 x OMD x (100 - ash)/100 (MAFF 1975, "
        "{unread})"),
    Way(FORAGES, ("dmd_g_per_kg_dm",), eq.me_from_dmd_mj_per_kg_dm,
        "energy from DMD: 0.172 x {0:.1f} - 1.707 (Australian standard, {unread})"),
    Way(("hay",), ("madf_g_per_kg_dm",), eq.me_of_hay_from_madf_mj_per_kg_dm,
        "energy from modified ADF of hay: 15.86 - 0.189 x {0:.1f} (ADAS, {unread}, low certainty)"),
    Way(("silage",), ("madf_g_per_kg_dm",), eq.me_of_silage_from_madf_mj_per_kg_dm,
        "energy from modified ADF of silage: 15.33 - 0.152 x {0:.1f} (ADAS, {unread}; given up "
        "about 1990 as a poor guide)"),
    Way(("compound",), ("ncgd_g_per_kg_dm", "oil_g_per_kg_dm"), eq.me_of_compound_mj_per_kg_dm,
        "energy from NCGD {0:.1f} % and oil {1:.1f} %: 0.14 NCGD + 0.25 oil (Thomas 1988, "
        "{unread})"),
    Way(("compound",),
        ("cp_g_per_kg_dm", "oil_g_per_kg_dm", "crude_fibre_g_per_kg_dm", "ash_g_per_kg_dm"),
        eq.me_of_label_mj_per_kg_dm,
        "energy from the label's protein, oil, fibre and ash (Alderman 1985, {unread})"),
    Way(("byproduct",), ("ncd_g_per_kg_dm", "oil_g_per_kg_dm"), eq.me_of_byproduct_mj_per_kg_dm,
        "energy from NCD {0:.1f} % and acid-ether extract {1:.1f} %: 0.142 NCD + 0.262 oil "
        "(29 by-products, in print)"),
    Way((), ("de_mj_per_kg_dm",), eq.me_from_de_mj_per_kg_dm,
        "energy as 0.81 of digestible energy (in print)"),
    Way((), ("tdn_g_per_kg_dm",), eq.me_from_tdn_mj_per_kg_dm,
        "energy from total digestible nutrients: 15.1 MJ a kg (NRC, {unread})"),
)  # fmt: skip


def energy_from(known: Mapping[str, Known], group: str) -> tuple[Filled | None, list[str]]:
    """Energy from the surest figures at hand, and what was tried in vain.

    Parameters
    ----------
    known : mapping
        Nutrient id to a figure, in the unit of the id.
    group : str
        Group of the feed.

    Returns
    -------
    Filled or None, list of str
        None when no way was open.
    """
    doubts = []
    for way in WAYS:
        if (way.groups and group not in way.groups) or not all(w in known for w in way.wants):
            continue
        values = [known[w].value for w in way.wants]
        names = " and ".join(BY_ID[w].words for w in way.wants)
        try:
            value = way.work(*values)
        except InputError as error:
            doubts.append(f"Energy was not worked from {names}: {error}")
            continue
        how = way.how.format(*(v / 10 for v in values), unread=UNREAD)
        places = dict.fromkeys(p for w in way.wants for p in known[w].places)
        return Filled(ME, value, "; ".join(places), how, _spread(way, known, value)), doubts
    return None, doubts


def _spread(way: Way, known: Mapping[str, Known], value: float) -> float | None:
    """Standard error carried through the equation; that of the equation itself is not in it."""
    total, is_known = 0.0, False
    for want in way.wants:
        error = known[want].standard_error
        if error is None:
            continue
        moved = [known[w].value + (error if w == want else 0.0) for w in way.wants]
        try:
            total += (way.work(*moved) - value) ** 2
        except InputError:
            return None
        is_known = True
    return math.sqrt(total) if is_known else None
