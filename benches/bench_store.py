"""Look-ups among 40 million occurrences in 21 runs, beside a full scan by DuckDB; and the merge that makes the large run.

    python benches/bench_store.py [FOLDER]     (about 1 GB of disk; the folder is emptied at the end)

`pytest benches` runs it on a tenth of that.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from variorum import _core
from variorum.store import Mode, Store, open_store
from variorum.store.batch import OccurrenceColumns
from variorum.store.columns import ROWS_IN_GROUP, occurrence_table, occurrence_writer
from variorum.store.durable import write_durably
from variorum.store.manifest import run_name
from variorum.store.schema import transaction

PLIES = 80
RUNS = 40
"""Sifts of equal size; the first half is merged into one run, so that 21 lie side by side."""


def mixed(value: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Well spread keys (the finaliser of SplitMix64)."""
    value = (value ^ (value >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    value = (value ^ (value >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return value ^ (value >> np.uint64(31))


def made_up_run(seed: int, first_game: int, games: int, all_games: int) -> OccurrenceColumns:
    """Games of 80 plies: few positions in the first plies, more and more of them, each its own from ply 26 on."""
    chance = np.random.default_rng(seed)
    ply = np.tile(np.arange(PLIES, dtype=np.uint64), games)
    game = np.repeat(np.arange(first_game, first_game + games, dtype=np.uint32), PLIES)
    different = np.floor(all_games ** (np.minimum(ply, 26) / 26.0)).astype(np.uint64)
    slot = np.where(ply < 26, chance.integers(0, 1 << 62, len(ply), dtype=np.uint64) % different, game)
    key = mixed(slot * np.uint64(128) + ply + np.uint64(1))
    move = chance.integers(1, 4096, len(ply), dtype=np.uint16)
    order = np.lexsort((ply, game, key))
    return key[order], game[order], ply[order].astype(np.uint16), move[order]


def fill(store: Store, occurrences: int) -> dict[str, float]:
    """Write the runs, merge the first half; seconds of each."""
    manifest, folder = store._manifest, store.folder
    games = occurrences // PLIES // RUNS
    connection = manifest.connection
    manifest.open_sift("made up", "k", "practice", "", {})
    spent = {"write": 0.0, "merge": 0.0}

    def put(number: int, columns: OccurrenceColumns) -> None:
        def write(path: Path) -> None:
            with occurrence_writer(path) as writer:
                writer.write_table(occurrence_table(columns), row_group_size=ROWS_IN_GROUP)

        begun = time.perf_counter()
        size = write_durably(folder / run_name(number), write)
        spent["write"] += time.perf_counter() - begun
        first = 1 + number * games
        with transaction(connection):
            connection.execute("INSERT INTO parts VALUES (?, ?, ?, 0)", (number, first, games))
            connection.execute(
                "INSERT INTO segments VALUES (?, ?, ?, 1, ?)", (first, games, games * PLIES, number)
            )
            connection.execute("INSERT INTO runs VALUES (?, ?, ?)", (number, games * PLIES, size))
            manifest.changed()

    for number in range(RUNS):
        put(number, made_up_run(number, 1 + number * games, games, games * RUNS))
        if number == RUNS // 2 - 1:
            begun = time.perf_counter()
            merged = store._intake.merge(list(range(RUNS // 2)), manifest.live_ranges(), RUNS)  # type: ignore[union-attr]
            manifest.swap_runs(*merged)
            spent["merge"] = time.perf_counter() - begun
    return spent


def wanted_keys(count: int) -> dict[str, list[int]]:
    """Keys of positions at some plies, of which an occurrence is sure to be there."""
    chance = np.random.default_rng(99)
    found: dict[str, list[int]] = {}
    games = count // PLIES
    for name, plies in (("plies 8-16", (8, 16)), ("plies 17-25", (17, 25)), ("plies 26-79", (26, 79))):
        keys = []
        for ply in chance.integers(plies[0], plies[1] + 1, 200):
            different = int(games ** (ply / 26)) if ply < 26 else games
            slot = int(chance.integers(1, max(2, different)))
            keys.append(int(mixed(np.array([slot * 128 + int(ply) + 1], np.uint64))[0]))
        found[name] = keys
    found["start"] = [int(mixed(np.array([1], np.uint64))[0])] * 5
    found["not there"] = [int(key) for key in chance.integers(0, 1 << 63, 200)]
    return found


def run(folder: Path, occurrences: int, say: Callable[[str], None]) -> float:
    """Print figures; gives the 95th percentile over the mixed keys as a share of DuckDB's full scan."""
    import duckdb

    version, profile = _core.build_info()
    assert profile == "release", "benches need a release build"
    with open_store(folder, mode=Mode.WRITE) as store:
        spent = fill(store, occurrences)
        size = sum(path.stat().st_size for path in folder.rglob("*.parquet"))
        say(f"variorum {version}: {occurrences:,} occurrences, {size / occurrences:.1f} bytes each")
        say(f"writing {occurrences / spent['write'] / 1e6:.1f} M rows/s, merging 20 runs "
            f"{occurrences / 2 / spent['merge'] / 1e6:.1f} M rows/s")  # fmt: skip
    with open_store(folder) as store:
        keys = wanted_keys(occurrences)
        begun = time.perf_counter()
        store.lookup(keys["not there"][0])
        say(f"first look-up of a process: {(time.perf_counter() - begun) * 1e3:.0f} ms")
        all_times = []
        for name, some in keys.items():
            times, hits, work = [], [], []
            for key in some:
                begun, worked = time.perf_counter(), time.process_time()
                found = store.lookup(key)
                times.append(time.perf_counter() - begun)
                work.append(time.process_time() - worked)
                hits.append(len(found))
            say(f"{name:12} hits {np.median(hits):9.0f}  p50 {np.median(times) * 1e3:6.1f} ms  "
                f"p95 {np.percentile(times, 95) * 1e3:6.1f} ms, processor {np.percentile(work, 95) * 1e3:6.1f} ms")  # fmt: skip
            assert (sum(hits) > 0) == (name != "not there")
            if name != "start":
                all_times += times
        p50, p95 = np.percentile(all_times, [50, 95])
        say(f"all but start: p50 {p50 * 1e3:.1f} ms, p95 {p95 * 1e3:.1f} ms")
        peer = duckdb.connect(":memory:", config={"threads": 2, "memory_limit": "400MB"})
        files = str(folder / "occurrences" / "*.parquet")
        key = keys["plies 26-79"][0]
        begun = time.perf_counter()
        # The xor keeps DuckDB from passing row groups over by their statistics: a full scan.
        rows = peer.execute(
            f"SELECT game, ply, move FROM '{files}' WHERE xor(key, 1::UBIGINT) = ?::UBIGINT", [key ^ 1]
        ).fetchall()
        scan = time.perf_counter() - begun
        begun = time.perf_counter()
        peer.execute(f"SELECT game, ply, move FROM '{files}' WHERE key = ?::UBIGINT", [key]).fetchall()
        pruned = time.perf_counter() - begun
        assert len(rows) == len(store.lookup(key))
        say(f"DuckDB, full scan {scan * 1e3:.0f} ms, by row-group statistics {pruned * 1e3:.0f} ms; "
            f"full scan is {scan / p95:.0f} times the p95")  # fmt: skip
    return float(p95 / scan)


@pytest.mark.benchmark
def test_lookups_beside_a_full_scan(
    tmp_path: Path, benchmark: object, capsys: pytest.CaptureFixture[str]
) -> None:
    with capsys.disabled():
        share = benchmark.pedantic(run, (tmp_path, 4_000_000, print), rounds=1)  # type: ignore[attr-defined]
    assert share < 1


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(dir=sys.argv[1] if len(sys.argv) > 1 else None) as made:
        run(Path(made), 40_000_000, print)
        if sys.platform != "win32":
            import resource

            print(
                f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB (with DuckDB)"
            )
