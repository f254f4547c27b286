from __future__ import annotations

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum.board import Line
from variorum.publish.notation import (
    ENGLISH_LETTERS,
    FIGURINE,
    NO_BREAK,
    notations,
    set_line,
    set_moves_in_text,
)
from variorum.publish.wording import wording_of


def shown(text: str) -> str:
    return text.replace(NO_BREAK, "~")


@pytest.mark.parametrize(
    ("language", "printed"),
    [
        ("en", "1~e4 e5 2~Nf3 Nc6 3~Bb5 Be7 4~O-O Kf8 5~Re1 Qe8"),
        ("de", "1~e4 e5 2~Sf3 Sc6 3~Lb5 Le7 4~O-O Kf8 5~Te1 De8"),
        ("es", "1~e4 e5 2~Cf3 Cc6 3~Ab5 Ae7 4~O-O Rf8 5~Te1 De8"),
        ("fr", "1~e4 e5 2~Cf3 Cc6 3~Fb5 Fe7 4~O-O Rf8 5~Te1 De8"),
    ],
)
def test_a_line_in_each_notation(language: str, printed: str) -> None:
    """The letters of each language are common practice, from memory."""
    line = Line.parse("e4 e5 Nf3 Nc6 Bb5 Be7 O-O Kf8 Re1 Qe8")
    local = wording_of(language).letters
    figurines = "1~e4 e5 2~♘f3 ♘c6 3~♗b5 ♗e7 4~O-O ♔f8 5~♖e1 ♕e8"
    english = "1~e4 e5 2~Nf3 Nc6 3~Bb5 Be7 4~O-O Kf8 5~Re1 Qe8"
    expected = {"figurine": (figurines, printed), "letters": (english, english), "local": (printed, printed)}
    for name, texts in expected.items():
        assert tuple(shown(set_line(line, notation)) for notation in notations(name, local)) == texts


def test_black_begins_with_an_ellipsis() -> None:
    start = Line.parse("1.e4 c6 2.d4 d5 3.exd5").end
    assert shown(set_line(Line.parse("3...cxd5 4.c4 Nf6", start=start))) == "3…cxd5 4~c4 ♘f6"


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("10...b6 11.d5", "10…b6 11~d5"),
        ("10. Re1 Nf6", "10~♖e1 ♘f6"),
        ("then ...Nf6; O-O-O+ and 5.e8=Q#", "then …♘f6; O-O-O+ and 5~e8=♕#"),
        ("Nbd7, R1e2, Qh4xe1, cxd5 and (Bd3)", "♘bd7, ♖1e2, ♕h4xe1, cxd5 and (♗d3)"),
        ("Nf3-e5-c4 and d4-d5", "♘f3–e5–c4 and d4–d5"),
        # what is no move stays
        ("d5 is a hole; 12.5 points on 1.11.2026", "d5 is a hole; 12.5 points on 1.11.2026"),
        ("K3, B2B, Ra4-paper, XNf3, O-Ox, x.e4x", "K3, B2B, Ra4-paper, XNf3, O-Ox, x.e4x"),
    ],
)
def test_moves_in_running_text(typed: str, printed: str) -> None:
    assert shown("".join(piece for piece, _ in set_moves_in_text(typed))) == printed


@given(st.text(alphabet="KQRBNabcdefgh12345678x=+#O-.… \u00a0", max_size=60))
def test_setting_moves_changes_letters_dots_and_spaces_only(text: str) -> None:
    pieces = list(set_moves_in_text(text, ENGLISH_LETTERS))
    joined = "".join(piece for piece, _ in pieces)

    def bare(words: str) -> str:
        return "".join(char for char in words.replace("–", "-") if char not in ".… \u00a0")

    assert bare(joined) == bare(text)
    assert all(piece for piece, _ in pieces)


@given(st.data())
def test_a_printed_line_reads_back_as_the_same_moves(data: st.DataObject) -> None:
    """`chess` plays random games; what is printed is read back by our lenient reader of moves."""
    board = chess.Board()
    for _ in range(data.draw(st.integers(1, 30))):
        moves = sorted(board.legal_moves, key=lambda move: move.uci())
        if not moves:
            break
        board.push(data.draw(st.sampled_from(moves)))
    san = chess.Board().variation_san(board.move_stack)
    line = Line.parse(san)
    printed = set_line(line, FIGURINE)
    assert Line.parse(printed.replace(NO_BREAK, ".")) == line
