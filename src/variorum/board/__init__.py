"""Positions, moves, lines, scores: frozen values that everything above speaks."""

from variorum.board.errors import FenError, MoveError, MoveReason
from variorum.board.line import Line
from variorum.board.position import Move, PackedMoves, Position, PositionKey, Side

__all__ = [
    "FenError",
    "Line",
    "Move",
    "MoveError",
    "MoveReason",
    "PackedMoves",
    "Position",
    "PositionKey",
    "Side",
]
