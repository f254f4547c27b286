"""Moves as they are printed: figurines or letters, numbers and moves held together by no-break spaces."""

from __future__ import annotations

import re
from collections.abc import Iterator

import msgspec

from variorum.board import Line

__all__ = [
    "ENGLISH_LETTERS",
    "FIGURINE",
    "NO_BREAK",
    "Notation",
    "notations",
    "roman",
    "set_line",
    "set_moves_in_text",
    "set_san",
]

NO_BREAK = "\u00a0"


class Notation(msgspec.Struct, frozen=True):
    """What stands for king, queen, rook, bishop and knight, in the order of the letters `KQRBN`."""

    name: str
    units: str

    def table(self) -> dict[int, str]:
        """For `str.translate`."""
        return dict(zip(map(ord, "KQRBN"), self.units, strict=True))


FIGURINE = Notation("figurine", "♔♕♖♗♘")
ENGLISH_LETTERS = Notation("letters", "KQRBN")


def notations(name: str, local: str) -> tuple[Notation, Notation]:
    """What the setting `notation` means for text and for small print; `local` are the letters of the language.

    >>> [notation.units for notation in notations("figurine", "KDTLS")]
    ['♔♕♖♗♘', 'KDTLS']
    """
    if name == "letters":
        return ENGLISH_LETTERS, ENGLISH_LETTERS
    letters = Notation("local", local)
    return (letters if name == "local" else FIGURINE), letters


_MOVE = (
    r"(?:O-O-O|O-O"
    r"|[KQRBN](?:[a-h]?[1-8]?x?)[a-h][1-8]"
    r"|[a-h](?:x[a-h])?[1-8](?:=?[QRBN])?)[+#]?"
)
_IN_TEXT = re.compile(
    rf"""(?<![\w.…–-])(?:
        (?P<way>[KQRBN]?[a-h][1-8](?:[-–x][a-h][1-8])+)
      | (?P<square>[a-h][1-8])(?![\w=+#])
      | (?:(?P<number>\d{{1,3}})(?P<dots>\.\.\.|…|\.)[\x20{NO_BREAK}]?|(?P<alone>\.\.\.|…))?(?P<move>{_MOVE})
    )(?![\w–-])""",
    re.VERBOSE,
)
"""An itinerary, a lone square, or a move with or without its number."""


def set_san(san: str, notation: Notation = FIGURINE) -> str:
    """One move in SAN as printed; castling keeps its letters.

    >>> set_san("Nxd5+"), set_san("O-O"), set_san("e8=Q", ENGLISH_LETTERS)
    ('♘xd5+', 'O-O', 'e8=Q')
    """
    return san if san.startswith("O-O") else san.translate(notation.table())


def set_line(line: Line, notation: Notation = FIGURINE) -> str:
    """A line as printed: `1 e4 c6 2 d4`, `10…b6 11 d5`; a number and its move are held together.

    >>> set_line(Line.parse("e4 c6 d4")).replace(NO_BREAK, "~")
    '1~e4 c6 2~d4'
    """
    return " ".join(_numbered(word, notation) for word in line.san().split())


def set_moves_in_text(text: str, notation: Notation = FIGURINE) -> Iterator[tuple[str, bool]]:
    """Running text in pieces, each with whether it is a move; moves are set as `set_line` sets them.

    Only what looks like SAN counts: `10...b6`, `11.d5`, `Nxd5`, `O-O`, and itineraries such as `Nf3-e5xg6`. Anything else,
    also a lone square, is left as it is. Letters are the English ones, which an author writes.

    >>> text = "After 10...b6 11.Bg5 the square d5 and Nf3-e5xg6."
    >>> "".join(piece for piece, _ in set_moves_in_text(text)).replace(NO_BREAK, "~")
    'After 10…b6 11~♗g5 the square d5 and ♘f3–e5xg6.'
    """
    done = 0
    for found in _IN_TEXT.finditer(text):
        if found.start() > done:
            yield text[done : found.start()], False
        if found["way"]:
            yield set_san(found["way"], notation).replace("-", "–"), True
        elif found["square"]:
            yield found["square"], False
        else:
            number = _number(found["number"] or "", found["dots"] or "")
            yield ("…" if found["alone"] else number) + set_san(found["move"], notation), True
        done = found.end()
    if done < len(text):
        yield text[done:], False


def _numbered(word: str, notation: Notation) -> str:
    number, dots, san = re.fullmatch(r"(\d*)(\.*)(.+)", word).groups()  # type: ignore[union-attr]
    return _number(number, dots) + set_san(san, notation)


def _number(number: str, dots: str) -> str:
    """`11` and a no-break space for White, `10…` for Black, nothing without a number."""
    if not number:
        return ""
    return f"{number}{NO_BREAK}" if dots == "." else f"{number}…"


def roman(number: int) -> str:
    """A number in Roman figures, in small letters.

    >>> [roman(number) for number in (1, 4, 9, 14, 48, 99)]
    ['i', 'iv', 'ix', 'xiv', 'xlviii', 'xcix']
    """
    text = ""
    for value, sign in (
        (100, "c"),
        (90, "xc"),
        (50, "l"),
        (40, "xl"),
        (10, "x"),
        (9, "ix"),
        (5, "v"),
        (4, "iv"),
        (1, "i"),
    ):
        times, number = divmod(number, value)
        text += sign * times
    return text
