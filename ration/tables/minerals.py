"""What is published on minerals and vitamins, as `feedtables/minerals.csv` holds it.

A row is one figure of one book, law or rule: what sheep need, what they tolerate, what the law
allows, or a level at which harm was seen. Books differ, and every row stands by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from ration.errors import Problem
from ration.tables.csvfile import Row

NEED, TOLERANCE, LEGAL, CAUTION = "need", "tolerance", "legal", "caution"
ANY_STAGE = "any"
PER_KG_DM, PER_KG_WEIGHT, AT_12_PERCENT = (
    "kg DM",
    "kg live weight a day",
    "kg at 12 % moisture",
)


@dataclass(frozen=True)
class MineralLevel:
    """One row of `feedtables/minerals.csv`.

    Attributes
    ----------
    nutrient : str
        Key of the nutrient dictionary.
    what : str
        need, tolerance, legal or caution.
    stage : str
        growing, maintenance, pregnancy, late-pregnancy, lactation, or any.
    when : str
        What must hold besides, or "".
    least, most : float or None
        Ends as printed, in `unit` per `basis`.
    unit : str
        g, mg or IU.
    basis : str
        "kg DM", "kg live weight a day" or "kg at 12 % moisture".
    edition : str
        The book, edition or rule in short.
    source, mark, note : str
        Where it was read, how it is known, what to know of it.
    """

    nutrient: str
    what: str
    stage: str
    when: str
    least: float | None
    most: float | None
    unit: str
    basis: str
    edition: str
    source: str
    mark: str
    note: str = ""


def level(row: Row) -> MineralLevel:
    """The record of a row that fits its schema."""
    return MineralLevel(
        row.text("nutrient"),
        row.text("what"),
        row.text("stage"),
        row.text("when"),
        row.number("least"),
        row.number("most"),
        row.text("unit"),
        row.text("basis"),
        row.text("edition"),
        row.text("source"),
        row.text("mark"),
        row.text("note"),
    )


def faults(rows: Iterable[Row], units: Mapping[str, str]) -> Iterator[Problem]:
    """What a row of the table must keep among its cells.

    Parameters
    ----------
    rows : iterable of Row
    units : mapping
        Nutrient id to the unit of its figures.
    """
    for row in rows:
        got = level(row)
        unit = units.get(got.nutrient, "")
        if unit and unit != f"{got.unit}/kg DM":
            yield Problem(
                f"{row.place}, column unit",
                f'read "{got.unit}"',
                f"{got.nutrient} is in {unit}",
                f"Write the figure in {unit.split('/')[0]}",
            )
        if got.what == NEED:
            if got.least is None:
                yield Problem(row.place, "a need without its least", "", "Enter the lower end")
        elif got.most is None:
            yield Problem(row.place, f"{got.what} without its most", "", "Enter the upper end")
        if got.least is not None and got.most is not None and got.least > got.most:
            yield Problem(row.place, "least is over most", "", "Swap or correct them")
        if got.basis == PER_KG_WEIGHT and got.what != NEED:
            yield Problem(
                f"{row.place}, column basis",
                f'read "{got.basis}"',
                "only a need is per kg of live weight",
                "Write it per kg of dry matter",
            )
