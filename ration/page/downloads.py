"""What is handed over as a file."""

from __future__ import annotations

from urllib.parse import quote

from starlette.responses import Response

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def download(data: bytes, name: str, kind: str) -> Response:
    """Bytes that the browser puts into a file of this name."""
    told = f"attachment; filename*=UTF-8''{quote(name, safe='')}"
    return Response(data, media_type=kind, headers={"Content-Disposition": told})
