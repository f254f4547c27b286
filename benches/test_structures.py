"""Structures over a million positions: budget 3 seconds on two cores for naming them and for the flow between them.

Beside it, in the same run, a sample named by the same words with the boards of `chess`: the ratio is per position. The positions of
a graph are few, so its columns are repeated: one graph many times over, side by side.
"""

from __future__ import annotations

import random
import time
from typing import Any

import chess
import numpy as np
import pytest

from variorum import _core
from variorum.board import Position
from variorum.graph import Graph, TextLine, grow_graph, lay_traffic
from variorum.graph.graph import TEXT_KIND
from variorum.insight.squares import square_columns
from variorum.insight.structures import catalogue, structure_codes

POSITIONS = 1_000_000
LINES, PLIES = 600, 50
SAMPLE = 2_000


def copies(graph: Graph, number: int) -> dict[str, Any]:
    """The columns of `number` graphs side by side."""
    nodes, edges = graph.nodes, graph.edges
    nth = np.arange(number, dtype=np.uint32)
    starts = (graph.offsets[:-1][None, :] + edges * nth[:, None]).reshape(-1)
    return {
        "offsets": np.append(starts, np.uint32(edges * number)).astype(np.uint32),
        "targets": (graph.targets[None, :] + nodes * nth[:, None]).reshape(-1).astype(np.uint32),
        "roots": (graph.roots[None, :] + nodes * nth[:, None]).reshape(-1).astype(np.uint32),
        "packed": np.tile(graph.packed, (number, 1)),
        "moves": np.tile(graph.moves, number),
    }


def satisfied(words: str, pawns: set[str]) -> bool:
    return all(
        any(pawn.startswith(part) for pawn in pawns for part in word.removeprefix("-").split("/"))
        is not word.startswith("-")
        for word in words.split()
    )


def named_with_chess(board: chess.Board) -> list[str]:
    """The structures of a board, square by square."""
    sides = [
        [{chess.square_name(one) for one in seen.pieces(chess.PAWN, side)} for side in chess.COLORS]
        for seen in (board, board.mirror())
    ]
    return [
        one.name
        for white, black in sides
        for one in catalogue().structures
        if satisfied(one.white, white) and satisfied(one.black, black)
    ]


@pytest.fixture(scope="module")
def graph() -> Graph:
    chance = random.Random(17)
    start = Position.start()
    lines = []
    for _ in range(LINES):
        position, moves = start, []
        for _ in range(PLIES):
            legal = position.legal_moves()
            if not legal:
                break
            moves.append(chance.choice(legal))
            position = position.play(moves[-1])
        lines.append(TextLine(start, start.pack(moves)))
    return grow_graph([start], texts=lines)


@pytest.mark.benchmark(group="structures")
def test_flow_between_structures_of_a_million(benchmark: Any, graph: Graph) -> None:
    number = -(-POSITIONS // graph.nodes)
    many = copies(graph, number)
    core = _core.GraphCore(many["offsets"], many["targets"])
    course = core.course(many["roots"])
    texts = graph.edge_counts.totals(graph.edges, graph.channels_of(TEXT_KIND))
    weights = np.column_stack([lay_traffic(graph).edges, texts, texts])
    rows = np.ascontiguousarray(np.tile(weights, (number, 1)).reshape(-1))
    packed = many["packed"].reshape(-1)

    def flow() -> Any:
        codes = structure_codes(many["packed"])
        return _core.structure_steps(course, packed, codes, many["moves"], rows)

    found = benchmark.pedantic(flow, rounds=3)
    assert found
    boards = [
        chess.Board(graph.position(node).fen) for node in range(0, graph.nodes, max(1, graph.nodes // SAMPLE))
    ]
    began = time.perf_counter()
    named = sum(bool(named_with_chess(board)) for board in boards)
    plain = (time.perf_counter() - began) / len(boards)
    assert named
    if benchmark.stats is not None:
        seconds = benchmark.stats.stats.min
        benchmark.extra_info["positions"] = graph.nodes * number
        benchmark.extra_info["ratio to plain Python, a position"] = round(
            plain / (seconds / (graph.nodes * number))
        )
        print(benchmark.extra_info, f"{seconds:.2f} s")


@pytest.mark.benchmark(group="structures")
def test_square_language_of_a_million(benchmark: Any, graph: Graph) -> None:
    packed = np.tile(graph.packed, (-(-POSITIONS // graph.nodes), 1))
    found = benchmark.pedantic(square_columns, (packed,), rounds=3)
    assert found.shape[0] >= POSITIONS
    if benchmark.stats is not None:
        print(f"{benchmark.stats.stats.min:.2f} s")
