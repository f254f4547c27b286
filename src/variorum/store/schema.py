"""The manifest's tables, their version, and how an older version becomes this one."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from variorum.base import StoreError, StoreVersionError
from variorum.store.faults import damaged

__all__ = [
    "MIGRATIONS",
    "VERSION",
    "check",
    "connect",
    "connect_to_read",
    "nothing_sifted",
    "prepare",
    "quick_transaction",
    "transaction",
]

VERSION = 4
"""Version of tables, Parquet columns and fingerprints; raise it with every change of them."""

APPLICATION_ID = 0x56415249
"""Marks the SQLite file as ours ("VARI")."""

_STEPS = """
CREATE TABLE steps (
    id INTEGER PRIMARY KEY, name TEXT NOT NULL, key TEXT NOT NULL, made TEXT NOT NULL, good_until TEXT NOT NULL,
    result BLOB NOT NULL
);
CREATE INDEX steps_of_name ON steps (name, id);
"""

_QUESTIONS = """
CREATE TABLE question_request (request BLOB NOT NULL);
CREATE TABLE questions (
    number INTEGER PRIMARY KEY, epd TEXT NOT NULL, chess960 INTEGER NOT NULL, voice TEXT NOT NULL, reason TEXT NOT NULL,
    nodes INTEGER NOT NULL, depth INTEGER NOT NULL, seconds REAL NOT NULL, state TEXT NOT NULL, fault TEXT NOT NULL
);
"""


_BIRTHS = """
CREATE TABLE births (game INTEGER PRIMARY KEY, build INTEGER NOT NULL);
CREATE TABLE born_sifts (sift INTEGER PRIMARY KEY REFERENCES sifts ON DELETE CASCADE, build INTEGER NOT NULL);
"""


def _run(connection: sqlite3.Connection, statements: str) -> None:
    """Each statement in the transaction that is open; `executescript` would end it."""
    for statement in statements.split(";"):
        connection.execute(statement)


MIGRATIONS: dict[int, Callable[[sqlite3.Connection], None]] = {
    1: lambda connection: _run(connection, _STEPS),
    2: lambda connection: _run(connection, _QUESTIONS),
    3: lambda connection: _run(connection, _BIRTHS),
}
"""From version N to N + 1, each run in one transaction. Without one the store is made anew."""

_STRANGE = (
    "SELECT count(*) FROM sqlite_master WHERE type NOT IN ('table', 'index') OR sql LIKE 'CREATE VIRTUAL%'"
)
"""What would run when it is looked at or written, for ever perhaps: a store may come from somebody else."""

PATIENCE = 10.0
"""Seconds to wait for another connection's commit."""

_TABLES = """
CREATE TABLE facts (name TEXT PRIMARY KEY, value INTEGER NOT NULL) WITHOUT ROWID;
CREATE TABLE files (
    path TEXT PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL, inode INTEGER NOT NULL,
    checked_ns INTEGER NOT NULL, hash TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE sifts (
    id INTEGER PRIMARY KEY AUTOINCREMENT, source TEXT NOT NULL, cache_key TEXT NOT NULL, kind TEXT NOT NULL,
    voice TEXT NOT NULL, settings TEXT NOT NULL, finished INTEGER NOT NULL DEFAULT 0,
    compared INTEGER NOT NULL DEFAULT 0, sections INTEGER NOT NULL DEFAULT 0, untagged INTEGER NOT NULL DEFAULT 0,
    kept INTEGER NOT NULL DEFAULT 0, passed INTEGER NOT NULL DEFAULT 0, aside INTEGER NOT NULL DEFAULT 0,
    UNIQUE (source, cache_key)
);
CREATE TABLE parts (id INTEGER PRIMARY KEY, first_game INTEGER NOT NULL, games INTEGER NOT NULL, bytes INTEGER NOT NULL);
CREATE TABLE segments (
    first_game INTEGER PRIMARY KEY, games INTEGER NOT NULL, occurrences INTEGER NOT NULL,
    sift INTEGER NOT NULL REFERENCES sifts ON DELETE CASCADE, part INTEGER NOT NULL REFERENCES parts
);
CREATE INDEX segments_of_sift ON segments (sift);
CREATE INDEX segments_of_part ON segments (part);
CREATE TABLE runs (id INTEGER PRIMARY KEY, occurrences INTEGER NOT NULL, bytes INTEGER NOT NULL);
CREATE TABLE retired (path TEXT PRIMARY KEY) WITHOUT ROWID;
CREATE TABLE rejects (
    sift INTEGER NOT NULL REFERENCES sifts ON DELETE CASCADE, game_number INTEGER NOT NULL, file_offset INTEGER NOT NULL,
    length INTEGER NOT NULL, line INTEGER NOT NULL, reason TEXT NOT NULL, ply INTEGER NOT NULL, text TEXT NOT NULL
);
CREATE INDEX rejects_of_sift ON rejects (sift);
CREATE TABLE notes (
    sift INTEGER NOT NULL REFERENCES sifts ON DELETE CASCADE, file_offset INTEGER NOT NULL, length INTEGER NOT NULL,
    what TEXT NOT NULL
);
CREATE UNIQUE INDEX notes_of_sift ON notes (sift, file_offset, length, what);
CREATE TABLE doubles (
    game INTEGER PRIMARY KEY, representative INTEGER NOT NULL, fingerprint INTEGER NOT NULL, result INTEGER NOT NULL,
    date INTEGER NOT NULL
);
CREATE INDEX doubles_of_representative ON doubles (representative);
CREATE INDEX doubles_of_fingerprint ON doubles (fingerprint);
CREATE TABLE doubles_due (fingerprint INTEGER PRIMARY KEY);
CREATE TABLE verdicts (
    id INTEGER PRIMARY KEY, key INTEGER NOT NULL, voice TEXT NOT NULL, nodes INTEGER NOT NULL, depth INTEGER NOT NULL,
    date TEXT NOT NULL, content TEXT NOT NULL UNIQUE
);
CREATE INDEX verdicts_of_key ON verdicts (key, voice, nodes, depth);
INSERT INTO facts VALUES ('generation', 0), ('next_game', 1), ('next_file', 1);
"""


def connect(path: Path) -> sqlite3.Connection:
    """A connection that may write; the file is made when missing."""
    connection = sqlite3.connect(path, timeout=PATIENCE, isolation_level=None, check_same_thread=False)
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        # A file that a commit names may be deleted only once the commit that drops it is on the disk.
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def connect_to_read(path: Path) -> sqlite3.Connection:
    """A connection that only reads, also where the folder cannot be written (a write-protected medium)."""
    uri = f"{path.absolute().as_uri()}?mode=ro"
    for address in (uri, uri + "&immutable=1"):
        connection = sqlite3.connect(
            address, uri=True, timeout=PATIENCE, isolation_level=None, check_same_thread=False
        )
        try:
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
            return connection
        except sqlite3.OperationalError as error:
            connection.close()
            # Without its -wal file the manifest was closed in order and nobody can be writing here.
            unwritten = not path.with_name(path.name + "-wal").exists()
            retry = error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY)
            if not (retry and unwritten and address is uri):
                raise
    raise AssertionError("unreachable")


@contextmanager
def quick_transaction(connection: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    """As `transaction`, for what may be lost with the power: it does not wait for the disk."""
    connection.execute("PRAGMA synchronous = NORMAL")
    try:
        with transaction(connection):
            yield connection
    finally:
        connection.execute("PRAGMA synchronous = FULL")


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    """Everything inside is committed at the end, or nothing is."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield connection
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def prepare(connection: sqlite3.Connection, folder: Path) -> None:
    """Make the tables, or bring those of an older version to this one.

    Raises:
        StoreVersionError: Made by a newer Variorum, or too old for a migration.
        StoreError: It is no store.
    """
    if check(connection, folder) == 0:
        with transaction(connection):
            _run(connection, _TABLES + _STEPS + _QUESTIONS + _BIRTHS)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {VERSION}")
        return
    while (version := check(connection, folder)) < VERSION:
        with transaction(connection):
            MIGRATIONS[version](connection)
            connection.execute(f"PRAGMA user_version = {version + 1}")


def check(connection: sqlite3.Connection, folder: Path) -> int:
    """The store's version, 0 for an empty file; refuses what this Variorum cannot bring to its own version."""
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    mark: int = connection.execute("PRAGMA application_id").fetchone()[0]
    empty = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
    if empty and version == 0:
        return 0
    if mark != APPLICATION_ID:
        raise damaged(folder, "store.sqlite is not a store of Variorum")
    if connection.execute(_STRANGE).fetchone()[0]:
        raise damaged(folder, "store.sqlite holds more than tables, which no Variorum made")
    if version > VERSION:
        remedy = (
            f"use that newer version, or delete the folder {folder} and let this one make the store again"
        )
        raise StoreVersionError("the store was made by a newer Variorum", remedy=remedy, path=folder)
    if any(step not in MIGRATIONS for step in range(version, VERSION)):
        remedy = f"delete the folder {folder}; the next command makes it again from your files"
        raise StoreVersionError("the store was made by a much older Variorum", remedy=remedy, path=folder)
    return version


def nothing_sifted(folder: Path) -> StoreError:
    """The error for reading where no store is yet."""
    return StoreError("there is no store yet", remedy="'variorum sift PATH' brings games in", path=folder)
