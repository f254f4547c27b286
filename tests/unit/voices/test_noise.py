"""Noise: less with effort, alike for both sides, and little where all is decided."""

import pytest

from variorum.voices.noise import INTERVAL, LEANS, MEASURED_NODES, noise_of, printed_noise


@pytest.mark.parametrize("expected", [0.0, 12.5, 35.0, 49.0])
def test_both_sides_are_told_alike(expected: float) -> None:
    assert noise_of(65_536, expected) == noise_of(65_536, 100.0 - expected)


def test_far_more_effort_makes_less_noise_and_effort_that_is_not_told_counts_as_some() -> None:
    assert noise_of(MEASURED_NODES[-1], 50.0) < noise_of(MEASURED_NODES[0], 50.0)
    assert noise_of(0) == noise_of(MEASURED_NODES[len(MEASURED_NODES) // 2])
    assert noise_of(1) == noise_of(MEASURED_NODES[0])


def test_a_decided_position_is_off_by_little() -> None:
    assert min(LEANS, key=lambda lean: noise_of(65_536, 50.0 + lean)) == LEANS[-1]


def test_what_is_printed_is_the_interval() -> None:
    assert printed_noise(65_536, 61.0) == INTERVAL * noise_of(65_536, 61.0)
