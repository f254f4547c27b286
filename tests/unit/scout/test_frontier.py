"""The order in which a skeleton grows, on voices whose opinions are given."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest

from variorum.board import Line, Position, Score, Side, Verdict, VerdictLine
from variorum.graph.grow import grow_graph
from variorum.graph.values import back_up_values
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
    conceded = [branch.conceded for branch in skeleton.branches]
    assert conceded == sorted(conceded)
    assert conceded[0] >= 0
    assert skeleton.positions == len(asked)


def test_branches_of_the_main_line() -> None:
    """4...Nf6 5.Nc3 is best; 4...e6 gives away 0.2 pawns, 5.Nf3 0.1: E of 30, 50 and 20 centipawns at the slope of 249."""

    def opinion(position: Position) -> dict[str, int]:
        if position == START:
            return {"Nf6": 30, "e6": 50}
        if position == START.play(START.parse("Nf6")):
            return {"Nc3": 30, "Nf3": 20}
        return {position.san(position.legal_moves()[0]): 50 if position == after_e6 else 30}

    after_e6 = START.play(START.parse("e6"))
    after_nf3 = Line.parse("4...Nf6 5.Nf3", START).end
    known = [START, START.play(START.parse("Nf6")), after_e6]
    frontier = Frontier(START, Width(margin=5, plies=2), [verdict_of(one, opinion) for one in known])
    assert after_nf3 in frontier.next(9)
    below = verdict_of(after_nf3, lambda _: {"e6": 20})
    frontier.learn(below)
    skeleton = frontier.skeleton()
    assert Line(START, skeleton.moves[:2]).san() == "4...Nf6 5.Nc3"
    assert skeleton.expected == pytest.approx(100 / (1 + 10 ** (-30 / 249)))
    nf3, e6 = skeleton.branches
    assert (nf3.at, nf3.moves[0].uci, e6.at, e6.moves[0].uci) == (1, "g1f3", 0, "e7e6")
    assert e6.conceded == pytest.approx(100 / (1 + 10 ** (-50 / 249)) - skeleton.expected)
    assert nf3.conceded == pytest.approx(skeleton.expected - 100 / (1 + 10 ** (-20 / 249)))
    assert frontier.skeleton(most=1).hidden == 1


def test_a_branch_that_comes_back_is_not_told_twice() -> None:
    """4...e6 5.Nf3 Nf6 6.Nc3 comes to the position after 4...Nf6 5.Nc3 e6 6.Nf3."""
    values = {
        "": {"Nf6": 30, "e6": 40},
        "Nf6": {"Nc3": 30},
        "Nf6 5.Nc3": {"e6": 30},
        "Nf6 5.Nc3 e6": {"Nf3": 30},
    }
    values |= {"e6": {"Nf3": 40}, "e6 5.Nf3": {"Nf6": 40}, "e6 5.Nf3 Nf6": {"Nc3": 40}}
    values |= {"Nf6 5.Nc3 e6 6.Nf3": {"Be7": 35}, "Nf6 5.Nc3 e6 6.Nf3 Be7": {"cxd5": 35}}
    known = []
    for moves, said in values.items():
        position = Line.parse(f"4...{moves}", START).end if moves else START
        known.append(verdict_of(position, lambda _, said=said: said))  # type: ignore[misc]
    skeleton = Frontier(START, Width(margin=5, plies=8), known).skeleton()
    assert Line(START, skeleton.moves).san() == "4...Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5"
    (branch,) = skeleton.branches
    assert Line(START, branch.moves).san() == "4...e6 5.Nf3 Nf6 6.Nc3"
    assert (branch.joins, branch.branches, branch.conceded) == (True, (), 0)


def test_the_order_of_answers_does_not_matter() -> None:
    def questions(turned: bool) -> list[tuple[Position, ...]]:
        frontier, rounds = Frontier(START, Width(margin=5, plies=4)), list[tuple[Position, ...]]()
        while positions := frontier.next(3):
            rounds.append(positions)
            for position in reversed(positions) if turned else positions:
                frontier.learn(verdict_of(position, first_two))
                assert set(frontier.next(3)) <= set(positions) or frontier.next(3) not in rounds
        return rounds

    assert questions(turned=False) == questions(turned=True)


def test_a_stopped_run_goes_on_where_it_was() -> None:
    whole, _ = grow(first_two, Width(margin=5, plies=4), count=4)
    for answered in (1, 5, 6, 11):
        known = [verdict_of(position, first_two) for position in whole[:answered]]
        frontier, asked = Frontier(START, Width(margin=5, plies=4), known), list[Position]()
        while positions := frontier.next(4):
            asked += positions
            for position in positions:
                frontier.learn(verdict_of(position, first_two))
        assert asked == whole[answered:]


def test_what_has_no_answer_is_left() -> None:
    frontier = Frontier(START, Width(margin=5, plies=4))
    (position,) = frontier.next(1)
    frontier.give_up(position)
    assert frontier.next(1) == ()
    assert frontier.skeleton().expected is None


def test_values_are_those_of_the_graph() -> None:
    """The frontier's own columns give what the graph of the edition gives (methods.md 3)."""
    asked, frontier = grow(first_two, Width(margin=5, plies=6), most=120, count=4)
    verdicts = [verdict_of(position, first_two) for position in asked]
    graph = grow_graph([START], verdicts=asked)
    (values,) = back_up_values(graph, verdicts).values()
    node = graph.node_of(START)
    assert node is not None
    skeleton = frontier.skeleton(most=100)
    assert skeleton.expected == pytest.approx(values.scores[node])
    for branch in skeleton.branches:
        position = Line(START, (*skeleton.moves[: branch.at], branch.moves[0])).end
        node = graph.node_of(position)
        assert node is not None
        assert branch.expected == pytest.approx(values.scores[node])


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
    skeleton = frontier.skeleton()
    main = Line(START, skeleton.moves).positions()
    for branch in skeleton.branches:
        whole = Line(main[branch.at], branch.moves).positions()
        for inner in branch.branches:
            assert Line(whole[inner.at + 1], inner.moves).positions()
