"""The tempo ledger of a line: moves spent against moves needed, unit by unit (methods.md 5)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import msgspec

from variorum.board import Line, Move, Position, Side
from variorum.insight.distance import SQUARES, is_dark, piece_moves

__all__ = ["Ledger", "LedgerRow", "Loss", "SideLedger", "UnitTempo", "tempo_ledger"]

_WORTH = {"P": 1, "N": 3, "B": 3, "R": 5, "Q": 9, "K": 100}
"""Only to say which of two units is the lesser; common practice, no source."""


class UnitTempo(msgspec.Struct, frozen=True, kw_only=True):
    """One unit: its letter at the start of the line (`P` for a pawn), where it began, where it is or was captured.

    `promoted` is the letter of what a pawn became, else empty.
    """

    letter: str
    home: str
    square: str
    captured: bool
    promoted: str


class LedgerRow(msgspec.Struct, frozen=True, kw_only=True):
    """Moves spent and needed of one unit; of several where like units stand on squares nearer to each other's homes."""

    units: tuple[UnitTempo, ...]
    spent: int
    needed: int
    lost: int


class Loss(msgspec.Struct, frozen=True, kw_only=True):
    """A move by which tempi were lost: its ply in the line from 1, its text, the unit's home, and how many.

    `provoked_by` is the opponent's last move where that attacked the unit with a lesser one, or unguarded; else `None`.
    """

    ply: int
    move: str
    home: str
    lost: int
    provoked_by: str | None


class SideLedger(msgspec.Struct, frozen=True, kw_only=True):
    """One side's ledger: spent = standing + gone + lost. Rows are by home square, units that never moved included."""

    spent: int
    standing: int
    gone: int
    lost: int
    rows: tuple[LedgerRow, ...]
    losses: tuple[Loss, ...]


class Ledger(msgspec.Struct, frozen=True, kw_only=True):
    """Both sides' ledgers."""

    white: SideLedger
    black: SideLedger

    def of(self, side: Side) -> SideLedger:
        """The ledger of one side."""
        return self.white if side is Side.WHITE else self.black


def tempo_ledger(line: Line) -> Ledger:
    """The ledger of a line. A null move is nobody's: it is not counted as spent.

    >>> black = tempo_ledger(Line.parse("1.e4 d5 2.exd5 Qxd5 3.Nc3 Qd8")).black
    >>> black.standing, black.gone, black.lost, black.losses[0].move, black.losses[0].provoked_by
    (0, 1, 2, '3...Qd8', '3.Nc3')
    """
    tracks = _Tracks(line.start)
    losses: dict[Side, list[Loss]] = {Side.WHITE: [], Side.BLACK: []}
    totals = dict.fromkeys(Side, 0)
    before: Position | None = None
    position = line.start
    last: Move | None = None
    for ply, (move, packed) in enumerate(zip(line.moves, line.packed().tolist(), strict=True), start=1):
        side = position.turn
        if packed:
            unit = tracks.play(packed)
            lost = tracks.lost(side) - totals[side]
            totals[side] += lost
            if lost:
                provoked = before is not None and last is not None and _provoked(before, last, position, move)
                losses[side].append(
                    Loss(
                        ply=ply,
                        move=_numbered(position, move),
                        home=unit.home,
                        lost=lost,
                        provoked_by=_numbered(before, last) if provoked and before and last else None,
                    )
                )
        before, position, last = position, position.play(move), move
    return Ledger(
        white=tracks.ledger(Side.WHITE, losses[Side.WHITE]),
        black=tracks.ledger(Side.BLACK, losses[Side.BLACK]),
    )


def _numbered(position: Position, move: Move) -> str:
    """`3.Nc3` or `3...Qd8`."""
    dots = "." if position.turn is Side.WHITE else "..."
    return f"{position.fullmove}{dots}{position.san(move)}"


def _provoked(before: Position, last: Move, position: Position, move: Move) -> bool:
    """Whether `last`, played in `before`, newly attacked the unit that `move` takes away from `position`."""
    square, mover, opponent = move.uci[:2], position.turn, position.turn.other
    came_from, came_to = last.uci[:2], last.uci[2:4]
    already = {came_to if old == came_from else old for old in before.attackers(square, opponent)}
    new = position.attackers(square, opponent) - already
    units = position.pieces()
    worth = _WORTH[units[square].upper()]
    lesser = any(_WORTH[units[attacker].upper()] < worth for attacker in new)
    return bool(new) and (lesser or not position.attackers(square, mover))


@dataclass
class _Unit:
    """A unit on its way. What a pawn needed before it promoted stays in `base`; so does a king's castling."""

    side: Side
    letter: str
    home: str
    square: str
    origin: str
    """From where a piece's moves are measured: its home, after castling where it then stood, the promotion square."""
    spent: int = 0
    base: int = 0
    captured: bool = False
    captured_once: bool = False
    free_ranks: int = 0
    """Ranks that a pawn gained before its first capture."""
    promoted: str = ""

    @property
    def double_step(self) -> bool:
        return self.letter == "P" and self.home[1] == ("2" if self.side is Side.WHITE else "7")

    @property
    def pawn_needed(self) -> int:
        ranks = abs(int(self.square[1]) - int(self.home[1]))
        return ranks - 1 if self.double_step and self.free_ranks >= 2 else ranks

    @property
    def kin(self) -> tuple[str, bool] | None:
        """What like units of a side have in common; `None` for a pawn, promoted or not, which stands for itself."""
        return None if self.letter == "P" else (self.letter, self.letter == "B" and is_dark(self.home))

    def needed(self, like: _Unit) -> int:
        """Least moves to where it stands from where the moves of a like unit, or its own, are measured."""
        if self.letter == "P" and not self.promoted:
            return self.pawn_needed
        return self.base + piece_moves(self.promoted or self.letter, like.origin, self.square)


_Row = list[tuple[_Unit, int]]
"""Units that share a row of the ledger, each with its needed moves."""


class _Tracks:
    """The units of a line, by identity."""

    def __init__(self, start: Position) -> None:
        self.units = [
            _Unit(Side.WHITE if letter.isupper() else Side.BLACK, letter.upper(), square, square, square)
            for square, letter in start.pieces().items()
        ]
        self._at = {unit.square: unit for unit in self.units}

    def play(self, packed: int) -> _Unit:
        """Move a unit by a packed move (castling is king takes own rook) and give it back."""
        start, end = SQUARES[packed & 63], SQUARES[packed >> 6 & 63]
        unit = self._at.pop(start)
        unit.spent += 1
        met = self._at.pop(end, None)
        if unit.letter == "K" and met is not None and met.side is unit.side:
            king, rook = ("g", "f") if end > start else ("c", "d")
            unit.base += 1
            for one, file in ((unit, king), (met, rook)):
                one.square = one.origin = file + start[1]
                self._at[one.square] = one
            return unit
        if unit.letter == "P" and not unit.promoted:
            self._step(unit, end, met)
        elif met is not None:
            met.captured = True
        unit.square = end
        self._at[end] = unit
        if unit.letter == "P" and not unit.promoted and packed >> 12:
            unit.base = unit.pawn_needed
            unit.promoted = "NBRQ"[(packed >> 12) - 1]
            unit.origin = end
        return unit

    def _step(self, pawn: _Unit, end: str, met: _Unit | None) -> None:
        if end[0] != pawn.square[0]:
            pawn.captured_once = True
            (met or self._at.pop(end[0] + pawn.square[1])).captured = True  # else taken in passing
        elif not pawn.captured_once:
            pawn.free_ranks += abs(int(end[1]) - int(pawn.square[1]))

    def rows(self, side: Side) -> list[_Row]:
        """The rows of a side, by home square."""
        kin: dict[tuple[str, bool] | None, list[_Unit]] = {}
        for unit in self.units:
            if unit.side is side:
                kin.setdefault(unit.kin, []).append(unit)
        pawns = kin.pop(None, [])
        rows = [[(pawn, pawn.needed(pawn))] for pawn in pawns]
        rows += [row for units in kin.values() for row in _least_cost(units)]
        return sorted(rows, key=lambda row: row[0][0].home)

    def lost(self, side: Side) -> int:
        """Tempi lost so far."""
        return sum(unit.spent - needed for row in self.rows(side) for unit, needed in row)

    def ledger(self, side: Side, losses: Iterable[Loss]) -> SideLedger:
        """What a side has spent, and for what."""
        rows = self.rows(side)
        units = [(unit, needed) for row in rows for unit, needed in row]
        return SideLedger(
            spent=sum(unit.spent for unit, _ in units),
            standing=sum(needed for unit, needed in units if not unit.captured),
            gone=sum(needed for unit, needed in units if unit.captured),
            lost=sum(unit.spent - needed for unit, needed in units),
            rows=tuple(map(_row, rows)),
            losses=tuple(losses),
        )


def _row(row: _Row) -> LedgerRow:
    return LedgerRow(
        units=tuple(
            UnitTempo(
                letter=unit.letter,
                home=unit.home,
                square=unit.square,
                captured=unit.captured,
                promoted=unit.promoted,
            )
            for unit, _ in row
        ),
        spent=sum(unit.spent for unit, _ in row),
        needed=sum(needed for _, needed in row),
        lost=sum(unit.spent - needed for unit, needed in row),
    )


def _least_cost(units: Sequence[_Unit]) -> Iterator[_Row]:
    """Like units in rows of those that are measured from one another's homes; of equal costs, each from its own."""
    homes = list(range(len(units)))
    if len(units) > 1:
        from scipy.optimize import linear_sum_assignment

        costs = [
            [unit.needed(home) * 2 * len(units) + (unit is not home) for home in units] for unit in units
        ]
        homes = linear_sum_assignment(costs)[1].tolist()
    left = set(range(len(units)))
    while left:
        index = first = min(left)
        row: _Row = []
        while not row or index != first:
            left.discard(index)
            row.append((units[index], units[index].needed(units[homes[index]])))
            index = homes[index]
        yield row
