"""Scores of games in clusters: the interval of practice where each is its own, and honest where they are not."""

from __future__ import annotations

import random

import pytest

from variorum.graph.practice import clustered_score, design_effect, practice_score
from variorum.store import Tally


def test_games_that_are_their_own_clusters_are_practice() -> None:
    singles = [Tally(wins=1)] * 12 + [Tally(draws=1)] * 20 + [Tally(losses=1)] * 9
    found, plain = clustered_score(singles), practice_score(Tally(12, 20, 9))
    assert found is not None and plain is not None
    assert design_effect(singles) == pytest.approx(1.0, abs=0.03)
    assert (found.mean, found.low, found.high) == pytest.approx((plain.mean, plain.low, plain.high), abs=0.5)


def test_copies_add_nothing() -> None:
    """Ten openings of ten like results each are worth ten games."""
    results = [Tally(wins=1)] * 4 + [Tally(draws=1)] * 3 + [Tally(losses=1)] * 3
    tenfold = [Tally(10 * one.wins, 10 * one.draws, 10 * one.losses) for one in results]
    assert design_effect(tenfold) == pytest.approx(10.0, rel=0.02)
    many, ten = clustered_score(tenfold), clustered_score(results)
    assert many is not None and ten is not None
    assert (many.low, many.high) == pytest.approx((ten.low, ten.high), abs=2.0)


def test_results_that_are_all_equal_are_not_taken_for_certain() -> None:
    found = clustered_score([Tally(draws=30), Tally(draws=30)])
    assert found is not None and found.high - found.low > 25
    assert clustered_score([Tally(draws=4)]) is None
    one = clustered_score([Tally(wins=50, losses=50)])
    assert one is not None and one.high - one.low > 60


def test_the_interval_holds_what_it_promises() -> None:
    """Simulated: 25 openings of 4 games whose results hang together; the true mean is inside about 95 times in 100.

    Games of one opening share a lean; intervals of 100 independent games would hold it only some 80 times.
    """
    chance = random.Random(7)
    inside = naive = 0
    for _ in range(200):
        clusters = []
        for _ in range(25):
            lean = chance.choice([0.15, 0.85])
            wins = sum(chance.random() < lean for _ in range(4))
            clusters.append(Tally(wins=wins, losses=4 - wins))
        found = clustered_score(clusters)
        plain = practice_score(
            Tally(sum(one.wins for one in clusters), 0, sum(one.losses for one in clusters))
        )
        assert found is not None and plain is not None
        inside += found.low <= 50 <= found.high
        naive += plain.low <= 50 <= plain.high
    assert inside >= 184
    assert naive < 180
