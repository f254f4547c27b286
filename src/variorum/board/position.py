"""Position and Move: frozen values over the compiled core."""

from __future__ import annotations

import enum
from typing import NewType

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.board.errors import FenError, MoveError, MoveReason

__all__ = ["Move", "PackedMoves", "Position", "PositionKey", "Side"]

PositionKey = NewType("PositionKey", int)
"""Identity of a position, unsigned 64 bit: placement, side to move, castling rights, en passant where legal."""

PackedMoves = NDArray[np.uint16]
"""Moves of a line in 16 bits each, as the store keeps them; castling is king takes own rook, 0 the null move."""


class Side(enum.Enum):
    """White or Black."""

    WHITE = "white"
    BLACK = "black"

    @property
    def other(self) -> Side:
        """The opponent."""
        return Side.BLACK if self is Side.WHITE else Side.WHITE


class Move(msgspec.Struct, frozen=True, order=True):
    """A move by its UCI text; it means something in a position only.

    Castling is the king's two squares (`e1g1`), in a Chess960 position king takes rook (`e1h1`).

    >>> Move("e2e4").uci
    'e2e4'
    >>> Move.null().is_null
    True
    """

    uci: str

    @classmethod
    def from_uci(cls, text: str) -> Move:
        """The move of a UCI text. Whether it is legal is seen when it is played.

        Raises:
            MoveError: The text does not have the form of a UCI move.
        """
        squares = [text[:2], text[2:4]]
        if text != "0000" and not (
            len(text) in (4, 5)
            and all(square[0] in "abcdefgh" and square[1] in "12345678" for square in squares)
            and text[4:] in ("", "n", "b", "r", "q")
        ):
            raise MoveError(text, MoveReason.NOT_A_MOVE)
        return cls(text)

    @classmethod
    def null(cls) -> Move:
        """The null move: the side to move passes."""
        return cls("0000")

    @property
    def is_null(self) -> bool:
        """Whether it is the null move."""
        return self.uci == "0000"

    def __str__(self) -> str:
        return self.uci


class Position:
    """A legal position, standard chess or Chess960.

    Two positions are equal when they are the same by the repetition rule: placement, side to move, castling rights
    and legal en-passant captures; the move counters do not count.

    >>> position = Position.start().play(Position.start().parse("e4"))
    >>> position.fen
    'rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq - 0 1'
    >>> position.san(Move("g8f6"))
    'Nf6'
    """

    __slots__ = ("_board",)

    def __init__(self, board: _core.Board) -> None:
        """Wrap a board of the core. Use `start` or `from_fen`."""
        self._board = board

    @classmethod
    def start(cls) -> Position:
        """The start position of standard chess."""
        return _START

    @classmethod
    def from_fen(cls, fen: str, *, chess960: bool = False) -> Position:
        """The position of a FEN or X-FEN, rooks' files as rights too, of four to six fields.

        Args:
            fen: The text.
            chess960: Castling is written king takes rook in UCI even where the rights would be standard ones.
                Rights that only Chess960 knows make a Chess960 position in any case.

        Raises:
            FenError: The text cannot be read or its position is not legal.
        """
        try:
            return cls(_core.Board.from_fen(" ".join(fen.split()), chess960=chess960))
        except ValueError as error:
            raise FenError(f"'{fen.strip()[:100]}' is not a position: {error}") from None

    @property
    def core(self) -> _core.Board:
        """The board of the compiled core, for the module of a package that wraps a bulk call."""
        return self._board

    @property
    def fen(self) -> str:
        """Six fields; the en-passant square only where such a capture is legal; castling as X-FEN."""
        return self._board.fen

    @property
    def epd(self) -> str:
        """The first four fields of the FEN: equal for equal positions."""
        return self._board.epd

    @property
    def key(self) -> PositionKey:
        """See `PositionKey`."""
        return PositionKey(self._board.key)

    @property
    def turn(self) -> Side:
        """The side to move."""
        return Side.WHITE if self._board.white_to_move else Side.BLACK

    @property
    def chess960(self) -> bool:
        """Whether castling is written king takes rook in UCI."""
        return self._board.chess960

    @property
    def is_check(self) -> bool:
        """Whether the side to move is in check."""
        return self._board.is_check

    @property
    def outcome(self) -> str | None:
        """`1-0`, `0-1` or `1/2-1/2` where mate, stalemate or dead material ends the game, else `None`."""
        return self._board.outcome

    @property
    def fullmove(self) -> int:
        """The number of the move to be played."""
        return self._board.fullmove

    @property
    def halfmove_clock(self) -> int:
        """Plies since the last capture or pawn move."""
        return self._board.halfmove_clock

    @property
    def ply(self) -> int:
        """Plies since White's first move, by the move number."""
        return 2 * (self.fullmove - 1) + (self.turn is Side.BLACK)

    def pieces(self) -> dict[str, str]:
        """Square to letter, `{"e1": "K", "e8": "k", …}`, from a1 to h8."""
        return dict(self._board.pieces())

    def attackers(self, square: str, side: Side) -> frozenset[str]:
        """Squares of the units of a side that attack a square, pinned ones too; a unit guards a friend by attacking it.

        >>> sorted(Position.start().attackers("f3", Side.WHITE))
        ['e2', 'g1', 'g2']
        """
        return frozenset(self._board.attackers(square, side is Side.WHITE))

    def legal_moves(self) -> tuple[Move, ...]:
        """Every legal move."""
        return tuple(map(Move, self._board.legal_moves()))

    def play(self, move: Move) -> Position:
        """The position after a move or null move.

        Raises:
            MoveError: The move is not legal here.
        """
        try:
            return Position(self._board.play(move.uci))
        except _core.MoveFaultError as fault:
            raise _move_error(move.uci, fault) from None

    def parse(self, text: str) -> Move:
        """The move that a text means: SAN, long forms or UCI, leniently.

        Castling with zeros, promotion without `=`, captures without `x`, pawn captures as two files, missing or
        wrong check signs, figurines, and signs such as `!` behind the move are understood.

        Raises:
            MoveError: It is illegal, ambiguous or not a move.

        >>> position = Position.from_fen("4k3/1P6/8/8/8/8/8/R3K3 w Q - 0 1")
        >>> [position.parse(text).uci for text in ("0-0-0", "b8Q", "Ra1-a8+", "e1d1")]
        ['e1c1', 'b7b8q', 'a1a8', 'e1d1']
        """
        try:
            return Move(self._board.parse(text))
        except _core.MoveFaultError as fault:
            raise _move_error(text, fault) from None

    def san(self, move: Move) -> str:
        """The move in SAN with check or mate sign; `--` for the null move.

        Raises:
            MoveError: The move is not legal here.
        """
        try:
            return self._board.san(move.uci)
        except _core.MoveFaultError as fault:
            raise _move_error(move.uci, fault) from None

    def uci(self, move: Move) -> str:
        """The move's UCI text as this position writes it (`e1h1` becomes `e1g1` in standard chess).

        Raises:
            MoveError: The move is not legal here.
        """
        try:
            return self._board.uci(move.uci)
        except _core.MoveFaultError as fault:
            raise _move_error(move.uci, fault) from None

    def pack(self, moves: tuple[Move, ...] | list[Move]) -> PackedMoves:
        """Moves played one after the other from here, packed.

        Raises:
            MoveError: One of them is not legal in its place.
        """
        try:
            return self._board.pack_line([move.uci for move in moves])
        except _core.MoveFaultError as fault:
            raise _move_error(" ".join(move.uci for move in moves), fault) from None

    def unpack(self, packed: PackedMoves) -> tuple[Move, ...]:
        """The moves of a packed line from here.

        Raises:
            MoveError: One of them is not legal in its place.
        """
        try:
            return tuple(map(Move, self._board.unpack_line(packed)))
        except _core.MoveFaultError as fault:
            raise _move_error("packed line", fault) from None

    def replay(self, packed: PackedMoves) -> Position:
        """The position after a packed line from here.

        Raises:
            MoveError: One of its moves is not legal in its place.
        """
        try:
            return Position(self._board.replay(packed))
        except _core.MoveFaultError as fault:
            raise _move_error("packed line", fault) from None

    def __eq__(self, other: object) -> bool:
        return self._board == other._board if isinstance(other, Position) else NotImplemented

    def __hash__(self) -> int:
        return hash(self._board)

    def __repr__(self) -> str:
        return f"Position.from_fen({self.fen!r})"

    def __reduce__(self) -> tuple[object, ...]:
        return _unpickle, (self.fen, self.chess960)


def _unpickle(fen: str, chess960: bool) -> Position:
    return Position.from_fen(fen, chess960=chess960)


def _move_error(token: str, fault: _core.MoveFaultError) -> MoveError:
    reason, candidates = fault.args
    return MoveError(token, MoveReason(reason), candidates=tuple(candidates))


_START = Position(_core.Board.start())
