"""What a game shows from a place on (methods.md 9), slowly and by `chess` from PyPI: the independent reference.

Which structure a position has is asked of Variorum: `tests/external/test_known_structures.py` holds that.
"""

from __future__ import annotations

from collections.abc import Iterator

import chess

from variorum.board import Line, Position, Side
from variorum.insight.plan_kinds import Plan, PlanKind
from variorum.insight.structures import structure_of

_HOME = dict[int, tuple[bool, str, str, bool]]


def told_by_chess(place: Position, line: Line, horizon: int) -> dict[Plan, int]:
    """What a game shows, by `chess` from PyPI: the independent reference."""
    board = chess.Board(place.fen)
    homes: _HOME = {
        square: (piece.color, piece.symbol().upper(), chess.square_name(square), False)
        for square, piece in board.piece_map().items()
    }
    paths: dict[tuple[bool, str, str, bool], str] = {}
    found: dict[Plan, int] = {}
    lost: dict[bool, list[int]] = {True: [], False: []}
    first_taker, last_capture = True, 0

    def side(white: bool) -> Side:
        return Side.WHITE if white else Side.BLACK

    def isolated(color: bool) -> Iterator[int]:
        pawns = board.pieces(chess.PAWN, color)
        files = {chess.square_file(pawn) for pawn in pawns}
        return (
            pawn
            for pawn in pawns
            if files.isdisjoint({chess.square_file(pawn) - 1, chess.square_file(pawn) + 1})
        )

    def attackers(color: bool, pawn: int) -> int:
        return sum(board.piece_type_at(square) != chess.KING for square in board.attackers(color, pawn))

    before = {pawn: attackers(not color, pawn) for color in (True, False) for pawn in isolated(color)}
    structure = structure_of(place)

    def close() -> None:
        white, black = (sorted(lost[color], reverse=True) for color in (True, False))
        pairs = []
        for like in (lambda a, b: a == b, lambda a, b: {a, b} == {2, 3}, lambda a, b: True):
            own, other = (white, black) if first_taker else (black, white)
            for one in list(own):
                match = next((two for two in other if like(one, two)), None)
                if match is not None:
                    own.remove(one)
                    other.remove(match)
                    pairs.append((one, match) if first_taker else (match, one))
        for pair in pairs:
            text = " for ".join(chess.piece_name(piece) for piece in pair)
            found.setdefault(Plan(PlanKind.EXCHANGE, None, text), last_capture)
        lost[True].clear()
        lost[False].clear()

    for ply, played in enumerate(line.moves[:horizon], 1):
        move = chess.Move.from_uci(played.uci)
        mover = board.turn
        if not board.is_capture(move):
            close()
        if board.is_castling(move):
            short = board.is_kingside_castling(move)
            found.setdefault(
                Plan(PlanKind.CASTLING, side(mover), f"castles {'short' if short else 'long'}"), ply
            )
            rank = chess.square_rank(move.from_square)
            del homes[move.from_square], homes[chess.square(7 if short else 0, rank)]
            for letter, file in (("K", 6 if short else 2), ("R", 5 if short else 3)):
                square = chess.square(file, rank)
                homes[square] = (mover, letter, chess.square_name(square), True)
        else:
            taken_on = move.to_square
            if board.is_en_passant(move):
                taken_on = chess.square(
                    chess.square_file(move.to_square), chess.square_rank(move.from_square)
                )
            taken = board.piece_at(taken_on)
            unit = homes.pop(move.from_square)
            if taken is not None:
                del homes[taken_on]
                if not lost[True] and not lost[False]:
                    first_taker = mover
                lost[taken.color].append(taken.piece_type)
                last_capture = ply
            homes[move.to_square] = unit
            start = ("" if unit[1] == "P" else unit[1]) + unit[2]
            became = f"={chess.piece_symbol(move.promotion).upper()}" if move.promotion else ""
            step = f"{'x' if taken else '–'}{chess.square_name(move.to_square)}{became}"
            paths[unit] = paths.get(unit, start) + step
            found.setdefault(Plan(PlanKind.ITINERARY, side(mover), paths[unit], start, unit[3]), ply)
            moved = board.piece_type_at(move.from_square)
            # A pawn attacks what would attack it from there.
            enemies = board.pieces(chess.PAWN, not mover)
            if (
                moved == chess.PAWN
                and taken is None
                and enemies & chess.BB_PAWN_ATTACKS[mover][move.to_square]
            ):
                squares = f"{chess.square_name(move.from_square)}–{chess.square_name(move.to_square)}"
                found.setdefault(Plan(PlanKind.BREAK, side(mover), squares), ply)
        board.push(move)
        for pawn in isolated(not mover):
            for units in range(before.get(pawn, 0) + 1, min(attackers(mover, pawn), 4) + 1):
                if units >= 2:
                    text = f"{('two', 'three', 'four')[units - 2]} units at {chess.square_name(pawn)}"
                    found.setdefault(Plan(PlanKind.PRESSURE, side(mover), text), ply)
        now = structure_of(Position.from_fen(board.fen()))
        if now is not None and now != structure:
            found.setdefault(Plan(PlanKind.STRUCTURE, None, now.words), ply)
        structure = now
    close()
    return found
