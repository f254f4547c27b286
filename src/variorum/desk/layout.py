"""Where the places of a chart stand on the sheet.

Layers and their order by Sugiyama's method (igraph), widths by what the moves need, heights by a linear programme (SciPy).

Sugiyama, Tagawa, Toda: Methods for visual understanding of hierarchical system structures, IEEE Trans. SMC 11(2), 1981.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import igraph
import msgspec
import numpy as np
from scipy.optimize import linprog
from scipy.sparse import lil_array

from variorum.graph.chart import Chart

__all__ = ["Sheet", "SheetFlow", "SheetPlace", "lay_out"]

_LETTER: Final = 6.7
"""Pixels of a letter of the moves, at 13 px."""
_BENDS: Final = 52.0
"""Pixels that a line needs to bend off and in."""
_GAP: Final = 3.1
"""Pixels between the lines of a flow, as `map.js` draws them."""
_LABEL: Final = 18.0
"""Pixels of moves above or below a flow."""
_UNDER: Final = 36.0
"""Pixels of score and games below a place."""
_MARGIN: Final = (40.0, 12.0)
_MOST_LINES: Final = 10
_APART: Final = 90.0
"""Pixels from one layer of places to the next, where the moves need less."""
_NAME_LETTER: Final = 9.5
"""Pixels of a letter of the names of roots, which stand left of them."""


class SheetPlace(msgspec.Struct, frozen=True, kw_only=True):
    """A place of the chart and where it stands; `down` is its row in the narrow form, `across` its place there (0 to 1)."""

    number: int
    x: float
    y: float
    across: float


class SheetFlow(msgspec.Struct, frozen=True, kw_only=True):
    """A flow of the chart: how many lines are drawn, at which height they run level, and the moves in two halves."""

    start: int
    end: int
    lines: int
    level: float
    up: str
    down: str


class Sheet(msgspec.Struct, frozen=True, kw_only=True):
    """A chart on paper, in pixels. One line stands for `unit` percent of the traffic."""

    width: float
    height: float
    unit: float
    places: tuple[SheetPlace, ...]
    flows: tuple[SheetFlow, ...]


def lay_out(chart: Chart, moves: Sequence[str]) -> Sheet:
    """Lay out a chart; `moves` are those of its flows as they are printed."""
    count = len(chart.places)
    # Between two layers of places lies one of lines, so that each line has a height of its own.
    layers = [2 * layer for layer in _layers(chart)]
    chains = [_chain(layers[flow.start], layers[flow.end]) for flow in chart.flows]
    rows = _rows(chart, layers, chains)
    halves = [_halves(text) for text in moves]
    xs = _columns(chart, layers, halves)
    heaviest = max((flow.flow for flow in chart.flows), default=1.0)
    unit = heaviest / _MOST_LINES
    lines = [max(1, round(flow.flow / unit)) for flow in chart.flows]
    # What a flow runs at: its first bend, or the end it leads to.
    level_of: list[int] = []
    bend = count
    for flow, chain in zip(chart.flows, chains, strict=True):
        level_of.append(bend if chain else flow.end)
        bend += len(chain)
    heights = _apart(chart, rows, xs, level_of, lines, halves)
    flows = [
        SheetFlow(
            start=flow.start, end=flow.end, lines=number, level=heights[level], up=halved[0], down=halved[1]
        )
        for flow, number, level, halved in zip(chart.flows, lines, level_of, halves, strict=True)
    ]
    top = min(rows, default=0.0)
    span = max(rows, default=0.0) - top
    places = tuple(
        SheetPlace(
            number=number,
            x=xs[number],
            y=heights[number],
            across=(rows[number] - top) / span if span else 0.5,
        )
        for number in range(count)
    )
    return Sheet(
        width=max(xs, default=0.0) + _MARGIN[0],
        height=max(heights, default=0.0) + _UNDER + 2 * _MARGIN[1],
        unit=unit,
        places=places,
        flows=tuple(flows),
    )


class _Box(msgspec.Struct):
    """What must not be printed over: a place or a level run, with its labels; but what meets may touch."""

    row: float
    left: float
    right: float
    above: float
    below: float
    who: int
    meets: frozenset[int] = frozenset()


def _apart(
    chart: Chart,
    rows: list[float],
    xs: list[float],
    level_of: list[int],
    lines: list[int],
    halves: list[tuple[str, str]],
) -> list[float]:
    """Heights of places and bends, in the order of the rows from above."""
    thick = [0.0] * len(chart.places)
    for side in ("start", "end"):
        sums = [0.0] * len(chart.places)
        for flow, number in zip(chart.flows, lines, strict=True):
            sums[getattr(flow, side)] += number * _GAP / 2
        thick = [max(one, two) for one, two in zip(thick, sums, strict=True)]
    boxes = []
    for place in chart.places:
        x, half = xs[place.number], thick[place.number]
        if place.kind == "root":
            boxes.append(_Box(rows[place.number], 0.0, x + 8, max(half, 16.0), max(half, 24.0), place.number))
        elif place.kind != "end":
            tall = max(half, 18.0)
            boxes.append(_Box(rows[place.number], x - 34, x + 34, tall, tall + _UNDER, place.number))
    for flow, level, number, (up, down) in zip(chart.flows, level_of, lines, halves, strict=True):
        half = number * _GAP / 2
        boxes.append(
            _Box(
                rows[level],
                xs[flow.start] + 20,
                xs[flow.end] - (0 if chart.places[flow.end].kind == "end" else 20),
                half + (_LABEL if up else 3),
                half + (_LABEL if down else 3),
                level,
                frozenset((flow.start, flow.end)),
            )
        )
    boxes.sort(key=lambda one: (one.row, one.left))
    pulls = []
    for flow, level in zip(chart.flows, level_of, strict=True):
        pulls.append((flow.start, level, flow.flow))
        if chart.places[flow.end].kind != "end":
            pulls.append((level, flow.end, flow.flow))
    heights = _settled(boxes, pulls, len(rows))
    for flow, level in zip(chart.flows, level_of, strict=True):
        if chart.places[flow.end].kind == "end":
            heights[flow.end] = heights[level]
    return heights


def _settled(boxes: list[_Box], pulls: list[tuple[int, int, float]], count: int) -> list[float]:
    """Heights in which no box covers another and the lines between them bend as little as can be.

    A linear programme: boxes that could cover each other keep their order from above and their distance; what is made least is
    the sum over the lines of their thickness by the height that they climb or fall.
    """
    number = {box.who: at for at, box in enumerate(boxes)}
    size = len(boxes)
    cost = np.concatenate([np.full(size, 1e-6), np.array([weight for *_, weight in pulls])])
    least = [_MARGIN[1] + box.above for box in boxes]
    rows: list[dict[int, float]] = []
    limits: list[float] = []
    for at, box in enumerate(boxes):
        for above in range(at):
            other = boxes[above]
            touch = other.who in box.meets or box.who in other.meets
            if other.left < box.right and box.left < other.right and not touch:
                rows.append({above: 1.0, at: -1.0})
                limits.append(-(other.below + box.above + 3.0))
    for climb, (start, end, _) in enumerate(pulls, start=size):
        one, two = number[start], number[end]
        rows += [{one: 1.0, two: -1.0, climb: -1.0}, {one: -1.0, two: 1.0, climb: -1.0}]
        limits += [0.0, 0.0]
    matrix = lil_array((len(rows), len(cost)))
    for row, entries in enumerate(rows):
        for column, value in entries.items():
            matrix[row, column] = value
    bounds = [(low, None) for low in least] + [(0.0, None)] * len(pulls)
    found = linprog(cost, A_ub=matrix.tocsr(), b_ub=limits, bounds=bounds, method="highs")
    heights = [0.0] * count
    for box, y in zip(boxes, found.x, strict=False):
        heights[box.who] = float(y)
    return heights


def _layers(chart: Chart) -> list[int]:
    """The layer of each place: one behind the last that leads to it. Flows go down the order of places but for rare cycles."""
    layers = [0] * len(chart.places)
    for _ in chart.places:
        changed = False
        for flow in chart.flows:
            if layers[flow.end] <= layers[flow.start] < len(chart.places):
                layers[flow.end], changed = layers[flow.start] + 1, True
        if not changed:
            break
    return layers


def _chain(start: int, end: int) -> list[int]:
    """The layers that a flow passes between its places."""
    return list(range(min(start, end) + 1, max(start, end)))


def _rows(chart: Chart, layers: list[int], chains: list[list[int]]) -> list[float]:
    """Place across of every place, and behind them of every bend of a long flow, so that few lines cross."""
    all_layers = [*layers]
    edges: list[tuple[int, int]] = []
    weights: list[float] = []
    for flow, chain in zip(chart.flows, chains, strict=True):
        last = flow.start
        for layer in chain:
            all_layers.append(layer)
            edges.append((last, len(all_layers) - 1))
            last = len(all_layers) - 1
        edges.append((last, flow.end))
        weights += [flow.flow] * (len(chain) + 1)
    if not all_layers:
        return []
    graph = igraph.Graph(n=len(all_layers), edges=edges, directed=True)
    found = graph.layout_sugiyama(layers=all_layers, weights=weights, hgap=1, vgap=1, maxiter=500)
    rows = [float(at[0]) for at in found[: len(all_layers)]]
    # Of a long flow all bends run level: at the height that most of them have.
    bend = len(layers)
    for chain in chains:
        if chain:
            level = sorted(rows[bend : bend + len(chain)])[len(chain) // 2]
            rows[bend : bend + len(chain)] = [level] * len(chain)
        bend += len(chain)
    return rows


def _columns(chart: Chart, layers: list[int], halves: list[tuple[str, str]]) -> list[float]:
    """Place along of every place: each layer as far right as the moves on the way to it need."""
    needs = [_BENDS * 2 + _LETTER * max(len(up), len(down)) for up, down in halves]
    names = [len(place.name) for place in chart.places if place.kind == "root"]
    at = [_NAME_LETTER * max(names, default=4) + _MARGIN[0]] * (max(layers, default=0) + 1)
    ends = {place.number for place in chart.places if place.kind == "end"}
    for layer in range(2, len(at), 2):
        at[layer] = at[layer - 2] + _APART
        for flow, need in zip(chart.flows, needs, strict=True):
            if layers[flow.end] == layer and flow.end not in ends:
                at[layer] = max(at[layer], at[layers[flow.start]] + need)
    xs = [at[layer] for layer in layers]
    for flow, need in zip(chart.flows, needs, strict=True):
        if flow.end in ends:
            xs[flow.end] = xs[flow.start] + need - _BENDS
    return xs


def _halves(text: str) -> tuple[str, str]:
    """Moves in two halves of like length, cut between a move of Black and one of White where that is possible."""
    words = text.split(" ")
    if len(text) < 26 or len(words) < 3:
        return text, ""
    cuts = range(1, len(words))

    def cost(cut: int) -> tuple[float, int]:
        first = " ".join(words[:cut])
        breaks_a_pair = 0 if "\u00a0" in words[cut] else 6
        return abs(2 * len(first) - len(text)) + breaks_a_pair, cut

    cut = min(cuts, key=cost)
    return " ".join(words[:cut]), " ".join(words[cut:])
