"""What a voice must be able to do, and the asking of many positions under a budget."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from typing import Protocol

import msgspec

from variorum.base import Interrupted, Progress, VariorumError
from variorum.board import Request, Verdict

__all__ = ["Answer", "Budget", "Voice", "ask_all"]


class Voice(Protocol):
    """Somebody who gives verdicts: the resident, or a UCI program of the user."""

    @property
    def name(self) -> str:
        """The name under which its verdicts are kept."""

    @property
    def version(self) -> str:
        """Its version: verdicts of different versions are different readings."""

    def ask(self, request: Request) -> Verdict:
        """The verdict on one position. Blocks; other threads may call `stop`.

        Raises:
            VoiceError: No answer, or none that makes sense.
            Interrupted: `stop` was called.
        """

    def stop(self) -> None:
        """End the question that is being answered now; safe from any thread."""

    def close(self) -> None:
        """Release what the voice holds; it is not asked again."""


class Budget(msgspec.Struct, frozen=True, kw_only=True):
    """What a round of questions may cost: seconds of the clock, nodes over all questions, or no bound (`None`).

    Nodes are counted as asked for, so the same budget asks the same questions on each machine.
    """

    seconds: float | None = None
    total_nodes: int | None = None


class Answer(msgspec.Struct, frozen=True):
    """A question with what came back: a verdict, or the fault that prevented one."""

    request: Request
    verdict: Verdict | None
    fault: VariorumError | None


def ask_all(
    requests: Iterable[Request],
    open_voice: Callable[[], Voice],
    *,
    workers: int,
    budget: Budget,
    keep: Callable[[Verdict], None],
    progress: Progress,
    describe: Callable[[Request], str] = lambda request: request.position.epd,
) -> list[Answer]:
    """Ask a voice all the questions that the budget allows, in order, several at a time.

    Each worker opens its own voice. `keep` is called in the calling thread, once for each verdict, before the next is
    waited for: when it has written the verdict, the verdict is safe whatever happens next. A question whose voice
    fails is answered with the fault, the others go on.

    Returns:
        The answers, in the order of the questions. Questions that the budget did not reach are not among them.

    Raises:
        Interrupted: The user stopped; verdicts handed to `keep` before are kept.
    """
    chosen = list(_within(requests, budget.total_nodes))
    if not chosen:
        return []
    deadline = None if budget.seconds is None else time.monotonic() + budget.seconds
    round_ = _Round(chosen, deadline)
    threads = [
        threading.Thread(target=round_.work, args=(open_voice,), name=f"voice-{n}", daemon=True)
        for n in range(max(1, min(workers, len(chosen))))
    ]
    answers: dict[int, Answer] = {}
    try:
        with progress.task("verdicts", total=len(chosen), unit="positions") as task:
            for thread in threads:
                thread.start()
            for index, answer in round_.results(len(threads)):
                answers[index] = answer
                if answer.verdict is not None:
                    keep(answer.verdict)
                task.advance(1, note=describe(answer.request))
    finally:
        round_.stop()
        for thread in threads:
            thread.join()
    return [answers[index] for index in sorted(answers)]


def _within(requests: Iterable[Request], total_nodes: int | None) -> Iterator[Request]:
    spent = 0
    for request in requests:
        if total_nodes is not None:
            spent += request.nodes or 0
            if spent > total_nodes:
                return
        yield request


_PULSE = 0.5
"""Seconds after which waiting for an answer is begun anew: on Windows a wait without end does not hear Ctrl-C."""


class _Round:
    """The questions of one call, shared by its workers."""

    def __init__(self, requests: list[Request], deadline: float | None) -> None:
        self._requests = requests
        self._deadline = deadline
        self._next = 0
        self._stopped = False
        self._lock = threading.Lock()
        self._voices: list[Voice] = []
        self._results: queue.Queue[tuple[int, Answer] | BaseException | None] = queue.Queue()

    def work(self, open_voice: Callable[[], Voice]) -> None:
        """Answer questions until there are none, in a worker's thread; the end is told by `None`."""
        try:
            voice = open_voice()
            try:
                with self._lock:
                    self._voices.append(voice)
                while (index := self._take()) is not None:
                    answer = _ask(voice, self._requests[index])
                    if answer is not None:
                        self._results.put((index, answer))
            finally:
                voice.close()
        except BaseException as error:  # noqa: BLE001  it is raised again in the calling thread
            self._results.put(error)
        finally:
            self._results.put(None)

    def _take(self) -> int | None:
        with self._lock:
            late = self._deadline is not None and time.monotonic() >= self._deadline
            if self._stopped or late or self._next == len(self._requests):
                return None
            self._next += 1
            return self._next - 1

    def results(self, workers: int) -> Iterator[tuple[int, Answer]]:
        """Answers as they come, until all workers have ended or the deadline stops them."""
        while workers:
            left = _PULSE if self._deadline is None else self._deadline - time.monotonic()
            try:
                result = self._results.get(timeout=min(_PULSE, max(0.05, left)))
            except queue.Empty:
                if self._deadline is not None and time.monotonic() >= self._deadline:
                    self.stop()
                continue
            if result is None:
                workers -= 1
            elif isinstance(result, BaseException):
                raise result
            else:
                yield result

    def stop(self) -> None:
        """No further question; those being answered are cut short."""
        with self._lock:
            self._stopped = True
            voices = list(self._voices)
        for voice in voices:
            voice.stop()


def _ask(voice: Voice, request: Request) -> Answer | None:
    try:
        return Answer(request, voice.ask(request), None)
    except Interrupted:
        return None
    except VariorumError as fault:
        return Answer(request, None, fault)
