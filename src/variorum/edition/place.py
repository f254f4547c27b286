"""A place: any way to say a position. A name, a typed line (also one that goes on from a name), or a FEN."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from typing import Final

import msgspec

from variorum.base import InputError
from variorum.base.shape import nearest
from variorum.board import Line, MoveError, MoveReason, Position

__all__ = ["Place", "name_fault", "parse_place", "same_name"]

LONGEST_NAME: Final = 80
START_NAME: Final = "start"
"""The one name that every edition has: the start position of chess."""

_NUMBERED: Final = re.compile(r"\d+\s*[.…]")
_MOVE: Final = re.compile(
    r"(?:[KQRBN][a-h1-8x]*[a-h][1-8]|[a-h](?:x?[a-h])?[1-8](?:=?[QRBN])?|[a-h][1-8][a-h][1-8][qrbn]?|[O0]-[O0](?:-[O0])?)"
    r"[+#!?]*"
)
_FORBIDDEN: Final = '"{}[];|'
"""Signs that mean something around a name in digest.md or on the command line."""


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """A position, how it was said, and the line that leads to it.

    `line` begins at the start of chess, or at the FEN that the author gave; it is `None` for a bare FEN. `name` is the
    edition's name for it where it was said by one.
    """

    text: str
    position: Position
    line: Line | None
    name: str | None = None


def same_name(name: str) -> str:
    """What two spellings of one name have in common: case, form of accents and number of spaces do not count."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def name_fault(name: str) -> str | None:
    """Why a text cannot be the name of a place, `None` if it can."""
    if not name.strip():
        return "is empty"
    if name != " ".join(name.split()):
        return "begins or ends with a space, or holds several in a row or a line break"
    if len(name) > LONGEST_NAME:
        return f"is longer than {LONGEST_NAME} characters"
    for sign in name:
        if sign in _FORBIDDEN or unicodedata.category(sign).startswith("C"):
            return f"holds {sign!r}"
    if same_name(name) == START_NAME:
        return "is the name of the start position of chess"
    first = name.split()[0]
    if first.count("/") == 7 or _NUMBERED.match(first) or _MOVE.fullmatch(first):
        return "begins like a move or a FEN, so it would be read as one"
    return None


def parse_place(text: str, known: Mapping[str, Place]) -> Place:
    """The place that a text says, by the names in `known`.

    Raises:
        MoveError: A move of a typed line is no move where it stands; `ply` counts the moves that were typed.
        FenError: A FEN cannot be used.
        InputError: It is none of these; the remedy suggests a name.
    """
    words = text.split()
    said = " ".join(words)
    if not words:
        raise InputError("the place is empty", remedy="give a name, a line such as 1.e4 c6, or a FEN")
    if words[0].count("/") == 7:
        return _from_fen(said)
    by_name = {same_name(name): place for name, place in known.items()}
    for count in range(len(words), 0, -1):
        place = _named(" ".join(words[:count]), by_name)
        if place is not None:
            return _go_on(place, " ".join(words[count:]), said)
    try:
        line = Line.parse(said)
    except MoveError as error:
        if error.ply == 1 and error.reason is MoveReason.NOT_A_MOVE and not _NUMBERED.match(said):
            raise _unknown(said, words, known) from None
        raise
    return Place(text=said, position=line.end, line=line)


def _named(name: str, by_name: Mapping[str, Place]) -> Place | None:
    same = same_name(name)
    if same == START_NAME:
        return Place(text=START_NAME, position=Position.start(), line=Line(Position.start()), name=START_NAME)
    return by_name.get(same)


def _go_on(place: Place, moves: str, said: str) -> Place:
    if not moves:
        return place
    more = Line.parse(moves, start=place.position)
    line = Line(place.line.start, place.line.moves + more.moves) if place.line else more
    return Place(text=said, position=more.end, line=line)


def _from_fen(said: str) -> Place:
    line = Line.parse(said)
    if line.moves:
        return Place(text=said, position=line.end, line=line)
    return Place(text=said, position=line.start, line=None)


def _unknown(said: str, words: list[str], known: Mapping[str, Place]) -> InputError:
    guess = nearest(said, known) or nearest(words[0], known)
    if guess:
        remedy = f"did you mean {guess!r}?"
    elif known:
        remedy = f"names of this edition: {', '.join(known)}; or give a line such as 1.e4 c6, or a FEN"
    else:
        remedy = "give a line such as 1.e4 c6, or a FEN"
    shown = said if len(said) <= LONGEST_NAME else said[: LONGEST_NAME - 1] + "…"
    return InputError(f"no place is called {shown!r}", remedy=remedy)
