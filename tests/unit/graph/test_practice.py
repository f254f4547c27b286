"""Intervals of practice: against closed forms, adaptive quadrature and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import beta as beta_distribution

from variorum.graph.practice import (
    PracticeScore,
    practice_interval,
    practice_score,
    rating_adjusted,
    score_cdf,
    score_quantile,
)
from variorum.store import RatingBalance, Tally


@pytest.mark.parametrize("score", [0.01, 0.2, 0.37, 0.5, 0.63, 0.9, 0.999])
def test_flat_prior_without_games_is_the_triangular_distribution(score: float) -> None:
    # H. B. Curry, I. J. Schoenberg, "On Pólya frequency functions IV" (1966): a weighted sum of Dirichlet(1, 1, 1)
    # shares has the B-spline with the weights as knots as its density; for knots 0, ½, 1 it is the triangle.
    expected = 2 * score**2 if score <= 0.5 else 1 - 2 * (1 - score) ** 2
    assert score_cdf(score, (1, 1, 1)) == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize(("won", "lost"), [(0.5, 0.5), (5.5, 0.5), (0.5, 7.5), (40.5, 30.5), (900.5, 1100.5)])
def test_without_draws_it_is_the_beta_distribution(won: float, lost: float) -> None:
    # Aggregation property of the Dirichlet distribution; a weight of nearly nothing takes the draws away.
    for score in beta_distribution(won, lost).ppf([0.025, 0.3, 0.5, 0.975]):
        assert score_cdf(score, (won, 1e-9, lost)) == pytest.approx(
            beta_distribution(won, lost).cdf(score), abs=1e-4
        )


@pytest.mark.parametrize(
    "counts",
    [(5, 0, 0), (0, 5, 0), (2, 1, 2), (40, 30, 30), (0, 100, 1), (3000, 5000, 2000), (742, 2380, 780)],
)
def test_agrees_with_simulation(counts: tuple[int, int, int]) -> None:
    shares = np.random.default_rng(7).dirichlet([count + 0.5 for count in counts], 400_000)
    scores = shares[:, 0] + shares[:, 1] / 2
    weights = (counts[0] + 0.5, counts[1] + 0.5, counts[2] + 0.5)
    for probability in (0.025, 0.975):
        # Four standard errors of a simulated probability.
        allowed = 4 * (probability * (1 - probability) / 400_000) ** 0.5
        simulated = float((scores <= score_quantile(probability, weights)).mean())
        assert simulated == pytest.approx(probability, abs=allowed)


@pytest.mark.parametrize(
    "weights", [(0.5, 0.5, 0.5), (0.5, 30.5, 0.5), (12.5, 0.5, 3.5), (200.5, 300.5, 100.5)]
)
def test_agrees_with_adaptive_quadrature(weights: tuple[float, float, float]) -> None:
    alpha, beta, gamma = weights
    outer, inner = beta_distribution(alpha, beta + gamma), beta_distribution(beta, gamma)
    for score in (score_quantile(0.025, weights), score_quantile(0.975, weights)):
        upto = outer.cdf(score)
        expected, _ = quad(
            lambda v, score=score: inner.cdf(min(1.0, 2 * (score - outer.ppf(v)) / (1 - outer.ppf(v)))),
            0, upto, limit=400,
        )  # fmt: skip
        assert score_cdf(score, weights) == pytest.approx(expected, abs=1e-5)


@settings(max_examples=60, deadline=None)
@given(*[st.integers(0, 5000)] * 3)
def test_laws(wins: int, draws: int, losses: int) -> None:
    low, high = practice_interval(wins, draws, losses)
    assert 0 <= low < high <= 100
    mirrored = practice_interval(losses, draws, wins)
    assert (100 - mirrored[1], 100 - mirrored[0]) == pytest.approx((low, high), abs=1e-3)
    if games := wins + draws + losses:
        assert low <= 100 * (wins + draws / 2) / games <= high


def test_few_games_give_no_score_and_unknown_results_do_not_count() -> None:
    assert practice_score(Tally(2, 1, 1, unknown=9)) is None
    score = practice_score(Tally(3, 1, 1, unknown=9))
    assert isinstance(score, PracticeScore)
    assert score.mean == 70


def test_negative_counts_are_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        practice_interval(-1, 0, 0)


def test_rating_adjusted() -> None:
    assert rating_adjusted(RatingBalance(4, 9.0), RatingBalance(100, 2.0)) is None
    assert rating_adjusted(RatingBalance(5, 9.0), RatingBalance(100, 2.0)) == 7.0
