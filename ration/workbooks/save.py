"""A workbook written to a file: whole or not at all, and never over another unasked."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from ration.errors import FileError, Problem
from ration.tables.csvfile import plain

ENDING = ".xlsx"


def check_target(path: Path) -> None:
    """Refuse before the work what could not be written after it.

    Raises
    ------
    FileError
        The name does not end in .xlsx, is a folder, or its folder is not there.
    """
    name = plain(str(path), 200)
    if path.suffix.lower() != ENDING:
        raise FileError(Problem(name, "a workbook ends in .xlsx", "", f"Name it {ENDING}"))
    try:
        is_folder, is_there = path.is_dir(), path.parent.is_dir()
    except (OSError, ValueError):
        raise FileError(Problem(name, "its name is not usable", "", "Choose another")) from None
    if is_folder:
        raise FileError(Problem(name, "this is a folder", "a file is wanted", "Choose another"))
    if not is_there:
        raise FileError(Problem(name, "there is no such folder", "", "Make it, or choose another"))


def save(path: Path, data: bytes, *, over: bool = False) -> bool:
    """Write a workbook; False when the file held just that already.

    Parameters
    ----------
    path : Path
        Ends in .xlsx.
    data : bytes
    over : bool
        Whether a file of that name that differs may be replaced.

    Raises
    ------
    FileError
        As `check_target`; a file that differs is there; it cannot be written.
    """
    check_target(path)
    name = plain(str(path), 200)
    real = Path(os.path.realpath(path))  # a link keeps pointing where it does
    part = real.with_name(f".{real.name[:80]}.{os.getpid()}.part")
    try:
        if real.exists():
            if real.read_bytes() == data:
                return False
            if not over:
                raise FileError(
                    Problem(name, "a file of that name is there and differs",
                            "nothing is overwritten unasked", "Choose another name, or add --over")
                )  # fmt: skip
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
        with os.fdopen(os.open(part, flags, 0o666), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.replace(real)
    except (OSError, ValueError) as error:
        with contextlib.suppress(OSError, ValueError):
            part.unlink()
        why = error.strerror if isinstance(error, OSError) and error.strerror else "name not usable"
        raise FileError(
            Problem(name, f"cannot be written ({why.lower()})", "", "Close it, or choose another")
        ) from None
    return True
