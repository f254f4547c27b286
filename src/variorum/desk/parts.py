"""What takes longer than a page may: made in the background, once for what it is made from, and kept.

A part is asked for again and again by the page that shows it. It is made by one of a few threads, what was asked for last
comes first, and what nobody asks for any more is not begun. What is made is kept under a hash of everything that it is made from:
the program, the day, the address, the files of the edition and the commits of its store. So a reload, a second tab or
another run of the desk finds it made, and a change of a file has it made anew.
"""

from __future__ import annotations

import datetime
import functools
import hashlib
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Iterable
from importlib import resources
from pathlib import Path
from typing import Final

import msgspec

from variorum.base import VariorumError, in_words
from variorum.base.derived import Derived
from variorum.base.settings import cache_folder
from variorum.build.opened import OpenEdition
from variorum.desk.editions import Editions, Stamp
from variorum.desk.progress import Recorder, TaskState

__all__ = ["Part", "Parts"]

_WORKERS: Final = 2
_FORGOTTEN: Final = 10.0
"""Seconds after which a part that nobody asks for any more is not begun."""
_FAULTS_KEPT: Final = 3.0
"""Seconds after which what could not be made is tried again."""
_WORTH_KEEPING: Final = 0.1
"""Seconds: what is made more quickly is not kept on the disk."""
_IN_MEMORY: Final = 32 << 20
"""Bytes of parts held in memory; those asked for last."""
_ON_DISK: Final = 64 << 20
"""Bytes of parts kept on the disk."""

Make = Callable[[OpenEdition, Recorder], str]
"""Makes a part: from the edition with its graph, and where to report."""


class Part(msgspec.Struct, frozen=True, kw_only=True):
    """A part as it stands: its text once it is made, else how far it is, or why it cannot be made."""

    text: str | None = None
    begun: bool = False
    tasks: tuple[TaskState, ...] = ()
    error: VariorumError | None = None

    @property
    def is_ready(self) -> bool:
        """Whether there is nothing to wait for."""
        return self.text is not None or self.error is not None

    @property
    def words(self) -> str:
        """How far it is, as a page says it."""
        told = "; ".join(task.words for task in self.tasks)
        return told or ("under way" if self.begun else "waiting for its turn")


class _Job:
    def __init__(self, key: str, edition: str, address: str, make: Make) -> None:
        self.key, self.edition, self.address, self.make = key, edition, address, make
        self.recorder = Recorder()
        self.asked = time.monotonic()
        self.begun = False
        self.result: Part | None = None
        self.done = threading.Event()


class Parts:
    """All parts of one server."""

    def __init__(self, editions: Editions) -> None:
        self._editions = editions
        self._turn = threading.Condition()
        self._jobs: dict[str, _Job] = {}
        self._made: OrderedDict[str, str] = OrderedDict()
        self._faults: dict[str, tuple[float, VariorumError]] = {}
        self._threads: list[threading.Thread] = []
        self._closed = False
        self.made = 0
        """How many were made in all."""

    def get(self, edition: str, address: str, make: Make, *, patience: float = 0.0) -> Part:
        """A part, or how far it is; asking for it is what has it made.

        Args:
            edition: The name of the edition.
            address: What is asked, as an address: the part and all that it depends on.
            make: Makes it.
            patience: Seconds to wait for it.

        Raises:
            InputError: No edition has the name, or its settings have errors.
            StoreError: Its store is damaged.
        """
        key = _key(edition, address, self._editions.stamp(edition))
        if (known := self._known(key)) is not None:
            return known
        with self._turn:
            if (text := self._made.get(key)) is not None:  # made this moment
                return Part(text=text)
            job = self._jobs.get(key)
            if job is None:
                job = self._jobs[key] = _Job(key, edition, address, make)
                self._begin()
            job.asked = time.monotonic()
            self._turn.notify()
        if job.done.wait(patience) and job.result is not None:
            return job.result
        return Part(begun=job.begun, tasks=self._tasks(job))

    def at_hand(self, edition: str, addresses: Iterable[str]) -> dict[str, str]:
        """Those parts that are made already, by address, without having any made."""
        stamp = self._editions.stamp(edition)
        known = {one: self._known(_key(edition, one, stamp)) for one in addresses}
        return {one: part.text for one, part in known.items() if part is not None and part.text is not None}

    def close(self) -> None:
        """The server ends."""
        with self._turn:
            self._closed = True
            for job in self._jobs.values():
                job.recorder.stop()
            self._turn.notify_all()
        for thread in self._threads:
            thread.join(5)

    def _known(self, key: str) -> Part | None:
        with self._turn:
            if (text := self._made.get(key)) is not None:
                self._made.move_to_end(key)
                return Part(text=text)
            fault = self._faults.get(key)
            if fault is not None and time.monotonic() - fault[0] < _FAULTS_KEPT:
                return Part(error=fault[1])
            if key in self._jobs:
                return None
        if (kept := _kept().get(key)) is None:
            return None
        self._keep(key, kept.decode())
        return Part(text=kept.decode())

    def _keep(self, key: str, text: str) -> None:
        with self._turn:
            self._made[key] = text
            while sum(map(len, self._made.values())) > _IN_MEMORY and len(self._made) > 1:
                self._made.popitem(last=False)

    def _tasks(self, job: _Job) -> tuple[TaskState, ...]:
        """How far it is; a part that waits for the graph tells of its growing, whoever had it grown."""
        with self._turn:
            others = [one for one in self._jobs.values() if one.edition == job.edition and one.begun]
        told = [
            job.recorder.tasks,
            *(one.recorder.tasks for one in others),
            self._editions.growing(job.edition),
        ]
        return next(filter(None, told), ())

    def _begin(self) -> None:
        if len(self._threads) < _WORKERS:
            name = f"parts {len(self._threads) + 1}"
            thread = threading.Thread(target=self._work, name=name, daemon=True)
            self._threads.append(thread)
            thread.start()

    def _next(self) -> _Job | None:
        """What was asked for last and is not begun; `None` at the end."""
        with self._turn:
            while not self._closed:
                now = time.monotonic()
                waiting = [job for job in self._jobs.values() if not job.begun]
                for job in waiting:
                    if now - job.asked > _FORGOTTEN:
                        del self._jobs[job.key]
                fresh = [job for job in waiting if job.key in self._jobs]
                if fresh:
                    job = max(fresh, key=lambda one: one.asked)
                    job.begun = True
                    return job
                self._turn.wait(60)
        return None

    def _work(self) -> None:
        while (job := self._next()) is not None:
            began, key = time.monotonic(), job.key
            try:
                opened, stamp = self._editions.grown(job.edition, job.recorder)
                key = _key(job.edition, job.address, stamp)
                result = Part(text=job.make(opened, job.recorder))
            except Exception as failure:  # noqa: BLE001  what goes wrong in a thread must be seen on a page
                result = Part(error=in_words(failure))
            self._ended(job, key, result, time.monotonic() - began)

    def _ended(self, job: _Job, key: str, result: Part, seconds: float) -> None:
        if result.text is not None:
            self._keep(key, result.text)
            if seconds > _WORTH_KEEPING:
                _kept().put(key, result.text.encode())
        with self._turn:
            self.made += 1
            if result.error is not None:
                now = time.monotonic()
                self._faults = {
                    one: told for one, told in self._faults.items() if now - told[0] < _FAULTS_KEPT
                }
                self._faults[key] = (now, result.error)
            self._jobs.pop(job.key, None)
        job.result = result
        job.done.set()


def _kept() -> Derived:
    # Not beside the store: an edition may come from somebody else, and these are shown as they are.
    return Derived(cache_folder() / "parts", most=_ON_DISK)


def _key(edition: str, address: str, stamp: Stamp) -> str:
    today = datetime.date.today()  # a claim is stale from some day on
    return hashlib.sha256(repr((_program(), today, edition, address, stamp)).encode()).hexdigest()


@functools.cache
def _program() -> str:
    """The program as it is installed: another one may tell the same otherwise."""
    folder = Path(str(resources.files("variorum")))
    files = sorted(
        path for path in folder.rglob("*") if path.suffix in (".py", ".j2", ".toml", ".so", ".pyd")
    )
    state = [(path.name, path.stat().st_size, path.stat().st_mtime_ns) for path in files]
    return hashlib.sha256(repr(state).encode()).hexdigest()
