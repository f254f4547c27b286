from __future__ import annotations

from pathlib import Path

import pytest

from variorum import _core
from variorum.base import InputError, Severity
from variorum.base.codes import CODES
from variorum.edition.files import content_hash
from variorum.edition.manuscript import Manuscript, Node, read_manuscript
from variorum.edition.manuscript_faults import MESSAGES

TAGS = '[Event "A"]\n[Result "*"]\n\n'


def read(text: str) -> Manuscript:
    return read_manuscript(text.encode())


def node(manuscript: Manuscript, san: str) -> Node:
    return next(one for game in manuscript.games for one in game.nodes if one.san_text == san)


FAULTS = {
    "illegal-move": (TAGS + "1. e5 *", "'e5' is not legal"),
    "ambiguous-move": (TAGS + "1. Nf3 a6 2. Nd4 a5 3. Nc3 a4 4. Nb5 Ra5 5. Nc4 *", None),
    "unreadable-move": (TAGS + "1. Sf3 *", "'Sf3' cannot be read"),
    "stray-text": (TAGS + "1. e4 a good move! *", "'a good move'"),
    "unclosed-comment": (TAGS + "1. e4 {what now", "9 bytes"),
    "unclosed-variation": (TAGS + "1. e4 (1. d4 (1. c4", "closed: 2,"),
    "unopened-variation": (TAGS + "1. e4) *", "never opened"),
    "variation-without-move": (TAGS + "(1. d4) 1. e4 *", "no move before"),
    "unclosed-tag": ('[Event "A]\n\n*', "not closed"),
    "malformed-tag": ("[Event]\n" + TAGS + "*", "'[Event]'"),
    "bad-start": (TAGS[:-1] + '[SetUp "1"]\n[FEN "8/8 w - -"]\n\n1. e4 *', "eight ranks"),
    "unknown-variant": (TAGS[:-1] + '[Variant "Loser\'s"]\n\n1. e4 *', "variant"),
    "fen-without-setup": (TAGS[:-1] + '[FEN "4k3/8/8/8/8/8/8/4K3 w - - 0 1"]\n\n*', "without SetUp"),
    "setup-without-fen": (TAGS[:-1] + '[SetUp "1"]\n\n*', "FEN is missing"),
    "duplicate-tag": (TAGS[:-1] + '[Event "B"]\n\n*', "twice"),
    "unescaped-quote": ('[Event "a "b" c"]\n\n*', "escaped"),
    "missing-tags": ("1. e4 *", "no tags"),
    "missing-termination": (TAGS + "1. e4", "no termination"),
    "non-standard-termination": (TAGS + "1. e4 1/2", "'1/2'"),
    "result-mismatch": (TAGS + "1. e4 1-0", "ends with 1-0"),
    "result-inside-variation": (TAGS + "1. e4 (1. d4 1-0) *", "'1-0'"),
    "text-after-result": (TAGS + "1. e4 * {end}", "behind"),
    "wrong-move-number": (TAGS + "1. e4 e5 3. Nf3 *", "'3.' stands where move 2"),
    "nag-out-of-range": (TAGS + "1. e4 $256 *", "$256"),
    "empty-variation": (TAGS + "1. e4 ({nothing}) *", "no move"),
    "reserved-token": (TAGS + "1. e4 <x y> *", "'<x y>'"),
    "nul-bytes": (TAGS + "1. e4 \0\0 *", "bytes: 2,"),
}


@pytest.mark.parametrize("code", FAULTS)
def test_each_fault(code: str) -> None:
    text, says = FAULTS[code]
    if code == "ambiguous-move":
        text, says = TAGS + "1. d4 d5 2. Nf3 Nf6 3. Nd2 *", "'Nd2' may mean Nbd2, Nfd2"
    manuscript = read(text)
    fault = next(one for one in manuscript.diagnostics if one.code == code)
    assert says is not None
    assert says in fault.message
    assert fault.line is not None
    leaves_out = dict(_core.manuscript_faults())[code]
    assert fault.severity is (Severity.ERROR if leaves_out else Severity.WARNING)
    assert b"".join(manuscript.pieces()) == text.encode()


def test_listed_documented_and_tested_codes_are_the_same() -> None:
    core = {code for code, _ in _core.manuscript_faults()}
    listed = set(CODES["`manuscript.pgn`"])
    page = Path(__file__).parents[3] / "docs" / "reference" / "diagnostics.md"
    documented = {code for code in core if f"| `{code}` |" in page.read_text(encoding="utf-8")}
    assert core == listed == documented == set(MESSAGES) == set(FAULTS)


def test_the_tree() -> None:
    manuscript = read(
        TAGS
        + "{before} 1. e4! {one} {two} e5 (1... c6 {solid} 2. d4 $14) ({or} 1... c5 ; sharp\n) 2. Nf3 * {end}\n"
    )
    game = manuscript.games[0]
    e4, c5 = node(manuscript, "e4"), node(manuscript, "c5")
    assert [one.san_text for one in e4.children] == ["e5", "c6", "c5"]
    assert e4.next == node(manuscript, "e5") != c5
    assert (e4.nags, [one.typed for one in e4.signs]) == ((1,), [True])
    assert [one.text for one in e4.comments] == ["one", "two"]
    assert [one.text for one in game.root.comments] == ["before"]
    assert [one.text for one in c5.opening_comments] == ["or"]
    assert [(one.text, one.to_line_end) for one in c5.comments] == [("sharp", True)]
    assert [one.text for one in game.trailing_comments] == ["end"]
    assert (c5.parent, c5.ply, c5.place) == (e4, 2, (4, 1 + manuscript.data.splitlines()[3].index(b"c5")))
    assert c5.variation is not None
    start, end = c5.variation.span
    assert manuscript.data[start:end] == b"({or} 1... c5 ; sharp\n)"
    assert c5.position.fen == "rnbqkbnr/pp1ppppp/8/2p5/4P3/8/PPPP1PPP/RNBQKBNR w KQkq - 0 2"
    assert c5.key == c5.position.key
    assert c5.move is not None
    assert c5.move.uci == "c7c5"
    assert manuscript.content_hash == content_hash(manuscript.data)
    assert game.result == "*"
    with pytest.raises(InputError):
        read('[FEN "x"]\n\n1. e4 *').games[0].root.position  # noqa: B018


def test_comments_that_belong_to_no_move_are_found() -> None:
    manuscript = read("{preamble}\n" + TAGS + "1. e4 Ke4 {unread} (1... e5 {read}) 2. d4 ({lost}) *")
    assert [one.text for one in manuscript.preamble] == ["preamble"]
    comments = manuscript.games[0].comments
    assert [(one.text, one.node is not None) for one in comments] == [
        ("unread", False),
        ("read", True),
        ("lost", False),
    ]


def test_comment_text_keeps_paragraphs_and_no_line_ends() -> None:
    manuscript = read_manuscript(b"1. e4 {a\r\n b\r\n\r\n\r\nc  d } *")
    assert manuscript.games[0].comments[0].text == "a b\n\nc d"
    assert manuscript.games[0].comments[0].raw == "a\r\n b\r\n\r\n\r\nc  d "


@pytest.mark.parametrize(
    ("data", "encoding", "text"),
    [
        ("1. e4 {Größe} *".encode(), "utf-8", "Größe"),
        ("1. e4 {Größe “x”} *".encode("cp1252"), "cp1252", "Größe “x”"),
        (b"1. e4 {a\x81b} *", "cp1252", "a\x81b"),  # a byte without a meaning in CP1252
        ("1. e4 {Größe} *\n".encode() + b"1. d4 {na\xefve} *", "cp1252", "Größe"),  # files put together
    ],
)
def test_encodings_are_read_and_bytes_untouched(data: bytes, encoding: str, text: str) -> None:
    manuscript = read_manuscript(data)
    assert manuscript.text.encoding == encoding
    assert manuscript.games[0].comments[0].text == text
    assert b"".join(manuscript.pieces()) == data


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (bytes(range(256)) * 40, "no text"),
        (b"\x1f\x8b\x08" + bytes(range(0, 256, 5)) * 40, "no text"),
        ('[Event "x"]\n\n1. e4 *'.encode("utf-16"), "UTF-16"),
    ],
)
def test_what_is_no_text_is_refused(data: bytes, says: str, tmp_path: Path) -> None:
    path = tmp_path / "file.pgn"
    path.write_bytes(data)
    with pytest.raises(InputError, match=says) as caught:
        read_manuscript(path)
    assert caught.value.path == path
    assert caught.value.remedy


def test_missing_files_folders_and_empty_files(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_manuscript(tmp_path / "none.pgn")
    with pytest.raises(InputError, match="folder"):
        read_manuscript(tmp_path)
    assert read_manuscript(b"").games == ()
    assert read_manuscript(b"").diagnostics == ()


def test_places_count_characters_and_no_byte_order_mark() -> None:
    manuscript = read_manuscript("\ufeff{é}e9 *\r{ü} e9".encode())
    assert [(one.line, one.column) for one in manuscript.diagnostics if one.code == "illegal-move"] == []
    assert [(one.line, one.column) for one in manuscript.diagnostics][:1] == [(1, 4)]


@pytest.mark.parametrize(
    "text",
    [
        "1. e4 {" + "x" * 5_000_000 + "} e5 *",
        "1. e4 " + "{x" * 200_000,
        "1. e4 " + "[Event " * 200_000,
        "1. e4 " + '[A "' * 200_000,
        "1. e4 " + "<" * 200_000,
        "1. e4 " + "{" * 200_000 + "}",
        "1. e4 " + "; {[ " * 200_000,
        '\n[Event "x"]\n{' * 50_000,
        '[A "b"]\n' * 100_000,
        "(" * 300_000,
        "1. e4 " + "(1. d4 " * 10_000 + "x " * 200_000,
        "x9 " * 300_000,
    ],
    ids=lambda text: text[:20],
)
def test_no_text_takes_quadratic_time(text: str) -> None:
    """Each of these would take minutes or more if its reading were quadratic; the test's own time limit would end it."""
    data = text.encode()
    manuscript = read_manuscript(data)
    assert manuscript.diagnostics
    assert b"".join(manuscript.pieces()) == data


def test_ten_thousand_variations_in_each_other() -> None:
    text = TAGS + "1. e4 e5 2. Bc4 " + "(2. Nf3 (2. Nc3 " * 5_000 + ")" * 10_000 + " *\n"
    manuscript = read(text)
    assert manuscript.diagnostics == ()
    game = manuscript.games[0]
    assert game.variations[-1].depth == 10_000
    assert game.nodes[-1].position.ply == 3
