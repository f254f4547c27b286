"""Makes a large PGN collection of invented games, clean or dirty, the same for the same seed.

    python benches/make_collection.py OUT.pgn --games 100000 --seed 1 --dirt 20

The work is done in Rust (`crates/resident/examples/make_collection`, whose head describes the options); this script
builds and runs it, so cargo must be there. `OUT.json` says what was put in; `make_collection` gives it as a dictionary.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
COMMAND = ["cargo", "run", "--quiet", "--release", "--locked", "--package", "variorum-resident"]


def make_collection(out: Path, *, games: int, seed: int = 1, dirt_per_mille: int = 0) -> dict[str, Any]:
    """Write `out` and say what is in it: games, bytes, plies, and the number of games with each kind of dirt."""
    options = ["--games", str(games), "--seed", str(seed), "--dirt", str(dirt_per_mille)]
    _run([str(out.resolve()), *options])
    summary: dict[str, Any] = json.loads(out.with_suffix(".json").read_text(encoding="utf-8"))
    return summary


def _run(arguments: list[str]) -> None:
    subprocess.run([*COMMAND, "--example", "make_collection", "--", *arguments], cwd=ROOT, check=True)


if __name__ == "__main__":
    out, *options = sys.argv[1:] or sys.exit(__doc__)
    try:
        _run([str(Path(out).resolve()), *options])
    except subprocess.CalledProcessError as error:
        sys.exit(error.returncode)
