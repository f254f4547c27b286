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
from variorum.desk.journal import Begun, Entry, Journal
from variorum.desk.progress import Recorder, TaskState

__all__ = ["Running", "State", "Work", "Works"]

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
    INTERRUPTED = "interrupted"
    """The desk ended before it did."""


_GONE: Final = (State.STOPPED, State.FAILED, State.INTERRUPTED)
"""Ended without what was wished for."""
_ENDED: Final = (State.DONE, *_GONE)


class Work(msgspec.Struct, frozen=True, kw_only=True):
    """A piece of work as a page shows it.

    `edition` is the name under which the desk has the edition, `kind` what is done, `subject` to what. `said` are the sentences that
    it told, `shortfalls` what it could not do of what was wished, `fault` why it failed. `result` is a page that shows what came
    of it, `again` what begins it again.
    """

    number: int
    edition: str
    kind: str
    subject: str
    state: State
    tasks: tuple[TaskState, ...]
    said: tuple[str, ...]
    shortfalls: tuple[str, ...]
    fault: str
    result: str
    again: Begun | None


class Running(Recorder):
    """A piece of work and, for the work itself, where it reports."""

    def __init__(
        self,
        works: Works,
        number: int,
        edition: str,
        kind: str,
        subject: str,
        *,
        writes: bool,
        again: Begun | None,
    ) -> None:
        super().__init__(works.changed)
        self.number, self.edition, self.kind, self.subject = number, edition, kind, subject
        self.writes, self.again = writes, again
        self.state = State.WAITING
        self.fault = self.result = ""
        self.shortfalls: tuple[str, ...] = ()

    def fall_short(self, text: str) -> None:
        """Tell of something that could not be done; the rest was, and it is told until the author puts it away."""
        self.shortfalls = (*self.shortfalls, text)
        self.changed()

    def stop(self) -> None:
        """Ask the work to stop."""
        if self.state in (State.WAITING, State.RUNNING):
            self.state = State.STOPPING
        super().stop()

    @property
    def ended(self) -> bool:
        """Whether it is over, well or not."""
        return self.state in _ENDED

    def is_same(self, edition: str, kind: str, subject: str) -> bool:
        """Whether it is the same work that another piece of work does."""
        return (self.edition, self.kind, self.subject) == (edition, kind, subject)

    def told(self) -> Work:
        """It as a page shows it."""
        return Work(
            number=self.number,
            edition=self.edition,
            kind=self.kind,
            subject=self.subject,
            state=self.state,
            tasks=self.tasks,
            said=self.said,
            shortfalls=self.shortfalls,
            fault=self.fault,
            result=self.result,
            again=self.again,
        )


class Works:
    """All work of one server. Work that writes the store of the same edition waits for its turn."""

    def __init__(self, journal: Journal | None = None) -> None:
        """Begin with what an earlier desk left undone. Without a journal nothing outlives the server."""
        self._numbers = itertools.count(1)
        self._all: list[Running] = []
        self._turn = threading.Condition()
        self._journal = journal
        self.version = 0
        """Grows with every change, so that a page can be told only what is new."""
        for left in journal.take_over() if journal else ():
            work = Running(
                self,
                next(self._numbers),
                left.edition,
                left.kind,
                left.subject,
                writes=True,
                again=left.begun,
            )
            work.state = State.INTERRUPTED
            self._all.append(work)
        self._note()

    def _note(self) -> None:
        """Write down what has not ended, and what was interrupted and is not gone on with."""
        if self._journal is not None:
            open_ = [
                one for one in self._all if one.again and (not one.ended or one.state is State.INTERRUPTED)
            ]
            self._journal.keep(
                [
                    Entry(edition=one.edition, kind=one.kind, subject=one.subject, begun=one.again)
                    for one in open_
                    if one.again
                ]
            )

    def start(
        self,
        edition: str,
        kind: str,
        subject: str,
        run: Callable[[Running], str],
        *,
        writes: bool = True,
        again: Begun | None = None,
    ) -> int:
        """Begin work in the background; its number.

        `run` gets where to report and returns the address of the page that shows what came of it, or "". `again` begins the
        same work; with it, work that a desk did not live to finish is offered by the next. The same work that ended
        before is told of no more.
        """
        with self._turn:
            self._all = [one for one in self._all if not (one.ended and one.is_same(edition, kind, subject))]
            work = Running(self, next(self._numbers), edition, kind, subject, writes=writes, again=again)
            self._all.append(work)
            ended = [one for one in self._all if one.ended]
            for one in ended[: max(0, len(ended) - _KEPT)]:
                self._all.remove(one)
            self._note()
        threading.Thread(target=self._run, args=(work, run), name=f"work {work.number}", daemon=True).start()
        self.changed()
        return work.number

    def _run(self, work: Running, run: Callable[[Running], str]) -> None:
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
            self._note()
            self._turn.notify_all()
        self.changed()

    def _await_turn(self, work: Running) -> None:
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
            self._note()
        self.changed()
        return found

    def stop_all(self) -> None:
        """Ask everything to stop, and wait for a moment until it has: the server ends. The next one offers to go on."""
        deadline = time.monotonic() + 10
        with self._turn:
            journal, self._journal = self._journal, None
            running = [work for work in self._all if not work.ended]
            for work in running:
                work.stop()
            while any(not work.ended for work in running) and time.monotonic() < deadline:
                self._turn.wait(0.2)
        if journal is not None:
            journal.close()

    def told(self) -> tuple[Work, ...]:
        """All work, the latest first."""
        return tuple(work.told() for work in reversed(self._all))

    def running(self) -> bool:
        """Whether anything is under way."""
        return any(not work.ended for work in self._all)

    def changed(self) -> None:
        """Note that something changed."""
        self.version += 1
