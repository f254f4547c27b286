"""Questions asked and answers kept: every verdict is in `verdicts/` before the next is waited for."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable

from variorum.base import Progress, Silent
from variorum.board import Position, Request, Verdict
from variorum.edition import Edition
from variorum.edition.folder import VERDICTS
from variorum.voices.verdict_files import append_verdicts, verdict_path
from variorum.voices.voice import Answer, Budget, Voice, ask_all

__all__ = ["OpenVoice", "ask_and_keep", "bare", "is_fresh"]

OpenVoice = Callable[[], Voice]


def bare(position: Position) -> Position:
    """A position without move counters: a verdict on it is that of the four fields under which it is kept."""
    return Position.from_fen(position.epd, chess960=position.chess960)


def is_fresh(verdict: Verdict, edition: Edition, today: datetime.date) -> bool:
    """Whether a verdict is no older than the edition's `stale_days`: an older one is no answer. Without a date it is fresh."""
    days = edition.settings.thresholds.stale_days
    return not (days and verdict.date and verdict.date < str(today - datetime.timedelta(days)))


def ask_and_keep(
    edition: Edition,
    requests: Iterable[Request],
    open_voice: OpenVoice,
    *,
    workers: int,
    budget: Budget,
    kept: Callable[[Verdict], None],
    folder: tuple[str, ...] = (VERDICTS,),
    progress: Progress | None = None,
) -> list[Answer]:
    """Ask one voice; each answer is written to its file, durably, and then given to `kept`.

    Args:
        edition: Where verdicts are written.
        requests: The questions, all to the same voice.
        open_voice: What opens that voice.
        workers: How many are asked at a time.
        budget: Questions that it does not pay for are not asked; what is not answered in its seconds is cut short.
        kept: Is told of each verdict; it may raise `Interrupted`.
        folder: Where in the edition the voice's file lies.
        progress: Where to report; the caller does by default.

    Returns:
        The answers that came, faults among them, in the order of the questions.

    Raises:
        Interrupted: The user stopped; the verdicts that came are kept.
        InputError: Verdicts cannot be written.
    """
    asked = list(requests)
    if not asked:
        return []
    path = verdict_path(edition.place_to_write(*folder), asked[0].voice)

    def keep(verdict: Verdict) -> None:
        append_verdicts(path, [verdict])
        kept(verdict)

    return ask_all(
        asked, open_voice, workers=workers, budget=budget, keep=keep, progress=progress or Silent()
    )
