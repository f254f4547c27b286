"""Orders that nobody has put on the graph: legal orders of the same moves (methods.md 4)."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np

from variorum import _core
from variorum.base import UsageError
from variorum.board import Line, Position

__all__ = ["MOST_STATES", "QUICK_STATES", "beside", "interleavings"]

MOST_STATES: Final = 2_000_000
"""So many sets of played moves are looked at, at most, for one line; about half a gigabyte."""

QUICK_STATES: Final = 20_000
"""The same where it is only to be known whether a deviation may come back; some tenths of a second."""


def beside(lines: Iterable[Line], most: int = MOST_STATES) -> set[Position]:
    """Every position on a legal order of the moves of one of these lines.

    Raises:
        UsageError: There are more than can be looked at.
    """
    seen: set[tuple[object, ...]] = set()
    found: set[Position] = set()
    for line in lines:
        moves = (line.start, *sorted(line.moves[::2]), *sorted(line.moves[1::2]))
        if moves not in seen:  # else the same moves in another order
            seen.add(moves)
            found.update(interleavings(line, most)[0])
    return found


def interleavings(line: Line, most: int = MOST_STATES) -> tuple[list[Position], int]:
    """Every position on a legal order in which both sides play the moves of a line to the same end, and how many orders.

    Args:
        line: The moves.
        most: How many sets of played moves are looked at before it gives up.

    Raises:
        UsageError: There are more than can be looked at.
    """
    try:
        packed, orders = _core.interleavings(line.start.core, line.packed(), most)
    except ValueError as error:
        raise UsageError(f"{error}", remedy="start the edition's graph from a root nearer to it") from None
    rows = packed.reshape(-1, 32)
    return [Position(_core.unpack_position(np.ascontiguousarray(row))) for row in rows], orders
