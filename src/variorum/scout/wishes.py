"""What an edition would like to know, and what it is in doubt about."""

from __future__ import annotations

import enum
from collections.abc import Iterable
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum.board import Move, Position, Side, Verdict
from variorum.graph import TEXT_KIND, Graph, Traffic, VoiceValues, Why
from variorum.insight.deviations import exits_of
from variorum.insight.passage import passage_to
from variorum.voices.noise import INTERVAL, noise_of
from variorum.voices.scale import expected_of

__all__ = [
    "HEAVY",
    "Doubt",
    "Reason",
    "Wish",
    "close_lines",
    "deciding_leaves",
    "graph_wishes",
    "order_wishes",
]

HEAVY: Final = 0.01
"""From this share of the traffic on a position is asked though no text treats it; common practice, no source."""

_WIDTH: Final = INTERVAL * 2**0.5
"""Half width of the 95 % interval of a difference of two scores of one noise, in that noise."""


class Reason(enum.Enum):
    """Why a position is asked. The order is that of importance; the value is what is printed."""

    ASKED = "asked for"
    ROOT = "root"
    NAME = "tabiya"
    CLAIM = "a sign or sentence hangs on it"
    CONFLUENCE = "lines meet here"
    ORDER = "an order into a tabiya, or a way to leave one"
    LEAF = "a line of the manuscript ends here"
    BOUND = "only a bound without it"
    FLOW = "much traffic"
    UNDECIDED = "not enough evidence for a claim"
    CONTRADICTED = "it contradicts a claim"
    DECIDES = "it decides the value of a root or tabiya"
    CLOSE = "two moves within the noise of each other"
    DISPUTED = "voices dispute it"
    STALE = "its verdict is too old or too shallow"


class Wish(msgspec.Struct, frozen=True):
    """A position that is to have a verdict; of equal reasons the greater `weight` (share of the traffic) comes first."""

    position: Position
    reason: Reason
    weight: float = 0.0


class Doubt(msgspec.Struct, frozen=True):
    """Something that deeper verdicts on all of these positions may settle."""

    positions: tuple[Position, ...]
    reason: Reason


def graph_wishes(graph: Graph, traffic: Traffic) -> list[Wish]:
    """What the graph asks for: where lines meet, ends of texts, what would only be a bound, and where traffic is heavy.

    All of it is on a text or passed by `HEAVY` of the traffic at least, so the list ends. It depends on no verdict.
    """
    shares, treated = traffic.nodes, _treated(graph, traffic)
    text = (graph.why & (Why.TEXT | Why.ROOT)) != 0
    open_ = (graph.outcome == 0) & (graph.legal > 0)
    ends = text & ~_written_on(graph)
    return [
        *_wishes(graph, Reason.CONFLUENCE, treated & (_walked_in(graph, traffic) >= 2), shares),
        *_wishes(graph, Reason.LEAF, open_ & ends, shares),
        *_wishes(graph, Reason.BOUND, treated & _leads_to(graph, ends), shares),
        *_wishes(graph, Reason.FLOW, treated, shares),
    ]


def order_wishes(graph: Graph, traffic: Traffic, tabiyas: Iterable[int], sides: Iterable[Side]) -> list[Wish]:
    """What an order audit of these nodes needs: where an opponent is to move on the way, and what he can play to leave it.

    Of all that, what is treated: on a text, or passed by `HEAVY` of the traffic at least.
    """
    asked = np.zeros(graph.nodes, np.bool_)
    for node in tabiyas:
        passage = passage_to(traffic, node)
        for side in sides:
            theirs = graph.white[passage.nodes] != (side is Side.WHITE)
            asked[passage.nodes[theirs]] = True
            asked[[one.child for one in exits_of(passage, side.other, {}) if one.child is not None]] = True
    return _wishes(graph, Reason.ORDER, asked & _treated(graph, traffic), traffic.nodes)


def _treated(graph: Graph, traffic: Traffic) -> NDArray[np.bool_]:
    """Positions on a text, or passed by `HEAVY` of the traffic, where the game goes on."""
    text = (graph.why & (Why.TEXT | Why.ROOT)) != 0
    treated: NDArray[np.bool_] = (graph.outcome == 0) & (graph.legal > 0) & (text | (traffic.nodes >= HEAVY))
    return treated


def _wishes(
    graph: Graph, reason: Reason, chosen: NDArray[np.bool_], shares: NDArray[np.float64]
) -> list[Wish]:
    nodes = np.flatnonzero(chosen)
    nodes = nodes[np.lexsort((nodes, -np.round(shares[nodes], 12)))]
    return [Wish(graph.position(node), reason, float(shares[node])) for node in nodes.tolist()]


def _written_on(graph: Graph) -> NDArray[np.bool_]:
    """Nodes after which a text goes on."""
    written = graph.edge_counts.totals(graph.edges, graph.channels_of(TEXT_KIND)) > 0
    return np.bincount(graph.sources[written], minlength=graph.nodes) > 0


def _walked_in(graph: Graph, traffic: Traffic) -> NDArray[np.int64]:
    """How many moves into each node were played or written and do not return."""
    walked = np.zeros(graph.edges, np.bool_)
    walked[graph.edge_counts.places] = True
    return np.bincount(graph.targets[walked & ~traffic.returns], minlength=graph.nodes)


def _leads_to(graph: Graph, ends: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Nodes with a way to an end of a text or of the game: with no verdict of their own they would be bounded by it."""
    known = ends | (graph.outcome != 0)
    above = np.zeros(graph.nodes, np.bool_)
    reached = 0
    while True:
        above[graph.sources[(known | above)[graph.targets]]] = True
        count = int(above.sum())
        if count == reached:
            return above
        reached = count


def deciding_leaves(graph: Graph, values: VoiceValues, places: Iterable[Position]) -> list[Doubt]:
    """The leaf that decides the value of each place, for one voice."""
    found: dict[Position, None] = {}
    for place in places:
        node = graph.node_of(place)
        leaf = None if node is None else values.at(graph, node).leaf
        if leaf is not None and not graph.outcome[leaf]:
            found[graph.position(leaf)] = None
    return [Doubt((position,), Reason.DECIDES) for position in found]


def close_lines(places: Iterable[tuple[Position, Verdict]]) -> list[Doubt]:
    """The positions after the two best moves of each place, where their scores differ by less than chance makes them."""
    found = []
    for position, verdict in places:
        first, second = (*verdict.lines, None, None)[:2]
        if first is None or second is None or first.score.mate is not None or second.score.mate is not None:
            continue
        expected = expected_of(verdict, first.score)
        apart = abs(expected - expected_of(verdict, second.score))
        if apart < _WIDTH * noise_of(verdict.nodes, expected):
            after = [position.play(Move(line.moves[0])) for line in (first, second)]
            found.append(Doubt(tuple(one for one in after if one.outcome is None), Reason.CLOSE))
    return found
