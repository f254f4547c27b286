"""What a voice's scores come to: expected score, and chances of a win, a draw and a loss (methods.md 2)."""

from __future__ import annotations

from variorum.board import DRAWS, Score, Verdict
from variorum.board.score import shares
from variorum.voices.resident import RESIDENT

__all__ = ["expected_of", "shares_of"]


def expected_of(verdict: Verdict, score: Score | None = None) -> float:
    """E for White, 0 to 100, of a score that a verdict gives; by default of its first line."""
    return (score or verdict.lines[0].score).expected()


def shares_of(verdict: Verdict) -> tuple[float, float, float] | None:
    """Chances that White wins, draws and loses, each 0 to 1, by the first line of a verdict; they make up its E.

    What the voice said itself, else, for the resident, by the model fitted to its games. `None` for a mate, and for
    another voice that says nothing: how often its games are drawn is not known.
    """
    score = verdict.lines[0].score
    if score.wdl is not None:
        wins, draws, losses = score.wdl
        return wins / 1000, draws / 1000, losses / 1000
    if score.mate is not None or verdict.voice != RESIDENT:
        return None
    return shares(expected_of(verdict), DRAWS)
