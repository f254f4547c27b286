"""The same game met more than once: which games are doubles of each other.

Two games are doubles when their moves are equal, or those of one begin the other's and are at least 30 plies; when
their results are equal or one is unknown; when their dates agree in all parts that both know; and when the names of both
players are compatible (`names`); games under 30 plies whose players are unknown are never doubles. A group holds games
of which every two are doubles, so that one careless spelling does not chain different games together. Games are taken the
longest first, then by source and place in it, each into the first group that has room for it, so that groups do not
depend on the order in which files were sifted.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum.store.names import Words, compatible_among, words_of

__all__ = ["BEGINNING_PLIES", "Candidate", "Double", "compatible_dates", "group_doubles", "share_a_beginning"]

BEGINNING_PLIES = 30
"""Plies that a game needs to be taken for the beginning of a longer one."""


class Candidate(msgspec.Struct, frozen=True):
    """A game that may have doubles."""

    game: int
    source: str
    game_number: int
    start_fen: str
    moves: bytes
    """Packed, two bytes each."""
    white: str
    black: str
    result: int
    date: int
    fingerprint: int


class Double(msgspec.Struct, frozen=True):
    """A game of a group: what stands in the store."""

    game: int
    representative: int
    """The longest of its group, of these the first by source and place."""
    result: int
    """The group's result where one of its games knows it, else 0."""
    date: int
    """The group's date, each part from a game that knows it."""
    fingerprint: int


def compatible_dates(one: int, other: int) -> bool:
    """Whether two dates (yyyymmdd, 0 for unknown parts) agree where both are known."""
    return all(a == b or 0 in (a, b) for a, b in zip(_parts(one), _parts(other), strict=True))


def _parts(date: int) -> tuple[int, int, int]:
    return date // 10_000, date // 100 % 100, date % 100


def share_a_beginning(prints: NDArray[np.uint64], fresh: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Indices of games whose fingerprint another game has too, where one of them is fresh; sorted by fingerprint."""
    order = np.argsort(prints, kind="stable")
    ordered = prints[order]
    starts = (
        np.flatnonzero(np.r_[True, ordered[1:] != ordered[:-1]]) if len(ordered) else np.zeros(0, np.int64)
    )
    sizes = np.diff(np.r_[starts, len(ordered)])
    news = np.add.reduceat(fresh[order].astype(np.int64), starts) if len(starts) else sizes
    wanted: NDArray[np.bool_] = np.repeat((sizes > 1) & (news > 0), sizes)
    found: NDArray[np.int64] = order[wanted]
    return found


class _Spelling(NamedTuple):
    """What decides whether a game is a double of another."""

    line: int
    """Index of its start and moves among those at hand."""
    white: Words
    black: Words
    result: int
    date: int


class _Lines:
    """The different lines of a set, and which of them begin others."""

    def __init__(self, games: Iterable[Candidate]) -> None:
        # A line stands before all that it begins, and these follow it without a gap.
        ascending = sorted({(game.start_fen, game.moves) for game in games})
        self.number = {line: index for index, line in enumerate(ascending)}
        self._beginning = [-1] * len(ascending)
        """The longest other line that begins a line."""
        over: list[int] = []
        for index, (start, moves) in enumerate(ascending):
            while over and not (ascending[over[-1]][0] == start and moves.startswith(ascending[over[-1]][1])):
                over.pop()
            self._beginning[index] = over[-1] if over else -1
            if len(moves) >= 2 * BEGINNING_PLIES:
                over.append(index)

    def beginnings(self, line: int) -> Iterator[int]:
        """The line itself and those of thirty plies at least that begin it."""
        while line >= 0:
            yield line
            line = self._beginning[line]


class _Groups:
    """Groups being made. A group is filed under what its first game is; only groups filed near a game are tried."""

    def __init__(self, lines: _Lines, spellings: Iterable[_Spelling]) -> None:
        spellings = list(spellings)
        self.groups: list[list[_Spelling]] = []
        self._lines = lines
        self._whites = compatible_among({one.white for one in spellings})
        self._blacks = compatible_among({one.black for one in spellings})
        pairs = {(one.white, one.black) for one in spellings}
        self._blacks_of: dict[Words, list[Words]] = {}
        self._whites_of: dict[Words, list[Words]] = {}
        for white, black in pairs:
            self._blacks_of.setdefault(white, []).append(black)
            self._whites_of.setdefault(black, []).append(white)
        self._near: dict[tuple[Words, Words], list[tuple[Words, Words]]] = {}
        self._filed: dict[tuple[int, Words, Words], dict[int, list[int]]] = {}

    def place(self, spelling: _Spelling) -> None:
        """Put games of a spelling to the first group that has room for them, or to one of their own."""
        for number in sorted(self._tried(spelling)):
            if all(self._one_game(spelling, other) for other in self.groups[number]):
                self.groups[number].append(spelling)
                return
        for line in self._lines.beginnings(spelling.line):
            by_date = self._filed.setdefault((line, spelling.white, spelling.black), {})
            by_date.setdefault(spelling.date, []).append(len(self.groups))
        self.groups.append([spelling])

    def _tried(self, spelling: _Spelling) -> Iterator[int]:
        """Groups whose first game has compatible names and date, and moves that this one begins."""
        parts = _parts(spelling.date)
        for pair in self._pairs_near(spelling.white, spelling.black):
            by_date = self._filed.get((spelling.line, *pair), {})
            if 0 in parts or len(by_date) < 8:
                dates = [date for date in by_date if compatible_dates(date, spelling.date)]
            else:
                year, month, day = ((part, 0) for part in parts)
                dates = [y * 10_000 + m * 100 + d for y in year for m in month for d in day]
            for date in dates:
                yield from by_date.get(date, ())

    def _pairs_near(self, white: Words, black: Words) -> list[tuple[Words, Words]]:
        """The pairs of players that are compatible with a pair."""
        known = self._near.get((white, black))
        if known is None:
            whites, blacks = self._whites[white], self._blacks[black]
            if sum(len(self._blacks_of[one]) for one in whites) <= sum(
                len(self._whites_of[one]) for one in blacks
            ):
                known = [(one, other) for one in whites for other in self._blacks_of[one] if other in blacks]
            else:
                known = [(one, other) for other in blacks for one in self._whites_of[other] if one in whites]
            self._near[white, black] = known
        return known

    def _one_game(self, spelling: _Spelling, other: _Spelling) -> bool:
        """Whether the shorter or equally long `spelling` is a double of the other."""
        return (
            (spelling.result == other.result or 0 in (spelling.result, other.result))
            and compatible_dates(spelling.date, other.date)
            and spelling.white in self._whites[other.white]
            and spelling.black in self._blacks[other.black]
            and spelling.line in self._lines.beginnings(other.line)
        )


def group_doubles(candidates: Iterable[Candidate]) -> Iterator[Double]:
    """The games of a set of equal beginnings that have doubles, with their group's representative.

    Takes time in proportion to the games, not to their pairs, as long as few of them have compatible names.
    """
    ordered = sorted(candidates, key=lambda game: (-len(game.moves), game.source, game.game_number))
    lines = _Lines(ordered)
    # Games that are spelt alike are of one group whatever the others are.
    alike: dict[_Spelling, list[Candidate]] = {}
    for game in ordered:
        white, black = words_of(game.white), words_of(game.black)
        if len(game.moves) >= 2 * BEGINNING_PLIES or (white and black):
            line = lines.number[game.start_fen, game.moves]
            alike.setdefault(_Spelling(line, white, black, game.result, game.date), []).append(game)
    groups = _Groups(lines, alike)
    for spelling in alike:
        groups.place(spelling)
    for group in groups.groups:
        lead = alike[group[0]][0].game
        result = max(spelling.result for spelling in group)
        year, month, day = (max(parts) for parts in zip(*(_parts(one.date) for one in group), strict=True))
        members = [game for spelling in group for game in alike[spelling]]
        if len(members) > 1:
            for game in members:
                yield Double(game.game, lead, result, year * 10_000 + month * 100 + day, game.fingerprint)
