"""What the page changes in a farm file by one press: figures, prices, targets, analyses.

Each value is read as the farm file's reader would before it is written, so that nothing is put
in the file that the reader then refuses by itself; whether it agrees with the rest is for
`ration.farm.read_text`, to be asked of the new text.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ration import strict_yaml, units
from ration.errors import FileError, InputError, Problem, UnknownName
from ration.farm import words as farm_words
from ration.farm.keys import SPOKEN
from ration.farm.write.edits import add_item, add_value, put_value, rename, set_value
from ration.farm.write.settle import Changed
from ration.farm.write.spots import NAME, Leaf
from ration.plain_text import shown
from ration.strict_yaml import Keys, nearest, tidy

_BY_TIDY = {tidy(word): word for word in farm_words.FIGURES}
_BY_NUTRIENT = {nutrient: word for word, (nutrient, _) in farm_words.FIGURES.items()}


def keep_figure(text: str, offer_key: str, word: str, value_text: str, note: str = "") -> Changed:
    """A feed's own figure, put over the one that is there or added.

    Parameters
    ----------
    text : str
        A farm file.
    offer_key : str
        The feed: its id, or its name in the file.
    word : str
        The figure in the file's words (protein, dry matter) or its nutrient id
        ("cp_g_per_kg_dm"). The three of `degradability` belong together: use `put_value`.
    value_text : str
        The value with its unit: "7.4 %".
    note : str
        A remark for the line: "laboratory 9 November".

    Raises
    ------
    InputError
        The feed or the figure is not known, or the value is not understood.
    """
    known = _BY_NUTRIENT.get(word) or _BY_TIDY.get(tidy(SPOKEN.get(tidy(word), word)))
    if known is None:
        hint = nearest(word, list(farm_words.FIGURES)) or (
            f"One of: {', '.join(farm_words.FIGURES)}"
        )
        raise UnknownName(Problem("", f"{shown(word)} is no figure of a feed", "", hint))
    at: Keys = (*_entry(text, "feeds", offer_key, "feed"), known)
    value = _readable(farm_words.FIGURES[known][1], value_text, text, at)
    return put_value(text, at, value, note)


def set_price(text: str, offer_key: str, price_text: str, note: str = "") -> Changed:
    """The price of a bought feed, or what a feed of the farm's own would fetch: "211 /t"."""
    feed = _entry(text, "feeds", offer_key, "feed")
    is_home = Leaf(text).has((*feed, "would fetch"))
    word, reader = (
        ("would fetch", farm_words.would_fetch) if is_home else ("price", farm_words.price)
    )
    price = _readable(reader, price_text, text, (*feed, word))
    return put_value(text, (*feed, word), price, note)


def set_target(text: str, batch_key: str, target_text: str) -> Changed:
    """The weight a batch is to reach: "42 kg"; a gain that is written there gives way to it."""
    return _aim(text, batch_key, "target", target_text, "gain", units.mass_kg)


def set_gain(text: str, batch_key: str, gain_text: str) -> Changed:
    """A batch's gain: "40 g/day"; a target that is written there gives way to it."""
    return _aim(text, batch_key, "gain", gain_text, "target", units.gain_g_per_day)


def lay_analysis(text: str, offer_key: str, file_name: str) -> Changed:
    """A laboratory's file named under a feed, beside those that are named there already.

    Raises
    ------
    InputError
        The feed is not known, or the file does not lie beside the farm file or below it.
    """
    at: Keys = (*_entry(text, "feeds", offer_key, "feed"), "analysis")
    leaf = Leaf(text)
    if not file_name.strip() or not strict_yaml.is_beside(file_name) or file_name.startswith("~"):
        raise FileError(
            Problem(
                leaf.sheet.where(at),
                f"read {shown(file_name)}: this file must lie beside the farm file "
                "or in a folder below it",
                do="Copy it there",
            )
        )
    if not leaf.has(at):
        return add_value(text, at[:-1], "analysis", file_name)
    old = leaf.value(at)
    if file_name in (old if isinstance(old, list) else [old]):
        said, line = leaf.said(at), leaf.line(at)
        words = f"{leaf.words(at)} {said} kept"
        number = leaf.line_of(leaf.start(at))
        return Changed(text, number, said, said, line, line, at, words)
    return set_value(text, at, file_name) if old is None else add_item(text, at, file_name)


def _entry(text: str, section: str, key: str, what: str) -> Keys:
    """The path of a feed or a batch."""
    leaf = Leaf(text)
    if leaf.has((section, key)):
        return leaf.find((section, key))
    known = [leaf.written((section, n)) for n in leaf.sheet.group((section,))]
    hint = nearest(key, known) or f"{section} here: {', '.join(known[:12])}"
    raise UnknownName(Problem(NAME, f"there is no {what} {shown(key)}", "", hint))


def _readable(reader: Callable[..., Any], value: str, text: str, at: Keys) -> str:
    """The value with its spaces tidied, once the file's own reader has taken it."""
    value = " ".join(value.split())
    try:
        reader(value)
    except InputError as error:
        raise error.at(Leaf(text).sheet.where(at)) from None
    return value


def _aim(
    text: str, batch: str, word: str, value: str, other: str, reader: Callable[..., float]
) -> Changed:
    """A batch's target or gain, in the place of the other when that is there."""
    at = _entry(text, "batches", batch, "batch")
    value = _readable(lambda v: reader(v, word), value, text, (*at, word))
    leaf = Leaf(text)
    if leaf.has((*at, other)) and not leaf.has((*at, word)):
        return rename(text, (*at, other), word, value)
    return put_value(text, (*at, word), value)
