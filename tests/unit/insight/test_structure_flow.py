from __future__ import annotations

import random

import numpy as np
import pytest

from variorum import _core
from variorum.board import DEFAULT_BANDS, Line, Position
from variorum.edition import Place
from variorum.graph import Teller, TextLine, grow_graph, lay_traffic
from variorum.insight.structure_flow import StructureFlow, structure_flow
from variorum.insight.structures import structure_codes

PANOV = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
ISOLANI = "isolated queen's pawn (White's)"


def flow_of(*lines: str, root: str = PANOV, at: str | None = None) -> StructureFlow:
    parsed = [Line.parse(line) for line in lines]
    start = Line.parse(root)
    graph = grow_graph(
        [start.end], texts=[TextLine(line.start, line.start.pack(line.moves)) for line in parsed]
    )
    place = Place(text=root, position=start.end, line=start, name=None)
    tell = Teller(graph, lay_traffic(graph), {}, {}, [place], {}, DEFAULT_BANDS)
    node = None if at is None else graph.node_of(Line.parse(at).end)
    return structure_flow("x", tell, node)


def steps(flow: StructureFlow) -> dict[tuple[str, str, str], float]:
    return {(one.before, one.by, one.after): one.flow for one in flow.steps}


def test_a_capture_that_is_retaken_at_once_is_one_step() -> None:
    flow = flow_of(
        f"{PANOV} Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3",
        f"{PANOV} Nf6 5.Nc3 e6 6.Nf3 dxc4 7.Bxc4",
        f"{PANOV} Nf6 5.Nc3 e6 6.c5",
    )
    assert steps(flow) == {
        ("Panov tension (White's)", "c5", "Panov formation (White's)"): 50.0,
        ("Panov tension (White's)", "cxd5 Nxd5", ISOLANI): 25.0,
        ("Panov tension (White's)", "...dxc4 Bxc4", ISOLANI): 25.0,
    }
    assert [(one.name, one.comes, one.ends, one.leaves) for one in flow.structures] == [
        ("Panov tension (White's)", 100.0, 0.0, 0),
        (ISOLANI, 50.0, 50.0, 2),
        ("Panov formation (White's)", 50.0, 50.0, 1),
    ]
    assert [(leaf.structure, leaf.flow) for leaf in flow.leaves] == [
        ("Panov formation (White's)", 50.0),
        (ISOLANI, 25.0),
        (ISOLANI, 25.0),
    ]
    assert all(one.lines == 1 and one.games == 0 for one in flow.steps)


def test_what_is_not_retaken_at_once_stands_alone() -> None:
    flow = flow_of(
        f"{PANOV} Nf6 5.Nc3 e6 6.Nf3 dxc4 7.Bxc4",
        f"{PANOV} Nf6 5.Nc3 e6 6.Nf3 dxc4 7.Bg5",
    )
    assert steps(flow) == {
        ("Panov tension (White's)", "...dxc4 Bxc4", ISOLANI): 50.0,
        ("Panov tension (White's)", "...dxc4", ISOLANI): 50.0,
    }


def test_from_a_place_on_its_own_traffic_is_all() -> None:
    lines = (
        f"{PANOV} Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nxc3 9.bxc3",
        f"{PANOV} Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 O-O",
        f"{PANOV} Nf6 5.Nc3 e6 6.c5",
    )
    flow = flow_of(*lines, at=f"{PANOV} Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3")
    assert flow.line is not None
    assert flow.line.endswith("8.Bd3")
    # The structure changes with the recapture: the pawns are the same after 8...Nxc3.
    assert steps(flow) == {(ISOLANI, "bxc3", "isolated pawn pair (White's)"): 50.0}


def test_a_line_without_pawn_moves_makes_no_step() -> None:
    flow = flow_of(f"{PANOV} Nf6 5.Nc3", root=PANOV)
    assert flow.steps == ()
    assert [(one.name, one.ends) for one in flow.structures] == [("Panov tension (White's)", 100.0)]


def test_skeletons_without_a_name_come_last() -> None:
    flow = flow_of("1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4", root="1.e4")
    assert flow.structures[-1].name == ""
    assert ("", "c4", "Panov tension (White's)") not in steps(flow)  # it was a Caro-Kann Exchange before
    assert ("Caro-Kann Exchange (Black's)", "c4", "Panov tension (White's)") in steps(flow)


@pytest.mark.parametrize("seed", range(6))
def test_what_comes_to_a_structure_ends_there_or_goes_on(seed: int) -> None:
    """The law of the flow, on lines that meet and are full of captures: nothing is lost and nothing counted twice."""
    chance = random.Random(seed)
    start = Line.parse(f"{PANOV} Nf6 5.Nc3 e6 6.Nf3").end
    lines = []
    for _ in range(60):
        position, moves = start, []
        for _ in range(24):
            legal = sorted(position.legal_moves(), key=lambda move: move.uci)
            if not legal:
                break
            units = position.pieces()
            pawns = [move for move in legal if move.uci[2:4] in units or units[move.uci[:2]] in "Pp"]
            moves.append(chance.choice(pawns if pawns and chance.random() < 0.5 else legal[:4]))
            position = position.play(moves[-1])
        lines.append(TextLine(start, start.pack(moves)))
    graph = grow_graph([start], texts=lines)
    place = Place(text="start", position=start, line=Line(start), name=None)
    flow = structure_flow(
        "x", Teller(graph, lay_traffic(graph), {}, {}, [place], {}, DEFAULT_BANDS), steps=10_000
    )
    assert flow.step_count == len(flow.steps) > 40
    assert any(" " in step.by for step in flow.steps)
    for one in flow.structures:
        goes_on = sum(step.flow for step in flow.steps if step.before == one.name)
        assert one.comes == pytest.approx(one.ends + goes_on, abs=0.01)
    assert sum(one.ends for one in flow.structures) == pytest.approx(100.0, abs=0.01)


def test_columns_that_do_not_fit_are_refused() -> None:
    line = Line.parse(PANOV)
    graph = grow_graph([Position.start()], texts=[TextLine(line.start, line.start.pack(line.moves))])
    course = graph.core.course(graph.roots)
    packed, codes = graph.packed.reshape(-1), structure_codes(graph.packed)
    with pytest.raises(ValueError, match="not those of one graph"):
        _core.structure_steps(course, packed, codes[:-1], graph.moves, np.zeros(3 * graph.edges))
    with pytest.raises(ValueError, match="not whole"):
        _core.structure_steps(course, packed, codes, graph.moves, np.zeros(3 * graph.edges - 1))
