"""Square language: holes, outposts, weak pawns, files, bad bishops, space and levers of a position (methods.md 8).

The definitions, with their sources, are in `crates/core/src/squares/language.rs`; each is a function of the position alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.board import Position, Side
from variorum.insight.wording import and_list, moves, side_name

__all__ = ["FEATURES", "Outpost", "SideSquares", "SquareLanguage", "Way", "square_columns", "square_language"]

FEATURES: Final = (
    "holes",
    "outposts",
    "isolated",
    "backward",
    "doubled",
    "bad_bishops",
    "levers",
    "open_files",
    "half_open_files",
    "space",
)
"""What the columns of `square_columns` are: sets of squares as bits from a1, of files as bits from a, then a number."""

_FILES: Final = "abcdefgh"
_KINDS: Final = {2: "knight", 3: "bishop"}
_MORE_SPACE: Final = 3
"""From so many squares on a side is said to have more space; common practice, no source."""


class Way(msgspec.Struct, frozen=True, kw_only=True):
    """A knight or bishop that can come to a square in `moves` moves (0: it is there) while nothing else moves."""

    piece: str
    square: str
    moves: int


class Outpost(msgspec.Struct, frozen=True, kw_only=True):
    """An outpost, and which units can reach it, the nearest first."""

    square: str
    ways: tuple[Way, ...]


class SideSquares(msgspec.Struct, frozen=True, kw_only=True):
    """What is said of one side: squares from a1 on, files from a on. `levers` are pawn moves as from and to: `d4-d5`."""

    holes: tuple[str, ...]
    outposts: tuple[Outpost, ...]
    isolated: tuple[str, ...]
    backward: tuple[str, ...]
    doubled: tuple[str, ...]
    bad_bishops: tuple[str, ...]
    levers: tuple[str, ...]
    half_open_files: tuple[str, ...]
    space: int


class SquareLanguage(msgspec.Struct, frozen=True, kw_only=True):
    """What is said of a position; `sentences` are the most telling of it, in words."""

    white: SideSquares
    black: SideSquares
    open_files: tuple[str, ...]
    sentences: tuple[str, ...]


def square_columns(packed: NDArray[np.uint8]) -> NDArray[np.uint64]:
    """The numbers of `FEATURES` of many packed positions, (n, 32) bytes: (n, 2, 10), White before Black."""
    numbers = _core.square_languages(np.ascontiguousarray(packed).reshape(-1))
    return numbers.reshape(-1, 2, len(FEATURES))


def square_language(position: Position) -> SquareLanguage:
    """What is said of one position.

    >>> french = Position.from_fen("rnbqkbnr/pp3ppp/4p3/2ppP3/3P4/2P5/PP3PPP/RNBQKBNR b KQkq - 0 4")
    >>> square_language(french).black.bad_bishops
    ('c8',)
    """
    white, black = _core.square_language(position.core)
    sides = {Side.WHITE: _side(position, Side.WHITE, white), Side.BLACK: _side(position, Side.BLACK, black)}
    open_files = _files(white[FEATURES.index("open_files")])
    return SquareLanguage(
        white=sides[Side.WHITE],
        black=sides[Side.BLACK],
        open_files=open_files,
        sentences=tuple(_sentences(position, sides, open_files)),
    )


def _side(position: Position, side: Side, numbers: list[int]) -> SideSquares:
    of = dict(zip(FEATURES, numbers, strict=True))
    ways: dict[str, list[Way]] = {square: [] for square in _squares(of["outposts"])}
    for to, count, kind, origin in _core.square_routes(position.core, side is Side.WHITE, of["outposts"]):
        ways[_name(to)].append(Way(piece=_KINDS[kind], square=_name(origin), moves=count))
    units = position.pieces()
    return SideSquares(
        holes=_squares(of["holes"]),
        outposts=tuple(Outpost(square=square, ways=tuple(found)) for square, found in ways.items()),
        isolated=_squares(of["isolated"]),
        backward=_squares(of["backward"]),
        doubled=_squares(of["doubled"]),
        bad_bishops=_squares(of["bad_bishops"]),
        levers=tuple(f"{_origin(square, side, units)}-{square}" for square in sorted(_squares(of["levers"]))),
        half_open_files=_files(of["half_open_files"]),
        space=of["space"],
    )


def _name(square: int) -> str:
    return f"{_FILES[square % 8]}{square // 8 + 1}"


def _squares(bits: int) -> tuple[str, ...]:
    return tuple(_name(square) for square in range(64) if bits >> square & 1)


def _files(bits: int) -> tuple[str, ...]:
    return tuple(file for place, file in enumerate(_FILES) if bits >> place & 1)


def _origin(square: str, side: Side, units: dict[str, str]) -> str:
    """Where the pawn stands that steps to a square: one or two squares behind it."""
    back = -1 if side is Side.WHITE else 1
    near = f"{square[0]}{int(square[1]) + back}"
    return near if near in units else f"{square[0]}{int(square[1]) + 2 * back}"


_SHOWN: Final = 3
"""So many holes and outposts of one side are named in the sentences, and ways of so many moves to free squares; the values have all."""


def _sentences(
    position: Position, sides: dict[Side, SideSquares], open_files: tuple[str, ...]
) -> Iterator[str]:
    for side, own in sides.items():
        parts = list(filter(None, _parts(position, side, own, sides[side.other])))
        if parts:
            yield f"{side_name(side)}: {'; '.join(parts)}."
    if open_files:
        yield f"Open: {_on_files(open_files)}."
    more = sides[Side.WHITE].space - sides[Side.BLACK].space
    if abs(more) >= _MORE_SPACE:
        side = Side.WHITE if more > 0 else Side.BLACK
        yield (
            f"{side_name(side)} has more space: {sides[side].space} safe squares behind the pawns in the centre "
            f"against {sides[side.other].space}."
        )


def _parts(position: Position, side: Side, own: SideSquares, other: SideSquares) -> Iterator[str]:
    yield _weak("isolated", own.isolated)
    yield _weak("backward", own.backward)
    if own.doubled:
        yield f"doubled pawns on {_on_files(tuple(sorted({square[0] for square in own.doubled})))}"
    # A hole that is the other side's outpost is told there; one that no piece looks at is nobody's yet.
    outposts = {outpost.square for outpost in other.outposts}
    units = position.pieces()
    holes = [
        square
        for square in own.holes
        if square not in outposts
        and any(units[unit] not in "Pp" for unit in position.attackers(square, side.other))
    ]
    if holes:
        named = sorted(sorted(holes, key=_centrality)[:_SHOWN])
        yield f"{'hole' if len(named) == 1 else 'holes'} on {and_list(named)}"
    near = [
        one
        for one in own.outposts
        if one.ways and one.ways[0].moves <= _SHOWN and (one.square not in units or not one.ways[0].moves)
    ]
    near.sort(key=lambda outpost: (outpost.ways[0].moves, *_centrality(outpost.square)))
    yield from map(_outpost, near[:_SHOWN])
    yield from (f"the bishop on {square} is bad" for square in own.bad_bishops)
    if own.half_open_files:
        yield f"half-open: {_on_files(own.half_open_files)}"
    if own.levers:
        yield f"{'lever' if len(own.levers) == 1 else 'levers'} {and_list(own.levers)}"


def _centrality(square: str) -> tuple[float, str]:
    return abs(_FILES.index(square[0]) - 3.5), square


def _weak(how: str, squares: tuple[str, ...]) -> str:
    return f"{how} pawn{'' if len(squares) == 1 else 's'} on {and_list(squares)}" if squares else ""


def _on_files(files: tuple[str, ...]) -> str:
    """`the c-file`, `the c- and e-files`."""
    return f"the {and_list([f'{file}-' for file in files])}file{'' if len(files) == 1 else 's'}"


def _outpost(outpost: Outpost) -> str:
    way = outpost.ways[0]
    if way.moves == 0:
        return f"the {way.piece} on {outpost.square} has an outpost"
    return f"outpost {outpost.square}, {moves(way.moves)} for the {way.piece} on {way.square}"
