"""Finding doubles after a sift: only sets of equal beginnings with a new or a lost game are looked at again.

Memory is bounded: fingerprints are gone through in as many passes as their number asks for, games in portions.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from variorum.base import Progress
from variorum.store.doubles import Candidate, Double, group_doubles, share_a_beginning
from variorum.store.games import GameFiles
from variorum.store.handles import Handles
from variorum.store.manifest import PLAYOUT, Manifest, Snapshot, part_name
from variorum.store.schema import transaction

__all__ = ["find_doubles"]

_IN_PASS = 500_000
"""Fingerprints held at a time, on average."""

_IN_PORTION = 50_000
"""Games held as columns at a time; more where a larger set has equal beginnings."""

_IN_BLOCK = 2_000
"""Games turned into objects at a time."""

_COLUMNS = ["game_number", "start_fen", "moves", "white", "black", "result", "date", "fingerprint"]


def find_doubles(
    manifest: Manifest, snapshot: Snapshot, handles: Handles, files: GameFiles, progress: Progress
) -> None:
    """Bring the table of doubles up to date with the visible games."""
    fresh_sifts, due = manifest.to_compare()
    if not fresh_sifts and not len(due):
        return
    passes = max(1, -(-snapshot.games // _IN_PASS))
    with progress.task("doubles", total=snapshot.games * passes, unit="games") as task:
        for number in range(passes):
            prints, games, fresh = [], [], []
            for these, their_games, is_fresh in _fingerprints(snapshot, handles, fresh_sifts):
                task.advance(len(these))
                mask = (these % np.uint64(passes) == number) & (these != 0)
                prints.append(these[mask])
                games.append(their_games[mask])
                fresh.append(np.full(int(mask.sum()), is_fresh))
            if not prints:
                continue
            found, numbers = np.concatenate(prints), np.concatenate(games)
            new = np.concatenate(fresh) | np.isin(found, due)
            chosen = share_a_beginning(found, new)
            for portion in _portions(found[chosen], _IN_PORTION):
                some = chosen[portion]
                doubles = _doubles_of(numbers[some], found[some], files, snapshot)
                _replace(manifest, np.unique(found[some]), doubles)
    manifest.compared(fresh_sifts, due)


def _fingerprints(
    snapshot: Snapshot, handles: Handles, fresh_sifts: set[int]
) -> Iterator[tuple[NDArray[np.uint64], NDArray[np.uint32], bool]]:
    # Playouts from one position may well be alike; none is another's double.
    part_at_hand, column = -1, np.zeros(0, np.uint64)
    table = zip(
        snapshot.starts, snapshot.ends, snapshot.sift_ids.tolist(), snapshot.part_ids.tolist(), strict=True
    )
    for start, end, sift, part in table:
        if snapshot.sifts[sift].kind == PLAYOUT:
            continue
        if part != part_at_hand:
            file = handles.file(part_name(part))
            column = file.read(columns=["fingerprint"], use_threads=False).column(0).to_numpy()
            part_at_hand = part
        first = snapshot.part_starts[part]
        yield column[start - first : end - first], np.arange(start, end, dtype=np.uint32), sift in fresh_sifts


def _portions(prints: NDArray[np.uint64], size: int) -> Iterator[slice]:
    """Slices of about `size` that do not part equal values."""
    begin = 0
    while begin < len(prints):
        end = min(begin + size, len(prints))
        end += int(np.searchsorted(prints[end:], prints[end - 1], "right"))
        yield slice(begin, end)
        begin = end


def _doubles_of(
    games: NDArray[np.uint32], prints: NDArray[np.uint64], files: GameFiles, snapshot: Snapshot
) -> Iterator[Double]:
    """Groups among games that are sorted by fingerprint."""
    order = np.argsort(games, kind="stable")
    table = files.table(games[order], snapshot, _COLUMNS).combine_chunks()
    place = np.empty(len(order), np.int64)
    place[order] = np.arange(len(order))
    sifts = snapshot.sift_ids[snapshot.segments_of(games)].tolist()
    members: list[Candidate] = []
    beginning = None
    for begin in range(0, len(games), _IN_BLOCK):
        block = slice(begin, begin + _IN_BLOCK)
        rows = table.take(pa.array(place[block])).to_pylist()
        for game, sift, row in zip(games[block].tolist(), sifts[block], rows, strict=True):
            if row["fingerprint"] != beginning:
                yield from group_doubles(members)
                members, beginning = [], row["fingerprint"]
            members.append(Candidate(game, snapshot.sifts[sift].source, **row))
    yield from group_doubles(members)


def _replace(manifest: Manifest, prints: NDArray[np.uint64], doubles: Iterable[Double]) -> None:
    """Put the groups of some sets of equal beginnings in place of the former ones."""
    with transaction(manifest.connection):
        signed = prints.view(np.int64).tolist()
        manifest.connection.executemany(
            "DELETE FROM doubles WHERE fingerprint = ?", [(one,) for one in signed]
        )
        manifest.add_doubles(doubles)
