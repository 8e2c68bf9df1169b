"""What the views that plan a winter share: boxes that are no line of the farm file, one by one.

And the farm made ready to be planned, and the words of the faces laid out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from ration import cautions, units
from ration.errors import InputError, OutOfRange, Problem
from ration.faces import report
from ration.jobs import winter as winter_jobs
from ration.page import told
from ration.page.forms import Field
from ration.sheets.ears import Said, heard

if TYPE_CHECKING:
    from datetime import date

    from rich.console import Console

    from ration.jobs.winter import Ready
    from ration.page.desk import Desk, Read
    from ration.sheets.ears import Block

T = TypeVar("T")
USUAL = f"{winter_jobs.SECONDS:g}"
SECONDS = (
    ("10", "10 s for each plan, a quick look"),
    (USUAL, f"{USUAL} s for each plan, as usual"),
    ("200", "200 s for each plan, to come closer"),
)
LEAST_SECONDS, MOST_SECONDS = 0.1, 600.0
MOST_LETTERS = 200


def box(name: str, label: str, said: Mapping[str, str], **more: Any) -> Field:
    """A box that is no line of the farm file."""
    return Field(name, (), label, said.get(name, ""), may_be_empty=True, **more)


def seconds_box(said: Mapping[str, str]) -> Field:
    """How long each plan may take."""
    typed = said.get("seconds") or USUAL
    known = [value for value, _ in SECONDS]
    own = () if typed in known else ((typed, f"{typed} s for each plan"),)
    made = box("seconds", "How long it may look", said, options=(*SECONDS, *own))
    return replace(made, value=typed)


def seconds_of(text: str) -> float:
    """Seconds for each plan. [s]

    Raises
    ------
    InputError
        No number, or out of reason.
    """
    seconds = units.number(text, "seconds")
    if not LEAST_SECONDS <= seconds <= MOST_SECONDS:
        raise OutOfRange(
            Problem("", f"{seconds:g} seconds", f"{LEAST_SECONDS:g} to {MOST_SECONDS:g} are taken")
        )
    return seconds


def boxes_sent(sent: Mapping[str, Any], names: Iterable[str]) -> dict[str, str]:
    """What was typed into these boxes, ends trimmed; files and other names are left out."""
    return {n: v.replace("\r\n", "\n").strip() for n in names if isinstance(v := sent.get(n), str)}


class Asking:
    """Boxes read one by one, each fault put beside its own.

    Parameters
    ----------
    fields : sequence of Field
    """

    def __init__(self, fields: Sequence[Field]) -> None:
        self._fields = {f.name: f for f in fields}

    @property
    def fields(self) -> tuple[Field, ...]:
        """The boxes with their faults."""
        return tuple(self._fields.values())

    @property
    def is_faulty(self) -> bool:
        """Something typed cannot be used."""
        return any(f.errors for f in self._fields.values())

    def text(self, name: str) -> str:
        """What stands in a box."""
        return self._fields[name].value

    def fault(self, name: str, *words: str) -> None:
        """Put a fault beside a box."""
        field = self._fields[name]
        said = tuple(w[:1].upper() + w[1:] for w in words)
        self._fields[name] = replace(field, errors=tuple(dict.fromkeys((*field.errors, *said))))

    def read(
        self, name: str, reader: Callable[[str], T], *, most_letters: int = MOST_LETTERS
    ) -> T | None:
        """What a box says; None where it is empty or has a fault."""
        typed = self.text(name)
        if not typed:
            return None
        if len(typed) > most_letters:
            self.fault(name, f"This is too long; at most {most_letters} letters.")
            return None
        return self.check(name, lambda: reader(typed))

    def check(self, name: str, work: Callable[[], T]) -> T | None:
        """What a piece of work gives; its fault goes to a box."""
        try:
            return work()
        except InputError as fault:
            problems = fault.problems[:5]
            self.fault(name, *(str(p.at("")) for p in problems))
            return None


# ---------------------------------------------------------------- the farm on the desk


def ready_of(desk: Desk, read: Read, on: date | None = None) -> Ready:
    """The farm as it stands here with its quotes, held to the day of the order.

    Raises
    ------
    InputError
        Every fault of the quotes and their ties; a gap that may not be filled.
    """
    return desk.once(
        read,
        ("ready", on),
        lambda: winter_jobs.ready_of(read.farm, read.tables, on=on),
    )


# ---------------------------------------------------------------- the words of the faces


def laid(put: Callable[[Console], None]) -> list[Block]:
    """What a face prints, a bold line that is no sentence made a heading."""
    return [
        replace(b, style="title")
        if isinstance(b, Said) and b.style == "bold" and not b.text.rstrip().endswith((".", ":"))
        else b
        for b in heard(put)
    ]


def common() -> dict[str, object]:
    """What every page with cautions and tables of the faces names."""
    return {
        "standing": cautions.STANDING,
        "level_words": report.LEVEL_WORDS,
        "words_at": told.words_at,
    }
