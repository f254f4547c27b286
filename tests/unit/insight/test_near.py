from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from known_facts import facts, named

from variorum.base import Interrupted, Silent
from variorum.board import Line, Position, Score, Verdict, VerdictLine
from variorum.graph import Graph, TextLine, back_up_values, grow_graph, lay_traffic
from variorum.insight.distance import is_dark
from variorum.insight.mirror import mirrored_line, mirrored_position
from variorum.insight.near import Near, find_near

START = Position.start()
ROOTS = [
    START,
    Position.from_fen("rnbqkbnr/pppppppp/8/8/8/P7/1PPPPPPP/RNBQKBNR w KQkq - 0 1"),
    Position.from_fen("rnbqkbnr/ppppppp1/7p/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1"),
    Position.from_fen("rnbqkb1r/pppppppp/5n2/8/8/8/PPPPPPPP/RNBQKBNR b KQkq - 0 1"),
]


def wander(start: Position, choices: Sequence[int]) -> TextLine:
    """A line of the first legal moves, so that lines from several roots stay alike."""
    position, moves = start, []
    for choice in choices:
        legal = position.legal_moves()
        if not legal:
            break
        moves.append(legal[choice % min(len(legal), 9)])
        position = position.play(moves[-1])
    return TextLine(start, start.pack(moves))


def grown(lines: Sequence[TextLine], roots: Sequence[Position] = ROOTS) -> Graph:
    return grow_graph(roots, texts=lines)


def near(graph: Graph, node: int | None = None, limit: int = 100_000) -> Near:
    return find_near(graph, lay_traffic(graph), {}, node=node, limit=limit)


Unit = tuple[str, str]


def differing(one: dict[str, str], other: dict[str, str]) -> tuple[frozenset[Unit], frozenset[Unit], int]:
    """What each has alone, and how many units differ, like ones counted once."""
    here, there = frozenset(one.items() - other.items()), frozenset(other.items() - one.items())
    kin = [
        Counter((letter, letter in "bB" and is_dark(square)) for square, letter in units)
        for units in (here, there)
    ]
    return here, there, sum(max(kin[0][key], kin[1][key]) for key in kin[0] | kin[1])


def ancestors(graph: Graph, node: int, plies: int) -> set[int]:
    found, level = {node}, {node}
    for _ in range(plies):
        level = {arrival.node for one in level for arrival in graph.parents(one)} - found
        found |= level
    return found


def by_hand(graph: Graph) -> dict[tuple[int, int, bool], tuple[frozenset[Unit], frozenset[Unit], int]]:
    """All pairs that count, straight from methods.md 6."""
    positions = [graph.position(node) for node in range(graph.nodes)]
    boards = [position.pieces() for position in positions]
    turned = [mirrored_position(position).pieces() for position in positions]
    below = [ancestors(graph, node, 8) for node in range(graph.nodes)]
    above = [ancestors(graph, node, 6) for node in range(graph.nodes)]
    found = {}
    for one, other in itertools.combinations(range(graph.nodes), 2):
        apart = one not in below[other] and other not in below[one] and not above[one] & above[other]
        for twin, second in ((False, boards), (True, turned)):
            here, there, units = differing(boards[one], second[other])
            if units <= 2 and (apart or (twin and units == 0)):
                found[one, other, twin] = here, there, units
    return found


lines = st.lists(
    st.builds(wander, st.sampled_from(ROOTS), st.lists(st.integers(0, 8), max_size=10)),
    min_size=1,
    max_size=8,
)


@settings(max_examples=60, deadline=None)
@given(lines)
def test_all_pairs_against_brute_force(lines: list[TextLine]) -> None:
    graph = grown(lines)
    expected = by_hand(graph)
    found = near(graph)
    twins = sum(twin for _, _, twin in expected)
    assert (found.near, found.twins) == (len(expected) - twins, twins)
    assert found.all_groups == len(found.groups)
    groups: Counter[tuple[bool, frozenset[object]]] = Counter()
    for (one, _, twin), (here, there, _) in expected.items():
        groups[twin, one_way(here, there, twin) or pawns(graph.position(one), twin)] += 1
    assert Counter((group.twin, group.count) for group in found.groups) == Counter(
        (twin, count) for (twin, _), count in groups.items()
    )
    for group in found.groups:
        assert 1 <= len(group.pairs) == min(group.count, 3)
        for pair in group.pairs:
            assert pair.here < pair.there
            assert expected[pair.here, pair.there, group.twin][2] == group.units
    interest = [group.pairs[0].interest for group in found.groups]
    assert interest == sorted(interest, reverse=True)


def turn(units: frozenset[Unit]) -> frozenset[Unit]:
    return frozenset((square[0] + str(9 - int(square[1])), letter.swapcase()) for square, letter in units)


def one_way(here: frozenset[Unit], there: frozenset[Unit], twin: bool) -> frozenset[object]:
    """A difference, whichever of the pair it is seen from; empty where nothing differs."""
    if not here and not there:
        return frozenset()
    return frozenset({(here, there), (turn(there), turn(here)) if twin else (there, here)})


def pawns(position: Position, twin: bool) -> frozenset[object]:
    """The pawns of both sides, seen from either for twins."""
    own = frozenset((square, letter) for square, letter in position.pieces().items() if letter in "Pp")
    return frozenset({own, turn(own)}) if twin else frozenset({own})


@settings(max_examples=25, deadline=None)
@given(lines)
def test_the_pairs_of_a_node_against_brute_force(lines: list[TextLine]) -> None:
    graph = grown(lines)
    expected = by_hand(graph)
    for node in range(graph.nodes):
        own = {(other if one == node else one, twin) for one, other, twin in expected if node in (one, other)}
        found = near(graph, node)
        assert {(group.pairs[0].there, group.twin) for group in found.groups} == own
        assert all(group.pairs[0].here == node for group in found.groups)


@settings(max_examples=20, deadline=None)
@given(lines)
def test_with_colours_reversed_the_same_pairs_are_found(lines: list[TextLine]) -> None:
    def turned(line: TextLine) -> TextLine:
        mirrored = mirrored_line(Line(line.start, line.start.unpack(line.moves)))
        return TextLine(mirrored.start, mirrored.packed())

    one, other = (
        near(grown(lines)),
        near(grown(list(map(turned, lines)), list(map(mirrored_position, ROOTS)))),
    )
    assert (one.near, one.twins, one.all_groups) == (other.near, other.twins, other.all_groups)


@named(facts("R"))
def test_reversals_are_found(fact: list[str]) -> None:
    """`data/known_facts.md` (b), common practice, no source: both lines from the start, and found on either side."""
    first, second = Line.parse(fact[1]), Line.parse(fact[2])
    graph = grow_graph([START], texts=[TextLine(START, line.packed()) for line in (first, second)])
    ends = {graph.node_of(first.end), graph.node_of(second.end)}
    twins = [
        {pair.here, pair.there}
        for group in near(graph).groups
        if group.twin and group.units == 0
        for pair in group.pairs
    ]
    assert ends in twins


def test_siblings_do_not_count_and_others_do() -> None:
    """…h6 put in eight plies before the end is no longer a sibling of the line without it."""
    long = "1.d4 Nf6 2.c4 e6 3.Nc3 d5 4.Nf3 Be7 5.Bg5 O-O 6.e3 Nbd7"
    late = f"{long} 7.Rc1 h6 8.Bh4"
    graph = grow_graph([START], texts=[TextLine(START, Line.parse(text).packed()) for text in (long, late)])
    assert near(graph).near == 0
    with_h6 = Line.parse("1.a3 h6 2.d4 Nf6 3.c4 e6 4.Nc3 d5 5.Nf3 Be7 6.e3 O-O 7.Bd3")
    without = Line.parse("1.d4 Nf6 2.c4 e6 3.Nc3 d5 4.Nf3 Be7 5.e3 O-O 6.Bd3")
    graph = grow_graph([START], texts=[TextLine(START, line.packed()) for line in (with_h6, without)])
    node, other = graph.node_of(with_h6.end), graph.node_of(without.end)
    found = [group.pairs[0] for group in near(graph, node).groups if not group.twin]
    assert other in [pair.there for pair in found]


def test_values_that_differ_are_more_interesting() -> None:
    lines = [TextLine(root, root.pack([])) for root in ROOTS[:3]]
    graph = grow_graph(ROOTS[:3], texts=lines)
    traffic = lay_traffic(graph)
    verdicts = [
        Verdict(
            key=root.key,
            epd=root.epd,
            voice="invented",
            version="1",
            lines=(VerdictLine((root.legal_moves()[0].uci,), Score.of_cp(cp)),),
            nodes=300_000,
        )
        for root, cp in zip(ROOTS[:3], (0, 0, 300), strict=True)
    ]
    values = back_up_values(graph, verdicts)
    found = find_near(graph, traffic, values, limit=10)
    nodes = [graph.node_of(root) for root in ROOTS[:3]]
    interest = {
        frozenset((pair.here, pair.there)): pair.interest
        for group in found.groups
        for pair in group.pairs
        if not group.twin
    }
    same, other = interest[frozenset(nodes[:2])], interest[frozenset({nodes[0], nodes[2]})]
    flow = [float(traffic.nodes[node]) for node in nodes]
    assert same == pytest.approx(100 * min(flow[:2]) * 3 / 2)
    assert other == pytest.approx(100 * min(flow[0], flow[2]) * 3 * 3 / 2)


def test_the_search_can_be_stopped() -> None:
    graph = grown([TextLine(START, np.array([], np.uint16))])
    progress = Silent()
    progress.stop = True
    with pytest.raises(Interrupted):
        find_near(graph, lay_traffic(graph), {}, limit=1, progress=progress)
