"""What can go wrong under the store, as errors of our own family with what to do about it."""

from __future__ import annotations

import errno
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from variorum.base import StoreError, VariorumError

__all__ = ["damaged", "store_faults"]


def damaged(folder: Path, what: str) -> StoreError:
    """The error for a store whose files contradict themselves."""
    remedy = f"delete the folder {folder}: it holds nothing that cannot be made again from your files"
    return StoreError(f"the store is damaged ({what})", remedy=remedy, path=folder)


@contextmanager
def store_faults(folder: Path) -> Iterator[None]:
    """Turn faults of SQLite, Parquet and the file system into `StoreError`."""
    try:
        yield
    except VariorumError:
        raise
    except sqlite3.Error as error:
        raise _of_sqlite(folder, error) from error
    except OSError as error:
        raise _of_system(folder, error) from error
    except Exception as error:
        arrow = sys.modules.get("pyarrow")
        if arrow is not None and isinstance(error, arrow.ArrowException):
            raise damaged(folder, str(error).splitlines()[0]) from error
        raise


def _of_system(folder: Path, error: OSError) -> StoreError:
    path = error.filename if isinstance(error.filename, str) else folder
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return _full(folder)
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return _read_only(folder)
    if isinstance(error, FileNotFoundError):
        return damaged(folder, f"{Path(path).name} is missing")
    if error.errno is None:  # Arrow's own reading faults
        return damaged(folder, str(error).splitlines()[0])
    reason = error.strerror or str(error)
    return StoreError(f"the store cannot be used: {reason}", remedy="try again", path=path)


def _of_sqlite(folder: Path, error: sqlite3.Error) -> StoreError:
    # Extended result codes carry the family in their low byte.
    code = getattr(error, "sqlite_errorcode", None)
    family = None if code is None else code & 0xFF
    if family == sqlite3.SQLITE_FULL or (
        family == sqlite3.SQLITE_IOERR and code != sqlite3.SQLITE_IOERR_READ
    ):
        return _full(folder)
    if family in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return _read_only(folder)
    if family in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return StoreError("the store is in use", remedy="try again in a moment", path=folder)
    return damaged(folder, str(error))


def _full(folder: Path) -> StoreError:
    remedy = "free some space and give the same command again: what was finished is kept"
    return StoreError("the disk is full or a write failed", remedy=remedy, path=folder)


def _read_only(folder: Path) -> StoreError:
    remedy = "make the folder writable, or let the store lie in your cache folder (setting 'store' in edition.toml)"
    return StoreError("the store's folder cannot be written", remedy=remedy, path=folder)
