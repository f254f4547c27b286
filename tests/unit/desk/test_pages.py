from __future__ import annotations

import html
import re
from pathlib import Path

import html5lib
import pytest
from invented_desk import GAME, HOSTILE, Desk

from variorum.base.settings import UserSettings
from variorum.board import Line
from variorum.build.opened import OpenEdition
from variorum.claims.spans import digest_faults
from variorum.cli import main
from variorum.desk.moves import printed
from variorum.desk.render import _moves, _prose, _sentence
from variorum.edition import load_edition
from variorum.edition.digest_reader import read_digest

PAGES = [
    "map",
    "map?places=16&find=Nf3&only=unanswered",
    "map?under=qgd&voice=nobody&only=disputed",
    "map?places=99999&open=0000000000000000-ffffffffffffffff.nonsense",
    "position",
    "position?at=qgd",
    "position?at=start",
    "orders",
    "orders?at=qgd+3.Nc3+Nf6+4.Nf3",
    "claims",
    "drift",
    "games",
    "settings",
    "playouts",
    "manuscript",
    "plans",
    "plans?at=qgd&against=qgd+3.Nc3",
    "structures",
    "structures?at=qgd",
    "contrast",
    "contrast?at=qgd+3.Nc3&with=qgd+3.Nf3",
    "contrast?at=qgd+3.Nc3&with=qgd+3.Nf3&colours=reversed",
    "games/here",
    "games/here?at=qgd+3.Nc3&of=practice&player=Orlo&first=latest",
    "game/1",
    "game/2?at=qgd&ply=6",
]


@pytest.mark.parametrize("path", PAGES)
def test_every_page_is_valid_and_lets_nothing_run(desk: Desk, path: str) -> None:
    text = desk.page(path)
    parser = html5lib.HTMLParser(strict=True)  # the parsing rules of the WHATWG HTML standard
    for element in parser.parse(text).iter():
        names = {str(name) for name in element.attrib}
        assert not any(name.startswith("on") or name == "style" for name in names), element.attrib
        assert not str(element.attrib.get("href", "")).startswith("javascript")
        if str(element.tag).endswith("}script"):
            assert element.attrib["src"].startswith("/static/")
    assert HOSTILE not in text


def test_the_shelf_has_the_edition(desk: Desk) -> None:
    text = desk.client.get("/").text
    html5lib.HTMLParser(strict=True).parse(text)
    assert "Queen&#39;s Gambit" in text
    assert f"/e/{desk.name}/map" in text


def test_a_comment_is_shown_as_it_was_written(desk: Desk) -> None:
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in desk.page("words?at=qgd")


def test_moves_from_here_have_their_games(desk: Desk) -> None:
    text = desk.page("position?at=qgd")
    rows = re.findall(r"data-onward>([^<]+)</a></td><td class=\"n\">(\d*)", text)
    assert rows == [("3\u00a0♘c3", "1"), ("3\u00a0♘f3", "1")]


def test_each_move_of_the_line_leads_to_its_position(desk: Desk) -> None:
    text = desk.page("position?at=1.d4+d5+2.c4+e6+3.Nc3")
    line = re.search(r'id="line">(.*?)</p>', text, re.DOTALL)
    assert line
    assert re.sub(r"<[^>]+>|\s+", " ", line[1]).split() == ["1", "d4", "d5", "2", "c4", "e6", "3", "♘c3"]
    for ply, href in enumerate(re.findall(r'href="([^"]+)"', line[1]), start=1):
        fen = Line.parse("d4 d5 c4 e6 Nc3").positions()[ply].fen
        assert fen in desk.client.get(href.replace("&amp;", "&")).text


def test_a_move_on_the_board_leads_on(desk: Desk) -> None:
    for move in ("g1f3", "Nf3"):
        answer = desk.client.get(f"/e/{desk.name}/play?at=qgd&move={move}")
        assert answer.status_code == 200
        assert "Nf3" in answer.json()["go"]
    answer = desk.client.get(f"/e/{desk.name}/play?at=qgd&move=Ke4", headers={"accept": "application/json"})
    assert answer.status_code == 422
    assert "Ke4" in answer.json()["fault"]


def test_a_place_that_is_none_is_an_erratum(desk: Desk) -> None:
    answer = desk.client.get(f"/e/{desk.name}/position?at=nowhere")
    assert answer.status_code == 422
    assert "Erratum" in answer.text
    assert "nowhere" in answer.text


def test_a_changed_text_is_read_anew(desk: Desk) -> None:
    assert "a new thought" not in desk.page("manuscript")
    file = desk.edition / "manuscript.pgn"
    file.write_text(file.read_text().replace(HOSTILE, "a new thought"))
    assert "a new thought" in desk.page("manuscript")


def test_an_edition_whose_settings_are_broken_is_told(desk: Desk) -> None:
    (desk.edition / "edition.toml").write_text("title = ")
    assert "Erratum" in desk.client.get("/").text
    answer = desk.client.get(f"/e/{desk.name}/map")
    assert answer.status_code == 422
    assert "edition.toml" in answer.text


def test_a_new_edition_is_begun_and_opened(desk: Desk, tmp_path: Path) -> None:
    folder = tmp_path / "new"
    wish = {"title": "A Slav", "folder": str(folder), "root": "1.d4 d5 2.c4 c6", "side": "black"}
    status, told = desk.post("/shelf/new", wish)
    assert status == 200
    assert "A Slav" in desk.client.get(told["go"]).text
    assert desk.shelf.all()[0].folder == folder
    status, told = desk.post("/shelf/new", wish)
    assert status == 422
    assert "nothing is overwritten" in told["fault"]


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"title": " "}, "title"),
        ({"root": "1.d4 d4"}, "d4"),
        ({"folder": "somewhere"}, "whole path"),
        ({"folder": ""}, "folder"),
        ({"side": "green"}, "form"),
    ],
)
def test_a_form_that_cannot_be_used_says_why(
    desk: Desk, tmp_path: Path, wrong: dict[str, str], said: str
) -> None:
    wish = {"title": "x", "folder": str(tmp_path / "n"), "root": "1.d4", "side": "white"} | wrong
    status, told = desk.post("/shelf/new", wish)
    assert status == 422
    assert said in told["fault"]
    assert not (tmp_path / "n").exists()


def test_an_edition_taken_off_the_shelf_keeps_its_files(desk: Desk) -> None:
    assert desk.post("/shelf/remove", {"name": desk.name})[0] == 200
    assert desk.shelf.all() == ()
    assert (desk.edition / "manuscript.pgn").is_file()


def test_the_manuscript_is_a_book_with_its_variations(desk: Desk) -> None:
    text = re.sub(r"<[^>]+>", " ", desk.page("manuscript"))
    words = " ".join(text.replace("\u00a0", " ").split())
    assert "3 ♘c3 ⩲ Variations instead of 3 ♘c3 ⩲: 1 variation, 3 moves 3 ♘f3 ♘f6 4 ♘c3 3…♘f6 4 ♘f3" in words


def test_both_diagrams_of_a_contrast_are_marked(desk: Desk) -> None:
    marks = re.findall(r'marks="([^"]*)"', desk.page("contrast?at=qgd+3.Nc3&with=qgd+3.Nf3"))
    assert sorted(marks[0].split("; ")) == ["changed c3!", "changed g1!", "vacated b1!", "vacated f3!"]
    assert sorted(marks[1].split("; ")) == ["changed b1!", "changed f3!", "vacated c3!", "vacated g1!"]


def test_a_file_that_did_not_change_is_not_sent_again(desk: Desk) -> None:
    first = desk.client.get("/static/board.js")
    again = desk.client.get("/static/board.js", headers={"if-none-match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_only_moves_are_set_as_moves() -> None:
    words = "take in a PGN text, after 12...Rc8 13.exd8=Q+ O-O Nbd7!? K"
    assert printed(words) == "take in a PGN text, after 12…♖c8 13\u00a0exd8=♕+ O-O ♘bd7!? K"


def test_a_sentence_is_printed_as_one() -> None:
    assert _prose("White's 10...Nf6 & O-O") == (
        'White’s <span class="nb">10…♘f6</span> &amp; <span class="nb">O-O</span>'
    )
    assert _sentence("no place is called 'here'") == "No place is called “here”."
    assert _sentence("") == ""


def test_a_position_is_named_on_its_page_once(desk: Desk) -> None:
    line = "1.d4 d5 2.c4 e6 3.Nc3 Nf6"
    text = desk.page(f"position?at={line}")
    assert "Name this position" in text and "<h1>After 3…" in text
    status, told = desk.post(f"/e/{desk.name}/position/name", {"at": line, "called": " main  line "})
    assert (status, told["go"]) == (200, f"/e/{desk.name}/position?at=main+line")
    text = desk.page("position?at=main+line")
    assert "Name this position" not in text and "main line" in text
    edition, _ = load_edition(desk.edition)
    assert edition is not None and edition.places["main line"].position == Line.parse(line).end
    for wrong in ({"called": "Main line"}, {"called": " "}, {"at": "nowhere", "called": "x"}, {"called": 3}):
        status, told = desk.post(f"/e/{desk.name}/position/name", {"at": line} | wrong)
        assert (status, bool(told["fault"])) == (422, True), wrong


def test_castling_is_held_together_and_markup_stays_words() -> None:
    assert str(_moves("9.O-O <b>")) == '9\u00a0<span class="nb">O-O</span> &lt;b&gt;'


def test_what_pages_offer_to_cite_is_read_and_says_what_is_looked_up(desk: Desk, tmp_path: Path) -> None:
    (desk.edition / "sources" / "b.pgn").write_text(
        "".join(GAME.replace("Orlo", f"Orlo{n}") for n in range(3))
    )
    assert main(["sift", str(desk.edition)]) == 0
    paths = (
        "position?at=qgd",
        "position?at=1.d4+d5+2.c4+dxc4+3.e4+e6",
        "position?at=1.d4+d5+2.c4+e6+3.Nc3+Nf6+4.cxd5+exd5",
        "orders?at=qgd+3.Nc3+Nf6+4.Nf3",
        "plans?at=qgd",
        "contrast?at=qgd+3.Nc3&with=qgd+3.Nf3",
        "game/1?at=qgd",
    )
    kinds = set()
    edition, _ = load_edition(desk.edition)
    assert edition is not None
    for path in paths:
        cited = [html.unescape(one) for one in re.findall(r'data-cite="([^"]*)"', desk.page(path))]
        assert cited, path
        file = tmp_path / "digest.md"
        file.write_text("# A text\n\n" + "\n\n".join(cited) + "\n")
        digest, faults = read_digest(file)
        assert faults == [], path
        with OpenEdition(edition, UserSettings()) as opened:
            assert digest_faults(digest, opened.evidence) == [], path
        kinds |= {span.attributes.get("kind", "line") for span in digest.spans()}
        kinds |= {block.kind.value for block in digest.exhibits()}
    assert {"line", "count", "tempo", "structure", "plan", "contrast", "orders", "plans", "game"} <= kinds
