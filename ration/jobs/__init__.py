"""From files to worked answers: what a command, a page or a notebook asks for in one call.

Each job reads a farm file and the tables it names, works it out and gathers the cautions; it
prints nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ration import cautions, farm, mix, tables
from ration.assess import Assessment
from ration.cautions import Caution
from ration.errors import Problem, UnknownName
from ration.farm import Farm
from ration.mix import FarmRations
from ration.tables import Tables


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


def read_farm(
    path: Path, *, overlays: Sequence[Path] = (), sheets: Mapping[str, Path] | None = None
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
    return read, book


def mix_file(
    path: Path,
    *,
    batches: Sequence[str] = (),
    sheets: Mapping[str, Path] | None = None,
    overlays: Sequence[Path] = (),
) -> Mixed:
    """The cheapest ration of every batch of a farm file.

    Parameters
    ----------
    path : Path
        The farm file.
    batches : sequence of str
        Names of the batches wanted; none for all. Stock is shared as if all were worked.
    sheets : mapping or None
        Feed to laboratory sheet, laid on for this run; the answer then carries the ration before.
    overlays : sequence of Path
        Tables of your own, laid over the shipped ones.

    Raises
    ------
    InputError, NotProved, BalanceError
        As `ration.mix.mix`.
    """
    read, book = read_farm(path, overlays=overlays, sheets=sheets)
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
        before = mix.mix(farm.read(path, tables=book), book, batches=batches)
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


def assess_file(path: Path, *, overlays: Sequence[Path] = ()) -> Assessed:
    """What the rations in the farm file's "fed:" section will do.

    Raises
    ------
    InputError
        Every fault of the file, or nothing is fed, or a figure is missing.
    """
    read, book = read_farm(path, overlays=overlays)
    found = mix.assess_farm(read, book)
    return Assessed(
        read,
        found,
        cautions.for_assessments(found, read, book),
        {a.batch.name: cautions.for_assessment(a, read, book) for a in found},
    )
