"""Faults in an author's text, as data: loading returns what it could read and these beside it."""

from __future__ import annotations

import enum
from pathlib import Path

import msgspec

__all__ = ["Diagnostic", "Severity"]


class Severity(enum.Enum):
    """How much a diagnostic weighs: an error leaves something out of the result, a warning does not."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


class Diagnostic(msgspec.Struct, frozen=True, kw_only=True):
    """One fault in a text of the author, with its place.

    `code` is stable and listed in `docs/reference/diagnostics.md`. `line` and `column` count from 1, in characters.
    `game` counts games of the file from 1, `ply` half-moves of the line from 1.
    """

    code: str
    severity: Severity
    path: Path
    message: str
    line: int | None = None
    column: int | None = None
    hint: str | None = None
    game: int | None = None
    ply: int | None = None

    def __str__(self) -> str:
        place = str(self.path)
        if self.line is not None:
            place += f":{self.line}"
            if self.column is not None:
                place += f":{self.column}"
        text = f"{place}: {self.code} {self.message}"
        return f"{text} ({self.hint})" if self.hint else text
