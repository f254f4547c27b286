from __future__ import annotations

import pytest

from variorum.board import Epd, EpdError, FenError, Move, MoveError, Position, Side, score_of_ce

START = "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq -"


def test_every_standard_operation_is_read_and_written() -> None:
    """The opcodes of PGN standard 1994, 16.2.5, each with an operand of its kind, in ASCII order."""
    line = (
        f'{START} acn 1; acs 2; am a3 h3; bm d4 e4; c0 "a"; c1; c9 "b"; ce -12; dm 3; draw_accept; draw_claim; '
        'draw_offer; draw_reject; eco "B13"; fmvn 7; hmvc 4; id "one; two"; nic "x"; noop "any" "thing"; pm e4; '
        'pv e4 c6 d4; rc 1; resign; sm e4; tcgs 5; tcri "r" "R"; tcsi "s" "S"; v0 "v"; v9;'
    )
    epd = Epd.parse(line)
    assert str(epd) == line
    assert epd.number("ce") == -12 and epd.number("acn") == 1
    assert epd.moves("bm") == (Move("d2d4"), Move("e2e4"))
    assert epd.moves("pv") == (Move("e2e4"), Move("c7c6"), Move("d2d4"))
    assert epd.text("id") == "one; two"
    assert epd.operations["tcri"] == ("r", "R")
    assert epd.operations["resign"] == epd.operations["v9"] == ()
    assert (epd.position.fullmove, epd.position.halfmove_clock) == (7, 4)
    assert epd.text("missing") is None and epd.number("missing") is None and epd.moves("missing") == ()
    assert epd.text("ce") is None and epd.number("id") is None


@pytest.mark.parametrize(
    "untidy",
    [
        f'{START} - bm e4; id "x";',
        f'{START} 0 1 bm e4; id "x"',
        f'{START}  bm  e4 ;id "x" ; ;',
        f'{START} - id "x"; - bm e4;',
        f"{START} bm e2e4, ; id x;",
        f'{START} 0 1 ; bm e4; id "x";',
    ],
)
def test_untidy_records_are_read(untidy: str) -> None:
    assert str(Epd.parse(untidy)) == f'{START} bm e4; id "x";'


def test_counters_of_a_fen_count() -> None:
    epd = Epd.parse(f'{START} 3 9 id "x";')
    assert (epd.position.halfmove_clock, epd.position.fullmove) == (3, 9)
    assert Epd.parse(START).operations == {}


def test_private_operations_are_carried() -> None:
    line = f'{START} Xdepth 17; Xname two "three four";'
    assert Epd.parse(line).operations == {"Xdepth": ("17",), "Xname": ("two", "three four")}
    assert str(Epd.parse(line)) == line


@pytest.mark.parametrize(
    ("line", "error", "reason"),
    [
        ("", EpdError, "four fields"),
        ("8/8/8/8 w -", EpdError, "four fields"),
        ('8/8/8/8/8/8/8/8 w - - id "x";', FenError, "king is missing"),
        (f"{START} bm e5;", MoveError, "illegal"),
        (f"{START} pv e4 c6 e4;", MoveError, "ply 3"),
        (f'{START} id "open;', EpdError, "not closed"),
        (f"{START} ce 1 2;", EpdError, "one whole number"),
        (f"{START} ce x;", EpdError, "one whole number"),
        (f"{START} acn -1;", EpdError, "from 0"),
        (f"{START} fmvn 0;", EpdError, "from 1"),
        (f"{START} pm e4 d4;", EpdError, "one move"),
        (f'{START} id "a"; id "b";', EpdError, "twice"),
        (f"{START} 7up;", EpdError, "begins with a letter"),
    ],
)
def test_errors(line: str, error: type[Exception], reason: str) -> None:
    with pytest.raises(error, match=reason):
        Epd.parse(line)


def test_what_cannot_be_written() -> None:
    for operations in ({"id": ('a "quoted" word',)}, {"c0": ("two\nlines",)}, {"no good": ()}, {"9x": ()}):
        with pytest.raises(EpdError):
            str(Epd(Position.start(), operations))


def test_no_evaluation() -> None:
    for ce in (-32767, 32767, 40000):
        with pytest.raises(EpdError):
            score_of_ce(ce, Side.WHITE)
