"""What a voice must be able to do, and the asking of many positions under a budget."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from typing import Protocol

import msgspec

from variorum.base import Interrupted, Progress, VariorumError
from variorum.board import Request, Verdict
from variorum.voices.crew import Crew

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
    crew = Crew(chosen, lambda: (open_voice(),), lambda voices, request: _ask(voices[0], request), deadline)
    answers: dict[int, Answer] = {}
    try:
        with progress.task("verdicts", total=len(chosen), unit="positions") as task:
            crew.start(workers)
            for index, answer in crew.results():
                answers[index] = answer
                if answer.verdict is not None:
                    keep(answer.verdict)
                task.advance(1, note=describe(answer.request))
    finally:
        crew.close()
    return [answers[index] for index in sorted(answers)]


def _within(requests: Iterable[Request], total_nodes: int | None) -> Iterator[Request]:
    spent = 0
    for request in requests:
        if total_nodes is not None:
            spent += request.nodes or 0
            if spent > total_nodes:
                return
        yield request


def _ask(voice: Voice, request: Request) -> Answer | None:
    try:
        return Answer(request, voice.ask(request), None)
    except Interrupted:
        return None
    except VariorumError as fault:
        return Answer(request, None, fault)
