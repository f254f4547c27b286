"""What every page of an edition has around it: running head, sections, token."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request

from variorum.desk.editions import Editions
from variorum.desk.work import State, Work, Works

__all__ = ["editions_of", "frame", "last_work"]


def editions_of(request: Request) -> Editions:
    """The editions that pages look things up in."""
    editions: Editions = request.app.state.editions
    return editions


def frame(request: Request, section: str, title: str) -> dict[str, Any]:
    """Values for the base template. `section` is the one the page belongs to, "" outside an edition."""
    name = request.path_params.get("name", "")
    book = editions_of(request).settings(name)[0].title if name else ""
    if name:
        request.app.state.shelf.visit(name)
    return {
        "book": book,
        "token": request.app.state.token,
        "edition": name,
        "section": section,
        "title": title,
    }


def last_work(request: Request, kind: str) -> Work | None:
    """The work of a kind on this edition that ended last, for what it said."""
    works: Works = request.app.state.works
    ended = (State.DONE, State.STOPPED, State.FAILED)
    name = request.path_params.get("name", "")
    mine = (one for one in works.told() if one.kind == kind and one.edition == name)
    return next((one for one in mine if one.state in ended), None)
