"""Where the lines of a graph go: a flow from structure to structure, by which breaks, and the structures of its leaves."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.graph import Graph, Teller
from variorum.graph.graph import NO_NODE, TEXT_KIND
from variorum.insight.structures import NO_STRUCTURE, catalogue, structure_codes

__all__ = ["LeafSaid", "StepSaid", "StructureFlow", "StructureSaid", "structure_flow"]

UNNAMED: Final = ""
"""What stands for a skeleton without a name."""

_KINDS: Final = ("", "", "N", "B", "R", "Q", "K")
_Break = tuple[bool, int, int, int, bool]


class StructureSaid(msgspec.Struct, frozen=True, kw_only=True):
    """A structure, or (without a name) all skeletons that have none.

    `positions` is how many of the graph have it, `leaves` how many lines of the texts end in it. `comes` is the traffic that
    starts in it or comes into it (again, where it had left it), `ends` what ends there, in percent of all. `fen` is the
    position with this structure that most traffic passes, `line` the heaviest line to it.
    """

    name: str
    white: str
    black: str
    sources: tuple[str, ...]
    positions: int
    leaves: int
    comes: float
    ends: float
    line: str
    fen: str


class StepSaid(msgspec.Struct, frozen=True, kw_only=True):
    """A step between structures by a break: `d5`, `...exd4`, or a capture with the recapture, `...cxd4 exd4`.

    `flow` is in percent of the traffic; `games` and `lines` are the games and lines of the texts that take it, by whatever
    order they came.
    """

    before: str
    after: str
    by: str
    flow: float
    games: int
    lines: int


class LeafSaid(msgspec.Struct, frozen=True, kw_only=True):
    """A position where a line of the texts ends, by the heaviest line, with the traffic that comes there in percent."""

    line: str
    structure: str
    flow: float


class StructureFlow(msgspec.Struct, frozen=True, kw_only=True):
    """Where the lines go, from the place `line` on, or from the roots where that is `None`.

    `named` of the `positions` have a structure with a name.
    Structures are by the traffic that comes to them, steps and leaves by flow, at most so many as were asked for;
    `step_count` and `leaf_count` are how many there are.
    """

    title: str
    place: str
    line: str | None
    mix: str
    positions: int
    named: int
    structures: tuple[StructureSaid, ...]
    step_count: int
    steps: tuple[StepSaid, ...]
    leaf_count: int
    leaves: tuple[LeafSaid, ...]


def structure_flow(
    title: str, tell: Teller, node: int | None = None, *, steps: int = 24, leaves: int = 12
) -> StructureFlow:
    """The flow between the structures of a graph, from a node on or (`None`) from its roots.

    Args:
        title: The edition's.
        tell: The graph with its traffic.
        node: Where to start.
        steps: At most so many steps.
        leaves: At most so many leaves.
    """
    graph, traffic = tell.graph, tell.traffic
    course, starts, nodes, edges = traffic.course, traffic.starts, traffic.nodes, traffic.edges
    if node is not None:
        course = graph.core.course(np.array([node], np.uint32))
        starts = np.zeros(graph.nodes)
        starts[node] = 1.0
        nodes, edges = course.flow(starts, traffic.shares)
    reached = np.flatnonzero(course.depth != NO_NODE)
    codes = structure_codes(graph.packed)
    found = _steps(graph, course, codes, edges)
    ends = nodes - np.bincount(
        graph.sources, weights=np.where(course.returns, 0.0, edges), minlength=graph.nodes
    )
    is_leaf = _leaves(graph)
    final = reached[is_leaf[reached]]
    final = final[np.lexsort((final, -nodes[final]))]
    place = None if node is None else tell.way(node)
    return StructureFlow(
        title=title,
        place="" if node is None else tell.name_of(node) or "",
        line=None if place is None else place.san(),
        mix=traffic.words,
        positions=len(reached),
        named=int((codes[reached] != NO_STRUCTURE).sum()),
        structures=_structures(tell, codes, reached, nodes, is_leaf, _coming(starts, codes, found), ends),
        step_count=len(found),
        steps=tuple(_step(one) for one in found[:steps]),
        leaf_count=len(final),
        leaves=tuple(
            LeafSaid(
                line=tell.way(leaf).san(), structure=_words(int(codes[leaf])), flow=_percent(nodes[leaf])
            )
            for leaf in final[:leaves].tolist()
        ),
    )


def _leaves(graph: Graph) -> NDArray[np.bool_]:
    """Which nodes are on a line of the texts and have no move of the texts after them."""
    texts = graph.channels_of(TEXT_KIND)
    written = graph.node_counts.totals(graph.nodes, texts) > 0
    onward = graph.sources[graph.edge_counts.totals(graph.edges, texts) > 0]
    written[onward] = False
    return written


class _Step(msgspec.Struct, frozen=True):
    before: int
    after: int
    by: str
    flow: float
    games: float
    lines: float


def _steps(
    graph: Graph, course: _core.Course, codes: NDArray[np.uint16], flow: NDArray[np.float64]
) -> list[_Step]:
    texts = graph.channels_of(TEXT_KIND)
    games = graph.edge_counts.totals(graph.edges, ~texts)
    lines = graph.edge_counts.totals(graph.edges, texts)
    weights = np.ascontiguousarray(np.column_stack([flow, games, lines]).reshape(-1))
    packed = np.ascontiguousarray(graph.packed).reshape(-1)
    found = [
        _Step(before, after, _break(by) + (f" {_break(again, first=False)}" if again else ""), *counts)
        for before, after, by, again, counts in _core.structure_steps(
            course, packed, codes, graph.moves, weights
        )
    ]
    found.sort(key=lambda one: (-round(one.flow, 9), -one.games, -one.lines, one.before, one.after, one.by))
    return found


def _break(by: _Break, *, first: bool = True) -> str:
    white, kind, file, to, takes = by
    square = f"{'abcdefgh'[to % 8]}{to // 8 + 1}"
    origin = _KINDS[kind] or ("abcdefgh"[file] if takes else "")
    return f"{'' if white or not first else '...'}{origin}{'x' if takes else ''}{square}"


def _step(one: _Step) -> StepSaid:
    return StepSaid(
        before=_words(one.before),
        after=_words(one.after),
        by=one.by,
        flow=_percent(one.flow),
        games=round(one.games),
        lines=round(one.lines),
    )


def _coming(
    starts: NDArray[np.float64], codes: NDArray[np.uint16], found: list[_Step]
) -> Mapping[int, float]:
    """What starts in each structure or comes into it, by code."""
    coming: defaultdict[int, float] = defaultdict(float)
    for root in np.flatnonzero(starts).tolist():
        coming[int(codes[root])] += float(starts[root])
    for one in found:
        coming[one.after] += one.flow
        coming[one.before] += 0.0
    return coming


def _structures(
    tell: Teller,
    codes: NDArray[np.uint16],
    reached: NDArray[np.intp],
    flow: NDArray[np.float64],
    is_leaf: NDArray[np.bool_],
    coming: Mapping[int, float],
    ends: NDArray[np.float64],
) -> tuple[StructureSaid, ...]:
    # What stands on the board between a capture and the recapture only is nobody's structure.
    present = sorted(set(coming) | {int(code) for code in codes[reached[is_leaf[reached]]]})
    present.sort(key=lambda code: (code == NO_STRUCTURE, -round(float(coming[code]), 9), code))
    return tuple(
        _structure(tell, code, reached[codes[reached] == code], flow, is_leaf, coming, ends)
        for code in present
    )


def _structure(
    tell: Teller,
    code: int,
    nodes: NDArray[np.intp],
    flow: NDArray[np.float64],
    is_leaf: NDArray[np.bool_],
    coming: Mapping[int, float],
    ends: NDArray[np.float64],
) -> StructureSaid:
    found = catalogue().of_code(code)
    heaviest = tell.way(int(nodes[np.argmax(flow[nodes])]))
    return StructureSaid(
        name=_words(code),
        white="" if found is None else found.structure.white,
        black="" if found is None else found.structure.black,
        sources=() if found is None else found.structure.sources,
        positions=len(nodes),
        leaves=int(is_leaf[nodes].sum()),
        comes=_percent(coming[code]),
        ends=_percent(float(ends[nodes].sum())),
        line=heaviest.san(),
        fen=heaviest.end.fen,
    )


def _words(code: int) -> str:
    found = catalogue().of_code(code)
    return UNNAMED if found is None else found.words


def _percent(share: float) -> float:
    return round(100.0 * max(float(share), 0.0), 4)
