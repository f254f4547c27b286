"""How a claim stands before the evidence, and the figures that say so."""

from __future__ import annotations

import enum

import msgspec

__all__ = ["Figure", "Standing"]


class Standing(enum.Enum):
    """The decision of methods.md 13; the value is the word of the glossary."""

    HOLDS = "holds"
    CONTRADICTED = "contradicted"
    UNDECIDED = "undecided"
    STALE = "stale"
    NOT_CHECKABLE = "not checkable"


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """What one voice gives for a claim: `value` in points (E for White, or points conceded by the mover) ± `noise`.

    `nodes` and `date` (ISO, empty where one is unknown) are the least and the oldest of the verdicts it rests on.
    """

    voice: str
    value: float
    noise: float
    nodes: int
    date: str
