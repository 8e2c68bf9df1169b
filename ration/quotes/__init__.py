"""Merchants' quotes: as they were sent, made into records, tied to the farm's feeds.

`read` takes a file as a merchant or a co-op sends it, `read_text` a CSV text; both give a
`QuoteSheet`, or raise `InputError` with every fault of the file, one line each. `frame` makes a
table of it. Nothing is guessed unsaid: what a sheet leaves open is in `questions`, every row or
column that was not understood in `not_read`, and a number that could be read two ways is a fault.

A tidy sheet has one row a price, under these headings, in any order; only the first three are
needed (the merchant may stand in a line above, "Merchant: Heron", or be the name of the sheet).
Merchants' own headings are known by many other words (`headings.NAMES`).

==================== ==============================================================================
merchant             who sells
feed                 what it is, in the merchant's words
price (GBP/t)        a number; or with its own unit, "8.35 per 20 kg bag", "5.60 per 18 kg bale",
                     "0.74/kg"; or with tiers, "296; 287 from 15 t; 280 from 29 t"
like                 feed of the table it is like
from (t)             tonnes of the season's order from which this row's price holds: rows of one
                     merchant, feed and pack, rising, make one quote
pack                 bulk, tonne bag (1,000 kg unless it says another), 25 kg bag, 18 kg bale
bags a pallet        sold in whole pallets of so many
least drop (t)       tonnes, "none", or "1 pallet"
most drop (t)
drop charge (GBP)    for each delivery
lorry                "artic" (44 t laden) or "18 t rigid": the smallest that will be sent
all there is (t)
delivered or         one of the two words
collected
haulage (GBP/t)      added to the price
cash off (GBP/t)     taken off when paid with the order
payment (days)       days after delivery that the bill falls due
dated                date of the quote; the first day to order unless "valid from" says another
valid from           first day to order
valid until          last day to order, or so many days from "dated": "21 days"
delivered until      last day of delivery
rise (GBP/t/month)   added for each month from "rise from", that month counted
rise from            "December 2026"
VAT                  ex; or inc with its rate, "inc 20 %", which is taken off
protein (%) ...      dry matter, energy, oil, fibre (NDF), ash, calcium, phosphorus, magnesium,
                     copper (mg/kg) and others: as fed unless the heading or cell says DM
made for             sheep, cattle, horse, pig or poultry
note
==================== ==============================================================================

Dates read day before month. Declared figures are kept per kg DM where the heading says DM or the
dry matter is declared beside them; else as fed, under the same id with `_per_kg_fresh` in place
of `_per_kg_dm` (`cp_g_per_kg_fresh`, `cu_mg_per_kg_fresh`), for whoever knows the feed's dry
matter to convert.
"""

from ration.quotes.frame import frame
from ration.quotes.reader import read, read_text
from ration.quotes.records import PACKS, Quote, QuoteSheet, Supply, Tier

__all__ = ["PACKS", "Quote", "QuoteSheet", "Supply", "Tier", "frame", "read", "read_text"]
