"""Where things lie in an edition's folder, and what may be written there.

An edition may come from somebody else. Reading follows symbolic links; writing does not leave the folder: a link that
leads out of it is refused.
"""

from __future__ import annotations

import fnmatch
import hashlib
import re
from pathlib import Path
from typing import Final

from variorum.base import InputError
from variorum.base.settings import StorePlace, cache_folder

__all__ = [
    "AUTHOR",
    "DIGEST",
    "MANUSCRIPT",
    "OUT",
    "PLAYOUTS",
    "SETTINGS",
    "SOURCES",
    "STORE",
    "TAKEN_OUT",
    "VERDICTS",
    "find_edition",
    "matches_rule",
    "place_to_write",
    "store_folder",
]

SETTINGS: Final = "edition.toml"
MANUSCRIPT: Final = "manuscript.pgn"
DIGEST: Final = "digest.md"
SOURCES: Final = "sources"
VERDICTS: Final = "verdicts"
PLAYOUTS: Final = "playouts"
OUT: Final = "out"
AUTHOR: Final = "author"
"""What is made for the author alone, and never published."""
TAKEN_OUT: Final = "taken-out"
"""Files of games that the author took out of `sources/`: nothing reads them, and they can be put back."""
STORE: Final = ".variorum"


def find_edition(start: Path) -> Path:
    """The folder of the edition that contains `start` (a folder), looking upwards.

    Raises:
        InputError: There is none.
    """
    start = start.absolute()
    for folder in (start, *start.parents):
        if (folder / SETTINGS).is_file():
            return folder
    raise InputError(
        f"no {SETTINGS} in this folder or above it",
        path=start,
        remedy="name the edition's folder first, or make an edition with `variorum new`",
    )


def place_to_write(folder: Path, *parts: str) -> Path:
    """The path of a file of the edition that is to be written; its folder need not exist yet.

    Raises:
        InputError: It lies outside of the edition, by its name or through a symbolic link.
    """
    path = folder.joinpath(*parts)
    if not path.resolve().is_relative_to(folder.resolve()):
        raise InputError(
            "leads out of the edition's folder, and nothing is written there",
            path=path,
            remedy="replace the symbolic link by a real file or folder",
        )
    return path


def store_folder(folder: Path, where: StorePlace) -> Path:
    """Where the store of the edition in `folder` lies. In the cache its name holds a hash of the edition's path."""
    if where == "edition":
        return place_to_write(folder, STORE)
    path = folder.resolve()
    mark = hashlib.sha256(str(path).encode("utf-8", "surrogatepass")).hexdigest()[:16]
    name = re.sub(r"[^A-Za-z0-9_-]+", "-", path.name)[:40]
    return cache_folder() / "stores" / f"{name}-{mark}"


def matches_rule(file_in_edition: Path, pattern: str) -> bool:
    """Whether a path relative to the edition's folder is meant by the `path` of a `[[sources]]` table.

    >>> matches_rule(Path("sources/engine/a.pgn"), "sources/engine/*"), matches_rule(Path("sources/a.pgn"), "*.epd")
    (True, False)
    """
    return fnmatch.fnmatchcase(file_in_edition.as_posix(), pattern)
