"""Extended position description: one position and operations, by section 16.2 of the PGN standard (1994)."""

from __future__ import annotations

import re
from collections.abc import Mapping

import msgspec

from variorum.board.errors import EpdError, MoveError
from variorum.board.position import Move, Position, Side
from variorum.board.score import Score

__all__ = ["Epd", "Operand", "ce_of_score", "score_of_ce"]

Operand = int | tuple[Move, ...] | tuple[str, ...]
"""What an operation says: a number, moves (`am bm pm sm pv`), or strings; no operand is the empty tuple."""

_MOVE_SETS = frozenset({"am", "bm", "pm", "sm"})
_NUMBERS = frozenset({"acd", "acn", "acs", "ce", "dm", "fmvn", "hmvc", "rc", "tcgs"})
"""`acd`, depth in plies, is common practice and not in the standard."""
_COUNTERS = ("hmvc", "fmvn")
"""The fifth and sixth field of a FEN, as operations."""

_OPCODE = re.compile(r"[A-Za-z][A-Za-z0-9_]*")
_OPERAND = re.compile(r'"([^"]*)"|([^\s;"]+)')
_BARE = re.compile(r'[^\s;"]+')

_MATE = 32767
_LEAST_MATE = 32000


class Epd(msgspec.Struct, frozen=True):
    """A position and its operations by opcode.

    >>> line = '6k1/5ppp/8/8/8/8/5PPP/3R2K1 w - - bm Rd8#; ce 32766; id "back rank";'
    >>> epd = Epd.parse(line)
    >>> epd.operations
    {'bm': (Move(uci='d1d8'),), 'ce': 32766, 'id': ('back rank',)}
    >>> str(epd) == line
    True
    """

    position: Position
    operations: Mapping[str, Operand] = {}

    @classmethod
    def parse(cls, line: str, *, chess960: bool = False) -> Epd:
        """Read one EPD record.

        Read leniently: a FEN's two counters behind the four fields, dashes before an opcode, commas between moves, a
        missing last semicolon. Opcodes that the standard does not have are carried as strings. `hmvc` and `fmvn` are
        the position's counters.

        Raises:
            FenError: The four fields describe no legal position.
            EpdError: An operation cannot be read.
            MoveError: An operand is not a legal move of the position.
        """
        fields, rest = _split_fields(line)
        raw = _read_operations(rest)
        counters = fields[4:]
        if "hmvc" in raw or "fmvn" in raw:
            numbers = (
                _number(opcode, raw.get(opcode, ["1" if opcode == "fmvn" else "0"])) for opcode in _COUNTERS
            )
            counters = [str(number) for number in numbers]
        fen = " ".join([*fields[:4], *counters])
        position = Position.from_fen(fen, chess960=chess960)
        operations = {opcode: _typed(opcode, operands, position) for opcode, operands in raw.items()}
        return cls(position, operations)

    def text(self, opcode: str) -> str | None:
        """The first string of an operation, `None` where there is none."""
        operand = self.operations.get(opcode)
        if isinstance(operand, tuple) and operand and isinstance(operand[0], str):
            return operand[0]
        return None

    def number(self, opcode: str) -> int | None:
        """The number of an operation, `None` where there is none."""
        operand = self.operations.get(opcode)
        return operand if isinstance(operand, int) else None

    def moves(self, opcode: str) -> tuple[Move, ...]:
        """The moves of an operation; none where it is missing."""
        operand = self.operations.get(opcode)
        if not isinstance(operand, tuple):
            return ()
        return tuple(move for move in operand if isinstance(move, Move))

    def __str__(self) -> str:
        """The record in the standard's order: opcodes in ASCII order, moves of a set too."""
        operations = (
            _written(opcode, self.operations[opcode], self.position) for opcode in sorted(self.operations)
        )
        return " ".join([self.position.epd, *operations])


def _split_fields(line: str) -> tuple[list[str], str]:
    """The fields of the position, four or with a FEN's counters six, and the text behind them."""
    fields = line.split(maxsplit=4)
    if len(fields) < 4:
        raise EpdError("an EPD begins with four fields: placement, side to move, castling rights, en passant")
    rest = fields[4] if len(fields) > 4 else ""
    counters = re.match(r"(\d+)\s+(\d+)(?:\s+|$)", rest)
    if counters:
        return [*fields[:4], *counters.groups()], rest[counters.end() :]
    return fields[:4], rest


def _read_operations(text: str) -> dict[str, list[str]]:
    operations: dict[str, list[str]] = {}
    at = 0
    while True:
        at = _skip(text, at, " \t\r\n;-")
        if at == len(text):
            return operations
        opcode = _OPCODE.match(text, at)
        if opcode is None:
            raise EpdError(f"an opcode begins with a letter, not '{text[at : at + 10]}'")
        name = opcode.group()
        if name in operations:
            raise EpdError(f"opcode '{name}' stands twice")
        at = opcode.end()
        operands: list[str] = []
        while True:
            at = _skip(text, at, " \t\r\n")
            if at == len(text) or text[at] == ";":
                break
            operand = _OPERAND.match(text, at)
            if operand is None:
                raise EpdError(f"a string of '{name}' is not closed")
            operands.append(operand[2] if operand[1] is None else operand[1])
            at = operand.end()
        operations[name] = operands


def _skip(text: str, at: int, what: str) -> int:
    while at < len(text) and text[at] in what:
        at += 1
    return at


def _typed(opcode: str, operands: list[str], position: Position) -> Operand:
    if opcode in _NUMBERS:
        return _number(opcode, operands)
    if opcode in _MOVE_SETS or opcode == "pv":
        tokens = [token.rstrip(",") for token in operands]
        moves: list[Move] = []
        for token in filter(None, tokens):
            try:
                moves.append(position.parse(token))
            except MoveError as error:
                raise error.at_ply(len(moves) + 1) if opcode == "pv" else error from None
            if opcode == "pv":
                position = position.play(moves[-1])
        if opcode in ("pm", "sm") and len(moves) != 1:
            raise EpdError(f"'{opcode}' takes one move, not {len(moves)}")
        return tuple(moves)
    return tuple(operands)


def _number(opcode: str, operands: list[str]) -> int:
    least = {"ce": -_MATE, "dm": 1, "fmvn": 1, "rc": 1, "tcgs": 1}.get(opcode, 0)
    if len(operands) != 1 or not re.fullmatch(r"[+-]?[0-9]{1,18}", operands[0]) or int(operands[0]) < least:
        raise EpdError(f"'{opcode}' takes one whole number from {least}, not '{' '.join(operands)}'")
    return int(operands[0])


def _written(opcode: str, operand: Operand, position: Position) -> str:
    if _OPCODE.fullmatch(opcode) is None:
        raise EpdError(f"'{opcode}' cannot be an opcode")
    if isinstance(operand, int):
        words = [str(operand)]
    elif opcode == "pv":
        words = []
        for move in operand:
            assert isinstance(move, Move)
            words.append(position.san(move))
            position = position.play(move)
    elif opcode in _MOVE_SETS:
        words = sorted(position.san(move) for move in operand if isinstance(move, Move))
    else:
        words = [_string(opcode, str(text)) for text in operand]
    return " ".join([opcode, *words]) + ";"


def _string(opcode: str, text: str) -> str:
    """An operand as written: in quotes, unless the opcode is a private one (capital) and a bare word will do."""
    if '"' in text or not text.isprintable():
        raise EpdError(f"a string of '{opcode}' holds a quotation mark or a control character")
    if opcode[:1].isupper() and _BARE.fullmatch(text):
        return text
    return f'"{text}"'


def score_of_ce(ce: int, turn: Side) -> Score:
    """White's score of a `ce` operand, which is the mover's; values beyond 32000 are mates (16.2.5.6).

    Raises:
        EpdError: The value marks an illegal position.
    """
    if not -_MATE < ce < _MATE:
        raise EpdError(f"'ce {ce}' is no evaluation")
    if abs(ce) <= _LEAST_MATE:
        return Score.of_cp(ce).seen_from(turn)
    moves = (_MATE - abs(ce) + 1) // 2
    return Score.of_mate(moves if ce > 0 else -moves).seen_from(turn)


def ce_of_score(score: Score, turn: Side) -> int:
    """The `ce` operand of White's score: the mover's centipawns, or 32767 less the plies to mate (16.2.5.6)."""
    mover = score.seen_from(turn)
    if mover.mate is None:
        assert mover.cp is not None
        return max(-_LEAST_MATE, min(_LEAST_MATE, mover.cp))
    if mover.mate > 0:
        return max(_LEAST_MATE + 1, _MATE - (2 * mover.mate - 1))
    return min(-_LEAST_MATE - 1, -_MATE + 2 * -mover.mate)
