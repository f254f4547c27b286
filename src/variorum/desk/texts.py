"""The author's texts as pages were made from them: read anew whenever asked for, and remembered for a while.

What a page changes is told with the hash of the text that the page was made from. Where the file is another by now, what the
author had before him is looked up here, so that his change can be compared with the other one.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from pathlib import Path
from typing import Final

from variorum.edition import Edition, Manuscript, content_hash, read_manuscript
from variorum.edition.files import read_file
from variorum.edition.folder import MANUSCRIPT

__all__ = ["Texts"]

_KEPT: Final = 12
_KEPT_BYTES: Final = 48 << 20


class Texts:
    """Manuscripts by content. Safe to use from several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: OrderedDict[tuple[Path, str], Manuscript] = OrderedDict()
        self.writing = threading.Lock()
        """Held while the desk changes a text of an author: one change after the other."""

    def manuscript(self, edition: Edition) -> Manuscript:
        """The manuscript as it is on the disk now; an empty one where there is no file.

        Raises:
            InputError: It cannot be read, or it lies outside of the edition.
        """
        path = edition.place_to_write(MANUSCRIPT)
        data = read_file(path) if path.exists() else b""
        key = path, content_hash(data)
        with self._lock:
            known = self._known.get(key)
            if known is not None:
                self._known.move_to_end(key)
                return known
        fresh = read_manuscript(data, path=path)
        with self._lock:
            self._known[key] = fresh
            while len(self._known) > 1 and (len(self._known) > _KEPT or self._size() > _KEPT_BYTES):
                self._known.popitem(last=False)
        return fresh

    def before(self, edition: Edition, mark: str) -> Manuscript | None:
        """The manuscript that a page was made from, by its hash; `None` where it is no longer remembered."""
        with self._lock:
            return self._known.get((edition.place_to_write(MANUSCRIPT), mark))

    def _size(self) -> int:
        return sum(len(one.data) for one in self._known.values())
