"""One way to report long work and to be told to stop.

Work takes a `Progress` and opens a `Task` for each part with a known or unknown size:

    with progress.task("sift", total=size_in_bytes, unit="bytes") as task:
        for block in blocks:
            task.advance(len(block))   # raises Interrupted when the user wants to stop

Implementations decide what is shown and how often (the command line draws at most ten times a second, the desk sends
events); work may report as often as it likes from Python and at most ten times a second from Rust.
"""

from __future__ import annotations

import time
from typing import Protocol, Self

from variorum.base.errors import Interrupted

__all__ = ["Progress", "Silent", "Task", "time_left"]


class Task(Protocol):
    """One part of long work, open while its `with` block runs."""

    def advance(self, amount: int, *, note: str | None = None) -> None:
        """Count `amount` more units done; `note` says what is being looked at. Raises `Interrupted` to stop."""

    def __enter__(self) -> Self: ...

    def __exit__(self, *exc: object) -> None: ...


class Progress(Protocol):
    """Where long work reports to."""

    def task(self, name: str, *, total: int | None, unit: str) -> Task:
        """Open a part called `name` of `total` units (`None`: size unknown); `unit` is a plural noun."""

    def say(self, text: str) -> None:
        """Tell one finished thing, as a sentence."""


class _SilentTask:
    def __init__(self, owner: Silent) -> None:
        self._owner = owner

    def advance(self, amount: int, *, note: str | None = None) -> None:
        del amount, note
        if self._owner.stop:
            raise Interrupted("stopped", remedy="the same command goes on from here")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        return None


class Silent:
    """Reports nowhere. Set `stop` (from any thread) to interrupt the work that reports here."""

    def __init__(self) -> None:
        self.stop = False

    def task(self, name: str, *, total: int | None, unit: str) -> Task:
        """Open a part that is not shown."""
        del name, total, unit
        return _SilentTask(self)

    def say(self, text: str) -> None:
        """Say nothing."""
        del text


def time_left(started: float, done: int, total: int | None) -> float | None:
    """Seconds left at the mean rate since `started` (a `time.monotonic()` value), `None` while it cannot be told."""
    elapsed = time.monotonic() - started
    if not total or done <= 0 or elapsed <= 0:
        return None
    return max(0.0, elapsed / done * (total - done))
