"""The orders to a target, all at once: each figure against plain enumeration of paths and strategies on small graphs."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from variorum.base import UsageError
from variorum.board import Line, Move, MoveError, Position, Side
from variorum.graph import Graph, TextLine, Traffic, grow_graph, lay_traffic
from variorum.insight.legal import interleavings
from variorum.insight.passage import Passage, Way, passage_to
from variorum.insight.risks import own_stations

START = Position.start()
KNIGHTS = ("g1f3", "b1c3", "f3g1", "c3b1", "g8f6", "b8c6", "f6g8", "c6b8", "e2e3", "e7e6")
"""Moves that interchange and that come back, so that orders and cycles are many."""


@st.composite
def passages(draw: st.DrawFn) -> Passage:
    """The orders to some position of a graph of random lines, with one root or two."""
    lines, met = [], [START]
    for _ in range(draw(st.integers(1, 4))):
        position, moves = START, []
        for choice in draw(st.lists(st.integers(0, 9), min_size=1, max_size=6)):
            legal = [Move(uci) for uci in KNIGHTS if Move(uci) in position.legal_moves()]
            moves.append(legal[choice % len(legal)])
            position = position.play(moves[-1])
            met.append(position)
        lines.append(TextLine(START, Line(START, tuple(moves)).packed()))
    roots = [START, *draw(st.lists(st.sampled_from(met), max_size=1))]
    graph = grow_graph(roots, texts=lines)
    return passage_to(lay_traffic(graph), draw(st.integers(0, graph.nodes - 1)))


Order = tuple[int, tuple[int, ...]]
"""Where an order starts, and its edges."""


def orders_by_hand(traffic: Traffic, target: int) -> list[Order]:
    """Every way from a root to a node along moves that do not return."""
    graph = traffic.graph

    def walk(node: int, way: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        if node == target:
            yield way
            return
        for edge in graph.edges_of(node):
            if not traffic.returns[edge]:
                yield from walk(int(graph.targets[edge]), (*way, edge))

    return [(root, way) for root in sorted(set(graph.roots.tolist())) for way in walk(root, ())]


def nodes_of(graph: Graph, order: Order) -> list[int]:
    start, edges = order
    return [start, *(int(graph.targets[edge]) for edge in edges)]


def listed_orders(passage: Passage, ways: list[Way]) -> list[Order]:
    return sorted((int(passage.nodes[way.stations[0]]), way.edges) for way in ways)


@settings(max_examples=150, deadline=None)
@given(passages(), st.randoms(use_true_random=False))
def test_counts_weights_and_prices_agree_with_every_order(passage: Passage, random: object) -> None:
    graph, traffic = passage.traffic.graph, passage.traffic
    target = int(passage.nodes[passage.target])
    orders = orders_by_hand(traffic, target)
    assert passage.count == len(orders)
    on_way = {node for way in orders for node in nodes_of(graph, way)}
    assert passage.nodes.tolist() == sorted(on_way)
    for place, node in enumerate(passage.nodes.tolist()):
        assert passage.passing[place] == sum(node in nodes_of(graph, way) for way in orders)
    shared = {place for place in range(passage.size) if passage.passing[place] == len(orders)}
    assert passage.shared == shared
    listed, count = passage.heaviest(10_000)
    assert count == len(orders)
    assert listed_orders(passage, listed) == sorted(orders)
    weights = np.random.default_rng(random.getrandbits(32)).integers(0, 5, passage.size).astype(float)  # type: ignore[attr-defined]
    of_node = dict(zip(passage.nodes.tolist(), weights.tolist(), strict=True))
    least = min(max(of_node[node] for node in nodes_of(graph, way)) for way in orders)
    assert passage.course.least_worst(weights)[passage.target] == least


@settings(max_examples=120, deadline=None)
@given(passages(), st.data())
def test_conditions_choose_among_the_orders(passage: Passage, data: st.DataObject) -> None:
    graph = passage.traffic.graph
    places = st.sets(st.integers(0, passage.size - 1), max_size=3)
    without = data.draw(places)
    through = data.draw(st.lists(places, max_size=2))
    unplayed = data.draw(st.sets(st.sampled_from(passage.edges.tolist() or [0]), max_size=2))
    allowed = []
    for way in orders_by_hand(passage.traffic, int(passage.nodes[passage.target])):
        met = {passage.station_of(node) for node in nodes_of(graph, way)}
        if not met & without and not set(way[1]) & unplayed and all(met & one for one in through):
            allowed.append(way)
    listed, count = passage.heaviest(10_000, without=without, unplayed=unplayed, through=through)
    assert count == len(allowed)
    assert listed_orders(passage, listed) == sorted(allowed)


@settings(max_examples=200, deadline=None)
@given(passages(), st.sampled_from(Side), st.data())
def test_guaranteed_risk_agrees_with_every_strategy(
    passage: Passage, side: Side, data: st.DataObject
) -> None:
    own = own_stations(passage, side)
    takes = np.zeros(passage.size)
    for place in range(passage.size):
        if not own[place] and place != passage.target:
            takes[place] = data.draw(st.sampled_from([0.0, 1.0, 2.0, 3.0, math.inf]))
    forward = {
        place: [int(passage.targets[move]) for move in passage.moves_of(place)]
        for place in range(passage.size)
    }
    leaves = np.full(len(passage.edges), math.inf)
    theirs = [move for move in range(len(passage.edges)) if not own[passage.sources[move]]]
    for move in data.draw(st.sets(st.sampled_from(theirs), max_size=2)) if theirs else ():
        leaves[move] = data.draw(st.sampled_from([0.0, 1.0, 2.0]))
    # Where the side may leave, a place of its own stands before the target: it goes on, or out to a place that ends.
    gates: dict[int, float] = {}
    for move in np.flatnonzero(np.isfinite(leaves)).tolist():
        source, target = int(passage.sources[move]), int(passage.targets[move])
        gate = passage.size + 2 * len(gates)
        gates[gate] = leaves[move]
        forward[source][forward[source].index(target)] = gate
        forward |= {gate: [target, gate + 1], gate + 1: []}
    worst = takes.tolist() + [take for leave in gates.values() for take in (0.0, leave)]
    choosing = [
        place
        for place in forward
        if (place in gates or (place < passage.size and own[place])) and forward[place]
    ]
    if math.prod(len(forward[place]) for place in choosing) > 2_000:
        return
    found = passage.course.guarantee(own, takes, leaves, list(passage.back))
    best = [math.inf] * passage.size
    for choice in itertools.product(*(forward[place] for place in choosing)):
        plan = dict(zip(choosing, choice, strict=True))
        for start in range(passage.size):
            # What the opponent can reach against this plan, going on or back as he likes.
            met, open_ = {start}, [start]
            while open_:
                place = open_.pop()
                back = [to for at, to in passage.back if at == place]
                for to in [plan[place]] if place in plan else forward[place] + back:
                    if to not in met:
                        met.add(to)
                        open_.append(to)
            best[start] = min(best[start], max(worst[place] for place in met))
    assert found.tolist() == best


@settings(max_examples=100, deadline=None)
@given(st.lists(st.integers(0, 19), min_size=1, max_size=8))
def test_legal_orders_agree_with_all_permutations(choices: list[int]) -> None:
    pool = (*KNIGHTS, "d2d4", "e7e5", "d4e5", "f1b5", "b5c6", "d7c6", "f8d6", "d6e5", "e1g1", "f3e5")
    position, moves = START, []
    for choice in choices:
        legal = [Move(uci) for uci in pool if Move(uci) in position.legal_moves()]
        moves.append(legal[choice % len(legal)])
        position = position.play(moves[-1])
    line = Line(START, tuple(moves))
    orders: set[tuple[Move, ...]] = set()
    met: set[Position] = set()
    for mine in set(itertools.permutations(moves[::2])):
        for theirs in set(itertools.permutations(moves[1::2])):
            order = tuple(
                one for pair in itertools.zip_longest(mine, theirs) for one in pair if one is not None
            )
            try:
                positions = Line(START, order).positions()
            except MoveError:
                continue
            if positions[-1] == position:
                orders.add(order)
                met.update(positions)
    found, count = interleavings(line)
    assert count == len(orders)
    assert set(found) == met
    assert len(found) == len(met)


def test_the_orders_of_the_common_tabiya() -> None:
    """Common practice, no source: ...Nc6, ...Be7 and castling interchange at will."""
    line = Line.parse("1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3 Nc6 7.Bd3 Be7 8.O-O O-O")
    root = line.positions()[10]
    tail = Line(root, line.moves[10:])
    found, count = interleavings(tail)
    assert root in found
    assert line.end in found
    castled_first = Line.parse("6.e3 Be7 7.Bd3 O-O 8.O-O Nc6", start=root)
    assert set(castled_first.positions()) <= set(found)
    assert count > 2


def test_too_many_legal_orders_are_refused() -> None:
    line = Line.parse("1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3 Nc6 7.Bd3 Be7 8.O-O O-O")
    with pytest.raises(UsageError, match="too many orders"):
        interleavings(line, most=100)


def test_a_root_is_its_own_order() -> None:
    graph = grow_graph([START], texts=[TextLine(START, Line.parse("1.e4").packed())])
    passage = passage_to(lay_traffic(graph), 0)
    ways, count = passage.heaviest(5)
    assert count == 1
    assert [way.edges for way in ways] == [()]


def test_too_many_conditions_are_refused() -> None:
    graph = grow_graph([START], texts=[TextLine(START, Line.parse("1.e4").packed())])
    with pytest.raises(ValueError, match="6 conditions"):
        passage_to(lay_traffic(graph), 1).heaviest(1, through=[{0}] * 7)
