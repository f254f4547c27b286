"""Structures: which named pawn skeleton of the literature a position has, and whose it is (methods.md 8).

The skeletons are data (`structures.toml`); the core compiles and recognises them.
"""

from __future__ import annotations

import enum
import functools
import tomllib
from importlib import resources
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.board import Position

__all__ = [
    "COMMON_PRACTICE",
    "NO_STRUCTURE",
    "Catalogue",
    "Holder",
    "Recognised",
    "Structure",
    "catalogue",
    "structure_code",
    "structure_codes",
    "structure_of",
]

NO_STRUCTURE: Final = 0xFFFF
"""The code of a position whose skeleton has no name here."""

COMMON_PRACTICE: Final = "common practice"


class Holder(enum.Enum):
    """Whose structure it is; `BOTH` where it is symmetrical or each side has it."""

    WHITE = "white"
    BLACK = "black"
    BOTH = "both"


_HOLDERS = tuple(Holder)


class Structure(msgspec.Struct, frozen=True, kw_only=True):
    """A named skeleton: `side` is whose it is in the colours of `white` and `black`, `reversed_name` what it is called
    with colours reversed, `sources` where the literature treats it (author, title, year)."""  # noqa: D205, D209

    name: str
    reversed_name: str
    side: Holder
    white: str
    black: str
    sources: tuple[str, ...]


class Recognised(msgspec.Struct, frozen=True):
    """A structure on the board, and whose it is there."""

    structure: Structure
    holder: Holder

    @property
    def name(self) -> str:
        """What it is called in these colours."""
        same = self.holder in (self.structure.side, Holder.BOTH)
        return self.structure.name if same else self.structure.reversed_name

    @property
    def words(self) -> str:
        """Name and side: `Carlsbad (White's)`; the name alone where both sides have it."""
        whose = "" if self.holder is Holder.BOTH else f" ({self.holder.value.capitalize()}'s)"
        return self.name + whose

    def is_called(self, text: str) -> bool:
        """Whether a text is its name, alone or with the side, whatever the case of its letters and the apostrophe.

        A symmetrical structure is each side's.
        """
        sides = (Holder.WHITE, Holder.BLACK) if self.holder is Holder.BOTH else (self.holder,)
        called = {self.name, *(f"{self.name} ({side.value}'s)" for side in sides)}
        return text.replace("’", "'").casefold() in {one.casefold() for one in called}


class Catalogue:
    """All structures, and the compiled predicates."""

    def __init__(self, structures: tuple[Structure, ...]) -> None:
        self.structures = structures
        self.core = _core.StructureCatalogue(
            [(one.white, one.black, one.side is Holder.WHITE) for one in structures]
        )

    def recognise(self, position: Position) -> Recognised | None:
        """The structure of a position, `None` where its skeleton has no name."""
        found = self.core.recognise(position.core)
        return None if found is None else Recognised(self.structures[found[0]], _HOLDERS[found[1]])

    def of_code(self, code: int) -> Recognised | None:
        """What a code of `structure_codes` says."""
        if code == NO_STRUCTURE:
            return None
        return Recognised(self.structures[code // 3], _HOLDERS[code % 3])

    def names(self) -> tuple[str, ...]:
        """What structures are called, in either colours."""
        return tuple(name for one in self.structures for name in dict.fromkeys((one.name, one.reversed_name)))


@functools.cache
def catalogue() -> Catalogue:
    """The structures that Variorum knows."""
    data = tomllib.loads(resources.files(__package__).joinpath("structures.toml").read_text("utf-8"))
    works = data["works"]
    return Catalogue(
        tuple(
            Structure(
                name=one["name"],
                reversed_name=one.get("reversed", one["name"]),
                side=Holder(one["side"]),
                white=one["white"],
                black=one["black"],
                sources=tuple(works[key] for key in one.get("source", ())) or (COMMON_PRACTICE,),
            )
            for one in data["structure"]
        )
    )


def structure_of(position: Position) -> Recognised | None:
    """The structure of a position, `None` where its skeleton has no name.

    >>> line = "r1bqk2r/pp2bppp/2n1p3/3n4/3P4/2NB1N2/PP3PPP/R1BQ1RK1 b kq - 0 1"
    >>> structure_of(Position.from_fen(line)).words
    "isolated queen's pawn (White's)"
    """
    return catalogue().recognise(position)


def structure_code(position: Position) -> int:
    """The code of a position."""
    found = catalogue().core.recognise(position.core)
    return NO_STRUCTURE if found is None else 3 * found[0] + found[1]


def structure_codes(packed: NDArray[np.uint8]) -> NDArray[np.uint16]:
    """The code of each packed position, (n, 32) bytes: `Catalogue.of_code` reads it."""
    return catalogue().core.codes(np.ascontiguousarray(packed).reshape(-1))
