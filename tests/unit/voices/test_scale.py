from __future__ import annotations

import pytest

from variorum.board import DRAWS, Position, Score, Verdict, VerdictLine, expected_score
from variorum.voices.resident import RESIDENT
from variorum.voices.scale import expected_of, shares_of


def verdict(score: Score, voice: str = "owl") -> Verdict:
    start = Position.start()
    return Verdict(
        key=start.key, epd=start.epd, voice=voice, version="1", lines=(VerdictLine(("e2e4",), score),)
    )


def test_one_curve_for_all_that_speak_in_centipawns() -> None:
    for voice in ("owl", RESIDENT):
        said = verdict(Score.of_cp(80), voice)
        assert expected_of(said) == expected_score(80)
        assert expected_of(said, Score.of_cp(-80)) == pytest.approx(100 - expected_score(80))


def test_the_resident_s_shares_make_up_its_expected_score() -> None:
    said = verdict(Score.of_cp(80), RESIDENT)
    win, draw, loss = shares_of(said) or (0, 0, 0)
    assert win + draw + loss == pytest.approx(1.0)
    assert 100 * (win + draw / 2) == pytest.approx(expected_of(said))
    assert (shares_of(verdict(Score.of_cp(0), RESIDENT)) or (0, 0, 0))[1] == pytest.approx(DRAWS)


def test_no_shares_of_a_mate_and_of_a_voice_that_was_not_measured() -> None:
    assert shares_of(verdict(Score.of_mate(3), RESIDENT)) is None
    assert shares_of(verdict(Score.of_cp(80))) is None


@pytest.mark.parametrize("voice", ["owl", RESIDENT])
def test_what_a_voice_says_itself_counts_first(voice: str) -> None:
    said = verdict(Score(cp=80, wdl=(400, 500, 100)), voice)
    assert shares_of(said) == (0.4, 0.5, 0.1)
    assert expected_of(said) == 65.0
