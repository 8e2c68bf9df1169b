"""Answers as workbooks (.xlsx) for a co-op or a nutritionist.

Each function takes what a job of `ration.jobs` gave and returns the bytes of a workbook: figures
come from the same dictionaries as `--json` and are not worked a second time. Numbers are numbers
with all their digits, their unit in the heading; a text stays a text whatever it starts with; the
same answer gives the same bytes. `save` writes them to a file, never over another unasked.
"""

from ration.workbooks.feeds import feeds_book
from ration.workbooks.minerals import minerals_book
from ration.workbooks.quotes import landed_book, quotes_book
from ration.workbooks.save import check_target, save
from ration.workbooks.winter import order_book, winter_book
from ration.workbooks.wintering import wintering_book

__all__ = [
    "check_target",
    "feeds_book",
    "landed_book",
    "minerals_book",
    "order_book",
    "quotes_book",
    "save",
    "winter_book",
    "wintering_book",
]
