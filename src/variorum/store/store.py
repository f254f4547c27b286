"""The store: one object to open, read and write it. See `README.md` for what lies where."""

from __future__ import annotations

import copy
import enum
import threading
import time
from collections import OrderedDict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from variorum.base import Progress, Silent, StoreError, UsageError
from variorum.board import Position, PositionKey, Verdict
from variorum.store import citing, statistics, steps, verdicts
from variorum.store.batch import Reject, SkippedBytes
from variorum.store.births import Births
from variorum.store.faults import store_faults
from variorum.store.files import Hashing, hash_of, identity_of, remember_hash, remembered_hash
from variorum.store.games import Game, GameColumns, GameFiles, GameHead
from variorum.store.handles import Handles
from variorum.store.intake import Intake, Sift
from variorum.store.listing import GameList, Listing, list_games
from variorum.store.locks import Lock
from variorum.store.manifest import Doubles, Manifest, SiftRecord, Snapshot
from variorum.store.matching import find_doubles
from variorum.store.occurrences import Occurrences, RunIndex
from variorum.store.opening import READERS, open_to_read, open_to_write
from variorum.store.queue import QuestionQueue
from variorum.store.statistics import Filter, Found, GamesThrough, Orders, PositionGames, RatingBalance
from variorum.store.steps import StepRecord

__all__ = ["Mode", "Store", "open_store"]

_EVERYTHING = Filter()
_SNAPSHOTS = 3
"""So many are remembered: who began to read in one goes on in it while others see a newer one."""
_DEAR, _DEAR_KEPT = 5_000, 1_000
"""What is said of a position with so many games is remembered, of so many positions."""


class Mode(enum.Enum):
    """What a store is opened for."""

    READ = "read"
    WRITE = "write"
    """Also reads. One process at a time; readers do not mind."""


def open_store(folder: Path, *, mode: Mode = Mode.READ) -> Store:
    """Open the store in a folder (an edition's `.variorum`); writing makes it where it is missing.

    Raises:
        StoreBusyError: Another process writes, and `mode` is WRITE.
        StoreVersionError: Made by another version that this one cannot migrate.
        StoreError: Nothing there to read, damaged, read-only, disk full.
    """
    return Store(folder, mode)


class _Seen:
    """What was found in one snapshot and is asked for again: the position looked at last, those with many games, the balance, the doubles where they are few."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        self.asked: tuple[Position, Filter] | None = None
        self.found: Found | None = None
        self.balance: RatingBalance | None = None
        self.dear: dict[tuple[Position, Filter, int], PositionGames] = {}
        self.few_doubles: Doubles | tuple[()] | None = None


class Store:
    """The games, occurrences and verdicts of an edition. Use it as a context manager; threads may share it.

    A reader sees the manifest as it was when it was opened or `refresh` was called last; files that this needs stay
    until the reader is closed. A writer sees what it has committed.
    """

    def __init__(self, folder: Path, mode: Mode) -> None:
        self.folder = folder
        self.mode = mode
        self._mutex = threading.RLock()
        self._intake: Intake | None = None
        self._snapshot: Snapshot | None = None
        self._seen: OrderedDict[int, _Seen] = OrderedDict()
        self._closed = False
        with store_faults(folder):
            opened = open_to_write if mode is Mode.WRITE else open_to_read
            connection, self._lock = opened(folder)
            self._manifest = Manifest(connection, folder)
            self._handles = Handles(folder)
            self._runs = RunIndex(self._handles)
            self._files = GameFiles(self._handles)
            if mode is Mode.WRITE:
                self._manifest.remove_orphans()
                self._remove_retired()
                self._intake = Intake(self._manifest, self._door, self._after_commit)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Commit what is waiting and let others have the store."""
        with self._mutex, store_faults(self.folder):
            if self._closed:
                return
            self._closed = True
            try:
                if self._intake is not None:
                    self._intake.close()
                self._handles.close()
                if self._intake is not None:
                    self._remove_retired()
            finally:
                self._handles.close()
                self._manifest.connection.close()
                self._lock.release()

    @contextmanager
    def _door(self) -> Iterator[None]:
        with self._mutex, store_faults(self.folder):
            if self._closed:
                raise UsageError("the store is closed")
            yield

    @contextmanager
    def _use(self) -> Iterator[Snapshot]:
        with self._door():
            if self._snapshot is None:
                self._snapshot = self._manifest.snapshot()
                self._runs.keep(run for run, _ in self._snapshot.runs)
            yield self._snapshot

    def _writer(self) -> Intake:
        if self._intake is None:
            raise UsageError("the store was opened for reading only")
        return self._intake

    def _after_commit(self) -> None:
        self._snapshot = None
        if self._manifest.retired():
            self._handles.close()
            self._files.forget()
            self._remove_retired()

    def _remove_retired(self) -> None:
        try:
            lock = Lock(self.folder / READERS, exclusive=True, patience=0.0)
        except TimeoutError:
            return  # somebody reads; the next writer tries again
        try:
            self._manifest.remove_retired()
        finally:
            lock.release()

    def refresh(self) -> None:
        """See what others have committed since."""
        with self._mutex, store_faults(self.folder):
            if self._snapshot is not None and self._manifest.fact("generation") != self._snapshot.generation:
                self._snapshot = None

    @property
    def generation(self) -> int:
        """Grows with every commit to games; answers of one generation agree with each other."""
        with self._use() as snapshot:
            return snapshot.generation

    # Sifting

    def content_hash(self, source: str, path: Path, hashing: Hashing = Hashing.WHEN_NEEDED) -> str:
        """BLAKE2b of a file's bytes (hexadecimal), from memory where nothing about the file changed (`files`).

        Raises:
            OSError: The file itself cannot be read.
        """
        self._writer()
        connection = self._manifest.connection
        identity = identity_of(path)
        if hashing is Hashing.WHEN_NEEDED:
            with self._door():
                if (known := remembered_hash(connection, source, identity)) is not None:
                    return known
        checked_ns = time.time_ns()
        found = hash_of(path)
        with self._door():
            remember_hash(connection, source, identity, checked_ns, found)
        return found

    def is_current(self, source: str, cache_key: str) -> bool:
        """Whether the source was sifted to its end under this key."""
        with self._door():
            return self._manifest.is_finished(source, cache_key)

    def begin_sift(
        self,
        source: str,
        cache_key: str,
        *,
        kind: str,
        voice: str = "",
        settings: Mapping[str, object] | None = None,
    ) -> Sift:
        """Begin to sift a source, or go on where an interrupted sift under the same key stopped.

        Args:
            source: Name of the file: relative to the edition, with slashes, or absolute.
            cache_key: Says content, roots, filters and reader version.
            kind: practice, correspondence, engine, analysis or playout.
            voice: Whose games they are, where the kind asks for it; two names are parted by a comma.
            settings: Roots and filters, kept to be shown.
        """
        with self._door():
            return self._writer().begin(source, cache_key, kind, voice, dict(settings or {}))

    def forget(self, source: str) -> bool:
        """Take a source and its games out of the store; whether it was there."""
        intake = self._writer()
        with self._door():
            intake.flush()
            found = self._manifest.forget(source)
            self._after_commit()
            return found

    def flush(self) -> None:
        """Make everything durable that was added."""
        intake = self._writer()
        with self._door():
            intake.flush()

    def settle(self, progress: Progress | None = None) -> None:
        """After sifting: flush, find doubles, merge runs. Can be interrupted and given again."""
        progress = progress or Silent()
        self.find_doubles(progress)
        self.merge(progress)

    def find_doubles(self, progress: Progress | None = None) -> None:
        """Bring the groups of doubles up to date."""
        self.flush()
        with self._use() as snapshot:
            find_doubles(self._manifest, snapshot, self._handles, self._files, progress or Silent())
            self._snapshot = None

    def merge(self, progress: Progress | None = None) -> None:
        """Merge runs of occurrences until few are left."""
        intake = self._writer()
        with self._door():
            intake.merge_all(progress)

    # Sources

    def sources(self) -> tuple[SiftRecord, ...]:
        """The visible sift of each source, by name."""
        with self._use() as snapshot:
            return tuple(snapshot.sifts.values())

    def rejects(self, source: str | None = None) -> Iterator[tuple[SiftRecord, Reject]]:
        """Games set aside, by source and place."""
        columns = "file_offset, length, game_number, line, reason, ply, text"
        yield from self._by_source("rejects", columns, source)

    def notes(self, source: str | None = None) -> Iterator[tuple[SiftRecord, SkippedBytes]]:
        """Bytes that belong to no game, by source and place."""
        yield from self._by_source("notes", "file_offset, length, what", source)

    def _by_source(self, table: str, columns: str, source: str | None) -> Iterator[tuple[SiftRecord, Any]]:
        for sift in self.sources():
            if source is not None and sift.source != source:
                continue
            behind = 0
            while True:
                # By portions: no cursor stays open while the caller takes its time. Rows lie in the order of the file.
                with self._door():
                    rows = self._manifest.connection.execute(
                        f"SELECT rowid, {columns} FROM {table} WHERE sift = ? AND rowid > ? ORDER BY rowid LIMIT 500",
                        (sift.id, behind),
                    ).fetchall()
                yield from ((sift, row[1:]) for row in rows)
                if not rows:
                    break
                behind = rows[-1][0]

    def doubles(self) -> tuple[tuple[int, ...], ...]:
        """Groups of games that are one game, the representative first."""
        with self._use():
            return tuple(self._manifest.groups_of_doubles())

    @property
    def double_count(self) -> int:
        """The number of these groups."""
        with self._use():
            return self._manifest.count_doubles()

    # Games and positions

    @property
    def count(self) -> int:
        """Games that were brought in, doubles counted each; playouts are not among them."""
        with self._use() as snapshot:
            return snapshot.games

    def games(self, ids: Sequence[int]) -> list[Game]:
        """Whole games, in the order asked for.

        Raises:
            UsageError: There is no such game.
        """
        with self._use() as snapshot:
            return self._files.games(ids, snapshot)

    def heads(self, ids: Sequence[int]) -> list[GameHead]:
        """Games without moves and text, in the order asked for.

        Raises:
            UsageError: There is no such game.
        """
        with self._use() as snapshot:
            return self._files.heads(ids, snapshot)

    def games_between(self, white: str, black: str) -> list[Game]:
        """The games that these two may have played, whatever the spelling of their names; doubles once."""
        with self._use() as snapshot:
            games = citing.games_between(self._files, snapshot, white, black)
            doubles = self._doubles(games, snapshot)
            single = [game for game in games.tolist() if doubles.get(game, (game,))[0] == game]
            return self._files.games(single, snapshot)

    def all_games(self) -> Iterator[tuple[NDArray[np.uint32], GameColumns]]:
        """Every game that counts, doubles once, playouts never, by row group: rows in the group, its columns."""
        for _, rows, columns in self.games_by_source():
            yield rows, columns

    def games_by_source(
        self, wanted: Filter = _EVERYTHING, *, one_in: int = 1
    ) -> Iterator[tuple[SiftRecord, NDArray[np.uint32], GameColumns]]:
        """As `all_games`, with the sift that the games of each row group come from, of the sources that are `wanted`.

        Of these it takes one in `one_in` at even distances, so that each source, and each part of one that is sorted, has its share.
        """
        with self._use() as snapshot:
            segments = list(
                zip(
                    snapshot.starts.tolist(),
                    snapshot.ends.tolist(),
                    snapshot.sift_ids.tolist(),
                    strict=True,
                )
            )
        passed = 0
        for start, end, sift_id in segments:
            if not wanted.takes(snapshot.sifts[sift_id]):
                continue
            with self._use() as current:
                self._unchanged(current is snapshot)
                games = np.arange(start, end, dtype=np.uint32)[-passed % one_in :: one_in]
                passed += end - start
                doubles = self._doubles(games, snapshot)
                single = (
                    [doubles.get(game, (game,))[0] == game for game in games.tolist()]
                    if doubles
                    else slice(None)
                )
                groups = list(self._files.groups(games[single], snapshot))
            for part, group, first, _, rows in groups:
                with self._use():
                    columns = self._files.columns_of(part, group, first)
                yield snapshot.sifts[sift_id], rows, columns

    def lookup(self, key: PositionKey) -> Occurrences:
        """Where a key occurs, not verified, doubles, playouts and all. Under 20 ms among 40 million in a warm process."""
        with self._use() as snapshot:
            return self._runs.look_up(key, snapshot)

    def reaches(self, key: PositionKey) -> bool:
        """Whether a key occurs in a game that was brought in, not verified; how often does not matter to the cost."""
        with self._use() as snapshot:
            return self._runs.has(key, snapshot)

    def statistics(
        self, position: Position, wanted: Filter = _EVERYTHING, *, examples: int = 5
    ) -> PositionGames:
        """What the games say of a position; `examples` limits the earliest and latest games."""
        with self._use() as snapshot:
            dear, asked = self._seen_of(snapshot).dear, (position, wanted, examples)
            if (known := dear.get(asked)) is not None:
                return known
            found = self._found(position, wanted, snapshot)
            moves = statistics.moves_played(found, position)
            statistics.first_arrivals(found)
            tally, by = statistics.tallies(found, np.arange(len(found.hits)))
            rated, total = statistics.balance_of(found.results, found.white_elos, found.black_elos)
            dated = np.flatnonzero(found.dates)
            dated = dated[np.argsort(found.dates[dated], kind="stable")]
            games = found.hits.games
            told = PositionGames(
                tally,
                by,
                moves,
                tuple(self._files.heads(games[dated[:examples]].tolist(), snapshot)),
                tuple(self._files.heads(games[dated[::-1][:examples]].tolist(), snapshot)),
                RatingBalance(rated, total / rated if rated else 0.0),
                found.refuted,
            )
            if len(games) > _DEAR and len(dear) < _DEAR_KEPT:
                dear[asked] = told
            return told

    def list_games(self, position: Position, listing: Listing) -> GameList:
        """Games that were brought in and pass a position, as a list is wanted; doubles once, of the kind of the one that stands for them."""
        with self._use() as snapshot:
            found = self._found(position, _EVERYTHING, snapshot)
            return list_games(self._files, found, position, listing, snapshot)

    def games_through(self, position: Position, wanted: Filter = _EVERYTHING) -> Iterator[GamesThrough]:
        """The games that pass a position, by row group, in the order of the store.

        Playouts: `Filter(kinds=frozenset({PLAYOUT}))`; of one voice: with `voice=`; practice: `kinds=PRACTICE`.
        """
        with self._use() as snapshot:
            found = self._found(position, wanted, snapshot)
            statistics.first_arrivals(found)
            groups = list(self._files.groups(found.hits.games, snapshot))
        for part, group, first, where, rows in groups:
            with self._use() as current:
                self._unchanged(current is snapshot)
                columns = self._files.columns_of(part, group, first)
            yield from statistics.by_sift(found, where, rows, columns, snapshot)

    def orders(self, position: Position, wanted: Filter = _EVERYTHING, *, limit: int = 100) -> Orders:
        """The orders of moves, from the start of the game, by which games first reached a position."""
        with self._use() as snapshot:
            found = self._found(position, wanted, snapshot)
            statistics.first_arrivals(found)
            return statistics.count_orders(self._files, found, snapshot, limit)

    def balance(self) -> RatingBalance:
        """Results against expectation over all games, doubles once: what a position's balance is compared with."""
        with self._use() as snapshot:
            seen = self._seen_of(snapshot)
        if seen.balance is None:
            games, total = 0, 0.0
            for rows, columns in self.all_games():
                facts = columns.facts
                count, points = statistics.balance_of(
                    *(facts[name][rows] for name in ("result", "white_elo", "black_elo"))
                )
                games, total = games + count, total + points
            seen.balance = RatingBalance(games, total / games if games else 0.0)
        return seen.balance

    def _seen_of(self, snapshot: Snapshot) -> _Seen:
        """What was found in this snapshot so far."""
        if (known := self._seen.get(id(snapshot))) is None:
            known = self._seen[id(snapshot)] = _Seen(snapshot)
            if len(self._seen) > _SNAPSHOTS:
                self._seen.popitem(last=False)
        return known

    def _found(self, position: Position, wanted: Filter, snapshot: Snapshot) -> Found:
        seen, asked = self._seen_of(snapshot), (position, wanted)
        if seen.asked != asked or seen.found is None:
            hits = statistics.only_of(wanted, self._runs.look_up(position.key, snapshot), snapshot)
            found = statistics.verified(
                self._files, position, hits, self._doubles(hits.games, snapshot), snapshot
            )
            statistics.apply_filter(found, wanted)
            seen.asked, seen.found = asked, found
        return copy.copy(seen.found)  # callers narrow theirs; the columns themselves are never changed

    def _unchanged(self, is_same: bool) -> None:
        # What a reader began to read stays until it is closed, also where it sees newer games by now.
        if not is_same and self.mode is Mode.WRITE:
            raise StoreError("the store changed while it was read", remedy="try again", path=self.folder)

    def _doubles(self, games: NDArray[np.uint32], snapshot: Snapshot) -> dict[int, tuple[int, int, int]]:
        if not snapshot.has_doubles:
            return {}
        seen = self._seen_of(snapshot)
        if seen.few_doubles is None:
            seen.few_doubles = self._manifest.few_doubles()
        known = seen.few_doubles
        if not known:
            return self._manifest.doubles_among(games)
        numbers, groups = known
        return {int(numbers[row]): groups[row] for row in np.flatnonzero(np.isin(numbers, games)).tolist()}

    # Verdicts

    def add_verdicts(self, given: Iterable[Verdict]) -> int:
        """Add verdicts; those that are there already are passed over. Gives the number of new ones."""
        self._writer()
        with self._door():
            return verdicts.add_verdicts(self._manifest.connection, given)

    def clear_verdicts(self) -> None:
        """Forget all verdicts, before the author's files are read anew."""
        self._writer()
        with self._door():
            verdicts.clear_verdicts(self._manifest.connection)

    def deepest_verdicts(self, key: PositionKey) -> dict[str, Verdict]:
        """The verdict of greatest effort (nodes, then depth, then date) of each voice."""
        with self._door():
            return verdicts.deepest_verdicts(self._manifest.connection, key)

    def verdict_history(self, key: PositionKey, voice: str | None = None) -> tuple[Verdict, ...]:
        """All verdicts of a position, of one voice or of all, by date."""
        with self._door():
            return verdicts.verdict_history(self._manifest.connection, key, voice)

    def record_steps(self, records: list[StepRecord]) -> None:
        """Keep what steps of a build found, in one commit."""
        self._writer()
        with self._door():
            steps.record_steps(self._manifest.connection, records)

    def steps(self, name: str, *, limit: int = 1) -> tuple[StepRecord, ...]:
        """The latest records of a step, the newest first."""
        with self._door():
            return steps.steps_of(self._manifest.connection, name, limit)

    @property
    def births(self) -> Births:
        """Which build met a game first."""
        return Births(self._manifest, self._files, self._use, self._writer)

    @property
    def questions(self) -> QuestionQueue:
        """Questions that wait for voices."""
        return QuestionQueue(self._manifest.connection, self._door, self._writer)
