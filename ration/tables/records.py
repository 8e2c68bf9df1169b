"""What the feed tables hold, as frozen records, and what the figures of a feed must agree on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from ration.errors import Problem, UnknownName
from ration.feeds import Feed, FeedTable, Figure
from ration.tables.minerals import MineralLevel

if TYPE_CHECKING:
    import pandas as pd

ANY = "any"
CP_PER_N = 6.25
SUM_PARTS = (
    "cp_g_per_kg_dm",
    "oil_g_per_kg_dm",
    "ash_g_per_kg_dm",
    "ndf_g_per_kg_dm",
    "starch_g_per_kg_dm",
    "sugar_g_per_kg_dm",
)
SUM_DOUBTED_G = 1030.0
SUM_REFUSED_G = 1100.0
# ME 0.0157 to 0.016 of DOMD (AFRC-1993, MAFF-1975, from memory); wide of both is a slip.
ME_PER_DOMD_MJ_PER_G = (0.0140, 0.0180)


@dataclass(frozen=True)
class Doubt(Problem):
    """A problem that does not bar the table: look at it again."""


@dataclass(frozen=True)
class Nutrient:
    """One entry of the nutrient dictionary, `feedtables/nutrients.csv`."""

    id: str
    name: str
    unit: str
    basis: str
    decimals: int
    meaning: str


@dataclass(frozen=True)
class Range:
    """Plausible lowest and highest value, in the unit of the nutrient, and where from."""

    lowest: float
    highest: float
    source: str
    mark: str


@dataclass(frozen=True)
class Source:
    """A source: its key, what it is, its public address ("" when none) and its mark."""

    key: str
    what: str
    address: str
    mark: str


@dataclass(frozen=True)
class Assumption:
    """What a missing figure of a feed or a group may be taken as, if the user says so.

    `value` is in the unit of the nutrient; under the rule `share_of_n` it is a share of the
    feed's nitrogen.
    """

    match: str
    nutrient: str
    value: float
    rule: str
    mark: str
    source: str
    words: str
    place: str


@dataclass(frozen=True)
class DefaultLimit:
    """One row of `feedtables/limits.csv`; `match` and `when` are "" where they do not apply."""

    limit: str
    match: str
    when: str
    value: float
    unit: str
    words: str
    source: str
    mark: str


@dataclass(frozen=True)
class DefaultCaution:
    """One row of `feedtables/cautions.csv`."""

    caution: str
    level: str
    title: str
    threshold: str
    value: float | None
    unit: str
    second: float | None
    second_unit: str
    trigger: str
    words: str
    source: str
    mark: str


@dataclass(frozen=True)
class Tables:
    """Everything the tables hold, overlays laid on.

    Parameters
    ----------
    feeds : FeedTable
        Feeds with their figures.
    nutrients : mapping
        Nutrient id to `Nutrient`.
    ranges : mapping
        (nutrient, group or "any") to `Range`.
    sources : mapping
        Key to `Source`.
    assumptions : mapping
        (feed id or group, nutrient) to `Assumption`.
    limits, cautions : tuple
        Default limits and cautions, in the order of their files.
    confidence, disagreements : mapping
        Feed id to the confidence letter, and to what other sources say.
    digest : str
        First 12 hexadecimal digits of the SHA-256 over all tables and overlays read.
    version : str
        Date of the shipped tables.
    folder, overlays : Path, tuple of Path
        Where they were read.
    minerals : tuple of MineralLevel
        What is published on minerals and vitamins, in the order of its file.
    """

    feeds: FeedTable
    nutrients: Mapping[str, Nutrient]
    ranges: Mapping[tuple[str, str], Range]
    sources: Mapping[str, Source]
    assumptions: Mapping[tuple[str, str], Assumption]
    limits: tuple[DefaultLimit, ...]
    cautions: tuple[DefaultCaution, ...]
    confidence: Mapping[str, str]
    disagreements: Mapping[str, str]
    digest: str
    version: str
    folder: Path
    overlays: tuple[Path, ...] = ()
    minerals: tuple[MineralLevel, ...] = ()

    def nutrient(self, nutrient: str) -> Nutrient:
        """The dictionary entry; `UnknownName` with the nearest ids when there is none."""
        try:
            return self.nutrients[nutrient]
        except KeyError:
            raise UnknownName(unknown_nutrient("", nutrient, self.nutrients)) from None

    def range_of(self, nutrient: str, group: str) -> tuple[float, float]:
        """Lowest and highest plausible value of a nutrient in a group of feeds, in its unit."""
        self.nutrient(nutrient)
        found = self.ranges.get((nutrient, group)) or self.ranges.get((nutrient, ANY))
        return (found.lowest, found.highest) if found else (0.0, float("inf"))

    def frame(self) -> pd.DataFrame:
        """One row a figure: feed, nutrient, value, unit, mark, source, spread, note, place."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "feed_id": i,
                    "nutrient": n,
                    "value": g.value,
                    "unit": self.nutrients[n].unit,
                    "mark": g.mark,
                    "source": g.source,
                    "spread": g.spread,
                    "note": g.note,
                    "place": g.place,
                }
                for i, f in self.feeds.items()
                for n, g in f.figures.items()
            ]
        )


def unknown_nutrient(where: str, read: str, known: Iterable[str]) -> Problem:
    """The fault of a nutrient id that is not in the dictionary, with the nearest ones."""
    near = get_close_matches(read, list(known), n=3, cutoff=0.5)
    return Problem(
        where,
        f'nutrient "{read}" is not known',
        f"nearest: {', '.join(near)}" if near else "they are listed in nutrients.csv",
        "Write one of them",
    )


_SLIPS = (
    (10.0, "if it was %"),
    (0.1, "if it is ten times too high"),
    (0.001, "if it was mg/kg"),
    (1000.0, "if it was kg/kg"),
    (0.01, "if it was %"),
    (100.0, "if it was a share"),
)


def range_fault(feed: Feed, nutrient: Nutrient, figure: Figure, lo: float, hi: float) -> Problem:
    """The fault of a figure outside its plausible range, with the likely slip of unit."""
    slip = next(
        (
            f"; {figure.value * by:g} would fit {why}"
            for by, why in _SLIPS
            if nutrient.basis != "other" and lo <= figure.value * by <= hi and figure.value
        ),
        "",
    )
    return Problem(
        f"{figure.place}, {feed.id}, {nutrient.id}",
        f"read {figure.value:g} {nutrient.unit}",
        f"{lo:g} to {hi:g} is plausible for {feed.kind_words}{slip}",
        'Correct it; if it is right begin its note with "checked"',
    )


def consistency(feed: Feed) -> Iterator[Problem]:
    """What the figures of one feed must keep among themselves."""

    def value(name: str) -> float:
        return feed.get(name) or 0.0

    def fault(kind: type[Problem], name: str, read: str, allowed: str) -> Problem:
        return kind(
            f"{feed.figures[name].place}, {feed.id}", read, allowed, "Look at the figures again"
        )

    parts = [n for n in SUM_PARTS if n in feed.figures]
    total = sum(value(n) for n in parts)
    if total > SUM_DOUBTED_G and "npn_share_of_cp" not in feed.figures:
        kind = Problem if total > SUM_REFUSED_G else Doubt
        yield fault(
            kind,
            parts[0],
            f"protein, oil, ash, fibre, starch and sugar add to {total:g} g/kg DM",
            f"over {SUM_DOUBTED_G:g} is doubtful, over {SUM_REFUSED_G:g} refused",
        )
    a, b = value("n_a_share"), value("n_b_share")
    if a + b > 1 + 1e-9:
        yield fault(
            Problem,
            "n_a_share" if a else "n_b_share",
            f"a and b add to {a + b:g}",
            "they are shares of the nitrogen, at most 1 together",
        )
    pairs = (
        (Doubt, "adf_g_per_kg_dm", "ndf_g_per_kg_dm", 1.0, "ADF is a part of NDF"),
        (Doubt, "fme_published_mj_per_kg_dm", "me_mj_per_kg_dm", 1.0, "fermentable is part of all"),
        (
            Problem,
            "adin_g_n_per_kg_dm",
            "cp_g_per_kg_dm",
            1 / CP_PER_N,
            "bound nitrogen is a part of all nitrogen (CP / 6.25)",
        ),
        (Doubt, "dup_published_g_per_kg_dm", "cp_g_per_kg_dm", 1.0, "it is a part of the protein"),
        (Doubt, "erdp_published_g_per_kg_dm", "cp_g_per_kg_dm", 1.0, "it is a part of the protein"),
    )
    for kind, part, whole, factor, why in pairs:
        if part in feed.figures and whole in feed.figures and value(part) > value(whole) * factor:
            yield fault(
                kind, part, f"{part} {value(part):g} is over {value(whole) * factor:g}", why
            )
    domd, ash = value("domd_g_per_kg_dm"), value("ash_g_per_kg_dm")
    if domd + ash > 1000:
        yield fault(
            Problem,
            "domd_g_per_kg_dm",
            f"D-value and ash add to {domd + ash:g} g/kg DM",
            "organic matter and ash are at most 1000",
        )
    if domd and feed.is_forage and "me_mj_per_kg_dm" in feed.figures:
        ratio, (lo, hi) = value("me_mj_per_kg_dm") / domd, ME_PER_DOMD_MJ_PER_G
        if not lo <= ratio <= hi:
            yield fault(
                Doubt,
                "me_mj_per_kg_dm",
                f"ME {value('me_mj_per_kg_dm'):g} with D-value {domd / 10:g} %",
                f"{lo * domd:.1f} to {hi * domd:.1f} MJ/kg DM goes with that D-value",
            )
