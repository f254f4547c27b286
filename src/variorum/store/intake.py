"""Writing sifted games: batches in, durable parts and runs out.

Small batches are gathered over several sources into one commit, files are written in the background while the scan goes
on, and at most one commit is being written at a time, so that memory stays bounded. What a commit names is on the disk
before the commit.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AbstractContextManager
from typing import Any

import msgspec
import numpy as np
import pyarrow as pa

from variorum import _core
from variorum.base import StoreError
from variorum.store.batch import Batch, OccurrenceColumns, Reject, SkippedBytes
from variorum.store.columns import ROWS_IN_GROUP, game_table, occurrence_table, occurrence_writer, write_games
from variorum.store.durable import write_durably
from variorum.store.manifest import Manifest, SiftRecord, part_name, run_name
from variorum.store.memory import give_back_what_is_freed
from variorum.store.occurrences import merge_into, runs_to_merge
from variorum.store.schema import transaction

__all__ = ["Intake", "Sift"]

_GAMES, _BYTES, _OCCURRENCES, _SIFTS, _SECONDS = 4_096, 8 << 20, 1 << 19, 512, 5.0
"""A commit is made when one of these is reached: games, bytes of text, occurrences, sifts touched, time."""

_MERGE_AT = 24
"""Runs that are merged before sifting goes on."""

_LAST_GAME = (1 << 32) - 1
_EVERY_GAME = (np.zeros(1, np.uint32), np.array([_LAST_GAME], np.uint32))


class _Segment(msgspec.Struct):
    first: int
    games: int
    occurrences: int
    sift: int


class _Load:
    """What one commit brings."""

    def __init__(self, first_game: int) -> None:
        self.first_game = first_game
        self.since = time.monotonic()
        self.tables: list[Any] = []
        self.occurrences: list[OccurrenceColumns] = []
        self.segments: list[_Segment] = []
        self.rejects: list[tuple[int, Reject]] = []
        self.notes: list[tuple[int, SkippedBytes]] = []
        self.counts: dict[int, dict[str, int]] = {}
        self.finished: list[int] = []
        self.part: tuple[int, int] | None = None
        """Number and bytes of the part, once written."""
        self.run: tuple[int, int] | None = None

    @property
    def games(self) -> int:
        return sum(segment.games for segment in self.segments)

    @property
    def rows(self) -> int:
        return sum(segment.occurrences for segment in self.segments)

    @property
    def full(self) -> bool:
        return (
            self.games >= _GAMES
            or sum(table.nbytes for table in self.tables) >= _BYTES
            or self.rows >= _OCCURRENCES
            or len(self.counts) + len(self.finished) + len(self.rejects) // 64 >= _SIFTS
            or time.monotonic() - self.since >= _SECONDS
        )

    @property
    def empty(self) -> bool:
        return not (self.counts or self.finished)


Use = Callable[[], AbstractContextManager[object]]
"""Opens the store for one call: one thread at a time, faults as errors of our own."""


class Sift:
    """One sift of one source under way. Batches come in file order, from the first one on also when it goes on."""

    def __init__(self, intake: Intake, record: SiftRecord, use: Use) -> None:
        self._intake = intake
        self._use = use
        self.record = record
        self._met = 0

    @property
    def already_met(self) -> int:
        """Games that an interrupted sift has dealt with already; batches with them are passed over."""
        return self.record.met

    def add_batch(self, batch: Batch) -> None:
        """Take a batch; it is durable a little later, at the latest when `Store.flush` is back.

        Raises:
            StoreError: A batch before could not be written, or the source is not the one that was begun with.
        """
        with self._use():
            self._add(batch)

    def _add(self, batch: Batch) -> None:
        games = batch.counts["kept"] + batch.counts["passed"] + batch.counts["aside"]
        before, self._met = self._met, self._met + games
        if self._met <= self.already_met and before < self.already_met:
            return
        if before < self.already_met:
            self._intake.drop(self)
            remedy = "give the command again: it begins this file anew"
            raise StoreError("the file changed while it was read", remedy=remedy, path=self.record.source)
        self._intake.add(self.record.id, batch)

    def finish(self) -> None:
        """The source has been read to its end: from the next commit on it replaces what an older sift brought."""
        with self._use():
            self._intake.finish(self.record.id)


class Intake:
    """The writer's side of the store. `use` goes round every call of a `Sift`."""

    def __init__(self, manifest: Manifest, use: Use, after_commit: Callable[[], None]) -> None:
        give_back_what_is_freed()
        self._manifest = manifest
        self._use = use
        self._after_commit = after_commit
        self._next_game = manifest.fact("next_game")
        self._next_file = manifest.fact("next_file")
        self._load = _Load(self._next_game)
        self._written: Future[_Load] | None = None
        self._failed = False
        # One file of games and one of occurrences are written at a time.
        self._pool = ThreadPoolExecutor(2, thread_name_prefix="variorum-store")

    def begin(self, source: str, cache_key: str, kind: str, voice: str, settings: dict[str, object]) -> Sift:
        """Begin a sift, or go on with an unfinished one of the same key."""
        record = self._manifest.open_sift(source, cache_key, kind, voice, settings)
        self._after_commit()
        return Sift(self, record, self._use)

    def add(self, sift: int, batch: Batch) -> None:
        """Put a batch to the load, and write the load when it is full."""
        games = len(batch.file_offset)
        load = self._load
        if games:
            if self._next_game + games > _LAST_GAME:
                remedy = "delete the store's folder; the next command makes it again from your files"
                raise StoreError(
                    "the store has no game numbers left", remedy=remedy, path=self._manifest.folder
                )
            keys, rows, plies, moves = batch.occurrences
            load.tables.append(game_table(batch))
            load.occurrences.append((keys, rows + np.uint32(self._next_game), plies, moves))
            load.segments.append(_Segment(self._next_game, games, len(keys), sift))
            self._next_game += games
        load.rejects += [(sift, reject) for reject in batch.rejects]
        load.notes += [(sift, note) for note in batch.notes]
        counts = load.counts.setdefault(sift, {})
        for name, count in batch.counts.items():
            counts[name] = counts.get(name, 0) + count
        if load.full:
            self._start_writing()

    def finish(self, sift: int) -> None:
        """Finish a sift with the load that holds its last batch."""
        self._load.finished.append(sift)
        if self._load.full:
            self._start_writing()

    def drop(self, sift: Sift) -> None:
        """Take an unfinished sift out of the store."""
        self.flush()
        self._manifest.drop_sift(sift.record.id)
        self._after_commit()

    def flush(self) -> None:
        """Make everything durable that was added."""
        if not self._load.empty:
            self._start_writing()
        self._commit_written()

    def close(self) -> None:
        """Flush what can be flushed and end the threads."""
        try:
            if not self._failed:
                self.flush()
        finally:
            self._pool.shutdown(wait=True, cancel_futures=True)

    def _start_writing(self) -> None:
        self._commit_written()
        load, self._load = self._load, _Load(self._next_game)
        numbers = (self._next_file, self._next_file + 1)
        self._next_file += 2
        self._written = self._pool.submit(self._write, load, *numbers)

    def _write(self, load: _Load, part: int, run: int) -> _Load:
        if not load.segments:
            return load
        folder = self._manifest.folder
        games = self._pool.submit(self._write_part, load, part)
        columns = load.occurrences[0]
        if len(load.occurrences) > 1:
            _, columns = _core.merge_runs([(*one, False) for one in load.occurrences], *_EVERY_GAME)
        # The next load fills up meanwhile: nothing is held longer than it must be.
        load.occurrences.clear()

        def write(path: Any) -> None:
            with occurrence_writer(path) as writer:
                writer.write_table(occurrence_table(columns), row_group_size=ROWS_IN_GROUP)

        load.run = (run, write_durably(folder / run_name(run), write))
        load.part = (part, games.result())
        return load

    def _write_part(self, load: _Load, part: int) -> int:
        table = pa.concat_tables(load.tables).combine_chunks()
        load.tables.clear()
        return write_durably(self._manifest.folder / part_name(part), lambda path: write_games(table, path))

    def _commit_written(self) -> None:
        if self._failed:
            remedy = "close the store and open it again"
            raise StoreError("an earlier write failed", remedy=remedy, path=self._manifest.folder)
        if self._written is not None:
            future, self._written = self._written, None
            try:
                self._commit(future.result())
            except BaseException:
                self._failed = True
                raise
            self._after_commit()
        self._merge_when_many()

    def _commit(self, load: _Load) -> None:
        connection = self._manifest.connection
        with transaction(connection):
            if load.part is not None and load.run is not None:
                part, size = load.part
                connection.execute(
                    "INSERT INTO parts VALUES (?, ?, ?, ?)", (part, load.first_game, load.games, size)
                )
                connection.executemany(
                    "INSERT INTO segments VALUES (?, ?, ?, ?, ?)",
                    [(one.first, one.games, one.occurrences, one.sift, part) for one in load.segments],
                )
                run, size = load.run
                connection.execute("INSERT INTO runs VALUES (?, ?, ?)", (run, load.rows, size))
                self._manifest.raise_fact("next_game", load.first_game + load.games)
                self._manifest.raise_fact("next_file", max(part, run) + 1)
            connection.executemany(
                "INSERT INTO rejects (sift, file_offset, length, game_number, line, reason, ply, text) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                [(sift, *reject) for sift, reject in load.rejects],
            )
            connection.executemany(
                "INSERT OR IGNORE INTO notes VALUES (?, ?, ?, ?)",
                [(sift, *note) for sift, note in load.notes],
            )
            for sift, counts in load.counts.items():
                changes = ", ".join(f"{name} = {name} + ?" for name in counts)
                connection.execute(f"UPDATE sifts SET {changes} WHERE id = ?", (*counts.values(), sift))
            for sift in load.finished:
                self._manifest.finish(sift)
            self._manifest.changed()

    def _merge_when_many(self) -> None:
        """Merge when too many runs lie about. Nothing is being written then: the two would hold the most together."""
        runs = self._manifest.connection.execute("SELECT id, occurrences FROM runs").fetchall()
        if len(runs) >= _MERGE_AT:
            self._merge(runs_to_merge(runs, self._manifest.occurrences()[0]))

    def _merge(self, chosen: list[int], progress: Any = None) -> None:
        number = self._next_file
        self._next_file += 1
        self._manifest.swap_runs(*self.merge(chosen, self._manifest.live_ranges(), number, progress))
        self._after_commit()

    def merge(
        self, runs: list[int], live: tuple[Any, Any], number: int, progress: Any = None
    ) -> tuple[list[int], tuple[int, int, int]]:
        """Write the merge of runs as run `number`; what `Manifest.swap_runs` takes."""
        folder = self._manifest.folder
        written = 0

        def write(path: Any) -> None:
            nonlocal written
            written = merge_into(path, folder, runs, live, progress)

        size = write_durably(folder / run_name(number), write)
        return runs, (number, written, size)

    def merge_all(self, progress: Any = None) -> None:
        """Merge runs until they are as few as `runs_to_merge` wants them."""
        self.flush()
        while True:
            runs = self._manifest.connection.execute("SELECT id, occurrences FROM runs").fetchall()
            chosen = runs_to_merge(runs, self._manifest.occurrences()[0])
            if not chosen:
                return
            self._merge(chosen, progress)
