"""A line that can be played through on a small diagram: each move as printed, with the position behind it."""

from __future__ import annotations

import re

import msgspec

from variorum.base import InputError
from variorum.board import Line, Position
from variorum.desk.moves import printed

__all__ = ["Replay", "line_from", "replay_of", "replay_of_text"]


class ReplayMove(msgspec.Struct, frozen=True):
    """A move as printed in its line, and by itself with its number; the FEN behind it, and its way as the board draws it."""

    text: str
    called: str
    fen: str
    mark: str


class Replay(msgspec.Struct, frozen=True):
    """The position that a line begins with (as FEN), and its moves."""

    fen: str
    moves: tuple[ReplayMove, ...]


def replay_of(line: Line) -> Replay:
    """A line with numbers of its own."""
    return _replay(line, line.san())


def replay_of_text(text: str, start: str) -> Replay | None:
    """A line in SAN from the position of an EPD, whose text says the numbers that the EPD does not; `None` if it is none."""
    try:
        line = line_from(start, text)
    except InputError:
        return None
    return _replay(line, text) if line.moves else None


def line_from(epd: str, text: str) -> Line:
    """A line in SAN from the position of an EPD (four fields of it count), which stands at the move number that the text begins with.

    Raises:
        MoveError: It is none.
    """
    number = re.match(r"[1-9][0-9]{0,3}(?=\.)", text)
    start = Position.from_fen(f"{' '.join(epd.split()[:4])} 0 {number[0] if number else 1}")
    return Line.parse(text, start=start)


def _replay(line: Line, text: str) -> Replay:
    words = text.split()
    positions = line.positions()
    moves = tuple(
        ReplayMove(
            printed(word),
            printed(Line(before, (move,)).san()),
            after.fen,
            f"itinerary {move.uci[:2]}-{move.uci[2:4]}",
        )
        for word, move, before, after in zip(words, line.moves, positions, positions[1:], strict=False)
    )
    return Replay(line.start.fen, moves)
