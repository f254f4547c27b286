"""What is under way, and that a text of the author was changed, told to every open page at once (server-sent events); the wish that work stop."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Final

import anyio.to_thread
import msgspec
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse

from variorum.base import InputError
from variorum.desk.work import Works
from variorum.edition import hash_on_disk
from variorum.edition.folder import DIGEST, MANUSCRIPT

__all__ = ["put_away", "stop", "works"]

_PAUSE: Final = 0.25
"""Seconds: no page is told more often."""
_PULSE: Final = 15.0
"""Seconds after which a quiet connection says that it is there."""


async def works(request: Request) -> Response:
    """All work; as a stream of events where the browser asks for one."""
    told: Works = request.app.state.works
    if "text/event-stream" not in request.headers.get("accept", ""):
        return Response(msgspec.json.encode(told.told()), media_type="application/json")
    name = request.query_params.get("edition", "")
    shelved = await anyio.to_thread.run_sync(
        request.app.state.shelf.all
    )  # a disk that is away must not hold up others
    folder = next((one.folder for one in shelved if one.name == name), None)
    texts = None if folder is None else _Watched(folder)
    return StreamingResponse(
        _stream(told, texts, request), media_type="text/event-stream", headers={"cache-control": "no-store"}
    )


class _Watched:
    """The texts of an edition: their hashes, looked up anew when size or time of a file has changed."""

    def __init__(self, folder: Path) -> None:
        self._files = {"manuscript": folder / MANUSCRIPT, "digest": folder / DIGEST}
        self._stamps: dict[str, tuple[int, int] | None] = {}
        self._hashes: dict[str, str] = {}

    def changed(self) -> dict[str, str] | None:
        """The hash of each text ("" where there is none), `None` while nothing has changed."""
        new = False
        for name, file in self._files.items():
            try:
                state = file.stat()
                stamp = state.st_size, state.st_mtime_ns
            except OSError:
                stamp = None
            if name in self._stamps and self._stamps[name] == stamp:
                continue
            self._stamps[name] = stamp
            try:
                found = hash_on_disk(file) or ""
            except InputError:  # it cannot be read now; the page that needs it says so
                found = ""
            new = new or found != self._hashes.get(name)
            self._hashes[name] = found
        return dict(self._hashes) if new else None


async def _stream(told: Works, texts: _Watched | None, request: Request) -> AsyncIterator[bytes]:
    seen, quiet = -1, 0.0
    closing: threading.Event = request.app.state.closing
    while not closing.is_set() and not await request.is_disconnected():
        if told.version != seen:
            seen, quiet = told.version, 0.0
            yield b"data: " + msgspec.json.encode(told.told()) + b"\n\n"
        elif texts is not None and (hashes := await anyio.to_thread.run_sync(texts.changed)) is not None:
            quiet = 0.0
            yield b"event: texts\ndata: " + msgspec.json.encode(hashes) + b"\n\n"
        elif quiet >= _PULSE:
            quiet = 0.0
            yield b": here\n\n"
        await asyncio.sleep(_PAUSE)
        quiet += _PAUSE


async def stop(request: Request) -> Response:
    """Ask a piece of work to stop."""
    number = request.path_params["number"]
    if request.app.state.works.stop(number):
        return JSONResponse({})
    return JSONResponse({"fault": "this work has ended already", "remedy": ""}, status_code=422)


async def put_away(request: Request) -> Response:
    """Tell no more of a piece of work that has ended."""
    request.app.state.works.put_away(request.path_params["number"])
    return JSONResponse({})
