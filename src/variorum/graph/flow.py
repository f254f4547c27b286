"""Flow: the share of the traffic, by a stated mix, that passes each node and each edge; and the orders that lead to a node."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.base import UsageError
from variorum.graph.graph import NO_NODE, TEXT_KIND, Graph

__all__ = ["Mix", "Orders", "Traffic", "lay_traffic"]

_PRACTICE = ("practice", "correspondence")
_ENGINES = ("engine",)


class Mix(msgspec.Struct, frozen=True, kw_only=True):
    """From what flow is made, in shares of the whole; common practice, no source.

    Playouts take no part: they start where the author wants, not where play comes from the roots. All games of a part weigh the same. Where no game goes on, the moves of the texts share equally.
    """

    practice: float = 0.75
    """Games of practice and correspondence."""
    engines: float = 0.25
    """Games of engines among the sources."""

    def __post_init__(self) -> None:
        if min(self.practice, self.engines) < 0 or self.practice + self.engines <= 0:
            raise UsageError("the shares of a mix are not negative, and not all of them are 0")


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

    @property
    def words(self) -> str:
        """Of what the traffic is made, as a sentence would state it: a part of the mix without a game has no share."""
        told = [(name, share) for name, share, games, _ in _parts(self.graph, self.mix) if games]
        total = sum(share for _, share in told)
        if not total:
            return "the texts alone"
        shares = ", ".join(f"{name} {100 * share / total:.0f} %" for name, share in told)
        return f"{shares}; where no game goes on, the text"

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
    """The traffic of a graph. What starts at each root is its share of the games, one game added to each."""
    mix = mix or Mix()
    course = graph.core.course(np.unique(np.concatenate([graph.roots, graph.elsewhere])))
    roots = np.unique(graph.roots)
    parts = [(share / games, channels) for _, share, games, channels in _parts(graph, mix) if games]
    shares = _shares(graph, parts)
    known = sum((weight * graph.node_counts.totals(graph.nodes, by)[roots] for weight, by in parts), 0.0)
    every = graph.node_counts.totals(graph.nodes, graph.channels_of(*_PRACTICE, *_ENGINES))[roots].sum()
    games = known + np.full(len(roots), 1.0 / (1.0 + every))
    starts = np.zeros(graph.nodes)
    starts[roots] = games / games.sum()
    nodes, edges = course.flow(starts, shares)
    return Traffic(graph, mix, course, starts, shares, nodes, edges, course.returns, course.last_shared())


def _parts(graph: Graph, mix: Mix) -> Iterator[tuple[str, float, float, NDArray[np.bool_]]]:
    """Each part of the mix: its name, its share, its games at the roots, and its channels."""
    roots = np.unique(graph.roots)
    for name, share, kinds in (
        ("practice", mix.practice, _PRACTICE),
        ("engine games", mix.engines, _ENGINES),
    ):
        channels = graph.channels_of(*kinds)
        games = graph.node_counts.totals(graph.nodes, channels)[roots].sum()
        yield name, share, float(games), channels


def _shares(graph: Graph, parts: list[tuple[float, NDArray[np.bool_]]]) -> NDArray[np.float64]:
    """The share of each edge of what passes the node before it; `parts`: what one game weighs, and in which channels.

    One game weighs the share of its part over all games of it. So a share at a node is that of the games there: a part with
    two games of hundreds there has as little to say as that.
    """
    mixed = np.zeros(graph.edges)
    passing = np.zeros(graph.nodes)
    for weight, channels in parts:
        taken = graph.edge_counts.totals(graph.edges, channels)
        out = np.bincount(graph.sources, weights=taken, minlength=graph.nodes)
        mixed += weight * taken
        # Games that end here or leave the graph count too; a game that comes back may leave twice.
        passing += weight * np.maximum(graph.node_counts.totals(graph.nodes, channels), out)
    here = passing[graph.sources]
    mixed = np.divide(mixed, here, out=np.zeros(graph.edges), where=here > 0)
    goes_on = np.bincount(graph.sources, weights=mixed, minlength=graph.nodes) > 0
    written = graph.edge_counts.totals(graph.edges, graph.channels_of(TEXT_KIND)) > 0
    by_text = written & ~goes_on[graph.sources]
    number = np.bincount(graph.sources, weights=by_text, minlength=graph.nodes)
    equal = np.divide(by_text, number[graph.sources], out=np.zeros(graph.edges), where=by_text)
    return np.minimum(mixed + equal, 1.0)
