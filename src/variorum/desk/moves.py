"""Lines of moves as links: a press on a move leads to the position behind it."""

from __future__ import annotations

import re
from typing import Final
from urllib.parse import urlencode

import msgspec

from variorum.board import Line, Position
from variorum.edition import Edition, Place
from variorum.edition.folder import MANUSCRIPT
from variorum.publish.notation import set_line, set_san

__all__ = ["Step", "address", "line_steps", "place_address", "printed", "text_address"]


_MOVE: Final = re.compile(
    r"[KQRBN]?[a-h]?[1-8]?x?[a-h][1-8](?![\w-])|[a-h](?:x[a-h])?[18]=[QRBN]|O-O|[KQRBN][a-h1-8]{0,2}x?[a-h][1-8]"
)


class Step(msgspec.Struct, frozen=True):
    """A move as printed, with the address of the position behind it."""

    text: str
    href: str
    here: bool = False


def address(edition_name: str, page: str, **query: str) -> str:
    """The address of a page of an edition."""
    asked = {key: value for key, value in query.items() if value}
    return f"/e/{edition_name}/{page}" + (f"?{urlencode(asked)}" if asked else "")


def place_address(edition_name: str, line: Line, page: str = "position") -> str:
    """The address of the position behind a line: its moves, or the FEN where a line has none or does not begin at the start."""
    return address(edition_name, page, at=spelled(line))


def text_address(edition_name: str, path: str, line: int, column: int) -> str:
    """Where a sentence of the author's texts is read and changed: the manuscript at its move, the digest at its line."""
    if path == MANUSCRIPT:
        return address(edition_name, "manuscript", place=f"{line}:{column}")
    return address(edition_name, "digest", line=str(line))


def spelled(line: Line) -> str:
    """A line as a place is typed."""
    if line.start == Position.start():
        return line.san() if line.moves else "start"
    return f"{line.start.fen} {line.san()}".strip()


def line_steps(edition_name: str, line: Line, *, after: int = 0) -> list[Step]:
    """Each move of a line behind its first `after` plies; the last one is where the reader is."""
    steps = []
    begin = "" if line.start == Position.start() else line.start.fen
    words, positions = line.san().split(), line.positions()
    for ply in range(after, len(line.moves)):
        before = positions[ply]
        text = set_line(Line(before, (line.moves[ply],)))
        if ply > after:
            text = text.lstrip("…") if before.turn.value == "white" else text.split("…", 1)[-1]
        there = " ".join(filter(None, (begin, *words[: ply + 1])))
        steps.append(Step(text, address(edition_name, "position", at=there), ply + 1 == len(line.moves)))
    return steps


def printed(san: str) -> str:
    """Moves in SAN with numbers, as they are printed: figurines, numbers and moves held together; other words stay."""
    return " ".join(_word(word) for word in san.split())


def _word(word: str) -> str:
    number, dots, move = word.partition("...")
    if dots and number.isdigit():
        return f"{number}…{_move(move)}"
    if dots and not number:
        return f"…{_move(move)}"
    number, dot, move = word.partition(".")
    if dot and number.isdigit():
        return f"{number}\u00a0{_move(move)}"
    return _move(word)


def _move(word: str) -> str:
    return set_san(word) if _MOVE.match(word) else word


def name_of(edition: Edition, place: Place) -> str:
    """The edition's own name for a place, or ""."""
    if place.name:
        return place.name
    return next((name for name, known in edition.places.items() if known.position == place.position), "")
