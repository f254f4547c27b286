"""Which build met a game first: by what the game is, not by the file it came in."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from tests.unit.store.made_up import MadeUpGame, random_games, sift_in
from variorum.base import UsageError
from variorum.store import Mode, Store, open_store


def names(store: Store, build: int) -> list[str]:
    return sorted(head.white for head in store.heads(store.births.since(build)))


@pytest.fixture
def games() -> list[MadeUpGame]:
    made = random_games(6)
    return [replace(game, white=f"Player {number}") for number, game in enumerate(made)]


def test_a_file_downloaded_anew_brings_only_what_is_new_in_it(
    tmp_path: Path, games: list[MadeUpGame]
) -> None:
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", games[:4], key="1")
        store.births.record(1, {})
        sift_in(store, "a.pgn", [games[5], *games[3::-1]], key="2")
        store.births.record(2, {})
    with open_store(tmp_path) as store:
        assert names(store, 1) == ["Player 5"]
        assert names(store, 0) == [f"Player {number}" for number in (0, 1, 2, 3, 5)]
        assert names(store, 2) == []
        with pytest.raises(UsageError):
            store.births.record(3, {})


def test_another_copy_of_a_game_is_no_news(tmp_path: Path, games: list[MadeUpGame]) -> None:
    copy = replace(games[0], white="player 0")
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", games[:2], key="1")
        store.births.record(1, {})
        sift_in(store, "b.pgn", [copy, games[1], games[2]], key="1")
        assert store.double_count == 2
        store.births.record(2, {})
        assert names(store, 1) == ["Player 2"]


def test_a_store_made_anew_takes_over_what_builds_knew(tmp_path: Path, games: list[MadeUpGame]) -> None:
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        sift_in(store, "new.pgn", games[:3], key="1")
        sift_in(store, "old.pgn", games[2:4], key="1")
        store.births.record(9, {"old.pgn": 4})
        assert names(store, 4) == ["Player 0", "Player 1"]
        assert names(store, 3) == [f"Player {number}" for number in range(4)]


def test_a_store_of_version_3_gets_the_tables(tmp_path: Path, games: list[MadeUpGame]) -> None:
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", games[:2], key="1")
    connection = sqlite3.connect(tmp_path / "store.sqlite")
    connection.executescript("DROP TABLE births; DROP TABLE born_sifts; PRAGMA user_version = 3")
    connection.close()
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        assert store.births.since(0) == []
        store.births.record(5, {})
        assert names(store, 4) == ["Player 0", "Player 1"]


def test_a_game_whose_result_was_put_right_is_the_same_game(tmp_path: Path, games: list[MadeUpGame]) -> None:
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", games[:2], key="1")
        store.births.record(1, {})
        sift_in(store, "a.pgn", [replace(games[0], result=2), games[1]], key="2")
        store.births.record(2, {})
        assert names(store, 1) == []
