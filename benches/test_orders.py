"""The audit of some hundred thousand orders into one position, by position and not by path.

Beside it, in the same run, what it takes to walk every order and note its greatest take.
"""

from __future__ import annotations

import random
import time
from typing import Any

import pytest

from variorum.board import Line, Position, Score, Side, Verdict, VerdictLine
from variorum.edition import Place
from variorum.graph import TextLine, grow_graph, lay_traffic
from variorum.insight.order_telling import orders_report
from variorum.insight.orders import Audit, AuditGround, audit, audit_ground
from variorum.insight.orders_report import OrdersReport

MOVES = (("a3", "b3", "c3", "f3", "g3", "h3"), ("a6", "b6", "c6", "f6", "g6", "h6"))
"""Six moves of each side in any order: 6! times 6! orders into one position."""
LINES = 6_000
VOICE = "invented"


def ground() -> tuple[AuditGround, int]:
    """Lines of these moves in orders drawn by chance, each with a move that leaves them, and a verdict everywhere."""
    chance = random.Random(3)
    start = Position.start()
    lines, met = [], {}
    for number in range(LINES):
        sides = [chance.sample(one, len(one)) for one in MOVES]
        leaves_at = chance.randrange(12) if number % 2 else None
        position, moves = start, []
        for ply in range(12):
            if ply == leaves_at:
                moves.append(chance.choice(position.legal_moves()))
                met[position.play(moves[-1])] = None
                break
            moves.append(position.parse(sides[ply % 2][ply // 2]))
            position = position.play(moves[-1])
            met[position] = None
        lines.append(TextLine(start, start.pack(moves)))
    graph = grow_graph([start], texts=lines)
    verdicts = [
        Verdict(
            key=position.key,
            epd=position.epd,
            voice=VOICE,
            version="1",
            lines=(VerdictLine((position.legal_moves()[0].uci,), Score.of_cp(chance.randrange(-80, 81))),),
            nodes=100_000,
        )
        for position in met
    ]
    node = graph.node_of(Line.parse(" ".join(f"{w} {b}" for w, b in zip(*MOVES, strict=True))).end)
    assert node is not None
    root = Place(text="start", position=start, line=Line(start), name="start")
    return audit_ground(lay_traffic(graph), verdicts, roots=[root], names={}, sigla={VOICE: "A"}), node


def walked(found: Audit) -> tuple[int, float, float]:
    """How many orders there are, the least of their greatest takes, and the greatest: path by path."""
    passage, risks = found.passage, found.sides[0].risks[VOICE]
    takes, targets = risks.high.tolist(), passage.targets.tolist()
    moves = [passage.moves_of(station) for station in range(passage.size)]
    count, least, most = 0, float("inf"), 0.0
    open_ = [(root, takes[root]) for root in passage.roots]
    while open_:
        station, worst = open_.pop()
        if station == passage.target:
            count, least, most = count + 1, min(least, worst), max(most, worst)
        open_.extend((targets[move], max(worst, takes[targets[move]])) for move in moves[station])
    return count, least, most


@pytest.mark.benchmark(group="orders")
def test_audit_of_many_thousand_orders(benchmark: Any) -> None:
    known, node = ground()

    def audited() -> tuple[Audit, OrdersReport]:
        made = audit(known, node, [Side.WHITE])
        return made, orders_report("Many orders", made)

    made, report = benchmark.pedantic(audited, rounds=3, warmup_rounds=1)
    began = time.perf_counter()
    count, least, most = walked(made)
    plain = time.perf_counter() - began
    assert report.order_count == count
    risks = made.sides[0].risks[VOICE]
    assert risks.least_high <= least <= most <= risks.high.max()
    if benchmark.stats is not None:
        benchmark.extra_info["orders"] = count
        benchmark.extra_info["positions on them"] = made.passage.size
        benchmark.extra_info["deviations"] = len(made.sides[0].deviations)
        benchmark.extra_info["walking every order takes times as long"] = round(
            plain / benchmark.stats.stats.min, 1
        )
        print(benchmark.extra_info, f"{benchmark.stats.stats.min:.2f} s")
