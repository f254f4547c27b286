"""Which verdicts a claim is judged by."""

from __future__ import annotations

import datetime

import msgspec
import pytest

from variorum.board import Line, Score, Verdict, VerdictLine
from variorum.claims.check import Ground
from variorum.edition import EditionSettings
from variorum.voices.verdicts import Verdicts

MATE_IN_ONE = Line.parse("1.f3 e5 2.g4").end


@pytest.mark.parametrize(
    ("nodes", "asked", "counts"), [(300, 0, False), (300, 300_000, True), (60_000, 0, True)]
)
def test_a_search_settled_early_counts_as_deep_as_it_was_allowed(
    nodes: int, asked: int, counts: bool
) -> None:
    verdict = Verdict(
        key=MATE_IN_ONE.key,
        epd=MATE_IN_ONE.epd,
        voice="owl",
        version="1",
        lines=(VerdictLine(("d8h4",), Score.of_mate(-1)),),
        nodes=nodes,
        asked=asked,
    )
    settings = msgspec.convert(
        {"title": "x", "side": "white", "roots": {"start of it": "1.f3"}}, EditionSettings
    )
    ground = Ground(
        settings=settings, verdicts=Verdicts([verdict]), practice=None, today=datetime.date(2026, 11, 25)
    )
    assert bool(ground.deep(MATE_IN_ONE)) is counts
