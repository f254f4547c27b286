"""The decision rule: what intervals of the voices mean for a claim's band (methods.md 13)."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from variorum.claims.standing import Standing
from variorum.voices.noise import INTERVAL

__all__ = ["Estimate", "decide"]


class Estimate(msgspec.Struct, frozen=True):
    """A figure in points with its standard deviation `sigma`."""

    value: float
    sigma: float

    @property
    def half_width(self) -> float:
        """What is printed after `±`: 1.96 σ."""
        return INTERVAL * self.sigma


def decide(estimates: Sequence[Estimate], low: float, high: float) -> Standing:
    """How a claim stands that a figure lies from `low` to `high`, one estimate a voice.

    It holds where the 95 % interval of every voice lies in the band widened by its σ; it is contradicted where every
    interval lies outside the band; else, or where nobody spoke, it is undecided. A band that reaches 0 or 100 is open
    there: a sure win is not less winning because its interval goes beyond.

    >>> decide([Estimate(57.0, 2.0)], 55.0, 63.0), decide([Estimate(50.0, 2.0)], 55.0, 63.0)
    (<Standing.HOLDS: 'holds'>, <Standing.CONTRADICTED: 'contradicted'>)
    """
    if not estimates:
        return Standing.UNDECIDED
    low, high = (-math.inf if low <= 0.0 else low), (math.inf if high >= 100.0 else high)
    ends = [(one.value - one.half_width, one.value + one.half_width, one.sigma) for one in estimates]
    if all(low - sigma <= least and most <= high + sigma for least, most, sigma in ends):
        return Standing.HOLDS
    if all(most < low or least > high for least, most, _ in ends):
        return Standing.CONTRADICTED
    return Standing.UNDECIDED
