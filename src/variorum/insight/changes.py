"""The positions that differ from one by the place of one unit, in the ways a hinge is looked for (methods.md 7)."""

from __future__ import annotations

import enum
from collections.abc import Iterable, Iterator, Mapping

import msgspec
import numpy as np

from variorum.base import VariorumError
from variorum.board import Move, Position, Side
from variorum.graph import Graph

__all__ = ["Change", "Kind", "changes_of", "is_lost", "near_placements"]

_EXCHANGE = {"p": 100, "n": 325, "b": 325, "r": 500, "q": 975, "k": 10_000}
"""What a unit counts in an exchange, in centipawns; common practice, no source. A bishop for a knight loses nothing."""

_MATTERS = 200
"""So much must be won by exchanges for a change to be refused at once. A pawn is left to the comparison of the best other moves."""

_STRAIGHT = ((0, 1), (0, -1), (1, 0), (-1, 0))
_SLANTED = ((1, 1), (1, -1), (-1, 1), (-1, -1))
_LEAPS = ((1, 2), (2, 1), (-1, 2), (-2, 1), (1, -2), (2, -1), (-1, -2), (-2, -1))
_STEPS = {"r": _STRAIGHT, "b": _SLANTED, "q": _STRAIGHT + _SLANTED, "k": _STRAIGHT + _SLANTED, "n": _LEAPS}
_HOMES = {"r": "ah", "n": "bg", "b": "cf", "q": "d", "k": "e"}


class Kind(enum.StrEnum):
    """How a change came to be a candidate; the first of these that holds."""

    NEAR = "near"
    """A near position of the graph has the unit there."""
    MOVE = "move"
    """One move of the unit, forwards or back: on an empty way it is the same."""
    HOME = "home"
    PAWN_STEP = "pawn step"
    """A step put in or taken back."""
    NEIGHBOUR = "neighbouring file"


class Change(msgspec.Struct, frozen=True):
    """One unit elsewhere: its letter (capital for White), from where, to where, and the position that comes of it."""

    unit: str
    source: str
    target: str
    kind: Kind
    position: Position

    @property
    def size(self) -> int:
        """How far the unit was moved, in steps of a king."""
        files = ord(self.source[0]) - ord(self.target[0])
        return max(abs(files), abs(int(self.source[1]) - int(self.target[1])))


def changes_of(
    position: Position, move: Move, near: Iterable[tuple[str, str, str]] = ()
) -> tuple[list[Change], int]:
    """Every change of one unit after which a move is still legal, and how many were refused because the unit would be lost.

    Args:
        position: Where the move is played.
        move: The move; the units that make it, and the one it takes, stay where they are.
        near: Unit, from and to, as near positions of the graph have it.
    """
    pieces = position.pieces()
    fixed = _makers(position, move) | _taken(position, move)
    end = move.uci[2:4]
    candidates: dict[tuple[str, str], Kind] = {
        (source, target): Kind.NEAR
        for unit, source, target in near
        if pieces.get(source) == unit and target not in pieces
    }
    for square, unit in pieces.items():
        for target, kind in _targets(pieces, square, unit):
            candidates.setdefault((square, target), kind)
    found: list[Change] = []
    lost = 0
    for (source, target), kind in sorted(candidates.items(), key=lambda one: one[0]):
        if source in fixed or target == end:
            continue
        changed = _changed(position, source, target, keep_passing=_takes_in_passing(position, move))
        if changed is None or move not in changed.legal_moves():
            continue
        if is_lost(changed, target):
            lost += 1
            continue
        found.append(Change(pieces[source], source, target, kind, changed))
    return found, lost


def is_lost(position: Position, square: str) -> bool:
    """Whether the other side wins a piece, or as much, by taking the unit on a square, whoever is to move.

    By exchanges on that square alone, each side taking with its least unit and free to stop (M. Reul, "Static Exchange
    Evaluation with αβ-Approach", 2010), legal moves only, so that a pinned unit does not take.
    """
    unit = position.pieces()[square]
    owner = Side.WHITE if unit.isupper() else Side.BLACK
    if position.turn is owner:
        if position.is_check:
            return False  # it is not the other side's turn, and passing would be no chess
        position = position.play(Move.null())
    return _gain(position, square) >= _MATTERS


def _gain(position: Position, square: str) -> int:
    pieces = position.pieces()
    takers = [move for move in position.legal_moves() if move.uci[2:4] == square]
    if not takers or square not in pieces:
        return 0
    least = min(takers, key=lambda move: (_EXCHANGE[pieces[move.uci[:2]].lower()], move.uci))
    won = _EXCHANGE[pieces[square].lower()]
    return max(0, won - _gain(position.play(least), square))


def near_placements(graph: Graph, position: Position) -> set[tuple[str, str, str]]:
    """Unit, from and to: where graph positions that differ in one or two units have a unit of this one."""
    # The first eight bytes of a packed position are its occupied squares; one unit elsewhere changes two of them at most.
    own = np.frombuffer(_occupied(position), np.uint8)
    changed = np.bitwise_count(np.ascontiguousarray(graph.packed[:, :8]) ^ own).sum(axis=1)
    here = position.pieces()
    found: set[tuple[str, str, str]] = set()
    for node in np.flatnonzero((changed > 0) & (changed <= 4)).tolist():
        found |= _moved(here, graph.position(node).pieces())
    return found


def _occupied(position: Position) -> bytes:
    bits = sum(1 << ("abcdefgh".index(square[0]) + 8 * (int(square[1]) - 1)) for square in position.pieces())
    return bits.to_bytes(8, "big")


def _moved(here: Mapping[str, str], there: Mapping[str, str]) -> set[tuple[str, str, str]]:
    """The units that stand elsewhere, where it is clear which unit went where and two differ at most."""
    gone: dict[str, list[str]] = {}
    come: dict[str, list[str]] = {}
    for square in here.keys() | there.keys():
        if here.get(square) != there.get(square):
            if square in here:
                gone.setdefault(here[square], []).append(square)
            if square in there:
                come.setdefault(there[square], []).append(square)
    if max(sum(map(len, gone.values())), sum(map(len, come.values()))) > 2:
        return set()
    return {
        (unit, squares[0], come[unit][0])
        for unit, squares in gone.items()
        if len(squares) == 1 and len(come.get(unit, ())) == 1
    }


def _makers(position: Position, move: Move) -> set[str]:
    """The squares of the units that make a move: of castling king and rook."""
    packed = int(position.pack([move])[0])
    squares = {_square(packed & 63)}
    target = _square(packed >> 6 & 63)
    pieces = position.pieces()
    mover = pieces[_square(packed & 63)]
    if pieces.get(target, "").isupper() == mover.isupper() and target in pieces:
        squares.add(target)
    return squares


def _taken(position: Position, move: Move) -> set[str]:
    """The square of the unit that a move takes."""
    if _takes_in_passing(position, move):
        return {move.uci[2] + move.uci[1]}
    return {move.uci[2:4]} & position.pieces().keys()


def _takes_in_passing(position: Position, move: Move) -> bool:
    pieces = position.pieces()
    return pieces[move.uci[:2]].lower() == "p" and move.uci[0] != move.uci[2] and move.uci[2:4] not in pieces


def _targets(pieces: Mapping[str, str], square: str, unit: str) -> Iterator[tuple[str, Kind]]:
    kind = unit.lower()
    if kind == "p":
        yield from _pawn_targets(pieces, square, unit)
        return
    for step in _STEPS[kind]:
        at = _step(square, step)
        while at is not None and at not in pieces:
            yield at, Kind.MOVE
            at = _step(at, step) if kind in "rbq" else None
    rank = "1" if unit.isupper() else "8"
    for file in _HOMES[kind]:
        home = file + rank
        if home not in pieces and (kind != "b" or _is_dark(home) == _is_dark(square)):
            yield home, Kind.HOME


def _pawn_targets(pieces: Mapping[str, str], square: str, unit: str) -> Iterator[tuple[str, Kind]]:
    forward, second, fourth = (1, "2", "4") if unit.isupper() else (-1, "7", "5")
    for direction, double in ((forward, second), (-forward, fourth)):
        at = _step(square, (0, direction))
        if at is None or at in pieces or at[1] in "18":
            continue
        yield at, Kind.PAWN_STEP
        beyond = _step(at, (0, direction))
        if square[1] == double and beyond is not None and beyond not in pieces:
            yield beyond, Kind.PAWN_STEP
    if square[0] + second not in pieces:
        yield square[0] + second, Kind.HOME
    for side in (-1, 1):
        at = _step(square, (side, 0))
        if at is not None and at not in pieces:
            yield at, Kind.NEIGHBOUR


def _changed(position: Position, source: str, target: str, *, keep_passing: bool) -> Position | None:
    """The position with a unit elsewhere, `None` where that is no legal position."""
    pieces = dict(position.pieces())
    unit = pieces.pop(source)
    pieces[target] = unit
    _, turn, rights, passing, *counters = position.fen.split()
    fields = [
        _placement(pieces),
        turn,
        _rights(rights, unit, source),
        passing if keep_passing else "-",
        *counters,
    ]
    try:
        return Position.from_fen(" ".join(fields), chess960=position.chess960)
    except VariorumError:
        return None


def _rights(rights: str, unit: str, source: str) -> str:
    """Castling rights that are left when a unit was taken from its square."""
    if unit.lower() == "k":
        gone = {right for right in rights if right.isupper() == unit.isupper()}
    elif unit.lower() == "r" and source[1] == ("1" if unit.isupper() else "8"):
        names = {"h": "kh", "a": "qa"}.get(source[0], source[0])
        gone = {name.upper() if unit.isupper() else name for name in names}
    else:
        return rights
    return "".join(right for right in rights if right not in gone) or "-"


def _placement(pieces: Mapping[str, str]) -> str:
    ranks = []
    for rank in "87654321":
        text, empty = "", 0
        for file in "abcdefgh":
            unit = pieces.get(file + rank)
            if unit is None:
                empty += 1
            else:
                text += (str(empty) if empty else "") + unit
                empty = 0
        ranks.append(text + (str(empty) if empty else ""))
    return "/".join(ranks)


def _step(square: str, step: tuple[int, int]) -> str | None:
    file, rank = ord(square[0]) - ord("a") + step[0], int(square[1]) + step[1]
    return f"{chr(ord('a') + file)}{rank}" if 0 <= file < 8 and 1 <= rank <= 8 else None


def _square(index: int) -> str:
    return f"{'abcdefgh'[index % 8]}{index // 8 + 1}"


def _is_dark(square: str) -> bool:
    return (ord(square[0]) - ord("a") + int(square[1])) % 2 == 1
