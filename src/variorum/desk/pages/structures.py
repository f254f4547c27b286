"""The structures page: into which pawn structures the lines go, and by which breaks."""

from __future__ import annotations

import re
from itertools import groupby
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from variorum.build.structures import edition_structures
from variorum.desk.moves import address
from variorum.desk.pages.frame import edition_for, frame
from variorum.desk.render import page
from variorum.edition import resolve_place

__all__ = ["structures_page"]

_STEPS, _LEAVES, _DRAWN = 30, 40, 6


def structures_page(request: Request, sent: Any) -> Response:
    """The flow between structures from the roots, or from one place."""
    del sent
    at = request.query_params.get("at", "").strip()
    with edition_for(request) as opened:
        place = resolve_place(opened.edition, at) if at else None
        report, _ = edition_structures(opened, place, steps=_STEPS, leaves=_LEAVES)
        places = list(opened.edition.places)
    by_start: dict[str, list[Any]] = {}
    for step in report.steps:
        by_start.setdefault(step.before, []).append(step)
    leaves = sorted(report.leaves, key=lambda leaf: leaf.structure)
    return page(
        "structures.html.j2",
        **frame(request, "structures", "Structures"),
        report=report,
        drawn=[one for one in report.structures if one.name][:_DRAWN],
        pawns=_pawns,
        at=at,
        places=places,
        steps=by_start,
        leaves=[(name, list(some)) for name, some in groupby(leaves, key=lambda leaf: leaf.structure)],
        link=lambda line: address(request.path_params["name"], "position", at=line),
    )


def _pawns(fen: str) -> str:
    """The pawns of a position alone."""
    rows = re.sub(r"[KQRBNkqrbn]", "1", fen.split()[0])
    return re.sub(r"[1-8]{2,}", lambda empty: str(sum(map(int, empty[0]))), rows)
