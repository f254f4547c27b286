"""The demonstration's collections are what their script makes."""

from __future__ import annotations

import importlib.util
import io
from pathlib import Path
from types import ModuleType

import chess.pgn
import pytest

DEMO = Path(__file__).parents[3] / "demo"


@pytest.fixture(scope="module")
def make_games() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_games", DEMO / "make_games.py")
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_script_makes_the_engine_games_that_are_there(make_games: ModuleType) -> None:
    made = make_games.engine_games(count=3)
    assert (DEMO / "edition/sources/resident-games.pgn").read_text(encoding="utf-8").startswith(made)


@pytest.mark.parametrize("name", ["practice-invented.pgn", "resident-games.pgn"])
def test_every_game_says_that_it_is_invented(name: str) -> None:
    text = (DEMO / "edition/sources" / name).read_text(encoding="utf-8")
    games = text.split("[Event ")[1:]
    assert len(games) >= 400
    assert all("nvented" in game for game in games)


def test_the_practice_has_doubles_and_faults_and_many_pairings() -> None:
    text = (DEMO / "edition/sources/practice-invented.pgn").read_text(encoding="utf-8")
    assert text.count("Qa9") >= 3
    assert text.count("Other collection (invented)") >= 5
    stream = io.StringIO(text)
    headers = []
    while (header := chess.pgn.read_headers(stream)) is not None:
        headers.append(header)
    years = {header["Date"][:4] for header in headers}
    assert len(years) == 10
    assert {header["Result"] for header in headers} == {"1-0", "0-1", "1/2-1/2"}
