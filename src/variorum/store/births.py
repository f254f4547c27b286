"""Which build met a game first: so that news are told from what was there, also where a file was downloaded anew.

A game is known again by players, date and moves. Only the files that a build sifted anew are gone through. Playouts are no
news: whoever asked for them knows.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager

import numpy as np

from variorum.base import Progress, Silent
from variorum.store.games import GameFiles
from variorum.store.manifest import PLAYOUT, Manifest, Snapshot, signed
from variorum.store.schema import transaction

__all__ = ["Births"]

_COLUMNS = ["white", "black", "date", "start_fen", "moves"]
_IN_BLOCK = 10_000


class Births:
    """The births of one store.

    Args:
        manifest: What is written to and read.
        files: The records of games.
        use: Guards both, and gives the snapshot.
        writer: Raises where the store was opened to read only.
    """

    def __init__(
        self,
        manifest: Manifest,
        files: GameFiles,
        use: Callable[[], AbstractContextManager[Snapshot]],
        writer: Callable[[], object],
    ) -> None:
        self._manifest, self._files, self._use, self._writer = manifest, files, use, writer

    def record(self, build: int, known: Mapping[str, int], progress: Progress | None = None) -> None:
        """Note the build of every game that was not met before, all in one commit.

        Args:
            build: The number of this build.
            known: For a source whose content an earlier build had met already (the store was made anew since), its number.
            progress: Where to report.
        """
        self._writer()
        with self._use() as snapshot:
            done = {row[0] for row in self._manifest.connection.execute("SELECT sift FROM born_sifts")}
            sifts = snapshot.sifts
            # Sources whose age is known come first: a game in one of them and in a new one too is no news.
            fresh = sorted(
                (known.get(sift.source, build), number)
                for number, sift in sifts.items()
                if number not in done and sift.finished and sift.kind != PLAYOUT
            )
            if fresh:
                self._add(snapshot, fresh, progress or Silent())

    def _add(self, snapshot: Snapshot, fresh: list[tuple[int, int]], progress: Progress) -> None:
        connection = self._manifest.connection
        total = sum(snapshot.sifts[number].kept for _, number in fresh)
        with progress.task("new games", total=total, unit="games") as task, transaction(connection):
            for since, number in fresh:
                for _, hashes in _hashes(snapshot, self._files, number):
                    connection.executemany(
                        "INSERT OR IGNORE INTO births (game, build) VALUES (?, ?)",
                        ((one, since) for one in hashes),
                    )
                    task.advance(len(hashes))
                connection.execute("INSERT INTO born_sifts (sift, build) VALUES (?, ?)", (number, since))

    def since(self, build: int) -> list[int]:
        """The games that no build up to this one had met, ascending; of a game met twice one, and none where it was there in another copy."""
        with self._use() as snapshot:
            rows = self._manifest.connection.execute("SELECT sift FROM born_sifts WHERE build > ?", (build,))
            new = {
                game
                for (number,) in rows.fetchall()
                if number in snapshot.sifts
                for games, hashes in _hashes(snapshot, self._files, number)
                for game, one in zip(games, hashes, strict=True)
                if self._birth(one) > build
            }
            for first, *others in self._manifest.groups_of_doubles():
                copies = (first, *others)
                if not new.isdisjoint(copies):
                    new.difference_update(others if new.issuperset(copies) else copies)
            return sorted(new)

    def _birth(self, game: int) -> int:
        row = self._manifest.connection.execute("SELECT build FROM births WHERE game = ?", (game,)).fetchone()
        return 0 if row is None else int(row[0])


def _hashes(snapshot: Snapshot, files: GameFiles, sift: int) -> Iterator[tuple[list[int], list[int]]]:
    """Numbers and hashes of the games of a sift, in blocks."""
    for segment in np.flatnonzero(snapshot.sift_ids == sift).tolist():
        for first in range(int(snapshot.starts[segment]), int(snapshot.ends[segment]), _IN_BLOCK):
            end = min(first + _IN_BLOCK, int(snapshot.ends[segment]))
            games = np.arange(first, end, dtype=np.uint32)
            columns = [files.table(games, snapshot, [name]).column(0).to_pylist() for name in _COLUMNS]
            yield games.tolist(), [_hash(*row) for row in zip(*columns, strict=True)]


def _hash(white: str, black: str, date: int, start: str, moves: bytes) -> int:
    text = "\x1f".join((white, black, str(date), start)).encode("utf-8", "surrogatepass")
    digest = hashlib.blake2b(text + b"\x1f" + moves, digest_size=8).digest()
    return signed(int.from_bytes(digest, "little"))
