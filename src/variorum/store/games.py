"""Reading games back: whole records, their heads, and the columns that statistics need."""

from __future__ import annotations

import functools
from collections.abc import Iterator, Sequence
from typing import Any

import msgspec
import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from variorum.base import UsageError
from variorum.board import Line, Position
from variorum.store.batch import StringColumn
from variorum.store.columns import GAME_SCHEMA, GAMES_IN_GROUP, strings_of
from variorum.store.handles import Handles, SizedCache
from variorum.store.manifest import Snapshot, part_name

__all__ = ["Game", "GameColumns", "GameFiles", "GameHead", "Provenance"]

_CACHE_BYTES = 96 << 20
_HEAD_BYTES = 48 << 20
_FACTS = ("result", "date", "white_elo", "black_elo", "pace", "root_ply")
_HEAD = [name for name in GAME_SCHEMA.names if name not in ("text", "moves", "fingerprint")]


class Provenance(msgspec.Struct, frozen=True):
    """Where a game was read: the source, its number there from 1, and its bytes in the decompressed stream."""

    source: str
    kind: str
    voice: str
    game_number: int
    file_offset: int
    file_length: int


class GameHead(msgspec.Struct, frozen=True, kw_only=True):
    """A game without its moves and text.

    `result` is 0 unknown, 1 White won, 2 Black won, 3 drawn; `date` yyyymmdd with 0 for unknown parts; `pace` 0
    unknown, 1 classical, 2 rapid, 3 blitz; ratings 0 unknown. `fault` is 0 for none, else why the moves end at
    `fault_ply`. `root` counts the roots of its sift, `root_ply` the plies played before.
    """

    id: int
    provenance: Provenance
    white: str
    black: str
    event: str
    site: str
    result: int
    date: int
    white_elo: int
    black_elo: int
    pace: int
    root: int
    root_ply: int
    start_fen: str
    fault: int
    fault_ply: int
    fault_line: int


class Game(GameHead, frozen=True, kw_only=True):
    """A whole game."""

    moves: NDArray[np.uint16]
    """The main line, packed, up to a fault."""
    text: str
    """Its PGN as it stood in the source, decoded."""

    @property
    def line(self) -> Line:
        """The main line."""
        start = Position.from_fen(self.start_fen) if self.start_fen else Position.start()
        return Line.unpack(self.moves, start)


class GameColumns(msgspec.Struct, frozen=True):
    """The games of one row group, for statistics."""

    first: int
    """Number of the first game; the others follow."""
    facts: dict[str, NDArray[Any]]
    """result, date, white_elo, black_elo, pace, root_ply."""
    starts: StringColumn
    """FENs, empty for the normal start."""
    moves: StringColumn
    """Packed moves, two bytes each, little-endian."""

    def size(self) -> int:
        """Bytes held."""
        texts = sum(array.nbytes for array in (*self.starts, *self.moves))
        return texts + sum(array.nbytes for array in self.facts.values())


class GameFiles:
    """Reads parts of games."""

    def __init__(self, handles: Handles) -> None:
        self._handles = handles
        self._cache: SizedCache[GameColumns] = SizedCache(_CACHE_BYTES)
        self._heads: SizedCache[Any] = SizedCache(_HEAD_BYTES)

    def forget(self) -> None:
        """Drop what is cached."""
        self._cache.clear()
        self._heads.clear()

    def columns_of(self, part: int, group: int, first: int) -> GameColumns:
        """The columns of one row group; `first` is the number of the part's first game."""

        def read() -> GameColumns:
            table = self._group(part, group, [*_FACTS, "start_fen", "moves"])
            return GameColumns(
                first + group * GAMES_IN_GROUP,
                {name: table.column(name).to_numpy() for name in _FACTS},
                strings_of(table.column("start_fen")),
                strings_of(table.column("moves")),
            )

        return self._cache.get((part, group), read, GameColumns.size)

    def groups(
        self, games: NDArray[np.uint32], snapshot: Snapshot
    ) -> Iterator[tuple[int, int, int, slice, NDArray[np.uint32]]]:
        """Ascending games by row group: part, row group, the part's first game, their slice, their rows in the group.

        Raises:
            UsageError: A number that is no game.
        """
        segments = snapshot.segments_of(games)
        if len(games) and segments.min() < 0:
            raise UsageError(f"there is no game number {games[segments.argmin()]} in the store")
        parts = snapshot.part_ids[segments]
        begin = 0
        for end in [*(np.flatnonzero(np.diff(parts)) + 1).tolist(), len(games)]:
            if begin == end:
                continue
            part = int(parts[begin])
            first = snapshot.part_starts[part]
            rows = games[begin:end] - np.uint32(first)
            groups = rows // GAMES_IN_GROUP
            low = 0
            for high in [*(np.flatnonzero(np.diff(groups)) + 1).tolist(), end - begin]:
                inside = rows[low:high] - groups[low] * np.uint32(GAMES_IN_GROUP)
                yield part, int(groups[low]), first, slice(begin + low, begin + high), inside
                low = high
            begin = end

    def table(self, games: NDArray[np.uint32], snapshot: Snapshot, columns: Sequence[str]) -> Any:
        """The rows of ascending games as an Arrow table."""
        pieces = [
            self._group(part, group, list(columns)).take(pa.array(rows))
            for part, group, _, _, rows in self.groups(games, snapshot)
        ]
        if not pieces:
            return pa.schema([GAME_SCHEMA.field(name) for name in columns]).empty_table()
        return pa.concat_tables(pieces)

    def _table_of(self, games: NDArray[np.uint32], snapshot: Snapshot, columns: list[str]) -> Any:
        """As `table`; heads, of which pages show a few at a time, are kept by row group."""
        if columns != _HEAD:
            return self.table(games, snapshot, columns)
        return pa.concat_tables(
            self._heads.get(
                (part, group),
                functools.partial(self._group, part, group, _HEAD),
                lambda read: int(read.nbytes),
            ).take(pa.array(rows))
            for part, group, _, _, rows in self.groups(games, snapshot)
        )

    def heads(self, ids: Sequence[int], snapshot: Snapshot) -> list[GameHead]:
        """Heads of games, in the order asked for."""
        return [GameHead(**row) for row in self._rows(ids, snapshot, _HEAD)]

    def games(self, ids: Sequence[int], snapshot: Snapshot) -> list[Game]:
        """Whole games, in the order asked for."""
        rows = self._rows(ids, snapshot, [*_HEAD, "moves", "text"])
        return [
            Game(**{**row, "moves": np.frombuffer(row["moves"], "<u2").astype(np.uint16)}) for row in rows
        ]

    def _rows(self, ids: Sequence[int], snapshot: Snapshot, columns: list[str]) -> list[dict[str, Any]]:
        if not ids:
            return []  # many positions of a text are in no game: they cost no look at the files
        if any(not 0 < number < 1 << 32 for number in ids):
            raise UsageError("a game number is a positive whole number")
        games, places = np.unique(np.array(ids, np.uint32), return_inverse=True)
        found = self._table_of(games, snapshot, columns).to_pylist()
        sifts = snapshot.sift_ids[snapshot.segments_of(games)]
        for number, sift_id, row in zip(games.tolist(), sifts.tolist(), found, strict=True):
            sift = snapshot.sifts[sift_id]
            where = [row.pop(name) for name in ("game_number", "file_offset", "file_length")]
            row["id"] = number
            row["provenance"] = Provenance(sift.source, sift.kind, sift.voice, *where)
        return [found[place] for place in places.tolist()]

    def _group(self, part: int, group: int, columns: list[str]) -> Any:
        return self._handles.file(part_name(part)).read_row_group(group, columns=columns, use_threads=False)
