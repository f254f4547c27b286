"""What the opponent can take on the way to a target, by one voice and for one side (methods.md 4)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from variorum.board import Side
from variorum.insight.deviations import Exit
from variorum.insight.passage import Passage
from variorum.insight.takes import Span, Worth, Worths, take

__all__ = ["Risks", "own_stations", "risks_of"]


@dataclass(frozen=True, eq=False)
class Risks:
    """One voice's risks for one side: of each deviation, of each station, and what the side can guarantee."""

    takes: tuple[Span, ...]
    noise: tuple[float | None, ...]
    """Of each deviation of the side, in its order."""
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    """Of each station, the worst that the opponent can do by leaving there, at least and at most, not below 0."""
    rest: NDArray[np.float64]
    """Of each station, what a move that nobody named could take at most; infinite where the voice has not judged it."""
    least_low: float
    least_high: float
    """The least risk over all orders, deviations that every order allows left out."""
    guaranteed_low: NDArray[np.float64]
    guaranteed_high: NDArray[np.float64]
    """From each station on, by minimax; at most: moves that nobody named counted with what they could take."""

    def along(self, stations: Iterable[int]) -> Span:
        """The worst on the way through these stations."""
        at = np.fromiter(stations, np.int64)
        return Span(float(self.low[at].max(initial=0.0)), float(self.high[at].max(initial=0.0)))

    def guaranteed(self, station: int) -> Span:
        """What can be guaranteed from a station on."""
        return Span(float(self.guaranteed_low[station]), float(self.guaranteed_high[station]))

    def price(self, stations: Iterable[int]) -> Span:
        """How much more than the best order an order through these stations costs; those that all orders pass left out."""
        own = self.along(stations)
        if own.is_exact and self.least_low == self.least_high:
            exact = max(0.0, own.low - self.least_low)
            return Span(exact, exact)
        return Span(max(0.0, own.low - self.least_high), own.high - self.least_low)


def own_stations(passage: Passage, side: Side) -> NDArray[np.bool_]:
    """Whether it is a side's turn at each station."""
    white: NDArray[np.bool_] = passage.traffic.graph.white[passage.nodes]
    return white if side is Side.WHITE else ~white


def risks_of(
    passage: Passage, side: Side, deviations: Sequence[Exit], values: Worths, target: Worth
) -> Risks:
    """One voice's risks.

    Args:
        passage: The orders.
        side: Whose risks.
        deviations: The opponent's moves that leave the orders.
        values: What the voice thinks.
        target: What it thinks of the target.
    """
    found = [
        take(target, values.of_move(int(passage.nodes[one.station]), one.packed, one.child), side)
        for one in deviations
    ]
    rest = _rest(passage, side, values, target, deviations)
    return _risks(passage, side, deviations, found, rest, _leaves(passage, side, values, target))


def _rest(
    passage: Passage, side: Side, values: Worths, target: Worth, deviations: Sequence[Exit]
) -> NDArray[np.float64]:
    """What moves of the opponent that nobody named could take at each station, at most; 0 where the side is to move."""
    graph = passage.traffic.graph
    named: dict[int, set[int]] = {}
    for leaving in deviations:
        named.setdefault(leaving.station, set()).add(leaving.packed)
    most = np.zeros(passage.size)
    for station in np.flatnonzero(~own_stations(passage, side)).tolist():
        if station != passage.target:
            node = int(passage.nodes[station])
            known = named.get(station, set()) | {int(graph.moves[edge]) for edge in graph.edges_of(node)}
            span, _ = take(target, values.of_the_rest(node, known), side)
            most[station] = max(0.0, span.high)
    return most


def _leaves(
    passage: Passage, side: Side, values: Worths, target: Worth
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What the side gives up, at least and at most, by leaving after a move of the opponent that nobody has played or written.

    After the others it stays: infinite.
    """
    graph = passage.traffic.graph
    walked = np.zeros(graph.edges, np.bool_)
    walked[graph.edge_counts.places] = True
    low = np.full(len(passage.edges), math.inf)
    high = low.copy()
    theirs = ~own_stations(passage, side)[passage.sources] & ~walked[passage.edges]
    for move in np.flatnonzero(theirs).tolist():
        station = int(passage.targets[move])
        if station != passage.target:
            span, _ = take(target, values.of_node(int(passage.nodes[station])), side)
            low[move], high[move] = max(0.0, span.low), max(0.0, span.high)
    return low, high


def _risks(
    passage: Passage,
    side: Side,
    deviations: Sequence[Exit],
    found: Sequence[tuple[Span, float | None]],
    rest: NDArray[np.float64],
    leaves: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> Risks:
    low, high = np.zeros(passage.size), np.zeros(passage.size)
    for leaving, (span, _) in zip(deviations, found, strict=True):
        low[leaving.station] = max(low[leaving.station], span.low)
        high[leaving.station] = max(high[leaving.station], span.high)
    parted = np.ones(passage.size, np.bool_)
    parted[list(passage.shared)] = False
    course, target, back = passage.course, passage.target, list(passage.back)
    own = own_stations(passage, side)
    return Risks(
        takes=tuple(span for span, _ in found),
        noise=tuple(noise for _, noise in found),
        low=low,
        high=high,
        rest=rest,
        least_low=float(course.least_worst(np.where(parted, low, 0.0))[target]),
        least_high=float(course.least_worst(np.where(parted, high, 0.0))[target]),
        guaranteed_low=course.guarantee(own, low, leaves[0], back),
        guaranteed_high=course.guarantee(own, np.maximum(high, rest), leaves[1], back),
    )
