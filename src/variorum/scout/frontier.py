"""A first skeleton of a system that nobody has looked at: which position to ask next, best first (docs/methods.md 16)."""

from __future__ import annotations

import heapq
from collections.abc import Iterable

import msgspec

from variorum.board import Line, Move, Position, Side, Verdict
from variorum.graph.graph import Graph
from variorum.graph.grow import grow_graph
from variorum.graph.values import Certainty, VoiceValues, back_up_values

__all__ = ["BEYOND", "Frontier", "Skeleton", "SkeletonLine", "Width"]

BEYOND = 6
"""So many plies beyond the horizon a line is followed until it is quiet."""


class Width(msgspec.Struct, frozen=True, kw_only=True):
    """How broad and how deep: moves that concede at most `margin` points of E, to `plies` from the start."""

    margin: float = 5.0
    plies: int = 16


class SkeletonLine(msgspec.Struct, frozen=True, kw_only=True):
    """A line of the skeleton to a position that was asked: what its moves concede together, and E for White at its end."""

    line: str
    conceded: float
    expected: float


class Skeleton(msgspec.Struct, frozen=True, kw_only=True):
    """What is known from a position on: its value and main line, and the lines of least concession that lie beside it."""

    expected: float | None
    positions: int
    waiting: int
    lines: tuple[SkeletonLine, ...]


class _Reached(msgspec.Struct, frozen=True, order=True):
    """How a position is reached: what the moves concede, how many there are, the moves; the least comes first."""

    conceded: float
    plies: int
    moves: tuple[Move, ...]


class Frontier:
    """Grows a skeleton from one position by one voice.

    Best-first minimax (Korf and Chickering, Artificial Intelligence 84, 1996) asks the leaf at the end of the main line by
    values backed up so far. Here that leaf comes first, because its line concedes nothing; then the leaves whose lines
    concede least. Positions are nodes of a graph: whatever order reaches one, it is asked once, and repetitions are
    drawn (methods.md 3). The same verdicts give the same questions.

    Args:
        start: Where the skeleton grows from.
        width: How broad and how deep it grows.
        known: Verdicts of the voice that are there already; those that the skeleton meets are used, not asked again.
    """

    def __init__(self, start: Position, width: Width, known: Iterable[Verdict] = ()) -> None:
        self._start = start
        self._width = width
        self._known: dict[str, Verdict] = {}
        self._taken: dict[Position, Verdict] = {}
        for verdict in known:
            best = self._known.get(verdict.epd)
            if verdict.lines and (best is None or verdict.effort > best.effort):
                self._known[verdict.epd] = verdict

    def learn(self, verdict: Verdict) -> None:
        """Take in the answer to a question."""
        self._known[verdict.epd] = verdict

    def next(self, count: int) -> tuple[Position, ...]:
        """The positions to ask next, `count` at most, the most wanted first; none when nothing is left within the width."""
        while True:
            leaves = self._leaves(self._reached())
            met = [position for position in leaves[:count] if position.epd in self._known]
            if not met:
                return tuple(leaves[:count])
            for position in met:
                self._taken[position] = self._known[position.epd]

    def skeleton(self, most: int = 12) -> Skeleton:
        """What is known now: the lines of least concession to positions that were asked and lead no further."""
        reached = self._reached()
        waiting = len(self._leaves(reached))
        if not self._taken:
            return Skeleton(expected=None, positions=0, waiting=waiting, lines=())
        graph, values = self._grown()
        continued = {way.moves[:-1] for position, way in reached.items() if position in self._taken}
        ends = [
            (way, position)
            for position, way in reached.items()
            if position in self._taken and way.moves not in continued
        ]
        ends.sort(key=lambda end: (end[0].conceded, -end[0].plies, end[1].key))
        return Skeleton(
            expected=self._value(graph, values, self._start),
            positions=len(self._taken),
            waiting=waiting,
            lines=tuple(
                SkeletonLine(
                    line=Line(self._start, way.moves).san(),
                    conceded=way.conceded,
                    expected=self._value(graph, values, position),
                )
                for way, position in ends[:most]
            ),
        )

    def _grown(self) -> tuple[Graph, VoiceValues]:
        graph = grow_graph([self._start], verdicts=list(self._taken))
        (values,) = back_up_values(graph, self._taken.values()).values()
        return graph, values

    def _reached(self) -> dict[Position, _Reached]:
        """Every position within the width, asked or not, by its way of least concession."""
        if not self._taken:
            return {self._start: _Reached(0.0, 0, ())}
        graph, values = self._grown()
        done: dict[Position, _Reached] = {}
        queue: list[tuple[_Reached, Position]] = [(_Reached(0.0, 0, ()), self._start)]
        while queue:
            way, position = heapq.heappop(queue)
            if position in done:
                continue
            done[position] = way
            verdict = self._taken.get(position)
            if verdict is None:
                continue
            best = self._value(graph, values, position)
            for move in dict.fromkeys(Move(line.moves[0]) for line in verdict.lines):
                child = position.play(move)
                conceded = self._conceded(graph, values, position, verdict, move, child, best)
                if child not in done and conceded <= self._width.margin:
                    on = _Reached(way.conceded + conceded, way.plies + 1, (*way.moves, move))
                    heapq.heappush(queue, (on, child))
        return done

    def _leaves(self, reached: dict[Position, _Reached]) -> list[Position]:
        """Positions within the width that nobody was asked about, the most wanted first."""
        waiting = [
            (way, position)
            for position, way in reached.items()
            if position not in self._taken and position.outcome is None and self._goes_on(position, way)
        ]
        return [position for _, position in sorted(waiting, key=lambda leaf: leaf[0])]

    def _goes_on(self, position: Position, way: _Reached) -> bool:
        """Within the horizon always; a little beyond it only while captures or a check are in the air."""
        if way.plies <= self._width.plies:
            return True
        if way.plies > self._width.plies + BEYOND:
            return False
        parent = Line(self._start, way.moves[:-1]).end
        return position.is_check or _is_capture(parent, way.moves[-1])

    def _conceded(
        self,
        graph: Graph,
        values: VoiceValues,
        position: Position,
        verdict: Verdict,
        move: Move,
        child: Position,
        best: float,
    ) -> float:
        """What a move gives away against the best of its position, in points of the mover, floor 0 (methods.md 10)."""
        node = graph.node_of(child)
        if node is not None and values.certainty[node] == Certainty.VALUE:
            value = float(values.scores[node])
        else:
            value = next(line.score.expected() for line in verdict.lines if line.moves[0] == move.uci)
        return max(0.0, best - value if position.turn is Side.WHITE else value - best)

    def _value(self, graph: Graph, values: VoiceValues, position: Position) -> float:
        node = graph.node_of(position)
        assert node is not None, "a position that was asked is on the graph"
        return float(values.scores[node])


def _is_capture(position: Position, move: Move) -> bool:
    """Whether a move takes something or promotes: the number of units or their kinds change."""
    units = position.pieces()
    after = position.play(move).pieces()
    return sorted(units.values()) != sorted(after.values())
