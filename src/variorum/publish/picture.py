"""Any position as a picture file: SVG, or PNG."""

from __future__ import annotations

from pathlib import Path

import msgspec

from variorum.base import InputError, UsageError
from variorum.edition.files import atomic_write, hash_on_disk
from variorum.edition.marks import Mark, parse_marks
from variorum.edition.place import Place
from variorum.publish.diagram import Diagram, misfit, standalone_svg
from variorum.publish.typeset import png_of
from variorum.publish.wording import Wording

__all__ = ["Picture", "read_marks", "write_picture"]


class Picture(msgspec.Struct, frozen=True, kw_only=True):
    """A picture that was written: its file, the position, the side it is seen from, pixels across, and what it shows in words."""

    path: str
    fen: str
    side: str
    width: int
    said: str


def read_marks(text: str, place: Place) -> tuple[Mark, ...]:
    """The marks of a picture.

    Raises:
        InputError: One cannot be read, or does not fit the position.
    """
    marks, errors = parse_marks(text)
    faults = [error.message for error in errors]
    faults += [fault for mark in marks if (fault := misfit(mark, place.position))]
    if faults:
        raise InputError(faults[0], remedy="marks are, for instance: ring d5; route Nf3-e5 a; changed d3!")
    return tuple(marks)


def write_picture(drawn: Diagram, path: Path, width: int, words: Wording) -> None:
    """Write a diagram into a file whose name ends in `.svg` or `.png`; what was there is replaced.

    Raises:
        UsageError: The name ends otherwise, or the width is not within 80 to 4096 pixels.
        InputError: The file cannot be written.
    """
    match path.suffix.casefold():
        case ".svg":
            data = standalone_svg(drawn, width, words).encode()
        case ".png":
            data = png_of(drawn, width, words)
        case _:
            raise UsageError(f"{path.name}: a picture is an .svg or a .png file")
    atomic_write(path, data, expected_hash=hash_on_disk(path))
