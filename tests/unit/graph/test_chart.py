"""The chart against the traffic: what leaves a place goes to another, ends, or is too thin to be drawn."""

from __future__ import annotations

import numpy as np
from invented_graph import told

from variorum.board import Line
from variorum.graph.chart import chart


def test_what_leaves_a_place_is_drawn_whole() -> None:
    tell = told()
    nodes = [int(node) for node in tell.graph.confluences()]
    assert nodes
    drawn = chart(tell, nodes, least=0.0, ends=1000)
    left = np.zeros(len(drawn.places))
    for flow in drawn.flows:
        left[flow.start] += flow.flow
    for place in drawn.places:
        if place.kind == "end":
            continue
        node = tell.graph.node_of(Line.parse(place.line).end)
        assert node is not None
        out = [edge for edge in tell.graph.edges_of(node) if not tell.traffic.returns[edge]]
        assert np.isclose(left[place.number], 100 * sum(float(tell.traffic.edges[edge]) for edge in out))


def test_moves_lead_from_place_to_place() -> None:
    tell = told()
    drawn = chart(tell, [int(node) for node in tell.graph.confluences()])
    places = {place.number: place for place in drawn.places}
    for flow in drawn.flows:
        start = Line.parse(places[flow.start].line)
        end = Line.parse(flow.moves, start=start.end).end
        assert end == Line.parse(places[flow.end].line).end
    tabiya = Line.parse("d4 d5 c4 e6 Nc3 Nf6 Nf3").end
    assert any(Line.parse(place.line).end == tabiya and place.kind == "confluence" for place in drawn.places)
