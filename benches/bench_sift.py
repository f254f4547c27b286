"""A whole sift with the start position as root, against `chess.pgn` on a part of the same file, in one run.

    python benches/make_collection.py COLLECTION.pgn --games 105000 --seed 2 --dirt 5
    python benches/bench_sift.py COLLECTION.pgn

Prints the time of sifting (scan, games, sorted runs), of everything with merge and doubles, both as ratios to `chess.pgn`
at the rate it reads the first megabytes, the time of plain reading, and the peak memory of this process.
"""

from __future__ import annotations

import io
import logging
import sys
import tempfile
import time
from pathlib import Path

import chess.pgn

from variorum.base import Silent
from variorum.edition import new_edition
from variorum.sources import SiftOptions
from variorum.sources.sift import sift_files
from variorum.store import Mode, open_store

SAMPLE_BYTES = 3_000_000
START = "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1"


def rate_of_chess(path: Path) -> float:
    """Bytes a second of `chess.pgn`."""
    logging.disable(logging.CRITICAL)
    with path.open("rb") as file:
        text = file.read(SAMPLE_BYTES).decode("utf-8", "replace")
    started, stream = time.perf_counter(), io.StringIO(text)
    while chess.pgn.read_game(stream) is not None:
        pass
    return len(text) / (time.perf_counter() - started)


def main() -> None:
    path = Path(sys.argv[1])
    size = path.stat().st_size
    reference = size / rate_of_chess(path)
    started = time.perf_counter()
    with path.open("rb") as file:
        while file.read(1 << 20):
            pass
    reading = time.perf_counter() - started
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder) / "all"
        edition = new_edition(home, "All", [START], "both")
        with open_store(home / ".variorum", mode=Mode.WRITE) as store:
            started = time.perf_counter()
            reports = sift_files(edition, store, [path], SiftOptions(), Silent())
            sifting = time.perf_counter() - started
            store.merge()
            merged = time.perf_counter() - started
            store.find_doubles()
            whole = time.perf_counter() - started
    kept, met = reports[0].kept, reports[0].sections + reports[0].untagged
    assert kept + reports[0].passed + reports[0].aside == met
    print(f"{size / 1e6:.0f} MB, {met:,} games, {kept:,} kept; plain reading {reading:.2f} s")
    for name, seconds in (("sift", sifting), ("with merge", merged), ("with doubles", whole)):
        print(f"{name:12} {seconds:6.2f} s   {reference / seconds:5.0f} times chess.pgn")
    try:
        import resource

        print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    except ImportError:
        pass


if __name__ == "__main__":
    main()
