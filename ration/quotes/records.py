"""What one line of a merchant's quote is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType

from ration.feeds import Figure

BULK, TONNE_BAG, BAG, BALE = "bulk", "tonne bag", "bag", "bale"
PACKS = (BULK, TONNE_BAG, BAG, BALE)


@dataclass(frozen=True)
class Tier:
    """A price that holds for every tonne once the season's order comes to `from_t`.

    Attributes
    ----------
    from_t : float
        Least tonnes of this feed from this merchant in the season. [t fresh]
    price_gbp_per_t_fresh : float
        [GBP/t fresh], ex VAT.
    """

    from_t: float
    price_gbp_per_t_fresh: float


@dataclass(frozen=True)
class Quote:
    """One feed in one pack from one merchant, with its conditions.

    Attributes
    ----------
    merchant, feed : str
        As written.
    tiers : tuple of Tier
        Rising; the first from 0 t.
    pack : str
        One of `PACKS`.
    pack_kg : float or None
        Weight of one bag, tonne bag or bale; None for bulk. [kg fresh]
    packs_per_pallet : int or None
        Sold in whole pallets of so many packs.
    least_drop_t : float
        Least tonnes in one delivery from this merchant in this kind of pack. [t fresh]
    most_drop_t : float or None
        Most tonnes in one delivery; None takes the lorry's. [t fresh]
    drop_charge_gbp : float
        For each delivery. [GBP]
    lorry_t : float or None
        Smallest lorry the merchant will send, laden. [t] An artic is 44, a rigid 18, 26 or 32.
    most_t : float or None
        All there is. [t fresh]
    is_collected : bool
        Fetched by the buyer, `haulage_gbp_per_t` his own cost.
    haulage_gbp_per_t : float
        Added to the price. [GBP/t fresh]
    cash_off_gbp_per_t : float
        Taken off when paid with the order. [GBP/t fresh]
    payment_days : int
        Days after delivery that the bill falls due. [day]
    valid_from, valid_until : date or None
        First and last day on which an order may be placed.
    delivered_until : date or None
        Last day of delivery, when said; None for the whole winter.
    rise_gbp_per_t_month : float
        Added for each calendar month from `rise_from`, that month counted. [GBP/t fresh/month]
    rise_from : date or None
    is_ex_vat : bool or None
        None when the sheet does not say.
    declared : mapping of str to Figure
        Label figures per kg DM or fresh made per kg DM, by nutrient id; copper is
        "cu_mg_per_kg_dm".
    copper_mg_per_kg_fresh : float or None
        Copper as the label gives it. [mg/kg fresh]
    made_for : str
        "", or cattle, horse, pig or poultry.
    like : str
        Feed of the table it was tied to in the sheet, "" when the sheet does not say.
    place : str
        File, sheet and row.
    note : str
        What the sheet says beside.
    """

    merchant: str
    feed: str
    tiers: tuple[Tier, ...]
    pack: str = BULK
    pack_kg: float | None = None
    packs_per_pallet: int | None = None
    least_drop_t: float = 0.0
    most_drop_t: float | None = None
    drop_charge_gbp: float = 0.0
    lorry_t: float | None = None
    most_t: float | None = None
    is_collected: bool = False
    haulage_gbp_per_t: float = 0.0
    cash_off_gbp_per_t: float = 0.0
    payment_days: int = 0
    valid_from: date | None = None
    valid_until: date | None = None
    delivered_until: date | None = None
    rise_gbp_per_t_month: float = 0.0
    rise_from: date | None = None
    is_ex_vat: bool | None = None
    declared: Mapping[str, Figure] = field(default_factory=lambda: MappingProxyType({}))
    copper_mg_per_kg_fresh: float | None = None
    made_for: str = ""
    like: str = ""
    place: str = ""
    note: str = ""


@dataclass(frozen=True)
class QuoteSheet:
    """Everything read from one file.

    Attributes
    ----------
    file : str
    quotes : tuple of Quote
        In the order of the rows.
    questions : tuple of str
        What the sheet leaves open (VAT, delivery, least load), one plain line each.
    columns : tuple of (str, str)
        Heading as written, what it was read as.
    not_read : tuple of str
        Rows and columns not understood, with place and reason; nothing is lost silently.
    """

    file: str
    quotes: tuple[Quote, ...]
    questions: tuple[str, ...] = ()
    columns: tuple[tuple[str, str], ...] = ()
    not_read: tuple[str, ...] = ()


@dataclass(frozen=True)
class Supply:
    """A quote tied to a feed the batches may be given, and whether it can be used.

    Attributes
    ----------
    id : str
        Unique among the supplies.
    offer_id : str
        The farm's feed (`Offer.id`) that it delivers.
    quote : Quote
    refused : str
        "" when it may be bought; else why not, and what would make it usable.
    """

    id: str
    offer_id: str
    quote: Quote
    refused: str = ""

    @property
    def is_usable(self) -> bool:
        """True when it may be bought."""
        return not self.refused
