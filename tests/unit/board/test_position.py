from __future__ import annotations

import numpy as np
import pytest

from variorum.base import InputError
from variorum.board import FenError, Move, MoveError, MoveReason, Position, Side


def test_start() -> None:
    start = Position.start()
    assert start.fen == "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1"
    assert start.turn is Side.WHITE and start.turn.other is Side.BLACK
    assert (start.ply, start.fullmove, start.halfmove_clock) == (0, 1, 0)
    assert start.outcome is None and not start.is_check and not start.chess960
    assert len(start.legal_moves()) == 20
    assert list(start.pieces())[:2] == ["a1", "b1"] and start.pieces()["e8"] == "k"
    assert repr(start) == f"Position.from_fen('{start.fen}')"
    assert start != "a position"


def test_fen_with_four_fields_and_stray_space() -> None:
    position = Position.from_fen("  4k3/8/8/8/8/8/8/4K2R   w K -\n")
    assert position.fen == "4k3/8/8/8/8/8/8/4K2R w K - 0 1"


@pytest.mark.parametrize(
    ("fen", "reason"),
    [
        ("", "too few fields"),
        ("hello", "eight ranks"),
        ("8/8/8/8/8/8/8/8 w - - 0 1", "the board is empty; a king is missing"),
        ("4k3/8/8/8/8/8/8/4K3 w KQ - 0 1", "castling rights without"),
        ("4k3/8/8/8/8/8/4R3/4K3 w - - 0 1", "in check"),
        ("4k3/8/8/8/8/8/8/4K3 w - - 0 1 1 1", "fields"),
        ("ké", "eight ranks"),
    ],
)
def test_fen_errors(fen: str, reason: str) -> None:
    with pytest.raises(FenError, match=reason) as caught:
        Position.from_fen(fen)
    assert isinstance(caught.value, InputError)
    assert caught.value.exit_code == 2


def test_chess960_is_told_from_the_rights_or_by_the_caller() -> None:
    start = Position.start()
    shuffled = Position.from_fen("nrbkqbrn/pppppppp/8/8/8/8/PPPPPPPP/NRBKQBRN w KQkq - 0 1")
    assert shuffled.chess960
    assert not Position.from_fen(start.fen).chess960
    assert not Position.from_fen(start.fen.replace("KQkq", "HAha")).chess960
    ready = "4k3/8/8/8/8/8/8/4K2R w K - 0 1"
    castles = Position.from_fen(ready, chess960=True).parse("O-O")
    assert castles == Move("e1h1")
    assert Position.from_fen(ready).parse("O-O") == Move("e1g1")
    assert Position.from_fen(ready).uci(castles) == "e1g1"
    assert Position.from_fen(ready).play(castles) == Position.from_fen(ready).play(Move("e1g1"))


def test_x_fen_names_the_inner_rook() -> None:
    """X-FEN: a letter of the file where the castling rook is not the outermost one."""
    position = Position.from_fen("4k3/8/8/8/8/8/8/4KR1R w F - 0 1")
    assert position.fen == "4k3/8/8/8/8/8/8/4KR1R w F - 0 1"
    assert Position.from_fen("4k3/8/8/8/8/8/8/4KR1R w K - 0 1") != position


def test_illegal_moves_are_refused_with_their_reason() -> None:
    start = Position.start()
    for call in (start.play, start.san, start.uci):
        with pytest.raises(MoveError) as caught:
            call(Move("e2e5"))
        assert caught.value.reason is MoveReason.ILLEGAL
        assert caught.value.token == "e2e5"
        assert caught.value.ply is None
    with pytest.raises(MoveError, match="not a move"):
        start.play(Move("hello"))


def test_ambiguous_move_names_its_candidates() -> None:
    position = Position.from_fen("4k3/8/8/8/8/2N5/8/4K1N1 w - - 0 1")
    with pytest.raises(MoveError) as caught:
        position.parse("Ne2")
    assert caught.value.reason is MoveReason.AMBIGUOUS
    assert sorted(caught.value.candidates) == ["Nce2", "Nge2"]
    assert "it may mean" in str(caught.value)


def test_null_move() -> None:
    start = Position.start()
    for text in ("--", "Z0", "0000", "––"):
        assert start.parse(text) == Move.null()
    passed = start.play(Move.null())
    assert passed.fen == "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR b KQkq - 1 1"
    assert start.san(Move.null()) == "--"
    assert Move.null() not in start.legal_moves()
    checked = Position.from_fen("4k3/8/8/8/8/8/8/r3K3 w - - 0 1")
    for text in ("--", "0000"):
        with pytest.raises(MoveError, match="illegal"):
            checked.play(Move.null())
        with pytest.raises(MoveError, match="illegal"):
            checked.parse(text)


@pytest.mark.parametrize("text", ["e2e4", "e7e8q", "0000", "a1h8"])
def test_uci_text_is_a_move(text: str) -> None:
    assert Move.from_uci(text) == Move(text)
    assert str(Move.from_uci(text)) == text


@pytest.mark.parametrize("text", ["", "e2", "e2e", "e2e9", "i2e4", "e7e8k", "e2e4e5", "Nf3", "e7e8Q"])
def test_other_text_is_not(text: str) -> None:
    with pytest.raises(MoveError, match="not a move"):
        Move.from_uci(text)


@pytest.mark.parametrize(
    ("fen", "result"),
    [
        ("7k/6Q1/6K1/8/8/8/8/8 b - - 0 1", "1-0"),
        ("7K/6q1/6k1/8/8/8/8/8 w - - 0 1", "0-1"),
        ("7k/5Q2/6K1/8/8/8/8/8 b - - 0 1", "1/2-1/2"),
        ("7k/8/6K1/8/8/8/8/8 b - - 0 1", "1/2-1/2"),
        ("7k/8/6K1/8/8/8/8/Q7 b - - 0 1", None),
    ],
)
def test_outcome(fen: str, result: str | None) -> None:
    assert Position.from_fen(fen).outcome == result


def test_packed_numbers_that_are_no_line() -> None:
    start = Position.start()
    for packed in ([0xFFFF], [0x0001], [12 | 36 << 6]):
        with pytest.raises(MoveError):
            start.unpack(np.array(packed, dtype=np.uint16))
        with pytest.raises(MoveError):
            start.replay(np.array(packed, dtype=np.uint16))
    with pytest.raises(MoveError):
        start.pack([Move("e2e4"), Move("e2e4")])


def test_counters_do_not_count() -> None:
    one = Position.from_fen("4k3/8/8/8/8/8/8/4K2R w K - 0 1")
    other = Position.from_fen("4k3/8/8/8/8/8/8/4K2R w K - 40 90")
    assert one == other and hash(one) == hash(other) and one.key == other.key
    assert len({one, other}) == 1
