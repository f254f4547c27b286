"""Files that are there whole or not at all, also after a loss of power."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

__all__ = ["TEMPORARY", "write_durably"]

TEMPORARY = ".tmp"
"""Ending of a file that is being written; what a dead process leaves of it is removed by the next writer."""


def write_durably(path: Path, write: Callable[[Path], None]) -> int:
    """Let `write` make a file, put it in place under `path`, and give its size in bytes.

    Order: temporary file in the same folder, fsync, rename, fsync of the folder.
    """
    temporary = path.with_name(path.name + TEMPORARY)
    try:
        write(temporary)
        # Windows syncs only what is open for writing.
        handle = os.open(temporary, os.O_RDWR)
        try:
            os.fsync(handle)
            size = os.fstat(handle).st_size
        finally:
            os.close(handle)
        os.replace(temporary, path)  # noqa: PTH105  (one seam for the tests of faults)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)
    return size


def _sync_folder(folder: Path) -> None:
    if os.name == "nt":  # a folder cannot be opened there, and NTFS journals the rename
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
