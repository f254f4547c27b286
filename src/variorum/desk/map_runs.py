"""The lines of a map as runs at one height between two bends, and in which orders from above they can lie."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import igraph
import msgspec

from variorum.desk.map_order import Bend, Extent, best_orders
from variorum.graph.chart import Chart

__all__ = ["GAP", "Run", "orders"]

GAP: Final = 3.1
"""Pixels between the lines of a flow, as `mapdraw.js` draws them."""
_FEW: Final = 70
_MOST_TRIED: Final = 150
_STARTS: Final = 3
"""Of few marks the order is looked for from several beginnings, of very many from one and without moving blocks."""


class Run(msgspec.Struct, frozen=True):
    """What the parts of the layout know of a flow. Its level run is the mark `run`."""

    start: int
    end: int
    run: int
    lines: int
    weight: float
    ends: bool
    up: str
    down: str
    bends: tuple[float, float]
    """Where its level run begins and where it ends."""

    @property
    def half(self) -> float:
        """Half of what its lines take across."""
        return self.lines * GAP / 2


def orders(chart: Chart, layers: list[int], xs: list[float], flows: Sequence[Run]) -> list[list[int]]:
    """Orders from above of the places and then the level runs, in which as little crosses as was found.

    Args:
        chart: Places and flows.
        layers: Of each place, how many lie before it.
        xs: Where each place stands along.
        flows: The flows.
    """
    extents = [
        Extent(xs[place.number], xs[place.number], 0.0)
        if place.kind == "end"
        else Extent(xs[place.number] - 30.0, xs[place.number] + 30.0, 6.0)
        for place in chart.places
    ]
    bends = []
    for flow in flows:
        cost = 1.0 + flow.lines / 4
        left, right = flow.bends
        extents.append(Extent(left, right, cost))
        bends.append(Bend(flow.start, flow.run, xs[flow.start], left, cost))
        if not flow.ends:
            bends.append(Bend(flow.run, flow.end, right, xs[flow.end], cost))
    start = _first_order(chart, layers, flows)
    if len(extents) > _MOST_TRIED:
        return best_orders([start], extents, bends)
    chance = random.Random(len(extents))
    others = _STARTS if len(extents) <= _FEW else 0
    starts = [start, list(range(len(extents))), *(chance.sample(start, len(start)) for _ in range(others))]
    return best_orders(starts, extents, bends, _blocks(chart, flows))


def _blocks(chart: Chart, flows: Sequence[Run]) -> list[frozenset[int]]:
    """Marks that belong together: a place with the runs that leave it, that come to it, with all of them."""
    found = []
    for place in chart.places:
        outs = {flow.run for flow in flows if flow.start == place.number}
        ins = {flow.run for flow in flows if flow.end == place.number}
        found += [_behind(place.number, flows)]
        found += [
            frozenset(ins | {place.number}),
            frozenset(outs | {place.number}),
            frozenset(ins | outs | {place.number}),
        ]
    return [block for block in dict.fromkeys(found) if len(block) > 1]


def _behind(place: int, flows: Sequence[Run]) -> frozenset[int]:
    """A place with all that follows it."""
    found, waiting = {place}, [place]
    while waiting:
        at = waiting.pop()
        for flow in flows:
            if flow.start == at and flow.run not in found:
                found |= {flow.run, flow.end}
                waiting.append(flow.end)
    return frozenset(found)


def _first_order(chart: Chart, layers: list[int], flows: Sequence[Run]) -> list[int]:
    """Sugiyama's order: between two layers of places lies one of lines, so that each line has a height of its own."""
    all_layers = [2 * layer for layer in layers]
    edges: list[tuple[int, int]] = []
    weights: list[float] = []
    bends: list[list[int]] = []
    for flow in flows:
        between = range(
            min(all_layers[flow.start], all_layers[flow.end]) + 1,
            max(all_layers[flow.start], all_layers[flow.end]),
        )
        chain = list(range(len(all_layers), len(all_layers) + len(between)))
        all_layers += between
        steps = [flow.start, *chain, flow.end]
        edges += pairwise(steps)
        weights += [flow.weight] * (len(chain) + 1)
        bends.append(chain)
    if not all_layers:
        return []
    graph = igraph.Graph(n=len(all_layers), edges=edges, directed=True)
    found = graph.layout_sugiyama(layers=all_layers, weights=weights, hgap=1, vgap=1, maxiter=500)
    rows = [float(at[0]) for at in found[: len(all_layers)]]
    # Of a long line all bends run level: at the height that most of them have.
    levels = [
        sorted(rows[bend] for bend in chain)[len(chain) // 2] if chain else rows[flow.end]
        for flow, chain in zip(flows, bends, strict=True)
    ]
    across = [*rows[: len(chart.places)], *levels]
    return sorted(range(len(across)), key=lambda mark: (across[mark], mark))
