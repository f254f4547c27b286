"""The map page: where the lines of an edition lead and where they meet."""

from __future__ import annotations

from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response

from variorum.board import Position
from variorum.build.first_look import FirstLook
from variorum.build.mapping import map_edition
from variorum.desk.moves import address
from variorum.desk.pages.frame import edition_for, frame
from variorum.desk.pages.map_asked import MOST_PLACES, PLACES, MapAsked
from variorum.desk.pages.map_sheet import draw_map
from variorum.desk.render import page

__all__ = ["map_page", "map_part"]

_STEPS: Final = (PLACES, 16, 32, 64, MOST_PLACES)
"""Numbers of places that are offered."""


def map_page(request: Request, sent: Any) -> Response:
    """The sheet with what was asked of it; roots, tabiyas, heaviest lines."""
    del sent
    name = request.path_params["name"]
    with edition_for(request) as opened:
        edition = opened.edition
        report, diagnostics = map_edition(opened, confluences=0)
        faults = len(diagnostics)
        sheet = _sheet(request, opened)
        first = opened.taken if isinstance(opened, FirstLook) else None
    return page(
        "map.html.j2",
        **frame(request, "map", edition.title),
        report=report,
        position=lambda at: address(name, "position", at=at),
        orders=lambda at: address(name, "orders", at=at),
        faults=faults,
        first=first,
        start=Position.start().fen,
        work=address(name, "begin"),
        games_at=address(name, "games"),
        **sheet,
    )


def map_part(request: Request, sent: Any) -> Response:
    """The sheet alone, for a page that has the rest."""
    del sent
    with edition_for(request) as opened:
        sheet = _sheet(request, opened)
    return page("map_sheet.html.j2", **sheet)


def _sheet(request: Request, opened: Any) -> dict[str, Any]:
    name = request.path_params["name"]
    asked = MapAsked.of(request.query_params)
    here = address(name, "map")
    return {
        "asked": asked,
        "sheet": draw_map(opened, name, asked),
        "here": here,
        "steps": [(number, asked.address(here, places=number)) for number in _STEPS],
        "voices": [(mark, voice) for voice, mark in opened.sigla.items()],
        "names": list(opened.edition.places),
        "clear": asked.address(here, find="", only=""),
        "folded": asked.address(here, open=()),
    }
