"""Open Parquet files and decoded columns, in bounded number and size."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import Any, Generic, TypeVar

import pyarrow.parquet as pq

__all__ = ["Handles", "SizedCache"]

_OPEN_FILES = 96
"""Well below the number of files that a process may have open on any platform (256 on macOS)."""

T = TypeVar("T")


class Handles:
    """The store's Parquet files, opened when asked for and closed when too many are open."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._open: OrderedDict[str, Any] = OrderedDict()

    def file(self, name: str) -> Any:
        """The open file of a name relative to the store."""
        if (known := self._open.get(name)) is not None:
            self._open.move_to_end(name)
            return known
        path = self._folder / name
        if not path.is_file():
            raise FileNotFoundError(2, "missing", str(path))
        # Not memory-mapped: a fault of the medium must be an error, not the end of the process.
        opened = pq.ParquetFile(path, memory_map=False, pre_buffer=False)
        self._open[name] = opened
        if len(self._open) > _OPEN_FILES:
            self._open.popitem(last=False)[1].close(force=True)
        return opened

    def close(self) -> None:
        """Close them all."""
        while self._open:
            self._open.popitem()[1].close(force=True)


class SizedCache(Generic[T]):
    """The values used last, up to so many bytes."""

    def __init__(self, limit_bytes: int) -> None:
        self._limit = limit_bytes
        self._used = 0
        self._values: OrderedDict[object, tuple[T, int]] = OrderedDict()

    def get(self, name: object, make: Callable[[], T], size: Callable[[T], int]) -> T:
        """The value of a name, made when it is not at hand."""
        if (known := self._values.get(name)) is not None:
            self._values.move_to_end(name)
            return known[0]
        value = make()
        weight = size(value)
        self._values[name] = (value, weight)
        self._used += weight
        while self._used > self._limit and len(self._values) > 1:
            self._used -= self._values.popitem(last=False)[1][1]
        return value

    def clear(self) -> None:
        """Forget them all."""
        self._values.clear()
        self._used = 0
