"""The draft: take back, put in again, save, read the file again, keep a copy."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from ration.page import pages

if TYPE_CHECKING:
    from starlette.requests import Request


def _back(request: Request) -> Response:
    """To the page it was asked from; only ever one of ours."""
    path = str(pages.form_of(request).get("back", "/"))
    is_ours = path.startswith("/") and not path.startswith(("//", "/\\")) and path.isprintable()
    return pages.go(path if is_ours else "/")


def undo(request: Request) -> Response:
    """Take the last change back."""
    pages.desk_of(request).step("undo", pages.made_from(request))
    return _back(request)


def redo(request: Request) -> Response:
    """Put it in again."""
    pages.desk_of(request).step("redo", pages.made_from(request))
    return _back(request)


def save(request: Request) -> Response:
    """Put the draft on disk."""
    pages.desk_of(request).save(pages.made_from(request))
    return _back(request)


def read_again(request: Request) -> Response:
    """Put the draft aside and take the file on disk."""
    pages.desk_of(request).read_again()
    return _back(request)


def draft(request: Request) -> Response:
    """The draft as text, to be kept elsewhere."""
    return PlainTextResponse(pages.desk_of(request).draft.text)


ROUTES = [
    Route("/undo", undo, methods=["POST"]),
    Route("/redo", redo, methods=["POST"]),
    Route("/save", save, methods=["POST"]),
    Route("/read-again", read_again, methods=["POST"]),
    Route("/draft.txt", draft),
]
