"""Large pieces of memory go back to the system when they are freed.

A sift makes and frees arrays of some megabytes on several threads for as long as a file is long. Allocators keep such
pieces for later, one lot for each thread, and what they keep breaks up and grows with the length of the file. What is
mapped on its own does not.
"""

from __future__ import annotations

import ctypes
import sys

import pyarrow as pa

__all__ = ["give_back_what_is_freed"]

_LARGE = 128 << 10
"""Bytes from which a piece is mapped on its own: where glibc begins, before it raises the mark by itself."""

_LOTS = 2
"""Lots of small pieces; glibc would have eight for each core."""

# Numbers of the parameters in <malloc.h> of glibc, mallopt(3).
_M_TRIM_THRESHOLD, _M_MMAP_THRESHOLD, _M_ARENA_MAX = -1, -3, -8


def give_back_what_is_freed() -> None:
    """Set the process's allocators so; where the C library is not glibc, its own ways stay."""
    pa.set_memory_pool(pa.system_memory_pool())
    if sys.platform == "linux" and (mallopt := getattr(ctypes.CDLL(None), "mallopt", None)) is not None:
        mallopt(_M_MMAP_THRESHOLD, _LARGE)
        mallopt(_M_TRIM_THRESHOLD, _LARGE)
        mallopt(_M_ARENA_MAX, _LOTS)
