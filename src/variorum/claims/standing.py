"""How a claim stands before the evidence."""

from __future__ import annotations

import enum

__all__ = ["Standing"]


class Standing(enum.Enum):
    """The decision of methods.md 13; the value is the word of the glossary."""

    HOLDS = "holds"
    CONTRADICTED = "contradicted"
    UNDECIDED = "undecided"
    STALE = "stale"
    NOT_CHECKABLE = "not checkable"
