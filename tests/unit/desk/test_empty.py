"""An edition with nothing in it yet: every page is there and says what to do next."""

from __future__ import annotations

from pathlib import Path

import html5lib
import pytest
from invented_desk import Desk

from variorum.edition import new_edition

NEXT = {
    "games": "Add one below",
    "map": "Bring in games",
    "position": "Make a move on the board",
    "orders": "there you can name it",
    "plans": "have voices play some",
    "structures": "No line goes from one structure to another",
    "contrast": "Name two places",
    "playouts": "Choose a place and how many games",
    "claims": "A sign behind a move of the manuscript is a claim",
    "drift": "Build the edition once",
    "manuscript": "TODO go on from here",
    "digest": "root",
    "settings": "another",
    "state": "“Build” on the map",
}


@pytest.fixture
def fresh(desk: Desk, tmp_path: Path) -> str:
    folder = tmp_path / "fresh"
    new_edition(folder, "Fresh", ["1.d4 d5 2.c4 e6"], "white")
    return desk.shelf.add(folder).name


@pytest.mark.parametrize("page", list(NEXT))
def test_what_to_do_next_is_said(desk: Desk, fresh: str, page: str) -> None:
    answer = desk.client.get(f"/e/{fresh}/{page}")
    assert answer.status_code == 200
    html5lib.HTMLParser(strict=page != "state").parse(answer.text)
    assert NEXT[page] in answer.text
    assert "variorum sift" not in answer.text


def test_an_empty_shelf_says_how_to_begin(desk: Desk) -> None:
    desk.shelf.remove(desk.name)
    assert "Begin one below" in desk.client.get("/").text


def test_questions_to_oneself_are_listed_where_nothing_is_claimed(desk: Desk, fresh: str) -> None:
    text = desk.client.get(f"/e/{fresh}/claims").text
    assert "Your open questions, 1" in text
    assert "go on from here" in text
