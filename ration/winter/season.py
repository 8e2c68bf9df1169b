"""A farm's winter made ready: what every grain of the programme reads.

Days that trough feed is fed for while it is stepped up and taken off, stores, prices by day,
deliveries gathered by merchant, tiers that could ever pay. No unknowns yet.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ration import choices
from ration.animals import Batch
from ration.buying import landed, tie
from ration.farm import Farm, Offer
from ration.model import MixModel
from ration.needs import Array
from ration.quotes.records import BULK, Quote, Supply, Tier
from ration.winter import fences
from ration.winter.records import Period

DAYS_A_MONTH = 365 / 12
_LARGEST_T = 40.0  # a load that no lorry is over


@dataclass(frozen=True)
class Terms:
    """What one merchant's deliveries in one kind of pack must keep, and the supplies on them."""

    merchant: str
    pack: str
    least_t: float
    charge_gbp: float
    most_t: float
    supplies: tuple[int, ...]

    @property
    def is_free(self) -> bool:
        """No count of loads is needed."""
        return self.least_t <= 0 and self.charge_gbp <= 0


@dataclass(frozen=True)
class Season:
    """A farm's winter made ready: what every grain of the programme reads.

    Attributes
    ----------
    farm : Farm
    periods : tuple of Period
    offers : tuple of Offer
        Complete; the columns of every ration, in order.
    supplies : tuple of Supply
        Usable ones only.
    batches : tuple of Batch
    models : mapping of (int, int) to MixModel
        By batch and period number.
    """

    farm: Farm
    periods: tuple[Period, ...]
    offers: tuple[Offer, ...]
    supplies: tuple[Supply, ...]
    batches: tuple[Batch, ...]
    models: Mapping[tuple[int, int], MixModel]

    @cached_property
    def t_per_kg_dm(self) -> Array:
        """Taken from store for each kg DM eaten, waste and store loss in. [t fresh/kg DM]"""
        return np.array([choices.kg_bought_per_kg_dm(o) / 1000 for o in self.offers])

    @cached_property
    def offered_per_kg_dm(self) -> Array:
        """Put out for each kg DM eaten. [kg fresh/kg DM]"""
        dm = np.array([o.feed["dm_g_per_kg_fresh"] / 1000 for o in self.offers])
        waste = np.array([o.waste_share for o in self.offers])
        return np.asarray(1 / (dm * (1 - waste)))

    @cached_property
    def is_trough(self) -> Array:
        """1 for trough feed, else 0."""
        return np.array([float(o.feed.is_concentrate) for o in self.offers])

    @cached_property
    def is_forage(self) -> Array:
        """1 for forage, else 0."""
        return np.array([float(o.feed.is_forage) for o in self.offers])

    @cached_property
    def fillers(self) -> tuple[int, ...]:
        """Forages that may stand in for trough feed not given yet: straw only if nothing else."""
        forage = [j for j, o in enumerate(self.offers) if o.feed.is_forage and not o.is_grazed]
        better = [j for j in forage if self.offers[j].feed.group != "straw"]
        return tuple(better or forage)

    @cached_property
    def step_up_days(self) -> int:
        """Days of rising trough feed, inside the first period. [day]"""
        return max(1, min(self.farm.winter.step_up_days, self.periods[0].days))

    @cached_property
    def taper_days(self) -> int:
        """Days of falling trough feed, inside the last period. [day]"""
        return max(0, min(self.farm.winter.taper_days, self.periods[-1].days))

    def trough_days(self, period: int) -> float:
        """Days of full trough feed that a period comes to. [day]

        Over n days of stepping up day d gets d/n, so (n - 1)/2 days' feed is spared; likewise
        when it is taken off.
        """
        days = float(self.periods[period].days)
        if period == 0:
            days -= (self.step_up_days - 1) / 2
        if period == len(self.periods) - 1 and self.taper_days:
            days -= (self.taper_days - 1) / 2
        return days

    @cached_property
    def fill_days(self) -> float:
        """Days of full trough feed that forage stands in for while stepping up. [day]"""
        return (self.step_up_days - 1) / 2

    def feed_days(self, period: int) -> Array:
        """Days of the full ration that each feed is drawn for. [day]"""
        days = np.full(len(self.offers), float(self.periods[period].days))
        return np.where(self.is_trough > 0, self.trough_days(period), days)

    @cached_property
    def opening_t(self) -> Array:
        """In store on the first day, first claims off. [t fresh]"""
        return np.array([(o.available_t_fresh or 0.0) if o.is_home else 0.0 for o in self.offers])

    @cached_property
    def sunk_gbp(self) -> float:
        """Home feed of the first day at what it would fetch: the programme only takes off of it.

        What a programme costs and this together are the bill. [GBP]
        """
        return float(self.opening_t @ self.home_value_gbp_per_t)

    @cached_property
    def shrink_per_day(self) -> Array:
        """Share of bought feed lost a day in store. [-/day]"""
        share = self.farm.winter.shrink_share_per_month / DAYS_A_MONTH
        return np.array([0.0 if o.is_home else share for o in self.offers])

    @cached_property
    def of_offer(self) -> tuple[tuple[int, ...], ...]:
        """Supplies of each feed."""
        at = {o.id: j for j, o in enumerate(self.offers)}
        out: list[list[int]] = [[] for _ in self.offers]
        for s, supply in enumerate(self.supplies):
            out[at[supply.offer_id]].append(s)
        return tuple(map(tuple, out))

    @cached_property
    def offer_of(self) -> tuple[int, ...]:
        """The feed of each supply."""
        at = {o.id: j for j, o in enumerate(self.offers)}
        return tuple(at[s.offer_id] for s in self.supplies)

    @cached_property
    def home_value_gbp_per_t(self) -> Array:
        """What a tonne of home feed would fetch; 0 for bought feed. [GBP/t fresh]"""
        return np.array([o.price_gbp_per_t_fresh if o.is_home else 0.0 for o in self.offers])

    def over_value_gbp_per_t(self, supply: int, tier: int) -> float:
        """What a tonne left at turnout is worth, of the price it was bought at. [GBP/t fresh]"""
        quote = self.supplies[supply].quote
        price = quote.tiers[tier].price_gbp_per_t_fresh
        landed_gbp = price + quote.haulage_gbp_per_t - quote.cash_off_gbp_per_t
        return self.farm.winter.leftover_share * max(landed_gbp, 0.0)

    @cached_property
    def most_used_t(self) -> Array:
        """More of each feed than the winter can use, whatever the rations. [t fresh]"""
        eaten = np.zeros(len(self.offers))
        for (b, t), model in self.models.items():
            eaten += self.batches[b].head * self.periods[t].days * fences.most_of_each(model)
        eaten *= 1 + 0.5 * self.is_forage * self.fill_days / self.periods[0].days
        return 1.02 * eaten * self.t_per_kg_dm + 1e-6

    @cached_property
    def live_tiers(self) -> tuple[tuple[int, ...], ...]:
        """Tiers of each supply that any best plan could take; the first always.

        Buying up to a tier that lies beyond what can be used costs from x price, less what the
        rest is worth afterwards. Where that is more than the most that can be used costs at the
        first price, the tier is never taken.
        """
        out = []
        for s, supply in enumerate(self.supplies):
            quote = supply.quote
            used = float(self.most_used_t[self.offer_of[s]]) + quote.least_drop_t
            used += unit_of(quote) or 0.0
            add = quote.haulage_gbp_per_t - quote.cash_off_gbp_per_t
            base = quote.tiers[0].price_gbp_per_t_fresh + add
            kept = [0]
            for k, tier in enumerate(quote.tiers[1:], 1):
                price = tier.price_gbp_per_t_fresh + add
                after = self.over_value_gbp_per_t(s, k)
                over = tier.from_t * (price - after) + (after - base) * used
                if tier.from_t <= used or over < 0:
                    kept.append(k)
            out.append(tuple(kept))
        return tuple(out)

    def most_wanted_t(self, supply: int) -> float:
        """More of a supply than any best plan buys: what can be used, or the last tier. [t]"""
        quote = self.supplies[supply].quote
        used = float(self.most_used_t[self.offer_of[supply]])
        last = max(quote.tiers[k].from_t for k in self.live_tiers[supply])
        return max(used + quote.least_drop_t + (unit_of(quote) or 0.0), last)

    def store_room_t(self, supply: int) -> float:
        """Most of one supply that can lie on the farm at once. [t fresh]"""
        name = self.offers[self.offer_of[supply]].id
        rooms = [s.holds_t for s in self.farm.winter.stores if name in s.offer_ids]
        return min(rooms, default=np.inf)

    def room_together_t(self, members: Sequence[int]) -> float:
        """Most of some supplies that can lie on the farm at once. [t fresh]"""
        names = {self.offers[self.offer_of[s]].id for s in members}
        stores = self.farm.winter.stores
        loose = [i for i in names if not any(i in s.offer_ids for s in stores)]
        if loose:
            return np.inf
        return sum(s.holds_t for s in stores if names & set(s.offer_ids))

    @cached_property
    def terms(self) -> tuple[Terms, ...]:
        """Deliveries gathered by merchant, kind of pack and conditions."""
        gathered: dict[tuple[str, str, float, float, float], list[int]] = {}
        for s, supply in enumerate(self.supplies):
            q = supply.quote
            most = min(tie.most_load_t(q, self.farm.winter.lane_t), _LARGEST_T)
            kind = "bulk" if q.pack == BULK else "packed"
            key = (q.merchant, kind, q.least_drop_t, q.drop_charge_gbp, most)
            gathered.setdefault(key, []).append(s)
        return tuple(
            Terms(
                key[0],
                key[1],
                key[2],
                key[3],
                min(key[4], self.room_together_t(members)),
                tuple(members),
            )
            for key, members in gathered.items()
        )

    @cached_property
    def term_of(self) -> tuple[int, ...]:
        """Number of the terms that each supply comes on."""
        at = {s: g for g, terms in enumerate(self.terms) for s in terms.supplies}
        return tuple(at[s] for s in range(len(self.supplies)))

    def price_gbp_per_t(self, supply: int, tier: Tier, period: int) -> float:
        """What a tonne costs when it comes at the start of a period. [GBP/t fresh]"""
        q = self.supplies[supply].quote
        day = self.periods[period].start
        ahead = (day - self.farm.start).days / DAYS_A_MONTH
        rise = landed.rise_gbp_per_t(q, day, ahead)
        return tier.price_gbp_per_t_fresh + q.haulage_gbp_per_t - q.cash_off_gbp_per_t + rise

    def interest_share(self, period: int, payment_days: int) -> float:
        """Interest until turnout on money paid for a delivery at the start of a period. [-]"""
        out = max(0, (self.farm.end - self.periods[period].start).days - payment_days)
        return self.farm.winter.interest_share_per_year * out / 365

    def is_open(self, supply: int, period: int) -> bool:
        """Whether a supply may be delivered at the start of a period."""
        q = self.supplies[supply].quote
        return q.delivered_until is None or self.periods[period].start <= q.delivered_until


def unit_of(quote: Quote) -> float | None:
    """Least that can be bought of a packed quote: a pack, or a pallet of them. [t]

    None in bulk.
    """
    return tie.pack_unit_t(quote) if quote.pack_kg is not None else None
