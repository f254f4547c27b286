"""The same game met more than once: which games are doubles of each other.

Two games are doubles when their moves are equal, or those of one begin the other's and are at least 30 plies; when
their results are equal or one is unknown; when their dates agree in all parts that both know; and when the names of both
players are compatible (`names`); games under 30 plies whose players are unknown are never doubles. A group holds games of which every two are doubles, so that one careless spelling does
not chain different games together. Groups are made within each set of equal beginnings, the longest game first, then by
source and place in it, so that they do not depend on the order in which files were sifted.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum.store.names import compatible_names, words_of

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


class _Group:
    def __init__(self, first: Candidate) -> None:
        self.members = [first]
        self.seen = {_signature(first)}

    def takes(self, candidate: Candidate) -> bool:
        # Games come longest first, so the last member is the shortest; what begins it begins them all.
        shortest = self.members[-1]
        if shortest.start_fen != candidate.start_fen or not shortest.moves.startswith(candidate.moves):
            return False
        longest = self.members[0]
        short = len(candidate.moves) < 2 * BEGINNING_PLIES
        unknown = not words_of(candidate.white) or not words_of(candidate.black)
        if short and (unknown or len(candidate.moves) != len(longest.moves)):
            return False
        return _signature(candidate) in self.seen or all(
            _one_game(candidate, white, black, result, date) for white, black, result, date in self.seen
        )

    def add(self, candidate: Candidate) -> None:
        self.members.append(candidate)
        self.seen.add(_signature(candidate))


def _signature(candidate: Candidate) -> tuple[str, str, int, int]:
    return candidate.white, candidate.black, candidate.result, candidate.date


def _one_game(candidate: Candidate, white: str, black: str, result: int, date: int) -> bool:
    return (
        (candidate.result == result or 0 in (candidate.result, result))
        and compatible_dates(candidate.date, date)
        and compatible_names(candidate.white, white)
        and compatible_names(candidate.black, black)
    )


def group_doubles(candidates: Iterable[Candidate]) -> Iterator[Double]:
    """The games of a set of equal beginnings that have doubles, with their group's representative."""
    ordered = sorted(candidates, key=lambda game: (-len(game.moves), game.source, game.game_number))
    # Compatible names share a whole word of each player, so only groups filed under such a pair need be looked at.
    filed: dict[tuple[str, str], list[_Group]] = {}
    groups: list[_Group] = []
    for candidate in ordered:
        pairs = [(white, black) for white in _filing(candidate.white) for black in _filing(candidate.black)]
        home = next(
            (group for pair in pairs for group in filed.get(pair, ()) if group.takes(candidate)), None
        )
        if home is None:
            home = _Group(candidate)
            groups.append(home)
        else:
            home.add(candidate)
        for pair in pairs:
            under = filed.setdefault(pair, [])
            if home not in under:
                under.append(home)
    for group in groups:
        if len(group.members) > 1:
            result = next((game.result for game in group.members if game.result), 0)
            dates = [_parts(game.date) for game in group.members]
            year, month, day = (max(parts) for parts in zip(*dates, strict=True))
            for game in group.members:
                lead, date = group.members[0].game, year * 10_000 + month * 100 + day
                yield Double(game.game, lead, result, date, game.fingerprint)


def _filing(name: str) -> list[str]:
    return [word for word in words_of(name) if len(word) > 1] or [""]
