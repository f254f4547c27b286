"""The map page: where the lines of an edition lead and where they meet."""

from __future__ import annotations

from typing import Any, Final

import msgspec
from starlette.requests import Request
from starlette.responses import Response

from variorum.board import Position
from variorum.build.opened import OpenEdition
from variorum.desk.layout import lay_out
from variorum.desk.moves import address, printed
from variorum.desk.pages.frame import editions_of, frame
from variorum.desk.render import page
from variorum.graph import MapReport, map_report
from variorum.graph.chart import Chart, chart

__all__ = ["map_page"]

_LETTERS: Final = "KLMNOPQSTUVWXYZABCDEFHIJ"
"""Marks of the places on the sheet, in this order; G and R would be read as games and the resident."""
_PLACES: Final = 20


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
        faults = len(opened.diagnostics)
        drawn = _chart(opened, report)

    def position(at: str) -> str:
        return address(name, "position", at=at)

    sheet = _sheet(name, drawn, {*report.sigla.values()})
    return page(
        "map.html.j2",
        **frame(request, "map", edition.title),
        report=report,
        position=position,
        orders=lambda at: address(name, "orders", at=at),
        faults=faults,
        sheet=sheet,
        work=address(name, "begin"),
    )


def _chart(opened: OpenEdition, report: MapReport) -> Chart:
    """The tabiyas and the confluences of the report drawn together."""
    fens = [*(place.fen for place in report.names), *(place.fen for place in report.confluences)][:_PLACES]
    nodes = (opened.graph.node_of(Position.from_fen(fen)) for fen in fens)
    return chart(opened.tell, [node for node in nodes if node is not None])


class Drawn(msgspec.Struct, frozen=True, kw_only=True):
    """What `map.js` draws, as JSON, and in words: how much traffic a line stands for, marks with names or lines."""

    data: str
    unit: float
    marks: tuple[tuple[str, str, str], ...]


def _sheet(name: str, drawn: Chart, sigla: set[str]) -> Drawn | None:
    """The chart laid out; `None` where there is nothing to draw."""
    if not drawn.flows:
        return None
    moves = [printed(flow.moves) for flow in drawn.flows]
    sheet = lay_out(drawn, moves)
    letters = iter([letter for letter in _LETTERS if letter not in sigla])
    marks = {
        place.number: next(letters, "") for place in drawn.places if place.kind in ("name", "confluence")
    }
    places = []
    for place, at in zip(drawn.places, sheet.places, strict=True):
        value = place.values[0] if place.values else None
        score = "" if value is None else f"{value.expected:.1f}"
        mark = marks.get(place.number, "")
        games = f"{place.games:,} {'game' if place.games == 1 else 'games'}"
        said = place.name or printed(place.line)
        label = ", ".join(filter(None, [mark, said, score and f"expected score {score}", games]))
        places.append(
            {
                **msgspec.structs.asdict(at),
                "kind": place.kind,
                "name": place.name or "root",
                "sig": mark,
                "score": score,
                "pm": "" if value is None or value.noise is None else f"{value.noise:.1f}",
                "games": games,
                "href": address(name, "position", at=place.line),
                "label": label,
            }
        )
    flows = [
        {
            **msgspec.structs.asdict(laid),
            "label": f"{flow.flow:.1f} % of the traffic"
            + (f", {flow.more} more orders" if flow.more else ""),
        }
        for flow, laid in zip(drawn.flows, sheet.flows, strict=True)
    ]
    data = {"width": sheet.width, "height": sheet.height, "places": places, "flows": flows}
    return Drawn(
        data=msgspec.json.encode(data).decode(),
        unit=sheet.unit,
        marks=tuple(
            (marks[place.number], place.name or printed(place.line), address(name, "position", at=place.line))
            for place in drawn.places
            if marks.get(place.number)
        ),
    )
