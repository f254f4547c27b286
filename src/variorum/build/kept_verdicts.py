"""Verdict files that took long to read, kept in the user's cache as they were read, under a hash of the file."""

from __future__ import annotations

import hashlib
import time
from pathlib import Path
from typing import Final

import msgspec

from variorum import __version__
from variorum.base import InputError
from variorum.base.derived import Derived
from variorum.base.settings import cache_folder
from variorum.board import Verdict
from variorum.edition.files import ordinary_bytes
from variorum.voices.verdict_files import VerdictFile, read_verdicts

__all__ = ["kept_verdicts"]

_FORM: Final = 1
"""Of what is kept; another one is not read."""
_WORTH_KEEPING: Final = 0.2
"""Seconds."""
_ON_DISK: Final = 256 << 20


def kept_verdicts(path: Path, before: VerdictFile | None = None) -> VerdictFile:
    """Read a file of verdicts (`voices.read_verdicts`), or have it as it was read when it was the same.

    Raises:
        InputError: The file cannot be read.
    """
    if before is not None:
        return read_verdicts(path, before)
    try:
        data = ordinary_bytes(path)
    except OSError as error:
        raise InputError(f"the verdicts cannot be read: {error.strerror or error}", path=path) from None
    made_from = f"{_FORM} {__version__} {path.name} {hashlib.sha256(data).hexdigest()}"
    key = hashlib.sha256(made_from.encode()).hexdigest()
    folder = Derived(cache_folder() / "verdicts", most=_ON_DISK)
    if (kept := folder.get(key)) is not None:
        try:
            return VerdictFile.read_to_its_end(path, data, msgspec.msgpack.decode(kept, type=list[Verdict]))
        except msgspec.DecodeError:
            pass  # damaged: it is read and kept anew
    began = time.monotonic()
    found = read_verdicts(path)
    if time.monotonic() - began > _WORTH_KEEPING and found.is_whole and not found.diagnostics:
        folder.put(key, msgspec.msgpack.encode(found.verdicts))
    return found
