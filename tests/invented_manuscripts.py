"""Manuscripts of any shape for tests of laws: moves by PyPI `chess`, with comments, signs and nested variations."""

from __future__ import annotations

import chess
from hypothesis import strategies as st


def grow(board: chess.Board, draw: st.DrawFn, depth: int) -> list[str]:
    """Moves of a line with comments, signs and variations, in the writing of the standard."""
    words: list[str] = []
    for _ in range(draw(st.integers(1, 5))):
        legal = sorted(board.legal_moves, key=str)
        if not legal:
            break
        move = draw(st.sampled_from(legal))
        words += [board.variation_san([move])]
        words += draw(st.sampled_from([[], [], ["$3"], ["{a note}"], ["$1", "{b}"]]))
        others = [other for other in legal if other != move]
        if depth < 3 and others and draw(st.integers(0, 3)) == 0:
            other = draw(st.sampled_from(others))
            inner = board.copy()
            first = board.variation_san([other])
            inner.push(other)
            words += ["(" + " ".join([first, *grow(inner, draw, depth + 1)]) + ")"]
        board.push(move)
    return words


@st.composite
def games(draw: st.DrawFn) -> str:
    return '[Event "x"]\n\n' + " ".join(grow(chess.Board(), draw, 0)) + " *\n"
