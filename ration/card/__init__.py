"""The feeding card: a ration turned into scoops, buckets and bales for each pen.

`cards` takes a plan of the winter and a day; `plain_cards` takes a ration alone. Weights are those
put out, waste in. What the full ration is stands in `full` and `measures`, which days differ
from it in `planned` and `days`, whether there is room to eat and lie in `places`.
"""

from ration.card.days import BLEND_DAYS, share_of_full
from ration.card.full import plain_cards
from ration.card.measures import (
    MOST_ERROR_SHARE,
    Meal,
    Measured,
    in_bales,
    measured,
    scoops,
    weighed,
    wrong_scoop_share,
)
from ration.card.places import FloorCheck, TroughCheck, floor_check, trough_check
from ration.card.planned import cards, is_hay_changed_much, period_of
from ration.card.records import Card, Day, DayAmount, Line, card_json, days_frame, frame

__all__ = [
    "BLEND_DAYS",
    "MOST_ERROR_SHARE",
    "Card",
    "Day",
    "DayAmount",
    "FloorCheck",
    "Line",
    "Meal",
    "Measured",
    "TroughCheck",
    "card_json",
    "cards",
    "days_frame",
    "floor_check",
    "frame",
    "in_bales",
    "is_hay_changed_much",
    "measured",
    "period_of",
    "plain_cards",
    "scoops",
    "share_of_full",
    "trough_check",
    "weighed",
    "wrong_scoop_share",
]
