from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import chess
import pytest
from desk_works import build
from invented_desk import Desk

from variorum.base import InputError
from variorum.desk.shelf import Shelf


def edition(folder: Path) -> Path:
    folder.mkdir(parents=True)
    (folder / "edition.toml").write_text("")
    return folder


def test_the_latest_stands_first_and_is_kept(tmp_path: Path) -> None:
    file = tmp_path / "shelf.json"
    one, two = edition(tmp_path / "a" / "iqp"), edition(tmp_path / "b" / "iqp")
    shelf = Shelf(file)
    names = [shelf.add(one).name, shelf.add(two).name]
    assert len(set(names)) == 2
    shelf.add(one)
    assert [entry.folder for entry in Shelf(file).all()] == [one, two]
    assert Shelf(file).get(names[1]).folder == two


@pytest.mark.parametrize("kept", [b"", b"{", b'{"folders": 3}', b"\xff"])
def test_a_damaged_list_is_begun_anew(tmp_path: Path, kept: bytes) -> None:
    file = tmp_path / "shelf.json"
    file.write_bytes(kept)
    shelf = Shelf(file)
    assert shelf.all() == ()
    shelf.add(edition(tmp_path / "x"))
    assert len(Shelf(file).all()) == 1


def test_a_folder_without_an_edition_is_refused_and_one_that_is_gone_is_passed_over(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "shelf.json")
    with pytest.raises(InputError, match=r"edition\.toml"):
        shelf.add(tmp_path)
    name = shelf.add(edition(tmp_path / "x")).name
    (tmp_path / "x" / "edition.toml").unlink()
    assert shelf.all() == ()
    with pytest.raises(InputError, match="shelf"):
        shelf.get(name)


def test_the_day_of_the_last_visit_is_kept_and_not_written_twice(tmp_path: Path) -> None:
    file = tmp_path / "shelf.json"
    one, two = edition(tmp_path / "one"), edition(tmp_path / "two")
    file.write_text(
        f'{{"folders": ["{one.as_posix()}", "{two.as_posix()}"]}}'
    )  # as an earlier version kept it
    shelf = Shelf(file)
    assert [entry.visited for entry in shelf.all()] == ["", ""]
    name = shelf.all()[1].name
    shelf.visit(name)
    assert [entry.folder for entry in Shelf(file).all()] == [two, one]
    assert Shelf(file).all()[0].visited >= "2026-01-01"
    written = file.stat().st_mtime_ns
    shelf.visit(name)
    shelf.visit("no-such-name")
    assert file.stat().st_mtime_ns == written


def test_a_first_position_is_made_on_a_board(desk: Desk) -> None:
    def line(**asked: str) -> tuple[int, dict[str, Any]]:
        answer = desk.client.get("/shelf/line", params=asked, headers={"accept": "application/json"})
        return answer.status_code, answer.json()

    board = chess.Board()  # the reference library
    assert sorted(line()[1]["legal"]) == sorted(move.uci() for move in board.legal_moves)
    status, told = line(line="1.d4 d5", move="c2c4")
    assert (status, told["line"], told["mover"]) == (200, "1.d4 d5 2.c4", "Black")
    for san in ("d4", "d5", "c4"):
        board.push_san(san)
    assert told["fen"].split()[:4] == board.fen(en_passant="legal").split()[:4]
    assert line(line="1.d4 d5 2.c4", move="back")[1]["line"] == "1.d4 d5"
    fen = "6k1/5ppp/8/8/8/8/5PPP/R5K1 w - - 0 1"
    assert line(line=fen, move="a1a8")[1]["line"] == f"{fen} 1.Ra8#"
    status, told = line(line="1.d4 Ke4")
    assert (status, "Ke4" in told["fault"]) == (422, True)


def test_the_shelf_tells_how_an_edition_stands(desk: Desk) -> None:
    manuscript = desk.edition / "manuscript.pgn"
    manuscript.write_text(
        manuscript.read_text().replace("Nf6 4. Nf3 *", "Nf6 {TODO what after 4...c5?} 4. Nf3 *")
    )
    text = desk.page("state")
    assert "Not built yet" in text
    assert re.search(r'href="/e/[^"]+/manuscript\?place=6%3A\d+">(TODO )?what after', text)
    build(desk.edition)
    assert "Nothing to compare with yet" in desk.page("state")
    assert f'data-part="/e/{desk.name}/state"' in desk.client.get("/").text


def test_an_edition_beside_the_others_is_found(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(desk.edition.parent / "nowhere"))
    other = edition(desk.edition.parent / "other")
    text = desk.client.get("/").text
    assert str(other) in text
    desk.shelf.add(other)
    assert "Found beside" not in desk.client.get("/").text


def test_two_desks_do_not_take_each_others_editions_away(tmp_path: Path) -> None:
    file = tmp_path / "shelf.json"
    one, two, three = (edition(tmp_path / name) for name in ("one", "two", "three"))
    Shelf(file).add(one)
    here, there = Shelf(file), Shelf(file)
    here.add(two)
    there.add(three)
    here.visit(here.get(next(entry.name for entry in here.all() if entry.folder == one)).name)
    assert {entry.folder for entry in Shelf(file).all()} == {one, two, three}
    there.remove(next(entry.name for entry in there.all() if entry.folder == three))
    assert [entry.folder for entry in Shelf(file).all()] == [one, two]


def test_a_visit_that_cannot_be_noted_stops_no_page(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise InputError("the file cannot be written: no room")

    monkeypatch.setattr("variorum.desk.shelf.atomic_write", full)
    monkeypatch.setattr("variorum.desk.shelf._today", lambda: "2999-01-01")
    assert "Queen" in desk.page("position")
