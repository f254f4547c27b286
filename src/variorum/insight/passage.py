"""The orders of moves to a target as one graph: every position on one of them, and the moves between (methods.md 4).

What is asked of orders is answered here for all of them at once, by position and not by path.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.graph import NO_NODE, Traffic

__all__ = ["MOST_COUNTED", "Passage", "Way", "passage_to"]

MOST_COUNTED = 2**64 - 1
"""A count of orders that means: that many or more."""

_MOST_KEPT = 6

_FLOOR = 1e-6
"""Least weight of a move, so that moves without traffic are ranked too: shorter orders first."""


@dataclass(frozen=True)
class Way:
    """One order: the passage's stations it passes, its moves as edges of the graph, its share of what comes to the target."""

    stations: tuple[int, ...]
    edges: tuple[int, ...]
    share: float


@dataclass(frozen=True, eq=False)
class Passage:
    """Every order to a target. A *station* numbers a position on one of them, from 0.

    An order has no move that returns (methods.md 11); the moves back that exist between stations are kept apart.
    """

    traffic: Traffic
    target: int
    """The station of the target."""
    nodes: NDArray[np.uint32]
    """The graph's node of each station, ascending."""
    sources: NDArray[np.uint32]
    targets: NDArray[np.uint32]
    edges: NDArray[np.uint32]
    """The moves between stations: from, to, the graph's edge; ascending by `sources`."""
    back: tuple[tuple[int, int], ...]
    """Moves between stations that return."""
    roots: tuple[int, ...]
    """The stations that orders start from."""

    @cached_property
    def course(self) -> _core.Course:
        """The arithmetic over the stations."""
        return self._core.course(np.array(self.roots, np.uint32))

    @cached_property
    def _core(self) -> _core.GraphCore:
        return _core.GraphCore(_offsets(self.sources, len(self.nodes)), self.targets)

    @property
    def size(self) -> int:
        """How many stations."""
        return len(self.nodes)

    @cached_property
    def passing(self) -> NDArray[np.uint64]:
        """How many orders pass each station; `MOST_COUNTED` for more."""
        return self.course.passing(self.target)

    @property
    def count(self) -> int:
        """How many orders there are; `MOST_COUNTED` for more."""
        return int(self.passing[self.target])

    @cached_property
    def shared(self) -> frozenset[int]:
        """The stations that every order passes, the target among them."""
        above = self.course.last_shared()
        found, station = [], self.target
        while station != NO_NODE:
            found.append(station)
            station = int(above[station])
        return frozenset(found)

    def station_of(self, node: int) -> int | None:
        """The station of a node of the graph; `None` where it is on no order."""
        at = int(np.searchsorted(self.nodes, node))
        return at if at < self.size and self.nodes[at] == node else None

    def moves_of(self, station: int) -> range:
        """The moves on from a station, as indices into `edges`."""
        low, high = np.searchsorted(self.sources, [station, station + 1])
        return range(int(low), int(high))

    @cached_property
    def _before(self) -> list[int]:
        """The move by which the heaviest order comes to each station, as index into `edges`; −1 at a start."""
        shares = np.maximum(self.traffic.shares[self.edges], _FLOOR).tolist()
        weights = [0.0] * self.size
        for root in self.roots:
            weights[root] = max(float(self.traffic.starts[self.nodes[root]]), _FLOOR)
        before = [-1] * self.size
        waiting = np.bincount(self.targets, minlength=self.size).tolist()
        ready = [station for station in range(self.size) if not waiting[station]]
        while ready:
            station = ready.pop()
            for move in self.moves_of(station):
                target = int(self.targets[move])
                weight = weights[station] * shares[move]
                if weight > weights[target]:
                    weights[target], before[target] = weight, move
                waiting[target] -= 1
                if not waiting[target]:
                    ready.append(target)
        return before

    def way_to(self, station: int) -> tuple[int, tuple[int, ...]]:
        """The heaviest order to a station: the station it starts from, and its moves as edges of the graph."""
        moves = []
        while (move := self._before[station]) >= 0:
            moves.append(int(self.edges[move]))
            station = int(self.sources[move])
        return station, tuple(moves[::-1])

    def heaviest(
        self,
        limit: int,
        *,
        without: Collection[int] = (),
        unplayed: Collection[int] = (),
        through: Sequence[Collection[int]] = (),
    ) -> tuple[list[Way], int]:
        """The heaviest orders, those with most traffic first, and how many there are.

        Args:
            limit: At most so many are given.
            without: Places that an order must not pass.
            unplayed: Edges of the graph that an order must not play.
            through: Of each of these sets an order must pass a station; six sets at most.

        Raises:
            ValueError: There are more sets.
        """
        if len(through) > _MOST_KEPT:
            raise ValueError(f"orders can be held to {_MOST_KEPT} conditions, not {len(through)}")
        if self.target in without:
            return [], 0
        # One copy of the graph for each set of conditions that an order has met so far.
        met = np.zeros(self.size, np.int64)
        for bit, stations in enumerate(through):
            met[list(stations)] |= 1 << bit
        copies = 1 << len(through)
        open_ = np.ones(self.size, np.bool_)
        open_[list(without)] = False
        allowed = open_[self.sources] & open_[self.targets] & ~np.isin(self.edges, list(unplayed))
        source, target, edge = self.sources[allowed], self.targets[allowed], self.edges[allowed]
        sources = np.concatenate([copy * self.size + source for copy in range(copies)])
        targets = np.concatenate([(copy | met[target]) * self.size + target for copy in range(copies)])
        edges = np.tile(edge, copies)
        roots = [int(met[root]) * self.size + root for root in self.roots if open_[root]]
        if not roots:
            return [], 0
        core = _core.GraphCore(_offsets(sources, copies * self.size), targets.astype(np.uint32))
        course = core.course(np.array(sorted(roots), np.uint32))
        starts = np.tile(self.traffic.starts[self.nodes], copies)
        end = (copies - 1) * self.size + self.target
        found, count = course.orders_to(end, None, starts, self.traffic.shares[edges], limit)
        return [self._way(start, [int(edges[one]) for one in order]) for start, order, _ in found], count

    def _way(self, start: int, edges: list[int]) -> Way:
        graph, traffic = self.traffic.graph, self.traffic
        nodes = [int(self.nodes[start % self.size]), *(int(graph.targets[edge]) for edge in edges)]
        stations = [int(station) for station in np.searchsorted(self.nodes, nodes)]
        arriving = float(traffic.nodes[nodes[-1]])
        weight = float(traffic.starts[nodes[0]]) * float(np.prod(traffic.shares[edges]))
        return Way(tuple(stations), tuple(edges), weight / arriving if arriving > 0 else 0.0)


def passage_to(traffic: Traffic, node: int) -> Passage:
    """Every order from a root to a node; there is at least the node itself where it is a root."""
    graph = traffic.graph
    reached = traffic.course.depth != NO_NODE
    above = np.zeros(graph.nodes, np.bool_)
    above[graph.basin(node)] = True
    above &= reached
    between = above[graph.sources] & above[graph.targets] & (graph.sources != node)
    onward = np.flatnonzero(between & ~traffic.returns)
    # A position from which only moves that return lead to the target is on no order.
    core = _core.GraphCore(_offsets(graph.sources[onward], graph.nodes), graph.targets[onward])
    nodes = core.basin(node)
    on = np.zeros(graph.nodes, np.bool_)
    on[nodes] = True
    on &= reached
    nodes = np.flatnonzero(on).astype(np.uint32)
    edges = onward[on[graph.sources[onward]] & on[graph.targets[onward]]]
    returning = np.flatnonzero(between & traffic.returns)
    returning = returning[on[graph.sources[returning]] & on[graph.targets[returning]]]

    def station(of: NDArray[np.uint32]) -> NDArray[np.uint32]:
        return np.searchsorted(nodes, of).astype(np.uint32)

    starts = np.unique(np.concatenate([graph.roots, graph.elsewhere]))
    return Passage(
        traffic=traffic,
        target=int(station(np.array([node], np.uint32))[0]),
        nodes=nodes,
        sources=station(graph.sources[edges]),
        targets=station(graph.targets[edges]),
        edges=edges.astype(np.uint32),
        back=tuple(
            zip(
                station(graph.sources[returning]).tolist(),
                station(graph.targets[returning]).tolist(),
                strict=True,
            )
        ),
        roots=tuple(station(starts[on[starts]]).tolist()),
    )


def _offsets(sources: NDArray[np.integer], nodes: int) -> NDArray[np.uint32]:
    return np.searchsorted(sources, np.arange(nodes + 1)).astype(np.uint32)
