"""The map of an edition as values to print: roots, tabiyas, confluences with their orders, heaviest lines, values."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from variorum.board import DEFAULT_BANDS, Bands, Line
from variorum.edition import Place
from variorum.graph.flow import Traffic
from variorum.graph.graph import Graph
from variorum.graph.landmarks import heaviest_confluences
from variorum.graph.telling import MapOrder, MapValue, Teller, ValueRange
from variorum.graph.values import Certainty, VoiceValues

__all__ = ["Confluence", "HeavyLine", "MapReport", "PlaceOnMap", "map_report"]


_SLIGHT, _AT_LEAST = 1.0, 6
"""Confluences where less than so many percent of the traffic come in by another move are counted only, but for the first."""


class PlaceOnMap(msgspec.Struct, frozen=True, kw_only=True):
    """A root or tabiya: games through it by kind, its share of the traffic in percent, how many moves lead to it."""

    name: str
    line: str
    fen: str
    on_graph: bool
    games: dict[str, int]
    flow: float
    parents: int
    values: tuple[MapValue, ...]
    range: ValueRange | None = None
    """Of the voices together, where two or more have a value."""


class Confluence(msgspec.Struct, frozen=True, kw_only=True):
    """A position that two or more moves lead to. `since` is the line to where its orders part, `None` at the roots.

    `merging` is the share of the traffic, in percent, that arrives by another move than the heaviest.
    """

    name: str | None
    line: str
    fen: str
    flow: float
    merging: float
    games: dict[str, int]
    since: str | None
    order_count: int
    orders: tuple[MapOrder, ...]
    values: tuple[MapValue, ...]
    range: ValueRange | None = None


class HeavyLine(msgspec.Struct, frozen=True, kw_only=True):
    """A line that much traffic takes, and its last position.

    `since` is the line to the root where it begins, or to where it branches off from an earlier one. `flow` is its traffic
    in percent there, `end_flow` what comes to its last move.
    `joins` is the number of the earlier line that it runs into, from 1; `values` are those of its last position.
    """

    line: str
    since: str
    flow: float
    end_flow: float
    joins: int | None
    ends: str
    values: tuple[MapValue, ...]
    range: ValueRange | None = None


class MapReport(msgspec.Struct, frozen=True, kw_only=True):
    """The map of an edition."""

    title: str
    positions: int
    moves: int
    confluence_count: int
    games: dict[str, int]
    min_games: int
    mix: str
    sigla: dict[str, str]
    """Each voice's mark."""
    roots: tuple[PlaceOnMap, ...]
    names: tuple[PlaceOnMap, ...]
    confluences: tuple[Confluence, ...]
    lines: tuple[HeavyLine, ...]
    bounds: int
    """Positions with only a one-sided bound, over all voices."""
    unreached_games: int
    unreached_verdicts: int


def map_report(
    title: str,
    graph: Graph,
    traffic: Traffic,
    values: Mapping[str, VoiceValues],
    *,
    sigla: Mapping[str, str],
    roots: Sequence[Place],
    names: Mapping[str, Place],
    bands: Bands = DEFAULT_BANDS,
    confluences: int = 12,
    lines: int = 10,
    orders: int = 6,
) -> MapReport:
    """Describe a graph; `confluences`, `lines` and `orders` limit how many of each are listed."""
    mapper = _Mapper(Teller(graph, traffic, values, sigla, roots, names, bands))
    bounds = sum(int((voice.certainty == Certainty.BOUND).sum()) for voice in values.values())
    return MapReport(
        title=title,
        positions=graph.nodes,
        moves=graph.edges,
        confluence_count=len(graph.confluences()),
        games=_by_kind(graph, [mapper.tell.games(int(root)) for root in np.unique(graph.roots)]),
        min_games=graph.min_games,
        mix=traffic.words,
        sigla=dict(sigla),
        roots=tuple(mapper.place(root.name or root.text, root) for root in roots),
        names=tuple(mapper.place(name, place) for name, place in names.items()),
        confluences=tuple(
            found
            for rank, node in enumerate(heaviest_confluences(traffic)[:confluences].tolist())
            if (found := mapper.confluence(node, orders)).merging >= _SLIGHT or rank < _AT_LEAST
        ),
        lines=tuple(mapper.heavy_lines(lines)),
        bounds=bounds,
        unreached_games=graph.unreached[0],
        unreached_verdicts=graph.unreached[1],
    )


def _by_kind(graph: Graph, parts: Iterable[dict[str, int]]) -> dict[str, int]:
    found: dict[str, int] = {}
    for part in parts:
        for kind, number in part.items():
            found[kind] = found.get(kind, 0) + number
    return found


@dataclass(frozen=True)
class _Mapper:
    tell: Teller

    def place(self, name: str, place: Place) -> PlaceOnMap:
        node = self.tell.graph.node_of(place.position)
        line = place.line.san() if place.line else place.position.fen
        return PlaceOnMap(
            name=name,
            line=line,
            fen=place.position.fen,
            on_graph=node is not None,
            games={} if node is None else self.tell.games(node),
            flow=0.0 if node is None else 100.0 * float(self.tell.traffic.nodes[node]),
            parents=0 if node is None else len(self.tell.graph.parents(node)),
            values=() if node is None else self.tell.values(node),
            range=None if node is None else self.tell.value_range(node),
        )

    def confluence(self, node: int, limit: int) -> Confluence:
        arriving = [
            0.0 if self.tell.traffic.returns[a.edge] else float(self.tell.traffic.edges[a.edge])
            for a in self.tell.graph.parents(node)
        ]
        found = self.tell.traffic.orders_to(node, limit)
        return Confluence(
            name=self.tell.name_of(node),
            line=self.tell.way(node).san(),
            fen=self.tell.standing(node).fen,
            flow=100.0 * float(self.tell.traffic.nodes[node]),
            merging=100.0 * (sum(arriving) - max(arriving)),
            games=self.tell.games(node),
            since=None if found.since is None else self.tell.way(found.since).san(),
            order_count=found.count,
            orders=tuple(
                self.tell.order(found.since, start, edges)
                for start, edges in zip(found.starts, found.orders, strict=True)
            ),
            values=self.tell.values(node),
            range=self.tell.value_range(node),
        )

    def heavy_lines(self, limit: int) -> list[HeavyLine]:
        """The heaviest line, then again and again the heaviest branch that no line has taken, each until it ends or joins.

        A line stops where less than a tenth of what began it goes on.
        """
        graph, traffic = self.tell.graph, self.tell.traffic
        waiting: list[tuple[float, int, Line, int]] = []
        roots: list[int] = np.unique(graph.roots).tolist()
        for root in roots:
            heapq.heappush(waiting, (-float(traffic.nodes[root]), root, self.tell.root_line(root), root))
        covered: dict[int, int] = {}
        found: list[HeavyLine] = []
        while waiting and len(found) < limit:
            weight, _, line, node = heapq.heappop(waiting)
            if weight == 0.0:
                break
            number = len(found) + 1
            moves = list(line.moves)
            begins = line if node in roots else Line(line.start, line.moves[:-1])
            carried = weight
            joins = covered.get(node)
            while joins is None:
                covered[node] = number
                out = [
                    (-float(traffic.edges[edge]), edge)
                    for edge in graph.edges_of(node)
                    if traffic.edges[edge] > 0 and not traffic.returns[edge]
                ]
                out.sort()
                for share, edge in out[1:]:
                    branch = Line(line.start, (*moves, graph.move(edge)))
                    heapq.heappush(waiting, (share, edge + graph.nodes, branch, int(graph.targets[edge])))
                if not out or -out[0][0] < -weight / 10:
                    break
                carried = out[0][0]
                moves.append(graph.move(out[0][1]))
                node = int(graph.targets[out[0][1]])
                joins = covered.get(node)
            whole = Line(line.start, tuple(moves))
            found.append(
                HeavyLine(
                    line=whole.san(),
                    since=begins.san(),
                    flow=-100.0 * weight,
                    end_flow=-100.0 * carried,
                    joins=joins,
                    ends=whole.end.fen,
                    values=self.tell.values(node),
                    range=self.tell.value_range(node),
                )
            )
        return found
