from __future__ import annotations

import gzip
import html
import os
import sys
import time

import html5lib
import pytest
from desk_works import until
from invented_desk import GAME, HOSTILE, Desk

from variorum.desk.work import State
from variorum.edition import load_edition

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="needs links, and names that Windows refuses")
TWO = GAME.replace("Orlo", "Brim") + GAME.replace("Orlo", "Cade")


def add(desk: Desk, data: bytes, **asked: str) -> tuple[int, dict[str, object]]:
    headers = {"x-variorum-token": desk.token, "content-type": "application/octet-stream"}
    answer = desk.client.post(f"/e/{desk.name}/games/add", params=asked, content=data, headers=headers)
    return answer.status_code, answer.json()


def test_a_file_is_added_and_brought_in(desk: Desk) -> None:
    text = desk.page("games")
    html5lib.HTMLParser(strict=True).parse(text)
    assert "sources/a.pgn" in text
    assert add(desk, TWO.encode(), file="new games.pgn")[0] == 200
    assert (desk.edition / "sources" / "new games.pgn").read_text() == TWO
    assert "not brought in yet" in desk.page("games")
    status, told = desk.post(f"/e/{desk.name}/begin/sift", {})
    assert status == 200
    assert until(desk.works, int(told["number"]), State.DONE, State.FAILED).state is State.DONE
    text = desk.page("games")
    assert "not brought in yet" not in text
    assert "4 games that reach a root" in text


def test_a_compressed_file_stays_as_it_is(desk: Desk) -> None:
    data = gzip.compress(TWO.encode())
    assert add(desk, data, file="x.PGN.gz")[0] == 200
    assert (desk.edition / "sources" / "x.PGN.gz").read_bytes() == data


def test_what_the_games_are_is_written_into_the_settings(desk: Desk) -> None:
    before = (desk.edition / "edition.toml").read_text()
    assert add(desk, TWO.encode(), file="e.pgn", kind="engine", voice="owl")[0] == 200
    edition, faults = load_edition(desk.edition)
    assert edition is not None and not faults
    rule = edition.rule_for(desk.edition / "sources" / "e.pgn")
    assert (rule.kind, rule.voice) == ("engine", "owl")
    assert (desk.edition / "edition.toml").read_text().startswith(before)
    assert "games of engines, owl" in desk.page("games")


@pytest.mark.parametrize(
    "asked",
    [
        {"file": "../manuscript.pgn"},
        {"file": "..\\x.pgn"},
        {"file": "/tmp/x.pgn"},
        {"file": "a/b.pgn"},
        {"file": ".hidden.pgn"},
        {"file": "*.pgn"},
        {"file": "x.exe"},
        {"file": "x.pgn\n.pgn"},
        {"file": ""},
        {"file": "a.pgn"},  # is there already
        {"file": "x.pgn", "kind": "poetry"},
        {"file": "x.pgn", "kind": "engine"},
        {"file": "x.pgn", "kind": "analysis", "voice": " "},
    ],
)
def test_what_is_no_file_of_games_is_refused(desk: Desk, asked: dict[str, str]) -> None:
    before = {file: file.read_bytes() for file in desk.edition.parent.rglob("*.pgn")}
    assert add(desk, TWO.encode(), **asked)[0] == 422
    assert {file: file.read_bytes() for file in desk.edition.parent.rglob("*.pgn")} == before
    assert not list((desk.edition / "sources").glob("*.part"))


def test_an_empty_file_and_a_file_without_the_token(desk: Desk) -> None:
    assert add(desk, b"", file="x.pgn")[0] == 422
    answer = desk.client.post(f"/e/{desk.name}/games/add?file=x.pgn", content=TWO)
    assert answer.status_code == 403
    assert not (desk.edition / "sources" / "x.pgn").exists()


def test_what_a_killed_desk_left_of_a_copy_is_removed(desk: Desk) -> None:
    sources = desk.edition / "sources"
    names = {".0123456789ab.part": 7_200, ".ba9876543210.part": 0, ".mine.part": 7_200}
    for name, age in names.items():
        (sources / name).write_text("x")
        then = time.time() - age
        os.utime(sources / name, (then, then))
    assert add(desk, TWO.encode(), file="b.pgn")[0] == 200
    assert {file.name for file in sources.glob(".*.part")} == {".ba9876543210.part", ".mine.part"}


@POSIX
def test_a_link_out_of_the_edition_is_not_followed(desk: Desk) -> None:
    outside = desk.edition.parent / "outside"
    outside.mkdir()
    (desk.edition / "sources" / "link.pgn").symlink_to(outside / "x.pgn")
    assert add(desk, TWO.encode(), file="link.pgn")[0] == 422
    assert list(outside.iterdir()) == []


@POSIX
def test_names_of_files_are_shown_as_text(desk: Desk) -> None:
    name = HOSTILE.replace("/", "_") + ".pgn"
    (desk.edition / "sources" / name).write_text(TWO)
    text = desk.page("games")
    assert name not in text
    assert html.escape(name).replace("&quot;", "&#34;") in text


def test_what_is_set_aside_says_why_and_a_file_without_a_game_does_not_spoil_the_rest(desk: Desk) -> None:
    assert add(desk, b"a letter, no game\n", file="letter.pgn")[0] == 200
    assert add(desk, (GAME + GAME.replace("1. d4 d5", "1. d4 Ke5")).encode(), file="xfaulty.pgn")[0] == 200
    for _ in range(2):  # neither now nor later
        _, told = desk.post(f"/e/{desk.name}/begin/sift", {})
        work = until(desk.works, int(told["number"]), State.DONE, State.FAILED)
        assert work.state is State.DONE
        (shortfall,) = work.shortfalls
        assert shortfall.startswith("sources/letter.pgn: there is no game in it; check that it is a PGN file")
    text = desk.page("games")
    html5lib.HTMLParser(strict=True).parse(text)
    assert "no game in it" in text
    assert "3 games that reach a root" in text
    assert "What was set aside, and why" in text and "game 2" in text


def test_where_there_is_no_file_at_all_bringing_in_says_so(desk: Desk) -> None:
    (desk.edition / "sources" / "a.pgn").unlink()
    for expected in (State.DONE, State.FAILED):  # first its games leave the store
        _, told = desk.post(f"/e/{desk.name}/begin/sift", {})
        work = until(desk.works, int(told["number"]), State.DONE, State.FAILED)
        assert work.state is expected
    assert "no files of games" in work.fault
    assert "No game that reaches a root" in desk.page("games")
