"""Plans over 100,000 games through a position: budget 5 seconds on two cores.

Read from a store as `variorum plans` reads them: the hits looked up and verified, plans found and traced, positions of 5,000
games looked at, told with scores. Beside it, in the same run, `chess` from PyPI reading a sample.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from plans_by_chess import told_by_chess

from variorum.board import Position
from variorum.build.plans import LOOKS
from variorum.cli import main
from variorum.insight.plan_kinds import HORIZON
from variorum.insight.plans import gather, trace
from variorum.insight.plans_report import body_plans
from variorum.store import Filter, open_store

MAKE = Path(__file__).parent / "make_collection.py"
GAMES = 100_000
SAMPLE = 200


@pytest.mark.benchmark(group="plans")
def test_plans_of_100_000_games(benchmark: Any, tmp_path: Path) -> None:
    edition = tmp_path / "edition"
    assert main(["new", str(edition), "--title", "x", "--side", "white", "--root", "all: start"]) == 0
    out = edition / "sources" / "games.pgn"
    subprocess.run([sys.executable, MAKE, out, "--games", str(GAMES)], check=True)
    assert main(["sift", str(edition)]) == 0
    start = Position.start()
    with open_store(edition / ".variorum") as store:

        def read() -> Any:
            body = gather(start, "practice", lambda: store.games_through(start, Filter()))
            games = trace(body, body.rows, looks=LOOKS)
            return games, body_plans(games, 5, 5)[0]

        games, told = benchmark.pedantic(read, rounds=1)
        assert len(games) >= 0.95 * GAMES
        assert told.plans
        sample = store.games([int(number) for number in games.games[:SAMPLE]])
    lines = [game.line for game in sample]
    began = time.perf_counter()
    for number, line in enumerate(lines):
        by_chess = told_by_chess(start, line, HORIZON)
        assert all(games.first[plan][number] == by_chess.get(plan, 0) for plan in games.first)
    one = (time.perf_counter() - began) / len(lines)
    if benchmark.stats is not None:
        benchmark.extra_info["games"] = len(games)
        benchmark.extra_info["plans traced"] = len(games.first)
        benchmark.extra_info["times as fast as chess"] = round(one * len(games) / benchmark.stats.stats.min)
        if sys.platform != "win32":
            import resource

            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
            benchmark.extra_info["peak MB"] = peak // (1024 * 1024 if sys.platform == "darwin" else 1024)
        print(benchmark.extra_info, f"{benchmark.stats.stats.min:.1f} s")
