"""Work of a desk is waited for."""

from __future__ import annotations

import time

from variorum.desk.work import State, Work, Works

__all__ = ["until"]


def until(works: Works, number: int, *states: State) -> Work:
    """A piece of work once it has one of these states."""
    deadline = time.monotonic() + 60
    while True:
        work = next(one for one in works.told() if one.number == number)
        if work.state in states:
            return work
        assert time.monotonic() < deadline, work
        time.sleep(0.01)
