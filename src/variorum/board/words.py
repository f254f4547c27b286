"""The one place that turns an expected score into a sign and words (methods.md 2)."""

from __future__ import annotations

from typing import Annotated

import msgspec
from msgspec import Meta

from variorum.board.position import Side

__all__ = ["DEFAULT_BANDS", "SIGNS", "Bands", "Sign", "band_of", "sign_named", "sign_of"]


class Bands(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Where the words begin, in E for White from 50 up; Black's side is mirrored. A setting of the edition.

    Common practice, no source: the defaults of methods.md 2.
    """

    slight: Annotated[float, Meta(ge=50, le=100, description="From here White is slightly better.")] = 58.0
    clear: Annotated[float, Meta(ge=50, le=100, description="From here White is clearly better.")] = 70.0
    winning: Annotated[float, Meta(ge=50, le=100, description="From here White is winning.")] = 90.0

    def __post_init__(self) -> None:
        if not 50.0 < self.slight < self.clear < self.winning < 100.0:
            raise ValueError("bands must rise: 50 < slight < clear < winning < 100")


DEFAULT_BANDS = Bands()


class Sign(msgspec.Struct, frozen=True):
    """An evaluation sign: its number in the NAG table, its glyph, the typewriter form, the words, and whose edge."""

    nag: int
    glyph: str
    ascii: str
    words: str
    side: Side | None


SIGNS = (
    Sign(19, "−+", "-+", "winning Black", Side.BLACK),
    Sign(17, "∓", "-/+", "clear Black", Side.BLACK),
    Sign(15, "⩱", "=+", "slight Black", Side.BLACK),
    Sign(10, "=", "=", "level", None),
    Sign(14, "⩲", "+=", "slight White", Side.WHITE),
    Sign(16, "±", "+/-", "clear White", Side.WHITE),
    Sign(18, "+−", "+-", "winning White", Side.WHITE),
)
"""The seven signs, from Black's win to White's; glyphs as in the NAG table."""

_LEVEL = 3


def sign_of(expected: float, bands: Bands = DEFAULT_BANDS) -> Sign:
    """The sign for an expected score E for White, 0 to 100; a band begins with its edge, seen from 50.

    >>> [sign_of(E).words for E in (50, 58, 69.9, 70, 90, 42, 30)]
    ['level', 'slight White', 'slight White', 'clear White', 'winning White', 'slight Black', 'clear Black']
    """
    if not 0.0 <= expected <= 100.0:
        raise ValueError("an expected score lies between 0 and 100")
    # Both sides by one comparison with White's edges, so that they are mirrored to the last bit.
    edge = max(expected, 100.0 - expected)
    steps = (edge >= bands.slight) + (edge >= bands.clear) + (edge >= bands.winning)
    return SIGNS[_LEVEL + steps if expected > 50.0 else _LEVEL - steps]


def band_of(sign: Sign, bands: Bands = DEFAULT_BANDS) -> tuple[float, float]:
    """The range of E for White, lower and upper edge, for which a sign stands.

    >>> band_of(sign_named("clear Black"))
    (10.0, 30.0)
    """
    edges = [
        0.0,
        100.0 - bands.winning,
        100.0 - bands.clear,
        100.0 - bands.slight,
        bands.slight,
        bands.clear,
        bands.winning,
        100.0,
    ]
    at = SIGNS.index(sign)
    return edges[at], edges[at + 1]


def sign_named(text: str) -> Sign:
    """The sign of its words, glyph, typewriter form or number (`$14`).

    NAG 11 and 12 (level and quiet, level but lively) are level.

    Raises:
        KeyError: There is no such evaluation sign.
    """
    return _BY_NAME[" ".join(text.split()).casefold()]


_BY_NAME = {
    name.casefold(): sign for sign in SIGNS for name in (sign.words, sign.glyph, sign.ascii, f"${sign.nag}")
} | {"$11": SIGNS[_LEVEL], "$12": SIGNS[_LEVEL]}
