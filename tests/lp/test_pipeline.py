"""Random farms through all that stands between a search and a person: judge, books, prices."""

from __future__ import annotations

import numpy as np
import pytest
from properties.strategies import seeded_farm, told

from ration import mix, search, worth

FARMS = range(2000, 2040)


@pytest.mark.parametrize("seed", [*FARMS, 2143])
def test_every_ration_found_is_confirmed_balanced_and_priced(seed: int) -> None:
    farm = seeded_farm(seed)
    model = farm.model
    found = search.search(model, gap_share=mix.SEARCH_GAP_SHARE)[0]
    if found.x is None:
        assert not found.is_borderline
        return
    assert found.gap_share <= search.GAP_SHARE
    x, cost, touching = mix._judged(model, found, np.where(found.x > 1e-7, found.x, 0.0))
    mix.check_books(model, x, cost, told(farm, x))
    assert touching.col_price is not None
    better = search.Found(x, cost, found.lower_bound, found.linear_programmes)
    prices = worth.prices(model, better, touching.price_range, touching.col_price)
    used = (x > 1e-7) & (model.col_lo <= 0)
    paid = model.cost
    known = ~np.isnan(prices.worth)
    assert (prices.worth[used & known] >= paid[used & known] - 3e-6).all()
    assert (prices.worth[~used & known] <= paid[~used & known] + 3e-6).all()
    assert (prices.low <= paid + 1e-9).all()
    assert (prices.high >= paid - 1e-9).all()
