"""Runs of occurrences: looking a key up, merging several runs into one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from variorum import _core
from variorum.base import Progress, Silent
from variorum.store.batch import OccurrenceColumns
from variorum.store.columns import ROWS_IN_GROUP, occurrence_table, occurrence_writer
from variorum.store.handles import Handles
from variorum.store.manifest import Snapshot, run_name

__all__ = ["Occurrences", "RunIndex", "merge_into", "runs_to_merge"]

_MERGE_ROWS = 1 << 18
"""Rows held while merging, over all runs; a row group of each at least."""

MOST_RUNS = 8
"""Runs that may lie side by side before a merge is worth its time."""

MOST_MERGED = 24
"""Runs that one merge takes at most: each needs an open file and a row group in memory."""

_PAYLOAD = ["game", "ply", "move"]


class Occurrences(msgspec.Struct, frozen=True):
    """Where one position occurs, sorted by game and ply: (n,) columns."""

    games: NDArray[np.uint32]
    plies: NDArray[np.uint16]
    """Plies played before the position."""
    moves: NDArray[np.uint16]
    """Packed move played there; 0 at the end of the game."""

    def __len__(self) -> int:
        return len(self.games)

    def only(self, mask: NDArray[np.bool_] | NDArray[np.int64]) -> Occurrences:
        """Those of a mask or of indices."""
        return Occurrences(self.games[mask], self.plies[mask], self.moves[mask])


class RunIndex:
    """First and last key of every row group of every run: what is kept in memory to look keys up.

    16 bytes for 16,384 occurrences.
    """

    def __init__(self, handles: Handles) -> None:
        self._handles = handles
        self._bounds: dict[int, tuple[NDArray[np.uint64], NDArray[np.uint64]]] = {}

    def keep(self, runs: Iterable[int]) -> None:
        """Forget all runs but these."""
        wanted = set(runs)
        self._bounds = {run: bounds for run, bounds in self._bounds.items() if run in wanted}

    def look_up(self, key: int, snapshot: Snapshot) -> Occurrences:
        """Where a key occurs in visible games; whether it is the position is for a replay to say."""
        found = list(self._hits(key, snapshot))
        if not found:
            return Occurrences(np.zeros(0, np.uint32), np.zeros(0, np.uint16), np.zeros(0, np.uint16))
        games, plies, moves = (np.concatenate(columns) for columns in zip(*found, strict=True))
        rank = games.astype(np.uint64) << np.uint64(16) | plies
        # Runs mostly follow one another in the order of games.
        if (rank[1:] < rank[:-1]).any():
            order = np.argsort(rank, kind="stable")
            games, plies, moves = games[order], plies[order], moves[order]
        return Occurrences(games, plies, moves)

    def has(self, key: int, snapshot: Snapshot) -> bool:
        """Whether a key occurs in a visible game that is no playout; the first one found is enough."""
        return any(
            not snapshot.is_playout(snapshot.segments_of(games)).all()
            for games, _, _ in self._hits(key, snapshot)
        )

    def _hits(self, key: int, snapshot: Snapshot) -> Iterator[tuple[NDArray[Any], ...]]:
        """Games, plies and moves of a key in visible games, row group by row group; none is empty."""
        wanted = np.uint64(key)
        for run, _ in snapshot.runs:
            firsts, lasts = self._of(run)
            begin = int(np.searchsorted(lasts, wanted, "left"))
            end = int(np.searchsorted(firsts, wanted, "right"))
            for group in range(begin, end):
                file = self._handles.file(run_name(run))
                keys = file.read_row_group(group, columns=["key"], use_threads=False).column(0).to_numpy()
                low, high = np.searchsorted(keys, wanted, "left"), np.searchsorted(keys, wanted, "right")
                if low == high:
                    continue
                rows = file.read_row_group(group, columns=_PAYLOAD, use_threads=False)
                games, plies, moves = (column.to_numpy()[low:high] for column in rows.columns)
                seen = snapshot.segments_of(games) >= 0
                if seen.any():
                    yield (games, plies, moves) if seen.all() else (games[seen], plies[seen], moves[seen])

    def _of(self, run: int) -> tuple[NDArray[np.uint64], NDArray[np.uint64]]:
        if (known := self._bounds.get(run)) is None:
            metadata = self._handles.file(run_name(run)).metadata
            groups = [
                metadata.row_group(index).column(0).statistics for index in range(metadata.num_row_groups)
            ]
            known = (
                np.array([group.min for group in groups], np.uint64),
                np.array([group.max for group in groups], np.uint64),
            )
            self._bounds[run] = known
        return known


def runs_to_merge(runs: Iterable[tuple[int, int]], live: int) -> list[int]:
    """Which runs (id, rows) to merge into one; empty when all is well.

    The smaller runs are merged until at most `MOST_RUNS` remain, and with them each that is not much larger than they
    are together, so that a row is copied O(log n) times in the life of a store. When a quarter of all rows is dead,
    everything is merged.
    """
    ascending = sorted(runs, key=lambda run: (run[1], run[0]))
    if sum(rows for _, rows in ascending) * 3 > live * 4 and ascending:
        return [run for run, _ in ascending[:MOST_MERGED]]
    if len(ascending) <= MOST_RUNS:
        return []
    take = len(ascending) - MOST_RUNS + 1
    total = sum(rows for _, rows in ascending[:take])
    while take < len(ascending) and ascending[take][1] <= 2 * total:
        total += ascending[take][1]
        take += 1
    return [run for run, _ in ascending[: min(take, MOST_MERGED)]]


class _Source:
    """One run being merged: the part of it that is in memory."""

    def __init__(self, file: Any, rows: int) -> None:
        self._file = file
        self._groups = max(1, rows // ROWS_IN_GROUP)
        self._next = 0
        self.columns: OccurrenceColumns = _empty()

    @property
    def more(self) -> bool:
        return self._next < int(self._file.num_row_groups)

    def fill(self) -> None:
        """Read on when everything in memory has been used up."""
        while len(self.columns[0]) == 0 and self.more:
            groups = list(range(self._next, min(self._next + self._groups, self._file.num_row_groups)))
            self._next = groups[-1] + 1
            table = self._file.read_row_groups(groups, use_threads=False)
            keys, games, plies, moves = (column.to_numpy() for column in table.columns)
            self.columns = (keys, games, plies, moves)

    def use(self, count: int) -> None:
        keys, games, plies, moves = self.columns
        self.columns = (keys[count:], games[count:], plies[count:], moves[count:])


def _empty() -> OccurrenceColumns:
    return np.zeros(0, np.uint64), np.zeros(0, np.uint32), np.zeros(0, np.uint16), np.zeros(0, np.uint16)


def _merged(
    sources: list[_Source], live: tuple[NDArray[np.uint32], NDArray[np.uint32]]
) -> Iterator[OccurrenceColumns]:
    while True:
        for source in sources:
            source.fill()
        sources = [source for source in sources if len(source.columns[0])]
        if not sources:
            return
        taken, columns = _core.merge_runs([(*source.columns, source.more) for source in sources], *live)
        for source, count in zip(sources, taken, strict=True):
            source.use(count)
        yield columns


def merge_into(
    path: Path,
    folder: Path,
    runs: list[int],
    live: tuple[NDArray[np.uint32], NDArray[np.uint32]],
    progress: Progress | None = None,
) -> int:
    """Write the merge of runs to `path`, rows of games outside the live ranges left out; gives the number of rows.

    Memory does not depend on the size of the runs.
    """
    handles = Handles(folder)
    try:
        # A merge opens all its runs at once; each is read front to back by its own handle.
        files = [handles.file(run_name(run)) for run in runs]
        share = _MERGE_ROWS // max(1, len(files))
        total = sum(file.metadata.num_rows for file in files)
        written = 0
        with (
            (progress or Silent()).task("merge", total=total, unit="occurrences") as task,
            occurrence_writer(path) as writer,
        ):
            waiting: list[Any] = []
            for columns in _merged([_Source(file, share) for file in files], live):
                task.advance(len(columns[0]))
                waiting.append(occurrence_table(columns))
                written += len(columns[0])
                if sum(table.num_rows for table in waiting) >= _MERGE_ROWS:
                    waiting = _write_whole_groups(writer, waiting)
            _write_whole_groups(writer, [*waiting, occurrence_table(_empty())], last=True)
        return written
    finally:
        handles.close()


def _write_whole_groups(writer: Any, waiting: list[Any], *, last: bool = False) -> list[Any]:
    """Write as many rows as fill row groups; the rest waits, unless it is the last."""
    table = pa.concat_tables(waiting)
    whole = table.num_rows if last else table.num_rows - table.num_rows % ROWS_IN_GROUP
    if whole:
        writer.write_table(table.slice(0, whole).combine_chunks(), row_group_size=ROWS_IN_GROUP)
    return [table.slice(whole)]
