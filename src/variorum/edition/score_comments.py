"""Scores that a source tells in the comments of its moves, read by the pattern of its `[[sources]]` table."""

from __future__ import annotations

from typing import Self

import msgspec

from variorum import _core
from variorum.base import InputError
from variorum.board import Score

__all__ = ["ScoreNote", "ScorePattern"]


class ScoreNote(msgspec.Struct, frozen=True):
    """What a comment tells. The score is seen as it was written: by White or by the mover, as the source's rule says."""

    score: Score
    depth: int | None
    seconds: float | None


class ScorePattern:
    """A compiled pattern. Whatever the pattern, reading takes time in proportion to the comment.

    >>> ScorePattern.compile(r"(?P<score>[+-][0-9.]+)/(?P<depth>[0-9]+)").read("+0.36/18 a quiet move").depth
    18
    """

    def __init__(self, compiled: _core.ScorePattern) -> None:
        """Wrap a pattern of the core. Use `compile`."""
        self._compiled = compiled

    @classmethod
    def compile(cls, pattern: str) -> Self:
        """The pattern of a text.

        Raises:
            InputError: It is no regular expression, or its groups are not `score` and, if wanted, `depth`, `time`.
        """
        try:
            return cls(_core.ScorePattern(pattern))
        except ValueError as error:
            raise InputError(str(error)) from None

    def read(self, comment: str) -> ScoreNote | None:
        """What the start of a comment tells, `None` if it is no score."""
        found = self._compiled.read(comment)
        if found is None:
            return None
        cp, mate, depth, seconds = found
        return ScoreNote(Score(cp=cp, mate=mate), depth, seconds)
