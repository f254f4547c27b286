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
from variorum.desk.render import fragment, page
from variorum.desk.work import State, Works

__all__ = ["later", "not_yet", "parts_of", "soon"]

_TOKEN: Final = "<the token of this run>"
"""Stands in kept pages for what no file may hold; what an author wrote is escaped, so nobody else can write it."""
_NEWER: Final = "newer"
"""In the query of an address: the mark of what the reader has, "" for a first look."""
_BEHIND: Final = "<!--behind-->"
"""In a kept page: where it is said that the edition changed since."""


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
    query = sorted(pair for pair in request.query_params.multi_items() if pair[0] != _NEWER)
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

    `make` has a `FirstLook` where it is one, and says so. Where files changed since the graph was grown, the page says that in the
    place for it. Who has such a page asks with its mark, as `newer` in the query, and waits for one of a newer graph.
    """

    def answer(request: Request, sent: Any) -> Response:
        name, editions = request.path_params["name"], editions_of(request)
        had, made = request.query_params.get(_NEWER), None
        if had is not None or editions.is_near(name) or _is_at_hand(request):
            made = _made(request, sent, make)
        if had is None and (made is None or not made.is_ready) and (look := editions.first(name)) is not None:
            answered = make(_about(request, look), sent)
            if made is None:
                _made(request, sent, make)  # begun only now: growing a graph takes all processors
            return answered
        made = made or _made(request, sent, make)
        note, mark = "", editions.graph_mark(name)
        if editions.is_behind(name):
            if had and had == mark:
                return not_yet(request, Part(tasks=editions.growing(name)))
            note = str(fragment("behind_map.html.j2", mark=mark))
        return _answer(request, made, {_BEHIND: note})

    return answer


def _about(request: Request, opened: OpenEdition) -> Request:
    """The same request with the edition that its page is made from: one may be made of the first look and the whole at once."""
    return Request({**request.scope, "state": {"grown": opened}})


def _is_at_hand(request: Request) -> bool:
    asked = _asked(request)
    return asked in parts_of(request).at_hand(request.path_params["name"], [asked])


def _made(request: Request, sent: Any, make: Make) -> Part:
    token: str = request.app.state.token

    def text(opened: OpenEdition, recorder: Recorder) -> str:
        del recorder
        return bytes(make(_about(request, opened), sent).body).decode().replace(token, _TOKEN)

    name: str = request.path_params["name"]
    # The whole is not there this moment where a first look is.
    patience = 0.0 if editions_of(request).has_first(name) else request.app.state.patience
    return parts_of(request).get(name, _asked(request), text, patience=patience)


def _answer(request: Request, made: Part, placed: dict[str, str] | None = None) -> Response:
    if made.error is not None:
        raise made.error
    if made.text is None:
        return not_yet(request, made)
    text = made.text
    for place, words in {_TOKEN: request.app.state.token, **(placed or {})}.items():
        text = text.replace(place, words)
    return HTMLResponse(text, headers={"cache-control": "no-store"})


def not_yet(request: Request, part: Part) -> Response:
    """How far a page or a part is, for the script that asks again or as a page."""
    if request.headers.get("accept", "").startswith("application/json"):
        return JSONResponse({"words": part.words}, status_code=202, headers={"cache-control": "no-store"})
    return page("awaited.html.j2", status=202, **frame(request, "", "A moment"), words=part.words)
