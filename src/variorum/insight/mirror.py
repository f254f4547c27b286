"""Colours reversed: a position, move or line seen with the board turned over and the sides exchanged."""

from __future__ import annotations

from variorum.board import Line, Move, Position

__all__ = ["mirrored_line", "mirrored_move", "mirrored_position", "mirrored_square"]


def mirrored_square(square: str) -> str:
    """The square across the middle of the board.

    >>> mirrored_square("e2")
    'e7'
    """
    return square[0] + str(9 - int(square[1]))


def mirrored_move(move: Move) -> Move:
    """The same move of the other side."""
    if move.is_null:
        return move
    return Move(mirrored_square(move.uci[:2]) + mirrored_square(move.uci[2:4]) + move.uci[4:])


def mirrored_position(position: Position) -> Position:
    """The position with colours reversed: ranks turned over, units, side to move and castling rights exchanged.

    >>> mirrored_position(Position.start()).fen
    'rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR b KQkq - 0 1'
    """
    placement, turn, castling, en_passant, *counters = position.fen.split()
    fields = [
        "/".join(reversed(placement.swapcase().split("/"))),
        "b" if turn == "w" else "w",
        castling.swapcase(),
        en_passant if en_passant == "-" else mirrored_square(en_passant),
        *counters,
    ]
    return Position.from_fen(" ".join(fields), chess960=position.chess960)


def mirrored_line(line: Line) -> Line:
    """The line with colours reversed; its start is mirrored too."""
    return Line(mirrored_position(line.start), tuple(map(mirrored_move, line.moves)))
