"""What the graph says of a position, in values to print: lines that lead to it, orders, what each voice thinks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import msgspec

from variorum.board import Bands, Line, Position, sign_of
from variorum.edition import Place
from variorum.graph.flow import Traffic
from variorum.graph.graph import TEXT_KIND, Graph
from variorum.graph.values import Basis, Certainty, NodeValue, VoiceValues, median_value
from variorum.voices.noise import printed_noise

__all__ = ["MapOrder", "MapValue", "Teller", "ValueRange"]


class MapValue(msgspec.Struct, frozen=True, kw_only=True):
    """What one voice thinks of a position: E for White, and how sure (`value`, or a bound: `at least`, `at most`).

    `basis` is verdict, rules or repetition. `noise` is what is printed after `±`: that of the deciding leaf's verdict
    (1.96 σ in points), `None` where the rules or a mate decide. `nodes` and `depth` are that verdict's effort; `leaf` is
    the line to it from the position, with the move that the verdict plays there. `own` is whether the leaf is the position.
    """

    siglum: str
    voice: str
    expected: float
    noise: float | None
    certainty: str
    basis: str
    nodes: int
    depth: int
    leaf: str
    own: bool
    sign: str
    words: str


class ValueRange(msgspec.Struct, frozen=True, kw_only=True):
    """The values of several voices: median, least and greatest E for White; bounds do not count."""

    median: float
    least: float
    greatest: float


class MapOrder(msgspec.Struct, frozen=True, kw_only=True):
    """One order to a confluence, with the root it starts from where orders have different ones.

    `walked` tells whether each of its moves was played or written; else only the rules allow one.
    """

    moves: str
    root: str | None
    walked: bool


@dataclass(frozen=True)
class Teller:
    """Looks up what is printed of a node. `names` and `roots` are the edition's."""

    graph: Graph
    traffic: Traffic
    by_voice: Mapping[str, VoiceValues]
    sigla: Mapping[str, str]
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

    def values(self, node: int) -> tuple[MapValue, ...]:
        """What each voice that knows something thinks."""
        return tuple(
            value
            for name, voice in self.by_voice.items()
            if (value := self.value(name, voice, node)) is not None
        )

    def value_range(self, node: int) -> ValueRange | None:
        """The voices together; `None` where fewer than two have a value."""
        known = [voice.at(self.graph, node) for voice in self.by_voice.values()]
        sure = [value for value in known if value.certainty is Certainty.VALUE]
        found = median_value(sure) if len(sure) > 1 else None
        return None if found is None else ValueRange(median=found[0], least=found[1], greatest=found[2])

    def value(self, name: str, voice: VoiceValues, node: int) -> MapValue | None:
        """What one voice thinks, `None` where it knows nothing."""
        found = voice.at(self.graph, node)
        if found.score is None:
            return None
        if found.certainty is Certainty.VALUE:
            certainty = "value"
        else:
            certainty = "at least" if self.graph.white[node] else "at most"
        sign = sign_of(found.score, self.bands)
        estimated = found.basis is Basis.VERDICT and 0.0 < found.score < 100.0
        return MapValue(
            siglum=self.sigla[name],
            voice=name,
            expected=found.score,
            noise=printed_noise(found.nodes, found.score) if estimated else None,
            certainty=certainty,
            basis=found.basis.name.lower(),
            nodes=found.nodes,
            depth=found.depth,
            leaf=self.leaf_line(voice, node, found),
            own=found.leaf == node,
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
        """The line by which the edition comes to a root."""
        position = self.graph.position(node)
        place = next((root for root in self.roots if root.position == position), None)
        if place is None:
            return Line(position)
        return place.line if place.line is not None else Line(place.position)

    def standing(self, node: int) -> Position:
        """The position of a node with the move number that its line gives it."""
        return self.way(node).end

    def name_of(self, node: int) -> str | None:
        """The edition's name of a node."""
        position = self.graph.position(node)
        return next((name for name, place in self.names.items() if place.position == position), None)

    def short_way(self, node: int) -> str:
        """A node as one would type it: by its name, by a name or root on its way and the moves after, or by its line."""
        line = self.way(node)
        named = [(place.position, name) for name, place in self.names.items()]
        named += [(place.position, place.name) for place in self.roots if place.name]
        positions = line.positions()
        for ply in range(len(line), -1, -1):
            name = next((name for position, name in named if position == positions[ply]), None)
            if name is not None:
                return f"{name} {Line(positions[ply], line.moves[ply:]).san()}".rstrip()
        return line.san()

    def root_name(self, node: int) -> str | None:
        """The edition's name of a root, or how it is written there."""
        position = self.graph.position(node)
        return next((place.name or place.text for place in self.roots if place.position == position), None)

    def order(self, since: int | None, start: int, edges: Sequence[int]) -> MapOrder:
        """An order as it is printed: `edges` from the node `since`, or from the root `start`."""
        line = self.root_line(start) if since is None else self.way(since)
        begin = line.end
        moves = tuple(self.graph.move(edge) for edge in edges)
        return MapOrder(
            moves=Line(begin, moves).san(),
            root=self.root_name(start) if since is None else None,
            walked=all(self.graph.edge_counts.at(edge) for edge in edges),
        )
