"""Measures the noise of the resident by effort class: how far its verdict usually is from itself at 16 times the nodes.

Definition: methods.md 2. Positions are drawn with a seed from a collection, plies 12 to 60, quiet and noisy alike, mated
and stalemated ones left out; the dearest classes take the first few of them. Prints the two tables that
`src/variorum/voices/noise.py` holds: σ by class, each line when it is known, and then, all classes together, how
much more or less it is by how far the lesser verdict's E lies from 50.

    python benches/measure_noise.py COLLECTION.pgn        (some 600 million nodes: six minutes on two idle cores)
"""

from __future__ import annotations

import bisect
import random
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from variorum.board import Position, Request
from variorum.edition import read_manuscript
from variorum.voices.noise import LEANS
from variorum.voices.resident import RESIDENT, Resident
from variorum.voices.scale import expected_of

CLASSES = {1_024: 240, 4_096: 240, 16_384: 240, 65_536: 160, 262_144: 34, 1_048_576: 8}
"""Effort classes, nodes in powers of 4, and on how many positions each is measured."""


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


def expected(position: Position, nodes: int) -> float:
    """E of a position at so many nodes."""
    voice = Resident()
    verdict = voice.ask(Request(position=position, voice=RESIDENT, nodes=nodes))
    voice.close()
    return expected_of(verdict)


def main() -> None:
    sample = positions(Path(sys.argv[1]), max(CLASSES.values()))
    known: dict[tuple[Position, int], float] = {}
    shares: dict[int, list[float]] = {}
    with ThreadPoolExecutor(2) as pool:
        for nodes, count in CLASSES.items():
            wanted = [(one, effort) for one in sample[:count] for effort in (nodes, 16 * nodes)]
            fresh = [one for one in wanted if one not in known]
            known.update(zip(fresh, pool.map(lambda one: expected(*one), fresh), strict=True))
            squares = [(known[one, nodes] - known[one, 16 * nodes]) ** 2 for one in sample[:count]]
            print(f"{nodes}: {(sum(squares) / count) ** 0.5:.2f},  # {count} positions", flush=True)
            for one, square in zip(sample, squares, strict=False):
                lean = bisect.bisect_right(LEANS, abs(known[one, nodes] - 50.0)) - 1
                shares.setdefault(lean, []).append(square * count / sum(squares))
    for lean, found in sorted(shares.items()):
        print(f"{LEANS[lean]}: {(sum(found) / len(found)) ** 0.5:.2f},  # {len(found)} pairs of verdicts")


if __name__ == "__main__":
    main()
