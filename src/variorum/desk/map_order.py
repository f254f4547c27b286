"""In which order from above the lines and places of a map lie, so that few of them cross.

One order of everything is looked for, not one in each layer: lines are long, and what overlaps along must not overlap
across. It is improved by sifting, each mark moved to where it costs least while all others stay: R. Rudell, Dynamic variable
ordering for ordered binary decision diagrams, ICCAD 1993; for crossings C. Matuszewski, R. Schönfeld, P. Molitor, Using
sifting for k-layer straightline crossing minimization, Graph Drawing 1999.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from itertools import combinations
from typing import Final

import msgspec
import numpy as np

__all__ = ["Bend", "Crossings", "Extent", "best_orders"]

_ROUNDS: Final = 12
_BLOCK_ROUNDS: Final = 3


class Extent(msgspec.Struct, frozen=True):
    """From where to where along a mark reaches, and what it costs that a bend crosses it."""

    left: float
    right: float
    cost: float = 1.0


class Bend(msgspec.Struct, frozen=True):
    """A line that climbs or falls from one mark to another, between two places along."""

    start: int
    end: int
    left: float
    right: float
    cost: float = 1.0


_Terms = dict[int, list[tuple[int, int, float]]]
"""For a mark, by other mark: pairs whose order says whether it is dearer to lie under the other, and by how much."""


class Crossings:
    """What orders of some marks cost: every bend with the marks that lie between its ends, and with other bends."""

    def __init__(self, extents: Sequence[Extent], bends: Sequence[Bend]) -> None:
        passed = [
            (bend.start, bend.end, mark, _passing(bend, extent))
            for bend in bends
            for mark, extent in enumerate(extents)
            if mark not in (bend.start, bend.end) and _meet(bend, extent)
        ]
        pairs = [
            (one.start, other.start, one.end, other.end, min(one.cost, other.cost))
            for one, other in combinations(bends, 2)
            if _apart(one, other) and _meet(one, other)
        ]
        self._passed = np.array([one[:3] for one in passed], np.int64).reshape(-1, 3)
        self._passed_cost = np.array([one[3] for one in passed], np.float64)
        self._pairs = np.array([one[:4] for one in pairs], np.int64).reshape(-1, 4)
        self._pairs_cost = np.array([one[4] for one in pairs], np.float64)

    def of(self, order: Sequence[int]) -> float:
        """What all crossings of an order cost."""
        rank = np.empty(len(order), np.int64)
        rank[list(order)] = np.arange(len(order))
        start, end, mark = rank[self._passed].T
        between = (start < mark) == (mark < end)
        one, other, far, farther = rank[self._pairs].T
        crossed = (one < other) != (far < farther)
        return float(self._passed_cost @ between + self._pairs_cost @ crossed)


_PLACE: Final = 5.0
"""From this cost on a mark is a place, which no line may cross however thin it is."""


def best_orders(
    starts: Sequence[Sequence[int]],
    extents: Sequence[Extent],
    bends: Sequence[Bend],
    blocks: Sequence[Collection[int]] = (),
) -> list[list[int]]:
    """What comes of several orders when single marks and then whole blocks of them are moved: those that cost least.

    Args:
        starts: Orders to begin with, at least one. None of them is better than what is found.
        extents: The marks.
        bends: The lines between them.
        blocks: Marks that may have to move together.
    """
    terms, crossings = _terms(extents, bends), Crossings(extents, bends)
    found: dict[tuple[int, ...], float] = {}
    for start in starts:
        order = _improved(_sifted(start, terms), blocks, terms, crossings)
        found[tuple(order)] = crossings.of(order)
    least = min(found.values())
    return [list(order) for order, cost in found.items() if cost < least + 1e-9]


def _improved(
    order: list[int], blocks: Sequence[Collection[int]], terms: list[_Terms], crossings: Crossings
) -> list[int]:
    for _ in range(_BLOCK_ROUNDS if blocks else 0):
        cost = crossings.of(order)
        for block in blocks:
            order = _moved(order, block, terms, crossings)
        order = _sifted(order, terms)
        if crossings.of(order) > cost - 1e-9:
            break
    return order


def _moved(order: list[int], block: Collection[int], terms: list[_Terms], crossings: Crossings) -> list[int]:
    """The order with a block, in its own order or turned over, where it costs least."""
    inner = [mark for mark in order if mark in block]
    outer = [mark for mark in order if mark not in block]
    best, least = order, crossings.of(order) - 1e-9
    for turned in (inner, inner[::-1]):
        # From the top down past one mark after the other, each of the block in turn.
        rank = _ranks([*turned, *outer])
        cost = crossings.of([*turned, *outer])
        if cost < least:
            best, least = [*turned, *outer], cost
        for place, other in enumerate(outer, start=1):
            for mark in reversed(turned):
                if other in terms[mark]:
                    cost += _dearer_under(other, terms[mark], rank)
                rank[mark], rank[other] = rank[other], rank[mark]
            if cost < least:
                best, least = [*outer[:place], *turned, *outer[place:]], cost
    return best


def _sifted(order: Sequence[int], terms: list[_Terms]) -> list[int]:
    found = list(order)
    # Marks with many lines first: they decide where the others can lie.
    turns = sorted(range(len(terms)), key=lambda mark: (-len(terms[mark]), mark))
    for _ in range(_ROUNDS):
        changed = False
        for mark in turns:
            changed |= _sift(mark, found, terms[mark])
        if not changed:
            break
    return found


def _sift(mark: int, order: list[int], terms: _Terms) -> bool:
    """Move a mark to where it costs least; `True` if that is less than where it was."""
    if not terms:
        return False
    rank = _ranks(order)
    here = rank[mark]
    known = sorted(rank[other] for other in terms)
    best, place = 0.0, here
    # Past the marks that matter, one after the other, downwards and then upwards.
    for down in (True, False):
        cost = 0.0
        for step in known if down else reversed(known):
            if (step > here) is not down:
                continue
            dearer = _dearer_under(order[step], terms, rank)
            cost += dearer if down else -dearer
            if cost < best - 1e-9:
                best, place = cost, step
    if place == here:
        return False
    order.pop(here)
    order.insert(place, mark)
    return True


def _dearer_under(other: int, terms: _Terms, rank: list[int]) -> float:
    """By how much a mark costs more right under another than right above it."""
    total = 0.0
    for first, second, cost in terms[other]:
        total += cost if rank[first] < rank[second] else -cost
    return total


def _terms(extents: Sequence[Extent], bends: Sequence[Bend]) -> list[_Terms]:
    found: list[_Terms] = [defaultdict(list) for _ in extents]
    for bend in bends:
        for mark, extent in enumerate(extents):
            if mark in (bend.start, bend.end) or not _meet(bend, extent):
                continue
            cost = _passing(bend, extent)
            for near, far in ((bend.start, bend.end), (bend.end, bend.start)):
                # An end of a bend that goes under the mark is parted from the other end by it where that lies above.
                found[near][mark].append((far, mark, cost))
                found[mark][near].append((near, far, cost))
    for one, other in combinations(bends, 2):
        if not _apart(one, other) or not _meet(one, other):
            continue
        cost = min(one.cost, other.cost)
        for mine, theirs, far, farther in (
            (one.start, other.start, one.end, other.end),
            (one.end, other.end, one.start, other.start),
        ):
            found[mine][theirs].append((far, farther, cost))
            found[theirs][mine].append((farther, far, cost))
    return found


def _passing(bend: Bend, extent: Extent) -> float:
    return min(bend.cost, extent.cost) if extent.cost < _PLACE else extent.cost


def _meet(one: Bend | Extent, other: Bend | Extent) -> bool:
    return one.left < other.right and other.left < one.right


def _apart(one: Bend, other: Bend) -> bool:
    return not {one.start, one.end} & {other.start, other.end}


def _ranks(order: Sequence[int]) -> list[int]:
    rank = [0] * len(order)
    for place, mark in enumerate(order):
        rank[mark] = place
    return rank
