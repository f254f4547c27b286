"""How far something is that goes on in the background, kept for whoever asks."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Self

import msgspec

from variorum.base import Interrupted, Task, time_left

__all__ = ["Recorder", "TaskState"]


class TaskState(msgspec.Struct, frozen=True, kw_only=True):
    """One part of the work: units done of `total` (`None`: not known), seconds left as far as they can be told, what is looked at."""

    name: str
    done: int
    total: int | None
    unit: str
    left: float | None
    note: str

    @property
    def words(self) -> str:
        """As a page says it: `graph, 40,000 of 200,000 games`."""
        of = "" if self.total is None else f" of {self.total:,}"
        return f"{self.name}, {self.done:,}{of} {self.unit}"


class _OpenTask:
    def __init__(self, owner: Recorder, name: str, total: int | None, unit: str) -> None:
        self._owner = owner
        self.name, self.total, self.unit = name, total, unit
        self.done, self.note, self.started = 0, "", time.monotonic()

    def advance(self, amount: int, *, note: str | None = None) -> None:
        self.done += amount
        self.note = note if note is not None else self.note
        self._owner.changed()
        self._owner.check()

    def told(self) -> TaskState:
        # Each step and each file takes as long as it takes: their number tells no time.
        left = None if self.unit in ("steps", "files") else time_left(self.started, self.done, self.total)
        return TaskState(
            name=self.name, done=self.done, total=self.total, unit=self.unit, left=left, note=self.note
        )

    def __enter__(self) -> Self:
        self._owner.open(self)
        return self

    def __exit__(self, *exc: object) -> None:
        self._owner.close(self)


class Recorder:
    """Where work reports (`variorum.base.Progress`); `changed` is called whenever there is something new."""

    def __init__(self, changed: Callable[[], None] = lambda: None) -> None:
        self.changed = changed
        self.said: tuple[str, ...] = ()
        self._tasks: list[_OpenTask] = []
        self._stop = threading.Event()
        self._lock = threading.Lock()

    def task(self, name: str, *, total: int | None, unit: str) -> Task:
        """A part of the work."""
        return _OpenTask(self, name, total, unit)

    def say(self, text: str) -> None:
        """A sentence about it; the last fifty are kept."""
        with self._lock:
            self.said = (*self.said, text)[-50:]
        self.changed()

    def open(self, task: _OpenTask) -> None:
        """A part begins."""
        with self._lock:
            self._tasks.append(task)
        self.changed()
        self.check()

    def close(self, task: _OpenTask) -> None:
        """A part ends."""
        with self._lock:
            self._tasks.remove(task)
        self.changed()

    def check(self) -> None:
        """Raises `Interrupted` where the work was told to stop."""
        if self._stop.is_set():
            raise Interrupted("stopped", remedy="start it again: it goes on from here")

    def stop(self) -> None:
        """Ask the work to stop."""
        self._stop.set()
        self.changed()

    @property
    def tasks(self) -> tuple[TaskState, ...]:
        """The parts that are open."""
        with self._lock:
            return tuple(task.told() for task in self._tasks)
