"""Transpositions, look-alikes, an underpromotion and mates of `data/known_facts.md` (its head says how they were made)."""

from __future__ import annotations

import re

import pytest
from known_facts import TEXT, facts, named

from variorum.board import Line, MoveError, Position


def test_all_facts_are_found() -> None:
    assert [len(facts(letter)) for letter in "TNUM"] == [25, 4, 1, 3]


@named(facts("T"))
def test_transposition(fact: list[str]) -> None:
    _, first, second, epd = fact
    one, other = Line.parse(first).end, Line.parse(second).end
    assert one == other == Position.from_fen(epd)
    assert one.key == other.key == Position.from_fen(epd).key
    assert one.epd == other.epd == epd
    assert hash(one) == hash(other)


@named(facts("T"))
def test_lines_are_written_as_they_were_typed(fact: list[str]) -> None:
    for typed in fact[1:3]:
        assert Line.parse(typed).san() == typed


@named(facts("N")[:3])
def test_look_alike(fact: list[str]) -> None:
    _, first, second, epd, other_epd = fact[:5]
    one, other = Line.parse(first).end, Line.parse(second).end
    assert (one.epd, other.epd) == (epd, other_epd)
    assert one.pieces() == other.pieces()
    assert one.turn is other.turn
    assert one != other
    assert one.key != other.key


def test_double_step_that_nothing_can_take() -> None:
    """N4: FIDE Laws of Chess, article 9.2; PGN standard 1994, 16.1.3.4 writes the square all the same."""
    after = Line.parse("1.e4").end
    with_square = Position.from_fen("rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq e3 0 1")
    assert after == with_square
    assert after.key == with_square.key
    assert with_square.epd.endswith(" -")


def test_underpromotion() -> None:
    epd, moves = re.search(r"^- \*\*U1\*\*.*?`([^`]*)`, after ([^)]*)\)", TEXT, re.MULTILINE).groups()
    position = Line.parse(moves).end
    assert position.epd == epd
    assert position.san(position.parse("fxg1=N")) == "fxg1=N+"
    queen = position.parse("fxg1=Q")
    assert position.san(queen) == "fxg1=Q"
    assert position.play(queen).san(position.play(queen).parse("Qxd8+")) == "Qxd8+"
    with pytest.raises(MoveError, match="ambiguous"):
        position.parse("fxg1")


@named(facts("M"))
def test_mate(fact: list[str]) -> None:
    _, moves, fen = fact
    line = Line.parse(moves)
    assert line.end.fen == fen
    assert line.end.is_check
    assert line.end.legal_moves() == ()
    assert line.end.outcome == ("0-1" if len(line) % 2 == 0 else "1-0")
    assert line.san() == moves
