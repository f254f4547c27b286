"""Growing the graph of an edition from its roots, texts, games and verdicts. The same input gives the same graph."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.base import Progress, Silent, StoreError, UsageError
from variorum.board import PackedMoves, Position
from variorum.graph.graph import TEXT_KIND, Channel, Counts, Graph

__all__ = ["GAMES_PER_POSITION", "Cutoff", "GameBatch", "TextLine", "grow_graph"]

GAMES_PER_POSITION = 25_000
"""By default a position is on the graph when one of so many games meets it (at least one); common practice, no source.

A game has 41 positions up to the horizon, so a graph has at most 41 · 25,000 positions of games, about a million, of however many games.
"""


class Cutoff(msgspec.Struct, frozen=True, kw_only=True):
    """Which positions of games are on the graph: met by `min_games`, at most `horizon` plies after the game's root.

    Positions of roots, texts and verdicts are on it in any case, where an order of moves leads to them.
    """

    min_games: int | None = None
    """`None`: one in `GAMES_PER_POSITION` games."""
    horizon: int = 40

    def for_games(self, games: int) -> int:
        """How many of so many games must meet a position."""
        return self.min_games if self.min_games is not None else max(1, -(-games // GAMES_PER_POSITION))


class TextLine(msgspec.Struct, frozen=True):
    """A line of a text: where it starts, its packed moves, and whose it is. A null move ends what is read of it."""

    start: Position
    moves: PackedMoves
    by: str = "author"


class GameBatch(msgspec.Struct, frozen=True):
    """Games of one channel as columns: moves of game `i` are `moves[offsets[i]:offsets[i + 1]]`, packed.

    `root_ply` counts the plies before the game's root; `results` are 0 unknown, 1 White won, 2 Black won, 3 drawn;
    `starts` holds the FENs of games (by index) that do not start from the normal position.
    """

    channel: Channel
    offsets: NDArray[np.uint64]
    moves: NDArray[np.uint16]
    root_ply: NDArray[np.uint16]
    results: NDArray[np.uint8]
    starts: dict[int, str] = {}


def grow_graph(
    roots: Iterable[Position],
    *,
    texts: Iterable[TextLine] = (),
    games: Callable[[], Iterable[GameBatch]] = tuple,
    game_count: int = 0,
    verdicts: Iterable[Position] = (),
    cutoff: Cutoff | None = None,
    progress: Progress | None = None,
) -> Graph:
    """The graph of an edition.

    Args:
        roots: Where it starts.
        texts: Lines of the author, each from the first root it passes (else whole).
        games: Gives the batches of games; called twice where a cut-off needs counting first.
        game_count: About how many games that is.
        verdicts: Positions with a verdict.
        cutoff: Which positions of games are on the graph.
        progress: Where to report.

    Raises:
        UsageError: There is no root.
        StoreError: A game holds an illegal move, or two positions share a key.
        Interrupted: The user stopped.
    """
    cutoff = cutoff or Cutoff()
    min_games = cutoff.for_games(game_count)
    builder = _core.GraphBuilder(min_games, cutoff.horizon, game_count * (cutoff.horizon + 1))
    channels = _Channels()
    try:
        root_list = list(roots)
        if not root_list:
            raise UsageError("a graph needs a root")
        for root in root_list:
            builder.add_root(root.core)
        for line in texts:
            builder.add_text(line.start.core, line.moves, channels.number(Channel(TEXT_KIND, line.by)))
        for position in verdicts:
            builder.add_verdict(position.core)
        passes = {"graph": builder.collect}
        if builder.counts_first:
            passes = {"graph, first pass": builder.count, "graph, second pass": builder.collect}
        for name, take in passes.items():
            for batch in _reported(games(), name, progress or Silent(), game_count):
                take(_columns(batch, channels.number(batch.channel)))
        return _graph(builder.finish(), channels.seen, min_games)
    except _core.KeyCollisionError as error:
        key, first, second = error.args
        raise StoreError(f"two positions share the key {key:016x}: {first} and {second}") from None
    except ValueError as error:
        raise StoreError(str(error), remedy="sift the sources again") from None


class _Channels:
    def __init__(self) -> None:
        self._numbers: dict[Channel, int] = {}

    def number(self, channel: Channel) -> int:
        return self._numbers.setdefault(channel, len(self._numbers))

    @property
    def seen(self) -> tuple[Channel, ...]:
        return tuple(self._numbers)


def _reported(batches: Iterable[GameBatch], name: str, progress: Progress, total: int) -> Iterator[GameBatch]:
    with progress.task(name, total=total or None, unit="games") as task:
        for batch in batches:
            yield batch
            task.advance(len(batch.results))


def _columns(
    batch: GameBatch, channel: int
) -> tuple[
    NDArray[np.uint64],
    NDArray[np.uint16],
    NDArray[np.uint16],
    NDArray[np.uint8],
    NDArray[np.uint16],
    list[tuple[int, _core.Board]],
]:
    channels = np.full(len(batch.results), channel, np.uint16)
    starts = [(game, Position.from_fen(fen).core) for game, fen in batch.starts.items()]
    return batch.offsets, batch.moves, batch.root_ply, batch.results, channels, starts


def _graph(columns: _core.GraphColumns, channels: tuple[Channel, ...], min_games: int) -> Graph:
    def counts(places: NDArray[np.uint32], by: NDArray[np.uint16], games: NDArray[np.uint32]) -> Counts:
        return Counts(places, by, games.reshape(-1, 4))

    off_nodes, off_moves, off_channels, off_games = columns.off_counts()
    return Graph(
        keys=columns.keys,
        packed=columns.positions.reshape(-1, 32),
        why=columns.flags,
        legal=columns.legal,
        white=columns.white,
        outcome=columns.outcome,
        offsets=columns.offsets,
        targets=columns.targets,
        moves=columns.moves,
        roots=columns.roots,
        elsewhere=columns.elsewhere,
        channels=channels,
        node_counts=counts(*columns.node_counts()),
        edge_counts=counts(*columns.edge_counts()),
        off_moves=off_moves,
        off_counts=counts(off_nodes, off_channels, off_games),
        min_games=min_games,
        unreached=columns.unreached,
    )
