"""The same answers as JSON: the very bytes that a command gives for the same file."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.routing import Route

from ration import cautions, jobs, mix
from ration.faces import as_json, winter_json
from ration.page import pages
from ration.stack import lots as stacked

if TYPE_CHECKING:
    from starlette.requests import Request

    from ration.page.desk import Read


def json_bytes(value: Any) -> bytes:
    """JSON as the command prints it."""
    return (as_json.text(value) + "\n").encode()


def _mix(read: Read, request: Request) -> dict[str, Any]:
    """`ration mix FARM --json`, with `--batch` and `--standard` as `?batch=` and `?standard=`."""
    asked = request.query_params.getlist("batch")
    farm = jobs.by_standard(read.farm, request.query_params.get("standard"))
    names = [b.name for b in farm.batches]
    if any(a not in names for a in asked):
        raise HTTPException(404, f"There is no such batch; there are {', '.join(names)}.")
    result = mix.mix(farm, read.tables, batches=asked)
    return as_json.mix_json(jobs.told(result, None, read.tables))


def _assess(read: Read, request: Request) -> dict[str, Any]:
    """`ration assess FARM --json`."""
    found = mix.assess_farm(read.farm, read.tables)
    return as_json.assess_json(
        jobs.Assessed(
            read.farm,
            found,
            cautions.for_assessments(found, read.farm, read.tables),
            {a.batch.name: cautions.for_assessment(a, read.farm, read.tables) for a in found},
        )
    )


def _stack(read: Read, request: Request) -> dict[str, Any]:
    """`ration stack FARM --json`."""
    return winter_json.stack_json(stacked.estimated(read.farm))


TWINS: dict[str, Callable[[Read, Request], dict[str, Any]]] = {
    "mix": _mix,
    "assess": _assess,
    "stack": _stack,
}


def twin(request: Request) -> Response:
    """One answer as JSON, of the draft as it stands."""
    name = request.path_params["name"]
    if name not in TWINS:
        raise HTTPException(404)
    desk = pages.desk_of(request)
    read = desk.read()
    key = ("json", name, request.url.query)
    told = desk.once(read, key, lambda: json_bytes(TWINS[name](read, request)), is_long=True)
    return Response(told, media_type="application/json")


ROUTES = [Route("/json/{name:str}", twin)]
