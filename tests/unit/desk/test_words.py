"""The author's own words in place: every byte that was not meant stays, and nothing is written over another change."""

from __future__ import annotations

import re
from typing import Any

import html5lib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_desk import HOSTILE, Desk

from variorum.desk.changes import _as_written
from variorum.desk.pages.words import Passage, passage_of
from variorum.edition import content_hash, read_manuscript

QGD = "1.d4 d5 2.c4 e6"


def manuscript(desk: Desk) -> bytes:
    return (desk.edition / "manuscript.pgn").read_bytes()


def part(desk: Desk, at: str, **more: object) -> str:
    answer = desk.client.get(f"/e/{desk.name}/words", params={"at": at, **more})
    assert answer.status_code == 200, answer.text
    return answer.text


def row(text: str) -> int:
    found = re.search(r'data-node="(\d+)"', text)
    assert found
    return int(found[1])


def send(desk: Desk, mark: str | None = None, **wish: object) -> tuple[int, Any]:
    file = desk.edition / "manuscript.pgn"
    found = content_hash(file.read_bytes()) if file.exists() else ""
    return desk.post(f"/e/{desk.name}/words", {"hash": found if mark is None else mark, **wish})


@pytest.mark.parametrize("at", ["qgd", "start", "qgd 3.Nc3", "qgd 3.Nf3 Nf6 4.Nc3", "qgd 3.e4", "1.c4"])
def test_the_part_is_valid_and_lets_nothing_run(desk: Desk, at: str) -> None:
    text = part(desk, at)
    parser = html5lib.HTMLParser(strict=True)
    for element in parser.parse(f"<!doctype html><title>x</title>{text}").iter():
        assert not any(str(name).startswith("on") or name == "style" for name in element.attrib)
    assert HOSTILE not in text


def test_a_comment_is_written_changed_and_taken_out_and_nothing_else_changes(desk: Desk) -> None:
    before = manuscript(desk)
    node = row(part(desk, "qgd 3.Nc3"))
    status, told = send(desk, act="comment", node=node, words="It looks at d5.")
    assert (status, told["said"]) == (200, "comment after 1.d4 d5 2.c4 e6 3.Nc3")
    assert manuscript(desk) == before.replace(b"3. Nc3 $14 (", b"3. Nc3 $14 {It looks at d5.} (")
    text = part(desk, "qgd 3.Nc3")
    token = re.search(r'data-token="(\d+)" data-node="(\d+)"', text)
    assert token
    assert told["hash"] in text
    assert (
        send(desk, act="comment", node=int(token[2]), token=int(token[1]), words="It looks at e4.")[0] == 200
    )
    assert b"{It looks at e4.}" in manuscript(desk)
    assert send(desk, act="comment", node=int(token[2]), token=int(token[1]), words=" ")[0] == 200
    assert manuscript(desk) == before


def test_every_change_can_be_undone_and_made_again(desk: Desk) -> None:
    before = manuscript(desk)
    node = row(part(desk, "qgd 3.Nf3"))
    for wish in (
        {"act": "comment", "words": "a", "node": node},
        {"act": "comment", "words": "b", "node": node, "before": True},
        {"act": "sign", "new": ["!?"], "node": node},
        {"act": "promote", "node": node},
    ):
        status, told = send(desk, **wish)
        assert status == 200, told
    assert b"3. Nf3 $5 {a} {b} (3. Nc3 $14" in manuscript(desk)
    changed = manuscript(desk)
    assert "Undo" in part(desk, "qgd 3.Nf3")
    for _ in range(4):
        assert send(desk, act="undo")[0] == 200
    assert manuscript(desk) == before
    assert send(desk, act="undo")[0] == 422
    for _ in range(4):
        assert send(desk, act="redo")[0] == 200
    assert manuscript(desk) == changed


def test_a_sign_takes_the_place_of_its_rival_and_an_unknown_one_is_refused(desk: Desk) -> None:
    node = row(part(desk, "qgd 3.Nc3"))
    assert send(desk, act="sign", node=node, new=["$16"])[0] == 200
    assert b"3. Nc3 $16 (" in manuscript(desk)
    text = part(desk, "qgd 3.Nc3")
    assert re.search(r'data-sign="\$16" aria-pressed="true"', text)
    assert re.search(r'data-sign="\$14" aria-pressed="false"', text)
    assert send(desk, act="sign", node=node, gone=["$16"])[0] == 200
    assert b"3. Nc3 (" in manuscript(desk)
    status, told = send(desk, act="sign", node=node, new=["xyz"])
    assert status == 422
    assert "no sign" in told["fault"]


def test_a_line_is_added_as_a_variation_or_as_the_main_line(desk: Desk) -> None:
    assert "Add the line" in part(desk, "qgd 3.cxd5")
    status, told = send(desk, act="add", at="qgd 3.cxd5 exd5")
    assert (status, told["said"]) == (200, "add 3...exd5")
    assert b"(3. cxd5 exd5)" in manuscript(desk)
    assert row(part(desk, "qgd 3.cxd5 exd5")) == told["node"]
    assert "Add the line" not in part(desk, "qgd 3.cxd5 exd5")
    assert send(desk, act="undo")[0] == 200
    assert send(desk, act="add", at="qgd 3.cxd5 exd5", main=True)[0] == 200
    main = read_manuscript(manuscript(desk)).games[0].main_line
    assert [node.san_text for node in main] == ["d4", "d5", "c4", "e6", "cxd5", "exd5"]
    assert send(desk, act="add", at="start")[0] == 422


def test_an_order_that_meets_another_points_there(desk: Desk) -> None:
    status, told = send(desk, act="add", at="1.c4 e6 2.d4 d5")
    assert status == 200
    assert "treated elsewhere" in told["notes"][0]
    assert b"see 1.d4 d5 2.c4 e6" in manuscript(desk)


def test_several_places_of_one_position_are_told_and_each_can_be_written_at(desk: Desk) -> None:
    at = "qgd 3.Nc3 Nf6 4.Nf3"
    text = part(desk, at)
    assert "Under this order" in text
    assert "Also under" in text
    other = re.search(r'data-take="(\d+)"', text)
    assert other
    mark = content_hash(manuscript(desk))
    there = part(desk, at, node=other[1], hash=mark)
    assert row(there) == int(other[1])
    assert "Under another order" in there
    assert row(part(desk, at, node=other[1], hash="of another text")) == row(text)
    assert send(desk, act="comment", node=int(other[1]), words="by way of the king's knight")[0] == 200
    assert b"4. Nc3 {by way of the king's knight})" in manuscript(desk)


def test_private_words_are_told_as_such(desk: Desk) -> None:
    node = row(part(desk, "qgd 3.Nc3"))
    assert send(desk, act="comment", node=node, words="private: for the match")[0] == 200
    assert "private comment, not published" in part(desk, "qgd 3.Nc3")


def test_a_line_is_deleted_with_all_behind_it(desk: Desk) -> None:
    text = part(desk, "qgd 3.Nf3")
    assert "Delete the move and 2 behind it?" in text
    status, told = send(desk, act="delete", node=row(text))
    assert status == 200
    assert b"Nf3 Nf6 4. Nc3" not in manuscript(desk)
    assert told["node"] == row(part(desk, "qgd"))


def test_another_change_is_never_written_over_and_both_are_shown(desk: Desk) -> None:
    file = desk.edition / "manuscript.pgn"
    text = part(desk, "qgd 3.Nc3")
    mark, node = content_hash(file.read_bytes()), row(text)
    other = file.read_bytes().replace(b'[Event "e"]', b'[Event "another"]')
    file.write_bytes(other)
    status, told = send(desk, mark, act="comment", node=node, words="mine")
    assert status == 409
    assert file.read_bytes() == other
    kinds = [piece["kind"] for piece in told["pieces"]]
    assert "theirs" in kinds
    assert "mine" in kinds
    assert "clash" not in kinds
    assert "".join(piece["theirs"] for piece in told["pieces"]).encode() == other
    both = "".join(piece["theirs" if piece["kind"] == "theirs" else "mine"] for piece in told["pieces"])
    assert send(desk, told["hash"], act="text", words=both)[0] == 200
    assert b'[Event "another"]' in file.read_bytes()
    assert b"{mine}" in file.read_bytes()
    assert send(desk, act="undo")[0] == 200
    assert file.read_bytes() == other


def test_a_text_that_was_put_together_wrongly_says_where(desk: Desk) -> None:
    text = manuscript(desk).decode()
    status, told = send(desk, act="text", words=text.replace("4. Nf3 *", "4. Nf3 Qh1 *"))
    assert status == 200
    assert any("Qh1" in note and "line 6" in note for note in told["notes"])


def test_undoing_is_refused_where_the_page_is_older_than_the_file(desk: Desk) -> None:
    node = row(part(desk, "qgd 3.Nc3"))
    assert send(desk, act="comment", node=node, words="mine")[0] == 200
    mark = content_hash(manuscript(desk))
    assert send(desk, act="comment", node=node, words="from another tab")[0] == 200
    status, told = send(desk, mark, act="undo")
    assert status == 409
    assert told["pieces"] is None
    assert b"from another tab" in manuscript(desk)


def test_a_text_that_nobody_remembers_is_told_without_pieces(desk: Desk) -> None:
    status, told = send(desk, "0" * 64, act="comment", node=1, words="x")
    assert status == 409
    assert told["pieces"] is None


def test_an_edition_without_manuscript_is_begun_from_the_board(desk: Desk) -> None:
    (desk.edition / "manuscript.pgn").unlink()
    assert "does not have this position" in part(desk, "qgd")
    assert send(desk, "", act="add", at="qgd 3.Nc3")[0] == 200
    assert b"1.d4 d5 2.c4 e6 3.Nc3 *" in manuscript(desk)


def test_line_ends_encoding_and_width_of_a_comment_stay(desk: Desk) -> None:
    file = desk.edition / "manuscript.pgn"
    words = b"The first line of a comment goes to about here, where\r\nit breaks because the margin does."
    data = b'[Event "Z\xfcrich"]\r\n\r\n1. d4 { ' + words + b" } d5 *\r\n"
    file.write_bytes(data)
    text = part(desk, "1.d4")
    token = re.search(r'data-token="(\d+)"', text)
    assert token
    new = (
        "The first line of a comment goes to about here, where it breaks because the margin of the café does."
    )
    assert send(desk, act="comment", node=row(text), token=int(token[1]), words=new)[0] == 200
    changed = file.read_bytes()
    assert changed.startswith(b'[Event "Z\xfcrich"]\r\n\r\n1. d4 { The first')
    assert b"caf\xe9 does. } d5 *\r\n" in changed
    assert changed.count(b"\n") == changed.count(b"\r\n") == data.count(b"\n")


@pytest.mark.parametrize(
    "wish",
    [
        {"act": "comment", "node": 10**6, "words": "x"},
        {"act": "comment", "node": -1, "words": "x"},
        {"act": "comment", "words": "x"},
        {"act": "comment", "node": 1, "token": 0, "words": "x"},
        {"act": "comment", "node": 1, "words": "a } b"},
        {"act": "delete", "node": 0},
        {"act": "promote", "node": 1},
        {"act": "nothing"},
        {"act": "merge", "words": "no game"},
    ],
)
def test_what_makes_no_sense_is_refused_and_nothing_changes(desk: Desk, wish: dict[str, object]) -> None:
    before = manuscript(desk)
    status, told = send(desk, **wish)
    assert status == 422
    assert told["fault"]
    assert manuscript(desk) == before


def test_writing_asks_for_the_token(desk: Desk) -> None:
    answer = desk.client.post(f"/e/{desk.name}/words", json={"act": "undo", "hash": ""})
    assert answer.status_code == 403


WORDS = st.lists(st.sampled_from(["a", "b", "the", "knight", "\n\n"]), min_size=1, max_size=12)


@given(WORDS, WORDS, st.sampled_from([" ", "\n", "  "]))
def test_new_words_are_what_was_typed_however_the_old_ones_were_set(
    old: list[str], new: list[str], blank: str
) -> None:
    raw = blank + blank.join(old) + blank
    typed = " ".join(" ".join(new).split(" ")).strip()
    if not typed:
        return
    comment = read_manuscript(f"1. d4 {{{raw}}} *".encode()).games[0].comments[0]
    written = read_manuscript(f"1. d4 {{{_as_written(comment, typed)}}} *".encode()).games[0].comments[0]
    plain = read_manuscript(f"1. d4 {{{typed}}} *".encode()).games[0].comments[0]
    assert written.text == plain.text


def test_lines_of_a_comment_stay_where_words_do() -> None:
    raw = "The first line of these words\n  and the second one, with\nan end."
    comment = read_manuscript(f"1. d4 {{ {raw} }} *".encode()).games[0].comments[0]
    assert _as_written(comment, "The first line of these words and the other one, with an end.") == (
        " The first line of these words\n  and the other one, with\nan end. "
    )
    assert _as_written(comment, "Mine. " + comment.text) == f" Mine. {raw} "
    assert _as_written(comment, comment.text + " More.") == f" {raw} More. "
    assert _as_written(comment, comment.text.replace("second ", "")) == f" {raw.replace('second ', '')} "


def test_a_position_that_stands_a_thousand_times_is_told_of_as_often_as_it_is_shown(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A game of somebody else's may repeat itself for ever; each place of it costs the length of its line."""
    game = " ".join(["1. Nf3 Nf6 2. Ng1 Ng8"] * 1000)
    (desk.edition / "manuscript.pgn").write_text(f'[Event "x"]\n\n{game} *\n')
    made = []

    def counted(*told: Any) -> Passage:
        made.append(told)
        return passage_of(*told)

    monkeypatch.setattr("variorum.desk.pages.words.passage_of", counted)
    text = desk.page("words?at=start")
    assert text.count('class="elsewhere') == 6
    assert len(made) == 7
