"""What happens to the edition of a desk: a voice speaks, the edition is built, work is waited for."""

from __future__ import annotations

import time
from pathlib import Path

from variorum.base import Silent
from variorum.base.settings import UserSettings
from variorum.board import Position, Score, Verdict, VerdictLine
from variorum.build.building import BuildLimits, build_edition
from variorum.desk.work import State, Work, Works
from variorum.edition import load_edition
from variorum.voices.verdict_files import append_verdicts, verdict_path

__all__ = ["AFTER_NC3", "AGAINST", "build", "say", "until"]

AFTER_NC3 = "rnbqkbnr/ppp2ppp/4p3/3p4/2PP4/2N5/PP2PPPP/R1BQKBNR b KQkq - 1 3"
AGAINST = ("g8f6", "g1f3", "f8e7")


def until(works: Works, number: int, *states: State) -> Work:
    """A piece of work once it has one of these states."""
    deadline = time.monotonic() + 60
    while True:
        work = next(one for one in works.told() if one.number == number)
        if work.state in states:
            return work
        assert time.monotonic() < deadline, work
        time.sleep(0.01)


def say(
    edition: Path,
    centipawns: int,
    *,
    line: tuple[str, ...] = AGAINST,
    nodes: int = 1_600_000,
    elapsed_ms: int = 1_000,
) -> None:
    """A voice says something of the position behind 3.Nc3, which the manuscript calls slightly better for White."""
    position = Position.from_fen(AFTER_NC3)
    verdict = Verdict(
        key=position.key,
        epd=position.epd,
        voice="resident",
        version="1",
        lines=(VerdictLine(line, Score.of_cp(centipawns)),),
        nodes=nodes,
        asked=nodes,
        depth=9,
        elapsed_ms=elapsed_ms,
        date="2026-11-01",
    )
    append_verdicts(verdict_path(edition / "verdicts", "resident"), [verdict])


def build(folder: Path) -> None:
    """The edition is built; nobody is asked."""
    edition, _ = load_edition(folder)
    assert edition is not None
    build_edition(edition, UserSettings(), BuildLimits(), Silent(), workers=1, voices={})
