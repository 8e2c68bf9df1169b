"""Answers on paper: A4 sheets as HTML files that stand alone, and as PDF.

Each `..._sheet` takes the record of a job and gives one HTML file as text: style inside, no script,
nothing fetched. Words and figures are those of the faces; what a face puts on the screen as a table
is taken from it (`heard`), so no figure is worded twice. There is no clock here: the day in the
foot is handed in.
"""

from ration.sheets.card import card_sheet
from ration.sheets.ears import Grid, Said, heard
from ration.sheets.html import Foot, Picture, foot
from ration.sheets.mineral import minerals_sheet
from ration.sheets.needs import NeedsBeside, needs_beside, needs_beside_json, needs_sheet
from ration.sheets.order import order_sheet
from ration.sheets.pdf import pdf
from ration.sheets.quotes import quotes_sheet
from ration.sheets.rations import nutritionist_json, nutritionist_sheet, ration_sheet
from ration.sheets.store import put
from ration.sheets.wintering import wintering_sheet

__all__ = [
    "Foot",
    "Grid",
    "NeedsBeside",
    "Picture",
    "Said",
    "card_sheet",
    "foot",
    "heard",
    "minerals_sheet",
    "needs_beside",
    "needs_beside_json",
    "needs_sheet",
    "nutritionist_json",
    "nutritionist_sheet",
    "order_sheet",
    "pdf",
    "put",
    "quotes_sheet",
    "ration_sheet",
    "wintering_sheet",
]
