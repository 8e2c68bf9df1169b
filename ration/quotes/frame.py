"""Quotes as a table for a notebook or a screen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ration.quotes.records import QuoteSheet

if TYPE_CHECKING:
    import pandas as pd

_COLUMNS = (
    "merchant", "feed", "like", "pack", "pack_kg", "packs_per_pallet", "from_t",
    "price_gbp_per_t_fresh", "least_drop_t", "most_drop_t", "drop_charge_gbp", "lorry_t", "most_t",
    "is_collected", "haulage_gbp_per_t", "cash_off_gbp_per_t", "payment_days", "valid_from",
    "valid_until", "delivered_until", "rise_gbp_per_t_month", "rise_from", "is_ex_vat",
    "copper_mg_per_kg_fresh", "made_for",
)  # fmt: skip


def frame(sheet: QuoteSheet) -> pd.DataFrame:
    """One row a tier: the quote's conditions, its declared figures, note and place.

    Columns carry their units; a condition that is not said is missing, and the declared figures
    stand under their nutrient ids.
    """
    import pandas as pd

    rows: list[dict[str, Any]] = []
    for quote in sheet.quotes:
        for tier in quote.tiers:
            own = {**vars(quote), **vars(tier)}
            row = {name: own[name] for name in _COLUMNS}
            row |= {k: f.value for k, f in quote.declared.items()}
            rows.append(row | {"note": quote.note, "place": quote.place})
    figures = sorted({k for q in sheet.quotes for k in q.declared})
    return pd.DataFrame(rows, columns=[*_COLUMNS, *figures, "note", "place"])
