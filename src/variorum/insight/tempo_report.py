"""The tempo ledger as a result to print, alone or against another line, and what a trainer would say of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import msgspec

from variorum.base import UsageError
from variorum.board import Line, Side
from variorum.insight.tempo import Ledger, LedgerRow, Loss, SideLedger, tempo_ledger
from variorum.insight.wording import PIECE_NAMES, and_list, moves, number, side_name, unit_name

__all__ = [
    "LineLedger",
    "RowPair",
    "SideFigures",
    "TempoComparison",
    "TempoReport",
    "row_name",
    "tempo_report",
]


class LineLedger(msgspec.Struct, frozen=True, kw_only=True):
    """A line with its ledger; `sentences` say it in words."""

    line: str
    fen: str
    to_move: Side
    white: SideLedger
    black: SideLedger
    sentences: tuple[str, ...]


class RowPair(msgspec.Struct, frozen=True, kw_only=True):
    """A unit on which the two lines spend differently: (spent, needed) here and there."""

    side: Side
    unit: str
    here: tuple[int, int]
    there: tuple[int, int]


class SideFigures(msgspec.Struct, frozen=True, kw_only=True):
    """Moves of one side: spent = standing + gone + lost."""

    spent: int
    standing: int
    gone: int
    lost: int


class TempoComparison(msgspec.Struct, frozen=True, kw_only=True):
    """Two lines compared; the figures of `white` and `black` are those here less those there.

    `ends` is `position` for one position, `units` for the same units but another side to move or other rights.
    """

    ends: Literal["position", "units", "different"]
    white: SideFigures
    black: SideFigures
    rows: tuple[RowPair, ...]
    sentences: tuple[str, ...]


class TempoReport(msgspec.Struct, frozen=True, kw_only=True):
    """The ledger of a line, and where it is asked for, of another line from the same start, with the comparison."""

    here: LineLedger
    there: LineLedger | None = None
    comparison: TempoComparison | None = None


def tempo_report(line: Line, against: Line | None = None) -> TempoReport:
    """The ledger of a line, alone or compared.

    Raises:
        UsageError: A line has no moves, or the lines start from different positions.
    """
    for one in (line, against):
        if one is not None and not one.moves:
            raise UsageError(
                "a tempo ledger needs a line with moves, and this is a position alone",
                remedy="give the moves that lead there, such as 1.e4 c6 2.d4",
            )
    if against is not None and against.start != line.start:
        raise UsageError(
            f"the lines start from different positions: {line.start.epd} and {against.start.epd}",
            remedy="compare lines from one start; two positions as such are compared by `variorum contrast`",
        )
    here = _line_ledger(line)
    if against is None:
        return TempoReport(here=here)
    there = _line_ledger(against)
    return TempoReport(here=here, there=there, comparison=_comparison(line, against, here, there))


def row_name(row: LedgerRow) -> str:
    """`c-pawn`, or `two knights` where like units share a row."""
    names = [unit_name(unit.letter, unit.home) for unit in row.units]
    if len(names) == 1:
        return names[0]
    return f"{number(len(names))} {PIECE_NAMES[row.units[0].letter]}s"


def _line_ledger(line: Line) -> LineLedger:
    ledger = tempo_ledger(line)
    return LineLedger(
        line=line.san(),
        fen=line.end.fen,
        to_move=line.end.turn,
        white=ledger.white,
        black=ledger.black,
        sentences=tuple(_sentences(ledger, line.end.turn)),
    )


def _sentences(ledger: Ledger, to_move: Side) -> Iterator[str]:
    for side in Side:
        own = ledger.of(side)
        if own.spent:
            yield f"{side_name(side)} has lost {moves(own.lost)}."
        for row in own.rows:
            if row.lost:
                yield _row_sentence(side, row, own.losses)
    white, black = ledger.white.standing, ledger.black.standing
    turn = f"it is {side_name(to_move)}'s move"
    if white == black:
        yield f"As many moves stand on the board for White as for Black ({number(white)}), and {turn}."
    else:
        ahead = Side.WHITE if white > black else Side.BLACK
        more = number(abs(white - black))
        yield (
            f"{side_name(ahead)} has {more} more {'move' if more == 'one' else 'moves'} standing on the board than "
            f"{side_name(ahead.other)} ({max(white, black)} against {min(white, black)}), and {turn}."
        )


def _row_sentence(side: Side, row: LedgerRow, losses: tuple[Loss, ...]) -> str:
    """Such as: Black has spent two moves on the c-pawn where one was needed: one lost with 3...c5."""
    text = f"{side_name(side)} has spent {moves(row.spent)} on the {row_name(row)}"
    unit = row.units[0]
    if len(row.units) == 1 and row.needed == 0:
        text += ", which " + ("was taken" if unit.captured else "stands") + " where it began"
    else:
        if len(row.units) == 1 and unit.captured:
            text += f", taken on {unit.square},"
        text += f" where {number(row.needed)} {'was' if row.needed == 1 else 'were'} needed"
    homes = {unit.home for unit in row.units}
    told = [
        loss.move + (f" (provoked by {loss.provoked_by})" if loss.provoked_by else "")
        for loss in losses
        if loss.home in homes
    ]
    return f"{text}: {number(row.lost)} lost with {and_list(told)}." if told else f"{text}."


def _comparison(line: Line, against: Line, here: LineLedger, there: LineLedger) -> TempoComparison:
    one, other = line.end, against.end
    ends: Literal["position", "units", "different"] = "different"
    if one == other:
        ends = "position"
    elif one.pieces() == other.pieces():
        ends = "units"
    rows = tuple(pair for side in Side for pair in _row_pairs(side, here, there))
    return TempoComparison(
        ends=ends,
        white=_less(here.white, there.white),
        black=_less(here.black, there.black),
        rows=rows,
        sentences=tuple(_compared(ends, here, there, rows)),
    )


def _less(here: SideLedger, there: SideLedger) -> SideFigures:
    return SideFigures(
        spent=here.spent - there.spent,
        standing=here.standing - there.standing,
        gone=here.gone - there.gone,
        lost=here.lost - there.lost,
    )


def _row_pairs(side: Side, here: LineLedger, there: LineLedger) -> Iterator[RowPair]:
    """Units by home on which the lines spend differently. Where either line shares a row, that row's units go together."""
    first, second = ((one.white if side is Side.WHITE else one.black).rows for one in (here, there))
    by_home = {unit.home: row for row in second for unit in row.units}
    wide = {unit.home for rows in (first, second) for row in rows if len(row.units) > 1 for unit in row.units}
    kin: dict[str, tuple[list[LedgerRow], list[LedgerRow]]] = {}
    for row in first:
        letter = row.units[0].letter
        name = f"{PIECE_NAMES[letter]}s" if any(unit.home in wide for unit in row.units) else row_name(row)
        mine, theirs = kin.setdefault(name, ([], []))
        mine.append(row)
        for unit in row.units:
            if by_home[unit.home] not in theirs:
                theirs.append(by_home[unit.home])
    for name, (mine, theirs) in kin.items():
        spent = [(sum(row.spent for row in rows), sum(row.needed for row in rows)) for rows in (mine, theirs)]
        if spent[0] != spent[1]:
            yield RowPair(side=side, unit=name, here=spent[0], there=spent[1])


def _compared(ends: str, here: LineLedger, there: LineLedger, rows: tuple[RowPair, ...]) -> Iterator[str]:
    if ends == "position":
        yield "Both lines end in the same position."
    elif ends == "units" and here.to_move is not there.to_move:
        yield (
            f"The units stand alike; here it is {side_name(here.to_move)}'s move, "
            f"there {side_name(there.to_move)}'s."
        )
    elif ends == "units":
        yield "The units and the side to move are the same; the right to castle or to take in passing differs."
    lost = {side: _of(here, side).lost - _of(there, side).lost for side in Side}
    if not any(lost.values()):
        yield "Neither side has lost more moves here than there."
    elif lost[Side.WHITE] == lost[Side.BLACK]:
        more = "more" if lost[Side.WHITE] > 0 else "fewer"
        yield f"Each side has lost {moves(abs(lost[Side.WHITE]))} {more} here than there, which cancels out."
    for side in Side:
        if lost[side] and lost[Side.WHITE] != lost[Side.BLACK]:
            more = "more" if lost[side] > 0 else "fewer"
            yield f"{side_name(side)} has lost {moves(abs(lost[side]))} {more} here than there."
        for pair in rows:
            if pair.side is side and pair.here[0] - pair.here[1] != pair.there[0] - pair.there[1]:
                there_too = (
                    number(pair.there[0]) if pair.there[0] == pair.there[1] else _of_needed(pair.there)
                )
                yield (
                    f"On the {pair.unit} {side_name(side)} has spent "
                    f"{moves(pair.here[0]) if pair.here[0] == pair.here[1] else _of_needed(pair.here)}; "
                    f"in the other line, {there_too}."
                )
    for side in Side:
        gone = _of(here, side).gone, _of(there, side).gone
        if gone[0] != gone[1]:
            yield (
                f"Gone with units that were taken: {moves(gone[0])} of {side_name(side)} here, "
                f"{number(gone[1])} there."
            )


def _of(ledger: LineLedger, side: Side) -> SideLedger:
    return ledger.white if side is Side.WHITE else ledger.black


def _of_needed(figures: tuple[int, int]) -> str:
    spent, needed = figures
    return f"{moves(spent)} where {number(needed)} {'was' if needed == 1 else 'were'} needed"
