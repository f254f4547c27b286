"""Until the graph of many games is grown there is a map of some of them, and it says so; then the whole takes its place."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from invented_desk import GAME, HOST, Desk
from starlette.testclient import TestClient

import variorum.build.first_look as first_look
import variorum.build.opened as opened_module
import variorum.desk.editions as editions_module
from variorum.board import Line
from variorum.build.first_look import FirstLook, GamesTaken
from variorum.cli import main
from variorum.desk.app import make_app
from variorum.desk.editions import Editions
from variorum.desk.pages.map_sheet import _author

_GAMES = 30


class Held:
    """A desk whose graph is not grown before `go_on`."""

    def __init__(self, desk: Desk, client: TestClient, go_on: threading.Event) -> None:
        self.desk, self.client, self.go_on = desk, client, go_on
        self.made = (desk.edition / "manuscript.pgn").stat().st_mtime_ns
        self.editions: Editions = client.app.state.editions  # type: ignore[attr-defined]

    def get(self, path: str, **headers: str) -> tuple[int, str]:
        answer = self.client.get(f"/e/{self.desk.name}/{path}", headers=headers)
        return answer.status_code, answer.text

    def whole(self, path: str) -> str:
        """A page as soon as it is made from the whole graph."""
        pause = threading.Event()
        while (told := self.get(f"{path}{'&' if '?' in path else '?'}newer="))[0] == 202:
            pause.wait(0.01)
        assert told[0] == 200
        return told[1]


@pytest.fixture
def held(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> Iterator[Held]:
    orders = ["3. Nc3 Nf6 4. Nf3", "3. Nf3 Nf6 4. Nc3", "3. Nc3 Be7 4. Nf3"]
    games = [
        GAME.replace("3. Nc3 Nf6 4. Nf3", orders[number % 3]).replace("Orlo", f"Orlo{number}")
        for number in range(_GAMES)
    ]
    (desk.edition / "sources" / "b.pgn").write_text("".join(games))
    assert main(["sift", str(desk.edition)]) == 0
    go_on, grown = threading.Event(), opened_module.kept_graph

    def slowly(*given: Any, **named: Any) -> Any:
        assert go_on.wait(60)
        return grown(*given, **named)

    monkeypatch.setattr(opened_module, "kept_graph", slowly)
    monkeypatch.setattr(first_look, "_GAMES", 8)
    app = make_app(hosts=frozenset({HOST}), shelf_list=desk.shelf, patience=0)
    with TestClient(app, base_url=f"http://{HOST}") as client:
        yield Held(desk, client, go_on)
        go_on.set()


def test_a_first_map_is_there_at_once_and_says_what_it_is(held: Held) -> None:
    status, text = held.get("map")
    assert status == 200
    assert "A first map, of one game in 4, taken at even distances from all 32;" in text
    assert 'id="sheet"' in text
    assert "fewer than 2 of these games meet" in text
    status, sheet = held.get("map/sheet?find=Nf3")
    assert status == 200
    assert "places for <i>Nf3</i>" in sheet
    status, told = held.get("map?newer=", accept="application/json")
    assert status == 202
    assert "words" in told

    held.go_on.set()
    text = held.whole("map")
    assert "A first map" not in text
    assert "32 games" in text
    assert held.get("map") == (200, text)
    assert not held.editions.has_first(held.desk.name)


def test_the_whole_is_never_kept_with_what_a_first_look_shows(held: Held) -> None:
    # Both are made from one request, the whole in another thread.
    assert all("A first map" in held.get(f"map?find=Nf{number}")[1] for number in range(1, 8))
    held.go_on.set()
    for number in range(1, 8):
        assert "A first map" not in held.whole(f"map?find=Nf{number}")


def test_a_first_look_takes_games_at_even_distances_and_all_texts(held: Held) -> None:
    look = held.editions.first(held.desk.name)
    assert isinstance(look, FirstLook)
    assert look.taken == GamesTaken(4, 32)
    assert held.editions.first(held.desk.name) is look
    assert look.graph.node_counts.games[:, 1:].sum(axis=1).max() == 8
    held.go_on.set()
    whole, _ = held.editions.grown(held.desk.name)
    assert set(look.graph.keys.tolist()) <= set(whole.graph.keys.tolist())
    assert whole.manuscript is not None
    assert (look.graph.nodes_of(np.asarray(whole.manuscript.index.columns.node_key)) >= 0).sum() == (
        whole.graph.nodes_of(np.asarray(whole.manuscript.index.columns.node_key)) >= 0
    ).sum()


def test_what_changed_meanwhile_is_on_the_next_first_look(held: Held) -> None:
    before = held.editions.first(held.desk.name)
    text = held.desk.edition / "manuscript.pgn"
    text.write_text(text.read_text() + '\n[Event "f"]\n\n1. d4 d5 2. c4 e6 3. cxd5 *\n')
    after = held.editions.first(held.desk.name)
    assert before is not None
    assert after is not None
    assert after.graph.nodes == before.graph.nodes + 1


def test_a_map_from_before_the_latest_changes_says_so_until_it_is_grown_anew(
    held: Held, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(editions_module, "_QUICK", -1.0)
    monkeypatch.setattr(editions_module, "_PATIENCE", 1e9)
    held.go_on.set()
    before = held.whole("map")
    assert "growing" not in before
    text = held.desk.edition / "manuscript.pgn"
    kept = text.read_bytes()
    text.write_bytes(kept + b'\n[Event "f"]\n\n1. d4 d5 2. c4 e6 3. cxd5 *\n')
    status, behind = held.get("map")
    assert status == 200
    assert "The edition has changed since this map was grown" in behind
    have = behind.split('data-have="')[1].split('"')[0]
    assert held.get(f"map?newer={have}", accept="application/json")[0] == 202
    text.write_bytes(kept)
    os.utime(text, ns=(held.made, held.made))
    assert held.get(f"map?newer={have}") == (200, before)  # it was undone
    text.write_bytes(kept + b'\n[Event "f"]\n\n1. d4 d5 2. c4 e6 3. cxd5 *\n')
    held.editions._of(held.desk.name)[1].pause = 1e-9
    pause = threading.Event()
    while (told := held.get(f"map?newer={have}"))[0] == 202:
        pause.wait(0.01)
    assert told[0] == 200
    assert "growing" not in told[1]
    assert told[1] != before


def test_a_page_that_takes_long_to_draw_is_no_reason_for_a_first_look(held: Held) -> None:
    held.go_on.set()
    held.editions.grown(held.desk.name)
    assert held.editions.first(held.desk.name) is None


def test_few_games_need_no_first_look(desk: Desk) -> None:
    editions: Editions = desk.client.app.state.editions  # type: ignore[attr-defined]
    assert editions.first(desk.name) is None


def test_the_line_of_the_author_is_red_from_its_first_move_to_a_null_move(desk: Desk) -> None:
    editions: Editions = desk.client.app.state.editions  # type: ignore[attr-defined]
    (desk.edition / "edition.toml").write_text('title = "t"\nside = "both"\n[roots]\nroot = "start"\n')
    (desk.edition / "manuscript.pgn").write_text(
        "1. d4 d5 (1... Nf6 2. c4) 2. c4 -- 3. Nc3 Nf6 *\n\n"
        '[Event "from elsewhere"]\n[SetUp "1"]\n[FEN "nonsense"]\n\n1. e4 *\n\n'
        '[Event "second"]\n\n1. d4 Nf6 (1... d5 2. c4) 2. Nf3 *\n'
    )
    opened, _ = editions.grown(desk.name)
    red = {opened.graph.position(int(opened.graph.targets[edge])).epd for edge in _author(opened)}
    lines = ("1.d4", "1.d4 d5", "1.d4 d5 2.c4", "1.d4 Nf6", "1.d4 Nf6 2.Nf3")
    assert red == {Line.parse(line).end.epd for line in lines}
