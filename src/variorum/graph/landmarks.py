"""Which places of a graph are drawn when not all can be: named ones, then where lines meet, then where they part."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from variorum.graph.flow import Traffic
from variorum.graph.graph import Graph
from variorum.graph.telling import Teller

__all__ = ["heaviest_confluences", "inside", "landmarks", "reached_from"]

_LONG = 7
"""Plies of a stretch without forks of which each position is drawn when it is unfolded."""
_FARTHEST = 40
"""Plies that a stretch is followed."""


def heaviest_confluences(traffic: Traffic) -> NDArray[np.int64]:
    """Confluences by the traffic that arrives otherwise than by the heaviest move, then by flow and number.

    Two moves at least must lead to each that were played or written and do not return.
    """
    merging, walked = _merging(traffic)
    nodes = np.flatnonzero(walked >= 2)
    return nodes[np.lexsort((nodes, -traffic.nodes[nodes], -np.round(merging[nodes], 9)))]


def _merging(traffic: Traffic) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Of each node what arrives otherwise than by the heaviest move, and how many walked moves lead to it."""
    graph = traffic.graph
    arriving = np.where(traffic.returns, 0.0, traffic.edges)
    heaviest = np.zeros(graph.nodes)
    np.maximum.at(heaviest, graph.targets, arriving)
    walked = np.zeros(graph.edges, np.bool_)
    walked[graph.edge_counts.places] = True
    number = np.bincount(graph.targets[walked & ~traffic.returns], minlength=graph.nodes)
    return np.bincount(graph.targets, weights=arriving, minlength=graph.nodes) - heaviest, number


def landmarks(
    tell: Teller, count: int, *, least: float = 0.0, among: NDArray[np.bool_] | None = None
) -> list[int]:
    """At most `count` nodes: tabiyas first, then where most traffic comes together or parts.

    What comes together counts twice: a confluence says more than a fork.

    Args:
        tell: The graph and what is said of it.
        count: How many.
        least: Share of the traffic, 0 to 1, that must come or leave otherwise than by the heaviest move.
        among: Which nodes can be chosen; by default all.
    """
    traffic, graph = tell.traffic, tell.graph
    named = [node for place in tell.names.values() if (node := graph.node_of(place.position)) is not None]
    merging, _ = _merging(traffic)
    weight = np.maximum(2.0 * merging, _parting(traffic))
    weight[weight < max(least, 1e-9)] = 0.0
    if among is not None:
        weight[~among] = 0.0
        named = [node for node in named if among[node]]
    nodes = np.flatnonzero(weight)
    nodes = nodes[np.lexsort((nodes, -np.round(weight[nodes], 9)))]
    return list(dict.fromkeys([*named, *nodes[:count].tolist()]))[:count]


def _parting(traffic: Traffic) -> NDArray[np.float64]:
    """Of each node what leaves otherwise than by the heaviest move."""
    graph = traffic.graph
    leaving = np.where(traffic.returns, 0.0, traffic.edges)
    heaviest = np.zeros(graph.nodes)
    np.maximum.at(heaviest, graph.sources, leaving)
    return np.bincount(graph.sources, weights=leaving, minlength=graph.nodes) - heaviest


def reached_from(graph: Graph, node: int) -> NDArray[np.bool_]:
    """Which nodes can be reached from one, itself included."""
    found = np.zeros(graph.nodes, np.bool_)
    found[node] = True
    front = np.array([node])
    offsets = graph.offsets.astype(np.int64)
    while len(front):
        number = offsets[front + 1] - offsets[front]
        begins = np.repeat(offsets[front] - np.cumsum(number) + number, number)
        front = np.unique(graph.targets[begins + np.arange(len(begins))])
        front = front[~found[front]].astype(np.int64)
        found[front] = True
    return found


def inside(tell: Teller, start: int, end: int, marked: Iterable[int], limit: int = 6) -> list[int]:
    """Nodes on the ways from one node to another that pass no marked one: what unfolding the stretch shows.

    Where ways part or meet inside, those nodes; else every node of a short way, and of a longer one the heaviest. Where
    `end` is not marked it is the first position of a line that leads to no place: then the heavy part of what follows, and
    `end` itself.

    Args:
        tell: The graph and what is said of it.
        start: Where the stretch begins.
        end: Where it ends.
        marked: The places of the chart.
        limit: At most so many.
    """
    closed = set(marked) - {start}
    if end in closed:
        steps = _between(tell, start, end, closed)
        inner = [node for node in steps if node != start]
        first: list[int] = []
    else:
        steps = _beyond(tell, end, closed)
        inner = list(steps)
        first = [end]
    arriving = Counter(target for targets in steps.values() for target in targets)
    forks = [node for node in inner if len(steps[node]) > 1 or arriving[node] > 1]
    chosen = forks if forks or len(inner) > _LONG else inner
    chosen = chosen or inner
    rest = sorted(set(chosen) - set(first), key=lambda node: (-float(tell.traffic.nodes[node]), node))
    return [*first, *rest][:limit]


_Steps = dict[int, list[int]]


def _steps(tell: Teller, node: int, least: float = 0.0) -> list[int]:
    """Where traffic goes on from a node."""
    traffic, graph = tell.traffic, tell.graph
    return [
        int(graph.targets[edge])
        for edge in graph.edges_of(node)
        if traffic.edges[edge] > least and not traffic.returns[edge]
    ]


def _between(tell: Teller, start: int, end: int, closed: set[int]) -> _Steps:
    """The nodes of all ways from start to end that pass no closed one, `end` left out, each with where they go on."""
    leading = set(tell.graph.basin(end).tolist())
    forward: _Steps = {}
    front = [start]
    for _ in range(_FARTHEST):
        onward: list[int] = []
        for node in front:
            if node not in forward and (node == start or node not in closed):
                forward[node] = [target for target in _steps(tell, node) if target in leading]
                onward += forward[node]
        front = onward
    before: _Steps = {}
    for node, targets in forward.items():
        for target in targets:
            before.setdefault(target, []).append(node)
    on, waiting = {end}, [end]
    while waiting:
        for node in before.get(waiting.pop(), ()):
            if node not in on:
                on.add(node)
                waiting.append(node)
    return {node: [one for one in targets if one in on] for node, targets in forward.items() if node in on}


def _beyond(tell: Teller, first: int, closed: set[int]) -> _Steps:
    """Where a good part of the traffic of a node goes on, for a few plies."""
    least = float(tell.traffic.nodes[first]) / 5
    found: _Steps = {}
    front = [first]
    for _ in range(_LONG):
        onward: list[int] = []
        for node in front:
            if node not in found and node not in closed:
                found[node] = _steps(tell, node, least)
                onward += found[node]
        front = onward
    return found
