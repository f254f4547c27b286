"""The manuscript page: the text with its positions, what it says in two ways, its steps, another text taken in."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import html5lib
import pytest
from invented_desk import HOSTILE, Desk

from variorum.board import Position
from variorum.edition import content_hash, read_manuscript

TWO_ORDERS = '[Event "e"]\n\n1. d4 d5 2. c4 e6 3. Nc3 (3. Nf3 Nf6 4. Nc3) 3... Nf6 4. Nf3 Be7 *\n'


def send(desk: Desk, **wish: object) -> tuple[int, Any]:
    mark = content_hash((desk.edition / "manuscript.pgn").read_bytes())
    return desk.post(f"/e/{desk.name}/words", {"hash": mark, **wish})


@pytest.mark.parametrize("part", ["book", "tidy", "steps"])
def test_each_part_is_valid_and_lets_nothing_run(desk: Desk, part: str) -> None:
    text = desk.page(f"manuscript/{part}")
    for element in html5lib.HTMLParser(strict=True).parse(f"<!doctype html><title>x</title>{text}").iter():
        assert not any(str(name).startswith("on") or name == "style" for name in element.attrib)
    assert HOSTILE not in text


def test_every_move_has_its_position_and_the_one_before_it(desk: Desk) -> None:
    text = desk.page("manuscript/book")
    found = re.findall(r'data-node="(\d+)" data-before="(-?\d+)" data-fen="([^"]+)"', text)
    nodes = read_manuscript(desk.edition / "manuscript.pgn").games[0].nodes
    assert len(found) == len(nodes)
    for row, before, fen in found:
        node = nodes[int(row)]
        assert node.position == Position.from_fen(fen)
        assert int(before) == (-1 if node.parent is None else node.parent.row)


def test_private_lines_and_comments_are_told_as_such(desk: Desk) -> None:
    file = desk.edition / "manuscript.pgn"
    file.write_text(
        '[Event "e"]\n\n1. d4 d5 (1... Nf6 {private line: not yet} 2. c4) 2. c4 {private: mine} *\n'
    )
    text = desk.page("manuscript/book")
    hidden = re.findall(r'class="mv private"[^>]*>([^<]+)<', text)
    assert [one.replace("\u00a0", " ") for one in hidden] == ["1…♘f6", "2 c4"]
    assert "private line</span>" in text
    assert "private comment</span>" in text


def test_what_is_said_in_two_ways_leads_to_its_place(desk: Desk) -> None:
    (desk.edition / "manuscript.pgn").write_text(TWO_ORDERS)
    text = desk.page("manuscript/tidy")
    assert "leads to a position that is treated under another order" in text
    place = re.search(r'href="[^"]*place=(\d+)%3A(\d+)"', text)
    assert place
    page = desk.page(f"manuscript?game=1&place={place[1]}:{place[2]}")
    begin = re.search(r'data-begin="(\d+)"', page)
    assert begin
    node = read_manuscript(desk.edition / "manuscript.pgn").games[0].nodes[int(begin[1])]
    assert node.place == (int(place[1]), int(place[2]))
    for nonsense in ("9999:1", "0:0", "x", "1:1"):
        desk.page(f"manuscript?place={nonsense}")


def test_pointers_are_written_where_an_order_ends(desk: Desk) -> None:
    file = desk.edition / "manuscript.pgn"
    file.write_text(TWO_ORDERS)
    assert "Point to the other orders" in desk.page("manuscript/tidy")
    assert send(desk, act="point")[0] == 200
    assert "4. Nc3 {see 1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3})" in file.read_text()
    assert "Point to the other orders" not in desk.page("manuscript/tidy")


def test_steps_are_listed_and_several_are_undone_at_once(desk: Desk) -> None:
    before = (desk.edition / "manuscript.pgn").read_bytes()
    assert "Nothing was changed here yet" in desk.page("manuscript/steps")
    for words in ("a", "b", "c"):
        assert send(desk, act="comment", node=1, words=words)[0] == 200
    assert desk.page("manuscript/steps").count('data-act="undo"') == 3
    assert send(desk, act="undo", steps=3)[0] == 200
    assert (desk.edition / "manuscript.pgn").read_bytes() == before
    assert desk.page("manuscript/steps").count('data-act="redo"') == 3
    assert send(desk, act="undo", steps=0)[0] == 422
    (desk.edition / "manuscript.pgn").write_bytes(before + b"\n")
    assert "changed by another program" in desk.page("manuscript/steps")


def test_another_text_is_taken_in_once(desk: Desk) -> None:
    other = '[Event "x"]\n\n1. d4 d5 2. c4 e6 3. cxd5 {Another way.} exd5 $10 *\n'
    status, told = send(desk, act="merge", words=other)
    assert status == 200
    assert told["notes"][0] == "New: 2 moves, 1 comment, 1 sign."
    assert "(3. cxd5 {Another way.} 3... exd5 $10)" in (desk.edition / "manuscript.pgn").read_text()
    status, told = send(desk, act="merge", words=other)
    assert told["notes"][0] == "New: nothing."


def test_a_file_of_the_edition_is_taken_in_and_no_other(desk: Desk, tmp_path: Path) -> None:
    secret = tmp_path / "secret.pgn"
    secret.write_text('[Event "x"]\n\n1. e4 *\n')
    assert "<option>sources/a.pgn</option>" in desk.page("manuscript")
    for wrong in (str(secret), "../secret.pgn", "sources/../../secret.pgn", "manuscript.pgn", "edition.toml"):
        assert send(desk, act="merge", file=wrong)[0] == 422
    (desk.edition / "sources" / "link.pgn").symlink_to(secret)
    assert send(desk, act="merge", file="sources/link.pgn")[0] == 422
    status, told = send(desk, act="merge", file="sources/a.pgn")
    assert status == 200
    assert told["said"] == "take in sources/a.pgn"
    assert "Be7" in (desk.edition / "manuscript.pgn").read_text()


def test_a_manuscript_that_is_not_there_yet_is_an_empty_page(desk: Desk) -> None:
    (desk.edition / "manuscript.pgn").unlink()
    assert "There is no manuscript yet" in desk.page("manuscript")
    assert "Nothing is said in two ways" in desk.page("manuscript/tidy")
