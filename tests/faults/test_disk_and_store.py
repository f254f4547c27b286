"""Full disks, write protection, other versions of the store, kills and deletion, seen from the command line."""

from __future__ import annotations

import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from tests.faults.command_line import (
    ROOT,
    answered,
    authors_files,
    call,
    game,
    games,
    new_edition,
    program,
    refused,
    untouched,
    write_protected,
)
from variorum.store import Mode, open_store, opening, schema

Capture = pytest.CaptureFixture[str]
LIMITED = """
import resource, signal, sys
from variorum.cli import main
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), resource.RLIM_INFINITY))
sys.exit(main(sys.argv[2:]))
"""
"""Runs a command with a limit on the size of files: the one kind of full disk that needs no rights."""
REPLY = ["Be7", "c6", "Nbd7", "h6", "Bd6", "a6", "b6", "g6", "Be6", "Bf5"]


@pytest.fixture
def edition(tmp_path: Path, capsys: Capture) -> Path:
    folder = new_edition(tmp_path / "exchange")
    (folder / "sources" / "a.pgn").write_text(games(20))
    assert call(capsys, "sift", folder)[0] == 0
    return folder


def many_games(count: int) -> str:
    chance = random.Random(3)
    moves = "1. d4 d5 2. c4 e6 3. Nc3 Nf6 4. cxd5 exd5 5. a3"
    return "".join(
        game(n, f"{moves} {chance.choice(REPLY[:5])} {{{chance.randbytes(600).hex()}}}") for n in range(count)
    )


def all_answers(edition: Path, capsys: Capture, place: str = ROOT) -> list[Any]:
    """What the store says by each command that reads it."""
    games = answered(capsys, "position", edition, place)
    return [games, *(answered(capsys, command, edition) for command in ("rejects", "doubles", "map"))]


@pytest.mark.parametrize("limit", [0, 4096, 40_000])
def test_a_full_disk_while_sifting(edition: Path, limit: int, capsys: Capture) -> None:
    before = all_answers(edition, capsys)
    (edition / "sources" / "b.pgn").write_text(many_games(200))
    command = [sys.executable, "-c", LIMITED, str(limit), "sift", str(edition)]
    with untouched(edition):
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2, done.stdout + done.stderr
    assert "the disk is full or a write failed" in done.stderr
    assert "give the same command again" in done.stderr
    assert "Traceback" not in done.stderr
    assert (
        all_answers(edition, capsys)[0]["games"]["results"]["games"] >= before[0]["games"]["results"]["games"]
    )
    # With room again the same command goes on.
    assert answered(capsys, "sift", edition)["games"] == 220


@pytest.mark.parametrize(
    "arguments", [["publish"], ["name", "main", "exchange 5.Bg5"]], ids=["publish", "name"]
)
def test_a_full_disk_while_writing_texts(edition: Path, arguments: list[str], capsys: Capture) -> None:
    name, *rest = arguments
    limit = "100000" if name == "publish" else "100"
    command = [sys.executable, "-c", LIMITED, limit, name, str(edition), *rest]
    with untouched(edition):
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2, done.stdout + done.stderr
    assert "nothing was changed" in done.stderr
    assert "Traceback" not in done.stderr
    assert not list(edition.rglob("*.tmp"))
    assert call(capsys, name, edition, *rest)[0] == 0


def test_a_full_disk_while_making_an_edition(tmp_path: Path) -> None:
    command = [sys.executable, "-c", LIMITED, "100", "new", str(tmp_path / "e"), "--title", "x"]
    command += ["--side", "white", "--root", ROOT]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2, done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "e" / "edition.toml").exists(), (
        "half an edition would stand in the way of the next try"
    )


def test_a_read_only_folder(edition: Path, capsys: Capture) -> None:
    before = all_answers(edition, capsys)
    (edition / "sources" / "b.pgn").write_text(game(77))
    with write_protected(edition), untouched(edition):
        told = refused(capsys, "sift", edition)
        assert "cannot be written" in told
        assert "cache folder" in told
        refused(capsys, "publish", edition)
        refused(capsys, "name", edition, "main", "exchange 5.Bg5")
        refused(capsys, "new", edition / "inner", "--title", "x", "--side", "white", "--root", ROOT)
        # What only reads works as before.
        assert all_answers(edition, capsys) == before
        assert call(capsys, "check", edition)[0] == 0
        assert call(capsys, "edition", edition)[0] == 0
    assert answered(capsys, "sift", edition)["games"] == 21


def test_a_read_only_edition_with_its_store_in_the_cache(
    tmp_path: Path, own_settings: Path, capsys: Capture
) -> None:
    edition = new_edition(tmp_path / "exchange")
    (edition / "sources" / "a.pgn").write_text(games(5))
    (own_settings / "settings.toml").write_text('store = "cache"\n')
    with write_protected(edition), untouched(edition):
        assert answered(capsys, "sift", edition)["games"] == 5
        assert answered(capsys, "position", edition, "exchange")["games"]["results"]["games"] == 5
    assert not (edition / ".variorum").exists()


READS = (["position", "exchange"], ["map"], ["rejects"], ["doubles"], ["sift"])


def with_edition(edition: Path, arguments: list[str]) -> list[str | Path]:
    return [arguments[0], edition, *arguments[1:]]


@pytest.mark.parametrize("arguments", READS, ids=lambda arguments: arguments[0])
def test_a_newer_store(edition: Path, arguments: list[str], capsys: Capture) -> None:
    before = all_answers(edition, capsys)
    database = edition / ".variorum" / "store.sqlite"

    def set_version(number: int) -> None:
        connection = sqlite3.connect(database)
        connection.execute(f"PRAGMA user_version = {number}")
        connection.close()

    set_version(99)
    with untouched(edition):
        told = refused(capsys, *with_edition(edition, arguments))
    assert "newer" in told
    assert str(edition / ".variorum") in told
    set_version(schema.VERSION)
    assert all_answers(edition, capsys) == before, "it was left as it was"


@pytest.mark.parametrize("arguments", READS, ids=lambda arguments: arguments[0])
def test_an_older_store(
    edition: Path, arguments: list[str], capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = all_answers(edition, capsys)
    newer = schema.VERSION + 1
    with monkeypatch.context() as later:
        for module in (schema, opening):
            later.setattr(module, "VERSION", newer)
        with untouched(edition):
            assert "older" in refused(capsys, *with_edition(edition, arguments))

            def fail(connection: sqlite3.Connection) -> None:
                connection.execute("DELETE FROM runs")
                raise sqlite3.OperationalError("made to fail")

            later.setitem(schema.MIGRATIONS, schema.VERSION - 1, fail)
            refused(capsys, *with_edition(edition, arguments))
    assert all_answers(edition, capsys) == before, "a migration that fails leaves the store whole"
    for module in (schema, opening):
        monkeypatch.setattr(module, "VERSION", newer)
    monkeypatch.setitem(
        schema.MIGRATIONS, schema.VERSION - 1, lambda c: c.execute("ALTER TABLE runs ADD COLUMN extra")
    )
    assert all_answers(edition, capsys) == before, "a migration keeps what is there"


@pytest.mark.parametrize("name", ["store.sqlite", "games/*.parquet", "occurrences/*.parquet"])
def test_a_damaged_store(edition: Path, name: str, capsys: Capture) -> None:
    before = all_answers(edition, capsys)
    for path in (edition / ".variorum").glob(name):
        path.write_bytes(b"no store " * 1000)
    with untouched(edition):
        told = refused(capsys, "position", edition, "exchange")
        assert f"delete the folder {edition / '.variorum'}" in told
        shutil.rmtree(edition / ".variorum")  # as told
        assert call(capsys, "sift", edition)[0] == 0
    assert all_answers(edition, capsys) == before


def test_deleting_the_store_loses_nothing_but_time(edition: Path, capsys: Capture) -> None:
    (edition / "sources" / "b.pgn").write_text(
        many_games(50) + game(60, "1. d4 d5 2. Ke3") + "stray words\n" + game(3)
    )
    (edition / "manuscript.pgn").write_text(game(1, "1. d4 d5 2. c4 e6 3. Nc3 Nf6 4. cxd5 exd5 5. Bg5 $14"))
    (edition / "digest.md").write_text('# Exchange\n\nThe [games]{.fact kind=count at="exchange"} say it.\n')
    call(capsys, "sift", edition)
    call(capsys, "name", edition, "main", "exchange 5.Bg5")

    def everything() -> list[Any]:
        call(capsys, "publish", edition)
        published = {path.name: path.read_bytes() for path in (edition / "out").iterdir()}
        return [*all_answers(edition, capsys), answered(capsys, "check", edition), published]

    before, files = everything(), authors_files(edition)
    shutil.rmtree(edition / ".variorum")
    shutil.rmtree(edition / "out")
    assert authors_files(edition) == files
    call(capsys, "sift", edition)
    assert everything() == before
    assert authors_files(edition) == files


def sifting(edition: Path, stop: signal.Signals, seconds: float) -> tuple[int, str]:
    with program("sift", edition) as process:
        while process.poll() is None and not (edition / ".variorum").exists():
            time.sleep(0.01)
        time.sleep(seconds)
        process.send_signal(stop)
        _, err = process.communicate(timeout=120)
    return process.returncode, err


@pytest.mark.slow
@pytest.mark.parametrize("stop", [signal.SIGKILL, signal.SIGINT])
def test_stopped_at_any_moment(tmp_path: Path, stop: signal.Signals, capsys: Capture) -> None:
    chance = random.Random(int(stop))
    edition = new_edition(tmp_path / "e", root="all: start")
    for name in "abcdef":
        (edition / "sources" / f"{name}.pgn").write_text(various_games(1500, seed=ord(name)))
    codes = set()
    with untouched(edition):
        for _ in range(6):
            code, err = sifting(edition, stop, chance.uniform(0.0, 1.5))
            codes.add(code)
            assert "Traceback" not in err
            assert "defect" not in err
            if (edition / ".variorum" / "readers.lock").exists():
                sound(edition, capsys)
        answered(capsys, "sift", edition)
        finished = all_answers(edition, capsys, "start")
        shutil.rmtree(edition / ".variorum")
        answered(capsys, "sift", edition)
    assert all_answers(edition, capsys, "start") == finished, "as if it had never been stopped"
    assert codes <= {0, -stop, 130}


def sound(edition: Path, capsys: Capture) -> None:
    assert call(capsys, "position", edition, "all")[0] == 0
    with open_store(edition / ".variorum", mode=Mode.WRITE) as store:
        connection = store._manifest.connection
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def various_games(count: int, seed: int) -> str:
    """Games of random legal moves, told by `chess`."""
    import chess

    chance = random.Random(seed)
    texts = []
    for number in range(count):
        board, moves = chess.Board(), []
        for _ in range(chance.randint(4, 16)):
            move = chance.choice(list(board.legal_moves))
            moves.append(board.san(move))
            board.push(move)
            if board.is_game_over():
                break
        texts.append(game(number, " ".join(moves), white=f"Orlo{chr(seed)}, Tam"))
    return "".join(texts)
