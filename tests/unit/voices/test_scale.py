from __future__ import annotations

import pytest

from variorum.board import DEFAULT_SLOPE, Position, Score, Verdict, VerdictLine, expected_score
from variorum.voices import scale


def verdict(score: Score, voice: str = "owl") -> Verdict:
    start = Position.start()
    return Verdict(
        key=start.key, epd=start.epd, voice=voice, version="1", lines=(VerdictLine(("e2e4",), score),)
    )


def test_a_voice_without_a_fit_has_the_default_slope() -> None:
    assert scale.slope_of("owl") == DEFAULT_SLOPE
    assert scale.expected_of(verdict(Score.of_cp(80))) == expected_score(80)
    assert scale.shares_of(verdict(Score.of_cp(80))) is None


def test_a_fitted_voice(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(scale._FITTED, "owl", scale._Fit(slope=200.0, draws=0.5))
    said = verdict(Score.of_cp(80))
    assert scale.expected_of(said) == expected_score(80, 200.0)
    assert scale.expected_of(said, Score.of_cp(-80)) == pytest.approx(100 - expected_score(80, 200.0))
    win, draw, loss = scale.shares_of(said) or (0, 0, 0)
    assert win + draw + loss == pytest.approx(1.0)
    assert 100 * (win + draw / 2) == pytest.approx(expected_score(80, 200.0))
    assert scale.shares_of(verdict(Score.of_mate(3))) is None
    assert scale.expected_of(verdict(Score.of_cp(80), "wren")) == expected_score(80)


def test_what_a_voice_says_itself_counts_first(monkeypatch: pytest.MonkeyPatch) -> None:
    said = verdict(Score(cp=80, wdl=(400, 500, 100)))
    monkeypatch.setitem(scale._FITTED, "owl", scale._Fit(slope=200.0, draws=0.5))
    assert scale.shares_of(said) == (0.4, 0.5, 0.1)
    assert scale.expected_of(said) == 65.0
