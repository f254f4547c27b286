"""What a search on the map finds, against reading the invented games."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from invented_desk import GAME

from variorum.base.settings import UserSettings
from variorum.board import Line
from variorum.build.opened import OpenEdition
from variorum.cli import main
from variorum.desk.map_find import disputed, find, unanswered
from variorum.edition import load_edition

ORDERS = ("3. Nc3 Nf6 4. Nf3 Be7", "3. Nf3 Nf6 4. Nc3 Be7", "3. cxd5 exd5 4. Nc3 c5 5. dxc5 Nf6 6. e3 Bxc5")
ROOT = "1.d4 d5 2.c4 e6"


@pytest.fixture
def opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[OpenEdition]:
    monkeypatch.setenv("VARIORUM_HOME", str(tmp_path / "home"))
    folder = tmp_path / "edition"
    assert main(["new", str(folder), "--title", "Q", "--side", "white", "--root", f"qgd: {ROOT}"]) == 0
    (folder / "sources" / "a.pgn").write_text(
        "".join(GAME.replace("3. Nc3 Nf6 4. Nf3 Be7", order) for order in ORDERS)
    )
    (folder / "manuscript.pgn").write_text(
        '[Event "e"]\n[White "w"]\n[Black "b"]\n[Result "*"]\n\n1. d4 d5 2. c4 e6 3. Nc3 Nf6 {todo: and 4.Bg5?} (3... Be7) *\n'
    )
    assert main(["sift", str(folder)]) == 0
    edition, _ = load_edition(folder)
    assert edition is not None
    with OpenEdition(edition, UserSettings()) as one:
        yield one


def lines(opened: OpenEdition, text: str) -> set[str]:
    return {opened.tell.way(one.node).san() for one in find(opened, text)}


def test_a_position_a_name_and_a_line_are_one_place(opened: OpenEdition) -> None:
    fen = Line.parse(f"{ROOT} 3.Nc3 Nf6").end.fen
    assert lines(opened, fen) == {f"{ROOT} 3.Nc3 Nf6"} == lines(opened, "qgd 3.Nc3 Nf6")
    assert lines(opened, "QG") == {ROOT}


def test_a_move_is_found_wherever_it_was_played(opened: OpenEdition) -> None:
    behind_knight = {f"{ROOT} 3.Nc3 Nf6 4.Nf3", f"{ROOT} 3.Nf3"}
    assert lines(opened, "Nf3") == behind_knight == lines(opened, "Nf3!")
    assert lines(opened, "3.Nf3") == {f"{ROOT} 3.Nf3"}
    assert lines(opened, "3...Nf6") == {f"{ROOT} 3.Nc3 Nf6", f"{ROOT} 3.Nf3 Nf6"}
    assert len(find(opened, "...Nf6")) == 3
    assert find(opened, "1.Nf6") == find(opened, "Qh5") == find(opened, "no such word") == []


def test_a_structure_is_found_where_a_line_enters_it(opened: OpenEdition) -> None:
    found = find(opened, "isolated queen's pawn")
    assert [(opened.tell.way(one.node).san(), one.words) for one in found] == [
        (f"{ROOT} 3.cxd5 exd5 4.Nc3 c5 5.dxc5", "isolated queen's pawn (Black's)")
    ]
    assert found == find(opened, "Isolated Queen’s Pawn")


def test_what_is_unanswered_is_an_end_without_a_verdict_and_a_question(opened: OpenEdition) -> None:
    said = {opened.tell.way(one.node).san(): one.words for one in unanswered(opened)}
    assert said == {
        f"{ROOT} 3.Nc3 Nf6": "you ask: and 4.Bg5?",
        f"{ROOT} 3.Nc3 Be7": "a line ends here without a verdict",
    }
    assert disputed(opened) == []
