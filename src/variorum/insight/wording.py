"""English words for units, sides and small numbers, as a trainer says them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from variorum.board import Side
from variorum.insight.distance import is_dark

__all__ = ["NUMBERS", "PIECE_NAMES", "and_list", "count", "moves", "number", "side_name", "unit_name"]

PIECE_NAMES: Final = {
    "K": "king",
    "Q": "queen",
    "R": "rook",
    "B": "bishop",
    "N": "knight",
    "P": "pawn",
}
NUMBERS: Final = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_WINGS: Final = {"N": {"b": "queen's", "g": "king's"}, "R": {"a": "queen's", "h": "king's"}}


def number(value: int) -> str:
    """A number in words up to ten."""
    return NUMBERS[value] if 0 <= value < len(NUMBERS) else str(value)


def count(value: int, noun: str) -> str:
    """`one pawn`, `two pawns`, `no pawns`."""
    return f"{'no' if value == 0 else number(value)} {noun}{'' if value == 1 else 's'}"


def moves(value: int) -> str:
    """`no move`, `one move`, `two moves`."""
    return "no move" if value == 0 else count(value, "move")


def side_name(side: Side) -> str:
    """`White` or `Black`."""
    return side.value.capitalize()


def unit_name(letter: str, home: str) -> str:
    """What a unit is called by where it began: `c-pawn`, `light-squared bishop`, `king's knight`, `knight from c3`.

    >>> unit_name("P", "c7"), unit_name("B", "f1"), unit_name("N", "g8"), unit_name("N", "c3")
    ('c-pawn', 'light-squared bishop', "king's knight", 'knight from c3')
    """
    piece = PIECE_NAMES[letter]
    if letter == "P":
        return f"{home[0]}-pawn"
    if letter == "K":
        return piece
    if letter == "B":
        return f"{'dark' if is_dark(home) else 'light'}-squared {piece}"
    if letter == "Q" and home in ("d1", "d8"):
        return piece
    wing = _WINGS.get(letter, {}).get(home[0]) if home[1] in "18" else None
    return f"{wing} {piece}" if wing else f"{piece} from {home}"


def and_list(parts: Sequence[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
