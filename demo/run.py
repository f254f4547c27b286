"""The demonstration: from files of games to a map, to checked signs and to a published page.

Everything in it is invented: the games were made by the program itself (see make_games.py). Every step is a command that an
author would give; the edition is worked on in a copy, demo/build/edition, which may be deleted.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from variorum.cli import main as variorum

DEMO = Path(__file__).parent
EDITION = DEMO / "build" / "edition"
INVENTED = "All games of this edition are invented: the program played them against itself."
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
    ):
        print(f"\n{heading}\n")
        sys.stdout.flush()
        if code := variorum(arguments):
            return code
    print("\n8. What was published\n")
    for path in sorted((EDITION / "out").iterdir()):
        print(f"{path.stat().st_size / 1024:8.0f} kB  {path}")
    print(
        "\nOpen digest.html in a browser and the PDFs in any reader; manuscript.pgn opens in any program for PGN."
    )
    print(
        f"The edition is in {EDITION}. Try there: variorum check, variorum position bishop-c4, variorum --help"
    )
    print(
        "Engine help during play breaks the FIDE Laws of Chess and event rules: this is for preparation and writing."
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
