"""A sheet as PDF, by the extra package that does it."""

from __future__ import annotations

import importlib
from typing import Any

from ration.errors import FileError, Problem

DO = 'Install it with: pip install "ration[pdf]"; or ask for a .html file and print that'


def pdf(html: str) -> bytes:
    """A sheet as PDF; the same sheet gives the same bytes.

    Parameters
    ----------
    html : str
        From one of the `..._sheet` functions. Nothing outside it is fetched.

    Raises
    ------
    FileError
        As `engine`.
    """
    made = engine().HTML(string=html, url_fetcher=_refuse).write_pdf(pdf_variant="pdf/ua-1")
    return bytes(made)


def engine() -> Any:
    """The package that makes PDF.

    Raises
    ------
    FileError
        It, or the system's Pango library under it, is not there.
    """
    try:
        return importlib.import_module("weasyprint")
    except ImportError:
        raise FileError(
            Problem("", "a PDF needs the package weasyprint, which is not installed", "", DO)
        ) from None
    except OSError:
        raise FileError(
            Problem(
                "",
                "a PDF needs the system's Pango library, which is not installed",
                "",
                "Install Pango (on Debian: libpango-1.0-0 and libpangoft2-1.0-0); or ask for a "
                ".html file and print that",
            )
        ) from None


def _refuse(url: str, *_: Any, **__: Any) -> Any:
    raise ValueError(f"a sheet fetches nothing: {url[:60]}")
