"""Every way the library can say no, in one place.

A problem is told as one line: where - what was read - what is allowed - what to do.
The library raises; only the faces (the command line, the page) catch and print.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

SHOWN_AT_MOST = 20


@dataclass(frozen=True)
class Problem:
    """One fault, ready to print.

    Parameters
    ----------
    where : str
        File, line and name ("farm.yaml line 23, feeds > barley > price"), or "" when unknown.
    read : str
        What was found there.
    allowed : str
        What would be accepted, and why.
    do : str
        What the reader can do about it.
    """

    where: str
    read: str
    allowed: str = ""
    do: str = ""

    def __str__(self) -> str:
        start = f"{self.where}: " if self.where else ""
        tail = "; ".join(part for part in (self.allowed,) if part)
        line = start + self.read + (f"; {tail}" if tail else "")
        line = line.rstrip(".") + "."
        if not self.do:
            return line
        return f"{line} {self.do if self.do.endswith('?') else self.do.rstrip('.') + '.'}"

    def at(self, where: str) -> Problem:
        """The same fault with its place filled in."""
        return replace(self, where=where)


class RationError(Exception):
    """Root of every error this library raises."""

    exit_code = 4

    def __init__(self, *problems: Problem | str) -> None:
        self.problems: tuple[Problem, ...] = tuple(
            p if isinstance(p, Problem) else Problem("", p) for p in problems
        )
        super().__init__(self.lines())

    def lines(self) -> str:
        """All faults, one line each, at most twenty and then a count."""
        shown = [str(p) for p in self.problems[:SHOWN_AT_MOST]]
        more = len(self.problems) - SHOWN_AT_MOST
        if more > 0:
            shown.append(f"... and {more} more of this kind.")
        return "\n".join(shown)


class InputError(RationError):
    """Something the user wrote cannot be used."""

    exit_code = 1

    def at(self, where: str) -> InputError:
        """The same error with its place filled in where it was unknown."""
        return type(self)(*(p if p.where else p.at(where) for p in self.problems))


class FileError(InputError):
    """A file is missing, too large, not text, or not what its name says."""


class TableError(InputError):
    """A row or cell of a table breaks its schema."""


class UnknownName(InputError):
    """A name is not known; the message carries the nearest ones."""


class UnitError(InputError):
    """A quantity cannot be read with certainty."""


class OutOfRange(InputError):
    """A number lies outside the range its source or common sense allows."""


class MissingValue(InputError):
    """A feed lacks a value that the question needs; missing is never zero."""


class ModelError(RationError):
    """The question is well put but has no usable answer."""

    exit_code = 3


class NotProved(ModelError):
    """The search ended before its answer was proved; nothing is shown."""

    exit_code = 4


class BalanceError(RationError):
    """Our fault: the books of a solved mix do not balance when worked again from the feeds."""

    exit_code = 4
