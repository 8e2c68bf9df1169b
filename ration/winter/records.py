"""What a plan of the winter is: periods, rations, deliveries, stocks, the bill and its proof."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from ration.animals import Batch
from ration.assess import Assessment

if TYPE_CHECKING:
    import pandas as pd

    from ration.conflict import Conflict
    from ration.farm import Farm, Offer
    from ration.model import MixModel
    from ration.quotes.records import Supply


@dataclass(frozen=True)
class Period:
    """Days fed alike: `start` to the day before `end`. `index` counts from 0."""

    index: int
    start: date
    end: date

    @property
    def days(self) -> int:
        """Length. [day]"""
        return (self.end - self.start).days


@dataclass(frozen=True)
class Fed:
    """The full ration of one batch in one period, for one head a day.

    Attributes
    ----------
    batch : Batch
        At its mid-period weight.
    period : Period
    kg_dm : mapping of str to float
        Eaten, by offer id; only feeds used. [kg DM/head/day]
    kg_offered : mapping of str to float
        Put out, waste included. [kg fresh/head/day]
    assessment : Assessment
        Summed from the feeds without the optimiser.
    """

    batch: Batch
    period: Period
    kg_dm: Mapping[str, float]
    kg_offered: Mapping[str, float]
    assessment: Assessment


@dataclass(frozen=True)
class Delivery:
    """Tonnes of one supply that come at the start of one period.

    Attributes
    ----------
    supply : Supply
    period : Period
    tonnes : float
        [t fresh]
    packs : int or None
        Bags, tonne bags or bales; None for bulk.
    price_gbp_per_t_fresh : float
        Tier, rise and haulage in, cash discount off. [GBP/t fresh]
    cost_gbp : float
        Tonnes times price; the drop charge is apart. [GBP]
    """

    supply: Supply
    period: Period
    tonnes: float
    packs: int | None
    price_gbp_per_t_fresh: float
    cost_gbp: float


@dataclass(frozen=True)
class Drop:
    """One merchant's lorry loads at the start of one period.

    Attributes
    ----------
    merchant, pack : str
        Bulk drops are apart from bagged ones.
    period : Period
    loads : int
    tonnes : float
        [t fresh]
    charge_gbp : float
        All loads. [GBP]
    """

    merchant: str
    pack: str
    period: Period
    loads: int
    tonnes: float
    charge_gbp: float


@dataclass(frozen=True)
class StockLine:
    """One feed's stock through one period: opening + bought = fed + lost + closing. [t fresh]"""

    offer_id: str
    period: Period
    opening_t: float
    bought_t: float
    fed_t: float
    lost_t: float
    closing_t: float


@dataclass(frozen=True)
class Bill:
    """Where the money goes. [GBP]

    Attributes
    ----------
    feed_gbp, drops_gbp : float
        Paid to merchants.
    home_gbp : float
        Home feed used, at what it would fetch.
    interest_gbp : float
        On money laid out, until turnout.
    leftover_gbp : float
        What bought feed left over is worth (taken off).
    """

    feed_gbp: float
    drops_gbp: float
    home_gbp: float
    interest_gbp: float
    leftover_gbp: float

    @property
    def total_gbp(self) -> float:
        """The cost that is made least."""
        return (
            self.feed_gbp + self.drops_gbp + self.home_gbp + self.interest_gbp - self.leftover_gbp
        )

    @property
    def cash_gbp(self) -> float:
        """What merchants are paid."""
        return self.feed_gbp + self.drops_gbp


@dataclass(frozen=True)
class More:
    """What one more unit of something scarce would save.

    Attributes
    ----------
    what, unit : str
        "Long Meadow", "tonne"; "trough", "metre"; "bin", "tonne".
    worth_gbp : float
        What the winter would cost less with the first unit more, got for nothing. [GBP/unit]
    would_fetch_gbp : float
        Of that, what it would fetch sold: a home feed left over is worth no more. [GBP/unit]
    note : str
    """

    what: str
    unit: str
    worth_gbp: float
    would_fetch_gbp: float = 0.0
    note: str = ""

    @property
    def scarcity_gbp(self) -> float:
        """What it is worth over what it would fetch; 0 when it is not scarce. [GBP/unit]"""
        return max(self.worth_gbp - self.would_fetch_gbp, 0.0)


@dataclass(frozen=True)
class Plan:
    """A winter worked out, or why there is none.

    Attributes
    ----------
    farm : Farm
    periods : tuple of Period
    offers : tuple of Offer
        The feeds the batches may be given, complete.
    supplies : tuple of Supply
        All, refused ones too.
    fed : tuple of Fed
        By period, then batch.
    extra_forage_kg_dm : mapping of (str, str) to float
        Batch and offer: forage that fills the step-up days. [kg DM/head over those days]
    deliveries, drops, stocks : tuple
    bill : Bill or None
        None when there is no plan.
    bound_gbp : float
        No plan of this winter can cost less. [GBP]
    is_cut_short : bool
        A time limit or the user stopped the work.
    more : tuple of More
    walk_away_gbp_per_t : mapping of str to float
        Supply id to the price per tonne above which the plan without it is cheaper.
    why_not : str
        In one line, when there is no plan.
    conflict : Conflict or None
        When one batch in one period has no ration at all.
    seconds : mapping of str to float
        Time spent by step.
    solver : str
    tables_digest : str
    stuck : MixModel or None
        The batch in the period that has no ration at all.
    """

    farm: Farm
    periods: tuple[Period, ...]
    offers: tuple[Offer, ...]
    supplies: tuple[Supply, ...]
    fed: tuple[Fed, ...]
    extra_forage_kg_dm: Mapping[tuple[str, str], float]
    deliveries: tuple[Delivery, ...]
    drops: tuple[Drop, ...]
    stocks: tuple[StockLine, ...]
    bill: Bill | None
    bound_gbp: float
    is_cut_short: bool
    more: tuple[More, ...]
    walk_away_gbp_per_t: Mapping[str, float]
    why_not: str
    conflict: Conflict | None
    seconds: Mapping[str, float]
    solver: str
    tables_digest: str = ""
    stuck: MixModel | None = None

    @property
    def is_found(self) -> bool:
        """True when there is a plan."""
        return self.bill is not None

    @property
    def gap_share(self) -> float:
        """Proved gap as a share of the cost. [-]"""
        if self.bill is None:
            return 0.0
        return max(self.bill.total_gbp - self.bound_gbp, 0.0) / max(abs(self.bill.total_gbp), 1e-9)

    def order_frame(self) -> pd.DataFrame:
        """One row a delivery: feed, merchant, date, tonnes, packs, price, cost."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "feed": d.supply.offer_id,
                    "merchant": d.supply.quote.merchant,
                    "date": d.period.start,
                    "tonnes_fresh": d.tonnes,
                    "packs": d.packs,
                    "price_gbp_per_t_fresh": d.price_gbp_per_t_fresh,
                    "cost_gbp": d.cost_gbp,
                }
                for d in self.deliveries
            ]
        )

    def fed_frame(self) -> pd.DataFrame:
        """One row a batch, period and feed used."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "batch": f.batch.name,
                    "from": f.period.start,
                    "days": f.period.days,
                    "weight_kg": f.batch.weight_kg,
                    "feed": feed,
                    "kg_dm_per_head_day": kg,
                    "kg_fresh_offered_per_head_day": f.kg_offered[feed],
                }
                for f in self.fed
                for feed, kg in f.kg_dm.items()
            ]
        )

    def stock_frame(self) -> pd.DataFrame:
        """One row a feed and period: opening, bought, fed, lost, closing."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "feed": s.offer_id,
                    "from": s.period.start,
                    "opening_t_fresh": s.opening_t,
                    "bought_t_fresh": s.bought_t,
                    "fed_t_fresh": s.fed_t,
                    "lost_t_fresh": s.lost_t,
                    "closing_t_fresh": s.closing_t,
                }
                for s in self.stocks
            ]
        )
