"""What every page of an edition has around it: running head, sections, token."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request

from variorum.desk.editions import Editions

__all__ = ["editions_of", "frame"]


def editions_of(request: Request) -> Editions:
    """The editions that pages look things up in."""
    editions: Editions = request.app.state.editions
    return editions


def frame(request: Request, section: str, title: str) -> dict[str, Any]:
    """Values for the base template. `section` is the one the page belongs to, "" outside an edition."""
    return {
        "token": request.app.state.token,
        "edition": request.path_params.get("name", ""),
        "section": section,
        "title": title,
    }
