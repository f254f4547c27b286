"""The demonstration: from files of games to a map of where three openings run into each other.

Everything in it is invented: the games were made by the program itself (see make_games.py). Steps 1, 2, 4 and 5 are commands
an author would give, step 3 is a call of the Python API; the edition is worked on in a copy, demo/build/edition, which may be deleted.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from variorum.board import Position, Request
from variorum.cli import main as variorum
from variorum.cli.progress import progress_for
from variorum.edition import load_edition, read_manuscript
from variorum.voices.resident import RESIDENT, Resident
from variorum.voices.verdict_files import append_verdicts, verdict_path
from variorum.voices.voice import Budget, ask_all

DEMO = Path(__file__).parent
EDITION = DEMO / "build" / "edition"
NODES = 100_000
"""Nodes for each verdict: a number, not a time, so that the demonstration says the same everywhere."""


def main() -> int:
    """Run all steps; the exit code of the first that fails."""
    shutil.rmtree(EDITION, ignore_errors=True)
    shutil.copytree(DEMO / "edition", EDITION)
    print("All games of this demonstration are invented: the program played them against itself.\n")
    for heading, arguments in (
        ("1. Games in, by any move order", ["sift", str(EDITION)]),
        ("2. What was met more than once counts once", ["doubles", str(EDITION)]),
    ):
        if code := _step(heading, arguments):
            return code
    print(f"\n3. The resident is asked, {NODES:,} nodes a position\n")
    print(f"{ask_resident()} verdicts are in {EDITION.name}/verdicts/resident.epd")
    for heading, arguments in (
        ("4. The position where the Panov and the Semi-Tarrasch meet", ["position", str(EDITION), "iqp"]),
        ("5. The map", ["map", str(EDITION)]),
    ):
        if code := _step(heading, arguments):
            return code
    print(
        f"\nThe edition is in {EDITION}. Try there: variorum position bishop-c4, variorum rejects, variorum --help"
    )
    print(
        "Engine help during play breaks the FIDE Laws of Chess and event rules: this is for preparation and writing."
    )
    return 0


def ask_resident() -> int:
    """Verdicts on roots, names and the leaves of the manuscript, kept as text in the edition; how many there are."""
    edition, _ = load_edition(EDITION)
    assert edition is not None
    positions: dict[int, Position] = {place.position.key: place.position for place in edition.places.values()}
    for game in read_manuscript(EDITION / "manuscript.pgn").games:
        for node in game.nodes:
            if not node.children and node.position.outcome is None:
                positions.setdefault(node.key, node.position)
    path = verdict_path(EDITION / "verdicts", RESIDENT)
    answers = ask_all(
        [
            Request(position=position, voice=RESIDENT, nodes=NODES, multipv=2)
            for position in positions.values()
        ],
        Resident,
        workers=2,
        budget=Budget(),
        keep=lambda verdict: append_verdicts(path, [verdict]),
        progress=progress_for(as_json=False),
    )
    return sum(answer.verdict is not None for answer in answers)


def _step(heading: str, arguments: list[str]) -> int:
    print(f"\n{heading}\n")
    sys.stdout.flush()
    return variorum(arguments)


if __name__ == "__main__":
    sys.exit(main())
