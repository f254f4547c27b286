"""Near positions of a graph of 200,000: budget 20 seconds on two cores and 2 GB.

Beside it, in the same run, what the neighbours of one position take: the ratio would be the number of positions if every
pair were looked at.
"""

from __future__ import annotations

import random
import sys
import time
from typing import Any

import pytest

from variorum.board import Position
from variorum.graph import Graph, TextLine, grow_graph, lay_traffic
from variorum.insight.near import find_near

NODES = 200_000
PLIES = 36
SAMPLE = 4


def graph_of(nodes: int) -> Graph:
    """Lines in which few moves are frequent, so that many meet, until there are so many positions."""
    chance = random.Random(11)
    start = Position.start()
    taste = {}
    lines, met = [], set()
    while len(met) < nodes:
        position, moves = start, []
        for _ in range(PLIES):
            legal = sorted(
                position.legal_moves(), key=lambda move: taste.setdefault(move.uci, chance.random())
            )
            if not legal:
                break
            moves.append(legal[min(int(chance.expovariate(1.2)), len(legal) - 1)])
            position = position.play(moves[-1])
            met.add(position.key)
        lines.append(TextLine(start, start.pack(moves)))
    return grow_graph([start], texts=lines)


@pytest.mark.benchmark(group="near")
def test_near_positions_of_200_000(benchmark: Any) -> None:
    graph = graph_of(NODES)
    traffic = lay_traffic(graph)

    worked = 0.0

    def search() -> Any:
        nonlocal worked
        began = time.process_time()
        found = find_near(graph, traffic, {}, limit=100)
        worked = time.process_time() - began
        return found

    found = benchmark.pedantic(search, rounds=1)
    began = time.perf_counter()
    for node in range(0, SAMPLE * (graph.nodes // SAMPLE), graph.nodes // SAMPLE):
        find_near(graph, traffic, {}, node=node, limit=10)
    one = (time.perf_counter() - began) / SAMPLE
    assert found.near > 0
    if benchmark.stats is not None:
        benchmark.extra_info["nodes"] = graph.nodes
        benchmark.extra_info["near pairs"] = found.near
        benchmark.extra_info["twins"] = found.twins
        benchmark.extra_info["seconds of both cores' work"] = round(worked, 1)
        benchmark.extra_info["ratio to one position"] = round(benchmark.stats.stats.min / one, 1)
        if sys.platform != "win32":
            import resource

            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
            benchmark.extra_info["peak MB"] = peak // (1024 * 1024 if sys.platform == "darwin" else 1024)
        print(benchmark.extra_info, f"{benchmark.stats.stats.min:.1f} s")
