"""The position page: one opening of the book. The board, the line, what voices and games say, the author's own words."""

from __future__ import annotations

from typing import Any

import msgspec
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from variorum.base import InputError
from variorum.board import Line, Position, Side
from variorum.build.opened import OpenEdition
from variorum.build.position import position_report
from variorum.desk.moves import address, line_steps, name_of, place_address, printed, spelled
from variorum.desk.pages.frame import editions_of, frame
from variorum.desk.render import page
from variorum.edition import Place, resolve_place
from variorum.graph import MapValue
from variorum.insight.near import find_near
from variorum.insight.near_report import near_report
from variorum.store import Filter

__all__ = ["near_part", "play", "position_page"]

_NEAR = 6
_ORDERS = 6


class Onward(msgspec.Struct, frozen=True, kw_only=True):
    """A move from the position: where it leads, games, White's score of them, what the first voice thinks behind it."""

    text: str
    href: str
    games: int
    score: str
    value: MapValue | None
    written: bool


def position_page(request: Request, sent: Any) -> Response:
    """Everything that is known of one position."""
    del sent
    name = request.path_params["name"]
    with editions_of(request).reading(name) as opened:
        place = _place(opened, request.query_params.get("at", ""))
        report, diagnostics = position_report(opened, place, Filter(), orders=_ORDERS, near=0)
        line = place.line or Line(place.position)
        called = name_of(opened.edition, place)
        onward = _onward(opened, name, line, report.games)
        claims = _claims(report)
        voices = ["resident", *sorted(opened.user.voices)]
    back = place_address(name, Line(line.start, line.moves[:-1])) if line.moves else ""
    return page(
        "position.html.j2",
        **frame(request, "position", called or "Position"),
        called=called,
        report=report,
        at=spelled(line),
        steps=line_steps(name, line),
        back=back,
        onward=onward,
        mover=place.position.turn.value.capitalize(),
        number=_number(place.position),
        claims=claims,
        voices=voices,
        ask_at=address(name, "ask"),
        faults=len(diagnostics),
        words_part=address(name, "words", at=spelled(line)),
        near_part=address(name, "near", at=spelled(line)),
        orders_page=address(name, "orders", at=called or spelled(line)),
        legal=" ".join(move.uci for move in place.position.legal_moves()),
        play_at=address(name, "play", at=spelled(line)),
    )


def _place(opened: OpenEdition, text: str) -> Place:
    if text.strip():
        return resolve_place(opened.edition, text)
    return opened.edition.roots[0]


def _number(position: Position) -> str:
    """What stands before the next move: `11.` or `10…`."""
    return f"{position.fullmove}." if position.turn.value == "white" else f"{position.fullmove}…"


def _onward(opened: OpenEdition, name: str, line: Line, games: Any) -> list[Onward]:
    position = line.end
    played = {} if games is None else {entry.move: entry.results for entry in games.moves}
    node = opened.graph.node_of(position)
    on_map: dict[str, int] = {}
    if node is not None:
        for edge in opened.graph.edges_of(node):
            if opened.traffic.edges[edge] > 0 or opened.graph.edge_counts.at(edge):
                on_map[opened.graph.move(edge).uci] = int(opened.graph.targets[edge])
    rows = []
    for move in position.legal_moves():
        one = Line(position, (move,)).san()
        results = played.get(one)
        target = on_map.get(move.uci)
        if results is None and target is None:
            continue
        values = () if target is None else opened.tell.values(target)
        score = ""
        if results is not None and results.score is not None:
            score = f"{results.score:.0f} ({results.low:.0f}–{results.high:.0f})"
        rows.append(
            Onward(
                text=printed(one),
                href=place_address(name, line.play(move)),
                games=0 if results is None else results.games,
                score=score,
                value=values[0] if values else None,
                written=target is not None,
            )
        )

    sign = 1.0 if position.turn is Side.WHITE else -1.0

    def weight(row: Onward) -> tuple[int, float]:
        return -row.games, -sign * row.value.expected if row.value else 100.0

    return sorted(rows, key=weight)


def _claims(report: Any) -> list[Any]:
    return [mention for mention in report.mentions if mention.what == "claim"]


def near_part(request: Request, sent: Any) -> Response:
    """Near positions and reversed twins: a part of the position page that comes after it."""
    del sent
    name = request.path_params["name"]
    with editions_of(request).reading(name) as opened:
        place = _place(opened, request.query_params.get("at", ""))
        node = opened.graph.node_of(place.position)
        report = None
        if node is not None:
            found = find_near(opened.graph, opened.traffic, opened.values, node=node, limit=_NEAR)
            report = near_report(opened.edition.title, opened.tell, found, node)
    pairs = [] if report is None else [group.pairs[0] for group in report.groups]
    links = [address(name, "position", at=pair.second.line or pair.second.fen) for pair in pairs]
    return page("near.html.j2", pairs=list(zip(pairs, links, strict=True)))


def play(request: Request, sent: Any) -> Response:
    """Where a move leads that was typed or made on the board; the reader is sent there."""
    del sent
    name = request.path_params["name"]
    with editions_of(request).reading(name) as opened:
        place = _place(opened, request.query_params.get("at", ""))
    typed = request.query_params.get("move", "")
    if not typed.strip():
        raise InputError("no move was given", remedy="type one in letters, for example Bg5")
    line = place.line or Line(place.position)
    move = place.position.parse(typed)
    return JSONResponse({"go": place_address(name, line.play(move))})
