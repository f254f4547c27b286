"""What is known of the content of a file, so that an unchanged one need not be read again."""

from __future__ import annotations

import enum
import hashlib
import sqlite3
import time
from pathlib import Path

from variorum.store.schema import quick_transaction

__all__ = ["Hashing", "content_hash"]

_SETTLED_NS = 2_000_000_000
"""A file that was hashed within two seconds of its last change may have changed again under the same time stamp."""


class Hashing(enum.Enum):
    """When a file's content is read to know whether it changed."""

    WHEN_NEEDED = "when needed"
    ALWAYS = "always"


def content_hash(
    connection: sqlite3.Connection, name: str, path: Path, hashing: Hashing = Hashing.WHEN_NEEDED
) -> str:
    """BLAKE2b of a file's bytes (hexadecimal), from memory where size, time of change (ns) and inode are the same.

    Raises:
        OSError: The file cannot be read.
    """
    before = path.stat()
    identity = (before.st_size, before.st_mtime_ns, before.st_ino)
    known = connection.execute(
        "SELECT size, mtime_ns, inode, checked_ns, hash FROM files WHERE path = ?", (name,)
    ).fetchone()
    if hashing is Hashing.WHEN_NEEDED and known is not None:
        size, mtime_ns, inode, checked_ns, remembered = known
        if identity == (size, mtime_ns, inode) and checked_ns - mtime_ns >= _SETTLED_NS:
            return str(remembered)
    checked_ns = time.time_ns()
    with path.open("rb") as file:
        found = hashlib.file_digest(file, lambda: hashlib.blake2b(digest_size=32)).hexdigest()
    with quick_transaction(connection):
        connection.execute(
            "INSERT OR REPLACE INTO files VALUES (?, ?, ?, ?, ?, ?)", (name, *identity, checked_ns, found)
        )
    return found
