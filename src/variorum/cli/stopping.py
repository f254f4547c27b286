"""Being told to end (SIGTERM) is treated as Ctrl-C: work stops in order, and what was finished is kept."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["ends_in_order"]


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
