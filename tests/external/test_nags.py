"""The NAG table against `data/nag.csv`, made from section 10 of the PGN standard (1994)."""

from __future__ import annotations

import csv
from pathlib import Path

import chess.pgn

from variorum.board import NAGS, SIGNS

DATA = Path(__file__).parent / "data"


def test_table() -> None:
    with (DATA / "nag.csv").open(encoding="utf-8", newline="") as file:
        rows = [tuple(row.values()) for row in csv.DictReader(file)]
    assert len(rows) == 140
    assert [(str(nag), nag.glyph, nag.ascii, nag.meaning, nag.scope.value) for nag in NAGS] == rows
    assert [nag.number for nag in NAGS] == list(range(140))


def test_signs_are_those_of_the_table() -> None:
    for sign in SIGNS:
        nag = NAGS[sign.nag]
        assert (sign.glyph, sign.ascii) == (nag.glyph, nag.ascii)
        assert sign.side is None or nag.meaning.startswith(sign.side.value.capitalize())


def test_numbers_agree_with_the_library() -> None:
    """`chess.pgn` names some of them: a second reading of the standard."""
    assert NAGS[chess.pgn.NAG_DUBIOUS_MOVE].glyph == "?!"
    assert NAGS[chess.pgn.NAG_FORCED_MOVE].meaning.startswith("forced move")
    assert NAGS[chess.pgn.NAG_UNCLEAR_POSITION].glyph == "∞"
    assert NAGS[chess.pgn.NAG_BLACK_SLIGHT_ADVANTAGE].glyph == "⩱"
    assert NAGS[chess.pgn.NAG_WHITE_DECISIVE_ADVANTAGE].glyph == "+−"
    assert NAGS[chess.pgn.NAG_BLACK_ZUGZWANG].meaning == "Black is in zugzwang"
    assert NAGS[chess.pgn.NAG_WHITE_MODERATE_COUNTERPLAY].meaning == "White has moderate counterplay"
    assert NAGS[chess.pgn.NAG_BLACK_SEVERE_TIME_PRESSURE].meaning == "Black is in severe time trouble"
