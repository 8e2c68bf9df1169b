"""The page: a farm file worked out in a browser on the same machine.

`app` makes the whole of it from a farm file. What the page shows is worked by the jobs and put
in words by the faces, as on the command line; here it is only laid out, and the farm file is
changed, taken back and saved. Starlette and Jinja are imported inside so that --help is quick.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from starlette.applications import Starlette

MOST_BYTES = 8_000_000  # of anything sent to the page, a file among it
MOST_FORM_BYTES = 200_000  # of a form without a file


def app(
    farm_path: Path | str,
    *,
    token: str,
    hosts: Sequence[str] = (),
    code: str | Callable[[], str] | None = None,
    clock: Callable[[], float] = time.monotonic,
    overlays: Sequence[Path] = (),
) -> Starlette:
    """The page of one farm file.

    Parameters
    ----------
    farm_path : Path
        The farm file that is looked at, changed and saved.
    token : str
        Secret of this run; every form carries it.
    hosts : sequence of str
        Names or addresses, besides those of this machine, under which the page may be asked for.
    code : str, callable or None
        What a device other than this machine must type once. A callable is asked for the next
        code when one is used up; a str works once. None lets nobody else in.
    clock : callable
        Seconds that only go forward: for the wait after wrong codes. [s]
    overlays : sequence of Path
        Tables of the user's own, laid over the shipped ones.

    Raises
    ------
    InputError
        There is no such file, or it is not text.
    """
    from starlette.applications import Starlette
    from starlette.middleware import Middleware
    from starlette.routing import Mount
    from starlette.staticfiles import StaticFiles

    from ration.page import pages, security, views
    from ration.page.desk import Desk

    desk = Desk(Path(farm_path), overlays=overlays)
    gate = security.Gate(token, code, clock)
    made = Starlette(
        routes=[
            *views.routes(),
            Mount("/static", StaticFiles(directory=pages.STATIC), name="static"),
        ],
        exception_handlers=pages.HANDLERS,
        middleware=[
            Middleware(security.Headers),
            Middleware(security.Faults),
            Middleware(security.KnownHost, hosts=tuple(hosts)),
            Middleware(security.SameSite),
            Middleware(security.AtTheGate, gate=gate),
            Middleware(
                security.Posted,
                token=token,
                most_bytes=MOST_BYTES,
                most_form_bytes=MOST_FORM_BYTES,
            ),
        ],
    )
    made.state.desk = desk
    made.state.token = token
    made.state.gate = gate
    return made
