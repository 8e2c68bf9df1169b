"""From files to worked answers: what a command, a page or a notebook asks for in one call.

Each job reads a farm file and the tables it names, works it out and gathers the cautions; it
prints nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ration import cautions, farm, mix, needs, tables
from ration.assess import Assessment, assess
from ration.cautions import Caution
from ration.errors import InputError, OutOfRange, Problem, UnknownName
from ration.farm import Farm
from ration.mix import FarmRations
from ration.tables import Tables

# Feed to the laboratory sheet laid over it, or to several of one lot, which are combined.
Sheets = Mapping[str, Path | Sequence[Path]]


@dataclass(frozen=True)
class Mixed:
    """The rations of a farm with their cautions, and the rations before a new analysis.

    Attributes
    ----------
    result : FarmRations
    before : FarmRations or None
        Without the laboratory sheets laid on in this run; None when there were none.
    tables : Tables
    cautions : tuple of Caution
        Over all batches, each once, stops first.
    cautions_of : mapping
        Batch name to its own cautions.
    """

    result: FarmRations
    before: FarmRations | None
    tables: Tables
    cautions: tuple[Caution, ...]
    cautions_of: Mapping[str, tuple[Caution, ...]]


def by_standard(read: Farm, standard: str | None) -> Farm:
    """The farm by another published standard; None leaves its own.

    Raises
    ------
    UnknownName
        There is no such standard.
    """
    return read if standard is None else replace(read, standard=needs.known(standard))


def read_farm(
    path: Path,
    *,
    overlays: Sequence[Path] = (),
    sheets: Sheets | None = None,
    standard: str | None = None,
) -> tuple[Farm, Tables]:
    """A farm and the tables it is worked with: shipped, then those given here, then its own.

    Raises
    ------
    InputError
        Every fault of the farm file, the tables and the sheets, one line each.
    """
    book = tables.load(overlays=list(overlays))
    read = farm.read(path, tables=book, analyses=sheets or {})
    if read.tables:  # `farm.read` has laid them over the feeds; here the rest of the book follows
        book = tables.load(overlays=[*overlays, *read.tables])
    return by_standard(read, standard), book


def mix_file(
    path: Path,
    *,
    batches: Sequence[str] = (),
    sheets: Sheets | None = None,
    overlays: Sequence[Path] = (),
    standard: str | None = None,
) -> Mixed:
    """The cheapest ration of every batch of a farm file.

    Parameters
    ----------
    path : Path
        The farm file.
    batches : sequence of str
        Names of the batches wanted; none for all. Stock is shared as if all were worked.
    sheets : mapping or None
        Feed to its laboratory sheet or sheets, laid on for this run; the answer then carries the
        ration before.
    overlays : sequence of Path
        Tables of your own, laid over the shipped ones.
    standard : str or None
        Published standard instead of the farm file's.

    Raises
    ------
    InputError, NotProved, BalanceError
        As `ration.mix.mix`.
    """
    read, book = read_farm(path, overlays=overlays, sheets=sheets, standard=standard)
    known = [b.name for b in read.batches]
    if wrong := [name for name in batches if name not in known]:
        raise UnknownName(
            *(
                Problem("--batch", f'"{n}" is not a batch of {path}', f"it has {', '.join(known)}")
                for n in wrong
            )
        )
    before = None
    if sheets:
        plain = by_standard(farm.read(path, tables=book), standard)
        before = mix.mix(plain, book, batches=batches)
    return told(mix.mix(read, book, batches=batches), before, book)


def told(result: FarmRations, before: FarmRations | None, book: Tables) -> Mixed:
    """Rations with their cautions, over all batches and batch by batch."""
    return Mixed(
        result,
        before,
        book,
        cautions.for_farm(result, book),
        {
            r.batch.name: cautions.for_ration(r, result.farm, book, offers=r.offers)
            for r in result.rations
        },
    )


@dataclass(frozen=True)
class Assessed:
    """What the rations already fed will do, with their cautions.

    Attributes
    ----------
    farm : Farm
    told : tuple of Assessment
        One a batch that is fed.
    cautions : tuple of Caution
        Over all of them, each once, stops first.
    cautions_of : mapping
        Batch name to its own cautions.
    """

    farm: Farm
    told: tuple[Assessment, ...]
    cautions: tuple[Caution, ...]
    cautions_of: Mapping[str, tuple[Caution, ...]]


def assess_file(
    path: Path,
    *,
    sheets: Sheets | None = None,
    overlays: Sequence[Path] = (),
    standard: str | None = None,
) -> Assessed:
    """What the rations in the farm file's "fed:" section will do.

    Raises
    ------
    InputError
        Every fault of the file, or nothing is fed, or a figure is missing.
    """
    read, book = read_farm(path, overlays=overlays, sheets=sheets, standard=standard)
    found = mix.assess_farm(read, book)
    return Assessed(
        read,
        found,
        cautions.for_assessments(found, read, book),
        {a.batch.name: cautions.for_assessment(a, read, book) for a in found},
    )


@dataclass(frozen=True)
class MixedByEach:
    """The cheapest rations of a farm by every standard, each judged by the others too.

    Attributes
    ----------
    farm : Farm
    by : mapping of str to Mixed
        By name of the standard, those that cover every batch asked for.
    refused : mapping of str to InputError
        By name of the standard, what it does not cover.
    judged : mapping of (str, str, str) to float
        Gain that a ration allows: (batch, standard it was made by, standard that judges). [g/day]
    """

    farm: Farm
    by: Mapping[str, Mixed]
    refused: Mapping[str, InputError]
    judged: Mapping[tuple[str, str, str], float]


def mix_by_each(
    path: Path,
    *,
    batches: Sequence[str] = (),
    sheets: Sheets | None = None,
    overlays: Sequence[Path] = (),
) -> MixedByEach:
    """The cheapest ration of every batch by every standard; never averaged.

    Parameters
    ----------
    path, batches, sheets, overlays
        As in `mix_file`.

    Raises
    ------
    InputError
        The files cannot be used, or no standard covers these sheep.
    """
    read, book = read_farm(path, overlays=overlays, sheets=sheets)
    return by_each(read, book, batches=batches)


def by_each(read: Farm, book: Tables, *, batches: Sequence[str] = ()) -> MixedByEach:
    """The rations of a farm that is read by every standard; otherwise as `mix_by_each`."""
    by: dict[str, Mixed] = {}
    refused: dict[str, InputError] = {}
    for name in needs.REGISTRY:
        try:
            result = mix.mix(by_standard(read, name), book, batches=batches, with_worth=False)
        except OutOfRange as error:
            refused[name] = error
        else:
            by[name] = told(result, None, book)
    if not by:
        raise next(iter(refused.values()))
    return MixedByEach(read, by, refused, _judged(read, by))


def _judged(read: Farm, by: Mapping[str, Mixed]) -> dict[tuple[str, str, str], float]:
    """What each standard expects of the rations made by the others."""
    out: dict[tuple[str, str, str], float] = {}
    for maker, done in by.items():
        for ration in done.result.rations:
            if ration.assessment is None:
                continue
            for judge in by:
                need = needs.of_farm(by_standard(read, judge), ration.batch)
                told_by = assess(need, ration.assessment.portions)
                out[ration.batch.name, maker, judge] = told_by.gain_g_per_day
    return out
