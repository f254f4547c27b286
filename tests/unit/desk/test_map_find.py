"""What a search on the map finds, against reading the invented games."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from invented_desk import GAME
from invented_verdicts import said
from starlette.datastructures import QueryParams

from variorum.base.settings import UserSettings
from variorum.board import Line
from variorum.build.opened import OpenEdition
from variorum.cli import main
from variorum.desk.map_find import disputed, find, unanswered
from variorum.desk.pages.map_asked import MapAsked
from variorum.desk.pages.map_sheet import draw_map
from variorum.edition import load_edition
from variorum.voices.verdict_files import append_verdicts

ORDERS = ("3. Nc3 Nf6 4. Nf3 Be7", "3. Nf3 Nf6 4. Nc3 Be7", "3. cxd5 exd5 4. Nc3 c5 5. dxc5 Nf6 6. e3 Bxc5")
ROOT = "1.d4 d5 2.c4 e6"


def edition_in(folder: Path) -> OpenEdition:
    edition, _ = load_edition(folder)
    assert edition is not None
    return OpenEdition(edition, UserSettings())


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
    with edition_in(folder) as one:
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


def test_voices_that_play_otherwise_dispute_a_position(opened: OpenEdition) -> None:
    folder = opened.edition.path
    for voice, move, cp in (("analyst", "Nf3", 30), ("second", "Bg5", 55)):
        append_verdicts(folder / "verdicts" / f"{voice}.epd", [said(voice, f"{ROOT} 3.Nc3 Nf6", (move, cp))])
    with edition_in(folder) as judged:
        (found,) = disputed(judged)
        assert judged.tell.way(found.node).san() == f"{ROOT} 3.Nc3 Nf6"
        one, other = (judged.sigla[voice] for voice in ("analyst", "second"))
        assert found.words == f"{one} plays Nf3, {other} Bg5"
        scores = {}
        for voice in ("analyst", "second"):
            drawn = draw_map(judged, "x", MapAsked(voice=voice, find="3...Nf6"))
            assert drawn is not None
            places = [place for place in json.loads(drawn.data)["places"] if place["found"]]
            scores[voice] = {text for place in places for kind, text in place["words"] if kind == "value"}
        assert {text.split()[0] for text in scores["analyst"]} == {one}
        assert {text.split()[0] for text in scores["second"]} == {other}


def test_a_stretch_that_is_unfolded_is_in_the_address_and_can_be_folded(opened: OpenEdition) -> None:
    plain = draw_map(opened, "x", MapAsked())
    assert plain is not None
    links = [flow["unfold"] for flow in json.loads(plain.data)["flows"] if flow["unfold"]]
    for link in links:
        asked = MapAsked.of(QueryParams(link.partition("?")[2]))
        wider = draw_map(opened, "x", asked)
        assert wider is not None
        assert wider.places > plain.places or not wider.unfolded
        for folded in wider.unfolded:
            again = draw_map(opened, "x", MapAsked.of(QueryParams(folded.href.partition("?")[2])))
            assert again == plain
    assert any(
        draw_map(opened, "x", MapAsked.of(QueryParams(link.partition("?")[2]))).unfolded for link in links
    )  # type: ignore[union-attr]


def test_an_address_says_what_was_asked() -> None:
    asked = MapAsked(
        places=32,
        open=(f"{1:016x}-{2:016x}",),
        under="my root",
        voice="R",
        find="O-O & more",
        only="disputed",
    )
    assert MapAsked.of(QueryParams(asked.address("/e/x/map").partition("?")[2])) == asked
    assert MapAsked().address("/e/x/map") == "/e/x/map"
    assert MapAsked.of(QueryParams("places=0&open=x.y&only=nonsense")) == MapAsked(places=1)
