"""A feed, where each of its figures comes from, and a table of feeds.

A figure that is not on file is missing, never zero: `feed["ca_g_per_kg_dm"]` raises
`MissingValue` naming the feed and the figure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from ration.errors import MissingValue, Problem, UnknownName

if TYPE_CHECKING:
    import pandas as pd

MARK_WORDS = {
    "lab": "your laboratory",
    "label": "label or docket",
    "user": "you wrote it",
    "print": "book, read in print",
    "restated": "book, restated in a later work",
    "derived": "derived",
    "memory": "book value from memory, unverified",
    "practice": "common practice, editable",
    "guess": "a guess",
}
FORAGE_GROUPS = ("hay", "silage", "straw", "grazing")
CONCENTRATE_GROUPS = ("cereal", "byproduct", "protein", "compound")


@dataclass(frozen=True)
class Figure:
    """One number about a feed, with its origin.

    Parameters
    ----------
    value : float
        In the unit of the nutrient dictionary.
    mark : str
        One of `MARK_WORDS`.
    source : str
        Key of `feedtables/sources.csv`, a file name, or "".
    note : str
        How it was derived or what it was before.
    spread : float or None
        Standard deviation or standard error where known, same unit as value.
    place : str
        File and line the figure was read at.
    """

    value: float
    mark: str
    source: str = ""
    note: str = ""
    spread: float | None = None
    place: str = ""

    @property
    def origin(self) -> str:
        """Origin in plain words."""
        words = MARK_WORDS.get(self.mark, self.mark)
        return f"{words} ({self.source})" if self.source else words


@dataclass(frozen=True)
class Feed:
    """A feed: a name, a group and its figures by nutrient id.

    Nutrient ids carry their unit (`cp_g_per_kg_dm`); the dictionary is
    `feedtables/nutrients.csv`.
    """

    id: str
    name: str
    group: str
    figures: Mapping[str, Figure] = field(default_factory=lambda: MappingProxyType({}))
    note: str = ""

    def __getitem__(self, nutrient: str) -> float:
        return self.figure(nutrient).value

    def get(self, nutrient: str) -> float | None:
        """The value, or None when it is not on file."""
        found = self.figures.get(nutrient)
        return None if found is None else found.value

    def figure(self, nutrient: str) -> Figure:
        """The figure with its origin; `MissingValue` when not on file."""
        try:
            return self.figures[nutrient]
        except KeyError:
            raise MissingValue(
                Problem(
                    f"feed {self.id}",
                    f"{self.name} has no {nutrient}",
                    "missing is never taken as zero",
                    f"Enter {nutrient} for {self.id}, or allow the assumption by name",
                )
            ) from None

    def with_figures(self, figures: Mapping[str, Figure], **changes: Any) -> Feed:
        """A copy with some figures laid over the old ones."""
        return replace(self, figures=MappingProxyType({**self.figures, **figures}), **changes)

    @property
    def kind_words(self) -> str:
        """The group for a sentence: "hay", or "any feed" where it is not known."""
        return "any feed" if self.group == "any" else self.group

    @property
    def is_forage(self) -> bool:
        """Hay, silage, straw or grazing."""
        return self.group in FORAGE_GROUPS

    @property
    def is_concentrate(self) -> bool:
        """Cereal, by-product, protein feed or compound."""
        return self.group in CONCENTRATE_GROUPS


class FeedTable(Mapping[str, Feed]):
    """Feeds by id; a wrong id raises `UnknownName` with the nearest ones."""

    def __init__(self, feeds: Mapping[str, Feed]) -> None:
        self._feeds = MappingProxyType(dict(feeds))

    def __getitem__(self, feed_id: str) -> Feed:
        try:
            return self._feeds[feed_id]
        except KeyError:
            near = get_close_matches(feed_id, self._feeds, n=3, cutoff=0.5)
            raise UnknownName(
                Problem(
                    "",
                    f'feed "{feed_id}" is not in the table',
                    f"nearest: {', '.join(near)}" if near else "nothing is near it",
                    "List them with: ration feeds",
                )
            ) from None

    def __iter__(self) -> Iterator[str]:
        return iter(self._feeds)

    def __len__(self) -> int:
        return len(self._feeds)

    def __contains__(self, feed_id: object) -> bool:
        return feed_id in self._feeds

    def overlay(self, feeds: Mapping[str, Feed]) -> FeedTable:
        """This table with other feeds laid over it, figure by figure."""
        merged = dict(self._feeds)
        for key, feed in feeds.items():
            old = merged.get(key)
            merged[key] = (
                feed
                if old is None
                else replace(
                    old.with_figures(feed.figures),
                    name=feed.name or old.name,
                    group=feed.group or old.group,
                    note=feed.note or old.note,
                )
            )
        return FeedTable(merged)

    def frame(self) -> pd.DataFrame:
        """One row a feed, one column a nutrient; missing stays NaN."""
        import pandas as pd

        rows = {
            k: {"name": f.name, "group": f.group, **{n: g.value for n, g in f.figures.items()}}
            for k, f in self._feeds.items()
        }
        frame = pd.DataFrame.from_dict(rows, orient="index")
        frame.index.name = "feed_id"
        return frame
