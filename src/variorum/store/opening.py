"""Opening the manifest: who may write, what a reader needs, and an older version brought to this one."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Final

from variorum.base import StoreBusyError
from variorum.edition.folder import place_to_write
from variorum.store.locks import Lock
from variorum.store.manifest import GAMES, MANIFEST, OCCURRENCES
from variorum.store.schema import VERSION, check, connect, connect_to_read, nothing_sifted, prepare

__all__ = ["READERS", "open_to_read", "open_to_write"]

READERS: Final = "readers.lock"
"""Held in common by readers; a writer deletes files only while it has it alone."""
_WRITER: Final = "writer.lock"
_WRITTEN: Final = (
    GAMES,
    OCCURRENCES,
    MANIFEST,
    f"{MANIFEST}-wal",
    f"{MANIFEST}-shm",
    f"{MANIFEST}-journal",
    _WRITER,
    READERS,
)
"""What a writer writes or takes away: an edition that comes from somebody else may have links in their place."""


def open_to_write(folder: Path) -> tuple[sqlite3.Connection, Lock]:
    """The manifest of a folder, made where it is missing, and the lock that keeps other writers out.

    Raises:
        StoreBusyError: Another process writes.
        StoreError: It is no store, or one of another version that cannot become this one.
        InputError: A symbolic link in it leads out of it.
    """
    for name in _WRITTEN:
        place_to_write(folder, name)
    for name in (GAMES, OCCURRENCES):
        (folder / name).mkdir(parents=True, exist_ok=True)
    try:
        lock = Lock(folder / _WRITER, exclusive=True, patience=0.0)
    except TimeoutError:
        remedy = "wait until it has finished, or stop it; reading is possible meanwhile"
        raise StoreBusyError("another process writes to the store", remedy=remedy, path=folder) from None
    try:
        connection = connect(folder / MANIFEST)
        try:
            prepare(connection, folder)
            # Readers lock this file and could not make it where they may not write.
            (folder / READERS).touch()
        except BaseException:
            connection.close()
            raise
    except BaseException:
        lock.release()
        raise
    return connection, lock


def open_to_read(folder: Path) -> tuple[sqlite3.Connection, Lock]:
    """The manifest of a folder, and the lock that keeps what a reader needs.

    Raises:
        StoreBusyError: A writer is removing files, or has the store while it is of an older version.
        StoreError: There is none, or one of another version that cannot become this one.
    """
    if not (folder / MANIFEST).is_file() or not (folder / READERS).is_file():
        raise nothing_sifted(folder)
    try:
        lock = Lock(folder / READERS, exclusive=False, patience=10.0)
    except TimeoutError:
        raise StoreBusyError("files are being removed", remedy="try again", path=folder) from None
    try:
        connection = connect_to_read(folder / MANIFEST)
        try:
            version = check(connection, folder)
        except BaseException:
            connection.close()
            raise
        if version == VERSION:
            return connection, lock
        connection.close()
        if version == 0:
            raise nothing_sifted(folder)
        # An older version becomes this one; no other process may be writing then.
        writing, writer = open_to_write(folder)
        writing.close()
        writer.release()
        return connect_to_read(folder / MANIFEST), lock
    except BaseException:
        lock.release()
        raise
