"""A first skeleton of a system that nobody has looked at: which position to ask next, best first (docs/methods.md 16)."""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Set

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.board import Line, Move, Position, Side, Verdict
from variorum.graph.values import effort_number, nodes_of, scored_moves

__all__ = ["BEYOND", "Branch", "Frontier", "Skeleton", "Width"]

BEYOND = 6
"""So many plies beyond the horizon a line is followed until it is quiet."""

_DIGITS = 9
"""Concessions are compared to so many decimals: the order is then the same on every machine."""


class Width(msgspec.Struct, frozen=True, kw_only=True):
    """How broad and how deep: moves that concede at most `margin` points of E, to `plies` from the start."""

    margin: float = 8.0
    plies: int = 16


class Branch(msgspec.Struct, frozen=True, kw_only=True):
    """A move beside a line, with its own best play and what parts from that.

    `at` is how many moves of that line are played before it; what it `conceded` is in points for its mover, `expected`
    is E for White after it, and `nodes` the effort of the verdict that decides it (0 where a repetition or the rules do).
    Where its moves come to a position of the line, or of one that this parted from, they end there and it `joins`.
    """

    at: int
    moves: tuple[Move, ...]
    conceded: float
    expected: float
    nodes: int
    joins: bool
    branches: tuple[Branch, ...]


class Skeleton(msgspec.Struct, frozen=True, kw_only=True):
    """What is known from a position on: its value and main line, and what parts from it, the least concession first.

    `hidden` counts the branches of the main line that are not among `branches`; `waiting` the positions within the width
    that nobody was asked about.
    """

    expected: float | None
    nodes: int
    positions: int
    waiting: int
    moves: tuple[Move, ...]
    branches: tuple[Branch, ...]
    hidden: int


class _Steps:
    """Moves between positions as columns, only ever added to: the lines of verdicts, and other moves to asked positions.

    A position is known by its place, in the order in which positions were met; one that was asked is also a node.
    """

    def __init__(self) -> None:
        self.move: list[Move] = []
        self.packed: list[int] = []
        self.source: list[int] = []
        """Node."""
        self.to: list[int] = []
        """Place."""
        self.own: list[float] = []
        """E for White by the verdict of the node, NaN where it does not say."""

    def add(self, source: int, move: Move, packed: int, to: int, own: float) -> int:
        self.move.append(move)
        self.packed.append(packed)
        self.source.append(source)
        self.to.append(to)
        self.own.append(own)
        return len(self.move) - 1


class _Values(msgspec.Struct, frozen=True):
    """What is backed up (methods.md 3): E for White and effort by node, and by step what it concedes to its mover."""

    scores: list[float]
    efforts: list[int]
    conceded: list[float]


class Frontier:
    """Grows a skeleton from one position by one voice.

    Best-first minimax (Korf and Chickering, Artificial Intelligence 84, 1996) asks the leaf at the end of the main line by
    values backed up so far. Here that leaf comes first, because its line concedes nothing; then the leaves whose lines
    concede least. Positions are nodes of a graph: whatever order reaches one, it is asked once, and repetitions are
    drawn (methods.md 3). The same verdicts give the same questions: what was asked together counts only when all of it
    is answered, so it does not matter whose answer comes first, or whether an earlier run got it.

    Args:
        start: Where the skeleton grows from.
        width: How broad and how deep it grows.
        known: Verdicts of the voice that are there already; those that the skeleton meets are used, not asked again.
    """

    def __init__(self, start: Position, width: Width, known: Iterable[Verdict] = ()) -> None:
        self._start = start
        self._width = width
        self._known: dict[str, Verdict] = {}
        self._silent: set[int] = set()
        self._place: dict[Position, int] = {}
        self._positions: list[Position] = []
        self._keys: list[int] = []
        self._node: list[int] = []
        """By place: its node, -1 for a position that was not asked."""
        self._steps = _Steps()
        self._steps_of: list[list[int]] = []
        """By node, as are the following."""
        self._places: list[int] = []
        self._white: list[bool] = []
        self._legal: list[int] = []
        self._efforts: list[int] = []
        self._leading: dict[int, list[tuple[int, Move]]] = {}
        """Key of a position that was not asked to the nodes from which a legal move leads there."""
        self._values: _Values | None = None
        self._way: dict[int, int] = {}
        """By place: the last step of the way of least concession, as the last look found it."""
        self._meet(start)
        for verdict in known:
            best = self._known.get(verdict.epd)
            if verdict.lines and (best is None or verdict.effort > best.effort):
                self._known[verdict.epd] = verdict

    def learn(self, verdict: Verdict) -> None:
        """Take in the answer to a question."""
        self._known[verdict.epd] = verdict

    def give_up(self, position: Position) -> None:
        """Take in that a question has no answer: it is not asked again, and nothing grows from there."""
        self._silent.add(self._meet(position))

    def next(self, count: int) -> tuple[Position, ...]:
        """The positions to ask next, `count` at most, the most wanted first; none when nothing is left within the width.

        Until all of them are answered, the same call gives those that are not.
        """
        while batch := self._leaves(count):
            open_ = [position for position in batch if position.epd not in self._known]
            if open_:
                return tuple(open_)
            for position in batch:
                self._take(position)
        return ()

    def line_to(self, position: Position) -> Line:
        """The line of least concession to a position that `next` gave."""
        moves: list[Move] = []
        place = self._place[position]
        while (step := self._way.get(place)) is not None:
            moves.append(self._steps.move[step])
            place = self._places[self._steps.source[step]]
        return Line(self._start, tuple(reversed(moves)))

    def skeleton(self, most: int = 12, within: int = 2) -> Skeleton:
        """What is known now: the main line, at most `most` branches of it, and `within` of each of these.

        To be called at the end: every answer counts here, also where others that were asked with it are missing.
        """
        while met := [position for position in self._leaves(None) if position.epd in self._known]:
            for position in met:
                self._take(position)
        waiting = len(self._leaves(None))
        if self._node[0] < 0:
            return Skeleton(
                expected=None, nodes=0, positions=0, waiting=waiting, moves=(), branches=(), hidden=0
            )
        best = self._best_play(0)
        branches = self._branches(best, self._places_of(best), within)
        expected, nodes = self._value(self._node[0])
        return Skeleton(
            expected=expected,
            nodes=nodes,
            positions=len(self._places),
            waiting=waiting,
            moves=tuple(self._steps.move[step] for step in best),
            branches=tuple(branches[:most]),
            hidden=len(branches[most:]),
        )

    def _meet(self, position: Position) -> int:
        """The place of a position."""
        place = self._place.setdefault(position, len(self._positions))
        if place == len(self._positions):
            self._positions.append(position)
            self._keys.append(position.key)
            self._node.append(-1)
        return place

    def _take(self, position: Position) -> None:
        """Let a verdict count: a new node, and the legal moves between it and all others."""
        verdict = self._known[position.epd]
        place = self._meet(position)
        scored = scored_moves(position, verdict)
        if not scored:
            self._silent.add(place)  # somebody else's verdict, with no legal move in it
            return
        node = len(self._places)
        legal = position.legal_moves()
        self._node[place] = node
        self._places.append(place)
        self._white.append(position.turn is Side.WHITE)
        self._legal.append(len(legal))
        self._efforts.append(effort_number(verdict))
        self._steps_of.append([])
        for packed, score in scored.items():
            (move,) = position.unpack(np.array([packed], np.uint16))
            self._step(node, move, packed, self._meet(position.play(move)), score)
        lines = {self._steps.move[step] for step in self._steps_of[node]}
        for move in legal:
            if move in lines:
                continue
            after = position.play(move)
            known = self._place.get(after)
            if known is not None and self._node[known] >= 0:
                self._step(node, move, int(position.pack([move])[0]), known, math.nan)
            else:
                self._leading.setdefault(after.key, []).append((node, move))
        for before, move in self._leading.pop(position.key, ()):
            earlier = self._positions[self._places[before]]
            self._step(before, move, int(earlier.pack([move])[0]), place, math.nan)
        self._values = None

    def _step(self, node: int, move: Move, packed: int, to: int, own: float) -> None:
        self._steps_of[node].append(self._steps.add(node, move, packed, to, own))

    def _backed_up(self) -> _Values:
        """Values by what is known now."""
        if self._values is None:
            steps, count = self._steps, len(self._places)
            source, packed = np.array(steps.source, np.int64), np.array(steps.packed, np.uint16)
            own = np.array(steps.own)
            child = np.array(self._node, np.int64)[np.array(steps.to, np.int64)]
            edges = np.flatnonzero(child >= 0)
            edges = edges[np.lexsort((packed[edges], source[edges]))]
            lines = np.flatnonzero(~np.isnan(own))  # by node: a node's lines are added when it is
            efforts = np.array(self._efforts, np.uint64)
            white = np.array(self._white)
            core = _core.GraphCore(_bounds(source[edges], count), child[edges].astype(np.uint32))
            voice = (
                np.arange(count, dtype=np.uint32),
                efforts,
                _bounds(source[lines], count),
                packed[lines],
                own[lines],
            )
            legal, going_on = np.array(self._legal, np.uint16), np.zeros(count, np.uint8)
            ((scores, deciding, *_),) = core.values(packed[edges], legal, white, going_on, [voice])
            # The value of a move: its child's, unless the own score is of greater effort.
            heard = (child >= 0) & (np.isnan(own) | (efforts[source] <= deciding[child]))
            worth = np.where(heard, scores[child], own)
            given = np.where(white[source], scores[source] - worth, worth - scores[source])
            conceded = np.maximum(0.0, np.round(given, _DIGITS))
            self._values = _Values(scores.tolist(), deciding.tolist(), conceded.tolist())
        return self._values

    def _leaves(self, count: int | None) -> list[Position]:
        """The first positions within the width that nobody was asked about, the most wanted first; all for `None`.

        A position is met by its way of least concession (of equal ones the shorter, then by key).
        """
        to, margin = self._steps.to, self._width.margin
        conceded = self._backed_up().conceded if self._places else []
        self._way = {}
        met = [False] * len(self._positions)
        found: list[Position] = []
        queue = [(0.0, 0, self._keys[0], 0, -1)]
        while queue and len(found) != count:
            whole, plies, _, place, last = heapq.heappop(queue)
            if met[place]:
                continue
            met[place] = True
            if last >= 0:
                self._way[place] = last
            node = self._node[place]
            if node < 0:
                if place not in self._silent and self._goes_on(place, plies):
                    found.append(self._positions[place])
                continue
            for step in self._steps_of[node]:
                after, more = to[step], conceded[step]
                if more <= margin and not met[after]:
                    further = round(whole + more, _DIGITS)
                    heapq.heappush(queue, (further, plies + 1, self._keys[after], after, step))
        return found

    def _goes_on(self, place: int, plies: int) -> bool:
        """Within the horizon always; a little beyond it only while captures or a check are in the air."""
        position = self._positions[place]
        if position.outcome is not None or plies > self._width.plies + BEYOND:
            return False
        if plies <= self._width.plies or position.is_check:
            return True
        before = self._places[self._steps.source[self._way[place]]]
        return _units(position) != _units(self._positions[before])

    def _value(self, node: int) -> tuple[float, int]:
        """E for White of a node, and the nodes of the verdict that decides it; 0 where none does."""
        values = self._backed_up()
        return values.scores[node], nodes_of(values.efforts[node])

    def _best_play(self, place: int, ends: Set[int] = frozenset()) -> list[int]:
        """The steps that concede nothing, to a place of `ends`, or to one that was not asked or that comes again."""
        conceded = self._backed_up().conceded
        best: list[int] = []
        met = {place}
        while place not in ends and (node := self._node[place]) >= 0:
            step = min(self._steps_of[node], key=lambda one: (conceded[one], self._is_leaf(one), one))
            place = self._steps.to[step]
            if conceded[step] or place in met:
                break
            met.add(place)
            best.append(step)
        return best

    def _is_leaf(self, step: int) -> bool:
        return self._node[self._steps.to[step]] < 0

    def _places_of(self, line: list[int]) -> set[int]:
        return {self._steps.to[step] for step in line}

    def _branches(self, line: list[int], known: Set[int], within: int) -> list[Branch]:
        """What parts from a line to a position that was asked, the least concession first."""
        conceded = self._backed_up().conceded
        found = []
        for at, played in enumerate(line):
            for step in self._steps_of[self._steps.source[played]]:
                if step == played or self._is_leaf(step) or conceded[step] > self._width.margin:
                    continue
                best = self._best_play(self._steps.to[step], known)
                mine = [step, *best]
                inner = self._branches(best, known | self._places_of(mine), 0)[:within] if within else ()
                expected, nodes = self._value(self._node[self._steps.to[step]])
                found.append(
                    Branch(
                        at=at,
                        moves=tuple(self._steps.move[one] for one in mine),
                        conceded=conceded[step],
                        expected=expected,
                        nodes=nodes,
                        joins=self._steps.to[mine[-1]] in known,
                        branches=tuple(inner),
                    )
                )
        return sorted(found, key=lambda branch: (branch.conceded, branch.at, branch.moves))


def _bounds(sources: NDArray[np.int64], count: int) -> NDArray[np.uint32]:
    """Where the rows of each of `count` nodes begin and end, the rows being in the order of nodes."""
    return np.searchsorted(sources, np.arange(count + 1)).astype(np.uint32)


def _units(position: Position) -> list[str]:
    """The kinds of units on the board: a capture or promotion changes them."""
    return sorted(position.pieces().values())
