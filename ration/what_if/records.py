"""The changes that can be asked for, each with its own words."""

from __future__ import annotations

from dataclasses import dataclass

ALL_BOUGHT = "all bought feed"


@dataclass(frozen=True)
class LongWinter:
    """Turnout so many days later; the weight line ends when it did and is then held.

    Attributes
    ----------
    days : int or None
        None takes the farm's own long winter. [day]
    """

    days: int | None = None

    @property
    def words(self) -> str:
        """The change in plain words."""
        if self.days is None:
            return "long winter"
        return f"winter {abs(self.days)} days {'longer' if self.days >= 0 else 'shorter'}"


@dataclass(frozen=True)
class PriceMove:
    """A price up or down, by pounds a tonne or by a share.

    Attributes
    ----------
    feed : str
        Name or id of a feed on offer, "hay", "straw" or "silage" for the bought ones of that
        kind, or `ALL_BOUGHT`.
    gbp_per_t : float
        Added to the price. [GBP/t fresh]
    share : float
        Added to the price as a share of it. [-]
    """

    feed: str
    gbp_per_t: float = 0.0
    share: float = 0.0

    @property
    def words(self) -> str:
        """The change in plain words."""
        if self.share:
            return f"{self.feed} {self.share * 100:+g} %"
        return f"{self.feed} {self.gbp_per_t:+g} pounds a tonne"

    def price(self, gbp_per_t: float) -> float:
        """A price after the move. [GBP/t fresh]"""
        return gbp_per_t * (1 + self.share) + self.gbp_per_t


@dataclass(frozen=True)
class FeedMove:
    """A feed better or poorer than its figures.

    Attributes
    ----------
    feed : str
        Name or id of a feed on offer, or "hay", "straw" or "silage" for all of that kind.
    me_mj_per_kg_dm, cp_g_per_kg_dm : float
        Added. [MJ/kg DM], [g/kg DM]
    """

    feed: str
    me_mj_per_kg_dm: float = 0.0
    cp_g_per_kg_dm: float = 0.0

    @property
    def words(self) -> str:
        """The change in plain words."""
        parts = []
        if self.me_mj_per_kg_dm:
            parts.append(f"{self.me_mj_per_kg_dm:+g} MJ")
        if self.cp_g_per_kg_dm:
            parts.append(f"{self.cp_g_per_kg_dm:+g} g protein")
        return f"{self.feed} {' and '.join(parts)} a kg of dry matter"


@dataclass(frozen=True)
class MoreSheep:
    """More or fewer sheep, over all batches by their heads or in one.

    Attributes
    ----------
    head : int
        Added; below zero taken away.
    batch : str
        "" for all.
    """

    head: int
    batch: str = ""

    @property
    def words(self) -> str:
        """The change in plain words."""
        more = "more" if self.head >= 0 else "fewer"
        return f"{abs(self.head)} {more} " + (f"in {self.batch}" if self.batch else "sheep")


@dataclass(frozen=True)
class Loss:
    """Part of a feed in store lost: one of bales, share or tonnes.

    Attributes
    ----------
    feed : str
        Name or id.
    bales : int or None
    share : float or None
        [-]
    tonnes : float or None
        [t fresh]
    """

    feed: str
    bales: int | None = None
    share: float | None = None
    tonnes: float | None = None

    @property
    def words(self) -> str:
        """The change in plain words."""
        if self.bales is not None:
            return f"{self.bales} bales of {self.feed} lost"
        if self.share is not None:
            return f"{self.share * 100:g} % of {self.feed} lost"
        return f"{self.tonnes:g} t of {self.feed} lost"


Change = LongWinter | PriceMove | FeedMove | MoreSheep | Loss
