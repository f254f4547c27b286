"""Tempo ledgers against `data/known_facts.md` and the examples that methods.md 5 says must come out.

All are common practice, no source. The positions of the file, and that they are the same but for the side to move, were
tested by a rules library when it was made; which unit lost the tempo is read from its sentences.
"""

from __future__ import annotations

import pytest
from known_facts import facts, named

from variorum.board import Line, Side
from variorum.insight.tempo import SideLedger, tempo_ledger
from variorum.insight.tempo_report import TempoReport, row_name, tempo_report

LOSER = {
    "Z1": (Side.BLACK, "c-pawn"),
    "Z2": (Side.BLACK, "c-pawn"),
    "Z3": (Side.WHITE, "f-pawn"),
    "Z4": (Side.BLACK, "d-pawn"),
    "Z5": (Side.WHITE, "light-squared bishop"),
    "Z6": (Side.WHITE, "e-pawn"),
    "Z7": (Side.WHITE, "light-squared bishop"),
    "Z8": (Side.BLACK, "e-pawn"),
    "Z9": (Side.BLACK, "dark-squared bishop"),
}


def lost_on(ledger: SideLedger) -> dict[str, int]:
    return {row_name(row): row.lost for row in ledger.rows if row.lost}


def compared(first: str, second: str) -> TempoReport:
    return tempo_report(Line.parse(first), Line.parse(second))


@named(facts("Z")[:9])
def test_tempo_fact(fact: list[str]) -> None:
    name, first, second = fact
    report = compared(first, second)
    assert report.comparison is not None
    assert report.comparison.ends == "units"
    assert report.here.to_move is not report.there.to_move
    side, unit = LOSER[name]
    own, other = report.comparison.white, report.comparison.black
    if side is Side.BLACK:
        own, other = other, own
    assert (own.lost, other.lost) == (1, 0)
    assert lost_on(tempo_ledger(Line.parse(first)).of(side)) == {unit: 1}
    assert lost_on(tempo_ledger(Line.parse(second)).of(side)) == {}


def test_losses_on_both_sides_cancel_out() -> None:
    """Z10, the lines of T2."""
    _, first, second, _ = facts("T")[1]
    report = compared(first, second)
    assert report.comparison is not None
    assert report.comparison.ends == "position"
    for ledger in (report.here.white, report.here.black):
        assert lost_on(ledger) == {"king's knight": 2, "d-pawn": 1}
    assert report.comparison.white.lost == report.comparison.black.lost == 3
    assert any("cancels out" in sentence for sentence in report.comparison.sentences)


def test_each_side_has_spent_a_tempo_more() -> None:
    """T21: Bf4–g5 and …e6–e5."""
    _, first, second, _ = facts("T")[20]
    report = compared(first, second)
    assert report.comparison is not None
    assert (report.comparison.white.spent, report.comparison.black.spent) == (1, 1)
    assert (report.comparison.white.lost, report.comparison.black.lost) == (1, 1)
    assert lost_on(report.here.white) == {"dark-squared bishop": 1}
    assert lost_on(report.here.black) == {"e-pawn": 1}


@named(facts("T"))
def test_orders_into_one_position_differ_only_by_what_was_taken_and_lost(fact: list[str]) -> None:
    """Who spends more moves to the same position has lost them, or had another unit taken."""
    _, first, second, _ = fact
    report = compared(first, second)
    assert report.comparison is not None
    assert report.comparison.ends == "position"
    here, there = Line.parse(first), Line.parse(second)
    for figures in (report.comparison.white, report.comparison.black):
        assert figures.spent == (len(here) - len(there)) // 2
        assert figures.spent == figures.standing + figures.gone + figures.lost


@pytest.mark.parametrize(
    ("moves", "white", "black"),
    [
        ("1.e4 c6 2.d4 d5 3.e5 c5", {}, {"c-pawn": 1}),
        ("1.d4 Nf6 2.f3 d5 3.f4", {"f-pawn": 1}, {}),
        ("1.d4 d6 2.Nf3 d5", {}, {"d-pawn": 1}),
        ("1.d4 d5 2.c4 e6 3.e3 Nf6 4.Bd3 dxc4 5.Bxc4", {"light-squared bishop": 1}, {}),
        ("1.d4 d5 2.c4 c5 3.e3 cxd4 4.exd4", {}, {}),
        ("1.d4 d5 2.c4 c5 3.e3 cxd4 4.exd4 Nf6 5.cxd5 Nxd5 6.Nc3 Nxc3 7.bxc3 e6 8.d5", {}, {}),
        ("1.e4 c6 2.d4 d5 3.exd5 cxd5", {}, {}),
        ("1.e4 d5 2.exd5 Qxd5 3.Nc3 Qd8", {}, {"queen": 2}),
    ],
)
def test_examples_of_the_methods(moves: str, white: dict[str, int], black: dict[str, int]) -> None:
    ledger = tempo_ledger(Line.parse(moves))
    assert (lost_on(ledger.white), lost_on(ledger.black)) == (white, black)


def test_the_queen_that_was_driven_home() -> None:
    ledger = tempo_ledger(Line.parse("1.e4 d5 2.exd5 Qxd5 3.Nc3 Qd8"))
    assert (ledger.black.standing, ledger.black.gone, ledger.black.lost) == (0, 1, 2)
    assert (ledger.white.standing, ledger.white.gone, ledger.white.lost) == (1, 2, 0)
    assert [(loss.ply, loss.provoked_by) for loss in ledger.black.losses] == [(6, "3.Nc3")]


def test_the_bishop_of_the_closed_spanish() -> None:
    line = Line.parse("1.e4 e5 2.Nf3 Nc6 3.Bb5 a6 4.Ba4 Nf6 5.O-O Be7 6.Re1 b5 7.Bb3")
    ledger = tempo_ledger(line)
    assert [(loss.move, loss.lost, loss.provoked_by) for loss in ledger.white.losses] == [
        ("7.Bb3", 1, "6...b5")
    ]
    assert ledger.black.lost == 0
