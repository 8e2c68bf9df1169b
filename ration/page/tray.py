"""Merchants' sheets laid in front of the page: kept apart from the farm file until they are used.

They lie in a folder of their own that nobody else on the machine can look into and that goes when
the page ends. A sheet is read once, when it comes; nothing is priced from it here.
"""

from __future__ import annotations

import hashlib
import shutil
import tempfile
import weakref
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING

from ration.errors import FileError, InputError, Problem
from ration.page.security import safe_name
from ration.quotes.reader import read as read_quotes

if TYPE_CHECKING:
    from ration.quotes.records import QuoteSheet

MOST_SHEETS = 8
MOST_BYTES = 5_000_000  # of one sheet, as the reader of quotes has it


@dataclass(frozen=True)
class Sent:
    """One sheet.

    Attributes
    ----------
    id : str
        Digest of its name and contents.
    name : str
    digest : str
        Of its contents.
    path : Path
    sheet : QuoteSheet or None
        None when it could not be read.
    faults : tuple of str
    note : str
        What was done about its name.
    """

    id: str
    name: str
    digest: str
    path: Path
    sheet: QuoteSheet | None
    faults: tuple[str, ...] = ()
    note: str = ""


def sent(path: Path, note: str = "") -> Sent:
    """A file of quotes read, or why it cannot be."""
    try:
        with path.open("rb") as file:
            digest = hashlib.sha256(file.read(MOST_BYTES + 1)).hexdigest()
    except OSError:
        digest = ""
    sheet, faults = None, tuple[str, ...]()
    try:
        sheet = read_quotes(path)
    except InputError as fault:
        faults = tuple(str(p) for p in fault.problems)
    name = hashlib.sha256(f"{path.name}\n{digest}".encode()).hexdigest()[:20]
    return Sent(name, path.name, digest, path, sheet, faults, note)


def free_name(folder: Path, name: str, data: bytes) -> tuple[str, bool]:
    """A name under which these bytes may lie in a folder, and whether they do already.

    A file that differs is never written over: the new one gets a number.
    """
    stem, dot, end = name.rpartition(".")
    if not dot:
        stem, end = name, ""
    for n in range(1, 100):
        tried = name if n == 1 else f"{stem}-{n}{dot}{end}"
        path = folder / tried
        if not path.exists() and not path.is_symlink():
            return tried, False
        if path.is_file() and _bytes(path, len(data)) == data:
            return tried, True
    raise FileError(Problem(name, "there are too many files of this name", "", "Rename it"))


def _bytes(path: Path, most: int) -> bytes:
    with path.open("rb") as file:
        return file.read(most + 1)


class Tray:
    """The sheets sent in this run of the page; every method may be called from any thread."""

    def __init__(self) -> None:
        self._lock = RLock()
        self._folder: Path | None = None
        self._sent: tuple[Sent, ...] = ()
        self.with_own = False
        self._read_so: set[str] = set()

    @property
    def sent(self) -> tuple[Sent, ...]:
        """The sheets as they came."""
        return self._sent

    def _place(self) -> Path:
        if self._folder is None:
            self._folder = Path(tempfile.mkdtemp(prefix="ration-quotes-"))  # for this user alone
            weakref.finalize(self, shutil.rmtree, str(self._folder), ignore_errors=True)
        return self._folder

    def put(self, name: str | None, data: bytes) -> Sent:
        """A sheet taken in and read.

        Raises
        ------
        InputError
            There are as many as are taken, or nothing is in it.
        """
        kept = safe_name(name)
        if not data:
            raise FileError(Problem(kept, "the file is empty", "", "Save it again"))
        if len(data) > MOST_BYTES:
            allowed = f"at most {MOST_BYTES // 1_000_000} MB"
            raise FileError(Problem(kept, "the file is too large", allowed, "Keep the prices alone"))
        with self._lock:
            if len(self._sent) >= MOST_SHEETS:
                raise FileError(
                    Problem(kept, f"there are {MOST_SHEETS} sheets here", "", "Take one out first")
                )
            folder = self._place()
            use, is_there = free_name(folder, kept, data)
            known = next((s for s in self._sent if s.name == use), None)
            if is_there and known is not None:
                return known
            path = folder / use
            path.write_bytes(data)
        note = "" if use == kept else f"There was another sheet {kept} already; this one is {use}."
        made = sent(path, note)  # a child process may take its time: nothing is held up
        with self._lock:
            self._sent = (*(s for s in self._sent if s.name != use), made)
        return made

    def take_out(self, said: str) -> None:
        """A sheet taken out and forgotten; one that is not there is no fault."""
        with self._lock:
            for gone in (s for s in self._sent if s.id == said):
                gone.path.unlink(missing_ok=True)
            self._sent = tuple(s for s in self._sent if s.id != said)

    def clear(self) -> None:
        """All sheets taken out; that they were read as shown stays known."""
        for one in self._sent:
            self.take_out(one.id)

    def agree(self, reading: str) -> None:
        """Somebody looked at how the sheets were read and said yes."""
        with self._lock:
            self._read_so.add(reading)

    def is_agreed(self, reading: str) -> bool:
        """Whether somebody did."""
        return reading in self._read_so


def put_beside(folder: Path, sheets: Sequence[Sent]) -> tuple[list[str], list[Path]]:
    """Sheets copied into a folder, never over a file that differs.

    Returns
    -------
    names : list of str
        Under which they lie there.
    new : list of Path
        Those that were not there before.

    Raises
    ------
    InputError
        One cannot be written; what was written of the others is taken away again.
    """
    names: list[str] = []
    new: list[Path] = []
    try:
        for one in sheets:
            data = one.path.read_bytes()
            name, is_there = free_name(folder, one.name, data)
            names.append(name)
            if not is_there:
                with (folder / name).open("xb") as file:
                    new.append(folder / name)
                    file.write(data)
    except (OSError, InputError) as fault:
        take_away(new)
        if isinstance(fault, InputError):
            raise
        why = (fault.strerror or "not known why").lower()
        words = f"the sheets cannot be put beside the farm file ({why})"
        raise FileError(
            Problem(folder.name, words, "", "Look whether the folder may be written")
        ) from None
    return names, new


def take_away(paths: Sequence[Path]) -> None:
    """Files that were just written taken away again."""
    for path in paths:
        path.unlink(missing_ok=True)
