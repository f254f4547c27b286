"""Games by who played them, as a text cites them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from variorum.store.games import GameFiles
from variorum.store.manifest import PLAYOUT, Snapshot
from variorum.store.names import compatible_names

__all__ = ["games_between", "games_of"]


def games_between(files: GameFiles, snapshot: Snapshot, white: str, black: str) -> NDArray[np.uint32]:
    """The numbers of the games that these two may have played, ascending; playouts are none. One pass over the names."""
    found = [np.empty(0, np.uint32)]
    for start, end, sift in zip(snapshot.starts, snapshot.ends, snapshot.sift_ids, strict=True):
        if snapshot.sifts[int(sift)].kind == PLAYOUT:
            continue
        games = np.arange(start, end, dtype=np.uint32)
        table = files.table(games, snapshot, ("white", "black"))
        fits = _may_be(table.column("white"), white)
        if fits.any():
            fits &= _may_be(table.column("black"), black)
        found.append(games[fits])
    return np.sort(np.concatenate(found))


def games_of(
    files: GameFiles, snapshot: Snapshot, games: NDArray[np.uint32], player: str
) -> NDArray[np.bool_]:
    """Which of ascending games somebody of that name may have played."""
    table = files.table(games, snapshot, ("white", "black"))
    if not len(games):
        return np.zeros(0, np.bool_)
    return _may_be(table.column("white"), player) | _may_be(table.column("black"), player)


def _may_be(column: Any, name: str) -> NDArray[np.bool_]:
    """Which rows hold a spelling of a name; each spelling is compared once."""
    coded = column.combine_chunks().dictionary_encode()
    same = np.array([compatible_names(name, spelling) for spelling in coded.dictionary.to_pylist()], np.bool_)
    rows: NDArray[np.bool_] = same[coded.indices.to_numpy()] if len(same) else np.zeros(len(column), np.bool_)
    return rows
