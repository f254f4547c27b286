"""A game as PGN text in the standard's export format (PGN standard 1994, sections 3.2 and 8)."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping

from variorum.board.line import Line
from variorum.board.position import Position, Side

__all__ = ["ROSTER", "game_text"]

ROSTER = ("Event", "Site", "Date", "Round", "White", "Black", "Result")
"""The seven tags that every game has, in the standard's order (section 8.1.1)."""


def game_text(tags: Mapping[str, str], line: Line, comments: Mapping[int, str] | None = None) -> str:
    """The text of a game, its last line end included.

    Args:
        tags: Values by name; missing ones of the roster are written `?`. `Result` ends the moves.
        line: The moves; a start other than the normal one is written as `SetUp` and `FEN`.
        comments: Comment by ply, 0 before the first move; a closing brace in one is written as a bracket.
    """
    comments = comments or {}
    result = tags.get("Result", "*")
    default = {"Date": "????.??.??", "Result": "*"}
    written = {name: tags.get(name, default.get(name, "?")) for name in ROSTER}
    written |= {name: value for name, value in tags.items() if name not in written}
    if line.start != Position.start():
        written |= {"SetUp": "1", "FEN": line.start.fen}
    rows = [f'[{name} "{_escaped(value)}"]' for name, value in written.items()]
    return "\n".join(rows) + "\n\n" + textwrap.fill(
        " ".join([*_words(line, comments), result]), width=79, break_long_words=False, break_on_hyphens=False
    ) + "\n"  # fmt: skip


def _words(line: Line, comments: Mapping[int, str]) -> list[str]:
    words = []
    if comments.get(0):
        words.append(_comment(comments[0]))
    numbered = False
    for ply, (position, move) in enumerate(zip(line.positions(), line.moves, strict=False), 1):
        if position.turn is Side.WHITE:
            words.append(f"{position.fullmove}.")
        elif not numbered:
            words.append(f"{position.fullmove}...")
        words.append(position.san(move))
        numbered = ply not in comments
        if comments.get(ply):
            words.append(_comment(comments[ply]))
    return words


def _comment(text: str) -> str:
    return "{" + " ".join(text.split()).replace("}", "]") + "}"


def _escaped(value: str) -> str:
    return " ".join(value.split()).replace("\\", "\\\\").replace('"', '\\"')
