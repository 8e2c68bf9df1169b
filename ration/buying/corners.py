"""Every ration that is the cheapest at some price of one quoted feed, and how to buy for it.

With the cost of all other feeds set against the tonnes of this one, the rations cheapest at some
price are the corners of a convex line. They are found by asking, between two neighbours, at the
price at which those two tie, until no ration is below the line; each is a full search over all
diets. They do not depend on the quote: raising its price never lowers a cost found from them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from ration import assess, choices, grazing, limits, lines, mix
from ration import needs as standards
from ration.buying.landed import Buy, Landed, cheapest_buy
from ration.buying.tie import Tied, room_t
from ration.errors import ModelError
from ration.model import MixModel
from ration.needs import Array
from ration.quotes.records import Quote, Supply
from ration.search import Variant, search

if TYPE_CHECKING:
    from ration.assess import Assessment
    from ration.farm import Farm, Offer
    from ration.tables import Tables

DEAREST_GBP_PER_T = 5000.0  # a price at which a feed is fed only where nothing else will do
GAP_SHARE = 1e-6
LEAST_T = 1e-6
_ROUNDS = 14
_PENNY_GBP = 0.01


@dataclass(frozen=True)
class Shop:
    """What buying depends on besides the quote."""

    farm: Farm
    tied: Tied
    day: date
    months_ahead: float

    def buy(self, entry_quotes: Sequence[Quote], offer_id: str, tonnes: float) -> Buy:
        """The cheapest purchase at this farm's lane, store and cost of money."""
        winter = self.farm.winter
        return cheapest_buy(
            entry_quotes,
            tonnes,
            lane_t=winter.lane_t,
            room_t=room_t(self.tied.stores, offer_id),
            on=self.day,
            interest_share_per_year=winter.interest_share_per_year,
            months_ahead=self.months_ahead,
        )


@dataclass(frozen=True)
class Corner:
    """Rations of all batches that are together the cheapest at some price of one feed."""

    xs: tuple[Array, ...]
    tonnes_of_batch: tuple[float, ...]
    rest_gbp_of_batch: tuple[float, ...]

    @property
    def tonnes(self) -> float:
        """Of this feed, all batches, the winter. [t fresh]"""
        return math.fsum(self.tonnes_of_batch)

    @property
    def rest_gbp(self) -> float:
        """All other feed, all batches, the winter. [GBP]"""
        return math.fsum(self.rest_gbp_of_batch)


class Entry:
    """One feed of one merchant with the rations that could be fed with it."""

    def __init__(
        self, kind: str, merchant: str, offer: Offer, supplies: tuple[Supply, ...], shop: Shop
    ) -> None:
        self.kind, self.merchant, self.supplies, self.shop = kind, merchant, supplies, shop
        self.quotes = [s.quote for s in supplies]
        most = [q.most_t for q in self.quotes]
        all_there_is = None if None in most else max(m for m in most if m is not None)
        self.offer = replace(offer, stock_t_fresh=all_there_is, first_claim_t_fresh=0.0)
        self.corners: list[Corner] = []
        self.offers: tuple[Offer, ...] = ()
        self.models: list[MixModel] = []
        self.best_corner: Corner | None = None
        self.best_buy: Buy | None = None
        self.cost_gbp = math.nan

    # ---- the corners

    def work_out(self, others: Sequence[Offer], tables: Tables) -> None:
        """Find every corner, and the cheapest with its quotes."""
        farm = self.shop.farm
        self.offers = (*others, self.offer)
        shares = mix.stock_shares(farm)
        for batch in farm.batches:
            own = farm.batch_limits.get(batch.name, farm.limits)
            need = standards.of_farm(farm, batch)
            bounds = limits.resolve(batch, own, self.offers, tables.limits)
            stock = mix.stock_kg_dm_per_head_day(self.offers, batch, farm.days, shares[batch.name])
            at_hand = grazing.laid(farm, self.offers, batch, farm.start, farm.end)
            self.models.append(choices.build(need, at_hand, bounds, stock))
        self.corners = self.all_corners()
        if self.corners:
            self.cost_gbp, self.best_corner, self.best_buy = self.cheapest(0.0)

    def all_corners(self) -> list[Corner]:
        """Rations cheapest at some price of this feed, most of it first; none when none will do."""
        most, least = self.at_prices([0.0, None])
        if most is None:
            return []
        if least is None:  # some batch cannot do without it
            (least,) = self.at_prices([DEAREST_GBP_PER_T])
        found = [most] if least is None else [most, least]
        going = [(most, least)] if least is not None else []
        for _ in range(_ROUNDS):
            pairs = [(a, b) for a, b in going if a.tonnes - b.tonnes > LEAST_T]
            prices = [(b.rest_gbp - a.rest_gbp) / (a.tonnes - b.tonnes) for a, b in pairs]
            if not pairs:
                break
            going = []
            new = self.at_prices([max(p, 0.0) for p in prices])
            for (a, b), price, c in zip(pairs, prices, new, strict=True):
                if c is None:
                    continue
                line = a.rest_gbp + price * a.tonnes
                saved = line - c.rest_gbp - price * c.tonnes
                if saved > max(4 * GAP_SHARE * abs(line), 1e-4):
                    found.append(c)
                    going += [(a, c), (c, b)]
        return sorted(found, key=lambda c: -c.tonnes)

    def at_prices(self, prices: Sequence[float | None]) -> list[Corner | None]:
        """The cheapest rations at each price of this feed [GBP/t]; None takes it off the list."""
        days, j = self.shop.farm.days, len(self.offers) - 1
        bought = choices.kg_bought_per_kg_dm(self.offer)
        kg_t = bought / 1000
        per_batch: list[list[tuple[Array, float, float] | None]] = []
        for batch, model in zip(self.shop.farm.batches, self.models, strict=True):
            variants = []
            for price in prices:
                cost, cap = model.cost.copy(), model.col_hi.copy()
                cost[j] = (price or 0.0) * kg_t
                if price is None:
                    cap[j] = 0.0
                variants.append(Variant(cost=cost, col_hi=cap))
            answers = search(model, variants, gap_share=GAP_SHARE)
            head_days = batch.head * days
            row: list[tuple[Array, float, float] | None] = []
            for answer in answers:
                if answer.x is None:
                    row.append(None)
                    continue
                x = np.where(answer.x > 1e-7, answer.x, 0.0)
                rest = float(np.delete(model.cost, j) @ np.delete(x, j)) * head_days
                row.append((x, float(x[j]) * kg_t * head_days, rest))
            per_batch.append(row)
        out: list[Corner | None] = []
        for k in range(len(prices)):
            row_k = [row[k] for row in per_batch]
            whole = [r for r in row_k if r is not None]
            out.append(
                Corner(*(tuple(part) for part in zip(*whole, strict=True)))
                if len(whole) == len(row_k)
                else None
            )
        return out

    # ---- buying

    def buy(self, tonnes: float, quotes: Sequence[Quote]) -> Buy | None:
        """The cheapest purchase of so many tonnes; None when no quote brings them."""
        try:
            return self.shop.buy(quotes, self.offer.id, tonnes)
        except ModelError:
            return None

    def cheapest(self, rise_gbp_per_t: float) -> tuple[float, Corner, Buy | None]:
        """Cost of the winter, ration and purchase with something added to every price [GBP]."""
        quotes = [raised(q, rise_gbp_per_t) for q in self.quotes]
        best: tuple[float, Corner, Buy | None] | None = None
        for corner in self.corners:
            buy = None
            if corner.tonnes > LEAST_T:
                buy = self.buy(corner.tonnes, quotes)
                if buy is None:
                    continue
            cost = corner.rest_gbp + (buy.cost_gbp if buy else 0.0)
            if best is None or cost < best[0]:
                best = cost, corner, buy
        if best is None:
            return math.inf, self.corners[-1], None
        return best

    def place(self) -> tuple[float, float, str, str]:
        """Order among its kind: cost of the winter to the penny, then landed price."""
        at = self.landed()
        price = math.inf if at is None else at.gbp_per_t_fresh
        return round(self.cost_gbp, 2), price, self.merchant, self.offer.id

    def landed(self) -> Landed | None:
        """Price in the bin of what is bought; of the best ration with it when nothing is."""
        if self.best_buy is not None:
            return self.best_buy.landed
        found = [
            (c.rest_gbp + buy.cost_gbp, buy.landed.gbp_per_t_fresh, buy)
            for c in self.corners
            if c.tonnes > LEAST_T and (buy := self.buy(c.tonnes, self.quotes)) is not None
        ]
        return min(found, key=lambda f: f[:2])[2].landed if found else None

    # ---- prices

    def worths(self) -> dict[str, float]:
        """Landed price at which each batch would just take or leave the feed [GBP/t fresh]."""
        out: dict[str, float] = {}
        for k, batch in enumerate(self.shop.farm.batches):
            if self.models[k].col_lo[-1] > 0:
                continue
            points = [(c.tonnes_of_batch[k], c.rest_gbp_of_batch[k]) for c in self.corners]
            none = [rest for t, rest in points if t <= LEAST_T]
            some = [(t, rest) for t, rest in points if t > LEAST_T]
            if not none:
                out[batch.name] = math.inf
            else:
                out[batch.name] = max([(min(none) - rest) / t for t, rest in some], default=0.0)
        return out

    def level_gbp_per_t(self, target_gbp: float, low: float, high: float) -> float | None:
        """What on every price makes the winter cost so much [GBP/t]; None when nothing does.

        A cost that is reached only by buying none of it is that of the price at which it is left.
        """
        target_gbp = min(target_gbp, self.cheapest(high)[0] - _PENNY_GBP / 2)
        if self.cheapest(low)[0] > target_gbp:
            return None
        while high - low > 1e-4:
            middle = (low + high) / 2
            if self.cheapest(middle)[0] <= target_gbp:
                low = middle
            else:
                high = middle
        return (low + high) / 2

    def day_costs_gbp(self) -> dict[str, float]:
        """Cost of each feed a head a day over all batches; this one's with all that is bought."""
        batches, days = self.shop.farm.batches, self.shop.farm.days
        head = sum(b.head for b in batches)
        out: dict[str, float] = {}
        corner = self.best_corner
        if corner is None:
            return out
        for batch, model, x in zip(batches, self.models, corner.xs, strict=True):
            for o, gbp in zip(self.offers[:-1], model.cost[:-1] * x[:-1], strict=True):
                out[o.id] = out.get(o.id, 0.0) + float(gbp) * batch.head / head
        out[""] = (self.best_buy.cost_gbp if self.best_buy else 0.0) / (head * days)
        return out

    def assessments(self) -> tuple[Assessment, ...]:
        """The rations summed again from the feeds, and the books compared."""
        at = self.landed()
        price = 0.0 if at is None else at.gbp_per_t_fresh
        offers = (*self.offers[:-1], replace(self.offer, price_gbp_per_t_fresh=price))
        out = []
        for model, x in zip(
            self.models, self.best_corner.xs if self.best_corner else (), strict=True
        ):
            cost = model.cost.copy()
            cost[-1] = choices.cost_gbp_per_kg_dm(offers[-1])
            told = assess.assess(model.needs, lines.portions(offers, x))
            mix.check_books(model, x, float(cost @ x), told)
            out.append(told)
        return tuple(out)


def raised(quote: Quote, by_gbp_per_t: float) -> Quote:
    """The quote with something added to every price, never below nothing."""
    tiers = tuple(
        replace(t, price_gbp_per_t_fresh=max(t.price_gbp_per_t_fresh + by_gbp_per_t, 0.0))
        for t in quote.tiers
    )
    return replace(quote, tiers=tiers)
