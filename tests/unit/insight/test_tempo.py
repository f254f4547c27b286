from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from variorum.base import UsageError
from variorum.board import Line, Position, Side
from variorum.insight.mirror import mirrored_line, mirrored_position, mirrored_square
from variorum.insight.tempo import SideLedger, tempo_ledger
from variorum.insight.tempo_report import tempo_report

STARTS = (
    "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1",
    "r3k2r/p1ppqpb1/bn2pnp1/3PN3/1p2P3/2N2Q1p/PPPBBPPP/R3K2R w KQkq - 0 1",
    "rkbqnbrn/pppppppp/8/8/8/8/PPPPPPPP/RKBQNBRN w KQkq - 0 1",  # Chess960
    "n1n5/PPPk4/8/8/8/8/4Kppp/5N1N b - - 0 1",  # promotions
)


def wander(start: str, choices: Sequence[int]) -> Line:
    """A line of legal moves, each chosen by a number."""
    position = Position.from_fen(start)
    moves = []
    for choice in choices:
        legal = position.legal_moves()
        if not legal:
            break
        moves.append(legal[choice % len(legal)])
        position = position.play(moves[-1])
    return Line(Position.from_fen(start), tuple(moves))


lines = st.builds(wander, st.sampled_from(STARTS), st.lists(st.integers(0, 10_000), max_size=60))


@settings(max_examples=60, deadline=None)
@given(lines)
def test_what_is_spent_is_the_moves_made(line: Line) -> None:
    ledger = tempo_ledger(line)
    first, second = -(-len(line) // 2), len(line) // 2
    own = {line.start.turn: first, line.start.turn.other: second}
    for side in Side:
        found = ledger.of(side)
        assert found.spent == own[side] == sum(row.spent for row in found.rows)
        assert found.spent == found.standing + found.gone + found.lost
        assert found.standing + found.gone == sum(row.needed for row in found.rows)
        assert all(row.lost == row.spent - row.needed >= 0 for row in found.rows)
        assert sum(len(row.units) for row in found.rows) == sum(
            (letter.isupper()) is (side is Side.WHITE) for letter in line.start.pieces().values()
        )
        standing_on = {unit.square for row in found.rows for unit in row.units if not unit.captured}
        assert standing_on == {
            square for square, letter in line.end.pieces().items() if letter.isupper() is (side is Side.WHITE)
        }


@settings(max_examples=30, deadline=None)
@given(lines)
def test_lost_never_falls_and_each_rise_is_told(line: Line) -> None:
    told = tempo_ledger(line)
    for side in Side:
        before = 0
        losses = {loss.ply: loss.lost for loss in told.of(side).losses}
        for ply in range(1, len(line) + 1):
            lost = tempo_ledger(Line(line.start, line.moves[:ply])).of(side).lost
            assert lost - before == losses.get(ply, 0) >= 0
            before = lost


@settings(max_examples=60, deadline=None)
@given(lines)
def test_the_ledger_of_a_mirrored_line_is_the_mirrored_ledger(line: Line) -> None:
    ledger, mirrored = tempo_ledger(line), tempo_ledger(mirrored_line(line))
    for side in Side:
        one, other = ledger.of(side), mirrored.of(side.other)
        assert (one.spent, one.standing, one.gone, one.lost) == (
            other.spent,
            other.standing,
            other.gone,
            other.lost,
        )
        assert sorted(
            (mirrored_square(loss.home), loss.ply, loss.lost, bool(loss.provoked_by)) for loss in one.losses
        ) == sorted((loss.home, loss.ply, loss.lost, bool(loss.provoked_by)) for loss in other.losses)
        assert mirrored_position(mirrored_position(line.end)) == line.end


def ledger_of(moves: str, start: str = STARTS[0]) -> tuple[SideLedger, SideLedger]:
    ledger = tempo_ledger(Line.parse(moves, Position.from_fen(start)))
    return ledger.white, ledger.black


def test_like_pieces_are_measured_from_the_nearer_home() -> None:
    """The knights have exchanged their parts, four moves where Nc3 and Nf3 were two; one row for both."""
    white, _ = ledger_of("1.d4 d5 2.e4 e5 3.Nd2 Nf6 4.Ne2 Nc6 5.Nc3 Be7 6.Nf3")
    (row,) = [row for row in white.rows if len(row.units) == 2]
    assert [(unit.home, unit.square) for unit in row.units] == [("b1", "f3"), ("g1", "c3")]
    assert (row.spent, row.needed, row.lost) == (4, 2, 2)
    assert [(loss.move, loss.lost) for loss in white.losses] == [("6.Nf3", 2)]


def test_castling_is_one_move_and_gives_new_homes() -> None:
    white, black = ledger_of("1.e4 e5 2.Nf3 Nf6 3.Be2 Be7 4.O-O O-O 5.Re1 Re8 6.Kf1 Kh8")
    assert (white.spent, white.standing, white.lost) == (6, 6, 0)
    assert (black.spent, black.standing, black.lost) == (6, 6, 0)


def test_a_promoted_pawn_keeps_what_it_needed() -> None:
    white, _ = ledger_of("1.a8=Q Kd6 2.Qa1 Kd5 3.Qh8", "8/P3k3/8/8/8/8/4K3/8 w - - 0 1")
    (pawn,) = [row for row in white.rows if row.units[0].letter == "P"]
    assert pawn.units[0].promoted == "Q"
    assert (pawn.spent, pawn.needed) == (3, 2)  # a8, and from a8 to h8 one more


def test_a_pawn_taken_in_passing_is_gone_from_its_square() -> None:
    _, black = ledger_of("1.e4 a6 2.e5 d5 3.exd6")
    (pawn,) = [row for row in black.rows if row.units[0].home == "d7"]
    assert pawn.units[0].captured and pawn.units[0].square == "d5"
    assert (black.standing, black.gone, black.lost) == (1, 1, 0)


def test_a_null_move_is_nobodys() -> None:
    white, black = ledger_of("1.e4 -- 2.d4")
    assert (white.spent, black.spent) == (2, 0)


@pytest.mark.parametrize(
    ("moves", "provoked"),
    [
        ("1.e4 e5 2.Bc4 a6 3.Bb3", []),  # nobody touched it, and b3 is needed anyway: no loss
        ("1.e4 d5 2.e5 a6 3.Bd3 c5 4.Be2", [None]),  # …c5 attacked nothing on d3
        ("1.e4 d5 2.e5 a6 3.Bd3 d4 4.a3 c5 5.a4 c4 6.Bf1", ["5...c4", None]),
        ("1.d4 d5 2.Bf4 e5 3.Bg3", []),
    ],
)
def test_provoked(moves: str, provoked: list[str | None]) -> None:
    white, _ = ledger_of(moves)
    assert sorted(str(loss.provoked_by) for loss in white.losses) == sorted(map(str, provoked))


def test_an_attack_by_an_equal_on_a_guarded_unit_provokes_nothing() -> None:
    """Queen against guarded queen: the loss is the owner's own choice; unguarded, it is provoked."""
    guarded, _ = ledger_of("1.Qd2 Qa5 2.Qd1", "4k3/q7/8/8/8/8/8/2KQ4 w - - 0 1")
    assert [loss.provoked_by for loss in guarded.losses] == [None]
    loose, _ = ledger_of("1.Qf3 Qa8 2.Qd1", "4k3/q7/8/8/8/8/8/2KQ4 w - - 0 1")
    assert [loss.provoked_by for loss in loose.losses] == ["1...Qa8"]


def test_lines_from_different_starts_are_refused() -> None:
    other = Line.parse("1.e4", Position.from_fen("4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"))
    with pytest.raises(UsageError, match="different positions"):
        tempo_report(Line.parse("1.e4 e5"), other)
    with pytest.raises(UsageError, match="position alone"):
        tempo_report(Line(Position.start()))


def test_a_comparison_names_the_unit() -> None:
    report = tempo_report(Line.parse("1.d4 d5 2.Nf3 c6 3.e3 c5"), Line.parse("1.d4 d5 2.Nf3 c5 3.e3"))
    assert report.comparison is not None
    assert report.comparison.ends == "units"
    assert report.comparison.black.lost == 1
    assert report.comparison.sentences == (
        "The units stand alike; here it is White's move, there Black's.",
        "Black has lost one move more here than there.",
        "On the c-pawn Black has spent two moves where one was needed; in the other line, one.",
    )
    assert (
        "Black has spent two moves on the c-pawn where one was needed: one lost with 3...c5."
        in report.here.sentences
    )


def test_two_lines_to_one_position_spend_alike() -> None:
    report = tempo_report(Line.parse("1.e4 e5 2.Nf3 Nc6"), Line.parse("1.Nf3 Nc6 2.e4 e5"))
    assert report.comparison is not None
    assert report.comparison.ends == "position"
    assert report.comparison.rows == ()
