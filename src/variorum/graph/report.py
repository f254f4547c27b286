"""The map of an edition as values to print: roots, tabiyas, confluences with their orders, heaviest lines, values."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from variorum.board import DEFAULT_BANDS, Bands, Line, Position, sign_of
from variorum.edition import Place
from variorum.graph.flow import Traffic
from variorum.graph.graph import TEXT_KIND, Graph
from variorum.graph.values import Basis, Certainty, NodeValue, VoiceValues, median_value

__all__ = ["Confluence", "HeavyLine", "MapOrder", "MapReport", "MapValue", "PlaceOnMap", "map_report"]


class MapValue(msgspec.Struct, frozen=True, kw_only=True):
    """What one voice thinks of a position: E for White, `at_least`/`at_most` where only a bound is known.

    `nodes` and `depth` are the effort of the deciding leaf's verdict; `leaf` is the line to it from the position.
    `basis` is verdict, rules or repetition.
    """

    voice: str
    expected: float
    certainty: str
    basis: str
    nodes: int
    depth: int
    leaf: str
    sign: str
    words: str


class PlaceOnMap(msgspec.Struct, frozen=True, kw_only=True):
    """A root or tabiya: its line, games through it by kind, its share of the traffic in percent, its values."""

    name: str
    line: str
    fen: str
    on_graph: bool
    games: dict[str, int]
    flow: float
    orders: int
    values: tuple[MapValue, ...]
    median: tuple[float, float, float] | None = None
    """Median, least and greatest over the voices, where there are two or more with a value."""


class MapOrder(msgspec.Struct, frozen=True, kw_only=True):
    """One order to a confluence, with the root it starts from where orders have different ones.

    `walked` tells whether each of its moves was played or written; else only the rules allow one.
    """

    moves: str
    root: str | None
    walked: bool


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


class HeavyLine(msgspec.Struct, frozen=True, kw_only=True):
    """A line that much traffic takes, and its last position.

    `flow` is its traffic in percent where it begins or branches off, `end_flow` what comes to its last move.
    `joins` is the number of the earlier line that it runs into, from 1; `values` are those of its last position.
    """

    line: str
    flow: float
    end_flow: float
    joins: int | None
    ends: str
    values: tuple[MapValue, ...]


class MapReport(msgspec.Struct, frozen=True, kw_only=True):
    """The map of an edition."""

    title: str
    positions: int
    moves: int
    confluence_count: int
    games: dict[str, int]
    min_games: int
    mix: str
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
    roots: Sequence[Place],
    names: Mapping[str, Place],
    bands: Bands = DEFAULT_BANDS,
    confluences: int = 12,
    lines: int = 10,
    orders: int = 6,
) -> MapReport:
    """Describe a graph; `confluences`, `lines` and `orders` limit how many of each are listed."""
    teller = _Teller(graph, traffic, values, roots, names, bands)
    bounds = sum(int((voice.certainty == Certainty.BOUND).sum()) for voice in values.values())
    return MapReport(
        title=title,
        positions=graph.nodes,
        moves=graph.edges,
        confluence_count=len(graph.confluences()),
        games=_by_kind(graph, [teller.games(int(root)) for root in np.unique(graph.roots)]),
        min_games=graph.min_games,
        mix=traffic.mix.words,
        roots=tuple(teller.place(root.name or root.text, root) for root in roots),
        names=tuple(teller.place(name, place) for name, place in names.items()),
        confluences=tuple(
            teller.confluence(node, orders) for node in teller.heaviest_confluences(confluences)
        ),
        lines=tuple(teller.heavy_lines(lines)),
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
class _Teller:
    graph: Graph
    traffic: Traffic
    by_voice: Mapping[str, VoiceValues]
    roots: Sequence[Place]
    names: Mapping[str, Place]
    bands: Bands

    def games(self, node: int) -> dict[str, int]:
        """Games through a node by kind, texts left out."""
        found: dict[str, int] = {}
        for channel, games in self.graph.node_counts.at(node):
            kind = self.graph.channels[channel].kind
            if kind != TEXT_KIND:
                found[kind] = found.get(kind, 0) + sum(games)
        return found

    def place(self, name: str, place: Place) -> PlaceOnMap:
        node = self.graph.node_of(place.position)
        line = place.line.san() if place.line else place.position.fen
        known = [] if node is None else [voice.at(self.graph, node) for voice in self.by_voice.values()]
        sure = [value for value in known if value.certainty is Certainty.VALUE]
        return PlaceOnMap(
            name=name,
            line=line,
            fen=place.position.fen,
            on_graph=node is not None,
            games={} if node is None else self.games(node),
            flow=0.0 if node is None else 100.0 * float(self.traffic.nodes[node]),
            orders=0 if node is None else len(self.graph.parents(node)),
            values=() if node is None else self.values(node),
            median=median_value(sure) if len(sure) > 1 else None,
        )

    def values(self, node: int) -> tuple[MapValue, ...]:
        """What each voice that knows something thinks."""
        return tuple(
            value
            for name, voice in self.by_voice.items()
            if (value := self.value(name, voice, node)) is not None
        )

    def value(self, name: str, voice: VoiceValues, node: int) -> MapValue | None:
        found = voice.at(self.graph, node)
        if found.score is None:
            return None
        if found.certainty is Certainty.VALUE:
            certainty = "value"
        else:
            certainty = "at least" if self.graph.white[node] else "at most"
        sign = sign_of(found.score, self.bands)
        return MapValue(
            voice=name,
            expected=found.score,
            certainty=certainty,
            basis=found.basis.name.lower(),
            nodes=found.nodes,
            depth=found.depth,
            leaf=self.leaf_line(voice, node, found),
            sign=sign.glyph,
            words=sign.words,
        )

    def leaf_line(self, voice: VoiceValues, node: int, found: NodeValue) -> str:
        """The moves from a node to the move of its deciding leaf's verdict."""
        start = position = self.standing(node)
        moves = []
        while found.via is not None and found.basis is not Basis.REPETITION:
            moves.append(found.via)
            after = position.play(found.via)
            child = self.graph.node_of(after)
            if found.leaf == node or child is None:
                break
            node, position, found = child, after, voice.at(self.graph, child)
        return Line(start, tuple(moves)).san()

    def way(self, node: int) -> Line:
        """The line by which the author, or else the heaviest traffic, comes to a node."""
        for place in (*self.names.values(), *self.roots):
            if place.line is not None and self.graph.node_of(place.position) == node:
                return place.line
        root, edges = self.traffic.way_to(node)
        line = self.root_line(root)
        return Line(line.start, (*line.moves, *map(self.graph.move, edges)))

    def root_line(self, node: int) -> Line:
        position = self.graph.position(node)
        place = next((root for root in self.roots if root.position == position), None)
        if place is None:
            return Line(position)
        return place.line if place.line is not None else Line(place.position)

    def standing(self, node: int) -> Position:
        """The position of a node with the move number that its line gives it."""
        return self.way(node).end

    def name_of(self, node: int) -> str | None:
        position = self.graph.position(node)
        return next((name for name, place in self.names.items() if place.position == position), None)

    def heaviest_confluences(self, limit: int) -> list[int]:
        """Confluences by the traffic that arrives otherwise than by the heaviest move, then by flow and number."""
        graph, traffic = self.graph, self.traffic
        arriving = np.where(traffic.returns, 0.0, traffic.edges)
        heaviest = np.zeros(graph.nodes)
        np.maximum.at(heaviest, graph.targets, arriving)
        nodes = [node for node in graph.confluences().tolist() if self._parts(node)]
        merging = np.bincount(graph.targets, weights=arriving, minlength=graph.nodes) - heaviest
        nodes.sort(key=lambda node: (-round(float(merging[node]), 9), -float(traffic.nodes[node]), node))
        return nodes[:limit]

    def _parts(self, node: int) -> bool:
        """Whether two moves at least lead to a node that were played or written and do not return."""
        walked = [a.edge for a in self.graph.parents(node) if self.graph.edge_counts.at(a.edge)]
        return sum(not self.traffic.returns[edge] for edge in walked) >= 2

    def confluence(self, node: int, limit: int) -> Confluence:
        arriving = [
            0.0 if self.traffic.returns[a.edge] else float(self.traffic.edges[a.edge])
            for a in self.graph.parents(node)
        ]
        found = self.traffic.orders_to(node, limit)
        return Confluence(
            name=self.name_of(node),
            line=self.way(node).san(),
            fen=self.standing(node).fen,
            flow=100.0 * float(self.traffic.nodes[node]),
            merging=100.0 * (sum(arriving) - max(arriving)),
            games=self.games(node),
            since=None if found.since is None else self.way(found.since).san(),
            order_count=found.count,
            orders=tuple(
                self.order(found.since, start, edges)
                for start, edges in zip(found.starts, found.orders, strict=True)
            ),
            values=self.values(node),
        )

    def order(self, since: int | None, start: int, edges: Sequence[int]) -> MapOrder:
        line = self.root_line(start) if since is None else self.way(since)
        begin = line.end
        moves = tuple(self.graph.move(edge) for edge in edges)
        root = None
        if since is None:
            position = self.graph.position(start)
            root = next(
                (place.name or place.text for place in self.roots if place.position == position), None
            )
        return MapOrder(
            moves=Line(begin, moves).san(),
            root=root,
            walked=all(self.graph.edge_counts.at(edge) for edge in edges),
        )

    def heavy_lines(self, limit: int) -> list[HeavyLine]:
        """The heaviest line, then again and again the heaviest branch that no line has taken, each until it ends or joins.

        A line stops where less than a tenth of what began it goes on.
        """
        graph, traffic = self.graph, self.traffic
        waiting: list[tuple[float, int, Line, int]] = []
        for root in np.unique(graph.roots).tolist():
            heapq.heappush(waiting, (-float(traffic.nodes[root]), root, self.root_line(root), root))
        covered: dict[int, int] = {}
        found: list[HeavyLine] = []
        while waiting and len(found) < limit:
            weight, _, line, node = heapq.heappop(waiting)
            if weight == 0.0:
                break
            number = len(found) + 1
            moves = list(line.moves)
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
                    flow=-100.0 * weight,
                    end_flow=-100.0 * carried,
                    joins=joins,
                    ends=whole.end.fen,
                    values=self.values(node),
                )
            )
        return found
