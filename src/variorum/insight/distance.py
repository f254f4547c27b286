"""Least moves of a unit from square to square on an empty board (methods.md 5 and 6)."""

from __future__ import annotations

from functools import cache
from typing import Final

__all__ = ["SQUARES", "is_dark", "piece_moves"]

FILES: Final = "abcdefgh"
SQUARES: Final = tuple(file + rank for rank in "12345678" for file in FILES)
_LEAPS: Final = ((1, 2), (2, 1), (2, -1), (1, -2), (-1, -2), (-2, -1), (-2, 1), (-1, 2))


def is_dark(square: str) -> bool:
    """Whether a square is dark, as a1 is.

    >>> is_dark("a1"), is_dark("f1")
    (True, False)
    """
    return (FILES.index(square[0]) + int(square[1])) % 2 == 1


def piece_moves(piece: str, start: str, end: str) -> int:
    """Least moves of a piece, `K`, `Q`, `R`, `B` or `N`, between two squares of an empty board.

    Raises:
        ValueError: It never gets there: a bishop and a square of the other colour.

    >>> piece_moves("B", "f1", "b3"), piece_moves("N", "g1", "e5"), piece_moves("K", "e1", "g1")
    (2, 2, 2)
    """
    if start == end:
        return 0
    if piece == "N":
        return _knight_moves(start)[end]
    across, along = abs(FILES.index(start[0]) - FILES.index(end[0])), abs(int(start[1]) - int(end[1]))
    straight, diagonal = 0 in (across, along), across == along
    match piece:
        case "K":
            return max(across, along)
        case "Q":
            return 1 if straight or diagonal else 2
        case "R":
            return 1 if straight else 2
        case "B" if is_dark(start) == is_dark(end):
            return 1 if diagonal else 2
    raise ValueError(f"{piece} does not get from {start} to {end}")


@cache
def _knight_moves(start: str) -> dict[str, int]:
    """Least moves of a knight from a square to every square."""
    found = {start: 0}
    reached = [start]
    for square in reached:  # grows while it is read
        for across, along in _LEAPS:
            file, rank = FILES.index(square[0]) + across, int(square[1]) + along
            if 0 <= file < 8 and 1 <= rank <= 8:
                next_ = f"{FILES[file]}{rank}"
                if next_ not in found:
                    found[next_] = found[square] + 1
                    reached.append(next_)
    return found
