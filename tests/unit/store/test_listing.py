"""The games through a position as a list, against the same found by going through every game."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.unit.store.made_up import MadeUpGame, random_games, sift_in
from variorum.board import Position
from variorum.store import GameList, Listing, Mode, Ranking, open_store

START = Position.start()


@pytest.fixture(scope="module")
def games() -> list[MadeUpGame]:
    games = random_games(60)
    for number, game in enumerate(games):
        game.date = 20200101 + number % 7
        game.white_elo, game.black_elo = (0, 2500) if number % 5 == 0 else (2000 + 7 * number % 90, 2100)
        game.white = f"Orlo, Tam {number % 3}"
    return games


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, games: list[MadeUpGame]) -> Path:
    folder = tmp_path_factory.mktemp("edition") / ".variorum"
    with open_store(folder, mode=Mode.WRITE) as store:
        sift_in(store, "one.pgn", games[:40])
        sift_in(store, "two.pgn", games[40:], kind="engine", voice="resident")
        sift_in(store, "three.pgn", games[:3], kind="playout", voice="resident")
    return folder


def listed(folder: Path, position: Position, listing: Listing) -> GameList:
    with open_store(folder) as store:
        return store.list_games(position, listing)


def numbers(found: GameList) -> list[int]:
    return [game.head.id for game in found.games]


def test_the_latest_and_the_strongest_come_first(folder: Path, games: list[MadeUpGame]) -> None:
    by_date = sorted(range(60), key=lambda number: (-games[number].date, number))
    latest = listed(folder, START, Listing(limit=100))
    assert numbers(latest) == [number + 1 for number in by_date]
    assert latest.total == 60

    def strength(number: int) -> tuple[int, int, int]:
        game = games[number]
        rating = game.white_elo + game.black_elo if game.white_elo and game.black_elo else 0
        return -rating, -game.date, number

    strongest = listed(folder, START, Listing(ranking=Ranking.STRONGEST, limit=100))
    assert numbers(strongest) == [number + 1 for number in sorted(range(60), key=strength)]


def test_kinds_are_told_apart_and_playouts_are_never_among_them(folder: Path) -> None:
    practice = listed(folder, START, Listing(kinds=frozenset({"practice"}), limit=100))
    engines = listed(folder, START, Listing(kinds=frozenset({"engine"}), limit=100))
    assert sorted(numbers(practice)) == list(range(1, 41))
    assert sorted(numbers(engines)) == list(range(41, 61))
    assert listed(folder, START, Listing(kinds=frozenset({"playout"}))).total == 0


def test_of_a_player_and_from_a_number_on(folder: Path, games: list[MadeUpGame]) -> None:
    own = [number + 1 for number, game in enumerate(games) if game.white.endswith("2")]
    found = listed(folder, START, Listing(player="T. Orlo 2", limit=100))
    assert sorted(numbers(found)) == own
    assert found.total == len(own)
    part = listed(folder, START, Listing(player="T. Orlo 2", start=3, limit=4))
    assert numbers(part) == numbers(found)[3:7]
    assert part.total == found.total
    assert listed(folder, START, Listing(player="Nobody Else")).games == ()


def test_where_each_game_came_there_and_what_it_played(folder: Path, games: list[MadeUpGame]) -> None:
    position = games[5].line.positions()[4]
    found = listed(folder, position, Listing(limit=100))
    there = [number for number, game in enumerate(games) if position in game.line.positions()]
    assert sorted(numbers(found)) == [number + 1 for number in there]
    for game in found.games:
        line = games[game.head.id - 1].line
        assert game.ply == line.positions().index(position)
        assert game.move == (line.moves[game.ply] if game.ply < len(line.moves) else None)
    assert listed(folder, Position.from_fen("8/8/8/8/8/4k3/4p3/4K3 w - - 0 1"), Listing()).total == 0
