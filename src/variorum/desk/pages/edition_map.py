"""The map page: where the lines of an edition lead and where they meet."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from variorum.desk.moves import address
from variorum.desk.pages.frame import editions_of, frame
from variorum.desk.render import page
from variorum.graph import map_report

__all__ = ["map_page"]


def map_page(request: Request, sent: Any) -> Response:
    """Roots, tabiyas, confluences, heaviest lines."""
    del sent
    name = request.path_params["name"]
    with editions_of(request).reading(name) as opened:
        edition = opened.edition
        report = map_report(
            edition.title,
            opened.graph,
            opened.traffic,
            opened.values,
            sigla=opened.sigla,
            roots=edition.roots,
            names=edition.names,
            bands=edition.settings.bands,
        )
        questions = len(opened.diagnostics)

    def position(at: str) -> str:
        return address(name, "position", at=at)

    return page(
        "map.html.j2",
        **frame(request, "map", edition.title),
        report=report,
        position=position,
        orders=lambda at: address(name, "orders", at=at),
        faults=questions,
        work=address(name, "work"),
    )
