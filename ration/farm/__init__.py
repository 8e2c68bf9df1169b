"""A farm file as frozen records: batches, feeds on offer, limits, what is fed now.

`read` takes a YAML file in the farmer's words and units and gives a `Farm`, or raises
`InputError` with every fault of the file, one line each with its place. Nothing is computed here
beyond units, dates and the weight a batch is fed for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from ration.animals import Batch
from ration.errors import Problem, UnknownName
from ration.feeds import Feed
from ration.standards import MARGINS

if TYPE_CHECKING:
    import pandas as pd

    from ration.analysis import AnalysedFeed
    from ration.farm.outdoors import Outdoors
    from ration.farm.wintering import Wintering
    from ration.tables import Tables


@dataclass(frozen=True)
class Lot:
    """Bales of one lot, counted, and what is known of their weight.

    Attributes
    ----------
    bales : int
        Counted.
    word : str
        What they are called: bales, rounds, ...
    mean_kg, sd_kg : float or None
        Mean and standard deviation of the bales weighed; None when none was. [kg fresh]
    weighed : int
        How many were weighed.
    guess_kg : tuple of float or None
        Least and most a bale is thought to weigh when none was weighed. [kg fresh]
    """

    bales: int
    word: str = "bales"
    mean_kg: float | None = None
    sd_kg: float | None = None
    weighed: int = 0
    guess_kg: tuple[float, float] | None = None


@dataclass(frozen=True)
class Measure:
    """A measure the user weighed with one feed: a scoop, a bucket, a bale.

    Attributes
    ----------
    word : str
        "scoop", "bucket", "bale" ...
    kg : float
        What it holds of that feed. [kg fresh]
    """

    word: str
    kg: float


@dataclass(frozen=True)
class Store:
    """A bin or shed that limits how much may lie on the farm at once.

    Attributes
    ----------
    name : str
    holds_t : float
        [t fresh]
    offer_ids : tuple of str
        The feeds that lie in it; they share its room.
    """

    name: str
    holds_t: float
    offer_ids: tuple[str, ...]


@dataclass(frozen=True)
class OtherStock:
    """A class of stock that shares the home feed: the ewes, the cattle.

    Attributes
    ----------
    name : str
        As named under a feed's `first claim`.
    head : int or None
    start, end : date
        From when to when they eat their claim, evenly. [first day, day after the last]
    """

    name: str
    head: int | None
    start: date
    end: date


@dataclass(frozen=True)
class Winter:
    """How the winter is divided, and the farm's rules for moving feed about.

    Attributes
    ----------
    period_days : int
        Length of a period; the last one is what is left. [day]
    long_winter_days : int
        What a long winter adds. [day]
    step_up_days, taper_days : int
        Days over which trough feed rises to its full weight, and falls before turnout. [day]
    most_step_kg : float
        Most trough feed may rise from one day to the next. [kg fresh/head]
    most_change_kg : float
        Most the full trough feed may differ between one period and the next. [kg fresh/head/day]
    one_feed_most_kg : float
        Most trough feed at one meal. [kg fresh/head]
    lane_t : float or None
        Heaviest lorry the lane takes, laden. [t]
    interest_share_per_year : float
        Cost of money. [-/year]
    leftover_share : float
        What bought feed left at turnout is worth of its price. [-]
    shrink_share_per_month : float
        Bought feed lost a month in store. [-/month]
    stores : tuple of Store
    other_stock : tuple of OtherStock
    pens : mapping of str to tuple of int
        Batch name to the heads of its pens; a batch not named is one pen.
    start_kg : mapping of str to float
        Batch name to live weight on the first day. [kg]
    hay_first : bool
        Hay is put out before trough feed.
    quotes : tuple of Path
        Files of merchants' quotes.
    line_end : date or None
        Day on which the batches are to have their target weight, held from then to the last day;
        None for the last day.
    """

    period_days: int = 14
    long_winter_days: int = 25
    step_up_days: int = 12
    taper_days: int = 7
    most_step_kg: float = 0.05
    most_change_kg: float = 0.10
    one_feed_most_kg: float = 0.45
    lane_t: float | None = None
    interest_share_per_year: float = 0.06
    leftover_share: float = 0.5
    shrink_share_per_month: float = 0.0033
    stores: tuple[Store, ...] = ()
    other_stock: tuple[OtherStock, ...] = ()
    pens: Mapping[str, tuple[int, ...]] = field(default_factory=lambda: MappingProxyType({}))
    start_kg: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    hay_first: bool = False
    quotes: tuple[Path, ...] = ()
    line_end: date | None = None


@dataclass(frozen=True)
class Offer:
    """One feed on offer to the batches.

    Attributes
    ----------
    id, name : str
        The user's own; the id in small letters and hyphens.
    feed : Feed
        Composition: the table's figures with the farm's own laid over. Its id is the table's.
    is_home : bool
        True for feed already on the farm.
    price_gbp_per_t_fresh : float
        Delivered; for home feed what it would fetch. [GBP/t fresh]
    price_words : str
        The price as it was written.
    waste_share, storage_loss_share : float
        Spoiled or trodden when fed; lost in store before that. [-]
    stock_t_fresh, first_claim_t_fresh : float or None, float
        On hand, None for as much as wanted; what other stock have first call on. [t fresh]
    least_kg_fresh_per_head_day, most_kg_fresh_per_head_day : float, float or None
        Limits of this feed as put out, waste included. [kg fresh/head/day]
    least_share_of_dm, most_share_of_dm : float, float or None
        Limits of this feed in the dry matter. [-]
    made_for : str
        "", or cattle, horse, pig or poultry.
    signs : tuple of str
        dusty, mouldy, brown, punctured.
    place : str
        Where it stands in the file.
    stock_words : str
        The stock as it was written.
    is_stock_guess : bool
        True when the bale weight was written as a guess.
    note : str
        The user's own note.
    analysed : AnalysedFeed or None
        How laboratory sheets were laid over, when any were.
    lot : Lot or None
        The bales behind the stock, when it was counted in bales.
    claims : tuple of (str, float)
        Who else has first call and on how much, adding up to `first_claim_t_fresh`. [t fresh]
    measures : tuple of Measure
        The user's own weighed scoops, buckets or bales of this feed, the first preferred.
    is_grazed : bool
        Grass the sheep find for themselves: never bought, stored or put out.
    """

    id: str
    name: str
    feed: Feed
    is_home: bool
    price_gbp_per_t_fresh: float
    price_words: str = ""
    waste_share: float = 0.0
    storage_loss_share: float = 0.0
    stock_t_fresh: float | None = None
    first_claim_t_fresh: float = 0.0
    least_kg_fresh_per_head_day: float = 0.0
    most_kg_fresh_per_head_day: float | None = None
    least_share_of_dm: float = 0.0
    most_share_of_dm: float | None = None
    made_for: str = ""
    signs: tuple[str, ...] = ()
    place: str = ""
    stock_words: str = ""
    is_stock_guess: bool = False
    note: str = ""
    analysed: AnalysedFeed | None = None
    lot: Lot | None = None
    claims: tuple[tuple[str, float], ...] = ()
    measures: tuple[Measure, ...] = ()
    is_grazed: bool = False

    @property
    def available_t_fresh(self) -> float | None:
        """Stock less the first claim [t fresh], None for as much as wanted."""
        if self.stock_t_fresh is None:
            return None
        return max(0.0, self.stock_t_fresh - self.first_claim_t_fresh)


@dataclass(frozen=True)
class Limits:
    """Limits a mix must keep; None leaves the program's default of `feedtables/limits.csv`."""

    intake_share_of_weight_least: float | None = None
    intake_share_of_weight_most: float | None = None
    intake_kg_dm_least: float | None = None
    intake_kg_dm_most: float | None = None
    forage_share_of_dm_least: float | None = None
    concentrate_kg_fresh_most: float | None = None
    concentrate_share_of_dm_most: float | None = None
    starch_and_sugar_share_of_dm_most: float | None = None
    oil_share_of_dm_most: float | None = None
    copper_mg_per_kg_dm_most: float | None = None
    ca_to_p_least: float | None = None
    ca_to_p_most: float | None = None
    ceiling_gain_g_per_day: float | None = None

    def over(self, other: Limits) -> Limits:
        """These limits, and the other's where nothing is said here.

        An end of the intake band that is said here in kg or as a share replaces both of the
        other's.
        """
        merged = {k: getattr(other, k) if v is None else v for k, v in vars(self).items()}
        for end in ("least", "most"):
            names = (f"intake_share_of_weight_{end}", f"intake_kg_dm_{end}")
            own = {name: getattr(self, name) for name in names}
            if any(value is not None for value in own.values()):
                merged |= own
        return Limits(**merged)


@dataclass(frozen=True)
class Fed:
    """What a batch is fed now, weights as offered, by offer id. [kg fresh/head/day]."""

    batch: str
    kg_fresh_per_head_day: Mapping[str, float]
    is_part_ration: bool = False
    place: str = ""


@dataclass(frozen=True)
class Farm:
    """Everything a farm file says.

    Attributes
    ----------
    path : Path
        The file.
    name : str
    start, end : date
        First and last day of the winter.
    days : int
        From start to end. [day]
    batches, offers : tuple
    standard : str
        Published standard of the needs.
    own_margin : float or None
        Multiplier on energy and protein need; None takes the standard's own (`margin`). [-]
    maintenance : float
        Multiplier on maintenance. [-]
    limits : Limits
        For every batch.
    batch_limits : mapping of str to Limits
        By batch name, its own limits laid over the farm's; every batch is there.
    fed : tuple of Fed
    assume : tuple of str
        ("all",) or the feeds whose gaps may be filled from the table of assumptions.
    also_show_lb : bool
    trough_m, floor_m2 : float or None
        Trough length, floor of the shed. [m], [m2]
    tables : tuple of Path
        Feed tables of the user's own, laid over the shipped ones.
    meals_per_day : int
    unpriced : tuple of (str, str)
        Feeds left out of the mix for want of a price: id and reason.
    is_mixing_at_home : bool
        The user mixes trough feeds.
    housing : str
        The farm's usual housing: shed, in-bye or hill.
    winter : Winter
        Periods, steps, stores, claims and measures.
    recycled_n_share : float
        Degradable protein credited for nitrogen recycled to the rumen. [-]
    hay_to_appetite : bool or float
        Hay is always in front of them; a number is what they clear of it alone. [kg fresh/day]
    outdoors : Outdoors or None
        Fleece, shelter, weather, walking and grazing.
    wintering : Wintering or None
        The ways of wintering to be compared.
    """

    path: Path
    name: str
    start: date
    end: date
    days: int
    batches: tuple[Batch, ...]
    offers: tuple[Offer, ...]
    standard: str = "AFRC 1993"
    own_margin: float | None = None
    maintenance: float = 1.0
    limits: Limits = Limits()
    batch_limits: Mapping[str, Limits] = field(default_factory=lambda: MappingProxyType({}))
    fed: tuple[Fed, ...] = ()
    assume: tuple[str, ...] = ()
    also_show_lb: bool = False
    trough_m: float | None = None
    floor_m2: float | None = None
    tables: tuple[Path, ...] = ()
    meals_per_day: int = 1
    unpriced: tuple[tuple[str, str], ...] = ()
    is_mixing_at_home: bool = False
    housing: str = "shed"
    winter: Winter = Winter()
    recycled_n_share: float = 0.0
    hay_to_appetite: bool | float = False
    outdoors: Outdoors | None = None
    wintering: Wintering | None = None

    @property
    def margin(self) -> float:
        """Multiplier on energy and protein need: the farm's own, else the standard's. [-]"""
        return MARGINS[self.standard] if self.own_margin is None else self.own_margin

    @property
    def line_end(self) -> date:
        """Day on which the target weights are to be reached."""
        return self.winter.line_end or self.end

    def start_kg(self, batch: Batch) -> float:
        """Live weight of a batch on the first day. [kg]"""
        found = self.winter.start_kg.get(batch.name, batch.start_weight_kg)
        return batch.weight_kg if found is None else found

    def line_kg(self, batch: Batch, day: date) -> float:
        """Live weight on the line: straight to the day of the target, then held. [kg]"""
        gone = max((min(day, self.line_end) - self.start).days, 0)
        return self.start_kg(batch) + batch.gain_g_per_day / 1000 * gone

    def with_price(self, offer_id: str, price_gbp_per_t_fresh: float) -> Farm:
        """The same farm with one feed at another delivered price. [GBP/t fresh].

        Raises
        ------
        UnknownName
            No such feed is on offer.
        """
        known = [o.id for o in self.offers]
        if offer_id not in known:
            raise UnknownName(
                Problem("", f'feed "{offer_id}" is not on offer', f"on offer: {', '.join(known)}")
            )
        return replace(
            self,
            offers=tuple(
                replace(o, price_gbp_per_t_fresh=price_gbp_per_t_fresh) if o.id == offer_id else o
                for o in self.offers
            ),
        )

    def frame(self) -> pd.DataFrame:
        """One row a feed on offer: price, losses, stock and main figures."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "id": o.id,
                    "name": o.name,
                    "like": o.feed.id,
                    "is_home": o.is_home,
                    "price_gbp_per_t_fresh": o.price_gbp_per_t_fresh,
                    "waste_share": o.waste_share,
                    "storage_loss_share": o.storage_loss_share,
                    "available_t_fresh": o.available_t_fresh,
                    "dm_g_per_kg_fresh": o.feed.get("dm_g_per_kg_fresh"),
                    "me_mj_per_kg_dm": o.feed.get("me_mj_per_kg_dm"),
                    "cp_g_per_kg_dm": o.feed.get("cp_g_per_kg_dm"),
                }
                for o in self.offers
            ]
        )


def read(
    path: Path | str,
    *,
    tables: Tables | None = None,
    analyses: Mapping[str, Path | Sequence[Path]] = MappingProxyType({}),
) -> Farm:
    """The farm that a file describes.

    Parameters
    ----------
    path : Path
        The farm file.
    tables : Tables or None
        Feed tables to use; None loads the shipped ones, with the file's own `tables` laid over.
    analyses : mapping of str to Path or sequence of Path
        Laboratory sheets laid over feeds by offer id, instead of those the file names; several of
        one lot are combined.

    Raises
    ------
    InputError
        With every fault found, one line each.
    """
    from ration import strict_yaml

    path = Path(path)
    text = strict_yaml.text_of(path)
    return read_text(text, path.name, path.parent, tables=tables, analyses=analyses)


def read_text(
    text: str,
    name: str = "farm.yaml",
    folder: Path | None = None,
    *,
    tables: Tables | None = None,
    analyses: Mapping[str, Path | Sequence[Path]] = MappingProxyType({}),
) -> Farm:
    """The farm that a text describes; without a `folder` it may name no other file."""
    from ration.farm import reader as farm_reader

    return farm_reader.farm_of(text, name, folder, tables, analyses)
