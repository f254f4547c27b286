"""Which files are meant by the paths that somebody gives."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from variorum.base import InputError
from variorum.edition import Edition

__all__ = ["SUFFIXES", "find_games_files", "source_name"]

SUFFIXES = (".pgn", ".pgn.gz", ".pgn.zst", ".pgn.bz2")
"""What is taken from a folder; a file that is named is taken whatever it is called."""


def find_games_files(paths: Iterable[Path]) -> list[Path]:
    """The files of games under these paths, folders looked through at any depth, each file once, in order of name.

    A file that is met by a link is named as the link is.

    Raises:
        InputError: A path does not exist, or is neither a file nor a folder (reading a pipe might never end).
    """
    found: dict[Path, Path] = {}
    for path in paths:
        if path.is_dir():
            inside = (file for file in path.rglob("*") if file.name.lower().endswith(SUFFIXES))
            for file in sorted(inside):
                if file.is_file():
                    found.setdefault(file.resolve(), file.absolute())
        elif path.is_file():
            found.setdefault(path.resolve(), path.absolute())
        elif path.exists():
            raise InputError("this is neither a file nor a folder", path=path, remedy="name a file of games")
        else:
            raise InputError("there is no such file or folder", path=path, remedy="check the path")
    return list(found.values())


def source_name(edition: Edition, file: Path) -> str:
    """The name of a source in the store: relative to the edition, with slashes, or absolute."""
    inside = edition.inside(file)
    return file.resolve().as_posix() if inside is None else inside.as_posix()
