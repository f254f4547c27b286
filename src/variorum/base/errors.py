"""One family of errors for what the program could not do.

Faults in an author's text are not errors but `Diagnostic` values (see `variorum.base.diagnostics`).

    VariorumError
    ├── UsageError        the call makes no sense as given
    ├── InputError        something given (file, move, FEN, place) cannot be used
    ├── StoreError        the edition's store cannot be used
    │   ├── StoreBusyError      another process is writing
    │   └── StoreVersionError   made by an older or newer Variorum
    ├── VoiceError        a voice cannot be asked or did not answer
    ├── Interrupted       the user stopped the work; what was finished is kept
    └── Defect            the program is wrong
"""

from __future__ import annotations

from pathlib import Path

__all__ = [
    "Defect",
    "InputError",
    "Interrupted",
    "StoreBusyError",
    "StoreError",
    "StoreVersionError",
    "UsageError",
    "VariorumError",
    "VoiceError",
]


class VariorumError(Exception):
    """Something the program was asked for and could not do.

    Args:
        message: What happened, as a sentence without a full stop.
        remedy: What to do about it, or `None` where nothing can be said.
        path: The file concerned.
        line: Its line, from 1.
        column: The column in that line, from 1, in characters.
        game: The game in the file, from 1.
        ply: The half-move in the line, from 1.
    """

    exit_code = 2
    """What the command line returns for it."""

    def __init__(
        self,
        message: str,
        *,
        remedy: str | None = None,
        path: Path | str | None = None,
        line: int | None = None,
        column: int | None = None,
        game: int | None = None,
        ply: int | None = None,
    ) -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy
        self.path = None if path is None else Path(path)
        self.line = line
        self.column = column
        self.game = game
        self.ply = ply

    @property
    def where(self) -> str:
        """`path:line:column, game G, ply P`, as far as known; empty when nothing is."""
        place = "" if self.path is None else str(self.path)
        for number in (self.line, self.column):
            if number is None:
                break
            place += f":{number}" if place else f"line {number}"
        parts = [place] if place else []
        if self.game is not None:
            parts.append(f"game {self.game}")
        if self.ply is not None:
            parts.append(f"ply {self.ply}")
        return ", ".join(parts)

    def __str__(self) -> str:
        text = f"{self.where}: {self.message}" if self.where else self.message
        return f"{text}; {self.remedy}" if self.remedy else text


class UsageError(VariorumError):
    """The call makes no sense as given."""


class InputError(VariorumError):
    """Something given (a file, a move, a FEN, a place) cannot be used."""


class StoreError(VariorumError):
    """The edition's store cannot be used."""


class StoreBusyError(StoreError):
    """Another process is writing to the store."""


class StoreVersionError(StoreError):
    """The store was made by an older or newer Variorum."""


class VoiceError(VariorumError):
    """A voice cannot be asked, or did not answer as it should."""


class Interrupted(VariorumError):  # noqa: N818  (not a fault)
    """The user stopped the work; what was finished is kept."""

    exit_code = 130
    """The custom of shells for Ctrl-C: 128 + SIGINT."""


class Defect(VariorumError):  # noqa: N818  (the word of `docs`)
    """The program is wrong: something happened that nobody thought of."""

    exit_code = 3
