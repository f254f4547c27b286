"""Marks on a diagram: what an author writes after `marks:`, and what is drawn."""

from __future__ import annotations

import enum
import itertools
import re

import msgspec

__all__ = ["Mark", "MarkError", "MarkKind", "parse_marks"]


class MarkKind(enum.Enum):
    """The marks of the look; the value is the word an author writes."""

    ITINERARY = "route"
    RING = "ring"
    HOLE = "hole"
    CHANGED = "changed"
    VACATED = "vacated"


class Mark(msgspec.Struct, frozen=True):
    """One mark. An itinerary has two squares or more, any other mark one. `rubric` prints it in the second colour."""

    kind: MarkKind
    squares: tuple[str, ...]
    letter: str = ""
    unit: str = ""
    rubric: bool = False


class MarkError(ValueError):
    """A mark that cannot be read; `offset` counts characters from the start of the marks."""

    def __init__(self, message: str, offset: int) -> None:
        super().__init__(message)
        self.message = message
        self.offset = offset


_WAY = re.compile(r"([KQRBN]?)((?:[a-h][1-8]-)+[a-h][1-8])")
_SQUARE = re.compile(r"[a-h][1-8]")
_LETTER = re.compile(r"[a-z]")
_MOST_ITINERARIES = 3


def parse_marks(text: str) -> tuple[list[Mark], list[MarkError]]:
    """Read marks, separated by `;`: `ring d5; route Nf3-e5 a; changed d3!`.

    A route may name the unit by its letter and end with a small letter that is printed beside it. `!` at the end prints
    the mark in rubric. A faulty mark is left out and told; the others stand.

    >>> parse_marks("route Nf3-e5 a!")[0]
    [Mark(kind=<MarkKind.ITINERARY: 'route'>, squares=('f3', 'e5'), letter='a', unit='N', rubric=True)]
    """
    marks: list[Mark] = []
    errors: list[MarkError] = []
    for part in re.finditer(r"[^;]+", text):
        written = part.group()
        words = written.strip()
        if not words:
            continue
        offset = part.start() + len(written) - len(written.lstrip())
        try:
            mark = _parse_mark(words, offset)
            ways = sum(other.kind is MarkKind.ITINERARY for other in marks)
            if mark.kind is MarkKind.ITINERARY and ways == _MOST_ITINERARIES:
                raise MarkError(f"more than {_MOST_ITINERARIES} routes cannot be told apart", offset)
            marks.append(mark)
        except MarkError as error:
            errors.append(error)
    return marks, errors


def _parse_mark(words: str, offset: int) -> Mark:
    rubric = words.endswith("!")
    word, *rest = words.removesuffix("!").split() or ["!"]
    try:
        kind = MarkKind(word)
    except ValueError:
        known = ", ".join(kind.value for kind in MarkKind)
        raise MarkError(f"'{word}' is not a mark; marks are {known}", offset) from None
    if kind is MarkKind.ITINERARY:
        way = _WAY.fullmatch(rest[0]) if rest else None
        letters = rest[1:]
        if way is None or len(letters) > 1 or not all(map(_LETTER.fullmatch, letters)):
            raise MarkError(f"'{words}' is not a route; write 'route Nf3-e5' or 'route f3-e5 a'", offset)
        squares = tuple(way[2].split("-"))
        if any(one == other for one, other in itertools.pairwise(squares)):
            raise MarkError(f"the route '{way[0]}' stays on a square", offset)
        return Mark(kind, squares, letter="".join(letters), unit=way[1], rubric=rubric)
    if len(rest) != 1 or not _SQUARE.fullmatch(rest[0]):
        raise MarkError(f"'{words}' needs one square; write '{word} d5'", offset)
    return Mark(kind, (rest[0],), rubric=rubric)
