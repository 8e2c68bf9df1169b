"""Random farms of the size that the planner is measured on, from one number each."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from types import MappingProxyType

import numpy as np

from ration import animals, choices, tables
from ration.farm import Farm, Offer, Store, Winter
from ration.quotes.records import Quote, Supply, Tier

HOME = ("hay-average", "hay-meadow", "straw-barley")
BOUGHT = (
    "hay-good", "hay-poor", "straw-oat", "barley", "oats", "wheat", "maize", "triticale",
    "beet-pulp-plain", "beet-pulp-molassed-nuts", "soya-hulls", "wheatfeed", "soya-hipro",
    "rapeseed-meal", "beans", "cubes-16", "cubes-18",
)  # fmt: skip
GUIDE_GBP_PER_T = {
    "hay": 145.0, "straw": 95.0, "cereal": 205.0, "byproduct": 255.0, "protein": 340.0,
    "compound": 290.0,
}  # fmt: skip


def farm(
    seed: int, *, batches: int = 6, weeks: int = 26, merchants: int | None = None,
    bought: tuple[str, ...] = BOUGHT,
) -> tuple[Farm, tables.Tables, tuple[Offer, ...], tuple[Supply, ...]]:  # fmt: skip
    """A farm, its tables, complete offers and supplies."""
    rng = np.random.default_rng(seed)
    book = tables.load()
    start = date(2026, 10, 26)
    flock = tuple(
        animals.batch(
            f"batch {i + 1}",
            weight_kg=float(w),
            gain_g_per_day=float(rng.uniform(20, 55)),
            head=int(rng.integers(25, 70)),
            start_weight_kg=float(w),
        )
        for i, w in enumerate(np.sort(rng.uniform(29, 39, batches))[::-1])
    )
    head = sum(b.head for b in flock)
    offers = []
    for i in HOME:
        feed = book.feeds[i]
        offers.append(
            Offer(
                i, feed.name, feed, True, 60.0 if "straw" in i else 100.0, waste_share=0.1,
                storage_loss_share=0.03, stock_t_fresh=float(rng.uniform(0.02, 0.07) * head),
            )
        )  # fmt: skip
    for i in bought:
        feed = book.feeds[i]
        waste = 0.1 if feed.group in ("hay", "straw") else 0.01
        offers.append(Offer(i, feed.name, feed, False, 0.0, waste_share=waste))
    ready, _ = choices.complete(offers, book, ("all",))
    supplies = []
    for m in range(merchants or int(rng.integers(4, 7))):
        charge = float(rng.choice([25.0, 40.0, 60.0, 95.0]))
        level = rng.normal(1.0, 0.03)
        for o in ready[len(HOME) :]:
            base = GUIDE_GBP_PER_T[o.feed.group] * level * rng.normal(1.0, 0.04)
            name = f"merchant {m + 1}"
            if o.feed.group in ("hay", "straw"):
                if rng.random() < 0.5:
                    supplies.append((name, o.id, Quote(name, o.id, (Tier(0, base),),
                                     least_drop_t=3.0, drop_charge_gbp=charge)))  # fmt: skip
                continue
            if rng.random() < 0.85:
                tiers = (Tier(0, base), Tier(8, base * 0.975), Tier(20, base * 0.95))
                supplies.append((name, o.id, Quote(
                    name, o.id, tiers, least_drop_t=3.0, drop_charge_gbp=charge,
                    rise_gbp_per_t_month=float(rng.choice([0.0, 3.0])),
                    rise_from=date(2026, 12, 1))))  # fmt: skip
            if rng.random() < 0.4:
                supplies.append((name, o.id, Quote(
                    name, o.id, (Tier(0, base + 25),), pack="tonne bag", pack_kg=500.0,
                    drop_charge_gbp=charge / 2)))  # fmt: skip
            if rng.random() < 0.3:
                supplies.append((name, o.id, Quote(
                    name, o.id, (Tier(0, base + 80),), pack="bag", pack_kg=25.0,
                    drop_charge_gbp=charge / 2)))  # fmt: skip
    trough = tuple(o.id for o in ready if o.feed.is_concentrate)
    winter = Winter(
        period_days=7,
        lane_t=26.0,
        start_kg=MappingProxyType({b.name: b.weight_kg for b in flock}),
        stores=(
            Store("bin", 6.0, trough[: len(trough) // 2]),
            Store("shed", 9.0, trough[len(trough) // 2 :]),
        ),
    )
    place = Farm(
        Path("random.yaml"), f"random {seed}", start, start + timedelta(days=7 * weeks),
        7 * weeks, flock, ready, winter=winter, assume=("all",),
    )  # fmt: skip
    made = tuple(
        Supply(f"{i}@{m}#{k}", i, replace(q, merchant=m)) for k, (m, i, q) in enumerate(supplies)
    )
    return place, book, ready, made
