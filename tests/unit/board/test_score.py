from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum.board import SLOPE, Position, Request, Score, Side, expected_score
from variorum.board.score import shares


def test_exactly_one_of_centipawns_and_mate() -> None:
    for fields in ({}, {"cp": 1, "mate": 1}, {"mate": 0}):
        with pytest.raises(ValueError, match="score"):
            Score(**fields)


def test_the_slope_makes_ten_to_one_odds() -> None:
    assert expected_score(0) == 50.0
    assert expected_score(SLOPE) == pytest.approx(1000 / 11)
    assert expected_score(30, slope=30) == pytest.approx(1000 / 11)
    assert expected_score(1e9) == 100.0 and expected_score(-1e9) == pytest.approx(0.0)
    with pytest.raises(ValueError, match="positive"):
        expected_score(1, slope=0)


def test_the_same_bits_everywhere() -> None:
    """Each machine gives these doubles: only additions, products and quotients are used."""
    assert [expected_score(cp, slope=400).hex() for cp in (36, -36, 100, 250, -731)] == [
        "0x1.b94c80a323447p+5",
        "0x1.66b37f5cdcbb9p+5",
        "0x1.0006a7ee4b0e2p+6",
        "0x1.4353bacb97813p+6",
        "0x1.774158402fb83p+0",
    ]


def test_mates_are_certain() -> None:
    assert Score.of_mate(30).expected() == 100.0
    assert Score.of_mate(-1).expected() == 0.0


@pytest.mark.parametrize(
    ("score", "text"),
    [
        (Score.of_cp(36), "+0.36"),
        (Score.of_cp(-5), "−0.05"),
        (Score.of_cp(0), "0.00"),
        (Score.of_cp(1234), "+12.34"),
        (Score.of_mate(5), "#5"),
        (Score.of_mate(-12), "#−12"),
    ],
)
def test_pawns_text(score: Score, text: str) -> None:
    assert score.pawns_text == text


def test_seen_from() -> None:
    assert Score.of_cp(36).seen_from(Side.BLACK) == Score.of_cp(-36)
    assert Score.of_mate(3).seen_from(Side.BLACK) == Score.of_mate(-3)
    assert Score.of_cp(36).seen_from(Side.WHITE) == Score.of_cp(36)


def test_a_request_has_a_limit() -> None:
    request = Request(position=Position.start(), voice="resident", nodes=1000)
    assert request.multipv == 1
    with pytest.raises(ValueError, match="limit"):
        Request(position=Position.start(), voice="resident")
    for bad in ({"nodes": 0}, {"depth": -1}, {"seconds": 0.0}, {"nodes": 1, "multipv": 0}):
        with pytest.raises(ValueError, match="positive"):
            Request(position=Position.start(), voice="resident", **bad)


@given(st.floats(0.0, 100.0), st.floats(0.0, 0.95))
def test_shares_make_up_the_expected_score(expected: float, draws: float) -> None:
    win, draw, loss = shares(expected, draws)
    assert min(win, draw, loss) >= -1e-12
    assert win + draw + loss == pytest.approx(1.0)
    assert 100 * (win + draw / 2) == pytest.approx(expected, abs=1e-9)
    assert shares(100.0 - expected, draws) == pytest.approx((loss, draw, win), abs=1e-9)


def test_shares_between_equals() -> None:
    """Rao and Kupper 1967 (from memory): of equals each wins 1 in 1 + k, so that k = 3 leaves half of the games drawn."""
    assert shares(50.0, 0.5) == pytest.approx((0.25, 0.5, 0.25))
    odds, k = 4.0, 3.0
    win, loss = odds / (odds + k), 1 / (1 + k * odds)
    assert shares(100 * (win + (1 - win - loss) / 2), 0.5) == pytest.approx((win, 1 - win - loss, loss))
