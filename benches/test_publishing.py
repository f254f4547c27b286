"""An edition of 5,000 moves and 800 variations built, checked and published: budget 30 seconds on two cores, verdicts aside.

A build checks and publishes by itself; `check` and `publish` are given once more behind it, as an author does while he writes.
Processor time of each is told, and beside it, in the same run, what `chess` from PyPI takes to read the manuscript.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import chess.pgn
import pytest

from variorum.cli import main

MAKE = Path(__file__).parent / "make_manuscript.py"
MOVES, VARIATIONS = 5_000, 800


def timed(work: Callable[[], Any]) -> float:
    """Processor seconds of a piece of work, all threads together."""
    began = time.process_time()
    work()
    return time.process_time() - began


@pytest.mark.benchmark(group="publishing")
def test_build_check_and_publish_a_large_manuscript(benchmark: Any, tmp_path: Path) -> None:
    edition = tmp_path / "edition"
    size = ["--moves", str(MOVES), "--variations", str(VARIATIONS)]
    told = subprocess.run([sys.executable, MAKE, edition, *size], check=True, capture_output=True).stdout
    made = json.loads(told)
    assert (made["moves"], made["variations"]) == (MOVES, VARIATIONS)
    spent: dict[str, float] = {}

    def work() -> None:
        for command in ("build", "check", "publish"):
            spent[command] = timed(lambda command=command: main([command, str(edition)]))

    benchmark.pedantic(work, rounds=1)
    written = {path.name for path in (edition / "out").iterdir()}
    assert {"digest.html", "digest.pdf", "manuscript.pdf", "manuscript.pgn", "verdicts.epd"} <= written
    with (edition / "manuscript.pgn").open(encoding="utf-8") as text:
        reading = timed(lambda: sum(1 for _ in iter(lambda: chess.pgn.read_game(text), None)))
    benchmark.extra_info.update({f"processor s, {name}": round(took, 1) for name, took in spent.items()})
    benchmark.extra_info["times as long as chess reads it"] = round(sum(spent.values()) / reading)
    print(benchmark.extra_info)
