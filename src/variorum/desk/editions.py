"""The editions that pages look things up in: opened once, kept while their files are as they were, opened anew when they are not."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from variorum.base import InputError, Severity
from variorum.base.settings import UserSettings, load_user_settings, settings_path
from variorum.build.opened import OpenEdition
from variorum.desk.shelf import Shelf
from variorum.edition import Edition, load_edition
from variorum.edition.folder import DIGEST, MANUSCRIPT, SETTINGS, VERDICTS
from variorum.graph.inputs import STORE_FILE

__all__ = ["Editions"]

_QUICK: Final = 0.5
"""Seconds: what takes longer to open is not opened anew for each change of a file, but as often as `_PATIENCE` says."""
_PATIENCE: Final = 20.0
"""Of the time, less than the twentieth part goes into opening anew."""

_Stamp = tuple[tuple[str, int, int], ...]


class _Kept:
    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.stamp: _Stamp | None = None
        self.opened: OpenEdition | None = None
        self.seconds = 0.0
        self.since = 0.0


class Editions:
    """Every edition that was asked for, by its name on the shelf."""

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf
        self._lock = threading.Lock()
        self._kept: dict[str, _Kept] = {}

    @contextmanager
    def reading(self, name: str) -> Iterator[OpenEdition]:
        """An edition for one page; two pages of one edition are made one after the other.

        Raises:
            InputError: No edition has the name, or its settings have errors.
            StoreError: Its store is damaged.
        """
        folder = self._shelf.get(name).folder
        with self._lock:
            kept = self._kept.setdefault(name, _Kept())
        with kept.lock:
            stamp = _stamp(folder, kept.opened)
            quick = kept.seconds < _QUICK or time.monotonic() - kept.since > _PATIENCE * kept.seconds
            if kept.opened is None or (stamp != kept.stamp and quick):
                began = time.monotonic()
                fresh = _grown(folder)
                if kept.opened is not None:
                    kept.opened.close()
                kept.opened, kept.stamp = fresh, stamp
                kept.since = time.monotonic()
                kept.seconds = kept.since - began
            yield kept.opened

    def settings(self, name: str) -> tuple[Edition, UserSettings]:
        """An edition's settings and the user's, read now, for work that changes what pages show.

        Raises:
            InputError: No edition has the name, or its settings have errors.
        """
        return _load(self._shelf.get(name).folder)

    def close(self) -> None:
        """Let go of everything."""
        with self._lock:
            for kept in self._kept.values():
                if kept.opened is not None:
                    kept.opened.close()
            self._kept.clear()


def _load(folder: Path) -> tuple[Edition, UserSettings]:
    edition, faults = load_edition(folder)
    errors = [fault for fault in faults if fault.severity is Severity.ERROR]
    if edition is None or errors:
        what = errors[0].message if errors else "it cannot be read"
        raise InputError(
            f"the settings have errors: {what}", path=folder / SETTINGS, remedy="mend them first"
        )
    return edition, load_user_settings()[0]


def _grown(folder: Path) -> OpenEdition:
    """An edition with its graph, which is what takes time."""
    edition, user = _load(folder)
    opened = OpenEdition(edition, user)
    assert opened.tell.graph is opened.graph
    return opened


def _stamp(folder: Path, opened: OpenEdition | None) -> _Stamp:
    """Size and time of every file that an edition is made from."""
    files = [folder / SETTINGS, folder / MANUSCRIPT, folder / DIGEST, settings_path()]
    files += sorted((folder / VERDICTS).glob("*.epd"))
    if opened is not None:
        store = opened.edition.store_folder(opened.user)
        files += [store / STORE_FILE, store / f"{STORE_FILE}-wal"]
    found = []
    for file in files:
        try:
            state = file.stat()
        except OSError:
            continue
        found.append((str(file), state.st_size, state.st_mtime_ns))
    return tuple(found)
