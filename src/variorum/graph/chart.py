"""The graph drawn together: a few places, and how much traffic runs from one to the next by which moves."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import msgspec
import numpy as np

from variorum.board import Line
from variorum.graph.telling import MapValue, Teller

__all__ = ["Chart", "ChartFlow", "ChartPlace", "chart"]

_STEPS = 20_000
"""Stretches of a path that are followed in all: a bound for graphs in which very many paths run side by side."""
_NOTHING = 1e-9
"""A share of the traffic that is a rounding error."""
_WAY = 0.01
"""A move by which less of what comes to a place arrives makes it no confluence on the sheet."""
_END_MOVES = 3
"""Moves of a line that ends at no place of the chart, behind those that it shares with lines to places."""


class ChartPlace(msgspec.Struct, frozen=True, kw_only=True):
    """A place of the chart: `kind` is root, name, confluence, fork or end. `line` leads there, `flow` is in percent."""

    number: int
    key: str
    """The position's key in 16 hexadecimal digits; of an end that of the first position in which no line to a place passes any more."""
    kind: str
    name: str
    line: str
    flow: float
    games: int
    values: tuple[MapValue, ...]


class ChartFlow(msgspec.Struct, frozen=True, kw_only=True):
    """Traffic from one place to another that passes no third, in percent of all, and the heaviest moves between them."""

    start: int
    end: int
    flow: float
    moves: str
    more: int
    """Other orders between the two."""
    author: bool = False
    """Whether each of the moves is in the main text of the author."""


class Chart(msgspec.Struct, frozen=True, kw_only=True):
    """Places in the order of their depth, and flows."""

    places: tuple[ChartPlace, ...]
    flows: tuple[ChartFlow, ...]


@dataclass
class _Gathered:
    weight: float = 0.0
    heaviest: float = 0.0
    edges: tuple[int, ...] = ()
    paths: int = 0

    def add(self, weight: float, edges: tuple[int, ...]) -> None:
        self.weight += weight
        self.paths += 1
        if weight > self.heaviest:
            self.heaviest, self.edges = weight, edges


@dataclass
class _Drawn:
    tell: Teller
    least: float
    marked: frozenset[int]
    wanted: Collection[int]
    shares: list[float]
    """Traffic of each edge, 0 where a move returns."""
    thinnest: float
    """What is thinner is not followed."""
    between: dict[tuple[int, int], _Gathered] = field(default_factory=dict)
    ends: dict[tuple[int, int], _Gathered] = field(default_factory=dict)
    """By the place and the move with which a line leaves all lines to other places."""
    steps: int = 0

    def follow(self, start: int) -> None:
        """Follow what leaves a place until it comes to another, gets too thin or ends; the heaviest first."""
        traffic, graph = self.tell.traffic, self.tell.graph
        # Of each move, how much passes it from here, and how much of that comes to a place.
        passed: dict[int, float] = {}
        arrived: dict[int, float] = {}
        found: dict[int, _Gathered] = {}
        stack: list[tuple[float, int, tuple[int, ...]]] = [(float(traffic.nodes[start]), start, ())]
        while stack and self.steps < _STEPS:
            self.steps += 1
            weight, node, edges = stack.pop()
            for edge, carried in self._onward(weight, node):
                target = int(graph.targets[edge])
                if carried < self.thinnest or target == start:
                    continue
                way = (*edges, edge)
                passed[edge] = passed.get(edge, 0.0) + carried
                if target in self.marked:
                    found.setdefault(target, _Gathered()).add(carried, way)
                    for one in way:
                        arrived[one] = arrived.get(one, 0.0) + carried
                else:
                    stack.append((carried, target, way))
        kept = {end: one for end, one in found.items() if one.weight >= self.least or end in self.wanted}
        self.between |= {(start, end): one for end, one in kept.items()}
        self._leave(
            start, kept, {edge: 1.0 - arrived.get(edge, 0.0) / every for edge, every in passed.items()}
        )

    def _onward(self, weight: float, node: int) -> Iterator[tuple[int, float]]:
        """The moves by which so much of the traffic goes on from a node, and what each carries of it."""
        here = float(self.tell.traffic.nodes[node])
        for edge in self.tell.graph.edges_of(node) if here > 0.0 else ():
            if self.shares[edge] > 0.0:
                yield edge, weight * self.shares[edge] / here

    def _leave(self, start: int, kept: dict[int, _Gathered], lost: dict[int, float]) -> None:
        """What comes to no place: each line from the move on with which it leaves all that are drawn, so none is the beginning of another.

        Args:
            start: The place.
            kept: The lines to other places that are drawn.
            lost: Of each move the part that comes to none.
        """
        targets = self.tell.graph.targets
        drawn = {edge for one in kept.values() for edge in one.edges}
        stack: list[tuple[float, int, tuple[int, ...]]] = [(float(self.tell.traffic.nodes[start]), start, ())]
        longest: dict[tuple[int, int], float] = {}
        while stack:
            weight, node, edges = stack.pop()
            for edge, carried in self._onward(weight, node):
                target, rest = int(targets[edge]), carried * lost.get(edge, 1.0)
                if rest < max(self.least, _NOTHING) or target == start or target in self.marked:
                    continue
                way = (*edges, edge)
                if edge in drawn:
                    stack.append((carried, target, way))
                    continue
                one = self.ends.setdefault((start, edge), _Gathered())
                one.add(rest, way)
                longest[start, edge] = max(carried, longest.get((start, edge), 0.0))
        for key, carried in longest.items():
            self.ends[key].edges = self._to_its_end(self.ends[key].edges, carried, lost)

    def _to_its_end(self, way: tuple[int, ...], carried: float, lost: dict[int, float]) -> tuple[int, ...]:
        """A line that comes to no place, on to where the most of it goes, as long as that is a good part of it."""
        targets = self.tell.graph.targets
        least = carried * lost.get(way[-1], 1.0) / 2
        for _ in range(_END_MOVES - 1):
            rests = {
                edge: (more * lost.get(edge, 1.0), more)
                for edge, more in self._onward(carried, int(targets[way[-1]]))
                if int(targets[edge]) not in self.marked
            }
            best = max(rests, key=lambda one: rests[one], default=None)
            if best is None or rests[best][0] < least:
                break
            carried = rests[best][1]
            way = (*way, best)
        return way


def chart(
    tell: Teller,
    places: Iterable[int],
    *,
    roots: Sequence[int] | None = None,
    wanted: Collection[int] = frozenset(),
    author: Collection[int] = frozenset(),
    least: float = 0.01,
    ends: int = 12,
) -> Chart:
    """Draw a graph together to some of its nodes.

    Args:
        tell: The graph and what is said of it.
        places: Nodes that are places of the chart, with the roots.
        roots: Where the chart begins; by default at the roots of the graph.
        wanted: Nodes among the places that are drawn however little traffic comes to them.
        author: Edges of the author's main text.
        least: Share of the whole traffic, 0 to 1, from which a flow is drawn.
        ends: At most so many lines that lead to no place are drawn, the heaviest.
    """
    graph, traffic = tell.graph, tell.traffic
    begins = [int(root) for root in np.unique(graph.roots)] if roots is None else list(roots)
    marked = list(dict.fromkeys([*begins, *places]))
    shares = np.where(traffic.returns, 0.0, traffic.edges).tolist()
    thinnest = min([least, *(float(traffic.nodes[node]) for node in wanted)]) / 4
    drawn = _Drawn(tell, least, frozenset(marked), wanted, shares, thinnest)
    for node in marked:
        drawn.follow(node)
    heaviest = sorted(drawn.ends.items(), key=lambda item: (-item[1].weight, item[0]))[:ends]
    touched = (
        {node for pair in drawn.between for node in pair}
        | {start for (start, _), _ in heaviest}
        | set(begins)
    )
    kept = [node for node in marked if node in touched]
    kept.sort(key=lambda node: (tell.way(node).end.ply, -float(traffic.nodes[node]), node))
    numbers = {node: number for number, node in enumerate(kept)}
    found = [_place(tell, node, number, node in begins) for node, number in numbers.items()]
    flows = [
        _flow(tell, numbers[start], numbers[end], start, one, author)
        for (start, end), one in sorted(drawn.between.items(), key=lambda item: (-item[1].weight, item[0]))
    ]
    for (start, edge), one in heaviest:
        number = len(found)
        line = _line(tell, start, one.edges)
        found.append(
            ChartPlace(
                number=number,
                key=_key(tell, int(graph.targets[edge])),
                kind="end",
                name="",
                line=line.san(),
                flow=100.0 * one.weight,
                games=0,
                values=tell.values(int(graph.targets[one.edges[-1]])),
            )
        )
        flows.append(_flow(tell, numbers[start], number, start, one, author))
    return Chart(places=tuple(found), flows=tuple(flows))


def _key(tell: Teller, node: int) -> str:
    return f"{int(tell.graph.keys[node]):016x}"


def _place(tell: Teller, node: int, number: int, begins: bool) -> ChartPlace:
    position = tell.graph.position(node)
    named = next((root.name for root in tell.roots if root.name and root.position == position), None)
    name = named or tell.name_of(node) or ""
    arriving = [
        float(tell.traffic.edges[one.edge])
        for one in tell.graph.parents(node)
        if not tell.traffic.returns[one.edge]
    ]
    parents = sum(one > 0.0 and one >= _WAY * sum(arriving) for one in arriving)
    kind = "root" if begins else "confluence" if parents > 1 else "name" if name else "fork"
    return ChartPlace(
        number=number,
        key=_key(tell, node),
        kind=kind,
        name=name,
        line=tell.way(node).san(),
        flow=100.0 * float(tell.traffic.nodes[node]),
        games=sum(tell.games(node).values()),
        values=tell.values(node),
    )


def _flow(
    tell: Teller, start: int, end: int, node: int, one: _Gathered, author: Collection[int]
) -> ChartFlow:
    line = _line(tell, node, one.edges)
    moves = Line(tell.standing(node), line.moves[len(line.moves) - len(one.edges) :]).san()
    return ChartFlow(
        start=start,
        end=end,
        flow=100.0 * one.weight,
        moves=moves,
        more=one.paths - 1,
        author=all(edge in author for edge in one.edges),
    )


def _line(tell: Teller, node: int, edges: tuple[int, ...]) -> Line:
    line = tell.way(node)
    for edge in edges:
        line = line.play(tell.graph.move(edge))
    return line
