"""Selection against trying everything, and reach against counting games."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest

from variorum.board import Line, Position
from variorum.choice import selection
from variorum.choice.reach import beginnings, reach_of
from variorum.choice.selection import greatest_reach
from variorum.graph import Channel, GameBatch, Traffic, grow_graph, lay_traffic

START = Position.start()


def traffic_of(games: list[Line]) -> Traffic:
    packed = [game.packed() for game in games]
    batch = GameBatch(
        Channel("practice"),
        np.cumsum([0, *map(len, packed)]).astype(np.uint64),
        np.concatenate(packed).astype(np.uint16),
        np.zeros(len(games), np.uint16),
        np.ones(len(games), np.uint8),
    )
    return lay_traffic(grow_graph([START], games=lambda: [batch], game_count=len(games)))


def random_lines(seed: int, count: int = 60, plies: int = 6) -> list[Line]:
    """Games of few different moves, so that many meet by another order."""
    chance = random.Random(seed)
    pool = ("d2d4", "c2c4", "g1f3", "d7d5", "e7e6", "g8f6", "b1c3", "c7c5")
    games = []
    for _ in range(count):
        line = Line(START)
        for _ in range(plies):
            legal = [move for move in line.end.legal_moves() if move.uci in pool]
            if not legal:
                break
            line = line.play(chance.choice(legal))
        games.append(line)
    return games


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("count", [1, 2, 3])
def test_no_choice_reaches_more(seed: int, count: int) -> None:
    traffic = traffic_of(random_lines(seed))
    inner = np.flatnonzero((traffic.nodes > 0.02) & ~beginnings(traffic))
    candidates = random.Random(seed).sample(inner.tolist(), 9)
    found = greatest_reach(traffic, candidates, count)
    best = max(reach_of(traffic, chosen) for chosen in itertools.combinations(candidates, count))
    assert found.reach == pytest.approx(best, abs=1e-6)
    assert found.gap < 1e-5
    assert found.reach == pytest.approx(sum(found.adds))
    assert found.reach == pytest.approx(reach_of(traffic, found.nodes))


@pytest.mark.parametrize("seed", range(4))
def test_without_the_program_the_bound_holds(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(selection, "MOST_EDGES", 0)
    traffic = traffic_of(random_lines(seed))
    candidates = np.flatnonzero((traffic.nodes > 0.02) & ~beginnings(traffic)).tolist()[:12]
    found = greatest_reach(traffic, candidates, 3)
    best = max(reach_of(traffic, chosen) for chosen in itertools.combinations(candidates, 3))
    assert found.reach <= best + 1e-9 <= found.bound + 2e-9
    assert found.reach >= 0.63 * best  # 1 − 1/e: Nemhauser, Wolsey and Fisher, 1978


def test_what_must_be_in_is_in() -> None:
    traffic = traffic_of(random_lines(1))
    nodes = np.argsort(traffic.nodes)[::-1].tolist()
    poor = nodes[-1]
    found = greatest_reach(traffic, nodes[1:20], 2, [poor])
    assert found.nodes[0] == poor and len(found.nodes) == 2
    assert len(greatest_reach(traffic, nodes[1:20], 1, nodes[5:8]).nodes) == 3, "more than there is room for"


def test_reach_counts_a_game_once() -> None:
    texts = ("1.d4 d5 2.c4 e6", "1.c4 e6 2.d4 d5", "1.d4 Nf6 2.c4 e6", "1.Nf3 d5")
    traffic = traffic_of([Line.parse(text) for text in texts])

    def node(line: str) -> int:
        found = traffic.graph.node_of(Line.parse(line).end)
        assert found is not None
        return found

    meeting, first = node("1.d4 d5 2.c4 e6"), node("1.d4")
    assert reach_of(traffic, [meeting]) == pytest.approx(0.5)
    assert reach_of(traffic, [first, meeting]) == pytest.approx(0.75)
    assert reach_of(traffic, []) == 0.0
    start = traffic.graph.node_of(START)
    assert beginnings(traffic)[start] and not beginnings(traffic)[first]
