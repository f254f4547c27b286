"""Indexes of a text: of its named positions, of its variations as a tree of moves, and of the games it cites."""

from __future__ import annotations

from collections.abc import Iterator

from variorum.board import Line, Move, Position
from variorum.publish.notation import Notation, set_line
from variorum.publish.page import Index, IndexEntry, Moves, Target, Words
from variorum.publish.wording import Wording

__all__ = ["IndexMaker"]


class _Fork:
    """A position in the tree of moves: what leads on from it, in the order in which it was met, and where it is treated."""

    __slots__ = ("on", "targets")

    def __init__(self) -> None:
        self.on: dict[str, _Fork] = {}
        self.targets: list[Target] = []


class IndexMaker:
    """Collects what a text treats, and where."""

    def __init__(self) -> None:
        self._names: dict[str, list[Target]] = {}
        self._starts: dict[str, tuple[Position, _Fork]] = {}
        self._games: dict[str, list[Target]] = {}

    def position(self, name: str, target: Target) -> bool:
        """A named position stands there. Whether that is new: of targets that read the same the first counts."""
        return _add(self._names.setdefault(name, []), target)

    def game(self, label: str, target: Target) -> None:
        """A game is cited there."""
        _add(self._games.setdefault(label, []), target)

    def line(self, line: Line, target: Target) -> bool:
        """A line is treated there; as above."""
        _, fork = self._starts.setdefault(line.start.fen, (line.start, _Fork()))
        for move in line.moves:
            fork = fork.on.setdefault(move.uci, _Fork())
        return _add(fork.targets, target)

    def made(self, words: Wording, notation: Notation) -> tuple[Index, ...]:
        """The indexes that have entries."""
        names = sorted(self._names.items(), key=lambda item: (item[0].casefold(), item[0]))
        positions = tuple(IndexEntry((Words(name),), tuple(targets)) for name, targets in names)
        variations = tuple(
            entry for start, fork in self._starts.values() for entry in _rows(start, fork, notation)
        )
        games = sorted(self._games.items(), key=lambda item: (item[0].casefold(), item[0]))
        made = (
            Index(words.index_of_positions, positions),
            Index(words.index_of_variations, variations),
            Index(
                words.index_of_games,
                tuple(IndexEntry((Words(label),), tuple(targets)) for label, targets in games),
            ),
        )
        return tuple(index for index in made if index.entries)


def _rows(start: Position, root: _Fork, notation: Notation) -> Iterator[IndexEntry]:
    """The tree as rows: a run of moves up to the next fork; the first way on keeps its depth, the others stand deeper.

    What is said in place of a move stands before what goes on from it, as in the text.
    """
    waiting = [(start, uci, fork, 0) for uci, fork in reversed(root.on.items())]
    while waiting:
        before, uci, fork, depth = waiting.pop()
        run = [Move(uci)]
        while len(fork.on) == 1 and not fork.targets:
            ((uci, fork),) = fork.on.items()
            run.append(Move(uci))
        line = Line(before, tuple(run))
        moves = Moves(tuple(set_line(line, notation).split(" ")), as_line=True)
        yield IndexEntry((moves,), tuple(fork.targets), depth)
        waiting += _ways(line.end, fork, depth)


def _ways(position: Position, fork: _Fork, depth: int) -> list[tuple[Position, str, _Fork, int]]:
    """The ways on, last first."""
    ways = [(position, uci, on, depth + (number > 0)) for number, (uci, on) in enumerate(fork.on.items())]
    return [*ways[:1], *reversed(ways[1:])]


def _add(targets: list[Target], target: Target) -> bool:
    new = target not in targets and (not target.words or all(one.words != target.words for one in targets))
    if new:
        targets.append(target)
    return new
