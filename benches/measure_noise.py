"""Measures the noise of the resident by effort class: how far its verdict usually is from itself at 16 times the nodes.

Definition: methods.md 2. Positions are drawn with a seed from a collection, plies 12 to 60, quiet and noisy alike, mated
and stalemated ones left out. Prints the table that `src/variorum/voices/noise.py` holds.

    python benches/measure_noise.py COLLECTION.pgn [POSITIONS]        (half an hour; default 240 positions)
"""

from __future__ import annotations

import random
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from variorum.board import Position, Request
from variorum.edition import read_manuscript
from variorum.voices.resident import Resident

CLASSES = tuple(4**power for power in range(5, 11))
"""Effort classes: nodes in powers of 4, from 1,024 to 1,048,576."""


def positions(collection: Path, count: int) -> list[Position]:
    """A sample of different positions of a collection, the same each time."""
    draw = random.Random(1)
    games = read_manuscript(collection).games
    found: dict[int, Position] = {}
    while len(found) < count:
        nodes = draw.choice(games).main_line
        position = nodes[min(len(nodes) - 1, draw.randrange(12, 60))].position
        if position.outcome is None:
            found[position.key] = position
    return list(found.values())


def expected(position: Position) -> dict[int, float]:
    """E of a position at each class and at 16 times the largest."""
    voice = Resident()
    efforts = sorted({*CLASSES, *(16 * nodes for nodes in CLASSES)})
    asked = {
        nodes: voice.ask(Request(position=position, voice=voice.name, nodes=nodes)).lines[0].score.expected()
        for nodes in efforts
    }
    voice.close()
    return asked


def main() -> None:
    sample = positions(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 240)
    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(expected, sample))
    for nodes in CLASSES:
        squares = [(answer[nodes] - answer[16 * nodes]) ** 2 for answer in answers]
        print(f"{nodes}: {(sum(squares) / len(squares)) ** 0.5:.2f},  # {len(squares)} positions")


if __name__ == "__main__":
    main()
