from __future__ import annotations

import io

import chess.pgn
from hypothesis import given, settings
from hypothesis import strategies as st

from variorum.board import Line, Position
from variorum.board.game_text import ROSTER, game_text

FEN = "r1bq1rk1/pp2bppp/2n1p3/3n4/3P4/2NB1N2/PP3PPP/R1BQR1K1 b - - 4 10"
# `chess` does not take the backslash out of a tag's value (standard 1994, section 7), so such values are left out.
texts = st.text(
    st.characters(exclude_categories=["C", "Z"], include_characters=" ", exclude_characters='"\\'),
    max_size=30,
)


@st.composite
def lines(draw: st.DrawFn) -> Line:
    start = draw(st.sampled_from([Position.start(), Position.from_fen(FEN)]))
    here, moves = start, []
    for _ in range(draw(st.integers(0, 40))):
        if here.outcome is not None:
            break
        moves.append(draw(st.sampled_from(here.legal_moves())))
        here = here.play(moves[-1])
    return Line(start, tuple(moves))


@given(lines(), st.dictionaries(st.integers(1, 40), texts.map(str.strip).filter(bool), max_size=5), texts)
@settings(max_examples=60, deadline=None)
def test_chess_reads_back_what_was_written(line: Line, comments: dict[int, str], white: str) -> None:
    """Second reader: PyPI `chess`."""
    text = game_text({"White": white, "Result": "1-0"}, line, comments)
    game = chess.pgn.read_game(io.StringIO(text))
    assert game is not None and not game.errors
    assert [move.uci() for move in game.mainline_moves()] == [move.uci for move in line.moves]
    assert game.headers["White"] == " ".join(white.split())
    assert game.headers["Result"] == "1-0"
    for ply, node in enumerate(game.mainline(), 1):
        expected = " ".join(comments.get(ply, "").split()).replace("}", "]")
        assert " ".join(node.comment.split()) == expected


def test_follows_the_export_format() -> None:
    """PGN standard 1994: roster order (8.1.1), lines under 80 columns (3.2.4), indications for Black (8.2.2.2)."""
    line = Line.parse("10...Nf6 11.a3 b6 12.Bc2", Position.from_fen(FEN))
    text = game_text({"Result": "*"}, line, {1: "the knight goes back"})
    rows = text.split("\n")
    assert [row[1:].split()[0] for row in rows[:7]] == list(ROSTER)
    assert rows[7:9] == ['[SetUp "1"]', f'[FEN "{FEN}"]']
    assert rows[9:] == ["", "10... Nf6 {the knight goes back} 11. a3 b6 12. Bc2 *", ""]
    assert all(len(row) < 80 for row in rows)
