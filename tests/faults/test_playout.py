"""Playouts under kills and signals: each finished game is kept, none is played twice, the same command goes on."""

from __future__ import annotations

import io
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import chess.pgn
import pytest

from tests.faults.command_line import program
from variorum.cli import main

GAMES = 30
FAKE = Path(__file__).parents[1] / "fake_engine.py"
SETTINGS = 'title = "x"\nside = "white"\n\n[roots]\nr = "1.d4 d5 2.c4 e6"\n'


def start(folder: Path, *more: str) -> subprocess.Popen[str]:
    return program("playout", folder, "r", "--games", str(GAMES), "--nodes", "800", *more)


def numbers(folder: Path) -> list[int]:
    """Of the games whose text is whole, as an independent library reads it."""
    file = folder / "playouts" / "resident.pgn"
    found = []
    text = io.StringIO(file.read_text() if file.is_file() else "")
    while (game := chess.pgn.read_game(text)) is not None:
        if len(list(game.mainline_moves())) == int(game.headers.get("PlyCount", "-1")):
            found.append(int(game.headers["Round"]))
    return found


def wait_for(folder: Path, process: subprocess.Popen[str], count: int) -> None:
    file = folder / "playouts" / "resident.pgn"
    while (file.read_bytes().count(b"[Event ") if file.is_file() else 0) <= count and process.poll() is None:
        time.sleep(0.01)
    assert process.poll() is None, "it ended before it could be stopped"


@pytest.mark.slow
def test_killed_again_and_again_it_ends_with_the_games_of_a_run_that_was_not(tmp_path: Path) -> None:
    folders = [tmp_path / name for name in ("killed", "whole")]
    for folder in folders:
        folder.mkdir()
        (folder / "edition.toml").write_text(SETTINGS)
    killed = folders[0]
    for count in (1, 5, 9):
        process = start(killed)
        wait_for(killed, process, count)
        before = numbers(killed)
        process.kill()
        process.communicate()
        assert set(before) <= set(numbers(killed))
    for folder in folders:
        out, _ = start(folder).communicate()
        assert f"{GAMES} " in out
        assert sorted(numbers(folder)) == list(range(1, GAMES + 1))
    texts = [
        sorted(re.split(r"\n\n(?=\[Event )", (one / "playouts" / "resident.pgn").read_text().strip()))
        for one in folders
    ]
    assert texts[0] == texts[1]


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_a_program_that_hangs_does_not_keep_it_from_stopping(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "edition.toml").write_text(SETTINGS)
    assert main(["voices", "add", "guest", sys.executable, str(FAKE), "hangs"]) == 0
    capsys.readouterr()
    process = start(tmp_path, "--white", "guest")
    while not (tmp_path / ".variorum" / "store.sqlite").is_file() and process.poll() is None:
        time.sleep(0.01)
    time.sleep(1.0)
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert err == "variorum: stopped; what was finished is kept\n"


@pytest.mark.skipif(sys.platform == "win32", reason="no such signals there")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_told_to_stop_it_stops_in_order(tmp_path: Path, number: signal.Signals) -> None:
    (tmp_path / "edition.toml").write_text(SETTINGS)
    process = start(tmp_path)
    wait_for(tmp_path, process, 2)
    process.send_signal(number)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert (out, err) == ("", "variorum: stopped; what was finished is kept\n")
    assert len(numbers(tmp_path)) >= 2
