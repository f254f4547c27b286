"""The games through a position as a list: of some kinds, of one player, the strongest or the latest first."""

from __future__ import annotations

import enum

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum.board import Move, Position
from variorum.store import citing
from variorum.store.games import GameFiles, GameHead
from variorum.store.manifest import Snapshot
from variorum.store.statistics import Found, first_arrivals

__all__ = ["GameAt", "GameList", "Listing", "Ranking", "list_games"]


class Ranking(enum.Enum):
    """Which of the games through a position come first."""

    STRONGEST = "strongest"
    """By the mean rating of both players; games in which one has none come behind, the latest first."""
    LATEST = "latest"


class Listing(msgspec.Struct, frozen=True, kw_only=True):
    """What is to be listed: games of some kinds (`None`: of all) and of somebody whose name may be this, `limit` from number `start` (from 0) on."""

    kinds: frozenset[str] | None = None
    player: str = ""
    ranking: Ranking = Ranking.LATEST
    start: int = 0
    limit: int = 50


class GameAt(msgspec.Struct, frozen=True):
    """A game through a position: plies played before it came there first, and the move it played then (`None`: it ended)."""

    head: GameHead
    ply: int
    move: Move | None


class GameList(msgspec.Struct, frozen=True):
    """Some of `total` games."""

    total: int
    games: tuple[GameAt, ...]


def list_games(
    files: GameFiles, found: Found, position: Position, wanted: Listing, snapshot: Snapshot
) -> GameList:
    """Those of the games that were found which are wanted."""
    if wanted.kinds is not None:
        kinds = [number for number, kind in enumerate(found.kind_names) if kind in wanted.kinds]
        found.only(np.isin(found.kinds, kinds))
    first_arrivals(found)
    if wanted.player:
        found.only(citing.games_of(files, snapshot, found.hits.games, wanted.player))
    rows = _ranked(found, wanted.ranking)[wanted.start : wanted.start + wanted.limit]
    heads = files.heads(found.hits.games[rows].tolist(), snapshot)
    packed = found.hits.moves[rows]
    moves = [position.unpack(packed[at : at + 1])[0] if packed[at] else None for at in range(len(rows))]
    games = zip(heads, found.hits.plies[rows].tolist(), moves, strict=True)
    return GameList(len(found.hits), tuple(GameAt(*game) for game in games))


def _ranked(found: Found, ranking: Ranking) -> NDArray[np.int64]:
    """The hits in an order; what is alike in the order of the store."""
    latest_first = -found.dates.astype(np.int64)
    if ranking is Ranking.LATEST:
        return np.lexsort((found.hits.games, latest_first))
    rated = (found.white_elos > 0) & (found.black_elos > 0)
    rating = np.where(rated, found.white_elos.astype(np.int64) + found.black_elos, 0)
    return np.lexsort((found.hits.games, latest_first, -rating))
