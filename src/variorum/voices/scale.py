"""What a voice's scores are worth: the curve fitted to its own games, or else the default one (methods.md 2)."""

from __future__ import annotations

from typing import Final

import msgspec

from variorum.board import DEFAULT_SLOPE, Score, Verdict
from variorum.board.score import shares

__all__ = ["expected_of", "shares_of", "slope_of"]


class _Fit(msgspec.Struct, frozen=True):
    """Centipawns that multiply the odds by ten, and the share of draws between equals."""

    slope: float
    draws: float


_FITTED: Final[dict[str, _Fit]] = {}
"""By voice. The resident's fit (docs/reference/expected-score.md) is not among them yet: thresholds and the noise table still stand on
the default slope and have to change with it.
"""


def slope_of(voice: str) -> float:
    """The slope of a voice's centipawns."""
    return _FITTED[voice].slope if voice in _FITTED else DEFAULT_SLOPE


def expected_of(verdict: Verdict, score: Score | None = None) -> float:
    """E for White, 0 to 100, of a score that a verdict gives; by default of its first line."""
    return (score or verdict.lines[0].score).expected(slope_of(verdict.voice))


def shares_of(verdict: Verdict) -> tuple[float, float, float] | None:
    """Chances that White wins, draws and loses, each 0 to 1, by the first line of a verdict; they make up its E.

    What the voice said itself, else by the model fitted to it. `None` for a mate, and where neither is there.
    """
    score = verdict.lines[0].score
    if score.wdl is not None:
        wins, draws, losses = score.wdl
        return wins / 1000, draws / 1000, losses / 1000
    fitted = _FITTED.get(verdict.voice)
    if score.mate is not None or fitted is None:
        return None
    return shares(expected_of(verdict), fitted.draws)
