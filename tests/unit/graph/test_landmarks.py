"""Which places of a graph are drawn, against walking it by hand."""

from __future__ import annotations

import numpy as np
from invented_graph import told

from variorum.board import Line
from variorum.graph import Teller
from variorum.graph.landmarks import heaviest_confluences, inside, landmarks, reached_from


def node_of(tell: Teller, line: str) -> int:
    node = tell.graph.node_of(Line.parse(line).end)
    assert node is not None
    return node


def ways(tell: Teller, start: int, end: int) -> list[list[int]]:
    """Every way from one node to another along traffic, by plain search."""
    if start == end:
        return [[end]]
    return [
        [start, *rest]
        for edge in tell.graph.edges_of(start)
        if tell.traffic.edges[edge] > 0 and not tell.traffic.returns[edge]
        for rest in ways(tell, int(tell.graph.targets[edge]), end)
    ]


def test_confluences_come_by_what_arrives_otherwise() -> None:
    tell = told()
    found = heaviest_confluences(tell.traffic).tolist()
    merging = []
    for node in found:
        arriving = [float(tell.traffic.edges[one.edge]) for one in tell.graph.parents(node)]
        assert len(arriving) > 1
        merging.append(sum(arriving) - max(arriving))
    assert merging == sorted(merging, reverse=True)


def test_landmarks_are_where_lines_meet_or_part_and_so_many_as_were_asked_for() -> None:
    tell = told()
    every = landmarks(tell, 100)
    for node in every:
        out = [edge for edge in tell.graph.edges_of(node) if tell.traffic.edges[edge] > 0]
        assert len(tell.graph.parents(node)) > 1 or len(out) > 1
    assert landmarks(tell, 3) == every[:3]
    among = reached_from(tell.graph, node_of(tell, "d4"))
    assert set(landmarks(tell, 100, among=among)) == {node for node in every if among[node]}


def test_what_is_reached_is_what_a_walk_reaches() -> None:
    tell = told()
    start = node_of(tell, "d4 d5")
    seen, waiting = {start}, [start]
    while waiting:
        for edge in tell.graph.edges_of(waiting.pop()):
            target = int(tell.graph.targets[edge])
            if target not in seen:
                seen.add(target)
                waiting.append(target)
    assert set(np.flatnonzero(reached_from(tell.graph, start)).tolist()) == seen


def test_unfolding_shows_the_forks_and_confluences_inside() -> None:
    tell = told()
    start, end = node_of(tell, "d4 d5 c4"), node_of(tell, "d4 d5 c4 e6 Nc3 Nf6 Nf3 Be7")
    on = {node for way in ways(tell, start, end) for node in way} - {start, end}
    found = inside(tell, start, end, {start, end}, limit=100)
    assert set(found) <= on
    both = node_of(tell, "d4 d5 c4 e6")
    assert both in found
    assert both not in inside(tell, start, end, {start, end, both}, limit=100)


def test_a_stretch_without_forks_shows_each_of_its_positions() -> None:
    tell = told()
    start, end = node_of(tell, "e4"), node_of(tell, "e4 c6 d4 d5 exd5 cxd5")
    assert set(inside(tell, start, end, {start, end})) == {
        node_of(tell, line) for line in ("e4 c6", "e4 c6 d4", "e4 c6 d4 d5", "e4 c6 d4 d5 exd5")
    }


def test_a_line_that_leads_to_no_place_is_followed_a_little() -> None:
    tell = told()
    start, first = (
        node_of(tell, "d4 d5 c4 e6 Nc3 Nf6 Nf3 Be7"),
        node_of(tell, "d4 d5 c4 e6 Nc3 Nf6 Nf3 Be7 Bg5"),
    )
    assert inside(tell, start, first, {start}) == [first]
