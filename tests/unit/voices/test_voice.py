from __future__ import annotations

import threading
import time

import pytest

from variorum.base import Interrupted, Silent, VoiceError
from variorum.board import Line, Position, Request, Score, Verdict, VerdictLine
from variorum.voices.voice import Budget, ask_all

LINE = Line.parse("1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3 Nc6 7.Bd3")
REQUESTS = [Request(position=position, voice="echo", nodes=100) for position in LINE.positions()]


class Echo:
    """Answers at once with the first legal move; fails where it is told to; can be slow."""

    name, version = "echo", "1"

    def __init__(self, fail_at: Position | None = None, seconds: float = 0.0) -> None:
        self.fail_at, self.seconds, self.stopped, self.closed = fail_at, seconds, threading.Event(), False

    def ask(self, request: Request) -> Verdict:
        if request.position == self.fail_at:
            raise VoiceError("it fell silent")
        if self.stopped.wait(self.seconds):
            raise Interrupted("stopped")
        line = VerdictLine((request.position.legal_moves()[0].uci,), Score.of_cp(0))
        return Verdict(
            key=request.position.key, epd=request.position.epd, voice="echo", version="1", lines=(line,)
        )

    def stop(self) -> None:
        self.stopped.set()

    def close(self) -> None:
        self.closed = True


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_each_question_is_answered_once_in_order(workers: int) -> None:
    kept: list[Verdict] = []
    answers = ask_all(REQUESTS, Echo, workers=workers, budget=Budget(), keep=kept.append, progress=Silent())
    assert [answer.request for answer in answers] == REQUESTS
    assert sorted(verdict.key for verdict in kept) == sorted(request.position.key for request in REQUESTS)


def test_a_fault_costs_its_question_only() -> None:
    answers = ask_all(
        REQUESTS,
        lambda: Echo(fail_at=LINE.end),
        workers=2,
        budget=Budget(),
        keep=lambda _: None,
        progress=Silent(),
    )
    assert len(answers) == len(REQUESTS)
    assert [answer.request.position for answer in answers if answer.fault] == [LINE.end]


def test_the_budget_in_nodes_counts_what_is_asked_for() -> None:
    answers = ask_all(
        REQUESTS, Echo, workers=2, budget=Budget(total_nodes=350), keep=lambda _: None, progress=Silent()
    )
    assert [answer.request for answer in answers] == REQUESTS[:3]


def test_the_clock_cuts_short_and_keeps_what_is_done() -> None:
    kept: list[Verdict] = []
    answers = ask_all(
        REQUESTS,
        lambda: Echo(seconds=0.15),
        workers=1,
        budget=Budget(seconds=0.5),
        keep=kept.append,
        progress=Silent(),
    )
    assert 1 <= len(answers) < len(REQUESTS)
    assert len(kept) == len(answers)


def test_the_user_stops_and_what_is_kept_stays() -> None:
    kept: list[Verdict] = []
    progress = Silent()

    def keep(verdict: Verdict) -> None:
        kept.append(verdict)
        progress.stop = len(kept) == 3

    voices: list[Echo] = []

    def open_voice() -> Echo:
        voices.append(Echo(seconds=0.01))
        return voices[-1]

    with pytest.raises(Interrupted):
        ask_all(REQUESTS, open_voice, workers=2, budget=Budget(), keep=keep, progress=progress)
    assert len(kept) == 3
    assert all(voice.closed for voice in voices)


def test_a_defect_of_a_voice_is_not_hidden() -> None:
    def open_voice() -> Echo:
        raise RuntimeError("defect")

    started = time.monotonic()
    with pytest.raises(RuntimeError, match="defect"):
        ask_all(REQUESTS, open_voice, workers=2, budget=Budget(), keep=lambda _: None, progress=Silent())
    assert time.monotonic() - started < 60


def test_nothing_to_ask_opens_no_voice() -> None:
    def open_voice() -> Echo:
        raise AssertionError

    assert ask_all([], open_voice, workers=2, budget=Budget(), keep=lambda _: None, progress=Silent()) == []
