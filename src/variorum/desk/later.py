"""Pages that need the graph or count for long: made in the background (`parts`); until they are, a page tells how far that is."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from variorum.build.opened import OpenEdition
from variorum.desk.pages.frame import editions_of, frame
from variorum.desk.parts import Part, Parts
from variorum.desk.progress import Recorder
from variorum.desk.render import page
from variorum.desk.work import State, Works

__all__ = ["later", "not_yet", "parts_of", "soon"]

_TOKEN: Final = "<the token of this run>"
"""Stands in kept pages for what no file may hold; what an author wrote is escaped, so nobody else can write it."""
_WHOLE: Final = "whole"
"""In the query of an address: only what is made from the whole graph will do."""


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
    query = sorted(pair for pair in request.query_params.multi_items() if pair[0] != _WHOLE)
    return f"{request.url.path}?{query} {told}"


Make = Callable[[Request, Any], Response]
"""Makes a page; it has the edition from `edition_for`."""


def later(make: Make) -> Make:
    """A page that is made in the background, from the edition with its graph."""

    def answer(request: Request, sent: Any) -> Response:
        return _answer(request, _made(request, sent, make))

    return answer


def soon(make: Make) -> Make:
    """The same, but made from a first look at the edition until its graph is grown (`Editions.first`).

    Who asks with `whole` in the query waits for the graph. `make` has a `FirstLook` where it is one, and says so.
    """

    def answer(request: Request, sent: Any) -> Response:
        made = _made(request, sent, make)
        if not made.is_ready and _WHOLE not in request.query_params:
            look = editions_of(request).first(request.path_params["name"])
            if look is not None:
                return make(_about(request, look), sent)
        return _answer(request, made)

    return answer


def _about(request: Request, opened: OpenEdition) -> Request:
    """The same request with the edition that its page is made from: one may be made of the first look and the whole at once."""
    return Request({**request.scope, "state": {"grown": opened}})


def _made(request: Request, sent: Any, make: Make) -> Part:
    token: str = request.app.state.token

    def text(opened: OpenEdition, recorder: Recorder) -> str:
        del recorder
        return bytes(make(_about(request, opened), sent).body).decode().replace(token, _TOKEN)

    name: str = request.path_params["name"]
    # The whole is not there this moment where a first look is.
    patience = 0.0 if editions_of(request).has_first(name) else request.app.state.patience
    return parts_of(request).get(name, _asked(request), text, patience=patience)


def _answer(request: Request, made: Part) -> Response:
    if made.error is not None:
        raise made.error
    if made.text is None:
        return not_yet(request, made)
    text = made.text.replace(_TOKEN, request.app.state.token)
    return HTMLResponse(text, headers={"cache-control": "no-store"})


def not_yet(request: Request, part: Part) -> Response:
    """How far a page or a part is, for the script that asks again or as a page."""
    if request.headers.get("accept", "").startswith("application/json"):
        return JSONResponse({"words": part.words}, status_code=202, headers={"cache-control": "no-store"})
    return page("awaited.html.j2", status=202, **frame(request, "", "A moment"), words=part.words)
