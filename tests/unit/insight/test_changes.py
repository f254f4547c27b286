from __future__ import annotations

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from variorum.board import Line, Move, Position
from variorum.graph import TextLine, grow_graph
from variorum.insight.changes import Change, Kind, changes_of, is_lost, near_placements

START = Position.start()


def changes(position: Position, san: str) -> dict[tuple[str, str], Change]:
    found, _ = changes_of(position, position.parse(san))
    return {(change.source, change.target): change for change in found}


def test_the_ways_a_unit_is_put_elsewhere() -> None:
    position = Line.parse("1.e4 e5 2.Nf3 Nc6 3.Bc4 Nf6").end
    found = changes(position, "O-O")
    kinds = {pair: change.kind for pair, change in found.items()}
    assert kinds["c4", "b3"] is Kind.MOVE, "one move on, or back"
    assert kinds["c4", "f1"] is Kind.MOVE if ("c4", "f1") in kinds else True
    assert kinds["d2", "d3"] is kinds["d2", "d4"] is Kind.PAWN_STEP
    assert kinds["e4", "e3"] is kinds["e4", "e2"] is Kind.PAWN_STEP, "taken back"
    assert kinds["c6", "b8"] is Kind.MOVE
    assert kinds["f6", "g8"] is Kind.MOVE
    assert ("e1", "e2") not in found, "the king makes the move"
    assert ("h1", "g1") not in found, "so does the rook"
    assert ("a1", "b1") not in found, "that square is taken"


def test_a_pawn_goes_to_the_neighbouring_file_and_home() -> None:
    position = Position.from_fen("4k3/8/8/8/3P4/8/8/4K3 w - - 0 1")
    assert {
        target: change.kind for (_, target), change in changes(position, "Ke2").items() if target[1] != "8"
    }.items() >= {
        "c4": Kind.NEIGHBOUR,
        "e4": Kind.NEIGHBOUR,
        "d5": Kind.PAWN_STEP,
        "d3": Kind.PAWN_STEP,
        "d2": Kind.PAWN_STEP,
    }.items()


def test_the_unit_that_is_taken_and_the_square_that_is_entered_stay() -> None:
    position = Line.parse("1.e4 d5").end
    found = changes(position, "exd5")
    assert not any(source in ("e4", "d5") or target == "d5" for source, target in found)
    passing = Line.parse("1.e4 a6 2.e5 d5").end
    assert not any(source in ("e5", "d5") for source, _ in changes(passing, "exd6"))


def test_castling_rights_go_with_king_and_rook() -> None:
    position = Position.from_fen("r3k2r/8/8/8/8/8/8/R3K2R w KQkq - 0 1")
    found = changes(position, "Rb1")
    assert (
        found["h1", "g1"].position.fen.split()[2] == "kq"
        or found["h1", "g1"].position.fen.split()[2] == "Qkq"
    )
    assert found["e8", "d8"].position.fen.split()[2] == "KQ"


def test_a_unit_that_would_be_lost_is_refused_and_a_pawn_is_not() -> None:
    position = Line.parse("1.e4 e5 2.Nf3 Nc6").end
    found, lost = changes_of(position, position.parse("Bb5"))
    targets = {(change.source, change.target) for change in found}
    assert ("f3", "h4") not in targets, "the queen takes it"
    assert ("f3", "d4") not in targets
    assert lost > 0


@pytest.mark.parametrize(
    ("fen", "square", "lost"),
    [
        ("4k3/8/8/3q4/8/8/8/3RK3 w - - 0 1", "d5", True),
        ("3rk3/8/8/3q4/8/8/8/3QK3 w - - 0 1", "d5", False),
        ("3qk3/8/8/3r4/8/8/8/3QK3 w - - 0 1", "d5", False),
        ("3qk3/8/8/3n4/4P3/8/8/4K3 b - - 0 1", "d5", True),
        ("3qk3/8/8/3p4/4P3/8/8/3QK3 b - - 0 1", "d5", False),
        ("4k3/8/8/3p4/8/8/8/3QK3 b - - 0 1", "d5", False),
        ("4k3/4r3/8/8/4N3/8/8/4K3 w - - 0 1", "e4", True),
        ("4k3/4r3/8/8/4N3/3P4/8/4K3 w - - 0 1", "e4", False),
        # A rook pinned to its king does not take.
        ("4k3/4r3/8/1n6/8/8/4Q3/4K3 b - - 0 1", "e7", False),
    ],
)
def test_what_an_exchange_loses(fen: str, square: str, lost: bool) -> None:
    """By hand; common practice, no source."""
    assert is_lost(Position.from_fen(fen), square) is lost


def test_near_positions_of_the_graph_come_first() -> None:
    lines = ("1.e4 e5 2.Nf3 Nc6 3.Bc4", "1.e4 e5 2.Nf3 Nc6 3.Bb5", "1.e4 e5 2.Nf3 d6 3.Bc4")
    graph = grow_graph([START], texts=[TextLine(START, Line.parse(line).packed()) for line in lines])
    position = Line.parse(lines[0]).end
    near = near_placements(graph, position)
    assert {("B", "c4", "b5"), ("n", "c6", "b8"), ("B", "c4", "f1")} <= near
    found, _ = changes_of(position, position.parse("Nf6"), near)
    kinds = {(change.source, change.target): change.kind for change in found}
    assert kinds["c4", "b5"] is Kind.NEAR
    assert kinds["c4", "d3"] is Kind.MOVE


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 50), min_size=2, max_size=40), st.integers(0, 50))
def test_laws(choices: list[int], which: int) -> None:
    """Each change differs in one unit, is legal by an independent library, and leaves the move legal there."""
    board = chess.Board()
    for choice in choices:
        moves = sorted(board.legal_moves, key=chess.Move.uci)
        if not moves:
            return
        board.push(moves[choice % len(moves)])
    moves = sorted(board.legal_moves, key=chess.Move.uci)
    if not moves:
        return
    move = moves[which % len(moves)]
    position = Position.from_fen(board.fen())
    found, _ = changes_of(position, Move(move.uci()))
    for change in found:
        there = chess.Board(change.position.fen)
        assert there.is_valid()
        assert move in there.legal_moves
        assert there.is_capture(move) == board.is_capture(move)
        assert there.turn == board.turn
        here, elsewhere = board.piece_map(), there.piece_map()
        source, target = chess.parse_square(change.source), chess.parse_square(change.target)
        assert here.pop(source) == elsewhere.pop(target) == chess.Piece.from_symbol(change.unit)
        assert here == elsewhere
