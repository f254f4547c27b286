"""The order in which a skeleton grows, on voices whose opinions are given."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest

from variorum.board import Line, Position, Score, Side, Verdict, VerdictLine
from variorum.scout.frontier import BEYOND, Frontier, Width

START = Line.parse("1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4").end
Opinion = Callable[[Position], dict[str, int]]


def verdict_of(position: Position, opinion: Opinion) -> Verdict:
    """A verdict by an opinion: centipawns for White by SAN of the first move."""
    said = opinion(position)
    best_first = sorted(said.items(), key=lambda item: -item[1] if position.turn is Side.WHITE else item[1])
    lines = tuple(VerdictLine((position.parse(san).uci,), Score.of_cp(cp)) for san, cp in best_first)
    return Verdict(
        key=position.key, epd=position.epd, voice="v", version="1", lines=lines, nodes=1000, depth=8
    )


def grow(opinion: Opinion, width: Width, most: int = 200, count: int = 1) -> tuple[list[Position], Frontier]:
    frontier, asked = Frontier(START, width), list[Position]()
    while len(asked) < most and (positions := frontier.next(count)):
        asked += positions
        for position in positions:
            frontier.learn(verdict_of(position, opinion))
    return asked, frontier


def first_two(position: Position) -> dict[str, int]:
    """The first two moves by name; the second is 20 centipawns worse for the mover."""
    one, two = sorted(position.san(move) for move in position.legal_moves())[:2]
    return {one: 30, two: 10} if position.turn is Side.WHITE else {one: 30, two: 50}


def test_the_main_line_comes_first() -> None:
    asked, _ = grow(first_two, Width(margin=0.5, plies=6))
    assert asked[0] == START
    for before, after in itertools.pairwise(asked):
        best = sorted(before.san(move) for move in before.legal_moves())[0]
        assert after == before.play(before.parse(best))
    assert 7 <= len(asked) <= 7 + BEYOND


def test_then_what_concedes_least() -> None:
    asked, frontier = grow(first_two, Width(margin=5, plies=3), most=20)
    assert len(set(asked)) == len(asked), "each position is asked once"
    skeleton = frontier.skeleton()
    conceded = [line.conceded for line in skeleton.lines]
    assert conceded == sorted(conceded)
    assert conceded[0] == 0
    assert skeleton.positions == len(asked)


def test_a_refuted_main_line_is_left() -> None:
    """4...Nf6 looks best until it is looked at; then another move's leaf is wanted."""

    def opinion(position: Position) -> dict[str, int]:
        if position == START:
            return {"Nf6": 20, "e6": 30, "Nc6": 35}
        if position == START.play(START.parse("Nf6")):
            return {"Nc3": 300}
        return first_two(position)

    frontier = Frontier(START, Width(margin=5, plies=4))
    for expected in (START, START.play(START.parse("Nf6")), START.play(START.parse("e6"))):
        (position,) = frontier.next(1)
        assert position == expected
        frontier.learn(verdict_of(position, opinion))


def test_transpositions_are_shared() -> None:
    def opinion(position: Position) -> dict[str, int]:
        moves = {position.san(move) for move in position.legal_moves()}
        wanted = {"Nf6", "e6", "Nc3", "Nf3"} & moves
        return dict.fromkeys(sorted(wanted) or sorted(moves)[:1], 25)

    asked, _ = grow(opinion, Width(margin=5, plies=4), most=60)
    by_two_orders = Line.parse("4...Nf6 5.Nc3 e6 6.Nf3", START).end
    assert by_two_orders == Line.parse("4...e6 5.Nf3 Nf6 6.Nc3", START).end
    assert asked.count(by_two_orders) == 1


def test_what_is_known_is_not_asked() -> None:
    asked, _ = grow(first_two, Width(margin=5, plies=2))
    known = [verdict_of(position, first_two) for position in asked]
    frontier = Frontier(START, Width(margin=5, plies=2), known)
    assert frontier.next(5) == ()
    assert frontier.skeleton().positions == len(asked)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_it_ends_and_the_ends_are_quiet(count: int) -> None:
    asked, frontier = grow(first_two, Width(margin=5, plies=3), count=count)
    assert 3 < len(asked) < 200
    assert frontier.next(1) == ()
    assert frontier.skeleton().waiting == 0


def test_a_finished_game_is_no_question() -> None:
    mate_next = Line.parse("1.f3 e5 2.g4").end
    frontier = Frontier(mate_next, Width())
    assert frontier.next(1) == (mate_next,)
    line = VerdictLine(("d8h4",), Score.of_mate(-1))
    frontier.learn(
        Verdict(
            key=mate_next.key, epd=mate_next.epd, voice="v", version="1", lines=(line,), nodes=10, depth=1
        )
    )
    assert frontier.next(1) == ()
    assert frontier.skeleton().expected == 0


def test_moves_of_a_line_are_legal() -> None:
    _, frontier = grow(first_two, Width(margin=5, plies=3))
    for line in frontier.skeleton().lines:
        assert Line.parse(line.line, START).moves
