"""Styles, scripts and fonts by name; nothing outside the two folders that hold them can be asked for."""

from __future__ import annotations

import functools
import hashlib
import json
from importlib import resources
from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from variorum.publish import assets as published

__all__ = ["static"]

_KINDS: Final = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".woff2": "font/woff2",
}
_PUBLISHED: Final = frozenset({"tokens.css", "page.css", "board.css", "board.js"})


async def static(request: Request) -> Response:
    """One file."""
    name = request.path_params["name"]
    found = _read(name)
    if found is None:
        raise HTTPException(404)
    data, kind = found
    mark = f'"{hashlib.sha256(data).hexdigest()[:16]}"'
    headers = {"cache-control": "no-cache", "etag": mark}
    if request.headers.get("if-none-match") == mark:
        return Response(status_code=304, headers=headers)
    return Response(data, media_type=kind, headers=headers)


@functools.cache
def _read(name: str) -> tuple[bytes, str] | None:
    """The file's bytes and media type, `None` where no such file is meant for the browser."""
    if name == "units.js":
        return f"const VARIORUM_UNITS = {json.dumps(published.unit_outlines())};\n".encode(), _KINDS[".js"]
    kind = _KINDS.get(name[name.rfind(".") :])
    folder, _, file = name.rpartition("/")
    if kind is None or folder not in ("", "fonts") or file.startswith("."):
        return None
    own = resources.files("variorum.desk") / "static"
    for place in (resources.files(published), own) if name in _PUBLISHED or folder else (own,):
        path = (place / folder / file) if folder else place / file
        if path.is_file():
            return path.read_bytes(), kind
    return None
