"""What a way of wintering costs and takes, as the farmer says it; nothing is worked out here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import Literal

PaidOn = Literal["sent", "returned"]
Basis = Literal["wintered", "returned"]
DAYS_A_WEEK = 7.0
YEARS_TO_CROP = 1.6  # from the middle of her first winter to her first lambs sold


@dataclass(frozen=True)
class Amount:
    """Money said for each sheep, for the whole flock, or both. [GBP/head], [GBP]"""

    per_head_gbp: float = 0.0
    flock_gbp: float = 0.0


@dataclass(frozen=True)
class FeedGiven:
    """One feed put out by hand.

    Attributes
    ----------
    name : str
        As the farmer calls it.
    kg_fresh_per_head_day : float
        Put out, waste included. [kg fresh/head/day]
    days : int
        On how many days.
    price_gbp_per_t_fresh : float or None
        None when it is to be taken from the feed of that name on the farm. [GBP/t fresh]
    """

    name: str
    kg_fresh_per_head_day: float
    days: int
    price_gbp_per_t_fresh: float | None = None


@dataclass(frozen=True)
class Labour:
    """Work on so many days: for the flock, and for each sheep. [h/day], [h/head/day]"""

    hours_per_day: float
    days: int
    hours_per_head_day: float = 0.0


@dataclass(frozen=True)
class Visits:
    """Journeys to look at them.

    Attributes
    ----------
    journeys : float
    distance : float
        Of one journey, there and back, in `unit`.
    unit : str
        mile or km.
    rate_gbp_per_unit : float
        What a mile or km costs. [GBP/mile], [GBP/km]
    hours : float
        Of one journey, the looking included. [h]
    """

    journeys: float
    distance: float
    unit: str
    rate_gbp_per_unit: float
    hours: float


@dataclass(frozen=True)
class Keep:
    """Grazing on another's land, paid by the head and week, on those sent or those returned."""

    gbp_per_head_week: float
    paid_on: PaidOn = "sent"


@dataclass(frozen=True)
class Building:
    """What a shed costs a year: an annuity on its capital, and upkeep, less other uses.

    Attributes
    ----------
    capital_gbp : float
    years : float
        Over which it is paid for.
    upkeep_share : float
        Upkeep a year as a share of the capital. [-/year]
    used_share : float
        Share of the year's cost that these sheep carry; other uses carry the rest. [-]
    interest_share_per_year : float or None
        None takes the terms' rate. [-/year]
    """

    capital_gbp: float
    years: float
    upkeep_share: float = 0.0
    used_share: float = 1.0
    interest_share_per_year: float | None = None


@dataclass(frozen=True)
class Land:
    """Spring grass lost to winter grazing, and the mending.

    Attributes
    ----------
    area_ha : float
    lost_t_dm_per_ha : float
        Grass that does not grow in spring. [t DM/ha]
    worth_gbp_per_t_dm : float
        What a tonne of it costs to replace. [GBP/t DM]
    repair_gbp : float
        Poached ground, for the flock. [GBP]
    """

    area_ha: float
    lost_t_dm_per_ha: float
    worth_gbp_per_t_dm: float
    repair_gbp: float = 0.0


@dataclass(frozen=True)
class Way:
    """One way of wintering.

    Attributes
    ----------
    name : str
        As the farmer calls it.
    place : str
        shed, in-bye, hill or away.
    days : int
        That this way covers.
    keep : Keep or None
    haulage, doses, minerals, bedding, dung : Amount
        Dung is what it is worth, taken off.
    visits : Visits or None
    feeds : tuple of FeedGiven
        Put out by hand.
    is_by_mix : bool
        Feed is the cheapest safe mix in place of amounts by hand.
    mix_gbp_per_head : float or None
        What that mix costs, once it is worked. [GBP/head]
    waste : mapping of str to float
        Share wasted by kind of feed, in place of the farm's; only the mix reads it. [-]
    labour : Labour or None
    building : Building or None
    land : Land or None
    deaths_share : float
        Of those that start the winter. [-]
    wool_less_kg : float
        Less wool a head at the next clip. [kg/head]
    barren_share : float
        More ewes barren at their first lambing. [-]
    heavier_kg : float
        Heavier in spring than the lightest way leaves them. [kg/head]
    places : int or None
        Most head there is room for.
    scaled : tuple of str
        Lines said for the flock that grow with the number of sheep all the same.
    is_doses_with_vitamin_d : bool or None
        Whether vitamin D is among the doses; None when not said.
    grazing : tuple of (date, float) or None
        Energy grazed on this way, straight between the days; None takes the farm's curve. Only the
        mix reads it. [MJ ME/head/day]
    place_in_file : str
        Where it stands in the farm file.
    """

    name: str
    place: str
    days: int
    keep: Keep | None = None
    haulage: Amount = Amount()
    visits: Visits | None = None
    doses: Amount = Amount()
    feeds: tuple[FeedGiven, ...] = ()
    is_by_mix: bool = False
    mix_gbp_per_head: float | None = None
    waste: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    minerals: Amount = Amount()
    labour: Labour | None = None
    bedding: Amount = Amount()
    dung: Amount = Amount()
    building: Building | None = None
    land: Land | None = None
    deaths_share: float = 0.0
    wool_less_kg: float = 0.0
    barren_share: float = 0.0
    heavier_kg: float = 0.0
    places: int | None = None
    scaled: tuple[str, ...] = ()
    is_doses_with_vitamin_d: bool | None = None
    grazing: tuple[tuple[date, float], ...] | None = None
    place_in_file: str = ""

    @property
    def weeks(self) -> float:
        """Weeks that this way covers."""
        return self.days / DAYS_A_WEEK


@dataclass(frozen=True)
class Terms:
    """Prices that all ways share.

    Attributes
    ----------
    wage_gbp_per_h : float
    hogg_gbp : float
        What a dead one would have been worth. [GBP/head]
    crop_gbp : float
        Margin that a lamb crop leaves, lost with a barren ewe. [GBP/head]
    wool_gbp_per_kg : float
    growth_gbp_per_kg : float
        What a kilo of growth is worth in spring; trials on hill sheep say little or nothing.
    interest_share_per_year : float
        [-/year]
    is_interest_counted : bool
        Interest on what is laid out, for half the winter, is a line of its own.
    sunk_share : float
        Share of a head's own outlay that is lost once more with a dead one. [-]
    basis : "wintered" or "returned"
        What the ways are compared by: each head that starts the winter, or each that comes
        through it alive.
    """

    wage_gbp_per_h: float = 0.0
    hogg_gbp: float = 0.0
    crop_gbp: float = 0.0
    wool_gbp_per_kg: float = 0.0
    growth_gbp_per_kg: float = 0.0
    interest_share_per_year: float = 0.06
    is_interest_counted: bool = False
    sunk_share: float = 0.0
    basis: Basis = "wintered"


@dataclass(frozen=True)
class Wintering:
    """The ways of wintering to be compared, and their prices.

    Attributes
    ----------
    terms : Terms
    ways : tuple of Way
    head : int or None
        How many sheep; None for all the batches of the farm.
    """

    terms: Terms
    ways: tuple[Way, ...]
    head: int | None = None
