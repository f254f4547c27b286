"""What the graph of an edition is grown from: its roots and names, its manuscript, the games of its store, its verdicts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from variorum.base import Diagnostic, Progress, Severity
from variorum.board import Position, Verdict
from variorum.edition import Edition
from variorum.edition.manuscript import Manuscript
from variorum.graph.graph import Channel, Graph
from variorum.graph.grow import Cutoff, GameBatch, TextLine, grow_graph
from variorum.store import GameColumns, Store

__all__ = ["edition_graph", "game_batches", "off_roots", "text_lines"]

STORE_FILE: Final = "store.sqlite"
"""Whether it is there tells whether anything was sifted."""


def edition_graph(
    edition: Edition,
    *,
    manuscript: Manuscript | None = None,
    store: Store | None = None,
    verdicts: Sequence[Verdict] = (),
    more: Iterable[Position] = (),
    cutoff: Cutoff | None = None,
    one_in: int = 1,
    progress: Progress | None = None,
) -> Graph:
    """The graph of an edition, from what there is. The lines of its roots and names count as text of the author.

    Positions in `more` are on it too where an order of moves leads to them. Of the games it takes one in `one_in`.

    Raises:
        StoreError: The store is damaged.
        Interrupted: The user stopped.
    """
    roots = [root.position for root in edition.roots]
    places = (*edition.roots, *edition.names.values())
    # A name's line that passes no root tells how the author came there; it is not play from the roots.
    lines = [
        TextLine(place.line.start, place.line.packed())
        for place in places
        if place.line is not None and not set(roots).isdisjoint(place.line.positions())
    ]
    if manuscript is not None:
        lines += text_lines(manuscript)
    some = list(game_batches(store, one_in=one_in)) if store is not None and one_in > 1 else None

    def games() -> Iterable[GameBatch]:
        if some is not None or store is None:
            return some or ()
        return game_batches(store)

    return grow_graph(
        roots,
        texts=lines,
        games=games,
        game_count=-(-store.count // one_in) if store is not None else 0,
        verdicts=[*(Position.from_fen(verdict.epd) for verdict in verdicts), *more],
        cutoff=cutoff,
        progress=progress,
    )


def text_lines(manuscript: Manuscript, by: str = "author") -> Iterator[TextLine]:
    """Every line of a manuscript, from the start of its game to a leaf of the text."""
    columns = manuscript.index.columns
    parents, moves = columns.node_parent, columns.node_move
    is_leaf = np.ones(len(parents), np.bool_)
    is_leaf[parents[parents >= 0]] = False
    roots = columns.game_root
    for game in manuscript.games:
        start = game.start
        if start is None:
            continue  # diagnosed when the manuscript was read
        first = int(roots[game.row])
        end = int(roots[game.row + 1]) if game.row + 1 < len(roots) else len(parents)
        for leaf in (first + np.flatnonzero(is_leaf[first:end])).tolist():
            line = []
            node = leaf
            while parents[node] >= 0:
                line.append(moves[node])
                node = int(parents[node])
            yield TextLine(start, np.array(line[::-1], np.uint16), by)


def off_roots(manuscript: Manuscript, edition: Edition) -> Iterator[Diagnostic]:
    """A warning for each game of a manuscript that passes no root: its positions stand apart on the map."""
    columns = manuscript.index.columns
    keys = np.array([root.position.key for root in edition.roots], np.uint64)
    passes = np.isin(columns.node_key, keys)
    bounds = [*columns.game_root.tolist(), len(passes)]
    for game in manuscript.games:
        if game.start is None or passes[bounds[game.row] : bounds[game.row + 1]].any():
            continue
        line, column = game.root.place
        yield Diagnostic(
            code="off-roots",
            severity=Severity.WARNING,
            path=manuscript.path,
            message=f"game {game.number} passes no root of the edition; its lines stand apart on the map",
            line=line,
            column=column,
            hint="name its start in [roots] of edition.toml, if it belongs to the opening",
            game=game.number,
        )


def game_batches(store: Store, *, one_in: int = 1) -> Iterator[GameBatch]:
    """The games of a store, doubles once, by row group; all games of a source are of one channel.

    One in `one_in` of them (`Store.games_by_source`).
    """
    for sift, rows, columns in store.games_by_source(one_in=one_in):
        if len(rows):
            yield _batch(Channel(sift.kind, sift.voice), rows, columns)


def _batch(channel: Channel, rows: NDArray[np.uint32], columns: GameColumns) -> GameBatch:
    bounds, data = columns.moves
    low, high = bounds[rows].astype(np.int64), bounds[rows + 1].astype(np.int64)
    lengths = (high - low) // 2
    offsets = np.concatenate([[0], np.cumsum(lengths)]).astype(np.uint64)
    if len(rows) == len(bounds) - 1:
        chosen = data[low[0] : high[-1]]
    else:
        chosen = np.concatenate([data[one:next_] for one, next_ in zip(low, high, strict=True)])
    fen_bounds, fens = columns.starts
    with_fen = np.flatnonzero(fen_bounds[rows + 1] > fen_bounds[rows]).tolist()
    return GameBatch(
        channel,
        offsets,
        np.frombuffer(chosen.tobytes(), "<u2").astype(np.uint16),
        columns.facts["root_ply"][rows].astype(np.uint16),
        columns.facts["result"][rows].astype(np.uint8),
        {
            game: bytes(fens[fen_bounds[rows[game]] : fen_bounds[rows[game] + 1]]).decode()
            for game in with_fen
        },
    )
