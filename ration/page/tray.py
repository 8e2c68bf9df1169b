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
from ration.page.dropped import Dropped, file_name
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

    def held(self) -> Dropped:
        """The sheet as it came, to be copied beside the farm file."""
        return Dropped(self.name, self.path.read_bytes(), self.digest)


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


def _numbered(name: str, taken: Sequence[str]) -> str:
    """A name that no other sheet has; a number is put to one that is taken."""
    stem, dot, end = name.rpartition(".") if "." in name else (name, "", "")
    tried = (name, *(f"{stem}-{n}{dot}{end}" for n in range(2, MOST_SHEETS + 2)))
    return next(t for t in tried if t.casefold() not in taken)


def _write(path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        why = (error.strerror or type(error).__name__).lower()
        do = "Give it a short plain name, or make room on the disk"
        raise FileError(Problem(path.name, f"the sheet cannot be kept ({why})", "", do)) from None


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
        """A sheet taken in and read; one that is here already, whatever its name, stays as it is.

        Raises
        ------
        InputError
            There are as many as are taken, or nothing is in it.
        """
        kept = " ".join(file_name(name).split())  # as the farm file will have it
        if not data:
            raise FileError(Problem(kept, "the file is empty", "", "Save it again"))
        if len(data) > MOST_BYTES:
            most = f"at most {MOST_BYTES // 1_000_000} MB"
            raise FileError(Problem(kept, "the file is too large", most, "Keep the prices alone"))
        digest = hashlib.sha256(data).hexdigest()
        with self._lock:
            same = next((s for s in self._sent if s.digest == digest), None)
            if same is not None:
                return same
            if len(self._sent) >= MOST_SHEETS:
                raise FileError(
                    Problem(kept, f"there are {MOST_SHEETS} sheets here", "", "Take one out first")
                )
            taken = [s.name.casefold() for s in self._sent]
            use = _numbered(kept, taken)
            path = self._place() / use
            _write(path, data)
            note = "" if use == kept else f"There is another sheet {kept} here; this one is {use}."
            waiting = Sent(f"waiting for {use}", use, digest, path, None, ("It is being read.",))
            self._sent = (*self._sent, waiting)
        made = sent(path, note)  # a child process may take its time: nothing is held up
        with self._lock:
            if waiting not in self._sent:  # taken out meanwhile
                path.unlink(missing_ok=True)
            self._sent = tuple(made if s is waiting else s for s in self._sent)
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
        self.with_own = False

    def agree(self, reading: str) -> None:
        """Somebody looked at how the sheets were read and said yes."""
        with self._lock:
            self._read_so.add(reading)

    def is_agreed(self, reading: str) -> bool:
        """Whether somebody did."""
        return reading in self._read_so
