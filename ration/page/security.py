"""Who may ask the page for what: plain ASGI wrappers, the outermost first.

`Headers` and `Faults` go round everything; then a foreign name is refused (a page elsewhere that
points a name of its own at this machine), then what another site sent, then a device that has not
given the code, then anything posted that is too long, of the wrong kind or without the token.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import logging
import re
from collections.abc import Callable, Mapping
from http.cookies import SimpleCookie
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from starlette.datastructures import Headers as Got
from starlette.datastructures import MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ration.errors import RationError

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOG = logging.getLogger("ration.page")
LOOPBACK = ("127.0.0.1", "localhost", "::1")
COOKIE = "ration_page"
TOKEN_FIELD = "token"
TOKEN_HEADER = "x-ration-token"
CODE_PATH = "/code"
MOST_WRONG_CODES = 5
WAIT_S = 60.0
MOST_FIELDS = 600
MOST_FILES = 8
MOST_NAME = 80
RULES = (
    "default-src 'self'; img-src 'self' data:; style-src 'self'; script-src 'self'; "
    "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
# A picture is opened by itself: it may carry its own style and nothing else.
RULES_OF_A_PICTURE = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")


def safe_name(name: str | None, usual: str = "sheet") -> str:
    """A file name as sent by a browser, cut to what may stand in a folder.

    Examples
    --------
    >>> safe_name("../etc/passwd"), safe_name("C:\\\\hay\\\\Lab 1.csv"), safe_name("..")
    ('passwd', 'Lab 1.csv', 'sheet')
    """
    last = re.split(r"[/\\]", name or "")[-1]
    kept = re.sub(r"[^\w .()+-]", "", last, flags=re.UNICODE).strip(" .")
    if len(kept) > MOST_NAME:
        stem, dot, end = kept.rpartition(".")
        kept = f"{stem[: MOST_NAME - len(end) - 1]}.{end}" if dot and len(end) < 8 else ""
    return kept or usual


def is_this_machine(scope: Scope) -> bool:
    """Whether the caller sits on this machine."""
    client = scope.get("client")
    if not client:
        return False
    try:
        return ipaddress.ip_address(client[0]).is_loopback
    except ValueError:
        return False


def host_of(scope: Scope) -> str:
    """The name asked for, without its port; "" when there is none or it is no name."""
    told = Got(scope=scope).getlist("host")
    if len(told) != 1 or not re.fullmatch(r"[A-Za-z0-9._:\[\]-]+", told[0]):
        return ""
    try:
        return (urlsplit(f"//{told[0]}").hostname or "").lower()
    except ValueError:
        return ""


async def _say(status: int, words: str, scope: Scope, receive: Receive, send: Send) -> None:
    from ration.page import pages

    answer = pages.problem_page(Request(scope), status, words)
    await answer(scope, receive, send)


class Headers:
    """Rules for the browser on every answer: own files only, no guessing, nothing kept."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Add the rules to whatever is answered."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                is_picture = headers.get("content-type", "").startswith("image/svg")
                headers["Content-Security-Policy"] = RULES_OF_A_PICTURE if is_picture else RULES
                headers["X-Content-Type-Options"] = "nosniff"
                # with "no-referrer" a browser would not say where a form comes from
                headers["Referrer-Policy"] = "same-origin"
                headers["Cross-Origin-Resource-Policy"] = "same-origin"
                headers["Cross-Origin-Opener-Policy"] = "same-origin"
                is_ours = scope["path"].startswith("/static/")
                headers["Cache-Control"] = "no-cache" if is_ours else "no-store"
                headers.add_vary_header("HX-Request")
            await send(message)

        await self.app(scope, receive, sent)


class Faults:
    """What nobody foresaw becomes a page in words; the traceback goes to the log, if anywhere."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer 500 in words where the rest of the page fails."""
        begun = False

        async def sent(message: Message) -> None:
            nonlocal begun
            begun = begun or message["type"] == "http.response.start"
            await send(message)

        try:
            await self.app(scope, receive, sent)
        except Exception as fault:  # the last face before a person: never a traceback
            LOG.error("%s %s: %s: %s", scope.get("method"), scope.get("path"), type(fault), fault)
            LOG.debug("in full", exc_info=fault)
            if begun or scope["type"] != "http":
                return
            words = (
                f"This is our fault, not yours: {type(fault).__name__}. The farm file is as it "
                "was. Please report it with the file you used."
            )
            await _say(500, words, scope, receive, send)


class KnownHost:
    """Only the names of this machine, and those shared on purpose, are answered."""

    def __init__(self, app: ASGIApp, hosts: tuple[str, ...] = ()) -> None:
        self.app = app
        self.hosts = {h.lower().strip("[]") for h in (*LOOPBACK, *hosts)}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse a request for another name, of a kind or by a method that is not ours."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
        elif scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
        elif host_of(scope) not in self.hosts:
            words = (
                "This page answers only under the address printed where it was started. Type "
                "that address into the browser yourself."
            )
            await _say(400, words, scope, receive, send)
        elif scope["method"] not in ("GET", "HEAD", "POST"):
            await _say(405, "The page can be looked at and forms sent to it, no more.", scope,
                       receive, send)  # fmt: skip
        else:
            await self.app(scope, receive, send)


class SameSite:
    """What another site made the browser send is refused; a link that is followed is not."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Look at where the browser says the request comes from."""
        if scope["type"] != "http" or self.is_ours(scope):
            await self.app(scope, receive, send)
            return
        words = "Another site asked for this in your name, so it was not done."
        await _say(403, words, scope, receive, send)

    @staticmethod
    def is_ours(scope: Scope) -> bool:
        """Whether it came from this page, from a bookmark or from no browser."""
        got = Got(scope=scope)
        from_where = got.get("sec-fetch-site", "none")
        is_post = scope["method"] == "POST"
        if from_where not in ("same-origin", "none"):
            followed = got.get("sec-fetch-mode") == "navigate"
            if is_post or not followed or got.get("sec-fetch-dest") not in (None, "document"):
                return False
        if not is_post:
            return True
        origin = got.get("origin")
        if origin is None:
            return True  # no browser leaves it out of a form from another site
        try:
            parts = urlsplit(origin)
        except ValueError:
            return False
        return parts.netloc.lower() == (got.get("host") or "").lower() and parts.netloc != ""


class Gate:
    """The code that another device types once, and the cookie it then carries."""

    def __init__(
        self, token: str, code: str | Callable[[], str] | None, clock: Callable[[], float]
    ) -> None:
        self._more = code if callable(code) else None
        self.code = code() if callable(code) else code
        self.clock = clock
        self.wrong = 0
        self.shut_until = float("-inf")
        self.cookie = hmac.new(token.encode(), b"let in by its code", hashlib.sha256).hexdigest()

    def wait_s(self) -> float:
        """How long no code is taken after too many wrong ones. [s]"""
        return max(0.0, self.shut_until - self.clock())

    def opens(self, typed: str) -> bool:
        """Whether the code is right; it is then used up."""
        if self.code is None or self.wait_s() > 0:
            return False
        tidy = re.sub(r"[\s-]", "", typed)
        if hmac.compare_digest(tidy.encode(), re.sub(r"[\s-]", "", self.code).encode()):
            self.code = self._more() if self._more else None
            self.wrong = 0
            return True
        self.wrong += 1
        if self.wrong >= MOST_WRONG_CODES:
            self.wrong, self.shut_until = 0, self.clock() + WAIT_S
        return False

    def knows(self, scope: Scope) -> bool:
        """Whether the caller sits here or carries the cookie."""
        if is_this_machine(scope):
            return True
        try:
            jar = SimpleCookie(Got(scope=scope).get("cookie", ""))
        except Exception:  # a cookie that is none
            return False
        held = jar.get(COOKIE)
        return held is not None and hmac.compare_digest(held.value, self.cookie)


class AtTheGate:
    """A device other than this machine types the code before it sees anything."""

    def __init__(self, app: ASGIApp, gate: Gate) -> None:
        self.app, self.gate = app, gate

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let in, or send to where the code is typed."""
        if scope["type"] != "http" or self.gate.knows(scope):
            await self.app(scope, receive, send)
        elif scope["path"] == CODE_PATH or scope["path"].startswith("/static/"):
            scope["is_at_gate"] = True
            await self.app(scope, receive, send)
        else:
            answer: Response = RedirectResponse(CODE_PATH, status_code=303)
            await answer(scope, receive, send)


class Posted:
    """Everything posted: counted while it is read, of a kind that is known, with the token.

    The form is read here, once, and lies in `scope["form"]`; views need not wait for it.
    """

    def __init__(self, app: ASGIApp, token: str, most_bytes: int, most_form_bytes: int) -> None:
        self.app, self.token = app, token
        self.most_bytes, self.most_form_bytes = most_bytes, most_form_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Read the form, or refuse it in words."""
        if scope["type"] != "http" or scope["method"] != "POST":
            await self.app(scope, receive, send)
            return
        got = Got(scope=scope)
        kind = got.get("content-type", "").partition(";")[0].strip().lower()
        if kind not in FORMS:
            words = f"A form was expected, not {kind or 'something without a name'}."
            await _say(415, words, scope, receive, send)
            return
        most = self.most_form_bytes if kind == FORMS[0] else self.most_bytes
        try:
            body = await self.read(got, receive, most)
        except TooLong:
            size = f"{most / 1e6:g} MB" if most >= 1e6 else f"{most / 1e3:g} kB"
            words = f"That is too long: at most {size} can be sent here."
            await _say(413, words, scope, receive, send)
            return
        await self.with_form(scope, body, receive, send)

    @staticmethod
    async def read(got: Mapping[str, str], receive: Receive, most: int) -> bytes:
        """The body, given up as soon as it is too long, whatever it said of its length."""
        said = got.get("content-length", "0")
        if not said.isdecimal() or int(said) > most:
            raise TooLong
        body = bytearray()
        while True:
            message = await receive()
            if message["type"] != "http.request":
                raise TooLong  # gone before it was all here
            body += message.get("body", b"")
            if len(body) > most:
                raise TooLong
            if not message.get("more_body", False):
                return bytes(body)

    async def with_form(self, scope: Scope, body: bytes, receive: Receive, send: Send) -> None:
        """Hold the token against that of this run and go on with the form read."""
        given = False

        async def again() -> Message:
            nonlocal given
            if given:
                return await receive()
            given = True
            return {"type": "http.request", "body": body, "more_body": False}

        reading = Request(scope, again)
        try:
            form = await reading.form(
                max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=self.most_form_bytes
            )
        except HTTPException as fault:
            await _say(400, "The form could not be read. " + str(fault.detail), scope, receive,
                       send)  # fmt: skip
            return
        try:
            typed = Got(scope=scope).get(TOKEN_HEADER) or form.get(TOKEN_FIELD) or ""
            is_right = isinstance(typed, str) and hmac.compare_digest(
                typed.encode("utf-8", "replace"), self.token.encode()
            )
            if not is_right and not scope.get("is_at_gate"):
                words = (
                    "This form is from an earlier run of the page, so it was not taken. Go back, "
                    "load the page again and send it once more."
                )
                await _say(403, words, scope, receive, send)
                return
            scope["form"] = form
            given = False
            await self.app(scope, again, send)
        finally:
            await form.close()


class TooLong(RationError):
    """More was sent than is taken."""
