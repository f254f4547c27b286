"""Results that were dear to compute, kept in a folder under a hash of what they are made from; a cache of bounded size."""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from pathlib import Path

__all__ = ["Derived"]


class Derived:
    """A folder of results by key. Where it cannot be read or written, nothing is kept, and that is all.

    Args:
        folder: Made when the first result is kept; nothing else may lie in it.
        most: Bytes in all; what was used least lately goes first.
    """

    def __init__(self, folder: Path, *, most: int) -> None:
        self._folder = folder
        self._most = most

    def has(self, key: str) -> bool:
        """Whether a result of that key is kept."""
        return (self._folder / key).is_file()

    def get(self, key: str) -> bytes | None:
        """The result of that key, letters and figures; `None` where none is kept."""
        file = self._folder / key
        try:
            data = file.read_bytes()
        except OSError:
            return None
        with suppress(OSError):
            os.utime(file)
        return data

    def put(self, key: str, data: bytes) -> None:
        """Keep a result, whole or not at all."""
        beside = self._folder / f"{key}.{secrets.token_hex(4)}.part"
        with suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            try:
                beside.write_bytes(data)
                beside.replace(self._folder / key)
            finally:
                beside.unlink(missing_ok=True)
            self._make_room()

    def _make_room(self) -> None:
        kept = []
        for file in self._folder.iterdir():
            state = file.stat()
            kept.append((state.st_mtime_ns, state.st_size, file))
        total = sum(size for _, size, _ in kept)
        for _, size, file in sorted(kept, key=lambda one: one[0])[:-1]:
            if total <= self._most:
                break
            file.unlink(missing_ok=True)
            total -= size
