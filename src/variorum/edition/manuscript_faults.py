"""The faults of a manuscript in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

from variorum import _core
from variorum.base import Diagnostic, Severity
from variorum.edition.plain_text import PlainText

__all__ = ["MESSAGES", "diagnostics_of"]

_LONGEST = 60

MESSAGES: Final[Mapping[str, tuple[str, str | None]]] = {
    "illegal-move": ("'{text}' is not legal here; the rest of the line is not read", None),
    "ambiguous-move": (
        "'{text}' may mean {detail}; the rest of the line is not read",
        "say which unit moves",
    ),
    "unreadable-move": (
        "'{text}' cannot be read as a move; the rest of the line is not read",
        "units are K, Q, R, B, N",
    ),
    "stray-text": ("'{text}' means nothing here", "put words in braces"),
    "unclosed-comment": (
        "the comment is never closed; {detail} bytes are taken as its text",
        "close it with a brace",
    ),
    "unclosed-variation": ("parentheses that are never closed: {detail}, here the outermost", None),
    "unopened-variation": ("a parenthesis is closed that was never opened", None),
    "variation-without-move": ("there is no move before this that a variation could replace", None),
    "unclosed-tag": ("the tag is not closed", 'tags are written [Name "value"]'),
    "malformed-tag": ("'{text}' is no tag", 'tags are written [Name "value"]'),
    "bad-start": ("the start position cannot be used: {detail}", None),
    "unknown-variant": ("the rules of this variant are not known here; the game is read as chess", None),
    "fen-without-setup": ("a start position is given without SetUp", 'add [SetUp "1"]'),
    "setup-without-fen": ("SetUp announces a start position, and the tag FEN is missing", None),
    "duplicate-tag": ("the tag is given twice; the first stands", None),
    "unescaped-quote": ("a quote or backslash in the tag is not escaped", "put a backslash before it"),
    "missing-tags": ("the game has no tags", None),
    "missing-termination": (
        "the game before this has no termination marker",
        "end it with 1-0, 0-1, 1/2-1/2 or *",
    ),
    "non-standard-termination": ("'{text}' is no termination marker of the standard", None),
    "result-mismatch": ("the game ends with {text}, its tag Result says '{detail}'", None),
    "result-inside-variation": ("'{text}' inside a variation ends nothing", None),
    "text-after-result": ("text behind the termination marker belongs to no move", None),
    "wrong-move-number": ("'{text}' stands where move {detail} is due", None),
    "nag-out-of-range": ("{text} is above 255", None),
    "empty-variation": ("the variation holds no move", None),
    "reserved-token": ("'{text}' is reserved by the standard and passed over", None),
    "nul-bytes": ("the file holds NUL bytes: {detail}, here the first", "look for a sound copy"),
}
"""Message and hint of each code; `{text}` is what stands at the place."""


def diagnostics_of(columns: _core.ManuscriptColumns, text: PlainText, path: Path) -> Iterator[Diagnostic]:
    """The faults of a manuscript in the order of the text, as diagnostics."""
    kinds = _core.manuscript_faults()
    places = text.places(columns.fault_start.tolist())
    rows = zip(
        columns.fault_kind.tolist(),
        columns.fault_start.tolist(),
        columns.fault_end.tolist(),
        columns.fault_game.tolist(),
        columns.fault_ply.tolist(),
        columns.fault_detail,
        places,
        strict=True,
    )
    for kind, start, end, game, ply, detail, (line, column) in rows:
        code, leaves_out = kinds[kind]
        message, hint = MESSAGES[code]
        yield Diagnostic(
            code=code,
            severity=Severity.ERROR if leaves_out else Severity.WARNING,
            path=path,
            message=message.format(text=_shown(text, start, end), detail=detail),
            line=line,
            column=column,
            hint=hint,
            game=game or None,
            ply=ply or None,
        )


def _shown(text: PlainText, start: int, end: int) -> str:
    words = " ".join(text.text(start, min(end, start + 4 * _LONGEST)).split())
    return words if len(words) <= _LONGEST else words[: _LONGEST - 1] + "…"
