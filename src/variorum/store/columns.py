"""What stands in the store's Parquet files, and the way between Arrow and NumPy."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from variorum import _core
from variorum.store.batch import Batch, OccurrenceColumns, StringColumn

__all__ = [
    "GAMES_IN_GROUP",
    "GAME_SCHEMA",
    "OCCURRENCE_SCHEMA",
    "ROWS_IN_GROUP",
    "game_table",
    "occurrence_table",
    "occurrence_writer",
    "strings_of",
    "write_games",
]

ROWS_IN_GROUP = 16_384
"""Rows in a row group of occurrences: what one look-up reads of a run at least."""

GAMES_IN_GROUP = 1_024
"""Games in a row group: what reading one game costs."""

_NUMBERS = {
    "file_offset": pa.uint64(),
    "file_length": pa.uint64(),
    "game_number": pa.uint32(),
    "root": pa.uint16(),
    "root_ply": pa.uint16(),
    "result": pa.uint8(),
    "date": pa.uint32(),
    "white_elo": pa.uint16(),
    "black_elo": pa.uint16(),
    "pace": pa.uint8(),
    "fault": pa.uint8(),
    "fault_ply": pa.uint16(),
    "fault_line": pa.uint64(),
}
_STRINGS = ("white", "black", "event", "site", "start_fen", "text")

GAME_SCHEMA = pa.schema(
    [
        *_NUMBERS.items(),
        *((name, pa.string()) for name in _STRINGS),
        # Packed moves, two bytes each, little-endian: half the size of a list column and read without decoding.
        ("moves", pa.binary()),
        ("fingerprint", pa.uint64()),
    ]
)

OCCURRENCE_SCHEMA = pa.schema(
    [("key", pa.uint64()), ("game", pa.uint32()), ("ply", pa.uint16()), ("move", pa.uint16())]
)


def _arrow_strings(column: StringColumn, kind: Any) -> Any:
    offsets, data = column
    buffers = [
        None,
        pa.py_buffer(np.ascontiguousarray(offsets, np.int32)),
        pa.py_buffer(np.ascontiguousarray(data)),
    ]
    return pa.Array.from_buffers(kind, len(offsets) - 1, buffers)


def game_table(batch: Batch) -> Any:
    """The batch's games as a table of `GAME_SCHEMA`; nothing large is copied."""
    move_offsets, moves = batch.moves
    packed = (
        np.asarray(move_offsets, np.int32) * np.int32(2),
        np.ascontiguousarray(moves, np.dtype("<u2")).view(np.uint8),
    )
    columns = {name: pa.array(getattr(batch, name), kind) for name, kind in _NUMBERS.items()}
    columns |= {name: _arrow_strings(getattr(batch, name), pa.string()) for name in _STRINGS}
    columns["moves"] = _arrow_strings(packed, pa.binary())
    columns["fingerprint"] = pa.array(_core.fingerprints(batch.start_fen, packed))
    return pa.table(columns, schema=GAME_SCHEMA)


def occurrence_table(columns: OccurrenceColumns) -> Any:
    """A table of `OCCURRENCE_SCHEMA`."""
    return pa.table([pa.array(column) for column in columns], schema=OCCURRENCE_SCHEMA)


def strings_of(column: Any) -> StringColumn:
    """Offsets and bytes of an Arrow string or binary column, without a copy where it is in one piece."""
    if isinstance(column, pa.ChunkedArray):
        column = (
            column.chunk(0)
            if column.num_chunks == 1
            else pa.concat_arrays(column.chunks or [pa.array([], column.type)])
        )
    _, offsets, data = column.buffers()
    if len(column) == 0 or offsets is None:
        return np.zeros(1, np.int32), np.zeros(0, np.uint8)
    window = np.frombuffer(offsets, np.int32)[column.offset : column.offset + len(column) + 1]
    return window, np.zeros(0, np.uint8) if data is None else np.frombuffer(data, np.uint8)


def write_games(table: Any, path: Path) -> None:
    """Write a part: names by dictionary, texts compressed, moves as they are."""
    pq.write_table(
        table,
        path,
        row_group_size=GAMES_IN_GROUP,
        compression={name: "zstd" if name in _STRINGS else "none" for name in GAME_SCHEMA.names},
        compression_level=dict.fromkeys(_STRINGS, 1),
        use_dictionary=["white", "black", "event", "site", "start_fen"],
        write_statistics=False,
    )


def occurrence_writer(path: Path) -> Any:
    """A writer of runs. Sorted keys and small numbers shrink to half by differences, faster than any compression."""
    return pq.ParquetWriter(
        path,
        OCCURRENCE_SCHEMA,
        compression="none",
        use_dictionary=False,
        column_encoding=dict.fromkeys(OCCURRENCE_SCHEMA.names, "DELTA_BINARY_PACKED"),
        write_statistics=["key"],
    )
