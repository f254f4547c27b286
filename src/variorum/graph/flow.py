"""Flow: the share of the traffic, by a stated mix, that passes each node and each edge; and the orders that lead to a node."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.base import UsageError
from variorum.graph.graph import NO_NODE, TEXT_KIND, Graph

__all__ = ["Mix", "Orders", "Traffic", "lay_traffic"]


class Mix(msgspec.Struct, frozen=True, kw_only=True):
    """From what flow is made, in shares; common practice, no source. Where one of them says nothing, the others count.

    Where none of them goes on, the moves of the texts share equally.
    """

    practice: float = 0.75
    """Games of practice and correspondence."""
    playouts: float = 0.25
    """Games of engines."""

    def __post_init__(self) -> None:
        if min(self.practice, self.playouts) < 0 or self.practice + self.playouts <= 0:
            raise UsageError("the shares of a mix are not negative, and not all of them are 0")

    @property
    def words(self) -> str:
        """The mix as a sentence would state it."""
        total = self.practice + self.playouts
        return f"practice {self.practice / total:.0%}, playouts {self.playouts / total:.0%}; where neither goes on, the text"


class Orders(msgspec.Struct, frozen=True):
    """Orders of moves to a node: the heaviest ones as edges, how many there are, and the node from which they part.

    `since` is `None` where they start from different roots.
    """

    since: int | None
    orders: tuple[tuple[int, ...], ...]
    starts: tuple[int, ...]
    """The node that each order starts from."""
    count: int


@dataclass(frozen=True, eq=False)
class Traffic:
    """How traffic runs through a graph by a mix. Flow is in shares of all that starts at the roots, 0 to 1.

    A move that returns within a cycle ends there as a repetition, so nothing passes a node twice (methods.md 11).
    """

    graph: Graph
    mix: Mix
    course: _core.Course
    starts: NDArray[np.float64]
    shares: NDArray[np.float64]
    """Of what passes a node, the share that takes each of its edges."""
    nodes: NDArray[np.float64]
    edges: NDArray[np.float64]
    returns: NDArray[np.bool_]
    last_shared: NDArray[np.uint32]

    def orders_to(self, node: int, limit: int) -> Orders:
        """The heaviest orders to a node, from the last position that all of them pass."""
        shared = int(self.last_shared[node])
        since = None if shared == NO_NODE else shared
        found, count = self.course.orders_to(node, since, self.starts, self.shares, limit)
        return Orders(
            since, tuple(tuple(edges) for _, edges, _ in found), tuple(start for start, _, _ in found), count
        )

    def way_to(self, node: int) -> tuple[int, tuple[int, ...]]:
        """The heaviest order from a root to a node: the root, and its edges."""
        found, _ = self.course.orders_to(node, None, self.starts, self.shares, 1)
        return (found[0][0], tuple(found[0][1])) if found else (node, ())


def lay_traffic(graph: Graph, mix: Mix | None = None) -> Traffic:
    """The traffic of a graph. What starts at each root is the share of games that pass it, one game added to each."""
    mix = mix or Mix()
    course = graph.core.course(np.unique(np.concatenate([graph.roots, graph.elsewhere])))
    parts = [
        (mix.practice, graph.channels_of("practice", "correspondence")),
        (mix.playouts, graph.channels_of("engine")),
    ]
    shares = _shares(graph, parts)
    roots = np.unique(graph.roots)
    games = sum((graph.node_counts.totals(graph.nodes, by)[roots] for _, by in parts), np.ones(len(roots)))
    starts = np.zeros(graph.nodes)
    starts[roots] = games / games.sum()
    nodes, edges = course.flow(starts, shares)
    return Traffic(graph, mix, course, starts, shares, nodes, edges, course.returns, course.last_shared())


def _shares(graph: Graph, parts: Iterable[tuple[float, NDArray[np.bool_]]]) -> NDArray[np.float64]:
    mixed = np.zeros(graph.edges)
    weight = np.zeros(graph.nodes)
    for share, channels in parts:
        taken = graph.edge_counts.totals(graph.edges, channels)
        out = np.bincount(graph.sources, weights=taken, minlength=graph.nodes)
        # Games that end here or leave the graph count too; a game that comes back may leave twice.
        passing = np.maximum(graph.node_counts.totals(graph.nodes, channels), out)
        speaks = passing > 0
        per_game = np.divide(share, passing, out=np.zeros(graph.nodes), where=speaks)
        mixed += taken * per_game[graph.sources]
        weight += share * speaks
    known = weight > 0
    mixed = np.divide(mixed, weight[graph.sources], out=np.zeros(graph.edges), where=known[graph.sources])
    goes_on = np.bincount(graph.sources, weights=mixed, minlength=graph.nodes) > 0
    written = graph.edge_counts.totals(graph.edges, graph.channels_of(TEXT_KIND)) > 0
    by_text = written & ~goes_on[graph.sources]
    number = np.bincount(graph.sources, weights=by_text, minlength=graph.nodes)
    equal = np.divide(by_text, number[graph.sources], out=np.zeros(graph.edges), where=by_text)
    return np.minimum(mixed + equal, 1.0)
