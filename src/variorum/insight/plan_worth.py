"""What counts of plans are worth: scores against like games, lift, and tests by cluster (methods.md 2 and 9)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum.board import Side
from variorum.graph.practice import practice_interval
from variorum.insight.plan_kinds import Plan
from variorum.insight.plans import GamePlans

__all__ = [
    "EQUAL",
    "LEVEL",
    "Lift",
    "PlanScore",
    "Share",
    "differing",
    "lift_of",
    "score_of",
    "share_of",
    "sum_of",
    "sure_of",
]

LEVEL: Final = 0.05
"""Of what is told as a difference, so large a part may be chance."""
EQUAL: Final = 6.0
"""Expected scores within so many points are equal; a setting, common practice, no source (methods.md 2, points and pawns)."""
_Z: Final = 1.959963984540054
_POINTS: Final = np.array([np.nan, 100.0, 0.0, 50.0])


class Share(msgspec.Struct, frozen=True):
    """In how many games, and in how many clusters of them, a plan was shown."""

    count: int
    games: int
    clusters_with: int
    clusters: int

    @property
    def rate(self) -> float:
        """The part of the games."""
        return self.count / self.games if self.games else 0.0


class PlanScore(msgspec.Struct, frozen=True, kw_only=True):
    """Score of a side (0 to 100) in games with a plan, and in games of equal E at that ply without it, with 95 % intervals.

    Only games with a like one count: `games` with the plan, `others` without it.
    """

    side: Side
    games: int
    mean: float
    low: float
    high: float
    others: int
    without: float
    difference: float
    difference_low: float
    difference_high: float


class Lift(msgspec.Struct, frozen=True):
    """How many times as often a plan is shown here as among siblings, with its 95 % interval."""

    ratio: float
    low: float
    high: float


def share_of(games: GamePlans, plan: Plan) -> Share:
    """How often a plan is shown."""
    return Share(games.count(plan), len(games), games.clusters_with(plan), games.cluster_count)


def sum_of(shares: Sequence[Share]) -> Share:
    """Several sets of games taken together."""
    return Share(*map(sum, zip(*map(msgspec.structs.astuple, shares), strict=True)))


def sure_of(chances: Sequence[float]) -> list[bool]:
    """Which of several tests count, when at most `LEVEL` of those that do may be chance.

    Y. Benjamini and Y. Hochberg, "Controlling the false discovery rate", Journal of the Royal Statistical Society B 57,
    1995.

    Args:
        chances: The p-value of each test.
    """
    from scipy.stats import false_discovery_control

    return (
        [bool(chance <= LEVEL) for chance in false_discovery_control(chances, method="bh")] if chances else []
    )


def differing(pairs: Sequence[tuple[Share, Share]]) -> list[bool]:
    """Which pairs of shares differ by more than chance: Fisher's exact test on clusters, with the correction of `sure_of`."""
    from scipy.stats import fisher_exact

    return sure_of(
        [
            float(
                fisher_exact(
                    [[share.clusters_with, share.clusters - share.clusters_with] for share in pair]
                ).pvalue
            )
            for pair in pairs
        ]
    )


def lift_of(here: Share, siblings: Share) -> Lift:
    """(k + ½)/(n + 1) here over the same among siblings, in clusters, with the interval of its logarithm.

    S. D. Walter, "The distribution of Levin's measure of attributable risk", Biometrika 62, 1975 (from memory).
    """
    logarithm, variance = 0.0, 0.0
    for sign, share in ((1, here), (-1, siblings)):
        shown, every = share.clusters_with + 0.5, share.clusters + 1.0
        logarithm += sign * math.log(shown / every)
        variance += 1 / shown - 1 / every
    half = _Z * math.sqrt(variance)
    return Lift(math.exp(logarithm), math.exp(logarithm - half), math.exp(logarithm + half))


def score_of(games: GamePlans, plan: Plan, side: Side, fewest: int) -> PlanScore | None:
    """What a side scored with a plan, against games of equal E at that ply that never show it.

    To a game that shows the plan are set those that were still going at that ply, stood within `EQUAL` points of it before
    the move, and do not show it; all of them together weigh as much as the game. Both means have the interval of methods.md 2
    on as many games as there are independent clusters' worth of weight; that of their difference is by G. Zou and A. Donner,
    "Construction of confidence limits about effect measures", Statistics in Medicine 27, 2008 (from memory).

    Returns:
        `None` where either side of the comparison is worth fewer than `fewest` games.
    """
    points = _POINTS[games.results] if side is Side.WHITE else 100.0 - _POINTS[games.results]
    finished = games.results > 0
    if games.expected is not None:
        finished &= np.isfinite(games.expected[:, 0])
    shows = games.shows(plan)
    plies = games.first.get(plan, np.zeros(len(games), np.uint8)).astype(np.int64)
    own, other = np.zeros(len(games)), np.zeros(len(games))
    for ply in np.unique(plies[shows]).tolist():
        with_it = np.flatnonzero(shows & finished & (plies == ply))
        without = np.flatnonzero(~shows & finished & (games.lengths >= ply))
        if not len(without):
            continue
        if games.expected is None:
            low, high = np.zeros(len(with_it), np.int64), np.full(len(with_it), len(without))
        else:
            before = games.expected[:, ply - 1]
            without = without[np.argsort(before[without], kind="stable")]
            low = np.searchsorted(before[without], before[with_it] - EQUAL, "left")
            high = np.searchsorted(before[without], before[with_it] + EQUAL, "right")
        found = high > low
        own[with_it[found]] = 1.0
        steps = np.zeros(len(without) + 1)
        np.add.at(steps, low[found], 1.0 / (high - low)[found])
        np.add.at(steps, high[found], -1.0 / (high - low)[found])
        other[without] += np.maximum(np.cumsum(steps)[:-1], 0.0)
    one, two = (_weighed(points, weights, games.clusters) for weights in (own, other))
    if one is None or two is None or min(one.worth, two.worth) < fewest:
        return None
    gap = one.mean - two.mean
    return PlanScore(
        side=side,
        games=int(np.count_nonzero(own)),
        mean=one.mean,
        low=one.low,
        high=one.high,
        others=int(np.count_nonzero(other > 1e-12)),
        without=two.mean,
        difference=gap,
        difference_low=gap - math.hypot(one.mean - one.low, two.high - two.mean),
        difference_high=gap + math.hypot(one.high - one.mean, two.mean - two.low),
    )


class _Mean(msgspec.Struct, frozen=True):
    mean: float
    low: float
    high: float
    worth: float


def _weighed(
    points: NDArray[np.float64], weights: NDArray[np.float64], clusters: NDArray[np.int64]
) -> _Mean | None:
    """A weighted mean with its interval; `worth` is how many independent games of one weight it is worth (L. Kish)."""
    chosen = weights > 1e-12
    if not chosen.any():
        return None
    points, weights = points[chosen], weights[chosen]
    by_cluster = np.bincount(clusters[chosen], weights=weights)
    worth = float(weights.sum() ** 2 / np.square(by_cluster).sum())
    tally = [worth * float(weights[points == value].sum() / weights.sum()) for value in (100.0, 50.0, 0.0)]
    low, high = practice_interval(*tally)
    return _Mean(float(np.average(points, weights=weights)), low, high, worth)
