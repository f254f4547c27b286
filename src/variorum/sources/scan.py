"""One file of games, scanned by the core: batches of what reaches a root."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path

import msgspec

from variorum import _core
from variorum.base import InputError, Progress
from variorum.board import Position

__all__ = ["READER_VERSION", "ScanFilter", "scan_file"]

READER_VERSION = 1
"""Grows when the scan finds other games, moves or texts in the same file, so that files are sifted again."""

_PACES = ("any", "classical", "rapid", "blitz")


class ScanFilter(msgspec.Struct, frozen=True, kw_only=True):
    """Which games are wanted; a date known in part counts as every day that it may be."""

    min_rating: int = 0
    since: date | None = None
    until: date | None = None
    pace: str = "any"


def scan_file(
    path: Path,
    roots: Sequence[Position],
    wanted: ScanFilter,
    progress: Progress,
    *,
    name: str,
    threads: int = 0,
) -> Iterator[_core.ScanBatch]:
    """The games of a file that reach a root by any order of moves, in batches, in file order.

    Args:
        path: Plain, gzip, Zstandard or bzip2, told by its first bytes.
        roots: At least one.
        wanted: Other games are passed over.
        progress: Told the bytes read.
        name: What the file is called there.
        threads: 0 for one a core; the games do not depend on it.

    Raises:
        InputError: The file cannot be opened, or not be read to its end; what came before was given.
        Interrupted: The user stopped.
    """
    try:
        scan = _core.Scan(
            path,
            [root._board for root in roots],
            min_rating=wanted.min_rating,
            since=_day(wanted.since),
            until=_day(wanted.until),
            pace=_PACES.index(wanted.pace),
            threads=threads,
        )
    except OSError as error:
        raise InputError(f"it cannot be read: {error.strerror or error}", path=path) from None
    with progress.task(f"sift {name}", total=scan.bytes_total, unit="bytes") as task:
        told = 0

        def hear(done: int) -> None:
            nonlocal told
            task.advance(done - told)
            told = done

        while True:
            try:
                batch = scan.next_batch(hear)
            except _core.ScanBrokenError as error:
                reason, offset = error.args
                raise InputError(
                    f"it cannot be read on behind byte {offset:,} of its text: {reason}",
                    path=path,
                    remedy="the games before are kept; get a whole copy of the file",
                ) from None
            if batch is None:
                return
            yield batch


def _day(day: date | None) -> int:
    return 0 if day is None else day.year * 10_000 + day.month * 100 + day.day
