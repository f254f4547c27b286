"""What a build is made from, as one key: the same key means that nothing changed.

Files count by content. A file is read for it only when its size, time of change and inode say that it may have changed
(architecture.md, "Store").
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from variorum import __version__
from variorum.base import InputError
from variorum.base.settings import UserSettings
from variorum.edition import Edition
from variorum.edition.folder import AUTHOR, DIGEST, MANUSCRIPT, OUT, PLAYOUTS, SETTINGS, SOURCES, VERDICTS
from variorum.store import Store

__all__ = ["stock_key"]


def stock_key(edition: Edition, user: UserSettings, store: Store, cautions: Iterable[str]) -> str:
    """A hash of the program's version, the edition's folder, the user's settings, the author's files, what was sifted, and what lies in `out/` and `author/`.

    Raises:
        InputError: A file cannot be read.
    """
    parts = [__version__, str(edition.path), repr(user), *(f"caution {text}" for text in cautions)]
    for path in _files(edition.path):
        name = path.relative_to(edition.path).as_posix()
        try:
            parts.append(f"{name} {store.content_hash(name, path)}")
        except OSError as error:
            raise InputError(f"it cannot be read: {error.strerror or error}", path=path) from None
    parts += [f"sifted {one.source} {one.cache_key} {one.finished} {one.kept}" for one in store.sources()]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _files(folder: Path) -> list[Path]:
    named = [folder / name for name in (SETTINGS, MANUSCRIPT, DIGEST)]
    inside = [
        path
        for part in (SOURCES, PLAYOUTS, VERDICTS, OUT, AUTHOR)
        for path in sorted((folder / part).rglob("*"))
    ]
    return [path for path in (*named, *inside) if path.is_file()]
