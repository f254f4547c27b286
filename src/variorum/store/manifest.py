"""The manifest: which files make up the store, which games in them count, and the commits that change this.

Games carry numbers that are never used twice. A *segment* is the run of numbers that one commit gave to one sift; a game
is there when its segment is. *Runs* of occurrences are only an index over game numbers: rows of games that are gone are
passed over when read and dropped when runs are merged. A sift that is not finished is seen at once when its source is
new, and in one step when it is finished where it replaces an older sift of the same source.
"""

from __future__ import annotations

import itertools
import re
import sqlite3
from collections.abc import Iterable, Iterator
from pathlib import Path

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum.store.doubles import Double
from variorum.store.schema import quick_transaction, transaction

__all__ = [
    "GAMES",
    "MANIFEST",
    "OCCURRENCES",
    "PLAYOUT",
    "Doubles",
    "Manifest",
    "SiftRecord",
    "Snapshot",
    "part_name",
    "run_name",
    "signed",
]

MANIFEST = "store.sqlite"
GAMES = "games"
OCCURRENCES = "occurrences"
_OWN = re.compile(rf"(?:{GAMES}|{OCCURRENCES})/[0-9]+\.parquet")
"""Files that are the store's: no other is taken away, whatever a store that comes from somebody else may name."""

PLAYOUT = "playout"
"""Kind of games that voices played out from a position that the author chose: evidence of a kind of its own."""

Doubles = tuple[NDArray[np.uint32], list[tuple[int, int, int]]]
"""Games and, of the group of each, representative, result and date."""
_FEW = 50_000
"""So many games with doubles are held in memory; more are looked up each time."""

_VISIBLE = """
    (sifts.finished = 1 OR NOT EXISTS (
        SELECT 1 FROM sifts AS other WHERE other.source = sifts.source AND other.finished = 1))
"""


def signed(number: int) -> int:
    """An unsigned 64-bit number as SQLite keeps it."""
    return number - (1 << 64) if number >= 1 << 63 else number


def part_name(part: int) -> str:
    """A part's file, relative to the store."""
    return f"{GAMES}/{part:08}.parquet"


def run_name(run: int) -> str:
    """A run's file, relative to the store."""
    return f"{OCCURRENCES}/{run:08}.parquet"


class SiftRecord(msgspec.Struct, frozen=True, kw_only=True):
    """One sift of one source, with what it met: kept + passed + aside = sections + untagged."""

    id: int
    source: str
    cache_key: str
    kind: str
    voice: str
    settings: dict[str, object]
    finished: bool
    sections: int
    untagged: int
    kept: int
    passed: int
    aside: int

    @property
    def voices(self) -> tuple[str, ...]:
        """Who speaks in the source: one voice, or the two that play each other."""
        return tuple(self.voice.split(", ")) if self.voice else ()

    @property
    def met(self) -> int:
        """Games dealt with so far."""
        return self.kept + self.passed + self.aside


class Snapshot(msgspec.Struct, frozen=True, kw_only=True):
    """The manifest at one moment. Arrays go by segment, in ascending order of game numbers; only what is visible."""

    generation: int
    starts: NDArray[np.uint32]
    """First game of each segment."""
    ends: NDArray[np.uint32]
    """One past the last game of each segment."""
    sift_ids: NDArray[np.int64]
    part_ids: NDArray[np.int64]
    part_starts: dict[int, int]
    """First game of each part."""
    runs: tuple[tuple[int, int], ...]
    """Run and its number of occurrences."""
    sifts: dict[int, SiftRecord]
    games: int
    """Without playouts."""
    has_doubles: bool

    def segments_of(self, games: NDArray[np.uint32]) -> NDArray[np.int64]:
        """The segment of each game, -1 where the game is not there."""
        found = np.searchsorted(self.starts, games, "right") - 1
        if len(self.ends) == 0:
            return found
        return np.where((found >= 0) & (games < self.ends[found]), found, -1)

    def is_playout(self, segments: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Which segments hold playouts."""
        playouts = [sift.id for sift in self.sifts.values() if sift.kind == PLAYOUT]
        return np.isin(self.sift_ids[segments], playouts)


class Manifest:
    """All SQL about files and games. The caller translates faults (`faults.store_faults`)."""

    def __init__(self, connection: sqlite3.Connection, folder: Path) -> None:
        self.connection = connection
        self.folder = folder

    def fact(self, name: str) -> int:
        """A counter of the store."""
        value: int = self.connection.execute("SELECT value FROM facts WHERE name = ?", (name,)).fetchone()[0]
        return value

    def raise_fact(self, name: str, value: int) -> None:
        """Bring a counter to a value at least, inside a transaction."""
        self.connection.execute("UPDATE facts SET value = max(value, ?) WHERE name = ?", (value, name))

    def snapshot(self) -> Snapshot:
        """What is visible now, read in one transaction."""
        self.connection.execute("BEGIN")
        try:
            return self._snapshot()
        finally:
            self.connection.execute("COMMIT")

    def _snapshot(self) -> Snapshot:
        sifts = {sift.id: sift for sift in self.sifts(f"WHERE {_VISIBLE}")}
        rows = self.connection.execute(
            "SELECT first_game, first_game + segments.games, sift, part FROM segments "
            f"JOIN sifts ON sifts.id = segments.sift WHERE {_VISIBLE} ORDER BY first_game"
        ).fetchall()
        table = np.array(rows, np.int64).reshape(len(rows), 4)
        counts = [sifts[sift].kind != PLAYOUT for sift in table[:, 2].tolist()]
        return Snapshot(
            generation=self.fact("generation"),
            starts=table[:, 0].astype(np.uint32),
            ends=table[:, 1].astype(np.uint32),
            sift_ids=table[:, 2].copy(),
            part_ids=table[:, 3].copy(),
            part_starts=dict(self.connection.execute("SELECT id, first_game FROM parts")),
            runs=tuple(self.connection.execute("SELECT id, occurrences FROM runs ORDER BY id")),
            sifts=sifts,
            games=int((table[:, 1] - table[:, 0])[counts].sum()),
            has_doubles=self.connection.execute("SELECT EXISTS (SELECT 1 FROM doubles)").fetchone()[0] == 1,
        )

    def sifts(self, condition: str = "", values: tuple[object, ...] = ()) -> list[SiftRecord]:
        """The sifts that satisfy a condition, by source."""
        columns = (
            "id, source, cache_key, kind, voice, settings, finished, sections, untagged, kept, passed, aside"
        )
        found = self.connection.execute(
            f"SELECT {columns} FROM sifts {condition} ORDER BY source, id", values
        )
        return [
            SiftRecord(
                id=row[0],
                source=row[1],
                cache_key=row[2],
                kind=row[3],
                voice=row[4],
                settings=msgspec.json.decode(row[5], type=dict[str, object]),
                finished=row[6] == 1,
                sections=row[7],
                untagged=row[8],
                kept=row[9],
                passed=row[10],
                aside=row[11],
            )
            for row in found
        ]

    def is_finished(self, source: str, cache_key: str) -> bool:
        """Whether a source was sifted to its end under a key."""
        return bool(self.sifts("WHERE source = ? AND cache_key = ? AND finished = 1", (source, cache_key)))

    def open_sift(
        self, source: str, cache_key: str, kind: str, voice: str, settings: dict[str, object]
    ) -> SiftRecord:
        """The sift to go on with: an unfinished one of this key, or a new one; other unfinished ones are dropped."""
        with quick_transaction(self.connection):
            stale = self.sifts("WHERE source = ? AND cache_key <> ? AND finished = 0", (source, cache_key))
            self._drop([sift.id for sift in stale])
            self.connection.execute(
                "INSERT INTO sifts (source, cache_key, kind, voice, settings) VALUES (?, ?, ?, ?, ?) "
                "ON CONFLICT DO NOTHING",
                (source, cache_key, kind, voice, msgspec.json.encode(settings).decode()),
            )
            self.changed()
        return self.sifts("WHERE source = ? AND cache_key = ?", (source, cache_key))[0]

    def finish(self, sift: int) -> None:
        """Mark a sift as finished and drop what it replaces, inside a transaction."""
        older = "WHERE source = (SELECT source FROM sifts WHERE id = ?) AND id <> ?"
        self._drop([other.id for other in self.sifts(older, (sift, sift))])
        self.connection.execute("UPDATE sifts SET finished = 1 WHERE id = ?", (sift,))
        self.changed()

    def drop_sift(self, sift: int) -> None:
        """Take a sift and its games out of the store."""
        with transaction(self.connection):
            self._drop([sift])
            self.changed()

    def forget(self, source: str) -> bool:
        """Take a source and its games out of the store; whether it was there."""
        with transaction(self.connection):
            gone = [sift.id for sift in self.sifts("WHERE source = ?", (source,))]
            self._drop(gone)
            self.changed()
        return bool(gone)

    def _drop(self, sifts: list[int]) -> None:
        for sift in sifts:
            inside = "game IN (SELECT game FROM doubles JOIN segments ON game >= first_game AND game < first_game + games WHERE sift = ?)"
            # What was grouped with a game that goes must be grouped again.
            self.connection.execute(
                f"INSERT OR IGNORE INTO doubles_due SELECT fingerprint FROM doubles WHERE {inside}", (sift,)
            )
            self.connection.execute(f"DELETE FROM doubles WHERE {inside}", (sift,))
            self.connection.execute("DELETE FROM sifts WHERE id = ?", (sift,))
        empty = "SELECT id FROM parts WHERE NOT EXISTS (SELECT 1 FROM segments WHERE part = parts.id)"
        for (part,) in self.connection.execute(empty).fetchall():
            self.connection.execute("DELETE FROM parts WHERE id = ?", (part,))
            self.retire(part_name(part))

    def to_compare(self) -> tuple[set[int], NDArray[np.uint64]]:
        """Visible sifts whose games were not compared for doubles yet, and fingerprints whose groups lost a game."""
        sifts = {sift.id for sift in self.sifts(f"WHERE compared = 0 AND kind <> '{PLAYOUT}' AND {_VISIBLE}")}
        due = [one for (one,) in self.connection.execute("SELECT fingerprint FROM doubles_due")]
        return sifts, np.array(due, np.int64).view(np.uint64)

    def compared(self, sifts: set[int], due: NDArray[np.uint64]) -> None:
        """Commit that these were compared; an unfinished sift is compared again."""
        with transaction(self.connection):
            ids = [(sift,) for sift in sifts]
            self.connection.executemany("UPDATE sifts SET compared = 1 WHERE id = ? AND finished = 1", ids)
            gone = [(one,) for one in due.view(np.int64).tolist()]
            self.connection.executemany("DELETE FROM doubles_due WHERE fingerprint = ?", gone)
            # What is left alone of a group stands in the table with itself.
            self.connection.execute(
                "DELETE FROM doubles WHERE representative IN "
                "(SELECT representative FROM doubles GROUP BY representative HAVING count(*) = 1)"
            )
            self.changed()

    def add_doubles(self, doubles: Iterable[Double]) -> None:
        """Add games of groups, inside a transaction."""
        self.connection.executemany(
            "INSERT INTO doubles VALUES (?, ?, ?, ?, ?)",
            (
                (one.game, one.representative, signed(one.fingerprint), one.result, one.date)
                for one in doubles
            ),
        )

    def doubles_among(self, games: NDArray[np.uint32]) -> dict[int, tuple[int, int, int]]:
        """Of ascending games, those with doubles: representative, result and date of the group."""
        found: dict[int, tuple[int, int, int]] = {}
        for begin in range(0, len(games), 5_000):
            some = games[begin : begin + 5_000].tolist()
            rows = self.connection.execute(
                "SELECT game, representative, result, date FROM doubles "
                "WHERE game IN (SELECT value FROM json_each(?))",
                (msgspec.json.encode(some).decode(),),
            )
            found.update({game: (lead, result, date) for game, lead, result, date in rows})
        return found

    def few_doubles(self) -> Doubles | tuple[()]:
        """All games that have doubles, ascending, each with representative, result and date of its group; `()` where they are many."""
        rows = self.connection.execute(
            "SELECT game, representative, result, date FROM doubles ORDER BY game LIMIT ?", (_FEW + 1,)
        ).fetchall()
        if len(rows) > _FEW:
            return ()
        return np.array([row[0] for row in rows], np.uint32), [(row[1], row[2], row[3]) for row in rows]

    def count_doubles(self) -> int:
        """The number of groups."""
        found: int = self.connection.execute("SELECT count(DISTINCT representative) FROM doubles").fetchone()[
            0
        ]
        return found

    def groups_of_doubles(self) -> Iterator[tuple[int, ...]]:
        """Groups, the representative first, the others ascending."""
        rows = self.connection.execute(
            "SELECT representative, game FROM doubles ORDER BY 1, game <> representative, game"
        )
        for _, group in itertools.groupby(rows, lambda row: int(row[0])):
            yield tuple(game for _, game in group)

    def retire(self, name: str) -> None:
        """Note a file that the manifest no longer needs, inside a transaction; deleted when nobody reads."""
        self.connection.execute("INSERT OR IGNORE INTO retired VALUES (?)", (name,))

    def retired(self) -> list[str]:
        """Files that wait to be deleted."""
        return [name for (name,) in self.connection.execute("SELECT path FROM retired")]

    def swap_runs(self, old: list[int], new: tuple[int, int, int]) -> None:
        """Commit a merge: the runs `old` give way to the run `new` (id, occurrences, bytes)."""
        with transaction(self.connection):
            for run in old:
                self.connection.execute("DELETE FROM runs WHERE id = ?", (run,))
                self.retire(run_name(run))
            self.connection.execute("INSERT INTO runs VALUES (?, ?, ?)", new)
            self.raise_fact("next_file", new[0] + 1)
            self.changed()

    def live_ranges(self) -> tuple[NDArray[np.uint32], NDArray[np.uint32]]:
        """Ranges of numbers whose games are in the store, visible or not, neighbours joined."""
        rows = self.connection.execute(
            "SELECT first_game, first_game + games FROM segments ORDER BY 1"
        ).fetchall()
        table = np.array(rows, np.int64).reshape(len(rows), 2)
        breaks = np.flatnonzero(table[1:, 0] != table[:-1, 1])
        starts = np.concatenate([table[:1, 0], table[breaks + 1, 0]])
        ends = np.concatenate([table[breaks, 1], table[-1:, 1]])
        return starts.astype(np.uint32), ends.astype(np.uint32)

    def occurrences(self) -> tuple[int, int]:
        """Occurrences of games in the store, and rows in all runs."""
        live = self.connection.execute("SELECT total(occurrences) FROM segments").fetchone()[0]
        rows = self.connection.execute("SELECT total(occurrences) FROM runs").fetchone()[0]
        return int(live), int(rows)

    def changed(self) -> None:
        """Tell readers that something changed, inside a transaction."""
        self.connection.execute("UPDATE facts SET value = value + 1 WHERE name = 'generation'")

    def remove_orphans(self) -> None:
        """Delete files that no row names: left by a process that died before its commit."""
        known = {run_name(run) for (run,) in self.connection.execute("SELECT id FROM runs")}
        known |= {part_name(part) for (part,) in self.connection.execute("SELECT id FROM parts")}
        known |= set(self.retired())
        for name in (GAMES, OCCURRENCES):
            for path in (self.folder / name).iterdir():
                if f"{name}/{path.name}" not in known:
                    path.unlink()

    def remove_retired(self) -> None:
        """Delete the files that wait for it; one that cannot be deleted now is tried again later."""
        names = self.retired()
        if not names:
            return
        # The commit that dropped them must be on the disk before they go.
        with transaction(self.connection):
            self.changed()
        gone = []
        for name in names:
            if _OWN.fullmatch(name):
                try:
                    (self.folder / name).unlink(missing_ok=True)
                except OSError:
                    continue
            gone.append((name,))
        with transaction(self.connection):
            self.connection.executemany("DELETE FROM retired WHERE path = ?", gone)
