"""Whole sifts of a collection beside `chess.pgn` on a part of it and plain reading, in one run.

    python benches/make_collection.py COLLECTION.pgn --games 105000 --seed 2 --dirt 5
    python benches/bench_sift.py COLLECTION.pgn

Roots are the start position and the positions most frequent at some plies of the first games; each has a process of its
own. Columns: games kept, seconds of scan, games and sorted runs; with the final merge; with doubles; both of the first
as ratios to `chess.pgn` at the rate it reads the first megabytes; peak memory of the process.
"""

from __future__ import annotations

import io
import json
import logging
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

SAMPLE_BYTES = 3_000_000
PLIES = (6, 8, 10, 14, 20)
START = "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1"


def sample(path: Path) -> tuple[float, dict[int, str]]:
    """Bytes a second of `chess.pgn`, and by ply the position met most."""
    import chess.pgn

    logging.disable(logging.CRITICAL)
    with path.open("rb") as file:
        text = file.read(SAMPLE_BYTES).decode("utf-8", "replace")
    started, stream, games = time.perf_counter(), io.StringIO(text), []
    while (game := chess.pgn.read_game(stream)) is not None:
        games.append(game)
    rate = len(text) / (time.perf_counter() - started)
    met: dict[int, Counter[str]] = {ply: Counter() for ply in PLIES}
    for game in games:
        for node in game.mainline():
            if node.ply() in met:
                met[node.ply()][node.board().fen()] += 1
            if node.ply() >= max(PLIES):
                break
    return rate, {ply: counts.most_common(1)[0][0] for ply, counts in met.items()}


def sift_once(path: Path, root: str) -> dict[str, float]:
    """Sift into a new store; kept games, seconds and megabytes."""
    from variorum.base import Silent
    from variorum.edition import new_edition
    from variorum.sources import SiftOptions
    from variorum.sources.sift import sift_files
    from variorum.store import Mode, open_store

    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder) / "edition"
        edition = new_edition(home, "Bench", [root], "both")
        with open_store(home / ".variorum", mode=Mode.WRITE) as store:
            started = time.perf_counter()
            report = sift_files(edition, store, [path], SiftOptions(), Silent())[0]
            sifted = time.perf_counter() - started
            store.merge()
            merged = time.perf_counter() - started
            store.find_doubles()
            whole = time.perf_counter() - started
    met = report.sections + report.untagged
    assert report.kept + report.passed + report.aside == met
    seconds = {"sift": sifted, "merge": merged, "doubles": whole}
    return {"kept": report.kept, **seconds, "peak": peak_megabytes()}


def peak_megabytes() -> float:
    """Peak memory of this process, 0 where the system does not tell it."""
    status = Path("/proc/self/status")
    if status.exists():
        # Not `getrusage`: on Linux that begins with the peak of the process which started this one (proc(5)).
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    try:
        import resource
    except ImportError:
        return 0.0
    # Bytes on macOS.
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1 << 20)


def main() -> None:
    path = Path(sys.argv[1])
    size = path.stat().st_size
    rate, roots = sample(path)
    started = time.perf_counter()
    with path.open("rb") as file:
        while file.read(1 << 20):
            pass
    reading = time.perf_counter() - started
    print(f"{size / 1e6:.0f} MB; seconds; in brackets times chess.pgn; peak memory in MB")
    print(f"{'plain reading (cat)':20} {reading:8.2f} [{size / rate / reading:5.0f}]")
    print(f"{'chess.pgn':20} {size / rate:8.0f} [    1]  (from its first {SAMPLE_BYTES / 1e6:.0f} MB)")
    print(f"{'root':20} {'sift':>8} {'':7} {'merged':>8} {'':7} {'doubles':>8} {'kept':>10} {'peak':>6}")
    for ply, root in {0: START, **roots}.items():
        told = subprocess.run(
            [sys.executable, __file__, str(path), root], check=True, capture_output=True, text=True
        )
        found = json.loads(told.stdout)
        print(
            f"{f'ply {ply}':20}",
            *(f"{found[name]:8.2f} [{size / rate / found[name]:5.0f}]" for name in ("sift", "merge")),
            f"{found['doubles']:8.2f} {found['kept']:10,} {found['peak']:6.0f}",
            flush=True,
        )


if __name__ == "__main__":
    if len(sys.argv) > 2:
        print(json.dumps(sift_once(Path(sys.argv[1]), sys.argv[2])))
    else:
        main()
