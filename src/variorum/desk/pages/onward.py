"""The moves from a position, as the position page lists them: from games and texts at once, with what lies behind them once the graph is there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from variorum.board import Line, Position, Side
from variorum.build.opened import OpenEdition
from variorum.desk.moves import address, printed, spelled
from variorum.edition.manuscript_find import nodes_on
from variorum.graph import MapValue

if TYPE_CHECKING:
    from variorum.graph.position_games import MoveEntry

__all__ = ["Onward", "onward_at_hand", "onward_with_values", "written_at"]


class Onward(msgspec.Struct, frozen=True, kw_only=True):
    """A move from the position: where it leads, games, White's score of them, what the first voice thinks behind it."""

    text: str
    href: str
    games: int
    score: str
    value: MapValue | None


def onward_at_hand(opened: OpenEdition, name: str, line: Line, played: tuple[MoveEntry, ...]) -> list[Onward]:
    """The moves that games, the manuscript and the lines of names make here."""
    position = line.end
    return _rows(name, line, played, dict.fromkeys(written_at(opened, position)))


def onward_with_values(
    opened: OpenEdition, name: str, line: Line, played: tuple[MoveEntry, ...], written: set[str]
) -> list[Onward]:
    """The same from the graph, with the first voice's value behind each; `written` are moves that the author has by now."""
    graph, position = opened.graph, line.end
    node = graph.node_of(position)
    values: dict[str, MapValue | None] = dict.fromkeys(written)
    for edge in () if node is None else graph.edges_of(node):
        if opened.traffic.edges[edge] > 0 or graph.edge_counts.at(edge):
            told = opened.tell.values(int(graph.targets[edge]))
            values[graph.move(edge).uci] = told[0] if told else None
    return _rows(name, line, played, values)


def written_at(opened: OpenEdition, position: Position) -> set[str]:
    """The moves of the author here, in UCI."""
    found = set()
    if opened.manuscript is not None:
        for node in nodes_on(opened.manuscript, position):
            found |= {child.move.uci for child in node.children if child.move and not child.move.is_null}
    for place in (*opened.edition.roots, *opened.edition.names.values()):
        if place.line is not None:
            ways = zip(place.line.positions(), place.line.moves, strict=False)
            found |= {move.uci for before, move in ways if before == position}
    return found


def _rows(
    name: str, line: Line, played: tuple[MoveEntry, ...], others: dict[str, MapValue | None]
) -> list[Onward]:
    position = line.end
    games = {entry.move: entry.results for entry in played}
    here = spelled(line) if line.moves or line.start != Position.start() else ""
    rows = []
    for move in position.legal_moves():
        one = Line(position, (move,)).san()
        results = games.get(one)
        if results is None and move.uci not in others:
            continue
        score = ""
        if results is not None and results.score is not None:
            score = f"{results.score:.0f} ({results.low:.0f}–{results.high:.0f})"
        rows.append(
            Onward(
                text=printed(one),
                href=address(
                    name, "position", at=f"{here} {one.split('...')[-1] if line.moves else one}".strip()
                ),
                games=0 if results is None else results.games,
                score=score,
                value=others.get(move.uci),
            )
        )
    sign = 1.0 if position.turn is Side.WHITE else -1.0

    def weight(row: Onward) -> tuple[int, float]:
        return -row.games, -sign * row.value.expected if row.value else 100.0

    return sorted(rows, key=weight)
