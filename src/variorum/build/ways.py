"""A position in words, by the lines of the edition: its name, the heaviest line that leads there, a move after a name, or its FEN."""

from __future__ import annotations

from functools import cached_property

from variorum.board import Line, Position
from variorum.edition import Edition
from variorum.graph import Graph, Traffic

__all__ = ["Ways"]


class Ways:
    """Lines to positions, as an edition and its traffic have them."""

    def __init__(self, edition: Edition, graph: Graph, traffic: Traffic) -> None:
        self._edition, self._graph, self._traffic = edition, graph, traffic

    def line_to(self, position: Position) -> str:
        """A position in words: the edition's name for it, the heaviest line that leads there, a move after a name, or its FEN."""
        places = self._edition.places
        name = next((name for name, place in places.items() if place.position == position), None)
        if name is not None:
            return name
        node = self._graph.node_of(position)
        if node is None:
            return self._after_names.get(position) or position.fen
        return self._way(node).san() or position.fen

    def standing(self, position: Position) -> Position:
        """A position with the move number that its name's line, or else the heaviest line to it, gives it."""
        places = self._edition.places.values()
        named = next((one.position for one in places if one.position == position), None)
        node = self._graph.node_of(position)
        return named or (position if node is None else self._way(node).end)

    def flow(self, position: Position) -> float:
        """Percent of the traffic that passes a position."""
        node = self._graph.node_of(position)
        return 0.0 if node is None else 100.0 * float(self._traffic.nodes[node])

    def _way(self, node: int) -> Line:
        root, edges = self._traffic.way_to(node)
        start = self._graph.position(root)
        known = next((place.line for place in self._edition.roots if place.position == start), None)
        line = known or Line(start)
        for edge in edges:
            line = line.play(self._graph.move(edge))
        return line

    @cached_property
    def _after_names(self) -> dict[Position, str]:
        """What is one move after a named place, by the name and the move."""
        found: dict[Position, str] = {}
        for name, place in self._edition.places.items():
            for move in place.position.legal_moves():
                found.setdefault(place.position.play(move), f"{name} {Line(place.position, (move,)).san()}")
        return found
