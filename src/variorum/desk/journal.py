"""What is under way, written down: a desk that ends before its work does (a power cut, a kill) is told of by the next one."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import msgspec

from variorum.base import InputError
from variorum.base.settings import cache_folder
from variorum.edition import atomic_write, hash_on_disk
from variorum.store.locks import Lock, lock_now

__all__ = ["Begun", "Entry", "Journal"]


class Begun(msgspec.Struct, frozen=True):
    """What a page asked for when work began: sent to the same address again, the work goes on."""

    address: str
    sent: dict[str, Any] = {}


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """Work that had not ended: `edition`, `kind` and `subject` as pages tell it, and what it was begun with."""

    edition: str
    kind: str
    subject: str
    begun: Begun


class Journal:
    """The entries of one desk: a file of its own while it has any, and a lock beside it that the system releases when it dies.

    Where nothing can be written nothing is: no work depends on it.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder or cache_folder() / "works"
        self._file = self._folder / f"{secrets.token_hex(6)}.json"
        self._lock: Lock | None = None

    def take_over(self) -> tuple[Entry, ...]:
        """What desks that are gone have left undone, each work once. It is this desk's now."""
        left: dict[tuple[str, str, str], Entry] = {}
        for file in sorted(self._folder.glob("*.json")):
            lock = lock_now(file.with_suffix(".lock"))
            if lock is None:
                continue  # its desk is alive
            with suppress(OSError, msgspec.MsgspecError):
                for one in msgspec.json.decode(file.read_bytes(), type=list[Entry]):
                    left[one.edition, one.kind, one.subject] = one
            lock.release()
            _remove(file)
        return tuple(left.values())

    def keep(self, entries: Sequence[Entry]) -> None:
        """Write down what has not ended now."""
        with suppress(OSError, InputError):
            if not entries:
                self.close()
                _remove(self._file)
                return
            if self._lock is None:
                self._folder.mkdir(parents=True, exist_ok=True)
                self._lock = lock_now(self._file.with_suffix(".lock"))
            if self._lock is None:
                return
            data = msgspec.json.encode(entries)
            atomic_write(self._file, data, expected_hash=hash_on_disk(self._file))

    def close(self) -> None:
        """Leave what is written to the next desk."""
        if self._lock is not None:
            self._lock.release()
            self._lock = None


def _remove(file: Path) -> None:
    for one in (file, file.with_suffix(".lock")):
        with suppress(OSError):
            one.unlink(missing_ok=True)
