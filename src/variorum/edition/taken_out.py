"""Files of games taken out of `sources/` and put back. They are moved, never deleted or written over."""

from __future__ import annotations

import os
from pathlib import Path, PurePosixPath

from variorum.base import InputError
from variorum.edition.edition import Edition
from variorum.edition.folder import SOURCES, TAKEN_OUT

__all__ = ["put_back", "take_out", "taken_out"]


def take_out(edition: Edition, name: str) -> Path:
    """Move a file of `sources/` to `taken-out/`; where it lies then. `name` is relative to the edition, with slashes.

    Raises:
        InputError: It is no file of `sources/`, or cannot be moved.
    """
    file = _inside(edition, name, SOURCES)
    place = edition.path / TAKEN_OUT / file.relative_to(edition.path / SOURCES)
    number = 1
    while os.path.lexists(place):  # one of this name was taken out before
        number += 1
        stem, dot, ending = file.name.partition(".")
        place = place.with_name(f"{stem} {number}{dot}{ending}")
    return _move(edition, file, place)


def put_back(edition: Edition, name: str) -> Path:
    """Move a file of `taken-out/` to `sources/` again; where it lies then.

    Raises:
        InputError: It is no file of `taken-out/`, one of this name is in `sources/`, or it cannot be moved.
    """
    file = _inside(edition, name, TAKEN_OUT)
    place = edition.path / SOURCES / file.relative_to(edition.path / TAKEN_OUT)
    if os.path.lexists(place):
        raise InputError("a file of this name is there already", path=place, remedy="rename one of them")
    return _move(edition, file, place)


def taken_out(edition: Edition, endings: tuple[str, ...]) -> list[str]:
    """The files that were taken out and have one of these endings, relative to the edition."""
    files = (edition.path / TAKEN_OUT).rglob("*")
    return sorted(
        file.relative_to(edition.path).as_posix()
        for file in files
        if file.name.lower().endswith(endings) and file.is_file()
    )


def _inside(edition: Edition, name: str, folder: str) -> Path:
    """The file of that name.

    Raises:
        InputError: There is none in this folder of the edition.
    """
    parts = PurePosixPath(name).parts
    file = edition.path.joinpath(*parts)
    if parts[:1] != (folder,) or ".." in parts or "\0" in name or not file.is_file():
        raise InputError("there is no such file of games", path=name, remedy="load the page again")
    return file


def _move(edition: Edition, file: Path, place: Path) -> Path:
    # A link is moved as a link; the folders that it is moved between must be the edition's own.
    for folder in (file.parent, place.parent):
        edition.place_to_write(folder.relative_to(edition.path).as_posix())
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        file.rename(place)
    except OSError as error:
        raise InputError(
            f"it cannot be moved: {error.strerror or error}",
            path=file,
            remedy="close what has it open, and try again",
        ) from None
    return place
