"""Every published trial put to the standards: what they expect, what was seen, how far apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ration import needs, tables, trials
from ration.errors import OutOfRange, Problem
from ration.tables import Tables
from ration.tables.csvfile import Row
from ration.trials import Intake, Prediction, Summary, Trial

TABLE = "trials"
ALL = "all"
# words, multiplier on maintenance, share of degradable protein credited
SWITCHES = (
    ("as published", 1.0, 0.0),
    ("maintenance 1.4 times", 1.4, 0.0),
    ("15 % for recycled nitrogen", 1.0, 0.15),
    ("both", 1.4, 0.15),
)

Told = tuple[tuple[Trial, Prediction], ...]


@dataclass(frozen=True)
class Switched:
    """Bias and error with the two switches of a farm file set one way.

    Attributes
    ----------
    words : str
    maintenance, recycled_n_share : float
        [-]
    sums : tuple of Summary
        By standard.
    by_basis : mapping of str to tuple of Summary
        The same by what the diet rests on.
    """

    words: str
    maintenance: float
    recycled_n_share: float
    sums: tuple[Summary, ...]
    by_basis: Mapping[str, tuple[Summary, ...]]


@dataclass(frozen=True)
class Substituted:
    """Forage left for each kg of trough feed: seen, and as the program would have it.

    Attributes
    ----------
    trial : Trial
    by_equation : float or None
        By the appetite equation for long feed; None where it does not cover them. [kg/kg DM]
    by_practice : float or None
        By the line that "hay to appetite" is fed by. [kg/kg DM]
    """

    trial: Trial
    by_equation: float | None
    by_practice: float | None


@dataclass(frozen=True)
class Trialled:
    """The trials and what was made of them.

    Attributes
    ----------
    tables : Tables
    trials : tuple of Trial
    standards : tuple of str
    maintenance, recycled_n_share : float
        The switches of `told`. [-]
    told : tuple of (Trial, Prediction)
        Gains of published trials, every standard.
    practice : tuple of (Trial, Prediction)
        Gains of practice bands; of a row on gain added, the gain added.
    sums : tuple of Summary
        Over `told`, by standard.
    by_basis : mapping of str to tuple of Summary
        The same by what the diet rests on.
    switched : tuple of Switched
        The same with the switches set four ways.
    intakes : tuple of (Trial, tuple of Intake)
    substitutions : tuple of Substituted
    """

    tables: Tables
    trials: tuple[Trial, ...]
    standards: tuple[str, ...]
    maintenance: float
    recycled_n_share: float
    told: Told
    practice: Told
    sums: tuple[Summary, ...]
    by_basis: Mapping[str, tuple[Summary, ...]]
    switched: tuple[Switched, ...]
    intakes: tuple[tuple[Trial, tuple[Intake, ...]], ...]
    substitutions: tuple[Substituted, ...]


def standards_of(asked: str) -> tuple[str, ...]:
    """Names of the standards asked for: one, or all.

    Raises
    ------
    UnknownName
        No such standard.
    """
    return tuple(needs.REGISTRY) if asked.strip().lower() == ALL else (needs.known(asked),)


def read_trials(book: Tables) -> tuple[Trial, ...]:
    """The trials of the shipped table, with those of overlay folders laid over them by name.

    Raises
    ------
    InputError
        Every fault of the tables, one line each.
    """
    schema = tables.schemas(book.folder)[TABLE]
    found: dict[tuple[str, str], Row] = {}
    for folder in (book.folder, *book.overlays):
        path = folder / f"{TABLE}.csv"
        if path.is_file():
            for row in tables.read_rows(path, schema):
                found[row.text("trial"), row.text("treatment")] = row
    return trials.read(list(found.values()))


def run_trials(
    standard: str = ALL,
    *,
    maintenance: float = 1.0,
    recycled_n_share: float = 0.0,
    overlays: Sequence[Path] = (),
) -> Trialled:
    """Put every published trial to one standard, or to all.

    Parameters
    ----------
    standard : str
        A name of `needs.REGISTRY`, or "all".
    maintenance : float
        Multiplier on maintenance. [-], 0.7 to 2.0.
    recycled_n_share : float
        Degradable protein credited for recycled nitrogen. [-], 0 to 0.3.
    overlays : sequence of Path
        Tables of your own; a folder may hold a `trials.csv`.

    Raises
    ------
    InputError
        The standard is not known, a switch is not believable, a table is at fault.
    """
    names = standards_of(standard)
    book = tables.load(overlays=list(overlays))
    found = read_trials(book)
    with_gain = [t for t in found if t.gain_g_per_day and not t.is_practice]
    if not with_gain:
        raise OutOfRange(Problem(f"{TABLE}.csv", "no trial with a gain is in it"))

    def told(some: Sequence[Trial], upkeep: float, credit: float) -> Told:
        return tuple((t, trials.predict(t, book, s, upkeep, credit)) for s in names for t in some)

    main = told(with_gain, maintenance, recycled_n_share)
    usual = [t for t in found if t.is_practice]
    added = tuple(
        (t, trials.predict_extra(t, book, s, maintenance, recycled_n_share))
        for s in names
        for t in usual
        if t.extra_gain_g_per_day
    )
    alone = told([t for t in usual if t.gain_g_per_day], maintenance, recycled_n_share)
    return Trialled(
        tables=book,
        trials=found,
        standards=names,
        maintenance=maintenance,
        recycled_n_share=recycled_n_share,
        told=main,
        practice=(*alone, *added),
        sums=trials.summary(main),
        by_basis=_by_basis(main, book),
        switched=tuple(
            Switched(words, upkeep, credit, trials.summary(found_so), _by_basis(found_so, book))
            for words, upkeep, credit in SWITCHES
            for found_so in (told(with_gain, upkeep, credit),)
        ),
        intakes=tuple(
            (t, expected) for t in found if (expected := trials.intake_predictions(t, book))
        ),
        substitutions=tuple(
            Substituted(
                t,
                trials.substitution_kg_per_kg(t, book),
                trials.substitution_by_practice_kg_per_kg(t),
            )
            for t in found
            if t.substitution_kg_per_kg
        ),
    )


def _by_basis(told: Told, book: Tables) -> dict[str, tuple[Summary, ...]]:
    """Summaries by what the diet rests on, in the order of `trials.BASES`."""
    return {
        base: trials.summary([x for x in told if trials.basis(x[0], book) == base])
        for base in trials.BASES
    }
