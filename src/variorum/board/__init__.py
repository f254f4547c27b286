"""Positions, moves, lines, scores: frozen values that everything above speaks."""

from variorum.board.epd import Epd, Operand, ce_of_score, score_of_ce
from variorum.board.errors import EpdError, FenError, MoveError, MoveReason
from variorum.board.line import Line
from variorum.board.nags import NAGS, Nag, NagScope, nag_of_sign
from variorum.board.position import Move, PackedMoves, Position, PositionKey, Side
from variorum.board.request import Request
from variorum.board.score import DRAWS, SLOPE, Score, expected_score
from variorum.board.verdict import Iteration, Verdict, VerdictLine
from variorum.board.words import DEFAULT_BANDS, SIGNS, Bands, Sign, band_of, sign_named, sign_of

__all__ = [
    "DEFAULT_BANDS",
    "DRAWS",
    "NAGS",
    "SIGNS",
    "SLOPE",
    "Bands",
    "Epd",
    "EpdError",
    "FenError",
    "Iteration",
    "Line",
    "Move",
    "MoveError",
    "MoveReason",
    "Nag",
    "NagScope",
    "Operand",
    "PackedMoves",
    "Position",
    "PositionKey",
    "Request",
    "Score",
    "Side",
    "Sign",
    "Verdict",
    "VerdictLine",
    "band_of",
    "ce_of_score",
    "expected_score",
    "nag_of_sign",
    "score_of_ce",
    "sign_named",
    "sign_of",
]
