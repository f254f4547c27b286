"""The demonstration: from files of games to a map, to checked signs and to a published page.

Everything in it is invented: the games were made by the program itself (see make_games.py). Every step is a command that an
author would give; the edition is worked on in a copy, demo/build/edition, which may be deleted, and so may demo/build/later.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from make_games import SEED, practice

from variorum.cli import main as variorum

DEMO = Path(__file__).parent
EDITION = DEMO / "build" / "edition"
LATER = DEMO / "build" / "later"
"""The same edition after more games have come in."""
INVENTED = "All games of this edition are invented: the program played them against itself."
ELSEWHERE = "1.d4 Nf6 2.c4 e6 3.Nc3 Bb4 4.e3 c5 5.Bd3 d5 6.Nf3 O-O 7.O-O cxd4 8.exd4 dxc4 9.Bxc4 b6"
NEW_GAMES = 60
NODES = 200_000_000
"""What the build may spend. A number, not a time: the demonstration says the same everywhere."""


def main() -> int:
    """Run all steps; the exit code of the first that fails."""
    shutil.rmtree(EDITION, ignore_errors=True)
    shutil.copytree(DEMO / "edition", EDITION)
    edition = str(EDITION)
    build = ["build", edition, "--total-nodes", str(NODES), "--caution", INVENTED]
    print(INVENTED)
    for heading, arguments in (
        (
            "1. What would be asked first: roots, tabiyas, then what signs and sentences hang on",
            ["build", edition, "--dry-run", "--total-nodes", "1500000"],
        ),
        ("2. Everything derived brought up to date (this takes a minute or two)", build),
        ("3. What was met more than once counts once", ["doubles", edition]),
        ("4. The position where the Panov and the Semi-Tarrasch meet", ["position", edition, "iqp"]),
        ("5. By which orders they come there", ["orders", edition, "iqp", "--limit", "3"]),
        ("6. The map", ["map", edition]),
        ("7. Built again: nothing changed, so nothing is done; this is what the edition comes to", build),
        (
            "8. What the short text should contain, and a draft of it from the evidence alone",
            ["digest", "suggest", edition, "--lines", "4", "--diagrams", "2"],
        ),
    ):
        if code := step(heading, arguments):
            return code
    more_games()
    later = str(LATER)
    for heading, arguments in (
        (
            "9. Later: games came in (in a copy of the edition), and it is built again",
            ["build", later, "--total-nodes", "1", "--caution", INVENTED],
        ),
        ("10. What no longer stands, or stands again, since the build before", ["drift", later]),
    ):
        if code := step(heading, arguments):
            return code
    print("\n11. What was published\n")
    for path in sorted((EDITION / "out").iterdir()):
        print(f"{path.stat().st_size / 1024:8.0f} kB  {path}")
    print(
        "\nOpen digest.html in a browser and the PDFs in any reader; manuscript.pgn opens in any program for PGN."
    )
    print(
        f"Now look at it in the browser: .venv/bin/variorum desk {EDITION.relative_to(DEMO.parent)}\n"
        "or in the terminal, from that folder: variorum check, variorum position bishop-c4, variorum --help"
    )
    print(
        "Engine help during play breaks the FIDE Laws of Chess and event rules: this is for preparation and writing."
    )
    return 0


def step(heading: str, arguments: list[str]) -> int:
    """One command under its heading; gives its exit code."""
    print(f"\n{heading}\n")
    sys.stdout.flush()
    return variorum(arguments)


def more_games() -> None:
    """A copy of the edition, with games in which Black goes on as the digest says that most do."""
    shutil.rmtree(LATER, ignore_errors=True)
    shutil.copytree(EDITION, LATER)
    games = practice(SEED + 1, NEW_GAMES, {ELSEWHERE: 1})
    (LATER / "sources" / "later-invented.pgn").write_text(games, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    sys.exit(main())
