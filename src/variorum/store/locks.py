"""Locks that the operating system releases when a process dies, however it dies.

SQLite already knows how to lock a file on every platform; each lock is an empty SQLite file that is never written.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

__all__ = ["Lock", "lock_now"]


class Lock:
    """A lock held from its making until `release`.

    Args:
        path: The lock's file; made when missing and `exclusive`.
        exclusive: Keep out every other holder, else only exclusive ones.
        patience: Seconds to wait for others.

    Raises:
        TimeoutError: Somebody else holds it.
        sqlite3.Error, OSError: The file cannot be used.
    """

    def __init__(self, path: Path, *, exclusive: bool, patience: float) -> None:
        mode = "rwc" if exclusive else "ro"
        uri = f"{path.absolute().as_uri()}?mode={mode}"
        self._connection = sqlite3.connect(
            uri, uri=True, timeout=patience, isolation_level=None, check_same_thread=False
        )
        try:
            if exclusive:
                self._connection.execute("BEGIN EXCLUSIVE")
            else:
                self._connection.execute("BEGIN")
                self._connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except sqlite3.OperationalError as error:
            self._connection.close()
            if error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY:
                raise TimeoutError(str(path)) from None
            raise

    def release(self) -> None:
        """Let others have it."""
        self._connection.close()


def lock_now(path: Path) -> Lock | None:
    """The exclusive lock at a path, made when missing; `None` where somebody else holds it or the file cannot be used."""
    try:
        return Lock(path, exclusive=True, patience=0)
    except (TimeoutError, sqlite3.Error, OSError):
        return None
