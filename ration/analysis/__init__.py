"""The hay analysis: laboratory sheets become a feed of the farm.

`read_sheet` reads, `checks` doubts, `combine` takes repeat samples together, `feed_from` lays the
figures over a feed of the tables and fills gaps by published equations, `words` tells the farmer.
Nothing is rescaled, derived or left out without being said. The sheet's own figures are kept.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from ration.analysis import reader as lab_reader
from ration.analysis.checks import Finding, Ranges, checks, out_of_every_range, shown_figure
from ration.analysis.fill import Filled, energy_from
from ration.analysis.names import BY_ID
from ration.analysis.records import Reading, Sheet, house_figures
from ration.errors import InputError, Problem
from ration.feeds import Feed, Figure
from ration.standards.feed_conversions import (
    cp_from_n_g_per_kg_dm,
    dm_from_moisture_g_per_kg_fresh,
)
from ration.standards.feed_equations import domd_from_dmd_g_per_kg_dm, domd_from_omd_g_per_kg_dm

__all__ = (
    "AnalysedFeed", "Combined", "Finding", "Mean", "Reading", "Sheet", "checks", "combine",
    "feed_from", "read_sheet", "words",
)  # fmt: skip

# Error of one laboratory result, 1 sd, same unit as the figure. Working figures by judgement from
# Kennedy-1996, Digman-2022 and Restaino; two results further apart than 2.8 sd are doubted.
LAB_ERROR = {
    "dm_g_per_kg_fresh": 10.0, "cp_g_per_kg_dm": 8.5, "ndf_g_per_kg_dm": 20.0,
    "domd_g_per_kg_dm": 22.5, "me_mj_per_kg_dm": 0.35,
}  # fmt: skip
APART = 2.8
OLD_ENERGY = ("fme_published_mj_per_kg_dm", "domd_g_per_kg_dm")
OLD_PROTEIN = ("erdp_published_g_per_kg_dm", "dup_published_g_per_kg_dm")
ONLY_ON_SHEETS = frozenset((
    "oven_dm_g_per_kg_fresh", "moisture_g_per_kg_fresh", "de_mj_per_kg_dm", "dmd_g_per_kg_dm",
    "omd_g_per_kg_om", "n_g_per_kg_dm", "madf_g_per_kg_dm", "crude_fibre_g_per_kg_dm",
    "nfe_g_per_kg_dm", "ncgd_g_per_kg_dm", "ncd_g_per_kg_dm", "tdn_g_per_kg_dm",
    "cl_g_per_kg_dm", "nitrate_mg_per_kg_dm", "lactic_acid_g_per_kg_dm",
    "acetic_acid_g_per_kg_dm", "butyric_acid_g_per_kg_dm", "vfa_g_per_kg_dm",
))  # fmt: skip
HEADLINE = ("cp_g_per_kg_dm", "me_mj_per_kg_dm", "dm_g_per_kg_fresh")


@dataclass(frozen=True)
class Mean:
    """One figure over repeat samples.

    Parameters
    ----------
    nutrient : str
        Nutrient id.
    value : float
        Mean, in the unit of the id.
    standard_error : float or None
        Of the mean, same unit; None for a single figure.
    values : tuple of float
        One a sheet.
    places : tuple of str
        File and line of each.
    how : str
        "" when measured, else the equation or conversion it came by.
    """

    nutrient: str
    value: float
    standard_error: float | None
    values: tuple[float, ...]
    places: tuple[str, ...]
    how: str = ""

    @property
    def n(self) -> int:
        """Number of samples."""
        return len(self.values)


@dataclass(frozen=True)
class Combined:
    """Repeat samples taken together: a mean per nutrient, and what is odd between them."""

    figures: Mapping[str, Mean]
    sheets: tuple[Sheet, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class AnalysedFeed:
    """A feed with laboratory figures laid over, and how it came about.

    Parameters
    ----------
    feed : Feed
        Ready for a ration.
    original : tuple of Sheet
        The sheets as they stood.
    findings : tuple of Finding
        Warnings and notes, the gravest first.
    derived : tuple of str
        Nutrient ids filled by an equation; each figure's note says which.
    from_book : tuple of str
        Nutrient ids still as in the tables.
    dropped : tuple of str
        Nutrient ids of the tables' row that no longer hold and were left out.
    like : Feed
        The row of the tables underneath.
    combined : Combined
        Mean and standard error of each figure of the sheets.
    """

    feed: Feed
    original: tuple[Sheet, ...]
    findings: tuple[Finding, ...]
    derived: tuple[str, ...]
    from_book: tuple[str, ...]
    dropped: tuple[str, ...] = ()
    like: Feed = field(default_factory=lambda: Feed("", "", ""))
    combined: Combined = field(default_factory=lambda: Combined({}, ()))


def read_sheet(
    path: str | Path, tables: Ranges | None = None, *, accept: Collection[str] = ()
) -> tuple[Sheet, ...]:
    """Every sample of a laboratory sheet, as it stands.

    Parameters
    ----------
    path : str or Path
        CSV (also parted by semicolons, tabs or bars) or YAML.
    tables : Tables or None
        Feed tables; with them, a figure out of range for every kind of feed that another unit
        would bring into range is refused at once.
    accept : collection of str
        Nutrient ids whose odd figure the user stands by.

    Raises
    ------
    InputError
        With every problem of the file, one line each.
    """
    sheets = lab_reader.sheets_in(path)
    refused = [f for sheet in sheets for f in out_of_every_range(sheet, tables, accept)]
    if refused:
        raise InputError(*(Problem(f.place, f.words) for f in refused))
    return sheets


def combine(sheets: Iterable[Sheet | Iterable[Sheet]]) -> Combined:
    """Repeat samples of one lot: mean and standard error of each figure.

    The standard error is the standard deviation (n - 1) over the root of n; one sample has none.

    Raises
    ------
    InputError
        No sheet, or sheets of different lots.
    """
    given = tuple(_each(sheets))
    if not given:
        raise InputError(Problem("", "no laboratory sheet was given"))
    lots = {" ".join(s.lot.lower().split()): s.lot for s in given if s.lot}
    if len(lots) > 1:
        read = f"the samples are of different lots: {', '.join(lots.values())}"
        allowed, do = "a mean is taken within one lot", "Make a feed of each lot"
        raise InputError(Problem(given[0].place, read, allowed, do))
    gathered: dict[str, list[Filled]] = {}
    for sheet in given:
        for nutrient, filled in _of_sheet(sheet).items():
            gathered.setdefault(nutrient, []).append(filled)
    means = {nutrient: _mean(nutrient, rows) for nutrient, rows in gathered.items()}
    return Combined(MappingProxyType(means), given, tuple(_between(given, means)))


def _each(sheets: Iterable[Sheet | Iterable[Sheet]]) -> Iterator[Sheet]:
    """The sheets, also those given file by file."""
    for item in sheets:
        if isinstance(item, Sheet):
            yield item
        else:
            yield from item


def _of_sheet(sheet: Sheet) -> dict[str, Filled]:
    """Figures of one sheet in house units, with what follows from them by definition."""
    found = {n: Filled(n, v, sheet.where(r)) for n, (v, r) in house_figures(sheet).items()}

    def fill(nutrient: str, other: str, value: float, how: str) -> None:
        found[nutrient] = Filled(nutrient, value, found[other].place, how)

    dm, cp = "dm_g_per_kg_fresh", "cp_g_per_kg_dm"
    oven, water, n = "oven_dm_g_per_kg_fresh", "moisture_g_per_kg_fresh", "n_g_per_kg_dm"
    if dm not in found and oven in found:
        fill(dm, oven, found[oven].value, "oven dry matter, as it stands")
    if dm not in found and water in found:
        value = dm_from_moisture_g_per_kg_fresh(found[water].value)
        fill(dm, water, value, f"100 % less moisture {found[water].value / 10:g} %")
    if cp not in found and n in found:
        value = cp_from_n_g_per_kg_dm(found[n].value)
        fill(cp, n, value, f"6.25 x nitrogen {found[n].value:g} g/kg")
    if "adf_g_per_kg_dm" not in found and "madf_g_per_kg_dm" in found:
        fill("adf_g_per_kg_dm", "madf_g_per_kg_dm", found["madf_g_per_kg_dm"].value,
             "modified acid detergent fibre, as it stands")  # fmt: skip
    return found


def _mean(nutrient: str, rows: list[Filled]) -> Mean:
    values = tuple(r.value for r in rows)
    mean = math.fsum(values) / len(values)
    error = None
    if len(values) > 1:
        squares = math.fsum((v - mean) ** 2 for v in values)
        error = math.sqrt(squares / (len(values) - 1) / len(values))
    hows = list(dict.fromkeys(r.how for r in rows if r.how))
    return Mean(nutrient, mean, error, values, tuple(r.place for r in rows), "; ".join(hows))


def _between(sheets: tuple[Sheet, ...], means: Mapping[str, Mean]) -> Iterator[Finding]:
    """What is odd between repeat samples."""
    names = {" ".join(s.sample.lower().split()): s.sample for s in sheets if s.sample}
    if len(names) > 1 and not any(s.lot for s in sheets):
        said = " and ".join(names.values())
        yield Finding("warn", f"The samples bear different names ({said}); taken as one lot.")
    for nutrient, error in LAB_ERROR.items():
        mean = means.get(nutrient)
        if mean and mean.n > 1 and max(mean.values) - min(mean.values) > APART * error:
            said = " and ".join(shown_figure(nutrient, v) for v in mean.values)
            words = (f"{BY_ID[nutrient].words} {said} lie further apart than laboratory error "
                     "alone would put them: a third sample, or two lots?")  # fmt: skip
            yield Finding("warn", words[0].upper() + words[1:], nutrient, mean.places[-1])


def feed_from(
    sheets: Iterable[Sheet | Iterable[Sheet]],
    like: Feed,
    tables: Ranges | None = None,
    *,
    feed_id: str | None = None,
    name: str | None = None,
    accept: Collection[str] = (),
) -> AnalysedFeed:
    """A feed of the tables with laboratory figures laid over it.

    Measured figures win over the book. Energy that was not measured is worked from the D-value,
    else from digestibility, else from fibre (hay and silage), always marked `derived`. Book
    figures that belonged to the old energy (fermentable energy, D-value) are left out when the
    energy is replaced; published degradable and by-pass protein keep their share of the protein.

    Parameters
    ----------
    sheets : iterable of Sheet
        One, or repeat samples of one lot; what `read_sheet` gave for each file serves too.
    like : Feed
        The nearest feed of the tables.
    tables : Tables or None
        For the plausible ranges.
    feed_id, name : str or None
        Of the new feed; None keeps those of `like`.
    accept : collection of str
        Nutrient ids whose odd figure the user stands by.

    Raises
    ------
    InputError
        With every finding that bars the sheet.
    """
    combined = combine(sheets)
    found = list(combined.findings)
    for sheet in combined.sheets:
        found += checks(sheet, like.group, tables, accept=accept)
    refused = [f for f in found if f.level == "refuse"]
    if refused:
        raise InputError(*(Problem(f.place, f.words) for f in refused))
    figures = {
        n: _lab_figure(m, combined.sheets)
        for n, m in combined.figures.items() if n not in ONLY_ON_SHEETS
    }  # fmt: skip
    found += _fill_energy(figures, combined, like)
    dropped = _old_figures(figures, like)
    kept = {n: f for n, f in like.figures.items() if n not in dropped}
    book = tuple(n for n in kept if n not in figures)
    feed = Feed(
        feed_id or like.id, name or like.name, like.group, MappingProxyType({**kept, **figures}),
        f"laboratory figures over the book's {like.name}",
    )  # fmt: skip
    order = ("warn", "note")
    return AnalysedFeed(
        feed, combined.sheets, tuple(sorted(found, key=lambda f: order.index(f.level))),
        tuple(n for n, f in figures.items() if f.mark == "derived"), book, dropped, like, combined,
    )  # fmt: skip


def _lab_figure(mean: Mean, sheets: tuple[Sheet, ...]) -> Figure:
    theirs = [s for s in sheets if any(p.startswith(s.place) for p in mean.places)]
    source = "; ".join(dict.fromkeys(s.laboratory or s.place for s in theirs))
    notes = [mean.how] if mean.how else []
    if mean.n > 1:
        said = " and ".join(shown_figure(mean.nutrient, v) for v in mean.values)
        notes.append(f"mean of {said}")
    notes += [f"as written {as_written}" for as_written in _as_written(mean, sheets)]
    dates = dict.fromkeys(
        f"{what} {when}" for s in sheets
        for what, when in (("sampled", s.sampled), ("reported", s.reported)) if when
    )  # fmt: skip
    is_sum = mean.how and "as it stands" not in mean.how
    return Figure(
        mean.value, "derived" if is_sum else "lab", source, "; ".join([*notes, *dates]),
        mean.standard_error, "; ".join(mean.places),
    )  # fmt: skip


def _as_written(mean: Mean, sheets: tuple[Sheet, ...]) -> list[str]:
    return [f'"{r.as_written}"' for s in sheets for r in s.readings
            if r.is_used and r.nutrient == mean.nutrient]  # fmt: skip


def _fill_energy(figures: dict[str, Figure], combined: Combined, like: Feed) -> Iterator[Finding]:
    """Energy and D-value that were not measured, from what was."""
    known = {n: m.value for n, m in combined.figures.items()}
    place = combined.sheets[0].place
    source = "; ".join(dict.fromkeys(s.laboratory or s.place for s in combined.sheets))
    me, d = "me_mj_per_kg_dm", "domd_g_per_kg_dm"
    if me not in known:
        filled, doubts = energy_from(combined.figures, like.group)
        for doubt in doubts:
            yield Finding("warn", doubt, me, place)
        if filled:
            figures[me] = Figure(
                filled.value, "derived", source, filled.how, filled.spread, filled.place
            )
        elif any(n in known for n in (d, "dmd_g_per_kg_dm", "adf_g_per_kg_dm", "ndf_g_per_kg_dm")):
            words = (
                "Energy was not measured and cannot be worked from this sheet; the book's stays."
            )
            yield Finding("warn", words, me, place)
    if d in known:
        return
    try:
        if "omd_g_per_kg_om" in known and "ash_g_per_kg_dm" in known:
            value = domd_from_omd_g_per_kg_dm(known["omd_g_per_kg_om"], known["ash_g_per_kg_dm"])
            how = "D-value from OMD and ash: OMD x (100 - ash)/100"
            figures[d] = Figure(value, "derived", source, how)
        elif "dmd_g_per_kg_dm" in known:
            value = domd_from_dmd_g_per_kg_dm(known["dmd_g_per_kg_dm"])
            how = "D-value from DMD: 0.95 DMD % - 0.9 (from memory, unverified)"
            figures[d] = Figure(value, "derived", source, how)
    except InputError as error:
        yield Finding("warn", f"D-value not worked out: {error}", d, place)


def _old_figures(figures: dict[str, Figure], like: Feed) -> tuple[str, ...]:
    """Book figures that fall with the ones replaced; protein parts are rescaled and said."""
    dropped = []
    if "me_mj_per_kg_dm" in figures:
        dropped += [n for n in OLD_ENERGY if n in like.figures and n not in figures]
    old_cp = like.get("cp_g_per_kg_dm")
    if "cp_g_per_kg_dm" not in figures:
        return tuple(dropped)
    for nutrient in OLD_PROTEIN:
        if nutrient not in like.figures or nutrient in figures:
            continue
        if not old_cp:
            dropped.append(nutrient)
            continue
        share = like[nutrient] / old_cp
        how = f"the book's share of protein, {share:.2f}, kept at the new protein"
        value = share * figures["cp_g_per_kg_dm"].value
        figures[nutrient] = Figure(value, "derived", like.figures[nutrient].source, how)
    return tuple(dropped)


# ---------------------------------------------------------------- words


def words(analysed: AnalysedFeed) -> list[str]:
    """What the analysis says, in plain sentences, the most important first."""
    feed, like = analysed.feed, analysed.like
    n = len(analysed.original)
    head = [_beside(analysed, x) for x in HEADLINE if _is_new(analysed, x)]
    lines = []
    if head:
        sample = next((s.sample for s in analysed.original if s.sample), "")
        called = sample if sample and feed.name == like.name else feed.name
        start = f"{called} came back at" if n == 1 else f"{called}, mean of {n} samples:"
        lines.append(f"{start} {', '.join(head)}.")
    rest = [x for x in feed.figures if _is_new(analysed, x) and x not in HEADLINE]
    measured = [x for x in rest if feed.figure(x).mark == "lab"]
    if measured:
        lines.append(f"Also measured: {', '.join(_beside(analysed, x) for x in measured)}.")
    for nutrient in analysed.derived:
        figure = feed.figure(nutrient)
        shown = shown_figure(nutrient, figure.value)
        lines.append(f"Worked out, not measured: {_plain_name(nutrient)} {shown} ({figure.note}).")
    if analysed.dropped:
        names = ", ".join(_plain_name(x) for x in analysed.dropped)
        lines.append(f"Left out, because they belonged to the book's old energy: {names}.")
    if analysed.from_book:
        names = ", ".join(_plain_name(x) for x in analysed.from_book)
        lines.append(f"Still the book's figures for {like.name}, not measured: {names}.")
    for finding in analysed.findings:
        start = "Look again" if finding.level == "warn" else "Note"
        where = f" ({finding.place})" if n > 1 and finding.place else ""
        lines.append(f"{start}: {finding.words}{where}")
    return lines


def _plain_name(nutrient: str) -> str:
    return BY_ID[nutrient].words if nutrient in BY_ID else _OTHER_NAMES.get(nutrient, nutrient)


_OTHER_NAMES = {
    "erdp_published_g_per_kg_dm": "degradable protein as published",
    "dup_published_g_per_kg_dm": "by-pass protein as published",
    "npn_share_of_cp": "share of protein that is not protein",
}


def _is_new(analysed: AnalysedFeed, nutrient: str) -> bool:
    return nutrient in analysed.feed.figures and nutrient not in analysed.from_book


def _beside(analysed: AnalysedFeed, nutrient: str) -> str:
    """The new figure with the book's beside it: "6.9 % protein (book 9 %)"."""
    figure = analysed.feed.figure(nutrient)
    shown = f"{shown_figure(nutrient, figure.value)} {_plain_name(nutrient)}"
    if nutrient == "ph":
        shown = f"pH {figure.value:g}"
    mean = analysed.combined.figures.get(nutrient)
    if mean is not None and mean.standard_error is not None:
        shown += f" give or take {shown_figure(nutrient, mean.standard_error)}"
    old = analysed.like.get(nutrient)
    book = "no book figure" if old is None else f"book {shown_figure(nutrient, old)}"
    return f"{shown} ({book})"
