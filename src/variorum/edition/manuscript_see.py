"""Pointers: a comment `see 1.d4 d5 2.c4` stands where a position is treated under another order."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import msgspec

from variorum.base import InputError
from variorum.board import Line, MoveError, Position
from variorum.edition.manuscript import Comment, Manuscript
from variorum.edition.place import Place

__all__ = ["Pointer", "pointer_text", "pointers_in", "target_of"]

_NUMBER = re.compile(r"\d{1,3}\s*(?:\.|…)")
_WORD = re.compile(
    r"(?:\d{1,3}\s*(?:\.{1,3}|…)\s*)?"
    r"(?:[KQRBN][a-h1-8]{0,2}x?[a-h][1-8]|[a-h](?:x[a-h])?[1-8](?:=?[QRBN])?|[O0]-[O0](?:-[O0])?|--)[+#]?[!?]{0,2}"
)
_FROM_START = re.compile(r"1\s*\.(?!\s*\.)|\S*/")
_BETWEEN = re.compile(r"[\s,]*")


class Pointer(msgspec.Struct, frozen=True):
    """A `see` in a comment: the line as it was written.

    `whole` tells that it is all of the comment and begins at the start: it stands in the place of a continuation.
    """

    comment: Comment
    line: str
    whole: bool


def pointer_text(line: Line, word: str) -> str:
    """What is written where the position at the end of a line is reached by another order.

    >>> pointer_text(Line.parse("1.d4 d5 2.c4"), "see")
    'see 1.d4 d5 2.c4'
    """
    start = "" if line.start == Position.start() else f"{line.start.fen} "
    return f"{word} {start}{line.san()}"


def pointers_in(manuscript: Manuscript, word: str) -> Iterator[Pointer]:
    """Every `see` that is followed by a move number or by a FEN, in the order of the text."""
    see = re.compile(rf"(?<!\w){re.escape(word)}\s+(?=\d|\S+/\S+/)", re.IGNORECASE)
    for game in manuscript.games:
        for comment in game.comments:
            text = " ".join(comment.raw.split())
            for found in see.finditer(text):
                line, end = _line_from(text, found.end())
                if line:
                    alone = found.start() == 0 and not text[end:].strip(" .;,")
                    yield Pointer(comment, line, alone and bool(_FROM_START.match(line)))


def _line_from(text: str, start: int) -> tuple[str, int]:
    """The words of a line that begin at an offset, and where they end; empty where no move stands there."""
    at, words = start, []
    if text[start:].split(" ", 1)[0].count("/") == 7:
        words = text[start:].split()[:6]
        at = start + len(" ".join(words))
    elif not _NUMBER.match(text, start):
        return "", start
    while (gap := _BETWEEN.match(text, at)) and (move := _WORD.match(text, gap.end())):
        words.append(move.group())
        at = move.end()
    return " ".join(words), at


def target_of(pointer: Pointer, resolve: Callable[[str], Place]) -> Position | None:
    """The position that a pointer leads to: from the start of the game, or on from a move of the line it stands in.

    `None` where its moves are not legal in any of these.
    """
    node = pointer.comment.node
    found = _NUMBER.match(pointer.line)
    number = int(re.findall(r"\d+", pointer.line)[0]) if found else 1
    if number == 1 or not found or node is None:
        try:
            return resolve(pointer.line).position
        except InputError:
            pass
    while node is not None:
        if node.position.fullmove == number:
            try:
                return Line.parse(pointer.line, start=node.position).end
            except MoveError:
                pass
        node = node.parent
    return None
