"""The demonstration: from files of games to a map, to checked signs and to a published page.

Everything in it is invented: the games were made by the program itself (see make_games.py). Steps 1, 2, 4 and 5 are commands
an author would give, step 3 is a call of the Python API; the edition is worked on in a copy, demo/build/edition, which may be deleted.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from variorum.board import Position, Request
from variorum.claims.signs import claims_in, positions_to_ask
from variorum.cli import main as variorum
from variorum.cli.progress import progress_for
from variorum.edition import load_edition, read_manuscript, resolve_place
from variorum.edition.digest_reader import read_digest
from variorum.voices.resident import RESIDENT, Resident
from variorum.voices.verdict_files import append_verdicts, verdict_path
from variorum.voices.voice import Budget, ask_all

DEMO = Path(__file__).parent
EDITION = DEMO / "build" / "edition"
INVENTED = "All games of this edition are invented: the program played them against itself."
NODES, DEEP_NODES = 300_000, 3_000_000
"""Nodes for a verdict, and for one that a sign or sentence hangs on. Numbers, not times: the demonstration says the same everywhere."""


def main() -> int:
    """Run all steps; the exit code of the first that fails."""
    shutil.rmtree(EDITION, ignore_errors=True)
    shutil.copytree(DEMO / "edition", EDITION)
    print(f"{INVENTED}\n")
    for heading, arguments in (
        ("1. Games in, by any move order", ["sift", str(EDITION)]),
        ("2. What was met more than once counts once", ["doubles", str(EDITION)]),
    ):
        if code := _step(heading, arguments):
            return code
    print(f"\n3. The resident is asked: {DEEP_NODES:,} nodes where a sign hangs on it, {NODES:,} elsewhere\n")
    print(f"{ask_resident()} verdicts are in {EDITION.name}/verdicts/resident.epd")
    for heading, arguments in (
        ("4. The position where the Panov and the Semi-Tarrasch meet", ["position", str(EDITION), "iqp"]),
        ("5. The map", ["map", str(EDITION)]),
    ):
        if code := _step(heading, arguments):
            return code
    print("\n6. Which signs and sentences stand\n")
    sys.stdout.flush()
    if variorum(["check", str(EDITION)]) not in (0, 1):
        return 2
    if code := _step("7. Both texts with their evidence", ["publish", str(EDITION), "--caution", INVENTED]):
        return code
    print(
        f"\nOpen {EDITION / 'out' / 'digest.html'} in a browser; out/manuscript.pgn opens in any program for PGN."
    )
    print(
        f"The edition is in {EDITION}. Try there: variorum position bishop-c4, variorum rejects, variorum --help"
    )
    print(
        "Engine help during play breaks the FIDE Laws of Chess and event rules: this is for preparation and writing."
    )
    return 0


def ask_resident() -> int:
    """Verdicts on roots, names, what signs and sentences need, and leaves, kept as text; how many there are."""
    edition, _ = load_edition(EDITION)
    assert edition is not None
    manuscript = read_manuscript(EDITION / "manuscript.pgn")
    digest, _ = read_digest(EDITION / "digest.md")
    deep = list(positions_to_ask(claims_in(manuscript, edition)))
    deep += [
        resolve_place(edition, span.attributes["at"]).position
        for span in digest.spans()
        if span.attributes.get("kind") == "score"
    ]
    broad = [place.position for place in edition.places.values()]
    broad += [
        node.position
        for game in manuscript.games
        for node in game.nodes
        if not node.children and node.position.outcome is None
    ]
    nodes: dict[Position, int] = dict.fromkeys(deep, DEEP_NODES)
    for position in broad:
        nodes.setdefault(position, NODES)
    path = verdict_path(EDITION / "verdicts", RESIDENT)
    answers = ask_all(
        [
            Request(position=position, voice=RESIDENT, nodes=count, multipv=2)
            for position, count in nodes.items()
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
