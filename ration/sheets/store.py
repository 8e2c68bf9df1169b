"""A sheet put into a file; never over one that differs, unless it is asked for."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from ration.errors import FileError, Problem
from ration.sheets.pdf import engine, pdf

KINDS = (".html", ".pdf")


def check_name(path: Path) -> None:
    """Refuse a file name that says neither HTML nor PDF, or PDF where nothing makes one.

    Raises
    ------
    FileError
    """
    if path.suffix.lower() not in KINDS:
        raise FileError(
            Problem("--out", f'"{path.name}"', "a sheet is written as .html or as .pdf")
        )
    if path.suffix.lower() == ".pdf":
        engine()


def put(html: str, path: Path, *, over: bool = False) -> Path:
    """Write a sheet as HTML or PDF, by the end of the name; whole or not at all.

    Parameters
    ----------
    html : str
    path : Path
        Ends in .html or .pdf.
    over : bool
        Write over a file that differs.

    Raises
    ------
    FileError
        There is a file that differs, it cannot be written, or the name ends otherwise.
    """
    check_name(path)
    made = pdf(html) if path.suffix.lower() == ".pdf" else html.encode()
    try:
        if path.exists() and path.read_bytes() == made:
            return path
        if path.exists() and not over:
            raise FileError(
                Problem(
                    str(path),
                    "there is already a file of that name, and it differs",
                    "a sheet is not written over another unless you say so",
                    "Add --over, or name another file with --out",
                )
            )
        handle, name = tempfile.mkstemp(dir=path.parent, suffix=path.suffix)
        waiting = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(made)
            waiting.chmod(0o666 & ~_mask())
            waiting.replace(path)
        finally:
            waiting.unlink(missing_ok=True)
    except OSError as error:
        raise FileError(
            Problem(str(path), f"cannot be written ({error.strerror})", "", "Name another: --out")
        ) from None
    return path


def _mask() -> int:
    """The permissions that files here are made without."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
