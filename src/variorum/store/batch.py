"""What the scan gives to the store."""

# ruff: noqa: D102  (the columns are described with the scan, in `variorum._core`)

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = ["Batch", "OccurrenceColumns", "Reject", "SkippedBytes", "StringColumn"]

U8 = NDArray[np.uint8]
U16 = NDArray[np.uint16]
U32 = NDArray[np.uint32]
U64 = NDArray[np.uint64]

StringColumn = tuple[NDArray[np.int32], U8]
"""Offsets (one more than strings) and bytes: string i is `bytes[offsets[i]:offsets[i + 1]]`."""

OccurrenceColumns = tuple[U64, U32, U16, U16]
"""Keys, games, plies and moves, one length, sorted by all four in this order."""

Reject = tuple[int, int, int, int, str, int, str]
"""A game set aside: file_offset, length, game_number, line, reason, ply, text."""

SkippedBytes = tuple[int, int, str]
"""Bytes that belong to no game: file_offset, length, what they are."""


class Batch(Protocol):
    """What the scan gives: columns of kept games in file order, and what was not kept.

    Numbers are NumPy arrays of one length; strings are `StringColumn`. See `variorum._core` for each column.
    """

    @property
    def file_offset(self) -> U64: ...
    @property
    def file_length(self) -> U64: ...
    @property
    def game_number(self) -> U32: ...
    @property
    def root(self) -> U16: ...
    @property
    def root_ply(self) -> U16: ...
    @property
    def result(self) -> U8: ...
    @property
    def date(self) -> U32: ...
    @property
    def white_elo(self) -> U16: ...
    @property
    def black_elo(self) -> U16: ...
    @property
    def pace(self) -> U8: ...
    @property
    def fault(self) -> U8: ...
    @property
    def fault_ply(self) -> U16: ...
    @property
    def fault_line(self) -> U64: ...
    @property
    def white(self) -> StringColumn: ...
    @property
    def black(self) -> StringColumn: ...
    @property
    def event(self) -> StringColumn: ...
    @property
    def site(self) -> StringColumn: ...
    @property
    def start_fen(self) -> StringColumn: ...
    @property
    def text(self) -> StringColumn: ...
    @property
    def moves(self) -> tuple[NDArray[np.int32], U16]:
        """Offsets in moves (not bytes), packed moves."""

    @property
    def occurrences(self) -> OccurrenceColumns:
        """The second column is the game's row in this batch."""

    @property
    def rejects(self) -> list[Reject]: ...
    @property
    def notes(self) -> list[SkippedBytes]: ...
    @property
    def counts(self) -> dict[str, int]:
        """Of this batch alone: sections, untagged, kept, passed, aside."""
