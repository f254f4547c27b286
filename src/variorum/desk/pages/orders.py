"""The orders page: by which orders a place is reached, and what each allows the opponent."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from variorum.build.audits import sides_of
from variorum.desk.moves import address, name_of
from variorum.desk.pages.frame import edition_for, frame
from variorum.desk.render import page
from variorum.edition import resolve_place
from variorum.insight.order_telling import orders_report
from variorum.insight.orders import audit, audit_ground

__all__ = ["orders_page"]

_MOST = 8


def orders_page(request: Request, sent: Any) -> Response:
    """The audit of one place; without one, the places that can be audited."""
    del sent
    name = request.path_params["name"]
    at = request.query_params.get("at", "")
    with edition_for(request) as opened:
        edition = opened.edition
        if not at.strip():
            places = [
                (known, place.line.san() if place.line else place.position.fen)
                for known, place in edition.names.items()
            ]
            return page(
                "orders_choice.html.j2",
                **frame(request, "orders", "Orders"),
                places=places,
                link=lambda one: address(name, "orders", at=one),
            )
        place = resolve_place(edition, at)
        node = opened.node(place)
        ground = audit_ground(
            opened.traffic,
            opened.said,
            roots=edition.roots,
            names=edition.names,
            sigla=opened.sigla,
            bands=edition.settings.bands,
        )
        audited = audit(ground, node, sides_of(edition))
        report = orders_report(edition.title, audited, limit=_MOST)
        called = name_of(edition, place)
    return page(
        "orders.html.j2",
        **frame(request, "orders", called or "Orders"),
        report=report,
        called=called,
        at=at,
        position=address(name, "position", at=at),
        position_at=lambda line: address(name, "position", at=line),
    )
