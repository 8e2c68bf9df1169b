"""Where another device types the code that the terminal shows."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from starlette.responses import Response
from starlette.routing import Route

from ration.page import pages
from ration.page.security import COOKIE

if TYPE_CHECKING:
    from starlette.requests import Request

    from ration.page.security import Gate


def _asked(request: Request, words: str = "", status: int = 200) -> Response:
    from starlette.responses import HTMLResponse

    told = {"words": words}
    return HTMLResponse(pages.environment().get_template("code.html").render(told), status)


def code(request: Request) -> Response:
    """Ask for the code, or take it."""
    gate: Gate = request.app.state.gate
    if not request.scope.get("is_at_gate"):
        return pages.go("/")
    if request.method != "POST":
        return _asked(request)
    if wait := math.ceil(gate.wait_s()):
        return _asked(request, f"Too many wrong codes. Wait {wait} seconds, then try again.", 403)
    if not gate.opens(str(pages.form_of(request).get("code", ""))):
        return _asked(request, "That is not the code. Look at the terminal again.", 403)
    answer = pages.go("/")
    answer.set_cookie(COOKIE, gate.cookie, httponly=True, samesite="strict", path="/")
    return answer


ROUTES = [Route("/code", code, methods=["GET", "POST"])]
