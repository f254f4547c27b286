"""A line: a start position and moves, read from typed text and written in SAN."""

from __future__ import annotations

import re
from collections.abc import Iterator

import msgspec

from variorum.board.errors import MoveError, MoveReason
from variorum.board.position import Move, PackedMoves, Position, Side

__all__ = ["Line"]

_NUMBER = re.compile(r"\d{1,4}[.…]+|[.…]+|[1-9]\d{0,3}$")
"""A move number with its dots, dots alone, or a bare number; `0-0` and `0000` are moves."""
_STANDARD = Position.start()


class Line(msgspec.Struct, frozen=True):
    """A start position and the moves played from it; every move is legal in its place.

    >>> line = Line.parse("1.e4 c6 2.d4 d5")
    >>> line.san()
    '1.e4 c6 2.d4 d5'
    >>> line.end.fen
    'rnbqkbnr/pp2pppp/2p5/3p4/3PP3/8/PPP2PPP/RNBQKBNR w KQkq - 0 3'
    """

    start: Position
    moves: tuple[Move, ...] = ()

    @classmethod
    def parse(cls, text: str, start: Position = _STANDARD) -> Line:
        """Read a line as it is typed, with or without move numbers, `…` or `...` for Black.

        A FEN (four to six fields) in front of the moves replaces `start`. Where numbers are given they must follow
        one another, and from the normal start position they begin with 1.

        Raises:
            MoveError: With the ply, the token and the reason.
            FenError: The FEN in front cannot be used.

        >>> Line.parse("e4 c5 2.Nc3 e6 3...Nc6")
        Traceback (most recent call last):
        variorum.board.errors.MoveError: ply 5: '3...' is Black's, but White is to move
        """
        words = text.split()
        if words and words[0].count("/") == 7:
            start, words = _leading_fen(words)
        position = start
        moves: list[Move] = []
        offset = 0 if start.ply == 0 else None
        for kind, token in _tokens(words):
            ply = len(moves) + 1
            if kind == "number":
                offset = _check_number(token, position, offset, ply)
                continue
            try:
                move = position.parse(token)
                position = position.play(move)
            except MoveError as error:
                raise error.at_ply(ply) from None
            moves.append(move)
        return cls(start, tuple(moves))

    @classmethod
    def unpack(cls, packed: PackedMoves, start: Position = _STANDARD) -> Line:
        """The line of packed moves."""
        return cls(start, start.unpack(packed))

    def packed(self) -> PackedMoves:
        """The moves, packed."""
        return self.start.pack(self.moves)

    def positions(self) -> tuple[Position, ...]:
        """The positions of the line, the start first: one more than moves."""
        return tuple(self._walk())

    @property
    def end(self) -> Position:
        """The position after the last move."""
        position = self.start
        for position in self._walk():  # noqa: B007  (the last one is wanted)
            pass
        return position

    def san(self, *, numbers: bool = True) -> str:
        """The line in SAN: `1.e4 c6 2.d4`, or `e4 c6 d4` without numbers; `4...Nf6` where Black begins."""
        words = []
        position = self.start
        for index, move in enumerate(self.moves):
            word = position.san(move)
            if numbers and position.turn is Side.WHITE:
                word = f"{position.fullmove}.{word}"
            elif numbers and index == 0:
                word = f"{position.fullmove}...{word}"
            words.append(word)
            position = position.play(move)
        return " ".join(words)

    def uci(self) -> str:
        """The moves in UCI, separated by spaces."""
        return " ".join(move.uci for move in self.moves)

    def play(self, move: Move) -> Line:
        """The line with one move more.

        Raises:
            MoveError: The move is not legal at its end.
        """
        self.end.play(move)
        return Line(self.start, (*self.moves, move))

    def __len__(self) -> int:
        return len(self.moves)

    def __str__(self) -> str:
        return self.san()

    def _walk(self) -> Iterator[Position]:
        position = self.start
        yield position
        for move in self.moves:
            position = position.play(move)
            yield position


def _leading_fen(words: list[str]) -> tuple[Position, list[str]]:
    """The position of a FEN at the beginning of the words, and the words behind it."""
    fields = 4
    if len(words) >= 6 and words[4].isdecimal() and words[5].isdecimal():
        fields = 6
    return Position.from_fen(" ".join(words[:fields])), words[fields:]


def _tokens(words: list[str]) -> Iterator[tuple[str, str]]:
    """Move numbers and moves, in order; a number that sticks to its move is cut off."""
    for word in words:
        number = _NUMBER.match(word)
        if number:
            yield "number", number.group()
            word = word[number.end() :]
        if word:
            yield "move", word


def _check_number(token: str, position: Position, offset: int | None, ply: int) -> int | None:
    """Compare a move number with the position; returns by how much the typed numbers differ from its own."""
    dots = token.lstrip("0123456789")
    if position.turn is Side.WHITE and ("…" in dots or len(dots) > 1):
        message = f"'{token}' is Black's, but White is to move"
        raise MoveError(token, MoveReason.MISNUMBERED, ply=ply, message=message)
    digits = token.removesuffix(dots)
    if not digits:
        return offset
    if offset is None:
        return int(digits) - position.fullmove
    due = position.fullmove + offset
    if int(digits) != due:
        message = f"'{token}' stands where move {due} is due"
        raise MoveError(token, MoveReason.MISNUMBERED, ply=ply, message=message)
    return offset
