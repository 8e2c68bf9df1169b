"""Boxes of a form, each tied to one value of the farm file, and its faults put beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ration.page.desk import Edit, written
from ration.strict_yaml import Keys, Sheet

if TYPE_CHECKING:
    from ration.errors import InputError


def as_typed(text: str) -> str:
    """A value written into the file as it was typed."""
    return text


@dataclass(frozen=True)
class Field:
    """One box.

    Attributes
    ----------
    name : str
        Of the form field; its HTML id too: letters, digits and hyphens.
    keys : Keys
        Where its value stands in the farm file.
    label : str
    value : str
        What is in the box.
    start : str
        What was in it before anything was typed.
    hint : str
        A line below the label.
    unit : str
        Behind the box.
    options : tuple of (str, str)
        Value and words, where one is to be chosen.
    least, most, step : float or None
        Of a slider beside it.
    may_be_empty : bool
        An empty box takes the line out of the file.
    to_file : callable
        From what is typed to what is written into the file.
    errors : tuple of str
        What is wrong with it.
    """

    name: str
    keys: Keys
    label: str
    value: str = ""
    start: str = ""
    hint: str = ""
    unit: str = ""
    options: tuple[tuple[str, str], ...] = ()
    least: float | None = None
    most: float | None = None
    step: float | None = None
    may_be_empty: bool = False
    to_file: Callable[[str], str] = as_typed
    errors: tuple[str, ...] = ()

    @property
    def described_by(self) -> str:
        """Ids of what says more about it."""
        return f"error-{self.name}" + (f" hint-{self.name}" if self.hint else "")


def field(sheet: Sheet, name: str, keys: Keys, label: str, **more: object) -> Field:
    """A box that shows a value as it is written in the file."""
    now = written(sheet, keys)
    return replace(Field(name, keys, label, now, now), **more)  # type: ignore[arg-type]


def typed(fields: Sequence[Field], said: Mapping[str, object]) -> tuple[Field, ...]:
    """The boxes with what was typed in them; a box that was not sent stays."""
    return tuple(
        replace(f, value=" ".join(told.split())) if isinstance(told := said.get(f.name), str) else f
        for f in fields
    )


def edits(fields: Sequence[Field]) -> tuple[Edit, ...]:
    """What is to be written for the boxes that were changed.

    What comes out goes first, so that a value may take the place of another.
    """
    changed = [f for f in fields if f.value != f.start]
    out = [Edit(f.keys, None) for f in changed if not f.value and f.may_be_empty]
    return (*out, *(Edit(f.keys, f.to_file(f.value) if f.value else "")
                    for f in changed if f.value or not f.may_be_empty))  # fmt: skip


def with_errors(
    fields: Sequence[Field], fault: InputError, sheet: Sheet
) -> tuple[tuple[Field, ...], tuple[str, ...]]:
    """The boxes with their faults, and the faults that belong to no box.

    Parameters
    ----------
    fields : sequence of Field
    fault : InputError
        As raised by the reader of the farm file.
    sheet : Sheet
        Of the text that was read.
    """
    place = {name_of(sheet, f.keys): f.name for f in fields}
    by_name: dict[str, list[str]] = {}
    rest: list[str] = []
    for problem in fault.problems:
        at = problem.where.removeprefix(sheet.name).partition(", ")[2]
        owner = place.get(at) or next(
            (n for p, n in place.items() if at and p.startswith(f"{at} > ")), None
        )
        if owner is None:
            rest.append(str(problem))
        else:
            by_name.setdefault(owner, []).append(_words(str(problem.at(""))))
    return (
        tuple(replace(f, errors=tuple(by_name.get(f.name, ()))) for f in fields),
        tuple(rest),
    )


def name_of(sheet: Sheet, keys: Keys) -> str:
    """The names of a value as a fault gives them: "feeds > barley > price"."""
    return sheet.where(keys).removeprefix(sheet.place(keys)).removeprefix(", ")


def _words(text: str) -> str:
    return text[:1].upper() + text[1:]
