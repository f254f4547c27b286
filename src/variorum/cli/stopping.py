"""Being told to end (SIGTERM) is treated as Ctrl-C: work stops in order, and what was finished is kept. Neither is lost."""

from __future__ import annotations

import _thread
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

__all__ = ["ends_in_order", "no_interrupt_is_lost"]

_AGAIN_AFTER: Final = 0.05
"""Seconds."""


@contextmanager
def no_interrupt_is_lost() -> Iterator[None]:
    """Inside, a Ctrl-C that falls into a destructor or a callback of a weak reference, where Python drops it, comes again."""
    before = sys.unraisablehook

    def again(dropped: sys.UnraisableHookArgs) -> None:
        if not issubclass(dropped.exc_type, KeyboardInterrupt):
            before(dropped)
            return
        heard = (number for number in (signal.SIGINT, signal.SIGTERM) if callable(signal.getsignal(number)))
        # Not at once: raised in here it would be dropped again.
        threading.Timer(_AGAIN_AFTER, _thread.interrupt_main, [next(heard, signal.SIGINT)]).start()

    sys.unraisablehook = again
    try:
        yield
    finally:
        sys.unraisablehook = before


@contextmanager
def ends_in_order() -> Iterator[None]:
    """Inside, SIGTERM interrupts as Ctrl-C does. Elsewhere than in the main thread nothing changes."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def interrupt(number: int, frame: object) -> None:
        del number, frame
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
