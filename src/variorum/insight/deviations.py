"""Where a side's opponent can leave the orders to a target, and what the side itself could play instead."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from variorum.board import Move, MoveError, Position, Side, Verdict
from variorum.graph import TEXT_KIND, Graph
from variorum.insight.passage import Passage

__all__ = ["Exit", "exits_of"]


@dataclass(frozen=True)
class Exit:
    """A move that leaves the orders: from which station, the move packed and as SAN, the node it leads to if it is on the graph.

    `games` counts it by kind of source; `written` tells whether a text has it, `answered` whether a text goes on behind it.
    """

    station: int
    packed: int
    move: Move
    san: str
    child: int | None
    after: Position
    games: dict[str, int]
    written: bool
    answered: bool

    @property
    def plain(self) -> str:
        """The move without check signs: unit and destination."""
        return self.san.rstrip("+#")


def exits_of(passage: Passage, side: Side, verdicts: Mapping[str, Mapping[int, Verdict]]) -> list[Exit]:
    """Every known move of a side that leaves the orders, from graph, games and verdicts; by station and move.

    Args:
        passage: The orders.
        side: Whose moves.
        verdicts: Verdicts by voice and node.
    """
    graph = passage.traffic.graph
    written_after = _written_after(graph)
    found: list[Exit] = []
    for station in range(passage.size):
        node = int(passage.nodes[station])
        if station == passage.target or bool(graph.white[node]) != (side is Side.WHITE):
            continue
        position = graph.position(node)
        for packed, child in sorted(_moves(passage, node, position, verdicts).items()):
            move = position.unpack(np.array([packed], np.uint16))[0]
            counts = _counts(graph, node, packed, child)
            found.append(
                Exit(
                    station=station,
                    packed=packed,
                    move=move,
                    san=position.san(move),
                    child=None if child is None else int(graph.targets[child]),
                    after=position.play(move),
                    games={kind: games for kind, games in counts.items() if kind != TEXT_KIND},
                    written=TEXT_KIND in counts,
                    answered=child is not None and bool(written_after[graph.targets[child]]),
                )
            )
    return found


def _moves(
    passage: Passage, node: int, position: Position, verdicts: Mapping[str, Mapping[int, Verdict]]
) -> dict[int, int | None]:
    """Moves out, packed, each with its edge where the graph has it."""
    graph = passage.traffic.graph
    moves: dict[int, int | None] = {}
    staying = set()
    for edge in graph.edges_of(node):
        packed = int(graph.moves[edge])
        if passage.station_of(int(graph.targets[edge])) is None:
            moves[packed] = edge
        else:
            staying.add(packed)
    others = [int(packed) for packed in graph.off_moves[_off_rows(graph, node)]]
    others += [packed for by_node in verdicts.values() for packed in _voiced(position, by_node.get(node))]
    for packed in others:
        if packed not in staying:
            moves.setdefault(packed, None)
    return moves


def _voiced(position: Position, verdict: Verdict | None) -> Iterator[int]:
    """First moves of a verdict's lines, packed."""
    for line in verdict.lines if verdict is not None else ():
        try:
            yield int(position.pack([Move.from_uci(line.moves[0])])[0])
        except (MoveError, IndexError):
            continue


def _off_rows(graph: Graph, node: int) -> slice:
    low, high = np.searchsorted(graph.off_counts.places, [node, node + 1])
    return slice(int(low), int(high))


def _counts(graph: Graph, node: int, packed: int, edge: int | None) -> dict[str, int]:
    """Games and texts with a move, by kind."""
    counts: dict[str, int] = {}
    if edge is not None:
        rows = [(channel, sum(games)) for channel, games in graph.edge_counts.at(edge)]
    else:
        off = _off_rows(graph, node)
        chosen = graph.off_moves[off] == packed
        channels = graph.off_counts.channels[off][chosen].tolist()
        rows = list(zip(channels, graph.off_counts.games[off][chosen].sum(axis=1).tolist(), strict=True))
    for channel, games in rows:
        kind = graph.channels[channel].kind
        counts[kind] = counts.get(kind, 0) + games
    return counts


def _written_after(graph: Graph) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Nodes after which a text goes on."""
    written = graph.edge_counts.totals(graph.edges, graph.channels_of(TEXT_KIND)) > 0
    return np.bincount(graph.sources[written], minlength=graph.nodes) > 0
