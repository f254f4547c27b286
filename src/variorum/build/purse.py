"""A budget that several rounds of questions share."""

from __future__ import annotations

import time
from collections.abc import Iterable

from variorum.board import Request
from variorum.voices.voice import Budget

__all__ = ["Purse"]


class Purse:
    """What is left of a budget, from the moment it is opened."""

    def __init__(self, budget: Budget) -> None:
        self._deadline = None if budget.seconds is None else time.monotonic() + budget.seconds
        self._nodes = budget.total_nodes

    def left(self) -> Budget | None:
        """What the next round may cost; `None` when nothing is left."""
        seconds = None if self._deadline is None else self._deadline - time.monotonic()
        if (seconds is not None and seconds <= 0) or (self._nodes is not None and self._nodes <= 0):
            return None
        return Budget(seconds=seconds, total_nodes=self._nodes)

    def pay(self, answered: Iterable[Request]) -> None:
        """Take off the nodes of questions, as they were asked."""
        if self._nodes is not None:
            self._nodes -= sum(request.nodes or 0 for request in answered)
