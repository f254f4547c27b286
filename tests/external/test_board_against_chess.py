"""Our board against the independent rules library `chess` (PyPI) on random games, Chess960 starts included."""

from __future__ import annotations

import random

import chess
import chess.polyglot
import pytest

from variorum.board import Move, Position, Side

PLIES = 120


def library_key(board: chess.Board) -> int:
    """The library's Zobrist key by the repetition rule.

    It counts en passant where a pawn stands beside, even when pinned; we count legal captures only, so the square is
    taken away where there is none.
    """
    board = board.copy(stack=False)
    if not board.has_legal_en_passant():
        board.ep_square = None
    return chess.polyglot.zobrist_hash(board)


def starts() -> list[chess.Board]:
    """40 games from the normal start, 40 from Chess960 numbers, and awkward positions of the perft tables."""
    awkward = [
        "r3k2r/p1ppqpb1/bn2pnp1/3PN3/1p2P3/2N2Q1p/PPPBBPPP/R3K2R w KQkq - 0 1",
        "n1n5/PPPk4/8/8/8/8/4Kppp/5N1N b - - 0 1",
        "8/2p5/3p4/KP5r/1R3p1k/8/4P1P1/8 w - - 0 1",
    ]
    numbers = random.Random(1).sample(range(960), 40)
    return [
        *(chess.Board() for _ in range(40)),
        *(chess.Board.from_chess960_pos(number) for number in numbers),
        *(chess.Board(fen) for fen in awkward for _ in range(4)),
    ]


@pytest.mark.parametrize("index", range(len(starts())))
def test_random_game(index: int) -> None:
    chance = random.Random(index)
    board = starts()[index]
    position = Position.from_fen(board.fen(), chess960=board.chess960)
    for ply in range(PLIES):
        assert position.fen == board.fen(en_passant="legal")
        assert position.key == library_key(board)
        assert position.is_check == board.is_check()
        assert position.fullmove == board.fullmove_number
        assert position.halfmove_clock == board.halfmove_clock
        assert position.ply == board.ply()
        assert (position.turn is Side.WHITE) == board.turn
        moves = list(board.legal_moves)
        assert sorted(move.uci for move in position.legal_moves()) == sorted(map(board.uci, moves))
        if ply % 4 == index % 4:
            for move in moves:
                ours, san = Move(board.uci(move)), board.san(move)
                assert position.san(ours) == san
                assert (
                    position.parse(san) == position.parse(board.lan(move)) == position.parse(ours.uci) == ours
                )
            rook_files = Position.from_fen(board.fen(shredder=True), chess960=board.chess960)
            assert rook_files == position
            assert {
                name: str(piece)
                for square, piece in board.piece_map().items()
                if (name := chess.square_name(square))
            } == (position.pieces())
        outcome = board.outcome(claim_draw=False)
        if not moves or board.is_insufficient_material():
            assert position.outcome == outcome.result()
            return
        assert position.outcome is None
        # Captures, promotions and en passant more often than chance would have them, castling too.
        lively = [
            move for move in moves if board.is_capture(move) or move.promotion or board.is_castling(move)
        ]
        move = chance.choice(lively if lively and chance.random() < 0.4 else moves)
        position = position.play(Move(board.uci(move)))
        board.push(move)


def test_pinned_en_passant_does_not_count() -> None:
    """The one case where the library's own key differs: a capture that stands on the board but is not legal."""
    board = chess.Board("8/8/8/8/R2Pp2k/8/8/4K3 b - d3 0 1")
    position = Position.from_fen(board.fen(en_passant="fen"))
    assert not board.has_legal_en_passant()
    assert position.key == library_key(board)
    assert position.key != chess.polyglot.zobrist_hash(board)
    assert position.epd.endswith(" -")
