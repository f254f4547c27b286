"""The editions that pages look things up in: what is quickly read is read anew with every change of a file, the rest in the background."""

from __future__ import annotations

import hashlib
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from variorum.base import InputError, Progress, Severity, VariorumError
from variorum.base.settings import UserSettings, load_user_settings, settings_path
from variorum.build.first_look import FirstLook, is_worth_a_first_look
from variorum.build.opened import FileStamp, OpenEdition, Pool, stamp_of
from variorum.desk.progress import Recorder, TaskState
from variorum.desk.shelf import Shelf
from variorum.edition import Edition, load_edition
from variorum.edition.build_log import BUILD_LOG
from variorum.edition.folder import DIGEST, MANUSCRIPT, PLAYOUTS, SETTINGS, VERDICTS
from variorum.graph.inputs import STORE_FILE

__all__ = ["Editions", "Stamp"]

_QUICK: Final = 0.5
"""Seconds: a graph that is grown more quickly is grown anew with each change of a file; another in the background, as often as `_PATIENCE` says."""
_FEW_GAMES: Final = 10_000
"""The graph of so many games is grown quickly."""
_PATIENCE: Final = 20.0
"""Of the time, less than the twentieth part goes into growing a graph anew while files keep changing."""
_GAMES_A_SECOND: Final = 1_000
"""And a graph of so many games is grown anew once a second at most, a larger one less often."""

Stamp = tuple[FileStamp | int | None, ...]
"""What an edition is made from: every file of its texts, settings and verdicts, and the commits of its store."""


class _View:
    """An edition as one kind of reader has it: opened once, renewed when something changed."""

    def __init__(self, pool: Pool) -> None:
        self.lock = threading.Lock()
        self.pool = pool
        self.store = Path()
        self.files: Stamp = ()
        self.stamp: Stamp = ()
        self.opened: OpenEdition | None = None
        self.since = 0.0
        self.pause = 0.0
        """Seconds after which it may be grown anew in the background; 0 where that takes no time."""
        self.growing = False

    def is_current(self, folder: Path) -> bool:
        """Whether no file changed since it was renewed."""
        return self.opened is not None and self.files == _files(folder, self.store)

    @property
    def is_grown(self) -> bool:
        """Whether its graph is there."""
        return self.since > 0.0

    def take(self, other: _View) -> None:
        """Become another view of the same edition."""
        self.store, self.files, self.stamp, self.opened = other.store, other.files, other.stamp, other.opened
        self.pause, self.since = other.pause, other.since

    def renew(self, folder: Path, progress: Progress | None = None) -> OpenEdition:
        """Open the edition, or have it as it is now."""
        edition, user = _load(folder)
        self.store = edition.store_folder(user)
        files = _files(folder, self.store)
        if self.opened is None:
            self.opened = OpenEdition(edition, user, progress=progress, pool=self.pool)
        else:
            self.opened = self.opened.renewed(edition, user, progress=progress)
        self.files, self.stamp = files, _stamp(files, self.opened)
        return self.opened


class _First:
    """A first look at an edition, until its whole graph is there."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.stamp: Stamp = ()
        self.look: FirstLook | None = None


class Editions:
    """Every edition that was asked for, by its name on the shelf.

    Each is had twice: `reading` for what look-ups tell, always as the files are now; and `grown` for what needs the graph,
    as new as its growing allows. Each has a reader of the store of its own, so that no look-up waits for a long count.
    Until the graph of many games is grown, there is a `first` look.
    """

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf
        self._lock = threading.Lock()
        self._views: dict[str, tuple[_View, _View]] = {}
        self._firsts: dict[str, _First] = {}
        self._recorders: dict[str, Recorder] = {}

    @contextmanager
    def reading(self, name: str) -> Iterator[OpenEdition]:
        """An edition for a page of look-ups, as its files are now.

        Raises:
            InputError: No edition has the name, or its settings have errors.
            StoreError: Its store is damaged.
        """
        folder = self._shelf.get(name).folder
        view, _ = self._of(name)
        with view.lock:
            opened = view.opened if view.is_current(folder) else None
            if opened is None:
                opened = view.renew(folder)
        yield opened

    def stamp(self, name: str) -> Stamp:
        """What `grown` is made from, or will be when it is asked for next: with the same stamp it tells the same.

        Raises:
            InputError: No edition has the name, or its settings have errors.
            StoreError: Its store is damaged.
        """
        reading, grown = self._of(name)
        with self.reading(name):
            now = reading.stamp
        if grown.opened is None or (now != grown.stamp and not grown.pause):
            return now
        if now != grown.stamp and time.monotonic() - grown.since > grown.pause:
            self._grow_anew(name, grown)
        return grown.stamp

    def mark(self, name: str) -> str:
        """What tells whether `reading` tells the same as before.

        Raises:
            InputError: No edition has the name, or its settings have errors.
            StoreError: Its store is damaged.
        """
        reading, _ = self._of(name)
        with self.reading(name):
            return _mark(reading.stamp)

    def graph_mark(self, name: str) -> str:
        """What tells whether `grown` tells the same as before; "" as long as there is no graph."""
        _, grown = self._of(name)
        return _mark(grown.stamp) if grown.is_grown else ""

    def is_behind(self, name: str) -> bool:
        """Whether files have changed since the graph was grown that pages are made from for the time being.

        Raises:
            InputError: No edition has the name, or its settings have errors.
            StoreError: Its store is damaged.
        """
        used = self.stamp(name)
        reading, _ = self._of(name)
        return used != reading.stamp

    def grown(self, name: str, progress: Progress | None = None) -> tuple[OpenEdition, Stamp]:
        """An edition whose graph is there, and what it is made from. Who asks first waits for it, who asks meanwhile too.

        Raises:
            InputError: No edition has the name, its settings have errors, or a file cannot be read.
            StoreError: Its store is damaged.
            Interrupted: The user stopped.
        """
        wanted = self.stamp(name)
        folder = self._shelf.get(name).folder
        _, view = self._of(name)
        with view.lock:
            if view.opened is None or view.stamp != wanted:
                if not self.is_near(name):
                    self.first(name)  # so that who asks for it need not share the processors with the whole
                _grow(view, folder, progress)
                self._firsts.pop(name, None)
            assert view.opened is not None
            return view.opened, view.stamp

    def first(self, name: str) -> FirstLook | None:
        """A first look at an edition; `None` where its graph is there, or takes no longer.

        Raises:
            InputError: No edition has the name, its settings have errors, or a file cannot be read.
            StoreError: Its store is damaged.
        """
        view, grown = self._of(name)
        with self.reading(name) as opened:
            stamp = view.stamp
            if grown.is_grown or not is_worth_a_first_look(opened):
                return None
        with self._lock:
            first = self._firsts.setdefault(name, _First())
        with first.lock:
            if first.look is None or first.stamp != stamp:
                with FirstLook(opened.edition, opened.user, pool=view.pool) as look:
                    assert look.tell.graph is look.graph
                first.look, first.stamp = look, stamp
            return first.look

    def has_first(self, name: str) -> bool:
        """Whether there is a first look, and so for some time no more than that."""
        first, (_, grown) = self._firsts.get(name), self._of(name)
        return first is not None and first.look is not None and not grown.is_grown

    def is_near(self, name: str) -> bool:
        """Whether the graph is there, or need not be grown.

        Raises:
            InputError: No edition has the name, its settings have errors, or a file cannot be read.
            StoreError: Its store is damaged.
        """
        _, grown = self._of(name)
        with self.reading(name) as opened:
            return grown.is_grown or opened.graph_is_kept

    def warm(self, name: str) -> None:
        """Read in the background what the first pages of an edition would have to wait for."""
        recorder = self._recorders[name] = Recorder()

        def read() -> None:
            with suppress(VariorumError), self.reading(name) as opened:
                if not self.is_near(name):
                    self.first(name)
                if opened.verdicts and opened.store is not None:
                    opened.store.balance()
                self.grown(name, recorder)

        threading.Thread(target=read, name=f"opening of {name}", daemon=True).start()

    def growing(self, name: str) -> tuple[TaskState, ...]:
        """How far the graph is that is grown in the background."""
        return self._recorders[name].tasks if name in self._recorders else ()

    def _grow_anew(self, name: str, old: _View) -> None:
        """Grow an edition's graph in the background; what is known serves until it is there."""
        with self._lock:
            if old.growing:
                return
            old.growing = True
        folder = self._shelf.get(name).folder
        recorder = self._recorders[name] = Recorder()

        def grow() -> None:
            try:
                with suppress(VariorumError):
                    fresh = _View(old.pool)
                    fresh.opened = old.opened
                    _grow(fresh, folder, recorder)
                    with old.lock:
                        old.take(fresh)
            finally:
                old.since, old.growing = time.monotonic(), False

        threading.Thread(target=grow, name=f"growing of {name}", daemon=True).start()

    def settings(self, name: str) -> tuple[Edition, UserSettings]:
        """An edition's settings and the user's, read now, for work that changes what pages show.

        Raises:
            InputError: No edition has the name, or its settings have errors.
        """
        return _load(self._shelf.get(name).folder)

    def close(self) -> None:
        """Let go of everything."""
        with self._lock:
            for view in (view for pair in self._views.values() for view in pair):
                if view.opened is not None:
                    view.opened.close()
            self._views.clear()
            self._firsts.clear()

    def _of(self, name: str) -> tuple[_View, _View]:
        """Both views of an edition; what is read of its texts they share."""
        with self._lock:
            if name not in self._views:
                pool: Pool = {}
                self._views[name] = _View(pool), _View(pool)
            return self._views[name]


def _grow(view: _View, folder: Path, progress: Progress | None = None) -> None:
    began = time.monotonic()
    fresh = view.renew(folder, progress)
    assert fresh.tell.graph is fresh.graph
    view.since = time.monotonic()
    taken = view.since - began
    games = 0 if fresh.store is None else fresh.store.count
    # A large graph that was kept is opened in no time too.
    is_quick = taken < _QUICK and games < _FEW_GAMES
    view.pause = 0.0 if is_quick else max(_PATIENCE * taken, games / _GAMES_A_SECOND)


def _mark(stamp: Stamp) -> str:
    return hashlib.sha256(repr(stamp).encode()).hexdigest()[:16]


def _load(folder: Path) -> tuple[Edition, UserSettings]:
    edition, faults = load_edition(folder)
    errors = [fault for fault in faults if fault.severity is Severity.ERROR]
    if edition is None or errors:
        what = errors[0].message if errors else "it cannot be read"
        raise InputError(
            f"the settings have errors: {what}", path=folder / SETTINGS, remedy="mend them first"
        )
    return edition, load_user_settings()[0]


def _files(folder: Path, store: Path) -> Stamp:
    """Size and time of every file that an edition is made from."""
    files = [folder / SETTINGS, folder / MANUSCRIPT, folder / DIGEST, settings_path()]
    files += [folder.joinpath(*BUILD_LOG), *sorted((folder / PLAYOUTS).rglob("*.pgn"))]
    files += sorted((folder / VERDICTS).rglob("*.epd"))  # those on hinges too
    return tuple(map(stamp_of, (*files, store / STORE_FILE, store / f"{STORE_FILE}-wal")))


def _stamp(files: Stamp, opened: OpenEdition) -> Stamp:
    """The same with the commits of games in place of the store's files, which change with every note that is made in them."""
    return (*files[:-2], None if opened.store is None else opened.store.generation)
