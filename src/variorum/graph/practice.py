"""What results are worth as evidence: mean score with its interval, and the score adjusted for ratings (methods.md 2)."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Sequence
from statistics import NormalDist

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum.store import RatingBalance, Tally

__all__ = [
    "FEWEST_GAMES",
    "PracticeScore",
    "clustered_score",
    "design_effect",
    "practice_interval",
    "practice_score",
    "rating_adjusted",
]

FEWEST_GAMES = 5
"""Under so many games with a result only their number is shown."""

_PRIOR = 0.5
_TAIL = 0.025
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)


class PracticeScore(msgspec.Struct, frozen=True):
    """Mean score for White in points of 100 with its 95 % interval."""

    mean: float
    low: float
    high: float


def practice_score(tally: Tally, fewest: int = FEWEST_GAMES) -> PracticeScore | None:
    """The score of games with a result; `None` under `fewest` of them."""
    games = tally.wins + tally.draws + tally.losses
    if games < fewest:
        return None
    low, high = practice_interval(tally.wins, tally.draws, tally.losses)
    return PracticeScore(100.0 * (tally.wins + tally.draws / 2) / games, low, high)


def clustered_score(clusters: Sequence[Tally], fewest: int = FEWEST_GAMES) -> PracticeScore | None:
    """The score of games that came in clusters of like games; `None` under `fewest` games with a result.

    The interval is that of so many games as they are worth: their number over the design effect. Where each game is a
    cluster of its own it is the interval of practice.
    """
    wins, draws, losses = (
        sum(getattr(one, name) for one in clusters) for name in ("wins", "draws", "losses")
    )
    games = wins + draws + losses
    if games < fewest:
        return None
    effect = design_effect(clusters)
    low, high = practice_interval(wins / effect, draws / effect, losses / effect)
    return PracticeScore(100.0 * (wins + draws / 2) / games, low, high)


def design_effect(clusters: Sequence[Tally]) -> float:
    """By how much the variance of the mean result grows since games came in clusters; at least 1.

    The variance by clusters over that of as many independent games (L. Kish, "Survey Sampling", 1965; from memory), at
    most what it is where all games of a cluster end alike, and just that where the results tell nothing, being equal.
    """
    table = np.array([(one.wins, one.draws, one.losses) for one in clusters], np.float64).reshape(-1, 3)
    sizes = table.sum(axis=1)
    table, sizes = table[sizes > 0], sizes[sizes > 0]
    games, points = sizes.sum(), np.array([1.0, 0.5, 0.0])
    if games < 2:
        return 1.0
    greatest = float((sizes**2).sum() / games)
    mean = float((table @ points).sum() / games)
    alone = float((table.sum(axis=0) * (points - mean) ** 2).sum() / (games - 1) / games)
    if alone == 0 or len(sizes) == 1:
        return greatest
    sums = table @ points - sizes * mean
    together = len(sizes) / (len(sizes) - 1) * float((sums**2).sum()) / float(games) ** 2
    return min(max(1.0, together / alone), greatest)


@functools.lru_cache(maxsize=20_000)
def practice_interval(wins: float, draws: float, losses: float) -> tuple[float, float]:
    """95 % interval (equal tails) of the mean score, 0 to 100, under a Dirichlet(½, ½, ½) prior.

    Where all games were won, the upper end is 100, where all were lost, the lower end is 0: else the observed mean
    would lie outside, as L. D. Brown, T. T. Cai and A. DasGupta say of the binomial case ("Interval Estimation for a
    Binomial Proportion", Statistical Science 16, 2001, section 4.1.2).

    Raises:
        ValueError: A count is negative.

    >>> [round(end, 1) for end in practice_interval(5, 0, 0)], [round(end, 1) for end in practice_interval(40, 30, 30)]
    ([60.8, 100.0], [46.8, 62.9])
    """
    if min(wins, draws, losses) < 0:
        raise ValueError("counts are not negative")
    weights = (wins + _PRIOR, draws + _PRIOR, losses + _PRIOR)
    low = 0.0 if losses and not wins and not draws else 100.0 * score_quantile(_TAIL, weights)
    high = 100.0 if wins and not draws and not losses else 100.0 * score_quantile(1.0 - _TAIL, weights)
    return low, high


def score_quantile(probability: float, weights: tuple[float, float, float]) -> float:
    """Quantile of w + d/2, 0 to 1, where (w, d, l) has the Dirichlet distribution of these weights."""
    from scipy.optimize import brentq

    def beyond(score: float) -> float:
        return score_cdf(score, weights) - probability

    return _by_secants(beyond, probability, weights) or float(brentq(beyond, 0.0, 1.0, xtol=1e-7))


def _by_secants(
    beyond: Callable[[float], float], probability: float, weights: tuple[float, float, float]
) -> float | None:
    """The quantile from the guess of E. A. Cornish and R. A. Fisher (1938; from memory) in a few steps; `None` where that fails.

    The moments are those of the mean of a Dirichlet distribution: variance σ²/(A + 1), third moment 2 μ₃/((A + 1)(A + 2)),
    with σ² and μ₃ of the results by weight, and A the sum of the weights.
    """
    total = sum(weights)
    points = (1.0, 0.5, 0.0)
    mean = sum(weight * point for weight, point in zip(weights, points, strict=True)) / total
    second, third = (
        sum(weight * (point - mean) ** power for weight, point in zip(weights, points, strict=True)) / total
        for power in (2, 3)
    )
    spread = math.sqrt(second / (total + 1.0))
    skew = 2.0 * third / ((total + 1.0) * (total + 2.0)) / spread**3
    normal = NormalDist()
    z = normal.inv_cdf(probability)
    here = mean + spread * (z + (z * z - 1.0) * skew / 6.0)
    slope = normal.pdf(z) / spread
    before = None
    for _ in range(8):
        if not 0.0 < here < 1.0:
            return None
        miss = beyond(here)
        if before is not None and before[0] != here:
            slope = (miss - before[1]) / (here - before[0])
        if slope <= 0.0:
            return None
        before, here = (here, miss), here - miss / slope
        if abs(here - before[0]) < 1e-7:
            return here if 0.0 < here < 1.0 else None
    return None


def score_cdf(score: float, weights: tuple[float, float, float]) -> float:
    """P(w + d/2 ≤ score) for a Dirichlet distribution, by quadrature.

    w has Beta(α, β + γ), and d = (1 − w)·b with b independent, Beta(β, γ); hence the probability is the integral over w
    of P(b ≤ 2 (score − w)/(1 − w)).
    """
    from scipy.special import betainc, betaincinv

    if score <= 0.0 or score >= 1.0:
        return float(score > 0.0)
    alpha, beta, gamma = weights
    # In v = P(W ≤ w) the density of w is gone; below w = 2·score − 1 the inner probability is 1.
    certain = float(betainc(alpha, beta + gamma, max(0.0, 2.0 * score - 1.0)))
    reach = float(betainc(alpha, beta + gamma, score))
    if reach - certain < 1e-12:
        return certain  # far in a tail, where the inverse below is not defined; nothing comes of it
    # A change of variable with flat ends takes away the roots at both ends of the integrand.
    unit = (_NODES + 1.0) / 2.0
    stretched = unit**3 * (10.0 - 15.0 * unit + 6.0 * unit**2)
    slope = 30.0 * unit**2 * (1.0 - unit) ** 2
    won: NDArray[np.float64] = betaincinv(alpha, beta + gamma, certain + (reach - certain) * stretched)
    share = np.clip(2.0 * (score - won) / np.maximum(1.0 - won, 1e-300), 0.0, 1.0)
    inner = betainc(beta, gamma, share)
    return certain + (reach - certain) * float(np.sum(_WEIGHTS / 2.0 * slope * inner))


def rating_adjusted(here: RatingBalance, everywhere: RatingBalance) -> float | None:
    """Results against expectation, in points, less the same over all games of the roots; `None` under `FEWEST_GAMES`."""
    if here.games < FEWEST_GAMES:
        return None
    return here.mean - everywhere.mean
