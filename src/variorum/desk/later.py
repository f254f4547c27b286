"""Pages that need the graph or count for long: made in the background (`parts`); until they are, a page tells how far that is."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from variorum.build.opened import OpenEdition
from variorum.desk.pages.frame import frame
from variorum.desk.parts import Part, Parts
from variorum.desk.progress import Recorder
from variorum.desk.render import page
from variorum.desk.work import State, Works

__all__ = ["later", "not_yet", "parts_of"]

_TOKEN: Final = "<the token of this run>"
"""Stands in kept pages for what no file may hold; what an author wrote is escaped, so nobody else can write it."""


def parts_of(request: Request) -> Parts:
    """All parts of this server."""
    parts: Parts = request.app.state.parts
    return parts


def _asked(request: Request) -> str:
    """What a page is made from beside the edition: its address, and what work on the edition has told in the end."""
    works: Works = request.app.state.works
    ended = (State.DONE, State.STOPPED, State.FAILED)
    mine = [one for one in works.told() if one.edition == request.path_params["name"] and one.state in ended]
    told = [(one.number, one.kind, one.state, one.said, one.fault) for one in mine]
    return f"{request.url.path}?{sorted(request.query_params.multi_items())} {told}"


def later(make: Callable[[Request, Any], Response]) -> Callable[[Request, Any], Response]:
    """A page that is made in the background. `make` has the edition with its graph from `edition_for`."""

    def answer(request: Request, sent: Any) -> Response:
        token: str = request.app.state.token

        def text(opened: OpenEdition, recorder: Recorder) -> str:
            del recorder
            request.state.grown = opened
            return bytes(make(request, sent).body).decode().replace(token, _TOKEN)

        name: str = request.path_params["name"]
        made = parts_of(request).get(name, _asked(request), text, patience=request.app.state.patience)
        if made.error is not None:
            raise made.error
        if made.text is None:
            return not_yet(request, made)
        return HTMLResponse(made.text.replace(_TOKEN, token), headers={"cache-control": "no-store"})

    return answer


def not_yet(request: Request, part: Part) -> Response:
    """How far a page or a part is, for the script that asks again or as a page."""
    if request.headers.get("accept", "").startswith("application/json"):
        return JSONResponse({"words": part.words}, status_code=202, headers={"cache-control": "no-store"})
    return page("awaited.html.j2", status=202, **frame(request, "", "A moment"), words=part.words)
