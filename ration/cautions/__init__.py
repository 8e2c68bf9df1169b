"""Cautions: what a farmer should know before the first bucket, raised by the data of a ration.

Words, levels, sources and every number stand in `feedtables/cautions.csv`; the rules that look at
a ration stand in `minerals`, `feeding` and `farm`, one rule a row. A row
without a rule, or a rule without a row, is refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from string import Formatter
from typing import TYPE_CHECKING

from ration.cautions import farm as farm_rules
from ration.cautions import feeding, minerals
from ration.cautions.parts import Look, Names, Parts, Rule, number, together
from ration.errors import Problem, TableError

if TYPE_CHECKING:
    from ration.animals import Batch
    from ration.assess import Assessment
    from ration.farm import Farm, Offer
    from ration.mix import FarmRations, Ration
    from ration.tables import Tables
    from ration.tables.records import DefaultCaution

__all__ = [
    "LEVELS",
    "STANDING",
    "Caution",
    "check_table",
    "for_assessment",
    "for_assessments",
    "for_farm",
    "for_ration",
]

STANDING = (
    "This is arithmetic on the figures you entered. Look at the sheep. Ask your vet or a "
    "qualified nutritionist before acting on a warning or changing minerals; follow the local "
    "feed law."
)
RULES: dict[str, Rule] = {**minerals.RULES, **feeding.RULES, **farm_rules.RULES}
LEVELS = ("stop", "warn", "note")
NO_SOURCE = "common practice, no source"
_SPEC = re.compile(r"(\.[0-9][fg%]|g)?")
_ROW_PARTS = ("value", "second")


@dataclass(frozen=True)
class Caution:
    """One caution, ready to print.

    Attributes
    ----------
    id : str
        Its row in `feedtables/cautions.csv`.
    level : str
        stop, warn or note.
    title, words : str
    source : str
        Plain name of the published source and how far it carries; for a caution without one
        "common practice, no source".
    mark : str
        How it is known: print, restated, derived, memory or practice.
    batch : str
        The batches it is about; "" for the whole farm.
    source_key : str
        Key of `feedtables/sources.csv`, or "".
    """

    id: str
    level: str
    title: str
    words: str
    source: str
    mark: str
    batch: str = ""
    source_key: str = ""


@dataclass(frozen=True)
class Hit:
    """A caution raised by one batch, its words not yet written."""

    row: DefaultCaution
    of_farm: bool
    batch: str
    parts: Parts


# ---------------------------------------------------------------- the faces


def for_assessment(
    assessment: Assessment,
    farm: Farm | None,
    tables: Tables,
    *,
    offers: Sequence[Offer] | None = None,
) -> tuple[Caution, ...]:
    """The cautions of one ration, worst first, each once.

    Parameters
    ----------
    assessment : Assessment
        The ration and what it does.
    farm : Farm or None
        For dates, meals, trough and floor; without it the cautions that need them are not raised.
    tables : Tables
        For the table of cautions and the sources.
    offers : sequence of Offer, optional
        Laid over the farm's own, by id.

    Raises
    ------
    TableError
        The table of cautions cannot be used.
    """
    pair = (assessment.batch, assessment)
    return _one(pair, farm, tables, offers)


def for_ration(
    ration: Ration, farm: Farm, tables: Tables, *, offers: Sequence[Offer] | None = None
) -> tuple[Caution, ...]:
    """The cautions of one batch of a mix, also where no mix was found."""
    return _one((ration.batch, ration.assessment), farm, tables, offers)


def for_farm(rations: FarmRations, tables: Tables) -> tuple[Caution, ...]:
    """The cautions of all batches of a mix: each printed once, stops first, then warnings, notes.

    Where only some batches raise a caution its words begin with their names.
    """
    pairs = [(r.batch, r.assessment) for r in rations.rations]
    return _all(pairs, rations.farm, tables, None)


def for_assessments(
    assessments: Sequence[Assessment],
    farm: Farm | None,
    tables: Tables,
    *,
    offers: Sequence[Offer] | None = None,
) -> tuple[Caution, ...]:
    """The cautions of several rations laid together as in `for_farm`."""
    return _all([(a.batch, a) for a in assessments], farm, tables, offers)


Pair = tuple["Batch", "Assessment | None"]


def _one(
    pair: Pair, farm: Farm | None, tables: Tables, offers: Sequence[Offer] | None
) -> tuple[Caution, ...]:
    rows = _rows(tables.cautions)
    told = pair[1]
    head = sum(b.head for b in farm.batches) if farm else 0
    at_trough = head if told is None or told.concentrate_kg_fresh > 0 else 0
    found = hits(_look(pair, farm, offers, rows, at_trough))
    return _sorted((_told(hit, tables, "", hit.batch) for hit in found), rows)


def _all(
    pairs: Sequence[Pair], farm: Farm | None, tables: Tables, offers: Sequence[Offer] | None
) -> tuple[Caution, ...]:
    rows = _rows(tables.cautions)
    at_trough = sum(b.head for b, t in pairs if t is None or t.concentrate_kg_fresh > 0)
    found = [h for p in pairs for h in hits(_look(p, farm, offers, rows, at_trough))]
    return merged(found, [b.name for b, _ in pairs], tables)


def _look(
    pair: Pair,
    farm: Farm | None,
    offers: Sequence[Offer] | None,
    rows: Mapping[str, DefaultCaution],
    head_at_trough: int,
) -> Look:
    on_offer = {o.id: o for o in (*(farm.offers if farm else ()), *(offers or ()))}
    return Look(
        batch=pair[0],
        told=pair[1],
        farm=farm,
        offers=tuple(on_offer.values()),
        rows=rows,
        head_at_trough=head_at_trough,
        head_in_shed=sum(b.head for b in farm.batches if b.housing == "shed") if farm else 0,
    )


# ---------------------------------------------------------------- raised, laid together, told


def hits(look: Look) -> list[Hit]:
    """What one batch raises, in the order of the table."""
    found = []
    for caution, row in look.rows.items():
        parts = RULES[caution].run(look)
        if parts is not None:
            found.append(Hit(row, RULES[caution].of_farm, look.batch.name, parts))
    return found


def merged(found: Iterable[Hit], batches: Sequence[str], tables: Tables) -> tuple[Caution, ...]:
    """Cautions of several batches with each caution once, its figures spanning the batches.

    Parameters
    ----------
    found : iterable of Hit
    batches : sequence of str
        Every batch that was looked at: where all share a caution it names none of them.
    tables : Tables
        For the sources.
    """
    joint: dict[str, Hit] = {}
    who: dict[str, list[str]] = {}
    for hit in found:
        old = joint.setdefault(hit.row.caution, hit)
        if old is not hit:
            parts = together(old.parts, hit.parts)
            joint[hit.row.caution] = Hit(hit.row, hit.of_farm, old.batch, parts)
        who.setdefault(hit.row.caution, []).append(hit.batch)
    told = []
    for caution, hit in joint.items():
        shared = hit.of_farm or set(who[caution]) == set(batches)
        named = "" if shared else f"{Names(tuple(dict.fromkeys(who[caution])))}"
        lead = named or ("all batches" if len(batches) > 1 and not hit.of_farm else "")
        told.append(_told(hit, tables, lead, named))
    return _sorted(told, {c.caution: c for c in tables.cautions})


def _sorted(told: Iterable[Caution], rows: Mapping[str, DefaultCaution]) -> tuple[Caution, ...]:
    order = list(rows)
    return tuple(sorted(told, key=lambda c: (LEVELS.index(c.level), order.index(c.id))))


def _told(hit: Hit, tables: Tables, lead: str, batch: str) -> Caution:
    """A caution with its words written; `lead` names the batches before them."""
    row = hit.row
    parts = {**_row_parts(row), **hit.parts}
    words = row.words.format(**parts)
    if lead:
        # an ordinary word loses its capital after the names; PART, or a figure, stays as it is
        second = row.words[1:2]
        start = words[0].lower() if second.islower() or second == " " else words[0]
        words = f"{lead[0].upper()}{lead[1:]}: {start}{words[1:]}"
    return Caution(
        id=row.caution,
        level=row.level,
        title=row.title,
        words=words,
        source=_source_words(row, tables),
        mark=row.mark,
        batch="" if hit.of_farm else batch,
        source_key=row.source,
    )


def _row_parts(row: DefaultCaution) -> Parts:
    known = {"value": row.value, "second": row.second}
    return {key: number(v) for key, v in known.items() if v is not None}


def _source_words(row: DefaultCaution, tables: Tables) -> str:
    """The source by name, and how far it carries the caution."""
    if not row.source:
        return NO_SOURCE
    what = re.split(r": |; |\. Not read", tables.sources[row.source].what)[0]
    match row.mark:
        case "print":
            return what
        case "practice":
            line = "rule" if row.value is None else "figure"
            return f"{what}; the {line} is common practice"
        case "memory":
            return f"{what}; from memory, unverified"
    return f"{row.mark} in: {what}"


# ---------------------------------------------------------------- the table


@lru_cache(maxsize=8)
def _rows(cautions: tuple[DefaultCaution, ...]) -> dict[str, DefaultCaution]:
    """The table's rows by id, once it has passed every check."""
    faults = list(_faults(cautions))
    if faults:
        raise TableError(*faults)
    return {row.caution: row for row in cautions}


def check_table(tables: Tables) -> None:
    """Refuse a table of cautions that the rules cannot use.

    Raises
    ------
    TableError
        A row without a rule, a rule without a row, a number that is missing, words that ask for a
        figure there is not; all of them.
    """
    _rows(tables.cautions)


def _faults(cautions: Sequence[DefaultCaution]) -> Iterator[Problem]:
    ids = {row.caution for row in cautions}
    for caution in RULES:
        if caution not in ids:
            yield Problem(
                "cautions.csv",
                f"caution {caution} has no row",
                "every caution the program can raise has one",
                "Take the shipped table again",
            )
    for row in cautions:
        where, rule = f"cautions.csv, caution {row.caution}", RULES.get(row.caution)
        if rule is None:
            yield Problem(
                where,
                "nothing raises this caution",
                "a row of this table belongs to a rule of the program",
                "Take the row out",
            )
            continue
        if row.level not in LEVELS:
            yield Problem(where, f'level "{row.level}"', f"it is one of {', '.join(LEVELS)}")
        for key in _ROW_PARTS[: rule.numbers]:
            if getattr(row, key) is None:
                yield Problem(where, f"{key} is empty", "it sets the caution off", "Enter it")
        if not row.source and row.mark != "practice":
            yield Problem(
                where, f"mark {row.mark} without a source", "", "Name one, or mark it practice"
            )
        yield from _word_faults(where, row, rule)


def _word_faults(where: str, row: DefaultCaution, rule: Rule) -> Iterator[Problem]:
    known = (*rule.gives, *_ROW_PARTS[: rule.numbers])
    can = f"figures here: {', '.join(known)}" if known else "this caution has no figures"
    try:
        fields = list(Formatter().parse(row.words))
    except ValueError as e:
        yield Problem(where, f"its words cannot be read ({e})", "", "Look at the braces")
        return
    for _, name, spec, conversion in fields:
        if name is None:
            continue
        if name not in known or conversion:
            yield Problem(where, f'its words ask for "{{{name}}}"', can, "Correct the words")
        elif not _SPEC.fullmatch(spec or ""):
            yield Problem(
                where,
                f'its words ask for "{{{name}:{spec}}}"',
                "a figure is printed as .1f, .0% or g",
                "Correct the words",
            )
