"""`variorum playout` and `variorum playouts export`: games played, gone on with, counted, given to others."""

from __future__ import annotations

import io
import re
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import chess
import chess.pgn
import pytest

from variorum.cli import main

FAKE = Path(__file__).parents[2] / "fake_engine.py"
QUICK = ["--nodes", "60", "--margin", "1", "--variety", "4", "--longest", "60"]
MANUSCRIPT = """[Event "Exchange"]

1. d4 d5 2. c4 e6 3. Nc3 Nf6 4. cxd5 exd5 5. Bg5 Be7 (5... c6 6. Qc2) 6. e3 *
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "edition.toml").write_text(
        'title = "Exchange"\nside = "white"\n\n[roots]\nexchange = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.cxd5 exd5"\n\n'
        '[names]\npin = "exchange 5.Bg5"\n'
    )
    (tmp_path / "manuscript.pgn").write_text(MANUSCRIPT)
    return tmp_path


@pytest.fixture
def guest(folder: Path, capsys: pytest.CaptureFixture[str]) -> Callable[[str], str]:
    """Adds the invented program to the user's voices, behaving as told."""

    def add(manner: str) -> str:
        assert main(["voices", "add", manner, sys.executable, str(FAKE), manner]) == 0
        capsys.readouterr()
        return manner

    return add


@pytest.fixture
def printed(capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    def run(*words: str) -> str:
        capsys.readouterr()
        assert main(["playout", *words]) == 0
        captured = capsys.readouterr()
        assert captured.err == ""
        return captured.out

    return run


def games_of(file: Path) -> list[chess.pgn.Game]:
    text = io.StringIO(file.read_text(encoding="utf-8"))
    found = []
    while (game := chess.pgn.read_game(text)) is not None:
        assert not game.errors
        found.append(game)
    return found


def test_as_text(folder: Path, printed: Callable[..., str], snapshot: Callable[..., None]) -> None:
    place = str(folder)
    snapshot(printed(place, "pin", "--games", "12", *QUICK), "first")
    snapshot(printed(place, "pin", "--games", "13", *QUICK), "goes-on")
    snapshot(printed(place, "tabiyas", "--games", "3", *QUICK, "--seed", "2"), "tabiyas")
    snapshot(printed(place, "pin", "--games", "2", *QUICK, "--variety", "0"), "no-variety")
    told = printed(place, "pin", "--games", "40", *QUICK, "--until-width", "45")
    assert re.search(
        r"^Play ended where the interval was narrow enough: pin after \d+ games\. An", told, re.MULTILINE
    )
    assert "still to play" not in told


def test_what_is_told_is_what_the_file_holds(folder: Path, check_json: Callable[..., Any]) -> None:
    report = check_json(["playout", str(folder), "pin", "--games", "16", *QUICK])
    assert (report["played"], report["known"], report["file"]) == (16, 0, "playouts/resident.pgn")
    (here,) = report["positions"]
    games = games_of(folder / "playouts" / "resident.pgn")
    assert len(games) == here["played"] == 16
    different = {str(game.mainline_moves()): game for game in games}
    results = [game.headers["Result"] for game in different.values()]
    told = here["results"]
    assert told["games"] == len(different)
    assert [told[name] for name in ("wins", "draws", "losses", "unknown")] == [
        results.count(result) for result in ("1-0", "1/2-1/2", "0-1", "*")
    ]
    assert told["openings"] == len({tuple(list(game.mainline_moves())[:4]) for game in games})
    decided = len(results) - results.count("*")
    assert told["score"] == pytest.approx(100 * (told["wins"] + told["draws"] / 2) / decided)
    assert told["low"] <= told["score"] <= told["high"]
    plies = sorted(len(list(game.mainline_moves())) for game in different.values())
    assert here["mean_plies"] == pytest.approx(sum(plies) / len(plies))
    assert plies[0] <= here["median_plies"] <= plies[-1]
    worse_lost = {"white": "0-1", "black": "1-0"}[here["worse"]]
    assert here["held"] == decided - results.count(worse_lost)
    assert (here["worse"] == "black") == (here["start"] > 50)
    endings = [game.headers["Ending"] for game in different.values()]
    assert {one["ending"]: one["games"] for one in here["endings"]} == {
        ending: endings.count(ending) for ending in endings
    }
    for game in games:
        board = game.board()
        for node in game.mainline():
            assert node.move in board.legal_moves
            assert re.fullmatch(
                r"([+-]?\d+\.\d\d|#-?\d+) at [\d,]+ nodes(, depth \d+)?", " ".join(node.comment.split())
            )
            board.push(node.move)


def test_the_same_command_plays_nothing_anew_and_more_games_go_on(
    folder: Path, check_json: Callable[..., Any]
) -> None:
    def run(games: int, *more: str) -> Any:
        return check_json(["playout", str(folder), "pin", "--games", str(games), *QUICK, *more])

    first = run(6)
    text = (folder / "playouts" / "resident.pgn").read_bytes()
    again = run(6)
    assert (again["played"], again["known"]) == (0, 6)
    assert again["positions"] == first["positions"]
    assert (folder / "playouts" / "resident.pgn").read_bytes() == text
    more = run(9)
    assert (more["played"], more["known"]) == (3, 6)
    assert run(6)["positions"] == first["positions"]
    assert run(4, "--seed", "9")["known"] == 0
    assert run(4, "--margin", "0.5")["known"] == 0
    # By another order of moves it is the same position, and by its FEN.
    other = "1.d4 Nf6 2.c4 e6 3.Nc3 d5 4.cxd5 exd5 5.Bg5"
    assert check_json(["playout", str(folder), *other.split(), "--games", "6", *QUICK])["known"] == 6


def test_games_lost_from_the_middle_are_played_again_alike(
    folder: Path, check_json: Callable[..., Any]
) -> None:
    arguments = ["playout", str(folder), "pin", "--games", "6", *QUICK]
    first = check_json(arguments)
    file = folder / "playouts" / "resident.pgn"
    games = re.split(r"(?=^\[Event )", file.read_text(), flags=re.MULTILINE)[1:]
    file.write_text("".join([games[0], *games[3:5], games[5][:200]]))
    again = check_json(arguments)
    assert (again["played"], again["known"]) == (3, 3)
    assert again["positions"] == first["positions"]


@pytest.mark.parametrize("more", [[], ["--until-width", "50"]])
def test_one_worker_or_two_tell_the_same(
    folder: Path, tmp_path: Path, check_json: Callable[..., Any], more: list[str]
) -> None:
    reports = []
    for workers in ("1", "2"):
        for made in (folder / "playouts").glob("*"):
            made.unlink()
        report = check_json(
            ["playout", str(folder), "tabiyas", "--games", "12", *QUICK, *more, "--workers", workers]
        )
        reports.append(report["positions"])
    assert reports[0] == reports[1]


def test_two_voices_change_sides(
    folder: Path, guest: Callable[[str], str], check_json: Callable[..., Any]
) -> None:
    voice = guest("good")
    report = check_json(
        [
            "playout",
            str(folder),
            "leaves",
            "--white",
            voice,
            "--black",
            "resident",
            "--both-ways",
            "--games",
            "6",
            *QUICK,
        ]
    )
    games = games_of(folder / "playouts" / "good-resident.pgn")
    assert len(report["positions"]) == 2
    for one in report["positions"]:
        assert chess.Board(one["fen"]).fullmove_number == 6
        players = [game.headers["White"] for game in games if game.headers["FEN"] == one["fen"]]
        assert sorted(players) == ["good"] * 3 + ["resident"] * 3
    assert {game.headers["WhiteVersion"] for game in games if game.headers["White"] == voice} == {"Fake 7"}
    mine, other = report["players"]
    assert (mine["voice"], other["voice"]) == ("good", "resident")
    for one, two in (("white", "black"), ("black", "white"), ("together", "together")):
        assert mine[one]["wins"] == other[two]["losses"]
        assert mine[one]["games"] == other[two]["games"]
    # No book of practice is touched by them, and the position's own games stay none.
    here = check_json(["position", str(folder), "pin"])
    assert here["games"] is None or here["games"]["results"]["games"] == 0


def test_a_voice_that_always_fails_leaves_no_table(
    folder: Path, guest: Callable[[str], str], capsys: pytest.CaptureFixture[str]
) -> None:
    voice = guest("dies")
    capsys.readouterr()
    assert main(["playout", str(folder), "pin", "--games", "9", "--black", voice, *QUICK]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "no game came to an end: dies ended in the middle of a search (3 tries)" in captured.err
    broken = games_of(folder / "playouts" / "unfinished" / "dies-resident.pgn")
    assert 3 <= len(broken) <= 4
    assert {game.headers["Termination"] for game in broken} == {"abandoned"}
    assert not (folder / "playouts" / "dies-resident.pgn").exists()


def test_a_game_cut_off_by_a_fault_is_told_and_tried_again(
    folder: Path, guest: Callable[[str], str], printed: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from variorum.base import VoiceError
    from variorum.voices.uci import UciVoice

    voice = guest("good")
    ask, count = UciVoice.ask, iter(range(1000))

    def sometimes(self: UciVoice, request: Any) -> Any:
        if next(count) == 4:
            raise VoiceError("good fell silent")
        return ask(self, request)

    monkeypatch.setattr(UciVoice, "ask", sometimes)
    call = [str(folder), "pin", "--games", "5", "--white", voice, "--workers", "1", *QUICK, "--longest", "6"]
    told = printed(*call)
    assert "no result: game 1 from pin, ply 5: good fell silent" in told
    assert "1 game still to play: give the same command again." in told
    assert "1 game played, in playouts/good.pgn; 4 were there before." in printed(*call)


def test_export_and_back_again(folder: Path, tmp_path: Path, check_json: Callable[..., Any]) -> None:
    first = check_json(["playout", str(folder), "tabiyas", "--games", "5", *QUICK])
    target = tmp_path / "games.pgn"
    report = check_json(["playouts", "export", str(folder), str(target)])
    assert (report["games"], report["positions"], report["voices"]) == (10, 2, ["resident"])
    assert check_json(["playouts", "export", str(folder), str(target), "--at", "pin"])["games"] == 5
    games_of(target)
    assert check_json(["playouts", "export", str(folder), str(target), "--voice", "resident"])["games"] == 10
    (folder / "playouts" / "resident.pgn").unlink()
    target.rename(folder / "playouts" / "from-a-friend.pgn")
    again = check_json(["playout", str(folder), "tabiyas", "--games", "5", *QUICK])
    assert (again["played"], again["known"]) == (0, 10)
    assert again["positions"] == first["positions"]
    assert main(["playouts", "export", str(folder), str(target), "--voice", "nobody"]) == 2


def test_a_build_brings_them_back_into_a_store_that_was_deleted(
    folder: Path, capsys: pytest.CaptureFixture[str], check_json: Callable[..., Any]
) -> None:
    call = ["playout", str(folder), "pin", "--games", "6", *QUICK]
    first = check_json(call)
    with (folder / "edition.toml").open("a") as settings:
        settings.write("\n[budget]\ntotal_nodes = 0\n")
    shutil.rmtree(folder / ".variorum")
    assert main(["build", str(folder)]) == 0
    out = capsys.readouterr().out
    assert "Games: 0 kept\n  and 6 playouts beside them, counted apart\n" in out
    assert check_json(call)["positions"] == first["positions"]
    (folder / "playouts" / "resident.pgn").unlink()
    assert main(["build", str(folder)]) == 0
    out = capsys.readouterr().out
    assert "playouts/resident.pgn is gone, and its 6 games with it" in out
    assert "playouts beside them" not in out


MATED = "rnb1kbnr/pppp1ppp/8/4p3/6Pq/5P2/PPPPP2P/RNBQKBNR w KQkq - 1 3"


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["pin"], "how many games"),
        (["--games", "2"], "PLACE is missing"),
        (["pin", "--games", "0"], "--games"),
        (["pin", "--games", "-3"], "--games"),
        (["nowhere", "--games", "2"], "no place is called 'nowhere'"),
        (["pin", "--games", "2", "--white", "nobody"], "no voice 'nobody'"),
        (["pin", "--games", "2", "--black", "nobody"], "no voice 'nobody'"),
        (["pin", "--games", "2", "--nodes", "5", "--seconds", "1"], "two limits"),
        (["pin", "--games", "2", "--seconds", "0"], "cannot take"),
        (["pin", "--games", "2", "--seconds", "nan"], "cannot take"),
        (["pin", "--games", "2", "--margin", "-0.1"], "--margin"),
        (["pin", "--games", "2", "--variety", "-1"], "--variety"),
        (["pin", "--games", "2", "--minutes", "0"], "cannot be played for 0"),
        (["pin", "--games", "2", "--until-width", "0"], "cannot be 0 points wide"),
        (["pin", "--games", "2", "--both-ways"], "no sides to change"),
        ([*MATED.split(), "--games", "2"], "the game is over there"),
        (["8/8/8/4k3/8/8/8/4K3", "w", "-", "-", "0", "1", "--games", "2"], "the game is over there"),
        (["7k/8/8/8/8/8/4R3/4K3", "w", "-", "-", "100", "90", "--games", "2"], "the game is over there"),
        (["confluences", "--games", "2"], "the edition has no confluences"),
    ],
)
def test_calls_that_make_no_sense(
    folder: Path, capsys: pytest.CaptureFixture[str], more: list[str], told: str
) -> None:
    assert main(["playout", str(folder), *more]) == 2
    captured = capsys.readouterr()
    assert told in captured.err
    assert captured.out == ""
    assert not (folder / "playouts").exists()
