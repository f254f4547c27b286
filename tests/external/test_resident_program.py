"""`variorum-resident` driven by `chess.engine` of python-chess, an independent reading of the UCI protocol (Meyer-Kahlen, 2006).

`chess.engine` raises at a move that is illegal, at an option of a wrong kind and at words it does not expect, and it follows every
line of play on a board of its own.
"""

from __future__ import annotations

from collections.abc import Iterator

import chess
import chess.engine
import pytest
from chess.engine import Limit, Mate, SimpleEngine

from tests.resident_program import resident_program

QUEEN_DOWN = "rnb1kbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1"
BACK_RANK = "6k1/5ppp/8/8/8/8/5PPP/3R2K1 w - - 0 1"
TWO_ROOKS = "8/8/8/4k3/8/8/R7/1R4K1 w - - 0 1"


@pytest.fixture
def program() -> Iterator[SimpleEngine]:
    with SimpleEngine.popen_uci(resident_program(), timeout=60) as engine:
        yield engine


def test_it_introduces_itself_and_its_options(program: SimpleEngine) -> None:
    assert program.id["name"].startswith("Variorum resident ")
    assert program.id["author"]
    spins = {name: program.options[name] for name in ("Hash", "Threads", "MultiPV")}
    assert {option.type for option in spins.values()} == {"spin"}
    assert [(option.default, option.min) for option in spins.values()] == [(64, 1), (1, 1), (1, 1)]
    assert program.options["UCI_Chess960"].type == "check"
    assert program.options["UCI_Chess960"].default is False
    program.ping()


@pytest.mark.parametrize(
    "limit",
    [
        Limit(depth=6),
        Limit(nodes=3_000),
        Limit(time=0.05),
        Limit(white_clock=0.5, black_clock=0.5, white_inc=0.01, black_inc=0.01, remaining_moves=10),
        Limit(white_clock=0.3, black_clock=60),
        Limit(mate=1, depth=20),
    ],
    ids=["depth", "nodes", "movetime", "clocks", "a clock running out", "mate"],
)
def test_every_limit_ends_with_the_best_move(program: SimpleEngine, limit: Limit) -> None:
    played = program.play(chess.Board(BACK_RANK), limit, info=chess.engine.INFO_ALL)
    assert played.move == chess.Move.from_uci("d1d8")
    assert played.info["score"].white() == Mate(1)


def test_depth_and_nodes_are_kept(program: SimpleEngine) -> None:
    board = chess.Board()
    assert program.analyse(board, Limit(depth=7))["depth"] == 7
    info = program.analyse(board, Limit(nodes=20_000))
    assert 0 < info["nodes"] <= 20_100, "a few positions beside the limit"
    assert {"score", "pv", "nps", "time"} <= info.keys()


def test_a_mate_is_looked_for_to_its_end(program: SimpleEngine) -> None:
    """`go mate 4`: what it finds is played through on python-chess's board to the mate."""
    board = chess.Board(TWO_ROOKS)
    info = program.analyse(board, Limit(mate=8))
    moves = info["score"].white().mate()
    assert moves is not None
    assert 0 < moves <= 8
    for move in info["pv"]:
        board.push(move)
    assert board.is_checkmate()
    assert len(info["pv"]) == 2 * moves - 1


def test_the_side_that_is_mated_says_so(program: SimpleEngine) -> None:
    board = chess.Board("7k/5Q2/8/6K1/8/8/8/8 b - - 0 1")
    assert list(board.legal_moves) == [], "the oracle: it is stalemate"
    board = chess.Board("7k/8/5QK1/8/8/8/8/8 b - - 0 1")
    score = program.analyse(board, Limit(depth=6))["score"]
    assert (score.relative, score.white()) == (Mate(-1), Mate(1))


def test_only_the_moves_named_are_searched(program: SimpleEngine) -> None:
    board = chess.Board()
    named = [board.parse_san("h3"), board.parse_san("Na3")]
    infos = program.analyse(board, Limit(depth=5), root_moves=named, multipv=5)
    assert {info["pv"][0] for info in infos} == set(named)


def test_several_lines_come_ordered_and_different(program: SimpleEngine) -> None:
    infos = program.analyse(chess.Board(), Limit(depth=6), multipv=4)
    assert [info["multipv"] for info in infos] == [1, 2, 3, 4]
    assert len({info["pv"][0] for info in infos}) == 4
    scores = [info["score"].white().score(mate_score=100_000) for info in infos]
    assert scores == sorted(scores, reverse=True)


def test_it_searches_until_told_to_stop(program: SimpleEngine) -> None:
    board = chess.Board()
    with program.analysis(board) as analysis:
        first = analysis.get()
        analysis.stop()
        best = analysis.wait()
    assert first["depth"] >= 1
    assert best.move in board.legal_moves
    program.ping()


def test_a_new_game_forgets_the_last(program: SimpleEngine) -> None:
    """The same question in a new game (`ucinewgame`) under a limit of nodes has the same answer, line for line."""
    board = chess.Board("r1bqkb1r/pp3ppp/2n1pn2/2pp4/2PP4/2N2N2/PP2PPPP/R1BQKB1R w KQkq - 0 6")
    program.configure({"Hash": 4, "Threads": 1})

    def said() -> list[tuple[object, ...]]:
        infos = program.analyse(board, Limit(nodes=20_000), multipv=2, game=object())
        return [(info["score"], info["depth"], info["nodes"], tuple(info["pv"])) for info in infos]

    first = said()
    program.analyse(chess.Board(), Limit(nodes=20_000), game=object())
    assert said() == first


def test_threads_and_table_can_be_set(program: SimpleEngine) -> None:
    program.configure({"Hash": 1, "Threads": 2})
    assert program.play(chess.Board(BACK_RANK), Limit(depth=5)).move == chess.Move.from_uci("d1d8")
    with pytest.raises(chess.engine.EngineError):
        program.configure({"Hash": 0})


def test_a_third_occurrence_is_a_draw(program: SimpleEngine) -> None:
    """Black, a queen down, puts the knight back: with the moves before, the position stands there for the third time."""
    board = chess.Board(QUEEN_DOWN)
    for move in ("g1f3", "g8f6", "f3g1", "f6g8", "g1f3", "g8f6", "f3g1"):
        board.push_uci(move)
    home = chess.Move.from_uci("f6g8")
    repeated = program.analyse(board, Limit(depth=5), root_moves=[home])
    assert repeated["score"].white().score() == 0
    alone = program.analyse(chess.Board(board.fen()), Limit(depth=5), root_moves=[home])
    lost = alone["score"].white().score(mate_score=100_000)
    assert lost is not None
    assert lost > 400
    after = board.copy()
    after.push(home)
    assert after.is_repetition(3), "the oracle counts as we do"


@pytest.mark.parametrize(("chess960", "castling"), [(False, "e1g1"), (True, "g1h1")])
def test_castling_is_written_as_the_rules_of_play_want_it(
    program: SimpleEngine, chess960: bool, castling: str
) -> None:
    """King takes rook in Chess960 (here from g1 to g1: only the rook moves over), two squares in the standard game."""
    fen = "4k3/8/8/8/8/8/5PPP/6KR w K - 0 1" if chess960 else "4k3/8/8/8/8/8/5PPP/4K2R w K - 0 1"
    board = chess.Board(fen, chess960=chess960)
    move = board.parse_uci(castling)
    assert board.is_castling(move)
    played = program.play(board, Limit(depth=3), root_moves=[move])
    assert played.move is not None
    assert board.uci(played.move) == castling


@pytest.mark.parametrize("number", [0, 518, 959])
def test_games_in_chess960_stay_legal(program: SimpleEngine, number: int) -> None:
    """Scharnagl's numbers of start positions; python-chess refuses an illegal move and follows each line on its board."""
    board = chess.Board.from_chess960_pos(number)
    for _ in range(40):
        if board.is_game_over():
            break
        played = program.play(board, Limit(nodes=300), info=chess.engine.INFO_PV)
        assert played.move is not None
        board.push(played.move)
    assert board.is_valid()


def test_it_quits_when_told() -> None:
    engine = SimpleEngine.popen_uci(resident_program(), timeout=60)
    engine.quit()
    assert engine.returncode.result(timeout=60) == 0
    engine.close()
