"""The chart against the traffic: what leaves a place goes to another, ends, or is too thin to be drawn."""

from __future__ import annotations

import numpy as np
from invented_graph import told

from variorum.board import DEFAULT_BANDS, Line
from variorum.edition import Place
from variorum.graph import Channel, GameBatch, Teller, grow_graph, lay_traffic
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


def test_no_line_from_a_place_is_the_beginning_of_another() -> None:
    tell = told()
    chance = np.random.default_rng(5)
    ends = 0
    for _ in range(60):
        nodes = chance.choice(tell.graph.nodes, int(chance.integers(1, 6)), replace=False).tolist()
        drawn = chart(tell, nodes, least=float(chance.choice([0.0, 0.05, 0.15])), ends=1000)
        for flow in drawn.flows:
            others = [one.moves for one in drawn.flows if one.start == flow.start and one is not flow]
            assert not any(f"{other} ".startswith(f"{flow.moves} ") for other in others), (flow, others)
        ends += sum(place.kind == "end" for place in drawn.places)
    assert ends > 100


def test_a_line_that_parts_late_is_drawn_to_where_it_parts() -> None:
    tell = told()
    tabiya = Line.parse("d4 d5 c4 e6 Nf3 Nf6 Nc3 Be7").end
    node = tell.graph.node_of(tabiya)
    assert node is not None
    drawn = chart(tell, [node], least=0.001, ends=1000)
    root = next(place.number for place in drawn.places if place.kind == "root")
    moves = [flow.moves for flow in drawn.flows if flow.start == root]
    # 1.d4 d5 2.c4 goes on to the tabiya by 2...e6, and elsewhere by 2...c6; it is not drawn by itself.
    assert any(line.startswith("1.d4 d5 2.c4 c6") for line in moves)
    for line in moves:
        end = Line.parse(line).end
        assert end == tabiya or not any(other.startswith(f"{line} ") for other in moves)


def test_a_way_that_hardly_anybody_takes_makes_no_confluence() -> None:
    start = Line.parse("")
    usual, rare = Line.parse("d4 d5 c4 e6 Nc3 Nf6"), Line.parse("c4 e6 d4 d5 Nc3 Nf6")
    root = Place(text="start", position=start.start, line=start, name="start")

    def kinds(often: int) -> set[str]:
        lines = [usual] * often + [rare]
        batch = GameBatch(
            Channel("practice"),
            np.arange(len(lines) + 1, dtype=np.uint64) * 6,
            np.concatenate([line.packed() for line in lines]),
            np.zeros(len(lines), np.uint16),
            np.ones(len(lines), np.uint8),
        )
        graph = grow_graph([start.start], games=lambda: [batch], game_count=len(lines))
        tell = Teller(graph, lay_traffic(graph), {}, {}, [root], {}, DEFAULT_BANDS)
        meeting = graph.node_of(Line.parse("d4 d5 c4 e6").end)
        assert meeting is not None
        return {place.kind for place in chart(tell, [meeting], least=0.0).places}

    assert "confluence" in kinds(50)
    assert kinds(200) == {"root", "fork", "end"}
