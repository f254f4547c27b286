from __future__ import annotations

import pytest

from variorum.board import FenError, Line, Move, MoveError, MoveReason, Position

PANOV = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6"


@pytest.mark.parametrize(
    "typed",
    [
        "e4 c6 d4 d5 exd5 cxd5 c4 Nf6",
        "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6",
        "1.e4 1...c6 2.d4 2...d5 3.exd5 3...cxd5 4.c4 4...Nf6",
        "1.e4 1…c6 2.d4 …d5 3.ed cd 4.c4 ...Nf6",
        "1 e4 c6 2 d4 d5 3 e4xd5 c6:d5 4 c4 Ng8-f6",
        "1.e4 c6\n2.d4\td5 3.exd5! cxd5 4.c4!? Nf6",
        "e2e4 c7c6 d2d4 d7d5 e4d5 c6d5 c2c4 g8f6",
        "1. ... e4",
        "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6",
        "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1 e4 c6 d4 d5 exd5 cxd5 c4 Nf6",
    ],
)
def test_typed_lines(typed: str) -> None:
    if typed == "1. ... e4":
        with pytest.raises(MoveError, match="is Black's"):
            Line.parse(typed)
        return
    line = Line.parse(typed)
    assert line.san() == str(line) == PANOV
    assert len(line) == 8 and len(line.positions()) == 9
    assert line.positions()[-1] == line.end


def test_empty_line() -> None:
    line = Line.parse("  ")
    assert line.moves == () and line.end == Position.start() and line.san() == ""


def test_a_line_from_a_place() -> None:
    tabiya = Line.parse(PANOV + " 5.Nc3").end
    line = Line.parse("5…e6 6.Nf3", tabiya)
    assert line.san() == "5...e6 6.Nf3"
    assert line.san(numbers=False) == "e6 Nf3"
    # A place may be reached by orders of another length: the first number typed counts, the others follow it.
    assert Line.parse("7...e6 8.Nf3", tabiya) == line
    with pytest.raises(MoveError, match="move 8 is due"):
        Line.parse("7...e6 9.Nf3", tabiya)


def test_a_fen_with_black_to_move() -> None:
    fen = "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq - 0 1"
    assert Line.parse(f"{fen} 1...c6 2.d4").san() == "1...c6 2.d4"
    assert Line.parse(fen).moves == ()


@pytest.mark.parametrize(
    ("typed", "ply", "token", "reason", "candidates"),
    [
        ("1.e4 e5 2.Nxe5", 3, "Nxe5", MoveReason.ILLEGAL, ()),
        ("1.e4 e5 2.Sf3", 3, "Sf3", MoveReason.NOT_A_MOVE, ()),
        ("1.d4 d5 2.Nf3 Nf6 3.Nd2", 5, "Nd2", MoveReason.AMBIGUOUS, ("Nbd2", "Nfd2")),
        ("1.e4 e5 3.Nf3", 3, "3.", MoveReason.MISNUMBERED, ()),
        ("4.c4 Nf6", 1, "4.", MoveReason.MISNUMBERED, ()),
        ("1.e4 e5 2...Nf3", 3, "2...", MoveReason.MISNUMBERED, ()),
        ("1.e4 e5 1-0", 3, "1-0", MoveReason.NOT_A_MOVE, ()),
        ("1.e4 {best} e5", 2, "{best}", MoveReason.NOT_A_MOVE, ()),
    ],
)
def test_errors_name_ply_and_reason(
    typed: str, ply: int, token: str, reason: MoveReason, candidates: tuple[str, ...]
) -> None:
    with pytest.raises(MoveError) as caught:
        Line.parse(typed)
    error = caught.value
    assert (error.ply, error.token, error.reason, error.candidates) == (ply, token, reason, candidates)
    assert str(error).startswith(f"ply {ply}: ")


def test_fen_errors_are_told() -> None:
    with pytest.raises(FenError, match="king is missing"):
        Line.parse("8/8/8/8/8/8/8/4K3 w - - 0 1 1.Kd1")


def test_castling_with_zeros_and_null_moves() -> None:
    line = Line.parse("1.e4 e5 2.Nf3 Nf6 3.Bc4 Bc5 4.0-0 0-0 5.-- d6 6.0000")
    assert line.san() == "1.e4 e5 2.Nf3 Nf6 3.Bc4 Bc5 4.O-O O-O 5.-- d6 6.--"


def test_play() -> None:
    line = Line.parse("1.e4").play(Move("c7c6"))
    assert line.san() == "1.e4 c6"
    with pytest.raises(MoveError):
        line.play(Move("c6c5"))


def test_a_long_token_is_cut_in_the_message() -> None:
    with pytest.raises(MoveError) as caught:
        Line.parse("e" * 10_000)
    assert len(str(caught.value)) < 100
