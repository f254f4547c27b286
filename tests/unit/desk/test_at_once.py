"""Many write at once, each from the same page: exactly one is taken, the others are told, and nobody's words are gone."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from invented_desk import GAME, Desk
from starlette.requests import Request

from variorum.desk.pages.games import _write
from variorum.edition import History

Send = Callable[[int], tuple[int, dict[str, str]]]
_MANY = 6


def at_once(send: Send) -> list[tuple[int, dict[str, str]]]:
    """The answers to so many requests that are sent in the same moment."""
    answers: dict[int, tuple[int, dict[str, str]]] = {}
    start = threading.Barrier(_MANY)

    def one(number: int) -> None:
        start.wait()
        answers[number] = send(number)

    threads = [threading.Thread(target=one, args=(number,)) for number in range(_MANY)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return [answers[number] for number in range(_MANY)]


def begun(desk: Desk, page: str) -> str:
    return desk.page(page).split('data-hash="')[1].split('"')[0]


def taken(answers: list[tuple[int, dict[str, str]]], refused: int) -> int:
    """Whose request was taken, where all others were refused."""
    statuses = [status for status, _ in answers]
    assert sorted(statuses) == [200, *[refused] * (_MANY - 1)], answers
    return statuses.index(200)


@pytest.mark.parametrize("there", [False, True])
def test_the_digest(desk: Desk, there: bool) -> None:
    file = desk.edition / "digest.md"
    file.unlink(missing_ok=True)
    if there:
        file.write_text("before\n")
    mark = begun(desk, "digest")
    one = taken(
        at_once(
            lambda number: desk.post(
                f"/e/{desk.name}/digest/save", {"text": f"text {number}\n", "hash": mark}
            )
        ),
        409,
    )
    assert file.read_text() == f"text {one}\n"
    if there:
        History(file).undo()
        assert file.read_text() == "before\n"


def test_the_manuscript(desk: Desk) -> None:
    file = desk.edition / "manuscript.pgn"
    before = file.read_text()
    mark = begun(desk, "words?at=qgd+3.Nc3")
    node = int(desk.page("words?at=qgd+3.Nc3").split('data-node="')[1].split('"')[0])
    sent = {"act": "comment", "hash": mark, "node": node}
    one = taken(
        at_once(lambda number: desk.post(f"/e/{desk.name}/words", {**sent, "words": f"Remark {number}."})),
        409,
    )
    after = file.read_text()
    assert [number for number in range(_MANY) if f"Remark {number}." in after] == [one]
    History(file).undo()
    assert file.read_text() == before


def test_the_settings(desk: Desk) -> None:
    file = desk.edition / "edition.toml"
    before = file.read_text()
    mark = begun(desk, "settings")
    one = taken(
        at_once(
            lambda number: desk.post(
                f"/e/{desk.name}/settings/change", {"hash": mark, "values": {"title": f"Title {number}"}}
            )
        ),
        422,
    )
    assert f'title = "Title {one}"' in file.read_text()
    status, _ = desk.post(f"/e/{desk.name}/settings/undo", {"hash": begun(desk, "settings")})
    assert status == 200
    assert file.read_text() == before


def test_files_of_games(desk: Desk) -> None:
    headers = {"x-variorum-token": desk.token}

    def send(number: int) -> tuple[int, dict[str, str]]:
        answer = desk.client.post(
            f"/e/{desk.name}/games/add?file=new.pgn", content=GAME + f"{{{number}}} *\n", headers=headers
        )
        return answer.status_code, answer.json()

    one = taken(at_once(send), 422)
    assert f"{{{one}}}" in (desk.edition / "sources" / "new.pgn").read_text()
    assert [file.name for file in (desk.edition / "sources").iterdir() if file.name.endswith(".part")] == []


def test_settings_that_change_while_a_file_is_copied(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    settings = desk.edition / "edition.toml"

    async def write(request: Request, part: Path) -> int:
        settings.write_text(settings.read_text().replace("Queen's Gambit", "Another title"))
        return await _write(request, part)

    monkeypatch.setattr("variorum.desk.pages.games._write", write)
    asked = {"file": "new.pgn", "kind": "engine", "voice": "owl"}
    headers = {"x-variorum-token": desk.token}
    answer = desk.client.post(f"/e/{desk.name}/games/add", params=asked, content=GAME, headers=headers)
    assert answer.status_code == 200, answer.text
    assert "Another title" in settings.read_text()
    assert 'voice = "owl"' in settings.read_text()


def test_the_shelf(desk: Desk, tmp_path: Path) -> None:
    folders = [str(tmp_path / f"new {number}") for number in range(_MANY)]
    sent = {"title": "t", "root": "1.d4"}
    answers = at_once(lambda number: desk.post("/shelf/new", {**sent, "folder": folders[number]}))
    assert {status for status, _ in answers} == {200}
    assert {str(one.folder) for one in desk.shelf.all()} == {*folders, str(desk.edition)}
