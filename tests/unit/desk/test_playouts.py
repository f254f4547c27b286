from __future__ import annotations

import html
import re
from typing import Any

import chess
import html5lib
import msgspec
import pytest
from desk_works import until
from invented_desk import Desk

from variorum.cli import main
from variorum.desk.work import State

WISH = {"at": "qgd", "games": "6", "nodes": "50", "variety": "6", "minutes": "0"}


def played(desk: Desk, **wish: str) -> None:
    status, told = desk.post(f"/e/{desk.name}/playouts/play", WISH | wish)
    assert status == 200, told
    work = until(desk.works, int(told["number"]), State.DONE, State.FAILED)
    assert work.state is State.DONE, work.fault


def test_without_playouts_the_page_says_what_to_do(desk: Desk) -> None:
    text = desk.page("playouts")
    assert "Nothing was played out yet" in text
    assert f'data-post="/e/{desk.name}/playouts/play"' in text


def test_games_are_played_from_the_page_and_shown_as_the_command_tells_them(
    desk: Desk, capsys: pytest.CaptureFixture[str]
) -> None:
    played(desk)
    text = desk.page("playouts")
    html5lib.HTMLParser(strict=True).parse(text)
    assert "6 games played, 0 were there before" in text
    capsys.readouterr()
    command = [
        "playout",
        str(desk.edition),
        "qgd",
        "--games",
        "6",
        "--nodes",
        "50",
        "--variety",
        "6",
        "--json",
    ]
    assert main(command) == 0
    report: dict[str, Any] = msgspec.json.decode(capsys.readouterr().out)
    (row,) = report["positions"]
    results = row["results"]
    assert f"won {results['wins']}, drew {results['draws']}, lost {results['losses']}" in text
    assert report["recipe"] in text
    for ending in row["endings"]:
        assert f"{ending['ending']} ({ending['games']})" in text


def test_a_game_is_played_through_by_the_rules(desk: Desk) -> None:
    played(desk, games="2")
    page = desk.page("playouts")
    assert re.search(r'<p class="verdict">White won \d, drew \d, lost \d', page), "few games have no score"
    address = re.search(r'data-game="([^"]+)"', page)
    assert address
    text = desk.client.get(address[1]).text
    board = chess.Board()  # the reference library
    for san in ("d4", "d5", "c4", "e6"):
        board.push_san(san)
    moves = re.findall(r'class="mv" data-fen="([^"]+)" data-mark="itinerary ([a-h][1-8])-([a-h][1-8])"', text)
    assert moves
    for fen, begin, end in moves:
        legal = {move for move in board.legal_moves if chess.square_name(move.from_square) == begin}
        fits = []
        for move in legal:
            board.push(move)
            if board.fen(en_passant="legal").split()[:4] == fen.split()[:4]:
                fits.append(move)
            board.pop()
        assert len(fits) == 1, (fen, begin, end)
        board.push(fits[0])


def test_more_games_go_on_from_those_that_are_there(desk: Desk) -> None:
    played(desk, games="2")
    played(desk, games="5")
    text = desk.page("playouts")
    assert "3 games played, 2 were there before" in text
    assert len(re.findall("data-game=", text)) == 5
    assert 'value="25"' in text, "twenty more are proposed"


def test_another_recipe_is_another_group(desk: Desk) -> None:
    played(desk, games="2")
    played(desk, games="3", nodes="60")
    text = desk.page("playouts")
    hrefs = [html.unescape(one) for one in re.findall(r'href="([^"]+playouts\?of=[^"]+)"', text)]
    assert len(hrefs) == 2
    counts = [len(re.findall("data-game=", desk.page(one.split(f"{desk.name}/")[1]))) for one in hrefs]
    assert sorted(counts) == [2, 3]


def test_what_each_side_did_comes_as_a_part(desk: Desk) -> None:
    played(desk)
    part = re.search(r'data-part="([^"]+playouts/plans[^"]+)"', desk.page("playouts"))
    assert part
    text = desk.page(html.unescape(part[1]).split(f"{desk.name}/")[1])
    html5lib.HTMLParser(strict=True).parseFragment(text)
    assert "In practice, 2 games: White won 2, drew 0, lost 0" in text
    assert re.search(r"In \d games? of voices from here", text)


@pytest.mark.parametrize(
    "wrong",
    [
        {"games": "0"},
        {"games": "1000000"},
        {"nodes": "0"},
        {"minutes": "-1"},
        {"minutes": "nan"},
        {"at": ""},
        {"at": "nowhere"},
        {"white": "nobody"},
        {"games": "many"},
    ],
)
def test_what_cannot_be_played_is_refused(desk: Desk, wrong: dict[str, str]) -> None:
    assert desk.post(f"/e/{desk.name}/playouts/play", WISH | wrong)[0] == 422
    assert desk.works.told() == ()


def test_a_game_that_there_is_not(desk: Desk) -> None:
    for number in (0, 1, 77):  # games of practice are no playouts
        assert desk.client.get(f"/e/{desk.name}/playouts/game/{number}").status_code == 422
