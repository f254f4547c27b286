"""What one run may spend on verdicts."""

from __future__ import annotations

import math

import msgspec

from variorum.base import UsageError

__all__ = ["Limits"]


class Limits(msgspec.Struct, frozen=True, kw_only=True):
    """Minutes of the clock, or nodes as asked; neither where something else says when to stop.

    Raises:
        UsageError: Both are given, or one is no finite number above 0.
    """

    minutes: float | None = None
    total_nodes: int | None = None

    def __post_init__(self) -> None:
        if self.minutes is not None and self.total_nodes is not None:
            raise UsageError("a budget is given in minutes or in nodes, not in both")
        for name, value in (("minutes", self.minutes), ("nodes", self.total_nodes)):
            if value is not None and not 0 < value < math.inf:
                raise UsageError(f"a budget cannot be {value} {name}", remedy="give a number above 0")
