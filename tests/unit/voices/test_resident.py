import threading
import time

import chess
import pytest

from variorum.base import Interrupted, VoiceError
from variorum.board import Position, Request, Score, Verdict
from variorum.voices.resident import RESIDENT, Resident
from variorum.voices.voice import Voice

PANOV = "r1bqkb1r/pp3ppp/2n1pn2/3p4/2PP4/2N2N2/PP3PPP/R1BQKB1R w KQkq - 0 7"


def ask(fen: str, resident: Resident | None = None, **limits: int) -> Verdict:
    return (resident or Resident(8)).ask(Request(position=Position.from_fen(fen), voice=RESIDENT, **limits))


def test_it_is_a_voice() -> None:
    voice: Voice = Resident(1)
    assert voice.name == "resident"
    voice.close()


def test_same_verdict_under_a_node_limit_whatever_was_asked_before() -> None:
    resident = Resident(8)
    ask(chess.STARTING_FEN, resident, nodes=20_000)
    used = ask(PANOV, resident, nodes=30_000, multipv=3)
    fresh = ask(PANOV, nodes=30_000, multipv=3)
    assert used.lines == fresh.lines
    assert used.iterations == fresh.iterations
    assert used.nodes == fresh.nodes == 30_000


def test_lines_are_legal_different_and_best_first() -> None:
    verdict = ask(PANOV, nodes=40_000, multipv=4)
    assert len({line.moves[0] for line in verdict.lines}) == 4
    scores = [line.score.cp for line in verdict.lines]
    assert scores == sorted(scores, reverse=True)
    for line in verdict.lines:
        board = chess.Board(PANOV)
        for uci in line.moves:
            board.push_uci(uci)
    assert [iteration.depth for iteration in verdict.iterations] == list(range(1, verdict.depth + 1))
    assert verdict.iterations[-1].move == verdict.lines[0].moves[0]


@pytest.mark.parametrize(
    ("fen", "mate", "first"),
    [
        ("6k1/5ppp/8/8/8/8/5PPP/3R2K1 w - - 0 1", 1, "d1d8"),
        # The same for Black: White's view, so the mate is negative.
        ("3r2k1/5ppp/8/8/8/8/5PPP/6K1 b - - 0 1", -1, "d8d1"),
        # Two rooks climb the board.
        ("7k/8/8/8/8/8/R7/1R4K1 w - - 0 1", 2, None),
    ],
)
def test_mates_are_white_s_view(fen: str, mate: int, first: str | None) -> None:
    line = ask(fen, depth=6).lines[0]
    assert line.score == Score.of_mate(mate)
    assert first in (None, line.moves[0])
    board = chess.Board(fen)
    for uci in line.moves:
        board.push_uci(uci)
    assert board.is_checkmate()
    assert len(line.moves) == 2 * abs(mate) - 1


def test_more_lines_than_moves() -> None:
    assert len(ask("7k/8/8/8/8/8/8/K7 w - - 0 1", depth=2, multipv=9).lines) == 3


def test_chess960_castling_is_written_king_takes_rook() -> None:
    fen = "4k3/8/8/8/8/8/8/5KR1 w G - 0 1"
    position = Position.from_fen(fen, chess960=True)
    verdict = Resident(1).ask(Request(position=position, voice=RESIDENT, depth=3, multipv=40))
    assert {line.moves[0] for line in verdict.lines} == {move.uci for move in position.legal_moves()}


def test_no_verdict_when_the_game_is_over() -> None:
    with pytest.raises(VoiceError, match="game is over"):
        ask("R5k1/5ppp/8/8/8/8/8/6K1 b - - 0 1", nodes=100)


def test_table_size_is_checked() -> None:
    with pytest.raises(VoiceError, match="MiB"):
        Resident(0)


def test_several_threads_are_told_with_the_verdict() -> None:
    assert ask(PANOV, nodes=2000).threads == 1
    verdict = ask(PANOV, Resident(8, threads=3), nodes=60_000, multipv=2)
    assert verdict.threads == 3
    assert 30_000 <= verdict.nodes <= 60_000 + 3 * 1024
    board = chess.Board(PANOV)
    for line in verdict.lines:
        assert chess.Move.from_uci(line.moves[0]) in board.legal_moves
    for threads in (0, 257):
        with pytest.raises(VoiceError, match="1 to 256 threads"):
            Resident(8, threads=threads)


def test_stop_ends_the_question_and_only_that_one() -> None:
    resident = Resident(1)
    resident.stop()
    timer = threading.Timer(0.2, resident.stop)
    timer.start()
    started = time.monotonic()
    with pytest.raises(Interrupted):
        resident.ask(Request(position=Position.start(), voice=RESIDENT, seconds=60))
    assert time.monotonic() - started < 30
    timer.join()
    assert ask(PANOV, resident, nodes=1000).nodes == 1000
