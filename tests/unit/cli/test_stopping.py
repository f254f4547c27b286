"""Ctrl-C where Python drops what is raised (`sys.unraisablehook`, Python Library Reference): it comes again."""

from __future__ import annotations

import signal
import sys
import time
import weakref

import pytest

from variorum.cli.stopping import no_interrupt_is_lost


class Falls:
    def __init__(self, error: type[BaseException]) -> None:
        self.error = error

    def __del__(self) -> None:
        raise self.error


def wait(seconds: float) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        time.sleep(0.005)


def test_an_interrupt_in_a_destructor_comes_again() -> None:
    with no_interrupt_is_lost(), pytest.raises(KeyboardInterrupt):
        Falls(KeyboardInterrupt)
        wait(20.0)


def test_an_interrupt_in_a_callback_of_a_weak_reference_comes_again() -> None:
    def told(_: object) -> None:
        signal.raise_signal(signal.SIGINT)

    class Thing:
        pass

    thing = Thing()
    reference = weakref.ref(thing, told)
    with no_interrupt_is_lost(), pytest.raises(KeyboardInterrupt):
        del thing
        wait(20.0)
    assert reference() is None


def test_other_errors_are_told_as_before(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[type[BaseException]] = []
    monkeypatch.setattr(sys, "unraisablehook", lambda dropped: told.append(dropped.exc_type))
    with no_interrupt_is_lost():
        Falls(ValueError)
    assert told == [ValueError]
