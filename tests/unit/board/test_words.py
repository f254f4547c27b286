from __future__ import annotations

import itertools

import pytest

from variorum.board import SIGNS, Bands, Side, band_of, sign_named, sign_of


@pytest.mark.parametrize(
    ("expected", "glyph"),
    [
        (0, "−+"),
        (10, "−+"),
        (10.1, "∓"),
        (30, "∓"),
        (30.1, "⩱"),
        (42, "⩱"),
        (42.1, "="),
        (50, "="),
        (57.9, "="),
        (58, "⩲"),
        (69.9, "⩲"),
        (70, "±"),
        (89.9, "±"),
        (90, "+−"),
        (100, "+−"),
    ],
)
def test_default_bands(expected: float, glyph: str) -> None:
    """methods.md 2: level 42–58, slight 58–70, clear 70–90, winning from 90, and mirrored."""
    assert sign_of(expected).glyph == glyph


def test_bands_are_a_setting() -> None:
    bands = Bands(slight=52.0, clear=60.0, winning=85.0)
    assert sign_of(52, bands).words == "slight White"
    assert sign_of(10, bands).words == "winning Black"
    assert band_of(sign_named("level"), bands) == (48.0, 52.0)


def test_bands_cover_all_without_a_gap() -> None:
    edges = [band_of(sign) for sign in SIGNS]
    assert edges[0][0] == 0 and edges[-1][1] == 100
    assert all(one[1] == next_one[0] for one, next_one in itertools.pairwise(edges))


@pytest.mark.parametrize("bands", [{"slight": 50}, {"slight": 71}, {"clear": 91}, {"winning": 100}])
def test_bands_must_rise(bands: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="rise"):
        Bands(**bands)


def test_names() -> None:
    for text in ("slight White", "SLIGHT  white", "⩲", "+=", "$14"):
        assert sign_named(text).side is Side.WHITE and sign_named(text).nag == 14
    assert sign_named("$11") == sign_named("$12") == sign_named("=") == sign_named("level")
    for text in ("", "unclear", "$13", "good"):
        with pytest.raises(KeyError):
            sign_named(text)


@pytest.mark.parametrize("expected", [-0.1, 100.1, float("nan")])
def test_only_expected_scores(expected: float) -> None:
    with pytest.raises(ValueError, match="between"):
        sign_of(expected)
