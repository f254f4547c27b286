"""What each voice thinks of every node, backed up through the graph (methods.md 3)."""

from __future__ import annotations

import enum
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum.board import Move, MoveError, Position, Verdict
from variorum.graph.graph import NO_NODE, Graph
from variorum.voices.scale import expected_of

__all__ = [
    "Basis",
    "Certainty",
    "NodeValue",
    "VoiceValues",
    "back_up_values",
    "deepest_verdicts",
    "effort_number",
    "median_value",
    "nodes_of",
    "scored_moves",
]

_DEPTHS = 256
"""Effort as one number: nodes times this, or the depth of voices that tell no nodes."""
_RULES = 2**64 - 1


class Certainty(enum.IntEnum):
    """What is known of a node's value."""

    UNKNOWN = 0
    BOUND = 1
    """At least so much for the side to move; decides no parent."""
    VALUE = 2


class Basis(enum.IntEnum):
    """On what a value rests."""

    NOTHING = 0
    VERDICT = 1
    RULES = 2
    REPETITION = 3


class NodeValue(msgspec.Struct, frozen=True):
    """One voice's value of a node: E for White; the deciding leaf with the effort of its verdict (nodes, depth).

    `leaf` is `None` for a repetition and when nothing is known; `nodes` and `depth` are 0 where no verdict decides.
    `via` is the move that leads to the leaf.
    """

    score: float | None
    certainty: Certainty
    basis: Basis
    leaf: int | None
    nodes: int
    depth: int
    via: Move | None


@dataclass(frozen=True, eq=False)
class VoiceValues:
    """One voice's values of all nodes, as columns."""

    voice: str
    scores: NDArray[np.float64]
    """E for White, NaN when unknown."""
    efforts: NDArray[np.uint64]
    leaves: NDArray[np.uint32]
    via: NDArray[np.uint16]
    certainty: NDArray[np.uint8]
    basis: NDArray[np.uint8]
    spent: Mapping[int, tuple[int, int]]
    """Nodes and depth of the verdict on each node that has one."""

    def at(self, graph: Graph, node: int) -> NodeValue:
        """The value of one node."""
        leaf, basis = int(self.leaves[node]), Basis(int(self.basis[node]))
        nodes, depth = self.spent[leaf] if basis is Basis.VERDICT else (0, 0)
        certainty = Certainty(int(self.certainty[node]))
        packed = self.via[node : node + 1]
        return NodeValue(
            score=None if certainty is Certainty.UNKNOWN else float(self.scores[node]),
            certainty=certainty,
            basis=basis,
            leaf=None if leaf == NO_NODE else leaf,
            nodes=nodes,
            depth=depth,
            via=graph.position(node).unpack(packed)[0] if packed[0] else None,
        )


def back_up_values(graph: Graph, verdicts: Iterable[Verdict]) -> dict[str, VoiceValues]:
    """The values of all nodes, voice by voice, each alone; by voice in the order of their names.

    Of several verdicts of a voice on a position, the one of greatest effort counts, then the latest. Verdicts on
    positions that are not on the graph, and lines with an illegal first move, are passed over.

    Args:
        graph: The graph.
        verdicts: What the voices said.
    """
    deepest = deepest_verdicts(graph, verdicts)
    voices = sorted({voice for voice, _ in deepest})
    columns = []
    spent = []
    for voice in voices:
        own = {node: verdict for (name, node), verdict in deepest.items() if name == voice}
        spent.append({node: (verdict.nodes, verdict.depth) for node, verdict in own.items()})
        columns.append(_voice_columns(graph, own))
    values = graph.core.values(graph.moves, graph.legal, graph.white, graph.outcome, columns)
    return {
        voice: VoiceValues(voice, *found, said)
        for voice, found, said in zip(voices, values, spent, strict=True)
    }


def deepest_verdicts(graph: Graph, verdicts: Iterable[Verdict]) -> dict[tuple[str, int], Verdict]:
    """The verdict that counts, by voice and node: the one of greatest effort, then the latest."""
    deepest: dict[tuple[str, int], Verdict] = {}
    for verdict in verdicts:
        node = graph.node_of(Position.from_fen(verdict.epd))
        if node is None or not verdict.lines:
            continue
        known = deepest.get((verdict.voice, node))
        if known is None or (verdict.effort, verdict.date) > (known.effort, known.date):
            deepest[verdict.voice, node] = verdict
    return deepest


def _voice_columns(
    graph: Graph, verdicts: Mapping[int, Verdict]
) -> tuple[
    NDArray[np.uint32], NDArray[np.uint64], NDArray[np.uint32], NDArray[np.uint16], NDArray[np.float64]
]:
    nodes: list[int] = []
    efforts: list[int] = []
    offsets = [0]
    moves: list[int] = []
    scores: list[float] = []
    for node in sorted(verdicts):
        verdict = verdicts[node]
        scored = scored_moves(graph.position(node), verdict)
        if not scored or graph.outcome[node]:
            continue
        nodes.append(node)
        efforts.append(effort_number(verdict))
        moves += scored.keys()
        scores += scored.values()
        offsets.append(len(moves))
    return (
        np.array(nodes, np.uint32),
        np.array(efforts, np.uint64),
        np.array(offsets, np.uint32),
        np.array(moves, np.uint16),
        np.array(scores, np.float64),
    )


def effort_number(verdict: Verdict) -> int:
    """The effort of a verdict as one number, as the arithmetic over the edges compares it.

    The limit of nodes counts where it is known: a search ends some nodes before or behind it, and by such a chance no
    verdict may outrank another that was asked for as much.
    """
    limit = min(verdict.asked or verdict.nodes, 2**55)
    return limit * _DEPTHS if limit else min(verdict.depth, _DEPTHS - 1)


def nodes_of(effort: int) -> int:
    """The nodes in such a number; 0 where the rules decide."""
    return 0 if effort == _RULES else effort // _DEPTHS


def scored_moves(position: Position, verdict: Verdict) -> dict[int, float]:
    """Packed first move to E; of two lines with one first move, the first counts."""
    scored: dict[int, float] = {}
    for line in verdict.lines:
        if not line.moves:
            continue
        try:
            packed = int(position.pack([Move.from_uci(line.moves[0])])[0])
        except (MoveError, ValueError):
            continue
        scored.setdefault(packed, expected_of(verdict, line.score))
    return scored


def median_value(values: Iterable[NodeValue]) -> tuple[float, float, float] | None:
    """Median, least and greatest of several voices' values of a node; bounds do not count. `None` without any."""
    scores = sorted(
        value.score for value in values if value.certainty is Certainty.VALUE and value.score is not None
    )
    if not scores:
        return None
    return float(np.median(scores)), scores[0], scores[-1]
