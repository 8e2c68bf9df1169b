"""A farm file changed and saved: exact write-back, undo, and no half-written file.

Texts go in and come out; only `save` and `open_text` touch the disk.
"""

from ration.farm.write.edits import (
    add_item,
    add_value,
    put_value,
    remove_value,
    rename,
    set_many,
    set_value,
)
from ration.farm.write.feeds import keep_figure, lay_analysis, set_gain, set_price, set_target
from ration.farm.write.history import History, Step
from ration.farm.write.quoting import Value
from ration.farm.write.saving import ChangedSince, differences, digest_of, open_text, save
from ration.farm.write.settle import Changed

__all__ = [
    "Changed",
    "ChangedSince",
    "History",
    "Step",
    "Value",
    "add_item",
    "add_value",
    "differences",
    "digest_of",
    "keep_figure",
    "lay_analysis",
    "open_text",
    "put_value",
    "remove_value",
    "rename",
    "save",
    "set_gain",
    "set_many",
    "set_price",
    "set_target",
    "set_value",
]
