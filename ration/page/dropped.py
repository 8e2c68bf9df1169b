"""Laboratory sheets dropped on the page: kept till they are laid over a feed, then copied.

A sheet lies in memory only until the user says which feed it is of and what to do with it. Its
copy goes beside the farm file under a plain name and never over another file.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections import OrderedDict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from ration.errors import FileError, Problem
from ration.page.security import safe_name

if TYPE_CHECKING:
    from ration.page.desk import Desk

MOST_HELD = 16
MOST_BYTES = 500_000  # what the reader of sheets takes
MOST_COPIES = 50
# names that are not files where a farm file may be taken to
_NOT_NAMES = {"con", "prn", "aux", "nul", *(f"{w}{i}" for w in ("com", "lpt") for i in range(10))}


@dataclass(frozen=True)
class Dropped:
    """A file as it was dropped: a name that may stand in a folder, its bytes and their digest."""

    name: str
    data: bytes
    digest: str


class Tray:
    """The last sheets dropped, by digest; may be asked from any thread."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._held: OrderedDict[str, Dropped] = OrderedDict()

    def put(self, name: str | None, data: bytes) -> Dropped:
        """Keep a file; the oldest goes where there are too many."""
        plain = file_name(name)
        digest = hashlib.sha256(plain.encode() + b"\0" + data).hexdigest()[:32]
        made = Dropped(plain, data, digest)
        with self._lock:
            self._held[digest] = made
            self._held.move_to_end(digest)
            while len(self._held) > MOST_HELD:
                self._held.popitem(last=False)
        return made

    def get(self, digest: str) -> Dropped | None:
        """The file of a digest; None when it is not held."""
        with self._lock:
            return self._held.get(digest)


def file_name(name: str | None) -> str:
    """A name under which a dropped file may lie beside the farm file.

    Examples
    --------
    >>> file_name("../up/Lab 1.csv"), file_name("con.csv"), file_name("-rf.csv")
    ('Lab 1.csv', 'sheet con.csv', 'rf.csv')
    """
    made = safe_name(name).lstrip("-+ ") or "sheet"
    return f"sheet {made}" if made.partition(".")[0].strip().lower() in _NOT_NAMES else made


@contextmanager
def lent(dropped: Dropped) -> Iterator[Path]:
    """The file on disk under its own name, in a folder of its own, for as long as it is read."""
    with tempfile.TemporaryDirectory(prefix="ration-") as folder:
        path = Path(folder) / dropped.name
        path.write_bytes(dropped.data)
        yield path


def copied(desk: Desk, dropped: Dropped) -> tuple[Path, bool]:
    """The file beside the farm file, and whether it was put there now.

    A file that holds the same is used as it is; where another has the name, a number is added.

    Raises
    ------
    FileError
        The folder cannot be written to.
    """
    folder = desk.path.parent
    stem, dot, end = dropped.name.rpartition(".")
    names = (f"{stem}-{i}{dot}{end}" for i in range(2, MOST_COPIES))
    for name in (dropped.name, *names):
        path = folder / name
        try:
            _put(path, dropped.data)
        except FileExistsError:
            if _holds(path, dropped.data):
                return path, False
            continue
        except OSError as error:
            why = (error.strerror or type(error).__name__).lower()
            read = f"the sheet cannot be copied beside {desk.name} ({why})"
            do = "Nothing was changed. Copy it there by hand, or move the farm file"
            raise FileError(Problem(name, read, "", do)) from None
        return path, True
    read = f"there are {MOST_COPIES} other files of that name beside {desk.name}"
    raise FileError(Problem(dropped.name, read, "", "Give the sheet another name"))


def _put(path: Path, data: bytes) -> None:
    """A new file, whole or not at all."""
    with path.open("xb") as file:
        try:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        except OSError:
            path.unlink(missing_ok=True)
            raise


def _holds(path: Path, data: bytes) -> bool:
    """Whether a plain file holds just these bytes."""
    try:
        is_same_size = path.is_file() and path.stat().st_size == len(data)
        return is_same_size and path.read_bytes() == data
    except OSError:
        return False
