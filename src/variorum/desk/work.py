"""Long work in the background: one thread a piece of work, its progress kept for every page that asks, and a way to stop it."""

from __future__ import annotations

import enum
import itertools
import threading
import time
from collections.abc import Callable
from typing import Final

import msgspec

from variorum.base import Interrupted, in_words
from variorum.desk.progress import Recorder, TaskState

__all__ = ["State", "Work", "Works"]

_KEPT: Final = 30
"""Pieces of work that have ended and are still told of."""


class State(enum.Enum):
    """How far a piece of work is."""

    WAITING = "waiting"
    RUNNING = "running"
    STOPPING = "stopping"
    DONE = "done"
    STOPPED = "stopped"
    FAILED = "failed"


_GONE: Final = (State.STOPPED, State.FAILED)
"""Ended without what was wished for."""


class Work(msgspec.Struct, frozen=True, kw_only=True):
    """A piece of work as a page shows it.

    `edition` is the name under which the desk has the edition, `kind` what is done, `subject` to what. `said` are the sentences that
    it told, `fault` why it failed. `result` is a page that shows what came of it.
    """

    number: int
    edition: str
    kind: str
    subject: str
    state: State
    tasks: tuple[TaskState, ...]
    said: tuple[str, ...]
    fault: str
    result: str


class _Running(Recorder):
    """A piece of work and, for the work itself, where it reports."""

    def __init__(
        self, works: Works, number: int, edition: str, kind: str, subject: str, *, writes: bool
    ) -> None:
        super().__init__(works.changed)
        self.number, self.edition, self.kind, self.subject, self.writes = (
            number,
            edition,
            kind,
            subject,
            writes,
        )
        self.state = State.WAITING
        self.fault = self.result = ""

    def stop(self) -> None:
        if self.state in (State.WAITING, State.RUNNING):
            self.state = State.STOPPING
        super().stop()

    @property
    def ended(self) -> bool:
        return self.state in (State.DONE, State.STOPPED, State.FAILED)

    def told(self) -> Work:
        return Work(
            number=self.number,
            edition=self.edition,
            kind=self.kind,
            subject=self.subject,
            state=self.state,
            tasks=self.tasks,
            said=self.said,
            fault=self.fault,
            result=self.result,
        )


class Works:
    """All work of one server. Work that writes the store of the same edition waits for its turn."""

    def __init__(self) -> None:
        self._numbers = itertools.count(1)
        self._all: list[_Running] = []
        self._turn = threading.Condition()
        self.version = 0
        """Grows with every change, so that a page can be told only what is new."""

    def start(
        self,
        edition: str,
        kind: str,
        subject: str,
        run: Callable[[_Running], str],
        *,
        writes: bool = True,
    ) -> int:
        """Begin work in the background; its number.

        `run` gets where to report and returns the address of the page that shows what came of it, or "".
        The same work that failed or was stopped before is told of no more.
        """
        with self._turn:
            self._all = [
                one
                for one in self._all
                if one.state not in _GONE or (one.edition, one.kind, one.subject) != (edition, kind, subject)
            ]
            work = _Running(self, next(self._numbers), edition, kind, subject, writes=writes)
            self._all.append(work)
            ended = [one for one in self._all if one.ended]
            for one in ended[: max(0, len(ended) - _KEPT)]:
                self._all.remove(one)
        threading.Thread(target=self._run, args=(work, run), name=f"work {work.number}", daemon=True).start()
        self.changed()
        return work.number

    def _run(self, work: _Running, run: Callable[[_Running], str]) -> None:
        try:
            self._await_turn(work)
            with self._turn:
                work.check()
                work.state = State.RUNNING
            work.changed()
            work.result = run(work)
            state = State.DONE
        except Interrupted:
            state = State.STOPPED
        except Exception as failure:  # noqa: BLE001  what goes wrong in a thread must be seen on a page
            work.fault, state = str(in_words(failure)), State.FAILED
        with self._turn:
            work.state = state
            self._turn.notify_all()
        self.changed()

    def _await_turn(self, work: _Running) -> None:
        def blocked() -> bool:
            return any(
                one.number < work.number and one.edition == work.edition and one.writes and not one.ended
                for one in self._all
            )

        if not work.writes:
            return
        with self._turn:
            while blocked():
                self._turn.wait(0.2)
                work.check()

    def stop(self, number: int) -> bool:
        """Ask a piece of work to stop; whether there is one that runs."""
        with self._turn:  # work that ends this moment stays ended: what comes after it would wait for ever
            for work in self._all:
                if work.number == number and not work.ended:
                    work.stop()
                    return True
        return False

    def put_away(self, number: int) -> bool:
        """Tell no more of a piece of work that has ended; whether there is one."""
        with self._turn:
            kept = [one for one in self._all if one.number != number or not one.ended]
            found = len(kept) < len(self._all)
            self._all = kept
        self.changed()
        return found

    def stop_all(self) -> None:
        """Ask everything to stop, and wait for a moment until it has: the server ends."""
        deadline = time.monotonic() + 10
        with self._turn:
            running = [work for work in self._all if not work.ended]
            for work in running:
                work.stop()
            while any(not work.ended for work in running) and time.monotonic() < deadline:
                self._turn.wait(0.2)

    def told(self) -> tuple[Work, ...]:
        """All work, the latest first."""
        return tuple(work.told() for work in reversed(self._all))

    def running(self) -> bool:
        """Whether anything is under way."""
        return any(not work.ended for work in self._all)

    def changed(self) -> None:
        """Note that something changed."""
        self.version += 1
