"""EPD records against published ones and against the reader of `chess` (PyPI)."""

from __future__ import annotations

from pathlib import Path

import chess
import pytest

from variorum.board import Epd, Score, Side, ce_of_score, score_of_ce

DATA = Path(__file__).parent / "data"
LINES = (DATA / "bratko_kopec.epd").read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("line", LINES, ids=range(1, len(LINES) + 1))
def test_bratko_kopec(line: str) -> None:
    """Kopec and Bratko, Advances in Computer Chess 3, 1982."""
    epd = Epd.parse(line)
    board, operations = chess.Board.from_epd(line)
    assert epd.position.epd == board.epd(en_passant="legal")
    assert [move.uci for move in epd.moves("bm")] == [move.uci() for move in operations["bm"]]
    assert epd.text("id") == operations["id"]
    assert str(epd) == line


@pytest.mark.parametrize(
    ("ce", "mover"),
    [
        (32766, Score.of_mate(1)),
        (32758, Score.of_mate(5)),
        (-32765, Score.of_mate(-1)),
        (-32757, Score.of_mate(-5)),
        (36, Score.of_cp(36)),
        (0, Score.of_cp(0)),
    ],
)
def test_centipawn_evaluation(ce: int, mover: Score) -> None:
    """The worked examples of PGN standard 1994, 16.2.5.6: mate in one and five, for the mover and against."""
    for side in Side:
        assert score_of_ce(ce, side) == mover.seen_from(side)
        assert ce_of_score(mover.seen_from(side), side) == ce


def test_identification_of_the_standard() -> None:
    """PGN standard 1994, 16.2.5.15 gives "BK.15" as an example of an id."""
    start = "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq -"
    assert str(Epd.parse(f'{start} id "BK.15"; hmvc 0; fmvn 1;')) == f'{start} fmvn 1; hmvc 0; id "BK.15";'


def test_the_library_reads_what_we_write() -> None:
    line = '4k3/8/8/8/8/8/4P3/R3K2R w KQ - hmvc 3; fmvn 17; bm O-O e4; pv O-O Kd7 Rfd1+; ce -12; acn 1000; c0 "a; b"; noop;'
    written = str(Epd.parse(line))
    board, operations = chess.Board.from_epd(written)
    assert operations["bm"] == [chess.Move.from_uci("e1g1"), chess.Move.from_uci("e2e4")]
    assert [move.uci() for move in operations["pv"]] == ["e1g1", "e8d7", "f1d1"]
    assert (operations["ce"], operations["acn"], operations["c0"]) == (-12, 1000, "a; b")
    assert (board.halfmove_clock, board.fullmove_number) == (3, 17)
