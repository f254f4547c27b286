"""A store may come from somebody else: whatever it holds, writing to it neither leaves its folder nor takes away what is not its own."""

from __future__ import annotations

import sqlite3
import sys
from pathlib import Path

import pytest

from variorum.base import InputError, StoreError
from variorum.store import Mode, open_store


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    found = tmp_path / "edition" / ".variorum"
    open_store(found, mode=Mode.WRITE).close()
    return found


@pytest.fixture
def outside(tmp_path: Path) -> Path:
    found = tmp_path / "outside"
    found.mkdir()
    (found / "precious.txt").write_text("precious")
    return found


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
@pytest.mark.parametrize("name", ["games", "occurrences"])
def test_files_behind_a_link_are_not_taken_for_left_over_ones(folder: Path, outside: Path, name: str) -> None:
    (folder / name).rmdir()
    (folder / name).symlink_to(outside, target_is_directory=True)
    with pytest.raises(InputError, match="leads out of"):
        open_store(folder, mode=Mode.WRITE)
    assert (outside / "precious.txt").read_text() == "precious"


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
@pytest.mark.parametrize(
    "name", ["store.sqlite", "store.sqlite-wal", "store.sqlite-journal", "writer.lock", "readers.lock"]
)
@pytest.mark.parametrize("there", ["precious.txt", "new.txt"])
def test_nothing_is_written_through_a_link(folder: Path, outside: Path, name: str, there: str) -> None:
    (folder / name).unlink(missing_ok=True)
    (folder / name).symlink_to(outside / there)
    with pytest.raises(InputError, match="leads out of"):
        open_store(folder, mode=Mode.WRITE)
    assert [one.name for one in outside.iterdir()] == ["precious.txt"]
    assert (outside / "precious.txt").read_text() == "precious"


def test_a_store_cannot_name_files_to_be_taken_away(folder: Path, outside: Path) -> None:
    mine = folder / "games" / "00000099.parquet"
    mine.write_text("")
    names = [
        str(outside / "precious.txt"),
        "../../outside/precious.txt",
        "games/../../../outside/precious.txt",
    ]
    with sqlite3.connect(folder / "store.sqlite") as connection:
        connection.executemany(
            "INSERT INTO retired VALUES (?)", [(one,) for one in (*names, "games/00000099.parquet")]
        )
    connection.close()
    open_store(folder, mode=Mode.WRITE).close()
    assert (outside / "precious.txt").read_text() == "precious"
    assert not mine.exists()


@pytest.mark.parametrize(
    "strange",
    [
        "DROP TABLE segments; CREATE VIEW segments AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) "
        "SELECT x AS first_game, 1 AS games, x AS occurrences, 1 AS sift, 1 AS part FROM n",
        "CREATE TRIGGER strange AFTER UPDATE ON facts BEGIN DELETE FROM verdicts; END",
        "CREATE VIRTUAL TABLE strange USING fts5(x)",
    ],
)
def test_a_store_runs_nothing(folder: Path, strange: str) -> None:
    """A view that never ends would hold up whoever reads."""
    connection = sqlite3.connect(folder / "store.sqlite")
    connection.executescript(strange)
    connection.close()
    for mode in (Mode.READ, Mode.WRITE):
        with pytest.raises(StoreError, match="more than tables"):
            open_store(folder, mode=mode)
