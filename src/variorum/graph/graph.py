"""The position graph as columns: positions, all legal moves between them, and who played or wrote which.

Made by `variorum.graph.grow`. Nodes are numbered from 0 by depth (least plies from a root) and key; the edges of node `n`
are `offsets[n]` to `offsets[n + 1]`, by packed move.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from functools import cached_property

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.board import Move, Position

__all__ = ["NO_NODE", "TEXT_KIND", "Arrival", "Channel", "Counts", "Graph", "Why"]

NO_NODE = 2**32 - 1
TEXT_KIND = "text"
"""The kind of channels that are texts of the author, beside the kinds of sources."""


class Why(enum.IntFlag):
    """Why a position is on the graph."""

    ROOT = 1
    TEXT = 2
    VERDICT = 4
    GAMES = 8
    ELSEWHERE = 16
    """A text starts here that passes no root."""


class Channel(msgspec.Struct, frozen=True, order=True):
    """Where counts come from: the kind of a source (or `TEXT_KIND`) and whose games or text it is."""

    kind: str
    voice: str = ""


class Arrival(msgspec.Struct, frozen=True):
    """A parent of a node, and the edge from it."""

    node: int
    edge: int


@dataclass(frozen=True, eq=False)
class Counts:
    """Games and lines by place and channel: (n,) places, (n,) channels, (n, 4) games by result.

    Results are 0 unknown, 1 White won, 2 Black won, 3 drawn. A game counts once at each place.
    """

    places: NDArray[np.uint32]
    channels: NDArray[np.uint16]
    games: NDArray[np.uint32]

    def totals(self, size: int, channels: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Games of the chosen channels at each of `size` places, results added up."""
        chosen = channels[self.channels] if len(channels) else np.zeros(len(self.places), np.bool_)
        return np.bincount(
            self.places[chosen], weights=self.games[chosen].sum(axis=1), minlength=size
        ).astype(np.float64)

    def at(self, place: int) -> list[tuple[int, tuple[int, int, int, int]]]:
        """Channel and games by result at one place; places are ascending."""
        low, high = np.searchsorted(self.places, [place, place + 1])
        rows = zip(self.channels[low:high].tolist(), self.games[low:high].tolist(), strict=True)
        return [(channel, tuple(games)) for channel, games in rows]


@dataclass(frozen=True, eq=False)
class Graph:
    """Positions and the legal moves between them."""

    keys: NDArray[np.uint64]
    packed: NDArray[np.uint8]
    """(nodes, 32): each position without its move counters."""
    why: NDArray[np.uint8]
    """Bits of `Why`."""
    legal: NDArray[np.uint16]
    white: NDArray[np.bool_]
    outcome: NDArray[np.uint8]
    """How the rules end the game: 0 not, 1 White has mated, 2 Black has, 3 drawn."""
    offsets: NDArray[np.uint32]
    targets: NDArray[np.uint32]
    moves: NDArray[np.uint16]
    roots: NDArray[np.uint32]
    elsewhere: NDArray[np.uint32]
    channels: tuple[Channel, ...]
    node_counts: Counts
    edge_counts: Counts
    off_moves: NDArray[np.uint16]
    """Moves that lead off the graph, one for each row of `off_counts`, whose places are nodes."""
    off_counts: Counts
    min_games: int
    """Positions that fewer games meet are here only for a text, a verdict or a root."""
    unreached: tuple[int, int]
    """Positions met often enough, and positions with a verdict, that no order on the graph leads to."""

    @property
    def nodes(self) -> int:
        """How many positions."""
        return len(self.keys)

    @property
    def edges(self) -> int:
        """How many moves."""
        return len(self.targets)

    @cached_property
    def core(self) -> _core.GraphCore:
        """The arithmetic over the edges."""
        return _core.GraphCore(self.offsets, self.targets)

    @cached_property
    def _by_key(self) -> NDArray[np.int64]:
        return np.argsort(self.keys, kind="stable")

    @cached_property
    def sources(self) -> NDArray[np.uint32]:
        """The node that each edge starts from."""
        return np.repeat(np.arange(self.nodes, dtype=np.uint32), np.diff(self.offsets))

    @cached_property
    def parent_counts(self) -> NDArray[np.int64]:
        """How many moves lead to each node."""
        return np.bincount(self.targets, minlength=self.nodes)

    def confluences(self) -> NDArray[np.int64]:
        """Nodes with two or more parents."""
        return np.flatnonzero(self.parent_counts >= 2)

    def node_of(self, position: Position) -> int | None:
        """The node of a position; `None` where it is not on the graph."""
        place = int(np.searchsorted(self.keys, np.uint64(position.key), sorter=self._by_key))
        if place == self.nodes:
            return None
        node = int(self._by_key[place])
        return node if self.keys[node] == position.key and self.position(node) == position else None

    def nodes_of(self, keys: NDArray[np.uint64]) -> NDArray[np.int64]:
        """The node of each position by its key, -1 where it is not on the graph."""
        places = np.minimum(np.searchsorted(self.keys, keys, sorter=self._by_key), self.nodes - 1)
        nodes = self._by_key[places]
        return np.where(self.keys[nodes] == keys, nodes, -1)

    def edges_between(self, sources: NDArray[np.int64], targets: NDArray[np.int64]) -> NDArray[np.int64]:
        """The edges that lead from a source to the target beside it."""
        leaves = np.zeros(self.nodes, np.bool_)
        leaves[sources] = True
        edges = np.flatnonzero(leaves[self.sources])
        pairs = self.sources[edges].astype(np.int64) * self.nodes + self.targets[edges]
        return edges[np.isin(pairs, sources * self.nodes + targets)]

    def position(self, node: int) -> Position:
        """The position of a node; its move counters start anew."""
        return Position(_core.unpack_position(np.ascontiguousarray(self.packed[node])))

    def edges_of(self, node: int) -> range:
        """The edges that start from a node."""
        return range(int(self.offsets[node]), int(self.offsets[node + 1]))

    def move(self, edge: int) -> Move:
        """The move of an edge."""
        source = self.position(int(self.sources[edge]))
        return source.unpack(self.moves[edge : edge + 1])[0]

    def parents(self, node: int) -> list[Arrival]:
        """Every parent of a node."""
        return [Arrival(parent, edge) for parent, edge in self.core.arrivals(node)]

    def basin(self, node: int) -> NDArray[np.uint32]:
        """Every node from which this one can be reached, itself included."""
        return self.core.basin(node)

    def channels_of(self, *kinds: str) -> NDArray[np.bool_]:
        """Which channels are of these kinds."""
        return np.array([channel.kind in kinds for channel in self.channels], np.bool_)
