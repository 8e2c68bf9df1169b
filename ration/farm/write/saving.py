"""A text saved whole or not at all, and never over what someone else wrote meanwhile."""

from __future__ import annotations

import difflib
import hashlib
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import takewhile
from pathlib import Path
from threading import get_ident

from ration.errors import FileError, Problem
from ration.plain_text import shown
from ration.strict_yaml import decoded, text_of

if sys.platform != "win32":
    import fcntl

MOST_LINES_TOLD = 12
MOST_LINES_COMPARED = 2000
LEFT = ".part"


class ChangedSince(FileError):
    """The file on disk is no longer the one that was read.

    Attributes
    ----------
    theirs : str or None
        What is there now; None when the file is gone or is not text.
    """

    def __init__(self, *problems: Problem | str, theirs: str | None = None) -> None:
        super().__init__(*problems)
        self.theirs = theirs


def digest_of(text: str) -> str:
    """What tells one saved text from another: the SHA-256 of its bytes, in hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()


def open_text(path: Path) -> tuple[str, str]:
    """A farm file's text as it lies on disk, byte-order mark and line ends kept; its digest.

    Raises
    ------
    FileError
        As `ration.strict_yaml.text_of`: missing, too large, not UTF-8.
    """
    text_of(path)  # says what is wrong with it
    raw = _bytes(path) or b""
    decoded(raw, path.name)
    return raw.decode(), hashlib.sha256(raw).hexdigest()


def save(
    path: Path, text: str, expected_digest: str | None, *, text_read: str | None = None
) -> None:
    """Put a text in a file: all of it, or the file stays as it was.

    The text goes to a new file in the same folder, to the disk, and then in one stroke to the
    place of the old one. Its permissions are kept; a link is followed.

    Parameters
    ----------
    path : Path
        The file.
    text : str
        The whole new text.
    expected_digest : str or None
        `digest_of` the text that was read; None for a file that must not be there yet.
    text_read : str, optional
        That text, so that a refusal can tell what someone else changed in it.

    Raises
    ------
    ChangedSince
        The file is not the one that was read; what differs is told line by line.
    FileError
        It cannot be written; the old one is untouched.
    """
    try:
        raw = text.encode()
    except UnicodeEncodeError:
        raise FileError(
            Problem(path.name, "there is a character that does not belong in text")
        ) from None
    target = Path(os.path.realpath(path))
    try:
        with _alone(target):
            _replace(path, target, raw, expected_digest, text_read)
    except OSError as error:
        raise _cannot(path, error) from None


def _replace(
    path: Path, target: Path, raw: bytes, expected: str | None, text_read: str | None
) -> None:
    """The new file written beside the old one, looked at and put in its place."""
    there = _bytes(target, path.name)
    if there == raw and expected is not None:
        return
    _check(path, there, raw, expected, text_read)
    if there is not None and not os.access(target, os.W_OK):
        raise PermissionError(13, "it is marked read-only")
    waiting = target.with_name(f".{target.name}.{os.getpid()}-{get_ident()}{LEFT}")
    waiting.unlink(missing_ok=True)
    try:
        _write(waiting, raw)
        if there is not None:
            _like(waiting, target)
        _check(path, _bytes(target, path.name), raw, expected, text_read)
        waiting.replace(target)
    finally:
        with suppress(OSError):
            waiting.unlink(missing_ok=True)
    _to_disk(target.parent)


def _write(path: Path, raw: bytes) -> None:
    """All the bytes in a new file, and on the disk."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    file = os.open(path, flags, 0o666)
    try:
        left = memoryview(raw)
        while left:
            left = left[os.write(file, left) :]
        os.fsync(file)
    finally:
        os.close(file)


def _like(new: Path, old: Path) -> None:
    """Owner, where that is allowed, and permissions of the old file for the new one."""
    was = old.stat()
    if sys.platform != "win32":
        with suppress(OSError):
            os.chown(new, was.st_uid, was.st_gid)
    new.chmod(stat.S_IMODE(was.st_mode))


def _to_disk(folder: Path) -> None:
    """The folder's own entry on the disk, where the system knows such a thing."""
    with suppress(OSError):
        file = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(file)
        finally:
            os.close(file)


@contextmanager
def _alone(target: Path) -> Iterator[None]:
    """One save at a time in a folder, and what a killed save left behind swept up."""
    if sys.platform == "win32":
        yield
        return
    folder = os.open(target.parent, os.O_RDONLY)
    try:
        with suppress(OSError):  # some network disks have no locks
            fcntl.flock(folder, fcntl.LOCK_EX)
            for left in target.parent.glob(f".{_escaped(target.name)}.*{LEFT}"):
                left.unlink(missing_ok=True)
        yield
    finally:
        os.close(folder)


def _escaped(name: str) -> str:
    return "".join(f"[{c}]" if c in "[]*?" else c for c in name)


def _bytes(path: Path, name: str = "") -> bytes | None:
    """What a file holds; None when there is none. A folder or a pipe is refused."""
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise FileError(Problem(name or path.name, "this is not a file"))
        return path.read_bytes()
    except FileNotFoundError:
        return None


def _check(
    path: Path, there: bytes | None, raw: bytes, expected: str | None, text_read: str | None
) -> None:
    """Refuse to write over anything but what was read."""
    if there is None and expected is None:
        return
    if there is None:
        raise ChangedSince(
            Problem(
                path.name,
                "the file is gone since it was read",
                "nothing was saved",
                "Put it back, or save under another name",
            )
        )
    if expected == hashlib.sha256(there).hexdigest():
        return
    fault = "someone else changed the file since it was read"
    if expected is None:
        fault = "there is already a file of that name"
    first = Problem(
        path.name, fault, "nothing was saved", "Read it again and make your change anew"
    )
    try:
        theirs = there.decode()
    except UnicodeDecodeError:
        raise ChangedSince(first) from None
    mine = raw.decode() if text_read is None else text_read
    side = "you would save" if text_read is None else "you had read"
    raise ChangedSince(first, *differences(path.name, mine, theirs, side), theirs=theirs)


def differences(
    name: str, mine: str, theirs: str, side: str = "you would save"
) -> tuple[Problem, ...]:
    """What differs between two texts, line by line in plain words, the first dozen.

    Parameters
    ----------
    name : str
        File name, for the place.
    mine, theirs : str
        The text in hand, and the one on disk, whose lines are counted.
    side : str
        What `mine` is called.
    """
    old, new = mine.splitlines(), theirs.splitlines()
    start = _alike(old, new)
    tail = _alike(old[start:][::-1], new[start:][::-1])
    old, new = old[start : len(old) - tail], new[start : len(new) - tail]
    if max(len(old), len(new)) > MOST_LINES_COMPARED:
        read = f"from here {len(new)} lines differ from the {len(old)} that {side}"
        return (Problem(f"{name} line {start + 1}", read),)
    told: list[Problem] = []
    for kind, a, b, c, d in difflib.SequenceMatcher(a=old, b=new, autojunk=False).get_opcodes():
        for i in range(max(b - a, d - c) if kind != "equal" else 0):
            where = f"{name} line {start + min(c + i, max(d - 1, c)) + 1}"
            if a + i < b and c + i < d:
                read = f"on disk {shown(new[c + i])}, {side} {shown(old[a + i])}"
            elif c + i < d:
                read = f"on disk {shown(new[c + i])} is more than {side}"
            else:
                read = f"not on disk: {shown(old[a + i])}, which {side}"
            told.append(Problem(where, read))
    if not told and mine != theirs:
        return (Problem(name, "only line ends or unseen signs differ"),)
    if len(told) > MOST_LINES_TOLD:
        more = len(told) - MOST_LINES_TOLD + 1
        told[MOST_LINES_TOLD - 1 :] = [Problem(name, f"{more} more lines differ")]
    return tuple(told)


def _alike(a: list[str], b: list[str]) -> int:
    """How many lines are the same before the first that differs."""
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(a, b, strict=False)))


def _cannot(path: Path, error: OSError) -> FileError:
    """Why a file cannot be saved, in one line."""
    why = (error.strerror or type(error).__name__).lower()
    do = "Make room on the disk and save again" if error.errno == 28 else ""
    if isinstance(error, FileNotFoundError):
        why = "there is no such folder"
    elif isinstance(error, PermissionError):
        do = "Save it in a folder of your own"
    return FileError(Problem(path.name, f"cannot be saved ({why})", "it is as it was", do))
