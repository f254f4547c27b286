"""The chart against the traffic: what leaves a place goes to another, ends, or is too thin to be drawn."""

from __future__ import annotations

import numpy as np

from variorum.board import DEFAULT_BANDS, Line
from variorum.edition import Place
from variorum.graph import Teller, grow_graph, lay_traffic
from variorum.graph.chart import chart
from variorum.graph.grow import TextLine

LINES = (
    "e4 c6 d4 d5 exd5 cxd5 c4 Nf6 Nc3 e6 Nf3 Be7",
    "d4 d5 c4 c6 cxd5 cxd5 Nc3 Nf6 e4 e6 exd5 exd5",
    "d4 Nf6 c4 e6 Nf3 d5 Nc3 Be7",
    "d4 d5 c4 e6 Nc3 Nf6 Nf3 Be7 Bg5",
    "d4 d5 c4 e6 Nf3 Nf6 Nc3 Be7 Bf4",
    "c4 e6 d4 d5 Nc3 Nf6 Nf3 c6",
)


def told() -> Teller:
    start = Line.parse("")
    texts = [TextLine(line.start, line.packed()) for line in map(Line.parse, LINES)]
    graph = grow_graph([start.start], texts=texts)
    root = Place(text="start", position=start.start, line=start, name="start")
    return Teller(graph, lay_traffic(graph), {}, {}, [root], {}, DEFAULT_BANDS)


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
