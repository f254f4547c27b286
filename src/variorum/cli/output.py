"""How results are printed: as plain text for people, or as JSON by a documented schema."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import PurePath
from typing import Any, TypeVar

import msgspec
import typer

from variorum.base import Diagnostic, Severity

__all__ = [
    "columns",
    "exit_for",
    "exit_if_faulty",
    "in_letters",
    "print_diagnostics",
    "schema_of",
    "show",
    "words_in_letters",
    "write_json",
]

R = TypeVar("R", bound=msgspec.Struct)

_PIECE_IN_MOVE = re.compile(r"(?<![A-Za-z])[KQRBN](?=[a-h]?[1-8]?x?[a-h][1-8])|(?<==)[QRBN]")


def show(result: R, as_text: Callable[[R], Iterable[str]], *, as_json: bool) -> None:
    """Print a result: the lines of `as_text(result)`, or with `as_json` the value itself."""
    if as_json:
        write_json(result)
        return
    for line in as_text(result):
        typer.echo(line.rstrip())


def write_json(result: msgspec.Struct) -> None:
    """Print a value as indented JSON, in UTF-8 whatever the terminal speaks."""
    text = msgspec.json.format(msgspec.json.encode(result, enc_hook=_encode), indent=2)
    sys.stdout.flush()
    sys.stdout.buffer.write(text + b"\n")
    sys.stdout.buffer.flush()


def schema_of(result_type: type[msgspec.Struct]) -> dict[str, Any]:
    """The JSON schema (draft 2020-12) of what `write_json` prints for this type."""
    return msgspec.json.schema(result_type, schema_hook=_schema)


def _encode(value: object) -> str:
    if isinstance(value, PurePath):
        return str(value)
    raise NotImplementedError(f"{type(value).__name__} has no form in JSON")


def _schema(kind: type) -> dict[str, Any]:
    if issubclass(kind, PurePath):
        return {"type": "string", "description": "a path of this system"}
    raise NotImplementedError(f"{kind.__name__} has no form in JSON")


def print_diagnostics(diagnostics: Iterable[Diagnostic]) -> None:
    """Print each as `path:line:column: code message` to standard error, notes left out."""
    for diagnostic in diagnostics:
        if diagnostic.severity is not Severity.NOTE:
            sys.stderr.write(f"{diagnostic}\n")


def exit_if_faulty(diagnostics: Iterable[Diagnostic]) -> None:
    """Leave with exit code 2 where an error left something of the author's texts out of what was printed.

    Raises:
        typer.Exit: There is such an error.
    """
    exit_for(sum(diagnostic.severity is Severity.ERROR for diagnostic in diagnostics))


def exit_for(errors: int) -> None:
    """As `exit_if_faulty`, for so many errors."""
    if errors:
        what = "1 error in the texts: it is" if errors == 1 else f"{errors} errors in the texts: they are"
        sys.stdout.flush()
        sys.stderr.write(f"{what} named above, and what was read without them stands.\n")
        raise typer.Exit(2)


def columns(rows: Sequence[Sequence[str]], *, right: Iterable[int] = (), gap: str = "  ") -> list[str]:
    """Rows set in columns, two spaces apart; the columns numbered in `right` (from 0) are set to the right.

    Lines are never cut or wrapped: what is printed into a file or a pipe is complete.
    """
    from rich.cells import cell_len

    to_right = set(right)
    widths = [max(cell_len(cell) for cell in column) for column in zip(*rows, strict=True)]

    def cell(text: str, column: int) -> str:
        space = " " * (widths[column] - cell_len(text))
        return space + text if column in to_right else text + space

    return [gap.join(cell(text, column) for column, text in enumerate(row)).rstrip() for row in rows]


def in_letters(san: str, pieces: str) -> str:
    """Moves in SAN with the user's letters for king, queen, rook, bishop and knight, for print only.

    >>> in_letters("1.Nf3 Qxd5 2.O-O e1=Q+", "KDTLS")
    '1.Sf3 Dxd5 2.O-O e1=D+'
    """
    return san.translate(str.maketrans("KQRBN", pieces))


def words_in_letters(text: str, pieces: str) -> str:
    """A sentence with the moves in it in the user's letters; its words keep theirs.

    >>> words_in_letters("Black has lost a move with 3...Nbd7 (after Rxe5+).", "KDTLS")
    'Black has lost a move with 3...Sbd7 (after Txe5+).'
    """
    return _PIECE_IN_MOVE.sub(lambda letter: in_letters(letter[0], pieces), text)
