"""Which units differ between two positions, in words (methods.md 6)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import msgspec

from variorum.board import Position, Side
from variorum.edition.marks import Mark, MarkKind
from variorum.insight.distance import FILES, is_dark, piece_moves
from variorum.insight.wording import PIECE_NAMES, and_list, side_name

__all__ = ["MOST_UNITS", "UnitChange", "changed_units", "changes_in_words", "contrast_marks"]

MOST_UNITS = 6
"""More differing units than this are two structures, not one with a change; a setting, common practice, no source."""

_HOMES = {"N": "bg", "B": "cf", "Q": "d", "R": "ah"}
_CASTLINGS = {("e", "g", "h", "f"): "short", ("e", "c", "a", "d"): "long"}


class UnitChange(msgspec.Struct, frozen=True, kw_only=True):
    """A unit that differs: its side and letter (`P` for a pawn), its square here and there.

    `None` is said of a position that has no such unit: then it is extra or missing.
    """

    side: Side
    letter: str
    here: str | None
    there: str | None


def changed_units(here: Position, there: Position) -> tuple[UnitChange, ...]:
    """The units that differ, White's first. Like units are matched at least cost in moves, the rest is extra or missing.

    >>> from variorum.board import Line
    >>> changed_units(Line.parse("1.e4 c5").end, Line.parse("1.e4 c6").end)
    (UnitChange(side=<Side.BLACK: 'black'>, letter='P', here='c5', there='c6'),)
    """
    first, second = here.pieces(), there.pieces()
    kin: dict[tuple[str, bool], tuple[list[str], list[str]]] = {}
    for index, (own, other) in enumerate(((first, second), (second, first))):
        for square, letter in own.items():
            if other.get(square) != letter:  # a unit that stands alike in both is not moved to mend another
                key = letter, letter in "bB" and is_dark(square)
                kin.setdefault(key, ([], []))[index].append(square)
    found = [
        UnitChange(side=side, letter=letter.upper(), here=one, there=other)
        for (letter, _), (mine, theirs) in kin.items()
        for side in (Side.WHITE if letter.isupper() else Side.BLACK,)
        for one, other in _matched(letter, mine, theirs)
    ]
    order = list(PIECE_NAMES)
    found.sort(
        key=lambda change: (
            change.side is Side.BLACK,
            order.index(change.letter),
            change.here or "",
            change.there or "",
        )
    )
    return tuple(found)


def _matched(
    letter: str, mine: Sequence[str], theirs: Sequence[str]
) -> Iterator[tuple[str | None, str | None]]:
    pairs: list[tuple[int, int]] = []
    if mine and theirs:
        from scipy.optimize import linear_sum_assignment

        costs = [[_cost(letter, one, other) for other in theirs] for one in mine]
        rows, columns = linear_sum_assignment(costs)
        pairs = list(zip(rows.tolist(), columns.tolist(), strict=True))
    yield from ((mine[row], theirs[column]) for row, column in pairs)
    yield from ((square, None) for row, square in enumerate(mine) if row not in {pair[0] for pair in pairs})
    yield from (
        (None, square) for column, square in enumerate(theirs) if column not in {pair[1] for pair in pairs}
    )


def _cost(letter: str, one: str, other: str) -> int:
    if letter not in "Pp":
        return piece_moves(letter.upper(), one, other)
    ranks, files = abs(int(one[1]) - int(other[1])), abs(FILES.index(one[0]) - FILES.index(other[0]))
    home = "2" if letter == "P" else "7"
    if files == 0:
        return ranks - 1 if ranks >= 2 and home in (one[1], other[1]) else ranks
    return (
        ranks if files <= ranks else ranks + 2 * files
    )  # no pawn gets there: only where no other is like it


def contrast_marks(changes: Iterable[UnitChange]) -> tuple[Mark, ...]:
    """Marks on a diagram of the position here: a bar under each changed unit, a dotted one where it stands there."""
    marks = []
    for change in changes:
        if change.here is not None:
            marks.append(Mark(MarkKind.CHANGED, (change.here,), rubric=True))
        if change.there is not None:
            marks.append(Mark(MarkKind.VACATED, (change.there,), rubric=True))
    return tuple(marks)


def changes_in_words(changes: Sequence[UnitChange]) -> str:
    """What to add to `as in B, but `: `with a3 and …h6 put in, without Nc3`.

    >>> from variorum.board import Line
    >>> changes_in_words(changed_units(Line.parse("1.a3 h6 2.Nf3").end, Line.parse("1.c4 c6").end))
    'with Nf3, a3 and …h6 put in, without c4 and …c6'
    """
    put_in: list[str] = []
    otherwise: list[str] = []
    left_out: list[str] = []
    for side in Side:
        castled, own = _castling(side, [change for change in changes if change.side is side])
        otherwise += castled
        for change in own:
            if _is_step(change, change.there, change.here):
                put_in.append(_move_text(change, change.here))
            elif _is_step(change, change.here, change.there):
                left_out.append(_move_text(change, change.there))
            elif change.here is None:
                left_out.append(f"{_unit(change)} on {change.there}")
            else:
                otherwise.append(_in_words(change))
    parts = [f"with {and_list(put_in)} put in"] if put_in else []
    parts += [f"with {and_list(otherwise)}"] if otherwise else []
    parts += [f"without {and_list(left_out)}"] if left_out else []
    return ", ".join(parts)


def _castling(side: Side, changes: list[UnitChange]) -> tuple[list[str], list[UnitChange]]:
    """Castling, where king and rook differ just so, and the other changes."""
    rank = "1" if side is Side.WHITE else "8"
    king = next((change for change in changes if change.letter == "K"), None)
    rook = next((change for change in changes if change.letter == "R" and change.here and change.there), None)
    if king is None or rook is None or not all((king.here, king.there, rook.here, rook.there)):
        return [], changes
    rest = [change for change in changes if change not in (king, rook)]
    for castled, yet, word in (
        ((king.here, rook.here), (king.there, rook.there), "castled {}"),
        ((king.there, rook.there), (king.here, rook.here), "not castled yet ({} there)"),
    ):
        squares = (yet[0], castled[0], yet[1], castled[1])
        if all(square is not None and square[1] == rank for square in squares):
            wing = _CASTLINGS.get(tuple(str(square)[0] for square in squares))  # type: ignore[arg-type]
            if wing:
                return [f"{side_name(side)} {word.format(wing)}"], rest
    return [], changes


def _is_step(change: UnitChange, before: str | None, after: str | None) -> bool:
    """Whether a unit has left its home square by one move: that is a move put in, as one says it."""
    if before is None or after is None:
        return False
    white = change.side is Side.WHITE
    if change.letter == "P":
        steps = ("2", "34") if white else ("7", "65")
        return before[0] == after[0] and before[1] == steps[0] and after[1] in steps[1]
    home = before[1] == ("1" if white else "8") and before[0] in _HOMES.get(change.letter, "")
    return home and piece_moves(change.letter, before, after) == 1


def _move_text(change: UnitChange, square: str | None) -> str:
    letter = "" if change.letter == "P" else change.letter
    return f"{'…' if change.side is Side.BLACK else ''}{letter}{square}"


def _unit(change: UnitChange) -> str:
    return f"{side_name(change.side)}'s {PIECE_NAMES[change.letter]}"


def _in_words(change: UnitChange) -> str:
    assert change.here is not None
    if change.there is None:
        return f"{_unit(change)} on {change.here} as well"
    if change.letter == "P" and change.here[0] == change.there[0]:
        return f"{_move_text(change, change.here)} instead of {_move_text(change, change.there)}"
    return f"{_unit(change)} on {change.here} instead of {change.there}"
