"""Line spans of the digest: moves that the author typed, read against the place they belong to.

[10.Re1]{.line of="iqp-main"}        a stretch of the line that leads to the place
[10...b6 11.d5]{.line of="iqp-main"} moves on from it, or away from its line
[1.e4 c6 2.d4 d5]{.line}             a line from the start of chess
"""

from __future__ import annotations

import re
from pathlib import Path

from variorum.base import Diagnostic, InputError, Severity
from variorum.board import Line, MoveError, Position, Side
from variorum.claims.facts import Places, in_words
from variorum.edition.digest import Span
from variorum.edition.place import Place

__all__ = ["read_line"]

_FIRST_NUMBER = re.compile(r"\s*(\d{1,3})\s*(\.\.\.|…|\.)")


def read_line(span: Span, places: Places, path: Path) -> tuple[Line | None, list[Diagnostic]]:
    """The moves of a line span of the digest at `path`, from the position in which its first move is played.

    The number of the first move says where the line sets in: at that move of the line to the place, or at the place
    itself where no number is given. `None` and diagnostics where that cannot be done.
    """
    unknown = sorted(span.attributes.keys() - {"of"})
    if unknown:
        return None, [
            _fault(span, path, "line-attribute", f"a line has no attribute '{unknown[0]}'", "it has of")
        ]
    try:
        place = places.place(span.attributes.get("of", "start"))
    except InputError as error:
        return None, [_fault(span, path, "line-place", in_words(error), error.remedy)]
    start = _start(span.text, place)
    if start is None:
        message = f"the line to {place.text} has no such move number as '{span.text}' begins with"
        return None, [_fault(span, path, "line-number", message)]
    try:
        return Line.parse(span.text, start=start), []
    except MoveError as error:
        return None, [_fault(span, path, "line-move", in_words(error), error.remedy)]


def _start(text: str, place: Place) -> Position | None:
    number = _FIRST_NUMBER.match(text)
    if number is None:
        return place.position
    side = Side.WHITE if number[2] == "." else Side.BLACK
    positions = place.line.positions() if place.line else (place.position,)
    for position in positions:
        if position.fullmove == int(number[1]) and position.turn is side:
            return position
    return None


def _fault(span: Span, path: Path, code: str, message: str, hint: str | None = None) -> Diagnostic:
    return Diagnostic(
        code=code,
        severity=Severity.ERROR,
        path=path,
        message=message,
        line=span.where.line,
        column=span.where.column,
        hint=hint,
    )
