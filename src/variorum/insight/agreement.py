"""Where voices disagree, and where their lines part (docs/methods.md 2, Disputes)."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable
from typing import Final, Literal

import msgspec
import numpy as np

from variorum.board import Line, Move, Position, Verdict
from variorum.voices.noise import noise_of
from variorum.voices.scale import expected_of

__all__ = ["SHARED_POSITIONS", "Dispute", "disputes", "fit_scale"]

SHARED_POSITIONS: Final = 100
"""So many positions must two voices share before their scores are compared."""

Scale = Callable[[float], float]


class Dispute(msgspec.Struct, frozen=True, kw_only=True):
    """Two voices on one position who do not agree.

    `about` is `score` where their expected scores, brought to one scale, differ by more than the noise of both, and
    `move` where they would play differently. `gap` is the difference in points of E: of the scores, or of what a voice
    says between its own move and the other's (0 where it did not look at the other's). `noise` is 1.96 σ of that
    difference. `together` is the line both give before they part, empty where they part at once.
    """

    epd: str
    voices: tuple[str, str]
    about: Literal["score", "move"]
    gap: float
    noise: float
    expected: tuple[float, float]
    together: str
    parted: str
    moves: tuple[str, str]

    @property
    def weight(self) -> float:
        """By how much the gap exceeds what noise explains, in points; what disputes are ranked by."""
        return self.gap - self.noise


def fit_scale(pairs: Iterable[tuple[float, float]]) -> Scale | None:
    """The monotone curve that brings the second voice's E to the first's: isotonic least squares between shared positions.

    Args:
        pairs: E of the first and of the second voice on each position that both judged.

    Returns:
        A function of the second voice's E, constant beyond the scores that were seen; `None` for fewer than
        `SHARED_POSITIONS` pairs. Source: Barlow, Bartholomew, Bremner and Brunk, Statistical Inference under Order
        Restrictions (1972), the pool-adjacent-violators solution, as `scipy.optimize.isotonic_regression` gives it.
    """
    both = np.array(list(pairs), np.float64).reshape(-1, 2)
    if len(both) < SHARED_POSITIONS:
        return None
    from scipy.optimize import isotonic_regression

    seen, where = np.unique(both[:, 1], return_inverse=True)
    counts = np.bincount(where)
    means = np.bincount(where, weights=both[:, 0]) / counts
    fitted = isotonic_regression(means, weights=counts.astype(np.float64)).x
    return lambda expected: float(np.interp(expected, seen, fitted))


def disputes(verdicts: Iterable[Verdict]) -> list[Dispute]:
    """Every dispute between any two voices, the heaviest first.

    Args:
        verdicts: One of each voice on a position: the deepest.
    """
    by_position: dict[str, list[Verdict]] = {}
    for verdict in verdicts:
        by_position.setdefault(verdict.epd, []).append(verdict)
    shared = [sorted(said, key=lambda one: one.voice) for said in by_position.values() if len(said) > 1]
    pairs: dict[tuple[str, str], list[tuple[Verdict, Verdict]]] = {}
    for said in shared:
        for one, other in itertools.combinations(said, 2):
            pairs.setdefault((one.voice, other.voice), []).append((one, other))
    found: list[Dispute] = []
    for both in pairs.values():
        scale = fit_scale((_expected(one), _expected(other)) for one, other in both)
        found += [dispute for one, other in both if (dispute := _dispute(one, other, scale)) is not None]
    return sorted(found, key=lambda dispute: (-dispute.weight, dispute.epd, dispute.voices))


def _dispute(one: Verdict, other: Verdict, scale: Scale | None) -> Dispute | None:
    expected = (_expected(one), _expected(other))
    half = 1.96 * math.hypot(noise_of(one.nodes, expected[0]), noise_of(other.nodes, expected[1]))
    together, parted, moves = _parting(one, other)
    about: Literal["score", "move"]
    if scale is not None and abs(expected[0] - scale(expected[1])) > half:
        about, gap = "score", abs(expected[0] - scale(expected[1]))
    elif one.lines[0].moves[0] != other.lines[0].moves[0]:
        about = "move"
        gap = max(_concession(one, other.lines[0].moves[0]), _concession(other, one.lines[0].moves[0]))
    else:
        return None
    return Dispute(
        epd=one.epd,
        voices=(one.voice, other.voice),
        about=about,
        gap=gap,
        noise=half,
        expected=expected,
        together=together,
        parted=parted,
        moves=moves,
    )


def _expected(verdict: Verdict) -> float:
    return expected_of(verdict)


def _concession(verdict: Verdict, move: str) -> float:
    """What a voice says another's move gives away; 0 where it did not look at it."""
    scored = next((expected_of(verdict, line.score) for line in verdict.lines if line.moves[0] == move), None)
    return 0.0 if scored is None else abs(_expected(verdict) - scored)


def _parting(one: Verdict, other: Verdict) -> tuple[str, str, tuple[str, str]]:
    """The moves that both first lines share, the position behind them, and how each goes on (empty at a line's end)."""
    start = position = Position.from_fen(one.epd)
    common: list[Move] = []
    mine, theirs = one.lines[0].moves, other.lines[0].moves
    for first, second in zip(mine, theirs, strict=False):
        if first != second:
            break
        common.append(Move(first))
        position = position.play(common[-1])
    at = len(common)
    next_moves = tuple(position.san(Move(line[at])) if at < len(line) else "" for line in (mine, theirs))
    return Line(start, tuple(common)).san(numbers=False), position.epd, (next_moves[0], next_moves[1])
