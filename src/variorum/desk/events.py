"""What is under way, told to every open page as it changes (server-sent events), and the wish that it stop."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator
from typing import Final

import msgspec
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse

from variorum.desk.work import Works

__all__ = ["stop", "works"]

_PAUSE: Final = 0.25
"""Seconds: no page is told more often."""
_PULSE: Final = 15.0
"""Seconds after which a quiet connection says that it is there."""


async def works(request: Request) -> Response:
    """All work; as a stream of events where the browser asks for one."""
    told: Works = request.app.state.works
    if "text/event-stream" not in request.headers.get("accept", ""):
        return Response(msgspec.json.encode(told.told()), media_type="application/json")
    return StreamingResponse(
        _stream(told, request), media_type="text/event-stream", headers={"cache-control": "no-store"}
    )


async def _stream(told: Works, request: Request) -> AsyncIterator[bytes]:
    seen, quiet = -1, 0.0
    closing: threading.Event = request.app.state.closing
    while not closing.is_set() and not await request.is_disconnected():
        if told.version != seen:
            seen, quiet = told.version, 0.0
            yield b"data: " + msgspec.json.encode(told.told()) + b"\n\n"
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
