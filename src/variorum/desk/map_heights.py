"""At which heights the marks of a map lie: in their order from above, none over another, the lines as level as can be."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array

__all__ = ["Box", "Pull", "settled"]

_BETWEEN: Final = 5.0
"""Pixels left free between two boxes."""


class Box(msgspec.Struct, frozen=True):
    """What must not be printed over: from where to where along, and how far above and below its height."""

    left: float
    right: float
    above: float
    below: float
    meets: frozenset[int] = frozenset()
    """Boxes that it may touch: a line and the places that it joins."""


class Pull(msgspec.Struct, frozen=True):
    """A line that would have two boxes at one height, and how much so."""

    one: int
    other: int
    weight: float


def settled(order: Sequence[int], boxes: Sequence[Box], pulls: Sequence[Pull], top: float) -> list[float]:
    """Heights of the boxes, in pixels from above.

    A linear programme: boxes that could cover each other keep their order and their distance; what is made least is the
    sum over the lines of their weight by the height that they climb or fall.

    Args:
        order: The boxes from above.
        boxes: What has its place on the paper.
        pulls: The lines.
        top: Free above all of it.
    """
    size = len(boxes)
    if not size:
        return []
    cost = np.concatenate([np.full(size, 1e-4), np.array([pull.weight for pull in pulls])])
    rows: list[int] = []
    columns: list[int] = []
    entries: list[float] = []
    limits: list[float] = []

    def below(limit: float, *terms: tuple[int, float]) -> None:
        for column, entry in terms:
            rows.append(len(limits))
            columns.append(column)
            entries.append(entry)
        limits.append(limit)

    for upper, lower in _neighbours(order, boxes):
        apart = boxes[upper].below + boxes[lower].above + _BETWEEN
        below(-apart, (upper, 1.0), (lower, -1.0))
    for climb, pull in enumerate(pulls, start=size):
        below(0.0, (pull.one, 1.0), (pull.other, -1.0), (climb, -1.0))
        below(0.0, (pull.one, -1.0), (pull.other, 1.0), (climb, -1.0))
    bounds = [(top + box.above, None) for box in boxes] + [(0.0, None)] * len(pulls)
    if not limits:
        return [top + box.above for box in boxes]
    matrix = coo_array((entries, (rows, columns)), shape=(len(limits), len(cost))).tocsr()
    found = linprog(cost, A_ub=matrix, b_ub=limits, bounds=bounds, method="highs")
    return [float(height) for height in found.x[:size]]


def _neighbours(order: Sequence[int], boxes: Sequence[Box]) -> list[tuple[int, int]]:
    """Pairs of boxes, one over the other, between which for some stretch along no third lies; the rest follows from them."""
    hides = _hiding(boxes)
    found = []
    for place, lower in enumerate(order):
        box = boxes[lower]
        open_ = [(box.left, box.right)]
        for upper in reversed(order[:place]):
            other = boxes[upper]
            if upper in box.meets or lower in other.meets:
                continue
            if not any(left < other.right and other.left < right for left, right in open_):
                continue
            found.append((upper, lower))
            first, last = hides[upper]
            if first < last:
                open_ = [
                    part
                    for left, right in open_
                    for part in ((left, min(right, first)), (max(left, last), right))
                    if part[0] < part[1]
                ]
            if not open_:
                break
    return found


def _hiding(boxes: Sequence[Box]) -> list[tuple[float, float]]:
    """Of each box the stretch where it keeps all others apart: not where it may touch one."""
    found = [(box.left, box.right) for box in boxes]
    for number, box in enumerate(boxes):
        for other in box.meets:
            for one, two in ((number, other), (other, number)):
                left, right = found[one]
                if boxes[two].left > boxes[one].left:
                    right = min(right, boxes[two].left)
                else:
                    left = max(left, boxes[two].right)
                found[one] = (left, right)
    return found
