"""Pages from templates: a whole page, or only the part that changed when the page's script asks."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, RedirectResponse, Response

from ration.errors import InputError, RationError
from ration.farm.write import ChangedSince
from ration.page.desk import Stale

if TYPE_CHECKING:
    from starlette.requests import Request

    from ration.page.desk import Desk

HERE = Path(__file__).parent
STATIC = HERE / "static"
TITLES = {
    400: "That was not understood",
    403: "That was not done",
    404: "There is no such page",
    405: "That cannot be done here",
    409: "Changed by something else",
    413: "Too long",
    415: "Not a form",
    422: "The farm file cannot be used as it is",
    500: "Something went wrong here",
}
USUAL = {
    404: "Nothing answers under this address. The questions are in the menu.",
    405: "This address is for something else: to be looked at, or for a form to be sent to.",
}


@lru_cache(maxsize=1)
def environment() -> Environment:
    """The templates: everything is escaped, a name that is not given is a fault."""
    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return made


def is_fragment(request: Request) -> bool:
    """Whether the page's script asks for the changed part only."""
    return request.headers.get("hx-request") == "true"


def desk_of(request: Request) -> Desk:
    """The desk of the page."""
    desk: Desk = request.app.state.desk
    return desk


def token_of(request: Request) -> str:
    """The secret that every form carries."""
    token: str = request.app.state.token
    return token


def form_of(request: Request) -> Mapping[str, Any]:
    """What was posted; read and checked before any view is asked."""
    form: Mapping[str, Any] = request.scope["form"]
    return form


def made_from(request: Request) -> str:
    """Digest of the draft that a posted form was made from."""
    return str(form_of(request).get("made_from", ""))


def page(
    request: Request,
    template: str,
    *,
    part: str | None = None,
    status: int = 200,
    **more: object,
) -> Response:
    """A view's answer.

    Parameters
    ----------
    request : Request
    template : str
        The whole page.
    part : str or None
        Template of what changes with a form; given alone when the page's script asks.
    status : int
    **more
        What the template names. `here`, `menu`, `draft`, `token`, `file` and `last` are given.
    """
    from ration.page import views

    desk = desk_of(request)
    draft = desk.draft
    told = {
        "here": request.url.path,
        "menu": views.menu(),
        "draft": draft,
        "token": token_of(request),
        "file": desk.name,
        "last": desk.last[1] if desk.last[0] == draft.digest else (),
        "is_part": part is not None and is_fragment(request),
        **more,
    }
    name = part if part is not None and is_fragment(request) else template
    return HTMLResponse(environment().get_template(name).render(told), status)


def go(path: str) -> Response:
    """Look at another page after something was done."""
    return RedirectResponse(path, status_code=303)


def problem_page(
    request: Request,
    status: int,
    words: str,
    *,
    lines: tuple[str, ...] = (),
    is_draft: bool = False,
) -> Response:
    """A fault as a page in words; it names nothing of the farm."""
    told = {
        "title": TITLES.get(status, TITLES[500]),
        "words": words,
        "lines": lines,
        "is_draft": is_draft,
        "status": status,
    }
    name = "problem_part.html" if is_fragment(request) else "problem.html"
    return HTMLResponse(environment().get_template(name).render(told), status)


def _said(request: Request, fault: Exception) -> Response:
    status = fault.status_code if isinstance(fault, HTTPException) else 500
    detail = fault.detail if isinstance(fault, HTTPException) else ""
    return problem_page(request, status, USUAL.get(status, detail))


def _refused(request: Request, fault: Exception) -> Response:
    """A fault of the farm file, or a question that has no answer, in the words it was raised in."""
    problems = fault.problems if isinstance(fault, RationError) else ()
    status = 422 if isinstance(fault, InputError) else 500
    words = (
        "Nothing was worked out and nothing was written. Put these right in the file, or take "
        "the last change back:"
        if status == 422
        else "Nothing is shown:"
    )
    lines = tuple(str(p) for p in problems)
    return problem_page(request, status, words, lines=lines, is_draft=True)


def _stale(request: Request, fault: Exception) -> Response:
    """Both values side by side, the user's own still in the form."""
    if not isinstance(fault, Stale):  # pragma: no cover - asked for this fault only
        raise fault
    left_out = ("token", "made_from", *fault.untouched)
    form = request.scope.get("form") or {}
    kept = [(k, v) for k, v in form.items() if isinstance(v, str) and k not in left_out]
    desk = desk_of(request)
    rows = [
        (" > ".join(str(k) for k in e.keys), "(taken out)" if e.value is None else e.value, n)
        for e, n in zip(fault.edits, fault.now, strict=True)
    ]
    return page(
        request,
        "stale.html",
        status=409,
        rows=rows,
        kept=kept,
        action=request.url.path,
        made_from=desk.draft.digest,
    )


def _moved(request: Request, fault: Exception) -> Response:
    """The file on disk is not the one that was read."""
    words = (
        "The farm file was changed on disk by something else, so it was not saved. Your changes "
        "are still here: open them as text and keep a copy, then read the file again."
    )
    lines = tuple(str(p) for p in fault.problems) if isinstance(fault, RationError) else ()
    return problem_page(request, 409, words, lines=lines, is_draft=True)


HANDLERS: Mapping[Any, Any] = {
    HTTPException: _said,
    Stale: _stale,
    ChangedSince: _moved,
    RationError: _refused,
}
