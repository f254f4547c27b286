"""Numeric annotation glyphs 0 to 139 of the PGN standard (1994), section 10, with the signs usual in print.

The standard gives signs for 1 to 6 only; the other glyphs are trade custom. Codes above 139 are no part of it: they
are carried, never interpreted.
"""

from __future__ import annotations

import enum

import msgspec

__all__ = ["NAGS", "Nag", "NagScope", "nag_of_sign"]


class NagScope(enum.Enum):
    """What a glyph speaks of."""

    NONE = "none"
    MOVE = "move"
    POSITION = "position"
    GAME = "game"
    """How a phase of the game was played."""
    CLOCK = "clock"


class Nag(msgspec.Struct, frozen=True):
    """One numeric annotation glyph; `glyph` and `ascii` (its typewriter form) are empty where none is usual."""

    number: int
    glyph: str
    ascii: str
    meaning: str
    scope: NagScope

    def __str__(self) -> str:
        return f"${self.number}"


_SINGLE = {
    0: ("", "", "no annotation (placeholder)"),
    1: ("!", "!", "good move"),
    2: ("?", "?", "mistake"),
    3: ("!!", "!!", "brilliant move"),
    4: ("??", "??", "blunder"),
    5: ("!?", "!?", "interesting move"),
    6: ("?!", "?!", "dubious move"),
    7: ("□", "", "forced move, everything else loses fast"),
    8: ("", "", "single reasonable move"),
    9: ("", "", "worst move available"),
    10: ("=", "=", "drawn-looking / level"),
    11: ("", "", "level and quiet"),
    12: ("", "", "level but lively"),
    13: ("∞", "unclear", "unclear"),
}

_PAIRED_SIGNS = {
    14: (("⩲", "+="), ("⩱", "=+")),
    16: (("±", "+/-"), ("∓", "-/+")),
    18: (("+−", "+-"), ("−+", "-+")),
    22: (("⨀", ""), ("⨀", "")),
    26: (("○", ""), ("○", "")),
    32: (("⟳", ""), ("⟳", "")),
    36: (("↑", ""), ("↑", "")),
    40: (("→", ""), ("→", "")),
    44: (("=∞", "=/oo"), ("=∞", "=/oo")),
    132: (("⇆", ""), ("⇆", "")),
    138: (("⨁", ""), ("⨁", "")),
}

_PAIRED = (
    # From 14 on: an even number speaks of White, the next of Black.
    "stands slightly better",
    "stands clearly better",
    "is winning",
    "is winning so clearly that the other side should resign",
    "is in zugzwang",
    "has a slight edge in space",
    "has a moderate edge in space",
    "has a decisive edge in space",
    "has a slight lead in development",
    "has a moderate lead in development",
    "has a decisive lead in development",
    "has the initiative",
    "has a lasting initiative",
    "has the attack",
    "has too little for the material given",
    "has enough for the material given",
    "has more than enough for the material given",
    *(
        f"has a {size} edge in control of the {part}"
        for part in ("centre", "kingside", "queenside")
        for size in ("slight", "moderate", "decisive")
    ),
    "has an exposed back rank",
    "has a well guarded back rank",
    "has a badly protected king",
    "has a well protected king",
    "has a badly placed king",
    "has a well placed king",
    "has a very weak pawn structure",
    "has a rather weak pawn structure",
    "has a rather strong pawn structure",
    "has a very strong pawn structure",
    *(f"has {how} placed {units}" for units in ("knights", "bishops", "rooks") for how in ("badly", "well")),
    "has a badly placed queen",
    "has a well placed queen",
    "has badly coordinated pieces",
    "has well coordinated pieces",
    *(
        f"played the {phase} {how}"
        for phase in ("opening", "middlegame", "ending")
        for how in ("very badly", "badly", "well", "very well")
    ),
    "has slight counterplay",
    "has moderate counterplay",
    "has decisive counterplay",
    "is fairly short of time",
    "is in severe time trouble",
)


def _scope(number: int) -> NagScope:
    if number == 0:
        return NagScope.NONE
    if number <= 9:
        return NagScope.MOVE
    if 106 <= number <= 129:
        return NagScope.GAME
    return NagScope.CLOCK if number >= 136 else NagScope.POSITION


def _table() -> tuple[Nag, ...]:
    rows = [Nag(number, *row, _scope(number)) for number, row in _SINGLE.items()]
    for predicate in _PAIRED:
        signs = _PAIRED_SIGNS.get(len(rows), (("", ""), ("", "")))
        for side, (glyph, ascii_form) in zip(("White", "Black"), signs, strict=True):
            number = len(rows)
            rows.append(Nag(number, glyph, ascii_form, f"{side} {predicate}", _scope(number)))
    return tuple(rows)


NAGS = _table()
"""The table; index is the number."""


def nag_of_sign(sign: str) -> Nag | None:
    """The glyph that a sign or its typewriter form stands for; `None` for no sign and for one that may mean two.

    >>> str(nag_of_sign("!?")), str(nag_of_sign("+/-")), nag_of_sign("=∞")
    ('$5', '$16', None)
    """
    found = [nag for nag in NAGS if sign and sign in (nag.glyph, nag.ascii)]
    return found[0] if len(found) == 1 else None
