"""What is known of the content of a file, so that an unchanged one need not be read again."""

from __future__ import annotations

import enum
import hashlib
import sqlite3
from pathlib import Path

from variorum.store.schema import quick_transaction

__all__ = ["Hashing", "hash_of", "identity_of", "remember_hash", "remembered_hash"]

_SETTLED_NS = 2_000_000_000
"""A file that was hashed within two seconds of its last change may have changed again under the same time stamp."""


class Hashing(enum.Enum):
    """When a file's content is read to know whether it changed."""

    WHEN_NEEDED = "when needed"
    ALWAYS = "always"


def identity_of(path: Path) -> tuple[int, int, int]:
    """Size, time of change (ns) and inode (on Windows the file's index)."""
    found = path.stat()
    return found.st_size, found.st_mtime_ns, found.st_ino


def remembered_hash(connection: sqlite3.Connection, name: str, identity: tuple[int, int, int]) -> str | None:
    """The hash of an unchanged file that was settled when it was hashed, else `None`."""
    known = connection.execute(
        "SELECT size, mtime_ns, inode, checked_ns, hash FROM files WHERE path = ?", (name,)
    ).fetchone()
    if known is None:
        return None
    size, mtime_ns, inode, checked_ns, found = known
    settled = checked_ns - mtime_ns >= _SETTLED_NS
    return str(found) if settled and identity == (size, mtime_ns, inode) else None


def remember_hash(
    connection: sqlite3.Connection, name: str, identity: tuple[int, int, int], checked_ns: int, found: str
) -> None:
    """Keep the hash of a file whose identity was taken before, and which was read from `checked_ns` on."""
    with quick_transaction(connection):
        connection.execute(
            "INSERT OR REPLACE INTO files VALUES (?, ?, ?, ?, ?, ?)", (name, *identity, checked_ns, found)
        )


def hash_of(path: Path) -> str:
    """BLAKE2b of a file's bytes, hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, lambda: hashlib.blake2b(digest_size=32)).hexdigest()
