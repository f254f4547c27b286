"""A program that works on a store, for the tests of faults to kill. Not a test itself.

python -m tests.faults.store_work run FOLDER          the whole work, going on where an earlier run stopped
python -m tests.faults.store_work hold FOLDER         open for writing, say so, wait
python -m tests.faults.store_work steps FOLDER        kill a run at each of its steps and check what is left
"""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from tests.unit.store.made_up import MadeUpGame, batch_of, random_games
from variorum.board import Position
from variorum.store import Mode, intake, manifest, matching, occurrences, open_store
from variorum.store.store import Store

SIZE = 15
SOURCES = {"a.pgn": (0, 30), "b.pgn": (15, 60)}
"""Source to its slice of the made-up games; they share games, so there are doubles."""


def made_up() -> list[MadeUpGame]:
    return random_games(60, seed=5, plies=44)


def batches(games: list[MadeUpGame], source: str, step: int = SIZE) -> list[Any]:
    first, last = SOURCES[source]
    some = games[first:last]
    return [batch_of(some[i : i + step], first=i + 1) for i in range(0, len(some), step)]


def use_small_commits() -> None:
    """Commit after every batch and merge early, so that little work has many steps."""
    intake._GAMES = 1
    occurrences.MOST_RUNS = 2


def work(folder: Path, prepared: dict[str, list[Any]]) -> None:
    """Sift all sources, one of them twice under different keys, and settle."""
    with open_store(folder, mode=Mode.WRITE) as store:
        for key in ("old", "new"):
            for source, parts in prepared.items():
                if store.is_current(source, "new") or (key == "new" and source != "a.pgn"):
                    continue
                wanted = key if source == "a.pgn" else "new"
                if store.is_current(source, wanted):
                    continue
                sift = store.begin_sift(source, wanted, kind="practice")
                for batch in parts:
                    sift.add_batch(batch)
                sift.finish()
                store.flush()
        store.settle()


def check(folder: Path) -> None:
    """What holds at any moment, for a reader and for the next writer."""
    if not (folder / "store.sqlite").exists() or not (folder / "readers.lock").exists():
        return
    with open_store(folder) as store:
        check_answers(store)
    with open_store(folder, mode=Mode.WRITE) as store:
        check_answers(store)
        connection = store._manifest.connection
        named = {manifest.run_name(run) for (run,) in connection.execute("SELECT id FROM runs")}
        named |= {manifest.part_name(part) for (part,) in connection.execute("SELECT id FROM parts")}
        there = {path.relative_to(folder).as_posix() for path in folder.glob("*/*")}
        assert named == there, (named ^ there, "files and manifest differ")
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def check_answers(store: Store) -> None:
    ids = [columns.first + row for rows, columns in store.all_games() for row in rows.tolist()]
    for game in store.games(ids):
        first, last = SOURCES[game.provenance.source]
        assert 1 <= game.provenance.game_number <= last - first
        assert len(game.line.moves) == len(game.moves)
    kept: dict[str, int] = {}
    for sift in store.sources():
        kept[sift.source] = kept.get(sift.source, 0) + sift.kept
        assert sift.kept % SIZE == 0, "a batch is there whole or not at all"
    assert store.count == sum(kept.values())
    assert len(set(store.lookup(Position.start().key).games.tolist())) == store.count


def answer(folder: Path) -> tuple[Any, ...]:
    """What the finished store says, without numbers that depend on the way there."""
    with open_store(folder) as store:
        groups = sorted(
            sorted((head.provenance.source, head.provenance.game_number) for head in store.heads(group))
            for group in store.doubles()
        )
        start = store.statistics(Position.start(), examples=0)
        return store.count, groups, start, [(one.source, one.cache_key, one.kept) for one in store.sources()]


class Steps:
    """Counts the steps of a run and kills the process before one of them: what lies between two changes nothing."""

    def __init__(self, fatal: int) -> None:
        self.count = 0
        self.fatal = fatal

    def step(self) -> None:
        self.count += 1
        if self.count == self.fatal:
            os.kill(os.getpid(), signal.SIGKILL)

    def install(self) -> None:
        for name in ("fsync", "replace"):
            setattr(os, name, self._around(getattr(os, name)))
        Path.unlink = self._around(Path.unlink)  # type: ignore[method-assign]
        for module in (intake, manifest, matching):
            module.transaction = self._transaction(module.transaction)  # type: ignore[attr-defined]

    def _around(self, call: Callable[..., Any]) -> Callable[..., Any]:
        def stepped(*given: Any, **named: Any) -> Any:
            self.step()
            return call(*given, **named)

        return stepped

    def _transaction(self, real: Callable[..., Any]) -> Callable[..., Any]:
        @contextlib.contextmanager
        def stepped(connection: Any) -> Iterator[Any]:
            self.step()
            with real(connection) as inside:
                yield inside
                self.step()  # everything written, not committed

        return stepped


def in_child(call: Callable[[], None]) -> int:
    """Run a call in a forked child; gives how it ended. The parent stays without threads."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            call()
            status = 0
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(status)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def kill_at_each_step(folder: Path, prepared: dict[str, list[Any]]) -> int:
    """Gives the number of steps tried."""
    clean = folder / "clean.txt"

    def run_through() -> None:
        work(folder / "clean", prepared)
        clean.write_text(repr(answer(folder / "clean")))

    assert in_child(run_through) == 0
    for fatal in range(1, 10_000):
        store = folder / str(fatal)

        def run(fatal: int = fatal, store: Path = store) -> None:
            Steps(fatal).install()
            work(store, prepared)

        def finish(store: Path = store) -> None:
            check(store)
            work(store, prepared)
            assert repr(answer(store)) == clean.read_text()

        ended = in_child(run)
        if in_child(finish) != 0:
            raise SystemExit(f"killed at step {fatal}: see above")
        shutil.rmtree(store)
        if ended == 0:
            return fatal - 1
        assert ended == -signal.SIGKILL, f"step {fatal} ended with {ended}"
    raise AssertionError("the run has no end")


def main() -> None:
    what, folder = sys.argv[1], Path(sys.argv[2])
    use_small_commits()
    if what == "hold":
        with open_store(folder, mode=Mode.WRITE):
            print("open", flush=True)
            time.sleep(600)
    games = made_up()
    prepared = {source: batches(games, source) for source in SOURCES}
    print("ready", flush=True)
    if what == "run":
        work(folder, prepared)
    else:
        print(kill_at_each_step(folder, prepared))


if __name__ == "__main__":
    main()
