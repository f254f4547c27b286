"""Disputes between voices."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from invented_verdicts import said

from variorum.board import Line, Position, Score, Verdict
from variorum.insight.agreement import SHARED_POSITIONS, disputes, fit_scale

TABIYA = Line.parse("1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3").end


def test_who_would_play_the_same_agrees() -> None:
    assert not disputes([said("a", TABIYA, ("Be7", 20)), said("b", TABIYA, ("Be7 cxd5", 90))])


def test_another_first_move_is_a_dispute_by_what_each_says_of_the_others() -> None:
    (dispute,) = disputes([said("b", TABIYA, ("Bb4", 10), ("Be7", 60)), said("a", TABIYA, ("Be7", 20))])
    assert (dispute.voices, dispute.about, dispute.moves) == (("a", "b"), "move", ("Be7", "Bb4"))
    assert dispute.together == ""
    assert dispute.gap == pytest.approx(Score.of_cp(60).expected() - Score.of_cp(10).expected())


def test_scores_are_not_compared_before_they_share_enough() -> None:
    assert not disputes([said("a", TABIYA, ("Be7", -300)), said("b", TABIYA, ("Be7", 300))])


def test_scores_on_one_scale() -> None:
    """The second voice says everything twice as loud; only the position where it means something else is a dispute."""
    rng = np.random.default_rng(7)
    positions: list[Position] = []
    for moves in Line.parse("1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3 Nc6").positions():
        positions += [moves.play(move) for move in moves.legal_moves()]
    positions = list(dict.fromkeys(p for p in positions if p.outcome is None))[: SHARED_POSITIONS + 50]
    assert len(positions) > SHARED_POSITIONS
    verdicts: list[Verdict] = []
    for position in positions:
        cp = int(rng.integers(-150, 150))
        move = position.san(position.legal_moves()[0])
        verdicts += [said("a", position, (move, cp)), said("b", position, (move, 2 * cp))]
    assert not disputes(verdicts)
    move = TABIYA.san(TABIYA.parse("Be7"))
    (dispute,) = disputes(
        [
            *verdicts,
            said("a", TABIYA, (f"{move} cxd5 Nxd5", -150)),
            said("b", TABIYA, (f"{move} cxd5 exd5", 300)),
        ]
    )
    assert (dispute.about, dispute.epd) == ("score", TABIYA.epd)
    assert dispute.together == "Be7 cxd5"
    assert dispute.moves == ("Nxd5", "exd5")
    assert dispute.weight > 0


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])  # a hundred pairs each time
@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0, 100)), min_size=100, max_size=140))
def test_the_scale_never_falls_and_stays_among_what_was_said(pairs: list[tuple[float, float]]) -> None:
    scale = fit_scale(pairs)
    assert scale is not None
    values = [scale(float(x)) for x in range(101)]
    assert all(after >= before - 1e-9 for before, after in itertools.pairwise(values))
    firsts = [first for first, _ in pairs]
    assert min(firsts) - 1e-9 <= values[0] and values[-1] <= max(firsts) + 1e-9


def test_a_scale_needs_enough_pairs() -> None:
    assert fit_scale([(50.0, 50.0)] * (SHARED_POSITIONS - 1)) is None
