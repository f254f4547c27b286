"""A cheap answer to: can this position come from that one? Only a sure no is said."""

from __future__ import annotations

from collections import Counter

from variorum.board import Position

__all__ = ["cannot_follow"]


def cannot_follow(earlier: Position, later: Position) -> str | None:
    """Why no legal play leads from `earlier` to `later`, `None` if that cannot be told so easily.

    Units never come back, pawns never step back, and castling rights never return (FIDE Laws of Chess, articles 3.1, 3.7
    and 3.8).
    """
    if earlier == later:
        return None
    before, after = earlier.pieces(), later.pieces()
    for side, is_own in (("White", str.isupper), ("Black", str.islower)):
        own_before = {square: letter for square, letter in before.items() if is_own(letter)}
        own_after = {square: letter for square, letter in after.items() if is_own(letter)}
        if len(own_after) > len(own_before):
            return f"{side} has {len(own_after)} units there and {len(own_before)} at the root"
        if _pawn_went_back(own_before, own_after, forward=side == "White"):
            return f"a {side} pawn would have to step back"
    gained = set(later.epd.split()[2]) - set(earlier.epd.split()[2]) - {"-"}
    if gained:
        return f"castling rights ({''.join(sorted(gained))}) would have to return"
    return None


def _pawn_went_back(before: dict[str, str], after: dict[str, str], *, forward: bool) -> bool:
    """Whether for some rank more pawns stand at or behind it than stood there before (or than there were at all)."""
    earlier, later = (
        Counter(int(square[1]) for square, letter in own.items() if letter in "Pp") for own in (before, after)
    )
    earlier_behind = later_behind = 0
    for rank in range(1, 9) if forward else range(8, 0, -1):
        earlier_behind += earlier[rank]
        later_behind += later[rank]
        if later_behind > earlier_behind:
            return True
    return False
