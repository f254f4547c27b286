from __future__ import annotations

import io

import chess
import chess.pgn
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_manuscripts import games

from variorum.base import InputError, UsageError
from variorum.board import Line
from variorum.edition.manuscript import Manuscript, Node, read_manuscript
from variorum.edition.manuscript_edits import (
    Edit,
    add_comment,
    add_line,
    apply_edits,
    remove_comment,
    set_comment,
    set_nags,
)

TEXT = "1. e4! e5 (1... c6 {solid} 2. d4) 2. Nf3 Nc6 {then} *\r\n"


def node(manuscript: Manuscript, san: str) -> Node:
    return next(one for game in manuscript.games for one in game.nodes if one.san_text == san)


def changed(text: str, edits: list[Edit]) -> str:
    return apply_edits(text.encode(), edits).decode()


@pytest.mark.parametrize(
    ("san", "comment", "expected"),
    [
        ("Nc6", "x", "Nc6 {then} {x} *"),
        ("e4", "a\nb", "1. e4! {a\r\nb} 1... e5"),  # the file's line ends; Black's move gets its number
        ("d4", "x", "2. d4 {x})"),
        ("e5", "x", "e5 {x} (1... c6"),
    ],
)
def test_adding_a_comment(san: str, comment: str, expected: str) -> None:
    manuscript = read_manuscript(TEXT.encode())
    text = changed(TEXT, add_comment(node(manuscript, san), comment))
    assert expected in text
    after = node(read_manuscript(text.encode()), san)
    assert after.comments[-1].text == " ".join(comment.split())


def test_a_comment_before_the_first_move() -> None:
    root = read_manuscript(TEXT.encode()).games[0].root
    assert changed(TEXT, add_comment(root, "intro")) == "{intro} " + TEXT


def test_changing_and_removing_comments() -> None:
    manuscript = read_manuscript(TEXT.encode())
    (solid,) = node(manuscript, "c6").comments
    assert changed(TEXT, set_comment(solid, "firm")) == TEXT.replace("solid", "firm")
    assert changed(TEXT, remove_comment(solid)) == TEXT.replace(" {solid}", "")
    line = read_manuscript(b"1. e4{x}e5 ; old\n*")
    assert apply_edits(line.data, remove_comment(line.games[0].comments[0])) == b"1. e4 e5 ; old\n*"
    assert apply_edits(line.data, set_comment(line.games[0].comments[1], "new")) == b"1. e4{x}e5 ; new\n*"
    assert apply_edits(line.data, set_comment(line.games[0].comments[1], "a\nb")) == b"1. e4{x}e5 {a\nb}\n*"
    with pytest.raises(UsageError, match="closing brace"):
        set_comment(solid, "}")


def test_encoding_of_the_file() -> None:
    manuscript = read_manuscript("1. e4 {é} *".encode("cp1252"))
    assert apply_edits(manuscript.data, add_comment(node(manuscript, "e4"), "ü")) == "1. e4 {é} {ü} *".encode(
        "cp1252"
    )
    with pytest.raises(InputError, match="CP1252"):
        add_comment(node(manuscript, "e4"), "⩲")


@pytest.mark.parametrize(
    ("nags", "expected"),
    [([], "1. e4 e5"), ([1, 14], "1. e4! $14 e5"), ([2], "1. e4 $2 e5"), ([1], "1. e4! e5")],
)
def test_setting_signs(nags: list[int], expected: str) -> None:
    manuscript = read_manuscript(TEXT.encode())
    text = changed(TEXT, set_nags(node(manuscript, "e4"), nags))
    assert text == TEXT.replace("1. e4! e5", expected)
    assert list(node(read_manuscript(text.encode()), "e4").nags) == nags


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("1.e4 e5 2.Nf3", TEXT),
        ("1.e4 e5 2.Nf3 Nc6 3.Bb5 a6", TEXT.replace("{then}", "{then} 3. Bb5 a6")),
        ("1.e4 c6 2.d4 d5", TEXT.replace("2. d4)", "2. d4 d5)")),
        ("1.e4 c5 2.Nf3", TEXT.replace("2. d4)", "2. d4) (1... c5 2. Nf3)")),
        ("1.d4 d5", TEXT.replace("1. e4! e5", "1. e4! (1. d4 d5) 1... e5")),
    ],
)
def test_adding_a_line(line: str, expected: str) -> None:
    root = read_manuscript(TEXT.encode()).games[0].root
    text = changed(TEXT, add_line(root, Line.parse(line).moves))
    assert text == expected
    after = read_manuscript(text.encode())
    assert Line.parse(line).end in [one.position for one in after.games[0].nodes]
    assert [fault.code for fault in after.diagnostics] == ["missing-tags"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1. e4 e5 ; main\n*", "1. e4 e5 ; main\n2. Nf3\n*"),
        ("1. e4 e5{x}1/2-1/2", "1. e4 e5{x} 2. Nf3 1/2-1/2"),
        ("1. e4 e5 {x} $1 *", "1. e4 e5 {x} $1 2. Nf3 *"),
    ],
)
def test_a_line_goes_on_behind_what_is_said_of_its_end(text: str, expected: str) -> None:
    manuscript = read_manuscript(text.encode())
    assert changed(text, add_line(manuscript.games[0].root, Line.parse("1.e4 e5 2.Nf3").moves)) == expected


def test_signs_and_their_neighbours_stay_apart() -> None:
    manuscript = read_manuscript(b"1. e4 $1e5!2. Nf3 *")
    assert apply_edits(manuscript.data, set_nags(node(manuscript, "e4"), [])) == b"1. e4 e5!2. Nf3 *"
    assert (
        apply_edits(manuscript.data, set_nags(node(manuscript, "e5"), [1, 14])) == b"1. e4 $1e5! $14 2. Nf3 *"
    )


def test_edits_that_overlap_are_refused() -> None:
    with pytest.raises(UsageError, match="overlap"):
        apply_edits(b"abcdef", [Edit((0, 3), b""), Edit((2, 4), b"")])
    with pytest.raises(UsageError):
        apply_edits(b"abc", [Edit((2, 9), b"")])


UGLY = (
    *[
        "{",
        "}",
        "(",
        ")",
        "[",
        "]",
        "<",
        ">",
        ";",
        "%",
        "$",
        "$1",
        "!",
        "!?",
        '"',
        "\\",
        "1.",
        "e4",
        "e5",
        "Nf3",
        "O-O",
        "--",
        "*",
        "1-0",
        "1/2",
        "é",
        "+-",
        "c1(N)",
    ],
    *("\n", "\r", "\r\n", "\0", "\ufeff", " ", '\n[Event "x"]\n', '\n\n[Event "y"]\n[Site "z"]\n'),
)
ugly = st.lists(st.one_of(st.sampled_from(UGLY).map(str.encode), st.binary(max_size=3)), max_size=50).map(
    b"".join
)


@settings(max_examples=300, deadline=None)
@given(ugly)
def test_parse_then_write_gives_the_same_bytes(data: bytes) -> None:
    """The law of the reader: tokens and the gaps between them are the file; only gaps may be without meaning."""
    try:
        manuscript = read_manuscript(data)
    except InputError as error:
        assert "no text" in error.message or "UTF-16" in error.message
        return
    assert b"".join(manuscript.pieces()) == data
    for number, piece in enumerate(manuscript.pieces()):
        visible = piece.translate(None, bytes(range(33)) + b"\xef\xbb\xbf\xc2\xa0")
        assert number % 2 == 1 or not visible
    assert all(fault.line is not None and fault.column is not None for fault in manuscript.diagnostics)


def shape(game_node: chess.pgn.GameNode) -> list[object]:
    return [
        (child.move.uci(), sorted(child.nags), child.comment.strip(), shape(child))
        for child in game_node.variations
    ]


def own_shape(one: Node) -> list[object]:
    return [
        (
            child.move.uci if child.move else "",
            sorted(set(child.nags)),
            " ".join(comment.text for comment in child.comments),
            own_shape(child),
        )
        for child in one.children
    ]


@settings(max_examples=80, deadline=None)
@given(games())
def test_well_formed_trees_are_read_as_the_reference_library_reads_them(text: str) -> None:
    """Independent reader: PyPI `chess`, `chess.pgn`; it keeps moves, variations, NAGs and brace comments."""
    reference = chess.pgn.read_game(io.StringIO(text))
    assert reference is not None
    manuscript = read_manuscript(text.encode())
    assert manuscript.diagnostics == ()
    assert own_shape(manuscript.games[0].root) == shape(reference)
