"""What leaving an order gets the opponent: value of the target less value after the deviation, as far as it is known.

A value that is only bounded, or not known at all, gives a span and not a number; nothing is filled in.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import msgspec

from variorum.board import Side, Verdict
from variorum.graph import Certainty, Graph, VoiceValues, scored_moves
from variorum.voices.noise import INTERVAL, noise_of

__all__ = ["NOTHING", "Span", "Worth", "Worths", "take"]


class Span(msgspec.Struct, frozen=True):
    """At least `low`, at most `high`, in points of E."""

    low: float
    high: float

    @property
    def is_exact(self) -> bool:
        """Whether both ends are one number."""
        return self.low == self.high

    @property
    def as_known(self) -> tuple[float, float | None]:
        """Both ends, not below 0; `None` for an upper end that is open."""
        return max(self.low, 0.0), None if math.isinf(self.high) else max(self.high, 0.0)


NOTHING = Span(-math.inf, math.inf)
"""What is known of a difference where one value is unknown."""


class Worth(msgspec.Struct, frozen=True):
    """One voice's value of a position or move, E for White, with the nodes of the verdict it rests on (0: none, or not said)."""

    expected: Span
    nodes: int

    @property
    def sigma(self) -> float:
        """σ of the value, of a bound that of the end which is known."""
        return noise_of(
            self.nodes, min(self.expected.low, self.expected.high, key=lambda end: abs(end - 50.0))
        )

    def seen_from(self, side: Side) -> Span:
        """The same as expected score of a side."""
        span = self.expected
        return span if side is Side.WHITE else Span(100.0 - span.high, 100.0 - span.low)


@dataclass(frozen=True, eq=False)
class Worths:
    """One voice's values of nodes and of moves, on the graph and off it (methods.md 3)."""

    graph: Graph
    values: VoiceValues
    own: Mapping[int, Verdict]
    """The voice's deepest verdict on each node."""

    def of_node(self, node: int) -> Worth | None:
        """The value of a node, `None` where nothing is known."""
        found = self.values.at(self.graph, node)
        if found.score is None:
            return None
        score = found.score
        if found.certainty is Certainty.VALUE:
            return Worth(Span(score, score), found.nodes)
        return Worth(Span(score, 100.0) if self.graph.white[node] else Span(0.0, score), found.nodes)

    def of_move(self, node: int, packed: int, child: int | None) -> Worth | None:
        """The value of a move: the child's, unless the node's own verdict scores the move at greater effort."""
        said = self._said(node, packed)
        after = None if child is None else self.of_node(child)
        if said is None or after is None:
            return said or after
        if after.expected.is_exact and (self.graph.outcome[child] or said.nodes <= after.nodes):
            return after
        return said

    def of_the_rest(self, node: int, named: Collection[int]) -> Worth | None:
        """What is known of the moves of a node that nobody named: for the mover, no more than the last line of its verdict.

        `None` where the voice has not judged the node. Where every legal move is named there is no rest, and it is worth
        nothing to the mover.
        """
        white = bool(self.graph.white[node])
        if len(named) >= int(self.graph.legal[node]):
            return Worth(Span(0.0, 0.0) if white else Span(100.0, 100.0), 0)
        verdict = self.own.get(node)
        if verdict is None:
            return None
        scores = scored_moves(self.graph.position(node), verdict).values()
        if not scores:
            return None
        last = min(scores) if white else max(scores)
        return Worth(Span(0.0, last) if white else Span(last, 100.0), verdict.nodes)

    def _said(self, node: int, packed: int) -> Worth | None:
        verdict = self.own.get(node)
        if verdict is None:
            return None
        score = scored_moves(self.graph.position(node), verdict).get(packed)
        return None if score is None else Worth(Span(score, score), verdict.nodes)


def take(target: Worth | None, after: Worth | None, side: Side) -> tuple[Span, float | None]:
    """What a deviation with the value `after` takes from a side that would have had `target`, and the noise of that.

    The noise is 1.96 σ of the difference, `None` where a value is missing or rests on no verdict.
    """
    if target is None or after is None:
        return NOTHING, None
    one, other = target.seen_from(side), after.seen_from(side)
    noise = None if not (target.nodes and after.nodes) else INTERVAL * math.hypot(target.sigma, after.sigma)
    return Span(one.low - other.high, one.high - other.low), noise
