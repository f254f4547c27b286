"""What every page of an edition has around it: running head, sections, token; and the edition that it is looked up in."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from variorum.build.opened import OpenEdition
from variorum.desk.editions import Editions
from variorum.desk.journal import Begun
from variorum.desk.work import Running, State, Work, Works

__all__ = ["begin_work", "edition_for", "editions_of", "frame", "last_work"]


def editions_of(request: Request) -> Editions:
    """The editions that pages look things up in."""
    editions: Editions = request.app.state.editions
    return editions


@contextmanager
def edition_for(request: Request) -> Iterator[OpenEdition]:
    """The edition that a page is about: with its graph where the page is made in the background (`later`).

    Raises:
        InputError: There is none of that name, or its settings have errors.
        StoreError: Its store is damaged.
    """
    grown: OpenEdition | None = getattr(request.state, "grown", None)
    if grown is not None:
        yield grown
        return
    with editions_of(request).reading(request.path_params["name"]) as opened:
        yield opened


def frame(request: Request, section: str, title: str) -> dict[str, Any]:
    """Values for the base template. `section` is the one the page belongs to, "" outside an edition."""
    name = request.path_params.get("name", "")
    book = ""
    if name:
        with editions_of(request).reading(name) as opened:
            book = opened.edition.title
        request.app.state.shelf.visit(name)
    return {
        "book": book,
        "token": request.app.state.token,
        "edition": name,
        "section": section,
        "title": title,
    }


def begin_work(
    request: Request, sent: Any, kind: str, subject: str, run: Callable[[Running], str]
) -> Response:
    """Begin long work on the edition that a page is about; the same request goes on with it where it did not come to its end."""
    works: Works = request.app.state.works
    again = Begun(request.url.path, sent if isinstance(sent, dict) else {})
    name = request.path_params["name"]
    return JSONResponse({"number": works.start(name, kind, subject, run, again=again)})


def last_work(request: Request, kind: str) -> Work | None:
    """The work of a kind on this edition that ended last, for what it said."""
    works: Works = request.app.state.works
    ended = (State.DONE, State.STOPPED, State.FAILED)
    name = request.path_params.get("name", "")
    mine = (one for one in works.told() if one.kind == kind and one.edition == name)
    return next((one for one in mine if one.state in ended), None)
