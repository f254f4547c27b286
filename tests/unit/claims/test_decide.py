from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum.claims.decide import Estimate, decide
from variorum.claims.standing import Standing

estimates = st.lists(st.builds(Estimate, st.floats(0, 100), st.floats(0, 20)), min_size=1, max_size=4)


@pytest.mark.parametrize(
    ("value", "sigma", "standing"),
    [
        (64.0, 3.0, Standing.HOLDS),  # 58.1 to 69.9 lies in 58 to 70
        (61.5, 3.0, Standing.HOLDS),  # 55.6 lies in the band widened by its σ, from 55 on
        (60.0, 3.0, Standing.UNDECIDED),  # 54.1 does not
        (52.0, 3.0, Standing.CONTRADICTED),  # 57.9 is below 58
        (54.0, 3.0, Standing.UNDECIDED),  # 59.9 reaches into the band
        (77.0, 3.0, Standing.CONTRADICTED),
        (64.0, 20.0, Standing.UNDECIDED),
    ],
)
def test_one_voice(value: float, sigma: float, standing: Standing) -> None:
    """Worked by hand from methods.md 13 for the band of a slight edge, 58 to 70."""
    assert decide([Estimate(value, sigma)], 58.0, 70.0) is standing


def test_a_band_is_open_at_the_end_of_the_scale() -> None:
    assert decide([Estimate(0.1, 3.4)], 0.0, 10.0) is Standing.HOLDS
    assert decide([Estimate(99.0, 3.4)], 90.0, 100.0) is Standing.HOLDS
    assert decide([Estimate(0.1, 3.4)], 10.0, 30.0) is Standing.CONTRADICTED


def test_voices_must_agree() -> None:
    inside, outside = Estimate(64.0, 1.0), Estimate(40.0, 1.0)
    assert decide([inside, inside], 58.0, 70.0) is Standing.HOLDS
    assert decide([outside, outside], 58.0, 70.0) is Standing.CONTRADICTED
    assert decide([inside, outside], 58.0, 70.0) is Standing.UNDECIDED


def test_nobody_decides_nothing() -> None:
    assert decide([], 0.0, 100.0) is Standing.UNDECIDED


@given(estimates, st.floats(6, 94), st.floats(6, 94))
def test_no_claim_both_holds_and_is_contradicted_by_a_wider_band(
    said: list[Estimate], one: float, other: float
) -> None:
    """What is not contradicted is not contradicted by a wider band either; what holds, holds in it."""
    low, high = min(one, other), max(one, other)
    narrow, wide = decide(said, low, high), decide(said, low - 5, high + 5)
    if narrow is Standing.HOLDS:
        assert wide is Standing.HOLDS
    if wide is Standing.CONTRADICTED:
        assert narrow is not Standing.HOLDS
