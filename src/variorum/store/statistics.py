"""What the games of the store say of one position."""

from __future__ import annotations

import enum
from collections.abc import Iterator
from typing import Any, Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.board import Line, Move, Position
from variorum.board.rating import rating_expectation
from variorum.store.games import GameColumns, GameFiles, GameHead
from variorum.store.manifest import PLAYOUT, SiftRecord, Snapshot
from variorum.store.occurrences import Occurrences

__all__ = [
    "PLAYOUT",
    "PRACTICE",
    "Filter",
    "GamesThrough",
    "MoveTally",
    "Order",
    "Orders",
    "Pace",
    "PositionGames",
    "RatingBalance",
    "Tally",
]


PRACTICE: Final = frozenset({"practice", "correspondence"})
"""Kinds of games that people played."""


class Pace(enum.IntEnum):
    """Time control, by the FIDE Laws of Chess, appendices A and B."""

    UNKNOWN = 0
    CLASSICAL = 1
    RAPID = 2
    BLITZ = 3


class Filter(msgspec.Struct, frozen=True, kw_only=True):
    """Which games count. `min_rating` asks it of both players; a date with unknown parts is in when it can be."""

    kinds: frozenset[str] | None = None
    """`None` for all that were brought in: playouts count only where they are asked for."""
    voice: str = ""
    """Only games of sources in which this voice speaks."""
    paces: frozenset[Pace] | None = None
    min_rating: int = 0
    since: int = 0
    """yyyymmdd, 0 for no limit."""
    until: int = 0
    """yyyymmdd, 0 for no limit."""

    def takes(self, sift: SiftRecord) -> bool:
        """Whether games of this source can count."""
        kind_counts = sift.kind != PLAYOUT if self.kinds is None else sift.kind in self.kinds
        return kind_counts and (not self.voice or self.voice in sift.voices)


class Tally(msgspec.Struct, frozen=True):
    """Games by result, White's view."""

    wins: int = 0
    draws: int = 0
    losses: int = 0
    unknown: int = 0

    @property
    def games(self) -> int:
        """All of them."""
        return self.wins + self.draws + self.losses + self.unknown

    @classmethod
    def of_results(cls, results: NDArray[np.uint8]) -> Tally:
        """The tally of results 0 unknown, 1 White won, 2 Black won, 3 drawn."""
        unknown, wins, losses, draws = np.bincount(results, minlength=4).tolist()
        return cls(wins, draws, losses, unknown)


class MoveTally(msgspec.Struct, frozen=True):
    """A move that was played in the position; a game counts once for each different move it played there."""

    move: Move
    tally: Tally
    by: dict[tuple[str, Pace], Tally]
    latest: int
    """Date of the latest game with it, 0 unknown."""


class RatingBalance(msgspec.Struct, frozen=True):
    """Results against expectation: over `games` with both ratings and a result, mean of (result − table), in points."""

    games: int
    mean: float


class PositionGames(msgspec.Struct, frozen=True):
    """The games through a position, doubles counted once."""

    tally: Tally
    by: dict[tuple[str, Pace], Tally]
    """By kind and pace."""
    moves: tuple[MoveTally, ...]
    """Most played first, then by UCI."""
    first: tuple[GameHead, ...]
    """Earliest games by date; those without a date are left out."""
    latest: tuple[GameHead, ...]
    """Latest games by date, the latest first."""
    balance: RatingBalance
    refuted: int
    """Hits of the key that a replay did not confirm."""


class Order(msgspec.Struct, frozen=True):
    """One order of moves by which the position was reached."""

    line: Line
    tally: Tally


class Orders(msgspec.Struct, frozen=True):
    """The most frequent orders, and how many different ones there are in all. A game counts with its first arrival."""

    orders: tuple[Order, ...]
    different: int


class Found(msgspec.Struct):
    """Verified hits with what counts about their games: (n,) columns, sorted by game and ply."""

    hits: Occurrences
    kinds: NDArray[np.int64]
    """Index into `kind_names`."""
    kind_names: tuple[str, ...]
    results: NDArray[np.uint8]
    dates: NDArray[np.uint32]
    white_elos: NDArray[np.uint16]
    black_elos: NDArray[np.uint16]
    paces: NDArray[np.uint8]
    groups: NDArray[np.uint32]
    """The game that stands for this one and its doubles."""
    refuted: int

    def only(self, mask: NDArray[Any]) -> None:
        """Keep those of a mask or of indices."""
        self.hits = self.hits.only(mask)
        for name in ("kinds", "results", "dates", "white_elos", "black_elos", "paces", "groups"):
            setattr(self, name, getattr(self, name)[mask])


class GamesThrough(msgspec.Struct, frozen=True):
    """Games of one row group that pass a position, doubles once: (n,) columns beside those of the whole row group."""

    sift: SiftRecord
    """Whose games they are."""
    ids: NDArray[np.uint32]
    plies: NDArray[np.uint16]
    """Plies played before the game first reached the position."""
    results: NDArray[np.uint8]
    """0 unknown, 1 White won, 2 Black won, 3 drawn."""
    rows: NDArray[np.uint32]
    """Their rows in `columns`."""
    columns: GameColumns


def by_sift(
    found: Found, where: slice, rows: NDArray[np.uint32], columns: GameColumns, snapshot: Snapshot
) -> Iterator[GamesThrough]:
    """The hits of one row group, source by source."""
    games = found.hits.games[where]
    sifts = snapshot.sift_ids[snapshot.segments_of(games)]
    for sift in np.unique(sifts).tolist():
        own = sifts == sift
        yield GamesThrough(
            snapshot.sifts[sift],
            games[own],
            found.hits.plies[where][own],
            found.results[where][own],
            rows[own],
            columns,
        )


def only_of(wanted: Filter, hits: Occurrences, snapshot: Snapshot) -> Occurrences:
    """The hits in games of sources that the filter takes."""
    sifts = [sift.id for sift in snapshot.sifts.values() if wanted.takes(sift)]
    if len(sifts) == len(snapshot.sifts):
        return hits
    return hits.only(np.isin(snapshot.sift_ids[snapshot.segments_of(hits.games)], sifts))


def by_row_group(
    files: GameFiles, hits: Occurrences, snapshot: Snapshot
) -> Iterator[tuple[GameColumns, slice, NDArray[np.uint32]]]:
    """The hits by row group of games: its columns, their slice, their rows in it."""
    for part, group, first, where, rows in files.groups(hits.games, snapshot):
        yield files.columns_of(part, group, first), where, rows


def verified(
    files: GameFiles,
    position: Position,
    hits: Occurrences,
    doubles: dict[int, tuple[int, int, int]],
    snapshot: Snapshot,
) -> Found:
    """The hits that are the position, by replay. `doubles`: game to representative, result and date of its group."""
    count = len(hits)
    good = np.zeros(count, np.bool_)
    facts: dict[str, NDArray[Any]] = {
        "result": np.zeros(count, np.uint8),
        "date": np.zeros(count, np.uint32),
        "white_elo": np.zeros(count, np.uint16),
        "black_elo": np.zeros(count, np.uint16),
        "pace": np.zeros(count, np.uint8),
    }
    for columns, where, rows in by_row_group(files, hits, snapshot):
        good[where] = _core.verify_hits(
            position.core, columns.starts, columns.moves, rows, np.ascontiguousarray(hits.plies[where])
        )
        for name, values in facts.items():
            values[where] = columns.facts[name][rows]
    groups = hits.games.copy()
    if doubles:
        for index in np.flatnonzero(np.isin(hits.games, np.fromiter(doubles, np.uint32))).tolist():
            groups[index], facts["result"][index], facts["date"][index] = doubles[int(hits.games[index])]
    kind_names = tuple(sorted({sift.kind for sift in snapshot.sifts.values()}))
    kind_of = {sift.id: kind_names.index(sift.kind) for sift in snapshot.sifts.values()}
    sifts, inverse = np.unique(snapshot.sift_ids[snapshot.segments_of(hits.games)], return_inverse=True)
    kinds = (
        np.array([kind_of[sift] for sift in sifts.tolist()], np.int64)[inverse]
        if count
        else np.zeros(0, np.int64)
    )
    found = Found(
        hits=hits,
        kinds=kinds,
        kind_names=kind_names,
        results=facts["result"],
        dates=facts["date"],
        white_elos=facts["white_elo"],
        black_elos=facts["black_elo"],
        paces=facts["pace"],
        groups=groups,
        refuted=int(count - good.sum()),
    )
    found.only(good)
    return found


def apply_filter(found: Found, wanted: Filter) -> None:
    """Keep the games that the filter lets through, and of a game and its doubles one, the representative if it can be."""
    mask = np.ones(len(found.hits), np.bool_)
    if wanted.paces is not None:
        mask &= np.isin(found.paces, list(wanted.paces))
    if wanted.min_rating:
        mask &= (found.white_elos >= wanted.min_rating) & (found.black_elos >= wanted.min_rating)
    if wanted.since or wanted.until:
        mask &= can_be_between(found.dates, wanted.since, wanted.until)
    found.only(mask)
    if np.array_equal(found.groups, found.hits.games):
        return
    # One game of each group: the representative sorts before the others.
    rank = np.lexsort((found.hits.games, found.hits.games != found.groups, found.groups))
    groups, games = found.groups[rank], found.hits.games[rank]
    leads = np.r_[True, groups[1:] != groups[:-1]]
    chosen = games[leads][np.cumsum(leads) - 1]
    keep = np.zeros(len(games), np.bool_)
    keep[rank] = games == chosen
    found.only(keep)


def can_be_between(dates: NDArray[np.uint32], since: int, until: int) -> NDArray[np.bool_]:
    """Whether dates (yyyymmdd, 0 for unknown parts) can lie from `since` to `until` (0: no limit); unknown ones not."""
    year, month, day = dates // 10_000, dates // 100 % 100, dates % 100
    least = year * 10_000 + np.where(month == 0, 1, month) * 100 + np.where((month == 0) | (day == 0), 1, day)
    most = (
        year * 10_000 + np.where(month == 0, 12, month) * 100 + np.where((month == 0) | (day == 0), 31, day)
    )
    inside: NDArray[np.bool_] = (year > 0) & (most >= since) & (least <= (until or 99_999_999))
    return inside


def first_arrivals(found: Found) -> None:
    """Keep of each game the first time it reached the position."""
    games = found.hits.games
    if len(games):
        found.only(np.r_[True, games[1:] != games[:-1]])


def tallies(found: Found, where: NDArray[np.int64]) -> tuple[Tally, dict[tuple[str, Pace], Tally]]:
    """The tally of some hits, and by kind and pace."""
    results = found.results[where]
    cells = found.kinds[where] * len(Pace) + found.paces[where]
    by = {}
    for cell in np.unique(cells).tolist():
        kind, pace = divmod(cell, len(Pace))
        by[found.kind_names[kind], Pace(pace)] = Tally.of_results(results[cells == cell])
    return Tally.of_results(results), by


def moves_played(found: Found, position: Position) -> tuple[MoveTally, ...]:
    """What was played in the position, each game once for each different move."""
    # A zero is the end of a game or a null move, which is no move to be counted.
    order = np.flatnonzero(found.hits.moves)
    pairs = found.hits.games[order].astype(np.uint64) << np.uint64(16) | found.hits.moves[order]
    order = order[np.unique(pairs, return_index=True)[1]]
    played = found.hits.moves[order]
    made = []
    for packed in np.unique(played):
        where = order[played == packed]
        tally, by = tallies(found, where)
        move = position.unpack(np.array([packed], np.uint16))[0]
        made.append(MoveTally(move, tally, by, int(found.dates[where].max())))
    return tuple(sorted(made, key=lambda entry: (-entry.tally.games, entry.move.uci)))


def balance_of(
    results: NDArray[np.uint8], white_elos: NDArray[np.uint16], black_elos: NDArray[np.uint16]
) -> tuple[int, float]:
    """How many games have both ratings and a result, and the sum of (result − expectation), in points of 100."""
    rated = (results > 0) & (white_elos > 0) & (black_elos > 0)
    points = np.array([0.0, 100.0, 0.0, 50.0])[results[rated]]
    return int(rated.sum()), float((points - rating_expectation(white_elos[rated], black_elos[rated])).sum())


def count_orders(files: GameFiles, found: Found, snapshot: Snapshot, limit: int) -> Orders:
    """The orders by which the hits' games first arrived; memory grows with the number of different orders."""
    counts = _core.OrderCounts()
    for columns, where, rows in by_row_group(files, found.hits, snapshot):
        plies = np.ascontiguousarray(found.hits.plies[where])
        counts.add(columns.starts, columns.moves, rows, plies, np.ascontiguousarray(found.results[where]))
    orders = []
    for fen, packed, (unknown, wins, losses, draws) in counts.most_frequent(limit):
        start = Position.from_fen(fen) if fen else Position.start()
        line = Line.unpack(np.frombuffer(packed, "<u2").astype(np.uint16), start)
        orders.append(Order(line, Tally(wins, draws, losses, unknown)))
    return Orders(tuple(orders), len(counts))
