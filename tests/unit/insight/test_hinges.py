"""A study of one move whose voice is invented, so that each rule can be seen at work."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from variorum.board import Line, MoveError, Position, Score, Verdict, VerdictLine
from variorum.insight.hinges import HingeStudy, Question

NODES = 262_144
PIN = Line.parse("1.d4 Nf6 2.Bg5 c6 3.e3").end
Says = Callable[[Position], int]
"""Centipawns for White, of a position."""


def answer(question: Question, played: Says, before: Says) -> Verdict:
    position = question.position
    cp = before(position) if question.multipv == 2 else played(position)
    moves = position.legal_moves()[: question.multipv]
    return Verdict(
        key=position.key,
        epd=position.epd,
        voice="owl",
        version="1",
        lines=tuple(VerdictLine((move.uci,), Score.of_cp(cp)) for move in moves),
        multipv=question.multipv,
        nodes=NODES,
        asked=NODES,
    )


def even(position: Position) -> int:
    del position
    return 0


def study(
    played: Says, before: Says = even, near: frozenset[tuple[str, str, str]] = frozenset()
) -> tuple[HingeStudy, dict[Question, Verdict]]:
    found = HingeStudy(PIN, PIN.parse("Qa5"), "owl", NODES, near)
    answers: dict[Question, Verdict] = {}
    for _ in range(20):
        wanted = found.wanted(answers)
        if not wanted:
            return found, answers
        assert not set(wanted) & answers.keys(), "nothing is asked twice"
        answers |= {one: answer(one, played, before) for one in wanted}
    raise AssertionError("it never ends")


def knight_at_home(position: Position) -> int:
    """Black wins 300 when the knight is on b1."""
    return -300 if position.pieces().get("b1") == "N" else 0


def test_what_the_move_needs_is_positive_and_placements_of_the_graph_come_first() -> None:
    found, answers = study(knight_at_home)
    report = found.report(answers)
    assert report.side == "black"
    assert {one.source for one in report.hinges} == {"b1"}
    assert {one.rank for one in report.hinges} == {1}, "equal strengths count once"
    assert all(one.strength == pytest.approx(report.value - 50.0) for one in report.hinges if report.value)
    assert [one.target for one in report.hinges] == ["a3", "c3", "d2"], "the smaller change, then by square"
    found, answers = study(knight_at_home, near=frozenset({("N", "b1", "d2")}))
    assert [one.target for one in found.report(answers).hinges] == ["d2", "a3", "c3"]


def test_what_stands_in_the_way_of_the_move_is_negative() -> None:
    found, answers = study(lambda position: 300 if position.pieces().get("c6") == "p" else 0)
    hinges = found.report(answers).hinges
    assert {one.source for one in hinges} == {"c6"}
    assert all(one.strength < 0 for one in hinges)
    assert "even worth 50.0" in hinges[0].sentence


def test_a_change_that_changes_the_best_other_move_is_refused() -> None:
    found, answers = study(
        knight_at_home, before=lambda position: 0 if position.pieces().get("a3") != "N" else 500
    )
    report = found.report(answers)
    assert [one.target for one in report.hinges] == ["c3", "d2"]
    assert report.shifted == 1


def test_differences_that_noise_explains_are_no_hinges() -> None:
    found, answers = study(lambda position: -20 if position.pieces().get("b1") == "N" else 0)
    report = found.report(answers)
    assert report.hinges == ()
    assert report.weak == len(found.changes)
    assert report.sentence.endswith("hinges on no single placement that was tried.")


def test_only_the_strongest_are_asked_without_the_move() -> None:
    found, answers = study(knight_at_home)
    before = [question.position for question in answers if question.multipv == 2]
    assert len(before) == 4, "the position itself, and the three placements of the knight"
    assert len(answers) == len(found.changes) + 1 + 4


def test_a_game_that_the_move_ends_is_not_asked() -> None:
    position = Line.parse("1.f3 e5 2.g4").end
    found = HingeStudy(position, position.parse("Qh4"), "owl", NODES)
    wanted = found.wanted({})
    assert all(one.position.outcome is None for one in wanted)
    assert position.play(position.parse("Qh4")) not in [one.position for one in wanted]
    answers = {one: answer(one, even, even) for one in wanted}
    assert found.report(answers).value == 100.0


def test_what_is_not_answered_is_counted() -> None:
    found = HingeStudy(PIN, PIN.parse("Qa5"), "owl", NODES)
    wanted = found.wanted({})
    answers = {one: answer(one, knight_at_home, even) for one in wanted[:-1]}
    silent = frozenset(wanted[-1:])
    for question in found.wanted(answers, silent):
        answers[question] = answer(question, knight_at_home, even)
    report = found.report(answers, unanswered=silent)
    assert (report.unanswered, report.open) == (1, 0)
    assert found.wanted(answers, silent) == []


def test_an_illegal_move_is_refused() -> None:
    with pytest.raises(MoveError):
        HingeStudy(PIN, Position.start().parse("e4"), "owl", NODES)
